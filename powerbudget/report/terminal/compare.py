"""Options side by side as text."""

from __future__ import annotations

import math
import textwrap

from powerbudget.compare.alternative import Option
from powerbudget.compare.break_even import Turn
from powerbudget.compare.comparison import Comparison
from powerbudget.compare.lifecycle import GROUPS
from powerbudget.compare.prices import PricedAssumption
from powerbudget.report.terminal.text import (
    WIDTH,
    facts,
    number,
    percent,
    table,
    wrapped,
)


def compare_page(result: Comparison) -> str:
    """Return a comparison as text.

    Parameters
    ----------
    result
        A comparison.

    Returns
    -------
    str
        Table, reasons, where the ranking turns, prices with their sources, findings.
    """
    return "\n".join(
        [
            _head(result),
            _options(result),
            _what(result),
            _stack(result),
            _ranking(result),
            _turns(result),
            _prices(result),
            wrapped(result.findings),
        ]
    )


def _head(result: Comparison) -> str:
    terms = result.terms
    left = "what lives on is credited" if terms.salvage else "nothing is credited"
    years = "1 year" if result.years < 1.5 else f"{result.years:.0f} years"
    pairs = [
        ("load", f"{result.load_w:.3g} W, mean of the heaviest month at the bus"),
        ("sky", f"{years} of weather, the same for every option"),
        (
            "money",
            f"{result.currency} of today, {terms.horizon_y} years at "
            f"{100 * terms.rate_frac:.3g} % real, costs fall {_when(terms.convention)}; "
            f"at the end {left}",
        ),
        ("emissions", f"CO2e over 100 years by the potentials of IPCC {result.gwp}"),
    ]
    return facts(f"Sources of power on equal terms: {result.site}", pairs)


def _when(convention: str) -> str:
    return {
        "end-of-year": "at the end of their year",
        "mid-year": "in the middle of their year",
        "continuous": "evenly through their year",
        "annuity-due": "at the beginning of their year",
    }[convention]


def fuel_words(option: Option) -> str:
    """Return fuel a year with its unit, for a table cell [text].

    Parameters
    ----------
    option
        An option.
    """
    if option.bill is None or not option.fuel:
        return "-"
    unit = "m3" if option.fuel_unit == "m3" else "L"
    return f"{number(option.fuel_per_year)} {unit}"


def _options(result: Comparison) -> str:
    money = result.currency
    heads = ["", "option", "availability", f"capital {money}", f"life-cycle {money}",
             f"{money}/kWh", "fuel a year", "visits a year", "CO2e kg a year",
             "criteria"]  # fmt: skip
    rows = [_row(place, option) for place, option in enumerate(result.options, start=1)]
    return table("Options, cheapest first", heads, rows, left=2)


def _row(place: int, option: Option) -> list[str]:
    if option.bill is None:
        return ["-", option.title, *["-"] * 7, "cannot run"]
    return [
        f"{place}" if option.met else "-",
        option.title,
        percent(option.availability_frac, 2),
        f"{option.capital:,.0f}",
        f"{option.life_cycle_cost:,.0f}",
        "-" if math.isinf(option.cost_per_kwh) else f"{option.cost_per_kwh:.2f}",
        fuel_words(option),
        f"{option.visits_per_year:.1f}",
        f"{option.co2e_kg_per_year:,.0f}",
        "met" if option.met else "NOT met",
    ]


def _what(result: Comparison) -> str:
    """Return what each option buys, what binds it or why it fails."""
    lines = ["What is bought, and what binds"]
    for option in result.options:
        words = option.reason if not option.met else option.binding
        mark = "" if option.met else "NOT MET: "
        bought = f"{option.parts}. " if option.parts else ""
        lines += textwrap.wrap(
            f"{option.title}: {bought}{mark}{words}", width=WIDTH,
            initial_indent="  ", subsequent_indent="      ",
        )  # fmt: skip
    return "\n".join(lines) + "\n"


def _stack(result: Comparison) -> str:
    """Return life-cycle costs by group, groups that are nowhere left out."""
    priced = [option for option in result.options if option.cost]
    used = [
        name
        for name in GROUPS
        if any(abs(o.cost.groups[name]) >= 0.5 for o in priced if o.cost)
    ]
    rows = [
        [o.title, *(f"{o.cost.groups[name]:,.0f}" for name in used), f"{o.cost.total:,.0f}"]
        for o in priced
        if o.cost
    ]  # fmt: skip
    heads = ["option", *used, "total"]
    return table(f"Where the life-cycle cost goes, {result.currency}", heads, rows)


def _ranking(result: Comparison) -> str:
    lines = textwrap.wrap(result.why, width=WIDTH - 2, initial_indent="  ",
                          subsequent_indent="  ")  # fmt: skip
    return "\n".join(["Why", *lines]) + "\n"


def _turns(result: Comparison) -> str:
    if not result.turns:
        return "Where the ranking turns\n  no second option to turn to\n"
    rows = []
    for turn in result.turns:
        at, then = _turning_point(turn), turn.takes_over
        then = then or f"from {number(turn.low)} to {number(turn.high)}"
        rows.append([turn.name, turn.unit, number(turn.today), at, then])
    heads = ["assumption", "unit", "today", "turns at", "then cheapest"]
    body = table("Where the ranking turns, each by itself", heads, rows, left=2)
    return body + f"  {turns_note(result)}\n"


def _turning_point(turn: Turn) -> str:
    if turn.between is None:
        return "never" if turn.turns_at is None else number(turn.turns_at)
    return f"{number(min(turn.between), 3)} to {number(max(turn.between), 3)}"


def turns_note(result: Comparison) -> str:
    """Return how the turns were found [text].

    Parameters
    ----------
    result
        A comparison.
    """
    prices = "Prices, rates and lives: on the sizes found."
    if result.resized:
        return (
            f"{prices} Load and autonomy: every option sized again at each value tried."
        )
    return f"{prices} Load and autonomy would ask for other sizes: --break-even finds them."


def _prices(result: Comparison) -> str:
    rows = [_price(used) for used in result.assumptions]
    heads = ["assumption", "value", "range", "unit", "status", "stated by", "source"]
    return table(
        "Prices, lives and figures that this rests on; the site file can state each, "
        "but for masses",
        heads,
        rows,
    )


def _price(used: PricedAssumption) -> list[str]:
    same = used.low == used.high
    span = "" if same else f"{number(used.low)} to {number(used.high)}"
    source = textwrap.shorten(used.source, 60, placeholder="...")
    return [used.title, number(used.value), span, used.unit, used.status, used.key,
            source]  # fmt: skip
