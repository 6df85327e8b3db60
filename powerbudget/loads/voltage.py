"""The lowest bus voltage: what each line draws then, and what reaches its terminals.

Energy is judged at nominal volts; a brown-out happens at the lowest voltage, with
everything at its highest and one device starting, at the end of its wire.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from powerbudget.errors import Finding
from powerbudget.loads.items import Item, is_two_wire
from powerbudget.loads.rails import Rail
from powerbudget.quantities import show
from powerbudget.site.tables import Bus

TYPICAL_LOW_FRAC = 11.6 / 12
"""Lowest over nominal volts where the disconnect is by state (common practice)."""


@dataclass(frozen=True)
class End:
    """What happens at the end of a wire.

    Parameters
    ----------
    amps
        Current in the wire [A].
    volts
        Voltage at the terminals; 0 where the wire cannot carry the power [V].
    """

    amps: float
    volts: float


def lowest_v(bus: Bus) -> float:
    """Return the lowest bus voltage at which loads are still on [V].

    Returns
    -------
    float
        The low-voltage disconnect; where the disconnect is by state of charge,
        11.6/12 of nominal [V].
    """
    return bus.disconnect_v or TYPICAL_LOW_FRAC * bus.nominal_v


def end_of_wire(
    source_v: float, power_w: float, nominal_v: float, behaviour: str, wire_ohm: float
) -> End:
    """Return current and terminal voltage of a load at a source voltage.

    Constant power: ``V = (V_s + sqrt(V_s^2 - 4 R P)) / 2``; constant current:
    ``V = V_s - I R``; resistance: ``V = V_s R_load / (R_load + R)``.

    Parameters
    ----------
    source_v
        Voltage where the wire begins [V].
    power_w
        Draw at nominal voltage [W].
    nominal_v
        Voltage at which that draw is stated [V].
    behaviour
        ``power``, ``current`` or ``resistance`` [text].
    wire_ohm
        Resistance of the pair, there and back [ohm].

    Returns
    -------
    End
        Current and voltage at the terminals.

    Notes
    -----
    A constant-power load has no solution once the wire takes half the voltage; the
    terminals are then given as 0 V.

    References
    ----------
    Ohm's law.

    Examples
    --------
    A radio of 27.6 W on 0.152 ohm (16 AWG, 50 ft) at 11.5 V:

    >>> found = end_of_wire(11.5, 27.6, 12.0, "power", 0.152)
    >>> round(found.amps, 2), round(found.volts, 2)
    (2.48, 11.12)
    """
    if power_w <= 0:
        return End(0.0, source_v)
    if behaviour == "current":
        amps = power_w / nominal_v
    elif behaviour == "resistance":
        amps = source_v / (nominal_v**2 / power_w + wire_ohm)
    else:
        root = source_v**2 - 4 * wire_ohm * power_w
        if root < 0:
            return End(source_v / (2 * wire_ohm), 0.0)
        amps = 2 * power_w / (source_v + math.sqrt(root))
    return End(amps, source_v - amps * wire_ohm)


def _source_v(item: Item, lowest: float) -> float:
    # A converter holds its output until its own input gives out.
    return item.rail.volts if item.load.supply else lowest


def line_end(item: Item, lowest: float) -> End:
    """Return current and voltage of one piece at its peak, at the lowest bus.

    Where pieces share a pair, one peaks and the others are at their highest.

    Parameters
    ----------
    item
        The line.
    lowest
        Lowest bus voltage [V].

    Returns
    -------
    End
        Of the pair [A, V].
    """
    power = item.draw.peak_w
    if item.shared:
        power += (item.load.quantity - 1) * item.draw.maximum_w
    return end_of_wire(
        _source_v(item, lowest),
        power,
        item.rail.volts,
        item.draw.behaviour,
        item.wire_ohm,
    )


def most_a(item: Item, lowest: float) -> float:
    """Return the current of all pieces at their highest lasting draw [A].

    Parameters
    ----------
    item
        The line.
    lowest
        Lowest bus voltage [V].

    Returns
    -------
    float
        At the line's own rail, not yet through a converter [A].
    """
    source, one = _source_v(item, lowest), item.draw.maximum_w
    count = item.load.quantity
    if item.shared:
        return end_of_wire(
            source, one * count, item.rail.volts, item.draw.behaviour, item.wire_ohm
        ).amps
    end = end_of_wire(source, one, item.rail.volts, item.draw.behaviour, item.wire_ohm)
    return count * end.amps


@dataclass(frozen=True)
class Peak:
    """The third sum: what the bus must carry at its lowest voltage.

    Parameters
    ----------
    lowest_v
        Lowest bus voltage with loads on [V].
    maximum_a
        Everything at its highest lasting draw, at that voltage [A].
    peak_a
        That, with the largest single inrush on top [A].
    inrush
        The line that makes the inrush, empty for none [text].
    """

    lowest_v: float
    maximum_a: float
    peak_a: float
    inrush: str


def fed_a(items: Sequence[Item], name: str, lowest: float) -> float:
    """Return what a rail gives out with all its loads at their maximum power [A].

    Parameters
    ----------
    items
        Load lines.
    name
        The supply, empty for the bus [text].
    lowest
        Lowest bus voltage [V].
    """
    return sum(most_a(i, lowest) for i in items if (i.load.supply or "") == name)


def rail_a(items: Sequence[Item], name: str, rail: Rail, lowest: float) -> float:
    """Return what a rail draws from the bus, its loads at their maximum power [A].

    Parameters
    ----------
    items
        Load lines.
    name, rail
        The supply, empty for the bus, and its figures.
    lowest
        Lowest bus voltage [V].
    """
    amps = fed_a(items, name, lowest)
    return rail.input_w(amps * rail.volts) / lowest if name else amps


def peak(
    items: Sequence[Item], rails: Mapping[str, Rail], base_a: float, lowest: float
) -> Peak:
    """Return the currents of the bus at its lowest voltage [A].

    Parameters
    ----------
    items
        Load lines.
    rails
        What feeds them.
    base_a
        Regulator and leakage [A].
    lowest
        Lowest bus voltage [V].

    Returns
    -------
    Peak
        Maximum and peak.
    """
    total = base_a + sum(rail_a(items, name, r, lowest) for name, r in rails.items())
    best, who = 0.0, ""
    for item in items:
        extra = inrush_a(item, lowest)
        # Of equal ones the first, whatever their last bits say.
        if extra > best * (1 + 1e-9) + 1e-12:
            best, who = extra, item.load.name
    return Peak(lowest, total, total + best, who)


def inrush_a(item: Item, lowest: float) -> float:
    """Return what one piece adds to the bus while it starts [A].

    Parameters
    ----------
    item
        The line.
    lowest
        Lowest bus voltage [V].

    Returns
    -------
    float
        Its peak less its highest lasting draw, through its converter if any [A].
    """
    if not item.load.quantity:
        return 0.0
    source, nominal = _source_v(item, lowest), item.rail.volts
    how, ohm = item.draw.behaviour, item.wire_ohm
    high = end_of_wire(source, item.draw.peak_w, nominal, how, ohm).amps
    low = end_of_wire(source, item.draw.maximum_w, nominal, how, ohm).amps
    extra = high - low
    return item.rail.slope * extra * nominal / lowest if item.load.supply else extra


def brown_outs(
    items: Sequence[Item], rails: Mapping[str, Rail], lowest: float
) -> list[Finding]:
    """Return what would brown out at the lowest bus voltage [findings].

    Parameters
    ----------
    items
        Load lines.
    rails
        What feeds them.
    lowest
        Lowest bus voltage [V].

    Returns
    -------
    list of Finding
        One for each line or converter that is given too little.
    """
    found = [
        Finding(
            "serious",
            f"converter {rail.name!r} operates from {show(rail.minimum_v, 'V')}; the "
            f"bus falls to {show(lowest, 'V')} before the LVD.",
        )
        for name, rail in rails.items()
        if name and rail.minimum_v > lowest
    ]
    for item in items:
        # A loop is judged by its own check, at both ends of its current.
        if not item.load.quantity or is_two_wire(item):
            continue
        end = line_end(item, lowest)
        if end.volts < item.minimum_v:
            reach = (
                f"terminal voltage {show(end.volts, 'V')}"
                if end.volts
                else "the wire cannot carry the power"
            )
            found.append(
                Finding(
                    "serious",
                    f"{item.load.name!r} needs {show(item.minimum_v, 'V')}; with the bus at "
                    f"{show(lowest, 'V')} and {show(end.amps, 'A')} in "
                    f"{show(item.wire_ohm, 'ohm')} of wire, {reach}: undervoltage reset.",
                )
            )
    return found
