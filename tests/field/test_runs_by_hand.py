"""Panel, snow, bank and run: small sums and the words about them, worked by hand."""

from __future__ import annotations

import dataclasses
import math
from types import SimpleNamespace

import numpy as np
import pytest
from reference.figures import tells

from powerbudget.array import module, snow, string_output
from powerbudget.balance import (
    arrayload,
    design_cold,
    events,
    packed_site,
    run_findings,
)
from powerbudget.balance import columns as col
from powerbudget.balance.drive import aged_health_frac
from powerbudget.balance.months import monthly_rows
from powerbudget.balance.problem import prepare
from powerbudget.balance.ring import state_history
from powerbudget.balance.run import Run
from powerbudget.balance.simulation import simulate_size
from powerbudget.balance.stages import fill_controller, tracker_input_w
from powerbudget.errors import DataError, InputError
from powerbudget.site.cells import float_faults
from powerbudget.site.module_checks import point_faults
from powerbudget.site.reader import read_site_text
from powerbudget.weather import horizon

LOAD = '[[load]]\nname = "station"\ntypical = "10 W"\nmaximum = "14 W"\n'


def bag(**values):
    """Return a bag of figures."""
    return SimpleNamespace(**values)


@pytest.fixture(scope="module")
def run(site_text):
    """Return a 12 V site of 10 W, simulated."""
    return simulate_size(prepare(read_site_text(site_text(LOAD, 12))))


# ---------------------------------------------------------------- snow


@pytest.mark.parametrize(
    ("total_cm", "days", "stated", "falls"),
    [(4.0, 31, None, 1), (7.4, 31, None, 1), (7.6, 31, None, 2), (50.0, 31, None, 10),
     (500.0, 28, None, 28), (50.0, 31, 4, 4), (50.0, 31, 0, 1), (9.0, 1, 6, 1)],
)  # fmt: skip
def test_a_months_snow_comes_in_falls_of_five_centimeters(
    total_cm, days, stated, falls
):
    """Or on the stated days; at least one, and no more than the month has."""
    by_month = None if stated is None else (99, stated)
    found = snow._falls(total_cm, bag(snow_days=by_month), 1, days)
    assert found == falls


@pytest.mark.parametrize("step", [1.0, 0.5])
def test_snow_is_laid_on_the_darkest_days_that_are_cold(step):
    """12 cm in January: two falls of 6 cm, each from 4 to 6 o'clock; 1 degC is still cold."""
    per_day = round(24 / step)
    days = np.datetime64("2001-01-01") + np.arange(59)
    day = np.repeat(np.arange(59), per_day)
    hour = np.tile(np.arange(per_day) * step, 59)
    light, degc = np.full(59, 100.0), np.full(59, 1.0)
    light[[3, 7, 9, 40]], degc[[3]] = [10.0, 20.0, 30.0, 5.0], 1.1
    record = bag(
        day_number=day, day_local=days[day], hour_local=hour, ghi_w_m2=light[day],
        temp_air_degc=degc[day],
    )  # fmt: skip
    falls = (0.12, 0.03) + (0.0,) * 10
    fell = snow._laid_out(record, bag(snowfall_m=falls, snow_days=None))
    by_day = np.bincount(day, fell)
    assert np.flatnonzero(by_day).tolist() == [7, 9, 40]
    assert by_day[[7, 9, 40]] == pytest.approx([6.0, 6.0, 3.0])
    assert set(hour[fell > 0]) == set(np.arange(4.0, 6.0, step))


@pytest.mark.parametrize(
    ("strings", "covered", "lost"),
    [(1, 0.0, 0.0), (1, 0.01, 1.0), (2, 0.5, 0.5), (2, 0.51, 1.0), (3, 0.1, 1 / 3),
     (3, 0.67, 1.0), (1, 1.0, 1.0)],
)  # fmt: skip
def test_a_string_of_cells_that_snow_touches_is_lost(
    monkeypatch, strings, covered, lost
):
    """Whole strings of cells, each as soon as it is touched."""
    names = snow.snow_lost_frac.__globals__
    monkeypatch.setitem(names, "snowfall_cm", lambda *_: None)
    monkeypatch.setitem(names, "_sliding", lambda *_: np.array([covered]))
    array = bag(snow=bag(cover="slides", cell_strings=strings), tilt_deg=60.0)
    found = snow.snow_lost_frac(bag(n=1), None, array)
    assert found == pytest.approx([lost])
    array.snow.cover = "none"
    assert snow.snow_lost_frac(bag(n=3), None, array).tolist() == [0.0] * 3


@pytest.mark.parametrize(("every", "first", "second"), [(7.0, 12, 180), (0.01, 12, 13)])
@pytest.mark.parametrize("step", [1.0, 0.5])
def test_a_sweeper_comes_at_noon_and_then_every_so_many_days(
    every, first, second, step
):
    """Visits by interval, the end of the record as the last one."""
    n = round(400 / step)
    record = bag(n=n, step_h=step)
    visits = snow._visits(record, bag(cover="cleared", cleared_every_d=every))
    assert visits[0] == round(first / step)
    assert visits[1] == (round(second / step) if every > 1 else visits[0] + 1)
    assert visits[-1] == n
    assert snow._visits(record, bag(cover="stays")).tolist() == [n]


