"""The voltage budget of a branch, step by step from the battery to the terminals."""

from __future__ import annotations

from dataclasses import dataclass

from powerbudget.battery.resistance import ohmic_ohm
from powerbudget.checks.branches import worst_peak
from powerbudget.checks.inputs import CheckInputs
from powerbudget.checks.loops import loop_cases
from powerbudget.loads.items import Item, is_two_wire
from powerbudget.quantities import plain


@dataclass(frozen=True)
class VoltageStep:
    """One step of a voltage budget.

    Parameters
    ----------
    name
        What takes or gives the volts [text].
    change_v
        Volts added, negative for a loss [V].
    level_v
        Volts that are left behind it [V].
    kind
        ``level``, ``loss`` or ``converter``, whose output is a level of its own [text].
    note
        Figures behind it, or that it is not stated [text].
    """

    name: str
    change_v: float
    level_v: float
    kind: str
    note: str = ""


@dataclass(frozen=True)
class Stairs:
    """A branch from battery to terminal in its worst moment.

    Parameters
    ----------
    name
        The load line, empty where no device states its least volts [text].
    steps
        From the battery on.
    needed_v
        Least volts of the device [V].
    amps
        Current in the branch [A].
    """

    name: str
    steps: tuple[VoltageStep, ...]
    needed_v: float
    amps: float

    @property
    def margin_v(self) -> float:
        """Volts left above what the device needs [V]."""
        return self.steps[-1].level_v - self.needed_v if self.steps else 0.0


def worst_stairs(facts: CheckInputs) -> Stairs:
    """Return the branch whose terminals have the least volts to spare.

    Returns
    -------
    Stairs
        By share of what the device needs; empty where none states it.
    """
    found = [stairs(facts, item) for item in facts.items if item.minimum_v > 0]
    found = [one for one in found if one.needed_v > 0]
    if not found:
        return Stairs("", (), 0.0, 0.0)
    return min(found, key=lambda one: one.margin_v / one.needed_v)


def stairs(facts: CheckInputs, item: Item) -> Stairs:
    """Return the voltage budget of one branch in its worst moment.

    Returns
    -------
    Stairs
        A loop at the current where it has least to spare, any other load at its peak.
    """
    if is_two_wire(item):
        return _loop(facts, item)
    bus_v, end = worst_peak(facts, item)
    steps = _to_bus(facts, bus_v)
    if item.load.supply:
        steps.append(_converter(item, bus_v))
    head = steps[-1].level_v
    note = "" if item.load.wire else "not stated"
    steps.append(VoltageStep("branch wire", end.volts - head, end.volts, "loss", note))
    return Stairs(item.load.name, tuple(steps), item.minimum_v, end.amps)


def _to_bus(facts: CheckInputs, bus_v: float | None) -> list[VoltageStep]:
    """Return the steps from the battery's terminals to the bus."""
    wire = facts.tables.battery.wire
    main = facts.wire_ohm(wire, facts.wire_hot_degc)
    mean = facts.mean_a * main
    note = "" if wire else "not stated"
    low = facts.low_v
    steps = [
        VoltageStep("battery terminals", 0.0, low + mean, "level", "at the LVD"),
        VoltageStep("main wire", -mean, low, "loss", note or "average load"),
        VoltageStep("bus at LVD", 0.0, low, "level", "sense point of the LVD"),
    ]
    if bus_v is not None and bus_v < low:
        extra = (low - bus_v) / facts.burst_ohm if facts.burst_ohm else 0.0
        bank = extra * ohmic_ohm(facts.bank, facts.battery_low_degc, low_state=True)
        steps.append(
            VoltageStep(
                "voltage sag of the battery",
                -bank,
                low - bank,
                "loss",
                f"{plain(extra, 3, 'A')} added",
            )
        )
        if main:
            words = f"{plain(extra, 3, 'A')} added"
            steps.append(
                VoltageStep("main wire, peak load", -extra * main, bus_v, "loss", words)
            )
    return steps


def _converter(item: Item, bus_v: float) -> VoltageStep:
    volts = item.rail.volts
    return VoltageStep(
        item.load.supply or "", volts - bus_v, volts, "converter", "output"
    )


def _loop(facts: CheckInputs, item: Item) -> Stairs:
    loop = item.load.loop
    other = loop.resistance_ohm + loop.barrier_ohm if loop else 0.0
    cases = loop_cases(facts, item, other)
    worst = min(cases, key=lambda case: case["terminal_v"] - case["needed_v"])
    multidrop = loop is not None and loop.kind == "multidrop"
    amps = worst["current_a"] * (item.load.quantity if multidrop else 1)
    steps = _to_bus(facts, None)
    if item.load.supply:
        steps.append(_converter(item, steps[-1].level_v))
    level = steps[-1].level_v
    cable = worst["loop_ohm"] - other
    parts = [
        ("cable", cable, "" if item.load.wire else "not stated"),
        ("input resistor", loop.resistance_ohm if loop else 0.0, ""),
        ("barrier", loop.barrier_ohm if loop else 0.0, ""),
    ]
    for name, ohm, note in parts:
        if not ohm and name == "barrier":
            continue
        missing = "not stated" if name == "input resistor" and loop is None else note
        level -= amps * ohm
        steps.append(
            VoltageStep(name, -amps * ohm, level, "loss", missing or plain(ohm, 3, "Ω"))
        )
    return Stairs(item.load.name, tuple(steps), worst["needed_v"], amps)
