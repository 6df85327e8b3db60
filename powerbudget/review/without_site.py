"""Claims without a site: what plain arithmetic can say, and what it cannot.

Where the sum itself is false even with every ampere-hour used at 25 degC it is not
supported; where it holds at 80 % depth in the stated cold, supported; between them it
cannot be told.
"""

from __future__ import annotations

from collections.abc import Iterator

from powerbudget.battery.chemistry import chemistries
from powerbudget.battery.freezing import lowest_state_frac
from powerbudget.quantities import in_unit, show
from powerbudget.review.battery_sums import (
    DEPTHS,
    assumed_text,
    days_on,
    load_for_days,
    needed_ah,
    plain_held,
)
from powerbudget.review.claim_tables import (
    AutonomyClaim,
    BatteryClaim,
    Claim,
    DrawClaim,
    EnergyClaim,
    StoreConditions,
)
from powerbudget.review.load_claims import band_caution
from powerbudget.review.result import Judged
from powerbudget.review.varied_site import times_volts

NEEDS_SITE = "a site file: equipment, location, battery, and array"


def needs_site(_claim: Claim, answer: Judged) -> None:
    """Say that nothing can be told of a claim without its site."""
    answer.missing.append(NEEDS_SITE)


def bare_load(claim: DrawClaim | EnergyClaim, answer: Judged) -> None:
    """Hold a draw or energy against what such sites usually need."""
    unit, answer.claimed = claim.claimed
    per_day = isinstance(claim, EnergyClaim)
    answer.unit = f"{unit}/day" if per_day else unit
    if unit in {"W", "Wh"}:
        answer.cautions += band_caution(answer.claimed / (24 if per_day else 1))
    answer.missing.append(NEEDS_SITE)


def _battery(
    claim: StoreConditions, store: tuple[str, float], answer: Judged
) -> tuple[float | None, float | None]:
    """Return volts and mean load of a claim, and say what is missing [V, W]."""
    # Watt-hours need no volts.
    volts = claim.battery_voltage_v or (12.0 if store[0] == "Wh" else None)
    load_w = times_volts(claim.load, volts) if claim.load else None
    unsaid = {
        "the battery voltage of the Ah figure": volts is None,
        "the average load of the claim": claim.load is None,
        "the battery voltage of the current": bool(claim.load) and load_w is None,
        "the battery temperature": claim.temperature_degc is None,
        "the DOD limit": claim.depth_frac is None,
    }
    answer.missing_if_open += [words for words, open_ in unsaid.items() if open_]
    return volts, None if load_w is None else load_w * claim.duty_frac


def _by_depth_and_cold(claim: StoreConditions) -> Iterator[tuple[str, float, float]]:
    """Yield name, depth and held share of what is stated, else of the span it leaves."""
    held = plain_held(claim.chemistry, claim.temperature_degc)
    if claim.temperature_degc is not None:
        held = {n: share for n, share in held.items() if n != "25 °C"} or held
    for depth in (1.0, 0.5) if claim.depth_frac is None else (claim.depth_frac,):
        for name, share in held.items():
            yield f"DOD {in_unit(100 * depth, '%')}, {name}", depth, share


def bare_autonomy(claim: AutonomyClaim, answer: Judged) -> None:
    """Ask for the days that the stated battery lasts under the stated load."""
    answer.claimed, answer.unit = claim.claimed_d, "d"
    if claim.battery is None:
        answer.missing += [NEEDS_SITE, "battery"]
        return
    volts, load_w = _battery(claim, claim.battery, answer)
    if volts is None:
        return
    unit, value = claim.battery
    ah = value if unit == "Ah" else value / volts
    held = plain_held(claim.chemistry, claim.temperature_degc)
    depths = DEPTHS if claim.depth_frac is None else (claim.depth_frac,)
    name, share = next(iter(held.items()))
    watts = load_for_days(ah, volts, claim.claimed_d, depths[0], share)
    text = f"{show(watts, 'W')} at DOD {in_unit(100 * depths[0], '%')} and {name}"
    answer.turns("load", watts, "W", f"true for {text} or less")
    loads = assumed_text(ah, volts, claim.claimed_d, held, depths)
    answer.remarks += [
        f"{show(ah, 'Ah')} at {volts:g} V = {show(ah * volts, 'Wh')}",
        f"it implies an average load of {loads}",
    ]
    answer.cautions += _ice(claim)
    if load_w is None:
        answer.known = False
        return
    for name, depth, share in _by_depth_and_cold(claim):
        answer.case(name, float(days_on(ah, volts, load_w, depth, share)))


def _ice(claim: StoreConditions) -> list[str]:
    degc = claim.temperature_degc
    chemistry = chemistries()[claim.chemistry or "agm"]
    if degc is None or chemistry.freezing is None:
        return []
    state = float(lowest_state_frac(degc, chemistry.freezing))
    if not 0 < state < 1:
        return []
    percent = f"SOC {in_unit(100 * state, '%')}"
    return [f"at {degc:g} °C a lead-acid battery freezes below {percent}"]


def bare_battery(claim: BatteryClaim, answer: Judged) -> None:
    """Ask for the Ah that the stated load needs for the stated days."""
    answer.unit, answer.claimed = claim.claimed
    answer.sense = "at most"
    volts, load_w = _battery(claim, claim.claimed, answer)
    if not volts or not load_w:
        return
    ah = answer.claimed if answer.unit == "Ah" else answer.claimed / volts
    bare = float(days_on(ah, volts, load_w))
    answer.remarks.append(
        f"{show(ah, 'Ah')} at {volts:g} V: {show(bare, 'd')} of "
        f"{show(load_w, 'W')} (full capacity, 25 °C, new)"
    )
    days = claim.days_d
    if days is None:
        lacking = "the autonomy in days"
        answer.missing += [lacking, *answer.missing_if_open]
        answer.missing_if_open.clear()
        if bare > 2:
            return
    answer.claimed, answer.unit = ah, "Ah"
    if days is None:
        needed = float(needed_ah(24 * load_w, 2, volts, 0.5))
        answer.case("two days at 50 % DOD", needed, holds=False)
        answer.remarks.append(
            "DOD limit, temperature, aging, and deficit periods are not included"
        )
        return
    for name, depth, share in _by_depth_and_cold(claim):
        answer.case(name, float(needed_ah(24 * load_w, days, volts, depth, 1 / share)))
    answer.cautions += _ice(claim)
