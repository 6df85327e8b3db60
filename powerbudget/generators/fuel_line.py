"""Fuel from watts: burners that do not follow the load, engines along a line."""

from __future__ import annotations

from typing import Any

SECONDS_PER_DAY = 86_400.0
BTU_PER_H_W = 1055.05585262 / 3600.0
"""One Btu an hour (International Table) in watts."""


def fuel_w(
    output_w: Any, rated_w: float, full_fuel_w: float, no_load_frac: float
) -> Any:
    """Return heat in the fuel burnt at an output, along a straight line [W].

    Parameters
    ----------
    output_w
        Electric output [W].
    rated_w
        Electric output at which ``full_fuel_w`` is burnt [W].
    full_fuel_w
        Heat in the fuel at rated output, higher heating value [W].
    no_load_frac
        Share of it burnt without load; 1 for a burner that does not follow [fraction].

    Returns
    -------
    array or float
        Heat in the fuel, higher heating value [W].

    References
    ----------
    Manual of a 25 kW engine set, page 21, natural gas: 136,200, 252,200 and 368,100
    Btu/h without load, at half and at full load.

    Examples
    --------
    >>> full, none = 368_100 * BTU_PER_H_W, 136_200 / 368_100
    >>> round(fuel_w(12_500, 25_000, full, none) / BTU_PER_H_W)
    252150
    """
    slope = fuel_slope(rated_w, full_fuel_w, no_load_frac)
    return no_load_frac * full_fuel_w + slope * output_w


def fuel_slope(rated_w: float, full_fuel_w: float, no_load_frac: float) -> float:
    """Return the further heat for each watt of output, along that line [ratio].

    Parameters
    ----------
    rated_w, full_fuel_w, no_load_frac
        As in `fuel_w` [W, W, fraction].

    Returns
    -------
    float
        Watts of heat by the watt of output [ratio].

    References
    ----------
    Straight fuel line (Willans line) of engines.

    Examples
    --------
    >>> round(fuel_slope(8000.0, 8000.0 / 0.21, 0.30), 3)
    3.333
    """
    return (1.0 - no_load_frac) * full_fuel_w / rated_w


def full_fuel_w(rated_w: float, efficiency_frac: float) -> float:
    """Return heat in the fuel at rated output [W].

    Parameters
    ----------
    rated_w
        Electric output [W].
    efficiency_frac
        Electricity over higher heating value [fraction].

    Returns
    -------
    float
        Heat in the fuel [W].

    References
    ----------
    Definition of efficiency.

    Examples
    --------
    >>> round(full_fuel_w(54.0, 0.03))
    1800
    """
    return rated_w / efficiency_frac


def litres_per_day(heat_w: Any, heat_mj_per_l: float) -> Any:
    """Return the volume of fuel burnt a day [L/day].

    Parameters
    ----------
    heat_w
        Heat in the fuel burnt [W].
    heat_mj_per_l
        Higher heating value [MJ/L].

    Returns
    -------
    array or float
        Volume; of gas at the conditions of its heating value [L/day].

    References
    ----------
    Energy over heating value, 86,400 s a day.

    Examples
    --------
    >>> round(litres_per_day(full_fuel_w(54.0, 0.03), 25.363), 2)
    6.13
    >>> round(litres_per_day(full_fuel_w(54.0, 0.03), 0.03823) / 1000, 2)
    4.07
    """
    return heat_w * SECONDS_PER_DAY / (1e6 * heat_mj_per_l)
