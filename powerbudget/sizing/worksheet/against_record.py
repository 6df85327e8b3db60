"""Where worksheet and hourly run disagree, and which assumption does it.

The worksheet's own design is put through the record.  Then one assumption of the
worksheet at a time is replaced by what the record shows, and the worksheet is filled in
again: the change is what that assumption is worth.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from powerbudget.balance.problem import Problem
from powerbudget.balance.simulation import simulate_size
from powerbudget.bisection import least_count
from powerbudget.quantities import count, in_unit
from powerbudget.sizing.array_options import Variant
from powerbudget.sizing.candidates import Candidate
from powerbudget.sizing.frontier import Search
from powerbudget.sizing.limiting import failure_words
from powerbudget.sizing.worksheet.assumptions import (
    Figures,
    Reason,
    design_sun,
    replacements,
)
from powerbudget.sizing.worksheet.formulas import WorksheetLine
from powerbudget.sizing.worksheet.lines import DARK_KWH, worksheet_from
from powerbudget.sizing.worksheet.record_figures import Truth, truth_of
from powerbudget.sizing.worksheet.site_figures import site_figures

MOST_ARRAY, MOST_BATTERY = 500, 200
SMALL_FRAC = 0.02
"""Effects below this are in the table and not in the sentences (assumed)."""


@dataclass(frozen=True)
class Disagreement:
    """The worksheet's design in the hourly run, and why it differs.

    Parameters
    ----------
    array_strings, battery_strings
        What the worksheet asks [count].
    design
        The same through the record; None where it is beyond what is tried.
    array_strings_in_record
        Fewest array strings beside the worksheet's battery that meet every
        criterion, 0 where none in reach does [count].
    battery_strings_in_record
        Fewest battery strings beside the worksheet's array, 0 likewise [count].
    array_strings_replaced, battery_strings_replaced
        The worksheet with every assumption replaced [count].
    array_w_a_string, battery_ah_a_string
        Size of one string [W, Ah].
    spell_days, spell_start, spell_end
        The spell that decides: from the last full charge to the lowest [d, text].
    dark_month
        Design month without sun, for which no array is found by hand; empty where
        there is sun [text].
    reasons
        Largest effect first; none where neither the worksheet's design nor another
        that meets the criteria could be run.
    words
        Verdict and reasons in sentences [text].
    """

    array_strings: int
    battery_strings: int
    design: Candidate | None
    array_strings_in_record: int
    battery_strings_in_record: int
    array_strings_replaced: int
    battery_strings_replaced: int
    array_w_a_string: float
    battery_ah_a_string: float
    spell_days: float
    spell_start: str
    spell_end: str
    dark_month: str
    reasons: tuple[Reason, ...]
    words: tuple[str, ...]

    @property
    def by_hand(self) -> str:
        """What the worksheet asks, in words [text]."""
        array = _strings(self.array_strings, "array")
        if self.dark_month:
            array = f"no array (no irradiation in {self.dark_month})"
        return f"{array} and {_strings(self.battery_strings, 'battery')}"


def disagree(
    search: Search, worksheet: tuple[WorksheetLine, ...], pick: Candidate | None
) -> Disagreement:
    """Return how the worksheet's design fares, and which assumption does it.

    Parameters
    ----------
    search
        The hourly search of the site.
    worksheet
        Its hand calculation.
    pick
        What the search picked, None where nothing meets the criteria.

    Returns
    -------
    Disagreement
        With the worksheet's design simulated where it is within 500 array and 200
        battery strings.
    """
    problem = search.problem
    own = _own(search)
    value = {line.symbol: line.value for line in worksheet}
    array, battery = int(value["Na"]), int(value["Np"])
    near = array <= MOST_ARRAY and battery <= MOST_BATTERY
    design = own.at(array, battery) if near else None
    figures = site_figures(problem)
    month, sun = design_sun(figures)
    dark = month if sun < DARK_KWH and not near else ""
    measured = design or pick
    truth = _truth(problem, measured) if measured else None
    needs = _needs(own, design) if design else (0, 0)
    both = _asked(_all(figures, truth)) if truth else (0, 0)
    found = Disagreement(
        array_strings=array,
        battery_strings=battery,
        design=design,
        array_strings_in_record=needs[0],
        battery_strings_in_record=needs[1],
        array_strings_replaced=both[0],
        battery_strings_replaced=both[1],
        array_w_a_string=problem.array.series * problem.array.module.power_w,
        battery_ah_a_string=problem.bank.unit.capacity_ah,
        spell_days=truth.spell_days if truth else 0.0,
        spell_start=truth.spell_start if truth else "",
        spell_end=truth.spell_end if truth else "",
        dark_month=dark,
        reasons=_reasons(figures, truth, dark=bool(dark)) if truth else (),
        words=(),
    )
    return replace(found, words=_words(found))


def _truth(problem: Problem, design: Candidate) -> Truth:
    run = simulate_size(problem, design.array_strings, design.battery_strings)
    return truth_of(run)


def _own(search: Search) -> Search:
    """Return a search of the site's own tilt and strings, the same where it is one."""
    if search.ways and search.ways[0].problem is search.problem:
        return search
    most = search.steps.max_array_strings
    return Search(search.problem, (Variant(search.problem, most),))


