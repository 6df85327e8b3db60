"""Claims about batteries: days of autonomy, enough capacity, what a rating holds."""

from __future__ import annotations

from dataclasses import dataclass, replace

from powerbudget.balance.scenario import Scenario
from powerbudget.battery.bank import Bank
from powerbudget.errors import Fault
from powerbudget.quantities import show
from powerbudget.review.battery_sums import (
    assumed_loads,
    assumed_text,
    days_on,
    held_frac,
)
from powerbudget.review.claim_tables import AutonomyClaim, BatteryClaim, StoreConditions
from powerbudget.review.result import Case, Judged, Solved, conclude, meets
from powerbudget.review.solve import edge
from powerbudget.review.variants import DARKER, HIGH_END, LOW_END, Desk, Setting, blocks

WARM_DEGC = 25.0
LOAD_RANGE = (0.02, 50.0)
AH_RANGE = (0.02, 100.0)


@dataclass(frozen=True)
class Look:
    """A battery claim read for this site.

    Parameters
    ----------
    desk
        The site.
    bank, battery
        The bank that the claim is about, and what it differs in from the site's.
    load
        On the site's load where the claim states one, else 1 [ratio].
    stated_load
        Whether the claim states its load.
    """

    desk: Desk
    bank: Bank
    battery: Scenario
    load: float
    stated_load: bool

    def days(
        self, scenario: Scenario, degc: float | None = None, *, frost: bool = True
    ) -> float:
        """Days from full without charge [d]."""
        case = scenario.over(self.battery)
        return self.desk.autonomy_d(case, degc, frost=frost)

    def times(self, ratio: float) -> Scenario:
        """Return a bank of so many times the Ah of this one [Scenario]."""
        ah, unit = ratio * self.bank.nameplate_ah, self.bank.unit
        name = self.bank.chemistry.name
        return self.desk.with_battery(ah, unit.hour_rate_h, name)


def conflicts(claim: StoreConditions, volts: float) -> list[Fault]:
    """Return what in a battery claim cannot be true together.

    Parameters
    ----------
    claim
        The claim.
    volts
        Nominal volts of the bus, 0 without a site [V].

    Returns
    -------
    list of Fault
        Empty where nothing contradicts.
    """
    found = []
    if claim.battery is None and isinstance(claim, AutonomyClaim):
        found += [
            Fault(key, "says something about a battery that the claim does not state",
                  advice="add battery = '180 Ah'")
            for key, value in (("battery_voltage", claim.battery_voltage_v),
                               ("hour_rate", claim.hour_rate_h))
            if value is not None
        ]  # fmt: skip
    asked = claim.battery_voltage_v
    if asked and volts and abs(volts / asked / blocks(volts, asked) - 1) > 0.1:
        problem = f"does not make up the site's bus of {volts:g} V in whole blocks"
        found.append(Fault("battery_voltage", problem, f"{asked:g} V"))
    return found


def look_at(claim: StoreConditions, desk: Desk) -> Look:
    """Return a battery claim as it stands at the site [Look]."""
    battery = claim.claimed if isinstance(claim, BatteryClaim) else claim.battery
    ah = None if battery is None else desk.bus_ah(battery, claim.battery_voltage_v)
    case = desk.with_battery(ah, claim.hour_rate_h, claim.chemistry)
    load = desk.watts(claim.load) * claim.duty_frac
    ratio = load / desk.budget.average_w if load else 1.0
    return Look(desk, desk.under(case).bank, case, ratio, bool(load))


def judge_autonomy(claim: AutonomyClaim, blank: Judged, desk: Desk) -> Judged:
    """Return a claim about days of autonomy, judged at the site.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site.

    Returns
    -------
    Judged
        At the site's load and design cold, and under the vendor's own conditions.
    """
    if faults := conflicts(claim, desk.volts):
        return replace(blank, problems=tuple(faults))
    look = look_at(claim, desk)
    claimed = claim.claimed_d
    blank = replace(blank, claimed=claimed, unit="d", sense="at least")
    cases = [_case(claimed, s.name, look.days(s.scenario)) for s in desk.settings()]
    cases += _claimed_cases(claim, look)
    done = replace(
        blank,
        cases=tuple(cases),
        found_low=min(c.found or 0.0 for c in cases if c.where == "site"),
        found_high=max(c.found or 0.0 for c in cases if c.where == "site"),
        solved=tuple(_autonomy_solved(claim, look)),
        missing=tuple(open_points(cases)),
        remarks=tuple(_autonomy_remarks(claim, look, cases)),
        holds_already=_holds_already(claim, look),
        sources=_sources(look),
        cautions=_cautions(claim, look),
    )
    return conclude(done)


