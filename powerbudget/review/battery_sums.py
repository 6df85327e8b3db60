"""Plain sums behind a battery claim: hours on a charge, and the load it assumes."""

from __future__ import annotations

from typing import Any

from powerbudget.battery.capacity import temperature_frac
from powerbudget.battery.chemistry import chemistries
from powerbudget.quantities import show

WARM_DEGC = 25.0
CURVES = ("conservative", "slow-rate")
"""Cold curves that every chemistry has."""
DEPTHS = (1.0, 0.8, 0.5)
"""Shares of the charge that a claim without one may mean [fraction]."""


def days_on(
    capacity_ah: Any, volts: Any, load_w: Any, depth_frac: Any = 1.0, held: Any = 1.0
) -> Any:
    """Return days on a charge by plain division [d].

    ``days = Ah * V * depth * held / W / 24``

    Parameters
    ----------
    capacity_ah, volts
        Rated charge and the voltage at which it is counted [Ah, V].
    load_w
        Mean load [W].
    depth_frac
        Share of the charge that is used [fraction].
    held
        Share of the rated capacity that temperature and rate leave [fraction].

    Returns
    -------
    float or array
        No charge on the way [d].

    Notes
    -----
    Nominal volts; no losses in converters or wires, no self-discharge.

    Examples
    --------
    >>> days_on(180.0, 12.0, 22.5)
    4.0
    """
    return capacity_ah * volts * depth_frac * held / load_w / 24


def load_for_days(
    capacity_ah: Any, volts: Any, days: Any, depth_frac: Any = 1.0, held: Any = 1.0
) -> Any:
    """Return the mean load that empties a battery in so many days [W].

    ``W = Ah * V * depth * held / days / 24``

    Parameters
    ----------
    capacity_ah, volts
        Rated charge and the voltage at which it is counted [Ah, V].
    days
        Days without charge [d].
    depth_frac
        Share of the charge that is used [fraction].
    held
        Share of the rated capacity that temperature and rate leave [fraction].

    Returns
    -------
    float or array
        Mean load [W].

    Examples
    --------
    >>> load_for_days(180.0, 12.0, 4.0), load_for_days(180.0, 12.0, 4.0, 0.5)
    (22.5, 11.25)
    """
    return capacity_ah * volts * depth_frac * held / days / 24


def needed_ah(
    wh_per_day: Any, days: Any, volts: Any, depth_frac: Any = 1.0, factor: Any = 1.0
) -> Any:
    """Return the rated charge for some days by plain division [Ah].

    ``Ah = Wh/day * days / depth * factor / V``

    Parameters
    ----------
    wh_per_day
        Daily energy [Wh].
    days
        Days without charge [d].
    volts
        Voltage at which the charge is counted [V].
    depth_frac
        Share of the charge that may be used [fraction].
    factor
        Cold and other factors above 1, multiplied [ratio].

    Returns
    -------
    float or array
        Rated charge [Ah].

    References
    ----------
    A published worked sum: 1,000 Wh/day, 2.5 days, half the charge, 4.4 degC, 12 V.

    Examples
    --------
    >>> round(needed_ah(1000.0, 2.5, 12.0, 0.5, 1.30), 1)
    541.7
    """
    return wh_per_day * days / depth_frac * factor / volts


def held_frac(chemistry: str, curve: str, degc: float) -> float:
    """Return the share of the rated capacity that a temperature leaves [fraction].

    Parameters
    ----------
    chemistry, curve
        Names of the chemistry and of its cold curve [text].
    degc
        Battery temperature [degC].

    Returns
    -------
    float
        At most 1 [fraction].

    Examples
    --------
    >>> held_frac("agm", "conservative", -20.0)
    0.58
    """
    return float(temperature_frac(degc, chemistries()[chemistry].cold[curve]))


def rated_elsewhere_ah(
    capacity_ah: float, rated_h: float, wanted_h: float, chemistry: str
) -> float:
    """Return a capacity at another hour rate [Ah].

    Parameters
    ----------
    capacity_ah, rated_h
        Printed capacity and its hour rate [Ah, h].
    wanted_h
        Hour rate asked for [h].
    chemistry
        Name of the chemistry whose rate curve is used [text].

    Returns
    -------
    float
        More for slower rates than the printed one too: this compares ratings, it
        grants no credit [Ah].

    Examples
    --------
    >>> round(rated_elsewhere_ah(110.0, 100.0, 20.0, "flooded"), 1)
    98.9
    """
    import numpy as np

    rate = chemistries()[chemistry].rate
    logs = np.log(rate.x)
    at, there = np.interp(np.log([rated_h, wanted_h]), logs, rate.y)
    return float(capacity_ah * there / at)


def assumed_text(
    capacity_ah: float,
    volts: float,
    days: float,
    held: dict[str, float],
    depths: tuple[float, ...] = DEPTHS,
) -> str:
    """Return the loads that days on a battery assume, a group for each temperature.

    Parameters
    ----------
    capacity_ah, volts
        Rated charge and the voltage at which it is counted [Ah, V].
    days
        Days without charge [d].
    held
        Name of a temperature to the share of capacity it leaves [fraction].
    depths
        Shares of the charge that are used [fraction].

    Returns
    -------
    str
        Mean loads by depth [text].

    Examples
    --------
    >>> assumed_text(180.0, 12.0, 4.0, {"25 degC": 1.0})
    '22.5, 18.0 or 11.2 W at DOD 100, 80 or 50 % and 25 degC'
    """
    shares = _either([f"{100 * depth:.0f}" for depth in depths])
    groups = []
    for name, share in held.items():
        loads = [load_for_days(capacity_ah, volts, days, d, share) for d in depths]
        watts = _either([show(float(load), "") for load in loads])
        groups.append(f"{watts} W at DOD {shares} % and {name}")
    return "; and ".join(groups)


def plain_held(chemistry: str | None, degc: float | None) -> dict[str, float]:
    """Return shares of capacity for a claim without a site, by temperature.

    Parameters
    ----------
    chemistry
        Name, or None for absorbed glass mat [text].
    degc
        Temperature of the claim, None where not stated [degC].

    Returns
    -------
    dict
        Words to share [fraction].
    """
    held, cold = {"25 °C": 1.0}, -20.0 if degc is None else degc
    if cold < WARM_DEGC:
        for curve in CURVES:
            share = held_frac(chemistry or "agm", curve, cold)
            held[f"{cold:g} °C ({curve} curve)"] = share
    return held


def slow_rate_holds(hour_rate_h: float | None) -> list[str]:
    """Return that a slow rating holds its gain already, none for a fast one [text]."""
    if hour_rate_h is None or hour_rate_h < 50:
        return []
    gain = "includes the gain of a slow discharge"
    return [f"rated at {hour_rate_h:g} h {gain}: no further credit"]


def _either(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"
