"""The search for panel and battery as a page of text."""

from __future__ import annotations

from powerbudget.limits import MARGIN_NOTE, printed
from powerbudget.report.terminal.text import (
    count,
    facts,
    number,
    percent,
    table,
    told_apart,
    wrapped,
)
from powerbudget.report.terminal.views import CAUTIONS
from powerbudget.sizing.candidates import Candidate
from powerbudget.sizing.limiting import Shortfall
from powerbudget.sizing.picks import OneMore
from powerbudget.sizing.search import Sizing
from powerbudget.sizing.worksheet.against_record import (
    Disagreement,
)
from powerbudget.sizing.worksheet.formulas import (
    WorksheetLine,
)

LABELS = {
    "cheapest": "cheapest",
    "lightest": "lightest",
    "fewest_parts": "fewest parts",
}


def size_page(result: Sizing, name: str) -> str:
    """Return the search for panel and battery as text."""
    parts = [_pick_text(result, name)]
    if result.unmet:
        parts.append(_unmet_table(result.unmet))
    if result.frontier:
        parts.append(_frontier_table(result))
    if result.one_more:
        parts.append(_one_more_table(result))
    parts.append(worksheet_table(result.worksheet))
    parts.append(disagreement_text(result.disagreement))
    parts += [wrapped(result.findings), CAUTIONS]
    return "\n".join(parts)


def _frontier_table(result: Sizing) -> str:
    turned = len({(c.tilt_deg, c.series) for c in result.tried}) > 1
    weighed = any(c.mass_kg is not None for c in result.frontier)
    heads = ["", "modules", "array W", "battery units", "battery Ah"]
    heads += [f"cost {result.currency}".strip()]
    heads += ["mass kg"] if weighed else []
    heads += ["tilt deg", "in series"] if turned else []
    heads += ["lowest charge", "autonomy d", "worst array/load"]
    rows = [
        _frontier_row(c, result, turned=turned, weighed=weighed)
        for c in result.frontier
    ]
    return table(
        "Frontier: smallest array for each battery that meets every criterion",
        heads, rows,
    )  # fmt: skip


def _frontier_row(
    c: Candidate, result: Sizing, *, turned: bool, weighed: bool
) -> list[str]:
    row = [
        "pick" if c is result.pick else "",
        str(c.modules),
        f"{c.array_w:,.0f}",
        str(c.battery_units),
        f"{c.battery_ah:,.0f}",
        "" if c.cost is None else f"{c.cost:,.0f}",
    ]
    row += ["" if c.mass_kg is None else f"{c.mass_kg:,.0f}"] if weighed else []
    row += [f"{c.tilt_deg:g}", str(c.series)] if turned else []
    return [
        *row,
        percent(c.lowest_soc_frac, 0),
        f"{c.found('autonomy'):.1f}",
        f"{c.found('array'):.2f}",
    ]


def _unmet_table(rows: tuple[Shortfall, ...]) -> str:
    cells = [
        [r.criterion, *(two := _two_figures(r)), printed(r.held, *two), r.cure]
        for r in rows
    ]
    return table(
        f"What the largest design in reach does not meet, and what would; {MARGIN_NOTE}",
        ["criterion", "found", "needed", "margin", "what would meet it"], cells, left=5,
    )  # fmt: skip


def _two_figures(r: Shortfall) -> tuple[str, str]:
    from powerbudget.report.terminal.views import figure_words

    return told_apart(r.found, r.needed, lambda x, more: figure_words(x, r.unit, more))


def _one_more_table(result: Sizing) -> str:
    rows = [_one_more_row(row, result.currency) for row in result.one_more]
    heads = [
        "one more", "costs", "availability", "h/year gained", "lowest charge",
        "autonomy design d", "record d",
    ]  # fmt: skip
    return table("What one more step buys, beyond the pick", heads, rows, left=7)


def _one_more_row(row: OneMore, currency: str) -> list[str]:
    return [
        row.piece,
        "" if row.cost is None else f"{row.cost:,.0f} {currency}",
        percent(row.availability_frac, 2),
        f"{row.gained_hours_per_year:+.1f}",
        f"{percent(row.lowest_soc_frac, 0)} ({100 * row.gained_soc_frac:+.0f})",
        f"{row.autonomy_design_days:.1f} ({row.gained_design_days:+.1f})",
        f"{row.autonomy_record_days:.1f} ({row.gained_record_days:+.1f})",
    ]


def worksheet_table(lines: tuple[WorksheetLine, ...]) -> str:
    """Return the hand worksheet as text, each line with its inputs and source."""
    rows = [
        [str(w.line), w.symbol, w.quantity, number(w.value, 4), w.unit, w.formula,
         w.inputs or "-"]
        for w in lines
    ]  # fmt: skip
    heads = ["line", "", "quantity", "value", "unit", "formula", "inputs"]
    body = table("Hand worksheet (one pass, no weather year)", heads, rows, left=3)
    return body + _sources(lines)


