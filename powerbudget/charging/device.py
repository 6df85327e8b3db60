"""What a charge controller loses, and what heat and height leave of its rating."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from powerbudget.site.circuit import ConversionLosses, RegulatorLimits

FloatArray = npt.NDArray[np.float64]
HOT_DEGC = 60.0
"""Ambient at which sheets print what heat leaves of the rating."""
COOL_DEGC = np.array([20.0])
"""Air in which no controller is derated by heat."""


def converted_w(
    into_w: FloatArray, losses: ConversionLosses, rated_w: float
) -> FloatArray:
    """Return what a tracker passes to the bus of what it takes in [W].

    Parameters
    ----------
    into_w
        From the array, by interval [W].
    losses
        Constant, linear and square share of the rated power.
    rated_w
        Nominal power of all controllers [W].

    Returns
    -------
    array
        None below the constant loss [W].

    Notes
    -----
    Loss = rated (p0 + a x + b x^2), x the output over rated; solved for the output in
    the form that holds without a square loss too.

    Examples
    --------
    >>> from powerbudget.site.circuit import ConversionLosses
    >>> converted_w(np.array([1.0, 20.0, 300.0]), ConversionLosses(), 440.0).round(1).tolist()
    [0.0, 18.0, 292.4]
    """
    over_w = np.maximum(into_w - losses.constant_frac * rated_w, 0.0)
    linear = 1.0 + losses.linear_frac
    root = np.sqrt(linear**2 + 4.0 * losses.square_frac / rated_w * over_w)
    return np.asarray(2.0 * over_w / (linear + root))


def rating_left_frac(
    controller: RegulatorLimits, air_degc: FloatArray, elevation_m: float
) -> FloatArray:
    """Return what heat and thin air leave of a controller's output limit [fraction].

    Parameters
    ----------
    controller
        Its table: where full output ends.
    air_degc
        Air about it, by interval [degC].
    elevation_m
        Of the site [m].

    Returns
    -------
    array
        A straight line through the output at 60 degC, none above the temperature at
        which it stops [fraction].
    """
    full = controller.full_output_degc
    slope = (1.0 - controller.output_at_60_frac) / (HOT_DEGC - full)
    left = np.clip(1.0 - slope * (air_degc - full), 0.0, 1.0)
    left = np.where(air_degc > controller.stops_above_degc, 0.0, left)
    above_km = max(0.0, elevation_m - controller.full_output_elevation_m) / 1000.0
    thin = max(0.0, 1.0 - controller.elevation_derating_frac * above_km)
    return np.asarray(left * thin)
