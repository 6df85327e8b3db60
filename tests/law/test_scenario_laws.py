"""A scenario is the site file with other keys, laid out once and agreeing with itself."""

from __future__ import annotations

import copy
import re
import tomllib
from dataclasses import fields, is_dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from powerbudget.balance.problem import prepare
from powerbudget.balance.simulation import simulate_size
from powerbudget.cache import SHELF, Shelf, digest, kept
from powerbudget.loads.unverified import part_at
from powerbudget.site import scenario as scenario_module
from powerbudget.site.generator import Access, Generator
from powerbudget.site.load import Load, Rack, Supply
from powerbudget.site.parts import load_parts
from powerbudget.site.reader import Design, read_site
from powerbudget.site.scenario import Scenario
from powerbudget.site.sizing import Steps
from powerbudget.site.starter import starter_text
from powerbudget.site.tables import (
    BatteryUnit,
    Criteria,
    Regulator,
    Site,
    Snow,
    Weather,
)
from powerbudget.weather import plane as plane_module
from powerbudget.weather import sun as sun_module
from powerbudget.weather.record import cut

SITES = Path(__file__).resolve().parents[2] / "sites"
LIGHT = ("ghi_w_m2", "dni_w_m2", "dhi_w_m2")


def raw_site() -> dict:
    """Return the built-in example as its file has it."""
    raw = tomllib.loads(starter_text())
    raw["regulator"] = raw.pop("charge_controller")  # the name in the model
    return raw


def read(raw: dict) -> Design:
    """Return the design of a site file's tables."""
    return Design(Site.model_validate(raw), load_parts())


@pytest.fixture(scope="module")
def written():
    """Return the built-in example, as written()."""
    problem = prepare(read(raw_site()))
    return lambda: problem


def leaves(value, where="problem"):
    """Give every figure, text and array of a value with the way to it."""
    if is_dataclass(value):
        parts = [(f".{f.name}", getattr(value, f.name)) for f in fields(value)]
    elif isinstance(value, dict):
        parts = [(f"[{key}]", value[key]) for key in value]
    elif isinstance(value, tuple | list):
        parts = [(f"[{k}]", part) for k, part in enumerate(value)]
    else:
        yield where, value
        return
    for name, part in parts:
        if name != ".scenario":
            yield from leaves(part, where + name)


def differences(one, two):
    """Return every field in which two problems differ, by the way to it."""
    first, second = dict(leaves(one)), dict(leaves(two))
    lone = sorted(first.keys() ^ second.keys())
    return lone + [w for w in first if w in second and not same(first[w], second[w])]


def same(one, two):
    """Return whether two leaves are equal, numbers to 1e-12."""
    fields = getattr(getattr(one, "dtype", None), "names", None)
    if fields:
        return all(same(one[name], two[name]) for name in fields)
    if isinstance(one, np.ndarray) != isinstance(two, np.ndarray):
        return False
    if isinstance(one, np.ndarray | float):
        close = {"rtol": 1e-12, "atol": 1e-12, "equal_nan": True}
        time = isinstance(one, np.ndarray) and one.dtype.kind == "M"
        if time or np.shape(one) != np.shape(two):
            return np.array_equal(one, two)
        return np.allclose(one, two, **close)
    return one == two


BURNER = {
    "name": "burner", "kind": "thermoelectric", "rated": "21 W", "fuel": "propane",
    "tank": {"volume": "1000 L"}, "heat_to_battery_box": "15 W",
}  # fmt: skip
LITHIUM = {"nominal": "12.8 V", "capacity": "100 Ah", "hour_rate": "5 h"}
CONTROLLER = {"kind": "mppt", "efficiency": "90 %", "own_current": "0 A"}
ASKED = {"availability": "99 %", "autonomy": "14 d", "autonomy_temperature": "-5 degC"}
FEED = {"name": "24 V loops", "output": "24 V", "efficiency": "85 %", "no_load": "1 W",
        "rated": "30 W"}  # fmt: skip
LAMP = {"name": "lamp", "typical": "8 W", "duty": "10 %"}
RACK = {"controller": "controller-low-power"}
SNOW = {"cover": "stays", "snowfall": "30 25 20 10 0 0 0 0 5 15 25 30 cm"}


def keys(table, **values):
    """Return what writes some keys into a table of the file."""
    return lambda raw: raw[table].update(values)