@pytest.mark.parametrize(
    ("degc", "hours", "years", "said"),
    [(-2.1, 200, 1.0, True), (-2.1, 199, 1.0, False), (-2.0, 8000, 1.0, False),
     (-2.1, 399, 2.0, False), (-2.1, 400, 2.0, True)],
)  # fmt: skip
def test_no_snow_is_pointed_out_where_200_hours_a_year_are_cold(
    degc, hours, years, said
):
    """Under -2 degC; half-hours count half."""
    air = np.full(20_000, 10.0)
    air[: 2 * hours] = degc
    record = bag(temp_air_degc=air, step_h=0.5, years=years, snow_depth_m=None)
    found = snow.snow_findings(record, bag(snow=None))
    assert bool(found) == said
    for one in found:
        assert tells(one.text, f"({hours / years:,.0f} h/yr below -2 °C)")


@pytest.mark.parametrize(
    ("tilt", "depth", "deep_h", "levels"),
    [(45.0, None, 200, ["note"]), (44.9, None, 0, ["note", "warning"]),
     (44.9, 1.0, 0, ["note"]), (60.0, None, 201, ["note", "warning"])],
)  # fmt: skip
def test_where_the_snow_model_does_not_carry_is_told(tilt, depth, deep_h, levels):
    """Flatter than 45 deg without snow on the ground; 200 h a year below -12.5 degC."""
    air = np.full(17_520, 0.0)
    air[: 2 * deep_h] = -12.6
    record = bag(temp_air_degc=air, step_h=0.5, years=1.0, snow_depth_m=depth)
    table = bag(cover="slides", cleared_every_d=None, snowfall_m=(0.1,) * 12)
    found = snow.snow_findings(record, bag(snow=table, tilt_deg=tilt))
    assert [one.severity for one in found] == levels
    if deep_h > 200:
        assert tells(
            found[1].text,
            f"below -12.5 °C ({deep_h} h",
        )
    air[:] = -12.5
    assert len(snow.snow_findings(record, bag(snow=table, tilt_deg=60.0))) == 1
    table.cover, table.cleared_every_d = "cleared", 14.0
    assert tells(
        snow.snow_findings(record, bag(snow=table, tilt_deg=9.0))[0].text,
        "cleared every 14 d",
    )
    table.cover = "stays"
    [stays] = snow.snow_findings(record, bag(snow=table, tilt_deg=9.0))
    assert tells(
        stays.text, "stays until 12 h over 1 degC melt it; snowfall from monthly sums"
    )


# ---------------------------------------------------------------- panels


@pytest.mark.parametrize(
    ("zenith", "clear"), [(80.0, True), (79.9, True), (80.1, False), (91.0, False)]
)
def test_the_sun_stands_over_a_hill_of_ten_degrees(zenith, clear):
    """As high as the hill is over it."""
    found = horizon.beam_open(((0.0, 10.0),), np.array([zenith]), np.array([123.0]))
    assert found.tolist() == [clear]


@pytest.mark.parametrize("tilt", [0.0, 30.0, 90.0])
def test_a_wall_in_front_takes_the_sky_that_it_covers(tilt):
    """By the integral of cos(h) (sin h cos t + cos h sin t cos a) over what is seen.

    The wall is 45 deg high, all along the side to which the plane is turned.
    """
    points = tuple(
        (float(a), 45.0 if 90 <= a <= 270 else 0.0) for a in range(0, 360, 10)
    )
    h = np.radians((np.arange(1800) + 0.5) / 20)[:, None]
    a = np.radians(np.arange(0.5, 360.0))[None, :]
    t = np.radians(tilt)
    facing = np.sin(h) * np.cos(t) + np.cos(h) * np.sin(t) * np.cos(a - np.pi)
    light = np.maximum(facing, 0.0) * np.cos(h)
    seen = h >= np.radians(horizon.horizon_deg(points, np.degrees(a)))
    wanted = float((light * seen).sum() / light.sum())
    assert horizon.sky_seen_frac(points, tilt, 180.0) == pytest.approx(
        wanted, abs=0.006
    )


def test_a_horizon_is_read_with_or_without_a_head(tmp_path):
    """A first line of words is a head; the same further down is a fault by its number."""
    file = tmp_path / "hills.csv"
    file.write_text("azimuth,height\n0,5\n\n90,10\n", "utf-8")
    assert horizon.read_horizon(file) == ((0.0, 5.0), (90.0, 10.0))
    file.write_text("0,5\n90,10\n", "utf-8")
    assert horizon.read_horizon(file) == ((0.0, 5.0), (90.0, 10.0))
    file.write_text("0,5\nninety,10\n", "utf-8")
    with pytest.raises(DataError, match="line 2"):
        horizon.read_horizon(file)


SHEET = {
    "power_w": 100.0, "max_power_v": 20.0, "max_power_a": 5.0, "open_circuit_v": 25.0,
    "short_circuit_a": 5.5, "cells": 40,
}  # fmt: skip


