"""Circuits of the site file: wires, fuses, limits of regulator and module, disconnect.

All of it is optional.  What is left out is listed as not checked, never as passed.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from powerbudget.quantities import QuantityError
from powerbudget.site.fields import FieldUnit, Fraction, Gauge, Strict, Text, old_words

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

    min: Degrees = Field(
        description="Lowest rated ambient temperature.", examples=["-40 degC"]
    )
    max: Degrees = Field(
        description="Highest rated ambient temperature.", examples=["60 degC"]
    )

    @model_validator(mode="after")
    def _ordered(self) -> TemperatureRange:
        if not self.min < self.max:
            raise ValueError("needs min < max")
        return self


class Wire(Strict):
    """Pair of conductors from the dc bus or converter to a load."""

    gauge: Gauge = Field(
        description="Conductor size, in AWG or mm².", examples=["16 AWG", "2.5 mm2"]
    )
    length_m: Annotated[float, FieldUnit("m"), Field(gt=0, le=5000)] = Field(
        alias="length",
        description="One-way length of the pair of conductors; the voltage drop counts "
        "both conductors.",
        examples=["60 ft"],
    )
    shared: bool = Field(
        False,
        description="True where all units of the load share one pair; false where each "
        "unit has its own pair.",
        examples=[True],
    )
    insulation_degc: (
        Annotated[float, FieldUnit("degC"), Field(ge=60, le=250)] | None
    ) = Field(
        None,
        alias="insulation",
        description="Temperature rating of the insulation, for the ampacity. Without it "
        "the check is NOT CHECKED.",
        examples=["90 degC"],
    )


class LoadCircuit(Strict):
    """Fuse and temperature range of a load."""

    fuse_a: Amperes | None = Field(
        None,
        alias="fuse",
        description="Rating of the fuse or breaker of this load. `check` compares it "
        "with conductor and load.",
        examples=["5 A"],
    )
    temperature: TemperatureRange | None = Field(
        None,
        description="Rated ambient temperature range of the device.",
        examples=[{"min": "-40 degC", "max": "70 degC"}],
    )
    highest_m: Height | None = Field(
        None,
        alias="maximum_elevation",
        description="Highest elevation the device is rated for.",
        examples=["3000 m"],
    )


class SupplyCircuit(Strict):
    """Input window, fuse and temperature range of a converter written out."""

    minimum_v: InputVolts | None = Field(
        None,
        alias="minimum_input",
        description="Lowest rated input voltage of the converter.",
        examples=["9 V"],
    )
    maximum_v: InputVolts | None = Field(
        None,
        alias="maximum_input",
        description="Highest rated input voltage of the converter.",
        examples=["18 V"],
    )
    fuse_a: Amperes | None = Field(
        None,
        alias="fuse",
        description="Rating of the fuse or breaker at the converter input.",
        examples=["3 A"],
    )
    temperature: TemperatureRange | None = Field(
        None,
        description="Rated ambient temperature range of the converter.",
        examples=[{"min": "-40 degC", "max": "70 degC"}],
    )
    highest_m: Height | None = Field(
        None,
        alias="maximum_elevation",
        description="Highest elevation the converter is rated for.",
        examples=["3000 m"],
    )


class ModuleLimits(Strict):
    """Label figures of a PV module: maximum system voltage, series fuse."""

    system_v: Volts | None = Field(
        None,
        alias="maximum_system_voltage",
        description="Maximum PV system voltage on the module label.",
        examples=["600 V"],
    )
    series_fuse_a: Amperes | None = Field(
        None,
        alias="maximum_series_fuse",
        description="Maximum series fuse rating on the module label.",
        examples=["10 A"],
    )


class ArrayCircuit(Strict):
    """Conductors and fuses between PV array and charge controller."""

    wire: Wire | None = Field(
        None,
        description="Conductors from the PV array to the charge controller.",
        examples=[{"gauge": "8 AWG", "length": "25 ft"}],
    )
    fuse_a: Amperes | None = Field(
        None,
        alias="fuse",
        description="Rating of the fuse or breaker between PV array and charge "
        "controller.",
        examples=["20 A"],
    )
    string_fuse_a: KnownFuse | None = Field(
        None,
        alias="string_fuse",
        description="Rating of the fuse in each PV string; `none` states that there is "
        "no fuse.",
        examples=["5 A"],
    )


TRACKING_FRAC = 0.99
"""Usual tracking beside losses: 99 to 99.5 % on data sheets of trackers."""
Loss = Annotated[Fraction, Field(le=0.1)]


class ConversionLosses(Strict):
    """Losses of an MPPT controller over its rated power."""

    constant_frac: Loss = Field(
        0.004,
        alias="constant",
        description="Constant loss of the charge controller, as a share of its rated "
        "power.",
        examples=["0.4 %"],
    )
    linear_frac: Loss = Field(
        0.012,
        alias="linear",
        description="Loss in proportion to the output, as a share of the rated power at "
        "rated output.",
        examples=["1.2 %"],
    )
    square_frac: Loss = Field(
        0.012,
        alias="square",
        description="Loss with the square of the output, as a share of the rated power "
        "at rated output.",
        examples=["1.2 %"],
    )


class RegulatorLimits(Strict):
    """Ratings of one charge controller, and how many share the array."""

    parallel: Annotated[int, Field(strict=True, ge=1, le=16)] = Field(
        1,
        description="Number of equal charge controllers that share array and load.",
        examples=[2],
    )
    maximum_input_v: Volts | None = Field(
        None,
        alias="maximum_input",
        description="Highest rated PV input voltage (array Voc). `check` compares it "
        "with the cold string.",
        examples=["100 V"],
    )
    maximum_input_a: Amperes | None = Field(
        None,
        alias="maximum_input_current",
        description="Highest rated PV input current (array Isc) of one charge "
        "controller.",
        examples=["20 A"],
    )
    maximum_charge_a: Amperes | None = Field(
        None,
        alias="maximum_charge_current",
        description="Output current limit of one charge controller, battery and loads "
        "together. It acts in the simulation.",
        examples=["30 A"],
    )
    maximum_charge_w: Watts | None = Field(
        None,
        alias="maximum_charge_power",
        description="Output power limit of one MPPT controller. It acts in the "
        "simulation.",
        examples=["440 W"],
    )
    maximum_load_a: Amperes | None = Field(
        None,
        alias="maximum_load_current",
        description="Rated current of the load terminals of one charge controller. They "
        "open above 1.25 times this current.",
        examples=["20 A"],
    )
    temperature: TemperatureRange | None = Field(
        None,
        description="Rated ambient temperature range of the charge controller.",
        examples=[{"min": "-40 degC", "max": "60 degC"}],
    )
    highest_m: Height | None = Field(
        None,
        alias="maximum_elevation",
        description="Highest elevation the charge controller is rated for.",
        examples=["5000 m"],
    )
    losses: ConversionLosses | None = Field(
        None,
        description="Losses of an MPPT controller by output; they replace `efficiency`.",
        examples=[{"constant": "0.4 %", "linear": "1.2 %", "square": "1.2 %"}],
    )
    tracking_frac: Annotated[Fraction, Field(ge=0.5)] | None = Field(
        None,
        alias="tracking",
        description="Share of the maximum power that the MPPT controller holds in "
        "service, beside `efficiency` or `losses`. Without it: 99 % beside `losses`; "
        "`efficiency` includes it.",
        examples=["99 %"],
    )
    rated_w: Watts | None = Field(
        None,
        alias="rated_power",
        description="Rated power that `losses` refer to. Without it: charge current "
        "times nominal bus voltage.",
        examples=["440 W"],
    )
    full_output_degc: Annotated[float, FieldUnit("degC"), Field(ge=20, le=59)] = Field(
        40.0,
        alias="full_output_to",
        description="Highest ambient temperature at full output; derating begins above "
        "it.",
        examples=["40 degC"],
    )
    output_at_60_frac: Fraction = Field(
        0.5,
        alias="output_at_60_degc",
        description="Share of the rated output left at an ambient temperature of 60 °C.",
        examples=["50 %"],
    )
    stops_above_degc: Annotated[float, FieldUnit("degC"), Field(ge=40, le=100)] = Field(
        70.0,
        alias="stops_above",
        description="Ambient temperature above which the charge controller stops.",
        examples=["70 degC"],
    )
    full_output_elevation_m: Annotated[float, FieldUnit("m"), Field(ge=0, le=6000)] = (
        Field(
            2000.0,
            alias="full_output_elevation",
            description="Highest elevation at full output; derating begins above it.",
            examples=["2000 m"],
        )
    )
    elevation_derating_frac: Annotated[Fraction, Field(le=0.5)] = Field(
        0.05,
        alias="derating_per_km",
        description="Loss of charge current and power for each km above "
        "`full_output_elevation`.",
        examples=["5 %"],
    )

    @property
    def tracked_frac(self) -> float:
        """What tracking leaves of the maximum power, 1 where efficiency has it all."""
        if self.tracking_frac is not None:
            return self.tracking_frac
        return 1.0 if self.losses is None else TRACKING_FRAC

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
    """Main conductors and fuse, ratings of one battery unit, ventilation openings."""

    wire: Wire | None = Field(
        None,
        description="Main conductors between the battery and the dc bus.",
        examples=[{"gauge": "8 AWG", "length": "4 ft"}],
    )
    fuse_a: KnownFuse | None = Field(
        None,
        alias="fuse",
        description="Rating of the main battery fuse; `none` states that there is no "
        "fuse.",
        examples=["30 A"],
    )
    fuse_interrupting_a: Amperes | None = Field(
        None,
        alias="fuse_interrupting",
        description="Dc interrupting rating of the main battery fuse. `check` compares "
        "it with the available short-circuit current.",
        examples=["20 kA"],
    )
    short_circuit_a: Amperes | None = Field(
        None,
        alias="short_circuit_current",
        description="Short-circuit current of one battery unit, from its data sheet.",
        examples=["3 kA"],
    )
    maximum_charge_a: Amperes | None = Field(
        None,
        alias="maximum_charge_current",
        description="Highest charge current of one battery unit, from its data sheet.",
        examples=["30 A"],
    )
    vent_m2: Annotated[float, FieldUnit("m**2"), Field(ge=0, le=10)] | None = Field(
        None,
        alias="vent_opening",
        description="Area of each of the two ventilation openings of the battery box.",
        examples=["40 cm2"],
    )


Disconnector = Annotated[
    Literal["charge-controller", "relay", "battery", "process-controller"],
    old_words({"regulator": "charge-controller", "controller": "process-controller"}),
]


class Protection(Strict):
    """Device that disconnects the loads, main fuse, enclosure temperatures."""

    disconnect_by: Disconnector | None = Field(
        None,
        description="Device that opens the load circuit at the LVD. It must not be one "
        "of the loads it opens.",
        examples=["relay"],
    )
    bus_fuse_a: Amperes | None = Field(
        None,
        alias="bus_fuse",
        description="Rating of the main fuse of the dc bus.",
        examples=["15 A"],
    )
    enclosure_coldest_degc: Degrees | None = Field(
        None,
        alias="enclosure_coldest",
        description="Lowest temperature inside the electronics enclosure; it replaces "
        "the ambient temperature in `check`.",
        examples=["-20 degC"],
    )
    enclosure_hottest_degc: Degrees | None = Field(
        None,
        alias="enclosure_hottest",
        description="Highest temperature inside the electronics enclosure; it replaces "
        "the ambient temperature in `check`.",
        examples=["50 degC"],
    )
    source: Text = Field(
        "",
        description="Where the figures of this table come from.",
        examples=["drawing E-101, rev. B"],
    )
