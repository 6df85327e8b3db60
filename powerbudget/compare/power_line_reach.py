"""Where a ranking turns: the value of one assumption at which two costs are equal."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

from powerbudget.errors import DidNotConverge


def turning_value(
    gap: Callable[[float], float],
    low: float,
    high: float,
    start: float,
    pieces: int = 24,
) -> float | None:
    """Return the value nearest to today's at which a difference changes its sign.

    Parameters
    ----------
    gap
        Cost of one option less that of another [currency].
    low, high
        Range that is looked through [unit of the value].
    start
        Today's value; the search goes outward from it [unit of the value].
    pieces
        In how many steps each side is scanned, by ratio where `low` is positive
        [count].

    Returns
    -------
    float or None
        None where one option stays ahead over the whole range [unit of the value].

    Raises
    ------
    DidNotConverge
        When a bracketed zero is not found.

    Notes
    -----
    Sizes come in whole pieces, so a gap may jump; the value returned is where it
    changes its sign, to a thousandth.

    Examples
    --------
    >>> round(turning_value(lambda price: 1000 * price - 500, 0.0, 5.0, 2.0), 3)
    0.5
    >>> turning_value(lambda price: price + 1.0, 0.0, 5.0, 2.0) is None
    True
    """
    found = [
        crossing
        for end in (low, high)
        if (crossing := _outward(gap, start, end, pieces)) is not None
    ]
    return min(found, key=lambda value: _far(value, start), default=None)


def _far(value: float, start: float) -> float:
    """Return how far a value lies, as a ratio where both are positive."""
    if value > 0 and start > 0:
        return max(value / start, start / value)
    return abs(value - start)


def _outward(
    gap: Callable[[float], float], start: float, end: float, pieces: int
) -> float | None:
    if start == end:
        return None
    points = _points(start, end, pieces)
    before = gap(points[0])
    if before == 0:
        return start
    for left, right in pairwise(points):
        after = gap(right)
        if (before < 0) != (after < 0):
            return _halved(gap, left, right, before < 0)
        before = after
    return None


def _points(start: float, end: float, pieces: int) -> list[float]:
    shares = [k / pieces for k in range(pieces + 1)]
    if start > 0 and end > 0:
        return [float(start * (end / start) ** share) for share in shares]
    return [start + (end - start) * share for share in shares]


def _halved(
    gap: Callable[[float], float], left: float, right: float, negative: bool
) -> float:
    """Halve a bracket; the gap may be a staircase, which smoother methods misread."""
    for _ in range(60):
        middle = 0.5 * (left + right)
        if abs(right - left) <= 1e-3 * max(abs(left), abs(right)):
            return middle
        if (gap(middle) < 0) == negative:
            left = middle
        else:
            right = middle
    raise DidNotConverge("the point at which two options cost the same was not found")
