"""The parts library: generic devices as data, each figure with where it came from.

Parts are TOML tables in ``powerbudget/site/parts/`` and in a user's own file
(``parts_file`` in the site file).  No maker's names: a class of device, its low,
typical and high draw, a source and a status word.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, Field, TypeAdapter, ValidationError, model_validator

from powerbudget.data.figures import UNVERIFIED, Status
from powerbudget.errors import Fault, InputError, nearest, nearest_names
from powerbudget.reading import PAGE_BYTES, read_text
from powerbudget.site.circuit import ConversionLosses
from powerbudget.site.faults import model_faults, written
from powerbudget.site.fields import (
    ChemistryName,
    Count,
    FieldUnit,
    Fraction,
    StatusWord,
    Strict,
)
from powerbudget.site.load import Behaviour, SignalWord
from powerbudget.site.parts_table import TABLES, table_document
from powerbudget.site.readings import LOOSE, PartReading, counted, derived, weakest
from powerbudget.site.tables import ModuleData

Watt = Annotated[float, FieldUnit("W"), Field(ge=0, le=1e6)]
Ampere = Annotated[float, FieldUnit("A"), Field(ge=0, le=1e4)]

FOLDER = Path(__file__).with_name("parts")


class Watts(Strict):
    """Low, typical and high draw."""

    low: Watt = Field(description="Low value of the power.", examples=["0.8 W"])
    typical: Watt = Field(description="Typical power.", examples=["1.0 W"])
    high: Watt = Field(description="High value of the power.", examples=["1.5 W"])

    @model_validator(mode="after")
    def _ordered(self) -> Watts:
        if not self.low <= self.typical <= self.high:
            raise ValueError("needs low <= typical <= high")
        return self


class Amperes(Strict):
    """Low, typical and high current."""

    low: Ampere = Field(description="Low value of the current.", examples=["8 mA"])
    typical: Ampere = Field(description="Typical current.", examples=["12 mA"])
    high: Ampere = Field(description="High value of the current.", examples=["21 mA"])

    @model_validator(mode="after")
    def _ordered(self) -> Amperes:
        if not self.low <= self.typical <= self.high:
            raise ValueError("needs low <= typical <= high")
        return self


class PartWindow(Strict):
    """Lowest and highest supply voltage at the terminals."""

    min: Annotated[float, FieldUnit("V"), Field(ge=0, le=100)] = Field(
        description="Minimum operating voltage at the terminals.", examples=["10 V"]
    )
    max: Annotated[float, FieldUnit("V"), Field(gt=0, le=100)] = Field(
        description="Maximum input voltage at the terminals.", examples=["30 V"]
    )

    @model_validator(mode="after")
    def _ordered(self) -> PartWindow:
        if not self.min < self.max:
            raise ValueError("needs min < max")
        return self


class PartClimate(Strict):
    """Lowest and highest ambient temperature in service."""

    min: Annotated[float, FieldUnit("degC"), Field(ge=-80, le=120)] = Field(
        description="Lowest rated ambient temperature.", examples=["-40 degC"]
    )
    max: Annotated[float, FieldUnit("degC"), Field(ge=-80, le=120)] = Field(
        description="Highest rated ambient temperature.", examples=["70 degC"]
    )

    @model_validator(mode="after")
    def _ordered(self) -> PartClimate:
        if not self.min < self.max:
            raise ValueError("needs min < max")
        return self


class PartCommon(Strict):
    """Keys that every part has."""

    name: Annotated[str, Field(pattern=r"^[a-z0-9]+(?:-[a-z0-9]+)*$")] = Field(
        description="Name that site files use: small letters, digits, single hyphens.",
        examples=["my-radio-2"],
    )
    title: str = Field(
        description="What the part is, in a few words.",
        examples=["spread-spectrum radio, 1 W"],
    )
    source: Annotated[str, Field(min_length=3)] = Field(
        description="Where the figures come from. Readings fill it.",
        examples=["data sheet, 2019, page 3"],
    )
    status: StatusWord = Field(
        description="Status word of the figures. Readings fill it.",
        examples=["data sheet"],
    )
    note: str = Field(
        "", description="Remark for the user of the part.", examples=["12 V version"]
    )
    input: PartWindow | None = Field(
        None,
        description="Operating voltage range at the terminals.",
        examples=[{"min": "10 V", "max": "30 V"}],
    )
    temperature: PartClimate | None = Field(
        None,
        description="Rated ambient temperature range.",
        examples=[{"min": "-40 degC", "max": "70 degC"}],
    )
    maximum_elevation: Annotated[float, FieldUnit("m"), Field(ge=0, le=9000)] | None = (
        Field(None, description="Highest rated elevation.", examples=["3000 m"])
    )
    reading: tuple[PartReading, ...] = Field(
        (),
        description="What documents state, one table for each value. Low, typical and "
        "high follow from them.",
        examples=[
            [
                {
                    "value": "1.2 W",
                    "document": "data sheet",
                    "year": 2019,
                    "page": "3",
                    "grade": "read in full",
                }
            ]
        ],
    )

    @model_validator(mode="before")
    @classmethod
    def _from_readings(cls, table: Any) -> Any:
        """Fill the figures, the source and the status that follow from readings."""
        if not isinstance(table, dict) or not table.get("reading"):
            return table
        return {**derived(table, cls.figures()), **table}

    @classmethod
    def figures(cls) -> dict[str, type[Watts | Amperes]]:
        """Return the fields that hold low, typical and high, with their model."""
        return {
            name: info.annotation
            for name, info in cls.model_fields.items()
            if info.annotation in {Watts, Amperes}
        }

    def documents(self, figure: str) -> int:
        """Return how many documents a figure follows from [count]."""
        used = counted(self.reading, figure)
        read = [one for one in used if one.grade not in LOOSE]
        return len({(one.document, one.year) for one in read})

    def status_of(self, figure: str) -> Status:
        """Return what one figure stands on, the part's word where that is all [text]."""
        used = counted(self.reading, figure)
        return weakest(one.status for one in used) if used else self.status

    @property
    def asks(self) -> tuple[str, ...]:
        """Figures to ask the maker's sheet for [names]."""
        return tuple(f for f in self.figures() if self.status_of(f) in UNVERIFIED)


