"""Branches from the bus: voltage drop, and what reaches the terminals of each device."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from powerbudget.checks.inputs import CheckInputs
from powerbudget.checks.result import (
    Found,
    NotChecked,
    Row,
    Rule,
    at_least,
    at_most,
    stepped,
)
from powerbudget.loads.items import Item, is_two_wire
from powerbudget.loads.voltage import End, end_of_wire
from powerbudget.quantities import in_unit, plain, show

RACK = "rack: "
"""How lines begin that follow from the rack."""
MEAN_PERCENT, MEAN_MOST_PERCENT = 3.0, 5.0
PEAK_PERCENT, LASTING_MOST_PERCENT, INRUSH_MOST_PERCENT = 5.0, 10.0, 20.0

DROP_SOURCE = (
    "NEC informational notes to 210.19(A)(1) and 215.2(A): 3 % per branch, 5 "
    "% in total, not mandatory; stand-alone practice 2 to 3 % and 5 %, "
    "unverified"
)
MEAN_DROP = Rule(
    "voltage drop, mean",
    "2 L R I at typical power, hot wire, over nominal voltage: at most "
    f"{MEAN_PERCENT:g} %, never over {MEAN_MOST_PERCENT:g} %",
    DROP_SOURCE,
    ("use larger or shorter conductors, or a higher supply voltage near the load"),
)
PEAK_DROP = Rule(
    "voltage drop, peak",
    "2 L R I at maximum power and lowest bus voltage, hot wire, over nominal "
    f"voltage: at most {PEAK_PERCENT:g} %, never over {LASTING_MOST_PERCENT:g} "
    "% continuously (11.6 V bus to 10.5 V at the device), never over "
    f"{INRUSH_MOST_PERCENT:g} % at inrush",
    DROP_SOURCE + "; upper limits assumed",
    (
        "use larger or shorter conductors: the average load hides the voltage "
        "drop at peak load"
    ),
)
AT_DISCONNECT = Rule(
    "terminal voltage at LVD",
    (
        "LVD voltage less the drop at maximum power >= minimum operating voltage "
        "of the device"
    ),
    ("Ohm's law; undervoltage reset is checked at the lowest bus voltage, hot wire"),
    (
        "raise the LVD, use larger conductors, or feed the device through a "
        "dc/dc converter ([[supply]])"
    ),
)
AT_PEAK = Rule(
    "terminal voltage at peak",
    "LVD voltage less the sag of battery and main wire at peak load, less "
    "the branch drop >= minimum operating voltage of each device on the bus",
    (
        "Ohm's law: V_source - I_peak R_total; internal resistance of the "
        "battery unverified"
    ),
    "use larger conductors or a battery of lower resistance, raise the LVD, "
    "or feed the device through a converter that rides through",
)
ON_CHARGE = Rule(
    "terminal voltage, charging",
    (
        "highest temperature-compensated charging voltage <= maximum input "
        "voltage of the device"
    ),
    (
        "regulation voltage in the coldest hour with irradiance (3 to 5 mV/K per "
        "cell; sources disagree)"
    ),
    "set highest_charge_voltage in [charge_controller], or feed the device "
    "through a dc/dc converter ([[supply]])",
)


@dataclass(frozen=True)
class VoltageWindow:
    """What a device on the bus takes.

    Parameters
    ----------
    name
        Load line or supply [text].
    low_v, high_v
        Its window, None where not known [V].
    """

    name: str
    low_v: float | None
    high_v: float | None


def item_window(item: Item) -> VoltageWindow:
    """Return the supply window of a load line [VoltageWindow]."""
    given = item.part.input if item.part else None
    high = item.load.maximum_v or (given.max if given else None)
    return VoltageWindow(item.load.name, item.minimum_v or None, high)


def separate(facts: CheckInputs) -> list[tuple[str, Item]]:
    """Return the lines to look at one by one: those of a rack that are alike, once.

    Returns
    -------
    list of tuple
        Name to show, and the line [text, Item].
    """
    found: list[tuple[str, Item]] = []
    alike: dict[tuple[Any, ...], int] = {}
    for item in facts.items:
        window = item_window(item)
        key = (item.load.supply, window.low_v, window.high_v)
        if not item.load.name.startswith(RACK) or item.load.wire is not None:
            found.append((item.load.name, item))
            continue
        alike[key] = alike.get(key, 0) + 1
        if alike[key] == 1:
            found.append((item.load.name, item))
    return [(_many(name, item, alike), item) for name, item in found]


def _many(name: str, item: Item, alike: dict[tuple[Any, ...], int]) -> str:
    window = item_window(item)
    more = alike.get((item.load.supply, window.low_v, window.high_v), 1) - 1
    if not more or not name.startswith(RACK) or item.load.wire is not None:
        return name
    return f"{name} and {more} more of the rack"


def supply_window(supply: Any, facts: CheckInputs) -> VoltageWindow:
    """Return the input window of a converter [VoltageWindow]."""
    given = getattr(facts.design.parts.get(supply.part or ""), "input", None)
    low = supply.minimum_v or (given.min if given else None)
    return VoltageWindow(
        supply.name, low or None, supply.maximum_v or (given.max if given else None)
    )


def bus_in_burst_v(facts: CheckInputs, extra_a: float) -> float:
    """Return the bus voltage while a burst draws more than the mean load [V].

    Parameters
    ----------
    facts
        The site.
    extra_a
        Current above the mean load, at which the disconnect was reached [A].

    Returns
    -------
    float
        The disconnect less what bank and main wire lose on top [V].
    """
    return facts.low_v - max(0.0, extra_a) * facts.burst_ohm


def lasting_end(facts: CheckInputs, item: Item, source_v: float) -> End:
    """Return current and volts at the end of a hot wire at the lasting maximum [End]."""
    power = item.draw.maximum_w * (item.load.quantity if item.shared else 1)
    return _end(facts, item, source_v, power)


def peak_end(facts: CheckInputs, item: Item, source_v: float) -> End:
    """Return current and volts at the end of a hot wire, one piece at its peak [End]."""
    power = item.draw.peak_w
    if item.shared:
        power += (item.load.quantity - 1) * item.draw.maximum_w
    return _end(facts, item, source_v, power)


def _end(facts: CheckInputs, item: Item, source_v: float, power_w: float) -> End:
    ohm = facts.item_ohm(item, facts.wire_hot_degc)
    return end_of_wire(source_v, power_w, item.rail.volts, item.draw.behaviour, ohm)


def source_v(item: Item, bus_v: float) -> float:
    """Return the voltage at the head of a branch: its converter's output or the bus."""
    return item.rail.volts if item.load.supply else bus_v


