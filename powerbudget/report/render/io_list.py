"""A list of inputs and outputs written as CSV or workbook."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.errors import Fault, InputError
from powerbudget.files import atomic_path
from powerbudget.loads.rack_slots import HEADS

if TYPE_CHECKING:
    from pathlib import Path


def write_list(path: Path, table: list[list[str | float]]) -> None:
    """Write a list of inputs and outputs as CSV or workbook, whole or not at all.

    Nothing in it can run as a formula: text that a spreadsheet would take for one
    is marked as text.

    Parameters
    ----------
    path
        ``.csv`` or ``.xlsx`` [path].
    table
        From `powerbudget.loads.rack_slots.rows`.

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
            _write_csv(temporary, table)
        else:
            _write_workbook(temporary, table)


def _write_csv(path: Path, table: list[list[str | float]]) -> None:
    import csv

    # The mark lets spreadsheet programs know that it is UTF-8.
    with path.open("w", encoding="utf-8-sig", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(HEADS)
        writer.writerows([[_guarded(cell) for cell in row] for row in table])


def _guarded(cell: str | float) -> str | float:
    risky = isinstance(cell, str) and cell[:1] in {"=", "+", "-", "@", "\t", "\r"}
    return f"'{cell}" if risky else cell


def _write_workbook(path: Path, table: list[list[str | float]]) -> None:
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell

    book = Workbook(write_only=True)
    sheet = book.create_sheet("IO list")
    heads: list[str | float] = [*HEADS]
    for row in [heads, *table]:
        cells = []
        for value in row:
            cell = WriteOnlyCell(sheet, value=None if value == "" else value)
            if isinstance(value, str) and value:
                cell.data_type = "s"
            cells.append(cell)
        sheet.append(cells)
    book.save(path)
