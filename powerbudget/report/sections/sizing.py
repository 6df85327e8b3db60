"""Panel and battery needed, and the hand worksheet, as sections."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.limits import printed
from powerbudget.quantities import count, in_unit, money, show
from powerbudget.report.document.blocks import (
    Block,
    Cell,
    Column,
    Fact,
    Facts,
    Panel,
    Panels,
    Picture,
    Point,
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
from powerbudget.report.document.words import figures_apart, found_and_needed, percent
from powerbudget.report.sections.battery import months_table
from powerbudget.report.sections.generators import fuel_words
from powerbudget.report.sections.pictures import picture, place_of
from powerbudget.sizing.from_nothing import RULE

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from powerbudget.report.document.package import DesignRun, Package
    from powerbudget.report.sections.sources import Sources
    from powerbudget.sizing.candidates import Candidate
    from powerbudget.sizing.from_nothing import Alternative, FromNothing
    from powerbudget.sizing.search import Sizing
    from powerbudget.sizing.tilt import TiltRow, TiltSearch
    from powerbudget.sizing.worksheet.against_record import Disagreement
    from powerbudget.sizing.worksheet.formulas import WorksheetLine


def sizing_section(package: Package, _sources: Sources) -> Section | None:
    """Return pick, frontier and each of its designs, for a site with panels."""
    found = package.sizing
    if found is None:
        return None
    blocks: list[Block] = [Facts(tuple(_pick_facts(package)))]
    if found.tried:
        blocks.append(_picture(package))
    if package.designs:
        blocks += [_frontier(package), _one_more(found), _panels(package)]
    if found.unmet:
        blocks.append(_unmet(found))
    pick = found.pick
    lead = "No size in the search range passes every criterion."
    if pick is not None:
        lead = (
            f"{count(pick.modules, 'module')} ({in_unit(pick.array_w, 'W')}) and "
            f"{count(pick.battery_units, 'battery unit')} ({in_unit(pick.battery_ah, 'Ah')}) "
            f"pass every criterion, with the {found.rule.split(' of ')[0].split(':')[0]}."
            + _fuel_of_pick(package)
        )
    return Section("sizing", "Array and battery size", "Array and battery", lead,
                   tuple(blocks))  # fmt: skip


def _fuel_of_pick(package: Package) -> str:
    """Return what the generators burn with the pick against the site as written."""
    pick = package.search.pick
    run = next((d.run for d in package.designs if d.candidate is pick), None)
    if run is None or not run.generation:
        return ""
    words = [
        f"{new.name} uses {fuel_words(new)} (specified site: {fuel_words(old)})"
        for new, old in zip(run.generation, package.run.generation, strict=True)
    ]
    return f" At this size, {'; '.join(words)}."


def _pick_facts(package: Package) -> list[Fact]:
    found, run = package.search, package.run
    mine = (
        f"{count(run.strings * package.tables.array.series, 'module')}, "
        f"{count(run.bank.units, 'battery unit')}: "
        + ("PASS" if package.met else "FAIL")
    )
    rows = [Fact("specified site", mine, "#verdicts")]
    rows += [
        Fact(name.replace("_", " "), _name(other))
        for name, other in found.picks.items()
        if other is not None and other is not found.pick
    ]
    if found.pick is None:
        rows.append(Fact("cause", found.binding))
    else:
        rows += [
            Fact("limiting criterion", words) for words in found.binding.split("; ")
        ]
    if {"Na", "Np"} <= {line.symbol for line in found.worksheet}:
        hand = (
            f"{found.disagreement.by_hand}; based on ampere-hours of an average month"
        )
        rows.append(Fact("worksheet", hand, "#worksheet"))
    return [*rows, Fact("sized for", age_words(found)), Fact("ranked by", found.rule)]


def _picture(package: Package) -> Picture:
    from powerbudget.report.charts.size import frontier_figure

    found = package.search

    def points(drawn: Figure) -> tuple[Point, ...]:
        return tuple(
            Point(*place_of(drawn.axes[0], c.battery_ah, c.array_w), f"#design-{n}",
                  _name(c))
            for n, c in enumerate(found.frontier, start=1)
        )  # fmt: skip

    words = "; ".join(_name(c) for c in found.frontier) or "none"
    alt = (
        "Array power and battery capacity of every size tried, with the smallest "
        f"passing sizes: {words}. The table below has their figures."
    )
    caption = "Select a point to see that size." if found.frontier else ""
    return picture(
        lambda: frontier_figure(found, ""), "p-frontier", alt, caption, points
    )


def _name(c: Candidate) -> str:
    return f"{count(c.modules, 'module')}, {count(c.battery_units, 'battery unit')}"


def turned(found: Sizing) -> bool:
    """Return whether sizes of more than one tilt or string length were tried."""
    return len({(c.tilt_deg, c.series) for c in found.tried}) > 1


def _found(c: Candidate, name: str) -> float:
    return next((v.found for v in c.verdicts if v.name.startswith(name)), float("nan"))


def _frontier(package: Package) -> Table:
    rows = []
    priced = any(design.candidate.cost is not None for design in package.designs)
    for n, design in enumerate(package.designs, start=1):
        c, picked = design.candidate, design.candidate is package.search.pick
        cells = (
            word(_name(c) + (" (recommended)" if picked else ""), href=f"#design-{n}"),
            whole(c.array_w), whole(c.battery_ah), *([cost(c.cost)] if priced else []),
            *([fixed(c.tilt_deg, 0), whole(c.series)] if turned(package.search) else []),
            *[figure(y.fuel_per_year or y.run_h_per_year) for y in design.run.generation],
            share(c.availability_frac, 2), share(c.lowest_soc_frac),
            figure(_found(c, "autonomy")), figure(design.record_days),
            figure(_found(c, "array")),
        )  # fmt: skip
        rows.append(Row(cells, mark="picked" if picked else ""))
    columns = (
        Column("design"), Column("array", "W", True), Column("battery", "Ah", True),
        *([Column("cost", package.search.currency, True)] if priced else []),
        *([Column("tilt", "deg", True), Column("in series", "", True)]
          if turned(package.search) else []),
        *[Column(y.name, f"{y.fuel_unit or 'h'}/yr", True)
          for y in package.run.generation],
        Column("availability", "%", True), Column("minimum SOC", "%", True),
        Column("autonomy", "d", True), Column("minimum remaining autonomy", "d", True),
        Column("array-to-load ratio, lowest month", "ratio", True),
    )  # fmt: skip
    return Table(
        "frontier", "Smallest passing array for each battery", columns,
        tuple(rows), tools=True,
        note=_frontier_note(package, priced=priced),
    )  # fmt: skip


def _one_more(found: Sizing) -> Table:
    rows = [
        (word(r.piece), *([cost(r.cost)] if r.cost is not None else []),
         share(r.availability_frac, 2), Cell(f"{r.gained_hours_per_year:+z.1f}"),
         share(r.lowest_soc_frac), Cell(f"{100 * r.gained_soc_frac:+z.0f}"),
         fixed(r.autonomy_design_days, 1), Cell(f"{r.gained_design_days:+z.1f}"),
         fixed(r.autonomy_record_days, 1), Cell(f"{r.gained_record_days:+z.1f}"))
        for r in found.one_more
    ]  # fmt: skip
    priced = any(r.cost is not None for r in found.one_more)
    columns = (
        Column("one more"), *([Column("cost", found.currency, True)] if priced else []),
        Column("availability", "%", True), Column("gain", "h/yr", True),
        Column("minimum SOC", "%", True), Column("gain", "points", True),
        Column("autonomy", "d", True), Column("gain", "d", True),
        Column("minimum remaining autonomy", "d", True), Column("gain", "d", True),
    )  # fmt: skip
    return Table("one-more", "Marginal benefit of one more step", columns,
                 rows_of(rows))  # fmt: skip


def _unmet(found: Sizing) -> Table:
    rows = []
    for r in found.unmet:
        two = figures_apart(r.found, r.needed, r.unit)
        rows.append((word(r.criterion), *map(word, two), word(printed(r.held, *two)),
                     word(r.cure)))  # fmt: skip
    columns = (Column("criterion"), Column("calculated", "", True), Column("limit", "", True),
               Column("margin", "", True), Column("cure"))  # fmt: skip
    return Table("unmet", "Criteria that the largest size fails", columns,
                 rows_of(rows))  # fmt: skip


def _frontier_note(package: Package, *, priced: bool) -> str:
    words = ["Cost installed, without labor."] if priced else []
    if package.run.generation:
        words.append(
            "The generators run in every size: a smaller array needs more fuel and "
            "visits, which the ranking does not count."
        )
    return " ".join(words)


def _panels(package: Package) -> Panels:
    items = tuple(
        _panel(package, n, design) for n, design in enumerate(package.designs, start=1)
    )
    return Panels("designs", "Size to show", items)


def _panel(package: Package, number: int, design: DesignRun) -> Panel:
    c, run = design.candidate, design.run
    cost = "" if c.cost is None else money(c.cost, package.search.currency)
    facts = [
        Fact("array", f"{count(c.modules, 'module')}, {in_unit(c.array_w, 'W')}"),
        Fact("battery", f"{count(c.battery_units, 'unit')}, {in_unit(c.battery_ah, 'Ah')}"),
        Fact("cost installed", cost or "no prices in the site file"),
        Fact("availability", percent(c.availability_frac, 2)),
        Fact("minimum SOC", f"{percent(c.lowest_soc_frac, 0)} on {c.lowest_soc_at}"),
        Fact("autonomy", show(_found(c, "autonomy"), "d")),
        Fact("minimum remaining autonomy", show(design.record_days, "d")),
        *[Fact(y.name, fuel_words(y)) for y in run.generation],
        Fact("curtailed energy", show(sum(m.spill_wh for m in run.monthly) / 1000, "kWh")),
        Fact("smallest margin", _tightest(c)),
    ]  # fmt: skip
    title = _name(c)
    table = months_table(run, f"design-{number}-months", f"Monthly energy: {title}")
    picked = c is package.search.pick
    return Panel(f"design-{number}", title, picked, tuple(facts), table)


def _tightest(c: Candidate) -> str:
    """Return the criterion with the least margin among those that leave one."""
    asked = [v for v in c.verdicts if v.needed and v.name != "availability"]
    if not asked:
        return "availability only"
    least = min(asked, key=lambda v: v.held.order)
    return f"{least.name}, margin {printed(least.held, *found_and_needed(least))}"


def worksheet_anchor(line: WorksheetLine) -> str:
    """Return the anchor of a worksheet line [text]."""
    return f"work-{line.line}"


def worksheet_section(package: Package, sources: Sources) -> Section | None:
    """Return the sizing worksheet, each line with formula, inputs and source."""
    if package.sizing is None:
        return None
    rows = [
        Row((whole(w.line), word(w.symbol), word(w.quantity),
             whole(w.value) if w.unit == "count" else figure(w.value, 4),
             word(w.unit), word(w.formula), word(w.inputs), _source(w, sources)),
            worksheet_anchor(w))
        for w in package.search.worksheet
    ]  # fmt: skip
    columns = (
        Column("line", "", True), Column("symbol"), Column("quantity"),
        Column("value", "", True), Column("unit"), Column("formula"),
        Column("with"), Column("source"),
    )  # fmt: skip
    table = Table("worksheet-lines", "Worksheet, line by line", columns, tuple(rows),
                  note="One pass of the worksheet; the simulation uses the weather file."
                  + (" Generators are not included: the array carries the load alone."
                     if package.run.generation else ""))  # fmt: skip
    return Section(
        "worksheet", "Sizing worksheet", "Worksheet",
        "The worksheet has the form of IEEE 1013 and IEEE 1562. The workbook has the "
"same lines as live formulas.",
        (table, *_against(package.search.disagreement)),
    )  # fmt: skip


def _against(found: Disagreement) -> list[Block]:
    """Return how the worksheet's design fares in the simulation, and why."""
    said = tuple(Fact("", words) for words in found.words)
    rows: list[tuple[Cell, ...]] = [
        (word(r.assumption), figure(r.by_hand), figure(r.in_record), word(r.unit),
         word(r.side), Cell(f"{100 * r.effect_frac:+z,.0f}", r.effect_frac),
         _strings(found, r.array_strings), whole(r.battery_strings))
        for r in found.reasons
    ]  # fmt: skip
    blocks: list[Block] = [
        Facts(said, "Worksheet against the simulation", "disagreement")
    ]
    if not rows:
        return blocks
    rows += [_last("all of them", whole(found.array_strings_replaced) if
                   found.array_strings_replaced else word("none"),
                   found.battery_strings_replaced),
             _last("worksheet, unchanged", _strings(found, found.array_strings),
                   found.battery_strings)]  # fmt: skip
    columns = (
        Column("input replaced"), Column("worksheet", "", True),
        Column("simulation", "", True), Column("unit"), Column("changes"),
        Column("by", "%", True), Column("array strings", "", True),
        Column("battery strings", "", True),
    )  # fmt: skip
    title = "One-at-a-time sensitivity: worksheet inputs replaced by simulation results"
    return [*blocks, Table("assumptions-replaced", title, columns, rows_of(rows))]


