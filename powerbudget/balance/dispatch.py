"""A source that follows the battery, compiled: asked before an interval, settled after.

`twin` holds the same rules in plain Python.  Numba keeps compiled callers by the date of
their own file: after a change here, touch ``kernel.py`` too.
"""

from __future__ import annotations

import math
from typing import Any

from numba import njit

from powerbudget.balance.columns import (
    G_BLOCKED,
    G_DOWN,
    G_EXERCISE,
    G_FAILED,
    G_NO_FUEL,
    G_OFF,
    G_RUNS,
    G_STARTED,
    H_SOURCE_DRAW,
    H_SOURCE_OPEN,
    H_SOURCE_W,
    M_BUS_V,
    M_FIRST,
    M_ON,
    M_SECOND,
    M_SOURCE_DOWN_H,
    M_SOURCE_FUEL_WH,
    M_SOURCE_ON,
    M_SOURCE_ORDER_H,
    M_SOURCE_RAN_H,
    M_SOURCE_REST_H,
    M_SOURCE_TEST,
    R_ARRAY_A,
    R_SOURCE_A,
    R_SOURCE_CODE,
    R_SOURCE_FUEL_WH,
    R_SOURCE_H,
    R_SOURCE_STOCK_WH,
    R_STEADY_A,
    S_SOURCE,
    S_SOURCE_DELAY_H,
    S_SOURCE_EXERCISE_EVERY_H,
    S_SOURCE_EXERCISE_H,
    S_SOURCE_FAULTS_PER_H,
    S_SOURCE_IDLE_W,
    S_SOURCE_MINIMUM_H,
    S_SOURCE_ORDER_WH,
    S_SOURCE_SLOPE,
    S_SOURCE_START_FRAC,
    S_SOURCE_START_STATE,
    S_SOURCE_START_V,
    S_SOURCE_STOP_STATE,
    S_SOURCE_STOP_V,
    S_SOURCE_TANK_WH,
    S_SOURCE_WARM_H,
    S_STEP_H,
    SPENT_WH,
)


@njit(cache=True)
def _visit(row: Any, s: Any, mode: Any) -> None:
    """Let fuel and repair come, once they were waited for and the site is open."""
    reached = row[H_SOURCE_OPEN] > 0.5
    if mode[M_SOURCE_ORDER_H] >= 0.0:
        mode[M_SOURCE_ORDER_H] += s[S_STEP_H]
        if mode[M_SOURCE_ORDER_H] >= s[S_SOURCE_DELAY_H] and reached:
            mode[M_SOURCE_ORDER_H] = -1.0
            mode[M_SOURCE_FUEL_WH] = s[S_SOURCE_TANK_WH]
    if mode[M_SOURCE_DOWN_H] >= 0.0:
        mode[M_SOURCE_DOWN_H] += s[S_STEP_H]
        if mode[M_SOURCE_DOWN_H] >= s[S_SOURCE_DELAY_H] and reached:
            mode[M_SOURCE_DOWN_H] = -1.0
            mode[M_SOURCE_REST_H] = 0.0


@njit(cache=True)
def _try_start(row: Any, s: Any, mode: Any, needed: bool) -> float:
    """Start if it can, and return what came of it [code]."""
    if row[H_SOURCE_W] <= 0.0:
        return G_BLOCKED
    if mode[M_SOURCE_FUEL_WH] <= 0.0:
        return G_NO_FUEL
    if mode[M_SOURCE_DOWN_H] >= 0.0:
        return G_DOWN
    chance = s[S_SOURCE_START_FRAC]
    chance *= math.exp(-s[S_SOURCE_FAULTS_PER_H] * mode[M_SOURCE_REST_H])
    if row[H_SOURCE_DRAW] >= chance:
        mode[M_SOURCE_DOWN_H] = 0.0
        return G_FAILED
    mode[M_SOURCE_ON] = 1.0
    mode[M_SOURCE_RAN_H] = 0.0
    mode[M_SOURCE_TEST] = 0.0 if needed else 1.0
    return G_STARTED


