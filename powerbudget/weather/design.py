"""Design temperatures: what the coldest day of fifty years asks of battery and cards.

A weather year, typical or real, seldom holds it; published tables do.
"""

from __future__ import annotations

import math
import re
from pathlib import Path

from powerbudget.errors import DataError, Fault, Finding
from powerbudget.quantities import in_unit
from powerbudget.reading import TABLE_BYTES, read_bytes
from powerbudget.weather.record import DesignTemps, WeatherRecord

_EXTREMES = 8
"""Numbers from the end that hold extremes of 5, 10, 20 and 50 years [count]."""


def design_from_epw(head: list[str], name: str) -> DesignTemps | None:
    """Return the extreme temperatures in the head of an EPW file [degC].

    Parameters
    ----------
    head
        Its first lines [text].
    name
        The file, for the source [text].

    Returns
    -------
    DesignTemps or None
        None where the head has no design conditions [degC].

    Notes
    -----
    The block called Extremes has 16 numbers in one edition of the handbook and 15 in
    another, as one humid maximum comes and goes; it is read from its end: mean
    minimum and maximum, their deviations, then pairs for 5, 10, 20 and 50 years.
    """
    for line in head:
        if line.startswith("DESIGN CONDITIONS"):
            fields = [word.strip() for word in line.split(",")]
            return _from_fields(fields, name)
    return None


def _from_fields(fields: list[str], name: str) -> DesignTemps | None:
    lower = [word.lower() for word in fields]
    if "extremes" not in lower or "heating" not in lower:
        return None
    numbers = [_number(word) for word in fields[lower.index("extremes") + 1 :]]
    while numbers and math.isnan(numbers[-1]):
        numbers.pop()
    if len(numbers) < _EXTREMES + 4:
        return None
    heating = fields[lower.index("heating") + 1 :]
    pairs = numbers[-_EXTREMES:]
    mean_min, mean_max = numbers[-_EXTREMES - 4 : -_EXTREMES - 2]
    edition = fields[2] if len(fields) > 2 else ""
    return _ordered(
        DesignTemps(
            annual_minimum_degc=mean_min,
            minimum_50_years_degc=pairs[-2],
            # The first number after the word is the coldest month.
            heating_99_6_degc=_number(heating[1]) if len(heating) > 1 else math.nan,
            annual_maximum_degc=mean_max,
            source=f"design conditions in {name} ({edition})",
        )
    )


def _ordered(found: DesignTemps) -> DesignTemps | None:
    """Return extremes that are in order, or nothing rather than a wrong column."""
    cold, colder = found.annual_minimum_degc, found.minimum_50_years_degc
    good = -80.0 <= colder <= cold <= found.annual_maximum_degc <= 60.0
    return found if good else None


def _number(word: str) -> float:
    try:
        return float(word)
    except ValueError:
        return math.nan


# Comment lines of these files; the words for the extreme maximum and minimum stand the
# wrong way round in many of them, so the lower figure is the minimum whatever its name.
_HEATING = re.compile(r"Ann\s+Htg\s+99\.6%", re.IGNORECASE)
_MAX_DRY = re.compile(r"(-?\d+(?:\.\d+)?),\s*!-\s*Maximum Dry-Bulb Temperature")
_EXTREME_LINE = re.compile(r"!.*Extreme Annual Temperatures(.*)", re.IGNORECASE)


def design_from_ddy(text: str, name: str) -> DesignTemps:
    """Return the temperatures in a DDY file [degC].

    Parameters
    ----------
    text
        The whole file [text].
    name
        The file, for messages [text].

    Returns
    -------
    DesignTemps
        Heating design day, and the extremes where its comments give them [degC].

    Raises
    ------
    DataError
        When the file has no 99.6 % heating day.
    """
    blocks = re.split(r"(?=SizingPeriod:DesignDay)", text)
    heating = math.nan
    for block in blocks:
        match = _MAX_DRY.search(block)
        if _HEATING.search(block) and match:
            heating = float(match.group(1))
            break
    if math.isnan(heating):
        raise DataError(
            f"{name}: contains no 99.6 % heating design day; use a DDY or EPW file "
            "with design conditions, or enter annual_minimum and minimum_50_years"
        )
    low, high = _comment_extremes(text)
    return DesignTemps(
        annual_minimum_degc=low,
        heating_99_6_degc=heating,
        annual_maximum_degc=high,
        source=f"design days in {name}",
    )


def _comment_extremes(text: str) -> tuple[float, float]:
    line = _EXTREME_LINE.search(text)
    found = (
        [float(x) for x in re.findall(r"-?\d+(?:\.\d+)?", line.group(1))]
        if line
        else []
    )
    if len(found) < 2:
        return math.nan, math.nan
    return min(found), max(found)


def read_design(path: Path) -> DesignTemps:
    """Return the extreme temperatures in an EPW or DDY file [degC].

    Parameters
    ----------
    path
        The file [path].

    Returns
    -------
    DesignTemps
        What the file gives; NaN for the rest [degC].

    Raises
    ------
    InputError
        When there is no such file.
    DataError
        When it holds no design temperatures.
    """
    fault = Fault("weather.design.file", "", str(path), "an EPW or DDY file")
    content = read_bytes(path, TABLE_BYTES, fault)
    text = content.decode("utf-8-sig", errors="replace")
    if text.startswith("LOCATION,"):
        found = design_from_epw(text.split("\n", 8)[:8], path.name)
        if found is None:
            raise DataError(
                f"{path.name}: its DESIGN CONDITIONS line is empty or unreadable; use the "
                "DDY file, or enter annual_minimum and minimum_50_years"
            )
        return found
    return design_from_ddy(text, path.name)


def design_findings(record: WeatherRecord) -> tuple[Finding, ...]:
    """Return how the record's cold compares with the design temperatures [list].

    Parameters
    ----------
    record
        The weather, with design temperatures or without [record].

    Returns
    -------
    tuple of Finding
        A warning where the record is much milder than the place.
    """
    design, lowest = record.design, float(record.temp_air_degc.min())
    if design is None:
        return ()
    coldest = coldest_design_degc(design)
    if math.isnan(coldest):
        return ()
    text = (
        f"The lowest temperature in the weather file is {in_unit(lowest, '°C', 1)}; the site "
        f"design minimum is {in_unit(coldest, '°C', 1)} ({design.source})."
    )
    if lowest - coldest < 2.0:
        return (Finding("note", text),)
    return (
        Finding(
            "warning",
            f"{text} The weather file does not reach that temperature: set "
            "autonomy_temperature to it, and select battery and electronics for it.",
        ),
    )


def coldest_design_degc(design: DesignTemps) -> float:
    """Return the coldest figure that is known, of fifty years first [degC]."""
    for value in (
        design.minimum_50_years_degc,
        design.annual_minimum_degc,
        design.heating_99_6_degc,
    ):
        if not math.isnan(value):
            return value
    return math.nan
