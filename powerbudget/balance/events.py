"""What happened in a run: outages and why, frost, blocked charging, high voltage."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
from powerbudget.balance.generator_events import source_cause, source_events
from powerbudget.balance.problem import Problem
from powerbudget.balance.ring import repeated, wraps
from powerbudget.battery.freezing import NEVER
from powerbudget.quantities import in_unit
from powerbudget.weather.runs import across_end, runs_of

Floats = NDArray[np.float64]
SUN_FRAC = 0.05
"""Share of the array's best hour from which an hour counts as sun."""
EMPTY_FRAC = 0.02
"""Charge left, of what the bank holds, below which a bank counts as empty."""
SLOW_H = 20.0
"""A bank that would hold this hour rate with the same charge is not empty."""
NEARLY_FRAC = 0.10
"""Share of what the cold leaves under which a trip on voltage is no sag; share of the
charge below which what a temperature hides is not called cold."""
KINDS = {
    "sag": "LVD, voltage sag",
    "empty": "LVD, battery depleted",
    "terminals": "load terminals of the charge controller opened above 1.25 times their "
    "rated current",
    "load": "LVD, overload",
    "cold": "LVD, low-temperature capacity",
    "state": "SOC disconnect",
    "disconnected": "battery below its minimum discharging temperature",
    "start": "disconnected at the start of the simulation",
}


@dataclass(frozen=True)
class Outage:
    """One stretch without the loads.

    Parameters
    ----------
    start
        Local standard time [ISO text].
    hours
        Length [h].
    cause
        What the disconnect acted on [text].
    index
        Interval in the record [count].
    kind
        A key of `KINDS` [text].
    charge_left_frac
        State of charge when it began [fraction].
    recovered
        Whether the loads came back without a visit before the record ended.
    across_end
        Whether it goes on past the end of a typical year into its first days.
    generator
        What a source beside the array had to do with it, empty when nothing [text].
    """

    start: str
    hours: float
    cause: str
    index: int
    kind: str
    charge_left_frac: float
    recovered: bool
    generator: str = ""
    across_end: bool = False


@dataclass(frozen=True)
class Frost:
    """How near the electrolyte came to freezing.

    Parameters
    ----------
    at_risk
        Whether the chemistry's electrolyte can freeze at all.
    hours_frozen, hours_below_margin
        State below what keeps it liquid, and below that plus the margin [h].
    least_margin_frac
        Smallest state above the limit in frost weather, on rated Ah; infinite where
        no hour was cold enough to matter [fraction].
    least_margin_at
        When that was, local standard time [ISO text].
    lost_at
        When the bank froze first, empty when it never did; frozen from the old year
        into the new, the beginning in the old [ISO text].
    lost_index
        That interval, -1 when it never did [count].
    """

    at_risk: bool
    hours_frozen: float
    hours_below_margin: float
    least_margin_frac: float
    least_margin_at: str
    lost_at: str
    lost_index: int


@dataclass(frozen=True)
class Event:
    """Something that happened to the bank.

    Parameters
    ----------
    start
        Local standard time [ISO text].
    kind
        ``battery frozen``, ``charge controller off``, or ``generator:`` and why it was silent
        [text].
    text
        What it means, with figures [text].
    """

    start: str
    kind: str
    text: str


def local_iso(problem: Problem, index: int) -> str:
    """Return an interval's start in local standard time [ISO text].

    Notes
    -----
    The year of a typical year is a label and means nothing.
    """
    return str(problem.record.start_local[index])[:16]


def find_outages(
    problem: Problem, s: col.Record, removed: Floats, out: col.Records
) -> tuple[Outage, ...]:
    """Return every stretch without the loads, in order.

    Parameters
    ----------
    problem, s
        Prepared site and scalars.
    removed
        Charge removed at interval bounds [Ah].
    out
        Kernel results.

    Returns
    -------
    tuple of Outage
        Empty when the loads were always served.  Where the run wraps, a stretch over
        the end of the year is one.
    """
    step, n, ring = problem.record.step_h, problem.record.n, wraps(problem)
    found = []
    begins, lengths = runs_of(out["served"] < 0.5, ring=ring)
    for first, length in zip(begins.tolist(), lengths.tolist(), strict=True):
        kind = trip_kind(problem, s, removed, out, first)
        left = 1.0 - float(removed[first]) / s["charge_ah"]
        silent = source_cause(problem, out, first)
        found.append(
            Outage(
                start=local_iso(problem, first),
                hours=float(length * step),
                cause=_cause_text(kind, s, left) + (f"; {silent}" if silent else ""),
                index=first,
                kind=kind,
                charge_left_frac=left,
                recovered=length < n if ring else first + length < n,
                generator=silent,
                across_end=across_end(first, length, n),
            )
        )
    return tuple(found)


