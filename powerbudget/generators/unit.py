"""One ``[[generator]]`` with every figure settled: the file's own, or the kind's."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from powerbudget.data.figures import Entry, Figure
from powerbudget.generators.fuel_line import (
    fuel_slope,
    fuel_w,
    full_fuel_w,
    litres_per_day,
)
from powerbudget.generators.library import (
    Fuel,
    fuels,
    regulator_drop_kpa,
    source_kinds,
)
from powerbudget.generators.output import age_frac, altitude_frac, ambient_frac
from powerbudget.site.generator import Generator
from powerbudget.site.generator_checks import follows_load, runs_always
from powerbudget.site.tables import Site

NOT_ADJUSTED = "altitude_not_adjusted_per_km"
"""Figure of a kind whose output hangs on whether its fuel is re-set for the site."""
PIPED = ("natural-gas", "none")


@dataclass(frozen=True)
class Machine:
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
    kind: Entry
    fuel: Fuel
    elevation_m: float

    def figure(self, name: str) -> float:
        """Return a figure of the file, or of the kind where the file has none."""
        own = getattr(self.table, name, None)
        return self.data(name).value if own is None else float(own)

    def data(self, name: str) -> Figure:
        """Return a figure of the kind for this fuel and size, whatever the file says.

        Parameters
        ----------
        name
            Its key in the data file [text].

        Returns
        -------
        Figure
            ``altitude_per_km`` is that of a burner as set at sea level unless the
            file says that its fuel is re-set for the site.

        Raises
        ------
        KeyError
            When the kind has no such figure.
        """
        if (
            name == "altitude_per_km"
            and self.kind.has(NOT_ADJUSTED)
            and not self.table.fuel_adjusted_for_altitude
        ):
            name = NOT_ADJUSTED
        return self.kind.figure(name, self.fuel.name, self.table.rated_w)

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
        return self.figure("no_load_fuel_frac")

    @property
    def idle_fuel_w(self) -> float:
        """Heat in the fuel burnt without load [W]."""
        return self.no_load_frac * self.full_fuel_w

    @property
    def fuel_slope(self) -> float:
        """Further heat for each watt at the terminals [ratio]."""
        return fuel_slope(self.rated_w, self.full_fuel_w, self.no_load_frac)

    def fuel_w(self, output_w: Any) -> Any:
        """Return heat in the fuel burnt at an output at the terminals [W].

        Parameters
        ----------
        output_w
            Of all of them [W].

        Returns
        -------
        array or float
            On the straight line from no load to rated output, higher heating value;
            the kernel walks the same line by `idle_fuel_w` and `fuel_slope` [W].
        """
        return fuel_w(output_w, self.rated_w, self.full_fuel_w, self.no_load_frac)

    def fuel_per_day(self, output_w: Any) -> Any:
        """Return the fuel burnt in a day at an output [m3/day or L/day].

        Parameters
        ----------
        output_w
            Of all of them, at the terminals [W].
        """
        litres = litres_per_day(self.fuel_w(output_w), self._heat)
        return litres / self.fuel.litres_per_unit

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
        if not self.kind.has("burner_pressure_kpa", self.fuel.name):
            return 0.0
        return self.data("burner_pressure_kpa").value

    @property
    def drop_kpa(self) -> float:
        """What the pressure regulator needs above that [kPa]."""
        own = self.table.regulator_drop_kpa
        return regulator_drop_kpa(self.fuel.name) if own is None else own

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
            Derated by ambient, altitude and age, capped by its limiter or, where none
            is stated, at what a kind is trusted with above its rating; 0 outside the
            temperatures in which it works [W].
        """
        air = np.asarray(air_degc, float)
        share = ambient_frac(
            air,
            self.figure("ambient_per_k"),
            self.figure("rated_degc"),
            self.figure("ambient_from_degc"),
        )
        share = share * altitude_frac(
            self.elevation_m,
            self.figure("altitude_per_km"),
            self.figure("altitude_reference_m"),
        )
        share = share * age_frac(self.table.age_y, self.figure("ageing_per_y"))
        works = (air >= self.figure("lowest_degc")) & (
            air <= self.figure("highest_degc")
        )
        return np.where(works, np.minimum(share * self.rated_w, self._most_w), 0.0)

    @property
    def _most_w(self) -> float:
        limit = self.table.power_limit_w
        if limit is not None:
            return limit * self.table.quantity
        return self.figure("most_of_rated_frac") * self.rated_w

    def bus_w(self, air_degc: Any) -> Any:
        """Return what it gives at the bus at an air temperature [W].

        Parameters
        ----------
        air_degc
            Ambient temperature [degC].

        Returns
        -------
        array
            `terminal_w` through its charger, where it has one [W].
        """
        return self.terminal_w(air_degc) * self.figure("charger_efficiency_frac")

    def with_fuel_adjusted(self, adjusted: bool) -> Machine:
        """Return the same with its fuel re-set for the site's altitude, or not [Machine].

        Parameters
        ----------
        adjusted
            As ``fuel_adjusted_for_altitude`` of the site file [flag].
        """
        table = self.table.model_copy(update={"fuel_adjusted_for_altitude": adjusted})
        return replace(self, table=table)


def make_unit(table: Generator, elevation_m: float) -> Machine:
    """Return a generator with its figures settled [Machine].

    Parameters
    ----------
    table
        The site file's table.
    elevation_m
        Height of the site [m].
    """
    fuel = fuels()[table.fuel]
    if table.heating_value_mj_m3 is not None and fuel.name == "natural-gas":
        own = table.heating_value_mj_m3 / 1000.0
        stated = Figure(own, own, own, "MJ/L", "site file", "user input")
        fuel = replace(fuel, heat=stated)
    return Machine(table, source_kinds()[table.kind], fuel, elevation_m)


def make_units(tables: Site) -> tuple[Machine, ...]:
    """Return every generator of a site with its figures settled [Machine]."""
    return tuple(make_unit(t, tables.site.elevation_m) for t in tables.generator)
