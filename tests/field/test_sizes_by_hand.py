"""Sizes, their odds, their ranges and what is said of them, each sum worked by hand."""

from __future__ import annotations

import dataclasses
import math
from types import SimpleNamespace

import numpy as np
import pytest
from reference.figures import tells

from powerbudget.balance import columns as col
from powerbudget.balance import generation
from powerbudget.charging import cold_string
from powerbudget.errors import Hindrance, InputError
from powerbudget.generators.starts import at_least_one_frac, failure_risk_frac
from powerbudget.report.sections import design
from powerbudget.sizing import (
    array_options,
    autonomy_view,
    candidates,
    from_nothing,
    frontier,
    limiting,
    picks,
    recovery,
    remedies,
    tilt,
    worst_period,
)
from powerbudget.sizing.criteria import (
    FLOORS,
    asked_for,
    at_least,
    at_most,
    weakest_month_w,
)
from powerbudget.sizing.uncertainty import (
    members,
    monte_carlo,
    probability,
    reliability,
    sensitivity,
    trials,
    years,
)
from powerbudget.sizing.worksheet import against_record, record_figures
from powerbudget.sizing.worksheet.assumptions import Reason
from powerbudget.sizing.worksheet.design_month import monthly_sun
from powerbudget.sizing.worksheet.duty_cycle import duty_cycle_ah


def bag(**values):
    """Return a bag of figures."""
    return SimpleNamespace(**values)


# ---------------------------------------------------------------- array options


@pytest.mark.parametrize(
    ("latitude", "own", "asked", "found"),
    [(48.6, 60.0, "auto", (60.0, 34.0, 49.0, 64.0, 79.0)),
     (-48.6, 49.0, "auto", (49.0, 34.0, 64.0, 79.0)), (5.0, 5.0, "auto", (5.0, 0.0, 20.0, 35.0)),
     (85.0, 90.0, "auto", (90.0, 70.0, 85.0)), (40.0, 33.0, None, (33.0,)),
     (40.0, 33.0, (10.0, 33.0), (33.0, 10.0)), (40.0, 33.0, (10.0, 20.0), (10.0, 20.0))],
)  # fmt: skip
def test_tilts_to_try_stand_about_the_latitude(latitude, own, asked, found):
    """15 deg below to 30 above, within 0 and 90, the site's own first."""
    tables = bag(
        array=bag(tilt_deg=own),
        sizing=bag(tilts=asked),
        site=bag(latitude_deg=latitude),
    )
    tried = array_options.candidate_tilts(bag(design=bag(tables=tables)))
    assert tried[0] == found[0]
    assert sorted(tried) == sorted(found)


def volts(kind="mppt", regulation=14.4, limit=None, stated=None, system=None):
    """Return a site whose modules have 14 V hot and 30 V cold each."""
    tables = bag(
        regulator=bag(kind=kind, drop_v=0.5, maximum_input_v=limit),
        sizing=bag(array_voltage_limit_v=stated),
        array=bag(series=1),
    )
    return bag(
        design=bag(tables=tables, module_data=bag(system_v=system)),
        bank=bag(regulation_v=regulation), record=None,
        array=bag(module=bag(max_power_v=16.1, open_circuit_v=20.0, open_circuit_per_k=-0.003)),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("site", "series", "words"),
    [(volts(), 1, ""), (volts(regulation=14.73), 1, ""),
     (volts(regulation=14.75), 1, "14.0 V"),
     (volts("pwm", 14.2), 1, ""), (volts("pwm", 14.25), 1, "14.8 V"),
     (volts(limit=46.0), 2, ""), (volts(limit=45.9), 2, "46 V, -25, 45.9 V"),
     (volts(limit=90.0, stated=40.0), 2, "40 V"),
     (volts(limit=90.0, system=45.0), 2, "45 V"),
     (volts(system=45.0, limit=44.0), 2, "44 V")],
)  # fmt: skip
def test_strings_lie_between_the_battery_and_the_limit(
    monkeypatch, site, series, words
):
    """Hot cells lose 20 V x 0.3 % x 35 K = 2.1 V; 5 % under the set point is let pass."""
    names = array_options.unfit.__globals__
    monkeypatch.setitem(names, "coldest_degc", lambda _: -25.0)
    monkeypatch.setattr(
        cold_string, "string_cold_v", lambda *given: given[2] * (20.5 - 0.1 * given[3])
    )
    assert array_options.hot_module_v(site) == pytest.approx(14.0)
    said = array_options.unfit(site, series)
    assert bool(said) == bool(words)
    assert not words or tells(said, words)


def test_longer_strings_that_lose_nothing_are_not_tried_again():
    """Multiples of a shorter one make the same arrays."""
    assert array_options._repeats(6, [4, 3])
    assert not array_options._repeats(5, [2, 3])
    assert not array_options._repeats(2, [4])


# ---------------------------------------------------------------- criteria


def test_a_need_of_nothing_asks_for_nothing_where_more_is_better():
    """0 h of ice is a need, 0 days of autonomy is none."""
    floor = at_least(FLOORS[1], 3.0, 0.0, "d")
    ice = at_most("frozen battery", 0.0, 0.0, "h")
    asked = at_least(FLOORS[1], 3.0, 2.0, "d")
    assert asked_for([floor, ice, asked]) == (ice, asked)
    assert (asked.met, asked.margin_frac, asked.sense) == (True, 0.5, "lower")
    assert not at_most("x", 1.1, 1.0, "d").met
    served = at_least("availability", 0.99, 0.995, "fraction")
    assert served.margin == pytest.approx(-0.005 * 8766)


def test_the_weakest_month_of_steady_sources_counts():
    """The mean of its intervals; none where nothing runs."""
    month = np.array([1, 1, 2, 2, 3])
    steady = np.array([10.0, 20.0, 30.0, 4.0, 16.0])
    problem = bag(sources=bag(steady_w=steady), record=bag(month=month))
    assert weakest_month_w(problem) == 15.0
    problem.sources.steady_w = np.zeros(5)
    assert weakest_month_w(problem) == 0.0


# ---------------------------------------------------------------- picks and remedies


def pick(array=4, battery=2, cost=None, mass=None, met=True, **more):
    """Return one design of two-module strings."""
    figures = {
        "array_strings": array, "battery_strings": battery, "modules": 2 * array,
        "battery_units": 3 * battery, "parts": 2 * array + 3 * battery, "cost": cost,
        "mass_kg": mass, "met": met, "tilt_deg": 60.0, "series": 2, "failed": (),
        "lowest_soc_frac": 0.5,
    }  # fmt: skip
    return bag(**{**figures, **more})


