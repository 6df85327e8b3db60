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
    InWords,
    Latitude,
    Line,
    Longitude,
    Number,
    Strict,
    Text,
    Threshold,
    TimeZone,
    WholeNumber,
    old_words,
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
    """Name and location of the site."""

    name: Name = Field(
        description="Name of the site on every result.", examples=["Valve site 12"]
    )
    note: Text = Field(
        "",
        description="Remark for the reader of the calculation package.",
        examples=["Access by helicopter in winter."],
    )
    fictitious: bool = Field(
        False,
        description="True for a demonstration: figures without a source then count as "
        "unverified.",
        examples=[True],
    )
    latitude_deg: Latitude = Field(
        alias="latitude",
        description="Latitude in decimal degrees, north positive.",
        examples=["55.3 N", -33.9],
    )
    longitude_deg: Longitude = Field(
        alias="longitude",
        description="Longitude in decimal degrees, east positive.",
        examples=["160.5 W", 18.4],
    )
    elevation_m: Annotated[float, FieldUnit("m"), Field(ge=-430, le=6000)] = Field(
        0.0,
        alias="elevation",
        description="Elevation above sea level.",
        examples=["270 m", "886 ft"],
    )
    utc_offset_h: TimeZone | None = Field(
        None,
        alias="time_zone",
        description="Time zone, standard time all year. Without it: that of the weather "
        "file.",
        examples=["UTC-7", "America/Edmonton"],
    )


class MonthlyFigures(Strict):
    """Monthly means of a location, from which synthetic years are generated."""

    source: Annotated[Line, Field(min_length=3)] = Field(
        description="Where the monthly means come from.",
        examples=["climate normals 1991-2020, station A"],
    )
    clearness: Clearness | None = Field(
        None,
        description="Monthly mean clearness index (Kt); state one of `clearness`, "
        "`ghi`, `sun_hours`.",
        examples=[
            [0.44, 0.48, 0.52, 0.53, 0.52, 0.53, 0.52, 0.5, 0.47, 0.43, 0.41, 0.4]
        ],
    )
    ghi_kwh_m2_d: DailySuns | None = Field(
        None,
        alias="ghi",
        description="Monthly mean GHI.",
        examples=[
            "0.68 1.47 2.92 4.63 5.43 5.96 5.62 4.58 2.89 1.66 0.81 0.47 kWh/m2/d"
        ],
    )
    sun_hours_h: SunHours | None = Field(
        None,
        alias="sun_hours",
        description="Monthly mean peak sun hours on the plane of `plane_tilt`.",
        examples=["1.9 3.1 4.4 5.1 5.2 5.3 5.2 4.8 3.9 2.9 2.0 1.5 h"],
    )
    plane_tilt_deg: Annotated[float, FieldUnit("deg"), Field(ge=0, le=90)] | None = (
        Field(
            None,
            alias="plane_tilt",
            description="Tilt of the plane that `sun_hours` refer to.",
            examples=["60 deg"],
        )
    )
    albedo_frac: Shares = Field(
        (0.2,) * 12,
        alias="albedo",
        description="Albedo by month, for the conversion of `sun_hours`.",
        examples=["60 60 50 30 20 20 20 20 20 20 40 60 %"],
    )
    temperature_degc: Temperatures = Field(
        alias="temperature",
        description="Monthly mean ambient temperature.",
        examples=["-16.5 -13 -6.5 3 10.5 15.5 17.9 16 10 3 -8 -14.5 degC"],
    )
    daily_range_k: DailyRanges = Field(
        (9.0,) * 12,
        description="Mean daily temperature range by month, in K.",
        examples=[11],
    )
    design_minimum_degc: (
        Annotated[float, FieldUnit("degC"), Field(ge=-70, le=40)] | None
    ) = Field(
        None,
        alias="design_minimum",
        description="Extreme annual mean minimum temperature. It sets the depth of cold "
        "periods.",
        examples=["-39.5 degC"],
    )
    year_to_year_frac: Shares | None = Field(
        None,
        alias="year_to_year",
        description="Interannual variability of the monthly GHI, as a standard "
        "deviation. Without it: a built-in value.",
        examples=["15 12 8 6 6 6 6 6 6 8 12 15 %"],
    )
    wind_m_s: Annotated[Number, Field(ge=0, le=30)] = Field(
        2.0, description="Mean wind speed, in m/s.", examples=[2.0]
    )
    # `report` takes 1.35 GB for 40 years, `size` 1.0 GB.
    years: Annotated[Count, Field(le=40)] = Field(
        20, description="Number of synthetic years.", examples=[30]
    )
    seed: WholeNumber = Field(
        1, description="Random seed of the synthetic years.", examples=[7]
    )


