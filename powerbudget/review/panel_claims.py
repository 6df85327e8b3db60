"""Claims about panels: sun hours, energy a day, watts at a voltage, gain by tracking."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from powerbudget.array.curve import current_a, max_power_w
from powerbudget.array.module import module_from_points
from powerbudget.balance.arrayload import MonthRow
from powerbudget.balance.simulation import simulate_size
from powerbudget.bisection import edge
from powerbudget.charging.controller import WASTEFUL_FRAC
from powerbudget.errors import Fault, nearest
from powerbudget.quantities import in_unit, plain, show
from powerbudget.review.claim_tables import (
    ModuleClaim,
    SunClaim,
    TrackingClaim,
    YieldClaim,
)
from powerbudget.review.result import Judged, meets, refuse
from powerbudget.review.varied_site import VariedSite
from powerbudget.site.fields import MONTHS
from powerbudget.site.parts import ModulePart
from powerbudget.site.scenario import Scenario

MonthFigures = Callable[[VariedSite], dict[int, float]]


def ask_month(
    claim: SunClaim | YieldClaim,
    answer: Judged,
    site: VariedSite,
    by_month: MonthFigures,
    words: tuple[str, str],
) -> float:
    """Ask for the month that a claim means, here and under the vendor's own sky.

    Parameters
    ----------
    claim, answer, site
        About a figure of a month.
    by_month
        The figure of a site by month [unit of the claim].
    words
        What follows the month, and in front of it under the vendor's sky, in which a
        brace stands for the month [text].

    Returns
    -------
    float
        The figure here [unit of the claim].
    """
    figures = by_month(site)
    month, found, name = pick_month(figures, claim.month, site.year_mean(figures))
    answer.case(f"{name}, {words[0]}", found)
    if claim.place is not None:
        there = site.at_record(claim.place)
        figures = by_month(there)
        _, elsewhere, name = pick_month(figures, month, there.year_mean(figures))
        name = f"as claimed: weather of {claim.place}{words[1].format(name)}"
        answer.case(name, elsewhere, where="claimed")
    answer.sources.append(site.weather_source)
    answer.cautions += month_caution(month) + site.sky_cautions
    return found


def judge_sun(claim: SunClaim, answer: Judged, site: VariedSite) -> None:
    """Ask for peak sun hours in the month that the claim names, or the worst one."""
    tilt = f"tilt {site.design.tables.array.tilt_deg:g}°"
    ask_month(claim, answer, site, lambda there: there.sun_hours, (tilt, ", {}"))
    hours = site.sun_hours
    lowest = min(hours, key=hours.__getitem__)
    months = months_above(hours, claim.claimed_h)
    text = "POA irradiation that high occurs in " + (", ".join(months) or "no month")
    answer.turns("months", float(len(months)), "months", text)
    answer.remarks.append(
        f"{MONTHS[lowest - 1]} is the lowest month: {in_unit(hours[lowest], 'h', 2)}; "
        f"average of the year {in_unit(site.year_mean(hours), 'h', 2)}"
    )


def months_above(by_month: dict[int, float], claimed: float) -> list[str]:
    """Return the months that reach a figure, within rounding [text]."""
    reached = [m for m, value in by_month.items() if meets(claimed, value, "at least")]
    return [MONTHS[month - 1] for month in reached]


def month_caution(month: int) -> tuple[str, ...]:
    """Return what a mean of the year leaves out, empty for one month [text]."""
    said = (
        "the average of the year does not apply to Dec: surplus is not stored "
        "over months"
    )
    return (said,) if month == -1 else ()


def pick_month(
    values: dict[int, float], month: int, mean: float
) -> tuple[int, float, str]:
    """Return the month that a claim means, its figure, and both in words.

    Parameters
    ----------
    values
        Month to its figure [any unit].
    month
        1 to 12; 0 for the lowest, -1 for the mean of the year.
    mean
        Mean of the year [any unit].

    Returns
    -------
    tuple
        Month, figure and words [count, any unit, text].
    """
    if month == -1:
        return month, mean, "average of the year"
    if month == 0:
        month = min(values, key=values.__getitem__)
        return month, values[month], f"lowest month, {MONTHS[month - 1]}"
    if month not in values:
        problem = "is not in the weather file of the site"
        refuse([Fault("month", problem, MONTHS[month - 1])])
    return month, values[month], MONTHS[month - 1]


def judge_yield(claim: YieldClaim, answer: Judged, site: VariedSite) -> None:
    """Ask for the energy at the bus behind the regulator, in the claim's month."""
    answer.claimed = site.watts(claim.claimed)
    sun = 1.0 if claim.array_w is None else claim.array_w / site.array_w

    def rows(there: VariedSite) -> tuple[MonthRow, ...]:
        return there.simulate(Scenario(), sun).monthly

    def by_month(there: VariedSite) -> dict[int, float]:
        return {row.month: row.array_wh_per_day for row in rows(there)}

    here_wh = ask_month(claim, answer, site, by_month, ("at the dc bus", ""))
    watts = sun * site.array_w
    if here_wh:
        needed = watts * answer.claimed / here_wh
        text = f"the claim needs {show(needed, 'W')} of such modules (here {show(watts, 'W')})"
        answer.turns("array", needed, "W", text)
    worst = min(rows(site), key=lambda row: row.array_wh_per_day)
    hours = site.sun_hours[worst.month]
    rated = watts * hours
    percent = 100 * worst.array_wh_per_day / rated if rated else 0.0
    answer.remarks.append(
        f"in {MONTHS[worst.month - 1]} rated power times {in_unit(hours, 'PSH', 2)} is "
        f"{show(rated, 'Wh')} per day; the dc bus receives "
        f"{show(worst.array_wh_per_day, 'Wh')} ({in_unit(percent, '%')})"
    )
    if claim.sun_hours_h is not None:
        answer.remarks.append(
            f"the claim counts {claim.sun_hours_h:g} PSH: "
            f"{show(watts * claim.sun_hours_h, 'Wh')} at rated power"
        )
    if site.design.tables.regulator.kind == "pwm":
        answer.remarks.append(
            "a PWM controller holds the module at battery voltage, below rated power"
        )


