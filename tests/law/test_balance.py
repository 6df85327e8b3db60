"""Laws that every simulation keeps, whatever the site."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from reference import twin

from powerbudget.balance import columns as col
from powerbudget.balance import kernel
from powerbudget.balance.drive import run_kernel, start_removed_ah
from powerbudget.balance.ledger import make_ledger
from powerbudget.balance.simulation import (
    simulate_size,
)

SITES = ["starter", "coastal-meter-run", "two-well-pad", "hot-valve-site"]
SEEDS = st.integers(0, 2**32 - 1)


def _kernel(rows, currents, tables, s, removed):
    out = np.empty(len(rows), col.RESULT)
    kernel.simulate(rows, currents, tables, s, removed, out)
    return out


def _equals_its_twin(make_rows, seed, direct, full):
    rows, currents, tables, s = make_rows(seed, 400, direct=direct)
    removed = (1 - full) * s["charge_ah"]
    out = _kernel(rows, currents, tables, s, removed)
    hours = twin.simulate(rows, currents, tables, s, removed)
    # A store that is fed by pipe is infinite in both.
    plain = np.nan_to_num([dataclasses.astuple(hour) for hour in hours])
    out = np.nan_to_num(col.matrix(out))
    scale = np.maximum(1.0, np.abs(out))
    assert np.max(np.abs(plain - out) / scale) < 1e-12


SITE_AT_RANDOM = {"seed": SEEDS, "direct": st.booleans(), "full": st.floats(0.3, 1.0)}


@settings(max_examples=12, deadline=None)
@given(**SITE_AT_RANDOM)
def test_kernel_equals_its_plain_twin(make_rows, seed, direct, full):
    """The compiled kernel and the plain twin agree to rounding, outages included."""
    _equals_its_twin(make_rows, seed, direct, full)


@pytest.mark.slow
@settings(max_examples=100, deadline=None)
@given(**SITE_AT_RANDOM)
def test_kernel_equals_its_plain_twin_on_many_sites(make_rows, seed, direct, full):
    """The same on more sites: the twin takes a third of a second a site."""
    _equals_its_twin(make_rows, seed, direct, full)


def test_twin_comparison_sees_outages_and_both_connections(make_rows):
    """The random problems reach disconnects, shed steps, dark regulators, delays."""
    served, full = set(), False
    shed = delayed = locked = both = False
    for seed in range(60):
        rows, currents, tables, s = make_rows(seed, 400, direct=seed % 2 == 0)
        out = _kernel(rows, currents, tables, s, 0.5 * s["charge_ah"])
        served |= set(np.unique(out["served"]).astype(int))
        full |= bool((out["removed_ah"] < 0.02 * s["charge_ah"]).any())
        on = out["served"] > 0.5
        first, second = out["first"] > 0.5, out["second"] > 0.5
        shed |= bool((on & ~first & second).any())
        both |= bool((on & ~first & ~second).any())
        delayed |= bool((on & (out["bus_v"] < s["trip_v"])).any())
        locked |= bool((out["locked"] > 0.5).any())
    assert {0, 1} <= served
    assert full
    assert shed
    assert both
    assert delayed
    assert locked


@settings(max_examples=40, deadline=None)
@given(seed=SEEDS, direct=st.booleans())
def test_charge_stays_between_empty_and_full(make_rows, seed, direct):
    """Charge removed never leaves 0 to what the bank holds."""
    rows, currents, tables, s = make_rows(seed, 600, direct=direct)
    out = _kernel(rows, currents, tables, s, 0.0)
    removed = out["removed_ah"]
    assert removed.min() >= 0
    assert removed.max() <= s["charge_ah"] * (1 + 1e-9)


@settings(max_examples=40, deadline=None)
@given(seed=SEEDS)
def test_ampere_hours_close(make_rows, seed):
    """Charge in times efficiency, less charge out and self-discharge, is the change."""
    rows, currents, tables, s = make_rows(seed, 500, direct=False)
    out = _kernel(rows, currents, tables, s, 0.2 * s["charge_ah"])
    removed = np.r_[0.2 * s["charge_ah"], out["removed_ah"]]
    state = 1 - removed[:-1] / s["charge_ah"]
    efficiency = np.interp(state, np.linspace(0, 1, 101), tables.efficiency)
    amps = out["battery_a"]
    moved = np.where(amps > 0, amps * efficiency, amps)
    before = np.maximum(removed[:-1] - moved, 0)
    lost = np.maximum(rows["self_per_h"] * (s["charge_ah"] - before), 0)
    np.testing.assert_allclose(removed[1:], before + lost, rtol=1e-9, atol=1e-9)


def _without_disconnect(rows, s):
    """Take every disconnect off, and most of the loads."""
    for name in np.ravel(col.TIERS):
        rows[name] *= 0.05
    for name in ("trip", "first", "second"):
        s[f"{name}_v"], s[f"{name}_state"] = 0.0, -1.0
    s["restart_v"] = s["load_limit_a"] = 0.0
    s["float_drop_v"] = 0.0  # a fuller battery floats sooner


@settings(max_examples=40, deadline=None)
@given(seed=SEEDS, more=st.floats(1.01, 3.0))
def test_more_panel_never_lowers_charge(make_rows, seed, more):
    """Without a disconnect in play, a larger array leaves the battery no emptier."""
    rows, currents, tables, s = make_rows(seed, 500, direct=False)
    _without_disconnect(rows, s)
    s["source"] = 0.0  # a fuller battery may start it later
    small = _kernel(rows, currents, tables, s, 0.0)
    rows["array_w"] *= more
    large = _kernel(rows, currents, tables, s, 0.0)
    assume((small["served"] > 0.5).all())
    gap = large["removed_ah"] - small["removed_ah"]
    assert gap.max() <= 1e-6 * s["charge_ah"]


@settings(max_examples=40, deadline=None)
@given(seed=SEEDS, more=st.floats(1.01, 1.5))
def test_more_load_never_raises_charge(make_rows, seed, more):
    """Without a disconnect in play, a larger load leaves the battery no fuller."""
    rows, currents, tables, s = make_rows(seed, 500, direct=False)
    _without_disconnect(rows, s)
    s["source"] = 0.0  # an emptier battery may start it sooner
    light = _kernel(rows, currents, tables, s, 0.0)
    rows["load_w"] *= more
    heavy = _kernel(rows, currents, tables, s, 0.0)
    assume((heavy["served"] > 0.5).all())
    gap = light["removed_ah"] - heavy["removed_ah"]
    assert gap.max() <= 1e-6 * s["charge_ah"]


@settings(max_examples=25, deadline=None)
@given(seed=SEEDS, loads_off=st.booleans())
def test_disconnect_holds_until_reconnect(make_rows, seed, loads_off):
    """Loads come back only after the interval in which the rule was met."""
    rows, currents, tables, s = make_rows(seed, 500, direct=False)
    if loads_off:
        rows["array_w"] *= 0.2
    s["trip_v"], s["trip_state"] = 11.6, -1.0
    s["return_v"] = 12.6
    out = _kernel(rows, currents, tables, s, 0.3 * s["charge_ah"])
    on = out["served"] > 0.5
    returns = np.flatnonzero(on[1:] & ~on[:-1])
    # An interval may come back and trip again at once; it then reads as off.
    assert (out["bus_v"][returns] >= s["return_v"]).all()


@pytest.mark.parametrize("name", SITES)
def test_ledger_closes_on_every_demo_site(prepared, name):
    """Array energy equals every loss, store and use to 1e-9, for three sizes each."""
    problem = prepared(name)
    for strings, batteries in ((None, None), (1, 1), (12, 6)):
        run = simulate_size(problem, strings, batteries)
        assert run.ledger.error_frac < 1e-9
        assert run.ledger.charge_error_frac < 1e-9


@settings(max_examples=15, deadline=None)
@given(
    seed=SEEDS,
    strings=st.integers(1, 10),
    batteries=st.integers(1, 8),
    scale=st.floats(0.2, 4.0),
)
def test_ledger_closes_on_random_sites(prepared, seed, strings, batteries, scale):
    """Random loads, weather order and sizes close as well, outages included."""
    name = SITES[seed % len(SITES)]
    problem = prepared(name)
    order = np.random.default_rng(seed).permutation(problem.record.n)
    hourly = problem.hourly.copy()
    for name in col.TIERS[0]:
        hourly[name] = scale * hourly[name][order]
    changed = dataclasses.replace(problem, hourly=hourly)
    run = simulate_size(changed, strings, batteries)
    assert run.ledger.error_frac < 1e-9
    assert run.ledger.charge_error_frac < 1e-9


def test_ledger_would_show_a_slip(prepared):
    """A kernel that lost 0.1 % of the battery current would not close."""
    problem = prepared("starter")
    s = problem.scalars(problem.strings, problem.bank)
    start = start_removed_ah(problem, s)
    out = run_kernel(problem, s, start)
    out["battery_a"] *= 0.999
    removed = np.r_[start, out["removed_ah"]]
    ledger = make_ledger(problem, s, problem.strings, removed, out)
    assert ledger.error_frac > 1e-6
    assert ledger.charge_error_frac > 1e-6


def test_stored_energy_matches_the_integral_of_rest_voltage(prepared):
    """Energy left in the battery is the rest-voltage integral, to time-step error."""
    problem = prepared("starter")
    hourly = problem.hourly.copy()
    hourly["open_shift_v"] = 0
    hourly["array_w"] = 0
    dark = dataclasses.replace(
        problem, hourly=hourly[:200], currents=problem.currents[:200]
    )
    s = dark.scalars(1, dark.bank)
    out = np.empty(200, col.RESULT)
    kernel.simulate(dark.hourly, dark.currents, dark.tables, s, 0.0, out)
    removed = np.r_[0.0, out["removed_ah"]]
    state = np.linspace(1 - removed[-1] / s["charge_ah"], 1, 20_001)
    volts = np.interp(state, np.linspace(0, 1, 101), dark.tables.open_v)
    integral = np.trapezoid(volts, state) * s["charge_ah"]
    before = 1 - removed[:-1] / s["charge_ah"]
    rest = np.interp(before, np.linspace(0, 1, 101), dark.tables.open_v)
    summed = (rest * np.diff(removed)).sum()
    assert summed == pytest.approx(integral, rel=1e-3)


def test_balance_agrees_with_a_general_purpose_solver(prepared):
    """With short steps the kernel follows SciPy's solver; hourly steps cost under 1 %."""
    from scipy.integrate import solve_ivp

    problem = prepared("starter")
    n, grid = 24 * 12, np.linspace(0, 1, 101)
    rows = problem.hourly[:n].copy()
    s = problem.scalars(8, problem.bank)
    hourly = _kernel(rows, problem.currents[:n], problem.tables, s, 30.0)
    short = s.copy()
    short["step_h"] = 0.05
    fine = _kernel(
        np.repeat(rows, 20, axis=0), np.zeros((20 * n, 0)), problem.tables, short, 30.0
    )[19::20]
    assert (hourly["served"] > 0.5).all()

    def slope(t, y):
        row = rows[min(int(t), n - 1)]
        held = s["charge_ah"]
        state, left = 1 - y[0] / held, 1 - y[0] / (held * row["capacity"])
        rest = np.interp(state, grid, problem.tables.open_v)
        rest += row["open_shift_v"]
        watts = row["array_w"] * s["strings"] - row["load_w"]
        charging = watts / rest - row["load_a"] - s["base_a"] > 0
        way = "charge" if charging else "discharge"
        table = getattr(problem.tables, way)
        ohm = np.interp(state if charging else left, grid, table)
        ohm *= row[f"{way}_ratio"] / s["rated_ah"]
        b = rest - ohm * (row["load_a"] + s["base_a"])
        volts = (b + np.sqrt(b * b + 4 * ohm * watts)) / 2
        volts = min(volts, max(rest, row["regulation_v"])) if charging else volts
        amps = (volts - rest) / ohm
        amps *= np.interp(state, grid, problem.tables.efficiency) if charging else 1
        return [-amps + row["self_per_h"] * (held - y[0])]

    solved = solve_ivp(
        slope, (0, n), [30.0], max_step=0.05, rtol=1e-7, t_eval=np.arange(1, n + 1)
    )
    held = s["charge_ah"]
    assert np.abs(fine["removed_ah"] - solved.y[0]).max() < 0.001 * held
    # The limit of 1 % was set after 0.5 % had been seen: it states what an hourly step
    # costs.  The proof is the line above, with steps of three minutes.
    assert np.abs(hourly["removed_ah"] - solved.y[0]).max() < 0.01 * held


