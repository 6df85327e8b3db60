"""Hours within a day of given clearness, and the split of their light.

Time-dependent, autoregressive and Gaussian: each hour has an expected clearness by
the sun's height, and departs from it with a memory of the hour before.
"""

from __future__ import annotations

import numpy as np

from powerbudget.weather.record import Floats

_TRIES = 6


def expected_clearness(daily: Floats, sine: Floats) -> Floats:
    """Return the expected clearness index of an hour [fraction].

    Parameters
    ----------
    daily
        Clearness index of the day [fraction].
    sine
        Sine of the sun's height in the hour, more than 0 [number].

    Returns
    -------
    numpy.ndarray
        Expected index [fraction].

    References
    ----------
    Aguiar, R. and Collares-Pereira, M., "TAG: a time-dependent, autoregressive,
    Gaussian model for generating synthetic hourly radiation", Solar Energy 49(3),
    1992, 167-174.

    Examples
    --------
    >>> round(float(expected_clearness(np.array(0.5), np.array(0.6))), 4)
    0.5271
    """
    level = -0.19 + 1.12 * daily + 0.24 * np.exp(-8.0 * daily)
    swing = 0.32 - 1.6 * (daily - 0.5) ** 2
    path = 0.19 + 2.27 * daily**2 - 2.51 * daily**3
    expected: Floats = level + swing * np.exp(-path / sine)
    return expected


def clearness_spread(daily: Floats, sine: Floats) -> Floats:
    """Return the standard deviation of an hour's clearness index [fraction].

    Parameters
    ----------
    daily
        Clearness index of the day [fraction].
    sine
        Sine of the sun's height in the hour [number].

    Returns
    -------
    numpy.ndarray
        Standard deviation [fraction].

    References
    ----------
    Aguiar and Collares-Pereira (1992).

    Examples
    --------
    >>> round(float(clearness_spread(np.array(0.5), np.array(0.6))), 4)
    0.1094
    """
    at_zenith = 0.14 * np.exp(-20.0 * (daily - 0.35) ** 2)
    growth = 3.0 * (daily - 0.45) ** 2 + 16.0 * daily**5
    spread: Floats = at_zenith * np.exp(growth * (1.0 - sine))
    return spread


def hour_memory(daily: Floats) -> Floats:
    """Return the correlation of one hour's departure with the last [number].

    Parameters
    ----------
    daily
        Clearness index of the day [fraction].

    Returns
    -------
    numpy.ndarray
        Lag-one autocorrelation [number].

    References
    ----------
    Aguiar and Collares-Pereira (1992).

    Examples
    --------
    >>> round(float(hour_memory(np.array(0.5))), 4)
    0.4017
    """
    memory: Floats = 0.38 + 0.06 * np.cos(7.4 * daily - 2.5)
    return memory


def clearness_limit(solar_hour: Floats) -> Floats:
    """Return the highest clearness index of an hour under a clear sky [fraction].

    Parameters
    ----------
    solar_hour
        Middle of the hour in solar time [h].

    Returns
    -------
    numpy.ndarray
        Limit, 0.88 at noon [fraction].

    References
    ----------
    Aguiar and Collares-Pereira (1992).
    """
    limit: Floats = 0.88 * np.cos(np.pi * (solar_hour - 12.0) / 30.0)
    return np.maximum(limit, 0.05)


def erbs_diffuse_frac(clearness: Floats) -> Floats:
    """Return the diffuse share of an hour's level light [fraction].

    Parameters
    ----------
    clearness
        Clearness index of the hour [fraction].

    Returns
    -------
    numpy.ndarray
        Diffuse over global [fraction].

    References
    ----------
    Erbs, D.G., Klein, S.A. and Duffie, J.A., "Estimation of the diffuse radiation
    fraction for hourly, daily and monthly-average global radiation", Solar Energy
    28(4), 1982, 293-302.

    Examples
    --------
    >>> erbs_diffuse_frac(np.array([0.1, 0.3, 0.5, 0.7, 0.85])).round(4).tolist()
    [0.991, 0.9486, 0.6591, 0.244, 0.165]
    """
    k = clearness
    middle = 0.9511 - 0.1604 * k + 4.388 * k**2 - 16.638 * k**3 + 12.336 * k**4
    low = 1.0 - 0.09 * k
    share: Floats = np.where(k <= 0.22, low, np.where(k <= 0.80, middle, 0.165))
    return share


