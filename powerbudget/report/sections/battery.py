"""The battery through the record, and both autonomies, as sections."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.balance.run_findings import no_current
from powerbudget.quantities import count, in_unit, show
from powerbudget.report.charts.run import (
    charge_figure,
    lowest_charge,
    months_figure,
    weeks_figure,
)
from powerbudget.report.document.blocks import (
    Block,
    Cell,
    Column,
    Fact,
    Facts,
    Row,
    Section,
    Table,
    charge,
    figure,
    rows_of,
    share,
    whole,
    word,
)
from powerbudget.report.document.words import (
    begins,
    charge_words,
    figure_words,
    percent,
)
from powerbudget.report.sections.assumptions import COLD_HREF
from powerbudget.report.sections.design import at
from powerbudget.report.sections.ledger import ledger_table
from powerbudget.report.sections.pictures import picture
from powerbudget.site.fields import MONTHS

if TYPE_CHECKING:
    from powerbudget.balance.simulation import Simulation
    from powerbudget.report.document.package import Package
    from powerbudget.report.sections.sources import Sources
    from powerbudget.sizing.aging import Case, Outlook

MOST_OUTAGES = 60


def battery_section(package: Package, _sources: Sources) -> Section:
    """Return charge, months, outages, life and ledger."""
    run = package.run
    off = run.hours_off_by_tier[0]
    lost = (
        f"{in_unit(off, 'h')} without load in {count(len(run.outages), 'outage')}"
        if run.outages
        else "no outage"
    )
    lead = (
        f"The loads are served {percent(run.availability_frac, 2)} of the time "
        f"({lost}). The minimum SOC is "
        f"{lowest_charge(run)} on {at(run, run.lowest_soc_at)}; limit "
        f"{percent(1 - run.problem.design.tables.criteria.deepest_discharge_frac, 0)}."
    )
    if run.frost.lost_index >= 0:
        lead = (
            f"The battery freezes on {at(run, run.frost.lost_at)} and is destroyed. With a "
            f"working battery: {lead[0].lower()}{lead[1:]}"
        )
    blocks: list[Block] = [
        picture(lambda: charge_figure(run), "p-charge", _charge_alt(run)),
        picture(lambda: weeks_figure(run), "p-weeks", _weeks_alt(run)),
    ]
    if run.strings:
        blocks.append(picture(lambda: months_figure(run), "p-months", _months_alt(run)))
    over = "" if package.record.typical_year else ", all years"
    blocks.append(months_table(run, "run-months", f"Monthly energy{over}"))
    if run.outages:
        blocks.append(_outages(run))
    rows = tuple(Fact(a, b) for a, b in battery_facts(run, package.outlook))
    blocks += [
        Facts(rows, "Battery in service", "battery-facts"),
        ledger_table(run),
    ]
    return Section("battery", "Battery in the simulation", "Battery", lead,
                   tuple(blocks))  # fmt: skip


def _charge_alt(run: Simulation) -> str:
    return (
        f"Daily band of SOC and battery temperature. Minimum {lowest_charge(run)} "
        f"on {at(run, run.lowest_soc_at)}; {count(len(run.outages), 'outage')}. "
        "The table below has the minimum SOC of each month."
    )


def _weeks_alt(run: Simulation) -> str:
    given = ["available array energy"] if run.strings else []
    given += ["generator energy"] if run.generation else []
    return (
        "Three weeks around the minimum SOC by hour: SOC above, "
        f"{', '.join(given)} and load below. Minimum {lowest_charge(run)} on "
        f"{at(run, run.lowest_soc_at)}."
    )


def _months_alt(run: Simulation) -> str:
    least = run.array_to_load
    return (
        "Available array energy and load by month, per day. Lowest month "
        f"{MONTHS[least.month - 1]}, {least.ratio:.2f} times the load. The table "
        "below has all months."
    )


def months_table(run: Simulation, key: str, caption: str) -> Table:
    """Return energy, lowest charge and hours off by month.

    Parameters
    ----------
    run
        A simulation.
    key, caption
        As in `Table` [text].
    """
    kept = [
        (column, cells)
        for column, cells, wanted in _month_columns(run)
        if wanted
    ]  # fmt: skip
    rows = tuple(
        Row((Cell(MONTHS[m.month - 1], m.month), *(cells[k] for _, cells in kept)),
            anchor=f"{key}-{m.month}")
        for k, m in enumerate(run.monthly)
    )  # fmt: skip
    columns = (Column("month"), *(column for column, _ in kept))
    return Table(key, caption, columns, rows)


def _month_columns(run: Simulation) -> tuple[tuple[Column, list[Cell], bool], ...]:
    """Return each column, its cells by month, and whether this site has it."""
    months, panels, fuelled = run.monthly, run.strings > 0, bool(run.generation)
    return (
        (Column("available array energy", "Wh/day", True),
         [figure(m.array_wh_per_day) for m in months], panels),
        (Column("generator energy", "Wh/day", True),
         [figure(m.generator_wh_per_day) for m in months], fuelled),
        (Column("load", "Wh/day", True),
         [figure(m.load_wh_per_day) for m in months], True),
        (Column("array-to-load ratio", "ratio", True),
         [figure(m.array_to_load_ratio) for m in months], panels),
        (Column("curtailed", "kWh", True),
         [figure(m.spill_wh / 1000) for m in months], panels),
        (Column("minimum SOC", "%", True),
         [charge(m.lowest_soc_frac) for m in months], True),
        (Column("outage", "h", True), [whole(m.hours_off) for m in months], True),
    )  # fmt: skip


def _outages(run: Simulation) -> Table:
    rows = []
    for o in run.outages[:MOST_OUTAGES]:
        back = Cell("yes") if o.recovered else Cell("no: site visit", tone="bad")
        start = Cell(begins(at(run, o.start), o.across_end), o.start)
        rows.append((start, whole(o.hours), charge(o.charge_left_frac), back,
                     word(o.cause)))  # fmt: skip
    columns = (
        Column("start"), Column("length", "h", True),
        Column("SOC at start", "%", True), Column("automatic recovery"), Column("cause"),
    )  # fmt: skip
    more = len(run.outages) - MOST_OUTAGES
    note = f"The first {MOST_OUTAGES} of {len(run.outages)}." if more > 0 else ""
    return Table("outages", "Outages", columns, rows_of(rows), note=note, tools=True)


def cases_table(package: Package) -> Table:
    """Return the site with a new and an old bank, and on both cold curves."""
    ahead = package.outlook
    named = [(c, f"battery {c.name}") for c in ahead.ages]
    if len(ahead.curves) > 1:
        named += [(c, f"temperature derating {c.name}") for c in ahead.curves]
    columns = (
        Column("case"), Column("SOH", "%", True),
        Column("availability", "%", True), Column("minimum SOC", "%", True),
        Column("autonomy", "d", True), Column("minimum remaining autonomy", "d", True),
        Column("frozen", "h", True), Column("FAIL"),
    )  # fmt: skip
    return Table(
        "cases", "Beginning to end of life, and both temperature derating curves", columns,
        rows_of([_case_cells(case, name) for case, name in named]),
        note="Published low-temperature capacities of lead-acid batteries differ by a "
"factor of two. The two curves are the limits of that range."
        if "lead-acid" in package.run.bank.chemistry.title else "",
    )  # fmt: skip


def _case_cells(case: Case, name: str) -> list[Cell]:
    failed = ", ".join(case.failed)
    return [
        word(name), share(case.health_frac), share(case.availability_frac, 2),
        charge(case.lowest_soc_frac), figure(case.autonomy_design_days),
        figure(case.autonomy_record_days), whole(case.hours_frozen),
        word(failed or "none", tone="bad" if failed else "good"),
    ]  # fmt: skip


def autonomy_section(package: Package, _sources: Sources) -> Section:
    """Return both autonomies, how each is found, and what age and curve do to them."""
    days, run = package.days, package.run
    sources = " by array or generator" if run.generation else ""
    lead = (
        f"The autonomy is {in_unit(days.design_days, 'd', 1)} from full charge at "
        f"{days.design_degc:g} °C, limit {package.tables.criteria.autonomy_d:g} d. The "
        f"minimum remaining autonomy is {figure_words(days.record_days, 'd')}, from the "
        "worst hour of "
        f"the simulation. Both count days without charging{sources} until the LVD acts"
        + (" or the battery freezes." if run.frost.at_risk else ".")
    )
    blocks: list[Block] = [_hand_check(package), _record_words(package),
                           cases_table(package)]  # fmt: skip
    return Section("autonomy", "Autonomy", "Autonomy", lead, tuple(blocks))


def hand_autonomy_d(held_ah: float, left_frac: float, ah_per_day: float) -> float:
    """Return days of autonomy as a pencil gives them [d].

    Parameters
    ----------
    held_ah
        What the bank holds at 25 degC at this load [Ah].
    left_frac
        Share of it that the cold leaves [fraction].
    ah_per_day
        Daily load [Ah/day].

    Returns
    -------
    float
        The quotient [d].

    Examples
    --------
    >>> round(hand_autonomy_d(320.0, 0.7, 18.0), 2)
    12.44
    """
    return held_ah * left_frac / ah_per_day


def _hand_check(package: Package) -> Table:
    run, budget, days = package.run, package.budget, package.days
    held = run.bank.charge_ah(package.problem.mean_load_a)
    left = float(run.bank.capacity_frac(days.design_degc))
    daily_ah = package.problem.dark_day_wh / budget.nominal_v
    hand = hand_autonomy_d(held, left, daily_ah)
    heated = " and battery heater" if daily_ah > budget.ah_per_day else ""
    rows = (
        Row(
            (
                word("full-charge capacity at this load"),
                figure(held, 4),
                word("Ah"),
                word("rated capacity times SOH and rate factor"),
            ),
            "hand-held",
        ),
        Row(
            (
                word(f"available at {days.design_degc:g} °C"),
                figure(left, 3),
                word("fraction"),
                word("temperature derating", href=COLD_HREF),
            ),
            "hand-left",
        ),
        Row(
            (
                word("daily load"),
                figure(daily_ah, 4),
                word("Ah/day"),
                word(f"power budget{heated}", href="#sum-energy"),
            ),
            "hand-load",
        ),
        Row(
            (
                word("autonomy, worksheet"),
                figure(hand),
                word("d"),
                word("full-charge capacity times available share over daily load"),
            ),
            "hand-days",
            "total",
        ),
        Row(
            (
                word("autonomy, simulation"),
                figure(days.design_days),
                word("d"),
                word(f"hour by hour until the {days.design_ends}"),
            ),
            "autonomy-design",
        ),
    )
    columns = (Column("from full charge"), Column("figure", "", True),
               Column("unit"), Column("how"))  # fmt: skip
    return Table(
        "hand", "Autonomy from full charge, without charging", columns, rows,
        note="The simulation also includes resistance, open-circuit voltage, and "
"self-discharge, and starts at the worst hour of the day.",
    )  # fmt: skip


def _record_words(package: Package) -> Facts:
    days, run = package.days, package.run
    start = at(run, days.record_start) if days.record_start else "-"
    rows = [
        Fact("shortest", show(days.record_days, "d")),
        Fact("starting", f"{start}, standard time"),
    ]
    if days.record_days:
        state = charge_words(days.record_soc_frac)
        rows.append(Fact("SOC at start", state, "#p-charge"))
    rows.append(
        Fact(
            "searched",
            f"all {package.record.n:,} hours, with SOC, temperature, and load of each",
        )
    )
    return Facts(tuple(rows), "Minimum remaining autonomy")


def battery_facts(run: Simulation, ahead: Outlook) -> list[tuple[str, str]]:
    """Return label and text of what the battery meets: heat, frost, life, air."""
    degc, life, air = run.problem.conditions.battery_degc, ahead.life, ahead.ventilation
    after = ahead.recovery
    rows = [
        (
            "temperature",
            f"{degc.min():.1f} to {in_unit(degc.max(), '°C', 1)}, average "
            f"{in_unit(degc.mean(), '°C', 1)}",
        ),
        ("freezing", _frost_words(run)),
        (
            "maximum charging voltage",
            f"{in_unit(run.highest_charge_v, 'V', 2)}, "
            f"{at(run, run.highest_charge_at)}{_without_limit(run)}",
        ),
        (
            "life",
            f"{_life_years(life.cycle_life_y)} by cycles, "
            f"{_life_years(life.calendar_life_y)} calendar life: replace in year "
            f"{life.replace_in_year} ({life.limited_by})",
        ),
        (
            "recovery time",
            str(no_current(run.problem) or "")
            or f"{_recovery_days(after.worst_days)} from SOC "
            f"{percent(after.from_frac, 0)} in {MONTHS[after.worst_month - 1]}, the "
            f"longest from the start of a month{_longest_outage(run)}",
        ),
        (
            "recovery of a fully discharged battery",
            ("automatic" if after.flat_restarts else "MANUAL (site visit)")
            + f" ({after.reason})",
        ),
    ]
    if run.problem.design.tables.battery.heater is not None:
        wh = run.ledger.terms_wh["battery heater"] / (run.years * 365.25)
        rows.append(("battery heater", f"{in_unit(wh, 'Wh/day')} average"))
    if run.blocked_sun_h:
        rows.append(("charging inhibited", f"{in_unit(run.blocked_sun_h, 'h')} with irradiance, "
f"{show(run.blocked_sun_wh, 'Wh')}"))  # fmt: skip
    if run.hours_off_by_tier[1] > run.hours_off_by_tier[0]:
        rows.append(("load shedding", f"stage 1 off for {in_unit(run.hours_off_by_tier[1], 'h')}, "
f"stage 2 off for {in_unit(run.hours_off_by_tier[2], 'h')}"))  # fmt: skip
    if air.gas_ma_ah:
        rows.append(
            (
                "ventilation",
                f"{in_unit(air.flow_m3_h, 'm³/h', 2)} at {air.mode} charge, two openings of "
                f"{in_unit(air.opening_cm2, 'cm²')}, "
                f"{in_unit(air.free_volume_m3, 'm³', 2)} free volume",
            )
        )
    return rows


def _longest_outage(run: Simulation) -> str:
    if not run.outages:
        return ""
    longest = max(outage.hours for outage in run.outages)
    return f"; longest outage {in_unit(longest, 'h')}"


def _without_limit(run: Simulation) -> str:
    from powerbudget.balance.run_findings import devices_over

    unknown = len(devices_over(run, run.highest_charge_v)[1])
    return f"; input limit not stated for {count(unknown, 'device')}" if unknown else ""


def _frost_words(run: Simulation) -> str:
    frost = run.frost
    if not frost.at_risk:
        return "not applicable to this chemistry"
    if frost.hours_frozen:
        return (
            f"FROZEN {in_unit(frost.hours_frozen, 'h')}, first on {at(run, frost.lost_at)}: "
            "battery destroyed"
        )
    if not frost.least_margin_at:
        return "above the freezing point of an empty cell"
    return (
        f"minimum freezing margin {percent(frost.least_margin_frac, 0)}, "
        f"{at(run, frost.least_margin_at)}; {in_unit(frost.hours_below_margin, 'h')} "
        "below the limit"
    )


def _life_years(years: float) -> str:
    return "over 50 yr" if years > 50 else in_unit(years, "yr", 1)


def _recovery_days(days: float) -> str:
    return "no automatic recovery" if days == float("inf") else in_unit(days, "d", 1)
