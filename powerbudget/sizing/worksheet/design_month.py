"""Sun on the panel by month, at the candidate tilts of a hand calculation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from powerbudget.array.string_output import albedo_of
from powerbudget.balance.problem import Problem
from powerbudget.site.fields import MONTHS
from powerbudget.weather import sun_position
from powerbudget.weather.plane import plane_of_array

Floats = NDArray[np.float64]
STEPS_DEG = (-15.0, 0.0, 15.0)


@dataclass(frozen=True)
class DesignMonth:
    """The month with the most load for its sun, at the site's own tilt.

    Parameters
    ----------
    name
        Month [text].
    sun_kwh_m2_day, load_ah_per_day
        Sun on the panel and load at the bus in that month [kWh/m2/day, Ah/day].
    """

    name: str
    sun_kwh_m2_day: float
    load_ah_per_day: float


def design_month(problem: Problem) -> DesignMonth:
    """Return the month with the largest load over sun on the panel as it stands.

    Parameters
    ----------
    problem
        Prepared site [-].

    Returns
    -------
    DesignMonth
        Of the months that the record has [-].

    References
    ----------
    IEEE Std 1562: the critical month is that of the largest load over insolation (from
    memory; the same rule stands in Penn State AE 868, lesson on stand-alone sizing).
    """
    load = problem.daily_wh / problem.budget.nominal_v
    sun = monthly_sun(problem, problem.array.poa_w_m2)
    month = int(np.nanargmax(load / sun))
    return DesignMonth(MONTHS[month], float(sun[month]), float(load[month]))


def sun_by_tilt(problem: Problem) -> dict[float, tuple[float, ...]]:
    """Return mean sun on the panel by month, for the site's tilt and the usual three.

    Parameters
    ----------
    problem
        Prepared site [-].

    Returns
    -------
    dict
        Twelve means for each tilt, NaN for months that the record does not have; the
        horizon counts at the site's own tilt only [kWh/m2/day by deg].

    References
    ----------
    IEEE Std 1562: the critical month is that of the largest load over insolation,
    sought at the latitude and 15 deg either side (unverified; the same rule stands
    in Penn State AE 868, lesson on stand-alone sizing).
    """
    tables = problem.design.tables
    latitude = round(abs(tables.site.latitude_deg))
    tilts = {float(min(max(latitude + step, 0), 90)) for step in STEPS_DEG}
    own = tables.array.tilt_deg
    found = {t: monthly_sun(problem, _light(problem, t)) for t in tilts - {own}}
    found[own] = monthly_sun(problem, problem.array.poa_w_m2)
    return {tilt: tuple(map(float, found[tilt])) for tilt in sorted(found)}


def monthly_sun(problem: Problem, light_w_m2: Floats) -> Floats:
    """Return mean sun by month of the year, over all years [kWh/m2/day].

    Parameters
    ----------
    problem
        Prepared site [-].
    light_w_m2
        Light on the panel by interval [W/m2].

    Returns
    -------
    array
        Twelve means, NaN for months that the record does not have; a polar night
        keeps a trace, so that a quotient exists [kWh/m2/day].
    """
    which = problem.month_index
    sums = np.bincount(which, light_w_m2, 12)
    counts = np.bincount(which, minlength=12)
    means = np.full(12, np.nan)
    there = counts > 0
    means[there] = np.maximum(sums[there] / counts[there] * 24 / 1000, 1e-6)
    return means


def _light(problem: Problem, tilt_deg: float) -> Floats:
    record, array = problem.record, problem.design.tables.array
    return plane_of_array(
        record,
        sun_position(record),
        tilt_deg=tilt_deg,
        azimuth_deg=array.azimuth_deg,
        albedo_frac=albedo_of(record, array),
    ).global_w_m2
