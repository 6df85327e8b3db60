"""Sources beside the array, laid out for the kernel."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
from powerbudget.generators.series import MachineSeries
from powerbudget.generators.starts import HOURS_PER_YEAR
from powerbudget.generators.unit import Machine

Floats = NDArray[np.float64]
ALWAYS_STATE, NEVER_STATE = 2.0, 9.0
"""A state of charge that no battery reaches: start below it always, stop from it never."""


def fill_sources(rows: col.Records, sources: MachineSeries) -> None:
    """Write the columns of sources into kernel rows, in place.

    Parameters
    ----------
    rows
        Kernel rows [see `powerbudget.balance.columns`].
    sources
        From `powerbudget.generators.series.make_sources`.
    """
    rows["steady_w"] = sources.steady_w
    rows["source_w"] = sources.follower_w
    rows["source_open"] = sources.open
    rows["source_draw"] = sources.draw


def set_source(s: col.Record, sources: MachineSeries) -> None:
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
    s["source"] = 1.0
    _set_rule(s, unit)
    s["source_minimum_h"] = unit.figure("minimum_run_h")
    s["source_warm_h"] = unit.figure("warm_up_h")
    every = table.exercise_every_d
    s["source_exercise_every_h"] = math.inf if every is None else 24.0 * every
    s["source_exercise_h"] = table.exercise_for_h
    s["source_start_frac"] = table.start_probability_frac
    s["source_faults_per_h"] = table.standing_faults_per_y / HOURS_PER_YEAR
    s["source_idle_w"] = unit.idle_fuel_w
    charger = unit.figure("charger_efficiency_frac")
    s["source_slope"] = unit.fuel_slope / charger
    s["source_tank_wh"] = unit.stock_wh
    refill = 0.0 if table.tank is None else table.tank.refill_below_frac
    s["source_order_wh"] = refill * unit.stock_wh if refill else -1.0
    s["source_delay_h"] = sources.delay_h


def _set_rule(s: col.Record, unit: Machine) -> None:
    """Write start and stop; a source that always runs starts below any state."""
    s["source_start_v"], s["source_start_state"] = 0.0, ALWAYS_STATE
    s["source_stop_v"], s["source_stop_state"] = 0.0, NEVER_STATE
    start, stop = unit.table.start, unit.table.stop
    if unit.always or start is None or stop is None:
        return
    by_volts = start[0] == "V"
    s["source_start_v"] = start[1] if by_volts else 0.0
    s["source_start_state"] = -1.0 if by_volts else start[1]
    s["source_stop_v"] = stop[1] if by_volts else 0.0
    s["source_stop_state"] = -1.0 if by_volts else stop[1]
