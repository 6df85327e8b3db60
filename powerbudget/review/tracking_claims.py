"""Claims that a tracking regulator harvests more than a direct connection: by month."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from powerbudget.balance.scenario import Scenario
from powerbudget.balance.simulation import simulate_size
from powerbudget.charging.controller import WASTEFUL_FRAC
from powerbudget.quantities import show
from powerbudget.review.claim_tables import TrackingClaim
from powerbudget.review.result import Case, Judged, Solved, conclude, meets
from powerbudget.review.sun_claims import month_caution, pick_month, sky_cautions
from powerbudget.review.variants import Desk
from powerbudget.site.fields import MONTHS

LEAST_FRAC = 0.02
"""A month in which less than this of its sun finds room has no gain to speak of."""
DISAGREE = (
    "figures quoted for it run from nil in hot places to 30 % and more: they hold for "
    "one battery voltage and one cell temperature each"
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


def gain(desk: Desk) -> Gain:
    """Return what tracking gains at a site, the same strings and sky under both.

    Parameters
    ----------
    desk
        The site; figures of the other regulator are the usual ones.

    Returns
    -------
    Gain
        The direct connection is simulated, so that each hour has its own battery
        voltage.
    """
    run = simulate_size(desk.under(Scenario(charge_controller="pwm")))
    tracker = desk.under(Scenario(charge_controller="mppt"))
    tracked = tracker.strings * tracker.hourly["array_w"]
    bus_v, offered = run.out["bus_v"], run.out["offered_a"]
    room = offered - run.out["array_a"] <= 1e-6 * np.maximum(offered, 1e-9)
    day = np.bincount(desk.problem.month_index, minlength=12) / 24
    sums = [
        np.bincount(desk.problem.month_index, watts * mask, 12)
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


def judge_tracking(claim: TrackingClaim, blank: Judged, desk: Desk) -> Judged:
    """Return a claim about the gain of tracking, judged month by month.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site.

    Returns
    -------
    Judged
        Without a month, the month of least gain decides; the others and the mean of
        the year stand beside it.
    """
    at = gain(desk)
    # Where the battery is always full there is nothing to gain; all hours stand in.
    months, year = (
        (at.by_month, at.year) if at.by_month else (at.full_by_month, at.full_year)
    )
    month, found, words = pick_month(months, claim.month, year)
    if claim.month == 0:
        words = words.replace("worst month", "month of least gain")
    cases = [Case(words, found, meets(claim.claimed_frac, found, "at least"))]
    others = [(m, f"{MONTHS[m - 1]}", value) for m, value in months.items()]
    others.append((-1, "mean of the year", year))
    cases += [
        Case(name, value, meets(claim.claimed_frac, value, "at least"), "aside")
        for m, name, value in others
        if m != month
    ]
    done = replace(
        blank,
        claimed=claim.claimed_frac,
        unit="fraction",
        sense="at least",
        cases=tuple(cases),
        found_low=min(months.values()),
        found_high=max(months.values()),
        solved=(_months_solved(claim, months),),
        remarks=tuple(_remarks(desk, at)),
        sources=(
            f"weather: {desk.problem.record.source}",
            "both regulators simulated: maximum-power point times the efficiency; the "
            "panel's current at battery voltage and drop",
        ),
        cautions=(*month_caution(month), DISAGREE, *sky_cautions(desk)),
    )
    return conclude(done)


def _months_solved(claim: TrackingClaim, months: dict[int, float]) -> Solved:
    good = [
        m for m, gain in months.items() if meets(claim.claimed_frac, gain, "at least")
    ]
    where = ", ".join(MONTHS[m - 1] for m in good) if good else "no month"
    where = "every month" if len(good) == len(months) else where
    return Solved(
        "months", float(len(good)), "months", f"so much more comes in {where}"
    )


def _remarks(desk: Desk, at: Gain) -> list[str]:
    worst = min(at.direct_wh, key=lambda m: at.direct_wh[m])
    regulator, array = desk.design.tables.regulator, desk.design.tables.array
    low, high = min(at.full_by_month.values()), max(at.full_by_month.values())
    found = [
        "counted in the hours in which battery and loads take all that comes",
        f"with the hours of a full battery it is {100 * low:.0f} to {100 * high:.0f} % by "
        f"month, {100 * at.full_year:.0f} % in the year: a full battery stands high and "
        "spills what is gained",
        f"in {MONTHS[worst - 1]}, when the direct connection gives least, the bus is offered "
        f"{show(at.tracking_wh[worst], 'Wh')} a day with tracking and "
        f"{show(at.direct_wh[worst], 'Wh')} without",
        f"tracking and conversion count {100 * regulator.efficiency_frac:g} %, the direct "
        f"connection drops {regulator.drop_v:g} V; own draw is the same in both",
    ]
    left = [MONTHS[m - 1] for m in at.full_by_month if m not in at.by_month]
    if left:
        found.append(
            f"in {', '.join(left)} the battery is full whenever the sun shines: no gain"
        )
    string_v = array.series * desk.problem.array.module.max_power_v
    if string_v > WASTEFUL_FRAC * desk.volts:
        found.append(
            f"strings of {string_v:.1f} V are too many volts for a direct connection to "
            f"{desk.volts:g} V: most of the gain is of that mismatch, not of tracking"
        )
    return found