@pytest.mark.parametrize(
    ("figures", "key"),
    [({}, ""), ({"power_w": 95.24}, ""), ({"power_w": 95.2}, "power"),
     ({"power_w": 105.2}, ""), ({"power_w": 105.3}, "power"),
     ({"open_circuit_v": 20.9}, ""),
     ({"open_circuit_v": 20.8}, "open_circuit_voltage, short_circuit_current"),
     ({"open_circuit_v": 38.0, "short_circuit_a": 5.3, "cells": 60},
      "open_circuit_voltage, short_circuit_current"),
     ({"cells": 27}, ""), ({"cells": 26}, "cells"), ({"cells": 222}, ""),
     ({"cells": 223}, "cells")],
)  # fmt: skip
def test_a_data_sheet_is_believed_within_its_ranges(figures, key):
    """5 % between watts and the product, fill 0.5 to 0.87, 0.45 to 0.95 V a cell."""
    found = list(point_faults(bag(**{**SHEET, **figures}), "m"))
    assert [fault.where for fault in found] == ([f"m.{key}"] if key else [])


def test_cells_are_guessed_by_the_nearest_usual_count():
    """0.64 V each: 25 V are about 36, 47 V about 72."""
    for volts, likely in ((25.0, 36), (31.0, 48), (35.0, 54), (38.5, 60), (47.0, 72),
                          (62.0, 96)):  # fmt: skip
        odd = {**SHEET, "open_circuit_v": volts, "cells": 7, "short_circuit_a": 5.1,
               "max_power_v": 0.8 * volts, "max_power_a": 4.9, "power_w": 3.92 * volts}  # fmt: skip
        [fault] = point_faults(bag(**odd), "m")
        assert f"as with {likely} cells" in fault.allowed
        assert f"would be {volts / 7:.2f} V" in fault.problem


@pytest.mark.parametrize(
    ("figures", "key"),
    [({"open_circuit_per_k": -0.0045}, "short"), ({"open_circuit_per_k": -0.00451}, "temp"),
     ({"open_circuit_per_k": -0.002}, "short"), ({"open_circuit_per_k": -0.00199}, "temp"),
     ({"max_power_a": 0.85}, "volt"), ({"max_power_a": 0.849}, "short"),
     ({"max_power_a": 0.965}, "volt"), ({"max_power_a": 0.966}, "short")],
)  # fmt: skip
def test_what_stands_out_of_a_sheet_is_named_at_its_edges(figures, key):
    """Coefficient of -0.45 to -0.2 %/K, currents of 0.85 to 0.965, and else the volts."""
    data = {"max_power_v": 16.0, "open_circuit_v": 20.0, "max_power_a": 0.5,
            "short_circuit_a": 1.0, "open_circuit_per_k": -0.003}  # fmt: skip
    fault = module._no_curve(bag(**{**data, **figures}), "m")
    words = {"temp": "open_circuit_temperature", "short": "short_circuit_current",
             "volt": "open_circuit_voltage"}  # fmt: skip
    assert fault.where == f"m.{words[key]}"


def test_an_unknown_module_is_answered_with_three_names_at_most():
    """Near spellings, and not a page of them."""
    with pytest.raises(InputError) as caught:
        module.module_from_cec(module._cec_table().columns[0][:-1])
    assert str(caught.value.faults[0].advice).count(" or ") <= 2


def test_what_is_left_behind_mismatch_wires_and_age_is_a_product():
    """10 %, 20 % and 5 % leave 0.9 x 0.8 x 0.95; soiling and albedo go by the month."""
    array = bag(mismatch_frac=0.1, wiring_frac=0.2, ageing_frac=0.05)
    assert string_output._kept_frac(array) == pytest.approx(0.684)
    record = bag(month=np.array([1, 12, 6]), albedo_frac=np.array([0.6, np.nan, 0.1]))
    months = tuple(range(1, 13))
    dirty = bag(soiling_by_month=months, soiling_frac=0.5, albedo_by_month=months,
                albedo_frac=0.2)  # fmt: skip
    assert string_output.soiling_frac(record, dirty).tolist() == [1, 12, 6]
    assert string_output.albedo_of(record, dirty).tolist() == [1, 12, 6]
    plain = bag(
        soiling_by_month=None, soiling_frac=0.5, albedo_by_month=None, albedo_frac=0.2
    )
    assert string_output.soiling_frac(record, plain) == 0.5
    assert string_output.albedo_of(record, plain).tolist() == [0.6, 0.2, 0.1]


# ---------------------------------------------------------------- the packed site


def bus(**more):
    """Return a bus table by volts or by state."""
    keys = ("disconnect_v", "reconnect_v", "disconnect_soc_frac", "reconnect_soc_frac")
    return bag(**{**dict.fromkeys(keys), **more})


@pytest.mark.parametrize(
    ("table", "threshold", "back", "found"),
    [({"disconnect_v": 11.5, "reconnect_v": 12.6}, ("V", 12.0), None,
      {"volts": (12.0, pytest.approx(13.1))}),
     ({"disconnect_soc_frac": 0.2, "reconnect_soc_frac": 0.5}, ("state", 0.4), None,
      {"states": (0.4, pytest.approx(0.7))}),
     ({"disconnect_soc_frac": 0.2, "reconnect_soc_frac": 0.5}, ("state", 0.7), None,
      {"states": (0.7, 0.98)}),
     ({}, ("state", 0.7), ("state", 0.8), {"states": (0.7, 0.8)}),
     ({}, ("V", 12.0), ("V", 12.3), {"volts": (12.0, 12.3)}),
     ({}, ("V", 12.0), None, {"volts": (12.0, 12.0)}), ({}, None, None, {})],
)  # fmt: skip
def test_shed_loads_come_back_as_far_up_as_the_reconnect(table, threshold, back, found):
    """At 98 % of charge at the latest; a stated return stands."""
    assert packed_site.shed_limits(bus(**table), threshold, back) == found


