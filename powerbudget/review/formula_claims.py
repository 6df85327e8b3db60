"""Sizing sums and ratings: every factor used once, ampere-hours at their voltage."""

from __future__ import annotations

import math
from dataclasses import dataclass

from powerbudget.battery.capacity import ieee_485_factor
from powerbudget.bisection import edge
from powerbudget.errors import Fault, ModelRangeError
from powerbudget.limits import within
from powerbudget.quantities import in_unit, show
from powerbudget.review.battery_sums import (
    CURVES,
    held_frac,
    needed_ah,
    rated_elsewhere_ah,
    slow_rate_holds,
)
from powerbudget.review.claim_tables import CapacityClaim, FormulaClaim
from powerbudget.review.result import Judged, meets, refuse
from powerbudget.review.varied_site import VariedSite, times_volts

OVERALL = ("overall", "system", "total", "measured", "performance")
ROUND_TRIP = ("round trip", "round-trip", "round_trip", "roundtrip", "cycle")
CHAIN_BAND = (0.5, 0.8)
CHAIN_SOURCE = "measured stand-alone systems reach 0.5 to 0.8 of the array energy"
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
        holds.append(
            f"{name}: a measured overall figure includes every loss of the chain"
        )
        if rest:
            remarks.append(
                f"{', '.join(rest)} and {name} count losses twice: the result is "
                f"{math.prod(rest.values()):.3g} times the correct value"
            )
        rest = {}
    once = math.prod(whole.values()) if whole else 1.0
    for name, share in rest.items():
        if autonomy and _is(name, ROUND_TRIP):
            once *= math.sqrt(share)
            holds.append(
                f"{name}: charging belongs to the array, discharging to autonomy"
            )
            remarks.append(
                f"{name} {share:.3g} includes charge and discharge; autonomy uses "
                f"discharge only, {math.sqrt(share):.3g} if both are equal"
            )
        else:
            once *= share
    if factors and not CHAIN_BAND[0] <= written <= 1.0:
        remarks.append(
            f"a product of {written:.2g} is below the usual range: {CHAIN_SOURCE}"
        )
    return Chain(written, once, tuple(remarks), tuple(holds))


def _is(name: str, words: tuple[str, ...]) -> bool:
    return any(word in name.lower() for word in words)


@dataclass(frozen=True)
class _Sum:
    """A sizing sum with its figures settled: energy a day, volts, factor for cold."""

    claim: FormulaClaim
    wh: float
    volts: float | None
    cold: float
    links: Chain

    def result(
        self, once: float, cold: float | None = None, depth: float | None = None
    ) -> float:
        """Return the sum with so much efficiency, cold and depth [Ah or Wh]."""
        claim, volts = self.claim, self.volts or 1.0
        depth = depth or claim.depth_frac or 1.0
        factor = (cold or self.cold) * claim.margin / once
        ah = needed_ah(self.wh, claim.days_d or 1.0, volts, depth, factor)
        return float(ah if claim.claimed[0] == "Ah" else ah * volts)

    @property
    def steps(self) -> str:
        """The sum with its numbers [text]."""
        claim = self.claim
        steps = [
            show(self.wh, "Wh/day", 4),
            f"x {claim.days_d:g} d" if claim.days_d is not None else "",
            f"/ DOD {claim.depth_frac:g}" if claim.depth_frac is not None else "",
            f"x temperature factor {self.cold:.3g}" if self.cold != 1 else "",
            *(f"/ {share:g} {name}" for name, share in claim.factors.items()),
            f"x margin {claim.margin:g}" if claim.margin != 1 else "",
            f"/ {self.volts:g} V" if claim.claimed[0] == "Ah" and self.volts else "",
        ]
        return " ".join(filter(None, steps))


