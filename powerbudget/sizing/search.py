"""Panel and battery needed: the frontier of designs that meet every criterion."""

from __future__ import annotations

from dataclasses import dataclass, field

from powerbudget.balance.controller_rating import controller_rating
from powerbudget.balance.problem import Problem, needs_array, prepare
from powerbudget.balance.run_findings import run_findings
from powerbudget.balance.simulation import simulate_size
from powerbudget.errors import Fault, Finding, InputError
from powerbudget.quantities import in_unit
from powerbudget.site.reader import Design
from powerbudget.sizing.aging import doubts
from powerbudget.sizing.autonomy import needs_current
from powerbudget.sizing.battery_ages import judged_problem, lasts
from powerbudget.sizing.candidates import Candidate
from powerbudget.sizing.frontier import Progress, Search, Wanted, find_frontier
from powerbudget.sizing.hysteresis import larger_that_fail
from powerbudget.sizing.installed import CostLine, chosen_controller, cost_lines
from powerbudget.sizing.limiting import (
    Shortfall,
    binding_words,
    shortfalls,
    smaller_steps,
)
from powerbudget.sizing.other_controller import other_controller
from powerbudget.sizing.picks import (
    OneMore,
    make_picks,
    one_more,
    ranked,
    rule_words,
)
from powerbudget.sizing.worksheet.against_record import Disagreement, disagree
from powerbudget.sizing.worksheet.formulas import WorksheetLine
from powerbudget.sizing.worksheet.site_figures import make_worksheet

__all__ = ["Candidate", "Progress", "Sizing", "judged_problem", "size"]


@dataclass(frozen=True)
class ControllerNeed:
    """What a design asks of its charge controllers.

    Parameters
    ----------
    charge_a
        Charge current together, with the usual margin [A].
    input_v
        Highest voltage of a string [V].
    part, count
        The site's own part, or the generic rating of which fewest have it, and how many
        in parallel; None where none bears the volts [text, count].
    stated_a
        Charge current that the site states for all of its own, None without [A].
    """

    charge_a: float
    input_v: float
    part: str | None
    count: int | None
    stated_a: float | None


