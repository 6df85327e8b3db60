"""First screen of `compare`: alternatives on equal terms, and how sure their order is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.compare.robustness import known_range
from powerbudget.quantities import plain
from powerbudget.report.document.blocks import (
    Cell,
    Column,
    Table,
    cost,
    fixed,
    rows_of,
    whole,
    word,
)
from powerbudget.report.document.words import number, sentence
from powerbudget.report.render.terminal import table_text
from powerbudget.report.screens.layout import Screen, clip, first_line, wrap
from powerbudget.report.screens.site import battery_heater

if TYPE_CHECKING:
    from powerbudget.compare.alternative import Option
    from powerbudget.compare.comparison import Comparison

OPTIONS = "--cost --break-even --inputs --equipment --monthly --findings --full --json"
LABEL = 14


def compare_screen(found: Comparison) -> Screen:
    """Return every alternative, and what the first place rests on, on one screen."""
    best, terms = found.best, found.terms
    result = "FAIL: no alternative passes" if best is None else (
        f"lowest cost: {best.title}, ranking {'' if robust(found) else 'NOT '}ROBUST"
    )  # fmt: skip
    basis = (
        f"{plain(found.load_w, 3, 'W')} average{battery_heater(found.heater_w)}; "
        f"{plain(found.years, 3, 'yr')} of weather; "
        f"{terms.horizon_y:g} yr at {plain(100 * terms.rate_frac, 3, '%')} real"
    )
    body = [*wrap("Load ", basis), "", *table_text(_table(found)).splitlines()]
    for option in found.options:
        if not option.met:
            body += wrap(f"  {option.title}: ", sentence(option.reason))
    if best is not None:
        body += ["", *wrap("Lowest cost", best.parts, LABEL),
                 *clip(wrap("Why", found.why, LABEL), 4)]  # fmt: skip
    return Screen(
        first_line("COMPARE", found.site, result), body, found.findings, OPTIONS
    )


def robust(found: Comparison) -> bool:
    """Return whether no price changes the first place inside its known range.

    Nor does a key that keeps the panels of an alternative from their work.
    """
    if any(option.held_back for option in found.options):
        return False
    best = found.best
    spans = [
        (
            turn.turns_at,
            known_range(turn, found.assumptions, best.title if best else ""),
        )
        for turn in found.turns
    ]
    return not any(
        span and at is not None and span[0] <= at <= span[1] for at, span in spans
    )


def _table(found: Comparison) -> Table:
    columns = (
        Column("alternative"), Column("result"), Column("visits", "per yr", True),
        Column("fuel", "per yr", True), Column("CO2e", "kg/yr", True),
        Column("initial investment", found.currency, True),
        Column("present value", found.currency, True),
    )  # fmt: skip
    return Table("", "", columns, rows_of([_cells(option) for option in found.options]))


def _cells(option: Option) -> list[Cell]:
    """Return an alternative; one that fails has no cost to be compared."""
    if not option.met:
        return [word(option.title), word("FAIL"), *[word("-")] * 5]
    unit = "m³" if option.fuel_unit == "m3" else option.fuel_unit
    fuel = f"{number(option.fuel_per_year)} {unit}" if option.fuel else "-"
    return [
        word(option.title), word("PASS"), fixed(option.visits_per_year, 1), word(fuel),
        whole(option.co2e_kg_per_year), cost(option.capital),
        cost(option.life_cycle_cost),
    ]  # fmt: skip
