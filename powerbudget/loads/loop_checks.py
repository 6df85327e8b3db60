"""Loops checked at both ends of their current.

A loop clips where supply less drop meets the transmitter's least voltage.  That is
usually at the highest current, but an instrument that works at constant power may
need most volts at the lowest; so both ends, and the points between, are looked at.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from powerbudget.errors import Finding
from powerbudget.loads.items import Item, is_two_wire
from powerbudget.loads.loop import (
    FAULT_HIGH_A,
    FAULT_LOW_A,
    HART_LEAST_OHM,
    HART_OHM,
    LIVE_ZERO_A,
)
from powerbudget.quantities import count, in_unit, show
from powerbudget.site.parts import TransmitterPart

Floats = NDArray[np.float64]

HART_MOST_OHM = 1100.0
"""Highest loop resistance of the HART physical layer, unverified [ohm]."""
MULTIDROP_CLASSIC, MULTIDROP_MOST = 15, 63
"""Devices on a pair: addresses 1-15 classically, 1-63 from revision 6 [count]."""
FIELDBUS_LEAST_V = 9.0
"""Least voltage of a fieldbus device, IEC 61158-2 [V]."""


@dataclass(frozen=True)
class LoopCheck:
    """A loop against its transmitter.

    Parameters
    ----------
    name
        The load line [text].
    supply_v, loop_ohm
        Loop supply at its lowest, and all resistance outside the transmitter
        [V, ohm].
    low_v, low_needed_v, high_v, high_needed_v
        Volts that reach the terminals, and that are needed, at the lowest and at the
        highest current [V].
    high_a
        That highest current, `highest_a` [A].
    clips_a
        Current at which the volts give out, None where they never do [A].
    described
        False where the site file gives no ``loop``: only the wire is then known.
    """

    name: str
    supply_v: float
    loop_ohm: float
    low_v: float
    low_needed_v: float
    high_v: float
    high_needed_v: float
    high_a: float
    clips_a: float | None
    described: bool = True


def needed_v(points: tuple[tuple[float, float], ...], current_a: Floats) -> Floats:
    """Return the least terminal voltage at a current, from points of a curve [V].

    Parameters
    ----------
    points
        Current and voltage, rising in current [A, V].
    current_a
        Where to read it [A].

    Returns
    -------
    array
        Linear between points, level beyond them [V].

    Examples
    --------
    >>> needed_v(((0.004, 16.0), (0.020, 12.0)), np.array([0.012]))
    array([14.])
    """
    found: Floats = np.interp(current_a, [p[0] for p in points], [p[1] for p in points])
    return found


def clips_at_a(
    supply_v: float,
    loop_ohm: float,
    points: tuple[tuple[float, float], ...],
    span_a: tuple[float, float],
) -> float | None:
    """Return the first current at which the terminals get too few volts [A].

    Parameters
    ----------
    supply_v
        Loop supply [V].
    loop_ohm
        Resistance outside the transmitter [ohm].
    points
        Least terminal voltage by current [A, V].
    span_a
        Lowest and highest current of the signal [A].

    Returns
    -------
    float or None
        The current where it clips, or None [A].

    References
    ----------
    ``V_supply - I R = V_needed(I)``; burden as in
    `powerbudget.loads.loop.burden_max_ohm`.

    Examples
    --------
    A sensor that needs 12 V behind 100 ohm and 13.5 V clips at 15 mA:

    >>> round(1000 * clips_at_a(13.5, 100.0, ((0.004, 12.0),), (0.004, 0.020)), 1)
    15.0
    >>> clips_at_a(16.0, 100.0, ((0.004, 12.0),), (0.004, 0.020)) is None
    True
    """
    low, high = span_a
    grid = np.unique(np.r_[np.linspace(low, high, 1601), [p[0] for p in points]])
    grid = grid[(grid >= low) & (grid <= high)]
    spare = supply_v - grid * loop_ohm - needed_v(points, grid)
    short = np.flatnonzero(spare < -1e-9)
    if not short.size:
        return None
    k = int(short[0])
    if k == 0:
        return float(grid[0])
    # Between two points everything is straight, so the crossing is exact.
    a, b = spare[k - 1], spare[k]
    return float(grid[k - 1] + (grid[k] - grid[k - 1]) * a / (a - b))


def curve(item: Item) -> tuple[tuple[float, float], ...]:
    """Return a line's least terminal voltage by current [A, V]."""
    part = item.part
    if item.load.minimum_v is None and isinstance(part, TransmitterPart):
        points = tuple((p.current, p.voltage) for p in part.lift_off)
        if points:
            return tuple(sorted(points))
    return ((LIVE_ZERO_A, item.minimum_v),)


def highest_a(item: Item) -> float:
    """Return the highest current of one loop: fault high, or what its device states [A].

    Parameters
    ----------
    item
        A line of two-wire loops.

    Returns
    -------
    float
        21 mA, or the stated maximum where that is more; 4 mA on a multidrop pair [A].

    References
    ----------
    NAMUR NE 43; a device may go to 22 or 23 mA by its own reference manual.
    """
    if item.load.loop is not None and item.load.loop.kind == "multidrop":
        return LIVE_ZERO_A
    stated_a = item.draw.maximum_w / item.rail.volts
    # A maximum in watts comes back with the last bit moved.
    return max(FAULT_HIGH_A, round(stated_a, 9))


