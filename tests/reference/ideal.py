"""A bank without losses under a made-up sky: the limit in which books can be kept."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
from powerbudget.balance.problem import Problem
from powerbudget.battery.bank import Bank
from powerbudget.weather.synthesis import bare_record

Floats = NDArray[np.float64]
_ENDLESS = 1e9


def ideal_problem(
    problem: Problem, supply_w: Floats, load_w: Floats, step_h: float = 1.0
) -> Problem:
    """Return a site whose battery loses nothing and whose voltage stands still.

    Parameters
    ----------
    problem
        A site with power-point tracking, for its parts and its size.
    supply_w, load_w
        Of one array string at the bus, and of the loads, by interval [W].
    step_h
        Interval length [h].

    Returns
    -------
    Problem
        Unit efficiencies, no resistance, no self-discharge, no cold, no limit on
        charging.

    Notes
    -----
    Only kernel rows, tables and clock are replaced; the budget stays the site's.
    """
    n = len(supply_w)
    start = np.datetime64("2001-01-01T00:00:00") + np.arange(n) * np.timedelta64(
        round(3600 * step_h), "s"
    )
    rows = np.zeros(n, col.ROW)
    rows["array_w"] = supply_w
    rows["load_w"] = load_w
    rows["capacity"] = rows["charge_share"] = 1.0
    rows["controller_share"] = 1.0
    rows["regulation_v"] = _ENDLESS
    points = np.ones(101)
    tables = col.Tables(
        problem.budget.nominal_v * points, points, 0.0 * points, 0.0 * points
    )
    return replace(
        problem,
        hourly=rows,
        currents=np.zeros((n, 0)),
        tables=tables,
        record=bare_record(start, step_h, (0.0, 0.0, 0.0, 0.0)),
    )


def ideal_scalars(
    problem: Problem, bank: Bank, held_ah: float, step_w: float
) -> col.Record:
    """Return scalars of a bank that is used to the last ampere-hour.

    Parameters
    ----------
    problem
        From `ideal_problem`.
    bank
        Its bank; only what is not replaced here matters.
    held_ah
        What it holds [Ah].
    step_w
        Load for which one interval's charge must be there before it comes back [W].

    Returns
    -------
    record
        No draw of its own, disconnect when empty [see `powerbudget.balance.columns`].
    """
    s = problem.scalars(1, bank)
    s["rated_ah"] = s["charge_ah"] = held_ah
    s["charge_limit_a"] = _ENDLESS
    s["base_a"] = s["delay_h"] = s["restart_v"] = 0.0
    s["trip_v"] = s["return_v"] = 0.0
    s["trip_state"] = 0.0
    step_ah = step_w * problem.record.step_h / problem.budget.nominal_v
    s["return_state"] = min(1.0, step_ah / held_ah)
    return s
