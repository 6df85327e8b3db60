"""From outcomes to answers: probabilities, sizes to be sure of, and what matters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance.problem import Problem
from powerbudget.balance.simulation import simulate_size
from powerbudget.sizing.criteria import judge
from powerbudget.sizing.installed import installed_cost

if TYPE_CHECKING:
    from powerbudget.sizing.uncertainty.trials import Outcomes

Floats = NDArray[np.float64]
LEVELS = (0.5, 0.9, 0.99)


@dataclass(frozen=True)
class Odds:
    """One size and how it fares over all members.

    Parameters
    ----------
    array_strings, battery_strings, modules, battery_units
        How many [count].
    array_w, battery_ah
        Rated panel power and name-plate charge at the bus [W, Ah].
    cost
        Modules and units at the site's prices; None without prices [currency].
    probability_frac
        Members that meet the target [fraction].
    error_frac
        Standard error of that, from the number of members [fraction].
    no_outage_frac, not_too_deep_frac, not_frozen_frac
        Members without an hour off, not discharged too deep, and without an hour
        frozen [fraction].
    mean_hours_off
        Hours without the loads in the mean season [h].
    lowest_median_frac, lowest_p90_frac
        Lowest state of charge of the median season, and of the season of ten
        [fraction].
    fails_on_record
        Criteria that it misses in the site's own record [text].
    """

    array_strings: int
    battery_strings: int
    modules: int
    battery_units: int
    array_w: float
    battery_ah: float
    cost: float | None
    probability_frac: float
    error_frac: float
    no_outage_frac: float
    not_too_deep_frac: float
    not_frozen_frac: float
    mean_hours_off: float
    lowest_median_frac: float
    lowest_p90_frac: float
    fails_on_record: tuple[str, ...]


@dataclass(frozen=True)
class SureSize:
    """The cheapest of the candidates at a probability.

    Parameters
    ----------
    level
        Wanted probability of meeting the target in a season [fraction].
    candidate
        None when no candidate reaches it.
    """

    level: float
    candidate: Odds | None


@dataclass(frozen=True)
class Influence:
    """How an input moves the outcome.

    Parameters
    ----------
    name
        The input [text].
    rank_correlation
        Spearman's, with the season's margin; positive where more of it is better
        [number from -1 to 1].
    share_frac
        Its square over the sum of all squares [fraction].
    low, high
        Tenth and ninetieth percentile of what was drawn or met.
    """

    name: str
    rank_correlation: float
    share_frac: float
    low: float
    high: float


def likelihoods(
    problem: Problem,
    sizes: Sequence[tuple[int, int]],
    results: Outcomes,
    met: NDArray[np.bool_],
) -> tuple[Odds, ...]:
    """Return each size with its probability.

    Parameters
    ----------
    problem
        The site.
    sizes
        Array and battery strings [count].
    results, met
        What each did, and whether it met the target.

    Returns
    -------
    tuple of Odds
        In the order given.
    """
    criteria = problem.design.tables.criteria
    return tuple(
        _candidate(
            problem, size, criteria.deepest_discharge_frac, met[:, k],
            (results.hours_off[:, k], results.lowest_frac[:, k], results.frozen_h[:, k]),
        )
        for k, size in enumerate(sizes)
    )  # fmt: skip


def _candidate(
    problem: Problem,
    size: tuple[int, int],
    deepest_frac: float,
    met: NDArray[np.bool_],
    results: tuple[Floats, Floats, Floats],
) -> Odds:
    array, battery = size
    tables, n = problem.design.tables, met.size
    modules, units = array * tables.array.series, battery * tables.battery.series
    off, lowest, frozen = results
    p = float(met.mean())
    run = simulate_size(problem, array, battery)
    return Odds(
        array_strings=array,
        battery_strings=battery,
        modules=modules,
        battery_units=units,
        array_w=modules * problem.array.module.power_w,
        battery_ah=problem.bank.with_strings(battery).nameplate_ah,
        cost=installed_cost(problem, array, battery),
        probability_frac=p,
        error_frac=float(np.sqrt(p * (1 - p) / n)),
        no_outage_frac=float((off <= 0).mean()),
        not_too_deep_frac=float((1 - lowest <= deepest_frac).mean()),
        not_frozen_frac=float((frozen <= 0).mean()),
        mean_hours_off=float(off.mean()),
        lowest_median_frac=float(np.quantile(lowest, 0.5)),
        lowest_p90_frac=float(np.quantile(lowest, 0.1)),
        fails_on_record=tuple(v.name for v in judge(run) if not v.met),
    )


def sure_sizes(
    candidates: Sequence[Odds], levels: Sequence[float] = LEVELS
) -> tuple[SureSize, ...]:
    """Return the cheapest candidate at each probability.

    Parameters
    ----------
    candidates
        Sizes with their probabilities.
    levels
        Wanted probabilities [fraction].

    Returns
    -------
    tuple of SureSize
        Ranked by price, by the number of parts where there are no prices.
    """
    return tuple(
        SureSize(
            level,
            min(
                (c for c in candidates if c.probability_frac >= level),
                key=_rank,
                default=None,
            ),
        )
        for level in levels
    )


def _rank(c: Odds) -> tuple[float, float]:
    parts = float(c.modules + c.battery_units)
    return (parts if c.cost is None else c.cost, parts)


def influences(
    lowest_frac: Floats, hours_off: Floats, inputs: dict[str, Floats]
) -> tuple[Influence, ...]:
    """Return which inputs move the outcome most, by rank correlation.

    Parameters
    ----------
    lowest_frac, hours_off
        Outcome of each member: its margin is the lowest state of charge, and below
        that the hours off [fraction, h].
    inputs
        Values of each input by member.

    Returns
    -------
    tuple of Influence
        The strongest first; inputs that do not vary are left out.

    Notes
    -----
    Ranks ask for a direction only, not for a straight line.  Inputs that hang
    together, such as the darkest ten and sixty days, share their effect, so the
    shares are a ranking and no budget of variance.

    References
    ----------
    Spearman, The proof and measurement of association between two things, American
    Journal of Psychology 15 (1904), 72-101.

    Examples
    --------
    >>> low = np.array([0.1, 0.4, 0.3, 0.8, 0.6])
    >>> found = influences(low, np.zeros(5), {"sun": np.array([1.0, 3, 2, 5, 4])})
    >>> round(found[0].rank_correlation, 3)
    1.0
    """
    from scipy.stats import rankdata

    margin = np.where(hours_off > 0, -hours_off, lowest_frac)
    varied = {name: x for name, x in inputs.items() if np.ptp(x) > 0}
    if margin.size < 3 or np.ptp(margin) <= 0 or not varied:
        return ()
    ranks = rankdata(margin)
    found = {
        name: float(np.corrcoef(ranks, rankdata(x))[0, 1]) for name, x in varied.items()
    }
    total = sum(rho**2 for rho in found.values()) or 1.0
    rows = [
        Influence(
            name, rho, rho**2 / total,
            float(np.quantile(varied[name], 0.1)), float(np.quantile(varied[name], 0.9)),
        )
        for name, rho in found.items()
    ]  # fmt: skip
    return tuple(sorted(rows, key=lambda row: -abs(row.rank_correlation)))
