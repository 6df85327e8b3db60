"""Chemistries as named, sourced data: `powerbudget/data/chemistries.toml`."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from powerbudget.data.figures import tables
from powerbudget.site.cells import nominal_v

Floats = NDArray[np.float64]
NODES = 101
"""State tables hold one value for every whole percent, 0 to 100."""
CUT_K = 0.1
"""Over which a curve falls to 0 where a protection board cuts the battery off [K]."""


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

    def ending_at(self, least: float, below: Curve | None = None) -> Curve:
        """Return the same, 0 below a place that its own points need not reach [Curve].

        Parameters
        ----------
        least
            Where it ends [unit of x].
        below
            Further points, below those of this one that are not 0.

        Examples
        --------
        >>> half = Curve((-21.0, -20.0, 0.0), (0.0, 0.7, 0.9))
        >>> longer = half.ending_at(-25.0, Curve((-30.0,), (0.5,)))
        >>> [round(float(longer.at(x)), 2) for x in (-25.2, -25.0, -20.0, -10.0)]
        [0.0, 0.6, 0.7, 0.8]
        """
        points = [[x, y] for x, y in zip(self.x, self.y, strict=True) if y > 0]
        if below:
            points += [[x, y] for x, y in zip(below.x, below.y, strict=True)]
        whole = _curve(sorted(points))
        ends = [[least - CUT_K, 0.0], [least, float(whole.at(least))]]
        kept = [[x, y] for x, y in sorted(points) if x > least]
        return _curve(ends + kept, self.source)


@dataclass(frozen=True)
class Chemistry:
    """What one chemistry does, per cell and per ampere-hour.

    Parameters
    ----------
    name, title
        Key in the data file and plain words [text].
    needs_watering
        Whether somebody must come to top up its cells several times a year.
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
    charge_share_by_degc
        Share of the charge limit that a temperature allows, 0 where charging is
        blocked [fraction].
    charge_restart_degc
        Once blocked by cold, charging starts again at this temperature [degC].
    freezing
        Freezing point of the electrolyte by state on rated Ah; None where no state
        of charge can be lost to frost [degC].
    cycles
        Cycles to the end of life by depth of discharge [count].
    calendar_y_at_20_degc, calendar_halving_k
        Life at rest at 20 degC, and the warming that halves it [year, K].
    cycle_halving_k
        Warming above 25 degC that halves the cycles, infinite where it does not [K].
    end_of_life_frac
        Capacity at which the bank is replaced [fraction].
    gas_float_ma_ah, gas_boost_ma_ah
        Current that makes gas, for ventilation [mA/Ah].
    cold
        Capacity by temperature over that at 25 degC, by curve name [ratio].
    cold_if_stated
        What goes on below it where a sheet states discharge there; None where the curve
        does not end [ratio].
    sources
        Source of each figure, by key [text].
    """

    name: str
    title: str
    needs_watering: bool
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
    charge_share_by_degc: Curve
    charge_restart_degc: float
    freezing: Curve | None
    cycles: Curve
    calendar_y_at_20_degc: float
    calendar_halving_k: float
    end_of_life_frac: float
    gas_float_ma_ah: float
    gas_boost_ma_ah: float
    cold: dict[str, Curve]
    sources: dict[str, str]
    cycle_halving_k: float = math.inf
    cold_if_stated: Curve | None = None


def _curve(points: list[list[float]], source: str = "") -> Curve:
    x, y = zip(*points, strict=True)
    return Curve(tuple(map(float, x)), tuple(map(float, y)), source)


def _freezing(table: dict[str, Any], acid: Curve) -> Curve | None:
    """Return the freezing point by state: density falls in line with charge."""
    full, empty = table.pop("acid_full", None), table.pop("acid_empty", None)
    if full is None or empty is None:
        return None
    state = np.linspace(0.0, 1.0, NODES)
    degc = acid.at(empty + (full - empty) * state)
    return Curve(tuple(state), tuple(degc), acid.source)


def _build(name: str, table: dict[str, Any], acid: Curve) -> Chemistry:
    table["freezing"] = _freezing(table, acid)
    table["cell_v"] = nominal_v(name)
    cold = {k: _curve(v["points"], v["source"]) for k, v in table.pop("cold").items()}
    sources = {k: v for k, v in table.items() if k.endswith(("_source", "_status"))}
    figures: dict[str, Any] = {
        key: _curve(value) if isinstance(value, list) else value
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
    ['agm', 'flooded', 'gel', 'lfp', 'lithium-ion', 'nicd', 'nicd-arctic', 'tubular']
    """
    return {
        name: _build(name, dict(table), acid_freezing())
        for name, table in tables("chemistries").items()
        if name != "acid"
    }


@cache
def acid_freezing() -> Curve:
    """Return the freezing point of sulphuric acid by density [degC].

    Examples
    --------
    >>> float(acid_freezing().at(1.20))
    -26.7
    """
    acid = tables("chemistries")["acid"]
    return _curve(acid["freezing"], acid["source"])
