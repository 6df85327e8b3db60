"""Claims about temperature: works at so many degrees, and the set point of charging."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from powerbudget.battery.freezing import freezing_degc, lowest_state_frac
from powerbudget.battery.voltage import regulation_v
from powerbudget.errors import Fault
from powerbudget.generators.library import regulator_drop_kpa
from powerbudget.generators.propane import lowest_liquid_degc
from powerbudget.generators.unit import make_units
from powerbudget.quantities import show
from powerbudget.review import load_measure as dm
from powerbudget.review.claim_tables import ChargeVoltageClaim, TemperatureClaim
from powerbudget.review.result import (
    Case,
    Judged,
    Sense,
    Solved,
    Word,
    conclude,
    sides,
)
from powerbudget.review.solve import edge
from powerbudget.review.variants import Desk

TURN_DEGC = 25.0


@dataclass(frozen=True)
class Reach:
    """What one thing on the site stands at one end of the scale.

    Parameters
    ----------
    name
        What it is [text].
    degc
        Its limit, None where nobody states it [degC].
    source
        Where from [text].
    """

    name: str
    degc: float | None
    source: str = ""


def _propane(kpa: float, desk: Desk) -> Reach:
    """Return the coldest liquid propane that still feeds a burner at the site."""
    height = desk.design.tables.site.elevation_m
    own = [u for u in make_units(desk.design.tables) if u.fuel.name == "propane"]
    drop = own[0].drop_kpa if own else regulator_drop_kpa("propane")
    degc = lowest_liquid_degc(kpa + drop, height)
    words = f"propane for {kpa:g} kPa at the burner, {drop:g} kPa for the regulator, {height:g} m"
    return Reach(words, degc, "saturation of pure propane, reference equation of state")


def judge_temperature(claim: TemperatureClaim, blank: Judged, desk: Desk) -> Judged:
    """Return a claim that something works at a temperature, judged.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site.

    Returns
    -------
    Judged
        Found is the limit of the weakest device; below 25 degC the coldest at which
        all work, above it the hottest.
    """
    cold = claim.claimed_degc < TURN_DEGC
    names = tuple(name for name in claim.of if name != "battery")
    faults: list[Fault] = []
    if names:
        subject, faults = dm.subject_of(names, desk.budget.lines)
    if faults:
        return replace(blank, problems=tuple(faults))
    limits = _devices(subject, desk, cold=cold) if names else []
    if "battery" in claim.of or "site" in claim.of:
        limits += _battery(desk, claim.claimed_degc, cold=cold)
    if claim.propane_kpa is not None and cold:
        limits.append(_propane(claim.propane_kpa, desk))
    return _temperature_result(claim, blank, desk, limits, cold=cold)


def _temperature_result(
    claim: TemperatureClaim,
    blank: Judged,
    desk: Desk,
    limits: list[Reach],
    *,
    cold: bool,
) -> Judged:
    known = [limit for limit in limits if limit.degc is not None]
    unknown = tuple(
        f"temperature range of {limit.name}" for limit in limits if limit.degc is None
    )
    claimed = claim.claimed_degc
    sense: Sense = "at most" if cold else "at least"

    def holds(degc: float) -> bool:
        return all(x.met for x in sides(claimed, degc, sense, "degC"))

    pick = max if cold else min
    weakest = pick(known, key=lambda x: x.degc or 0.0) if known else None
    failing = [limit for limit in known if not holds(limit.degc or 0.0)]
    done = replace(
        blank,
        claimed=claimed,
        unit="degC",
        sense=sense,
        cases=tuple(
            Case(limit.name, limit.degc, holds(limit.degc or 0.0))
            for limit in sorted(known, key=lambda x: x is not weakest)
        ),
        missing=unknown,
        solved=tuple(_turns(weakest, failing, cold=cold)),
        remarks=tuple(_temperature_remarks(desk, claim, cold=cold)),
        sources=tuple(dict.fromkeys(x.source for x in known if x.source)),
        cautions=_temperature_cautions(desk, claim),
    )
    done = conclude(done)
    verdict: Word = "supported"
    if failing or unknown:
        verdict = "not supported" if failing else "cannot tell"
    turn = done.solved[0].text if done.solved else ""
    return replace(done, verdict=verdict, condition=turn)


def _turns(weakest: Reach | None, failing: list[Reach], *, cold: bool) -> list[Solved]:
    if weakest is None or weakest.degc is None:
        return []
    side = "or warmer" if cold else "or cooler"
    names = ", ".join(dict.fromkeys(x.name for x in failing)) or weakest.name
    text = (
        f"what is known here works at {weakest.degc:.1f} degC {side}; weakest: {names}"
    )
    return [Solved("temperature", weakest.degc, "degC", text)]


def _devices(subject: dm.Subject, desk: Desk, *, cold: bool) -> list[Reach]:
    """Return the limit of every listed device, from its part."""
    found = []
    for line in desk.budget.lines:
        if line.hidden or not subject.holds(line):
            continue
        part = desk.design.parts.get(line.part)
        window = part.temperature if part else None
        if part is None or window is None:
            found.append(Reach(line.name, None))
        else:
            source = f"{part.name} ({part.status}): {part.source}"
            found.append(Reach(line.name, window.min if cold else window.max, source))
    return found


def _battery(desk: Desk, claimed: float, *, cold: bool) -> list[Reach]:
    """Return where the bank stops: ice at the charge it reaches here, and charging."""
    bank, run = desk.problem.bank, desk.run
    c = bank.chemistry
    if not cold:
        words = f"charging of the bank ({c.title})"
        return [Reach(words, c.charge_max_degc, "charging window of the chemistry")]
    found = []
    if c.freezing is not None:
        lowest = float(run.rated_soc_frac.min())
        ice = float(freezing_degc(lowest, c.freezing))
        words = f"bank without ice at its lowest charge here, {100 * lowest:.0f} %"
        acid = c.sources.get("acid_source", "site file")
        found.append(Reach(words, ice, f"freezing point of the acid: {acid}"))
    if bank.charge_min_degc > -40 or claimed < -40:
        words = "charging of the bank (its core, not the air)"
        found.append(Reach(words, bank.charge_min_degc, "charging limit of the bank"))
    return found


def _temperature_remarks(
    desk: Desk, claim: TemperatureClaim, *, cold: bool
) -> list[str]:
    found = []
    air = desk.problem.record.temp_air_degc
    end = float(air.min() if cold else air.max())
    word = "coldest" if cold else "hottest"
    found.append(f"the record's {word} hour is {end:.1f} degC")
    if ("battery" in claim.of or "site" in claim.of) and cold:
        bank = desk.problem.bank
        held = [
            f"{100 * min(float(points.at(claim.claimed_degc)), 1.0):.0f} % ({name})"
            for name, points in bank.chemistry.cold.items()
        ]
        found.append(
            f"at {claim.claimed_degc:g} degC the bank holds {' or '.join(held)} of its "
            "capacity"
        )
        state = float(lowest_state_frac(claim.claimed_degc, bank.chemistry.freezing))
        if 0 < state < 1:
            found.append(f"below {100 * state:.0f} % of charge it freezes there")
    return found


def _temperature_cautions(desk: Desk, claim: TemperatureClaim) -> tuple[str, ...]:
    found = [
        "a data-sheet window is for the device, not for the time it takes to start"
    ]
    air = desk.problem.record.temp_air_degc
    if claim.claimed_degc < TURN_DEGC and float(air.min()) < claim.claimed_degc - 0.5:
        found.append(
            f"the record itself goes to {float(air.min()):.1f} degC, below the claim"
        )
    return tuple(found)


def judge_charge_voltage(
    claim: ChargeVoltageClaim, blank: Judged, desk: Desk | None
) -> Judged:
    """Return a claim about the charging set point at a temperature, judged.

    Parameters
    ----------
    claim, blank
        The claim, and its result so far.
    desk
        The site, None where the claim brings base, slope and cells itself.

    Returns
    -------
    Judged
        The set point by the stated figures, else by the site's regulator; supported
        within 0.1 V for 12 V.
    """
    lacking = [
        k for k, v in (("base", claim.base_v), ("cells", claim.cells)) if v is None
    ]
    if desk is None and lacking:
        return replace(blank, unit="V", claimed=claim.claimed_v, missing=tuple(lacking))
    slope, faults = _slope(claim, desk)
    if faults:
        return replace(blank, problems=tuple(faults))
    found = _set_point_at(claim, desk, slope, claim.temperature_degc)
    cells = claim.cells or (desk.problem.bank.cells if desk else 6)
    tolerance = 0.1 * cells / 6
    holds = abs(found - claim.claimed_v) <= tolerance
    words = f"{claim.temperature_degc:.1f} degC, {1000 * slope:.1f} mV/K a cell"
    remarks = _loads_at(found, desk) if desk else []
    turn = _turn_degc(claim, desk, slope)
    solved: tuple[Solved, ...] = ()
    if turn is not None:
        text = f"{show(claim.claimed_v, 'V', 4)} is the set point at {turn:.1f} degC"
        solved = (Solved("temperature", turn, "degC", text),)
    done = replace(
        blank,
        claimed=claim.claimed_v,
        unit="V",
        sense="equal",
        cases=(Case(words, found, holds),),
        solved=solved,
        remarks=tuple(remarks),
        sources=("makers print 3 to 5 mV/K a cell: both are in use",),
        cautions=("every device on the bus must stand the highest charging voltage",),
    )
    return conclude(done)


def _slope(claim: ChargeVoltageClaim, desk: Desk | None) -> tuple[float, list[Fault]]:
    """Return the compensation of a cell, refused outside 2 to 6 mV/K [V/K]."""
    if claim.per_cell is None:
        return (desk.problem.bank.compensation_v_per_k if desk else -0.005), []
    if 0.002 <= -claim.per_cell <= 0.006:
        return claim.per_cell, []
    problem = (
        "is no slope of a cell: a block's was written for a cell's, or the reverse"
    )
    given = f"{1000 * claim.per_cell:.3g} mV/degC"
    return 0.0, [Fault("per_cell", problem, given, "-2 to -6 mV/degC a cell")]


def _set_point_at(
    claim: ChargeVoltageClaim, desk: Desk | None, slope: float, degc: float
) -> float:
    if claim.base_v is not None:
        cells = claim.cells or (desk.problem.bank.cells if desk else 6)
        base_degc = 25.0 if claim.base_degc is None else claim.base_degc
        return claim.base_v + cells * slope * (degc - base_degc)
    assert desk is not None
    bank = desk.problem.bank
    volts = regulation_v(
        np.array([degc]),
        bank.regulation_v / bank.cells,
        slope,
        bank.lowest_v / bank.cells,
        bank.highest_v / bank.cells,
    )
    return float(bank.cells * volts[0])


def _turn_degc(
    claim: ChargeVoltageClaim, desk: Desk | None, slope: float
) -> float | None:
    """Return the battery temperature at which the claim is the set point [degC]."""

    def reaches(degc: float) -> bool:
        return _set_point_at(claim, desk, slope, degc) >= claim.claimed_v

    return edge(reaches, -60.0, 60.0)


def _loads_at(volts: float, desk: Desk) -> list[str]:
    """Return which devices on the bus do not stand the set point [text]."""
    found, silent = [], 0
    for load in desk.design.tables.load:
        if load.supply:
            continue
        part = desk.design.parts.get(load.part or "")
        window = part.input if part else None
        most = load.maximum_v or (window.max if window else None)
        if most is None:
            silent += 1
        elif most < volts:
            found.append(f"{load.name} takes at most {show(most, 'V')}")
    if silent:
        found.append(f"{silent} devices on the bus state no highest voltage")
    return found
