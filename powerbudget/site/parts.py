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


class PartWindow(Strict):
    """Lowest and highest supply voltage at the terminals."""

    min: Annotated[float, FieldUnit("V"), Field(ge=0, le=100)]
    max: Annotated[float, FieldUnit("V"), Field(gt=0, le=100)]

    @model_validator(mode="after")
    def _ordered(self) -> PartWindow:
        if not self.min < self.max:
            raise ValueError("needs min < max")
        return self


class PartClimate(Strict):
    """Lowest and highest ambient temperature in service."""

    min: Annotated[float, FieldUnit("degC"), Field(ge=-80, le=120)]
    max: Annotated[float, FieldUnit("degC"), Field(ge=-80, le=120)]

    @model_validator(mode="after")
    def _ordered(self) -> PartClimate:
        if not self.min < self.max:
            raise ValueError("needs min < max")
        return self


class _Common(Strict):
    name: Annotated[str, Field(pattern=r"^[a-z0-9]+(?:-[a-z0-9]+)*$")]
    title: str
    source: Annotated[str, Field(min_length=3)]
    status: StatusWord
    note: str = ""
    input: PartWindow | None = None
    temperature: PartClimate | None = None
    maximum_elevation: Annotated[float, FieldUnit("m"), Field(ge=0, le=9000)] | None = (
        None
    )
    reading: tuple[PartReading, ...] = ()

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
        return len({one.citation for one in used if one.grade not in LOOSE})

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
    """What a controller holds and how it grows."""

    built_in: Points = Field(default_factory=dict)
    slots: Annotated[int, Field(ge=0, le=64)]
    bases: Annotated[int, Field(ge=1, le=32)] = 1
    base: Watts | None = None
    processor: Watts | None = None
    power: Watts | None = None
    network: Watts | None = None


class DevicePart(_Common):
    """A controller, switch, panel, detector, solenoid or other device."""

    kind: Literal["controller", "device", "network", "panel", "detector", "valve"]
    power: Watts
    peak: Watt | None = None
    behaviour: Behaviour = "power"
    rack: RackData | None = None


class NodePart(_Common):
    """A small remote input-output node on a bus: a base draw and its points."""

    kind: Literal["node"]
    power: Watts
    points: Points


class CardPart(_Common):
    """An input or output card: a base draw and a draw for each live channel."""

    kind: Literal["card"]
    signal: str
    channels: Annotated[Count, Field(le=64)]
    base: Watts
    per_channel: Watts


class LiftOff(Strict):
    """One point of the least terminal voltage against the loop current."""

    current: Ampere
    voltage: Annotated[float, FieldUnit("V"), Field(ge=0, le=100)]


class TransmitterPart(_Common):
    """A field instrument whose current is set by its signal, not its voltage."""

    kind: Literal["transmitter"]
    wiring: Literal["two-wire", "three-wire", "fieldbus"]
    current: Amperes
    lift_off: tuple[LiftOff, ...] = ()


class RadioPart(_Common):
    """A radio or modem: transmit, receive and sleep draws."""

    kind: Literal["radio"]
    transmit: Watts
    receive: Watts
    sleep: Watts
    peak: Watt | None = None


class ConverterPart(_Common):
    """A DC/DC converter by two points: no-load input and full-load efficiency."""

    kind: Literal["converter"]
    output: Annotated[float, FieldUnit("V"), Field(gt=0, le=60)]
    rated: Watt
    no_load: Watt
    efficiency: Fraction


class ModulePart(_Common):
    """A photovoltaic module by its data-sheet points."""

    kind: Literal["module"]
    data: ModuleData
    mass: Annotated[float, FieldUnit("kg"), Field(gt=0, le=100)]


class BatteryPart(_Common):
    """A battery unit by its name-plate."""

    kind: Literal["battery"]
    chemistry: ChemistryName
    nominal: Annotated[float, FieldUnit("V"), Field(gt=0, le=60)]
    capacity: Annotated[float, FieldUnit("Ah"), Field(gt=0, le=20_000)]
    hour_rate: Annotated[float, FieldUnit("h"), Field(ge=1, le=500)]
    mass: Annotated[float, FieldUnit("kg"), Field(gt=0, le=5_000)]


class PriceRange(Strict):
    """What one piece costs."""

    low: Annotated[float, Field(ge=0)]
    typical: Annotated[float, Field(ge=0)]
    high: Annotated[float, Field(ge=0)]
    currency: Annotated[str, Field(pattern="^[A-Z]{3}$")]
    year: Annotated[int, Field(ge=1990, le=2100)]

    @model_validator(mode="after")
    def _ordered(self) -> PriceRange:
        if not self.low <= self.typical <= self.high:
            raise ValueError("needs low <= typical <= high")
        return self


class ChargeControllerPart(_Common):
    """A charge controller by its rating."""

    kind: Literal["charge-controller"]
    regulation: Literal["mppt", "pwm"]
    buses: Annotated[tuple[float, ...], Field(min_length=1)]
    charge_current: Ampere
    highest_input: Annotated[float, FieldUnit("V"), Field(gt=0, le=2000)]
    own_current: Ampere
    efficiency: Annotated[float, Field(gt=0, le=1)]
    losses: ConversionLosses | None = None
    price: PriceRange


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
