"""The parts library: generic devices as data, each figure with where it came from.

Parts are TOML tables in ``powerbudget/site/parts/`` and in a user's own file
(``parts_file`` in the site file).  No maker's names: a class of device, its low,
typical and high draw, a source and a status word.
"""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, TypeAdapter, model_validator

from powerbudget.site.fields import Fraction, Strict, Unit
from powerbudget.site.model import Behaviour, ModuleData

Status = Literal["published", "practice", "remembered", "invented"]
Watt = Annotated[float, Unit("W"), Field(ge=0, le=1e6)]
Ampere = Annotated[float, Unit("A"), Field(ge=0, le=1e4)]

FOLDER = Path(__file__).with_name("parts")


class Watts(Strict):
    """Low, typical and high draw."""

    low: Watt
    typical: Watt
    high: Watt

    @model_validator(mode="after")
    def _ordered(self) -> Watts:
        if not self.low <= self.typical <= self.high:
            raise ValueError("needs low <= typical <= high")
        return self


class Amperes(Strict):
    """Low, typical and high current."""

    low: Ampere
    typical: Ampere
    high: Ampere

    @model_validator(mode="after")
    def _ordered(self) -> Amperes:
        if not self.low <= self.typical <= self.high:
            raise ValueError("needs low <= typical <= high")
        return self


class Window(Strict):
    """Lowest and highest supply voltage at the terminals."""

    min: Annotated[float, Unit("V"), Field(ge=0, le=100)]
    max: Annotated[float, Unit("V"), Field(gt=0, le=100)]


class Climate(Strict):
    """Lowest and highest ambient temperature in service."""

    min: Annotated[float, Unit("degC"), Field(ge=-80, le=120)]
    max: Annotated[float, Unit("degC"), Field(ge=-80, le=120)]


class _Common(Strict):
    name: Annotated[str, Field(pattern=r"^[a-z0-9]+(?:-[a-z0-9]+)*$")]
    title: str
    source: Annotated[str, Field(min_length=3)]
    status: Status
    note: str = ""
    input: Window | None = None
    temperature: Climate | None = None


class DevicePart(_Common):
    """A controller, switch, panel, detector, solenoid or other device."""

    kind: Literal["controller", "device", "network", "panel", "detector", "valve"]
    power: Watts
    peak: Watt | None = None
    behaviour: Behaviour = "power"


class CardPart(_Common):
    """An input or output card: a base draw and a draw for each live channel."""

    kind: Literal["card"]
    signal: str
    channels: Annotated[int, Field(ge=1, le=64)]
    base: Watts
    per_channel: Watts


class TransmitterPart(_Common):
    """A field instrument whose current is set by its signal, not its voltage."""

    kind: Literal["transmitter"]
    wiring: Literal["two-wire", "three-wire", "fieldbus"]
    current: Amperes


class RadioPart(_Common):
    """A radio or modem: transmit, receive and sleep draws."""

    kind: Literal["radio"]
    transmit: Watts
    receive: Watts
    sleep: Watts


class ConverterPart(_Common):
    """A DC/DC converter by two points: no-load input and full-load efficiency."""

    kind: Literal["converter"]
    output: Annotated[float, Unit("V"), Field(gt=0, le=60)]
    rated: Watt
    no_load: Watt
    efficiency: Fraction


class ModulePart(_Common):
    """A photovoltaic module by its data-sheet points."""

    kind: Literal["module"]
    data: ModuleData
    mass: Annotated[float, Unit("kg"), Field(gt=0, le=100)]


class BatteryPart(_Common):
    """A battery unit by its name-plate."""

    kind: Literal["battery"]
    chemistry: Literal["flooded", "agm", "gel", "lfp"]
    nominal: Annotated[float, Unit("V"), Field(gt=0, le=60)]
    capacity: Annotated[float, Unit("Ah"), Field(gt=0, le=20_000)]
    hour_rate: Annotated[float, Unit("h"), Field(ge=1, le=500)]
    mass: Annotated[float, Unit("kg"), Field(gt=0, le=5_000)]


Part = Annotated[
    DevicePart
    | CardPart
    | TransmitterPart
    | RadioPart
    | ConverterPart
    | ModulePart
    | BatteryPart,
    Field(discriminator="kind"),
]
