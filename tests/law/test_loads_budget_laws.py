"""What holds for every load list."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from powerbudget.balance.stages import load_moments
from powerbudget.loads import traffic as t
from powerbudget.loads.daylight import night_frac
from powerbudget.loads.difference import changes
from powerbudget.loads.heat import heater_w
from powerbudget.loads.loop_checks import clips_at_a, needed_v
from powerbudget.loads.rack import channels_needed
from powerbudget.loads.schedule import share
from powerbudget.loads.series import bus_series
from powerbudget.loads.voltage import end_of_wire
from powerbudget.site.load import Load, Traffic

MIXED = """
[[supply]]
name = "loops"
output = "24 V"
rated = "20 W"
no_load = "0.2 W"
efficiency = "85 %"
[[load]]
name = "one"
typical = "3 W"
maximum = "9 W"
peak = "20 W"
hours = "06:00-18:30"
wire = { gauge = "16 AWG", length = "100 ft" }
[[load]]
name = "two"
typical = "12 mA"
quantity = 5
supply = "loops"
priority = "shed second"
[[load]]
name = "three"
typical = "6 W"
behaviour = "resistance"
months = "Nov-Mar"
priority = "shed first"
[[load]]
name = "four"
typical = "10 mA"
quantity = 3
[[load]]
name = "five"
typical = "0.5 W"
strokes = { per_day = 10, draw = "60 W", time = "15 s", inrush = "150 W" }
priority = "shed first"
"""
DRIVEN = """
[[load]]
name = "lamp"
typical = "5 W"
when = "night"
priority = "shed first"
[[load]]
name = "heater"
typical = "60 W"
behaviour = "resistance"
heater = { thermostat = "5 degC", loss = "1.5 W/degC", warmed_by = "2 W" }
[[load]]
name = "pump"
typical = "30 W"
duty = "1 %"
seasons = [{ dates = "15 Nov to 1 Mar", duty = "8 %" }]
"""
STEPS = 'shed_first = "24.4 V"\nshed_second = "23.9 V"'


@pytest.fixture(scope="module")
def mixed(budget_of):
    """Return a budget with every behaviour, tier and schedule by the clock."""
    return budget_of(MIXED, bus=STEPS, contingency="15 %", leakage="7 mA", own="20 mA")


@pytest.fixture(scope="module")
def driven(budget_of):
    """Return a budget with loads that follow night, air and date."""
    return budget_of(MIXED + DRIVEN, bus=STEPS, contingency="15 %", leakage="7 mA")


def test_lines_add_up_to_the_energy(mixed, driven):
    """The lines' energies come to that of the bus in the heaviest month."""
    for budget in (mixed, driven):
        assert sum(x.wh_per_day for x in budget.lines) == pytest.approx(
            budget.wh_per_day, rel=1e-12
        )


def test_contingency_is_applied_once(budget_of):
    """Fifteen per cent of contingency make the energy 1.15 times as large."""
    plain = budget_of(MIXED, bus=STEPS, leakage="7 mA", own="20 mA")
    more = budget_of(MIXED, bus=STEPS, contingency="15 %", leakage="7 mA", own="20 mA")
    assert more.wh_per_day == pytest.approx(1.15 * plain.wh_per_day, rel=1e-12)
    assert more.maximum_w == plain.maximum_w
    assert more.peak_a == plain.peak_a


def test_tiers_add_up_to_the_bus(mixed, driven):
    """The three tiers come to the whole load, by behaviour, month and hour."""
    for budget in (mixed, driven):
        for whole, tiers in (
            (budget.bus_w, budget.tier_w), (budget.bus_a, budget.tier_a),
            (budget.bus_s, budget.tier_s),
        ):  # fmt: skip
            assert np.allclose(tiers.sum(axis=0), whole, rtol=0, atol=1e-12)
            assert np.all(tiers >= 0)


def test_tiers_hold_what_their_lines_say(mixed):
    """The first tier to go holds the resistive line and the strokes, nothing else."""
    resistance = 1.15 * 6 / 24**2
    assert mixed.tier_s[1, 0] == pytest.approx(np.full(24, resistance))
    assert mixed.tier_s[1, 6] == pytest.approx(np.zeros(24))
    strokes = 10 * 60 * 15 / 86_400
    assert mixed.tier_w[1] == pytest.approx(np.full((12, 24), 1.15 * (0.5 + strokes)))
    loops = 5 * 0.012 * 24 * (1 / 0.85 - 0.2 / 20)
    assert mixed.tier_w[2] == pytest.approx(np.full((12, 24), 1.15 * loops))


