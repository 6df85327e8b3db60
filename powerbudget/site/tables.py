"""The site file as typed tables: what the engineer writes, in SI units.

Key in the file = field name without its unit suffix; ``typical = "1.5 W"``.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import (
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    StrictBool,
    Tag,
    WithJsonSchema,
)

from powerbudget.quantities import QuantityError
from powerbudget.site.circuit import (
    ArrayCircuit,
    BatteryCircuit,
    ModuleLimits,
    Protection,
    RegulatorLimits,
)
from powerbudget.site.costs import Compared, Costs
from powerbudget.site.document import Document
from powerbudget.site.ensemble import Spread
from powerbudget.site.fields import (
    Azimuth,
    ChemistryName,
    Count,
    FieldUnit,
    Fraction,
    Latitude,
    Line,
    Longitude,
    Number,
    Strict,
    Text,
    Threshold,
    TimeZone,
    WholeNumber,
)
from powerbudget.site.generator import Access, Generator
from powerbudget.site.load import Efficiency, Load, LossShare, Name, Rack, Supply
from powerbudget.site.monthly import Twelve
from powerbudget.site.sizing import Steps, WorksheetKeys

Shares = Annotated[tuple[Annotated[float, Field(ge=0, le=1)], ...], Twelve("percent")]
Clearness = Annotated[
    tuple[Annotated[float, Field(ge=0, le=0.85)], ...], Twelve("percent")
]
DailySuns = Annotated[
    tuple[Annotated[float, Field(ge=0, le=14)], ...], Twelve("kWh/m**2/d")
]
SunHours = Annotated[tuple[Annotated[float, Field(ge=0, le=14)], ...], Twelve("h")]
Temperatures = Annotated[
    tuple[Annotated[float, Field(ge=-60, le=45)], ...], Twelve("degC")
]
DailyRanges = Annotated[tuple[Annotated[float, Field(ge=0, le=30)], ...], Twelve()]
Falls = Annotated[tuple[Annotated[float, Field(ge=0, le=10)], ...], Twelve("m")]
FallDays = Annotated[tuple[Annotated[float, Field(ge=0, le=31)], ...], Twelve()]


class Place(Strict):
    """Where the site stands and what it is called."""

    name: Name
    note: Text = ""
    fictitious: bool = False
    latitude_deg: Latitude = Field(alias="latitude")
    longitude_deg: Longitude = Field(alias="longitude")
    elevation_m: Annotated[float, FieldUnit("m"), Field(ge=-430, le=6000)] = Field(
        0.0, alias="elevation"
    )
    utc_offset_h: TimeZone | None = Field(None, alias="time_zone")


class MonthlyFigures(Strict):
    """Monthly figures of a place, from which hourly years are made."""

    source: Annotated[Line, Field(min_length=3)]
    clearness: Clearness | None = None
    ghi_kwh_m2_d: DailySuns | None = Field(None, alias="ghi")
    sun_hours_h: SunHours | None = Field(None, alias="sun_hours")
    plane_tilt_deg: Annotated[float, FieldUnit("deg"), Field(ge=0, le=90)] | None = (
        Field(None, alias="plane_tilt")
    )
    albedo_frac: Shares = Field((0.2,) * 12, alias="albedo")
    temperature_degc: Temperatures = Field(alias="temperature")
    daily_range_k: DailyRanges = (9.0,) * 12
    design_minimum_degc: (
        Annotated[float, FieldUnit("degC"), Field(ge=-70, le=40)] | None
    ) = Field(None, alias="design_minimum")
    year_to_year_frac: Shares | None = Field(None, alias="year_to_year")
    wind_m_s: Annotated[Number, Field(ge=0, le=30)] = 2.0
    years: Annotated[Count, Field(le=1000)] = 20
    seed: WholeNumber = 1


class DesignTemperatures(Strict):
    """Extreme temperatures of a place, from a published table or an EPW or DDY."""

    file: Line | None = None
    annual_minimum_degc: (
        Annotated[float, FieldUnit("degC"), Field(ge=-80, le=40)] | None
    ) = Field(None, alias="annual_minimum")
    minimum_50_years_degc: (
        Annotated[float, FieldUnit("degC"), Field(ge=-80, le=40)] | None
    ) = Field(None, alias="minimum_50_years")
    heating_99_6_degc: (
        Annotated[float, FieldUnit("degC"), Field(ge=-80, le=40)] | None
    ) = Field(None, alias="heating_99_6")
    annual_maximum_degc: (
        Annotated[float, FieldUnit("degC"), Field(ge=-20, le=60)] | None
    ) = Field(None, alias="annual_maximum")
    source: Text = ""


class CsvColumns(Strict):
    """A csv file of one's own: its columns, its clock, and what a stamp means."""

    label: Literal["start", "middle", "end"]
    utc_offset_h: TimeZone = Field(alias="time_zone")
    time: Line = "time"
    time_format: Line | None = None
    ghi: Line = "ghi"
    temp_air: Line = "temp_air"
    dni: Line | None = None
    dhi: Line | None = None
    wind_speed: Line | None = None
    missing: tuple[Number, ...] = ()


