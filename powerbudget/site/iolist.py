"""Lists of inputs and outputs: tags with their signals, from CSV or a workbook.

Rows are read one by one and every fault is named by row and column, all at once.
What a row does not say (who powers a loop, how a contact stands) stays unsaid here;
the budget decides and reports what it assumed.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

from powerbudget.errors import Fault, Finding, InputError, nearest
from powerbudget.quantities import QuantityError, parse
from powerbudget.site import signals
from powerbudget.site.ioheader import (
    EXAMPLE,
    QUANTITIES,
    TAG_HEADS,
    Columns,
    find_header,
    header_score,
    is_header,
    known_heads,
)
from powerbudget.site.sheets import Cell, Grid, Reading, Row, column_letter, read_grid
from powerbudget.site.signals import SIGNALS, folded

MOST_FAULTS = 200
"""Faults that are listed one by one; the rest is counted [count]."""
_GONE = re.compile(r"\bdeleted?\b|\bvoid(?:ed)?\b|\bremoved\b|\bcancell?ed\b")
_SPARE = re.compile(r"\bspare\b|\breserve\b|not wired|\bnot connected\b|\breserva\b")
_SEVERAL = re.compile(r"^.*[A-Za-z0-9]\s*(?:,|/| and | & )\s*[A-Za-z0-9].*$")
_TOTAL = re.compile(r"^(?:grand )?(?:sub)?-?totals?\b|^summe\b|^sum\b|^somme\b")
_STATUS = re.compile(
    r"delete|void|remove|cancel|spare|reserv|not wired|not conn|total|sum|somme"
)
_COMMA = re.compile(r"^[+-]?\d{1,3}(?:\.\d{3})*,\d+$|^[+-]?\d+,\d+$")
_POINT = re.compile(r"^[+-]?\d+\.\d+$")


@dataclass(frozen=True, slots=True)
class Tag:
    """One row of the list.

    Parameters
    ----------
    tag, signal, service, port
        Name, kind of signal (a key of `SIGNALS`), description and port [text].
    powered
        ``card``, ``field``, or empty where the list does not say [text].
    normal
        ``closed`` or ``open`` contact (energised or not, for an output) when all is
        well; empty where the list does not say [text].
    quantity
        Points of this row [count].
    current_a, load_w, duty_frac
        Figures of its own, None where the list gives none [A, W, fraction].
    spare
        True for a channel that is kept but has no field device.
    row
        Row of the file [count].
    """

    tag: str
    signal: str
    powered: str = ""
    normal: str = ""
    service: str = ""
    quantity: int = 1
    current_a: float | None = None
    load_w: float | None = None
    duty_frac: float | None = None
    port: str = ""
    spare: bool = False
    row: int = 0


@dataclass(frozen=True)
class IoList:
    """A whole list of inputs and outputs.

    Parameters
    ----------
    tags
        Rows that count.
    path, sheet
        Where they came from.
    findings
        What was skipped or had to be understood.
    """

    tags: tuple[Tag, ...]
    path: Path
    sheet: str = ""
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class Options:
    """How to read a list, where the file does not say so itself.

    Parameters
    ----------
    sheet, encoding
        Sheet of a workbook, encoding of a text file; None to find out [text].
    decimal
        ``point`` or ``comma``; None to find out [text].
    """

    sheet: str | None = None
    encoding: str | None = None
    decimal: str | None = None


@dataclass
class _State:
    """What is gathered while rows are read."""

    grid: Grid
    columns: Columns
    decimal: str
    faults: list[Fault] = field(default_factory=list)
    more: int = 0
    skipped: Counter[str] = field(default_factory=Counter)
    several: list[int] = field(default_factory=list)

    def fault(self, row: int, key: str, problem: str, *rest: str) -> None:
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


def read_io_list(path: Path, options: Options | None = None) -> IoList:
    """Read a list of tags and refuse it with every fault, or return it.

    Parameters
    ----------
    path
        ``.csv``, ``.txt``, ``.tsv`` or ``.xlsx`` file [path].
    options
        Sheet, encoding and decimal mark, where they must be stated.

    Returns
    -------
    IoList
        Tags in the order of the file.

    Raises
    ------
    InputError
        With row and column of everything that cannot be used.

    Notes
    -----
    A decimal comma is understood in files parted by semicolons or tabs that hold no
    decimal point; anywhere else it is a fault until ``decimal`` is stated.
    """
    options = options or Options()
    grid = read_grid(path, Reading(options.sheet, options.encoding, header_score))
    columns = find_header(grid)
    decimal = _decimal(grid, columns, options.decimal)
    state = _State(grid, columns, decimal)
    first = _units_row(state)
    tags = [
        tag
        for number, row in enumerate(grid.rows[first:], start=first + grid.first_row)
        if (tag := _tag(state, number, row)) is not None
    ]
    _twice(state, tags)
    if state.more:
        state.faults.append(
            Fault("file", f"and {state.more:,} more faults of this kind", file=str(path))
        )
    if not state.faults and not tags:
        state.faults.append(Fault("file", "holds a header but no tags", file=str(path)))
    if state.faults:
        raise InputError(state.faults)
    return IoList(tuple(tags), path, grid.sheet, (*grid.findings, *_notes(state)))


def _units_row(state: _State) -> int:
    """Read a row of units below the header and return where tags begin."""
    columns, rows = state.columns, state.grid.rows
    first = columns.header_row + 1
    if first >= len(rows):
        return first
    row = rows[first]
    tag = _at(row, columns.at["tag"])
    units = [c for c in row if isinstance(c, str) and folded(c) not in {"-", "text"}]
    if not units or (tag is not None and folded(str(tag)) not in {"-", "text", ""}):
        return first
    if not all(_factor(c, "A") or _factor(c, "W") or c in {"%", "pcs"} for c in units):
        return first
    for key in QUANTITIES:
        cell = _at(row, columns.at.get(key, -1))
        if isinstance(cell, str) and cell != "-":
            columns.units[key] = columns.units[key] or cell
    return first + 1


# --- cells ----------------------------------------------------------------------


def _at(row: Row, index: int) -> Cell:
    return row[index] if 0 <= index < len(row) else None


def _word(row: Row, columns: Columns, key: str) -> str:
    cell = _at(row, columns.at.get(key, -1))
    return _show(cell)


@lru_cache(maxsize=256)
def _factor(unit: str, target: str) -> float:
    """Return the factor from a unit to the target, 0 where it is another kind."""
    try:
        return parse(f"1 {unit}", target)
    except QuantityError:
        return 0.0


def _decimal(grid: Grid, columns: Columns, stated: str | None) -> str:
    """Return the decimal mark, or refuse a file that mixes two."""
    if stated:
        return stated
    keys = [columns.at[k] for k in ("current", "load", "duty", "quantity") if k in columns.at]
    commas, points = [], []
    for number, row in enumerate(grid.rows, start=grid.first_row):
        for index in keys:
            cell = _at(row, index)
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
            repr(text), "a point as the decimal mark",
            "or state decimal = 'comma' where every number is written so",
            str(grid.path),
        )
        for number, index, text in commas[:MOST_FAULTS]
    ]  # fmt: skip


def _number(state: _State, row: int, key: str, text: str) -> float | None:
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
    if value != value or value in {float("inf"), float("-inf")}:
        state.fault(row, key, "is not a finite number", repr(text))
        return None
    if value < 0:
        state.fault(row, key, "is negative", repr(text), "0 or more")
        return None
    return value


_SPLIT = re.compile(r"^\s*([+-]?[\d.,]+(?:[eE][+-]?\d+)?)\s*([^\d\s].*?)?\s*$")


def _quantity(state: _State, row: int, cells: Row, key: str) -> float | None:
    """Return a current or power in SI, its unit from cell, head or unit column."""
    cell = _at(cells, state.columns.at.get(key, -1))
    if cell is None or (isinstance(cell, str) and folded(cell) in signals.UNKNOWN | {"-"}):
        return None
    target = QUANTITIES[key]
    head_unit = state.columns.units.get(key, "") or _word(cells, state.columns, "unit")
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
    if unit and head_unit and unit != head_unit:
        state.fault(row, key, f"is in {unit}, but the column says {head_unit}", repr(cell),
                    f"every figure of the column in {head_unit}")  # fmt: skip
        return None
    unit = unit or head_unit
    if not unit:
        state.fault(row, key, "has no unit", f"{cell}", "",
                    f"put it in the head: {EXAMPLE[key]}")  # fmt: skip
        return None
    factor = _factor(unit, target)
    if not factor:
        state.fault(row, key, f"is in {unit}, which is no unit of this column",
                    f"{cell}", EXAMPLE[key])  # fmt: skip
        return None
    return value * factor


def _checked(state: _State, row: int, key: str, value: float) -> float | None:
    return _number(_Points(state), row, key, repr(value))  # type: ignore[arg-type]


class _Points:
    """A state whose numbers have decimal points, as a workbook's own have."""

    decimal = "point"

    def __init__(self, state: _State) -> None:
        self.fault = state.fault


