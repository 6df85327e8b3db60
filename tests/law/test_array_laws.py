"""What must hold for any panel under any sky."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from powerbudget.array import curve
from powerbudget.array.curve import current_a, max_power_w, open_circuit_v
from powerbudget.array.module import module_from_points
from powerbudget.array.string_output import LOSSES, array_series
from powerbudget.charging.controller import (
    mppt_power_w,
    pwm_nodes_v,
    pwm_string_current_a,
)
from powerbudget.site.tables import Array, ModuleData
from powerbudget.weather.record import WeatherRecord
from powerbudget.weather.sun import SunPosition

SMALL = ModuleData(
    power="100 W",
    max_power_voltage="17.8 V",
    max_power_current="5.62 A",
    open_circuit_voltage="22.0 V",
    short_circuit_current="6.0 A",
    open_circuit_temperature="-0.33 %/degC",
    short_circuit_temperature="0.05 %/degC",
    cells=36,
)
LIGHT = st.floats(0.0, 1400.0)
CELL = st.floats(-50.0, 85.0)


@pytest.fixture(scope="module")
def module():
    """Return an ordinary 36-cell module."""
    return module_from_points(SMALL, "small")


@pytest.fixture(scope="module")
def sky():
    """Return a made-up week and the sun over it: clear, hazy, dark, all in turn."""
    rng = np.random.default_rng(3)
    hour = np.arange(168.0) + 0.5
    height = np.sin(np.pi * ((hour % 24) - 6) / 12) * 50.0
    up = height > 0
    zenith = 90.0 - height
    beam = np.where(up, rng.uniform(0, 900, 168), 0.0)
    spread = np.where(up, rng.uniform(0, 300, 168), 0.0)
    record = WeatherRecord(
        start_utc=np.datetime64("2021-01-01T00:00:00")
        + np.arange(168) * np.timedelta64(3600, "s"),
        step_h=1.0,
        latitude_deg=50.0,
        longitude_deg=0.0,
        elevation_m=0.0,
        utc_offset_h=0.0,
        ghi_w_m2=beam * np.cos(np.radians(zenith)).clip(0) + spread,
        dni_w_m2=beam,
        dhi_w_m2=spread,
        temp_air_degc=rng.uniform(-40, 40, 168),
        wind_speed_m_s=rng.uniform(0, 12, 168),
        albedo_frac=None,
        typical_year=False,
        source="made up",
        label="start",
    )
    sun = SunPosition(
        zenith_deg=zenith,
        true_zenith_deg=zenith,
        azimuth_deg=(hour % 24) * 15.0,
        dni_extra_w_m2=np.full(168, 1400.0),
        airmass=np.where(up, 1 / np.cos(np.radians(zenith)).clip(0.03), np.nan),
    )
    return record, sun


def array_of(**changes):
    """Return one string, changed where asked."""
    plain = {"module": SMALL, "tilt": "60 deg", "azimuth": "south", **changes}
    return Array.model_validate(plain)


@pytest.mark.parametrize("ageing", [0.0, 0.1])
@pytest.mark.parametrize("soiling", [0.0, 0.25])
def test_losses_close(module, sky, soiling, ageing):
    """Rated energy is every named loss plus what is left, to 1e-12."""
    array = array_of(soiling=soiling, ageing=ageing)
    found = array_series(*sky, array, module)
    total = sum(found.losses_wh.values()) + found.energy_wh
    assert total == pytest.approx(found.nominal_wh, rel=1e-12)
    assert found.p_mp_w.sum() == pytest.approx(found.energy_wh, rel=1e-12)
    nominal = found.poa_w_m2.sum() * 100.0 / 1000.0
    assert found.nominal_wh == pytest.approx(nominal, rel=1e-12)
    assert tuple(found.losses_wh) == LOSSES
    behind = found.nominal_wh - found.losses_wh["incidence"]
    assert found.losses_wh["soiling"] == pytest.approx(soiling * behind, abs=1e-9)
    assert found.losses_wh["incidence"] > 0
    assert (found.losses_wh["ageing"] > 0) == (ageing > 0)


def test_half_hours_count_half(module, sky):
    """The same sky in half-hour steps is half the energy and the same power."""
    record, sun = sky
    fields = {**record.__dict__, "step_h": 0.5}
    short = WeatherRecord(**fields)
    one = array_series(record, sun, array_of(), module)
    half = array_series(short, sun, array_of(), module)
    assert half.energy_wh == pytest.approx(one.energy_wh / 2, rel=1e-12)
    np.testing.assert_array_equal(half.p_mp_w, one.p_mp_w)


def test_two_in_series_are_twice_one(module, sky):
    """Two in series give twice the power, and the same current at twice the volts."""
    nodes = pwm_nodes_v(12.0, 0.3)
    one = array_series(*sky, array_of(), module, v_nodes_v=nodes)
    two = array_series(*sky, array_of(series=2), module, v_nodes_v=2 * nodes)
    np.testing.assert_allclose(two.p_mp_w, 2 * one.p_mp_w, rtol=1e-12)
    np.testing.assert_allclose(two.i_string_a, one.i_string_a, rtol=1e-12)
    assert two.nominal_wh == pytest.approx(2 * one.nominal_wh, rel=1e-12)


def test_string_currents_are_usable(module, sky):
    """Currents at the nodes are finite, not negative and within the peak power."""
    nodes = pwm_nodes_v(12.0, 0.3)
    found = array_series(*sky, array_of(), module, v_nodes_v=nodes)
    assert found.i_string_a.shape == (168, 9)
    assert np.isfinite(found.i_string_a).all()
    assert (found.i_string_a >= 0).all()
    assert (np.diff(found.i_string_a, axis=1) <= 1e-12).all()
    power = found.i_string_a * nodes
    assert (power <= found.p_mp_w[:, None] * (1 + 1e-9)).all()
    assert array_series(*sky, array_of(), module).i_string_a.shape == (168, 0)


def test_record_albedo_is_used_where_known(module, sky):
    """Snow on the ground lights the panel; a gap falls back on the site's figure."""
    record, sun = sky
    bright = np.full(168, 0.8)
    bright[:84] = np.nan
    snowy = WeatherRecord(**{**record.__dict__, "albedo_frac": bright})
    plain = array_series(record, sun, array_of(), module)
    found = array_series(snowy, sun, array_of(), module)
    np.testing.assert_array_equal(found.poa_w_m2[:84], plain.poa_w_m2[:84])
    extra = (0.8 - 0.2) * record.ghi_w_m2[84:] * (1 - np.cos(np.radians(60))) / 2
    np.testing.assert_allclose(found.poa_w_m2[84:] - plain.poa_w_m2[84:], extra)


