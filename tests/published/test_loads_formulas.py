"""Load formulas against values printed elsewhere."""

from __future__ import annotations

import pytest
from reference import together

from powerbudget.loads import converter, loop, radio, wiring

FEET_50_M = 15.24


def half_digit(printed: str) -> float:
    """Return half of the last printed digit of a number."""
    decimals = len(printed.partition(".")[2])
    return 0.5 * 10.0**-decimals * (1 + 1e-9)


def matches(value: float, printed: str) -> bool:
    """Return whether a value rounds to the printed one."""
    return abs(value - float(printed)) <= half_digit(printed)


# --- converters ---


def test_slope_of_the_15_w_converter() -> None:
    """The sheet's two points give a slope of 1.154."""
    # Sheet of an isolated 15 W converter, p. 2: 1450 mA at 12 V for 15 W out,
    # 8 mA at 12 V without load.
    slope = converter.slope_from_point(15.0, 15.0 / (1.450 * 12), 0.008 * 12)
    assert matches(slope, "1.154")
    full_w = converter.input_w(15.0, no_load_w=0.096, slope=slope)
    assert full_w == pytest.approx(1.450 * 12, abs=1e-12)


@pytest.mark.parametrize(
    ("share", "printed"),
    [
        (0.01, "0.56"),
        (0.02, "0.68"),
        (0.05, "0.78"),
        (0.10, "0.82"),
        (0.20, "0.84"),
        (0.50, "0.86"),
        (1.00, "0.86"),
    ],
)
def test_part_load_of_the_15_w_converter(share: float, printed: str) -> None:
    """Efficiency falls to about a half at one hundredth of the rating."""
    # Same sheet; the row of efficiencies was worked out from it by hand.
    found = converter.efficiency_frac(15.0 * share, no_load_w=0.096, slope=1.154)
    assert matches(found, printed)


@pytest.mark.parametrize(
    ("output_w", "printed"),
    [(0.096, "0.28"), (0.288, "0.51"), (0.48, "0.61"), (1.2, "0.75"), (6, "0.86")],
)
def test_part_load_of_the_12_w_converter(output_w: float, printed: str) -> None:
    """One loop at 4, 12 or 20 mA on a 12 W converter, then larger loads."""
    # Sheet of an isolated 12 W converter: 20 mA at 12 V without load, 82-87 % full.
    found = converter.efficiency_frac(output_w, no_load_w=0.24, slope=1.129)
    assert matches(found, printed)


def test_slope_of_the_12_w_converter() -> None:
    """The upper printed efficiency gives the slope of 1.129."""
    # Sheet of an isolated 12 W converter: 87 % at 12 W, 20 mA at 12 V without load.
    assert matches(converter.slope_from_point(12.0, 0.87, 0.24), "1.129")


# --- loops ---


@pytest.mark.parametrize(
    ("minimum_v", "maximum_a", "printed"),
    [
        # Pressure-transmitter reference manual, Nov 2012, Appendix A p. 110.
        (10.5, 0.023, "587"),
        # Temperature-transmitter operation manual, rev. G, section 4.12 p. 37.
        (11.9, 0.022, "550"),
        # Flow-transmitter installation manual, Fig. 5-2 p. 35.
        (12.0, 0.023, "522"),
    ],
)
def test_burden_at_24_v(minimum_v: float, maximum_a: float, printed: str) -> None:
    """Highest loop resistance at 24 V of three transmitters."""
    assert matches(loop.burden_max_ohm(24.0, minimum_v, maximum_a), printed)


def test_burden_agrees_with_the_printed_slope() -> None:
    """The manual's 43.5 ohm for each volt above 10.5 V gives the same burden."""
    # Pressure-transmitter reference manual, Nov 2012, Appendix A p. 110; 43.5 is
    # printed to three figures, which is 0.1 %.
    for supply_v in (11.5, 13.6, 24.0, 42.4):
        printed = 43.5 * (supply_v - 10.5)
        found = loop.burden_max_ohm(supply_v, 10.5, 0.023)
        assert found == pytest.approx(printed, rel=1.2e-3)


def test_twelve_volt_battery_cannot_drive_250_ohm() -> None:
    """At 11.5 V a loop has 43 ohm to spare and at 13.6 V float 135 ohm."""
    # Same manual and formula, worked by hand at battery voltages.
    low_ohm = loop.burden_max_ohm(11.5, 10.5, 0.023)
    float_ohm = loop.burden_max_ohm(13.6, 10.5, 0.023)
    assert matches(low_ohm, "43")
    assert matches(float_ohm, "135")
    assert max(low_ohm, float_ohm) < loop.HART_LEAST_OHM


