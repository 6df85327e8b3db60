"""Claims about sun and array: enough panel, availability, recovery, yield, sun hours."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from powerbudget.balance.simulation import MonthRow, Simulation, simulate_size
from powerbudget.errors import Fault, InputError, nearest
from powerbudget.quantities import show
from powerbudget.review.claims import (
    ArrayClaim,
    AvailabilityClaim,
    RecoveryClaim,
    SunClaim,
    YieldClaim,
)
from powerbudget.review.desk import Desk, Setting
from powerbudget.review.solve import edge, with_load, with_sun
from powerbudget.review.stores import open_points
from powerbudget.review.verdict import Case, Judged, Solved, conclude, meets
from powerbudget.site.fields import MONTHS
from powerbudget.site.parts import ModulePart
from powerbudget.sizing.recovery import recovery

SUN_RANGE = (0.005, 200.0)
TYPICAL = (
    "one typical year hides bad winters: a real record of ten years or more decides"
)


def array_w(desk: Desk) -> float:
    """Return the rated watts of the site's array [W]."""
    array = desk.design.tables.array
    return desk.problem.array.module.power_w * array.series * array.parallel


def _cautions(desk: Desk) -> tuple[str, ...]:
    found = [TYPICAL] if desk.problem.record.typical_year else []
    if (
        desk.design.tables.array.snow is None
        and desk.problem.record.temp_air_degc.min() < 0
    ):
        found.append("no snow on the panels is assumed")
    return tuple(found)


def _module_faults(claim: ArrayClaim, desk: Desk) -> list[Fault]:
    """Return what about the panel cannot be used, or contradicts."""
    found = []
    names = [n for n, part in desk.design.parts.items() if isinstance(part, ModulePart)]
    if claim.module is not None and claim.module not in names:
        found.append(
            Fault("module", "is not a module of the parts library", repr(claim.module),
                  ", ".join(names), nearest(claim.module, names))
        )  # fmt: skip
    if claim.claimed_w is None and claim.modules is None:
        found.append(
            Fault("claimed", "is missing", allowed="watts: '100 W', or modules")
        )
    if found or claim.claimed_w is None or claim.modules is None:
        return found
    one = claim.claimed_w / claim.modules
    rated = _module_w(claim, desk)
    if abs(one / rated - 1) > 0.05 and claim.module is not None:
        problem = "contradicts the module: one is rated " + show(rated, "W")
        given = f"{show(claim.claimed_w, 'W')} from {claim.modules}"
        found.append(Fault("claimed", problem, given))
    return found


def _module_w(claim: ArrayClaim, desk: Desk) -> float:
    part = desk.design.parts.get(claim.module or "")
    if isinstance(part, ModulePart):
        return part.data.power_w
    return desk.problem.array.module.power_w


def _with_module(claim: ArrayClaim, desk: Desk) -> Desk:
    """Return the desk with the module that the claim names, in strings as here."""
    array = desk.design.tables.array
    if claim.module is None or claim.module == array.module:
        return desk
    tables = desk.design.tables.model_copy(
        update={"array": array.model_copy(update={"module": claim.module})}
    )
    return Desk(replace(desk.design, tables=tables))


def judge_array(claim: ArrayClaim, blank: Judged, desk: Desk) -> Judged:
    """Return a claim that an array is enough for the site, judged.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site.

    Returns
    -------
    Judged
        Found are the watts of such panels with which every criterion that a panel
        can change is met, beside the site's own battery.
    """
    if faults := _module_faults(claim, desk):
        return replace(blank, problems=tuple(faults))
    desk = _with_module(claim, desk)
    claimed = claim.claimed_w or (claim.modules or 0) * _module_w(claim, desk)
    blank = replace(blank, claimed=claimed, unit="W", sense="at most")
    sun = claimed / array_w(desk)
    settings = desk.settings()
    cases = [
        Case(s.name, _needed_w(desk, s), not _short(desk, s, sun)) for s in settings
    ]
    if claim.load is not None:
        load = desk.watts(claim.load) / desk.budget.typical_w
        stated = replace(settings[0], load=load)
        name = f"as claimed: load of {show(desk.watts(claim.load), 'W')}"
        found = _needed_w(desk, stated)
        cases.append(Case(name, found, not _short(desk, stated, sun), "claimed"))
    done = replace(
        blank,
        cases=tuple(cases),
        found_low=_bound([c.found for c in cases[: len(settings)]], min),
        found_high=_bound([c.found for c in cases[: len(settings)]], max),
        solved=tuple(_array_solved(desk, settings[0], sun)),
        missing=tuple(open_points(cases)),
        remarks=tuple(_array_remarks(claim, desk, settings[0], sun)),
        sources=(f"weather: {desk.problem.record.source}",),
        cautions=_cautions(desk),
    )
    return conclude(done)


