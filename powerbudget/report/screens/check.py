"""First screen of `check`: what fails and what to do, smallest margins, missing inputs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.limits import printed
from powerbudget.quantities import count, in_unit, plain, show
from powerbudget.report.document.blocks import Column, Table, rows_of, word
from powerbudget.report.document.words import sentence, told_apart
from powerbudget.report.render.terminal import row_lines
from powerbudget.report.screens.layout import Screen, clip, first_line, wrap
from powerbudget.report.sections.checks import counts_words, missing_inputs

if TYPE_CHECKING:
    from powerbudget.checks.registry import CheckReport
    from powerbudget.checks.result import Check

OPTIONS = "--pass --missing --basis --profile --cautions --full | --plot FILE --json"
MOST_ACTED, MOST_MARGINS, MOST_REMEDY = 10, 5, 1


def check_screen(report: CheckReport) -> Screen:
    """Return the worst checks and what is missing, on one screen.

    Parameters
    ----------
    report
        Every check of a site.
    """
    n = report.counts
    worst = "FAIL" if n["fail"] else "NOT CHECKED" if n["not_checked"] else (
        "WARNING" if n["warn"] else "PASS")  # fmt: skip
    name = report.facts.tables.site.name
    body = ["", *_acted(report), *_missing(report)]
    return Screen(first_line("CHECK", name, f"{worst}   {counts_words(report)}"), body, (),
                  OPTIONS)  # fmt: skip


def amount(value: float, unit: str, digits: int = 3) -> str:
    """Return a figure of a check with its unit [text].

    Parameters
    ----------
    value, unit
        As the check has them.
    digits
        Significant figures [count].
    """
    if unit == "yes/no":
        return "yes" if value else "no"
    unit = unit.replace("degC", "°C")
    if unit in {"W", "A", "V", "ohm"}:
        return show(value, unit, digits)
    return in_unit(value, "m") if unit == "m" else plain(value, digits, unit)


def _figures(c: Check) -> tuple[str, str, str]:
    """Return value, limit with its side, and margin as printed."""
    found, limit = told_apart(
        c.value, c.limit, lambda x, more: amount(x, c.unit, 3 + more)
    )
    if c.unit == "yes/no":
        return found, limit, "-"
    sign = "≥ " if c.side == "lower" else "≤ "
    return found, sign + limit, printed(c.held, found, limit)


COLUMNS = (
    Column("", "", True), Column("check"), Column("circuit"), Column("calculated", "", True),
    Column("limit", "", True), Column("margin", "", True),
)  # fmt: skip


def _acted(report: CheckReport) -> list[str]:
    """Return what fails or warns with its remedy; where all pass, least margins."""
    acted = [c for c in report.checks if c.verdict != "pass"]
    shown = (
        acted[:MOST_ACTED]
        or [c for c in report.checks if c.unit != "yes/no"][:MOST_MARGINS]
    )
    rows = [
        (
            word(str(n) if acted else ""),
            word(c.name),
            word(c.subject),
            *map(word, _figures(c)),
        )
        for n, c in enumerate(shown, start=1)
    ]
    heads, *lines = row_lines(Table("", "", COLUMNS, rows_of(rows)))
    out = [*(heads if acted else ["Smallest margins", *heads])]
    for c, line in zip(shown, lines, strict=True):
        out += line
        if c.verdict == "fail":
            out += clip(wrap(" " * 4, sentence(c.remedy)), MOST_REMEDY)
    more = len(acted) - MOST_ACTED
    return [*out, *([f"and {more} more: --full"] if more > 0 else [])]


def _missing(report: CheckReport) -> list[str]:
    """Return the inputs that are missing, by table of the site file."""
    groups = missing_inputs(report)
    if not groups:
        return []
    keys = sum(len(found) for found in groups.values())
    lines = [
        "",
        f"NOT CHECKED: {count(len(report.not_checked), 'check')}, "
        f"{count(keys, 'missing input')} (does not count as PASS)",
    ]
    for table, found in groups.items():
        words = [
            key + f" ({len(n)} circuits)" * (len(n) > 1) for key, n in found.items()
        ]
        lines += wrap(f"  {table:12} ", ", ".join(words))
    return lines
