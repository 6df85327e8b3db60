"""The kernel driven over a prepared site: from a start state, and the start itself."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
from powerbudget.balance.gate import check_run
from powerbudget.balance.packed_site import PackedSite
from powerbudget.balance.ring import go_through, run_through, state_history
from powerbudget.battery.ageing import health_after_frac, make_life

Floats = NDArray[np.float64]
WARM_UP_DAYS = 150
HOURS_PER_YEAR = 8766.0


def run_kernel(problem: PackedSite, s: col.Record, removed_ah: float) -> col.Records:
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
        One record an interval [see `powerbudget.balance.columns`].

    Raises
    ------
    InputError
        As `powerbudget.balance.gate.check_run` does.
    """
    from powerbudget.balance import kernel

    out = np.empty(len(problem.hourly), col.RESULT)
    kernel.simulate(
        problem.hourly, problem.currents, problem.tables, s, removed_ah, out
    )
    check_run(problem, s, removed_ah, out)
    return out


def start_removed_ah(problem: PackedSite, s: col.Record) -> float:
    """Return the charge removed at the first interval [Ah].

    Notes
    -----
    Unless the site states it, the record's last months are run first from full and
    their end is the start: a battery that is full on 1 January would hide December.
    For a typical year that is a first guess: see `powerbudget.balance.ring`.
    """
    given = problem.design.tables.battery.start_frac
    if given is not None:
        return float((1.0 - given) * s["charge_ah"])
    from powerbudget.balance.kernel import fresh

    first = round(WARM_UP_DAYS * 24 / problem.record.step_h)
    first = max(0, problem.record.n - first)
    out = go_through(problem, s, 0.0, fresh(s), first)
    return float(out["removed_ah"][-1])


def aged_health_frac(problem: PackedSite, age_y: float) -> float:
    """Return the capacity that years of service here have left of a bank [fraction].

    Parameters
    ----------
    problem
        The site with its bank as the file rates it.
    age_y
        Years in service [year].

    Returns
    -------
    float
        Along the line to the end of the life that cycles and heat leave in this
        record [fraction].
    """
    problem = problem.own_rows()
    bank, record = problem.bank, problem.record
    s = problem.scalars(problem.strings, bank)
    _, out = run_through(problem, s, start_removed_ah(problem, s))
    state = state_history(problem, 1.0 - out["removed_ah"] / bank.rated_ah)
    years = record.n * record.step_h / HOURS_PER_YEAR
    degc = problem.conditions.battery_degc
    life = make_life(bank.chemistry, state, degc, years)
    return health_after_frac(age_y, life.life_y, life.end_of_life_frac)