def test_a_shed_step_is_written_by_volts_or_by_state():
    """What is not used can never act: 0 V, and a state of -1."""
    s = np.zeros(1, col.SCALARS)[0]
    packed_site.set_shed(s, 1, volts=(12.0, 12.5))
    packed_site.set_shed(s, 2, states=(0.4, 0.5))
    assert (s["first_v"], s["first_return_v"], s["first_state"]) == (12.0, 12.5, -1.0)
    assert (s["second_state"], s["second_return_state"], s["second_v"]) == (
        0.4,
        0.5,
        0.0,
    )
    assert (s["first_return_state"], s["second_return_v"]) == (-1.0, 0.0)


@pytest.mark.parametrize(
    ("tail", "again", "found"),
    [(None, None, (8.0, 13.6 * 2.2 / 2.35)), (1.5, 13.0, (1.5, 13.0))],
)
def test_absorption_ends_by_time_or_tail_and_float_by_volts(tail, again, found):
    """4 % of 200 Ah and 2.20 over 2.35 V a cell where nothing is stated."""
    s = np.zeros(1, col.SCALARS)[0]
    regulator = bag(
        float_v=13.6, absorption_h=2.5, absorption_end_a=tail, recharge_v=again
    )
    bank = bag(regulation_v=14.4, rated_ah=200.0)
    packed_site.set_stages(s, regulator, bank)
    assert s["float_drop_v"] == pytest.approx(0.8)
    assert (s["absorb_h"], s["tail_a"], s["recharge_v"]) == (
        2.5,
        *map(pytest.approx, found),
    )
    held = np.zeros(1, col.SCALARS)[0]
    packed_site.set_stages(held, bag(float_v=None), bank)
    assert held["float_drop_v"] == 0.0


def test_float_lies_below_absorption():
    """Both are told."""
    for volts in (14.39, None):
        assert not list(float_faults(bag(float_v=volts), 14.4))
    [fault] = float_faults(bag(float_v=14.4), 14.4)
    assert (fault.given, fault.allowed) == ("14.4 V", "below 14.4 V")


def test_scalars_of_a_size_are_those_of_the_tables(site_text):
    """Load terminals open at 125 % of their rating; limits of all controllers add up."""
    keys = ('maximum_load_current = "8 A"\nmaximum_charge_current = "6 A"\nparallel = 2\n'
            'minimum_battery = "9 V"\n')  # fmt: skip
    text = site_text(LOAD, 12, bus='disconnect_delay = "2 h"')
    text = text.replace("own_current", keys + "own_current")
    problem = prepare(read_site_text(text))
    s = problem.scalars(3, problem.bank.with_strings(2))
    assert (s["strings"], s["delay_h"], s["restart_v"]) == (3.0, 2.0, 9.0)
    assert (s["controller_a"], s["controller_w"]) == (12.0, col.UNLIMITED)
    assert s["load_limit_a"] == pytest.approx(1.25 * 16.0)
    assert (s["trip_v"], s["trip_state"], s["return_state"]) == (11.5, -1.0, -1.0)
    assert s["charge_limit_a"] == pytest.approx(
        problem.bank.chemistry.charge_limit_per_h * s["rated_ah"]
    )
    share = problem.hourly["controller_share"]
    most = problem.controller_most_w(12.5)
    assert most == pytest.approx(12.0 * 12.5 * share)


def test_a_controller_that_sleeps_draws_less_and_by_day_more():
    """0.4 A less than the mean asleep, as much more awake, contingency on both."""
    rows = np.zeros(3, col.ROW)
    tables = bag(
        regulator=bag(less_asleep_a=0.4), site=bag(elevation_m=0.0),
        bus=bag(contingency_frac=0.15),
    )  # fmt: skip
    names = fill_controller.__globals__
    kept = names["rating_left_frac"]
    names["rating_left_frac"] = lambda *_: 1.0
    try:
        fill_controller(
            rows, tables, bag(temp_air_degc=None), np.array([0.0, 5.0, 0.1])
        )
    finally:
        names["rating_left_frac"] = kept
    assert rows["base_less_a"] == pytest.approx([0.46, -0.46, -0.46])


@pytest.mark.parametrize(("lost", "counts"), [(0.0009, False), (0.0011, True)])
def test_an_input_window_counts_from_a_thousandth_of_the_energy(
    monkeypatch, lost, counts
):
    """Less is not worth a term of the ledger."""
    best = np.array([100.0, 100.0])
    into = best * (1.0 - lost)
    monkeypatch.setitem(tracker_input_w.__globals__, "window_power_w", lambda *_: into)
    array = bag(v_nodes_v=np.ones(3), p_mp_w=best, i_string_a=None)
    assert (tracker_input_w(array) is into) == counts
    array.v_nodes_v = np.empty(0)
    assert tracker_input_w(array) is best


# ---------------------------------------------------------------- what a run says


@pytest.mark.parametrize(
    ("frac", "said"),
    [(0.1, "10 %"), (0.099, "9.9 %"), (0.0123, "1.2 %"), (0.456, "46 %")],
)
def test_a_share_is_told_with_two_digits(frac, said):
    """From a tenth on in whole percent."""
    assert run_findings._share_words(frac) == said


