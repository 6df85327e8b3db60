"""Claims about a panel at a battery's voltage, and which module they mean."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from powerbudget.array.curve import current_a, max_power_w
from powerbudget.array.module import Module, module_from_points
from powerbudget.errors import Fault, nearest
from powerbudget.quantities import show
from powerbudget.review.claim_tables import PanelClaim
from powerbudget.review.result import Case, Judged, Solved, conclude, meets
from powerbudget.review.solve import edge
from powerbudget.review.variants import Desk
from powerbudget.site.parts import ModulePart


def module_called(name: str | None, desk: Desk) -> tuple[Module, list[Fault]]:
    """Return a module by name, the site's own without one.

    Parameters
    ----------
    name
        Part name, or None [text].
    desk
        The site.

    Returns
    -------
    Module
        The module, or the site's own where the name is not known.
    list of Fault
        Why the name cannot be used.
    """
    own = desk.problem.array.module
    if name is None:
        return own, []
    part = desk.design.parts.get(name)
    if isinstance(part, ModulePart):
        return module_from_points(part.data, name), []
    names = [n for n, p in desk.design.parts.items() if isinstance(p, ModulePart)]
    problem = "is not a module of the parts library"
    return own, [
        Fault("module", problem, repr(name), ", ".join(names), nearest(name, names))
    ]


def judge_panel(claim: PanelClaim, blank: Judged, desk: Desk | None) -> Judged:
    """Return a claim about a panel's watts at a battery's voltage, judged.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site: its module, and its bus voltage where the claim has none.

    Returns
    -------
    Judged
        Current of the module's curve at that voltage times the voltage, 1000 W/m2.
    """
    blank = replace(blank, claimed=claim.claimed_w, unit="W", sense="at least")
    if desk is None:
        return replace(blank, missing=("a site file, which holds the module",))
    module, faults = module_called(claim.module, desk)
    if faults:
        return replace(blank, problems=tuple(faults))
    tracked = desk.design.tables.regulator.kind == "mppt"
    series = desk.design.tables.array.series if claim.module is None else 1
    bus = claim.voltage_v or desk.volts

    def watts(volts: float) -> float:
        light = np.array([1000.0])
        amps = current_a(module, light, np.array([claim.cell_degc]), volts / series)
        return float(claim.modules / series * amps[0] * volts)

    best = claim.modules * float(
        max_power_w(module, np.array([1000.0]), np.array([claim.cell_degc]))[0]
    )
    held = watts(bus)
    direct = claim.voltage_v is not None or not tracked
    found = held if direct else best
    words = f"held at {bus:g} V" if direct else "at its best point, tracked"
    turn = edge(
        lambda v: meets(claim.claimed_w, watts(v), "at least"),
        0.5 * bus, module.max_power_v * series,
    )  # fmt: skip
    solved: tuple[Solved, ...] = ()
    if turn is not None:
        text = f"it gives that from {show(turn, 'V')} on"
        solved = (Solved("voltage", turn, "V", text),)
    done = replace(
        blank,
        cases=(Case(f"{words}, cell at {claim.cell_degc:g} degC",
                    found, meets(claim.claimed_w, found, "at least")),),
        solved=solved,
        remarks=(f"rated {show(module.power_w * claim.modules, 'W')}; best point "
                 f"{show(best, 'W')} at {show(module.max_power_v, 'V')}; held at {bus:g} V "
                 f"{show(held, 'W')}",),
        sources=("one-diode curve through the module's data-sheet points",),
        cautions=("full sun straight on: an hour of real winter gives far less",),
    )  # fmt: skip
    return conclude(done)