def _bound(
    values: list[float | None], pick: Callable[[list[float]], float]
) -> float | None:
    known = [value for value in values if value is not None]
    return pick(known) if known and len(known) == len(values) else None


def _short(desk: Desk, setting: Setting, sun: float) -> tuple[str, ...]:
    """Return the criteria that an array of that size does not meet [names]."""
    run = desk.simulate(setting, sun)
    return tuple(v.name for v in desk.failed(run, array_only=True))


def _needed_w(desk: Desk, setting: Setting) -> float | None:
    """Return the rated watts from which the array is enough, None where none is."""
    ratio = edge(lambda x: not _short(desk, setting, x), *SUN_RANGE, ratio=True)
    return None if ratio is None else ratio * array_w(desk)


def _array_solved(desk: Desk, setting: Setting, sun: float) -> list[Solved]:
    found = []
    needed = _needed_w(desk, setting)
    if needed is not None:
        more = needed / (sun * array_w(desk))
        if more > 1:
            text = f"it takes {show(needed, 'W')}, or {more:.2f} times this sun"
        else:
            text = f"{show(needed, 'W')} are enough: {100 * more:.0f} % of the claimed"
        found.append(Solved("array", needed, "W", text))
        found.append(Solved("sun", more, "ratio", text))
    ratio = edge(
        lambda x: not _short(desk, replace(setting, load=x), sun),
        0.005,
        50.0,
        ratio=True,
    )
    if ratio is not None:
        watts = ratio * desk.budget.typical_w
        text = f"it holds for a mean load of at most {show(watts, 'W')} "
        text += f"(here {show(desk.budget.typical_w, 'W')})"
        found.append(Solved("load", watts, "W", text))
    return found


def _array_remarks(
    claim: ArrayClaim, desk: Desk, setting: Setting, sun: float
) -> list[str]:
    run = desk.simulate(setting, sun)
    failed = [v.name for v in desk.failed(run, array_only=True)]
    worst = min(run.monthly, key=lambda row: row.array_to_load_ratio)
    year = _year_ratio(run)
    found = [
        f"array over load with it: {worst.array_to_load_ratio:.2f} in "
        f"{MONTHS[worst.month - 1]}, {year:.2f} over the year; the worst month decides",
    ]
    if failed:
        found.append("not met with it: " + ", ".join(failed))
        if not run.served.all():
            found.append(f"loads are lost for {_off_h(run):,.0f} h of the record")
    if claim.sun_hours_h is not None:
        hours = sun_hours(desk)
        low = min(hours, key=lambda m: hours[m])
        claimed = sun * array_w(desk) * claim.sun_hours_h
        found.append(
            f"the claim counts {claim.sun_hours_h:g} sun hours, {show(claimed, 'Wh')} a day "
            f"at rated watts; {MONTHS[low - 1]} has {hours[low]:.1f} h on this plane and "
            f"the array gives {show(worst.array_wh_per_day, 'Wh')} a day in "
            f"{MONTHS[worst.month - 1]}"
        )
    return found


def _year_ratio(run: Simulation) -> float:
    offered = sum(row.array_wh_per_day for row in run.monthly)
    asked = sum(row.load_wh_per_day for row in run.monthly)
    return offered / asked if asked else float("inf")


def _off_h(run: Simulation) -> float:
    return float((~run.served).sum() * run.problem.record.step_h)


def judge_availability(claim: AvailabilityClaim, blank: Judged, desk: Desk) -> Judged:
    """Return a claim about availability, judged over the site's record.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site.

    Returns
    -------
    Judged
        Share of the hours with the loads on, to the loss of the bank.
    """
    claimed = claim.claimed_frac
    blank = replace(blank, claimed=claimed, unit="fraction", sense="at least")

    def share(setting: Setting, sun: float = 1.0) -> float:
        return desk.simulate(setting, sun).availability_to_loss_frac

    def holds(found: float) -> bool:
        # A ten-thousandth is an hour a year here; rounding must not hide it.
        return found >= claimed - 1e-9

    settings = desk.settings()
    cases = [Case(s.name, share(s), holds(share(s))) for s in settings]
    own = settings[0]
    solved = []
    ratio = edge(lambda x: holds(share(replace(own, load=x))), 0.02, 50.0, ratio=True)
    if ratio is not None:
        watts = ratio * desk.budget.typical_w
        text = f"it holds for a mean load of at most {show(watts, 'W')} "
        text += f"(here {show(desk.budget.typical_w, 'W')})"
        solved.append(Solved("load", watts, "W", text))
    ratio = edge(lambda x: holds(share(own, x)), *SUN_RANGE, ratio=True)
    if ratio is not None:
        text = f"it holds with {ratio:.2f} times this array or sun"
        solved.append(Solved("sun", ratio, "ratio", text))
    hours = (1 - (cases[0].found or 0.0)) * 8766
    done = replace(
        blank,
        cases=tuple(cases),
        solved=tuple(solved),
        missing=tuple(open_points(cases)),
        remarks=(f"{hours:.1f} h a year without the loads over "
                 f"{desk.run.years:.0f} years of record",),
        sources=(f"weather: {desk.problem.record.source}",),
        cautions=_cautions(desk),
    )  # fmt: skip
    return conclude(done)