def test_picks_are_the_cheapest_the_lightest_and_the_fewest():
    """Of the frontier; ties by pieces and then by price."""
    cheap = pick(6, 1, 100.0, 90.0)
    light = pick(2, 4, 120.0, 50.0)
    few = pick(1, 2, 130.0, 70.0)
    found = picks.make_picks((cheap, light, few))
    assert found == {"cheapest": cheap, "lightest": light, "fewest_parts": few}
    bare = picks.make_picks((pick(6, 1), pick(1, 2)))
    assert bare["cheapest"] is None
    assert bare["lightest"] is None
    assert bare["fewest_parts"].parts == 8
    assert picks.ranked(cheap) == (100.0, 15.0)
    assert picks.ranked(pick(6, 1)) == (15.0, 15.0)
    assert picks._piece("array", 1) == "array string"
    assert tells(picks._piece("array", 3), "3 array strings")


@pytest.mark.parametrize(
    ("array", "battery", "wanted"),
    [(4, 2, {"array": (3, 2), "battery": (4, 1)}), (1, 2, {"array": None, "battery": (1, 1)}),
     (4, 1, {"array": (3, 1), "battery": None})],
)  # fmt: skip
def test_what_is_one_step_smaller_has_at_least_one_string(array, battery, wanted):
    """Otherwise there is none."""
    steps = bag(array_step=1, battery_step=1)
    search = bag(steps=steps, way_of=lambda _: 0, at=lambda a, b, _: (a, b))
    assert limiting.smaller_steps(search, pick(array, battery)) == wanted
    search.steps = bag(array_step=2, battery_step=1)
    search.at = lambda a, b, _: pick(a, b, failed=("availability",), lost_at="9 Feb",
                                     lowest_soc_frac=0.216, lowest_soc_at="8 Feb")  # fmt: skip
    array, battery = limiting.binding_words(search, pick(4, 1)).split("; ")
    assert tells(array, "2 strings, on 9 Feb")
    assert battery.startswith("battery: ")
    deep = pick(failed=("maximum DOD", "frost"), lowest_soc_frac=0.216,
                lowest_soc_at="8 Feb", lost_at="")  # fmt: skip
    assert tells(limiting.failure_words(deep), "22 % on 8 Feb")
    assert limiting.failure_words(deep).endswith(", frost")
    assert limiting.failure_words(pick(lost_at="", lowest_soc_at="")) == "nothing"
    assert limiting.binding_words(search, None) == ""


@pytest.mark.parametrize(
    ("start", "need", "found"),
    [(3, 3, 3), (3, 10, 10), (3, 24, 24), (3, 25, 0), (1, 8, 8), (1, 9, 0)],
)
def test_what_would_meet_a_criterion_is_sought_up_to_eight_times(start, need, found):
    """By doubling, then between."""
    assert limiting._least(lambda n: n >= need, start) == found


@pytest.mark.parametrize(
    ("arrays", "batteries", "words"),
    [(6, 99, "6 array strings would pass"), (99, 5, "5 battery strings would pass"),
     (6, 5, "5 battery strings or 6 array strings would pass"),
     (99, 99, "no size up to 8 times the limits passes")],
)  # fmt: skip
def test_a_cure_is_larger_by_one_part(monkeypatch, arrays, batteries, words):
    """The other part kept; battery first."""
    verdict = bag(name="x", met=False, found=0.0, unit="d")

    def at(a, b, _):
        return bag(verdicts=(bag(name="x", met=a >= arrays or b >= batteries),))

    names = limiting._cure.__globals__
    monkeypatch.setitem(names, "input_in_the_way", lambda _: "")
    monkeypatch.setitem(names, "input_a", lambda _, strings: 10.0 * strings)
    search = bag(way_of=lambda _: 0, at=at, problem=None)
    assert tells(limiting._cure(search, pick(4, 2), verdict), words)
    if "array" in words:
        monkeypatch.setitem(names, "input_in_the_way", lambda _: "an input rating")
        said = limiting._cure(search, pick(4, 2), verdict)
        assert "6 array strings with a maximum_input_current of 60 A" in said
    search.at = lambda a, b, _: bag(verdicts=(bag(name="x", met=b == 1 or a == 1),))
    assert "smaller battery" in limiting._cure(search, pick(4, 2), verdict)


def test_masses_are_of_all_pieces_and_days_have_names():
    """A module of 8 kg and a unit of 30; a stated mass replaces that of the part."""
    tables = bag(
        sizing=bag(module_mass_kg=None, battery_unit_mass_kg=31.0),
        array=bag(module="m"), battery=bag(unit="u"),
    )  # fmt: skip
    design = bag(tables=tables, parts={"m": bag(mass=8.0), "u": bag(mass=30.0)})
    assert candidates.piece_masses_kg(design) == (8.0, 31.0)
    assert candidates._mass_kg(design, 10, 6) == 80.0 + 186.0
    tables.array.module = object()
    assert candidates._mass_kg(design, 10, 6) is None
    record = bag(typical_year=False)
    run = bag(
        problem=bag(record=record),
        frost=bag(lost_at="2003-02-09T07:00", hours_frozen=1234.0),
    )
    assert tells(
        candidates.lost_words(run),
        "on 9 Feb 2003, 1,234 h",
    )
    run.frost.lost_at = ""
    assert candidates.lost_words(run) == ""


def test_a_battery_with_one_module_may_outweigh_all_that_was_found(monkeypatch):
    """Three strings of two units of 30 kg and a module of 8 kg are 188 kg."""
    names = frontier._outweighed.__globals__
    monkeypatch.setitem(names, "piece_masses_kg", lambda _: (8.0, 30.0))
    search = bag(problem=bag(design=bag(tables=bag(battery=bag(series=2)))))
    assert frontier._outweighed(search, 3, [pick(mass=188.0), pick(mass=900.0)])
    assert not frontier._outweighed(search, 3, [pick(mass=188.1)])
    assert not frontier._outweighed(search, 3, [pick()])
    monkeypatch.setitem(names, "piece_masses_kg", lambda _: (None, 30.0))
    assert not frontier._outweighed(search, 3, [pick(mass=1.0)])
    heavy, light = bag(pick=pick(mass=9.0)), bag(pick=pick(mass=8.0))
    assert min([heavy, light], key=from_nothing._weight) is light
    assert from_nothing._weight(bag(pick=pick())) == (math.inf, 14.0)


def test_a_battery_is_ruled_out_by_its_volts_or_the_cold():
    """Units of 12 V make 24 V; lithium iron phosphate is charged from 0 degC."""
    part = bag(name="x", nominal=12.8, chemistry="lfp")
    assert from_nothing._ruled_out(part, 25.6, 0.0) == ""
    assert tells(from_nothing._ruled_out(part, 25.6, -0.6), "0 and -1 °C")
    odd = bag(name="y", nominal=5.0, chemistry="agm")
    assert tells(
        from_nothing._ruled_out(odd, 12.0, 9.0),
        "no whole number of 5 V units makes 12 V",
    )


