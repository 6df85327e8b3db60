"""The hourly simulation of a site, and what it answers."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
from powerbudget.balance.arrayload import (
    ArrayToLoad,
    array_to_load,
    asked_w,
    delivered_w,
    ratio_of,
)
from powerbudget.balance.drive import HOURS_PER_YEAR, start_removed_ah
from powerbudget.balance.events import (
    Event,
    Frost,
    Outage,
    blocked_sun,
    find_frost,
    find_outages,
    highest_charge_v,
    list_events,
    local_iso,
)
from powerbudget.balance.generation import GeneratorYear, generator_years
from powerbudget.balance.ledger import Ledger, make_ledger, served_tiers, tier_w
from powerbudget.balance.problem import Problem, prepare
from powerbudget.balance.remarks import run_findings
from powerbudget.balance.ring import run_through, state_history
from powerbudget.balance.scenario import Scenario
from powerbudget.battery.ageing import Life, make_life
from powerbudget.battery.bank import Bank
from powerbudget.errors import Finding
from powerbudget.site.reader import Design
from powerbudget.weather import WeatherRecord

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class MonthRow:
    """One calendar month, over all years of the record.

    Parameters
    ----------
    month
        1-12.
    array_to_load_ratio
        As `powerbudget.balance.arrayload` defines it [ratio].
    array_wh_per_day, load_wh_per_day
        What the array can deliver at the bus a day and the loads ask there: the two
        energies of that ratio [Wh].
    spill_wh
        What the array could have given at the voltages of the run and nobody took [Wh].
    lowest_soc_frac, hours_off
        Lowest state of charge and hours without the loads [fraction, h].
    array_used_wh_per_day, generator_wh_per_day
        What battery and loads took a day of the array and of other sources [Wh].
    """

    month: int
    array_to_load_ratio: float
    array_wh_per_day: float
    load_wh_per_day: float
    spill_wh: float
    lowest_soc_frac: float
    hours_off: float
    array_used_wh_per_day: float = 0.0
    generator_wh_per_day: float = 0.0


@dataclass(frozen=True, eq=False)
class Simulation:
    """Result of an hourly run; what is asked of it is counted on first use.

    Parameters
    ----------
    problem, bank, strings, scalars
        What was simulated.
    out
        Kernel results by interval [see `powerbudget.balance.columns`].
    removed_ah
        Charge removed at interval bounds, one more than intervals [Ah].
    """

    problem: Problem
    bank: Bank
    strings: int
    scalars: Floats
    out: Floats
    removed_ah: Floats

    @cached_property
    def soc_frac(self) -> Floats:
        """State at each interval's end, of the Ah held at 25 degC and this load."""
        return np.asarray(1.0 - self.removed_ah[1:] / self.scalars[col.S_CHARGE_AH])

    @property
    def start_soc_frac(self) -> float:
        """State of charge at the first interval [fraction]."""
        return float(1.0 - self.removed_ah[0] / self.scalars[col.S_CHARGE_AH])

    @property
    def rated_soc_frac(self) -> Floats:
        """State at the end of each interval on rated Ah, for frost and wear."""
        return np.asarray(1.0 - self.removed_ah[1:] / self.bank.rated_ah)

    @cached_property
    def served(self) -> NDArray[np.bool_]:
        """Whether the loads were on, by interval."""
        return np.asarray(self.out[:, col.R_SERVED] > 0.5)

    @property
    def years(self) -> float:
        """Length of the record [year]."""
        return self.problem.record.n * self.problem.record.step_h / HOURS_PER_YEAR

    @property
    def availability_frac(self) -> float:
        """Intervals with the loads of tier 0 served over all [fraction]."""
        return float(self.served.mean())

    @cached_property
    def hours_off_by_tier(self) -> tuple[float, float, float]:
        """Hours without the loads, those shed first, those shed second [h]."""
        hours = (~served_tiers(self.out)).sum(axis=1) * self.problem.record.step_h
        last, first, second = (float(h) for h in hours)
        return last, first, second

    @cached_property
    def energy_not_served_wh(self) -> float:
        """What loads of every tier would have drawn while off [Wh]."""
        missed = tier_w(self.problem, self.out) * ~served_tiers(self.out)
        return float(missed.sum() * self.problem.record.step_h)

    @cached_property
    def outages(self) -> tuple[Outage, ...]:
        """Every stretch without the loads, in order."""
        return find_outages(self.problem, self.scalars, self.removed_ah, self.out)

    @cached_property
    def _lowest(self) -> int:
        return int(np.argmin(self.soc_frac))

    @property
    def lowest_soc_frac(self) -> float:
        """Lowest state of charge [fraction]."""
        return float(self.soc_frac[self._lowest])

    @property
    def lowest_soc_at(self) -> str:
        """When that was, local standard time [ISO text]."""
        return local_iso(self.problem, self._lowest)

    @cached_property
    def monthly(self) -> tuple[MonthRow, ...]:
        """Each calendar month, over all years of the record."""
        return _monthly(self)

    @cached_property
    def array_to_load(self) -> ArrayToLoad:
        """A:L of the month in which it is smallest."""
        return array_to_load(self)

    @cached_property
    def ledger(self) -> Ledger:
        """Where the energy went."""
        case = (self.problem, self.scalars, self.strings, self.removed_ah, self.out)
        return make_ledger(*case)

    @cached_property
    def generation(self) -> tuple[GeneratorYear, ...]:
        """What each ``[[generator]]`` burnt, gave and needed, by the year."""
        return generator_years(self)

    @cached_property
    def frost(self) -> Frost:
        """How near the bank came to freezing."""
        return find_frost(self.problem, self.scalars, self.removed_ah)

    @cached_property
    def events(self) -> tuple[Event, ...]:
        """What happened to the bank."""
        problem = replace(self.problem, bank=self.bank)
        return list_events(problem, self.removed_ah, self.out, self.frost)

    @property
    def availability_to_loss_frac(self) -> float:
        """Share of the record served before the bank freezes [fraction].

        No availability: that is `availability_frac`, as if the bank had lived, and the
        loss is told beside it by date and cause.
        """
        lost = self.frost.lost_index
        kept = self.served if lost < 0 else self.served[:lost]
        return float(kept.sum() / self.served.size)

    @cached_property
    def _blocked(self) -> tuple[float, float]:
        return blocked_sun(self.problem, self.strings)

    @property
    def blocked_sun_h(self) -> float:
        """Sun in which temperature blocked charging [h]."""
        return self._blocked[0]

    @property
    def blocked_sun_wh(self) -> float:
        """Array energy in those hours [Wh]."""
        return self._blocked[1]

    @cached_property
    def _highest(self) -> tuple[float, int]:
        return highest_charge_v(self.problem)

    @property
    def highest_charge_v(self) -> float:
        """Voltage to which charging may lift the bus in the coldest sun [V]."""
        return self._highest[0]

    @property
    def highest_charge_at(self) -> str:
        """When that is, local standard time [ISO text]."""
        return local_iso(self.problem, self._highest[1])

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What a careful colleague would point out."""
        return run_findings(self)


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
    return simulate_size(prepare(design, record))


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
        The same, but for a battery heater that only the array feeds: then the
        battery's temperature depends on the array.
    """
    heater = problem.design.tables.battery.heater
    if heater is None or heater.feed == "battery" or strings == problem.strings:
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
    problem = at_strings(problem, strings)
    bank = problem.bank.with_strings(battery_strings or problem.bank.parallel)
    s = problem.scalars(strings, bank)
    start, out = run_through(problem, s, start_removed_ah(problem, s))
    removed = np.concatenate([[start], out[:, col.R_REMOVED_AH]])
    return Simulation(problem, bank, strings, s, out, removed)


