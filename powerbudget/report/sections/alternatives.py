"""Sources of power on equal terms as a section."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.compare.lifecycle import GROUPS
from powerbudget.quantities import count, money, plain
from powerbudget.report.charts.compare import compare_page_figure, priced, shared
from powerbudget.report.document.blocks import (
    Block,
    Column,
    Fact,
    Facts,
    Prose,
    Remarks,
    Row,
    Section,
    Table,
    cost,
    figure,
    rows_of,
    share,
    whole,
    word,
)
from powerbudget.report.document.words import number
from powerbudget.report.sections.pictures import picture
from powerbudget.site.fields import MONTHS

if TYPE_CHECKING:
    from powerbudget.compare.alternative import MonthShare, Option
    from powerbudget.compare.break_even import Turn
    from powerbudget.compare.comparison import Comparison
    from powerbudget.report.document.package import Package
    from powerbudget.report.sections.sources import Sources


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
    return None if found is None else compared_section(found, sources)


def compared_section(found: Comparison, sources: Sources) -> Section:
    """Return the same for a comparison at hand.

    Parameters
    ----------
    found
        A comparison.
    sources
        Told which sources the prices have.
    """
    bought = tuple(
        Fact(o.title, f"{o.parts}. {o.reason or o.binding}") for o in found.options
    )
    blocks: list[Block] = []
    if found.findings:
        blocks.append(Remarks(found.findings, "Findings"))
    blocks += [
        Facts(_terms(found), "Terms"),
        Facts(bought, "Equipment and limiting criterion", "equipment"),
        _options(found),
    ]
    if found.why:
        blocks.append(Prose(found.why, "Cost difference"))
    blocks += [_picture(found), _costs(found)]
    if found.turns:
        blocks.append(_turns(found))
    blocks += [_supply(found), _prices(found, sources)]
    return Section("options", "Comparison of alternatives", "Alternatives",
                   options_lead(found), tuple(blocks))  # fmt: skip


def options_lead(found: Comparison) -> str:
    """Return the answer of a comparison in one sentence [text]."""
    best = found.best
    if best is None:
        return "No alternative passes every criterion."
    lead = (
        f"Lowest life-cycle cost over {found.terms.horizon_y:g} yr among the "
        f"alternatives that pass: {best.title}"
    )
    doubts = sum(finding.severity != "note" for finding in found.findings)
    return lead + (f"; {count(doubts, 'warning')} below." if doubts else ".")


def _terms(found: Comparison) -> tuple[Fact, ...]:
    terms = found.terms
    end = "credited by remaining life" if terms.residual_value else "not credited"
    pairs = (
        ("load", f"{plain(found.load_w, 3, 'W')}, average of the highest-load month at the dc bus"),
        ("weather", f"{plain(found.years, 3, 'yr')}, the same for every alternative"),
        ("money", f"{found.currency} of today, {terms.horizon_y} yr at "
f"{plain(100 * terms.rate_frac, 3, '%')} real; costs fall {_when(terms.convention)}; "
f"residual value is {end}"),
        ("emissions", f"CO2e over 100 yr, GWP of IPCC {found.gwp}"),
    )  # fmt: skip
    return tuple(Fact(label, text) for label, text in pairs)


def _options(found: Comparison) -> Table:
    columns = (
        Column("alternative"), Column("result"), Column("availability", "%", True),
        Column("visits", "per yr", True), Column("fuel", "per yr", True),
        Column("unit of fuel"), Column("CO2e", "kg/yr", True),
        Column("initial investment", found.currency, True),
        Column("present value", found.currency, True),
    )  # fmt: skip
    return Table("options-table", "Alternatives, lowest cost first among those that pass", columns,
                 tuple(_option(option) for option in found.options), tools=True)  # fmt: skip


def _costs(found: Comparison) -> Table:
    """Return costs by kind, so that no shade of the picture is needed to read them."""
    shown = priced(found)
    kinds = [
        k for k in GROUPS if any(o.cost and abs(o.cost.groups[k]) >= 1 for o in shown)
    ]
    rows = [
        Row(
            (
                word(kind),
                *[cost(o.cost.groups[kind]) for o in shown if o.cost],
            )
        )
        for kind in kinds
    ]
    rows.append(
        Row((word("sum"), *[cost(o.life_cycle_cost) for o in shown]), mark="total")
    )
    columns = (
        Column("cost group"),
        *[Column(option.title, found.currency, True) for option in shown],
    )
    dear = "; ".join(
        f"{o.title} {figure(o.cost_per_kwh).text}" for o in shown if o.cost_per_kwh
    )
    return Table(
        "costs-by-kind",
        f"Cost over {found.terms.horizon_y:g} yr by group, present value",
        columns,
        tuple(rows),
        note=f"Levelized cost of energy, {found.currency} per kWh served: {dear}."
        if dear
        else "",
    )


def _option(option: Option) -> Row:
    return Row((
        word(option.title),
        word("PASS" if option.met else "FAIL", tone="good" if option.met else "bad"),
        share(option.availability_frac, 2), figure(option.visits_per_year),
        figure(option.fuel_per_year), word(option.fuel_unit),
        whole(option.co2e_kg_per_year), cost(option.capital),
        cost(option.life_cycle_cost),
    ))  # fmt: skip


def _picture(found: Comparison) -> Block:
    words = "; ".join(
        f"{o.title}: {money(o.life_cycle_cost, found.currency)}"
        for o in found.options
        if o.life_cycle_cost is not None
    )
    also = ", and share of supply from the array by month" if shared(found) else ""
    alt = f"Life-cycle cost by group{also}. {words}."
    return picture(lambda: compare_page_figure(found), "p-options", alt)


def _turns(found: Comparison) -> Table:
    columns = (Column("what"), Column("input", "", True), Column("break-even", "", True),
               Column("unit"), Column("lowest cost then"))  # fmt: skip
    rows = tuple(
        Row((word(t.name), figure(t.today), word(_turning_point(t)), word(t.unit),
             word(t.takes_over or _same(t.low, t.high))))
        for t in found.turns
    )  # fmt: skip
    return Table("turns", "Break-even values", columns, rows, note=turns_note(found))


def _same(low: float, high: float) -> str:
    return f"the same from {figure(low).text} to {figure(high).text}"


def _supply(found: Comparison) -> Table:
    """Return the share of the supply that is not sun, by month and alternative."""
    shown = [option for option in found.options if option.months]
    columns = (Column("month"), *[Column(option.title, "%", True) for option in shown])
    rows = [
        (word(MONTHS[k]), *[share(_other(option.months[k])) for option in shown])
        for k in range(12 if shown else 0)
    ]
    return Table("supply-months", "Supply by sources other than the array, by month", columns,
                 rows_of(rows), folded=True)  # fmt: skip


def _other(month: MonthShare) -> float:
    whole = month.sun_wh_per_day + month.source_wh_per_day
    return month.source_wh_per_day / whole if whole else 0.0


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
    return Table("prices", "Cost inputs", columns, rows, folded=True)


def turns_note(result: Comparison) -> str:
    """Return how the turns were found [text]."""
    prices = "Prices, rates, and lives are varied at the sizes found."
    if result.resized:
        return (
            f"{prices} Load and autonomy: every alternative sized again at each value."
        )
    return f"{prices} Load and autonomy need other sizes: see --break-even."


def _when(convention: str) -> str:
    return {
        "end-of-year": "at the end of their year",
        "mid-year": "in the middle of their year",
        "continuous": "evenly through their year",
        "annuity-due": "at the beginning of their year",
    }[convention]


def _turning_point(turn: Turn) -> str:
    if turn.between is None:
        return "none in range" if turn.turns_at is None else number(turn.turns_at)
    return f"{number(min(turn.between), 3)} to {number(max(turn.between), 3)}"
