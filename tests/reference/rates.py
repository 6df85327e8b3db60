"""Capacity by rate as laws that saturate, and the two-tank model as a check.

The simulation joins a chemistry's (or a maker's) published points; these closed
forms stand beside it as independent checks.
"""

from __future__ import annotations

from typing import Any

import numpy as np

EXPONENT = 0.9
"""Of the current in the saturating law; Copetti, Lorenzo & Chenlo 1993."""


def saturating_ah(amps: Any, limit_ah: float, a: float, exponent: float) -> Any:
    """Return capacity at a constant current [Ah].

    Parameters
    ----------
    amps
        Discharge current [A].
    limit_ah
        Capacity at a vanishing current [Ah].
    a, exponent
        How it falls with current [A**-exponent, number].

    Returns
    -------
    float or array
        ``limit / (1 + a I**n)``, never above the limit [Ah].

    References
    ----------
    J.B. Copetti, E. Lorenzo & F. Chenlo, Progress in Photovoltaics 1, 283-292, 1993.

    Examples
    --------
    >>> round(float(saturating_ah(10.0, 167.0, 0.67 / 10**0.9, 0.9)), 1)
    100.0
    """
    return limit_ah / (1.0 + a * np.asarray(amps, float) ** exponent)


def fit_saturating(
    slow: tuple[float, float], fast: tuple[float, float], exponent: float = EXPONENT
) -> tuple[float, float]:
    """Return limit and factor of `saturating_ah` through two published ratings.

    Parameters
    ----------
    slow, fast
        Current and capacity of the slower and the faster rating [A, Ah].
    exponent
        Kept fixed [number].

    Returns
    -------
    tuple of float
        Limit and factor [Ah, A**-exponent].

    Raises
    ------
    ValueError
        When the slower rating is not the larger one.

    Examples
    --------
    >>> limit, a = fit_saturating((1.0, 149.0), (10.0, 100.0))
    >>> float(round(saturating_ah(1.0, limit, a, 0.9), 1))
    149.0
    """
    (i1, c1), (i2, c2) = slow, fast
    if not (i1 < i2 and c1 >= c2):
        raise ValueError("the slower rating must be the larger one")
    x1, x2 = i1**exponent, i2**exponent
    a = (c1 - c2) / (c2 * x2 - c1 * x1)
    return c1 * (1.0 + a * x1), a


def two_tank_step(
    tanks_ah: tuple[float, float], amps: float, hours: float, k_per_h: float, c: float
) -> tuple[float, float]:
    """Return available and bound charge after a constant current [Ah].

    Parameters
    ----------
    tanks_ah
        Available and bound charge before [Ah].
    amps
        Discharge current, negative for charge [A].
    hours
        How long [h].
    k_per_h
        Rate between the tanks [1/h].
    c
        Share of the available tank [fraction].

    Returns
    -------
    tuple of float
        Available and bound charge after [Ah].

    References
    ----------
    J.F. Manwell & J.G. McGowan, Solar Energy 50(5), 399-405, 1993.

    Examples
    --------
    >>> [round(q, 4) for q in two_tank_step((40.0, 60.0), 10.0, 1.0, 0.5, 0.4)]
    [31.2784, 58.7216]
    """
    q1, q2 = tanks_ah
    whole, kt = q1 + q2, k_per_h * hours
    e = float(np.exp(-kt))
    lag = kt - 1 + e
    free = q1 * e + (whole * k_per_h * c - amps) * (1 - e) / k_per_h
    bound = q2 * e + whole * (1 - c) * (1 - e)
    return free - amps * c * lag / k_per_h, bound - amps * (1 - c) * lag / k_per_h


def two_tank_capacity_ah(full_ah: float, hours: float, k_per_h: float, c: float) -> Any:
    """Return what a full two-tank battery gives at a constant current [Ah].

    Parameters
    ----------
    full_ah
        Charge in both tanks [Ah].
    hours
        Discharge time [h].
    k_per_h, c
        As in `two_tank_step`.

    Returns
    -------
    float
        Capacity in that time [Ah].

    References
    ----------
    Manwell & McGowan 1993.

    Examples
    --------
    >>> round(float(two_tank_capacity_ah(100.0, 10.0, 0.5, 0.4)), 3)
    77.043
    """
    kt = k_per_h * hours
    e = np.exp(-kt)
    return full_ah * kt * c / (1 - e + c * (kt - 1 + e))