def worst_peak(facts: CheckInputs, item: Item) -> tuple[float, End]:
    """Return the bus voltage and the end of a branch in its worst moment [V, End].

    Returns
    -------
    tuple of float and End
        Its own burst, or the largest burst of another line on the same bus.
    """
    budget = facts.problem.budget
    own = bus_in_burst_v(facts, budget.maximum_a - facts.mean_a)
    other = bus_in_burst_v(facts, budget.peak_a - facts.mean_a)
    if budget.inrush == item.load.name:
        own = other
    ends = [
        (own, peak_end(facts, item, source_v(item, own))),
        (other, lasting_end(facts, item, source_v(item, other))),
    ]
    return min(ends, key=lambda pair: pair[1].volts)


def mean_drop(facts: CheckInputs) -> Iterator[Row]:
    """Yield the drop of each wired branch at its typical draw [rows]."""
    for item in facts.items:
        if item.load.wire is None:
            continue
        power = item.draw.typical_w * (item.load.quantity if item.shared else 1)
        end = _end(facts, item, item.rail.volts, power)
        share = 100 * (item.rail.volts - end.volts) / item.rail.volts
        words = f"{show(end.amps, 'A')} in {_wire_words(facts, item)}"
        found = Found(item.load.name, share, MEAN_PERCENT, "%", words)
        yield stepped(MEAN_DROP, found, MEAN_MOST_PERCENT)
    yield from _no_wire(facts)


def _wire_words(facts: CheckInputs, item: Item) -> str:
    wire = item.load.wire
    if wire is None:
        return "wire not stated"
    ohm = facts.item_ohm(item, facts.wire_hot_degc)
    return (
        f"{plain(wire.length_m, 3, 'm')} of {wire.gauge}, {show(ohm, 'ohm')} at "
        f"{in_unit(facts.wire_hot_degc, '°C')}"
    )


def _no_wire(facts: CheckInputs) -> Iterator[Row]:
    for name, item in separate(facts):
        if item.load.wire is None:
            missing = "[[load]] wire = { gauge, length }"
            yield NotChecked("voltage drop", name, missing)


