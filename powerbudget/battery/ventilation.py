"""Air that a battery place needs against hydrogen from charging.

A figure to plan with.  The codes in force, the maker's data and the area
classification of the site decide.
"""

from __future__ import annotations

from dataclasses import dataclass

from powerbudget.battery.bank import Bank

FLOW_FACTOR = 0.05
"""Dilution to 4 %, 0.42e-3 m3 of hydrogen per Ah and a safety factor of 5."""


@dataclass(frozen=True)
class Ventilation:
    """Hydrogen ventilation of a bank.

    Parameters
    ----------
    mode
        ``float`` or ``boost`` [text].
    gas_ma_ah
        Current that makes gas [mA/Ah].
    cells, rated_ah
        Cells in series and name-plate Ah of all strings [count, Ah].
    flow_m3_h
        Air to move through the place [m3/h].
    opening_cm2
        Each of two openings, inlet low and outlet high [cm2].
    free_volume_m3
        Free air volume of the place for natural ventilation [m3].
    """

    mode: str
    gas_ma_ah: float
    cells: int
    rated_ah: float
    flow_m3_h: float
    opening_cm2: float
    free_volume_m3: float


def ventilation_flow_m3_h(cells: int, gas_ma_ah: float, rated_ah: float) -> float:
    """Return the air flow that keeps hydrogen below its limit [m3/h].

    Parameters
    ----------
    cells
        Cells in series [count].
    gas_ma_ah
        Current that makes gas [mA/Ah].
    rated_ah
        Rated Ah of all strings together [Ah].

    Returns
    -------
    float
        ``0.05 x cells x gas x Ah / 1000`` [m3/h].

    Notes
    -----
    For battery temperatures to about 40 degC; gas roughly doubles for every 10 K
    above (unverified).

    References
    ----------
    EN 50272-2 / IEC 62485-2, ventilation requirements; factors as quoted in a
    published summary of EN 50272-3 (24 x 0.42e-3 x 5 = 0.05).

    Examples
    --------
    >>> round(ventilation_flow_m3_h(12, 20, 500), 2)
    6.0
    """
    return FLOW_FACTOR * cells * gas_ma_ah * rated_ah / 1000.0


def opening_cm2(flow_m3_h: float) -> float:
    """Return the area of each of two natural openings [cm2].

    Parameters
    ----------
    flow_m3_h
        Air flow [m3/h].

    Returns
    -------
    float
        28 times the flow, for 0.1 m/s in the opening [cm2].

    References
    ----------
    EN 50272-2 / IEC 62485-2, natural ventilation, as quoted in published notes.

    Examples
    --------
    >>> opening_cm2(1.5)
    42.0
    """
    return 28.0 * flow_m3_h


def ventilation(bank: Bank, mode: str) -> Ventilation:
    """Return the ventilation of a bank for a charge mode.

    Parameters
    ----------
    bank
        The bank.
    mode
        ``float`` or ``boost``; a bank that the sun brings to its absorption voltage
        every day counts as boost [text].

    Returns
    -------
    Ventilation
        All zero for a chemistry that makes no hydrogen.
    """
    c = bank.chemistry
    gas = c.gas_boost_ma_ah if mode == "boost" else c.gas_float_ma_ah
    flow = ventilation_flow_m3_h(bank.cells, gas, bank.nameplate_ah)
    return Ventilation(
        mode=mode,
        gas_ma_ah=gas,
        cells=bank.cells,
        rated_ah=bank.nameplate_ah,
        flow_m3_h=flow,
        opening_cm2=opening_cm2(flow),
        free_volume_m3=2.5 * flow,
    )
