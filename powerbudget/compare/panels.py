"""Panels and battery alone: what `size` picks, or more where its limits end."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from powerbudget.compare.lifecycle import Terms
from powerbudget.compare.search import BANK_RATIO, Found, Pool
from powerbudget.compare.sized_site import MOST_ARRAY_W_PER_W, Bench, rungs
from powerbudget.compare.trial import Trial
from powerbudget.sizing.candidates import Candidate
from powerbudget.sizing.frontier import Search
from powerbudget.sizing.limiting import binding_words
from powerbudget.sizing.picks import ranked


def size_solar(
    bench: Bench, terms: Terms, search: Search, frontier: tuple[Candidate, ...]
) -> Found:
    """Return panels and battery as `size` picks them.

    Parameters
    ----------
    bench
        The site, its panels as the search turned them.
    terms
        Prices, for sizes beyond ``[sizing]``.
    search, frontier
        From `powerbudget.sizing.search.search_sizes`.

    Returns
    -------
    Found
        The pick of `powerbudget.sizing.search.size`; beyond the limits of ``[sizing]``
        where nothing within them meets the criteria.
    """
    if frontier:
        pick = min(frontier, key=ranked)
        trial = bench.attempt(pick.array_strings, pick.battery_strings)
        return Found(trial, binding_words(search, pick))
    pool = Pool(bench, terms)
    _wider(bench, pool)
    found = pool.found()
    words = f"beyond the limits of [sizing]; {found.binding}"
    return replace(found, binding=words) if found.met else found


def _wider(bench: Bench, pool: Pool) -> None:
    """Try, bank by bank, the smallest array that will do."""
    tables = bench.problem.design.tables
    string_w = bench.problem.array.module.power_w * tables.array.series
    ceiling = max(8, math.ceil(MOST_ARRAY_W_PER_W * bench.load_w / string_w))
    for battery in rungs(bench.least_battery(bench.criteria.autonomy_d), BANK_RATIO):
        if bench.least_cost((1, battery), (), pool.terms) > pool.least_cost:
            return
        for trial in _fewest(bench, battery, ceiling):
            pool.add(trial)
            ceiling = min(ceiling, trial.strings) if trial.met else ceiling


def _fewest(bench: Bench, battery: int, ceiling: int) -> Iterator[Trial]:
    """Yield the largest array beside a bank and, where it will do, the smallest."""
    best = bench.attempt(ceiling, battery)
    yield best
    low, high = 0, ceiling if best.met else 0
    while high - low > max(1, high // 25):
        middle = (low + high) // 2
        trial = bench.attempt(middle, battery)
        if trial.met:
            best, high = trial, middle
        else:
            low = middle
    yield best
