"""Unverified figures: by line, what each moves, and the size at both ends."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.data.figures import UNVERIFIED
from powerbudget.loads.lines import CONTINGENCY
from powerbudget.report.document.blocks import (
    Column,
    Section,
    Table,
    figure,
    rows_of,
    share,
    word,
)
from powerbudget.report.document.words import count, percent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from powerbudget.loads.budget import Budget
    from powerbudget.loads.unverified import Gap
    from powerbudget.report.document.package import Package
    from powerbudget.report.sections.sources import Sources
    from powerbudget.sizing.unverified_picks import EndPick


def unverified_of(package: Package, _: Sources) -> Section | None:
    """Return the unverified figures of a package, None where all are verified."""
    from powerbudget.loads.unverified import gaps
    from powerbudget.sizing.unverified_picks import unverified_picks

    if not package.budget.doubtful_frac:
        return None
    sized = package.extras.unverified and package.sizing is not None
    ends = unverified_picks(package.problem) if sized else ()
    return unverified_section(package.budget, gaps(package.design), ends)


def unverified_section(
    budget: Budget, gaps: Sequence[Gap], ends: Sequence[EndPick]
) -> Section:
    """Return what is unverified by line, what it moves, and the size at both ends.

    Parameters
    ----------
    budget
        Of the site.
    gaps
        Its unverified figures.
    ends
        Sizes at both ends; empty where none was searched.
    """
    lead = (
        f"{percent(budget.doubtful_frac, 0)} of the load energy comes from unverified or "
        "assumed figures. Contingency is not counted."
    )
    tables = [lines_table(budget), gaps_table(gaps, budget.wh_per_day)]
    tables += [ends_table(ends)] if ends else []
    return Section(
        "unverified", "Unverified figures", "Unverified", lead, tuple(tables)
    )


def lines_table(budget: Budget) -> Table:
    """Return the lines that stand on unverified figures, the largest first [Table]."""
    counted = [line for line in budget.lines if line.kind != CONTINGENCY]
    whole_wh = sum(line.wh_per_day for line in counted)
    open_ = sorted(
        (line for line in counted if line.status in UNVERIFIED and line.wh_per_day),
        key=lambda line: -line.wh_per_day,
    )
    rows = [
        (word(x.name), word(x.status), figure(x.wh_per_day), share(x.wh_per_day / whole_wh, 1))
        for x in open_
    ]  # fmt: skip
    columns = (
        Column("load"), Column("data quality"), Column("energy", "Wh/day", True),
        Column("share", "%", True),
    )  # fmt: skip
    return Table("unverified-lines", "Unverified share by load", columns, rows_of(rows))


def gaps_table(gaps: Sequence[Gap], wh_per_day: float) -> Table:
    """Return the figures worth getting, those that move the load most first [Table].

    Parameters
    ----------
    gaps
        Unverified figures of a site.
    wh_per_day
        Its daily load [Wh/day].
    """
    rows = [
        (word(gap.loads), word(gap.figure), word(gap.status), figure(gap.low_wh),
         figure(gap.high_wh), share(gap.span_wh / wh_per_day, 1), word(gap.field))
        for gap in gaps
    ]  # fmt: skip
    columns = (
        Column("load"), Column("figure"), Column("data quality"),
        Column("daily load, low", "Wh/day", True),
        Column("daily load, high", "Wh/day", True), Column("moves it", "%", True),
        Column("ask for the maker's sheet, and fill in"),
    )  # fmt: skip
    return Table(
        "gaps", f"{count(len(gaps), 'figure')} worth getting, by what each moves",
        columns, rows_of(rows),
        note="Daily load of the site with that figure at either end of its range; a typed "
        "figure without a range is taken as half to one and a half of itself (assumed).",
    )  # fmt: skip


def ends_table(ends: Sequence[EndPick]) -> Table:
    """Return the size that the site needs at both ends of what is unverified [Table]."""
    rows = [
        (word(end.level), figure(end.wh_per_day),
         *((figure(end.pick.array_w), figure(end.pick.battery_ah),
            word(f"{count(end.pick.modules, 'module')}, "
                 f"{count(end.pick.battery_units, 'battery unit')}"))
           if end.pick else (word(""), word(""), word("NOT FEASIBLE"))))
        for end in ends
    ]  # fmt: skip
    columns = (
        Column("all unverified figures"), Column("daily load", "Wh/day", True),
        Column("array", "W", True), Column("battery", "Ah", True), Column("recommended"),
    )  # fmt: skip
    return Table(
        "unverified-size", "Recommended size at both ends", columns, rows_of(rows)
    )
