"""How many ampere-hours a bank can give: by temperature, rate and health."""

from __future__ import annotations

from typing import Any

import numpy as np

from powerbudget.battery.chemistry import Curve
from powerbudget.errors import ModelRangeError
from powerbudget.quantities import in_unit

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
    credit for it (unverified), and neither do we.

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


def two_rate_ah(
    discharge_h: float, fast: tuple[float, float], slow: tuple[float, float]
) -> float:
    """Return capacity between two published ratings [Ah].

    Parameters
    ----------
    discharge_h
        Hours in which the load would empty the bank [h].
    fast, slow
        Hour rate and capacity of each rating [h, Ah].

    Returns
    -------
    float
        Joined on the logarithm of time; no more than the slow rating however slow
        the load, and the fast one for anything faster [Ah].

    Examples
    --------
    >>> [round(two_rate_ah(h, (20, 100), (100, 110)), 1) for h in (20, 45, 100, 500)]
    [100.0, 105.0, 110.0, 110.0]
    """
    logs = np.log([fast[0], slow[0]])
    return float(np.interp(np.log(discharge_h), logs, [fast[1], slow[1]]))


IEEE_485 = (
    (25, 1.520), (30, 1.430), (35, 1.350), (40, 1.300), (45, 1.250), (50, 1.190),
    (55, 1.150), (60, 1.110), (65, 1.080), (66, 1.072), (67, 1.064), (68, 1.056),
    (69, 1.048), (70, 1.040), (71, 1.034), (72, 1.029), (73, 1.023), (74, 1.017),
    (75, 1.011), (76, 1.006), (77, 1.000), (78, 0.994), (79, 0.987), (80, 0.980),
    (85, 0.960), (90, 0.940), (95, 0.930), (100, 0.910), (105, 0.890), (110, 0.880),
    (115, 0.870), (120, 0.860),
)  # fmt: skip
"""Battery degF and cell-size factor; the three rows below 40 degF unverified."""


def ieee_485_factor(battery_degc: float) -> float:
    """Return the cell-size correction factor for temperature [ratio].

    Parameters
    ----------
    battery_degc
        Lowest expected electrolyte temperature [degC].

    Returns
    -------
    float
        Rated capacity needed over that at 25 degC [ratio].

    Raises
    ------
    ModelRangeError
        Outside -3.9 to 48.9 degC: the table ends there and is not to be extended.

    Notes
    -----
    Meant for vented cells of 1.215 density and discharges of minutes to about 8 h,
    so it asks for more than a discharge over days needs (unverified).

    References
    ----------
    IEEE Std 485, table 1, as printed in public test-room code and in K. Webb, Oregon
    State University, ESE 471 section 6, slide 12.

    Examples
    --------
    >>> [round(ieee_485_factor(t), 3) for t in (10.0, 25.0)]
    [1.19, 1.0]
    """
    degf, factor = zip(*IEEE_485, strict=True)
    degc = [(t - 32.0) / 1.8 for t in degf]
    if not degc[0] <= battery_degc <= degc[-1]:
        raise ModelRangeError(
            f"IEEE 485 has no factor at {battery_degc:g} °C; its table covers "
            f"{degc[0]:.1f} to {in_unit(degc[-1], '°C', 1)}: use a temperature derating curve "
            "instead"
        )
    return float(np.interp(battery_degc, degc, factor))
