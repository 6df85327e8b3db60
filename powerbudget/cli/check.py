"""`powerbudget check`: circuit and safety checks."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from powerbudget.cli.answer import (
    Asked,
    CautionsOption,
    FindingsOption,
    FullOption,
    QuietOption,
    answer,
    asked_parts,
    flag,
)  # fmt: skip
from powerbudget.cli.common import (
    CsvOption,
    JsonOption,
    SiteArgument,
    check_form,
    load_design,
    naming,
    plot_option,
    print_csv,
    print_json,
)

if TYPE_CHECKING:
    from powerbudget.checks.registry import CheckReport
    from powerbudget.checks.result import Check


def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    site: SiteArgument = None,
    plot: Annotated[
        Path | None,
        plot_option(
            "Draw the voltage budget of the worst branch, from battery to terminal"
        ),
    ] = None,
    passed: Annotated[bool, flag("--pass", "Print every check, PASS too.")] = False,
    missing: Annotated[
        bool, flag("--missing", "Print missing inputs with their circuits.")
    ] = False,
    basis: Annotated[
        bool,
        flag("--basis", "Print rule, source and figures of every check.", "--trace"),
    ] = False,
    profile: Annotated[
        bool, flag("--profile", "Print the voltage profile of the worst branch.")
    ] = False,
    findings: FindingsOption = False,
    cautions: CautionsOption = False,
    full: FullOption = False,
    quiet: QuietOption = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Check every circuit: volts, amperes, fuses, cold, frost; worst first.

    Loops at 3.6 to 21 mA, drop and terminal voltage of each branch, string voltage at
    the record low, wires and fuses, converters, the bank. What the site file does not
    state is listed as not checked, never as passed. Exit code 1 when a check fails.
    """
    from powerbudget.checks.registry import check
    from powerbudget.files import PICTURES, check_target

    check_form(as_json, as_csv)
    if plot:
        check_target(plot, PICTURES)
    with naming(site):
        report = check(load_design(site))
    name = report.facts.tables.site.name
    if plot:
        from powerbudget.cli.common import remark
        from powerbudget.report.charts.check import check_chart

        check_chart(report, name, plot)
        remark(f"Drew {plot}.")
    if as_json:
        from powerbudget.report import answers

        print_json(answers.answer(answers.CHECK, report))
    elif as_csv:
        print_csv([_row(one) for one in report.checks])
    else:
        parts = asked_parts(circuit_checks=passed or basis, not_checked=missing,
                            missing_inputs=missing, check_rules=basis,
                            voltage_profile=profile, loop_volts=profile)  # fmt: skip
        _print(report, Asked(parts, full, findings, cautions, quiet))
    if report.failed:
        raise typer.Exit(1)


def _print(report: CheckReport, asked: Asked) -> None:
    from powerbudget.report.screens.check import check_screen
    from powerbudget.report.sections.checks import circuits_section

    answer(check_screen(report), asked, lambda s: [circuits_section(report, s)],
           report.cautions)  # fmt: skip


def _row(one: Check) -> dict[str, Any]:
    row = dataclasses.asdict(one)
    return {key: value for key, value in row.items() if key != "cases"}
