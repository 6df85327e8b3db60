"""Generators, fuel and access as text."""

from __future__ import annotations

import math

from powerbudget.balance.generation import GeneratorYear
from powerbudget.balance.simulation import Simulation
from powerbudget.generators.unit import Unit
from powerbudget.quantities import show
from powerbudget.report.terminal.text import facts, number, percent, table
from powerbudget.site.fields import MONTHS
from powerbudget.site.generator import Access

FUEL_CAUTIONS = (
    "Fuel: gas and propane vapour are heavier or lighter than air and explode; exhaust\n"
    "holds carbon monoxide: no burner or engine in a room with people or batteries. A\n"
    "burner or engine is an ignition source near a wellhead or a vent: the area\n"
    "classification, the fuel code in force and licensed people decide where it stands.\n"
    "Tanks are filled and regulators set by licensed people.\n"
)


def generator_text(run: Simulation) -> str:
    """Return what each generator burnt, gave and needed; empty without any [text].

    Parameters
    ----------
    run
        A simulation.
    """
    years = run.generation
    if not years:
        return ""
    heads = [
        "generator", "rated W", "fuel a year", "h run a year", "starts", "kWh taken",
        "of offered", "service visits", "deliveries", "life years",
    ]  # fmt: skip
    body = table(
        "Generators, by the year", heads, [_row(y) for y in years], left=1
    )  # fmt: skip
    return "\n".join([body, *(facts(y.name, generator_facts(run, y)) for y in years)])


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


def _row(y: GeneratorYear) -> list[str]:
    return [
        f"{y.name} ({y.kind})",
        f"{y.rated_w:,.0f}",
        f"{number(y.fuel_per_year)} {y.fuel_unit}" if y.fuel_unit else "none",
        f"{y.run_h_per_year:,.0f}",
        f"{y.starts_per_year:.1f}",
        f"{y.accepted_wh_per_year / 1000:,.1f}",
        percent(taken_frac(y), 0),
        f"{y.service_visits_per_year:.1f}",
        f"{y.deliveries_per_year:.1f}" if not math.isinf(y.stock_days) else "by pipe",
        "over 50" if y.life_y > 50 else f"{y.life_y:.1f}",
    ]


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
    rows = [("could not run", _silent(y))]
    if y.pressure is not None:
        cold = y.pressure
        rows.append(
            ("fuel in the cold", f"liquid down to {cold.value_degc:.1f} degC; feeds the "
             f"burner down to {cold.limit_degc:.1f} degC ({cold.burner_kpa:g} kPa and "
             f"{cold.drop_kpa:g} kPa for the regulator): {cold.verdict}")
        )  # fmt: skip
    if not math.isinf(y.stock_days):
        rows.append(
            ("days of fuel", f"{y.stock_days:,.0f} d at rated output, "
             f"{_days(y.stock_days_as_run)} as it ran; nobody may come for "
             f"{y.wait_days:,.0f} d; least left {percent(y.lowest_stock_frac, 0)}")
        )  # fmt: skip
        rows.append(
            ("deliveries", f"{y.deliveries_per_year:.2f} a year, {y.loads_per_year:.2f} "
             f"trips by {_mode(run)}")
        )  # fmt: skip
    risk = y.starts_risk
    if risk is not None and risk.stated:
        rows.append(
            ("starts", f"{y.failed_starts_per_year:.2f} of {y.starts_per_year:.1f} a year "
             f"failed in this draw; expected {risk.expected_failures_per_year:.2f}; after "
             f"{risk.longest_rest_h / 24:,.0f} d of rest "
             f"{percent(risk.risk_frac, 1)} fail, exercised "
             f"{percent(risk.risk_exercised_frac, 1)}")
        )  # fmt: skip
    if y.exercise_h_per_year:
        rows.append(("exercise", f"{y.exercise_h_per_year:,.1f} h a year"))
    return rows


def silent_hours(y: GeneratorYear) -> tuple[tuple[str, float], ...]:
    """Return each reason for which a generator could not run, with its hours [h].

    Parameters
    ----------
    y
        A generator over the record.
    """
    reasons = (
        ("fuel pressure", y.pressure_h),
        ("no fuel", y.no_fuel_h),
        ("fuel not available", y.closed_h),
        ("ambient", y.ambient_h),
        ("failed start, or waiting to be lit", y.failed_h),
    )
    return tuple((name, hours) for name, hours in reasons if hours)


def _silent(y: GeneratorYear) -> str:
    words = [f"{name} {hours:,.0f} h" for name, hours in silent_hours(y)]
    return ", ".join(words) or "never in the record"


def _days(days: float) -> str:
    return "without end" if math.isinf(days) else f"{days:,.0f} d"


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


def dates_words(ends: tuple[int, int]) -> str:
    """Return first and last day of a season, each month times 100 plus day [text].

    Parameters
    ----------
    ends
        Both included.

    Examples
    --------
    >>> dates_words((1015, 515))
    '15 Oct to 15 May'
    """
    return " to ".join(f"{end % 100} {MONTHS[end // 100 - 1]}" for end in ends)


def _mode(run: Simulation) -> str:
    access = run.problem.sources.access
    mode = "road" if access is None else access.mode
    return {"road": "road", "snow": "snow vehicle", "air": "air"}[mode]


def supply_words(run: Simulation) -> str:
    """Return the generators in one line: what they are and how they run [text].

    Parameters
    ----------
    run
        A simulation.
    """
    units = run.problem.sources.units
    return "; ".join(f"{unit.name}: {unit_words(unit)}" for unit in units)


def unit_words(unit: Unit) -> str:
    """Return what a generator is and when it runs [text].

    Parameters
    ----------
    unit
        A generator, its figures settled.
    """
    rule = "always on"
    if not unit.always and unit.table.start and unit.table.stop:
        low, high = (_level(x) for x in (unit.table.start, unit.table.stop))
        rule = f"starts below {low}, stops from {high}"
    burns = (
        "" if unit.fuel.name == "none" else f" on {unit.fuel.name.replace('-', ' ')}"
    )
    return f"{show(unit.rated_w, 'W')} {unit.kind.title}{burns}, {rule}"


def _level(threshold: tuple[str, float]) -> str:
    kind, value = threshold
    return f"{value:g} V" if kind == "V" else percent(value, 0)
