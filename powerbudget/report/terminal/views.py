"""Results as pages of text: what each verb prints."""

from __future__ import annotations

from powerbudget.balance.run_findings import run_findings
from powerbudget.balance.simulation import Simulation
from powerbudget.checks.cautions import caution_text, cautions
from powerbudget.quantities import show
from powerbudget.report.terminal.generators import (
    FUEL_CAUTIONS,
    generator_text,
    supply_words,
)
from powerbudget.report.terminal.text import (
    begins,
    closure,
    count,
    facts,
    moment,
    number,
    percent,
    table,
    told_apart,
    wrapped,
)
from powerbudget.site.fields import MONTHS
from powerbudget.sizing.aging import Case, Outlook
from powerbudget.sizing.autonomy import Autonomy
from powerbudget.sizing.criteria import Verdict, asked_for

CAUTIONS = caution_text(cautions())


def run_page(
    run: Simulation, days: Autonomy, verdicts: tuple[Verdict, ...], ahead: Outlook
) -> str:
    """Return the hourly simulation as text."""
    problem = run.problem
    return "\n".join(
        [
            _basis(run),
            _answer(run, days),
            verdict_table(verdicts),
            _month_table(run),
            _outage_list(run),
            *([generator_text(run)] if run.generation else []),
            battery_text(run, ahead),
            _ledger_table(run),
            wrapped((*run_findings(run), *ahead.findings)),
            f"Weather: {problem.record.source}.\n",
            CAUTIONS + (FUEL_CAUTIONS if run.generation else ""),
        ]
    )


def _basis(run: Simulation) -> str:
    from powerbudget.charging.controller import describe_orientation

    problem, tables = run.problem, run.problem.design.tables
    module, bank = problem.array.module, run.bank
    modules = run.strings * tables.array.series
    look = describe_orientation(tables.array.tilt_deg, tables.array.azimuth_deg)
    panels = (
        f"{modules} x {module.power_w:g} W = {modules * module.power_w:,.0f} W, "
        f"{look}, {tables.regulator.kind.upper()} regulator"
    )
    others = [("generator", supply_words(run))] if run.generation else []
    return facts(
        f"{tables.site.name}",
        [
            ("place", f"{tables.site.latitude_deg:g} deg, {tables.site.longitude_deg:g} "
             f"deg, {tables.site.elevation_m:g} m"),
            ("load", f"{show(problem.budget.wh_per_day, 'Wh/day', 4)}, mean "
             f"{show(problem.budget.average_w, 'W')}, maximum "
             f"{show(problem.budget.maximum_w, 'W')}, on a {tables.bus.nominal_v:g} V bus"),
            ("array", panels if modules else "none"),
            *others,
            ("battery", f"{count(bank.units, 'unit')}, {bank.nameplate_ah:,.0f} Ah at the "
             f"{bank.unit.hour_rate_h:g} h rate, {bank.nominal_v:g} V, "
             f"{bank.chemistry.title}, health {percent(bank.health_frac, 0)}"),
        ],
    )  # fmt: skip


def _kept(run: Simulation) -> str:
    """Return availability and, of a battery that freezes, when it is lost."""
    on = percent(run.availability_frac, 2)
    if run.frost.lost_index < 0:
        return on
    return f"{on}, but the battery is LOST (frozen) on {_when(run, run.frost.lost_at)}"


def _answer(run: Simulation, days: Autonomy) -> str:
    record = run.problem.record
    hours = record.n * record.step_h
    off = hours * (1 - run.availability_frac)
    shortest = f"{days.record_days:.1f} d"
    if days.record_start:
        state = (
            ""
            if days.record_days == 0
            else (
                f", starting {_when(run, days.record_start)} at "
                f"{percent(days.record_soc_frac, 0)} charge"
            )
        )
        shortest += state or f": the loads were lost on {_when(run, days.record_start)}"
    every = "shortest over every start"
    waits = []
    if run.generation:
        every += ", neither sun nor generator"
        wait = max(year.wait_days for year in run.generation)
        waits = [("next visit", f"nobody may come for {wait:,.0f} d at the worst time")]
    return facts(
        f"Through {_years(hours)} of weather, step by step",
        [
            ("availability", f"{_kept(run)}, {off:,.0f} h without "
             f"loads, {show(run.energy_not_served_wh, 'Wh')} not served, "
             f"{count(len(run.outages), 'outage')}"),
            ("lowest state of charge", f"{percent(run.lowest_soc_frac)} on "
             f"{_when(run, run.lowest_soc_at)}"),
            ("autonomy, design", f"{days.design_days:.1f} d from full, no charge at all, "
             f"battery at {days.design_degc:g} degC{_ends(days)}"),
            ("autonomy, record", f"{shortest} ({every})"),
            *waits,
            ("start", f"{percent(run.start_soc_frac, 0)} charge"),
        ],
    )  # fmt: skip


