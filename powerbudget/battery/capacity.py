"""How many ampere-hours a bank can give: by temperature, rate and health."""

from __future__ import annotations

from itertools import accumulate
from typing import Any

import numpy as np

from powerbudget.battery.chemistry import Curve

HOURS_PER_MONTH = 720.0


def temperature_frac(battery_degc: Any, cold: Curve) -> Any:
    """Return capacity over that at 25 degC, without credit above 25 degC [fraction].

    Parameters
    ----------
    battery_degc
        Battery temperature, scalar or array [degC].
    cold
        Capacity curve by temperature [fraction against degC].

    Returns
    -------
    float or array
        Between 0 and 1 [fraction].

    Notes
    -----
    Warm batteries hold a little more; IEEE 485 and IEEE 1013 practice takes no
    credit for it (from memory), and neither do we.

    Examples
    --------
    >>> from powerbudget.battery.chemistry import chemistries
    >>> cold = chemistries()["agm"].cold["conservative"]
    >>> float(temperature_frac(-20.0, cold)), float(temperature_frac(40.0, cold))
    (0.58, 1.0)
    """
    return np.minimum(cold.at(battery_degc), 1.0)


def rate_frac(discharge_h: float, rated_h: float, rate: Curve) -> float:
    """Return capacity at a discharge time over that at the rated time [fraction].

    Parameters
    ----------
    discharge_h
        Hours in which the load would empty the bank [h].
    rated_h
        Hour rate on the name-plate [h].
    rate
        Capacity by discharge time, relative to 20 h [ratio against h].

    Returns
    -------
    float
        At most 1: no credit is taken for discharging more slowly than the
        name-plate says [fraction].

    Notes
    -----
    Points are joined on the logarithm of time, never extrapolated.  One Peukert
    exponent would over-state a 100 h to 500 h discharge by up to 30 %.

    Examples
    --------
    >>> from powerbudget.battery.chemistry import chemistries
    >>> rate = chemistries()["agm"].rate
    >>> rate_frac(10.0, 20.0, rate), rate_frac(200.0, 20.0, rate)
    (0.93, 1.0)
    """
    logs = np.log(rate.x)
    at_load, at_rated = np.interp(np.log([discharge_h, rated_h]), logs, rate.y)
    return float(min(1.0, at_load / at_rated))


def self_discharge_per_h(battery_degc: Any, per_month_frac: float) -> Any:
    """Return the share of remaining charge lost in an hour [1/h].

    Parameters
    ----------
    battery_degc
        Battery temperature, scalar or array [degC].
    per_month_frac
        Share lost in 30 days at 20 degC [fraction].

    Returns
    -------
    float or array
        Doubles for every 10 K [1/h].

    References
    ----------
    Doubling per 10 K fits every 20 degC / 10 degC pair in a published solar
    battery handbook, section 2.5.9 (6 / 3, 12 / 6, 4 / 2, 3 / 1.5, 2 / 1 %).

    Examples
    --------
    >>> float(round(720 * self_discharge_per_h(10.0, 0.06), 4))
    0.03
    """
    doubling = 2.0 ** ((np.asarray(battery_degc, float) - 20.0) / 10.0)
    return per_month_frac / HOURS_PER_MONTH * doubling


def box_degc(
    air_degc: Any, step_h: float, time_constant_h: float, warmer_k: float
) -> Any:
    """Return battery temperature behind a first-order lag of air temperature [degC].

    Parameters
    ----------
    air_degc
        Air temperature by interval [degC].
    step_h
        Interval length [h].
    time_constant_h
        Heat capacity over conductance of the box; 0 follows the air [h].
    warmer_k
        Steady rise above the lagged air, from sun and equipment [K].

    Returns
    -------
    array
        One value for each interval, starting at the first day's mean [degC].

    Notes
    -----
    A lumped box: it removes day and night but not a cold week.  Sun gain by hour,
    buried vaults and heaters are not in it.

    Examples
    --------
    >>> box_degc([0.0, 0.0], 1.0, 0.0, 2.0).tolist()
    [2.0, 2.0]
    """
    air = np.asarray(air_degc, float)
    if time_constant_h <= 0:
        return air + warmer_k
    keep = float(np.exp(-step_h / time_constant_h))
    first = float(air[: max(1, round(24 / step_h))].mean())
    # scipy.signal would do the same, at half a second of import time for every run.
    lagged = accumulate(
        air.tolist(), lambda box, out: keep * box + (1 - keep) * out, initial=first
    )
    return np.fromiter(lagged, float, air.size + 1)[1:] + warmer_k
