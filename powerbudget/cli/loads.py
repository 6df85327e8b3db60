"""`powerbudget loads`: the power budget."""

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
    print_csv,
    print_json,
)

if TYPE_CHECKING:
    from powerbudget.loads.budget import Budget
    from powerbudget.site.reader import Design


def command(  # noqa: PLR0913, PLR0917 - each is an option of the verb
    site: SiteArgument = None,
    io_list: Annotated[
        Path | None,
        typer.Option(
            "--io-list",
            help="A list of tags (.csv, .xlsx) that fills the rack, in place of the "
            "site file's own.",
        ),
    ] = None,
    sheet: Annotated[
        str | None, typer.Option(help="Sheet of the list's workbook.")
    ] = None,
    decimal: Annotated[
        str | None, typer.Option(help="Decimal mark of the list: point or comma.")
    ] = None,
    encoding: Annotated[
        str | None, typer.Option(help="Encoding of the list, such as cp1252.")
    ] = None,
    export: Annotated[
        Path | None,
        typer.Option(
            "--export",
            help="Write the I/O list and the loads with place, W and Wh/day of each row "
            "(.xlsx; .csv holds the I/O list, or the loads of a site without one).",
        ),
    ] = None,
    plot: Annotated[
        Path | None,
        typer.Option("--plot", help="Draw where the watt-hours go: PNG, SVG or PDF."),
    ] = None,
    basis: Annotated[
        bool, flag("--basis", "Print basis and source of every load.", "--trace")
    ] = False,
    findings: FindingsOption = False,
    cautions: CautionsOption = False,
    full: FullOption = False,
    quiet: QuietOption = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Print the power budget: W, Wh/day and Ah/day of each load.

    Hidden loads (converters, wiring, regulator, leakage) come first. Three sums that
    must not be mixed: typical draw times duty for energy, the lasting maximum for
    wires and fuses, the peak for brown-out.
    """
    from powerbudget.files import PICTURES, check_target
    from powerbudget.loads.budget import load_budget
    from powerbudget.loads.listing import with_io_list

    check_form(as_json, as_csv)
    design = load_design(site)
    if plot:
        check_target(plot, PICTURES)
    if io_list is not None:
        had_rack = design.tables.rack is not None
        design = with_io_list(
            design, io_list, sheet=sheet, decimal=decimal, encoding=encoding
        )
        if not had_rack:
            _say_rack(design)
    with naming(site):
        budget = load_budget(design)
    if plot:
        _draw(budget, design, plot)
    if export:
        _export(budget, design, export)
    if as_json:
        from powerbudget.report import answers

        print_json(answers.answer(answers.LOADS, budget))
    elif as_csv:
        print_csv([dataclasses.asdict(line) for line in budget.lines])
    else:
        asked = Asked(
            asked_parts(lines=basis, sources=basis), full, findings, cautions, quiet
        )
        _print(budget, design.tables.site.name, asked)


def _print(budget: Budget, name: str, asked: Asked) -> None:
    from powerbudget.checks.cautions import cautions
    from powerbudget.report.screens.loads import loads_screen
    from powerbudget.report.sections.loads import budget_section

    answer(loads_screen(budget, name), asked, lambda s: [budget_section(budget, s)],
           cautions())  # fmt: skip


def _say_rack(design: Design) -> None:
    from powerbudget.cli.common import remark

    rack = design.tables.rack
    if rack is not None:
        feed = rack.loop_supply or "the bus"
        remark(
            f"The site file has no [rack]: taken {rack.controller}, loops on {feed}."
        )


def _draw(budget: Budget, design: Design, plot: Path) -> None:
    from powerbudget.cli.common import remark
    from powerbudget.report.charts.loads import loads_chart

    loads_chart(budget, design.tables.site.name, plot)
    remark(f"Drew {plot}.")


def _export(budget: Budget, design: Design, export: Path) -> None:
    from powerbudget.cli.common import remark
    from powerbudget.loads.listing import export_tables
    from powerbudget.report.render.io_list import write_lists

    write_lists(export, export_tables(budget, design))
    remark(f"Wrote {export}.")
