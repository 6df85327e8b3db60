"""One ``[[generator]]`` with every figure settled: the file's own, or the kind's."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from powerbudget.generators.fuelline import full_fuel_w, litres_per_day
from powerbudget.generators.library import Fuel, SourceKind, fuels, source_kinds
from powerbudget.generators.output import age_frac, altitude_frac, ambient_frac
from powerbudget.site.generatorchecks import follows_load, runs_always
from powerbudget.site.generatormodel import Generator
from powerbudget.site.model import Site

REGULATOR_DROP_KPA = 25.0
"""What a pressure regulator needs above its outlet: 15 to 35 kPa, from memory."""
PIPED = ("natural-gas", "none")


@dataclass(frozen=True)
class Unit:
    """A source with its figures.

    Parameters
    ----------
    table
        What the site file says.
    kind, fuel
        Defaults of its kind, and its fuel.
    elevation_m
        Height of the site [m].
    """

    table: Generator
    kind: SourceKind
    fuel: Fuel
    elevation_m: float

    def figure(self, name: str) -> float:
        """Return a figure of the file, or of the kind where the file has none."""
        own = getattr(self.table, name)
        return float(getattr(self.kind, name) if own is None else own)

    @property
    def name(self) -> str:
        """Name in the site file [text]."""
        return self.table.name

    @property
    def always(self) -> bool:
        """Whether it burns without asking the battery."""
        return runs_always(self.table)

    @property
    def follows(self) -> bool:
        """Whether its fuel depends on what the bus takes."""
        return follows_load(self.table)

    @property
    def piped(self) -> bool:
        """Whether its fuel comes by pipe, or it burns none."""
        return self.fuel.name in PIPED

    @property
    def rated_w(self) -> float:
        """Rated output of all of them, at their terminals [W]."""
        return self.table.rated_w * self.table.quantity

    @property
    def full_fuel_w(self) -> float:
        """Heat in the fuel at rated output, higher heating value [W]."""
        if self.fuel.name == "none":
            return 0.0
        own = self.table.fuel_use_l_d
        if own is not None:
            # Litres a day of one unit, times its heat.
            return float(own * self.table.quantity / litres_per_day(1.0, self._heat))
        return full_fuel_w(self.rated_w, self.figure("efficiency_frac"))

    @property
    def _heat(self) -> float:
        return self.fuel.heat_mj_per_l

    @property
    def no_load_frac(self) -> float:
        """Fuel without load over fuel at rated output [fraction]."""
        own = self.table.no_load_fuel_frac
        return self.kind.no_load_frac if own is None else own

    @property
    def idle_fuel_w(self) -> float:
        """Heat in the fuel burnt without load [W]."""
        return self.no_load_frac * self.full_fuel_w

    @property
    def fuel_slope(self) -> float:
        """Further heat for each watt at the terminals [ratio]."""
        return (1.0 - self.no_load_frac) * self.full_fuel_w / self.rated_w

    @property
    def needed_kpa(self) -> float:
        """Gauge pressure that the supply must have: burner and regulator [kPa]."""
        return self.burner_kpa + self.drop_kpa if self.burner_kpa else 0.0

    @property
    def burner_kpa(self) -> float:
        """Gauge pressure at the burner, 0 where none is asked [kPa]."""
        own = self.table.burner_pressure_kpa
        if own is not None:
            return own
        return self.kind.burner_pressure_kpa(self.fuel.name, self.table.rated_w)

    @property
    def drop_kpa(self) -> float:
        """What the pressure regulator needs above that [kPa]."""
        own = self.table.regulator_drop_kpa
        return REGULATOR_DROP_KPA if own is None else own

    @property
    def stock_l(self) -> float:
        """Fuel that can be used of full stores, infinite by pipe [L]."""
        tank = self.table.tank
        if tank is None:
            return float("inf")
        fill = self.fuel.fill_frac if tank.fill_frac is None else tank.fill_frac
        heel = tank.unusable_frac
        heel = self.fuel.unusable_frac if heel is None else heel
        return tank.volume_l * tank.count * max(0.0, fill - heel)

    @property
    def stock_wh(self) -> float:
        """Heat in that fuel [Wh]."""
        return self.stock_l * self._heat * 1e6 / 3600.0

    @property
    def stock_days(self) -> float:
        """Days at rated output on full stores [d]."""
        if self.full_fuel_w == 0.0:
            return float("inf")
        return self.stock_wh / (24.0 * self.full_fuel_w)

    def terminal_w(self, air_degc: Any) -> Any:
        """Return what it gives at its terminals at an air temperature [W].

        Parameters
        ----------
        air_degc
            Ambient temperature [degC].

        Returns
        -------
        array
            Derated by ambient, altitude and age, capped by its limiter; 0 outside
            the temperatures in which it works [W].
        """
        own = self.table.ambient_per_k
        per_k = self.kind.ambient_per_k if own is None else own
        air = np.asarray(air_degc, float)
        share = ambient_frac(
            air, per_k, self.kind.rated_degc, self.kind.ambient_from_degc
        )
        share = share * altitude_frac(self.elevation_m, self.figure("altitude_per_km"))
        share = share * age_frac(self.table.age_y, self.figure("ageing_per_y"))
        limit = self.table.power_limit_w
        top = np.inf if limit is None else limit * self.table.quantity
        works = (air >= self.figure("lowest_degc")) & (
            air <= self.figure("highest_degc")
        )
        return np.where(works, np.minimum(share * self.rated_w, top), 0.0)


def make_unit(table: Generator, elevation_m: float) -> Unit:
    """Return a generator with its figures settled [Unit].

    Parameters
    ----------
    table
        The site file's table.
    elevation_m
        Height of the site [m].
    """
    fuel = fuels()[table.fuel]
    if table.heating_value_mj_m3 is not None and fuel.name == "natural-gas":
        fuel = replace(
            fuel, heat_mj_per_l=table.heating_value_mj_m3 / 1000.0, source="site file"
        )
    return Unit(table, source_kinds()[table.kind], fuel, elevation_m)


def make_units(tables: Site) -> tuple[Unit, ...]:
    """Return every generator of a site with its figures settled [Unit].

    Parameters
    ----------
    tables
        The site file.
    """
    return tuple(make_unit(t, tables.site.elevation_m) for t in tables.generator)