class Weather(Strict):
    """Where the hourly sky comes from: record, file, monthly figures or a service."""

    record: Literal["sand-point", "greensboro", "miami"] | None = None
    file: Line | None = None
    csv: CsvColumns | None = None
    monthly: MonthlyFigures | None = None
    online: Literal["pvgis", "pvgis-typical", "nasa-power", "nsrdb"] | None = None
    format: Literal[
        "auto", "epw", "tmy2", "tmy3", "nsrdb", "pvgis-tmy", "pvgis-hourly"
    ] = "auto"
    step_h: Annotated[float, FieldUnit("h"), Field(gt=0, le=1)] | None = Field(
        None, alias="step"
    )
    first_year: Annotated[int, Field(ge=1980, le=2100)] | None = None
    last_year: Annotated[int, Field(ge=1980, le=2100)] | None = None
    url: Line | None = None
    winter_shortfall_frac: Annotated[Fraction, Field(lt=1)] = Field(
        0.0, alias="winter_shortfall"
    )
    design: DesignTemperatures | None = None


class Bus(Strict):
    """The DC bus: volts, disconnect and reconnect, contingency."""

    nominal_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=60)] = Field(
        alias="nominal"
    )
    disconnect_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=80)] | None = Field(
        None, alias="low_voltage_disconnect"
    )
    reconnect_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=80)] | None = Field(
        None, alias="low_voltage_reconnect"
    )
    disconnect_soc_frac: Fraction | None = Field(None, alias="disconnect_state")
    reconnect_soc_frac: Fraction | None = Field(None, alias="reconnect_state")
    contingency_frac: Fraction = Field(0.0, alias="contingency")
    leakage_a: Annotated[float, FieldUnit("A"), Field(ge=0, le=10)] = Field(
        0.005, alias="standing_leakage"
    )
    disconnect_delay_h: Annotated[float, FieldUnit("h"), Field(ge=0, le=24)] = Field(
        0.0, alias="disconnect_delay"
    )
    shed_first: Threshold | None = None
    shed_second: Threshold | None = None
    shed_first_return: Threshold | None = None
    shed_second_return: Threshold | None = None


class ModuleData(ModuleLimits):
    """A module by the points on its data sheet, at 1000 W/m2 and 25 degC."""

    power_w: Annotated[float, FieldUnit("W"), Field(gt=0, le=1000)] = Field(
        alias="power"
    )
    max_power_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=200)] = Field(
        alias="max_power_voltage"
    )
    max_power_a: Annotated[float, FieldUnit("A"), Field(gt=0, le=30)] = Field(
        alias="max_power_current"
    )
    open_circuit_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=250)] = Field(
        alias="open_circuit_voltage"
    )
    short_circuit_a: Annotated[float, FieldUnit("A"), Field(gt=0, le=35)] = Field(
        alias="short_circuit_current"
    )
    open_circuit_per_k: Annotated[float, FieldUnit("1/K"), Field(ge=-0.02, le=0)] = (
        Field(-0.0033, alias="open_circuit_temperature")
    )
    short_circuit_per_k: Annotated[
        float, FieldUnit("1/K"), Field(ge=-0.01, le=0.01)
    ] = Field(0.0005, alias="short_circuit_temperature")
    cells: Annotated[Count, Field(le=200)] = 36


