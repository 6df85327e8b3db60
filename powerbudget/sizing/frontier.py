"""The edge of what meets every criterion: fewest modules for each battery."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial

from powerbudget.balance.problem import Problem
from powerbudget.balance.simulation import Simulation, simulate_size
from powerbudget.sizing.array_options import Variant, variants
from powerbudget.sizing.autonomy import design_autonomy_days
from powerbudget.sizing.battery_ages import (
    beginning_problem,
    judged_problem,
    with_beginning,
)
from powerbudget.sizing.candidates import Candidate, make_candidate
from powerbudget.sizing.criteria import (
    Verdict,
    battery_verdicts,
    judge,
    quick_failures,
)

Progress = Callable[[int, int], None]
WORKERS = 2
"""Batteries tried at once: the kernel lets go of the interpreter while it runs."""


class Search:
    """Simulates designs and remembers them; threads may ask at once.

    Parameters
    ----------
    problem
        The site, its bank as old as the site file says.
    ways
        How the array may be built; what ``[sizing]`` allows where left out.
    """

    def __init__(
        self, problem: Problem, ways: tuple[Variant, ...] | None = None
    ) -> None:
        self.problem = judged_problem(problem)
        self.steps = problem.design.tables.sizing
        self.ways = variants(self.problem) if ways is None else ways
        self.fresh: dict[int, Problem | None] = {}
        self.known: dict[tuple[int, int, int], Candidate] = {}
        self.rough: dict[tuple[int, int, int], Candidate] = {}
        self.days: dict[int, float] = {}

    def design_days(self, battery: int) -> float:
        """Return the autonomy in the stated cold of so many strings [d]."""
        if battery not in self.days:
            bank = self.problem.bank.with_strings(battery)
            degc = self.problem.design.tables.criteria.autonomy_degc
            self.days[battery] = design_autonomy_days(self.problem, bank, degc)
        return self.days[battery]

    def at(self, array: int, battery: int, way: int = 0) -> Candidate:
        """Return the design of so many strings, simulated once.

        Parameters
        ----------
        array, battery
            Strings in parallel [count].
        way
            Which of the ways to build the array [count].

        Returns
        -------
        Candidate
            With every verdict.
        """
        key = (array, battery, way)
        if key not in self.known:
            run = simulate_size(self.ways[way].problem, array, battery)
            self.known[key] = make_candidate(run, self._judged(run, way))
        return self.known[key]

    def _judged(self, run: Simulation, way: int) -> tuple[Verdict, ...]:
        """Return every verdict, with one on a new battery where it is old."""
        days, fresh = self.design_days(run.bank.parallel), self._fresh(way)
        old = judge(run, days)
        # A size that fails at end of life fails anyway.
        if fresh is None or not all(verdict.met for verdict in old):
            return old
        new = simulate_size(fresh, run.strings, run.bank.parallel)
        return with_beginning(old, new, days)

    def _fresh(self, way: int) -> Problem | None:
        """Return a way to build the array with a new battery, None where not asked."""
        if way not in self.fresh:
            self.fresh[way] = beginning_problem(self.ways[way].problem)
        return self.fresh[way]

    def passes(self, array: int, battery: int, way: int = 0) -> bool:
        """Return whether a design meets every criterion, judged no further than needed.

        Parameters
        ----------
        array, battery
            Strings in parallel [count].
        way
            Which of the ways to build the array [count].

        Returns
        -------
        bool
            As `at` would say.
        """
        key = (array, battery, way)
        if key in self.rough:
            return False
        if key not in self.known:
            run = simulate_size(self.ways[way].problem, array, battery)
            failed = quick_failures(run)
            if failed:
                self.rough[key] = make_candidate(run, failed)
                return False
            self.known[key] = make_candidate(run, self._judged(run, way))
        return self.known[key].met

    @property
    def tried(self) -> tuple[Candidate, ...]:
        """Every design that was simulated; of some, only a criterion that fails."""
        return tuple({**self.rough, **self.known}.values())

    def way_of(self, candidate: Candidate) -> int:
        """Return the number of the way in which a candidate is built [count]."""
        wanted = (candidate.tilt_deg, candidate.series)
        tables = [way.problem.design.tables.array for way in self.ways]
        return [(t.tilt_deg, t.series) for t in tables].index(wanted)

    def hopeless(self, battery: int) -> bool:
        """Return whether no array at all can help a battery."""
        bank = self.problem.bank.with_strings(battery)
        found = battery_verdicts(self.problem, bank, self.design_days(battery))
        return not all(verdict.met for verdict in found)


def find_frontier(search: Search, progress: Progress | None) -> tuple[Candidate, ...]:
    """Return the designs that no other one beats in modules and in battery units.

    Parameters
    ----------
    search
        The site and its ways to build the array.
    progress
        Called with batteries done and batteries in all [count].

    Returns
    -------
    tuple of Candidate
        Small batteries first; a larger one is kept where it saves a module.

    Notes
    -----
    With a given battery more modules never hurt, but for reconnect hysteresis, so a
    halving finds the smallest array, and is then walked down step by step.  A larger
    battery may hurt (it takes longer to recover): all of them are tried.
    """
    step, last = search.steps.battery_step, search.steps.max_battery_strings
    batteries = range(step, last + 1, step)
    frontier: list[Candidate] = []
    # No ceiling yet: one module more than any way may have.
    ceiling = 1 + max(way.most_strings * way.series for way in search.ways)
    with ThreadPoolExecutor(WORKERS) as pool:
        for start in range(0, len(batteries), WORKERS):
            wave = batteries[start : start + WORKERS]
            for found in pool.map(partial(_fewest, search, ceiling), wave):
                if found is not None and found.modules < ceiling:
                    frontier.append(found)
                    ceiling = found.modules
            if progress:
                progress(min(wave[-1], last), last)
            if (
                ceiling
                <= min(way.series for way in search.ways) * search.steps.array_step
            ):
                break
    if progress:
        progress(last, last)
    return tuple(frontier)


def _fewest(search: Search, ceiling: int, battery: int) -> Candidate | None:
    """Return the design with fewest modules under a ceiling, None without one."""
    if search.hopeless(battery):
        return None
    best: Candidate | None = None
    for number, way in enumerate(search.ways):
        found = _smallest(search, (number, way), battery, ceiling)
        # The site's own way comes first and stays unless another saves a module.
        if found is not None:
            best, ceiling = found, found.modules
    return best


def _smallest(
    search: Search, numbered: tuple[int, Variant], battery: int, ceiling: int
) -> Candidate | None:
    """Return the smallest passing array with fewer modules than a ceiling."""
    number, way = numbered
    step = search.steps.array_step
    most = min(way.most_strings, (ceiling - 1) // way.series) // step

    def passes(steps: int) -> bool:
        return search.passes(steps * step, battery, number)

    if most < 1 or not passes(most):
        return None
    low, high = 0, most
    while high - low > 1:
        middle = (low + high) // 2
        if passes(middle):
            high = middle
        else:
            low = middle
    # Reconnect hysteresis can make one larger array fail: keep to the solid side.
    while high > 1 and passes(high - 1):
        high -= 1
    return search.at(high * step, battery, number)