Points = dict[SignalWord, Annotated[int, Field(ge=1, le=256)]]


class RackData(Strict):
    """Points, slots and growth of a controller."""

    built_in: Points = Field(
        default_factory=dict,
        description="Built-in points of the controller, by kind of signal.",
        examples=[{"ai": 8, "di": 8}],
    )
    slots: Annotated[int, Field(ge=0, le=64)] = Field(
        description="Slots for cards on one base.", examples=[4]
    )
    bases: Annotated[int, Field(ge=1, le=32)] = Field(
        1, description="Largest number of bases.", examples=[3]
    )
    base: Watts | None = Field(
        None,
        description="Power of each further base.",
        examples=[{"low": "0.2 W", "typical": "0.3 W", "high": "0.5 W"}],
    )
    processor: Watts | None = Field(
        None,
        description="Power of a redundant processor.",
        examples=[{"low": "1 W", "typical": "1.5 W", "high": "2.5 W"}],
    )
    power: Watts | None = Field(
        None,
        description="Power of a redundant power module.",
        examples=[{"low": "0.5 W", "typical": "0.8 W", "high": "1.2 W"}],
    )
    network: Watts | None = Field(
        None,
        description="Power of a redundant network module.",
        examples=[{"low": "0.6 W", "typical": "0.9 W", "high": "1.4 W"}],
    )


class DevicePart(PartCommon):
    """Controller, network device, panel, detector, valve or other device."""

    kind: Literal["controller", "device", "network", "panel", "detector", "valve"] = (
        Field(description="Kind of part.", examples=["controller"])
    )
    power: Watts = Field(
        description="Power of the device. Readings fill it.",
        examples=[{"low": "0.8 W", "typical": "1 W", "high": "1.5 W"}],
    )
    peak: Watt | None = Field(None, description="Inrush power.", examples=["5 W"])
    behaviour: Behaviour = Field(
        "power",
        description="Constant-power, constant-current or constant-resistance load.",
        examples=["power"],
    )
    rack: RackData | None = Field(
        None,
        description="Points and slots of a controller that takes I/O cards.",
        examples=[{"slots": 4, "built_in": {"ai": 8, "di": 8}}],
    )


class NodePart(PartCommon):
    """Remote I/O node: base power and points."""

    kind: Literal["node"] = Field(description="Kind of part.", examples=["node"])
    power: Watts = Field(
        description="Power of the node. Readings fill it.",
        examples=[{"low": "0.3 W", "typical": "0.5 W", "high": "0.8 W"}],
    )
    points: Points = Field(
        description="Points of the node, by kind of signal.",
        examples=[{"ai": 4, "di": 4}],
    )