def _case(claimed: float, name: str, found: float, where: str = "site") -> Case:
    return Case(name, found, meets(claimed, found, "at least"), where)  # type: ignore[arg-type]


def _claimed_cases(claim: AutonomyClaim, look: Look) -> list[Case]:
    """Return the days under the conditions that the vendor states."""
    degc, depth = claim.temperature_degc, claim.depth_frac
    if degc is None and depth is None and not look.stated_load:
        return []
    warm = WARM_DEGC if degc is None else degc
    words = [f"{warm:g} degC"]
    if look.stated_load and claim.load is not None:
        watts = look.load * look.desk.budget.average_w
        words.append(f"load of {show(watts, 'W')}")
    stated = Scenario(load_factor=look.load)
    found = []
    name = "as claimed: " + ", ".join(words)
    found.append(_case(claim.claimed_d, name, look.days(stated, warm), "claimed"))
    if depth is not None:
        held = float(look.bank.capacity_frac(warm))
        watts = look.load * look.desk.budget.average_w
        days = days_on(look.bank.rated_ah, look.desk.volts, watts, depth, held)
        name = f"{name}, plain division at {100 * depth:.0f} % depth"
        found.append(_case(claim.claimed_d, name, float(days), "aside"))
    return found


def _autonomy_solved(claim: AutonomyClaim, look: Look) -> list[Solved]:
    """Return the load, the temperature and the battery at which the claim turns."""
    desk, claimed = look.desk, claim.claimed_d
    found = []

    def by_load(ratio: float) -> bool:
        return meets(claimed, look.days(Scenario(load_factor=ratio)), "at least")

    ratio = edge(by_load, *LOAD_RANGE, ratio=True)
    if ratio is not None:
        watts = ratio * desk.budget.average_w
        found.append(
            Solved("load", watts, "W", f"at {desk.cold_degc:g} degC it holds for a mean "
                   f"load of at most {show(watts, 'W')} (here {show(desk.budget.average_w, 'W')})")
        )  # fmt: skip

    def by_degc(degc: float) -> bool:
        return meets(claimed, look.days(Scenario(), degc), "at least")

    degc = edge(by_degc, -60.0, WARM_DEGC)
    if degc is not None:
        text = f"at this load it holds with the battery at {degc:.1f} degC or warmer"
        found.append(Solved("temperature", degc, "degC", text))
    elif not by_degc(WARM_DEGC):
        text = "at this load no battery temperature makes it true"
        found.append(Solved("temperature", float("inf"), "degC", text))
    found += _battery_solved(claimed, look)
    return found


def _battery_solved(days: float, look: Look) -> list[Solved]:
    """Return the name-plate Ah that some days need at the site's cold."""
    desk = look.desk
    base = look.bank.nameplate_ah

    def by_ah(ratio: float) -> bool:
        """Return whether a bank of so many times the Ah lasts the days claimed."""
        return meets(days, desk.autonomy_d(look.times(ratio)), "at least")

    ratio = edge(by_ah, *AH_RANGE, ratio=True)
    if ratio is None:
        return []
    ah = ratio * base
    text = (
        f"{show(days, 'd')} here take {show(ah, 'Ah')} at {desk.volts:g} V "
        f"({look.bank.unit.hour_rate_h:g} h rate)"
    )
    return [Solved("battery", ah, "Ah", text)]


def open_points(cases: list[Case]) -> list[str]:
    """Return what would have to be known where the cases of a site disagree [text]."""
    here = [case for case in cases if case.where == "site"]
    if len({case.holds for case in here}) < 2:
        return []
    first, found = here[0].holds, []
    turned = [case.name for case in here[1:] if case.holds != first]
    if any(name.endswith("cold curve") and "," not in name for name in turned):
        found.append("the maker's capacity at the design cold, at a rate of days")
    if any(name.startswith((LOW_END, HIGH_END)) for name in turned):
        found.append("the site's load as measured over a day or more")
    if any(name.startswith(DARKER) for name in turned):
        found.append(
            "a record of ten real years or more: one typical year hides bad winters"
        )
    return found


