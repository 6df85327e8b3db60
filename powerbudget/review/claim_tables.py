"""What a claims file may hold: one table a claim, each kind with its own conditions."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, ConfigDict, Field, model_validator

from powerbudget.quantities import QuantityError
from powerbudget.review.claim_fields import (
    Days,
    Degrees,
    Draw,
    FuelUse,
    Hours,
    Monthly,
    Names,
    Pressure,
    Store,
    Sum,
    Volts,
    Watts,
    Years,
    yearly,
)
from powerbudget.site.fields import (
    MONTHS,
    ChemistryName,
    Count,
    FieldUnit,
    Fraction,
    InWords,
    Line,
    Number,
    Strict,
    Text,
    WholeNumber,
    old_words,
)

Chemistry = ChemistryName
GeneratorWord = Annotated[
    Literal[
        "thermoelectric", "methanol-cell", "solid-oxide-cell", "engine",
        "diesel-engine", "stirling", "vapor-turbine",
    ],
    old_words({"vapour-turbine": "vapor-turbine"}),
]  # fmt: skip
FuelWord = Literal["natural-gas", "propane", "methanol", "diesel"]
RecordWord = Literal["sand-point", "greensboro", "miami"]
"""Another place whose sky the vendor counts on, by its record."""
Depth = Annotated[Fraction, Field(gt=0)]
SunHours = Annotated[float, FieldUnit("h"), Field(gt=0, le=24)]
Elevation = Annotated[float, FieldUnit("m"), Field(ge=-430, le=6000)]
UNITS = {
    "degc": "degC", "d": "d", "h": "h", "w": "W", "v": "V", "y": "years",
    "frac": "fraction",
}  # fmt: skip
"""End of a field's name -> its unit."""


def _month(value: object) -> object:
    words = {"worst": 0, "year": -1, **{m.lower(): k for k, m in enumerate(MONTHS, 1)}}
    if isinstance(value, int) and not isinstance(value, bool):
        return value
    key = value.strip().lower() if isinstance(value, str) else ""
    key = key if key in words else key[:3]
    if key not in words:
        raise QuantityError("needs 'worst', 'year' or a month, such as 'Dec'")
    return words[key]


Month = Annotated[
    int,
    InWords("month", "worst, year, or Jan to Dec"),
    BeforeValidator(_month),
    Field(ge=-1, le=12),
]
"""1 to 12; 0 for the month that is worst, -1 for the mean of the year."""


def written_name(field: str) -> str:
    """Return the key of a claims file for a field: its name without the unit.

    Examples
    --------
    >>> written_name("claimed_w"), written_name("hour_rate_h"), written_name("margin")
    ('claimed', 'hour_rate', 'margin')
    """
    name, _, unit = field.rpartition("_")
    return name if unit in (*UNITS, "m", "kpa") else field


class Claim(Strict):
    """What every claim may say beside its figure; keys are written without units."""

    model_config = ConfigDict(alias_generator=written_name)
    says: Line | None = Field(
        None,
        description="The vendor's sentence, printed as written.",
        examples=["4 days on 180 Ah"],
    )
    source: Text = Field(
        "", description="Where the claim stands.", examples=["offer 17, page 3"]
    )

    def stated(self) -> tuple[str, float] | None:
        """Return unit and figure of what is claimed, None without one in a known unit."""
        pair = getattr(self, "claimed", None)
        if isinstance(pair, tuple):
            return pair
        for suffix, unit in UNITS.items():
            value = getattr(self, f"claimed_{suffix}", None)
            if value is not None:
                return unit, float(value)
        return None


