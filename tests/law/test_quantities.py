"""Laws of quantities: what is shown can be read, and units convert linearly."""

from __future__ import annotations

import contextlib
import functools
import math

import pint
import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st
from reference import together

from powerbudget.quantities import (
    KINDS,
    QuantityError,
    describe_unit,
    parse,
    parse_fraction,
    show,
)

FINITE = st.floats(-1e9, 1e9, allow_nan=False)
PLAIN = st.floats(1e-6, 1e6)
# unit, kept unit, exact factor (SI prefixes; international yard and pound of 1959:
# 1 ft = 0.3048 m, 1 lb = 0.45359237 kg).
FACTORS = [
    ("mW", "W", 1e-3), ("kW", "W", 1e3), ("mA", "A", 1e-3), ("uA", "A", 1e-6),
    ("µA", "A", 1e-6), ("mV", "V", 1e-3), ("kWh", "Wh", 1e3), ("mAh", "Ah", 1e-3),
    ("ft", "m", 0.3048), ("in", "m", 0.0254), ("mi", "m", 1609.344), ("km", "m", 1e3),
    ("cm", "m", 1e-2), ("mm", "m", 1e-3), ("min", "h", 1 / 60), ("d", "h", 24.0),
    ("days", "h", 24.0), ("week", "d", 7.0), ("h", "d", 1 / 24), ("ms", "s", 1e-3),
    ("lb", "kg", 0.45359237), ("bps", "bit/s", 1.0), ("kbit/s", "bit/s", 1e3),
    ("mV/degC", "V/K", 1e-3), ("%/degC", "1/K", 1e-2), ("%/degF", "1/K", 1.8e-2),
    ("kohm", "ohm", 1e3), ("m2", "m**2", 1.0), ("ft**2", "m**2", 0.09290304),
    ("J", "Wh", 1 / 3600),
]  # fmt: skip


@functools.cache
def _library():
    """Return a library of units, told of those that it does not know by themselves."""
    registry = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    for line in ("ampere_hour = ampere * hour = Ah", "watt_hour = watt * hour = Wh",
                 "psig = psi", "Ω = ohm"):  # fmt: skip
        registry.define(line)
    return registry


ONE = [
    *("mW", "kW", "Wh", "kWh", "Ah", "mAh", "A", "mA", "mV", "V", "kohm", "Ω", "ft"),
    *("inch", "mi", "km", "L", "gal", "oil_bbl", "psi", "bar", "kPa", "Pa", "degC", "degF"),
    *("K", "h", "min", "ms", "day", "week", "year", "lb", "g", "kg"),
    *("deg", "J", "MJ", "percent"),
]  # fmt: skip


@together.parametrize("kept", KINDS)
@together.parametrize("unit", [*ONE, "MJ/m**2/day", "gal/day", "mV/K", "mm**2/s"])
def test_units_are_those_of_a_library_of_units(unit, kept):
    """The same factor, offset and kind as an independent library has."""
    there, ours = _library(), unit.replace("oil_bbl", "bbl")
    source = there.Quantity(37.5, there.Unit(unit))
    if source.is_compatible_with(kept.replace("L", "liter")):
        wanted = source.to(kept.replace("L", "liter")).magnitude
        assert parse(f"37.5 {ours}", kept) == pytest.approx(wanted, rel=1e-9, abs=1e-9)
    else:
        with pytest.raises(QuantityError):
            parse(f"37.5 {ours}", kept)


@given(FINITE, st.sampled_from(FACTORS))
def test_conversion_is_multiplication_by_a_fixed_factor(value, factor):
    """A unit is a factor: no offset, no dependence on size or sign."""
    unit, kept, scale = factor
    read = parse(f"{value!r} {unit}", kept)
    assert read == pytest.approx(value * scale, rel=1e-11, abs=1e-300)


@given(PLAIN, PLAIN, st.sampled_from(FACTORS))
def test_sums_of_mixed_units_do_not_depend_on_the_unit(a, b, factor):
    """Adding after conversion equals converting after adding."""
    unit, kept, scale = factor
    mixed = parse(f"{a!r} {unit}", kept) + parse(f"{b!r} {kept}", kept)
    assert mixed == pytest.approx(parse(f"{a + b / scale!r} {unit}", kept), rel=1e-10)


@given(value=FINITE)
def test_the_kept_unit_is_read_as_it_stands(value):
    """A number in the unit that is kept comes back, to twelve digits."""
    for kept in KINDS:
        found = parse(f"{value!r} {kept}", kept)
        assert found == pytest.approx(value, rel=1e-11, abs=0), kept


