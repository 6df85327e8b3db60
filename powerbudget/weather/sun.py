"""Where the sun stands for every interval of a record."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from powerbudget.cache import kept
from powerbudget.weather.late_imports import pvlib_module
from powerbudget.weather.record import (
    HOURS_PER_YEAR as _YEAR_H,
)
from powerbudget.weather.record import (
    Floats,
    Times,
    WeatherRecord,
    cut,
    day_of_year,
)


@dataclass(frozen=True, eq=False)
class SunPosition:
    """The sun, one value per interval.

    Parameters
    ----------
    zenith_deg
        Angle from straight up, with refraction [deg].
    true_zenith_deg
        The same without refraction [deg].
    azimuth_deg
        Clockwise from north, so that south is 180 [deg].
    dni_extra_w_m2
        Irradiance on a plane facing the sun above the atmosphere [W/m2].
    airmass
        Relative air mass, NaN while the sun is down [number].
    """

    zenith_deg: Floats
    true_zenith_deg: Floats
    azimuth_deg: Floats
    dni_extra_w_m2: Floats
    airmass: Floats


def as_index(moments_utc: Times) -> Any:
    """Return moments as a UTC index in nanoseconds, which every pvlib reads alike.

    Parameters
    ----------
    moments_utc
        Moments in UTC [datetime64].

    Returns
    -------
    pandas.DatetimeIndex
        The same moments, aware of their zone [datetime].
    """
    import pandas as pd

    return pd.DatetimeIndex(moments_utc.astype("datetime64[ns]")).tz_localize("UTC")


def sun_position(record: WeatherRecord) -> SunPosition:
    """Return the sun at the moment that stands for each interval [deg, W/m2].

    Parameters
    ----------
    record
        The weather, with its place and times [record].

    Returns
    -------
    SunPosition
        Zenith, azimuth [deg], extraterrestrial irradiance [W/m2] and air mass
        [number], one value per interval.

    Notes
    -----
    The moment is the middle of the interval unless the record says otherwise.
    Refraction is taken at the pressure of the record's elevation and 12 degC; air
    mass follows Kasten and Young (1989).

    References
    ----------
    Reda, I. and Andreas, A., "Solar Position Algorithm for Solar Radiation
    Applications", NREL/TP-560-34302, revised 2008 (within 0.0003 deg, years -2000
    to 6000).
    """
    place = (record.latitude_deg, record.longitude_deg, record.elevation_m)
    times = (record.start_utc, record.step_h, record.sun_offset_h, record.synthetic)
    return kept("sun", (*place, *times), lambda: _sun(record))


def _sun(record: WeatherRecord) -> SunPosition:
    irradiance = pvlib_module("irradiance")
    if record.synthetic and record.n > _YEAR_H / record.step_h:
        return _repeated(record)
    sun = pvlib_module("solarposition").get_solarposition(
        as_index(record.sun_utc),
        record.latitude_deg,
        record.longitude_deg,
        altitude=record.elevation_m,
        method="nrel_numpy",
    )
    zenith_deg = sun["apparent_zenith"].to_numpy(dtype=np.float64)
    return SunPosition(
        zenith_deg=zenith_deg,
        true_zenith_deg=sun["zenith"].to_numpy(dtype=np.float64),
        azimuth_deg=sun["azimuth"].to_numpy(dtype=np.float64),
        dni_extra_w_m2=np.asarray(
            irradiance.get_extra_radiation(day_of_year(record.sun_utc)),
            dtype=np.float64,
        ),
        airmass=np.asarray(
            pvlib_module("atmosphere").get_relative_airmass(zenith_deg),
            dtype=np.float64,
        ),
    )


def _repeated(record: WeatherRecord) -> SunPosition:
    """Return the first year's sun once for every year: they were made with it."""
    rows = round(_YEAR_H / record.step_h)
    first = sun_position(cut(record, slice(0, rows)))
    return SunPosition(
        *(
            np.tile(getattr(first, field.name), record.n // rows)
            for field in fields(first)
        )
    )
