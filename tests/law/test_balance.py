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
    out = np.empty((len(rows), col.RESULT_COLUMNS))
    kernel.simulate(rows, currents, tables, s, removed, out)
    return out


@settings(max_examples=40, deadline=None)
@given(seed=SEEDS, direct=st.booleans(), full=st.floats(0.3, 1.0))
def test_kernel_equals_its_plain_twin(make_rows, seed, direct, full):
    """The compiled kernel and the plain twin agree to rounding, outages included."""
    rows, currents, tables, s = make_rows(seed, 400, direct=direct)
    removed = (1 - full) * s[col.S_CHARGE_AH]
    out = _kernel(rows, currents, tables, s, removed)
    hours = twin.simulate(rows, currents, tables, s, removed)
    # A store that is fed by pipe is infinite in both.
    plain = np.nan_to_num([dataclasses.astuple(hour) for hour in hours])
    out = np.nan_to_num(out)
    scale = np.maximum(1.0, np.abs(out))
    assert np.max(np.abs(plain - out) / scale) < 1e-12


def test_twin_comparison_sees_outages_and_both_connections(make_rows):
    """The random problems reach disconnects, shed steps, dark regulators, delays."""
    served, full = set(), False
    shed = delayed = locked = both = False
    for seed in range(60):
        rows, currents, tables, s = make_rows(seed, 400, direct=seed % 2 == 0)
        out = _kernel(rows, currents, tables, s, 0.5 * s[col.S_CHARGE_AH])
        served |= set(np.unique(out[:, col.R_SERVED]).astype(int))
        full |= bool((out[:, col.R_REMOVED_AH] < 0.02 * s[col.S_CHARGE_AH]).any())
        on = out[:, col.R_SERVED] > 0.5
        first, second = out[:, col.R_FIRST] > 0.5, out[:, col.R_SECOND] > 0.5
        shed |= bool((on & ~first & second).any())
        both |= bool((on & ~first & ~second).any())
        delayed |= bool((on & (out[:, col.R_BUS_V] < s[col.S_TRIP_V])).any())
        locked |= bool((out[:, col.R_LOCKED] > 0.5).any())
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
    removed = out[:, col.R_REMOVED_AH]
    assert removed.min() >= 0
    assert removed.max() <= s[col.S_CHARGE_AH] * (1 + 1e-9)


@settings(max_examples=40, deadline=None)
@given(seed=SEEDS)
def test_ampere_hours_close(make_rows, seed):
    """Charge in times efficiency, less charge out and self-discharge, is the change."""
    rows, currents, tables, s = make_rows(seed, 500, direct=False)
    out = _kernel(rows, currents, tables, s, 0.2 * s[col.S_CHARGE_AH])
    removed = np.r_[0.2 * s[col.S_CHARGE_AH], out[:, col.R_REMOVED_AH]]
    state = 1 - removed[:-1] / s[col.S_CHARGE_AH]
    efficiency = np.interp(state, np.linspace(0, 1, 101), tables[col.T_EFFICIENCY])
    amps = out[:, col.R_BATTERY_A]
    moved = np.where(amps > 0, amps * efficiency, amps)
    before = np.maximum(removed[:-1] - moved, 0)
    lost = np.maximum(rows[:, col.H_SELF_PER_H] * (s[col.S_CHARGE_AH] - before), 0)
    np.testing.assert_allclose(removed[1:], before + lost, rtol=1e-9, atol=1e-9)


@settings(max_examples=40, deadline=None)
@given(seed=SEEDS, more=st.floats(1.01, 3.0))
def test_more_panel_never_lowers_charge(make_rows, seed, more):
    """Without a disconnect in play, a larger array leaves the battery no emptier."""
    rows, currents, tables, s = make_rows(seed, 500, direct=False)
    s[col.S_TRIP_V], s[col.S_TRIP_STATE] = 0.0, -1.0
    rows[:, np.ravel(col.TIERS)] *= 0.05
    s[[col.S_FIRST_V, col.S_SECOND_V, col.S_RESTART_V]] = 0.0
    s[[col.S_FIRST_STATE, col.S_SECOND_STATE]] = -1.0
    s[col.S_SOURCE] = 0.0  # a fuller battery may start it later
    small = _kernel(rows, currents, tables, s, 0.0)
    rows[:, col.H_ARRAY_W] *= more
    large = _kernel(rows, currents, tables, s, 0.0)
    assume((small[:, col.R_SERVED] > 0.5).all())
    gap = large[:, col.R_REMOVED_AH] - small[:, col.R_REMOVED_AH]
    assert gap.max() <= 1e-6 * s[col.S_CHARGE_AH]


@settings(max_examples=40, deadline=None)
@given(seed=SEEDS, more=st.floats(1.01, 1.5))
def test_more_load_never_raises_charge(make_rows, seed, more):
    """Without a disconnect in play, a larger load leaves the battery no fuller."""
    rows, currents, tables, s = make_rows(seed, 500, direct=False)
    s[col.S_TRIP_V], s[col.S_TRIP_STATE] = 0.0, -1.0
    rows[:, np.ravel(col.TIERS)] *= 0.05
    s[[col.S_FIRST_V, col.S_SECOND_V, col.S_RESTART_V]] = 0.0
    s[[col.S_FIRST_STATE, col.S_SECOND_STATE]] = -1.0
    s[col.S_SOURCE] = 0.0  # an emptier battery may start it sooner
    light = _kernel(rows, currents, tables, s, 0.0)
    rows[:, col.H_LOAD_W] *= more
    heavy = _kernel(rows, currents, tables, s, 0.0)
    assume((heavy[:, col.R_SERVED] > 0.5).all())
    gap = light[:, col.R_REMOVED_AH] - heavy[:, col.R_REMOVED_AH]
    assert gap.max() <= 1e-6 * s[col.S_CHARGE_AH]


