"""Field types of the site file: text with a unit in, a float in SI out.

The same declarations feed the validator and the exported schema, so that an
editor and the reader never disagree about what may be written.
"""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema
from pydantic_core import core_schema

from powerbudget.quantities import KINDS, QuantityError, parse, parse_fraction

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
        extra="forbid", frozen=True, populate_by_name=True, allow_inf_nan=False
    )


class Unit:
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
        return parse(value, self.target)

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


def _power_or_current(value: object) -> object:
    """Return ('W', value) or ('A', value): draws are printed either way."""
    if not isinstance(value, str):
        raise QuantityError("needs a draw in quotes with its unit: '1.5 W' or '15 mA'")
    try:
        return ("A", parse(value, "A"))
    except QuantityError:
        pass
    try:
        return ("W", parse(value, "W"))
    except QuantityError as exc:
        text = str(exc).replace("needs a power, such as", "needs a draw in W or A:")
        raise QuantityError(text) from exc


def _fraction(value: object) -> float:
    return parse_fraction(value)


Fraction = Annotated[
    float,
    BeforeValidator(_fraction),
    Field(ge=0, le=1),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "number", "minimum": 0, "maximum": 1},
                {"type": "string", "pattern": r"^\s*[0-9.]+\s*%?\s*$"},
            ],
            "description": "a share: '15 %' or a number from 0 to 1",
        }
    ),
]
Draw = Annotated[
    tuple[str, Annotated[float, Field(ge=0)]],
    BeforeValidator(_power_or_current),
    WithJsonSchema(
        {
            "type": "string",
            "description": "a draw in W or A, such as '1.5 W' or '15 mA'",
            "examples": ["1.5 W", "15 mA"],
        }
    ),
]


def _no_bool(value: object) -> object:
    if isinstance(value, bool):
        raise QuantityError("needs a number, not true or false")
    return value


Number = Annotated[float, BeforeValidator(_no_bool)]
Count = Annotated[int, BeforeValidator(_no_bool), Field(ge=1, le=100_000, strict=True)]
WholeNumber = Annotated[
    int, BeforeValidator(_no_bool), Field(ge=0, le=100_000, strict=True)
]

_COORDINATE = re.compile(r"^\s*([+-]?\d+(?:\.\d+)?)\s*(?:deg|°)?\s*([NSEWnsew]?)\s*$")


def _coordinate(value: object) -> object:
    if isinstance(value, str):
        match = _COORDINATE.match(value)
        if not match:
            raise QuantityError("needs degrees: 55.3, -160.5, '55.3 N' or '160.5 W'")
        number = float(match.group(1))
        side = match.group(2).upper()
        if side and number < 0:
            raise QuantityError("has both a minus sign and a letter; use one of them")
        return -number if side in {"S", "W"} else number
    return _no_bool(value)


_ANGLE = WithJsonSchema(
    {"type": ["number", "string"], "examples": [55.317, "55.317 N", "160.517 W"]}
)
Latitude = Annotated[float, BeforeValidator(_coordinate), Field(ge=-90, le=90), _ANGLE]
Longitude = Annotated[
    float, BeforeValidator(_coordinate), Field(ge=-180, le=180), _ANGLE
]


def _azimuth(value: object) -> float:
    if isinstance(value, str):
        word = value.strip().lower().replace(" ", "-")
        if word in COMPASS_DEG:
            return COMPASS_DEG[word]
        try:
            return parse(value, "deg")
        except QuantityError as exc:
            names = ", ".join(COMPASS_DEG)
            raise QuantityError(
                f"needs degrees clockwise from north, such as '180 deg', or one of {names}"
            ) from exc
    raise QuantityError("needs quotes and a unit: '180 deg' or 'south'")


