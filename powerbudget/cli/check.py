"""`powerbudget check`: circuit and safety checks."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from powerbudget.cli.answer import Asked, Part, drawn, tell, verb
from powerbudget.cli.common import SiteArgument, load_design, naming, plot_option


@verb(
    Part("--pass", "Print every check, PASS too.", ("circuit-checks",)),
    Part("--missing", "Print missing inputs with their circuits.",
         ("not-checked", "missing-inputs")),
    Part("--basis", "Print rule, source and figures of every check.",
         ("circuit-checks", "check-rules"), "--trace"),
    Part("--profile", "Print the voltage profile of the worst branch.",
         ("voltage-profile", "loop-volts")),
)  # fmt: skip
def command(
    asked: Asked,
    site: SiteArgument = None,
    plot: Annotated[
        Path | None,
        plot_option(
            "Draw the voltage profile of the worst branch, from battery to terminal"
        ),
    ] = None,
) -> None:
    """Check every circuit: voltage, current, fuses, temperature.

    Loops from 3.6 mA to 21 mA or the device's maximum, voltage drop and terminal
    voltage of each branch, maximum PV system voltage, wire, fuses, converters,
    battery. Missing input is NOT CHECKED and never counts as PASS. Exit code 1 when a
    check fails.
    """
    from powerbudget.checks.registry import check
    from powerbudget.report.charts.check import check_chart
    from powerbudget.report.screens.check import check_screen
    from powerbudget.report.sections.checks import circuits_section

    with naming(site):
        report = check(load_design(site))
    drawn(plot, lambda file: check_chart(report, report.facts.tables.site.name, file))
    tell(asked, "check", report, lambda: (
        check_screen(report), lambda s: [circuits_section(report, s)], report.cautions,
    ))  # fmt: skip
    if report.failed:
        raise typer.Exit(1)
