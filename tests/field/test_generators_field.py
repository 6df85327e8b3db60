"""Generators as people meet them: cold propane, closed roads, idle engines, bad input."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from reference import together

from powerbudget.balance import columns as col
from powerbudget.balance.problem import prepare
from powerbudget.balance.run_findings import run_findings
from powerbudget.balance.simulation import simulate_size
from powerbudget.errors import InputError
from powerbudget.generators.cold import fuel_pressure_check
from powerbudget.generators.series import PRESSURE, RELIGHT, RUNS
from powerbudget.generators.unit import make_unit
from powerbudget.site.generator import Access, Generator
from powerbudget.site.reader import read_site, read_site_text
from powerbudget.site.scenario import Scenario
from powerbudget.site.starter import starter_text

ROOT = Path(__file__).resolve().parents[2]
SITES = ROOT / "sites"
BURNER = """
[[generator]]
name = "burner"
kind = "thermoelectric"
rated = "54 W"
fuel = "propane"
[generator.tank]
volume = "500 gal"
"""
ENGINE = """
[[generator]]
name = "engine"
kind = "engine"
rated = "300 W"
fuel = "propane"
start = "50 %"
stop = "90 %"
[generator.tank]
volume = "500 gal"
"""


def without(text: str, *tables: str) -> str:
    """Return a site file without some of its tables."""
    kept, keep = [], True
    for line in text.splitlines():
        if line.startswith("["):
            keep = line.split("#")[0].strip() not in tables
        if keep:
            kept.append(line)
    return "\n".join(kept)


PLAIN = without(starter_text(), "[array]", "[charge_controller]")
"""The starter without panels."""


def faults(text: str) -> list[str]:
    """Return the faults of a site file as text."""
    with pytest.raises(InputError) as caught:
        read_site_text(text)
    return [str(fault) for fault in caught.value.faults]


def generator(**table):
    """Return a generator from keys as the site file has them."""
    return Generator.model_validate(table)


@pytest.fixture(scope="module")
def relay():
    """Return the demo relay on propane, prepared."""
    return prepare(read_site(SITES / "propane-relay.toml"))


def burner_at(problem, **more):
    """Return the relay with another burner of 54 W on an open tank."""
    keys = {"name": "burner", "kind": "thermoelectric", "rated": "54 W",
            "fuel": "propane", "tank": {"volume": "2000 gal"}}  # fmt: skip
    return problem.under(Scenario(machines=(generator(**keys | more),)))


def with_air(problem, degc: float):
    """Return the problem with half of its record held at one temperature."""
    import dataclasses

    n = problem.record.n
    air = np.where(np.arange(n) < n // 2, degc, 5.0)
    record = dataclasses.replace(problem.record, temp_air_degc=air)
    return dataclasses.replace(problem, record=record, weather=record)


@pytest.mark.parametrize(
    ("degc", "drop", "starves"),
    [
        (-35.0, "0 kPa", True),
        (-33.5, "0 kPa", True),
        (-32.0, "0 kPa", False),
        (-31.0, "25 kPa", True),
        (-28.0, "25 kPa", False),
    ],
)
def test_propane_starves_long_before_it_stops_boiling(relay, degc, drop, starves):
    """A 54 W burner is out at -35 and -33.5 degC, though propane boils at -42."""
    cold = burner_at(with_air(relay, degc), regulator_drop=drop)
    # The relay stands at 640 m, where thin air leaves 1.3 K more than at the sea.
    sea = cold.design.tables.site.model_copy(update={"elevation_m": 0.0})
    unit = make_unit(cold.design.tables.generator[0], sea.elevation_m)
    check = fuel_pressure_check(unit, cold.record)
    # A tank follows the air by hours; the half is five years' half.
    half = cold.record.n // 2
    assert check.hours_below == pytest.approx(half if starves else 0, abs=48)
    assert check.verdict == ("fail" if starves else "warn")
    assert check.value_degc == pytest.approx(degc)


def test_starving_is_told_as_event_cause_and_hours(relay):
    """The demo relay's outages name fuel pressure, and so do its events and remarks."""
    run = simulate_size(relay)
    year = run.generation[0]
    assert year.pressure_h > 500
    assert run.outages
    assert all(
        "insufficient fuel pressure" in outage.generator for outage in run.outages
    )
    assert "insufficient fuel pressure" in run.outages[0].cause
    event = next(
        e for e in run.events if e.kind == "generator: insufficient fuel pressure"
    )
    assert f"{year.pressure_h:,.0f} h" in event.text
    serious = [f.text for f in run_findings(run) if f.severity == "serious"]
    assert any("insufficient fuel pressure for" in text for text in serious)