class DrawClaim(Claim):
    """Power or current of the rack, of loads, of the parasitic load, or of the site."""

    kind: Literal["draw"] = Field(description="Kind of claim.", examples=["draw"])
    claimed: Draw = Field(
        description="Stated power or current.", examples=["25 W", "1.2 A"]
    )
    of: Names = Field(
        ("site",),
        description="What the value refers to: `site`, `rack`, `hidden`, loads, parts "
        "or supplies.",
        examples=["site", ["radio", "controller"]],
    )
    state: Literal["mean", "loaded", "idle", "maximum", "peak"] | None = Field(
        None,
        description="Operating state of the value: average, all channels in use, no "
        "channel in use, maximum or peak.",
        examples=["mean"],
    )
    side: Literal["load", "bus"] | None = Field(
        None,
        description="Value at the load, or at the dc bus with converter losses.",
        examples=["bus"],
    )
    cards: dict[Line, WholeNumber] | WholeNumber | None = Field(
        None,
        description="Cards of the claim: their number, or their number by part.",
        examples=[6],
    )
    voltage_v: Volts | None = Field(
        None,
        description="Voltage of a value in amperes. Without it: the nominal bus "
        "voltage.",
        examples=["24 V"],
    )


class EnergyClaim(Claim):
    """Energy or charge per day, month or year, of the site or of loads."""

    kind: Literal["energy"] = Field(description="Kind of claim.", examples=["energy"])
    claimed: Sum = Field(
        description="Stated energy or charge per day, month or year.",
        examples=["400 Wh/day", "146 kWh/year"],
    )
    of: Names = Field(
        ("site",),
        description="What the value refers to: `site`, `rack`, `hidden`, loads, parts "
        "or supplies.",
        examples=["site"],
    )
    side: Literal["load", "bus"] | None = Field(
        None,
        description="Value at the load, or at the dc bus with converter losses.",
        examples=["load"],
    )
    voltage_v: Volts | None = Field(
        None,
        description="Voltage of a value in ampere-hours. Without it: the nominal bus "
        "voltage.",
        examples=["24 V"],
    )


class StoreConditions(Claim):
    """A battery as the vendor states it, and its load."""

    battery: Store | None = Field(
        None,
        description="Stated battery capacity or energy. Without it: the battery of the "
        "site.",
        examples=["180 Ah", "2.2 kWh"],
    )
    battery_voltage_v: Volts | None = Field(
        None, description="Nominal voltage of the stated battery.", examples=["12 V"]
    )
    hour_rate_h: Hours | None = Field(
        None, description="Hour rate of the stated capacity.", examples=["100 h"]
    )
    temperature_degc: Degrees | None = Field(
        None, description="Battery temperature of the claim.", examples=["25 degC"]
    )
    depth_frac: Depth | None = Field(None, description="Stated DOD.", examples=["80 %"])
    load: Draw | None = Field(
        None,
        description="Stated average load. Without it: the load of the site.",
        examples=["12.5 W"],
    )
    duty_frac: Fraction = Field(
        1.0, description="Duty cycle of the stated load.", examples=["100 %"]
    )
    chemistry: Chemistry | None = Field(
        None, description="Chemistry of the stated battery.", examples=["agm"]
    )


class AutonomyClaim(StoreConditions):
    """Days from full charge to the LVD with no charge from any source."""

    kind: Literal["autonomy"] = Field(
        description="Kind of claim.", examples=["autonomy"]
    )
    claimed_d: Days = Field(description="Stated autonomy.", examples=["4 d"])


class BatteryClaim(StoreConditions):
    """A battery stated to be enough for the site."""

    kind: Literal["battery"] = Field(description="Kind of claim.", examples=["battery"])
    claimed: Store = Field(
        description="Battery stated to be enough.", examples=["400 Ah"]
    )
    days_d: Days | None = Field(
        None,
        description="Autonomy of the claim. Without it: the criteria of the site.",
        examples=["5 d"],
    )


class ArrayClaim(Claim):
    """A PV array stated to be enough for the site."""

    kind: Literal["array"] = Field(description="Kind of claim.", examples=["array"])
    place: RecordWord | None = Field(
        None,
        description="Weather file that the vendor used in place of the site's.",
        examples=["greensboro"],
    )
    claimed_w: Watts | None = Field(
        None, description="Array power stated to be enough.", examples=["300 W"]
    )
    module: Line | None = Field(
        None,
        description="PV module of the claim. Without it: that of the site.",
        examples=["module-36-cell-100w"],
    )
    modules: Count | None = Field(
        None, description="Number of modules of the claim.", examples=[3]
    )
    sun_hours_h: SunHours | None = Field(
        None, description="Stated peak sun hours.", examples=["5 h"]
    )
    load: Draw | None = Field(
        None,
        description="Stated average load. Without it: the load of the site.",
        examples=["12.5 W"],
    )


