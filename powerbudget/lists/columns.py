"""Which column holds what: heads first, then what the cells themselves show.

A head that means two things ("No.", "Load", "State", "Type") is settled by content;
a column whose head says nothing is taken where its cells plainly read as signals.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from powerbudget.lists import signals
from powerbudget.lists.cells import Row, Value, column_letter
from powerbudget.lists.figures import cell_number, figure, on_share, pieces
from powerbudget.lists.heads import SHORT_UNITS, UNITS, Head, read_head, spelt
from powerbudget.lists.io_signal import ANALOG_TYPES, DIGITAL_TYPES, WAYS
from powerbudget.lists.io_status import NO, OUT, YES
from powerbudget.lists.rows import DERIVED
from powerbudget.lists.schedule_words import operation
from powerbudget.lists.signals import (
    comes_by,
    fails_to,
    kind_in_tag,
    read_address,
    read_signal,
    read_state,
    read_supply,
)
from powerbudget.lists.status import is_total, row_status, whole_status
from powerbudget.lists.tables import ListTable
from powerbudget.lists.words import concepts, folded, known, word_set, words_of
from powerbudget.quantities import count, in_unit

SAMPLE = 400
DASHES = ("-", "--", "---")
MOST_PIECES = 100
NO_INPUT = "calculated, not read"
NO_FIGURE = "end of a range, or pieces at rest"
"""Why a column is left alone for good."""
DATA_TYPES = (
    ANALOG_TYPES | DIGITAL_TYPES | word_set("byte dword timer counter impuls pulse")
)
_TAG = re.compile(
    r"^[A-Za-z]{1,5}[-_ ]?\d{1,6}[A-Za-z]?(?:[-_/]\w+)*$|"
    r"^\d{1,4}[-_ ]?[A-Za-z]{1,5}[-_ ]?\d{1,6}\w*$|"
    r"^[A-Z]\w*_\w+$"
)


@dataclass(frozen=True)
class ListColumn:
    """One column with its meaning.

    Parameters
    ----------
    index
        Its place, from 0 [count].
    head
        What its head says.
    field
        What it is taken for, empty where it is not used [text].
    evidence
        Why, in words [text].
    filled
        Cells with something in them, of those looked at [count].
    """

    index: int
    head: Head
    field: str
    evidence: str = ""
    filled: int = 0

    @property
    def letter(self) -> str:
        """Its letters as a spreadsheet shows them [text]."""
        return column_letter(self.index)

    @property
    def called(self) -> str:
        """Its letters and its head, as a question names it [text]."""
        return f"{self.letter} '{self.head.text}'"


@dataclass
class Columns:
    """The columns of a table by what they mean.

    Parameters
    ----------
    all
        Every column, used or not.
    several
        Columns of which each cell is a point of its own.
    in_tags
        Whether the tags carry the kinds of signal, for want of a column.
    twins
        Columns that seem to say the same thing and were left out.
    content
        What the cells of every column look like.
    runs
        Columns of watts of loads that run in one way, with the way [text].
    totals
        Columns that count the points of all pieces of a row beside those of one [text].
    """

    all: list[ListColumn]
    several: list[ListColumn] = field(default_factory=list)
    in_tags: bool = False
    twins: list[ListColumn] = field(default_factory=list)
    content: list[Content] = field(default_factory=list)
    runs: dict[int, str] = field(default_factory=dict)
    totals: dict[int, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._known: dict[tuple[str, ...], list[ListColumn]] = {}

    def of(self, *fields: str) -> list[ListColumn]:
        """Return the columns of one or more meanings, in the order of the meanings."""
        if fields not in self._known:
            self._known[fields] = [
                column for name in fields for column in self.all if column.field == name
            ]
        return self._known[fields]

    def by_head(self) -> dict[str, ListColumn]:
        """Return the columns that have a head by it, repeats numbered: Qty, Qty (2)."""
        found: dict[str, ListColumn] = {}
        for column in self.all:
            head, number = column.head.text, 2
            while head in found:
                head, number = f"{column.head.text} ({number})", number + 1
            if head:
                found[head] = column
        return found

    def put(self, column: ListColumn) -> None:
        """Take a column for something else."""
        self.all[column.index] = column
        self._known.clear()

    def first(self, *fields: str) -> ListColumn | None:
        """Return the first column of these meanings, or None."""
        found = self.of(*fields)
        return found[0] if found else None

    def most(self, column: ListColumn) -> float:
        """Return the highest number of a column, of the cells looked at."""
        return self.content[column.index].most if self.content else 0.0

    def share(self, number: float, column: ListColumn) -> tuple[float, str]:
        """Return a number of a column of shares as a fraction, and the cause of a question.

        A percent sign in the head holds, unless no number of the column is above 1;
        without one the column as a whole decides.
        """
        percents = max(number, self.most(column)) > 1
        cause = {True: "percent-rest", False: ""}
        if column.head.unit == "%":
            cause = {True: "", False: "percent"}
        doubt = cause[percents] if 0 < number <= 1 else ""
        return (number / 100 if percents else number), doubt

    def counts(self) -> dict[int, str]:
        """Return the columns that count points, with the kind of each."""
        return {c.index: c.field[6:] for c in self.all if c.field.startswith("count:")}


@dataclass
class Content:
    """What the cells of a column look like, as shares of the filled ones."""

    filled: int = 0
    numeric: float = 0.0
    stated: float = 0.0
    implied: float = 0.0
    states: float = 0.0
    statuses: float = 0.0
    letters: float = 0.0
    fails: float = 0.0
    outs: float = 0.0
    supplies: float = 0.0
    tags: float = 0.0
    data_types: float = 0.0
    figures: float = 0.0
    drawn: float = 0.0
    flags: float = 0.0
    units: float = 0.0
    mains: float = 0.0
    powers: float = 0.0
    times: float = 0.0
    ways: float = 0.0
    carry: float = 0.0
    volts: float = 0.0
    addresses: float = 0.0
    unique: float = 0.0
    running: bool = False
    most: float = 0.0
    pieces: bool = False
    rising: bool = False
    clocked: float = 0.0
    counted: float = 0.0
    operations: frozenset[str] = frozenset()
    wires: float = 0.0
    cards: float = 0.0
    classes: float = 0.0


_VOLTS = re.compile(r"\d\s*V(?:DC|AC)?\b", re.IGNORECASE)
_DIGIT = re.compile(r"\d")
_CLOCK = re.compile(r"\s*\d{1,2}:\d\d(?::\d\d)?\s*$")


def look_at(cells: Sequence[Value]) -> Content:
    """Return what the cells of a column look like."""
    # A dash in a column is a cell left blank.
    filled = [cell for cell in cells if cell is not None and cell not in DASHES]
    if not filled:
        return Content()
    count = len(filled)
    texts = [cell for cell in filled if isinstance(cell, str)]
    numbers = [n for cell in filled if (n := cell_number(cell)) is not None]
    words = [t for t in texts if cell_number(t) is None]

    def share(found: Iterable[object]) -> float:
        return sum(bool(x) for x in found) / count

    readings = [read_signal(t) for t in words]
    ways = [comes_by(t) for t in words]
    return Content(
        filled=count,
        numeric=len(numbers) / count,
        stated=share(r.stated or r.unused for r in readings)
        if any(r.stated for r in readings)
        else 0,
        implied=share(r.kinds or r.hint for r in readings),
        states=share(read_state(t) and len(t) < 24 for t in words),
        statuses=share(whole_status(t) or len(t) == 1 for t in words),
        letters=share(len(t) == 1 for t in words),
        fails=share(len(t) < 24 and fails_to(t) for t in words),
        outs=share(len(t) > 2 and row_status(t) in OUT for t in words),
        supplies=share(read_supply(t) for t in words),
        tags=share(_TAG.match(t) for t in texts),
        data_types=share(folded(t) in DATA_TYPES for t in words),
        figures=share(not figure(t).empty for t in words) + len(numbers) / count,
        drawn=share(not figure(t).empty for t in words),
        flags=share(
            isinstance(cell, bool) or folded(str(cell)) in _FLAGS for cell in filled
        ),
        volts=share(_VOLTS.search(t) for t in words),
        addresses=share(read_address(t) for t in texts),
        ways=share(ways) if "wired" in ways and len({*ways, ""}) > 2 else 0,
        carry=share(kind_in_tag(t) for t in texts),
        times=share(on_share(t) is not None for t in words),
        counted=share(pieces(t) is not None for t in words),
        clocked=share(
            _CLOCK.match(t) or (on_share(t) is not None and _DIGIT.search(t))
            for t in words
        ),
        units=share(spelt(t) for t in words),
        mains=share(t.lower() in {"ac", "dc"} for t in words),
        powers=share(
            UNITS[spelt(t)][0] in {"power", "current"} for t in words if spelt(t)
        ),
        unique=len({str(cell).casefold() for cell in filled}) / count,
        running=_running(numbers) and len(numbers) >= 0.6 * count,
        most=max(numbers, default=0.0),
        rising=all(a < b for a, b in pairwise(numbers)),
        operations=_operations(filled),
        wires=share(_WIRES.fullmatch(t) for t in words),
        classes=share(folded(t) in WAYS for t in words),
        cards=share(r.stated and set(dict(r.kinds)) - {"serial"} for r in readings),
        pieces=len(numbers) >= 0.9 * count
        and not _running(numbers)
        and all(n == int(n) and 0 <= n <= MOST_PIECES for n in numbers),
    )


_FLAGS = YES | NO
MOSTLY = 0.8
"""Share of the cells of a column that settle what it holds (judgment) [fraction]."""


def _operations(filled: Sequence[Value]) -> frozenset[str]:
    """Return the ways to run that the cells of a column name, empty where most name none."""
    found = [operation(cell) if isinstance(cell, str) else "" for cell in filled]
    if sum(map(bool, found)) < MOSTLY * len(filled):
        return frozenset()
    return frozenset(found) - {""}


def _running(numbers: list[float]) -> bool:
    """Return whether numbers go up by one, as positions do."""
    if len(numbers) < 2:
        return False
    steps = [b - a for a, b in pairwise(numbers)]
    return (
        sum(step == 1 for step in steps) >= 0.7 * len(steps) and len(set(numbers)) > 1
    )


def map_columns(table: ListTable) -> Columns:
    """Return the meaning of each column of a table."""
    rows = [row for row in table.rows() if len(row) - row.count(None) >= 2]
    step = max(1, len(rows) // SAMPLE)
    sample = rows[::step]
    width = max([len(table.heads), *(len(row) for row in sample)], default=0)
    content = [
        look_at([row[k] if k < len(row) else None for row in sample])
        for k in range(width)
    ]
    heads = [*table.heads, *[Head()] * (width - len(table.heads))]
    hidden = table.sheet.markup.hidden_columns
    found = [_column(k, heads[k], content[k], hidden=k in hidden) for k in range(width)]
    found = _settled(found, content)
    found = _named(found, content)
    found = _pieces_at_work(found, content)
    found = _per_unit(found, content)
    found = _beside_units(_unnamed(found, content), content)
    columns = Columns(found, content=content)
    _one_each(columns, content)
    _rated_beside(columns)
    _delivered(columns)
    _time_units(columns, sample)
    _cycle_time(columns, sample)
    _duty_pieces(columns, content, sample)
    _by_operation(columns, sample)
    _worked_out(columns, sample)
    _means(columns)
    _either_count(columns)
    _products(columns, sample)
    columns.several = _several(columns, content, sample)
    _kinds_in_tags(columns, content)
    return columns


def _kinds_in_tags(columns: Columns, content: list[Content]) -> None:
    """Read the kinds from the tags of a list that has no other column for them."""
    tag = columns.first("tag")
    if tag is None or columns.of(*_OF_KINDS) or columns.counts():
        return
    carry = content[tag.index].carry
    columns.in_tags = carry >= 0.5
    if columns.in_tags:
        why = f"{tag.evidence}; {in_unit(100 * carry, '%')} of the tags carry a kind of signal"
        columns.put(replace(tag, evidence=why))


_OF_KINDS = ("io_type", "signal", "data_type", "address", "protocol")


def _column(index: int, head: Head, content: Content, *, hidden: bool) -> ListColumn:
    if hidden:
        return ListColumn(
            index, head, "hidden" if head.text else "", "hidden column", content.filled
        )
    if head.text in DERIVED:
        return ListColumn(index, head, "other", NO_INPUT, content.filled)
    return ListColumn(
        index,
        head,
        head.field,
        f"head '{head.text}'" if head.field else "",
        content.filled,
    )


_UNTOLD = word_set("item other") | {""}


def _settled(found: list[ListColumn], content: list[Content]) -> list[ListColumn]:
    """Settle the heads that mean two things by what the cells show."""
    found = [_operating(column, content) for column in _states_named(found)]
    fields = {c.field for c in found}
    out = []
    for column in found:
        settle = _SETTLE.get(column.field)
        own = content[column.index]
        name = settle(own, fields, column) if settle else ""
        if column.field in _UNTOLD and own.counted >= HALF and "quantity" not in fields:
            # "6 pcs" under "Number".
            name = "quantity"
        why = f"{column.evidence}, settled by its cells"
        moved = bool(name) and name != column.field
        out.append(replace(column, field=name, evidence=why) if moved else column)
    lasts = {_last_word(c) for c in out}
    ends = {c.head.text for c in out if _last_word(c) in _ENDS}
    if {"hh", "ll"} & lasts or any(p <= lasts for p in _PAIRS):
        # High and low alarms stand beside the highest, "Min" beside "Max" is no minute.
        out = [
            replace(c, field="other", evidence=NO_FIGURE)
            if c.head.text in ends and c.field in {"", "other", "hours"}
            else c
            for c in out
        ]
    wide = {c.field for c in out if c.field.startswith("count:")}
    sure = any(c.field.startswith("count:") and _counts(content[c.index]) for c in out)
    for k, column in enumerate(out):
        if column.field.startswith("count:") and (len(wide) < 2 or not sure):
            # A lone "RTD" or "HART" column is a remark on the signal, not a count; "ED"
            # over shares is a duty.
            own = content[column.index]
            name = "duty" if own.clocked >= HALF else "other"
            # "Bus" over "48 V" and "230 V AC" says what feeds a load.
            name = "volts" if own.volts >= MOSTLY and not _has(out, "volts") else name
            out[k] = replace(column, field="signal" if own.stated > 0.5 else name)
    return out


_STATE_NO = re.compile(r"\b[01]\b|\b(?:on|off|ein|aus)\b", re.IGNORECASE)


def _states_named(found: list[ListColumn]) -> list[ListColumn]:
    """Leave "State 0" and "State 1" alone: they name the states, not the normal one."""
    stems: dict[str, list[ListColumn]] = {}
    for column in found:
        text = column.head.text
        if column.field in {"status", "normal", "text", "name"} and _STATE_NO.search(
            text
        ):
            stems.setdefault(_STATE_NO.sub("", folded(text)).strip(" -="), []).append(
                column
            )
    named = {c.index for pair in stems.values() if len(pair) > 1 for c in pair}
    return [
        replace(c, field="other", evidence=NO_FIGURE) if c.index in named else c
        for c in found
    ]


_RUNS = word_set("type duty on status state power time typical norm hours seconds")
_NO_RUNS = word_set("tag remark spare scope normal quantity text io_type signal")


def _operating(column: ListColumn, content: list[Content]) -> ListColumn:
    """Take a column of "continuous" and "standby" for how loads run, whatever its head.

    Letters are read under "duty type" or "operating mode" alone.
    """
    found = content[column.index].operations
    words = words_of(column.head.text)
    said = concepts(words)
    typed = "mode" in words or "type" in said
    short = content[column.index].letters > 0.5 and not (
        typed and said & {"duty", "power", "on", "typical"}
    )
    if column.field in _NO_RUNS or short or not found & {"continuous", "intermittent"}:
        return column
    if column.field and not (said & _RUNS or "mode" in words):
        return column
    return replace(column, field="operation", evidence="cells say how loads run")


_PAIRS = tuple(
    map(
        word_set,
        ("min max", "low high", "lo hi", "lower upper", "lrv urv", "zero span"),
    )
)
"""Heads of the two ends of a range."""
_ENDS = word_set("hh h l ll").union(*_PAIRS)


def _last_word(column: ListColumn) -> str:
    return (column.head.text.casefold().split() or [""])[-1]


def _counts(content: Content) -> bool:
    return not content.filled or content.numeric + content.flags >= 0.7


_WIRES = re.compile(r"\s*[234] ?-?w\s*", re.IGNORECASE)
"""So many wires of a loop, which are no watts where most cells say so."""


def _power(c: Content, fields: set[str], column: ListColumn) -> str:
    if c.wires >= MOSTLY and fields & {"io_type", "signal", "type"}:
        return "supply"
    if not c.filled or c.figures >= 0.4:
        return "power"
    # "Camera 12 V" under "Load" is a name where no other column is one.
    volts = c.volts >= 0.5 and not fields.isdisjoint(("name", "text", "tag"))
    fed = "tag" in fields and words_of(column.head.text)[-1:] in (["power"], ["pwr"])
    return "supply" if c.supplies >= 0.3 or volts or fed else "name"


def _named_power(c: Content, _: set[str], column: ListColumn) -> str:
    if c.ways >= 0.5 and c.numeric < 0.2:
        return "protocol"
    words = c.filled and c.figures < 0.2 and c.numeric < 0.2 and not column.head.unit
    return (
        "supply"
        if words and (c.supplies >= 0.3 or c.volts >= 0.3 or c.flags >= 0.5)
        else ""
    )


def _current(c: Content, _: set[str], __: ListColumn) -> str:
    # "Volt free / 4-20 mA" is what signals are made of, not what devices draw.
    return "detail" if c.implied >= 0.6 and c.figures < 0.6 else ""


def _port(c: Content, fields: set[str], __: ListColumn) -> str:
    return "address" if c.addresses >= 0.6 and "address" not in fields else ""


def _node(c: Content, _: set[str], column: ListColumn) -> str:
    words = set(words_of(column.head.text))
    if not c.filled or "ip" in words:
        return ""
    if c.stated >= HALF or (words == {"modbus"} and c.flags >= HALF):
        return "protocol"
    # "Modbus address" holds 1 to 247, or registers as 40001.
    return "address" if c.most > MOST_NODE or c.numeric < HALF else ""


MOST_NODE = 255
HALF = 0.5
"""Share of the cells of a column from which it counts as theirs (judgment) [fraction]."""


def _item(c: Content, fields: set[str], column: ListColumn) -> str:
    if c.running or not c.filled:
        return ""
    if c.letters > 0.9 and not fields.isdisjoint(("text", "name")):
        # Rows lettered A, B, C beside their names.
        return ""
    if c.numeric < 0.3 and c.filled:
        return "tag" if c.tags > 0.5 and "tag" not in fields else "name"
    counted = {"#", "no", "nos", "nr"} & set(words_of(column.head.text))
    if counted and "quantity" not in fields and c.unique < 0.8 and c.most <= 100:
        return "quantity"
    return ""


def _quantity(c: Content, _: set[str], __: ListColumn) -> str:
    return "item" if _numbers_rows(c) and c.filled > LEAST_NUMBERED else ""


LEAST_NUMBERED = 5
"""Rows from which 1, 2, 3 ... under a head of pieces are no accident (judgment) [count]."""


def _numbers_rows(c: Content) -> bool:
    """Return whether the cells count the rows: 1, 2, 3 ..., each once."""
    return c.running and c.unique > 0.95 and c.filled > 1


def _type(c: Content, fields: set[str], __: ListColumn) -> str:
    if c.mains >= 0.6:
        return "supply"
    if c.classes >= MOSTLY and "direction" not in fields:
        return "direction"
    if c.data_types >= 0.4:
        return "data_type"
    if c.stated >= 0.3 or c.implied >= 0.5:
        return "io_type"
    return "other" if c.filled else ""


def _signal(c: Content, fields: set[str], column: ListColumn) -> str:
    said = concepts(words_of(column.head.text))
    if "text" in said and max(c.stated, c.implied, c.numeric) < 0.3:
        # "Signal name" over words is the service, and its kind stands elsewhere.
        return "text"
    if c.tags >= MOSTLY and not max(c.stated, c.implied) and "tag" not in fields:
        return "tag"
    counted = said & {"number", "quantity"}
    if not counted or c.numeric < 0.9:
        return ""
    # "Signal No." numbers the signals, "No. of signals" and "Signal qty" count them.
    counts = "quantity" in said or "of" in words_of(column.head.text)
    rows = _numbers_rows(c) and (c.filled > LEAST_NUMBERED or not counts)
    if rows or not (counts or c.unique < 0.8):
        return "item"
    return "quantity" if "quantity" not in fields else ""


def _status(c: Content, _: set[str], __: ListColumn) -> str:
    if c.fails >= 0.5:
        return "fail"
    return "normal" if c.states > max(c.statuses, 0.3) else ""


def _scope(c: Content, _: set[str], __: ListColumn) -> str:
    return "" if c.flags >= 0.6 or not c.filled else "remark"


def _spare(c: Content, _: set[str], __: ListColumn) -> str:
    return "" if c.flags >= 0.3 or not c.filled or c.statuses >= 0.5 else "other"


def _protocol(c: Content, fields: set[str], __: ListColumn) -> str:
    # "Hardwired AI" beside "Modbus" states the kind too.
    if c.cards >= HALF and "io_type" not in fields:
        return "io_type"
    # "Interface" over contacts, relays and 4-20 mA is of signals.
    wired = c.implied - c.cards >= HALF and not fields & {"io_type", "signal"}
    return "signal" if wired else ""


def _supply(c: Content, fields: set[str], __: ListColumn) -> str:
    if c.cards >= HALF and "io_type" not in fields:
        return "io_type"
    return "protocol" if c.ways >= 0.5 and "protocol" not in fields else ""


def _text(c: Content, fields: set[str], __: ListColumn) -> str:
    if c.filled and c.running:
        return "item"
    # "Nombre" is a name in one language and a number in another.
    return "quantity" if c.filled and c.pieces and "quantity" not in fields else ""


def _other(c: Content, fields: set[str], column: ListColumn) -> str:
    said = concepts(words_of(column.head.text))
    if "document" in said and (c.outs or ("status" in said and c.numeric < 0.5)):
        # "Revision status" with "Deleted rev C" in a cell tells what became of a row.
        return "status" if "status" not in fields else "remark"
    told = not fields.isdisjoint(("io_type", "signal", "type"))
    if told and c.implied >= 0.5 and "detail" not in fields:
        # "Range" with "4-20 mA" and "Pt100" in its cells is part of the signal.
        return "detail"
    # "Rev" with A and C in its cells holds no amperes.
    named = _UNIT_HEADS.intersection(words_of(column.head.text))
    if named and not column.head.unit and c.pieces and "quantity" not in fields:
        return "quantity"
    if named and c.units >= 0.6 and c.filled:
        return "unit"
    # "Each" and "m" under "Unit" beside descriptions are no names.
    pieces = column.field == "name" and named == set(words_of(column.head.text))
    return "other" if pieces and "text" in fields else ""


def _group(c: Content, fields: set[str], column: ListColumn) -> str:
    if c.classes >= MOSTLY and "direction" not in fields:
        return "direction"
    return _other(c, fields, column) if c.implied >= 0.5 else ""


_UNIT_HEADS = word_set("unit units uom eu einheit einheiten unidad unidades unite")


def _price(c: Content, fields: set[str], column: ListColumn) -> str:
    # "Amount" is money beside a quantity, else pieces.
    amount = words_of(column.head.text) == ["amount"] and "quantity" not in fields
    return "quantity" if amount and c.pieces else ""


def _hours(_: Content, fields: set[str], column: ListColumn) -> str:
    # "Delay [s]" and "Backup [h]" are no times on: a word that nobody knows is asked.
    head, words = column.head, words_of(column.head.text)
    sure = head.per or head.mode or fields & {"cycles", "interval", "days"}
    if sure or all(map(known, words)) or words == ["t", head.unit]:
        return ""
    said = concepts([w for w in words if len(w) > 2])
    if head.unit in SHORT_UNITS:
        return "" if said & {"duty", "on"} else "other"
    return "" if said & {"duty", "on", "time", "hours"} else "other"


def _share(c: Content, fields: set[str], __: ListColumn) -> str:
    return "other" if not c.filled or "duty" in fields else ""


_SETTLE = {
    "power?": _power,
    "power": _named_power,
    "current": _current,
    "port": _port,
    "item": _item,
    "node": _node,
    "quantity": _quantity,
    "type": _type,
    "status": _status,
    "signal": _signal,
    "scope": _scope,
    "spare": _spare,
    "text": _text,
    "supply": _supply,
    "share": _share,
    "price": _price,
    "protocol": _protocol,
    "hours": _hours,
    "other": _other,
    "group": _group,
    "name": _other,
}


_TELLING = {"io_type", "signal", "data_type", "direction"}


def _has(found: list[ListColumn], *fields: str) -> bool:
    return any(c.field in fields for c in found)


def _unnamed(found: list[ListColumn], content: list[Content]) -> list[ListColumn]:
    """Take columns whose heads say nothing where their cells read as signals."""
    blank = [
        k for k, c in enumerate(found) if not c.head.text and not content[k].filled
    ]
    used = [c.index for c in found if c.field]
    out = list(found)
    first_text = next((k for k, c in enumerate(found) if c.field == "text"), -1)
    told = any(c.field in _TELLING or c.field.startswith("count:") for c in found)
    for k, column in enumerate(found):
        c = content[k]
        spare = column.field in {"other", "text"} and k != first_text
        if not told and spare and c.stated >= 0.8:
            # The card of a channel states its kind where nothing else does.
            share = f"{round(c.stated * c.filled):,} of {count(c.filled, 'cell')} read as signals"
            out[k] = replace(column, field="signal", evidence=share)
        if column.field or c.filled < 2:
            continue
        if any(any(u < b < k for u in used) for b in blank):
            # Beyond an empty column stand helper lists, not columns of the table.
            continue
        name, why = _by_cells(column, c, out)
        if name:
            out[k] = replace(column, field=name, evidence=why)
    return out


def _by_cells(
    column: ListColumn, c: Content, found: list[ListColumn]
) -> tuple[str, str]:
    """Return what the cells of a column show that its head does not say, and why."""
    draws = _has(found, "power", "current")
    tagged = _has(found, "tag") and not _has(found, *_TELLING)
    often = "interval" in concepts(words_of(column.head.text))
    words_only = _has(found, "hours", "duty") and c.clocked < HALF
    read = (
        ("power", "cells read as powers", column.head.mode and c.drawn >= 0.5),
        ("supply", "cells say AC or DC", c.mains >= 0.6 and draws),
        ("interval", "cells read as times", c.clocked >= HALF and draws and often),
        ("hours", "cells read as times", c.times >= 0.5 and draws and not words_only),
        (
            "power",
            "cells read as powers",
            c.figures - c.numeric >= 0.6 and not (draws or _has(found, "io_type")),
        ),
        (
            "signal",
            f"{round(c.stated * c.filled):,} of {count(c.filled, 'cell')} read as signals",
            c.stated >= 0.6,
        ),
        (
            "signal" if tagged else "detail",
            "cells read as kinds of signal",
            c.implied >= 0.6 and c.numeric < 0.3,
        ),
        (
            "tag",
            f"{in_unit(100 * c.tags, '%')} of the cells look like tags",
            c.tags >= 0.7 and not _has(found, "tag"),
        ),
    )
    return next(((name, why) for name, why, holds in read if holds), ("", ""))


_AT_WORK = (
    word_set("operating running duty working online betrieb servicio marcha"),
    word_set("installed fitted installiert instalado installe"),
)
_RESTING = _AT_WORK[1] | word_set("standby reserve bereitschaft reserva")
"""Words for pieces that run, else for those that are there (common practice, no source)."""


def _named(found: list[ListColumn], content: list[Content]) -> list[ListColumn]:
    """Take the first column that does not number rows for the name, where none is one."""
    items = {c.index for c in found if c.field == "item" and content[c.index].running}
    named = (k for k, c in enumerate(content) if c.filled and k not in items)
    first = next(named, 0)
    if found and not _has(found, "tag", "name", "text", "detail", "address"):
        words = content[first].numeric < 0.3
        if words and not found[first].field and _has(found, "power", "current"):
            why = f"first column, '{found[first].head.text}'"
            found[first] = replace(found[first], field="name", evidence=why)
    return found


def _pieces_at_work(
    found: list[ListColumn], content: list[Content]
) -> list[ListColumn]:
    """Take the pieces that run, or are installed, where no column is the quantity."""
    if any(c.field == "quantity" for c in found):
        return found
    for words in _AT_WORK:
        for k, column in enumerate(found):
            c, said = content[k], set(words_of(column.head.text))
            if column.head.unit or c.numeric < 0.9 or c.most > MOST_PIECES:
                continue
            if column.field in {"", "other"} and said.intersection(words):
                why = f"head '{column.head.text}', whole numbers"
                found[k] = replace(column, field="quantity", evidence=why)
                return [_at_rest(c) for c in found]
    return found


def _at_rest(column: ListColumn) -> ListColumn:
    """Leave pieces alone that stand by, or are there, beside those that run."""
    said = set(words_of(column.head.text))
    if column.field not in {"", "other"} or column.head.unit or not said & _RESTING:
        return column
    return replace(column, field="other", evidence=NO_FIGURE)


def _per_unit(found: list[ListColumn], content: list[Content]) -> list[ListColumn]:
    """Take "No. of wells" as times where the quantity is "per well"."""
    for j, column in enumerate(list(found)):
        per = _PER.search(column.head.text.lower())
        if not per or column.field not in _COUNTED or content[j].numeric < 0.9:
            continue
        unit = per.group(1).removesuffix("s")
        for k, other in enumerate(found):
            said = [w.removesuffix("s") for w in words_of(other.head.text)]
            counts = (
                not _PER.search(other.head.text.lower()) and content[k].numeric >= 0.9
            )
            if k != j and unit in said and counts and other.head.share != "total":
                why = f"head '{other.head.text}', times the quantity"
                found[k] = replace(other, field="times", evidence=why)
                found[j] = replace(found[j], field="quantity")
    return found


_PER = re.compile(r"(?:\bper\b|/)\s*([a-z]{3,})")
"""What a quantity is of: "Qty per well", "Qty / well"."""
_COUNTED = word_set("quantity other io_type") | {""}


def _products(columns: Columns, sample: list[Row]) -> None:
    """Leave totals alone that are pieces times packages, or points times pieces."""
    pieces = columns.of("quantity", "times")
    counts = [c for c in columns.all if c.field.startswith("count:")]
    for column in columns.all if pieces or counts else ():
        if column.field not in {"", "other"} or column.head.share != "total":
            continue
        said = _numbers_of(column, sample)
        if counts and not columns.of("quantity", "times"):
            sums = zip(*(_numbers_of(c, sample) for c in counts), strict=True)
            if said == [sum(n) for n in sums]:
                columns.put(replace(column, field="other", evidence=NO_INPUT))
            continue
        for first in ([], *([c] for c in counts)):
            factors = [_numbers_of(c, sample) for c in (*first, *pieces)]
            products = [math.prod(n) for n in zip(*factors, strict=True)]
            stated = [
                (a, b)
                for a, b, own in zip(
                    said, products, _numbers_of(pieces[0], sample), strict=True
                )
                if own
            ]
            if len(factors) > 1 and stated and all(a == b for a, b in stated):
                columns.put(replace(column, field="other", evidence=NO_INPUT))
                columns.twins = [c for c in columns.twins if c.index != column.index]
                break


def _cycle_time(columns: Columns, sample: list[Row]) -> None:
    """Take "Cycle time" beside an on-time that is never longer for what it comes again after."""
    times = [c for c in columns.of("hours") if not c.head.mode]
    whole = [c for c in times if c.head.per == "cycle"]
    on = [c for c in times if not c.head.per]
    if not (len(whole) == len(on) == 1) or columns.of("cycles", "interval"):
        return
    pairs = zip(_numbers_of(on[0], sample), _numbers_of(whole[0], sample), strict=True)
    units = [UNITS[c.head.unit][1] for c in (*on, *whole) if c.head.unit in SHORT_UNITS]
    if len(units) == 2 and all(a * units[0] <= b * units[1] for a, b in pairs):
        why = "the on-time beside it is a part of it"
        columns.put(replace(whole[0], field="interval", evidence=why))


def _time_units(columns: Columns, sample: list[Row]) -> None:
    """Take a column of "h/d" and "min/h" right of a time for its unit, row by row."""
    for column in columns.all[1:]:
        left = columns.all[column.index - 1]
        cells = (row[column.index] for row in sample if column.index < len(row))
        units = [c for c in cells if isinstance(c, str) and c not in DASHES]
        named = _UNIT_HEADS.intersection(words_of(column.head.text))
        timed = left.field in {"hours", "duty"} and not left.head.unit
        if named and timed and units and all(on_share(f"1 {u}") for u in units):
            columns.put(replace(column, field="time_unit", evidence="units of time"))


MOST_OF = 0.9
"""Share of the cells of a column that are numbers where it counts pieces (judgment)."""


def _numbers_of(column: ListColumn, sample: list[Row]) -> list[float]:
    cells = (row[column.index] if column.index < len(row) else None for row in sample)
    return [cell_number(cell) or 0.0 for cell in cells]


def _duty_pieces(columns: Columns, content: list[Content], sample: list[Row]) -> None:
    """Take "Duty" for pieces where pieces that stand by, or are installed, stand beside it.

    Of "Qty 2, Duty 1, Standby 1" one runs; each row has to add up.
    """
    pieces = [
        c
        for c in columns.all
        if content[c.index].numeric >= MOST_OF
        and content[c.index].most <= MOST_PIECES
        and not c.head.unit
        and all(n == int(n) for n in _numbers_of(c, sample))
    ]
    said = {c.index: set(words_of(c.head.text)) for c in pieces}
    duty = [c for c in pieces if said[c.index] & _AT_WORK[0] and c.field != "quantity"]
    rest = [c for c in pieces if said[c.index] & _RESTING and c not in duty]
    if len(duty) != 1 or len(rest) != 1 or columns.twins:
        return
    runs, rests = (_numbers_of(c, sample) for c in (duty[0], rest[0]))
    there = [c for c in columns.of("quantity") if c is not rest[0]]
    sums = [a + b for a, b in zip(runs, rests, strict=True)]
    installed = bool(said[rest[0].index] & _AT_WORK[1])
    fits = all(a <= b for a, b in zip(runs, rests, strict=True)) if installed else True
    if not fits or any(_numbers_of(c, sample) not in (sums, rests) for c in there):
        return
    for column in (*there, rest[0]):
        columns.put(replace(column, field="other", evidence=NO_FIGURE))
    columns.put(replace(duty[0], field="quantity", evidence="pieces that run"))


def _by_operation(columns: Columns, sample: list[Row]) -> None:
    """Take watts under "Continuous", "Intermittent" and "Standby" for how each row runs.

    Each row fills one of them; rated watts beside them are the highest.
    """
    _by_letter(columns)
    powers = columns.of("power", "current")
    found = {c.index: _runs(c.head.text) for c in powers}
    ways = {k: name for k, name in found.items() if name}
    rows = (r for r in sample if not any(isinstance(c, str) and is_total(c) for c in r))
    filled = (sum(bool(row[k]) for k in ways if k < len(row)) for row in rows)
    sure = "continuous" in ways.values() and len(set(ways.values())) > 1
    if not sure or any(n > 1 for n in filled):
        return
    columns.runs = ways
    if _sums_of_group(columns, powers, sample):
        for column in powers:
            if column.index in ways:
                columns.put(replace(column, field="other", evidence=NO_INPUT))
        return
    for column in powers:
        rated = column.index not in ways and _RATED & set(words_of(column.head.text))
        reading = "maximum" if rated else column.head.reading
        reading = "typical" if column.index in ways else reading
        head = replace(column.head, mode="", reading=reading)
        columns.put(replace(column, head=head))


def _sums_of_group(
    columns: Columns, powers: list[ListColumn], sample: list[Row]
) -> bool:
    """Return whether watts by how rows run are those of one column, pieces in it or not."""
    own = [c for c in powers if c.index not in columns.runs]
    if len(own) != 1:
        return False
    pieces = columns.first("quantity")
    groups = [c for c in powers if c.index in columns.runs]
    found = []
    for row in sample:
        rows = [_factors(row, own[0], c, pieces, None) for c in groups]
        found += [r for r in rows if r is not None and r[1]]
    ways = (all(_near(w, e * (n if k else 1)) for e, w, n, _ in found) for k in (0, 1))
    return len(found) >= LEAST_ROWS and any(ways)


def _by_letter(columns: Columns) -> None:
    """Read C, I and S under one head of power as continuous, intermittent and standby."""
    said: dict[str, list[ListColumn]] = {}
    for column in columns.all:
        group, _, letter = column.head.text.rpartition(" | ")
        if group and letter.strip() in {"C", "I", "S"}:
            said.setdefault(group, []).append(column)
    for group, same in said.items():
        head = read_head(group)
        if head.field not in {"power", "current"} or len(same) < 2:
            continue
        for column in same:
            own = replace(head, text=column.head.text)
            columns.put(replace(column, head=own, field=head.field, evidence=group))


def _runs(head: str) -> str:
    """Return how loads run by the lowest words of a head without its unit [text]."""
    group, _, last = head.rpartition(" | ")
    if group and last.strip() in {"C", "I", "S"}:
        return operation(last)
    words = [w for w in words_of(last) if len(w) > MOST_UNIT]
    return operation(" ".join(w for w in words if concepts([w]) != {"power"}))


MOST_UNIT = 2
"""Letters up to which a word of a head may be its unit [count]."""


LEAST_ROWS = 3
"""Rows from which products in a column are no accident (judgment) [count]."""


_RATED = word_set("rated nominal nom nenn")
_ABSORBED = word_set("absorbed aufgenommen absorbida absorbee running operating actual")
"""Words of a power that a plate bears, and of what is drawn (common practice, no source)."""


def _rated_beside(columns: Columns) -> None:
    """Take the rated power for the highest where what is drawn stands beside it."""
    powers = columns.of("power", "current")
    said = {c.index: set(words_of(c.head.text)) for c in powers}
    if not any(words & _ABSORBED for words in said.values()):
        return
    for column in powers:
        words = said[column.index]
        if (
            words & _RATED
            and not words & _ABSORBED
            and column.head.reading == "typical"
        ):
            columns.put(replace(column, head=replace(column.head, reading="maximum")))


_RADIATED = word_set("rf radiated erp eirp")
_DELIVERED = word_set("output out delivered abgegeben salida")
_TAKEN = word_set("input in supply consumption consumed absorbed aufgenommen entrada")
"""Words of a power that leaves a device, and of what it takes (common practice, no source)."""


def _delivered(columns: Columns) -> None:
    """Leave alone what a device radiates, and what it delivers beside what it takes."""
    powers = columns.of("power", "current")
    said = {c.index: set(words_of(c.head.text)) for c in powers}
    taken = any(words & _TAKEN for words in said.values())
    modes = {c.head.mode for c in powers} - {""}
    for column in powers:
        words = said[column.index]
        # "Transmit power" beside the current of the supply is what goes on the air.
        sent = column.head.mode == "transmit" and modes == {"transmit"}
        gone = words & _RADIATED or (taken and (sent or words & _DELIVERED))
        if gone and not words & _TAKEN and len(powers) > 1:
            columns.put(replace(column, field="other", evidence=NO_INPUT))


MAKES_WATTS = "makes the watts that the sheet states"
"""Why a factor counts as a share of time."""


def _worked_out(columns: Columns, sample: list[Row]) -> None:
    """Tell columns of power that are worked out of the first: times pieces, times duty.

    "Connected" watts are then those of the whole row, and an "average" is not read: the
    duty is counted with the watts.  Every row has to agree.
    """
    powers = columns.of("power")
    pieces = columns.first("quantity") or _makes_totals(columns, powers, sample)
    duty = columns.first("duty", "diversity")
    for column in powers[1:]:
        rows = [_factors(row, powers[0], column, pieces, duty) for row in sample]
        found = [row for row in rows if row is not None]
        if len(found) < LEAST_ROWS:
            continue
        if all(_near(said, each * n) for each, said, n, _ in found):
            if sum(n != 1 for _, _, n, _ in found) > 1:
                head = replace(column.head, share="total", reading="")
                columns.put(replace(column, head=head))
        elif any(
            all(
                _near(said, each * (n if times else 1) * on * unit)
                for each, said, n, on in found
            )
            for unit in (1, 0.01)
            for times in (True, False)
        ):
            columns.put(replace(column, field="other", evidence=NO_INPUT))
            mean = _MEAN.search(column.head.text.lower())
            if duty is not None and duty.field == "diversity":
                # A factor that makes the mean of the load is a share of time.
                untimed = not columns.of("duty", "hours", "cycles", "interval")
                why = "makes the mean" if mean else MAKES_WATTS
                if mean or untimed:
                    columns.put(replace(duty, field="duty", evidence=why))


def _means(columns: Columns) -> None:
    """Take averages beside the power of a load for its energy, not for its power."""
    for column in columns.of("diversity"):
        if _MEAN.search(column.head.text.lower()) and not columns.of("duty", "hours"):
            columns.put(replace(column, field="duty", evidence="an average"))
    powers = columns.of("power", "current")
    plain = [c for c in powers if c.head.reading != "maximum" and not c.head.mode]
    by_mode = [c for c in powers if c.head.mode]
    means = [c for c in plain if _MEAN.search(c.head.text.lower())]
    # Beside powers by mode an average is that of the modes.
    for column in means if by_mode or len(means) < len(plain) else ():
        columns.put(replace(column, field="mean", evidence="an average"))


_MEAN = re.compile(r"\bav(?:g|erage)|\bmean|mittel|promedio|moyen|medi[ao]")


def _makes_totals(
    columns: Columns, powers: list[ListColumn], sample: list[Row]
) -> ListColumn | None:
    """Take the column by which watts of a piece make those of a row for the quantity."""
    totals = [c for c in powers if c.head.share == "total"]
    each = [c for c in powers if c.head.share != "total"]
    if not (totals and each):
        return None
    for column, own in zip(columns.all, columns.content, strict=True):
        if column.field not in {"", "other", "item"} or not own.pieces:
            continue
        rows = [_factors(row, each[0], totals[0], column, None) for row in sample]
        found = [row for row in rows if row is not None]
        made = all(_near(said, one * n) for one, said, n, _ in found)
        if made and sum(n != 1 for _, _, n, _ in found) > 1:
            why = "makes the watts of the row"
            columns.put(replace(column, field="quantity", evidence=why))
            return columns.first("quantity")
    return None


def _factors(
    row: Row,
    each: ListColumn,
    said: ListColumn,
    pieces: ListColumn | None,
    duty: ListColumn | None,
) -> tuple[float, float, float, float] | None:
    """Return watts of one piece, watts said, pieces and duty of a row that states all."""
    found = []
    for column in (each, said, pieces, duty):
        cell = row[column.index] if column and column.index < len(row) else None
        number = cell_number(cell) if column else 1.0
        if number is None:
            return None
        found.append(number)
    units = [UNITS[c.head.unit][1] if c.head.unit else 1.0 for c in (each, said)]
    return found[0] * units[0], found[1] * units[1], found[2], found[3]


def _near(a: float, b: float) -> bool:
    return abs(a - b) <= 0.01 * max(abs(a), abs(b))


def _either_count(columns: Columns) -> None:
    """Keep the counts of one unit, or the totals: "AI" and "Total AI" say one thing twice."""
    counts = [c for c in columns.all if c.field.startswith("count:")]
    totals = [c for c in counts if c.head.share == "total"]
    each = [c for c in counts if c.head.share == "each"]
    if each and not totals and len(each) < len(counts):
        # Beside "AI/each" a plain "AI" is that of all pieces.
        totals = [c for c in counts if c.head.share != "each"]
    out = totals if len(totals) < len(counts) else columns.of("quantity")
    if out is totals:
        columns.totals = {c.index: c.field.removeprefix("count:") for c in totals}
    for column in out if totals else []:
        columns.put(replace(column, field="other"))


def _beside_units(found: list[ListColumn], content: list[Content]) -> list[ListColumn]:
    """Take the numbers left of a column of W, kW or A for the power, where no head names one."""
    if any(c.field in {"power", "current", "power?"} for c in found):
        return found
    for k, column in enumerate(found[1:], start=1):
        left, c = found[k - 1], content[k - 1]
        units = column.field == "unit" and content[k].powers >= 0.6
        if units and c.numeric >= 0.6 and left.field in {"", "other", "name"}:
            why = f"numbers beside the units of {column.letter}"
            found[k - 1] = replace(left, field="power", evidence=why)
    return found


def _one_each(columns: Columns, content: list[Content]) -> None:
    """Keep one column of a meaning that a row has once; the others are named."""
    for name in (
        "tag",
        "quantity",
        "item",
        "text",
        "name",
        "address",
        "status",
        "volts",
        "energy",
    ):
        same = columns.of(name)
        if len(same) < 2:
            continue
        best = max(same, key=lambda c: _merit(name, c, content[c.index]))
        for column in same:
            if column is not best:
                other = (
                    "remark"
                    if name == "status"
                    else "name"
                    if name == "text"
                    else "other"
                )
                columns.put(replace(column, field=other))
                loop = set(words_of(column.head.text)) <= _LOOP
                if loop or not content[column.index].filled:
                    continue
                if name in {"quantity", "tag"}:
                    columns.twins.append(column)


_LOOP = word_set("loop no nr number id lazo")
"""Words of the number of a loop, which several signals share."""


def _merit(name: str, column: ListColumn, c: Content) -> tuple[float, ...]:
    if name == "tag":
        loop = set(words_of(column.head.text)) <= _LOOP
        return (not loop, round(c.tags, 1), c.unique, -column.index)
    if name == "quantity":
        return (c.filled > 0, -len(column.head.text), -column.index)
    return (c.filled > 0, -column.index)


def _several(
    columns: Columns, content: list[Content], sample: list[Row]
) -> list[ListColumn]:
    """Return the columns of which each cell is a point of its own.

    Numbered heads ("Signal 1", "Feedback 2") and unnamed columns of signals are points
    of their own; "I/O type" beside "Signal type" says one thing twice.
    """
    stated = [
        c
        for c in columns.of("io_type", "signal")
        if content[c.index].stated >= 0.5 or (content[c.index].implied >= 0.5)
    ]
    if len(stated) < 2:
        return []
    stems: dict[str, list[ListColumn]] = {}
    for column in stated:
        stem = re.sub(
            r"\b[a-d0-9]\b|\d+", "", folded(column.head.text).replace(".", " ")
        ).strip()
        stems.setdefault(stem, []).append(column)
    numbered = [c for group in stems.values() if len(group) > 1 for c in group]
    unnamed = [c for c in stated if not c.head.field]
    chosen = {c.index: c for c in (*numbered, *unnamed)}
    if len(chosen) < 2 and unnamed:
        # One further column of signals: several points where the two disagree.
        other = [c for c in stated if c.index not in chosen]
        if other and _disagree(sample, unnamed[0].index, other[0].index):
            chosen[other[0].index] = other[0]
    return sorted(chosen.values(), key=lambda c: c.index) if len(chosen) > 1 else []


def _disagree(sample: list[Row], a: int, b: int) -> bool:
    both = [
        (signals.read_signal(str(r[a])), signals.read_signal(str(r[b])))
        for r in sample
        if len(r) > max(a, b) and r[a] is not None and r[b] is not None
    ]
    differ = sum(x.kinds != y.kinds for x, y in both if x.stated and y.stated)
    return differ > 0.2 * max(1, len(both))
