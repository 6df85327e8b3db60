"""Worksheet against record: each figure computed again in a plainer way."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from reference.plain_grid import grid_of

from powerbudget.balance.simulation import simulate_size
from powerbudget.sizing.battery_ages import judged_problem
from powerbudget.sizing.criteria import judge
from powerbudget.sizing.worksheet.figures import (
    BatteryFigures,
    SheetLoad,
    loads_from,
)
from powerbudget.sizing.worksheet.formulas import (
    cells_above_end_v,
    recovery_days,
    replacing_array_a,
)
from powerbudget.sizing.worksheet.lines import worksheet_from
from powerbudget.sizing.worksheet.record_figures import _least_share, truth_of
from powerbudget.sizing.worksheet.site_figures import make_worksheet
from powerbudget.weather.runs import largest_shortage

SITES = ["starter", "coastal-meter-run", "two-well-pad", "hot-valve-site"]


def _plain_shortage(needed, supplied):
    """Return the largest shortage by walking through it."""
    short = most = 0.0
    for need, supply in zip(needed, supplied, strict=True):
        short = max(0.0, short + need - supply)
        most = max(most, short)
    return most


series = st.lists(st.floats(0, 50), min_size=1, max_size=60)


@given(needed=series, seed=st.integers(0, 99))
def test_largest_shortage_equals_a_walk(needed, seed):
    """The shortage from cumulative sums is that of step-by-step books."""
    supplied = np.random.default_rng(seed).uniform(0, 50, len(needed))
    found = largest_shortage(np.array(needed) - supplied, ring=False)
    assert found == pytest.approx(_plain_shortage(needed, supplied), abs=1e-9)


@given(seed=st.integers(0, 200), share=st.floats(0.05, 2.0))
def test_least_share_leaves_just_the_allowed_shortage(seed, share):
    """With the share found the shortage is what is allowed, with less it is more."""
    rng = np.random.default_rng(seed)
    needed, supplied = rng.uniform(0, 5, 200), rng.uniform(0, 20, 200)
    allowed = share * 40.0
    found = _least_share(needed, supplied, allowed, ring=False)
    assert largest_shortage(needed - found * supplied, ring=False) <= allowed + 1e-9
    less = 0.999 * found * supplied
    assert largest_shortage(needed - less, ring=False) > allowed - 0.1


@pytest.mark.parametrize("name", SITES)
def test_hand_design_is_judged_as_any_other(prepared, sized, name):
    """The worksheet's design in the answer is its own run's, and so are both needs."""
    problem = prepared(name)
    found = sized(name).disagreement
    value = {line.symbol: line.value for line in make_worksheet(problem)}
    aged = judged_problem(problem)
    assert (found.array_strings, found.battery_strings) == (value["Na"], value["Np"])
    a, b = found.array_strings, found.battery_strings
    *verdicts, new = found.design.verdicts
    assert tuple(verdicts) == judge(simulate_size(aged, a, b))
    missed = [v for v in judge(simulate_size(problem, a, b)) if not v.met]
    assert new.met == (not missed)

    def met(array, battery):
        run = simulate_size(aged, array, battery)
        return all(verdict.met for verdict in judge(run))

    needed = found.array_strings_in_record
    assert met(needed, b)
    assert needed == 1 or not met(needed - 1, b)
    needed = found.battery_strings_in_record
    assert met(a, needed)
    assert needed == 1 or not met(a, needed - 1)


@pytest.mark.parametrize("name", SITES)
def test_replaced_assumptions_explain_the_difference(sized, name):
    """With every assumption replaced, the worksheet comes within a string of the run."""
    found = sized(name).disagreement
    assert abs(found.array_strings_replaced - found.array_strings_in_record) <= 1
    assert abs(found.battery_strings_replaced - found.battery_strings_in_record) <= 1
    effects = [abs(reason.effect_frac) for reason in found.reasons]
    assert effects == sorted(effects, reverse=True)
    assert {reason.side for reason in found.reasons} == {"array", "battery"}


def test_each_effect_is_that_of_its_own_figure(sized):
    """Sun and efficiency act by their inverse ratio, days and age by their own."""
    found = {r.assumption: r for r in sized("starter").disagreement.reasons}
    sun = found["POA irradiation of an average month"]
    assert 1 + sun.effect_frac == pytest.approx(sun.by_hand / sun.in_record)
    charge = found["coulombic efficiency"]
    assert 1 + charge.effect_frac == pytest.approx(charge.by_hand / charge.in_record)
    drawn = found["yield per string"]
    assert 1 + drawn.effect_frac == pytest.approx(drawn.by_hand / drawn.in_record)
    load = found["load of the design month"]
    assert 1 + load.effect_frac == pytest.approx(load.in_record / load.by_hand)
    assert "Ah/day in Jan at nominal voltage" in load.words
    days = found["days of battery reserve"]
    assert 1 + days.effect_frac == pytest.approx(days.in_record / days.by_hand)
    age = found["state of health"]
    assert 1 + age.effect_frac == pytest.approx(age.by_hand / age.in_record)


def test_spell_runs_from_full_to_the_lowest(prepared):
    """The deciding spell starts nearly full, never fills again, and ends lowest."""
    problem = prepared("starter")
    run = simulate_size(problem, 9, 4)
    truth = truth_of(run)
    last = int(np.argmin(run.soc_frac))
    first = last - round(truth.spell_days * 24) + 1
    assert run.soc_frac[first] >= 0.95
    assert (run.soc_frac[first + 1 : last + 1] < 0.95).all()
    sun = problem.array.poa_w_m2[first : last + 1].sum() / 1000
    assert truth.spell_sun == pytest.approx(sun / truth.spell_days)
    offered = run.out["offered_a"][first : last + 1].sum()
    assert truth.string_ah_per_kwh == pytest.approx(offered / sun / 9)
    assert 0.8 < truth.charge_efficiency_frac <= 1.0


@pytest.mark.slow
@pytest.mark.parametrize("name", ["starter", "hot-valve-site"])
def test_plain_grid_equals_the_kernel_size_by_size(prepared, name):
    """All sizes advanced at once in NumPy end where each one's own run does."""
    problem = prepared(name)
    grid = grid_of(problem, range(1, 5), range(1, 4))
    for k, (array, battery) in enumerate(zip(grid.arrays, grid.batteries, strict=True)):
        run = simulate_size(problem, int(array), int(battery))
        assert grid.availability_frac[k] == pytest.approx(run.availability_frac)
        assert grid.lowest_soc_frac[k] == pytest.approx(run.lowest_soc_frac, abs=1e-9)
        worst = min(row.array_to_load_ratio for row in run.monthly)
        assert grid.worst_ratio[k] == pytest.approx(worst, rel=1e-9)


