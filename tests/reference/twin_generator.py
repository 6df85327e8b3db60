"""The source that follows the battery, in plain Python: what `dispatch` is held to."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from powerbudget.balance import columns as k


@dataclass(frozen=True)
class Machine:
    """What a source hands from interval to interval.

    Parameters
    ----------
    running, exercising
        Whether it runs, and only to exercise [flag].
    ran_h, rested_h
        Since its start, and since its stop [h].
    fuel_wh
        Heat in the fuel left [Wh].
    ordered_h, broken_h
        Since fuel was ordered and since a start failed, None where neither [h].
    bus_v
        Bus voltage of the interval before [V].
    """

    fuel_wh: float
    running: bool = False
    exercising: bool = False
    ran_h: float = 0.0
    rested_h: float = 0.0
    ordered_h: float | None = None
    broken_h: float | None = None
    bus_v: float = math.inf


@dataclass(frozen=True)
class Offer:
    """What it offers for an interval.

    Parameters
    ----------
    power_w
        Mean power at the bus [W].
    share
        Part of the interval run [fraction].
    code
        See ``G_*`` in `powerbudget.balance.columns` [code].
    """

    power_w: float = 0.0
    share: float = 0.0
    code: float = k.G_OFF


def ask(row: Any, s: Any, m: Machine, state: float) -> tuple[Machine, Offer]:
    """Return the machine and its offer for an interval.

    Parameters
    ----------
    row, s
        As in `powerbudget.balance.kernel.step`.
    m
        As the interval before left it.
    state
        State of charge [fraction].

    Returns
    -------
    tuple of Machine and Offer
        Not running where the offer is nothing.
    """
    if s["source"] < 0.5:
        return m, Offer()
    m = _visited(row, s, m)
    by_volts = s["source_start_v"] > 0
    if by_volts:
        low, full = m.bus_v < s["source_start_v"], m.bus_v >= s["source_stop_v"]
    else:
        low = state < s["source_start_state"]
        full = state >= s["source_stop_state"]
    if m.running:
        m, code = _go_on(row, s, replace(m, exercising=m.exercising and not low), full)
    elif low or m.rested_h >= s["source_exercise_every_h"]:
        m, code = _start(row, s, m, needed=bool(low))
    else:
        return m, Offer()
    return m, _offer(row, s, m, code) if m.running else Offer(code=code)


def _visited(row: Any, s: Any, m: Machine) -> Machine:
    dt, patience = s["step_h"], s["source_delay_h"]
    can_come = row["source_open"] > 0.5
    if m.ordered_h is not None:
        m = replace(m, ordered_h=m.ordered_h + dt)
        if can_come and m.ordered_h is not None and m.ordered_h >= patience:
            m = replace(m, ordered_h=None, fuel_wh=s["source_tank_wh"])
    if m.broken_h is not None:
        m = replace(m, broken_h=m.broken_h + dt)
        if can_come and m.broken_h is not None and m.broken_h >= patience:
            m = replace(m, broken_h=None, rested_h=0.0)
    return m


def _go_on(row: Any, s: Any, m: Machine, full: bool) -> tuple[Machine, float]:
    stopped = replace(m, running=False, rested_h=0.0)
    if m.exercising:
        over = m.ran_h >= s["source_exercise_h"] - 1e-9
    else:
        over = full and m.ran_h >= s["source_minimum_h"] - 1e-9
    if over:
        return stopped, k.G_OFF
    if row["source_w"] <= 0:
        return stopped, k.G_BLOCKED
    if m.fuel_wh <= 0:
        return stopped, k.G_NO_FUEL
    return m, k.G_RUNS


def _start(row: Any, s: Any, m: Machine, *, needed: bool) -> tuple[Machine, float]:
    if row["source_w"] <= 0:
        return m, k.G_BLOCKED
    if m.fuel_wh <= 0:
        return m, k.G_NO_FUEL
    if m.broken_h is not None:
        return m, k.G_DOWN
    hidden = math.exp(-s["source_faults_per_h"] * m.rested_h)
    if row["source_draw"] >= s["source_start_frac"] * hidden:
        return replace(m, broken_h=0.0), k.G_FAILED
    m = replace(m, running=True, exercising=not needed, ran_h=0.0)
    return m, k.G_RUNS + 10.0


def _offer(row: Any, s: Any, m: Machine, code: float) -> Offer:
    dt, share = s["step_h"], 1.0
    if m.exercising:
        share = min(1.0, (s["source_exercise_h"] - m.ran_h) / dt)
        code += 1.0
    warming = max(0.0, s["source_warm_h"] - m.ran_h) / dt
    power = row["source_w"] * max(0.0, share - warming)
    wanted_wh = dt * (s["source_idle_w"] * share + s["source_slope"] * power)
    lasts = min(1.0, m.fuel_wh / wanted_wh) if wanted_wh > 0 else 1.0
    return Offer(power * lasts, share * lasts, code)


def settle(
    s: Any, m: Machine, offer: Offer, taken_w: float, bus_v: float
) -> tuple[Machine, float]:
    """Return the machine after an interval, and the heat in the fuel burnt.

    Parameters
    ----------
    s
        Scalars.
    m, offer
        From `ask`.
    taken_w
        Power that the bus took [W].
    bus_v
        Bus voltage of the interval [V].

    Returns
    -------
    tuple of Machine and float
        And the fuel [Wh].
    """
    m = replace(m, bus_v=bus_v)
    if s["source"] < 0.5:
        return m, 0.0
    dt = s["step_h"]
    burnt = dt * (s["source_idle_w"] * offer.share + s["source_slope"] * taken_w)
    left = m.fuel_wh - burnt
    m = replace(m, fuel_wh=left if left > k.SPENT_WH else 0.0)
    if m.running:
        m = replace(m, ran_h=m.ran_h + offer.share * dt)
        over = m.ran_h >= s["source_exercise_h"] - 1e-9
        if m.exercising and over and offer.share < 1:
            m = replace(m, running=False, rested_h=0.0)
    else:
        m = replace(m, rested_h=m.rested_h + dt)
    if m.ordered_h is None and m.fuel_wh < s["source_order_wh"]:
        m = replace(m, ordered_h=0.0)
    return m, burnt
