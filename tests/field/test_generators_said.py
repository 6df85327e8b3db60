"""What is said of generators, fuel and access on either side of every limit, by hand."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from reference.figures import tells

from powerbudget.balance import columns as col
from powerbudget.balance import generator_findings as said
from powerbudget.balance.events import Frost, list_events
from powerbudget.balance.generator_events import source_cause, source_events, why_silent
from powerbudget.generators.series import WHY
from powerbudget.generators.unit import make_unit
from powerbudget.site.generator import Generator

PLAIN = {
    "name": "g", "run_h_per_year": 0.0, "offered_wh_per_year": 0.0,
    "accepted_wh_per_year": 0.0, "ambient_h": 0.0, "life_y": 20.0,
    "stack_life_y": math.inf, "no_fuel_h": 0.0, "closed_h": 0.0, "pressure": None,
    "pressure_h": 0.0, "wait_days": 30.0, "stock_days": 60.0, "stock_days_as_run": 90.0,
    "starts_risk": None, "failed_starts_per_year": 0.0, "failed_h": 0.0,
}  # fmt: skip


def year(**figures):
    """Return a year of a source of which there is nothing to say, with some figures changed."""
    return SimpleNamespace(**{**PLAIN, **figures})


def machine(kind="thermoelectric", fuel="propane", rated="54 W", **more):
    """Return one unit at the level of the sea."""
    table = {"name": "g", "kind": kind, "fuel": fuel, "rated": rated, **more}
    return make_unit(Generator.model_validate(table), 0.0)


def told(findings):
    """Return severities, and all sentences as one text."""
    return [one.severity for one in findings], " | ".join(one.text for one in findings)


def bare(steady, follower, mean_w, strings=0):
    """Return a run of a site that has generators and perhaps panels."""
    sources = SimpleNamespace(
        steady_w=np.array(steady, float), follower_w=np.array(follower, float)
    )
    budget = SimpleNamespace(average_w=mean_w)
    problem = SimpleNamespace(sources=sources, budget=budget)
    return SimpleNamespace(strings=strings, problem=problem)


@pytest.mark.parametrize(
    ("steady", "follower", "mean_w", "words"),
    [((30, 40, 0), (0, 20, 0), 30.0, ""),
     ((30, 40, 0), (0, 20, 0), 30.1,
      "average load is 30.1 W; the generators deliver 30.0 W to 60.0 W"),
     ((30, 40, 0), (0, 20, 0), 60.0, "they cannot carry the load in the worst hours"),
     ((30, 40, 0), (0, 20, 0), 60.1, "at the dc bus: they cannot carry the load"),
     ((0.5, 0, 0), (0, 0, 0), 0.4, ""),
     ((0, 0, 0), (0, 0, 0), 5.0, "no generator can run in any hour of the weather file")],
)  # fmt: skip
def test_generators_alone_are_held_against_the_mean_load(
    steady, follower, mean_w, words
):
    """Hours in which none can run do not count; both outputs are told in watts."""
    levels, text = told(said._strong_enough(bare(steady, follower, mean_w)))
    assert levels == (["serious"] if words else [])
    assert words in text
    # Weak in the worst hours alone, or in every one.
    assert ("worst hours" in text) == (bool(levels) and 30.0 < mean_w <= 60.0)
    assert not said._strong_enough(bare(steady, follower, mean_w, strings=1))


PRESSURE = {
    "burner_kpa": 48.0, "drop_kpa": 25.0, "limit_degc": -29.0, "value_degc": -20.0,
    "hours_below": 0.0, "tank_needed_l": 400.0, "tank_l": 400.0,
}  # fmt: skip


@pytest.mark.parametrize(
    ("cold", "more", "levels", "words"),
    [({}, {}, [], ""),
     ({"value_degc": -24.0}, {}, [], ""),
     ({"value_degc": -24.1}, {}, ["warning"],
       "lowest tank temperature is -24.1 °C, less than 5 K above"),
     ({"hours_below": 1.0, "value_degc": -30.5}, {}, ["serious"],
      "insufficient fuel pressure for 1 h. Cause: propane at -30.5 °C; 48 kPa "
"(gauge) at the burner plus 25 kPa across the pressure regulator need "
"-29.0 °C"),
     ({}, {"pressure_h": 1.0}, ["serious", "note"], "automatic reignition is assumed"),
     ({"tank_needed_l": 400.1}, {}, ["warning"],
      "insufficient tank vaporization rate at -20 °C: full output needs a tank "
"of about 400 L (half full, intermittent use); this one has 400 L"),
     ({}, {"no_fuel_h": 1.0}, ["note"], 'set relight = "visit"')],
)  # fmt: skip
def test_propane_is_held_against_cold_tank_and_pilot(cold, more, levels, words):
    """Starved, near it within 5 K, boiling too slowly, and who lights it again."""
    pressure = SimpleNamespace(**{**PRESSURE, **cold})
    found = said._cold(machine(), year(pressure=pressure, **more))
    assert told(found)[0] == levels
    assert words in told(found)[1]
    by_hand = machine(relight="visit")
    found = said._cold(by_hand, year(pressure=pressure, **more))
    assert "automatic reignition" not in told(found)[1]


@pytest.mark.parametrize(
    ("figures", "levels", "words"),
    [({"stock_days": 30.0, "stock_days_as_run": 30.0}, [], ""),
     ({"stock_days": 29.0, "stock_days_as_run": 300.0}, ["warning"],
      "fuel supply 29 d on site, 30 d without access"),
     ({"stock_days": 40.0, "stock_days_as_run": 29.0}, ["warning"],
      "fuel supply 29 d on site, 30 d without access"),
     ({"no_fuel_h": 7.0}, ["serious"], "empty for 7 h"),
     ({"closed_h": 9.0}, ["warning"], "not available for 9 h")],
)  # fmt: skip
def test_stores_are_held_against_the_closed_season(figures, levels, words):
    """The burn of the record, and that of rated output where it would be too much."""
    tank = {"volume": "400 L"}
    found = said._stock(machine(tank=tank), year(**figures))
    assert told(found)[0] == levels
    assert words in told(found)[1]
    piped = machine(fuel="natural-gas")
    short = {"stock_days": 1.0, "stock_days_as_run": 1.0}
    assert said._stock(piped, year(**short)) == []


RUN = SimpleNamespace(
    problem=SimpleNamespace(record=SimpleNamespace(temp_air_degc=np.array([5.0, 1.0])))
)


@pytest.mark.parametrize(
    ("figures", "levels", "words"),
    [({"run_h_per_year": 100.0, "offered_wh_per_year": 1000.0, "accepted_wh_per_year": 200.0},
      [], ""),
     ({"run_h_per_year": 100.0, "offered_wh_per_year": 1000.0, "accepted_wh_per_year": 199.0},
      ["warning"], "runs 100 h/yr; battery and loads use 20 % of the available output"),
     ({"run_h_per_year": 0.5, "offered_wh_per_year": 10.0, "accepted_wh_per_year": 1.0},
      ["warning"], "use 10 % of the available output"),
     ({"ambient_h": 4.0}, ["warning"], "outside rated ambient range for 4 h"),
     ({"life_y": 5.0}, [], ""),
     ({"life_y": 4.9, "run_h_per_year": 1800.0}, ["note"],
      "at 1,800 h/yr the generator needs replacement every 4.9 yr"),
     ({"stack_life_y": 10.0}, [], ""),
     ({"stack_life_y": 9.9}, ["note"], "the stack needs replacement every 9.9 yr")],
)  # fmt: skip
def test_a_source_that_follows_is_held_against_what_it_gave(figures, levels, words):
    """A fifth of what it could give, five years of life, ten of a stack."""
    engine = machine("engine", "diesel", "500 W", start="40 %", stop="80 %")
    assert engine.follows
    found = said._running(RUN, engine, year(**figures))
    assert told(found)[0] == levels
    assert words in told(found)[1]


@pytest.mark.parametrize(("taken", "left"), [(500.0, None), (499.0, 50), (100.0, 90)])
def test_a_steady_source_of_which_half_finds_no_use_says_so(taken, left):
    """The share that nothing takes, in percent."""
    burner = machine(fuel="natural-gas")
    found = said._running(
        RUN, burner, year(offered_wh_per_year=1000.0, accepted_wh_per_year=taken)
    )
    text = told(found)[1]
    words = (
        f"g: {left} % of the available output is curtailed at the same fuel consumption"
    )
    assert text == ("" if left is None else words)


@pytest.mark.parametrize(("coldest", "said_so"), [(1.0, False), (0.9, True)])
def test_product_water_freezes_below_one_degree(coldest, said_so):
    """Only that of a methanol cell."""
    record = SimpleNamespace(temp_air_degc=np.array([8.0, coldest]))
    run = SimpleNamespace(problem=SimpleNamespace(record=record))
    cell = machine("methanol-cell", "methanol", "100 W", start="40 %", stop="80 %")
    assert ("freezes" in told(said._running(run, cell, year()))[1]) == said_so
    assert "freezes" not in told(said._running(run, machine(), year()))[1]


RISK = {
    "longest_rest_h": 480.0, "risk_frac": 0.123, "risk_exercised_frac": 0.05,
    "year_risk_frac": 0.36, "stated": True,
}  # fmt: skip


@pytest.mark.parametrize(
    ("every", "risk", "level", "words"),
    [(None, {}, "warning", "an exercise run every 7 d"), ("14 d", {}, "note", "every 14 d"),
     ("14 d", {"risk_exercised_frac": 0.051}, "warning", "5.1 % with an exercise run every 14 d")],
)  # fmt: skip
def test_the_risk_of_a_start_is_told_in_days_and_percent(every, risk, level, words):
    """480 h are 20 d; exercised within 5 % it is a note."""
    keys = {} if every is None else {"exercise_every": every, "exercise_for": "1 h"}
    unit = machine("engine", "diesel", "500 W", start="40 %", stop="80 %", **keys)
    start = SimpleNamespace(**{**RISK, **risk})
    first, under_load = said._starting(unit, year(starts_risk=start))
    assert first.severity == level
    assert tells(
        first.text,
        "the longest rest of 20 d the probability of failure to start is 12.3 % without",
    )
    assert tells(first.text, "at least one failed start per year: 36 %")
    assert words in first.text
    assert "idling leaves" in under_load.text
    silent = SimpleNamespace(**{**RISK, "stated": False})
    assert (
        "failed starts are not included"
        in said._starting(unit, year(starts_risk=silent))[0].text
    )
    assert said._starting(unit, year()) == []


def test_starts_that_failed_are_told_by_the_year():
    """Times a year, and hours in which it was wanted."""
    cell = machine("methanol-cell", "methanol", "100 W", start="40 %", stop="80 %")
    risk = SimpleNamespace(**{**RISK, "stated": False})
    figures = {"failed_starts_per_year": 0.25, "failed_h": 36.0, "starts_risk": risk}
    levels, text = told(said._starting(cell, year(**figures)))
    assert levels == ["note", "serious"]
    assert tells(text, "0.25 failed starts per year; unavailable for 36 h")


@pytest.mark.parametrize(("ppm", "warns"), [(80.0, False), (80.1, True), (None, False)])
def test_sulphide_is_allowed_up_to_eighty_parts(ppm, warns):
    """And a burner on gas by pipe is asked for the pressure that it gets."""
    keys = {} if ppm is None else {"hydrogen_sulphide_ppm": ppm}
    unit = machine(fuel="natural-gas", supply_pressure="200 kPa", **keys)
    _, text = told(said._quality(unit, year()))
    assert ("hydrogen sulfide" in text) == warns
    assert "state supply_pressure" not in text
    unstated = machine(fuel="natural-gas", **keys)
    _, text = told(said._quality(unstated, year()))
    needs = f"needs {unstated.burner_kpa:g} kPa plus {unstated.drop_kpa:g} kPa"
    assert needs in text
    own = machine(fuel="natural-gas", efficiency="3 %")
    assert "calculated with an efficiency" not in told(said._quality(own, year()))[1]


@pytest.mark.parametrize("step", [1.0, 0.5])
def test_a_source_that_nothing_asks_for_is_told_with_hours_and_charge(step):
    """An interval in which the loads have just gone off may still start it."""
    served = np.array([1, 0, 0, 0, 1, 0], bool)
    out = np.zeros(6, col.RESULT)
    out["source_code"][2] = col.G_RUNS
    removed = np.array([10.0, 20.0, 40.0, 55.0, 30.0, 45.0, 0.0])
    problem = SimpleNamespace(
        record=SimpleNamespace(step_h=step), scalars=lambda *_: {"charge_ah": 100.0}
    )
    run = SimpleNamespace(
        served=served,
        out=out,
        problem=problem,
        strings=1,
        bank=None,
        removed_ah=removed,
    )
    engine = machine("engine", "diesel", "500 W", start="40 %", stop="80 %")
    [found] = said._never_asked(run, engine, year())
    assert tells(found.text, f"does not start for {step:,.0f} h with")
    assert tells(found.text, "opens at SOC 45 %")
    out["source_code"][3] = col.G_RUNS
    assert said._never_asked(run, engine, year()) == []
    assert said._never_asked(run, machine(), year()) == []


@pytest.mark.parametrize("step", [1.0, 0.5])
@pytest.mark.parametrize(
    ("silent_h", "ago_h", "now", "told_so"),
    [(24, 30, False, True), (23, 30, False, False), (24, 145, False, False),
     (40, 145, False, False), (40, 144, False, True), (1, 0, True, True)],
)  # fmt: skip
def test_silence_of_a_day_in_the_week_before_is_a_cause(
    monkeypatch, step, silent_h, ago_h, now, told_so
):
    """A week is looked back; less than a day counts where the source is silent still."""
    n, unit = round(400 / step), machine()
    code, index = np.ones(n, np.int64), round(300 / step)
    wanted = next(k for k, text in WHY.items() if text == "no fuel")
    running = next(k for k in range(20) if k not in WHY)
    code[:] = running
    last = index + 1 if now else index - round(ago_h / step)
    code[max(0, last - round(silent_h / step)) : last] = wanted
    record = SimpleNamespace(step_h=step, n=n, typical_year=False)
    battery = SimpleNamespace(start_frac=None)
    design = SimpleNamespace(tables=SimpleNamespace(battery=battery))
    problem = SimpleNamespace(record=record, design=design)
    names = source_cause.__globals__
    monkeypatch.setitem(names, "silent_codes", lambda *_: [(unit, code)])
    monkeypatch.setitem(names, "RUNS", running)
    text = source_cause(problem, None, index)
    first = index - round(168 / step)
    hours = float((code[first : index + 1] == wanted).sum()) * step
    assert bool(text) == (told_so and hours > 0)
    if text:
        assert tells(
            text, f"g: {why_silent(unit, wanted)}, {hours:,.0f} h in the week before"
        )


def test_stretches_of_silence_are_counted_and_measured(monkeypatch):
    """Each reason by itself: hours in all, stretches, the longest, and where it began."""
    unit, n = machine(), 40
    empty = next(k for k, text in WHY.items() if text == "no fuel")
    code = np.full(n, next(k for k in range(20) if k not in WHY))
    code[3:7] = code[20:30] = empty
    record = SimpleNamespace(step_h=0.5, n=n, typical_year=False)
    battery = SimpleNamespace(start_frac=None)
    design = SimpleNamespace(tables=SimpleNamespace(battery=battery))
    problem = SimpleNamespace(record=record, design=design)
    names = source_events.__globals__
    monkeypatch.setitem(names, "silent_codes", lambda *_: [(unit, code)])
    [(first, kind, text)] = source_events(problem, None)
    assert (first, kind) == (3, "generator: no fuel")
    assert tells(text, "g: no fuel, 7 h in 2 periods, longest 5 h")


def test_events_stand_in_order_of_time(monkeypatch):
    """Whichever of battery, controller and sources came first."""
    names = list_events.__globals__
    monkeypatch.setitem(
        names, "source_events", lambda *_: [(7, "late", ""), (1, "early", "")]
    )
    monkeypatch.setitem(names, "local_iso", lambda _, k: f"{k}")
    out = np.zeros(9, col.RESULT)
    out["locked"][4:6] = 1.0
    frost = Frost(False, 0.0, 0.0, math.inf, "", "", -1)
    found = list_events(None, None, out, frost)
    assert [one.start for one in found] == ["1", "4", "7"]
