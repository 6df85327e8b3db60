"""Rows of a CSV file or workbook as people save them, read strictly.

Byte-order marks, ``sep=`` lines, semicolons and tabs are everyday and read as they
are meant.  What cannot be told for certain (a decimal comma beside decimal points,
a file that is no table) is refused, never guessed.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from powerbudget.errors import Fault, Finding, InputError, nearest

if TYPE_CHECKING:
    from powerbudget.lists.workbook import Workbook

Cell = str | float | None
Row = list[Cell]
Score = Callable[[Sequence[Row]], int]

WORKBOOKS = (".xlsx", ".xlsm")
TEXTS = (".csv", ".txt", ".tsv")
DELIMITERS = (",", ";", "\t", "|")
LOOK_AT = 60
"""Rows that are looked at to find the delimiter, the sheet and the header [count]."""
MOST_BYTES = 200_000_000

_SEP = re.compile(r'^"?sep=(.)"?\s*$', re.IGNORECASE)
_BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_MAGIC = (
    (b"PK\x03\x04", "a zipped workbook", "name it .xlsx"),
    (b"\xd0\xcf\x11\xe0", "an old or encrypted workbook",
     "save it as .xlsx without a password, or as CSV"),
    (b"%PDF", "a PDF document", "export the list as .xlsx or CSV"),
    (b"\x89PNG", "a picture", "export the list as .xlsx or CSV"),
    (b"\xff\xd8\xff", "a picture", "export the list as .xlsx or CSV"),
)  # fmt: skip


@dataclass(frozen=True)
class Grid:
    """Cells of one sheet, nothing interpreted yet.

    Parameters
    ----------
    path
        The file they came from.
    rows
        Cells by row; text is stripped, empty cells are None.
    first_row
        Number of the first row as a person counts it [count].
    delimiter
        What parted the cells of a text file; empty for a workbook [text].
    sheet
        Name of the sheet in a workbook [text].
    findings
        What had to be assumed.
    """

    path: Path
    rows: list[Row]
    first_row: int = 1
    delimiter: str = ""
    sheet: str = ""
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class Reading:
    """How to read a file, where it does not say so itself.

    Parameters
    ----------
    sheet, encoding
        Sheet of a workbook and encoding of a text file, None to find out [text].
    score
        How much a few rows look like the table that is wanted [count].
    """

    sheet: str | None = None
    encoding: str | None = None
    score: Score = len


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


def read_grid(path: Path, how: Reading) -> Grid:
    """Return the cells of a CSV file or of one sheet of a workbook.

    Parameters
    ----------
    path
        ``.csv``, ``.txt``, ``.tsv`` or ``.xlsx`` [path].
    how
        Sheet, encoding, and what the table should look like.

    Returns
    -------
    Grid
        Rows of cells.

    Raises
    ------
    InputError
        When the file is missing, empty or no table.
    """
    data = _bytes(path)
    ending = path.suffix.lower()
    if ending in WORKBOOKS:
        return _workbook(path, data, how)
    if ending not in TEXTS:
        raise _refuse(
            path,
            "has an ending that is not read",
            ending or "none",
            ", ".join((*TEXTS, ".xlsx")),
        )
    return _text(path, data, how)


def _refuse(
    path: Path, problem: str, given: str = "", allowed: str = "", advice: str = ""
) -> InputError:
    return InputError(Fault("file", problem, given, allowed, advice, str(path)))


def _bytes(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise _refuse(path, "is a folder; a file is needed")
        if path.stat().st_size > MOST_BYTES:
            raise _refuse(path, "is larger than 200 MB; split it")
        data = path.read_bytes()
    except FileNotFoundError:
        raise _refuse(path, "no such file") from None
    except OSError as exc:
        raise _refuse(path, f"cannot be read: {exc.strerror}") from None
    if not data.strip():
        raise _refuse(path, "is empty")
    return data


# --- text files -----------------------------------------------------------------


def _text(path: Path, data: bytes, how: Reading) -> Grid:
    for magic, what, advice in _MAGIC:
        if data.startswith(magic):
            raise _refuse(path, f"is {what}, not a text file", advice=advice)
    text, findings = _decode(path, data, how.encoding)
    if re.match(r"\s*<(?:!doctype|html|table|\?xml)", text[:200], re.IGNORECASE):
        raise _refuse(
            path,
            "is a web page or XML, not a table",
            advice="open it and save it as .xlsx or CSV",
        )
    head, _, rest = text.partition("\n")
    declared = _SEP.match(head.rstrip("\r"))
    if declared:
        delimiter, body, first = declared.group(1), rest, 2
    else:
        delimiter, body, first = _sniff(text, how.score), text, 1
    return Grid(
        path, _parse(path, body, delimiter, first), first, delimiter, findings=findings
    )


def _decode(
    path: Path, data: bytes, encoding: str | None
) -> tuple[str, tuple[Finding, ...]]:
    for bom, name in _BOMS:
        if data.startswith(bom):
            return _decode_as(path, data, name), ()
    if encoding:
        return _decode_as(path, data, encoding), ()
    if b"\x00" in data:
        raise _refuse(
            path,
            "holds zero bytes: it is not text, or UTF-16 without a mark",
            advice="save it as CSV UTF-8, or state encoding = 'utf-16-le'",
        )
    try:
        return data.decode("utf-8"), ()
    except UnicodeDecodeError as exc:
        row = data[: exc.start].count(b"\n") + 1
        text = _decode_as(path, data, "cp1252")
        return text, (
            Finding(
                "warning",
                f"{path.name} is not UTF-8 (row {row}); it was read as Windows-1252 "
                "(western European). If letters look wrong, state encoding = '...'",
            ),
        )


def _decode_as(path: Path, data: bytes, encoding: str) -> str:
    try:
        return data.decode(encoding)
    except LookupError:
        raise _refuse(
            path,
            "is read with an encoding that is not known",
            encoding,
            "utf-8, utf-16, cp1252, cp1250, cp1251, latin-1, ...",
        ) from None
    except UnicodeDecodeError as exc:
        raise _refuse(
            path,
            f"is not {encoding} text (byte {exc.start})",
            advice="save it as CSV UTF-8, or state encoding = 'cp1252', "
            "'cp1250' or 'utf-16'",
        ) from None


def _sniff(text: str, score: Score) -> str:
    """Return the delimiter under which the first rows look most like the table."""
    sample = "\n".join(text.splitlines()[:LOOK_AT])
    best, best_mark = ",", (-1, -1)
    for delimiter in DELIMITERS:
        try:
            rows = [
                _cells(r) for r in csv.reader(io.StringIO(sample), delimiter=delimiter)
            ]
        except csv.Error:
            continue
        widths = Counter(len(row) for row in rows if len(row) > 1)
        regular = max(widths.values(), default=0)
        mark = (score(rows), regular)
        if mark > best_mark:
            best, best_mark = delimiter, mark
    return best


def _cells(row: Iterable[str]) -> Row:
    # An apostrophe before one of these is a spreadsheet's way to keep it text.
    return [_plain(cell) for cell in row]


def _plain(cell: str) -> Cell:
    cell = cell.strip().replace("\xa0", " ")
    if cell[:1] == "'" and cell[1:2] in {"=", "+", "-", "@"}:
        cell = cell[1:]
    return cell or None


def _parse(path: Path, body: str, delimiter: str, first: int) -> list[Row]:
    rows: list[Row] = []
    reader = csv.reader(io.StringIO(body, newline=""), delimiter=delimiter, strict=True)
    try:
        rows.extend(_cells(row) for row in reader)
    except csv.Error as exc:
        raise InputError(
            Fault(
                f"row {len(rows) + first}",
                "cannot be parted into cells",
                str(exc),
                advice="check the quotation marks in that row",
                file=str(path),
            )
        ) from None
    return rows


# --- workbooks ------------------------------------------------------------------


def _workbook(path: Path, data: bytes, how: Reading) -> Grid:
    from powerbudget.lists.workbook import Workbook, WorkbookError

    if not data.startswith(b"PK\x03\x04"):
        what = next((w for m, w, _ in _MAGIC if data.startswith(m)), "something else")
        raise _refuse(
            path,
            f"is not an .xlsx workbook but {what}",
            advice="save it as .xlsx, or give it its right ending",
        )
    try:
        return _sheet(path, Workbook(data), how)
    except (WorkbookError, IndexError) as exc:
        raise _refuse(
            path,
            "is not a workbook that can be read",
            str(exc)[:160],
            advice="open it in a spreadsheet program and save it as .xlsx",
        ) from None


def _sheet(path: Path, book: Workbook, how: Reading) -> Grid:
    chosen = how.sheet or _choose(path, book, how.score)
    if chosen not in book.names:
        raise _refuse(
            path,
            "has no such sheet",
            repr(chosen),
            ", ".join(book.names),
            nearest(chosen, book.names),
        )
    rows = _stripped(book.rows(chosen))
    if not _filled(rows):
        raise _refuse(path, f"sheet {chosen!r} is empty")
    return Grid(path, rows, sheet=chosen)


def _choose(path: Path, book: Workbook, score: Score) -> str:
    """Return the one sheet that holds the table, or ask which."""
    heads = {name: _stripped(book.rows(name, LOOK_AT)) for name in book.names}
    filled = [name for name in book.names if _filled(heads[name])]
    if not filled:
        raise _refuse(path, "has only empty sheets", ", ".join(book.names))
    marks = {name: score(heads[name]) for name in filled}
    best = max(marks.values())
    # Two revisions of one list score alike; a person has to say which counts.
    likely = [name for name in filled if best and marks[name] >= 0.7 * best]
    if len(likely) > 1:
        raise _refuse(
            path,
            "has several sheets that look like the table wanted",
            ", ".join(likely),
            "one of them",
            "name it: sheet = '...'",
        )
    return likely[0] if likely else filled[0]


def _filled(rows: list[Row]) -> bool:
    return any(cell is not None for row in rows for cell in row)


def _stripped(rows: list[Row]) -> list[Row]:
    return [[_plain(c) if isinstance(c, str) else c for c in row] for row in rows]
