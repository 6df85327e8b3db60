"""Circuit checks against outside figures: code tables, worked examples, wire tables."""

from __future__ import annotations

import pytest
from reference import together

from powerbudget.charging.cold_string import cold_factor
from powerbudget.checks.code_tables import (
    PV_FACTOR,
    ampacity_a,
    highest_fuse_a,
    next_fuse_a,
    photovoltaic_fuse_a,
    photovoltaic_max_a,
    temperature_share,
)
from powerbudget.checks.inputs import collect
from powerbudget.checks.registry import check
from powerbudget.loads.loop import burden_max_ohm, minimum_supply_v
from powerbudget.loads.wiring import drop_v, pair_ohm
from powerbudget.site.reader import read_site_text

# NEC Table 690.7(A), factors on the open-circuit voltage of crystalline and
# multicrystalline silicon: warm end, cold end of each band, factor.
TABLE_690_7 = [
    (24, 20, 1.02), (19, 15, 1.04), (14, 10, 1.06), (9, 5, 1.08), (4, 0, 1.10),
    (-1, -5, 1.12), (-6, -10, 1.14), (-11, -15, 1.16), (-16, -20, 1.18),
    (-21, -25, 1.20), (-26, -30, 1.21), (-31, -35, 1.23), (-36, -40, 1.25),
]  # fmt: skip


@together.parametrize(("warm", "cold", "factor"), TABLE_690_7)
def test_every_row_of_the_code_table_at_both_ends(warm, cold, factor):
    """Both ends of each band give its factor; half a degree colder the next."""
    assert cold_factor(warm) == factor
    assert cold_factor(cold) == factor
    colder = cold_factor(cold - 0.5)
    assert colder is None or colder > factor


def test_the_code_table_ends_at_minus_forty_and_at_25():
    """Below -40 degC there is no factor; from 25 degC none is needed."""
    assert cold_factor(-40.1) is None
    assert cold_factor(25.0) == 1.0


def test_the_table_is_as_steep_as_its_source_says():
    """From 20 degC down the factor stands for 0.36 to 0.42 percent a degree below 25."""
    for degc in range(-40, 21, 5):
        assert 0.0036 < (cold_factor(degc) - 1) / (25 - degc) < 0.0042


def test_pv_circuit_factor_and_its_worked_example():
    """The two factors make 1.5625, and 11 A of short-circuit current 17.2 A."""
    # NEC 690.8(A) and (B): 1.25 x 1.25, quoted as 156 %; worked example of a course
    # page on 690.8: I_sc 11 A needs 17.2 A (printed with the factor rounded to 1.56).
    assert PV_FACTOR == 1.5625
    assert photovoltaic_max_a(11.0, 1) == pytest.approx(13.75)
    assert photovoltaic_fuse_a(11.0, 1) == pytest.approx(17.2, abs=0.05)


# NEC 240.6(A): standard ratings to 400 A, and those it adds for fuses below 15 A; ISO
# 8820-3: ratings of blade fuses.
STANDARD_A = [15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110, 125, 150, 175,
              200, 225, 250, 300, 350, 400]  # fmt: skip
SMALL_STANDARD_A = [1, 3, 6, 10]
BLADE_A = [1, 2, 3, 5, 7.5, 10, 15, 20, 25, 30, 35, 40]


def test_standard_fuse_sizes_of_the_code():
    """Each standard size is its own next size, and the list has no gap."""
    sizes = sorted({*STANDARD_A, *SMALL_STANDARD_A, *BLADE_A})
    assert [next_fuse_a(a) for a in sizes] == sizes
    assert [next_fuse_a(a + 0.01) for a in sizes[:-1]] == sizes[1:]
    assert next_fuse_a(0.1) == sizes[0]


# NEC Table 310.16 (2023), copper, 30 degC: size, 60, 75, 90 degC insulation.
TABLE_310_16 = [
    ("14 AWG", 15, 20, 25), ("12 AWG", 20, 25, 30), ("10 AWG", 30, 35, 40),
    # 90 degC only; the cooler columns are the fuse that 240.4(D) allows.
    ("18 AWG", 7, 7, 14), ("16 AWG", 10, 10, 18),
    ("8 AWG", 40, 50, 55), ("6 AWG", 55, 65, 75), ("4 AWG", 70, 85, 95),
    ("3 AWG", 85, 100, 115), ("2 AWG", 95, 115, 130), ("1 AWG", 110, 130, 145),
    ("1/0 AWG", 125, 150, 170), ("2/0 AWG", 145, 175, 195),
]  # fmt: skip


