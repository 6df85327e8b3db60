"""Load lines that follow from a rack: controller, cards, loops, contacts, coils."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from powerbudget.loads.loop import FAULT_HIGH_A, MEAN_A
from powerbudget.loads.rack_parts import RackLine, RackOption
from powerbudget.quantities import count, in_unit, show
from powerbudget.site.load import Load, Loop, Rack
from powerbudget.site.parts import CardPart, DevicePart, NodePart, Part, RackData

if TYPE_CHECKING:
    from powerbudget.lists.io_list import Tag

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
"""Draw of a low-power 1-5 V instrument whatever its signal, unverified [A]."""
WETTING_MOST_A = 0.008
"""Highest wetting current, at 30 V (EN 61131-2 Type 1 module data) [A]."""
LIFT_OFF = "10.5 V"
"""Least terminal voltage of a transmitter in the list, as that of a two-wire pressure
transmitter (reference manual, November 2012, Appendix A p. 110)."""
FIELDBUS_A, FIELDBUS_MOST_A = 0.0175, 0.020


def card_of(signal: str, rack: Rack) -> str:
    """Return the card that takes a kind of signal [part name]."""
    return str(dict(rack.cards).get(signal, CARDS[signal]))  # type: ignore[call-overload]


def _line(
    rack: Rack,
    name: str,
    basis: str,
    kind: str,
    source: str,
    status: str,
    **keys: object,
) -> RackLine:
    keys.setdefault("supply", rack.supply)
    load = Load.model_validate(
        {"name": f"rack: {name}", "priority": rack.priority, **keys}
    )
    return RackLine(load, kind, basis, source, status)


def _watts(typical: float, high: float) -> dict[str, str]:
    return {"typical": f"{typical:.12g} W", "maximum": f"{high:.12g} W"}


def controller_lines(
    rack: Rack, controller: DevicePart, data: RackData, taken: RackOption
) -> list[RackLine]:
    """Return the controller, its second units and further bases.

    Parameters
    ----------
    rack
        The site file's table.
    controller, data
        The part, and what it holds.
    taken
        The way that the points are mounted.

    Returns
    -------
    list of RackLine
        One for each.
    """

    def line(name: str, basis: str, **more: Any) -> RackLine:
        source, status = controller.source, controller.status
        return _line(
            rack,
            name,
            basis,
            "controller",
            source,
            status,
            part=controller.name,
            **more,
        )

    lines = [line("controller", "typical of the part")]
    for name in rack.redundant:
        watts = getattr(data, name)
        if watts is not None:
            basis = "redundancy option of the process controller"
            draws = _watts(watts.typical, watts.high)
            lines.append(line(f"second {name}", basis, **draws))
    if taken.bases > 1 and data.base:
        basis = f"cards in racks of {data.slots} slots"
        draws = _watts(data.base.typical, data.base.high)
        lines.append(line("further bases", basis, quantity=taken.bases - 1, **draws))
    return lines


def mount_lines(
    rack: Rack, by_card: dict[str, int], taken: RackOption, parts: Mapping[str, Part]
) -> list[RackLine]:
    """Return the base draws of cards and nodes.

    Parameters
    ----------
    rack
        The site file's table.
    by_card
        Cards by part name [count].
    taken
        The way that the points are mounted.
    parts
        Parts library.

    Returns
    -------
    list of RackLine
        One for each kind of card, and the nodes.
    """
    lines = []
    if taken.mount == "nodes":
        node = parts[rack.node]
        assert isinstance(node, NodePart)
        lines.append(
            _line(
                rack,
                "remote nodes",
                "nodes in place of cards",
                "node",
                node.source,
                node.status,
                part=node.name,
                quantity=taken.pieces,
                **_watts(node.power.typical, node.power.high),
            )
        )
    for name, points in by_card.items():
        card = parts[name]
        if isinstance(card, CardPart) and card.base.high:
            lines.append(
                _line(
                    rack,
                    name,
                    f"base power of cards with {count(card.channels, 'channel')}",
                    "card",
                    card.source,
                    card.status,
                    part=name,
                    quantity=points,
                    **_watts(card.base.typical, card.base.high),
                )
            )
    return lines


def live_share(tag: Tag) -> float:
    """Return the share of time that a point draws."""
    if tag.duty_frac is not None:
        return tag.duty_frac
    return 0.0 if tag.normal == "open" else 1.0


def _mean_share(tags: list[Tag]) -> tuple[int, float]:
    points = sum(tag.quantity for tag in tags)
    live = sum(live_share(tag) * tag.quantity for tag in tags)
    return points, (live / points if points else 0.0)


def channel_lines(
    rack: Rack, tags: tuple[Tag, ...], parts: Mapping[str, Part]
) -> list[RackLine]:
    """Return what the channels draw: outputs, loops, contacts, coils, bus devices.

    Returns
    -------
    list of RackLine
        One for each kind of draw.
    """
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
        points, share = _mean_share(tags)
        if points and card.per_channel.high:
            per = card.per_channel
            lines.append(
                _line(
                    rack,
                    f"{kind} channels",
                    f"{in_unit(100 * share, '%')} of {count(points, 'channel')} in use",
                    "card",
                    card.source,
                    card.status,
                    part=card.name,
                    quantity=points,
                    duty=share,
                    **_watts(per.typical, per.high),
                )
            )
    return lines


def _loop_lines(rack: Rack, kind: str, tags: list[Tag]) -> list[RackLine]:
    """Return loops that the card powers, one line for each mean current."""
    groups: dict[float, int] = Counter()
    for tag in tags:
        if tag.powered != "field":
            groups[tag.current_a if tag.current_a is not None else MEAN_A] += (
                tag.quantity
            )
    lines = []
    for amps, points in sorted(groups.items()):
        stated = any(tag.current_a == amps for tag in tags)
        most = max(amps, FAULT_HIGH_A)
        name = f"{kind} loops" + (f" at {1e3 * amps:g} mA" if len(groups) > 1 else "")
        loop = Loop(kind="hart" if kind == "ai-hart" else "plain")
        lines.append(
            _line(
                rack,
                name,
                f"{1e3 * amps:g} mA mean from the loop supply",
                "transmitter",
                "input-output list"
                if stated
                else "mid-range signal of 4-20 mA, assumed; fault limit NAMUR NE 43",
                "user input" if stated else "common practice",
                quantity=points,
                typical=f"{amps:.12g} A",
                maximum=f"{most:.12g} A",
                behaviour="current",
                supply=rack.loop_supply,
                loop=loop,
                minimum_input=LIFT_OFF,
                wire=rack.loop_wire,
            )
        )
    return lines


def _contact_lines(rack: Rack, tags: list[Tag]) -> list[RackLine]:
    tags = [tag for tag in tags if tag.powered != "field"]
    points, share = _mean_share(tags)
    if not points:
        return []
    given = "wetting_a" in rack.model_fields_set
    return [
        _line(
            rack,
            "contacts wetted",
            f"{in_unit(100 * share, '%')} of {points} contacts closed, "
            f"{1e3 * rack.wetting_a:g} mA each",
            "card",
            "site file"
            if given
            else "EN 61131-2 Type 1 module data: 5 mA typical, 8 mA most",
            "user input" if given else "published",
            quantity=points,
            duty=share,
            typical=f"{rack.wetting_a:.12g} A",
            maximum=f"{max(WETTING_MOST_A, rack.wetting_a):.12g} A",
            behaviour="current",
            supply=rack.wetting_supply,
        )
    ]


def _coil_lines(
    rack: Rack, by_kind: dict[str, list[Tag]], parts: Mapping[str, Part]
) -> list[RackLine]:
    own = [t for t in by_kind["solenoid"] if t.powered != "field" and t.load_w is None]
    points, share = _mean_share(own)
    coil = parts.get(rack.solenoid)
    lines = _given_load_lines(rack, by_kind)
    if not points or not isinstance(coil, DevicePart):
        return lines
    coils = _line(
        rack,
        "solenoid coils",
        f"{in_unit(100 * share, '%')} of {points} energized",
        "valve",
        coil.source,
        coil.status,
        part=coil.name,
        quantity=points,
        duty=share,
        behaviour=coil.behaviour,
        supply=rack.solenoid_supply,
        **_watts(coil.power.typical, coil.power.high),
    )
    return [coils, *lines]


def _given_load_lines(rack: Rack, by_kind: dict[str, list[Tag]]) -> list[RackLine]:
    """Return a line for each draw that the list states itself."""
    lines = []
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
        points, share = _mean_share(tags)
        lines.append(
            _line(
                rack,
                f"field loads of {show(watts, 'W')}",
                f"{in_unit(100 * share, '%')} of {points} on",
                "device",
                "input-output list",
                "user input",
                quantity=points,
                duty=share,
                supply=rack.solenoid_supply,
                **_watts(watts, watts),
            )
        )
    return lines


def _bus_device_lines(rack: Rack, by_kind: dict[str, list[Tag]]) -> list[RackLine]:
    lines = []
    for kind, amps, most, supply, source in (
        (
            "ai-low-power",
            LOW_POWER_A,
            LOW_POWER_A,
            rack.low_power_supply,
            "unverified: about 3 mA at any signal",
        ),
        (
            "fieldbus",
            FIELDBUS_A,
            FIELDBUS_MOST_A,
            rack.loop_supply,
            "pressure-transmitter reference manual, November 2012, Appendix A",
        ),
    ):
        tags = [tag for tag in by_kind[kind] if tag.powered != "field"]
        groups: dict[float, int] = Counter()
        for tag in tags:
            groups[tag.current_a if tag.current_a is not None else amps] += tag.quantity
        for current, points in sorted(groups.items()):
            lines.append(
                _line(
                    rack,
                    f"{kind} devices at {1e3 * current:g} mA",
                    "constant current at any signal",
                    "transmitter",
                    source,
                    "unverified" if kind == "ai-low-power" else "published",
                    quantity=points,
                    typical=f"{current:.12g} A",
                    maximum=f"{max(current, most):.12g} A",
                    behaviour="current",
                    supply=supply,
                )
            )
    return lines
