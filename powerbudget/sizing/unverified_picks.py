"""What the unverified figures of a site's loads do to the size that it needs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from powerbudget.balance.problem import Problem, prepare
from powerbudget.loads.unverified import Gap, Level, at_ends, gaps
from powerbudget.site.reader import Design
from powerbudget.site.scenario import Scenario
from powerbudget.sizing.candidates import Candidate
from powerbudget.sizing.picks import ranked
from powerbudget.sizing.search import Sizing, picked


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


@dataclass(frozen=True)
class Worth:
    """An unverified figure, and the size that the site needs with it at either end.

    Parameters
    ----------
    gap
        The figure, and the daily load at its ends.
    low, high
        The recommended size at its ends; None where nothing within the limits passes,
        or the site has no panels to size.
    sized
        Whether sizes were searched.
    """

    gap: Gap
    low: Candidate | None = None
    high: Candidate | None = None
    sized: bool = True

    @property
    def moves(self) -> float | None:
        """How far the recommended size moves between the ends [currency or count].

        Cost where both sizes have one, else modules and battery units; infinite where
        only one end has a size, None where neither has.
        """
        if self.low is None and self.high is None:
            return None
        if self.low is None or self.high is None:
            return float("inf")
        return abs(ranked(self.high)[0] - ranked(self.low)[0])


def worth_getting(design: Design, ends: Sequence[EndPick] = ()) -> tuple[Worth, ...]:
    """Return the unverified figures of a site, those that move its size most first.

    Parameters
    ----------
    design
        A checked site.
    ends
        Of `unverified_picks`; empty where no sizes are searched.

    Notes
    -----
    Two searches for each figure, the others as they stand; none where the size is the
    same with all of them low and all of them high, since a load between needs no other.
    Sizes come in whole modules and units: figures that move it equally stand in the
    order of the daily load that they move, and so do all without a search.
    """
    found = gaps(design)
    if not ends:
        return tuple(Worth(gap, sized=False) for gap in found)
    low, high = ends[0].pick, ends[-1].pick
    if _bought(low) == _bought(high):
        return tuple(Worth(gap, low, high) for gap in found)
    problem = prepare(design)

    def sized_at(end: Scenario) -> Candidate | None:
        return picked(problem.under(end))

    moved = [Worth(gap, sized_at(gap.low), sized_at(gap.high)) for gap in found]
    return tuple(sorted(moved, key=lambda one: -(one.moves or 0.0)))


def _bought(pick: Candidate | None) -> tuple[float, ...]:
    if pick is None:
        return ()
    return pick.modules, pick.battery_units, pick.tilt_deg, pick.series


def has_size(design: Design) -> bool:
    """Return whether a site states panels, and all that a search of sizes needs."""
    return design.tables.array.parallel > 0 and not design.left_open


def unverified_picks(
    problem: Problem, sizing: Sizing | None = None
) -> tuple[EndPick, ...]:
    """Return the picks of a site at both ends of what is unverified, typical between.

    Parameters
    ----------
    problem
        Prepared site.
    sizing
        Of the site as it stands, where it is at hand.
    """
    wh_per_day = problem.budget.wh_per_day
    typical = EndPick("typical", wh_per_day, sizing.pick) if sizing else None
    low, high = _at(problem, "low"), _at(problem, "high")
    return low, typical or _pick(problem, "typical"), high


def _at(problem: Problem, level: Level) -> EndPick:
    moved = at_ends(problem.design, level)
    return _pick(prepare(moved, problem.record), level)


def _pick(problem: Problem, level: str) -> EndPick:
    return EndPick(level, problem.budget.wh_per_day, picked(problem))
