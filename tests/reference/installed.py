"""What a size costs installed, summed by hand for road sites with lead batteries."""

from __future__ import annotations

from math import ceil
from typing import Any

MAST_PER_W, MAST_W, FOUNDATION, BOX_PER_KWH = 0.8, 600.0, 400.0, 120.0
KG_PER_W, KG_PER_KWH, HAUL_PER_KG = 0.15, 28.0, 0.2
TRACKERS = ((10, 85), (15, 105), (20, 135), (30, 190), (50, 350), (80, 650))
"""Amperes and typical US dollars of one, smallest first; all of them bear 24 V."""


def tracker_usd(amps: float) -> float:
    """Return the price of the fewest trackers for so many amperes, cheapest of those."""
    found = [(ceil(amps / each - 1e-9), usd) for each, usd in TRACKERS]
    count, usd = min(found)
    return count * usd


def installed_usd(problem: Any, modules: int, units: int) -> float:
    """Return the sum for so many modules and battery units [USD]."""
    costs, unit = problem.design.tables.costs, problem.design.battery_unit
    watts = modules * problem.array.module.power_w
    kwh = units * unit.nominal_v * unit.capacity_ah / 1000.0
    masts = ceil(watts / MAST_W - 1e-9)
    amps = 1.25 * watts / problem.design.tables.bus.nominal_v
    return (
        modules * costs.module
        + units * costs.battery_unit
        + tracker_usd(amps)
        + MAST_PER_W * watts
        + FOUNDATION * masts
        + BOX_PER_KWH * kwh
        + HAUL_PER_KG * (KG_PER_W * watts + KG_PER_KWH * kwh)
    )
