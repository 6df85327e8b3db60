"""Everything that the calculation package tells, computed once."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from copy import copy
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Any

from powerbudget.balance.run_findings import run_findings
from powerbudget.files import in_letters
from powerbudget.report.extras import Extras

if TYPE_CHECKING:
    from pathlib import Path

    from powerbudget.balance.problem import Problem
    from powerbudget.balance.simulation import Simulation
    from powerbudget.checks.registry import CheckReport
    from powerbudget.compare.comparison import Comparison
    from powerbudget.errors import Finding
    from powerbudget.loads.budget import Budget
    from powerbudget.report.document.sky import Sky
    from powerbudget.review.claims_file import ClaimsFile
    from powerbudget.review.result import Review
    from powerbudget.site.reader import Design
    from powerbudget.site.tables import Site
    from powerbudget.sizing.aging import Outlook
    from powerbudget.sizing.autonomy import Autonomy
    from powerbudget.sizing.autonomy_view import AutonomyView
    from powerbudget.sizing.criteria import Verdict
    from powerbudget.sizing.from_nothing import FromNothing
    from powerbudget.sizing.search import Candidate, Sizing
    from powerbudget.sizing.tilt import TiltSearch
    from powerbudget.sizing.uncertainty.monte_carlo import Ensemble
    from powerbudget.sizing.uncertainty.sensitivity import Influential
    from powerbudget.weather import WeatherRecord

Say = Callable[[str], None]
QUICK_ROWS = 20_000
"""Intervals of a record up to which the inputs are varied without being asked."""


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
    """All results of a site, each computed when it is first asked for, and once.

    Parameters
    ----------
    design
        The site.
    extras
        What was asked for on top.
    weather
        Weather to use in place of the site's own.
    turned, begun
        The search for an orientation, and for parts that the site leaves open, where
        one came before.
    """

    design: Design
    extras: Extras = field(default_factory=Extras)
    weather: WeatherRecord | None = None
    turned: TiltSearch | None = None
    begun: FromNothing | None = None

    def but(self, **answers: Any) -> Package:
        """Return the package with some answers in place of its own.

        Parameters
        ----------
        answers
            By the name of the property.
        """
        found = copy(self)
        found.__dict__.update(answers)
        return found

    @cached_property
    def problem(self) -> Problem:
        """The site laid out for the simulation."""
        from powerbudget.balance.problem import prepare

        return prepare(self.design, self.weather)

    @cached_property
    def run(self) -> Simulation:
        """The site as written, simulated."""
        from powerbudget.balance.simulation import simulate_size

        return simulate_size(self.problem)

    @cached_property
    def days(self) -> Autonomy:
        """Both autonomies."""
        from powerbudget.sizing.autonomy import autonomy

        return autonomy(self.run)

    @cached_property
    def verdicts(self) -> tuple[Verdict, ...]:
        """Every criterion on the site as written."""
        from powerbudget.sizing.criteria import judge

        return judge(self.run, self.days.design_days)

    @cached_property
    def outlook(self) -> Outlook:
        """What the battery does beyond the run."""
        from powerbudget.sizing.aging import outlook

        return outlook(self.run)

    @cached_property
    def sky(self) -> Sky:
        """Sun, air and deficit periods."""
        from powerbudget.report.document.sky import Sky
        from powerbudget.sizing.deficit_periods import dark_runs

        return Sky(self.record, dark_runs(self.problem))

    @cached_property
    def sizing(self) -> Sizing | None:
        """The search, None without panels or where the cold leaves no current."""
        from powerbudget.sizing.search import size

        cold = self.problem.bank.no_current(self.problem.design_degc)
        sized = self.tables.array.parallel > 0 and not cold
        return size(self.problem) if sized else None

    @cached_property
    def designs(self) -> tuple[DesignRun, ...]:
        """Designs of the frontier, simulated."""
        found = self.sizing
        if found is None:
            return ()
        # As old as the search had it, or the figures would be of another battery.
        with ThreadPoolExecutor(2) as pool:
            runs = pool.map(lambda c: _design_run(found.problem, c), found.frontier)
            return tuple(runs)

    @cached_property
    def checks(self) -> CheckReport:
        """Circuit checks."""
        from powerbudget.checks.registry import check

        return check(self.design, self.problem)

    @cached_property
    def claims(self) -> ClaimsFile | None:
        """A vendor's claims as they were written, None without any."""
        from powerbudget.review.claims_file import read_claims

        return read_claims(self.extras.claims) if self.extras.claims else None

    @cached_property
    def review(self) -> Review | None:
        """The same judged."""
        from powerbudget.review.reviewer import review

        return review(self.design, self.claims) if self.claims else None

    @cached_property
    def comparison(self) -> Comparison | None:
        """Sources on equal terms, None where they were not asked for."""
        from powerbudget.compare.comparison import compare

        return compare(self.design) if self.extras.options else None

    @cached_property
    def view(self) -> AutonomyView | None:
        """Autonomy from every side, None where it was not asked for."""
        from powerbudget.sizing.autonomy_view import autonomy_view

        return autonomy_view(self.run) if self.extras.autonomy else None

    @cached_property
    def odds(self) -> Ensemble | None:
        """Seasons drawn anew, None where they were not asked for."""
        from powerbudget.sizing.uncertainty.monte_carlo import ensemble

        years, found = self.extras.seasons, self.sizing
        if years is None or found is None:
            return None
        return ensemble(found.problem, years, self.extras.seed, also=found.as_mounted)  # fmt: skip

    @cached_property
    def sensitivity(self) -> tuple[Influential, ...] | None:
        """Inputs that move the size most, None where that would take long unasked."""
        from powerbudget.sizing.uncertainty.sensitivity import sensitivity

        wanted, found = self.extras.sensitivity, self.sizing
        wanted = self.record.n <= QUICK_ROWS if wanted is None else wanted
        return sensitivity(found) if wanted and found is not None else None

    @property
    def tables(self) -> Site:
        """The site file's tables."""
        return self.design.tables

    @property
    def budget(self) -> Budget:
        """The power budget."""
        return self.problem.budget

    @property
    def record(self) -> WeatherRecord:
        """The weather."""
        return self.problem.record

    @property
    def search(self) -> Sizing:
        """What the search found, on a site with panels."""
        if self.sizing is None:
            raise ValueError("a site without an array has nothing to search")
        return self.sizing

    @property
    def met(self) -> bool:
        """Whether the site as written meets every criterion."""
        return all(verdict.met for verdict in self.verdicts)

    @property
    def run_findings(self) -> tuple[Finding, ...]:
        """Remarks of run and battery."""
        return (*run_findings(self.run), *self.outlook.findings)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Remarks of load, run, battery, sky and search, each once."""
        found = [*self.budget.findings, *self.run_findings, *self.sky.findings]
        if sizing := self.sizing:
            # Without a pick the design is the site as written, told already.
            found += sizing.findings if sizing.pick else sizing.found
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
    found = Package(design, wanted, record)
    _ = found.claims
    tell("reading the weather and preparing the site")
    _ = found.run
    with ThreadPoolExecutor(2) as pool:
        tell("simulating, and searching array and battery")
        searched = pool.submit(lambda: found.sizing)
        _ = (found.days, found.verdicts, found.outlook, found.sky)
        tell("checking circuits")
        _ = found.checks
        searched.result()
    for asked, answer, words in _EXTRA:
        if getattr(wanted, asked):
            tell(words)
            getattr(found, answer)
    return found


_EXTRA = (
    ("claims", "review", "reviewing claims"),
    ("options", "comparison", "comparing alternatives"),
    ("sensitivity", "sensitivity", "inputs that change the size most"),
    ("autonomy", "view", "autonomy by month, hour, LVD setting, and age"),
    ("seasons", "odds", "random trials"),
)
"""What takes its time where it is asked for: extra, answer and words for the wait."""


def _silent(_text: str) -> None:
    """Tell nobody."""


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
