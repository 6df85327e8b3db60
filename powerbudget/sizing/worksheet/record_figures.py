"""What the record shows in place of the worksheet's assumptions."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance.events import local_iso
from powerbudget.balance.ledger import demand_w
from powerbudget.balance.ring import stretch, wraps
from powerbudget.balance.simulation import Simulation
from powerbudget.sizing.autonomy import design_autonomy_days
from powerbudget.sizing.candidates import day_words
from powerbudget.weather.runs import ACROSS_END, across_end, largest_shortage

Floats = NDArray[np.float64]
Places = NDArray[np.int64]
FULL_FRAC = 0.95
"""A state above which the bank counts as full again (assumed) [fraction]."""
DARK_YIELD_FRAC = 0.1
"""Share of the record's yield below which a spell's own tells nothing of a string: a
night, a polar night, panels under snow (assumed) [fraction]."""
MOST_SUN = 24.0
"""1000 W/m2 day and night: a bank that asks for no more sun than none [kWh/m2/day]."""


@dataclass(frozen=True)
class Truth:
    """The record's own figures for one design.

    Parameters
    ----------
    spell_days, spell_start, spell_end
        From the last full charge to the lowest state [d, text].
    spell_sun
        Sun on the panel in it [kWh/m2/day].
    load_ah_per_day
        What the loads draw at the volts of the run in the spell [Ah/day].
    string_ah_per_kwh
        What one string offers at the bus for each kWh/m2 [Ah].
    yield_in
        ``the worst period``, or ``the whole weather file`` where the spell was dark [text].
    charge_efficiency_frac
        What the battery gives back and passes on of the array Ah used in it [fraction].
    dependable_sun
        The steady sun that would ask as large an array as the record does beside this
        battery: largest shortage equal to its allowed charge [kWh/m2/day].
    drawdown_days
        Largest shortage of the array's Ah beneath the load's, in days of load [d].
    cold_factor
        1 over the capacity left at the spell's mean battery temperature [ratio].
    spell_degc
        That temperature [degC].
    usable_frac
        Share of the capacity left in the stated cold that is used when the
        disconnect (or frost) ends the autonomy [fraction].
    health_frac
        Of the bank [fraction].
    """

    spell_days: float
    spell_start: str
    spell_end: str
    spell_sun: float
    load_ah_per_day: float
    string_ah_per_kwh: float
    yield_in: str
    charge_efficiency_frac: float
    dependable_sun: float
    drawdown_days: float
    cold_factor: float
    spell_degc: float
    usable_frac: float
    health_frac: float


def truth_of(run: Simulation) -> Truth:
    """Return what a run shows of each of the worksheet's assumptions.

    Parameters
    ----------
    run
        Of the worksheet's own design.

    Returns
    -------
    Truth
        Measured in the spell that decides, from full to the lowest state, and over a
        whole day where that is shorter: a night alone says nothing of the sun.  Where
        the run wraps so do the spell and the shortage that piles up.
    """
    problem, out = run.problem, run.out
    step = problem.record.step_h
    first, count = _spell(run)
    spell = stretch(problem, first, count)
    days = count * step / 24.0
    window = _day_or_more(run, first, count, round(24.0 / step))
    asked = _asked_a(run)
    string_ah, yield_in = _string_ah(run, window)
    degc = float(problem.conditions.battery_degc[window].mean())
    left = max(float(run.bank.capacity_frac(degc)), 1e-9)
    efficiency = _efficiency(run, asked, window)
    supplied = efficiency * out["offered_a"] * step
    needed_ah = asked * step
    ring = wraps(problem)
    least = _least_share(needed_ah, supplied, _allowed_ah(run), ring=ring) * run.strings
    load = 24.0 / step * float(needed_ah[window].mean())
    return Truth(
        spell_days=days,
        spell_start=day_words(run, local_iso(problem, first)),
        spell_end=day_words(run, local_iso(problem, int(spell[-1])))
        + (f", {ACROSS_END}" if across_end(first, count, problem.record.n) else ""),
        spell_sun=_sun_kwh(run, spell) / days,
        load_ah_per_day=load,
        string_ah_per_kwh=string_ah,
        yield_in=yield_in,
        charge_efficiency_frac=efficiency,
        dependable_sun=min(load / max(least * string_ah * efficiency, 1e-9), MOST_SUN),
        drawdown_days=largest_shortage(needed_ah - supplied, ring=ring)
        / max(float(needed_ah.mean()) * 24.0 / step, 1e-12),
        cold_factor=1.0 / left,
        spell_degc=degc,
        usable_frac=_usable_frac(run),
        health_frac=run.bank.health_frac,
    )


def _spell(run: Simulation) -> tuple[int, int]:
    """Return first interval and length from the last full charge to the lowest state.

    The outage is the first of a run that does not wrap; of a ring, which has no first,
    the longest, of equals that with the least charge.
    """
    ring, lowest = wraps(run.problem), int(np.argmin(run.soc_frac))
    if run.outages:
        long = max(run.outages, key=lambda o: (o.hours, -o.charge_left_frac))
        lowest = long.index if ring else run.outages[0].index
    return since_full(run, lowest)


def since_full(run: Simulation, lowest: int) -> tuple[int, int]:
    """Return first interval and length from the last full charge to an interval [count].

    Parameters
    ----------
    run
        A simulation.
    lowest
        The interval [count].

    Returns
    -------
    tuple of int
        From the first of the record where it was never full before.
    """
    ring, n = wraps(run.problem), run.problem.record.n
    span = (lowest + 1 - n, n - 1) if ring else (0, lowest)
    before = stretch(run.problem, *span)
    full = before[run.soc_frac[before] >= FULL_FRAC]
    first = int(full[-1] if full.size else before[0] if before.size else lowest)
    return first, (lowest - first) % n + 1


def _day_or_more(run: Simulation, first: int, count: int, day: int) -> Places:
    """Return a window widened backwards to a day, forwards where the record begins."""
    more = max(0, day - count)
    if not wraps(run.problem):
        more = min(more, first)
    return stretch(run.problem, first - more, max(day, count + more))


def _sun_kwh(run: Simulation, window: Places) -> float:
    """Return the sun on the panel in a window [kWh/m2]."""
    light = run.problem.array.poa_w_m2[window]
    return float(light.sum()) * run.problem.record.step_h / 1000.0


def _string_ah(run: Simulation, window: Places) -> tuple[float, str]:
    """Return what a string offers for a kWh/m2, and over what that was measured [Ah]."""
    offered = run.out["offered_a"] * run.problem.record.step_h

    def found(part: Places) -> float:
        sun = max(_sun_kwh(run, part), 1e-9) * run.strings
        return float(offered[part].sum()) / sun

    spell, whole = found(window), found(np.arange(offered.size))
    if spell < DARK_YIELD_FRAC * whole:
        return whole, "the whole weather file"
    return spell, "the worst period"


def _asked_a(run: Simulation) -> Floats:
    """Return what all loads would draw, on or off, at the run's volts [A]."""
    volts = run.out["bus_v"]
    watts = demand_w(run.problem, run.out) + run.problem.hourly["base_w"]
    return np.asarray(watts / volts + run.problem.budget.base_a)


