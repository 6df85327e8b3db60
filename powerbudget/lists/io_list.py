"""The tags of a signal list as the rack of a site takes them, or every fault.

The importer reads the list.  A rack is read without anybody to answer, so that a
question about a row that cannot be placed is a fault here; what was assumed is told.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from powerbudget.errors import Fault, Finding, InputError, nearest
from powerbudget.lists.cells import read_book, sheet_named, without_collection
from powerbudget.lists.found import Import
from powerbudget.lists.importer import read_books
from powerbudget.lists.io_rows import ListResult
from powerbudget.lists.io_signal import Said, read_points
from powerbudget.lists.questions import Question
from powerbudget.lists.rows import ListLine, ranges
from powerbudget.lists.signals import VOLT_RANGE, read_state, read_supply
from powerbudget.lists.words import folded
from powerbudget.quantities import count

SIGNALS: dict[str, str] = {
    "ai": "analog input, 4-20 mA",
    "ai-hart": "analog input, 4-20 mA with a digital overlay",
    "ai-low-power": "analog input, 1-5 V from a low-power instrument",
    "ai-volt": "analog input, other voltage",
    "ao": "analog output",
    "di": "discrete input",
    "do": "discrete output, relay",
    "solenoid": "discrete output that drives a solenoid",
    "pulse": "pulse input",
    "rtd": "resistance thermometer",
    "thermocouple": "thermocouple",
    "serial": "point on a serial or network port",
    "fieldbus": "device on a fieldbus segment",
    "wireless": "short-range wireless field device",
}
"""Kind of signal -> what it is in words."""
_EXACT: dict[str, tuple[tuple[str, re.Pattern[str]], ...]] = {
    "ai": (
        ("ai-hart", re.compile(r"hart\b")),
        ("ai-low-power", re.compile(r"(?<![.,])\b1 ?(?:-|to) ?5 ?v|low[ -]power")),
        (
            "ai-volt",
            re.compile(
                r"^(?!.*\b20 ?ma\b).*(?:\bai-volt\b|[-+\u00b1 ]\d{1,2} ?v\b(?! ?\d)|\d ?mv\b|"
                + VOLT_RANGE
                + ")"
            ),
        ),
    ),
    "do": (("solenoid", re.compile(r"solenoid|\bsov\b|magnetventil|electrovalv")),),
    "serial": (
        ("wireless", re.compile(r"wireless|\b62591\b|\bisa ?100\b")),
        ("fieldbus", re.compile(r"fieldbus|feldbus|\bff\b|\bh1\b|\bpa\b")),
    ),
}
"""Kind that is counted -> kinds that draw otherwise, by the words of the signal."""
_ENDS = {"closed": "closed", "on": "closed", "open": "open", "off": "open"}
_ENDS["pulsed"] = "open"
_LOOPS = {"ai", "ao", "do", "serial", "pulse"}
SHOWN = 8


@dataclass(frozen=True)
class _Cause:
    """How a question of the importer is refused where nobody can answer it."""

    fields: tuple[str, ...]
    problem: str
    allowed: str = ""
    advice: str = ""


_STATES = "normally closed, normally open, energized, de-energized"
_REVISIONS = "two revisions in one list? leave the last"
_NONE = "write NONE for a row that has no signal"
_QUOTES = "a comma inside a number or a text without quotes?"
REFUSED: dict[str, _Cause] = {
    "vague": _Cause(("io_type", "signal"), "is not a known signal", ", ".join(SIGNALS)),
    "no-signal": _Cause(
        ("signal", "io_type"), "the signal is missing", ", ".join(SIGNALS), _NONE
    ),
    "direction": _Cause(
        ("io_type", "signal"), "does not say input or output", "AI, AO, DI, DO"
    ),
    "blank-tag": _Cause(("tag",), "the tag is missing"),
    "tag-error": _Cause(("tag",), "the tag is an error of a formula"),
    "case": _Cause(("tag",), "stands twice", "", _REVISIONS),
    "twice": _Cause(("tag",), "stands twice", "", _REVISIONS),
    "same-columns": _Cause(
        ("signal", "io_type"),
        "two columns of one head say the same on every row",
        "",
        "leave one of the two, or number them: Signal 1, Signal 2",
    ),
    "quantity": _Cause(("quantity",), "is not a whole number of 0 to 10,000"),
    "unread": _Cause(
        ("current", "power"), "holds no draw of 0 or more", "12 mA, 3.5 W"
    ),
    "no-unit": _Cause(
        ("current", "power"), "has no unit", "", "put it in the head: 'Current [mA]'"
    ),
    "no-unit-head": _Cause(
        ("power",), "has no unit", "", "put it in the head: 'Load [W]'"
    ),
    "duty": _Cause(("duty", "hours"), "is no share of time", "0 to 1, or '40 %'"),
    "unread-state": _Cause(("normal",), "is not a normal state", _STATES),
    "more-cells": _Cause((), "has more cells than the header", "", _QUOTES),
    "comma": _Cause(
        (),
        "a comma: is it the decimal mark or does it part thousands?",
        "a point as the decimal mark",
        "or state decimal = 'comma' where every number is written so",
    ),
    "formula-unknown": _Cause(
        (), "is a formula without a saved value", "", "open the file and save it"
    ),
}
"""Cause of a question -> its column, and what is said where it cannot be answered."""


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
        ``closed`` or ``open`` contact (energized or not, for an output) when all is
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
        Workbook or text table [path].
    options
        Sheet, encoding and decimal mark, where they must be stated.

    Returns
    -------
    IoList
        Tags in the order of the file.

    Raises
    ------
    InputError
        With rows and column of everything that cannot be used, one fault a cause.
    """
    with without_collection():
        return _read(path, options or Options())


