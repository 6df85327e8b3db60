"""What each year of an ensemble is made of: a season of sky, a load, a bank, dirt.

A season is twelve months around an unbroken winter: July to June north of the
equator, January to December south of it.  What a member changes is written into a
copy of one season's kernel rows, so that the balance itself is that of `run`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
from powerbudget.balance.drive import run_kernel
from powerbudget.balance.gate import check_run
from powerbudget.balance.problem import Problem, prepare
from powerbudget.balance.ring import go_through
from powerbudget.balance.stages import load_moments
from powerbudget.battery.bank import Bank, climate
from powerbudget.errors import Fault, InputError
from powerbudget.loads.budget import load_budget
from powerbudget.loads.series import bus_series
from powerbudget.quantities import count
from powerbudget.site.ensemble import Spread
from powerbudget.site.parts import Amperes, RackData, Watts
from powerbudget.site.reader import Design
from powerbudget.site.scenario import Scenario
from powerbudget.weather import WeatherRecord
from powerbudget.weather.record import cut

Floats = NDArray[np.float64]
Rows = NDArray[np.int64]
CURVES = ("conservative", "slow-rate")
_WHOLE_YEAR = 0.99
SETTLE_DAYS = 14
SETTLED_FRAC = 1e-6
"""Two runs of a season have met when they are as near as this [fraction]."""
_LOADS = [name for names in col.TIERS for name in names]


@dataclass(frozen=True, eq=False)
class Draws:
    """What was drawn for every member; an input that is not varied is left out.

    Parameters
    ----------
    season
        Which season of the record or of the made years [count].
    load_share
        Of the way from the load of `run` to every line at its highest [fraction].
    curve_share
        Of the way from the conservative to the slow-rate cold curve [fraction].
    dirt_frac, derate_frac
        Taken from the array's output, on top of the site file's [fraction].
    snow_share
        Of the way from bare panels to the snow that the site file counts [fraction].
    """

    season: Rows
    load_share: Floats | None = None
    curve_share: Floats | None = None
    dirt_frac: Floats | None = None
    derate_frac: Floats | None = None
    snow_share: Floats | None = None

    @property
    def n(self) -> int:
        """Number of members [count]."""
        return int(self.season.size)

    def value(self, name: str, member: int, default: float) -> float:
        """Return one input of a member, or the default where it is not varied."""
        values = getattr(self, name)
        return default if values is None else float(values[member])


@dataclass(frozen=True, eq=False)
class SeasonSource:
    """A site under some years, with both ends of every range.

    Parameters
    ----------
    problem
        The site as `run` sees it.
    seasons
        Rows of each season.
    high_load
        Load columns with every line at its highest while it is on [W, A, S].
    high_w
        Mean load of the heaviest month then [W].
    capacity
        Capacity by temperature on both cold curves [fraction].
    bare
        The site without snow on its panels, None where none is counted.
    """

    problem: Problem
    seasons: tuple[Rows, ...]
    high_load: Floats
    high_w: float
    capacity: tuple[Floats, Floats]
    bare: Problem | None


def draw_members(
    spread: Spread, n: int, seed: int, *, seasons: int | None, snowy: bool
) -> Draws:
    """Draw every member of an ensemble.

    Parameters
    ----------
    spread
        Ranges.
    n
        Members [count].
    seed
        The same seed gives the same members [count].
    seasons
        How many real seasons there are to draw from, None where each member gets a
        made year of its own [count].
    snowy
        Whether the site file counts snow.

    Returns
    -------
    Draws
        Each input from a stream of its own, so that one more input changes no other.

    Notes
    -----
    The load share is triangular, most likely at its low end; the others are even
    over their range.
    """

    def chance(stream: int) -> Floats:
        rng = np.random.default_rng(np.random.SeedSequence([seed, stream]))
        return np.asarray(rng.random(n))

    even = chance(0)
    season = np.arange(n) if seasons is None else (even * seasons).astype(np.int64)
    top, dirt = spread.load_to_maximum_frac, spread.more_soiling_frac
    derate = spread.module_derate_frac
    return Draws(
        season=season,
        load_share=top * (1.0 - np.sqrt(1.0 - chance(1))) if top else None,
        curve_share=chance(2) if spread.cold_curves == "between" else None,
        dirt_frac=dirt * chance(3) if dirt else None,
        derate_frac=derate * chance(4) if derate else None,
        snow_share=chance(5) if snowy and spread.snow == "between" else None,
    )


def season_rows(record: WeatherRecord) -> tuple[Rows, ...]:
    """Return the rows of every whole season of a record.

    Returns
    -------
    tuple of array
        A record of one year gives one season, its halves put together.

    Raises
    ------
    InputError
        When it holds less than a year.
    """
    day = record.day_local
    expected = 365 * 24 / record.step_h
    month = day.astype("datetime64[M]").astype(np.int64)
    label = month // 12
    if record.latitude_deg >= 0:
        label = (month - 6) // 12
    found = [np.flatnonzero(label == k) for k in np.unique(label)]
    whole = tuple(rows for rows in found if rows.size >= _WHOLE_YEAR * expected)
    if whole:
        return whole
    if record.n < _WHOLE_YEAR * expected:
        days = record.n * record.step_h / 24
        raise InputError(
            Fault(
                "weather",
                "is too short for a Monte Carlo simulation",
                count(days, "day"),
                "a year or more",
            )
        )
    first = int(np.argmax(label != label[0])) if (label != label[0]).any() else 0
    year = np.arange(min(record.n, round(expected * 366 / 365)))
    return (np.roll(year, -first),)


def highest_design(design: Design) -> Design:
    """Return the site with every line at its highest draw while it is on.

    Returns
    -------
    Design
        High figures of the parts and stated maxima stand for the typical ones, at
        the same duty, hours and traffic; no contingency on top.  Measured loads,
        heaters (their thermostat decides) and strokes stay as they are.
    """
    loads = tuple(_highest_load(load) for load in design.tables.load)
    parts = {name: _highest_part(part) for name, part in design.parts.items()}
    return Scenario(loads=loads, parts=parts, contingency_frac=0.0).site(design)


def _highest_load(load: Any) -> Any:
    fixed = load.measured is not None or load.heater is not None or load.traffic
    if fixed or load.typical is None or load.maximum is None:
        return load
    same = load.typical[0] == load.maximum[0]
    if not same or load.maximum[1] <= load.typical[1]:
        return load
    return load.model_copy(update={"typical": load.maximum})


def _highest_part(part: Any) -> Any:
    changes = {}
    for name in type(part).model_fields:
        value = getattr(part, name)
        if isinstance(value, Watts | Amperes):
            changes[name] = value.model_copy(update={"typical": value.high})
        elif isinstance(value, RackData):
            changes[name] = _highest_part(value)
    return part.model_copy(update=changes) if changes else part


def make_season_source(
    design: Design, record: WeatherRecord, bank: Bank
) -> SeasonSource:
    """Lay a site out under some years, with both ends of every range.

    Parameters
    ----------
    design
        A checked site.
    record
        Years to lay out.
    bank
        Its bank, as old as it is to be.

    Returns
    -------
    SeasonSource
        Seasons and ranges.
    """
    as_old = Scenario(state_of_health_frac=bank.health_frac).site(design)
    return season_source_of(prepare(as_old, record))


def season_source_of(problem: Problem) -> SeasonSource:
    """Return a prepared site with both ends of every range [SeasonSource]."""
    design, record = problem.design, problem.record
    high = load_budget(highest_design(design))
    rows = bus_series(high, load_moments(record)).reshape(record.n, -1)
    low = np.stack([problem.hourly[name] for name in _LOADS], axis=1)
    was = problem.conditions
    capacity = tuple(
        climate(problem.bank.with_cold_curve(name), was.battery_degc).capacity_frac
        for name in CURVES
    )
    return SeasonSource(
        problem=problem,
        seasons=season_rows(record),
        high_load=np.maximum(rows, low),
        high_w=max(high.average_w, problem.budget.average_w),
        capacity=(capacity[0], capacity[1]),
        bare=_without_snow(problem),
    )


def _without_snow(problem: Problem) -> Problem | None:
    array = problem.design.tables.array
    if array.snow is None or array.snow.cover == "none":
        return None
    health = problem.bank.health_frac
    return problem.under(Scenario(snow="none", state_of_health_frac=health))


def member_problem(
    sky: SeasonSource, problem: Problem, rows: Rows, draws: Draws, member: int
) -> Problem:
    """Return one member's season laid out for the kernel.

    Parameters
    ----------
    sky
        Both ends of every range.
    problem
        ``sky.problem`` for the number of array strings in question.
    rows
        Rows of the season.
    draws, member
        What was drawn, and for which member [count].

    Returns
    -------
    Problem
        Only the season's rows; dirt and derating are taken in proportion from power
        or current.
    """
    hourly, currents = problem.hourly[rows], problem.currents[rows]
    budget, window = problem.budget, problem.window
    window_w = None if window is None else window.array_w[rows]
    share = draws.value("load_share", member, 0.0)
    if share:
        for name, high in zip(_LOADS, sky.high_load[rows].T, strict=True):
            hourly[name] += share * (high - hourly[name])
        watts = budget.average_w + share * (sky.high_w - budget.average_w)
        budget = replace(budget, average_w=watts)
    if draws.curve_share is not None:
        mild = float(draws.curve_share[member])
        cold, long = sky.capacity
        hourly["capacity"] = (1 - mild) * cold[rows] + mild * long[rows]
    snow = draws.value("snow_share", member, 1.0)
    if sky.bare is not None and snow < 1.0:
        bare = sky.bare
        clear_w = bare.hourly["array_w"][rows]
        hourly["array_w"] = snow * hourly["array_w"] + (1 - snow) * clear_w
        currents = snow * currents + (1 - snow) * bare.currents[rows]
        if window_w is not None:
            over = (
                clear_w[:, None] if bare.window is None else bare.window.array_w[rows]
            )
            window_w = snow * window_w + (1 - snow) * over
    kept = 1.0 - draws.value("dirt_frac", member, 0.0)
    kept *= 1.0 - draws.value("derate_frac", member, 0.0)
    if kept < 1.0:
        hourly["array_w"] *= kept
        currents = currents * kept
    if window is not None and window_w is not None:
        window = window._replace(array_w=kept * window_w)
    return replace(
        problem,
        hourly=hourly,
        window=window,
        currents=np.ascontiguousarray(currents),
        record=cut(problem.record, rows),
        budget=budget,
    )


def run_season(problem: Problem, s: col.Record) -> tuple[Floats, NDArray[np.bool_]]:
    """Run one season so that it begins as it ends.

    Parameters
    ----------
    problem
        From `member_problem`.
    s
        Scalars of the size.

    Returns
    -------
    tuple of array
        Charge removed at the end of every interval, and whether the loads were
        served [Ah].

    Notes
    -----
    It is first run from full.  Its first fortnight is then run again from where it
    ended; where the two have not met by then, the whole season is.
    """
    out = _from(problem, s, 0.0)
    start = float(out["removed_ah"][-1])
    count = min(problem.record.n, round(SETTLE_DAYS * 24 / problem.record.step_h))
    first = replace(
        problem,
        hourly=problem.hourly[:count],
        currents=problem.currents[:count],
        record=cut(problem.record, slice(0, count)),
    )
    again = _from(first, s, start)
    apart = abs(again["removed_ah"][-1] - out["removed_ah"][count - 1])
    if apart > SETTLED_FRAC * s["charge_ah"] or again["served"][-1] < 0.5:
        out = _from(problem, s, start)
    else:
        out[:count] = again
    return out["removed_ah"].copy(), out["served"] > 0.5


def _from(problem: Problem, s: col.Record, removed_ah: float) -> col.Records:
    """Return kernel results from a start; an input window at the battery's own volts."""
    if problem.window is None:
        return run_kernel(problem, s, removed_ah)
    from powerbudget.balance.kernel import fresh

    out = go_through(problem, s, removed_ah, fresh(s), 0)
    check_run(problem, s, removed_ah, out)
    return out


