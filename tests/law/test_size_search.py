"""The search over modules, strings, batteries and tilts, done a second way."""

from __future__ import annotations

import dataclasses
import itertools

import numpy as np
import pytest

from powerbudget.balance import columns as col
from powerbudget.balance.problem import prepare
from powerbudget.balance.simulation import simulate_size
from powerbudget.compare.priced_site import PricedSite
from powerbudget.compare.prices import PriceBook
from powerbudget.errors import InputError
from powerbudget.site.reader import Design, read_site
from powerbudget.site.scenario import Scenario
from powerbudget.site.starter import starter_text
from powerbudget.sizing import array_options
from powerbudget.sizing.array_options import (
    candidate_series,
    candidate_tilts,
    hot_module_v,
    variants,
)
from powerbudget.sizing.autonomy import design_autonomy_days, record_autonomy
from powerbudget.sizing.criteria import judge
from powerbudget.sizing.frontier import Search, find_frontier
from powerbudget.sizing.picks import make_picks, ranked
from powerbudget.sizing.recovery import recovery
from powerbudget.sizing.search import size
from tests.reference.installed import installed_usd


def with_tables(problem, **changes):
    """Return the problem with other keys in some tables of its site file."""
    tables = problem.design.tables
    parts = {
        name: getattr(tables, name).model_copy(update=update)
        for name, update in changes.items()
    }
    design: Design = dataclasses.replace(
        problem.design, tables=tables.model_copy(update=parts)
    )
    return dataclasses.replace(problem, design=design)


def whole_grid(problem, among=None):
    """Return passing designs as modules, units and verdicts, without a search.

    Every one of the grid is tried, or those among some that are known.
    """
    steps = problem.design.tables.sizing
    batteries = range(
        steps.battery_step, steps.max_battery_strings + 1, steps.battery_step
    )
    found = []
    for way in variants(problem):
        arrays = range(steps.array_step, way.most_strings + 1, steps.array_step)
        for array, battery in itertools.product(arrays, batteries):
            units = way.problem.bank.with_strings(battery).units
            pieces = (array * way.series, units)
            if among is not None and pieces not in among:
                continue
            run = simulate_size(way.problem, array, battery)
            if all(verdict.met for verdict in judge(run)):
                found.append(pieces)
    return found


def unbeaten(designs):
    """Return the designs that no other beats in modules and units."""
    return sorted(
        {
            (m, u)
            for m, u in designs
            if not any(a <= m and b <= u and (a, b) != (m, u) for a, b in designs)
        }
    )


def at_health(problem, health):
    """Return the site with a battery of so much capacity."""
    return problem.under(Scenario(state_of_health_frac=health))


def lasting_grid(problem):
    """Return designs that meet every criterion at end of life and when new, by trying."""
    old = whole_grid(at_health(problem, problem.bank.chemistry.end_of_life_frac))
    new = set(whole_grid(at_health(problem, 1.0), set(old)))
    return [design for design in old if design in new]


CASES = [
    pytest.param("starter", {"tilts": (40.0, 70.0, 85.0), "max_array_strings": 9,
                             "max_battery_strings": 6}, {}, marks=pytest.mark.slow),
    ("two-well-pad", {"series": (1, 2, 3), "max_array_strings": 4,
                      "max_battery_strings": 4, "array_voltage_limit_v": 200.0}, {}),
    pytest.param("hot-valve-site", {"tilts": (10.0, 35.0), "series": (1, 2),
                                    "max_array_strings": 5, "max_battery_strings": 4},
                 {}, marks=pytest.mark.slow),
    ("starter", {"array_step": 2, "battery_step": 2, "max_array_strings": 13,
                 "max_battery_strings": 7}, {"at_end_of_life": True}),
    ("coastal-meter-run", {"max_array_strings": 8, "max_battery_strings": 6},
     {"recovery_d": 30.0, "freeze_margin_frac": 0.3}),
]  # fmt: skip


@pytest.mark.parametrize(("name", "sizing", "criteria"), CASES)
def test_frontier_is_that_of_the_whole_grid(prepared, name, sizing, criteria):
    """Tilts, strings, steps and every criterion: the search finds what trying all does."""
    problem = with_tables(prepared(name), sizing=sizing, criteria=criteria)
    result = size(problem)
    expected = unbeaten(lasting_grid(problem))
    assert sorted((c.modules, c.battery_units) for c in result.frontier) == expected
    assert expected


