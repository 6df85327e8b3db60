"""The site on the reviewer's desk: laid out once, varied as a claim asks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from powerbudget.balance.problem import Problem
from powerbudget.balance.simulation import Simulation, prepare_aged, simulate_size
from powerbudget.battery.bank import Bank
from powerbudget.battery.chemistry import chemistries
from powerbudget.loads.budget import Budget, load_budget
from powerbudget.review.solve import with_load, with_sun
from powerbudget.review.spread import Spread, spread
from powerbudget.site.model import Weather
from powerbudget.site.reader import Design
from powerbudget.sizing.autonomy import design_autonomy_days
from powerbudget.sizing.criteria import Verdict, judge

ARRAY_FREE = ("autonomy in the cold", "daily discharge")
"""Criteria that no panel can change."""
DARKER = "a real year's sky:"
DARKER_SUN = 0.77
"""Worst month of a real year over that of the typical year, one place in north-west
Colorado, one data base, 2017."""
LOW_END, HIGH_END = "load at its likely low end", "load at its likely high end"


@dataclass(frozen=True)
class Setting:
    """One set of conditions under which a claim is looked at.

    Parameters
    ----------
    name
        The conditions in words [text].
    curve
        Cold curve [name].
    load
        On the site's load [ratio].
    sun
        On what the record's sky gives [ratio].
    """

    name: str
    curve: str
    load: float = 1.0
    sun: float = 1.0


@dataclass(frozen=True)
class Desk:
    """A site, with what several claims ask of it kept at hand.

    Parameters
    ----------
    design
        A checked site.
    """

    design: Design

    @cached_property
    def budget(self) -> Budget:
        """The power budget of the site."""
        return load_budget(self.design)

    @cached_property
    def problem(self) -> Problem:
        """The site laid out for simulation, its bank as old as stated."""
        return prepare_aged(self.design)

    @cached_property
    def run(self) -> Simulation:
        """The hourly simulation of the site as it stands."""
        return simulate_size(self.problem)

    @cached_property
    def load_spread(self) -> Spread:
        """Mean watts of the heaviest month with the range its parts leave [W]."""
        return spread(self.design, lambda design: load_budget(design).average_w)

    @property
    def volts(self) -> float:
        """Nominal volts of the bus [V]."""
        return self.design.tables.bus.nominal_v

    @property
    def margin(self) -> float:
        """One plus the contingency [ratio]."""
        return 1.0 + self.design.tables.bus.contingency_frac

    @property
    def cold_degc(self) -> float:
        """Temperature at which the site asks for its autonomy [degC]."""
        return self.design.tables.criteria.autonomy_degc

    def settings(self, *, load: float = 1.0, ranged: bool = True) -> list[Setting]:
        """Return the conditions that are open here, the site's own first.

        Parameters
        ----------
        load
            On the site's load [ratio].
        ranged
            Whether the load has a range; it has none where a claim states it.

        Returns
        -------
        list of Setting
            Own cold curve, the other one, the load at its likely low and high end.
        """
        bank = self.problem.bank
        own = bank.cold_curve
        found = [Setting(f"{own} cold curve", own, load)]
        for name, curve in bank.chemistry.cold.items():
            if name != own and curve.y != bank.chemistry.cold[own].y:
                found.append(Setting(f"{name} cold curve", name, load))
        ends = self.load_spread if ranged else None
        if ends is not None and ends.high_ratio - ends.low_ratio > 0.01:
            low, high = ends.low_ratio, ends.high_ratio
            found.append(Setting(f"{LOW_END}, {own} cold curve", own, load * low))
            found.append(Setting(f"{HIGH_END}, {own} cold curve", own, load * high))
        return found

    def darker(self) -> list[Setting]:
        """Return what must be tried beside a typical year, which hides bad winters.

        Returns
        -------
        list of Setting
            Less sun all year; empty where the record holds real years, or without
            panels.
        """
        if not (self.problem.record.typical_year and self.problem.strings):
            return []
        name = f"{DARKER} {100 * (1 - DARKER_SUN):.0f} % less sun"
        return [Setting(name, self.problem.bank.cold_curve, sun=DARKER_SUN)]

    def bank_of(
        self,
        ah: float | None = None,
        hour_rate_h: float | None = None,
        curve: str | None = None,
        chemistry: str | None = None,
    ) -> Bank:
        """Return the site's bank with another size, rating, curve or chemistry.

        Parameters
        ----------
        ah
            Name-plate Ah at the bus; the site's own when left out [Ah].
        hour_rate_h
            Hour rate of that rating [h].
        curve
            Cold curve [name].
        chemistry
            Another chemistry [name].

        Returns
        -------
        Bank
            Health and regulator stay the site's.
        """
        bank = self.problem.bank
        if chemistry is not None and chemistry != bank.chemistry.name:
            bank = self._other(chemistry).problem.bank
        if ah is not None:
            changes = {
                "capacity_ah": ah,
                "hour_rate_h": hour_rate_h or bank.unit.hour_rate_h,
                "slow_capacity_ah": None,
                "slow_hour_rate_h": None,
            }
            unit = bank.unit.model_copy(update=changes)
            bank = replace(bank, unit=unit, parallel=1)
        if curve is not None and curve in bank.chemistry.cold:
            bank = bank.with_cold_curve(curve)
        return bank

    def problem_with(self, bank: Bank) -> Problem:
        """Return the site with a bank, of another chemistry if need be [Problem]."""
        problem = self.problem
        if bank.chemistry.name != problem.bank.chemistry.name:
            problem = self._other(bank.chemistry.name).problem
        return problem if bank == problem.bank else problem.with_bank(bank)

    def at_record(self, name: str) -> Desk:
        """Return the same equipment under the sky of a built-in record [Desk]."""
        weather = Weather.model_validate({"record": name})
        tables = self.design.tables.model_copy(update={"weather": weather})
        return Desk(replace(self.design, tables=tables))

    def _other(self, chemistry: str) -> Desk:
        """Return the desk with another chemistry of as many volts."""
        battery = self.design.tables.battery
        unit = self.design.battery_unit
        known = chemistries()[chemistry]
        cells = round(unit.nominal_v / known.cell_v)
        unit = unit.model_copy(update={"nominal_v": known.cell_v * cells})
        changes = {"chemistry": chemistry, "unit": unit}
        tables = self.design.tables.model_copy(
            update={"battery": battery.model_copy(update=changes)}
        )
        return Desk(replace(self.design, tables=tables))

    def autonomy_d(
        self,
        setting: Setting,
        bank: Bank | None = None,
        degc: float | None = None,
        *,
        frost: bool = True,
    ) -> float:
        """Return days from full without charge under some conditions [d].

        Parameters
        ----------
        setting
            Cold curve and load.
        bank
            Another bank than the site's.
        degc
            Battery temperature; the site's design cold when left out [degC].
        frost
            Whether the first ice ends it as well.

        Returns
        -------
        float
            As `powerbudget.sizing.autonomy.design_autonomy_days` [d].
        """
        bank = self.problem.bank if bank is None else bank
        if setting.curve in bank.chemistry.cold:
            bank = bank.with_cold_curve(setting.curve)
        problem = with_load(self.problem_with(bank), setting.load)
        cold = self.cold_degc if degc is None else degc
        return design_autonomy_days(problem, bank, cold, frost=frost)

    def simulate(
        self, setting: Setting, sun: float = 1.0, bank: Bank | None = None
    ) -> Simulation:
        """Return the hourly run under some conditions [Simulation].

        Parameters
        ----------
        setting
            Cold curve and load.
        sun
            On what the array gives [ratio].
        bank
            Another bank than the site's.

        Returns
        -------
        Simulation
            Through the site's own record.
        """
        bank = self.problem.bank if bank is None else bank
        if setting.curve in bank.chemistry.cold:
            bank = bank.with_cold_curve(setting.curve)
        problem = with_load(self.problem_with(bank), setting.load)
        problem = with_sun(problem, sun * setting.sun)
        return simulate_size(problem, None, bank.parallel)

    def failed(
        self, run: Simulation, *, array_only: bool, design_days: float | None = None
    ) -> tuple[Verdict, ...]:
        """Return the criteria that a run does not meet.

        Parameters
        ----------
        run
            A simulation.
        array_only
            Whether to leave out what no panel can change.
        design_days
            Autonomy in the cold, where it is known already [d].

        Returns
        -------
        tuple of Verdict
            Empty when all are met.
        """
        days = 0.0 if array_only and design_days is None else design_days
        found = judge(run, days)
        if array_only:
            found = tuple(v for v in found if v.name not in ARRAY_FREE)
        return tuple(verdict for verdict in found if not verdict.met)

    def watts(
        self, draw: tuple[str, float] | None, volts: float | None = None
    ) -> float:
        """Return a draw in watts at the bus, 0 without one [W]."""
        if draw is None:
            return 0.0
        unit, value = draw
        return value if unit == "W" else value * (volts or self.volts)

    def bus_ah(self, store: tuple[str, float], volts: float | None = None) -> float:
        """Return a battery's Ah counted at the bus voltage [Ah].

        Parameters
        ----------
        store
            ``("Ah", value)`` or ``("Wh", value)``.
        volts
            Volts at which the Ah are counted; the bus's when left out [V].

        Returns
        -------
        float
            ``Wh / bus volts``, or Ah over blocks in series [Ah].
        """
        unit, value = store
        if unit == "Wh":
            return value / self.volts
        return value / blocks(self.volts, volts or self.volts)


def blocks(bus_v: float, block_v: float) -> int:
    """Return how many blocks in series make up a bus, 12.8 V as one of 12 V [count].

    Examples
    --------
    >>> blocks(24.0, 12.0), blocks(12.0, 12.8), blocks(48.0, 2.0)
    (2, 1, 24)
    """
    return max(1, round(bus_v / block_v))
