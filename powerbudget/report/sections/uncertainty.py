"""How sure a size is, from an ensemble, as a section."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.quantities import count, in_unit, plain, show
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
    cost,
    figure,
    fixed,
    rows_of,
    share,
    whole,
    word,
)
from powerbudget.report.document.words import moment, number, percent
from powerbudget.report.sections.pictures import picture
from powerbudget.site.fields import MONTHS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from powerbudget.report.document.package import Package
    from powerbudget.report.sections.sources import Sources
    from powerbudget.sizing.search import Sizing
    from powerbudget.sizing.uncertainty.monte_carlo import Ensemble
    from powerbudget.sizing.uncertainty.probability import Influence, Odds, SureSize
    from powerbudget.sizing.uncertainty.reliability import Reliability
    from powerbudget.sizing.uncertainty.sensitivity import Influential, RangeEnd
_UNITS = {"light": "kWh/m²/day", "battery": "°C"}


def sensitivity_section(package: Package, _sources: Sources) -> Section | None:
    """Return the register of the inputs that move the recommended size most."""
    found = package.sensitivity
    return influence_section(found, package.search) if found else None


def influence_section(rows: Sequence[Influential], found: Sizing) -> Section:
    """Return the register, the strongest input first, beside the size of a search."""
    columns = (
        Column("input"), Column("value"), Column("data quality"), Column("low"),
        Column("size needed"), Column("high"), Column("size needed"),
    )  # fmt: skip
    cells = [
        (word(r.name), word(r.value), word(r.status), word(r.low.value), _end(r.low),
         word(r.high.value), _end(r.high))
        for r in rows
    ]  # fmt: skip
    pick = found.pick
    size = (
        f"{in_unit(pick.array_w, 'W')} + {in_unit(pick.battery_ah, 'Ah')}"
        if pick
        else "none"
    )
    lead = (
        f"The recommended size is {size}. Each input in turn takes the low and the high "
        "end of its range, with the same criteria."
    )
    note = (
        "Size needed: smallest array with the recommended battery, or with the "
        "next larger that passes. Ranges of irradiation, temperature, SOH, "
        "orientation, and LVD are assumed; the others come from site file, "
        "parts, and chemistry."
    )
    table = Table(
        "sensitivity",
        "Inputs that change the recommended size most, largest effect first",
        columns,
        rows_of(cells),
        note=note,
    )
    return Section("register", "Assumptions register", "Register", lead, (table,))


def _end(end: RangeEnd) -> Cell:
    if end.array_w is None or end.battery_ah is None:
        return word("no size passes", tone="bad")
    return word(f"{in_unit(end.array_w, 'W')} + {in_unit(end.battery_ah, 'Ah')}")


def odds_section(package: Package, _sources: Sources) -> Section | None:
    """Return the probability of each size, and what moves it most.

    Parameters
    ----------
    package
        All results; without an ensemble there is no section.
    """
    found = package.odds
    return None if found is None else ensemble_section(found, package.search.currency)


def ensemble_section(found: Ensemble, currency: str) -> Section:
    """Return the same for an ensemble at hand.

    Parameters
    ----------
    found
        Of `powerbudget.sizing.uncertainty.monte_carlo.ensemble`.
    currency
        Of costs, empty where the site has no prices [text].
    """
    own = found.candidates[0]
    lead = (
        "The specified site meets the target in "
        f"{share(own.probability_frac).text} % of winters, standard error "
        f"{in_unit(100 * own.error_frac, '%', 1)}. Weather, load, temperature derating, and "
        "soiling are sampled for each winter; every size uses the same samples."
    )
    what = tuple(Fact(label, text) for label, text in spread_facts(found))
    blocks: list[Block] = [
        Facts(what, "Sampled inputs"), _sure(found, currency),
        _picture(found, currency), _influences(found), _tried(found, currency),
    ]  # fmt: skip
    if found.findings:
        blocks.append(Remarks(found.findings, "Findings"))
    return Section(
        "odds",
        "Probability of meeting the criteria",
        "Monte Carlo",
        lead,
        tuple(blocks),
    )


def _size_columns(currency: str) -> tuple[Column, ...]:
    return (
        Column("modules", "", True), Column("array", "W", True),
        Column("battery units", "", True), Column("battery", "Ah", True),
        Column("cost", currency or "no prices", True),
        Column("probability of PASS", "% of winters", True),
        Column("minimum SOC, median winter", "%", True),
        Column("minimum SOC, one winter in ten", "%", True),
    )  # fmt: skip


def _size_cells(c: Odds) -> tuple[Cell, ...]:
    return (
        whole(c.modules), whole(c.array_w), whole(c.battery_units), whole(c.battery_ah),
        cost(c.cost), share(c.probability_frac), share(c.lowest_median_frac),
        share(c.lowest_p90_frac),
    )  # fmt: skip


def _sure(found: Ensemble, currency: str) -> Table:
    columns = (
        Column("size"), *_size_columns(currency),
        Column("in the weather file"),
    )  # fmt: skip
    rows = tuple(_sure_row(size) for size in found.sizes)
    return Table(
        "odds-sure", "Lowest-cost 50 %, 90 %, 99 % size", columns, rows,
        note="The 90 % size meets the target in 90 % of winters. The last column compares "
"the same size with every criterion, on the weather file of the site.",
    )  # fmt: skip


def _sure_row(size: SureSize) -> Row:
    level, c = word(f"{100 * size.level:g} % size"), size.candidate
    if c is None:
        return Row((level, *[word("-")] * 8, word("no size passes", tone="bad")))
    misses = ", ".join(c.fails_on_record)
    record = (
        word(f"FAIL: {misses}", tone="bad") if misses else word("PASS", tone="good")
    )
    return Row((level, *_size_cells(c), record))


def _tried(found: Ensemble, currency: str) -> Table:
    own = found.candidates[0]
    ordered = sorted(
        found.candidates, key=lambda c: (c.battery_strings, c.array_strings)
    )
    rows = tuple(
        Row((word("specified site" if c == own else ""), *_size_cells(c),
             fixed(100 * c.error_frac, 1), share(c.no_outage_frac),
             figure(c.mean_hours_off)),
            mark="picked" if c == own else "")
        for c in ordered
    )  # fmt: skip
    columns = (
        Column("size"), *_size_columns(currency), Column("standard error", "%", True),
        Column("no outage", "% of winters", True),
        Column("outage, average winter", "h", True),
    )  # fmt: skip
    return Table("odds-tried", "Sizes tried", columns, rows, tools=True, folded=True)


def _influences(found: Ensemble) -> Table:
    c = found.reference
    rows = tuple(
        Row((word(row.name), Cell(f"{row.rank_correlation:+z.2f}", row.rank_correlation),
             share(row.share_frac), word(input_range(row))))
        for row in found.influences
    )  # fmt: skip
    columns = (
        Column("input"), Column("rank correlation", "", True),
        Column("share", "%", True), Column("10 % to 90 % of winters"),
    )  # fmt: skip
    whose = f"{count(c.modules, 'module')}, {count(c.battery_units, 'battery unit')}"
    return Table(
        "odds-inputs", f"Inputs with the largest influence ({whose})", columns, rows,
        note="Rank correlation (Spearman) of each input with the margin of the "
"winter. Negative: a larger input reduces the margin.",
    )  # fmt: skip


def _picture(found: Ensemble, currency: str) -> Block:
    words = "; ".join(
        f"{100 * s.level:g} % size: "
        + (
            f"{count(s.candidate.modules, 'module')} and "
            f"{count(s.candidate.battery_units, 'battery unit')}"
            if s.candidate
            else "none tried"
        )
        for s in found.sizes
    )
    alt = (
        "Array and battery sizes by probability of PASS; inputs by rank "
        f"correlation; minimum SOC of the 50 %, 90 %, 99 % sizes. {words}."
    )
    return picture(lambda: ensemble_figure(found, "", currency), "p-odds", alt)


def spread_facts(result: Ensemble) -> list[tuple[str, str]]:
    """Return what was sampled for each winter, label and words [text].

    Parameters
    ----------
    result
        Of `powerbudget.sizing.uncertainty.monte_carlo.ensemble`.
    """
    spread = result.spread
    pairs = [
        (
            "trials",
            f"{count(result.years, 'winter')}, random seed {result.seed}, {_years(result)}",
        ),
        ("target", result.target),
        (
            "load",
            f"{number(result.load_run_w)} to {number(result.load_top_w)} W, average "
            f"{number(result.load_mean_w)} W (simulation {number(result.load_run_w)} "
            "W), mode at the low end",
        ),
    ]
    if spread.cold_curves == "between":
        pairs.append(
            ("temperature derating", "uniform between the two derating curves")
        )
    if spread.more_soiling_frac:
        more = percent(spread.more_soiling_frac, 0)
        pairs.append(("soiling", f"up to {more} above the site file"))
    if spread.module_derate_frac:
        pairs.append(
            ("modules", f"up to {percent(spread.module_derate_frac, 0)} below rated")
        )
    if any(row.name == "snow loss" for row in result.influences):
        pairs.append(("snow", "uniform between none and the site file"))
    return pairs


def _years(result: Ensemble) -> str:
    if result.years_from == "made":
        return f"synthetic years from monthly means ({result.source})"
    return f"sampled from {count(result.seasons, 'whole winter')} of {result.source}"


def input_range(row: Influence) -> str:
    """Return between which figures eight of ten draws of an input lie [text]."""
    unit = _UNITS.get(row.name.split(maxsplit=1)[0])
    if unit:
        return f"{number(row.low)} to {number(row.high)} {unit}"
    return f"{100 * row.low:.0f} to {in_unit(100 * row.high, '%')}"


def reliability_section(found: Reliability) -> Section:
    """Return loss of load, outages by length and curves of equal reliability.

    Parameters
    ----------
    found
        Of `powerbudget.sizing.uncertainty.reliability.reliability_view`.
    """
    lengths = [
        (word(c.label), whole(c.outages), fixed(c.per_year, 2), whole(c.hours))
        for c in found.lengths
    ]
    columns = (Column("length"), Column("outages", "", True), Column("outages", "per yr", True),
               Column("outage", "h", True))  # fmt: skip
    blocks: list[Block] = [
        Facts(tuple(Fact(a, b) for a, b in _loss_facts(found))),
        Table("outage-lengths", f"Outages by length, {plain(found.years, 3, 'yr')}", columns,
              rows_of(lengths)),
    ]  # fmt: skip
    if found.curves:
        blocks += [_curves(found), _fits(found)]
    if found.findings:
        blocks.append(Remarks(found.findings, "Findings"))
    return Section("reliability", "Loss of load and iso-reliability curves", "Reliability", "",
                   tuple(blocks))  # fmt: skip


def _loss_facts(r: Reliability) -> list[tuple[str, str]]:
    pairs = [
        ("loss-of-load probability", f"{percent(r.lolp_hours_frac, 3)} of the hours "
         f"(LOLP), {percent(r.llp_energy_frac, 3)} of the energy (LLP)"),
        ("loss of load", f"{in_unit(r.hours_off_per_year, 'h/yr', 1)}, "
         f"{show(r.unmet_wh_per_year, 'Wh')}/yr "
"unserved"),
        ("outages", f"{r.outages_per_year:.2f} per yr, average {in_unit(r.mean_outage_h, 'h', 1)}"),
    ]  # fmt: skip
    if r.longest_start:
        start = moment(r.longest_start, typical_year=r.typical_year)
        worst = max(range(12), key=lambda k: r.hours_off_by_month[k])
        pairs += [("longest", f"{in_unit(r.longest_outage_h, 'h', 1)} from {start}"),
                  ("worst month",
                   f"{MONTHS[worst]}, {in_unit(r.hours_off_by_month[worst], 'h/yr', 1)}")
                  ]  # fmt: skip
    this = (
        f"array-to-load ratio {r.array_ratio:.2f} (C_A); storage "
        f"{in_unit(r.storage_days, 'd', 1)} at 25 °C to the LVD (C_S)"
    )
    return [*pairs, ("this site", this)]


def _curves(r: Reliability) -> Table:
    levels = sorted({p.llp_frac for p in r.curves}, reverse=True)
    at = {(p.llp_frac, p.storage_days): p for p in r.curves}
    rows = []
    for days in sorted({p.storage_days for p in r.curves}):
        points = [at.get((level, days)) for level in levels]
        strings = next(p.battery_strings for p in points if p)
        cells = [word(f"{p.array_ratio:.2f} ({number(p.array_strings)})" if p else "-")
                 for p in points]  # fmt: skip
        rows.append((fixed(days, 1), fixed(strings, 2), *cells))
    columns = (
        Column("storage (C_S)", "d", True), Column("battery strings", "", True),
        *[Column(f"LLP {100 * level:g} %", "", True) for level in levels],
    )  # fmt: skip
    title = "Array-to-load ratio (C_A; array strings in brackets) by LLP and storage"
    return Table("reliability-curves", title, columns, rows_of(rows))


def _fits(r: Reliability) -> Facts:
    rows = [
        Fact(f"LLP {100 * f.llp_frac:g} %",
             f"C_A = {f.f:.3g} C_S^-{f.u:.3g}, {count(f.points, 'point')}")
        for f in r.fits
    ]  # fmt: skip
    return Facts(tuple(rows), "Fitted form (Egido and Lorenzo 1992)")
