"""Laws that generators keep: energy, fuel, stock, pressure, starts."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from powerbudget.balance import columns as col
from powerbudget.balance import kernel
from powerbudget.balance.generation import accepted_w
from powerbudget.balance.problem import prepare
from powerbudget.balance.simulation import simulate_size
from powerbudget.generators.cold import starved, tank_degc
from powerbudget.generators.propane import (
    gauge_pressure_kpa,
    lowest_liquid_degc,
    tank_needed_l,
)
from powerbudget.generators.starts import failure_risk_frac, start_frac
from powerbudget.site.generator import Access, Generator
from powerbudget.site.scenario import Scenario
from powerbudget.site.starter import starter_design

SEEDS = st.integers(0, 2**32 - 1)
ENGINE = {
    "name": "engine", "kind": "engine", "rated": "300 W", "fuel": "propane",
    "start": "60 %", "stop": "90 %", "tank": {"volume": "500 L"}, "minimum_run": "2 h",
}  # fmt: skip
BURNER = {
    "name": "burner", "kind": "thermoelectric", "rated": "21 W", "fuel": "propane",
    "tank": {"volume": "1000 L"},
}  # fmt: skip


def generator(**table):
    """Return a generator from keys as the site file has them."""
    return Generator.model_validate(table)


@pytest.fixture(scope="module")
def dark():
    """Return the starter with half of its panels."""
    return prepare(starter_design())


CASES = {
    "burner": (generator(**BURNER),),
    "engine": (generator(**ENGINE),),
    "both": (generator(**BURNER), generator(**ENGINE)),
    "always on, follows the load": (
        generator(**{k: v for k, v in ENGINE.items() if k not in {"start", "stop"}},
                  dispatch="always"),
    ),
    "two burners": (
        generator(**BURNER),
        generator(**BURNER | {"name": "second", "charger_efficiency": "90 %"}),
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("strings", [0, 3])
def test_ledger_closes_with_generators(dark, case, strings):
    """Sun and generators equal every loss, store and use to 1e-9, with and without sun."""
    run = simulate_size(dark.under(Scenario(machines=CASES[case])), strings)
    assert run.ledger.generator_wh > 0
    assert run.ledger.error_frac < 1e-9
    assert run.ledger.charge_error_frac < 1e-9


def test_ledger_would_show_a_generator_that_gives_too_much(dark):
    """A run that took 0.1 % more of the burner than the loads got would not close."""
    from powerbudget.balance.ledger import make_ledger

    run = simulate_size(dark.under(Scenario(machines=CASES["burner"])), 0)
    out = run.out.copy()
    out["steady_a"] *= 1.001
    ledger = make_ledger(run.problem, run.scalars, 0, run.removed_ah, out)
    assert ledger.error_frac > 1e-6
    out["battery_a"] *= 1.001
    ledger = make_ledger(run.problem, run.scalars, 0, run.removed_ah, out)
    assert ledger.charge_error_frac > 1e-6


@pytest.mark.parametrize("case", CASES)
def test_accepted_energy_is_what_the_columns_say(dark, case):
    """Watts taken of every generator add up to what loads and battery took of all."""
    run = simulate_size(dark.under(Scenario(machines=CASES[case])), 2)
    amps = run.out["steady_a"] + run.out["source_a"]
    total = sum(accepted_w(run, unit.name) for unit in run.problem.sources.units)
    np.testing.assert_allclose(total, amps * run.out["bus_v"], atol=1e-9)
    step = run.problem.record.step_h
    yearly = sum(year.accepted_wh_per_year for year in run.generation)
    assert yearly == pytest.approx(total.sum() * step / run.years)


def test_nothing_changes_without_a_generator(dark):
    """A site without generators has no generator energy, events or remarks."""
    run = simulate_size(dark)
    assert run.generation == ()
    assert run.ledger.generator_wh == 0.0
    for name in ("steady_a", "source_a", "source_h", "source_fuel_wh"):
        assert not run.out[name].any()
    assert not run.out["source_stock_wh"].any()
    assert not run.out["source_code"].any()
    again = simulate_size(dark.under(Scenario(machines=(generator(**BURNER),))))
    back = simulate_size(again.problem.under(Scenario(machines=())))
    np.testing.assert_array_equal(back.out, run.out)


@settings(max_examples=30, deadline=None)
@given(seed=SEEDS, direct=st.booleans())
def test_fuel_burnt_is_fuel_gone(make_rows, seed, direct):
    """Stock falls by what was burnt, jumps only to full, and never below nothing."""
    rows, currents, tables, s = make_rows(seed, 500, direct=direct)
    s["source"] = 1.0
    s["source_tank_wh"] = 5000.0
    out = np.empty(len(rows), col.RESULT)
    kernel.simulate(rows, currents, tables, s, 0.4 * s["charge_ah"], out)
    stock = np.r_[5000.0, out["source_stock_wh"]]
    burnt = out["source_fuel_wh"]
    assert stock.min() >= 0
    assert (burnt >= 0).all()
    refilled = stock[1:] > stock[:-1] + 1e-9
    kept = ~refilled
    np.testing.assert_allclose((stock[:-1] - stock[1:])[kept], burnt[kept], atol=1e-6)
    np.testing.assert_allclose(stock[1:][refilled] + burnt[refilled], 5000.0)
    idle = out["source_h"] == 0
    assert not out["source_a"][idle].any()
    assert (out["source_h"] <= s["step_h"] + 1e-12).all()


@settings(max_examples=30, deadline=None)
@given(seed=SEEDS)
def test_a_source_never_gives_more_than_it_has(make_rows, seed):
    """What is taken of each source is within what it offers, hour by hour."""
    rows, currents, tables, s = make_rows(seed, 500, direct=False)
    out = np.empty(len(rows), col.RESULT)
    kernel.simulate(rows, currents, tables, s, 0.3 * s["charge_ah"], out)
    volts = out["bus_v"]
    assert (out["array_a"] <= out["offered_a"] + 1e-9).all()
    assert (out["steady_a"] * volts <= rows["steady_w"] + 1e-6).all()
    assert (out["source_a"] * volts <= rows["source_w"] + 1e-6).all()
    assert all(
        (out[f"{name}_a"] >= -1e-12).all() for name in ("array", "steady", "source")
    )


@settings(max_examples=30, deadline=None)
@given(seed=SEEDS, more=st.floats(1.05, 3.0))
@example(seed=52579, more=1.25)
def test_more_steady_power_never_lowers_charge(make_rows, seed, more):
    """A stronger burner leaves the battery no emptier, disconnect and float left out.

    A bank that is full sooner floats sooner, and may then hold less than one that is not.
    One that is empty, disconnect or not, drops its loads until it is back at the reconnect
    voltage: from there on the two carry different loads.
    """
    rows, currents, tables, s = make_rows(seed, 500, direct=False)
    for name in np.ravel(col.TIERS):
        rows[name] *= 0.05
    for name in ("trip", "first", "second"):
        s[f"{name}_v"], s[f"{name}_state"] = 0.0, -1.0
    s["source"] = s["restart_v"] = s["float_drop_v"] = 0.0
    rows["steady_w"] = 3.0
    out, strong = np.empty((2, len(rows)), col.RESULT)
    kernel.simulate(rows, currents, tables, s, 0.2 * s["charge_ah"], out)
    rows["steady_w"] *= more
    kernel.simulate(rows, currents, tables, s, 0.2 * s["charge_ah"], strong)
    dropped = np.flatnonzero((out["served"] < 0.5) | (strong["served"] < 0.5))
    alike = slice(dropped[0] if dropped.size else None)
    gap = (strong["removed_ah"] - out["removed_ah"])[alike]
    assert gap.max(initial=0.0) <= 1e-6 * s["charge_ah"]


def test_record_autonomy_counts_neither_sun_nor_generator(dark):
    """Days held from an hour are those of the battery alone, whatever burns beside it."""
    from powerbudget.sizing.autonomy import design_autonomy_days

    bare = kernel.holds
    s = dark.scalars(3, dark.bank)
    starts, removed, none = np.array([0, 500]), np.array([5.0, 5.0]), np.zeros(2, int)
    never = np.full(dark.record.n, np.inf)
    without = bare(
        dark.hourly, dark.tables, s, never, starts, removed, none, 2000, -1, True
    )
    for case in CASES.values():
        other = dark.under(Scenario(machines=case))
        s = other.scalars(3, other.bank)
        held = bare(
            other.hourly, other.tables, s, never, starts, removed, none, 2000, -1, True
        )
        assert (held == without).all()
        assert design_autonomy_days(other, other.bank, -10.0) == design_autonomy_days(
            dark, dark.bank, -10.0
        )


def test_fuel_of_a_burner_does_not_know_the_load(dark):
    """A thermoelectric source burns its rated fuel for every hour it is lit."""
    run = simulate_size(dark.under(Scenario(machines=CASES["burner"])), 0)
    year = run.generation[0]
    unit = run.problem.sources.units[0]
    hours = year.run_h_per_year
    assert year.fuel_heat_wh_per_year == pytest.approx(hours * unit.full_fuel_w)
    assert year.accepted_wh_per_year < year.offered_wh_per_year


def test_fuel_of_an_engine_lies_on_its_line(dark):
    """Fuel of a year is no-load burn for its hours and slope for its energy."""
    run = simulate_size(dark.under(Scenario(machines=CASES["engine"])), 0)
    year, unit = run.generation[0], run.problem.sources.units[0]
    energy = year.accepted_wh_per_year / unit.figure("charger_efficiency_frac")
    line = year.run_h_per_year * unit.idle_fuel_w + unit.fuel_slope * energy
    assert year.fuel_heat_wh_per_year == pytest.approx(line)


@settings(max_examples=50, deadline=None)
@given(kpa=st.floats(0, 400), height=st.floats(0, 4000))
def test_lowest_temperature_is_the_inverse_of_the_pressure(kpa, height):
    """At the limit the tank has just the pressure asked for."""
    limit = lowest_liquid_degc(kpa, height)
    assert float(gauge_pressure_kpa(limit, height)) == pytest.approx(kpa, abs=1e-6)


def test_starving_is_the_tank_below_its_limit(dark):
    """Hour by hour, starving is a liquid colder than the burner's limit."""
    table = generator(**BURNER | {"burner_pressure": "300 kPa"})
    problem = dark.under(Scenario(machines=(table,)))
    unit = problem.sources.units[0]
    limit = lowest_liquid_degc(unit.needed_kpa, unit.elevation_m)
    cold = tank_degc(unit, problem.record) < limit
    assert (cold == starved(unit, problem.record)).all()
    assert cold.any()
    assert not cold.all()