def by_charge(low, back):
    """Return what turns a disconnect by volts into one by charge."""

    def edit(raw):
        del raw["bus"]["low_voltage_disconnect"], raw["bus"]["low_voltage_reconnect"]
        raw["bus"] |= {"disconnect_state": f"{low} %", "reconnect_state": f"{back} %"}

    return edit


def aged(health):
    """Return what states the health and takes the age in years away."""

    def edit(raw):
        raw["battery"].pop("age_years", None)
        raw["battery"]["health"] = f"{health} %"

    return edit


def without(names):
    """Return what strikes loads off the list."""

    def edit(raw):
        raw["load"] = [load for load in raw["load"] if load["name"] not in names]

    return edit


EDITS = {
    "3 strings": ({"array_strings": 3}, keys("array", parallel=3)),
    "2 in series": ({"modules_in_series": 2}, keys("array", series=2)),
    "100 W": (
        {"module": "module-36-cell-100w"}, keys("array", module="module-36-cell-100w"),
    ),
    "30 deg": ({"tilt_deg": 30.0}, keys("array", tilt="30 deg")),
    "east": ({"azimuth_deg": 90.0}, keys("array", azimuth="90 deg")),
    "clean": ({"soiling_frac": 0.0}, keys("array", soiling="0 %")),
    "snow": ({"snow": Snow.model_validate(SNOW)}, keys("array", snow=SNOW)),
    "direct": ({"charge_controller": "pwm"}, keys("regulator", kind="pwm")),
    "controller": (
        {"charge_controller": Regulator.model_validate(CONTROLLER)},
        lambda raw: raw.update(regulator=CONTROLLER),
    ),
    "2 batteries": ({"battery_strings": 2}, keys("battery", parallel=2)),
    "gel": ({"chemistry": "gel"}, keys("battery", chemistry="gel")),
    "lithium": (
        {"chemistry": "lfp", "battery_unit": BatteryUnit.model_validate(LITHIUM)},
        keys("battery", chemistry="lfp", unit=LITHIUM),
    ),
    "old": ({"state_of_health_frac": 0.8}, aged(80)),
    "long rate": (
        {"temperature_derating": "slow-rate"}, keys("battery", cold_curve="slow-rate"),
    ),
    "11 V": (
        {"disconnect_v": 11.0, "reconnect_v": 12.5},
        keys("bus", low_voltage_disconnect="11 V", low_voltage_reconnect="12.5 V"),
    ),
    "30 %": (
        {"disconnect_soc_frac": 0.3, "reconnect_soc_frac": 0.5}, by_charge(30, 50),
    ),
    "burner": (
        {"machines": (Generator.model_validate(BURNER),)},
        lambda raw: raw.update(generator=[BURNER]),
    ),
    "14 days": (
        {"criteria": Criteria.model_validate(ASKED)},
        lambda raw: raw.update(criteria=ASKED),
    ),
    "roads": (
        {"access": Access.model_validate({"delay": "9 d"})},
        lambda raw: raw.update(access={"delay": "9 d"}),
    ),
    "no contingency, leaks": (
        {"contingency_frac": 0.0, "leakage_a": 0.05},
        keys("bus", contingency="0 %", standing_leakage="50 mA"),
    ),
    "tilts": (
        {"sizing": Steps.model_validate({"tilts": "50 65 deg"})},
        lambda raw: raw.update(sizing={"tilts": "50 65 deg"}),
    ),
    "elsewhere": (
        {"weather": Weather.model_validate({"record": "miami"})},
        lambda raw: raw.update(weather={"record": "miami"}),
    ),
    "supply": (
        {"supplies": (Supply.model_validate(FEED),)},
        lambda raw: raw.update(supply=[FEED]),
    ),
    "one lamp": (
        {"loads": (Load.model_validate(LAMP),)},
        lambda raw: raw.update(load=[LAMP]),
    ),
    "rack": (
        {"rack": Rack.model_validate(RACK)}, lambda raw: raw.update(rack=RACK),
    ),
    "no radio": (
        {"loads_off": frozenset({"radio", "enclosure light"})},
        without({"radio", "enclosure light"}),
    ),
}  # fmt: skip
SITE_EDITS = {
    "as built in": keys("battery"),
    "aged": keys("battery", age_years=6),
    "heated by the panels": keys(
        "battery",
        box={"kind": "insulated", "time_constant": "20 h", "conductance": "2 W/K"},
        heater={"power": "30 W", "on": "2 degC", "off": "5 degC", "feed": "array"},
    ),
}
"""Sites to start from: in the second the bank's health, in the third its temperature
hangs on most of what a scenario may change."""


