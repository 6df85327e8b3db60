"""Tables of the site file for fuelled and other steady sources, their fuel and access."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from powerbudget.site.calendar import Dates, Months
from powerbudget.site.fields import (
    Count,
    FieldUnit,
    Fraction,
    Line,
    Number,
    Strict,
    Text,
    Threshold,
    WholeNumber,
)
from powerbudget.site.load import Name

Kind = Literal[
    "thermoelectric", "methanol-cell", "solid-oxide-cell", "engine", "vapour-turbine",
    "stirling", "other",
]  # fmt: skip
FuelName = Literal["natural-gas", "propane", "methanol", "diesel", "none"]
Kilopascals = Annotated[float, FieldUnit("kPa"), Field(ge=0, le=20_000)]
Litres = Annotated[float, FieldUnit("L"), Field(gt=0, le=1e6)]
Hours = Annotated[float, FieldUnit("h"), Field(ge=0, le=100_000)]
Celsius = Annotated[float, FieldUnit("degC"), Field(ge=-80, le=80)]


class Access(Strict):
    """When and how people reach the site: for fuel, service and repairs."""

    mode: Literal["road", "snow", "air"] = "road"
    closed: Dates | None = None
    delay_d: Annotated[float, FieldUnit("d"), Field(ge=0, le=365)] = Field(
        7.0, alias="delay"
    )
    source: Text = ""


class Tank(Strict):
    """A store of fuel: how much, how cold, when it is filled again."""

    volume_l: Litres = Field(alias="volume")
    count: Annotated[Count, Field(le=1000)] = 1
    place: Literal["open", "buried"] = "open"
    depth_m: Annotated[float, FieldUnit("m"), Field(ge=0, le=5)] = Field(
        1.0, alias="depth"
    )
    time_constant_h: Annotated[float, FieldUnit("h"), Field(ge=0, le=500)] = Field(
        6.0, alias="time_constant"
    )
    warmer_k: Annotated[Number, Field(ge=0, le=60)] = 0.0
    fill_frac: Annotated[Fraction, Field(gt=0)] | None = Field(None, alias="fill")
    unusable_frac: Annotated[Fraction, Field(lt=1)] | None = Field(
        None, alias="unusable"
    )
    refill_below_frac: Annotated[Fraction, Field(lt=1)] = Field(
        0.3, alias="refill_below"
    )
    largest_delivery_l: Litres | None = Field(None, alias="largest_delivery")


class Generator(Strict):
    """A source of its own: what kind, how strong, what it burns, when it runs."""

    name: Name
    kind: Kind
    rated_w: Annotated[float, FieldUnit("W"), Field(gt=0, le=100_000)] = Field(
        alias="rated"
    )
    quantity: Annotated[Count, Field(le=100)] = 1
    fuel: FuelName
    dispatch: Literal["always", "battery"] | None = None
    start: Threshold | None = None
    stop: Threshold | None = None
    minimum_run_h: Annotated[float, FieldUnit("h"), Field(ge=0, le=1000)] | None = (
        Field(None, alias="minimum_run")
    )
    warm_up_h: Annotated[float, FieldUnit("h"), Field(ge=0, le=24)] | None = Field(
        None, alias="warm_up"
    )
    exercise_every_d: Annotated[float, FieldUnit("d"), Field(gt=0, le=366)] | None = (
        Field(None, alias="exercise_every")
    )
    exercise_for_h: Annotated[float, FieldUnit("h"), Field(gt=0, le=24)] = Field(
        0.5, alias="exercise_for"
    )
    start_probability_frac: Annotated[Fraction, Field(gt=0)] = Field(
        1.0, alias="start_probability"
    )
    standing_faults_per_y: Annotated[Number, Field(ge=0, le=50)] = 0.0
    start_seed: WholeNumber = 1
    relight: Literal["automatic", "visit"] | None = None
    months: Months | None = None
    efficiency_frac: Annotated[Fraction, Field(gt=0)] | None = Field(
        None, alias="efficiency"
    )
    fuel_use_l_d: Annotated[float, FieldUnit("L/d"), Field(gt=0, le=1e7)] | None = (
        Field(None, alias="fuel_use")
    )
    no_load_fuel_frac: Fraction | None = Field(None, alias="no_load_fuel")
    charger_efficiency_frac: Annotated[Fraction, Field(gt=0)] | None = Field(
        None, alias="charger_efficiency"
    )
    ambient_per_k: (
        Annotated[float, FieldUnit("1/K"), Field(ge=-0.05, le=0.01)] | None
    ) = Field(None, alias="ambient_derating")
    altitude_per_km: Annotated[Number, Field(ge=0, le=0.5)] | None = None
    altitude_reference_m: (
        Annotated[float, FieldUnit("m"), Field(ge=-430, le=6000)] | None
    ) = Field(None, alias="altitude_reference")
    fuel_adjusted_for_altitude: bool | None = None
    power_limit_w: Annotated[float, FieldUnit("W"), Field(gt=0, le=1e5)] | None = Field(
        None, alias="power_limit"
    )
    ageing_per_y: Annotated[Number, Field(ge=0, le=0.2)] | None = None
    age_y: Annotated[Number, Field(ge=0, le=60)] = Field(0.0, alias="age_years")
    lowest_degc: Celsius | None = Field(None, alias="lowest_ambient")
    highest_degc: Celsius | None = Field(None, alias="highest_ambient")
    burner_pressure_kpa: Kilopascals | None = Field(None, alias="burner_pressure")
    regulator_drop_kpa: Kilopascals | None = Field(None, alias="regulator_drop")
    supply_pressure_kpa: Kilopascals | None = Field(None, alias="supply_pressure")
    hydrogen_sulphide_ppm: Annotated[Number, Field(ge=0, le=1e6)] | None = None
    heating_value_mj_m3: Annotated[Number, Field(ge=5, le=120)] | None = None
    heat_to_box_w: Annotated[float, FieldUnit("W"), Field(ge=0, le=5000)] = Field(
        0.0, alias="heat_to_battery_box"
    )
    service_every_h: Hours | None = Field(None, alias="service_every")
    life_h: Annotated[float, FieldUnit("h"), Field(gt=0, le=1e6)] | None = Field(
        None, alias="life"
    )
    tank: Tank | None = None
    source: Line | None = None
