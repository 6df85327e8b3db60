"""Sources beside the array, laid out for the kernel."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
from powerbudget.generators.series import Sources
from powerbudget.generators.starts import HOURS_PER_YEAR
from powerbudget.generators.unit import Unit

Floats = NDArray[np.float64]
ALWAYS_STATE, NEVER_STATE = 2.0, 9.0
"""A state of charge that no battery reaches: start below it always, stop from it never."""


def fill_sources(rows: Floats, sources: Sources) -> None:
    """Write the columns of sources into kernel rows, in place.

    Parameters
    ----------
    rows
        Kernel rows [see `powerbudget.balance.columns`].
    sources
        From `powerbudget.generators.series.make_sources`.
    """
    rows[:, col.H_STEADY_W] = sources.steady_w
    rows[:, col.H_SOURCE_W] = sources.follower_w
    rows[:, col.H_SOURCE_OPEN] = sources.open
    rows[:, col.H_SOURCE_DRAW] = sources.draw


def set_source(s: Floats, sources: Sources) -> None:
    """Write the source that follows battery or load into the scalars, in place.

    Parameters
    ----------
    s
        Scalars of `powerbudget.balance.problem.Problem.scalars`.
    sources
        From `powerbudget.generators.series.make_sources`.
    """
    unit = sources.follower
    if unit is None:
        return
    table = unit.table
    s[col.S_SOURCE] = 1.0
    _set_rule(s, unit)
    s[col.S_SOURCE_MINIMUM_H] = unit.figure("minimum_run_h")
    s[col.S_SOURCE_WARM_H] = unit.figure("warm_up_h")
    every = table.exercise_every_d
    s[col.S_SOURCE_EXERCISE_EVERY_H] = math.inf if every is None else 24.0 * every
    s[col.S_SOURCE_EXERCISE_H] = table.exercise_for_h
    s[col.S_SOURCE_START_FRAC] = table.start_probability_frac
    s[col.S_SOURCE_FAULTS_PER_H] = table.standing_faults_per_y / HOURS_PER_YEAR
    s[col.S_SOURCE_IDLE_W] = unit.idle_fuel_w
    charger = unit.figure("charger_efficiency_frac")
    s[col.S_SOURCE_SLOPE] = unit.fuel_slope / charger
    s[col.S_SOURCE_TANK_WH] = unit.stock_wh
    refill = 0.0 if table.tank is None else table.tank.refill_below_frac
    s[col.S_SOURCE_ORDER_WH] = refill * unit.stock_wh if refill else -1.0
    s[col.S_SOURCE_DELAY_H] = sources.delay_h


def _set_rule(s: Floats, unit: Unit) -> None:
    """Write start and stop; a source that always runs starts below any state."""
    s[col.S_SOURCE_START_V], s[col.S_SOURCE_START_STATE] = 0.0, ALWAYS_STATE
    s[col.S_SOURCE_STOP_V], s[col.S_SOURCE_STOP_STATE] = 0.0, NEVER_STATE
    start, stop = unit.table.start, unit.table.stop
    if unit.always or start is None or stop is None:
        return
    by_volts = start[0] == "V"
    s[col.S_SOURCE_START_V] = start[1] if by_volts else 0.0
    s[col.S_SOURCE_START_STATE] = -1.0 if by_volts else start[1]
    s[col.S_SOURCE_STOP_V] = stop[1] if by_volts else 0.0
    s[col.S_SOURCE_STOP_STATE] = -1.0 if by_volts else stop[1]
