"""Simple ways to count storage and reliability, to hold the hourly run against.

The daily model and its closed form are those of the method of loss-of-load
probability; the smallest store without loss is found twice more, as a running peak
and as a linear programme.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from importlib import import_module
from typing import Any

import numpy as np
from numpy.typing import NDArray

from powerbudget.errors import ModelRangeError
from powerbudget.weather.runs import largest_shortage

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class IsoCoefficients:
    """Coefficients of a place's curves of equal reliability.

    Parameters
    ----------
    f1, f2
        Of the factor ``f = f1 + f2 log10(LLP)`` [number].
    u1, u2
        Of the exponent ``u = exp(u1 + u2 LLP)`` [number].
    """

    f1: float
    f2: float
    u1: float
    u2: float


MADRID = IsoCoefficients(-0.2169, -0.7865, -1.2138, -15.280)
"""Madrid, as printed in Perpiñán, Energía Solar Fotovoltaica, 2020, chapter on
stand-alone systems; other places need coefficients of their own."""


def iso_array_ratio(
    llp_frac: float, storage_days: Floats | float, place: IsoCoefficients = MADRID
) -> Floats | float:
    """Return the array ratio on the level for a loss-of-load probability [ratio].

    ``C_A' = f C_S^-u``, ``f = f1 + f2 log10(LLP)``, ``u = exp(u1 + u2 LLP)``

    Parameters
    ----------
    llp_frac
        Energy that is not served over energy asked [fraction].
    storage_days
        Usable battery energy over the load of a day, C_S [d].
    place
        Coefficients of the place.

    Returns
    -------
    float or array
        Energy of an array lying flat over the load, worst month, C_A' [ratio].

    Raises
    ------
    ModelRangeError
        When the probability is not between 0 and 1, or the storage not positive.

    Notes
    -----
    Under 1 % it has no statistical value, says the source: too few days decide.

    References
    ----------
    Egido & Lorenzo, The sizing of stand alone PV-systems: a review and a proposed
    new method, Solar Energy Materials and Solar Cells 26 (1992), 51-69, unverified;
    form and coefficients in Perpiñán, Energía Solar Fotovoltaica, 2020.

    Examples
    --------
    >>> round(float(iso_array_ratio(0.01, 5.0)), 4)
    0.8997
    """
    if not 0.0 < llp_frac < 1.0 or np.any(np.asarray(storage_days) <= 0):
        raise ModelRangeError(
            f"iso_array_ratio: a probability of {llp_frac:g} or the storage is out of "
            "range; allowed: between 0 and 1, and more than 0 days"
        )
    factor = place.f1 + place.f2 * math.log10(llp_frac)
    exponent = math.exp(place.u1 + place.u2 * llp_frac)
    return factor * storage_days ** (-exponent)


def daily_unmet_frac(
    sun_over_mean: Floats, array_ratio: float, storage_days: float
) -> float:
    """Return the loss-of-load probability of the daily model [fraction].

    ``SOC_j = min(SOC_(j-1) + C_A G_j / (C_S G_mean) - 1 / C_S, 1)``

    Parameters
    ----------
    sun_over_mean
        Each day's light over the mean that the ratio refers to [ratio].
    array_ratio
        Array energy of the mean day over the load, C_A [ratio].
    storage_days
        Usable battery energy over the load of a day, C_S [d].

    Returns
    -------
    float
        Energy not served over energy asked [fraction].

    Notes
    -----
    The load is drawn at night; losses are in the two ratios.  The state stands for
    sunset; what it lacks of a night's load is not served, and the state does not
    fall below empty, which the printed recursion leaves out.  It begins full.

    References
    ----------
    Perpiñán, Energía Solar Fotovoltaica, 2020, chapter on stand-alone systems.

    Examples
    --------
    Half the sun that is needed, no sun stored beyond a day:

    >>> round(daily_unmet_frac(np.full(1000, 0.5), 1.0, 1.0), 2)
    0.5
    """
    night = 1.0 / storage_days
    left, missed = 1.0 - night, 0.0
    for day in array_ratio * np.asarray(sun_over_mean, float) / storage_days:
        state = min(left + day, 1.0)
        missed += max(night - state, 0.0)
        left = max(state - night, 0.0)
    return float(missed * storage_days / len(sun_over_mean))


def sequent_peak_wh(supply_wh: Floats, load_wh: Floats) -> float:
    """Return the smallest store that never runs empty, by the running peak [Wh].

    ``K_t = max(0, K_(t-1) + load - supply)``; the store is the largest K.

    Parameters
    ----------
    supply_wh, load_wh
        Energy by interval; the record follows itself [Wh].

    Returns
    -------
    float
        Store without losses, full at best [Wh].

    Raises
    ------
    ModelRangeError
        When the record asks for more than it brings: no store is large enough.

    Examples
    --------
    >>> sequent_peak_wh(np.array([3.0, 0.0, 0.0, 3.0]), np.full(4, 1.0))
    2.0
    """
    short = np.asarray(load_wh, float) - np.asarray(supply_wh, float)
    if short.sum() > 1e-9 * max(1.0, float(np.abs(short).sum())):
        raise ModelRangeError(
            f"sequent_peak_wh: the load is {short.sum():.4g} Wh more than the supply "
            "over the record; allowed: less or equal"
        )
    return largest_shortage(short, ring=True)


def least_store_wh(supply_wh: Floats, load_wh: Floats) -> float:
    """Return the smallest store that never runs empty, as a linear programme [Wh].

    Parameters
    ----------
    supply_wh, load_wh
        Energy by interval; the record follows itself [Wh].

    Returns
    -------
    float
        Store without losses [Wh].

    Raises
    ------
    ModelRangeError
        When no store is large enough.

    Notes
    -----
    Least B with ``E_(t+1) <= E_t + supply_t - load_t``, ``0 <= E_t <= B`` and the
    last state that of the first; what is left of the supply is spilled.

    References
    ----------
    Huangfu & Hall, Parallelizing the dual revised simplex method, Mathematical
    Programming Computation 10 (2018), 119-142: the solver HiGHS, in SciPy.

    Examples
    --------
    >>> round(least_store_wh(np.array([3.0, 0.0, 0.0, 3.0]), np.full(4, 1.0)), 6)
    2.0
    """
    # SciPy carries no types for these; it is imported where it is needed.
    linprog: Any = import_module("scipy.optimize").linprog
    sparse: Any = import_module("scipy.sparse")
    surplus = np.asarray(supply_wh, float) - np.asarray(load_wh, float)
    n = surplus.size
    here = sparse.eye(n, format="csr")
    after = here[np.roll(np.arange(n), -1)]
    grows = sparse.hstack([after - here, np.zeros((n, 1))])
    fits = sparse.hstack([here, -np.ones((n, 1))])
    answer = linprog(
        np.r_[np.zeros(n), 1.0],
        A_ub=sparse.vstack([grows, fits]).tocsc(),
        b_ub=np.r_[surplus, np.zeros(n)],
        bounds=(0, None),
        method="highs",
    )
    if answer.x is None:
        raise ModelRangeError(
            "least_store_wh: no store is large enough; allowed: at least as much "
            "supply as load over the record"
        )
    return float(answer.x[-1])
