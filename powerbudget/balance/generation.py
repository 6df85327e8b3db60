"""What the sources beside the array did in a run: fuel, hours, starts, visits."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
from powerbudget.balance.ring import wraps
from powerbudget.balance.run import Run
from powerbudget.generators.access import days_without_visit
from powerbudget.generators.cold import FuelPressure, fuel_pressure_check
from powerbudget.generators.series import (
    AMBIENT,
    CLOSED,
    NO_FUEL,
    PRESSURE,
    RELIGHT,
    RUNS,
    Walk,
)
from powerbudget.generators.starts import at_least_one_frac, failure_risk_frac
from powerbudget.generators.unit import Machine
from powerbudget.site.generator import Access
from powerbudget.weather.runs import longest_run

Floats = NDArray[np.float64]
HOURS_PER_YEAR = 8766.0


@dataclass(frozen=True)
class StartRisk:
    """Whether a source starts when it is needed.

    Parameters
    ----------
    longest_rest_h
        Longest stretch in the record in which nothing asked for it [h].
    risk_frac, risk_exercised_frac
        Probability that the start after that stretch fails, without exercise and with
        the exercise stated, weekly where none is [fraction].
    expected_failures_per_year
        Failed starts to be expected at the starts of the run [1/year].
    year_risk_frac
        Probability of at least one failed start in a year [fraction].
    stated
        Whether the site file gives a probability or a rate at all.
    """

    longest_rest_h: float
    risk_frac: float
    risk_exercised_frac: float
    expected_failures_per_year: float
    year_risk_frac: float
    stated: bool


@dataclass(frozen=True)
class GeneratorYear:
    """One ``[[generator]]`` over the record, by the year.

    Parameters
    ----------
    name, kind, fuel, fuel_unit
        As in the site file; the unit in which its fuel is counted [text].
    always
        Whether it runs without asking the battery.
    rated_w
        Rated output of all of them [W].
    fuel_per_year, fuel_heat_wh_per_year
        Fuel in its unit, and its heat, higher heating value [unit/year, Wh/year].
    run_h_per_year, exercise_h_per_year
        Hours run in all, and for exercise [h/year].
    starts_per_year, failed_starts_per_year
        Starts, and tries that failed [1/year].
    service_visits_per_year, repairs_per_year
        By running hours, at least one a year where it burns; after failed starts or to
        light it again [1/year].
    deliveries_per_year, loads_per_year
        Refills, and trips that they take [1/year].
    offered_wh_per_year, accepted_wh_per_year
        What it could have given at the bus while running, and what battery and loads
        took [Wh/year].
    life_y
        Years until replaced at these hours, or by its age [year].
    stack_life_y
        Years until the stack of a fuel cell is worn by hours or starts, infinite
        without one and where the site file states the life of the whole [year].
    pressure_h, no_fuel_h, closed_h, ambient_h, failed_h
        Hours of the record in which it could not run when it should: fuel pressure,
        empty store, months without fuel, ambient, repair or lighting [h].
    stock_days, stock_days_as_run
        Days on full stores at rated output, and at the burn of the run [d].
    wait_days
        Longest time without a visit: closed season and delay [d].
    lowest_stock_frac
        Least fuel left, of full stores [fraction].
    pressure
        Its propane in the cold, None without.
    starts_risk
        Whether it starts, None where it runs always.
    """

    name: str
    kind: str
    fuel: str
    fuel_unit: str
    always: bool
    rated_w: float
    fuel_per_year: float
    fuel_heat_wh_per_year: float
    run_h_per_year: float
    exercise_h_per_year: float
    starts_per_year: float
    failed_starts_per_year: float
    service_visits_per_year: float
    repairs_per_year: float
    deliveries_per_year: float
    loads_per_year: float
    offered_wh_per_year: float
    accepted_wh_per_year: float
    life_y: float
    stack_life_y: float
    pressure_h: float
    no_fuel_h: float
    closed_h: float
    ambient_h: float
    failed_h: float
    stock_days: float
    stock_days_as_run: float
    wait_days: float
    lowest_stock_frac: float
    pressure: FuelPressure | None
    starts_risk: StartRisk | None


def generator_years(run: Run) -> tuple[GeneratorYear, ...]:
    """Return every source over the record, in the site file's order.

    Returns
    -------
    tuple of GeneratorYear
        Empty where the site has none.
    """
    sources = run.problem.sources
    walks = {walk.unit.name: walk for walk in sources.walks}
    found = []
    for unit in sources.units:
        series = (
            _walked(run, walks[unit.name])
            if unit.name in walks
            else _followed(run, unit)
        )
        found.append(_year(run, unit, series))
    return tuple(found)


@dataclass(frozen=True)
class _Series:
    """One source by interval, whoever ran it."""

    run_h: Floats
    fuel_wh: Floats
    offered_w: Floats
    accepted_w: Floats
    stock_wh: Floats
    code: NDArray[np.int64]
    delivered: int
    starts: int
    failed: int
    relit: int
    exercise_h: float


def accepted_w(run: Run, name: str) -> Floats:
    """Return what battery and loads took of one source, by interval [W].

    Parameters
    ----------
    run
        A simulation.
    name
        Name of the generator [text].

    Returns
    -------
    array
        Steady sources share what was taken of them by what they offered [W].
    """
    sources, volts = run.problem.sources, run.out["bus_v"]
    for walk in sources.walks:
        if walk.unit.name == name:
            total = np.maximum(sources.steady_w, 1e-12)
            taken = run.out["steady_a"] * volts
            return np.asarray(taken * walk.bus_w / total)
    return np.asarray(run.out["source_a"] * volts)


def _walked(run: Run, walk: Walk) -> _Series:
    step = run.problem.record.step_h
    burning = walk.code == RUNS
    lit = int((burning[1:] & ~burning[:-1]).sum())
    return _Series(
        run_h=burning * step,
        fuel_wh=walk.fuel_w * step,
        offered_w=walk.bus_w,
        accepted_w=accepted_w(run, walk.unit.name),
        stock_wh=walk.stock_wh,
        code=walk.code,
        delivered=int(walk.delivered.sum()),
        starts=lit,
        failed=0,
        relit=lit if walk.unit.table.relight == "visit" else 0,
        exercise_h=0.0,
    )


def _followed(run: Run, unit: Machine) -> _Series:
    out, step = run.out, run.problem.record.step_h
    raw = out["source_code"]
    started = raw > 10
    hours = out["source_h"]
    code = np.where(raw == col.G_NO_FUEL, NO_FUEL, RUNS)
    code = np.where((raw == col.G_DOWN) | (raw == col.G_FAILED), RELIGHT, code)
    why = run.problem.sources.follower_code
    code = np.where(raw == col.G_BLOCKED, why, code)
    stock = out["source_stock_wh"]
    came = 0
    if not math.isinf(unit.stock_wh):
        came = int((np.diff(stock) > 1e-9 * unit.stock_wh).sum())
    tests = np.isin(raw, (col.G_EXERCISE, col.G_EXERCISE + 10))
    failed = int((raw == col.G_FAILED).sum())
    return _Series(
        run_h=hours,
        fuel_wh=out["source_fuel_wh"],
        offered_w=run.problem.sources.follower_w * hours / step,
        accepted_w=accepted_w(run, unit.name),
        stock_wh=stock,
        code=code.astype(np.int64),
        delivered=came,
        starts=int(started.sum()),
        failed=failed,
        relit=failed,
        exercise_h=float(hours[tests].sum()),
    )


SILENT_H = {
    "pressure_h": PRESSURE,
    "no_fuel_h": NO_FUEL,
    "closed_h": CLOSED,
    "ambient_h": AMBIENT,
    "failed_h": RELIGHT,
}
"""Hours in which a source was silent, by what the kernel says of it."""


def _year(run: Run, unit: Machine, one: _Series) -> GeneratorYear:
    step, years = run.problem.record.step_h, run.years
    run_h = float(one.run_h.sum()) / years
    heat = float(one.fuel_wh.sum()) / years
    access = run.problem.sources.access
    burns = unit.fuel.name != "none"
    hours = {k: float((one.code == code).sum() * step) for k, code in SILENT_H.items()}
    return GeneratorYear(
        name=unit.name,
        kind=unit.kind.name,
        fuel=unit.fuel.name,
        fuel_unit=unit.fuel.unit if burns else "",
        always=unit.always,
        rated_w=unit.rated_w,
        fuel_per_year=heat / unit.fuel.heat_wh_per_unit,
        fuel_heat_wh_per_year=heat,
        run_h_per_year=run_h,
        exercise_h_per_year=one.exercise_h / years,
        starts_per_year=one.starts / years,
        failed_starts_per_year=one.failed / years,
        service_visits_per_year=_visits(unit, run_h),
        repairs_per_year=one.relit / years,
        deliveries_per_year=one.delivered / years,
        loads_per_year=one.delivered * loads_per_refill(unit) / years,
        offered_wh_per_year=float(one.offered_w.sum() * step) / years,
        accepted_wh_per_year=float(one.accepted_w.sum() * step) / years,
        life_y=_life_y(unit, run_h),
        stack_life_y=_stack_life_y(unit, run_h, one.starts / years),
        stock_days=unit.stock_days,
        stock_days_as_run=unit.stock_wh / (heat / 365.25) if heat > 0 else math.inf,
        wait_days=days_without_visit(access or Access()),
        lowest_stock_frac=_lowest(unit, one),
        pressure=fuel_pressure_check(unit, run.problem.record),
        starts_risk=None if unit.always else _risk(run, unit, one),
        **hours,
    )


def _life_y(unit: Machine, run_h: float) -> float:
    """Return years until a source is replaced, by running hours or by age [year]."""
    worn = unit.figure("life_h") / run_h if run_h > 0 else math.inf
    if unit.table.life_h is not None or not unit.kind.has("life_years"):
        return worn
    return min(worn, unit.figure("life_years"))


def _stack_life_y(unit: Machine, run_h: float, starts: float) -> float:
    """Return years until a stack is worn, by running hours or by starts [year]."""
    if unit.table.life_h is not None or not unit.kind.has("stack_life_h"):
        return math.inf
    worn = unit.figure("stack_life_h") / run_h if run_h > 0 else math.inf
    if not unit.kind.has("stack_starts") or starts <= 0:
        return worn
    return min(worn, unit.figure("stack_starts") / starts)


def _visits(unit: Machine, run_h: float) -> float:
    """Return service visits a year: by hours, and one look a year at the least."""
    if run_h <= 0:
        return 0.0
    return max(1.0, run_h / unit.figure("service_every_h"))


def _lowest(unit: Machine, one: _Series) -> float:
    if math.isinf(unit.stock_wh):
        return 1.0
    return float(one.stock_wh.min() / unit.stock_wh)


def loads_per_refill(unit: Machine) -> float:
    """Return the trips that one refill takes [count].

    Parameters
    ----------
    unit
        A source; a refill brings what is missing where it was ordered.

    Returns
    -------
    float
        Whole trips at the largest delivery, 1 where none is stated [count].
    """
    tank = unit.table.tank
    if tank is None or tank.largest_delivery_l is None:
        return 1.0
    brought = unit.stock_l * (1.0 - tank.refill_below_frac)
    return float(math.ceil(brought / tank.largest_delivery_l - 1e-9))


def _risk(run: Run, unit: Machine, one: _Series) -> StartRisk:
    table, step = unit.table, run.problem.record.step_h
    needed = (one.run_h > 0) & ~np.isin(
        run.out["source_code"], (col.G_EXERCISE, col.G_EXERCISE + 10)
    )
    rest = longest_run(~needed, ring=wraps(run.problem))[1] * step
    figures = (table.start_probability_frac, table.standing_faults_per_y)
    every = 24.0 * (table.exercise_every_d or 7.0)
    bare = failure_risk_frac(*figures, rest)
    tested = failure_risk_frac(*figures, rest, every)
    risk = bare if table.exercise_every_d is None else tested
    starts = one.starts / run.years
    mean_rest = HOURS_PER_YEAR / max(starts, 1.0)
    usual = failure_risk_frac(
        *figures, mean_rest, None if table.exercise_every_d is None else every
    )
    return StartRisk(
        longest_rest_h=rest,
        risk_frac=bare,
        risk_exercised_frac=tested,
        expected_failures_per_year=usual * max(0.0, starts - 1.0)
        + min(1, starts) * risk,
        year_risk_frac=at_least_one_frac(usual, max(1.0, starts)),
        stated=figures != (1.0, 0.0),
    )
