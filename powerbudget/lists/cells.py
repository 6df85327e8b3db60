"""Cells of any spreadsheet or text table, nothing interpreted yet.

A file is checked before it is unpacked: size, columns, cells, nul bytes, passwords.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import gc
import io
import os
import re
import zipfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from powerbudget.errors import Fault, InputError, nearest
from powerbudget.lists.markup import Markup, read_markup
from powerbudget.lists.textfile import TEXTS, read_text
from powerbudget.quantities import count, in_unit
from powerbudget.reading import TABLE_BYTES, read_bytes

Value = str | float | bool | dt.datetime | None
Row = list[Value]

WORKBOOKS = (".xlsx", ".xlsm", ".xls", ".ods", ".xlsb")
TEXT = "csv"
"""Name of the one sheet of a text file."""
MOST_UNPACKED = 400_000_000
MOST_CELLS = 8_000_000
MOST_COLUMNS = 2_000
_MAGIC = (
    (b"%PDF", "a PDF document", "export the list as .xlsx or CSV"),
    (b"\x89PNG", "a picture", "export the list as .xlsx or CSV"),
    (b"\xff\xd8\xff", "a picture", "export the list as .xlsx or CSV"),
)
_ODD = {
    "a web page": re.compile(
        rb"\s*<(?:!doctype|html|head|meta|table|body)", re.IGNORECASE
    ),
    "an XML document": re.compile(rb"(?:\xef\xbb\xbf)?\s*<\?xml"),
    "a worksheet from before 1997": re.compile(
        rb"\x09[\x00\x02\x04\x08].\x00", re.DOTALL
    ),
    "a text table": re.compile(rb"[^\x00-\x08]+\Z"),
}
"""What bears the ending of a workbook and is none."""
_FILE_PASS = re.compile(rb"\x09\x08\x10\0.{16}(?:\x86\0\0\0)?\x2f\0", re.DOTALL)
"""Beginning of an encrypted .xls: its first records as the format has them."""
_ZIP, _OLE = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"


@dataclass
class ClientSheet:
    """One sheet of a file.

    Parameters
    ----------
    name
        Its name; ``csv`` for a text file [text].
    rows
        Cells by row, the first row at index 0; empty cells are None.
    hidden
        True for a hidden sheet.
    markup
        Struck cells, hidden rows and columns, formulas without a value.
    merged
        First row, first column, last row, last column of merged ranges, from 0.
    text
        True for a text file, which has no sheets.
    """

    name: str
    rows: list[Row]
    hidden: bool = False
    markup: Markup = field(default_factory=Markup)
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    text: bool = False


@dataclass
class ClientBook:
    """A file with its sheets.

    Parameters
    ----------
    path
        The file.
    sheets
        Sheets in their order.
    notes
        What the reader of this kind of file cannot see or had to assume [text].
    """

    path: Path
    sheets: list[ClientSheet]
    notes: list[str] = field(default_factory=list)


def column_letter(index: int) -> str:
    """Return the letters of a column as a spreadsheet shows them [text].

    Examples
    --------
    >>> column_letter(0), column_letter(27)
    ('A', 'AB')
    """
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def refuse(path: Path, problem: str, given: str = "", advice: str = "") -> InputError:
    """Return the error that refuses a file."""
    return InputError(Fault("file", problem, given, "", advice, str(path)))


def read_book(path: Path, encoding: str | None = None) -> ClientBook:
    """Return the cells of a file.

    Parameters
    ----------
    path
        ``.xlsx .xlsm .xls .ods .xlsb .csv .tsv .txt`` [path].
    encoding
        Encoding of a text file, None to find out [text].

    Returns
    -------
    ClientBook
        Its sheets.

    Raises
    ------
    InputError
        When the file is missing, empty, locked, too large or no table.
    """
    data = _bytes(path)
    for magic, what, advice in _MAGIC:
        if data.startswith(magic):
            raise refuse(path, f"is {what}, not a spreadsheet", advice=advice)
    ending = path.suffix.lower()
    if data.startswith((_ZIP, _OLE)):
        if ending not in WORKBOOKS:
            raise refuse(
                path,
                "is a workbook, not a text file",
                ending or "no ending",
                "give it its right ending: " + " ".join(WORKBOOKS),
            )
        return _workbook(path, data)
    if ending in WORKBOOKS:
        kinds = (name for name, rule in _ODD.items() if rule.match(data))
        raise refuse(
            path,
            f"is {next(kinds, 'text or data')}, not a {ending} workbook",
            advice="save it as .xlsx, or give a text table the ending .csv",
        )
    if ending not in TEXTS:
        raise refuse(
            path,
            "has an ending that is not read",
            ending or "none",
            "use one of " + " ".join((*WORKBOOKS, *TEXTS)),
        )
    rows, notes = read_text(path, data, encoding)
    return ClientBook(
        path, [ClientSheet(TEXT, [list(row) for row in rows], text=True)], notes
    )


@contextlib.contextmanager
def without_collection() -> Iterator[None]:
    """Pause the search for dead circles: a long list makes rows that all stay alive."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def sheet_named(book: ClientBook, name: str) -> ClientSheet:
    """Return the sheet that a person names, or say which ones there are.

    Raises
    ------
    InputError
        When the file has no such sheet, with the nearest name.
    """
    for sheet in book.sheets:
        if sheet.name == name:
            return sheet
    names = [sheet.name for sheet in book.sheets]
    fault = Fault(
        "file",
        "has no such sheet",
        repr(name),
        ", ".join(names),
        nearest(name, names),
        str(book.path),
    )
    raise InputError(fault)


