"""What a rack had to assume, and where it does not fit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.errors import Finding
from powerbudget.loads.loop import FAULT_LOW_A
from powerbudget.loads.rack_parts import RackOption
from powerbudget.quantities import count
from powerbudget.site.load import Rack
from powerbudget.site.parts import RackData

if TYPE_CHECKING:
    from powerbudget.lists.io_list import Tag

LOOP_MOST_A = 0.023
"""Highest loop current that designers reckon with in a burden formula [A]."""


def assumed(tags: tuple[Tag, ...]) -> list[Finding]:
    """Return what a list leaves unsaid and how it was taken.

    Returns
    -------
    list of Finding
        One for each kind of silence, with the first tags.
    """
    live = [tag for tag in tags if not tag.spare]
    found = _odd_currents(live)
    for chosen, text in _silences(live):
        if chosen:
            rows = ", ".join(tag.tag for tag in chosen[:5])
            more = f" and {len(chosen) - 5} more" if len(chosen) > 5 else ""
            number = sum(tag.quantity for tag in chosen)
            found.append(Finding("note", f"Rack: {number} {text}: {rows}{more}."))
    return found


def _silences(live: list[Tag]) -> tuple[tuple[list[Tag], str], ...]:
    """Return the tags that leave something unsaid, and how they are taken."""
    vague = [t for t in live if not t.normal and t.duty_frac is None]
    return (
        (
            [t for t in live if t.signal in {"ai", "ai-hart"} and not t.powered],
            ("loops do not state their power source; card power assumed"),
        ),
        (
            [t for t in vague if t.signal == "di"],
            (
                "contacts have no normal state; closed assumed, with wetting current all "
                "the time"
            ),
        ),
        (
            [t for t in vague if t.signal in {"do", "solenoid"}],
            "outputs have no normal state; energized all the time assumed",
        ),
        (
            [t for t in live if t.powered == "field" and t.signal in {"ai", "ai-hart"}],
            (
                "instruments are powered from elsewhere; if they are on this bus, add a "
                "[[load]] for them"
            ),
        ),
        (
            [t for t in live if t.signal == "serial"],
            (
                "points or devices on ports have no load here; add a [[load]] for each "
                "device on this bus"
            ),
        ),
    )


def _odd_currents(tags: list[Tag]) -> list[Finding]:
    """Return loops whose stated mean no signal can have, such as a wrong unit."""
    odd = [
        tag
        for tag in tags
        if tag.signal in {"ai", "ai-hart"}
        and tag.current_a is not None
        and not FAULT_LOW_A <= tag.current_a <= LOOP_MOST_A
    ]
    return [
        Finding(
            "warning",
            f"Rack: row {tag.row}, {tag.tag}: a mean of {1e3 * tag.current_a:g} mA is "
            f"outside {1e3 * FAULT_LOW_A:g} to {1e3 * LOOP_MOST_A:g} mA; check the "
            "unit of the column.",
        )
        for tag in odd[:5]
        if tag.current_a is not None
    ]


def limits(
    rack: Rack, cards: RackOption, nodes: RackOption | None, data: RackData
) -> list[Finding]:
    """Return where a rack cannot hold what it is asked to hold.

    Parameters
    ----------
    rack
        The site file's table.
    cards, nodes
        The two ways to take the points.
    data
        What the controller holds.

    Returns
    -------
    list of Finding
        Second units that the library has not, cards without slots, nodes in vain.
    """
    found = [
        Finding(
            "warning",
            f"Rack: the process controller has no second {name} in the library; "
            "nothing was added for it.",
        )
        for name in rack.redundant
        if getattr(data, name) is None
    ]
    if not cards.fits and rack.mount == "cards":
        found.append(
            Finding(
                "serious",
                f"Rack: {count(cards.pieces, 'card')} do not fit into "
                f"{count(data.bases, 'rack')} of {count(data.slots, 'slot')}; "
                'use cards of more channels, mount = "nodes", or another controller.',
            )
        )
    if rack.mount == "nodes" and nodes is None:
        found.append(
            Finding(
                "warning",
                f"Rack: {rack.node} does not accept every remaining type of point, or "
                "none remains; cards are used.",
            )
        )
    return found
