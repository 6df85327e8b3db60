"""Figures of wires, fuses and photovoltaic circuits as codes print them.

Computing a current with a code's factor is not a check against that code: editions,
places and methods of laying differ, and the person who is licensed decides.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from types import MappingProxyType

CONTINUOUS = 1.25
"""On a current that lasts three hours or more (NEC 210.20, 215.3, 690.8)."""
PV_FACTOR = CONTINUOUS * CONTINUOUS
"""1.5625 on the short-circuit current: bright sun (690.8(A)) and lasting (690.8(B))."""

FUSES_A: tuple[float, ...] = (
    1, 2, 3, 5, 6, 7.5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110,
    125, 150, 175, 200, 225, 250, 300, 350, 400,
)  # fmt: skip
"""Usual fuses: NEC 240.6 from 15 A, small ones common practice, no source [A]."""

AWG_AMPACITY_A: Mapping[str, tuple[float, float, float]] = MappingProxyType(
    {
        "26": (1, 1, 1),
        "24": (2, 2, 2),
        "22": (3, 3, 3),
        "20": (5, 5, 5),
        "18": (7, 7, 14),
        "16": (10, 10, 18),
        "14": (15, 20, 25),
        "12": (20, 25, 30),
        "10": (30, 35, 40),
        "8": (40, 50, 55),
        "6": (55, 65, 75),
        "4": (70, 85, 95),
        "3": (85, 100, 115),
        "2": (95, 115, 130),
        "1": (110, 130, 145),
        "1/0": (125, 150, 170),
        "2/0": (145, 175, 195),
    }
)
"""Copper at 30 degC air, insulation of 60, 75, 90 degC, NEC Table 310.16; 18 and 16 AWG
below 90 degC: the fuse that 240.4(D) allows; thinner: usual figures of small wire in
control panels, unverified [A]."""

MM2_AMPACITY_A: Mapping[str, float] = MappingProxyType(
    {
        "0.1": 1,
        "0.14": 1,
        "0.2": 2,
        "0.22": 2,
        "0.25": 2,
        "0.34": 3,
        "0.5": 6,
        "0.75": 9,
        "1": 13.5,
        "1.5": 17.5,
        "2.5": 24,
        "4": 32,
        "6": 41,
        "10": 57,
        "16": 76,
        "25": 101,
        "35": 125,
    }
)
"""Copper, PVC of 70 degC, 30 degC air, in conduit, two loaded (IEC 60364-5-52, Table
B.52.2, method B1); below 1 mm2 judged.  All unverified [A]."""

SMALL_FUSE_A: Mapping[str, float] = MappingProxyType(
    {
        "26": 1,
        "24": 2,
        "22": 3,
        "20": 5,
        "18": 7,
        "16": 10,
        "14": 15,
        "12": 20,
        "10": 30,
    }
)
"""Highest fuse of small copper conductors whatever their insulation, NEC 240.4(D);
thinner than 18 AWG its ampacity [A]."""

AMPACITY_SOURCE = (
    "NEC Table 310.16 (30 °C air) with 310.15(B) for temperature and "
    "240.4(D) for small conductors; mm²: IEC 60364-5-52 Table B.52.2 method "
    "B1, unverified"
)
BASE_DEGC = 30.0


def photovoltaic_max_a(short_circuit_a: float, strings: int) -> float:
    """Return the highest current of a photovoltaic circuit [A].

    ``I = 1.25 * n * I_sc``

    Parameters
    ----------
    short_circuit_a
        Short-circuit current of one string at 1000 W/m2 [A].
    strings
        Strings in parallel [count].

    Returns
    -------
    float
        In sun brighter than 1000 W/m2 [A].

    References
    ----------
    NEC 690.8(A).

    Examples
    --------
    >>> photovoltaic_max_a(8.0, 2)
    20.0
    """
    return CONTINUOUS * strings * short_circuit_a


def photovoltaic_fuse_a(short_circuit_a: float, strings: int) -> float:
    """Return the least rating of fuse and wire in a photovoltaic circuit [A].

    ``I = 1.25 * 1.25 * n * I_sc``

    Parameters
    ----------
    short_circuit_a
        Short-circuit current of one string at 1000 W/m2 [A].
    strings
        Strings in parallel [count].

    Returns
    -------
    float
        1.5625 times the short-circuit current [A].

    References
    ----------
    NEC 690.8(A) and 690.8(B).

    Examples
    --------
    >>> round(photovoltaic_fuse_a(11.0, 1), 1)
    17.2
    """
    return PV_FACTOR * strings * short_circuit_a


def next_fuse_a(amps: float) -> float:
    """Return the smallest usual fuse that is not below a current [A].

    Parameters
    ----------
    amps
        Current that it must carry, factors included [A].

    Returns
    -------
    float
        Infinite above the list [A].

    References
    ----------
    NEC 240.6, from 15 A; smaller ones: common practice, no source.

    Examples
    --------
    >>> next_fuse_a(17.2), next_fuse_a(4.2)
    (20, 5)
    """
    return next((fuse for fuse in FUSES_A if fuse >= amps), math.inf)


def temperature_share(insulation_degc: float, air_degc: float) -> float:
    """Return the share of its ampacity that a conductor keeps in hot air [fraction].

    ``sqrt((T_insulation - T_air) / (T_insulation - 30))``

    Parameters
    ----------
    insulation_degc
        Highest temperature of the insulation [degC].
    air_degc
        Air round the conductor [degC].

    Returns
    -------
    float
        No credit below 30 degC; 0 where the air is as hot as the insulation may be
        [fraction].

    References
    ----------
    NEC 310.15(B), equation for other ambient temperatures.

    Examples
    --------
    >>> round(temperature_share(75.0, 40.0), 2)
    0.88
    """
    if air_degc <= BASE_DEGC:
        return 1.0
    room = (insulation_degc - air_degc) / (insulation_degc - BASE_DEGC)
    return math.sqrt(max(0.0, room))


def ampacity_a(gauge: str, insulation_degc: float | None, air_degc: float) -> float:
    """Return the current that a copper conductor carries for ever [A].

    Parameters
    ----------
    gauge
        Size, such as ``"16 AWG"`` or ``"2.5 mm2"`` [text].
    insulation_degc
        Highest temperature of the insulation; None takes 60 degC (AWG) or 70 degC
        (mm2), the least that wire is sold with [degC].
    air_degc
        Hottest air round the conductor [degC].

    Returns
    -------
    float
        Table value times the share kept in hot air [A].

    References
    ----------
    NEC Table 310.16; IEC 60364-5-52 Table B.52.2, unverified.

    Examples
    --------
    >>> ampacity_a("12 AWG", None, 25.0), ampacity_a("2.5 mm2", None, 30.0)
    (20.0, 24.0)
    """
    key = wire_key(gauge)
    if key in MM2_AMPACITY_A and "mm" in gauge.lower():
        limit, table_a = 70.0, MM2_AMPACITY_A[key]
    else:
        limit = _column(insulation_degc)
        table_a = AWG_AMPACITY_A[key][(60.0, 75.0, 90.0).index(limit)]
    return float(table_a) * temperature_share(limit, air_degc)


def _column(insulation_degc: float | None) -> float:
    given = insulation_degc or 60.0
    return max(column for column in (60.0, 75.0, 90.0) if column <= max(given, 60.0))


def wire_key(gauge: str) -> str:
    """Return the row of a wire size in the tables above [text].

    Parameters
    ----------
    gauge
        Size as a site file has it, AWG or mm2 [text].

    Returns
    -------
    str
        Number of the row, without its unit [text].

    Examples
    --------
    >>> wire_key("1/0 AWG"), wire_key("AWG 16"), wire_key("2.50 mm2")
    ('1/0', '16', '2.5')
    """
    text = gauge.strip()
    if "mm" in text.lower():
        return f"{float(re.split('mm', text, flags=re.IGNORECASE)[0]):g}"
    return re.sub(r"awg|#|\s", "", text, flags=re.IGNORECASE)


def highest_fuse_a(gauge: str, insulation_degc: float | None, air_degc: float) -> float:
    """Return the largest fuse that protects a conductor [A].

    Parameters
    ----------
    gauge, insulation_degc, air_degc
        As in `ampacity_a` [text, degC, degC].

    Returns
    -------
    float
        The next usual fuse at or above the ampacity, and not above what small
        conductors are allowed [A].

    References
    ----------
    NEC 240.4(B) and 240.4(D).

    Examples
    --------
    >>> highest_fuse_a("14 AWG", 90.0, 30.0), highest_fuse_a("6 AWG", None, 30.0)
    (15.0, 60.0)
    """
    most = next_fuse_a(ampacity_a(gauge, insulation_degc, air_degc))
    small = math.inf
    if "mm" in gauge.lower():
        most = ampacity_a(gauge, insulation_degc, air_degc)
    else:
        small = SMALL_FUSE_A.get(wire_key(gauge), math.inf)
    return float(min(most, small))
