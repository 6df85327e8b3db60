"""A site on which sizes are tried: simulated and judged, battery old and new."""

from __future__ import annotations

from powerbudget.balance.problem import Problem
from powerbudget.balance.simulation import Simulation, simulate_size
from powerbudget.sizing.autonomy import design_autonomy_days
from powerbudget.sizing.battery_ages import judged_problem, with_beginning
from powerbudget.sizing.criteria import Verdict, judge


class SizedSite:
    """A prepared site, its battery as old as a size must still do with.

    Parameters
    ----------
    problem
        The site, its battery as old as the site file says.

    Notes
    -----
    `size` and `compare` try their sizes here, so that both judge one alike.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem = judged_problem(problem)
        self._days: dict[int, float] = {}

    def design_days(self, battery: int) -> float:
        """Return the autonomy in the stated cold of so many battery strings [d]."""
        if battery not in self._days:
            bank = self.problem.bank.with_strings(battery)
            degc = self.problem.design.tables.criteria.autonomy_degc
            self._days[battery] = design_autonomy_days(self.problem, bank, degc)
        return self._days[battery]

    def judged(
        self, run: Simulation, fresh: Problem | None
    ) -> tuple[tuple[Verdict, ...], Simulation | None]:
        """Return every verdict on a run, with one on a new battery where it passes.

        Parameters
        ----------
        run
            A size with the battery at the age that it must do with.
        fresh
            The same site with a new battery, None where sizes are not asked to last.

        Returns
        -------
        tuple
            Verdicts, and the run with a new battery where there was one.
        """
        days = self.design_days(run.bank.parallel)
        verdicts = judge(run, days)
        # A size that fails at end of life fails anyway.
        if fresh is None or not all(verdict.met for verdict in verdicts):
            return verdicts, None
        new = simulate_size(fresh, run.strings, run.bank.parallel)
        return with_beginning(verdicts, new, days), new
