"""How often and for how long loads are lost, and what array and storage buy.

Names of the trade: loss-of-load probability (LOLP by hours, LLP by energy), loss of
load expectation (hours a year), expected energy not served; array ratio C_A and
storage C_S after Egido & Lorenzo (1992).
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import cast

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance.drive import start_removed_ah
from powerbudget.balance.ledger import served_tiers, tier_w
from powerbudget.balance.problem import Problem
from powerbudget.balance.ring import run_through
from powerbudget.balance.simulation import (
    Simulation,
    simulate_size,
)
from powerbudget.battery.bank import Bank
from powerbudget.errors import Finding
from powerbudget.quantities import count, in_unit
from powerbudget.sizing.autonomy import design_autonomy_days

Floats = NDArray[np.float64]
LEVELS = (0.10, 0.05, 0.01, 0.001)
STORAGE_DAYS = (1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 18.0)
LOWEST_RATIO, HIGHEST_RATIO = 0.3, 6.0
STORAGE_DEGC = 25.0
LENGTH_BOUNDS_H = (0.0, 6.0, 24.0, 72.0, 168.0, math.inf)
FEW_YEARS = 10.0
_COARSE, _HALVINGS = 7, 6


@dataclass(frozen=True)
class LengthClass:
    """Outages between two lengths.

    Parameters
    ----------
    label
        In words [text].
    outages, per_year
        How many in the record, and in the mean year [count, 1/year].
    hours
        Without the loads in them [h].
    """

    label: str
    outages: int
    per_year: float
    hours: float


@dataclass(frozen=True)
class IsoPoint:
    """One point of a curve of equal reliability.

    Parameters
    ----------
    llp_frac
        Energy not served over energy asked [fraction].
    storage_days, array_ratio
        C_S and C_A [d, ratio].
    array_strings, battery_strings
        What that takes of the site's own module and unit, in parts of a string.
    """

    llp_frac: float
    storage_days: float
    array_ratio: float
    array_strings: float
    battery_strings: float


@dataclass(frozen=True)
class IsoFit:
    """A curve in the published form ``C_A = f C_S^-u``.

    Parameters
    ----------
    llp_frac
        The curve's level [fraction].
    f, u
        Factor and exponent, by least squares on logarithms [number].
    points
        How many it goes through [count].
    """

    llp_frac: float
    f: float
    u: float
    points: int


@dataclass(frozen=True)
class Reliability:
    """What the hourly run says about lost load.

    Parameters
    ----------
    years
        Length of the record [year].
    typical_year
        Whether it is a typical year.
    llp_energy_frac, lolp_hours_frac
        Energy not served over asked, and hours without the loads over all
        [fraction].
    hours_off_per_year, unmet_wh_per_year
        Loss-of-load expectation and expected energy not served [h, Wh].
    outages_per_year, mean_outage_h, longest_outage_h
        How many, and how long [1/year, h, h].
    longest_start
        When the longest began, empty without one [ISO text].
    lengths
        How long outages last.
    hours_off_by_month
        In the mean year, January first [h].
    array_ratio, storage_days
        C_A and C_S of the site itself [ratio, d].
    curves
        Points of equal reliability.
    fits
        The same in the published form.
    findings
        What a colleague would point out.
    """

    years: float
    typical_year: bool
    llp_energy_frac: float
    lolp_hours_frac: float
    hours_off_per_year: float
    unmet_wh_per_year: float
    outages_per_year: float
    mean_outage_h: float
    longest_outage_h: float
    longest_start: str
    lengths: tuple[LengthClass, ...]
    hours_off_by_month: tuple[float, ...]
    array_ratio: float
    storage_days: float
    curves: tuple[IsoPoint, ...]
    fits: tuple[IsoFit, ...]
    findings: tuple[Finding, ...]


def reliability_view(problem: Problem, threads: int | None = None) -> Reliability:
    """Return loss of load of a site, and curves of equal reliability about it.

    Parameters
    ----------
    problem
        Prepared site.
    threads
        As many as the machine has when left out [count].

    Returns
    -------
    Reliability
        From the whole record.

    Notes
    -----
    C_A is the array-to-load ratio of `powerbudget.balance.arrayload`.  C_S is the days
    that a full bank carries the load of the heaviest month without any charge, at
    25 degC, to the disconnect.
    """
    run, years = simulate_size(problem), problem.record.years
    demand = float(tier_w(problem, run.out).sum()) * problem.record.step_h
    hours = [outage.hours for outage in run.outages]
    longest = max(run.outages, key=lambda o: o.hours, default=None)
    curves = iso_curves(problem, threads=threads)
    off_h = float((~run.served).sum()) * problem.record.step_h
    return Reliability(
        years=years,
        typical_year=problem.record.typical_year,
        llp_energy_frac=run.energy_not_served_wh / demand if demand else 0.0,
        lolp_hours_frac=1.0 - run.availability_frac,
        hours_off_per_year=off_h / years,
        unmet_wh_per_year=run.energy_not_served_wh / years,
        outages_per_year=len(hours) / years,
        mean_outage_h=float(np.mean(hours)) if hours else 0.0,
        longest_outage_h=longest.hours if longest else 0.0,
        longest_start=longest.start if longest else "",
        lengths=length_classes(hours, years),
        hours_off_by_month=_by_month(run),
        array_ratio=run.array_to_load.ratio,
        storage_days=storage_days(problem, run.bank),
        curves=curves,
        fits=tuple(fit for fit in map(fit_curve, _by_level(curves)) if fit),
        findings=tuple(_findings(run)),
    )


def length_classes(hours: list[float], years: float) -> tuple[LengthClass, ...]:
    """Return how many outages last how long.

    Parameters
    ----------
    hours
        Length of each outage [h].
    years
        Length of the record [year].

    Returns
    -------
    tuple of LengthClass
        From the shortest to the longest.

    Examples
    --------
    >>> [c.outages for c in length_classes([2.0, 30.0, 40.0, 24.0], 1.0)]
    [1, 0, 3, 0, 0]
    """
    labels = ("under 6 h", "6 h to a day", "1 to 3 days", "3 to 7 days", "over 7 days")
    found = []
    bounds = pairwise(LENGTH_BOUNDS_H)
    for label, (low, high) in zip(labels, bounds, strict=True):
        inside = [h for h in hours if low <= h < high]
        found.append(LengthClass(label, len(inside), len(inside) / years, sum(inside)))
    return tuple(found)


def storage_days(problem: Problem, bank: Bank) -> float:
    """Return the days that a full bank carries the load at 25 degC, C_S [d].

    Parameters
    ----------
    problem
        Prepared site: load of its heaviest month.
    bank
        Battery bank.

    Returns
    -------
    float
        To the disconnect, no charge at all [d].
    """
    return design_autonomy_days(problem, bank, STORAGE_DEGC, frost=False)


def iso_curves(
    problem: Problem,
    levels: tuple[float, ...] = LEVELS,
    days: tuple[float, ...] = STORAGE_DAYS,
    *,
    threads: int | None = None,
) -> tuple[IsoPoint, ...]:
    """Return points of array and storage that lose the same share of the load.

    Parameters
    ----------
    problem
        Prepared site with modules and units of which any part may be had.
    levels
        Energy not served over asked [fraction].
    days
        Storage, about [d].
    threads
        As many as the machine has when left out [count].

    Returns
    -------
    tuple of IsoPoint
        Level by level; a point outside 0.3 to 6 times the load is left out.

    Notes
    -----
    Each point is found by halving on the hourly run itself, to 1 % of the array.
    A battery heater that the array feeds is as warm as with the site's own array.
    """
    own = simulate_size(problem)
    per_string = own.array_to_load.ratio / problem.strings
    per_battery = storage_days(problem, problem.bank.with_strings(1))
    if per_string <= 0 or per_battery <= 0:
        return ()
    with ThreadPoolExecutor(threads or os.cpu_count() or 1) as pool:
        columns = pool.map(
            lambda day: _column(problem, day / per_battery, per_string, levels), days
        )
        points = [point for column in columns for point in column]
    return tuple(sorted(points, key=lambda p: (-p.llp_frac, p.storage_days)))


def part_bank(bank: Bank, strings: float) -> Bank:
    """Return a bank of which any part of a string may be had [Bank]."""
    return replace(bank, parallel=cast("int", strings))


def unmet_frac(problem: Problem, array_strings: float, bank: Bank) -> float:
    """Return the energy that a size does not serve over what is asked, LLP [fraction].

    Parameters
    ----------
    problem
        Prepared site.
    array_strings
        In parallel, parts of one allowed [count].
    bank
        From `part_bank`.

    Returns
    -------
    float
        Over the whole record [fraction].
    """
    problem = problem.own_rows()
    s = problem.scalars(cast("int", array_strings), bank)
    _, out = run_through(problem, s, start_removed_ah(problem, s))
    asked = tier_w(problem, out)
    missed = float((asked * ~served_tiers(out)).sum())
    return missed / float(asked.sum())


def _column(
    problem: Problem, strings: float, per_string: float, levels: tuple[float, ...]
) -> list[IsoPoint]:
    """Return the array that each level needs with one battery."""
    bank = part_bank(problem.bank, strings)
    days = storage_days(problem, bank)
    known: dict[float, float] = {}

    def llp(log_ratio: float) -> float:
        """Return the share of load lost at an array ratio, each asked for once."""
        if log_ratio not in known:
            known[log_ratio] = unmet_frac(
                problem, math.exp(log_ratio) / per_string, bank
            )
        return known[log_ratio]

    grid = np.linspace(math.log(LOWEST_RATIO), math.log(HIGHEST_RATIO), _COARSE)
    found = []
    for level in levels:
        ratio = _crossing(llp, level, [float(x) for x in grid])
        if ratio is not None:
            found.append(IsoPoint(level, days, ratio, ratio / per_string, strings))
    return found


def _crossing(
    llp: Callable[[float], float], level: float, grid: list[float]
) -> float | None:
    """Return the ratio at which a falling curve passes a level, by halving."""
    low, high = grid[0], grid[-1]
    if llp(low) <= level or llp(high) > level:
        return None
    for x in grid[1:-1]:
        if llp(x) > level:
            low = x
        else:
            high = x
            break
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if llp(middle) > level else (low, middle)
    return math.exp(high)


def _by_level(curves: tuple[IsoPoint, ...]) -> list[list[IsoPoint]]:
    levels = sorted({p.llp_frac for p in curves}, reverse=True)
    return [[p for p in curves if p.llp_frac == level] for level in levels]


def fit_curve(points: list[IsoPoint]) -> IsoFit | None:
    """Return a curve in the published form ``C_A = f C_S^-u``.

    Returns
    -------
    IsoFit or None
        None with fewer than three points.

    References
    ----------
    Egido & Lorenzo, Solar Energy Materials and Solar Cells 26 (1992), 51-69, from
    memory.
    """
    if len(points) < 3:
        return None
    x = np.log([p.storage_days for p in points])
    y = np.log([p.array_ratio for p in points])
    slope, level = np.polyfit(x, y, 1)
    return IsoFit(points[0].llp_frac, float(np.exp(level)), -float(slope), len(points))


def _by_month(run: Simulation) -> tuple[float, ...]:
    off = (~run.served).astype(float) * run.problem.record.step_h
    sums = np.bincount(run.problem.month_index, off, 12) / run.problem.record.years
    return tuple(float(x) for x in sums)


def _findings(run: Simulation) -> list[Finding]:
    found = []
    record = run.problem.record
    typical, years = record.typical_year, record.years
    if typical or years < FEW_YEARS:
        kind = "one typical year" if typical else count(years, "year")
        found.append(
            Finding(
                "warning",
                f"{kind} cannot show rare losses: one hour is "
                f"{in_unit(100 / (record.n * record.step_h), '%', 2)} "
                "of it. Curves below 1 % rest on a few days.",
            )
        )
    else:
        found.append(
            Finding(
                "note",
                "Curves below 1 % rest on a few days. The 0.1 % curve rests on one "
                "winter; do not use it.",
            )
        )
    if record.synthetic:
        found.append(
            Finding(
                "warning",
                "Synthetic years from monthly means overestimate irradiation of their "
                "worst periods (by 16 to 27 % at 39° N).",
            )
        )
    tiers = run.out["first"].min() < 0.5 or run.out["second"].min() < 0.5
    if tiers and run.hours_off_by_tier[1] > run.hours_off_by_tier[0]:
        found.append(
            Finding(
                "note",
                "Unserved energy includes loads shed at stage 1 and 2; outage hours "
                "count critical loads only.",
            )
        )
    return found
