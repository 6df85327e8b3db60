"""`powerbudget compare`: sources of power on equal terms."""

from __future__ import annotations

import sys
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
    from powerbudget.compare.alternative import Option
    from powerbudget.compare.comparison import Comparison


def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    site: SiteArgument = None,
    plot: Annotated[
        Path | None,
        plot_option(
            "Draw costs, availability and who carries the load by month into this file"
        ),
    ] = None,
    break_even: Annotated[
        bool,
        typer.Option(
            "--break-even",
            help="Size every option again at other loads (W) and days of autonomy, "
            "until another one comes first; takes ten to twenty times as long.",
        ),
    ] = False,
    cost: Annotated[bool, flag("--cost", "Print the cost by group.")] = False,
    inputs: Annotated[
        bool, flag("--inputs", "Print prices with their ranges.")
    ] = False,
    equipment: Annotated[
        bool, flag("--equipment", "Print what is bought and what limits it.")
    ] = False,
    monthly: Annotated[bool, flag("--monthly", "Print the supply by month.")] = False,
    findings: FindingsOption = False,
    cautions: CautionsOption = False,
    full: FullOption = False,
    quiet: QuietOption = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Compare sources of power: cost, fuel, visits, emissions.

    Sizes panels, thermoelectric generators, fuel cells, an engine set, hybrids and a
    power line to the same criteria on the same weather, and says at which prices the
    ranking turns; with --break-even, at which load (W) and autonomy (d) too. [compare]
    chooses options, [costs] states prices. Exit code 1 when no option meets the
    criteria.
    """
    from powerbudget.files import PICTURES, check_target

    check_form(as_json, as_csv)
    if plot:
        check_target(plot, PICTURES)

    from powerbudget.compare.comparison import compare

    with naming(site):
        result = compare(
            load_design(site),
            _progress if sys.stderr.isatty() else None,
            break_even=break_even,
        )
    _draw(result, plot)
    if as_json:
        from powerbudget.report import answers

        print_json(answers.answer(answers.COMPARE, result))
    elif as_csv:
        print_csv([_row(option, result.currency) for option in result.options])
    else:
        parts = asked_parts(
            costs_by_kind=cost,
            turns=break_even,
            prices=inputs,
            equipment=equipment,
            supply_months=monthly,
        )
        _print(result, Asked(parts, full, findings, cautions, quiet))
    if result.best is None:
        raise typer.Exit(1)


def _print(result: Comparison, asked: Asked) -> None:
    from powerbudget.checks.cautions import cautions
    from powerbudget.report.screens.compare import compare_screen
    from powerbudget.report.sections.alternatives import compared_section

    fuel = any(option.fuel for option in result.options)
    answer(compare_screen(result), asked, lambda s: [compared_section(result, s)],
           cautions(fuel=fuel))  # fmt: skip


def _draw(result: Comparison, plot: Path | None) -> None:
    if plot is None:
        return
    from powerbudget.cli.common import remark
    from powerbudget.report.charts.compare import compare_chart

    compare_chart(result, plot)
    remark(f"Drew {plot}.")


def _progress(done: int, total: int, what: str) -> None:
    line = f"options sized: {done} of {total}, now {what}" if done < total else ""
    # Nobody knows beforehand how often sizes are found again.
    line = line if total else f"{what} ({done})"
    sys.stderr.write(f"\r\x1b[K{line}")
    sys.stderr.flush()


def _row(option: Option, currency: str) -> dict[str, Any]:
    return {
        "name": option.name,
        "title": option.title,
        "met": option.met,
        "reason": option.reason,
        "parts": option.parts,
        "availability_frac": option.availability_frac,
        "battery_lost_at": option.battery_lost_at,
        "currency": currency,
        "capital": option.capital,
        "life_cycle_cost": option.life_cycle_cost,
        "cost_per_kwh": option.cost_per_kwh,
        "fuel": option.fuel,
        "fuel_per_year": option.fuel_per_year,
        "fuel_unit": option.fuel_unit,
        "visits_per_year": option.visits_per_year,
        "deliveries_per_year": option.deliveries_per_year,
        "co2e_kg_per_year": option.co2e_kg_per_year,
        "binding": option.binding,
    }
