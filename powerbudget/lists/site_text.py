"""An import as text of a site file: [rack], [[supply]], [[load]], questions in place."""

from __future__ import annotations

import json
import math
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

from powerbudget.lists.cells import TEXT
from powerbudget.lists.found import Import
from powerbudget.lists.io_list import exact_kind
from powerbudget.lists.library import proposal
from powerbudget.lists.questions import Question
from powerbudget.lists.rack_list import rack_list
from powerbudget.lists.rows import AC_FROM_V, ListedLoad, ListLine
from powerbudget.lists.words import word_set

CONTROLLER = "controller-low-power"
LOOP_V = 16.25
"""Least supply for a loop of 250 ohm at 23 mA with a 10.5 V transmitter [V]."""
LOOP_SUPPLY_V, LOOP_A = 24.0, 0.023
"""Usual supply of two-wire loops, and the current a designer reckons with [V, A]."""
UNKNOWN_W = 6.0
"""Taken for a device whose watts the list does not state (judgment, assumed) [W]."""
NEGLIGIBLE_W = 0.5
"""Taken for a device that a list calls negligible (judgment, assumed) [W]."""
INVERTER_FRAC = 0.85
"""Taken for an inverter whose efficiency the list does not state (judgment, assumed)."""
SUPPLY_FRAC = 0.85
"""Taken for a converter whose efficiency the list does not state (judgment, assumed)."""
NO_LOAD_FRAC = 0.02
"""Share of its rated power that an unknown converter draws without a load (judgment)."""


@dataclass
class SiteText:
    """What an import writes.

    Parameters
    ----------
    text
        Tables for a site file [TOML].
    list_text
        The signal list in the columns that a rack reads; empty without signals [CSV].
    bus_v
        Voltage of the bus that the text assumes [V].
    """

    text: str
    list_text: str
    bus_v: float


@dataclass
class _Item:
    """One load to be written."""

    name: str
    typical_w: float
    maximum_w: float
    duty: float
    source: str
    volts: float = 0.0
    peak_w: float | None = None
    assumed: bool = False
    remarks: list[str] = field(default_factory=list)


def site_text(found: Import, list_name: str, *, bus_v: float | None = None) -> SiteText:
    """Return the tables of a site file for what lists and schedules hold.

    Parameters
    ----------
    found
        The import.
    list_name
        File name of the signal list that the rack will read [text].
    bus_v
        Voltage of the site's bus; None to take the one that the lists state [V].

    Returns
    -------
    SiteText
        Tables and the list for the rack.
    """
    bus = bus_v or found.volts or _most_used(found) or 24.0
    items = [*_from_lines(found), *_from_loads(found)]
    _own_names(items)
    lines = [_header(found)]
    rails = {i.volts for i in items if i.volts and abs(i.volts - bus) > 0.1 * bus}
    if any(line.kind in {"point", "spare"} for line in found.lines):
        loops = _loop_supply(found, bus, rails)
        rails |= {loops} if loops else set()
        lines += _rack(found, list_name, loops)
    for volts in sorted(rails):
        watts = sum(i.maximum_w for i in items if i.volts == volts)
        lines += _supply(volts, watts + (_loops_w(found) if volts >= LOOP_V else 0.0))
    for item in items:
        lines += _load(item, bus)
    lines += _rest(found)
    return SiteText("\n".join(lines) + "\n", rack_list(found), bus)


def _loops(found: Import) -> int:
    """Return the analog points that the rack feeds [count]."""
    return sum(
        line.points.get("ai", 0) + line.points.get("ao", 0)
        for line in found.lines
        if line.kind == "point" and line.supply not in {"four-wire", "ac"}
    )


def _loops_w(found: Import) -> float:
    return _loops(found) * LOOP_A * LOOP_SUPPLY_V


def _loop_supply(found: Import, bus_v: float, rails: set[float]) -> float:
    """Return the supply that two-wire loops need beside a low bus, 0 for none [V]."""
    if bus_v >= LOOP_V or not _loops(found):
        return 0.0
    return min((volts for volts in rails if volts >= LOOP_V), default=LOOP_SUPPLY_V)


def _supply(volts: float, maximum_w: float) -> list[str]:
    """Return a converter for loads of another voltage, its figures assumed and named."""
    rated = max(5.0, 5.0 * math.ceil(maximum_w * 1.25 / 5.0))
    return [
        "",
        "[[supply]]",
        "# Question: which converter? Rated power, no-load power and efficiency are assumed.",
        f"name = {_quoted(_rail(volts))}",
        f'output = "{volts:g} V"',
        f'rated = "{rated:g} W"',
        f'no_load = "{NO_LOAD_FRAC * rated:.3g} W"',
        f'efficiency = "{100 * SUPPLY_FRAC:g} %"',
    ]


