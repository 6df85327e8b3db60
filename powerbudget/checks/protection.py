"""Converters, fuses, wires and the disconnect."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from powerbudget.balance.packed_site import OVERLOAD
from powerbudget.battery.resistance import ohmic_ohm
from powerbudget.checks.code_tables import (
    AMPACITY_SOURCE,
    CONTINUOUS,
    ampacity_a,
    highest_fuse_a,
    next_fuse_a,
    photovoltaic_max_a,
)
from powerbudget.checks.environment import air_density_share
from powerbudget.checks.inputs import CheckInputs
from powerbudget.checks.result import (
    Found,
    NotChecked,
    Row,
    Rule,
    Verdict,
    at_least,
    at_most,
    judged,
)
from powerbudget.loads.items import Item
from powerbudget.loads.lines import rail_maximum_w
from powerbudget.loads.voltage import most_a, rail_a
from powerbudget.quantities import in_unit, show
from powerbudget.site.circuit import Wire

GAP_V, GAP_PAIRS_V = 1.0, 1.5
GAP_STATE = 0.10

CONVERTER = Rule(
    "converter output",
    "maximum running load of the converter <= its rated output",
    "sum of the maximum powers, not typical power times duty cycle",
    "use a larger converter, or two",
)
CONVERTER_PEAK = Rule(
    "converter at inrush",
    (
        "maximum running load of the converter plus the largest inrush <= its "
        "rated output"
    ),
    "beacon inrush bulletin, 3 December 2007: a few milliseconds of several "
    "times the nominal current trip a converter sized on nominal",
    "use a converter with reserve for the inrush, or a soft start",
)
BUS_FUSE = Rule(
    "bus fuse",
    "fuse >= 1.25 x maximum running load at the lowest bus voltage",
    "NEC 210.20(A), 215.3: 125 % of a continuous current",
    "use the next larger fuse that the wire allows",
)
BATTERY_FUSE = Rule(
    "battery fuse",
    "fuse >= 1.25 x the larger of maximum running load and charge current",
    "NEC 706.30, 706.31: 125 % of the highest current",
    "use the next larger fuse that the wire allows",
)
NO_BATTERY_FUSE = Rule(
    "battery fuse",
    ("each ungrounded conductor of the battery has a fuse or breaker at the battery"),
    (
        "NEC 240.21(H), 706.31: overcurrent protection where the conductor "
        "receives its supply"
    ),
    "fit a fuse at the terminals, one per string, with a dc interrupting "
    "rating above the available short-circuit current",
)
BRANCH_FUSE = Rule(
    "branch fuse",
    "fuse >= 1.25 x maximum power of the branch at the lowest bus voltage",
    "NEC 210.20(A): 125 % of a continuous current",
    "use the next larger fuse that the wire allows",
)
WIRE_FUSE = Rule(
    "wire and fuse",
    "fuse <= largest fuse that protects the wire in the hottest air",
    f"NEC 240.4; {AMPACITY_SOURCE}",
    "use a smaller fuse or larger conductors",
)
WIRE_LOAD = Rule(
    "wire ampacity",
    "ampacity in the hottest air >= 1.25 x maximum power of the branch",
    f"NEC 210.19(A); {AMPACITY_SOURCE}",
    "use larger conductors, or insulation with a higher temperature rating",
)
LOAD_TERMINALS = Rule(
    "charge controller load terminals",
    "maximum running load <= load current rating of the charge controller",
    "nameplate limit",
    "use a separate relay for the loads, or a larger charge controller",
)
INDEPENDENT = Rule(
    "independent load disconnect",
    ("the device that opens the load circuit is not fed through its own contacts"),
    "a field report: the telemetry unit of a repeater operated its "
    "disconnect; the unit was removed, and the batteries discharged to 0.5 V",
    (
        "use the charge controller, the battery electronics, or a separate relay "
        "as disconnect"
    ),
)
GAP = Rule(
    "LVD hysteresis",
    f"LVR at least {GAP_V:g} V above LVD on a 12 V base ({100 * GAP_STATE:g} "
    "% for SOC), and above the voltage rebound of the battery",
    f"published pairs of field controllers are {GAP_PAIRS_V:g} V apart, "
    "11.1/12.6 to 12.3/13.8 V; the minimum is assumed",
    f"raise the LVR; {GAP_PAIRS_V:g} V on a 12 V base is usual",
)


@dataclass(frozen=True)
class Branch:
    """A wire with its fuse and what it carries for long.

    Parameters
    ----------
    name
        Load line, supply, or a main [text].
    amps
        Highest lasting current [A].
    wire, fuse_a
        None where not stated [A].
    keys
        Where wire and fuse stand in the site file [text].
    """

    name: str
    amps: float
    wire: Wire | None
    fuse_a: float | None
    keys: tuple[str, str]


def branches(facts: CheckInputs) -> list[Branch]:
    """Return the branches of the loads, one for each pair [Branch]."""
    found = []
    for item in facts.items:
        keys = ("[[load]] wire", "[[load]] fuse")
        each = _pair_a(facts, item)
        found.append(
            Branch(item.load.name, each, item.load.wire, item.load.fuse_a, keys)
        )
    for supply in facts.tables.supply:
        rail = facts.rails[supply.name]
        amps = rail_a(facts.items, supply.name, rail, facts.low_v)
        keys = ("", "[[supply]] fuse")
        found.append(Branch(supply.name, amps, None, supply.fuse_a, keys))
    return found


def _pair_a(facts: CheckInputs, item: Item) -> float:
    amps = most_a(item, facts.low_v)
    return amps if item.shared else amps / item.load.quantity


def converter(facts: CheckInputs) -> Iterator[Row]:
    """Yield each converter's rating against everything on it [rows]."""
    share = derating_share(facts)
    for supply in facts.tables.supply:
        rail = facts.rails[supply.name]
        most = rail_maximum_w(facts.items, supply.name)
        words = f"rated {rail.rated_w:g} W"
        if share < 1:
            words += f", {in_unit(100 * share, '%')} of it at this altitude"
        found = Found(supply.name, most, share * rail.rated_w, "W", words)
        check = at_most(CONVERTER, found)
        yield check
        if check.verdict == "pass":
            yield from _inrush(facts, supply.name, most, share * rail.rated_w)