@st.composite
def scenarios(draw):
    """Return some edits by name, none of which takes back another."""
    chosen = draw(st.sets(st.sampled_from(sorted(EDITS)), max_size=5))
    pairs = (("11 V", "30 %"), ("gel", "lithium"), ("controller", "direct"))
    for one, other in pairs:
        if one in chosen:
            chosen -= {other}
    return sorted(chosen)


def scenario_of(chosen):
    """Return the scenario of some edits."""
    return Scenario(**{k: v for name in chosen for k, v in EDITS[name][0].items()})


def edited(site, chosen):
    """Return a site's tables with the same keys changed by hand."""
    raw = copy.deepcopy(raw_site())
    SITE_EDITS[site](raw)
    for name in chosen:
        EDITS[name][1](raw)
    return raw


def _is_the_edited_site(site, chosen):
    under = prepare(read(edited(site, []))).under(scenario_of(chosen))
    SHELF.forget()
    anew = prepare(read(edited(site, chosen)))
    assert differences(under, anew) == []


@settings(max_examples=6, deadline=None)
@given(st.sampled_from(sorted(SITE_EDITS)), scenarios())
def test_a_scenario_is_the_site_file_with_its_keys_changed(site, chosen):
    """Every field of the problem is that of the edited file, prepared anew."""
    _is_the_edited_site(site, chosen)


@pytest.mark.slow
@settings(max_examples=100, deadline=None)
@given(st.sampled_from(sorted(SITE_EDITS)), scenarios())
def test_many_scenarios_are_the_site_file_with_its_keys_changed(site, chosen):
    """The same with more of the keys together."""
    _is_the_edited_site(site, chosen)


# Criteria and steps move no input of the kernel: the law above has them in the tables.
@pytest.mark.parametrize("name", sorted(EDITS.keys() - {"14 days", "tilts"}))
def test_each_key_of_a_scenario_moves_the_problem(written, name):
    """No key is taken without doing anything."""
    under = written().under(scenario_of([name]))
    moved = differences(under, written())
    own, other = (p.scalars(p.strings, p.bank) for p in (written(), under))
    seen = [way for way in moved if not way.startswith("problem.design")]
    assert seen or not np.array_equal(own, other)


@settings(max_examples=10, deadline=None)
@given(scenarios(), scenarios())
def test_scenarios_follow_each_other(written, first, second):
    """One after the other is both in one, the later word last."""
    # A scenario is not checked: gel alone leaves a battery of 12.8 V, no such cells.
    assume(not ("lithium" in first and "gel" in second))
    first, second = scenario_of(first), scenario_of(second)
    both = second.over(first)
    twice = written().under(first).under(second)
    assert differences(twice, written().under(both)) == []


@settings(max_examples=6, deadline=None)
@given(st.sampled_from([0.0, 0.25, 0.5, 1.0, 1.3]), st.sampled_from([-8.0, 0.0, 5.0]))
def test_sun_and_temperature_are_those_of_an_edited_record(written, factor, shift_k):
    """Half the sun is the record with half the light, in every field."""
    record = replace(
        written().weather,
        temp_air_degc=written().weather.temp_air_degc + shift_k,
        **{name: factor * getattr(written().weather, name) for name in LIGHT},
    )
    under = written().under(Scenario(sun_factor=factor, temperature_shift_k=shift_k))
    anew = prepare(written().design, record)
    assert differences(replace(under, weather=record), anew) == []
    # The string bears the light: nothing is booked that never came.
    assert under.array.poa_w_m2.sum() <= 1.31 * written().array.poa_w_m2.sum()
    if factor == 0.0:
        assert under.array.nominal_wh == under.array.p_mp_w.sum() == 0.0


def test_years_are_those_of_a_record_cut_to_them():
    """Two years of a record of several are the record that ends there."""
    problem = prepare(read_site(SITES / "dark-gas-wellpad.toml"))
    year = problem.weather.day_local.astype("datetime64[Y]").astype(int) + 1970
    wanted = tuple(int(y) for y in np.unique(year)[1:3])
    under = problem.under(Scenario(years=wanted))
    shorter = cut(problem.weather, np.flatnonzero(np.isin(year, wanted)))
    anew = prepare(problem.design, shorter)
    assert under.record.n == 2 * 8760
    assert differences(replace(under, weather=shorter), anew) == []


