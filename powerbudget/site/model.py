"""The site file as typed tables: what the engineer writes, in SI units.

Key in the file = field name without its unit suffix; ``typical = "1.5 W"``.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from powerbudget.site.fields import (
    Azimuth,
    Count,
    Dates,
    Draw,
    Fraction,
    Hours,
    Latitude,
    Longitude,
    Months,
    Number,
    Strict,
    Threshold,
    TimeZone,
    Unit,
    WholeNumber,
)

Name = Annotated[str, Field(min_length=1, max_length=200)]
Behaviour = Literal["power", "current", "resistance"]


class Place(Strict):
    """Where the site stands and what it is called."""

    name: Name
    note: str = ""
    latitude_deg: Latitude = Field(alias="latitude")
    longitude_deg: Longitude = Field(alias="longitude")
    elevation_m: Annotated[float, Unit("m"), Field(ge=-430, le=6000)] = Field(
        0.0, alias="elevation"
    )
    utc_offset_h: TimeZone | None = Field(None, alias="time_zone")


class Weather(Strict):
    """Where the hourly sky comes from: a shipped record or a file."""

    record: Literal["sand-point", "greensboro", "miami"] | None = None
    file: str | None = None
    format: Literal[
        "auto", "epw", "tmy2", "tmy3", "nsrdb", "pvgis-tmy", "pvgis-hourly"
    ] = "auto"


class Bus(Strict):
    """The DC bus: volts, disconnect and reconnect, contingency."""

    nominal_v: Annotated[float, Unit("V"), Field(gt=0, le=60)] = Field(alias="nominal")
    disconnect_v: Annotated[float, Unit("V"), Field(gt=0, le=80)] | None = Field(
        None, alias="low_voltage_disconnect"
    )
    reconnect_v: Annotated[float, Unit("V"), Field(gt=0, le=80)] | None = Field(
        None, alias="low_voltage_reconnect"
    )
    disconnect_soc_frac: Fraction | None = Field(None, alias="disconnect_state")
    reconnect_soc_frac: Fraction | None = Field(None, alias="reconnect_state")
    contingency_frac: Fraction = Field(0.0, alias="contingency")
    leakage_a: Annotated[float, Unit("A"), Field(ge=0, le=10)] = Field(
        0.005, alias="standing_leakage"
    )
    shed_first: Threshold | None = None
    shed_second: Threshold | None = None
    shed_first_return: Threshold | None = None
    shed_second_return: Threshold | None = None


class Supply(Strict):
    """A DC/DC converter between the bus and some loads, two-term."""

    name: Name
    part: str | None = None
    output_v: Annotated[float, Unit("V"), Field(gt=0, le=60)] | None = Field(
        None, alias="output"
    )
    rated_w: Annotated[float, Unit("W"), Field(gt=0)] | None = Field(
        None, alias="rated"
    )
    no_load_w: Annotated[float, Unit("W"), Field(ge=0)] | None = Field(
        None, alias="no_load"
    )
    efficiency_frac: Fraction | None = Field(None, alias="efficiency")
    source: str = ""


class Wire(Strict):
    """The pair of conductors from the bus, or supply, to a load."""

    gauge: str
    length_m: Annotated[float, Unit("m"), Field(gt=0, le=5000)] = Field(alias="length")
    shared: bool = False


PerHour = Annotated[Number, Field(ge=0, le=360_000)]


class Traffic(Strict):
    """What a radio sends: enough to compute the time it spends in each state."""

    polls_per_hour: PerHour = 0.0
    protocol: Literal["modbus-rtu", "dnp3"] | None = None
    registers: WholeNumber | None = None
    analog_points: WholeNumber | None = None
    counter_points: WholeNumber | None = None
    binary_points: WholeNumber | None = None
    bytes_sent: WholeNumber | None = None
    bytes_received: WholeNumber | None = None
    bits_per_character: Annotated[int, Field(ge=8, le=12)] | None = None
    bit_rate_bit_s: Annotated[float, Unit("bit/s"), Field(gt=0)] | None = Field(
        None, alias="bit_rate"
    )
    key_up_s: Annotated[float, Unit("s"), Field(ge=0, le=60)] = Field(
        0.0, alias="key_up"
    )
    tail_s: Annotated[float, Unit("s"), Field(ge=0, le=60)] = Field(0.0, alias="tail")
    retry_frac: Annotated[Fraction, Field()] = Field(0.0, alias="retries")
    asleep_frac: Fraction = Field(0.0, alias="asleep")
    signal_factor: Annotated[Number, Field(ge=1, le=50)] = 1.0
    role: Literal["station", "repeater", "master"] = "station"
    stations: WholeNumber | None = None
    reports_per_hour: PerHour = 0.0
    storm_reports_per_hour: PerHour = 0.0
    storm_h_per_day: Annotated[float, Unit("h"), Field(ge=0, le=24)] = Field(
        0.0, alias="storm"
    )
    sessions_per_day: Annotated[Number, Field(gt=0, le=8640)] | None = None
    session_s: Annotated[float, Unit("s"), Field(gt=0, le=86_400)] | None = Field(
        None, alias="session"
    )
    registration_s: Annotated[float, Unit("s"), Field(ge=0, le=3600)] = Field(
        0.0, alias="registration"
    )


class Loop(Strict):
    """How the instruments of a line share their pair, and what lies in the way."""

    kind: Literal["plain", "hart", "multidrop", "low-power", "fieldbus"] = "plain"
    resistance_ohm: Annotated[float, Unit("ohm"), Field(ge=0, le=5000)] = Field(
        250.0, alias="resistance"
    )
    barrier_ohm: Annotated[float, Unit("ohm"), Field(ge=0, le=2000)] = Field(
        0.0, alias="barrier"
    )


class Sampled(Strict):
    """A load that is switched on for each sample only."""

    interval_s: Annotated[float, Unit("s"), Field(gt=0, le=604_800)] = Field(
        alias="interval"
    )
    warm_up_s: Annotated[float, Unit("s"), Field(ge=0, le=86_400)] = Field(
        alias="warm_up"
    )
    sample_s: Annotated[float, Unit("s"), Field(ge=0, le=86_400)] = Field(
        0.0, alias="sample"
    )


class Box(Strict):
    """A heated enclosure: what it loses, or its area and insulation."""

    thermostat_degc: Annotated[float, Unit("degC"), Field(ge=-60, le=60)] = Field(
        alias="thermostat"
    )
    loss_w_per_k: Annotated[float, Unit("W/K"), Field(gt=0, le=500)] | None = Field(
        None, alias="loss"
    )
    area_m2: Annotated[float, Unit("m**2"), Field(gt=0, le=200)] | None = Field(
        None, alias="area"
    )
    insulation_m: Annotated[float, Unit("m"), Field(gt=0, le=1)] | None = Field(
        None, alias="insulation"
    )
    inside_w: Annotated[float, Unit("W"), Field(ge=0, le=5000)] = Field(
        0.0, alias="warmed_by"
    )


class Strokes(Strict):
    """Movements of a valve or other short work, counted by the day."""

    per_day: Annotated[Number, Field(ge=0, le=86_400)]
    draw: Draw
    time_s: Annotated[float, Unit("s"), Field(gt=0, le=86_400)] = Field(alias="time")
    inrush: Draw | None = None


class Season(Strict):
    """A range of dates with a duty of its own; it may run over New Year."""

    dates: Dates
    duty_frac: Fraction = Field(alias="duty")
    hours: Hours | None = None


class Measured(Strict):
    """A load as it was measured: a logged file, or a single reading."""

    file: str | None = None
    column: str | None = None
    time_column: str | None = None
    interval_s: Annotated[float, Unit("s"), Field(gt=0, le=86_400)] | None = Field(
        None, alias="interval"
    )
    label: Literal["start", "end"] = "start"
    decimal: Literal["point", "comma"] | None = None
    encoding: str | None = None
    sheet: str | None = None
    time_format: str | None = None
    spot: Draw | None = None
    method: str = ""


Priority = Literal["shed first", "shed second", "last"]


class Load(Strict):
    """One line of the equipment list."""

    name: Name
    part: str | None = None
    quantity: WholeNumber = 1
    supply: str | None = None
    priority: Priority = "last"
    typical: Draw | None = None
    maximum: Draw | None = None
    peak: Draw | None = None
    behaviour: Behaviour | None = None
    duty_frac: Fraction = Field(1.0, alias="duty")
    hours: Hours | None = None
    months: Months | None = None
    seasons: tuple[Season, ...] = ()
    when: Literal["always", "night", "day"] = "always"
    heater: Box | None = None
    strokes: Strokes | None = None
    sampled: Sampled | None = None
    measured: Measured | None = None
    live_channels: WholeNumber | None = None
    traffic: Traffic | None = None
    loop: Loop | None = None
    wire: Wire | None = None
    minimum_v: Annotated[float, Unit("V"), Field(gt=0, le=80)] | None = Field(
        None, alias="minimum_input"
    )
    maximum_v: Annotated[float, Unit("V"), Field(gt=0, le=80)] | None = Field(
        None, alias="maximum_input"
    )
    source: str = ""
    status: Literal["published", "practice", "remembered", "invented"] | None = None


SignalWord = Literal[
    "ai", "ai-hart", "ai-low-power", "ai-volt", "ao", "di", "do", "solenoid", "pulse",
    "rtd", "thermocouple", "serial", "fieldbus", "wireless",
]  # fmt: skip


class Rack(Strict):
    """A controller with cards that follow from a list of inputs and outputs."""

    controller: str
    io_list: str | None = None
    sheet: str | None = None
    decimal: Literal["point", "comma"] | None = None
    encoding: str | None = None
    spare_frac: Fraction = Field(0.2, alias="spare")
    mount: Literal["cards", "nodes"] = "cards"
    node: str = "node-mixed"
    cards: dict[SignalWord, str] = Field(default_factory=dict)
    redundant: tuple[Literal["processor", "power", "network"], ...] = ()
    supply: str | None = None
    loop_supply: str | None = None
    low_power_supply: str | None = None
    wetting_supply: str | None = None
    wetting_a: Annotated[float, Unit("A"), Field(ge=0, le=0.05)] = Field(
        0.005, alias="wetting_current"
    )
    solenoid: str = "solenoid-low-power"
    solenoid_supply: str | None = None
    loop_wire: Wire | None = None
    priority: Priority = "last"


class ModuleData(Strict):
    """A module by the points on its data sheet, at 1000 W/m2 and 25 degC."""

    power_w: Annotated[float, Unit("W"), Field(gt=0, le=1000)] = Field(alias="power")
    max_power_v: Annotated[float, Unit("V"), Field(gt=0, le=200)] = Field(
        alias="max_power_voltage"
    )
    max_power_a: Annotated[float, Unit("A"), Field(gt=0, le=30)] = Field(
        alias="max_power_current"
    )
    open_circuit_v: Annotated[float, Unit("V"), Field(gt=0, le=250)] = Field(
        alias="open_circuit_voltage"
    )
    short_circuit_a: Annotated[float, Unit("A"), Field(gt=0, le=35)] = Field(
        alias="short_circuit_current"
    )
    open_circuit_per_k: Annotated[float, Unit("1/K"), Field(ge=-0.02, le=0)] = Field(
        -0.0033, alias="open_circuit_temperature"
    )
    short_circuit_per_k: Annotated[float, Unit("1/K"), Field(ge=-0.01, le=0.01)] = (
        Field(0.0005, alias="short_circuit_temperature")
    )
    cells: Annotated[int, Field(ge=1, le=200)] = 36


class Array(Strict):
    """The panels: which module, how many, which way they look."""

    module: str | ModuleData
    series: Count = 1
    parallel: Count = 1
    tilt_deg: Annotated[float, Unit("deg"), Field(ge=0, le=90)] = Field(alias="tilt")
    azimuth_deg: Azimuth = Field(alias="azimuth")
    albedo_frac: Fraction = Field(0.2, alias="albedo")
    soiling_frac: Fraction = Field(0.03, alias="soiling")
    mismatch_frac: Fraction = Field(0.02, alias="mismatch")
    wiring_frac: Fraction = Field(0.02, alias="wiring_loss")
    ageing_frac: Fraction = Field(0.0, alias="ageing")


class Regulator(Strict):
    """The charge regulator between array, battery and bus."""

    kind: Literal["mppt", "pwm"]
    efficiency_frac: Fraction = Field(0.96, alias="efficiency")
    own_current_a: Annotated[float, Unit("A"), Field(ge=0, le=2)] = Field(
        0.015, alias="own_current"
    )
    drop_v: Annotated[float, Unit("V"), Field(ge=0, le=3)] = Field(
        0.3, alias="voltage_drop"
    )
    absorption_v: Annotated[float, Unit("V"), Field(gt=0, le=80)] | None = Field(
        None, alias="absorption"
    )
    compensation_v_per_k_cell: (
        Annotated[float, Unit("V/K"), Field(ge=-0.006, le=0)] | None
    ) = Field(None, alias="temperature_compensation_per_cell")


class BatteryUnit(Strict):
    """One battery unit by its name-plate."""

    nominal_v: Annotated[float, Unit("V"), Field(gt=0, le=60)] = Field(alias="nominal")
    capacity_ah: Annotated[float, Unit("Ah"), Field(gt=0, le=20_000)] = Field(
        alias="capacity"
    )
    hour_rate_h: Annotated[float, Unit("h"), Field(ge=1, le=500)] = Field(
        alias="hour_rate"
    )


class Battery(Strict):
    """The bank: chemistry, units, how many, how old, where it lives."""

    chemistry: Literal["flooded", "agm", "gel", "lfp"]
    unit: str | BatteryUnit
    series: Count = 1
    parallel: Count = 1
    health_frac: Annotated[Fraction, Field(gt=0)] = Field(1.0, alias="health")
    start_frac: Fraction | None = Field(None, alias="state_at_start")
    cold_curve: Literal["conservative", "long-rate"] = "conservative"
    box_time_constant_h: Annotated[float, Unit("h"), Field(ge=0, le=2000)] = Field(
        0.0, alias="box_time_constant"
    )
    box_warmer_k: Annotated[Number, Field(ge=-5, le=40)] = 0.0


class Criteria(Strict):
    """What the site must reach."""

    availability_frac: Fraction = Field(1.0, alias="availability")
    autonomy_d: Annotated[float, Unit("d"), Field(ge=0, le=400)] = Field(
        alias="autonomy"
    )
    autonomy_degc: Annotated[float, Unit("degC"), Field(ge=-70, le=70)] = Field(
        alias="autonomy_temperature"
    )
    deepest_discharge_frac: Fraction = Field(0.8, alias="deepest_discharge")
    daily_discharge_frac: Annotated[Fraction, Field(gt=0)] = Field(
        0.2, alias="daily_discharge"
    )
    array_to_load_ratio: Annotated[Number, Field(ge=0, le=20)] = 0.0


class Steps(Strict):
    """How far the search may go, in purchasable steps."""

    max_array_strings: Annotated[Count, Field(le=500)] = 24
    max_battery_strings: Annotated[Count, Field(le=200)] = 16


class Costs(Strict):
    """Prices that rank the designs."""

    currency: Annotated[str, Field(max_length=12)] = "USD"
    module: Annotated[Number, Field(ge=0)]
    battery_unit: Annotated[Number, Field(ge=0)]
    source: str = ""


class Site(Strict):
    """A whole site file."""

    site: Place
    weather: Weather
    bus: Bus
    supply: tuple[Supply, ...] = ()
    load: tuple[Load, ...] = ()
    rack: Rack | None = None
    array: Array
    regulator: Regulator
    battery: Battery
    criteria: Criteria
    sizing: Steps = Steps()
    costs: Costs | None = None
    parts_file: str | None = None