def judge_recovery(claim: RecoveryClaim, blank: Judged, desk: Desk) -> Judged:
    """Return a claim about the days to come back after a disconnect, judged.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site.

    Returns
    -------
    Judged
        The longest over the months, infinite where the loads never come back.
    """
    claimed = claim.claimed_d
    blank = replace(blank, claimed=claimed, unit="d", sense="at most")
    sun = 1.0 if claim.array_w is None else claim.array_w / array_w(desk)

    def days(setting: Setting, sun: float) -> float:
        return recovery(desk.simulate(setting, sun)).worst_days

    settings = desk.settings()
    cases = [
        Case(s.name, d if np.isfinite(d) else None, meets(claimed, d, "at most"))
        for s in settings
        for d in [days(s, sun)]
    ]
    own, solved = settings[0], []
    ratio = edge(
        lambda x: meets(claimed, days(own, x), "at most"), *SUN_RANGE, ratio=True
    )
    if ratio is not None:
        watts = ratio * array_w(desk)
        text = f"it holds with an array of {show(watts, 'W')} or more "
        text += f"(here {show(sun * array_w(desk), 'W')})"
        solved.append(Solved("array", watts, "W", text))
    done = replace(
        blank,
        cases=tuple(cases),
        solved=tuple(solved),
        missing=tuple(open_points(cases)),
        remarks=tuple(_recovery_remarks(desk, own, sun)),
        sources=(f"weather: {desk.problem.record.source}",),
        cautions=_cautions(desk),
    )
    return conclude(done)


def _recovery_remarks(desk: Desk, own: Setting, sun: float) -> list[str]:
    after = recovery(desk.simulate(own, sun))
    by_month = after.days_by_month
    best = min(by_month, key=lambda m: by_month[m])
    longest = (
        "never comes back by itself"
        if not np.isfinite(after.worst_days)
        else f"takes {show(after.worst_days, 'd')}"
    )
    found = [
        f"from a disconnect in {MONTHS[after.worst_month - 1]} it {longest}, in "
        f"{MONTHS[best - 1]} {show(by_month[best], 'd')}; from "
        f"{100 * after.from_frac:.0f} % of charge"
    ]
    if not after.flat_restarts:
        found.append(f"a flat bank does not come back: {after.reason}")
    return found


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
    month, found, words = _pick_month(hours, claim.month, _year_mean(desk, hours))
    lowest = min(hours, key=lambda m: hours[m])
    name = f"{words}, tilt {desk.design.tables.array.tilt_deg:g} deg"
    case = Case(name, found, meets(claim.claimed_h, found, "at least"))
    enough = [MONTHS[m - 1] for m, h in hours.items() if h >= claim.claimed_h * 0.995]
    text = "so much sun comes in " + (", ".join(enough) if enough else "no month")
    solved = Solved("months", float(len(enough)), "months", text)
    done = replace(
        blank,
        claimed=claim.claimed_h,
        unit="h",
        sense="at least",
        cases=(case,),
        solved=(solved,),
        remarks=(f"{MONTHS[lowest - 1]} is the darkest: {hours[lowest]:.2f} h; mean of the "
                 f"year {_year_mean(desk, hours):.2f} h",),
        sources=(f"weather: {desk.problem.record.source}",),
        cautions=_month_caution(month) + _cautions(desk),
    )  # fmt: skip
    return conclude(done)


def _month_caution(month: int) -> tuple[str, ...]:
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


def _pick_month(
    values: dict[int, float], month: int, mean: float
) -> tuple[int, float, str]:
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
    run = simulate_size(with_sun(with_load(desk.problem, 1.0), sun))
    rows = {row.month: row.array_wh_per_day for row in run.monthly}
    month, found, words = _pick_month(rows, claim.month, _year_mean(desk, rows))
    case = Case(f"{words}, at the bus", found, meets(claimed, found, "at least"))
    needed = sun * array_w(desk) * claimed / found if found else float("inf")
    text = f"it takes {show(needed, 'W')} of such panel (here "
    text += f"{show(sun * array_w(desk), 'W')})"
    done = replace(
        blank,
        claimed=claimed,
        unit="Wh/day",
        sense="at least",
        cases=(case,),
        solved=(Solved("array", needed, "W", text),) if found else (),
        remarks=tuple(_yield_remarks(claim, desk, sun, run.monthly)),
        sources=(f"weather: {desk.problem.record.source}",),
        cautions=_month_caution(month) + _cautions(desk),
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
