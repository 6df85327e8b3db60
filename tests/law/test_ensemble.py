"""What must hold for every ensemble, and members computed a second way."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from powerbudget.balance.drive import run_kernel
from powerbudget.balance.problem import prepare
from powerbudget.balance.simulation import simulate_size
from powerbudget.cli.common import plain
from powerbudget.loads.budget import load_budget
from powerbudget.site.ensemble import Spread, no_spread
from powerbudget.site.scenario import Scenario
from powerbudget.sizing.installed import cost_lines
from powerbudget.sizing.uncertainty.members import (
    Draws,
    draw_members,
    highest_design,
    member_problem,
    run_season,
    season_rows,
    season_source_of,
)
from powerbudget.sizing.uncertainty.monte_carlo import ensemble
from powerbudget.sizing.uncertainty.probability import influences
from powerbudget.weather.synthesis import monthly_sky_from, synthesise

OWN_YEAR = no_spread().model_copy(update={"years_from": "record"})
GRID = [(a, b) for b in (2, 4, 6) for a in (6, 9, 12, 15)]


@pytest.fixture(scope="module")
def many(prepared):
    """Twenty-five made seasons of the example through a grid of sizes."""
    return ensemble(prepared("starter"), 25, 3, sizes=GRID)


@pytest.mark.parametrize("name", ["coastal-meter-run", "hot-valve-site"])
def test_one_year_without_spread_is_the_run_itself(prepared, name):
    """One member, nothing varied: hours off and lowest charge are those of `run`."""
    problem = prepared(name)
    own = (problem.strings, problem.bank.parallel)
    sizes = [own, (max(1, own[0] // 2), own[1]), (own[0], max(1, own[1] // 3))]
    result = ensemble(problem, 1, 1, sizes=sizes, spread=OWN_YEAR)
    for size, found in zip(sizes, result.candidates, strict=True):
        run = simulate_size(problem, *size)
        off = float((~run.served).sum()) * problem.record.step_h
        assert found.mean_hours_off == pytest.approx(off)
        assert found.lowest_median_frac == pytest.approx(run.lowest_soc_frac, abs=1e-5)


def test_a_member_reads_the_input_window_at_the_volts_of_its_own_battery(prepared):
    """Strings near the bus, two sizes of battery: hours off and charge are those of `run`.

    Half the dirt-free power behind the window is half of it at every voltage.
    """
    problem = prepared("starter")
    tight = problem.design.tables.regulator.model_copy(
        update={"run_headroom_v": 5.5, "kind": "mppt"}
    )
    tables = problem.design.tables.model_copy(update={"regulator": tight})
    problem = prepare(dataclasses.replace(problem.design, tables=tables))
    assert problem.window is not None
    sizes = [(6, 5), (4, 2)]
    result = ensemble(problem, 1, 1, sizes=sizes, spread=OWN_YEAR)
    for size, found in zip(sizes, result.candidates, strict=True):
        run = simulate_size(problem, *size)
        off = float((~run.served).sum()) * problem.record.step_h
        assert found.mean_hours_off == pytest.approx(off)
        assert found.lowest_median_frac == pytest.approx(run.lowest_soc_frac, abs=1e-5)
    sky, draws = (
        season_source_of(problem),
        Draws(np.zeros(1, np.int64), dirt_frac=np.array([0.5])),
    )
    rows = sky.seasons[0]
    half = member_problem(sky, problem, rows, draws, 0).window
    assert half.array_w == pytest.approx(0.5 * problem.window.array_w[rows])


@pytest.mark.slow
def test_same_seed_same_answer_on_any_number_of_threads(prepared):
    """The whole answer is repeated, whoever computes which part."""
    problem = prepared("starter")
    one = ensemble(problem, 28, 5, sizes=GRID[1:2], threads=1)
    three = ensemble(problem, 28, 5, sizes=GRID[1:2], threads=3)
    other = ensemble(problem, 28, 6, sizes=GRID[1:2], threads=3)
    assert plain(one) == plain(three)
    assert plain(one) != plain(other)


@pytest.mark.slow
def test_more_panel_never_lowers_the_probability(many):
    """For each battery the probability does not fall along the array."""
    by_size = {(c.array_strings, c.battery_strings): c for c in many.candidates}
    for battery in (2, 4, 6):
        odds = [by_size[array, battery].probability_frac for array in (6, 9, 12, 15)]
        assert odds == sorted(odds)
    assert len({c.probability_frac for c in many.candidates}) > 4


@pytest.mark.slow
def test_more_battery_never_lowers_the_probability(many):
    """For each array the probability does not fall along the battery."""
    by_size = {(c.array_strings, c.battery_strings): c for c in many.candidates}
    for array in (6, 9, 12, 15):
        odds = [by_size[array, battery].probability_frac for battery in (2, 4, 6)]
        assert odds == sorted(odds)


@pytest.mark.slow
def test_sure_sizes_are_the_cheapest_that_reach_their_level(many, prepared):
    """P50 and P90 are found again by looking at every candidate."""
    problem = prepared("starter")
    costs = problem.design.tables.costs

    def cost(c):
        """Return pieces at the site's prices, and the other lines of `cost_lines`."""
        lines = cost_lines(problem, c.array_strings, c.battery_strings)
        own = costs.module * c.modules + costs.battery_unit * c.battery_units
        names = {"PV modules", "battery units"}
        assert own == pytest.approx(sum(x.cost for x in lines if x.piece in names))
        return own + sum(x.cost for x in lines if x.piece not in names)

    for size in many.sizes:
        good = [cost(c) for c in many.candidates if c.probability_frac >= size.level]
        assert (size.candidate is None) == (not good)
        if size.candidate is not None:
            assert size.candidate.cost == pytest.approx(min(good))
    assert many.sizes[0].candidate is not None