def _form(value: Any) -> str | None:
    """Return which of a name or a table of figures was written."""
    if isinstance(value, str):
        return "as text"
    return "as table" if isinstance(value, dict | Strict) else None


_Name = Annotated[Line, Tag("as text")]
NameOrModule = Annotated[
    _Name | Annotated[ModuleData, Tag("as table")], Discriminator(_form)
]


class Snow(Strict):
    """Whether snow lies on the panels: nothing is assumed in silence."""

    cover: Literal["none", "slides", "stays", "cleared"]
    cleared_every_d: Annotated[float, FieldUnit("d"), Field(gt=0, le=365)] | None = (
        Field(None, alias="cleared_every")
    )
    snowfall_m: Falls | None = Field(None, alias="snowfall")
    snow_days: FallDays | None = None
    cell_strings: Annotated[Count, Field(le=12)] = 1
    source: Text = ""


class Array(ArrayCircuit):
    """The panels: which module, how many, which way they look."""

    module: NameOrModule
    series: Count = 1
    parallel: Count = 1
    tilt_deg: Annotated[float, FieldUnit("deg"), Field(ge=0, le=90)] = Field(
        alias="tilt"
    )
    azimuth_deg: Azimuth = Field(alias="azimuth")
    albedo_frac: Fraction = Field(0.2, alias="albedo")
    soiling_frac: LossShare = Field(0.03, alias="soiling")
    mismatch_frac: LossShare = Field(0.02, alias="mismatch")
    wiring_frac: LossShare = Field(0.02, alias="wiring_loss")
    ageing_frac: LossShare = Field(0.0, alias="ageing")
    albedo_by_month: Shares | None = None
    soiling_by_month: Shares | None = None
    horizon: tuple[tuple[Number, Number], ...] | None = None
    horizon_file: Line | None = None
    snow: Snow | None = None


class Regulator(RegulatorLimits):
    """The charge controller between array, battery and bus."""

    part: Line | None = None
    kind: Literal["mppt", "pwm"]
    efficiency_frac: Efficiency = Field(0.96, alias="efficiency")
    own_current_a: Annotated[float, FieldUnit("A"), Field(ge=0, le=2)] = Field(
        0.015, alias="own_current"
    )
    own_current_night_a: Annotated[float, FieldUnit("A"), Field(ge=0, le=2)] | None = (
        Field(None, alias="own_current_night")
    )
    drop_v: Annotated[float, FieldUnit("V"), Field(ge=0, le=3)] = Field(
        0.3, alias="voltage_drop"
    )
    absorption_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=80)] | None = Field(
        None, alias="absorption"
    )
    float_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=80)] | None = Field(
        None, alias="float"
    )
    absorption_h: Annotated[float, FieldUnit("h"), Field(gt=0, le=48)] = Field(
        2.0, alias="absorption_time"
    )
    absorption_end_a: Annotated[float, FieldUnit("A"), Field(ge=0, le=1000)] | None = (
        Field(None, alias="absorption_end_current")
    )
    recharge_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=80)] | None = Field(
        None, alias="recharge"
    )
    compensation_v_per_k_cell: (
        Annotated[float, FieldUnit("V/K"), Field(ge=-1, le=1)] | None
    ) = Field(None, alias="temperature_compensation_per_cell")
    highest_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=80)] | None = Field(
        None, alias="highest_charge_voltage"
    )
    lowest_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=80)] | None = Field(
        None, alias="lowest_charge_voltage"
    )
    minimum_battery_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=60)] | None = (
        Field(None, alias="minimum_battery")
    )
    charge_min_degc: (
        Annotated[float, FieldUnit("degC"), Field(ge=-60, le=30)] | None
    ) = Field(None, alias="charge_minimum")
    run_headroom_v: Annotated[float, FieldUnit("V"), Field(ge=-100, le=20)] = Field(
        1.0, alias="run_headroom"
    )
    start_headroom_v: Annotated[float, FieldUnit("V"), Field(ge=-100, le=40)] = Field(
        5.0, alias="start_headroom"
    )

    @property
    def all_own_a(self) -> float:
        """Draw of all controllers themselves, mean of day and night [A]."""
        return self.parallel * self.own_current_a - self.less_asleep_a

    @property
    def less_asleep_a(self) -> float:
        """What all draw less than that while the array gives nothing [A]."""
        night_a = self.own_current_night_a
        if night_a is None:
            return 0.0
        return 0.5 * self.parallel * (self.own_current_a - night_a)


