"""The balance in plain Python: slow, readable, written apart from the kernel.

It is the reference that the compiled kernel is held to.  It looks curves up with
`numpy.interp`, solves the bus voltage by the quadratic formula written out, and
decides by early returns where the kernel loops.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from reference.twin_generator import Machine, Offer, ask, settle

from powerbudget.balance import columns as k


@dataclass(frozen=True)
class Hour:
    """What happened in one interval.

    Parameters
    ----------
    removed_ah
        Charge removed from full at its end [Ah].
    bus_v, battery_a, array_a, offered_a
        Bus voltage, current into the battery, array current used and offered [V, A].
    served
        1 loads on, 0 loads off, -1 not even the base draw [flag].
    cause
        0 none, 1 voltage, 2 state or empty [code].
    first, second
        Whether the loads that are shed first and second were served [flag].
    locked
        Whether the regulator was dark [flag].
    steady_a, source_a
        Taken of sources that always burn the same, and of the other [A].
    source_h, fuel_wh, stock_wh
        Hours that the other ran, heat in its fuel burnt and left [h, Wh].
    code
        See ``G_*`` in `powerbudget.balance.columns` [code].
    """

    removed_ah: float
    bus_v: float
    battery_a: float
    array_a: float
    offered_a: float
    served: int
    cause: int
    first: int = 0
    second: int = 0
    locked: int = 0
    steady_a: float = 0.0
    source_a: float = 0.0
    source_h: float = 0.0
    fuel_wh: float = 0.0
    stock_wh: float = 0.0
    code: float = 0.0


@dataclass(frozen=True)
class Switches:
    """What an interval hands to the next.

    Parameters
    ----------
    on, first, second
        Loads, tier 1 and tier 2 connected.
    below_h
        How long the voltage has been below the disconnect [h].
    flat
        Whether the battery has been empty of all that it holds.
    floating, absorbed_h, lit
        Absorption has ended, how long it was held, the array gave something.
    machine
        The source that follows the battery.
    """

    on: bool = True
    first: bool = True
    second: bool = True
    below_h: float = 0.0
    flat: bool = False
    floating: bool = False
    absorbed_h: float = 0.0
    lit: bool = False
    machine: Machine = field(default_factory=lambda: Machine(0.0))


@dataclass(frozen=True)
class _Cell:
    """The battery as this interval finds it."""

    open_v: float
    out_ohm: float
    in_ohm: float
    efficiency: float


def _at(table: Any, state: float) -> float:
    return float(np.interp(state, np.linspace(0.0, 1.0, len(table)), table))


def _cell(row: Any, tables: Any, s: Any, removed: float) -> _Cell:
    state = 1.0 - removed / s["charge_ah"]
    cold_ah = s["charge_ah"] * row["capacity"]
    left = 1.0 - removed / cold_ah if cold_ah > 0 else 0.0
    rated = s["rated_ah"]
    return _Cell(
        open_v=_at(tables.open_v, state) + row["open_shift_v"],
        out_ohm=_at(tables.discharge, left) * row["discharge_ratio"] / rated,
        in_ohm=_at(tables.charge, state) * row["charge_ratio"] / rated,
        efficiency=_at(tables.efficiency, state),
    )


def _offered_a(currents: Any, s: Any, bus_v: float) -> float:
    nodes = s["node_first_v"] + s["node_step_v"] * np.arange(len(currents))
    return float(s["strings"] * np.interp(bus_v + s["drop_v"], nodes, currents))


def _solve(
    cell: _Cell, watts: float, amps: float, siemens: float
) -> tuple[float, bool]:
    """Return bus voltage (not above 0 on collapse) and whether it charges."""
    charging = amps + watts / cell.open_v - siemens * cell.open_v > 0
    ohm = cell.in_ohm if charging else cell.out_ohm
    a, b = 1 + ohm * siemens, cell.open_v + ohm * amps
    root = b * b + 4 * a * ohm * watts
    bus = -1.0 if root < 0 else (b + math.sqrt(root)) / (2 * a)
    if not charging and bus > cell.open_v:
        # No balance is reached from rest voltage downwards: it collapses.
        bus = -1.0
    return bus, charging


def _limits(row: Any, s: Any) -> tuple[float, float]:
    """Return the most that the charge controller passes, in watts and in amperes."""
    share = row["controller_share"]
    return s["controller_w"] * share, s["controller_a"] * share


def _passed_a(row: Any, s: Any, bus: float, direct_a: float | None) -> float:
    """Return the current that comes through the charge controller at a bus voltage."""
    most_w, most_a = _limits(row, s)
    if direct_a is not None:
        return float(min(direct_a, most_a))
    return float(min(row["array_w"] * s["strings"], most_w, most_a * bus) / bus)


def _charge(
    row: Any,
    s: Any,
    cell: _Cell,
    removed: float,
    bus: float,
    direct_a: float | None,
    loads: tuple[float, float, float],
) -> Hour:
    dt = s["step_h"]
    ceiling = max(row["regulation_v"], cell.open_v)
    regulated = bus > ceiling
    bus = min(bus, ceiling)
    watts, amps, siemens = loads
    array_w = row["array_w"] * s["strings"]
    offered = array_w / bus if direct_a is None else direct_a
    drawn = watts / bus + amps + siemens * bus
    limits = [
        _passed_a(row, s, bus, direct_a) + row["steady_w"] / bus - drawn,
        s["charge_limit_a"] * row["charge_share"],
        removed / (cell.efficiency * dt),
    ]
    if regulated:
        limits.append((bus - cell.open_v) / cell.in_ohm)
    battery_a = max(0.0, min(limits))
    after = max(0.0, removed - battery_a * cell.efficiency * dt)
    return Hour(after, bus, battery_a, battery_a + drawn, offered, 1, 0)


def _meet(
    row: Any,
    currents: Any,
    s: Any,
    cell: _Cell,
    loads: tuple[float, float, float],
) -> tuple[float, bool, float | None]:
    """Return bus voltage, whether it charges, and a direct connection's current."""
    watts, amps, siemens = loads
    own_w = row["steady_w"]
    most_w, most_a = _limits(row, s)
    if not len(currents):
        array_w = min(row["array_w"] * s["strings"], most_w)
        bus, charging = _solve(cell, array_w + own_w - watts, -amps, siemens)
        if 0 < bus * most_a < array_w:
            up = charging
            bus, charging = _solve(cell, own_w - watts, most_a - amps, siemens)
            if charging and not up:
                return -1.0, False, None
        return bus, charging, None
    direct_a = _offered_a(currents, s, cell.open_v)
    bus, charging = _solve(cell, own_w - watts, min(direct_a, most_a) - amps, siemens)
    if bus > 0:
        direct_a = _offered_a(currents, s, bus)
        linked_a = min(direct_a, most_a)
        bus, charging = _solve(cell, own_w - watts, linked_a - amps, siemens)
    return bus, charging, direct_a


