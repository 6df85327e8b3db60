"""Between panel and bus: MPPT and PWM, voltage classes, how the panel stands."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

from powerbudget.errors import Finding
from powerbudget.quantities import in_unit

if TYPE_CHECKING:
    from powerbudget.array.module import Module

FloatArray = npt.NDArray[np.float64]

NODES = 9
WINDOW_STEP_V = 0.05
"""Apart enough to tell whether power rises or falls at the window's edge [V]."""
CLEAR_FRAC = 0.75
"""Share of the hot maximum-power voltage that low light leaves (assumed)."""
LOWEST_NODE_FRAC, HIGHEST_NODE_FRAC = 0.75, 1.35
CHARGING_FRAC = 1.2
"""Absorption over nominal voltage, 14.4 V on 12 V; common practice, no source."""
HOT_CELL_DEGC = 60.0
"""Cell on a hot still noon; common practice, no source."""
WASTEFUL_FRAC, MISMATCHED_FRAC = 1.65, 2.0
"""Panel over bus volts at which a PWM regulator wastes much, and most (assumed)."""
COMPASS = (
    "north",
    "north-east",
    "east",
    "south-east",
    "south",
    "south-west",
    "west",
    "north-west",
)


def mppt_power_w(p_mp_w: FloatArray, efficiency_frac: float) -> FloatArray:
    """Return what a maximum-power-point regulator passes to the bus [W].

    Parameters
    ----------
    p_mp_w
        Power of the array at its maximum-power point [W].
    efficiency_frac
        Of conversion, tracking included where it is not stated by itself [frac].

    Returns
    -------
    array
        Power on the bus side [W].

    Notes
    -----
    This is the one place where the regulator's efficiency is applied.

    Examples
    --------
    >>> float(mppt_power_w(np.array([100.0]), 0.96)[0])
    96.0
    """
    return p_mp_w * efficiency_frac


def window_nodes_v(
    battery_v: float | FloatArray, run_v: float, wake_v: float | FloatArray
) -> FloatArray:
    """Return the string voltages at which a step-down tracker's window is read [V].

    Parameters
    ----------
    battery_v
        Battery terminals while charging, one or several [V].
    run_v
        Headroom above them that it needs to go on [V].
    wake_v
        String voltage at which it wakes up, of each [V].

    Returns
    -------
    array
        Lowest working voltage, a little above it, and the wake-up voltage, a row for
        each battery voltage [V].

    Examples
    --------
    >>> window_nodes_v(13.4, 1.0, 18.4).round(2).tolist()
    [14.4, 14.45, 18.4]
    """
    least = np.asarray(battery_v) + run_v
    return np.stack([least, least + WINDOW_STEP_V, np.maximum(wake_v, least)], axis=-1)


def window_power_w(
    p_mp_w: FloatArray, v_nodes_v: FloatArray, i_string_a: FloatArray
) -> FloatArray:
    """Return what a string gives into the input window of a step-down tracker [W].

    Parameters
    ----------
    p_mp_w
        Its power at the maximum-power point [W].
    v_nodes_v
        From `window_nodes_v` [V].
    i_string_a
        Its current at those voltages, one row an interval [A].

    Returns
    -------
    array
        Maximum power where its voltage lies in the window, what is left at the
        window's edge where it lies below, nothing while the tracker sleeps [W].

    Notes
    -----
    Asleep from an interval in which the string cannot reach the window's edge until
    one in which its open-circuit voltage reaches the wake-up voltage.
    """
    edge_w = v_nodes_v[:2] * i_string_a[:, :2]
    falling = edge_w[:, 1] < edge_w[:, 0]
    power = np.where(falling | (i_string_a[:, 0] <= 0), edge_w[:, 0], p_mp_w)
    mark = np.where(i_string_a[:, 2] > 0, 1, -1)
    mark[i_string_a[:, 0] <= 0] = 0
    mark[0] = max(mark[0], 0)
    last = np.maximum.accumulate(np.where(mark >= 0, np.arange(mark.size), 0))
    awake: FloatArray = np.where(mark[last] == 1, power, 0.0)
    return awake


