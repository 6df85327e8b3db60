"""Wiring: resistance and voltage drop of copper pairs by gauge and temperature."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from powerbudget.errors import Fault, InputError

Value = TypeVar("Value", float, NDArray[np.float64])

_METRES_PER_KFT = 304.8
_THIN_AWG = (26, 24, 22, 20)
_THIN_MM2 = (0.1, 0.14, 0.2, 0.22, 0.25, 0.34)


def _thin_ohm_per_kft(number: int) -> float:
    """Return a thinner gauge by area from stranded 18 AWG, same strands and lay."""
    return float(7.95 * 92.0 ** ((number - 18) * 2.0 / 39.0))


AWG_OHM_PER_KFT: Mapping[str, float] = MappingProxyType(
    {str(n): _thin_ohm_per_kft(n) for n in _THIN_AWG}
    | {
        "18": 7.95,
        "16": 4.99,
        "14": 3.14,
        "12": 1.98,
        "10": 1.24,
        "8": 0.778,
        "6": 0.491,
        "4": 0.308,
        "3": 0.245,
        "2": 0.194,
        "1": 0.154,
        "1/0": 0.122,
        "2/0": 0.0967,
    }
)
"""Stranded uncoated copper at 75 degC, NEC Chapter 9 Table 8; below 18 AWG, where that
table ends, by the area that ASTM B258 gives each number [ohm/kft]."""

MM2_OHM_PER_KM: Mapping[str, float] = MappingProxyType(
    {f"{mm2:g}": 39.0 * 0.5 / mm2 for mm2 in _THIN_MM2}
    | {
        "0.5": 36.0,
        "0.75": 24.5,
        "1": 18.1,
        "1.5": 12.1,
        "2.5": 7.41,
        "4": 4.61,
        "6": 3.08,
        "10": 1.83,
        "16": 1.15,
        "25": 0.727,
        "35": 0.524,
    }
)
"""Plain copper class 2 at 20 degC, highest allowed, IEC 60228:2004; below 0.5 mm2, where
the standard ends, by area from its flexible class 5, 0.5 mm2 [ohm/km]."""

_AWG = re.compile(r"^(?:AWG\s*#?\s*)?(\d{1,2}(?:/0)?)(?:\s*AWG)?$", re.IGNORECASE)
_MM2 = re.compile(r"^(\d+(?:\.\d+)?)\s*(?:mm2|mm²|mm\^2)$", re.IGNORECASE)


def _table_ohm_per_m(gauge: str) -> tuple[float, float, float]:
    """Return (ohm/m, its temperature in degC, change per kelvin) of a gauge."""
    text = gauge.strip()
    metric = _MM2.match(text)
    if metric and (key := f"{float(metric.group(1)):g}") in MM2_OHM_PER_KM:
        return MM2_OHM_PER_KM[key] / 1000, 20.0, 0.00393
    american = _AWG.match(text) if "AWG" in text.upper() else None
    if american and (key := american.group(1)) in AWG_OHM_PER_KFT:
        return AWG_OHM_PER_KFT[key] / _METRES_PER_KFT, 75.0, 0.00323
    raise InputError(
        Fault(
            where="gauge",
            problem="wire size not known",
            given=repr(gauge),
            allowed=(
                f"{', '.join(AWG_OHM_PER_KFT)} with AWG, "
                f"or {', '.join(MM2_OHM_PER_KM)} with mm2"
            ),
            advice="write it as '16 AWG', '1/0 AWG' or '2.5 mm2'",
        )
    )


def conductor_ohm_per_m(gauge: str, temp_degc: Value) -> Value:
    """Return the resistance of one copper conductor for each metre [ohm/m].

    ``R = R_table * (1 + alpha * (T - T_table))``

    Parameters
    ----------
    gauge
        Size, such as ``"16 AWG"``, ``"1/0 AWG"`` or ``"2.5 mm2"`` [text].
    temp_degc
        Temperature of the conductor [degC].

    Returns
    -------
    float or array
        Resistance of a single wire, not of the pair [ohm/m].

    Raises
    ------
    InputError
        When the size is not in the tables; the known ones are listed.

    Notes
    -----
    AWG rows: stranded, uncoated, 75 degC, 0.00323/K.  Some copies of the table print
    the solid row (14 AWG 3.07) as stranded.  Square-millimetre rows: class 2, plain,
    20 degC, 0.00393/K unverified; these are maxima.  Tinned wire is 2 to 6 % higher.
    Pairs thinner than both tables (to 26 AWG and 0.1 mm2) are scaled by area.

    References
    ----------
    NEC, Chapter 9, Table 8 and its note on temperature; IEC 60228:2004, Tables 2
    and 3; ASTM B258: ``d = 0.127 mm * 92^((36 - n) / 39)``.

    Examples
    --------
    >>> round(1000 * conductor_ohm_per_m("10 AWG", 20.0), 2)
    3.35
    """
    table_ohm_per_m, table_degc, per_k = _table_ohm_per_m(gauge)
    return table_ohm_per_m * (1 + per_k * (temp_degc - table_degc))


def pair_ohm(gauge: str, length_m: float, temp_degc: Value) -> Value:
    """Return the resistance of a pair of conductors, there and back [ohm].

    ``R = 2 * length * R_conductor``

    Parameters
    ----------
    gauge
        Size, such as ``"16 AWG"`` or ``"2.5 mm2"`` [text].
    length_m
        Length one way [m].
    temp_degc
        Temperature of the conductors [degC].

    Returns
    -------
    float or array
        Resistance of both wires in series [ohm].

    Raises
    ------
    InputError
        When the size is not in the tables.

    References
    ----------
    As `conductor_ohm_per_m`.

    Examples
    --------
    >>> round(pair_ohm("1 mm2", 500.0, 20.0), 1)
    18.1
    """
    return 2 * length_m * conductor_ohm_per_m(gauge, temp_degc)


def drop_v(current_a: Value, loop_ohm: float) -> Value:
    """Return the voltage lost in a pair of conductors [V].

    ``V = I * R``

    Parameters
    ----------
    current_a
        Current; the peak for a brown-out check, not the mean [A].
    loop_ohm
        Resistance of both wires in series [ohm].

    Returns
    -------
    float or array
        Voltage drop between source and load [V].

    References
    ----------
    Ohm's law.

    Examples
    --------
    >>> round(drop_v(2.0, pair_ohm("10 AWG", 15.24, 75.0)), 3)
    0.248
    """
    return current_a * loop_ohm