class AvailabilityClaim(Claim):
    """Share of the hours with the critical loads served."""

    kind: Literal["availability"] = Field(
        description="Kind of claim.", examples=["availability"]
    )
    place: RecordWord | None = Field(
        None,
        description="Weather file that the vendor used in place of the site's.",
        examples=["greensboro"],
    )
    claimed_frac: Fraction = Field(
        description="Stated availability.", examples=["99.9 %"]
    )
    load: Draw | None = Field(
        None,
        description="Stated average load. Without it: the load of the site.",
        examples=["12.5 W"],
    )


class RecoveryClaim(Claim):
    """Recovery time from LVD to LVR."""

    kind: Literal["recovery"] = Field(
        description="Kind of claim.", examples=["recovery"]
    )
    claimed_d: Days = Field(
        description="Stated recovery time from LVD to LVR.", examples=["7 d"]
    )
    load: Draw | None = Field(
        None,
        description="Stated average load. Without it: the load of the site.",
        examples=["12.5 W"],
    )
    array_w: Watts | None = Field(
        None,
        description="Stated array power. Without it: the array of the site.",
        examples=["300 W"],
    )


class YieldClaim(Claim):
    """Available array energy per day, month or year."""

    kind: Literal["yield"] = Field(description="Kind of claim.", examples=["yield"])
    place: RecordWord | None = Field(
        None,
        description="Weather file that the vendor used in place of the site's.",
        examples=["greensboro"],
    )
    claimed: Sum = Field(
        description="Stated available array energy per day, month or year.",
        examples=["500 Wh/day"],
    )
    month: Month = Field(
        0,
        description="Month of the value; `worst` for the lowest month, `year` for the "
        "mean.",
        examples=["Dec"],
    )
    array_w: Watts | None = Field(
        None,
        description="Stated array power. Without it: the array of the site.",
        examples=["300 W"],
    )
    sun_hours_h: SunHours | None = Field(
        None, description="Stated peak sun hours.", examples=["2.5 h"]
    )

    @model_validator(mode="before")
    @classmethod
    def _year(cls, raw: Any) -> Any:
        # A sum of the year is none of the darkest month's.
        if isinstance(raw, dict) and "month" not in raw and yearly(raw.get("claimed")):
            return {**raw, "month": "year"}
        return raw


class SunClaim(Claim):
    """Peak sun hours on the module plane, in a month or as the mean of the year."""

    kind: Literal["sun"] = Field(description="Kind of claim.", examples=["sun"])
    place: RecordWord | None = Field(
        None,
        description="Weather file that the vendor used in place of the site's.",
        examples=["greensboro"],
    )
    claimed_h: SunHours = Field(
        description="Stated peak sun hours on the module plane.", examples=["2.5 h"]
    )
    month: Month = Field(
        0,
        description="Month of the value; `worst` for the lowest month, `year` for the "
        "mean.",
        examples=["worst"],
    )


class ModuleClaim(Claim):
    """Power of a PV module held at battery voltage."""

    kind: Literal["module"] = Field(description="Kind of claim.", examples=["module"])
    claimed_w: Watts = Field(
        description="Stated module power at battery voltage.", examples=["200 W"]
    )
    module: Line | None = Field(
        None,
        description="PV module of the claim. Without it: that of the site.",
        examples=["module-36-cell-100w"],
    )
    modules: Count = Field(
        1, description="Number of modules of the claim.", examples=[2]
    )
    voltage_v: Volts | None = Field(
        None, description="Battery voltage of the claim.", examples=["26 V"]
    )
    cell_degc: Degrees = Field(
        25.0,
        alias="cell_temperature",
        description="Cell temperature of the claim.",
        examples=["25 degC"],
    )


