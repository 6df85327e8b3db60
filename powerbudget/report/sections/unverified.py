"""Unverified figures: by line, what each moves, and the size at both ends."""

from __future__ import annotations

from math import isinf
from typing import TYPE_CHECKING

from powerbudget.data.figures import UNVERIFIED
from powerbudget.loads.lines import CONTINGENCY
from powerbudget.quantities import count, in_unit
from powerbudget.report.document.blocks import (
    Column,
    Section,
    Table,
    cost,
    figure,
    rows_of,
    share,
    word,
)
from powerbudget.report.document.words import percent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from powerbudget.loads.budget import Budget
    from powerbudget.loads.unverified import Gap
    from powerbudget.report.document.blocks import Cell
    from powerbudget.report.document.package import Package
    from powerbudget.report.sections.sources import Sources
    from powerbudget.site.reader import Design
    from powerbudget.sizing.candidates import Candidate
    from powerbudget.sizing.unverified_picks import EndPick, Worth


def unverified_of(package: Package, _: Sources) -> Section | None:
    """Return the unverified figures of a package, None where all are verified."""
    from powerbudget.sizing.unverified_picks import unverified_picks, worth_getting

    if not package.budget.doubtful_frac:
        return None
    sizing = package.sizing if package.extras.unverified else None
    ends = unverified_picks(package.problem, sizing) if sizing else ()
    found = worth_getting(package.design, ends)
    return unverified_section(package.budget, found, ends, priced_in(package.design))


def priced_in(design: Design) -> str:
    """Return the currency of what a size costs, empty without prices [text]."""
    costs = design.tables.costs
    return costs.currency if costs and costs.each is not None else ""


def unverified_section(
    budget: Budget, found: Sequence[Worth], ends: Sequence[EndPick], currency: str
) -> Section:
    """Return what is unverified by line, what it moves, and the size at both ends.

    Parameters
    ----------
    budget
        Of the site.
    found
        Its unverified figures.
    ends
        Sizes at both ends; empty where none was searched.
    currency
        Of its costs, empty where it has no prices [text].
    """
    lead = (
        f"{percent(budget.doubtful_frac, 0)} of the load energy comes from "
        "unverified or assumed figures. Contingency is not counted."
    )
    tables = [lines_table(budget), worth_table(found, currency)]
    tables += [ends_table(ends, currency)] if ends else []
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


def worth_table(found: Sequence[Worth], currency: str) -> Table:
    """Return the figures worth getting, those that move the size most first [Table].

    Parameters
    ----------
    found
        Unverified figures of a site.
    currency
        Of its costs, empty where it has no prices [text].
    """
    sized = any(one.sized for one in found)
    rows = [
        (word(_name(one.gap)), figure(one.gap.low_wh), figure(one.gap.high_wh),
         *(_sizes(one) if sized else ()), word(one.gap.field))
        for one in found
    ]  # fmt: skip
    sizes = (Column("size, low"), Column("size, high"),
             Column("change", currency or "units", True))  # fmt: skip
    columns = (
        Column("figure"), Column("daily load, low", "Wh/day", True),
        Column("daily load, high", "Wh/day", True), *(sizes if sized else ()),
        Column("request from the manufacturer"),
    )  # fmt: skip
    what = "the recommended size" if sized else "the daily load"
    return Table(
        "gaps", f"{count(len(found), 'figure')} to request, by their effect on {what}",
        columns, rows_of(rows),
        note="Each row simulates the site with that figure at either end of its range. A "
        "user input without a range has 0.5 to 1.5 times its value (assumed)."
        + " Figures with an equal effect are ordered by daily load." * sized,
    )  # fmt: skip


def _name(gap: Gap) -> str:
    return gap.loads if gap.loads == gap.figure else f"{gap.loads}: {gap.figure}"


def _sizes(one: Worth) -> tuple[Cell, ...]:
    moves = one.moves
    known = None if moves is None or isinf(moves) else moves
    return (*(size_cell(end) for end in (one.low, one.high)), figure(known))


def size_cell(pick: Candidate | None) -> Cell:
    """Return array and battery of a design, or that there is none [Cell]."""
    if pick is None:
        return word("NOT FEASIBLE", tone="bad")
    return word(f"{in_unit(pick.array_w, 'W')} + {in_unit(pick.battery_ah, 'Ah')}")


def ends_table(ends: Sequence[EndPick], currency: str) -> Table:
    """Return the size that the site needs at both ends of what is unverified [Table].

    Parameters
    ----------
    ends
        Sizes at both ends, the site as written between.
    currency
        Of its costs, empty where it has no prices [text].
    """
    rows = [
        (word(end.level), figure(end.wh_per_day), size_cell(end.pick), word(_pieces(end)),
         *([cost(end.pick.cost if end.pick else None)] if currency else []))
        for end in ends
    ]  # fmt: skip
    columns = (
        Column("all unverified figures"), Column("daily load", "Wh/day", True),
        Column("size"), Column("recommended"),
        *([Column("cost", currency, True)] if currency else []),
    )  # fmt: skip
    return Table(
        "unverified-size", "Recommended size at both ends", columns, rows_of(rows)
    )


def _pieces(end: EndPick) -> str:
    if end.pick is None:
        return ""
    units = count(end.pick.battery_units, "battery unit")
    return f"{count(end.pick.modules, 'module')}, {units}"