def battery_text(run: Simulation, ahead: Outlook) -> str:
    """Return what the battery meets: temperature, frost, life, recovery, air."""
    rows = [(case, f"bank {case.name}") for case in ahead.ages]
    if len(ahead.curves) > 1:
        rows += [(case, f"cold curve {case.name}") for case in ahead.curves]
    heads = [
        "the same site with", "health", "availability", "lowest charge",
        "autonomy design d", "record d", "frozen h", "not met",
    ]  # fmt: skip
    body = table("Battery over its life, and on both cold curves",
                 heads, [_case_row(c, name) for c, name in rows], left=1)  # fmt: skip
    return facts("Battery", battery_facts(run, ahead)) + "\n" + body


SHORT = {
    "autonomy in the cold": "autonomy",
    "deepest discharge": "depth",
    "daily discharge": "daily",
    "array-to-load ratio of the worst month": "array",
    "hours with a frozen bank": "frost",
    "charge above freezing": "frost margin",
    "criteria missed at the end of life": "old bank",
    "recovery after a disconnect": "recovery",
}


def _case_row(case: Case, name: str) -> list[str]:
    return [
        name,
        percent(case.health_frac, 0),
        percent(case.availability_frac, 2),
        percent(case.lowest_soc_frac, 0),
        f"{case.autonomy_design_days:.1f}",
        f"{case.autonomy_record_days:.1f}",
        f"{case.hours_frozen:,.0f}",
        ", ".join(SHORT.get(name, name) for name in case.failed) or "-",
    ]


def battery_facts(run: Simulation, ahead: Outlook) -> list[tuple[str, str]]:
    """Return label and text of what the battery meets: heat, frost, life, air."""
    degc, life, air = run.problem.conditions.battery_degc, ahead.life, ahead.ventilation
    after = ahead.recovery
    rows = [
        ("temperature", f"{degc.min():.1f} to {degc.max():.1f} degC, mean {degc.mean():.1f}"),
        ("frost", _frost_words(run)),
        ("charging lifts the bus to", f"{run.highest_charge_v:.2f} V on the coldest "
         f"charging day, {_when(run, run.highest_charge_at)}{_without_limit(run)}"),
        ("life", f"{_life_years(life.cycle_life_y)} by cycles, "
         f"{_life_years(life.calendar_life_y)} by heat and time: replace in year "
         f"{life.replace_in_year} ({life.limited_by})"),
        ("after a disconnect", f"{_recovery_days(after.worst_days)} from "
         f"{percent(after.from_frac, 0)} charge in {MONTHS[after.worst_month - 1]}, the "
         f"longest from the first of a month{_longest_outage(run)}"),
        ("after lying flat", ("restarts by itself" if after.flat_restarts else
         "NEEDS A VISIT") + f" ({after.reason})"),
    ]  # fmt: skip
    if run.problem.design.tables.battery.heater is not None:
        wh = run.ledger.terms_wh["battery heater"] / (run.years * 365.25)
        rows.append(("battery heater", f"{wh:,.0f} Wh/day over the year"))
    if run.blocked_sun_h:
        rows.append(("charging blocked", f"{run.blocked_sun_h:,.0f} h of sun, "
                     f"{show(run.blocked_sun_wh, 'Wh')}"))  # fmt: skip
    if run.hours_off_by_tier[1] > run.hours_off_by_tier[0]:
        rows.append(("shed", f"first tier {run.hours_off_by_tier[1]:,.0f} h off, second "
                     f"{run.hours_off_by_tier[2]:,.0f} h"))  # fmt: skip
    if air.gas_ma_ah:
        rows.append(("ventilation", f"{air.flow_m3_h:.2f} m3/h of air at {air.mode} charge, "
                     f"two openings of {air.opening_cm2:.0f} cm2, "
                     f"{air.free_volume_m3:.2f} m3 free"))  # fmt: skip
    return rows


def _longest_outage(run: Simulation) -> str:
    if not run.outages:
        return ""
    longest = max(outage.hours for outage in run.outages)
    return f"; the longest outage of the record lasts {longest:,.0f} h"


def _ends(days: Autonomy) -> str:
    return (
        ": then it FREEZES, before the disconnect"
        if days.design_ends == "frost"
        else ""
    )


def _without_limit(run: Simulation) -> str:
    from powerbudget.balance.run_findings import devices_over

    unknown = len(devices_over(run, run.highest_charge_v)[1])
    return (
        f"; limit not stated for {count(unknown, 'device')} on the bus"
        if unknown
        else ""
    )


def _frost_words(run: Simulation) -> str:
    frost = run.frost
    if not frost.at_risk:
        return "no state of charge is lost to frost with this chemistry"
    if frost.hours_frozen:
        return (
            f"FROZEN {frost.hours_frozen:,.0f} h, first on {_when(run, frost.lost_at)}: "
            "battery lost"
        )
    if not frost.least_margin_at:
        return "never cold enough to freeze an empty cell"
    return (
        f"least {percent(frost.least_margin_frac, 0)} of rated charge above freezing, "
        f"{_when(run, frost.least_margin_at)}; {frost.hours_below_margin:,.0f} h below the margin"
    )


