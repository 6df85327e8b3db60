"""Sizing sums and ratings: every factor used once, ampere-hours at their voltage."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from powerbudget.battery.capacity import ieee_485_factor
from powerbudget.errors import Fault, ModelRangeError
from powerbudget.limits import within
from powerbudget.quantities import show
from powerbudget.review.battery_sums import held_frac, needed_ah, rated_elsewhere_ah
from powerbudget.review.claim_tables import CapacityClaim, FormulaClaim
from powerbudget.review.result import Case, Judged, Solved, conclude, meets
from powerbudget.review.solve import edge
from powerbudget.review.variants import Desk

OVERALL = ("overall", "system", "total", "measured", "performance")
ROUND_TRIP = ("round trip", "round-trip", "round_trip", "roundtrip", "cycle")
CHAIN_BAND = (0.5, 0.8)
CHAIN_SOURCE = "measured stand-alone systems lie at 0.5 to 0.8 of the array's energy"
FLEET = (
    (5.0, 0.70),
    (10.0, 0.85),
    (20.0, 1.0),
    (24.0, 1.05),
    (72.0, 1.25),
    (100.0, 1.30),
)
"""Hours and capacity over that at 20 h, flooded: a fleet's printed table."""


@dataclass(frozen=True)
class Chain:
    """Factors of a sum, each used once.

    Parameters
    ----------
    as_written, once
        Product of all factors, and of those that count [fraction].
    remarks, holds
        What was found about them, and what a factor holds already [text].
    """

    as_written: float
    once: float
    remarks: tuple[str, ...]
    holds: tuple[str, ...]


def chain(factors: dict[str, float], *, autonomy: bool) -> Chain:
    """Return the product of efficiencies, each used once [fraction].

    Parameters
    ----------
    factors
        Name of a factor to its share [fraction].
    autonomy
        Whether the sum is for days without charge: then only the way out of the
        battery counts.

    Returns
    -------
    Chain
        A measured overall figure stands for all the others; of a round trip an
        autonomy takes the way out, the square root.

    Examples
    --------
    >>> chain({"overall": 0.62, "battery": 0.85}, autonomy=False).once
    0.62
    >>> round(chain({"round trip": 0.93}, autonomy=True).once, 3)
    0.964
    """
    written = math.prod(factors.values())
    whole = {n: f for n, f in factors.items() if _is(n, OVERALL)}
    rest = {n: f for n, f in factors.items() if n not in whole}
    remarks, holds = [], []
    if whole:
        name = next(iter(whole))
        holds.append(f"{name}: a measured overall figure holds every loss of the chain")
        if rest:
            remarks.append(
                f"{', '.join(rest)} beside {name} count losses twice: the sum is "
                f"{math.prod(rest.values()):.3g} times what it should be"
            )
        rest = {}
    once = math.prod(whole.values()) if whole else 1.0
    for name, share in rest.items():
        if autonomy and _is(name, ROUND_TRIP):
            once *= math.sqrt(share)
            holds.append(
                f"{name}: the way in belongs to the array, the way out to autonomy"
            )
            remarks.append(
                f"{name} {share:.3g} holds charge and discharge; days without charge take "
                f"the way out only, {math.sqrt(share):.3g} where both are alike"
            )
        else:
            once *= share
    if factors and not CHAIN_BAND[0] <= written <= 1.0:
        remarks.append(
            f"a product of {written:.2g} is below the usual band: {CHAIN_SOURCE}"
        )
    return Chain(written, once, tuple(remarks), tuple(holds))


def _is(name: str, words: tuple[str, ...]) -> bool:
    return any(word in name.lower() for word in words)


def judge_formula(claim: FormulaClaim, blank: Judged, desk: Desk | None) -> Judged:
    """Return a sizing sum, rebuilt with each factor used once.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site, whose bus voltage and load stand in where the claim has none.

    Returns
    -------
    Judged
        In the unit of the claim; supported where the sum gives what is claimed.
    """
    volts = claim.voltage_v or (desk.volts if desk else None)
    wh, missing = _energy_wh(claim, desk, volts)
    unit, claimed = claim.claimed
    blank = replace(blank, claimed=claimed, unit=unit, sense="equal")
    if unit == "Ah" and volts is None:
        missing.append("the voltage at which the Ah are counted")
    factor, notes, faults = _cold_factor(claim)
    if faults:
        return replace(blank, problems=tuple(faults))
    if missing or wh is None:
        return replace(blank, missing=tuple(missing))
    links = chain(dict(claim.factors), autonomy=claim.days_d is not None)
    days, depth = claim.days_d or 1.0, claim.depth_frac or 1.0

    def result(once: float, cold: float, depth: float) -> float:
        ah = needed_ah(wh, days, volts or 1.0, depth, cold * claim.margin / once)
        return float(ah if unit == "Ah" else ah * (volts or 1.0))

    found = result(links.once, factor, depth)
    written = result(links.as_written, factor, depth)
    solved = _formula_solved(claim, claimed, result, links.once, factor)
    done = replace(
        blank,
        cases=_formula_cases(claimed, found, written),
        solved=tuple(solved),
        remarks=(
            *_formula_steps(claim, wh, volts, factor, found, unit),
            *links.remarks,
            *notes,
        ),
        holds_already=(*links.holds, *_depth_holds(claim)),
        sources=(
            "plain division; IEEE 485 table 1 for cold where a temperature is given",
        ),
    )
    done = conclude(done)
    return replace(done, remarks=(_off(claimed, found), *done.remarks))


