"""Claims about batteries at a site: autonomy, enough capacity, life, self-discharge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from powerbudget.balance.simulation import bank_life
from powerbudget.battery.ageing import calendar_life_y
from powerbudget.battery.bank import Bank
from powerbudget.battery.capacity import HOURS_PER_MONTH, self_discharge_per_h
from powerbudget.battery.chemistry import Chemistry, chemistries
from powerbudget.bisection import edge
from powerbudget.errors import Fault
from powerbudget.quantities import in_unit, show
from powerbudget.review.battery_sums import (
    WARM_DEGC,
    assumed_text,
    days_on,
    slow_rate_holds,
)
from powerbudget.review.claim_tables import (
    AutonomyClaim,
    BatteryClaim,
    LifeClaim,
    SelfDischargeClaim,
    StoreConditions,
)
from powerbudget.review.result import Judged, Where, meets, refuse
from powerbudget.review.site_conditions import ask_load, ask_what_is_open
from powerbudget.review.varied_site import Conditions, VariedSite, blocks
from powerbudget.site.scenario import Scenario
from powerbudget.sizing.battery_ages import lasts

AH_RANGE = (0.02, 100.0)
"""Banks that are looked through, over the claimed one [ratio]."""


@dataclass(frozen=True)
class ClaimedBattery:
    """A battery claim read for this site.

    Parameters
    ----------
    claim, site
        What is claimed, and of which site.
    bank, battery
        The bank that the claim is about, and what it differs in from the site's.
    load
        On the site's load where the claim states one, else 1 [ratio].
    """

    claim: StoreConditions
    site: VariedSite
    bank: Bank
    battery: Scenario
    load: float

    @property
    def load_stated(self) -> bool:
        """Whether the claim states its load."""
        return self.claim.load is not None and self.claim.duty_frac > 0

    @property
    def load_w(self) -> float:
        """Mean load as claimed, else the site's [W]."""
        return self.load * self.site.budget.average_w

    def days(
        self, scenario: Scenario, degc: float | None = None, *, frost: bool = True
    ) -> float:
        """Days from full without charge [d]."""
        return self.site.autonomy_d(scenario.over(self.battery), degc, frost=frost)

    def why_not(self, conditions: Conditions, battery: Scenario) -> tuple[str, ...]:
        """Return what a bank does not meet: the claimed days, or the criteria [text]."""
        scenario, claim = conditions.scenario.over(battery), self.claim
        days = self.site.autonomy_d(scenario)
        if not isinstance(claim, BatteryClaim) or claim.days_d is None:
            return self.site.failed(self.site.simulate(scenario), design_days=days)
        short = not meets(claim.days_d, days, "at least")
        return (f"{show(claim.days_d, 'd')} of autonomy",) if short else ()

    def times(self, ratio: float) -> Scenario:
        """Return a bank of so many times the Ah of this one [Scenario]."""
        ah, unit = ratio * self.bank.nameplate_ah, self.bank.unit
        name = self.bank.chemistry.name
        return self.site.with_battery(ah, unit.hour_rate_h, name)


def _conflicts(claim: StoreConditions, volts: float) -> list[Fault]:
    """Return what in a battery claim cannot be true together."""
    faults = []
    if claim.battery is None and isinstance(claim, AutonomyClaim):
        faults += [
            Fault(key, "says something about a battery that the claim does not state",
                  advice="add battery = '180 Ah'")
            for key, value in (("battery_voltage", claim.battery_voltage_v),
                               ("hour_rate", claim.hour_rate_h))
            if value is not None
        ]  # fmt: skip
    asked = claim.battery_voltage_v
    if asked and abs(volts / asked / blocks(volts, asked) - 1) > 0.1:
        problem = f"does not match the dc bus of {volts:g} V in whole units"
        faults.append(Fault("battery_voltage", problem, f"{asked:g} V"))
    return faults


