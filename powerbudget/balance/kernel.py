"""The compiled hour-by-hour balance.  `twin` holds the same physics in plain Python.

One row of ``hourly`` is one interval; columns are named in
`powerbudget.balance.columns`.
State is charge removed from full in Ah, so cold hides capacity without destroying
it.  The bus voltage of an interval solves a quadratic, because constant-power
loads draw more current when it sags.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit

from powerbudget.balance.columns import (
    H_ARRAY_W,
    H_CAPACITY,
    H_CHARGE_OK,
    H_CHARGE_RATIO,
    H_DISCHARGE_RATIO,
    H_LOAD_A,
    H_LOAD_S,
    H_LOAD_W,
    H_OPEN_SHIFT_V,
    H_REGULATION_V,
    H_SELF_PER_H,
    R_ARRAY_A,
    R_BATTERY_A,
    R_BUS_V,
    R_CAUSE,
    R_OFFERED_A,
    R_REMOVED_AH,
    R_SERVED,
    RESULT_COLUMNS,
    S_BASE_A,
    S_CHARGE_AH,
    S_CHARGE_LIMIT_A,
    S_DROP_V,
    S_NODE_FIRST_V,
    S_NODE_STEP_V,
    S_RATED_AH,
    S_RETURN_STATE,
    S_RETURN_V,
    S_STEP_H,
    S_STRINGS,
    S_TRIP_STATE,
    S_TRIP_V,
    T_CHARGE,
    T_DISCHARGE,
    T_EFFICIENCY,
    T_OPEN_V,
)


@njit(cache=True, inline="always")
def _lookup(table: Any, state: float) -> float:
    """Return a state table's value, straight lines between whole percents."""
    if state <= 0.0:
        return float(table[0])
    if state >= 1.0:
        return float(table[100])
    place = state * 100.0
    low = int(place)
    return float(table[low] + (table[low + 1] - table[low]) * (place - low))


@njit(cache=True, inline="always")
def _string_a(currents: Any, first_v: float, step_v: float, array_v: float) -> float:
    """Return one string's current at an array voltage from its table."""
    last = currents.shape[0] - 1
    place = (array_v - first_v) / step_v
    if place <= 0.0:
        return float(currents[0])
    if place >= last:
        return float(currents[last])
    low = int(place)
    return float(currents[low] + (currents[low + 1] - currents[low]) * (place - low))


@njit(cache=True, inline="always")
def _bus_v(
    open_v: float, ohm: float, power_w: float, amps: float, siemens: float
) -> float:
    """Return the bus voltage for net power and current offered, -1 on collapse."""
    a = 1.0 + ohm * siemens
    b = open_v + ohm * amps
    disc = b * b + 4.0 * a * ohm * power_w
    if disc < 0.0:
        return -1.0
    return (b + math.sqrt(disc)) / (2.0 * a)


