"""Load lines that follow from a rack: controller, cards, loops, contacts, coils."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from powerbudget.errors import Finding
from powerbudget.loads.loop import FAULT_HIGH_A, MEAN_A
from powerbudget.quantities import show
from powerbudget.site.iolist import Tag
from powerbudget.site.model import Load, Loop, Rack
from powerbudget.site.parts import CardPart, DevicePart, NodePart, Part, RackData

CARDS: dict[str, str] = {
    "ai": "card-analog-input",
    "ai-hart": "card-analog-input",
    "ai-low-power": "card-analog-input",
    "ai-volt": "card-analog-input",
    "ao": "card-analog-output",
    "di": "card-digital-input",
    "do": "card-digital-output-relay",
    "solenoid": "card-digital-output-relay",
    "pulse": "card-pulse-input",
    "rtd": "card-resistance-thermometer-input",
    "thermocouple": "card-thermocouple-input",
    "serial": "card-serial",
    "fieldbus": "card-fieldbus",
    "wireless": "card-wireless-gateway",
}
"""Kind of signal -> the card that takes it, unless the site file names another."""
LOW_POWER_A = 0.003
"""Draw of a low-power 1-5 V instrument whatever its signal, from memory [A]."""
WETTING_MOST_A = 0.008
"""Highest wetting current, at 30 V (EN 61131-2 Type 1 module data) [A]."""
LIFT_OFF = "10.5 V"
"""Least terminal voltage of a transmitter in the list, as that of a two-wire pressure
transmitter (reference manual, November 2012, Appendix A p. 110)."""
FIELDBUS_A, FIELDBUS_MOST_A = 0.0175, 0.020


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
class Option:
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
    """

    mount: str
    pieces: int
    bases: int
    typical_w: float
    maximum_w: float
    fits: bool


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
    cards: Option
    nodes: Option | None
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


def card_of(signal: str, rack: Rack) -> str:
    return rack.cards.get(signal, CARDS[signal])  # type: ignore[call-overload]


def _line(
    rack: Rack, name: str, basis: str, kind: str, source: str, status: str, **keys: object
) -> RackLine:
    keys.setdefault("supply", rack.supply)
    load = Load.model_validate({"name": f"rack: {name}", "priority": rack.priority, **keys})
    return RackLine(load, kind, basis, source, status)


def _watts(typical: float, high: float) -> dict[str, str]:
    return {"typical": f"{typical:.12g} W", "maximum": f"{high:.12g} W"}


def controller_lines(
    rack: Rack, controller: DevicePart, data: RackData, cards: Option
) -> list[RackLine]:
    source, status = controller.source, controller.status
    lines = [
        _line(rack, "controller", "typical of the part", "controller", source, status,
              part=controller.name)
    ]  # fmt: skip
    for name in rack.redundant:
        watts = getattr(data, name)
        if watts is not None:
            lines.append(
                _line(rack, f"second {name}", "redundancy option of the controller",
                      "controller", source, status, part=controller.name,
                      **_watts(watts.typical, watts.high))
            )  # fmt: skip
    if rack.mount == "cards" and cards.bases > 1 and data.base:
        lines.append(
            _line(rack, "further bases", f"{cards.pieces} cards in racks of {data.slots}",
                  "controller", source, status, part=controller.name,
                  quantity=cards.bases - 1,
                  **_watts(data.base.typical, data.base.high))
        )  # fmt: skip
    return lines


def mount_lines(
    rack: Rack, by_card: dict[str, int], nodes: Option | None, parts: Mapping[str, Part]
) -> list[RackLine]:
    if rack.mount == "nodes" and nodes is not None:
        node = parts[rack.node]
        assert isinstance(node, NodePart)  # noqa: S101 - checked where the option was made
        return [
            _line(rack, "remote nodes", "nodes in place of cards", "node", node.source,
                  node.status, part=node.name, quantity=nodes.pieces,
                  **_watts(node.power.typical, node.power.high))
        ]  # fmt: skip
    lines = []
    for name, count in by_card.items():
        card = parts[name]
        if isinstance(card, CardPart) and card.base.high:
            lines.append(
                _line(rack, name, f"base draw of cards of {card.channels} channels",
                      "card", card.source, card.status, part=name, quantity=count,
                      **_watts(card.base.typical, card.base.high))
            )  # fmt: skip
    return lines


