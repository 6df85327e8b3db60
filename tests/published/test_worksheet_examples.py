"""Whole worked examples through the worksheet that `size` prints."""

from __future__ import annotations

import math

import pytest
from reference import together

from powerbudget.battery.capacity import ieee_485_factor
from powerbudget.sizing.worksheet.duty_cycle import (
    duty_cycle_ah,
    rating_factor,
)
from powerbudget.sizing.worksheet.figures import (
    ArrayFigures,
    BatteryFigures,
    SheetLoad,
    loads_from,
)
from powerbudget.sizing.worksheet.lines import worksheet_from


def _values(lines):
    return {line.symbol: line.value for line in lines}


# IEEE Std 1013 worksheet, medical refrigerator and freezer, K. Webb, Oregon State
# University, ESE 471 section 6, slides 34-54.  Symbol, printed figure, half of its last
# digit.
REFRIGERATOR = [
    ("D", 6, 0), ("Ip", 15.1, 0.05), ("Ir", 6.1, 0.05), ("Ix", 15.1, 0.05),
    ("Q", 51.4, 0.05), ("Vx", 15, 0), ("Vn", 10.5, 0), ("C1", 308, 0.5),
    ("C2", 386, 0.5), ("C3", 257, 0.5), ("C4", 386, 0.5), ("C5", 386, 0.5),
    ("kT", 1.00, 0.005), ("CT", 386, 0.5), ("m", 1.1, 0.05), ("C6", 424, 0.5),
    ("tf", 70, 0.55), ("Vd", 10.8, 0.05), ("Vc", 14.7, 0.05), ("Ns", 6, 0),
    ("Ve", 1.80, 0.005), ("Nc", 6, 0), ("Cu", 110, 0.5), ("Np", 4, 0), ("Ci", 440, 0.5),
]  # fmt: skip


@pytest.fixture(scope="module")
def refrigerator():
    """Return the worksheet of the medical refrigerator."""
    loads = loads_from(
        12.0,
        SheetLoad("compressor, chill", 3.0, draw_a=6.0, group="compressor"),
        SheetLoad("compressor, ice making", 5.0, draw_a=6.0, group="compressor"),
        SheetLoad(
            "compressor start",
            4 / 60,
            draw_a=15.0,
            kind="momentary",
            group="compressor",
        ),
        SheetLoad("controls", 24.0, draw_a=0.1, kind="parasitic"),
    )
    battery = BatteryFigures(
        days=6, unit_ah=110, hour_rate_h=70, deepest_frac=0.80, daily_frac=0.20,
        end_of_life_frac=0.80, degc=25.0, margin_frac=0.10, window_v=(10.5, 15.0),
        disconnect_v=10.8, full_charge_v=14.7, cell_full_v=2.45, cell_end_v=1.80,
    )  # fmt: skip
    return worksheet_from(loads, battery)


@pytest.mark.parametrize(("symbol", "printed", "tolerance"), REFRIGERATOR)
def test_refrigerator_line_is_as_printed(refrigerator, symbol, printed, tolerance):
    """Every line of the worked worksheet comes out to the printed digits."""
    found = _values(refrigerator)[symbol]
    assert found == pytest.approx(printed, abs=tolerance + 1e-9)


def test_refrigerator_loads_stand_line_by_line(refrigerator):
    """Each load's ampere-hours are as printed: 18, 30, 1 and 2.4 Ah a day."""
    value = _values(refrigerator)
    assert [value[f"Q{k}"] for k in (1, 2, 3, 4)] == pytest.approx([18, 30, 1, 2.4])


def test_every_line_can_be_ticked(refrigerator):
    """Each line has number, symbol, words, unit, formula and source; numbers run on."""
    assert [line.line for line in refrigerator] == list(range(1, len(refrigerator) + 1))
    for line in refrigerator:
        assert all((line.symbol, line.quantity, line.unit, line.formula, line.source))
        assert math.isfinite(line.value)


