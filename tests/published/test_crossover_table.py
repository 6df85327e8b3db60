"""Panels by the watt of load at seven suns, and fuel of a burner, in one table.

The table stands in a survey of published figures of fuelled sources and panels, section
6.3; its first row is the form of the U.S. EPA (analysis of the 2022 supplemental
proposal on oil and gas, R/cost-emissions.R) at other suns than the 4 h that the agency
takes everywhere, its text the heating values of 40 CFR 98 Table C-1 at 3 %.
"""

from __future__ import annotations

import pytest

from powerbudget.compare.machines import full_burn_l_d
from powerbudget.site.generator import Generator
from powerbudget.sizing.worksheet.figures import (
    ArrayFigures,
    BatteryFigures,
    SheetLoad,
    loads_from,
)
from powerbudget.sizing.worksheet.lines import worksheet_from

SUNS = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0)
# Watts of panel for a watt of load, row of section 6.3; the printed digit is 0.1 W.
WP_PER_W = (84.7, 42.4, 28.2, 21.2, 14.1, 10.6, 8.5)


@pytest.mark.parametrize(("sun", "watts"), list(zip(SUNS, WP_PER_W, strict=True)))
def test_panels_by_the_watt_of_load_at_each_sun(sun, watts):
    """The worksheet with 0.85 and 1.5 asks for the table's watts at every sun."""
    loads = loads_from(24.0, SheetLoad("one watt", 24.0, draw_a=1 / 24))
    battery = BatteryFigures(days=10, unit_ah=100, deepest_frac=0.8)
    array = ArrayFigures(
        sun_kwh_m2_day={45.0: (sun,)}, module_a=5.0, module_w=90.0, module_v=12.0,
        charge_v=24.0, ratio=1.5, charge_efficiency_frac=0.85,
    )  # fmt: skip
    lines = worksheet_from(loads, battery, array)
    asked = next(line.value for line in lines if line.symbol == "Wn")
    assert asked == pytest.approx(watts, abs=0.05)


# The text below the row: 100 W of rated output at 3 % burn 7.53 m3 of gas a day, or
# 11.4 L of propane: 1,095 US gal or 4,145 L a year of 365 days.
@pytest.mark.parametrize(
    ("fuel", "a_day", "a_year", "unit_l"),
    [
        ("natural-gas", pytest.approx(7.53, abs=0.005), None, 1000.0),
        ("propane", pytest.approx(11.4, abs=0.05), pytest.approx(4145, abs=1), 1.0),
        ("propane", pytest.approx(3.00, abs=0.005), pytest.approx(1095, abs=0.5),
         3.785411784),
    ],
)  # fmt: skip
def test_fuel_of_a_hundred_watts_at_three_percent(fuel, a_day, a_year, unit_l):
    """A burner's fuel is that of its rated watts."""
    table = {"name": "burner", "kind": "thermoelectric", "fuel": fuel,
             "rated": "100 W", "efficiency": "3 %"}  # fmt: skip
    burnt = full_burn_l_d(Generator.model_validate(table)) / unit_l
    assert burnt == a_day
    assert a_year is None or 365 * burnt == a_year