def pwm_nodes_v(nominal_v: float, drop_v: float) -> FloatArray:
    """Return string voltages that span what a bus of this class can have [V].

    Parameters
    ----------
    nominal_v
        Nominal bus voltage [V].
    drop_v
        Across regulator and blocking element, added to the bus voltage [V].

    Returns
    -------
    array
        Nine evenly spaced voltages, 0.75 to 1.35 of nominal plus the drop [V].

    Examples
    --------
    >>> nodes = pwm_nodes_v(12.0, 0.3)
    >>> round(float(nodes[0]), 1), round(float(nodes[-1]), 1)
    (9.3, 16.5)
    """
    share = np.linspace(LOWEST_NODE_FRAC, HIGHEST_NODE_FRAC, NODES)
    return share * nominal_v + drop_v


def pwm_string_current_a(
    bus_v: FloatArray, *, drop_v: float, v_nodes_v: FloatArray, i_string_a: FloatArray
) -> FloatArray:
    """Return the current of a string that a PWM regulator ties to the bus [A].

    Parameters
    ----------
    bus_v
        Bus voltage in each interval [V].
    drop_v
        Across regulator and blocking element [V].
    v_nodes_v
        String voltages, evenly spaced [V].
    i_string_a
        Current at those voltages, one row an interval [A].

    Returns
    -------
    array
        Current into the bus, held at the end nodes outside their span [A].

    Notes
    -----
    Straight lines between nodes lie under a curve that bends down, so the result
    is on the low side at the knee.

    Examples
    --------
    >>> nodes, rows = np.array([10.0, 12.0, 14.0]), np.array([[5.0, 4.8, 4.0]])
    >>> round(float(pwm_string_current_a(
    ...     np.array([12.7]), drop_v=0.3, v_nodes_v=nodes, i_string_a=rows)[0]), 3)
    4.4
    """
    step = (v_nodes_v[-1] - v_nodes_v[0]) / (v_nodes_v.size - 1)
    place = (np.asarray(bus_v) + drop_v - v_nodes_v[0]) / step
    place = np.clip(place, 0.0, v_nodes_v.size - 1.0)
    left = np.minimum(place.astype(int), v_nodes_v.size - 2)
    row = np.arange(i_string_a.shape[0])
    below, above = i_string_a[row, left], i_string_a[row, left + 1]
    current: FloatArray = below + (above - below) * (place - left)
    return current


def open_circuit_cold_v(module: Module, series: int, temp_degc: float) -> float:
    """Return the open-circuit voltage of a string at a cell temperature [V].

    Parameters
    ----------
    module
        Its own coefficient is used [-].
    series
        Modules in the string [-].
    temp_degc
        Cell temperature, the record low for the regulator's limit [degC].

    Returns
    -------
    float
        Voltage at 1000 W/m2 [V].

    Notes
    -----
    At sunrise the cells are as cold as the air and the light already gives nearly
    full voltage.  Straight line, as codes ask when the coefficient is known.
    """
    warmer_k = temp_degc - 25.0
    return series * module.open_circuit_v * (1 + module.open_circuit_per_k * warmer_k)


def voltage_class_findings(
    module: Module, series: int, nominal_v: float, kind: Literal["mppt", "pwm"]
) -> list[Finding]:
    """Return what is wrong between the string's voltage and the bus.

    Parameters
    ----------
    module
        The module [-].
    series
        Modules in the string [-].
    nominal_v
        Nominal bus voltage [V].
    kind
        Kind of regulator [text].

    Returns
    -------
    list
        Empty when they go together [-].
    """
    string_v = series * module.max_power_v
    # The maximum-power voltage falls by about as many volts as the open-circuit one.
    slope_v = module.open_circuit_v * module.open_circuit_per_k
    hot_v = string_v + series * slope_v * (HOT_CELL_DEGC - 25.0)
    charging_v = CHARGING_FRAC * nominal_v
    if hot_v < charging_v:
        return [_too_low(string_v, hot_v, charging_v, nominal_v)]
    if kind == "pwm" and string_v > WASTEFUL_FRAC * nominal_v:
        return [_too_high(string_v, nominal_v)]
    return []