class CardPart(PartCommon):
    """I/O card: base power, and power of each channel in use."""

    kind: Literal["card"] = Field(description="Kind of part.", examples=["card"])
    signal: str = Field(description="Kind of signal of the card.", examples=["ai"])
    channels: Annotated[Count, Field(le=64)] = Field(
        description="Channels of the card.", examples=[8]
    )
    base: Watts = Field(
        description="Power of the card without channels. Readings fill it.",
        examples=[{"low": "0.4 W", "typical": "0.6 W", "high": "1 W"}],
    )
    per_channel: Watts = Field(
        description="Power of each channel in use. Readings fill it.",
        examples=[{"low": "0.02 W", "typical": "0.03 W", "high": "0.05 W"}],
    )


class LiftOff(Strict):
    """One point of the lift-off voltage by loop current."""

    current: Ampere = Field(
        description="Loop current of the point.", examples=["21 mA"]
    )
    voltage: Annotated[float, FieldUnit("V"), Field(ge=0, le=100)] = Field(
        description="Lift-off voltage at this current.", examples=["10.5 V"]
    )


class TransmitterPart(PartCommon):
    """Field instrument with constant supply current."""

    kind: Literal["transmitter"] = Field(
        description="Kind of part.", examples=["transmitter"]
    )
    wiring: Literal["two-wire", "three-wire", "fieldbus"] = Field(
        description="Two-wire loop, three-wire, or fieldbus.", examples=["two-wire"]
    )
    current: Amperes = Field(
        description="Supply current. Readings fill it.",
        examples=[{"low": "8 mA", "typical": "12 mA", "high": "21 mA"}],
    )
    lift_off: tuple[LiftOff, ...] = Field(
        (),
        description="Lift-off voltage by loop current.",
        examples=[
            [
                {"current": "4 mA", "voltage": "12 V"},
                {"current": "21 mA", "voltage": "10.5 V"},
            ]
        ],
    )


class RadioPart(PartCommon):
    """Radio or modem: power in transmit, receive and sleep."""

    kind: Literal["radio"] = Field(description="Kind of part.", examples=["radio"])
    transmit: Watts = Field(
        description="Power in transmit. Readings fill it.",
        examples=[{"low": "4 W", "typical": "4.7 W", "high": "6 W"}],
    )
    receive: Watts = Field(
        description="Power in receive. Readings fill it.",
        examples=[{"low": "0.7 W", "typical": "1 W", "high": "1.4 W"}],
    )
    sleep: Watts = Field(
        description="Power in sleep mode. Readings fill it.",
        examples=[{"low": "0.01 W", "typical": "0.05 W", "high": "0.1 W"}],
    )
    peak: Watt | None = Field(None, description="Inrush power.", examples=["8 W"])


class ConverterPart(PartCommon):
    """Dc/dc converter: no-load power and efficiency at rated output."""

    kind: Literal["converter"] = Field(
        description="Kind of part.", examples=["converter"]
    )
    output: Annotated[float, FieldUnit("V"), Field(gt=0, le=60)] = Field(
        description="Output voltage.", examples=["24 V"]
    )
    rated: Watt = Field(description="Rated output power.", examples=["15 W"])
    no_load: Watt = Field(description="Input power at no load.", examples=["0.6 W"])
    efficiency: Fraction = Field(
        description="Efficiency at rated output.", examples=["88 %"]
    )


class ModulePart(PartCommon):
    """PV module with its data-sheet figures."""

    kind: Literal["module"] = Field(description="Kind of part.", examples=["module"])
    data: ModuleData = Field(
        description="Data-sheet figures of the PV module.",
        examples=[
            {
                "power": "100 W",
                "max_power_voltage": "18 V",
                "max_power_current": "5.56 A",
                "open_circuit_voltage": "22 V",
                "short_circuit_current": "6 A",
            }
        ],
    )
    mass: Annotated[float, FieldUnit("kg"), Field(gt=0, le=100)] = Field(
        description="Mass of one module.", examples=["7.5 kg"]
    )