@pytest.fixture
def counted(monkeypatch):
    """Return how often sun and plane were worked out, from an empty shelf on."""
    SHELF.forget()
    counts = {"sun": 0, "plane": 0}

    def count(name, module, inner):
        real = getattr(module, inner)

        def wrapped(*given):
            counts[name] += 1
            return real(*given)

        monkeypatch.setattr(module, inner, wrapped)

    count("sun", sun_module, "_sun")
    count("plane", plane_module, "_plane")
    return counts


def test_a_second_run_and_what_light_does_not_touch_cost_no_sun_and_no_plane(counted):
    """Equal content is never worked out twice, read anew or varied."""
    problem = prepare(read(raw_site()))
    first = simulate_size(problem)
    assert counted == {"sun": 1, "plane": 1}
    again = simulate_size(prepare(read(raw_site())))
    assert again.problem.record is not first.problem.record
    assert np.array_equal(again.out, first.out)
    for change in (
        {"array_strings": 3},
        {"battery_strings": 2},
        {"state_of_health_frac": 0.8},
        {"load_factor": 2.0},
        {"temperature_shift_k": 5.0},
        {"module": "module-36-cell-100w"},
        {"charge_controller": "pwm"},
        {"soiling_frac": 0.1},
    ):
        simulate_size(problem.under(Scenario(**change)))
    assert counted == {"sun": 1, "plane": 1}
    simulate_size(problem.under(Scenario(tilt_deg=30.0)))
    assert counted == {"sun": 1, "plane": 2}
    simulate_size(problem.under(Scenario(sun_factor=0.5)))
    assert counted == {"sun": 1, "plane": 3}


def test_the_shelf_keeps_to_its_room():
    """What was not asked for longest goes first; what is too large is not kept."""
    shelf = Shelf(3 * 800)
    made = []

    def make(key, size=100):
        def work():
            made.append(key)
            return np.full(size, float(key))

        return shelf.kept("stage", (key, size), work)

    for key in (1, 2, 3, 1, 4, 1, 3, 2):
        np.testing.assert_array_equal(make(key), key)
        assert shelf.held_bytes <= 3 * 800
    assert made == [1, 2, 3, 4, 2]
    make(5, 1000)
    make(5, 1000)
    assert made[-2:] == [5, 5]
    with pytest.raises(ValueError, match="read-only"):
        make(2)[0] = 7.0


def test_a_fingerprint_is_of_content_and_of_all_of_it():
    """Equal content has one fingerprint, whatever object holds it; others differ."""
    one, two = np.arange(9.0), np.arange(9.0)
    assert digest(one) == digest(two)
    two[4] = np.nextafter(two[4], 9.0)
    assert digest(one) != digest(two)
    assert digest(one) != digest(one.reshape(3, 3))
    assert digest(one[::2]) == digest(one[::2].copy())
    first, other = (np.zeros(3, [(name, float)]) for name in "ab")
    assert digest(first) != digest(other)
    assert digest(first) == digest(first.copy())
    other["b"][1] = 1.0
    assert digest(other) != digest(np.zeros_like(other))
    assert digest(other[0]) != digest(other[1])
    assert digest((1.0, (2.0,)), 3.0) != digest((1.0, 2.0), 3.0)
    assert digest("ab", "c") != digest("a", "bc")
    assert digest({"a": 1.0, "b": 2.0}) == digest({"b": 2.0, "a": 1.0})
    with pytest.raises(TypeError):
        digest(object())
    assert kept("a test of its own", (one,), lambda: one + 1)[0] == 1.0


def test_parts_of_a_scenario_read_otherwise():
    """One part at its high figure is the site whose library has it so."""
    design = read(raw_site())
    name = "controller-low-power"
    moved = part_at(design.parts[name], "high")
    wanted = Design(design.tables, {**design.parts, name: moved})
    under = prepare(design).under(Scenario(parts={name: moved}))
    assert differences(under, prepare(wanted)) == []
    assert under.budget.average_w > prepare(design).budget.average_w
    both = Scenario(parts={"x": moved}).over(Scenario(parts={name: moved}))
    assert both.parts == {"x": moved, name: moved}


COPIES = re.compile(r"tables=[\w.]*tables\.model_copy|tables=tables\b")
"""What makes a design of other tables."""


def test_a_site_is_varied_in_one_way():
    """Tables are exchanged by a scenario, or filled in where a file left them open."""
    root = Path(scenario_module.__file__).parents[1]
    where = [
        path.relative_to(root).as_posix()
        for path in sorted(root.rglob("*.py"))
        if COPIES.search(path.read_text("utf-8"))
    ]
    assert where == ["site/scenario.py", "sizing/from_nothing.py"]
