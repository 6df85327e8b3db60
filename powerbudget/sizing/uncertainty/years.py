"""Where the years of an ensemble come from: made from figures, or of the record."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from powerbudget.balance.problem import Problem
from powerbudget.errors import Fault, Finding, InputError
from powerbudget.quantities import count
from powerbudget.site.ensemble import Spread
from powerbudget.sizing.uncertainty.members import (
    Draws,
    Rows,
    SeasonSource,
    make_season_source,
    parted,
    season_rows,
    season_source_of,
)
from powerbudget.weather.record import cut

if TYPE_CHECKING:
    from powerbudget.weather.synthesis import MonthlySky

MOST_YEARS = 20_000
MOST_RESULTS = 3_000_000
FEWEST_SEASONS = 3
ENOUGH_SEASONS = 10
BLOCK, PART = 250, 25
"""Years made at once, and laid out at once, so that memory holds them [count]."""


def seed_faults(seed: int) -> list[Fault]:
    """Return what is wrong with a seed, nothing where it can be used.

    Parameters
    ----------
    seed
        What repeats a draw [count].
    """
    if seed >= 0:
        return []
    return [Fault("--seed", "is below zero", str(seed), "0 or a whole number")]


def check_years(years: int, sizes: int) -> None:
    """Refuse a number of years that cannot be used [count].

    Raises
    ------
    InputError
        With what is allowed.
    """
    fault = None
    if years < 1:
        fault = Fault("--ensemble", "needs at least one year", str(years), "1 or more")
    elif years > MOST_YEARS or years * max(1, sizes) > MOST_RESULTS:
        most = min(MOST_YEARS, MOST_RESULTS // max(1, sizes))
        fault = Fault(
            "--ensemble", "is more than memory holds",
            count(years, "year"), f"up to {most:,}",
            "1,000 years give a 99 % size to within 0.3 %",
        )  # fmt: skip
    if fault:
        raise InputError(fault)


def source_of_years(problem: Problem, spread: Spread) -> str:
    """Return whether years are ``made`` or come from the ``record`` [text].

    Raises
    ------
    InputError
        When the record was asked for and has too few seasons.
    """
    record = problem.record
    winters = len(season_rows(record))
    if spread.years_from == "record":
        if winters < FEWEST_SEASONS and not _only_year(spread):
            raise InputError(
                Fault(
                    "ensemble.years_from", "has too few winters to draw from",
                    count(winters, "whole winter"),
                    f"{FEWEST_SEASONS} or more whole winters",
                    'use years_from = "made", or join more years of weather data',
                )
            )  # fmt: skip
        return "record"
    if spread.years_from == "made" or record.synthetic or record.typical_year:
        return "made"
    return "record" if winters >= ENOUGH_SEASONS else "made"


def _only_year(spread: Spread) -> bool:
    """Return whether nothing is varied, so that one year is no sample of anything."""
    ranges = (spread.load_to_maximum_frac, spread.more_soiling_frac)
    return not any(ranges) and spread.cold_curves == "own"


def snowy(problem: Problem) -> bool:
    """Return whether the site file counts snow on its panels."""
    snow = problem.design.tables.array.snow
    return snow is not None and snow.cover != "none"


class Skies:
    """Gives the years in parts, so that a thousand of them fit into memory."""

    def __init__(self, problem: Problem, how: str, years: int, seed: int) -> None:
        self.problem, self.how, self.years, self.seed = problem, how, years, seed
        self.own = season_source_of(problem) if how == "record" else None
        self.figures = _monthly_figures(problem) if how == "made" else None
        self.source = self.figures.source if self.figures else problem.record.source

    def parts(self, draws: Draws) -> Iterator[tuple[range, SeasonSource, list[Rows]]]:
        """Give members, their sky and their seasons' rows, part by part."""
        if self.own is not None:
            for some in parted(self.years, PART):
                yield (
                    some,
                    self.own,
                    [self.own.seasons[draws.season[member]] for member in some],
                )
            return
        for block in parted(self.years, BLOCK):
            for some, sky in self._made(block):
                yield some, sky, list(sky.seasons)

    def _made(self, block: range) -> Iterator[tuple[range, SeasonSource]]:
        from powerbudget.weather.synthesis import synthesise

        figures = self.figures
        assert figures is not None
        stream = np.random.SeedSequence([self.seed, 1000 + block.start])
        number = int(stream.generate_state(1)[0])
        north = figures.latitude_deg >= 0
        record = synthesise(figures, len(block) + north, number)
        # A made year has 365 days; in the north a season begins on 1 July.
        first = 181 * 24 * north
        for some in parted(len(block), PART):
            rows = slice(first + some.start * 8760, first + some.stop * 8760)
            piece = replace(cut(record, rows), findings=())
            sky = make_season_source(self.problem.design, piece, self.problem.bank)
            yield range(block.start + some.start, block.start + some.stop), sky


def _monthly_figures(problem: Problem) -> MonthlySky:
    """Return the monthly figures that years are made from."""
    from powerbudget.weather.site_record import sky_of_table
    from powerbudget.weather.synthesis import monthly_sky_from

    tables = problem.design.tables
    if tables.weather.monthly is not None and problem.record.synthetic:
        return sky_of_table(tables.weather.monthly, tables.site)
    return monthly_sky_from(problem.record)


def year_findings(skies: Skies) -> list[Finding]:
    """Return what is doubtful about the years [list].

    Returns
    -------
    list of Finding
        Made years are too kind; few real ones are drawn over and over.
    """
    if skies.own is not None:
        winters = len(skies.own.seasons)
        if winters >= ENOUGH_SEASONS:
            return [
                Finding(
                    "note",
                    f"Trials repeat {count(winters, 'actual winter')}: the standard error "
                    "counts trials, not winters. A worse winter cannot occur.",
                )
            ]
        return [
            Finding(
                "warning",
                f"Trials repeat {count(winters, 'different winter')}: a winter that is not among "
                "them cannot occur.",
            )
        ]
    found = [
        Finding(
            "warning",
            "Synthetic years overestimate the 10-day minimum GHI: by 16 % in the median "
            "year, by 27 % at a return period of 10 yr (18 measured years at 39° N). "
            "Add a margin, or use actual years.",
        )
    ]
    if skies.figures is not None and skies.figures.year_to_year_frac is None:
        found.append(
            Finding(
                "warning",
                "Winters differ by day-to-day chance only: one year, or a table without "
                "year_to_year, does not state their variability.",
            )
        )
    return found
