"""Night and day by latitude and date, near enough to switch a lamp."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

HORIZON_DEG = -0.833
"""Height of the sun's middle at sunrise, refraction and radius in it [deg]."""
_PARTS = 6
_MANY = 20_000


def sun_height_deg(
    latitude_deg: float, longitude_deg: float, day_of_year: Floats, hour_utc: Floats
) -> Floats:
    """Return the height of the sun above the horizon [deg].

    Parameters
    ----------
    latitude_deg, longitude_deg
        Place, north and east positive [deg].
    day_of_year
        1 on 1 January [d].
    hour_utc
        Clock time in UTC [h].

    Returns
    -------
    array
        Height, without refraction [deg].

    Notes
    -----
    Good to about half a degree, that is two minutes at the equator and more near
    the poles.

    References
    ----------
    Spencer, Fourier series representation of the position of the sun, Search 2
    (1971), p. 172; coefficients as in Iqbal, An Introduction to Solar Radiation,
    1983, eq. 1.3.1 and 1.4.1, unverified.

    Examples
    --------
    >>> noon = sun_height_deg(45.0, 0.0, np.array([172.0]), np.array([12.0]))
    >>> round(float(noon[0]))
    68
    """
    g = 2 * np.pi * (day_of_year - 1) / 365
    declination = (
        0.006918 - 0.399912 * np.cos(g) + 0.070257 * np.sin(g)
        - 0.006758 * np.cos(2 * g) + 0.000907 * np.sin(2 * g)
        - 0.002697 * np.cos(3 * g) + 0.00148 * np.sin(3 * g)
    )  # fmt: skip
    equation_h = (
        0.000075 + 0.001868 * np.cos(g) - 0.032077 * np.sin(g)
        - 0.014615 * np.cos(2 * g) - 0.04089 * np.sin(2 * g)
    ) * 229.18 / 60  # fmt: skip
    angle = np.radians(15 * (hour_utc + longitude_deg / 15 + equation_h - 12))
    latitude = np.radians(latitude_deg)
    sine = np.sin(latitude) * np.sin(declination)
    sine = sine + np.cos(latitude) * np.cos(declination) * np.cos(angle)
    height: Floats = np.degrees(np.arcsin(np.clip(sine, -1, 1)))
    return height


def night_frac(
    place: tuple[float, float, float],
    day_of_year: Floats,
    hour: Floats,
    step_h: float = 1.0,
) -> Floats:
    """Return the share of each interval between sunset and sunrise [fraction].

    Parameters
    ----------
    place
        Latitude, longitude, and local standard time less UTC [deg, deg, h].
    day_of_year
        1 on 1 January [d].
    hour
        Local standard time at the start of the interval [h].
    step_h
        Length of the interval [h].

    Returns
    -------
    array
        0 by day, 1 by night [fraction].

    References
    ----------
    As `sun_height_deg`; looked at six times within the interval.

    Examples
    --------
    >>> place, winter = (55.0, -120.0, -8.0), np.array([355.0, 355.0])
    >>> night_frac(place, winter, np.array([2.0, 12.0]))
    array([1., 0.])
    """
    if np.size(hour) > _MANY:
        # The years of a long record share their days: each is looked at once.
        second = np.rint(86_400 * day_of_year + 3600 * hour)
        _, first, which = np.unique(second, return_index=True, return_inverse=True)
        if 2 * first.size < second.size:
            once = night_frac(place, day_of_year[first], hour[first], step_h)
            return once[which]
    latitude, longitude, offset_h = place
    night = np.zeros(np.shape(hour))
    for k in range(_PARTS):
        at = hour + (k + 0.5) * step_h / _PARTS - offset_h
        night += sun_height_deg(latitude, longitude, day_of_year, at) < HORIZON_DEG
    return night / _PARTS
