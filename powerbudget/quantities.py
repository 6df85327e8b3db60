"""Quantities with units: ``"12 mA"``, ``"-40 degF"``, ``"300 ft"`` to SI floats.

These are the units that the trade writes, so that a wrong one can be answered with
the list of right ones.  Inside the package every number is a float in the unit that
its name ends in.
"""

from __future__ import annotations

import math
import re
from fractions import Fraction
from functools import cache
from typing import NamedTuple

_BASES = ("m", "s", "A", "kg", "K", "bit")
_PREFIXES = {
    "micro": 1e-6, "u": 1e-6, "µ": 1e-6, "milli": 1e-3, "m": 1e-3, "centi": 1e-2,
    "c": 1e-2, "kilo": 1e3, "k": 1e3, "mega": 1e6, "M": 1e6,
}  # fmt: skip
_DEFINITIONS = (
    "meter m = 1 m", "second s = 1 s", "ampere A = 1 A", "kilogram = 1 kg",
    "kelvin K = 1 K", "degC degree_Celsius = 1 K", "degF degree_Fahrenheit = 5/9 K",
    "bit = 1 bit", "byte B = 8 bit", "radian 1 = 1", "degree deg ° = 0.017453292519943295",
    "percent = 0.01", "minute min = 60 s", "hour h = 3600 s", "day d = 86400 s",
    "week = 604800 s", "year = 31557600 s", "joule J = 1 kg m m / s / s",
    "watt W = 1 kg m m / s / s / s", "volt V = 1 kg m m / s / s / s / A",
    "ohm Ω = 1 kg m m / s / s / s / A / A", "ampere_hour Ah = 3600 A s",
    "watt_hour Wh = 3600 kg m m / s / s", "foot feet ft = 0.3048 m", "inch inches in = 0.0254 m",
    "mile mi = 1609.344 m", "pound lb = 0.45359237 kg", "gram g = 0.001 kg",
    "liter litre L l = 0.001 m m m", "gallon gal = 0.003785411784 m m m",
    "barrel bbl = 0.158987294928 m m m", "pascal Pa = 1 kg / m / s / s",
    "bar = 100000 kg / m / s / s", "psi psig = 6894.757293168 kg / m / s / s",
)  # fmt: skip
"""Names = factor and base units (SI brochure; international yard and pound of 1959;
gallon and barrel of the United States)."""
_OFFSETS_K = {"degC": 273.15, "degF": 459.67 * 5 / 9}

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
"""A unit, or one over another or two."""
_DECIMAL_COMMA = re.compile(r"^\s*[+-]?\d+,\d+")


class QuantityError(ValueError):
    """A quantity cannot be read; the message says what would be accepted."""


class _Unit(NamedTuple):
    """Factor and offset to base units, and the power of each of them."""

    factor: float
    offset: float
    powers: tuple[int, ...]


@cache
def _known() -> dict[str, _Unit]:
    found = {}
    for line in _DEFINITIONS:
        names, _, meaning = line.partition(" = ")
        above, *below = meaning.split(" / ")
        number, *bases = above.split()
        factor = float(Fraction(number))
        powers = tuple(bases.count(base) - below.count(base) for base in _BASES)
        for name in names.split():
            found[name] = _Unit(factor, _OFFSETS_K.get(name, 0.0), powers)
    return found


def _named(name: str) -> _Unit:
    """Return a unit by its name, a prefix before it or the plural's sign behind it."""
    known = _known()
    for word in (name, name.removesuffix("s")):
        if word in known:
            return known[word]
        for prefix, factor in _PREFIXES.items():
            unit = known.get(word.removeprefix(prefix)) if word else None
            if word.startswith(prefix) and unit and not unit.offset:
                return _Unit(factor * unit.factor, 0.0, unit.powers)
    raise QuantityError(name)


def _unit(text: str) -> _Unit:
    """Return the unit that a product or quotient of names means."""
    factor, powers = 1.0, [0] * len(_BASES)
    pieces = re.split(r"\s*(?<![*])([*/])(?![*])\s*", text)
    for sign, piece in zip(["*", *pieces[1::2]], pieces[::2], strict=True):
        name, _, power = piece.partition("**")
        unit, times = _named(name), int(power or 1) * (1 if sign == "*" else -1)
        if unit.offset and len(pieces) == 1:
            return unit
        factor *= unit.factor**times
        powers = [a + times * b for a, b in zip(powers, unit.powers, strict=True)]
    return _Unit(factor, 0.0, tuple(powers))


def _spell(unit: str) -> str:
    """Turn what people write into names, ``**2`` and ``/``."""
    unit = unit.replace("²", "**2").replace("^", "**")
    unit = unit.replace("°C", "degC").replace("°F", "degF")
    unit = re.sub(r"\b(m|cm|mm|ft|in)2\b", r"\1**2", unit).replace("%", "percent")
    unit = re.sub(r"\b(m|ft)3\b", r"\1**3", unit).replace("US gal", "gal")
    unit = re.sub(r"/\s*(deg)?C\b", "/ K", unit)
    unit = re.sub(r"/\s*F\b", "/ degF", unit)
    unit = re.sub(r"\bbps\b", "bit/s", unit)
    return re.sub(r"\bdays\b", "day", re.sub(r"\bhours\b", "hour", unit))


@cache
def _pair(text: str, target: str) -> tuple[_Unit, _Unit]:
    """Return the unit that was written and the one that is kept."""
    return _unit(_spell(text)), _unit(_spell(target))


