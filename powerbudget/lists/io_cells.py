"""Cells of a list of inputs and outputs: numbers, units and shares, or a fault."""

from __future__ import annotations

import math
import re
from collections import Counter
from dataclasses import dataclass, field
from functools import lru_cache

from powerbudget.errors import Fault, InputError
from powerbudget.lists import signal_words as signals
from powerbudget.lists.io_head import EXAMPLE, QUANTITIES, Columns
from powerbudget.lists.sheets import Cell, Grid, Row, column_letter
from powerbudget.lists.signal_words import folded
from powerbudget.quantities import QuantityError, parse

MOST_FAULTS = 200
"""Faults that are listed one by one; the rest is counted [count]."""
_COMMA = re.compile(r"^[+-]?\d{1,3}(?:\.\d{3})*,\d+$|^[+-]?\d+,\d+$")
_POINT = re.compile(r"^[+-]?\d+\.\d+$")


@dataclass
class State:
    """What is gathered while rows are read."""

    grid: Grid
    columns: Columns
    decimal: str
    faults: list[Fault] = field(default_factory=list)
    more: int = 0
    skipped: Counter[str] = field(default_factory=Counter)
    several: list[int] = field(default_factory=list)
    first: dict[str, int] = field(default_factory=dict)

    def fault(self, row: int, key: str, problem: str, *rest: str) -> None:
        """Note a fault in a row and column: given, allowed and advice follow."""
        if len(self.faults) >= MOST_FAULTS:
            self.more += 1
            return
        index = self.columns.at.get(key)
        place = f"row {row}"
        if index is not None:
            head = self.columns.heads[index]
            place += f", column {column_letter(index)} ({head})"
        given, allowed, advice = (*rest, "", "", "")[:3]
        self.faults.append(
            Fault(place, problem, given, allowed, advice, str(self.grid.path))
        )


def as_text(cell: Cell) -> str:
    """Return a cell as text [text]."""
    return f"{cell:g}" if isinstance(cell, float) else cell or ""


def cell_at(row: Row, index: int) -> Cell:
    """Return a cell, or None beyond the end of the row."""
    return row[index] if 0 <= index < len(row) else None


def word(row: Row, columns: Columns, key: str) -> str:
    """Return the text of a field's cell, empty where there is none [text]."""
    cell = cell_at(row, columns.at.get(key, -1))
    return as_text(cell)


@lru_cache(maxsize=256)
def unit_factor(unit: str, target: str) -> float:
    """Return the factor from a unit to the target, 0 where it is another kind."""
    try:
        return parse(f"1 {unit}", target)
    except QuantityError:
        return 0.0


def find_decimal(grid: Grid, columns: Columns, stated: str | None) -> str:
    """Return the decimal mark, or refuse a file that mixes two."""
    if stated:
        return stated
    keys = [
        columns.at[k]
        for k in ("current", "load", "duty", "quantity")
        if k in columns.at
    ]
    commas, points = [], []
    for number, row in enumerate(grid.rows, start=grid.first_row):
        for index in keys:
            cell = cell_at(row, index)
            if isinstance(cell, str):
                head = cell.split()[0].rstrip("%") if cell.split() else ""
                if _COMMA.match(head):
                    commas.append((number, index, cell))
                elif _POINT.match(head):
                    points.append((number, index, cell))
    if not commas:
        return "point"
    if grid.delimiter in {";", "\t"} and not points:
        return "comma"
    raise InputError(_comma_faults(grid, columns, commas, points))


def _comma_faults(
    grid: Grid,
    columns: Columns,
    commas: list[tuple[int, int, str]],
    points: list[tuple[int, int, str]],
) -> list[Fault]:
    other = f"; row {points[0][0]} holds {points[0][2]!r}" if points else ""
    return [
        Fault(
            f"row {number}, column {column_letter(index)} ({columns.heads[index]})",
            f"a comma: is it the decimal mark or does it part thousands?{other}",
            repr(text),
            "a point as the decimal mark",
            "or state decimal = 'comma' where every number is written so",
            str(grid.path),
        )
        for number, index, text in commas[:MOST_FAULTS]
    ]


