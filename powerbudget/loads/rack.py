"""From a list of inputs and outputs to a rack: points, cards, slots, and their draws.

Built-in points of the controller are used first, cards only for what is left; the
rack grows by further bases, and remote nodes are reckoned beside it.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from powerbudget.loads.rack_findings import assumed, limits
from powerbudget.loads.rack_lines import (
    card_of,
    channel_lines,
    controller_lines,
    live_share,
    mount_lines,
)
from powerbudget.loads.rack_parts import CardCount, RackLine, RackOption, RackResult
from powerbudget.site.load import Rack
from powerbudget.site.parts import CardPart, DevicePart, NodePart, Part, RackData

if TYPE_CHECKING:
    from powerbudget.lists.io_list import IoList, Tag

POOLS: dict[str, str] = {
    "ai-hart": "ai", "ai-low-power": "ai", "ai-volt": "ai", "solenoid": "do",
}  # fmt: skip
"""Kinds that use the same built-in and node channels as another kind."""
SEGMENT_DEVICES = 12
"""Devices on one fieldbus segment, unverified [count]."""
GATEWAY_DEVICES = 100
"""Field devices that one wireless gateway serves, unverified [count]."""


@dataclass
class _Group:
    """Points of one card part."""

    signals: Counter[str] = field(default_factory=Counter)
    spares: int = 0


def build(
    rack: Rack, parts: Mapping[str, Part], listing: IoList | None
) -> tuple[list[RackLine], RackResult]:
    """Return the load lines of a rack and how its points are placed.

    Parameters
    ----------
    rack
        The site file's table.
    parts
        Parts library by name.
    listing
        The list of tags, or None for a controller on its own.

    Returns
    -------
    list of RackLine
        Controller, second units, cards or nodes, channels, loops, contacts, coils.
    RackResult
        Counts and watts of both ways to take the points.
    """
    tags = listing.tags if listing else ()
    controller = parts[rack.controller]
    assert isinstance(controller, DevicePart)
    data = controller.rack or RackData(slots=64)
    groups = _groups(tags, rack)
    counts, left = _place(groups, data, rack, parts, tags)
    by_card = {count.card: count.cards for count in counts if count.cards}
    cards = _cards_option(by_card, data, parts)
    nodes, rest = _nodes_option(left, by_card, data, parts, parts.get(rack.node))
    taken = nodes if rack.mount == "nodes" and nodes is not None else cards
    held = by_card if taken is cards else rest
    lines = [
        *controller_lines(rack, controller, data, taken),
        *mount_lines(rack, held, taken, parts),
        *channel_lines(rack, tags, parts),
    ]
    field_points = sum(tag.quantity for tag in tags if not tag.spare)
    found = [*(listing.findings if listing else ()), *assumed(tags)]
    found += limits(rack, cards, nodes, data)
    return lines, RackResult(
        tuple(counts),
        cards,
        nodes,
        taken.mount,
        sum(held.values()),
        data.slots * taken.bases,
        taken.bases,
        field_points,
        rack.spare_frac,
        tuple(found),
    )


# --- counting -------------------------------------------------------------------


def channels_needed(points: int, spare_frac: float, spares: int = 0) -> int:
    """Return the channels for some points with a share kept free [count].

    ``channels = max(ceil(points * (1 + spare)), points + spares)``

    Parameters
    ----------
    points
        Field points [count].
    spare_frac
        Share of them to keep free on top [fraction].
    spares
        Channels that the list itself names as spare [count].

    Returns
    -------
    int
        Channels [count].

    Examples
    --------
    >>> channels_needed(10, 0.2), channels_needed(10, 0.2, 4)
    (12, 14)
    """
    # 10 x 1.2 must not become 13 through rounding dust.
    return max(math.ceil(points * (1 + spare_frac) - 1e-9), points + spares)


def _groups(tags: tuple[Tag, ...], rack: Rack) -> dict[str, _Group]:
    groups: dict[str, _Group] = defaultdict(_Group)
    ports: dict[str, set[str]] = defaultdict(set)
    for tag in tags:
        if not tag.signal:
            continue
        group = groups[card_of(tag.signal, rack)]
        if tag.signal == "serial":
            # Many points or devices share one port; only ports take channels.
            ports[card_of("serial", rack)].add(tag.port.casefold())
        elif tag.spare:
            group.spares += tag.quantity
            group.signals[tag.signal] += 0
        else:
            group.signals[tag.signal] += tag.quantity
    for card, names in ports.items():
        groups[card].signals["serial"] += len(names)
    for signal, size in (("fieldbus", SEGMENT_DEVICES), ("wireless", GATEWAY_DEVICES)):
        group = groups.get(card_of(signal, rack), _Group())
        if group.signals[signal]:
            group.signals[signal] = math.ceil(group.signals[signal] / size)
    return dict(groups)


def _place(
    groups: dict[str, _Group],
    data: RackData,
    rack: Rack,
    parts: Mapping[str, Part],
    tags: tuple[Tag, ...],
) -> tuple[list[CardCount], dict[str, Counter[str]]]:
    """Give built-in points first; return counts and points left by card and kind."""
    free = Counter({str(k): v for k, v in data.built_in.items()})
    left: dict[str, Counter[str]] = {}
    counts = []
    for name, group in groups.items():
        part = parts[name]
        assert isinstance(part, CardPart)
        points = sum(group.signals.values())
        shared = set(group.signals) <= {"serial", "fieldbus", "wireless"}
        # A port or segment serves many; sparing it would buy a card for nothing.
        spare_frac = 0.0 if shared else rack.spare_frac
        need = channels_needed(points, spare_frac, group.spares)
        pool = POOLS.get(next(iter(group.signals)), next(iter(group.signals)))
        used = min(need, free[pool])
        free[pool] -= used
        left[name] = Counter({pool: need - used})
        cards = math.ceil((need - used) / part.channels)
        live_w = sum(
            live_share(t) * t.quantity
            for t in tags
            if t.signal and not t.spare and card_of(t.signal, rack) == name
        )
        per = part.per_channel.typical if "di" not in group.signals else 0.0
        counts.append(
            CardCount(
                name,
                ", ".join(group.signals),
                points,
                need - points,
                used,
                cards,
                part.channels,
                cards * part.base.typical + per * live_w,
            )
        )
    return counts, left


def _cards_option(
    by_card: dict[str, int], data: RackData, parts: Mapping[str, Part]
) -> RackOption:
    number = sum(by_card.values())
    bases = max(1, math.ceil(number / data.slots)) if data.slots else 1
    extra = bases - 1
    typical = high = 0.0
    for name, count in by_card.items():
        part = parts[name]
        if isinstance(part, CardPart):
            typical += count * part.base.typical
            high += count * part.base.high
    if data.base:
        typical += extra * data.base.typical
        high += extra * data.base.high
    fits = number <= data.slots * data.bases
    return RackOption("cards", number, bases, typical, high, fits)


def _nodes_option(
    left: Mapping[str, Counter[str]],
    by_card: dict[str, int],
    data: RackData,
    parts: Mapping[str, Part],
    node: Part | None,
) -> tuple[RackOption | None, dict[str, int]]:
    """Return nodes for every kind that a node takes, and the cards for the rest."""
    if not isinstance(node, NodePart):
        return None, by_card
    room = {str(key): value for key, value in node.points.items()}
    wanted: Counter[str] = Counter()
    rest = {}
    for card, pools in left.items():
        for pool, count in pools.items():
            if pool in room:
                wanted[pool] += count
            elif by_card.get(card):
                rest[card] = by_card[card]
    if not sum(wanted.values()):
        return None, by_card
    pieces = max(math.ceil(count / room[pool]) for pool, count in wanted.items())
    cards = _cards_option(rest, data, parts)
    return RackOption(
        "nodes",
        pieces,
        cards.bases,
        pieces * node.power.typical + cards.typical_w,
        pieces * node.power.high + cards.maximum_w,
        cards.fits,
        cards.pieces,
    ), rest
