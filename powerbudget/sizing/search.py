"""Panel and battery needed: the frontier of designs that meet every criterion."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from powerbudget.balance.problem import Problem, needs_array
from powerbudget.balance.simulation import Simulation, prepare_aged, simulate_size
from powerbudget.errors import Finding
from powerbudget.site.fields import MONTHS
from powerbudget.site.reader import Design
from powerbudget.sizing.autonomy import design_autonomy_days
from powerbudget.sizing.criteria import Verdict, judge
from powerbudget.sizing.outlook import doubts
from powerbudget.sizing.worksheet import WorksheetLine, make_worksheet

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Candidate:
    """One purchasable design and how it does.

    Parameters
    ----------
    array_strings, battery_strings
        Strings in parallel [count].
    modules, battery_units
        Pieces to buy [count].
    array_w, battery_ah
        Rated panel power and name-plate Ah at the bus [W, Ah].
    cost
        Modules and units at the site's prices; None without prices [currency].
    verdicts
        Each criterion [Verdict].
    lowest_soc_at, lost_at
        Days of the lowest charge and of the first outage, empty without one [text].
    lowest_soc_frac, availability_frac
        From the hourly run [fraction].
    """

    array_strings: int
    battery_strings: int
    modules: int
    battery_units: int
    array_w: float
    battery_ah: float
    cost: float | None
    verdicts: tuple[Verdict, ...]
    lowest_soc_frac: float
    availability_frac: float
    lowest_soc_at: str
    lost_at: str

    @property
    def met(self) -> bool:
        """Whether every criterion is met."""
        return all(verdict.met for verdict in self.verdicts)

    @property
    def failed(self) -> tuple[str, ...]:
        """Names of criteria that are not met [text]."""
        return tuple(verdict.name for verdict in self.verdicts if not verdict.met)


@dataclass(frozen=True)
class Sizing:
    """What `size` answers.

    Parameters
    ----------
    pick
        Cheapest design of the frontier, None when nothing meets the criteria.
    frontier
        For each battery, the smallest array that meets every criterion, as long as
        a larger battery saves panels.
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
    findings
        Remarks of the simulation of the pick.
    """

    pick: Candidate | None
    frontier: tuple[Candidate, ...]
    tried: tuple[Candidate, ...]
    binding: str
    rule: str
    currency: str
    nearest_miss: Candidate | None
    worksheet: tuple[WorksheetLine, ...]
    findings: tuple[Finding, ...]


class _Search:
    """Remembers what has been simulated."""

    def __init__(self, problem: Problem, progress: Progress | None) -> None:
        self.problem = problem
        self.progress = progress
        self.known: dict[tuple[int, int], Candidate] = {}
        self.days: dict[int, float] = {}

    def design_days(self, battery: int) -> float:
        if battery not in self.days:
            bank = self.problem.bank.with_strings(battery)
            degc = self.problem.design.tables.criteria.autonomy_degc
            self.days[battery] = design_autonomy_days(self.problem, bank, degc)
        return self.days[battery]

    def at(self, array: int, battery: int) -> Candidate:
        key = (array, battery)
        if key not in self.known:
            run = simulate_size(self.problem, array, battery)
            verdicts = judge(run, self.design_days(battery))
            self.known[key] = _candidate(run, array, battery, verdicts)
        return self.known[key]


def _candidate(
    run: Simulation, array: int, battery: int, verdicts: tuple[Verdict, ...]
) -> Candidate:
    tables = run.problem.design.tables
    modules = array * tables.array.series
    units = battery * tables.battery.series
    costs = tables.costs
    cost = costs.module * modules + costs.battery_unit * units if costs else None
    return Candidate(
        array_strings=array,
        battery_strings=battery,
        modules=modules,
        battery_units=units,
        array_w=modules * run.problem.array.module.power_w,
        battery_ah=run.bank.nameplate_ah,
        cost=cost,
        verdicts=verdicts,
        lowest_soc_frac=run.lowest_soc_frac,
        lowest_soc_at=_day(run, run.lowest_soc_at),
        lost_at=_day(run, run.outages[0].start) if run.outages else "",
        availability_frac=run.availability_frac,
    )


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
        Frontier, pick, binding criterion and worksheet.

    Notes
    -----
    For every battery the array is enlarged until every criterion is met; a larger
    array than a smaller battery needed is never tried.  The edge is then walked
    step by step, so that no purchasable size between is passed over.
    """
    problem = design if isinstance(design, Problem) else prepare_aged(design)
    needs_array(problem.design)
    steps = problem.design.tables.sizing
    search = _Search(problem, progress)
    frontier: list[Candidate] = []
    ceiling = steps.max_array_strings
    for battery in range(1, steps.max_battery_strings + 1):
        found = _smallest_array(search, battery, ceiling)
        if found is not None and (not frontier or found.modules < frontier[-1].modules):
            frontier.append(found)
            ceiling = found.array_strings
        if progress:
            progress(battery, steps.max_battery_strings)
        if ceiling == 1 and frontier:
            break
    pick = min(frontier, key=_rank) if frontier else None
    miss = None
    if pick is None:
        miss = search.at(steps.max_array_strings, steps.max_battery_strings)
    return Sizing(
        pick=pick,
        frontier=tuple(frontier),
        tried=tuple(search.known.values()),
        binding=_binding(search, pick or miss),
        rule=_rule(problem),
        currency=problem.design.tables.costs.currency
        if problem.design.tables.costs
        else "",
        nearest_miss=miss,
        worksheet=make_worksheet(problem),
        findings=_pick_findings(problem, pick),
    )


