"""Circuits of the site file: wires, fuses, limits of regulator and module, disconnect.

All of it is optional.  What is left out is listed as not checked, never as passed.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from powerbudget.quantities import QuantityError
from powerbudget.site.fields import FieldUnit, Fraction, Gauge, Strict, Text

Amperes = Annotated[float, FieldUnit("A"), Field(gt=0, le=100_000)]
Watts = Annotated[float, FieldUnit("W"), Field(gt=0, le=100_000)]
Volts = Annotated[float, FieldUnit("V"), Field(gt=0, le=2000)]
InputVolts = Annotated[float, FieldUnit("V"), Field(gt=0, le=100)]
Degrees = Annotated[float, FieldUnit("degC"), Field(ge=-80, le=120)]


class _Fuse(FieldUnit):
    """A fuse's rating, or ``none`` where it is known that there is no fuse."""

    def read(self, value: object) -> float:
        """Return the rating, 0 for none [A]."""
        if isinstance(value, str) and value.strip().lower() == "none":
            return 0.0
        amps = super().read(value)
        if amps == 0:
            raise QuantityError("needs more than 0 A, or 'none' where there is no fuse")
        return amps


KnownFuse = Annotated[float, _Fuse("A"), Field(ge=0, le=100_000)]
"""Rating [A]; 0 stands for no fuse at all, which is not the same as not stated."""


Height = Annotated[float, FieldUnit("m"), Field(ge=0, le=9000)]


class TemperatureRange(Strict):
    """Lowest and highest ambient temperature in service."""

    min: Degrees
    max: Degrees

    @model_validator(mode="after")
    def _ordered(self) -> TemperatureRange:
        if not self.min < self.max:
            raise ValueError("needs min < max")
        return self


class Wire(Strict):
    """The pair of conductors from the bus, or supply, to a load."""

    gauge: Gauge
    length_m: Annotated[float, FieldUnit("m"), Field(gt=0, le=5000)] = Field(
        alias="length"
    )
    shared: bool = False
    insulation_degc: (
        Annotated[float, FieldUnit("degC"), Field(ge=60, le=250)] | None
    ) = Field(None, alias="insulation")


class LoadCircuit(Strict):
    """Fuse and temperature range of a load."""

    fuse_a: Amperes | None = Field(None, alias="fuse")
    temperature: TemperatureRange | None = None
    highest_m: Height | None = Field(None, alias="maximum_elevation")


class SupplyCircuit(Strict):
    """Input window, fuse and temperature range of a converter written out."""

    minimum_v: InputVolts | None = Field(None, alias="minimum_input")
    maximum_v: InputVolts | None = Field(None, alias="maximum_input")
    fuse_a: Amperes | None = Field(None, alias="fuse")
    temperature: TemperatureRange | None = None
    highest_m: Height | None = Field(None, alias="maximum_elevation")


class ModuleLimits(Strict):
    """What the back of a module prints: highest system voltage, series fuse."""

    system_v: Volts | None = Field(None, alias="maximum_system_voltage")
    series_fuse_a: Amperes | None = Field(None, alias="maximum_series_fuse")


class ArrayCircuit(Strict):
    """Wire and fuses between panels and regulator."""

    wire: Wire | None = None
    fuse_a: Amperes | None = Field(None, alias="fuse")
    string_fuse_a: KnownFuse | None = Field(None, alias="string_fuse")


Loss = Annotated[Fraction, Field(le=0.1)]


class ConversionLosses(Strict):
    """What a tracker loses over its rated power: always, with its output, its square."""

    constant_frac: Loss = Field(0.004, alias="constant")
    linear_frac: Loss = Field(0.012, alias="linear")
    square_frac: Loss = Field(0.012, alias="square")


class RegulatorLimits(Strict):
    """Name-plate limits of one charge controller, and how many share the array."""

    parallel: Annotated[int, Field(strict=True, ge=1, le=16)] = 1
    maximum_input_v: Volts | None = Field(None, alias="maximum_input")
    maximum_input_a: Amperes | None = Field(None, alias="maximum_input_current")
    maximum_charge_a: Amperes | None = Field(None, alias="maximum_charge_current")
    maximum_charge_w: Watts | None = Field(None, alias="maximum_charge_power")
    maximum_load_a: Amperes | None = Field(None, alias="maximum_load_current")
    temperature: TemperatureRange | None = None
    highest_m: Height | None = Field(None, alias="maximum_elevation")
    losses: ConversionLosses | None = None
    tracking_frac: Annotated[Fraction, Field(ge=0.5)] = Field(0.99, alias="tracking")
    rated_w: Watts | None = Field(None, alias="rated_power")
    full_output_degc: Annotated[float, FieldUnit("degC"), Field(ge=20, le=59)] = Field(
        40.0, alias="full_output_to"
    )
    output_at_60_frac: Fraction = Field(0.5, alias="output_at_60_degc")
    stops_above_degc: Annotated[float, FieldUnit("degC"), Field(ge=40, le=100)] = Field(
        70.0, alias="stops_above"
    )
    full_output_elevation_m: Annotated[float, FieldUnit("m"), Field(ge=0, le=6000)] = (
        Field(2000.0, alias="full_output_elevation")
    )
    elevation_derating_frac: Annotated[Fraction, Field(le=0.5)] = Field(
        0.05, alias="derating_per_km"
    )

    def losses_rated_w(self, nominal_v: float) -> float | None:
        """Return the nominal power of all controllers, which losses are a share of.

        Parameters
        ----------
        nominal_v
            Of the bus [V].

        Returns
        -------
        float or None
            Stated, or charge current times bus; None where neither is known [W].
        """
        if self.rated_w is not None:
            return self.of_all("rated_w")
        amps = self.of_all("maximum_charge_a")
        return None if amps is None else amps * nominal_v

    def of_all(self, name: str) -> float | None:
        """Return a limit of one controller for all of them, None where not stated."""
        one: float | None = getattr(self, name)
        return None if one is None else self.parallel * one


class BatteryCircuit(Strict):
    """Main wire and fuse of the bank, limits of one unit, its vents."""

    wire: Wire | None = None
    fuse_a: KnownFuse | None = Field(None, alias="fuse")
    fuse_interrupting_a: Amperes | None = Field(None, alias="fuse_interrupting")
    short_circuit_a: Amperes | None = Field(None, alias="short_circuit_current")
    maximum_charge_a: Amperes | None = Field(None, alias="maximum_charge_current")
    vent_m2: Annotated[float, FieldUnit("m**2"), Field(ge=0, le=10)] | None = Field(
        None, alias="vent_opening"
    )


class Protection(Strict):
    """What switches off at low battery, the fuse of the bus, the enclosure."""

    disconnect_by: Literal["regulator", "relay", "battery", "controller"] | None = None
    bus_fuse_a: Amperes | None = Field(None, alias="bus_fuse")
    enclosure_coldest_degc: Degrees | None = Field(None, alias="enclosure_coldest")
    enclosure_hottest_degc: Degrees | None = Field(None, alias="enclosure_hottest")
    source: Text = ""