class DesignTemperatures(Strict):
    """Design temperatures of a location, from a published table, EPW or DDY file."""

    file: Line | None = Field(
        None,
        description="EPW or DDY file with design temperatures, path relative to the "
        "site file.",
        examples=["station.ddy"],
    )
    annual_minimum_degc: (
        Annotated[float, FieldUnit("degC"), Field(ge=-80, le=40)] | None
    ) = Field(
        None,
        alias="annual_minimum",
        description="Extreme annual mean minimum design dry-bulb temperature.",
        examples=["-31 degC"],
    )
    minimum_50_years_degc: (
        Annotated[float, FieldUnit("degC"), Field(ge=-80, le=40)] | None
    ) = Field(
        None,
        alias="minimum_50_years",
        description="Minimum temperature with a return period of 50 years.",
        examples=["-40 degC"],
    )
    heating_99_6_degc: (
        Annotated[float, FieldUnit("degC"), Field(ge=-80, le=40)] | None
    ) = Field(
        None,
        alias="heating_99_6",
        description="99.6 % heating design temperature.",
        examples=["-26 degC"],
    )
    annual_maximum_degc: (
        Annotated[float, FieldUnit("degC"), Field(ge=-20, le=60)] | None
    ) = Field(
        None,
        alias="annual_maximum",
        description="Extreme annual mean maximum design dry-bulb temperature.",
        examples=["38 degC"],
    )
    source: Text = Field(
        "",
        description="Where the design temperatures come from.",
        examples=["climatic design data, 2021, station A"],
    )


class CsvColumns(Strict):
    """Columns and time stamps of a CSV weather file."""

    label: Literal["start", "middle", "end"] = Field(
        description="Part of the interval that a time stamp marks.", examples=["start"]
    )
    utc_offset_h: TimeZone = Field(
        alias="time_zone",
        description="Time zone of the time stamps, standard time all year.",
        examples=["UTC-7"],
    )
    time: Line = Field(
        "time", description="Column of the time stamps.", examples=["time"]
    )
    time_format: Line | None = Field(
        None,
        description="Format of the time stamps where they are not ISO 8601.",
        examples=["%d.%m.%Y %H:%M"],
    )
    ghi: Line = Field(
        "ghi",
        description="Column of the global horizontal irradiance, in W/m².",
        examples=["ghi"],
    )
    temp_air: Line = Field(
        "temp_air",
        description="Column of the ambient temperature, in °C.",
        examples=["temp_air"],
    )
    dni: Line | None = Field(
        None,
        description="Column of the direct normal irradiance, in W/m². Without it the "
        "GHI is split.",
        examples=["dni"],
    )
    dhi: Line | None = Field(
        None,
        description="Column of the diffuse horizontal irradiance, in W/m². Without it "
        "the GHI is split.",
        examples=["dhi"],
    )
    wind_speed: Line | None = Field(
        None, description="Column of the wind speed, in m/s.", examples=["wind_speed"]
    )
    missing: tuple[Number, ...] = Field(
        (), description="Codes that mark missing values.", examples=[[-9999]]
    )


