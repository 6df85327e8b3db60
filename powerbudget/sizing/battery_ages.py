"""At which ages of its battery a size must do: at end of life, and as it is built."""

from __future__ import annotations

from powerbudget.balance.problem import Problem
from powerbudget.balance.simulation import Simulation
from powerbudget.site.scenario import Scenario
from powerbudget.sizing.criteria import Verdict, at_most, judge

AT_BEGINNING = "criteria failed at beginning of life"


def judged_problem(problem: Problem) -> Problem:
    """Return the site with its battery as old as a size must still do with.

    Parameters
    ----------
    problem
        The site, its battery as old as the site file says.

    Returns
    -------
    Problem
        With the battery at its end-of-life capacity, or less where the site file says
        so; unchanged where ``[sizing] battery_age`` is ``"beginning-of-life"``.
    """
    bank = problem.bank
    end = bank.chemistry.end_of_life_frac
    if not lasts(problem) or bank.health_frac <= end:
        return problem
    return problem.under(Scenario(state_of_health_frac=end))


def lasts(problem: Problem) -> bool:
    """Return whether a size is asked to meet the criteria at end of life as well.

    Parameters
    ----------
    problem
        The site; ``[criteria] at_end_of_life`` asks for it too.
    """
    tables = problem.design.tables
    end = tables.sizing.battery_age == "end-of-life"
    return end or tables.criteria.at_end_of_life


def beginning_problem(problem: Problem) -> Problem | None:
    """Return the site with a new battery, None where sizes are not asked to last.

    Parameters
    ----------
    problem
        From `judged_problem`.
    """
    return problem.under(Scenario(state_of_health_frac=1.0)) if lasts(problem) else None


def with_beginning(
    verdicts: tuple[Verdict, ...], new: Simulation, design_days: float
) -> tuple[Verdict, ...]:
    """Return the verdicts at end of life with one on the same size at its beginning.

    Parameters
    ----------
    verdicts
        Of the size with its battery at end of life.
    new
        The same size with a new battery.
    design_days
        Autonomy at end of life, the least of any age [d].

    Returns
    -------
    tuple of Verdict
        One more.

    Notes
    -----
    More capacity is not better in everything: it takes longer to recover, and loses
    more by self-discharge.
    """
    missed = sum(not verdict.met for verdict in judge(new, design_days))
    return (*verdicts, at_most(AT_BEGINNING, missed, 0.0, "count"))