def judge_formula(claim: FormulaClaim, answer: Judged, site: VariedSite | None) -> None:
    """Rebuild a sizing sum with each factor used once, in the unit of the claim.

    The site's bus voltage and load stand in where the claim has none.
    """
    volts = claim.voltage_v or (site.volts if site else None)
    wh = _energy_wh(claim, answer, site, volts)
    unit, claimed = claim.claimed
    if unit == "Ah" and volts is None:
        answer.missing.append("the voltage of the Ah figure")
    cold, notes = _cold_factor(claim)
    if answer.missing or wh is None:
        return
    links = chain(dict(claim.factors), autonomy=claim.days_d is not None)
    told = _Sum(claim, wh, volts, cold, links)
    calculated, written = told.result(links.once), told.result(links.as_written)
    answer.case("each factor once", calculated)
    if abs(written / calculated - 1) > 1e-9:
        answer.case("as the claim calculates", written, where="aside")
    _formula_turns(answer, told)
    answer.remarks += [
        _off(claimed, calculated, gives=answer.cases[0].holds),
        f"{told.steps}; each once: {show(calculated, unit, 4)}",
        *links.remarks,
        *notes,
    ]
    answer.holds_already += links.holds
    if claim.depth_frac is not None:
        answer.holds_already.append("DOD: capacity below the LVD is already excluded")
    if claim.temperature_factor is not None or claim.temperature_degc is not None:
        answer.holds_already.append(
            "temperature: the capacity at that temperature is already derated"
        )
    answer.sources.append(
        "plain division; IEEE 485 table 1 for temperature where stated"
    )


def _off(claimed: float, found: float, *, gives: bool) -> str:
    """Return how far a sum is from the claim, and on which side [text]."""
    if gives:
        return "the formula gives the stated value"
    text = f"the stated value is {in_unit(100 * abs(1 - claimed / found), '%')}"
    if found > claimed:
        return f"{text} low"
    return f"{text} high"


def _energy_wh(
    claim: FormulaClaim, answer: Judged, site: VariedSite | None, volts: float | None
) -> float | None:
    """Return the daily energy of a sum, or say what is missing for it [Wh]."""
    if claim.energy is not None:
        wh, lacking = (
            times_volts(claim.energy, volts),
            "the voltage of the Ah/day figure",
        )
    elif claim.load is not None:
        wh, lacking = times_volts(claim.load, volts), "the voltage of the load"
        wh = None if wh is None else 24 * wh
    elif site is not None:
        return site.budget.wh_per_day
    else:
        wh, lacking = None, "the daily energy or the load"
    if wh is None:
        answer.missing.append(lacking)
    return wh


def _cold_factor(claim: FormulaClaim) -> tuple[float, list[str]]:
    """Return the factor for cold, and what is to be said about it [ratio]."""
    given, degc = claim.temperature_factor, claim.temperature_degc
    if degc is None:
        return given or 1.0, [] if given else ["no temperature factor included"]
    try:
        table = max(1.0, ieee_485_factor(degc))
    except ModelRangeError as exc:
        if not given:
            refuse([Fault("temperature", str(exc), f"{degc:g} °C")])
        return given or 1.0, [str(exc)]
    if given and abs(given / table - 1) > 0.03:
        note = f"IEEE 485 gives {table:.2f} at {in_unit(degc, '°C', 1)}, the claim {given:g}"
        return table, [note]
    return given or table, []


def _formula_turns(answer: Judged, told: _Sum) -> None:
    """Ask for the cold factor and the depth with which a short sum would do."""
    once, claimed = told.links.once, told.claim.claimed[1]
    if meets(claimed, told.result(once), "at most"):
        return

    def enough(cold: float | None = None, depth: float | None = None) -> bool:
        return bool(within(told.result(once, cold, depth), claimed, "upper"))

    cold = edge(enough, 0.1, 20.0, ratio=True)
    if cold is not None:
        said = _temperature_of(cold)
        text = f"the stated value is true for a temperature factor of {cold:.3g}{said}"
        answer.turns("temperature correction factor", cold, "ratio", text)
    depth = edge(lambda depth: enough(depth=depth), 0.02, 1.0)
    if depth is not None:
        text = f"or for DOD {in_unit(100 * depth, '%')}"
        answer.turns("depth", depth, "fraction", text)