def test_a_remedy_changes_one_part_where_that_is_cheaper(monkeypatch):
    """The smallest array beside no more battery, and the other way round."""
    small, large = pick(3, 6, 500.0), pick(8, 2, 300.0)
    best = pick(5, 4, 400.0)
    table = bag(tilt_deg=60.0, series=2)
    problem = bag(design=bag(tables=bag(array=table)))
    found = bag(pick=best, problem=problem, frontier=(small, best, large))
    run = bag(strings=4, bank=bag(parallel=2), problem=problem)
    by_size = {(8, 2): large, (4, 6): pick(4, 6, 450.0)}
    names = remedies.remedies.__globals__
    monkeypatch.setitem(names, "Search", lambda *_: bag(at=lambda a, b: by_size[a, b]))
    monkeypatch.setitem(names, "Variant", lambda *_: None)
    assert remedies.remedies(found, run) == (large, by_size[4, 6])
    by_size[8, 2] = pick(8, 2, 600.0)
    assert remedies.remedies(found, run) == (best, by_size[4, 6])
    by_size[8, 2] = pick(8, 2, 600.0, met=False)
    by_size[4, 6] = pick(4, 6, 1.0, met=False)
    assert remedies.remedies(found, run) == (best,)
    assert remedies.remedies(bag(pick=None), run) == ()


# ---------------------------------------------------------------- tilt


@pytest.mark.parametrize(
    ("latitude", "first", "count"), [(50.0, 180.0, 19), (-50.0, 0.0, 19), (23.44, 180.0, 19),
                                     (23.4, 180.0, 37), (-10.0, 0.0, 37), (0.0, 180.0, 37)],
)  # fmt: skip
def test_planes_face_the_equator_and_both_ways_between_the_tropics(
    latitude, first, count
):
    """Every five degrees from flat to upright; flat is one plane."""
    found = tilt._stands(latitude)
    assert len(found) == count
    assert [a for a, _ in found[:19]] == [5.0 * k for k in range(19)]
    assert {b for _, b in found[:19]} == {first}
    assert {b for _, b in found[19:]} <= {180.0 - first}
    assert len(set(found)) == count


def test_of_planes_within_one_percent_the_steepest_is_taken():
    """98.9 % of the best is no longer equal."""
    rows = [
        (bag(tilt_deg=t), score)
        for t, score in ((40.0, 100.0), (60.0, 99.0), (70.0, 98.9))
    ]
    assert tilt._steepest_of_best(rows)[0].tilt_deg == 60.0
    row = tilt.TiltRow(40.0, 180.0, 1.0, "", 2.0, 0.0)
    assert tilt._shared((row, 3.0), 4.0).worst_share == 0.75
    assert tilt._shared((row, 0.0), 0.0).worst_share == 0.0


@pytest.mark.parametrize("step", [1.0, 0.5])
def test_a_day_is_told_in_kilowatt_hours(step):
    """24 h of 500 W are 12 kWh."""
    day = np.repeat([0, 1], round(24 / step))
    problem = bag(record=bag(day_number=day, step_h=step))
    assert tilt._by_day(problem, np.full(day.size, 500.0)) == pytest.approx(
        [12.0, 12.0]
    )


def test_sun_of_a_month_is_its_mean_day():
    """500 W/m2 through are 12 kWh/m2 a day; a month that is not there has none."""
    month = np.repeat([0, 4], 10)
    found = monthly_sun(bag(month_index=month), np.repeat([500.0, 0.0], 10))
    assert found[0] == pytest.approx(12.0)
    assert found[4] == pytest.approx(1e-6)
    assert np.isnan(found).sum() == 10


# ---------------------------------------------------------------- autonomy


def damage_run(chemistry, floor):
    """Return a run whose bank of 100 Ah freezes at a floor of its rated charge."""
    record = bag(step_h=0.5)
    bank = bag(chemistry=bag(name=chemistry), rated_ah=100.0)
    conditions = bag(frozen_below_frac=np.full(8, floor))
    return bag(problem=bag(record=record, conditions=conditions), bank=bank)


@pytest.mark.parametrize(
    ("chemistry", "floor", "found"),
    [("agm", 0.0, ("overdischarge", 2.0)), ("lfp", 0.0, ("overdischarge", 3.0)),
     ("agm", 0.35, ("frost", 1.5)), ("agm", 0.15, ("overdischarge", 2.0)),
     ("gel", 0.0, ("overdischarge", 2.0)), ("nicd", 0.0, ("overdischarge", 3.0))],
)  # fmt: skip
def test_damage_is_ice_or_a_discharge_too_deep_whichever_is_first(
    chemistry, floor, found
):
    """80 % of the charge of lead-acid; others are harmed when flat."""
    out = np.zeros(8, col.RESULT)
    out["served"] = 1.0
    out["removed_ah"] = [10, 30, 60, 70, 80, 90, 99.5, 99.9]
    s = {"charge_ah": 100.0}
    run = damage_run(chemistry, floor)
    assert autonomy_view._damage(run, s, np.arange(8), out) == found
    out["removed_ah"] = 10.0
    assert autonomy_view._damage(run, s, np.arange(8), out) == ("none", math.inf)
    out["served"][5] = -1.0
    assert autonomy_view._damage(run, s, np.arange(8), out) == ("overdischarge", 2.5)


@pytest.mark.parametrize(
    ("n", "step", "every"),
    [(8760, 1.0, 1.0), (17_520, 0.5, 1.0), (20_000, 1.0, 1.0), (20_001, 1.0, 5.0),
     (157_680, 1.0, 11.0), (315_360, 0.5, 11.0)],
)  # fmt: skip
def test_starts_are_tried_at_every_hour_of_the_day(n, step, every):
    """At most about 20,000, and so far apart that all hours come up."""
    starts, hours = autonomy_view.view_starts(
        bag(problem=bag(record=bag(n=n, step_h=step)))
    )
    assert hours == every
    assert starts[0] == 0
    assert set(np.diff(starts)) == {round(every / step)}
    assert math.gcd(round(hours), 24) == 1
    assert starts[-1] > n - every / step - 1
    least = autonomy_view._least_by(
        np.array([0, 0, 2]), np.array([3.0, 2.0, np.nan]), 3
    )
    assert least[0] == 2.0
    assert all(math.isnan(x) for x in least[1:])
    median = autonomy_view._median_by(
        np.array([0, 0, 0, 3]), np.array([1.0, 2.0, 9.0, np.nan])
    )
    assert (len(median), median[0]) == (12, 2.0)
    assert math.isnan(median[3])


def setting(days, at, age="as specified"):
    """Return a setting of the disconnect."""
    return bag(age=age, design_days=days, disconnect=at)


def lost(month, damage_h, off_h, **more):
    """Return what a loss of charge does."""
    calm = {"unprotected_damage": "none", "unprotected_h": 1.0, "start": ""}
    return bag(
        month=month, to_damage_h=damage_h, to_disconnect_h=off_h, **{**calm, **more}
    )


