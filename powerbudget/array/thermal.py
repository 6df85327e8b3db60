"""Cell temperature from light, air temperature and wind."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from powerbudget.weather.late_imports import pvlib_module

FloatArray = npt.NDArray[np.float64]

HEAT_LOSS_W_M2_K = 25.0
"""Heat loss in still air, Faiman (2008) mean of seven modules [W/m2/K]."""

WIND_LOSS_W_S_M3_K = 6.84
"""Added heat loss for each metre per second of wind, Faiman (2008) [W s/m3/K]."""


def cell_temperature_degc(
    poa_w_m2: FloatArray, temp_air_degc: FloatArray, wind_speed_m_s: FloatArray
) -> FloatArray:
    """Return the temperature of the cells in an open rack [degC].

    ``T_cell = T_air + G / (25 + 6.84 v)``

    Parameters
    ----------
    poa_w_m2
        Irradiance on the plane of the panel [W/m2].
    temp_air_degc
        Air temperature [degC].
    wind_speed_m_s
        Wind beside the panel [m/s].

    Returns
    -------
    array
        Cell temperature [degC].

    Notes
    -----
    Steady state, open rack.  Weather records give the wind at 10 m, which is more
    than a panel on a low mast gets: cells are a few degrees warmer in truth.

    References
    ----------
    Faiman, Assessing the outdoor operating temperature of photovoltaic modules,
    Progress in Photovoltaics 16 (2008), 307-315.

    Examples
    --------
    >>> light, air, wind = np.array([800.0]), np.array([20.0]), np.array([0.0])
    >>> float(cell_temperature_degc(light, air, wind)[0])
    52.0
    """
    cell: FloatArray = pvlib_module("temperature").faiman(
        poa_w_m2,
        temp_air_degc,
        wind_speed_m_s,
        u0=HEAT_LOSS_W_M2_K,
        u1=WIND_LOSS_W_S_M3_K,
    )
    return cell
