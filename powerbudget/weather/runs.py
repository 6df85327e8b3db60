"""Runs of intervals and draw-downs, on a line or on a ring.

A typical year is a ring: the weather after its last interval is that of its first.  A
record of actual years is a line, and nothing is known beyond its ends.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
ACROSS_END = "across the end of the typical year"
"""What is said of a run that goes on from the last interval to the first."""


def runs_of(flags: Any, *, ring: bool) -> tuple[Integers, Integers]:
    """Return the first place and the length of every run of true values [count].

    Parameters
    ----------
    flags
        True or false, in order [flag].
    ring
        Whether the first follows the last: a run may then go on past the end, and
        begins where it begins, near the end.

    Returns
    -------
    tuple of numpy.ndarray
        Places in order, and lengths; on a ring that is true everywhere 0 and its
        length [count].

    Examples
    --------
    >>> [x.tolist() for x in runs_of([1, 0, 0, 1, 1], ring=False)]
    [[0, 3], [1, 2]]
    >>> [x.tolist() for x in runs_of([1, 0, 0, 1, 1], ring=True)]
    [[3], [3]]
    """
    inside = np.asarray(flags, dtype=bool)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], inside, [False]])))
    begins, lengths = edges[::2], edges[1::2] - edges[::2]
    if ring and begins.size > 1 and inside[0] and inside[-1]:
        lengths[-1] += lengths[0]
        return begins[1:], lengths[1:]
    return begins, lengths


def longest_run(
    flags: Any, *, ring: bool, values: Any | None = None
) -> tuple[int, int]:
    """Return first place and length of the longest run [count].

    Parameters
    ----------
    flags, ring
        As in `runs_of`.
    values
        Of equally long runs that with the smallest sum of these counts, the earliest
        where left out or equal [number].

    Returns
    -------
    tuple of int
        Place and length, 0 and 0 where nothing is true [count].

    Examples
    --------
    >>> longest_run([1, 0, 0, 1, 1], ring=True)
    (3, 3)
    """
    begins, lengths = runs_of(flags, ring=ring)
    if not begins.size:
        return 0, 0
    most = int(lengths.max())
    found = [int(first) for first in begins[lengths == most]]
    if values is not None:
        weight = np.asarray(values, dtype=np.float64)
        found.sort(
            key=lambda first: float(weight[places(first, most, weight.size)].sum())
        )
    return found[0], most


def places(first: int, length: int, size: int) -> Integers:
    """Return the places of a run, from 0 again after the last [count].

    Parameters
    ----------
    first, length
        Of the run; negative places count from the end [count].
    size
        Of the whole [count].

    Returns
    -------
    numpy.ndarray
        In order of time [count].

    Examples
    --------
    >>> places(3, 3, 5).tolist()
    [3, 4, 0]
    """
    return np.arange(first, first + length, dtype=np.int64) % size


def across_end(first: int, length: int, size: int) -> bool:
    """Return whether a run goes on past the last place [flag].

    Examples
    --------
    >>> across_end(3, 2, 5), across_end(3, 3, 5)
    (False, True)
    """
    return first + length > size


def window_sums(values: Any, length: int, *, ring: bool) -> Floats:
    """Return the sum of so many values in a row, by the first of them [same].

    Parameters
    ----------
    values
        In order [number].
    length
        Of the window, at most as many as there are values [count].
    ring
        Whether windows go on past the end; there is then one for every value.

    Returns
    -------
    numpy.ndarray
        Sums; none where the window is longer than the whole [same].

    Examples
    --------
    >>> window_sums([1, 2, 3], 2, ring=False).tolist()
    [3.0, 5.0]
    >>> window_sums([1, 2, 3], 2, ring=True).tolist()
    [3.0, 5.0, 4.0]
    """
    row = np.asarray(values, dtype=np.float64)
    if not 1 <= length <= row.size:
        return np.empty(0)
    if ring:
        row = np.concatenate([row, row[: length - 1]])
    total = np.concatenate([[0.0], np.cumsum(row)])
    sums: Floats = total[length:] - total[:-length]
    return sums


def largest_shortage(short: Any, *, ring: bool) -> float:
    """Return the largest sum of a run of shortages: the sequent peak [same].

    Parameters
    ----------
    short
        What is asked less what comes, by interval [any unit].
    ring
        Whether a run may go on past the end; it never passes its own beginning, so
        that a year which asks for more than comes has an answer too.

    Returns
    -------
    float
        0 where nothing is short [same].

    References
    ----------
    Thomas & Burden, Operations research in water quality management, Harvard
    University, 1963 (unverified): the sequent-peak rule for reservoirs.

    Examples
    --------
    >>> largest_shortage([1, -9, 0, 2], ring=False)
    2.0
    >>> largest_shortage([1, -9, 0, 2], ring=True)
    3.0
    """
    row = np.asarray(short, dtype=np.float64)
    total = np.concatenate([[0.0], np.cumsum(row)])
    found = float((total - np.minimum.accumulate(total)).max())
    if not ring or not row.size:
        return found
    # Past the end: from the lowest sum since the lap began, on either side of it.
    before = np.minimum.accumulate(total[::-1])[::-1][:-1]
    after = total[-1] + np.minimum.accumulate(total[:-1])
    past = total[-1] + total[:-1] - np.minimum(before, after)
    return max(found, float(past.max()))