def test_what_the_disconnect_decides_is_told():
    """Days either side of what is asked; damage before it; ice without it."""
    criteria = bag(autonomy_d=5.0)
    run = bag(problem=bag(design=bag(tables=bag(criteria=criteria))))
    settings = (
        setting(5.0, "11.3 V"),
        setting(4.96, "11.6 V"),
        setting(9.0, "x", "new"),
    )
    moments = (
        lost(2, 10.0, 11.0), lost(7, 11.0, 11.0),
        lost(12, 9.0, 5.0, unprotected_damage="frost", unprotected_h=60.0, start="2003-12-24T05"),
        lost(1, 9.0, 5.0, unprotected_damage="frost", unprotected_h=84.0, start="2003-01-02T05"),
    )  # fmt: skip
    first, late, ice = autonomy_view._findings(run, settings, moments)
    assert tells(first.text, "Autonomy of 5 d depends")
    assert tells(first.text, "5.0 d at 11.3 V, 5.0 d at 11.6 V.")
    assert " Feb: " in late.text
    assert tells(
        ice.text,
        "on 2003-12-24 after 2.5 d",
    )
    assert autonomy_view._findings(run, settings[:1], moments[1:2]) == []


def test_why_a_flat_bank_comes_back_or_not_is_told():
    """By the controller's lowest battery voltage; three different answers."""
    regulator = bag(minimum_battery_v=9.0)
    run = bag(problem=bag(design=bag(tables=bag(regulator=regulator))))
    back, dark = (recovery._reason(run, restarts=flag) for flag in (True, False))
    assert tells(back, "9 V")
    assert tells(dark, "9 V")
    regulator.minimum_battery_v = None
    unstated = recovery._reason(run, restarts=True)
    assert len({back, dark, unstated}) == 3


@pytest.mark.parametrize("step", [1.0, 0.5])
def test_the_worst_period_is_told_by_its_supply_and_what_blocked_it(monkeypatch, step):
    """Three intervals of 100 W asked; 40 W of sun and 10 W of a source, one blocked."""
    names = worst_period.worst_period.__globals__
    monkeypatch.setitem(names, "since_full", lambda *_: (1, 3))
    monkeypatch.setitem(
        names, "stretch", lambda _, first, count: np.arange(first, first + count)
    )
    monkeypatch.setitem(names, "asked_w", lambda _: np.full(5, 100.0))
    monkeypatch.setitem(names, "limited_share", lambda _, span: 0.01 * span.sum())
    monkeypatch.setitem(
        names, "delivered_w", lambda _: np.array([0.0, 40.0, 40.0, 40.0, 0.0])
    )
    monkeypatch.setitem(names, "local_iso", lambda _, k: f"at {k}")
    out = np.zeros(5, col.RESULT)
    out["steady_a"], out["source_a"], out["bus_v"] = 0.5, 0.5, 10.0
    problem = bag(
        hourly={"charge_share": np.array([0, 1, 0, 1, 0.0])}, record=bag(step_h=step),
        conditions=bag(battery_degc=np.array([0, 0, 0, -9.0, 0])),
    )  # fmt: skip
    run = bag(
        outages=(), soc_frac=np.array([1.0, 0.9, 0.6, 0.3, 0.5]), out=out, problem=problem,
        bank=bag(capacity_frac=lambda degc: 1 + 0.01 * degc),
    )  # fmt: skip
    found = worst_period.worst_period(run)
    assert (found.start, found.end, found.days) == ("at 1", "at 3", 3 * step / 24)
    assert found.supply_frac == pytest.approx(0.5)
    assert found.blocked_frac == pytest.approx(1 / 3)
    assert found.limited_frac == pytest.approx(0.06)
    assert (found.from_soc_frac, found.to_soc_frac) == (0.9, 0.3)
    assert found.capacity_frac == pytest.approx(0.91)
    run.outages = (bag(index=2, hours=5.0), bag(index=4, hours=4.0))
    assert worst_period.worst_period(run).to_soc_frac == 0.6


# The period, the SOC left at the longest outage and its kind: what is told, what is not.
@pytest.mark.parametrize(
    ("period", "kind", "told", "not_told"),
    [({}, "empty", ("array at 60 % of load for 9 d", "SOC 100 % -> 20 %",
                    "LVD at 11.5 V, battery depleted"), ("capacity", "losses", "limit")),
     ({"supply_frac": 1.13}, "empty", ("113 % of load, less than load and battery losses",),
      ()),
     ({"supply_frac": 1.5, "limited_frac": 0.4}, "empty",
      ("charge controller limit curtails 40 % of the array energy",), ("losses",)),
     ({"blocked_frac": 0.2}, "empty", ("temperature for 20 % of that supply",), ()),
     ({"blocked_frac": 0.1, "limited_frac": 0.1, "capacity_frac": 0.9}, "empty", (),
      ("inhibited", "curtails", "capacity")),
     ({"capacity_frac": 0.7}, "cold", ("available capacity 70 %",
                                       "LVD at 11.5 V, low-temperature capacity"), ()),
     ({}, "state", ("SOC disconnect",), ("LVD",)),
     ({}, "terminals", ("load terminals of the charge controller opened", "SOC 90 %"),
      ("LVD", "array", "of load")),
     ({}, "disconnected", ("minimum discharging temperature; SOC 90 %",), ("LVD", "array")),
     ({}, "load", ("LVD at 11.5 V, overload; SOC 90 %",), ("array",))],
)  # fmt: skip
def test_the_cause_names_the_limit_that_acted(
    monkeypatch, period, kind, told, not_told
):
    """No disconnect that did not act, and no lack of sun where a load opened the circuit."""
    worst = worst_period.WorstPeriod(
        **{"start": "2003-01-02T03:00", "end": "2003-01-11T03:00", "days": 9.0,
           "supply_frac": 0.6, "from_soc_frac": 1.0, "to_soc_frac": 0.2,
           "capacity_frac": 1.0, "blocked_frac": 0.0, "limited_frac": 0.0,
           "never_full": False} | period
    )  # fmt: skip
    names = design.cause_words.__globals__
    monkeypatch.setitem(names, "worst_period", lambda _: worst)
    for name in ("disconnects_when_full", "derated_to_nothing"):
        monkeypatch.setitem(names, name, lambda _: None)
    monkeypatch.setitem(names, "lost_below", lambda _: 0.0)
    problem = bag(design=bag(tables=bag(bus=bag(disconnect_v=11.5))),
                  record=bag(typical_year=False))  # fmt: skip
    short = bag(hours=1.0, kind="start", charge_left_frac=0.0, generator="")
    long = bag(hours=9.0, kind=kind, charge_left_frac=0.9, generator="")
    run = bag(problem=problem, outages=(short, long), strings=2, generation=(),
              soc_frac=np.array([1.0, 0.2]))  # fmt: skip
    said = design.cause_words(run)
    assert all(words in said for words in told), said
    assert not any(words in said for words in not_told), said
    for name in ("disconnects_when_full", "derated_to_nothing"):
        never = Hindrance(f"{name}: 14 V", "lower it")
        monkeypatch.setitem(names, name, lambda _, never=never: never)
        assert design.cause_words(run) == never.why
        monkeypatch.setitem(names, name, lambda _: None)
    run.outages = ()
    assert "LVD" not in design.cause_words(run)


