"""How sure a size is, from an ensemble, as a section."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.report.charts.monte_carlo import ensemble_figure
from powerbudget.report.document.blocks import (
    Block,
    Cell,
    Column,
    Fact,
    Facts,
    Remarks,
    Row,
    Section,
    Table,
    figure,
    fixed,
    share,
    whole,
    word,
)
from powerbudget.report.sections.pictures import picture
from powerbudget.report.sections.sources import Sources
from powerbudget.report.terminal.monte_carlo import input_range, spread_facts
from powerbudget.report.terminal.text import count

if TYPE_CHECKING:
    from powerbudget.report.document.package import Package
    from powerbudget.sizing.uncertainty.monte_carlo import Ensemble
    from powerbudget.sizing.uncertainty.probability import Odds, SureSize


def odds_section(package: Package, _sources: Sources) -> Section | None:
    """Return the probability of each size, and what moves it most.

    Parameters
    ----------
    package
        All results; without an ensemble there is no section.
    """
    found = package.odds
    if found is None:
        return None
    currency = package.search.currency
    own = found.candidates[0]
    lead = (
        f"The site as written meets the target in {share(own.probability_frac).text} of "
        f"100 seasons, give or take {100 * own.error_frac:.1f}. Weather, load, cold curve "
        "and dirt were drawn anew for each season; every size went through the same ones."
    )
    what = tuple(Fact(label, text) for label, text in spread_facts(found))
    blocks: list[Block] = [
        Facts(what, "What was drawn"), _sure(found, currency),
        _picture(found, currency), _influences(found), _tried(found, currency),
    ]  # fmt: skip
    if found.findings:
        blocks.append(Remarks(found.findings, "To be looked at"))
    return Section("odds", "How sure is a size", "How sure", lead, tuple(blocks))


def _size_columns(currency: str) -> tuple[Column, ...]:
    return (
        Column("modules", "", True), Column("array", "W", True),
        Column("battery units", "", True), Column("battery", "Ah", True),
        Column("cost", currency or "no prices", True),
        Column("met in", "% of seasons", True),
        Column("lowest charge, median season", "%", True),
        Column("lowest charge, one season of ten", "%", True),
    )  # fmt: skip


def _size_cells(c: Odds) -> tuple[Cell, ...]:
    return (
        whole(c.modules), whole(c.array_w), whole(c.battery_units), whole(c.battery_ah),
        whole(c.cost), share(c.probability_frac), share(c.lowest_median_frac),
        share(c.lowest_p90_frac),
    )  # fmt: skip


def _sure(found: Ensemble, currency: str) -> Table:
    columns = (
        Column("sure to", "% of seasons", True), *_size_columns(currency),
        Column("on the record itself"),
    )  # fmt: skip
    rows = tuple(_sure_row(size) for size in found.sizes)
    return Table(
        "odds-sure", "Cheapest size that is as sure as that", columns, rows,
        note="Of the sizes tried. The last column judges the same size by the site's own "
        "record and every criterion.",
    )  # fmt: skip


def _sure_row(size: SureSize) -> Row:
    level, c = share(size.level), size.candidate
    if c is None:
        return Row((level, *[word("-")] * 8, word("no size tried is", tone="bad")))
    misses = ", ".join(c.fails_on_record)
    record = (
        word(f"misses {misses}", tone="bad") if misses else word("met", tone="good")
    )
    return Row((level, *_size_cells(c), record))


def _tried(found: Ensemble, currency: str) -> Table:
    own = found.candidates[0]
    ordered = sorted(
        found.candidates, key=lambda c: (c.battery_strings, c.array_strings)
    )
    rows = tuple(
        Row((word("site file" if c == own else ""), *_size_cells(c),
             fixed(100 * c.error_frac, 1), share(c.no_outage_frac),
             figure(c.mean_hours_off)),
            mark="picked" if c == own else "")
        for c in ordered
    )  # fmt: skip
    columns = (
        Column("size"), *_size_columns(currency), Column("give or take", "%", True),
        Column("no outage in", "% of seasons", True),
        Column("loads off, mean season", "h", True),
    )  # fmt: skip
    return Table(
        "odds-tried", "Every size tried", columns, rows, tools=True, folded=True
    )


def _influences(found: Ensemble) -> Table:
    c = found.reference
    rows = tuple(
        Row((word(row.name), Cell(f"{row.rank_correlation:+.2f}", row.rank_correlation),
             share(row.share_frac), word(input_range(row))))
        for row in found.influences
    )  # fmt: skip
    columns = (
        Column("input"), Column("rank correlation", "", True),
        Column("share", "%", True), Column("eight seasons of ten lie in"),
    )  # fmt: skip
    whose = f"{count(c.modules, 'module')}, {count(c.battery_units, 'battery unit')}"
    return Table(
        "odds-inputs", f"What matters most ({whose})", columns, rows,
        note="Spearman's rank correlation of each input with the season's margin; more of "
        "an input with a minus sign makes the season worse.",
    )  # fmt: skip


def _picture(found: Ensemble, currency: str) -> Block:
    words = "; ".join(
        f"sure to {100 * s.level:g} %: "
        + (
            f"{count(s.candidate.modules, 'module')} and "
            f"{count(s.candidate.battery_units, 'battery unit')}"
            if s.candidate
            else "none tried"
        )
        for s in found.sizes
    )
    alt = (
        "Array against battery, each size shaded by the share of seasons that meet the "
        f"target; inputs by rank correlation; lowest charge of the sure sizes. {words}."
    )
    return picture(ensemble_figure(found, "", currency), "p-odds", alt)
