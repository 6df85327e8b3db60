"""What a workbook's XML tells beyond its cells, in one pass over each sheet.

Struck-out cells, hidden rows and columns, percentages, formulas that were never
calculated, and how far a sheet reaches (before anything is allocated for it).
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from html import unescape
from pathlib import Path

from powerbudget.errors import Fault, InputError
from powerbudget.quantities import count

PIECE = 1 << 20
LONGEST = 9
"""Letters or digits of a place; more stand beyond every sheet all the same."""
NARROW = 60


def _tags(rule: bytes, flags: int = 0) -> re.Pattern[bytes]:
    """Return a pattern in which ``@`` stands for the prefix that a tag may have."""
    return re.compile(rule.replace(b"@", rb"(?:\w+:)?"), flags)


_ROW_HIDDEN = _tags(rb"<@row\b([^>]*\bhidden=\"(?:1|true)\"[^>]*)>")
_COL_HIDDEN = _tags(rb"<@col\b([^>]*\bhidden=\"(?:1|true)\"[^>]*)>")
_FORMULA = _tags(
    rb"<@c\b([^>]*)>\s*<@f\b([^>]*?)(?:/>|>([^<]*)</@f>)\s*"
    rb"(?:<@v\s*/>|<@v>\s*</@v>)?\s*</@c>"
)
_ERROR = _tags(rb"<@c\b([^>]*\bt=\"e\"[^>]*)>(?:(?!</@c>).)*?<@v>([^<]*)<", re.DOTALL)
# A pattern that begins with a letter, and looks back from it, is found three times as fast.
_ROW = re.compile(rb"row(?<=[<:]row)\b[^>]*?\br\s*=\s*[\"'](\d+)")
_AWAY = re.compile(
    rb"r(?<=\br)\s*=\s*[\"'](?:([A-Za-z]+)(\d{6,})|([A-Za-z]{3,}|[B-Zb-z][A-Za-z])\d)"
)
_ANY = re.compile(rb"r(?<=\br)\s*=\s*[\"'][A-Za-z]+(\d+)")
_REF = re.compile(rb"\br=\"([A-Z]+)(\d+)\"")
_XF = re.compile(r"<(?:\w+:)?xf\b([^>]*)")


DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    KeyError,
    OSError,
    EOFError,
    RuntimeError,
    ValueError,
    OverflowError,
)
"""What a torn archive or a number that is none ends in."""


@dataclass
class Markup:
    """What is marked on a sheet; rows and columns count from 0.

    Parameters
    ----------
    struck, percent
        Cells struck out, and cells that show a number as a percentage.
    hidden_rows, hidden_columns
        Rows and columns that are not shown.
    formulas
        Formula text of cells without a saved value [text].
    errors
        Error text of cells whose formula failed, such as ``#N/A`` [text].
    """

    struck: set[tuple[int, int]] = field(default_factory=set)
    percent: set[tuple[int, int]] = field(default_factory=set)
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)
    formulas: dict[tuple[int, int], str] = field(default_factory=dict)
    errors: dict[tuple[int, int], str] = field(default_factory=dict)


def column_index(letters: str) -> int:
    """Return the index of a column from its letters, counted from 0 [count].

    Examples
    --------
    >>> column_index("A"), column_index("AB")
    (0, 27)
    """
    number = 0
    for letter in letters.upper()[:LONGEST]:
        number = number * 26 + ord(letter) - 64
    return number - 1


def read_markup(
    path: Path, data: bytes, most_cells: int, most_columns: int
) -> dict[str, Markup]:
    """Return the marks of each sheet of an .xlsx or .xlsm workbook, by name.

    Raises
    ------
    InputError
        When a sheet reaches so far that its cells would fill the memory.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as book:
            struck, percent = _styles(_text(book, "xl/styles.xml"))
            wanted = _Wanted(struck, percent, _struck_strings(book))
            return {
                name: _scan(path, name, book, part, wanted, (most_cells, most_columns))
                for name, part in _sheets(book)
            }
    except InputError:
        raise
    except DAMAGED as exc:
        raise InputError(
            Fault(
                "file",
                "is a damaged workbook",
                str(exc)[:120],
                "",
                "open it and save it again",
                str(path),
            )
        ) from None


