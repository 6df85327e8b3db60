"""Whole budgets and traffic against values printed elsewhere."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from powerbudget.loads import traffic as t
from powerbudget.loads.budget import load_budget
from powerbudget.loads.draws import transmit_frac
from powerbudget.loads.heat import heater_w
from powerbudget.loads.loop_checks import clips_at_a
from powerbudget.loads.radio import dnp3_frame_bytes, message_s
from powerbudget.loads.voltage import end_of_wire
from powerbudget.site.load import Traffic
from powerbudget.site.reader import read_site_text

SITES = Path(__file__).resolve().parents[2] / "sites"

LOOP = """
[[supply]]
name = "loops"
output = "24 V"
rated = "10 W"
no_load = "0 W"
efficiency = "80 %"
[[load]]
name = "loop"
supply = "loops"
typical = "{amps} mA"
"""


@pytest.mark.parametrize(
    ("amps", "bus_mw", "wh"),
    [
        (3.6, 108, 2.6), (4, 120, 2.9), (12, 360, 8.6), (20, 600, 14.4),
        (21, 630, 15.1), (22.5, 675, 16.2),
    ],
)  # fmt: skip
def test_power_of_a_loop_at_the_battery(budget_of, amps, bus_mw, wh):
    """A 24 V loop through a converter of 80 % costs what the table says."""
    # Worked by hand from V x I / 0.80; 0.80 follows from two lines of a controller
    # manual, 2014 (2.50 x mA x 12 V for a 24 V loop). Printed to 1 mW and 0.1 Wh.
    budget = budget_of(LOOP.format(amps=amps))
    assert 1000 * budget.typical_w == pytest.approx(bus_mw, abs=0.5 + 1e-9)
    assert budget.wh_per_day == pytest.approx(wh, abs=0.05 + 1e-9)


@pytest.mark.parametrize(
    ("controllers", "pumps", "watts", "wh"),
    [
        (2, 0, 10.8, 259.2), (4, 0, 14.64, 351.4), (4, 1, 24.24, 581.8),
        (8, 1, 31.92, 766.1), (20, 2, 64.56, 1549.4),
    ],
)  # fmt: skip
def test_published_device_budget_of_well_pads(controllers, pumps, watts, wh):
    """Electric controllers, pumps and a panel come to 10.8 to 64.56 W."""
    # EPA, oil and natural gas supplemental proposal analysis, 2022, well-site model:
    # 0.08 A a controller, 0.40 A a pump, 0.29 A the rest, at 24 V.
    text = (SITES / "electric-wellpad.toml").read_text(encoding="utf-8")
    text = text.replace("quantity = 4\n", f"quantity = {controllers}\n")
    text = text.replace("quantity = 1\n", f"quantity = {pumps}\n")
    budget = load_budget(read_site_text(text))
    assert budget.typical_w == pytest.approx(watts, abs=0.005)
    assert budget.wh_per_day == pytest.approx(wh, abs=0.05)


POLL = {
    "polls_per_hour": 60, "registers": 20, "bit_rate": "9600 bit/s",
    "key_up": "40 ms", "tail": "10 ms",
}  # fmt: skip


@pytest.mark.parametrize(
    ("retries", "percent"), [("0 %", 0.169), ("5 %", 0.178), ("20 %", 0.203)]
)
def test_duty_of_a_polled_station(retries, percent):
    """One poll a minute of 20 registers keys the transmitter this long."""
    # MODBUS over serial line specification V1.02, 2006, p. 12-13 (11 bits, 45 bytes);
    # key-up of 40 ms from a licensed modem's register list; worked by hand.
    duty = transmit_frac(Traffic(retries=retries, **POLL))
    assert 100 * duty == pytest.approx(percent, abs=0.0005)


def test_receive_decides_the_mean_of_a_polled_station(budget_of):
    """At 2.0 A transmit and 100 mA receive the mean is 103.4 mA."""
    # Same poll with 5 % retries, worked by hand: 0.00178 x 2000 + 0.99822 x 100.
    states = t.states(Traffic(retries="5 %", **POLL))
    mean_ma = 2000 * states.transmit_frac + 100 * states.receive_frac
    assert mean_ma == pytest.approx(103.4, abs=0.05)


def test_dnp3_frames():
    """A class poll takes 27 octets, ten analogs 78 octets and 81 ms."""
    # Practical Modern SCADA Protocols, pp. 97-98, with object sizes unverified.
    assert dnp3_frame_bytes(t.POLL_OCTETS) == 27
    traffic = Traffic(polls_per_hour=1, analog_points=10, bit_rate="9600 bit/s")
    assert t.message_bytes(traffic) == (27, 78)
    assert 1000 * message_s(78, 10, 9600) == pytest.approx(81, abs=0.5)


def test_uploads_of_a_logger():
    """Uploads every half hour turn 120 mW into 195.8 mW."""
    # Field report: 48 uploads of 70 s at 1600 + 350 mW on top of 120 mW.
    upload_w = t.session_mean_w(48, 70, 1.95, 0.0)
    assert 1000 * (0.120 + upload_w) == pytest.approx(195.8, abs=0.05)


def test_packet_radio_by_packets():
    """A packet radio of 1.3 A for 2 s takes 0.72 mAh a packet, 1.04 Ah a day."""
    # Field report, worked by hand; one packet a minute.
    share = t.session_mean_w(1440, 2.0, 1.0, 0.0)
    assert 1.3 * 24 * share == pytest.approx(1.04, abs=0.005)
    assert 1300 * share * 24 / 1440 == pytest.approx(0.72, abs=0.005)


def test_switched_sensor(budget_of):
    """20 mA for 0.327 s every minute is 0.109 mA in the mean."""
    # Field report, printed to the third digit.
    budget = budget_of(
        '[[load]]\nname = "s"\ntypical = "20 mA"\n'
        'sampled = { interval = "60 s", warm_up = "300 ms", sample = "27 ms" }\n'
    )
    assert 1000 * budget.typical_w / 24 == pytest.approx(0.109, abs=0.0005)


def test_fail_safe_contacts(tmp_path, budget_of):
    """Sixteen closed contacts of 5 mA at 24 V cost 1.92 W all the time."""
    # EN 61131-2 Type 1 module data: 5 mA typical at 24 V; product worked by hand.
    rows = "\n".join(f"ZS-{k},DI,NC" for k in range(16))
    (tmp_path / "io.csv").write_text(f"tag,type,contact\n{rows}\n")
    budget = budget_of(
        '[rack]\ncontroller = "controller-low-power"\nio_list = "io.csv"\n',
        path=tmp_path / "site.toml",
    )
    line = next(x for x in budget.lines if x.name == "rack: contacts wetted")
    assert line.typical_w == pytest.approx(1.92, abs=0.005)
    assert line.duty_frac == 1.0


def test_peak_current_on_a_long_wire():
    """2 A over 50 ft of 16 AWG lose 0.998 V."""
    # NEC Chapter 9 Table 8, 4.99 ohm/kft at 75 degC; worked by hand: 8.3 % of 12 V.
    end = end_of_wire(12.0, 24.0, 12.0, "current", 2 * 0.050 * 4.99)
    assert end.amps == pytest.approx(2.0)
    assert 12.0 - end.volts == pytest.approx(0.998, abs=0.0005)


def test_sensor_clips_at_high_signal():
    """A 12 V sensor behind 100 ohm is right above 14 V and clips below it."""
    # Field report: readout at 16 V leaves 14 V at 20 mA; below 14 V it is wrong.
    curve, span = ((0.004, 12.0),), (0.004, 0.020)
    assert clips_at_a(16.0, 100.0, curve, span) is None
    assert clips_at_a(14.0, 100.0, curve, span) is None
    assert clips_at_a(13.9, 100.0, curve, span) == pytest.approx(0.019)
    assert clips_at_a(13.9, 100.0, curve, (0.004, 0.004)) is None


def test_hart_loop_needs_16_25_v():
    """10.5 V and 250 ohm at 23 mA need 16.25 V of supply."""
    # Pressure-transmitter reference manual, Nov 2012, Appendix A p. 110.
    curve, span = ((0.004, 10.5),), (0.004, 0.023)
    assert clips_at_a(16.25, 250.0, curve, span) is None
    assert clips_at_a(16.24, 250.0, curve, span) == pytest.approx(0.02296)


def test_inverter_left_on(budget_of):
    """An idle conversion of 1.5 A empties 36 Ah a day."""
    # Field report: a boat's bank died with everything off.
    budget = budget_of(
        '[[supply]]\nname = "inverter"\noutput = "48 V"\nrated = "500 W"\n'
        'no_load = "18 W"\nefficiency = "85 %"\n'
        '[[load]]\nname = "clock"\ntypical = "1 uA"\n', 12,
    )  # fmt: skip
    assert budget.ah_per_day == pytest.approx(36.0, abs=0.005)
    assert budget.lines[0].hidden
    assert budget.lines[0].load_class == "parasitic"


def test_heater_holds_a_box():
    """A box of 1 W/K at 5 degC in -20 degC air takes 25 W."""
    # Steady heat balance, worked by hand.
    watts = heater_w(
        np.array([-20.0, 5.0, -60.0]), thermostat_degc=5, loss_w_per_k=1, rated_w=50
    )
    assert watts == pytest.approx([25.0, 0.0, 50.0])


def test_site_voltage_of_a_booster(budget_of):
    """From 12 V a 24 V loop takes 2.4 to 2.5 times its current."""
    # Two RTU manuals: 355 mW at 12 mA for a 24 V loop, that is 29.6 mA at 12 V.
    at_12 = budget_of(LOOP.format(amps=12).replace("80 %", "81.13 %"), 12)
    at_24 = budget_of(LOOP.format(amps=12).replace("80 %", "81.13 %"), 24)
    assert 1000 * at_12.typical_w / 12 == pytest.approx(29.6, abs=0.05)
    assert at_12.ah_per_day == pytest.approx(2 * at_24.ah_per_day, rel=1e-12)
    assert at_12.wh_per_day == pytest.approx(at_24.wh_per_day, rel=1e-12)


@pytest.mark.parametrize("latitude", [0.0, 36.1, 55.3, -45.0, 70.0])
def test_height_of_the_sun_against_the_solar_position_algorithm(latitude):
    """The short formula stays within a degree of NREL's algorithm all year."""
    # Reda and Andreas, Solar position algorithm, NREL/TP-560-34302, 2008, as pvlib
    # computes it, without refraction.
    import pandas as pd
    from pvlib.solarposition import spa_python

    from powerbudget.loads.daylight import sun_height_deg

    times = pd.date_range("2023-01-01", "2023-12-31 23:00", freq="7h", tz="UTC")
    truth = spa_python(times, latitude, -110.0)["elevation"].to_numpy()
    hour = (times.hour + times.minute / 60).to_numpy(dtype=float)
    number = times.day_of_year.to_numpy(dtype=float)
    found = sun_height_deg(latitude, -110.0, number, hour)
    assert np.max(np.abs(found - truth)) < 1.0
