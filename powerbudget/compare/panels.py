"""Panels and battery alone: of all sizes that will do, the cheapest over the years."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from powerbudget.balance.problem import Problem
from powerbudget.compare.bench import (
    MOST_ARRAY_W_PER_W,
    MOST_BATTERY,
    Bench,
    Trial,
)
from powerbudget.compare.lifecycle import Terms
from powerbudget.compare.search import BATTERY_STEPS, Found, Pool
from powerbudget.sizing.search import Sizing, size


def size_solar(bench: Bench, terms: Terms) -> Found:
    """Return panels and battery: of all that `size` finds, the cheapest over the years.

    Parameters
    ----------
    bench
        The site with panels.
    terms
        Prices, for sizes beyond ``[sizing]``.

    Returns
    -------
    Found
        From the frontier of `powerbudget.sizing.search.size`; beyond the limits of
        ``[sizing]`` where nothing within them meets the criteria.

    Notes
    -----
    `size` ranks by first price.  Every other option here is ranked over the years, so
    this one is too: a larger bank that lives longer may be the cheaper one.
    """
    result: Sizing = size(as_tilted(bench.problem))
    if result.pick is None:
        pool = Pool(bench, terms)
        pool.take(_wider(bench))
        found = pool.found()
        words = f"beyond the limits of [sizing]; {found.binding}"
        return replace(found, binding=words) if found.met else found
    pick = result.pick
    pool = Pool(bench, terms)
    for one in result.frontier:
        pool.add(bench.attempt(one.array_strings, one.battery_strings))
    found = pool.found()
    best = found.trial
    if best is None or (best.strings, best.battery) == (
        pick.array_strings, pick.battery_strings
    ):  # fmt: skip
        return replace(found, binding=result.binding)
    words = (
        f"{found.binding}; `size` picks {pick.modules} modules and "
        f"{pick.battery_units} battery units, which cost less at first and more "
        "over the years"
    )
    return replace(found, binding=words)


def as_tilted(problem: Problem) -> Problem:
    """Return the site without the other tilts and strings that ``[sizing]`` would try.

    Every option with panels has them as the site file has them, or a hybrid would be
    held against panels that stand better.
    """
    tables = problem.design.tables
    own = tables.sizing.model_copy(update={"tilts": None, "series": None})
    tables = tables.model_copy(update={"sizing": own})
    return replace(problem, design=replace(problem.design, tables=tables))


def _wider(bench: Bench) -> Iterator[Trial]:
    """Yield, for banks of the autonomy and more, the smallest array that will do."""
    tables = bench.problem.design.tables
    least = bench.least_battery(bench.criteria.autonomy_d)
    string_w = bench.problem.array.module.power_w * tables.array.series
    most = max(8, math.ceil(MOST_ARRAY_W_PER_W * bench.load_w / string_w))
    ceiling = most
    for step in BATTERY_STEPS:
        battery = min(MOST_BATTERY, math.ceil(step * least))
        trial = _smallest_array(bench, battery, ceiling)
        yield trial
        if trial.met:
            ceiling = trial.strings


def _smallest_array(bench: Bench, battery: int, ceiling: int) -> Trial:
    low, high = 0, 2
    best = bench.attempt(high, battery)
    while not best.met and high < ceiling:
        low, high = high, min(2 * high, ceiling)
        best = bench.attempt(high, battery)
    while best.met and high - low > max(1, high // 25):
        middle = (low + high) // 2
        trial = bench.attempt(middle, battery)
        if trial.met:
            best, high = trial, middle
        else:
            low = middle
    return best
