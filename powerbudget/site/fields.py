"""Field types of the site file: text with a unit in, a float in SI out.

The same declarations feed the validator and the exported schema, so that an
editor and the reader never disagree about what may be written.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema
from pydantic_core import core_schema

from powerbudget.data.figures import Status
from powerbudget.errors import nearest
from powerbudget.quantities import KINDS, QuantityError, parse, parse_fraction

ChemistryName = Literal[
    "flooded", "tubular", "agm", "gel", "nicd", "nicd-arctic", "lfp", "lithium-ion"
]
MONTHS = (
    "Jan", "Feb", "Mar", "Apr", "May", "Jun",
    "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
)  # fmt: skip
COMPASS_DEG = {
    "north": 0.0, "north-east": 45.0, "east": 90.0, "south-east": 135.0,
    "south": 180.0, "south-west": 225.0, "west": 270.0, "north-west": 315.0,
}  # fmt: skip


class Strict(BaseModel):
    """Base of every table in the site file: frozen, no unknown keys."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, allow_inf_nan=False, defer_build=True
    )


_POWER = re.compile(r"\*\*|\^|\d\s*²|²\s*²")


def _parse(text: str, target: str) -> float:
    """Read a quantity whose unit cannot keep the machine busy.

    A unit is an expression, and ``9**9**9`` in it would be computed for hours.
    """
    squares = re.sub(r"(?<=[A-Za-z])\s*(?:\*\*|\^)\s*2(?![\d.])", "", text)
    if len(text) > 60 or _POWER.search(squares):
        words, example = KINDS[target]
        raise QuantityError(f"needs {words}, such as {example}: a plain unit")
    return parse(text, target)


class FieldUnit:
    """Marks a field as a quantity that is kept in one unit.

    Parameters
    ----------
    target
        A key of `powerbudget.quantities.KINDS`, such as ``"W"`` [text].
    """

    def __init__(self, target: str) -> None:
        self.target = target

    def read(self, value: object) -> float:
        """Return the value in the target unit, or say what is needed."""
        words, example = KINDS[self.target]
        if not isinstance(value, str):
            raise QuantityError(f"needs {words} in quotes with its unit: {example}")
        return _parse(value, self.target)

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        """Read text before pydantic checks the number."""
        return core_schema.no_info_before_validator_function(self.read, handler(source))

    def __get_pydantic_json_schema__(self, _schema: Any, _handler: Any) -> Any:
        """Tell editors that the value is text with a unit."""
        words, example = KINDS[self.target]
        return {
            "type": "string",
            "description": f"{words}, such as {example}",
            "examples": [example.split("'")[1]],
        }


@dataclass(frozen=True)
class InWords:
    """Unit and range of a type that no unit and no bound says, for people.

    Parameters
    ----------
    unit
        What it is counted in [text].
    range
        What is accepted [text].
    """

    unit: str
    range: str


def _power_or_current(value: object) -> object:
    """Return ('W', value) or ('A', value): draws are printed either way."""
    if not isinstance(value, str):
        raise QuantityError("needs a draw in quotes with its unit: '1.5 W' or '15 mA'")
    unit = "A"
    try:
        number = _parse(value, unit)
    except QuantityError:
        unit, number = "W", _watts(value)
    if number < 0:
        raise QuantityError("is negative; a draw is 0 or more, in W or A")
    if number > 1e6:
        raise QuantityError("is over a million W or A; check the unit")
    return (unit, number)


def _watts(value: str) -> float:
    words, example = KINDS["W"]
    try:
        return _parse(value, "W")
    except QuantityError as exc:
        text = str(exc).replace(
            f"needs {words}, such as {example}",
            "needs a draw in W or A, such as '1.5 W' or '15 mA'",
        )
        raise QuantityError(text) from exc


_DECIMAL_COMMA = re.compile(r"^\s*[+-]?\d+,\d+")
COMMA = "use a point as the decimal mark, not a comma"


def _fraction(value: object) -> float:
    if isinstance(value, str) and _DECIMAL_COMMA.match(value):
        raise QuantityError(f"needs a share: '15 %', or a number from 0 to 1; {COMMA}")
    if isinstance(value, str):
        value = value.replace("−", "-")
    return parse_fraction(value)


Fraction = Annotated[
    float,
    BeforeValidator(_fraction),
    Field(ge=0, le=1),
    "%",  # a bare word beside a field is the unit in which messages state its range
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "number", "minimum": 0, "maximum": 1},
                {"type": "string", "pattern": r"^\s*\+?[0-9.]+\s*%?\s*$"},
            ],
            "description": "a share: '15 %' or a number from 0 to 1",
        }
    ),
]
Draw = Annotated[
    tuple[str, Annotated[float, Field(ge=0)]],
    InWords("W or A", "0 to 1,000,000"),
    BeforeValidator(_power_or_current),
    WithJsonSchema(
        {
            "type": "string",
            "description": "a draw in W or A, such as '1.5 W' or '15 mA'",
            "examples": ["1.5 W", "15 mA"],
        }
    ),
]


