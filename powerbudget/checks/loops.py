"""Current loops: volts at four currents, resistance for the digital signal, segments.

Copper's resistance rises with heat: the hot cable decides what a transmitter is left
with, the cold one whether the loop has resistance enough for HART.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from powerbudget.checks.inputs import CheckInputs
from powerbudget.checks.result import (
    Check,
    Found,
    NotChecked,
    Row,
    Rule,
    at_least,
    at_most,
    judged,
)
from powerbudget.loads.items import Item, is_two_wire
from powerbudget.loads.loop import (
    FAULT_LOW_A,
    FULL_SCALE_A,
    HART_LEAST_OHM,
    HART_OHM,
    LIVE_ZERO_A,
    burden_max_ohm,
    terminal_v,
)
from powerbudget.loads.loop_checks import (
    FIELDBUS_LEAST_V,
    HART_MOST_OHM,
    MULTIDROP_CLASSIC,
    MULTIDROP_MOST,
    curve,
    highest_a,
    needed_v,
)
from powerbudget.quantities import in_unit, show

COMPLIANCE = Rule(
    "loop compliance",
    "V_supply - I R >= lift-off voltage at 3.6, 4, 20, and 21 mA or the maximum "
    "current of the device if higher, supply at its lowest, cable hot and cold; R is "
    "cable, input resistor, and barrier",
    "Ohm's law; currents NAMUR NE 43; burden formula of a "
    "pressure-transmitter reference manual, November 2012, Appendix A p. 110",
    "feed the loop from a 24 V step-up converter ([[supply]]), or lower the "
    "loop resistance: larger or shorter cable, smaller input resistor, no "
    "barrier",
)
HART = Rule(
    "loop HART window",
    f"loop resistance from {HART_OHM:g} Ω (some sources {HART_LEAST_OHM:g} Ω) "
    f"to {HART_MOST_OHM:g} Ω, cold cable for the minimum and hot cable for "
    "the maximum",
    "250 Ω: transmitter manuals; 230 Ω: descriptions of the protocol; 1100 "
    "Ω: physical layer, unverified",
    "add a resistor to reach 250 Ω at the communicator, or shorten the loop; "
    "then repeat the loop compliance check",
)
MULTIDROP = Rule(
    "loop multidrop count",
    (
        f"at most {MULTIDROP_CLASSIC} devices on one pair, {MULTIDROP_MOST} from "
        "revision 6"
    ),
    "HART addresses 1 to 15, 1 to 63 from revision 6 (encyclopedia article, "
    "Instrumentation Reference Book, 3rd ed., p. 229)",
    "split the pair, or use a host and devices of revision 6 or later",
)
SEGMENT = Rule(
    "fieldbus segment",
    (
        "V_supply - I_total R_trunk >= 9 V at the farthest device, all devices "
        "at the end of the trunk"
    ),
    "IEC 61158-2: 9 to 32 V at the device; method of a flowmeter manual, p. 30",
    (
        "use a shorter or larger trunk, fewer devices, or a power conditioner "
        "with a higher voltage"
    ),
)


def _two_wire(facts: CheckInputs) -> Iterator[Item]:
    for item in facts.items:
        loop = item.load.loop
        if is_two_wire(item) and not (loop and loop.kind == "low-power"):
            yield item


def _other_ohm(item: Item) -> float:
    loop = item.load.loop
    return loop.resistance_ohm + loop.barrier_ohm if loop else 0.0


def loop_supply_v(facts: CheckInputs, item: Item) -> float:
    """Return a loop's supply at its lowest: the converter's output, or the bus [V]."""
    return item.rail.volts if item.load.supply else facts.low_v


def compliance(facts: CheckInputs) -> Iterator[Row]:
    """Yield each two-wire loop against its transmitter's lift-off voltage [rows]."""
    for item in _two_wire(facts):
        yield from _compliance(facts, item)


def _compliance(facts: CheckInputs, item: Item) -> Iterator[Row]:
    if item.minimum_v <= 0 and len(curve(item)) < 2:
        missing = "[[load]] minimum_input, the lift-off voltage of the transmitter"
        yield NotChecked(COMPLIANCE.name, item.load.name, missing)
        return
    cases = loop_cases(facts, item, _other_ohm(item))
    check = _worst_case(facts, item, cases)
    if item.load.loop is not None or check.verdict == "fail":
        yield check
        return
    yield _without_resistor(facts, item, check)


def _without_resistor(facts: CheckInputs, item: Item, check: Check) -> Row:
    """Judge a loop whose input resistor is not stated: wire alone is no pass."""
    usual = _worst_case(facts, item, loop_cases(facts, item, HART_OHM))
    ohm = facts.item_ohm(item, facts.wire_hot_degc)
    most_a = highest_a(item)
    room = burden_max_ohm(loop_supply_v(facts, item), float(check.limit), most_a)
    words = (
        f"the loop allows {in_unit(room, 'Ω')} at {1e3 * most_a:g} mA; cable "
        f"{in_unit(ohm, 'Ω', 1)}, input "
        "resistor not stated"
    )
    if usual.verdict == "fail":
        return judged(
            COMPLIANCE,
            Found(
                item.load.name, usual.value, usual.limit, "V",
                f"{words}; FAIL with a usual input resistor of "
                f"{in_unit(HART_OHM, 'Ω')} ({usual.detail})",
                usual.cases,
            ),
            usual.side,
            "warn",
        )  # fmt: skip
    holds = f"{words}; PASS with {in_unit(HART_OHM, 'Ω')}"
    missing = '[[load]] loop = { resistance = "250 ohm" }'
    return NotChecked(COMPLIANCE.name, item.load.name, missing, holds)


