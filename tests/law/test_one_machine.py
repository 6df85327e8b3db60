"""One machine gives the same watts, fuel and cold limit through every verb.

Floats are compared with ``==``: a verb that models for itself is off in the last digit
at the least.
"""

from __future__ import annotations

import dataclasses
import itertools
from pathlib import Path

import numpy as np
import pytest

from powerbudget.balance.problem import prepare
from powerbudget.balance.simulation import simulate_size
from powerbudget.checks.fuel import NAME
from powerbudget.checks.registry import check
from powerbudget.compare.machines import full_burn_l_d, templates
from powerbudget.generators.series import PRESSURE, RUNS
from powerbudget.generators.unit import make_unit
from powerbudget.review.claims_file import claims_of
from powerbudget.review.reviewer import review
from powerbudget.review.varied_site import VariedSite
from powerbudget.site.generator import Generator
from powerbudget.site.reader import read_site
from powerbudget.site.scenario import Scenario
from powerbudget.sizing.worksheet.backup_generator import backup_year
from powerbudget.weather.record import cut

SITES = Path(__file__).resolve().parents[2] / "sites"
ALTITUDES_M = (0.0, 640.0, 1500.0, 2500.0, 3600.0)
AIR_DEGC = (-38.0, -20.0, 5.0, 20.0, 40.0)
LOAD_FRAC = (0.25, 0.5, 1.0)
HOURS_PER_YEAR = 8760
TANK = {"volume": "2000 gal", "time_constant": "0 h"}
MACHINES = {
    "burner": {"kind": "thermoelectric", "fuel": "propane", "rated": "54 W", "tank": TANK},
    "burner set for the site": {
        "kind": "thermoelectric", "fuel": "propane", "rated": "54 W", "tank": TANK,
        "fuel_adjusted_for_altitude": True,
    },
    "large burner on gas": {
        "kind": "thermoelectric", "fuel": "natural-gas", "rated": "550 W",
    },
    "engine": {
        "kind": "engine", "fuel": "propane", "rated": "1 kW", "tank": TANK,
        "start": "60 %", "stop": "90 %", "minimum_run": "2 h",
    },
    "large engine, sheet from 1,000 m": {
        "kind": "engine", "fuel": "propane", "rated": "8 kW", "tank": TANK,
        "start": "60 %", "stop": "90 %", "altitude_reference": "1000 m",
    },
    "methanol cell": {
        "kind": "methanol-cell", "fuel": "methanol", "rated": "110 W",
        "tank": {"volume": "200 L"}, "start": "60 %", "stop": "90 %",
    },
}  # fmt: skip
SECOND = pytest.param("burner set for the site", marks=pytest.mark.slow)
"""A steady burner walks 25 records of a year; the other one stays in every run."""
MOVES = {"thermoelectric": 12, "engine": 9, "methanol-cell": 4}
"""Outputs that differ over the places: an engine and a cell gain nothing in the cold and
stand still in hard cold, and hold their rating to some altitude."""
PLACES = list(itertools.product(ALTITUDES_M, AIR_DEGC))


@pytest.fixture(scope="module")
def relay():
    """Return the demo relay on propane, prepared for a year of its record."""
    design = read_site(SITES / "propane-relay.toml")
    return prepare(design, cut(prepare(design).weather, np.arange(HOURS_PER_YEAR)))


def machine(name: str) -> Generator:
    """Return a table as the site file has it."""
    return Generator.model_validate({"name": "it", **MACHINES[name]})


def placed(problem, height_m, degc, *generators):
    """Return the relay at a height in air of one temperature, with its propane at it."""
    tables = problem.design.tables
    site = tables.site.model_copy(update={"elevation_m": height_m})
    tables = tables.model_copy(update={"site": site})
    design = dataclasses.replace(problem.design, tables=tables)
    # One warm hour: a burner that could never burn here is refused as bad input.
    air = np.r_[40.0, np.full(problem.record.n - 1, degc)]
    record = dataclasses.replace(problem.record, temp_air_degc=air)
    moved = dataclasses.replace(problem, design=design, weather=record)
    return moved.under(Scenario(machines=generators))


def judged(problem, **keys):
    """Return one claim judged at a prepared site."""
    claims = claims_of({"claim": [keys]})
    return review(problem.design, claims).claims[0]


@pytest.mark.parametrize("name", [SECOND if "set" in n else n for n in MACHINES])
def test_watts_are_those_of_the_run_in_every_verb(relay, name, monkeypatch):
    """Output at 5 altitudes and 5 temperatures: run, review, compare, worksheet."""
    table, moved, ran = machine(name), set(), 0
    for height_m, degc in PLACES:
        problem = placed(relay, height_m, degc, table)
        sources, unit = problem.sources, problem.sources.units[0]
        offered = sources.follower_w if unit.follows else sources.steady_w
        code = sources.follower_code if unit.follows else sources.walks[0].code
        run_w = float(unit.bus_w(degc))
        if code[1] == RUNS:
            assert offered[1] == run_w
            ran += 1
        # The claim is judged in the hottest hour: here all hours are alike.
        still = dataclasses.replace(
            problem.record, temp_air_degc=np.full(problem.record.n, degc)
        )
        same = dataclasses.replace(problem, record=still)
        monkeypatch.setattr(VariedSite, "problem", same)
        claim = {"kind": "generator", "generator": table.kind,
                 "claimed": f"{table.rated_w} W"}  # fmt: skip
        assert judged(same, **claim).solved[0].value == run_w
        (template,) = templates(table.kind, table.fuel, (table,), (0.5, 0.8))
        assert float(make_unit(template, height_m).bus_w(degc)) == run_w
        if run_w > 0:
            year = backup_year(unit, 10.0, 1.0, degc)
            assert year.hours == 1000.0 * year.energy_kwh / run_w
        moved.add(run_w)
    # A test in which nothing moves would see nothing.
    assert len(moved) >= MOVES[table.kind]
    assert ran >= 2 * len(ALTITUDES_M)


