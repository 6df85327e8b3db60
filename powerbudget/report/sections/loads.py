"""The power budget as a section."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance.stages import daily_load_wh
from powerbudget.data.figures import UNVERIFIED
from powerbudget.loads.lines import tier_w
from powerbudget.quantities import count, in_unit, show
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
    rows_of,
    share,
    whole,
    word,
)
from powerbudget.report.document.words import percent
from powerbudget.report.sections.pictures import picture
from powerbudget.site.fields import MONTHS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from powerbudget.loads.budget import Budget, Line
    from powerbudget.loads.rack_parts import RackOption, RackResult
    from powerbudget.report.document.package import Package
    from powerbudget.report.sections.sources import Sources

Floats = NDArray[np.float64]
LETTERS = {"power": "P", "current": "I", "resistance": "R"}


def loads_section(package: Package, sources: Sources) -> Section:
    """Return lines, sums, loops and rack of the power budget."""
    by_month = daily_load_wh(package.budget, package.record)
    sized = ["battery"] + ["array"] * (package.run.strings > 0)
    sized += ["generator"] * bool(package.run.generation)
    heater_w = package.problem.held.heater_w
    return budget_section(package.budget, sources, by_month, sized, heater_w)


def budget_section(
    budget: Budget,
    sources: Sources,
    by_month: Floats | None = None,
    sized: Sequence[str] = ("battery", "array"),
    heater_w: float = 0.0,
) -> Section:
    """Return the power budget, by the months of a weather record where there is one.

    Parameters
    ----------
    budget
        Of the site.
    sources
        Collected on the way.
    by_month
        Daily load in the air of the record, None without a record [Wh/day].
    sized
        What the energy sizes [text].
    heater_w
        As in `battery_heater` [W].
    """
    blocks: list[Block] = [
        _sums(budget, sized), _shares(budget, heater_w), _picture(budget),
        _lines(budget, sources),
    ]  # fmt: skip
    if by_month is not None and not _alike(by_month):
        blocks.append(_months(budget, by_month))
    if budget.rack is not None:
        blocks += [_rack(budget), _mounts(budget.rack)]
    if budget.loops:
        blocks.append(_loops(budget))
    own = "" if by_month is None else _in_record(budget, by_month)
    lead = (
        f"The daily load is {show(budget.wh_per_day, 'Wh/day', 4)}, {season(budget)}, "
        "contingency included, at nominal bus voltage. The simulation uses the "
        f"voltage of each hour. {own}Data quality: "
        f"{percent(budget.doubtful_frac, 0)} of the load energy comes from "
        "unverified or assumed figures."
    )
    return Section("loads", "Power budget", "Power budget", lead, tuple(blocks))


def season(budget: Budget) -> str:
    """Return when the site draws its daily load, and how cold it is then [text]."""
    month = f"in {MONTHS[budget.highest_load_month - 1]}, the highest-load month"
    found = "same all year" if _alike(budget.daily_load_wh) else month
    if not budget.heated:
        return found
    return f"{found}, heaters at the design minimum of {budget.design_cold_degc:g} °C"


def battery_heater(budget: Budget, heater_w: float) -> str:
    """Return what the battery heater takes in the design cold, and where it counts [text].

    Parameters
    ----------
    budget
        Of the site, for the design cold.
    heater_w
        Draw from the battery, as `powerbudget.battery.box.held_in_cold` has it [W].
    """
    return (
        f"{show(heater_w, 'W')} ({show(24 * heater_w, 'Wh/day')}) from the battery at "
        f"{budget.design_cold_degc:g} °C; not in the daily load, added by simulation, "
        "autonomy, and sizing"
    )


def _alike(by_month_wh: Floats) -> bool:
    """Return whether months differ by less than a tenth of a percent."""
    return bool(by_month_wh.min() > 0.999 * by_month_wh.max())


def _in_record(budget: Budget, by_month_wh: Floats) -> str:
    """Return what heaters make of the daily load in the air of the record [text]."""
    if not budget.heated:
        return ""
    least, most = int(np.argmin(by_month_wh)), int(np.argmax(by_month_wh))
    return (
        f"In the simulation: {show(by_month_wh[least], 'Wh/day')} in "
        f"{MONTHS[least]} and {show(by_month_wh[most], 'Wh/day')} in "
        f"{MONTHS[most]}. "
    )


def _months(budget: Budget, by_month_wh: Floats) -> Table:
    rows = [
        (word(MONTHS[k]), figure(cold, 4), figure(own, 4))
        for k, (cold, own) in enumerate(
            zip(budget.daily_load_wh, by_month_wh, strict=True)
        )
    ]
    design = f"heaters at {budget.design_cold_degc:g} °C" if budget.heated else "budget"
    columns = (
        Column("month"), Column(design, "Wh/day", True),
        Column("weather file", "Wh/day", True),
    )  # fmt: skip
    return Table(
        "daily-load", "Daily load by month", columns, rows_of(rows),
        note="At nominal bus voltage, contingency included. Weather file: average of "
"all years, with ambient temperature and night of each hour.",
    )  # fmt: skip


def _sums(budget: Budget, parts: Sequence[str]) -> Table:
    lowest = show(budget.lowest_bus_v, "V")
    start = (
        f"with the inrush of {budget.inrush}" if budget.inrush
        else "no inrush current"
    )  # fmt: skip
    rows = (
        Row((word("average load"), figure(budget.average_w),
             figure(budget.ah_per_day / 24),
             word(" and ".join([", ".join(parts[:-1]), parts[-1]])),
             word(f"typical power x duty cycle; {show(budget.wh_per_day, 'Wh/day', 4)} = "
f"{show(budget.ah_per_day, 'Ah/day', 4)} at {budget.nominal_v:g} V")),
            anchor="sum-energy"),
        Row((word("maximum running load"), figure(budget.maximum_w),
             figure(budget.maximum_a), word("wires, fuses, converters"),
             word(f"sum of the maximum powers; current at {lowest}")),
            anchor="sum-maximum"),
        Row((word("peak load"), figure(budget.peak_w), figure(budget.peak_a),
             word("lowest bus voltage"), word(f"at {lowest}, {start}")), anchor="sum-peak"),
        Row((word("parasitic load"), figure(budget.hidden_w),
             figure(budget.hidden_w / budget.nominal_v), word("included in the average load"),
             word("converters, wiring, charge controller, leakage; average")),
            anchor="sum-hidden"),
    )  # fmt: skip
    columns = (Column("sum"), Column("power", "W", True), Column("current", "A", True),
               Column("sizes"), Column("basis"))  # fmt: skip
    return Table("sums", "Average, maximum running, and peak load", columns, rows)


def _shares(budget: Budget, heater_w: float) -> Facts:
    """Return the energy by class, data quality and priority, and the battery heater."""
    classes = ", ".join(
        f"{k} {show(wh, 'Wh/day')}" for k, wh in budget.class_wh.items() if wh
    )
    status = ", ".join(
        f"{percent(part, 0)} {k}" for k, part in budget.status_frac.items()
    )
    pairs = [("load by class", classes), ("data quality", status)]
    tiers = tier_w(budget.lines)
    if tiers["shed first"] or tiers["shed second"]:
        stages = zip(("critical", "stage 1", "stage 2"), tiers.values(), strict=True)
        text = ", ".join(f"{name} {show(watts, 'W')}" for name, watts in stages)
        pairs.append(("load shedding", f"{text} (listed loads)"))
    if heater_w:
        pairs.append(("battery heater", battery_heater(budget, heater_w)))
    return Facts(tuple(Fact(a, b) for a, b in pairs), "Shares")


def _picture(budget: Budget) -> Picture:
    from powerbudget.report.charts.loads import loads_figure, ranked

    first = [f"{name} {show(wh, 'Wh/day')}" for name, wh, *_ in ranked(budget)[:3]]
    alt = (
        f"Loads by energy; total {show(budget.wh_per_day, 'Wh')} per day. "
        f"Largest: {'; '.join(first)}. The table below has all loads."
    )
    return picture(
        lambda: loads_figure(budget, ""), "p-loads", alt,
        "Hatched bars: unverified or assumed figures.",
    )  # fmt: skip


def line_anchor(number: int) -> str:
    """Return the anchor of a line of the budget, counted from 1 [text].

    Parameters
    ----------
    number
        Line [count].
    """
    return f"line-{number}"


def _line_row(number: int, line: Line, sources: Sources) -> Row:
    parasitic = "parasitic: " if line.hidden else ""
    cells = (
        word(parasitic + line.name), whole(line.quantity), figure(line.typical_w),
        figure(line.maximum_w), figure(line.peak_w), word(LETTERS[line.behaviour]),
        share(line.duty_frac, 1), figure(line.wh_per_day),
        word(line.supply), figure(line.end_v) if line.peak_a else word(""), word(line.basis),
        word(line.status, tone="doubt" if line.status in UNVERIFIED else ""),
        sources.cell(line.source, line.status),
    )  # fmt: skip
    return Row(cells, line_anchor(number), "hidden" if line.hidden else "")


def _lines(budget: Budget, sources: Sources) -> Table:
    rows = [_line_row(n, x, sources) for n, x in enumerate(budget.lines, start=1)]
    blank = word("")
    rows.append(
        Row((word("sum"), *[blank] * 6, figure(budget.wh_per_day, 4),
             blank, blank, word("all loads, contingency included"), blank, blank),
            "line-sum", "total")
    )  # fmt: skip
    columns = (
        Column("load"), Column("qty", "", True), Column("typical", "W", True),
        Column("maximum", "W", True), Column("peak", "W", True), Column("type"),
        Column("duty cycle", "%", True), Column("energy", "Wh/day", True), Column("supply"),
        Column("terminal voltage", "V", True), Column("basis"),
        Column("status"), Column("source"),
    )  # fmt: skip
    return Table(
        "lines", "Loads", columns, tuple(rows), tools=True,
        note="Typical power is the average of all units while on; maximum power is the "
"highest continuous power. P is constant power, I constant current, R resistance. The "
f"terminal voltage is that with the bus at {show(budget.lowest_bus_v, 'V')} and one "
"device at its peak load. Parasitic loads are not in the equipment list.",
    )  # fmt: skip


def _loops(budget: Budget) -> Table:
    rows = []
    for loop in budget.loops:
        never = loop.clips_a is None
        clips = "never" if never else in_unit(1e3 * (loop.clips_a or 0), "mA", 1)
        ohm = "" if loop.described else "wire only"
        rows.append(
            (word(loop.name), figure(loop.supply_v), figure(loop.loop_ohm), word(ohm),
             figure(loop.low_v), figure(loop.low_needed_v),
             figure(1e3 * loop.high_a), figure(loop.high_v),
             figure(loop.high_needed_v), Cell(clips, tone="" if never else "bad"))
        )  # fmt: skip
    columns = (
        Column("loop"), Column("supply", "V", True), Column("resistance", "ohm", True),
        Column("of which"), Column("terminal voltage at 3.6 mA", "V", True),
        Column("needed", "V", True), Column("highest current", "mA", True),
        Column("terminal voltage there", "V", True),
        Column("needed", "V", True), Column("saturation current"),
    )  # fmt: skip
    return Table(
        "loops", "Two-wire loops at the lowest supply voltage", columns, rows_of(rows)
    )


def _rack(budget: Budget) -> Table:
    rack = budget.rack
    rows = [
        (word(c.card), word(c.signals), whole(c.points), whole(c.spares),
         whole(c.built_in), whole(c.cards), whole(c.channels), figure(c.typical_w))
        for c in (rack.counts if rack else ())
    ]  # fmt: skip
    columns = (
        Column("card"), Column("signals"), Column("points", "", True),
        Column("spare", "", True), Column("built in", "", True),
        Column("cards", "", True), Column("channels per card", "", True),
        Column("typical", "W", True),
    )  # fmt: skip
    points = rack.points if rack else 0
    return Table("rack", f"Rack for {count(points, 'point')}", columns, rows_of(rows))


def _mounts(rack: RackResult) -> Facts:
    """Return each way to mount the points beyond the controller's own."""
    rows = [
        Fact(
            f"as {way.mount}" + " (taken)" * (way.mount == rack.mount),
            _mount_words(way),
        )
        for way in (rack.cards, rack.nodes)
        if way is not None
    ]
    return Facts(tuple(rows), "Points beyond those of the process controller")


def _mount_words(way: RackOption) -> str:
    what = f"{way.pieces} {way.mount}"
    if way.other_cards:
        what += f" and {count(way.other_cards, 'card')}"
    bases = f" in {count(way.bases, 'rack')}"
    fits = "" if way.fits else ", which do not fit"
    return (
        f"{what}{bases}{fits}: {show(way.typical_w, 'W')} typical, "
        f"{show(way.maximum_w, 'W')} maximum, without channels"
    )
