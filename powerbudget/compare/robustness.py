"""How sure an order is: prices and lives that turn it within what is known of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from powerbudget.compare.break_even import GROUP_WORDS, LIFE_WORDS, Turn
from powerbudget.errors import Finding
from powerbudget.quantities import count, plain
from powerbudget.site.prices import PricedAssumption

PLAIN_KEYS = {
    "cost of a visit": ("costs.trips.visit", 1.0),
    "discount rate": ("costs.discount_rate", 100.0),
}
RATIO_KEYS = {
    GROUP_WORDS["PV modules"]: "costs.equipment.module_power",
    GROUP_WORDS["battery"]: "costs.equipment.battery_energy",
}
SOURCE_KEYS = {
    GROUP_WORDS["generator"]: "costs.equipment.",
    LIFE_WORDS["generator"]: "generator.life",
}
ROUGH = ("unverified", "assumed", "fictitious")


def known_range(
    turn: Turn, assumptions: Sequence[PricedAssumption], best: str
) -> tuple[float, float] | None:
    """Return the range that the sources of a price leave, in the turn's unit.

    Parameters
    ----------
    turn
        One row of the table of turns.
    assumptions
        Every price of the comparison.
    best
        Title of the first option [text].

    Returns
    -------
    tuple of float or None
        None where the site file states the price, or where no range is known.
    """
    open_ones = {used.key: used for used in assumptions if used.low < used.high}
    if turn.name in SOURCE_KEYS:
        start, rivals = SOURCE_KEYS[turn.name], f"{best} {turn.takes_over}"
        # Only of the kinds that stand against each other, named in their titles.
        return _ratios(
            [used for used in open_ones.values()
             if used.key.startswith(start) and used.key.endswith(")")
             and used.title.split(",")[0] in rivals]
        )  # fmt: skip
    if turn.name in RATIO_KEYS:
        used = open_ones.get(RATIO_KEYS[turn.name])
        return _ratios([used] if used else [])
    fuel = f"costs.fuel.{turn.name.removeprefix('price of ').replace(' ', '_')}"
    key, scale = PLAIN_KEYS.get(turn.name, (fuel, 1.0))
    used = open_ones.get(key)
    return (scale * used.low, scale * used.high) if used else None


def _ratios(found: list[PricedAssumption]) -> tuple[float, float] | None:
    if not found:
        return None
    return (
        min(used.low / used.value for used in found),
        max(used.high / used.value for used in found),
    )


def robustness_findings(
    turns: Sequence[Turn], assumptions: Sequence[PricedAssumption], best: str
) -> list[Finding]:
    """Return how sure the first place is, and how much of it is unverified.

    Parameters
    ----------
    turns
        Where the ranking turns; empty without a second option.
    assumptions
        Every price of the comparison.
    best
        Title of the first option [text].

    Returns
    -------
    list of Finding
        A warning where one price turns the order within its own range.
    """
    if not turns:
        return []
    inside = []
    for turn in turns:
        span = known_range(turn, assumptions, best)
        if span and turn.turns_at is not None and span[0] <= turn.turns_at <= span[1]:
            inside.append(
                f"{turn.name} (break-even at {plain(turn.turns_at)} {turn.unit}, range "
                f"{plain(span[0])} to {plain(span[1])})"
            )
    rests = _rests_on(assumptions)
    if inside:
        text = ("Ranking not robust. Inside their range these change the lowest-cost "
f"alternative: {'; '.join(inside)}. {rests}")  # fmt: skip
        return [Finding("warning", text)]
    text = ("No single price or generator life changes the lowest-cost alternative "
"within its range. Several of them together may change it, and so may fuel "
f"consumption. {rests}")  # fmt: skip
    return [Finding("note", text)]


def _rests_on(assumptions: Sequence[PricedAssumption]) -> str:
    statuses = Counter(used.status for used in assumptions)
    rough = sum(statuses[word] for word in ROUGH)
    return (
        f"Data quality: {rough} of {count(len(assumptions), 'cost input')} are unverified "
        f"or assumed, {statuses['user input']} are user input. Replace the largest "
        "cost items first."
    )