# ---------------------------------------------------------------- the odds


def test_odds_of_a_size_are_shares_of_its_members(monkeypatch):
    """Three of four meet it; two without an outage, three not too deep, all unfrozen but one."""
    names = probability._candidate.__globals__
    monkeypatch.setitem(names, "simulate_size", lambda *_: None)
    monkeypatch.setitem(names, "installed_cost", lambda *_: 77.0)
    monkeypatch.setitem(
        names, "judge", lambda _: (bag(name="a", met=True), bag(name="b", met=False))
    )
    tables = bag(array=bag(series=2), battery=bag(series=3))
    problem = bag(
        design=bag(tables=tables), array=bag(module=bag(power_w=160.0)),
        bank=bag(with_strings=lambda n: bag(nameplate_ah=100.0 * n)),
    )  # fmt: skip
    met = np.array([True, True, True, False])
    results = (np.array([0.0, 0.0, 4.0, 8.0]), np.array([0.2, 0.3, 0.9, 0.19]),
               np.array([0.0, 0.0, 0.0, 2.0]))  # fmt: skip
    found = probability._candidate(problem, (5, 4), 0.8, met, results)
    assert (found.modules, found.battery_units) == (10, 12)
    assert (found.array_w, found.battery_ah, found.cost) == (1600.0, 400.0, 77.0)
    assert found.probability_frac == 0.75
    assert found.error_frac == pytest.approx(math.sqrt(0.75 * 0.25 / 4))
    assert (found.no_outage_frac, found.not_too_deep_frac) == (0.5, 0.75)
    assert (found.not_frozen_frac, found.mean_hours_off) == (0.75, 3.0)
    assert found.lowest_median_frac == pytest.approx(0.25)
    assert found.lowest_p90_frac == pytest.approx(0.19 + 0.3 * 0.01)
    assert found.fails_on_record == ("b",)


def odds(p, modules=4, cost=None):
    """Return a size and its probability."""
    return bag(probability_frac=p, modules=modules, battery_units=2, cost=cost)


def test_a_sure_size_is_the_cheapest_that_is_sure_enough():
    """Its own probability counts; none where none is."""
    some = [odds(0.9, 4, 50.0), odds(0.95, 9, 40.0), odds(0.5, 1, 1.0)]
    half, most, surest = probability.sure_sizes(some)
    assert (half.level, most.level, surest.level) == (0.5, 0.9, 0.99)
    assert half.candidate is some[2]
    assert most.candidate is some[1]
    assert surest.candidate is None
    bare = [odds(0.9, 4), odds(0.9, 3)]
    assert probability.sure_sizes(bare, (0.9,))[0].candidate is bare[1]


def test_the_influence_of_an_input_is_its_share_of_squared_ranks():
    """One goes with the margin, one against it, one does not move at all."""
    lowest = np.array([0.1, 0.2, 0.3, 0.4, 0.5])
    inputs = {"with": lowest * 2, "against": -lowest, "still": np.ones(5)}
    first, second = probability.influences(lowest, np.zeros(5), inputs)
    assert {first.name, second.name} == {"with", "against"}
    both = sorted((first.rank_correlation, second.rank_correlation))
    assert both == pytest.approx([-1.0, 1.0])
    assert first.share_frac == pytest.approx(0.5)
    both = {row.name: row for row in (first, second)}
    assert (both["with"].low, both["with"].high) == pytest.approx((0.28, 0.92))
    # Hours off count before the charge: the member that is off most is the worst.
    [off] = probability.influences(lowest, np.array([0, 0, 0, 9.0, 1.0]), {"x": lowest})
    assert off.rank_correlation == pytest.approx(
        np.corrcoef([3, 4, 5, 1, 2], range(5))[0, 1]
    )
    assert probability.influences(lowest[:2], np.zeros(2), {"x": lowest[:2]}) == ()


@pytest.mark.parametrize(
    ("count", "findings"), [(499, 3), (500, 2), (1000, 2), (100, 3)]
)
def test_a_probability_needs_five_failures(monkeypatch, count, findings):
    """1 % of 500 years; sizes that are not reached are told by their level."""
    monkeypatch.setitem(
        monte_carlo._findings.__globals__, "year_findings", lambda _: []
    )
    sure = [bag(level=0.5, candidate=None), bag(level=0.95, candidate=None),
            bag(level=0.99, candidate=1)]  # fmt: skip
    found = monte_carlo._findings(None, count, sure)
    assert len(found) == findings
    assert [one.severity for one in found[:2]] == ["serious", "warning"]
    assert tells(found[0].text, "No size within [sizing] reaches 50 %.")
    assert tells(found[1].text, "No size within [sizing] reaches 95 %.")
    assert all(tells(one.text, f"{count:,} years, 99 %") for one in found[2:])


def test_made_and_measured_years_are_told_apart():
    """Ten seasons and more are a note, fewer a warning; made ones are too kind."""
    nine, ten = (bag(own=bag(seasons=(0,) * k), figures=None) for k in (9, 10))
    assert [one.severity for one in years.year_findings(nine)] == ["warning"]
    assert tells(years.year_findings(nine)[0].text, "9 different winters")
    assert [one.severity for one in years.year_findings(ten)] == ["note"]
    assert tells(years.year_findings(ten)[0].text, "10 actual winters")
    made = bag(own=None, figures=bag(year_to_year_frac=None))
    assert len(years.year_findings(made)) == 2
    made.figures.year_to_year_frac = 0.1
    assert len(years.year_findings(made)) == 1


@pytest.mark.parametrize(
    ("count", "sizes", "most"),
    [(1, 1, None), (0, 1, "1 or more"), (20_000, 1, None), (20_001, 1, "up to 20,000"),
     (20_000, 150, None), (20_000, 151, "up to 19,867"), (1000, 3000, None),
     (1001, 3000, "up to 1,000"),
     (5, 0, None)],
)  # fmt: skip
def test_years_are_as_many_as_memory_holds(count, sizes, most):
    """20,000, and three million results."""
    if most is None:
        years.check_years(count, sizes)
        return
    with pytest.raises(InputError) as caught:
        years.check_years(count, sizes)
    assert caught.value.faults[0].allowed == most
    assert years.seed_faults(0) == []
    assert years.seed_faults(-1)[0].given == "-1"


