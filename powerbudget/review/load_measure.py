"""What some loads of a site draw: by state, on which side, with which cards."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from powerbudget.errors import Fault, nearest
from powerbudget.loads.budget import Budget, load_budget
from powerbudget.loads.lines import Line
from powerbudget.site.load import Load
from powerbudget.site.parts import CardPart, DevicePart, Part
from powerbudget.site.reader import Design
from powerbudget.site.scenario import Scenario

RACK_KINDS = ("controller", "card", "node")
ALL = 256
"""More channels than any card has: a card then counts all of its own."""


@dataclass(frozen=True)
class Subject:
    """Which lines of the budget a claim is about.

    Parameters
    ----------
    names
        As written: ``site``, ``rack``, ``hidden``, loads, supplies or parts [text].
    title
        The same in words [text].
    """

    names: tuple[str, ...]
    title: str

    def holds(self, line: Line) -> bool:
        """Return whether a line of the budget belongs to it."""
        if line.kind == "contingency":
            return False
        return any(_named(name, line) for name in self.names)

    @property
    def whole(self) -> bool:
        """Whether it is the whole site."""
        return "site" in self.names


def _named(name: str, line: Line) -> bool:
    if name == "site":
        return True
    if name == "hidden":
        return line.hidden
    if name == "rack":
        of_list = line.name.startswith("rack: ") and line.supply == "bus"
        return not line.hidden and (line.kind in RACK_KINDS or of_list)
    return name in {line.name, line.part} or line.name.startswith(f"{name}: ")


def subject_of(
    names: tuple[str, ...], lines: Iterable[Line]
) -> tuple[Subject, list[Fault]]:
    """Return what a claim is about, and the names that the site has not.

    Parameters
    ----------
    names
        As written in the claim [text].
    lines
        The site's budget.

    Returns
    -------
    Subject
        Names that are known.
    list of Fault
        One for each unknown name, with the nearest spelling.
    """
    lines = list(lines)
    listed = [line.name for line in lines if line.kind != "contingency"]
    known = ["site", "rack", "hidden", *listed, *(x.part for x in lines if x.part)]
    faults = [
        Fault(
            "of",
            "is neither a load nor a part of this site",
            repr(name),
            "site, rack, hidden, or: " + ", ".join(dict.fromkeys(listed))[:160],
            nearest(name, known),
        )
        for name in names
        if not any(_named(name, line) for line in lines)
    ]
    title = ", ".join(names)
    return Subject(names, title), faults


def measure_w(design: Design, subject: Subject, state: str, side: str) -> float:
    """Return what some loads draw in a state [W].

    Parameters
    ----------
    design
        A checked site.
    subject
        Which lines.
    state
        ``mean`` over the heaviest month; ``loaded``: while on, with every channel
        live; ``idle``: mean with no channel live; ``maximum`` lasting; ``peak``.
    side
        ``load`` at their terminals, ``bus`` behind converters.

    Returns
    -------
    float
        Contingency left out [W].
    """
    if state == "loaded":
        design = with_live(design, ALL)
    elif state == "idle":
        design = with_live(design, 0)
    budget = load_budget(design)
    if subject.whole and state in {"maximum", "peak"}:
        return budget.maximum_w if state == "maximum" else budget.peak_w
    lines = [line for line in budget.lines if subject.holds(line)]
    if subject.whole and side == "load":
        lines = [line for line in lines if not line.hidden]
    # What a converter loses has lines of its own: counted there, or here, never twice.
    counted = {x.name.removesuffix(": conversion") for x in lines if x.hidden}
    total = extra = 0.0
    for line in lines:
        watts = _state_w(line, state)
        behind = side == "bus" and line.supply != "bus" and not line.hidden
        if behind and line.supply not in counted:
            watts *= budget.rails[line.supply].slope
        total += watts
        extra = max(extra, line.peak_w - line.maximum_w)
    if side == "bus" and not subject.whole:
        total += _idle_w(budget, subject)
    return total + (extra if state == "peak" else 0.0)


def _state_w(line: Line, state: str) -> float:
    if state in {"mean", "idle"}:
        return line.wh_per_day / 24
    return line.typical_w if state == "loaded" else line.maximum_w


def _idle_w(budget: Budget, subject: Subject) -> float:
    """Return the idle draw of converters that feed nothing but these loads [W]."""
    total, lines = 0.0, budget.lines
    for name, rail in budget.rails.items():
        fed = [line for line in lines if line.supply == name and not line.hidden]
        if name and fed and all(subject.holds(line) for line in fed):
            counted = any(
                subject.holds(x) for x in lines if x.name == f"{name}: no-load"
            )
            total += 0.0 if counted else rail.no_load_w
    return total


def with_live(design: Design, live: int) -> Design:
    """Return a site with so many live channels on every card, at most its own.

    Parameters
    ----------
    design
        A checked site.
    live
        Channels of each card [count].

    Returns
    -------
    Design
        Cards of a ``[rack]`` keep what their list says.
    """
    loads = tuple(_live_load(load, design, live) for load in design.tables.load)
    return Scenario(loads=loads).site(design)


def _live_load(load: Load, design: Design, live: int) -> Load:
    part = design.parts.get(load.part or "")
    if not isinstance(part, CardPart):
        return load
    return load.model_copy(update={"live_channels": min(live, part.channels)})


def with_cards(design: Design, cards: dict[str, int]) -> Design:
    """Return a site whose cards are these and no others, every channel live.

    Parameters
    ----------
    design
        A checked site.
    cards
        Part name and how many [count].

    Returns
    -------
    Design
        Other loads stay.
    """
    rack = design.tables.rack
    if rack is not None:
        # The list brings its own cards: without it the controller stands alone.
        rack = rack.model_copy(update={"io_list": None})
    kept = [load for load in design.tables.load if not is_card(load, design)]
    added = [
        Load.model_validate({"name": name, "part": name, "quantity": count})
        for name, count in cards.items()
        if count
    ]
    return Scenario(rack=rack, loads=(*kept, *added)).site(design)


def is_card(load: Load, design: Design) -> bool:
    """Return whether a load line is a card of the library."""
    return isinstance(design.parts.get(load.part or ""), CardPart)


def site_cards(design: Design) -> dict[str, int]:
    """Return the cards among a site's loads, by part name [count]."""
    cards: dict[str, int] = {}
    if design.tables.rack is not None:
        rack = load_budget(design).rack
        cards = {c.card: c.cards for c in (rack.counts if rack else ()) if c.cards}
    for load in design.tables.load:
        if load.part and is_card(load, design):
            cards[load.part] = cards.get(load.part, 0) + load.quantity
    return cards


def slots_of(design: Design) -> int | None:
    """Return the slots of the site's controller with all its bases [count]."""
    names = [load.part for load in design.tables.load]
    if design.tables.rack is not None:
        names.append(design.tables.rack.controller)
    parts: list[Part] = [design.parts[n] for n in names if n and n in design.parts]
    racks = [p.rack for p in parts if isinstance(p, DevicePart) and p.rack is not None]
    return sum(rack.slots * rack.bases for rack in racks) if racks else None