def window_run(lost, strings=2, cause=0.0, why=""):
    """Return a run of which a share of the array's energy lies below the window."""
    terms = {run_findings.BELOW: lost * strings * 100.0}
    out = np.zeros(3, col.RESULT)
    out["cause"][1], out["bus_v"] = cause, (13.0, 13.4, 13.8)
    design = bag(tables=bag(
        criteria=bag(autonomy_degc=-5.0), array=bag(series=2),
        regulator=bag(run_headroom_v=1.0)))  # fmt: skip
    array = bag(energy_wh=100.0, module=bag(max_power_v=8.0))
    return bag(
        ledger=bag(terms_wh=terms), strings=strings, out=out,
        problem=bag(design=design, array=array, record=bag(step_h=1.0)), bank=bag(),
        scalars={"load_limit_a": 10.0}, why=why,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("lost", "level"),
    [(0.0099, None), (0.0101, "warning"), (0.5, "warning"), (0.51, "serious")],
)
def test_strings_below_a_trackers_window_are_told_by_their_share(lost, level):
    """From 1 % on; above one half no size of it is of use."""
    found = run_findings._below_window(window_run(lost))
    assert [one.severity for one in found] == ([level] if level else [])
    for one in found:
        assert tells(one.text, "Strings of 2 in series (2 x 8.0 V at 25 °C)")
        assert tells(one.text, "are below the 14.4 V, on average")
    assert run_findings.lost_below(window_run(lost, strings=0)) == 0.0


@pytest.mark.parametrize(
    ("figures", "rank"),
    [({"lost": 0.1}, 0), ({"lost": 0.51}, 1), ({"lost": 0.51, "cause": 3.0}, 2),
     ({"lost": 0.1, "cause": 2.0}, 0), ({"lost": 0.51, "cause": 3.0, "why": "too cold"}, 3)],
)  # fmt: skip
def test_what_no_size_cures_is_told_first(monkeypatch, figures, rank):
    """Cold, load terminals and input window, each where it holds, and else nothing."""
    told = window_run(**figures)
    names = run_findings.what_forbids.__globals__
    monkeypatch.setitem(names, "no_current", lambda _: told.why)
    monkeypatch.setitem(names, "demand_w", lambda *_: np.zeros(3))
    for name in (
        "disconnects_when_full",
        "_inhibited",
        "over_input",
        "derated_to_nothing",
    ):
        monkeypatch.setitem(names, name, lambda _: None)
    found = run_findings.what_forbids(told)
    words = {
        0: "",
        1: run_findings.MORE_SERIES,
        2: "maximum_load_current",
        3: "too cold",
    }
    assert words[rank] in found
    assert bool(found) == bool(rank)


def test_blocked_sun_is_told_in_hours_and_percent(run):
    """Of what all strings give."""
    whole = run.strings * run.problem.array.energy_wh
    bank = dataclasses.replace(run.bank)
    told = bag(
        blocked_sun_h=1234.0, blocked_sun_wh=0.256 * whole, bank=bank, strings=run.strings,
        problem=run.problem,
    )  # fmt: skip
    [one] = run_findings._blocked(told)
    assert tells(one.text, "1,234 h with irradiance, 26 % of the array energy")
    assert tells(one.text, f"from {bank.charge_min_degc:g} °C")
    told.blocked_sun_h = 0.0
    assert run_findings._blocked(told) == []


@pytest.mark.parametrize(
    ("heater", "remedy"),
    [
        (None, "heat the box, bury it"),
        (bag(power_w=10.0), "a heater of more than 10 W"),
    ],
)
def test_a_box_with_a_heater_is_not_told_to_be_heated(heater, remedy):
    """The heater that stands there is too weak, or the box lets too much through."""
    problem = bag(
        array=bag(energy_wh=100.0), conditions=bag(battery_degc=np.array([-19.0, -5.0])),
        design=bag(tables=bag(battery=bag(heater=heater))),
    )  # fmt: skip
    bank = bag(chemistry=bag(charge_max_degc=50.0), charge_min_degc=0.0)
    told = bag(strings=2, blocked_sun_wh=190.0, problem=problem, bank=bank)
    assert remedy in run_findings._inhibited(told).remedy


@pytest.mark.parametrize(
    ("frozen", "near", "words"),
    [(0.0, 7.0, "7 h within 10 % of the state at which the electrolyte freezes; least 4 % above "
      "it, on 9 Feb 2003 07:00"), (0.5, 7.0, ""), (0.0, 0.0, "")],
)  # fmt: skip
def test_hours_near_frost_are_told_where_none_froze(frozen, near, words):
    """With the least margin and its moment."""
    frost = bag(
        hours_frozen=frozen, hours_below_margin=near, least_margin_frac=0.042,
        least_margin_at="2003-02-09T07:00",
    )  # fmt: skip
    battery = bag(freeze_margin_frac=0.1)
    problem = bag(
        design=bag(tables=bag(battery=battery)), record=bag(typical_year=False)
    )
    found = run_findings._frost(bag(frost=frost, events=(), problem=problem))
    assert [one.severity for one in found] == (["warning"] if words else [])
    assert all(tells(one.text, words) for one in found)


