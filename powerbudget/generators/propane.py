"""Propane in the cold: what pressure the tank has and what is left for the burner."""

from __future__ import annotations

from typing import Any

import numpy as np

CRITICAL_K = 369.89
CRITICAL_KPA = 4251.2
WAGNER = (-6.74535, 1.48641, -1.45855, -2.37754)
"""Fitted here to the reference equation of state, -60 to 60 degC, within 0.004 %."""
LATENT_KJ_PER_KG = 423.4
"""Heat of vaporisation at -40 degC, reference equation of state."""
GALLON_L = 3.785411784

DRAW_FT3_H = (50.0, 100.0, 150.0, 200.0)
DRAW_DEGF = (-40.0, -30.0, -10.0, 0.0, 10.0, 20.0, 32.0)
TANK_GAL = (
    (600.0, 400.0, 250.0, 250.0, 115.0, 115.0, 115.0),
    (1500.0, 1000.0, 500.0, 400.0, 250.0, 250.0, 250.0),
    (2500.0, 1500.0, 1000.0, 500.0, 500.0, 400.0, 300.0),
    (2500.0, 2000.0, 1200.0, 1000.0, 750.0, 500.0, 400.0),
)
"""Tank that boils off enough while at least half full, rows by draw [US gal]."""
VAPOUR_BTU_FT3 = 2500.0


def vapour_pressure_kpa(liquid_degc: Any) -> Any:
    """Return the absolute vapour pressure of pure propane [kPa].

    Parameters
    ----------
    liquid_degc
        Temperature of the liquid [degC].

    Returns
    -------
    array or float
        Absolute pressure [kPa].

    Notes
    -----
    -60 to 60 degC.  Commercial propane holds up to 5 % propylene, which raises the
    pressure a little, and 2.5 % butane, which lowers it, the more so as the tank runs
    down and the light part boils off first.

    References
    ----------
    Form of W. Wagner, Cryogenics 13, 1973; coefficients fitted here to the reference
    equation of state of E. W. Lemmon, M. O. McLinden and W. Wagner, Journal of Chemical
    and Engineering Data 54, 2009.

    Examples
    --------
    >>> [round(float(vapour_pressure_kpa(t)), 1) for t in (-40, -20, 0, 20)]
    [111.1, 244.5, 474.5, 836.5]
    """
    kelvin = np.asarray(liquid_degc, float) + 273.15
    tau = 1.0 - kelvin / CRITICAL_K
    a, b, c, d = WAGNER
    # Above the critical point no liquid is left; nothing here comes near it.
    far = np.maximum(tau, 0.0)
    series = a * far + b * far**1.5 + c * far**2.5 + d * far**5
    return CRITICAL_KPA * np.exp(series * CRITICAL_K / kelvin)


def air_pressure_kpa(elevation_m: float) -> float:
    """Return the pressure of the standard atmosphere [kPa].

    Parameters
    ----------
    elevation_m
        Height above sea level [m].

    Returns
    -------
    float
        Absolute pressure [kPa].

    References
    ----------
    ISO 2533:1975, standard atmosphere up to 11 km.

    Examples
    --------
    >>> [round(air_pressure_kpa(h), 1) for h in (0, 1000, 2000)]
    [101.3, 89.9, 79.5]
    """
    return float(101.325 * (1.0 - 2.25577e-5 * elevation_m) ** 5.25588)


def gauge_pressure_kpa(liquid_degc: Any, elevation_m: float) -> Any:
    """Return what a gauge on the tank shows [kPa].

    Parameters
    ----------
    liquid_degc
        Temperature of the liquid [degC].
    elevation_m
        Height above sea level: thin air leaves more [m].

    Returns
    -------
    array or float
        Pressure above that of the air; negative below the boiling point [kPa].

    References
    ----------
    `vapour_pressure_kpa` less `air_pressure_kpa`.

    Examples
    --------
    >>> [round(float(gauge_pressure_kpa(t, 0.0)), 1) for t in (-45, -35, -30)]
    [-12.3, 35.9, 66.5]
    """
    return vapour_pressure_kpa(liquid_degc) - air_pressure_kpa(elevation_m)


def lowest_liquid_degc(burner_kpa: float, elevation_m: float) -> float:
    """Return the liquid temperature below which a burner starves [degC].

    Parameters
    ----------
    burner_kpa
        Gauge pressure needed: at the burner plus what the regulator drops [kPa].
    elevation_m
        Height above sea level [m].

    Returns
    -------
    float
        Temperature at which the tank has just that pressure; infinite where no
        temperature up to 60 degC reaches it [degC].

    References
    ----------
    Inverse of `gauge_pressure_kpa`, by halving.

    Examples
    --------
    >>> [round(lowest_liquid_degc(p, 0.0), 1) for p in (24, 35, 48, 125, 140)]
    [-37.2, -35.2, -32.9, -22.1, -20.4]
    """
    low, high = -80.0, 60.0
    if float(gauge_pressure_kpa(high, elevation_m)) < burner_kpa:
        return float("inf")
    for _ in range(60):
        middle = 0.5 * (low + high)
        if float(gauge_pressure_kpa(middle, elevation_m)) < burner_kpa:
            low = middle
        else:
            high = middle
    return high


def tank_needed_l(draw_w: float, air_degc: float) -> float:
    """Return the tank that boils off enough at a draw, at least half full [L].

    Parameters
    ----------
    draw_w
        Heat drawn as vapour, higher heating value [W].
    air_degc
        Temperature of the air around it [degC].

    Returns
    -------
    float
        Water capacity; infinite beyond the table's largest draw [L].

    Notes
    -----
    Read between the rows and columns in straight lines; below 50 ft3/h the tank
    shrinks in proportion to the draw, a simplification on the safe side of nothing:
    for sources under 500 W pressure ends the supply first.  For intermittent draw; a
    planning page allows a quarter of it for continuous draw, a rule of thumb.

    References
    ----------
    Installation manual of a standby engine set, page 14: tank capacities for 50 to
    200 ft3/h at -40 to 32 degF, ft3 of 2,500 Btu.

    Examples
    --------
    >>> round(tank_needed_l(50 * 2500 * 0.29307107, -40.0) / 3.785411784)
    600
    """
    ft3_h = draw_w / (VAPOUR_BTU_FT3 * 0.29307107)
    degf = air_degc * 1.8 + 32.0
    column = [float(np.interp(degf, DRAW_DEGF, row)) for row in TANK_GAL]
    # A draw at the table's edge may come in with dust in its last digits.
    if ft3_h > DRAW_FT3_H[-1] * (1 + 1e-9):
        return float("inf")
    if ft3_h < DRAW_FT3_H[0]:
        return column[0] * ft3_h / DRAW_FT3_H[0] * GALLON_L
    return float(np.interp(ft3_h, DRAW_FT3_H, column)) * GALLON_L
