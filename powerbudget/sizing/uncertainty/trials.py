"""Every size through every member: who does it, and which sizes are worth it."""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance.problem import Problem
from powerbudget.balance.simulation import at_strings
from powerbudget.battery.bank import Bank
from powerbudget.bisection import least_count
from powerbudget.limits import within
from powerbudget.sizing.installed import installed_cost
from powerbudget.sizing.uncertainty.members import (
    Draws,
    Rows,
    SeasonSource,
    coldest_degc,
    darkest_kwh_m2_d,
    member_problem,
    run_season,
)
from powerbudget.sizing.uncertainty.years import Skies

Floats = NDArray[np.float64]
Progress = Callable[[int, int], None]
Size = tuple[int, int]
MOST_SIZES = 50
MOST_BATTERIES = 7
PILOT = 16
SKY_INPUTS = (
    "10-day minimum GHI",
    "60-day minimum GHI",
    "battery temperature of the coldest 10 days",
)


@dataclass(frozen=True, eq=False)
class Outcomes:
    """What every candidate did in every member, shape (members, candidates).

    Parameters
    ----------
    hours_off
        Without the loads [h].
    lowest_frac
        Lowest state of charge [fraction].
    frozen_h
        With a frozen bank [h].
    season_h
        Length of each member's season, shape (members, 1) [h].
    sky
        `SKY_INPUTS` of each member, shape (members, 3).
    """

    hours_off: Floats
    lowest_frac: Floats
    frozen_h: Floats
    season_h: Floats
    sky: Floats


def run_all(
    skies: Skies,
    draws: Draws,
    sizes: Sequence[Size],
    threads: int | None,
    progress: Progress | None,
) -> Outcomes:
    """Run every size through every member; each result has a place of its own.

    Parameters
    ----------
    skies, draws
        Years, and what was drawn for each.
    sizes
        Array and battery strings [count].
    threads
        As many as the machine has when None [count].
    progress
        Called with members done and members in all [count].

    Returns
    -------
    Outcomes
        The same on any number of threads.
    """
    shape = (draws.n, len(sizes))
    made = Outcomes(
        np.zeros(shape), np.zeros(shape), np.zeros(shape),
        np.zeros((draws.n, 1)), np.zeros((draws.n, 3)),
    )  # fmt: skip
    # The sky is laid out here and simulated there: parts of the light are made with
    # tools that are not safe in two threads.
    waiting: deque[tuple[Future[None], int]] = deque()
    workers = threads or os.cpu_count() or 1
    done = 0
    with ThreadPoolExecutor(workers) as pool:
        for some, sky, rows in skies.parts(draws):
            waiting.append(
                (pool.submit(_run_part, sky, draws, some, rows, sizes, made), len(some))
            )
            while len(waiting) > workers + 1:
                done = _finish(waiting, done, draws.n, progress)
        while waiting:
            done = _finish(waiting, done, draws.n, progress)
    return made


def _finish(
    waiting: deque[tuple[Future[None], int]],
    done: int,
    total: int,
    progress: Progress | None,
) -> int:
    future, count = waiting.popleft()
    future.result()
    if progress:
        progress(done + count, total)
    return done + count


def _run_part(
    sky: SeasonSource,
    draws: Draws,
    some: range,
    seasons: list[Rows],
    sizes: Sequence[Size],
    made: Outcomes,
) -> None:
    by_array = {array: at_strings(sky.problem, array) for array, _ in sizes}
    step = sky.problem.record.step_h
    for member, rows in zip(some, seasons, strict=True):
        made.season_h[member] = rows.size * step
        degc = sky.problem.conditions.battery_degc[rows]
        light = sky.problem.array.poa_w_m2[rows]
        made.sky[member] = (
            darkest_kwh_m2_d(light, step, 10),
            darkest_kwh_m2_d(light, step, 60),
            coldest_degc(degc, step, 10),
        )
        laid: dict[int, Problem] = {}
        for place, (array, battery) in enumerate(sizes):
            base = by_array[array]
            if id(base) not in laid:
                laid[id(base)] = member_problem(sky, base, rows, draws, member)
            found = try_size(laid[id(base)], base, rows, (array, battery))
            made.hours_off[member, place] = found[0]
            made.lowest_frac[member, place] = found[1]
            made.frozen_h[member, place] = found[2]


def try_size(
    problem: Problem, base: Problem, rows: Rows, size: Size
) -> tuple[float, float, float]:
    """Return hours off, lowest state and hours frozen of one size in one season.

    Parameters
    ----------
    problem
        The member's season.
    base, rows
        The sky it comes from, for the temperature at which the bank freezes.
    size
        Array and battery strings [count].

    Returns
    -------
    tuple of float
        [h, fraction, h].
    """
    array, battery = size
    bank: Bank = problem.bank.with_strings(battery)
    s = problem.scalars(array, bank)
    removed, served = run_season(problem, s)
    step = problem.record.step_h
    frozen = 0.0
    if bank.chemistry.freezing is not None:
        floor = base.conditions.frozen_below_frac[rows]
        frozen = float(((floor > 0) & (1 - removed / bank.rated_ah < floor)).sum())
    off = float((~served).sum()) * step
    return off, float(1.0 - removed.max() / s["charge_ah"]), frozen * step