def loop_cases(
    facts: CheckInputs, item: Item, other_ohm: float
) -> tuple[dict[str, Any], ...]:
    """Return a loop's volts at each current, cable cold and hot [rows of A, V, ohm].

    Parameters
    ----------
    facts
        The site.
    item
        A line of loops.
    other_ohm
        Input resistor and barrier [ohm].

    Returns
    -------
    tuple of dict
        ``current_a``, ``cable_degc``, ``loop_ohm``, ``terminal_v``, ``needed_v``.
    """
    supply = loop_supply_v(facts, item)
    loop = item.load.loop
    multidrop = loop is not None and loop.kind == "multidrop"
    # Fault low, live zero, full scale, and fault high or the device's own maximum.
    span = (FAULT_LOW_A, LIVE_ZERO_A, FULL_SCALE_A, highest_a(item))
    currents = (LIVE_ZERO_A,) if multidrop else span
    share = item.load.quantity if multidrop else 1
    found = []
    for degc in (facts.air.low_degc, facts.wire_hot_degc):
        ohm = facts.item_ohm(item, degc) + other_ohm
        for amps in currents:
            need = float(needed_v(curve(item), np.array([amps]))[0])
            found.append(
                {
                    "current_a": amps,
                    "cable_degc": degc,
                    "loop_ohm": ohm,
                    "terminal_v": terminal_v(supply, amps * share, ohm),
                    "needed_v": need,
                }
            )
    return tuple(found)


def _worst_case(
    facts: CheckInputs, item: Item, cases: tuple[dict[str, Any], ...]
) -> Check:
    worst = min(cases, key=lambda case: case["terminal_v"] - case["needed_v"])
    supply = loop_supply_v(facts, item)
    words = (
        f"{show(supply, 'V')} lowest supply, {in_unit(worst['loop_ohm'], 'Ω')} with the "
        f"cable at {in_unit(worst['cable_degc'], '°C')}, worst at "
        f"{in_unit(1000 * worst['current_a'], 'mA', 1)}"
    )
    found = Found(
        item.load.name, worst["terminal_v"], worst["needed_v"], "V", words, cases
    )
    return at_least(COMPLIANCE, found)


def hart(facts: CheckInputs) -> Iterator[Row]:
    """Yield each HART loop's resistance against the digital signal's window [rows]."""
    for item in _two_wire(facts):
        loop = item.load.loop
        if loop is None or loop.kind not in {"hart", "multidrop"}:
            continue
        other = _other_ohm(item)
        cold = facts.item_ohm(item, facts.air.low_degc) + other
        hot = facts.item_ohm(item, facts.wire_hot_degc) + other
        words = (
            f"{in_unit(cold, 'Ω')} with cold cable, {in_unit(hot, 'Ω')} with hot cable"
        )
        if hot > HART_MOST_OHM:
            yield at_most(
                HART, Found(item.load.name, hot, HART_MOST_OHM, "ohm", words), "warn"
            )
            continue
        found = Found(item.load.name, cold, HART_OHM, "ohm", words)
        yield at_least(HART, found, "fail" if cold < HART_LEAST_OHM else "warn")


def multidrop(facts: CheckInputs) -> Iterator[Row]:
    """Yield each multidrop pair's devices against the addresses there are [rows]."""
    for item in _two_wire(facts):
        loop = item.load.loop
        if loop is not None and loop.kind == "multidrop":
            count = float(item.load.quantity)
            found = Found(item.load.name, count, float(MULTIDROP_CLASSIC), "devices")
            worse = "fail" if count > MULTIDROP_MOST else "warn"
            yield at_most(MULTIDROP, found, "fail" if worse == "fail" else "warn")


def fieldbus(facts: CheckInputs) -> Iterator[Row]:
    """Yield each fieldbus segment's volts at its farthest device [rows]."""
    for item in facts.items:
        loop = item.load.loop
        if loop is None or loop.kind != "fieldbus":
            continue
        if item.load.wire is None:
            yield NotChecked(SEGMENT.name, item.load.name, "[[load]] wire of the trunk")
            continue
        amps = item.maximum_w / item.rail.volts
        ohm = facts.item_ohm(item, facts.wire_hot_degc) + loop.barrier_ohm
        left = loop_supply_v(facts, item) - amps * ohm
        need = max(FIELDBUS_LEAST_V, item.minimum_v)
        words = f"{show(amps, 'A')} through {in_unit(ohm, 'Ω')} of hot trunk"
        yield at_least(SEGMENT, Found(item.load.name, left, need, "V", words))