@settings(max_examples=50, deadline=None)
@given(
    p=st.floats(0.5, 1.0), rate=st.floats(0.01, 5.0), idle=st.floats(400.0, 9000.0),
)  # fmt: skip
def test_exercise_never_makes_a_start_less_likely(p, rate, idle):
    """Weekly proof lowers the risk after a long rest, and both are probabilities."""
    bare = failure_risk_frac(p, rate, idle)
    tested = failure_risk_frac(p, rate, idle, 168.0)
    assert 0 <= tested <= bare <= 1
    assert start_frac(p, rate, 0.0) == p


def test_draws_of_starts_come_near_their_expectation(make_rows):
    """Over many seeded starts, failures are as frequent as the probability says."""
    rows, currents, tables, s = make_rows(3, 40_000, direct=False)
    rng = np.random.default_rng(1)
    rows["array_w"] = rows["steady_w"] = 0.0
    for name in np.ravel(col.TIERS):
        rows[name] = 0.0
    rows["load_w"] = 10.0
    rows["source_w"], rows["source_open"] = 100.0, 1.0
    rows["source_draw"] = rng.random(len(rows))
    s["source_start_v"] = s["source_stop_v"] = 0.0
    s["source"], s["source_start_state"] = 1.0, 0.8
    s["source_stop_state"], s["source_minimum_h"] = 0.85, 0.0
    s["source_exercise_every_h"], s["source_faults_per_h"] = np.inf, 0.0
    s["source_start_frac"], s["source_delay_h"] = 0.7, 0.0
    s["source_tank_wh"], s["source_order_wh"] = np.inf, -1.0
    rows["charge_share"] = 1.0
    out = np.empty(len(rows), col.RESULT)
    kernel.simulate(rows, currents, tables, s, 0.1 * s["charge_ah"], out)
    code = out["source_code"]
    failed, good = (code == col.G_FAILED).sum(), (code > 10).sum()
    tries = failed + good
    assert tries > 200
    # Three standard deviations of so many independent tries.
    assert failed / tries == pytest.approx(0.3, abs=3 * (0.21 / tries) ** 0.5)


