"""Quantities with units: ``"12 mA"``, ``"-40 degF"``, ``"300 ft"`` to SI floats.

A units library does the arithmetic; this module fixes which units the trade
writes, so that a wrong one can be answered with the list of right ones.  Inside
the package every number is a float in the unit that its name ends in.
"""

from __future__ import annotations

import math
import re
from functools import cache
from typing import Any

_DEFINITIONS = (
    "micro- = 1e-6 = u- = µ-",
    "milli- = 1e-3 = m-",
    "centi- = 1e-2 = c-",
    "kilo- = 1e3 = k-",
    "mega- = 1e6 = M-",
    "meter = [length] = m",
    "second = [time] = s",
    "ampere = [current] = A",
    "kilogram = [mass] = kg",
    "kelvin = [temperature]; offset: 0 = K",
    "degree_Celsius = kelvin; offset: 273.15 = degC",
    "degree_Fahrenheit = 5 / 9 * kelvin; offset: 233.15 + 200 / 9 = degF",
    "delta_kelvin = kelvin",
    "bit = [information]",
    "byte = 8 * bit = B",
    "radian = []",
    "degree = 3.141592653589793 / 180 * radian = deg",
    "percent = 0.01",
    "minute = 60 * second = min",
    "hour = 3600 * second = h",
    "day = 24 * hour = d",
    "week = 7 * day",
    "year = 365.25 * day",
    "joule = kilogram * meter ** 2 / second ** 2 = J",
    "watt = joule / second = W",
    "volt = watt / ampere = V",
    "ohm = volt / ampere = Ω",
    "ampere_hour = ampere * hour = Ah",
    "watt_hour = watt * hour = Wh",
    "foot = 0.3048 * meter = ft",
    "inch = 0.0254 * meter = in",
    "mile = 1609.344 * meter = mi",
    "pound = 0.45359237 * kilogram = lb",
    "gram = 1e-3 * kilogram = g",
    "liter = 1e-3 * meter ** 3 = L = l = litre",
    "gallon = 3.785411784 * liter = gal",
    "barrel = 42 * gallon = bbl",
    "pascal = kilogram / meter / second ** 2 = Pa",
    "bar = 1e5 * pascal",
    "psi = 6894.757293168 * pascal = psig",
)

KINDS: dict[str, tuple[str, str]] = {
    "W": ("a power", "'25 W', '250 mW' or '1.2 kW'"),
    "Wh": ("an energy", "'480 Wh' or '1.2 kWh'"),
    "Ah": ("a charge", "'100 Ah'"),
    "A": ("a current", "'12 mA' or '2.5 A'"),
    "V": ("a voltage", "'24 V'"),
    "V/K": ("a voltage per degree", "'-4 mV/degC'"),
    "W/K": ("a heat loss", "'1.5 W/degC'"),
    "1/K": ("a share per degree", "'-0.35 %/degC'"),
    "ohm": ("a resistance", "'250 ohm'"),
    "m": ("a length", "'300 ft' or '90 m'"),
    "m**2": ("an area", "'0.65 m2' or '40 cm2'"),
    "m**2/s": ("a diffusivity", "'0.5e-6 m2/s'"),
    "degC": ("a temperature", "'-40 degC' or '-40 degF'"),
    "h": ("a time", "'20 h', '30 min' or '10 d'"),
    "d": ("a number of days", "'7 d'"),
    "s": ("a short time", "'40 ms' or '2 s'"),
    "deg": ("an angle", "'60 deg'"),
    "bit/s": ("a bit rate", "'9600 bit/s'"),
    "kg": ("a mass", "'30 kg' or '66 lb'"),
    "kWh/m**2/d": ("an irradiation a day", "'3.2 kWh/m2/d' or '11.5 MJ/m2/d'"),
    "L": ("a volume", "'500 L', '120 gal' or '1.9 m3'"),
    "L/d": ("a fuel flow", "'5.7 L/d', '1.5 gal/d' or '4.4 m3/d'"),
    "kPa": ("a pressure", "'45 kPa' or '6.5 psi'"),
    "percent": ("a share", "'15 %' or a number from 0 to 1"),
}
"""SI target unit -> what it is in words, and how it may be written."""

_NUMBER = re.compile(r"^\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*$")
_UNIT = re.compile(
    r"^(?:1|[A-Za-zµΩ°%]+\d?(?:²|\^2|\*\*2)?)"
    r"(?:\s*[/*]\s*[A-Za-zµΩ°%]+\d?(?:²|\^2|\*\*2)?){0,2}$"
)
"""A unit, or one over another or two: nothing that would make the units library calculate."""
_DECIMAL_COMMA = re.compile(r"^\s*[+-]?\d+,\d+")


class QuantityError(ValueError):
    """A quantity cannot be read; the message says what would be accepted."""


@cache
def _registry() -> Any:
    import pint

    registry: Any = pint.UnitRegistry(None, autoconvert_offset_to_baseunit=True)
    for definition in _DEFINITIONS:
        registry.define(definition)
    return registry


