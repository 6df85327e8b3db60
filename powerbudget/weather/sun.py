"""Where the sun stands for every interval of a record."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from powerbudget.cache import kept
from powerbudget.weather.late_imports import pvlib_module
from powerbudget.weather.record import (
    HOURS_PER_YEAR as _YEAR_H,
)
from powerbudget.weather.record import (
    Floats,
    WeatherRecord,
    cut,
    day_of_year,
)

AIR_DEGC = 12.0
"""At which refraction is taken [degC]."""
CLOCK_LAG_S = 67.0
"""Terrestrial time ahead of the Earth's rotation, of the years about 2010 [s]."""
SUNSET_REFRACTION_DEG = 0.5667
"""At the horizon, where refraction ends [deg]."""


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
    atmosphere = pvlib_module("atmosphere")
    zenith_deg, true_zenith_deg, azimuth_deg = _seen_from(record)
    return SunPosition(
        zenith_deg=zenith_deg,
        true_zenith_deg=true_zenith_deg,
        azimuth_deg=azimuth_deg,
        dni_extra_w_m2=np.asarray(
            irradiance.get_extra_radiation(day_of_year(record.sun_utc)),
            dtype=np.float64,
        ),
        airmass=np.asarray(
            atmosphere.get_relative_airmass(zenith_deg),
            dtype=np.float64,
        ),
    )


def _sky(record: WeatherRecord) -> tuple[Floats, ...]:
    """Return sidereal time, right ascension, declination [deg] and distance [AU].

    They are most of the algorithm and the same from every place, so that sites on one
    clock share them.
    """

    def found() -> tuple[Floats, ...]:
        seconds = (record.sun_utc - np.datetime64(0, "s")) / np.timedelta64(1, "s")
        whole = pvlib_module("spa").solar_position
        # Only time counts for these: the place is left at nought.
        case = (seconds, *[0.0] * 5, CLOCK_LAG_S, 0.0)
        return (*whole(*case, sst=True), *whole(*case, esd=True))

    return kept("sky of the sun", (record.sun_utc,), found)


def _seen_from(record: WeatherRecord) -> tuple[Floats, Floats, Floats]:
    """Return zenith with and without refraction and azimuth from a place [deg]."""
    spa, atmosphere = pvlib_module("spa"), pvlib_module("atmosphere")
    sidereal_deg, ascension_deg, declination_deg, distance_au = _sky(record)
    latitude_deg, elevation_m = record.latitude_deg, record.elevation_m
    hour_deg = spa.local_hour_angle(sidereal_deg, record.longitude_deg, ascension_deg)
    parallax_deg = spa.equatorial_horizontal_parallax(distance_au)
    u = spa.uterm(latitude_deg)
    x, y = (
        spa.xterm(u, latitude_deg, elevation_m),
        spa.yterm(u, latitude_deg, elevation_m),
    )
    shift_deg = spa.parallax_sun_right_ascension(
        x, parallax_deg, hour_deg, declination_deg
    )
    declination_deg = spa.topocentric_sun_declination(
        declination_deg, x, y, parallax_deg, shift_deg, hour_deg
    )
    hour_deg = spa.topocentric_local_hour_angle(hour_deg, shift_deg)
    height_deg = spa.topocentric_elevation_angle_without_atmosphere(
        latitude_deg, declination_deg, hour_deg
    )
    bent_deg = spa.atmospheric_refraction_correction(
        atmosphere.alt2pres(elevation_m) / 100.0,
        AIR_DEGC,
        height_deg,
        SUNSET_REFRACTION_DEG,
    )
    turned_deg = spa.topocentric_astronomers_azimuth(
        hour_deg, declination_deg, latitude_deg
    )
    return (
        spa.topocentric_zenith_angle(height_deg + bent_deg),
        spa.topocentric_zenith_angle(height_deg),
        spa.topocentric_azimuth_angle(turned_deg),
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
