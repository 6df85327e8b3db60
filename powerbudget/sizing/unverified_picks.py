"""What the unverified figures of a site's loads do to the size that it needs."""

from __future__ import annotations

from dataclasses import dataclass

from powerbudget.balance.problem import Problem, prepare
from powerbudget.loads.unverified import Level, at_ends
from powerbudget.sizing.candidates import Candidate
from powerbudget.sizing.picks import ranked
from powerbudget.sizing.search import search_sizes


@dataclass(frozen=True)
class EndPick:
    """The size that a site needs with all its unverified figures at one end.

    Parameters
    ----------
    level
        ``low``, ``typical`` or ``high`` [text].
    wh_per_day
        Daily load [Wh/day].
    pick
        The recommended size, None where nothing within the limits passes.
    """

    level: str
    wh_per_day: float
    pick: Candidate | None


def unverified_picks(problem: Problem) -> tuple[EndPick, ...]:
    """Return the picks of a site at both ends of what is unverified, typical between."""
    return (_at(problem, "low"), _pick(problem, "typical"), _at(problem, "high"))


def _at(problem: Problem, level: Level) -> EndPick:
    moved = at_ends(problem.design, level)
    return _pick(prepare(moved, problem.record), level)


def _pick(problem: Problem, level: str) -> EndPick:
    _, frontier = search_sizes(problem)
    pick = min(frontier, key=ranked) if frontier else None
    return EndPick(level, problem.budget.wh_per_day, pick)