def _read(path: Path, options: Options) -> IoList:
    book = read_book(path, options.encoding)
    if options.sheet is not None:
        book = replace(book, sheets=[sheet_named(book, options.sheet)])
    comma = None if options.decimal is None else options.decimal == "comma"
    found = read_books([book], comma=comma, chosen=options.sheet is not None)
    faults = [*_twins(found), *_faults(found)]
    tags = tuple(tag for line in found.lines for tag in _tags(line))
    if not (tags or faults):
        faults = [Fault("file", "holds a header but no tags", file=str(path))]
    if faults:
        raise InputError(faults)
    sheets = dict.fromkeys(x.sheet for x in found.lines if x.sheet != "csv")
    return IoList(tags, path, ", ".join(sheets), tuple(_findings(found)))


# --- tags -----------------------------------------------------------------------


def exact_kind(kind: str, text: str) -> str:
    """Return a key of `SIGNALS` from the kind that is counted and the signal's words.

    Examples
    --------
    >>> exact_kind("ai", "4-20 mA HART"), exact_kind("do", "relay"), exact_kind("tc", "")
    ('ai-hart', 'do', 'thermocouple')
    """
    plain = folded(text)
    for name, rule in _EXACT.get(kind, ()):
        if rule.search(plain):
            return name
    return "thermocouple" if kind == "tc" else kind


def read_signal(text: str) -> tuple[str, str, str]:
    """Return kind, who powers it and its normal state, from the text of a signal alone.

    Examples
    --------
    >>> read_signal("24VDC NC"), read_signal("4_to_20_mA_2DMU")
    (('di', '', 'closed'), ('ai', 'card', ''))
    """
    found = read_points(Said(signal=text))
    if found.status != "point" or not found.points:
        return ("unused" if found.status == "unused" else ""), "", ""
    line = ListLine("", 0, "point", "", "", found.points, signal=text)
    line.supply = read_supply(text)
    tag = next(_tags(line))
    return tag.signal, tag.powered, tag.normal


def _tags(line: ListLine) -> Iterator[Tag]:
    """Yield the tags of a row, one for each kind of point."""
    if line.kind not in {"point", "spare"}:
        return
    spare = line.kind == "spare"
    name = line.tag or f"{'spare in ' if spare else ''}row {line.row}"
    for kind, points in line.points.items():
        own = f"{name} {kind.upper()}" if len(line.points) > 1 else name
        yield Tag(
            own,
            *_said_of(kind, line.signal, line.supply, line.state),
            line.text,
            points,
            line.amps,
            _load_w(line, kind),
            line.duty_frac,
            line.port,
            spare,
            line.row,
        )


@lru_cache(maxsize=4096)
def _said_of(kind: str, signal: str, supply: str, state: str) -> tuple[str, str, str]:
    """Return the exact kind, who powers it and its normal state."""
    return (
        exact_kind(kind, signal),
        _powered(kind, signal, supply),
        _normal(kind, signal, state),
    )


def _powered(kind: str, signal: str, supply: str) -> str:
    # "3-wire" in the text of a contact or a thermometer counts its wires only.
    if kind not in _LOOPS and read_supply(signal) == supply:
        return ""
    return {"two-wire": "card", "four-wire": "field", "ac": "field"}.get(supply, "")


def _normal(kind: str, signal: str, state: str) -> str:
    if kind not in {"di", "do", "pulse"}:
        return ""
    if state:
        return _ENDS[state]
    said = read_state(signal)
    known = {"closed", "open"} if kind != "do" else set()
    if kind == "do" and "energi" in folded(signal):
        known = {"on", "off"}
    return _ENDS[said] if said in known else ""