def _number(value: object) -> object:
    if isinstance(value, str):
        hint = f"; {COMMA}" if _DECIMAL_COMMA.match(value) else ""
        try:
            value = float(value)
        except ValueError:
            raise QuantityError(f"needs a plain number without a unit{hint}") from None
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise QuantityError("needs a plain number")
    if not abs(value) < float("inf"):
        raise QuantityError("needs a finite number")
    return value


def _whole(value: object) -> object:
    if isinstance(value, bool) or not isinstance(value, int):
        raise QuantityError("needs a whole number without quotes, such as 4")
    return value


Number = Annotated[float, BeforeValidator(_number)]
Count = Annotated[int, Field(ge=1, le=100_000), BeforeValidator(_whole)]
WholeNumber = Annotated[int, Field(ge=0, le=100_000), BeforeValidator(_whole)]


def one_line(value: object) -> str:
    """Return text of one line, without what could upset a terminal or a table [text].

    Examples
    --------
    >>> one_line(" valve site ")
    'valve site'
    """
    if not isinstance(value, str):
        raise QuantityError("needs text in quotes")
    odd = {"Cc", "Cf", "Cs", "Zl", "Zp"}
    if any(unicodedata.category(letter) in odd for letter in value):
        raise QuantityError("has a line break, a tab or an invisible character in it")
    if not value.strip():
        raise QuantityError("needs text; it is empty")
    if len(value) > 200:
        raise QuantityError(f"is {len(value)} letters long; at most 200 are kept")
    return value.strip()


Line = Annotated[
    str,
    InWords("text", "1 to 200 characters, one line"),
    BeforeValidator(one_line),
    WithJsonSchema({"type": "string", "minLength": 1, "maxLength": 200}),
]


def _text(value: object) -> object:
    """Return text of several lines; a terminal must not be steered by it."""
    if not isinstance(value, str):
        raise QuantityError("needs text in quotes")
    if any(unicodedata.category(c) == "Cc" and c not in "\n\t" for c in value):
        raise QuantityError("has a control character in it")
    if len(value) > 2000:
        raise QuantityError(f"is {len(value)} letters long; at most 2000 are kept")
    return value


Text = Annotated[
    str,
    InWords("text", "up to 2000 characters"),
    BeforeValidator(_text),
    WithJsonSchema({"type": "string", "maxLength": 2000}),
]

AWG = (
    *("26", "24", "22", "20", "18", "16", "14", "12", "10", "8", "6", "4", "3", "2"),
    *("1", "1/0", "2/0"),
)
MM2 = (
    *("0.1", "0.14", "0.2", "0.22", "0.25", "0.34", "0.5", "0.75", "1", "1.5", "2.5"),
    *("4", "6", "10", "16", "25", "35"),
)
_AWG = re.compile(r"^(?:AWG\s*#?\s*([\d/]+)|([\d/]+)\s*AWG)$", re.IGNORECASE)
_MM2 = re.compile(r"^(\d+(?:\.\d+)?)\s*(?:mm2|mm²|mm\^2)$", re.IGNORECASE)


def _gauge(value: object) -> object:
    """Refuse a wire size without resistance in the wire tables."""
    text = value.strip() if isinstance(value, str) else ""
    american, metric = _AWG.match(text), _MM2.match(text)
    known = (american and (american.group(1) or american.group(2)) in AWG) or (
        metric and f"{float(metric.group(1)):g}" in MM2
    )
    if not known:
        raise QuantityError(
            "needs a wire size in quotes, such as '16 AWG' or '2.5 mm2': "
            f"{', '.join(AWG)} with AWG, or {', '.join(MM2)} with mm2"
        )
    return text


Gauge = Annotated[
    str,
    InWords("AWG or mm2", f"{AWG[0]} to {AWG[-1]} AWG, {MM2[0]} to {MM2[-1]} mm2"),
    BeforeValidator(_gauge),
    WithJsonSchema({"type": "string", "examples": ["16 AWG", "2.5 mm2"]}),
]

_COORDINATE = re.compile(r"^\s*([+-]?\d+(?:\.\d+)?)\s*(?:deg|°)?\s*([NSEWnsew]?)\s*$")


def _coordinate(sides: str, example: str) -> Callable[[object], object]:
    """Return the reader of a latitude or a longitude, by its two letters."""

    def read(value: object) -> object:
        if not isinstance(value, str):
            return _number(value)
        match = _COORDINATE.match(value.replace("−", "-"))
        if not match:
            hint = f"; {COMMA}" if _DECIMAL_COMMA.match(value) else ""
            raise QuantityError(f"needs decimal degrees, such as {example}{hint}")
        number, side = float(match.group(1)), match.group(2).upper()
        if side and side not in sides:
            raise QuantityError(f"ends in {side}, but needs {' or '.join(sides)}")
        if side and match.group(1)[0] in "+-":
            raise QuantityError("has both a sign and a letter; use one of them")
        return -number if side in {"S", "W"} else number

    return read


