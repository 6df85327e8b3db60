"""What pieces of a site cost, the site file's own prices first.

Built-in prices stand in `prices.toml`, each with its range, source and status word.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from powerbudget.site.costs import ENERGY_KWH, MASS_KG, POWER_W, Costs, Price
from powerbudget.site.tables import Site

CHEMISTRY_GROUP = {
    "lfp": "lithium",
    "lithium-ion": "lithium",
    "nicd": "nicd",
    "nicd-arctic": "nicd",
}


@dataclass(frozen=True)
class PricedAssumption:
    """One figure that a comparison rests on.

    Parameters
    ----------
    key
        How the site file would state it [text].
    title
        In words [text].
    value, low, high
        Figure and the range that its source leaves; both ends equal when the site
        file states it [its unit].
    unit
        With the currency where it is a price [text].
    source, status
        Where it came from; ``site file`` when the site states it [text].
    """

    key: str
    title: str
    value: float
    low: float
    high: float
    unit: str
    source: str
    status: str


ENDS = ("low", "value", "high")


@cache
def price_tables() -> dict[str, Any]:
    """Return the built-in prices with their sources and status words [tables]."""
    path = Path(__file__).with_name("prices.toml")
    return tomllib.loads(path.read_text(encoding="utf-8"))


def price_row(name: str) -> dict[str, Any]:
    """Return a built-in figure by its name, as ``battery.lead`` [table]."""
    row: Any = price_tables()
    for part in name.split("."):
        row = row[part]
    return dict(row)


class PieceBook:
    """Prices of a site, its own first; remembers which were used.

    Parameters
    ----------
    tables
        The site file's tables.
    """

    def __init__(self, tables: Site) -> None:
        self.own = tables.costs or Costs()
        self.mode = tables.access.mode if tables.access else "road"
        self.chemistry = CHEMISTRY_GROUP.get(tables.battery.chemistry, "lead")
        self.used: dict[str, PricedAssumption] = {}
        self.missing: dict[str, str] = {}

    @property
    def currency(self) -> str:
        """Currency of every sum [text]."""
        return self.own.currency

    def keep(self, key: str, title: str, value: float, unit: str) -> float:
        """Remember a figure of the site file and return it [its unit]."""
        source = (self.own.source or "the site file").split("\n")[0]
        self.used[key] = PricedAssumption(
            key, title, value, value, value, unit, source, "user input"
        )
        return value

    def money(self, key: str) -> float:
        """Return what a US dollar is in this currency, and note where it is missing."""
        if self.own.per_usd is not None:
            return self.own.per_usd
        if self.currency.upper() != "USD":
            self.missing[key] = self.currency
        return 1.0

    def take(self, key: str, name: str, own: float | None, *, money: bool) -> float:
        """Return the site's figure, or the built-in one, and remember it.

        Parameters
        ----------
        key
            How the site file would state it [text].
        name
            In the built-in tables [text].
        own
            The site's own figure [same unit].
        money
            Whether it is a price.

        Returns
        -------
        float
            In the site's currency where it is a price.
        """
        row = price_row(name)
        unit = row["unit"]
        if money:
            unit = f"{self.currency}/{unit}" if unit else self.currency
        if own is not None:
            return self.keep(key, row["title"], own, unit)
        rate = self.money(key) if money else 1.0
        ends = [rate * row[end] for end in ENDS]
        return self.built_in(
            key, row["title"], ends, unit, row["source"], row["status"]
        )

    def built_in(
        self, key: str, title: str, ends: list[float], unit: str, *said: str
    ) -> float:
        """Remember low, typical and high of a built-in figure, source and status."""
        low, value, high = ends
        self.used[key] = PricedAssumption(key, title, value, low, high, unit, *said)
        return float(value)

    def figure(self, key: str, name: str, own: float | None) -> float:
        """Return a figure that is no price [its unit]."""
        return self.take(key, name, own, money=False)

    def lump(self, key: str, name: str, own: Price | None) -> float:
        """Return the price of one piece [currency]."""
        return self.take(key, name, own.amount if own else None, money=True)

    def each(
        self, key: str, name: str, own: Price | None, units: dict[str, float]
    ) -> float:
        """Return the price of one base unit of a table of units [currency]."""
        return self.take(key, name, own.per(units) if own else None, money=True)

    def module(self, watts_w: float) -> float:
        """Return the price of one module with its share of mast [currency]."""
        frame = self.structure(watts_w) if self.bare_modules else 0.0
        return frame + self.module_alone(watts_w)

    @property
    def bare_modules(self) -> bool:
        """Whether the price of a module has no mast in it, as the built-in one has."""
        own, equipment = self.own.module, self.own.equipment
        alone = own is not None and equipment.module_power is None
        return alone or equipment.structure is not None

    def module_alone(self, watts_w: float) -> float:
        """Return the price of one module as the site file states it [currency]."""
        own, power = self.own.module, self.own.equipment.module_power
        if own is not None and power is None:
            return self.keep("costs.module", "solar module, one", own, self.currency)
        key = "costs.equipment.module_power"
        return self.each(key, "module", power, POWER_W) * watts_w

    def structure(self, watts_w: float) -> float:
        """Return the price of mast and frame for some modules [currency]."""
        own, key = self.own.equipment.structure, "costs.equipment.structure"
        return self.each(key, "structure", own, POWER_W) * watts_w

    def masts(self, watts_w: float) -> int:
        """Return the masts that carry some modules [count]."""
        own, key = self.own.equipment.mast_carries_w, "costs.equipment.mast_carries"
        return math.ceil(watts_w / self.figure(key, "mast_carries", own) - 1e-9)

    def foundation(self) -> float:
        """Return the price of the foundation of one mast [currency]."""
        own, key = self.own.equipment.foundation, "costs.equipment.foundation"
        return self.lump(key, "foundation", own)

    def box(self, stored_wh: float) -> float:
        """Return the price of boxes or racks for some batteries [currency]."""
        own, key = self.own.equipment.box, "costs.equipment.box"
        return self.each(key, "box", own, ENERGY_KWH) * stored_wh / 1000.0

    def freight(self) -> float:
        """Return what it costs to bring equipment to the site [currency/kg]."""
        own = self.own.trips.freight
        return self.each("costs.trips.freight", f"freight.{self.mode}", own, MASS_KG)

    def battery(self, unit_wh: float) -> float:
        """Return the price of one battery unit [currency]."""
        own, energy = self.own.battery_unit, self.own.equipment.battery_energy
        if own is not None and energy is None:
            return self.keep(
                "costs.battery_unit", "battery unit, one", own, self.currency
            )
        key, name = "costs.equipment.battery_energy", f"battery.{self.chemistry}"
        return self.each(key, name, energy, ENERGY_KWH) * unit_wh / 1000.0

    def regulator(self, array_w: float) -> float:
        """Return the price of a regulator for an array [currency]."""
        own, key = (
            self.own.equipment.charge_controller,
            "costs.equipment.charge_controller",
        )
        return self.each(key, "charge_controller", own, POWER_W) * array_w

    def mass(self, what: str) -> float:
        """Return a mass for each unit of size; the site file cannot state it [kg]."""
        name = f"mass.{what}"
        return self.figure(name, name, None)
