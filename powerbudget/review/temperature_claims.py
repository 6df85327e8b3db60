"""Claims about temperature: works at so many degrees, and the set point of charging."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from powerbudget.battery.freezing import freezing_degc, lowest_state_frac
from powerbudget.battery.voltage import regulation_v
from powerbudget.bisection import edge
from powerbudget.errors import Fault
from powerbudget.generators.library import regulator_drop_kpa
from powerbudget.generators.propane import lowest_liquid_degc
from powerbudget.generators.unit import make_units
from powerbudget.quantities import count, in_unit, plain, show
from powerbudget.review.claim_tables import ChargeVoltageClaim, TemperatureClaim
from powerbudget.review.load_measure import Subject, subject_of
from powerbudget.review.result import Judged, refuse
from powerbudget.review.varied_site import VariedSite

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


def judge_temperature(
    claim: TemperatureClaim, answer: Judged, site: VariedSite
) -> None:
    """Ask for the limit of the weakest device.

    Below 25 degC that is the coldest at which all work, above it the hottest.
    """
    cold = claim.claimed_degc < TURN_DEGC
    answer.sense = "at most" if cold else "at least"
    names = tuple(name for name in claim.of if name != "battery")
    limits: list[Reach] = []
    if names:
        subject, faults = subject_of(names, site.budget.lines)
        refuse(faults)
        limits += _devices(subject, site, cold=cold)
    if _of_battery(claim):
        limits += _battery(site, claim.claimed_degc, cold=cold)
    if claim.propane_kpa is not None and cold:
        limits.append(_propane(claim.propane_kpa, site))
    known = {limit: limit.degc for limit in limits if limit.degc is not None}
    answer.missing += [
        f"temperature range of {x.name}" for x in limits if x.degc is None
    ]
    _weakest_first(answer, known, cold=cold)
    sources = dict.fromkeys(x.source for x in limits if x in known and x.source)
    answer.sources += sources
    _temperature_remarks(claim, answer, site, cold=cold)


def _of_battery(claim: TemperatureClaim) -> bool:
    return "battery" in claim.of or "site" in claim.of


def _weakest_first(answer: Judged, known: dict[Reach, float], *, cold: bool) -> None:
    """Add every known limit, and the verdict: one that does not hold is enough."""
    failing = [limit for limit, degc in known.items() if not answer.holds(degc)]
    answer.verdict, answer.settled = "supported", True
    if failing or answer.missing:
        answer.verdict = "not supported" if failing else "undetermined"
    if not known:
        return
    weakest = (max if cold else min)(known, key=known.__getitem__)
    for limit in sorted(known, key=lambda x: x is not weakest):
        answer.case(limit.name, limit.degc)
    side = "or warmer" if cold else "or cooler"
    names = ", ".join(dict.fromkeys(x.name for x in failing)) or weakest.name
    text = f"devices here are rated to {in_unit(known[weakest], '°C', 1)} {side}; limit: {names}"
    answer.turns("temperature", known[weakest], "degC", text)


def _propane(kpa: float, site: VariedSite) -> Reach:
    """Return the coldest liquid propane that still feeds a burner at the site."""
    height = site.design.tables.site.elevation_m
    burners = [u for u in make_units(site.design.tables) if u.fuel.name == "propane"]
    drop = burners[0].drop_kpa if burners else regulator_drop_kpa("propane")
    degc = lowest_liquid_degc(kpa + drop, height)
    words = (
        f"propane at {kpa:g} kPa for the burner, {drop:g} kPa for the pressure "
        f"regulator, {height:g} m"
    )
    return Reach(words, degc, "saturation of pure propane, reference equation of state")


def _devices(subject: Subject, site: VariedSite, *, cold: bool) -> list[Reach]:
    """Return the limit of every listed device, from its part."""
    limits = []
    for line in site.budget.lines:
        if line.hidden or not subject.holds(line):
            continue
        part = site.design.parts.get(line.part)
        window = part.temperature if part else None
        if part is None or window is None:
            limits.append(Reach(line.name, None))
        else:
            source = f"{part.name} ({part.status}): {part.source}"
            limits.append(Reach(line.name, window.min if cold else window.max, source))
    return limits


def _battery(site: VariedSite, claimed: float, *, cold: bool) -> list[Reach]:
    """Return where the bank stops: ice at the charge it reaches here, and charging."""
    bank, run = site.problem.bank, site.run
    c = bank.chemistry
    if not cold:
        words = f"charging of the battery ({c.title})"
        return [
            Reach(
                words, c.charge_max_degc, "charging temperature range of the chemistry"
            )
        ]
    limits = []
    if c.freezing is not None:
        lowest = float(run.rated_soc_frac.min())
        ice = float(freezing_degc(lowest, c.freezing))
        words = f"the battery is not frozen at minimum SOC {in_unit(100 * lowest, '%')}"
        acid = c.sources.get("acid_source", "site file")
        limits.append(Reach(words, ice, f"freezing point of the acid: {acid}"))
    if bank.charge_min_degc > -40 or claimed < -40:
        words = "charging of the battery (battery temperature)"
        limits.append(
            Reach(words, bank.charge_min_degc, "charging limit of the battery")
        )
    return limits


def _temperature_remarks(
    claim: TemperatureClaim, answer: Judged, site: VariedSite, *, cold: bool
) -> None:
    air, bank = site.problem.record.temp_air_degc, site.problem.bank
    word, end = ("coldest", air.min()) if cold else ("hottest", air.max())
    answer.remarks.append(
        f"the {word} hour of the weather file is {in_unit(end, '°C', 1)}"
    )
    if _of_battery(claim) and cold:
        held = " or ".join(
            f"{in_unit(100 * min(float(points.at(claim.claimed_degc)), 1.0), '%')} ({name})"
            for name, points in bank.chemistry.cold.items()
        )
        answer.remarks.append(
            f"available capacity at {claim.claimed_degc:g} °C: {held}"
        )
        state = float(lowest_state_frac(claim.claimed_degc, bank.chemistry.freezing))
        if 0 < state < 1:
            text = f"the battery freezes there below SOC {in_unit(100 * state, '%')}"
            answer.remarks.append(text)
    answer.cautions.append(
        "a data-sheet range applies to the device in operation, not to its start"
    )
    if cold and float(air.min()) < claim.claimed_degc - 0.5:
        answer.cautions.append(
            f"the weather file goes to {in_unit(float(air.min()), '°C', 1)}, below the claim"
        )


def judge_charge_voltage(
    claim: ChargeVoltageClaim, answer: Judged, site: VariedSite | None
) -> None:
    """Ask for the set point by the stated figures, else by the site's regulator.

    It is borne out within 0.1 V for 12 V.
    """
    if site is None:
        given = {"base": claim.base_v, "cells": claim.cells}
        answer.missing += [name for name, value in given.items() if value is None]
    if answer.missing:
        return
    slope, cells = _slope(claim, site), _cells(claim, site)
    set_point = _set_point_v(claim, site, slope, claim.temperature_degc)
    degc = in_unit(claim.temperature_degc, "°C", 1)
    words = f"{degc}, {in_unit(1000 * slope, 'mV/K', 1)} per cell"
    answer.case(words, set_point, abs(set_point - claim.claimed_v) <= 0.1 * cells / 6)

    def reaches(degc: float) -> bool:
        return _set_point_v(claim, site, slope, degc) >= claim.claimed_v

    turn = edge(reaches, -60.0, 60.0)
    if turn is not None:
        text = (
            f"{show(claim.claimed_v, 'V', 4)} is the regulation voltage at "
            f"{in_unit(turn, '°C', 1)}"
        )
        answer.turns("temperature", turn, "degC", text)
    if site is not None:
        _highest_voltages(answer, site, set_point)
    answer.sources.append("manufacturers state 3 to 5 mV/K per cell")
    answer.cautions.append(
        "every device on the bus must withstand the maximum charging voltage"
    )


def _cells(claim: ChargeVoltageClaim, site: VariedSite | None) -> int:
    return claim.cells or (site.problem.bank.cells if site else 6)


def _slope(claim: ChargeVoltageClaim, site: VariedSite | None) -> float:
    """Return the compensation of a cell, refused outside 2 to 6 mV/K [V/K]."""
    if claim.per_cell is None:
        return site.problem.bank.compensation_v_per_k if site else -0.005
    if not 0.002 <= -claim.per_cell <= 0.006:
        problem = (
            "is not a slope per cell: it may be that of a battery unit, or the reverse"
        )
        given = plain(1000 * claim.per_cell, 3, "mV/K")
        refuse([Fault("per_cell", problem, given, "-2 to -6 mV/K per cell")])
    return claim.per_cell


def _set_point_v(
    claim: ChargeVoltageClaim, site: VariedSite | None, slope: float, degc: float
) -> float:
    if claim.base_v is not None:
        base_degc = 25.0 if claim.base_degc is None else claim.base_degc
        return claim.base_v + _cells(claim, site) * slope * (degc - base_degc)
    assert site is not None
    bank = site.problem.bank
    per_cell = (bank.regulation_v, bank.lowest_v, bank.highest_v)
    base, lowest, highest = (volts / bank.cells for volts in per_cell)
    volts = regulation_v(np.array([degc]), base, slope, lowest, highest)
    return float(bank.cells * volts[0])


def _highest_voltages(answer: Judged, site: VariedSite, volts: float) -> None:
    """Say which devices on the bus do not stand the set point."""
    silent = 0
    for load in site.design.tables.load:
        if load.supply:
            continue
        part = site.design.parts.get(load.part or "")
        window = part.input if part else None
        most = load.maximum_v or (window.max if window else None)
        if most is None:
            silent += 1
        elif most < volts:
            answer.remarks.append(
                f"{load.name} maximum input voltage {show(most, 'V')}"
            )
    if silent:
        answer.remarks.append(
            f"{count(silent, 'device')} on the bus: maximum input voltage not stated"
        )
