"""What `size` can be asked for beyond the frontier: an ensemble, reliability."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from powerbudget.site.reader import Design

EnsembleOption = Annotated[
    int | None,
    typer.Option(
        "--ensemble",
        metavar="N",
        help="Run every size through N seasons with weather, load, cold curve, dirt and "
        "snow drawn anew: probability of meeting the target, sizes at 50, 90 and 99 %, "
        "and what matters most. 1000 seasons take about a minute.",
        show_default=False,
    ),
]
SeedOption = Annotated[
    int,
    typer.Option(
        "--seed",
        metavar="WHOLE NUMBER",
        help="Repeats an ensemble: the same seed gives the same answer.",
    ),
]
ReliabilityOption = Annotated[
    bool,
    typer.Option(
        "--reliability",
        help="Loss-of-load probability, outages a year and their length, and curves of "
        "equal reliability over array (ratio) and storage (days).",
    ),
]


@dataclass(frozen=True)
class Further:
    """Answers on top of the search, each under its key.

    Parameters
    ----------
    answers
        Key of the JSON object to result.
    pages
        Each as text.
    draw
        Draws the last of them, None when there is none.
    """

    answers: dict[str, Any]
    pages: list[str]
    draw: Callable[[Path], None] | None

    @property
    def rows(self) -> list[dict[str, Any]] | None:
        """Rows for ``--csv`` in place of the frontier, None when there is nothing."""
        from dataclasses import asdict

        if "ensemble" in self.answers:
            return [asdict(c) for c in self.answers["ensemble"].candidates]
        if "reliability" in self.answers:
            return [asdict(p) for p in self.answers["reliability"].curves]
        return None


def check_further(years: int | None, seed: int) -> None:
    """Refuse what cannot be used before anything is computed."""
    from powerbudget.errors import Fault, InputError

    if seed < 0:
        fault = Fault("--seed", "is below zero", str(seed), "0 or a positive number")
        raise InputError(fault)
    if years is not None:
        from powerbudget.sizing.years import check_years

        check_years(years, 1)


def further(
    design: Design,
    *,
    years: int | None,
    seed: int,
    reliability: bool,
    also: list[tuple[int, int]],
) -> Further:
    """Return what was asked for on top of the search.

    Parameters
    ----------
    design
        The site, turned as ``--tilt`` wants it.
    years, seed, reliability
        The options.
    also
        Sizes of the search, tried in the ensemble as well [count].

    Returns
    -------
    Further
        Empty where nothing was asked for.
    """
    found = Further({}, [], None)
    if reliability:
        found = _reliability(design)
    if years is not None:
        found = _ensemble(design, years, seed, also, found)
    return found


def _ensemble(
    design: Design, years: int, seed: int, also: list[tuple[int, int]], so_far: Further
) -> Further:
    from powerbudget.report.ensemble_page import ensemble_page
    from powerbudget.sizing.ensemble import ensemble

    tables = design.tables
    name, currency = tables.site.name, tables.costs.currency if tables.costs else ""
    progress = _progress if sys.stderr.isatty() else None
    result = ensemble(design, years, seed, also=also, progress=progress)

    def draw(path: Path) -> None:
        from powerbudget.report.ensemble_chart import ensemble_chart

        ensemble_chart(result, name, path, currency)

    return Further(
        {**so_far.answers, "ensemble": result},
        [*so_far.pages, ensemble_page(result, name, currency)],
        draw,
    )


def _reliability(design: Design) -> Further:
    from powerbudget.balance.simulation import prepare_aged
    from powerbudget.report.reliability_page import reliability_page
    from powerbudget.sizing.reliability import reliability_view

    name = design.tables.site.name
    result = reliability_view(prepare_aged(design))

    def draw(path: Path) -> None:
        from powerbudget.report.reliability_chart import reliability_chart

        reliability_chart(result, name, path)

    return Further({"reliability": result}, [reliability_page(result, name)], draw)


def _progress(done: int, total: int) -> None:
    width = 30
    filled = width * done // total
    end = "\n" if done == total else ""
    sys.stderr.write(
        f"\rseasons: [{'#' * filled}{'.' * (width - filled)}] {done:,} of {total:,}{end}"
    )
    sys.stderr.flush()
