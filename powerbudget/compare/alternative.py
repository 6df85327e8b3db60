"""One option with all that a planner asks of it, and how it comes about."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

from powerbudget.balance.ledger import served_tiers, tier_w
from powerbudget.balance.run_findings import what_forbids
from powerbudget.balance.simulation import Simulation
from powerbudget.compare.emissions import Emission
from powerbudget.compare.lifecycle import (
    Bill,
    LifeCycle,
    Piece,
    Terms,
    cost_per_kwh,
    life_cycle,
)
from powerbudget.compare.power_line import extension_cost
from powerbudget.compare.priced_site import PricedSite
from powerbudget.compare.search import OptionSize
from powerbudget.compare.trial import Trial, generation
from powerbudget.generators.library import fuels
from powerbudget.quantities import count, in_unit
from powerbudget.sizing.candidates import lost_words
from powerbudget.sizing.criteria import Verdict

RECTIFIER_FRAC = 0.9
FROZEN = "frozen battery"
"""Criterion that a lost battery misses, said with its date instead."""


@dataclass(frozen=True)
class MonthShare:
    """Who carries the load in one calendar month.

    Parameters
    ----------
    month
        1-12.
    sun_wh_per_day, source_wh_per_day, load_wh_per_day
        Taken at the bus from panels and from other sources, and asked by the loads
        [Wh].
    """

    month: int
    sun_wh_per_day: float
    source_wh_per_day: float
    load_wh_per_day: float


@dataclass(frozen=True)
class Option:
    """One way to power the site, sized, simulated and priced.

    Parameters
    ----------
    name, title
        Key and words, fuel included [text].
    parts
        What is bought [text].
    met
        Whether every criterion is met.
    reason
        What is not met and by how much, empty when all is met [text].
    availability_frac
        Of the simulation; a power line's own outages included [fraction].
    bill, cost
        Quantities and present values; None where nothing could be simulated.
    cost_per_kwh
        Levelised cost of the energy served [currency/kWh].
    fuel, fuel_unit
        Which fuel, and ``m3`` or ``L``; empty without [text].
    emissions
        What each fuelled source emits in a year [kg].
    binding
        What stops a smaller size, and what the bank has to bridge [text].
    months
        Who carries the load.
    trial
        The size and its simulation.
    others
        Bills of further sizes that meet the criteria and are dearer today.
    """

    name: str
    title: str
    parts: str
    met: bool
    reason: str
    availability_frac: float
    bill: Bill | None
    cost: LifeCycle | None
    cost_per_kwh: float
    fuel: str
    fuel_unit: str
    emissions: tuple[Emission, ...]
    binding: str
    months: tuple[MonthShare, ...]
    trial: Trial | None
    others: tuple[Bill, ...] = ()

    @property
    def held_back(self) -> str:
        """What no size of array or battery cures, and its remedy, empty without [text].

        Of an alternative with panels: other keys of the site file would change its cost.
        """
        trial = self.trial
        return what_forbids(trial.run) if trial and trial.strings else ""

    @property
    def battery_lost_at(self) -> str:
        """When the battery froze and was lost, empty when it never did [ISO text]."""
        return self.trial.run.frost.lost_at if self.trial else ""

    @property
    def life_cycle_cost(self) -> float:
        """Present value of everything [currency]."""
        return self.cost.total if self.cost else math.nan

    @property
    def capital(self) -> float:
        """Paid before the first day [currency]."""
        return self.cost.capital if self.cost else math.nan

    @property
    def fuel_per_year(self) -> float:
        """Gas in m3, anything else in litres [m3 or L]."""
        return self.bill.fuel_per_year if self.bill else math.nan

    @property
    def deliveries_per_year(self) -> float:
        """Trips with fuel [1/year]."""
        return self.bill.deliveries_per_year if self.bill else math.nan

    @property
    def visits_per_year(self) -> float:
        """Trips of any kind: people and fuel [1/year]."""
        if self.bill is None:
            return math.nan
        return self.bill.visits_per_year + self.bill.deliveries_per_year

    @property
    def co2e_kg_per_year(self) -> float:
        """Emitted, as CO2 [kg]."""
        return self.bill.co2e_kg_per_year if self.bill else math.nan


def make_option(
    site: PricedSite, name: str, title: str, found: OptionSize, terms: Terms
) -> Option:
    """Return an option from what the search found.

    Parameters
    ----------
    site
        The site.
    name, title
        Key and words [text].
    found
        Its size.
    terms
        Prices.

    Returns
    -------
    Option
        Priced also where a criterion is not met, so that the gap can be seen.
    """
    trial = found.trial
    if trial is None:
        return _refused(name, title, found.refused)
    bill = site.bill(trial)
    if name == "power-line":
        bill = line_bill(site, bill, trial)
    cost = life_cycle(bill, terms)
    available = trial.run.availability_frac
    if name == "power-line":
        # The bank bridges what is shorter than its autonomy; a line that fails for
        # longer is not in the record, so its own figure is the cap.
        available = min(available, _line_availability(site, trial))
    fuelled = [y for y in generation(trial) if bill.fuel and y.fuel == bill.fuel]
    return Option(
        name=name,
        title=title,
        parts=parts_words(bill),
        met=trial.met,
        reason="" if trial.met else why_not(trial, found.refused),
        availability_frac=available,
        bill=bill,
        cost=cost,
        cost_per_kwh=cost_per_kwh(cost, served_kwh_per_year(trial.run), terms),
        fuel=bill.fuel,
        fuel_unit=fuels()[bill.fuel].unit if bill.fuel else "",
        emissions=tuple(site.emitted(y) for y in fuelled),
        binding=_bound(trial, found.binding),
        months=month_shares(trial.run),
        trial=trial,
        others=found.others,
    )


def _bound(trial: Trial, binding: str) -> str:
    """Return what binds, limits that are left behind, and a cold that the bank bridges."""
    words = [
        f"outside the limits of [sizing] ({out})" if (out := outside(trial)) else ""
    ]
    words += [what_forbids(trial.run) if trial.strings and trial.met else "", binding]
    cold = cold_words(trial)
    if cold and trial.met:
        words.append(f"supplied by the battery meanwhile: {cold}")
    return "; ".join(filter(None, words))


def outside(trial: Trial) -> str:
    """Return by how much a size is beyond what ``[sizing]`` lets be bought [text].

    Returns
    -------
    str
        Strings and limit of array and battery, empty within both.
    """
    steps = trial.run.problem.design.tables.sizing
    counts = (("array", trial.strings, steps.max_array_strings),
              ("battery", trial.battery, steps.max_battery_strings))  # fmt: skip
    return ", ".join(
        f"{count(found, f'{name} string')}, limit {most}"
        for name, found, most in counts
        if found > most
    )


def _refused(name: str, title: str, why: str) -> Option:
    return Option(
        name, title, "", False, why, 0.0, None, None, math.inf, "", "", (), "", (), None
    )


def _line_availability(site: PricedSite, trial: Trial) -> float:
    """Return the line's own availability, or all of the time where the bank bridges it."""
    own = site.book.line()["availability"]
    off_days = (1.0 - own) * 365.25
    return 1.0 if site.design_days(trial.battery) > off_days else own