def _sources(lines: tuple[WorksheetLine, ...]) -> str:
    """Return where each line comes from, lines of one source together."""
    import textwrap

    by_source: dict[str, list[str]] = {}
    for line in lines:
        for part in line.source.split("; "):
            form, _, place = part.partition("worksheet ")
            if place:
                said = by_source.setdefault(f"{form}worksheet, by its lines", [])
                said.append(f"{line.symbol} {place}")
            else:
                by_source.setdefault(part, []).append(line.symbol)
    rows = [f"{text}: {', '.join(symbols)}" for text, symbols in by_source.items()]
    body = [
        line
        for row in rows
        for line in textwrap.wrap(
            row, 98, initial_indent="  ", subsequent_indent="      "
        )
    ]
    return "\n".join(["Sources of the lines", *body]) + "\n"


def disagreement_text(found: Disagreement) -> str:
    """Return how the worksheet's design fares, and which assumption does it."""
    import textwrap

    lines = []
    for words in found.words:
        lines += textwrap.wrap(
            words, 98, initial_indent="  ", subsequent_indent="      "
        )
    head = "Worksheet against record\n" + "\n".join(lines) + "\n"
    rows = [
        [r.assumption, number(r.by_hand), number(r.in_record), r.unit, r.side,
         f"{100 * r.effect_frac:+,.0f} %",
         "none" if found.dark_month else f"{r.array_strings:,}", f"{r.battery_strings:,}"]
        for r in found.reasons
    ]  # fmt: skip
    if not rows:
        return head
    rows.append(_last_row("every one of them", found.array_strings_replaced,
                          found.battery_strings_replaced))  # fmt: skip
    stands = (found.array_strings, found.battery_strings)
    rows.append(
        _last_row("as it stands", 0 if found.dark_month else stands[0], stands[1])
    )
    heads = [
        "assumption replaced", "by hand", "in the record", "unit", "changes", "by",
        "array strings", "battery strings",
    ]  # fmt: skip
    return head + "\n" + table(
        "The worksheet with one assumption at a time replaced by the record's figure",
        heads, rows, left=4,
    )  # fmt: skip


def _last_row(words: str, array: int, battery: int) -> list[str]:
    return [
        words,
        "",
        "",
        "",
        "",
        "",
        f"{array:,}" if array else "none",
        f"{battery:,}",
    ]


def _by_hand(result: Sizing) -> str:
    """Return what the worksheet alone would buy, and how it fares in the record."""
    found = result.disagreement
    sizes = found.by_hand
    if found.design is None:
        return sizes
    fares = (
        "met through the record as well"
        if found.design.met
        else "the record FAILS it: " + ", ".join(found.design.failed)
    )
    return f"{sizes}; {fares}"


def _pick_words(c: Candidate, result: Sizing) -> str:
    price = ""
    if c.cost is not None:
        price = f", {c.cost:,.0f} {result.currency} for panels and battery"
    mass = "" if c.mass_kg is None else f", {c.mass_kg:,.0f} kg"
    return (
        f"{count(c.modules, 'module')} = {c.array_w:,.0f} W, "
        f"{count(c.battery_units, 'battery unit')} = {c.battery_ah:,.0f} Ah{price}{mass}"
    )


def age_words(result: Sizing) -> str:
    """Return at which ages of the battery the criteria are met [text].

    Parameters
    ----------
    result
        A search.
    """
    share = percent(result.health_frac, 0)
    if result.lasts:
        return (
            f"end of life ({share} of the battery's capacity), and every pick meets the "
            "criteria with a new battery as well"
        )
    return (
        f"the battery as specified ({share} of its capacity), not for its end of life"
    )


def _pick_text(result: Sizing, name: str) -> str:
    title = f"Panel and battery needed: {name}"
    if result.pick is None:
        miss = result.nearest_miss
        tried = (
            f"{count(miss.modules, 'module')} and "
            f"{count(miss.battery_units, 'battery unit')}"
            if miss
            else ""
        )
        return facts(
            title,
            [("pick", f"none up to {tried}"), ("sized for", age_words(result)),
             ("reason", result.binding),
             ("by hand", _by_hand(result)),
             ("next", "raise max_array_strings or max_battery_strings in [sizing], a "
              "steeper tilt, a smaller load, or relax the criterion")],
        )  # fmt: skip
    rows = [
        ("pick", _pick_words(result.pick, result)),
        ("sized for", age_words(result)),
    ]
    array = result.problem.design.tables.array
    if len({(c.tilt_deg, c.series) for c in result.tried}) > 1:
        rows.append(
            ("built as", f"{result.pick.array_strings} strings of {array.series}, "
             f"{array.tilt_deg:g} deg from horizontal")
        )  # fmt: skip
    rows.append(("ranked by", result.rule))
    for key, other in result.picks.items():
        if other is not None and other is not result.pick:
            rows.append((LABELS[key], _pick_words(other, result)))
    rows.append(("by hand", _by_hand(result)))
    rows += [("binding", words) for words in result.binding.split("; ")]
    return facts(title, rows)