@dataclass(frozen=True)
class _Wanted:
    struck: frozenset[int]
    percent: frozenset[int]
    strings: frozenset[int]


def _text(book: zipfile.ZipFile, name: str) -> str:
    if name not in book.namelist():
        return ""
    return book.read(name).decode("utf-8", "replace")


def _attribute(text: str, name: str) -> str:
    match = re.search(rf'\b(?:\w+:)?{name}="([^"]*)"', text)
    return unescape(match.group(1)) if match else ""


def _sheets(book: zipfile.ZipFile) -> list[tuple[str, str]]:
    rels = {
        _attribute(item, "Id"): _attribute(item, "Target")
        for item in re.findall(
            r"<(?:\w+:)?Relationship\b[^>]*>", _text(book, "xl/_rels/workbook.xml.rels")
        )
    }
    found = []
    for item in re.findall(r"<(?:\w+:)?sheet\b[^>]*>", _text(book, "xl/workbook.xml")):
        ident = re.search(r'\b\w+:id="([^"]*)"', item)
        target = rels.get(ident.group(1), "") if ident else ""
        part = target[1:] if target.startswith("/") else f"xl/{target}"
        if "worksheet" in part:
            found.append((_attribute(item, "name"), part))
    return found


def _styles(text: str) -> tuple[frozenset[int], frozenset[int]]:
    """Return the cell styles that strike out, and those that show a percentage."""
    fonts = re.search(r"<(?:\w+:)?fonts\b.*?</(?:\w+:)?fonts>", text, re.DOTALL)
    pieces = re.findall(
        r"<(?:\w+:)?font\b[^>]*?(?:/>|>.*?</(?:\w+:)?font>)",
        fonts.group(0) if fonts else "",
        re.DOTALL,
    )
    off = re.compile(r"<(?:\w+:)?strike\b[^>]*val=\"(?:0|false)\"")
    struck = {
        k
        for k, font in enumerate(pieces)
        if re.search(r"<(?:\w+:)?strike\b", font) and not off.search(font)
    }
    formats = {9, 10}
    for item in re.findall(r"<(?:\w+:)?numFmt\b[^>]*>", text):
        if "%" in re.sub(r'"[^"]*"', "", _attribute(item, "formatCode")):
            formats.add(int(_attribute(item, "numFmtId") or 0))
    block = re.search(r"<(?:\w+:)?cellXfs\b.*?</(?:\w+:)?cellXfs>", text, re.DOTALL)
    xfs = _XF.findall(block.group(0)) if block else []
    return (
        frozenset(
            k
            for k, xf in enumerate(xfs)
            if int(_attribute(xf, "fontId") or 0) in struck
        ),
        frozenset(
            k
            for k, xf in enumerate(xfs)
            if int(_attribute(xf, "numFmtId") or 0) in formats
        ),
    )


def _struck_strings(book: zipfile.ZipFile) -> frozenset[int]:
    """Return the shared strings whose every run of letters is struck out."""
    text = _text(book, "xl/sharedStrings.xml")
    if "strike" not in text:
        return frozenset()
    found = set()
    items = re.split(r"<(?:\w+:)?si\b[^>]*>", text)[1:]
    for k, item in enumerate(items):
        if "strike" not in item:
            continue
        runs = re.findall(r"<(?:\w+:)?r\b[^>]*>(.*?)</(?:\w+:)?r>", item, re.DOTALL)
        filled = [
            run for run in runs if re.search(r"<(?:\w+:)?t\b[^>]*>\s*[^\s<]", run)
        ]
        if filled and all(re.search(r"<(?:\w+:)?strike\b", run) for run in filled):
            found.add(k)
    return frozenset(found)


def _pieces(book: zipfile.ZipFile, part: str) -> Iterator[bytes]:
    """Yield a sheet's XML cut at the ends of rows."""
    rest = b""
    with book.open(part) as stream:
        while block := stream.read(PIECE):
            rest += block
            cut = rest.rfind(b"row>")
            if cut > 0:
                yield rest[: cut + 4]
                rest = rest[cut + 4 :]
    yield rest