def test_heat_of_a_burner_warms_the_box_by_watts_over_conductance(dark):
    """20 W into a box of 2 W/K raises a burning day by 10 K and nothing when out."""
    design = starter_design()
    text = {"kind": "insulated", "conductance": "2 W/degC", "time_constant": "0 h"}
    battery = type(design.tables.battery).model_validate(
        {"chemistry": "agm", "unit": "battery-agm-12v-100ah", "box": text}
    )
    tables = design.tables.model_copy(update={"battery": battery})
    boxed = prepare(dataclasses.replace(design, tables=tables))
    hot = boxed.under(
        Scenario(machines=(generator(**BURNER | {"heat_to_battery_box": "20 W"}),))
    )
    gap = hot.conditions.battery_degc - boxed.conditions.battery_degc
    np.testing.assert_allclose(gap, 10.0, atol=1e-9)


def test_access_by_dates_is_closed_on_both_days(dark):
    """A closed season over New Year closes its first and last day, and none between."""
    from powerbudget.generators.access import access_open, closed_days

    access = Access.model_validate({"closed": "1 Dec to 28 Feb"})
    reached = access_open(dark.record, access)
    month = dark.record.month
    assert not reached[np.isin(month, (12, 1, 2))].any()
    assert reached[~np.isin(month, (12, 1, 2))].all()
    assert closed_days(access) == 90.0


def test_warmth_never_asks_for_a_larger_tank_nor_a_larger_draw_for_a_smaller_one():
    """The printed table rises with the draw and falls with warmth, and so does it."""
    largest_w = 200 * 2500 * 0.29307107
    air = np.linspace(-45.0, 5.0, 181)
    draws = np.linspace(0.02, 1.0, 99) * largest_w
    tanks = np.array([[tank_needed_l(w, t) for t in air] for w in draws])
    assert (np.diff(tanks, axis=1) <= 1e-9).all()
    assert (np.diff(tanks, axis=0) >= -1e-9).all()
    assert tank_needed_l(1.001 * largest_w, 0.0) == np.inf
    assert np.isfinite(tanks).all()
