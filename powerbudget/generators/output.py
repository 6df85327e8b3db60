"""What a source gives: ambient, altitude, age, warm-up, limiter."""

from __future__ import annotations

from typing import Any

import numpy as np


def ambient_frac(
    ambient_degc: Any, per_k: float, rated_degc: float, from_degc: float = -60.0
) -> Any:
    """Return output at an ambient temperature over that at the rating [fraction].

    ``1 + per_k (T - T_rated)``, never below zero.

    Parameters
    ----------
    ambient_degc
        Air temperature [degC].
    per_k
        Change of output for each kelvin, negative where heat costs output [1/K].
    rated_degc
        Temperature of the rating [degC].
    from_degc
        Below this nothing more is gained [degC].

    Returns
    -------
    array or float
        Share of rated output [fraction].

    Notes
    -----
    A straight line; do not use it above the maker's highest ambient.

    References
    ----------
    Operating manual of a thermoelectric generator of the 220 W class, chart on printed
    page 35: -0.8 W for each degC, about its rating at 20 degC.

    Examples
    --------
    >>> [round(220 * float(ambient_frac(t, -0.8 / 220, 20.0))) for t in (-20, 0, 40)]
    [252, 236, 204]
    """
    warm = np.maximum(ambient_degc, from_degc)
    return np.maximum(0.0, 1.0 + per_k * (warm - rated_degc))


def altitude_frac(elevation_m: float, per_km: float, reference_m: float = 0.0) -> float:
    """Return output at an altitude over that of the rating [fraction].

    Parameters
    ----------
    elevation_m
        Height above sea level [m].
    per_km
        Share of the rating lost for each kilometre above the reference [1/km].
    reference_m
        Height up to which the rating holds; below it nothing is gained [m].

    Returns
    -------
    float
        Share of rated output, never below zero [fraction].

    References
    ----------
    Operating manual of a 12 kW engine set, page 21: 3.5 % for each 300 m.

    Examples
    --------
    >>> round(altitude_frac(2500.0, 0.12), 3), altitude_frac(2500.0, 0.12, 1500.0)
    (0.7, 0.88)
    """
    return max(0.0, 1.0 - per_km * max(0.0, elevation_m - reference_m) / 1000.0)


def age_frac(age_y: float, per_y: float) -> float:
    """Return output of an aged source over that of a new one [fraction].

    Parameters
    ----------
    age_y
        Years in service [year].
    per_y
        Share lost a year [1/year].

    Returns
    -------
    float
        Share of rated output, never below zero [fraction].

    References
    ----------
    Unverified: 0.5 to 1 % a year for lead telluride.

    Examples
    --------
    >>> age_frac(10.0, 0.0075)
    0.925
    """
    return max(0.0, 1.0 - per_y * age_y)


def couple_efficiency_frac(hot_degc: float, cold_degc: float, merit: float) -> float:
    """Return the best efficiency of a thermoelectric couple [fraction].

    ``(Th - Tc) / Th (m - 1) / (m + Tc / Th)`` with ``m = sqrt(1 + ZT)``.

    Parameters
    ----------
    hot_degc, cold_degc
        Junction temperatures [degC].
    merit
        Figure of merit times mean temperature, ZT [ratio].

    Returns
    -------
    float
        Electricity over heat through the couple; burner, bypass heat and electronics
        cost more than half of it again [fraction].

    References
    ----------
    Standard form of textbooks, unverified.

    Examples
    --------
    >>> [round(100 * couple_efficiency_frac(538, 163, z), 1) for z in (0.5, 0.8, 1.0)]
    [5.9, 8.4, 9.8]
    """
    hot, cold = hot_degc + 273.15, cold_degc + 273.15
    m = float(np.sqrt(1.0 + merit))
    return (hot - cold) / hot * (m - 1.0) / (m + cold / hot)


def productive_frac(ran_h: float, step_h: float, warm_up_h: float) -> float:
    """Return the share of an interval with output after a start [fraction].

    Parameters
    ----------
    ran_h
        Hours run before the interval [h].
    step_h
        Interval length [h].
    warm_up_h
        Time without output after a start [h].

    Returns
    -------
    float
        0 to 1 [fraction].

    References
    ----------
    Quick-start pages of the 54 W and 108 W thermoelectric classes: set points are
    checked one hour after ignition.

    Examples
    --------
    >>> productive_frac(0.0, 1.0, 0.25), productive_frac(2.0, 1.0, 0.25)
    (0.75, 1.0)
    """
    return min(1.0, max(0.0, (ran_h + step_h - warm_up_h) / step_h))
