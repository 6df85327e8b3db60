"""Sheets without heads that go down the page: label, value, unit, device by device."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from powerbudget.lists.cells import ClientSheet, Row
from powerbudget.lists.figures import cell_number
from powerbudget.lists.heads import UNITS, spelt
from powerbudget.lists.questions import Questions
from powerbudget.lists.rows import ListedLoad
from powerbudget.lists.status import is_total
from powerbudget.lists.words import concepts, folded, known, mode_of, words_of

_NO_LOAD = re.compile(
    r"\bbatter|\bakku|\bresult|\bsolar|\bpanel|\barray|\bautonom|\bsummary|\bergebnis|\bresultado|"
    r"\bbateria|\bsite\b|\blocation|\bassumption|\bconvert|\binverter|\bcontroller efficiency|"
    r"\bgenerat|\bweather"
)


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

    def watts(self) -> dict[str, float]:
        """Return the power of each mode; currents without a voltage are left out [W]."""
        amps = {m: a * self.volts for m, a in self.amps.items() if self.volts}
        return amps | self.powers

    def mean_w(self, powers: dict[str, float]) -> float:
        """Return the power of one piece averaged over the day [W]."""
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
            match = re.fullmatch(r"\s*([\d.,]+)\s*([A-Za-zµ%/]+.*)", cell)
            value = cell_number(match.group(1), comma=comma) if match else None
            if match and value is not None:
                return label, value, match.group(2)
    return label, None, ""


def is_vertical(sheet: ClientSheet, comma: bool | None) -> bool:
    """Return whether most rows of a sheet are a label, a value and a unit."""
    rows = [row for row in sheet.rows if any(c is not None for c in row)]
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
    """Reads one vertical sheet; lines before any block belong to the device they name."""

    def __init__(
        self, sheet: ClientSheet, asked: Questions, comma: bool | None
    ) -> None:
        self._sheet, self._asked, self._comma = sheet, asked, comma
        self._result = VerticalResult()
        self._blocks: list[Block] = []
        self._alone: dict[str, Block] = {}
        self._block: Block | None = None

    def read(self) -> VerticalResult:
        for index, row in enumerate(self._sheet.rows):
            self._result.classes[index] = self._row(index, row)
        for block in self._blocks:
            self._finish(block)
        return self._result

    def _row(self, index: int, row: Row) -> str:
        label, value, unit = _parts(row, self._comma)
        if not any(cell is not None for cell in row):
            return "blank"
        if not label:
            return "ignored"
        if value is not None:
            return self._take(index, label, value, unit)
        if index == 0 and not self._valued(self._sheet.rows[1:]):
            return "title"
        said = [str(cell) for cell in row if cell is not None]
        if len(said) > 1:
            return self._unread(index, label, said[1])
        self._block = Block(label, index + 1)
        self._blocks.append(self._block)
        return "section"

    def _valued(self, rows: list[Row]) -> bool:
        """Return whether the next row that is not blank has a value."""
        for row in rows:
            if any(cell is not None for cell in row):
                return _parts(row, self._comma)[1] is not None
        return False

    def _unread(self, index: int, label: str, said: str) -> str:
        """Return the class of a line whose value is no figure; a power is asked."""
        block = self._block
        if block is None or not {"power", "current"} & concepts(words_of(label)):
            return "note"
        block.unread = f"{block.name} ('{said[:30]}')"
        block.power_row = index
        return "value"

    def _take(self, index: int, label: str, value: float, unit: str) -> str:
        """Put one line into its block and return its class."""
        kind, factor = UNITS.get(_unit(unit), ("", 1.0))
        if kind == "energy" or is_total(label):
            totals = (index + 1, label, [("energy", value * factor)])
            self._result.totals.append(totals)
            return "total"
        block = self._block or self._named(label, index, kind)
        if block is None or _NO_LOAD.search(folded(block.name)):
            return "total" if _unit(unit) == "d" and self._block else "setting"
        # "min/h" says what the time belongs to as "time per hour" does.
        per = f" per {unit.rpartition('/')[2]}" if "/" in unit else ""
        _put(block, label + per, value * factor, kind, index)
        block.ac = block.ac or (kind == "volts" and "ac" in unit.lower())
        return "value"

    def _named(self, label: str, index: int, kind: str) -> Block | None:
        """Return the block of the device that a label names beside its quantity."""
        own = [w for w in words_of(label) if not known(w) and not spelt(w)]
        name = " ".join(own) or (label if kind in {"power", "current"} else "")
        if not name:
            return None
        if name not in self._alone:
            written = [w for w in label.split() if set(words_of(w)) & set(own)]
            self._alone[name] = Block(" ".join(written) or label, index + 1)
            self._blocks.append(self._alone[name])
        return self._alone[name]

    def _finish(self, block: Block) -> None:
        """Make the load of a block, if it has a power."""
        powers = block.watts()
        if block.amps and not block.volts:
            name = self._sheet.name
            self._asked.ask("power-no-volts", name, block.row, block.name)
        top = powers.pop("maximum", None)
        if not powers and top is not None:
            powers[""] = top
        if not powers:
            if block.unread:
                self._unknown(block)
            return
        pieces = max(1, int(block.quantity))
        row = block.power_row + 1 if block.power_row else block.row
        load = ListedLoad(self._sheet.name, row, block.name, pieces)
        load.volts, load.ac = block.volts, block.ac or block.volts >= 90
        load.running_w = max(powers.values()) * pieces
        load.maximum_w = max(load.running_w, (top or 0.0) * pieces)
        inrush = block.inrush
        load.inrush_w = inrush.get("power", inrush.get("current", 0.0) * block.volts)
        load.wh_per_day = block.mean_w(powers) * 24 * pieces
        self._ask_hours(load, block)
        self._result.loads.append(load)
        self._result.classes[load.row - 1] = "load"

    def _unknown(self, block: Block) -> None:
        """Add a load whose power cannot be read, and ask about it."""
        row, sheet = block.power_row + 1, self._sheet.name
        load = ListedLoad(sheet, row, block.name, max(1, int(block.quantity)))
        load.why, load.volts = "unreadable", block.volts
        self._asked.ask("power-unreadable", sheet, row, block.unread)
        self._result.loads.append(load)
        self._result.classes[row - 1] = "load"

    def _ask_hours(self, load: ListedLoad, block: Block) -> None:
        hours = (load.wh_per_day or 0.0) / (load.running_w or 1.0)
        if block.daily and 2 <= hours <= 20:
            name, weight = f"{load.name} ({hours:.3g} h)", load.wh_per_day or 0.0
            self._asked.ask("part-day", load.sheet, load.row, name, weight=weight)


_PER_HOUR = re.compile(r"(?:per|/|pro|por|an?) ?(?:h\b|hour|stunde|hora)")


def _put(block: Block, label: str, value: float, kind: str, index: int) -> None:
    """Put a value where its label and its unit say."""
    words, plain = words_of(label), folded(label)
    said, mode = concepts(words), mode_of(words)
    if kind in {"power", "current"}:
        block.power_row = index
        if "inrush" in said:
            block.inrush[kind] = value
            return
        mode = "maximum" if "maximum" in said else mode
        (block.powers if kind == "power" else block.amps)[mode] = value
    elif kind == "volts":
        block.volts = value
        block.ac = "ac" in words or "vac" in plain
    elif (kind == "share" or "duty" in said) and mode:
        block.times[mode] = value
    elif kind == "share" or ("duty" in said and value <= 1):
        block.share = value
    elif kind == "time":
        per = 1.0 if _PER_HOUR.search(plain) else 24.0
        block.times[mode] = value / per
        block.daily = block.daily or per == 24.0
    elif "quantity" in said or "number" in said:
        block.quantity = value