def darkest_kwh_m2_d(poa_w_m2: Floats, step_h: float, days: int) -> float:
    """Return the mean daily light on the plane in the darkest run of days [kWh/m2].

    Parameters
    ----------
    poa_w_m2
        Light on the plane by interval [W/m2].
    step_h
        Interval length [h].
    days
        Length of the run [d].

    Returns
    -------
    float
        The lowest mean over so many days in a row [kWh/m2].

    Examples
    --------
    >>> light = np.repeat([1000.0, 0.0, 0.0, 500.0], 24)
    >>> darkest_kwh_m2_d(light, 1.0, 2)
    0.0
    """
    return _lowest_mean(poa_w_m2, step_h, days) * 24.0 / 1000.0


def coldest_degc(degc: Floats, step_h: float, days: int) -> float:
    """Return the mean temperature of the coldest run of days [degC].

    Parameters
    ----------
    degc
        Temperature by interval [degC].
    step_h
        Interval length [h].
    days
        Length of the run [d].

    Returns
    -------
    float
        The lowest mean over so many days in a row [degC].
    """
    return _lowest_mean(degc, step_h, days)


def _lowest_mean(values: Floats, step_h: float, days: int) -> float:
    per_day = round(24 / step_h)
    whole = values.size // per_day
    daily = values[: whole * per_day].reshape(whole, per_day).mean(axis=1)
    days = min(days, whole)
    total = np.concatenate([[0.0], np.cumsum(daily)])
    # The running sum leaves dust of rounding.
    return float(np.round((total[days:] - total[:-days]).min() / days, 12))


def parted(n: int, size: int) -> Iterator[range]:
    """Give the numbers from 0 to n in parts of at most a size [count]."""
    for first in range(0, n, size):
        yield range(first, min(n, first + size))
