"""Where a claim turns: the real computation is tried until the edge is found."""

from __future__ import annotations

from collections.abc import Callable


def edge(
    holds: Callable[[float], bool],
    low: float,
    high: float,
    *,
    ratio: bool = False,
    steps: int = 40,
) -> float | None:
    """Return the last value at which a claim still holds, between two ends.

    Parameters
    ----------
    holds
        Whether the claim is true at a value; it turns once between the ends.
    low, high
        Ends, above zero where ``ratio`` [any unit].
    ratio
        Whether to halve on the logarithm, for values over several decades.
    steps
        Halvings; it stops sooner when the ends agree to a ten-thousandth [count].

    Returns
    -------
    float or None
        The value on the true side, None when both ends say the same [any unit].

    Examples
    --------
    >>> round(edge(lambda x: x < 2.5, 0.0, 10.0), 2)
    2.5
    """
    at_low = holds(low)
    if at_low == holds(high):
        return None
    true, false = (low, high) if at_low else (high, low)
    for _ in range(steps):
        middle = (true * false) ** 0.5 if ratio else (true + false) / 2
        if holds(middle):
            true = middle
        else:
            false = middle
        if abs(true - false) <= 1e-4 * max(abs(true), abs(false), 1e-3):
            break
    return true
