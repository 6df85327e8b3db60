"""The edge of what meets every criterion: fewest modules for each battery."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from typing import Literal

from powerbudget.balance.controller_rating import string_too_high
from powerbudget.balance.problem import Problem
from powerbudget.balance.simulation import Simulation, simulate_size
from powerbudget.bisection import least_count
from powerbudget.sizing.array_options import Variant, variants
from powerbudget.sizing.battery_ages import beginning_problem
from powerbudget.sizing.candidates import Candidate, make_candidate, piece_masses_kg
from powerbudget.sizing.criteria import battery_verdicts, quick_failures
from powerbudget.sizing.installed import installed_cost
from powerbudget.sizing.sized_site import SizedSite

Progress = Callable[[int, int], None]
Wanted = Literal["lightest", "cheapest"]
WORKERS = 2
"""Batteries tried at once: the kernel lets go of the interpreter while it runs."""
ANY = -1
"""In place of a way: every way at the same tilt."""


class Search(SizedSite):
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
        super().__init__(problem)
        self.steps = problem.design.tables.sizing
        self.ways = variants(self.problem) if ways is None else ways
        self.fresh: dict[int, Problem | None] = {}
        self.known: dict[tuple[int, int, int], Candidate] = {}
        self.rough: dict[tuple[int, int, int], Candidate] = {}
        self.short: dict[tuple[int, float, int], int] = {}

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
            self.known[key] = self._made(run, way)
        return self.known[key]

    def _made(self, run: Simulation, way: int) -> Candidate:
        return make_candidate(run, self.judged(run, self._fresh(way))[0])

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
            self.known[key] = self._made(run, way)
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

    def too_few(self, modules: int, battery: int, way: int) -> bool:
        """Return whether so many modules are known to fail beside a battery.

        Parameters
        ----------
        modules, battery
            Modules in all, and battery strings [count].
        way
            Which of the ways to build the array [count].

        Returns
        -------
        bool
            False where it is not known; what fails where a tracker takes every watt
            fails with any other string at the same tilt.
        """
        known = (self.short.get(self._plane(battery, way, k), 0) for k in (way, ANY))
        return modules <= max(known)

    def fell_short(self, modules: int, battery: int, way: int) -> None:
        """Keep in mind that so many modules fail beside a battery.

        Parameters
        ----------
        modules, battery
            Modules in all, and battery strings [count].
        way
            Which of the ways to build the array [count].
        """
        key = self._plane(battery, way, ANY if self.ways[way].lossless else way)
        self.short[key] = max(modules, self.short.get(key, 0))

    def _plane(self, battery: int, way: int, told: int) -> tuple[int, float, int]:
        return battery, self.ways[way].problem.design.tables.array.tilt_deg, told

    def hopeless(self, battery: int) -> bool:
        """Return whether no array at all can help a battery."""
        bank = self.problem.bank.with_strings(battery)
        found = battery_verdicts(self.problem, bank, self.design_days(battery))
        return not all(verdict.met for verdict in found)


def find_frontier(
    search: Search, progress: Progress | None, *, only: Wanted | None = None
) -> tuple[Candidate, ...]:
    """Return the designs that no other one beats in modules and in battery units.

    Parameters
    ----------
    search
        The site and its ways to build the array.
    progress
        Called with batteries done and batteries in all [count].
    only
        ``lightest`` or ``cheapest`` to stop once a larger battery with the least array
        outweighs or costs no less than a design found; None for the whole frontier.

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
            if only and _BEATEN[only](search, wave[0], frontier):
                break
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


def _outweighed(search: Search, battery: int, frontier: list[Candidate]) -> bool:
    """Return whether a battery with one module is no lighter than a design found."""
    design = search.problem.design
    module, unit = piece_masses_kg(design)
    masses = [c.mass_kg for c in frontier if c.mass_kg is not None]
    if module is None or unit is None or not masses:
        return False
    return battery * design.tables.battery.series * unit + module >= min(masses)


def _outpriced(search: Search, battery: int, frontier: list[Candidate]) -> bool:
    """Return whether a battery with one array string costs no less than a design found.

    Pieces where no prices are known; both rise with every piece.
    """
    step, units = search.steps.array_step, battery * search.problem.bank.series
    least = min(
        (installed_cost(way.problem, step, battery) or 0.0, step * way.series + units)
        for way in search.ways
    )
    return any((c.cost or 0.0, c.parts) <= least for c in frontier)


_BEATEN = {"lightest": _outweighed, "cheapest": _outpriced}


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

    # The cold destroys such a string in any number.
    if string_too_high(way.problem):
        return None
    if most < 1 or search.too_few(most * step * way.series, battery, number):
        return None
    if not passes(most):
        search.fell_short(most * step * way.series, battery, number)
        return None
    high = least_count(passes, 0, most)
    return search.at(high * step, battery, number)
