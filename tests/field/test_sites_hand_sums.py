"""Whole sites against sums made by hand, then odd sizes, skies and loads."""

from __future__ import annotations

import re

import pytest

from powerbudget.balance.problem import prepare
from powerbudget.balance.simulation import simulate, simulate_size
from powerbudget.loads.budget import load_budget
from powerbudget.report.document.package import Package
from powerbudget.report.screens.size import size_screen
from powerbudget.site.reader import read_site_text
from powerbudget.sizing.search import size
from powerbudget.sizing.tilt import search_tilt
from powerbudget.sizing.worksheet.record_figures import truth_of

HEAD = """
[site]
name = "Judged"
latitude = "36.1 N"
longitude = "79.95 W"
elevation = "270 m"
time_zone = "UTC-5"
[weather]
record = "greensboro"
[bus]
nominal = "12 V"
low_voltage_disconnect = "11.6 V"
low_voltage_reconnect = "12.8 V"
contingency = "10 %"
standing_leakage = "5 mA"
"""
MIXED = """
[[supply]]
name = "loops 24"
output = "24 V"
rated = "10 W"
no_load = "0.3 W"
efficiency = "85 %"
source = "test"
[[load]]
name = "controller"
typical = "1.5 W"
maximum = "3 W"
source = "test"
[[load]]
name = "radio"
part = "radio-licensed-5w"
traffic = { polls_per_hour = 30, registers = 10, bit_rate = "9600 bit/s", \
key_up = "40 ms", tail = "10 ms", bits_per_character = 10 }
[[load]]
name = "transmitters"
part = "transmitter-pressure-two-wire"
quantity = 4
supply = "loops 24"
[[load]]
name = "pump"
typical = "8 W"
maximum = "12 W"
duty = "10 %"
hours = "08:00-18:00"
source = "test"
[[load]]
name = "heater"
typical = "20 W"
maximum = "20 W"
duty = "0 %"
seasons = [{ dates = "15 Nov to 1 Mar", duty = "10 %" }]
source = "test"
[[load]]
name = "display"
typical = "50 mA"
maximum = "80 mA"
source = "test"
"""
TAIL = """
[array]
module = "module-36-cell-100w"
parallel = 2
tilt = "55 deg"
azimuth = "south"
[charge_controller]
kind = "mppt"
[battery]
chemistry = "agm"
unit = "battery-agm-12v-100ah"
parallel = 3
[criteria]
availability = "99.9 %"
autonomy = "5 d"
autonomy_temperature = "-10 degC"
deepest_discharge = "60 %"
"""
DARK = """
[weather.monthly]
source = "a polar place, invented"
clearness = [0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5]
temperature = "-5 -5 -4 0 2 5 7 6 3 0 -3 -5 degC"
years = 1
"""


MONSOON = DARK.replace(
    "0.5, " * 11, "0.65, 0.6, 0.6, 0.5, 0.3, 0.2, 0.2, 0.2, 0.4, 0.5, 0.6, "
)


def _elsewhere(sky: str, latitude: str) -> str:
    """Return the head of a site at another latitude on 20 degrees east."""
    head = HEAD.replace("36.1 N", latitude).replace("79.95 W", "20 E")
    head = head.replace("UTC-5", "UTC+1")
    return re.sub(r'\[weather\]\nrecord = "greensboro"\n', sky, head)


def _load(draw: str, more: str = "") -> str:
    return f'[[load]]\nname = "box"\ntypical = "{draw}"\nsource = "test"\n{more}\n'


def _problem(*parts: str):
    return prepare(read_site_text("".join(parts)))


def test_every_line_is_the_hand_sum_made_before():
    """Two-term converter, radio traffic, hours, season and contingency, line by line."""
    slope = (10 / 0.85 - 0.3) / 10
    sending = (25 * 10 / 9600 + 0.05) * 30 / 3600
    loops = 4 * 0.012 * 24
    expected = {
        "loops 24: no-load": 0.3 * 24,
        "loops 24: conversion": (slope - 1) * loops * 24,
        "charge controller self-consumption": 0.015 * 12 * 24,
        "standing leakage": 0.005 * 12 * 24,
        "controller": 1.5 * 24,
        "radio": (1.725 + sending * (22.8 - 1.725)) * 24,
        "transmitters": loops * 24,
        "pump": 8 * 0.1 * 10,
        "heater": 20 * 0.1 * 24,
        "display": 0.05 * 12 * 24,
    }
    budget = load_budget(read_site_text(HEAD + MIXED + TAIL))
    found = {line.name: line.wh_per_day for line in budget.lines}
    for name, wh in expected.items():
        assert found[name] == pytest.approx(wh, rel=1e-9), name
    whole = 1.1 * sum(expected.values())
    assert budget.ah_per_day == pytest.approx(whole / 12)
    # All loops at 21 mA through the converter, all else at its highest.
    most = 3 + 30 + 12 + 20 + 0.08 * 12 + 0.06 + 0.18 + 0.3 + slope * 4 * 0.021 * 24
    assert budget.maximum_w == pytest.approx(most)