def test_a_buried_tank_keeps_the_relay(relay):
    """The same tank at 1.2 m in the ground never starves, and no outage is left."""
    table = relay.design.tables.generator[0]
    tank = table.tank.model_copy(update={"place": "buried"})
    run = simulate_size(
        relay.under(Scenario(machines=(table.model_copy(update={"tank": tank}),)))
    )
    assert run.generation[0].pressure_h == 0
    assert not run.outages


def test_a_burner_to_be_lit_by_hand_stays_out_until_the_road_opens(relay):
    """Flame-out in January with the site closed to mid-May waits for mid-May."""
    table = relay.design.tables.generator[0].model_copy(update={"relight": "visit"})
    walk = relay.under(Scenario(machines=(table,))).sources.walks[0]
    code = walk.code
    first = int(np.argmax(code == PRESSURE))
    month, day = relay.record.month, relay.record.day_local
    again = first + int(np.argmax(code[first:] == RUNS))
    assert month[first] in {1, 2}
    assert str(day[again])[5:] == "05-16"
    assert (code[first:again] != RUNS).all()
    assert (code == RELIGHT).any()


def test_cylinders_that_are_empty_after_hours():
    """Four small cylinders under an engine are empty in hours, and no one may come."""
    text = PLAIN + ENGINE.replace("500 gal", "16 L").replace("300 W", "2 kW")
    text += '[access]\nclosed = "1 Nov to 31 Mar"\n'
    run = simulate_size(prepare(read_site_text(text)))
    year = run.generation[0]
    assert year.stock_days < 1.0
    assert year.wait_days == 151 + 7
    assert year.no_fuel_h > 100
    assert any("no fuel" in outage.cause for outage in run.outages)
    assert any("without access" in f.text for f in run_findings(run))


def test_deliveries_count_sling_loads():
    """2,840 L a refill at 450 L a flight are seven flights."""
    from powerbudget.balance.generation import loads_per_refill

    keys = {"name": "x", "kind": "thermoelectric", "rated": "54 W", "fuel": "propane"}
    tank = {"volume": "4000 L", "largest_delivery": "450 L", "refill_below": "0 %"}
    assert loads_per_refill(make_unit(generator(**keys, tank=tank), 0.0)) == 7.0
    tank["refill_below"] = "50 %"
    assert loads_per_refill(make_unit(generator(**keys, tank=tank), 0.0)) == 4.0


def test_energy_counts_only_where_it_is_taken():
    """An engine of 20 kW on a small bank burns no-load fuel and delivers little."""
    big = PLAIN + ENGINE.replace("300 W", "20 kW").replace("500 gal", "5000 gal")
    run = simulate_size(prepare(read_site_text(big)))
    year = run.generation[0]
    assert year.accepted_wh_per_year < 0.1 * year.offered_wh_per_year
    assert year.accepted_wh_per_year < 2 * 365.25 * run.problem.budget.wh_per_day
    assert any("of the available output" in f.text for f in run_findings(run))
    assert run.ledger.error_frac < 1e-9


def test_weekly_exercise_uses_fuel_and_bounds_the_risk():
    """15 min a week is 13 h a year of fuel, and lowers the risk after a long rest."""
    more = (
        'exercise_every = "7 d"\nexercise_for = "15 min"\nstart_probability = "99 %"\n'
        "standing_faults_per_y = 1\n[generator.tank]"
    )
    text = starter_text() + ENGINE.replace("50 %", "20 %").replace(
        "[generator.tank]", more
    )
    run = simulate_size(prepare(read_site_text(text)))
    year = run.generation[0]
    assert year.exercise_h_per_year == pytest.approx(52 * 0.25, abs=1.5)
    assert year.fuel_per_year > 0
    assert year.starts_risk.longest_rest_h > 8000
    assert year.starts_risk.risk_frac > 0.5
    assert year.starts_risk.risk_exercised_frac < 0.05