def _whole(state: _State, row: int, cells: Row) -> int | None:
    cell = _at(cells, state.columns.at.get("quantity", -1))
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


def _duty(state: _State, row: int, cells: Row) -> float | None:
    index = state.columns.at.get("duty", -1)
    cell = _at(cells, index)
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
        state.fault(row, "duty", "is more than 1", f"{cell}", "a share: 0 to 1, or '40 %'")
        return None
    return value


# --- rows -----------------------------------------------------------------------


def _tag(state: _State, number: int, row: Row) -> Tag | None:
    """Return the tag of a row, or None where the row is none or is at fault."""
    columns = state.columns
    if all(cell is None for cell in row):
        return None
    tag = _word(row, columns, "tag")
    remark = " ".join(
        (_word(row, columns, "remark"), _word(row, columns, "service"), tag)
    ).lower()
    status = _STATUS.search(remark)
    if _skip(state, row, tag, status):
        return None
    spare = bool(status and _SPARE.search(remark))
    if not tag and not spare:
        state.fault(number, "tag", "the tag is missing")
        return None
    before = len(state.faults) + state.more
    kind, powered, normal = _signal(state, number, row)
    quantity = _whole(state, number, row)
    current = _quantity(state, number, row, "current")
    load = _quantity(state, number, row, "load")
    duty = _duty(state, number, row)
    if len(row) > len(columns.heads) and any(
        cell is not None for cell in row[max(columns.heads) + 1 :]
    ):
        state.fault(number, "", "has more cells than the header",
                    f"{len(row)} cells", f"{max(columns.heads) + 1}",
                    "a comma inside a number or a text without quotes?")  # fmt: skip
    if len(state.faults) + state.more > before or kind == "unused" or quantity is None:
        return None
    if quantity == 1 and "quantity" not in columns.at and _SEVERAL.match(tag):
        state.several.append(number)
    return Tag(tag or f"spare in row {number}", kind, powered, normal,
               _word(row, columns, "service"), quantity, current, load, duty,
               _word(row, columns, "port"), spare, number)  # fmt: skip