def likely_sheet(
    book: ClientBook, score: Callable[[Sequence[Row]], int]
) -> ClientSheet:
    """Return the one sheet that looks like the table wanted.

    Parameters
    ----------
    book
        The file.
    score
        How much rows look like the table [count].

    Raises
    ------
    InputError
        When several look alike: a person has to say which counts.
    """
    filled = [sheet for sheet in book.sheets if sheet.rows]
    marks = {sheet.name: score(sheet.rows) for sheet in filled}
    best = max(marks.values(), default=0)
    likely = [s for s in filled if best and marks[s.name] >= 0.7 * best]
    if len(likely) > 1:
        raise InputError(
            Fault(
                "file",
                "has several sheets that look like the table wanted",
                ", ".join(sheet.name for sheet in likely),
                "one of them",
                "name it: sheet = '...'",
                str(book.path),
            )
        )
    if not filled:
        raise refuse(book.path, "is empty")
    return likely[0] if likely else filled[0]


def _bytes(path: Path) -> bytes:
    data = read_bytes(path, TABLE_BYTES, Fault("file", "", file=str(path)))
    if not data.strip():
        raise refuse(path, "is empty")
    return data


def _workbook(path: Path, data: bytes) -> ClientBook:
    import python_calamine as reader

    marks: dict[str, Markup] = {}
    notes: list[str] = []
    ending = path.suffix.lower()
    if data.startswith(_ZIP):
        _check_zip(path, data)
        if ending in {".xlsx", ".xlsm"}:
            marks = read_markup(path, data, MOST_CELLS, MOST_COLUMNS)
    if not marks:
        notes.append(
            f"{ending} files do not show struck-out cells, hidden rows and formulas without "
            "a value here. Save the file as .xlsx if it has any."
        )
    try:
        with _silent() if data.startswith(_OLE) else contextlib.nullcontext():
            book = reader.load_workbook(io.BytesIO(data))
        sheets = [_sheet(path, book, meta, marks) for meta in book.sheets_metadata]
    except reader.PasswordError:
        raise _locked(path) from None
    except InputError:
        raise
    except BaseException as exc:
        # What the reader below does not foresee ends there in no ordinary error.
        if not isinstance(exc, Exception) and type(exc).__name__ != "PanicException":
            raise
        if data.startswith(_OLE) and _is_locked(data):
            raise _locked(path) from None
        raise refuse(
            path,
            "is a workbook that cannot be read",
            str(exc)[:160],
            "open it in a spreadsheet program and save it as .xlsx",
        ) from None
    if not any(sheet.rows for sheet in sheets):
        raise refuse(
            path,
            "has no filled cell: empty sheets, pictures or charts only",
            ", ".join(sheet.name for sheet in sheets),
            "type or paste the list as cells",
        )
    return ClientBook(path, sheets, notes)