@together.parametrize(("gauge", "cool", "middle", "hot"), TABLE_310_16)
def test_ampacity_rows_of_the_code(gauge, cool, middle, hot):
    """Each row and column of the table, and the least column where none is stated."""
    assert [ampacity_a(gauge, t, 30.0) for t in (60, 75, 90)] == [cool, middle, hot]
    assert ampacity_a(gauge, None, 30.0) == cool


def test_hot_air_takes_its_share_of_the_ampacity():
    """The equation gives the correction factors that the code prints."""
    # NEC Table 310.15(B)(1), ambient 30 degC, 75 degC column: 40 degC 0.88, 45 degC
    # 0.82, 50 degC 0.75, 60 degC 0.58 (unverified); 90 degC column: 50 degC 0.82.
    found = [round(temperature_share(75.0, t), 2) for t in (40, 45, 50, 60)]
    assert found == [0.88, 0.82, 0.75, 0.58]
    assert round(temperature_share(90.0, 50.0), 2) == 0.82


@pytest.mark.parametrize(
    ("gauge", "most"),
    [("18 AWG", 7), ("16 AWG", 10), ("14 AWG", 15), ("12 AWG", 20), ("10 AWG", 30)],
)
def test_small_conductors_have_a_highest_fuse_whatever_their_insulation(gauge, most):
    """A 90 degC insulation gives a small conductor no larger fuse."""
    # NEC 240.4(D)(1) to (7), copper.
    assert highest_fuse_a(gauge, 90.0, 30.0) == most


# Burden formula, pressure-transmitter reference manual, November 2012, Appendix A
# p. 110 (10.5 V, 43.5 ohm/V = 23 mA); temperature-transmitter manual rev. G, p. 37
# (11.9 V, 22 mA); flow-transmitter manual, Fig. 5-2, p. 35 (12 V, 23 mA).
BURDENS = [
    (24.0, 10.5, 0.023, 587), (24.0, 11.9, 0.022, 550), (24.0, 12.0, 0.023, 522),
    (11.5, 10.5, 0.023, 43), (13.6, 10.5, 0.023, 135),
]  # fmt: skip


@pytest.mark.parametrize(("supply", "least", "amps", "ohm"), BURDENS)
def test_burdens_of_three_manuals(supply, least, amps, ohm):
    """The highest loop resistance comes out to the printed ohm."""
    assert burden_max_ohm(supply, least, amps) == pytest.approx(ohm, abs=0.5)


def test_supply_for_250_ohm():
    """16.25 V feed 10.5 V behind 250 ohm at 23 mA, 17.5 V feed 12 V at 22 mA."""
    assert minimum_supply_v(10.5, 0.023, 250.0) == 16.25
    assert minimum_supply_v(12.0, 0.022, 250.0) == 17.5


# Voltage drop: 10 AWG, 50 ft one way, 2 A at 12 V: 0.248 V = 2.07 % at 75 degC and
# 0.204 V = 1.70 % at 20 degC; 16 AWG: 0.998 V = 8.3 % (NEC Chapter 9 Table 8 values).
DROPS = [
    ("10 AWG", 75.0, 0.248, 2.07),
    ("10 AWG", 20.0, 0.204, 1.70),
    ("16 AWG", 75.0, 0.998, 8.3),
]

SITE = """
[site]
name = "published"
latitude = 36.0
longitude = -80.0
time_zone = "UTC-5"
[weather]
record = "greensboro"
[bus]
nominal = "12 V"
low_voltage_disconnect = "{low}"
low_voltage_reconnect = "{high}"
[[load]]
name = "thing"
{load}
[array]
module = "module-36-cell-100w"
parallel = 2
tilt = "50 deg"
azimuth = "south"
[charge_controller]
kind = "mppt"
{regulator}
[battery]
chemistry = "agm"
unit = {{ nominal = "12 V", capacity = "200 Ah", hour_rate = "20 h" }}
{battery}
[criteria]
autonomy = "1 d"
autonomy_temperature = "0 degC"
"""


def site(load: str, low="11.6 V", high="13 V", regulator="", battery=""):
    """Return a design with one load."""
    return read_site_text(
        SITE.format(load=load, low=low, high=high, regulator=regulator, battery=battery)
    )