@dataclass(frozen=True)
class Sizing:
    """What `size` answers.

    Parameters
    ----------
    pick
        Cheapest design of the frontier (fewest pieces without prices), None when
        nothing meets the criteria.
    frontier
        Designs that meet every criterion and that no other beats in modules and in
        battery units; small batteries first.
    tried
        Every design that was simulated.
    binding
        Which criterion stops a smaller array and a smaller battery [text].
    rule, currency
        How the pick was ranked, and the unit of costs [text].
    nearest_miss
        Largest design tried, when nothing meets the criteria.
    worksheet
        The hand calculation beside it.
    found, of_design
        Remarks of the search: another charge controller, sizes that do worse than smaller
        ones; and of the simulation of the pick, of the site as written without one.
    problem
        The site as the pick is built and judged: its battery at end of life, unless
        ``[sizing] battery_age`` says otherwise.
    picks
        The cheapest, the lightest and the one of fewest parts.
    one_more
        What the next step of array and of battery buys.
    smaller
        The pick with one array step and with one battery step fewer.
    unmet
        Which criteria nothing in reach meets, by how much, and what would.
    disagreement
        How the worksheet's design fares in the hourly run, and why it differs.
    other_controller
        What passes, or costs less, with another charge controller than the stated one
        that limits the array; empty where nothing does [text].
    """

    pick: Candidate | None
    frontier: tuple[Candidate, ...]
    tried: tuple[Candidate, ...]
    binding: str
    rule: str
    currency: str
    nearest_miss: Candidate | None
    worksheet: tuple[WorksheetLine, ...]
    found: tuple[Finding, ...]
    of_design: tuple[Finding, ...]
    problem: Problem
    picks: dict[str, Candidate | None]
    one_more: tuple[OneMore, ...]
    smaller: dict[str, Candidate | None]
    unmet: tuple[Shortfall, ...]
    disagreement: Disagreement = field(repr=False)
    other_controller: str = ""

    @property
    def recommended(self) -> Candidate | None:
        """The recommended design, as print names it: the `pick` of the search."""
        return self.pick

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Remarks of the search, and of the simulation of its pick."""
        return (*self.found, *self.of_design)

    @property
    def battery_age(self) -> str:
        """Age of the battery that the size is for, as ``[sizing]`` names it [text]."""
        return "end-of-life" if self.lasts else "beginning-of-life"

    @property
    def lasts(self) -> bool:
        """Whether the criteria are met at end of life, and not only when built."""
        return lasts(self.problem)

    @property
    def health_frac(self) -> float:
        """Capacity of the battery that the figures are for, over rated [fraction]."""
        return self.problem.bank.health_frac

    @property
    def controller(self) -> ControllerNeed:
        """What the design asks of its charge controllers, and the part that has it.

        A part that the site names stands for itself, as many as it states.
        """
        shown = self.pick or self.nearest_miss
        asked = controller_rating(self.problem, shown.array_strings if shown else 1)
        fits = chosen_controller(self.problem, shown.array_strings if shown else 1)
        part, count = fits or (None, None)
        stated = self.problem.design.tables.regulator.of_all("maximum_charge_a")
        return ControllerNeed(asked.charge_a, asked.input_v, part, count, stated)

    @property
    def installed(self) -> tuple[CostLine, ...]:
        """What the pick costs, line by line; none without a pick or prices."""
        if self.pick is None:
            return ()
        both = (self.pick.array_strings, self.pick.battery_strings)
        return cost_lines(self.problem, *both)

    @property
    def as_mounted(self) -> list[tuple[int, int]]:
        """Array and battery strings of the picks that keep tilt and series [count]."""
        array = self.problem.design.tables.array
        stands = (array.tilt_deg, array.series)
        found = [c for c in (self.pick, *self.picks.values()) if c is not None]
        return [
            (c.array_strings, c.battery_strings)
            for c in found
            if (c.tilt_deg, c.series) == stands
        ]


def size(design: Design | Problem, progress: Progress | None = None) -> Sizing:
    """Find the panel and battery that a site needs.

    Parameters
    ----------
    design
        A checked site, or the same prepared.
    progress
        Called with batteries done and batteries in all [count].

    Returns
    -------
    Sizing
        Frontier, picks, binding criterion, worksheet and why it differs.

    Raises
    ------
    InputError, DataError
        When the site cannot be prepared, no string fits the regulator, or the
        autonomy asked is longer than the record.

    Notes
    -----
    For every battery, and every tilt and string that ``[sizing]`` lets it try, the
    array is enlarged until every criterion is met.  The edge is then walked step by
    step, so that no purchasable size between is passed over.
    """
    problem = design if isinstance(design, Problem) else prepare(design)
    search, frontier = search_sizes(problem, progress)
    problem = search.problem
    shown = shown_size(search, frontier)
    pick, miss = (shown, None) if shown.met else (None, shown)
    way = search.way_of(shown)
    costs = problem.design.tables.costs
    worksheet = make_worksheet(problem)
    built = search.ways[way].problem
    other = str(other_controller(built, shown) or "")
    return Sizing(
        pick=pick,
        frontier=frontier,
        binding=binding_words(search, shown),
        rule=rule_words(problem),
        currency=costs.currency if costs else "",
        nearest_miss=miss,
        worksheet=worksheet,
        found=(
            *([Finding("serious", f"{other}.")] if other else []),
            *larger_that_fail(search.tried),
        ),
        of_design=_pick_findings(built, pick),
        problem=built,
        picks=make_picks(frontier),
        one_more=one_more(search, pick) if pick else (),
        smaller=smaller_steps(search, pick) if pick else {},
        unmet=shortfalls(search, miss, other) if miss else (),
        disagreement=disagree(search, worksheet, pick),
        tried=search.tried,
        other_controller=other,
    )


def picked(problem: Problem) -> Candidate | None:
    """Return the pick of `size` and nothing beside it, None where nothing meets.

    Raises
    ------
    InputError
        As `size` does.
    """
    return _cheapest(search_sizes(problem, only="cheapest")[1])


def _cheapest(frontier: tuple[Candidate, ...]) -> Candidate | None:
    return min(frontier, key=ranked) if frontier else None


def search_sizes(
    problem: Problem, progress: Progress | None = None, *, only: Wanted | None = None
) -> tuple[Search, tuple[Candidate, ...]]:
    """Return the search of a site and the designs that no other one beats.

    Parameters
    ----------
    problem
        The site, its battery as old as the site file says.
    progress
        Called with batteries done and batteries in all [count].
    only
        The one design that is wanted, None for the whole frontier.

    Returns
    -------
    tuple
        Search, and frontier: small batteries first.

    Raises
    ------
    InputError
        When no string fits the regulator, or the autonomy asked is longer than the
        record.
    """
    needs_array(problem.design)
    needs_current(problem)
    _long_enough(problem)
    search = Search(problem)
    return search, find_frontier(search, progress, only=only)


def _long_enough(problem: Problem) -> None:
    asked = problem.design.tables.criteria.autonomy_d
    there = problem.record.n * problem.record.step_h / 24.0
    if asked > there:
        raise InputError(
            Fault(
                "criteria.autonomy",
                "exceeds the length of the weather file, which cannot confirm it",
                f"{asked:g} d",
                f"up to {in_unit(there, 'd')}",
                "use a longer weather file, or several years",
            )
        )


def shown_size(search: Search, frontier: tuple[Candidate, ...]) -> Candidate:
    """Return the cheapest design of a frontier, else the largest in reach."""
    return _cheapest(frontier) or _largest(search)


def _largest(search: Search) -> Candidate:
    """Return the largest design in reach, in the way that does best.

    Beside it the specified array, where the controller's input bears fewer strings and it
    fails all the same: no result below its own is the best.
    """
    steps, own = search.steps, search.problem.design.tables
    stands = (own.array.tilt_deg, own.array.series)
    most = steps.max_battery_strings // steps.battery_step * steps.battery_step
    tried = []
    for k, way in enumerate(search.ways):
        array = way.most_strings // steps.array_step * steps.array_step
        tried.append(search.at(array, most, k))
        table = way.problem.design.tables.array
        specified = min(own.array.parallel, steps.max_array_strings)
        if (table.tilt_deg, table.series) == stands and array < specified:
            above = search.at(specified, most, k)
            # A size above a rating is no answer, and no miss where it passes.
            tried += [] if above.met else [above]
    return min(
        tried,
        key=lambda c: (len(c.failed), -c.availability_frac, -c.lowest_soc_frac),
    )


def _pick_findings(problem: Problem, pick: Candidate | None) -> tuple[Finding, ...]:
    if pick is None:
        return run_findings(simulate_size(problem))
    run = simulate_size(problem, pick.array_strings, pick.battery_strings)
    return (*run_findings(run), *doubts(run))