def _too_low(
    string_v: float, hot_v: float, charging_v: float, nominal_v: float
) -> Finding:
    never = string_v < charging_v
    return Finding(
        "serious" if never else "warning",
        f"String Vmp is {in_unit(string_v, 'V', 1)}, {in_unit(hot_v, 'V', 1)} with cells at "
        f"{in_unit(HOT_CELL_DEGC, '°C')}. A {nominal_v:g} V battery charges at about "
        f"{in_unit(charging_v, 'V', 1)} and will "
        f"{'not be fully charged' if never else 'charge poorly at high temperature'}. "
        "Use more modules in series, or a module of a higher voltage class.",
    )


def _too_high(string_v: float, nominal_v: float) -> Finding:
    used = 1.1 * nominal_v / string_v
    return Finding(
        "serious" if string_v > MISMATCHED_FRAC * nominal_v else "warning",
        "A PWM controller holds the string at battery voltage: about "
        f"{in_unit(1.1 * nominal_v, 'V', 1)} of {in_unit(string_v, 'V', 1)} are used, so about "
        f"{in_unit(100 * (1 - used), '%')} of the rated power is lost. Use modules made for "
        f"{nominal_v:g} V or an MPPT controller.",
    )


def orientation_findings(
    latitude_deg: float, tilt_deg: float, azimuth_deg: float
) -> list[Finding]:
    """Return what a careful colleague would say about how the panel stands.

    Parameters
    ----------
    latitude_deg
        North positive [deg].
    tilt_deg
        From horizontal [deg].
    azimuth_deg
        Where it faces, clockwise from north [deg].

    Returns
    -------
    list
        Facing the pole, far from the equator side, or flat enough to hold snow
        and dirt; empty when nothing stands out [-].

    Notes
    -----
    The commonest slip is another convention, 0 for south: at 58.5 N and 60 deg it
    leaves 1 to 2 % of a clear December day, of a June day at 40 N and 20 deg over 90 %,
    so that a summer test does not show it.
    """
    found = []
    if tilt_deg >= 10.0 and abs(latitude_deg) > 15.0:
        found += _facing(latitude_deg, tilt_deg, azimuth_deg)
    if tilt_deg < 30.0 and abs(latitude_deg) > 35.0:
        found.append(
            Finding(
                "note",
                f"Modules at {tilt_deg:g}° tilt collect snow; [array.snow] has the "
                "assumption. Above 45° snow slides off.",
            )
        )
    elif tilt_deg < 10.0:
        found.append(
            Finding("note", f"Modules at {tilt_deg:g}° tilt hold water and soiling.")
        )
    return found


def _facing(latitude_deg: float, tilt_deg: float, azimuth_deg: float) -> list[Finding]:
    side, equator = ("south", 180.0) if latitude_deg > 0 else ("north", 0.0)
    away = abs((azimuth_deg - equator + 180.0) % 360.0 - 180.0)
    if away <= 45.0:
        return []
    where = describe_orientation(tilt_deg, azimuth_deg)
    if away > 90.0:
        return [
            Finding(
                "serious",
                f"The array is turned away from the equator: {where}, latitude "
                f"{latitude_deg:g}°. Azimuth counts clockwise from north; {side} is "
                f"{equator:g}°.",
            )
        ]
    return [
        Finding("note", f"Array azimuth is {in_unit(away, '°')} from {side}: {where}.")
    ]


def describe_orientation(tilt_deg: float, azimuth_deg: float) -> str:
    """Return in words how a panel stands.

    Parameters
    ----------
    tilt_deg
        From horizontal [deg].
    azimuth_deg
        Where it faces, clockwise from north [deg].

    Returns
    -------
    str
        Tilt and compass direction [text].

    Examples
    --------
    >>> describe_orientation(60.0, 180.0)
    '60° tilt, azimuth 180° (south)'
    >>> describe_orientation(45.0, 170.0)
    '45° tilt, azimuth 170° (about south)'
    >>> describe_orientation(0.0, 180.0)
    'flat'
    """
    if tilt_deg == 0:
        return "flat"
    nearest = round(azimuth_deg / 45.0)
    about = "" if azimuth_deg == nearest * 45.0 else "about "
    word = COMPASS[nearest % 8]
    return f"{tilt_deg:g}° tilt, azimuth {azimuth_deg:g}° ({about}{word})"