Azimuth = Annotated[
    float,
    BeforeValidator(_azimuth),
    Field(ge=0, lt=360),
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
        assert offset is not None  # noqa: S101 - an aware moment always has one
        extra = summer.total_seconds() if summer else 0.0
        offsets.append((offset.total_seconds() - extra) / 3600)
    return min(offsets)


TimeZone = Annotated[
    float,
    BeforeValidator(_zone),
    Field(ge=-12, le=14),
    WithJsonSchema({"type": "string", "examples": ["UTC-7", "America/Edmonton"]}),
]

_SPAN = re.compile(r"^\s*(\d{1,2}):(\d{2})\s*-\s*(\d{1,2}):(\d{2})\s*$")


def _hours(value: object) -> tuple[float, ...]:
    """Return 24 shares, the part of each clock hour in which the load is on."""
    spans = [value] if isinstance(value, str) else value
    if not isinstance(spans, list | tuple) or not spans:
        raise QuantityError("needs a span such as '06:00-18:00', or a list of spans")
    if len(spans) == 24 and all(isinstance(x, float) for x in spans):
        return tuple(spans)
    minutes = [0] * 1440
    for span in spans:
        match = _SPAN.match(span) if isinstance(span, str) else None
        if not match:
            raise QuantityError(f"'{span}' is not a span such as '06:00-18:00'")
        h1, m1, h2, m2 = (int(x) for x in match.groups())
        first, last = h1 * 60 + m1, h2 * 60 + m2
        if max(first, last) > 1440 or m1 > 59 or m2 > 59 or first == last:
            raise QuantityError(f"'{span}' is not a span within 00:00-24:00")
        wrapped = range(first, last if last > first else last + 1440)
        for minute in wrapped:
            minutes[minute % 1440] = 1
    return tuple(sum(minutes[h * 60 : h * 60 + 60]) / 60 for h in range(24))


Hours = Annotated[
    tuple[float, ...],
    BeforeValidator(_hours),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string"},
                {"type": "array", "items": {"type": "string"}},
            ],
            "examples": ["06:00-18:00", ["22:00-06:00"]],
        }
    ),
]


def _months(value: object) -> tuple[int, ...]:
    """Return month numbers 1-12 from names and spans such as ``"Nov-Mar"``."""
    items = [value] if isinstance(value, str) else value
    if not isinstance(items, list | tuple) or not items:
        raise QuantityError("needs months such as 'Nov-Mar' or ['Jan', 'Feb']")
    found: set[int] = set()
    for item in items:
        if isinstance(item, int) and not isinstance(item, bool) and 1 <= item <= 12:
            found.add(item)
            continue
        ends = [part.strip().title()[:3] for part in str(item).split("-")]
        if len(ends) > 2 or any(end not in MONTHS for end in ends):
            raise QuantityError(f"'{item}' is not a month or span such as 'Nov-Mar'")
        first, last = MONTHS.index(ends[0]), MONTHS.index(ends[-1])
        found.update((first + k) % 12 + 1 for k in range((last - first) % 12 + 1))
    return tuple(sorted(found))


Months = Annotated[
    tuple[int, ...],
    BeforeValidator(_months),
    WithJsonSchema(
        {
            "anyOf": [{"type": "string"}, {"type": "array"}],
            "examples": ["Nov-Mar", ["Jan", "Feb"]],
        }
    ),
]

_DAY = re.compile(r"^(?:(\d{1,2})\s+([A-Za-z]{3,9})|([A-Za-z]{3,9})\s+(\d{1,2}))$")
_DAYS_IN = (31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)


def _dates(value: object) -> tuple[int, int]:
    """Return first and last day as month times 100 plus day, both included."""
    if isinstance(value, tuple) and len(value) == 2:
        return value
    needs = "needs two dates such as '15 Nov to 1 Mar'"
    ends = str(value).split(" to ") if isinstance(value, str) else []
    if len(ends) != 2:
        raise QuantityError(needs)
    return _date(ends[0].strip(), needs), _date(ends[1].strip(), needs)


def _date(text: str, needs: str) -> int:
    match = _DAY.match(text)
    if not match:
        raise QuantityError(f"{needs}; '{text}' is not a day and a month's name")
    day = int(match.group(1) or match.group(4))
    word = (match.group(2) or match.group(3)).title()[:3]
    if word not in MONTHS or not 1 <= day <= _DAYS_IN[MONTHS.index(word)]:
        raise QuantityError(f"{needs}; '{text}' is no date of any year")
    return 100 * (MONTHS.index(word) + 1) + day


Dates = Annotated[
    tuple[int, int],
    BeforeValidator(_dates),
    WithJsonSchema({"type": "string", "examples": ["15 Nov to 1 Mar"]}),
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
    BeforeValidator(_threshold),
    WithJsonSchema({"type": "string", "examples": ["23.8 V", "45 %"]}),
]
