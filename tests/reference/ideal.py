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
    rows = np.zeros((n, problem.hourly.shape[1]))
    rows[:, col.H_ARRAY_W] = supply_w
    rows[:, col.H_LOAD_W] = load_w
    for column in (col.H_CAPACITY, col.H_CHARGE_SHARE):
        rows[:, column] = 1.0
    rows[:, col.H_REGULATION_V] = _ENDLESS
    tables = np.zeros_like(problem.tables)
    tables[col.T_OPEN_V] = problem.budget.nominal_v
    tables[col.T_EFFICIENCY] = 1.0
    return replace(
        problem,
        hourly=rows,
        currents=np.zeros((n, 0)),
        tables=tables,
        record=bare_record(start, step_h, (0.0, 0.0, 0.0, 0.0)),
    )


def ideal_scalars(
    problem: Problem, bank: Bank, held_ah: float, step_w: float
) -> Floats:
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
    array
        No draw of its own, disconnect when empty [see `powerbudget.balance.columns`].
    """
    s = problem.scalars(1, bank)
    s[col.S_RATED_AH] = s[col.S_CHARGE_AH] = held_ah
    s[col.S_CHARGE_LIMIT_A] = _ENDLESS
    s[col.S_BASE_A] = s[col.S_DELAY_H] = s[col.S_RESTART_V] = 0.0
    s[col.S_TRIP_V] = s[col.S_RETURN_V] = 0.0
    s[col.S_TRIP_STATE] = 0.0
    step_ah = step_w * problem.record.step_h / problem.budget.nominal_v
    s[col.S_RETURN_STATE] = min(1.0, step_ah / held_ah)
    return s
