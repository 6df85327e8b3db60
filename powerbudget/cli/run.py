"""`powerbudget run`: the hourly simulation."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

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
    remark,
)  # fmt: skip

if TYPE_CHECKING:
    from powerbudget.report.document.package import Package


def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    site: SiteArgument = None,
    plot: Annotated[
        Path | None,
        plot_option("Draw the year and its worst weeks into this file"),
    ] = None,
    monthly: Annotated[
        bool, flag("--monthly", "Print energy and SOC by month.")
    ] = False,
    outages: Annotated[
        bool, flag("--outages", "Print outages with their cause.")
    ] = False,
    battery: Annotated[
        bool,
        flag("--battery", "Print battery temperature, life, recovery, ventilation."),
    ] = False,
    losses: Annotated[bool, flag("--losses", "Print the energy balance.")] = False,
    ages: Annotated[
        bool, flag("--end-of-life", "Print the site with a new and an old battery.")
    ] = False,
    autonomy: Annotated[
        bool,
        flag(
            "--autonomy",
            "Print autonomy by month and starting hour, at three disconnect "
            "settings, new and at end of life, and the hours to disconnect and to damage "
            "when the charge is lost.",
        ),
    ] = False,
    plot_autonomy: Annotated[
        Path | None,
        plot_option("Draw that into this file", "--plot-autonomy"),
    ] = None,
    findings: FindingsOption = False,
    cautions: CautionsOption = False,
    full: FullOption = False,
    quiet: QuietOption = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Simulate every hour: availability, outages, autonomy.

    Autonomy is given twice, in days: from full at the stated cold temperature, and the
    shortest from any hour of the record. Exit code 1 when a criterion is not met.
    """
    from powerbudget.files import PICTURES, check_target
    from powerbudget.report.document.package import Package
    from powerbudget.report.extras import Extras

    check_form(as_json, as_csv)
    for target in (plot, plot_autonomy):
        if target:
            check_target(target, PICTURES)
    with naming(site):
        wanted = Extras(autonomy=autonomy or bool(plot_autonomy))
        package = Package(load_design(site), wanted)
        _ = (package.verdicts, package.outlook, package.view)
    _draw(package, plot, plot_autonomy)
    if as_json:
        from powerbudget.report import answers

        more = {"autonomy_view": package.view} if package.view else {}
        print_json({**answers.answer(answers.RUN, package), **more})
    elif as_csv:
        print_csv([dataclasses.asdict(row) for row in package.run.monthly])
    else:
        parts = asked_parts(
            run_months=monthly,
            outages=outages,
            generator_outages=outages,
            battery_facts=battery,
            ledger=losses,
            cases=ages,
            view=autonomy,
        )
        asked = Asked(parts, full, findings, cautions, quiet)
        _print(package, asked)
    if not package.met:
        raise typer.Exit(1)


def _print(package: Package, asked: Asked) -> None:
    from powerbudget.checks.cautions import cautions
    from powerbudget.report.screens.run import run_screen
    from powerbudget.report.sections.registry import RUN, built

    told = cautions(package.run.bank, fuel=bool(package.tables.generator))
    answer(run_screen(package), asked, lambda s: built(RUN, package, s), told)


def _draw(package: Package, plot: Path | None, plot_autonomy: Path | None) -> None:
    from powerbudget.report.charts.autonomy import autonomy_chart
    from powerbudget.report.charts.run import run_chart

    if plot:
        run_chart(package.run, package.days, plot)
        remark(f"Drew {plot}.")
    if plot_autonomy and package.view:
        autonomy_chart(package.view, package.tables.site.name, plot_autonomy)
        remark(f"Drew {plot_autonomy}.")
