"""The hourly simulation of a site, and what it answers."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
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
from powerbudget.balance.ledger import Ledger, make_ledger, served_tiers, tier_w
from powerbudget.balance.problem import Problem, prepare
from powerbudget.balance.remarks import run_findings
from powerbudget.battery.ageing import Life, health_after_frac, make_life
from powerbudget.battery.bank import Bank
from powerbudget.errors import Finding
from powerbudget.site.reader import Design
from powerbudget.weather import WeatherRecord

Floats = NDArray[np.float64]
WARM_UP_DAYS = 150
HOURS_PER_YEAR = 8766.0


@dataclass(frozen=True)
class MonthRow:
    """One calendar month, over all years of the record.

    Parameters
    ----------
    month
        1-12.
    array_to_load_ratio
        Energy the array could give at the bus over what the loads ask [ratio].
    array_wh_per_day, load_wh_per_day, spill_wh
        Energy offered and asked a day, and spilled in the month [Wh].
    lowest_soc_frac, hours_off
        Lowest state of charge and hours without the loads [fraction, h].
    """

    month: int
    array_to_load_ratio: float
    array_wh_per_day: float
    load_wh_per_day: float
    spill_wh: float
    lowest_soc_frac: float
    hours_off: float


@dataclass(frozen=True)
class Simulation:
    """Result of an hourly run.

    Parameters
    ----------
    problem, bank, strings
        What was simulated.
    out
        Kernel results by interval [see `powerbudget.balance.columns`].
    removed_ah
        Charge removed at interval bounds, one more than intervals [Ah].
    soc_frac
        State of charge at the end of each interval, of the Ah that the bank holds
        at 25 degC and this load [fraction].
    availability_frac
        Intervals with the loads served over all [fraction].
    hours_off_by_tier
        Hours without the loads, without those shed first, without those shed second
        [h].
    energy_not_served_wh
        What loads of every tier would have drawn while off [Wh].
    outages, monthly, ledger, findings
        Details.
    frost, events
        How near the bank came to freezing, and what happened to it.
    availability_to_loss_frac
        Intervals served before the bank is lost over all; the same as availability
        where it never is [fraction].
    blocked_sun_h, blocked_sun_wh
        Sun in which charging was blocked by temperature [h, Wh].
    highest_charge_v, highest_charge_at
        Highest voltage to which charging may lift the bus, in the coldest interval
        with sun, and its local standard time [V, ISO text].
    lowest_soc_frac, lowest_soc_at
        Lowest state of charge and its local standard time [fraction, ISO text].
    start_soc_frac
        State of charge at the first interval [fraction].
    """

    problem: Problem
    bank: Bank
    strings: int
    out: Floats
    removed_ah: Floats
    soc_frac: Floats
    availability_frac: float
    hours_off_by_tier: tuple[float, float, float]
    energy_not_served_wh: float
    outages: tuple[Outage, ...]
    lowest_soc_frac: float
    lowest_soc_at: str
    start_soc_frac: float
    monthly: tuple[MonthRow, ...]
    ledger: Ledger
    frost: Frost
    events: tuple[Event, ...]
    availability_to_loss_frac: float
    blocked_sun_h: float
    blocked_sun_wh: float
    highest_charge_v: float
    highest_charge_at: str
    findings: tuple[Finding, ...]

    @property
    def years(self) -> float:
        """Length of the record [year]."""
        return self.problem.record.n * self.problem.record.step_h / HOURS_PER_YEAR

    @property
    def rated_soc_frac(self) -> Floats:
        """State at the end of each interval on rated Ah, for frost and wear."""
        return np.asarray(1.0 - self.removed_ah[1:] / self.bank.rated_ah)

    @property
    def served(self) -> NDArray[np.bool_]:
        """Whether the loads were on, by interval."""
        return np.asarray(self.out[:, col.R_SERVED] > 0.5)


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
    return simulate_size(prepare_aged(design, record))


def prepare_aged(design: Design, record: WeatherRecord | None = None) -> Problem:
    """Prepare a site with its bank as old as the site file says.

    Parameters
    ----------
    design, record
        As in `powerbudget.balance.problem.prepare`.

    Returns
    -------
    Problem
        As `prepare`; where an age in years is given, capacity has fallen along the
        line to the end of the life that cycles and heat leave here.

    Raises
    ------
    InputError, DataError
        When weather, module or load cannot be used.
    """
    problem = prepare(design, record)
    age = design.tables.battery.age_y
    if age is None:
        return problem
    life = bank_life(simulate_size(problem))
    health = health_after_frac(age, life.life_y, life.end_of_life_frac)
    return problem.with_bank(problem.bank.with_health(health))


def bank_life(run: Simulation) -> Life:
    """Return how long the bank of a run lasts, by cycles and by heat [Life]."""
    degc = run.problem.conditions.battery_degc
    return make_life(run.bank.chemistry, run.rated_soc_frac, degc, run.years)


def simulate_size(
    problem: Problem, strings: int | None = None, battery_strings: int | None = None
) -> Simulation:
    """Simulate a prepared site, with other numbers of strings if wanted.

    Parameters
    ----------
    problem
        From `powerbudget.balance.problem.prepare`.
    strings, battery_strings
        Array and battery strings in parallel, the site's own by default [count].

    Returns
    -------
    Simulation
        As `simulate`.
    """
    strings = strings or problem.strings
    problem = problem.for_strings(strings)
    bank = problem.bank.with_strings(battery_strings or problem.bank.parallel)
    s = problem.scalars(strings, bank)
    start = start_removed_ah(problem, s)
    out = run_kernel(problem, s, start)
    run = _summarise(problem, bank, strings, s, start, out)
    return replace(run, findings=run_findings(run))


def run_kernel(problem: Problem, s: Floats, removed_ah: float) -> Floats:
    """Return kernel results by interval for a start state.

    Parameters
    ----------
    problem, s
        Prepared site and scalars.
    removed_ah
        Charge removed from full at the start [Ah].

    Returns
    -------
    array
        One row an interval [see `powerbudget.balance.columns`].
    """
    from powerbudget.balance import kernel

    out = np.empty((problem.record.n, col.RESULT_COLUMNS))
    kernel.simulate(
        problem.hourly, problem.currents, problem.tables, s, removed_ah, out
    )
    return out


def start_removed_ah(problem: Problem, s: Floats) -> float:
    """Return the charge removed at the first interval [Ah].

    Notes
    -----
    Unless the site states it, the record's last months are run first from full and
    their end is the start: a battery that is full on 1 January would hide December.
    """
    given = problem.design.tables.battery.start_frac
    if given is not None:
        return float((1.0 - given) * s[col.S_CHARGE_AH])
    from powerbudget.balance import kernel

    n = problem.record.n
    first = max(0, n - round(WARM_UP_DAYS * 24 / problem.record.step_h))
    out = np.empty((n - first, col.RESULT_COLUMNS))
    kernel.simulate(
        problem.hourly[first:], problem.currents[first:], problem.tables, s, 0.0, out
    )
    return float(out[-1, col.R_REMOVED_AH])


def _summarise(
    problem: Problem, bank: Bank, strings: int, s: Floats, start: float, out: Floats
) -> Simulation:
    removed = np.concatenate([[start], out[:, col.R_REMOVED_AH]])
    soc = 1.0 - removed[1:] / s[col.S_CHARGE_AH]
    tiers = served_tiers(out)
    served = tiers[0]
    lowest = int(np.argmin(soc))
    by_tier = tier_w(problem.hourly, out)
    demand = np.asarray(by_tier.sum(axis=0))
    step = problem.record.step_h
    frost = find_frost(problem, s, removed)
    kept = served if frost.lost_index < 0 else served[: frost.lost_index]
    blocked_h, blocked_wh = blocked_sun(problem, strings)
    top_v, top_at = highest_charge_v(problem)
    first_off, second_off, third_off = (float(x) for x in (~tiers).sum(axis=1) * step)
    return Simulation(
        problem=problem,
        bank=bank,
        strings=strings,
        out=out,
        removed_ah=removed,
        soc_frac=soc,
        availability_frac=float(served.mean()),
        hours_off_by_tier=(first_off, second_off, third_off),
        energy_not_served_wh=float((by_tier * ~tiers).sum() * step),
        outages=find_outages(problem, s, removed, out),
        lowest_soc_frac=float(soc[lowest]),
        lowest_soc_at=local_iso(problem, lowest),
        start_soc_frac=float(1.0 - start / s[col.S_CHARGE_AH]),
        monthly=_monthly(problem, out, soc, demand, strings),
        ledger=make_ledger(problem, s, strings, removed, out),
        frost=frost,
        events=list_events(replace(problem, bank=bank), removed, out, frost),
        availability_to_loss_frac=float(kept.sum() / served.size),
        blocked_sun_h=blocked_h,
        blocked_sun_wh=blocked_wh,
        highest_charge_v=top_v,
        highest_charge_at=local_iso(problem, top_at),
        findings=(),
    )


def demand_w(problem: Problem, out: Floats) -> Floats:
    """Return what the switched loads ask at the bus, on or off [W]."""
    return np.asarray(tier_w(problem.hourly, out).sum(axis=0))


def _monthly(
    problem: Problem, out: Floats, soc: Floats, demand: Floats, strings: int
) -> tuple[MonthRow, ...]:
    step, base = problem.record.step_h, problem.budget.base_a
    offered = out[:, col.R_OFFERED_A] * out[:, col.R_BUS_V]
    if problem.currents.shape[1] == 0:
        offered = problem.hourly[:, col.H_ARRAY_W] * strings
    asked = demand + base * out[:, col.R_BUS_V] + problem.hourly[:, col.H_BASE_W]
    spill = offered - out[:, col.R_ARRAY_A] * out[:, col.R_BUS_V]
    rows = []
    for month in range(1, 13):
        inside = problem.record.month == month
        days = inside.sum() * step / 24
        if not days:
            continue
        rows.append(
            MonthRow(
                month=month,
                array_to_load_ratio=float(offered[inside].sum() / asked[inside].sum()),
                array_wh_per_day=float(offered[inside].sum() * step / days),
                load_wh_per_day=float(asked[inside].sum() * step / days),
                spill_wh=float(spill[inside].sum() * step),
                lowest_soc_frac=float(soc[inside].min()),
                hours_off=float((out[inside, col.R_SERVED] < 0.5).sum() * step),
            )
        )
    return tuple(rows)
