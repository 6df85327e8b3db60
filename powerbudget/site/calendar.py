"""Field types for clock hours, months and figures by month."""

from __future__ import annotations

import re
from typing import Annotated, Any

from pydantic import BeforeValidator, WithJsonSchema
from pydantic_core import core_schema

from powerbudget.quantities import KINDS, QuantityError, parse, parse_fraction
from powerbudget.site.fields import MONTHS

_SPAN = re.compile(r"^\s*(\d{1,2}):(\d{2})\s*[-–]\s*(\d{1,2}):(\d{2})\s*$")


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 40 else text[:37] + "..."


def _hours(value: object) -> tuple[float, ...]:
    """Return 24 shares, the part of each clock hour in which the load is on."""
    spans = [value] if isinstance(value, str) else value
    if not isinstance(spans, list | tuple) or not spans:
        raise QuantityError("needs a span such as '06:00-18:00', or a list of spans")
    minutes = [0] * 1440
    for span in spans:
        match = _SPAN.match(span) if isinstance(span, str) else None
        if not match:
            raise QuantityError(f"{_short(span)} is not a span such as '06:00-18:00'")
        h1, m1, h2, m2 = (int(x) for x in match.groups())
        first, last = h1 * 60 + m1, h2 * 60 + m2
        if max(first, last) > 1440 or m1 > 59 or m2 > 59 or first == last:
            raise QuantityError(f"{_short(span)} is not a span within 00:00-24:00")
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


_MONTH_NAMES = (
    "january", "february", "march", "april", "may", "june",
    "july", "august", "september", "october", "november", "december",
)  # fmt: skip
_MONTH_WORDS = {name: k for k, name in enumerate(_MONTH_NAMES)} | {
    name[:3]: k for k, name in enumerate(_MONTH_NAMES)
}


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
        ends = [part.strip().lower() for part in re.split("[-–]", str(item))]
        if len(ends) > 2 or any(end not in _MONTH_WORDS for end in ends):
            raise QuantityError(
                f"{_short(item)} is not a month or span such as 'Nov-Mar'"
            )
        first, last = _MONTH_WORDS[ends[0]], _MONTH_WORDS[ends[-1]]
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

_NUMBERS = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")


class Twelve:
    """Marks a field that holds one figure a month, January first, in one unit.

    Parameters
    ----------
    target
        A key of `powerbudget.quantities.KINDS`, ``"percent"`` for shares and an
        empty text for plain numbers [text].
    """

    def __init__(self, target: str = "") -> None:
        self.target = target

    def read(self, value: object) -> tuple[float, ...]:
        """Return twelve numbers, a single one repeated, or say what is needed."""
        items = self._items(value)
        if len(items) == 1:
            items *= 12
        if len(items) != 12:
            raise QuantityError(
                f"needs 12 figures, January first, or one for all months; there are "
                f"{len(items)}; such as {self.example}"
            )
        return tuple(self._one(item) for item in items)

    @property
    def example(self) -> str:
        """How the field may be written [text]."""
        if not self.target:
            return "[9, 9, 10, 11, 12, 12, 12, 12, 11, 10, 9, 9]"
        one = KINDS[self.target][1].split("'")[1]
        number, _, unit = one.partition(" ")
        return f"'{' '.join([number] * 3)} ... {unit}'"

    def _items(self, value: object) -> list[object]:
        if isinstance(value, list | tuple):
            return list(value)
        if not isinstance(value, str) or not self.target:
            return [value]
        numbers = _NUMBERS.findall(value.replace("\u2212", "-"))
        unit = value.strip().split(" ")[-1] if numbers else ""
        if len(numbers) < 2 or _NUMBERS.fullmatch(unit):
            return [value] if len(numbers) < 2 else list(numbers)
        rest = value.strip()[: -len(unit)].replace(",", " ").split()
        return [f"{number} {unit}" for number in rest]

    def _one(self, item: object) -> float:
        if self.target == "percent":
            return parse_fraction(item)
        if not self.target:
            if isinstance(item, bool) or not isinstance(item, int | float):
                raise QuantityError(f"needs numbers, such as {self.example}")
            return float(item)
        if not isinstance(item, str):
            raise QuantityError(f"needs text with a unit at its end: {self.example}")
        return parse(item, self.target)

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        """Read text before pydantic checks the numbers."""
        return core_schema.no_info_before_validator_function(self.read, handler(source))

    def __get_pydantic_json_schema__(self, _schema: Any, _handler: Any) -> Any:
        """Tell editors that the value is twelve figures."""
        return {
            "anyOf": [
                {"type": "string"},
                {"type": "number"},
                {"type": "array", "minItems": 1, "maxItems": 12},
            ],
            "description": "one figure a month, January first, such as " + self.example,
        }


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
