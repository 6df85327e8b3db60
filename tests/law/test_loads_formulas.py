"""Properties that load formulas keep for any input."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from powerbudget.errors import InputError, ModelRangeError
from powerbudget.loads import converter, loop, radio, wiring

GAUGES = [f"{size} AWG" for size in wiring.AWG_OHM_PER_KFT] + [
    f"{size} mm2" for size in wiring.MM2_OHM_PER_KM
]
watts = st.floats(0, 1000)
idle_watts = st.floats(0, 5)
slopes = st.floats(1, 2)
shares = st.floats(0, 1)
temperatures = st.floats(-60, 100)


@given(first=watts, second=watts, idle=idle_watts, slope=slopes)
def test_converter_input_rises_with_output(
    first: float, second: float, idle: float, slope: float
) -> None:
    """More output never needs less input, and input never falls below output."""
    low, high = sorted((first, second))
    low_w = converter.input_w(low, no_load_w=idle, slope=slope)
    high_w = converter.input_w(high, no_load_w=idle, slope=slope)
    assert low_w <= high_w
    assert low_w >= low + idle - 1e-9


@given(first=watts, second=watts, idle=idle_watts, slope=slopes)
def test_converter_efficiency_rises_towards_its_limit(
    first: float, second: float, idle: float, slope: float
) -> None:
    """A two-term converter is best at full load and never beats 1 / slope."""
    low, high = sorted((first, second))
    low_frac = converter.efficiency_frac(low, no_load_w=idle, slope=slope)
    high_frac = converter.efficiency_frac(high, no_load_w=idle, slope=slope)
    assert 0 <= low_frac <= high_frac + 1e-12
    assert high_frac <= 1 / slope + 1e-12


@given(
    rated=st.floats(1, 500),
    efficiency=st.floats(0.5, 1),
    share=st.floats(0, 1),
    load=shares,
)
def test_converter_passes_through_its_point(
    rated: float, efficiency: float, share: float, load: float
) -> None:
    """The slope puts the stated efficiency at the rated output and lower below it."""
    idle_w = share * rated * (1 / efficiency - 1)
    slope = converter.slope_from_point(rated, efficiency, idle_w)
    full = converter.efficiency_frac(rated, no_load_w=idle_w, slope=slope)
    part = converter.efficiency_frac(load * rated, no_load_w=idle_w, slope=slope)
    assert full == pytest.approx(efficiency, rel=1e-9)
    assert part <= full + 1e-9


@pytest.mark.parametrize(
    ("rated", "efficiency", "idle", "words"),
    [
        (0.0, 0.8, 0.1, "rated above 0 W"),
        (10.0, 0.0, 0.1, "efficiency above 0"),
        (10.0, 1.2, 0.1, "up to 1"),
        (10.0, 0.8, -0.1, "no-load 0 W or more"),
        (10.0, 0.9, 2.0, "up to 1.11 W"),
        (math.nan, 0.9, 0.1, "check the data sheet"),
    ],
)
def test_impossible_converter_points_are_refused(
    rated: float, efficiency: float, idle: float, words: str
) -> None:
    """Points that no converter can have give a message with the allowed range."""
    with pytest.raises(ModelRangeError, match=words):
        converter.slope_from_point(rated, efficiency, idle)


def test_idle_converter_without_losses_has_its_limit() -> None:
    """At no output and no idle draw the efficiency is the slope's, not a fault."""
    outputs_w = np.array([0.0, 1.0])
    found = converter.efficiency_frac(outputs_w, no_load_w=0.0, slope=1.25)
    assert found == pytest.approx([0.8, 0.8])


@given(
    minimum=st.floats(5, 20), most_a=st.floats(0.01, 0.03), loop_ohm=st.floats(0, 1500)
)
def test_burden_and_supply_are_inverse(
    minimum: float, most_a: float, loop_ohm: float
) -> None:
    """At the lowest supply the loop's own resistance is the highest burden."""
    supply_v = loop.minimum_supply_v(minimum, most_a, loop_ohm)
    found_ohm = loop.burden_max_ohm(supply_v, minimum, most_a)
    assert found_ohm == pytest.approx(loop_ohm, abs=1e-9 * 1500 / 0.01)
    assert loop.terminal_v(supply_v, most_a, loop_ohm) == pytest.approx(minimum)


@given(
    supply=st.floats(5, 60), current=st.floats(0, 0.025), loop_ohm=st.floats(0, 1000)
)
def test_loop_power_is_all_accounted_for(
    supply: float, current: float, loop_ohm: float
) -> None:
    """What the supply gives is what the transmitter and the resistance take."""
    transmitter_w = loop.terminal_v(supply, current, loop_ohm) * current
    resistance_w = current**2 * loop_ohm
    given_w = loop.loop_supply_w(supply, current)
    assert transmitter_w + resistance_w == pytest.approx(given_w, abs=1e-12)