class FuelClaim(Claim):
    """Fuel consumption of a generator, by its energy balance; needs no site."""

    kind: Literal["fuel"] = Field(description="Kind of claim.", examples=["fuel"])
    claimed: FuelUse = Field(
        description="Stated fuel consumption, by energy or by time.",
        examples=["0.9 L/kWh", "1500 m3/year"],
    )
    generator: GeneratorWord = Field(
        description="Type of generator.", examples=["methanol-cell"]
    )
    fuel: FuelWord = Field(description="Fuel.", examples=["methanol"])
    power_w: Watts | None = Field(
        None, description="Electrical output of the claim.", examples=["50 W"]
    )
    rated_w: Watts | None = Field(
        None,
        description="Rated power, where `power` is a part load.",
        examples=["100 W"],
    )
    basis: Literal["electric", "thermal"] = Field(
        "electric",
        description="Energy of the claim: electrical output, or heat of the fuel.",
        examples=["electric"],
    )
    share_of_time_frac: Depth = Field(
        1.0, description="Share of the time in operation.", examples=["50 %"]
    )


class GeneratorClaim(Claim):
    """Generator power stated to carry the site."""

    kind: Literal["generator"] = Field(
        description="Kind of claim.", examples=["generator"]
    )
    claimed_w: Watts = Field(
        description="Generator power stated to carry the site.", examples=["54 W"]
    )
    generator: GeneratorWord = Field(
        description="Type of generator.", examples=["thermoelectric"]
    )
    temperature_degc: Degrees | None = Field(
        None,
        description="Ambient temperature. Without it: the site's.",
        examples=["30 degC"],
    )
    elevation_m: Elevation | None = Field(
        None, description="Elevation. Without it: the site's.", examples=["2500 m"]
    )
    fuel_adjusted_for_altitude: bool | None = Field(
        None,
        description="True where fuel pressure or orifice is set for the elevation.",
        examples=[True],
    )
    load: Draw | None = Field(
        None,
        description="Stated average load. Without it: the load of the site.",
        examples=["40 W"],
    )


class TemperatureClaim(Claim):
    """Service at an ambient temperature: of the site, of loads, or of the battery."""

    kind: Literal["temperature"] = Field(
        description="Kind of claim.", examples=["temperature"]
    )
    claimed_degc: Degrees = Field(
        description="Stated ambient temperature of service.", examples=["-40 degC"]
    )
    of: Names = Field(
        ("site",),
        description="What the value refers to: `site`, `battery`, loads or parts.",
        examples=["site", ["battery"]],
    )
    propane_kpa: Pressure | None = Field(
        None,
        description="Gauge pressure at the burner, for a propane supply.",
        examples=["48 kPa"],
    )


class ChargeVoltageClaim(Claim):
    """Charging voltage at a battery temperature."""

    kind: Literal["charge-voltage"] = Field(
        description="Kind of claim.", examples=["charge-voltage"]
    )
    claimed_v: Volts = Field(
        description="Stated charging voltage.", examples=["29.6 V"]
    )
    temperature_degc: Degrees = Field(
        description="Battery temperature of the claim.", examples=["-20 degC"]
    )
    base_v: Volts | None = Field(
        None,
        description="Charging voltage at the base temperature. Without it: the site's.",
        examples=["28.2 V"],
    )
    base_degc: Degrees | None = Field(
        None,
        alias="base_temperature",
        description="Base temperature of the compensation.",
        examples=["25 degC"],
    )
    per_cell: Annotated[float, FieldUnit("V/K"), Field(ge=-1, le=0)] | None = Field(
        None,
        description="Temperature compensation per cell. Without it: the site's.",
        examples=["-4 mV/degC"],
    )
    cells: Count | None = Field(
        None,
        description="Cells in series. Without it: those of the site.",
        examples=[12],
    )