@pytest.mark.slow
def test_heavier_load_lowers_and_longer_curve_raises_the_margin(prepared):
    """Rank correlations have the sign that physics asks for."""
    result = ensemble(prepared("starter"), 60, 2, sizes=[(12, 5)])
    rho = {row.name: row.rank_correlation for row in result.influences}
    assert rho["load between typical and maximum power"] < -0.3
    assert rho["10-day minimum GHI"] > 0.3
    shares = sum(row.share_frac for row in result.influences)
    assert shares == pytest.approx(1.0)
    strongest = [abs(row.rank_correlation) for row in result.influences]
    assert strongest == sorted(strongest, reverse=True)


def test_ranks_find_a_curved_and_a_falling_input():
    """A monotone input counts fully whatever its shape; a constant one not at all."""
    low = np.linspace(0.1, 0.9, 50)
    found = influences(
        low,
        np.zeros(50),
        {"curved": low**5, "falling": -np.exp(low), "constant": np.ones(50)},
    )
    assert {row.name for row in found} == {"curved", "falling"}
    assert {round(row.rank_correlation, 9) for row in found} == {1.0, -1.0}


def test_hours_off_rank_below_every_margin():
    """Members that lost loads are ranked by hours, below all that did not."""
    low, off = np.array([0.2, 0.2, 0.2, 0.5]), np.array([40.0, 3.0, 0.0, 0.0])
    found = influences(low, off, {"sun": np.array([1.0, 2.0, 3.0, 4.0])})
    assert found[0].rank_correlation == pytest.approx(1.0)


def test_draws_are_prefixes_and_streams_of_their_own():
    """More years keep the first ones, and dropping an input moves no other."""
    few = draw_members(Spread(), 10, 4, seasons=None, snowy=False)
    more = draw_members(Spread(), 30, 4, seasons=None, snowy=True)
    without = Spread().model_copy(update={"load_to_maximum_frac": 0.0})
    lean = draw_members(without, 10, 4, seasons=5, snowy=False)
    assert few.load_share == pytest.approx(more.load_share[:10])
    assert few.snow_share is None
    assert more.snow_share is not None
    assert lean.load_share is None
    assert lean.curve_share == pytest.approx(few.curve_share)
    assert set(lean.season) <= set(range(5))


def test_load_share_is_triangular_and_the_rest_even():
    """Means and ranges of many draws are those of their distributions."""
    spread = Spread().model_copy(update={"module_derate_frac": 0.1})
    draws = draw_members(spread, 20_000, 8, seasons=3, snowy=True)
    assert draws.load_share.mean() == pytest.approx(1 / 3, abs=0.01)
    assert draws.curve_share.mean() == pytest.approx(0.5, abs=0.01)
    assert draws.dirt_frac.mean() == pytest.approx(0.025, abs=0.001)
    assert draws.derate_frac.max() == pytest.approx(0.1, abs=0.001)
    assert np.bincount(draws.season) == pytest.approx(20_000 / 3, rel=0.05)


def test_heaviest_member_carries_every_line_at_its_highest(prepared):
    """A share of one loads the kernel as the budget of the highest draws does."""
    problem = prepared("starter")
    sky = season_source_of(problem)
    draws = Draws(np.zeros(2, np.int64), load_share=np.array([0.0, 1.0]))
    rows = sky.seasons[0]
    typical, heavy = (member_problem(sky, problem, rows, draws, k) for k in (0, 1))
    high = load_budget(highest_design(problem.design))
    volts = problem.budget.nominal_v

    def mean_w(case):
        h = case.hourly
        watts = h["load_w"] + h["load_a"] * volts
        return float((watts + h["load_s"] * volts**2).mean())

    base = high.base_a * volts
    assert mean_w(heavy) == pytest.approx(high.mean_w.mean() - base, rel=1e-3)
    assert mean_w(typical) < mean_w(heavy)
    assert heavy.budget.typical_w == pytest.approx(high.typical_w)