# K. Webb, ESE 471 section 6, slides 34-54: lead-acid, 100 Ah needed at 80 % end of life
# and at 60 % depth; the largest rule wins.
@pytest.mark.parametrize(
    ("deepest", "end_of_life", "printed"), [(1.0, 0.8, 125), (0.6, 1.0, 167)]
)
def test_ageing_and_depth_alone(deepest, end_of_life, printed):
    """100 Ah become 125 Ah by ageing, 167 Ah at 60 % depth."""
    loads = loads_from(12.0, SheetLoad("load", 24.0, draw_a=100 / 24))
    battery = BatteryFigures(
        days=1, unit_ah=50, deepest_frac=deepest, daily_frac=None,
        end_of_life_frac=end_of_life,
    )  # fmt: skip
    value = _values(worksheet_from(loads, battery))
    assert value["C6"] == pytest.approx(printed, abs=0.5)


# IEEE Std 485 duty-cycle worksheet, K. Webb, ESE 471 section 6, slides 7-33: minutes and
# amperes of the cell to 1.80 V, 104 Ah at 8 h.
CELL = [
    (1440, 5.1), (720, 9.3), (600, 11), (480, 13), (420, 14), (360, 16), (300, 18),
    (240, 22), (180, 27), (120, 37), (60, 58), (30, 94), (15, 133), (1, 189),
]  # fmt: skip
CYCLE = [(5, 15), (35, 10), (15, 75), (45, 10), (5, 10)]


def _factor(minutes):
    return rating_factor(minutes, 104, CELL)


@pytest.fixture(scope="module")
def duty_cycle():
    """Return the duty cycle with the corrections of the example."""
    return duty_cycle_ah(
        CYCLE, _factor, temperature_factor=1.19, margin_frac=0.15, end_of_life_frac=0.8
    )


def test_rating_factors_are_as_printed():
    """0.782, 1.79 and 2.81 h for 15 minutes, one and two hours."""
    found = [_factor(minutes) for minutes in (15, 60, 120)]
    assert found == pytest.approx([0.782, 1.79, 2.81], abs=0.005)


@pytest.mark.parametrize(
    ("number", "printed"), [(1, 3.9), (2, 25.96), (3, 37.91), (4, 61.445)]
)
def test_sections_are_as_printed(duty_cycle, number, printed):
    """Sections 1 to 4 of the duty cycle, in Ah."""
    # Products were rounded before they were added: 0.03 Ah.
    assert duty_cycle.sections[number - 1].size_ah == pytest.approx(printed, abs=0.035)


def test_duty_cycle_corrected_size_is_as_printed(duty_cycle):
    """61.445 Ah x 1.19 x 1.15 / 0.8 = 105.11 Ah, section 4 deciding."""
    assert duty_cycle.uncorrected_ah == max(s.size_ah for s in duty_cycle.sections)
    assert duty_cycle.uncorrected_ah == duty_cycle.sections[3].size_ah
    assert duty_cycle.corrected_ah == pytest.approx(105.11, abs=0.05)


def test_two_hours_at_a_hundred_amperes_take_three_batteries():
    """100 A for 2 h ask 281 Ah, so three of 104 Ah, where 200 Ah would say two."""
    found = duty_cycle_ah([(100, 120)], _factor)
    assert found.corrected_ah == pytest.approx(281, abs=0.6)
    assert math.ceil(found.corrected_ah / 104) == 3


# IEEE Std 1115 worksheet, four-page example in a public repository: 155 A for 1 s, 5 A to
# 480 min, 90 A for the last second; factors 0.12 h for 1 s and 8 h for 8 h.
def test_nickel_cadmium_duty_cycle():
    """Sections 18.6 and 50.2 Ah, 57.73 Ah with an ageing factor of 1.15."""
    second = 1 / 60

    def factor(minutes):
        return 0.12 if minutes < 1 else 8.0

    cycle = [(155, second), (5, 480 - 2 * second), (90, second)]
    found = duty_cycle_ah(cycle, factor, end_of_life_frac=1 / 1.15)
    assert found.sections[0].size_ah == pytest.approx(18.6)
    assert found.sections[2].size_ah == pytest.approx(50.2)
    assert found.corrected_ah == pytest.approx(57.73, abs=0.005)


