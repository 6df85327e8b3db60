"""How long a bank lasts: cycles by rainflow counting, heat by summation.

Either the cycles or the corrosion of the plates ends a lead-acid battery; its cycle life
hardly depends on temperature, corrosion strongly.  Heat costs lithium iron phosphate
cycles too.  The shorter of the two lives counts.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from typing import Any

import numpy as np

from powerbudget.battery.chemistry import Chemistry, Curve, Floats

RATED_DEGC = 25.0
"""At which data sheets count cycles; no credit is taken for cycling colder."""
COOL_DEGC = 20.0
"""No credit is taken for resting colder than this."""
LOWEST_HEALTH = 0.10
"""Capacity is not carried below this share: the bank has long failed."""


@dataclass(frozen=True)
class Life:
    """How long the bank lasts at this site.

    Parameters
    ----------
    cycle_life_y, calendar_life_y
        To the end of life by cycling alone and by rest at its temperature alone;
        infinite where nothing cycles [year].
    life_y
        The shorter one [year].
    limited_by
        ``cycles`` or ``calendar life`` [text].
    replace_in_year
        Last whole year of service is this one, counted from 1 [count].
    full_cycles_per_year
        Depth of all cycles together over one year [count].
    mean_degc
        Mean battery temperature [degC].
    end_of_life_frac
        Capacity at which it is replaced [fraction].
    """

    cycle_life_y: float
    calendar_life_y: float
    life_y: float
    limited_by: str
    replace_in_year: int
    full_cycles_per_year: float
    mean_degc: float
    end_of_life_frac: float


def counted_cycles(series: Any) -> list[tuple[float, float]]:
    """Return cycle depths and counts of a series by rainflow counting [same, count].

    Parameters
    ----------
    series
        State of charge or any other history [number].

    Returns
    -------
    list of tuple
        Range of each cycle, and 1 or 0.5.

    References
    ----------
    ASTM E1049-85, rainflow counting, through the `rainflow` package.

    Examples
    --------
    >>> sorted(counted_cycles([-2, 1, -3, 5, -1, 3, -4, 4, -2]))[:2]
    [(3.0, 0.5), (4.0, 0.5)]
    """
    rainflow: Any = import_module("rainflow")
    values = np.asarray(series, float)
    steps = np.sign(np.diff(values))
    moving = np.flatnonzero(steps)
    # Only turning points count; a year of hours holds a few hundred.
    turns = moving[1:][steps[moving[1:]] != steps[moving[:-1]]]
    points = np.r_[values[0], values[turns], values[-1]]
    return [
        (float(depth), float(count))
        for depth, _, count, _, _ in rainflow.extract_cycles(points)
        if depth > 0
    ]


def cycles_to_end(depth_frac: Any, cycles: Curve) -> Any:
    """Return cycles to the end of life at a depth of discharge [count].

    Parameters
    ----------
    depth_frac
        Depth of each cycle on rated Ah [fraction].
    cycles
        Published points of the chemistry.

    Returns
    -------
    float or array
        Points joined on logarithms; shallower than the first, cycles times depth
        stays as it is there [count].

    References
    ----------
    Cycles times depth roughly constant: M. Patel, Wind and Solar Power Systems,
    section 10.4.11.

    Examples
    --------
    >>> from powerbudget.battery.chemistry import chemistries
    >>> agm = chemistries()["agm"].cycles
    >>> [round(float(n)) for n in cycles_to_end([0.5, 0.05], agm)]
    [600, 10000]
    """
    depth = np.maximum(np.asarray(depth_frac, float), 1e-9)
    first = (cycles.x[0], cycles.y[0])
    inside = np.exp(np.interp(np.log(depth), np.log(cycles.x), np.log(cycles.y)))
    return np.where(depth < first[0], first[1] * first[0] / depth, inside)


def heat_of_cycles(battery_degc: Any, halving_k: float) -> float:
    """Return by how much heat multiplies what cycles wear [ratio].

    Parameters
    ----------
    battery_degc
        Battery temperature, scalar or equally spaced history [degC].
    halving_k
        Warming above 25 degC that halves the cycles; infinite for none [K].

    Returns
    -------
    float
        Mean over the history, at least 1: each hour is taken to cycle alike [ratio].

    References
    ----------
    Data sheets of lithium iron phosphate: packs of 4000 cycles at 25 degC and 2000 at
    45, a cell of 3500 and 1800.

    Examples
    --------
    >>> heat_of_cycles(45.0, 20.0), heat_of_cycles([5.0, 45.0], 20.0)
    (2.0, 1.5)
    """
    warm_k = np.maximum(np.asarray(battery_degc, float) - RATED_DEGC, 0.0)
    return float(np.mean(2.0 ** (warm_k / halving_k)))


def calendar_life_y(battery_degc: Any, at_20_degc_y: float, halving_k: float) -> float:
    """Return life at rest through a temperature history [year].

    Parameters
    ----------
    battery_degc
        Battery temperature, scalar or equally spaced history [degC].
    at_20_degc_y
        Life at 20 degC [year].
    halving_k
        Warming that halves it [K].

    Returns
    -------
    float
        Time at each temperature consumes its share of life; no credit below 20 degC
        [year].

    References
    ----------
    Summation over months at temperature: IEEE 1184 interpretation.  Halving for 8 to
    10 K: published solar battery handbook, section 2.5.10 (8, 6, 4 years at 20, 25,
    30 degC).

    Examples
    --------
    >>> calendar_life_y(30.0, 8.0, 10.0)
    4.0
    """
    degc = np.maximum(np.asarray(battery_degc, float), COOL_DEGC)
    used = 2.0 ** ((degc - COOL_DEGC) / halving_k) / at_20_degc_y
    return float(1.0 / np.mean(used))


def make_life(
    chemistry: Chemistry, state_frac: Floats, battery_degc: Floats, years: float
) -> Life:
    """Return how long a bank lasts.

    Parameters
    ----------
    chemistry
        Its cycles and life at rest.
    state_frac
        State on rated Ah through the record [fraction].
    battery_degc
        Battery temperature through the record [degC].
    years
        Length of the record [year].

    Returns
    -------
    Life
        The shorter of cycle life and life at rest.
    """
    counted = counted_cycles(state_frac)
    depths = np.array([depth for depth, _ in counted])
    counts = np.array([count for _, count in counted])
    damage = float((counts / cycles_to_end(depths, chemistry.cycles)).sum()) / years
    damage *= heat_of_cycles(battery_degc, chemistry.cycle_halving_k)
    cycle_y = 1.0 / damage if damage > 0 else float("inf")
    calendar_y = calendar_life_y(
        battery_degc, chemistry.calendar_y_at_20_degc, chemistry.calendar_halving_k
    )
    life = min(cycle_y, calendar_y)
    return Life(
        cycle_life_y=cycle_y,
        calendar_life_y=calendar_y,
        life_y=life,
        limited_by="cycles" if cycle_y < calendar_y else "calendar life",
        replace_in_year=max(1, int(np.ceil(life - 1e-6))),
        full_cycles_per_year=float((depths * counts).sum()) / years,
        mean_degc=float(np.mean(battery_degc)),
        end_of_life_frac=chemistry.end_of_life_frac,
    )


def health_after_frac(age_y: float, life_y: float, end_of_life_frac: float) -> float:
    """Return capacity left after some years, on a straight line to the end [fraction].

    Parameters
    ----------
    age_y, life_y
        Age and life [year].
    end_of_life_frac
        Capacity left at the end of life [fraction].

    Returns
    -------
    float
        At least `LOWEST_HEALTH` [fraction].

    Notes
    -----
    Sealed lead-acid often fails suddenly instead; beyond its life the line is a
    kindness.

    Examples
    --------
    >>> health_after_frac(4.0, 8.0, 0.8), health_after_frac(40.0, 8.0, 0.8)
    (0.9, 0.1)
    """
    left = 1.0 - (1.0 - end_of_life_frac) * age_y / life_y
    return max(LOWEST_HEALTH, left)
