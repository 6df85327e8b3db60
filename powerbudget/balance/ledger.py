"""Where every watt-hour went.  Computed from the run's series, not by the kernel.

The kernel only moves charge; this module adds energy up afterwards from voltages,
currents and the state tables, so a slip in either shows as a ledger that does not
close.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col

if TYPE_CHECKING:
    from powerbudget.balance.packed_site import PackedSite
    from powerbudget.balance.problem import Problem

Floats = NDArray[np.float64]
ROUNDING_FRAC = 1e-9
BELOW = "below controller input window"
"""Term of what a string of too few volts cannot give into a step-down tracker."""
LIMITED = "curtailed at controller limit"
"""Term of what the charge controller's current or power limit keeps off the bus."""

INHIBITED = "charging inhibited"
"""Term of what the battery had room for at a temperature that forbids charging."""


@dataclass(frozen=True)
class Ledger:
    """Energy in and out over the whole record.

    Parameters
    ----------
    array_wh
        Irradiance on the panels times rated power: what comes in [Wh].
    terms_wh
        Every loss, store and use by name; together they equal ``array_wh`` and
        ``generator_wh`` [Wh].
    error_frac
        What is left over, as a share of what came in plus the load [fraction].
    charge_error_frac
        The same for ampere-hours through the battery [fraction].
    generator_wh
        What sources beside the array gave at their terminals: steady ones all that
        they could, the one that follows the battery what was taken [Wh].
    """

    array_wh: float
    terms_wh: dict[str, float]
    error_frac: float
    charge_error_frac: float
    generator_wh: float = 0.0


def make_ledger(
    problem: Problem, s: col.Record, strings: int, removed: Floats, out: col.Records
) -> Ledger:
    """Add up a run.

    Parameters
    ----------
    problem, s, strings
        What was run.
    removed
        Charge removed at interval bounds [Ah].
    out
        Kernel results.

    Returns
    -------
    Ledger
        Closed to rounding when kernel and tables agree.
    """
    step = problem.record.step_h
    terms = {
        f"array: {name}": strings * wh for name, wh in problem.array.losses_wh.items()
    }
    terms.update(_regulator_terms(problem, s, strings, out))
    terms.update(_inhibited_term(problem, s, removed, out, terms["spilled"]))
    terms["spilled"] -= terms.get(INHIBITED, 0.0)
    generator_wh, generator_terms = _source_terms(problem, out)
    terms.update(generator_terms)
    terms.update(_load_terms(problem, s, out))
    terms.update(_battery_terms(problem, s, removed, out))
    array_wh = strings * problem.array.nominal_wh
    left = array_wh + generator_wh - sum(terms.values())
    scale = (
        array_wh + generator_wh + terms["loads served"] + terms["regulator and leakage"]
    )
    scale += terms["battery heater"]
    gained = np.maximum(out["battery_a"], 0) * _efficiency(problem, s, removed)
    given = np.minimum(out["battery_a"], 0)
    moved = (gained + given) * step - _self_discharge_ah(problem, s, removed, out)
    charge_left = float(removed[0] - removed[-1] - moved.sum())
    through = float(np.abs(out["battery_a"]).sum() * step)
    return Ledger(
        array_wh=array_wh,
        terms_wh=terms,
        error_frac=abs(left) / scale if scale else 0.0,
        charge_error_frac=abs(charge_left) / max(through, s["charge_ah"]),
        generator_wh=generator_wh,
    )


def _state(s: col.Record, removed: Floats) -> Floats:
    return np.asarray(1.0 - removed[:-1] / s["charge_ah"])


def _table(table: Floats, state: Floats) -> Floats:
    return np.asarray(np.interp(state, np.linspace(0.0, 1.0, table.size), table))


def _efficiency(problem: Problem, s: col.Record, removed: Floats) -> Floats:
    return _table(problem.tables.efficiency, _state(s, removed))


def _regulator_terms(
    problem: Problem, s: col.Record, strings: int, out: col.Records
) -> dict[str, float]:
    step = problem.record.step_h
    volts, used = out["bus_v"], out["array_a"]
    offered = out["offered_a"]
    limited = limited_w(problem, out)
    best_wh = strings * problem.array.energy_wh
    if problem.currents.shape[1] == 0:
        behind_wh = strings * problem.hourly["array_w"].sum() * step
        into_wh = float(behind_wh) / problem.tracker_frac
        below_wh = best_wh - into_wh
        if not problem.array.v_nodes_v.size or below_wh < ROUNDING_FRAC * best_wh:
            below_wh = 0.0
        return {
            **({BELOW: below_wh} if below_wh else {}),
            "regulator conversion": best_wh - below_wh - float(behind_wh),
            **_limited_term(problem, limited),
            "spilled": float(behind_wh - (volts * used + limited).sum() * step),
        }
    array_v = volts + s["drop_v"]
    limited = limited * array_v / volts
    return {
        "off the maximum-power point": best_wh
        - float((offered * array_v).sum() * step),
        "regulator drop": float((used * s["drop_v"]).sum() * step),
        **_limited_term(problem, limited),
        "spilled": float(((offered - used) * array_v - limited).sum() * step),
    }


def _limited_term(problem: PackedSite, limited: Floats) -> dict[str, float]:
    """Return the limit's term where one is stated: most sheets are silent."""
    stated = min(problem.controller_limits) < col.UNLIMITED
    return {LIMITED: float(limited.sum() * problem.record.step_h)} if stated else {}