def peak_drop(facts: CheckInputs) -> Iterator[Row]:
    """Yield the drop of each wired branch at its highest draw, bus at lowest [rows]."""
    for item in facts.items:
        if item.load.wire is None:
            continue
        head, volts = source_v(item, facts.low_v), item.rail.volts
        end, lasting = peak_end(facts, item, head), lasting_end(facts, item, head)
        share = 100 * (head - end.volts) / volts
        long = 100 * (head - lasting.volts) / volts
        words = f"{show(end.amps, 'A')} in {_wire_words(facts, item)}"
        found = Found(item.load.name, share, PEAK_PERCENT, "%", words)
        grave = long > LASTING_MOST_PERCENT or share > INRUSH_MOST_PERCENT
        yield at_most(PEAK_DROP, found, "fail" if grave else "warn")


def _judged_by_loop(item: Item) -> bool:
    loop = item.load.loop
    return is_two_wire(item) or (loop is not None and loop.kind == "fieldbus")


def at_disconnect(facts: CheckInputs) -> Iterator[Row]:
    """Yield each device's least volts against the bus at its disconnect [rows]."""
    for supply in facts.tables.supply:
        window = supply_window(supply, facts)
        if window.low_v is None:
            missing = "[[supply]] minimum_input"
            yield NotChecked(AT_DISCONNECT.name, supply.name, missing)
            continue
        found = Found(supply.name, facts.low_v, window.low_v, "V", "converter input")
        yield at_least(AT_DISCONNECT, found)
    for name, item in separate(facts):
        if _judged_by_loop(item):
            continue
        if not item.minimum_v:
            missing = "[[load]] minimum_input"
            yield NotChecked(AT_DISCONNECT.name, name, missing)
            continue
        end = lasting_end(facts, item, source_v(item, facts.low_v))
        found = Found(name, end.volts, item.minimum_v, "V", _feed(facts, item, end))
        yield at_least(AT_DISCONNECT, found)


def _feed(facts: CheckInputs, item: Item, end: End) -> str:
    if item.load.supply:
        head = f"{show(item.rail.volts, 'V')} from {item.load.supply}"
    else:
        head = f"bus at {show(facts.low_v, 'V')}"
    if not end.volts:
        return f"{head}; the wire cannot carry the power"
    return f"{head}, {show(end.amps, 'A')} in {_wire_words(facts, item)}"


def at_peak(facts: CheckInputs) -> Iterator[Row]:
    """Yield each device's least volts against the worst burst on its bus [rows].

    Notes
    -----
    What already fails at the lasting maximum is not said twice.
    """
    budget = facts.problem.budget
    for supply in facts.tables.supply:
        low = supply_window(supply, facts).low_v
        if low is None or facts.low_v < low:
            continue
        bus_v = bus_in_burst_v(facts, budget.peak_a - facts.mean_a)
        words = f"converter input at the inrush of {budget.inrush or 'all loads'}"
        yield at_least(AT_PEAK, Found(supply.name, bus_v, low, "V", words))
    for name, item in separate(facts):
        if _judged_by_loop(item) or not item.minimum_v:
            continue
        lasting = lasting_end(facts, item, source_v(item, facts.low_v))
        if lasting.volts < item.minimum_v:
            continue
        bus_v, end = worst_peak(facts, item)
        words = (
            f"bus {in_unit(bus_v, 'V', 2)} ({in_unit(1000 * facts.burst_ohm, 'mΩ')} "
            "of battery and main "
            f"wire), {show(end.amps, 'A')} in {_wire_words(facts, item)}"
        )
        found = Found(name, end.volts, item.minimum_v, "V", words)
        yield at_least(AT_PEAK, found)


def on_charge(facts: CheckInputs) -> Iterator[Row]:
    """Yield each bus device's highest volts against the coldest charging day [rows]."""
    volts, when = facts.highest_v
    windows = [supply_window(s, facts) for s in facts.tables.supply]
    named = [(window.name, window) for window in windows]
    named += [
        (name, item_window(item))
        for name, item in separate(facts)
        if not item.load.supply
    ]
    for name, window in named:
        if window.high_v is None:
            missing = "maximum_input of the load or converter"
            words = f"maximum charging voltage {in_unit(volts, 'V', 2)}"
            yield NotChecked(ON_CHARGE.name, name, missing, words)
            continue
        yield at_most(ON_CHARGE, Found(name, volts, window.high_v, "V", when))
