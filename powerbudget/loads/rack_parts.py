"""What a rack worked out from a list consists of."""

from __future__ import annotations

from dataclasses import dataclass

from powerbudget.errors import Finding
from powerbudget.site.load import Load


@dataclass(frozen=True)
class CardCount:
    """How the points of one kind of card are placed.

    Parameters
    ----------
    card, signals
        Part name, and kinds of signal on it [text].
    points, spares
        Field points, and channels kept free [count].
    built_in, cards, channels
        Points on the controller, cards for the rest, channels of a card [count].
    typical_w
        Base draw of the cards and draw of the channels in use [W].
    """

    card: str
    signals: str
    points: int
    spares: int
    built_in: int
    cards: int
    channels: int
    typical_w: float


@dataclass(frozen=True)
class RackOption:
    """A way to take the points that the controller has no room for.

    Parameters
    ----------
    mount
        ``cards`` or ``nodes`` [text].
    pieces, bases
        Cards or nodes, and racks [count].
    typical_w, maximum_w
        Their base draws with further bases, channels left out [W].
    fits
        False where the rack cannot hold them.
    other_cards
        Cards beside the nodes, for kinds of point that a node has not [count].
    """

    mount: str
    pieces: int
    bases: int
    typical_w: float
    maximum_w: float
    fits: bool
    other_cards: int = 0


@dataclass(frozen=True)
class RackResult:
    """A rack worked out from a list.

    Parameters
    ----------
    counts
        One row for each kind of card.
    cards, nodes
        The two ways to take the points, reckoned side by side.
    mount
        The way that the site file asks for [text].
    slots_used, slots, bases
        Cards, and slots in how many racks [count].
    points, spare_frac
        Field points in the list, and the share kept free [count, fraction].
    findings
        What was assumed.
    """

    counts: tuple[CardCount, ...]
    cards: RackOption
    nodes: RackOption | None
    mount: str
    slots_used: int
    slots: int
    bases: int
    points: int
    spare_frac: float
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class RackLine:
    """A load line that follows from the rack.

    Parameters
    ----------
    load
        The line, as if written in the site file.
    kind, basis, source, status
        How the figure came about [text].
    """

    load: Load
    kind: str
    basis: str
    source: str
    status: str
