"""Chemistries as named, sourced data: `powerbudget/battery/chemistries.toml`."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
NODES = 101
"""State tables hold one value for every whole percent, 0 to 100."""


@dataclass(frozen=True)
class Curve:
    """A named line through points, flat beyond its ends.

    Parameters
    ----------
    x, y
        Points, x rising [units of the curve].
    source
        Where the points come from [text].
    """

    x: tuple[float, ...]
    y: tuple[float, ...]
    source: str = ""

    def at(self, value: float | Floats) -> Any:
        """Return the curve's value at one or many places [unit of y]."""
        return np.interp(value, self.x, self.y)


@dataclass(frozen=True)
class Chemistry:
    """What one chemistry does, per cell and per ampere-hour.

    Parameters
    ----------
    name, title
        Key in the data file and plain words [text].
    cell_v
        Nominal volts of one cell [V].
    open_circuit
        Rest voltage by state, 25 degC [V per cell].
    open_circuit_v_per_k
        Its change with temperature [V/K per cell].
    efficiency
        Ampere-hour charge efficiency by state [fraction].
    discharge_ohm_ah, discharge_low_state_ohm_ah
        Resistance terms of `discharge_ohm_ah` [ohm Ah per cell].
    charge_ohm_ah, charge_near_full_ohm_ah
        Resistance terms of `charge_ohm_ah` [ohm Ah per cell].
    discharge_by_degc, charge_by_degc
        Multipliers on resistance by battery temperature [ratio].
    absorption_v, compensation_v_per_k
        Regulation voltage at 25 degC and its slope [V, V/K per cell].
    regulation_min_v, regulation_max_v
        Clamps on the compensated voltage [V per cell].
    charge_min_degc, charge_max_degc
        Charging is blocked outside these battery temperatures [degC].
    charge_limit_per_h
        Highest charge current over rated Ah [1/h].
    self_discharge_per_month
        Share of the charge lost in 30 days at 20 degC [fraction].
    rate
        Capacity by discharge time over that at 20 h [ratio].
    cold
        Capacity by temperature over that at 25 degC, by curve name [ratio].
    sources
        Source of each figure, by key [text].
    """

    name: str
    title: str
    cell_v: float
    open_circuit: Curve
    open_circuit_v_per_k: float
    efficiency: Curve
    discharge_ohm_ah: float
    discharge_low_state_ohm_ah: float
    charge_ohm_ah: float
    charge_near_full_ohm_ah: float
    discharge_by_degc: Curve
    charge_by_degc: Curve
    absorption_v: float
    compensation_v_per_k: float
    regulation_min_v: float
    regulation_max_v: float
    charge_min_degc: float
    charge_max_degc: float
    charge_limit_per_h: float
    self_discharge_per_month: float
    rate: Curve
    cold: dict[str, Curve]
    sources: dict[str, str]


def _curve(points: list[list[float]], source: str = "") -> Curve:
    x, y = zip(*points, strict=True)
    return Curve(tuple(map(float, x)), tuple(map(float, y)), source)


def _build(name: str, table: dict[str, Any]) -> Chemistry:
    cold = {k: _curve(v["points"], v["source"]) for k, v in table.pop("cold").items()}
    sources = {k: v for k, v in table.items() if k.endswith(("_source", "_status"))}
    curves = ("open_circuit", "efficiency", "discharge_by_degc", "charge_by_degc")
    figures: dict[str, Any] = {
        key: _curve(value) if key in {*curves, "rate"} else value
        for key, value in table.items()
        if key not in sources
    }
    return Chemistry(name=name, cold=cold, sources=sources, **figures)


@cache
def chemistries() -> dict[str, Chemistry]:
    """Return every built-in chemistry by name [Chemistry].

    Examples
    --------
    >>> sorted(chemistries())
    ['agm', 'flooded', 'gel', 'lfp']
    """
    path = Path(__file__).with_name("chemistries.toml")
    tables = tomllib.loads(path.read_text(encoding="utf-8"))
    return {name: _build(name, table) for name, table in tables.items()}