def line_bill(site: PricedSite, bill: Bill, trial: Trial) -> Bill:
    """Return the bill of a power line: tariff, connection, energy, standing charge.

    Parameters
    ----------
    site
        The site and its prices.
    bill
        Of the battery alone.
    trial
        The simulated size.

    Returns
    -------
    Bill
        Energy is what the loads and the bank took, over the rectifier.
    """
    book, own = site.book, site.book.own.line
    tariff = book.line()
    kwh = served_kwh_per_year(trial.run) / RECTIFIER_FRAC
    metres = own.distance_m or 0.0
    line = extension_cost(metres, tariff["per_m"], own.free_m, own.paid_frac)
    pieces = (
        Piece(f"{metres / 1000:g} km of line", "utility line extension", line, math.inf,
              installed=False),
        Piece("connection and rectifier", "utility line extension", tariff["connection"],
              book.life("charge_controller"), installed=False),
    )  # fmt: skip
    return replace(
        bill,
        pieces=bill.pieces + pieces,
        yearly={"energy": kwh * tariff["energy"], "standing": tariff["standing"]},
        co2e_kg_per_year=kwh * tariff["emission"],
    )


def parts_words(bill: Bill) -> str:
    """Return what is bought, the small pieces left out [text]."""
    small = (
        "pressure regulator for",
        "pressure regulator",
        "battery charger",
        "connection",
    )
    return ", ".join(p.title for p in bill.pieces if not p.title.startswith(small))


