"""Kinds of sources and fuels: what `powerbudget/data` holds, as the machines ask it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from powerbudget.data.figures import Entry, Figure, entries

MJ_TO_WH = 1e6 / 3600.0


@dataclass(frozen=True)
class Fuel:
    """A fuel and its heat.

    Parameters
    ----------
    name, title
        Key in the data file, and plain words [text].
    unit
        Unit in which people count it, ``m3`` or ``L``; empty without fuel [text].
    litres_per_unit
        Litres in that unit [L].
    heat
        Higher heating value [MJ/L].
    kg_per_l
        Density of the liquid, None for gas by pipe [kg/L].
    net_over_gross_frac
        Lower over higher heating value [fraction].
    fill_frac, unusable_frac
        How full a store may be made, and what cannot be drawn [fraction].
    """

    name: str
    title: str
    unit: str
    litres_per_unit: float
    heat: Figure
    kg_per_l: float | None = None
    net_over_gross_frac: float = 1.0
    fill_frac: float = 1.0
    unusable_frac: float = 0.0

    @property
    def heat_mj_per_l(self) -> float:
        """Higher heating value [MJ/L]."""
        return self.heat.value

    @property
    def heat_wh_per_unit(self) -> float:
        """Heat in one counting unit, higher heating value [Wh]."""
        return self.heat_mj_per_l * self.litres_per_unit * MJ_TO_WH

    def mj_per(self, unit: str) -> float | None:
        """Return the higher heating value by a unit of sale [MJ/unit].

        Parameters
        ----------
        unit
            ``m3``, ``L`` or ``kg`` [text].

        Returns
        -------
        float or None
            None where nobody counts this fuel so: gas by the cubic metre, liquids by
            litre or kilogram.

        Examples
        --------
        >>> fuels()["natural-gas"].mj_per("m3"), fuels()["natural-gas"].mj_per("kg")
        (38.23, None)
        >>> round(fuels()["methanol"].mj_per("kg"), 2)
        22.68
        """
        if unit == self.unit:
            return self.heat_mj_per_l * self.litres_per_unit
        if unit == "kg" and self.kg_per_l:
            return self.heat_mj_per_l / self.kg_per_l
        return None


@cache
def fuels() -> dict[str, Fuel]:
    """Return every fuel by name [Fuel]."""
    return {name: _fuel(entry) for name, entry in entries("fuels").items()}


def _fuel(entry: Entry) -> Fuel:
    optional = ("kg_per_l", "net_over_gross_frac", "fill_frac", "unusable_frac")
    return Fuel(
        name=entry.name,
        title=entry.title,
        unit=entry.words["counted_in"],
        litres_per_unit=entry.words["litres_per_unit"],
        heat=entry.figure("heat_mj_per_l"),
        **{key: entry.figure(key).value for key in optional if entry.has(key)},
    )


def regulator_drop_kpa(fuel: str) -> float:
    """Return what a pressure regulator needs above its outlet [kPa].

    Parameters
    ----------
    fuel
        What flows through it; 0 where it needs none [text].
    """
    entry = entries("fuels")[fuel]
    key = "regulator_drop_kpa"
    return entry.figure(key).value if entry.has(key) else 0.0


def source_kinds() -> Mapping[str, Entry]:
    """Return every kind of source by name: titles, fuels and figures [Entry]."""
    return entries("machines")
