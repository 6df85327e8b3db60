"""Current and power of a module at any light, temperature and voltage.

One diode, five parameters, with the temperature rules of De Soto, Klein &
Beckman (Solar Energy 80, 2006, 78-88).  The equations are solved by pvlib.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

from powerbudget.errors import DidNotConverge
from powerbudget.weather.late_imports import pvlib_module

if TYPE_CHECKING:
    from powerbudget.array.module import Module

FloatArray = npt.NDArray[np.float64]

DARK_W_M2 = 0.01
"""Below this a module gives nothing that a meter would show [W/m2]."""


MOST_STEPS = 50
NEAR_V = 1e-8
"""Steps as small as this end the search for a maximum-power point [V]."""


class Diode(NamedTuple):
    """Parameters of the one-diode equation at given conditions.

    Parameters
    ----------
    photocurrent_a
        Current of the light [A].
    saturation_a
        Dark saturation current [A].
    series_ohm
        Series resistance [ohm].
    shunt_ohm
        Shunt resistance [ohm].
    modified_ideality_v
        Ideality x cells in series x thermal voltage [V].
    """

    photocurrent_a: FloatArray
    saturation_a: FloatArray
    series_ohm: float
    shunt_ohm: FloatArray
    modified_ideality_v: FloatArray


def diode_at(
    module: Module, effective_w_m2: FloatArray, cell_degc: FloatArray
) -> Diode:
    """Return the one-diode parameters at given light and temperature.

    Parameters
    ----------
    module
        Parameters at 1000 W/m2 and 25 degC [-].
    effective_w_m2
        Irradiance behind the glass, above zero [W/m2].
    cell_degc
        Cell temperature [degC].

    Returns
    -------
    Diode
        Parameters at those conditions [-].

    References
    ----------
    De Soto, Klein & Beckman (2006), equations 19-24 (numbers unverified).
    """
    pvsystem = pvlib_module("pvsystem")
    photo, saturation, _, shunt, ideality = pvsystem.calcparams_desoto(
        np.asarray(effective_w_m2, dtype=float),
        np.asarray(cell_degc, dtype=float),
        alpha_sc=module.photocurrent_a_per_k,
        a_ref=module.modified_ideality_v,
        I_L_ref=module.photocurrent_a,
        I_o_ref=module.saturation_a,
        R_sh_ref=module.shunt_ohm,
        R_s=module.series_ohm,
        EgRef=module.band_gap_ev,
        dEgdT=module.band_gap_per_k,
    )
    return Diode(photo, saturation, module.series_ohm, shunt, ideality)


def max_power_w(
    module: Module, effective_w_m2: FloatArray, cell_degc: FloatArray
) -> FloatArray:
    """Return the largest power that one module can give [W].

    Parameters
    ----------
    module
        The module [-].
    effective_w_m2
        Irradiance behind the glass [W/m2].
    cell_degc
        Cell temperature [degC].

    Returns
    -------
    array
        Power at the maximum-power point, 0 in the dark [W].

    Raises
    ------
    DidNotConverge
        When the point cannot be found.
    """
    light, cell = np.broadcast_arrays(
        np.asarray(effective_w_m2, dtype=float), np.asarray(cell_degc, dtype=float)
    )
    power = np.zeros(light.shape)
    lit = light > DARK_W_M2
    if lit.any():
        power[lit] = _peak_w(diode_at(module, light[lit], cell[lit]))
    return power


def current_a(
    module: Module,
    effective_w_m2: FloatArray,
    cell_degc: FloatArray,
    voltage_v: FloatArray | float,
) -> FloatArray:
    """Return the current of one module held at a voltage [A].

    Parameters
    ----------
    module
        The module [-].
    effective_w_m2
        Irradiance behind the glass [W/m2].
    cell_degc
        Cell temperature [degC].
    voltage_v
        Voltage at the module's terminals; the three arrays broadcast [V].

    Returns
    -------
    array
        Current, never below 0: the regulator blocks the way back at night [A].
    """
    pvsystem = pvlib_module("pvsystem")
    light, cell, volts = np.broadcast_arrays(
        np.asarray(effective_w_m2, dtype=float),
        np.asarray(cell_degc, dtype=float),
        np.asarray(voltage_v, dtype=float),
    )
    current = np.zeros(light.shape)
    lit = light > DARK_W_M2
    if lit.any():
        diode = diode_at(module, light[lit], cell[lit])
        ceiling = _ideal_open_v(diode)
        found = pvsystem.i_from_v(np.minimum(volts[lit], ceiling), *diode)
        current[lit] = np.maximum(found, 0.0)
    return current


def open_circuit_v(
    module: Module, effective_w_m2: FloatArray, cell_degc: FloatArray
) -> FloatArray:
    """Return the voltage of one module that carries no current [V].

    Parameters
    ----------
    module
        The module [-].
    effective_w_m2
        Irradiance behind the glass, above zero [W/m2].
    cell_degc
        Cell temperature [degC].

    Returns
    -------
    array
        Open-circuit voltage [V].
    """
    pvsystem = pvlib_module("pvsystem")
    diode = diode_at(module, effective_w_m2, cell_degc)
    volts: FloatArray = pvsystem.v_from_i(0.0, *diode)
    return volts


def _ideal_open_v(diode: Diode) -> FloatArray:
    """Return a voltage that the true open-circuit voltage cannot exceed."""
    ratio = diode.photocurrent_a / diode.saturation_a
    bound: FloatArray = diode.modified_ideality_v * np.log1p(ratio)
    return bound


def _peak_w(diode: Diode) -> FloatArray:
    singlediode = pvlib_module("singlediode")
    with np.errstate(all="ignore"):
        current, volts, power = singlediode.bishop88(_peak_diode_v(diode), *diode)
    bad = ~((current >= 0) & (volts >= 0) & (power <= _ceiling_w(diode)))
    if bad.any():
        # Slow but bracketed; some rows of very odd modules need it.
        power = np.array(power)
        power[bad] = singlediode.bishop88_mpp(*_rows(diode, bad), method="brentq")[2]
    if not np.isfinite(power).all():
        raise DidNotConverge("no maximum-power point for some hours of this module")
    found: FloatArray = np.maximum(power, 0.0)
    return found


def _peak_diode_v(diode: Diode) -> FloatArray:
    """Return the voltage across the diode at the maximum-power point, by Newton's rule.

    The library's own call of it loads every solver there is, longer than a year's run.
    """
    points = pvlib_module("singlediode").bishop88
    found = _ideal_open_v(diode)
    for _ in range(MOST_STEPS):
        *_, slope, bend = points(found, *diode, gradients=True)
        step = slope / bend
        found = found - step
        if (np.abs(step) < NEAR_V).all():
            break
    return found


def _rows(diode: Diode, chosen: npt.NDArray[np.bool_]) -> Diode:
    return Diode(
        diode.photocurrent_a[chosen],
        diode.saturation_a[chosen],
        diode.series_ohm,
        diode.shunt_ohm[chosen],
        diode.modified_ideality_v[chosen],
    )


def _ceiling_w(diode: Diode) -> FloatArray:
    return diode.photocurrent_a * _ideal_open_v(diode)