def _load_w(line: ListLine, kind: str) -> float | None:
    """Return the stated watts of one piece; a current stays a current."""
    first = kind == ("do" if "do" in line.points else next(iter(line.points)))
    if line.amps is not None or not line.maximum_w or not first:
        return None
    return line.maximum_w / sum(n for k, n in line.points.items() if k == kind)


# --- what is told ---------------------------------------------------------------


def _faults(found: Import) -> list[Fault]:
    asked = [q for q in found.asked if q.cause in REFUSED]
    doubtful = {"comma", "formula-unknown"}
    return [
        _fault(found, q) for q in asked if q.cause not in doubtful or _bears(found, q)
    ]


def _bears(found: Import, question: Question) -> bool:
    """Return whether the doubtful cells of a question stand in columns of figures."""
    figures = ("current", "power", "quantity", "duty", "hours", "volts")
    used = {
        (part.table.sheet.name, column.letter)
        for part in found.parts
        for column in part.columns.of(*figures)
    }
    question.items = [
        item
        for item in question.items
        if (item.sheet, item.name.split()[0].rstrip("0123456789")) in used
    ]
    return bool(question.items)


def _fault(found: Import, question: Question) -> Fault:
    """Return a question as the fault of a list that nobody can be asked about."""
    cause = REFUSED[question.cause]
    rows = sorted({item.row for item in question.items})
    shown = rows[:SHOWN]
    place = "header" if rows == [0] else f"rows {ranges(shown)}"
    if len(rows) == 1 and rows[0]:
        place = f"row {rows[0]}"
    if len(rows) > len(shown):
        place += f", ... ({count(len(rows), 'row')})"
    names = ", ".join(i.name for i in question.items[:5] if i.name)
    if said := _said(question):
        names = f"{said!r}" + (f" ({names})" if names else "")
    return Fault(
        place + _column(found, cause.fields, question),
        cause.problem,
        names,
        cause.allowed,
        cause.advice or _hint(question),
        str(found.books[0].path),
    )


def _said(question: Question) -> str:
    """Return the words of a signal that nobody knows [text]."""
    match = re.match(r"'(.*)' on", question.lead)
    return match.group(1) if match else ""


def _hint(question: Question) -> str:
    said = _said(question)
    return nearest(folded(said), SIGNALS) if said else ""


def _column(found: Import, fields: tuple[str, ...], question: Question) -> str:
    sheet = question.items[0].sheet
    for part in found.parts:
        if part.kind != "io" or part.table.sheet.name != sheet:
            continue
        for column in part.columns.of(*fields):
            where = f", column {column.letter} ({column.head.text})"
            return where if sheet == "csv" else f", {sheet}{where}"
    return ""


def _twins(found: Import) -> list[Fault]:
    """Refuse sheets that hold the same tags: a person has to say which counts."""
    if not any(q.cause == "twins" for q in found.asked):
        return []
    sheets = [
        part.table.sheet.name
        for part in found.parts
        if part.kind == "io" and isinstance(part.result, ListResult)
    ]
    return [
        Fault(
            "file",
            "has several sheets that hold the same tags",
            ", ".join(dict.fromkeys(sheets)),
            "one of them",
            "name it: sheet = '...'",
            str(found.books[0].path),
        )
    ]


def _findings(found: Import) -> list[Finding]:
    name = found.books[0].path.name
    out = [Finding("note", _told(name, note)) for note in found.notes]
    out += [
        Finding("warning", _told(name, q.text))
        for q in found.asked
        if q.cause not in _OWN
    ]
    left = {"head": -sum(len(part.table.head_rows) for part in found.parts)}
    for tally in found.tallies:
        for kind, rows in tally.by_class().items():
            if kind not in {"point", "spare", "blank", "title", "copy"}:
                left[kind] = left.get(kind, 0) + len(rows)
    parts = ", ".join(f"{n:,} {_ROWS.get(k, k)}" for k, n in left.items() if n > 0)
    if parts:
        out.append(Finding("note", f"{name}: rows that are no tags: {parts}."))
    return out


_OWN = {
    "ports",
    "no-watts",
    "output-load",
    "no-volts",
    "hours",
    "supply-word",
    "list-total-none",
}
"""Causes that the rack answers itself, by parts of the library and its own findings."""
_ROWS = {
    "head": "repeated heads",
    "section": "section titles",
    "total": "totals",
    "unused": "without a signal",
}


def _told(name: str, text: str) -> str:
    return text if text.startswith(name) else f"{name}: {text}"
