"""Laws of the battery's surroundings, whatever the site."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference.rates import fit_saturating, saturating_ah, two_tank_step

from powerbudget.balance import columns as col
from powerbudget.balance import kernel
from powerbudget.balance.packed_site import set_shed
from powerbudget.balance.simulation import simulate_size
from powerbudget.battery.ageing import calendar_life_y, health_after_frac, make_life
from powerbudget.battery.bank import charge_share_frac, climate
from powerbudget.battery.box import heated_degc, lagged_degc
from powerbudget.battery.chemistry import chemistries
from powerbudget.battery.freezing import NEVER, freezing_degc, lowest_state_frac
from powerbudget.site.scenario import Scenario
from powerbudget.site.tables import Box, Heater
from powerbudget.sizing.aging import outlook
from powerbudget.sizing.recovery import disconnected_ah, recovery

LEAD = ["flooded", "tubular", "agm", "gel"]
SEEDS = st.integers(0, 2**32 - 1)


def _box(**changes):
    base = {"kind": "insulated", "time_constant": "8 h", "conductance": "1.1 W/degC"}
    return Box.model_validate(base | changes)


def _heater(**changes):
    base = {"power": "40 W", "on": "3 degC", "off": "6 degC", "feed": "battery"}
    return Heater.model_validate(base | changes)


@given(name=st.sampled_from(LEAD), degc=st.floats(-66, 30))
def test_allowed_state_is_the_inverse_of_freezing(name, degc):
    """At the allowed state the electrolyte freezes at that very temperature."""
    curve = chemistries()[name].freezing
    state = float(lowest_state_frac(degc, curve))
    if state >= NEVER:
        assert degc < curve.y[-1]
    elif state > 0:
        assert freezing_degc(state, curve) == pytest.approx(degc, abs=1e-6)
    else:
        assert freezing_degc(0.0, curve) <= degc + 1e-9


@given(name=st.sampled_from(LEAD), a=st.floats(-70, 30), b=st.floats(-70, 30))
def test_colder_never_allows_a_deeper_discharge(name, a, b):
    """The allowed state does not fall as it gets colder."""
    curve = chemistries()[name].freezing
    cold, warm = sorted((a, b))
    assert lowest_state_frac(cold, curve) >= lowest_state_frac(warm, curve)


@given(seed=SEEDS, tau=st.floats(0.5, 200), step=st.sampled_from([0.25, 0.5, 1.0]))
def test_box_lag_is_the_step_response_and_stays_inside(seed, tau, step):
    """After one time constant 63 % of a step is reached; never beyond the outside."""
    n = max(1, round(tau / step))
    rise = lagged_degc(np.full(n, 10.0), step, tau, 0.0)
    assert rise[-1] == pytest.approx(10 * (1 - np.exp(-n * step / tau)))
    air = np.random.default_rng(seed).uniform(-40, 30, 200)
    box = lagged_degc(air, step, tau, float(air[:24].mean()))
    assert air.min() <= box.min()
    assert box.max() <= air.max()


@pytest.mark.parametrize(
    ("tau", "kept"), [(1.9, 0.89), (7.0, 0.48), (12.3, 0.30), (22.9, 0.16), (54, 0.07)]
)
def test_daily_swing_that_a_box_keeps(tau, kept):
    """A daily sine comes through at 1 / sqrt(1 + (2 pi tau / 24)^2)."""
    t = np.arange(0, 24 * 40, 0.05)
    box = lagged_degc(np.sin(2 * np.pi * t / 24), 0.05, tau, 0.0)
    assert box[t > 24 * 30].max() == pytest.approx(kept, abs=0.006)


@settings(max_examples=40, deadline=None)
@given(seed=SEEDS, power=st.floats(5, 200), tau=st.floats(1, 60))
def test_heater_energy_balances_and_never_overshoots(seed, power, tau):
    """Heat in is conductance times the gap plus what warms the lump; off is the top."""
    air = np.random.default_rng(seed).uniform(-40, 20, 400)
    box = _box(time_constant=f"{tau:.3f} h")
    heater = _heater(power=f"{power:.3f} W")
    place = heated_degc(air, 1.0, box, heater, np.full(400, np.inf))
    start = float(air[:24].mean())
    bare = lagged_degc(air, 1.0, box.time_constant_h, start)
    assert (place.degc >= bare - 1e-9).all()
    heated = place.heater_w > 0
    assert place.degc[heated].max(initial=-99) <= heater.off_degc + 1e-9
    assert place.heater_w.max() <= heater.power_w + 1e-9
    # The whole record: the linear box adds up heat by its step response.
    keep = np.exp(-1.0 / box.time_constant_h)
    rise = np.zeros(401)
    # Heat of the time before the record: what the heater holds on its first day.
    reached = start + heater.power_w / box.conductance_w_per_k
    rise[0] = max(start, min(heater.on_degc, reached)) - start
    for k in range(400):
        gain = (1 - keep) / box.conductance_w_per_k * place.heater_w[k]
        rise[k + 1] = keep * rise[k] + gain
    np.testing.assert_allclose(place.degc - bare, rise[1:], atol=1e-8)


def test_a_heated_box_does_not_begin_as_cold_as_the_air():
    """Air of -40 degC throughout and watts enough: no hour below where heat goes on."""
    box, heater = _box(time_constant="30 h"), _heater(power="200 W")
    place = heated_degc(np.full(50, -40.0), 1.0, box, heater, np.full(50, np.inf))
    assert place.degc.min() >= heater.on_degc - 1e-9
    dark = heated_degc(np.full(50, -40.0), 1.0, box, heater, np.zeros(50))
    assert dark.degc.max() <= -40.0 + 1e-9


@pytest.mark.parametrize(("conductance", "watts"), [(1.91, 67), (1.09, 38), (0.58, 20)])
def test_power_to_hold_a_box_warm(conductance, watts):
    """Holding 5 degC at -30 degC outside takes conductance times 35 K."""
    # Box 0.8 x 0.5 x 0.5 m with 25, 50 and 100 mm of foam: 1.91, 1.09, 0.58 W/K.
    box = _box(conductance=f"{conductance} W/degC", time_constant="5 h")
    heater = _heater(power="200 W", on="4.99 degC", off="5 degC")
    place = heated_degc(np.full(600, -30.0), 1.0, box, heater, np.full(600, np.inf))
    assert place.heater_w[-100:].mean() == pytest.approx(watts, abs=0.7)
    assert place.degc[-1] == pytest.approx(5.0, abs=0.02)


@settings(max_examples=40, deadline=None)
@given(seed=SEEDS, low=st.floats(-10, 5), gap=st.floats(0, 8))
def test_charge_block_holds_until_the_restart(prepared, seed, low, gap):
    """The block is that of a thermostat walked through hour by hour."""
    bank = dataclasses.replace(
        prepared("starter").bank,
        chemistry=chemistries()["lfp"],
        charge_min_degc=low,
        charge_restart_degc=low + gap,
    )
    degc = np.cumsum(np.random.default_rng(seed).normal(0, 2, 300))
    share = charge_share_frac(bank, degc)
    blocked = degc[0] < low
    for k, t in enumerate(degc):
        blocked = t < low or (blocked and t < low + gap)
        expected = (
            0.0 if blocked or t > 55 else bank.chemistry.charge_share_by_degc.at(t)
        )
        assert share[k] == expected


@given(
    first=st.floats(0.01, 1), faster=st.floats(1.5, 50), loss=st.floats(0.5, 1.0),
    other=st.floats(1e-4, 1e3),
)  # fmt: skip
def test_rate_law_goes_through_its_points_and_saturates(first, faster, loss, other):
    """Both ratings come back, and no current gives more than the limit."""
    fast = first * faster
    loss = max(loss, 1.05 * first**0.9 / fast**0.9)
    if loss > 1:
        return
    limit, a = fit_saturating((first, 100.0), (fast, 100.0 * loss))
    assert saturating_ah(first, limit, a, 0.9) == pytest.approx(100.0)
    assert saturating_ah(fast, limit, a, 0.9) == pytest.approx(100.0 * loss)
    assert saturating_ah(other, limit, a, 0.9) <= limit


@given(
    q1=st.floats(1, 50), q2=st.floats(1, 50), amps=st.floats(-5, 5),
    k=st.floats(0.05, 3), c=st.floats(0.1, 0.9),
)  # fmt: skip
def test_two_tanks_keep_their_charge(q1, q2, amps, k, c):
    """What leaves the tanks is current times time; two half hours are one hour."""
    once = two_tank_step((q1, q2), amps, 1.0, k, c)
    assert sum(once) == pytest.approx(q1 + q2 - amps, abs=1e-9)
    half = two_tank_step((q1, q2), amps, 0.5, k, c)
    twice = two_tank_step(half, amps, 0.5, k, c)
    assert twice == pytest.approx(once, abs=1e-9)


@given(a=st.floats(-40, 60), b=st.floats(-40, 60), halving=st.floats(5, 30))
def test_life_at_rest_halves_and_adds_up(a, b, halving):
    """Hotter is never longer; half the time at each temperature uses both shares."""
    one, other = (calendar_life_y(t, 8.0, halving) for t in (a, b))
    both = calendar_life_y([a, b], 8.0, halving)
    assert both == pytest.approx(2 / (1 / one + 1 / other))
    assert (one >= other) == (max(a, 20) <= max(b, 20))
    hot = max(a, 20.0)
    twice = calendar_life_y(hot + halving, 8.0, halving)
    assert twice == pytest.approx(calendar_life_y(hot, 8.0, halving) / 2)


def test_shorter_of_cycles_and_heat_ends_the_bank():
    """A daily half discharge ends a cool bank by cycles, a hot idle one by heat."""
    c = chemistries()["agm"]
    daily = np.tile(np.r_[np.linspace(1, 0.5, 12), np.linspace(0.5, 1, 12)], 365)
    worked = make_life(c, daily, np.full(8760, 20.0), 1.0)
    idle = make_life(c, np.ones(8760), np.full(8760, 40.0), 1.0)
    assert worked.limited_by == "cycles"
    assert worked.life_y == pytest.approx(600 / 365, rel=0.01)
    assert worked.full_cycles_per_year == pytest.approx(0.5 * 365, rel=0.01)
    assert idle.limited_by == "calendar life"
    assert idle.life_y == pytest.approx(2.0)
    assert health_after_frac(idle.life_y, idle.life_y, 0.8) == pytest.approx(0.8)


def _changed(problem, **parts):
    tables = problem.design.tables
    update = {
        name: getattr(tables, name).model_copy(update=change)
        for name, change in parts.items()
    }
    design = dataclasses.replace(
        problem.design, tables=tables.model_copy(update=update)
    )
    return dataclasses.replace(problem, design=design)


@settings(max_examples=12, deadline=None)
@given(seed=SEEDS, heater=st.floats(0, 25), restart=st.booleans())
def test_ledger_closes_with_shed_steps_heater_and_a_dark_regulator(
    prepared, seed, heater, restart
):
    """Every new way of losing or using energy still adds up to 1e-9."""
    rng = np.random.default_rng(seed)
    base = prepared(["starter", "hot-valve-site"][seed % 2])
    hourly = base.hourly.copy()
    for watts, amps, siemens in col.TIERS[1:]:
        hourly[watts] = rng.uniform(0, 10)
        hourly[amps] = rng.uniform(0, 0.4)
        hourly[siemens] = rng.uniform(0, 0.01)
    hourly["base_w"] = heater * (rng.random(len(hourly)) < 0.3)
    hourly["charge_share"] = rng.uniform(-0.3, 1, len(hourly)).clip(0)
    lowest = 0.95 * base.budget.nominal_v if restart else None
    problem = _changed(
        dataclasses.replace(base, hourly=hourly),
        regulator={"minimum_battery_v": lowest},
        bus={"disconnect_delay_h": 1.5},
    )
    plain = type(problem).scalars

    def scalars(self, strings, bank):
        s = plain(self, strings, bank)
        set_shed(s, 1, states=(0.7, 0.8))
        set_shed(s, 2, states=(0.5, 0.6))
        return s

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(type(problem), "scalars", scalars)
        run = simulate_size(problem, 3, 2)
    assert run.ledger.error_frac < 1e-9
    assert run.ledger.charge_error_frac < 1e-9
    last, first, second = run.hours_off_by_tier
    assert last <= second <= first


def test_shed_steps_keep_the_rest_longer(prepared):
    """Shedding the first tiers early keeps tier 0 on for more hours, with hysteresis."""
    problem = prepared("starter")
    hourly = problem.hourly.copy()
    hourly["first_w"] = hourly["second_w"] = 0.4 * hourly["load_w"]
    hourly["load_w"] *= 0.4
    s = problem.scalars(3, problem.bank.with_strings(2))
    s["trip_v"] = s["return_v"] = 0.0
    s["trip_state"], s["return_state"] = 0.2, 0.4
    out = {}
    for shed in (False, True):
        if shed:
            set_shed(s, 1, states=(0.6, 0.7))
            set_shed(s, 2, states=(0.4, 0.5))
        out[shed] = np.empty(len(hourly), col.RESULT)
        kernel.simulate(hourly, problem.currents, problem.tables, s, 0.0, out[shed])
    on = {k: (v["served"] > 0.5).sum() for k, v in out.items()}
    assert on[True] > on[False]
    first, second = out[True]["first"] > 0.5, out[True]["second"] > 0.5
    assert first.sum() < second.sum() < on[True]
    held = s["charge_ah"]
    back = np.flatnonzero(first[1:] & ~first[:-1])
    state = 1 - out[True]["removed_ah"] / held
    assert (state[back] >= 0.7).all()


def test_disconnect_waits_for_its_delay(prepared):
    """A dip shorter than the delay costs nothing, a longer one the loads."""
    problem = prepared("starter")
    rows = np.repeat(problem.hourly[:1], 12, axis=0)
    rows["array_w"] = 0
    rows["load_w"][[3, 6, 7, 8]] = 300.0
    currents = np.zeros((12, 0))
    free = problem.scalars(0, problem.bank)
    free["trip_v"], free["step_h"] = 1.0, 0.125
    out = np.empty(12, col.RESULT)
    kernel.simulate(rows, currents, problem.tables, free, 0.0, out)
    dips = out["bus_v"][[3, 6, 7, 8]].max()
    between = (dips + out["bus_v"][9]) / 2
    assert dips < between
    for delay, served in ((0.0, 3), (1.0, 7), (2.0, 8), (3.0, 12)):
        s = problem.scalars(0, problem.bank)
        s["delay_h"], s["step_h"] = delay / 8, 0.125
        s["trip_v"] = between
        out = np.empty(12, col.RESULT)
        kernel.simulate(rows, currents, problem.tables, s, 0.0, out)
        lost = np.flatnonzero(out["served"] < 0.5)
        assert (lost[0] if lost.size else 12) == served


def test_dark_regulator_never_comes_back_and_a_working_one_does(prepared):
    """A flat bank with a lowest regulator voltage stays flat; without one it returns."""
    problem = prepared("starter")
    starved = dataclasses.replace(problem, hourly=problem.hourly.copy())
    n = len(starved.hourly)
    starved.hourly["array_w"][: n // 4] = 0.0
    for lowest, back in ((None, True), (9.0, False)):
        changed = _changed(
            starved,
            regulator={"minimum_battery_v": lowest},
            battery={"start_frac": 0.3},
        )
        changed.hourly["base_w"] = 10.0
        run = simulate_size(changed, 4, 1)
        assert run.outages[0].recovered is back
        assert recovery(run).flat_restarts is back
        assert (
            bool([e for e in run.events if e.kind == "charge controller off"])
            is not back
        )
        assert run.ledger.error_frac < 1e-9


def test_recovery_is_that_of_a_run_started_disconnected(prepared):
    """Days to come back are found again by a plain search through a run."""
    run = simulate_size(prepared("coastal-meter-run"))
    found = recovery(run)
    assert 0 < found.worst_days < 30
    problem = run.problem
    month = problem.record.month
    first = int(np.flatnonzero(month == found.worst_month)[0])
    # Two empty hours without sun open the switch; then the record as it is.
    order = np.r_[first, np.arange(first, problem.record.n)]
    rows = problem.hourly[order].copy()
    rows["capacity"][0] = 0.0
    rows["array_w"][0] = rows["self_per_h"][0] = 0.0
    s = problem.scalars(run.strings, run.bank)
    removed = (1 - found.from_frac) * s["charge_ah"]
    s["base_a"] = 0.0
    out = np.empty(len(rows), col.RESULT)
    kernel.simulate(rows, problem.currents[order], problem.tables, s, removed, out)
    on = out["served"] > 0.5
    assert not on[0]
    hours = int(np.argmax(on)) - 1
    assert hours / 24 == pytest.approx(found.worst_days, abs=2 / 24)


def test_a_battery_that_outlasts_the_search_is_taken_as_its_last_hour_leaves_it(
    prepared,
):
    """A thousandth of the load never reaches the disconnect; little charge is gone."""
    lean = simulate_size(prepared("hot-valve-site").under(Scenario(load_factor=1e-3)))
    full = simulate_size(prepared("hot-valve-site"))
    assert 0 < disconnected_ah(lean) < disconnected_ah(full)


@pytest.mark.parametrize("name", ["starter", "hot-valve-site"])
def test_older_banks_are_never_better(prepared, name):
    """New, mid-life, old: autonomy and lowest charge do not rise with age."""
    ahead = outlook(simulate_size(prepared(name)))
    for key in ("autonomy_design_days", "lowest_soc_frac", "availability_frac"):
        values = [getattr(case, key) for case in ahead.ages]
        assert values == sorted(values, reverse=True)
    assert [case.health_frac for case in ahead.ages] == pytest.approx([1.0, 0.9, 0.8])
    low, high = ahead.curves
    assert low.autonomy_design_days < high.autonomy_design_days


def test_frost_hours_are_counted_on_rated_charge(prepared):
    """The report equals a plain count of hours under the allowed state."""
    base = prepared("starter")
    cold = climate(base.bank, base.conditions.battery_degc - 35.0)
    problem = dataclasses.replace(base, conditions=cold)
    run = simulate_size(problem, 3, 2)
    rated = run.bank.rated_ah
    curve = run.bank.chemistry.freezing
    frozen = near = 0
    for removed, degc in zip(run.removed_ah[1:], cold.battery_degc, strict=True):
        state = 1 - removed / rated
        need = float(lowest_state_frac(degc, curve))
        frozen += need > 0 and state < need
        near += need > 0 and state < need + 0.05
    assert run.frost.hours_frozen == frozen > 0
    assert run.frost.hours_below_margin == near > frozen
    assert run.events[0].kind == "battery frozen"
    assert run.availability_to_loss_frac < run.availability_frac
