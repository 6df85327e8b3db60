"""What makes a list unusable as a whole: figures that no reading can make right."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from powerbudget.errors import Fault, InputError
from powerbudget.lists.cells import column_letter
from powerbudget.lists.found import FoundPart, Import

NUMBERS = ("quantity", "power", "current", "volts", "inrush", "energy")
"""Columns in which a date can only be a number that was turned into one."""
SHOWN = 5


def refuse_broken(found: Import) -> None:
    """Refuse lists whose figures are dates or go round in a circle.

    Raises
    ------
    InputError
        With the first five cells of each.
    """
    faults = []
    read = [p for p in found.parts if p.kind in {"io", "schedule"} and not p.hidden]
    dates = [place for part in read for place in _dates(part)]
    if dates:
        advice = "format the column as numbers and type its figures anew"
        faults.append(_fault("dates stand in columns of numbers", dates, advice))
    circles = list(_circles(found, {p.table.sheet.name for p in read}))
    if circles:
        advice = "type the figures, or mend the formulas and save the file"
        faults.append(_fault("formulas go round in a circle", circles, advice))
    if faults:
        raise InputError(faults)


def _fault(problem: str, places: list[str], advice: str) -> Fault:
    more = f" and {len(places) - SHOWN:,} more" if len(places) > SHOWN else ""
    given = ", ".join(places[:SHOWN]) + more
    return Fault("list", problem, given, advice=advice)


def _dates(part: FoundPart) -> Iterator[str]:
    sheet = part.table.sheet
    columns = [
        c
        for c in part.columns.all
        if c.field in NUMBERS or c.field.startswith("count:")
    ]
    for number in range(part.table.first, part.table.last):
        row = sheet.rows[number]
        for column in columns:
            cell = row[column.index] if column.index < len(row) else None
            if isinstance(cell, dt.datetime):
                place = f"{column_letter(column.index)}{number + 1}"
                yield f"{sheet.name} {place} {cell.date().isoformat()}"


def _circles(found: Import, sheets: set[str]) -> Iterator[str]:
    for question in found.asked:
        for item in question.items if question.cause == "formula-unknown" else ():
            if item.sheet in sheets and item.name.endswith("(circular)"):
                yield f"{item.sheet} {item.name}"
