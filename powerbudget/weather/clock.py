"""Is the clock of a record right?  The clearest days draw the sun's own curve.

Counting light at night finds a label an hour off; a fault of some minutes shows only
in the shape of clear days, which lean to one side of noon.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from powerbudget.errors import Finding
from powerbudget.weather.record import Floats, WeatherRecord, cut
from powerbudget.weather.sun_path import SunPath

TOLERANCE_MIN = 15
"""Fault of the clock that is spoken of [min].

Sixteen good records of stations, satellites and typical years lie within 5 min.
"""
CLEAREST = 0.25
_ROUGH = tuple(range(-90, 91, 15))
_LEAST_DAYS = 15
_CLEAR_POWER = 1.15


def clock_lag_min(record: WeatherRecord, path: SunPath) -> int | None:
    """Return the minutes to add to every label for the best fit to the sun [min].

    Parameters
    ----------
    record
        The weather [record].
    path
        Its sun, from `powerbudget.weather.sun_path.sun_path`.

    Returns
    -------
    int or None
        To 5 min, within 90; None where too few days are light [min].

    Notes
    -----
    Each month's clearest quarter of days is compared with the 1.15th power of the
    sine of the sun's height (the shape of Haurwitz's clear sky, rounded), each day
    scaled on its own, averaged over the interval.

    References
    ----------
    Haurwitz, B., "Insolation in relation to cloudiness and cloud density", Journal
    of Meteorology 2, 1945, 154-166.
    """
    rows = _clear_rows(record, path)
    if rows is None:
        return None
    day = np.unique(record.day_number[rows], return_inverse=True)[1]
    light = record.ghi_w_m2[rows]
    some = SunPath(
        path.hour_angle_rad[rows], path.level[rows], path.swing[rows], path.extra_w_m2
    )
    within = _moments_min(record)

    def misfit(shift_min: int) -> float:
        sine: Floats = np.mean(
            [
                np.maximum(some.sine_of_height(shift_min + m), 0.0) ** _CLEAR_POWER
                for m in within
            ],
            axis=0,
        )
        fit = np.bincount(day, light * sine) / np.maximum(
            np.bincount(day, sine * sine), 1e-9
        )
        return float(((light - fit[day] * sine) ** 2).sum())

    rough = min(_ROUGH, key=misfit)
    return min(range(rough - 10, rough + 11, 5), key=misfit)


def _moments_min(record: WeatherRecord) -> Floats:
    """Return moments of an interval around its sun, one where values are momentary."""
    if abs(record.sun_offset_h - record.step_h / 2.0) > 1e-6:
        return np.zeros(1)
    moments: Floats = (np.arange(3.0) - 1.0) / 3.0 * (record.step_h * 60.0)
    return moments


def _clear_rows(record: WeatherRecord, path: SunPath) -> NDArray[np.bool_] | None:
    day = record.day_number
    outside = path.extra_w_m2 * np.maximum(path.sine_of_height(), 0.0)
    above, light = np.bincount(day, outside), np.bincount(day, record.ghi_w_m2)
    month = np.zeros(above.size, dtype=np.int64)
    month[day] = record.month
    clear = np.zeros(above.size, dtype=bool)
    index = light / np.maximum(above, 1.0)
    for number in range(1, 13):
        lit = np.flatnonzero((month == number) & (above * record.step_h > 1000.0))
        keep = max(1, round(CLEAREST * lit.size)) if lit.size else 0
        if keep:
            clear[lit[np.argsort(index[lit], kind="stable")[-keep:]]] = True
    return clear[day] if clear.sum() >= _LEAST_DAYS else None


def lags_by_year(record: WeatherRecord) -> dict[str, int]:
    """Return each calendar year's clock lag, or the whole record's [min].

    Parameters
    ----------
    record
        The weather [record].

    Returns
    -------
    dict of str to int
        Year, or ``all`` for a typical year, to minutes to add [min].
    """
    from powerbudget.weather.sun_path import sun_path

    path = sun_path(record)
    if record.typical_year:
        lag = clock_lag_min(record, path)
        return {} if lag is None else {"all": lag}
    year = record.day_local.astype("datetime64[Y]")
    found = {}
    for label in np.unique(year):
        rows = np.flatnonzero(year == label)
        some = SunPath(
            path.hour_angle_rad[rows],
            path.level[rows],
            path.swing[rows],
            path.extra_w_m2[rows],
        )
        lag = clock_lag_min(cut(record, rows), some)
        if lag is not None:
            found[str(label)] = lag
    return found


def lag_by_row_min(record: WeatherRecord, lags: dict[str, int]) -> Floats:
    """Return each interval's clock lag, so that a wrong clock is no impossible light.

    Parameters
    ----------
    record
        The weather [record].
    lags
        From `lags_by_year` [min].

    Returns
    -------
    numpy.ndarray
        Minutes to add, 0 where no year is known [min].
    """
    if "all" in lags:
        return np.full(record.n, float(lags["all"]))
    year = record.day_local.astype("datetime64[Y]")
    found = np.zeros(record.n)
    for label, lag in lags.items():
        found[year == np.datetime64(label, "Y")] = lag
    return found


def clock_finding(lags: dict[str, int]) -> Finding | None:
    """Return a remark when the clear days lean to one side of noon [text].

    Parameters
    ----------
    lags
        From `lags_by_year` [min].

    Returns
    -------
    Finding or None
        Which years and by how much [text].
    """
    off = {year: lag for year, lag in lags.items() if abs(lag) >= TOLERANCE_MIN}
    if not off:
        return None
    whole = len(off) == len(lags) and len(set(off.values())) == 1
    if whole:
        which = f"the labels fit with {next(iter(off.values())):+d} min added"
    else:
        which = "the labels fit with " + ", ".join(
            f"{lag:+d} min added in {year}" for year, lag in off.items()
        )
    return Finding(
        "warning",
        f"Clock error: on the clearest days {which}. Limit {TOLERANCE_MIN - 5} "
        "min. Cause: logger drift, daylight saving time, or labels at the other "
        "end of the interval. Correct the file: a wrong sun position misplaces "
        "beam and diffuse irradiance.",
    )


def far_shift_h(record: WeatherRecord, path: SunPath) -> float:
    """Return the shift of the labels, up to half a day, that fits the sun best [h].

    Parameters
    ----------
    record
        The weather [record].
    path
        Its sun.

    Returns
    -------
    float
        Between -12 and 12, in steps of half an hour [h].
    """
    light = record.ghi_w_m2 > 0.02 * record.ghi_w_m2.max()
    shifts = np.arange(-24, 24) / 2.0

    def misfits(shift_h: float) -> int:
        up = path.sine_of_height(60 * shift_h) > 0.03
        return int(np.count_nonzero(light != up))

    counts = np.array([misfits(shift) for shift in shifts])
    best = np.flatnonzero(counts == counts.min())
    return float(shifts[best[np.argmin(np.abs(shifts[best]))]])


def far_cause(record: WeatherRecord, path: SunPath) -> str:
    """Return the likeliest cause when a record's light comes at the wrong time [text].

    Parameters
    ----------
    record
        The weather [record].
    path
        Its sun.

    Returns
    -------
    str
        A sentence, empty when no shift is better than none [text].
    """
    shift = far_shift_h(record, path)
    if abs(shift) < 1.5:
        return ""
    turned = _turned(2.0 * record.longitude_deg / 15.0)
    zone = _turned(2.0 * record.utc_offset_h)
    if abs(_turned(shift + turned)) <= 1.0:
        if record.longitude_deg * record.utc_offset_h < 0:
            return (
                f"  Longitude {record.longitude_deg:g} and time zone UTC{record.utc_offset_h:+g} "
                "are on opposite sides of Greenwich. Irradiance fits with the opposite "
                "sign of one of them. West is negative."
            )
        return (
            f"  Irradiance fits with longitude {-record.longitude_deg:g} in place of "
            f"{record.longitude_deg:g}. West is negative."
        )
    if abs(_turned(shift - zone)) <= 0.5 or abs(_turned(shift - zone / 2.0)) <= 0.5:
        return (
            f"  Irradiance fits with every label moved by {shift:+g} h. Check the "
            f"sign of the time zone (UTC{record.utc_offset_h:+g}), or labels in UTC."
        )
    return f"  Irradiance fits with every label moved by {shift:+g} h."


def _turned(hours: float) -> float:
    """Return hours within half a day of zero."""
    return (hours + 12.0) % 24.0 - 12.0
