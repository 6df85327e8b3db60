"""Every check of a site in one list, and the answer that `check` gives.

To add a check, write a function that takes `CheckInputs` and yields rows, and put it into
`FINDERS`.  Nothing else needs to know of it.
"""

from __future__ import annotations

from dataclasses import dataclass

from powerbudget.balance.problem import Problem
from powerbudget.checks import (
    battery,
    branches,
    charging,
    fuel,
    loops,
    photovoltaic,
    protection,
)
from powerbudget.checks import environment as place
from powerbudget.checks.cautions import Caution, cautions
from powerbudget.checks.inputs import CheckInputs, collect
from powerbudget.checks.result import Check, Finder, NotChecked, worst_first
from powerbudget.checks.voltage_profile import Stairs, worst_stairs
from powerbudget.site.reader import Design

FINDERS: tuple[Finder, ...] = (
    loops.compliance,
    loops.hart,
    loops.multidrop,
    loops.fieldbus,
    branches.mean_drop,
    branches.peak_drop,
    branches.at_disconnect,
    branches.at_peak,
    branches.on_charge,
    photovoltaic.class_low,
    photovoltaic.class_high,
    photovoltaic.string_voltage,
    photovoltaic.regulator_current,
    photovoltaic.array_fuse,
    photovoltaic.array_wire,
    photovoltaic.string_fuse,
    charging.array_drop,
    battery.charge_high,
    battery.charge_low,
    battery.charge_cold,
    battery.charge_hot,
    battery.discharge_cold,
    battery.compensation,
    charging.set_point,
    battery.interrupting,
    battery.vents,
    battery.freezing,
    protection.converter,
    protection.bus_fuse,
    protection.battery_main,
    protection.array_main,
    protection.branch_fuses,
    protection.load_terminals,
    protection.independent,
    protection.gap,
    charging.deep,
    charging.reach,
    charging.restart,
    place.cold,
    place.hot,
    place.altitude,
    place.band,
    fuel.pressure,
    fuel.altitude,
)
"""Each yields rows from `CheckInputs`."""
OF_PANELS = frozenset(
    {
        photovoltaic.class_low,
        photovoltaic.class_high,
        photovoltaic.string_voltage,
        photovoltaic.regulator_current,
        photovoltaic.array_fuse,
        photovoltaic.array_wire,
        photovoltaic.string_fuse,
        charging.array_drop,
        battery.charge_low,
        protection.array_main,
    }
)
"""Those that have nothing to look at on a site without panels."""


@dataclass(frozen=True)
class CheckReport:
    """Every check of a site.

    Parameters
    ----------
    checks
        Worst first.
    not_checked
        What could not be looked at, for lack of a figure.
    cautions
        What no calculation takes away.
    facts
        The site as the checks saw it.
    """

    checks: tuple[Check, ...]
    not_checked: tuple[NotChecked, ...]
    cautions: tuple[Caution, ...]
    facts: CheckInputs

    @property
    def verdict(self) -> str:
        """The worst verdict of all: ``pass``, ``warn`` or ``fail`` [text]."""
        return self.checks[0].verdict if self.checks else "pass"

    @property
    def failed(self) -> tuple[Check, ...]:
        """Those beyond their limit, for which `check` ends with code 1."""
        return tuple(c for c in self.checks if c.verdict == "fail")

    @property
    def counts(self) -> dict[str, int]:
        """How many fail, warn, pass, and how many were not made [count]."""
        found = {
            word: sum(c.verdict == word for c in self.checks)
            for word in ("fail", "warn", "pass")
        }
        return {**found, "not_checked": len(self.not_checked)}

    @property
    def stairs(self) -> Stairs:
        """Voltage budget of the worst branch, from battery to terminal."""
        return worst_stairs(self.facts)


def check(design: Design, problem: Problem | None = None) -> CheckReport:
    """Hold every circuit of a site against its rules.

    Parameters
    ----------
    design
        A checked site file.
    problem
        The same site prepared, where that is at hand.

    Returns
    -------
    CheckReport
        Checks with verdict, margin, rule and source, worst first; what is missing;
        cautions.

    Raises
    ------
    InputError, DataError
        When weather, module or load cannot be used.
    """
    facts = collect(design, problem)
    panels = design.tables.array.parallel > 0
    finders = [f for f in FINDERS if panels or f not in OF_PANELS]
    rows = [row for finder in finders for row in finder(facts)]
    fuelled = bool(design.tables.generator)
    return CheckReport(
        checks=worst_first(row for row in rows if isinstance(row, Check)),
        not_checked=tuple(row for row in rows if isinstance(row, NotChecked)),
        cautions=cautions(facts.bank, fuel=fuelled),
        facts=facts,
    )
