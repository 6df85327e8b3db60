"""Sun hours stated on a tilted plane come back on that plane in the hourly years.

The monthly method that turns a plane into level light is not the inverse of the hourly
sky: light falls unevenly over the hours, and the diffuse share bends with clearness.  So
the years themselves are made and laid on the plane, and each month is corrected until it
returns what was stated.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from powerbudget.errors import Finding
from powerbudget.quantities import in_unit
from powerbudget.weather.plane import plane_of_array
from powerbudget.weather.record import Floats, WeatherRecord
from powerbudget.weather.sun import sun_position
from powerbudget.weather.synthesis import MonthlySky, synthesise

NEAR_FRAC = 0.005
"""A month has come back when it is as near as this [fraction]."""
_STOP_FRAC = 0.002
_MOST_PASSES = 15
_FREE_PASSES = 2
"""After these the days keep their classes: else a month jumps where its class changes."""
_FIRST_SLOPE = 1.0 / 0.6
_SLOPES = (0.5, 4.0)
_CLEARNESS = (0.02, 0.80)
_DARK_H = 0.05


def returning(
    sky: MonthlySky,
    sun_hours_h: Floats,
    *,
    plane_tilt_deg: float,
    albedo_frac: Floats,
    years: int,
    seed: int,
) -> MonthlySky:
    """Return the sky whose years bring stated sun hours back on their plane [sky].

    Parameters
    ----------
    sky
        A first guess, from the monthly method.
    sun_hours_h
        Twelve figures: kWh/m2 a day on the plane [h].
    plane_tilt_deg
        Tilt of the plane, which faces the equator [deg].
    albedo_frac
        Ground reflectance by month [fraction].
    years, seed
        Of the years that are to bring them back [count].

    Returns
    -------
    MonthlySky
        With other clearness, and the remark how near each month came [sky].

    Notes
    -----
    The mean over the years returns; single years differ.  Clearness moves along the
    slope of the last two passes: irradiation on a steep winter plane rises with more
    than the square of clearness, so that a plain ratio would swing.  Where a plane
    turns away from a high sun, irradiation hardly rises with clearness and a month may
    not come back: it is named.
    """
    lit = sun_hours_h > _DARK_H
    last: tuple[Floats, Floats] | None = None
    best, nearest = sky, np.inf
    for passes in range(1, _MOST_PASSES + 1):
        got_h = _on_plane_h(synthesise(sky, years, seed), plane_tilt_deg, albedo_frac)
        ratio = np.where(lit, got_h / np.where(lit, sun_hours_h, 1.0), 1.0)
        apart = float(np.abs(ratio - 1.0).max())
        if apart < nearest:
            best, nearest, told = sky, apart, (got_h, ratio)
        if apart <= _STOP_FRAC:
            break
        slope = _slope(last, (sky.clearness, got_h))
        last = sky.clearness, got_h
        if passes == _FREE_PASSES:
            sky, last = replace(sky, drawn_for=sky.clearness), None
        moved = np.clip(sky.clearness * ratio ** (-1.0 / slope), *_CLEARNESS)
        sky = replace(sky, clearness=np.where(lit, moved, sky.clearness))
    return replace(best, remarks=(_remark(sun_hours_h, *told, plane_tilt_deg),))


def _slope(last: tuple[Floats, Floats] | None, now: tuple[Floats, Floats]) -> Floats:
    """Return by how much irradiation rises over clearness, both as ratios."""
    if last is None:
        return np.full(12, _FIRST_SLOPE)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = np.log(now[1] / last[1]) / np.log(now[0] / last[0])
    return np.clip(np.where(np.isfinite(slope), slope, _FIRST_SLOPE), *_SLOPES)


def _on_plane_h(record: WeatherRecord, tilt_deg: float, albedo_frac: Floats) -> Floats:
    """Return the mean day of each month on the plane, before any loss [h]."""
    plane = plane_of_array(
        record,
        sun_position(record),
        tilt_deg=tilt_deg,
        azimuth_deg=180.0 if record.latitude_deg >= 0 else 0.0,
        albedo_frac=albedo_frac[record.month - 1],
    )
    month = record.month - 1
    sums = np.bincount(month, weights=plane.global_w_m2, minlength=12)
    return np.asarray(sums / np.bincount(month, minlength=12) * 0.024)


def _remark(stated_h: Floats, got_h: Floats, ratio: Floats, tilt_deg: float) -> Finding:
    from powerbudget.site.fields import MONTHS

    off = np.flatnonzero(np.abs(ratio - 1.0) > NEAR_FRAC)
    if off.size:
        months = ", ".join(
            f"{MONTHS[k]} {in_unit(got_h[k], 'h', 2)} for {in_unit(stated_h[k], 'h', 2)}"
            for k in off
        )
        return Finding(
            "warning",
            f"Sun hours do not come back on the plane at {tilt_deg:g}°: {months} a day. "
            "Check the figures, or state ghi.",
        )
    apart = max(0.001, float(np.abs(ratio - 1.0).max()))
    return Finding(
        "note",
        f"Sun hours come back on the plane at {tilt_deg:g}° within {in_unit(100 * apart, '%', 1)}, "
        "as the mean of all years. Another plane need not keep its mean.",
    )
