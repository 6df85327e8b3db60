"""A site's I/O list and loads written as CSV or workbook."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.errors import Fault, InputError
from powerbudget.files import atomic_path
from powerbudget.loads.listing import Table
from powerbudget.report.render.metadata import sign

if TYPE_CHECKING:
    from pathlib import Path


def write_lists(path: Path, tables: dict[str, Table]) -> None:
    """Write lists as CSV (the first alone) or workbook, whole or not at all.

    Nothing in it can run as a formula: text that a spreadsheet would take for one
    is marked as text.

    Parameters
    ----------
    path
        ``.csv`` or ``.xlsx`` [path].
    tables
        Name of a sheet to its rows, heads first.

    Raises
    ------
    InputError
        When the ending is another or the folder cannot be written.
    """
    ending = path.suffix.lower()
    if ending not in {".csv", ".xlsx"}:
        raise InputError(
            Fault(str(path), "has an ending that is not written", ending or "none",
                  ".csv, .xlsx")
        )  # fmt: skip
    with atomic_path(path) as temporary:
        if ending == ".csv":
            _write_csv(temporary, next(iter(tables.values())))
        else:
            _write_workbook(temporary, tables)


def _write_csv(path: Path, table: Table) -> None:
    import csv

    # The mark lets spreadsheet programs know that it is UTF-8.
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        writer = csv.writer(file)
        writer.writerows([[_guarded(cell) for cell in row] for row in table])


def _guarded(cell: str | float) -> str | float:
    risky = isinstance(cell, str) and cell[:1] in {"=", "+", "-", "@", "\t", "\r"}
    return f"'{cell}" if risky else cell


def _write_workbook(path: Path, tables: dict[str, Table]) -> None:
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell

    book = Workbook(write_only=True)
    for name, table in tables.items():
        sheet = book.create_sheet(name)
        for row in table:
            cells = []
            for value in row:
                cell = WriteOnlyCell(sheet, value=None if value == "" else value)
                if isinstance(value, str) and value:
                    cell.data_type = "s"
                cells.append(cell)
            sheet.append(cells)
    book.save(path)
    sign(path)
