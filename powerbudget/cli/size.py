"""`powerbudget size`: panel and battery needed."""

from __future__ import annotations

import sys
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
    print_csv,
    print_json,
)

if TYPE_CHECKING:
    from powerbudget.sizing.search import Candidate


def command(
    site: SiteArgument = None,
    plot: Annotated[
        Path | None,
        typer.Option(
            "--plot",
            metavar="FILE",
            help="Draw the frontier of panel against battery into this file (.png, .svg or .pdf).",
            show_default=False,
        ),
    ] = None,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Find the panel and battery that meet every criterion.

    Searches whole strings of the file's module (W) and battery unit (Ah), as far as
    [sizing] allows, picks the cheapest and prints a hand worksheet beside it. Exit code
    1 when nothing in reach meets the criteria.
    """
    from powerbudget.report.files import PICTURES, check_target

    check_form(as_json, as_csv)
    if plot:
        check_target(plot, PICTURES)

    from powerbudget.sizing.search import size

    design = load_design(site)
    with naming(site):
        result = size(design, _progress if sys.stderr.isatty() else None)
    name = design.tables.site.name
    if plot:
        from powerbudget.report.charts import frontier_chart
        from powerbudget.report.text import remark

        frontier_chart(result, name, plot)
        remark(f"Drew {plot}.")
    if as_json:
        print_json(
            {
                "pick": result.pick and _row(result.pick),
                "frontier": [_row(c) for c in result.frontier],
                "binding": result.binding,
                "ranked_by": result.rule,
                "worksheet": result.worksheet,
                "findings": result.findings,
            }
        )
    elif as_csv:
        print_csv([_row(c) for c in result.frontier])
    else:
        from powerbudget.report.views import size_page

        typer.echo(size_page(result, name), nl=False)
    if result.pick is None:
        raise typer.Exit(1)


def _progress(done: int, total: int) -> None:
    end = "\n" if done == total else ""
    sys.stderr.write(f"\rbatteries tried: {done} of {total}{end}")
    sys.stderr.flush()


def _row(c: Candidate) -> dict[str, Any]:
    return {
        "modules": c.modules,
        "array_strings": c.array_strings,
        "array_w": c.array_w,
        "battery_units": c.battery_units,
        "battery_strings": c.battery_strings,
        "battery_ah": c.battery_ah,
        "cost": c.cost,
        "availability_frac": c.availability_frac,
        "lowest_soc_frac": c.lowest_soc_frac,
    }