@pytest.mark.parametrize("name", MACHINES)
def test_fuel_is_that_of_the_run_in_every_verb(relay, name):
    """Fuel of a day at 3 loads: kernel or walk, review, compare, worksheet."""
    table = machine(name)
    problem = placed(relay, 0.0, 20.0, table)
    unit = problem.sources.units[0]
    counted = "m3" if table.fuel == "natural-gas" else "L"
    for share in LOAD_FRAC:
        load_w = share * table.rated_w
        burnt = float(unit.fuel_per_day(load_w))
        claim = {
            "kind": "fuel", "claimed": f"1 {counted}/day", "generator": table.kind,
            "fuel": table.fuel, "power": f"{load_w} W", "rated": f"{table.rated_w} W",
        }  # fmt: skip
        assert judged(problem, **claim).found == burnt
        # Without a site the kind's own figures are those of the site's machine.
        bare = review(None, claims_of({"claim": [claim]})).claims[0]
        assert bare.found == burnt
    full = float(unit.fuel_per_day(unit.rated_w))
    assert full_burn_l_d(table) / unit.fuel.litres_per_unit == full
    year = backup_year(unit, 10.0, 1.0, 20.0)
    assert year.fuel == full / 24.0 * year.hours


def test_a_claim_without_watts_takes_those_of_the_sites_burners(relay):
    """Fuel a day of two burners is that of `run`; an engine's hours no rating tells."""
    table = machine("burner").model_copy(update={"quantity": 2, "age_y": 8.0})
    problem = placed(relay, 0.0, 20.0, table)
    unit = problem.sources.units[0]
    claim = {"kind": "fuel", "claimed": "1 L/day", "generator": "thermoelectric",
             "fuel": "propane"}  # fmt: skip
    whole = judged(problem, **claim)
    assert whole.found == float(unit.fuel_per_day(unit.rated_w)) > 0
    assert any("in the site file is used" in text for text in whole.remarks)
    one = judged(problem, **claim, rated=f"{table.rated_w} W")
    assert one.found == whole.found / 2
    engine = placed(relay, 0.0, 20.0, machine("engine"))
    asked = judged(engine, **claim | {"generator": "engine"})
    assert asked.found is None
    assert any("power" in text for text in asked.missing)


def test_a_burners_years_are_left_out_only_where_none_are_stated(relay):
    """A caution about ageing beside watts that have aged would be untrue."""
    claim = {"kind": "generator", "generator": "thermoelectric", "claimed": "54 W"}
    fresh, aged = (
        judged(placed(relay, 0.0, 20.0, machine("burner").model_copy(update=update)),
               **claim)
        for update in ({}, {"age_y": 8.0, "ageing_per_y": 0.01})
    )  # fmt: skip
    ratio = aged.solved[0].value / fresh.solved[0].value
    assert ratio == pytest.approx(0.92, rel=1e-12)
    assert any("degradation" in text for text in fresh.cautions)
    assert not any("degradation" in text for text in aged.cautions)


@pytest.mark.parametrize("name", ["burner", "engine"])
def test_fuel_of_the_simulation_lies_on_the_machines_line(relay, name):
    """Hours that ran all through burn the machine's fuel at the watts they gave."""
    table = machine(name)
    problem = placed(relay, 1500.0, 5.0, table)
    unit, run = problem.sources.units[0], simulate_size(problem, 0)
    step = problem.record.step_h
    if not unit.follows:
        walk = problem.sources.walks[0]
        assert set(walk.fuel_w[1:]) == {float(unit.fuel_w(0.5 * unit.rated_w))}
        return
    out = run.out
    whole = out["source_h"] == step
    gave = (out["source_a"] * out["bus_v"])[whole]
    terminal = gave / unit.figure("charger_efficiency_frac")
    np.testing.assert_allclose(
        out["source_fuel_wh"][whole], unit.fuel_w(terminal) * step, rtol=1e-9
    )
    assert whole.sum() > 100
    assert np.ptp(terminal) > 0


@pytest.mark.parametrize(
    "name",
    [
        SECOND if "set" in n else n
        for n in MACHINES
        if "gas" not in n and "cell" not in n
    ],
)
def test_lowest_propane_is_that_of_the_run_in_every_verb(relay, name, monkeypatch):
    """Coldest liquid that feeds the burner: run, page, check, review, and who starves."""
    table, limits, starving = machine(name), set(), set()
    for height_m, degc in PLACES:
        problem = placed(relay, height_m, degc, table)
        unit = problem.sources.units[0]
        run = simulate_size(problem, 0)
        limit = run.generation[0].pressure.limit_degc
        (row,) = [c for c in check(problem.design, problem).checks if c.name == NAME]
        assert row.limit == limit
        monkeypatch.setattr(VariedSite, "problem", problem)
        claim = {"kind": "temperature", "claimed": "-40 degC", "of": "battery",
                 "propane": f"{unit.burner_kpa} kPa"}  # fmt: skip
        cases = judged(problem, **claim).cases
        (found,) = [case.found for case in cases if case.name.startswith("propane")]
        assert found == limit
        code = (
            problem.sources.follower_code if unit.follows
            else problem.sources.walks[0].code
        )  # fmt: skip
        starves = bool((code == PRESSURE)[1:].all())
        assert starves is (degc < limit)
        limits.add(limit)
        starving.add(starves)
    assert len(limits) == len(ALTITUDES_M)
    assert starving == {False, True}
