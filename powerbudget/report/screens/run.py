"""First screen of `run`: criteria, worst period and its cause, end of life."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.limits import printed
from powerbudget.quantities import in_unit, plain, show
from powerbudget.report.document.words import (
    AVAILABILITY,
    charge_words,
    criterion_name,
    figure_words,
    found_and_needed,
    percent,
)
from powerbudget.report.screens.layout import Screen, first_line, wrap
from powerbudget.report.screens.site import site_lines
from powerbudget.report.sections.design import (
    at,
    cause_words,
    length_words,
    remedy_words,
)
from powerbudget.sizing.criteria import asked_for

if TYPE_CHECKING:
    from powerbudget.balance.generation import GeneratorYear
    from powerbudget.balance.simulation import Simulation
    from powerbudget.report.document.package import Package
    from powerbudget.sizing.criteria import Verdict

OPTIONS = (
    "--monthly --outages --battery --losses --end-of-life --autonomy --findings --full "
    "--json"
)
LABEL = 20


def run_screen(package: Package) -> Screen:
    """Return what a simulation answers, on one screen.

    Parameters
    ----------
    package
        All results; the search is not asked for.
    """
    asked = sorted(asked_for(package.verdicts), key=lambda v: v.met)
    failed = sum(not v.met for v in asked)
    result = (
        f"{'FAIL' if failed else 'PASS'}   {failed} FAIL, {len(asked) - failed} PASS"
    )
    name, run = package.tables.site.name, package.run
    first = first_line("RUN", name, result)

    def body() -> list[str]:
        return [*site_lines(run), "", *criteria_lines(asked, run), "", *_lost(run),
                *_period(package), *_afterwards(package)]  # fmt: skip

    return Screen(first, body, package.run_findings, OPTIONS)


def criteria_lines(verdicts: list[Verdict], run: Simulation) -> list[str]:
    """Return the criteria as a table: calculated, limit, margin, result and when.

    Parameters
    ----------
    verdicts, run
        In the order to print, and the simulation that they judge.
    """
    lines = [f"{'Criterion':31}{'calculated':>13}{'limit':>12}{'margin':>12}   result"]
    for v in verdicts:
        found, limit = found_and_needed(v)
        sign = "" if v.name == AVAILABILITY or not v.needed else (
            "≥ " if v.sense == "lower" else "≤ ")  # fmt: skip
        lines.append(
            f"{criterion_name(v, run):31}{found:>13}{sign + limit:>12}"
            f"{printed(v.held, found, limit):>12}   {'PASS' if v.met else 'FAIL'}   "
            + _when(v, run)
        )
    return lines


def _when(v: Verdict, run: Simulation) -> str:
    if v.name == "maximum DOD":
        return at(run, run.lowest_soc_at)
    if v.name.startswith("array-to-load") and run.array_to_load.single is not None:
        return f"lowest month {run.array_to_load.single:.2f}"
    return ""


def _lost(run: Simulation) -> list[str]:
    """Return when the battery froze, nothing where it never did."""
    if run.frost.lost_index < 0:
        return []
    return wrap(
        "Frozen battery",
        f"battery destroyed on {at(run, run.frost.lost_at)}; later figures assume "
        "a working battery",
        LABEL,
    )


def _period(package: Package) -> list[str]:
    """Return outages, cause and remedy, or the worst period of a run without any."""
    run = package.run
    cause = cause_words(run)
    remedy = "" if package.met else remedy_words(package)
    told = wrap("Remedy", remedy, LABEL) if remedy else []
    if not run.outages:
        return [*wrap("Worst period", cause, LABEL), *told]
    long = max(run.outages, key=lambda outage: outage.hours)
    said = (
        f"{len(run.outages):,} in {plain(run.problem.record.years, 3, 'yr')}, "
        f"{in_unit(run.hours_off_by_tier[0], 'h')}; "
        f"longest {length_words(long.hours / 24)} from {at(run, long.start)}"
    )
    return [*wrap("Outages", said, LABEL), *wrap("Cause", cause, LABEL), *told]


def _afterwards(package: Package) -> list[str]:
    """Return what is left at the worst moment, at end of life, and battery life."""
    days, run, ahead = package.days, package.run, package.outlook
    left = f"minimum {figure_words(days.record_days, 'd')}"
    if days.record_days and days.record_start:
        left += f", from {at(run, days.record_start)}, SOC {charge_words(days.record_soc_frac)}"
    old = ahead.ages[-1]
    failed = ", ".join(old.failed)
    aged = (
        f"SOH {percent(old.health_frac, 0)}: {'FAIL (' + failed + ')' if failed else 'PASS'}"
        f"; autonomy {in_unit(old.autonomy_design_days, 'd', 1)}, minimum SOC "
        f"{charge_words(old.lowest_soc_frac)}"
    )
    life = ahead.life
    lived = f"{_years(life.calendar_life_y)} (calendar life); {_years(life.cycle_life_y)} by cycles"
    if run.frost.lost_at:
        lived = "none: freezing destroys the battery"
    lines = [
        *wrap("Remaining autonomy", f"{left} (no criterion)", LABEL),
        *wrap("End of life", aged, LABEL), *wrap("Battery life", lived, LABEL),
    ]  # fmt: skip
    return lines + [line for year in run.generation for line in wrap(
        "Fuel" if year.fuel_unit else "Generator", _fuel(year), LABEL)]  # fmt: skip


def _fuel(year: GeneratorYear) -> str:
    burnt = (
        show(year.fuel_per_year, f"{year.fuel_unit}/yr")
        if year.fuel_unit
        else "fuel none"
    )
    return f"{year.name}: {burnt}, {in_unit(year.run_h_per_year, 'h/yr')}"


def _years(years: float) -> str:
    return "over 50 yr" if years > 50 else in_unit(years, "yr")