def _life_years(years: float) -> str:
    return "over 50 years" if years > 50 else f"{years:.1f} years"


def _recovery_days(days: float) -> str:
    return "never back by itself" if days == float("inf") else f"{days:.1f} d"


def _years(hours: float) -> str:
    years = hours / 8760
    return "one year" if round(years, 2) == 1 else f"{years:.3g} years"


def _when(run: Simulation, iso: str) -> str:
    return moment(iso, typical_year=run.problem.record.typical_year)


def verdict_table(verdicts: tuple[Verdict, ...]) -> str:
    """Return criteria against findings as text."""
    rows = [
        [
            v.name,
            *found_and_needed(v),
            "met" if v.met else "NOT MET",
        ]
        for v in asked_for(verdicts)
    ]
    return table("Criteria", ["criterion", "found", "needed", "verdict"], rows)


def figure_words(value: float, unit: str, more: int = 0) -> str:
    """Return a criterion's figure with its unit [text].

    Parameters
    ----------
    value, unit
        As in a verdict.
    more
        Digits beyond the usual ones [count].

    Examples
    --------
    >>> figure_words(0.61, "fraction"), figure_words(9.61, "d")
    ('61.0 %', '9.6 d')
    """
    if unit == "fraction":
        return percent(value, 1 + more)
    if unit == "ratio":
        return f"{value:z.{2 + more}f}"
    if unit == "count":
        return f"{value:.0f}"
    return f"{value:z.{1 + more}f} {unit}"


def found_and_needed(v: Verdict) -> tuple[str, str]:
    """Return both figures of a verdict as printed; a missed one shows that it is [text].

    Parameters
    ----------
    v
        A verdict.

    Examples
    --------
    >>> found_and_needed(Verdict("deepest discharge", 0.6004, 0.6, "fraction", False, 0))
    ('60.04 %', '60.00 %')
    """
    if v.met:
        return figure_words(v.found, v.unit), figure_words(v.needed, v.unit)
    return told_apart(v.found, v.needed, lambda x, more: figure_words(x, v.unit, more))


def _month_table(run: Simulation) -> str:
    if run.generation:
        return _month_sources(run)
    rows = [
        [
            MONTHS[m.month - 1],
            number(m.array_wh_per_day),
            number(m.load_wh_per_day),
            f"{m.array_to_load_ratio:.2f}",
            number(m.spill_wh / 1000),
            percent(m.lowest_soc_frac, 0),
            number(m.hours_off),
        ]
        for m in run.monthly
    ]
    heads = [
        "month", "array Wh/day", "load Wh/day", "array/load", "spilled kWh",
        "lowest charge", "hours off",
    ]  # fmt: skip
    years = "" if run.problem.record.typical_year else ", over all years"
    return table(f"Month by month{years}", heads, rows)


def _month_sources(run: Simulation) -> str:
    """Return the months of a site with generators: who carried the load."""
    rows = [
        [
            MONTHS[m.month - 1],
            number(m.array_wh_per_day),
            number(m.array_used_wh_per_day),
            number(m.generator_wh_per_day),
            number(m.load_wh_per_day),
            percent(m.generator_wh_per_day / m.load_wh_per_day, 0),
            percent(m.lowest_soc_frac, 0),
            number(m.hours_off),
        ]
        for m in run.monthly
    ]
    heads = [
        "month", "array could Wh/day", "array gave", "generators gave", "load Wh/day",
        "generators/load", "lowest charge", "hours off",
    ]  # fmt: skip
    years = "" if run.problem.record.typical_year else ", over all years"
    return table(f"Month by month{years}: who carries the load", heads, rows)


def _outage_list(run: Simulation) -> str:
    if not run.outages:
        return "Outages\n  none\n"
    rows = [
        [
            begins(_when(run, o.start), o.across_end),
            f"{o.hours:,.0f}",
            "yes" if o.recovered else "NO",
            o.cause,
        ]
        for o in run.outages[:10]
    ]
    heads = ["start (standard time)", "hours", "back by itself", "cause"]
    body = table("Outages", heads, rows, left=4)
    more = len(run.outages) - 10
    return body + (f"... and {more} more\n" if more > 0 else "")


def _ledger_table(run: Simulation) -> str:
    ledger = run.ledger
    came_wh = ledger.array_wh + ledger.generator_wh
    rows = [["sun on the panels, at rated power", f"{ledger.array_wh / 1000:,.2f}", ""]]
    if run.generation:
        given = f"{ledger.generator_wh / 1000:,.2f}"
        rows.append(["generators, at their terminals", given, ""])
    rows += [
        [name, f"{wh / 1000:,.2f}", percent(wh / came_wh) if came_wh else ""]
        for name, wh in ledger.terms_wh.items()
        if run.strings or not name.startswith(("array:", "regulator conversion"))
    ]
    note = f"adds up to what came in, {closure(ledger.error_frac)}\n"
    return table("Where the energy went", ["term", "kWh", "share"], rows) + note
