"""Claims that the array carries the site: enough panel, availability, recovery."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from powerbudget.balance.arrayload import asked_w, delivered_w, ratio_of
from powerbudget.balance.scenario import Scenario
from powerbudget.balance.simulation import Simulation
from powerbudget.errors import Fault, nearest
from powerbudget.limits import HOURS_PER_YEAR
from powerbudget.quantities import show
from powerbudget.review.battery_claims import open_points
from powerbudget.review.claim_tables import (
    ArrayClaim,
    AvailabilityClaim,
    RecoveryClaim,
)
from powerbudget.review.result import Case, Judged, Solved, conclude, meets, sides
from powerbudget.review.solve import edge
from powerbudget.review.sun_claims import (
    array_w,
    sky_cautions,
    sun_hours,
)
from powerbudget.review.variants import Desk, Setting
from powerbudget.review.wording import needs_no_visit
from powerbudget.site.fields import MONTHS
from powerbudget.site.parts import ModulePart
from powerbudget.sizing.candidates import lost_words
from powerbudget.sizing.recovery import recovery

SUN_RANGE = (0.005, 200.0)


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
    return Desk(Scenario(module=claim.module).site(desk.design))


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
    cases += [
        Case(s.name, _needed_w(desk, s), not _short(desk, s, sun))
        for s in desk.darker()
    ]
    cases += _array_as_claimed(claim, desk, settings[0], sun)
    done = replace(
        blank,
        cases=tuple(cases),
        found_low=_bound([c.found for c in cases[: len(settings)]], min),
        found_high=_bound([c.found for c in cases[: len(settings)]], max),
        solved=tuple(_array_solved(desk, settings[0], sun)),
        missing=tuple(open_points(cases)),
        remarks=tuple(_array_remarks(claim, desk, settings[0], sun)),
        sources=(f"weather: {desk.problem.record.source}",),
        cautions=sky_cautions(desk),
    )
    return conclude(done)


def stated_conditions(
    claim: ArrayClaim | AvailabilityClaim | RecoveryClaim, desk: Desk, setting: Setting
) -> tuple[str, Desk, Setting] | None:
    """Return the vendor's own load and sky, None where the claim states neither.

    Parameters
    ----------
    claim
        The claim.
    desk
        The site.
    setting
        The site's own conditions.

    Returns
    -------
    tuple or None
        Words, and the site and conditions as claimed.
    """
    words = []
    if claim.load is not None:
        watts = desk.watts(claim.load)
        setting = _loaded(setting, watts / desk.budget.average_w)
        words.append(f"load of {show(watts, 'W')}")
    place = getattr(claim, "place", None)
    if place is not None:
        desk = desk.at_record(place)
        words.append(f"sky of {place}")
    return ("as claimed: " + ", ".join(words), desk, setting) if words else None


def _loaded(setting: Setting, factor: float) -> Setting:
    """Return the conditions with so many times the site's load."""
    load = Scenario(load_factor=factor)
    return replace(setting, scenario=load.over(setting.scenario))


def _array_as_claimed(
    claim: ArrayClaim, desk: Desk, setting: Setting, sun: float
) -> list[Case]:
    """Return the array under the vendor's own load, sky and sun hours."""
    cases = []
    stated = stated_conditions(claim, desk, setting)
    if stated is not None:
        name, there, own = stated
        holds = not _short(there, own, sun)
        cases.append(Case(name, _needed_w(there, own), holds, "claimed"))
    if claim.sun_hours_h is not None:
        load = desk.watts(claim.load) or desk.budget.average_w
        needed = 24 * load / claim.sun_hours_h
        name = f"rated watts times {claim.sun_hours_h:g} sun hours over the load"
        holds = meets(sun * array_w(desk), needed, "at most")
        cases.append(Case(name, needed, holds, "aside"))
    return cases


def _bound(
    values: list[float | None], pick: Callable[[list[float]], float]
) -> float | None:
    known = [value for value in values if value is not None]
    return pick(known) if known and len(known) == len(values) else None


def _short(desk: Desk, setting: Setting, sun: float) -> tuple[str, ...]:
    """Return the criteria that an array of that size does not meet [names]."""
    run = desk.simulate(setting.scenario, sun)
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
        lambda x: not _short(desk, _loaded(setting, x), sun),
        0.005,
        50.0,
        ratio=True,
    )
    if ratio is not None:
        watts = ratio * desk.budget.average_w
        text = f"it holds for a mean load of at most {show(watts, 'W')} "
        text += f"(here {show(desk.budget.average_w, 'W')})"
        found.append(Solved("load", watts, "W", text))
    return found


