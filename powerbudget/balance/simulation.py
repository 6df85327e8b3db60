"""The hourly simulation of a site, and what it answers."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance.arrayload import (
    ArrayToLoad,
    MonthRow,
    array_to_load,
)
from powerbudget.balance.drive import start_removed_ah
from powerbudget.balance.gate import check_books
from powerbudget.balance.generation import GeneratorYear, generator_years
from powerbudget.balance.ledger import Ledger, make_ledger
from powerbudget.balance.months import monthly_rows
from powerbudget.balance.problem import Problem, prepare
from powerbudget.balance.ring import run_through, state_history
from powerbudget.balance.run import Run
from powerbudget.battery.ageing import Life, make_life
from powerbudget.site.reader import Design
from powerbudget.site.scenario import Scenario
from powerbudget.weather import WeatherRecord

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Simulation(Run):
    """Result of an hourly run; what is asked of it is counted on first use."""

    @cached_property
    def monthly(self) -> tuple[MonthRow, ...]:
        """Each calendar month, over all years of the record."""
        return monthly_rows(self)

    @cached_property
    def array_to_load(self) -> ArrayToLoad:
        """A:L of the month in which it is smallest."""
        return array_to_load(self, self.monthly)

    @cached_property
    def ledger(self) -> Ledger:
        """Where the energy went."""
        case = (self.problem, self.scalars, self.strings, self.removed_ah, self.out)
        return make_ledger(*case)

    @cached_property
    def generation(self) -> tuple[GeneratorYear, ...]:
        """What each ``[[generator]]`` burnt, gave and needed, by the year."""
        return generator_years(self)


def simulate(design: Design, record: WeatherRecord | None = None) -> Simulation:
    """Simulate a site through its weather record, interval by interval.

    Parameters
    ----------
    design
        A checked site.
    record
        Weather to use in place of the site's own.

    Returns
    -------
    Simulation
        State of charge, outages, monthly figures and the energy ledger.

    Raises
    ------
    InputError, DataError
        When weather, module or load cannot be used.
    """
    run = simulate_size(prepare(design, record))
    books = run.ledger
    check_books(run.problem, books.error_frac, books.charge_error_frac)
    return run


def bank_life(run: Simulation) -> Life:
    """Return how long the bank of a run lasts, by cycles and by heat [Life]."""
    degc = run.problem.conditions.battery_degc
    state = state_history(run.problem, run.rated_soc_frac)
    return make_life(run.bank.chemistry, state, degc, run.years)


def at_strings(problem: Problem, strings: float) -> Problem:
    """Return the site with so many array strings, where more than the kernel asks.

    Parameters
    ----------
    problem
        A prepared site.
    strings
        Array strings in parallel [count].

    Returns
    -------
    Problem
        The same, but for a battery heater that only the array feeds, and for a
        controller whose efficiency follows its load.
    """
    tables = problem.design.tables
    heater, losses = tables.battery.heater, tables.regulator.losses
    fed = heater is not None and heater.feed == "array"
    if not (fed or losses) or strings == problem.strings:
        return problem
    health = problem.bank.health_frac
    return problem.under(Scenario(array_strings=strings, state_of_health_frac=health))


def simulate_size(
    problem: Problem, strings: int | None = None, battery_strings: int | None = None
) -> Simulation:
    """Simulate a prepared site, with other numbers of strings if wanted.

    Parameters
    ----------
    problem
        From `powerbudget.balance.problem.prepare`.
    strings, battery_strings
        Array and battery strings in parallel, the site's own by default; 0 array
        strings leave the panels away [count].

    Returns
    -------
    Simulation
        As `simulate`.
    """
    strings = problem.strings if strings is None else strings
    problem = at_strings(problem, strings).own_rows()
    bank = problem.bank.with_strings(battery_strings or problem.bank.parallel)
    s = problem.scalars(strings, bank)
    start, out = run_through(problem, s, start_removed_ah(problem, s))
    removed = np.concatenate([[start], out["removed_ah"]])
    return Simulation(problem, bank, strings, s, out, removed)
