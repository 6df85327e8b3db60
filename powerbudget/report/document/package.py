"""Everything that the calculation package tells, computed once."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from powerbudget.balance.run_findings import run_findings
from powerbudget.errors import Finding
from powerbudget.files import in_letters
from powerbudget.report.extras import Extras

if TYPE_CHECKING:
    from powerbudget.balance.problem import Problem
    from powerbudget.balance.simulation import Simulation
    from powerbudget.checks.registry import CheckReport
    from powerbudget.compare.comparison import Comparison
    from powerbudget.loads.budget import Budget
    from powerbudget.report.terminal.sky import Sky
    from powerbudget.review.claims_file import ClaimsFile
    from powerbudget.review.result import Review
    from powerbudget.site.reader import Design
    from powerbudget.site.tables import Site
    from powerbudget.sizing.aging import Outlook
    from powerbudget.sizing.autonomy import Autonomy
    from powerbudget.sizing.autonomy_view import AutonomyView
    from powerbudget.sizing.criteria import Verdict
    from powerbudget.sizing.search import Candidate, Sizing
    from powerbudget.sizing.uncertainty.monte_carlo import Ensemble
    from powerbudget.weather import WeatherRecord

Say = Callable[[str], None]


@dataclass(frozen=True, eq=False)
class DesignRun:
    """One design of the frontier, simulated.

    Parameters
    ----------
    candidate
        From the search.
    run
        Its simulation.
    record_days
        Shortest autonomy of the record [d].
    """

    candidate: Candidate
    run: Simulation
    record_days: float


@dataclass(frozen=True, eq=False)
class Package:
    """All results of a site.

    Parameters
    ----------
    design, run, days, verdicts, outlook, sky, sizing
        The site and each answer; no sizing where the site has no panels.
    designs
        Designs of the frontier, simulated.
    checks
        Circuit checks.
    extras
        What was asked for on top.
    review, comparison, view, odds
        A vendor's claims, sources on equal terms, autonomy from every side and an
        ensemble; None where they were not asked for.
    """

    design: Design
    run: Simulation
    days: Autonomy
    verdicts: tuple[Verdict, ...]
    outlook: Outlook
    sky: Sky
    sizing: Sizing | None
    designs: tuple[DesignRun, ...]
    checks: CheckReport
    extras: Extras = field(default_factory=Extras)
    review: Review | None = None
    comparison: Comparison | None = None
    view: AutonomyView | None = None
    odds: Ensemble | None = None

    @property
    def tables(self) -> Site:
        """The site file's tables."""
        return self.design.tables

    @property
    def problem(self) -> Problem:
        """The site laid out for the simulation."""
        return self.run.problem

    @property
    def budget(self) -> Budget:
        """The power budget."""
        return self.run.problem.budget

    @property
    def record(self) -> WeatherRecord:
        """The weather."""
        return self.run.problem.record

    @property
    def search(self) -> Sizing:
        """What the search found, on a site with panels."""
        if self.sizing is None:
            raise ValueError("a site without panels has nothing to search")
        return self.sizing

    @property
    def met(self) -> bool:
        """Whether the site as written meets every criterion."""
        return all(verdict.met for verdict in self.verdicts)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Remarks of load, run, battery, sky and search, each once."""
        found = (
            *self.budget.findings, *run_findings(self.run), *self.outlook.findings,
            *self.sky.findings, *(self.sizing.findings if self.sizing else ()),
        )  # fmt: skip
        return tuple({finding.text: finding for finding in found}.values())


def assemble(
    design: Design,
    say: Say | None = None,
    record: WeatherRecord | None = None,
    extras: Extras | None = None,
) -> Package:
    """Compute everything that the package tells.

    Parameters
    ----------
    design
        A checked site.
    say
        Told what is being done [text].
    record
        Weather to use in place of the site's own.
    extras
        What is wanted on top of what every package holds; nothing when left out.

    Returns
    -------
    Package
        All results.

    Raises
    ------
    InputError, DataError
        When weather, module, load or an extra cannot be used.

    Notes
    -----
    The search runs beside the simulation of the site as written, and designs of the
    frontier beside one another: the compiled kernel lets each use a processor.
    """
    tell, wanted = say or _silent, extras or Extras()
    wanted.check(panels=design.tables.array.parallel > 0)
    asked = _claims(wanted)
    found = replace(_plain(design, tell, record), extras=wanted)
    return replace(
        found,
        review=_review(design, asked, tell),
        comparison=_comparison(design, tell) if wanted.options else None,
        view=_view(found.run, tell) if wanted.autonomy else None,
        odds=_odds(found, tell),
    )


def _plain(design: Design, tell: Say, record: WeatherRecord | None) -> Package:
    """Return the package without extras."""
    from powerbudget.balance.problem import prepare
    from powerbudget.balance.simulation import simulate_size
    from powerbudget.sizing.aging import outlook
    from powerbudget.sizing.autonomy import autonomy
    from powerbudget.sizing.criteria import judge
    from powerbudget.sizing.search import size

    tell("reading the weather and laying out the site")
    problem = prepare(design, record)
    run = simulate_size(problem)
    with ThreadPoolExecutor(2) as pool:
        tell("simulating, and searching panel and battery")
        cold = problem.bank.no_current(design.tables.criteria.autonomy_degc)
        sized = design.tables.array.parallel and not cold
        searched = pool.submit(size, problem) if sized else None
        days = autonomy(run)
        verdicts = judge(run, days.design_days)
        ahead = outlook(run)
        sky = _sky(problem)
        checks = _checks(design, problem, tell)
        sizing = searched.result() if searched else None
        tell("simulating each design of the frontier")
        frontier = sizing.frontier if sizing else ()
        # As old as the search had it, or the figures would be of another battery.
        aged = sizing.problem if sizing else problem
        designs = tuple(pool.map(lambda c: _design_run(aged, c), frontier))
    return Package(
        design, run, days, verdicts, ahead, sky, sizing, designs, checks=checks
    )


def _checks(design: Design, problem: Problem, tell: Say) -> CheckReport:
    from powerbudget.checks.registry import check

    tell("checking circuits")
    return check(design, problem)


def _claims(wanted: Extras) -> ClaimsFile | None:
    if wanted.claims is None:
        return None
    from powerbudget.review.claims_file import read_claims

    return read_claims(wanted.claims)


def _review(design: Design, claims: ClaimsFile | None, tell: Say) -> Review | None:
    if claims is None:
        return None
    from powerbudget.review.reviewer import review

    tell("judging claims")
    return review(design, claims)


def _comparison(design: Design, tell: Say) -> Comparison:
    from powerbudget.compare.comparison import compare

    tell("comparing sources of power")
    return compare(design)


def _view(run: Simulation, tell: Say) -> AutonomyView:
    from powerbudget.sizing.autonomy_view import autonomy_view

    tell("autonomy by month, hour, disconnect setting and age")
    return autonomy_view(run)


def _odds(found: Package, tell: Say) -> Ensemble | None:
    from powerbudget.sizing.uncertainty.monte_carlo import ensemble

    years, sizing = found.extras.seasons, found.sizing
    if years is None or sizing is None:
        return None
    tell(f"{years:,} seasons drawn anew")
    return ensemble(sizing.problem, years, found.extras.seed, also=sizing.as_mounted)


def _silent(_text: str) -> None:
    """Tell nobody."""


def _sky(problem: Problem) -> Sky:
    from powerbudget.report.terminal.sky import Sky
    from powerbudget.sizing.deficit_periods import dark_runs

    sky = Sky(problem.record, dark_runs(problem))
    _ = (sky.months, sky.spells, sky.fits, sky.persistence)
    return sky


def _design_run(problem: Problem, candidate: Candidate) -> DesignRun:
    from powerbudget.balance.simulation import simulate_size
    from powerbudget.sizing.autonomy import record_autonomy

    run = simulate_size(problem, candidate.array_strings, candidate.battery_strings)
    return DesignRun(candidate, run, record_autonomy(run)[0])


def site_file_name(path: Path | None) -> str:
    """Return what the page calls the site file [text].

    Parameters
    ----------
    path
        The site file, None for the built-in example [path].
    """
    return f"site file {in_letters(path.name)}" if path else "built-in example"
