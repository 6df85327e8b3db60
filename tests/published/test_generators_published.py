"""Generators and fuel against printed figures and a general property library.

Figures of manuals and agencies as gathered in the project's reference file on fuelled
sources; titles, pages and tables stand at each value.
"""

from __future__ import annotations

import numpy as np
import pytest
from reference import together

from powerbudget.generators.fuel_line import (
    BTU_PER_H_W,
    fuel_w,
    full_fuel_w,
    litres_per_day,
)
from powerbudget.generators.library import fuels, source_kinds
from powerbudget.generators.output import ambient_frac
from powerbudget.generators.propane import (
    GALLON_L,
    gauge_pressure_kpa,
    lowest_liquid_degc,
    tank_needed_l,
    vapour_pressure_kpa,
)
from powerbudget.generators.unit import make_unit
from powerbudget.site.generator import Generator

SCF_L = 28.316846592


def test_thermoelectric_output_follows_the_chart_of_its_class():
    """A 220 W set gives 252, 236, 220 and 204 W at -20, 0, 20 and 40 degC."""
    # Operating manual of the 220 W class, printed page 35: -0.8 W for each degC.
    table = Generator.model_validate(
        {"name": "x", "kind": "thermoelectric", "rated": "220 W", "fuel": "natural-gas",
         "power_limit": "300 W"}
    )  # fmt: skip
    degc = np.array([-20.0, 0.0, 20.0, 40.0])
    watts = make_unit(table, 0.0).terminal_w(degc)
    assert watts == pytest.approx([252, 236, 220, 204], abs=0.5)
    # No sheet that says so: no credit beyond 1.10 times the nameplate.
    plain = table.model_copy(update={"power_limit_w": None})
    assert make_unit(plain, 0.0).terminal_w(degc) == pytest.approx(
        [242, 236, 220, 204], abs=0.5
    )


@together.parametrize(
    ("degc", "kpa"),
    [
        (-45, 89.1), (-42.1, 101.4), (-40, 111.1), (-35, 137.2), (-30, 167.8),
        (-25, 203.4), (-20, 244.5), (-10, 345.3), (0, 474.5), (10, 636.6),
        (20, 836.5), (30, 1079.0), (40, 1369.4),
    ],
)  # fmt: skip
def test_propane_pressure_table(degc, kpa):
    """Vapour pressure equals the reference equation's table to its last digit."""
    # Reference equation of state of propane, a property library's values.
    assert float(vapour_pressure_kpa(degc)) == pytest.approx(kpa, abs=0.05)


@pytest.mark.slow
def test_propane_pressure_against_a_property_library():
    """The fitted form keeps within 0.01 % of the library from -60 to 60 degC.

    Its import alone takes seconds; the table above has thirteen of its values.
    """
    library = pytest.importorskip("CoolProp.CoolProp")
    degc = np.linspace(-60, 60, 121)
    real = [
        library.PropsSI("P", "T", t + 273.15, "Q", 0, "propane") / 1e3 for t in degc
    ]
    assert np.abs(vapour_pressure_kpa(degc) / real - 1).max() < 1e-4


def test_propane_pressure_against_a_second_library():
    """A library of correlations agrees within 1 % where it is valid."""
    library = pytest.importorskip("chemicals.vapor_pressure")
    for degc in (-40, -20, 0, 20, 40):
        got = library.Ambrose_Walton(degc + 273.15, 369.83, 4.248e6, 0.152) / 1e3
        assert float(vapour_pressure_kpa(degc)) == pytest.approx(got, rel=0.01)


@pytest.mark.parametrize(
    ("elevation", "limits"),
    [
        (0, (-37.2, -35.2, -32.9, -22.1, -20.4)),
        (1000, (-39.4, -37.3, -34.9, -23.5, -21.7)),
        (2000, (-41.6, -39.3, -36.8, -24.9, -23.0)),
    ],
)
def test_lowest_liquid_temperature_table(elevation, limits):
    """Burner pressures of 24 to 140 kPa end at the tabled liquid temperatures."""
    # Same equation of state, standard atmosphere, no regulator drop.
    for kpa, degc in zip((24, 35, 48, 125, 140), limits, strict=True):
        assert lowest_liquid_degc(kpa, elevation) == pytest.approx(degc, abs=0.06)


def test_trade_chart_of_propane_agrees_within_two_psi():
    """A trade chart in psig from -30 to 80 degF is within 2 psi of the formula."""
    # A retailer's chart; commercial mixtures differ from pure propane.
    chart = {-30: 6.8, -20: 11.5, -10: 17.5, 0: 24.5, 10: 34, 20: 42, 30: 53,
             40: 65, 60: 93, 70: 110}  # fmt: skip
    for degf, psi in chart.items():
        found = float(gauge_pressure_kpa((degf - 32) / 1.8, 0.0)) / 6.894757
        # 10 degF is printed as 34 and computes as 31.8: the chart rounds there.
        assert found == pytest.approx(psi, abs=2.3)


