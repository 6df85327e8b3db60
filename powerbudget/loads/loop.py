"""Current loops: power at the loop supply, voltages and burden of 4-20 mA circuits.

The whole loop supply voltage counts as load.  What the transmitter does not use
heats the input resistor and the cable.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from powerbudget.errors import ModelRangeError

Value = TypeVar("Value", float, NDArray[np.float64])

FAULT_LOW_A = 0.0036
"""Below this a transmitter reports a fault (NAMUR NE 43) [A]."""
SIGNAL_LOW_A = 0.0038
"""Lowest valid measuring signal, saturation included (NAMUR NE 43) [A]."""
LIVE_ZERO_A = 0.004
"""Signal at the lower end of the range [A]."""
MEAN_A = 0.012
"""Mid-range signal, for energy (common practice, no source) [A]."""
FULL_SCALE_A = 0.020
"""Signal at the upper end of the range [A]."""
SIGNAL_HIGH_A = 0.0205
"""Highest valid measuring signal, saturation included (NAMUR NE 43) [A]."""
FAULT_HIGH_A = 0.021
"""Above this a transmitter reports a fault (NAMUR NE 43); for the maximum [A]."""
HART_OHM = 250.0
"""Least loop resistance that designers keep for HART [ohm]."""
HART_LEAST_OHM = 230.0
"""Least loop impedance in descriptions of the HART protocol [ohm]."""


def loop_supply_w(supply_v: float, current_a: Value) -> Value:
    """Return the power that one loop takes from its supply [W].

    ``P = V_supply * I``

    Parameters
    ----------
    supply_v
        Voltage of the loop supply, not of the transmitter's terminals [V].
    current_a
        Loop current [A].

    Returns
    -------
    float or array
        Power at the loop supply, before any converter [W].

    References
    ----------
    Ohm's law; signal range NAMUR NE 43.

    Examples
    --------
    >>> round(loop_supply_w(24.0, 0.012), 3)
    0.288
    """
    return supply_v * current_a


def burden_max_ohm(supply_v: Value, minimum_v: float, maximum_a: float) -> Value:
    """Return the highest resistance a loop may have outside its transmitter [ohm].

    ``R = (V_supply - V_minimum) / I_maximum``

    Parameters
    ----------
    supply_v
        Voltage of the loop supply at its lowest [V].
    minimum_v
        Least voltage at the transmitter's terminals [V].
    maximum_a
        Highest loop current, the fault current included [A].

    Returns
    -------
    float or array
        Cable (both wires), input resistor, barrier and surge device together;
        negative where the supply alone is too low [ohm].

    References
    ----------
    Pressure-transmitter reference manual, November 2012, Appendix A p. 110
    (10.5 V and 43.5 ohm/V, that is 23 mA).

    Examples
    --------
    >>> round(burden_max_ohm(24.0, 10.5, 0.023))
    587
    """
    return (supply_v - minimum_v) / maximum_a


def minimum_supply_v(minimum_v: float, maximum_a: float, loop_ohm: Value) -> Value:
    """Return the lowest loop supply that still feeds the transmitter [V].

    ``V = V_minimum + I_maximum * R``

    Parameters
    ----------
    minimum_v
        Least voltage at the transmitter's terminals [V].
    maximum_a
        Highest loop current, the fault current included [A].
    loop_ohm
        Everything in the loop outside the transmitter [ohm].

    Returns
    -------
    float or array
        Loop supply voltage needed [V].

    References
    ----------
    As `burden_max_ohm`, solved for the supply.

    Examples
    --------
    >>> minimum_supply_v(10.5, 0.023, 250.0)
    16.25
    """
    return minimum_v + maximum_a * loop_ohm


def terminal_v(supply_v: Value, current_a: float, loop_ohm: float) -> Value:
    """Return the voltage left at the transmitter's terminals [V].

    ``V = V_supply - I * R``

    Parameters
    ----------
    supply_v
        Voltage of the loop supply [V].
    current_a
        Loop current [A].
    loop_ohm
        Everything in the loop outside the transmitter [ohm].

    Returns
    -------
    float or array
        Voltage at the terminals; compare with their minimum at the highest current
        and lowest supply, where a loop clips first [V].

    References
    ----------
    Ohm's law.

    Examples
    --------
    >>> terminal_v(16.0, 0.020, 100.0)
    14.0
    """
    return supply_v - current_a * loop_ohm


def sampled_duty_frac(interval_s: float, warm_up_s: float, sample_s: float) -> float:
    """Return the share of time a sensor that is switched for each sample is on [-].

    ``duty = (warm_up + sample) / interval``

    Parameters
    ----------
    interval_s
        Time from one sample to the next [s].
    warm_up_s
        Time from switching on until the reading holds [s].
    sample_s
        Time that the reading takes after that [s].

    Returns
    -------
    float
        Duty from 0 to 1 [-].

    Raises
    ------
    ModelRangeError
        When a time is negative or the two are longer than the interval.

    References
    ----------
    Ratio of times; warm-up of 1 to 10 s is typical, unverified.

    Examples
    --------
    >>> round(20.0 * sampled_duty_frac(60.0, 0.300, 0.027), 3)
    0.109
    """
    on_s = warm_up_s + sample_s
    if not (min(warm_up_s, sample_s) >= 0 and interval_s > 0 and on_s <= interval_s):
        raise ModelRangeError(
            f"switched sensor: given warm-up {warm_up_s:g} s and sample {sample_s:g} s "
            f"every {interval_s:g} s; allowed: together no longer than the interval; "
            "sample less often or leave the sensor on (duty 1)"
        )
    return on_s / interval_s