def _try(
    row: Any,
    currents: Any,
    tables: Any,
    s: Any,
    removed: float,
    loads: tuple[float, float, float],
) -> Hour | None:
    """Return the interval with these loads, or None when the bus collapses."""
    cell = _cell(row, tables, s, removed)
    watts, amps, siemens = loads
    bus, charging, direct_a = _meet(row, currents, s, cell, loads)
    if charging:
        return _charge(row, s, cell, removed, bus, direct_a, loads)
    if bus <= 0:
        return None
    offered = row["array_w"] * s["strings"] / bus if direct_a is None else direct_a
    used = _passed_a(row, s, bus, direct_a) + row["steady_w"] / bus
    battery_a = used - (watts / bus + amps + siemens * bus)
    after = removed - battery_a * s["step_h"]
    return Hour(after, bus, battery_a, used, offered, 1, 0)


def _is_charging(
    row: Any,
    currents: Any,
    tables: Any,
    s: Any,
    removed: float,
    loads: tuple[float, float, float],
) -> bool:
    cell = _cell(row, tables, s, removed)
    return _meet(row, currents, s, cell, loads)[1]


def _asked(row: Any, s: Any, tiers: list[int]) -> tuple[float, float, float]:
    """Return watts, amperes and siemens of the base draw and the tiers connected."""
    watts, siemens = row["base_w"], 0.0
    amps = s["base_a"] - row["base_less_a"]
    for tier in tiers:
        in_watts, in_amps, in_siemens = k.TIERS[tier]
        watts += row[in_watts]
        amps += row[in_amps]
        siemens += row[in_siemens]
    return watts, amps, siemens


def _overloaded(
    row: Any, s: Any, loads: tuple[float, float, float], volts: float
) -> bool:
    """Return whether the switched loads draw more than the load terminals bear."""
    base_w, base_a, _ = _asked(row, s, [])
    watts, amps, siemens = loads
    drawn = amps - base_a + (watts - base_w) / volts + siemens * volts
    return bool(0 < s["load_limit_a"] < drawn)


