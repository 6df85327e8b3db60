"""Which column of the kernel's arrays holds what.

Apart from the kernel, so that modules which only lay data out need not load the
compiler.
"""

(
    H_ARRAY_W,  # maximum-power of one array string behind the regulator [W]
    H_LOAD_W,  # constant-power load, on until the final disconnect [W]
    H_LOAD_A,  # constant-current load [A]
    H_LOAD_S,  # resistive load [S]
    H_FIRST_W,  # the same three of the loads that are shed first
    H_FIRST_A,
    H_FIRST_S,
    H_SECOND_W,  # and of those shed second
    H_SECOND_A,
    H_SECOND_S,
    H_BASE_W,  # battery heater: never disconnected, like the base draw [W]
    H_CAPACITY,  # capacity over that at 25 degC [fraction]
    H_OPEN_SHIFT_V,  # added to the rest voltage [V]
    H_DISCHARGE_RATIO,  # on discharge resistance
    H_CHARGE_RATIO,  # on charge resistance
    H_REGULATION_V,  # regulation voltage of the bank [V]
    H_SELF_PER_H,  # self-discharge of the charge left [1/h]
    H_CHARGE_SHARE,  # of the charge limit that temperature allows, 0 blocks [fraction]
    H_STEADY_W,  # sources that always burn the same, at the bus [W]
    H_SOURCE_W,  # the one that follows the battery, at the bus, were it running [W]
    H_SOURCE_OPEN,  # 1 where people can come: fuel, repair
    H_SOURCE_DRAW,  # a start succeeds below its probability [fraction]
) = range(22)
HOURLY_COLUMNS = 22

TIERS = (
    (H_LOAD_W, H_LOAD_A, H_LOAD_S),
    (H_FIRST_W, H_FIRST_A, H_FIRST_S),
    (H_SECOND_W, H_SECOND_A, H_SECOND_S),
)
"""Watts, amperes and siemens of each tier: 0 until the end, 1 first, 2 second."""

T_OPEN_V, T_EFFICIENCY, T_DISCHARGE, T_CHARGE = range(4)

(
    S_STEP_H,
    S_STRINGS,  # array strings in parallel
    S_RATED_AH,  # sets resistance and the charge limit
    S_CHARGE_AH,  # Ah that the bank holds at 25 degC at this load
    S_CHARGE_LIMIT_A,
    S_BASE_A,  # regulator and leakage: never disconnected
    S_TRIP_V,  # disconnect below this under load, 0 when by state
    S_RETURN_V,
    S_TRIP_STATE,  # disconnect below this state, -1 when by voltage
    S_RETURN_STATE,
    S_DELAY_H,  # how long the voltage must lie below before it acts
    S_FIRST_V,  # shed tier 1 below this under load, 0 when not by voltage
    S_FIRST_RETURN_V,
    S_FIRST_STATE,  # shed tier 1 below this state, -1 when not by state
    S_FIRST_RETURN_STATE,
    S_SECOND_V,  # the same for tier 2
    S_SECOND_RETURN_V,
    S_SECOND_STATE,
    S_SECOND_RETURN_STATE,
    S_RESTART_V,  # regulator is dark below this rest voltage, 0 when it never is
    S_NODE_FIRST_V,  # first array voltage of the current table
    S_NODE_STEP_V,
    S_DROP_V,  # array to bus, direct connection only
    S_SOURCE,  # 1 where a source follows the battery or the load
    S_SOURCE_START_V,  # starts below this bus voltage, 0 when by state
    S_SOURCE_START_STATE,  # starts below this state, -1 when by voltage
    S_SOURCE_STOP_V,  # stops from this voltage on, 0 when by state
    S_SOURCE_STOP_STATE,  # stops from this state on, -1 when by voltage
    S_SOURCE_MINIMUM_H,
    S_SOURCE_WARM_H,
    S_SOURCE_EXERCISE_EVERY_H,  # infinite without exercise
    S_SOURCE_EXERCISE_H,
    S_SOURCE_START_FRAC,  # probability of a start right after a run
    S_SOURCE_FAULTS_PER_H,  # that grow while it stands
    S_SOURCE_IDLE_W,  # heat in the fuel without load
    S_SOURCE_SLOPE,  # further heat for each watt at the bus
    S_SOURCE_TANK_WH,  # usable fuel of a full store, infinite by pipe
    S_SOURCE_ORDER_WH,  # fuel is ordered below this
    S_SOURCE_DELAY_H,  # and comes after this, as does repair
) = range(39)
SCALARS = 39

# Switches that an interval hands to the next.
(
    M_ON,  # loads connected
    M_FIRST,  # tier 1 connected
    M_SECOND,  # tier 2 connected
    M_BELOW_H,  # how long the voltage has been below the disconnect
    M_LOCKED,  # the battery went flat, so that the regulator stays dark
    M_BUS_V,  # bus voltage of the interval before
    M_SOURCE_ON,  # the source that follows the battery is running
    M_SOURCE_TEST,  # and only to exercise
    M_SOURCE_RAN_H,  # since its start
    M_SOURCE_REST_H,  # since its stop
    M_SOURCE_FUEL_WH,
    M_SOURCE_ORDER_H,  # since fuel was ordered, -1 when none is
    M_SOURCE_DOWN_H,  # since a start failed, -1 when it is sound
) = range(13)
SWITCHES = 13

# Result columns.
(
    R_REMOVED_AH,  # at the end of the interval
    R_BUS_V,
    R_BATTERY_A,  # into the battery
    R_ARRAY_A,  # used at the bus
    R_OFFERED_A,  # that the array could have given at that voltage
    R_SERVED,  # 1 served, 0 load off, -1 not even the base draw
    R_CAUSE,  # 0 none, 1 voltage, 2 state or empty
    R_FIRST,  # 1 where tier 1 was served
    R_SECOND,  # 1 where tier 2 was served
    R_LOCKED,  # 1 where the regulator was dark: the array gives nothing
    R_STEADY_A,  # taken at the bus of sources that always burn the same
    R_SOURCE_A,  # and of the one that follows the battery
    R_SOURCE_H,  # run in the interval
    R_SOURCE_FUEL_WH,  # heat in the fuel burnt
    R_SOURCE_STOCK_WH,  # and left
    R_SOURCE_CODE,  # see G_*
) = range(16)
RESULT_COLUMNS = 16

# What the source that follows the battery did; a start adds 10.
G_OFF, G_RUNS, G_EXERCISE = 0.0, 1.0, 2.0
G_BLOCKED = 3.0  # wanted, and its fuel pressure, month or temperature forbids
G_NO_FUEL = 4.0  # wanted, and the store is empty
G_DOWN = 5.0  # wanted, and it waits for repair
G_FAILED = 6.0  # a start was tried and failed
G_STARTED = 11.0

SPENT_WH = 1e-6
"""Fuel left below which a store counts as empty: dust of rounding is no fuel [Wh]."""