@pytest.mark.parametrize(("gauge", "degc", "volts", "percent"), DROPS)
def test_drop_of_two_amperes_over_fifty_feet(gauge, degc, volts, percent):
    """The formula and the check of a branch give the worked volts and percent."""
    from powerbudget.checks.branches import mean_drop

    assert drop_v(2.0, pair_ohm(gauge, 15.24, degc)) == pytest.approx(volts, abs=5e-4)
    wire = f'wire = {{ gauge = "{gauge}", length = "50 ft" }}'
    facts = collect(site(f'typical = "2 A"\nbehaviour = "current"\n{wire}'))
    vars(facts)["wire_hot_degc"] = degc
    (found,) = mean_drop(facts)
    assert found.value == pytest.approx(percent, abs=0.05)


# IEC 60228:2004, plain copper, class 1 and 2, highest ohm/km at 20 degC.
IEC_60228 = [
    ("0.5", 36.0), ("0.75", 24.5), ("1", 18.1), ("1.5", 12.1), ("2.5", 7.41),
    ("4", 4.61), ("6", 3.08), ("10", 1.83), ("16", 1.15), ("25", 0.727), ("35", 0.524),
]  # fmt: skip


# IEC 60364-5-52:2009, Table B.52.2, method B1, copper, PVC, two loaded, 30 degC in air;
# 1 mm2 stands in the national edition (BS 7671, Table 4D1A).
TABLE_B_52_2 = [
    ("1", 13.5), ("1.5", 17.5), ("2.5", 24), ("4", 32), ("6", 41), ("10", 57),
    ("16", 76), ("25", 101), ("35", 125),
]  # fmt: skip


@pytest.mark.parametrize(("size", "amps"), TABLE_B_52_2)
def test_rows_of_the_metric_ampacity_table(size, amps):
    """A metric conductor in air of 30 degC carries what the table of 70 degC says."""
    assert ampacity_a(f"{size} mm2", None, 30.0) == amps


@pytest.mark.parametrize(("size", "ohm_per_km"), IEC_60228)
def test_rows_of_the_metric_wire_table(size, ohm_per_km):
    """A pair of 500 m has the resistance of one kilometre of conductor."""
    assert pair_ohm(f"{size} mm2", 500.0, 20.0) == pytest.approx(ohm_per_km)
    assert ampacity_a(f"{size} mm2", None, 30.0) > 0


# EN 50272-2 / IEC 62485-2, Q = 0.05 n I_gas C 1e-3 and A = 28 Q: flow m3/h, opening cm2.
# Chemistry of the site, units, mode, and the published pair.
BANKS = [
    ("agm", "12 V", 100, "float", 0.030, 0.84), ("agm", "12 V", 100, "boost", 0.240, 6.7),
    ("flooded", "12 V", 500, "float", 0.75, 21.0),
    ("flooded", "12 V", 500, "boost", 3.0, 84.0),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "volts", "ah", "mode", "flow", "opening"), BANKS)
def test_ventilation_check_asks_for_the_published_openings(
    kind, volts, ah, mode, flow, opening
):
    """The check's limit is the published opening; half of the 24 V bank for 12 V."""
    text = SITE.format(
        load='typical = "6 W"', low="11.6 V", high="13 V", regulator="",
        battery=f'charge_mode = "{mode}"\nvent_opening = "1 cm2"',
    )  # fmt: skip
    text = text.replace('chemistry = "agm"', f'chemistry = "{kind}"')
    text = text.replace('capacity = "200 Ah"', f'capacity = "{ah} Ah"')
    (found,) = (
        c for c in check(read_site_text(text)).checks if c.name == "ventilation"
    )
    assert found.limit == pytest.approx(opening, rel=0.01)
    assert f"{flow:.2f} m³/h" in found.detail


# Ambient correction factors: NEC Table 310.15(B)(1)(1), base 30 degC; IEC 60364-5-52
# Table B.52.14, PVC in air.  Unverified.
HOT_AIR = [
    ("6 AWG", 60.0, 40.0, 55 * 0.82), ("6 AWG", 75.0, 40.0, 65 * 0.88),
    ("6 AWG", 90.0, 50.0, 75 * 0.82), ("6 mm2", None, 40.0, 41 * 0.87),
    ("6 mm2", None, 50.0, 41 * 0.71), ("25 mm2", None, 45.0, 101 * 0.79),
]  # fmt: skip


@pytest.mark.parametrize(("gauge", "insulation", "air", "amps"), HOT_AIR)
def test_a_conductor_in_hot_air_carries_its_share(gauge, insulation, air, amps):
    """The table's amperes times the printed factor, which has two digits."""
    assert ampacity_a(gauge, insulation, air) == pytest.approx(amps, rel=0.01)