@pytest.mark.parametrize(("asked", "said"), [(15.6, False), (15.61, True)])
def test_a_usual_clamp_is_told_with_its_volts_a_cell(asked, said):
    """Six cells at 2.60 V."""
    bank = bag(
        asked_v=lambda degc: degc + 20.0,
        highest_v=15.6,
        cells=6,
        chemistry=bag(title="lead", regulation_max_v=2.6),
    )
    problem = bag(conditions=bag(battery_degc=np.array([-9.0, asked - 20.0])))
    found = run_findings._clamped(bag(bank=bank, problem=problem))
    assert bool(found) == said
    for one in found:
        assert tells(one.text, "at 15.60 V, 2.60 V a cell, the usual highest of lead")
        assert tells(one.text, "up to 15.61 V")


def test_devices_that_take_less_than_charging_gives_are_named():
    """Their own limit before that of their part; what hangs on a converter is not on the bus."""
    parts = {"p": bag(input=bag(max=15.0))}
    loads = [bag(name="a", supply=None, part="p"), bag(name="b", supply="s", part="p"),
             bag(name="c", supply=None, part=None, maximum_v=14.0),
             bag(name="d", supply=None, part=None), bag(name="e", supply=None, part="p",
                                                        maximum_v=16.0)]  # fmt: skip
    tables = bag(load=loads, supply=[bag(name="s", part="p")])
    site = bag(problem=bag(design=bag(tables=tables, parts=parts)))
    over, unknown = run_findings.devices_over(site, 15.1)
    assert over == [("a", 15.0), ("c", 14.0), ("s", 15.0)]
    assert unknown == ["d"]
    assert run_findings.devices_over(site, 15.0)[0] == [("c", 14.0)]


def test_the_largest_inrush_is_what_is_more_than_the_mean():
    """60 W less 12 W on 12 V are 4 A; in 0.1 ohm 0.4 V below the bus of each hour."""
    names = run_findings._inrush.__globals__
    ohm, low = names["ohmic_ohm"], names["LOW_STATE"]
    names["ohmic_ohm"] = lambda *_: 0.1
    out = np.zeros(3, col.RESULT)
    out["bus_v"] = [12.0, 11.95, 11.8]
    budget = bag(peak_w=60.0, average_w=12.0, nominal_v=12.0, inrush="pump")
    curve = bag(at=lambda degc: np.ones(degc.size))
    problem = bag(
        budget=budget, scalars=lambda *_: {"charge_ah": 100.0},
        hourly={"capacity": np.ones(3)}, conditions=bag(battery_degc=np.zeros(3)),
        record=bag(step_h=0.5),
    )  # fmt: skip
    told = bag(
        problem=problem, out=out, strings=1, removed_ah=np.zeros(4),
        bank=bag(chemistry=bag(discharge_by_degc=curve)), served=np.array([True, True, False]),
    )  # fmt: skip
    try:
        [one] = run_findings._inrush(told, 11.6)
        assert tells(one.text, "in 0 h served, the largest inrush (60 W)")
        assert tells(one.text, "sags to 11.55 V")
        assert run_findings._inrush(told, 11.54) == []
        # An empty bank has the resistance of its low state.
        told.removed_ah = np.full(4, 100.0)
        [one] = run_findings._inrush(told, 11.6)
        assert tells(one.text, f"sags to {11.95 - 0.4 * low:.2f} V")
        problem.hourly["capacity"] = np.full(3, 0.5)
        told.removed_ah = np.full(4, 25.0)
        [one] = run_findings._inrush(told, 11.6)
        half = 1 + (low - 1) * 0.5
        assert tells(one.text, f"sags to {11.95 - 0.4 * half:.2f} V")
    finally:
        names["ohmic_ohm"] = ohm


# ---------------------------------------------------------------- design cold


@pytest.mark.parametrize(
    ("design", "stated", "levels"),
    [(-20.0, -18.0, ["note"]), (-20.1, -18.0, ["warning", "note"]), (None, 9.0, [])],
)
def test_autonomy_at_a_milder_temperature_than_the_design_is_told(
    monkeypatch, design, stated, levels
):
    """More than two kelvins milder; the string's volts at the coldest."""
    names = design_cold._cold.__globals__
    monkeypatch.setitem(names, "coldest_design_degc", lambda given: given)
    monkeypatch.setitem(names, "coldest_degc", lambda _: design)
    monkeypatch.setitem(names, "_bank", lambda *_: design_cold.Finding("note", "bank"))
    monkeypatch.setitem(names, "string_cold_v", lambda *_: 99.4)
    regulator = bag(maximum_input_v=None)
    site = bag(tables=bag(criteria=bag(autonomy_degc=stated), regulator=regulator))
    found = design_cold._cold(site, bag(design=design), bag(series=2, parallel=3), None)
    assert [one.severity for one in found if one.text != "bank"] == levels
    if design is not None:
        assert tells(found[-1].text, f"String Voc at {design:.1f} °C: 99 V")
        bare = design_cold._cold(
            site, bag(design=design), bag(series=2, parallel=0), None
        )
        assert bare == found[:-1]
        # Held against a rating that is stated, it is a criterion.
        regulator.maximum_input_v = 100.0
        judged = design_cold._cold(
            site, bag(design=design), bag(series=2, parallel=3), None
        )
        assert judged == found[:-1]