def _temperature_of(cold: float) -> str:
    """Return the battery temperature that IEEE 485 gives a cold factor, in words."""
    if cold < 1.0 - 1e-3:
        return ", below 1: at no temperature without credit above 25 °C"
    turn = edge(lambda t: ieee_485_factor(t) <= cold, -3.8, 25.0)
    return f" (battery at {in_unit(turn, '°C')} or warmer)" if turn is not None else ""


def judge_capacity(
    claim: CapacityClaim, answer: Judged, site: VariedSite | None
) -> None:
    """Ask for volts times Ah, at another hour rate and temperature where stated.

    The site's bus voltage and chemistry stand in where the claim has none.
    """
    unit, claimed = claim.claimed
    volts = claim.battery_voltage_v or (site.volts if site else None)
    chemistry = claim.chemistry or (
        site.problem.bank.chemistry.name if site else "flooded"
    )
    if unit != claim.battery[0] and volts is None:
        answer.missing.append("the voltage of the Ah figure")
        return
    if claim.at_hour_rate_h is not None and claim.hour_rate_h is None:
        answer.missing.append("the hour rate of the rated capacity")
        return
    base = _converted(claim.battery, unit, volts)
    for name, value in _at_rates(claim, base, chemistry):
        for words, share in _cold_shares(claim, chemistry):
            title = ", ".join(x for x in (name, words) if x) or "as stated"
            answer.case(title, value * share)
    answer.range_over([case.found for case in answer.cases])
    calculated = answer.cases[0].found
    if calculated and volts and unit == "Wh":
        need = volts * claimed / calculated
        text = f"the stated energy needs these ampere-hours at {show(need, 'V')}"
        answer.turns("voltage", need, "V", text)
    _capacity_remarks(claim, answer, base, volts)
    if answer.split:
        answer.missing.append(
            "the manufacturer's capacity at that rate and temperature"
        )
    answer.holds_already += slow_rate_holds(claim.hour_rate_h)
    answer.sources.append(
        "voltage times ampere-hours; rate and temperature from the curves of the "
        "chemistry"
    )


def _converted(store: tuple[str, float], unit: str, volts: float | None) -> float:
    kept, value = store
    if kept == unit or volts is None:
        return value
    return value * volts if unit == "Wh" else value / volts


def _at_rates(
    claim: CapacityClaim, base: float, chemistry: str
) -> list[tuple[str, float]]:
    rated, wanted = claim.hour_rate_h, claim.at_hour_rate_h
    if rated is None or wanted is None:
        return [("", base)]
    by_curve = rated_elsewhere_ah(base, rated, wanted, chemistry)
    rates = [(f"{wanted:g} h rate, {chemistry} curve", by_curve)]
    if chemistry == "flooded":
        import numpy as np

        hours, share = zip(*FLEET, strict=True)
        at, there = np.interp(np.log([rated, wanted]), np.log(hours), share)
        rates.append((f"{wanted:g} h rate, table of a fleet", float(base * there / at)))
    return rates


def _cold_shares(claim: CapacityClaim, chemistry: str) -> list[tuple[str, float]]:
    degc = claim.temperature_degc
    if degc is None:
        return [("", 1.0)]
    return [
        (f"{degc:g} °C, {curve} curve", held_frac(chemistry, curve, degc))
        for curve in CURVES
    ]


def _capacity_remarks(
    claim: CapacityClaim, answer: Judged, base: float, volts: float | None
) -> None:
    (kept, value), (unit, claimed) = claim.battery, claim.claimed
    words = show(value, kept, 4)
    if volts is not None:
        other = "Wh" if kept == "Ah" else "Ah"
        converted = _converted(claim.battery, other, volts)
        words += f" at {volts:g} V = {show(converted, other, 4)}"
    answer.remarks.append(words)
    if (unit, kept) != ("Wh", "Ah"):
        return
    ratio = claimed / base if base else 0.0
    if 1.8 < ratio < 2.2:
        answer.remarks.append(
            "Series connection doubles voltage, not ampere-hours. Equal Ah give "
            "twice the energy once"
        )
    if 3.6 < ratio < 4.4:
        answer.remarks.append(
            "four times the energy: equal Ah at twice the voltage give twice"
        )
