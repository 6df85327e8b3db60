"""`powerbudget size`: panel and battery needed."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from powerbudget.cli.answer import Asked, Part, drawn, flat, tell, verb
from powerbudget.cli.common import (
    SiteArgument,
    load_design,
    naming,
    option,
    plot_option,
    print_csv,
    print_json,
    remark,
)  # fmt: skip
from powerbudget.cli.ensemble import EnsembleOption, SeedOption, progress
from powerbudget.errors import Fault, InputError

if TYPE_CHECKING:
    from powerbudget.report.document.blocks import Section
    from powerbudget.report.document.package import Package
    from powerbudget.report.sections.sources import Sources
    from powerbudget.site.reader import Design
    from powerbudget.sizing.from_nothing import FromNothing
    from powerbudget.sizing.search import Sizing
    from powerbudget.sizing.tilt import TiltSearch
    from powerbudget.sizing.uncertainty.monte_carlo import Ensemble
    from powerbudget.sizing.uncertainty.reliability import Reliability
    from powerbudget.sizing.uncertainty.sensitivity import Influential


@verb(
    Part("--feasible", "Print every size that passes.", ("frontier",)),
    Part("--worksheet", "Print the sizing worksheet.", ("worksheet-lines",)),
    Part("--compare-worksheet", "Print worksheet against simulation.",
         ("disagreement", "assumptions-replaced")),
    Part("--next-step", "Print the marginal benefit of one more string.", ("one-more",)),
    Part("--reliability", "Print loss-of-load probability, outages per year, and iso-reliability "
"curves over array (A:L) and storage (days).",
         ("reliability",)),
    Part("--sensitivity", "Print the ten inputs that change the recommended size most, each at its "
"low and high end.", ("register",)),
)  # fmt: skip
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    asked: Asked,
    site: SiteArgument = None,
    plot: Annotated[
        Path | None,
        plot_option("Draw array and battery sizes that pass into this file"),
    ] = None,
    plot_worksheet: Annotated[
        Path | None,
        plot_option(
            "Draw worksheet and simulation, one input at a time, into this file",
            "--plot-worksheet",
        ),
    ] = None,
    tilt: Annotated[
        str | None,
        option(
            "--tilt",
            "'search' optimizes the tilt for the worst weeks before sizing; an angle "
            "such as '70 deg' replaces that of the site file; several ('50 65 80 "
            "deg'), or 'auto' (latitude and 15 deg less, 15 and 30 deg more), are "
            "tried with every size.",
            "search|auto|ANGLES",
        ),
    ] = None,
    beginning: Annotated[
        bool,
        option(
            "--beginning-of-life",
            "Size for the battery as specified, not for end of life; replaces "
            "[sizing] battery_age.",
        ),
    ] = False,
    chemistry: Annotated[
        list[str] | None,
        option(
            "--chemistry",
            "Try only this chemistry where the file leaves the battery open; "
            "repeatable. Chemistries that need water are tried only if named here.",
            "NAME",
        ),
    ] = None,
    years: EnsembleOption = None,
    seed: SeedOption = 1,
    plot_ensemble: Annotated[
        Path | None,
        plot_option(
            "With --monte-carlo, draw probability by size and input influence into "
            "this file",
            "--plot-ensemble",
        ),
    ] = None,
    plot_reliability: Annotated[
        Path | None,
        plot_option(
            "With --reliability, draw iso-reliability curves and outages by length "
            "into this file",
            "--plot-reliability",
        ),
    ] = None,
    write: Annotated[
        bool,
        option(
            "--write",
            "Write the recommended size into the site file: [array], "
            "[charge_controller] and [battery]; comments stay.",
        ),
    ] = False,
) -> None:
    """Size array and battery to pass every criterion.

    Sizes for the battery at end of life and when new. Tries whole strings of the module
    (W) and battery unit (Ah) of the site file, at the tilts and strings of [sizing], in
    an hourly simulation of all years. Prints the smallest passing sizes, the limiting
    criterion, the marginal benefit of one more step, and the worksheet. A file without
    [array], [battery] or [charge_controller] is sized from the parts library. Exit code
    1 when no size in the search range passes.
    """
    from powerbudget.checks.cautions import cautions
    from powerbudget.report.charts.size import frontier_chart, worksheet_chart
    from powerbudget.report.document.package import Package
    from powerbudget.report.screens.size import size_screen
    from powerbudget.sizing.from_nothing import design_of
    from powerbudget.sizing.search import size
    from powerbudget.sizing.uncertainty.sensitivity import sensitivity

    lost = "reliability" in asked.parts
    _check(years, seed, {"--plot-ensemble": (plot_ensemble, years is not None),
                         "--plot-reliability": (plot_reliability, lost)})  # fmt: skip
    if write and site is None:
        raise InputError(Fault("--write", "needs a site file to write into"))
    with naming(site):
        design = _open_design(site)
        design = _as_built(design) if beginning else design
        design, turned = _turned(design, tilt)
        left_open, begun = design.left_open, _begun(design, tuple(chemistry or ()))
        if begun is not None and begun.pick is None:
            _nothing(begun, asked)
            raise typer.Exit(1)
        design = design_of(begun.pick) if begun and begun.pick else design
        package = Package(design)
        result = size(package.problem, _progress if sys.stderr.isatty() else None)
        package = package.but(sizing=result, turned=turned, begun=begun)
        outages = _reliability(package, plot_reliability) if lost else None
        odds = None if years is None else _odds(result, (years, seed), plot_ensemble)
    name = design.tables.site.name
    drawn(plot, lambda file: frontier_chart(result, name, file))
    drawn(plot_worksheet, lambda file: worksheet_chart(result, name, file))
    asked = asked.also(*["tilt"] * bool(turned), *["odds"] * (years is not None))
    moved = sensitivity(result) if "register" in asked.parts else None
    if begun and not (asked.as_json or asked.as_csv):
        _tried(begun)
    tell(asked, "size", package, lambda: (
        size_screen(package), lambda s: _sections(package, s, (outages, odds, moved)),
        cautions(package.run.bank),
    ), odds.candidates if odds else outages.curves if outages else (),
        ensemble=odds, reliability=outages, sensitivity=moved)  # fmt: skip
    if write and site and result.pick:
        _write(site, result, left_open)
    if result.pick is None:
        raise typer.Exit(1)


def _check(
    years: int | None, seed: int, pictures: dict[str, tuple[Path | None, bool]]
) -> None:
    from powerbudget.sizing.uncertainty.years import check_years, seed_faults

    faults = seed_faults(seed)
    for option_, (file, wanted) in pictures.items():
        if file and not wanted:
            needs = option_.replace("plot-", "") + " N" * option_.endswith("ensemble")
            faults.append(Fault(option_, f"needs {needs}", str(file)))
    if faults:
        raise InputError(faults)
    if years is not None:
        check_years(years, 1)


def _reliability(package: Package, plot: Path | None) -> Reliability:
    from powerbudget.report.charts.reliability import reliability_chart
    from powerbudget.sizing.uncertainty.reliability import reliability_view

    found = reliability_view(package.search.problem)
    name = package.tables.site.name
    drawn(plot, lambda file: reliability_chart(found, name, file))
    return found


def _odds(result: Sizing, drawn_by: tuple[int, int], plot: Path | None) -> Ensemble:
    from powerbudget.report.charts.monte_carlo import ensemble_chart
    from powerbudget.sizing.uncertainty.monte_carlo import ensemble

    shown = progress if sys.stderr.isatty() else None
    found = ensemble(result.problem, *drawn_by, also=result.as_mounted, progress=shown)
    name = result.problem.design.tables.site.name
    drawn(plot, lambda file: ensemble_chart(found, name, file, result.currency))
    return found


def _sections(
    package: Package,
    sources: Sources,
    more: tuple[Reliability | None, Ensemble | None, tuple[Influential, ...] | None],
) -> list[Section | None]:
    from powerbudget.report.sections.registry import SIZE, built
    from powerbudget.report.sections.sizing import tilt_section
    from powerbudget.report.sections.uncertainty import (
        ensemble_section,
        influence_section,
        reliability_section,
    )  # fmt: skip

    lost, odds, moved = more
    return [
        tilt_section(package.turned) if package.turned else None,
        *built(SIZE, package, sources),
        reliability_section(lost) if lost else None,
        ensemble_section(odds, package.search.currency) if odds else None,
        influence_section(moved, package.search) if moved else None,
    ]


def _tried(begun: FromNothing) -> None:
    from powerbudget.report.render.terminal import section_text
    from powerbudget.report.sections.sizing import tried_section

    typer.echo(section_text(tried_section(begun)), nl=begun.pick is not None)


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


def _nothing(begun: FromNothing, asked: Asked) -> None:
    from powerbudget.report import answers

    found = answers.answer(answers.FROM_NOTHING, begun)
    if asked.as_json:
        print_json({"pick": None, "from_nothing": found})
    elif asked.as_csv:
        print_csv([flat(row) for row in found["tried"]])
    else:
        _tried(begun)


def _write(site: Path, result: Sizing, left_open: tuple[str, ...]) -> None:
    """Put the pick into the site file."""
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
        "sized by `powerbudget size`",
    )
    write_text(site, text)
    remark(f"Wrote the recommended size into {site}.")


def _as_built(design: Design) -> Design:
    """Return the design asked to meet its criteria with the battery as built only."""
    from powerbudget.site.scenario import Scenario

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
    return Scenario(sizing=steps).site(design)


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
