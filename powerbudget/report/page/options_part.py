"""Sources of power on equal terms as a section."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.report.compare_chart import compare_figure
from powerbudget.report.page.blocks import (
    Block,
    Column,
    Fact,
    Facts,
    Remarks,
    Row,
    Section,
    Table,
    figure,
    share,
    whole,
    word,
)
from powerbudget.report.page.pictures import picture
from powerbudget.report.page.sources import Sources

if TYPE_CHECKING:
    from powerbudget.compare.options import Option
    from powerbudget.compare.rank import Comparison
    from powerbudget.report.page.package import Package


def options_section(package: Package, sources: Sources) -> Section | None:
    """Return each option sized to the criteria and priced, and where the order turns.

    Parameters
    ----------
    package
        All results; without a comparison there is no section.
    sources
        Told which sources the prices have.
    """
    found = package.comparison
    if found is None:
        return None
    met = [option for option in found.options if option.met]
    lead = "No option meets every criterion."
    if met:
        lead = (
            f"Cheapest over {found.terms.horizon_y:g} years of those that meet every "
            f"criterion: {met[0].title}."
        )
    bought = tuple(
        Fact(o.title, f"{o.parts}. {o.reason or o.binding}") for o in found.options
    )
    blocks: list[Block] = [
        _options(found), _picture(found),
        Facts(bought, "What is bought, and what binds"),
    ]  # fmt: skip
    if found.turns:
        blocks.append(_turns(found))
    blocks.append(_prices(found, sources))
    if found.findings:
        blocks.append(Remarks(found.findings, "To be looked at"))
    return Section("options", "Sources of power on equal terms", "Options", lead,
                   tuple(blocks))  # fmt: skip


def _options(found: Comparison) -> Table:
    columns = (
        Column("option"), Column("criteria"), Column("availability", "%", True),
        Column("life-cycle cost", found.currency, True),
        Column("energy served", f"{found.currency}/kWh", True),
        Column("fuel a year", "", True), Column("unit"), Column("visits a year", "", True),
        Column("CO2e a year", "kg", True),
    )  # fmt: skip
    return Table("options-table", "Cheapest first of those that meet the criteria", columns,
                 tuple(_option(option) for option in found.options), tools=True)  # fmt: skip


def _option(option: Option) -> Row:
    return Row((
        word(option.title),
        word("met" if option.met else "NOT met", tone="good" if option.met else "bad"),
        share(option.availability_frac, 2), whole(option.life_cycle_cost),
        figure(option.cost_per_kwh), figure(option.fuel_per_year),
        word(option.fuel_unit), figure(option.visits_per_year),
        whole(option.co2e_kg_per_year),
    ))  # fmt: skip


def _picture(found: Comparison) -> Block:
    words = "; ".join(
        f"{o.title}: {o.life_cycle_cost:,.0f} {found.currency}"
        for o in found.options
        if o.life_cycle_cost is not None
    )
    alt = f"Life-cycle cost by kind, availability, and who carries the load. {words}."
    return picture(compare_figure(found), "p-options", alt)


def _turns(found: Comparison) -> Table:
    columns = (Column("what"), Column("today", "", True), Column("turns at", "", True),
               Column("unit"), Column("then cheapest"))  # fmt: skip
    rows = tuple(
        Row((word(t.name), figure(t.today), figure(t.turns_at), word(t.unit),
             word(t.takes_over or f"the same from {t.low:g} to {t.high:g}")))
        for t in found.turns
    )  # fmt: skip
    return Table("turns", "Where the order turns", columns, rows)


def _prices(found: Comparison, sources: Sources) -> Table:
    columns = (
        Column("price"), Column("figure", "", True), Column("from", "", True),
        Column("to", "", True), Column("unit"), Column("status"),
        Column("key in the site file"), Column("source"),
    )  # fmt: skip
    rows = tuple(
        Row((word(a.title), figure(a.value), figure(a.low), figure(a.high),
             word(a.unit), word(a.status), word(a.key),
             sources.cell(a.source, a.status)))
        for a in found.assumptions
    )  # fmt: skip
    return Table("prices", "Every price that this rests on", columns, rows, folded=True)
