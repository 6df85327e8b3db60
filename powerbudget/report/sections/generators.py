"""Generators, their fuel and what they ask of people, as a section."""

from __future__ import annotations

import math
from collections import defaultdict
from typing import TYPE_CHECKING

from powerbudget.quantities import count, in_unit, show
from powerbudget.report.charts.generators import fuel_tells
from powerbudget.report.charts.run import supply_figure
from powerbudget.report.document.blocks import (
    Block,
    Cell,
    Column,
    Fact,
    Facts,
    Picture,
    Row,
    Section,
    Table,
    figure,
    fixed,
    rows_of,
    share,
    whole,
    word,
)
from powerbudget.report.document.words import number, percent
from powerbudget.report.sections.pictures import picture
from powerbudget.report.sections.values import dates_words
from powerbudget.site.fields import MONTHS
from powerbudget.site.generator import Access

if TYPE_CHECKING:
    from powerbudget.balance.generation import GeneratorYear
    from powerbudget.balance.simulation import Simulation
    from powerbudget.generators.unit import Machine
    from powerbudget.report.document.package import Package
    from powerbudget.report.sections.sources import Sources

DAYS = (31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
"""Days of each month."""


def generator_section(package: Package, _sources: Sources) -> Section | None:
    """Return output, fuel, starts, visits and silence of each generator.

    Parameters
    ----------
    package
        All results; without a generator there is no section.
    """
    run = package.run
    if not run.generation:
        return None
    blocks: list[Block] = [_picture(run), _output(run), _care(run), _months(run)]
    blocks += [
        Facts(tuple(_unit_facts(run, k)), y.name) for k, y in enumerate(run.generation)
    ]
    blocks += [Facts((Fact("corrective maintenance", access_words(run)),), "Access")]
    blocks += [table for table in (_silence(run), _blamed(run)) if table is not None]
    return Section("generators", "Generators and fuel", "Generators", _lead(run),
                   tuple(blocks))  # fmt: skip


def _lead(run: Simulation) -> str:
    words = [
        f"{y.name} uses {fuel_words(y)}; {_share_words(run, y)}" for y in run.generation
    ]
    wait = max(y.wait_days for y in run.generation)
    return f"{'. '.join(words)}. The longest period without access is {in_unit(wait, 'd')}."


def fuel_words(y: GeneratorYear) -> str:
    """Return what a generator burns in how many hours of a year [text].

    Parameters
    ----------
    y
        A generator over the record.
    """
    burnt = f"{number(y.fuel_per_year)} {of_fuel(y)}" if y.fuel_unit else "no fuel"
    return f"{burnt}/yr in {in_unit(y.run_h_per_year, 'h')}"


def of_fuel(y: GeneratorYear) -> str:
    """Return the unit in which a fuel is counted, and the fuel [text].

    Parameters
    ----------
    y
        A generator over the record.
    """
    return f"{y.fuel_unit} of {y.fuel.replace('-', ' ')}"


def _share_words(run: Simulation, y: GeneratorYear) -> str:
    asked = sum(m.load_wh_per_day * DAYS[m.month - 1] for m in run.monthly)
    taken = y.accepted_wh_per_year
    return (
        f"battery and loads use {show(taken / 1000, 'kWh')}/yr of the output, "
        f"{percent(taken / asked, 0)} of the load energy"
    )


def _picture(run: Simulation) -> Picture:
    months = ", ".join(
        f"{MONTHS[m.month - 1]} {percent(m.generator_wh_per_day / m.load_wh_per_day, 0)}"
        for m in run.monthly
    )
    given = "array and generators" if run.strings else "generators"
    fuel = ", and fuel inventory" if fuel_tells(run) else ""
    alt = (
        f"Energy per day from {given} and load by month{fuel}. Generator share of "
        f"load: {months}. The tables below have the figures."
    )
    return picture(lambda: supply_figure(run), "p-supply", alt)


def _output(run: Simulation) -> Table:
    rows = [
        (word(y.name), figure(y.rated_w), figure(y.run_h_per_year, 4),
         fixed(y.starts_per_year, 1), fixed(y.failed_starts_per_year, 2),
         figure(y.accepted_wh_per_year / 1000, 4), share(taken_frac(y)),
         figure(y.fuel_per_year) if y.fuel_unit else word("none"),
         word(of_fuel(y) if y.fuel_unit else ""),
         figure(y.exercise_h_per_year))
        for y in run.generation
    ]  # fmt: skip
    columns = (
        Column("generator"), Column("rated", "W", True), Column("runs", "h/yr", True),
        Column("starts", "per yr", True), Column("failed starts", "per yr", True),
        Column("used", "kWh/yr", True), Column("% of output", "%", True),
        Column("fuel", "per yr", True), Column("unit of fuel"),
        Column("exercise", "h/yr", True),
    )  # fmt: skip
    return Table(
        "generators-output", "Generator output and fuel consumption", columns,
        rows_of(rows),
        note="Used: energy delivered to battery and loads; a continuous source "
"curtails the rest. Failed starts are one random sample.",
    )  # fmt: skip


def _care(run: Simulation) -> Table:
    columns = (
        Column("generator"),
        Column("service", "visits/yr", True),
        Column("corrective maintenance", "visits/yr", True),
        Column("deliveries", "per yr", True),
        Column("trips", "per yr", True),
        Column("fuel supply", "d at rated output", True),
        Column("d as simulated", "d", True),
        Column("minimum fuel inventory", "% of full", True),
        Column("longest period without access", "d", True),
        Column("life", "years", True),
    )
    return Table(
        "generators-care", "Fuel, maintenance, and access", columns,
        rows_of([_care_cells(y) for y in run.generation]),
        note="Trips: fuel deliveries. Longest period without access: closed season "
"plus delay.",
    )  # fmt: skip


def _care_cells(y: GeneratorYear) -> list[Cell]:
    piped = math.isinf(y.stock_days)
    by_pipe = word("pipeline" if y.fuel_unit else "no fuel")
    return [
        word(y.name), fixed(y.service_visits_per_year, 1), fixed(y.repairs_per_year, 2),
        by_pipe if piped else fixed(y.deliveries_per_year, 2),
        by_pipe if piped else fixed(y.loads_per_year, 2),
        by_pipe if piped else whole(y.stock_days),
        by_pipe if piped else _days(y.stock_days_as_run),
        by_pipe if piped else share(y.lowest_stock_frac),
        whole(y.wait_days),
        Cell("over 50", y.life_y) if y.life_y > 50 else fixed(y.life_y, 1),
    ]  # fmt: skip


def _days(days: float) -> Cell:
    return Cell("unlimited", days) if math.isinf(days) else whole(days)


def _months(run: Simulation) -> Table:
    panels = run.strings > 0
    rows = []
    for m in run.monthly:
        sun = (figure(m.array_wh_per_day), figure(m.array_used_wh_per_day))
        rows.append(
            Row((Cell(MONTHS[m.month - 1], m.month), *(sun if panels else ()),
                 figure(m.generator_wh_per_day), figure(m.load_wh_per_day),
                 share(m.generator_wh_per_day / m.load_wh_per_day), whole(m.hours_off)),
                anchor=f"supply-{m.month}")
        )  # fmt: skip
    sun_columns = (
        Column("available array energy", "Wh/day", True),
        Column("PV energy delivered", "Wh/day", True),
    )
    columns = (
        Column("month"), *(sun_columns if panels else ()),
        Column("generator energy", "Wh/day", True), Column("load", "Wh/day", True),
        Column("generator share of load", "%", True), Column("outage", "h", True),
    )  # fmt: skip
    return Table("generator-months", "Share of supply by month", columns,
                 tuple(rows),
                 note="Generator energy: energy delivered to battery and loads; charging "
"losses make it larger than the load.")  # fmt: skip


def _unit_facts(run: Simulation, k: int) -> list[Fact]:
    unit, y = run.problem.sources.units[k], run.generation[k]
    facts = [Fact(label, text) for label, text in generator_facts(run, y)]
    return [Fact("status", unit_words(unit)), *facts]


def _silence(run: Simulation) -> Table | None:
    """Return the hours in which each generator could not run, by reason."""
    hours = run.problem.record.n * run.problem.record.step_h
    rows = [
        (word(y.name), word(reason), whole(silent), share(silent / hours, 1))
        for y in run.generation
        for reason, silent in silent_hours(y)
    ]
    if not rows:
        return None
    columns = (
        Column("generator"), Column("unavailable"), Column("h in total", "h", True),
        Column("share of time", "%", True),
    )  # fmt: skip
    return Table("generator-silence", "Unavailable hours by cause", columns,
                 rows_of(rows))  # fmt: skip


def _blamed(run: Simulation) -> Table | None:
    """Return the outages by what a generator had to do with them."""
    if not run.outages:
        return None
    hours: dict[str, list[float]] = defaultdict(list)
    for outage in run.outages:
        # The hours of the week before differ from outage to outage; the cause does not.
        cause = outage.generator.rpartition(", ")[0]
        hours[cause or "all generators were available before it"].append(outage.hours)
    rows = [
        (word(cause, href="#outages"), whole(len(each)), whole(sum(each)),
         whole(max(each)))
        for cause, each in sorted(hours.items(), key=lambda item: -sum(item[1]))
    ]  # fmt: skip
    columns = (
        Column("generator and cause"), Column("outages", "", True),
        Column("outage", "h", True), Column("longest", "h", True),
    )  # fmt: skip
    caption = f"Generator status before {count(len(run.outages), 'outage')}"
    return Table("generator-outages", caption, columns, rows_of(rows))


def taken_frac(y: GeneratorYear) -> float:
    """Return what battery and loads took of what a generator offered [fraction].

    Parameters
    ----------
    y
        A generator over the record.
    """
    return (
        y.accepted_wh_per_year / y.offered_wh_per_year if y.offered_wh_per_year else 0
    )


def generator_facts(run: Simulation, y: GeneratorYear) -> list[tuple[str, str]]:
    """Return what kept a generator from running, its fuel, starts and exercise.

    Parameters
    ----------
    run
        A simulation.
    y
        One of its generators over the record.

    Returns
    -------
    list
        Label and text [text].
    """
    rows = [("unavailable", _silent(y))]
    if y.pressure is not None:
        cold = y.pressure
        rows.append(
            (
                "minimum supply pressure, cold",
                f"tank {in_unit(cold.value_degc, '°C', 1)}, minimum tank temperature "
                f"{in_unit(cold.limit_degc, '°C', 1)} ({cold.burner_kpa:g} kPa at the burner plus "
                f"{cold.drop_kpa:g} kPa across the pressure regulator): {cold.verdict}",
            )
        )
    if not math.isinf(y.stock_days):
        rows.append(
            (
                "fuel supply",
                f"{in_unit(y.stock_days, 'd')} at rated output, {_days(y.stock_days_as_run).text} "
                f"d as simulated; longest period without access {in_unit(y.wait_days, 'd')}; "
                f"minimum inventory {percent(y.lowest_stock_frac, 0)}",
            )
        )
        rows.append(
            ("deliveries", f"{y.deliveries_per_year:.2f}/yr, {y.loads_per_year:.2f}/yr trips by "
f"{_mode(run)}")
        )  # fmt: skip
    risk = y.starts_risk
    if risk is not None and risk.stated:
        rows.append(
            ("starts", f"{y.failed_starts_per_year:.2f} of {y.starts_per_year:.1f}/yr starts "
f"failed in this sample; expected {risk.expected_failures_per_year:.2f}; "
f"after {in_unit(risk.longest_rest_h / 24, 'd')} at rest "
f"{percent(risk.risk_frac, 1)} fail, with exercise "
f"{percent(risk.risk_exercised_frac, 1)}")
        )  # fmt: skip
    if y.exercise_h_per_year:
        rows.append(("exercise", in_unit(y.exercise_h_per_year, "h/yr", 1)))
    return rows


def silent_hours(y: GeneratorYear) -> tuple[tuple[str, float], ...]:
    """Return each reason for which a generator could not run, with its hours [h].

    Parameters
    ----------
    y
        A generator over the record.
    """
    reasons = (
        ("insufficient fuel pressure", y.pressure_h),
        ("no fuel", y.no_fuel_h),
        ("fuel not available", y.closed_h),
        ("ambient", y.ambient_h),
        ("failed start, or waiting for manual reignition", y.failed_h),
    )
    return tuple((name, hours) for name, hours in reasons if hours)


def _silent(y: GeneratorYear) -> str:
    words = [f"{name} {in_unit(hours, 'h')}" for name, hours in silent_hours(y)]
    return ", ".join(words) or "never in the simulation"


def access_words(run: Simulation) -> str:
    """Return when and how people reach the site [text].

    Parameters
    ----------
    run
        A simulation with a generator.
    """
    access = run.problem.sources.access or Access()
    closed = "" if access.closed is None else f", closed {dates_words(access.closed)}"
    return f"by {_mode(run)}{closed}, {access.delay_d:g} d from call to visit"


def _mode(run: Simulation) -> str:
    access = run.problem.sources.access
    mode = "road" if access is None else access.mode
    return {"road": "road", "snow": "snow vehicle", "air": "air"}[mode]


def unit_words(unit: Machine) -> str:
    """Return what a generator is and when it runs [text].

    Parameters
    ----------
    unit
        A generator, its figures settled.
    """
    rule = "continuous source"
    if not unit.always and unit.table.start and unit.table.stop:
        low, high = (_level(x) for x in (unit.table.start, unit.table.stop))
        rule = f"starts below {low}, stops at {high}"
    burns = (
        "" if unit.fuel.name == "none" else f" on {unit.fuel.name.replace('-', ' ')}"
    )
    return f"{show(unit.rated_w, 'W')} {unit.kind.title}{burns}, {rule}"


def _level(threshold: tuple[str, float]) -> str:
    kind, value = threshold
    return f"{value:g} V" if kind == "V" else percent(value, 0)
