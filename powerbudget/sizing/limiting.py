"""Why a design is no smaller, and what would help where nothing meets the criteria."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from powerbudget.balance.run_findings import what_forbids
from powerbudget.balance.simulation import simulate_size
from powerbudget.bisection import least_count
from powerbudget.limits import OUTAGE, SHARE, Limit, Sense
from powerbudget.quantities import count, in_unit, plain
from powerbudget.sizing.array_options import input_a, input_in_the_way
from powerbudget.sizing.candidates import Candidate
from powerbudget.sizing.criteria import Verdict
from powerbudget.sizing.frontier import Search

FURTHER = 8
"""How many times its limit a size is tried beyond, for what would meet a criterion."""


@dataclass(frozen=True)
class Shortfall:
    """A criterion that no design in reach meets.

    Parameters
    ----------
    criterion, unit
        Which, and the unit of its figures [text].
    found, needed
        By the largest design in reach, and what is asked.
    margin_frac
        Margin where it is a share of what is needed, else None [fraction].
    cure
        What would meet it [text].
    margin, margin_unit, sense
        As in the criterion's verdict.
    """

    criterion: str
    unit: str
    found: float
    needed: float
    margin_frac: float | None
    cure: str
    margin: float = 0.0
    margin_unit: str = SHARE
    sense: Sense = "lower"

    @property
    def held(self) -> Limit:
        """The figures as a value held against a limit [Limit]."""
        on = self.margin_unit == OUTAGE
        return Limit(self.found, self.needed, self.sense, self.unit, availability=on)


def binding_words(search: Search, candidate: Candidate | None) -> str:
    """Return which criterion stops each smaller step, and on which day [text].

    Parameters
    ----------
    search
        The search that found the candidate.
    candidate
        The pick, or the largest design tried where nothing meets the criteria.

    Returns
    -------
    str
        Parts for array and battery, with a semicolon between [text].
    """
    if candidate is None:
        return ""
    if not candidate.met:
        said = "not reached at the largest size: " + ", ".join(candidate.failed)
        limit = input_in_the_way(search.problem)
        return f"{said}; the search ends at the {limit}" if limit else said
    words = []
    for name, smaller in smaller_steps(search, candidate).items():
        if smaller is None:
            words.append(f"{name}: at minimum size (1 {_step_words(search, name)})")
        else:
            step = _step_words(search, name)
            words.append(f"one {name} {step} fewer: fails {failure_words(smaller)}")
    return "; ".join(words)


def _step_words(search: Search, name: str) -> str:
    size = getattr(search.steps, f"{name}_step")
    return "string" if size == 1 else f"step of {count(size, 'string')}"


def smaller_steps(search: Search, pick: Candidate) -> dict[str, Candidate | None]:
    """Return the design with one array step fewer, and with one battery step fewer.

    Parameters
    ----------
    search
        The search that found the pick.
    pick
        The design.

    Returns
    -------
    dict
        By ``array`` and ``battery``; None where no step is left.
    """
    steps, way = search.steps, search.way_of(pick)
    array, battery = pick.array_strings, pick.battery_strings
    sizes = {
        "array": (array - steps.array_step, battery),
        "battery": (array, battery - steps.battery_step),
    }
    return {
        name: search.at(a, b, way) if min(a, b) >= 1 else None
        for name, (a, b) in sizes.items()
    }


def failure_words(candidate: Candidate) -> str:
    """Return which criteria fail, and on which day where the record says so [text].

    Returns
    -------
    str
        Names with days [text].
    """
    said = {
        "availability": f" (outage on {candidate.lost_at})",
        "maximum DOD": (
            f" (SOC {in_unit(100 * candidate.lowest_soc_frac, '%')} on "
            f"{candidate.lowest_soc_at})"
        ),
    }
    failed = [name + said.get(name, "") for name in candidate.failed]
    return ", ".join(failed) or "nothing"


def shortfalls(
    search: Search, miss: Candidate, instead: str = ""
) -> tuple[Shortfall, ...]:
    """Return by how much each criterion is missed, and what would meet it.

    Parameters
    ----------
    search
        The search that found nothing.
    miss
        The largest design in reach.
    instead
        What passes with another charge controller, where that is known [text].

    Returns
    -------
    tuple of Shortfall
        One for each criterion that the design does not meet; where it meets all of
        them alone, none.
    """
    problem = search.ways[search.way_of(miss)].problem
    forbids = what_forbids(
        simulate_size(problem, miss.array_strings, miss.battery_strings)
    )
    return tuple(
        Shortfall(
            criterion=verdict.name,
            unit=verdict.unit,
            found=verdict.found,
            needed=verdict.needed,
            margin_frac=verdict.margin_frac,
            cure=forbids or instead or _cure(search, miss, verdict),
            margin=verdict.margin,
            margin_unit=verdict.margin_unit,
            sense=verdict.sense,
        )
        for verdict in miss.verdicts
        if not verdict.met
    )


def _cure(search: Search, miss: Candidate, verdict: Verdict) -> str:
    """Try larger and smaller sizes, the other kept, until the criterion is met."""
    array, battery = miss.array_strings, miss.battery_strings
    way, name = search.way_of(miss), verdict.name

    def met(a: int, b: int) -> bool:
        found = search.at(a, b, way).verdicts
        return all(v.met for v in found if v.name == name)

    tries: tuple[tuple[str, int, Callable[[int], bool]], ...] = (
        ("battery strings", battery, lambda n: met(array, n)),
        ("array strings", array, lambda n: met(n, battery)),
    )
    ways = []
    for words, start, test in tries:
        least = _least(test, start)
        if least:
            more = "array" in words and input_in_the_way(search.problem)
            amps = in_unit(input_a(search.problem, least), "A")
            rated = f" with a maximum_input_current of {amps}" if more else ""
            ways.append(f"{least} {words}{rated}")
    if ways:
        return " or ".join(ways) + " would pass"
    if battery > 1 and met(array, 1):
        return "a smaller battery would pass it, and fail the others"
    return _relax(verdict)


def _relax(verdict: Verdict) -> str:
    reached = verdict.found
    share = verdict.unit == "fraction"
    words = plain(100 * reached, 4, "%") if share else plain(reached, 4, verdict.unit)
    # Nobody relaxes a criterion to nothing, nor a depth beyond the whole charge.
    within = 0.0 < reached <= 1.0 if share else reached > 0.0
    relaxed = f", or a lower limit of {words}" if within else ""
    return (
        f"no size up to {FURTHER} times the limits passes: change tilt or battery "
        f"location, or use a smaller load{relaxed}"
    )


def _least(met: Callable[[int], bool], start: int) -> int:
    """Return the least count above a start that is met, 0 where none is in reach."""
    low, high = start, start
    while not met(high):
        low, high = high, 2 * high
        if high > FURTHER * start:
            return 0
    return least_count(met, low, high)
