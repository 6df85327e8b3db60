"""Field types for clock hours, months and figures by month."""

from __future__ import annotations

import re
from typing import Annotated

from pydantic import BeforeValidator, WithJsonSchema

from powerbudget.quantities import QuantityError
from powerbudget.site.fields import MONTHS, InWords

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
    InWords("h", "one span or a list of spans within 00:00-24:00"),
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
    InWords("month", "one month or span, or a list, of Jan to Dec"),
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
    InWords("date", "two days of the year"),
    BeforeValidator(_dates),
    WithJsonSchema({"type": "string", "examples": ["15 Nov to 1 Mar"]}),
]