@settings(max_examples=60, deadline=None)
@given(light=LIGHT, cell=CELL, volts=st.floats(0.0, 40.0), more=st.floats(0.0, 20.0))
def test_current_never_rises_with_voltage(module, light, cell, volts, more):
    """A panel pulled to a higher voltage never gives more current."""
    pair = current_a(module, light, cell, np.array([volts, volts + more]))
    assert np.isfinite(pair).all()
    assert pair[1] <= pair[0] + 1e-9
    assert pair[1] >= 0


@settings(max_examples=60, deadline=None)
@given(light=st.floats(20.0, 1400.0), cell=st.floats(-50.0, 80.0))
def test_power_falls_with_temperature(module, light, cell):
    """A warmer cell gives less power under the same light."""
    found = max_power_w(module, np.full(2, light), np.array([cell, cell + 5.0]))
    assert found[1] < found[0]


@settings(max_examples=60, deadline=None)
@given(light=LIGHT, cell=CELL)
def test_peak_power_equals_a_search(module, light, cell):
    """The maximum-power point equals the best of a fine sweep of voltages."""
    found = float(max_power_w(module, light, cell))
    assert np.isfinite(found)
    sweep = np.linspace(0.0, 32.0, 6401)
    best = (sweep * current_a(module, light, cell, sweep)).max()
    assert best <= found * (1 + 1e-9) + 1e-12
    assert found == pytest.approx(best, rel=2e-5, abs=1e-4)


def test_faint_light_is_no_trouble(module):
    """From nothing to starlight to dusk the power is a small, rising number."""
    light = np.concatenate([[0.0], np.logspace(-12, 1, 60)])
    for cell in (-60.0, 25.0, 90.0):
        power = max_power_w(module, light, np.full(61, cell))
        assert np.isfinite(power).all()
        assert (np.diff(power) >= 0).all()
        amps = current_a(module, light, np.full(61, cell), 12.0)
        assert np.isfinite(amps).all()


