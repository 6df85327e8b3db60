"""What makes a list unusable as a whole: figures that no reading can make right.

A total that differs from its rows is asked, for the rows count.  Two totals of a sheet
that contradict each other are refused: a total of the same rows stated twice, or a
grand total that is neither the sum of its subtotals nor that of the rows.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from itertools import pairwise

from powerbudget.errors import Fault, InputError
from powerbudget.lists.cells import ClientBook
from powerbudget.lists.columns import ListColumn
from powerbudget.lists.figures import cell_number
from powerbudget.lists.found import FoundPart, Import
from powerbudget.lists.row_cells import cell_at
from powerbudget.lists.words import folded

NUMBERS = ("quantity", "power", "current", "volts", "inrush", "energy")
"""Columns in which a date can only be a number that was turned into one."""
SHOWN = 5
SAME = 0.012
"""Difference up to which two totals agree, as rounded figures do [fraction]."""
_ASIDE = {"blank", "note", "head", "title", "section", "template"}
_PLAIN = re.compile(
    r"(?:(?:grand|overall|sum|summe|total|totale?s|gesamt\w*|suma|somme|general|of|all|the|"
    r"loads?|points?|i/?o|power|energy|watts?|k?wh?|m?a|per|day|tag|dia|[/=%-]) ?)+"
)
"""A total of everything, of no other state and with nothing added."""


def refuse_broken(found: Import) -> None:
    """Refuse lists whose figures are dates or go round in a circle.

    Raises
    ------
    InputError
        With the first five cells of each.
    """
    faults = [fault for book in found.books for fault in _of_book(found, book)]
    if faults:
        raise InputError(faults)


def _of_book(found: Import, book: ClientBook) -> Iterator[Fault]:
    """Yield what is broken in one file, under its name."""
    sheets = {sheet.name for sheet in book.sheets}
    read = [
        p
        for p in found.parts
        if p.kind in {"io", "schedule"}
        and not p.hidden
        and p.table.sheet.name in sheets
    ]
    broken = {
        "dates stand in columns of numbers": (
            [place for part in read for place in _dates(part)],
            "format the column as numbers and type its figures anew",
        ),
        "totals of the list disagree": (
            [clash for part in read for clash in _clashes(part, found)],
            "correct the totals and save the file",
        ),
        "formulas go round in a circle": (
            list(_circles(found, {p.table.sheet.name for p in read})),
            "type the figures, or mend the formulas and save the file",
        ),
    }
    for problem, (places, advice) in broken.items():
        more = f" and {len(places) - SHOWN:,} more" if len(places) > SHOWN else ""
        given = ", ".join(places[:SHOWN]) + more
        if places:
            yield Fault("file", problem, given, advice=advice, file=str(book.path))


def _dates(part: FoundPart) -> Iterator[str]:
    sheet = part.table.sheet
    columns = [
        c
        for c in part.columns.all
        if c.field in NUMBERS or c.field.startswith("count:")
    ]
    dated = () if sheet.text else range(part.table.first, part.table.last)
    for number in dated:
        row = sheet.rows[number]
        if dt.datetime not in set(map(type, row)):
            continue
        for column in columns:
            cell = cell_at(row, column.index)
            if isinstance(cell, dt.datetime):
                yield f"{_place(part, number, column)} {cell.date().isoformat()}"


def _clashes(part: FoundPart, found: Import) -> Iterator[str]:
    """Yield the totals of a table that contradict each other, column by column."""
    items = (i for q in found.asked if q.cause == "total" for i in q.items)
    told = {i.row for i in items if i.sheet == part.table.sheet.name}
    rows = _blocks(part)
    if sum(total for _, total in rows) < 2:
        return
    for column in part.columns.all:
        if column.field in {"", "item", "price", "other"} or column.head.mode:
            continue
        yield from _twice(part, rows, column)
        yield from _beside_subtotals(part, rows, column, told)


def _blocks(part: FoundPart) -> list[tuple[int, bool]]:
    """Return each row that counts and whether it is a total; others lie aside."""
    classes = getattr(part.result, "classes", {})
    kinds = ((k, name) for k, name in sorted(classes.items()) if name not in _ASIDE)
    return [(k, name == "total") for k, name in kinds]


def _twice(
    part: FoundPart, rows: list[tuple[int, bool]], column: ListColumn
) -> Iterator[str]:
    """Yield totals of one name that follow each other and differ."""
    for (a, first), (b, second) in pairwise(rows):
        x, y = _cell(part, a, column), _cell(part, b, column)
        one_name = first and second and _label(part, a) == _label(part, b)
        if one_name and x is not None and y is not None and not _same(x, y):
            yield f"{_place(part, a, column)} {x:g} and {_place(part, b, column)} {y:g}"


def _beside_subtotals(
    part: FoundPart, rows: list[tuple[int, bool]], column: ListColumn, told: set[int]
) -> Iterator[str]:
    """Yield grand totals that neither their subtotals nor the rows add up to."""
    parts: list[float] = []
    cells, fed = 0.0, False
    for k, total in rows:
        value = _cell(part, k, column)
        if not total:
            cells, fed = cells + (value or 0.0), True
        elif value is not None and fed:
            parts, fed = [*parts, value], False
        elif value is not None and len(parts) > 1 and _PLAIN.fullmatch(_label(part, k)):
            kept = column.field in {"power", "energy"} and k + 1 not in told
            if not (kept or _same(value, sum(parts)) or _same(value, cells)):
                said = f"{_place(part, k, column)} {value:g}"
                yield f"{said}, subtotals before it {sum(parts):g}"
            parts = []


def _cell(part: FoundPart, row: int, column: ListColumn) -> float | None:
    cells = part.table.sheet.rows[row]
    return cell_number(cells[column.index]) if column.index < len(cells) else None


def _label(part: FoundPart, row: int) -> str:
    cells = part.table.sheet.rows[row]
    return folded(next((c for c in cells if isinstance(c, str)), ""))


def _place(part: FoundPart, row: int, column: ListColumn) -> str:
    sheet = part.table.sheet
    return f"{'' if sheet.text else sheet.name} {column.letter}{row + 1}".strip()


def _same(a: float, b: float) -> bool:
    return abs(a - b) <= SAME * max(abs(a), abs(b))


def _circles(found: Import, sheets: set[str]) -> Iterator[str]:
    for question in found.asked:
        for item in question.items if question.cause == "formula-unknown" else ():
            if item.sheet in sheets and item.name.endswith("(circular)"):
                yield f"{item.sheet} {item.name}"