def test_parts_that_end_above_the_coldest_are_named(monkeypatch):
    """At the coldest itself a part still works."""
    monkeypatch.setitem(
        design_cold._electronics.__globals__, "coldest_degc", lambda _: -30.0
    )
    parts = {
        "warm": bag(temperature=bag(min=-29.9)),
        "cold": bag(temperature=bag(min=-30.0)),
    }
    loads = [
        bag(name="a", part="warm"),
        bag(name="b", part="cold"),
        bag(name="c", part=None),
    ]
    site = bag(tables=bag(load=loads), parts=parts)
    [one] = design_cold._electronics(site, None)
    assert tells(
        one.text,
        "coldest of the place is -30.0 degC, and these end above it: a (-29.9 degC).",
    )
    site.tables.load = loads[1:]
    assert design_cold._electronics(site, None) == []


# ---------------------------------------------------------------- events


@pytest.mark.parametrize("step", [1.0, 0.5])
def test_frost_is_counted_in_hours_and_by_its_least_margin(step):
    """40 % at which it freezes, and 10 % more as a margin; the third hour is lost."""
    floor = np.array([0.0, 0.4, 0.4, 0.4, 0.0])
    removed = np.array([0.0, 90.0, 50.5, 49.0, 61.0, 99.0])
    battery = bag(freeze_margin_frac=0.1, start_frac=None)
    record = bag(
        step_h=step, n=5, typical_year=False,
        start_local=np.datetime64("2003-02-09T00:00") + 60 * np.arange(5),
    )  # fmt: skip
    problem = bag(
        conditions=bag(frozen_below_frac=floor), record=record,
        bank=bag(chemistry=bag(freezing="curve")),
        design=bag(tables=bag(battery=battery)),
    )  # fmt: skip
    frost = events.find_frost(problem, {"rated_ah": 100.0}, removed)
    assert (frost.hours_frozen, frost.hours_below_margin) == (step, 2 * step)
    assert frost.least_margin_frac == pytest.approx(-0.01)
    assert (frost.lost_index, frost.lost_at) == (3, "2003-02-09T03:00")
    assert frost.least_margin_at == "2003-02-09T03:00"
    # Even a full battery freezes: what is short of full, and no state beyond it.
    problem.conditions.frozen_below_frac = np.where(floor > 0, 2.0, 0.0)
    solid = events.find_frost(problem, {"rated_ah": 100.0}, removed)
    assert (solid.hours_frozen, solid.least_margin_frac) == (
        3 * step,
        pytest.approx(-0.61),
    )
    problem.bank.chemistry.freezing = None
    safe = events.find_frost(problem, {"rated_ah": 100.0}, removed)
    assert (safe.at_risk, safe.hours_frozen, safe.lost_index) == (False, 0.0, -1)
    assert (safe.hours_below_margin, safe.least_margin_frac) == (0.0, math.inf)


@pytest.mark.parametrize("strings", [0, 1, 3])
def test_blocked_sun_is_that_above_a_twentieth_of_the_best_hour(strings):
    """Its hours, and the energy of all strings in them."""
    power = np.array([100.0, 5.0, 5.1, 40.0, 100.0])
    share = np.array([0.0, 0.0, 0.0, 0.1, 0.0])
    problem = bag(
        array=bag(p_mp_w=power),
        conditions=bag(charge_share=share),
        record=bag(step_h=0.5),
    )
    found = events.blocked_sun(problem, strings)
    assert found == ((1.5, pytest.approx(strings * 102.55)) if strings else (0.0, 0.0))


def test_the_highest_charge_voltage_is_that_of_the_coldest_hour_that_charges():
    """Sun from a twentieth of the best on, or a source; blocked hours do not count."""
    degc = np.array([-9.0, -20.0, -30.0, -5.0])
    power = np.array([100.0, 5.1, 4.9, 60.0])
    hourly = np.zeros(4, col.ROW)
    problem = bag(
        array=bag(p_mp_w=power), strings=2, hourly=hourly,
        bank=bag(asked_v=lambda t: 14.0 - 0.02 * t),
        conditions=bag(battery_degc=degc, charge_share=np.array([1.0, 0.5, 1.0, 1.0])),
    )  # fmt: skip
    assert events.highest_charge_v(problem) == (pytest.approx(14.4), 1)
    problem.conditions.charge_share[1] = 0.0
    assert events.highest_charge_v(problem) == (pytest.approx(14.18), 0)
    hourly["source_w"][2] = 1.0
    assert events.highest_charge_v(problem) == (pytest.approx(14.6), 2)
    hourly["source_w"][2], problem.strings = 0.0, 0
    assert events.highest_charge_v(problem) == (pytest.approx(14.6), 2)


@pytest.mark.parametrize(
    ("kind", "trip", "said"),
    [("sag", 11.6, "46 % charge left; at 25 degC it would have held 11.6 V"),
     ("sag", 0.0, "SOC 46 %"), ("empty", 11.6, "SOC 46 %")],
)  # fmt: skip
def test_a_cause_tells_the_charge_that_was_left(kind, trip, said):
    """And what a warm battery would have held, of a sag."""
    words = events._cause_text(kind, {"trip_v": trip}, 0.456)
    assert tells(words, f"{events.KINDS[kind]}, {said}")


# ---------------------------------------------------------------- months and ratio


