"""Can the record be true?  Clock, ceiling and closure, each from the sun.

A wrong time label or zone moves the light away from the sun; the counts here find
it.  Cheap sun formulas are enough to tell ten minutes, and keep a year quick.
"""

from __future__ import annotations

import numpy as np

from powerbudget.errors import DataError, Finding
from powerbudget.quantities import count, in_unit
from powerbudget.weather.record import Floats, WeatherRecord
from powerbudget.weather.sun_path import SunPath, sun_path

SHIFTS_MIN = tuple(range(-60, 61, 10))
"""Shifts of the labels that are tried [min]."""
_CEILING_MARGIN_W_M2 = 50.0
_CEILING_SHARE = 0.01
_CLOSURE_SHARE = 0.05
_LEAST_ROWS = 20


def label_misfits(record: WeatherRecord, path: SunPath) -> dict[int, int]:
    """Return how many rows disagree with the sun at each shift of the labels [count].

    Parameters
    ----------
    record
        The weather [record].
    path
        Its sun, from `sun_path` [record].

    Returns
    -------
    dict of int to int
        Shift [min] to rows that are light with the sun more than 1 deg down, or
        dark with the sun more than 2 deg up [count].
    """
    light = record.ghi_w_m2 > 0.0
    down, up = np.sin(np.radians(-1.0)), np.sin(np.radians(2.0))

    def misfits(shift_min: int) -> int:
        sine = path.sine_of_height(shift_min)
        return int(np.count_nonzero(np.where(light, sine < down, sine > up)))

    return {shift: misfits(shift) for shift in SHIFTS_MIN}


