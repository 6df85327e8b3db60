"""Autonomy by month, hour, disconnect setting and age as a section."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from powerbudget.quantities import in_unit
from powerbudget.report.charts.autonomy import autonomy_figure
from powerbudget.report.document.blocks import (
    Block,
    Cell,
    Column,
    Remarks,
    Row,
    Section,
    Table,
    figure,
    fixed,
    share,
    whole,
    word,
)
from powerbudget.report.document.words import moment
from powerbudget.report.sections.pictures import picture
from powerbudget.site.fields import MONTHS

if TYPE_CHECKING:
    from powerbudget.report.document.package import Package
    from powerbudget.report.sections.sources import Sources
    from powerbudget.sizing.autonomy_view import AutonomyView, Lost
DAMAGE = {"frost": "freezes", "overdischarge": "overdischarge", "none": "none in 400 d"}
"""What happens to a bank, in a word or two."""


def view_section(package: Package, _sources: Sources) -> Section | None:
    """Return what is left when the charge stops, month by month.

    Parameters
    ----------
    package
        All results; without the view there is no section.
    """
    view, typical = package.view, package.record.typical_year
    return None if view is None else autonomy_view_section(view, typical=typical)


def autonomy_view_section(view: AutonomyView, *, typical: bool) -> Section:
    """Return the same for a view at hand.

    Parameters
    ----------
    view
        Of `powerbudget.sizing.autonomy_view.autonomy_view`.
    typical
        Whether the record is a typical year, whose year number means nothing.
    """
    blocks: list[Block] = []
    if _some(view):
        blocks += [_picture(view), _months(view)]
    blocks += [_settings(view), _lost(view, typical=typical)]
    if view.findings:
        blocks.append(Remarks(view.findings, "Findings"))
    return Section("view", "Autonomy by month, LVD setting, and age", "Autonomy by month",
                   _lead(view), tuple(blocks))  # fmt: skip


def _some(view: AutonomyView) -> bool:
    """Whether any start of the record leaves any time at all."""
    return any(days > 0 for days in view.by_month_days)


def _lead(view: AutonomyView) -> str:
    if not _some(view):
        return (
            "In every month at least one starting hour has no remaining autonomy "
            "(outage or frozen battery)."
        )
    known = [m for m in range(12) if not math.isnan(view.by_month_days[m])]
    least = min(known, key=lambda m: view.by_month_days[m])
    soonest = worst_lost(view)
    return (
        f"Minimum remaining autonomy is {in_unit(view.by_month_days[least], 'd', 1)} in "
        f"{MONTHS[least]}. Without charging from the worst hour in "
        f"{MONTHS[soonest.month - 1]}, the LVD acts after "
        f"{_hours(soonest.to_disconnect_h)} h."
    )


def _hours(hours: float) -> str:
    return "more than 9,600" if math.isinf(hours) else f"{hours:,.0f}"


def _months(view: AutonomyView) -> Table:
    rows = []
    for m, name in enumerate(MONTHS):
        if math.isnan(view.by_month_days[m]):
            continue
        cells = (
            Cell(name, m), fixed(view.by_month_days[m], 1),
            fixed(view.median_by_month_days[m], 1), word(shortest_hour(view, m)),
            *[fixed(days[m], 1) for days in view.by_age.values()],
        )  # fmt: skip
        rows.append(Row(cells))
    columns = (
        Column("month"), Column("shortest", "d", True), Column("median", "d", True),
        Column("minimum from", "local time", True),
        *[Column(f"minimum, battery {age}", "d", True) for age in view.by_age],
    )  # fmt: skip
    return Table(
        "view-months", "Remaining autonomy by month",
        columns, tuple(rows),
        note=f"One start every {view.every_h:g} h, until the LVD acts or the battery "
"freezes.",
    )  # fmt: skip


def _settings(view: AutonomyView) -> Table:
    rows = tuple(
        Row((word(row.disconnect + (" (site file)" if row.own else "")), word(row.age),
             share(row.health_frac), fixed(row.design_days, 1),
             fixed(row.record_days, 1), share(row.availability_frac, 2)),
            mark="picked" if row.own and row.age == "as specified" else "")
        for row in view.settings
    )  # fmt: skip
    columns = (
        Column("LVD setting"), Column("battery"), Column("SOH", "%", True),
        Column("autonomy", "d", True), Column("minimum remaining autonomy", "d", True),
        Column("availability", "%", True),
    )  # fmt: skip
    return Table("view-settings", "Three LVD settings, new to end of life",
                 columns, rows)  # fmt: skip


def _lost(view: AutonomyView, *, typical: bool) -> Table:
    rows = tuple(
        Row((Cell(MONTHS[row.month - 1], row.month),
             word(moment(row.start, typical_year=typical)), share(row.state_frac),
             _until(row.to_disconnect_h), _until(row.to_damage_h),
             word(DAMAGE[row.damage]), _until(row.unprotected_h),
             word(DAMAGE[row.unprotected_damage])))
        for row in view.lost
    )  # fmt: skip
    columns = (
        Column("month"), Column("charging lost"), Column("SOC at start", "%", True),
        Column("to LVD", "h", True), Column("to damage", "h", True),
        Column("battery"), Column("to damage, LVD fails", "h", True),
        Column("battery then"),
    )  # fmt: skip
    return Table(
        "view-lost", "Charging lost at the worst hour of each month",
        columns, rows,
    )  # fmt: skip


def _until(hours: float) -> Cell:
    return word("-") if math.isinf(hours) else whole(hours)


def _picture(view: AutonomyView) -> Block:
    words = ", ".join(
        f"{name} {figure(days).text} d"
        for name, days in zip(MONTHS, view.by_month_days, strict=True)
        if not math.isnan(days)
    )
    alt = (
        "Minimum remaining autonomy by month and starting hour, by battery age, "
        f"by LVD setting, and after loss of charging. Minimum by month: {words}."
    )
    return picture(lambda: autonomy_figure(view, ""), "p-view", alt)


def shortest_hour(view: AutonomyView, month: int) -> str:
    """Return the clock hour from which a month's autonomy is shortest [text].

    Parameters
    ----------
    view
        Of `powerbudget.sizing.autonomy_view.autonomy_view`.
    month
        0 for January [count].
    """
    hours = view.by_month_hour_days[month]
    known = [h for h in range(24) if not math.isnan(hours[h])]
    return f"{min(known, key=lambda h: hours[h]):02d}:00"


def worst_lost(view: AutonomyView) -> Lost:
    """Return the month in which lost charge brings the disconnect soonest [Lost]."""
    return min(view.lost, key=lambda row: row.to_disconnect_h)
