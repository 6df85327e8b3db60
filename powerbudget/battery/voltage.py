"""Volts and ohms of a bank: rest voltage, resistance, regulation voltage."""

from __future__ import annotations

from typing import Any

import numpy as np

REFERENCE_DEGC = 25.0
LOWEST_STATE = 0.01
"""Resistance is held at this state below it: an empty cell has no finite value."""


def open_circuit_from_gravity_v(specific_gravity: Any) -> Any:
    """Return the rest voltage of one lead-acid cell from acid density [V].

    Parameters
    ----------
    specific_gravity
        Density of the acid over that of water, 25-27 degC [ratio].

    Returns
    -------
    float or array
        ``gravity + 0.84`` [V].

    Notes
    -----
    Reads about 0.13 V low for six empty cells against measured tables; a check
    value, not the curve that the simulation uses.

    References
    ----------
    O. Perpinan, Energia Solar Fotovoltaica, 2020, chapter on stand-alone systems:
    2.04-2.12 V for 1.20-1.28.

    Examples
    --------
    >>> round(open_circuit_from_gravity_v(1.20), 2), round(open_circuit_from_gravity_v(1.28), 2)
    (2.04, 2.12)
    """
    return specific_gravity + 0.84


def bode_open_circuit_v(molality_mol_kg: Any) -> Any:
    """Return the rest voltage of one lead-acid cell from acid molality [V].

    Parameters
    ----------
    molality_mol_kg
        Sulphuric acid per kilogram of water [mol/kg].

    Returns
    -------
    float or array
        Positive less negative electrode potential [V].

    References
    ----------
    H. Bode, Lead-Acid Batteries, 1977, electrode potential fits as distributed
    with the PyBaMM parameter set Sulzer2019.

    Examples
    --------
    >>> round(float(bode_open_circuit_v(1.0)), 3)
    1.922
    """
    x = np.log10(molality_mol_kg)
    positive = 1.628 + 0.074 * x + 0.033 * x**2 + 0.043 * x**3 + 0.022 * x**4
    negative = -0.294 - 0.074 * x - 0.030 * x**2 - 0.031 * x**3 - 0.012 * x**4
    return positive - negative


def discharge_ohm_ah(state_frac: Any, base: float, low_state: float) -> Any:
    """Return discharge resistance times rated Ah, one cell, 25 degC [ohm Ah].

    Parameters
    ----------
    state_frac
        Charge left over what the cold and rate allow [fraction].
    base, low_state
        Terms of the chemistry [ohm Ah].

    Returns
    -------
    float or array
        ``base + low_state (state**-1.5 - 1)`` [ohm Ah].

    References
    ----------
    Form of the low-state term: Copetti, Lorenzo & Chenlo, Progress in Photovoltaics
    1, 283-292, 1993, coefficients unverified.

    Examples
    --------
    >>> float(discharge_ohm_ah(1.0, 0.6, 0.27))
    0.6
    """
    state = np.maximum(state_frac, LOWEST_STATE)
    return base + low_state * (state**-1.5 - 1)


def charge_ohm_ah(state_frac: Any, base: float, near_full: float) -> Any:
    """Return charge resistance times rated Ah, one cell, 25 degC [ohm Ah].

    Parameters
    ----------
    state_frac
        State of charge [fraction].
    base, near_full
        Terms of the chemistry [ohm Ah].

    Returns
    -------
    float or array
        ``base + near_full (1 - state)**-1.2`` [ohm Ah].

    Notes
    -----
    At a fixed regulation voltage this makes the current taper as charge nears
    full, so acceptance needs no separate rule.

    References
    ----------
    Copetti, Lorenzo & Chenlo 1993, charge equation linearised at the 20 h current,
    coefficients unverified.

    Examples
    --------
    >>> round(float(charge_ohm_ah(0.5, 1.236, 0.48)), 2)
    2.34
    """
    gap = np.maximum(1.0 - np.asarray(state_frac, float), LOWEST_STATE)
    return base + near_full * gap**-1.2


def regulation_v(
    battery_degc: Any, absorption_v: float, per_k: float, low_v: float, high_v: float
) -> Any:
    """Return the temperature-compensated regulation voltage of one cell [V].

    Parameters
    ----------
    battery_degc
        Battery temperature [degC].
    absorption_v
        Set point at 25 degC [V].
    per_k
        Compensation, negative for lead-acid [V/K].
    low_v, high_v
        Clamps, hot and cold [V].

    Returns
    -------
    float or array
        Regulation voltage of one cell [V].

    Examples
    --------
    >>> round(float(regulation_v(5.0, 2.40, -0.004, 2.2, 2.6)), 3)
    2.48
    """
    shift = per_k * (np.asarray(battery_degc, float) - REFERENCE_DEGC)
    return np.clip(absorption_v + shift, low_v, high_v)
