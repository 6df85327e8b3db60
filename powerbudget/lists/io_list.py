"""Lists of inputs and outputs: tags with their signals, from CSV or a workbook.

Rows are read one by one and every fault is named by row and column, all at once.
What a row does not say (who powers a loop, how a contact stands) stays unsaid here;
the budget decides and reports what it assumed.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from powerbudget.errors import Fault, Finding, InputError, nearest
from powerbudget.lists import signal_words as signals
from powerbudget.lists.io_cells import (
    State,
    as_text,
    cell_at,
    find_decimal,
    quantity,
    share,
    unit_factor,
    whole,
    word,
)
from powerbudget.lists.io_head import (
    QUANTITIES,
    TAG_HEADS,
    Columns,
    find_header,
    header_score,
    is_header,
    known_heads,
)
from powerbudget.lists.sheets import Reading, Row, read_grid
from powerbudget.lists.signal_words import SIGNALS, folded

_GONE = re.compile(r"\bdeleted?\b|\bvoid(?:ed)?\b|\bremoved\b|\bcancell?ed\b")
_SPARE = re.compile(r"\bspare\b|\breserve\b|not wired|\bnot connected\b|\breserva\b")
_SEVERAL = re.compile(r"^.*[A-Za-z0-9]\s*(?:,|/| and | & )\s*[A-Za-z0-9].*$")
_TOTAL = re.compile(r"^(?:grand )?(?:sub)?-?totals?\b|^summe\b|^sum\b|^somme\b")
_STATUS = re.compile(
    r"delete|void|remove|cancel|spare|reserv|not wired|not conn|total|sum|somme"
)


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
    decimal = find_decimal(grid, columns, options.decimal)
    state = State(grid, columns, decimal)
    first = _units_row(state)
    tags = [
        tag
        for number, row in enumerate(grid.rows[first:], start=first + grid.first_row)
        if (tag := _tag(state, number, row)) is not None
    ]
    if state.more:
        state.faults.append(
            Fault(
                "file", f"and {state.more:,} more faults of this kind", file=str(path)
            )
        )
    if not state.faults and not tags:
        state.faults.append(Fault("file", "holds a header but no tags", file=str(path)))
    if state.faults:
        raise InputError(state.faults)
    return IoList(tuple(tags), path, grid.sheet, (*grid.findings, *_notes(state)))


def _units_row(state: State) -> int:
    """Read a row of units below the header and return where tags begin."""
    columns, rows = state.columns, state.grid.rows
    first = columns.header_row + 1
    if first >= len(rows):
        return first
    row = rows[first]
    tag = cell_at(row, columns.at["tag"])
    units = [c for c in row if isinstance(c, str) and folded(c) not in {"-", "text"}]
    if not units or (tag is not None and folded(str(tag)) not in {"-", "text", ""}):
        return first
    if not all(
        unit_factor(c, "A") or unit_factor(c, "W") or c in {"%", "pcs"} for c in units
    ):
        return first
    for key in QUANTITIES:
        cell = cell_at(row, columns.at.get(key, -1))
        if isinstance(cell, str) and cell != "-":
            columns.units[key] = columns.units[key] or cell
    return first + 1


# --- rows -----------------------------------------------------------------------


def _tag(state: State, number: int, row: Row) -> Tag | None:
    """Return the tag of a row, or None where the row is none or is at fault."""
    columns = state.columns
    if all(cell is None for cell in row):
        return None
    tag = word(row, columns, "tag")
    remark = " ".join(
        (word(row, columns, "remark"), word(row, columns, "service"), tag)
    ).lower()
    status = _STATUS.search(remark)
    if _skip(state, row, tag, status):
        return None
    spare = bool(status and _SPARE.search(remark))
    if not tag and not spare:
        state.fault(number, "tag", "the tag is missing")
        return None
    before = len(state.faults) + state.more
    _twice(state, number, tag)
    kind, powered, normal = _signal(state, number, row)
    count = whole(state, number, row)
    current = quantity(state, number, row, "current")
    load = quantity(state, number, row, "load")
    duty = share(state, number, row)
    _overlong(state, number, row)
    if len(state.faults) + state.more > before or kind == "unused" or count is None:
        return None
    if count == 1 and "quantity" not in columns.at and _SEVERAL.match(tag):
        state.several.append(number)
    return Tag(
        tag or f"spare in row {number}",
        kind,
        powered,
        normal,
        word(row, columns, "service"),
        count,
        current,
        load,
        duty,
        word(row, columns, "port"),
        spare,
        number,
    )


def _overlong(state: State, number: int, row: Row) -> None:
    """Refuse a row with cells beyond the header's."""
    heads = state.columns.heads
    if len(row) > len(heads) and any(
        cell is not None for cell in row[max(heads) + 1 :]
    ):
        state.fault(
            number,
            "",
            "has more cells than the header",
            f"{len(row)} cells",
            f"{max(heads) + 1}",
            "a comma inside a number or a text without quotes?",
        )


def _skip(state: State, row: Row, tag: str, status: re.Match[str] | None) -> bool:
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
    words = [cell_at(row, at.get(key, -1)) for key in ("io_type", "signal")]
    return " ".join(as_text(word) for word in words if word is not None)


def _signal(state: State, number: int, row: Row) -> tuple[str, str, str]:
    columns = state.columns
    # "AI" beside "Modbus TCP" is a point on a bus; the joined text says so.
    text = _signal_text(row, columns)
    reading = signals.read_signal(text)
    key = "signal" if "signal" in columns.at else "io_type"
    if not reading.kind:
        bare = signals.folded(text)
        says, cure = "is not a known signal", nearest(bare, SIGNALS)
        if bare in signals.UNKNOWN:
            says = "the signal is missing"
            cure = "write NONE for a row that has no signal"
        state.fault(number, key, says, repr(text), ", ".join(SIGNALS), cure)
        return "", "", ""
    powered = _powered(row, columns) or reading.powered
    normal = reading.normal
    written = word(row, columns, "normal")
    if written and reading.kind in {"di", "do", "solenoid", "pulse"}:
        found = signals.read_normal(written, reading.kind)
        if found is None:
            state.fault(
                number,
                "normal",
                "is not a normal state",
                repr(written),
                "normally closed, normally open, energised, de-energised",
            )
        else:
            normal = found or normal
    return reading.kind, powered, normal


def _powered(row: Row, columns: Columns) -> str:
    external = folded(word(row, columns, "external"))
    # A blank is no proof of loop power; only what is written counts.
    silent = {*signals.UNKNOWN, *signals.UNUSED, *signals.NO}
    if external and external not in silent:
        return "field"
    if external in signals.NO and external:
        return "card"
    by_card = folded(word(row, columns, "by_card"))
    if by_card in signals.YES:
        return "card"
    if by_card in signals.NO:
        return "field"
    return signals.read_powered(word(row, columns, "powered"))


def _twice(state: State, number: int, tag: str) -> None:
    key = tag.casefold()
    first = state.first.setdefault(key, number)
    if tag and first != number:
        problem = f"stands twice, first in row {first}"
        advice = "two revisions in one list? leave the last"
        state.fault(number, "tag", problem, repr(tag), "", advice)


def _notes(state: State) -> list[Finding]:
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
            Finding(
                "warning",
                f"{name}: tags in row {rows} name several points but "
                "count as one; add a quantity column or split the rows.",
            )
        )
    if state.columns.ignored:
        heads = ", ".join(state.columns.ignored[:8])
        found.append(Finding("note", f"{name}: columns not used: {heads}."))
    return found
