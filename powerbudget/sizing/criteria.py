"""Whether a design meets what was asked, and by how much."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from powerbudget.balance.arrayload import least_ratio
from powerbudget.balance.controller_rating import string_too_high
from powerbudget.balance.problem import Problem
from powerbudget.balance.ring import runs_down
from powerbudget.balance.simulation import Simulation, simulate_size
from powerbudget.battery.bank import Bank
from powerbudget.charging.cold_string import STRING_VOLTAGE
from powerbudget.limits import OUTAGE, SHARE, Limit, Sense
from powerbudget.site.scenario import Scenario
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
        Margin where it is a share of what is needed, else None [fraction].
    margin, margin_unit
        Margin and its unit, as `powerbudget.limits.Limit` has them.
    sense
        ``lower`` where more is better, else ``upper`` [text].
    """

    name: str
    found: float
    needed: float
    unit: str
    met: bool
    margin_frac: float | None
    margin: float = 0.0
    margin_unit: str = SHARE
    sense: Sense = "lower"

    @property
    def held(self) -> Limit:
        """The figures as a value held against a limit [Limit]."""
        on = self.margin_unit == OUTAGE
        return Limit(self.found, self.needed, self.sense, self.unit, availability=on)


AVAILABILITY = "availability"
FLOORS = (
    AVAILABILITY,
    "autonomy",
    "array-to-load ratio",
    "freezing margin",
)
"""Criteria of which more is better: a need of 0 asks for nothing."""


def asked_for(verdicts: Iterable[Verdict]) -> tuple[Verdict, ...]:
    """Return the verdicts on what somebody asked for.

    Parameters
    ----------
    verdicts
        As `judge` returns them.

    Returns
    -------
    tuple of Verdict
        Without those that no design can miss: at least 0 of something.
    """
    return tuple(v for v in verdicts if v.needed or v.name not in FLOORS)


def at_least(name: str, found: float, needed: float, unit: str) -> Verdict:
    """Return a verdict where more is better."""
    on = name == AVAILABILITY
    return _verdict(name, Limit(found, needed, "lower", unit, availability=on))


def at_most(name: str, found: float, needed: float, unit: str) -> Verdict:
    """Return a verdict where less is better."""
    return _verdict(name, Limit(found, needed, "upper", unit))


def _verdict(name: str, held: Limit) -> Verdict:
    return Verdict(
        name, held.value, held.limit, held.unit, held.met,
        held.margin_frac, held.margin, held.margin_unit, held.sense,
    )  # fmt: skip


def battery_verdicts(
    problem: Problem, bank: Bank, design_days: float
) -> tuple[Verdict, Verdict]:
    """Return the verdicts that no array can change.

    Parameters
    ----------
    problem
        Prepared site.
    bank
        The bank in question.
    design_days
        Its autonomy at the stated cold [d].

    Returns
    -------
    tuple of Verdict
        Autonomy in the cold, and the depth of one day.
    """
    criteria = problem.design.tables.criteria
    daily = daily_discharge_frac(problem, bank)
    return (
        at_least("autonomy", design_days, criteria.autonomy_d, "d"),
        at_most("daily DOD", daily, criteria.daily_discharge_frac, "fraction"),
    )


def daily_discharge_frac(problem: Problem, bank: Bank) -> float:
    """Return what one day of the load takes from a bank [fraction].

    Returns
    -------
    float
        Load of the heaviest month and battery heater in the design cold, less what
        sources that always run give at the bus in their weakest month, over the
        charge at the rate of the mean load [fraction].

    Notes
    -----
    Sun is not taken off, as in the hand worksheet: a day without any is meant.  A
    source that starts and stops by the battery takes nothing off either.
    """
    drawn_wh = max(0.0, problem.dark_day_wh - 24.0 * weakest_month_w(problem))
    drawn_ah = drawn_wh / problem.budget.nominal_v
    return float(drawn_ah / bank.charge_ah(problem.mean_load_a))


def weakest_month_w(problem: Problem) -> float:
    """Return what sources that always run give in their weakest calendar month [W]."""
    steady = problem.sources.steady_w
    if not steady.any():
        return 0.0
    month = problem.record.month
    return min(float(steady[month == m].mean()) for m in set(month.tolist()))


def quick_failures(run: Simulation) -> tuple[Verdict, ...]:
    """Return the verdicts on availability and depth that are not met.

    Returns
    -------
    tuple of Verdict
        Empty where both are met: the others then have to be judged as well.
    """
    return tuple(verdict for verdict in _two(run) if not verdict.met)


def _two(run: Simulation) -> tuple[Verdict, Verdict]:
    criteria = run.problem.design.tables.criteria
    # A bank that froze is a criterion of its own, not an availability.
    on, low = run.availability_frac, run.lowest_soc_frac
    deepest = criteria.deepest_discharge_frac
    return (
        at_least(AVAILABILITY, on, criteria.availability_frac, "fraction"),
        at_most("maximum DOD", 1 - low, deepest, "fraction"),
    )


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
    cold, daily = battery_verdicts(problem, run.bank, design_days)
    ratio = least_ratio(run)
    on, deepest = _two(run)
    verdicts = [
        on,
        cold,
        deepest,
        daily,
        at_least(
            "array-to-load ratio",
            ratio,
            criteria.array_to_load_ratio,
            "ratio",
        ),
    ]
    verdicts += _string_voltage(run)
    return (*verdicts, *_run_down(run), *_frost(run), *_recovery(run), *_when_old(run))


def _string_voltage(run: Simulation) -> list[Verdict]:
    """Judge a string that the cold takes above its limit: no year follows that either."""
    over = string_too_high(run.problem) if run.strings else None
    return [at_most(STRING_VOLTAGE, over.volts, over.limit_v, "V")] if over else []


def _run_down(run: Simulation) -> list[Verdict]:
    """Judge a run that lives on the charge that it began with: no year follows it."""
    if not runs_down(run.problem, run.scalars, run.removed_ah):
        return []
    lost = float(run.removed_ah[-1] - run.removed_ah[0]) / run.scalars["charge_ah"]
    return [at_most("fall of SOC from start to end", float(lost), 0.0, "fraction")]


def _frost(run: Simulation) -> list[Verdict]:
    if not run.frost.at_risk:
        return []
    found = [at_most("frozen battery", run.frost.hours_frozen, 0.0, "h")]
    needed = run.problem.design.tables.criteria.freeze_margin_frac
    if needed is not None:
        # A record without frost has all of the charge to spare.
        least = min(run.frost.least_margin_frac, 1.0)
        found.append(at_least("freezing margin", least, needed, "fraction"))
    return found


def _recovery(run: Simulation) -> list[Verdict]:
    needed = run.problem.design.tables.criteria.recovery_d
    if needed is None:
        return []
    days = recovery(run).worst_days
    return [at_most("recovery time", days, needed, "d")]


def _when_old(run: Simulation) -> list[Verdict]:
    """Judge the same site with its bank at the end of life, where that is asked."""
    end = run.bank.chemistry.end_of_life_frac
    if not run.problem.design.tables.criteria.at_end_of_life:
        return []
    if run.bank.health_frac <= end:
        return []
    old = run.problem.under(Scenario(state_of_health_frac=end))
    missed = sum(
        not verdict.met
        for verdict in judge(simulate_size(old, run.strings, run.bank.parallel))
    )
    return [at_most("criteria failed at end of life", missed, 0.0, "count")]
