"""The site of a review: laid out once, varied as a claim asks."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from powerbudget.balance.problem import Problem, prepare
from powerbudget.balance.simulation import Simulation, simulate_size
from powerbudget.battery.box import held_in_cold
from powerbudget.battery.chemistry import chemistries
from powerbudget.errors import ModelRangeError
from powerbudget.loads.budget import Budget, load_budget
from powerbudget.quantities import in_unit
from powerbudget.review.draw_range import DrawRange, draw_range
from powerbudget.site.reader import Design
from powerbudget.site.scenario import Scenario
from powerbudget.site.tables import Weather
from powerbudget.sizing.autonomy import design_autonomy_days
from powerbudget.sizing.criteria import judge

ARRAY_FREE = ("autonomy", "daily DOD")
"""Criteria that no panel can change."""
DARKER = "actual year of weather:"
DARKER_SUN = 0.77
"""Worst month of a real year over that of the typical year, one place in north-west
Colorado, one data base, 2017."""
TYPICAL = "Typical year: contains no extreme winter. Use 10 or more actual years"
NO_SNOW = "snow loss is not included"
LOW_END, HIGH_END = "load at its low value", "load at its high value"


@dataclass(frozen=True)
class Conditions:
    """One set of conditions under which a claim is looked at.

    Parameters
    ----------
    name
        The conditions in words [text].
    scenario
        What of the site is different under them.
    """

    name: str
    scenario: Scenario

    def loaded(self, factor: float) -> Conditions:
        """Return the same with so many times the load [Conditions]."""
        load = Scenario(load_factor=factor)
        return replace(self, scenario=load.over(self.scenario))


@dataclass(frozen=True)
class VariedSite:
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
        return prepare(self.design)

    @cached_property
    def run(self) -> Simulation:
        """The hourly simulation of the site as it stands."""
        return simulate_size(self.problem)

    @cached_property
    def load_range(self) -> DrawRange:
        """Mean watts of the heaviest month with the range its parts leave [W]."""
        return draw_range(self.design, lambda design: load_budget(design).average_w)

    @cached_property
    def array_w(self) -> float:
        """Rated watts of the array [W]."""
        array = self.design.tables.array
        return self.problem.array.module.power_w * array.series * array.parallel

    @cached_property
    def sun_hours(self) -> dict[int, float]:
        """Peak sun hours a day on the panel's plane by month, glass and dirt left out.

        Mean irradiation over 1 kW/m2 [h].
        """
        step_h, month = self.problem.record.step_h, self.problem.month_index
        kwh = np.bincount(month, self.problem.array.poa_w_m2, 12) * step_h / 1000
        days = np.bincount(month, minlength=12) * step_h / 24
        return {m + 1: float(kwh[m] / days[m]) for m in range(12) if days[m]}

    def year_mean(self, by_month: dict[int, float]) -> float:
        """Return the mean over the record of a figure by month [its unit]."""
        hours = np.bincount(self.problem.month_index, minlength=12).astype(float)
        weights = [hours[month - 1] for month in by_month]
        return float(np.average(list(by_month.values()), weights=weights))

    @property
    def weather_source(self) -> str:
        """Where the record comes from [text]."""
        return f"weather: {self.problem.record.source}"

    @property
    def sky_cautions(self) -> tuple[str, ...]:
        """What to keep in mind about the record [text]."""
        record, snow = self.problem.record, self.design.tables.array.snow
        bare = snow is None and record.temp_air_degc.min() < 0
        return (*[TYPICAL] * record.typical_year, *[NO_SNOW] * bool(bare))

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
        """Battery temperature at which the site asks for its autonomy [degC]."""
        tables = self.design.tables
        return held_in_cold(tables.battery, tables.criteria.autonomy_degc).degc

    @property
    def as_stated(self) -> Conditions:
        """The site's own conditions."""
        return self.conditions()[0]

    def conditions(self, *, load: float = 1.0, ranged: bool = True) -> list[Conditions]:
        """Return the conditions that are open here, the site's own first.

        Parameters
        ----------
        load
            On the site's load [ratio].
        ranged
            Whether the load has a range; it has none where a claim states it.

        Returns
        -------
        list of Conditions
            Own cold curve, the other one, the load at its likely low and high end.
        """

        def under(curve: str, factor: float = 1.0, words: str = "") -> Conditions:
            scenario = Scenario(temperature_derating=curve, load_factor=load * factor)
            return Conditions(f"{words}{curve} temperature derating", scenario)

        bank = self.problem.bank
        stated = bank.cold_curve
        conditions = [under(stated)]
        for name, curve in bank.chemistry.cold.items():
            if name != stated and curve.y != bank.chemistry.cold[stated].y:
                conditions.append(under(name))
        ends = self.load_range if ranged else None
        if ends is not None and ends.high_ratio - ends.low_ratio > 0.01:
            conditions.append(under(stated, ends.low_ratio, f"{LOW_END}, "))
            conditions.append(under(stated, ends.high_ratio, f"{HIGH_END}, "))
        return conditions

    def darker(self) -> list[Conditions]:
        """Return what must be tried beside a typical year, which hides bad winters.

        Returns
        -------
        list of Conditions
            Less sun all year; empty where the record holds real years, or without
            panels.
        """
        if not (self.problem.record.typical_year and self.problem.strings):
            return []
        name = f"{DARKER} {in_unit(100 * (1 - DARKER_SUN), '%')} less irradiation"
        return [Conditions(name, Scenario(sun_factor=DARKER_SUN))]

    def with_battery(
        self,
        ah: float | None = None,
        hour_rate_h: float | None = None,
        chemistry: str | None = None,
    ) -> Scenario:
        """Return the site with a battery of another size, rating or chemistry.

        Parameters
        ----------
        ah
            Name-plate Ah at the bus; the site's own when left out [Ah].
        hour_rate_h
            Hour rate of that rating [h].
        chemistry
            Another chemistry, of as many volts as its cells make up [name].

        Returns
        -------
        Scenario
            Health and charge controller stay the site's.
        """
        bank, kind = self.problem.bank, Scenario()
        unit = bank.unit
        if chemistry is not None and chemistry != bank.chemistry.name:
            cell_v = chemistries()[chemistry].cell_v
            volts = cell_v * round(unit.nominal_v / cell_v)
            if not volts:
                problem = f"a cell of {cell_v:g} V does not match a unit of {unit.nominal_v:g} V"
                raise ModelRangeError(problem)
            unit = unit.model_copy(update={"nominal_v": volts, "cells": None})
            kind = Scenario(chemistry=chemistry, battery_unit=unit)
        if ah is None:
            return kind
        changes = {
            "capacity_ah": ah,
            "hour_rate_h": hour_rate_h or unit.hour_rate_h,
            "slow_capacity_ah": None,
            "slow_hour_rate_h": None,
        }
        size = Scenario(battery_unit=unit.model_copy(update=changes), battery_strings=1)
        return size.over(kind)

    def under(self, scenario: Scenario) -> Problem:
        """Return the site under a scenario, its bank no younger or older [Problem]."""
        health = Scenario(state_of_health_frac=self.problem.bank.health_frac)
        return self.problem.under(scenario.over(health))

    def at_record(self, name: str) -> VariedSite:
        """Return the same equipment under the sky of a built-in record [VariedSite]."""
        weather = Weather.model_validate({"record": name})
        return VariedSite(Scenario(weather=weather).site(self.design))

    def autonomy_d(
        self, scenario: Scenario, degc: float | None = None, *, frost: bool = True
    ) -> float:
        """Return days from full without charge under some conditions [d].

        Parameters
        ----------
        scenario
            Battery, derating and load.
        degc
            Battery temperature; the site's design cold when left out [degC].
        frost
            Whether the first ice ends it as well.

        Returns
        -------
        float
            As `powerbudget.sizing.autonomy.design_autonomy_days` [d].
        """
        problem = self.under(scenario)
        stated = self.design.tables.criteria.autonomy_degc
        cold = stated if degc is None else degc
        return design_autonomy_days(problem, problem.bank, cold, frost=frost)

    def simulate(self, scenario: Scenario, array: float = 1.0) -> Simulation:
        """Return the hourly run under some conditions [Simulation].

        Parameters
        ----------
        scenario
            Battery, derating, load and sun.
        array
            On the number of panels; parts of a string serve the search for an edge
            [ratio].

        Returns
        -------
        Simulation
            Through the site's own record.
        """
        if array != 1.0:
            size = Scenario(array_strings=array * self.problem.strings)
            scenario = size.over(scenario)
        return simulate_size(self.under(scenario))

    def failed(
        self, run: Simulation, *, design_days: float | None = None
    ) -> tuple[str, ...]:
        """Return the criteria that a run does not meet.

        Parameters
        ----------
        run
            A simulation.
        design_days
            Autonomy in the cold [d]; left out, what no panel can change is too.

        Returns
        -------
        tuple of str
            Names, none when all are met [text].
        """
        left_out = ARRAY_FREE if design_days is None else ()
        verdicts = judge(run, design_days or 0.0)
        return tuple(v.name for v in verdicts if not v.met and v.name not in left_out)

    def watts(
        self, draw: tuple[str, float] | None, volts: float | None = None
    ) -> float:
        """Return W or Wh of a draw or sum, counted at the bus; 0 without one [W, Wh]."""
        return 0.0 if draw is None else times_volts(draw, volts or self.volts) or 0.0

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


def times_volts(figure: tuple[str, float], volts: float | None) -> float | None:
    """Return W or Wh of a figure in W, A, Wh or Ah; None where volts are missing.

    Examples
    --------
    >>> times_volts(("Ah", 100.0), 12.0), times_volts(("W", 5.0), None)
    (1200.0, 5.0)
    """
    unit, value = figure
    if unit.startswith("W"):
        return value
    return value * volts if volts else None


def blocks(bus_v: float, block_v: float) -> int:
    """Return how many blocks in series make up a bus, 12.8 V as one of 12 V [count].

    Examples
    --------
    >>> blocks(24.0, 12.0), blocks(12.0, 12.8), blocks(48.0, 2.0)
    (2, 1, 24)
    """
    return max(1, round(bus_v / block_v))