def _empty(row: Any, s: Any, hour: Hour | None) -> bool:
    """Return whether the charge is used up, or down to the disconnect state."""
    if hour is None:
        return False
    held = s["charge_ah"]
    state = 1 - hour.removed_ah / held
    cold = held * row["capacity"]
    return bool(hour.removed_ah > cold or state < s["trip_state"])


def _sheds(s: Any, hour: Hour | None, removed: float, tier: int) -> bool:
    """Return whether a tier's own step acts on what the bus came to."""
    volts, state = {
        1: (s["first_v"], s["first_state"]),
        2: (s["second_v"], s["second_state"]),
    }[tier]
    after = removed if hour is None else hour.removed_ah
    low = volts > 0 and (hour is None or hour.bus_v < volts)
    return bool(low or 1 - after / s["charge_ah"] < state)


def _dark(row: Any, tables: Any, s: Any, removed: float, switches: Switches) -> bool:
    """Return whether the battery is too low for the regulator to work at all."""
    lowest = s["restart_v"]
    if lowest <= 0:
        return False
    return bool(switches.flat or _cell(row, tables, s, removed).open_v < lowest)


def _with_loads(
    row: Any,
    currents: Any,
    tables: Any,
    s: Any,
    removed: float,
    switches: Switches,
) -> tuple[Hour | None, list[int], int, float]:
    """Return the interval with the loads on, the tiers left, the cause, time below."""
    tiers = [0]
    tiers += [1] if switches.first else []
    tiers += [2] if switches.second else []
    while True:
        loads = _asked(row, s, tiers)
        if _overloaded(row, s, loads, _cell(row, tables, s, removed).open_v):
            return None, tiers, 3, 0.0
        hour = _try(row, currents, tables, s, removed, loads)
        if _is_charging(row, currents, tables, s, removed, loads):
            return hour, tiers, 0, 0.0
        opened = [t for t in (1, 2) if t in tiers and _sheds(s, hour, removed, t)]
        if not opened:
            break
        tiers.remove(opened[0])
    if _empty(row, s, hour):
        return hour, tiers, 2, 0.0
    if hour is None:
        return hour, tiers, 1, 0.0
    below = switches.below_h + s["step_h"] if hour.bus_v < s["trip_v"] else 0.0
    trips = below > s["delay_h"]
    return hour, tiers, int(trips), 0.0 if trips else below


def step(
    row: Any, currents: Any, tables: Any, s: Any, removed: float, switches: Switches
) -> tuple[Hour, Switches]:
    """Return one interval's result and the switches of the next.

    Parameters
    ----------
    row, currents, tables, s, removed
        As in `powerbudget.balance.kernel.step`.
    switches
        As the interval before left them.

    Returns
    -------
    tuple of Hour and Switches
        Result and next switches.
    """
    switches, row = _at_stage(row, currents, s, switches)
    locked = _dark(row, tables, s, removed, switches)
    before = 1 - removed / s["charge_ah"]
    machine, offer = ask(row, s, switches.machine, before)
    steady_w = row["steady_w"]
    row = row.copy()
    row["steady_w"] += offer.power_w
    linked = s
    if locked:
        linked = s.copy()
        linked["strings"] = 0.0
    case = (row, currents, tables, linked, removed)
    hour: Hour | None = None
    tiers: list[int] = []
    cause, below_h, served = 0, 0.0, 0
    if switches.on:
        hour, tiers, cause, below_h = _with_loads(*case, switches)
        served = 1 if cause == 0 else 0
    if not served:
        idle = _asked(row, s, [])
        hour = _try(*case, idle)
        spent = hour is None or hour.removed_ah > s["charge_ah"]
        if spent and not _is_charging(*case, idle):
            served = -1
            hour = _try(*case, (0.0, 0.0, 0.0))
    assert hour is not None
    ceiling = max(row["regulation_v"], _cell(row, tables, s, removed).open_v)
    held = s["charge_ah"]
    lost = max(0.0, row["self_per_h"] * s["step_h"] * (held - hour.removed_ah))
    hour, machine = _shared(row, s, hour, (steady_w, offer), machine)
    offered = hour.offered_a
    if locked and len(currents):
        offered = _offered_a(currents, s, _before_last(case, tiers, served))
    result = replace(
        hour,
        removed_ah=hour.removed_ah + lost,
        offered_a=offered,
        served=served,
        cause=cause,
        first=int(served == 1 and 1 in tiers),
        second=int(served == 1 and 2 in tiers),
        locked=int(locked),
    )
    kept = (
        (1 in tiers, 2 in tiers) if switches.on else (switches.first, switches.second)
    )
    after = _next(s, result, switches, kept, below_h)
    floating, absorbed_h = _stage(s, result, switches, ceiling)
    after = replace(after, floating=floating, absorbed_h=absorbed_h, lit=switches.lit)
    return result, replace(after, machine=machine)


