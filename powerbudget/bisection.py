"""Where something stops being true: the real computation is tried until it is found."""

from __future__ import annotations

import math
from collections.abc import Callable

FLOOR = 1e-3
"""Values nearer to 0 than this are told apart as if they were this large."""


def halved(
    holds: Callable[[float], bool],
    kept: float,
    lost: float,
    *,
    near: float,
    ratio: bool = False,
) -> tuple[float, float]:
    """Return a bracket made narrow: a value at which it holds, and one where not.

    Parameters
    ----------
    holds
        Whether it is true at a value; it turns once between the ends.
    kept, lost
        A value at which it is true, and one at which it is not [any unit].
    near
        Width at which it is narrow enough, over the larger end [ratio].
    ratio
        Whether to halve on the logarithm, for values over several decades.

    Returns
    -------
    tuple of float
        Both values as they were tried [any unit].

    Examples
    --------
    >>> halved(lambda x: x < 2.6, 0.0, 4.0, near=0.2)
    (2.5, 3.0)
    """
    while abs(kept - lost) > near * max(abs(kept), abs(lost), FLOOR):
        middle = math.sqrt(kept * lost) if ratio else (kept + lost) / 2
        if holds(middle):
            kept = middle
        else:
            lost = middle
    return kept, lost


def edge(
    holds: Callable[[float], bool], low: float, high: float, *, ratio: bool = False
) -> float | None:
    """Return the last value at which something still holds, between two ends.

    Parameters
    ----------
    holds
        Whether it is true at a value; it turns once between the ends.
    low, high
        Ends, above zero where ``ratio`` [any unit].
    ratio
        Whether to halve on the logarithm, for values over several decades.

    Returns
    -------
    float or None
        The value on the true side, to a ten-thousandth; None when both ends say the
        same [any unit].

    Examples
    --------
    >>> round(edge(lambda x: x < 2.5, 0.0, 10.0), 2)
    2.5
    """
    at_low = holds(low)
    if at_low == holds(high):
        return None
    kept, lost = (low, high) if at_low else (high, low)
    return halved(holds, kept, lost, near=1e-4, ratio=ratio)[0]


def least_count(met: Callable[[int], bool], low: int, high: int) -> int:
    """Return the least count that is met, by halving.

    Parameters
    ----------
    met
        Whether a count is enough.
    low, high
        A count that is not enough, and one that is [count].

    Returns
    -------
    int
        Above low, at most high [count].

    Examples
    --------
    >>> least_count(lambda n: n * n >= 50, 0, 64)
    8
    """
    while high - low > 1:
        middle = (low + high) // 2
        if met(middle):
            high = middle
        else:
            low = middle
    return high
