"""The hourly simulation of a site, and what it answers."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
from powerbudget.balance.ledger import Ledger, make_ledger
from powerbudget.balance.problem import Problem, prepare
from powerbudget.battery.bank import Bank
from powerbudget.errors import Finding
from powerbudget.site.reader import Design
from powerbudget.weather import WeatherRecord

Floats = NDArray[np.float64]
WARM_UP_DAYS = 150
CAUSES = {
    1: "battery voltage under load reached the disconnect",
    2: "charge used up to the disconnect state or to what the cold leaves",
}


@dataclass(frozen=True)
class Outage:
    """One stretch without the loads.

    Parameters
    ----------
    start
        Local standard time [ISO text].
    hours
        Length [h].
    cause
        What the disconnect acted on [text].
    index
        Interval in the record [count].
    """

    start: str
    hours: float
    cause: str
    index: int


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
    energy_not_served_wh
        What the loads would have drawn while off [Wh].
    outages, monthly, ledger, findings
        Details.
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
    energy_not_served_wh: float
    outages: tuple[Outage, ...]
    lowest_soc_frac: float
    lowest_soc_at: str
    start_soc_frac: float
    monthly: tuple[MonthRow, ...]
    ledger: Ledger
    findings: tuple[Finding, ...]

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
    return simulate_size(prepare(design, record))


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
    bank = problem.bank.with_strings(battery_strings or problem.bank.parallel)
    s = problem.scalars(strings, bank)
    start = start_removed_ah(problem, s)
    out = run_kernel(problem, s, start)
    return _summarise(problem, bank, strings, s, start, out)


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
    served = out[:, col.R_SERVED] > 0.5
    lowest = int(np.argmin(soc))
    demand = demand_w(problem, out)
    step = problem.record.step_h
    outages = find_outages(problem, out)
    return Simulation(
        problem=problem,
        bank=bank,
        strings=strings,
        out=out,
        removed_ah=removed,
        soc_frac=soc,
        availability_frac=float(served.mean()),
        energy_not_served_wh=float(demand[~served].sum() * step),
        outages=outages,
        lowest_soc_frac=float(soc[lowest]),
        lowest_soc_at=local_iso(problem, lowest),
        start_soc_frac=float(1.0 - start / s[col.S_CHARGE_AH]),
        monthly=_monthly(problem, out, soc, demand, strings),
        ledger=make_ledger(problem, s, strings, removed, out),
        findings=_findings(problem, bank),
    )


def demand_w(problem: Problem, out: Floats) -> Floats:
    """Return what the switched loads ask at the bus, on or off [W]."""
    rows, volts = problem.hourly, out[:, col.R_BUS_V]
    asked = rows[:, col.H_LOAD_W] + rows[:, col.H_LOAD_A] * volts
    return np.asarray(asked + rows[:, col.H_LOAD_S] * volts**2)


def local_iso(problem: Problem, index: int) -> str:
    """Return an interval's start in local standard time [ISO text].

    Notes
    -----
    The year of a typical year is a label and means nothing.
    """
    return str(problem.record.start_local[index])[:16]


def find_outages(problem: Problem, out: Floats) -> tuple[Outage, ...]:
    """Return every stretch without the loads, in order.

    Parameters
    ----------
    problem
        Prepared site.
    out
        Kernel results.

    Returns
    -------
    tuple of Outage
        Empty when the loads were always served.
    """
    off = np.concatenate([[False], out[:, col.R_SERVED] < 0.5, [False]])
    edges = np.flatnonzero(off[1:] != off[:-1])
    step = problem.record.step_h
    return tuple(
        Outage(
            local_iso(problem, int(first)),
            float((last - first) * step),
            _cause(problem, out, int(first)),
            int(first),
        )
        for first, last in list(pairwise(edges))[::2]
    )


def _cause(problem: Problem, out: Floats, first: int) -> str:
    if problem.hourly[first, col.H_CAPACITY] <= 0:
        return "battery colder than it may be discharged"
    return CAUSES.get(int(out[first, col.R_CAUSE]), "disconnected at the start")


def _monthly(
    problem: Problem, out: Floats, soc: Floats, demand: Floats, strings: int
) -> tuple[MonthRow, ...]:
    step, base = problem.record.step_h, problem.budget.base_a
    offered = out[:, col.R_OFFERED_A] * out[:, col.R_BUS_V]
    if problem.currents.shape[1] == 0:
        offered = problem.hourly[:, col.H_ARRAY_W] * strings
    asked = demand + base * out[:, col.R_BUS_V]
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


def _findings(problem: Problem, bank: Bank) -> tuple[Finding, ...]:
    from powerbudget.array.regulator import orientation_findings, voltage_class_findings

    tables = problem.design.tables
    found = [*problem.record.findings, *problem.budget.findings]
    found += orientation_findings(
        tables.site.latitude_deg, tables.array.tilt_deg, tables.array.azimuth_deg
    )
    found += voltage_class_findings(
        problem.array.module,
        tables.array.series,
        tables.bus.nominal_v,
        tables.regulator.kind,
    )
    found += _disconnect_findings(problem, bank)
    return tuple(found)


def _disconnect_findings(problem: Problem, bank: Bank) -> list[Finding]:
    bus = problem.design.tables.bus
    found = []
    if bus.disconnect_v is not None and bus.reconnect_v is not None:
        gap = (bus.reconnect_v - bus.disconnect_v) * 12 / bus.nominal_v
        if gap < 1.0:
            found.append(
                Finding(
                    "warning",
                    f"reconnect lies only {gap:.2g} V (on a 12 V base) above "
                    "disconnect; field units pair 1.0 V to 1.5 V, closer ones chatter",
                )
            )
    blocked = (problem.conditions.charge_allowed < 0.5) & (
        problem.array.p_mp_w > 0.05 * problem.array.p_mp_w.max()
    )
    hours = blocked.sum() * problem.record.step_h
    if hours:
        found.append(
            Finding(
                "serious",
                f"{bank.chemistry.title} must not be charged below "
                f"{bank.chemistry.charge_min_degc:g} degC or above "
                f"{bank.chemistry.charge_max_degc:g} degC: {hours:,.0f} h of sun in the "
                "record find charging blocked",
            )
        )
    return found
