"""Kinds of sources and fuels as named, sourced data: ``sources.toml``, ``fuels.toml``."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent
MJ_TO_WH = 1e6 / 3600.0
Figures = tuple[tuple[float, float], ...]


RANGES = {"efficiency": "efficiency_range", "life": "life_range_h"}
"""Figures of a kind that have a range in the data, and its key there."""


@dataclass(frozen=True)
class Fuel:
    """A fuel and its heat.

    Parameters
    ----------
    name
        Key in the data file [text].
    unit
        Unit in which people count it, ``m3`` or ``L``; empty without fuel [text].
    litres_per_unit
        Litres in that unit [L].
    heat_mj_per_l
        Higher heating value [MJ/L].
    source, status
        Where the heat comes from, and its status word [text].
    fill_frac, unusable_frac
        How full a store may be made, and what cannot be drawn [fraction].
    """

    name: str
    unit: str
    litres_per_unit: float
    heat_mj_per_l: float
    source: str
    status: str
    fill_frac: float = 1.0
    unusable_frac: float = 0.0

    @property
    def heat_wh_per_unit(self) -> float:
        """Heat in one counting unit, higher heating value [Wh]."""
        return self.heat_mj_per_l * self.litres_per_unit * MJ_TO_WH


@dataclass(frozen=True)
class SourceKind:
    """What one kind of source does unless the site file says otherwise.

    Parameters
    ----------
    name, title
        Key in the data file and plain words [text].
    efficiency_frac
        Electricity over higher heating value at rated output [fraction].
    no_load_frac
        Fuel without load over fuel at rated output [fraction].
    rated_degc
        Ambient temperature of the rating [degC].
    ambient_per_k, ambient_from_degc
        Change of output above the rating temperature, and the ambient below which
        nothing changes any more [1/K, degC].
    altitude_per_km
        Output lost for each kilometre above sea level [1/km].
    ageing_per_y
        Output lost a year [1/year].
    warm_up_h, minimum_run_h
        Time without output after a start, and shortest run [h].
    lowest_degc, highest_degc
        Ambient temperatures between which it works [degC].
    service_every_h, life_h
        Running hours between services and to replacement [h].
    charger_efficiency_frac
        Between its terminals and the bus [fraction].
    burner_kpa
        Fuel name -> rated watts of a class and its burner pressure [W, kPa].
    notes
        Figure -> source and status word [text].
    ranges
        Figure -> what its source leaves open, where that is said [fraction, h].
    """

    name: str
    title: str
    efficiency_frac: float
    no_load_frac: float
    rated_degc: float
    ambient_per_k: float
    ambient_from_degc: float
    altitude_per_km: float
    ageing_per_y: float
    warm_up_h: float
    minimum_run_h: float
    lowest_degc: float
    highest_degc: float
    service_every_h: float
    life_h: float
    charger_efficiency_frac: float
    burner_kpa: dict[str, Figures]
    notes: dict[str, tuple[str, str]]
    ranges: dict[str, tuple[float, float]]

    def burner_pressure_kpa(self, fuel: str, rated_w: float) -> float:
        """Return the burner pressure of the class nearest in watts [kPa].

        Parameters
        ----------
        fuel
            Name of the fuel [text].
        rated_w
            Rated output of one unit [W].

        Returns
        -------
        float
            Gauge pressure, 0 where the kind asks for none [kPa].

        Notes
        -----
        The nearest class by ratio, not a line between classes: pressures of the
        classes do not rise with their watts.
        """
        classes = self.burner_kpa.get(fuel, ())
        if not classes:
            return 0.0
        ratio = [max(w / rated_w, rated_w / w) for w, _ in classes]
        return classes[ratio.index(min(ratio))][1]


def _read(name: str) -> dict[str, Any]:
    with (FOLDER / name).open("rb") as stream:
        return tomllib.load(stream)


@cache
def fuels() -> dict[str, Fuel]:
    """Return every fuel by name [Fuel]."""
    keys = {field.name for field in fields(Fuel)}
    return {
        name: Fuel(name=name, **{k: v for k, v in table.items() if k in keys})
        for name, table in _read("fuels.toml").items()
    }


@cache
def source_kinds() -> dict[str, SourceKind]:
    """Return every kind of source by name [SourceKind]."""
    found = {}
    for name, table in _read("sources.toml").items():
        plain = {field.name for field in fields(SourceKind)}
        found[name] = SourceKind(
            name=name,
            burner_kpa={
                fuel: tuple((float(w), float(p)) for w, p in table[key])
                for fuel, key in (
                    ("propane", "burner_propane"),
                    ("natural-gas", "burner_natural_gas"),
                )
                if key in table
            },
            notes={
                key.removesuffix("_source"): (
                    words,
                    table[key.removesuffix("source") + "status"],
                )
                for key, words in table.items()
                if key.endswith("_source")
            },
            ranges={
                figure: (float(table[key][0]), float(table[key][1]))
                for figure, key in RANGES.items()
                if key in table
            },
            **{k: v for k, v in table.items() if k in plain},
        )
    return found