def _strings(found: Disagreement, strings: int) -> Cell:
    return word("none") if found.dark_month else whole(strings)


def _last(words: str, array: Cell, battery: int) -> tuple[Cell, ...]:
    return (word(words), *[word("")] * 5, array, whole(battery))


def tried_section(found: FromNothing) -> Section:
    """Return every pair of parts with its lightest size, and what was left out.

    Parameters
    ----------
    found
        Of `powerbudget.sizing.from_nothing.size_from_nothing`.
    """
    rows = tuple(
        Row((word(a.module), word(a.battery), word(a.chemistry), *_tried_cells(a)),
            mark="picked" if a is found.pick else "")
        for a in found.tried
    )  # fmt: skip
    columns = (
        Column("module"), Column("battery unit"), Column("chemistry"),
        Column("modules", "", True), Column("array", "W", True), Column("units", "", True),
        Column("battery", "Ah", True), Column("mass", "kg", True), Column("tilt", "deg", True),
        Column("result"),
    )  # fmt: skip
    title = "Lightest passing size of each pair of parts"
    left_out = tuple(Fact(f"not included: {name}", why) for name, why in found.left_out)
    blocks = (Table("parts-tried", title, columns, rows, note=f"Ranked by {RULE}."),
              Facts(left_out, "Not included", "parts-left-out"))  # fmt: skip
    return Section("parts-tried", "Parts tried", "Parts tried", "", blocks)


