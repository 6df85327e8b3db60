"""What a size costs with a charge controller that passes all of the array.

The search keeps the controller that the site states, and pays for its limit in modules.
"""

from __future__ import annotations

from typing import Any

from powerbudget.balance.ledger import limited_w
from powerbudget.balance.problem import Problem
from powerbudget.balance.run_findings import SMALL_FRAC
from powerbudget.balance.scenario import Scenario
from powerbudget.balance.simulation import simulate_size
from powerbudget.quantities import money
from powerbudget.site.reader import controller_keys
from powerbudget.site.tables import Regulator
from powerbudget.sizing.candidates import Candidate
from powerbudget.sizing.frontier import Search, find_frontier
from powerbudget.sizing.installed import chosen_controller
from powerbudget.sizing.picks import ranked


def other_controller(problem: Problem, shown: Candidate) -> str:
    """Return what would pass for less with charge controllers that fit the array [text].

    Parameters
    ----------
    problem
        The site as the size is built and judged.
    shown
        The recommended size, or the largest tried where none passes.

    Returns
    -------
    str
        Size, controllers and cost; empty where the stated limit hardly acts, where
        nothing passes without it, or where that costs no less.
    """
    if not _clips(problem, shown):
        return ""
    free = _with_controller(problem, None, 1)
    first = _smallest(free)
    fits = first and chosen_controller(free, first.array_strings)
    if not fits:
        return ""
    # Once more: the part has losses and a limit of its own.
    pick = _smallest(_with_controller(problem, *fits))
    if pick is None or (shown.met and ranked(pick) >= ranked(shown)):
        return ""
    words = (
        f"with {fits[1]} x {fits[0]} in place of the stated charge controller, "
        f"{pick.array_w:,.0f} W + {pick.battery_ah:,.0f} Ah pass"
    )
    costs = problem.design.tables.costs
    if pick.cost is None or costs is None:
        return words
    words += f", {money(pick.cost, costs.currency)} installed"
    if not shown.met or shown.cost is None:
        return words
    return f"{words}, {money(shown.cost - pick.cost, costs.currency)} less"


def _clips(problem: Problem, shown: Candidate) -> bool:
    """Return whether the stated limit keeps more than a little off the bus."""
    run = simulate_size(problem, shown.array_strings, shown.battery_strings)
    offered_w = run.out["offered_a"] * run.out["bus_v"]
    return bool(limited_w(problem, run.out).sum() > SMALL_FRAC * offered_w.sum())


def _smallest(problem: Problem) -> Candidate | None:
    return min(find_frontier(Search(problem), None), key=ranked, default=None)


def _with_controller(problem: Problem, part: str | None, count: int) -> Problem:
    """Return the site with so many of a part, without a limit where none is named."""
    design = problem.design
    own, bus_v = design.tables.regulator, design.tables.bus.nominal_v
    new: dict[str, Any] = {"part": part, "parallel": count, "maximum_charge_w": None}
    if part is None:
        new |= {"maximum_charge_a": None, "rated_w": own.losses_rated_w(bus_v)}
    else:
        keys = Regulator.model_validate(controller_keys(design.parts[part]))
        new |= {"rated_w": None, "losses": None}
        new |= {name: getattr(keys, name) for name in keys.model_fields_set}
    return problem.under(Scenario(charge_controller=own.model_copy(update=new)))
