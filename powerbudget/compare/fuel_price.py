"""A fuel's price by whatever it is sold: volume, mass or heat."""

from __future__ import annotations

import math

from powerbudget.compare.emissions import GALLON_L, J_PER_MMBTU, SCF_M3
from powerbudget.generators.library import fuels
from powerbudget.site.costs import Price


def fuel_si(price: Price, fuel: str) -> float:
    """Return a fuel's price per m3 of gas or litre of liquid [currency].

    Parameters
    ----------
    price
        As written.
    fuel
        Which fuel [text].

    Returns
    -------
    float
        Energy units by the higher heating value [currency per m3 or L].

    Examples
    --------
    >>> round(fuel_si(Price(2.50, "USD", "gal"), "propane"), 4)
    0.6604
    >>> round(fuel_si(Price(3.0, "USD", "Mcf"), "natural-gas"), 4)
    0.1059
    """
    row = fuels()[fuel]
    heat_j = row.heat_mj_per_l * 1e6 * row.litres_per_unit
    gas = row.unit == "m3"
    units = {
        "L": 1.0,
        "gal": GALLON_L,
        "m3": 1.0 if gas else 1000.0,
        "scf": SCF_M3,
        "Mcf": 1000.0 * SCF_M3,
        "kg": 1.0 / row.kg_per_l if row.kg_per_l else math.nan,
        "GJ": 1e9 / heat_j,
        "mmBtu": J_PER_MMBTU / heat_j,
    }
    return price.amount / units[price.unit]