def _efficiency(run: Simulation, asked: Floats, window: Places) -> float:
    """Return load and stored charge over array Ah used, in a window [fraction]."""
    step = run.problem.record.step_h
    on = run.served[window]
    drawn = np.where(on, asked[window], run.problem.budget.base_a).sum() * step
    given = run.removed_ah[window[-1] + 1] - run.removed_ah[window[0]]
    used = float(run.out["array_a"][window].sum()) * step
    return min(max(float(drawn - given) / used, 0.05), 1.0) if used > 0 else 1.0


def _allowed_ah(run: Simulation) -> float:
    """Return the charge that the criterion lets the record take out [Ah]."""
    depth = run.problem.design.tables.criteria.deepest_discharge_frac
    return float(depth * run.scalars["charge_ah"])


def _least_share(
    needed: Floats, supplied: Floats, allowed_ah: float, *, ring: bool
) -> float:
    """Return the share of a supply whose largest shortage is just allowed.

    A year that follows itself must bring at least what it asks.
    """

    def short(share: float) -> bool:
        missing = needed - share * supplied
        if ring and missing.sum() > 0:
            return True
        return largest_shortage(missing, ring=ring) > allowed_ah

    low, high = 0.0, 1.0
    while short(high) and high < 1e4:
        low, high = high, 2.0 * high
    for _ in range(20):
        middle = (low + high) / 2.0
        low, high = (middle, high) if short(middle) else (low, middle)
    return high


def _usable_frac(run: Simulation) -> float:
    problem, bank = run.problem, run.bank
    degc = problem.design.tables.criteria.autonomy_degc
    days = design_autonomy_days(problem, bank, degc)
    left = float(bank.capacity_frac(problem.design_degc))
    held = bank.charge_ah(problem.mean_load_a) * left
    used = days * problem.dark_day_wh / problem.budget.nominal_v
    return min(max(used / max(held, 1e-9), 0.01), 1.0)