def test_slow_solver_takes_over(module, monkeypatch):
    """Where the quick solver gives up, the bracketed one finds the same point."""
    light, cell = np.array([5.0, 300.0, 1000.0]), np.array([-20.0, 10.0, 60.0])
    expected = max_power_w(module, light, cell)
    monkeypatch.setattr(curve, "_peak_diode_v", lambda diode: diode.shunt_ohm * np.nan)
    np.testing.assert_allclose(max_power_w(module, light, cell), expected, rtol=1e-6)


@st.composite
def data_sheets(draw):
    """Make a plausible silicon data sheet, 10 W to over 500 W."""
    cells, in_series = draw(st.sampled_from([(36, 36), (60, 60), (72, 72), (144, 72)]))
    open_v = in_series * draw(st.floats(0.58, 0.74))
    short_a = draw(st.floats(0.6, 14.0))
    peak_v = open_v * draw(st.floats(0.78, 0.84))
    peak_a = short_a * draw(st.floats(0.90, 0.955))
    return ModuleData.model_validate(
        {
            "power": f"{peak_v * peak_a} W",
            "max_power_voltage": f"{peak_v} V",
            "max_power_current": f"{peak_a} A",
            "open_circuit_voltage": f"{open_v} V",
            "short_circuit_current": f"{short_a} A",
            "open_circuit_temperature": f"{draw(st.floats(-0.36, -0.25))} %/degC",
            "short_circuit_temperature": f"{draw(st.floats(0.02, 0.08))} %/degC",
            "cells": cells,
        }
    )


@settings(max_examples=60, deadline=None)
@given(data=data_sheets())
def test_fit_goes_through_its_five_points(data):
    """Any plausible data sheet gives a curve through all five of its points."""
    module = module_from_points(data, "any")
    light, cell = np.array([1000.0]), np.array([25.0])
    volts = np.array([0.0, data.max_power_v])
    amps = current_a(module, light, cell, volts)
    expected = [data.short_circuit_a, data.max_power_a]
    np.testing.assert_allclose(amps, expected, rtol=1e-6)
    power = max_power_w(module, light, cell)[0]
    assert power == pytest.approx(data.max_power_v * data.max_power_a, rel=1e-6)
    warm = open_circuit_v(module, np.full(2, 1000.0), np.array([25.0, 27.0]))
    assert warm[0] == pytest.approx(data.open_circuit_v, rel=1e-6)
    slope = (warm[1] / warm[0] - 1) / 2.0
    assert slope == pytest.approx(data.open_circuit_per_k, abs=1e-6)
    assert module.shunt_ohm > 0
    assert module.series_ohm >= 0


@settings(max_examples=60, deadline=None)
@given(light=LIGHT, cell=CELL, bus_v=st.floats(9.0, 16.2))
def test_straight_lines_stay_below_the_curve(module, light, cell, bus_v):
    """Current between nodes is never above the curve's and close to it on a bus."""
    nodes = pwm_nodes_v(12.0, 0.3)
    rows = current_a(module, light, cell, nodes)[None, :]
    # Where the curve ends below a node its current is held at zero there, and the
    # line towards that node may pass above the curve by a milliampere.
    assume(rows.min() > 0)
    found = pwm_string_current_a(
        np.array([bus_v]), drop_v=0.3, v_nodes_v=nodes, i_string_a=rows
    )
    true = current_a(module, light, cell, bus_v + 0.3)
    assert found[0] <= true + 1e-9
    assert found[0] >= rows[0, -1] - 1e-12


def test_regulator_holds_the_ends():
    """Outside the span of the nodes the end currents stand; efficiency counts once."""
    nodes, rows = np.array([9.0, 12.0, 15.0]), np.array([[5.0, 4.0, 1.0]] * 2)
    found = pwm_string_current_a(
        np.array([3.0, 40.0]), drop_v=0.0, v_nodes_v=nodes, i_string_a=rows
    )
    np.testing.assert_array_equal(found, [5.0, 1.0])
    np.testing.assert_allclose(mppt_power_w(np.array([50.0]), 0.9), [45.0])
