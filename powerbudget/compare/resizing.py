"""At which load and days of autonomy another option comes first: sized again to know.

Nothing is scaled.  At every trial value each option is searched and simulated anew, and
what is printed lies between two values that were tried.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator

from powerbudget.balance.problem import Problem
from powerbudget.balance.scenario import Scenario
from powerbudget.compare.alternative import Option
from powerbudget.compare.break_even import Turn
from powerbudget.compare.sized import Progress, sized_options
from powerbudget.compare.sized_site import Bench, with_criteria
from powerbudget.site.reader import Design

STEPS = (1.25, 1.6, 2.5, 4.0)
"""How far from today's value is looked, up and down [ratio]."""
NEAR = 1.02
"""How near the two values must lie between which the order turns [ratio]."""

First = Callable[[float], str]
"""Title of the option that comes first at a value, empty where none will do."""


def sized_turn(
    name: str, unit: str, today: float, first: First, most: float = math.inf
) -> Turn:
    """Return where the first option stops being the first along one assumption.

    Parameters
    ----------
    name, unit
        Which assumption [text].
    today
        Its value, above 0 [unit].
    first
        Sizes every option at a value and names the cheapest [text].
    most
        Largest value that can be asked [unit].

    Returns
    -------
    Turn
        Nearest to today's value by ratio; ``low`` and ``high`` are the outermost values
        that were tried.

    Examples
    --------
    >>> found = sized_turn("load", "W", 100.0, lambda w: "sun" if w < 130 else "gas")
    >>> found.takes_over, found.between[0] < 130 <= found.between[1]
    ('gas', True)
    >>> sized_turn("load", "W", 100.0, lambda w: "sun").turns_at is None
    True
    """
    now = first(today)
    reached: dict[int, float] = {1: today, -1: today}
    ended: set[int] = set()
    for side, value in _outward(today, most):
        if side in ended:
            continue
        over = first(value)
        if not over:
            # Nothing will do from here on: the order has no meaning there.
            ended.add(side)
        elif over == now:
            reached[side] = value
        else:
            bracket = (reached[side], value)
            kept, lost, over = _halved(first, bracket, (now, over))
            at = math.sqrt(kept * lost)
            low, high = min(*reached.values(), value), max(*reached.values(), value)
            return Turn(name, unit, today, at, low, high, over, (kept, lost))
    low, high = min(reached.values()), max(reached.values())
    return Turn(name, unit, today, None, low, high, "")


def _outward(today: float, most: float) -> Iterator[tuple[int, float]]:
    for step in STEPS:
        if today * step <= most:
            yield 1, today * step
        yield -1, today / step


def _halved(
    first: First, bracket: tuple[float, float], names: tuple[str, str]
) -> tuple[float, float, str]:
    """Return the bracket made narrow by ratio, and who comes first beyond it."""
    (kept, lost), (now, over) = bracket, names
    while max(kept / lost, lost / kept) > NEAR:
        middle = math.sqrt(kept * lost)
        found = first(middle)
        if found == now:
            kept = middle
        else:
            lost, over = middle, found or over
    return kept, lost, over


def sized_turns(
    design: Design,
    problem: Problem,
    bench: Bench,
    options: list[Option],
    progress: Progress | None,
) -> list[Turn]:
    """Return the load and the days of autonomy at which another option comes first.

    Parameters
    ----------
    design, problem
        A checked site, and the same from `powerbudget.compare.sized.panelled`.
    bench, options
        Its comparison.
    progress
        Called with sizings done, 0 and what comes next [count, text].

    Returns
    -------
    list of Turn
        Each with the two tried values between which the order turns.
    """
    tables, tried = design.tables, {"n": 0}
    load_w, days = bench.load_w, tables.criteria.autonomy_d

    def first(words: str, problem_at: Callable[[float], Problem], now: float) -> First:
        def at(value: float) -> str:
            if value == now:
                return options[0].title
            tried["n"] += 1
            if progress:
                progress(tried["n"], 0, f"sizing again at {value:.3g} {words}")
            best = sized_options(tables, problem_at(value))[1][0]
            return best.title if best.met else ""

        return at

    def loaded(value: float) -> Problem:
        return problem.under(Scenario(load_factor=value / load_w))

    def lasting(value: float) -> Problem:
        return with_criteria(problem, {"autonomy_d": value})

    turns = [sized_turn("mean load", "W", load_w, first("W", loaded, load_w))]
    if days > 0:
        most = problem.record.n * problem.record.step_h / 24.0
        name = "days of autonomy asked"
        turns.append(sized_turn(name, "d", days, first("d", lasting, days), most))
    return turns
