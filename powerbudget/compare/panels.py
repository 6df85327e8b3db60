"""Panels and battery alone: what `size` picks, or more where its limits end."""

from __future__ import annotations

import math
from collections.abc import Iterator

from powerbudget.compare.lifecycle import Terms
from powerbudget.compare.priced_site import MOST_ARRAY_W_PER_W, PricedSite, rungs
from powerbudget.compare.search import BANK_RATIO, OptionSize, Pool
from powerbudget.compare.trial import Trial
from powerbudget.sizing.candidates import Candidate
from powerbudget.sizing.frontier import Search
from powerbudget.sizing.limiting import binding_words
from powerbudget.sizing.picks import ranked


def size_solar(
    site: PricedSite, terms: Terms, search: Search, frontier: tuple[Candidate, ...]
) -> OptionSize:
    """Return panels and battery as `size` picks them.

    Parameters
    ----------
    site
        The site, its panels as the search turned them.
    terms
        Prices, for sizes beyond ``[sizing]``.
    search, frontier
        From `powerbudget.sizing.search.search_sizes`.

    Returns
    -------
    OptionSize
        The pick of `powerbudget.sizing.search.size`; beyond the limits of ``[sizing]``
        where nothing within them meets the criteria.
    """
    if frontier:
        pick = min(frontier, key=ranked)
        trial = site.attempt(pick.array_strings, pick.battery_strings)
        return OptionSize(trial, binding_words(search, pick))
    pool = Pool(site, terms)
    _wider(site, pool)
    return pool.found()


def _wider(site: PricedSite, pool: Pool) -> None:
    """Try, bank by bank, the smallest array that will do."""
    tables = site.problem.design.tables
    string_w = site.problem.array.module.power_w * tables.array.series
    ceiling = max(8, math.ceil(MOST_ARRAY_W_PER_W * site.load_w / string_w))
    for battery in rungs(site.least_battery(site.criteria.autonomy_d), BANK_RATIO):
        if site.least_cost((1, battery), (), pool.terms) > pool.least_cost:
            return
        for trial in _fewest(site, battery, ceiling):
            pool.add(trial)
            ceiling = min(ceiling, trial.strings) if trial.met else ceiling


def _fewest(site: PricedSite, battery: int, ceiling: int) -> Iterator[Trial]:
    """Yield the largest array beside a bank and, where it will do, the smallest."""
    best = site.attempt(ceiling, battery)
    yield best
    low, high = 0, ceiling if best.met else 0
    while high - low > max(1, high // 25):
        middle = (low + high) // 2
        trial = site.attempt(middle, battery)
        if trial.met:
            best, high = trial, middle
        else:
            low = middle
    yield best