@njit(cache=True)
def step(
    row: Any, currents: Any, tables: Any, s: Any, removed: float, on: bool, out: Any
) -> bool:
    """Advance one interval, write its results to ``out``, return whether loads stay on.

    Parameters
    ----------
    row
        One row of ``hourly`` [see ``H_*``].
    currents
        One string's current at the voltage nodes, empty for power-point tracking [A].
    tables
        State tables [see ``T_*``].
    s
        Scalars [see ``S_*``].
    removed
        Charge removed from full at the start [Ah].
    on
        Whether the loads are connected.
    out
        Result row, overwritten [see ``R_*``].

    Returns
    -------
    bool
        Whether the loads are connected in the next interval.
    """
    dt = s[S_STEP_H]
    held = s[S_CHARGE_AH]
    state = 1.0 - removed / held
    open_v = _lookup(tables[T_OPEN_V], state) + row[H_OPEN_SHIFT_V]
    left = 1.0 - removed / (held * row[H_CAPACITY]) if row[H_CAPACITY] > 0.0 else 0.0
    r_out = _lookup(tables[T_DISCHARGE], left) * row[H_DISCHARGE_RATIO] / s[S_RATED_AH]
    r_in = _lookup(tables[T_CHARGE], state) * row[H_CHARGE_RATIO] / s[S_RATED_AH]
    direct = currents.shape[0] > 0
    array_w = 0.0 if direct else row[H_ARRAY_W] * s[S_STRINGS]
    cause = 0.0
    served = 1.0 if on else 0.0

    while True:
        load_w = row[H_LOAD_W] if served > 0.5 else 0.0
        load_a = row[H_LOAD_A] if served > 0.5 else 0.0
        load_s = row[H_LOAD_S] if served > 0.5 else 0.0
        base_a = s[S_BASE_A] if served > -0.5 else 0.0

        bus = open_v
        offered = 0.0
        charging = False
        # Twice: the direct connection's current is read at the bus voltage that it
        # itself helps to set.
        for _ in range(2):
            if direct:
                offered = s[S_STRINGS] * _string_a(
                    currents, s[S_NODE_FIRST_V], s[S_NODE_STEP_V], bus + s[S_DROP_V]
                )
            net_a = offered - load_a - base_a
            net_w = array_w - load_w
            charging = net_a + net_w / open_v - load_s * open_v > 0.0
            ohm = r_in if charging else r_out
            bus = _bus_v(open_v, ohm, net_w, net_a, load_s)
            if not direct or bus <= 0.0:
                break

        if charging:
            limited = False
            ceiling = max(row[H_REGULATION_V], open_v)
            if bus > ceiling:
                bus = ceiling
                limited = True
            if not direct:
                offered = array_w / bus
            drawn = load_w / bus + load_a + load_s * bus + base_a
            battery_a = offered - drawn
            most = (bus - open_v) / r_in if limited else battery_a
            most = min(most, s[S_CHARGE_LIMIT_A])
            most = min(most, removed / (_lookup(tables[T_EFFICIENCY], state) * dt))
            if row[H_CHARGE_OK] < 0.5:
                most = 0.0
            battery_a = max(0.0, min(battery_a, most))
            used = battery_a + drawn
            gained = battery_a * _lookup(tables[T_EFFICIENCY], state) * dt
            removed_new = max(0.0, removed - gained)
            break

        if bus > 0.0:
            if not direct:
                offered = array_w / bus
            drawn = load_w / bus + load_a + load_s * bus + base_a
            used = offered
            battery_a = used - drawn
            removed_new = removed - battery_a * dt
        else:
            drawn = 0.0
            used = 0.0
            battery_a = 0.0
            removed_new = removed
        if served > 0.5:
            too_low = bus <= 0.0 or bus < s[S_TRIP_V]
            empty = bus > 0.0 and (
                removed_new > held * row[H_CAPACITY]
                or 1.0 - removed_new / held < s[S_TRIP_STATE]
            )
            if too_low or empty:
                cause = 2.0 if empty else 1.0
                served = 0.0
                continue
        elif served > -0.5 and (bus <= 0.0 or removed_new > held):
            served = -1.0
            continue
        elif bus <= 0.0:
            bus = open_v
        break

    lost = max(0.0, row[H_SELF_PER_H] * dt * (held - removed_new))
    out[R_REMOVED_AH] = removed_new + lost
    out[R_BUS_V] = bus
    out[R_BATTERY_A] = battery_a
    out[R_ARRAY_A] = used
    out[R_OFFERED_A] = offered
    out[R_SERVED] = served
    out[R_CAUSE] = cause
    if served > 0.5:
        return True
    if on:
        return False
    if s[S_TRIP_STATE] >= 0.0:
        return bool(1.0 - out[R_REMOVED_AH] / held >= s[S_RETURN_STATE])
    return bool(bus >= s[S_RETURN_V])


@njit(cache=True)
def simulate(
    hourly: Any, currents: Any, tables: Any, s: Any, removed: float, out: Any
) -> None:
    """Run every interval and fill ``out`` [see ``R_*``].

    Parameters
    ----------
    hourly, currents, tables, s
        As in `step`, one row of ``hourly`` and ``currents`` for each interval.
    removed
        Charge removed from full at the start [Ah].
    out
        Array of shape (intervals, ``RESULT_COLUMNS``), overwritten.
    """
    on = True
    for k in range(hourly.shape[0]):
        on = step(hourly[k], currents[k], tables, s, removed, on, out[k])
        removed = out[k, R_REMOVED_AH]


@njit(cache=True)
def holds(
    hourly: Any,
    tables: Any,
    s: Any,
    starts: Any,
    removed_at: Any,
    most: int,
    prune: bool,
) -> Any:
    """Return how many intervals the loads last without any charge, for each start.

    Parameters
    ----------
    hourly, tables, s
        As in `simulate`; the array's column is taken as zero, and the record is
        wrapped at its end.
    starts
        Index of the first dark interval of each trial.
    removed_at
        Charge removed at the start of each trial [Ah].
    most
        Give up after so many intervals [count].
    prune
        Stop a trial that has outlasted the shortest one so far; its count is then a
        lower bound.

    Returns
    -------
    array of int
        Intervals held, one for each start.
    """
    n = hourly.shape[0]
    out = np.zeros(RESULT_COLUMNS)
    row = np.zeros(hourly.shape[1])
    dark = np.zeros(0)
    counts = np.zeros(starts.shape[0], np.int64)
    limit = most
    for trial in range(starts.shape[0]):
        removed = removed_at[trial]
        held = 0
        while held < limit:
            row[:] = hourly[(starts[trial] + held) % n]
            row[H_ARRAY_W] = 0.0
            if not step(row, dark, tables, s, removed, True, out):
                break
            removed = out[R_REMOVED_AH]
            held += 1
        counts[trial] = held
        if prune and held < limit:
            limit = held
    return counts
