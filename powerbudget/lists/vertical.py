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
from powerbudget.lists.words import concepts, folded, mode_of, words_of

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
    share: float | None = None
    powers: dict[str, float] = field(default_factory=dict)
    amps: dict[str, float] = field(default_factory=dict)
    times: dict[str, float] = field(default_factory=dict)
    top: float = 0.0
    inrush: float = 0.0
    power_row: int = 0
    ac: bool = False
    daily: bool = False


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
    result = VerticalResult()
    blocks: list[Block] = []
    current: Block | None = None
    started = False
    for index, row in enumerate(sheet.rows):
        label, value, unit = _parts(row, comma)
        if not any(cell is not None for cell in row):
            result.classes[index] = "blank"
        elif label and value is None:
            is_title = not started and index == 0
            result.classes[index] = "title" if is_title else "section"
            current = None if is_title else Block(label, index + 1)
            if current is not None:
                blocks.append(current)
        elif not label or value is None:
            result.classes[index] = "ignored"
        else:
            started = True
            kind = _take(current, index, label, value, unit, result, asked, sheet)
            result.classes[index] = kind
    for block in blocks:
        _finish(block, result, asked, sheet)
    return result


def _take(
    block: Block | None,
    index: int,
    label: str,
    value: float,
    unit: str,
    result: VerticalResult,
    asked: Questions,
    sheet: ClientSheet,
) -> str:
    """Put one line into its block and return its class."""
    words = words_of(label)
    known = _unit(unit)
    kind, factor = UNITS.get(known, ("", 1.0))
    if kind == "energy" or is_total(label):
        result.totals.append((index + 1, label, [("energy", value * factor)]))
        return "total"
    if block is None or _NO_LOAD.search(folded(block.name)):
        if block is None and kind in {"power", "current"}:
            alone = Block(label, index + 1)
            _put(alone, words, label, value * factor, kind, index)
            _finish(alone, result, asked, sheet)
            return "load"
        return "total" if known in {"d", "Wh"} and block else "setting"
    _put(block, words, label, value * factor, kind, index)
    return "value"


def _put(
    block: Block, words: list[str], label: str, value: float, kind: str, index: int
) -> None:
    said, mode, plain = concepts(words), mode_of(words), folded(label)
    if kind in {"power", "current"}:
        block.power_row = index
        if "inrush" in said:
            block.inrush = value if kind == "power" else -value
            return
        if "maximum" in said:
            mode = "maximum"
        (block.powers if kind == "power" else block.amps)[mode] = value
    elif kind == "volts":
        block.volts = value
        block.ac = "ac" in words or "vac" in plain
    elif kind == "share":
        block.share = value
    elif kind == "time":
        per = (
            1.0
            if re.search(r"(?:per|/|pro|por|an?) ?(?:h\b|hour|stunde|hora)", plain)
            else 24.0
        )
        block.times[mode] = value / per
        block.daily = block.daily or per == 24.0
    elif (
        "quantity" in said or "number" in said or (not kind and words[:1] == ["number"])
    ):
        block.quantity = value
    elif "duty" in said and value <= 1:
        block.share = value


def _finish(
    block: Block, result: VerticalResult, asked: Questions, sheet: ClientSheet
) -> None:
    """Make the load of a block, if it has a power."""
    powers = dict(block.powers)
    for mode, amps in block.amps.items():
        if block.volts:
            powers.setdefault(mode, amps * block.volts)
        else:
            asked.ask("power-no-volts", sheet.name, block.row, block.name)
    top = powers.pop("maximum", None)
    if not powers and top is not None:
        powers[""] = top
    if not powers:
        return
    pieces = int(block.quantity) if block.quantity >= 1 else 1
    load = ListedLoad(
        sheet.name,
        block.power_row + 1 if block.power_row else block.row,
        block.name,
        pieces,
        volts=block.volts,
        ac=block.ac,
    )
    load.running_w = max(powers.values()) * pieces
    load.maximum_w = max(load.running_w, (top or 0.0) * pieces)
    timed = {m: t for m, t in block.times.items() if m in powers}
    rest = max(0.0, 1 - sum(timed.values()))
    untimed = [m for m in powers if m not in timed]
    share = sum(powers[m] * t for m, t in timed.items())
    if untimed and not (len(powers) == 1 and block.times):
        share += max(powers[m] for m in untimed) * rest
    elif untimed:
        share = powers[untimed[0]] * sum(block.times.values())
    load.wh_per_day = (
        share * 24 * pieces * (1.0 if block.share is None else block.share)
    )
    mean = load.wh_per_day / 24 / load.running_w if load.running_w else 1.0
    if block.daily and 2 <= 24 * mean <= 20:
        asked.ask(
            "part-day",
            sheet.name,
            load.row,
            f"{load.name} ({24 * mean:.3g} h)",
            weight=load.wh_per_day,
        )
    result.loads.append(load)
    result.classes[load.row - 1] = "load"
