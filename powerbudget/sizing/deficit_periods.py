"""How long the sun falls short of the load: runs of days under a share of the need."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance.arrayload import asked_w, delivered_w
from powerbudget.balance.problem import Problem
from powerbudget.balance.simulation import simulate_size
from powerbudget.weather import WeatherRecord
from powerbudget.weather.runs import across_end, longest_run, places

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
        Length of the run, of equal ones the darkest [days].
    start
        Its first day, empty when there is no such day [ISO text].
    mean_frac
        Mean of the array's energy over the load in it [fraction].
    days_per_year
        All days under the share [days a year].
    across_end
        Whether it goes on past the end of a typical year into its first days.
    """

    share_frac: float
    days: int
    start: str
    mean_frac: float
    days_per_year: float
    across_end: bool = False


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
        One a share; a day with an interval missing ends a run, save a 29 February
        that a calendar of 365 days leaves out.  A typical year goes on from December
        into its January.
    """
    record = problem.record
    per_day = round(24.0 / record.step_h)
    day, dates = calendar_days(record.day_number, record.day_local[0], per_day)
    whole = np.bincount(day, minlength=dates.size) == per_day
    run = simulate_size(problem)
    offered = np.bincount(day, delivered_w(run), dates.size)
    asked = np.bincount(day, asked_w(run), dates.size)
    ratio = np.where(whole, offered / np.maximum(asked, 1e-9), np.inf)
    return tuple(_longest(ratio, share, dates, record) for share in shares)


def calendar_days(
    day: NDArray[np.int64], first: np.datetime64, per_day: int
) -> tuple[NDArray[np.int64], NDArray[np.datetime64]]:
    """Return each interval's day and the dates, without 29 Februaries left out [count].

    Parameters
    ----------
    day
        Days since the first of the record, by interval [count].
    first
        The first day [date].
    per_day
        Intervals of a whole day [count].

    Returns
    -------
    tuple of numpy.ndarray
        Place of each interval's day in the dates [count], and the dates [date].

    Notes
    -----
    Years made from monthly figures, and many files, have 365 days in every year: the
    1 March follows the 28 February and nothing is missing between them.  Where the file
    keeps another clock than the place, the day left out takes a part of two local days,
    which together make one.

    Examples
    --------
    >>> day = np.array([0, 2])
    >>> calendar_days(day, np.datetime64("2004-02-28"), 1)[0]
    array([0, 1])
    """
    dates = first + np.arange(int(day.max()) + 1)
    counts, to = np.bincount(day), np.arange(dates.size)
    kept = np.ones(dates.size, bool)
    month = dates.astype("datetime64[M]")
    extra = (month.astype(np.int64) % 12 == 1) & (
        dates - month == np.timedelta64(28, "D")
    )
    for leap in np.flatnonzero(extra & (counts < per_day)):
        for beside in (leap - 1, leap + 1):
            if 0 <= beside < dates.size and counts[beside] + counts[leap] == per_day:
                kept[leap], to[leap] = False, beside
                break
    place = np.cumsum(kept) - 1
    return place[to[day]], dates[kept]


def _longest(
    ratio: Floats, share: float, dates: NDArray[np.datetime64], record: WeatherRecord
) -> DarkRun:
    under = ratio < share
    first, days = longest_run(under, ring=record.typical_year, values=ratio)
    if not days:
        return DarkRun(share, 0, "", float("nan"), 0.0)
    return DarkRun(
        share_frac=share,
        days=days,
        start=str(dates[first]),
        mean_frac=float(ratio[places(first, days, dates.size)].mean()),
        days_per_year=float(under.sum()) / record.years,
        across_end=across_end(first, days, dates.size),
    )