def _autonomy_remarks(claim: AutonomyClaim, look: Look, cases: list[Case]) -> list[str]:
    desk, found = look.desk, []
    own = [case for case in cases if case.where == "claimed"]
    if own and own[0].holds and not cases[0].holds:
        found.append("true under the vendor's own conditions, not under the site's")
    if own and cases[0].holds and not own[0].holds:
        found.append("true under the site's conditions, not under the vendor's own")
    if claim.battery is None:
        found.append(f"battery: the site's {show(look.bank.nameplate_ah, 'Ah')}")
    else:
        found += _battery_words(claim, look)
        watts = assumed_loads(
            look.bank.nameplate_ah, desk.volts, claim.claimed_d, _held(look)
        )
        found.append(
            "the bare claim assumes a mean load of "
            + assumed_text(watts)
            + f" (here {show(desk.budget.average_w, 'W')})"
        )
    ice = look.days(Scenario())
    bare = look.days(Scenario(), frost=False)
    if bare > ice + 0.01:
        found.append(
            f"ice ends it after {show(ice, 'd')}, before the disconnect at {show(bare, 'd')}"
        )
    return found


def _battery_words(claim: StoreConditions, look: Look) -> list[str]:
    """Return both units of the claimed battery, and at which voltage they count."""
    store = claim.claimed if isinstance(claim, BatteryClaim) else claim.battery
    if store is None:
        return []
    volts = look.desk.volts
    ah = look.bank.nameplate_ah
    words = f"{show(ah, 'Ah')} at the bus of {volts:g} V = {show(ah * volts, 'Wh')}"
    own = claim.battery_voltage_v
    if store[0] == "Ah" and own and abs(own - volts) > 0.01 * volts:
        words = f"{show(store[1], 'Ah')} at {own:g} V are {words}"
    elif store[0] == "Ah" and not own:
        words += " (the claim gives no voltage: the bus is taken)"
    return [words]


def _held(look: Look) -> dict[str, float]:
    """Return shares of capacity at 25 degC and at the design cold, by curve."""
    found = {"25 degC": 1.0}
    degc = look.desk.cold_degc
    if degc < WARM_DEGC:
        for curve, points in look.bank.chemistry.cold.items():
            share = min(float(points.at(degc)), 1.0)
            found[f"{degc:g} degC ({curve} curve)"] = share
    return found


def _holds_already(claim: StoreConditions, look: Look) -> tuple[str, ...]:
    found = []
    rate_h = claim.hour_rate_h
    if rate_h is not None and rate_h >= 50:
        found.append(
            f"a {rate_h:g} h rating holds the gain of a slow discharge: no further credit"
        )
    if claim.depth_frac is not None:
        found.append("the depth: the disconnect must not be taken off again")
    if look.bank.health_frac < 1:
        found.append(
            f"the site's health of {100 * look.bank.health_frac:.0f} % is in what was found"
        )
    return tuple(found)


def _sources(look: Look) -> tuple[str, ...]:
    chemistry = look.bank.chemistry
    return (
        *(f"cold curve {name}: {c.source}" for name, c in chemistry.cold.items()),
        f"capacity by rate: {chemistry.sources.get('rate_source', 'site file')}",
    )


def _cautions(claim: StoreConditions, look: Look) -> tuple[str, ...]:
    found = []
    if look.desk.problem.record.typical_year:
        found.append(
            "one typical year hides bad winters: the days of this record are no days "
            "of the worst winter"
        )
    warm = claim.temperature_degc
    if warm is not None and warm > look.desk.cold_degc + 1:
        found.append(
            f"the claim is for {warm:g} degC; the site asks for {look.desk.cold_degc:g} degC"
        )
    if look.bank.chemistry.freezing is not None and look.desk.cold_degc < 0:
        found.append("a discharged lead-acid bank freezes first: a loss, not an outage")
    return tuple(found)


def judge_battery(claim: BatteryClaim, blank: Judged, desk: Desk) -> Judged:
    """Return a claim that a battery is enough for the site, judged.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site.

    Returns
    -------
    Judged
        Found is the name-plate Ah with which every criterion of the site is met
        beside the site's own array; with ``days``, the Ah that those days need.
    """
    if faults := conflicts(claim, desk.volts):
        return replace(blank, problems=tuple(faults))
    look = look_at(claim, desk)
    claimed = look.bank.nameplate_ah
    blank = replace(blank, claimed=claimed, unit="Ah", sense="at most")
    settings = desk.settings(load=look.load, ranged=not look.stated_load)
    where = "claimed" if look.stated_load else "site"
    cases = [_enough(claim, look, setting, where) for setting in settings]
    if look.stated_load:
        cases = [_enough(claim, look, s, "site") for s in desk.settings()] + cases[:1]
    if claim.days_d is None:
        cases += [_enough(claim, look, setting, "site") for setting in desk.darker()]
    central = settings[0] if where == "site" else desk.settings()[0]
    done = replace(
        blank,
        found=_needed_ah(claim, look, central),
        cases=tuple(cases),
        solved=tuple(_enough_solved(claim, look, central)),
        missing=tuple(open_points(cases)),
        remarks=tuple(_battery_remarks(claim, look, central)),
        holds_already=_holds_already(claim, look),
        sources=_sources(look),
        cautions=_cautions(claim, look),
    )
    return conclude(done)


