"""How long the sun falls short of the load: runs of days under a share of the need."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
from powerbudget.balance.problem import Problem

Floats = NDArray[np.float64]
SHARES = (1.0, 0.75, 0.5, 0.25)


@dataclass(frozen=True)
class DarkRun:
    """The longest run of days under a share of what the load needs.

    Parameters
    ----------
    share_frac
        Share of the day's load [fraction].
    days
        Length of the run [days].
    start
        Its first day, empty when there is no such day [ISO text].
    mean_frac
        Mean of the array's energy over the load in it [fraction].
    days_per_year
        All days under the share [days a year].
    """

    share_frac: float
    days: int
    start: str
    mean_frac: float
    days_per_year: float


def offered_w(problem: Problem) -> Floats:
    """Return what the site's array could give at the bus, at its nominal volts [W].

    Parameters
    ----------
    problem
        From `powerbudget.balance.problem.prepare`.

    Returns
    -------
    numpy.ndarray
        By interval, all strings [W].
    """
    if problem.currents.shape[1] == 0:
        power: Floats = problem.hourly[:, col.H_ARRAY_W] * problem.strings
        return power
    volts = problem.budget.nominal_v
    at = (volts - problem.node_first_v) / problem.node_step_v
    low = int(np.clip(np.floor(at), 0, problem.currents.shape[1] - 2))
    part = at - low
    current = (
        problem.currents[:, low] * (1 - part) + problem.currents[:, low + 1] * part
    )
    flow: Floats = current * volts * problem.strings
    return flow


def needed_w(problem: Problem) -> Floats:
    """Return what the loads ask at the bus, at its nominal volts [W].

    Parameters
    ----------
    problem
        From `powerbudget.balance.problem.prepare`.

    Returns
    -------
    numpy.ndarray
        By interval [W].
    """
    rows, volts = problem.hourly, problem.budget.nominal_v
    asked: Floats = (
        rows[:, col.H_LOAD_W]
        + (rows[:, col.H_LOAD_A] + problem.budget.base_a) * volts
        + rows[:, col.H_LOAD_S] * volts**2
    )
    return asked


def dark_runs(
    problem: Problem, shares: tuple[float, ...] = SHARES
) -> tuple[DarkRun, ...]:
    """Return the longest run of days under each share of the load [days].

    Parameters
    ----------
    problem
        From `powerbudget.balance.problem.prepare`.
    shares
        Shares of the day's load [fraction].

    Returns
    -------
    tuple of DarkRun
        One a share; a day with an interval missing ends a run.
    """
    record = problem.record
    day = record.day_number
    counts = np.bincount(day)
    whole = counts == round(24.0 / record.step_h)
    offered = np.bincount(day, offered_w(problem))
    asked = np.bincount(day, needed_w(problem))
    ratio = np.where(whole, offered / np.maximum(asked, 1e-9), np.inf)
    first = record.day_local[0]
    return tuple(_longest(ratio, share, first, record.years) for share in shares)


def _longest(
    ratio: Floats, share: float, first: np.datetime64, years: float
) -> DarkRun:
    under = ratio < share
    edges = np.diff(np.concatenate([[0], under.astype(np.int64), [0]]))
    begins, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    if not begins.size:
        return DarkRun(share, 0, "", float("nan"), 0.0)
    longest = int(np.argmax(ends - begins))
    run = slice(int(begins[longest]), int(ends[longest]))
    return DarkRun(
        share_frac=share,
        days=run.stop - run.start,
        start=str(first + np.timedelta64(run.start, "D")),
        mean_frac=float(ratio[run].mean()),
        days_per_year=float(under.sum()) / years,
    )
