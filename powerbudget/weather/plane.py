"""Light on the plane of the panel: beam, sky and ground, and what the glass lets in."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

from powerbudget.cache import kept
from powerbudget.weather.horizon import Points, beam_open, sky_seen_frac
from powerbudget.weather.late_imports import pvlib_module

if TYPE_CHECKING:
    from powerbudget.weather.record import WeatherRecord
    from powerbudget.weather.sun import SunPosition

FloatArray = npt.NDArray[np.float64]
SkyModel = Literal["perez", "isotropic"]


@dataclass(frozen=True)
class Plane:
    """Irradiance on one plane, one value for each interval of the record.

    Parameters
    ----------
    global_w_m2
        Beam, sky and ground together [W/m2].
    beam_w_m2
        From the sun's disc [W/m2].
    sky_diffuse_w_m2
        From the rest of the sky [W/m2].
    ground_diffuse_w_m2
        Returned by the ground in front [W/m2].
    aoi_deg
        Angle between the sun and the plane's normal [deg].
    effective_w_m2
        What passes the glass, as normal-incidence light [W/m2].
    open_w_m2
        What would arrive with a level horizon [W/m2].
    """

    global_w_m2: FloatArray
    beam_w_m2: FloatArray
    sky_diffuse_w_m2: FloatArray
    ground_diffuse_w_m2: FloatArray
    aoi_deg: FloatArray
    effective_w_m2: FloatArray
    open_w_m2: FloatArray


def plane_of_array(
    record: WeatherRecord,
    sun: SunPosition,
    *,
    tilt_deg: float,
    azimuth_deg: float,
    albedo_frac: float | FloatArray,
    sky: SkyModel = "perez",
    horizon: Points | None = None,
) -> Plane:
    """Return the irradiance on a fixed plane [W/m2].

    Parameters
    ----------
    record
        Hourly sky: global, direct normal and diffuse irradiance [-].
    sun
        Sun position at the middle of each interval [-].
    tilt_deg
        Of the plane from horizontal [deg].
    azimuth_deg
        Where the plane faces, clockwise from north [deg].
    albedo_frac
        Share of the light that the ground returns, one value or a series [frac].
    sky
        ``"perez"``, or ``"isotropic"`` for comparison [text].
    horizon
        Pairs of azimuth and height of hills around; None for level ground [deg].

    Returns
    -------
    Plane
        Components, incidence angle and irradiance behind the glass; a missing
        value, such as the air mass at night, counts as no light [-].

    Notes
    -----
    Perez et al. (1990) with the all-sites coefficients.  Beam loss at the glass
    from Fresnel's and Bouguer's laws, diffuse loss as the mean of the same
    function over the sky dome and over the ground.  Where the sun is down in the
    middle of an interval the sky model has no answer and counts as dark, which
    leaves out up to 0.3 % of a year.

    References
    ----------
    Perez, Ineichen, Seals, Michalsky & Stewart, Modeling daylight availability and
    irradiance components from direct and global irradiance, Solar Energy 44
    (1990), 271-289.
    De Soto, Klein & Beckman, Improvement and validation of a model for
    photovoltaic array performance, Solar Energy 80 (2006), 78-88.
    Marion, Numerical method for angle-of-incidence correction factors for diffuse
    radiation incident photovoltaic modules, Solar Energy 147 (2017), 344-348.
    """
    light = (record.ghi_w_m2, record.dni_w_m2, record.dhi_w_m2)
    way = (float(tilt_deg), float(azimuth_deg), albedo_frac, sky, horizon)
    return kept("plane", (*light, sun, *way), lambda: _plane(record, sun, *way))


def _plane(
    record: WeatherRecord,
    sun: SunPosition,
    tilt_deg: float,
    azimuth_deg: float,
    albedo_frac: float | FloatArray,
    sky: SkyModel,
    horizon: Points | None,
) -> Plane:
    iam, irradiance = pvlib_module("iam"), pvlib_module("irradiance")
    aoi = irradiance.aoi(tilt_deg, azimuth_deg, sun.zenith_deg, sun.azimuth_deg)
    beam = _light(record.dni_w_m2 * np.cos(np.radians(aoi)))
    even, around_sun = _sky_diffuse_w_m2(record, sun, tilt_deg, azimuth_deg, sky)
    ground = _light(
        record.ghi_w_m2 * albedo_frac * (1.0 - np.cos(np.radians(tilt_deg))) / 2.0
    )
    in_open = beam + _light(even + around_sun) + ground
    if horizon is not None:
        clear = beam_open(horizon, sun.zenith_deg, sun.azimuth_deg)
        beam, around_sun = np.where(clear, beam, 0.0), np.where(clear, around_sun, 0.0)
        even = even * sky_seen_frac(horizon, float(tilt_deg), float(azimuth_deg))
    diffuse = _light(even + around_sun)
    sky_frac, ground_frac = diffuse_passed_frac(float(tilt_deg))
    through = beam * iam.physical(aoi) + diffuse * sky_frac + ground * ground_frac
    return Plane(
        global_w_m2=beam + diffuse + ground,
        beam_w_m2=beam,
        sky_diffuse_w_m2=diffuse,
        ground_diffuse_w_m2=ground,
        aoi_deg=np.asarray(aoi, dtype=float),
        effective_w_m2=_light(through),
        open_w_m2=in_open,
    )


@lru_cache(maxsize=256)
def diffuse_passed_frac(tilt_deg: float) -> tuple[float, float]:
    """Return the share of sky light and of ground light that passes the glass [frac].

    Parameters
    ----------
    tilt_deg
        Of the plane from horizontal [deg].

    Returns
    -------
    tuple
        Sky share, ground share [frac].

    References
    ----------
    Marion, Solar Energy 147 (2017), 344-348.

    Examples
    --------
    >>> tuple(round(share, 4) for share in diffuse_passed_frac(90.0))
    (0.9444, 0.9444)
    """
    shares = pvlib_module("iam").marion_diffuse("physical", tilt_deg)
    return float(shares["sky"]), float(np.nan_to_num(shares["ground"]))


def _sky_diffuse_w_m2(
    record: WeatherRecord,
    sun: SunPosition,
    tilt_deg: float,
    azimuth_deg: float,
    sky: SkyModel,
) -> tuple[FloatArray, FloatArray]:
    """Return the even light of the sky on the plane, and the glow around the sun."""
    irradiance = pvlib_module("irradiance")
    if sky == "isotropic":
        flat: FloatArray = irradiance.isotropic(tilt_deg, record.dhi_w_m2)
        return flat, np.zeros_like(flat)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        perez = irradiance.perez(
            tilt_deg,
            azimuth_deg,
            record.dhi_w_m2,
            record.dni_w_m2,
            sun.dni_extra_w_m2,
            sun.zenith_deg,
            sun.azimuth_deg,
            sun.airmass,
            return_components=True,
        )
        glow = np.nan_to_num(np.asarray(perez["poa_circumsolar"], dtype=float))
        even = np.nan_to_num(np.asarray(perez["poa_sky_diffuse"], dtype=float)) - glow
    return even, glow


def _light(value: FloatArray) -> FloatArray:
    """Return irradiance with missing and negative values as darkness."""
    return np.maximum(np.nan_to_num(value, nan=0.0), 0.0)
