"""Whether a site comes back after an outage without a visit, and how soon."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from powerbudget.balance.drive import run_kernel
from powerbudget.balance.simulation import Simulation
from powerbudget.sizing.autonomy import LONGEST_DAYS, dark_day


@dataclass(frozen=True)
class Recovery:
    """Days from a disconnect until the loads come back by themselves.

    Parameters
    ----------
    worst_days, worst_month
        Longest over the starts of all months, infinite where they never come back
        [d, 1-12].
    days_by_month
        The same for each month that the record has [d].
    from_frac
        State of charge at the disconnect [fraction].
    flat_restarts
        Whether a battery that lay until it was flat comes back without a visit.
    reason
        Why, in words [text].
    """

    worst_days: float
    worst_month: int
    days_by_month: dict[int, float]
    from_frac: float
    flat_restarts: bool
    reason: str


def recovery(run: Simulation) -> Recovery:
    """Return how a site comes back after its loads were disconnected.

    Parameters
    ----------
    run
        A simulation: sun, load, temperatures and sizes.

    Returns
    -------
    Recovery
        From the state at which the disconnect acts in the stated cold, from the
        first hour of every month of the record; where a record of actual years ends
        before the loads are back, the days until then.
    """
    from powerbudget.balance import kernel

    problem = run.problem
    s = problem.scalars(run.strings, run.bank)
    removed = disconnected_ah(run)
    month = problem.record.month
    starts = np.flatnonzero(np.r_[True, month[1:] != month[:-1]])
    matrices = (problem.hourly, problem.currents, problem.tables, s, starts)
    most = int(min(LONGEST_DAYS * 24 / problem.record.step_h, problem.record.n))
    ring = problem.record.typical_year
    counts = kernel.returns(*matrices, removed, False, most, ring)
    days = np.where(counts < 0, np.inf, counts * problem.record.step_h / 24)
    by_month = {
        int(m): float(days[month[starts] == m].max()) for m in np.unique(month[starts])
    }
    worst = max(by_month, key=lambda m: by_month[m])
    flat = kernel.returns(*matrices, float(s["charge_ah"]), True, most, ring)
    restarts = bool((flat >= 0).all())
    return Recovery(
        worst_days=by_month[worst],
        worst_month=worst,
        days_by_month=by_month,
        from_frac=1.0 - removed / float(s["charge_ah"]),
        flat_restarts=restarts,
        reason=_reason(run, restarts=restarts),
    )


def disconnected_ah(run: Simulation) -> float:
    """Return the charge removed when the disconnect acts in the stated cold [Ah]."""
    problem = run.problem
    degc = problem.design.tables.criteria.autonomy_degc
    day, s = dark_day(problem, run.bank, degc)
    hours = int(LONGEST_DAYS * 24)
    rows = np.tile(day, int(LONGEST_DAYS))
    dark = replace(problem, hourly=rows, currents=np.zeros((hours, 0)))
    out = run_kernel(dark, s, 0.0)
    off = np.flatnonzero(out["served"] < 0.5)
    last = int(off[0]) if off.size else hours - 1
    return float(out["removed_ah"][last])


def _reason(run: Simulation, *, restarts: bool) -> str:
    lowest = run.problem.design.tables.regulator.minimum_battery_v
    if lowest is None:
        return (
            "assumed: the minimum battery voltage of the charge controller is not "
            "stated"
        )
    if not restarts:
        return (
            f"the voltage of a fully discharged battery is below the {lowest:g} V "
            "that the charge controller needs"
        )
    return f"the charge controller needs {lowest:g} V"