def _asked(figures: Figures) -> tuple[int, int, float, float]:
    """Return strings of array and battery, and what they are rounded up from."""
    value = {line.symbol: line.value for line in worksheet_from(*figures)}
    amps = max(value["I"], value.get("Irec", 0.0)) / value["Im"]
    return int(value["Na"]), int(value["Np"]), amps, value["C6"] / value["Cu"]


def _all(figures: Figures, truth: Truth) -> Figures:
    for change in replacements(figures, truth):
        figures = change.apply(figures)
    return figures


def _reasons(figures: Figures, truth: Truth, *, dark: bool) -> tuple[Reason, ...]:
    was = _asked(figures)
    found = []
    for change in replacements(figures, truth):
        reason, now = change.reason, _asked(change.apply(figures))
        side = ("array", "battery").index(reason.side)
        if dark and reason.side == "array":
            continue
        effect = now[side + 2] / was[side + 2] - 1.0 if was[side + 2] > 0 else 0.0
        words = (
            f"{reason.words}: {reason.side} {in_unit(100 * effect, '%', sign=True)}, "
            + (
                f"{was[side]} to {count(now[side], 'string')}"
                if was[side] != now[side]
                else f"no change ({count(was[side], 'string')})"
            )
        )
        found.append(
            replace(
                reason,
                words=words,
                effect_frac=effect,
                array_strings=now[0],
                battery_strings=now[1],
            )
        )
    return tuple(sorted(found, key=lambda r: -abs(r.effect_frac)))


def _needs(own: Search, design: Candidate) -> tuple[int, int]:
    """Return fewest array strings at the design's battery, and the other way round."""
    array, battery = design.array_strings, design.battery_strings
    needed = 0
    if not own.hopeless(battery):
        most = max(array, own.ways[0].most_strings)
        needed = _fewest(lambda n: own.passes(n, battery), most)
    most = max(battery, own.steps.max_battery_strings)
    return needed, _fewest(lambda n: not own.hopeless(n) and own.passes(array, n), most)


def _fewest(met: Callable[[int], bool], most: int) -> int:
    """Return the least count that is met, 0 where none up to a limit is."""
    if not met(most):
        return 0
    return least_count(met, 0, most)


def _words(found: Disagreement) -> tuple[str, ...]:
    sizes = f"worksheet: {found.by_hand}"
    if found.design is None:
        tail = "size this site with the hourly simulation"
        return (
            f"{sizes}: {tail if found.dark_month else 'beyond the search range of the simulation'}",
            *_reason_words(found.reasons),
        )
    if found.design.met:
        said = [f"{sizes}: PASS in the simulation"]
    else:
        said = [f"{sizes}: FAIL in the simulation: {failure_words(found.design)}"]
    array, battery = found.array_strings, found.battery_strings
    for strings, have, what, beside in (
        (found.array_strings_in_record, array, "array", _strings(battery, "battery")),
        (found.battery_strings_in_record, battery, "battery", _strings(array, "array")),
    ):
        if not strings:
            said.append(f"with {beside}, no {what} in the search range passes")
        elif strings != have:
            more = "more" if strings > have else "fewer"
            said.append(
                f"with {beside} the simulation needs {_strings(strings, what)}, "
                f"{abs(strings - have)} {more} than the worksheet"
            )
    if found.spell_days >= 1:
        days = round(found.spell_days)
        said.append(
            f"worst period: {found.spell_start} to {found.spell_end} ({days} d)"
        )
    return (*said, *_reason_words(found.reasons))


def _reason_words(reasons: tuple[Reason, ...]) -> list[str]:
    large = [reason for reason in reasons if abs(reason.effect_frac) >= SMALL_FRAC]
    said = [f"increases the size: {r.words}" for r in large if r.effect_frac > 0]
    return said + [f"decreases the size: {r.words}" for r in large if r.effect_frac < 0]


def _strings(pieces: int, of: str) -> str:
    return count(pieces, f"{of} string")