@pytest.mark.parametrize(("draw", "strings"), [("50 mW", 1), ("1 W", 20)])
def test_a_spell_of_one_night_still_compares_like_with_like(draw, strings):
    """A bank filled every day has no dark spell: the figures stay near those by hand."""
    run = simulate_size(_problem(HEAD, _load(draw), TAIL), strings, 1)
    truth = truth_of(run)
    assert truth.spell_days < 2
    assert 4.0 < truth.string_ah_per_kwh < 8.0
    assert 0.2 < truth.dependable_sun <= 24.0


def test_worksheet_of_a_tiny_load_is_compared_in_figures_that_can_be_meant():
    """No assumption of a 50 mW site is worth more than a factor of some."""
    found = size(_problem(HEAD, _load("50 mW"), TAIL)).disagreement
    assert found.reasons
    assert max(abs(reason.effect_frac) for reason in found.reasons) < 3.0


@pytest.mark.slow
def test_polar_night_has_no_array_by_hand():
    """Where the design month has no sun the page says so, not millions of strings."""
    result = size(_problem(_elsewhere(DARK, "75 N"), _load("5 W"), TAIL))
    found = result.disagreement
    assert found.dark_month
    assert found.by_hand.startswith(
        f"no array (no irradiation in {found.dark_month}) and "
    )
    package = Package(result.problem.design).but(sizing=result)
    assert found.by_hand in " ".join(size_screen(package).text.split())
    assert not [r for r in found.reasons if r.side == "array"]
    sun = next(line for line in result.worksheet if line.symbol == "G")
    assert sun.inputs.startswith("no irradiation: no array can carry this month")


def test_a_summer_load_is_not_blamed_on_volts():
    """Where the spell lies in another season, the sentence names the design month."""
    when = 'months = "Jun-Aug"\nhours = "11:00-15:00"'
    loads = _load("4 W") + _load("20 W", when).replace("box", "fan")
    found = size(_problem(HEAD, loads, TAIL)).disagreement
    load = next(r for r in found.reasons if r.assumption == "load of the design month")
    assert load.in_record < 0.7 * load.by_hand
    assert re.search(r"Ah/day in (Jun|Jul|Aug) at nominal voltage", load.words)


def test_low_charge_efficiency_has_its_own_reason():
    """Below the figure by hand it is gas near full, above it the load fed past."""
    for draw in ("50 mW", "10 W"):
        found = size(_problem(HEAD, _load(draw), TAIL)).disagreement
        charge = next(
            r for r in found.reasons if r.assumption == "coulombic efficiency"
        )
        why = (
            "served by the array directly"
            if charge.in_record >= charge.by_hand
            else "gas"
        )
        assert why in charge.words


def test_too_heavy_a_load_is_no_empty_battery():
    """A full bank that 5 kW pulls down is overloaded, not used up."""
    run = simulate(read_site_text(HEAD + _load("5 kW") + TAIL))
    assert run.outages[0].kind == "load"
    assert run.outages[0].charge_left_frac > 0.9
    assert "battery depleted" not in run.outages[0].cause


def test_one_more_step_is_named_by_its_size():
    """Where panels are bought in threes, the row says that three were added."""
    steps = "[sizing]\narray_step = 3\nbattery_step = 2\n"
    result = size(_problem(HEAD, MIXED, TAIL, steps))
    assert [row.piece for row in result.one_more] == [
        "3 array strings",
        "2 battery strings",
    ]
    assert result.one_more[0].modules == result.pick.modules + 3


def test_nobody_is_told_to_ask_for_nothing():
    """Where the best in reach is no day at all, no criterion of 0 d is proposed."""
    tail = TAIL.replace('"-10 degC"', '"-70 degC"')
    result = size(_problem(HEAD, MIXED, tail))
    cures = [row.cure for row in result.unmet]
    assert cures
    assert not any("lower limit of 0 " in cure for cure in cures)


def test_the_tilt_for_a_polar_night_is_that_of_its_autumn_and_spring():
    """Weeks without light on any plane decide nothing; longer ones are looked at."""
    found = search_tilt(_problem(_elsewhere(DARK, "75 N"), _load("5 W"), TAIL))
    assert found.window_days in {84, 168}
    assert found.pick.worst_kwh_m2_day > 0.01
    assert found.pick.worst_share > 0.98
    assert 60 <= found.pick.tilt_deg <= 90


def test_a_monsoon_at_8_degrees_is_faced_from_the_other_side():
    """Dark weeks in July, with the sun in the north, ask for a panel to the north."""
    found = search_tilt(_problem(_elsewhere(MONSOON, "8 N"), _load("5 W"), TAIL))
    assert found.pick.azimuth_deg < 90 or found.pick.azimuth_deg > 270
    assert {row.azimuth_deg for row in found.rows} >= {0.0, 180.0}
