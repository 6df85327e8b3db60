"""Which option is cheapest over a plane of load and sun."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from powerbudget.compare.rank import Comparison
from powerbudget.compare.turning import Case, cost_at
from powerbudget.sizing.design_month import design_month

Floats = NDArray[np.float64]
CELLS = 36


@dataclass(frozen=True)
class WinMap:
    """The cheapest option by load and sun of the design month.

    Parameters
    ----------
    site, month
        Name of the site and of the design month [text].
    years
        Length of the study [year].
    names, titles
        Options that meet the criteria at the site [text].
    load_w, sun_kwh_m2_day
        The plane, both by ratio [W, kWh/m2/day].
    winner
        Index into ``titles``, rows by load [count].
    today_w, today_sun
        The site itself [W, kWh/m2/day].
    """

    site: str
    month: str
    years: int
    names: tuple[str, ...]
    titles: tuple[str, ...]
    load_w: Floats
    sun_kwh_m2_day: Floats
    winner: NDArray[np.int64]
    today_w: float
    today_sun: float


def win_map(result: Comparison) -> WinMap:
    """Return which option is cheapest over a plane of load and sun.

    Parameters
    ----------
    result
        A comparison with at least one option that meets the criteria.

    Returns
    -------
    WinMap
        Loads from a tenth to ten times, sun from a tenth up to 6 kWh/m2 a day or
        what the site has.

    Notes
    -----
    Thermoelectric generators without panels come in whole units, which makes steps.
    Each option is the size found for the site, or one of its other sizes, in other
    units; the shape of the year and the criteria stay those of the site.
    """
    met = [option for option in result.options if option.met and option.trial]
    trial = next((o.trial for o in met if o.trial is not None), None)
    if trial is None:
        return WinMap(result.site, "", result.terms.horizon_y, (), (), np.zeros(0),
                      np.zeros(0), np.zeros((0, 0), np.int64), 0.0, 0.0)  # fmt: skip
    month = design_month(trial.run.problem)
    today = max(month.sun_kwh_m2_day, 1e-3)
    loads = np.geomspace(0.1, 10.0, CELLS) * result.load_w
    suns = np.geomspace(min(0.2, today / 3), max(6.0, 1.2 * today), CELLS)
    winner = np.zeros((CELLS, CELLS), np.int64)
    for row, load in enumerate(loads):
        for column, sun in enumerate(suns):
            case = Case(float(load / result.load_w), float(sun / today))
            costs = [cost_at(option, result.terms, case) for option in met]
            winner[row, column] = int(np.argmin(costs))
    return WinMap(
        site=result.site,
        month=month.name,
        years=result.terms.horizon_y,
        names=tuple(option.name for option in met),
        titles=tuple(option.title for option in met),
        load_w=loads,
        sun_kwh_m2_day=suns,
        winner=winner,
        today_w=result.load_w,
        today_sun=today,
    )
