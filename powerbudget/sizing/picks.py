"""Which design of the frontier to buy, and what one more piece would buy."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from powerbudget.balance.problem import Problem
from powerbudget.balance.simulation import simulate_size
from powerbudget.quantities import count
from powerbudget.sizing.autonomy import record_autonomy
from powerbudget.sizing.candidates import Candidate
from powerbudget.sizing.frontier import Search
from powerbudget.sizing.installed import counted_words

HOURS_PER_YEAR = 8766.0


@dataclass(frozen=True)
class OneMore:
    """What the next purchasable step buys.

    Parameters
    ----------
    piece
        ``array string`` or ``battery string`` [text].
    modules, battery_units
        Of the larger design [count].
    cost
        What the step costs; None without prices [currency].
    availability_frac, hours_off_per_year
        With it [fraction, h/year].
    lowest_soc_frac, autonomy_design_days, autonomy_record_days
        With it [fraction, d].
    gained_hours_per_year, gained_soc_frac, gained_design_days, gained_record_days
        Beyond the pick [h/year, fraction, d].
    """

    piece: str
    modules: int
    battery_units: int
    cost: float | None
    availability_frac: float
    hours_off_per_year: float
    lowest_soc_frac: float
    autonomy_design_days: float
    autonomy_record_days: float
    gained_hours_per_year: float
    gained_soc_frac: float
    gained_design_days: float
    gained_record_days: float


def ranked(candidate: Candidate) -> tuple[float, float]:
    """Return what the pick is the smallest of: price, or pieces without prices."""
    parts = float(candidate.parts)
    return (parts if candidate.cost is None else candidate.cost, parts)


def make_picks(frontier: tuple[Candidate, ...]) -> dict[str, Candidate | None]:
    """Return the cheapest, the lightest and the design of fewest parts.

    Parameters
    ----------
    frontier
        Designs that meet every criterion.

    Returns
    -------
    dict
        None where prices or masses are not known, or nothing meets the criteria.

    Notes
    -----
    Each rises with every piece, so that the best of all designs lies on the frontier.
    """
    keys: dict[str, Callable[[Candidate], tuple[float, float] | None]] = {
        "cheapest": lambda c: None if c.cost is None else (c.cost, c.parts),
        "lightest": lambda c: None if c.mass_kg is None else (c.mass_kg, c.parts),
        "fewest_parts": lambda c: (c.parts, c.cost or 0.0),
    }
    picks: dict[str, Candidate | None] = {}
    for name, key in keys.items():
        known = [(value, c) for c in frontier if (value := key(c)) is not None]
        picks[name] = min(known, key=lambda item: item[0])[1] if known else None
    return picks


def rule_words(problem: Problem) -> str:
    """Return how the pick was ranked [text]."""
    costs = problem.design.tables.costs
    if costs is None:
        return "fewest modules and battery units: the site has no [costs] table"
    if costs.each is None:
        open_ones = [n for n in ("module", "battery_unit") if getattr(costs, n) is None]
        return (
            "fewest modules and battery units: [costs] does not state "
            + " or ".join(open_ones)
        )
    return f"lowest cost of {counted_words(problem)}, {costs.currency}"


def one_more(search: Search, pick: Candidate) -> tuple[OneMore, ...]:
    """Return what one more array step and one more battery step would buy.

    Parameters
    ----------
    search
        The search that found the pick.
    pick
        The design that the steps are added to.

    Returns
    -------
    tuple of OneMore
        One for the array, one for the battery, whatever the limits of the search.
    """
    way, steps = search.way_of(pick), search.steps
    array, battery = pick.array_strings, pick.battery_strings
    was = _record_days(search, pick)
    rows = []
    for piece, a, b in (
        (_piece("array", steps.array_step), array + steps.array_step, battery),
        (_piece("battery", steps.battery_step), array, battery + steps.battery_step),
    ):
        more = search.at(a, b, way)
        rows.append(_row(piece, (pick, more), (was, _record_days(search, more))))
    return tuple(rows)


def _piece(of: str, step: int) -> str:
    return f"{of} string" if step == 1 else count(step, f"{of} string")


def _record_days(search: Search, candidate: Candidate) -> float:
    problem = search.ways[search.way_of(candidate)].problem
    run = simulate_size(problem, candidate.array_strings, candidate.battery_strings)
    return record_autonomy(run)[0]


def _row(
    piece: str, both: tuple[Candidate, Candidate], days: tuple[float, float]
) -> OneMore:
    pick, more = both
    cost = None
    if more.cost is not None and pick.cost is not None:
        cost = more.cost - pick.cost
    gained = more.availability_frac - pick.availability_frac
    design = [c.found("autonomy") for c in both]
    return OneMore(
        piece=piece,
        modules=more.modules,
        battery_units=more.battery_units,
        cost=cost,
        availability_frac=more.availability_frac,
        hours_off_per_year=(1.0 - more.availability_frac) * HOURS_PER_YEAR,
        lowest_soc_frac=more.lowest_soc_frac,
        autonomy_design_days=design[1],
        autonomy_record_days=days[1],
        gained_hours_per_year=gained * HOURS_PER_YEAR,
        gained_soc_frac=more.lowest_soc_frac - pick.lowest_soc_frac,
        gained_design_days=design[1] - design[0],
        gained_record_days=days[1] - days[0],
    )