def _no_array() -> Array:
    """Return the array of a site without panels: no string at all."""
    return Array.model_construct(
        module="module-36-cell-100w", parallel=0, tilt_deg=45.0, azimuth_deg=180.0
    )


def _no_regulator() -> Regulator:
    """Return the regulator of a site without panels: it draws nothing."""
    return Regulator.model_construct(
        {"kind"}, kind="mppt", own_current_a=0.0, efficiency_frac=1.0
    )


class BatteryUnit(Strict):
    """One battery unit by its name-plate."""

    nominal_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=60)] = Field(
        alias="nominal"
    )
    capacity_ah: Annotated[float, FieldUnit("Ah"), Field(gt=0, le=20_000)] = Field(
        alias="capacity"
    )
    hour_rate_h: Annotated[float, FieldUnit("h"), Field(ge=1, le=500)] = Field(
        alias="hour_rate"
    )
    slow_capacity_ah: (
        Annotated[float, FieldUnit("Ah"), Field(gt=0, le=30_000)] | None
    ) = Field(None, alias="slow_capacity")
    slow_hour_rate_h: Annotated[float, FieldUnit("h"), Field(ge=1, le=500)] | None = (
        Field(None, alias="slow_hour_rate")
    )
    cells: Annotated[Count, Field(le=100)] | None = None


NameOrUnit = Annotated[
    _Name | Annotated[BatteryUnit, Tag("as table")], Discriminator(_form)
]


class Box(Strict):
    """Where the battery stands: open air, insulated box or buried vault."""

    kind: Literal["open", "insulated", "buried"]
    time_constant_h: Annotated[float, FieldUnit("h"), Field(ge=0, le=2000)] = Field(
        0.0, alias="time_constant"
    )
    conductance_w_per_k: Annotated[float, FieldUnit("W/K"), Field(gt=0, le=500)] = (
        Field(2.0, alias="conductance")
    )
    internal_heat_w: Annotated[float, FieldUnit("W"), Field(ge=0, le=500)] = Field(
        0.0, alias="internal_heat"
    )
    sun_gain_k: Annotated[Number, Field(ge=0, le=40)] = 0.0
    depth_m: Annotated[float, FieldUnit("m"), Field(ge=0, le=10)] = Field(
        1.5, alias="depth"
    )
    soil_diffusivity_m2_s: Annotated[
        float, FieldUnit("m**2/s"), Field(ge=0.5e-7, le=3e-6)
    ] = Field(0.5e-6, alias="soil_diffusivity")


class Heater(Strict):
    """An electric heater in the battery box, on a thermostat."""

    power_w: Annotated[float, FieldUnit("W"), Field(gt=0, le=2000)] = Field(
        alias="power"
    )
    on_degc: Annotated[float, FieldUnit("degC"), Field(ge=-60, le=40)] = Field(
        alias="on"
    )
    off_degc: Annotated[float, FieldUnit("degC"), Field(ge=-60, le=40)] = Field(
        alias="off"
    )
    feed: Literal["array", "battery"]


def _points(value: Any) -> tuple[tuple[float, float], ...]:
    """Return pairs of numbers, or say how a curve is written."""
    pairs = value if isinstance(value, list | tuple) else ()
    plain = all(
        isinstance(pair, list | tuple)
        and len(pair) == 2
        and all(isinstance(x, int | float) and not isinstance(x, bool) for x in pair)
        for pair in pairs
    )
    if not plain or not 2 <= len(pairs) <= 200:
        raise QuantityError(
            "needs 2 to 200 pairs of plain numbers: [[-20, 0.6], [0, 0.8], [25, 1.0]]"
        )
    return tuple((float(x), float(y)) for x, y in pairs)


