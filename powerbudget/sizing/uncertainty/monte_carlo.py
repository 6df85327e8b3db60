"""How sure is a size: many years, with all that nobody knows drawn anew for each.

Each member is one season of weather with a load between typical and highest, a bank
between the two cold curves, and dirt, snow and derating from their ranges.  Every
candidate size goes through every member, so sizes differ by nothing but size.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance.problem import Problem, prepare
from powerbudget.errors import Finding
from powerbudget.loads.budget import load_budget
from powerbudget.quantities import count
from powerbudget.site.ensemble import Spread
from powerbudget.site.reader import Design
from powerbudget.sizing.battery_ages import judged_problem
from powerbudget.sizing.uncertainty.members import Draws, draw_members, highest_design
from powerbudget.sizing.uncertainty.probability import (
    LEVELS,
    Influence,
    Odds,
    SureSize,
    influences,
    likelihoods,
    sure_sizes,
)
from powerbudget.sizing.uncertainty.trials import (
    MOST_SIZES,
    SKY_INPUTS,
    Outcomes,
    Size,
    choose_sizes,
    meets,
    run_all,
)
from powerbudget.sizing.uncertainty.years import (
    Skies,
    check_years,
    snowy,
    source_of_years,
    year_findings,
)

Floats = NDArray[np.float64]
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Ensemble:
    """What an ensemble answers.

    Parameters
    ----------
    years, seed
        Members, and what repeats them [count].
    years_from
        ``made`` from monthly figures, or ``record`` [text].
    source
        Where the years come from [text].
    seasons
        Different seasons among the members [count].
    target
        What one season must reach [text].
    candidates
        Each size with its probability.
    sizes
        Cheapest size at 50, 90 and 99 %.
    influences
        Which inputs matter most, the first most.
    reference
        For which size that holds.
    load_mean_w, load_run_w, load_top_w
        Mean load of the members, that of `run`, and the highest of the range [W].
    spread
        The ranges.
    findings
        What a colleague would point out.
    """

    years: int
    seed: int
    years_from: str
    source: str
    seasons: int
    target: str
    candidates: tuple[Odds, ...]
    sizes: tuple[SureSize, ...]
    influences: tuple[Influence, ...]
    reference: Odds
    load_mean_w: float
    load_run_w: float
    load_top_w: float
    spread: Spread
    findings: tuple[Finding, ...]


def ensemble(
    design: Design | Problem,
    years: int = 1000,
    seed: int = 1,
    *,
    sizes: Sequence[Size] | None = None,
    also: Sequence[Size] = (),
    spread: Spread | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Ensemble:
    """Return how likely each size is to meet its target in a year.

    Parameters
    ----------
    design
        A checked site, or the same prepared.
    years
        Members [count].
    seed
        The same seed gives the same answer, on any number of threads [count].
    sizes
        Pairs of array and battery strings; chosen from a pilot when left out [count].
    also
        Pairs to try beside those of the pilot [count].
    spread
        Ranges, those of ``[ensemble]`` when left out.
    threads
        As many as the machine has when left out [count].
    progress
        Called with members done and members in all [count].

    Returns
    -------
    Ensemble
        Probabilities, sizes at 50, 90 and 99 %, and what matters most.

    Raises
    ------
    InputError
        When the number of years cannot be used, or the record is too short.
    """
    problem = design if isinstance(design, Problem) else judged_problem(prepare(design))
    spread = spread or problem.design.tables.ensemble
    check_years(years, MOST_SIZES if sizes is None else len(sizes))
    years_from = source_of_years(problem, spread)
    skies = Skies(problem, years_from, years, seed)
    draws = draw_members(
        spread, years, seed,
        seasons=len(skies.own.seasons) if skies.own else None,
        snowy=snowy(problem),
    )  # fmt: skip
    if sizes is None:
        sizes = choose_sizes(skies, draws, problem, also)
    sizes = tuple(dict.fromkeys(sizes))
    results = run_all(skies, draws, sizes, threads, progress)
    return _answer(problem, skies, draws, sizes, results, spread)


def _answer(
    problem: Problem,
    skies: Skies,
    draws: Draws,
    sizes: Sequence[Size],
    results: Outcomes,
    spread: Spread,
) -> Ensemble:
    candidates = likelihoods(problem, sizes, results, meets(problem, results))
    found = sure_sizes(candidates)
    at = next((s.candidate for s in found if s.level == 0.9 and s.candidate), None)
    reference = at or candidates[0]
    place = candidates.index(reference)
    top = skies.own.high_w if skies.own else _highest_load_w(problem)
    share = 0.0 if draws.load_share is None else float(draws.load_share.mean())
    run_w = problem.budget.average_w
    return Ensemble(
        years=draws.n,
        seed=skies.seed,
        years_from=skies.how,
        source=skies.source,
        seasons=int(np.unique(draws.season).size),
        target=_target(problem),
        candidates=candidates,
        sizes=found,
        influences=influences(
            results.lowest_frac[:, place], results.hours_off[:, place],
            {**_drawn(draws), **dict(zip(SKY_INPUTS, results.sky.T, strict=True))},
        ),
        reference=reference,
        load_mean_w=run_w + share * (top - run_w),
        load_run_w=run_w,
        load_top_w=run_w + spread.load_to_maximum_frac * (top - run_w),
        spread=spread,
        findings=_findings(skies, draws.n, found),
    )  # fmt: skip


def _highest_load_w(problem: Problem) -> float:
    """Return the mean load with every line at its highest while it is on [W]."""
    high = load_budget(highest_design(problem.design)).average_w
    return max(high, problem.budget.average_w)


def _drawn(draws: Draws) -> dict[str, Floats]:
    named = {
        "load between typical and maximum power": draws.load_share,
        "temperature derating of the battery": draws.curve_share,
        "soiling loss": draws.dirt_frac,
        "module degradation": draws.derate_frac,
        "snow loss": draws.snow_share,
    }
    return {name: values for name, values in named.items() if values is not None}


def _target(problem: Problem) -> str:
    criteria = problem.design.tables.criteria
    words = (
        f"per winter: availability {100 * criteria.availability_frac:g} %, "
        f"maximum DOD {100 * criteria.deepest_discharge_frac:g} %"
    )
    frost = problem.bank.chemistry.freezing is not None
    return words + (", no frozen battery" if frost else "")


def _findings(
    skies: Skies, years: int, found: tuple[SureSize, ...]
) -> tuple[Finding, ...]:
    said = year_findings(skies)
    said += [
        Finding(
            "serious" if size.level < 0.95 else "warning",
            f"No size within [sizing] reaches {100 * size.level:g} %.",
        )
        for size in found
        if size.candidate is None
    ]
    highest = max(LEVELS)
    if years * (1 - highest) < 5:
        said.append(
            Finding(
                "note",
                f"{count(years, 'trial')} are too few for a {100 * highest:g} % size: fewer "
                "than five of them are expected to fail. Use 1,000.",
            )
        )
    return tuple(said)
