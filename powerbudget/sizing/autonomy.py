"""Two autonomies that are often confused, both reported.

Design: from full, no charge at all, at a stated cold, to disconnect.
Record: the shortest over every starting hour of the record, with the state,
temperature and load that the simulation has at that hour.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
from powerbudget.balance.events import local_iso
from powerbudget.balance.problem import Problem, fill_climate
from powerbudget.balance.simulation import Simulation, simulate
from powerbudget.battery.bank import Bank, climate
from powerbudget.site.reader import Design

Floats = NDArray[np.float64]
LONGEST_DAYS = 400.0


@dataclass(frozen=True)
class Autonomy:
    """Days without any charge until the loads are disconnected.

    Parameters
    ----------
    design_days, design_degc
        From full at a stated battery temperature [d, degC].
    record_days
        Shortest over every start in the record; 0 when the loads went off [d].
    record_start, record_soc_frac
        When it starts, local standard time, and the state then [ISO text, fraction].
    """

    design_days: float
    design_degc: float
    record_days: float
    record_start: str
    record_soc_frac: float


def autonomy(design: Design | Simulation) -> Autonomy:
    """Return both autonomies of a site.

    Parameters
    ----------
    design
        A checked site, or a simulation of it.

    Returns
    -------
    Autonomy
        Both figures, with the condition of each.

    Raises
    ------
    InputError, DataError
        When the site cannot be simulated.
    """
    run = design if isinstance(design, Simulation) else simulate(design)
    problem = run.problem
    degc = problem.design.tables.criteria.autonomy_degc
    days, start = record_autonomy(run)
    return Autonomy(
        design_days=design_autonomy_days(problem, run.bank, degc),
        design_degc=degc,
        record_days=days,
        record_start=local_iso(problem, start) if start >= 0 else "",
        record_soc_frac=_soc_at(run, start),
    )


def _soc_at(run: Simulation, start: int) -> float:
    if start < 0:
        return float("nan")
    s = run.problem.scalars(run.strings, run.bank)
    return float(1 - run.removed_ah[start] / s[col.S_CHARGE_AH])


def design_autonomy_days(problem: Problem, bank: Bank, degc: float) -> float:
    """Return days from full to disconnect, no charge, at one temperature [d].

    Parameters
    ----------
    problem
        Prepared site: load of its heaviest month.
    bank
        Battery bank.
    degc
        Battery temperature [degC].

    Returns
    -------
    float
        Shortest over the 24 hours of the day at which it may start; at most
        `LONGEST_DAYS` [d].
    """
    from powerbudget.balance import kernel

    rows, s = dark_day(problem, bank, degc)
    starts = np.arange(24)
    most = int(LONGEST_DAYS * 24)
    hours = kernel.holds(rows, problem.tables, s, starts, np.zeros(24), most, True)
    return float(hours.min() / 24)


def dark_day(problem: Problem, bank: Bank, degc: float) -> tuple[Floats, Floats]:
    """Return a sunless day of the heaviest month at one battery temperature.

    Parameters
    ----------
    problem
        Prepared site.
    bank
        Battery bank.
    degc
        Battery temperature [degC].

    Returns
    -------
    tuple of array
        24 kernel rows, and scalars with hourly steps.

    Notes
    -----
    A battery heater is in it at its mean draw of the record's hours that are at
    least as cold.
    """
    budget = problem.budget
    month = budget.heaviest_month - 1
    rows = np.zeros((24, col.HOURLY_COLUMNS))
    # Loads with a priority are shed on the way, as they would be.
    for tier, columns in enumerate(col.TIERS):
        for column, table in zip(
            columns, (budget.tier_w, budget.tier_a, budget.tier_s), strict=True
        ):
            rows[:, column] = table[tier, month]
    fill_climate(rows, climate(bank, np.full(24, degc), _heater_w(problem, degc)))
    s = problem.scalars(0, bank)
    s[col.S_STEP_H] = 1.0
    return rows, s


def _heater_w(problem: Problem, degc: float) -> Floats:
    """Return the heater's draw on a dark day: none where only the array feeds it."""
    heater = problem.design.tables.battery.heater
    if heater is None or heater.feed == "array":
        return np.zeros(24)
    air, drawn = problem.record.temp_air_degc, problem.conditions.heater_w
    cold = air <= max(degc, float(air.min()))
    return np.full(24, float(drawn[cold].mean()))


def record_autonomy(run: Simulation) -> tuple[float, int]:
    """Return the shortest days to disconnect over every start, and that start.

    Parameters
    ----------
    run
        A simulation.

    Returns
    -------
    tuple of float and int
        Days and interval index; 0 days where the run itself lost the loads [d].

    Notes
    -----
    The moment of disconnect never moves earlier when the dark starts later, because
    the battery is then no emptier.  So a start every day bounds the starts between,
    and only days that could hold the shortest are tried hour by hour.
    """
    problem = run.problem
    off = np.flatnonzero(~run.served)
    if off.size:
        return 0.0, int(off[0])
    step = problem.record.step_h
    stride = max(1, round(24 / step))
    starts = np.arange(0, problem.record.n, stride)
    coarse = _holds(run, starts, prune=False)
    best = int(coarse.min())
    where = int(starts[int(np.argmin(coarse))])
    order = np.argsort(coarse, kind="stable")
    inside = [
        int(starts[block]) + shift
        for block in order
        if coarse[block] - (stride - 1) < best
        for shift in range(1, stride)
        if int(starts[block]) + shift < problem.record.n
    ]
    if inside:
        fine = _holds(run, np.asarray(inside), prune=True)
        if fine.min() < best:
            best, where = int(fine.min()), inside[int(np.argmin(fine))]
    return best * step / 24, where


def _holds(
    run: Simulation, starts: NDArray[np.int64], *, prune: bool
) -> NDArray[np.int64]:
    from powerbudget.balance import kernel

    problem = run.problem
    s = problem.scalars(run.strings, run.bank)
    most = int(min(LONGEST_DAYS * 24 / problem.record.step_h, problem.record.n))
    hourly = problem.hourly
    heater = problem.design.tables.battery.heater
    if heater is not None and heater.feed == "array":
        # No sun, no heat: the box is as warm as it was, but the heater draws nothing.
        hourly = hourly.copy()
        hourly[:, col.H_BASE_W] = 0.0
    counts = kernel.holds(
        hourly,
        problem.tables,
        s,
        starts,
        run.removed_ah[starts],
        most,
        prune,
    )
    return np.asarray(counts)
