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
    from powerbudget.site.reader import Design
    from powerbudget.sizing.search import Candidate, Sizing
    from powerbudget.sizing.tilt import TiltSearch


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
    tilt: Annotated[
        str | None,
        typer.Option(
            "--tilt",
            metavar="search|ANGLE",
            help="'search' turns the panel for its worst weeks before sizing; an angle "
            "such as '70 deg' takes the place of the site file's.",
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

    with naming(site):
        design, turned = _turned(load_design(site), tilt)
        result = size(design, _progress if sys.stderr.isatty() else None)
    name = design.tables.site.name
    if plot:
        from powerbudget.report.charts import frontier_chart
        from powerbudget.report.text import remark

        frontier_chart(result, name, plot)
        remark(f"Drew {plot}.")
    if as_json:
        print_json(_json(design, result, turned))
    elif as_csv:
        print_csv([_row(c) for c in result.frontier])
    else:
        _page(result, turned, name)
    if result.pick is None:
        raise typer.Exit(1)


def _json(design: Design, result: Sizing, turned: TiltSearch | None) -> dict[str, Any]:
    array = design.tables.array
    return {
        "pick": result.pick and _row(result.pick),
        "frontier": [_row(c) for c in result.frontier],
        "binding": result.binding,
        "ranked_by": result.rule,
        "worksheet": result.worksheet,
        "findings": result.findings,
        "tilt": turned,
        "tilt_deg": array.tilt_deg,
        "azimuth_deg": array.azimuth_deg,
    }


def _page(result: Sizing, turned: TiltSearch | None, name: str) -> None:
    from powerbudget.report.views import size_page

    if turned is not None:
        from powerbudget.report.tilt import tilt_page

        typer.echo(tilt_page(turned))
    typer.echo(size_page(result, name), nl=False)


def _turned(design: Design, tilt: str | None) -> tuple[Design, TiltSearch | None]:
    """Return the design as the option wants it to stand, and the search if any."""
    if tilt is None:
        return design, None
    from powerbudget.sizing.tilt import search_tilt, turned_design

    if tilt.strip().lower() == "search":
        from powerbudget.balance.problem import prepare

        found = search_tilt(prepare(design))
        return turned_design(design, found.pick.tilt_deg, found.pick.azimuth_deg), found
    from powerbudget.errors import Fault, InputError
    from powerbudget.quantities import QuantityError, parse

    try:
        angle = parse(tilt, "deg")
    except QuantityError as exc:
        raise InputError(
            Fault("--tilt", "is neither 'search' nor an angle", tilt, "'70 deg'")
        ) from exc
    if not 0.0 <= angle <= 90.0:
        raise InputError(Fault("--tilt", "is out of range", tilt, "0 to 90 deg"))
    return turned_design(design, angle, design.tables.array.azimuth_deg), None


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
        "lowest_soc_at": c.lowest_soc_at,
        "first_outage_at": c.lost_at,
    }
