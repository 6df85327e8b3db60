"""`powerbudget loads`: the power budget."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from powerbudget.cli.answer import Asked, Part, drawn, tell, verb
from powerbudget.cli.common import (
    SiteArgument,
    load_design,
    naming,
    option,
    plot_option,
    remark,
)  # fmt: skip

if TYPE_CHECKING:
    from powerbudget.loads.budget import Budget
    from powerbudget.report.document.blocks import Section
    from powerbudget.site.reader import Design


@verb(
    Part("--basis", "Print basis and source of every load.", ("lines", "sources"),
         "--trace"),
    Part("--unverified", "Print unverified figures by load, the effect of each, and the size at "
"both ends (some seconds).", ("unverified",)),
)  # fmt: skip
def command(
    asked: Asked,
    site: SiteArgument = None,
    io_list: Annotated[
        Path | None,
        option("--io-list", "A list of tags (.csv, .xlsx) that fills the rack, in place "
               "of the site file's own.", "FILE"),
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
        option("--export", "Write the I/O list and the loads with place, W and Wh/day of "
               "each row (.xlsx; .csv holds the I/O list, or the loads of a site without "
               "one).", "FILE"),
    ] = None,
    plot: Annotated[Path | None, plot_option("Draw the daily load by device")] = None,
) -> None:  # fmt: skip
    """Print the power budget: W, Wh/day and Ah/day of each load.

    Parasitic loads (converters, wiring, charge controller, leakage) are included. The
    average load sizes array and battery, the maximum running load sizes wire and
    fuses, and the peak load sets the lowest voltage.
    """
    from powerbudget.battery.box import held_in_cold
    from powerbudget.checks.cautions import cautions
    from powerbudget.loads.budget import load_budget
    from powerbudget.loads.listing import export_tables, with_io_list
    from powerbudget.report.charts.loads import loads_chart
    from powerbudget.report.render.io_list import write_lists
    from powerbudget.report.screens.loads import loads_screen
    from powerbudget.report.sections.loads import budget_section

    design = load_design(site, may_be_open=True)
    if design.left_open:
        _say_open(design)
    name = design.tables.site.name
    if io_list is not None:
        had_rack = design.tables.rack is not None
        how = {"sheet": sheet, "decimal": decimal, "encoding": encoding}
        design = with_io_list(design, io_list, **how)
        if not had_rack:
            _say_rack(design)
    with naming(site):
        budget = load_budget(design)
    drawn(plot, lambda file: loads_chart(budget, name, file))
    if export:
        write_lists(export, export_tables(budget, design))
        remark(f"Wrote {export}.")
    heater_w = held_in_cold(design.tables.battery, budget.design_cold_degc).heater_w
    tell(asked, "loads", budget, lambda: (
        loads_screen(budget, name, heater_w),
        lambda s: [budget_section(budget, s, heater_w=heater_w),
                   *_unverified(asked, design, budget)],
        cautions(),
    ), battery_heater_w=heater_w or None)  # fmt: skip


def _say_open(design: Design) -> None:
    """Say what stands in for the tables that the site file leaves open."""
    from powerbudget.site.open_site import in_file

    tables = ", ".join(f"[{in_file(name)}]" for name in design.left_open)
    own_a = design.tables.regulator.all_own_a
    own = f" Charge controller self-consumption assumed: {1000 * own_a:g} mA."
    remark(
        f"The site file has no {tables} yet; the loads do not need it."
        f"{own if 'regulator' in design.left_open else ''} "
        f"`powerbudget size {design.path} --write` adds it."
    )


def _unverified(asked: Asked, design: Design, budget: Budget) -> list[Section]:
    """Return the section of unverified figures, which takes searches of size."""
    if "unverified" not in asked.parts:
        return []
    from powerbudget.balance.problem import prepare
    from powerbudget.report.sections.unverified import priced_in, unverified_section
    from powerbudget.sizing.unverified_picks import (
        has_size,
        unverified_picks,
        worth_getting,
    )

    ends = unverified_picks(prepare(design)) if has_size(design) else ()
    found = worth_getting(design, ends)
    return [unverified_section(budget, found, ends, priced_in(design))]


def _say_rack(design: Design) -> None:
    rack = design.tables.rack
    if rack is not None:
        feed = rack.loop_supply or "the bus"
        remark(
            f"The site file has no [rack]: assumed {rack.controller}, loops on {feed}."
        )