def _at_stage(
    row: Any, currents: Any, s: Any, before: Switches
) -> tuple[Switches, Any]:
    """Return the stage as the interval begins, a new one at dawn, and its voltage."""
    if s["float_drop_v"] <= 0:
        return before, row
    lit = bool(row["array_w"] > 0 or (len(currents) and currents[0] > 0))
    if lit and not before.lit:
        before = replace(before, floating=False, absorbed_h=0.0)
    row = row.copy()
    if before.floating:
        row["regulation_v"] -= s["float_drop_v"]
    return replace(before, lit=lit), row


def _stage(s: Any, hour: Hour, before: Switches, ceiling: float) -> tuple[bool, float]:
    """Return whether absorption is over after an interval, and how long it was held."""
    if before.floating:
        stays = not hour.bus_v < s["recharge_v"]
        return stays, before.absorbed_h if stays else 0.0
    if s["float_drop_v"] <= 0 or hour.battery_a < 0 or hour.bus_v < ceiling:
        return False, before.absorbed_h
    held_h = before.absorbed_h + s["step_h"]
    ends = held_h >= s["absorb_h"] or hour.battery_a < s["tail_a"]
    return ends, held_h


def _shared(
    row: Any, s: Any, hour: Hour, offers: tuple[float, Offer], machine: Machine
) -> tuple[Hour, Machine]:
    """Return who gave the current used: the sun first, the following source last."""
    steady_w, offer = offers
    most_w, most_a = _limits(row, s)
    most_a = min(most_a, most_w / hour.bus_v)
    from_array = min(hour.array_a, hour.offered_a, most_a)
    left = hour.array_a - from_array
    steady_a = min(left, steady_w / hour.bus_v)
    source_a = min(left - steady_a, offer.power_w / hour.bus_v)
    if s["source"] < 0.5:
        source_a = 0.0
    machine, burnt = settle(s, machine, offer, source_a * hour.bus_v, hour.bus_v)
    stock = machine.fuel_wh if s["source"] > 0.5 else 0.0
    shared = replace(
        hour,
        array_a=from_array,
        steady_a=steady_a,
        source_a=source_a,
        source_h=offer.share * s["step_h"],
        fuel_wh=burnt,
        stock_wh=stock,
        code=offer.code,
    )
    return shared, machine


def _before_last(case: Any, tiers: list[int], served: int) -> float:
    """Return the voltage at which a dark regulator's array current is read."""
    row, currents, tables, s, removed = case
    cell = _cell(row, tables, s, removed)
    loads = (0.0, 0.0, 0.0)
    if served >= 0:
        loads = _asked(row, s, tiers if served == 1 else [])
    bus, _ = _solve(cell, row["steady_w"] - loads[0], -loads[1], loads[2])
    del currents
    return bus if bus > 0 else cell.open_v


def _next(
    s: Any,
    hour: Hour,
    before: Switches,
    kept: tuple[bool, bool],
    below_h: float,
) -> Switches:
    """Return the switches: what opened just now stays open, the rest by its rule."""
    state = 1 - hour.removed_ah / s["charge_ah"]
    by_state = s["trip_state"] >= 0
    rule = state >= s["return_state"] if by_state else hour.bus_v >= s["return_v"]
    first = hour.bus_v >= s["first_return_v"] and state >= s["first_return_state"]
    second = hour.bus_v >= s["second_return_v"] and state >= s["second_return_state"]
    return Switches(
        on=hour.served == 1 or (not before.on and bool(rule)),
        first=kept[0] if before.first else bool(first),
        second=kept[1] if before.second else bool(second),
        below_h=below_h,
        flat=before.flat or hour.served == -1,
    )


def simulate(
    hourly: Any, currents: Any, tables: Any, s: Any, removed: float
) -> list[Hour]:
    """Return every interval's result; the plain twin of the compiled kernel.

    Parameters
    ----------
    hourly, currents, tables, s, removed
        As in `powerbudget.balance.kernel.simulate`.

    Returns
    -------
    list of Hour
        One for each interval.
    """
    switches, hours = Switches(machine=Machine(s["source_tank_wh"])), []
    for row, string in zip(hourly, currents, strict=True):
        hour, switches = step(row, string, tables, s, removed, switches)
        removed = hour.removed_ah
        hours.append(hour)
    return hours
