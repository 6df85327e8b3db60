"""Circuit checks as a section: worst first, and what could not be checked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.limits import printed
from powerbudget.report.charts.check import check_figure
from powerbudget.report.document.blocks import (
    Block,
    Cell,
    Column,
    Fact,
    Facts,
    Row,
    Section,
    Table,
    figure,
    word,
)
from powerbudget.report.sections.pictures import picture
from powerbudget.report.sections.sources import Sources

if TYPE_CHECKING:
    from powerbudget.checks.registry import CheckReport
    from powerbudget.checks.result import Check
    from powerbudget.report.document.package import Package

WORDS = {"fail": "FAIL", "warn": "look", "pass": "pass"}
TONES = {"fail": "bad", "warn": "", "pass": "good"}
COLUMNS = (
    Column("verdict"), Column("check"), Column("of"), Column("found", "", True),
    Column("limit", "", True), Column("margin", "", True), Column("unit"),
    Column("source"),
)  # fmt: skip
MISSING = (Column("check"), Column("of"), Column("key that is not stated"),
           Column("what can be said"))  # fmt: skip


def checks_section(package: Package, sources: Sources) -> Section:
    """Return every circuit check with its rule and source.

    Parameters
    ----------
    package
        All results.
    sources
        Told which sources the rules have.
    """
    report = package.checks
    n = report.counts
    lead = (
        f"{n['fail']} fail, {n['warn']} to look at, {n['pass']} pass; "
        f"{n['not_checked']} not checked, for lack of a figure in the site file."
    )
    blocks: list[Block] = [_table(report, sources)]
    remedies = {
        f"{c.name}, {c.subject}": c.remedy for c in report.checks if c.verdict != "pass"
    }
    if remedies:
        blocks.append(Facts(_facts(remedies), "What to do"))
    if report.stairs.steps:
        blocks.append(_picture(report))
    blocks.append(Facts(_rules(report), "The rule of each check"))
    if report.not_checked:
        blocks.append(_missing(report))
    return Section("checks", "Circuit and safety checks", "Checks", lead, tuple(blocks))


def _facts(pairs: dict[str, str]) -> tuple[Fact, ...]:
    return tuple(Fact(label, text) for label, text in pairs.items())


def _rules(report: CheckReport) -> tuple[Fact, ...]:
    return _facts({check.name: check.rule for check in report.checks})


def _table(report: CheckReport, sources: Sources) -> Table:
    rows = tuple(_row(check, sources) for check in report.checks)
    return Table(
        "circuit-checks", "Every check, worst first", COLUMNS, rows, tools=True
    )


def _row(check: Check, sources: Sources) -> Row:
    yes_no = check.unit == "yes/no"
    numbers: tuple[Cell, ...] = (
        figure(check.value), _limit(check), Cell(_margin(check), check.held.order),
    )  # fmt: skip
    if yes_no:
        numbers = (word("yes" if check.value else "no"), word("yes"), word(""))
    return Row((
        word(WORDS[check.verdict], tone=TONES[check.verdict]), word(check.name),
        word(check.subject), *numbers, word("" if yes_no else check.unit),
        sources.cell(check.source, ""),
    ))  # fmt: skip


def _margin(check: Check) -> str:
    figures = figure(check.value).text, figure(check.limit).text
    return printed(check.held, *figures)


def _limit(check: Check) -> Cell:
    """Return the limit with the side on which the value must lie."""
    plain = figure(check.limit)
    return Cell(f"{check.sense} {plain.text}".strip(), plain.sort)


def _picture(report: CheckReport) -> Block:
    stairs = report.stairs
    first, last = stairs.steps[0].level_v, stairs.steps[-1].level_v
    alt = (
        f"Volts in the branch with the least to spare, {stairs.name}: from "
        f"{first:.2f} V at the battery down to {last:.2f} V at its terminals, where "
        f"{stairs.needed_v:.2f} V are needed. The table of checks holds the rest."
    )
    return picture(check_figure(report, ""), "p-volts", alt)


def _missing(report: CheckReport) -> Table:
    rows = tuple(
        Row((word(r.name), word(r.subject), word(r.missing), word(r.detail)))
        for r in report.not_checked
    )
    note = "What is not checked is not passed."
    return Table(
        "not-checked",
        "Not checked, for lack of a figure",
        MISSING,
        rows,
        note=note,
        folded=True,
    )