class Weather(Strict):
    """Weather file, monthly means or online service."""

    record: Literal["sand-point", "greensboro", "miami"] | None = Field(
        None,
        description="Typical year that is installed with the program.",
        examples=["sand-point"],
    )
    file: Line | None = Field(
        None,
        description="Weather file or files, path relative to the site file. A pattern "
        "joins several years.",
        examples=["years/*.csv"],
    )
    csv: CsvColumns | None = Field(
        None,
        description="Columns of a CSV weather file of your own.",
        examples=[{"label": "start", "time_zone": "UTC-7"}],
    )
    monthly: MonthlyFigures | None = Field(
        None,
        description="Monthly means, from which synthetic years are generated.",
        examples=[
            {"source": "climate normals", "ghi": "3 kWh/m2/d", "temperature": "8 degC"}
        ],
    )
    online: Literal["pvgis", "pvgis-typical", "nasa-power", "nsrdb"] | None = Field(
        None,
        description="Online service. Only `weather --fetch` uses the network.",
        examples=["nasa-power"],
    )
    format: Literal[
        "auto", "epw", "tmy2", "tmy3", "nsrdb", "pvgis-tmy", "pvgis-hourly"
    ] = Field(
        "auto",
        description="Format of the weather file; `auto` detects it.",
        examples=["epw"],
    )
    step_h: Annotated[float, FieldUnit("h"), Field(gt=0, le=1)] | None = Field(
        None,
        alias="step",
        description="Averages a finer weather file to this step; its energy stays the "
        "same.",
        examples=["1 h"],
    )
    first_year: Annotated[int, Field(ge=1980, le=2100)] | None = Field(
        None,
        description="First year to fetch from the online service.",
        examples=[2005],
    )
    last_year: Annotated[int, Field(ge=1980, le=2100)] | None = Field(
        None, description="Last year to fetch from the online service.", examples=[2020]
    )
    url: Line | None = Field(
        None,
        description="Address of the online service in place of its usual one.",
        examples=["https://example.org/api"],
    )
    winter_shortfall_frac: Annotated[Fraction, Field(lt=1)] = Field(
        0.0,
        alias="winter_shortfall",
        description="Winter derating: share removed from the irradiation of the three "
        "months with the lowest GHI.",
        examples=["20 %"],
    )
    design: DesignTemperatures | None = Field(
        None,
        description="Design temperatures of the site. Without it: those of an EPW file.",
        examples=[{"annual_minimum": "-31 degC", "source": "climatic design data"}],
    )


class Bus(Strict):
    """Dc bus: voltage, LVD, LVR, contingency, load shedding."""

    nominal_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=60)] = Field(
        alias="nominal", description="Nominal voltage of the dc bus.", examples=["24 V"]
    )
    disconnect_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=80)] | None = Field(
        None,
        alias="low_voltage_disconnect",
        description="Low-voltage disconnect (LVD). State this or `disconnect_state`; "
        "there is no default.",
        examples=["23.2 V"],
    )
    reconnect_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=80)] | None = Field(
        None,
        alias="low_voltage_reconnect",
        description="Low-voltage reconnect (LVR).",
        examples=["25.6 V"],
    )
    disconnect_soc_frac: Fraction | None = Field(
        None,
        alias="disconnect_state",
        description="SOC disconnect, in place of the LVD.",
        examples=["30 %"],
    )
    reconnect_soc_frac: Fraction | None = Field(
        None,
        alias="reconnect_state",
        description="SOC reconnect, in place of the LVR.",
        examples=["50 %"],
    )
    contingency_frac: Fraction = Field(
        0.0,
        alias="contingency",
        description="Contingency on the daily load. It is applied once.",
        examples=["15 %"],
    )
    leakage_a: Annotated[float, FieldUnit("A"), Field(ge=0, le=10)] = Field(
        0.005,
        alias="standing_leakage",
        description="Standing leakage current of wiring and surge devices.",
        examples=["5 mA"],
    )
    disconnect_delay_h: Annotated[float, FieldUnit("h"), Field(ge=0, le=24)] = Field(
        0.0,
        alias="disconnect_delay",
        description="LVD time delay. It lets short voltage sags pass.",
        examples=["30 min"],
    )
    shed_first: Threshold | None = Field(
        None,
        description="Threshold of load shedding stage 1, by voltage or SOC.",
        examples=["24.2 V", "45 %"],
    )
    shed_second: Threshold | None = Field(
        None,
        description="Threshold of load shedding stage 2, by voltage or SOC.",
        examples=["23.6 V", "35 %"],
    )
    shed_first_return: Threshold | None = Field(
        None,
        description="Threshold at which stage 1 loads return. Without it: as far above "
        "as LVR above LVD.",
        examples=["26 V"],
    )
    shed_second_return: Threshold | None = Field(
        None,
        description="Threshold at which stage 2 loads return. Without it: as far above "
        "as LVR above LVD.",
        examples=["25.5 V"],
    )