@pytest.mark.parametrize(
    ("minimum_v", "maximum_a", "printed"),
    [(10.5, 0.023, "16.25"), (12.0, 0.022, "17.5"), (12.0, 0.023, "17.75")],
)
def test_supply_needed_with_250_ohm(
    minimum_v: float, maximum_a: float, printed: str
) -> None:
    """Lowest supply for 250 ohm; the second is printed in the manual as 17.5 V."""
    # Flow-transmitter installation manual, Fig. 5-2 p. 35 (17.5 V with 250 ohm).
    assert matches(loop.minimum_supply_v(minimum_v, maximum_a, 250.0), printed)


@pytest.mark.parametrize(
    ("current_a", "supply_mw", "battery_mw", "wh_per_day"),
    [
        (0.0036, "86", "108", "2.6"),
        (0.004, "96", "120", "2.9"),
        (0.012, "288", "360", "8.6"),
        (0.020, "480", "600", "14.4"),
        (0.021, "504", "630", "15.1"),
        (0.0225, "540", "675", "16.2"),
    ],
)
def test_power_of_a_loop(
    current_a: float, supply_mw: str, battery_mw: str, wh_per_day: str
) -> None:
    """A loop at 24 V: at its supply, at the battery through 0.80, and in a day."""
    # The 0.80: controller manual, 2006 and 2014, Tables 3-6 to 3-21, 2.50 x mA x 12 V
    # for each channel fed at 24 V.
    found_w = loop.loop_supply_w(24.0, current_a)
    battery_w = converter.input_w(found_w, no_load_w=0.0, slope=1 / 0.80)
    assert battery_w == pytest.approx(2.50 * current_a * 12)
    assert matches(found_w * 1e3, supply_mw)
    assert matches(battery_w * 1e3, battery_mw)
    assert matches(battery_w * 24, wh_per_day)


def test_signal_limits() -> None:
    """Limits stand where NAMUR NE 43 puts them and in order."""
    # NAMUR NE 43: valid 3.8 to 20.5 mA, fault below 3.6 and above 21.0 mA.
    limits = (
        loop.FAULT_LOW_A, loop.SIGNAL_LOW_A, loop.LIVE_ZERO_A, loop.MEAN_A,
        loop.FULL_SCALE_A, loop.SIGNAL_HIGH_A, loop.FAULT_HIGH_A,
    )  # fmt: skip
    milliamps = [round(1e3 * limit_a, 6) for limit_a in limits]
    assert milliamps == [3.6, 3.8, 4.0, 12.0, 20.0, 20.5, 21.0]


# --- radio ---


def test_modbus_poll_step_by_step() -> None:
    """A read of 20 registers at 9600 bit/s: each step to the printed digits."""
    # MODBUS over serial line guide V1.02, 2006, pp. 12-13 (11 bits, 3.5 characters);
    # key-up of 10 units of 4 ms: licensed UHF modem manual, register list, Nov 2004.
    sizes = radio.modbus_rtu_bytes(20)
    assert (sizes.request, sizes.response) == (8, 45)
    assert matches(1e3 * radio.message_s(sizes.request, 11, 9600), "9.17")
    assert matches(1e3 * radio.gap_s(9600), "4.01")
    assert matches(1e3 * radio.message_s(sizes.response, 11, 9600), "51.56")
    keyed_s = radio.transmit_s(
        sizes.response,
        bits_per_character=11,
        bit_rate_bit_s=9600,
        key_up_s=0.040,
        tail_s=0.010,
    )
    assert matches(1e3 * keyed_s, "101.6")
    for retry_frac, printed in ((0.0, "0.169"), (0.05, "0.178"), (0.20, "0.203")):
        duty_frac = radio.transmit_duty_frac(60.0, keyed_s, retry_frac)
        assert matches(100 * duty_frac, printed)


def test_mean_current_of_a_polled_station() -> None:
    """Transmitting adds 3.4 % to a station that listens at 100 mA."""
    # Same example: 2.0 A transmit, 100 mA receive, 12 V, 5 % retries.
    duty_frac = radio.transmit_duty_frac(60.0, 0.0515625 + 0.050, 0.05)
    mean_ma = radio.mean_w(24.0, 1.2, 0.0, duty_frac) / 12 * 1e3
    assert matches(mean_ma, "103.4")
    assert matches(100 * duty_frac * 2000 / mean_ma, "3.4")


def test_one_second_in_a_minute() -> None:
    """One second of transmitting in a minute is a duty of 0.0167."""
    # Gas flow computer manual, rev. Feb 2001, section 1.7.
    assert matches(radio.transmit_duty_frac(60.0, 1.0), "0.0167")


