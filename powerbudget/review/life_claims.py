"""Claims about a battery left alone: years of life, charge lost on the shelf."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from powerbudget.balance.simulation import bank_life
from powerbudget.battery.ageing import calendar_life_y
from powerbudget.battery.capacity import HOURS_PER_MONTH, self_discharge_per_h
from powerbudget.battery.chemistry import Chemistry, chemistries
from powerbudget.quantities import show
from powerbudget.review.claim_tables import LifeClaim, SelfDischargeClaim
from powerbudget.review.result import Case, Judged, Solved, conclude, meets
from powerbudget.review.variants import Desk

SHELF_DEGC = 20.0
"""Temperature that a rate without one is taken at; data sheets use it."""
LIFE_RANGE = (0.7, 0.8)


def judge_life(claim: LifeClaim, blank: Judged, desk: Desk) -> Judged:
    """Return a claim about the years until a bank is replaced, judged.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site.

    Returns
    -------
    Judged
        The shorter of cycle life and life at rest at the site's own temperatures.
    """
    life, known = bank_life(desk.run), desk.run.bank.chemistry
    claimed = claim.claimed_y
    words = f"{life.limited_by}, battery at {life.mean_degc:.0f} degC on average"
    cases = [Case(words, life.life_y, meets(claimed, life.life_y, "at least"))]
    if claim.temperature_degc is not None:
        rest = _rest_y(known, claim.temperature_degc)
        name = f"as claimed: at rest at {claim.temperature_degc:g} degC"
        cases.append(Case(name, rest, meets(claimed, rest, "at least"), "claimed"))
    low, high = (share * claimed for share in LIFE_RANGE)
    remarks = [
        f"by cycles {show(life.cycle_life_y, 'years')}, by heat and time "
        f"{show(life.calendar_life_y, 'years')}, to {100 * life.end_of_life_frac:.0f} % of "
        f"the rated charge",
        f"{show(_rest_y(known, 20.0), 'years')} at 20 degC, "
        f"{show(_rest_y(known, 30.0), 'years')} at 30 degC; no credit for cold",
        f"if {claimed:g} years is a design life, a well-kept bank serves 70 to 80 % of "
        f"it: {low:.1f} to {high:.1f} years",
    ]
    done = replace(
        blank,
        claimed=claimed,
        unit="years",
        sense="at least",
        cases=tuple(cases),
        remarks=tuple(remarks),
        missing=("the temperature and depth of the maker's life test",),
        sources=(_source(known, "calendar"),),
        cautions=("sealed lead-acid often fails at once, before its capacity shows it",)
        if known.name in {"agm", "gel"}
        else (),
    )
    done = conclude(done)
    return done if done.verdict == "cannot tell" else replace(done, missing=())


def _rest_y(known: Chemistry, degc: float) -> float:
    return calendar_life_y(degc, known.calendar_y_at_20_degc, known.calendar_halving_k)


def _source(known: Chemistry, what: str) -> str:
    text = known.sources.get(f"{what}_source", "from memory")
    return f"{known.title}: {text}"


def judge_self_discharge(
    claim: SelfDischargeClaim, blank: Judged, desk: Desk | None
) -> Judged:
    """Return a claim about the charge that a resting bank loses in a month, judged.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site, whose chemistry stands in where the claim names none.

    Returns
    -------
    Judged
        At the claim's temperature, 20 degC where it states none.
    """
    name = claim.chemistry or (desk.problem.bank.chemistry.name if desk else None)
    blank = replace(blank, claimed=claim.claimed_frac, unit="fraction", sense="at most")
    if name is None:
        return replace(blank, missing=("the battery's chemistry",))
    known = chemistries()[name]
    stated = claim.temperature_degc
    at = SHELF_DEGC if stated is None else stated
    cases = [_lost(claim, known, at, "" if stated is not None else ", not stated")]
    if desk is not None:
        mean = float(np.mean(desk.problem.conditions.battery_degc))
        cases.append(
            replace(_lost(claim, known, mean, ", this site's mean"), where="aside")
        )
    rate, k = known.self_discharge_per_month, claim.claimed_frac
    turn = SHELF_DEGC + 10 * float(np.log2(k / rate))
    done = replace(
        blank,
        cases=tuple(cases),
        solved=(
            Solved("temperature", turn, "degC", f"it holds at up to {turn:.0f} degC"),
        ),
        remarks=(
            f"{100 * rate:g} % a month at 20 degC, twice that for every 10 degC more",
        ),
        sources=(_source(known, "self_discharge"),),
    )
    return conclude(done)


def _lost(claim: SelfDischargeClaim, known: Chemistry, degc: float, words: str) -> Case:
    share = self_discharge_per_h(degc, known.self_discharge_per_month)
    share = HOURS_PER_MONTH * float(share)
    holds = meets(claim.claimed_frac, share, "at most")
    return Case(f"a month at {degc:.0f} degC{words}", share, holds)