def _spell(unit: str) -> str:
    """Turn what people write into what the units library reads."""
    unit = unit.replace("²", "**2").replace("^", "**")
    unit = unit.replace("°C", "degC").replace("°F", "degF")
    unit = re.sub(r"\b(m|cm|mm|ft|in)2\b", r"\1**2", unit).replace("%", "percent")
    unit = re.sub(r"\b(m|ft)3\b", r"\1**3", unit).replace("US gal", "gal")
    unit = re.sub(r"/\s*(?:degC|C)\b", "/ K", unit)
    unit = re.sub(r"/\s*(?:degF|F)\b", "/ (5 / 9 * K)", unit)
    unit = re.sub(r"\bbps\b", "bit/s", unit)
    return re.sub(r"\bdays\b", "day", re.sub(r"\bhours\b", "hour", unit))


@cache
def _unit(text: str) -> Any:
    return _registry().Quantity(1, _spell(text)).units


@cache
def _factor(text: str, target: str) -> tuple[float, Any, Any]:
    """Return (scale, source unit, target unit); the scale covers compound units."""
    registry = _registry()
    spelled = registry.parse_expression(_spell(text))
    if not hasattr(spelled, "units"):
        spelled = registry.Quantity(spelled, "")
    return float(spelled.magnitude), spelled.units, _unit(target)


def describe_unit(text: str) -> str:
    """Return in words what kind of quantity a unit measures.

    Examples
    --------
    >>> describe_unit("Wh")
    'an energy'
    """
    for target, (words, _) in KINDS.items():
        try:
            _, source, wanted = _factor(text, target)
        except Exception:  # noqa: BLE001, S112 - an unknown unit has no description
            continue
        if source.dimensionality == wanted.dimensionality:
            return words
    return "a quantity of another kind"


def parse(text: str, target: str) -> float:
    """Return a quantity written by a person as a float in the target unit.

    Parameters
    ----------
    text
        Number and unit, such as ``"12 mA"`` [text].
    target
        A key of `KINDS`, such as ``"A"`` [text].

    Returns
    -------
    float
        The value [the target unit].

    Raises
    ------
    QuantityError
        When the number or unit cannot be read, or measures something else.

    Examples
    --------
    >>> parse("12 mA", "A")
    0.012
    >>> round(parse("-40 degF", "degC"), 6)
    -40.0
    >>> round(parse("300 ft", "m"), 2)
    91.44
    """
    words, example = KINDS[target]
    needs = f"needs {words}, such as {example}"
    text = text.replace("−", "-")
    if _DECIMAL_COMMA.match(text):
        raise QuantityError(f"{needs}; use a point as the decimal mark, not a comma")
    match = _NUMBER.match(text)
    if not match:
        raise QuantityError(f"{needs}: a finite number, then the unit")
    number, unit = match.groups()
    if not unit:
        raise QuantityError(f"{needs}; the unit is missing")
    return _convert(float(number), unit, target, needs)


def _convert(value: float, unit: str, target: str, needs: str) -> float:
    if not _UNIT.match(unit):
        raise QuantityError(f"{needs}; the unit '{unit[:30]}' is not known")
    try:
        scale, source, wanted = _factor(unit, target)
    except Exception as exc:
        raise QuantityError(f"{needs}; the unit '{unit}' is not known") from exc
    if source.dimensionality != wanted.dimensionality:
        raise QuantityError(f"{needs}; '{unit}' is {describe_unit(unit)}")
    result = float(_registry().Quantity(value * scale, source).to(wanted).magnitude)
    if not math.isfinite(result):
        raise QuantityError(f"{needs}; the number is not finite")
    # Conversions through offsets leave dust in the last digits ("-40 degF").
    return float(f"{result:.12g}")


def parse_fraction(value: object) -> float:
    """Return a share as a number from 0 to 1 from ``"15 %"`` or ``0.15``.

    Examples
    --------
    >>> parse_fraction("15 %")
    0.15
    """
    words = "needs a share: '15 %', or a number from 0 to 1"
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise QuantityError(words)
    if isinstance(value, str):
        text = value.strip()
        number = _NUMBER.match(text)
        if not number or number.group(2) not in {"%", ""}:
            raise QuantityError(words)
        scale = 0.01 if number.group(2) else 1.0
        value = float(f"{float(number.group(1)) * scale:.12g}")
    if not math.isfinite(value):
        raise QuantityError(f"{words}; the number is not finite")
    return float(value)


def show(value: float, unit: str, digits: int = 3) -> str:
    """Return a value with its unit to a few significant figures, for people.

    Examples
    --------
    >>> show(0.2884, "W")
    '0.288 W'
    >>> show(12345.0, "Wh")
    '12,300 Wh'
    """
    if value == 0 or not math.isfinite(value):
        return f"{value:g} {unit}".strip()
    places = digits - 1 - math.floor(math.log10(abs(value)))
    rounded = round(value, places)
    # Rounding can carry into the next decade: 0.99999 is 1.00, not 1.000.
    places = digits - 1 - math.floor(math.log10(abs(rounded)))
    return f"{rounded:,.{max(places, 0)}f} {unit}".strip()
