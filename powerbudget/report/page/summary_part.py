"""The first page: verdicts, figures that matter and how each was found; the basis."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.quantities import show
from powerbudget.report.page.assumptions import COLD_HREF
from powerbudget.report.page.battery_part import hand_autonomy_d, when
from powerbudget.report.page.blocks import (
    Banner,
    Block,
    Cell,
    Column,
    Fact,
    Facts,
    Headline,
    Headlines,
    Prose,
    Remarks,
    Row,
    Section,
    Step,
    Table,
    word,
)
from powerbudget.report.page.claims_part import claims_words
from powerbudget.report.page.loads_part import heaviest, line_anchor
from powerbudget.report.page.options_part import options_lead
from powerbudget.report.page.sky_part import record_words
from powerbudget.report.page.sources import Sources
from powerbudget.report.text import count, number, percent
from powerbudget.report.views import SHORT
from powerbudget.site.fields import MONTHS

if TYPE_CHECKING:
    from powerbudget.report.page.package import Package
    from powerbudget.sizing.criteria import Verdict

WHERE = {
    "availability": "#outages",
    "autonomy": "#autonomy-design",
    "deepest": "#p-weeks",
    "daily": "#worksheet",
    "array-to-load": "#run-months",
    "hours with": "#battery",
    "recovery": "#battery",
}
"""Where the page shows what each criterion is judged by."""


def summary_section(package: Package, sources: Sources) -> Section:
    """Return verdicts, headline figures, what moves them, and findings.

    Parameters
    ----------
    package
        All results.
    sources
        Collected on the way.
    """
    blocks: list[Block] = [
        _banner(package),
        _verdicts(package),
        _elsewhere(package),
        Headlines(tuple(_headlines(package, sources))),
        Prose(_what_moves(package), "What moves the answer most"),
        Remarks(package.findings, "To be looked at"),
    ]
    return Section("summary", "Summary", "Summary", "", tuple(blocks))


def _banner(package: Package) -> Banner:
    """Return the answer; a circuit check that fails spoils it as a criterion does."""
    failed = [v.name for v in package.verdicts if not v.met]
    total, broken = len(package.verdicts), package.checks.counts["fail"]
    checks = f"{count(broken, 'circuit check')} {'fails' if broken == 1 else 'fail'}"
    if failed:
        text = (
            f"This design does not meet {len(failed)} of {total} criteria: "
            f"{', '.join(failed)}"
        )
        text += f"; and {checks}." if broken else "."
    elif broken:
        text = f"This design meets all {total} criteria of energy, but {checks}."
    else:
        text = f"This design meets all {total} criteria, and no circuit check fails."
    return Banner(not failed and not broken, text, _more(package, failed))


def _more(package: Package, failed: list[str]) -> str:
    """Return what should be read with the answer."""
    old = package.outlook.ages[-1]
    if old.failed and not failed:
        return (
            f"With a bank at the end of its life ({percent(old.health_frac, 0)}) it does "
            f"not: {', '.join(SHORT.get(x, x) for x in old.failed)}."
        )
    return f"Judged on {record_words(package)}."


def _elsewhere(package: Package) -> Facts:
    """Return the answer of each further part, with the way there."""
    n = package.checks.counts
    told = (
        f"{n['fail']} fail, {n['warn']} to look at, {n['pass']} pass; {n['not_checked']} "
        "not checked, for lack of a figure in the site file"
    )
    rows = [Fact("circuit checks", told, "#checks")]
    if package.review is not None:
        rows.append(Fact("vendor's claims", claims_words(package.review), "#claims"))
    if package.comparison is not None:
        rows.append(
            Fact("sources of power", options_lead(package.comparison), "#options")
        )
    if package.odds is not None:
        own = package.odds.candidates[0]
        odds = f"the site as written meets its target in {percent(own.probability_frac, 0)}"
        rows.append(Fact("odds", f"{odds} of {package.odds.years:,} seasons", "#odds"))
    return Facts(tuple(rows), "Also judged")


def figure_words(value: float, unit: str) -> str:
    """Return a criterion's figure with its unit [text].

    Parameters
    ----------
    value, unit
        As in a verdict.

    Examples
    --------
    >>> figure_words(0.61, "fraction"), figure_words(9.61, "d")
    ('61.0 %', '9.6 d')
    """
    if unit == "fraction":
        return percent(value, 1)
    if unit == "ratio":
        return f"{value:.2f}"
    return f"{value:.1f} {unit}"


def _daily(package: Package) -> str:
    """Return where the daily load stands: in the worksheet, or in the budget."""
    lines = package.sizing.worksheet if package.sizing else ()
    return next((f"#work-{w.line}" for w in lines if w.symbol == "Q"), "#line-sum")


def _verdict_row(package: Package, v: Verdict) -> Row:
    href = next((to for name, to in WHERE.items() if v.name.startswith(name)), "")
    if href == "#outages" and not package.run.outages:
        href = "#battery"
    if href == "#worksheet":
        href = _daily(package)
    margin = percent(v.margin_frac, 0).removesuffix(" %") if v.needed else ""
    cells = (
        word(v.name, href=href),
        Cell("met" if v.met else "NOT MET", tone="good" if v.met else "bad"),
        Cell(figure_words(v.found, v.unit), v.found),
        Cell(figure_words(v.needed, v.unit), v.needed), Cell(margin, v.margin_frac),
    )  # fmt: skip
    return Row(cells)


def _verdicts(package: Package) -> Table:
    rows = tuple(_verdict_row(package, v) for v in package.verdicts)
    columns = (
        Column("criterion"), Column("verdict"), Column("found", "", True),
        Column("needed", "", True), Column("margin", "% of needed", True),
    )  # fmt: skip
    return Table("verdicts", "Criteria", columns, rows)


def _headlines(package: Package, sources: Sources) -> list[Headline]:
    return [
        _load(package), _maximum(package), _array(package), _battery(package),
        _availability(package, sources), _lowest(package), _design_days(package),
        _record_days(package), _ratio(package, sources),
    ]  # fmt: skip


def _load(package: Package) -> Headline:
    budget = package.budget
    order = sorted(enumerate(budget.lines, start=1), key=lambda x: -x[1].wh_per_day)
    steps = [
        Step(f"{line.name}: {show(line.wh_per_day, 'Wh/day')}", f"#{line_anchor(n)}")
        for n, line in order[:4]
    ]
    rest = len(budget.lines) - 4
    if rest > 0:
        steps.append(Step(f"and {count(rest, 'further line')}", "#line-sum"))
    return Headline(
        "energy", "Load", number(budget.wh_per_day, 4), "Wh/day",
        f"{heaviest(budget)}; mean {show(budget.typical_w, 'W')}",
        "sum over all lines of watts × hours on, hidden lines included, contingency of "
        f"{percent(budget.contingency_frac, 0)} once", tuple(steps),
    )  # fmt: skip


def _maximum(package: Package) -> Headline:
    budget = package.budget
    order = sorted(enumerate(budget.lines, start=1), key=lambda x: -x[1].maximum_w)
    steps = tuple(
        Step(f"{line.name}: {show(line.maximum_w, 'W')}", f"#{line_anchor(n)}")
        for n, line in order[:4]
    )
    return Headline(
        "maximum", "Highest load", number(budget.maximum_w), "W",
        f"all at once; {show(budget.maximum_a, 'A')} at "
        f"{show(budget.lowest_bus_v, 'V')}: for wires and fuses, not for energy",
        "sum over all lines of the highest lasting draw, each at the bus", steps,
    )  # fmt: skip


def _array(package: Package) -> Headline:
    run, array = package.run, package.tables.array
    if not run.strings:
        names = ", ".join(unit.name for unit in package.problem.sources.units)
        return Headline("array", "Array", "0", "W", f"no panels: {names}",
                        "the site file has no [array]", ())  # fmt: skip
    module = package.problem.array.module
    modules = run.strings * array.series
    key = "#input-array-module--power"
    if not (isinstance(array.module, str) and array.module in package.design.parts):
        key = "#input-array-series"
    return Headline(
        "array", "Array", f"{modules * module.power_w:,.0f}", "W",
        f"{count(modules, 'module')}, {array.tilt_deg:g} deg from horizontal",
        f"{count(run.strings, 'string')} × {array.series} in series × {module.power_w:g} W",
        (Step(f"module of {module.power_w:g} W", key),
         Step(f"tilt {array.tilt_deg:g} deg", "#input-array-tilt"),
         Step(f"what the search would buy: {_picked(package)}", "#sizing")),
    )  # fmt: skip


def _picked(package: Package) -> str:
    pick = package.search.pick
    if pick is None:
        return "nothing in reach"
    return f"{pick.array_w:,.0f} W and {pick.battery_ah:,.0f} Ah"


def _battery(package: Package) -> Headline:
    bank, battery = package.run.bank, package.tables.battery
    key = "#input-battery-unit--capacity"
    if not isinstance(battery.unit, str):
        key = "#input-battery-unit-capacity"
    return Headline(
        "bank", "Battery", f"{bank.nameplate_ah:,.0f}", "Ah",
        f"{count(bank.units, 'unit')}, {bank.chemistry.title}, {bank.nominal_v:g} V, "
        f"at the {bank.unit.hour_rate_h:g} h rate",
        f"{count(bank.parallel, 'string')} × {bank.unit.capacity_ah:g} Ah; health "
        f"{percent(bank.health_frac, 0)} is taken off that in the simulation",
        (Step(f"unit of {bank.unit.capacity_ah:g} Ah", key),
         Step(f"health {percent(bank.health_frac, 0)}", "#input-battery-health"),
         Step(f"cold curve {bank.cold_curve}", COLD_HREF)),
    )  # fmt: skip


def _availability(package: Package, sources: Sources) -> Headline:
    run, record = package.run, package.record
    hours = record.n * record.step_h
    off = run.hours_off_by_tier[0]
    where = "#outages" if run.outages else "#p-charge"
    condition = f"{off:,.0f} h without loads in {hours:,.0f} h"
    if run.frost.lost_index >= 0:
        condition = f"the bank freezes and is lost on {when(run, run.frost.lost_at)}"
        off = hours * (1 - run.availability_to_loss_frac)
    return Headline(
        "availability", "Availability", percent(run.availability_to_loss_frac, 2), "",
        condition,
        f"1 - {off:,.0f} h / {hours:,.0f} h; an interval in which the disconnect acts "
        "counts wholly as not served",
        (Step(count(len(run.outages), "outage"), where),
         Step(f"where the energy went, closed to {run.ledger.error_frac:.0e}", "#ledger"),
         Step("weather record", sources.href(record.source))),
    )  # fmt: skip


def _lowest(package: Package) -> Headline:
    run = package.run
    bank = run.bank
    return Headline(
        "lowest", "Lowest charge", percent(run.lowest_soc_frac, 0), "",
        f"on {when(run, run.lowest_soc_at)}",
        "smallest of (1 - charge removed / charge held at 25 degC at this load) over all "
        f"intervals; it holds {show(bank.charge_ah(package.problem.mean_load_a), 'Ah')}",
        (Step("the worst weeks", "#p-weeks"),
         Step("charge held", "#hand-held"),
         Step("rest voltage, resistance, efficiency",
              "#input-battery-chemistry--rest-voltage-by-state")),
    )  # fmt: skip


def _design_days(package: Package) -> Headline:
    days, run, budget = package.days, package.run, package.budget
    held = run.bank.charge_ah(package.problem.mean_load_a)
    left = float(run.bank.capacity_frac(days.design_degc))
    hand = hand_autonomy_d(held, left, budget.ah_per_day)
    return Headline(
        "autonomy-full", "Autonomy, design", f"{days.design_days:.1f}", "d",
        f"from full, no charge at all, battery at {days.design_degc:g} degC, until the "
        f"{days.design_ends}",
        f"hour by hour; by hand {show(held, 'Ah')} × {left:.3f} / "
        f"{show(budget.ah_per_day, 'Ah/day')} = {hand:.1f} d",
        (Step(f"left at {days.design_degc:g} degC: {left:.3f}",
              COLD_HREF),
         Step(f"load {show(budget.ah_per_day, 'Ah/day')}", "#sum-energy"),
         Step("by hand and by simulation", "#autonomy-design")),
    )  # fmt: skip


def _record_days(package: Package) -> Headline:
    days, run = package.days, package.run
    start = when(run, days.record_start) if days.record_start else "-"
    if days.record_days:
        condition = f"starting {start} at {percent(days.record_soc_frac, 0)} charge"
    else:
        condition = f"the loads were lost on {start}"
    return Headline(
        "autonomy-record", "Autonomy, record", f"{days.record_days:.1f}", "d", condition,
        f"shortest over {package.record.n:,} starts of the days without any charge",
        (Step("charge through the record", "#p-charge"),
         Step(f"cold curve {run.bank.cold_curve}", COLD_HREF),
         Step("where each is explained", "#autonomy")),
    )  # fmt: skip


def _ratio(package: Package, sources: Sources) -> Headline:
    worst = min(package.run.monthly, key=lambda m: m.array_to_load_ratio)
    month = MONTHS[worst.month - 1]
    return Headline(
        "ratio", "Array over load", f"{worst.array_to_load_ratio:.2f}", "",
        f"in {month}, the worst month",
        f"{show(worst.array_wh_per_day, 'Wh/day', 4)} / "
        f"{show(worst.load_wh_per_day, 'Wh/day', 4)}",
        (Step(f"{month}, energy at the bus", f"#run-months-{worst.month}"),
         Step(f"{month}, sun and air", f"#sky-{worst.month}"),
         Step("weather record", sources.href(package.record.source))),
    )  # fmt: skip


def _what_moves(package: Package) -> str:
    parts = []
    ahead, record = package.outlook, package.record
    if len(ahead.curves) > 1:
        one, two = ahead.curves[0], ahead.curves[1]
        parts.append(
            f"The cold curve of the battery: {one.autonomy_design_days:.1f} d of autonomy on "
            f"{one.name}, {two.autonomy_design_days:.1f} d on {two.name}."
        )
    new, old = ahead.ages[0], ahead.ages[-1]
    parts.append(
        f"Its age: {new.autonomy_record_days:.1f} d in the record when new, "
        f"{old.autonomy_record_days:.1f} d at the end of its life."
    )
    if record.typical_year:
        parts.append("The weather: one typical year says nothing on bad winters.")
    doubtful = percent(package.budget.doubtful_frac, 0)
    parts.append(f"The load: {doubtful} of it is remembered or invented.")
    return " ".join(parts)


def basis_section(package: Package, sources: Sources) -> Section:
    """Return site, bus, array, battery and weather as they were taken.

    Parameters
    ----------
    package
        All results.
    sources
        Collected on the way.
    """
    lead = "What was computed: the site as its file describes it."
    blocks: list[Block] = [Facts(tuple(_place_facts(package, sources))),
                           Facts(tuple(_plant_facts(package)), "Plant")]  # fmt: skip
    note = package.tables.site.note
    if note:
        blocks.append(Prose(note, "Note of the site file"))
    return Section("basis", "Site and basis", "Basis", lead, tuple(blocks))


def _place_facts(package: Package, sources: Sources) -> list[Fact]:
    site, record = package.tables.site, package.record
    temps = f"{record.temp_air_degc.min():.1f} to {record.temp_air_degc.max():.1f} degC"
    return [
        Fact("site", site.name),
        Fact("place", f"{site.latitude_deg:g} deg, {site.longitude_deg:g} deg, "
             f"{site.elevation_m:g} m above sea"),
        Fact("weather", f"{record.source}; {record_words(package)}",
             sources.href(record.source)),
        Fact("air in the record", temps),
        Fact("clock", f"standard time all year, UTC{record.utc_offset_h:+g}; every "
             f"{60 * record.step_h:g} minutes"),
    ]  # fmt: skip


def _plant_facts(package: Package) -> list[Fact]:
    from powerbudget.array.regulator import describe_orientation

    tables, run = package.tables, package.run
    bus, array, battery = tables.bus, tables.array, tables.battery
    trip = (
        f"disconnect {bus.disconnect_v:g} V, reconnect {bus.reconnect_v:g} V"
        if bus.disconnect_v is not None
        else f"disconnect at {percent(bus.disconnect_soc_frac or 0, 0)} charge, reconnect "
        f"at {percent(bus.reconnect_soc_frac or 0, 0)}"
    )
    module, bank = package.problem.array.module, run.bank
    box = battery.box.kind if battery.box else "follows the air"
    look = describe_orientation(array.tilt_deg, array.azimuth_deg)
    kind = "power-point tracking" if tables.regulator.kind == "mppt" else (
        "direct connection")  # fmt: skip
    return [
        Fact("bus", f"{bus.nominal_v:g} V; {trip}"),
        Fact("array", f"{count(run.strings, 'string')} of {array.series} × {module.power_w:g} W, "
             f"{look}"),
        Fact("regulator", f"{kind} ({tables.regulator.kind.upper()}), set point "
             f"{bank.regulation_v:.2f} V at 25 degC"),
        Fact("battery", f"{count(bank.parallel, 'string')} of {bank.series} × "
             f"{bank.unit.nominal_v:g} V {bank.unit.capacity_ah:g} Ah, "
             f"{bank.chemistry.title}, health {percent(bank.health_frac, 0)}"),
        Fact("battery box", box + (", with a heater" if battery.heater else "")),
    ]  # fmt: skip
