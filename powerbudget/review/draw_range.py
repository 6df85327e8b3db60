"""How far a figure may lie from the typical one: low and high ends of the parts."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from powerbudget.loads.unverified import Level, part_at, used_parts
from powerbudget.site.reader import Design
from powerbudget.site.scenario import Scenario

LIKELY_SHARE = 0.5
"""Share of the way to the ends of a part's range that is taken as likely.

With draws spread as a triangle over low, typical and high, about three parts in four
lie inside; the ends themselves are met by one product in a hundred (assumed).
"""


@dataclass(frozen=True)
class DrawRange:
    """A figure with its likely range and its ends.

    Parameters
    ----------
    typical
        With every part at its typical draw [unit of the figure].
    low, high
        Likely range: parts deviate apart from each other [unit].
    lowest, highest
        With every part at its lowest, and at its highest [unit].
    """

    typical: float
    low: float
    high: float
    lowest: float
    highest: float

    @property
    def low_ratio(self) -> float:
        """Low end over typical [ratio]."""
        return self.low / self.typical if self.typical else 1.0

    @property
    def high_ratio(self) -> float:
        """High end over typical [ratio]."""
        return self.high / self.typical if self.typical else 1.0


def draw_range(design: Design, measure: Callable[[Design], float]) -> DrawRange:
    """Return a figure of a site with the range that its parts leave open.

    Parameters
    ----------
    design
        A checked site.
    measure
        The figure of a site; it is computed anew for each part at each end.

    Returns
    -------
    DrawRange
        Deviations of different parts add as squares, those of equal parts linearly;
        figures written in the site file have no range.
    """
    typical = measure(design)

    def changes(level: Level) -> list[float]:
        return [measure(_shifted(design, level, n)) - typical for n in _ranged(design)]

    down = [min(change, 0.0) for change in changes("low")]
    up = [max(change, 0.0) for change in changes("high")]
    return DrawRange(
        typical=typical,
        low=typical - LIKELY_SHARE * math.hypot(*down),
        high=typical + LIKELY_SHARE * math.hypot(*up),
        lowest=typical + sum(down),
        highest=typical + sum(up),
    )


def _ranged(design: Design) -> tuple[str, ...]:
    """Return the parts of a site's loads whose draw has a range [names]."""
    parts = design.parts
    return tuple(n for n in used_parts(design) if part_at(parts[n], "high") != parts[n])


def _shifted(design: Design, level: Level, name: str) -> Design:
    """Return a site with one part's typical draw at an end of its range [Design]."""
    part = part_at(design.parts[name], level)
    return Scenario(parts={name: part}).site(design)