def _skip(state: _State, row: Row, tag: str, status: re.Match[str] | None) -> bool:
    """Return whether a row is no tag: a repeated header, a total, a deleted one."""
    what = ""
    if status and _GONE.search(status.string):
        what = "rows marked deleted or void"
    elif tag.lower() in TAG_HEADS and is_header(known_heads(row)):
        what = "repeated header rows"
    else:
        words = _signal_text(row, state.columns)
        if status and not words and _TOTAL.match(tag.lower() or status.string.strip()):
            what = "rows of totals"
        elif tag == "0" and words in {"", "0"}:
            what = "empty template rows"
        # A section title fills one cell only; a tag without a signal is a fault.
        elif not words and (not tag or " " in tag):
            filled = sum(cell is not None for cell in row)
            what = "section titles" if filled == 1 else ""
    if what:
        state.skipped[what] += 1
    return bool(what)


def _signal_text(row: Row, columns: Columns) -> str:
    at = columns.at
    words = [_at(row, at.get(key, -1)) for key in ("io_type", "signal")]
    return " ".join(_show(word) for word in words if word is not None)


def _show(cell: Cell) -> str:
    return f"{cell:g}" if isinstance(cell, float) else cell or ""


def _signal(state: _State, number: int, row: Row) -> tuple[str, str, str]:
    columns = state.columns
    # "AI" beside "Modbus TCP" is a point on a bus; the joined text says so.
    text = _signal_text(row, columns)
    reading = signals.read_signal(text)
    key = "signal" if "signal" in columns.at else "io_type"
    if not reading.kind:
        known = ", ".join(SIGNALS)
        if signals.folded(text) in signals.UNKNOWN:
            state.fault(number, key, "the signal is missing", repr(text), known,
                        "write NONE for a row that has no signal")  # fmt: skip
        else:
            state.fault(number, key, "is not a known signal", repr(text), known,
                        nearest(signals.folded(text), SIGNALS))  # fmt: skip
        return "", "", ""
    powered = _powered(row, columns) or reading.powered
    normal = reading.normal
    written = _word(row, columns, "normal")
    if written and reading.kind in {"di", "do", "solenoid", "pulse"}:
        found = signals.read_normal(written, reading.kind)
        if found is None:
            state.fault(number, "normal", "is not a normal state", repr(written),
                        "normally closed, normally open, energised, de-energised")  # fmt: skip
        else:
            normal = found or normal
    return reading.kind, powered, normal


def _powered(row: Row, columns: Columns) -> str:
    external = folded(_word(row, columns, "external"))
    # A blank is no proof of loop power; only what is written counts.
    if external and external not in signals.NO and external not in signals.UNKNOWN:
        return "field"
    if external in signals.NO and external:
        return "card"
    return signals.read_powered(_word(row, columns, "powered"))


def _twice(state: _State, tags: list[Tag]) -> None:
    first: dict[str, int] = {}
    for tag in tags:
        key = tag.tag.casefold()
        if key in first:
            state.fault(tag.row, "tag", f"stands twice, first in row {first[key]}",
                        repr(tag.tag), "", "two revisions in one list? leave the last")  # fmt: skip
        else:
            first[key] = tag.row


def _notes(state: _State) -> list[Finding]:
    name = state.grid.path.name
    found = []
    if state.decimal == "comma":
        found.append(Finding("note", f"{name}: commas were read as decimal marks."))
    if state.skipped:
        parts = ", ".join(f"{count} {what}" for what, count in state.skipped.items())
        found.append(Finding("note", f"{name}: skipped {parts}."))
    if state.several:
        rows = ", ".join(str(row) for row in state.several[:8])
        found.append(
            Finding("warning", f"{name}: tags in row {rows} name several points but "
                    "count as one; add a quantity column or split the rows.")
        )  # fmt: skip
    if state.columns.ignored:
        heads = ", ".join(state.columns.ignored[:8])
        found.append(Finding("note", f"{name}: columns not used: {heads}."))
    return found