def _why_not(
    claim: BatteryClaim, look: Look, setting: Setting, battery: Scenario
) -> tuple[str, ...]:
    """Return what a bank does not meet: the claimed days, or the site's criteria."""
    desk, scenario = look.desk, setting.scenario.over(battery)
    days = desk.autonomy_d(scenario)
    if claim.days_d is not None:
        short = not meets(claim.days_d, days, "at least")
        return (f"{show(claim.days_d, 'd')} of autonomy",) if short else ()
    run = desk.simulate(scenario)
    failed = desk.failed(run, array_only=False, design_days=days)
    return tuple(verdict.name for verdict in failed)


def _enough(claim: BatteryClaim, look: Look, setting: Setting, where: str) -> Case:
    failed = _why_not(claim, look, setting, look.battery)
    needed = _needed_ah(claim, look, setting)
    return Case(setting.name, needed, not failed, where)  # type: ignore[arg-type]


def _needed_ah(claim: BatteryClaim, look: Look, setting: Setting) -> float | None:
    """Return the Ah from which the battery is enough, None where none is."""

    def enough(ratio: float) -> bool:
        """Return whether nothing speaks against a bank of so many times the Ah."""
        return not _why_not(claim, look, setting, look.times(ratio))

    ratio = edge(enough, *AH_RANGE, ratio=True)
    return None if ratio is None else ratio * look.bank.nameplate_ah


def _enough_solved(claim: BatteryClaim, look: Look, setting: Setting) -> list[Solved]:
    desk, found = look.desk, []
    needed = _needed_ah(claim, look, setting)
    if needed is not None:
        text = f"it takes {show(needed, 'Ah')} at {desk.volts:g} V"
        found.append(Solved("battery", needed, "Ah", text))

    def by_load(ratio: float) -> bool:
        load = Scenario(load_factor=ratio)
        varied = replace(setting, scenario=load.over(setting.scenario))
        return not _why_not(claim, look, varied, look.battery)

    ratio = edge(by_load, *LOAD_RANGE, ratio=True)
    if ratio is not None:
        watts = ratio * desk.budget.average_w
        found.append(
            Solved("load", watts, "W", f"it holds for a mean load of at most "
                   f"{show(watts, 'W')} (here {show(desk.budget.average_w, 'W')})")
        )  # fmt: skip
    return found


def _battery_remarks(claim: BatteryClaim, look: Look, setting: Setting) -> list[str]:
    desk = look.desk
    found = _battery_words(claim, look)
    failed = _why_not(claim, look, setting, look.battery)
    if failed:
        found.append("not met with it: " + ", ".join(failed))
    watts = look.load * desk.budget.average_w
    bare = days_on(look.bank.nameplate_ah, desk.volts, watts)
    found.append(
        f"by plain division it is {show(float(bare), 'd')} of a load of "
        f"{show(watts, 'W')}: every ampere-hour used, at 25 degC, new"
    )
    if bare < 2:
        found.append(
            "that is no more than a day or two: depth, cold, ageing and dark days are "
            "missing from it"
        )
    return found


def plain_held(chemistry: str | None, degc: float | None) -> dict[str, float]:
    """Return shares of capacity for a claim without a site, by temperature.

    Parameters
    ----------
    chemistry
        Name, or None for absorbed glass mat [text].
    degc
        Temperature of the claim, None where not stated [degC].

    Returns
    -------
    dict
        Words to share [fraction].
    """
    found = {"25 degC": 1.0}
    for cold in [degc] if degc is not None else [-20.0]:
        if cold < WARM_DEGC:
            for curve in ("conservative", "long-rate"):
                share = held_frac(chemistry or "agm", curve, cold)
                found[f"{cold:g} degC ({curve} curve)"] = share
    return found