def _tried_cells(a: Alternative) -> list[Cell]:
    pick = a.pick
    if pick is None:
        return [*[word("")] * 6, word(f"NOT FEASIBLE: {a.why}")]
    return [
        whole(pick.modules), whole(pick.array_w), whole(pick.battery_units),
        whole(pick.battery_ah), whole(pick.mass_kg), fixed(pick.tilt_deg, 0),
        word("FEASIBLE"),
    ]  # fmt: skip


def tilt_section(found: TiltSearch) -> Section:
    """Return every orientation tried, and the one for the worst period.

    Parameters
    ----------
    found
        Of `powerbudget.sizing.tilt.search_tilt`.
    """
    pick, year, written = found.pick, found.for_year, found.as_written
    lead = (
        f"Recommended for the worst {found.window_days} d: {_plane(pick)}, "
        f"{in_unit(pick.worst_kwh_m2_day, 'kWh/m²/day', 2)} from {pick.worst_start}. Maximum "
        f"in a year: {_plane(year)}, {in_unit(year.year_kwh_m2_day, 'kWh/m²/day', 2)}, but "
        f"{percent(1 - year.worst_share, 0)} less in the worst period. Site file: "
        f"{_plane(written)}, {percent(1 - written.worst_share, 0)} below the "
        "maximum."
    )
    rows = tuple(
        Row((fixed(r.tilt_deg, 0), fixed(r.azimuth_deg, 0), figure(r.worst_kwh_m2_day),
             word(r.worst_start), share(r.worst_share), figure(r.year_kwh_m2_day)),
            mark="picked" if r == pick else "")
        for r in found.rows
    )  # fmt: skip
    columns = (
        Column("tilt", "deg", True), Column("azimuth", "deg", True),
        Column("worst period", "kWh/m2/day", True), Column("from"),
        Column("of the maximum", "%", True), Column("average of the year", "kWh/m2/day", True),
    )  # fmt: skip
    table = Table("tilts", "Effective irradiation of each plane", columns, rows,
                  note="Of planes within 1 % of the maximum the steepest is used.")  # fmt: skip
    return Section("tilt", "Orientation of the array", "Orientation", lead, (table,))


def _plane(row: TiltRow) -> str:
    from powerbudget.charging.controller import describe_orientation

    return describe_orientation(row.tilt_deg, row.azimuth_deg)


def _source(line: WorksheetLine, sources: Sources) -> Cell:
    if line.source == "power budget":
        return word("power budget", href="#sum-energy")
    return sources.cell(line.source)


def age_words(result: Sizing) -> str:
    """Return at which ages of the battery the criteria are met [text]."""
    share = percent(result.health_frac, 0)
    if result.lasts:
        return (
            f"end of life ({share} of battery capacity); each size also passes with a "
            "new battery"
        )
    return f"the battery as specified ({share} of its capacity), not end of life"
