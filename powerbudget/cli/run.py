"""`powerbudget run`: the hourly simulation."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

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
    from powerbudget.balance.simulation import Simulation
    from powerbudget.sizing.aging import Outlook
    from powerbudget.sizing.autonomy import Autonomy
    from powerbudget.sizing.autonomy_view import AutonomyView
    from powerbudget.sizing.criteria import Verdict


def command(
    site: SiteArgument = None,
    plot: Annotated[
        Path | None,
        plot_option("Draw the year and its worst weeks into this file"),
    ] = None,
    autonomy_too: Annotated[
        bool,
        typer.Option(
            "--autonomy",
            help="Add autonomy by month and starting hour, at three disconnect settings, "
            "new and at end of life, and the hours to disconnect and to damage when the "
            "charge is lost.",
        ),
    ] = False,
    plot_autonomy: Annotated[
        Path | None,
        plot_option("Draw that into this file", "--plot-autonomy"),
    ] = None,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Simulate every hour: availability, outages, autonomy.

    Autonomy is given twice, in days: from full at the stated cold temperature, and the
    shortest from any hour of the record. Exit code 1 when a criterion is not met.
    """
    from powerbudget.files import PICTURES, check_target

    check_form(as_json, as_csv)
    for target in (plot, plot_autonomy):
        if target:
            check_target(target, PICTURES)

    from powerbudget.balance.simulation import simulate
    from powerbudget.sizing.aging import outlook
    from powerbudget.sizing.autonomy import autonomy
    from powerbudget.sizing.criteria import judge

    with naming(site):
        result = simulate(load_design(site))
        days = autonomy(result)
        verdicts = judge(result, days.design_days)
        ahead = outlook(result)
        view = _view(result) if autonomy_too or plot_autonomy else None
    if plot:
        _draw(result, days, plot)
    if plot_autonomy and view:
        _draw_autonomy(view, result, plot_autonomy)
    if as_json:
        more = {"autonomy_view": view} if view else {}
        print_json({**_json(result, days, verdicts, ahead), **more})
    elif as_csv:
        print_csv([dataclasses.asdict(row) for row in result.monthly])
    else:
        from powerbudget.report.terminal.views import run_page

        typer.echo(run_page(result, days, verdicts, ahead), nl=False)
        if view and autonomy_too:
            from powerbudget.report.terminal.autonomy import autonomy_page

            typical = result.problem.record.typical_year
            typer.echo("\n" + autonomy_page(view, typical=typical), nl=False)
    if not all(verdict.met for verdict in verdicts):
        raise typer.Exit(1)


def _view(result: Simulation) -> AutonomyView:
    from powerbudget.sizing.autonomy_view import autonomy_view

    return autonomy_view(result)


def _draw_autonomy(view: AutonomyView, result: Simulation, plot: Path) -> None:
    from powerbudget.report.charts.autonomy import autonomy_chart
    from powerbudget.report.terminal.text import remark

    autonomy_chart(view, result.problem.design.tables.site.name, plot)
    remark(f"Drew {plot}.")


def _draw(result: Simulation, days: Autonomy, plot: Path) -> None:
    from powerbudget.report.charts.run import run_chart
    from powerbudget.report.terminal.text import remark

    run_chart(result, days, plot)
    remark(f"Drew {plot}.")


def _json(
    result: Simulation,
    days: Autonomy,
    verdicts: tuple[Verdict, ...],
    ahead: Outlook,
) -> dict[str, Any]:
    from powerbudget.balance.run_findings import run_findings

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
        "findings": [*run_findings(result), *ahead.findings],
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