def _formula_cases(claimed: float, found: float, written: float) -> tuple[Case, ...]:
    """Return the sum with each factor once, and as written where that differs."""
    once = Case("each factor once", found, meets(claimed, found, "equal"))
    if abs(written / found - 1) <= 1e-9:
        return (once,)
    fits = meets(claimed, written, "equal")
    return once, Case("as the claim multiplies", written, fits, "aside")


def _off(claimed: float, found: float) -> str:
    """Return how far a sum is from the claim, and on which side [text]."""
    if meets(claimed, found, "equal"):
        return "the sum gives what is claimed"
    percent = 100 * abs(1 - claimed / found)
    if found > claimed:
        return f"the claimed figure is {percent:.0f} % short"
    return (
        f"the claimed figure is {percent:.0f} % above the sum: too much, not too little"
    )


def _energy_wh(
    claim: FormulaClaim, desk: Desk | None, volts: float | None
) -> tuple[float | None, list[str]]:
    """Return the daily energy of a sum, and what is missing for it [Wh]."""
    if claim.energy is not None:
        unit, value = claim.energy
        if unit == "Wh":
            return value, []
        return (value * volts, []) if volts else (None, ["the voltage of the Ah a day"])
    if claim.load is not None:
        unit, value = claim.load
        if unit == "W":
            return 24 * value, []
        return (
            (24 * value * volts, []) if volts else (None, ["the voltage of the load"])
        )
    if desk is not None:
        return desk.budget.wh_per_day, []
    return None, ["the daily energy or the load"]


def _cold_factor(claim: FormulaClaim) -> tuple[float, list[str], list[Fault]]:
    """Return the factor for cold, and what is to be said about it [ratio]."""
    given, degc = claim.temperature_factor, claim.temperature_degc
    if degc is None:
        return given or 1.0, [] if given else ["no factor for cold is in it"], []
    try:
        table = max(1.0, ieee_485_factor(degc))
    except ModelRangeError as exc:
        if given:
            return given, [str(exc)], []
        return 1.0, [], [Fault("temperature", str(exc), f"{degc:g} degC")]
    if given and abs(given / table - 1) > 0.03:
        note = f"IEEE 485 gives {table:.2f} at {degc:.1f} degC, the claim {given:g}"
        return table, [note], []
    return given or table, [], []


def _formula_steps(
    claim: FormulaClaim,
    wh: float,
    volts: float | None,
    factor: float,
    found: float,
    unit: str,
) -> list[str]:
    """Return the sum with its numbers [text]."""
    steps = [show(wh, "Wh/day", 4)]
    if claim.days_d is not None:
        steps.append(f"x {claim.days_d:g} d")
    if claim.depth_frac is not None:
        steps.append(f"/ {claim.depth_frac:g} depth")
    if factor != 1:
        steps.append(f"x {factor:.3g} cold")
    steps += [f"/ {share:g} {name}" for name, share in claim.factors.items()]
    if claim.margin != 1:
        steps.append(f"x {claim.margin:g} margin")
    if unit == "Ah" and volts:
        steps.append(f"/ {volts:g} V")
    return [f"{' '.join(steps)}; each once: {show(found, unit, 4)}"]


def _depth_holds(claim: FormulaClaim) -> tuple[str, ...]:
    found = []
    if claim.depth_frac is not None:
        found.append(
            "depth: what is left at the disconnect must not be taken off again"
        )
    if claim.temperature_factor is not None or claim.temperature_degc is not None:
        found.append("cold: a capacity at that temperature must not be lowered again")
    return tuple(found)


def _formula_solved(
    claim: FormulaClaim,
    claimed: float,
    result: Callable[[float, float, float], float],
    once: float,
    factor: float,
) -> list[Solved]:
    found: list[Solved] = []
    if meets(claimed, result(once, factor, claim.depth_frac or 1.0), "at most"):
        return found

    def by_factor(cold: float) -> bool:
        needed = result(once, cold, claim.depth_frac or 1.0)
        return bool(within(needed, claimed, "upper"))

    cold = edge(by_factor, 0.1, 20.0, ratio=True)
    if cold is not None:
        said = _temperature_of(cold)
        text = f"the claimed figure holds for a cold factor of {cold:.3g}{said}"
        found.append(Solved("temperature factor", cold, "ratio", text))

    def by_depth(depth: float) -> bool:
        return bool(within(result(once, factor, depth), claimed, "upper"))

    depth = edge(by_depth, 0.02, 1.0)
    if depth is not None:
        text = f"or for a depth of {100 * depth:.0f} %"
        found.append(Solved("depth", depth, "fraction", text))
    return found