def meets(problem: Problem, results: Outcomes) -> NDArray[np.bool_]:
    """Return whether each member meets the criteria that a season can show.

    Parameters
    ----------
    problem
        The site, for its criteria.
    results
        What each size did.

    Returns
    -------
    array of bool, shape (members, candidates)
        Availability and deepest discharge of the season, and no hour frozen.
    """
    criteria = problem.design.tables.criteria
    on = 1.0 - results.hours_off / results.season_h
    enough = within(on, criteria.availability_frac, "lower")
    shallow = within(
        1.0 - results.lowest_frac, criteria.deepest_discharge_frac, "upper"
    )
    return np.asarray(enough & shallow & (results.frozen_h <= 0))


def choose_sizes(
    skies: Skies, draws: Draws, problem: Problem, also: Sequence[Size] = ()
) -> tuple[Size, ...]:
    """Return up to 50 sizes worth trying, from the first members [count].

    Parameters
    ----------
    skies, draws
        Years and members.
    problem
        The site: its own size comes first, then ``also``.
    also
        Sizes to try whatever the pilot says [count].

    Returns
    -------
    tuple
        Array and battery strings [count].

    Notes
    -----
    For each battery the array that each pilot member needs is found by halving.  The
    sizes run from what a quarter of them need to a fifth more than all of them do.
    """
    some, sky, rows = next(skies.parts(draws))
    steps = problem.design.tables.sizing
    batteries = _steps(steps.max_battery_strings, steps.battery_step)
    arrays = _steps(steps.max_array_strings, steps.array_step)
    pilot = [(m, r) for m, r in zip(some, rows, strict=True)][:PILOT]
    needs = {
        battery: [
            _array_needed(sky, draws, member, season, battery, arrays)
            for member, season in pilot
        ]
        for battery in batteries
    }
    own = (problem.strings, problem.bank.parallel)
    first = list(dict.fromkeys([own, *also]))
    most = MOST_SIZES - len(first)
    more = _spread_out(_worth_trying(problem, needs, arrays), arrays, most)
    return tuple(dict.fromkeys([*first, *more]))


def _steps(most: int, step: int) -> list[int]:
    return sorted({*range(step, most + 1, step), most})


def _array_needed(
    sky: SeasonSource,
    draws: Draws,
    member: int,
    rows: Rows,
    battery: int,
    arrays: list[int],
) -> int:
    """Return the place in ``arrays`` of the smallest that will do, its length if none."""

    def will_do(place: int) -> bool:
        base = at_strings(sky.problem, arrays[place])
        season = member_problem(sky, base, rows, draws, member)
        off, lowest, frozen = try_size(season, base, rows, (arrays[place], battery))
        outcome = Outcomes(
            np.array([[off]]), np.array([[lowest]]), np.array([[frozen]]),
            np.array([[rows.size * season.record.step_h]]), np.zeros((1, 3)),
        )  # fmt: skip
        return bool(meets(sky.problem, outcome)[0, 0])

    return least_count(will_do, -1, len(arrays))


def _worth_trying(
    problem: Problem, needs: dict[int, list[int]], arrays: list[int]
) -> dict[int, list[int]]:
    """Return the needs with the batteries that may turn out cheapest at some level."""
    none, tables = len(arrays), problem.design.tables

    def cost(battery: int, level: float) -> float:
        place = int(np.quantile(needs[battery], level, method="higher"))
        if place >= none:
            return float("inf")
        cost = installed_cost(problem, arrays[place], battery)
        pieces = tables.array.series * arrays[place] + tables.battery.series * battery
        return float(pieces) if cost is None else cost

    scores = {battery: float("inf") for battery in needs}
    for level in (0.5, 0.9, 1.0):
        at = {battery: cost(battery, level) for battery in needs}
        least = max(min(at.values()), 1e-9)
        for battery, value in at.items():
            scores[battery] = min(scores[battery], value / least)
    ranked = sorted(needs, key=lambda battery: (scores[battery], battery))
    kept = [b for b in ranked if np.isfinite(scores[b])][:MOST_BATTERIES]
    return {b: needs[b] for b in sorted(kept or [max(needs)])}


def _spread_out(
    needs: dict[int, list[int]], arrays: list[int], most: int
) -> list[Size]:
    """Return candidates about the edge that the pilot found."""
    each, last = max(1, most // len(needs)), len(arrays) - 1
    found = []
    for battery, places in needs.items():
        low = min(last, int(np.quantile(places, 0.25, method="lower")))
        high = max(low, min(last, 1 + round(1.2 * max(places))))
        found += [
            (arrays[k], battery) for k in _thinned(list(range(low, high + 1)), each)
        ]
    return found[:most]


def _thinned(values: list[int], most: int) -> list[int]:
    """Return at most so many of a list, its ends kept, evenly spaced."""
    if len(values) <= most:
        return values
    places = np.unique(np.round(np.linspace(0, len(values) - 1, most)).astype(int))
    return [values[k] for k in places]
