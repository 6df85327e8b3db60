"""What `size` can be asked for beyond the frontier: an ensemble, reliability."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from powerbudget.balance.problem import Problem
    from powerbudget.report.document.blocks import Section
    from powerbudget.sizing.uncertainty.monte_carlo import Ensemble
    from powerbudget.sizing.uncertainty.reliability import Reliability

EnsembleOption = Annotated[
    int | None,
    typer.Option(
        "--monte-carlo",
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


PlotEnsembleOption = Annotated[
    Path | None,
    typer.Option(
        "--plot-ensemble",
        metavar="FILE",
        help="Draw probability by size and what matters most into this file (.png, "
        ".svg or .pdf); with --ensemble.",
        show_default=False,
    ),
]
PlotReliabilityOption = Annotated[
    Path | None,
    typer.Option(
        "--plot-reliability",
        metavar="FILE",
        help="Draw curves of equal reliability and outages by length into this file "
        "(.png, .svg or .pdf); with --reliability.",
        show_default=False,
    ),
]


@dataclass(frozen=True)
class EnsembleAsked:
    """What `size` is asked beyond the frontier.

    Parameters
    ----------
    years, seed
        Of the ensemble; no years, no ensemble [count].
    reliability
        Whether lost load and its curves are wanted.
    plot_ensemble, plot_reliability
        Pictures to draw, None for none.
    """

    years: int | None
    seed: int
    reliability: bool
    plot_ensemble: Path | None
    plot_reliability: Path | None

    def check(self) -> None:
        """Refuse what cannot be used before anything is computed."""
        from powerbudget.errors import Fault, InputError
        from powerbudget.files import PICTURES, check_target
        from powerbudget.sizing.uncertainty.years import check_years, seed_faults

        faults = seed_faults(self.seed)
        for given, wanted, option, needs in (
            (self.plot_ensemble, self.years, "--plot-ensemble", "--ensemble N"),
            (
                self.plot_reliability,
                self.reliability,
                "--plot-reliability",
                "--reliability",
            ),
        ):
            if given and wanted in (None, False):
                faults.append(Fault(option, f"needs {needs}", str(given)))
        if faults:
            raise InputError(faults)
        for target in (self.plot_ensemble, self.plot_reliability):
            if target:
                check_target(target, PICTURES)
        if self.years is not None:
            check_years(self.years, 1)


@dataclass(frozen=True)
class Further:
    """Answers on top of the search.

    Parameters
    ----------
    ensemble, reliability
        None where not asked for.
    """

    ensemble: Ensemble | None = None
    reliability: Reliability | None = None

    def json(self) -> dict[str, Any]:
        """Return the answers under their keys."""
        answers = {"ensemble": self.ensemble, "reliability": self.reliability}
        return {key: value for key, value in answers.items() if value is not None}

    def rows(self) -> list[dict[str, Any]]:
        """Return rows for ``--csv`` in place of the frontier, empty without any."""
        from dataclasses import asdict

        if self.ensemble is not None:
            rows = [asdict(size) for size in self.ensemble.candidates]
            return [
                {**row, "fails_on_record": "; ".join(row["fails_on_record"])}
                for row in rows
            ]
        points = self.reliability.curves if self.reliability else ()
        return [asdict(point) for point in points]

    def sections(self, currency: str) -> list[Section]:
        """Return each answer as a section."""
        from powerbudget.report.sections.uncertainty import (
            ensemble_section,
            reliability_section,
        )

        lost, odds = self.reliability, self.ensemble
        found = [reliability_section(lost)] if lost else []
        return found + ([ensemble_section(odds, currency)] if odds else [])

    def draw(self, asked: EnsembleAsked, name: str, currency: str) -> None:
        """Draw the pictures that were asked for."""
        from powerbudget.cli.common import remark

        if asked.plot_reliability and self.reliability is not None:
            from powerbudget.report.charts.reliability import reliability_chart

            reliability_chart(self.reliability, name, asked.plot_reliability)
            remark(f"Drew {asked.plot_reliability}.")
        if asked.plot_ensemble and self.ensemble is not None:
            from powerbudget.report.charts.monte_carlo import ensemble_chart

            ensemble_chart(self.ensemble, name, asked.plot_ensemble, currency)
            remark(f"Drew {asked.plot_ensemble}.")


def further(
    problem: Problem, asked: EnsembleAsked, also: list[tuple[int, int]]
) -> Further:
    """Return what was asked for on top of the search.

    Parameters
    ----------
    problem
        The site as the search left it.
    asked
        The options.
    also
        Sizes of the search, tried in the ensemble as well [count].

    Returns
    -------
    Further
        Empty where nothing was asked for.
    """
    lost = odds = None
    if asked.reliability:
        from powerbudget.sizing.uncertainty.reliability import reliability_view

        lost = reliability_view(problem)
    if asked.years is not None:
        from powerbudget.sizing.uncertainty.monte_carlo import ensemble

        progress = _progress if sys.stderr.isatty() else None
        odds = ensemble(problem, asked.years, asked.seed, also=also, progress=progress)
    return Further(odds, lost)


def _progress(done: int, total: int) -> None:
    width = 30
    filled = width * done // total
    end = "\n" if done == total else ""
    sys.stderr.write(
        f"\rseasons: [{'#' * filled}{'.' * (width - filled)}] {done:,} of {total:,}{end}"
    )
    sys.stderr.flush()
