"""Claims about the sky and what the array makes of it: sun hours, energy a day."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from powerbudget.balance.arrayload import MonthRow
from powerbudget.balance.scenario import Scenario
from powerbudget.errors import Fault, InputError
from powerbudget.quantities import show
from powerbudget.review.claim_tables import SunClaim, YieldClaim
from powerbudget.review.result import Case, Judged, Solved, conclude, meets
from powerbudget.review.variants import Desk
from powerbudget.site.fields import MONTHS

TYPICAL = (
    "one typical year hides bad winters: a real record of ten years or more decides"
)


def array_w(desk: Desk) -> float:
    """Return the rated watts of the site's array [W]."""
    array = desk.design.tables.array
    return desk.problem.array.module.power_w * array.series * array.parallel


def sky_cautions(desk: Desk) -> tuple[str, ...]:
    """Return what to keep in mind about the site's record [text]."""
    found = [TYPICAL] if desk.problem.record.typical_year else []
    if (
        desk.design.tables.array.snow is None
        and desk.problem.record.temp_air_degc.min() < 0
    ):
        found.append("no snow on the panels is assumed")
    return tuple(found)


def sun_hours(desk: Desk) -> dict[int, float]:
    """Return peak sun hours a day on the panel's plane, by month [h].

    Parameters
    ----------
    desk
        The site.

    Returns
    -------
    dict
        Month to the mean irradiation over 1 kW/m2, before glass, dirt and snow [h].
    """
    problem = desk.problem
    record, light = problem.record, problem.array.poa_w_m2
    month = problem.month_index
    kwh = np.bincount(month, light, 12) * record.step_h / 1000
    days = np.bincount(month, minlength=12) * record.step_h / 24
    return {m + 1: float(kwh[m] / days[m]) for m in range(12) if days[m]}


def judge_sun(claim: SunClaim, blank: Judged, desk: Desk) -> Judged:
    """Return a claim about peak sun hours on the panel's plane, judged.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site.

    Returns
    -------
    Judged
        In the month that the claim names, or the worst one.
    """
    hours = sun_hours(desk)
    month, found, words = pick_month(hours, claim.month, _year_mean(desk, hours))
    lowest = min(hours, key=lambda m: hours[m])
    name = f"{words}, tilt {desk.design.tables.array.tilt_deg:g} deg"
    case = Case(name, found, meets(claim.claimed_h, found, "at least"))
    cases = (case, *_elsewhere(claim, desk, month))
    enough = [
        MONTHS[m - 1] for m, h in hours.items() if meets(claim.claimed_h, h, "at least")
    ]
    text = "so much sun comes in " + (", ".join(enough) if enough else "no month")
    solved = Solved("months", float(len(enough)), "months", text)
    done = replace(
        blank,
        claimed=claim.claimed_h,
        unit="h",
        sense="at least",
        cases=cases,
        solved=(solved,),
        remarks=(f"{MONTHS[lowest - 1]} is the darkest: {hours[lowest]:.2f} h; mean of the "
                 f"year {_year_mean(desk, hours):.2f} h",),
        sources=(f"weather: {desk.problem.record.source}",),
        cautions=month_caution(month) + sky_cautions(desk),
    )  # fmt: skip
    return conclude(done)


def _elsewhere(claim: SunClaim, desk: Desk, month: int) -> tuple[Case, ...]:
    """Return the same month under the sky that the vendor counts on."""
    if claim.place is None:
        return ()
    there = desk.at_record(claim.place)
    hours = sun_hours(there)
    _, found, words = pick_month(hours, month, _year_mean(there, hours))
    name = f"as claimed: sky of {claim.place}, {words}"
    return (Case(name, found, meets(claim.claimed_h, found, "at least"), "claimed"),)


def month_caution(month: int) -> tuple[str, ...]:
    """Return what a mean of the year leaves out, empty for one month [text]."""
    if month == -1:
        return (
            "a mean of the year says nothing about December: surplus does not keep",
        )
    return ()


def _year_mean(desk: Desk, by_month: dict[int, float]) -> float:
    weight = np.bincount(desk.problem.month_index, minlength=12).astype(float)
    months = list(by_month)
    values = [by_month[m] for m in months]
    return float(np.average(values, weights=[weight[m - 1] for m in months]))


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
        return month, mean, "mean of the year"
    if month == 0:
        month = min(values, key=lambda m: values[m])
        return month, values[month], f"worst month, {MONTHS[month - 1]}"
    if month not in values:
        fault = Fault("month", "is not in the site's weather record", MONTHS[month - 1])
        raise InputError(fault)
    return month, values[month], MONTHS[month - 1]


def judge_yield(claim: YieldClaim, blank: Judged, desk: Desk) -> Judged:
    """Return a claim about what the array gives a day, judged.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site.

    Returns
    -------
    Judged
        Energy offered at the bus behind the regulator, in the claim's month.
    """
    unit, value = claim.claimed
    claimed = value * desk.volts if unit == "Ah" else value
    sun = 1.0 if claim.array_w is None else claim.array_w / array_w(desk)
    run = desk.simulate(Scenario(), sun)
    rows = {row.month: row.array_wh_per_day for row in run.monthly}
    month, found, words = pick_month(rows, claim.month, _year_mean(desk, rows))
    cases = [Case(f"{words}, at the bus", found, meets(claimed, found, "at least"))]
    if claim.place is not None:
        there = desk.at_record(claim.place)
        run_there = there.simulate(Scenario(), sun)
        far = {row.month: row.array_wh_per_day for row in run_there.monthly}
        _, much, _ = pick_month(far, month, _year_mean(there, far))
        name = f"as claimed: sky of {claim.place}"
        cases.append(Case(name, much, meets(claimed, much, "at least"), "claimed"))
    needed = sun * array_w(desk) * claimed / found if found else float("inf")
    text = f"it takes {show(needed, 'W')} of such panel (here "
    text += f"{show(sun * array_w(desk), 'W')})"
    done = replace(
        blank,
        claimed=claimed,
        unit="Wh/day",
        sense="at least",
        cases=tuple(cases),
        solved=(Solved("array", needed, "W", text),) if found else (),
        remarks=tuple(_yield_remarks(claim, desk, sun, run.monthly)),
        sources=(f"weather: {desk.problem.record.source}",),
        cautions=month_caution(month) + sky_cautions(desk),
    )
    return conclude(done)


def _yield_remarks(
    claim: YieldClaim, desk: Desk, sun: float, rows: tuple[MonthRow, ...]
) -> list[str]:
    watts = sun * array_w(desk)
    worst = min(rows, key=lambda row: row.array_wh_per_day)
    hours = sun_hours(desk)[worst.month]
    rated = watts * hours
    found = [
        f"in {MONTHS[worst.month - 1]} rated watts times {hours:.2f} sun hours are "
        f"{show(rated, 'Wh')} a day; the bus gets {show(worst.array_wh_per_day, 'Wh')} "
        f"({100 * worst.array_wh_per_day / rated if rated else 0:.0f} %)"
    ]
    if claim.sun_hours_h is not None:
        found.append(
            f"the claim counts {claim.sun_hours_h:g} sun hours: "
            f"{show(watts * claim.sun_hours_h, 'Wh')} at rated watts"
        )
    if desk.design.tables.regulator.kind == "pwm":
        found.append(
            "a direct-connected regulator holds the panel at battery voltage: rated watts "
            "are not reached"
        )
    return found