_ANGLE = WithJsonSchema(
    {"type": ["number", "string"], "examples": [55.317, "55.317 N", "160.517 W"]}
)
Latitude = Annotated[
    float,
    BeforeValidator(_coordinate("NS", "55.3, -33.9 or '55.3 N'")),
    Field(ge=-90, le=90),
    "deg",
    _ANGLE,
]
Longitude = Annotated[
    float,
    BeforeValidator(_coordinate("EW", "-160.5, 18.4 or '160.5 W'")),
    Field(ge=-180, le=180),
    "deg",
    _ANGLE,
]


def _azimuth(value: object) -> float:
    if isinstance(value, str):
        word = value.strip().lower().replace(" ", "-")
        if word in COMPASS_DEG:
            return COMPASS_DEG[word]
        try:
            return _parse(value, "deg")
        except QuantityError as exc:
            names = ", ".join(COMPASS_DEG)
            near = nearest(word, COMPASS_DEG)
            raise QuantityError(
                f"needs degrees clockwise from north, such as '180 deg', or one of {names}"
                + (f"; {near}" if near else "")
            ) from exc
    raise QuantityError("needs quotes and a unit: '180 deg' or 'south'")


Azimuth = Annotated[
    float,
    BeforeValidator(_azimuth),
    Field(ge=0, lt=360),
    "deg",
    WithJsonSchema({"type": "string", "examples": ["180 deg", "south"]}),
]

_OFFSET = re.compile(r"^UTC\s*(?:([+-])\s*(\d{1,2})(?::?([0-5]\d))?)?$", re.IGNORECASE)


def _zone(value: object) -> float:
    """Return hours ahead of UTC in standard time; summer time is never used."""
    if not isinstance(value, str):
        raise QuantityError("needs text such as 'UTC-7' or 'America/Edmonton'")
    text = value.strip().replace("−", "-")
    match = _OFFSET.match(text)
    if match:
        sign, hours, minutes = match.groups()
        if not sign:
            return 0.0
        return (1 if sign == "+" else -1) * (int(hours) + int(minutes or 0) / 60)
    if text.lower().startswith("etc/"):
        raise QuantityError(
            "Etc/ zones have their sign reversed; write 'UTC-7' instead"
        )
    return _standard_offset_h(text)


def _standard_offset_h(name: str) -> float:
    from datetime import UTC, datetime
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    try:
        zone = ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError) as exc:
        raise QuantityError(
            "is not a known zone; write 'UTC-7' or a name such as 'America/Edmonton'"
        ) from exc
    offsets = []
    for month in (1, 7):
        moment = datetime(2023, month, 1, tzinfo=UTC).astimezone(zone)
        offset, summer = moment.utcoffset(), moment.dst()
        extra = summer.total_seconds() if summer else 0.0
        # An aware moment always has an offset; the stubs do not know that.
        ahead = offset.total_seconds() if offset else 0.0
        offsets.append((ahead - extra) / 3600)
    return min(offsets)


TimeZone = Annotated[
    float,
    InWords("h", "UTC-12 to UTC+14, or the name of a zone"),
    BeforeValidator(_zone),
    Field(ge=-12, le=14),
    "h",
    WithJsonSchema({"type": "string", "examples": ["UTC-7", "America/Edmonton"]}),
]


def _threshold(value: object) -> tuple[str, float]:
    """Return ('V', volts) or ('state', share): the two ways to state a step."""
    if isinstance(value, tuple):
        return value
    if isinstance(value, str) and "%" not in value and re.search(r"[A-Za-z]", value):
        return ("V", parse(value, "V"))
    try:
        share = parse_fraction(value)
    except QuantityError as exc:
        raise QuantityError(
            "needs volts or a state of charge: '23.8 V' or '45 %'"
        ) from exc
    return ("state", share)


Threshold = Annotated[
    tuple[str, Annotated[float, Field(ge=0, le=80)]],
    InWords("V or %", "0 V to 80 V, or 0 % to 100 %"),
    BeforeValidator(_threshold),
    WithJsonSchema({"type": "string", "examples": ["23.8 V", "45 %"]}),
]


OLD_STATUS = {
    "practice": "common practice",
    "remembered": "unverified",
    "invented": "fictitious",
}
"""Words of files written before 0.2.0, read until 0.3.0."""


def old_words(new: Mapping[str, str]) -> BeforeValidator:
    """Return what reads a word of a file by its old name too, until 0.3.0.

    Parameters
    ----------
    new
        New word by old word [text].
    """
    return BeforeValidator(
        lambda value: new.get(value, value) if isinstance(value, str) else value
    )


def new_keys(table: Any, new: Mapping[str, str]) -> Any:
    """Return a table with its keys by their new names; old ones are read until 0.3.0.

    Parameters
    ----------
    table
        As read from a file; what is no table is left.
    new
        New key by old key [text].

    Examples
    --------
    >>> new_keys({"haul": "5 USD/kg"}, {"haul": "freight"})
    {'freight': '5 USD/kg'}
    """
    if not isinstance(table, dict):
        return table
    # An old name beside its new one stays, to be refused as an unknown key.
    return {k if new.get(k, k) in table else new.get(k, k): v for k, v in table.items()}


StatusWord = Annotated[Status, old_words(OLD_STATUS)]
"""What a figure stands on."""
