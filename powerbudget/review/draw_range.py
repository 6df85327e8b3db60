"""How far a figure may lie from the typical one: low and high ends of the parts."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from powerbudget.site.parts import Amperes, CardPart, Part, Watts
from powerbudget.site.reader import Design

Level = Literal["low", "high"]
LIKELY_SHARE = 0.5
"""Share of the way to the ends of a part's range that is taken as likely.

With draws spread as a triangle over low, typical and high, about three parts in four
lie inside; the ends themselves are met by one product in a hundred (own choice).
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
    tables = design.tables
    names = [load.part for load in tables.load if load.part and load.typical is None]
    if tables.rack is not None:
        # Which cards a list asks for is not known before it is read.
        names += [tables.rack.controller, tables.rack.node, tables.rack.solenoid]
        names += [n for n, part in design.parts.items() if isinstance(part, CardPart)]
    used = [name for name in dict.fromkeys(names) if name in design.parts]
    return tuple(n for n in used if _at_end(design.parts[n], "high") != design.parts[n])


def _shifted(design: Design, level: Level, name: str) -> Design:
    """Return a site with one part's typical draw at an end of its range [Design]."""
    part = _at_end(design.parts[name], level)
    return replace(design, parts={**design.parts, name: part})


def _at_end(part: Part, level: Level) -> Part:
    """Return a part whose typical draw is its low or its high one."""
    draws = {
        name: _end(figures, level)
        for name, figures in part
        if isinstance(figures, Watts | Amperes)
    }
    return part.model_copy(update=draws)


def _end(figures: Watts | Amperes, level: Level) -> Watts | Amperes:
    return figures.model_copy(update={"typical": getattr(figures, level)})
