"""The array-to-load ratio (A:L), the one definition of it.

What the array can deliver at the bus over what the loads ask there, by calendar month:
behind every loss and the regulator, the battery taken to accept all of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance.ledger import tier_w
from powerbudget.balance.problem import Problem
from powerbudget.balance.run import Run
from powerbudget.charging.controller import pwm_string_current_a
from powerbudget.site.fields import MONTHS

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class MonthRow:
    """One calendar month, over all years of the record.

    Parameters
    ----------
    month
        1-12.
    array_to_load_ratio
        As `powerbudget.balance.arrayload` defines it [ratio].
    array_wh_per_day, load_wh_per_day
        What the array can deliver at the bus a day and the loads ask there: the two
        energies of that ratio [Wh].
    spill_wh
        What the array could have given at the voltages of the run and nobody took [Wh].
    lowest_soc_frac, hours_off
        Lowest state of charge and hours without the loads [fraction, h].
    array_used_wh_per_day, generator_wh_per_day
        What battery and loads took a day of the array and of other sources [Wh].
    """

    month: int
    array_to_load_ratio: float
    array_wh_per_day: float
    load_wh_per_day: float
    spill_wh: float
    lowest_soc_frac: float
    hours_off: float
    array_used_wh_per_day: float = 0.0
    generator_wh_per_day: float = 0.0


@dataclass(frozen=True)
class ArrayToLoad:
    """The month in which an array is smallest beside its load.

    Parameters
    ----------
    month
        Calendar month, 1-12.
    ratio
        A:L of that month, mean over all years of the record [ratio].
    single
        The smallest single month, None with one year or less [ratio].
    single_month
        Which that is, such as ``1998-12``, else empty [ISO text].
    """

    month: int
    ratio: float
    single: float | None = None
    single_month: str = ""

    @property
    def text(self) -> str:
        """Ratio, month and lowest single month as printed [text]."""
        words = f"{self.ratio:.2f}, mean {MONTHS[self.month - 1]}"
        if self.single is None:
            return words
        return f"{words}; {self.single:.2f} in the lowest single month"


def deliverable_w(problem: Problem, strings: float, bus_v: float) -> Floats:
    """Return what an array can deliver at the bus while the battery takes all [W].

    Parameters
    ----------
    problem
        Prepared site.
    strings
        In parallel [count].
    bus_v
        At which a PWM controller holds the array, and at which a current limit counts
        [V].

    Returns
    -------
    array
        By interval, behind the regulator [W].
    """
    most_w = problem.controller_most_w(bus_v)
    if problem.currents.shape[1] == 0:
        return np.asarray(np.minimum(problem.hourly["array_w"] * strings, most_w))
    count = np.arange(problem.currents.shape[1], dtype=np.float64)
    nodes = problem.node_first_v + problem.node_step_v * count
    amps = pwm_string_current_a(
        np.full(problem.record.n, bus_v),
        drop_v=problem.design.tables.regulator.drop_v,
        v_nodes_v=nodes,
        i_string_a=problem.currents,
    )
    return np.asarray(np.minimum(amps * strings * bus_v, most_w))


def delivered_w(run: Run) -> Floats:
    """Return the numerator of A:L by interval, at the run's mean battery voltage [W]."""
    return deliverable_w(run.problem, run.strings, float(run.out["bus_v"].mean()))


def asked_w(run: Run) -> Floats:
    """Return the denominator of A:L by interval: all that the bus is asked for [W].

    Notes
    -----
    Loads of every tier, on or off, with contingency; heater, regulator and leakage.
    """
    volts = run.out["bus_v"]
    loads = tier_w(run.problem, run.out).sum(axis=0)
    base = run.problem.hourly["base_w"] + run.problem.base_a * volts
    return np.asarray(loads + base)


def ratio_of(delivered_wh: float, asked_wh: float) -> float:
    """Return A:L of two energies of one span, infinite without a load [ratio]."""
    return delivered_wh / asked_wh if asked_wh > 0 else float("inf")


def energies_wh(run: Run) -> tuple[Floats, Floats]:
    """Return both energies of A:L by calendar month, January first [Wh]."""
    which, step = run.problem.month_index, run.problem.record.step_h
    delivered = np.bincount(which, delivered_w(run), 12) * step
    asked = np.bincount(which, asked_w(run), 12) * step
    return np.asarray(delivered, float), np.asarray(asked, float)


def least_ratio(run: Run) -> float:
    """Return A:L of the month in which it is smallest, and nothing beside it [ratio].

    Returns
    -------
    float
        The ratio of `array_to_load`, for whoever judges many runs.
    """
    # A month that the record does not have asks nothing, and is never the smallest.
    delivered, asked = (wh.tolist() for wh in energies_wh(run))
    return min(map(ratio_of, delivered, asked))


def array_to_load(run: Run, rows: Sequence[MonthRow]) -> ArrayToLoad:
    """Return A:L of the month in which it is smallest.

    Parameters
    ----------
    run, rows
        A run, and its calendar months.

    Returns
    -------
    ArrayToLoad
        Mean of a calendar month over all years, and the smallest single whole month.
    """
    worst = min(rows, key=lambda row: row.array_to_load_ratio)
    found = ArrayToLoad(worst.month, worst.array_to_load_ratio)
    # A little over 8760 h: a typical year that begins in another time zone is one year.
    if run.years < 1.1:
        return found
    record = run.problem.record
    months = record.day_local.astype("datetime64[M]")
    first = months[0]
    which = (months - first).astype(np.int64)
    there = np.bincount(which) * record.step_h / 24
    given, asked = (np.bincount(which, w) for w in (delivered_w(run), asked_w(run)))
    ratios = np.divide(given, asked, out=np.full(given.size, np.inf), where=asked > 0)
    # A few hours of a month at either end of a record are no month.
    ratios[there < 27] = np.inf
    least = int(np.argmin(ratios))
    return ArrayToLoad(
        found.month,
        found.ratio,
        float(ratios[least]),
        str(first + np.timedelta64(least, "M")),
    )