def describe_unit(text: str) -> str:
    """Return in words what kind of quantity a unit measures.

    Examples
    --------
    >>> describe_unit("Wh")
    'an energy'
    """
    for target, (words, _) in KINDS.items():
        try:
            source, wanted = _pair(text, target)
        except ValueError:
            continue
        if source.powers == wanted.powers:
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
        source, wanted = _pair(unit, target)
    except ValueError:
        raise QuantityError(f"{needs}; the unit '{unit}' is not known") from None
    if source.powers != wanted.powers:
        raise QuantityError(f"{needs}; '{unit}' is {describe_unit(unit)}")
    result = value
    if source != wanted:
        base = value * source.factor + source.offset
        result = (base - wanted.offset) / wanted.factor
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


def plain(value: float, digits: int = 3, unit: str = "") -> str:
    """Return a value to so many figures, without needless zeros or powers of ten [text].

    Examples
    --------
    >>> plain(9234.0), plain(0.4), plain(0.00012345, 3, "W"), plain(-0.0)
    ('9,230', '0.4', '0.000123 W', '0')
    """
    text = f"{float(f'{value:.{digits}g}') + 0.0:,.12f}"
    return f"{text.rstrip('0').rstrip('.')} {unit}".strip()


def in_unit(value: float, unit: str, places: int = 0, *, sign: bool = False) -> str:
    """Return a value with its unit, to so many decimals [text].

    Parameters
    ----------
    value, unit
        The value, and the unit as it is printed.
    places
        Decimals [count].
    sign
        Whether a positive value has its sign too.

    Examples
    --------
    >>> in_unit(1234.4, "h"), in_unit(-0.04, "K", 1), in_unit(12.345, "V", 2)
    ('1,234 h', '0.0 K', '12.35 V')
    >>> in_unit(60.2, "°"), in_unit(3.0, "%", sign=True)
    ('60°', '+3 %')
    """
    text = f"{value:{'+' * sign}z,.{places}f}"
    return f"{text}°" if unit == "°" else f"{text} {unit}"


IN_PRINT = {
    "degC": "°C", "ohm": "Ω", "mohm": "mΩ", "m2": "m²", "m3": "m³", "cm2": "cm²",
    "m3/h": "m³/h", "kWh/m2/day": "kWh/m²/day", "kWh/m2/d": "kWh/m²/day",
    "W/m2": "W/m²", "USD/m3": "USD/m³", "1/degC": "1/K", "h a year": "h/yr",
}  # fmt: skip
"""Units as they are printed; files and answers keep the plain letters."""


def in_print(unit: str) -> str:
    """Return a unit as it is printed [text].

    Examples
    --------
    >>> in_print("degC"), in_print("W")
    ('°C', 'W')
    """
    return IN_PRINT.get(unit, unit)


def show(value: float, unit: str, digits: int = 3) -> str:
    """Return a value with its unit to a few significant figures, for people.

    Examples
    --------
    >>> show(0.2884, "W")
    '0.288 W'
    >>> show(12345.0, "Wh")
    '12,300 Wh'
    """
    unit = in_print(unit)
    if value == 0 or not math.isfinite(value):
        return f"{value:g} {unit}".strip()
    places = digits - 1 - math.floor(math.log10(abs(value)))
    rounded = round(value, places)
    # Rounding can carry into the next decade: 0.99999 is 1.00, not 1.000.
    places = digits - 1 - math.floor(math.log10(abs(rounded)))
    return f"{rounded:,.{max(places, 0)}f} {unit}".strip()


_COARSEST_MONEY = 10.0
"""Step below which no sum of money is known; unit prices are no sums."""


def money(amount: float, currency: str = "", *, sign: bool = False) -> str:
    """Return a sum of money to three significant digits, never finer than 10 [text].

    Parameters
    ----------
    amount, currency
        The sum, and what it is in; empty where the head of a column says it.
    sign
        Whether a positive sum has its sign too.

    Examples
    --------
    >>> money(1941.2, "USD"), money(17.0), money(2.0), money(0.0)
    ('1,940 USD', '20', '< 10', '0')
    >>> money(1233.0, "USD", sign=True), money(-1804.0)
    ('+1,230 USD', '-1,800')
    """
    if not math.isfinite(amount):
        return "-"
    places = 2 - math.floor(math.log10(abs(amount))) if amount else 0
    rounded = round(amount, min(places, -1)) + 0.0
    if amount and not rounded:
        return f"{'-' * (amount < 0)}< {_COARSEST_MONEY:.0f} {currency}".strip()
    return f"{rounded:{'+' * sign},.0f} {currency}".strip()


def count(amount: float, noun: str) -> str:
    """Return a count with its noun [text].

    Parameters
    ----------
    amount
        A whole number, or years and days to three significant digits.
    noun
        For one.

    Examples
    --------
    >>> count(1, "module"), count(4, "battery unit"), count(12_000, "row")
    ('1 module', '4 battery units', '12,000 rows')
    >>> count(2.25, "year"), count(1.0, "day"), count(2, "battery"), count(2, "switch")
    ('2.25 years', '1 day', '2 batteries', '2 switches')
    """
    text = f"{amount:,.0f}" if amount == round(amount) else plain(amount)
    if text == "1":
        return f"{text} {noun}"
    if noun.endswith("y") and noun[-2] not in "aeiou":
        return f"{text} {noun[:-1]}ies"
    return f"{text} {noun}" + ("es" if noun.endswith(("s", "x", "ch", "sh")) else "s")
