"""Monthly means on a tilted plane by hand: the textbook's isotropic method.

Day geometry, the extraterrestrial day, the diffuse share and the monthly tilt
ratio, each one formula.  They serve the worksheet that a reviewer ticks with a
pencil, and turn sun hours on a tilted plane back into those on level ground; the
hourly simulation itself does not use them.

References
----------
Duffie & Beckman, Solar Engineering of Thermal Processes, 4th edition (2013),
sections 1.6, 1.10, 2.12 and 2.19.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = float | npt.NDArray[np.float64]

SOLAR_CONSTANT_W_M2 = 1367.0
"""Solar constant of the textbook (section 1.2) [W/m2]."""

MEAN_DAYS = (17, 47, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344)
"""Day of the year that stands for each month, Duffie & Beckman table 1.6.1 [-]."""


def declination_deg(day_of_year: Floats) -> Floats:
    """Return the sun's declination by Cooper's formula [deg].

    Parameters
    ----------
    day_of_year
        1 on 1 January [-].

    Returns
    -------
    float or array
        Declination, north positive [deg].

    References
    ----------
    Duffie & Beckman (2013), equation 1.6.1a.

    Examples
    --------
    >>> round(float(declination_deg(261)), 4)
    1.0089
    """
    angle = np.radians(360.0 * (284.0 + np.asarray(day_of_year)) / 365.0)
    return _as_given(23.45 * np.sin(angle))


def distance_factor(day_of_year: Floats) -> Floats:
    """Return the extraterrestrial irradiance over the solar constant [-].

    Parameters
    ----------
    day_of_year
        1 on 1 January [-].

    Returns
    -------
    float or array
        About 1.033 in January and 0.967 in July [-].

    References
    ----------
    Duffie & Beckman (2013), equation 1.4.1a.

    Examples
    --------
    >>> round(float(distance_factor(261)), 7)
    0.9928151
    """
    angle = np.radians(360.0 * np.asarray(day_of_year) / 365.0)
    return _as_given(1.0 + 0.033 * np.cos(angle))


def sunset_angle_deg(latitude_deg: Floats, declination: Floats) -> Floats:
    """Return the hour angle of sunset on level ground [deg].

    Parameters
    ----------
    latitude_deg
        North positive [deg].
    declination
        Of the sun, north positive [deg].

    Returns
    -------
    float or array
        0 in the polar night, 180 in the polar day [deg].

    References
    ----------
    Duffie & Beckman (2013), equation 1.6.10.

    Examples
    --------
    >>> round(float(sunset_angle_deg(40.0, 1.0089)), 2)
    90.85
    """
    product = -np.tan(np.radians(latitude_deg)) * np.tan(np.radians(declination))
    return _as_given(np.degrees(np.arccos(np.clip(product, -1.0, 1.0))))


def day_length_h(latitude_deg: Floats, day_of_year: Floats) -> Floats:
    """Return the hours from sunrise to sunset on level ground [h].

    Parameters
    ----------
    latitude_deg
        North positive [deg].
    day_of_year
        1 on 1 January [-].

    Returns
    -------
    float or array
        Length of the day, refraction ignored [h].

    References
    ----------
    Duffie & Beckman (2013), equation 1.6.11.

    Examples
    --------
    >>> round(float(day_length_h(70.0, 261)), 2)
    12.37
    """
    return sunset_angle_deg(latitude_deg, declination_deg(day_of_year)) / 7.5


def extraterrestrial_daily_mj_m2(latitude_deg: Floats, day_of_year: Floats) -> Floats:
    """Return the daily irradiation on a level plane outside the air [MJ/m2].

    Parameters
    ----------
    latitude_deg
        North positive [deg].
    day_of_year
        1 on 1 January; the mean day of a month for its mean [-].

    Returns
    -------
    float or array
        Irradiation of one day [MJ/m2].

    References
    ----------
    Duffie & Beckman (2013), equation 1.10.3, with 1367 W/m2.

    Examples
    --------
    >>> round(float(extraterrestrial_daily_mj_m2(43.0, 105)), 1)
    33.8
    """
    declination = declination_deg(day_of_year)
    sunset = sunset_angle_deg(latitude_deg, declination)
    normal = 0.0864 * SOLAR_CONSTANT_W_M2 / np.pi * distance_factor(day_of_year)
    return _as_given(normal * _day_sum(latitude_deg, declination, sunset))


def erbs_monthly_diffuse_frac(clearness: Floats, sunset_deg: Floats) -> Floats:
    """Return the monthly diffuse share of the level irradiation [frac].

    Parameters
    ----------
    clearness
        Monthly mean clearness index, level over extraterrestrial [frac].
    sunset_deg
        Hour angle of sunset on the mean day of the month [deg].

    Returns
    -------
    float or array
        Diffuse over global [frac].

    Notes
    -----
    Fitted for a clearness from 0.3 to 0.8.  Duller months are extrapolated up to
    a share of 1, since dull winters are what this package is for; clearer months
    get the value at 0.8.

    References
    ----------
    Erbs, Klein & Duffie, Estimation of the diffuse radiation fraction for hourly,
    daily and monthly-average global radiation, Solar Energy 28 (1982);
    Duffie & Beckman (2013), equation 2.12.1.

    Examples
    --------
    >>> round(float(erbs_monthly_diffuse_frac(0.482, 69.12)), 3)
    0.409
    """
    k = np.minimum(clearness, 0.8)
    short_day = 1.391 - 3.560 * k + 4.189 * k**2 - 2.137 * k**3
    long_day = 1.311 - 3.022 * k + 3.427 * k**2 - 1.821 * k**3
    share = np.where(np.asarray(sunset_deg) <= 81.4, short_day, long_day)
    return _as_given(np.clip(share, 0.0, 1.0))


def beam_ratio_monthly(
    latitude_deg: Floats, tilt_deg: Floats, day_of_year: Floats
) -> Floats:
    """Return the monthly beam on a plane facing the equator over the level one [-].

    Parameters
    ----------
    latitude_deg
        North positive; the plane faces south in the north and north in the
        south [deg].
    tilt_deg
        Of the plane from horizontal [deg].
    day_of_year
        Mean day of the month [-].

    Returns
    -------
    float or array
        Ratio R_b; 0 where the sun does not rise [-].

    References
    ----------
    Duffie & Beckman (2013), equation 2.19.3a.

    Examples
    --------
    >>> round(float(beam_ratio_monthly(43.0, 60.0, 17)), 2)
    2.79
    """
    declination = declination_deg(day_of_year)
    sunset = sunset_angle_deg(latitude_deg, declination)
    tilted = np.asarray(latitude_deg) - np.where(
        np.asarray(latitude_deg) >= 0, tilt_deg, -np.asarray(tilt_deg)
    )
    # A steep plane in summer loses the sun behind it before the level sunset.
    behind = np.minimum(sunset, sunset_angle_deg(tilted, declination))
    level = _day_sum(latitude_deg, declination, sunset)
    slope = _day_sum(tilted, declination, behind)
    lit = level > 1e-9
    return _as_given(np.where(lit, slope / np.where(lit, level, 1.0), 0.0))


def monthly_tilted_mj_m2(
    horizontal_mj_m2: Floats,
    *,
    latitude_deg: Floats,
    tilt_deg: Floats,
    day_of_year: Floats,
    albedo_frac: Floats,
) -> Floats:
    """Return the monthly mean daily irradiation on a tilted plane [MJ/m2].

    ``H_T = H [(1 - f_d) R_b + f_d (1 + cos b) / 2 + albedo (1 - cos b) / 2]``

    Parameters
    ----------
    horizontal_mj_m2
        Monthly mean daily irradiation on level ground [MJ/m2].
    latitude_deg
        North positive [deg].
    tilt_deg
        Of the plane, facing the equator, from horizontal [deg].
    day_of_year
        Mean day of the month [-].
    albedo_frac
        Share of the light that the ground returns [frac].

    Returns
    -------
    float or array
        Irradiation of the mean day on the plane [MJ/m2].

    References
    ----------
    Duffie & Beckman (2013), equation 2.19.1 and Example 2.19.1.

    Examples
    --------
    >>> january = monthly_tilted_mj_m2(
    ...     6.44, latitude_deg=43.0, tilt_deg=60.0, day_of_year=17, albedo_frac=0.7
    ... )
    >>> round(float(january), 1)
    13.7
    """
    sunset = sunset_angle_deg(latitude_deg, declination_deg(day_of_year))
    outside = np.asarray(extraterrestrial_daily_mj_m2(latitude_deg, day_of_year))
    lit = outside > 1e-9
    clearness = np.where(lit, horizontal_mj_m2 / np.where(lit, outside, 1.0), 0.0)
    diffuse = erbs_monthly_diffuse_frac(clearness, sunset)
    cos_tilt = np.cos(np.radians(tilt_deg))
    beam_ratio = beam_ratio_monthly(latitude_deg, tilt_deg, day_of_year)
    sky = (1.0 - diffuse) * beam_ratio + diffuse * (1.0 + cos_tilt) / 2.0
    ground = np.asarray(albedo_frac) * (1.0 - cos_tilt) / 2.0
    return _as_given(horizontal_mj_m2 * (sky + ground))


def _day_sum(latitude_deg: Floats, declination: Floats, sunset_deg: Floats) -> Floats:
    """Return half the day's integral of the sine of the sun's height [rad]."""
    lat, decl = np.radians(latitude_deg), np.radians(declination)
    sunset = np.radians(sunset_deg)
    level = np.cos(lat) * np.cos(decl) * np.sin(sunset)
    return _as_given(level + sunset * np.sin(lat) * np.sin(decl))


def _as_given(value: npt.ArrayLike) -> Floats:
    """Return a plain float for a float, an array for an array."""
    array = np.asarray(value, dtype=float)
    return float(array) if array.ndim == 0 else array
