"""Two autonomies that are often confused, both reported.

Design: from full, no charge at all, at a stated cold, to disconnect.
Record: the shortest over every starting hour of the record, with the state,
temperature and load that the simulation has at that hour.
Where the electrolyte would freeze before the disconnect acts, both end there.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
from powerbudget.balance.events import local_iso
from powerbudget.balance.problem import Problem
from powerbudget.balance.run_findings import no_current
from powerbudget.balance.simulation import Simulation, simulate
from powerbudget.balance.stages import fill_climate
from powerbudget.battery.bank import Bank, climate
from powerbudget.battery.box import held_in_cold
from powerbudget.battery.freezing import lowest_state_frac
from powerbudget.errors import Fault, NotFeasible
from powerbudget.site.reader import Design

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
LONGEST_DAYS = 400.0


@dataclass(frozen=True)
class Autonomy:
    """Days without any charge until the loads are disconnected.

    Parameters
    ----------
    design_days, design_degc
        From full at a stated battery temperature [d, degC].
    design_ends
        ``disconnect``, or ``frost`` where ice comes first [text].
    record_days
        Shortest over every start in the record; 0 when the loads went off or the
        bank froze [d].
    record_start, record_soc_frac
        When it starts, local standard time, and the state then [ISO text, fraction].
    """

    design_days: float
    design_degc: float
    design_ends: str
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
    design_days = design_autonomy_days(problem, run.bank, degc)
    without_frost = design_autonomy_days(problem, run.bank, degc, frost=False)
    return Autonomy(
        design_days=design_days,
        design_degc=problem.design_degc,
        design_ends="frost" if design_days < without_frost else "disconnect",
        record_days=days,
        record_start=local_iso(problem, start) if start >= 0 else "",
        record_soc_frac=_soc_at(run, start),
    )


def needs_current(problem: Problem) -> None:
    """Refuse to size a bank that no number of units brings through its design cold.

    Raises
    ------
    NotFeasible
        Where the chemistry delivers no current at the stated temperature.
    """
    stated = problem.design.tables.criteria.autonomy_degc
    if why := no_current(problem):
        raise NotFeasible(
            Fault(
                "criteria.autonomy_temperature",
                "no number of battery units is sufficient",
                f"{stated:g} °C",
                advice=str(why),
            )
        )


def _soc_at(run: Simulation, start: int) -> float:
    if start < 0:
        return float("nan")
    s = run.problem.scalars(run.strings, run.bank)
    return float(1 - run.removed_ah[start] / s["charge_ah"])


def design_autonomy_days(
    problem: Problem, bank: Bank, degc: float, *, frost: bool = True
) -> float:
    """Return days from full to disconnect or ice, no charge, at one temperature [d].

    Parameters
    ----------
    problem
        Prepared site: load of its heaviest month.
    bank
        Battery bank.
    degc
        Battery temperature, or where a heater keeps it warmer that of its box
        without [degC].
    frost
        Whether the first ice ends it as well.

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
    held = held_in_cold(problem.design.tables.battery, degc)
    floor = lowest_state_frac(np.full(24, held.degc), bank.chemistry.freezing)
    ice = frozen_ah(floor if frost else np.zeros(24), bank.rated_ah)
    matrices = (rows, problem.tables, s, ice, starts)
    hours = kernel.holds(*matrices, np.zeros(24), 0 * starts, most, 0, True)
    return float(hours.min() / 24)


def frozen_ah(frozen_below_frac: Floats, rated_ah: float) -> Floats:
    """Return the charge removed from which the electrolyte freezes [Ah].

    Parameters
    ----------
    frozen_below_frac
        State on rated Ah below which it freezes, 0 where it cannot [fraction].
    rated_ah
        Rated Ah of the bank [Ah].

    Returns
    -------
    array
        Infinite where it cannot freeze [Ah].
    """
    limit = (1.0 - frozen_below_frac) * rated_ah
    return np.where(frozen_below_frac > 0, limit, np.inf)


