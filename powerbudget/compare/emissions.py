"""What burning a fuel emits: published factors, warming potential by name."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

J_PER_MMBTU = 1.05505585262e9
"""International-table Btu [J]."""
SCF_M3 = 0.028316846592
"""Cubic metres of gas in a cubic foot, same conditions [m3]."""
GALLON_L = 3.785411784
"""Litres in a US gallon [L]."""
UNIT_SI = {"scf": (SCF_M3, "m3"), "gal": (GALLON_L, "L")}
HOURS_PER_YEAR = 8760.0


@cache
def emission_tables() -> dict[str, Any]:
    """Return the tables of factors with their sources and status words [tables]."""
    path = Path(__file__).with_name("emissions.toml")
    return tomllib.loads(path.read_text(encoding="utf-8"))


@dataclass(frozen=True)
class Emission:
    """What is emitted in a year.

    Parameters
    ----------
    co2_kg, ch4_kg, n2o_kg
        Each gas [kg].
    gwp
        Which set of warming potentials [text].
    co2e_kg
        Their sum as CO2 of the same warming over 100 years [kg].
    source
        Of the factors [text].
    """

    co2_kg: float
    ch4_kg: float
    n2o_kg: float
    gwp: str
    co2e_kg: float
    source: str


def fuel_heat_mmbtu(quantity: float, fuel: str) -> float:
    """Return the heat in a quantity of fuel, higher heating value [mmBtu].

    Parameters
    ----------
    quantity
        Gas at 60 degF and 1 atm, or liquid [m3 or L].
    fuel
        A fuel of the emission tables [text].

    Returns
    -------
    float
        By the default heating values of 40 CFR 98 [mmBtu].

    Examples
    --------
    >>> round(fuel_heat_mmbtu(2750.0, "natural-gas"), 2)
    99.64

    References
    ----------
    40 CFR 98 subpart C, Table C-1.
    """
    row = emission_tables()["fuel"][fuel]
    return float(quantity / UNIT_SI[row["unit"]][0] * row["hhv_mmbtu_per_unit"])


def fuel_quantity(heat_mmbtu: float, fuel: str) -> float:
    """Return the quantity of fuel that holds a heat [m3 or L].

    Parameters
    ----------
    heat_mmbtu
        Higher heating value [mmBtu].
    fuel
        A fuel of the emission tables [text].

    Returns
    -------
    float
        Inverse of `fuel_heat_mmbtu` [m3 or L].

    Examples
    --------
    >>> round(fuel_quantity(99.635, "propane"))
    4145
    """
    row = emission_tables()["fuel"][fuel]
    return float(heat_mmbtu / row["hhv_mmbtu_per_unit"] * UNIT_SI[row["unit"]][0])


def emission(
    heat_mmbtu: float, fuel: str, burnt_in: str = "burner", gwp: str = "AR5"
) -> Emission:
    """Return what a year's fuel emits, with the warming of each gas [kg].

    Parameters
    ----------
    heat_mmbtu
        Fuel burnt, higher heating value [mmBtu].
    fuel
        A fuel of the emission tables [text].
    burnt_in
        ``burner``, ``rich-burn-engine``, ``lean-burn-engine``,
        ``two-stroke-engine`` or ``fuel-cell``: how much methane slips [text].
    gwp
        ``AR4``, ``AR5`` or ``AR6``, 100 years [text].

    Returns
    -------
    Emission
        Of combustion at the site alone [kg].

    Notes
    -----
    Nothing is counted for making equipment, for bringing fuel or for visits.  Slip
    replaces the methane factor of natural gas only; another fuel holds no methane
    that could slip.

    Examples
    --------
    100 W of rated output at 3.0 % of the higher heating value, all year:

    >>> gas = emission(99.6345, "natural-gas")
    >>> round(gas.co2_kg, 1), round(gas.ch4_kg, 4), round(gas.co2e_kg, 1)
    (5286.6, 0.0996, 5292.0)
    >>> round(emission(99.6345, "propane").co2e_kg, 1)
    6288.2

    References
    ----------
    40 CFR 98 subpart C, Tables C-1 and C-2; slip by the sources in the table.
    """
    tables = emission_tables()
    row, slip, weights = tables["fuel"][fuel], tables["slip"][burnt_in], tables["gwp"]
    ch4 = row["ch4_kg_per_mmbtu"]
    source = row["source"]
    if fuel == "natural-gas" and "ch4_kg_per_mmbtu" in slip:
        ch4, source = slip["ch4_kg_per_mmbtu"], f"{source}; CH4: {slip['source']}"
    co2_kg = heat_mmbtu * row["co2_kg_per_mmbtu"]
    ch4_kg, n2o_kg = heat_mmbtu * ch4, heat_mmbtu * row["n2o_kg_per_mmbtu"]
    total = co2_kg + weights[gwp]["ch4"] * ch4_kg + weights[gwp]["n2o"] * n2o_kg
    return Emission(co2_kg, ch4_kg, n2o_kg, gwp, total, source)


def vented_ch4_kg(devices: int, kind: str) -> float:
    """Return the methane that gas-driven devices vent in a year [kg].

    Parameters
    ----------
    devices
        How many [count].
    kind
        ``low-bleed``, ``intermittent``, ``high-bleed`` or ``pump`` [text].

    Returns
    -------
    float
        By the whole-gas factors of the reporting rule [kg].

    Notes
    -----
    Said as a note and never subtracted: any source of power lets electric devices
    take the place of gas-driven ones, so it tells nothing about which to choose.

    Examples
    --------
    >>> round(vented_ch4_kg(1, "low-bleed"))
    932

    References
    ----------
    40 CFR 98 subpart W, Table W-1.
    """
    tables = emission_tables()
    per_h = tables["pneumatic"][kind]["scf_per_h"]
    return float(devices * per_h * HOURS_PER_YEAR * tables["vented"]["ch4_kg_per_scf"])
