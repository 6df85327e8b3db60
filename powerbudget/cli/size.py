"""`powerbudget size`: panel and battery needed."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from powerbudget.cli.answer import Asked as Shown
from powerbudget.cli.answer import (
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
from powerbudget.cli.ensemble import (
    EnsembleAsked,
    EnsembleOption,
    Further,
    PlotEnsembleOption,
    PlotReliabilityOption,
    ReliabilityOption,
    SeedOption,
    further,
)
from powerbudget.errors import Fault, InputError

NESTED = ("failed", "verdicts")
"""Keys of a design that do not fit a cell."""

if TYPE_CHECKING:
    from powerbudget.report.document.blocks import Section
    from powerbudget.report.document.package import Package
    from powerbudget.report.sections.sources import Sources
    from powerbudget.site.reader import Design
    from powerbudget.sizing.from_nothing import FromNothing
    from powerbudget.sizing.search import Sizing
    from powerbudget.sizing.tilt import TiltSearch


def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    site: SiteArgument = None,
    plot: Annotated[
        Path | None,
        plot_option("Draw the frontier of panel against battery into this file"),
    ] = None,
    plot_worksheet: Annotated[
        Path | None,
        plot_option(
            "Draw hand worksheet against hourly record, one assumption at a time, into this file",
            "--plot-worksheet",
        ),
    ] = None,
    tilt: Annotated[
        str | None,
        typer.Option(
            "--tilt",
            metavar="search|auto|ANGLES",
            help="'search' turns the panel for its worst weeks before sizing; an angle "
            "such as '70 deg' takes the place of the site file's; several ('50 65 80 "
            "deg'), or 'auto' (latitude and 15 deg less, 15 and 30 deg more), are all "
            "tried with every size.",
            show_default=False,
        ),
    ] = None,
    beginning: Annotated[
        bool,
        typer.Option(
            "--beginning-of-life",
            help="Size for the battery as the site file has it, not for what is left of "
            "it at end of life; takes the place of [sizing] battery_age.",
        ),
    ] = False,
    chemistry: Annotated[
        list[str] | None,
        typer.Option(
            "--chemistry",
            metavar="NAME",
            help="Try only this chemistry for a battery that the file leaves open; once "
            "for each. Those that want water are not tried unless asked for here.",
            show_default=False,
        ),
    ] = None,
    years: EnsembleOption = None,
    seed: SeedOption = 1,
    reliability: ReliabilityOption = False,
    plot_ensemble: PlotEnsembleOption = None,
    plot_reliability: PlotReliabilityOption = None,
    feasible: Annotated[
        bool, flag("--feasible", "Print every size that passes.")
    ] = False,
    worksheet: Annotated[
        bool, flag("--worksheet", "Print the hand worksheet.")
    ] = False,
    against: Annotated[
        bool, flag("--compare-worksheet", "Print worksheet against simulation.")
    ] = False,
    next_step: Annotated[
        bool, flag("--next-step", "Print what one more string adds.")
    ] = False,
    findings: FindingsOption = False,
    cautions: CautionsOption = False,
    full: FullOption = False,
    quiet: QuietOption = False,
    write: Annotated[
        bool,
        typer.Option(
            "--write",
            help="Put the pick into the site file: [array], [charge_controller] and "
            "[battery]; comments stay.",
        ),
    ] = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Find the panel and battery that meet every criterion.

    Sizes for the battery at end of life and when new. Searches whole strings of the
    file's module (W) and battery unit (Ah), and the tilts and strings that [sizing]
    names, hour by hour over all years. Prints the frontier,
    the cheapest, the lightest and the one of fewest parts, what one step fewer fails
    and one more buys, and a hand worksheet with what it leaves out. A file without
    [array], [battery] or [charge_controller] is sized from the parts library: every
    module and battery that the climate allows, at tilts near the latitude. Exit code 1
    when nothing in reach meets the criteria.
    """
    from powerbudget.files import PICTURES, check_target

    check_form(as_json, as_csv)
    for target in (plot, plot_worksheet):
        if target:
            check_target(target, PICTURES)
    asked = EnsembleAsked(years, seed, reliability, plot_ensemble, plot_reliability)
    asked.check()

    from powerbudget.report.document.package import Package
    from powerbudget.sizing.from_nothing import design_of
    from powerbudget.sizing.search import size

    if write and site is None:
        raise InputError(Fault("--write", "needs a site file to write into"))
    with naming(site):
        design = _open_design(site)
        design = _as_built(design) if beginning else design
        design, turned = _turned(design, tilt)
        left_open, begun = design.left_open, _begun(design, tuple(chemistry or ()))
        if begun is not None and begun.pick is None:
            _nothing(begun, as_json=as_json, as_csv=as_csv)
            raise typer.Exit(1)
        design = design_of(begun.pick) if begun and begun.pick else design
        package = Package(design)
        result = size(package.problem, _progress if sys.stderr.isatty() else None)
        package = package.but(sizing=result, turned=turned, begun=begun)
        more = further(result.problem, asked, result.as_mounted)
    name = design.tables.site.name
    _draw(result, name, plot, plot_worksheet)
    more.draw(asked, name, result.currency)
    if as_json:
        from powerbudget.report import answers

        found = answers.answer(answers.SIZE, package)
        print_json({**found, **more.json()})
    elif as_csv:
        from powerbudget.report import answers

        rows = [answers.answer(answers.SIZE_ROW, c) for c in result.frontier]
        plain = [{k: row[k] for k in row if k not in NESTED} for row in rows]
        print_csv(more.rows() or plain)
    else:
        parts = asked_parts(frontier=feasible, worksheet_lines=worksheet, disagreement=against,
                            assumptions_replaced=against, one_more=next_step,
                            tilt=turned is not None, odds=years is not None,
                            reliability=reliability)  # fmt: skip
        _print(
            package,
            more,
            Shown(parts, full, findings, cautions, quiet),
        )
    if write and site and result.pick:
        _write(site, result, left_open)
    if result.pick is None:
        raise typer.Exit(1)


