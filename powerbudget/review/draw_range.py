"""How far a figure may lie from the typical one: low and high ends of the parts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Literal

from powerbudget.site.parts import (
    Amperes,
    CardPart,
    DevicePart,
    NodePart,
    Part,
    RadioPart,
    TransmitterPart,
    Watts,
)
from powerbudget.site.reader import Design

Level = Literal["low", "high"]
LIKELY_SHARE = 0.5
"""Share of the way to the ends of a part's range that is taken as likely.

With draws spread as a triangle over low, typical and high, about three parts in four
lie inside; the ends themselves are met by one product in a hundred (own choice).
"""


@dataclass(frozen=True)
class Spread:
    """A figure with its likely range and its ends.

    Parameters
    ----------
    typical
        With every part at its typical draw [unit of the figure].
    low, high
        Likely range: parts deviate apart from each other [unit].
    lowest, highest
        With every part at its lowest, and at its highest [unit].
    by_part
        What each part alone adds at its high end [unit].
    """

    typical: float
    low: float
    high: float
    lowest: float
    highest: float
    by_part: dict[str, float]

    @property
    def low_ratio(self) -> float:
        """Low end over typical [ratio]."""
        return self.low / self.typical if self.typical else 1.0

    @property
    def high_ratio(self) -> float:
        """High end over typical [ratio]."""
        return self.high / self.typical if self.typical else 1.0


def spread(design: Design, measure: Callable[[Design], float]) -> Spread:
    """Return a figure of a site with the range that its parts leave open.

    Parameters
    ----------
    design
        A checked site.
    measure
        The figure of a site; it is computed anew for each part at each end.

    Returns
    -------
    Spread
        Deviations of different parts add as squares, those of equal parts linearly;
        figures written in the site file have no range.
    """
    typical = measure(design)
    down = {n: measure(shifted(design, "low", n)) - typical for n in ranged(design)}
    up = {n: measure(shifted(design, "high", n)) - typical for n in ranged(design)}
    fall = sum(min(d, 0.0) ** 2 for d in down.values()) ** 0.5
    rise = sum(max(d, 0.0) ** 2 for d in up.values()) ** 0.5
    return Spread(
        typical=typical,
        low=typical - LIKELY_SHARE * fall,
        high=typical + LIKELY_SHARE * rise,
        lowest=typical + sum(min(d, 0.0) for d in down.values()),
        highest=typical + sum(max(d, 0.0) for d in up.values()),
        by_part={name: d for name, d in up.items() if d > 0},
    )


def ranged(design: Design) -> tuple[str, ...]:
    """Return the parts of a site's loads whose draw has a range [names]."""
    tables = design.tables
    names = [load.part for load in tables.load if load.part and load.typical is None]
    if tables.rack is not None:
        # Which cards a list asks for is not known before it is read.
        names += [tables.rack.controller, tables.rack.node, tables.rack.solenoid]
        names += [n for n, part in design.parts.items() if isinstance(part, CardPart)]
    used = [name for name in dict.fromkeys(names) if name in design.parts]
    return tuple(n for n in used if at_end(design.parts[n], "high") != design.parts[n])


def shifted(design: Design, level: Level, name: str) -> Design:
    """Return a site with one part's typical draw at an end of its range [Design]."""
    part = at_end(design.parts[name], level)
    return replace(design, parts={**design.parts, name: part})


def at_end(part: Part, level: Level) -> Part:
    """Return a part whose typical draw is its low or its high one.

    Parameters
    ----------
    part
        A part of the library.
    level
        Which end.

    Returns
    -------
    Part
        Kinds that draw nothing of their own come back as they are.
    """
    names: tuple[str, ...] = ()
    if isinstance(part, DevicePart | NodePart):
        names = ("power",)
    elif isinstance(part, CardPart):
        names = ("base", "per_channel")
    elif isinstance(part, RadioPart):
        names = ("transmit", "receive", "sleep")
    elif isinstance(part, TransmitterPart):
        names = ("current",)
    changes: dict[str, Any] = {name: _end(getattr(part, name), level) for name in names}
    return part.model_copy(update=changes) if changes else part


def _end(figures: Watts | Amperes, level: Level) -> Watts | Amperes:
    return figures.model_copy(update={"typical": getattr(figures, level)})