def _array_remarks(
    claim: ArrayClaim, desk: Desk, setting: Setting, sun: float
) -> list[str]:
    run = desk.simulate(setting.scenario, sun)
    failed = [v.name for v in desk.failed(run, array_only=True)]
    least = run.array_to_load
    worst = next(row for row in run.monthly if row.month == least.month)
    year = _year_ratio(run)
    found = [
        f"array over load with it: {least.text}; {year:.2f} over the year; the worst "
        "month decides",
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
    return ratio_of(float(delivered_w(run).sum()), float(asked_w(run).sum()))


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
        Share of the hours with the loads on; a battery lost on the way ends the claim.
    """
    claimed = claim.claimed_frac
    blank = replace(blank, claimed=claimed, unit="fraction", sense="at least")

    def holds(run: Simulation) -> bool:
        found, kind = run.availability_frac, blank.kind
        kept = all(x.met for x in sides(claimed, found, "at least", "fraction", kind))
        return kept and not run.frost.lost_at

    def case(name: str, run: Simulation) -> Case:
        return Case(name, run.availability_frac, holds(run))

    settings = desk.settings()
    own = settings[0]
    cases = [
        case(s.name, desk.simulate(s.scenario)) for s in (*settings, *desk.darker())
    ]
    stated = stated_conditions(claim, desk, own)
    if stated is not None:
        name, there, kept = stated
        told = case(name, there.simulate(kept.scenario))
        cases.append(replace(told, where="claimed"))

    def carries(load: float) -> bool:
        return holds(desk.simulate(_loaded(own, load).scenario))

    solved = _availability_solved(
        desk,
        edge(carries, 0.02, 50.0, ratio=True),
        edge(lambda x: holds(desk.simulate(own.scenario, x)), *SUN_RANGE, ratio=True),
    )
    lost = lost_words(desk.simulate(own.scenario))
    hours = (1 - (cases[0].found or 0.0)) * HOURS_PER_YEAR
    allowed = (1 - claimed) * HOURS_PER_YEAR
    span = f"{desk.run.years:.2g}"
    over = "one year" if span == "1" else f"{span} years"
    promise = _visit_case(claim, desk, own, 1.0)
    done = replace(
        blank,
        cases=(*cases, *promise.cases),
        solved=solved,
        missing=(*open_points(cases), *promise.missing),
        remarks=(*filter(None, [lost]),
                 f"{hours:.1f} h a year without the loads over {over} of record; the "
                 f"claim allows {allowed:.1f} h", *promise.remarks),
        sources=(f"weather: {desk.problem.record.source}",),
        cautions=sky_cautions(desk),
    )  # fmt: skip
    return conclude(done, known=not promise.missing)


def _availability_solved(
    desk: Desk, loads: float | None, suns: float | None
) -> tuple[Solved, ...]:
    """Return the load and the sun, as ratios of the site's, at which a claim turns."""
    solved = []
    if loads is not None:
        watts = loads * desk.budget.average_w
        text = f"it holds for a mean load of at most {show(watts, 'W')} "
        text += f"(here {show(desk.budget.average_w, 'W')})"
        solved.append(Solved("load", watts, "W", text))
    if suns is not None:
        text = f"it holds with {suns:.2f} times this array or sun"
        solved.append(Solved("sun", suns, "ratio", text))
    return tuple(solved)


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
    here_w = array_w(desk)
    if claim.array_w is not None and not here_w:
        fault = Fault("array", "is claimed, and the site has no panels")
        return replace(blank, problems=(fault,))
    sun = 1.0 if claim.array_w is None else claim.array_w / here_w

    def days(setting: Setting, sun: float) -> float:
        return recovery(desk.simulate(setting.scenario, sun)).worst_days

    settings = desk.settings()
    cases = [
        Case(s.name, d if np.isfinite(d) else None, meets(claimed, d, "at most"))
        for s in settings
        for d in [days(s, sun)]
    ]
    own, solved = settings[0], []
    stated = stated_conditions(claim, desk, own)
    if stated is not None:
        name, _, kept = stated
        there = days(kept, sun)
        finite = there if np.isfinite(there) else None
        cases.append(Case(name, finite, meets(claimed, there, "at most"), "claimed"))
    ratio = edge(
        lambda x: meets(claimed, days(own, x), "at most"), *SUN_RANGE, ratio=True
    )
    if ratio is not None:
        watts = ratio * array_w(desk)
        text = f"it holds with an array of {show(watts, 'W')} or more "
        text += f"(here {show(sun * array_w(desk), 'W')})"
        solved.append(Solved("array", watts, "W", text))
    promise = _visit_case(claim, desk, own, sun)
    done = replace(
        blank,
        cases=(*cases, *promise.cases),
        solved=tuple(solved),
        missing=(*open_points(cases), *promise.missing),
        remarks=tuple(_recovery_remarks(desk, own, sun)),
        sources=(f"weather: {desk.problem.record.source}",),
        cautions=sky_cautions(desk),
    )
    return conclude(done, known=not promise.missing)


@dataclass(frozen=True)
class _Promise:
    """What a claim that nobody has to come adds to it: cases, gaps and remarks."""

    cases: tuple[Case, ...] = ()
    missing: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()


def _visit_case(
    claim: AvailabilityClaim | RecoveryClaim, desk: Desk, own: Setting, sun: float
) -> _Promise:
    """Return the fully discharged battery, where the words cover any outage."""
    if not needs_no_visit(claim):
        return _Promise()
    after = recovery(desk.simulate(own.scenario, sun))
    if after.flat_restarts:
        # By assumption only: no controller with a stated lowest voltage wakes at 0 %.
        return _Promise(
            missing=("[regulator] minimum_battery, below which it is dark",)
        )
    name = "a fully discharged battery, which any outage may leave"
    text = f"a fully discharged battery needs a visit: {after.reason}"
    return _Promise((Case(name, None, holds=False, where="claimed"),), (), (text,))


def _span(days: float) -> str:
    return show(days, "d") if days >= 1 else show(24 * days, "h")


def _recovery_remarks(desk: Desk, own: Setting, sun: float) -> list[str]:
    after = recovery(desk.simulate(own.scenario, sun))
    by_month = after.days_by_month
    best = min(by_month, key=lambda m: by_month[m])
    longest = (
        "never comes back by itself"
        if not np.isfinite(after.worst_days)
        else f"takes {_span(after.worst_days)}"
    )
    text = f"from a disconnect in {MONTHS[after.worst_month - 1]} it {longest}"
    if best != after.worst_month:
        text += f", in {MONTHS[best - 1]} {_span(by_month[best])}"
    found = [f"{text}; from {100 * after.from_frac:.0f} % of charge"]
    if not after.flat_restarts:
        found.append(f"a flat bank does not come back: {after.reason}")
    return found
