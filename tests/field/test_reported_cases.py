"""Cases that people have reported, with their numbers (common practice, no source)."""

from __future__ import annotations

import dataclasses

import pytest

from powerbudget.balance.simulation import simulate
from powerbudget.loads.budget import load_budget
from powerbudget.loads.difference import changes
from powerbudget.loads.traffic import states
from powerbudget.loads.voltage import end_of_wire
from powerbudget.site.load import Traffic
from powerbudget.site.reader import read_site_text
from powerbudget.site.starter import starter_text
from powerbudget.sizing.autonomy import autonomy
from powerbudget.sizing.criteria import judge


def test_an_added_logger_and_fan_show_in_watt_hours_and_days():
    """Parts added without a new budget cost Wh/day and days of autonomy, by name."""
    before = read_site_text(starter_text())
    added = '[[load]]\nname = "aspirated fan"\ntypical = "2.4 W"\n\n[array]'
    after = read_site_text(starter_text().replace("[array]", added, 1))
    lines = changes(load_budget(before), load_budget(after))
    assert any(line.name == "aspirated fan" for line in lines)
    more = load_budget(after).wh_per_day - load_budget(before).wh_per_day
    assert more == pytest.approx(1.15 * 2.4 * 24, rel=1e-6)
    days = [autonomy(simulate(design)).design_days for design in (before, after)]
    assert days[1] < days[0] - 1


def test_weak_signal_stretches_every_transmission():
    """Planned 0.2 J a wake became 1.5 J: a factor of 7.5 on transmitting time."""
    plan = {
        "polls_per_hour": 4, "bytes_sent": 200, "bits_per_character": 8,
        "bit_rate": "10 kbit/s", "key_up": "1 s",
    }  # fmt: skip
    strong = states(Traffic.model_validate(plan))
    weak = states(Traffic.model_validate({**plan, "signal_factor": 7.5}))
    assert weak.transmit_frac == pytest.approx(7.5 * strong.transmit_frac, rel=1e-9)


def test_a_burst_through_source_resistance_resets_the_module():
    """3.6 V sags to 3.22 V at 2 A, under the 3.3 V that the module needs."""
    ohm = (3.6 - 3.22) / 2.0
    found = end_of_wire(3.6, 2.0 * 3.6, 3.6, "current", ohm)
    assert found.volts == pytest.approx(3.22, abs=0.005)
    assert found.volts < 3.3
    half = end_of_wire(3.6, 2.0 * 3.6, 3.6, "current", ohm / 2)
    assert half.volts > 3.3


def test_battery_of_one_days_load_does_not_pass():
    """A battery of one day (reported: 18 Ah a day on 18 Ah) fails what it is asked."""
    text = starter_text().replace(
        'unit = "battery-agm-12v-100ah"',
        'unit = { nominal = "12 V", capacity = "27.3 Ah", hour_rate = "20 h" }',
    )
    run = simulate(read_site_text(text.replace("parallel = 5\n", "parallel = 1\n", 1)))
    ratio = run.problem.budget.ah_per_day / run.bank.nameplate_ah
    assert ratio == pytest.approx(1.0, abs=0.01)
    failed = {verdict.name for verdict in judge(run) if not verdict.met}
    assert {"autonomy", "daily DOD", "availability"} <= failed


def test_small_telemetry_sites_draw_between_5_and_20_w():
    """A controller, five loops and a polled radio fall into the band people report."""
    design = read_site_text(starter_text())
    loads = tuple(x for x in design.tables.load if x.name != "Coriolis gas meter")
    tables = design.tables.model_copy(update={"load": loads})
    small = load_budget(dataclasses.replace(design, tables=tables))
    assert 5.0 <= small.typical_w <= 20.0


def test_barrier_and_resistor_count_in_a_loop():
    """A barrier beside 250 ohm raises what the loop needs, and both are counted."""
    from powerbudget.loads.loop import minimum_supply_v

    plain = minimum_supply_v(12.0, 0.022, 250.0)
    assert plain == pytest.approx(17.5, abs=0.05)
    assert minimum_supply_v(12.0, 0.022, 250.0 + 300.0) > 24.0


def test_two_battery_voltages_differ_by_the_wire():
    """11.9 V at the controller under transmit, 12.4 V at the battery: 0.5 V of wire."""
    amps = 2.0
    ohm = 0.5 / amps
    found = end_of_wire(12.4, amps * 12.4, 12.4, "current", ohm)
    assert found.volts == pytest.approx(11.9, abs=0.005)