def test_series_of_clock_loads_is_the_table(mixed):
    """Loads that follow the clock give the table of their month and hour."""
    rows = bus_series(mixed, mixed.grid)
    at = (mixed.grid.month - 1, mixed.grid.hour)
    for k, table in enumerate((mixed.bus_w, mixed.bus_a, mixed.bus_s)):
        assert np.allclose(rows.sum(axis=1)[:, k], table[at], rtol=0, atol=1e-12)


def test_series_at_design_cold_keeps_the_energy_of_the_tables(driven):
    """Over the design year the series and the tables hold the same energy."""
    rows = bus_series(driven, driven.grid).sum(axis=1)
    days = np.bincount(driven.grid.month - 1) / 24
    for k, table in enumerate((driven.bus_w, driven.bus_a, driven.bus_s)):
        assert rows[:, k].sum() == pytest.approx((table.sum(axis=1) * days).sum())


def test_warm_air_takes_the_heater_off(driven):
    """At 20 degC the heater draws nothing and nothing else changes."""
    import dataclasses

    warm = dataclasses.replace(driven.grid, air_degc=np.full(8760, 20.0))
    cold_rows, warm_rows = bus_series(driven, driven.grid), bus_series(driven, warm)
    heater = 1.15 * min(60.0, 1.5 * (5 + 20) - 2) / 24**2
    gone = cold_rows[:, 0, 2] - warm_rows[:, 0, 2]
    assert gone == pytest.approx(np.full(8760, heater))
    assert np.array_equal(cold_rows[:, 1:], warm_rows[:, 1:])
    assert np.array_equal(cold_rows[:, 0, :2], warm_rows[:, 0, :2])


def test_simulation_gets_the_series(site_text):
    """The kernel's columns hold the load of the record's own air and night."""
    from powerbudget.balance import columns as col
    from powerbudget.balance.problem import prepare
    from powerbudget.site.reader import read_site_text

    problem = prepare(read_site_text(site_text(MIXED + DRIVEN, bus=STEPS)))
    moments = load_moments(problem.record)
    rows = bus_series(problem.budget, moments).sum(axis=1)
    siemens = sum(problem.hourly[tier[2]] for tier in col.TIERS)
    assert siemens == pytest.approx(rows[:, 2], abs=1e-15)
    heater = next(x for x in problem.budget.slices if x.name == "heater")
    expected = heater.amount * heater_w(
        problem.record.temp_air_degc, thermostat_degc=5, loss_w_per_k=1.5,
        rated_w=60, inside_w=2,
    ) / 60  # fmt: skip
    winter = np.isin(problem.record.month, (11, 12, 1, 2, 3))
    known = 6 / 24**2 * winter
    assert siemens == pytest.approx(expected + known, abs=1e-12)


@given(
    volts=st.floats(9, 60), watts=st.floats(0.01, 200), ohm=st.floats(0, 3),
    how=st.sampled_from(["power", "current", "resistance"]),
)  # fmt: skip
def test_end_of_wire_obeys_ohm(volts, watts, ohm, how):
    """Source less drop is the terminal voltage, and the load draws what it should."""
    nominal = 24.0
    end = end_of_wire(volts, watts, nominal, how, ohm)
    if how == "power" and volts**2 < 4 * ohm * watts:
        assert end.volts == 0.0
        return
    assert volts - end.amps * ohm == pytest.approx(end.volts, abs=1e-9)
    drawn = {
        "power": watts / end.volts if end.volts else 0, "current": watts / nominal,
        "resistance": end.volts * watts / nominal**2,
    }[how]  # fmt: skip
    assert end.amps == pytest.approx(drawn, rel=1e-6)


@given(extra=st.floats(0.01, 50), duty=st.floats(0.01, 1))
@settings(max_examples=20, deadline=None)
def test_one_more_load_never_lowers_a_sum(budget_of, extra, duty):
    """Energy, maximum and peak grow with an added line."""
    base = budget_of(MIXED, bus=STEPS)
    more = budget_of(
        MIXED + f'[[load]]\nname = "x"\ntypical = "{extra:.9f} W"\nduty = {duty:.9f}\n',
        bus=STEPS,
    )
    assert more.wh_per_day == pytest.approx(
        base.wh_per_day + 24 * extra * duty, rel=1e-6
    )
    assert more.maximum_w > base.maximum_w
    assert more.peak_a > base.peak_a