def _cause_text(kind: str, s: col.Record, left: float) -> str:
    words = f"{KINDS[kind]}; SOC {in_unit(100 * left, '%')}"
    if kind == "sag" and s["trip_v"] > 0:
        words += f"; voltage at 25 °C would have been {s['trip_v']:g} V"
    return words


def trip_kind(
    problem: Problem, s: col.Record, removed: Floats, out: col.Records, index: int
) -> str:
    """Tell a sag trip from an empty trip at the start of an outage.

    Parameters
    ----------
    problem, s, removed, out
        As in `find_outages`.
    index
        First interval without the loads [count].

    Returns
    -------
    str
        A key of `KINDS`.

    Notes
    -----
    A trip on voltage is a sag when the same battery with the same charge removed and
    the same load would have stayed above the disconnect at 25 degC, and more than
    `NEARLY_FRAC` of what the cold leaves was still there.  Where the temperature
    hides less than `NEARLY_FRAC`, an empty bank is called empty and not cold.  Where it
    would not have stayed above, the bank was empty, or the load more than it could
    bear: a draw at the 20 h rate would have held.
    """
    row, code = problem.hourly[index], int(out["cause"][index])
    if code == 3 or row["capacity"] <= 0:
        return "terminals" if code == 3 else "disconnected"
    spent = "empty" if row["capacity"] > 1.0 - NEARLY_FRAC else "cold"
    cold_ah = s["charge_ah"] * row["capacity"]
    left = 1.0 - removed[index] / s["charge_ah"]
    if code == 0 and not (wraps(problem) or repeated(problem, s, removed)):
        return "start"
    if code == 1:
        warm_v = warm_bus_v(problem, s, float(removed[index]), index)
        if warm_v < max(s["trip_v"], 0.1):
            slow_v = _warm_slow_v(problem, s, float(removed[index]))
            return "load" if slow_v >= s["trip_v"] else "empty"
        return "sag" if 1.0 - removed[index] / cold_ah > NEARLY_FRAC else spent
    by_state = s["trip_state"] >= 0
    drawn = removed[index] + _load_a(problem, s, index) * s["step_h"]
    if by_state and drawn <= cold_ah:
        return "state"
    return "empty" if left <= EMPTY_FRAC else spent


def _load_a(problem: Problem, s: col.Record, index: int) -> float:
    watts, amps, siemens = _asked(problem, s, index)
    volts = problem.budget.nominal_v
    return watts / volts + amps + siemens * volts


def _asked(problem: Problem, s: col.Record, index: int) -> tuple[float, float, float]:
    """Return watts, amperes and siemens of tier 0 and the base draw."""
    row = problem.hourly[index]
    watts = row["load_w"] + row["base_w"]
    amps = row["load_a"] + s["base_a"] - row["base_less_a"]
    return float(watts), float(amps), float(row["load_s"])


def warm_bus_v(problem: Problem, s: col.Record, removed_ah: float, index: int) -> float:
    """Return the loaded bus voltage of the same battery at 25 degC [V].

    Parameters
    ----------
    problem, s
        Prepared site and scalars.
    removed_ah
        Charge removed [Ah].
    index
        Interval whose load is put on, the array's power taken off [count].

    Returns
    -------
    float
        0 where the bus would collapse [V].
    """
    rest, ohm = _warm_rest(problem, s, removed_ah)
    watts, amps, siemens = _asked(problem, s, index)
    watts -= float(problem.hourly["array_w"][index]) * s["strings"]
    watts -= float(problem.hourly["steady_w"][index])
    a, b = 1.0 + ohm * siemens, rest - ohm * amps
    root = b * b - 4.0 * a * ohm * watts
    return 0.0 if root < 0 else (b + math.sqrt(root)) / (2.0 * a)


def _warm_rest(
    problem: Problem, s: col.Record, removed_ah: float
) -> tuple[float, float]:
    """Return rest volts and resistance of a charge removed, at 25 degC [V, ohm]."""
    grid = np.linspace(0.0, 1.0, problem.tables.open_v.size)
    state = 1.0 - removed_ah / s["charge_ah"]
    rest = float(np.interp(state, grid, problem.tables.open_v))
    ohm = float(np.interp(state, grid, problem.tables.discharge))
    return rest, ohm / s["rated_ah"]


def _warm_slow_v(problem: Problem, s: col.Record, removed_ah: float) -> float:
    """Return the volts of the same charge at 25 degC under a 20 h draw [V]."""
    rest, ohm = _warm_rest(problem, s, removed_ah)
    return rest - ohm * float(s["rated_ah"]) / SLOW_H