def live_share(tag: Tag) -> float:
    """Return the share of time that a point draws."""
    if tag.duty_frac is not None:
        return tag.duty_frac
    return 0.0 if tag.normal == "open" else 1.0


def _mean_share(tags: list[Tag]) -> tuple[int, float]:
    count = sum(tag.quantity for tag in tags)
    live = sum(live_share(tag) * tag.quantity for tag in tags)
    return count, (live / count if count else 0.0)


def channel_lines(
    rack: Rack, tags: tuple[Tag, ...], parts: Mapping[str, Part]
) -> list[RackLine]:
    by_kind: dict[str, list[Tag]] = defaultdict(list)
    for tag in tags:
        if tag.signal and not tag.spare:
            by_kind[tag.signal].append(tag)
    lines = _card_channels(rack, by_kind, parts)
    for kind in ("ai", "ai-hart"):
        lines += _loop_lines(rack, kind, by_kind[kind])
    lines += _contact_lines(rack, by_kind["di"])
    lines += _coil_lines(rack, by_kind, parts)
    lines += _bus_device_lines(rack, by_kind)
    return lines


def _card_channels(
    rack: Rack, by_kind: dict[str, list[Tag]], parts: Mapping[str, Part]
) -> list[RackLine]:
    lines = []
    for kind, tags in by_kind.items():
        card = parts[card_of(kind, rack)]
        # A wetting current is a line of its own; a port's draw is in its card.
        if kind in {"di", "serial"} or not isinstance(card, CardPart):
            continue
        count, share = _mean_share(tags)
        if count and card.per_channel.high:
            per = card.per_channel
            lines.append(
                _line(rack, f"{kind} channels", f"{share:.0%} of {count} channels live",
                      "card", card.source, card.status, part=card.name, quantity=count,
                      duty=share, **_watts(per.typical, per.high))
            )  # fmt: skip
    return lines


def _loop_lines(rack: Rack, kind: str, tags: list[Tag]) -> list[RackLine]:
    """Return loops that the card powers, one line for each mean current."""
    groups: dict[float, int] = Counter()
    for tag in tags:
        if tag.powered != "field":
            groups[tag.current_a if tag.current_a is not None else MEAN_A] += tag.quantity
    lines = []
    for amps, count in sorted(groups.items()):
        stated = any(tag.current_a == amps for tag in tags)
        most = max(amps, FAULT_HIGH_A)
        name = f"{kind} loops" + (f" at {1e3 * amps:g} mA" if len(groups) > 1 else "")
        loop = Loop(kind="hart" if kind == "ai-hart" else "plain")
        lines.append(
            _line(rack, name, f"{1e3 * amps:g} mA mean from the loop supply", "transmitter",
                  "input-output list" if stated else "mid-range signal of 4-20 mA, judged; "
                  "fault limit NAMUR NE 43", "site file" if stated else "practice",
                  quantity=count, typical=f"{amps:.12g} A", maximum=f"{most:.12g} A",
                  behaviour="current", supply=rack.loop_supply, loop=loop,
                  minimum_input=LIFT_OFF, wire=rack.loop_wire)
        )  # fmt: skip
    return lines


def _contact_lines(rack: Rack, tags: list[Tag]) -> list[RackLine]:
    tags = [tag for tag in tags if tag.powered != "field"]
    count, share = _mean_share(tags)
    if not count:
        return []
    given = "wetting_a" in rack.model_fields_set
    return [
        _line(rack, "contacts wetted", f"{share:.0%} of {count} contacts closed, "
              f"{1e3 * rack.wetting_a:g} mA each", "card",
              "site file" if given else "EN 61131-2 Type 1 module data: 5 mA typical, "
              "8 mA most", "site file" if given else "published",
              quantity=count, duty=share, typical=f"{rack.wetting_a:.12g} A",
              maximum=f"{max(WETTING_MOST_A, rack.wetting_a):.12g} A",
              behaviour="current", supply=rack.wetting_supply)
    ]  # fmt: skip