def dark_day(
    problem: Problem, bank: Bank, degc: float
) -> tuple[col.Records, col.Record]:
    """Return a sunless day of the heaviest month at one battery temperature.

    Parameters
    ----------
    problem
        Prepared site.
    bank
        Battery bank.
    degc
        As in `design_autonomy_days` [degC].

    Returns
    -------
    tuple of records and record
        24 hours for the kernel, and scalars with hourly steps.

    Notes
    -----
    A battery heater is in it at what holds the box at this temperature.
    """
    budget = problem.budget
    month = budget.highest_load_month - 1
    rows = np.zeros(24, col.ROW)
    # Loads with a priority are shed on the way, as they would be.
    for tier, names in enumerate(col.TIERS):
        for name, table in zip(
            names, (budget.tier_w, budget.tier_a, budget.tier_s), strict=True
        ):
            rows[name] = table[tier, month]
    held = held_in_cold(problem.design.tables.battery, degc)
    heater_w = np.full(24, held.heater_w)
    fill_climate(rows, climate(bank, np.full(24, held.degc), heater_w))
    s = problem.scalars(0, bank)
    s["step_h"] = 1.0
    return rows, s


def record_autonomy(run: Simulation) -> tuple[float, int]:
    """Return the shortest days to disconnect over every start, and that start.

    Returns
    -------
    tuple of float and int
        Days and interval index; 0 days where the run itself lost the loads.  A start
        whose end lies beyond a record of actual years is left out [d].

    Notes
    -----
    The end never moves earlier when the dark starts later, because the battery is
    then no emptier.  So a start every week bounds the starts between, and only those
    that could hold the shortest are tried day by day, by six hours, then each.
    """
    lost = run.frost.lost_index
    ends = [run.outages[0].index] if run.outages else []
    ends += [lost] if lost >= 0 else []
    if ends:
        return 0.0, min(ends)
    n, step = run.problem.record.n, run.problem.record.step_h
    day = max(1, round(24 / step))
    strides = (7 * day, day, *([day // 4] if day % 4 == 0 else []), 1)
    starts = np.arange(0, n, strides[0])
    counts, most = _seen(run, starts, np.zeros_like(starts), strides[0]), _most(run)
    for coarse, fine in pairwise(strides):
        later = np.arange(fine, coarse, fine)
        inside, floors = starts[:, None] + later, counts[:, None] - later
        tried = (inside < n) & (floors - (fine - 1) < counts.min(initial=most))
        more = _seen(run, inside[tried], floors[tried], fine)
        starts = np.concatenate([starts, inside[tried]])
        counts = np.concatenate([counts, more])
    counts = np.minimum(counts, most)
    best = np.lexsort((starts, counts))[0]
    return float(counts[best] * step / 24), int(starts[best])


def _seen(
    run: Simulation, starts: Integers, floors: Integers, slack: int
) -> NDArray[np.int64]:
    """Return `holds`, the likely shortest first, beyond all measure for -1."""
    order = np.lexsort((-run.removed_ah[starts], floors))
    counts = np.empty_like(starts)
    counts[order] = holds(run, starts[order], floors[order], slack)
    return np.where(counts < 0, np.iinfo(np.int64).max // 2, counts)


def _most(run: Simulation) -> int:
    record = run.problem.record
    return int(min(LONGEST_DAYS * 24 / record.step_h, record.n))


def holds(
    run: Simulation,
    starts: Integers,
    floors: Integers | None = None,
    slack: int = -1,
) -> NDArray[np.int64]:
    """Return how many intervals loads and bank last without charge, for each start.

    Parameters
    ----------
    run
        A simulation: state, temperature and load at every start.
    starts
        Interval numbers [count].
    floors
        How many each is known to hold at least; nothing is known when None [count].
    slack
        By how much a start may outlast the shortest so far before it is stopped, its
        count a lower bound; none is where below 0 [count].

    Returns
    -------
    array of int
        Intervals to the disconnect or the first ice, at most 400 days; -1 where a
        record of actual years ends before they do.  A typical year goes on from
        December into January [count].
    """
    from powerbudget.balance import kernel

    problem = run.problem
    s = problem.scalars(run.strings, run.bank)
    hourly = problem.hourly
    heater = problem.design.tables.battery.heater
    if heater is not None and heater.feed == "array":
        # No sun, no heat: the box is as warm as it was, but the heater draws nothing.
        hourly = hourly.copy()
        hourly["base_w"] = 0.0
    counts = kernel.holds(
        hourly,
        problem.tables,
        s,
        frozen_ah(problem.conditions.frozen_below_frac, run.bank.rated_ah),
        starts,
        run.removed_ah[starts],
        np.zeros_like(starts) if floors is None else floors,
        # A start that outlasts all measure bounds those after it just as well.
        _most(run) + max(slack, 0),
        slack,
        # Weather after the last hour of actual years is not known.
        problem.record.typical_year,
    )
    return np.asarray(counts)
