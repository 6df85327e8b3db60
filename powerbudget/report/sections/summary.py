"""The first page: verdicts, figures that matter and how each was found."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from powerbudget.limits import MARGIN_NOTE, printed
from powerbudget.quantities import count, in_unit, show
from powerbudget.report.charts.run import lowest_charge
from powerbudget.report.document.blocks import (
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
from powerbudget.report.document.words import (
    charge_words,
    closure,
    criterion_name,
    found_and_needed,
    number,
    percent,
)
from powerbudget.report.sections.alternatives import options_lead
from powerbudget.report.sections.assumptions import COLD_HREF, anchor_of
from powerbudget.report.sections.battery import hand_autonomy_d
from powerbudget.report.sections.checks import counts_words, missing_inputs
from powerbudget.report.sections.claims import claims_words
from powerbudget.report.sections.design import at, design_blocks
from powerbudget.report.sections.generators import unit_words
from powerbudget.report.sections.loads import line_anchor, season
from powerbudget.report.sections.sky import record_words
from powerbudget.site.fields import MONTHS
from powerbudget.sizing.criteria import asked_for

if TYPE_CHECKING:
    from powerbudget.report.document.package import Package
    from powerbudget.report.sections.sources import Sources
    from powerbudget.sizing.aging import Case
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


def summary_section(package: Package, _sources: Sources) -> Section:
    """Return result, criteria, design, cause and remedy: the first page."""
    blocks: list[Block] = [
        _banner(package), _verdicts(package), *design_blocks(package, _elsewhere(package))
    ]  # fmt: skip
    return Section("summary", "Summary", "Summary", "", tuple(blocks))


def figures_section(package: Package, sources: Sources) -> Section:
    """Return figures that matter with how each was found, and every finding."""
    shown = tuple(_headlines(package, sources))
    blocks = (
        Headlines(shown),
        Prose(_what_moves(package), "Inputs that change the result most"),
        Remarks(package.findings, "Findings"),
        # On paper the cards of the body stand without it.
        Facts(tuple(map(_found, shown)), "Basis of calculation", "figures-found"),
    )
    return Section("figures", "Key results", "Key results", "", blocks)


def _found(item: Headline) -> Fact:
    """Return how a figure is reckoned, and what goes in."""
    steps = "; ".join(step.text for step in item.steps)
    return Fact(item.label, f"{item.formula}. {steps}" if steps else item.formula)


def _banner(package: Package) -> Banner:
    """Return the answer; a circuit check that fails spoils it as a criterion does."""
    failed = [v for v in package.verdicts if not v.met]
    total, broken = len(asked_for(package.verdicts)), package.checks.counts["fail"]
    checks = f"{count(broken, 'circuit check')} {'fails' if broken == 1 else 'fail'}"
    if failed:
        names = ", ".join(v.name for v in failed)
        text = f"FAIL: {len(failed)} of {total} criteria ({names})"
        text += f" and {checks}." if broken else "."
    elif broken:
        text = f"FAIL: all {total} criteria pass, but {checks}."
    else:
        text = f"PASS: all {total} criteria pass, and no circuit check fails."
    return Banner(not failed and not broken, text, _more(package, met=not failed))


def _more(package: Package, *, met: bool) -> str:
    """Return what should be read with the answer."""
    old, unmade = package.outlook.ages[-1], package.checks.counts["not_checked"]
    words = f"Based on {record_words(package.record)}."
    if old.failed and met:
        words = f"End of life (SOH {percent(old.health_frac, 0)}): FAIL ({', '.join(old.failed)})."
    if not unmade:
        return words
    inputs = sum(len(keys) for keys in missing_inputs(package.checks).values())
    return f"{words} NOT CHECKED: {count(unmade, 'check')}, {count(inputs, 'missing input')}."


def _elsewhere(package: Package) -> list[Fact]:
    """Return the answer of each further part, with the way there."""
    rows = [Fact("circuit checks", counts_words(package.checks), "#checks")]
    if package.review is not None:
        rows.append(Fact("claims review", claims_words(package.review), "#claims"))
    if package.comparison is not None:
        rows.append(
            Fact(
                "comparison of alternatives",
                options_lead(package.comparison),
                "#options",
            )
        )
    if package.odds is not None:
        own = package.odds.candidates[0]
        odds = (
            f"the specified site meets the target in {percent(own.probability_frac, 0)}"
        )
        rows.append(
            Fact(
                "probability of PASS",
                f"{odds} of {count(package.odds.years, 'winter')}",
                "#odds",
            )
        )
    return rows


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
    found, needed = found_and_needed(v)
    cells = (
        word(criterion_name(v, package.run), href=href),
        Cell("PASS" if v.met else "FAIL", tone="good" if v.met else "bad"),
        Cell(found, v.found), Cell(needed, v.needed),
        Cell(printed(v.held, found, needed), v.held.order),
    )  # fmt: skip
    return Row(cells)


def _verdicts(package: Package) -> Table:
    rows = tuple(_verdict_row(package, v) for v in asked_for(package.verdicts))
    columns = (
        Column("criterion"), Column("result"), Column("calculated", "", True),
        Column("limit", "", True), Column("margin", "", True),
    )  # fmt: skip
    return Table("verdicts", "Criteria", columns, rows, note=f"{MARGIN_NOTE}.")


def _headlines(package: Package, sources: Sources) -> list[Headline]:
    panels = package.run.strings > 0
    return [
        _load(package), _maximum(package),
        _array(package) if panels else _generators(package), _battery(package),
        _availability(package, sources), _lowest(package), _design_days(package),
        _record_days(package), *([_ratio(package, sources)] if panels else []),
        *(_fuel(package, sources, k) for k in range(len(package.run.generation))),
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
        steps.append(Step(f"and {count(rest, 'further row')}", "#line-sum"))
    return Headline(
        "energy", "Load", number(budget.wh_per_day, 4), "Wh/day",
        f"{season(budget)}; average {show(budget.average_w, 'W')}",
        "sum of power x duty cycle of all loads, parasitic loads included, "
f"contingency {percent(budget.contingency_frac, 0)} once", tuple(steps),
    )  # fmt: skip


def _maximum(package: Package) -> Headline:
    budget = package.budget
    order = sorted(enumerate(budget.lines, start=1), key=lambda x: -x[1].maximum_w)
    steps = tuple(
        Step(f"{line.name}: {show(line.maximum_w, 'W')}", f"#{line_anchor(n)}")
        for n, line in order[:4]
    )
    return Headline(
        "maximum", "Maximum running load", number(budget.maximum_w), "W",
        f"{show(budget.maximum_a, 'A')} at {show(budget.lowest_bus_v, 'V')}: for "
"wire, fuses, converters",
        "sum of the maximum powers of all loads at the bus", steps,
    )  # fmt: skip


def _array(package: Package) -> Headline:
    run, array = package.run, package.tables.array
    module = package.problem.array.module
    modules = run.strings * array.series
    key = "#input-array-module--power"
    if not (isinstance(array.module, str) and array.module in package.design.parts):
        key = "#input-array-series"
    return Headline(
        "array", "Array", f"{modules * module.power_w:,.0f}", "W",
        f"{count(modules, 'module')}, tilt {array.tilt_deg:g}°",
        f"{count(run.strings, 'string')} × {array.series} in series × {module.power_w:g} W",
        (Step(f"module of {module.power_w:g} W", key),
         Step(f"tilt {array.tilt_deg:g}°", "#input-array-tilt"),
         Step(f"recommended size: {_picked(package)}", "#sizing")),
    )  # fmt: skip


def _generators(package: Package) -> Headline:
    """Return what a site without panels lives on."""
    units = package.problem.sources.units
    return Headline(
        "generators", "Generators", f"{sum(u.rated_w for u in units):,.0f}", "W",
        f"rated; no array; {', '.join(unit.kind.title for unit in units)}",
        "sum of the rated outputs, before temperature, altitude, and degradation",
        (*[Step(f"{unit.name}: {unit_words(unit)}",
                f"#{anchor_of(f'generator.{k}.rated')}")
           for k, unit in enumerate(units, start=1)],
         Step("energy delivered", "#generators-output")),
    )  # fmt: skip


def _fuel(package: Package, sources: Sources, k: int) -> Headline:
    y, record = package.run.generation[k], package.record
    value, unit = (
        (number(y.fuel_per_year), f"{y.fuel_unit}/yr") if y.fuel_unit
        else (f"{y.run_h_per_year:,.0f}", "h/yr")
    )  # fmt: skip
    starts = "" if y.always else f", {count(round(y.starts_per_year), 'start')}"
    return Headline(
        f"fuel-{k + 1}", "Fuel" if y.fuel_unit else "Generator runs", value, unit,
        f"{y.name}, {show(y.rated_w, 'W')}: {in_unit(y.run_h_per_year, 'h/yr')}{starts}",
        "fuel heat of each interval (higher heating value) over the heat of one "
f"{y.fuel_unit or 'hour'}, per year",
        (Step("pipeline or none: no fuel inventory" if math.isinf(y.stock_days) else
              f"minimum fuel inventory: {percent(y.lowest_stock_frac, 0)}",
              "#generators-care"),
         Step("by month", "#generator-months"),
         *_burnt(package, k),
         Step("unavailable hours", "#generators"),
         Step("weather file", sources.href(record.source))),
    )  # fmt: skip


def _burnt(package: Package, k: int) -> list[Step]:
    """Return where the efficiency or the fuel use stands among the inputs."""
    unit = package.problem.sources.units[k]
    if unit.fuel.name == "none":
        return []
    path = f"generator.{k + 1}, of its kind: efficiency"
    if unit.table.fuel_use_l_d is not None:
        path = f"generator.{k + 1}.fuel_use"
    elif unit.table.efficiency_frac is not None:
        path = f"generator.{k + 1}.efficiency"
    return [Step("efficiency or fuel use at rated output", f"#{anchor_of(path)}")]


def _picked(package: Package) -> str:
    if package.sizing is None:
        return "no number of battery units is sufficient"
    pick = package.sizing.pick
    if pick is None:
        return "no size in the search range"
    return f"{in_unit(pick.array_w, 'W')} and {in_unit(pick.battery_ah, 'Ah')}"


def _battery(package: Package) -> Headline:
    bank, battery = package.run.bank, package.tables.battery
    key = "#input-battery-unit--capacity"
    if not isinstance(battery.unit, str):
        key = "#input-battery-unit-capacity"
    return Headline(
        "bank", "Battery", f"{bank.nameplate_ah:,.0f}", "Ah",
        f"{count(bank.units, 'unit')}, {bank.chemistry.title}, {bank.nominal_v:g} "
f"V, {bank.unit.hour_rate_h:g} h rate",
        f"{count(bank.parallel, 'string')} × {bank.unit.capacity_ah:g} Ah; SOH "
f"{percent(bank.health_frac, 0)} applied in the simulation",
        (Step(f"unit of {bank.unit.capacity_ah:g} Ah", key),
         Step(f"SOH {percent(bank.health_frac, 0)}", "#input-battery-health"),
         Step(f"temperature derating {bank.cold_curve}", COLD_HREF)),
    )  # fmt: skip


def _availability(package: Package, sources: Sources) -> Headline:
    run, record = package.run, package.record
    hours = record.n * record.step_h
    off = run.hours_off_by_tier[0]
    where = "#outages" if run.outages else "#p-charge"
    condition = f"outage {in_unit(off, 'h')} in {in_unit(hours, 'h')}"
    if run.frost.lost_index >= 0:
        condition = f"battery frozen (destroyed) on {at(run, run.frost.lost_at)}"
    return Headline(
        "availability", "Availability", percent(run.availability_frac, 2), "",
        condition,
        f"1 - {in_unit(off, 'h')} / {in_unit(hours, 'h')}; an interval with an LVD event counts "
"as outage",
        (Step(count(len(run.outages), "outage"), where),
         Step(f"energy balance residual: {closure(run.ledger.error_frac)}", "#ledger"),
         Step("weather file", sources.href(record.source))),
    )  # fmt: skip


def _lowest(package: Package) -> Headline:
    run = package.run
    bank = run.bank
    return Headline(
        "lowest", "Minimum SOC", lowest_charge(run), "",
        f"on {at(run, run.lowest_soc_at)}",
        "minimum of 1 - (charge removed / full-charge capacity at 25 °C at this "
"load) over all intervals; full-charge capacity "
f"{show(bank.charge_ah(package.problem.mean_load_a), 'Ah')}",
        (Step("worst weeks", "#p-weeks"),
         Step("state of charge", "#hand-held"),
         Step("open-circuit voltage, resistance, efficiency",
              "#input-battery-chemistry--open-circuit-voltage-by-SOC")),
    )  # fmt: skip


def _design_days(package: Package) -> Headline:
    days, run, budget = package.days, package.run, package.budget
    held = run.bank.charge_ah(package.problem.mean_load_a)
    left = float(run.bank.capacity_frac(days.design_degc))
    hand = hand_autonomy_d(held, left, budget.ah_per_day)
    return Headline(
        "autonomy-full", "Autonomy", f"{days.design_days:.1f}", "d",
        f"from full charge without charging, battery at {days.design_degc:g} °C, "
f"until the {days.design_ends}",
        f"hour by hour; worksheet {show(held, 'Ah')} × {left:.3f} / "
f"{show(budget.ah_per_day, 'Ah/day')} = {in_unit(hand, 'd', 1)}",
        (Step(f"available at {days.design_degc:g} °C: {left:.3f}",
              COLD_HREF),
         Step(f"load {show(budget.ah_per_day, 'Ah/day')}", "#sum-energy"),
         Step("worksheet and simulation", "#autonomy-design")),
    )  # fmt: skip


def _record_days(package: Package) -> Headline:
    days, run = package.days, package.run
    start = at(run, days.record_start) if days.record_start else "-"
    if days.record_days:
        condition = f"from {start}, SOC {charge_words(days.record_soc_frac)}"
    else:
        condition = f"outage on {start}"
    return Headline(
        "autonomy-record", "Minimum remaining autonomy", f"{days.record_days:.1f}", "d", condition,
        (f"minimum over {package.record.n:,} starting hours of the days without "
"charging")
        + (", from array or generator" if run.generation else ""),
        (Step("SOC by day", "#p-charge"),
         Step(f"temperature derating {run.bank.cold_curve}", COLD_HREF),
         Step("basis of calculation", "#autonomy")),
    )  # fmt: skip


def _ratio(package: Package, sources: Sources) -> Headline:
    least = package.run.array_to_load
    worst = next(row for row in package.run.monthly if row.month == least.month)
    month = MONTHS[least.month - 1]
    single = least.text.partition("; ")[2]
    return Headline(
        "ratio", "Array-to-load ratio", f"{least.ratio:.2f}", "",
        f"in {month}, the lowest month" + (f"; {single}" if single else ""),
        f"{show(worst.array_wh_per_day, 'Wh/day', 4)} / "
        f"{show(worst.load_wh_per_day, 'Wh/day', 4)}",
        (Step(f"{month}, energy at the dc bus", f"#run-months-{worst.month}"),
         Step(f"{month}, irradiation and temperature", f"#sky-{worst.month}"),
         Step("weather file", sources.href(package.record.source))),
    )  # fmt: skip


def _what_moves(package: Package) -> str:
    parts = []
    ahead, record = package.outlook, package.record
    if len(ahead.curves) > 1:
        one, two = ahead.curves[0], ahead.curves[1]
        parts.append(
            f"Autonomy is {in_unit(one.autonomy_design_days, 'd', 1)} with the {one.name} "
            f"temperature derating, {in_unit(two.autonomy_design_days, 'd', 1)} with the "
            f"{two.name} one."
        )
    new, old = ahead.ages[0], ahead.ages[-1]
    parts.append(_age_words(new, old))
    parts += _fuel_rests_on(package)
    if record.typical_year:
        parts.append("The typical year contains no extreme winter.")
    share = percent(package.budget.doubtful_frac, 0)
    parts.append(
        f"{share} of the load energy comes from unverified or assumed figures."
    )
    return " ".join(parts)


def _fuel_rests_on(package: Package) -> list[str]:
    """Return the status of each efficiency that the site file leaves to the kind."""
    return [
        f"The efficiency of {unit.name} is "
        f"{percent(unit.figure('efficiency_frac'), 1)} ({unit.data('efficiency_frac').status})."
        for unit in package.problem.sources.units
        if unit.fuel.name != "none"
        and unit.table.efficiency_frac is None
        and unit.table.fuel_use_l_d is None
    ]


def _age_words(new: Case, old: Case) -> str:
    """Return what the bank's age does: to the record's days, where it leaves any."""
    if max(new.autonomy_record_days, old.autonomy_record_days) < 0.05:
        return (
            f"Availability is {percent(new.availability_frac, 2)} with a new battery, "
            f"{percent(old.availability_frac, 2)} at end of life."
        )
    return (
        "Minimum remaining autonomy is "
        f"{in_unit(new.autonomy_record_days, 'd', 1)} with a new battery, "
        f"{in_unit(old.autonomy_record_days, 'd', 1)} at end of life."
    )