def module_faults(name: str | None, site: VariedSite) -> list[Fault]:
    """Return why a name of a module cannot be used, none without a name.

    Parameters
    ----------
    name
        Part name, or None [text].
    site
        The site and its parts library.
    """
    names = [n for n, part in site.design.parts.items() if isinstance(part, ModulePart)]
    if name is None or name in names:
        return []
    problem = "is not a module of the parts library"
    known = ", ".join(names)
    return [Fault("module", problem, repr(name), known, nearest(name, names))]


def judge_panel(claim: ModuleClaim, answer: Judged, site: VariedSite | None) -> None:
    """Ask for the module's current at that voltage times the voltage, 1000 W/m2."""
    if site is None:
        answer.missing.append("a site file with the module")
        return
    refuse(module_faults(claim.module, site))
    part = site.design.parts.get(claim.module or "")
    module, series = site.problem.array.module, site.design.tables.array.series
    if isinstance(part, ModulePart):
        module, series = module_from_points(part.data, part.name), 1
    light, cell = np.array([1000.0]), np.array([claim.cell_degc])
    bus = claim.voltage_v or site.volts

    def watts(volts: float) -> float:
        amps = current_a(module, light, cell, volts / series)
        return float(claim.modules / series * amps[0] * volts)

    best = claim.modules * float(max_power_w(module, light, cell)[0])
    held = watts(bus)
    tracked = claim.voltage_v is None and site.design.tables.regulator.kind == "mppt"
    words = "at maximum power, MPPT" if tracked else f"held at {bus:g} V"
    words += f", cell at {claim.cell_degc:g} °C"
    answer.case(words, best if tracked else held)
    best_v = module.max_power_v * series
    turn = edge(lambda volts: answer.holds(watts(volts)), 0.5 * bus, best_v)
    if turn is not None:
        answer.turns("voltage", turn, "V", f"true at {show(turn, 'V')} or more")
    answer.remarks.append(
        f"rated {show(module.power_w * claim.modules, 'W')}; maximum power "
        f"{show(best, 'W')} at {show(module.max_power_v, 'V')}; held at {bus:g} V "
        f"{show(held, 'W')}"
    )
    answer.sources.append("one-diode curve through the data-sheet points of the module")
    answer.cautions.append("STC, normal incidence: a winter hour gives far less")


LEAST_FRAC = 0.02
"""A month in which less than this of its sun finds room has no gain to speak of."""
DISAGREE = (
    "published gains range from zero in hot climates to 30 % and more; each "
    "applies to one battery voltage and cell temperature"
)


@dataclass(frozen=True)
class Gain:
    """What a tracking regulator gives over a direct connection at one site.

    Parameters
    ----------
    by_month
        Gain by month over the hours in which battery and loads take all that the
        direct connection gives; months that have such hours [fraction].
    year
        The same over the whole record [fraction].
    full_by_month, full_year
        The same over all hours, those with a full battery too [fraction].
    tracking_wh, direct_wh
        Energy at the bus a day by month, all hours [Wh].
    """

    by_month: dict[int, float]
    year: float
    full_by_month: dict[int, float]
    full_year: float
    tracking_wh: dict[int, float]
    direct_wh: dict[int, float]