def _most_used(found: Import) -> float:
    volts: dict[float, float] = {}
    stated = [(x.volts, x.wh_per_day or 0.0) for x in found.loads if not x.ac]
    stated += [
        (_dc_volts(x), 24 * (x.typical_w or 0.0)) for x in found.lines if x.maximum_w
    ]
    for level, wh in stated:
        if level:
            volts[level] = volts.get(level, 0.0) + wh
    return max(volts, key=lambda v: volts[v], default=0.0)


def _header(found: Import) -> str:
    files = ", ".join(book.path.name for book in found.books)
    text = f"# From {files}. Lines that begin with 'Question:' wait for an answer."
    if found.contingency_frac:
        share = f"{100 * found.contingency_frac:g} %"
        text += f'\n# Contingency of the list: set [bus] contingency = "{share}", once.'
    return text


def _rack(found: Import, list_name: str, loop_v: float) -> list[str]:
    points = ", ".join(f"{n} {k.upper()}" for k, n in sorted(found.points().items()))
    spare = ", ".join(
        f"{n} {k.upper()}" for k, n in sorted(found.points("spare").items())
    )
    lines = ["", "[rack]", f"# Points: {points or 'none'}; spares: {spare or 'none'}."]
    lines += _about(found, _RACK_CAUSES)
    lines += [f'controller = "{CONTROLLER}"', f"io_list = {_quoted(list_name)}"]
    wetting_a = _wetting_a(found)
    if wetting_a:
        lines.append(f'wetting_current = "{1e3 * wetting_a:.6g} mA"  # of the list')
    if loop_v:
        lines.append(
            f"loop_supply = {_quoted(_rail(loop_v))}  # the bus is too low for a loop"
        )
    return lines


def _wetting_a(found: Import) -> float:
    """Return the highest current that the list states for contacts, 0 without one [A]."""
    rows = {i.row for q in found.asked if q.cause == "wetting" for i in q.items}
    live = (x for x in found.lines if x.kind == "point" and x.row in rows)
    return max((x.amps or 0.0 for x in live if set(x.points) == {"di"}), default=0.0)


_RACK_CAUSES = word_set(
    "vague no-signal direction bus-point refined several-in-cell several-in-tag hidden "
    "hold excluded status-clash struck case twice address old-sheet blank-tag "
    "tag-error ports spare-kind quantity quantity-zero letter unread registers twins "
    "wetting one-device registers-of"
)


def _about(found: Import, causes: frozenset[str]) -> list[str]:
    return [f"# Question: {_comment(q)}" for q in found.asked if q.cause in causes]


def _comment(question: Question) -> str:
    return "".join(c if c.isprintable() else " " for c in question.text)


# --- loads ---


def _from_lines(found: Import) -> list[_Item]:
    """Return the loads that a signal list states, and devices without watts."""
    live = (line for line in found.lines if line.kind == "point")
    files = _files(found)
    items = []
    for line in live:
        label = f"{line.tag} {line.text}".strip() or f"row {line.row}"
        source = _source(files, line.sheet, line.row)
        if line.maximum_w and not line.by_loop:
            duty = (line.typical_w or 0.0) / line.maximum_w
            watts = line.maximum_w
            items.append(_Item(label, watts, watts, duty, source, _dc_volts(line)))
        elif not line.maximum_w and _draws(line):
            items.append(_unstated(line, label, source))
    return items


def _files(found: Import) -> dict[str, str]:
    return {sheet.name: book.path.name for book in found.books for sheet in book.sheets}


def _unstated(line: ListLine, label: str, source: str) -> _Item:
    """Return a device of which the list states no watts, on the high side."""
    what = "4-wire device" if line.supply == "four-wire" else "bus device"
    remark = f"Question: the list states no watts for this {what}"
    item = _Item(label, UNKNOWN_W, UNKNOWN_W, 1.0, source, _dc_volts(line))
    item.assumed = True
    item.remarks.append(f"{remark}; {UNKNOWN_W:g} W assumed.")
    item.remarks += filter(None, [proposal(line.text)])
    return item


def _dc_volts(line: ListLine) -> float:
    """Return the voltage of a device on the dc side, 0 where none is stated [V]."""
    return line.volts if line.supply != "ac" and line.volts < AC_FROM_V else 0.0


def _draws(line: ListLine) -> bool:
    return (line.supply == "four-wire" and bool({"ai", "ao"} & set(line.points))) or (
        "serial" in line.points and exact_kind("serial", line.signal) == "serial"
    )


def _from_loads(found: Import) -> list[_Item]:
    """Return the loads of the schedules; those that draw nothing here are left out."""
    files = _files(found)
    items = []
    for load in found.loads:
        item = _item(load, _source(files, load.sheet, load.row))
        if item is None:
            continue
        if load.running_w is None:
            item.remarks += filter(None, [proposal(load.name)])
        if load.ac:
            item.volts = 0.0
            if not load.dc_side:
                _behind_inverter(item, found.inverter_frac)
        items.append(item)
    return items