class ModuleData(ModuleLimits):
    """PV module by its data-sheet figures at STC (1000 W/m2, 25 degC)."""

    power_w: Annotated[float, FieldUnit("W"), Field(gt=0, le=1000)] = Field(
        alias="power", description="Maximum power (Pmp) at STC.", examples=["100 W"]
    )
    max_power_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=200)] = Field(
        alias="max_power_voltage",
        description="Voltage at maximum power (Vmp) at STC.",
        examples=["18 V"],
    )
    max_power_a: Annotated[float, FieldUnit("A"), Field(gt=0, le=30)] = Field(
        alias="max_power_current",
        description="Current at maximum power (Imp) at STC.",
        examples=["5.56 A"],
    )
    open_circuit_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=250)] = Field(
        alias="open_circuit_voltage",
        description="Open-circuit voltage (Voc) at STC.",
        examples=["22 V"],
    )
    short_circuit_a: Annotated[float, FieldUnit("A"), Field(gt=0, le=35)] = Field(
        alias="short_circuit_current",
        description="Short-circuit current (Isc) at STC.",
        examples=["6 A"],
    )
    open_circuit_per_k: Annotated[float, FieldUnit("1/K"), Field(ge=-0.02, le=0)] = (
        Field(
            -0.0033,
            alias="open_circuit_temperature",
            description="Temperature coefficient of Voc.",
            examples=["-0.33 %/degC"],
        )
    )
    short_circuit_per_k: Annotated[
        float, FieldUnit("1/K"), Field(ge=-0.01, le=0.01)
    ] = Field(
        0.0005,
        alias="short_circuit_temperature",
        description="Temperature coefficient of Isc.",
        examples=["0.05 %/degC"],
    )
    cells: Annotated[Count, Field(le=200)] = Field(
        36, description="Number of cells in series.", examples=[36]
    )


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
    """Snow loss of the array."""

    cover: Literal["none", "slides", "stays", "cleared"] = Field(
        description="Snow model: no snow, sliding off, staying until melted, or cleared "
        "at intervals.",
        examples=["slides"],
    )
    cleared_every_d: Annotated[float, FieldUnit("d"), Field(gt=0, le=365)] | None = (
        Field(
            None,
            alias="cleared_every",
            description='Interval of clearing, for `cover = "cleared"`.',
            examples=["14 d"],
        )
    )
    snowfall_m: Falls | None = Field(
        None,
        alias="snowfall",
        description="Snowfall by month.",
        examples=["30 25 20 5 0 0 0 0 0 5 20 30 cm"],
    )
    snow_days: FallDays | None = Field(
        None,
        description="Days with snowfall by month. Without it: calculated from the "
        "snowfall.",
        examples=[[9, 8, 6, 2, 0, 0, 0, 0, 0, 2, 7, 9]],
    )
    cell_strings: Annotated[Count, Field(le=12)] = Field(
        1,
        description="Cell strings of a module that snow shades one after the other.",
        examples=[2],
    )
    source: Text = Field(
        "",
        description="Where the snow data come from.",
        examples=["climate normals, station A"],
    )


class Array(ArrayCircuit):
    """PV array: modules, strings, tilt, azimuth, losses."""

    module: NameOrModule = Field(
        description="PV module: part of the library, table of data-sheet figures, or "
        "name in the CEC table.",
        examples=[
            "module-36-cell-100w",
            {
                "power": "100 W",
                "max_power_voltage": "18 V",
                "max_power_current": "5.56 A",
                "open_circuit_voltage": "22 V",
                "short_circuit_current": "6 A",
            },
        ],
    )
    series: Count = Field(
        1, description="PV modules in series in each string.", examples=[2]
    )
    parallel: Count = Field(1, description="Parallel PV strings.", examples=[4])
    tilt_deg: Annotated[float, FieldUnit("deg"), Field(ge=0, le=90)] = Field(
        alias="tilt", description="Tilt from the horizontal.", examples=["60 deg"]
    )
    azimuth_deg: Azimuth = Field(
        alias="azimuth",
        description="Azimuth clockwise from north, as an angle or a compass direction.",
        examples=["180 deg", "south"],
    )
    albedo_frac: Fraction = Field(
        0.2,
        alias="albedo",
        description="Albedo of the ground in front of the array, same all year.",
        examples=["20 %"],
    )
    soiling_frac: LossShare = Field(
        0.03,
        alias="soiling",
        description="Soiling loss, same all year.",
        examples=["3 %"],
    )
    mismatch_frac: LossShare = Field(
        0.02, alias="mismatch", description="Mismatch loss.", examples=["2 %"]
    )
    wiring_frac: LossShare = Field(
        0.02,
        alias="wiring_loss",
        description="Dc wiring loss of the array.",
        examples=["2 %"],
    )
    ageing_frac: LossShare = Field(
        0.0,
        alias="ageing",
        description="Module degradation at the age of the simulation.",
        examples=["5 %"],
    )
    albedo_by_month: Shares | None = Field(
        None,
        description="Albedo by month; it replaces `albedo`.",
        examples=["60 60 50 30 20 20 20 20 20 20 40 60 %"],
    )
    soiling_by_month: Shares | None = Field(
        None,
        description="Soiling loss by month; it replaces `soiling`.",
        examples=["3 3 3 3 5 5 5 5 3 3 3 3 %"],
    )
    horizon: tuple[tuple[Number, Number], ...] | None = Field(
        None,
        description="Horizon profile: pairs of azimuth from north and elevation angle, "
        "in degrees.",
        examples=[[[135, 8], [180, 12]]],
    )
    horizon_file: Line | None = Field(
        None,
        description="File with the horizon profile, path relative to the site file.",
        examples=["horizon.csv"],
    )
    snow: Snow | None = Field(
        None,
        description="Snow loss. Without it snow is not included, and a NOTE says so.",
        examples=[{"cover": "slides", "snowfall": "30 25 20 5 0 0 0 0 0 5 20 30 cm"}],
    )