@settings(max_examples=25, deadline=None)
@given(seed=SEEDS, loads_off=st.booleans())
def test_disconnect_holds_until_reconnect(make_rows, seed, loads_off):
    """Loads come back only after the interval in which the rule was met."""
    rows, currents, tables, s = make_rows(seed, 500, direct=False)
    if loads_off:
        rows[:, col.H_ARRAY_W] *= 0.2
    s[col.S_TRIP_V], s[col.S_TRIP_STATE] = 11.6, -1.0
    s[col.S_RETURN_V] = 12.6
    out = _kernel(rows, currents, tables, s, 0.3 * s[col.S_CHARGE_AH])
    on = out[:, col.R_SERVED] > 0.5
    returns = np.flatnonzero(on[1:] & ~on[:-1])
    # An interval may come back and trip again at once; it then reads as off.
    assert (out[returns, col.R_BUS_V] >= s[col.S_RETURN_V]).all()


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
    for column in (col.H_LOAD_W, col.H_LOAD_A, col.H_LOAD_S):
        hourly[:, column] = scale * hourly[order, column]
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
    out[:, col.R_BATTERY_A] *= 0.999
    removed = np.r_[start, out[:, col.R_REMOVED_AH]]
    ledger = make_ledger(problem, s, problem.strings, removed, out)
    assert ledger.error_frac > 1e-6
    assert ledger.charge_error_frac > 1e-6


def test_stored_energy_matches_the_integral_of_rest_voltage(prepared):
    """Energy left in the battery is the rest-voltage integral, to time-step error."""
    problem = prepared("starter")
    hourly = problem.hourly.copy()
    hourly[:, col.H_OPEN_SHIFT_V] = 0
    hourly[:, col.H_ARRAY_W] = 0
    dark = dataclasses.replace(
        problem, hourly=hourly[:200], currents=problem.currents[:200]
    )
    s = dark.scalars(1, dark.bank)
    out = np.empty((200, col.RESULT_COLUMNS))
    kernel.simulate(dark.hourly, dark.currents, dark.tables, s, 0.0, out)
    removed = np.r_[0.0, out[:, col.R_REMOVED_AH]]
    state = np.linspace(1 - removed[-1] / s[col.S_CHARGE_AH], 1, 20_001)
    volts = np.interp(state, np.linspace(0, 1, 101), dark.tables[col.T_OPEN_V])
    integral = np.trapezoid(volts, state) * s[col.S_CHARGE_AH]
    before = 1 - removed[:-1] / s[col.S_CHARGE_AH]
    rest = np.interp(before, np.linspace(0, 1, 101), dark.tables[col.T_OPEN_V])
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
    short[col.S_STEP_H] = 0.05
    fine = _kernel(
        np.repeat(rows, 20, axis=0), np.zeros((20 * n, 0)), problem.tables, short, 30.0
    )[19::20]
    assert (hourly[:, col.R_SERVED] > 0.5).all()

    def slope(t, y):
        row = rows[min(int(t), n - 1)]
        held = s[col.S_CHARGE_AH]
        state, left = 1 - y[0] / held, 1 - y[0] / (held * row[col.H_CAPACITY])
        rest = np.interp(state, grid, problem.tables[col.T_OPEN_V])
        rest += row[col.H_OPEN_SHIFT_V]
        watts = row[col.H_ARRAY_W] * s[col.S_STRINGS] - row[col.H_LOAD_W]
        charging = watts / rest - row[col.H_LOAD_A] - s[col.S_BASE_A] > 0
        table = col.T_CHARGE if charging else col.T_DISCHARGE
        ohm = np.interp(state if charging else left, grid, problem.tables[table])
        ratio = row[col.H_CHARGE_RATIO if charging else col.H_DISCHARGE_RATIO]
        ohm *= ratio / s[col.S_RATED_AH]
        b = rest - ohm * (row[col.H_LOAD_A] + s[col.S_BASE_A])
        volts = (b + np.sqrt(b * b + 4 * ohm * watts)) / 2
        volts = min(volts, max(rest, row[col.H_REGULATION_V])) if charging else volts
        amps = (volts - rest) / ohm
        amps *= (
            np.interp(state, grid, problem.tables[col.T_EFFICIENCY]) if charging else 1
        )
        return [-amps + row[col.H_SELF_PER_H] * (held - y[0])]

    solved = solve_ivp(
        slope, (0, n), [30.0], max_step=0.05, rtol=1e-7, t_eval=np.arange(1, n + 1)
    )
    held = s[col.S_CHARGE_AH]
    assert np.abs(fine[:, col.R_REMOVED_AH] - solved.y[0]).max() < 0.001 * held
    # The limit of 1 % was set after 0.5 % had been seen: it states what an hourly step
    # costs.  The proof is the line above, with steps of three minutes.
    assert np.abs(hourly[:, col.R_REMOVED_AH] - solved.y[0]).max() < 0.01 * held


@pytest.mark.parametrize("name", SITES)
def test_labels_of_the_year_change_nothing(prepared, name):
    """A record whose label year is another gives the same result."""
    problem = prepared(name)
    shifted = dataclasses.replace(
        problem.record, start_utc=problem.record.start_utc + np.timedelta64(365, "D")
    )
    again = simulate_size(dataclasses.replace(problem, record=shifted))
    assert again.lowest_soc_frac == simulate_size(problem).lowest_soc_frac