def derating_share(facts: CheckInputs) -> float:
    """Return the share of a converter's rating that is left at altitude [fraction]."""
    height = facts.tables.site.elevation_m
    return 1.0 if height <= 2000 else air_density_share(height)


def _inrush(
    facts: CheckInputs, name: str, most_w: float, rated_w: float
) -> Iterator[Row]:
    items = [i for i in facts.items if i.load.supply == name]
    extra = [(i.draw.peak_w - i.draw.maximum_w, i.load.name) for i in items]
    most, who = max(extra, default=(0.0, ""))
    if most > 0:
        words = f"{who} adds an inrush of {show(most, 'W')}"
        found = Found(name, most_w + most, rated_w, "W", words)
        yield at_most(CONVERTER_PEAK, found, "warn")


def bus_fuse(facts: CheckInputs) -> Iterator[Row]:
    """Yield the fuse of the bus against everything at its highest [rows]."""
    amps = facts.problem.budget.maximum_a
    fuse, need = facts.protection.bus_fuse_a, CONTINUOUS * amps
    if fuse is None:
        say = f"minimum {show(need, 'A')}: use {next_fuse_a(need):g} A"
        yield NotChecked(BUS_FUSE.name, "bus", "[protection] bus_fuse", say)
        return
    words = f"1.25 x {show(amps, 'A')} at {show(facts.low_v, 'V')}"
    yield at_least(BUS_FUSE, Found("bus", fuse, need, "A", words))


def _battery_a(facts: CheckInputs) -> tuple[float, str]:
    """Return the highest lasting current of the bank's main wire, and which it is."""
    loads, charge = facts.problem.budget.maximum_a, facts.array_charge_a
    if facts.tables.regulator.kind == "pwm":
        amps = facts.problem.array.module.short_circuit_a
        charge = photovoltaic_max_a(amps, facts.problem.strings)
    limit = facts.tables.regulator.of_all("maximum_charge_a")
    charge = min(charge, limit or math.inf) + facts.generator_charge_a
    heater_a = facts.heater_a
    asked = "loads and battery heater" if heater_a else "loads"
    return max((loads + heater_a, asked), (charge, "charging"))


def battery_main(facts: CheckInputs) -> Iterator[Row]:
    """Yield the bank's fuse and wire against loads and charging [rows]."""
    battery = facts.tables.battery
    amps, which = _battery_a(facts)
    need = CONTINUOUS * amps
    words = f"1.25 x {show(amps, 'A')}, {which}"
    if battery.fuse_a is None:
        say = f"minimum {show(need, 'A')}: use {next_fuse_a(need):g} A"
        yield NotChecked(BATTERY_FUSE.name, "battery", "[battery] fuse", say)
    elif battery.fuse_a == 0:
        words = f"none fitted; {next_fuse_a(need):g} A would carry {words}"
        found = Found("battery", 0.0, 1.0, "yes/no", words)
        yield at_least(NO_BATTERY_FUSE, found)
    else:
        found = Found("battery", battery.fuse_a, need, "A", words)
        yield at_least(BATTERY_FUSE, found)
    keys = ("[battery.wire]", "[battery] fuse")
    main = Branch("battery", amps, battery.wire, battery.fuse_a or None, keys)
    yield from _wire_rows(facts, main)


