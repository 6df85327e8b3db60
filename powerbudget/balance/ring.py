"""A run through a typical year, which begins as it ends, and one that never fills.

Actual years whose battery is not full at any time of the last one are run as a ring too:
else they would live on the charge that they began with.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
from powerbudget.balance.gate import check_run
from powerbudget.balance.packed_site import WINDOW_H, PackedSite
from powerbudget.weather.runs import places

Floats = NDArray[np.float64]
CLOSED_FRAC = 1e-6
"""Charge by which end and start may differ, of what the bank holds [fraction]."""
NEARLY_FULL_FRAC = 0.99
"""From here on a battery keeps nothing of the charge that it began with (assumed)."""
LOST_FRAC = 1e-3
"""Charge lost from beginning to end below which nobody asks (assumed)."""
HOURS_PER_YEAR = 8760.0
WHOLE_YEARS = 0.1
"""Part of a year by which a record may miss whole years, to be run from its own end: more
would put one season before another (assumed) [year]."""
MOST_LAPS = 40
"""A bank that is neither full nor flat once a year settles slowly [count]."""
CARRIED = (
    "on", "first", "second", "below_h", "locked",
    "bus_v", "source_on", "source_test", "source_ran_h",
)  # fmt: skip
"""Switches handed from 31 December to 1 January; a source that follows the battery is
sound there and its store is full, as in any run."""


def wraps(problem: PackedSite) -> bool:
    """Return whether the run's first interval follows its last [flag].

    Returns
    -------
    bool
        True for a typical year, unless the site states the charge at the start; a
        record of actual years is a line.
    """
    stated = problem.design.tables.battery.start_frac is not None
    return problem.record.typical_year and not stated


def runs_down(problem: PackedSite, s: col.Record, removed: Floats) -> bool:
    """Return whether a run on a line lives on the charge that it began with [flag].

    Parameters
    ----------
    problem, s
        Prepared site and scalars.
    removed
        Charge removed at interval bounds [Ah].

    Returns
    -------
    bool
        True where the battery is not full at any time of the last year, ends with
        less than it began with, and no source keeps its charge.
    """
    if wraps(problem) or s["source"] > 0.5:
        return False
    lost = float(removed[-1] - removed[0]) > LOST_FRAC * s["charge_ah"]
    return lost and _never_full(problem, s, removed)


def repeated(problem: PackedSite, s: col.Record, removed: Floats) -> bool:
    """Return whether actual years were begun anew with the charge at their end [flag].

    Parameters
    ----------
    problem, s, removed
        As in `runs_down`.
    """
    apart = abs(float(removed[-1] - removed[0])) / float(s["charge_ah"])
    never_full = _may_repeat(problem) and _never_full(problem, s, removed)
    return never_full and apart <= LOST_FRAC and bool(s["source"] < 0.5)


def _may_repeat(problem: PackedSite) -> bool:
    """Return whether a line is of whole years and its first charge is not stated."""
    if wraps(problem) or problem.design.tables.battery.start_frac is not None:
        return False
    years = problem.record.n * problem.record.step_h / HOURS_PER_YEAR
    return years > 1 - WHOLE_YEARS and abs(years - round(years)) <= WHOLE_YEARS


def _never_full(problem: PackedSite, s: col.Record, removed: Floats) -> bool:
    year = round((1 - WHOLE_YEARS) * HOURS_PER_YEAR / problem.record.step_h)
    full_ah = (1.0 - NEARLY_FULL_FRAC) * s["charge_ah"]
    return removed.size > year and bool(removed[-year:].min() > full_ah)


def run_through(
    problem: PackedSite, s: col.Record, removed_ah: float
) -> tuple[float, col.Records]:
    """Return charge removed at the start, and kernel results by interval [Ah, array].

    Parameters
    ----------
    problem, s
        Prepared site and scalars.
    removed_ah
        Charge removed at the start; where the run wraps only a first guess [Ah].

    Returns
    -------
    tuple of float and array
        Where the run wraps, the year is run again from its own end until charge and
        switches at the end are those at the start, at most `MOST_LAPS` times, and not
        past a flat battery that needs a visit: see `open_frac`.  So are actual years
        that run down, unless the site states the charge at the start.

    Raises
    ------
    InputError
        When the run does not hold what every one must: see `powerbudget.balance.gate`.
    """
    found = _settled(problem, s, removed_ah)
    check_run(problem, s, *found)
    return found


def _settled(
    problem: PackedSite, s: col.Record, removed_ah: float
) -> tuple[float, col.Records]:
    """Return charge removed at the start, and kernel results, not looked at yet."""
    from powerbudget.balance.kernel import fresh

    mode = fresh(s)
    start, out = removed_ah, _lap(problem, s, removed_ah, mode)
    removed = np.append(start, out["removed_ah"])
    again = _may_repeat(problem) and runs_down(problem, s, removed)
    if not (wraps(problem) or again):
        return start, out
    seen = [(start, fresh(s))]
    for _ in range(MOST_LAPS):
        if mode["locked"] > 0.5 and s["restart_v"] > 0.0:
            break  # dark until somebody comes: no year follows this one
        start, mode = float(out["removed_ah"][-1]), _carried(s, mode)
        if any(_alike(s, start - was, mode, then) for was, then in seen):
            break
        seen.append((start, mode.copy()))
        out = _lap(problem, s, start, mode)
    return seen[-1][0], out


def open_frac(problem: PackedSite, s: col.Record, removed: Floats) -> float:
    """Return by how much a run that wraps ends apart from its start [fraction].

    Parameters
    ----------
    problem, s
        Prepared site and scalars.
    removed
        Charge removed at interval bounds [Ah].

    Returns
    -------
    float
        Of what the bank holds; 0 where the run does not wrap or is closed [fraction].
    """
    if not wraps(problem):
        return 0.0
    apart = abs(float(removed[-1] - removed[0])) / float(s["charge_ah"])
    return apart if apart > CLOSED_FRAC else 0.0


def state_history(problem: PackedSite, state_frac: Floats) -> Floats:
    """Return a state through the run as cycles are counted in it [fraction].

    Parameters
    ----------
    problem
        Prepared site.
    state_frac
        State by interval [fraction].

    Returns
    -------
    array
        Where the run wraps, from its fullest interval round to the same: a history
        without a first hour has whole cycles only [fraction].
    """
    if not wraps(problem):
        return state_frac
    turned = np.roll(state_frac, -int(np.argmax(state_frac)))
    return np.append(turned, turned[0])


def stretch(problem: PackedSite, first: int, length: int) -> NDArray[np.int64]:
    """Return the intervals of a stretch of the run, in order of time [count].

    Parameters
    ----------
    problem
        Prepared site.
    first, length
        First interval, negative before the first of a run that wraps, and how many
        [count].

    Returns
    -------
    numpy.ndarray
        On past the end where the run wraps, else cut at both ends [count].
    """
    n = problem.record.n
    if wraps(problem):
        return places(first, min(length, n), n)
    return np.arange(max(0, first), min(n, first + length), dtype=np.int64)


def _carried(s: col.Record, ended: col.Record) -> col.Record:
    from powerbudget.balance.kernel import fresh

    mode = fresh(s)
    for name in CARRIED:
        mode[name] = ended[name]
    return mode


def _alike(s: col.Record, apart_ah: float, mode: col.Record, then: col.Record) -> bool:
    """Return whether two starts are one; the last bus voltage counts for sources."""
    counted = CARRIED if s["source"] > 0.5 else CARRIED[:5]
    if abs(apart_ah) > CLOSED_FRAC * s["charge_ah"]:
        return False
    switches, those = [mode[name] for name in counted], [then[name] for name in counted]
    return np.allclose(switches, those, rtol=0.0, atol=1e-6)


def _lap(
    problem: PackedSite, s: col.Record, removed_ah: float, mode: col.Record
) -> col.Records:
    return go_through(problem, s, removed_ah, mode, 0)


def go_through(
    problem: PackedSite, s: col.Record, removed_ah: float, mode: col.Record, first: int
) -> col.Records:
    """Return kernel results from an interval to the end of the record.

    Parameters
    ----------
    problem, s
        Prepared site and scalars; a site with an input window has rows of its own, to
        which its array power is written.
    removed_ah
        Charge removed at that interval [Ah].
    mode
        Switches, overwritten with those after the last interval.
    first
        The interval [count].
    """
    from powerbudget.balance import kernel

    window, out = problem.window, np.empty(problem.record.n - first, col.RESULT)
    hourly, currents = problem.hourly[first:], problem.currents[first:]
    case = (hourly, currents, problem.tables, s, removed_ah, mode, out)
    if window is None:
        kernel.go_on(*case)
        return out
    if not hourly.flags.writeable:
        raise ValueError("rows to which a run may not write array power")
    length = max(1, round(WINDOW_H / problem.record.step_h))
    ahead = window._replace(array_w=window.array_w[first:])
    kernel.go_on_windowed(*case, ahead, length)
    return out
