"""Autonomy from every side: month, hour, disconnect setting, age; charge lost today.

All of it is the record autonomy of `powerbudget.sizing.autonomy`: from the state,
temperature and load that the run has at a start, with no charge from then on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
from powerbudget.balance.drive import run_kernel
from powerbudget.balance.problem import Problem
from powerbudget.balance.simulation import Simulation, simulate_size
from powerbudget.errors import Finding
from powerbudget.quantities import in_unit, show
from powerbudget.site.fields import MONTHS
from powerbudget.site.scenario import Scenario
from powerbudget.sizing.autonomy import (
    LONGEST_DAYS,
    design_autonomy_days,
    frozen_ah,
    holds,
    record_autonomy,
)
from powerbudget.weather.record import cut

Floats = NDArray[np.float64]
STEP_V_PER_12V = 0.3
"""Between settings: 10.5, 10.8, 11.1, 11.4 and 11.7 V are all in use on 12 V."""
STEP_STATE = 0.10
MOST_STARTS = 20_000
DEEP_FRAC = dict.fromkeys(("flooded", "tubular", "agm", "gel"), 0.20)
"""Left of the charge at 25 degC, below which lead-acid is harmed; 80 % is the deepest
that it is sized for, common practice, no source [fraction]."""
FLAT_FRAC = 0.005
"""The same for chemistries that bear a deep discharge: flat [fraction]."""


@dataclass(frozen=True)
class Setting:
    """Autonomy at one disconnect setting and one age.

    Parameters
    ----------
    disconnect
        The setting [text].
    own
        Whether it is the site's.
    age
        ``new``, ``as specified`` or ``end of life`` [text].
    health_frac
        Capacity left [fraction].
    design_days, record_days
        Both autonomies [d].
    availability_frac
        Of the record [fraction].
    """

    disconnect: str
    own: bool
    age: str
    health_frac: float
    design_days: float
    record_days: float
    availability_frac: float


@dataclass(frozen=True)
class Lost:
    """Charge lost at the worst moment of one month.

    Parameters
    ----------
    month
        1-12 [count].
    start
        When, local standard time [ISO text].
    state_frac
        State of charge then [fraction].
    to_disconnect_h
        Until the loads go off [h].
    to_damage_h, damage
        Until the bank is damaged, infinite where it is not within 400 days, and by
        what: ``frost``, ``overdischarge`` or ``none`` [h, text].
    unprotected_h, unprotected_damage
        The same where the disconnect does not act [h, text].
    """

    month: int
    start: str
    state_frac: float
    to_disconnect_h: float
    to_damage_h: float
    damage: str
    unprotected_h: float
    unprotected_damage: str


@dataclass(frozen=True)
class AutonomyView:
    """Autonomy by month, hour, setting and age.

    Parameters
    ----------
    by_month_days, median_by_month_days
        Shortest and median over the starts of each month, January first; NaN where
        the record has none [d].
    by_month_hour_days
        Shortest by month and clock hour of the start, shape (12, 24) [d].
    by_age
        Shortest by month for ``new``, ``as specified`` and ``end of life`` [d].
    settings
        Three disconnect settings, each at three ages.
    lost
        Charge lost today: the worst moment of each month.
    every_h
        Hours between the starts that were tried [h].
    findings
        What a colleague would point out.
    """

    by_month_days: tuple[float, ...]
    median_by_month_days: tuple[float, ...]
    by_month_hour_days: tuple[tuple[float, ...], ...]
    by_age: dict[str, tuple[float, ...]]
    settings: tuple[Setting, ...]
    lost: tuple[Lost, ...]
    every_h: float
    findings: tuple[Finding, ...]


def autonomy_view(run: Simulation) -> AutonomyView:
    """Return a site's autonomy by month, hour, disconnect setting and age.

    Returns
    -------
    AutonomyView
        Days without any charge from the state that the run has at each start.
    """
    starts, every_h = view_starts(run)
    days = holds_days(run, starts)
    month = run.problem.month_index[starts]
    hour = np.floor(run.problem.record.hour_local[starts]).astype(int) % 24
    lost = tuple(
        charge_lost(run, int(starts[month == m][np.nanargmin(days[month == m])]))
        for m in range(12)
        if np.isfinite(days[month == m]).any()
    )
    settings = tuple(_settings(run))
    return AutonomyView(
        by_month_days=_least_by(month, days, 12),
        median_by_month_days=_median_by(month, days),
        by_month_hour_days=tuple(
            tuple(row)
            for row in np.array(_least_by(24 * month + hour, days, 288)).reshape(12, 24)
        ),
        by_age={age: _aged_months(run, health) for age, health in _ages(run)},
        settings=settings,
        lost=lost,
        every_h=every_h,
        findings=tuple(_findings(run, settings, lost)),
    )


def view_starts(run: Simulation) -> tuple[NDArray[np.int64], float]:
    """Return the starts to try, and the hours between them.

    Returns
    -------
    tuple of array and float
        Every hour of a year or two; of longer records every few hours, so spaced
        that all clock hours come up [h].
    """
    step = run.problem.record.step_h
    per_hour = max(1, round(1 / step))
    stride = per_hour * math.ceil(run.problem.record.n / per_hour / MOST_STARTS)
    # A stride that shares a factor with the day would miss clock hours.
    while stride > per_hour and math.gcd(stride // per_hour, 24) > 1:
        stride += per_hour
    return np.arange(0, run.problem.record.n, stride), stride * step


def holds_days(run: Simulation, starts: NDArray[np.int64]) -> Floats:
    """Return days to disconnect or ice from each start, no charge; 0 while off [d].

    Parameters
    ----------
    run
        A simulation.
    starts
        Interval numbers [count].

    Returns
    -------
    array
        One a start; 0 where the run has the loads off or has lost the bank, NaN where
        a record of actual years ends first [d].
    """
    counts = holds(run, starts)
    days = np.where(counts < 0, np.nan, counts * run.problem.record.step_h / 24.0)
    days[~run.served[starts]] = 0.0
    if run.frost.lost_index >= 0:
        days[starts >= run.frost.lost_index] = 0.0
    return np.asarray(days, float)


def _least_by(group: NDArray[np.int64], days: Floats, groups: int) -> tuple[float, ...]:
    least = np.full(groups, np.inf)
    np.fmin.at(least, group, days)
    return tuple(float(x) if np.isfinite(x) else math.nan for x in least)


def _median_by(month: NDArray[np.int64], days: Floats) -> tuple[float, ...]:
    return tuple(
        float(np.nanmedian(days[month == m]))
        if np.isfinite(days[month == m]).any()
        else math.nan
        for m in range(12)
    )


def _ages(run: Simulation) -> tuple[tuple[str, float], ...]:
    return (
        ("new", 1.0),
        ("as specified", run.bank.health_frac),
        ("end of life", run.bank.chemistry.end_of_life_frac),
    )


def _at_health(run: Simulation, health: float) -> Simulation:
    if health == run.bank.health_frac:
        return run
    problem = run.problem.under(Scenario(state_of_health_frac=health))
    return simulate_size(problem, run.strings, run.bank.parallel)


def _aged_months(run: Simulation, health: float) -> tuple[float, ...]:
    aged = _at_health(run, health)
    starts, _ = view_starts(aged)
    days = holds_days(aged, starts)
    return _least_by(aged.problem.month_index[starts], days, 12)


def moved_disconnect(problem: Problem, steps: int) -> tuple[Problem, str]:
    """Return the site with its disconnect so many steps higher, and the setting.

    Parameters
    ----------
    problem
        Prepared site.
    steps
        Up where positive: 0.3 V on 12 V, or 10 points of charge [count].

    Returns
    -------
    tuple of Problem and str
        The reconnect moves along, so that the gap stays [text].
    """
    bus = problem.design.tables.bus
    if bus.disconnect_v is not None:
        by = steps * STEP_V_PER_12V * bus.nominal_v / 12.0
        low = bus.disconnect_v + by
        back = None if bus.reconnect_v is None else bus.reconnect_v + by
        scenario = Scenario(disconnect_v=low, reconnect_v=back)
        words = show(low, "V")
    else:
        by = steps * STEP_STATE
        low = min(0.95, max(0.0, (bus.disconnect_soc_frac or 0.0) + by))
        back = bus.reconnect_soc_frac
        if back is not None:
            back = min(0.98, max(low, back + by))
        scenario = Scenario(disconnect_soc_frac=low, reconnect_soc_frac=back)
        words = f"SOC {in_unit(100 * low, '%')}"
    return problem.under(scenario), words


def _settings(run: Simulation) -> list[Setting]:
    degc = run.problem.design.tables.criteria.autonomy_degc
    found = []
    for steps in (-1, 0, 1):
        for age, health in _ages(run):
            aged = _at_health(run, health)
            problem, words = moved_disconnect(aged.problem, steps)
            again = aged
            if steps:
                again = simulate_size(problem, run.strings, run.bank.parallel)
            found.append(
                Setting(
                    disconnect=words,
                    own=steps == 0,
                    age=age,
                    health_frac=health,
                    design_days=design_autonomy_days(problem, again.bank, degc),
                    record_days=record_autonomy(again)[0],
                    availability_frac=again.availability_frac,
                )
            )
    return found


def charge_lost(run: Simulation, start: int) -> Lost:
    """Return what happens when the charge is lost at a moment of the record.

    Parameters
    ----------
    run
        A simulation.
    start
        Interval number of the first interval without charge [count].

    Returns
    -------
    Lost
        Hours to disconnect and to damage, with the disconnect and without it.

    Notes
    -----
    Damage is the first ice, or a discharge too deep for the chemistry (`DEEP_FRAC`).
    After the disconnect the regulator and standing leakage go on drawing, and the
    bank discharges itself.
    """
    problem = run.problem
    s = problem.scalars(run.strings, run.bank)
    dark, order = _dark(problem, start)
    removed = float(run.removed_ah[start])
    out = run_kernel(dark, s, removed)
    step = problem.record.step_h
    off = np.flatnonzero(out["served"] < 0.5)
    damage, damage_h = _damage(run, s, order, out)
    bare = s.copy()
    bare["trip_v"] = bare["return_v"] = 0.0
    bare["trip_state"] = -1.0
    open_damage, open_h = _damage(run, s, order, run_kernel(dark, bare, removed))
    to_off = float(off[0]) * step if off.size else math.inf
    if not run.served[start]:
        to_off = 0.0
    return Lost(
        month=int(problem.record.month[start]),
        start=str(problem.record.start_local[start])[:16],
        state_frac=float(1.0 - removed / s["charge_ah"]),
        to_disconnect_h=to_off,
        to_damage_h=damage_h,
        damage=damage,
        unprotected_h=open_h,
        unprotected_damage=open_damage,
    )


def _dark(problem: Problem, start: int) -> tuple[Problem, NDArray[np.int64]]:
    """Return the record from a moment on, sunless, and which rows that are."""
    n = problem.record.n
    most = int(min(LONGEST_DAYS * 24 / problem.record.step_h, n))
    order = (start + np.arange(most)) % n
    rows = problem.hourly[order]
    rows["array_w"] = 0.0
    heater = problem.design.tables.battery.heater
    if heater is not None and heater.feed == "array":
        rows["base_w"] = 0.0
    dark = replace(
        problem,
        hourly=rows,
        currents=np.zeros((most, problem.currents.shape[1])),
        record=cut(problem.record, order),
    )
    return dark, order


def _damage(
    run: Simulation, s: col.Record, order: NDArray[np.int64], out: col.Records
) -> tuple[str, float]:
    removed, step = out["removed_ah"], run.problem.record.step_h
    floor = run.problem.conditions.frozen_below_frac[order]
    ice = np.flatnonzero(removed > frozen_ah(floor, run.bank.rated_ah))
    left = DEEP_FRAC.get(run.bank.chemistry.name, FLAT_FRAC)
    dead = (out["served"] < -0.5) | (removed >= (1.0 - left) * s["charge_ah"])
    first = {"frost": ice, "overdischarge": np.flatnonzero(dead)}
    hours = {name: float(at[0]) * step for name, at in first.items() if at.size}
    if not hours:
        return "none", math.inf
    name = min(hours, key=lambda key: hours[key])
    return name, hours[name]


def _findings(
    run: Simulation, settings: tuple[Setting, ...], lost: tuple[Lost, ...]
) -> list[Finding]:
    found = []
    own = [row for row in settings if row.age == "as specified"]
    wanted = run.problem.design.tables.criteria.autonomy_d
    verdicts = {row.design_days >= wanted for row in own}
    if len(verdicts) > 1:
        words = ", ".join(
            f"{in_unit(row.design_days, 'd', 1)} at {row.disconnect}" for row in own
        )
        found.append(
            Finding(
                "warning",
                f"Autonomy of {wanted:g} d depends on the LVD setting: {words}.",
            )
        )
    late = [row for row in lost if row.to_damage_h < row.to_disconnect_h]
    if late:
        months = ", ".join(MONTHS[row.month - 1] for row in late)
        found.append(
            Finding(
                "note",
                f"The LVD acts only after overdischarge in {months}: at low current the "
                "voltage stays above the setting. Raise the LVD or use an SOC disconnect.",
            )
        )
    ice = [row for row in lost if row.unprotected_damage == "frost"]
    if ice:
        soonest = min(ice, key=lambda row: row.unprotected_h)
        found.append(
            Finding(
                "warning",
                f"If the array fails on {soonest.start[:10]} and the LVD does not act, "
                f"the battery freezes after {in_unit(soonest.unprotected_h / 24, 'd', 1)}. Use an "
                "independent load disconnect.",
            )
        )
    return found
