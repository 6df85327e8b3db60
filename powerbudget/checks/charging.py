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
    stepped,
)
from powerbudget.quantities import show
from powerbudget.site.cells import is_lithium

DROP_PERCENT, DROP_MOST_PERCENT = 3.0, 10.0
LOW_SHARE, FLOAT_SHARE, HIGH_SHARE = 0.98, 0.94, 1.03

ARRAY_DROP = Rule(
    "array wire drop",
    "2 L R I_mp at the array's best point, the wire hot, over its V_mp: at most "
    f"{DROP_PERCENT:g} %, and never over {DROP_MOST_PERCENT:g} %",
    "stand-alone practice 2 to 3 %, unverified; upper limit judged",
    "a thicker or shorter pair, or more modules in series where the regulator bears it",
)
SET_POINT = Rule(
    "charge set point",
    "set point at 25 degC, its clamp counted, from "
    f"{100 * LOW_SHARE:g} to {100 * HIGH_SHARE:g} % of the chemistry's absorption voltage; "
    f"under {100 * FLOAT_SHARE:g} % it only floats and never fills the bank",
    "absorption voltages of the chemistries, published charger tables, some unverified; "
    "the span judged",
    "set absorption and highest_charge_voltage of [regulator] by the battery's sheet",
)
REACH = Rule(
    "reconnect within reach",
    "the charge set point, at its lowest in the heat >= the reconnect voltage",
    "a reconnect that charging does not reach leaves the loads off for good",
    "lower the reconnect below the set point of the hottest day",
)
RESTART = Rule(
    "regulator restart",
    "the disconnect >= the lowest battery voltage at which the regulator works",
    "field reports: a regulator that went dark with its battery waits for a visit",
    "a regulator that starts from a flatter battery or from the panel, or a higher "
    "disconnect",
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
    "disconnect too deep",
    "disconnect over cells >= 1.80 V of lead-acid (fails under 1.75), 1.0 V of "
    "nickel-cadmium, 2.8 V of lithium iron phosphate, 3.0 V of lithium-ion",
    "found in use: 10.5 V on 12 V as a default, 10.8 V in a fleet of 1,717 stations, 11.1 "
    "to 11.7 V advised; nickel-cadmium and lithium unverified; sources disagree",
    "raise the disconnect: at the small currents of a station little charge is left below",
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
        f"{facts.wire_hot_degc:.0f} degC, {show(amps * ohm, 'V')} of {string_v:.1f} V; the "
        f"run counts {100 * array.wiring_frac:g} % (wiring_loss)"
    )
    percent = 100 * amps * ohm / string_v
    found = Found("array to regulator", percent, DROP_PERCENT, "%", words)
    yield stepped(ARRAY_DROP, found, DROP_MOST_PERCENT)


def set_point(facts: CheckInputs) -> Iterator[Row]:
    """Yield the stated set point against the chemistry's absorption voltage [rows]."""
    regulator, bank = facts.tables.regulator, facts.bank
    if regulator.absorption_v is None and regulator.highest_v is None:
        return
    usual = bank.cells * bank.chemistry.absorption_v
    at_25 = min(bank.regulation_v, bank.highest_v)
    words = f"{bank.chemistry.title}: {usual:.1f} V at 25 degC"
    if at_25 > HIGH_SHARE * usual:
        found = Found("regulator", at_25, HIGH_SHARE * usual, "V", words)
        high: Verdict = "fail" if is_lithium(bank.chemistry.name) else "warn"
        yield at_most(SET_POINT, found, high)
        return
    found = Found("regulator", at_25, LOW_SHARE * usual, "V", words)
    yield at_least(SET_POINT, found, "fail" if at_25 < FLOAT_SHARE * usual else "warn")


def reach(facts: CheckInputs) -> Iterator[Row]:
    """Yield whether charging lifts the bus to the reconnect all year [rows]."""
    need = facts.tables.bus.reconnect_v
    if need is None:
        return
    volts = facts.problem.hourly["regulation_v"]
    low, high = float(volts.min()), float(volts.max())
    words = f"set point of {low:.2f} to {high:.2f} V through the record"
    found = Found("bus", low, need, "V", words)
    yield at_least(REACH, found, "fail" if high < need else "warn")


def deep(facts: CheckInputs) -> Iterator[Row]:
    """Yield the disconnect against what the cells bear [rows]."""
    trip, bank = facts.tables.bus.disconnect_v, facts.bank
    if trip is None:
        return
    usual, least = DEEP_V.get(bank.chemistry.name, DEEP_LEAD_V)
    words = f"{trip / bank.cells:.2f} V a cell, {bank.cells} cells"
    found = Found("bank", trip, usual * bank.cells, "V", words)
    yield at_least(DEEP, found, "fail" if trip < least * bank.cells else "warn")


def restart(facts: CheckInputs) -> Iterator[Row]:
    """Yield whether the regulator still works where the loads are cut off [rows]."""
    least, trip = (
        facts.tables.regulator.minimum_battery_v,
        facts.tables.bus.disconnect_v,
    )
    if least is not None and trip is not None:
        yield at_least(RESTART, Found("regulator", trip, least, "V"))