def best_shift_min(misfits: dict[int, int]) -> int:
    """Return the shift that fits best, the middle one of equals [min].

    Parameters
    ----------
    misfits
        From `label_misfits` [count].

    Returns
    -------
    int
        Minutes to add to the labels [min].

    Examples
    --------
    >>> best_shift_min({-20: 0, -10: 0, 0: 0, 10: 40})
    -10
    """
    least = min(misfits.values())
    equals = sorted(shift for shift, count in misfits.items() if count == least)
    return equals[len(equals) // 2]


def better_shift_min(misfits: dict[int, int], years: float) -> int:
    """Return the shift of the labels that fits clearly better than none [min].

    Parameters
    ----------
    misfits
        From `label_misfits` [count].
    years
        Length of the record [years].

    Returns
    -------
    int
        Minutes to add to the labels, 0 where they may stand as they are [min].

    Notes
    -----
    Hourly means are light before the middle of the hour sees the sun, so a good
    record has misfits too: some 90 to 250 a year at stations, 0 to 120 for values at
    a moment.  A shift must save 40 % of the misfits and 20 a year, which in 13 good
    records none did; labels 50 min off do so in all of them, 20 min off where the
    values are those of a moment.

    Examples
    --------
    >>> better_shift_min({-30: 90, 0: 207, 30: 400}, 1.0)
    -30
    >>> better_shift_min({-30: 150, 0: 207, 30: 400}, 1.0)
    0
    """
    best = best_shift_min(misfits)
    allowed = 1.6 * misfits[best] + _LEAST_ROWS * max(years, 0.05)
    return best if misfits[0] > allowed else 0


def label_finding(misfits: dict[int, int], shift_min: int) -> Finding | None:
    """Return a remark when other labels fit the sun clearly better [text].

    Parameters
    ----------
    misfits
        From `label_misfits` [count].
    shift_min
        From `better_shift_min` [min].

    Returns
    -------
    Finding or None
        The remark, with the better shift [text].
    """
    if shift_min == 0:
        return None
    return Finding(
        "warning",
        f"Time labels do not match the sun position: {count(misfits[0], 'row')} have "
        f"irradiance at night or none by day, {misfits[shift_min]} with "
        f"{shift_min:+d} min added to every label. Check for a wrong time zone, "
        "daylight saving time, labels at the other end of the hour, or a wrong "
        "clock. A close hill has the same effect.",
    )


def ceiling_finding(
    record: WeatherRecord, path: SunPath, shift_min: float | Floats = 0.0
) -> Finding | None:
    """Return a remark on more light than there is above the atmosphere [text].

    Parameters
    ----------
    record
        The weather [record].
    path
        Its sun, from `sun_path` [record].
    shift_min
        Minutes by which the labels are off, so that a wrong clock alone does not
        make a record impossible [min].

    Returns
    -------
    Finding or None
        The remark, when a few intervals are too bright [text].

    Raises
    ------
    DataError
        When over 1 % of the daylight intervals are.
    """
    from powerbudget.weather.clock import far_cause

    sine = path.sine_of_height(shift_min)
    ceiling_w_m2 = path.extra_w_m2 * np.maximum(sine, 0.0)
    above = record.ghi_w_m2 > ceiling_w_m2 + _CEILING_MARGIN_W_M2
    count, daylight = int(above.sum()), max(int((sine > 0.0).sum()), 1)
    if not count:
        return None
    at = int(np.argmax(record.ghi_w_m2 - ceiling_w_m2))
    text = (
        f"{count} of {daylight} daylight intervals exceed extraterrestrial "
        f"irradiance by over {_CEILING_MARGIN_W_M2:g} W/m², the worst "
        f"{record.ghi_w_m2[at]:.0f} against {in_unit(ceiling_w_m2[at], 'W/m²')} at "
        f"{record.start_local[at]} local standard time"
    )
    if count <= _CEILING_SHARE * daylight:
        return Finding("warning", f"{text}.")
    raise DataError(
        f"{record.source}: QC failed: {text}; allowed: {in_unit(100 * _CEILING_SHARE, '%')} of "
        "them. Check unit (W/m², not kJ or Wh/day), location, time zone, and "
        f"labels.{far_cause(record, path)}"
    )


def closure_finding(record: WeatherRecord, path: SunPath) -> Finding | None:
    """Return a remark when global light is not beam plus diffuse [text].

    Parameters
    ----------
    record
        The weather [record].
    path
        Its sun, from `sun_path` [record].

    Returns
    -------
    Finding or None
        The remark, when the mean difference is over 5 % of the mean [text].

    Notes
    -----
    Only intervals with the sun over 10 deg count: lower down, the middle of an
    interval does not stand well for all of it.
    """
    sine = path.sine_of_height()
    high = sine > np.sin(np.radians(10.0))
    mean_w_m2 = float(record.ghi_w_m2[high].mean()) if high.any() else 0.0
    if mean_w_m2 <= 0.0:
        return None
    beam_w_m2 = record.dni_w_m2[high] * sine[high]
    rest_w_m2 = record.ghi_w_m2[high] - record.dhi_w_m2[high] - beam_w_m2
    share = float(np.abs(rest_w_m2).mean()) / mean_w_m2
    if share <= _CLOSURE_SHARE:
        return None
    return Finding(
        "warning",
        f"GHI differs from diffuse plus beam by {in_unit(100 * share, '%')} on average (sun above "
        "10°; limit 1 %). The columns do not match, or the time labels are wrong.",
    )


def audit(record: WeatherRecord) -> tuple[Finding, ...]:
    """Return what the sun says against a record [text].

    Parameters
    ----------
    record
        The weather [record].

    Returns
    -------
    tuple of Finding
        Remarks on labels, clock, ceiling, closure, night, stuck values and dark days
        [text].

    Raises
    ------
    DataError
        When the record holds more light than there can be, or far too little for
        its unit.
    """
    from powerbudget.weather.clock import (
        clock_finding,
        lag_by_row_min,
        lags_by_year,
    )
    from powerbudget.weather.plausible import check_light_unit, plausible_findings

    path = sun_path(record)
    misfits = label_misfits(record, path)
    shift_min = better_shift_min(misfits, record.years)
    lags = lags_by_year(record)
    allowed_min = float(shift_min) if shift_min else lag_by_row_min(record, lags)
    ceiling = ceiling_finding(record, path, allowed_min)
    check_light_unit(record, path)
    labels = label_finding(misfits, shift_min)
    found = [
        labels,
        # One remark on the clock is enough when the whole record is off.
        None if labels else clock_finding(lags),
        ceiling,
        closure_finding(record, path),
        *plausible_findings(record, path, allowed_min),
    ]
    return tuple(finding for finding in found if finding is not None)