@njit(cache=True)
def wake(row: Any, s: Any, mode: Any, state: float) -> tuple[float, float, float]:
    """Decide whether the source runs: mean power offered, share of time, code.

    Parameters
    ----------
    row, s, mode
        As in `powerbudget.balance.kernel.step`.
    state
        State of charge at the start of the interval [fraction].

    Returns
    -------
    tuple of float
        Power that the bus may take, share of the interval run, code [W, fraction,
        see ``G_*``].
    """
    _visit(row, s, mode)
    dt = s[S_STEP_H]
    volts = mode[M_BUS_V]
    low = volts < s[S_SOURCE_START_V] or state < s[S_SOURCE_START_STATE]
    full = volts >= s[S_SOURCE_STOP_V] and state >= s[S_SOURCE_STOP_STATE]
    code = G_OFF
    if mode[M_SOURCE_ON] > 0.5:
        code = G_RUNS
        if low:
            mode[M_SOURCE_TEST] = 0.0
        least = s[S_SOURCE_MINIMUM_H]
        done = full
        if mode[M_SOURCE_TEST] > 0.5:
            least = s[S_SOURCE_EXERCISE_H]
            done = True
        if done and mode[M_SOURCE_RAN_H] >= least - 1e-9:
            mode[M_SOURCE_ON] = 0.0
            mode[M_SOURCE_REST_H] = 0.0
            code = G_OFF
        elif row[H_SOURCE_W] <= 0.0 or mode[M_SOURCE_FUEL_WH] <= 0.0:
            mode[M_SOURCE_ON] = 0.0
            mode[M_SOURCE_REST_H] = 0.0
            code = G_BLOCKED if row[H_SOURCE_W] <= 0.0 else G_NO_FUEL
    elif low or mode[M_SOURCE_REST_H] >= s[S_SOURCE_EXERCISE_EVERY_H]:
        code = _try_start(row, s, mode, low)
    if mode[M_SOURCE_ON] < 0.5:
        return 0.0, 0.0, code
    share = 1.0
    if mode[M_SOURCE_TEST] > 0.5:
        share = min(1.0, (s[S_SOURCE_EXERCISE_H] - mode[M_SOURCE_RAN_H]) / dt)
        code = G_EXERCISE + (G_STARTED - G_RUNS if code == G_STARTED else 0.0)
    cold_h = max(0.0, s[S_SOURCE_WARM_H] - mode[M_SOURCE_RAN_H])
    power = row[H_SOURCE_W] * max(0.0, share - cold_h / dt)
    most_wh = (s[S_SOURCE_IDLE_W] * share + s[S_SOURCE_SLOPE] * power) * dt
    if most_wh > mode[M_SOURCE_FUEL_WH]:
        lasts = mode[M_SOURCE_FUEL_WH] / most_wh
        share *= lasts
        power *= lasts
    return power, share, code


@njit(cache=True)
def settle(
    s: Any, mode: Any, out: Any, taken_w: float, share: float, code: float
) -> None:
    """Count fuel and hours of the interval, and order fuel where it runs low.

    Parameters
    ----------
    s, mode, out
        As in `powerbudget.balance.kernel.step`.
    taken_w
        Mean power that battery and loads took [W].
    share, code
        From `wake`.
    """
    dt = s[S_STEP_H]
    burnt = (s[S_SOURCE_IDLE_W] * share + s[S_SOURCE_SLOPE] * taken_w) * dt
    left = mode[M_SOURCE_FUEL_WH] - burnt
    mode[M_SOURCE_FUEL_WH] = left if left > SPENT_WH else 0.0
    if mode[M_SOURCE_ON] > 0.5:
        mode[M_SOURCE_RAN_H] += share * dt
        over = mode[M_SOURCE_RAN_H] >= s[S_SOURCE_EXERCISE_H] - 1e-9
        if mode[M_SOURCE_TEST] > 0.5 and over and share < 1.0:
            mode[M_SOURCE_ON] = 0.0
            mode[M_SOURCE_REST_H] = 0.0
    else:
        mode[M_SOURCE_REST_H] += dt
    ordered = mode[M_SOURCE_ORDER_H] >= 0.0
    if mode[M_SOURCE_FUEL_WH] < s[S_SOURCE_ORDER_WH] and not ordered:
        mode[M_SOURCE_ORDER_H] = 0.0
    out[R_SOURCE_H] = share * dt
    out[R_SOURCE_FUEL_WH] = burnt
    out[R_SOURCE_STOCK_WH] = mode[M_SOURCE_FUEL_WH]
    out[R_SOURCE_CODE] = code


@njit(cache=True, inline="always")
def share_out(s: Any, mode: Any, out: Any, bus: float, taken: Any, offer: Any) -> None:
    """Write what each source gave: the sun first, then steady ones, then the other.

    Parameters
    ----------
    s, mode, out
        As in `powerbudget.balance.kernel.step`.
    bus
        Bus voltage [V].
    taken
        Current that battery and loads took, and the array's [A].
    offer
        Watts of steady sources and of the other, its share of time and code.
    """
    used, array_a = taken
    steady_w, source_w, share, code = offer
    from_array = min(used, array_a)
    rest = used - from_array
    from_steady = min(rest, steady_w / bus)
    out[R_ARRAY_A] = from_array
    out[R_STEADY_A] = from_steady
    mode[M_BUS_V] = bus
    if s[S_SOURCE] > 0.5:
        # Rounding of a division must not make it give more than it has.
        from_source = min(rest - from_steady, source_w / bus)
        out[R_SOURCE_A] = from_source
        settle(s, mode, out, from_source * bus, share, code)
        return
    out[R_SOURCE_A] = 0.0
    out[R_SOURCE_H] = 0.0
    out[R_SOURCE_FUEL_WH] = 0.0
    out[R_SOURCE_STOCK_WH] = 0.0
    out[R_SOURCE_CODE] = 0.0


@njit(cache=True, inline="always")
def reset(s: Any, mode: Any, on: float) -> None:
    """Close every switch, the loads' own as told; a source stands sound and full.

    Parameters
    ----------
    s, mode
        As in `powerbudget.balance.kernel.step`.
    on
        1 where the loads are connected, else 0 [flag].
    """
    mode[:] = 0.0
    mode[M_ON] = on
    mode[M_FIRST] = 1.0
    mode[M_SECOND] = 1.0
    mode[M_BUS_V] = math.inf
    mode[M_SOURCE_FUEL_WH] = s[S_SOURCE_TANK_WH]
    mode[M_SOURCE_ORDER_H] = -1.0
    mode[M_SOURCE_DOWN_H] = -1.0