def _day(run: Simulation, iso: str) -> str:
    """Return a day for people; the year of a typical year means nothing."""
    year, month, day = iso[:10].split("-")
    words = f"{int(day)} {MONTHS[int(month) - 1]}"
    return words if run.problem.record.typical_year else f"{words} {year}"


def _smallest_array(search: _Search, battery: int, ceiling: int) -> Candidate | None:
    """Return the smallest passing array up to a ceiling, by halving then stepping."""
    best = search.at(ceiling, battery)
    if not best.met:
        return None
    low, high = 0, ceiling
    while high - low > 1:
        middle = (low + high) // 2
        if search.at(middle, battery).met:
            high = middle
        else:
            low = middle
    # Reconnect hysteresis can make one larger array fail: keep to the solid side.
    best = search.at(high, battery)
    while best.array_strings > 1:
        smaller = search.at(best.array_strings - 1, battery)
        if not smaller.met:
            break
        best = smaller
    return best


def _rank(candidate: Candidate) -> tuple[float, float]:
    parts = float(candidate.modules + candidate.battery_units)
    return (parts if candidate.cost is None else candidate.cost, parts)


def _rule(problem: Problem) -> str:
    costs = problem.design.tables.costs
    if costs is None:
        return "fewest modules and battery units: the site has no [costs] table"
    return f"lowest price of modules and battery units, {costs.currency}"


def _binding(search: _Search, candidate: Candidate | None) -> str:
    if candidate is None:
        return ""
    if not candidate.met:
        return "not reached even by the largest step: " + ", ".join(candidate.failed)
    array, battery = candidate.array_strings, candidate.battery_strings
    words = []
    for name, a, b in (("array", array - 1, battery), ("battery", array, battery - 1)):
        if min(a, b) < 1:
            words.append(f"{name}: already one string")
            continue
        words.append(f"one {name} string fewer fails {_why(search.at(a, b))}")
    return "; ".join(words)


def _why(candidate: Candidate) -> str:
    """Return which criteria fail, and on which day where the record says so."""
    said = {
        "availability": f" (loads lost on {candidate.lost_at})",
        "deepest discharge": (
            f" ({100 * candidate.lowest_soc_frac:.0f} % left on "
            f"{candidate.lowest_soc_at})"
        ),
    }
    failed = [name + said.get(name, "") for name in candidate.failed]
    return ", ".join(failed) or "nothing"


def _pick_findings(problem: Problem, pick: Candidate | None) -> tuple[Finding, ...]:
    if pick is None:
        return simulate_size(problem).findings
    run = simulate_size(problem, pick.array_strings, pick.battery_strings)
    return (*run.findings, *doubts(run))