@pytest.mark.parametrize(
    ("share", "printed_w"), [(0.98, "4.7"), (0.20, "2.1"), (0.0, "1.43")]
)
def test_spread_spectrum_radio_by_duty(share: float, printed_w: str) -> None:
    """Power of a 2.4 GHz radio against its transmit share."""
    # Spread-spectrum radio manual, Mar 2001, Table B.1: 1.43 W receiving and 4.7 W at
    # 98 %, from which 4.77 W while transmitting.
    transmit_w = 1.43 + (4.7 - 1.43) / 0.98
    assert matches(radio.mean_w(transmit_w, 1.43, 0.0, share), printed_w)


def test_modbus_gap_is_fixed_above_19200() -> None:
    """The gap is 3.5 characters up to 19200 bit/s and 1.750 ms above."""
    # MODBUS over serial line guide V1.02, 2006, p. 13.
    assert radio.gap_s(19_200) == pytest.approx(3.5 * 11 / 19_200)
    assert radio.gap_s(19_201) == 0.00175
    assert radio.gap_s(115_200) == 0.00175


def test_longest_modbus_read_fits_the_frame() -> None:
    """125 registers make 255 bytes, the most that stays within 256."""
    # MODBUS over serial line guide V1.02, 2006, p. 13: 256 bytes at most.
    longest = radio.modbus_rtu_bytes(125).response
    assert longest == 255
    assert longest + 2 > 256


@pytest.mark.parametrize(("octets", "frame"), [(250, 292), (15, 27), (60, 78), (0, 10)])
def test_dnp3_frame(octets: int, frame: int) -> None:
    """Frame lengths: the longest of 292, a class poll and a response."""
    # Practical Modern SCADA Protocols, pp. 97-98; the longest frame of 292 octets is
    # printed on a DNP3 frame sheet.
    assert radio.dnp3_frame_bytes(octets) == frame


def test_dnp3_response_time() -> None:
    """A response of 60 user octets lasts 81 ms at 9600 bit/s."""
    # Worked by hand from the same frame with 10 bits a character.
    assert matches(1e3 * radio.message_s(radio.dnp3_frame_bytes(60), 10, 9600), "81")


# --- wiring ---

# NEC Chapter 9 Table 8, uncoated copper, stranded, ohm/kft at 75 degC, turned into
# ohm/km at 75, 20 and -40 degC by hand with 3.28084 and the table's temperature note.
NEC_ROWS = [
    ("18", "26.1", "21.4", "16.4"),
    ("16", "16.4", "13.5", "10.3"),
    ("14", "10.3", "8.47", "6.48"),
    ("12", "6.50", "5.34", "4.08"),
    ("10", "4.07", "3.35", "2.56"),
    ("8", "2.55", "2.10", "1.60"),
    ("6", "1.61", "1.32", "1.01"),
    ("4", "1.01", "0.831", "0.635"),
    ("3", "0.804", "0.661", "0.505"),
    ("2", "0.636", "0.523", "0.400"),
    ("1", "0.505", "0.415", "0.318"),
    ("1/0", "0.400", "0.329", "0.252"),
    ("2/0", "0.317", "0.261", "0.199"),
]


@together.parametrize(("size", "hot", "mild", "cold"), NEC_ROWS)
def test_american_gauges(size: str, hot: str, mild: str, cold: str) -> None:
    """Resistance of every gauge at three temperatures."""
    for temp_degc, printed in ((75.0, hot), (20.0, mild), (-40.0, cold)):
        found = 1e3 * wiring.conductor_ohm_per_m(f"{size} AWG", temp_degc)
        assert matches(found, printed)


def test_every_american_gauge_is_tested() -> None:
    """No row of the table escapes the test above or the one below."""
    assert [*THIN, *(row[0] for row in NEC_ROWS)] == list(wiring.AWG_OHM_PER_KFT)


# Solid annealed copper at 20 degC, 17.241 ohm mm2/km (IEC 60028), of the diameters that
# ASTM B258 rounds to: 26 AWG 0.4049 mm to 20 AWG 0.8118 mm; ohm/km by hand.
THIN = {"26": 133.9, "24": 84.22, "22": 52.96, "20": 33.31}


@pytest.mark.parametrize("size", THIN)
def test_thin_american_gauges(size: str) -> None:
    """Strands and their lay add two to three percent to a solid wire's resistance."""
    found = 1e3 * wiring.conductor_ohm_per_m(f"{size} AWG", 20.0)
    assert 1.02 < found / THIN[size] < 1.03


def test_a_printed_pair_of_20_awg() -> None:
    """A manual's loop table: 0.0204 ohm per foot of pair at 20 degC, of solid wire."""
    # Flowmeter reference manual with 14 to 20 AWG pairs; the lay adds up to 3 %.
    found = wiring.pair_ohm("20 AWG", 0.3048, 20.0)
    assert 1.0 < found / 0.0204 < 1.03


