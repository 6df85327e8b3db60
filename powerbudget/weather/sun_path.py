"""The sun's height by cheap formulas, with the clock moved at will."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from powerbudget.weather.late_imports import pvlib_module
from powerbudget.weather.record import Floats, WeatherRecord, day_of_year


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

    def sine_of_height(self, shift_min: float | Floats = 0.0) -> Floats:
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
    """Return the sun's path by low-precision formulas, within about 0.5 deg [rad].

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
