"""Where a claim turns: the real computation is tried until the edge is found."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from powerbudget.balance import columns as col
from powerbudget.balance.problem import Problem


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


def with_load(problem: Problem, factor: float) -> Problem:
    """Return a prepared site with every load, regulator and leakage scaled.

    Parameters
    ----------
    problem
        From `powerbudget.balance.problem.prepare`.
    factor
        On every draw but a battery heater's [ratio].

    Returns
    -------
    Problem
        The same sky, array and battery.
    """
    if factor == 1.0:
        return problem
    hourly = problem.hourly.copy()
    for columns in col.TIERS:
        hourly[:, list(columns)] *= factor
    return replace(problem, budget=problem.budget.scaled(factor), hourly=hourly)


def with_sun(problem: Problem, factor: float) -> Problem:
    """Return a prepared site whose array gives so many times as much.

    Parameters
    ----------
    problem
        From `powerbudget.balance.problem.prepare`.
    factor
        On power and current: more panel of the same kind, or more sun [ratio].

    Returns
    -------
    Problem
        The same load and battery.
    """
    if factor == 1.0:
        return problem
    hourly = problem.hourly.copy()
    hourly[:, col.H_ARRAY_W] *= factor
    return replace(problem, hourly=hourly, currents=problem.currents * factor)
