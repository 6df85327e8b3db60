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
    H_BASE_W,
    H_CAPACITY,
    H_CHARGE_RATIO,
    H_CHARGE_SHARE,
    H_DISCHARGE_RATIO,
    H_FIRST_A,
    H_FIRST_S,
    H_FIRST_W,
    H_LOAD_A,
    H_LOAD_S,
    H_LOAD_W,
    H_OPEN_SHIFT_V,
    H_REGULATION_V,
    H_SECOND_A,
    H_SECOND_S,
    H_SECOND_W,
    H_SELF_PER_H,
    H_STEADY_W,
    M_BELOW_H,
    M_FIRST,
    M_LOCKED,
    M_ON,
    M_SECOND,
    R_BATTERY_A,
    R_BUS_V,
    R_CAUSE,
    R_FIRST,
    R_LOCKED,
    R_OFFERED_A,
    R_REMOVED_AH,
    R_SECOND,
    R_SERVED,
    RESULT_COLUMNS,
    S_BASE_A,
    S_CHARGE_AH,
    S_CHARGE_LIMIT_A,
    S_DELAY_H,
    S_DROP_V,
    S_FIRST_RETURN_STATE,
    S_FIRST_RETURN_V,
    S_FIRST_STATE,
    S_FIRST_V,
    S_NODE_FIRST_V,
    S_NODE_STEP_V,
    S_RATED_AH,
    S_RESTART_V,
    S_RETURN_STATE,
    S_RETURN_V,
    S_SECOND_RETURN_STATE,
    S_SECOND_RETURN_V,
    S_SECOND_STATE,
    S_SECOND_V,
    S_SOURCE,
    S_STEP_H,
    S_STRINGS,
    S_TRIP_STATE,
    S_TRIP_V,
    SWITCHES,
    T_CHARGE,
    T_DISCHARGE,
    T_EFFICIENCY,
    T_OPEN_V,
)
from powerbudget.balance.dispatch import reset, share_out, wake


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


@njit(cache=True, inline="always")
def _crossed(bus: float, state: float, low_v: float, low_state: float) -> bool:
    """Return whether a shed step acts; 0 V and state -1 never do."""
    return (low_v > 0.0 and bus < low_v) or state < low_state


@njit(cache=True, inline="always")
def _switch_back(
    s: Any, mode: Any, bus: float, state: float, was: Any, served: float
) -> None:
    """Set the switches for the next interval; one that just opened stays open."""
    on, first, second = was
    if served > 0.5:
        mode[M_ON] = 1.0
    elif on:
        mode[M_ON] = 0.0
    elif s[S_TRIP_STATE] >= 0.0:
        mode[M_ON] = 1.0 if state >= s[S_RETURN_STATE] else 0.0
    else:
        mode[M_ON] = 1.0 if bus >= s[S_RETURN_V] else 0.0
    if not first and bus >= s[S_FIRST_RETURN_V] and state >= s[S_FIRST_RETURN_STATE]:
        mode[M_FIRST] = 1.0
    if not second and bus >= s[S_SECOND_RETURN_V] and state >= s[S_SECOND_RETURN_STATE]:
        mode[M_SECOND] = 1.0


