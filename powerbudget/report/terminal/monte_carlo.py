"""Probability of meeting the target, as text."""

from __future__ import annotations

from powerbudget.report.terminal.text import (
    count,
    facts,
    number,
    percent,
    table,
    wrapped,
)
from powerbudget.sizing.uncertainty.monte_carlo import Ensemble
from powerbudget.sizing.uncertainty.probability import Influence, Odds, SureSize

_UNITS = {"light": "kWh/m2 a day", "battery": "degC"}


def ensemble_page(result: Ensemble, name: str, currency: str = "") -> str:
    """Return the answer of an ensemble as a page [text].

    Parameters
    ----------
    result
        Of `powerbudget.sizing.uncertainty.monte_carlo.ensemble`.
    name
        Site name [text].
    currency
        Unit of costs, empty where the site has no prices [text].

    Returns
    -------
    str
        What was varied, sizes to be sure of, every candidate, what matters most.
    """
    parts = [
        facts(f"How sure is a size: {name}", spread_facts(result)),
        _sizes(result, currency),
        _candidates(result, currency),
        _influences(result),
        wrapped(result.findings),
    ]
    return "\n".join(part for part in parts if part)


def spread_facts(result: Ensemble) -> list[tuple[str, str]]:
    """Return what was drawn anew for each season, label and words [text].

    Parameters
    ----------
    result
        Of `powerbudget.sizing.uncertainty.monte_carlo.ensemble`.
    """
    spread = result.spread
    pairs = [
        ("seasons", f"{result.years:,}, seed {result.seed}, {_years(result)}"),
        ("target", result.target),
        (
            "load",
            f"{number(result.load_run_w)} to {number(result.load_top_w)} W, mean "
            f"{number(result.load_mean_w)} W (run uses {number(result.load_run_w)} W), "
            "most likely at the low end",
        ),
    ]
    if spread.cold_curves == "between":
        pairs.append(("battery in cold", "anywhere between the two cold curves"))
    if spread.more_soiling_frac:
        more = percent(spread.more_soiling_frac, 0)
        pairs.append(("dirt", f"up to {more} more than the site file says"))
    if spread.module_derate_frac:
        pairs.append(
            ("modules", f"up to {percent(spread.module_derate_frac, 0)} weaker")
        )
    if any(row.name == "snow on the panels" for row in result.influences):
        pairs.append(("snow", "anywhere between none and what the site file counts"))
    return pairs


def _years(result: Ensemble) -> str:
    if result.years_from == "made":
        return f"years made from monthly figures ({result.source})"
    return f"drawn from {count(result.seasons, 'whole season')} of {result.source}"


def _sizes(result: Ensemble, currency: str) -> str:
    rows = [_sure_row(size, currency) for size in result.sizes]
    heads = ["sure to", "modules", "array W", "battery units", "battery Ah",
             *([f"cost {currency}"] if currency else []), "met in",
             "median low", "low of 1 in 10", "on the record"]  # fmt: skip
    return table(
        "Cheapest of the sizes tried that meets the target in so many seasons of 100",
        heads,
        rows,
    )


def _sure_row(size: SureSize, currency: str) -> list[str]:
    label = f"P{100 * size.level:.0f}"
    if size.candidate is None:
        blanks = 8 + bool(currency)
        return [label, *["-"] * blanks]
    return [label, *_row(size.candidate, currency)]


def _row(c: Odds, currency: str) -> list[str]:
    cost = [] if not currency else ["-" if c.cost is None else f"{c.cost:,.0f}"]
    return [
        str(c.modules),
        f"{c.array_w:,.0f}",
        str(c.battery_units),
        f"{c.battery_ah:,.0f}",
        *cost,
        percent(c.probability_frac),
        percent(c.lowest_median_frac, 0),
        percent(c.lowest_p90_frac, 0),
        "met" if not c.fails_on_record else "fails " + ", ".join(c.fails_on_record),
    ]


def _candidates(result: Ensemble, currency: str) -> str:
    ordered = sorted(
        result.candidates, key=lambda c: (c.battery_strings, c.array_strings)
    )
    first = result.candidates[0]
    rows = [
        ["site file" if c == first else "", *_row(c, currency)[:-1],
         f"{100 * c.error_frac:.1f} %", percent(c.no_outage_frac),
         f"{c.mean_hours_off:.1f}"]
        for c in ordered
    ]  # fmt: skip
    heads = ["", "modules", "array W", "battery units", "battery Ah",
             *([f"cost {currency}"] if currency else []), "met in",
             "median low", "low of 1 in 10", "give or take", "no outage in",
             "mean h off"]  # fmt: skip
    return table("Every size tried", heads, rows)


def _influences(result: Ensemble) -> str:
    if not result.influences:
        return ""
    c = result.reference
    title = (
        f"What matters most for {count(c.modules, 'module')} and "
        f"{count(c.battery_units, 'battery unit')} "
        "(Spearman's rank correlation with the season's margin)"
    )
    rows = [
        [
            row.name,
            f"{row.rank_correlation:+.2f}",
            percent(row.share_frac, 0),
            input_range(row),
        ]
        for row in result.influences
    ]
    return table(title, ["input", "correlation", "share", "eight of ten lie in"], rows)


def input_range(row: Influence) -> str:
    """Return between which figures eight of ten draws of an input lie [text].

    Parameters
    ----------
    row
        One input.
    """
    unit = _UNITS.get(row.name.split(maxsplit=1)[0])
    if unit:
        return f"{number(row.low)} to {number(row.high)} {unit}"
    return f"{100 * row.low:.0f} to {100 * row.high:.0f} %"
