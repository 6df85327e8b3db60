"""The load of every interval from the budget: by behavior and by shedding tier."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from powerbudget.loads.budget import Budget
from powerbudget.loads.schedule import BEHAVIOURS, Moments, follows_weather, share

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]


def bus_series(budget: Budget, moments: Moments) -> Floats:
    """Return the load at the bus by interval, tier and behaviour.

    Parameters
    ----------
    budget
        The power budget.
    moments
        Month, day, hour, air temperature and night of every interval.

    Returns
    -------
    array, shape (n, 3, 3)
        Tier 0-2, then constant power, current and conductance [W, A, S].

    Notes
    -----
    Pure: the same budget and moments give the same answer.  Summed over the tiers
    it equals ``Budget.bus_w``, ``bus_a`` and ``bus_s`` for loads that follow the
    clock alone.
    """
    month, hour = moments.month - 1, moments.hour
    fixed = np.stack([budget.tier_w, budget.tier_a, budget.tier_s], axis=1)
    rows: Floats = np.moveaxis(fixed, (0, 1), (2, 3))[month, hour].copy()
    for item in budget.slices:
        if follows_weather(item.load):
            k = BEHAVIOURS.index(item.behaviour)
            rows[:, item.tier, k] -= item.amount * item.share[month, hour]
            rows[:, item.tier, k] += item.amount * share(item.load, moments)
    # Subtracting the table leaves dust of rounding below zero.
    return np.maximum(rows, 0.0)


def daily_load_wh(budget: Budget, rows: Floats, month: Integers) -> Floats:
    """Return the daily load of each month of an hourly series, at nominal volts.

    Parameters
    ----------
    budget
        The power budget.
    rows
        From `bus_series`, of intervals of equal length.
    month
        Calendar month 1-12 of every interval [count].

    Returns
    -------
    array, shape (12)
        Mean over all years, contingency included; NaN for a month that the series
        does not have [Wh/day].

    Notes
    -----
    Of the design year, ``budget.grid``, it is ``Budget.daily_load_wh``.
    """
    volts = budget.nominal_v
    watts = rows.sum(axis=1) @ np.array([1.0, volts, volts**2])
    watts += budget.base_a * volts
    hours = np.bincount(month - 1, minlength=12).astype(float)
    hours[hours == 0] = np.nan
    found: Floats = 24 * np.bincount(month - 1, watts, 12) / hours
    return found
