"""`powerbudget run`: the hourly simulation."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Annotated

import typer

from powerbudget.cli.answer import Asked, Part, drawn, tell, verb
from powerbudget.cli.common import SiteArgument, load_design, naming, plot_option


@verb(
    Part("--monthly", "Print energy and SOC by month.", ("run-months",)),
    Part("--outages", "Print outages with their cause.", ("outages", "generator-outages")),
    Part("--battery", "Print battery temperature, life, recovery, ventilation.",
         ("battery-facts",)),
    Part("--losses", "Print the energy balance.", ("ledger",)),
    Part("--end-of-life", "Print beginning and end of battery life.", ("cases",)),
    Part("--autonomy", "Print autonomy by month, starting hour, LVD setting, and age, and hours "
"to LVD and to damage without charging.", ("view",)),
)  # fmt: skip
def command(
    asked: Asked,
    site: SiteArgument = None,
    plot: Annotated[
        Path | None, plot_option("Draw the year and its worst weeks into this file")
    ] = None,
    plot_autonomy: Annotated[
        Path | None, plot_option("Draw --autonomy into this file", "--plot-autonomy")
    ] = None,
) -> None:
    """Simulate every hour: availability, outages, autonomy.

    Prints two values in days: autonomy from full charge at the stated temperature, and
    minimum remaining autonomy of all hours. Exit code 1 when a criterion fails.
    """
    from powerbudget.checks.cautions import cautions
    from powerbudget.report.charts.autonomy import autonomy_chart
    from powerbudget.report.charts.run import run_chart
    from powerbudget.report.document.package import Package
    from powerbudget.report.extras import Extras
    from powerbudget.report.screens.run import run_screen
    from powerbudget.report.sections.registry import RUN, built

    with naming(site):
        wanted = Extras(autonomy="view" in asked.parts or bool(plot_autonomy))
        package = Package(load_design(site), wanted)
        _ = (package.verdicts, package.outlook, package.view)
    name = package.tables.site.name
    drawn(plot, lambda file: run_chart(package.run, package.days, file))
    if package.view:
        drawn(plot_autonomy, partial(autonomy_chart, package.view, name))
    told = cautions(package.run.bank, fuel=bool(package.tables.generator))
    tell(asked, "run", package, lambda: (
        run_screen(package), lambda s: built(RUN, package, s), told,
    ), autonomy_view=package.view)  # fmt: skip
    if not package.met:
        raise typer.Exit(1)