@njit(cache=True)
def step(
    row: Any, currents: Any, tables: Any, s: Any, removed: float, mode: Any, out: Any
) -> None:
    """Advance one interval: write its results to ``out`` and the switches to ``mode``.

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
    mode
        Switches, overwritten with those of the next interval [see ``M_*``].
    out
        Result row, overwritten [see ``R_*``].
    """
    dt = s[S_STEP_H]
    held = s[S_CHARGE_AH]
    state = 1.0 - removed / held
    open_v = _lookup(tables[T_OPEN_V], state) + row[H_OPEN_SHIFT_V]
    on, first, second = mode[M_ON] > 0.5, mode[M_FIRST] > 0.5, mode[M_SECOND] > 0.5
    was = (on, first, second)
    locked = s[S_RESTART_V] > 0.0 and (mode[M_LOCKED] > 0.5 or open_v < s[S_RESTART_V])
    direct = currents.shape[0] > 0
    strings = 0.0 if locked else s[S_STRINGS]
    array_w = 0.0 if direct else row[H_ARRAY_W] * strings
    steady_w = row[H_STEADY_W]
    source_w = share = code = 0.0
    if s[S_SOURCE] > 0.5:
        source_w, share, code = wake(row, s, mode, state)
    own_w = steady_w + source_w
    r_out = -1.0
    r_in = -1.0
    cause = 0.0
    below_h = 0.0
    served = 1.0 if on else 0.0

    while True:
        load_w = 0.0
        load_a = 0.0
        load_s = 0.0
        if served > -0.5:
            load_w = row[H_BASE_W]
            load_a = s[S_BASE_A]
        if served > 0.5:
            load_w += row[H_LOAD_W]
            load_a += row[H_LOAD_A]
            load_s += row[H_LOAD_S]
            if first:
                load_w += row[H_FIRST_W]
                load_a += row[H_FIRST_A]
                load_s += row[H_FIRST_S]
            if second:
                load_w += row[H_SECOND_W]
                load_a += row[H_SECOND_A]
                load_s += row[H_SECOND_S]

        bus = open_v
        offered = 0.0
        linked = 0.0
        charging = False
        # Twice: the direct connection's current is read at the bus voltage that it
        # itself helps to set.
        for _ in range(2):
            if direct:
                string_a = _string_a(
                    currents, s[S_NODE_FIRST_V], s[S_NODE_STEP_V], bus + s[S_DROP_V]
                )
                offered = s[S_STRINGS] * string_a
                linked = strings * string_a
            net_a = linked - load_a
            net_w = array_w + own_w - load_w
            charging = net_a + net_w / open_v - load_s * open_v > 0.0
            if charging:
                if r_in < 0.0:
                    r_in = _lookup(tables[T_CHARGE], state) * row[H_CHARGE_RATIO]
                    r_in /= s[S_RATED_AH]
                ohm = r_in
            else:
                if r_out < 0.0:
                    left = 0.0
                    if row[H_CAPACITY] > 0.0:
                        left = 1.0 - removed / (held * row[H_CAPACITY])
                    r_out = _lookup(tables[T_DISCHARGE], left) * row[H_DISCHARGE_RATIO]
                    r_out /= s[S_RATED_AH]
                ohm = r_out
            bus = _bus_v(open_v, ohm, net_w, net_a, load_s)
            # Falling short at rest voltage, a bus above it is no way out: from rest
            # the voltage goes down and finds no balance.
            if not charging and bus > open_v:
                bus = -1.0
            if not direct or bus <= 0.0:
                break

        if charging:
            limited = False
            ceiling = max(row[H_REGULATION_V], open_v)
            if bus > ceiling:
                bus = ceiling
                limited = True
            if not direct:
                offered = linked = array_w / bus
            drawn = load_w / bus + load_a + load_s * bus
            battery_a = linked + own_w / bus - drawn
            most = (bus - open_v) / r_in if limited else battery_a
            most = min(most, s[S_CHARGE_LIMIT_A] * row[H_CHARGE_SHARE])
            efficiency = _lookup(tables[T_EFFICIENCY], state)
            most = min(most, removed / (efficiency * dt))
            battery_a = max(0.0, min(battery_a, most))
            used = battery_a + drawn
            gained = battery_a * efficiency * dt
            removed_new = max(0.0, removed - gained)
            break

        if bus > 0.0:
            if not direct:
                offered = linked = array_w / bus
            drawn = load_w / bus + load_a + load_s * bus
            used = linked + own_w / bus
            battery_a = used - drawn
            removed_new = removed - battery_a * dt
        else:
            used = 0.0
            battery_a = 0.0
            removed_new = removed
        if served > 0.5:
            left_new = 1.0 - removed_new / held
            if first and _crossed(bus, left_new, s[S_FIRST_V], s[S_FIRST_STATE]):
                first = False
                mode[M_FIRST] = 0.0
                continue
            if second and _crossed(bus, left_new, s[S_SECOND_V], s[S_SECOND_STATE]):
                second = False
                mode[M_SECOND] = 0.0
                continue
            empty = bus > 0.0 and (
                removed_new > held * row[H_CAPACITY] or left_new < s[S_TRIP_STATE]
            )
            if bus > 0.0 and bus < s[S_TRIP_V]:
                below_h = mode[M_BELOW_H] + dt
            if empty or bus <= 0.0 or below_h > s[S_DELAY_H]:
                cause = 2.0 if empty else 1.0
                served = 0.0
                below_h = 0.0
                continue
        elif served > -0.5 and (bus <= 0.0 or removed_new > held):
            served = -1.0
            continue
        elif bus <= 0.0:
            bus = open_v
        break

    removed_new += max(0.0, row[H_SELF_PER_H] * dt * (held - removed_new))
    out[R_REMOVED_AH] = removed_new
    out[R_BUS_V] = bus
    out[R_BATTERY_A] = battery_a
    share_out(s, mode, out, bus, (used, linked), (steady_w, source_w, share, code))
    out[R_OFFERED_A] = offered
    out[R_SERVED] = served
    out[R_CAUSE] = cause
    out[R_FIRST] = 1.0 if first and served > 0.5 else 0.0
    out[R_SECOND] = 1.0 if second and served > 0.5 else 0.0
    out[R_LOCKED] = 1.0 if locked else 0.0
    mode[M_BELOW_H] = below_h
    if served < -0.5:
        mode[M_LOCKED] = 1.0
    if served > 0.5 and first and second:
        return
    _switch_back(s, mode, bus, 1.0 - removed_new / held, was, served)


