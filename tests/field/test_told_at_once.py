"""A controller's faults come at once, and a load beyond its terminals is told by each verb."""

from __future__ import annotations

import pytest

from powerbudget.balance.problem import prepare
from powerbudget.balance.run_findings import _clamped, _heated, run_findings
from powerbudget.balance.simulation import Simulation, simulate_size
from powerbudget.checks.registry import check
from powerbudget.errors import InputError
from powerbudget.report.sections.design import cause_words
from powerbudget.site.reader import read_site_text
from powerbudget.site.scenario import Scenario

SITE = """
[site]
name = "station"
latitude = 36.1
longitude = -79.95
time_zone = "UTC-5"
[weather]
record = "greensboro"
[bus]
nominal = "12 V"
low_voltage_disconnect = "11.5 V"
low_voltage_reconnect = "12.6 V"
[[load]]
name = "station"
typical = "10 W"
maximum = "{most}"
peak = "150 W"
[array]
module = {{ power = "100 W", max_power_voltage = "17.9 V", max_power_current = "5.587 A", open_circuit_voltage = "22 V", short_circuit_current = "6 A", cells = 36 }}
parallel = 2
tilt = "45 deg"
azimuth = "south"
[charge_controller]
kind = "mppt"
{keys}
[battery]
chemistry = "agm"
unit = {{ nominal = "12 V", capacity = "100 Ah", hour_rate = "20 h" }}
parallel = 2
[criteria]
availability = "99 %"
autonomy = "3 d"
autonomy_temperature = "0 degC"
deepest_discharge = "80 %"
"""  # noqa: E501


def test_float_headroom_and_module_are_refused_in_one_go():
    """Float against the absorption of the chemistry too, 6 x 2.40 V; all with their keys."""
    text = SITE.replace('max_power_voltage = "17.9 V"', 'max_power_voltage = "22.9 V"')
    for stated in ("", 'absorption = "14.4 V"\n'):
        keys = stated + 'float = "14.4 V"\nrun_headroom = "-1 V"'
        with pytest.raises(InputError) as caught:
            read_site_text(text.format(most="12 W", keys=keys))
        told = sorted((fault.where, fault.allowed) for fault in caught.value.faults)
        assert told == [
            ("array.module.max_power_voltage", "less than 22 V"),
            ("array.module.power", "within 5 % of 127.9 W"),
            ("charge_controller.float", "below 14.4 V"),
            (
                "charge_controller.run_headroom",
                "volts of the array above the battery's",
            ),
        ]


def test_stated_tracking_acts_beside_an_efficiency():
    """98 % of 96 % of the maximum power; a PWM controller tracks nothing."""
    keys = 'efficiency = "96 %"\n'
    problems = [
        prepare(read_site_text(SITE.format(most="12 W", keys=keys + more)))
        for more in ("", 'tracking = "98 %"')
    ]
    bare_w, tracked_w = (p.hourly["array_w"] for p in problems)
    assert tracked_w == pytest.approx(0.98 * bare_w)
    assert problems[1].tracker_frac == pytest.approx(0.98 * 0.96)
    text = SITE.replace('"mppt"', '"pwm"').format(most="12 W", keys='tracking = "98 %"')
    with pytest.raises(InputError, match=r"charge_controller\.tracking"):
        read_site_text(text)


def test_starts_and_maxima_beyond_the_load_terminals_are_told():
    """150 W at 11.5 V are 13 A on 1.25 x 5 A; 100 W running are 8.7 A."""
    keys = 'maximum_load_current = "5 A"'
    for most, warned in (("12 W", False), ("100 W", True)):
        problem = prepare(read_site_text(SITE.format(most=most, keys=keys)))
        rows = {
            row.subject: row.verdict
            for row in check(problem.design, problem).checks
            if "load terminals" in row.name
        }
        assert rows["charge controller at inrush"] == "warn"
        assert rows["charge controller"] == ("fail" if warned else "pass")
        told = [f.text for f in run_findings(simulate_size(problem))]
        assert any("maximum running load of" in text for text in told) == warned


def test_the_usual_maximum_is_that_of_the_chemistry_and_not_of_the_site_file():
    """15.9 V are 2.65 V a cell; an AGM cell takes 2.60 V at most."""
    told = {}
    for volts in ("14.4 V", "15.9 V"):
        text = SITE.format(most="12 W", keys=f'absorption = "{volts}"')
        problem = prepare(read_site_text(text)).under(
            Scenario(temperature_shift_k=-30.0)
        )
        told[volts] = [f.text for f in _clamped(simulate_size(problem))]
    assert "2.60 V per cell, the usual maximum of sealed" in told["14.4 V"][0]
    assert (
        "2.65 V per cell, the stated absorption, above the usual maximum of 2.60 V of"
        in told["15.9 V"][0]
    )