@given(interval=st.floats(1, 1e5), on=shares, warm=shares)
def test_switched_sensor_never_exceeds_its_interval(
    interval: float, on: float, warm: float
) -> None:
    """The duty is the share given, whatever part of it is warming up."""
    # Rounding could lift a share of exactly 1 above the interval.
    on_s = on * interval * (1 - 1e-12)
    duty = loop.sampled_duty_frac(interval, warm * on_s, (1 - warm) * on_s)
    assert duty == pytest.approx(on, abs=1e-9)
    with pytest.raises(ModelRangeError, match="no longer than the interval"):
        loop.sampled_duty_frac(interval, interval, 0.01 * interval)


@given(octets=st.integers(0, 250))
def test_dnp3_frame_against_counting(octets: int) -> None:
    """The frame length equals a count block by block."""
    total, left = 10, octets
    while left > 0:
        block = min(16, left)
        total += block + 2
        left -= block
    assert radio.dnp3_frame_bytes(octets) == total


@given(registers=st.integers(-50, 300))
def test_modbus_read_is_within_a_frame_or_refused(registers: int) -> None:
    """Each read is either refused or fits 256 bytes, two more a register."""
    if 1 <= registers <= 125:
        assert radio.modbus_rtu_bytes(registers).response == 5 + 2 * registers <= 256
    else:
        with pytest.raises(ModelRangeError, match="split it into several polls"):
            radio.modbus_rtu_bytes(registers)


@pytest.mark.parametrize("octets", [-1, 251])
def test_dnp3_frame_beyond_its_limits_is_refused(octets: int) -> None:
    """A frame cannot hold fewer than none or more than 250 user octets."""
    with pytest.raises(ModelRangeError, match="0 to 250"):
        radio.dnp3_frame_bytes(octets)


@given(polls=st.floats(0, 60), keyed=st.floats(0, 10), retries=shares)
def test_duty_is_linear_in_traffic(polls: float, keyed: float, retries: float) -> None:
    """Twice the polls is twice the duty; retries add their share."""
    single = radio.transmit_duty_frac(polls, keyed, retries)
    double = radio.transmit_duty_frac(2 * polls, keyed, retries)
    plain = radio.transmit_duty_frac(polls, keyed)
    assert double == pytest.approx(2 * single)
    assert single == pytest.approx((1 + retries) * plain)


def test_traffic_that_does_not_fit_is_refused() -> None:
    """More than an hour of transmitting in an hour is an error that says so."""
    assert radio.transmit_duty_frac(3600.0, 1.0) == 1.0
    with pytest.raises(ModelRangeError, match=r"3600 messages .* 1.1 of the time"):
        radio.transmit_duty_frac(3600.0, 1.0, 0.1)
    with pytest.raises(ModelRangeError, match="poll less often"):
        radio.transmit_duty_frac(np.array([1.0, 4000.0]), 1.0)
    with pytest.raises(ModelRangeError, match="allowed: 0 to 1"):
        radio.transmit_duty_frac(-1.0, 1.0)


@pytest.mark.parametrize("rate", [0.0, -9600.0])
def test_bit_rate_must_be_above_zero(rate: float) -> None:
    """A message cannot be timed without a bit rate."""
    with pytest.raises(ModelRangeError, match="allowed: above 0"):
        radio.message_s(8, 11, rate)


@given(transmit=shares, asleep=shares)
def test_radio_mean_lies_between_its_states(transmit: float, asleep: float) -> None:
    """The mean stays within the states, and time not spoken for is receiving."""
    if transmit + asleep > 1 + 1e-6:
        with pytest.raises(ModelRangeError, match="together up to 1"):
            radio.mean_w(25.0, 1.5, 0.1, transmit, asleep)
    elif transmit + asleep <= 1:
        found_w = radio.mean_w(25.0, 1.5, 0.1, transmit, asleep)
        assert 0.1 - 1e-9 <= found_w <= 25.0 + 1e-9
        # A radio that draws nothing else still costs its listening.
        listening_w = radio.mean_w(0.0, 1.5, 0.0, transmit, asleep)
        assert listening_w == pytest.approx(1.5 * (1 - transmit - asleep), abs=1e-9)


def test_negative_share_of_time_is_refused() -> None:
    """A negative share of time is an error."""
    with pytest.raises(ModelRangeError, match="each 0 or more"):
        radio.mean_w(25.0, 1.5, 0.1, -0.1)