def _number(state: State, row: int, key: str, text: str) -> float | None:
    """Return a number in the file's decimal mark, or note a fault."""
    if state.decimal == "comma":
        plain = text.replace(".", "").replace(",", ".") if "," in text else text
    else:
        plain = text
    try:
        value = float(plain)
    except ValueError:
        advice = "use a point as the decimal mark" if "," in text else ""
        state.fault(row, key, "is not a number", repr(text), "", advice)
        return None
    if not math.isfinite(value):
        state.fault(row, key, "is not a finite number", repr(text))
        return None
    if value < 0:
        state.fault(row, key, "is negative", repr(text), "0 or more")
        return None
    return value


_SPLIT = re.compile(r"^\s*([+-]?[\d.,]+(?:[eE][+-]?\d+)?)\s*([^\d\s].*?)?\s*$")


def quantity(state: State, row: int, cells: Row, key: str) -> float | None:
    """Return a current or power in SI, its unit from cell, head or unit column."""
    cell = cell_at(cells, state.columns.at.get(key, -1))
    if cell is None or (
        isinstance(cell, str) and folded(cell) in signals.UNKNOWN | {"-"}
    ):
        return None
    head_unit = state.columns.units.get(key, "") or word(cells, state.columns, "unit")
    if isinstance(cell, float):
        value, unit = _checked(state, row, key, cell), ""
    else:
        match = _SPLIT.match(cell)
        if not match:
            state.fault(row, key, "is not a number with a unit", repr(cell))
            return None
        value, unit = _number(state, row, key, match.group(1)), match.group(2) or ""
    if value is None:
        return None
    factor = _scale(state, row, key, (str(cell), unit, head_unit))
    return value * factor if factor else None


def _scale(state: State, row: int, key: str, said: tuple[str, str, str]) -> float:
    """Return the factor to SI of a cell, its unit and its head's; 0 with a fault."""
    cell, unit, head_unit = said
    if unit and head_unit and unit != head_unit:
        problem = f"is in {unit}, but the column says {head_unit}"
        wanted = f"every figure of the column in {head_unit}"
        state.fault(row, key, problem, repr(cell), wanted)
        return 0.0
    unit = unit or head_unit
    if not unit:
        advice = f"put it in the head: {EXAMPLE[key]}"
        state.fault(row, key, "has no unit", cell, "", advice)
        return 0.0
    factor = unit_factor(unit, QUANTITIES[key])
    if not factor:
        problem = f"is in {unit}, which is no unit of this column"
        state.fault(row, key, problem, cell, EXAMPLE[key])
    return factor


def _checked(state: State, row: int, key: str, value: float) -> float | None:
    return _number(_Points(state), row, key, repr(value))  # type: ignore[arg-type]


class _Points:
    """A state whose numbers have decimal points, as a workbook's own have."""

    decimal = "point"

    def __init__(self, state: State) -> None:
        self.fault = state.fault


def whole(state: State, row: int, cells: Row) -> int | None:
    """Return the number of points of a row, or note a fault [count]."""
    cell = cell_at(cells, state.columns.at.get("quantity", -1))
    if cell is None:
        return 1
    if isinstance(cell, float):
        value = _checked(state, row, "quantity", cell)
    else:
        value = _number(state, row, "quantity", cell)
    if value is None:
        return None
    if value != int(value) or value > 100_000:
        state.fault(row, "quantity", "is not a whole number up to 100,000", f"{cell}")
        return None
    return int(value)


def share(state: State, row: int, cells: Row) -> float | None:
    """Return the duty of a row, None without one, or note a fault [fraction]."""
    index = state.columns.at.get("duty", -1)
    cell = cell_at(cells, index)
    if cell is None:
        return None
    percent = "%" in state.columns.heads[index]
    if isinstance(cell, str) and cell.endswith("%"):
        percent, cell = True, cell[:-1].strip()
    value = (
        _checked(state, row, "duty", cell)
        if isinstance(cell, float)
        else _number(state, row, "duty", cell)
    )
    if value is None:
        return None
    value = value / 100 if percent else value
    if value > 1:
        state.fault(
            row, "duty", "is more than 1", f"{cell}", "a share: 0 to 1, or '40 %'"
        )
        return None
    return value
