"""Claims that the array carries the site: enough panel, availability, recovery."""

from __future__ import annotations

from math import isfinite

from powerbudget.balance.arrayload import asked_w, delivered_w, ratio_of
from powerbudget.bisection import edge
from powerbudget.errors import Fault
from powerbudget.limits import HOURS_PER_YEAR
from powerbudget.quantities import count, in_unit, show
from powerbudget.review.claim_tables import (
    ArrayClaim,
    AvailabilityClaim,
    RecoveryClaim,
)
from powerbudget.review.panel_claims import module_faults
from powerbudget.review.result import Judged, meets, refuse
from powerbudget.review.site_conditions import ask_everywhere, ask_load
from powerbudget.review.varied_site import Conditions, VariedSite
from powerbudget.review.wording import needs_no_visit
from powerbudget.site.fields import MONTHS
from powerbudget.site.parts import ModulePart
from powerbudget.site.scenario import Scenario
from powerbudget.sizing.candidates import lost_words
from powerbudget.sizing.recovery import recovery

SUN_RANGE = (0.005, 200.0)
"""Arrays that are looked through, over the site's own [ratio]."""
ARRAY_LOAD_RANGE = (0.005, 50.0)


def judge_array(claim: ArrayClaim, answer: Judged, site: VariedSite) -> None:
    """Ask for the watts of such panels with which the site's criteria are met.

    Those that a panel can change, beside the site's own battery.
    """
    refuse(_array_faults(claim, site))
    if claim.module not in {None, site.design.tables.array.module}:
        # In strings as here.
        site = VariedSite(Scenario(module=claim.module).site(site.design))
    answer.claimed = claim.claimed_w or (claim.modules or 0) * _module_w(claim, site)
    sun = answer.claimed / site.array_w

    def enough(site: VariedSite, conditions: Conditions, sun: float) -> bool:
        return not site.failed(site.simulate(conditions.scenario, sun))

    def needed(site: VariedSite, at: Conditions) -> tuple[float | None, bool]:
        ratio = edge(lambda x: enough(site, at, x), *SUN_RANGE, ratio=True)
        return ratio and ratio * site.array_w, enough(site, at, sun)

    ask_everywhere(answer, claim, site, needed, darker=True)
    answer.range_over([case.found for case in answer.cases[: len(site.conditions())]])
    if claim.sun_hours_h is not None:
        load_w = site.watts(claim.load) or site.budget.average_w
        name = f"rated power times {claim.sun_hours_h:g} peak sun hours over the load"
        by_hand_w = 24 * load_w / claim.sun_hours_h
        holds = meets(sun * site.array_w, by_hand_w, "at most")
        answer.case(name, by_hand_w, holds, where="aside")
    _array_turns(answer, sun * site.array_w)
    ask_load(
        answer,
        site,
        lambda x: enough(site, site.as_stated.loaded(x), sun),
        ARRAY_LOAD_RANGE,
    )
    _array_remarks(claim, answer, site, sun)


def _array_faults(claim: ArrayClaim, site: VariedSite) -> list[Fault]:
    """Return what about the panel cannot be used, or contradicts."""
    faults = module_faults(claim.module, site)
    if claim.claimed_w is None and claim.modules is None:
        faults.append(
            Fault("claimed", "is missing", allowed="watts: '100 W', or modules")
        )
    if faults or claim.claimed_w is None or claim.modules is None:
        return faults
    rated = _module_w(claim, site)
    if claim.module and abs(claim.claimed_w / claim.modules / rated - 1) > 0.05:
        problem = "contradicts the module: one is rated " + show(rated, "W")
        given = f"{show(claim.claimed_w, 'W')} from {claim.modules}"
        faults.append(Fault("claimed", problem, given))
    return faults


def _module_w(claim: ArrayClaim, site: VariedSite) -> float:
    part = site.design.parts.get(claim.module or "")
    if isinstance(part, ModulePart):
        return part.data.power_w
    return site.problem.array.module.power_w


def _array_turns(answer: Judged, claimed_w: float) -> None:
    needed_w = answer.cases[0].found
    if needed_w is None:
        return
    more = needed_w / claimed_w
    if more > 1:
        text = f"the load needs {show(needed_w, 'W')}, or {more:.2f} times the POA irradiation"
    else:
        text = f"{show(needed_w, 'W')} are enough: {in_unit(100 * more, '%')} of the stated power"
    answer.turns("array", needed_w, "W", text)
    answer.turns("sun", more, "ratio", text)


def _array_remarks(
    claim: ArrayClaim, answer: Judged, site: VariedSite, sun: float
) -> None:
    run = site.simulate(site.as_stated.scenario, sun)
    failed, least = site.failed(run), run.array_to_load
    year = ratio_of(float(delivered_w(run).sum()), float(asked_w(run).sum()))
    answer.remarks.append(
        f"array-to-load ratio {least.text}; {year:.2f} over the year; the lowest "
        "month governs"
    )
    if failed:
        answer.remarks.append("fails with it: " + ", ".join(failed))
    if failed and not run.served.all():
        off_h = float((~run.served).sum() * run.problem.record.step_h)
        answer.remarks.append(f"outage of {in_unit(off_h, 'h')} in the simulation")
    if claim.sun_hours_h is not None:
        worst = next(row for row in run.monthly if row.month == least.month)
        low = min(site.sun_hours, key=site.sun_hours.__getitem__)
        claimed_wh = sun * site.array_w * claim.sun_hours_h
        answer.remarks.append(
            f"the claim counts {claim.sun_hours_h:g} PSH, {show(claimed_wh, 'Wh')} "
            f"per day at rated power; {MONTHS[low - 1]} has "
            f"{in_unit(site.sun_hours[low], 'PSH', 1)} "
            f"on this plane and {show(worst.array_wh_per_day, 'Wh')} per day of "
            f"available array energy in {MONTHS[worst.month - 1]}"
        )


