"""The battery through the record, and both autonomies, as sections."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.quantities import show
from powerbudget.report.charts import charge_figure, months_figure, weeks_figure
from powerbudget.report.page.assumptions import COLD_HREF
from powerbudget.report.page.blocks import (
    Block,
    Cell,
    Column,
    Fact,
    Facts,
    Row,
    Section,
    Table,
    figure,
    rows_of,
    share,
    whole,
    word,
)
from powerbudget.report.page.pictures import picture
from powerbudget.report.page.sources import Sources
from powerbudget.report.text import count, moment, percent
from powerbudget.report.views import SHORT, battery_facts
from powerbudget.site.fields import MONTHS

if TYPE_CHECKING:
    from powerbudget.balance.simulation import Simulation
    from powerbudget.report.page.package import Package
    from powerbudget.sizing.outlook import Case

MOST_OUTAGES = 60


def when(run: Simulation, iso: str) -> str:
    """Return a moment of the record for people [text].

    Parameters
    ----------
    run, iso
        Simulation, and local standard time [ISO text].
    """
    return moment(iso, typical_year=run.problem.record.typical_year)


def battery_section(package: Package, _sources: Sources) -> Section:
    """Return charge, months, outages, life and ledger."""
    run = package.run
    off = run.hours_off_by_tier[0]
    lead = (
        f"Step by step through the record the loads are on {percent(run.availability_frac, 2)} "
        f"of the time ({off:,.0f} h without them in {count(len(run.outages), 'outage')}); "
        f"the lowest charge is {percent(run.lowest_soc_frac, 0)} on "
        f"{when(run, run.lowest_soc_at)}."
    )
    blocks: list[Block] = [
        picture(charge_figure(run), "p-charge", _charge_alt(run)),
        picture(weeks_figure(run), "p-weeks", _weeks_alt(run)),
        picture(months_figure(run), "p-months", _months_alt(run)),
        months_table(run, "run-months", "Month by month, over all years"),
    ]
    if run.outages:
        blocks.append(_outages(run))
    rows = tuple(Fact(a, b) for a, b in battery_facts(run, package.outlook))
    blocks += [Facts(rows, "What the battery meets"), _ledger(run)]
    return Section("battery", "Battery through the record", "Battery", lead,
                   tuple(blocks))  # fmt: skip


def _charge_alt(run: Simulation) -> str:
    return (
        "State of charge through the record as a daily band, and battery temperature "
        f"under it. Lowest {percent(run.lowest_soc_frac, 0)} on "
        f"{when(run, run.lowest_soc_at)}; {count(len(run.outages), 'outage')}. "
        "The lowest charge of each month stands in the table below."
    )


def _weeks_alt(run: Simulation) -> str:
    return (
        "The three weeks around the lowest charge hour by hour: state of charge above, "
        "what the array could give and what the load asks below. The lowest point is "
        f"{percent(run.lowest_soc_frac, 0)} on {when(run, run.lowest_soc_at)}."
    )


def _months_alt(run: Simulation) -> str:
    worst = min(run.monthly, key=lambda m: m.array_to_load_ratio)
    return (
        "Energy a day that the array could give and that the load asks, by month. The "
        f"worst month is {MONTHS[worst.month - 1]} with "
        f"{worst.array_to_load_ratio:.2f} times the load. The table below holds them all."
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
    rows = tuple(
        Row((word(MONTHS[m.month - 1]), figure(m.array_wh_per_day),
             figure(m.load_wh_per_day), figure(m.array_to_load_ratio),
             figure(m.spill_wh / 1000), share(m.lowest_soc_frac), whole(m.hours_off)),
            anchor=f"{key}-{m.month}")
        for m in run.monthly
    )  # fmt: skip
    columns = (
        Column("month"), Column("array could give", "Wh/day", True),
        Column("load asks", "Wh/day", True), Column("array over load", "ratio", True),
        Column("spilled", "kWh", True), Column("lowest charge", "%", True),
        Column("loads off", "h", True),
    )  # fmt: skip
    return Table(key, caption, columns, rows)


def _outages(run: Simulation) -> Table:
    rows = []
    for o in run.outages[:MOST_OUTAGES]:
        back = Cell("yes") if o.recovered else Cell("no: needs a visit", tone="bad")
        start = Cell(when(run, o.start), o.start)
        rows.append((start, whole(o.hours), share(o.charge_left_frac), back,
                     word(o.cause)))  # fmt: skip
    columns = (
        Column("start, standard time"), Column("length", "h", True),
        Column("charge then", "%", True), Column("back by itself"), Column("cause"),
    )  # fmt: skip
    more = len(run.outages) - MOST_OUTAGES
    note = f"The first {MOST_OUTAGES} of {len(run.outages)}." if more > 0 else ""
    return Table("outages", "Outages", columns, rows_of(rows), note=note, tools=True)


def cases_table(package: Package) -> Table:
    """Return the site with a new and an old bank, and on both cold curves.

    Parameters
    ----------
    package
        All results.
    """
    ahead = package.outlook
    named = [(c, f"bank {c.name}") for c in ahead.ages]
    if len(ahead.curves) > 1:
        named += [(c, f"cold curve {c.name}") for c in ahead.curves]
    columns = (
        Column("the same site with"), Column("health", "%", True),
        Column("availability", "%", True), Column("lowest charge", "%", True),
        Column("autonomy, design", "d", True), Column("autonomy, record", "d", True),
        Column("frozen", "h", True), Column("not met"),
    )  # fmt: skip
    return Table(
        "cases", "Battery over its life, and on both cold curves", columns,
        rows_of([_case_cells(case, name) for case, name in named]),
        note="Published lead-acid capacities in the cold differ by a factor of two; the two "
        "curves bracket them.",
    )  # fmt: skip


def _case_cells(case: Case, name: str) -> list[Cell]:
    failed = ", ".join(SHORT.get(x, x) for x in case.failed)
    return [
        word(name), share(case.health_frac), share(case.availability_frac, 2),
        share(case.lowest_soc_frac), figure(case.autonomy_design_days),
        figure(case.autonomy_record_days), whole(case.hours_frozen),
        word(failed or "nothing", tone="bad" if failed else "good"),
    ]  # fmt: skip


def _ledger(run: Simulation) -> Table:
    ledger = run.ledger
    rows = [
        Row((word("sun on the panels, at rated power"), figure(ledger.array_wh / 1000, 4),
             word("")), "ledger-in", "total")
    ]  # fmt: skip
    for name, wh in ledger.terms_wh.items():
        part = share(wh / ledger.array_wh, 1) if ledger.array_wh else word("")
        rows.append(Row((word(name), figure(wh / 1000, 4), part)))
    columns = (
        Column("term"),
        Column("energy", "kWh", True),
        Column("share", "%", True),
    )
    return Table(
        "ledger", "Where the energy went, over the whole record", columns, tuple(rows),
        note=f"The terms add up to what came in, to {ledger.error_frac:.1e} of it. A "
        "negative term is a gain: panels give more than rated in the cold.",
    )  # fmt: skip


def autonomy_section(package: Package, _sources: Sources) -> Section:
    """Return both autonomies, how each is found, and what age and curve do to them."""
    days, run = package.days, package.run
    lead = (
        f"Two figures that are often confused: {days.design_days:.1f} days from full at "
        f"{days.design_degc:g} degC, and {days.record_days:.1f} days as the shortest from "
        "any hour of the record. Both run without any charge until the loads go off"
        + (" or the bank freezes." if run.frost.at_risk else ".")
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
    hand = hand_autonomy_d(held, left, budget.ah_per_day)
    rows = (
        Row((word("Ah held at 25 degC at this load"), figure(held, 4), word("Ah"),
             word("name-plate times health and rate factor")), "hand-held"),
        Row((word(f"left at {days.design_degc:g} degC"), figure(left, 3),
             word("fraction"), word("cold curve", href=COLD_HREF)),
            "hand-left"),
        Row((word("daily load"), figure(budget.ah_per_day, 4), word("Ah/day"),
             word("power budget", href="#sum-energy")), "hand-load"),
        Row((word("days by hand"), figure(hand), word("d"),
             word("held times left over load")), "hand-days", "total"),
        Row((word("days by the simulation"), figure(days.design_days), word("d"),
             word(f"hour by hour until the {days.design_ends}")), "autonomy-design"),
    )  # fmt: skip
    columns = (Column("from full, in the cold"), Column("figure", "", True),
               Column("unit"), Column("how"))  # fmt: skip
    return Table(
        "hand", "Autonomy, design: from full, no charge at all", columns, rows,
        note="The simulation also counts resistance, rest voltage and self-discharge, and "
        "starts at the least favourable hour of the day, so the two differ.",
    )  # fmt: skip


def _record_words(package: Package) -> Facts:
    days, run = package.days, package.run
    start = when(run, days.record_start) if days.record_start else "-"
    rows = [
        Fact("shortest", show(days.record_days, "d")),
        Fact("starting", f"{start}, standard time"),
    ]
    if days.record_days:
        state = percent(days.record_soc_frac, 0)
        rows.append(Fact("charge then", state, "#p-charge"))
    rows.append(Fact("searched", f"every one of {package.record.n:,} starts, with the "
                     "charge, temperature and load of that hour"))  # fmt: skip
    return Facts(tuple(rows), "Autonomy, record: the shortest over every start")
