"""Where the time axis of a run's pictures begins, so that the worst weeks are whole."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from powerbudget.balance.ring import stretch, wraps
from powerbudget.weather.runs import across_end, places

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from powerbudget.balance.simulation import Simulation

WORST_DAYS = 21.0


def worst_weeks(run: Simulation) -> NDArray[np.int64]:
    """Return the intervals of the three weeks around the lowest charge [count].

    Parameters
    ----------
    run
        A simulation; where it wraps they go on past the end of the year.
    """
    n, middle = run.problem.record.n, int(np.argmin(run.soc_frac))
    length = min(n, round(WORST_DAYS * 24 / run.problem.record.step_h))
    first = middle - round(0.65 * length)
    if not wraps(run.problem):
        first = max(0, min(first, n - length))
    return stretch(run.problem, first, length)


def axis_order(run: Simulation) -> NDArray[np.int64]:
    """Return all intervals in the order of the time axis [count].

    Returns
    -------
    array
        As in the record; half a year later where the run wraps and its worst weeks or
        an outage go on past the end of the year [count].
    """
    n = run.problem.record.n
    window = worst_weeks(run)
    over = across_end(int(window[0]), window.size, n)
    over = over or any(outage.across_end for outage in run.outages)
    per_day = max(1, round(24 / run.problem.record.step_h))
    turn = n // per_day // 2 * per_day if wraps(run.problem) and over else 0
    return places(turn, n, n)


def axis_times(run: Simulation) -> NDArray[Any]:
    """Return each interval's place on the time axis, by interval [datetime64].

    Returns
    -------
    array
        The record's own times; those before the axis' beginning a year later.
    """
    times = run.problem.record.start_local.astype("datetime64[m]")
    turn = int(axis_order(run)[0])
    if turn:
        days = np.timedelta64(round(times.size * run.problem.record.step_h * 60), "m")
        times[:turn] += days
    return times