Points = Annotated[
    tuple[tuple[float, float], ...],
    BeforeValidator(_points),
    WithJsonSchema(
        {
            "type": "array",
            "minItems": 2,
            "maxItems": 200,
            "items": {
                "type": "array",
                "minItems": 2,
                "maxItems": 2,
                "items": {"type": "number"},
            },
            "examples": [[[-20, 0.6], [0, 0.8], [25, 1.0]]],
        }
    ),
]


class CurveData(Strict):
    """A curve in place of a built-in one: rising first numbers, and its source."""

    points: Points
    source: Text


class Curves(Strict):
    """A maker's own curves; every other one stays the chemistry's."""

    capacity_by_degc: CurveData | None = None
    capacity_by_hours: CurveData | None = None
    rest_volts_by_state: CurveData | None = None
    charge_efficiency_by_state: CurveData | None = None
    freezing_degc_by_state: CurveData | None = None
    cycles_by_depth: CurveData | None = None


class Battery(BatteryCircuit):
    """The bank: chemistry, units, how many, how old, where it lives."""

    chemistry: ChemistryName
    unit: NameOrUnit
    series: Count = 1
    parallel: Count = 1
    health_frac: Annotated[Fraction, Field(gt=0)] = Field(1.0, alias="health")
    age_y: Annotated[Number, Field(ge=0, le=60)] | None = Field(None, alias="age_years")
    start_frac: Fraction | None = Field(None, alias="state_at_start")
    cold_curve: Literal["conservative", "long-rate"] = "conservative"
    box_time_constant_h: Annotated[float, FieldUnit("h"), Field(ge=0, le=2000)] = Field(
        0.0, alias="box_time_constant"
    )
    box_warmer_k: Annotated[Number, Field(ge=-5, le=40)] = 0.0
    box: Box | None = None
    heater: Heater | None = None
    freeze_margin_frac: Fraction = Field(0.05, alias="freeze_margin")
    cold_policy: Literal["block-charge", "off"] = "block-charge"
    charge_restart_degc: (
        Annotated[float, FieldUnit("degC"), Field(ge=-60, le=40)] | None
    ) = Field(None, alias="charge_restart")
    charge_mode: Literal["float", "boost"] = "boost"
    curves: Curves = Curves()


class Criteria(Strict):
    """What the site must reach."""

    availability_frac: Fraction = Field(1.0, alias="availability")
    autonomy_d: Annotated[float, FieldUnit("d"), Field(ge=0, le=400)] = Field(
        alias="autonomy"
    )
    autonomy_degc: Annotated[float, FieldUnit("degC"), Field(ge=-70, le=70)] = Field(
        alias="autonomy_temperature"
    )
    deepest_discharge_frac: Annotated[Fraction, Field(gt=0)] = Field(
        0.8, alias="deepest_discharge"
    )
    daily_discharge_frac: Annotated[Fraction, Field(gt=0)] = Field(
        0.2, alias="daily_discharge"
    )
    array_to_load_ratio: Annotated[Number, Field(ge=0, le=20)] = 0.0
    recovery_d: Annotated[float, FieldUnit("d"), Field(ge=0, le=400)] | None = Field(
        None, alias="recovery"
    )
    freeze_margin_frac: Fraction | None = Field(None, alias="freeze_margin")
    at_end_of_life: StrictBool = False


class Site(Strict):
    """A whole site file."""

    model_config = ConfigDict(
        json_schema_extra={"$schema": "https://json-schema.org/draft/2020-12/schema"}
    )

    site: Place
    document: Document = Document()
    weather: Weather
    bus: Bus
    supply: tuple[Supply, ...] = ()
    load: Annotated[tuple[Load, ...], Field(min_length=1)] = ()
    rack: Rack | None = None
    # Both may be left out where a [[generator]] stands; the reader sees to that.
    array: Array = Field(default_factory=_no_array)
    regulator: Regulator = Field(default_factory=_no_regulator)
    generator: tuple[Generator, ...] = ()
    access: Access | None = None
    battery: Battery
    protection: Protection | None = None
    criteria: Criteria
    sizing: Steps = Steps()
    worksheet: WorksheetKeys = WorksheetKeys()
    ensemble: Spread = Spread()
    costs: Costs | None = None
    compare: Compared | None = None
    parts_file: Line | None = None
