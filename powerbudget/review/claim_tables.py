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
    Line,
    Number,
    Strict,
    Text,
    WholeNumber,
)

Chemistry = ChemistryName
GeneratorWord = Literal[
    "thermoelectric", "methanol-cell", "solid-oxide-cell", "engine", "diesel-engine",
    "stirling", "vapour-turbine",
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


Month = Annotated[int, BeforeValidator(_month), Field(ge=-1, le=12)]
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
    says: Line | None = None
    source: Text = ""

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
    """A power or current: of the rack, one load, the hidden loads or the site."""

    kind: Literal["draw"]
    claimed: Draw
    of: Names = ("site",)
    state: Literal["mean", "loaded", "idle", "maximum", "peak"] | None = None
    side: Literal["load", "bus"] | None = None
    cards: dict[Line, WholeNumber] | WholeNumber | None = None
    voltage_v: Volts | None = None


class EnergyClaim(Claim):
    """Energy or charge a day, of the site or of some loads."""

    kind: Literal["energy"]
    claimed: Sum
    of: Names = ("site",)
    side: Literal["load", "bus"] | None = None
    voltage_v: Volts | None = None


class StoreConditions(Claim):
    """A battery as the vendor states it, and what it is said to carry."""

    battery: Store | None = None
    battery_voltage_v: Volts | None = None
    hour_rate_h: Hours | None = None
    temperature_degc: Degrees | None = None
    depth_frac: Depth | None = None
    load: Draw | None = None
    duty_frac: Fraction = 1.0
    chemistry: Chemistry | None = None


class AutonomyClaim(StoreConditions):
    """Days without any charge until the loads go off."""

    kind: Literal["autonomy"]
    claimed_d: Days


class BatteryClaim(StoreConditions):
    """A battery that is said to be enough for the site."""

    kind: Literal["battery"]
    claimed: Store
    days_d: Days | None = None


class ArrayClaim(Claim):
    """An array that is said to be enough for the site."""

    kind: Literal["array"]
    place: RecordWord | None = None
    claimed_w: Watts | None = None
    module: Line | None = None
    modules: Count | None = None
    sun_hours_h: SunHours | None = None
    load: Draw | None = None


class AvailabilityClaim(Claim):
    """Share of the hours of the record with the loads on."""

    kind: Literal["availability"]
    place: RecordWord | None = None
    claimed_frac: Fraction
    load: Draw | None = None


class RecoveryClaim(Claim):
    """Days from a disconnect until the loads come back by themselves."""

    kind: Literal["recovery"]
    claimed_d: Days
    load: Draw | None = None
    array_w: Watts | None = None


class YieldClaim(Claim):
    """Energy that the array gives a day, in a month or over the year."""

    kind: Literal["yield"]
    place: RecordWord | None = None
    claimed: Sum
    month: Month = 0
    array_w: Watts | None = None
    sun_hours_h: SunHours | None = None

    @model_validator(mode="before")
    @classmethod
    def _year(cls, raw: Any) -> Any:
        # A sum of the year is none of the darkest month's.
        if isinstance(raw, dict) and "month" not in raw and yearly(raw.get("claimed")):
            return {**raw, "month": "year"}
        return raw


class SunClaim(Claim):
    """Peak sun hours a day on the panel's plane, in a month or over the year."""

    kind: Literal["sun"]
    place: RecordWord | None = None
    claimed_h: SunHours
    month: Month = 0


class PanelClaim(Claim):
    """Power of a panel in full sun that is held at a battery's voltage."""

    kind: Literal["panel"]
    claimed_w: Watts
    module: Line | None = None
    modules: Count = 1
    voltage_v: Volts | None = None
    cell_degc: Degrees = Field(25.0, alias="cell_temperature")


class FuelClaim(Claim):
    """Fuel that a generator uses: pure energy balance, no site needed."""

    kind: Literal["fuel"]
    claimed: FuelUse
    generator: GeneratorWord
    fuel: FuelWord
    power_w: Watts | None = None
    rated_w: Watts | None = None
    basis: Literal["electric", "thermal"] = "electric"
    share_of_time_frac: Depth = 1.0


class GeneratorClaim(Claim):
    """Watts of a generator that are said to carry the site."""

    kind: Literal["generator"]
    claimed_w: Watts
    generator: GeneratorWord
    temperature_degc: Degrees | None = None
    elevation_m: Elevation | None = None
    fuel_adjusted_for_altitude: bool | None = None
    load: Draw | None = None


class TemperatureClaim(Claim):
    """Works at a temperature: the site, some loads, or the battery."""

    kind: Literal["temperature"]
    claimed_degc: Degrees
    of: Names = ("site",)
    propane_kpa: Pressure | None = None


class ChargeVoltageClaim(Claim):
    """Set point of charging at a battery temperature."""

    kind: Literal["charge-voltage"]
    claimed_v: Volts
    temperature_degc: Degrees
    base_v: Volts | None = None
    base_degc: Degrees | None = Field(None, alias="base_temperature")
    per_cell: Annotated[float, FieldUnit("V/K"), Field(ge=-1, le=0)] | None = None
    cells: Count | None = None


class CapacityClaim(Claim):
    """What a battery holds: Ah or Wh at an hour rate and a temperature."""

    kind: Literal["capacity"]
    claimed: Store
    battery: Store
    battery_voltage_v: Volts | None = None
    hour_rate_h: Hours | None = None
    at_hour_rate_h: Hours | None = None
    temperature_degc: Degrees | None = None
    chemistry: Chemistry | None = None


class FormulaClaim(Claim):
    """A sizing sum with its factors: rebuilt, each factor used once."""

    kind: Literal["formula"]
    claimed: Store
    energy: Store | None = None
    load: Draw | None = None
    days_d: Days | None = None
    depth_frac: Depth | None = None
    temperature_factor: Annotated[Number, Field(gt=0, le=10)] | None = None
    temperature_degc: Degrees | None = None
    factors: dict[Line, Annotated[Fraction, Field(gt=0)]] = Field(default_factory=dict)
    margin: Annotated[Number, Field(gt=0, le=10)] = 1.0
    voltage_v: Volts | None = None


class TrackingClaim(Claim):
    """What a tracking regulator is said to harvest beyond a direct connection."""

    kind: Literal["tracking"]
    claimed_frac: Annotated[Fraction, Field(gt=0)]
    month: Month = 0


class LifeClaim(Claim):
    """Years until the battery is replaced."""

    kind: Literal["life"]
    claimed_y: Years
    temperature_degc: Degrees | None = None


class SelfDischargeClaim(Claim):
    """Share of its charge that a resting battery loses in a month."""

    kind: Literal["self-discharge"]
    claimed_frac: Monthly
    temperature_degc: Degrees | None = None
    chemistry: Chemistry | None = None
