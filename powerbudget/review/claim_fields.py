"""Figures as vendors write them: per day, per kWh, in ampere-hours or in watt-hours."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, WithJsonSchema

from powerbudget.quantities import QuantityError, parse, parse_fraction
from powerbudget.site.fields import FieldUnit, InWords, Line

_DAILY = re.compile(r"\s*(?:/\s*(?:d|day)|(?:per|a)\s+day)\s*$", re.IGNORECASE)
_PERIOD = re.compile(
    r"\s*(?:/|\bper\b|\ba\b)\s*(d|day|month|year|yr|y|annum)\s*$", re.IGNORECASE
)
_USE = re.compile(
    r"^\s*([+]?(?:\d[\d,]*\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*"
    r"(m3|m³|sm3|nm3|L|l|litres?|liters?|gal|scf|ft3|mscf|kg|lb)\s*"
    r"(?:/|per|a)\s*(kWh|Wh|MWh|h|hour|d|day|month|year|yr|y)\s*$"
)
AMOUNTS: dict[str, tuple[str, float]] = {
    "m3": ("m3", 1.0), "m³": ("m3", 1.0), "sm3": ("m3", 1.0), "nm3": ("m3", 1.0),
    "scf": ("m3", 0.028316846592), "ft3": ("m3", 0.028316846592),
    "mscf": ("m3", 28.316846592), "l": ("L", 1.0), "L": ("L", 1.0),
    "litre": ("L", 1.0), "litres": ("L", 1.0), "liter": ("L", 1.0),
    "liters": ("L", 1.0), "gal": ("L", 3.785411784), "kg": ("kg", 1.0),
    "lb": ("kg", 0.45359237),
}  # fmt: skip
"""Unit of an amount of fuel -> the unit that is kept, and how many of it."""
PERIODS_H = {
    "h": 1.0, "hour": 1.0, "d": 24.0, "day": 24.0, "month": 730.5,
    "year": 8766.0, "yr": 8766.0, "y": 8766.0,
}  # fmt: skip
ENERGIES_KWH = {"Wh": 0.001, "kWh": 1.0, "MWh": 1000.0}


@dataclass(frozen=True)
class Use:
    """Fuel use as claimed: an amount over a time, or over an energy.

    Parameters
    ----------
    amount, unit
        How much, in ``m3``, ``L`` or ``kg`` [unit].
    hours, kwh
        Over which time, or over which energy; the other is 0 [h, kWh].
    written
        As it stands in the file [text].
    """

    amount: float
    unit: str
    hours: float
    kwh: float
    written: str


def read_use(value: object) -> Use:
    """Return a fuel use from text such as ``"0.9 L/kWh"`` or ``"1500 m3/year"``.

    Examples
    --------
    >>> read_use("0.9 L/kWh").kwh, read_use("1500 m3/year").hours
    (1.0, 8766.0)
    """
    if isinstance(value, Use):
        return value
    needs = "needs a fuel use in quotes: '0.9 L/kWh', '1500 m3/year' or '155 scf/day'"
    if not isinstance(value, str):
        raise QuantityError(needs)
    match = _USE.match(value)
    if not match:
        hint = (
            "" if re.search(r"[/]|per", value) else "; say per what: /kWh, /day, /year"
        )
        raise QuantityError(needs + hint)
    number, unit, per = match.groups()
    if re.search(r",(?!\d{3}(?:\D|$))", number):
        raise QuantityError(f"{needs}; use a point as the decimal mark, not a comma")
    kept, scale = AMOUNTS[unit if unit in AMOUNTS else unit.lower()]
    amount = float(number.replace(",", "")) * scale
    if not 0 < amount < 1e12:
        raise QuantityError("needs a fuel use above zero")
    return Use(
        amount, kept, PERIODS_H.get(per, 0.0), ENERGIES_KWH.get(per, 0.0), value.strip()
    )


def _one_of(value: object, units: tuple[str, ...], needs: str) -> object:
    if isinstance(value, tuple):
        return value
    if not isinstance(value, str):
        raise QuantityError(needs)
    text = _DAILY.sub("", value)
    for unit in units:
        try:
            number = parse(text, unit)
        except QuantityError as exc:
            reason = str(exc)
        else:
            if number <= 0:
                raise QuantityError(f"{needs}, above zero")
            return (unit, number)
    if "unit is missing" in reason:
        raise QuantityError(f"{needs}; the unit is missing")
    if "decimal mark" in reason:
        raise QuantityError(f"{needs}; use a point as the decimal mark, not a comma")
    raise QuantityError(needs)


def _store(value: object) -> object:
    return _one_of(value, ("Ah", "Wh"), "needs '180 Ah' or '2.2 kWh' in quotes")


_SUM_NEEDS = (
    "needs '400 Wh/day', '20 Ah/day', '12 kWh/month' or '146 kWh/year' in quotes"
)


def yearly(value: object) -> bool:
    """Return whether a figure is written as a sum of the year [true or false]."""
    period = _PERIOD.search(value) if isinstance(value, str) else None
    return period is not None and period.group(1)[0].lower() in "ya"


def _sum(value: object) -> object:
    """Return energy or charge a day from a sum of a day, month or year."""
    period = _PERIOD.search(value) if isinstance(value, str) else None
    if period is None or not isinstance(value, str):
        return _one_of(value, ("Ah", "Wh"), _SUM_NEEDS)
    word = period.group(1).lower()
    hours = PERIODS_H["year" if word == "annum" else word]
    pair: Any = _one_of(value[: period.start()], ("Ah", "Wh"), _SUM_NEEDS)
    return (pair[0], pair[1] * 24 / hours)


def _monthly(value: object) -> float:
    """Return a share lost in a month from ``"3 %"`` or ``"3 %/month"`` [fraction]."""
    if isinstance(value, str):
        value = re.sub(r"\s*(?:/|\bper\b|\ba\b)\s*month\s*$", "", value)
    share = parse_fraction(value)
    if not 0 < share < 1:
        raise QuantityError("needs a loss per month: '3 %/month'")
    return share


_AGE = re.compile(r"^\s*\+?(\d+\.?\d*)\s*(years?|yrs?|y|a|months?)\s*$", re.IGNORECASE)


def _years(value: object) -> float:
    match = _AGE.match(value) if isinstance(value, str) else None
    if match is None:
        raise QuantityError("needs years in quotes: '10 years'")
    scale = 12.0 if match.group(2).lower().startswith("m") else 1.0
    return float(match.group(1)) / scale


def _draw(value: object) -> object:
    return _one_of(
        value, ("W", "A"), "needs a power or current in quotes: '25 W' or '1.2 A'"
    )


def _schema(*examples: str) -> WithJsonSchema:
    return WithJsonSchema({"type": "string", "examples": list(examples)})


Pair = tuple[str, Annotated[float, Field(gt=0, le=1e9)]]
Store = Annotated[
    Pair,
    InWords("Ah or Wh", "more than 0"),
    BeforeValidator(_store),
    _schema("180 Ah", "2.2 kWh"),
]
"""Charge or energy, kept as ('Ah', value) or ('Wh', value); ``/day`` may follow."""
Sum = Annotated[
    Pair,
    InWords("Wh or Ah, per day, month or year", "more than 0"),
    BeforeValidator(_sum),
    _schema("400 Wh/day", "146 kWh/year"),
]
"""Charge or energy a day; ``/day``, ``/month`` or ``/year`` may follow."""
Monthly = Annotated[
    float,
    InWords("% per month", "more than 0 %, less than 100 %"),
    BeforeValidator(_monthly),
    _schema("3 %/month"),
]
"""Share lost in a month [fraction]."""
Years = Annotated[
    float,
    InWords("yr", "more than 0, at most 100 years"),
    BeforeValidator(_years),
    Field(gt=0, le=100),
    _schema("10 years"),
]
"""Years of service [year]."""
Draw = Annotated[
    Pair,
    InWords("W or A", "more than 0"),
    BeforeValidator(_draw),
    _schema("25 W", "1.2 A"),
]
"""Power or current, kept as ('W', value) or ('A', value)."""
FuelUse = Annotated[
    Any,
    InWords("L, m3 or kg, per kWh or time", "more than 0"),
    BeforeValidator(read_use),
    _schema("0.9 L/kWh", "1500 m3/year"),
]
Pressure = Annotated[float, FieldUnit("kPa"), Field(gt=0, le=2000)]
"""Gauge pressure [kPa]."""
Volts = Annotated[float, FieldUnit("V"), Field(gt=0, le=1000)]
Days = Annotated[float, FieldUnit("d"), Field(gt=0, le=3650)]
Degrees = Annotated[float, FieldUnit("degC"), Field(ge=-90, le=150)]
Hours = Annotated[float, FieldUnit("h"), Field(gt=0, le=1000)]
Watts = Annotated[float, FieldUnit("W"), Field(gt=0, le=1e7)]


def _names(value: object) -> object:
    if isinstance(value, str):
        return (value,)
    if isinstance(value, list) and value and all(isinstance(v, str) for v in value):
        return tuple(value)
    raise QuantityError("needs a name in quotes, or a list of names")


Names = Annotated[
    tuple[Line, ...],
    InWords("text", "one name or a list of names"),
    BeforeValidator(_names),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "string"},
                {"type": "array", "items": {"type": "string"}, "minItems": 1},
            ]
        }
    ),
]
"""What a claim is about: one name or several."""
