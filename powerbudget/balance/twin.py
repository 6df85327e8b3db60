"""The balance in plain Python: slow, readable, written apart from the kernel.

It is the reference that the compiled kernel is held to.  It looks curves up with
`numpy.interp`, solves the bus voltage by the quadratic formula written out, and
decides by early returns where the kernel loops.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

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
    """

    removed_ah: float
    bus_v: float
    battery_a: float
    array_a: float
    offered_a: float
    served: int
    cause: int


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
    state = 1.0 - removed / s[k.S_CHARGE_AH]
    cold_ah = s[k.S_CHARGE_AH] * row[k.H_CAPACITY]
    left = 1.0 - removed / cold_ah if cold_ah > 0 else 0.0
    rated = s[k.S_RATED_AH]
    return _Cell(
        open_v=_at(tables[k.T_OPEN_V], state) + row[k.H_OPEN_SHIFT_V],
        out_ohm=_at(tables[k.T_DISCHARGE], left) * row[k.H_DISCHARGE_RATIO] / rated,
        in_ohm=_at(tables[k.T_CHARGE], state) * row[k.H_CHARGE_RATIO] / rated,
        efficiency=_at(tables[k.T_EFFICIENCY], state),
    )


def _offered_a(currents: Any, s: Any, bus_v: float) -> float:
    nodes = s[k.S_NODE_FIRST_V] + s[k.S_NODE_STEP_V] * np.arange(len(currents))
    return float(s[k.S_STRINGS] * np.interp(bus_v + s[k.S_DROP_V], nodes, currents))


def _solve(
    cell: _Cell, watts: float, amps: float, siemens: float
) -> tuple[float, bool]:
    """Return bus voltage (not above 0 on collapse) and whether it charges."""
    charging = amps + watts / cell.open_v - siemens * cell.open_v > 0
    ohm = cell.in_ohm if charging else cell.out_ohm
    a, b = 1 + ohm * siemens, cell.open_v + ohm * amps
    root = b * b + 4 * a * ohm * watts
    return (-1.0 if root < 0 else (b + math.sqrt(root)) / (2 * a)), charging


def _charge(
    row: Any,
    s: Any,
    cell: _Cell,
    removed: float,
    bus: float,
    direct_a: float | None,
    loads: tuple[float, float, float],
) -> Hour:
    dt = s[k.S_STEP_H]
    ceiling = max(row[k.H_REGULATION_V], cell.open_v)
    regulated = bus > ceiling
    bus = min(bus, ceiling)
    watts, amps, siemens = loads
    array_w = row[k.H_ARRAY_W] * s[k.S_STRINGS]
    offered = array_w / bus if direct_a is None else direct_a
    drawn = watts / bus + amps + siemens * bus
    limits = [
        offered - drawn,
        s[k.S_CHARGE_LIMIT_A],
        removed / (cell.efficiency * dt),
    ]
    if regulated:
        limits.append((bus - cell.open_v) / cell.in_ohm)
    battery_a = max(0.0, min(limits)) if row[k.H_CHARGE_OK] >= 0.5 else 0.0
    after = max(0.0, removed - battery_a * cell.efficiency * dt)
    return Hour(after, bus, battery_a, battery_a + drawn, offered, 1, 0)


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
    direct_a: float | None = None
    array_w = 0.0
    if len(currents):
        direct_a = _offered_a(currents, s, cell.open_v)
        bus, charging = _solve(cell, -watts, direct_a - amps, siemens)
        if bus > 0:
            direct_a = _offered_a(currents, s, bus)
            bus, charging = _solve(cell, -watts, direct_a - amps, siemens)
    else:
        array_w = row[k.H_ARRAY_W] * s[k.S_STRINGS]
        bus, charging = _solve(cell, array_w - watts, -amps, siemens)
    if charging:
        return _charge(row, s, cell, removed, bus, direct_a, loads)
    if bus <= 0:
        return None
    offered = array_w / bus if direct_a is None else direct_a
    battery_a = offered - (watts / bus + amps + siemens * bus)
    after = removed - battery_a * s[k.S_STEP_H]
    return Hour(after, bus, battery_a, offered, offered, 1, 0)


def _trips(row: Any, s: Any, hour: Hour | None) -> int:
    """Return 0 when the loads stay on, else the cause."""
    if hour is None:
        return 1
    if hour.battery_a >= 0 and hour.removed_ah <= 0:
        return 0
    held = s[k.S_CHARGE_AH]
    state = 1 - hour.removed_ah / held
    if hour.removed_ah > held * row[k.H_CAPACITY] or state < s[k.S_TRIP_STATE]:
        return 2
    return 1 if hour.bus_v < s[k.S_TRIP_V] else 0


def _is_charging(
    row: Any,
    currents: Any,
    tables: Any,
    s: Any,
    removed: float,
    loads: tuple[float, float, float],
) -> bool:
    cell = _cell(row, tables, s, removed)
    watts, amps, siemens = loads
    if not len(currents):
        watts_net = row[k.H_ARRAY_W] * s[k.S_STRINGS] - watts
        return _solve(cell, watts_net, -amps, siemens)[1]
    direct_a = _offered_a(currents, s, cell.open_v)
    bus, charging = _solve(cell, -watts, direct_a - amps, siemens)
    if bus > 0:
        direct_a = _offered_a(currents, s, bus)
        _, charging = _solve(cell, -watts, direct_a - amps, siemens)
    return charging


def step(
    row: Any, currents: Any, tables: Any, s: Any, removed: float, on: bool
) -> tuple[Hour, bool]:
    """Return one interval's result and whether the loads are on in the next.

    Parameters
    ----------
    row, currents, tables, s, removed, on
        As in `powerbudget.balance.kernel.step`.

    Returns
    -------
    tuple of Hour and bool
        Result and next switch position.
    """
    base = s[k.S_BASE_A]
    loads = (row[k.H_LOAD_W], row[k.H_LOAD_A] + base, row[k.H_LOAD_S])
    held = s[k.S_CHARGE_AH]
    cause = 0
    hour: Hour | None = None
    served = 0
    if on:
        hour = _try(row, currents, tables, s, removed, loads)
        if not _is_charging(row, currents, tables, s, removed, loads):
            cause = _trips(row, s, hour)
        served = 1 if cause == 0 else 0
    if not served:
        idle = (0.0, base, 0.0)
        hour = _try(row, currents, tables, s, removed, idle)
        charging = _is_charging(row, currents, tables, s, removed, idle)
        if hour is None or (not charging and hour.removed_ah > held):
            served = -1
            hour = _try(row, currents, tables, s, removed, (0.0, 0.0, 0.0))
    assert hour is not None
    lost = max(0.0, row[k.H_SELF_PER_H] * s[k.S_STEP_H] * (held - hour.removed_ah))
    result = Hour(
        hour.removed_ah + lost, hour.bus_v, hour.battery_a, hour.array_a,
        hour.offered_a, served, cause,
    )  # fmt: skip
    return result, _next_switch(s, result, on=on)


def _next_switch(s: Any, hour: Hour, *, on: bool) -> bool:
    if hour.served == 1:
        return True
    if on:
        return False
    if s[k.S_TRIP_STATE] >= 0:
        state = 1 - hour.removed_ah / s[k.S_CHARGE_AH]
        return bool(state >= s[k.S_RETURN_STATE])
    return bool(hour.bus_v >= s[k.S_RETURN_V])


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
    on, hours = True, []
    for row, string in zip(hourly, currents, strict=True):
        hour, on = step(row, string, tables, s, removed, on)
        removed = hour.removed_ah
        hours.append(hour)
    return hours