def array_main(facts: CheckInputs) -> Iterator[Row]:
    """Yield the array's wire against its fuse [rows]."""
    array = facts.tables.array
    if array.wire is not None and array.fuse_a is not None:
        yield _wire_fuse(facts, "array to charge controller", array.wire, array.fuse_a)


def branch_fuses(facts: CheckInputs) -> Iterator[Row]:
    """Yield each load's fuse and wire against its highest lasting draw [rows]."""
    for branch in branches(facts):
        if branch.fuse_a is None:
            yield NotChecked(BRANCH_FUSE.name, branch.name, branch.keys[1])
        else:
            words = f"1.25 x {show(branch.amps, 'A')}"
            need = CONTINUOUS * branch.amps
            found = Found(branch.name, branch.fuse_a, need, "A", words)
            yield at_least(BRANCH_FUSE, found)
        if branch.wire is not None:
            yield from _wire_rows(facts, branch)


def _wire_rows(facts: CheckInputs, branch: Branch) -> Iterator[Row]:
    wire = branch.wire
    if wire is None:
        yield NotChecked(WIRE_LOAD.name, branch.name, branch.keys[0])
        return
    carried = ampacity_a(wire.gauge, wire.insulation_degc, facts.wire_hot_degc)
    words = f"{wire.gauge} at {in_unit(facts.wire_hot_degc, '°C')}; 1.25 x {show(branch.amps, 'A')}"
    found = Found(branch.name, carried, CONTINUOUS * branch.amps, "A", words)
    yield at_least(WIRE_LOAD, found)
    if branch.fuse_a is not None:
        yield _wire_fuse(facts, branch.name, wire, branch.fuse_a)


def _wire_fuse(facts: CheckInputs, name: str, wire: Wire, fuse_a: float) -> Row:
    most = highest_fuse_a(wire.gauge, wire.insulation_degc, facts.wire_hot_degc)
    words = f"{wire.gauge} at {in_unit(facts.wire_hot_degc, '°C')}"
    return at_most(WIRE_FUSE, Found(name, fuse_a, most, "A", words))


def load_terminals(facts: CheckInputs) -> Iterator[Row]:
    """Yield the loads against the regulator's load terminals, where stated [rows]."""
    limit = facts.tables.regulator.of_all("maximum_load_a")
    if limit is None:
        if facts.protection.disconnect_by == "charge-controller":
            missing = "[charge_controller] maximum_load_current"
            yield NotChecked(LOAD_TERMINALS.name, "charge controller", missing)
        return
    amps = facts.problem.budget.maximum_a
    words = f"maximum running load at {show(facts.low_v, 'V')}"
    yield at_most(LOAD_TERMINALS, Found("charge controller", amps, limit, "A", words))
    if facts.problem.budget.inrush:
        surge_a = facts.problem.budget.peak_w / facts.low_v
        # Whether a start of milliseconds opens them is for the data sheet.
        words = f"inrush at {show(facts.low_v, 'V')}; {OVERLOAD:g} x {limit:g} A"
        found = Found(
            "charge controller at inrush", surge_a, OVERLOAD * limit, "A", words
        )
        yield at_most(LOAD_TERMINALS, found, "warn")


def independent(facts: CheckInputs) -> Iterator[Row]:
    """Yield whether the disconnect depends on what it protects [rows]."""
    who = facts.protection.disconnect_by
    if who is None:
        missing = "[protection] disconnect_by"
        yield NotChecked(INDEPENDENT.name, "disconnect", missing)
        return
    alone = 0.0 if who == "process-controller" else 1.0
    found = Found(
        "disconnect", alone, 1.0, "yes/no", f"operated by the {who.replace('-', ' ')}"
    )
    yield at_least(INDEPENDENT, found)


def gap(facts: CheckInputs) -> Iterator[Row]:
    """Yield the distance from disconnect to reconnect against chattering [rows]."""
    bus = facts.tables.bus
    if bus.disconnect_v is None or bus.reconnect_v is None:
        low, high = bus.disconnect_soc_frac or 0.0, bus.reconnect_soc_frac or 0.0
        found = Found("bus", 100 * (high - low), 100 * GAP_STATE, "% SOC")
        yield at_least(GAP, found, "warn")
        return
    apart = bus.reconnect_v - bus.disconnect_v
    need = GAP_V * facts.nominal_v / 12
    amps = facts.problem.budget.maximum_a
    rebound = amps * ohmic_ohm(facts.bank, facts.battery_low_degc, low_state=True)
    words = (
        f"{in_unit(apart * 12 / facts.nominal_v, 'V', 2)} on a 12 V base; the battery "
        f"rebounds by {in_unit(rebound, 'V', 2)} when {show(amps, 'A')} switch off"
    )
    found = Found("bus", apart, max(need, rebound), "V", words)
    verdict: Verdict = "pass" if apart >= need and apart > rebound else "warn"
    if apart <= rebound:
        verdict = "fail"
    yield judged(GAP, found, "lower", verdict)
