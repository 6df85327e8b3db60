"""Circuit checks as a page of text: worst first, then what could not be checked."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from dataclasses import replace

from powerbudget.checks.branches import RACK
from powerbudget.checks.cautions import caution_text
from powerbudget.checks.loops import COMPLIANCE
from powerbudget.checks.registry import CheckReport
from powerbudget.checks.result import Check, NotChecked
from powerbudget.checks.voltage_profile import Stairs
from powerbudget.limits import MARGIN_NOTE, printed
from powerbudget.quantities import show
from powerbudget.report.terminal.text import WIDTH, count, table

WORDS = {"fail": "FAIL", "warn": "look", "pass": "pass"}
NAMES_SHOWN = 4


def check_page(report: CheckReport, name: str, *, trace: bool = False) -> str:
    """Return every check of a site as text.

    Parameters
    ----------
    report
        From `powerbudget.checks.registry.check`.
    name
        The site's name [text].
    trace
        Whether rule, source and figures stand under every check, not only under those
        that do not pass.

    Returns
    -------
    str
        Summary, table, what to do, what is missing, cautions [text].
    """
    return "\n".join(
        part
        for part in (
            summary(report, name),
            _table(report.checks if trace else once(report.checks)),
            _remedies(report.checks, trace=trace),
            _loops(report.checks),
            _stairs(report.stairs),
            _missing(report.not_checked),
            caution_text(report.cautions),
        )
        if part
    )


def summary(report: CheckReport, name: str) -> str:
    """Return what came out in one or two lines [text]."""
    n = report.counts
    head = (
        f"Circuit checks of {name}\n"
        f"  {n['fail']} fail, {n['warn']} to look at, {n['pass']} pass; "
        f"{n['not_checked']} not checked for lack of a figure\n"
    )
    worst = report.checks[0] if report.checks else None
    if worst is None or worst.verdict == "pass":
        return head
    words = (
        f"worst: {worst.name}, {worst.subject}: {_amount(worst.value, worst.unit)}, "
        f"limit {_amount(worst.limit, worst.unit)}"
    )
    return head + textwrap.indent(textwrap.fill(words, WIDTH - 2), "  ") + "\n"


def _amount(value: float, unit: str) -> str:
    if unit == "yes/no":
        return "yes" if value else "no"
    if unit in {"W", "A", "V", "ohm"}:
        return show(value, unit)
    return f"{value:.3g} {unit}" if unit != "m" else f"{value:,.0f} m"


def _limit(c: Check) -> str:
    """Return the limit with the side on which the value must lie."""
    sign = {"at least": ">= ", "at most": "<= "}.get(c.sense, "")
    plain = _amount(c.limit, c.unit)
    return plain if c.unit == "yes/no" else sign + plain


def _margin(c: Check) -> str:
    """Return the margin that the two printed figures have [text]."""
    return printed(c.held, _amount(c.value, c.unit), _amount(c.limit, c.unit))


def _table(checks: Iterable[Check]) -> str:
    rows = [
        [
            WORDS[c.verdict],
            c.name,
            _short(c.subject, 44),
            _amount(c.value, c.unit),
            _limit(c),
            "-" if c.unit == "yes/no" else _margin(c),
        ]
        for c in checks
    ]
    heads = ["", "check", "of", "found", "limit", "margin"]
    return table(f"Checks, worst first; {MARGIN_NOTE}", heads, rows, left=3)


def once(checks: Iterable[Check]) -> list[Check]:
    """Return checks with the passes of one name as one: the least margin of them.

    Parameters
    ----------
    checks
        Worst first.

    Returns
    -------
    list of Check
        The subject says how many more pass.
    """
    passed: dict[str, list[Check]] = {}
    found: list[Check] = []
    for c in checks:
        if c.verdict == "pass":
            passed.setdefault(c.name, []).append(c)
        else:
            found.append(c)
    for same in passed.values():
        more = len(same) - 1
        name = _short(same[0].subject, 34 if more else 44)
        subject = f"{name} (+{more} more)" if more else name
        found.append(replace(same[0], subject=subject))
    return found


def _short(text: str, letters: int) -> str:
    return text if len(text) <= letters else text[: letters - 3] + "..."


def _remedies(checks: Iterable[Check], *, trace: bool) -> str:
    shown = [c for c in checks if trace or c.verdict != "pass"]
    if not shown:
        return ""
    lines = ["Rule, figures and what to do"]
    for c in shown:
        lines += _block(c)
    return "\n".join(lines) + "\n"


def _block(c: Check) -> list[str]:
    parts = [f"{WORDS[c.verdict]}  {c.name}: {c.subject}"]
    pairs = [("", c.detail), ("rule: ", c.rule), ("source: ", c.source)]
    if c.verdict != "pass":
        pairs.append(("do: ", c.remedy))
    for label, text in pairs:
        if text:
            parts += textwrap.wrap(
                label + text,
                WIDTH,
                initial_indent="      ",
                subsequent_indent="        ",
            )
    return parts


def _loops(checks: Iterable[Check]) -> str:
    rows = []
    for c in (c for c in checks if c.name == COMPLIANCE.name):
        hot = [case for case in c.cases if case["cable_degc"] == _hottest(c)]
        cells = {
            case["current_a"]: f"{case['terminal_v']:.1f} / {case['needed_v']:.1f}"
            for case in hot
        }
        if cells:
            rows.append(
                [
                    _short(c.subject, 40),
                    *(cells.get(amps, "-") for amps in (0.0036, 0.004, 0.020, 0.021)),
                ]
            )
    if not rows:
        return ""
    heads = ["loop", "3.6 mA", "4 mA", "20 mA", "21 mA"]
    title = "Loops with the cable hot: volts at the terminals / volts needed"
    return table(title, heads, rows)


def _hottest(c: Check) -> float:
    return float(max(case["cable_degc"] for case in c.cases))


def _stairs(found: Stairs) -> str:
    if not found.steps:
        return ""
    rows = [
        [
            step.name,
            f"{step.change_v:+.2f}" if step.kind != "level" else "",
            f"{step.level_v:.2f}",
            step.note,
        ]
        for step in found.steps
    ]
    rows.append(["device needs", "", f"{found.needed_v:.2f}", ""])
    title = (
        f"Voltage budget of the branch with least to spare: {found.name}, "
        f"{show(found.amps, 'A')}"
    )
    return table(title, ["step", "change V", "left V", ""], rows)


def _missing(found: Iterable[NotChecked]) -> str:
    groups: dict[tuple[str, str], list[NotChecked]] = {}
    for row in found:
        groups.setdefault((row.name, row.missing), []).append(row)
    if not groups:
        return ""
    lines = ["Not checked: the figure is not stated (this is no pass)"]
    for (name, missing), rows in groups.items():
        lines += _missing_lines(name, missing, rows)
    return "\n".join(lines) + "\n"


def _missing_lines(name: str, missing: str, rows: list[NotChecked]) -> list[str]:
    named = [row.subject for row in rows]
    subjects = [s for s in named if not s.startswith(RACK)]
    lines = [s for s in named if s.startswith(RACK)]
    if len(lines) > 1:
        subjects.append(f"the rack ({count(len(lines), 'line')})")
    else:
        subjects += lines
    more = len(subjects) - NAMES_SHOWN
    words = ", ".join(subjects[:NAMES_SHOWN]) + (
        f" and {more} more" if more > 0 else ""
    )
    details = {row.detail for row in rows if row.detail}
    say = f" ({details.pop()})" if len(details) == 1 else ""
    text = f"{name}, {words}: {missing}{say}"
    return textwrap.wrap(text, WIDTH, initial_indent="  ", subsequent_indent="    ")
