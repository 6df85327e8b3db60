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
    old_words,
)
from powerbudget.site.load import Name

Kind = Annotated[
    Literal[
        "thermoelectric", "methanol-cell", "solid-oxide-cell", "engine",
        "vapor-turbine", "stirling", "other",
    ],
    old_words({"vapour-turbine": "vapor-turbine"}),
]  # fmt: skip
FuelName = Literal["natural-gas", "propane", "methanol", "diesel", "none"]
Kilopascals = Annotated[float, FieldUnit("kPa"), Field(ge=0, le=20_000)]
Litres = Annotated[float, FieldUnit("L"), Field(gt=0, le=1e6)]
Hours = Annotated[float, FieldUnit("h"), Field(ge=0, le=100_000)]
Celsius = Annotated[float, FieldUnit("degC"), Field(ge=-80, le=80)]


class Access(Strict):
    """When and how people reach the site: for fuel, maintenance and repair."""

    mode: Literal["road", "snow", "air"] = Field(
        "road",
        description="Way to reach the site. It selects the built-in prices of visits, "
        "deliveries and freight.",
        examples=["air"],
    )
    closed: Dates | None = Field(
        None,
        description="Dates between which the site has no access.",
        examples=["15 Oct to 15 May"],
    )
    delay_d: Annotated[float, FieldUnit("d"), Field(ge=0, le=365)] = Field(
        7.0,
        alias="delay",
        description="Time from a fault or fuel order to arrival on site, while access "
        "is open.",
        examples=["14 d"],
    )
    source: Text = Field(
        "",
        description="Where the access data come from.",
        examples=["operations manual, section 4"],
    )


class Tank(Strict):
    """Fuel storage: volume, temperature, reorder level."""

    volume_l: Litres = Field(
        alias="volume", description="Water capacity of one tank.", examples=["1000 gal"]
    )
    count: Annotated[Count, Field(le=1000)] = Field(
        1, description="Number of equal tanks.", examples=[2]
    )
    place: Literal["open", "buried"] = Field(
        "open", description="Tank above ground or buried.", examples=["buried"]
    )
    depth_m: Annotated[float, FieldUnit("m"), Field(ge=0, le=5)] = Field(
        1.0,
        alias="depth",
        description="Depth of a buried tank, for its ground temperature.",
        examples=["1.2 m"],
    )
    time_constant_h: Annotated[float, FieldUnit("h"), Field(ge=0, le=500)] = Field(
        6.0,
        alias="time_constant",
        description="Thermal time constant of a tank above ground.",
        examples=["6 h"],
    )
    warmer_k: Annotated[Number, Field(ge=0, le=60)] = Field(
        0.0,
        description="Temperature of the liquid above its surroundings, for a heated "
        "tank, in K.",
        examples=[15],
    )
    fill_frac: Annotated[Fraction, Field(gt=0)] | None = Field(
        None,
        alias="fill",
        description="Highest fill level of the tank. Without it: that of the fuel.",
        examples=["80 %"],
    )
    unusable_frac: Annotated[Fraction, Field(lt=1)] | None = Field(
        None,
        alias="unusable",
        description="Share of the volume that cannot be used. Without it: that of the "
        "fuel.",
        examples=["5 %"],
    )
    refill_below_frac: Annotated[Fraction, Field(lt=1)] = Field(
        0.3,
        alias="refill_below",
        description="Reorder level, as a share of the usable fuel.",
        examples=["40 %"],
    )
    largest_delivery_l: Litres | None = Field(
        None,
        alias="largest_delivery",
        description="Largest volume of one fuel delivery.",
        examples=["450 L"],
    )