# IEEE Std 485 table 1, as printed in public test-room code, checked at five points with
# K. Webb, ESE 471 section 6, slide 12.  Rows below 40 degF are unverified: not here.
TABLE_1 = """
40 1.300 45 1.250 50 1.190 55 1.150 60 1.110 65 1.080 66 1.072 67 1.064 68 1.056
69 1.048 70 1.040 71 1.034 72 1.029 73 1.023 74 1.017 75 1.011 76 1.006 77 1.000
78 0.994 79 0.987 80 0.980 81 0.976 82 0.972 83 0.968 84 0.964 85 0.960 86 0.956
87 0.952 88 0.948 89 0.944 90 0.940 95 0.930 100 0.910 105 0.890 110 0.880 115 0.870
120 0.860
"""
ROWS = TABLE_1.split()


@together.parametrize(
    ("degf", "printed"), list(zip(ROWS[::2], ROWS[1::2], strict=True))
)
def test_temperature_factor_row(degf, printed):
    """Every printed row of the table, and no credit for it on the worksheet above 25."""
    degc = (float(degf) - 32) / 1.8
    assert ieee_485_factor(degc) == pytest.approx(float(printed), abs=0.0005)
    loads = loads_from(12.0, SheetLoad("load", 24.0, draw_a=1.0))
    value = _values(worksheet_from(loads, BatteryFigures(5, 100, degc=degc)))
    assert value["kT"] == pytest.approx(max(float(printed), 1.0), abs=0.0005)


# O. Perpinan, Energia Solar Fotovoltaica, 2020, stand-alone systems, exercise 1: a
# community centre at 14 degrees south, 24 V.  The book's own 2534.7 Wh needs 0.95 where
# it states 0.98 for the cables; both come out here.
CENTRE = (
    SheetLoad("lamps", 4.0, draw_w=15.0, quantity=5, efficiency_frac=0.95),
    SheetLoad("radio", 2.0, draw_w=50.0, efficiency_frac=0.95),
    SheetLoad("refrigerator", 24.0, draw_w=300 / 24, efficiency_frac=0.95),
    SheetLoad("fans", 4.0, draw_w=50.0, quantity=2, efficiency_frac=0.95),
    SheetLoad("computer", 4.0, draw_w=200.0, efficiency_frac=0.90),
)


@pytest.mark.parametrize(
    ("cables", "q", "amps", "c_u", "c_b"),
    [(0.95, 105.6, 23.2, 528.1, 880.1), (0.98, 102.38, 22.52, 511.90, 853.17)],
)
def test_community_centre(cables, q, amps, c_u, c_b):
    """Daily load, array current, battery and pieces of a community centre."""
    loads = loads_from(24.0, *CENTRE, efficiencies=(0.85, cables))
    battery = BatteryFigures(
        days=5, unit_ah=300, unit_v=12, deepest_frac=0.6, daily_frac=None,
        end_of_life_frac=1.0,
    )  # fmt: skip
    array = ArrayFigures(
        sun_kwh_m2_day={25.0: (5.0,)}, module_a=2.0, module_w=24.0, module_v=12.0,
        charge_v=24.0, ratio=1.1,
    )  # fmt: skip
    value = _values(worksheet_from(loads, battery, array))
    assert sum(value[f"Q{k}"] for k in range(1, 6)) * 24 == pytest.approx(
        2046.8, abs=0.05
    )
    assert value["Q"] == pytest.approx(q, abs=0.05)
    assert value["I"] == pytest.approx(amps, abs=0.05)
    assert value["C1"] == pytest.approx(c_u, abs=0.05)
    assert value["C6"] == pytest.approx(c_b, abs=0.06)
    assert (value["Ms"], value["Na"], value["Nm"]) == (2, 12, 24)
    assert (value["Np"], value["Nu"]) == (3, 6)