def test_a_failed_start_waits_for_the_road_and_is_told():
    """A set that never starts costs the loads, and the outage says why."""
    more = 'start_probability = "0.001 %"\n[generator.tank]'
    text = PLAIN + ENGINE.replace("[generator.tank]", more)
    run = simulate_size(prepare(read_site_text(text)))
    assert run.generation[0].failed_starts_per_year > 0
    assert any("failed start" in outage.cause for outage in run.outages)
    assert any(e.kind == "generator: failed start" for e in run.events)


def test_seeded_starts_repeat_and_seeds_differ():
    """The same seed gives the same failures; another seed is another draw."""
    more = 'start_probability = "70 %"\n[generator.tank]'
    text = PLAIN + ENGINE.replace("[generator.tank]", more)
    problem = prepare(read_site_text(text))
    table = problem.design.tables.generator[0]

    def failures(seed):
        other = table.model_copy(update={"start_seed": seed})
        run = simulate_size(problem.under(Scenario(machines=(other,))))
        return np.flatnonzero(run.out["source_code"] == col.G_FAILED).tolist()

    assert failures(1) == failures(1)
    assert failures(1) != failures(2)


def test_a_burner_too_weak_for_the_load_is_told():
    """54 W without panels carries a mean of 15 W; 10 W cannot, and the page says so."""
    strong = simulate_size(prepare(read_site_text(PLAIN + BURNER)))
    assert not any("cannot carry" in f.text for f in run_findings(strong))
    assert strong.availability_frac == 1.0
    weak = simulate_size(
        prepare(read_site_text(PLAIN + BURNER.replace("54 W", "10 W")))
    )
    assert any("cannot carry" in f.text for f in run_findings(weak))
    assert weak.availability_frac < 0.9


def test_fuel_that_is_not_there_all_year_is_told():
    """Gas from May to September leaves the winter without, and the page says so."""
    text = PLAIN + (
        '\n[[generator]]\nname = "burner"\nkind = "thermoelectric"\nrated = "54 W"\n'
        'fuel = "natural-gas"\nmonths = "May-Sep"\n'
    )
    run = simulate_size(prepare(read_site_text(text)))
    assert run.generation[0].closed_h == pytest.approx(212 * 24, abs=24)
    assert any("not available" in f.text for f in run_findings(run))
    assert any("fuel not available" in outage.cause for outage in run.outages)


def test_generic_wind_figures_need_no_fuel():
    """A source by generic figures burns nothing and still carries load."""
    text = starter_text() + (
        '\n[[generator]]\nname = "small wind turbine, mean output"\nkind = "other"\n'
        'rated = "8 W"\nfuel = "none"\nmonths = "Oct-Mar"\n'
    )
    run = simulate_size(prepare(read_site_text(text)))
    year = run.generation[0]
    assert year.fuel_per_year == 0.0
    assert year.fuel_unit == ""
    assert year.accepted_wh_per_year > 0