def test_what_is_left_untried_changes_nothing(prepared, monkeypatch):
    """Strings that make arrays of others, and counts known to fail, hide no design."""
    limits = {"series": "auto", "max_array_strings": 14, "max_battery_strings": 5}
    problem = with_tables(
        prepared("coastal-meter-run"),
        sizing={**limits, "tilts": (45.0, 60.0)},
        regulator={"kind": "mppt"},
    )
    quick = Search(problem)
    edge = find_frontier(quick, None)
    monkeypatch.setattr(array_options, "_repeats", lambda *_: False)
    monkeypatch.setattr(Search, "too_few", lambda *_: False)
    slow = Search(problem)
    assert find_frontier(slow, None) == edge
    assert len(quick.tried) < len(slow.tried)
    assert len(quick.ways) < len(slow.ways)


@pytest.mark.parametrize(("module_kg", "unit_kg"), [(5.0, 100.0), (200.0, 2.0)])
def test_lightest_is_found_without_the_whole_frontier(prepared, module_kg, unit_kg):
    """Batteries that alone outweigh a design found are left out; the lightest stays."""
    masses = {
        "module_mass_kg": module_kg,
        "battery_unit_mass_kg": unit_kg,
        "max_battery_strings": 12,
    }
    problem = with_tables(prepared("starter"), sizing=masses)
    search = Search(problem)
    some = find_frontier(search, None, only="lightest")
    every = find_frontier(whole := Search(problem), None)
    assert min(c.mass_kg for c in some) == min(c.mass_kg for c in every)
    heavy = unit_kg > module_kg
    assert (len(search.tried) < len(whole.tried)) is heavy


@pytest.mark.parametrize(
    ("module", "unit", "fewer"),
    [(50.0, 5000.0, True), (2000.0, 20.0, False), (0, 0, True)],
)
def test_cheapest_is_found_without_the_whole_frontier(prepared, module, unit, fewer):
    """Batteries that alone cost more are left out; without prices, those of more pieces."""
    each = {"module": module or None, "battery_unit": unit or None}
    problem = with_tables(
        prepared("starter"), sizing={"max_battery_strings": 12}, costs=each
    )
    search = Search(problem)
    some = find_frontier(search, None, only="cheapest")
    every = find_frontier(whole := Search(problem), None)
    assert min(some, key=ranked) == min(every, key=ranked)
    assert (len(search.tried) < len(whole.tried)) is fewer


@pytest.mark.parametrize(
    "name",
    ["starter", pytest.param("coastal-meter-run", marks=pytest.mark.slow)],
)
def test_picks_are_the_least_of_all_designs_that_pass(prepared, name):
    """Cheapest, lightest and fewest parts are so among the whole grid, not the edge.

    And the edge is that of the grid.
    """
    limits = {"max_array_strings": 12, "max_battery_strings": 7}
    problem = with_tables(prepared(name), sizing=limits)
    result = size(problem)
    grid = lasting_grid(problem)
    edge = sorted((c.modules, c.battery_units) for c in result.frontier)
    assert edge == unbeaten(grid)
    assert len(edge) > 1 or name != "starter"
    cheapest, lightest, fewest = (
        result.picks[key] for key in ("cheapest", "lightest", "fewest_parts")
    )
    assert cheapest.cost == pytest.approx(
        min(installed_usd(problem, m, u) for m, u in grid)
    )
    module, unit = (
        problem.design.parts[part].mass
        for part in (
            problem.design.tables.array.module,
            problem.design.tables.battery.unit,
        )
    )
    assert lightest.mass_kg == pytest.approx(
        min(m * module + u * unit for m, u in grid)
    )
    assert fewest.parts == min(m + u for m, u in grid)


def test_a_mass_in_the_site_file_moves_the_lightest_pick(prepared):
    """Light panels beside heavy batteries make the smallest battery the lightest."""
    problem = with_tables(
        prepared("starter"),
        sizing={"module_mass_kg": 1.0, "battery_unit_mass_kg": 100.0},
    )
    result = size(problem)
    assert result.picks["lightest"] is result.frontier[0]
    swapped = with_tables(
        problem, sizing={"module_mass_kg": 100.0, "battery_unit_mass_kg": 1.0}
    )
    assert size(swapped).picks["lightest"].modules == result.frontier[-1].modules


def test_no_masses_no_lightest():
    """Nothing is said to be lightest where no mass is known."""
    assert make_picks(()) == {"cheapest": None, "lightest": None, "fewest_parts": None}