def test_differences_add_up(mixed, driven):
    """The changes of the lines come to the change of the whole, and turn round."""
    there, back = changes(mixed, driven), changes(driven, mixed)
    delta = driven.wh_per_day - mixed.wh_per_day
    assert sum(row.delta_wh_per_day for row in there) == pytest.approx(delta, rel=1e-9)
    assert sum(row.delta_wh_per_day for row in back) == pytest.approx(-delta, rel=1e-9)
    assert {row.change for row in changes(mixed, mixed)} == {"same"}
    words = {row.name: row.change for row in there}
    assert (words["lamp"], words["one"]) == ("added", "same")
    assert {row.name: row.change for row in back}["lamp"] == "removed"


@given(
    polls=st.floats(0, 120), stations=st.integers(1, 8), registers=st.integers(1, 200),
    retries=st.floats(0, 0.5),
)  # fmt: skip
def test_a_repeater_sends_more_than_its_station(polls, stations, registers, retries):
    """States come to one, and repeating adds both directions of every station."""
    keys = {
        "polls_per_hour": polls, "registers": registers, "retries": retries,
        "bit_rate": "19200 bit/s", "key_up": "20 ms",
    }  # fmt: skip
    alone = t.states(Traffic(**keys))
    repeater = t.states(Traffic(**keys, role="repeater", stations=stations))
    master = t.states(Traffic(**keys, role="master", stations=stations))
    total = repeater.transmit_frac + repeater.receive_frac + repeater.sleep_frac
    assert total == pytest.approx(1.0)
    # Each station behind it costs its requests and its answers once more.
    assert repeater.transmit_frac == pytest.approx(
        alone.transmit_frac * (1 + stations) + master.transmit_frac, abs=1e-12
    )


@given(octets=st.integers(0, 4000))
def test_dnp3_length_never_falls(octets):
    """More application octets never make a shorter message."""
    shorter, longer = t.dnp3_message_bytes(octets), t.dnp3_message_bytes(octets + 1)
    assert shorter < longer
    assert shorter >= octets + 11


@given(
    supply=st.floats(8, 40), ohm=st.floats(0, 900), low=st.floats(8, 20),
    high=st.floats(8, 20),
)  # fmt: skip
def test_loops_clip_where_the_volts_meet(supply, ohm, low, high):
    """Below the clipping current there are volts enough; at it they just meet."""
    curve, span = ((0.004, low), (0.020, high)), (0.0036, 0.021)
    clips = clips_at_a(supply, ohm, curve, span)
    grid = np.linspace(*span, 400)
    spare = supply - grid * ohm - needed_v(curve, grid)
    if clips is None:
        assert np.all(spare >= -1e-6)
    else:
        assert np.all(spare[grid < clips - 1e-9] >= -1e-6)
        if clips > span[0]:
            there = np.array([clips])
            left = supply - there * ohm - needed_v(curve, there)
            assert left == pytest.approx(0, abs=1e-6)


@given(points=st.integers(0, 500), spare=st.floats(0, 1), kept=st.integers(0, 50))
def test_channels_hold_points_and_spares(points, spare, kept):
    """There is a channel for every point, every kept spare and the share on top."""
    found = channels_needed(points, spare, kept)
    assert found >= points + kept
    assert found >= points * (1 + spare) - 1e-6
    assert found <= max(points + kept, points * (1 + spare) + 1)


@given(latitude=st.floats(-60, 60), day=st.integers(1, 365))
def test_nights_at_both_sides_of_the_equator(latitude, day):
    """A summer night here is a winter night there; a year halves into day and night."""
    hours = np.arange(24.0)
    number = np.full(24, float(day))
    here = night_frac((latitude, 0.0, 0.0), number, hours).sum()
    there = night_frac((-latitude, 0.0, 0.0), number, hours).sum()
    # Refraction and the sun's radius lengthen both days.
    assert 22.4 < here + there < 24.1


def test_season_runs_over_new_year():
    """A season from November to March holds its ends and leaves the summer."""
    from powerbudget.loads.schedule import design_grid

    load = Load(
        name="pump", typical="10 W", duty="10 %",
        seasons=[{"dates": "15 Nov to 1 Mar", "duty": "50 %"}],
    )  # fmt: skip
    grid = design_grid((50.0, 0.0, 0.0), 0.0)
    daily = share(load, grid).reshape(365, 24)[:, 0]
    assert daily[0] == 0.5
    assert daily[59] == 0.5
    assert daily[60] == 0.1
    assert daily[317] == 0.1
    assert daily[318] == 0.5