def test_engine_fuel_line_of_a_25_kw_set():
    """No load, half and full load of the manual lie on one straight line."""
    # Manual of a 25 kW set, page 21: 136,200, 252,200, 368,100 Btu/h of gas and
    # 262,500 of 387,000 Btu/h of propane at half load.
    full = 368_100 * BTU_PER_H_W
    none = 136_200 / 368_100
    half = fuel_w(12_500.0, 25_000.0, full, none) / BTU_PER_H_W
    assert half == pytest.approx(252_200, abs=100)
    assert 25_000 / full == pytest.approx(0.232, abs=0.0005)


def test_fuel_of_a_burner_by_efficiency_table():
    """Natural gas and propane a day at 3 % are those of the table for each class."""
    # P / eta x 86,400 s over 38.23 MJ/m3 (1,026 Btu/scf) and 25.36 MJ/L (0.091
    # mmBtu/gal), 40 CFR 98 Table C-1.
    table = {20: (1.51, 2.27), 54: (4.07, 6.13), 100: (7.53, 11.4), 220: (16.6, 25.0),
             550: (41.4, 62.5)}  # fmt: skip
    for watts, (gas_m3, propane_l) in table.items():
        heat = full_fuel_w(watts, 0.03)
        gas = litres_per_day(heat, fuels()["natural-gas"].heat_mj_per_l) / 1000
        assert gas == pytest.approx(gas_m3, rel=0.003)
        litres = litres_per_day(heat, fuels()["propane"].heat_mj_per_l)
        assert litres == pytest.approx(propane_l, rel=0.004)


def test_fuel_of_100_w_for_a_year():
    """100 W rated at 3.0 %: 97,110 scf of gas or 1,094.9 gal of propane in 8,760 h."""
    heat = full_fuel_w(100.0, 0.03)
    gas = 365 * litres_per_day(heat, fuels()["natural-gas"].heat_mj_per_l) / SCF_L
    assert gas == pytest.approx(97_110, rel=0.001)
    propane = 365 * litres_per_day(heat, fuels()["propane"].heat_mj_per_l) / GALLON_L
    assert propane == pytest.approx(1_094.9, abs=0.1)


def test_methanol_per_kilowatt_hour():
    """The default efficiency of a methanol cell is 0.9 L/kWh."""
    heat = full_fuel_w(
        1000.0, source_kinds()["methanol-cell"].figure("efficiency_frac").value
    )
    litres = litres_per_day(heat, fuels()["methanol"].heat_mj_per_l) / 24
    assert litres == pytest.approx(0.9, abs=0.005)


@pytest.mark.parametrize(
    ("ft3_h", "degf", "gallons"),
    [
        (50, -40, 600), (50, 0, 250), (50, 32, 115), (100, -40, 1500), (100, 20, 250),
        (150, -10, 1000), (200, -30, 2000), (200, 32, 400),
    ],
)  # fmt: skip
def test_tank_that_boils_off_enough(ft3_h, degf, gallons):
    """The tank table of an installation manual is met at its own points."""
    # Installation manual of a standby engine set, page 14.
    draw = ft3_h * 2500 * BTU_PER_H_W
    litres = tank_needed_l(draw, (degf - 32) / 1.8)
    assert litres / GALLON_L == pytest.approx(gallons, rel=1e-6)


def test_heating_values_against_heats_of_formation():
    """Propane and methanol heats agree with a chemistry library within 1 %."""
    library = pytest.importorskip("chemicals")
    from chemicals.combustion import combustion_data

    for cas, name, kg_per_l in (
        ("74-98-6", "propane", 0.5067),
        ("67-56-1", "methanol", 0.791),
    ):
        phase = "g" if name == "propane" else "l"
        heat = library.Hfg(cas) if phase == "g" else library.Hfl(cas)
        formula = {"propane": {"C": 3, "H": 8}, "methanol": {"C": 1, "H": 4, "O": 1}}
        burnt = combustion_data(formula=formula[name], Hf=heat)
        mj_per_kg = -burnt.HHV / burnt.MW / 1000
        # Drawn as vapour: the tank's air gives the heat of boiling.
        assert fuels()[name].heat_mj_per_l == pytest.approx(
            mj_per_kg * kg_per_l, rel=0.01
        )


def test_ambient_line_of_engines():
    """1 % is lost for each 5.6 degC above 25 degC, and nothing gained below."""
    # Manuals of 12 and 25 kW sets, page 21.
    kind = source_kinds()["engine"]
    keys = ("ambient_per_k", "rated_degc", "ambient_from_degc")
    line = [kind.figure(key).value for key in keys]
    # The slope is kept to two digits, 0.0018/K.
    assert line[0] == -round(0.01 / 5.6, 4)
    assert float(ambient_frac(25 + 1000 / 180, *line)) == pytest.approx(0.99, abs=5e-5)
    assert float(ambient_frac(-20.0, *line)) == 1.0
