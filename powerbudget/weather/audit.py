"""Can the record be true?  Clock, ceiling and closure, each from the sun.

A wrong time label or zone moves the light away from the sun; the counts here find
it.  Cheap sun formulas are enough to tell ten minutes, and keep a year quick.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from powerbudget.errors import DataError, Finding
from powerbudget.weather.libs import pvlib_module
from powerbudget.weather.record import Floats, WeatherRecord, day_of_year

SHIFTS_MIN = tuple(range(-60, 61, 10))
"""Shifts of the labels that are tried [min]."""
_CEILING_MARGIN_W_M2 = 50.0
_CEILING_SHARE = 0.01
_CLOSURE_SHARE = 0.05
_LEAST_ROWS = 20


@dataclass(frozen=True, eq=False)
class SunPath:
    """The parts of the sun's height that do not change with a shift of the clock.

    Parameters
    ----------
    hour_angle_rad
        Angle of the sun west of the meridian [rad].
    level
        Sine of latitude times sine of declination [number].
    swing
        Cosine of latitude times cosine of declination [number].
    extra_w_m2
        Irradiance above the atmosphere, facing the sun [W/m2].
    """

    hour_angle_rad: Floats
    level: Floats
    swing: Floats
    extra_w_m2: Floats

    def sine_of_height(self, shift_min: float = 0.0) -> Floats:
        """Return the sine of the sun's height with the clock moved [number].

        Parameters
        ----------
        shift_min
            Minutes added to every label [min].

        Returns
        -------
        numpy.ndarray
            Sine of the height above the horizon, no refraction [number].
        """
        shift_rad = np.radians(shift_min / 4.0)
        sine: Floats = self.level + self.swing * np.cos(self.hour_angle_rad + shift_rad)
        return sine


def sun_path(record: WeatherRecord) -> SunPath:
    """Return the sun's path by low-precision formulas, within about 0.3 deg [rad].

    Parameters
    ----------
    record
        The weather, with its place and times [record].

    Returns
    -------
    SunPath
        Hour angle [rad] and the terms of the sun's height [number].

    References
    ----------
    Spencer, J.W., "Fourier series representation of the position of the sun",
    Search 2(5), 1971, p. 172.
    """
    solarposition = pvlib_module("solarposition")
    day = day_of_year(record.sun_utc)
    declination = solarposition.declination_spencer71(day)
    equation_min = solarposition.equation_of_time_spencer71(day)
    hours_utc = (day % 1.0) * 24.0
    hour_angle = np.radians(
        15.0 * (hours_utc - 12.0) + record.longitude_deg + equation_min / 4.0
    )
    latitude = np.radians(record.latitude_deg)
    return SunPath(
        hour_angle_rad=hour_angle,
        level=np.sin(latitude) * np.sin(declination),
        swing=np.cos(latitude) * np.cos(declination),
        extra_w_m2=np.asarray(
            pvlib_module("irradiance").get_extra_radiation(day, method="spencer")
        ),
    )


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


def label_finding(record: WeatherRecord, path: SunPath) -> Finding | None:
    """Return a remark when other labels fit the sun clearly better [text].

    Parameters
    ----------
    record
        The weather [record].
    path
        Its sun, from `sun_path` [record].

    Returns
    -------
    Finding or None
        The remark, with the better shift [text].

    Notes
    -----
    Hourly means are light before the middle of the hour sees the sun, so a good
    record has misfits too: some 90 to 250 a year at stations, 0 to 120 for values at
    a moment.  The remark asks for 1.6 times the best count and 20 a year more, which
    none of 16 good records tried reached and which a shift of 40 min exceeds.
    """
    misfits = label_misfits(record, path)
    best = best_shift_min(misfits)
    if misfits[0] <= 1.6 * misfits[best] + _LEAST_ROWS * max(record.years, 0.05):
        return None
    return Finding(
        "warning",
        f"The time labels do not fit the sun: {misfits[0]} rows are light with the sun "
        f"down or dark with the sun up, and {misfits[best]} would be if {best:+d} min "
        "were added to every label.  Look for a wrong time zone, summer time, a label "
        "at the other end of the hour or a clock that was off; a hill close by can "
        "look alike.",
    )


def ceiling_finding(
    record: WeatherRecord, path: SunPath, clock: Finding | None = None
) -> Finding | None:
    """Return a remark on more light than there is above the atmosphere [text].

    Parameters
    ----------
    record
        The weather [record].
    path
        Its sun, from `sun_path` [record].
    clock
        What `label_finding` said, for the message [text].

    Returns
    -------
    Finding or None
        The remark, when a few intervals are too bright [text].

    Raises
    ------
    DataError
        When over 1 % of the daylight intervals are.
    """
    sine = path.sine_of_height()
    ceiling_w_m2 = path.extra_w_m2 * np.maximum(sine, 0.0)
    above = record.ghi_w_m2 > ceiling_w_m2 + _CEILING_MARGIN_W_M2
    count, daylight = int(above.sum()), max(int((sine > 0.0).sum()), 1)
    if not count:
        return None
    at = int(np.argmax(record.ghi_w_m2 - ceiling_w_m2))
    text = (
        f"{count} of {daylight} daylight intervals have over "
        f"{_CEILING_MARGIN_W_M2:g} W/m2 more light on the level than reaches the "
        f"atmosphere from above, the worst {record.ghi_w_m2[at]:.0f} against "
        f"{ceiling_w_m2[at]:.0f} W/m2 at {record.start_local[at]} local standard time"
    )
    if count <= _CEILING_SHARE * daylight:
        return Finding("warning", f"{text}.")
    hint = f"  {clock.text}" if clock else ""
    raise DataError(
        f"{record.source}: cannot be true: {text}; allowed: {_CEILING_SHARE:.0%} of "
        f"them.  Check unit (W/m2, not kJ or Wh/day), place and time labels.{hint}"
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
        "Global light differs from diffuse plus beam by "
        f"{share:.0%} on average (sun over 10 deg; good records keep within 1 %): the "
        "columns do not belong together, or the time labels are off.",
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
        Remarks on labels, ceiling and closure [text].

    Raises
    ------
    DataError
        When the record holds more light than there can be.
    """
    path = sun_path(record)
    clock = label_finding(record, path)
    found = (
        clock,
        ceiling_finding(record, path, clock),
        closure_finding(record, path),
    )
    return tuple(finding for finding in found if finding is not None)