@given(
    gauge=st.sampled_from(GAUGES),
    length=st.floats(0.1, 5000),
    times=st.floats(0.1, 10),
    temp=temperatures,
)
def test_pair_resistance_is_linear_in_length(
    gauge: str, length: float, times: float, temp: float
) -> None:
    """Resistance follows length, and a pair is twice one conductor."""
    one = wiring.pair_ohm(gauge, length, temp)
    assert wiring.pair_ohm(gauge, times * length, temp) == pytest.approx(times * one)
    single = wiring.conductor_ohm_per_m(gauge, temp)
    assert one == pytest.approx(2 * length * single)
    assert one > 0


@given(gauge=st.sampled_from(GAUGES), first=temperatures, second=temperatures)
def test_copper_rises_with_temperature(gauge: str, first: float, second: float) -> None:
    """Warmer copper never has less resistance."""
    low, high = sorted((first, second))
    cold, warm = (wiring.conductor_ohm_per_m(gauge, t) for t in (low, high))
    assert cold <= warm


@pytest.mark.parametrize("unit", ["AWG", "mm2"])
def test_thicker_wire_has_less_resistance(unit: str) -> None:
    """Along each table the resistance falls with size."""
    rows = [gauge for gauge in GAUGES if gauge.endswith(unit)]
    values = [wiring.conductor_ohm_per_m(gauge, 20.0) for gauge in rows]
    assert values == sorted(values, reverse=True)
    assert len(set(values)) == len(values)


@pytest.mark.parametrize(
    ("written", "same"),
    [
        ("16AWG", "16 AWG"),
        (" 16 awg ", "16 AWG"),
        ("AWG 16", "16 AWG"),
        ("AWG#16", "16 AWG"),
        ("1/0awg", "1/0 AWG"),
        ("1.0 mm2", "1 mm2"),
        ("2.50mm²", "2.5 mm2"),
        ("4 mm^2", "4 mm2"),
    ],
)
def test_spellings_of_a_gauge(written: str, same: str) -> None:
    """Usual spellings of a size mean the same wire."""
    found = wiring.conductor_ohm_per_m(written, 20.0)
    assert found == wiring.conductor_ohm_per_m(same, 20.0)


@pytest.mark.parametrize(
    "written",
    ["16", "15 AWG", "3 mm2", "16 AWG mm2", "", "1/0", "AWG", "16 sq", "0x10 AWG"],
)
def test_unknown_gauge_lists_known_ones(written: str) -> None:
    """A size that is not in the tables is refused with the list of those that are."""
    with pytest.raises(InputError) as caught:
        wiring.pair_ohm(written, 10.0, 20.0)
    message = str(caught.value)
    assert repr(written) in message
    assert "18, 16, 14" in message
    assert "0.5, 0.75, 1, 1.5" in message


@given(current=st.floats(0, 20), temp=temperatures)
def test_drop_and_heat_agree(current: float, temp: float) -> None:
    """Volts lost times current equals the heat in the resistance."""
    pair = wiring.pair_ohm("16 AWG", 30.0, temp)
    assert wiring.drop_v(current, pair) * current == pytest.approx(current**2 * pair)


def test_arrays_give_what_single_values_give() -> None:
    """Every formula treats an array as its elements one by one."""
    values = np.array([0.01, 0.2, 0.7])
    cases = [
        lambda x: converter.input_w(x, no_load_w=0.1, slope=1.15),
        lambda x: converter.efficiency_frac(x, no_load_w=0.1, slope=1.15),
        lambda x: loop.loop_supply_w(24.0, x),
        lambda x: loop.burden_max_ohm(x, 10.5, 0.023),
        lambda x: loop.minimum_supply_v(10.5, 0.023, x),
        lambda x: loop.terminal_v(x, 0.02, 250.0),
        lambda x: radio.message_s(x, 11, 9600),
        lambda x: radio.transmit_s(x, bits_per_character=11, bit_rate_bit_s=9600),
        lambda x: radio.transmit_duty_frac(x, 2.0, 0.1),
        lambda x: radio.mean_w(25.0, 1.5, 0.1, x, 0.2),
        lambda x: wiring.conductor_ohm_per_m("16 AWG", x),
        lambda x: wiring.pair_ohm("2.5 mm2", 10.0, x),
        lambda x: wiring.drop_v(x, 0.3),
    ]
    for formula in cases:
        one_by_one = [formula(float(value)) for value in values]
        assert formula(values) == pytest.approx(one_by_one, rel=1e-15)