@contextlib.contextmanager
def _silent() -> Iterator[None]:
    """Keep what the reader below writes by itself about a torn file off the screen."""
    kept, nothing = os.dup(2), os.open(os.devnull, os.O_WRONLY)
    os.dup2(nothing, 2)
    try:
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nothing)


def _is_locked(data: bytes) -> bool:
    """Return whether a container holds an encrypted workbook, new or old."""
    return b"E\0n\0c\0r\0y\0p\0t\0e\0d" in data or bool(_FILE_PASS.search(data))


def _locked(path: Path) -> InputError:
    return refuse(
        path,
        "is protected by a password",
        advice="open it, remove the password, save it as .xlsx",
    )


def _check_zip(path: Path, data: bytes) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as book:
            items = book.infolist()
    except zipfile.BadZipFile as exc:
        raise refuse(path, "is a damaged workbook", str(exc)[:120]) from None
    size = sum(item.file_size for item in items)
    if size > MOST_UNPACKED or (size > 50_000_000 and size > 400 * len(data)):
        raise refuse(
            path,
            "unpacks to far more than a list holds",
            in_unit(size / 1e6, "MB"),
            "delete unused rows and pictures, save again",
        )
    if any(item.flag_bits & 1 for item in items):
        raise _locked(path)


def _sheet(path: Path, book: Any, meta: Any, marks: dict[str, Markup]) -> ClientSheet:
    hidden = "hidden" in str(meta.visible).lower()
    if "worksheet" not in str(meta.typ).lower():
        return ClientSheet(meta.name, [], hidden)
    sheet = book.get_sheet_by_name(meta.name)
    if sheet.total_height * sheet.total_width > MOST_CELLS:
        given = (
            f"{count(sheet.total_height, 'row')} x {count(sheet.total_width, 'column')}"
        )
        raise refuse(
            path,
            f"sheet {meta.name!r} is too large",
            given,
            "delete the empty rows and columns beyond the list, save again",
        )
    rows = [
        [None if cell == "" else _value(cell) for cell in row]
        for row in sheet.to_python(skip_empty_area=False)
    ]
    for (row, column), text in marks.get(meta.name, Markup()).errors.items():
        if row < len(rows) and column < len(rows[row]):
            rows[row][column] = text
    while rows and not any(cell is not None for cell in rows[-1]):
        rows.pop()
    # A range may reach beyond every cell; what reads it goes along it.
    low, wide = len(rows) - 1, max(map(len, rows), default=0) - 1
    merged = [
        (a, b, min(c, low), min(d, wide))
        for (a, b), (c, d) in sheet.merged_cell_ranges or []
    ]
    return ClientSheet(meta.name, rows, hidden, marks.get(meta.name, Markup()), merged)


def _value(cell: Any) -> Value:  # noqa: PLR0911 - one return a type, the usual ones first
    kind = type(cell)
    if kind is str:
        if not cell.isascii():
            cell = cell.replace("\xa0", " ")
        return cell.replace("\0", "").strip() or None if cell else None
    if kind is bool or kind is float:
        return cell  # type: ignore[no-any-return]
    if kind is int:
        return float(cell)
    if isinstance(cell, dt.datetime):
        return cell
    if isinstance(cell, dt.date):
        return dt.datetime(cell.year, cell.month, cell.day)  # noqa: DTZ001 - no zone in a sheet
    if isinstance(cell, dt.timedelta):
        return cell.total_seconds() / 86400
    return str(cell)