class Regulator(RegulatorLimits):
    """Charge controller: type, ratings, losses, charging voltages."""

    part: Line | None = Field(
        None,
        description="Charge controller in the parts library. Keys written here replace "
        "its figures.",
        examples=["charge-controller-mppt-100v-30a"],
    )
    kind: Literal["mppt", "pwm"] = Field(
        description="MPPT controller, or PWM controller with the array at battery "
        "voltage.",
        examples=["mppt"],
    )
    efficiency_frac: Efficiency = Field(
        0.96,
        alias="efficiency",
        description="Efficiency of an MPPT controller, the same at every output: tracking "
        "and conversion together, or conversion alone where `tracking` is stated.",
        examples=["96 %"],
    )
    own_current_a: Annotated[float, FieldUnit("A"), Field(ge=0, le=2)] = Field(
        0.015,
        alias="own_current",
        description="Self-consumption of one charge controller.",
        examples=["15 mA"],
    )
    own_current_night_a: Annotated[float, FieldUnit("A"), Field(ge=0, le=2)] | None = (
        Field(
            None,
            alias="own_current_night",
            description="Self-consumption while the array gives no power. Without it: "
            "`own_current`.",
            examples=["10 mA"],
        )
    )
    drop_v: Annotated[float, FieldUnit("V"), Field(ge=0, le=3)] = Field(
        0.3,
        alias="voltage_drop",
        description="Voltage drop of a PWM controller between array and battery.",
        examples=["0.3 V"],
    )
    absorption_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=80)] | None = Field(
        None,
        alias="absorption",
        description="Absorption voltage at 25 °C. Without it: that of the chemistry.",
        examples=["28.8 V"],
    )
    float_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=80)] | None = Field(
        None,
        alias="float",
        description="Float voltage at 25 °C. Without it the absorption voltage is held.",
        examples=["27.2 V"],
    )
    absorption_h: Annotated[float, FieldUnit("h"), Field(gt=0, le=48)] = Field(
        2.0,
        alias="absorption_time",
        description="Longest time at absorption voltage before float.",
        examples=["2 h"],
    )
    absorption_end_a: Annotated[float, FieldUnit("A"), Field(ge=0, le=1000)] | None = (
        Field(
            None,
            alias="absorption_end_current",
            description="Charge current that ends absorption. Without it: 4 % of the rated "
            "capacity in A.",
            examples=["2 A"],
        )
    )
    recharge_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=80)] | None = Field(
        None,
        alias="recharge",
        description="Battery voltage that ends float. Without it float ends at dawn.",
        examples=["25.6 V"],
    )
    compensation_v_per_k_cell: (
        Annotated[float, FieldUnit("V/K"), Field(ge=-1, le=1)] | None
    ) = Field(
        None,
        alias="temperature_compensation_per_cell",
        description="Temperature compensation per cell. Without it: that of the "
        "chemistry.",
        examples=["-4 mV/degC"],
    )
    highest_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=80)] | None = Field(
        None,
        alias="highest_charge_voltage",
        description="Upper limit of the compensated charging voltage.",
        examples=["29.6 V"],
    )
    lowest_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=80)] | None = Field(
        None,
        alias="lowest_charge_voltage",
        description="Lower limit of the compensated charging voltage.",
        examples=["26 V"],
    )
    minimum_battery_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=60)] | None = (
        Field(
            None,
            alias="minimum_battery",
            description="Lowest battery voltage at which the charge controller starts. "
            "Below it recovery is manual.",
            examples=["16 V"],
        )
    )
    charge_min_degc: (
        Annotated[float, FieldUnit("degC"), Field(ge=-60, le=30)] | None
    ) = Field(
        None,
        alias="charge_minimum",
        description="Lowest battery temperature at which the charge controller charges.",
        examples=["0 degC"],
    )
    run_headroom_v: Annotated[float, FieldUnit("V"), Field(ge=-100, le=20)] = Field(
        1.0,
        alias="run_headroom",
        description="Array voltage above battery voltage that an MPPT controller needs "
        "to run.",
        examples=["1 V"],
    )
    start_headroom_v: Annotated[float, FieldUnit("V"), Field(ge=-100, le=40)] = Field(
        5.0,
        alias="start_headroom",
        description="Array voltage above battery voltage that an MPPT controller needs "
        "to start.",
        examples=["5 V"],
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
    """One battery unit by its nameplate."""

    nominal_v: Annotated[float, FieldUnit("V"), Field(gt=0, le=60)] = Field(
        alias="nominal",
        description="Nominal voltage of one battery unit.",
        examples=["12 V"],
    )
    capacity_ah: Annotated[float, FieldUnit("Ah"), Field(gt=0, le=20_000)] = Field(
        alias="capacity",
        description="Rated capacity of one battery unit at `hour_rate`.",
        examples=["100 Ah"],
    )
    hour_rate_h: Annotated[float, FieldUnit("h"), Field(ge=1, le=500)] = Field(
        alias="hour_rate",
        description="Hour rate of the rated capacity.",
        examples=["20 h"],
    )
    slow_capacity_ah: (
        Annotated[float, FieldUnit("Ah"), Field(gt=0, le=30_000)] | None
    ) = Field(
        None,
        alias="slow_capacity",
        description="Second rated capacity, at the slower rate `slow_hour_rate`.",
        examples=["110 Ah"],
    )
    slow_hour_rate_h: Annotated[float, FieldUnit("h"), Field(ge=1, le=500)] | None = (
        Field(
            None,
            alias="slow_hour_rate",
            description="Hour rate of `slow_capacity`.",
            examples=["100 h"],
        )
    )
    cells: Annotated[Count, Field(le=100)] | None = Field(
        None,
        description="Cells in series in one unit. Without it: nominal voltage over cell "
        "voltage.",
        examples=[6],
    )


NameOrUnit = Annotated[
    _Name | Annotated[BatteryUnit, Tag("as table")], Discriminator(_form)
]


class Box(Strict):
    """Battery box: open, insulated or buried."""

    kind: Literal["open", "insulated", "buried"] = Field(
        description="Battery box in open air, insulated, or buried.",
        examples=["insulated"],
    )
    time_constant_h: Annotated[float, FieldUnit("h"), Field(ge=0, le=2000)] = Field(
        0.0,
        alias="time_constant",
        description="Thermal time constant: heat capacity of battery and box over "
        "conductance.",
        examples=["18 h"],
    )
    conductance_w_per_k: Annotated[float, FieldUnit("W/K"), Field(gt=0, le=500)] = (
        Field(
            2.0,
            alias="conductance",
            description="Heat loss of the box per kelvin.",
            examples=["1.5 W/degC"],
        )
    )
    internal_heat_w: Annotated[float, FieldUnit("W"), Field(ge=0, le=500)] = Field(
        0.0,
        alias="internal_heat",
        description="Constant heat from equipment in the box.",
        examples=["5 W"],
    )
    sun_gain_k: Annotated[Number, Field(ge=0, le=40)] = Field(
        0.0,
        description="Temperature rise of the box at an irradiance of 1000 W/m², in K.",
        examples=[5],
    )
    depth_m: Annotated[float, FieldUnit("m"), Field(ge=0, le=10)] = Field(
        1.5,
        alias="depth",
        description="Depth of a buried box, for its ground temperature.",
        examples=["1.5 m"],
    )
    soil_diffusivity_m2_s: Annotated[
        float, FieldUnit("m**2/s"), Field(ge=0.5e-7, le=3e-6)
    ] = Field(
        0.5e-6,
        alias="soil_diffusivity",
        description="Thermal diffusivity of the soil around a buried box.",
        examples=["0.5e-6 m2/s"],
    )


class Heater(Strict):
    """Battery heater with thermostat."""

    power_w: Annotated[float, FieldUnit("W"), Field(gt=0, le=2000)] = Field(
        alias="power", description="Power of the battery heater.", examples=["40 W"]
    )
    on_degc: Annotated[float, FieldUnit("degC"), Field(ge=-60, le=40)] = Field(
        alias="on",
        description="Box temperature at which the heater switches on.",
        examples=["3 degC"],
    )
    off_degc: Annotated[float, FieldUnit("degC"), Field(ge=-60, le=40)] = Field(
        alias="off",
        description="Box temperature at which the heater switches off.",
        examples=["6 degC"],
    )
    feed: Literal["array", "battery"] = Field(
        description="Heater fed from the array only, or from the battery at any time.",
        examples=["array"],
    )


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
    InWords("pairs", "2 to 200 pairs"),
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
    """A curve in place of a built-in one, with its source."""

    points: Points = Field(
        description="Pairs of numbers; the first numbers must rise.",
        examples=[[[-40, 0.35], [-20, 0.62], [0, 0.84], [25, 1.0]]],
    )
    source: Text = Field(
        description="Where the curve comes from.",
        examples=["data sheet, 20 h rate, page 3"],
    )


class Curves(Strict):
    """Curves of the manufacturer; the others remain those of the chemistry."""

    capacity_by_degc: CurveData | None = Field(
        None,
        description="Available capacity by temperature in °C, as a share of that at 25 "
        "°C.",
        examples=[
            {
                "points": [[-40, 0.35], [-20, 0.62], [0, 0.84], [25, 1.0]],
                "source": "data sheet, 20 h rate, page 3",
            }
        ],
    )
    capacity_by_hours: CurveData | None = Field(
        None,
        description="Capacity by discharge time in h, as a share of the rated capacity.",
        examples=[
            {
                "points": [[5, 0.83], [20, 1.0], [100, 1.1]],
                "source": "data sheet, page 2",
            }
        ],
    )
    rest_volts_by_state: CurveData | None = Field(
        None,
        description="Open-circuit voltage per cell by SOC, as a fraction.",
        examples=[
            {
                "points": [[0, 1.93], [0.5, 2.05], [1, 2.14]],
                "source": "data sheet, page 5",
            }
        ],
    )
    charge_efficiency_by_state: CurveData | None = Field(
        None,
        description="Coulombic efficiency by SOC, both as fractions.",
        examples=[
            {
                "points": [[0, 0.98], [0.8, 0.95], [1, 0.6]],
                "source": "data sheet, page 6",
            }
        ],
    )
    freezing_degc_by_state: CurveData | None = Field(
        None,
        description="Freezing temperature of the electrolyte in °C by SOC, as a "
        "fraction.",
        examples=[
            {"points": [[0, -8], [0.5, -25], [1, -65]], "source": "handbook, table 4"}
        ],
    )
    cycles_by_depth: CurveData | None = Field(
        None,
        description="Cycle life by DOD, as a fraction.",
        examples=[
            {
                "points": [[0.2, 3000], [0.5, 1100], [0.8, 600]],
                "source": "data sheet, page 4",
            }
        ],
    )


Curve = Annotated[
    Literal["conservative", "slow-rate"], old_words({"long-rate": "slow-rate"})
]


class Battery(BatteryCircuit):
    """Battery: chemistry, units, strings, SOH, box, heater."""

    chemistry: ChemistryName = Field(
        description="Battery chemistry. It sets every curve that the file does not "
        "state.",
        examples=["agm"],
    )
    unit: NameOrUnit = Field(
        description="Battery unit: part of the library, or table of nameplate figures.",
        examples=[
            "battery-agm-12v-100ah",
            {"nominal": "12 V", "capacity": "100 Ah", "hour_rate": "20 h"},
        ],
    )
    series: Count = Field(
        1, description="Battery units in series in each string.", examples=[2]
    )
    parallel: Count = Field(1, description="Parallel battery strings.", examples=[4])
    health_frac: Annotated[Fraction, Field(gt=0)] = Field(
        1.0,
        alias="health",
        description="State of health (SOH) in the simulation, as a share of the rated "
        "capacity.",
        examples=["90 %"],
    )
    age_y: Annotated[Number, Field(ge=0, le=60)] | None = Field(
        None,
        alias="age_years",
        description="Age of the battery in years; it sets the SOH by calendar life.",
        examples=[4],
    )
    start_frac: Fraction | None = Field(
        None,
        alias="state_at_start",
        description="Initial SOC. Without it the simulation begins full, or, where the battery is "
        "never full in the last year, with the SOC at which it ends.",
        examples=["80 %"],
    )
    cold_curve: Curve = Field(
        "conservative",
        description="Temperature derating of lead-acid batteries: conservative, or "
        "slow-rate.",
        examples=["conservative"],
    )
    box_time_constant_h: Annotated[float, FieldUnit("h"), Field(ge=0, le=2000)] = Field(
        0.0,
        alias="box_time_constant",
        description="Thermal time constant of a simple box; 0 h follows the ambient "
        "temperature.",
        examples=["10 h"],
    )
    box_warmer_k: Annotated[Number, Field(ge=-5, le=40)] = Field(
        0.0,
        description="Temperature of a simple box above ambient, in K.",
        examples=[5],
    )
    box: Box | None = Field(
        None,
        description="Battery box with heat balance; it replaces the two keys of a "
        "simple box.",
        examples=[{"kind": "insulated", "time_constant": "18 h"}],
    )
    heater: Heater | None = Field(
        None,
        description="Battery heater with thermostat; it needs [battery.box].",
        examples=[{"power": "40 W", "on": "3 degC", "off": "6 degC", "feed": "array"}],
    )
    freeze_margin_frac: Fraction = Field(
        0.05,
        alias="freeze_margin",
        description="Freezing margin: SOC above the freezing SOC, in points. Hours "
        "below it are counted.",
        examples=["5 %"],
    )
    cold_policy: Literal["block-charge", "off"] = Field(
        "block-charge",
        description="Below the charging limit: inhibit charging, or switch the battery "
        "off.",
        examples=["block-charge"],
    )
    charge_restart_degc: (
        Annotated[float, FieldUnit("degC"), Field(ge=-60, le=40)] | None
    ) = Field(
        None,
        alias="charge_restart",
        description="Core temperature at which inhibited charging restarts.",
        examples=["3 degC"],
    )
    discharge_min_degc: (
        Annotated[float, FieldUnit("degC"), Field(ge=-40, le=20)] | None
    ) = Field(
        None,
        alias="discharge_minimum",
        description="Lowest battery temperature for discharge, from the data sheet. "
        "Without it lithium cells deliver no current below -20 °C.",
        examples=["-30 degC"],
    )
    charge_mode: Literal["float", "boost"] = Field(
        "boost",
        description="Charging mode for the ventilation calculation.",
        examples=["boost"],
    )
    curves: Curves = Field(
        Curves(),
        description="Curves of the manufacturer; they replace those of the chemistry.",
        examples=[
            {
                "capacity_by_degc": {
                    "points": [[-20, 0.62], [25, 1.0]],
                    "source": "data sheet, page 3",
                }
            }
        ],
    )


class Criteria(Strict):
    """Criteria that the design must pass."""

    availability_frac: Fraction = Field(
        1.0,
        alias="availability",
        description="Availability of the critical loads over all years of the weather "
        "file.",
        examples=["100 %"],
    )
    autonomy_d: Annotated[float, FieldUnit("d"), Field(ge=0, le=400)] = Field(
        alias="autonomy",
        description="Autonomy: days from full charge to the LVD, with no charge from "
        "any source.",
        examples=["5 d"],
    )
    autonomy_degc: Annotated[float, FieldUnit("degC"), Field(ge=-70, le=70)] = Field(
        alias="autonomy_temperature",
        description="Battery temperature for the autonomy.",
        examples=["-10 degC"],
    )
    deepest_discharge_frac: Annotated[Fraction, Field(gt=0)] = Field(
        0.8,
        alias="deepest_discharge",
        description="Maximum DOD limit over the whole simulation.",
        examples=["60 %"],
    )
    daily_discharge_frac: Annotated[Fraction, Field(gt=0)] = Field(
        0.2,
        alias="daily_discharge",
        description="Daily DOD limit: daily load of the highest-load month, as a share "
        "of full-charge capacity.",
        examples=["20 %"],
    )
    array_to_load_ratio: Annotated[Number, Field(ge=0, le=20)] = Field(
        0.0,
        description="Lowest array-to-load ratio (A:L) of any month.",
        examples=[1.1],
    )
    recovery_d: Annotated[float, FieldUnit("d"), Field(ge=0, le=400)] | None = Field(
        None,
        alias="recovery",
        description="Longest recovery time from LVD to LVR. Without it: no criterion.",
        examples=["20 d"],
    )
    freeze_margin_frac: Fraction | None = Field(
        None,
        alias="freeze_margin",
        description="Freezing margin over the whole simulation, in points of SOC. "
        "Without it: no criterion.",
        examples=["10 %"],
    )
    at_end_of_life: StrictBool = Field(
        False,
        description="True judges `run` with the battery at its end-of-life capacity.",
        examples=[True],
    )


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
    parts_file: Line | None = Field(
        None,
        description="Parts of your own: TOML, CSV or workbook, path relative to the "
        "site file.",
        examples=["my-parts.toml"],
    )