def _read(claim: StoreConditions, answer: Judged, site: VariedSite) -> ClaimedBattery:
    """Return a battery claim as it stands at the site, with what is said of any."""
    refuse(_conflicts(claim, site.volts))
    store = claim.claimed if isinstance(claim, BatteryClaim) else claim.battery
    ah = None if store is None else site.bus_ah(store, claim.battery_voltage_v)
    battery = site.with_battery(ah, claim.hour_rate_h, claim.chemistry)
    load = site.watts(claim.load) * claim.duty_frac
    ratio = load / site.budget.average_w if load else 1.0
    at = ClaimedBattery(claim, site, site.under(battery).bank, battery, ratio)
    answer.holds_already += _holds_already(at)
    chemistry = at.bank.chemistry
    rate = chemistry.sources.get("rate_source", "site file")
    answer.sources += [
        *(
            f"temperature derating {name}: {c.source}"
            for name, c in chemistry.cold.items()
        ),
        f"capacity by rate: {rate}",
    ]
    answer.cautions += _cautions(at)
    if store is not None:
        answer.remarks.append(_battery_words(at, store))
    return at


def judge_autonomy(claim: AutonomyClaim, answer: Judged, site: VariedSite) -> None:
    """Ask for the days at the site's load and design cold, and as the vendor has it."""
    at = _read(claim, answer, site)
    for conditions in site.conditions():
        answer.case(conditions.name, at.days(conditions.scenario))
    answer.range_over([case.found for case in answer.cases])
    _ask_as_claimed(claim, answer, at)
    ask_what_is_open(answer)
    ask_load(
        answer, site,
        lambda ratio: answer.holds(at.days(Scenario(load_factor=ratio))),
        lead=f"the capacity at {site.cold_degc:g} °C is enough",
    )  # fmt: skip
    _ask_temperature(answer, at)
    ratio = edge(
        lambda x: meets(claim.claimed_d, site.autonomy_d(at.times(x)), "at least"),
        *AH_RANGE, ratio=True,
    )  # fmt: skip
    if ratio is not None:
        ah = ratio * at.bank.nameplate_ah
        text = (
            f"{show(claim.claimed_d, 'd')} of autonomy here need {show(ah, 'Ah')} at "
            f"{site.volts:g} V"
        )
        text += f" ({at.bank.unit.hour_rate_h:g} h rate)"
        answer.turns("battery", ah, "Ah", text)
    _autonomy_remarks(claim, answer, at)


def _ask_as_claimed(claim: AutonomyClaim, answer: Judged, at: ClaimedBattery) -> None:
    """Ask for the days under the conditions that the vendor states."""
    degc, depth = claim.temperature_degc, claim.depth_frac
    if degc is None and depth is None and not at.load_stated:
        return
    warm = WARM_DEGC if degc is None else degc
    name = f"as claimed: {warm:g} °C"
    if at.load_stated:
        name += f", load of {show(at.load_w, 'W')}"
    stated = Scenario(load_factor=at.load)
    answer.case(name, at.days(stated, warm), where="claimed")
    if depth is not None:
        held = float(at.bank.capacity_frac(warm))
        days = days_on(at.bank.rated_ah, at.site.volts, at.load_w, depth, held)
        name = f"{name}, plain division at DOD {in_unit(100 * depth, '%')}"
        answer.case(name, float(days), where="aside")


def _ask_temperature(answer: Judged, at: ClaimedBattery) -> None:
    """Ask for the battery temperature from which the claim holds."""

    def holds(degc: float) -> bool:
        return answer.holds(at.days(Scenario(), degc))

    degc = edge(holds, -60.0, WARM_DEGC)
    if degc is not None:
        text = (
            f"at this load true with the battery at {in_unit(degc, '°C', 1)} or warmer"
        )
        answer.turns("temperature", degc, "degC", text)
    elif not holds(WARM_DEGC):
        text = "at this load not true at any battery temperature"
        answer.turns("temperature", float("inf"), "degC", text)


def _autonomy_remarks(claim: AutonomyClaim, answer: Judged, at: ClaimedBattery) -> None:
    first = answer.cases[0].holds
    stated = next((c.holds for c in answer.cases if c.where == "claimed"), first)
    words = []
    if stated != first:
        whose = ("the conditions of the vendor", "the conditions of the site")
        true, false = whose if stated else whose[::-1]
        words.append(f"the claim is true under {true}, not under {false}")
    # Where the vendor's and the site's conditions part comes before the battery.
    answer.remarks[:0] = words
    bank, site = at.bank, at.site
    if claim.battery is None:
        answer.remarks.append(f"battery: {show(bank.nameplate_ah, 'Ah')} of the site")
    else:
        loads = assumed_text(bank.nameplate_ah, site.volts, claim.claimed_d, _held(at))
        answer.remarks.append(
            f"the claim implies an average load of {loads} (here "
            f"{show(site.budget.average_w, 'W')})"
        )
    ice, bare = at.days(Scenario()), at.days(Scenario(), frost=False)
    if bare > ice + 0.01:
        answer.remarks.append(
            f"the battery freezes after {show(ice, 'd')}, before the LVD at "
            f"{show(bare, 'd')}"
        )


