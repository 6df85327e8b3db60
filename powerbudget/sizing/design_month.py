"""The month that decides by hand: most load for its sun, at candidate tilts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from powerbudget.array.plane import plane_of_array
from powerbudget.balance.problem import Problem
from powerbudget.site.fields import MONTHS
from powerbudget.weather import sun_position


@dataclass(frozen=True)
class DesignMonth:
    """The design month at the site's own tilt, and what other tilts would do.

    Parameters
    ----------
    name
        Month [text].
    tilt_deg
        The site's tilt [deg].
    sun_kwh_m2_day, load_ah_per_day
        Sun on the panel and load at the bus in that month [kWh/m2/day, Ah/day].
    load_over_sun
        Largest monthly load over sun for each candidate tilt [Ah/kWh by deg].
    """

    name: str
    tilt_deg: float
    sun_kwh_m2_day: float
    load_ah_per_day: float
    load_over_sun: dict[float, float]


def design_month(problem: Problem) -> DesignMonth:
    """Return the month with the largest load over sun on the panel.

    Parameters
    ----------
    problem
        Prepared site [-].

    Returns
    -------
    DesignMonth
        At the site's tilt, with the latitude and 15 deg either side beside it [-].

    References
    ----------
    IEEE Std 1562: the critical month is that of the largest load over insolation,
    sought at the latitude and 15 deg either side (from memory; the same rule stands
    in Penn State AE 868, lesson on stand-alone sizing).
    """
    tables = problem.design.tables
    load = problem.budget.mean_w.sum(axis=1) / problem.budget.nominal_v
    latitude = round(abs(tables.site.latitude_deg))
    candidates = [latitude + step for step in (-15, 0, 15)]
    tilts = [float(min(max(t, 0), 90)) for t in candidates]
    own = tables.array.tilt_deg
    worst = {tilt: _worst(load, _sun(problem, tilt)) for tilt in sorted({*tilts, own})}
    sun = _sun(problem, own)
    month = int(np.nanargmax(load / sun))
    return DesignMonth(
        name=MONTHS[month],
        tilt_deg=own,
        sun_kwh_m2_day=float(sun[month]),
        load_ah_per_day=float(load[month]),
        load_over_sun=worst,
    )


def _worst(load: np.ndarray, sun: np.ndarray) -> float:
    return float(np.nanmax(load / sun))


def _sun(problem: Problem, tilt_deg: float) -> np.ndarray:
    """Return mean sun on a tilted panel by month, NaN for months not in the record."""
    record, array = problem.record, problem.design.tables.array
    plane = plane_of_array(
        record,
        sun_position(record),
        tilt_deg=tilt_deg,
        azimuth_deg=array.azimuth_deg,
        albedo_frac=array.albedo_frac,
    )
    means = np.full(12, np.nan)
    for month in range(1, 13):
        inside = record.month == month
        if inside.any():
            # A polar night has no sun at all; a hand calculation then has no answer.
            mean = float(plane.global_w_m2[inside].mean()) * 24 / 1000
            means[month - 1] = max(mean, 1e-6)
    return means
