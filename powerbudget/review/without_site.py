"""Claims without a site: what plain arithmetic can say, and what it cannot."""

from __future__ import annotations

from dataclasses import replace

from powerbudget.battery.chemistry import chemistries
from powerbudget.battery.freezing import lowest_state_frac
from powerbudget.quantities import show
from powerbudget.review.battery_claims import plain_held
from powerbudget.review.battery_sums import (
    assumed_loads,
    assumed_text,
    days_on,
    needed_ah,
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
from powerbudget.review.result import Case, Judged, Solved, conclude, meets

NEEDS_SITE = "a site file: equipment, place, battery and array"
DEPTH = 0.8


def judge_bare(claim: Claim, blank: Judged) -> Judged:
    """Return a claim judged by plain arithmetic, as far as that goes.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.

    Returns
    -------
    Judged
        Where the sum itself is false even with every ampere-hour used at 25 degC it
        is not supported; where it holds at 80 % depth in the stated cold, supported;
        between them it cannot be told.
    """
    if isinstance(claim, AutonomyClaim):
        return _autonomy(claim, blank)
    if isinstance(claim, BatteryClaim):
        return _battery(claim, blank)
    if isinstance(claim, DrawClaim | EnergyClaim):
        unit, value = claim.claimed
        per_day = isinstance(claim, EnergyClaim)
        watts = value / 24 if per_day else value
        caution = band_caution(watts) if unit in {"W", "Wh"} else ()
        blank = replace(
            blank,
            claimed=value,
            unit=f"{unit}/day" if per_day else unit,
            cautions=caution,
        )
    return replace(blank, missing=(NEEDS_SITE,))


def _load_w(claim: StoreConditions, volts: float | None) -> float | None:
    if claim.load is None:
        return None
    unit, value = claim.load
    if unit == "W":
        return value * claim.duty_frac
    return value * volts * claim.duty_frac if volts else None


def _volts(claim: StoreConditions, store: tuple[str, float] | None) -> float | None:
    """Return the volts of a store; watt-hours need none."""
    if store is not None and store[0] == "Wh":
        return claim.battery_voltage_v or 12.0
    return claim.battery_voltage_v


def _missing(claim: StoreConditions, volts: float | None) -> list[str]:
    found = []
    if volts is None:
        found.append("the volts of the battery: Ah without volts is no energy")
    if claim.load is None:
        found.append("the mean load that it is for")
    elif _load_w(claim, volts) is None:
        found.append("the volts of the battery: amperes without volts are no power")
    if claim.temperature_degc is None:
        found.append("the temperature of the battery")
    if claim.depth_frac is None:
        found.append("the depth to which it may be discharged")
    return list(dict.fromkeys(found))


def _autonomy(claim: AutonomyClaim, blank: Judged) -> Judged:
    blank = replace(blank, claimed=claim.claimed_d, unit="d", sense="at least")
    if claim.battery is None:
        return replace(blank, missing=(NEEDS_SITE, "battery"))
    volts = _volts(claim, claim.battery)
    watts = _load_w(claim, volts)
    missing = _missing(claim, volts)
    held = plain_held(claim.chemistry, claim.temperature_degc)
    unit, value = claim.battery
    if volts is None:
        return replace(blank, missing=tuple(missing))
    ah = value if unit == "Ah" else value / volts
    loads = assumed_loads(ah, volts, claim.claimed_d, held, _depths(claim))
    assumes = "it assumes a mean load of " + assumed_text(loads)
    blank = replace(
        blank,
        solved=(Solved("load", loads[0].watts, "W",
                       f"it holds for at most {loads[0].text}"),),
        remarks=(f"{show(ah, 'Ah')} at {volts:g} V = {show(ah * volts, 'Wh')}", assumes),
        cautions=_ice(claim),
    )  # fmt: skip
    if watts is None:
        return replace(conclude(blank, known=False), missing=tuple(missing))
    cases = _day_cases(claim, ah, volts, watts, held)
    done = conclude(replace(blank, cases=tuple(cases)))
    open_ = missing if done.verdict == "cannot tell" else []
    return replace(done, missing=tuple(open_))


def _depths(claim: StoreConditions) -> tuple[float, ...]:
    return (claim.depth_frac,) if claim.depth_frac is not None else (1.0, 0.8, 0.5)


def _day_cases(
    claim: AutonomyClaim, ah: float, volts: float, watts: float, held: dict[str, float]
) -> list[Case]:
    """Return the days under what the claim states, and where it is silent the span."""
    degc = claim.temperature_degc
    names = [name for name in held if name != "25 degC"] if degc is not None else []
    names = names or list(held)
    depths = (claim.depth_frac,) if claim.depth_frac is not None else (1.0, 0.5)
    cases = []
    for depth in depths:
        for name in names:
            days = float(days_on(ah, volts, watts, depth, held[name]))
            title = f"{100 * depth:.0f} % depth, {name}"
            cases.append(Case(title, days, meets(claim.claimed_d, days, "at least")))
    return cases


def _ice(claim: StoreConditions) -> tuple[str, ...]:
    degc = claim.temperature_degc
    chemistry = chemistries()[claim.chemistry or "agm"]
    if degc is None or chemistry.freezing is None:
        return ()
    state = float(lowest_state_frac(degc, chemistry.freezing))
    if not 0 < state < 1:
        return ()
    return (
        f"at {degc:g} degC a lead-acid bank freezes below {100 * state:.0f} % of charge",
    )


def _depth_cases(
    claim: BatteryClaim, ah: float, use: tuple[float, float, float]
) -> tuple[Case, ...]:
    """Return the Ah needed by depth and cold against those claimed."""
    held = plain_held(claim.chemistry, claim.temperature_degc)
    names = list(held)
    if claim.temperature_degc is not None:
        names = [name for name in held if name != "25 degC"] or names
    depths = (claim.depth_frac,) if claim.depth_frac is not None else (1.0, 0.5)
    cases = []
    for depth in depths:
        for name in names:
            need = float(needed_ah(*use, depth, 1 / held[name]))
            title = f"{100 * depth:.0f} % depth, {name}"
            cases.append(Case(title, need, meets(ah, need, "at most")))
    return tuple(cases)


def _battery(claim: BatteryClaim, blank: Judged) -> Judged:
    unit, value = claim.claimed
    volts = _volts(claim, claim.claimed)
    blank = replace(blank, claimed=value, unit=unit, sense="at most")
    watts = _load_w(claim, volts)
    missing = _missing(claim, volts)
    if volts is None or watts is None or watts <= 0:
        return replace(blank, missing=tuple(missing))
    ah = value if unit == "Ah" else value / volts
    bare = float(days_on(ah, volts, watts))
    words = [
        f"{show(ah, 'Ah')} at {volts:g} V are {show(bare, 'd')} of {show(watts, 'W')}, "
        "every ampere-hour used, at 25 degC, new"
    ]
    days = claim.days_d
    if days is None:
        missing.insert(0, "the days without sun that it must bridge")
        lacking = "depth limit, cold, ageing and dark days are missing from it"
        first = Case(
            "two days at half depth", float(needed_ah(24 * watts, 2, volts, 0.5)), False
        )
        if bare > 2:
            return replace(blank, remarks=tuple(words), missing=tuple(missing))
        done = replace(blank, cases=(first,), remarks=(*words, lacking))
        return replace(conclude(done), unit="Ah", missing=tuple(missing))
    cases = _depth_cases(claim, ah, (24 * watts, days, volts))
    done = replace(blank, claimed=ah, unit="Ah", cases=cases, remarks=tuple(words))
    done = conclude(replace(done, cautions=_ice(claim)))
    return replace(
        done, missing=tuple(missing) if done.verdict == "cannot tell" else ()
    )
