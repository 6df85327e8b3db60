"""What a size costs with a charge controller that passes all of the array.

The search keeps the controller that the site states, and pays for its limit in modules.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from powerbudget.balance.controller_rating import string_too_high
from powerbudget.balance.problem import Problem
from powerbudget.balance.run_findings import SMALL_FRAC, limited_share, stated_limits
from powerbudget.balance.simulation import simulate_size
from powerbudget.quantities import in_unit, money
from powerbudget.site.reader import controller_keys
from powerbudget.site.scenario import Scenario
from powerbudget.site.tables import Regulator
from powerbudget.sizing.array_options import input_in_the_way
from powerbudget.sizing.candidates import Candidate
from powerbudget.sizing.frontier import Search, find_frontier
from powerbudget.sizing.installed import chosen_controller
from powerbudget.sizing.picks import ranked

DERATING = (
    "full_output_degc", "output_at_60_frac", "stops_above_degc",
    "full_output_elevation_m", "elevation_derating_frac", "highest_m",
)  # fmt: skip
"""Keys of a controller that the part in its place does not inherit."""


@dataclass(frozen=True)
class OtherController:
    """What a site comes to with another charge controller than the stated one.

    Parameters
    ----------
    part, count
        Name in the parts library, and how many in parallel [text, count].
    search, frontier
        The site with it, and the designs that no other one beats.
    pick
        The cheapest of them.
    stated
        Rating of the stated one that is in the way [text].
    than
        The size that it stands against: of the stated controller.
    """

    part: str
    count: int
    search: Search
    frontier: tuple[Candidate, ...]
    pick: Candidate
    stated: str
    than: Candidate

    @property
    def named(self) -> str:
        """Number and name of it [text]."""
        return f"{self.count} x {self.part} in place of the stated charge controller"

    def __str__(self) -> str:
        """Return size, controllers and cost [text]."""
        pick, than = self.pick, self.than
        size = f"{in_unit(pick.array_w, 'W')} + {in_unit(pick.battery_ah, 'Ah')}"
        words = f"with {self.named}, {size} pass"
        costs = self.search.problem.design.tables.costs
        if pick.cost is None or costs is None:
            return words
        words += f", {money(pick.cost, costs.currency)} installed"
        if not than.met or than.cost is None:
            return words
        return f"{words}, {money(than.cost - pick.cost, costs.currency)} less"


def other_controller(problem: Problem, shown: Candidate) -> OtherController | None:
    """Return what would pass for less with charge controllers that fit the array.

    Parameters
    ----------
    problem
        The site as the size is built and judged.
    shown
        The recommended size, or the largest tried where none passes.

    Returns
    -------
    OtherController or None
        None where the stated ratings are hardly in the way, where nothing passes
        without them, or where that costs no less.
    """
    stated = _in_the_way(problem, shown)
    if not stated:
        return None
    search, frontier = _searched(problem, None, 1)
    first = _cheapest(frontier)
    fits = first and chosen_controller(search.problem, first.array_strings)
    if not fits:
        return None
    # Once more: the part has losses and a limit of its own.
    search, frontier = _searched(problem, *fits)
    pick = _cheapest(frontier)
    if pick is None or (shown.met and ranked(pick) >= ranked(shown)):
        return None
    return OtherController(*fits, search, frontier, pick, stated, shown)


def _in_the_way(problem: Problem, shown: Candidate) -> str:
    """Return which ratings keep more than a little off the bus, or the string off [text]."""
    if string_too_high(problem):
        limit_v = problem.design.tables.regulator.maximum_input_v
        return f"maximum_input of {limit_v:g} V" if limit_v else ""
    # What passes within the input rating is not held back by it.
    ends = "" if shown.met else input_in_the_way(problem)
    run = simulate_size(problem, shown.array_strings, shown.battery_strings)
    clips = limited_share(run) > SMALL_FRAC
    return " and ".join(filter(None, (stated_limits(problem) if clips else "", ends)))


def _searched(
    problem: Problem, part: str | None, count: int
) -> tuple[Search, tuple[Candidate, ...]]:
    search = Search(_with_controller(problem, part, count))
    return search, find_frontier(search, None)


def _cheapest(frontier: tuple[Candidate, ...]) -> Candidate | None:
    return min(frontier, key=ranked, default=None)


def _with_controller(problem: Problem, part: str | None, count: int) -> Problem:
    """Return the site with so many of a part, without a limit where none is named."""
    design = problem.design
    own, bus_v = design.tables.regulator, design.tables.bus.nominal_v
    new: dict[str, Any] = {"part": part, "parallel": count}
    new |= {"maximum_charge_w": None, "maximum_input_a": None}
    if part is None:
        new |= {"maximum_charge_a": None, "rated_w": own.losses_rated_w(bus_v)}
        # Else the rating says which strings the search may take.
        if string_too_high(problem):
            new["maximum_input_v"] = None
    else:
        keys = Regulator.model_validate(controller_keys(design.parts[part]))
        new |= {"rated_w": None, "losses": None}
        # Heat and thin air derate the part, not as the stated one states.
        new |= {name: Regulator.model_fields[name].default for name in DERATING}
        new |= {name: getattr(keys, name) for name in keys.model_fields_set}
    return problem.under(Scenario(charge_controller=own.model_copy(update=new)))