def _battery_words(at: ClaimedBattery, store: tuple[str, float]) -> str:
    """Return both units of the claimed battery, and at which voltage they count."""
    volts, stated = at.site.volts, at.claim.battery_voltage_v
    ah = at.bank.nameplate_ah
    words = (
        f"{show(ah, 'Ah')} at a bus voltage of {volts:g} V = {show(ah * volts, 'Wh')}"
    )
    if store[0] == "Ah" and stated and abs(stated - volts) > 0.01 * volts:
        words = f"{show(store[1], 'Ah')} at {stated:g} V = {words}"
    elif store[0] == "Ah" and not stated:
        words += " (the claim gives no voltage: bus voltage used)"
    return words


def _held(at: ClaimedBattery) -> dict[str, float]:
    """Return shares of capacity at 25 degC and at the design cold, by curve."""
    held, degc = {"25 °C": 1.0}, at.site.cold_degc
    if degc < WARM_DEGC:
        for curve, points in at.bank.chemistry.cold.items():
            held[f"{degc:g} °C ({curve} curve)"] = min(float(points.at(degc)), 1.0)
    return held


def _holds_already(at: ClaimedBattery) -> list[str]:
    words = slow_rate_holds(at.claim.hour_rate_h)
    if at.claim.depth_frac is not None:
        words.append("the DOD already includes the LVD; do not subtract it again")
    if at.bank.health_frac < 1:
        health = in_unit(100 * at.bank.health_frac, "%")
        words.append(f"the calculated value includes SOH {health}")
    return words


def _cautions(at: ClaimedBattery) -> list[str]:
    words = []
    if at.site.problem.record.typical_year:
        words.append(
            "Typical year: contains no extreme winter. These days are not those of "
            "an extreme winter"
        )
    warm, cold = at.claim.temperature_degc, at.site.cold_degc
    if warm is not None and warm > cold + 1:
        words.append(f"the claim is for {warm:g} °C; the site specifies {cold:g} °C")
    if at.bank.chemistry.freezing is not None and cold < 0:
        words.append("a discharged lead-acid battery can freeze and be destroyed")
    return words


def judge_battery(claim: BatteryClaim, answer: Judged, site: VariedSite) -> None:
    """Ask for the Ah with which every criterion is met beside the site's own array.

    With ``days``, for the Ah that those days need.
    """
    at = _read(claim, answer, site)
    answer.claimed, answer.unit = at.bank.nameplate_ah, "Ah"

    def ask(conditions: Conditions, where: Where = "site") -> None:
        """Ask for the Ah from which the battery is enough."""
        ratio = edge(
            lambda x: not at.why_not(conditions, at.times(x)), *AH_RANGE, ratio=True
        )
        needed = None if ratio is None else ratio * at.bank.nameplate_ah
        answer.case(
            conditions.name, needed, not at.why_not(conditions, at.battery), where
        )

    for conditions in site.conditions():
        ask(conditions)
    if at.load_stated:
        ask(site.conditions(load=at.load, ranged=False)[0], "claimed")
    if claim.days_d is None:
        for conditions in site.darker():
            ask(conditions)
    answer.found = answer.cases[0].found
    ask_what_is_open(answer)
    if answer.found is not None:
        text = f"the claim needs {show(answer.found, 'Ah')} at {site.volts:g} V"
        answer.turns("battery", answer.found, "Ah", text)
    ask_load(
        answer, site, lambda x: not at.why_not(site.as_stated.loaded(x), at.battery)
    )
    failed = at.why_not(site.as_stated, at.battery)
    if failed:
        answer.remarks.append("fails with it: " + ", ".join(failed))
    else:
        answer.cautions += _end_of_life_words(at)
    bare = float(days_on(at.bank.nameplate_ah, site.volts, at.load_w))
    answer.remarks.append(
        f"plain division: {show(bare, 'd')} of a load of {show(at.load_w, 'W')} "
        "(full capacity, 25 °C, new)"
    )
    if bare < 2:
        answer.remarks.append(
            "that is one or two days at most: DOD, temperature, aging, and deficit "
            "periods are not included"
        )