@njit(cache=True, nogil=True)
def go_on(
    hourly: Any,
    currents: Any,
    tables: Any,
    s: Any,
    removed: float,
    mode: Any,
    out: Any,
) -> None:
    """Run every interval from switches as they stand, and leave them as they end.

    Parameters
    ----------
    hourly, currents, tables, s
        As in `step`, one row of ``hourly`` and ``currents`` for each interval.
    removed
        Charge removed from full at the start [Ah].
    mode
        Switches, overwritten with those after the last interval [see ``M_*``].
    out
        Array of shape (intervals, ``RESULT_COLUMNS``), overwritten [see ``R_*``].
    """
    for k in range(hourly.shape[0]):
        step(hourly[k], currents[k], tables, s, removed, mode, out[k])
        removed = out[k, R_REMOVED_AH]


@njit(cache=True, nogil=True)
def simulate(
    hourly: Any, currents: Any, tables: Any, s: Any, removed: float, out: Any
) -> None:
    """Run every interval with the loads connected at first, and fill ``out``.

    Parameters
    ----------
    hourly, currents, tables, s, removed, out
        As in `go_on`.
    """
    mode = np.empty(SWITCHES)
    reset(s, mode, 1.0)
    go_on(hourly, currents, tables, s, removed, mode, out)


@njit(cache=True, nogil=True)
def returns(
    hourly: Any,
    currents: Any,
    tables: Any,
    s: Any,
    starts: Any,
    removed: float,
    locked: bool,
    most: int,
    ring: bool,
) -> Any:
    """Return how many intervals pass until disconnected loads come back.

    Parameters
    ----------
    hourly, currents, tables, s
        As in `go_on`.
    starts
        Index of the first interval of each trial.
    removed
        Charge removed from full at each start [Ah].
    locked
        Whether the battery went flat, so that a regulator with a lowest battery
        voltage stays dark.
    most
        Give up after so many intervals [count].
    ring
        Whether the first interval follows the last.

    Returns
    -------
    array of int
        Intervals until the loads are switched on, -1 where they never are; where the
        record ends first, those until then.
    """
    n = hourly.shape[0]
    out = np.zeros(RESULT_COLUMNS)
    mode = np.empty(SWITCHES)
    counts = np.full(starts.shape[0], -1, np.int64)
    for trial in range(starts.shape[0]):
        reset(s, mode, 0.0)
        mode[M_LOCKED] = 1.0 if locked else 0.0
        left = removed
        for passed in range(most):
            if not ring and starts[trial] + passed >= n:
                counts[trial] = passed
                break
            k = (starts[trial] + passed) % n
            step(hourly[k], currents[k], tables, s, left, mode, out)
            left = out[R_REMOVED_AH]
            if mode[M_ON] > 0.5:
                counts[trial] = passed + 1
                break
            if mode[M_LOCKED] > 0.5 and s[S_RESTART_V] > 0.0:
                break
    return counts


@njit(cache=True, nogil=True)
def holds(
    hourly: Any,
    tables: Any,
    s: Any,
    frozen_ah: Any,
    starts: Any,
    removed_at: Any,
    most: int,
    prune: bool,
    ring: bool,
) -> Any:
    """Return how many intervals loads and bank last without charge, for each start.

    Parameters
    ----------
    hourly, tables, s
        As in `go_on`; array and other sources are taken as zero.
    frozen_ah
        Charge removed from which the electrolyte freezes, by interval [Ah].
    starts
        Index of the first dark interval of each trial.
    removed_at
        Charge removed at the start of each trial [Ah].
    most
        Give up after so many intervals [count].
    prune
        Stop a trial that has outlasted the shortest one so far; its count is then a
        lower bound.
    ring
        Whether the first interval follows the last.

    Returns
    -------
    array of int
        Intervals held, one for each start; -1 where the record ends before the loads
        do, which tells nothing.
    """
    n = hourly.shape[0]
    # Without charge: no sun, and no source that would feed the battery.
    s = s.copy()
    s[S_SOURCE] = 0.0
    out = np.zeros(RESULT_COLUMNS)
    row = np.zeros(hourly.shape[1])
    dark = np.zeros(0)
    mode = np.empty(SWITCHES)
    counts = np.zeros(starts.shape[0], np.int64)
    limit = most
    for trial in range(starts.shape[0]):
        removed = removed_at[trial]
        held = 0
        reset(s, mode, 1.0)
        while held < limit:
            if not ring and starts[trial] + held >= n:
                held = -1
                break
            k = (starts[trial] + held) % n
            row[:] = hourly[k]
            row[H_ARRAY_W] = 0.0
            row[H_STEADY_W] = 0.0
            step(row, dark, tables, s, removed, mode, out)
            removed = out[R_REMOVED_AH]
            if mode[M_ON] < 0.5 or removed > frozen_ah[k]:
                break
            held += 1
        counts[trial] = held
        if prune and 0 <= held < limit:
            limit = held
    return counts
