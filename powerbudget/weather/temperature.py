"""Air temperature to go with a synthetic sky: cold spells, clear and cold in winter."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from powerbudget.weather.markov import MONTH_OF_DAY, SEASON_ORDER, by_season, by_year
from powerbudget.weather.record import Floats

DAY_MEMORY = 0.70
"""Correlation of one day's mean temperature with the last [number].

Own reading of typical years of Williston, North Dakota and Casper, Wyoming: by month
0.33 to 0.86, mean 0.68; eighteen years in northern California: 0.71 to 0.84.
"""
WARM_CLEAR, COLD_CLEAR = 0.35, -0.25
"""Correlation of a day's clearness and temperature, warmest and coldest month [number].

Own reading of the same records: 0.1 to 0.7 in summer, -0.4 to 0.2 in winter.
"""
SUMMER_SPREAD_K = 3.3
"""Standard deviation of daily means in the warmest month, same reading [K]."""
WINTER_SHARE = 0.18
"""Winter spread over the yearly swing of monthly means, same reading [number]."""
COLD_FLOOR = 3.0
"""Cold departures level off towards so many spreads: the coldest air there is has a
floor.  Set so that yearly minima of a cold place spread by some 3 K, where a table
of ASHRAE 2021 has 2.4 K for Fort McMurray and 4.5 K for Grande Prairie [number]."""
_WARMEST_HOUR = 15.0
_TRIAL_YEARS = 200


@dataclass(frozen=True, eq=False)
class Climate:
    """What the days of a year are like on average.

    Parameters
    ----------
    mean_degc
        Mean temperature of each of 365 days [degC].
    range_k
        Highest less lowest temperature of a day [K].
    coldness
        0 in the warmest part of the year to 1 in the coldest [fraction].
    """

    mean_degc: Floats
    range_k: Floats
    coldness: Floats


def climate(monthly_degc: Floats, range_k: Floats) -> Climate:
    """Return daily normals that keep the monthly means [degC].

    Parameters
    ----------
    monthly_degc, range_k
        Twelve monthly means and daily ranges [degC, K].

    Returns
    -------
    Climate
        By day of a year of 365 days.
    """
    wanted = np.asarray(monthly_degc, dtype=float)
    knots = wanted.copy()
    for _ in range(30):
        daily = _between(knots)
        knots = knots + wanted - _month_means(daily)
    swing = daily.max() - daily.min()
    coldness = (daily.max() - daily) / swing if swing > 0.5 else np.full(365, 0.5)
    return Climate(daily, _between(np.asarray(range_k, dtype=float)), coldness)


def _between(monthly: Floats) -> Floats:
    """Return days on straight lines between the middles of months."""
    middle = np.array(
        [np.flatnonzero(month == MONTH_OF_DAY).mean() for month in range(12)]
    )
    return np.interp(np.arange(365), middle, monthly, period=365)


def _month_means(daily: Floats) -> Floats:
    return np.bincount(MONTH_OF_DAY, weights=daily) / np.bincount(MONTH_OF_DAY)


def departures(sky: Floats, normals: Climate, rng: np.random.Generator) -> Floats:
    """Return departures of daily temperature, of unit spread [number].

    Parameters
    ----------
    sky
        Departure of each day's clearness from its month, unit spread, shape (years,
        365) [number].
    normals
        Which days belong to the cold part of the year.
    rng
        Source of chance [generator].

    Returns
    -------
    numpy.ndarray
        Shape (years, 365), remembering the day before [number].
    """
    tie = WARM_CLEAR + (COLD_CLEAR - WARM_CLEAR) * normals.coldness
    fresh = np.sqrt(1.0 - DAY_MEMORY**2)
    # The memory dilutes the tie to the sky; this gives it back.
    push = np.clip(tie * fresh / (1.0 - 0.3 * DAY_MEMORY) / fresh**2, -0.8, 0.8)
    chance = rng.standard_normal(sky.shape)
    sky = by_season(sky)
    days = np.empty_like(sky)
    value = chance[:, 0]
    for day in SEASON_ORDER:
        now = push[day] * sky[:, day] + np.sqrt(1 - push[day] ** 2) * chance[:, day]
        value = DAY_MEMORY * value + fresh * now
        days[:, day] = value
    return by_year(np.where(days < 0.0, COLD_FLOOR * np.tanh(days / COLD_FLOOR), days))


def spread_k(
    normals: Climate, design_minimum_degc: float | None
) -> tuple[Floats, float]:
    """Return the spread of daily means by day and in the coldest part [K].

    Parameters
    ----------
    normals
        The days of the year.
    design_minimum_degc
        Mean of the lowest temperature of each year; None when not known [degC].

    Returns
    -------
    tuple
        Spread by day, shape (365,), and that of the coldest days [K].

    Notes
    -----
    With a design minimum the winter's spread is the one that brings the mean yearly
    minimum of 200 trial years to it, between 0.5 and 15 K.
    """
    swing = float(np.ptp(normals.mean_degc))
    winter = max(1.5, WINTER_SHARE * swing)
    if design_minimum_degc is not None:
        winter = _winter_for(normals, design_minimum_degc)
    return _spread_of(normals, winter), winter


def _spread_of(normals: Climate, winter: float) -> Floats:
    summer = (
        min(SUMMER_SPREAD_K, winter) if winter < SUMMER_SPREAD_K else SUMMER_SPREAD_K
    )
    return summer + (winter - summer) * normals.coldness


def _winter_for(normals: Climate, minimum_degc: float) -> float:
    rng = np.random.default_rng(20240131)
    unit = departures(rng.standard_normal((_TRIAL_YEARS, 365)), normals, rng)
    low, high = 0.5, 15.0
    for _ in range(20):
        middle = (low + high) / 2.0
        days = normals.mean_degc + _spread_of(normals, middle) * unit
        coldest = (days - normals.range_k / 2.0).min(axis=1).mean()
        low, high = (middle, high) if coldest > minimum_degc else (low, middle)
    return (low + high) / 2.0


def hourly_degc(daily_degc: Floats, range_k: Floats, solar_hour: Floats) -> Floats:
    """Return hours between daily means, warmest at 15:00 solar time [degC].

    Parameters
    ----------
    daily_degc
        Daily means, shape (years, 365) [degC].
    range_k
        Daily range, same shape [K].
    solar_hour
        Middle of each hour in solar time, shape (365, 24) [h].

    Returns
    -------
    numpy.ndarray
        Shape (years, 365, 24) [degC].
    """
    long = daily_degc.reshape(-1)
    noon = np.arange(long.size) * 24.0 + 12.0
    at = np.arange(long.size * 24) + 0.5
    smooth = np.interp(at, noon, long).reshape(*daily_degc.shape, 24)
    swing = np.cos(2.0 * np.pi * (solar_hour - _WARMEST_HOUR) / 24.0) / 2.0
    hours: Floats = smooth + range_k[:, :, None] * swing
    return hours