def test_highest_design_by_hand(prepared):
    """Lines stand at their high figure, at the same duty, without contingency."""
    design = prepared("starter").design
    high = {line.name: line for line in load_budget(highest_design(design)).lines}
    assert high["controller"].typical_w == pytest.approx(0.165 * 13.8)
    assert high["Coriolis gas meter"].typical_w == pytest.approx(11.0)
    # 8 W for half of one hour a day.
    assert high["enclosure light"].wh_per_day == pytest.approx(4.0)
    assert "contingency" not in high
    # The radio talks as long as before: it does not transmit all day.
    assert high["radio"].typical_w < 0.5 * high["radio"].maximum_w


def test_dirt_and_derating_come_off_the_array_once_each(prepared):
    """Ten and twenty percent leave 72 percent of the power."""
    problem = prepared("starter")
    sky = season_source_of(problem)
    draws = Draws(
        np.zeros(1, np.int64), dirt_frac=np.array([0.1]), derate_frac=np.array([0.2])
    )
    rows = sky.seasons[0]
    found = member_problem(sky, problem, rows, draws, 0).hourly["array_w"]
    assert found == pytest.approx(0.72 * problem.hourly["array_w"][rows])


def test_curve_share_ends_on_the_two_curves(prepared):
    """A share of nought and of one is the bank on either built-in curve."""
    problem = prepared("coastal-meter-run")
    sky = season_source_of(problem)
    draws = Draws(np.zeros(2, np.int64), curve_share=np.array([0.0, 1.0]))
    rows = sky.seasons[0]
    for k, curve in enumerate(("conservative", "slow-rate")):
        wanted = problem.under(Scenario(temperature_derating=curve))
        wanted = wanted.hourly["capacity"][rows]
        got = member_problem(sky, problem, rows, draws, k).hourly["capacity"]
        assert got == pytest.approx(wanted)


@pytest.mark.parametrize("size", [(10, 5), (5, 2), (24, 1)])
def test_a_season_begins_as_it_ends(prepared, size):
    """Running the same season three times over changes nothing."""
    problem = prepared("starter")
    rows = season_rows(problem.record)[0]
    sky = season_source_of(problem)
    season = member_problem(sky, problem, rows, Draws(np.zeros(1, np.int64)), 0)
    s = season.scalars(size[0], season.bank.with_strings(size[1]))
    removed, served = run_season(season, s)
    again = run_kernel(season, s, float(removed[-1]))
    again = run_kernel(season, s, float(again["removed_ah"][-1]))
    held = s["charge_ah"]
    assert np.abs(again["removed_ah"] - removed).max() < 1e-3 * held
    off = (again["served"] < 0.5).sum()
    assert abs(int(off) - int((~served).sum())) <= 0.01 * max(100, off)


def test_seasons_hold_unbroken_winters(prepared):
    """North of the equator a season runs from July to June, south of it the year."""
    sky = monthly_sky_from(prepared("starter").record)
    record = synthesise(sky, 3, 1)
    north = season_rows(record)
    assert len(north) == 2
    for rows in north:
        assert rows.size == 8760
        assert np.all(np.diff(rows) == 1)
        months = record.month[rows]
        assert months[0] == 7
        assert months[-1] == 6
    south = season_rows(dataclasses.replace(record, latitude_deg=-40.0))
    assert len(south) == 3
    assert all(record.month[rows][0] == 1 for rows in south)


def test_one_year_makes_one_season_of_its_halves(prepared):
    """A single year is turned, not cut: every hour stays in it once."""
    record = prepared("starter").record
    (rows,) = season_rows(record)
    assert sorted(rows) == list(range(record.n))
    assert record.month[rows[0]] == 7


@pytest.mark.slow
def test_more_derating_fails_more_seasons(prepared):
    """The option acts: half the modules' power gone leaves fewer good seasons."""
    problem = prepared("starter")
    derated = Spread().model_copy(update={"module_derate_frac": 0.9})
    good = ensemble(problem, 25, 3, sizes=[(12, 5)])
    bad = ensemble(problem, 25, 3, sizes=[(12, 5)], spread=derated)
    assert (
        bad.candidates[0].probability_frac < 0.7 * good.candidates[0].probability_frac
    )