def _scan(
    path: Path,
    name: str,
    book: zipfile.ZipFile,
    part: str,
    wanted: _Wanted,
    most: tuple[int, int],
) -> Markup:
    marks = Markup()
    styled = _styled(wanted.struck | wanted.percent)
    shared = _shared(wanted.strings)
    last_row, last_column = 0, NARROW
    for piece in _pieces(book, part):
        _hidden(marks, piece)
        if b"<f" in piece or b":f" in piece:
            _formulas(marks, piece)
        if b't="e"' in piece:
            _errors(marks, piece)
        if styled:
            _style_cells(marks, wanted, styled, piece)
        if shared:
            refs = (_REF.search(match.group(1)) for match in shared.finditer(piece))
            marks.struck |= {_place(ref) for ref in refs if ref}
        row, column = _reach(piece)
        last_row, last_column = max(last_row, row), max(last_column, column)
    if NARROW < last_column <= most[1]:
        found = (_largest(_ANY, piece) for piece in _pieces(book, part))
        last_row = max(last_row, *found)
    if last_column > most[1] or last_row * last_column > most[0] + NARROW * 100_000:
        raise InputError(
            Fault(
                f"sheet {name!r}",
                "reaches too far",
                f"{count(last_row, 'row')} x {count(last_column, 'column')}",
                "",
                "delete the stray cells beyond the list, save again",
                str(path),
            )
        )
    return marks


def _reach(piece: bytes) -> tuple[int, int]:
    """Return the last row of a piece and its last column beyond the first 52 [count].

    Places of cells are looked at from six digits or two letters on; that is enough.
    """
    away = _AWAY.findall(piece)
    far = {column_index((low or far).decode()) + 1 for low, _, far in away}
    rows = (int(digits[:LONGEST]) for _, digits, _ in away if digits)
    return max([_largest(_ROW, piece), *rows]), max(far, default=0)


def _largest(pattern: re.Pattern[bytes], piece: bytes) -> int:
    return max((int(digits[:LONGEST]) for digits in pattern.findall(piece)), default=0)


def _hidden(marks: Markup, piece: bytes) -> None:
    """Note the hidden rows and columns of a piece."""
    if b"hidden=" not in piece:
        return
    for match in _ROW_HIDDEN.finditer(piece):
        row = re.search(rb"\br=\"(\d+)\"", match.group(1))
        if row:
            marks.hidden_rows.add(int(row.group(1)) - 1)
    for match in _COL_HIDDEN.finditer(piece):
        _hide(marks, match.group(1).decode("utf-8", "replace"))


def _hide(marks: Markup, text: str) -> None:
    first, last = int(_attribute(text, "min") or 1), int(_attribute(text, "max") or 1)
    marks.hidden_columns |= set(range(first - 1, min(last, first + 2000)))


def _place(ref: re.Match[bytes]) -> tuple[int, int]:
    return int(ref.group(2)) - 1, column_index(ref.group(1).decode())


def _formulas(marks: Markup, piece: bytes) -> None:
    for match in _FORMULA.finditer(piece):
        ref = _REF.search(match.group(1))
        if ref:
            text = (match.group(3) or b"").decode("utf-8", "replace")
            marks.formulas[_place(ref)] = unescape(text)


def _errors(marks: Markup, piece: bytes) -> None:
    for match in _ERROR.finditer(piece):
        ref = _REF.search(match.group(1))
        if ref:
            marks.errors[_place(ref)] = match.group(2).decode("utf-8", "replace")


def _styled(styles: frozenset[int]) -> re.Pattern[bytes] | None:
    if not styles:
        return None
    numbers = "|".join(str(style) for style in sorted(styles)).encode()
    return _tags(rb"<@c\b([^>]*\bs=\"(" + numbers + rb")\"[^>]*)>")


def _shared(strings: frozenset[int]) -> re.Pattern[bytes] | None:
    if not strings:
        return None
    numbers = "|".join(str(number) for number in sorted(strings)).encode()
    return _tags(rb"<@c\b([^>]*\bt=\"s\"[^>]*)>\s*<@v>(?:" + numbers + rb")<")


def _style_cells(
    marks: Markup, wanted: _Wanted, styled: re.Pattern[bytes], piece: bytes
) -> None:
    for match in styled.finditer(piece):
        ref = _REF.search(match.group(1))
        if not ref:
            continue
        style, place = int(match.group(2)), _place(ref)
        if style in wanted.struck:
            marks.struck.add(place)
        if style in wanted.percent:
            marks.percent.add(place)
