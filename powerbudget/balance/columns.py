"""What the kernel reads and writes, by name: one record an interval.

Apart from the kernel, so that modules which only lay data out need not load the
compiler.  Every field is a float; `matrix` shows records as a table of floats.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Records = NDArray[np.void]
Record = np.void


def _record(*names: str) -> np.dtype[np.void]:
    return np.dtype([(name, np.float64) for name in names])


def matrix(records: Records) -> Floats:
    """Return records as a table of floats on the same memory, shape (n, fields).

    Examples
    --------
    >>> matrix(np.zeros(3, RESULT)).shape
    (3, 16)
    """
    return records.view(np.float64).reshape(len(records), -1)


ROW = _record(
    "array_w",  # maximum-power of one array string behind the regulator [W]
    "load_w",  # constant-power load, on until the final disconnect [W]
    "load_a",  # constant-current load [A]
    "load_s",  # resistive load [S]
    "first_w",  # the same three of the loads that are shed first
    "first_a",
    "first_s",
    "second_w",  # and of those shed second
    "second_a",
    "second_s",
    "base_w",  # battery heater: never disconnected, like the base draw [W]
    "capacity",  # capacity over that at 25 degC [fraction]
    "open_shift_v",  # added to the rest voltage [V]
    "discharge_ratio",  # on discharge resistance
    "charge_ratio",  # on charge resistance
    "regulation_v",  # regulation voltage of the bank [V]
    "self_per_h",  # self-discharge of the charge left [1/h]
    "charge_share",  # of the charge limit that temperature allows, 0 blocks [fraction]
    "controller_share",  # of the charge controller's limits that heat and height leave
    "base_less_a",  # what a sleeping charge controller draws less than on average [A]
    "steady_w",  # sources that always burn the same, at the bus [W]
    "source_w",  # the one that follows the battery, at the bus, were it running [W]
    "source_open",  # 1 where people can come: fuel, repair
    "source_draw",  # a start succeeds below its probability [fraction]
)
"""One interval of a site: sky, loads, battery temperature, other sources."""

TIERS = (
    ("load_w", "load_a", "load_s"),
    ("first_w", "first_a", "first_s"),
    ("second_w", "second_a", "second_s"),
)
"""Watts, amperes and siemens of each tier: 0 until the end, 1 first, 2 second."""


class Tables(NamedTuple):
    """State tables of 101 points, 0 to 100 % of charge.

    Parameters
    ----------
    open_v
        Open-circuit voltage at 25 degC [V].
    efficiency
        Coulombic efficiency of charging [fraction].
    discharge, charge
        Internal resistance times rated capacity [ohm Ah].
    """

    open_v: Floats
    efficiency: Floats
    discharge: Floats
    charge: Floats


SCALARS = _record(
    "step_h",
    "strings",  # array strings in parallel
    "rated_ah",  # sets resistance and the charge limit
    "charge_ah",  # Ah that the bank holds at 25 degC at this load
    "charge_limit_a",
    "base_a",  # regulator and leakage: never disconnected
    "trip_v",  # disconnect below this under load, 0 when by state
    "return_v",
    "trip_state",  # disconnect below this state, -1 when by voltage
    "return_state",
    "delay_h",  # how long the voltage must lie below before it acts
    "first_v",  # shed tier 1 below this under load, 0 when not by voltage
    "first_return_v",
    "first_state",  # shed tier 1 below this state, -1 when not by state
    "first_return_state",
    "second_v",  # the same for tier 2
    "second_return_v",
    "second_state",
    "second_return_state",
    "restart_v",  # regulator is dark below this rest voltage, 0 when it never is
    "node_first_v",  # first array voltage of the current table
    "node_step_v",
    "drop_v",  # array to bus, direct connection only
    "controller_a",  # output limit of all charge controllers, see UNLIMITED
    "controller_w",  # the same in watts, trackers only
    "load_limit_a",  # its load terminals open above this, 0 without
    "float_drop_v",  # float below absorption, 0 where absorption is held for good
    "absorb_h",  # how long absorption is held
    "tail_a",  # or until the charge current falls below this
    "recharge_v",  # bus voltage below which float ends
    "source",  # 1 where a source follows the battery or the load
    "source_start_v",  # starts below this bus voltage, 0 when by state
    "source_start_state",  # starts below this state, -1 when by voltage
    "source_stop_v",  # stops from this voltage on, 0 when by state
    "source_stop_state",  # stops from this state on, -1 when by voltage
    "source_minimum_h",
    "source_warm_h",
    "source_exercise_every_h",  # infinite without exercise
    "source_exercise_h",
    "source_start_frac",  # probability of a start right after a run
    "source_faults_per_h",  # that grow while it stands
    "source_idle_w",  # heat in the fuel without load
    "source_slope",  # further heat for each watt at the bus
    "source_tank_wh",  # usable fuel of a full store, infinite by pipe
    "source_order_wh",  # fuel is ordered below this
    "source_delay_h",  # and comes after this, as does repair
)
"""A size of the site: what does not change from interval to interval."""

SWITCHES = _record(
    "on",  # loads connected
    "first",  # tier 1 connected
    "second",  # tier 2 connected
    "below_h",  # how long the voltage has been below the disconnect
    "locked",  # the battery went flat, so that the regulator stays dark
    "bus_v",  # bus voltage of the interval before
    "floating",  # absorption has ended
    "absorbed_h",  # how long it has been held
    "lit",  # the array gave something in the interval before
    "source_on",  # the source that follows the battery is running
    "source_test",  # and only to exercise
    "source_ran_h",  # since its start
    "source_rest_h",  # since its stop
    "source_fuel_wh",
    "source_order_h",  # since fuel was ordered, -1 when none is
    "source_down_h",  # since a start failed, -1 when it is sound
)
"""What an interval hands to the next."""

RESULT = _record(
    "removed_ah",  # at the end of the interval
    "bus_v",
    "battery_a",  # into the battery
    "array_a",  # used at the bus
    "offered_a",  # that the array could have given at that voltage
    "served",  # 1 served, 0 load off, -1 not even the base draw
    "cause",  # 0 none, 1 voltage, 2 state or empty, 3 load terminals
    "first",  # 1 where tier 1 was served
    "second",  # 1 where tier 2 was served
    "locked",  # 1 where the regulator was dark: the array gives nothing
    "steady_a",  # taken at the bus of sources that always burn the same
    "source_a",  # and of the one that follows the battery
    "source_h",  # run in the interval
    "source_fuel_wh",  # heat in the fuel burnt
    "source_stock_wh",  # and left
    "source_code",  # see G_*
)
"""What happened in an interval."""

# What the source that follows the battery did; a start adds 10.
G_OFF, G_RUNS, G_EXERCISE = 0.0, 1.0, 2.0
G_BLOCKED = 3.0  # wanted, and its fuel pressure, month or temperature forbids
G_NO_FUEL = 4.0  # wanted, and the store is empty
G_DOWN = 5.0  # wanted, and it waits for repair
G_FAILED = 6.0  # a start was tried and failed
G_STARTED = 11.0

UNLIMITED = 1e9
"""Limit where none is stated; finite, so that no share of it is undefined [A, W]."""
SPENT_WH = 1e-6
"""Fuel left below which a store counts as empty: dust of rounding is no fuel [Wh]."""