class BatteryPart(PartCommon):
    """Battery unit with its nameplate figures."""

    kind: Literal["battery"] = Field(description="Kind of part.", examples=["battery"])
    chemistry: ChemistryName = Field(description="Battery chemistry.", examples=["agm"])
    nominal: Annotated[float, FieldUnit("V"), Field(gt=0, le=60)] = Field(
        description="Nominal voltage of one battery unit.", examples=["12 V"]
    )
    capacity: Annotated[float, FieldUnit("Ah"), Field(gt=0, le=20_000)] = Field(
        description="Rated capacity of one battery unit at `hour_rate`.",
        examples=["100 Ah"],
    )
    hour_rate: Annotated[float, FieldUnit("h"), Field(ge=1, le=500)] = Field(
        description="Hour rate of the rated capacity.", examples=["20 h"]
    )
    mass: Annotated[float, FieldUnit("kg"), Field(gt=0, le=5_000)] = Field(
        description="Mass of one battery unit.", examples=["30 kg"]
    )


class PriceRange(Strict):
    """What one piece costs."""

    low: Annotated[float, Field(ge=0)] = Field(
        description="Low value of the price.", examples=[250]
    )
    typical: Annotated[float, Field(ge=0)] = Field(
        description="Typical price.", examples=[350]
    )
    high: Annotated[float, Field(ge=0)] = Field(
        description="High value of the price.", examples=[450]
    )
    currency: Annotated[str, Field(pattern="^[A-Z]{3}$")] = Field(
        description="Currency, as three letters.", examples=["USD"]
    )
    year: Annotated[int, Field(ge=1990, le=2100)] = Field(
        description="Year of the price.", examples=[2024]
    )

    @model_validator(mode="after")
    def _ordered(self) -> PriceRange:
        if not self.low <= self.typical <= self.high:
            raise ValueError("needs low <= typical <= high")
        return self


class ChargeControllerPart(PartCommon):
    """Charge controller with its ratings and price."""

    kind: Literal["charge-controller"] = Field(
        description="Kind of part.", examples=["charge-controller"]
    )
    regulation: Literal["mppt", "pwm"] = Field(
        description="MPPT or PWM.", examples=["mppt"]
    )
    buses: Annotated[tuple[float, ...], Field(min_length=1)] = Field(
        description="Nominal bus voltages that the charge controller suits, in V.",
        examples=[[12, 24]],
    )
    charge_current: Ampere = Field(
        description="Rated charge current.", examples=["30 A"]
    )
    highest_input: Annotated[float, FieldUnit("V"), Field(gt=0, le=2000)] = Field(
        description="Highest rated PV input voltage (array Voc).", examples=["100 V"]
    )
    own_current: Ampere = Field(description="Self-consumption.", examples=["10 mA"])
    efficiency: Annotated[float, Field(gt=0, le=1)] = Field(
        description="Conversion efficiency at rated output, as a fraction.",
        examples=[0.96],
    )
    losses: ConversionLosses | None = Field(
        None,
        description="Losses by output; they replace `efficiency` in the simulation.",
        examples=[{"constant": "0.4 %", "linear": "1.2 %", "square": "1.2 %"}],
    )
    price: PriceRange = Field(
        description="Price of one charge controller.",
        examples=[
            {"low": 250, "typical": 350, "high": 450, "currency": "USD", "year": 2024}
        ],
    )


Part = Annotated[
    DevicePart
    | NodePart
    | CardPart
    | TransmitterPart
    | RadioPart
    | ConverterPart
    | ModulePart
    | BatteryPart
    | ChargeControllerPart,
    Field(discriminator="kind"),
]

PARTS_KINDS: tuple[str, ...] = (
    "controller",
    "card",
    "transmitter",
    "radio",
    "device",
    "network",
    "panel",
    "detector",
    "valve",
    "node",
    "converter",
    "module",
    "battery",
    "charge-controller",
)
"""Every word that ``kind`` may be."""

_ADAPTER: TypeAdapter[Any] = TypeAdapter(Part)
_PLACE = re.compile(r"\(at (?:line (\d+), column (\d+)|end of document)\)")


def load_parts(extra: Path | None = None) -> dict[str, Part]:
    """Return the parts library by name, with a user's own parts added.

    Parameters
    ----------
    extra
        A file to add, or None: ``[[part]]`` tables in TOML, or a CSV or XLSX table
        with one row a reading [path].

    Returns
    -------
    dict
        Name of the part to its figures; a new dictionary each time [-].

    Raises
    ------
    InputError
        When the file cannot be read; every fault in it is listed.

    Examples
    --------
    >>> load_parts()["controller-low-power"].power.typical
    0.915
    """
    parts = dict(_built_in())
    if extra is not None:
        parts |= _read(extra, parts)
    return parts