@pytest.mark.parametrize("step", [1.0, 0.5])
def test_a_month_is_told_by_the_day_and_its_spill_in_all(monkeypatch, step):
    """Two strings of 5 W offered, 4 W used, 3 W of sources, loads of 8 W."""
    n = round(48 / step)
    names = arrayload.energies_wh.__globals__
    monkeypatch.setitem(names, "delivered_w", lambda _: np.full(n, 9.0))
    monkeypatch.setitem(names, "asked_w", lambda _: np.full(n, 8.0))
    out = np.zeros(n, col.RESULT)
    out["bus_v"], out["array_a"] = 10.0, 0.4
    out["steady_a"], out["source_a"] = 0.1, 0.2
    served = np.ones(n, bool)
    served[:3] = False
    soc = np.linspace(0.9, 0.5, n)
    problem = bag(
        record=bag(step_h=step), currents=np.zeros((n, 0)),
        hourly={"array_w": np.full(n, 5.0)}, month_index=np.full(n, 4),
    )  # fmt: skip
    told = bag(problem=problem, out=out, strings=2, served=served, soc_frac=soc)
    [row] = monthly_rows(told)
    assert (row.month, row.lowest_soc_frac, row.hours_off) == (5, 0.5, 3 * step)
    assert row.array_to_load_ratio == pytest.approx(9 / 8)
    per_day = (row.array_wh_per_day, row.load_wh_per_day, row.array_used_wh_per_day,
               row.generator_wh_per_day)  # fmt: skip
    assert per_day == pytest.approx((216.0, 192.0, 96.0, 72.0))
    assert row.spill_wh == pytest.approx(48 * 6.0)


def test_the_lowest_single_month_is_a_whole_one(monkeypatch):
    """27 days are enough, 26 are not; a single year names none."""
    names = arrayload.array_to_load.__globals__
    days = np.datetime64("2001-01-01") + np.arange(26 + 31 + 27)
    first = [*range(26), *range(31, 58), *range(59, 90)]
    days = np.datetime64("2001-01-01") + np.array(first)
    ratio = np.repeat([0.1, 0.5, 0.9], [26, 27, 31])
    day = np.repeat(days, 24)
    monkeypatch.setitem(names, "delivered_w", lambda _: np.repeat(ratio, 24))
    monkeypatch.setitem(names, "asked_w", lambda _: np.ones(day.size))
    record = bag(day_local=day, step_h=1.0)
    rows = [
        bag(month=m, array_to_load_ratio=r) for m, r in ((1, 2.0), (2, 0.7), (3, 0.9))
    ]
    told = bag(years=1.1, problem=bag(record=record))
    found = arrayload.array_to_load(told, rows)
    assert (found.month, found.ratio) == (2, 0.7)
    assert (found.single, found.single_month) == (pytest.approx(0.5), "2001-02")
    told.years = 1.09
    assert arrayload.array_to_load(told, rows).single is None
    assert arrayload.ratio_of(3.0, 2.0) == 1.5
    assert arrayload.ratio_of(3.0, 0.0) == math.inf


def test_availability_to_the_loss_counts_what_was_served_before_it():
    """Of the whole record, the loss itself not among it."""
    served = np.array([True, True, False, True, True])
    share = Run.availability_to_loss_frac.fget
    assert share(bag(frost=bag(lost_index=3), served=served)) == pytest.approx(2 / 5)
    assert share(bag(frost=bag(lost_index=0), served=served)) == 0.0
    assert share(bag(frost=bag(lost_index=-1), served=served)) == pytest.approx(4 / 5)


@pytest.mark.parametrize("ring", [True, False])
def test_states_are_counted_from_the_fullest_round_to_itself(monkeypatch, ring):
    """In a typical year; a record of actual years stays as it is."""
    monkeypatch.setitem(state_history.__globals__, "wraps", lambda _: ring)
    found = state_history(None, np.array([0.5, 0.2, 0.9, 0.7]))
    assert found.tolist() == (
        [0.9, 0.7, 0.5, 0.2, 0.9] if ring else [0.5, 0.2, 0.9, 0.7]
    )


@pytest.mark.parametrize("step", [1.0, 0.5])
def test_an_age_is_held_against_a_life_in_years_of_the_record(monkeypatch, step):
    """Two years of half-hours are as long as two of hours."""
    names = aged_health_frac.__globals__
    asked = []

    def life(_, state, degc, years):
        asked.append((state, degc, years))
        return bag(life_y=8.0, end_of_life_frac=0.8)

    out = np.zeros(2, col.RESULT)
    out["removed_ah"] = [10.0, 30.0]
    for name, value in (("run_through", lambda *_: (0.0, out)), ("make_life", life),
                        ("start_removed_ah", lambda *_: 0.0),
                        ("state_history", lambda _, state: state)):  # fmt: skip
        monkeypatch.setitem(names, name, value)
    problem = bag(
        bank=bag(rated_ah=100.0, chemistry=None), strings=1, scalars=lambda *_: None,
        record=bag(n=round(2 * 8766 / step), step_h=step),
        conditions=bag(battery_degc="degc"),
    )  # fmt: skip
    problem.own_rows = lambda: problem
    assert aged_health_frac(problem, 4.0) == pytest.approx(0.9)
    [(state, degc, years)] = asked
    assert (state.tolist(), degc, years) == ([0.9, 0.7], "degc", pytest.approx(2.0))


def test_deliverable_power_is_within_the_controllers_limit():
    """Two strings of 30 W at 12 V, a limit of 4 A: 48 W."""
    problem = bag(
        currents=np.zeros((2, 0)), hourly={"array_w": np.array([30.0, 10.0])},
        controller_most_w=lambda volts: np.array([4.0 * volts] * 2),
    )  # fmt: skip
    assert arrayload.deliverable_w(problem, 2, 12.0).tolist() == [48.0, 20.0]