@given(st.floats(-1e12, 1e12, allow_nan=False), st.integers(2, 8))
def test_what_is_shown_reads_back_to_the_digits_shown(value, digits):
    """Showing loses at most half of the last digit, whatever the size."""
    assume(value == 0 or abs(value) > 1e-12)
    text = show(value, "W", digits).replace(",", "")
    assert parse(text, "W") == pytest.approx(value, rel=0.5000001 * 10 ** (1 - digits))


@given(st.floats(-1e12, 1e12, allow_nan=False))
@example(0.99999)
def test_showing_twice_changes_nothing(value):
    """What is shown is already rounded."""
    assume(value == 0 or abs(value) > 1e-12)
    text = show(value, "V")
    assert show(parse(text.replace(",", ""), "V"), "V") == text


@given(st.floats(-200, 2000))
def test_fahrenheit_and_celsius_follow_the_definition(degf):
    """C = (F - 32) / 1.8, also below zero."""
    celsius = parse(f"{degf!r} degF", "degC")
    assert celsius == pytest.approx((degf - 32) / 1.8, rel=1e-10, abs=1e-9)
    assert parse(f"{celsius!r} degC", "degC") == celsius


@pytest.mark.parametrize(
    ("text", "degc"),
    [("-40 degF", -40.0), ("32 degF", 0.0), ("212 °F", 100.0), ("273.15 K", 0.0)],
)
def test_fixed_points_of_the_temperature_scales(text, degc):
    """The points that everybody knows come out."""
    # A conversion through an offset leaves dust below a billionth of a degree.
    assert parse(text, "degC") == pytest.approx(degc, abs=1e-9)


@given(st.floats(0, 1))
def test_a_share_is_the_same_in_percent_and_as_a_number(share):
    """'15 %', '15%' and 0.15 are one value."""
    assert parse_fraction(f"{100 * share!r} %") == pytest.approx(share, abs=1e-12)
    assert parse_fraction(f"{100 * share!r}%") == pytest.approx(share, abs=1e-12)
    assert parse_fraction(share) == share


@given(st.sampled_from(["−", "-"]), PLAIN)
def test_the_typographic_minus_is_a_minus(sign, value):
    """Text pasted from a data sheet keeps its sign."""
    assert parse(f"{sign}{value!r} V", "V") == pytest.approx(-value, rel=1e-11)


@given(st.integers(0, 999), st.integers(0, 999), st.sampled_from(list(KINDS)))
def test_a_decimal_comma_is_never_guessed(whole, part, kept):
    """Field case H3: '12,5' is refused and the point is asked for."""
    with pytest.raises(QuantityError, match="use a point as the decimal mark"):
        parse(f"{whole},{part} {kept}", kept)


@together.parametrize("kept", KINDS)
@together.parametrize("number", ["nan", "inf", "-inf", "1e999", "", "one", "0x10"])
def test_only_finite_numbers_are_read(kept, number):
    """Field case H2: no quantity lets a number through that is not finite."""
    with pytest.raises(QuantityError):
        parse(f"{number} {kept}", kept)


@pytest.mark.parametrize("value", [True, None, [], "15 kg", "nan", math.nan, math.inf])
def test_only_finite_shares_are_read(value):
    """Booleans, lists, other units and numbers that are not finite are no shares."""
    with pytest.raises(QuantityError):
        parse_fraction(value)


@together.parametrize("kept", KINDS)
@together.parametrize("unit", KINDS)
def test_a_unit_of_another_kind_is_named(kept, unit):
    """The message says what was asked for and what kind the given unit measures."""
    same = {frozenset({"h", "d"}), frozenset({"h", "s"}), frozenset({"d", "s"})}
    bare = frozenset({"deg", "percent"})
    pair = frozenset({kept, unit})
    if len(pair) == 1 or pair in same or pair == bare:
        assert parse(f"1 {unit}", kept) > 0
        return
    with pytest.raises(QuantityError) as caught:
        parse(f"1 {unit}", kept)
    assert KINDS[kept][0] in str(caught.value)
    assert describe_unit(unit) in str(caught.value)


@together.parametrize("kept", KINDS)
def test_the_examples_in_messages_can_be_read(kept):
    """What a message offers as an example is accepted, bar shares as numbers."""
    examples = KINDS[kept][1].split("'")[1::2]
    assert examples
    for text in examples:
        assert math.isfinite(parse(text, kept))


def test_a_missing_or_unknown_unit_is_said():
    """A bare number and a made-up unit get different messages."""
    with pytest.raises(QuantityError, match="the unit is missing"):
        parse("12", "V")
    with pytest.raises(QuantityError, match="'furlong' is not known"):
        parse("12 furlong", "m")


@given(st.text(st.characters(exclude_characters="*^²"), max_size=20))
def test_no_text_makes_the_reader_fall_over(text):
    """Any text is read as a finite number or refused."""
    for kept in ("A", "degC", "V/K"):
        with contextlib.suppress(QuantityError):
            assert math.isfinite(parse(text, kept))
