"""Which column of the kernel's arrays holds what.

Apart from the kernel, so that modules which only lay data out need not load the
compiler.
"""

(
    H_ARRAY_W,  # maximum-power of one array string behind the regulator [W]
    H_LOAD_W,  # constant-power load at the bus [W]
    H_LOAD_A,  # constant-current load [A]
    H_LOAD_S,  # resistive load [S]
    H_CAPACITY,  # capacity over that at 25 degC [fraction]
    H_OPEN_SHIFT_V,  # added to the rest voltage [V]
    H_DISCHARGE_RATIO,  # on discharge resistance
    H_CHARGE_RATIO,  # on charge resistance
    H_REGULATION_V,  # regulation voltage of the bank [V]
    H_SELF_PER_H,  # self-discharge of the charge left [1/h]
    H_CHARGE_OK,  # 1 where charging is allowed
) = range(11)
HOURLY_COLUMNS = 11

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
    S_NODE_FIRST_V,  # first array voltage of the current table
    S_NODE_STEP_V,
    S_DROP_V,  # array to bus, direct connection only
) = range(13)
SCALARS = 13

# Result columns.
(
    R_REMOVED_AH,  # at the end of the interval
    R_BUS_V,
    R_BATTERY_A,  # into the battery
    R_ARRAY_A,  # used at the bus
    R_OFFERED_A,  # that the array could have given at that voltage
    R_SERVED,  # 1 served, 0 load off, -1 not even the base draw
    R_CAUSE,  # 0 none, 1 voltage, 2 state or empty
) = range(7)
RESULT_COLUMNS = 7