def _coil_lines(
    rack: Rack, by_kind: dict[str, list[Tag]], parts: Mapping[str, Part]
) -> list[RackLine]:
    lines = []
    own = [t for t in by_kind["solenoid"] if t.powered != "field" and t.load_w is None]
    count, share = _mean_share(own)
    coil = parts.get(rack.solenoid)
    if count and isinstance(coil, DevicePart):
        lines.append(
            _line(rack, "solenoid coils", f"{share:.0%} of {count} energised", "valve",
                  coil.source, coil.status, part=coil.name, quantity=count, duty=share,
                  behaviour=coil.behaviour, supply=rack.solenoid_supply,
                  **_watts(coil.power.typical, coil.power.high))
        )  # fmt: skip
    given = [
        tag
        for tags in by_kind.values()
        for tag in tags
        if tag.load_w is not None and tag.powered != "field"
    ]
    groups: dict[float, list[Tag]] = defaultdict(list)
    for tag in given:
        groups[tag.load_w or 0.0].append(tag)
    for watts, tags in sorted(groups.items()):
        count, share = _mean_share(tags)
        lines.append(
            _line(rack, f"field loads of {show(watts, 'W')}", f"{share:.0%} of {count} on",
                  "device", "input-output list", "site file", quantity=count, duty=share,
                  supply=rack.solenoid_supply, **_watts(watts, watts))
        )  # fmt: skip
    return lines


def _bus_device_lines(rack: Rack, by_kind: dict[str, list[Tag]]) -> list[RackLine]:
    lines = []
    for kind, amps, most, supply, source in (
        ("ai-low-power", LOW_POWER_A, LOW_POWER_A, rack.low_power_supply,
         "from memory: about 3 mA, whatever the signal"),
        ("fieldbus", FIELDBUS_A, FIELDBUS_MOST_A, rack.loop_supply,
         "pressure-transmitter reference manual, November 2012, Appendix A"),
    ):  # fmt: skip
        tags = [tag for tag in by_kind[kind] if tag.powered != "field"]
        groups: dict[float, int] = Counter()
        for tag in tags:
            groups[tag.current_a if tag.current_a is not None else amps] += tag.quantity
        for current, count in sorted(groups.items()):
            lines.append(
                _line(rack, f"{kind} devices at {1e3 * current:g} mA",
                      "constant current, whatever the signal", "transmitter", source,
                      "remembered" if kind == "ai-low-power" else "published",
                      quantity=count, typical=f"{current:.12g} A",
                      maximum=f"{max(current, most):.12g} A", behaviour="current",
                      supply=supply)
            )  # fmt: skip
    return lines


# --- findings -------------------------------------------------------------------


def assumed(tags: tuple[Tag, ...], rack: Rack) -> list[Finding]:
    live = [tag for tag in tags if not tag.spare]
    rules = (
        ([t for t in live if t.signal in {"ai", "ai-hart"} and not t.powered],
         "loops do not say who powers them; they are taken as powered by the card "
         "(blank is not proof of it)"),
        ([t for t in live if t.signal == "di" and not t.normal and t.duty_frac is None],
         "contacts have no normal state; they are taken as closed, which draws wetting "
         "current all the time"),
        ([t for t in live if t.signal in {"do", "solenoid"} and not t.normal
          and t.duty_frac is None],
         "outputs have no normal state; they are taken as energised all the time"),
        ([t for t in live if t.powered == "field" and t.signal in {"ai", "ai-hart"}],
         "instruments are powered from elsewhere; if they hang on this bus, add a "
         "[[load]] for them"),
        ([t for t in live if t.signal == "serial"],
         "points or devices on ports draw nothing here; add a [[load]] for each device "
         "that this bus feeds"),
    )  # fmt: skip
    found = []
    for chosen, text in rules:
        if chosen:
            rows = ", ".join(tag.tag for tag in chosen[:5])
            more = f" and {len(chosen) - 5} more" if len(chosen) > 5 else ""
            number = sum(tag.quantity for tag in chosen)
            found.append(Finding("note", f"Rack: {number} {text}: {rows}{more}."))
    del rack
    return found


def limits(
    rack: Rack, cards: Option, nodes: Option | None, data: RackData
) -> list[Finding]:
    found = [
        Finding("warning", f"Rack: the controller has no second {name} in the library; "
                "nothing was added for it.")
        for name in rack.redundant
        if getattr(data, name) is None
    ]  # fmt: skip
    if not cards.fits and rack.mount == "cards":
        found.append(
            Finding("serious", f"Rack: {cards.pieces} cards do not fit into {data.bases} "
                    f"racks of {data.slots} slots; use cards of more channels, "
                    'mount = "nodes", or another controller.')
        )  # fmt: skip
    if rack.mount == "nodes" and nodes is None:
        found.append(
            Finding("warning", f"Rack: {rack.node} cannot take every kind of point "
                    "that is left, or none is left; cards are used.")
        )  # fmt: skip
    return found


