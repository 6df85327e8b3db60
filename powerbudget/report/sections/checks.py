"""Circuit checks as a section: worst first, and what could not be checked."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from powerbudget.checks.loops import COMPLIANCE
from powerbudget.limits import printed
from powerbudget.quantities import in_unit, plain, show
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
    fixed,
    rows_of,
    word,
)
from powerbudget.report.document.words import sentence
from powerbudget.report.sections.pictures import picture

if TYPE_CHECKING:
    from powerbudget.checks.registry import CheckReport
    from powerbudget.checks.result import Check
    from powerbudget.checks.voltage_profile import Stairs
    from powerbudget.report.document.package import Package
    from powerbudget.report.sections.sources import Sources

WORDS = {"fail": "FAIL", "warn": "WARNING", "pass": "PASS"}
TONES = {"fail": "bad", "warn": "", "pass": "good"}
COLUMNS = (
    Column("result"), Column("check"), Column("circuit"), Column("calculated", "", True),
    Column("limit", "", True), Column("margin", "", True), Column("unit"),
    Column("source"),
)  # fmt: skip
MISSING = (Column("check"), Column("circuit"), Column("missing input"),
           Column("known"))  # fmt: skip


def checks_section(package: Package, sources: Sources) -> Section:
    """Return every circuit check with its rule and source.

    Parameters
    ----------
    package
        All results.
    sources
        Told which sources the rules have.
    """
    return circuits_section(package.checks, sources)


def circuits_section(report: CheckReport, sources: Sources) -> Section:
    """Return the same for checks at hand.

    Parameters
    ----------
    report
        Every check of a site.
    sources
        Told which sources the rules have.
    """
    blocks: list[Block] = [_table(report, sources)]
    acted = [c for c in report.checks if c.verdict != "pass"]
    if acted:
        blocks.append(Facts(tuple(map(_remedy, acted)), "Cause and remedy"))
    if report.stairs.steps:
        blocks += [_picture(report), _profile(report.stairs)]
    blocks += [_loops(report), Facts(_rules(report), "Rules", "check-rules")]
    if report.not_checked:
        wanted = tuple(
            Fact(f"[{table}] {key}", ", ".join(dict.fromkeys(circuits)))
            for table, keys in missing_inputs(report).items()
            for key, circuits in keys.items()
        )
        blocks += [Facts(wanted, "Missing inputs", "missing-inputs"), _missing(report)]
    kept = tuple(x for x in blocks if not isinstance(x, Table) or x.rows)
    return Section("checks", "Circuit and safety checks", "Checks",
                   f"{counts_words(report)}. A check with a missing input is NOT CHECKED. "
                   "It does not count as PASS.", kept)  # fmt: skip


def counts_words(report: CheckReport) -> str:
    """Return how many checks have each result [text].

    Parameters
    ----------
    report
        Every check of a site.
    """
    n = report.counts
    words = ((n["fail"], "FAIL"), (n["warn"], "WARNING"), (n["pass"], "PASS"),
             (n["not_checked"], "NOT CHECKED"))  # fmt: skip
    return ", ".join(f"{many} {name}" for many, name in words if many or name == "FAIL")


def _remedy(check: Check) -> Fact:
    cause = f"{sentence(check.detail)} " if check.detail else ""
    return Fact(
        f"{WORDS[check.verdict]}  {check.name}, {check.subject}",
        cause + sentence(check.remedy),
    )


def _profile(stairs: Stairs) -> Table:
    """Return the voltage of the branch with the smallest margin, step by step."""
    rows = [
        (word(step.name),
         word("") if step.kind == "level" else Cell(f"{step.change_v:+z.2f}", step.change_v),
         fixed(step.level_v, 2), word(step.note))
        for step in stairs.steps
    ]  # fmt: skip
    rows.append((word("required by the device"), word(""), fixed(stairs.needed_v, 2),
                 word("")))  # fmt: skip
    columns = (Column("step"), Column("change", "V", True), Column("voltage", "V", True),
               Column("note"))  # fmt: skip
    title = (
        f"Voltage profile of the worst branch: {stairs.name}, {show(stairs.amps, 'A')}"
    )
    return Table("voltage-profile", title, columns, rows_of(rows))


LOOP_A = (0.0036, 0.004, 0.020, 0.021)
"""Currents at which a two-wire loop is looked at [A]."""


def _loops(report: CheckReport) -> Table:
    rows = []
    for check in (c for c in report.checks if c.name == COMPLIANCE.name):
        hot = max(float(case["cable_degc"]) for case in check.cases)
        volts = {case["current_a"]: f"{case['terminal_v']:.1f} / {case['needed_v']:.1f}"
                 for case in check.cases if case["cable_degc"] == hot}  # fmt: skip
        rows.append((word(check.subject), *[word(volts.get(a, "-")) for a in LOOP_A]))
    columns = (Column("loop"), *[Column(plain(1e3 * a, 3, "mA")) for a in LOOP_A])
    return Table("loop-volts", "Terminal voltage / required voltage of each loop, cable hot, V",
                 columns, rows_of(rows))  # fmt: skip


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
        f"Voltage profile of the branch with the smallest margin, {stairs.name}: "
        f"{in_unit(first, 'V', 2)} at the battery, {in_unit(last, 'V', 2)} at the "
        "terminals, minimum "
        f"{in_unit(stairs.needed_v, 'V', 2)}. The table has all checks."
    )
    return picture(lambda: check_figure(report, ""), "p-volts", alt)


def _missing(report: CheckReport) -> Table:
    rows = tuple(
        Row((word(r.name), word(r.subject), word(r.missing), word(r.detail)))
        for r in report.not_checked
    )
    return Table("not-checked", "NOT CHECKED: input missing", MISSING, rows,
                 note="A missing input does not count as PASS.", folded=True)  # fmt: skip


_KEY = re.compile(r"(?:\[+([\w.]+)\]+\s*)?(.*?)(?: = .*| of .*)?")


def missing_inputs(report: CheckReport) -> dict[str, dict[str, list[str]]]:
    """Return the inputs that are missing: table, key, and the circuits that want it.

    Parameters
    ----------
    report
        Every check of a site.
    """
    found: dict[str, dict[str, list[str]]] = {}
    for row in report.not_checked:
        match = _KEY.fullmatch(row.missing)
        table, key = (match[1] or "devices", match[2]) if match else ("", row.missing)
        table, _, inner = table.partition(".")
        found.setdefault(table, {}).setdefault(inner or key, []).append(row.subject)
    return found
