"""Where each tag lands in a rack, and what its field side draws."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from powerbudget.lists.io_list import IoList, Tag
from powerbudget.lists.rows import DERIVED
from powerbudget.loads.loop import FAULT_HIGH_A, MEAN_A
from powerbudget.loads.rack import POOLS
from powerbudget.loads.rack_lines import (
    FIELDBUS_A,
    FIELDBUS_MOST_A,
    LOW_POWER_A,
    WETTING_MOST_A,
    card_of,
    live_share,
)
from powerbudget.loads.rack_parts import RackResult
from powerbudget.site.load import Rack
from powerbudget.site.parts import DevicePart, Part

HEADS = (
    "Tag", "I/O type", "Powered by", "Normal state", "Service", "Quantity",
    "Current [mA]", "Load [W]", "Duty", "Port", "Remark", *DERIVED,
)  # fmt: skip
SHARED = ("serial", "fieldbus", "wireless")


def places(listing: IoList, rack: Rack, result: RackResult) -> list[str]:
    """Return where each tag of a list lands: built-in point, card and channel [text].

    Returns
    -------
    list of str
        One for each tag, in the order of the list; the first channel where a row
        holds several points.
    """
    counts = {count.card: count for count in result.counts}
    used: Counter[str] = Counter()
    found = []
    for tag in listing.tags:
        card = card_of(tag.signal, rack)
        count = counts[card]
        if tag.signal in SHARED:
            found.append(f"{card}, {tag.port or 'shared port'}")
            continue
        at = used[card]
        used[card] += tag.quantity
        pool = POOLS.get(tag.signal, tag.signal)
        if at < count.built_in:
            found.append(f"built-in {pool} {at + 1}")
        elif result.mount == "nodes" and result.nodes is not None:
            found.append(f"{rack.node}, {pool} {at - count.built_in + 1}")
        else:
            number, channel = divmod(at - count.built_in, count.channels)
            found.append(f"{card} {number + 1}, channel {channel + 1}")
    return found


def tag_w(
    tag: Tag, rack: Rack, parts: Mapping[str, Part], volts: Mapping[str, float]
) -> tuple[float, float]:
    """Return mean and highest draw of a tag's field side, all its points [W].

    Parameters
    ----------
    tag
        The row.
    rack
        The site file's table.
    parts
        Parts library.
    volts
        Nominal volts by supply; the bus has an empty name [V].

    Returns
    -------
    tuple of float
        Mean and highest, at the supply that feeds it, card left out [W].
    """
    if tag.spare or tag.powered == "field":
        return 0.0, 0.0
    count, share = tag.quantity, live_share(tag)
    if tag.load_w is not None:
        return count * share * tag.load_w, count * tag.load_w
    if tag.signal == "solenoid":
        coil = parts.get(rack.solenoid)
        watts = coil.power if isinstance(coil, DevicePart) else None
        return (count * share * watts.typical, count * watts.high) if watts else (0, 0)
    amps = tag.current_a
    feed, mean, most = {
        "ai": (rack.loop_supply, MEAN_A, FAULT_HIGH_A),
        "ai-hart": (rack.loop_supply, MEAN_A, FAULT_HIGH_A),
        "ai-low-power": (rack.low_power_supply, LOW_POWER_A, LOW_POWER_A),
        "fieldbus": (rack.loop_supply, FIELDBUS_A, FIELDBUS_MOST_A),
        "di": (rack.wetting_supply, rack.wetting_a, WETTING_MOST_A),
    }.get(tag.signal, (None, 0.0, 0.0))
    if tag.signal == "di":
        amps, mean = None, share * mean
    mean = mean if amps is None else amps
    supply_v = volts[feed or ""]
    return count * mean * supply_v, count * max(mean, most) * supply_v


def rows(
    listing: IoList,
    rack: Rack,
    result: RackResult,
    parts: Mapping[str, Part],
    volts: Mapping[str, float],
) -> list[list[str | float]]:
    """Return the list as rows for a table, heads not in them.

    Parameters
    ----------
    listing, rack, result, parts
        The list, the rack it fills, and the library.
    volts
        Nominal volts by supply; the bus has an empty name [V].

    Returns
    -------
    list of list
        Cells in the order of `HEADS`.
    """
    words = {"ai": ("", ""), "do": ("energised", "de-energised")}
    words["solenoid"] = words["do"]
    table: list[list[str | float]] = []
    for tag, place in zip(listing.tags, places(listing, rack, result), strict=True):
        closed, opened = words.get(tag.signal, ("normally closed", "normally open"))
        normal = {"closed": closed, "open": opened}.get(tag.normal, "")
        typical, most = tag_w(tag, rack, parts, volts)
        table.append(
            [
                tag.tag,
                tag.signal,
                tag.powered,
                normal,
                tag.service,
                tag.quantity,
                "" if tag.current_a is None else float(f"{1e3 * tag.current_a:.12g}"),
                "" if tag.load_w is None else float(f"{tag.load_w:.12g}"),
                "" if tag.duty_frac is None else tag.duty_frac,
                tag.port,
                "SPARE" if tag.spare else "",
                place,
                float(f"{typical:.6g}"),
                float(f"{most:.6g}"),
                float(f"{24 * typical:.6g}"),
            ]
        )
    return table