def find_frost(problem: Problem, s: col.Record, removed: Floats) -> Frost:
    """Return how near the electrolyte came to freezing, and whether it froze.

    Parameters
    ----------
    problem, s
        Prepared site and scalars.
    removed
        Charge removed at interval bounds [Ah].

    Returns
    -------
    Frost
        Counted on the charge at the end of each interval, over rated Ah.
    """
    floor = problem.conditions.frozen_below_frac
    if problem.bank.chemistry.freezing is None:
        return Frost(False, 0.0, 0.0, math.inf, "", "", -1)
    step = problem.record.step_h
    state = 1.0 - removed[1:] / s["rated_ah"]
    matters = floor > 0.0
    frozen = matters & (state < floor)
    near = matters & (state < floor + problem.design.tables.battery.freeze_margin_frac)
    # Where even a full battery freezes no state is enough: short of full is what is told.
    margin = np.where(matters, state - np.minimum(floor, 1.0), math.inf)
    worst = int(np.argmin(margin))
    begins, _ = runs_of(frozen, ring=wraps(problem))
    lost = int(begins[0]) if begins.size else -1
    return Frost(
        at_risk=True,
        hours_frozen=float(frozen.sum() * step),
        hours_below_margin=float(near.sum() * step),
        least_margin_frac=float(margin[worst]),
        least_margin_at=local_iso(problem, worst) if matters.any() else "",
        lost_at=local_iso(problem, lost) if lost >= 0 else "",
        lost_index=lost,
    )


def blocked_sun(problem: Problem, strings: int) -> tuple[float, float]:
    """Return hours of sun in which charging was blocked, and the energy in them.

    Parameters
    ----------
    problem
        Prepared site.
    strings
        Array strings [count].

    Returns
    -------
    tuple of float
        Hours, and array energy in them [h, Wh].
    """
    if not strings:
        return 0.0, 0.0
    power = problem.array.p_mp_w
    blocked = (problem.conditions.charge_share <= 0) & (power > SUN_FRAC * power.max())
    step = problem.record.step_h
    return float(blocked.sum() * step), float(strings * power[blocked].sum() * step)


def highest_charge_v(problem: Problem) -> tuple[float, int]:
    """Return the highest voltage to which charging may lift the bus, and when.

    Returns
    -------
    tuple of float and int
        Compensated set point of the coldest interval with sun, held only by a clamp
        that the site file states, and its index; the record's highest set point where
        no interval has sun [V, count].
    """
    power = problem.array.p_mp_w
    volts = problem.bank.asked_v(problem.conditions.battery_degc)
    charges = (power > SUN_FRAC * power.max()) & (problem.strings > 0)
    charges |= problem.hourly["steady_w"] + problem.hourly["source_w"] > 0
    sunny = charges & (problem.conditions.charge_share > 0)
    allowed = sunny if sunny.any() else np.ones(volts.size, bool)
    top = allowed & (volts >= volts[allowed].max() - 1e-9)
    # A clamp makes many hours equal; the coldest of them is the one to name.
    where = int(np.argmin(np.where(top, problem.conditions.battery_degc, np.inf)))
    return float(volts[where]), where


def list_events(
    problem: Problem, removed: Floats, out: col.Records, frost: Frost
) -> tuple[Event, ...]:
    """Return what happened to the bank, in order of time.

    Parameters
    ----------
    problem
        Prepared site.
    removed
        Charge removed at interval bounds [Ah].
    out
        Kernel results.
    frost
        From `find_frost`.

    Returns
    -------
    tuple of Event
        Empty when nothing did.
    """
    found = []
    if frost.lost_index >= 0:
        k = frost.lost_index
        degc = problem.conditions.battery_degc[k]
        state = 1.0 - removed[k + 1] / problem.bank.rated_ah
        floor = problem.conditions.frozen_below_frac[k]
        need = (
            "the battery freezes at any SOC"
            if floor >= NEVER
            else f"freezing SOC {in_unit(100 * floor, '%', 1)}"
        )
        words = (
            f"battery frozen (destroyed): {in_unit(degc, '°C', 1)} at SOC "
            f"{in_unit(100 * state, '%', 1)}; "
            f"{need}"
        )
        found.append((k, Event(frost.lost_at, "battery frozen", words)))
    dark = out["locked"] > 0.5
    if dark.any():
        k = int(np.argmax(dark))
        words = (
            "battery below the minimum voltage of the charge controller: no charging "
            "until a site visit"
        )
        found.append((k, Event(local_iso(problem, k), "charge controller off", words)))
    for k, kind, words in source_events(problem, out):
        found.append((k, Event(local_iso(problem, k), kind, words)))
    return tuple(event for _, event in sorted(found, key=lambda item: item[0]))
