"""The worst period of a run: from the last full charge to the lowest, and its cause."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from powerbudget.balance.arrayload import asked_w, delivered_w
from powerbudget.balance.events import local_iso
from powerbudget.balance.ring import stretch, wraps
from powerbudget.balance.run_findings import limited_share
from powerbudget.sizing.worksheet.record_figures import FULL_FRAC, since_full

if TYPE_CHECKING:
    from powerbudget.balance.simulation import Simulation


@dataclass(frozen=True)
class WorstPeriod:
    """What drew the battery down to its minimum SOC, or to its longest outage.

    Parameters
    ----------
    start, end
        First and last interval, local standard time [ISO text].
    days
        Length [d].
    supply_frac
        What array and generators can deliver at the dc bus over what the loads ask
        there [fraction].
    from_soc_frac, to_soc_frac
        SOC at start and end [fraction].
    capacity_frac
        Available capacity at the battery temperature of the end, of the full-charge
        capacity [fraction].
    blocked_frac
        Of that supply, what finds charging blocked by core temperature [fraction].
    limited_frac
        Of what the array offers, what the charge controller's limit curtails [fraction].
    never_full
        Whether the battery was not full before, so that the period is no fall from full.
    """

    start: str
    end: str
    days: float
    supply_frac: float
    from_soc_frac: float
    to_soc_frac: float
    capacity_frac: float
    blocked_frac: float
    limited_frac: float
    never_full: bool


def worst_period(run: Simulation) -> WorstPeriod:
    """Return the period before the longest outage, or before the minimum SOC.

    Returns
    -------
    WorstPeriod
        From the last full charge on.
    """
    long = max(run.outages, key=lambda outage: outage.hours, default=None)
    last = int(np.argmin(run.soc_frac)) if long is None else long.index
    if long and last == 0 and not wraps(run.problem):
        # Nothing came before it: what kept the loads off stands in the outage itself.
        last = round(long.hours / run.problem.record.step_h) - 1
    first, count = since_full(run, last)
    span = stretch(run.problem, first, count)
    asked = float(asked_w(run)[span].sum())
    rest_a = run.out["steady_a"] + run.out["source_a"]
    given = delivered_w(run) + rest_a * run.out["bus_v"]
    blocked = run.problem.hourly["charge_share"][span] <= 0
    degc = float(run.problem.conditions.battery_degc[last])
    return WorstPeriod(
        start=local_iso(run.problem, int(span[0])),
        end=local_iso(run.problem, last),
        days=count * run.problem.record.step_h / 24.0,
        supply_frac=float(given[span].sum()) / asked if asked > 0 else float("inf"),
        from_soc_frac=float(run.soc_frac[span[0]]),
        to_soc_frac=float(run.soc_frac[last]),
        capacity_frac=float(run.bank.capacity_frac(degc)),
        never_full=float(run.soc_frac[span[0]]) < FULL_FRAC,
        blocked_frac=float(given[span][blocked].sum()) / max(given[span].sum(), 1e-9),
        limited_frac=limited_share(run, span),
    )