def _temperature_of(cold: float) -> str:
    """Return the battery temperature that IEEE 485 gives a cold factor, in words."""
    if cold < 1.0 - 1e-3:
        return ", below 1: at no temperature without credit for warmth"
    turn = edge(lambda t: ieee_485_factor(t) <= cold, -3.8, 25.0)
    return f" (battery at {turn:.0f} degC or warmer)" if turn is not None else ""


def judge_capacity(claim: CapacityClaim, blank: Judged, desk: Desk | None) -> Judged:
    """Return a claim about what a battery holds, judged.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site, whose bus voltage and chemistry stand in where the claim has none.

    Returns
    -------
    Judged
        Volts times ampere-hours, at another hour rate and temperature where stated.
    """
    unit, claimed = claim.claimed
    volts = claim.battery_voltage_v or (desk.volts if desk else None)
    chemistry = claim.chemistry or (
        desk.problem.bank.chemistry.name if desk else "flooded"
    )
    blank = replace(blank, claimed=claimed, unit=unit, sense="at least")
    if unit != claim.battery[0] and volts is None:
        lack = "the voltage at which the Ah are counted: Ah without volts is no energy"
        return replace(blank, missing=(lack,))
    base = _converted(claim.battery, unit, volts)
    rates = [("", base)]
    if claim.at_hour_rate_h is not None:
        if claim.hour_rate_h is None:
            return replace(blank, missing=("the hour rate of the printed capacity",))
        rates = _at_rates(claim, base, chemistry)
    cases = []
    for name, value in rates:
        for words, share in _cold_shares(claim, chemistry):
            title = ", ".join(x for x in (name, words) if x) or "as printed"
            figure = value * share
            cases.append(Case(title, figure, meets(claimed, figure, "at least")))
    done = replace(
        blank,
        cases=tuple(cases),
        found_low=min(c.found or 0.0 for c in cases),
        found_high=max(c.found or 0.0 for c in cases),
        solved=_capacity_solved(claimed, cases[0].found, volts, unit),
        remarks=tuple(_capacity_remarks(claim, base, volts, unit)),
        missing=_capacity_missing(cases),
        holds_already=_rate_holds(claim),
        sources=(
            "volts times ampere-hours; rates and cold from the chemistry's curves",
        ),
    )
    return conclude(done)


def _converted(store: tuple[str, float], unit: str, volts: float | None) -> float:
    kept, value = store
    if kept == unit or volts is None:
        return value
    return value * volts if unit == "Wh" else value / volts


def _at_rates(
    claim: CapacityClaim, base: float, chemistry: str
) -> list[tuple[str, float]]:
    rated, wanted = claim.hour_rate_h or 20.0, claim.at_hour_rate_h or 20.0
    own = rated_elsewhere_ah(base, rated, wanted, chemistry)
    found = [(f"{wanted:g} h rate, {chemistry} curve", own)]
    if chemistry == "flooded":
        import numpy as np

        hours, share = zip(*FLEET, strict=True)
        at, there = np.interp(np.log([rated, wanted]), np.log(hours), share)
        found.append((f"{wanted:g} h rate, a fleet's table", float(base * there / at)))
    return found


def _cold_shares(claim: CapacityClaim, chemistry: str) -> list[tuple[str, float]]:
    degc = claim.temperature_degc
    if degc is None:
        return [("", 1.0)]
    return [
        (f"{degc:g} degC, {curve} curve", held_frac(chemistry, curve, degc))
        for curve in ("conservative", "long-rate")
    ]


def _capacity_solved(
    claimed: float, found: float | None, volts: float | None, unit: str
) -> tuple[Solved, ...]:
    if not found or not volts or unit != "Wh":
        return ()
    need = volts * claimed / found
    text = f"the claimed energy takes these ampere-hours at {show(need, 'V')}"
    return (Solved("voltage", need, "V", text),)


def _capacity_remarks(
    claim: CapacityClaim, base: float, volts: float | None, unit: str
) -> list[str]:
    kept, value = claim.battery
    words = show(value, kept, 4)
    if volts is not None:
        other = value * volts if kept == "Ah" else value / volts
        words += f" at {volts:g} V = {show(other, 'Wh' if kept == 'Ah' else 'Ah', 4)}"
    found = [words]
    ratio = claim.claimed[1] / base if base else 0.0
    if unit == "Wh" and kept == "Ah" and 1.8 < ratio < 2.2:
        found.append("twice the energy: equal Ah need twice the voltage for that, once")
    if unit == "Wh" and kept == "Ah" and 3.6 < ratio < 4.4:
        found.append("four times the energy: at twice the voltage equal Ah hold twice")
    return found


def _capacity_missing(cases: list[Case]) -> tuple[str, ...]:
    if len({case.holds for case in cases}) < 2:
        return ()
    return ("the maker's capacity at that rate and temperature",)


def _rate_holds(claim: CapacityClaim) -> tuple[str, ...]:
    if claim.hour_rate_h is not None and claim.hour_rate_h >= 50:
        words = f"a {claim.hour_rate_h:g} h rating holds the gain of a slow discharge"
        return (f"{words}: no further credit",)
    return ()