@pytest.mark.parametrize(
    ("how", "count", "typical", "synthetic", "found"),
    [("made", 20, False, False, "made"), ("auto", 10, False, False, "record"),
     ("auto", 9, False, False, "made"), ("auto", 20, True, False, "made"),
     ("auto", 20, False, True, "made"), ("record", 3, False, False, "record"),
     ("record", 2, False, False, "2 "), ("record", 1, False, False, "1 ")],
)  # fmt: skip
def test_years_come_from_the_record_where_it_has_enough(
    monkeypatch, how, count, typical, synthetic, found
):
    """Ten seasons by itself, three where that is asked."""
    monkeypatch.setitem(
        years.source_of_years.__globals__, "season_rows", lambda _: (0,) * count
    )
    record = bag(synthetic=synthetic, typical_year=typical)
    spread = bag(
        years_from=how,
        load_to_maximum_frac=0.5,
        more_soiling_frac=0.0,
        cold_curves="own",
    )
    if " " not in found:
        assert years.source_of_years(bag(record=record), spread) == found
        return
    with pytest.raises(InputError) as caught:
        years.source_of_years(bag(record=record), spread)
    fault = caught.value.faults[0]
    assert tells(fault.given, found)
    assert fault.given.endswith("s") == (count != 1)
    assert tells(fault.allowed, "3")
    still = bag(
        years_from=how,
        load_to_maximum_frac=0.0,
        more_soiling_frac=0.0,
        cold_curves="own",
    )
    assert years.source_of_years(bag(record=record), still) == "record"


def test_draws_lie_within_the_spread_and_seldom_at_its_end():
    """Loads as a triangle with its top at the typical; the rest evenly."""
    spread = bag(load_to_maximum_frac=0.5, more_soiling_frac=0.1, module_derate_frac=0.04,
                 cold_curves="between", snow="between")  # fmt: skip
    n = 40_000
    drawn = members.draw_members(spread, n, 7, seasons=5, snowy=True)
    counts = np.bincount(drawn.season, minlength=5)
    assert counts.size == 5
    assert counts / n == pytest.approx(np.full(5, 0.2), abs=0.01)
    assert drawn.load_share.max() <= 0.5
    assert drawn.load_share.mean() == pytest.approx(0.5 / 3, abs=0.003)
    assert drawn.dirt_frac.mean() == pytest.approx(0.05, abs=0.001)
    assert drawn.derate_frac.mean() == pytest.approx(0.02, abs=0.0005)
    for name in ("curve_share", "snow_share"):
        assert getattr(drawn, name).mean() == pytest.approx(0.5, abs=0.01)
    both = np.corrcoef([drawn.load_share, drawn.dirt_frac, drawn.derate_frac,
                        drawn.curve_share, drawn.snow_share])  # fmt: skip
    assert np.abs(both - np.eye(5)).max() < 0.03
    fixed = bag(load_to_maximum_frac=0.0, more_soiling_frac=0.0, module_derate_frac=0.0,
                cold_curves="own", snow="own")  # fmt: skip
    none = members.draw_members(fixed, 3, 7, seasons=None, snowy=True)
    assert none.season.tolist() == [0, 1, 2]
    assert none.load_share is none.dirt_frac is none.snow_share is None
    assert (none.value("dirt_frac", 1, 0.25), none.n) == (0.25, 3)


