"""A source that follows the battery, compiled: asked before an interval, settled after.

`twin` holds the same rules in plain Python.
"""

from __future__ import annotations

import math
from typing import Any

from powerbudget.balance.columns import (
    G_BLOCKED,
    G_DOWN,
    G_EXERCISE,
    G_FAILED,
    G_NO_FUEL,
    G_OFF,
    G_RUNS,
    G_STARTED,
    SPENT_WH,
)
from powerbudget.balance.compiled import part


@part
def _visit(row: Any, s: Any, mode: Any) -> None:
    """Let fuel and repair come, once they were waited for and the site is open."""
    reached = row.source_open > 0.5
    if mode.source_order_h >= 0.0:
        mode.source_order_h += s.step_h
        if mode.source_order_h >= s.source_delay_h and reached:
            mode.source_order_h = -1.0
            mode.source_fuel_wh = s.source_tank_wh
    if mode.source_down_h >= 0.0:
        mode.source_down_h += s.step_h
        if mode.source_down_h >= s.source_delay_h and reached:
            mode.source_down_h = -1.0
            mode.source_rest_h = 0.0


@part
def _try_start(row: Any, s: Any, mode: Any, needed: bool) -> float:
    """Start if it can, and return what came of it [code]."""
    if row.source_w <= 0.0:
        return G_BLOCKED
    if mode.source_fuel_wh <= 0.0:
        return G_NO_FUEL
    if mode.source_down_h >= 0.0:
        return G_DOWN
    chance = s.source_start_frac
    chance *= math.exp(-s.source_faults_per_h * mode.source_rest_h)
    if row.source_draw >= chance:
        mode.source_down_h = 0.0
        return G_FAILED
    mode.source_on = 1.0
    mode.source_ran_h = 0.0
    mode.source_test = 0.0 if needed else 1.0
    return G_STARTED


@part
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
    dt = s.step_h
    volts = mode.bus_v
    low = volts < s.source_start_v or state < s.source_start_state
    full = volts >= s.source_stop_v and state >= s.source_stop_state
    code = G_OFF
    if mode.source_on > 0.5:
        code = G_RUNS
        if low:
            mode.source_test = 0.0
        least = s.source_minimum_h
        done = full
        if mode.source_test > 0.5:
            least = s.source_exercise_h
            done = True
        if done and mode.source_ran_h >= least - 1e-9:
            mode.source_on = 0.0
            mode.source_rest_h = 0.0
            code = G_OFF
        elif row.source_w <= 0.0 or mode.source_fuel_wh <= 0.0:
            mode.source_on = 0.0
            mode.source_rest_h = 0.0
            code = G_BLOCKED if row.source_w <= 0.0 else G_NO_FUEL
    elif low or mode.source_rest_h >= s.source_exercise_every_h:
        code = _try_start(row, s, mode, low)
    if mode.source_on < 0.5:
        return 0.0, 0.0, code
    share = 1.0
    if mode.source_test > 0.5:
        share = min(1.0, (s.source_exercise_h - mode.source_ran_h) / dt)
        code = G_EXERCISE + (G_STARTED - G_RUNS if code == G_STARTED else 0.0)
    cold_h = max(0.0, s.source_warm_h - mode.source_ran_h)
    power = row.source_w * max(0.0, share - cold_h / dt)
    most_wh = (s.source_idle_w * share + s.source_slope * power) * dt
    if most_wh > mode.source_fuel_wh:
        lasts = mode.source_fuel_wh / most_wh
        share *= lasts
        power *= lasts
    return power, share, code


@part
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
    dt = s.step_h
    burnt = (s.source_idle_w * share + s.source_slope * taken_w) * dt
    left = mode.source_fuel_wh - burnt
    mode.source_fuel_wh = left if left > SPENT_WH else 0.0
    if mode.source_on > 0.5:
        mode.source_ran_h += share * dt
        over = mode.source_ran_h >= s.source_exercise_h - 1e-9
        if mode.source_test > 0.5 and over and share < 1.0:
            mode.source_on = 0.0
            mode.source_rest_h = 0.0
    else:
        mode.source_rest_h += dt
    ordered = mode.source_order_h >= 0.0
    if mode.source_fuel_wh < s.source_order_wh and not ordered:
        mode.source_order_h = 0.0
    out.source_h = share * dt
    out.source_fuel_wh = burnt
    out.source_stock_wh = mode.source_fuel_wh
    out.source_code = code


@part
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
    out.array_a = from_array
    out.steady_a = from_steady
    mode.bus_v = bus
    if s.source > 0.5:
        # Rounding of a division must not make it give more than it has.
        from_source = min(rest - from_steady, source_w / bus)
        out.source_a = from_source
        settle(s, mode, out, from_source * bus, share, code)
        return
    out.source_a = 0.0
    out.source_h = 0.0
    out.source_fuel_wh = 0.0
    out.source_stock_wh = 0.0
    out.source_code = 0.0


@part
def reset(s: Any, mode: Any, on: float) -> None:
    """Close every switch, the loads' own as told; a source stands sound and full.

    Parameters
    ----------
    s, mode
        As in `powerbudget.balance.kernel.step`.
    on
        1 where the loads are connected, else 0 [flag].
    """
    mode.on = on
    mode.below_h = mode.locked = 0.0
    mode.floating = mode.absorbed_h = mode.lit = 0.0
    mode.source_on = mode.source_test = 0.0
    mode.source_ran_h = mode.source_rest_h = 0.0
    mode.first = 1.0
    mode.second = 1.0
    mode.bus_v = math.inf
    mode.source_fuel_wh = s.source_tank_wh
    mode.source_order_h = -1.0
    mode.source_down_h = -1.0
