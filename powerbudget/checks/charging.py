"""From panel to full bank: drop of the array's wire, set point, reconnect, restart."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

from powerbudget.checks.inputs import CheckInputs
from powerbudget.checks.result import (
    Found,
    Row,
    Rule,
    Verdict,
    at_least,
    at_most,
    judged,
    stepped,
)
from powerbudget.quantities import count, in_unit, show
from powerbudget.site.cells import is_lithium

DROP_PERCENT, DROP_MOST_PERCENT = 3.0, 10.0
LOW_SHARE, FLOAT_SHARE, HIGH_SHARE = 0.98, 0.94, 1.03

ARRAY_DROP = Rule(
    "array wire drop",
    "2 L R Imp at the maximum-power point of the array, hot wire, over its "
    f"Vmp: at most {DROP_PERCENT:g} %, never over {DROP_MOST_PERCENT:g} %",
    "stand-alone practice 2 to 3 %, unverified; upper limit assumed",
    (
        "use larger or shorter conductors, or more modules in series if the "
        "charge controller is rated for it"
    ),
)
SET_POINT = Rule(
    "regulation voltage",
    f"regulation voltage at 25 °C, with its clamp, from {100 * LOW_SHARE:g} "
    f"to {100 * HIGH_SHARE:g} % of the absorption voltage of the chemistry; "
    f"below {100 * FLOAT_SHARE:g} % the charge controller only floats and "
    "does not fill the battery",
    "absorption voltages of the chemistries, published charger tables, some "
    "unverified; the band is assumed",
    (
        "set absorption and highest_charge_voltage of [charge_controller] by the "
        "battery data sheet"
    ),
)
REACH = Rule(
    "LVR reached by charging",
    "lowest regulation voltage (hottest battery) >= LVR voltage",
    "below an LVR that charging does not reach the loads stay off",
    "lower the LVR below the regulation voltage of the hottest day",
)
RESTART = Rule(
    "charge controller restart",
    ("LVD voltage >= lowest battery voltage at which the charge controller operates"),
    (
        "field reports: a charge controller that shut down with its battery "
        "waits for a site visit"
    ),
    "use a charge controller that starts from a lower battery voltage or "
    "from the array, or raise the LVD",
)
DEEP_V: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "nicd": (1.0, 0.9),
        "nicd-arctic": (1.0, 0.9),
        "lfp": (2.8, 2.5),
        "lithium-ion": (3.0, 2.5),
    }
)
"""Least disconnect of a cell, usual and lowest; others are lead-acid [V]."""
DEEP_LEAD_V = (1.80, 1.75)
DEEP = Rule(
    "LVD against cell limit",
    "LVD voltage per cell >= 1.80 V for lead-acid (FAIL below 1.75 V), 1.0 V "
    "for nickel-cadmium, 2.8 V for lithium iron phosphate, 3.0 V for "
    "lithium-ion; and below the voltage at which a full battery rests (FAIL)",
    "in use: 10.5 V on 12 V as a default, 10.8 V in a fleet of 1,717 "
    "stations, 11.1 to 11.7 V advised; nickel-cadmium and lithium "
    "unverified; sources disagree",
    "raise the LVD: at the low currents of a station little charge remains below it; "
    "lower one that a full battery does not reach",
)


def array_drop(facts: CheckInputs) -> Iterator[Row]:
    """Yield what the array's wire drops at the best point of the panels [rows]."""
    array, module = facts.tables.array, facts.problem.array.module
    if array.wire is None:
        return
    amps = facts.problem.strings * module.max_power_a
    string_v = array.series * module.max_power_v
    ohm = facts.wire_ohm(array.wire, facts.wire_hot_degc)
    words = (
        f"{show(amps, 'A')} in {show(ohm, 'ohm')} of {array.wire.gauge} at "
        f"{in_unit(facts.wire_hot_degc, '°C')}, {show(amps * ohm, 'V')} of "
        f"{in_unit(string_v, 'V', 1)}; "
        f"the simulation counts {100 * array.wiring_frac:g} % (wiring_loss)"
    )
    percent = 100 * amps * ohm / string_v
    found = Found("array to charge controller", percent, DROP_PERCENT, "%", words)
    yield stepped(ARRAY_DROP, found, DROP_MOST_PERCENT)


def set_point(facts: CheckInputs) -> Iterator[Row]:
    """Yield the stated set point against the chemistry's absorption voltage [rows]."""
    regulator, bank = facts.tables.regulator, facts.bank
    if regulator.absorption_v is None and regulator.highest_v is None:
        return
    usual = bank.cells * bank.chemistry.absorption_v
    at_25 = min(bank.regulation_v, bank.highest_v)
    words = f"{bank.chemistry.title}: {in_unit(usual, 'V', 1)} at 25 °C"
    if at_25 > HIGH_SHARE * usual:
        found = Found("charge controller", at_25, HIGH_SHARE * usual, "V", words)
        high: Verdict = "fail" if is_lithium(bank.chemistry.name) else "warn"
        yield at_most(SET_POINT, found, high)
        return
    found = Found("charge controller", at_25, LOW_SHARE * usual, "V", words)
    yield at_least(SET_POINT, found, "fail" if at_25 < FLOAT_SHARE * usual else "warn")


def reach(facts: CheckInputs) -> Iterator[Row]:
    """Yield whether charging lifts the bus to the reconnect all year [rows]."""
    need = facts.tables.bus.reconnect_v
    if need is None:
        return
    volts = facts.problem.hourly["regulation_v"]
    low, high = float(volts.min()), float(volts.max())
    words = f"regulation voltage {low:.2f} to {in_unit(high, 'V', 2)} in the simulation"
    found = Found("bus", low, need, "V", words)
    yield at_least(REACH, found, "fail" if high < need else "warn")


def deep(facts: CheckInputs) -> Iterator[Row]:
    """Yield the disconnect against what the cells bear, and below a full one [rows]."""
    trip, bank = facts.tables.bus.disconnect_v, facts.bank
    if trip is None:
        return
    full_v = facts.problem.full_rest_v
    if trip >= full_v:
        each = in_unit(full_v / bank.cells, "V", 2)
        words = f"a full {bank.label} cell rests at {each}"
        yield judged(DEEP, Found("battery", trip, full_v, "V", words), "upper", "fail")
        return
    usual, least = DEEP_V.get(bank.chemistry.name, DEEP_LEAD_V)
    words = (
        f"{in_unit(trip / bank.cells, 'V', 2)} per cell, {count(bank.cells, 'cell')}"
    )
    found = Found("battery", trip, usual * bank.cells, "V", words)
    yield at_least(DEEP, found, "fail" if trip < least * bank.cells else "warn")


def restart(facts: CheckInputs) -> Iterator[Row]:
    """Yield whether the regulator still works where the loads are cut off [rows]."""
    least, trip = (
        facts.tables.regulator.minimum_battery_v,
        facts.tables.bus.disconnect_v,
    )
    if least is not None and trip is not None:
        yield at_least(RESTART, Found("charge controller", trip, least, "V"))
