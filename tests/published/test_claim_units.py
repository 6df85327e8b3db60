"""Units in which vendors state pressure, time, fuel and energy, against their definitions."""

from __future__ import annotations

import pytest
from pydantic import TypeAdapter
from reference import together

from powerbudget.review.claim_fields import Pressure, Sum, Years, read_use

# NIST SP 811 (2008), Appendix B.8: bar 1 E+05 Pa, psi 6.894757 E+03 Pa, millibar 1 E+02
# Pa, cubic foot 2.831685 E-02 m3, US gallon 3.785412 E-03 m3, pound 4.535924 E-01 kg.
PRESSURES = [
    ("48 kPa", 48.0), ("2 bar", 200.0), ("50 mbar", 5.0), ("10 psi", 68.94757),
    ("10 psig", 68.94757),
]  # fmt: skip
AMOUNTS = [
    ("m3", "m3", 1.0), ("sm3", "m3", 1.0), ("nm3", "m3", 1.0), ("scf", "m3", 0.02831685),
    ("ft3", "m3", 0.02831685), ("mscf", "m3", 28.31685), ("L", "L", 1.0), ("l", "L", 1.0),
    ("litre", "L", 1.0), ("liters", "L", 1.0), ("gal", "L", 3.785412), ("kg", "kg", 1.0),
    ("lb", "kg", 0.4535924),
]  # fmt: skip
# A year of 365.25 days, and a twelfth of it.
PERIODS = [
    ("h", 1.0), ("hour", 1.0), ("d", 24.0), ("day", 24.0), ("month", 365.25 * 24 / 12),
    ("year", 365.25 * 24), ("yr", 365.25 * 24), ("y", 365.25 * 24),
]  # fmt: skip
AGES = [
    ("10 years", 10.0),
    ("18 months", 1.5),
    ("1 month", 1 / 12),
    ("2 yr", 2.0),
    ("3 a", 3.0),
]
SUMS = [
    ("400 Wh/day", 400.0), ("12 kWh/month", 12_000 / (365.25 / 12)),
    ("146.1 kWh/year", 400.0), ("146.1 kWh per annum", 400.0),
]  # fmt: skip


@pytest.mark.parametrize(("text", "kpa"), PRESSURES)
def test_a_pressure_in_each_unit(text, kpa):
    """Gauge pressure in kPa."""
    assert TypeAdapter(Pressure).validate_python(text) == pytest.approx(kpa, rel=1e-6)


@together.parametrize(("unit", "kept", "size"), AMOUNTS)
def test_an_amount_of_fuel_in_each_unit(unit, kept, size):
    """Gas in m3, liquids in L, masses in kg."""
    use = read_use(f"3 {unit}/day")
    assert use.unit == kept
    assert use.amount == pytest.approx(3 * size, rel=1e-6)


@pytest.mark.parametrize(("word", "hours"), PERIODS)
def test_a_fuel_use_over_each_time(word, hours):
    """The hours of the period, and no energy."""
    use = read_use(f"3 L/{word}")
    assert (use.hours, use.kwh) == (hours, 0.0)


@pytest.mark.parametrize(("unit", "kwh"), [("Wh", 1e-3), ("kWh", 1.0), ("MWh", 1e3)])
def test_a_fuel_use_over_each_energy(unit, kwh):
    """The energy, and no time."""
    use = read_use(f"3 L/{unit}")
    assert (use.hours, use.kwh) == (0.0, kwh)


@pytest.mark.parametrize(("text", "years"), AGES)
def test_an_age_in_years_or_months(text, years):
    """Twelve months make a year."""
    assert TypeAdapter(Years).validate_python(text) == pytest.approx(years, rel=1e-12)


@pytest.mark.parametrize(("text", "wh_per_day"), SUMS)
def test_a_sum_of_a_month_or_a_year_becomes_one_of_a_day(text, wh_per_day):
    """By the days of a mean month and of a mean year."""
    unit, value = TypeAdapter(Sum).validate_python(text)
    assert unit == "Wh"
    assert value == pytest.approx(wh_per_day, rel=1e-12)