def hourly_clearness(
    daily: Floats,
    sine: Floats,
    outside: Floats,
    solar_hour: Floats,
    rng: np.random.Generator,
    *,
    steady: bool = False,
) -> Floats:
    """Return hourly clearness indices of many years, each day's light kept [fraction].

    Parameters
    ----------
    daily
        Daily index, shape (years, days) [fraction].
    sine
        Mean sine of the sun's height while it is up, shape (days, 24) [number].
    outside
        Light on the level above the atmosphere, shape (days, 24) [W/m2].
    solar_hour
        Middle of each hour in solar time, shape (days, 24) [h].
    rng
        Source of chance [generator].
    steady
        Whether an hour that is drawn anew leaves the chance of all others alone, so
        that a little more light moves every hour a little [bool].

    Returns
    -------
    numpy.ndarray
        Shape (years, days, 24), 0 while the sun is down [fraction].
    """
    limit = clearness_limit(solar_hour)
    memory = hour_memory(daily)
    fresh = np.sqrt(1.0 - memory**2)
    hours = np.zeros((*daily.shape, 24))
    departure = rng.standard_normal(daily.shape)
    for hour in range(24):
        lit = np.flatnonzero(outside[:, hour] > 0)
        if lit.size:
            hours[:, lit, hour], departure[:, lit] = _one_hour(
                daily[:, lit],
                sine[lit, hour],
                limit[lit, hour],
                (memory[:, lit] * departure[:, lit], fresh[:, lit]),
                rng,
                rng.spawn(1)[0] if steady else None,
            )
    return _day_kept(hours, daily, outside, limit)


def _one_hour(
    daily: Floats,
    sine: Floats,
    limit: Floats,
    step: tuple[Floats, Floats],
    rng: np.random.Generator,
    apart: np.random.Generator | None,
) -> tuple[Floats, Floats]:
    """Return an hour's index and its departure, drawn anew where it cannot be."""
    carried, fresh = step
    expected, spread = expected_clearness(daily, sine), clearness_spread(daily, sine)
    departure = carried + fresh * rng.standard_normal(daily.shape)
    for _ in range(_TRIES):
        value = expected + spread * departure
        wrong = np.nonzero((value < 0.0) | (value > limit))
        if not wrong[0].size:
            break
        if apart is None:
            again = rng.standard_normal(wrong[0].size)
        else:
            again = apart.standard_normal(daily.shape)[wrong]
        departure[wrong] = carried[wrong] + fresh[wrong] * again
    value = np.clip(expected + spread * departure, 0.0, limit)
    return value, departure


def _day_kept(hours: Floats, daily: Floats, outside: Floats, limit: Floats) -> Floats:
    """Scale each day's hours so that the day has its light."""
    total = outside.sum(axis=1)
    wanted = daily * total
    for _ in range(8):
        have = np.einsum("ydh,dh->yd", hours, outside)
        ratio = np.where(have > 0, wanted / np.where(have > 0, have, 1.0), 1.0)
        if np.abs(ratio - 1.0).max() < 1e-4:
            break
        hours = np.minimum(hours * ratio[:, :, None], limit)
    # Where the limit still holds light back, the day is shared out by the sun alone.
    have = np.einsum("ydh,dh->yd", hours, outside)
    short = (wanted - have) > 1e-3 * np.maximum(wanted, 1e-9)
    day = np.broadcast_to(daily[:, :, None], hours.shape) * (outside > 0)
    return np.where(short[:, :, None], day, hours)