@pytest.mark.parametrize("step", [1.0, 0.5])
def test_the_lowest_mean_of_some_days_is_of_whole_days(step):
    """Three days of 300, 100 and 200 W/m2, and half a day of darkness that does not count."""
    per_day = round(24 / step)
    light = np.concatenate(
        [np.repeat([300.0, 100.0, 200.0], per_day), np.zeros(per_day // 2)]
    )
    assert members.darkest_kwh_m2_d(light, step, 1) == pytest.approx(2.4)
    assert members.darkest_kwh_m2_d(light, step, 2) == pytest.approx(3.6)
    assert members.darkest_kwh_m2_d(light, step, 9) == pytest.approx(4.8)
    assert members.coldest_degc(light, step, 2) == pytest.approx(150.0)
    assert [list(r) for r in members.parted(5, 2)] == [[0, 1], [2, 3], [4]]


@pytest.mark.parametrize(
    ("latitude", "starts"), [(50.0, "07-01"), (-50.0, "01-01"), (0.0, "07-01")]
)
def test_a_season_begins_in_the_middle_of_summer(latitude, starts):
    """July in the north, January in the south; 99 % of a year is whole."""
    day = np.repeat(
        np.arange(np.datetime64("2001-01-01"), np.datetime64("2005-01-01")), 24
    )
    record = bag(day_local=day, step_h=1.0, latitude_deg=latitude, n=day.size)
    seasons = members.season_rows(record)
    assert all(str(day[rows[0]])[5:] == starts for rows in seasons)
    assert len(seasons) == (3 if latitude >= 0 else 4)
    short = bag(
        day_local=day[: 24 * 365], step_h=1.0, latitude_deg=latitude, n=24 * 365
    )
    [round_year] = members.season_rows(short)
    assert str(day[round_year[0]])[5:] == starts
    assert sorted(round_year) == list(range(24 * 365))


def test_sizes_worth_trying_are_those_that_may_be_cheapest(monkeypatch):
    """At one of three levels, at most seven batteries; the largest where none will do."""
    names = trials._worth_trying.__globals__
    monkeypatch.setitem(names, "installed_cost", lambda _, a, b: 10.0 * a + 7.0 * b)
    problem = bag(design=bag(tables=bag(array=bag(series=1), battery=bag(series=1))))
    arrays = list(range(1, 41))
    needs = {b: [max(0, 30 - 3 * b)] * 4 for b in range(1, 11)}
    kept = trials._worth_trying(problem, needs, arrays)
    costs = {b: 10.0 * arrays[needs[b][0]] + 7.0 * b for b in needs}
    assert set(kept) == set(sorted(costs, key=lambda b: costs[b])[:7])
    none = {b: [40] * 4 for b in (2, 5)}
    assert list(trials._worth_trying(problem, none, arrays)) == [5]
    assert trials._steps(7, 3) == [3, 6, 7]
    assert trials._steps(6, 3) == [3, 6]


# ---------------------------------------------------------------- reliability


def test_outages_are_sorted_by_their_length():
    """Six hours is no longer under six; sums by class and by the year."""
    hours = [0.5, 5.9, 6.0, 23.0, 24.0, 72.0, 167.0, 168.0, 999.0]
    found = reliability.length_classes(hours, 2.0)
    assert [one.outages for one in found] == [2, 2, 1, 2, 2]
    assert [one.per_year for one in found] == [1.0, 1.0, 0.5, 1.0, 1.0]
    assert [one.hours for one in found] == [6.4, 29.0, 24.0, 239.0, 1167.0]


@pytest.mark.parametrize("power", [0.5, 2.0])
def test_a_curve_of_equal_reliability_is_fitted_by_its_power_law(power):
    """C_A = 3 C_S^-u through three points or more."""
    points = [bag(llp_frac=0.01, storage_days=d, array_ratio=3.0 * d**-power)
              for d in (1.0, 2.0, 5.0)]  # fmt: skip
    fit = reliability.fit_curve(points)
    assert (fit.f, fit.u) == pytest.approx((3.0, power))
    assert (fit.llp_frac, fit.points) == (0.01, 3)
    assert reliability.fit_curve(points[:2]) is None
    mixed = (*points, bag(llp_frac=0.1, storage_days=1.0, array_ratio=1.0))
    assert [len(some) for some in reliability._by_level(mixed)] == [1, 3]


@pytest.mark.parametrize("level", [0.001, 0.01, 0.1])
def test_a_level_is_crossed_between_the_grid_and_halved(level):
    """A loss of exp(-3 x); none where both ends lie on one side."""
    grid = [float(x) for x in np.linspace(math.log(0.3), math.log(6.0), 7)]
    asked = []

    def loss(x):
        asked.append(x)
        return math.exp(-2.5 * (x + 0.5))

    edge = -math.log(level) / 2.5 - 0.5
    found = reliability._crossing(loss, level, grid)
    if not grid[0] < edge <= grid[-1]:
        assert found is None
        return
    step = (grid[1] - grid[0]) / 2**6
    assert math.exp(edge) <= found <= math.exp(edge + step * (1 + 1e-9))
    assert reliability._crossing(lambda _: 0.0, level, grid) is None
    assert reliability._crossing(lambda _: 1.0, level, grid) is None


@pytest.mark.parametrize(
    ("length", "typical", "level", "words"),
    [(1.0, True, "warning", "0.01 % of one year"),
     (9.9, False, "warning", "9.9 years"), (10.0, False, "note", "1 % and 0.1 %")],
)  # fmt: skip
def test_how_rare_a_loss_a_record_can_show_is_told(length, typical, level, words):
    """Ten years of actual weather and more are a note."""
    out = np.ones(3, col.RESULT)
    record = bag(typical_year=typical, synthetic=False, years=length,
                 n=round(8760 * length), step_h=1.0)  # fmt: skip
    run = bag(
        problem=bag(record=record),
        out=out,
        hours_off_by_tier=(1.0, 5.0, 0.0),
    )
    [found] = reliability._findings(run)
    assert found.severity == level
    assert tells(found.text, words)
    out["first"][0] = 0.0
    assert len(reliability._findings(run)) == 2
    run.hours_off_by_tier = (5.0, 5.0, 9.0)
    assert len(reliability._findings(run)) == 1
    record.synthetic = True
    assert tells(reliability._findings(run)[-1].text, "16 to 27 % at 39 N")


# ---------------------------------------------------------------- sensitivity


def test_a_moved_size_is_told_by_both_parts():
    """A tenth more array and a fifth less battery move it by 30 %; none found by 400 %."""
    size = bag(array_w=1000.0, battery_ah=200.0)
    end = sensitivity.RangeEnd("x", 1100.0, 160.0)
    assert sensitivity._change(size, end) == pytest.approx(0.3)
    assert sensitivity._change(size, sensitivity.RangeEnd("x")) == 4.0
    assert sensitivity._change(size, sensitivity.RangeEnd("x", 1.0, None)) == 4.0


def site_of_ranges(**more):
    """Return a prepared site of 100 Wh/day, 15 % of them contingency, on 24 V."""
    array = bag(soiling_by_month=None, soiling_frac=0.02, snow=None, tilt_deg=85.0,
                azimuth_deg=5.0, model_fields_set={"tilt_deg"})  # fmt: skip
    tables = bag(
        bus=bag(contingency_frac=0.15, disconnect_v=23.0, nominal_v=24.0,
                model_fields_set={"contingency_frac"}),
        array=array, ensemble=bag(more_soiling_frac=0.03, load_to_maximum_frac=0.5),
    )  # fmt: skip
    record = bag(synthetic=False, typical_year=True, ghi_w_m2=np.full(9, 125.0),
                 temp_air_degc=np.full(9, 7.25))  # fmt: skip
    chemistry = bag(cold={"long": 1, "conservative": 2})
    return bag(
        design=bag(tables=tables), record=record,
        bank=bag(health_frac=0.97, cold_curve="conservative", chemistry=chemistry),
        budget=bag(wh_per_day=115.0, average_w=10.0,
                   status_frac={"published": 0.7, "assumed": 0.3}),
        **more,
    )  # fmt: skip


def test_each_input_is_moved_to_its_low_and_its_high_end(monkeypatch):
    """Ranges of the site where it has them, else those assumed."""
    names = sensitivity._loads.__globals__
    monkeypatch.setitem(names, "load_budget", lambda _: bag(average_w=16.0))
    monkeypatch.setitem(names, "highest_design", lambda design: design)
    problem = site_of_ranges()
    rows = {row[0]: row[1:] for row in sensitivity._inputs(bag(problem=problem))}

    def moved(name):
        value, status, low, high = rows[name]
        status = status.split()[-1] if name.startswith("Load") else status
        stated = [{k: v for k, v in dataclasses.asdict(end[1]).items()
                   if v is not None and k != "loads_off"} for end in (low, high)]  # fmt: skip
        return value, status, (low[0], high[0]), stated

    assert moved("Load without contingency") == (
        "100 Wh/day", "published", ("90 Wh/day", "130 Wh/day"),
        [{"load_factor": 0.9}, {"load_factor": pytest.approx(1.3)}],
    )  # fmt: skip
    assert moved("Contingency") == (
        "15 %", "site file", ("0 %", "30 %"),
        [{"load_factor": pytest.approx(1 / 1.15)}, {"load_factor": pytest.approx(1.3 / 1.15)}],
    )  # fmt: skip
    assert moved("Global horizontal irradiation") == (
        "3 kWh/m²/day", "typical year", ("+10 %", "-10 %"),
        [{"sun_factor": 1.1}, {"sun_factor": 0.9}],
    )  # fmt: skip
    assert moved("Ambient temperature") == (
        "7.2 °C mean", "typical year", ("+3 K", "-3 K"),
        [{"temperature_shift_k": 3.0}, {"temperature_shift_k": -3.0}],
    )  # fmt: skip
    assert moved("Soiling") == (
        "2 %", "default", ("0 %", "5 %"),
        [{"soiling_frac": 0.0}, {"soiling_frac": pytest.approx(0.05)}],
    )  # fmt: skip
    assert moved("Tilt") == (
        "85°", "site file", ("90°", "75°"), [{"tilt_deg": 90.0}, {"tilt_deg": 75.0}]
    )  # fmt: skip
    assert moved("Azimuth") == (
        "5°", "default", ("-10°", "20°"), [{"azimuth_deg": 350.0}, {"azimuth_deg": 20.0}]
    )  # fmt: skip
    assert moved("State of health sized for") == (
        "97 %", "chemistry data", ("100 %", "92 %"),
        [{"state_of_health_frac": 1.0}, {"state_of_health_frac": pytest.approx(0.92)}],
    )  # fmt: skip
    assert moved("Low-voltage disconnect") == (
        "23 V", "default", ("22.6 V", "23.4 V"),
        [{"disconnect_v": pytest.approx(22.6)}, {"disconnect_v": pytest.approx(23.4)}],
    )  # fmt: skip
    assert rows["Temperature derating of capacity"][2][0] == "long"
    problem.design.tables.array.soiling_by_month = (0.0,) * 6 + (0.12,) * 6
    rows = {row[0]: row[1:] for row in sensitivity._inputs(bag(problem=problem))}
    assert rows["Soiling"][0] == "6 %"


# ---------------------------------------------------------------- by hand and in the record


def disagreement(**more):
    """Return a worksheet's design of 4 and 2 strings in the record."""
    figures = {
        "by_hand": "4 array strings and 2 battery strings", "design": pick(), "array_strings": 4,
        "battery_strings": 2, "array_strings_in_record": 4, "battery_strings_in_record": 2,
        "spell_days": 0.0, "spell_start": "1 Dec", "spell_end": "9 Dec", "reasons": (),
        "dark_month": "",
    }  # fmt: skip
    return bag(**{**figures, **more})


def test_what_the_record_asks_beside_the_worksheet_is_told():
    """More or fewer strings, the spell in whole days, and reasons from 2 % on."""
    reason = Reason("a", "s", "u", 1.0, 2.0, "array", "sun", 0.02)
    less = dataclasses.replace(reason, words="age", effect_frac=-0.5)
    small = dataclasses.replace(reason, words="small", effect_frac=0.0199)
    met, array, battery, spell, more, fewer = against_record._words(
        disagreement(array_strings_in_record=7, battery_strings_in_record=1, spell_days=5.6,
                     reasons=(less, reason, small))
    )  # fmt: skip
    assert disagreement().by_hand in met
    assert tells(array, "2 battery strings, 7 array strings, 3 more")
    assert " more" in array
    assert tells(battery, "4 array strings, 1 battery string, 1 fewer")
    assert " fewer" in battery
    assert tells(spell, "6 days from 1 Dec to 9 Dec")
    assert more.endswith(": sun")
    assert fewer.endswith(": age")
    lost = pick(met=False, failed=("ice",), lost_at="", lowest_soc_at="")
    missed, none, day = against_record._words(
        disagreement(design=lost, array_strings_in_record=0, spell_days=1.0)
    )
    assert missed.endswith("ice")
    assert "no array" in none
    assert tells(none, "2 battery strings")
    assert tells(day, "1 d from 1 Dec to 9 Dec")
    far = against_record._words(disagreement(design=None))
    dark = against_record._words(disagreement(design=None, dark_month="Dec"))
    assert far != dark
    assert len(far) == len(dark) == 1
    plain = against_record._words(disagreement(spell_days=0.9))
    assert len(plain) == 1


@pytest.mark.parametrize("need", [0, 1, 7, 50, 51])
def test_the_fewest_strings_are_sought_up_to_a_limit(need):
    """None where the limit does not do."""
    found = against_record._fewest(lambda n: n >= need, 50)
    assert found == (0 if need > 50 else max(need, 1))


@pytest.mark.parametrize("ring", [False, True])
def test_the_least_supply_is_that_whose_shortage_is_just_allowed(ring):
    """10 Ah asked each interval, 20 given in every other: half a day may be missing."""
    needed, supplied = np.full(40, 10.0), np.tile([0.0, 20.0], 20)
    share = record_figures._least_share(needed, supplied, 10.0, ring=ring)
    assert share == pytest.approx(1.0, abs=1e-4)
    if not ring:
        more = record_figures._least_share(needed, supplied, 210.0, ring=ring)
        # 400 Ah asked less 400 times the share are 210 at the end.
        assert more == pytest.approx(0.475, abs=1e-4)


# ---------------------------------------------------------------- starts


@pytest.mark.parametrize(("every", "used"), [(None, 7.0), (14.0, 14.0)])
@pytest.mark.parametrize("starts", [0, 1, 24])
def test_the_risk_of_a_start_is_that_of_its_longest_rest(
    monkeypatch, every, used, starts
):
    """Weekly exercise is told where none is stated; two years of half-hours."""
    names = generation._risk.__globals__
    monkeypatch.setitem(names, "wraps", lambda _: False)
    out = np.zeros(1000, col.RESULT)
    out["source_code"][[0, 900]] = [col.G_EXERCISE, col.G_EXERCISE + 10]
    hours = np.zeros(1000)
    hours[[0, 100, 700, 900]] = 1.0
    table = bag(
        start_probability_frac=0.98, standing_faults_per_y=0.5, exercise_every_d=every
    )
    run = bag(problem=bag(record=bag(step_h=0.5)), out=out, years=2.0)
    found = generation._risk(run, bag(table=table), bag(run_h=hours, starts=starts))
    assert found.longest_rest_h == 599 * 0.5
    bare = failure_risk_frac(0.98, 0.5, 299.5)
    tested = failure_risk_frac(0.98, 0.5, 299.5, 24.0 * used)
    assert (found.risk_frac, found.risk_exercised_frac) == (bare, tested)
    a_year = starts / 2.0
    rest = 8766.0 / max(a_year, 1.0)
    usual = failure_risk_frac(0.98, 0.5, rest, None if every is None else 24.0 * every)
    first = bare if every is None else tested
    expected = usual * max(0.0, a_year - 1.0) + min(1.0, a_year) * first
    assert found.expected_failures_per_year == pytest.approx(expected)
    assert found.year_risk_frac == at_least_one_frac(usual, max(1.0, a_year))
    assert found.stated
    table.start_probability_frac, table.standing_faults_per_y = 1.0, 0.0
    assert not generation._risk(
        run, bag(table=table), bag(run_h=hours, starts=1)
    ).stated


@pytest.mark.parametrize(
    ("periods", "keys", "faults"),
    [([(10.0, 60.0)], {}, 0), ([], {}, 1), ([(-0.1, 60.0)], {}, 1), ([(10.0, 0.0)], {}, 1),
     ([(10.0, -5.0)], {}, 1), ([(0.0, 0.5)], {"margin_frac": 0.0}, 0),
     ([(1.0, 1.0)], {"margin_frac": -0.01}, 1), ([(1.0, 1.0)], {"end_of_life_frac": 1.0}, 0),
     ([(1.0, 1.0)], {"end_of_life_frac": 1.01}, 1), ([(1.0, 1.0)], {"end_of_life_frac": 0.0}, 1),
     ([(1.0, 1.0)], {"temperature_factor": 0.0}, 1), ([], {"margin_frac": -1.0}, 2)],
)  # fmt: skip
def test_a_duty_cycle_that_cannot_be_is_refused(periods, keys, faults):
    """Loads from 0 A, times above 0 min, a margin from 0, a share above 0 up to 1."""
    if not faults:
        duty_cycle_ah(periods, lambda _: 1.0, **keys)
        return
    with pytest.raises(InputError) as caught:
        duty_cycle_ah(periods, lambda _: 1.0, **keys)
    assert len(caught.value.faults) == faults
