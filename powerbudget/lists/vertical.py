"""Sheets without heads that go down the page: label, value, unit, device by device."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import NamedTuple

from powerbudget.lists.cells import ClientSheet, Row
from powerbudget.lists.figures import cell_number
from powerbudget.lists.heads import UNITS, spelt
from powerbudget.lists.questions import Questions
from powerbudget.lists.rows import AC_FROM_V, ListedLoad
from powerbudget.lists.schedule_words import SWITCHED
from powerbudget.lists.status import is_total
from powerbudget.lists.words import (
    concepts,
    folded,
    known,
    mode_of,
    word_set,
    words_of,
)
from powerbudget.quantities import plain

_NO_LOAD = re.compile(
    r"\bbatter|\bakku|\bresult|\bsolar|\bpanel|\barray|\bautonom|\bsummary|\bergebnis|\bresultado|"
    r"\bbateria|\bsite\b|\blocation|\bassumption|\bconvert|\binverter|\bcontroller efficiency|"
    r"\bgenerat|\bweather"
)


_VALUED = re.compile(r"\s*([\d.,]+)\s*([A-Za-zµ%/]+.*)")
MOST_ACROSS = 4
"""Cells of a line of a vertical sheet: label, value, unit, remark [count]."""


class ValueLine(NamedTuple):
    """One line with a value: its row from 0, label, value and unit as written."""

    at: int
    label: str
    value: float
    unit: str


@dataclass
class Block:
    """One device of a vertical sheet."""

    name: str
    row: int
    quantity: float = 1.0
    volts: float = 0.0
    share: float = 1.0
    powers: dict[str, float] = field(default_factory=dict)
    amps: dict[str, float] = field(default_factory=dict)
    times: dict[str, float] = field(default_factory=dict)
    inrush: dict[str, float] = field(default_factory=dict)
    power_row: int = 0
    ac: bool = False
    daily: bool = False
    unread: str = ""
    cycles: float = 0.0
    passed: list[ValueLine] = field(default_factory=list)

    def watts(self) -> dict[str, float]:
        """Return the power of each mode; currents without a voltage are left out [W]."""
        amps = {m: a * self.volts for m, a in self.amps.items() if self.volts}
        return amps | self.powers

    def mean_w(self, powers: dict[str, float]) -> float:
        """Return the power of one piece averaged over the day [W]."""
        if self.cycles:
            # Times of a device that starts so often a day are those of one start.
            often = {m: t * self.cycles for m, t in self.times.items()}
            self.times, self.cycles = often, 0.0
        timed = {m: t for m, t in self.times.items() if m in powers}
        untimed = [watts for m, watts in powers.items() if m not in timed]
        mean = sum(powers[m] * t for m, t in timed.items())
        if len(powers) == 1 and self.times:
            return max(powers.values()) * sum(self.times.values()) * self.share
        rest = max(0.0, 1 - sum(timed.values()))
        return (mean + rest * max(untimed, default=0.0)) * self.share


@dataclass
class VerticalResult:
    """What a vertical sheet became."""

    loads: list[ListedLoad] = field(default_factory=list)
    classes: dict[int, str] = field(default_factory=dict)
    totals: list[tuple[int, str, list[tuple[str, float]]]] = field(default_factory=list)
    contingency: list[tuple[int, str, float | None]] = field(default_factory=list)


def _parts(row: Row, comma: bool | None) -> tuple[str, float | None, str]:
    """Return label, value and unit of a row."""
    cells = [cell for cell in row if cell is not None]
    if not cells or not isinstance(cells[0], str) or cell_number(cells[0]) is not None:
        return "", None, ""
    label = cells[0].rstrip(": ")
    for place, cell in enumerate(cells[1:], start=1):
        number = cell_number(cell, comma=comma)
        if number is not None:
            after = cells[place + 1] if place + 1 < len(cells) else ""
            unit = str(after) if isinstance(after, str) else ""
            inside = re.search(r"[\[(]\s*([^\])]+)[\])]", label)
            return label, number, unit or (inside.group(1) if inside else "")
        if isinstance(cell, str):
            match = _VALUED.fullmatch(cell)
            value = cell_number(match.group(1), comma=comma) if match else None
            if match and value is not None:
                return label, value, match.group(2)
    return label, None, ""


def is_vertical(sheet: ClientSheet, comma: bool | None) -> bool:
    """Return whether most rows of a sheet are a label, a value and a unit."""
    rows = [row for row in sheet.rows if any(c is not None for c in row)]
    wide = sum(
        len(row) - row.count(None) > MOST_ACROSS
        or sum(cell_number(c, comma=comma) is not None for c in row) > 1
        or sum(isinstance(c, str) and bool(_VALUED.fullmatch(c)) for c in row) > 1
        for row in rows
    )
    if wide > 0.3 * len(rows):
        return False
    if not 3 <= len(rows) <= 3000:
        return False
    parted = [_parts(row, comma) for row in rows]
    valued = [p for p in parted if p[1] is not None]
    units = [p for p in valued if _unit(p[2])]
    powers = [p for p in units if UNITS[_unit(p[2])][0] in {"power", "current"}]
    return len(units) >= 3 and len(valued) >= 0.5 * len(rows) and len(powers) >= 1


def _unit(text: str) -> str:
    return spelt(re.split(r"[\s/]", text.strip())[0]) if text.strip() else ""


def read_vertical(
    sheet: ClientSheet, asked: Questions, *, comma: bool | None
) -> VerticalResult:
    """Return the loads of a vertical sheet, block by block."""
    return _VerticalReader(sheet, asked, comma).read()


class _VerticalReader:
    """Reads one vertical sheet, section by section.

    The lines of a section are one device; where their labels name several that draw, and
    before the first section, each line belongs to the device that it names.
    """

    def __init__(
        self, sheet: ClientSheet, asked: Questions, comma: bool | None
    ) -> None:
        self._sheet, self._asked, self._comma = sheet, asked, comma
        self._result = VerticalResult()
        self._title: Block | None = None
        self._lines: list[ValueLine] = []
        self._volts = 0.0

    def read(self) -> VerticalResult:
        for index, row in enumerate(self._sheet.rows):
            self._result.classes[index] = self._row(index, row)
        self._section()
        return self._result

    def _row(self, index: int, row: Row) -> str:
        label, value, unit = _parts(row, self._comma)
        if not any(cell is not None for cell in row):
            return "blank"
        if not label:
            return "ignored"
        if value is not None:
            return self._take(ValueLine(index, label, value, unit))
        if index == 0 and not self._valued(self._sheet.rows[1:]):
            return "title"
        said = [str(cell) for cell in row if cell is not None]
        if len(said) > 1:
            return self._unread(index, label, said[1])
        self._section()
        self._title = Block(label, index + 1)
        return "section"

    def _valued(self, rows: list[Row]) -> bool:
        """Return whether the next row that is not blank has a value."""
        for row in rows:
            if any(cell is not None for cell in row):
                return _parts(row, self._comma)[1] is not None
        return False

    def _unread(self, index: int, label: str, said: str) -> str:
        """Return the class of a line whose value is no figure; a power is asked."""
        block = self._title
        if block is None or not {"power", "current"} & concepts(words_of(label)):
            return "note"
        block.unread = f"{block.name} ('{said[:30]}')"
        block.power_row = index
        return "value"

    def _take(self, line: ValueLine) -> str:
        """Keep one line for its section and return its class."""
        kind, factor = UNITS.get(_unit(line.unit), ("", 1.0))
        if kind == "energy" or is_total(line.label):
            totals = (line.at + 1, line.label, [("energy", line.value * factor)])
            self._result.totals.append(totals)
            return "total"
        if kind == "share" and "contingency" in concepts(words_of(line.label)):
            stated = (line.at + 1, line.label, line.value * factor)
            self._result.contingency.append(stated)
            return "total"
        if self._title is not None and _NO_LOAD.search(folded(self._title.name)):
            return "total" if _unit(line.unit) == "d" else "setting"
        plain = folded(line.label)
        if _NO_LOAD.search(plain) and not SWITCHED.search(plain):
            return "setting"
        self._lines.append(line)
        return "value"

    # --- sections ---

    def _section(self) -> None:
        """Make the loads of the lines since the last heading."""
        lines, title = self._lines, self._title
        self._lines, self._title = [], None
        drawing = {
            _device(x.label)
            for x in lines
            if UNITS.get(_unit(x.unit), ("",))[0] in {"power", "current"}
        }
        if title is not None and len(drawing - {""}) < 2:
            for line in lines:
                self._put(title, line)
            self._finish(title)
            return
        for block in self._named(lines):
            self._finish(block)

    def _named(self, lines: list[ValueLine]) -> list[Block]:
        """Return the devices that labels name; a line that names none is of the last."""
        blocks: dict[str, Block] = {}
        last: Block | None = None
        for line in lines:
            name, kind = _device(line.label), UNITS.get(_unit(line.unit), ("",))[0]
            of_all = last is None or _OF_ALL & set(words_of(line.label))
            if kind == "volts" and not name and of_all:
                self._volts = self._volts or line.value
                continue
            stroke = kind == "time" and last is not None and last.cycles
            if (not name or (name not in blocks and stroke)) and last is not None:
                self._put(last, line)
                continue
            if not name:
                name = folded(line.label)
            if name not in blocks:
                blocks[name] = Block(_written(line.label), line.at + 1)
            last = blocks[name]
            self._put(last, line)
        return list(blocks.values())

    def _put(self, block: Block, line: ValueLine) -> None:
        """Put the value of a line into its block, and note what nothing is made of."""
        kind, factor = UNITS.get(_unit(line.unit), ("", 1.0))
        # "min/h" says what the time belongs to as "time per hour" does.
        per = f" per {line.unit.rpartition('/')[2]}" if "/" in line.unit else ""
        if not _put(block, line.label + per, line.value * factor, kind, line.at):
            block.passed.append(line)
        block.ac = block.ac or (kind == "volts" and "ac" in line.unit.lower())

    def _finish(self, block: Block) -> None:
        """Make the load of a block, if it has a power."""
        block.volts = block.volts or self._volts
        name = self._sheet.name
        if block.amps and not block.volts and not block.unread:
            self._asked.ask("power-no-volts", name, block.row, block.name)
            block.unread, block.power_row = block.name, block.row - 1
            self._unknown(block, "no-volts")
            return
        powers = block.watts()
        top = powers.pop("maximum", None)
        if not powers and top is not None:
            powers[""] = top
        for line in block.passed:
            said = f"{line.label} {line.value:g} {line.unit}".rstrip()
            self._asked.ask("line-unread", name, line.at + 1, f"'{said}'")
        if not powers:
            if block.unread:
                self._asked.ask(
                    "power-unreadable", name, block.power_row + 1, block.unread
                )
                self._unknown(block, "unreadable")
            return
        self._made(block, powers, top)

    def _made(self, block: Block, powers: dict[str, float], top: float | None) -> None:
        pieces = max(1, int(block.quantity))
        row = block.power_row + 1 if block.power_row else block.row
        load = ListedLoad(self._sheet.name, row, block.name, pieces)
        load.volts, load.ac = block.volts, block.ac or block.volts >= AC_FROM_V
        load.running_w = max(powers.values()) * pieces
        load.maximum_w = max(load.running_w, (top or 0.0) * pieces)
        inrush = block.inrush
        load.inrush_w = inrush.get("power", inrush.get("current", 0.0) * block.volts)
        untimed = not block.times and block.share == 1.0
        load.wh_per_day = block.mean_w(powers) * 24 * pieces
        self._ask_hours(load, block)
        if untimed and SWITCHED.search(folded(load.name)):
            self._asked.ask("untimed", load.sheet, load.row, load.name)
        self._result.loads.append(load)
        self._result.classes[load.row - 1] = "load"

    def _unknown(self, block: Block, why: str) -> None:
        """Add a load whose power cannot be told."""
        row, sheet = block.power_row + 1, self._sheet.name
        load = ListedLoad(sheet, row, block.name, max(1, int(block.quantity)))
        load.why, load.volts = why, block.volts
        self._result.loads.append(load)
        self._result.classes[row - 1] = "load"

    def _ask_hours(self, load: ListedLoad, block: Block) -> None:
        hours = (load.wh_per_day or 0.0) / (load.running_w or 1.0)
        if block.daily and 2 <= hours <= 20:
            name, weight = (
                f"{load.name} ({plain(hours, 3, 'h')})",
                load.wh_per_day or 0.0,
            )
            self._asked.ask("part-day", load.sheet, load.row, name, weight=weight)


_PER_HOUR = re.compile(r"(?:per|/|pro|por|an?) ?(?:h\b|hour|stunde|hora)")
_OF_ALL = word_set("system bus nominal battery")
_LITTLE = word_set("of the a an at in on for to der die das de la el un und y")


def _own_words(label: str) -> list[str]:
    words = words_of(label)
    return [w for w in words if not (known(w) or spelt(w) or w in _LITTLE)]


def _device(label: str) -> str:
    """Return the first word of a label that is none of heads: what it is about [text]."""
    return next((w.removesuffix("s") for w in _own_words(label)), "")


def _written(label: str) -> str:
    """Return the words of a label that name its device, as they are written [text]."""
    own = set(_own_words(label))
    found = [w for w in label.split() if set(words_of(w)) & own]
    return " ".join(found).strip(" ,;:") or label


def _put(block: Block, label: str, value: float, kind: str, index: int) -> bool:
    """Put a value where its label and its unit say, and return whether it has a place."""
    words, plain = words_of(label), folded(label)
    said, mode = concepts(words), mode_of(words)
    if kind in {"power", "current"}:
        block.power_row = index
        return _put_draw(
            block, "maximum" if "maximum" in said else mode, value, kind, said
        )
    if kind == "volts":
        block.volts = value
        block.ac = "ac" in words or "vac" in plain
    elif kind == "time":
        per = 1.0 if _PER_HOUR.search(plain) else 24.0
        block.times[mode] = value / per
        block.daily = block.daily or per == 24.0
    elif kind == "share" or ("duty" in said and value <= 1):
        _put_share(block, mode, value)
    elif not kind and "cycles" in said:
        block.cycles = value * (24 if _PER_HOUR.search(plain) else 1)
    elif not kind and said & {"quantity", "number"}:
        block.quantity = value
    else:
        return False
    return True


def _put_share(block: Block, mode: str, value: float) -> None:
    if mode:
        block.times[mode] = value
    else:
        block.share = value


def _put_draw(block: Block, mode: str, value: float, kind: str, said: set[str]) -> bool:
    """Put a power or current into its mode; of two figures the higher counts."""
    if "inrush" in said:
        block.inrush[kind] = value
        return True
    slot = block.powers if kind == "power" else block.amps
    again = mode in slot and slot[mode] != value
    slot[mode] = max(slot.get(mode, value), value)
    return not again
