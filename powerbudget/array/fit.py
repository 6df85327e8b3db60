"""Five one-diode parameters from the points of a data sheet.

Short circuit, open circuit and maximum-power point fix three parameters as a
linear system once the ideality and the series resistance are known.  The slope
at the maximum-power point gives the series resistance, and the temperature
coefficient of the open-circuit voltage the ideality, so that nothing is guessed
and nothing can run away.  The conditions are those of De Soto et al. (2006).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from powerbudget.bisection import halved

FloatArray = npt.NDArray[np.float64]

BOLTZMANN_EV_K = 8.617333262e-5
REFERENCE_K = 298.15
BAND_GAP_EV = 1.121
"""Silicon at 25 degC, De Soto et al. (2006) [eV]."""
BAND_GAP_PER_K = -0.0002677
"""Change of the band gap per degree, De Soto et al. (2006) [1/K]."""
STEP_K = 2.0
"""Over which the open-circuit coefficient is matched; 1 to 10 K changes little."""
BAND_GAP_RANGE_EV = (0.75, 2.5)
"""Outside this the points do not belong to one module (assumed, set so that
nearly every silicon row of the California Energy Commission's table passes)."""


class Points(NamedTuple):
    """What a data sheet prints, at 1000 W/m2 and 25 degC.

    Parameters
    ----------
    max_power_v
        Voltage at the maximum-power point [V].
    max_power_a
        Current there [A].
    open_circuit_v
        Open-circuit voltage [V].
    short_circuit_a
        Short-circuit current [A].
    open_circuit_v_per_k
        Temperature coefficient of the open-circuit voltage [V/K].
    short_circuit_a_per_k
        Temperature coefficient of the short-circuit current [A/K].
    """

    max_power_v: float
    max_power_a: float
    open_circuit_v: float
    short_circuit_a: float
    open_circuit_v_per_k: float
    short_circuit_a_per_k: float


class Fit(NamedTuple):
    """One-diode parameters at 1000 W/m2 and 25 degC.

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
    band_gap_ev
        Band gap that gives the open-circuit temperature coefficient [eV].
    """

    photocurrent_a: float
    saturation_a: float
    series_ohm: float
    shunt_ohm: float
    modified_ideality_v: float
    band_gap_ev: float


def fit_points(points: Points) -> Fit | None:
    """Return the parameters that reproduce the points, or None where none can.

    Parameters
    ----------
    points
        Data-sheet points and temperature coefficients [-].

    Returns
    -------
    Fit or None
        The five parameters; the band gap is silicon's 1.121 eV unless the
        coefficient would need an ideality that the curve's shape forbids [-].

    References
    ----------
    De Soto, Klein & Beckman, Improvement and validation of a model for
    photovoltaic array performance, Solar Energy 80 (2006), 78-88.
    """
    ideality = _silicon_ideality_v(points)
    found = _solve_at(points, ideality)
    for _ in range(4):
        if found is None:
            break
        # The closed form ignores the shunt; a few passes take it in.
        ideality *= found.band_gap_ev / BAND_GAP_EV
        found = _solve_at(points, ideality)
    if found is None:
        found = _solve_at(points, 0.98 * _largest_ideality_v(points, ideality))
    low, high = BAND_GAP_RANGE_EV
    return found if found and low <= found.band_gap_ev <= high else None


def _silicon_ideality_v(p: Points) -> float:
    """Return the modified ideality that silicon needs for the coefficient [V]."""
    span = p.open_circuit_v - p.open_circuit_v_per_k * REFERENCE_K
    return span / (3.0 + BAND_GAP_EV / (BOLTZMANN_EV_K * REFERENCE_K))


def _largest_ideality_v(p: Points, above: float) -> float:
    """Return the largest ideality that the knee of the curve leaves room for [V]."""
    low, high = 0.2 * above, above
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (
            (middle, high) if _series_ohm(p, middle) is not None else (low, middle)
        )
    return low


def _solve_at(p: Points, ideality_v: float) -> Fit | None:
    series_ohm = _series_ohm(p, ideality_v)
    if series_ohm is None:
        return None
    knee_a, shunt_s = _linear(p, ideality_v, np.array([series_ohm]))
    saturation = float(knee_a[0]) * np.exp(-p.open_circuit_v / ideality_v)
    leak = float(shunt_s[0])
    photo = saturation * np.expm1(p.open_circuit_v / ideality_v) + (
        leak * p.open_circuit_v
    )
    shunt_ohm = 1.0 / max(leak, 1e-9)
    gap = _band_gap_ev(p, ideality_v, photo, saturation, 1.0 / shunt_ohm)
    return Fit(float(photo), float(saturation), series_ohm, shunt_ohm, ideality_v, gap)


def _band_gap_ev(
    p: Points, ideality_v: float, photo_a: float, saturation_a: float, shunt_s: float
) -> float:
    """Return the band gap with which the voltage falls as the data sheet says."""
    warm_k = REFERENCE_K + STEP_K
    warm_v = p.open_circuit_v + p.open_circuit_v_per_k * STEP_K
    warm_a = photo_a + p.short_circuit_a_per_k * STEP_K - shunt_s * warm_v
    warm_saturation = warm_a / np.expm1(warm_v / (ideality_v * warm_k / REFERENCE_K))
    growth = np.log(warm_saturation / saturation_a) - 3 * np.log(warm_k / REFERENCE_K)
    lever = 1 / REFERENCE_K - (1 + BAND_GAP_PER_K * STEP_K) / warm_k
    return float(growth * BOLTZMANN_EV_K / lever)


def _linear(
    p: Points, ideality_v: float, series_ohm: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return diode current at open circuit [A] and shunt conductance [S]."""
    sc_v = p.short_circuit_a * series_ohm
    mp_v = p.max_power_v + p.max_power_a * series_ohm
    # Scaled to the open-circuit voltage, so that no exponential can overflow.
    sc_drop = -np.expm1((sc_v - p.open_circuit_v) / ideality_v)
    mp_drop = -np.expm1((mp_v - p.open_circuit_v) / ideality_v)
    sc_gap, mp_gap = p.open_circuit_v - sc_v, p.open_circuit_v - mp_v
    det = sc_drop * mp_gap - mp_drop * sc_gap
    knee_a = (p.short_circuit_a * mp_gap - p.max_power_a * sc_gap) / det
    shunt_s = (sc_drop * p.max_power_a - mp_drop * p.short_circuit_a) / det
    return knee_a, shunt_s


def _slope_error_a(p: Points, ideality_v: float, series_ohm: FloatArray) -> FloatArray:
    """Return by how much dP/dV misses zero at the maximum-power point [A]."""
    knee_a, shunt_s = _linear(p, ideality_v, series_ohm)
    mp_v = p.max_power_v + p.max_power_a * series_ohm
    slope_s = knee_a / ideality_v * np.exp((mp_v - p.open_circuit_v) / ideality_v)
    lever_v = p.max_power_v - p.max_power_a * series_ohm
    return (slope_s + shunt_s) * lever_v - p.max_power_a


def _series_ohm(p: Points, ideality_v: float) -> float | None:
    """Return the series resistance for an ideality, or None where there is none."""
    top = (p.open_circuit_v - p.max_power_v) / p.max_power_a
    trial = np.linspace(0.0, 0.995 * top, 200)
    with np.errstate(all="ignore"):
        error = _slope_error_a(p, ideality_v, trial)
        knee_a, shunt_s = _linear(p, ideality_v, trial)
    sound = np.isfinite(error) & (knee_a > 0) & (shunt_s > -1e-3)
    turns = np.flatnonzero(
        (np.sign(error[:-1]) != np.sign(error[1:])) & sound[:-1] & sound[1:]
    )
    for k in turns:
        root = _turn_ohm(p, ideality_v, float(trial[k]), float(trial[k + 1]))
        if _linear(p, ideality_v, np.array([root]))[1][0] > 0:
            return root
    return None


def _turn_ohm(p: Points, ideality_v: float, low_ohm: float, high_ohm: float) -> float:
    """Return the resistance between two at which the slope error changes its sign."""

    def side(ohm: float) -> float:
        return float(np.sign(_slope_error_a(p, ideality_v, np.array(ohm))))

    at_low = side(low_ohm)
    return halved(lambda ohm: side(ohm) == at_low, low_ohm, high_ohm, near=1e-13)[0]