class Generator(Strict):
    """Generator: type, power, fuel, dispatch."""

    name: Name = Field(
        description="Name of the generator in every result.", examples=["TEG 1"]
    )
    kind: Kind = Field(
        description="Type of generator. It sets every figure that the table does not "
        "state.",
        examples=["thermoelectric"],
    )
    rated_w: Annotated[float, FieldUnit("W"), Field(gt=0, le=100_000)] = Field(
        alias="rated",
        description="Rated power of one generator at its rating temperature.",
        examples=["54 W"],
    )
    quantity: Annotated[Count, Field(le=100)] = Field(
        1, description="Number of equal generators.", examples=[2]
    )
    fuel: FuelName = Field(
        description="Fuel; `none` for a source described by generic figures.",
        examples=["propane"],
    )
    dispatch: Literal["always", "battery"] | None = Field(
        None,
        description="Continuous operation or SOC-controlled start/stop. Without it: "
        "that of the kind.",
        examples=["battery"],
    )
    start: Threshold | None = Field(
        None,
        description="SOC or battery voltage at which the generator starts.",
        examples=["45 %", "23.8 V"],
    )
    stop: Threshold | None = Field(
        None,
        description="SOC or battery voltage at which the generator stops.",
        examples=["85 %", "28.2 V"],
    )
    minimum_run_h: Annotated[float, FieldUnit("h"), Field(ge=0, le=1000)] | None = (
        Field(
            None,
            alias="minimum_run",
            description="Shortest run after a start. Without it: that of the kind.",
            examples=["2 h"],
        )
    )
    warm_up_h: Annotated[float, FieldUnit("h"), Field(ge=0, le=24)] | None = Field(
        None,
        alias="warm_up",
        description="Time from start to full output. Without it: that of the kind.",
        examples=["30 min"],
    )
    exercise_every_d: Annotated[float, FieldUnit("d"), Field(gt=0, le=366)] | None = (
        Field(
            None,
            alias="exercise_every",
            description="Interval of exercise runs under load. Without it: no exercise.",
            examples=["7 d"],
        )
    )
    exercise_for_h: Annotated[float, FieldUnit("h"), Field(gt=0, le=24)] = Field(
        0.5,
        alias="exercise_for",
        description="Duration of one exercise run.",
        examples=["15 min"],
    )
    start_probability_frac: Annotated[Fraction, Field(gt=0)] = Field(
        1.0,
        alias="start_probability",
        description="Probability that a start on demand succeeds.",
        examples=["99 %"],
    )
    standing_faults_per_y: Annotated[Number, Field(ge=0, le=50)] = Field(
        0.0,
        description="Faults per year at rest that prevent the next start.",
        examples=[0.5],
    )
    start_seed: WholeNumber = Field(
        1, description="Random seed of the start failures.", examples=[1]
    )
    relight: Literal["automatic", "visit"] | None = Field(
        None,
        description="Reignition after a flame-out: automatic, or by a site visit. "
        "Without it: that of the kind.",
        examples=["visit"],
    )
    months: Months | None = Field(
        None,
        description="Months in which the generator may run. Without it: all year.",
        examples=["Oct-Mar"],
    )
    efficiency_frac: Annotated[Fraction, Field(gt=0)] | None = Field(
        None,
        alias="efficiency",
        description="Electrical efficiency at rated power, on the higher heating value. "
        "Without it: that of the kind.",
        examples=["3.1 %"],
    )
    fuel_use_l_d: Annotated[float, FieldUnit("L/d"), Field(gt=0, le=1e7)] | None = (
        Field(
            None,
            alias="fuel_use",
            description="Fuel consumption of one generator at rated power; it replaces "
            "`efficiency`.",
            examples=["1.5 gal/d"],
        )
    )
    no_load_fuel_frac: Fraction | None = Field(
        None,
        alias="no_load_fuel",
        description="Fuel consumption at no load, as a share of that at rated power. "
        "Without it: that of the kind.",
        examples=["30 %"],
    )
    charger_efficiency_frac: Annotated[Fraction, Field(gt=0)] | None = Field(
        None,
        alias="charger_efficiency",
        description="Efficiency between generator terminals and dc bus. Without it: "
        "that of the kind.",
        examples=["85 %"],
    )
    ambient_per_k: (
        Annotated[float, FieldUnit("1/K"), Field(ge=-0.05, le=0.01)] | None
    ) = Field(
        None,
        alias="ambient_derating",
        description="Change of output per kelvin above the rating temperature. Without "
        "it: that of the kind.",
        examples=["-0.36 %/degC"],
    )
    altitude_per_km: Annotated[Number, Field(ge=0, le=0.5)] | None = Field(
        None,
        description="Altitude derating for each km above `altitude_reference`, as a "
        "fraction. Without it: that of the kind.",
        examples=[0.037],
    )
    altitude_reference_m: (
        Annotated[float, FieldUnit("m"), Field(ge=-430, le=6000)] | None
    ) = Field(
        None,
        alias="altitude_reference",
        description="Elevation up to which the full rating applies. Without it: that of "
        "the kind.",
        examples=["0 m"],
    )
    fuel_adjusted_for_altitude: bool | None = Field(
        None,
        description="True where fuel pressure or orifice is set for the site elevation. "
        "Without it the lower output is used.",
        examples=[True],
    )
    power_limit_w: Annotated[float, FieldUnit("W"), Field(gt=0, le=1e5)] | None = Field(
        None,
        alias="power_limit",
        description="Limit of the electrical output of one generator.",
        examples=["60 W"],
    )
    ageing_per_y: Annotated[Number, Field(ge=0, le=0.2)] | None = Field(
        None,
        description="Output degradation per year, as a fraction. Without it: that of "
        "the kind.",
        examples=[0.0075],
    )
    age_y: Annotated[Number, Field(ge=0, le=60)] = Field(
        0.0,
        alias="age_years",
        description="Age of the generator in the simulation, in years.",
        examples=[5],
    )
    lowest_degc: Celsius | None = Field(
        None,
        alias="lowest_ambient",
        description="Lowest rated ambient temperature. Without it: that of the kind.",
        examples=["-40 degC"],
    )
    highest_degc: Celsius | None = Field(
        None,
        alias="highest_ambient",
        description="Highest rated ambient temperature. Without it: that of the kind.",
        examples=["55 degC"],
    )
    burner_pressure_kpa: Kilopascals | None = Field(
        None,
        alias="burner_pressure",
        description="Gauge pressure that the burner needs. Without it: that of the kind "
        "and power class.",
        examples=["48 kPa"],
    )
    regulator_drop_kpa: Kilopascals | None = Field(
        None,
        alias="regulator_drop",
        description="Pressure drop across the pressure regulator, added to the burner "
        "pressure. Without it: 25 kPa.",
        examples=["25 kPa"],
    )
    supply_pressure_kpa: Kilopascals | None = Field(
        None,
        alias="supply_pressure",
        description="Gauge pressure of the site gas supply.",
        examples=["200 kPa"],
    )
    hydrogen_sulphide_ppm: Annotated[Number, Field(ge=0, le=1e6)] | None = Field(
        None,
        description="Hydrogen sulfide in the site gas, in ppm by volume.",
        examples=[4],
    )
    heating_value_mj_m3: Annotated[Number, Field(ge=5, le=120)] | None = Field(
        None,
        description="Higher heating value of the site gas, in MJ/m³. Without it: that "
        "of the fuel.",
        examples=[41],
    )
    heat_to_box_w: Annotated[float, FieldUnit("W"), Field(ge=0, le=5000)] = Field(
        0.0,
        alias="heat_to_battery_box",
        description="Waste heat that reaches the battery box while the generator runs.",
        examples=["12 W"],
    )
    service_every_h: Hours | None = Field(
        None,
        alias="service_every",
        description="Run time between scheduled maintenance. Without it: that of the "
        "kind.",
        examples=["8766 h"],
    )
    life_h: Annotated[float, FieldUnit("h"), Field(gt=0, le=1e6)] | None = Field(
        None,
        alias="life",
        description="Run time to replacement. Without it: that of the kind.",
        examples=["40000 h"],
    )
    tank: Tank | None = Field(
        None,
        description="Fuel storage; required for propane, methanol, and diesel.",
        examples=[{"volume": "1000 gal"}],
    )
    source: Line | None = Field(
        None,
        description="Where the figures of this generator come from.",
        examples=["data sheet, 54 W class, 2014, page 3"],
    )