def test_one_more_is_the_difference_of_two_runs(sized):
    """What one more buys equals the larger design's own run beyond the pick's."""
    result = sized("starter")
    pick, (array, battery) = result.pick, result.one_more
    for row, a, b in ((array, 1, 0), (battery, 0, 1)):
        runs = [
            simulate_size(
                result.problem, pick.array_strings + a * k, pick.battery_strings + b * k
            )
            for k in (0, 1)
        ]
        assert row.lowest_soc_frac == runs[1].lowest_soc_frac
        assert row.gained_soc_frac == pytest.approx(
            runs[1].lowest_soc_frac - runs[0].lowest_soc_frac
        )
        days = [record_autonomy(run)[0] for run in runs]
        assert row.gained_record_days == pytest.approx(days[1] - days[0])
    for row in (array, battery):
        sizes = ((row.modules, row.battery_units), (pick.modules, pick.battery_units))
        larger, own = (installed_usd(result.problem, *both) for both in sizes)
        assert row.cost == pytest.approx(larger - own)
    assert array.gained_design_days == 0
    assert battery.gained_design_days > 1


def test_end_of_life_asks_for_more_than_the_battery_as_specified(prepared, sized):
    """By default a size lasts; asked for the battery as it is, it is smaller."""
    problem = prepared("starter")
    lasting = sized("starter")
    young = size(with_tables(problem, sizing={"battery_age": "beginning-of-life"}))
    assert lasting.pick.cost > young.pick.cost
    assert lasting.problem.bank.health_frac == 0.8
    assert young.problem.bank.health_frac == problem.bank.health_frac == 0.9
    assert (lasting.battery_age, young.battery_age) == (
        "end-of-life",
        "beginning-of-life",
    )
    asked = size(with_tables(problem, criteria={"at_end_of_life": True}))
    assert asked.pick == lasting.pick


@pytest.mark.parametrize(
    "name",
    ["starter", "winter-hybrid",
     *(pytest.param(name, marks=pytest.mark.slow) for name in (
         "coastal-meter-run", "hot-valve-site", "two-well-pad", "foggy-basin-station",
         "electric-wellpad"))],
)  # fmt: skip
def test_the_pick_meets_every_criterion_at_both_ends_of_its_life(prepared, sized, name):
    """What is bought does when it is new and when it is worn, by `judge` itself."""
    problem = prepared(name)
    found = sized(name)
    picks = [c for c in found.picks.values() if c is not None]
    for health in (problem.bank.chemistry.end_of_life_frac, 1.0):
        for pick in picks:
            strings = (pick.array_strings, pick.battery_strings)
            run = simulate_size(at_health(problem, health), *strings)
            missed = [v.name for v in judge(run) if not v.met]
            assert missed == [], (health, pick)
    assert picks or found.pick is None


def test_a_size_that_only_the_old_battery_passes_is_not_picked(prepared, sized):
    """A new battery takes longer to recover: where that fails, the size fails."""
    problem = prepared("coastal-meter-run")
    old = at_health(problem, 0.8)
    strings = sized("coastal-meter-run").pick
    sizes = (strings.array_strings, strings.battery_strings)
    worn = recovery(simulate_size(old, *sizes)).worst_days
    new = recovery(simulate_size(at_health(problem, 1.0), *sizes)).worst_days
    assert new > worn
    between = {"recovery_d": 0.5 * (worn + new)}
    search = Search(with_tables(problem, criteria=between))
    found = search.at(*sizes)
    assert found.failed == ("criteria failed at beginning of life",)
    assert not search.passes(*sizes)


def test_two_keys_that_contradict_each_other_are_refused(tmp_path):
    """A size for the battery as specified cannot be asked with one for its end."""
    text = starter_text().replace("[criteria]", "[criteria]\nat_end_of_life = true")
    site = tmp_path / "a.toml"
    site.write_text(
        text.replace("[sizing]", "[sizing]\nbattery_age = 'beginning-of-life'")
    )
    with pytest.raises(InputError, match=r"sizing\.battery_age"):
        read_site(site)


def test_run_is_judged_old_as_well(prepared):
    """With at_end_of_life a run says how many criteria its bank misses when old."""
    problem = with_tables(prepared("starter"), criteria={"at_end_of_life": True})
    found = {v.name: v for v in judge(simulate_size(problem, 5, 3))}[
        "criteria failed at end of life"
    ]
    end = problem.bank.chemistry.end_of_life_frac
    old = prepared("starter").under(Scenario(state_of_health_frac=end))
    missed = [v.name for v in judge(simulate_size(old, 5, 3)) if not v.met]
    assert found.found == len(missed)
    assert not found.met


def test_freeze_margin_is_the_least_charge_above_freezing(prepared):
    """The criterion's figure is the smallest margin of the record, and can bind."""
    problem = with_tables(
        prepared("fleet-station-north"), criteria={"freeze_margin_frac": 0.99}
    )
    run = simulate_size(problem)
    found = {v.name: v for v in judge(run)}["freezing margin"]
    assert found.found == min(run.frost.least_margin_frac, 1.0)
    assert found.met == (found.found >= 0.99)