@given(
    q=st.floats(0.05, 500), days=st.floats(0.5, 40), factor=st.floats(1, 2.5),
    margin=st.floats(0, 1), volts=st.sampled_from([12.0, 24.0, 48.0]),
)  # fmt: skip
def test_bank_by_hand_covers_the_autonomy(q, days, factor, margin, volts):
    """Installed Ah in the cold, at its depth, hold the days; a string fewer would not."""
    loads = loads_from(volts, SheetLoad("load", 24.0, draw_a=q / 24))
    battery = BatteryFigures(
        days=days, unit_ah=100, temperature_factor=factor, margin_frac=margin
    )
    value = {line.symbol: line.value for line in worksheet_from(loads, battery)}
    usable = value["Ci"] * 0.8 / factor / (1 + margin)
    assert usable >= q * days * (1 - 1e-9)
    smaller = (value["Np"] - 1) * 100 / factor / (1 + margin)
    enough = smaller * 0.8 >= q * days * (1 + 1e-9) and smaller * 0.2 >= q * (1 + 1e-9)
    assert not enough
    assert value["Nu"] == value["Np"] * volts / 12


@given(q=st.floats(0.1, 1e3), sun=st.floats(0.1, 9), eta=st.floats(0.3, 1))
def test_recovery_never_ends_with_an_array_that_just_replaces_the_load(q, sun, eta):
    """An array that just replaces the load charges nothing again; twice it, in Ah/Q."""
    amps = replacing_array_a(q, sun, eta)
    assert recovery_days(50.0, amps * sun * eta * (1 - 1e-12), q) == float("inf")
    assert recovery_days(50.0, 2 * amps * sun * eta, q) == pytest.approx(50.0 / q)


@given(cells=st.integers(1, 40), low=st.floats(5, 60), end=st.floats(0.8, 2.2))
def test_cells_are_dropped_no_further_than_needed(cells, low, end):
    """Cells kept hold the recommended volts, and one more would not."""
    kept = cells_above_end_v(cells, low, end)
    assert kept == 1 or low / kept >= end * (1 - 1e-8)
    assert kept == cells or low / (kept + 1) < end