@pytest.mark.parametrize(
    ("size", "most"), [("0.14", 138.0), ("0.25", 79.0), ("0.34", 57.0)]
)
def test_thin_metric_pairs(size: str, most: float) -> None:
    """Within 2 % of the highest that data sheets of flexible signal cable print."""
    # Common practice, no source: figures of such sheets from memory, unverified.
    found = 1e3 * wiring.conductor_ohm_per_m(f"{size} mm2", 20.0)
    assert found == pytest.approx(most, rel=0.02)


@pytest.mark.parametrize(
    ("temp_degc", "printed"),
    [
        (-40, "0.629"), (-20, "0.693"), (0, "0.758"), (20, "0.822"), (40, "0.887"),
        (50, "0.919"), (60, "0.952"), (75, "1.000"), (90, "1.048"),
    ],
)  # fmt: skip
def test_temperature_factor_of_copper(temp_degc: float, printed: str) -> None:
    """Resistance against that at 75 degC."""
    # NEC Chapter 9 Table 8, note on temperature: 0.00323 per kelvin from 75 degC.
    base = wiring.conductor_ohm_per_m("10 AWG", 75.0)
    assert matches(wiring.conductor_ohm_per_m("10 AWG", temp_degc) / base, printed)


def test_worked_voltage_drops() -> None:
    """Two worked drops over 50 ft: 2 A in 10 AWG and a radio's 2 A in 16 AWG."""
    # NEC Chapter 9 Table 8 with the drop worked by hand on 12 V.
    hot_v = wiring.drop_v(2.0, wiring.pair_ohm("10 AWG", FEET_50_M, 75.0))
    mild_v = wiring.drop_v(2.0, wiring.pair_ohm("10 AWG", FEET_50_M, 20.0))
    radio_v = wiring.drop_v(2.0, wiring.pair_ohm("16 AWG", FEET_50_M, 75.0))
    assert matches(hot_v, "0.248")
    assert matches(100 * hot_v / 12, "2.07")
    assert matches(mild_v, "0.204")
    assert matches(100 * mild_v / 12, "1.70")
    assert matches(radio_v, "0.998")
    assert matches(100 * radio_v / 12, "8.3")


@pytest.mark.parametrize(
    ("size", "printed_ohm_per_ft"), [("14", 0.0050), ("16", 0.0080), ("18", 0.0128)]
)
def test_pairs_in_an_instrument_manual(size: str, printed_ohm_per_ft: float) -> None:
    """Pair resistances printed by an instrument maker agree within 4 %."""
    # Coriolis installation manual, Oct 2023, section 1.6 p. 9, at 20 degC: round
    # figures without stranding allowance, hence below the code's table.
    found = wiring.pair_ohm(f"{size} AWG", 0.3048, 20.0)
    assert found == pytest.approx(printed_ohm_per_ft, rel=0.04)
    assert found > printed_ohm_per_ft


# IEC 60228:2004, class 2, plain copper, ohm/km at 20 degC.
IEC_ROWS = [
    ("0.5", 36.0), ("0.75", 24.5), ("1.0", 18.1), ("1.5", 12.1), ("2.5", 7.41),
    ("4", 4.61), ("6", 3.08), ("10", 1.83), ("16", 1.15), ("25", 0.727), ("35", 0.524),
]  # fmt: skip


@pytest.mark.parametrize(("size", "printed"), IEC_ROWS)
def test_metric_sizes(size: str, printed: float) -> None:
    """Resistance of every metric size at 20 degC, and below copper's ideal by none."""
    found = 1e3 * wiring.conductor_ohm_per_m(f"{size} mm2", 20.0)
    assert found == pytest.approx(printed, rel=1e-9)
    # Annealed copper (IEC 60028, unverified): 17.241 ohm mm2/km at 20 degC; a
    # conductor of the nominal section cannot be far below it.
    assert 17.241 * 0.97 < found * float(size) < 17.241 * 1.15


def test_metric_pair_of_500_m() -> None:
    """500 m of a 1.0 mm2 pair is 18.1 ohm."""
    # IEC 60228:2004, class 2: 18.1 ohm/km.
    assert matches(wiring.pair_ohm("1.0 mm2", 500.0, 20.0), "18.1")


def test_metric_temperature_factor() -> None:
    """A reading at 40 degC comes back to 20 degC by 0.926 or 0.927."""
    # A cable table prints 0.926; 0.00393 per kelvin gives 0.9271.
    ratio = wiring.conductor_ohm_per_m("4 mm2", 20.0) / wiring.conductor_ohm_per_m(
        "4 mm2", 40.0
    )
    assert ratio == pytest.approx(0.926, abs=0.0015)
