"""Fuel, heat and electricity: the energy balance behind a claim about a generator."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

MJ_PER_KWH = 3.6
HOURS_PER_YEAR = 8766.0


@dataclass(frozen=True)
class Fuel:
    """A fuel's gross heat by the unit in which it is sold.

    Parameters
    ----------
    name, title
        Key and plain words [text].
    gross_mj
        Unit ``m3``, ``L`` or ``kg`` to gross heat [MJ/unit].
    net_ratio
        Net over gross heat [fraction].
    range_frac
        How far the heat of a cubic metre runs from the mean [fraction, fraction].
    source, status
        Where from [text].
    """

    name: str
    title: str
    gross_mj: dict[str, float]
    net_ratio: float
    range_frac: tuple[float, float]
    source: str
    status: str


@dataclass(frozen=True)
class Generator:
    """A kind of generator by what is plausible for it.

    Parameters
    ----------
    name, title
        Key and plain words [text].
    low_frac, typical_frac, high_frac
        Electric output over gross heat [fraction].
    fuels
        What it burns [names].
    idle_full
        Whether it burns its full fuel at any load.
    derate_per_k, rated_degc
        Loss of output per degree above the rating temperature [1/K, degC].
    altitude_from_m, altitude_per_300_m
        Height from which output falls, and by how much [m, fraction].
    source, status
        Where from [text].
    """

    name: str
    title: str
    low_frac: float
    typical_frac: float
    high_frac: float
    fuels: tuple[str, ...]
    idle_full: bool
    derate_per_k: float
    rated_degc: float
    altitude_from_m: float
    altitude_per_300_m: float
    source: str
    status: str


@cache
def _data() -> dict[str, Any]:
    path = Path(__file__).with_name("fuels.toml")
    return tomllib.loads(path.read_text(encoding="utf-8"))


@cache
def fuels() -> dict[str, Fuel]:
    """Return every fuel by name [Fuel].

    Examples
    --------
    >>> fuels()["natural-gas"].gross_mj["m3"]
    38.23
    """
    found = {}
    for name, row in _data()["fuel"].items():
        heat = {
            unit: row[f"gross_mj_per_{unit.lower()}"]
            for unit in ("m3", "L", "kg")
            if f"gross_mj_per_{unit.lower()}" in row
        }
        base = row.get("gross_mj_per_m3", 1.0)
        span = (
            row.get("low_mj_per_m3", base) / base,
            row.get("high_mj_per_m3", base) / base,
        )
        found[name] = Fuel(
            name,
            row["title"],
            heat,
            row["net_ratio"],
            span,
            row["source"],
            row["status"],
        )
    return found


@cache
def generators() -> dict[str, Generator]:
    """Return every kind of generator by name [Generator].

    Examples
    --------
    >>> generators()["thermoelectric"].high_frac
    0.035
    """
    found = {}
    for name, given in _data()["generator"].items():
        row = dict(given)
        low, typical, high = row.pop("efficiency")
        row["fuels"] = tuple(row["fuels"])
        found[name] = Generator(
            name=name, low_frac=low, typical_frac=typical, high_frac=high, **row
        )
    return found


def fuel_used(
    electric_w: Any, hours: Any, heat_mj_per_unit: Any, efficiency_frac: Any
) -> Any:
    """Return the fuel behind an electric output [unit of fuel].

    ``fuel = W * h * 0.0036 / (MJ/unit * efficiency)``

    Parameters
    ----------
    electric_w, hours
        Output and how long [W, h].
    heat_mj_per_unit
        Gross heat of a unit of fuel [MJ/unit].
    efficiency_frac
        Electric output over gross heat [fraction].

    Returns
    -------
    float or array
        Amount of fuel [unit].

    Examples
    --------
    >>> round(fuel_used(50.0, 8766.0, 38.23, 0.03), 0)
    1376.0
    """
    return electric_w * hours * MJ_PER_KWH / 1000 / (heat_mj_per_unit * efficiency_frac)


def implied_efficiency_frac(
    electric_w: Any, hours: Any, heat_mj_per_unit: Any, amount: Any
) -> Any:
    """Return the efficiency that an amount of fuel implies [fraction].

    Parameters
    ----------
    electric_w, hours
        Output and how long [W, h].
    heat_mj_per_unit
        Gross heat of a unit of fuel [MJ/unit].
    amount
        Fuel [unit].

    Returns
    -------
    float or array
        Electric output over gross heat; above 1 nothing can do it [fraction].

    Examples
    --------
    >>> round(implied_efficiency_frac(1000.0, 1.0, 17.94, 0.9), 3)
    0.223
    """
    return electric_w * hours * MJ_PER_KWH / 1000 / (heat_mj_per_unit * amount)


def derated_w(
    rated_w: Any, ambient_degc: Any, generator: Generator, height_m: Any
) -> Any:
    """Return a generator's output in the heat and at a height [W].

    Parameters
    ----------
    rated_w
        Name-plate [W].
    ambient_degc
        Air around it; no credit below the rating temperature [degC].
    generator
        Its derates.
    height_m
        Above sea level [m].

    Returns
    -------
    float
        At least 0 [W].

    Examples
    --------
    >>> round(derated_w(100.0, 40.0, generators()["thermoelectric"], 0.0), 1)
    92.8
    """
    hot = max(0.0, ambient_degc - generator.rated_degc)
    high = max(0.0, height_m - generator.altitude_from_m) / 300.0
    factor = (1 - generator.derate_per_k * hot) * (
        1 - generator.altitude_per_300_m * high
    )
    return rated_w * max(0.0, factor)