BAD = {
    "start above stop": (
        ENGINE.replace('start = "50 %"', 'start = "95 %"'),
        "stop: must lie above start",
    ),
    "volts against state": (
        ENGINE.replace('stop = "90 %"', 'stop = "13.8 V"'),
        "must be of the same kind as start",
    ),
    "volts of another bus": (
        ENGINE.replace("50 %", "23 V").replace("90 %", "28 V"),
        "start: does not fit the bus",
    ),
    "no rule": (ENGINE.replace('start = "50 %"\n', ""), "needs start and stop"),
    "rule on a burner": (
        BURNER.replace('fuel = "propane"', 'fuel = "propane"\nstart = "50 %"'),
        "belongs to a source that follows the battery",
    ),
    "misspelt fuel": (
        BURNER.replace('"propane"', '"propan"'), "did you mean propane?",
    ),
    "misspelt kind": (
        BURNER.replace('"thermoelectric"', '"termoelectric"'),
        "did you mean thermoelectric?",
    ),
    "fuel of another kind": (
        BURNER.replace('"propane"', '"diesel"'), "is not what a thermoelectric source",
    ),
    "no tank": (BURNER.split("[generator.tank]", maxsplit=1)[0], "tank: is missing"),
    "negative tank": (BURNER.replace("500 gal", "-500 gal"), "is out of range"),
    "tank in watts": (BURNER.replace("500 gal", "500 W"), "needs a volume"),
    "tank of piped gas": (BURNER.replace('"propane"', '"natural-gas"'), "by pipe"),
    "pressure as a bare number": (
        BURNER.replace('fuel = "propane"', 'fuel = "propane"\nburner_pressure = 48'),
        "needs a pressure",
    ),
    "two followers": (
        ENGINE + ENGINE.replace('"engine"\nkind', '"second"\nkind'),
        "only one source can follow",
    ),
    "double name": (BURNER + BURNER, "is also the name of generator[1]"),
    "heat without a box": (
        BURNER.replace("[generator.tank]", 'heat_to_battery_box = "20 W"\n[generator.tank]'),
        "needs a box to warm",
    ),
    "fuel twice": (
        BURNER.replace("[generator.tank]",
                       'efficiency = "3 %"\nfuel_use = "6 L/d"\n[generator.tank]'),
        "says the same as efficiency",
    ),
    "heat of a source that rests": (
        ENGINE.replace("[generator.tank]", 'heat_to_battery_box = "9 W"\n[generator.tank]'),
        "heat_to_battery_box: belongs to a continuous source",
    ),
    "exercise of a burner": (
        BURNER.replace("[generator.tank]", 'exercise_every = "7 d"\n[generator.tank]'),
        "exercise_every: belongs to a source that starts by itself",
    ),
    "unusable beyond fill": (
        BURNER + 'fill = "50 %"\nunusable = "60 %"\n', "leaves nothing to use",
    ),
    "set-up of a machine with one rule": (
        ENGINE.replace("[generator.tank]",
                       "fuel_adjusted_for_altitude = true\n[generator.tank]"),
        "fuel_adjusted_for_altitude: has no meaning",
    ),
    "altitude twice": (
        BURNER.replace("[generator.tank]", "fuel_adjusted_for_altitude = true\n"
                       "altitude_per_km = 0.05\n[generator.tank]"),
        "says the same as altitude_per_km",
    ),
    "unknown key": (BURNER + 'capacity = "3 L"\n', "is not a known key"),
}  # fmt: skip


@together.parametrize("case", BAD)
def test_bad_generators_are_refused_in_words(case):
    """Each mistake is named with its key, and nothing is computed."""
    table, words = BAD[case]
    found = faults(PLAIN + table)
    assert any(words in fault for fault in found), found
    assert all("generator" in fault for fault in found)


def test_a_site_without_panels_and_without_generator_is_refused():
    """Missing [array] and [charge_controller] are faults unless a generator stands there."""
    found = faults(PLAIN)
    assert any("the table [array] is missing" in fault for fault in found)
    assert any("the table [charge_controller] is missing" in fault for fault in found)
    assert read_site_text(PLAIN + BURNER).tables.array.parallel == 0


@pytest.mark.parametrize(
    ("table", "words"),
    [
        (
            BURNER.replace("[generator.tank]",
                           'burner_pressure = "150 psi"\n[generator.tank]'),
            "exceeds the tank pressure at all times",
        ),
        (
            '\n[[generator]]\nname = "b"\nkind = "thermoelectric"\nrated = "220 W"\n'
            'fuel = "natural-gas"\nsupply_pressure = "10 psi"\n',
            "supply_pressure: is below the minimum supply pressure of the burner",
        ),
    ],
)  # fmt: skip
def test_pressure_that_never_suffices_is_refused(table, words):
    """A burner that could never burn at the place is bad input, not an empty run."""
    with pytest.raises(InputError) as caught:
        prepare(read_site_text(PLAIN + table))
    assert words in str(caught.value)