def served_kwh_per_year(run: Simulation) -> float:
    """Return the energy that the loads were served in a year [kWh].

    Returns
    -------
    float
        At the bus, every tier [kWh].
    """
    served = (tier_w(run.problem, run.out) * served_tiers(run.out)).sum()
    return float(served * run.problem.record.step_h / run.years / 1000.0)


def month_shares(run: Simulation) -> tuple[MonthShare, ...]:
    """Return who carried the load in each calendar month.

    Returns
    -------
    tuple of MonthShare
        Energy at the bus, over all years of the record.
    """
    return tuple(
        MonthShare(
            row.month,
            row.array_used_wh_per_day,
            row.generator_wh_per_day,
            row.load_wh_per_day,
        )
        for row in run.monthly
    )


def why_not(trial: Trial, refused: str = "") -> str:
    """Return what is not met, by how much, and what the fuel has to do with it [text].

    Parameters
    ----------
    trial
        A size that fails.
    refused
        What was said of other sizes [text].

    Returns
    -------
    str
        One clause a criterion, then the propane.
    """
    lost = lost_words(trial.run)
    words = [what_forbids(trial.run)] if trial.strings else []
    words = [*filter(None, words), *([lost] if lost else [])]
    told = FROZEN if lost else ""
    words += [_short(verdict) for verdict in trial.failed if verdict.name != told]
    words += [cold_words(trial)] if cold_words(trial) else []
    words += [f"other sizes: {refused}"] if refused else []
    return "; ".join(words)


def _short(verdict: Verdict) -> str:
    found, needed = verdict.found, verdict.needed
    if verdict.unit == "fraction":
        digits = 3 if verdict.name == "availability" else 0
        return f"{verdict.name} {in_unit(100 * found, '%', digits)}, limit {100 * needed:g} %"
    return f"{verdict.name} {in_unit(found, verdict.unit, 1)}, limit {needed:g}"


def cold_words(trial: Trial) -> str:
    """Return for how long a source cannot run in the cold, and by how much [text]."""
    words = []
    for year in generation(trial):
        check = year.pressure
        if check is not None and check.hours_below > 0:
            words.append(
                f"insufficient fuel pressure for {in_unit(check.hours_below, 'h')}. Cause: "
                f"propane at {in_unit(check.value_degc, '°C', 1)}, minimum tank temperature "
                f"{in_unit(check.limit_degc, '°C', 1)} ({check.burner_kpa:g} kPa (gauge) at the "
                f"burner plus {check.drop_kpa:g} kPa across the pressure regulator), "
                f"{in_unit(check.limit_degc - check.value_degc, 'K', 1)} too cold"
            )
        if year.ambient_h > 0:
            words.append(_ambient_words(trial, year))
        if year.no_fuel_h > 0:
            words.append(f"fuel tank empty for {in_unit(year.no_fuel_h, 'h')}")
    return "; ".join(words)


def _ambient_words(trial: Trial, year: Any) -> str:
    problem = trial.run.problem
    unit = next(u for u in problem.sources.units if u.name == year.name)
    air = problem.record.temp_air_degc
    low, high = unit.figure("lowest_degc"), unit.figure("highest_degc")
    return (
        f"outside rated ambient range ({low:g} to {high:g} °C) for "
        f"{in_unit(year.ambient_h, 'h')} of demand, site {air.min():.1f} to "
        f"{in_unit(air.max(), '°C', 1)}"
    )