def _behind_inverter(item: _Item, stated_frac: float | None) -> None:
    """Put an AC load to the dc side of its inverter."""
    inverter = stated_frac or INVERTER_FRAC
    item.typical_w /= inverter
    item.maximum_w /= inverter
    item.peak_w = item.peak_w and item.peak_w / inverter
    item.remarks.append(
        f"AC load: watts on the dc side of an inverter of {100 * inverter:g} % "
        f"({'stated' if stated_frac else 'assumed'})."
    )


UNKNOWN = dict.fromkeys(("tbc", "unreadable", "no unit", "no-volts"), UNKNOWN_W)
UNKNOWN["negligible"] = NEGLIGIBLE_W
"""Why a load has no figure -> what is taken for one piece of it [W]."""


def _item(load: ListedLoad, source: str) -> _Item | None:
    """Return a load to be written, None where the schedule says that it draws nothing here."""
    name = (
        load.name if load.quantity == 1 else f"{load.name} (quantity {load.quantity})"
    )
    if load.running_w is not None:
        # Where the sheet's own Wh/day are the higher, the load draws more than it says.
        mean = (load.wh_per_day or 0.0) / 24
        running = max(load.running_w, mean)
        top = max(running, load.maximum_w or 0.0)
        duty = mean / running if running else 0.0
        item = _Item(name, running, top, duty, source, load.volts)
        peak = (load.inrush_w or 0.0) * load.quantity
        item.peak_w = peak if peak > top else None
        item.remarks += [f"Assumed: {text}." for text in load.assumed]
        return item
    if load.why not in UNKNOWN:
        return None
    watts = UNKNOWN[load.why] * load.quantity
    item = _Item(name, watts, watts, 1.0, source, load.volts, assumed=True)
    remark = f"Question: the schedule gives no figure ({load.why})"
    item.remarks.append(f"{remark}; {watts:g} W assumed.")
    return item


def _source(files: dict[str, str], sheet: str, row: int) -> str:
    file = files.get(sheet, "")
    if sheet in {TEXT, file}:
        return f"{file}, row {row}"
    return f"{file}, {sheet.removeprefix(file).strip()}, row {row}"


def _own_names(items: list[_Item]) -> None:
    """Give each load a name of its own."""
    seen: Counter[str] = Counter()
    for item in items:
        item.name = " ".join(
            "".join(c if c.isprintable() else " " for c in item.name).split()
        )[:150]
        seen[item.name] += 1
        if seen[item.name] > 1:
            item.name = f"{item.name} ({seen[item.name]})"


def _load(item: _Item, bus: float) -> list[str]:
    lines = ["", "[[load]]"]
    lines += [
        f"# {''.join(c if c.isprintable() else ' ' for c in text)}"
        for text in item.remarks
    ]
    lines += [
        f"name = {_quoted(item.name)}",
        f'typical = "{_number(item.typical_w)} W"',
        f'maximum = "{_number(max(item.maximum_w, item.typical_w))} W"',
    ]
    if item.peak_w:
        lines.append(f'peak = "{_number(item.peak_w)} W"')
    if item.duty < 1 - 1e-9:
        lines.append(f'duty = "{_number(100 * item.duty)} %"')
    if item.volts and abs(item.volts - bus) > 0.1 * bus:
        lines.append(f"supply = {_quoted(_rail(item.volts))}")
    lines.append(f"source = {_quoted(item.source)}")
    # Without a status a figure counts as the site file's own, which a list's is.
    return [*lines, 'status = "assumed"'] if item.assumed else lines


def _rail(volts: float) -> str:
    return f"{volts:g} V supply"


def _number(value: float) -> str:
    return (
        f"{value:.6g}"
        if value >= 1e-4
        else f"{value:.6f}".rstrip("0").rstrip(".") or "0"
    )


def _quoted(text: str) -> str:
    return json.dumps(
        "".join(c if c.isprintable() else " " for c in text), ensure_ascii=False
    )


def _rest(found: Import) -> list[str]:
    """Return the questions that belong to no single table."""
    rest = [
        f"# Question: {_comment(q)}" for q in found.asked if q.cause not in _RACK_CAUSES
    ]
    return ["", "# Questions about the loads:", *rest] if rest else []


def list_path(site: Path) -> Path:
    """Return where the signal list of a site is written [path]."""
    return site.with_name(f"{site.stem}-io.csv")


def without_rack(text: str) -> str:
    """Return the text of an import without its [rack] table, for a site that has one."""
    head, _, rest = text.partition("\n[rack]\n")
    if not rest:
        return text
    kept = rest.split("\n\n[[", 1)
    return head + ("\n\n[[" + kept[1] if len(kept) > 1 else "\n")
