"""`powerbudget run`: the hourly simulation."""

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
    remark,
)  # fmt: skip

if TYPE_CHECKING:
    from powerbudget.balance.simulation import Simulation
    from powerbudget.report.document.package import Package
    from powerbudget.sizing.aging import Outlook


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
        more = {"autonomy_view": package.view} if package.view else {}
        print_json({**_json(package), **more})
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


def _json(package: Package) -> dict[str, Any]:
    result, days = package.run, package.days
    verdicts, ahead = package.verdicts, package.outlook
    into = {k: getattr(result.ledger, k) for k in ("array_wh", "generator_wh")}
    ledger = {**into, **result.ledger.terms_wh}
    return {
        "availability_frac": result.availability_frac,
        "energy_not_served_wh": result.energy_not_served_wh,
        "outages": [
            {
                "start": o.start,
                "hours": o.hours,
                "cause": o.cause,
                "kind": o.kind,
                "charge_left_frac": o.charge_left_frac,
                "recovered": o.recovered,
                "across_end": o.across_end,
                "generator": o.generator,
            }
            for o in result.outages
        ],
        "events": result.events,
        "hours_off_by_tier": result.hours_off_by_tier,
        "availability_to_loss_frac": result.availability_to_loss_frac,
        "lowest_soc_frac": result.lowest_soc_frac,
        "lowest_soc_at": result.lowest_soc_at,
        "start_soc_frac": result.start_soc_frac,
        "autonomy_design_days": days.design_days,
        "autonomy_design_degc": days.design_degc,
        "autonomy_design_ends": days.design_ends,
        "autonomy_record_days": days.record_days,
        "autonomy_record_start": days.record_start,
        "autonomy_record_soc_frac": days.record_soc_frac,
        "battery": _battery_json(result, ahead),
        "generators": result.generation,
        "ledger": ledger,
        "ledger_error_frac": result.ledger.error_frac,
        "monthly": result.monthly,
        "array_to_load": result.array_to_load,
        "criteria": verdicts,
        "weather": result.problem.record.source,
        "typical_year": result.problem.record.typical_year,
        "findings": package.run_findings,
    }


def _battery_json(result: Simulation, ahead: Outlook) -> dict[str, Any]:
    degc = result.problem.conditions.battery_degc
    return {
        "chemistry": result.bank.chemistry.name,
        "cold_curve": result.bank.cold_curve,
        "health_frac": result.bank.health_frac,
        "lowest_degc": float(degc.min()),
        "mean_degc": float(degc.mean()),
        "highest_degc": float(degc.max()),
        "frost": result.frost,
        "blocked_sun_h": result.blocked_sun_h,
        "blocked_sun_wh": result.blocked_sun_wh,
        "highest_charge_v": result.highest_charge_v,
        "highest_charge_at": result.highest_charge_at,
        "life": ahead.life,
        "ages": ahead.ages,
        "cold_curves": ahead.curves,
        "cold_curves_differ": ahead.curves_differ,
        "recovery": ahead.recovery,
        "ventilation": ahead.ventilation,
    }
