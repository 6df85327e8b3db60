"""Whether a design meets what was asked, and by how much."""

from __future__ import annotations

from dataclasses import dataclass

from powerbudget.balance.simulation import Simulation
from powerbudget.sizing.autonomy import design_autonomy_days
from powerbudget.sizing.recovery import recovery


@dataclass(frozen=True)
class Verdict:
    """One criterion against one design.

    Parameters
    ----------
    name
        Which criterion [text].
    found, needed
        Figures in the same unit.
    unit
        Unit of both [text].
    met
        Whether the design meets it.
    margin_frac
        How far beyond, as a share of what is needed; negative when not met
        [fraction].
    """

    name: str
    found: float
    needed: float
    unit: str
    met: bool
    margin_frac: float


def at_least(name: str, found: float, needed: float, unit: str) -> Verdict:
    """Return a verdict where more is better."""
    margin = found - needed if needed == 0 else found / needed - 1
    return Verdict(name, found, needed, unit, found >= needed, margin)


def at_most(name: str, found: float, needed: float, unit: str) -> Verdict:
    """Return a verdict where less is better."""
    margin = needed - found if needed == 0 else 1 - found / needed
    return Verdict(name, found, needed, unit, found <= needed, margin)


def judge(run: Simulation, design_days: float | None = None) -> tuple[Verdict, ...]:
    """Return every criterion's verdict on a simulated design.

    Parameters
    ----------
    run
        A simulation.
    design_days
        Autonomy at the stated cold, computed here when left out [d].

    Returns
    -------
    tuple of Verdict
        In a fixed order.
    """
    problem, criteria = run.problem, run.problem.design.tables.criteria
    if design_days is None:
        design_days = design_autonomy_days(problem, run.bank, criteria.autonomy_degc)
    frozen_h = run.frost.hours_frozen
    daily = problem.budget.ah_per_day / run.bank.charge_ah(problem.mean_load_a)
    ratio = min((row.array_to_load_ratio for row in run.monthly), default=0.0)
    verdicts = [
        at_least(
            "availability",
            run.availability_frac,
            criteria.availability_frac,
            "fraction",
        ),
        at_least("autonomy in the cold", design_days, criteria.autonomy_d, "d"),
        at_most(
            "deepest discharge",
            1 - run.lowest_soc_frac,
            criteria.deepest_discharge_frac,
            "fraction",
        ),
        at_most("daily discharge", daily, criteria.daily_discharge_frac, "fraction"),
        at_least(
            "array-to-load ratio of the worst month",
            ratio,
            criteria.array_to_load_ratio,
            "ratio",
        ),
    ]
    if run.frost.at_risk:
        verdicts.append(at_most("hours with a frozen bank", frozen_h, 0.0, "h"))
    if criteria.recovery_d is not None:
        days = recovery(run).worst_days
        verdicts.append(
            at_most("recovery after a disconnect", days, criteria.recovery_d, "d")
        )
    return tuple(verdicts)