# The same, exercise 2: three systems of a tender at 15 degrees south, tilt 15.
ALTIPLANO = (
    4.92, 4.69, 4.77, 4.96, 4.65, 4.83, 5.31, 5.26, 5.25, 5.31, 5.29, 5.06,
)  # fmt: skip
HOME = (
    SheetLoad("lamps", 6.0, draw_w=15.0, quantity=2),
    SheetLoad("other", 1.0, draw_w=50.0),
)
COMMUNITY = (
    SheetLoad("lamps", 4.0, draw_w=15.0, quantity=5),
    SheetLoad("radio", 2.0, draw_w=50.0),
    SheetLoad("other", 2.0, draw_w=300.0),
)
HEALTH = (
    SheetLoad("lamps", 6.0, draw_w=15.0, quantity=6),
    SheetLoad("refrigerator", 24.0, draw_w=300 / 24),
)


@pytest.mark.parametrize(
    ("volts", "days", "loads", "q", "amps", "c_u", "c_b"),
    [
        # Amperes of the second and third from the printed inputs; printed 12.5 and 10.5.
        (12, 3, HOME, 24.22, 5.73, 72.7, 103.8),
        (24, 5, COMMUNITY, 52.65, 12.455, 263.3, 376.1),
        (24, 5, HEALTH, 44.23, 10.463, 221.1, 315.9),
    ],
)
def test_altiplano_systems(volts, days, loads, q, amps, c_u, c_b):
    """Worst month, Ah a day, array current and battery of three systems."""
    figures = loads_from(float(volts), *loads, efficiencies=(0.95, 0.85, 0.98))
    battery = BatteryFigures(
        days=days, unit_ah=270, deepest_frac=0.7, daily_frac=None, end_of_life_frac=1.0
    )
    array = ArrayFigures(
        sun_kwh_m2_day={15.0: ALTIPLANO}, module_a=3.75, module_w=60, module_v=12,
        charge_v=volts, ratio=1.1,
    )  # fmt: skip
    lines = worksheet_from(figures, battery, array)
    value = _values(lines)
    assert value["G"] == 4.65
    assert any("May" in line.quantity for line in lines if line.symbol == "G")
    assert value["Q"] == pytest.approx(q, abs=0.006)
    assert value["I"] == pytest.approx(amps, abs=0.005)
    assert value["C1"] == pytest.approx(c_u, abs=0.1)
    assert value["C6"] == pytest.approx(c_b, abs=0.1)
    # The book's C100 is 1.35 times its C10: 76.9, 278.6 and 234.0 Ah.
    assert value["C6"] / 1.35 == pytest.approx(c_b / 1.35, abs=0.1)
    assert value["Ms"] == volts / 12


# U.S. EPA, analysis of the 2022 supplemental proposal on oil and gas, R code of the
# public repository: 24 V, amps x 24 x 24 / 0.85 / 4 x 1.5 W and amps x 24 x 10 / 0.8 x
# 1.35 Ah; the labels (sun hours, days, depth, margins) are our reading.
def test_well_site_of_an_environmental_agency():
    """Per ampere of load 254.1 W of array and 405 Ah of battery; 10.59 W per watt."""
    loads = loads_from(24.0, SheetLoad("one ampere", 24.0, draw_a=1.0))
    battery = BatteryFigures(
        days=10, unit_ah=100, deepest_frac=0.8, end_of_life_frac=0.8, margin_frac=0.35
    )
    array = ArrayFigures(
        sun_kwh_m2_day={45.0: (4.0,)}, module_a=5.0, module_w=90.0, module_v=12.0,
        charge_v=24.0, ratio=1.5, charge_efficiency_frac=0.85,
    )  # fmt: skip
    value = _values(worksheet_from(loads, battery, array))
    assert value["Wn"] == pytest.approx(254.1, abs=0.05)
    assert value["Wn"] / 24.0 == pytest.approx(10.59, abs=0.005)
    assert value["C6"] == pytest.approx(405)