def _end_of_life_words(at: ClaimedBattery) -> list[str]:
    """Return what a battery that is enough today lacks at the age that `size` asks."""
    end = at.bank.chemistry.end_of_life_frac
    if not lasts(at.site.problem) or at.bank.health_frac <= end:
        return []
    old = Scenario(state_of_health_frac=end).over(at.battery)
    failed = ", ".join(at.why_not(at.site.as_stated, old))
    words = f"fails at end of life ({in_unit(100 * end, '%')}): {failed}. Size for end of life"
    return [words] if failed else []


SHELF_DEGC = 20.0
"""Temperature that a rate without one is taken at; data sheets use it."""
LIFE_RANGE = (0.7, 0.8)


def judge_life(claim: LifeClaim, answer: Judged, site: VariedSite) -> None:
    """Ask for the shorter of cycle life and calendar life at the site's temperatures."""
    life, known = bank_life(site.run), site.run.bank.chemistry
    words = f"{life.limited_by}, average battery temperature {in_unit(life.mean_degc, '°C')}"
    answer.case(words, life.life_y)
    if claim.temperature_degc is not None:
        name = f"as claimed: at rest at {claim.temperature_degc:g} °C"
        answer.case(name, _rest_y(known, claim.temperature_degc), where="claimed")
    low, high = (share * claim.claimed_y for share in LIFE_RANGE)
    answer.remarks += [
        f"{show(life.cycle_life_y, 'yr')} by cycles, "
        f"{show(life.calendar_life_y, 'yr')} calendar life, to "
        f"{in_unit(100 * life.end_of_life_frac, '%')} of rated capacity",
        f"{show(_rest_y(known, 20.0), 'yr')} at 20 °C, "
        f"{show(_rest_y(known, 30.0), 'yr')} at 30 °C; no credit below that",
        f"if {claim.claimed_y:g} yr is a design life, a maintained battery "
        f"reaches 70 to 80 % of it: {low:.1f} to {in_unit(high, 'yr', 1)}",
    ]
    test = "temperature and DOD of the manufacturer's life test"
    answer.missing_if_open.append(test)
    answer.sources.append(_source(known, "calendar"))
    if known.name in {"agm", "gel"}:
        answer.cautions.append(
            "sealed lead-acid batteries often fail without a gradual loss of capacity"
        )


def _rest_y(known: Chemistry, degc: float) -> float:
    return calendar_life_y(degc, known.calendar_y_at_20_degc, known.calendar_halving_k)


def _source(known: Chemistry, what: str) -> str:
    text = known.sources.get(f"{what}_source", "unverified")
    return f"{known.title}: {text}"


def judge_self_discharge(
    claim: SelfDischargeClaim, answer: Judged, site: VariedSite | None
) -> None:
    """Ask for the share lost in a month at the claim's temperature, else at 20 degC."""
    name = claim.chemistry or (site.problem.bank.chemistry.name if site else None)
    if name is None:
        answer.missing.append("chemistry of the battery")
        return
    known = chemistries()[name]
    rate, stated = known.self_discharge_per_month, claim.temperature_degc

    def lost_frac(degc: float) -> float:
        return HOURS_PER_MONTH * float(self_discharge_per_h(degc, rate))

    at, words = (SHELF_DEGC, ", not stated") if stated is None else (stated, "")
    answer.case(f"per month at {in_unit(at, '°C')}{words}", lost_frac(at))
    if site is not None:
        mean = float(np.mean(site.problem.conditions.battery_degc))
        words = f"per month at {in_unit(mean, '°C')}, the average of this site"
        answer.case(words, lost_frac(mean), where="aside")
    turn = SHELF_DEGC + 10 * float(np.log2(claim.claimed_frac / rate))
    answer.turns("temperature", turn, "degC", f"true up to {in_unit(turn, '°C')}")
    answer.remarks.append(
        f"{100 * rate:g} % per month at 20 °C, doubled for each 10 K above"
    )
    answer.sources.append(_source(known, "self_discharge"))