def test_tilt_is_kept_unless_another_saves_a_module(prepared, sized):
    """Among tilts, the site's own stands where no other needs fewer modules."""
    problem = with_tables(prepared("starter"), sizing={"tilts": (0.0, 70.0)})
    result = size(problem)
    alone = sized("starter")
    assert [c.modules for c in result.frontier] == [c.modules for c in alone.frontier]
    assert {c.tilt_deg for c in result.frontier} == {70.0}


def test_automatic_tilts_and_strings(prepared):
    """Own tilt first, then latitude and steps; strings between both voltages."""
    problem = with_tables(
        prepared("two-well-pad"),
        sizing={"tilts": "auto", "series": "auto", "array_voltage_limit_v": 100.0},
    )
    tables = problem.design.tables
    tilts = candidate_tilts(problem)
    latitude = round(tables.site.latitude_deg)
    assert tilts[0] == tables.array.tilt_deg
    assert {latitude - 15.0, float(latitude), latitude + 15.0} <= set(tilts)
    series = candidate_series(problem)
    assert series[0] == tables.array.series
    module = problem.array.module
    coldest = float(problem.record.temp_air_degc.min())
    for n in range(1, 12):
        cold = (
            n * module.open_circuit_v * (1 + module.open_circuit_per_k * (coldest - 25))
        )
        hot = n * hot_module_v(problem)
        fits = cold <= 100.0 and hot >= 0.95 * problem.bank.regulation_v
        assert (n in series) == fits


def test_a_tracker_gives_the_same_however_modules_are_strung(prepared):
    """Six modules give as much as 6 x 1, 3 x 2 and 2 x 3 behind a tracker."""
    problem = prepared("two-well-pad")
    ways = {n: problem.under(Scenario(modules_in_series=n)) for n in (1, 2, 3)}
    prepared_anew = prepare(ways[3].design, problem.record)
    np.testing.assert_allclose(
        col.matrix(ways[3].hourly),
        col.matrix(prepared_anew.hourly),
        rtol=1e-12,
        atol=1e-12,
    )
    assert ways[3].array.energy_wh == pytest.approx(prepared_anew.array.energy_wh)
    lowest = [simulate_size(ways[n], 6 // n, 4).lowest_soc_frac for n in (1, 2, 3)]
    assert lowest == pytest.approx([lowest[0]] * 3, abs=1e-9)


def test_hopeless_batteries_fail_with_any_array(prepared):
    """A battery that is skipped unsimulated does fail, whatever the array."""
    problem = prepared("coastal-meter-run")
    search = Search(problem)
    skipped = [b for b in range(1, 5) if search.hopeless(b)]
    assert skipped
    for battery in skipped:
        run = simulate_size(problem, 30, battery)
        failed = {v.name for v in judge(run) if not v.met}
        assert failed & {"autonomy", "daily DOD"}
    degc = problem.design.tables.criteria.autonomy_degc
    days = design_autonomy_days(problem, problem.bank.with_strings(skipped[-1]), degc)
    assert search.design_days(skipped[-1]) == days


@pytest.mark.parametrize("age", ["end-of-life", "beginning-of-life"])
@pytest.mark.parametrize("strings", [(1, 1), (6, 2), (12, 6)])
def test_size_and_compare_judge_a_size_alike(prepared, age, strings):
    """Panels alone: the same verdicts from the search of one and of the other verb."""
    problem = prepared("coastal-meter-run")
    problem = with_tables(problem, sizing={"battery_age": age})
    site = PricedSite(problem, PriceBook(problem.design.tables))
    assert site.attempt(*strings).verdicts == Search(problem).at(*strings).verdicts


def test_threads_do_not_change_the_answer(prepared, sized, monkeypatch):
    """One battery at a time gives the same frontier as several."""
    from powerbudget.sizing import frontier

    found = [sized("coastal-meter-run")]
    for workers in (1, 4):
        monkeypatch.setattr(frontier, "WORKERS", workers)
        found.append(size(prepared("coastal-meter-run")))
    sizes = [[(c.modules, c.battery_units) for c in one.frontier] for one in found]
    assert sizes[0] == sizes[1] == sizes[2]


def test_progress_runs_to_its_end(prepared):
    """Progress never goes back and ends at the number of batteries in all."""
    seen = []
    size(prepared("starter"), lambda done, total: seen.append((done, total)))
    done = [item[0] for item in seen]
    assert done == sorted(done)
    assert seen[-1][0] == seen[-1][1] == 10
    assert np.unique([item[1] for item in seen]).size == 1
