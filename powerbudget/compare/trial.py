"""One size of an option, simulated and judged."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from powerbudget.balance.simulation import Simulation
from powerbudget.site.generator import Generator
from powerbudget.sizing.criteria import Verdict

LINE = "utility line"


@dataclass(frozen=True)
class Trial:
    """One size of an option and how it does.

    Parameters
    ----------
    run
        Its simulation.
    strings, battery
        Array and battery strings [count].
    generators
        Generator tables.
    verdicts
        Each criterion.
    new
        The same with a new battery, where it was run.
    """

    run: Simulation
    strings: int
    battery: int
    generators: tuple[Generator, ...]
    verdicts: tuple[Verdict, ...]
    new: Simulation | None = None

    @property
    def met(self) -> bool:
        """Whether every criterion is met."""
        return all(verdict.met for verdict in self.verdicts)

    @property
    def failed(self) -> tuple[Verdict, ...]:
        """Criteria that are not met."""
        return tuple(verdict for verdict in self.verdicts if not verdict.met)

    @property
    def modules(self) -> int:
        """Modules to buy [count]."""
        return self.strings * self.run.problem.design.tables.array.series

    @property
    def units(self) -> int:
        """Battery units to buy [count]."""
        return self.battery * self.run.problem.design.tables.battery.series

    @property
    def array_w(self) -> float:
        """Rated power of the modules [W]."""
        return self.modules * self.run.problem.array.module.power_w


def generation(trial: Trial) -> tuple[Any, ...]:
    """Return what each generator of a trial did in a year, without lines."""
    return tuple(y for y in trial.run.generation if y.name != LINE)