def demand_w(problem: Problem, out: Floats) -> Floats:
    """Return what the switched loads ask at the bus, on or off [W]."""
    return np.asarray(tier_w(problem, out).sum(axis=0))


def _monthly(run: Simulation) -> tuple[MonthRow, ...]:
    problem, out = run.problem, run.out
    step, volts = problem.record.step_h, out[:, col.R_BUS_V]
    delivered = delivered_w(run)
    used = out[:, col.R_ARRAY_A] * volts
    offered = out[:, col.R_OFFERED_A] * volts
    if problem.currents.shape[1] == 0:
        offered = delivered
    which = problem.month_index

    def summed(values: Floats) -> Floats:
        return np.asarray(np.bincount(which, values, 12) * step, float)

    others = (out[:, col.R_STEADY_A] + out[:, col.R_SOURCE_A]) * volts
    sums = (summed(delivered), summed(asked_w(run)), summed(used), summed(others))
    spilled = summed(offered - used)
    off = summed((~run.served).astype(float))
    hours = np.bincount(which, minlength=12) * step
    lowest = np.full(12, np.inf)
    np.minimum.at(lowest, which, run.soc_frac)
    return tuple(
        MonthRow(
            month=m + 1,
            array_to_load_ratio=ratio_of(float(sums[0][m]), float(sums[1][m])),
            array_wh_per_day=float(sums[0][m] / hours[m] * 24),
            load_wh_per_day=float(sums[1][m] / hours[m] * 24),
            spill_wh=float(spilled[m]),
            lowest_soc_frac=float(lowest[m]),
            hours_off=float(off[m]),
            array_used_wh_per_day=float(sums[2][m] / hours[m] * 24),
            generator_wh_per_day=float(sums[3][m] / hours[m] * 24),
        )
        for m in range(12)
        if hours[m]
    )
