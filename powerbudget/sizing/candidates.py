"""One purchasable design, what it weighs and costs, and which criteria it meets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from powerbudget.balance.simulation import Simulation
from powerbudget.quantities import in_unit
from powerbudget.site.fields import MONTHS
from powerbudget.site.reader import Design
from powerbudget.sizing.criteria import Verdict
from powerbudget.sizing.installed import installed_cost


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
        Installed, see `powerbudget.sizing.installed`; None without prices [currency].
    verdicts
        Each criterion [Verdict].
    lowest_soc_at, lost_at
        Days of the lowest charge and of the first outage, empty without one [text].
    lowest_soc_frac, availability_frac
        From the hourly run [fraction].
    tilt_deg, series
        How the panel stands, and modules in a string [deg, count].
    mass_kg
        Modules and units; None where a mass is not known [kg].
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
    tilt_deg: float
    series: int
    mass_kg: float | None

    @property
    def met(self) -> bool:
        """Whether every criterion is met."""
        return all(verdict.met for verdict in self.verdicts)

    @property
    def failed(self) -> tuple[str, ...]:
        """Names of criteria that are not met [text]."""
        return tuple(verdict.name for verdict in self.verdicts if not verdict.met)

    @property
    def parts(self) -> int:
        """Modules and battery units together [count]."""
        return self.modules + self.battery_units

    def found(self, name: str) -> float:
        """Return the figure behind the criterion whose name starts so.

        Parameters
        ----------
        name
            First words of the criterion [text].

        Returns
        -------
        float
            In the criterion's own unit.
        """
        return next(v.found for v in self.verdicts if v.name.startswith(name))


def make_candidate(run: Simulation, verdicts: tuple[Verdict, ...]) -> Candidate:
    """Return a simulated design with its pieces counted.

    Parameters
    ----------
    run
        Its hourly run.
    verdicts
        What `judge` says of it.

    Returns
    -------
    Candidate
        With the days on which it was lowest and lost.
    """
    tables = run.problem.design.tables
    modules = run.strings * tables.array.series
    units = run.bank.units
    return Candidate(
        array_strings=run.strings,
        battery_strings=run.bank.parallel,
        modules=modules,
        battery_units=units,
        array_w=modules * run.problem.array.module.power_w,
        battery_ah=run.bank.nameplate_ah,
        cost=installed_cost(run.problem, run.strings, run.bank.parallel),
        verdicts=verdicts,
        lowest_soc_frac=run.lowest_soc_frac,
        availability_frac=run.availability_frac,
        lowest_soc_at=day_words(run, run.lowest_soc_at),
        lost_at=day_words(run, run.outages[0].start) if run.outages else "",
        tilt_deg=tables.array.tilt_deg,
        series=tables.array.series,
        mass_kg=_mass_kg(run.problem.design, modules, units),
    )


def day_words(run: Simulation, iso: str) -> str:
    """Return a day for people; the year of a typical year means nothing [text]."""
    year, month, day = iso[:10].split("-")
    words = f"{int(day)} {MONTHS[int(month) - 1]}"
    return words if run.problem.record.typical_year else f"{words} {year}"


def lost_words(run: Simulation) -> str:
    """Return when and why the battery was lost, empty where it was not [text]."""
    frost = run.frost
    if not frost.lost_at:
        return ""
    return (
        f"battery frozen (destroyed) on {day_words(run, frost.lost_at)}, frozen "
        f"for {in_unit(frost.hours_frozen, 'h')} in total"
    )


def piece_masses_kg(design: Design) -> tuple[float | None, float | None]:
    """Return the mass of a module and of a battery unit, None where not known [kg].

    Parameters
    ----------
    design
        A checked site: ``[sizing]`` comes before the parts library.

    Returns
    -------
    tuple
        Module and battery unit [kg].
    """
    tables = design.tables
    given = (tables.sizing.module_mass_kg, tables.sizing.battery_unit_mass_kg)
    named: tuple[Any, Any] = (tables.array.module, tables.battery.unit)
    found = []
    for mass, name in zip(given, named, strict=True):
        part: Any = design.parts.get(name) if isinstance(name, str) else None
        found.append(mass if mass is not None else getattr(part, "mass", None))
    return found[0], found[1]


def _mass_kg(design: Design, modules: int, units: int) -> float | None:
    module, unit = piece_masses_kg(design)
    if module is None or unit is None:
        return None
    return modules * module + units * unit