class CapacityClaim(Claim):
    """Available capacity or energy at an hour rate and a temperature."""

    kind: Literal["capacity"] = Field(
        description="Kind of claim.", examples=["capacity"]
    )
    claimed: Store = Field(
        description="Stated available capacity or energy.", examples=["90 Ah"]
    )
    battery: Store = Field(
        description="Rated capacity or energy of the battery.", examples=["100 Ah"]
    )
    battery_voltage_v: Volts | None = Field(
        None, description="Nominal voltage of the battery.", examples=["12 V"]
    )
    hour_rate_h: Hours | None = Field(
        None, description="Hour rate of the rated capacity.", examples=["20 h"]
    )
    at_hour_rate_h: Hours | None = Field(
        None, description="Hour rate of the stated capacity.", examples=["100 h"]
    )
    temperature_degc: Degrees | None = Field(
        None,
        description="Battery temperature of the stated capacity.",
        examples=["-20 degC"],
    )
    chemistry: Chemistry | None = Field(
        None,
        description="Battery chemistry. Without it: that of the site.",
        examples=["agm"],
    )


class FormulaClaim(Claim):
    """Sizing formula with its factors."""

    kind: Literal["formula"] = Field(description="Kind of claim.", examples=["formula"])
    claimed: Store = Field(
        description="Stated result of the formula.", examples=["400 Ah"]
    )
    energy: Store | None = Field(
        None, description="Daily energy in the formula.", examples=["300 Wh"]
    )
    load: Draw | None = Field(
        None, description="Average load in the formula.", examples=["12.5 W"]
    )
    days_d: Days | None = Field(
        None, description="Days of autonomy in the formula.", examples=["5 d"]
    )
    depth_frac: Depth | None = Field(
        None, description="DOD in the formula.", examples=["80 %"]
    )
    temperature_factor: Annotated[Number, Field(gt=0, le=10)] | None = Field(
        None,
        description="Temperature correction factor in the formula.",
        examples=[1.3],
    )
    temperature_degc: Degrees | None = Field(
        None,
        description="Battery temperature, in place of the factor.",
        examples=["-10 degC"],
    )
    factors: dict[Line, Annotated[Fraction, Field(gt=0)]] = Field(
        default_factory=dict,
        description="Further efficiencies of the formula, by name.",
        examples=[{"wiring": "97 %"}],
    )
    margin: Annotated[Number, Field(gt=0, le=10)] = Field(
        1.0, description="Design margin as a factor.", examples=[1.1]
    )
    voltage_v: Volts | None = Field(
        None, description="Nominal voltage of the result.", examples=["24 V"]
    )


class TrackingClaim(Claim):
    """Gain of an MPPT controller over a PWM controller."""

    kind: Literal["tracking"] = Field(
        description="Kind of claim.", examples=["tracking"]
    )
    claimed_frac: Annotated[Fraction, Field(gt=0)] = Field(
        description="Stated gain of an MPPT controller over a PWM controller.",
        examples=["30 %"],
    )
    month: Month = Field(
        0,
        description="Month of the value; `worst` for the lowest month, `year` for the "
        "mean.",
        examples=["Dec"],
    )


class LifeClaim(Claim):
    """Battery life."""

    kind: Literal["life"] = Field(description="Kind of claim.", examples=["life"])
    claimed_y: Years = Field(description="Stated battery life.", examples=["10 years"])
    temperature_degc: Degrees | None = Field(
        None,
        description="Battery temperature of the claim. Without it: the site's.",
        examples=["25 degC"],
    )


class SelfDischargeClaim(Claim):
    """Self-discharge per month."""

    kind: Literal["self-discharge"] = Field(
        description="Kind of claim.", examples=["self-discharge"]
    )
    claimed_frac: Monthly = Field(
        description="Stated loss of charge per month.", examples=["3 %/month"]
    )
    temperature_degc: Degrees | None = Field(
        None, description="Battery temperature of the claim.", examples=["25 degC"]
    )
    chemistry: Chemistry | None = Field(
        None,
        description="Battery chemistry. Without it: that of the site.",
        examples=["agm"],
    )