def judge_availability(
    claim: AvailabilityClaim, answer: Judged, site: VariedSite
) -> None:
    """Ask for the share of hours with the loads on; a battery lost ends the claim."""

    def kept(site: VariedSite, at: Conditions, sun: float = 1.0) -> tuple[float, bool]:
        run = site.simulate(at.scenario, sun)
        holds = answer.holds(run.availability_frac) and not run.frost.lost_at
        return run.availability_frac, holds

    stated = site.as_stated
    ask_everywhere(answer, claim, site, kept, darker=True)
    ask_load(answer, site, lambda x: kept(site, stated.loaded(x))[1])
    suns = edge(lambda x: kept(site, stated, x)[1], *SUN_RANGE, ratio=True)
    if suns is not None:
        text = f"true with {suns:.2f} times this array or irradiation"
        answer.turns("sun", suns, "ratio", text)
    if lost := lost_words(site.simulate(stated.scenario)):
        answer.remarks.append(lost)
    off_h = (1 - (answer.cases[0].found or 0.0)) * HOURS_PER_YEAR
    allowed_h = (1 - claim.claimed_frac) * HOURS_PER_YEAR
    answer.remarks.append(
        f"outage {in_unit(off_h, 'h/yr', 1)} over {count(site.run.problem.record.years, 'year')}; "
        "the claim allows "
        f"{in_unit(allowed_h, 'h/yr', 1)}"
    )
    if reason := _ask_visit(claim, answer, site, 1.0):
        answer.remarks.append(
            f"a fully discharged battery needs a site visit: {reason}"
        )


def judge_recovery(claim: RecoveryClaim, answer: Judged, site: VariedSite) -> None:
    """Ask for the days from a disconnect until the loads are back, the longest."""
    if claim.array_w is not None and not site.array_w:
        refuse([Fault("array", "is claimed, and the site has no array")])
    sun = 1.0 if claim.array_w is None else claim.array_w / site.array_w

    def days(
        site: VariedSite, at: Conditions, sun: float = sun
    ) -> tuple[float | None, bool]:
        longest_d = recovery(site.simulate(at.scenario, sun)).worst_days
        # Never, where they do not come back by themselves.
        finite = longest_d if isfinite(longest_d) else None
        return finite, answer.holds(longest_d)

    ask_everywhere(answer, claim, site, days, darker=False)
    _recovery_remarks(answer, site, sun)
    visit = _ask_visit(claim, answer, site, sun)
    ratio = edge(lambda x: days(site, site.as_stated, x)[1], *SUN_RANGE, ratio=True)
    if ratio is None:
        return
    watts = ratio * site.array_w
    text = f"true with an array of {show(watts, 'W')} or more"
    text += f" (here {show(sun * site.array_w, 'W')})"
    if visit:
        # No array brings back what somebody has to come for.
        answer.remarks.append(f"from an LVD only: {text}")
    else:
        answer.turns("array", watts, "W", text)


def _ask_visit(
    claim: AvailabilityClaim | RecoveryClaim,
    answer: Judged,
    site: VariedSite,
    sun: float,
) -> str:
    """Ask for the fully discharged battery where the words cover any outage.

    Returns why it needs a visit, empty where nobody asks or nobody has to come.
    """
    if not needs_no_visit(claim):
        return ""
    after = recovery(site.simulate(site.as_stated.scenario, sun))
    if after.flat_restarts:
        # By assumption only: no controller with a stated lowest voltage wakes at 0 %.
        answer.missing.append(
            "[charge_controller] minimum_battery, below which it is off"
        )
        answer.known = False
        return ""
    name = "a fully discharged battery, possible after any outage"
    answer.case(name, None, holds=False, where="claimed")
    return after.reason


def _recovery_remarks(answer: Judged, site: VariedSite, sun: float) -> None:
    after = recovery(site.simulate(site.as_stated.scenario, sun))
    by_month = after.days_by_month
    best = min(by_month, key=by_month.__getitem__)
    longest = (
        f"takes {_span(after.worst_days)}"
        if isfinite(after.worst_days)
        else "no automatic recovery"
    )
    text = f"from an LVD in {MONTHS[after.worst_month - 1]}: {longest}"
    if best != after.worst_month:
        text += f", in {MONTHS[best - 1]} {_span(by_month[best])}"
    answer.remarks.append(f"{text}; from SOC {in_unit(100 * after.from_frac, '%')}")
    if not after.flat_restarts:
        answer.remarks.append(
            f"a fully discharged battery needs manual recovery: {after.reason}"
        )


def _span(days: float) -> str:
    return show(days, "d") if days >= 1 else show(24 * days, "h")