def test_run_tells_fuel_and_visits_in_json(call, tmp_path):
    """`run --json` of the gas well has fuel by the year, ledger and months of it."""
    code, out, _ = call("run", SITES / "gas-well-free-gas.toml", "--json")
    found = json.loads(out)
    assert code == 0
    year = found["generators"][0]
    assert year["fuel_unit"] == "m3"
    # 108 W at 2.8 % of 38.23 MJ/m3: 8.72 m3 a day.
    assert year["fuel_per_year"] == pytest.approx(8.72 * 365.25, rel=0.002)
    assert found["ledger"]["generator_wh"] > 0
    assert found["ledger_error_frac"] < 1e-9
    assert all(m["generator_wh_per_day"] > 0 for m in found["monthly"])


@pytest.mark.slow
def test_run_of_the_relay_draws_and_fails_its_criteria(call, tmp_path):
    """`run --plot` of a starving relay exits with 1, draws, and says how long."""
    picture = tmp_path / "relay.png"
    code, out, _ = call(
        "run", SITES / "propane-relay.toml", "--plot", picture, "--full"
    )
    assert code == 1
    assert picture.stat().st_size > 50_000
    assert "Share of supply" in out
    assert "carbon monoxide" in out
    assert "insufficient fuel pressure" in " ".join(out.split())


def test_size_without_panels_is_refused_in_words(call):
    """`size` of a site without [array] is bad input with the way out."""
    code, out, err = call("size", SITES / "gas-well-free-gas.toml")
    assert code == 2
    assert out == ""
    assert "the table [array] is missing" in err
    assert "Traceback" not in err


@pytest.mark.parametrize(
    ("name", "watts", "array_w", "bank_ah"),
    [
        ("2-0", 10.8, 114.4, 182.2),
        ("4-0", 14.64, 155.0, 247.1),
        ("4-1", 24.24, 256.7, 409.1),
        ("8-1", 31.92, 338.0, 538.7),
        ("20-2", 64.56, 683.6, 1089.5),
    ],
)
def test_the_five_published_pads_carry_their_rule(
    prepared, name, watts, array_w, bank_ah
):
    """Load, array and battery of the five pad sizes are the published rule's."""
    # EPA, oil and natural gas supplemental proposal analysis, 2022, well-site model.
    problem = prepared(f"epa-wellpad-{name}")
    assert problem.budget.typical_w == pytest.approx(watts, abs=0.005)
    modules = problem.strings * problem.array.series
    assert modules * problem.array.module.power_w == pytest.approx(array_w, rel=0.002)
    assert problem.bank.nameplate_ah == pytest.approx(bank_ah, abs=0.06)
    assert simulate_size(problem).availability_frac == 1.0


def test_access_table_by_itself_changes_nothing():
    """An [access] table on a site of panels alone is read and leaves the run alone."""
    plain = prepare(read_site_text(starter_text()))
    text = starter_text() + '\n[access]\nmode = "air"\nclosed = "1 Nov to 30 Apr"\n'
    other = prepare(read_site_text(text))
    assert other.design.tables.access == Access.model_validate(
        {"mode": "air", "closed": "1 Nov to 30 Apr"}
    )
    np.testing.assert_array_equal(simulate_size(other).out, simulate_size(plain).out)


def test_a_cell_that_waits_for_less_charge_than_the_disconnect_leaves_is_told():
    """Asked for at 5 % of charge it is never asked: the disconnect acts above that."""
    text = (SITES / "winter-hybrid.toml").read_text(encoding="utf-8")
    assert 'start = "45 %"' in text
    for start, wanted in (("45 %", False), ("5 %", True)):
        run = simulate_size(
            prepare(
                read_site_text(text.replace('start = "45 %"', f'start = "{start}"'))
            )
        )
        said = [f.text for f in run_findings(run) if "does not start for" in f.text]
        assert bool(said) is wanted
        assert (run.availability_frac < 1.0) is wanted
