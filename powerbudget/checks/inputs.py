"""What the checks look at: lines, rails, voltages and temperatures of a site, once."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from powerbudget.balance.events import highest_charge_v, local_iso
from powerbudget.balance.problem import Problem, prepare
from powerbudget.balance.simulation import Simulation, simulate_size
from powerbudget.battery.bank import Bank
from powerbudget.battery.resistance import ohmic_ohm
from powerbudget.loads.items import Item
from powerbudget.loads.rails import Rail
from powerbudget.loads.wiring import pair_ohm
from powerbudget.quantities import in_unit
from powerbudget.site.circuit import Protection, Wire
from powerbudget.site.reader import Design
from powerbudget.site.tables import Site
from powerbudget.weather.design import coldest_design_degc

WARM_WIRE_DEGC = 20.0


@dataclass(frozen=True)
class Extremes:
    """Coldest and hottest air of the place.

    Parameters
    ----------
    record_low_degc, record_high_degc
        In the weather record [degC].
    design_low_degc, design_high_degc
        From design temperatures, NaN where none are given; of fifty years first [degC].
    yearly_low_degc
        Mean of the lowest temperature of each year, NaN where not given [degC].
    """

    record_low_degc: float
    record_high_degc: float
    design_low_degc: float = math.nan
    design_high_degc: float = math.nan
    yearly_low_degc: float = math.nan

    @property
    def low_degc(self) -> float:
        """The coldest of record and design [degC]."""
        return float(np.fmin(self.record_low_degc, self.design_low_degc))

    @property
    def high_degc(self) -> float:
        """The hottest of record and design [degC]."""
        return float(np.fmax(self.record_high_degc, self.design_high_degc))


@dataclass(frozen=True)
class CheckInputs:
    """A site as the checks see it.

    Parameters
    ----------
    problem
        The site laid out: load, sky, array, battery.
    air
        Coldest and hottest air.
    """

    problem: Problem
    air: Extremes

    @cached_property
    def items(self) -> tuple[Item, ...]:
        """The budget's loads of which there is at least one."""
        return tuple(i for i in self.problem.budget.items if i.load.quantity)

    @property
    def rails(self) -> dict[str, Rail]:
        """What feeds the loads, by name; the bus has an empty name."""
        return self.problem.budget.rails

    @property
    def design(self) -> Design:
        """The checked site file."""
        return self.problem.design

    @property
    def tables(self) -> Site:
        """Tables of the site file."""
        return self.problem.design.tables

    @property
    def protection(self) -> Protection:
        """The ``[protection]`` table, empty where there is none."""
        return self.tables.protection or Protection()

    @property
    def bank(self) -> Bank:
        """Units, health and cold curve of the battery as laid out."""
        return self.problem.bank

    @property
    def nominal_v(self) -> float:
        """Nominal bus voltage [V]."""
        return self.tables.bus.nominal_v

    @property
    def low_v(self) -> float:
        """Lowest bus voltage at which loads are on [V]."""
        return self.problem.budget.lowest_bus_v

    @property
    def mean_a(self) -> float:
        """Mean bus current in the heaviest month [A]."""
        return self.problem.mean_load_a

    @property
    def heater_a(self) -> float:
        """Highest current of a battery heater that the battery feeds [A]."""
        heater = self.tables.battery.heater
        fed = heater is not None and heater.feed == "battery"
        return heater.power_w / self.low_v if heater and fed else 0.0

    @cached_property
    def run(self) -> Simulation:
        """The hourly run, made when a check first asks for it."""
        return simulate_size(self.problem)

    @cached_property
    def battery_low_degc(self) -> float:
        """Coldest battery of the record, colder where the design minimum is [degC]."""
        return float(self.problem.conditions.battery_degc.min()) - self.colder_k

    @property
    def colder_k(self) -> float:
        """How much colder the design minimum is than the record, for the battery [K].

        Notes
        -----
        A buried vault and a heated box do not follow the coldest hour.
        """
        battery = self.tables.battery
        box = battery.box
        if battery.heater is not None or (box is not None and box.kind == "buried"):
            return 0.0
        gap = self.air.record_low_degc - self.air.low_degc
        return max(0.0, gap)

    @cached_property
    def highest_v(self) -> tuple[float, str]:
        """Highest compensated charge voltage of the bus, and when [V, text]."""
        volts, k = highest_charge_v(self.problem)
        when = local_iso(self.problem, k)
        bank, degc = self.bank, self.problem.conditions.battery_degc[k]
        if not self.colder_k or degc - self.colder_k < bank.charge_min_degc:
            return (
                volts,
                f"battery at {in_unit(degc, '°C', 1)}, {when[5:10]} {when[11:16]}",
            )
        cold = degc - self.colder_k
        colder = bank.asked_v(cold)
        return float(
            colder
        ), f"battery at {in_unit(cold, '°C', 1)}, at the design minimum temperature"

    @cached_property
    def wire_hot_degc(self) -> float:
        """Conductor temperature at which wire resistance is worst [degC]."""
        return max(WARM_WIRE_DEGC, self.air.high_degc)

    def wire_ohm(self, wire: Wire | None, degc: float) -> float:
        """Return the resistance of a pair at a temperature, 0 without one [ohm]."""
        if wire is None:
            return 0.0
        return float(pair_ohm(wire.gauge, wire.length_m, degc))

    def item_ohm(self, item: Item, degc: float) -> float:
        """Return the resistance of a line's pair at a temperature [ohm]."""
        return self.wire_ohm(item.load.wire, degc)

    @cached_property
    def burst_ohm(self) -> float:
        """Resistance of cold bank and main wire to a short burst [ohm]."""
        degc = self.battery_low_degc
        main = self.wire_ohm(self.tables.battery.wire, self.wire_hot_degc)
        return ohmic_ohm(self.bank, degc, low_state=True) + main

    @cached_property
    def array_charge_a(self) -> float:
        """Highest current that the array can push into the bank [A]."""
        problem = self.problem
        volts = 0.95 * self.nominal_v
        if problem.currents.shape[1]:
            return problem.strings * problem.array.module.short_circuit_a
        watts = float(problem.hourly["array_w"].max()) * problem.strings
        return watts / volts

    @property
    def panels(self) -> bool:
        """Whether the site has panels."""
        return self.tables.array.parallel > 0

    @cached_property
    def generator_charge_a(self) -> float:
        """Highest current that the generators can push into the bank [A]."""
        # The most, and not the least: the higher of two set-ups that are open.
        air, watts = self.problem.record.temp_air_degc, 0.0
        for unit in self.problem.sources.units:
            stated = unit.table.fuel_adjusted_for_altitude
            most = unit.with_fuel_adjusted(True) if stated is None else unit
            watts += float(most.bus_w(air).max())
        return watts / (0.95 * self.nominal_v)


def collect(design: Design, problem: Problem | None = None) -> CheckInputs:
    """Return a site as the checks see it.

    Parameters
    ----------
    design
        A checked site.
    problem
        The same site prepared, where that is at hand.

    Returns
    -------
    CheckInputs
        The run is made only when a check asks for it.

    Raises
    ------
    InputError, DataError
        When weather, module or load cannot be used.
    """
    problem = problem or prepare(design)
    return CheckInputs(problem, _air(problem))


def _air(problem: Problem) -> Extremes:
    degc, design = problem.record.temp_air_degc, problem.record.design
    low, high = float(degc.min()), float(degc.max())
    if design is None:
        return Extremes(low, high)
    return Extremes(
        low,
        high,
        coldest_design_degc(design),
        design.annual_maximum_degc,
        design.annual_minimum_degc,
    )