def _inhibited_term(
    problem: Problem,
    s: col.Record,
    removed: Floats,
    out: col.Records,
    spilled_wh: float,
) -> dict[str, float]:
    """Return what cold or heat kept out of a battery with room, where it did."""
    blocked = problem.conditions.charge_share <= 0
    if not blocked.any():
        return {}
    step, volts = problem.record.step_h, out["bus_v"]
    # A direct connection spills at the voltage of the array.
    at_v = volts + (s["drop_v"] if problem.currents.shape[1] else 0.0)
    left_w = (out["offered_a"] - out["array_a"]) * at_v
    left_w = left_w - limited_w(problem, out) * at_v / volts
    room_a = removed[:-1] / (_efficiency(problem, s, removed) * step)
    kept_out_w = np.where(blocked, np.clip(left_w, 0.0, room_a * at_v), 0.0)
    return {INHIBITED: min(float(kept_out_w.sum() * step), spilled_wh)}


def limited_w(problem: PackedSite, out: col.Records) -> Floats:
    """Return what the charge controller's own limit keeps off the bus, by interval [W].

    Parameters
    ----------
    problem, out
        As in `make_ledger`.

    Returns
    -------
    array
        Offered beyond current and power limit, whatever the battery would take; none
        where the controller is dark [W].
    """
    volts = out["bus_v"]
    over_w = np.maximum(
        out["offered_a"] * volts - problem.controller_most_w(volts), 0.0
    )
    return np.asarray(np.where(out["locked"] > 0.5, 0.0, over_w))


def _source_terms(problem: Problem, out: col.Records) -> tuple[float, dict[str, float]]:
    """Return what other sources gave at their terminals, and what of it was lost."""
    sources = problem.sources
    if not sources.units:
        return 0.0, {}
    step, volts = problem.record.step_h, out["bus_v"]
    steady_wh = float(sources.steady_w.sum() * step)
    taken_wh = float((out["steady_a"] * volts).sum() * step)
    followed_wh = float((out["source_a"] * volts).sum() * step)
    given_wh = sum(
        float(walk.bus_w.sum() * step) / walk.unit.figure("charger_efficiency_frac")
        for walk in sources.walks
    )
    if sources.follower is not None:
        charger = sources.follower.figure("charger_efficiency_frac")
        given_wh += followed_wh / charger
    return given_wh, {
        "generator charger": given_wh - steady_wh - followed_wh,
        "spilled by steady source": steady_wh - taken_wh,
    }


def _load_terms(problem: Problem, s: col.Record, out: col.Records) -> dict[str, float]:
    step, volts = problem.record.step_h, out["bus_v"]
    base_on = out["served"] > -0.5
    served = tier_w(problem, out) * served_tiers(out)
    drawn_a = s["base_a"] - problem.hourly["base_less_a"]
    drawn_w = (drawn_a * volts)[base_on]
    return {
        "loads served": float(served.sum() * step),
        "battery heater": float(problem.hourly["base_w"][base_on].sum() * step),
        "regulator and leakage": float(drawn_w.sum() * step),
    }


def tier_w(problem: Problem, out: col.Records) -> Floats:
    """Return what each tier asks at the bus, on or off, shape (3, intervals) [W]."""
    volts = np.ascontiguousarray(out["bus_v"])
    asked = np.zeros((3, volts.size))
    for tier, (watts, amps, siemens) in enumerate(problem.tier_loads):
        # Most sites have no load of a kind or tier at all.
        if watts is not None:
            asked[tier] += watts
        if amps is not None:
            asked[tier] += amps * volts
        if siemens is not None:
            asked[tier] += siemens * volts**2
    return asked


def served_tiers(out: col.Records) -> NDArray[np.bool_]:
    """Return whether each tier was served, shape (3, intervals)."""
    return np.array([out[name] > 0.5 for name in ("served", "first", "second")])


def _battery_terms(
    problem: Problem, s: col.Record, removed: Floats, out: col.Records
) -> dict[str, float]:
    step = problem.record.step_h
    state = _state(s, removed)
    rest_v = _table(problem.tables.open_v, state)
    rest_v = rest_v + problem.hourly["open_shift_v"]
    amps = out["battery_a"]
    efficiency = _table(problem.tables.efficiency, state)
    wasted = np.maximum(amps, 0) * (1 - efficiency)
    lost_ah = _self_discharge_ah(problem, s, removed, out)
    return {
        "battery resistance": float(((out["bus_v"] - rest_v) * amps).sum() * step),
        "battery gassing": float((rest_v * wasted).sum() * step),
        "self-discharge": float((rest_v * lost_ah).sum()),
        "left in the battery": float((rest_v * (removed[:-1] - removed[1:])).sum()),
    }


def _self_discharge_ah(
    problem: Problem, s: col.Record, removed: Floats, out: col.Records
) -> Floats:
    """Return Ah lost to self-discharge, from the rate and the charge then left."""
    step = problem.record.step_h
    rate = problem.hourly["self_per_h"] * step
    before = removed[1:] - rate * s["charge_ah"]
    # The kernel loses rate x (held - removed); undo it to find removed before it.
    removed_then = before / (1 - rate)
    del out
    return np.asarray(np.maximum(rate * (s["charge_ah"] - removed_then), 0.0))


def demand_w(problem: Problem, out: col.Records) -> Floats:
    """Return what the switched loads ask at the bus, on or off [W]."""
    return np.asarray(tier_w(problem, out).sum(axis=0))