def test_a_compensation_beyond_what_makers_print_is_asked_by_run_and_check():
    """Six cells from 14.4 V, 8 mV/K for each kelvin below 25 degC; -6 is usual."""
    for stated, asked in (("-8", True), ("-6", False), ("-1", True), ("0", True)):
        keys = f'temperature_compensation_per_cell = "{stated} mV/K"'
        run = simulate_size(
            prepare(read_site_text(SITE.format(most="12 W", keys=keys)))
        )
        told = [f.text for f in run_findings(run) if "per_cell" in f.text]
        assert bool(told) == asked
        degc = float(run.problem.conditions.battery_degc.min())
        volts = 14.4 - 6 * float(stated) / 1000 * (25 - degc)
        assert all(f"of {stated} mV/K is outside" in text for text in told)
        assert all(
            f"{volts:.2f} V before limits" in text for text in told if stated == "-8"
        )
        [row] = [
            row for row in check(run.problem.design, run.problem).checks
            if row.name == "temperature compensation"
        ]  # fmt: skip
        assert (row.verdict == "warn") == asked


def test_the_note_on_a_heater_has_the_draw_that_the_autonomy_counts():
    """1.2 W/K from 0 to 3 degC are 3.6 W."""
    box = """[battery.box]
kind = "insulated"
time_constant = "20 h"
conductance = "1.2 W/degC"
[battery.heater]
power = "60 W"
on = "3 degC"
off = "6 degC"
feed = "battery"
[criteria]"""
    text = SITE.format(most="12 W", keys="").replace("[criteria]", box)
    run = simulate_size(prepare(read_site_text(text)))
    assert any("with 3.60 W from the battery" in f.text for f in _heated(run))


MONTHS = """[weather.monthly]
source = "fictitious"
ghi = "2.4 3.2 4.3 5.2 5.9 6.3 6.1 5.5 4.7 3.7 2.6 2.1 kWh/m2/d"
temperature = "{months} degC"
daily_range_k = 16
years = 2
seed = 4
"""


HOT = "20 22 28 34 38 42 44 43 40 32 26 21"
MILD = "4 6 11 16 20 24 26 25 22 16 10 5"


def _two_years(keys: str, elevation: str = "0 m", months: str = HOT) -> Simulation:
    text = SITE.format(most="12 W", keys=keys)
    text = text.replace(
        '[weather]\nrecord = "greensboro"\n', MONTHS.format(months=months)
    )
    zone = 'time_zone = "UTC-5"'
    text = text.replace(zone, f'{zone}\nelevation = "{elevation}"')
    return simulate_size(prepare(read_site_text(text)))


def test_the_cause_of_years_without_loads_is_the_controller():
    """0.3 A, of which thin air leaves little and then nothing: no disconnect at the start."""
    for rate, said in (("40 %", "charge controller limit curtails 99 %"),
                       ("50 %", "derating_per_km leaves the charge controller 0 A")):  # fmt: skip
        keys = f'maximum_charge_current = "0.3 A"\nderating_per_km = "{rate}"'
        run = _two_years(keys, "4200 m", MILD)
        assert run.availability_frac == 0.0
        assert said in cause_words(run)
        assert "at the start" not in cause_words(run)
    # Heat takes nothing of nothing.
    assert not any("heat derates" in f.text for f in run_findings(run))


def test_heat_on_a_charge_controller_is_told_in_hours_and_percent():
    """Half of the limit is left at 60 degC, a straight line from 40 degC."""
    run = _two_years('maximum_charge_current = "6 A"')
    air = run.problem.record.temp_air_degc
    hot = (run.out["offered_a"] > 0) & (air > 40.0)
    most = float(air[hot].max())
    [told] = [f.text for f in run_findings(run) if "curtails" in f.text]
    assert f"in {hot.sum():,} h with irradiance" in told
    assert f"to as little as {100 - 2.5 * (most - 40):.0f} % at {most:.1f} °C" in told
    cool = _two_years('maximum_charge_current = "6 A"\nfull_output_to = "59 degC"'
                      '\noutput_at_60_degc = "100 %"')  # fmt: skip
    assert not any("heat derates" in f.text for f in run_findings(cool))


def test_a_remedy_stands_once_in_a_check_line():
    text = SITE.format(most="12 W", keys="").replace('"agm"', '"lfp"')
    text = text.replace('unit = { nominal = "12 V"', 'unit = { nominal = "12.8 V"')
    problem = prepare(read_site_text(text)).under(Scenario(temperature_shift_k=-30.0))
    [row] = [
        row
        for row in check(problem.design, problem).checks
        if row.name == "discharge temperature, cold"
    ]
    told = " ".join(str(value) for value in vars(row).values())
    assert "delivers no current" in told
    assert told.lower().count("another chemistry") <= 1