def check_loops(
    items: list[Item], lowest_v: float
) -> tuple[list[LoopCheck], list[Finding]]:
    """Return every loop checked at both ends, and what is wrong with them.

    Parameters
    ----------
    items
        Load lines.
    lowest_v
        Lowest bus voltage, for loops that hang on the bus itself [V].

    Returns
    -------
    list of LoopCheck
        One for each line of loops that states a loop, or whose part is two-wire.
    list of Finding
        Clipping, a HART window missed, too many devices.
    """
    checks, found = [], []
    for item in items:
        loop = item.load.loop
        if not item.load.quantity:
            continue
        supply_v = item.rail.volts if item.load.supply else lowest_v
        if loop is not None and loop.kind == "fieldbus":
            found += _fieldbus(item, supply_v)
        elif is_two_wire(item):
            checks.append(_check(item, supply_v))
            found += _findings(item, checks[-1])
    return checks, found


def _ohm(item: Item) -> float:
    loop = item.load.loop
    # Where no loop is described, only the wire is known; nothing is invented.
    own = loop.resistance_ohm + loop.barrier_ohm if loop else 0.0
    return own + item.wire_ohm


def _check(item: Item, supply_v: float) -> LoopCheck:
    loop, ohm, points = item.load.loop, _ohm(item), curve(item)
    multidrop = loop is not None and loop.kind == "multidrop"
    low = LIVE_ZERO_A if multidrop else FAULT_LOW_A
    one = highest_a(item)
    high = one * item.load.quantity if multidrop else one
    need = needed_v(points, np.array([low, one]))
    clips = clips_at_a(supply_v, ohm, points, (low, max(high, low)))
    return LoopCheck(
        item.load.name,
        supply_v,
        ohm,
        supply_v - low * ohm,
        float(need[0]),
        supply_v - high * ohm,
        float(need[1]),
        one,
        clips,
        loop is not None,
    )


def _findings(item: Item, check: LoopCheck) -> list[Finding]:
    found = []
    name, loop = item.load.name, item.load.loop
    if check.clips_a is not None:
        found.append(
            Finding(
                "serious",
                f"loop {name!r} saturates at {in_unit(1e3 * check.clips_a, 'mA', 1)}: "
                f"{show(check.supply_v, 'V')} lowest supply, {in_unit(check.loop_ohm, 'Ω')} in "
                f"the loop. Terminal voltage {show(check.low_v, 'V')} at 3.6 mA "
                f"({show(check.low_needed_v, 'V')} required) and "
                f"{show(check.high_v, 'V')} at {1e3 * check.high_a:g} mA "
                f"({show(check.high_needed_v, 'V')} required). Use "
                "a 24 V step-up converter ([[supply]]), or lower the resistance.",
            )
        )
    if loop is not None and loop.kind in {"hart", "multidrop"}:
        found += _hart(name, check.loop_ohm)
    if loop is not None and loop.kind == "multidrop":
        devices = item.load.quantity
        if devices > MULTIDROP_MOST:
            found.append(
                Finding(
                    "serious",
                    f"loop {name!r} has {count(devices, 'device')} on one pair; "
                    f"limit {MULTIDROP_MOST} addresses.",
                )
            )
        elif devices > MULTIDROP_CLASSIC:
            found.append(
                Finding(
                    "warning",
                    f"loop {name!r} has {count(devices, 'device')} on one pair; more than "
                    f"{MULTIDROP_CLASSIC} need devices and a host of revision 6 or later.",
                )
            )
    return found


def _hart(name: str, ohm: float) -> list[Finding]:
    if ohm < HART_LEAST_OHM:
        return [
            Finding(
                "serious",
                f"loop {name!r} has {in_unit(ohm, 'Ω')}; the digital signal needs "
                f"{HART_LEAST_OHM:.0f} to {in_unit(HART_OHM, 'Ω')} or more.",
            )
        ]
    if ohm < HART_OHM:
        return [
            Finding(
                "warning",
                f"loop {name!r} has {in_unit(ohm, 'Ω')}; sources differ on the minimum for the "
                f"digital signal, {HART_LEAST_OHM:.0f} or {in_unit(HART_OHM, 'Ω')}.",
            )
        ]
    if ohm > HART_MOST_OHM:
        return [
            Finding(
                "warning",
                f"loop {name!r} has {in_unit(ohm, 'Ω')}; the digital signal allows up to "
                f"{in_unit(HART_MOST_OHM, 'Ω')}.",
            )
        ]
    return []


def _fieldbus(item: Item, supply_v: float) -> list[Finding]:
    """Check the farthest device of a segment, all current through the whole trunk."""
    amps = item.maximum_w / item.rail.volts
    loop = item.load.loop
    ohm = item.wire_ohm + (loop.barrier_ohm if loop else 0.0)
    left = supply_v - amps * ohm
    needed = max(FIELDBUS_LEAST_V, item.minimum_v)
    if left >= needed:
        return []
    return [
        Finding(
            "serious",
            f"fieldbus segment {item.load.name!r}: {show(amps, 'A')} through {in_unit(ohm, 'Ω')} "
            f"leave {show(left, 'V')} of {show(supply_v, 'V')} at the farthest "
            f"device, minimum {show(needed, 'V')}.",
        )
    ]
