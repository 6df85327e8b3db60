"""Fuel pressure through the record: tank temperature against what the burner needs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from powerbudget.battery.box import (
    annual_wave,
    day_of_year,
    ground_degc,
    lagged_degc,
)
from powerbudget.generators.propane import (
    gauge_pressure_kpa,
    lowest_liquid_degc,
    tank_needed_l,
)
from powerbudget.generators.unit import Machine
from powerbudget.weather import WeatherRecord

Floats = NDArray[np.float64]
SOIL_DIFFUSIVITY_M2_S = 0.5e-6


NEAR_K = 5.0
"""How near to the limit the liquid may come without a warning: judgement [K]."""


@dataclass(frozen=True)
class FuelPressure:
    """Whether a propane tank keeps its burner in fuel, and where it ends.

    Parameters
    ----------
    name
        Generator [text].
    value_degc
        Coldest liquid in the record [degC].
    limit_degc
        Coldest liquid that still feeds the burner [degC].
    hours_below
        Hours of the record below the limit [h].
    burner_kpa, drop_kpa
        Needed at the burner, and by the regulator [kPa].
    tank_l, tank_needed_l
        Water capacity, and that which boils off enough in that cold [L].
    verdict
        ``pass``, ``warn`` (within `NEAR_K`, or the tank boils off too slowly) or ``fail``
        [text].
    rule, source
        What was held against what, and where it comes from [text].
    """

    name: str
    value_degc: float
    limit_degc: float
    hours_below: float
    burner_kpa: float
    drop_kpa: float
    tank_l: float
    tank_needed_l: float
    verdict: Literal["pass", "warn", "fail"]
    rule: str
    source: str


_LAGGED: WeakKeyDictionary[WeatherRecord, dict[float, Floats]] = WeakKeyDictionary()


def tank_degc(unit: Machine, record: WeatherRecord) -> Floats:
    """Return the temperature of the liquid in a tank, by interval [degC].

    Parameters
    ----------
    unit
        A generator with a tank.
    record
        Air temperature.

    Returns
    -------
    array
        Air behind the tank's time constant, or the undisturbed ground at its depth,
        plus what heating adds; the sun on the tank and the cold of boiling are left
        out [degC].
    """
    tank = unit.table.tank
    air = record.temp_air_degc
    if tank is None:
        return air
    if tank.place == "buried":
        wave = annual_wave(record)
        ground = ground_degc(
            day_of_year(record), wave, tank.depth_m, SOIL_DIFFUSIVITY_M2_S
        )
        return ground + tank.warmer_k
    return _lagged_air_degc(record, tank.time_constant_h) + tank.warmer_k


def _lagged_air_degc(record: WeatherRecord, time_constant_h: float) -> Floats:
    """Return air behind a time constant, kept while the record lives [degC]."""
    # A comparison asks for it with every size that it tries.
    kept = _LAGGED.setdefault(record, {})
    if time_constant_h not in kept:
        air = record.temp_air_degc
        first = float(air[: max(1, round(24 / record.step_h))].mean())
        kept[time_constant_h] = lagged_degc(air, record.step_h, time_constant_h, first)
    return kept[time_constant_h]


def starved(unit: Machine, record: WeatherRecord) -> NDArray[np.bool_]:
    """Return whether the fuel's pressure is too low for the burner, by interval.

    Returns
    -------
    array of bool
        Only propane starves; gas by pipe has the pressure that the file states.
    """
    if unit.fuel.name != "propane" or unit.needed_kpa <= 0.0:
        return np.zeros(record.n, bool)
    left_kpa = gauge_pressure_kpa(tank_degc(unit, record), unit.elevation_m)
    return np.asarray(left_kpa < unit.needed_kpa)


def fuel_pressure_check(unit: Machine, record: WeatherRecord) -> FuelPressure | None:
    """Return whether a propane tank keeps its burner in fuel all through a record.

    Returns
    -------
    FuelPressure or None
        None where it burns no propane, or asks for no pressure.
    """
    if unit.fuel.name != "propane" or unit.needed_kpa <= 0.0:
        return None
    degc = tank_degc(unit, record)
    coldest = float(degc.min())
    limit = lowest_liquid_degc(unit.needed_kpa, unit.elevation_m)
    hours = float(starved(unit, record).sum() * record.step_h)
    tank = unit.table.tank
    volume = tank.volume_l * tank.count if tank else 0.0
    needed = tank_needed_l(unit.full_fuel_w, coldest)
    slow = needed > volume
    verdict: Literal["pass", "warn", "fail"] = (
        "fail" if hours else "warn" if slow or coldest < limit + NEAR_K else "pass"
    )
    return FuelPressure(
        name=unit.name,
        value_degc=coldest,
        limit_degc=limit,
        hours_below=hours,
        burner_kpa=unit.burner_kpa,
        drop_kpa=unit.drop_kpa,
        tank_l=volume,
        tank_needed_l=needed,
        verdict=verdict,
        rule="propane vapor pressure less air pressure >= burner pressure plus "
        "pressure-regulator drop",
        source="reference equation of state of propane; burner: "
        + (
            "site file"
            if unit.table.burner_pressure_kpa is not None
            else unit.data("burner_pressure_kpa").source
        ),
    )