def _open_design(site: Path | None) -> Design:
    """Return the design of a file, which may leave array and battery to be found."""
    if site is None:
        return load_design(site)
    from powerbudget.site.reader import read_open_site

    return read_open_site(site)


def _begun(design: Design, asked: tuple[str, ...]) -> FromNothing | None:
    """Return what the parts library gives for a file that leaves parts open."""
    if not asked and not {"array", "battery"} & set(design.left_open):
        return None
    from powerbudget.sizing.from_nothing import size_from_nothing

    pairs = (lambda d, t: _progress(d, t, "parts")) if sys.stderr.isatty() else None
    return size_from_nothing(design, pairs, asked)


def _nothing(begun: FromNothing, *, as_json: bool, as_csv: bool) -> None:
    """Print what was tried where no pair of parts will do."""
    from powerbudget.report import answers
    from powerbudget.report.render.terminal import section_text
    from powerbudget.report.sections.sizing import tried_section

    found = answers.answer(answers.FROM_NOTHING, begun)
    if as_json:
        print_json({"pick": None, "from_nothing": found})
    elif as_csv:
        print_csv(found["tried"])
    else:
        typer.echo(section_text(tried_section(begun)), nl=False)


def _write(site: Path, result: Sizing, left_open: tuple[str, ...]) -> None:
    """Put the pick into the site file."""
    from powerbudget.cli.common import remark
    from powerbudget.files import write_text
    from powerbudget.reading import PAGE_BYTES, read_text
    from powerbudget.site.write_design import with_tables
    from powerbudget.sizing.from_nothing import tables_of

    pick = result.pick
    assert pick is not None
    tables = tables_of(result.problem.design, pick, left_open)
    text = with_tables(
        read_text(site, PAGE_BYTES, Fault(str(site), "")),
        tables,
        site,
        "found by `powerbudget size`",
    )
    write_text(site, text)
    remark(f"Wrote the pick into {site}.")


def _as_built(design: Design) -> Design:
    """Return the design asked to meet its criteria with the battery as built only."""
    tables = design.tables
    if tables.criteria.at_end_of_life:
        raise InputError(
            Fault(
                "--beginning-of-life",
                "contradicts criteria.at_end_of_life = true",
                advice="leave one of the two out",
            )
        )
    steps = tables.sizing.model_copy(update={"battery_age": "beginning-of-life"})
    return replace(design, tables=tables.model_copy(update={"sizing": steps}))


def _draw(
    result: Sizing, name: str, plot: Path | None, plot_worksheet: Path | None
) -> None:
    from powerbudget.cli.common import remark
    from powerbudget.report.charts.size import frontier_chart, worksheet_chart

    for target, chart in ((plot, frontier_chart), (plot_worksheet, worksheet_chart)):
        if target:
            chart(result, name, target)
            remark(f"Drew {target}.")


def _print(package: Package, more: Further, asked: Shown) -> None:
    from powerbudget.checks.cautions import cautions
    from powerbudget.report.render.terminal import section_text
    from powerbudget.report.screens.size import size_screen
    from powerbudget.report.sections.registry import SIZE, built
    from powerbudget.report.sections.sizing import tilt_section, tried_section

    begun, turned = package.begun, package.turned
    if begun:
        typer.echo(section_text(tried_section(begun)))

    def build(sources: Sources) -> list[Section | None]:
        first = [tilt_section(turned)] if turned else []
        return [*first, *built(SIZE, package, sources),
                *more.sections(package.search.currency)]  # fmt: skip

    answer(size_screen(package), asked, build, cautions(package.run.bank))


def _turned(design: Design, tilt: str | None) -> tuple[Design, TiltSearch | None]:
    """Return the design as the option wants it to stand, and the search if any."""
    if tilt is None:
        return design, None
    from powerbudget.sizing.tilt import search_tilt, turned_design

    if tilt.strip().lower() == "search":
        from powerbudget.balance.problem import prepare

        found = search_tilt(prepare(design))
        return turned_design(design, found.pick.tilt_deg, found.pick.azimuth_deg), found
    from powerbudget.sizing.tilt import tilted_design

    return tilted_design(design, tilt), None


def _progress(done: int, total: int, what: str = "batteries") -> None:
    end = "\n" if done == total else ""
    sys.stderr.write(f"\r{what} tried: {done} of {total}{end}")
    sys.stderr.flush()