@pytest.mark.parametrize("name", SITES)
def test_labels_of_the_year_change_nothing(prepared, name):
    """A record whose label year is another gives the same result."""
    problem = prepared(name)
    shifted = dataclasses.replace(
        problem.record, start_utc=problem.record.start_utc + np.timedelta64(365, "D")
    )
    again = simulate_size(dataclasses.replace(problem, record=shifted))
    assert again.lowest_soc_frac == simulate_size(problem).lowest_soc_frac


@pytest.mark.parametrize("direct", [False, True])
@pytest.mark.parametrize("sun", [0.0, 0.3, 50.0])
def test_a_day_of_charging_begins_with_the_first_light(make_rows, direct, sun):
    """However dim: float of the day before ends then, and not in the dark."""
    rows, currents, tables, s = make_rows(3, 2, direct=direct)
    s["float_drop_v"], s["recharge_v"], s["absorb_h"] = 0.5, 1.0, 9.0
    s["source"] = s["load_limit_a"] = 0.0
    rows["array_w"] = 0.0 if direct else sun
    currents[:] = sun / 50.0
    for was_lit in (0.0, 1.0):
        mode = kernel.fresh(s)
        mode["floating"], mode["lit"] = 1.0, was_lit
        out = np.zeros(1, col.RESULT)
        kernel.go_on(rows[:1], currents[:1], tables, s, 0.3 * s["charge_ah"], mode, out)
        begun = sun > 0.0 and not was_lit
        assert mode["floating"] == (0.0 if begun else 1.0)
        assert mode["lit"] == float(sun > 0.0)