def gain(site: VariedSite) -> Gain:
    """Return what tracking gains at a site, the same strings and sky under both.

    Parameters
    ----------
    site
        The site; figures of the other regulator are the usual ones.

    Returns
    -------
    Gain
        The direct connection is simulated, so that each hour has its own battery
        voltage.
    """
    run = simulate_size(site.under(Scenario(charge_controller="pwm")))
    tracker = site.under(Scenario(charge_controller="mppt"))
    tracked = tracker.strings * tracker.hourly["array_w"]
    bus_v, offered = run.out["bus_v"], run.out["offered_a"]
    room = offered - run.out["array_a"] <= 1e-6 * np.maximum(offered, 1e-9)
    day = np.bincount(site.problem.month_index, minlength=12) / 24
    sums = [
        np.bincount(site.problem.month_index, watts * mask, 12)
        for mask in (room, np.ones(room.size))
        for watts in (tracked, offered * bus_v)
    ]
    more, base, all_more, all_base = sums
    lit = [m for m in range(12) if all_base[m] > 0]
    wanted = [m for m in lit if base[m] > LEAST_FRAC * all_base[m]]
    return Gain(
        by_month={m + 1: float(more[m] / base[m] - 1) for m in wanted},
        year=float(more.sum() / base.sum() - 1) if wanted else 0.0,
        full_by_month={m + 1: float(all_more[m] / all_base[m] - 1) for m in lit},
        full_year=float(all_more.sum() / all_base.sum() - 1) if lit else 0.0,
        tracking_wh={m + 1: float(all_more[m] / day[m]) for m in lit},
        direct_wh={m + 1: float(all_base[m] / day[m]) for m in lit},
    )


def judge_tracking(claim: TrackingClaim, answer: Judged, site: VariedSite) -> None:
    """Ask for the gain month by month; without a month, that of least gain decides."""
    at = gain(site)
    # Where the battery is always full there is nothing to gain; all hours stand in.
    months, year = (
        (at.by_month, at.year) if at.by_month else (at.full_by_month, at.full_year)
    )
    month, found, words = pick_month(months, claim.month, year)
    if claim.month == 0:
        words = words.replace("lowest month", "month of smallest gain")
    answer.case(words, found)
    for other, value in {**months, -1: year}.items():
        if other != month:
            name = "average of the year" if other == -1 else MONTHS[other - 1]
            answer.case(name, value, where="aside")
    answer.range_over(months.values())
    good = months_above(months, claim.claimed_frac)
    where = "every month" if len(good) == len(months) else ", ".join(good)
    text = f"that gain occurs in {where or 'no month'}"
    answer.turns("months", float(len(good)), "months", text)
    answer.sources += [
        site.weather_source,
        "both controllers simulated: MPPT with its efficiency; PWM at battery "
        "voltage plus drop",
    ]
    answer.cautions += [*month_caution(month), DISAGREE, *site.sky_cautions]
    _remarks(answer, site, at)


def _remarks(answer: Judged, site: VariedSite, at: Gain) -> None:
    worst = min(at.direct_wh, key=at.direct_wh.__getitem__)
    regulator, array = site.design.tables.regulator, site.design.tables.array
    low, high = min(at.full_by_month.values()), max(at.full_by_month.values())
    answer.remarks += [
        "counted in hours in which battery and loads use all array energy",
        f"with hours of full battery {100 * low:.0f} to {in_unit(100 * high, '%')} by "
        f"month, {in_unit(100 * at.full_year, '%')} in the year: a full battery curtails "
        "the gain",
        f"in {MONTHS[worst - 1]}, the lowest month with PWM, the dc bus receives "
        f"{show(at.tracking_wh[worst], 'Wh')} per day with MPPT and "
        f"{show(at.direct_wh[worst], 'Wh')} with PWM",
        f"MPPT and conversion {plain(100 * site.problem.tracker_frac, 3, '%')}, PWM drop "
        f"{regulator.drop_v:g} V; equal self-consumption",
    ]
    full = [MONTHS[m - 1] for m in at.full_by_month if m not in at.by_month]
    if full:
        answer.remarks.append(
            f"in {', '.join(full)} the battery is full whenever the array delivers: "
            "no gain"
        )
    string_v = array.series * site.problem.array.module.max_power_v
    if string_v > WASTEFUL_FRAC * site.volts:
        answer.remarks.append(
            f"strings of {in_unit(string_v, 'V', 1)} do not suit a PWM controller at "
            f"{site.volts:g} V: most of the gain is voltage mismatch"
        )