def find_part(parts: Mapping[str, Part], name: str, where: str = "part") -> Part:
    """Return one part of the library by its name.

    Parameters
    ----------
    parts
        What `load_parts` returned [-].
    name
        Name of the part [text].
    where
        Key path to name in the error, such as ``load[2].part`` [text].

    Returns
    -------
    Part
        The part's figures [-].

    Raises
    ------
    InputError
        When there is no such part; the nearest spellings are given.
    """
    if name in parts:
        return parts[name]
    near = nearest_names(name, parts)
    hint = " or ".join(f"'{word}'" for word in near)
    raise InputError(
        Fault(
            where=where,
            problem="no part of this name in the library",
            given=repr(name),
            allowed="a name from the parts library or from the file in parts_file",
            advice=f"did you mean {hint}?" if near else "list the library for names",
        )
    )


@cache
def _built_in() -> dict[str, Part]:
    parts: dict[str, Part] = {}
    for path in sorted(FOLDER.glob("*.toml")):
        parts |= _read(path, parts)
    return parts


def _read(path: Path, taken: Mapping[str, Part]) -> dict[str, Part]:
    """Return the parts of one file, or raise with everything wrong in it."""
    document = _document(path)
    faults = [
        Fault(
            where=key,
            problem="unknown key at the top of a parts file",
            allowed="[[part]] tables only",
            advice=nearest(key, ["part"]),
        )
        for key in document
        if key != "part"
    ]
    tables = document.get("part", [])
    if not isinstance(tables, list):
        faults.append(Fault("part", "needs double brackets", "[part]", "[[part]]"))
        tables = []
    found: dict[str, Part] = {}
    for number, table in enumerate(tables, start=1):
        where = _label(number, table)
        try:
            part: Part = _ADAPTER.validate_python(table)
        except ValidationError as exc:
            faults.extend(_faults(exc, where))
            continue
        if part.name in taken or part.name in found:
            faults.append(_twice(where, part.name, library=part.name in taken))
        found[part.name] = part
    if faults:
        raise InputError([_in_file(fault, path) for fault in faults])
    return found


def _in_file(fault: Fault, path: Path) -> Fault:
    return Fault(
        fault.where, fault.problem, fault.given, fault.allowed, fault.advice, str(path)
    )


def _twice(where: str, name: str, *, library: bool) -> Fault:
    owner = "the parts library" if library else "this file"
    return Fault(
        where=f"{where}.name",
        problem=f"the name is already used in {owner}",
        given=repr(name),
        allowed="a name that no other part has",
        advice=f"rename it, for example '{name}-own'",
    )


def _document(path: Path) -> dict[str, Any]:
    advice = "check the path in parts_file"
    fault = Fault("file", "", advice=advice, file=str(path))
    if path.suffix.lower() in TABLES:
        return table_document(path, fault)
    text = read_text(path, PAGE_BYTES, fault)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as exc:
        match = _PLACE.search(str(exc))
        line = match and match.group(1)
        fault = Fault(
            where=f"line {line}, column {match.group(2)}" if match and line else "end",
            problem=f"not valid TOML: {_PLACE.sub('', str(exc)).strip()}",
            advice="check the quotes, brackets and equals signs on that line",
        )
    except RecursionError:
        fault = Fault("file", "tables or lists are nested too deeply")
    except ValueError:
        fault = Fault("file", "holds a whole number of thousands of digits")
    raise InputError(_in_file(fault, path)) from None


def _label(number: int, table: Any) -> str:
    name = table.get("name") if isinstance(table, dict) else None
    return f"part[{number}] ({name})" if isinstance(name, str) else f"part[{number}]"


def _faults(exc: ValidationError, where: str) -> Iterator[Fault]:
    """Turn each complaint about one table into where, what and what to write."""
    kinds = ", ".join(PARTS_KINDS)
    error = exc.errors(include_url=False)[0]
    if error["type"] == "union_tag_not_found":
        yield Fault(f"{where}.kind", "is missing", allowed=kinds)
    elif error["type"] == "union_tag_invalid":
        tag = str(error["ctx"]["tag"])
        near = nearest(tag, PARTS_KINDS)
        yield Fault(f"{where}.kind", "is not a known kind", repr(tag), kinds, near)
    elif error["loc"]:
        yield from model_faults(exc, where, _models()[str(error["loc"][0])])
    else:
        yield Fault(where, "must be a table of keys", written(error["input"]))


@cache
def _models() -> dict[str, type[BaseModel]]:
    """Return the table of each kind of part, by the word in ``kind``."""
    return {
        kind: model
        for model in get_args(get_args(Part)[0])
        for kind in get_args(model.model_fields["kind"].annotation)
    }
