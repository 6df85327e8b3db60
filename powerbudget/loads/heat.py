"""Heaters that follow the air: box heat loss and thermostat, hour by hour."""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from powerbudget.errors import ModelRangeError

Value = TypeVar("Value", float, NDArray[np.float64])

FOAM_W_PER_M_K = 0.035
"""Heat conductivity of foam insulation, unverified [W/(m K)]."""
SURFACES_M2_K_PER_W = 0.17
"""Resistance of inner and outer surface together, unverified [m2 K/W]."""


def box_loss_w_per_k(area_m2: float, insulation_m: float) -> float:
    """Return the heat that a box loses for each kelvin above the air [W/K].

    ``U A = A / (d / k + R_surfaces)``

    Parameters
    ----------
    area_m2
        Outer area of all six sides [m2].
    insulation_m
        Thickness of the foam [m].

    Returns
    -------
    float
        Heat loss [W/K].

    Raises
    ------
    ModelRangeError
        When area or thickness is not above zero.

    Notes
    -----
    Cable entries, feet and doors leak more; twice the figure is not rare (common
    practice, no source).

    References
    ----------
    Steady conduction through a flat wall; conductivity and surfaces unverified.

    Examples
    --------
    >>> round(box_loss_w_per_k(1.5, 0.05), 2)
    0.94
    """
    if not (area_m2 > 0 and insulation_m > 0):
        raise ModelRangeError(
            f"box: given {area_m2:g} m2 and {insulation_m:g} m of insulation; allowed: "
            "both above 0; measure the outside of the box"
        )
    return area_m2 / (insulation_m / FOAM_W_PER_M_K + SURFACES_M2_K_PER_W)


def heater_w(
    air_degc: Value,
    *,
    thermostat_degc: float,
    loss_w_per_k: float,
    rated_w: float,
    inside_w: float = 0.0,
) -> Value:
    """Return the mean power of a thermostat heater [W].

    ``P = min(P_rated, max(0, U A (T_set - T_air) - P_inside))``

    Parameters
    ----------
    air_degc
        Air temperature outside the box [degC].
    thermostat_degc
        Temperature that the thermostat keeps [degC].
    loss_w_per_k
        Heat loss of the box [W/K].
    rated_w
        Power while the heater is on [W].
    inside_w
        Heat that other equipment in the box gives off [W].

    Returns
    -------
    float or array
        Mean over the cycling of the thermostat [W].

    Notes
    -----
    The box is taken as steady within the interval: its heat store is left out,
    which shifts the draw by hours but keeps its sum.  Where the rating is reached
    the box grows colder than the thermostat asks.

    References
    ----------
    Heat balance of a box; no source needed.

    Examples
    --------
    >>> heater_w(-20.0, thermostat_degc=5.0, loss_w_per_k=1.0, rated_w=50.0)
    25.0
    >>> heater_w(10.0, thermostat_degc=5.0, loss_w_per_k=1.0, rated_w=50.0)
    0.0
    """
    needed = loss_w_per_k * (thermostat_degc - air_degc) - inside_w
    if isinstance(needed, np.ndarray):
        return np.clip(needed, 0.0, rated_w)
    return min(rated_w, max(0.0, needed))
