"""From lists and a location to a design: new, open site files, size and its pick written."""

from __future__ import annotations

import json
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest

from powerbudget.errors import InputError
from powerbudget.site.reader import read_open_site, read_site, read_site_text
from powerbudget.site.starter import starter_text
from powerbudget.site.tables import Place
from powerbudget.site.write_design import with_tables
from powerbudget.sizing.from_nothing import size_from_nothing
from powerbudget.sizing.new_site import WeatherRequest, find_weather

SIGNALS = """Tag,Service,I/O type,Supply,Load (W),Voltage (V),Normal state
PT-1,Line pressure,AI,2-wire,,,
PT-2,Casing pressure,AI,2-wire,,,
LT-3,Tank level,AI,4-wire,3,24,
XY-4,Main valve,DO,,6,24,de-energized
ZS-5,Main valve closed,DI,,,,NC
PT-9,Old pressure,DI,,,,
"""
SCHEDULE = """Equipment,Qty,Typical W,Maximum W,Hours per day,Volts
Radio,1,2,8,24,24
Camera,2,4,5,6,24
"""
GREENSBORO = ("--latitude", "36.1 N", "--longitude", "79.95 W", "--elevation", "270 m")


@pytest.fixture
def run(call):
    """Return what runs the command line in this process."""
    return call


@pytest.fixture
def lists(tmp_path):
    """Write an I/O list and a schedule, and return their paths."""
    (tmp_path / "io.csv").write_text(SIGNALS, encoding="utf-8")
    (tmp_path / "eq.csv").write_text(SCHEDULE, encoding="utf-8")
    return [tmp_path / "io.csv", tmp_path / "eq.csv"]


def open_text(*kept):
    """Return the example without array, battery and charge controller, some kept."""
    raw = starter_text()
    cuts = {"array": "[charge_controller]", "charge_controller": "[battery]",
            "battery": "[criteria]"}  # fmt: skip
    for name, after in cuts.items():
        if name not in kept:
            raw = raw[: raw.index(f"[{name}]\n")] + raw[raw.index(f"{after}\n") :]
    return raw[: raw.index("[costs]")]


@pytest.mark.parametrize(
    "asked", [("--chemistry", "agm"), pytest.param((), marks=pytest.mark.slow)]
)
def test_two_commands_from_two_lists_and_a_place(run, lists, tmp_path, asked):
    """Lists and a location give a site; size writes a design that run calls good."""
    site = tmp_path / "site.toml"
    named = [word for path in lists for word in ("--list", path)]
    code, page, said = run("new", *named, *GREENSBORO, "-o", site)
    assert code == 0, said
    assert "greensboro" in page
    made = tomllib.loads(site.read_text("utf-8"))
    assert {"array", "battery", "charge_controller"}.isdisjoint(made)
    # The devices' volts: all that state any state 24 V.
    assert made["bus"]["nominal"] == "24 V"
    assert {item["name"].split()[0] for item in made["load"]} >= {"Radio", "Camera"}
    code, page, said = run("loads", site)
    assert code == 0, said
    assert "Camera" in page
    assert "no [array], [charge_controller], [battery] yet" in said
    site.write_text(site.read_text("utf-8") + "\n# kept by hand\n", encoding="utf-8")
    code, page, said = run("size", site, "--write", *asked)
    assert code == 0, said
    assert "FEASIBLE" in page
    text = site.read_text("utf-8")
    assert "# kept by hand" in text
    assert "# common practice; change them to the client's" in text
    code, page, said = run("run", site, "--json")
    assert code == 0, said
    assert all(v["met"] for v in json.loads(page)["criteria"])


def test_a_second_book_without_its_own_option(run, lists, tmp_path):
    """Books that follow one --list are told how to be named, and nothing is written."""
    site = tmp_path / "site.toml"
    code, _, said = run("new", "--list", *lists, *GREENSBORO, "-o", site)
    assert code == 2
    told = f"--list once for each book: --list {lists[0]} --list {lists[1]} -o site"
    assert told in said
    code, _, said = run("new", "a.toml", site)
    assert code == 2
    assert "one file is written" in said
    assert {p.name for p in tmp_path.iterdir()} == {"io.csv", "eq.csv"}
    code, _, said = run("import", *lists, "-o", site)
    assert code == 0, said
    assert {"rack", "load"} <= set(tomllib.loads(site.read_text("utf-8")))


def test_far_from_every_record_the_monthly_means_are_asked(run, lists, tmp_path):
    """Without a record nearby nothing is written; monthly means make the sky."""
    site, far = tmp_path / "site.toml", ("--latitude", "60 N", "--longitude", "20 E")
    code, _, said = run("new", "--list", lists[0], *far, "-o", site)
    assert code == 2
    for words in ("--weather FILE", "--fetch", "--ghi"):
        assert words in " ".join(said.split())
    assert not list(tmp_path.glob("site*"))
    sun = "0.3 0.9 2.2 3.7 4.9 5.5 5.1 4.0 2.5 1.2 0.4 0.2 kWh/m**2/d"
    air = "-9 -8 -4 2 8 13 16 14 9 4 -2 -7 degC"
    code, _, said = run(
        "new", "--list", lists[0], *far, "-o", site, "--ghi", sun, "--temperature", air
    )
    assert code == 0, said
    found = read_open_site(site)
    assert found.tables.weather.monthly.temperature_degc[0] == -9
    # Five days in the cold of the made years lie below the mean of the coldest month.
    assert found.tables.criteria.autonomy_degc < -9


def test_a_file_beside_the_site_is_taken_when_near(tmp_path):
    """A record of the folder within 100 km and 300 m is nearer than none."""
    import pvlib

    source = Path(pvlib.__file__).parent / "data" / "703165TY.csv"
    (tmp_path / "here.csv").write_bytes(source.read_bytes())
    (tmp_path / "io.csv").write_text(SIGNALS, encoding="utf-8")
    near = Place(name="x", latitude="55.9 N", longitude="160.5 W", elevation="7 m")
    sky = find_weather(near, tmp_path, WeatherRequest())
    assert "here.csv" in sky.words or "sand-point" in sky.words
    high = near.model_copy(update={"elevation_m": 900.0})
    with pytest.raises(InputError):
        find_weather(high, tmp_path, WeatherRequest())


def test_low_bus_gets_a_supply_for_its_loops(run, tmp_path):
    """Two-wire loops beside a 12 V bus are fed by a supply that can drive them."""
    (tmp_path / "io.csv").write_text(SIGNALS.replace(",24,", ",12,"), encoding="utf-8")
    site = tmp_path / "site.toml"
    code, _, said = run("new", "--list", tmp_path / "io.csv", *GREENSBORO, "-o", site)
    assert code == 0, said
    tables = read_open_site(site).tables
    assert tables.bus.nominal_v == 12.0
    assert tables.rack.loop_supply == "24 V supply"
    (loops,) = [s for s in tables.supply if s.name == "24 V supply"]
    assert loops.output_v == 24.0


@pytest.mark.parametrize("name", ["array", "battery"])
def test_other_verbs_say_who_finds_what_is_missing(name):
    """A file without its battery is no site yet, and the message names size --write."""
    text = open_text(*({"array", "charge_controller", "battery"} - {name}))
    with pytest.raises(InputError) as caught:
        read_site_text(text)
    (line,) = [str(f) for f in caught.value.faults]
    assert f"[{name}] is missing" in line
    assert "size FILE --write" in line


@pytest.fixture
def no_battery(tmp_path):
    """Write the example without its battery, and return its path."""
    path = tmp_path / "site.toml"
    path.write_text(open_text("array", "charge_controller"), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def sealed(tmp_path_factory):
    """Return what is found for the example without its battery."""
    path = tmp_path_factory.mktemp("open") / "site.toml"
    path.write_text(open_text("array", "charge_controller"), encoding="utf-8")
    return size_from_nothing(read_open_site(path))


def test_battery_alone_may_be_open(no_battery, sealed):
    """With its array stated only batteries are tried; cold and water rule some out."""
    assert read_open_site(no_battery).left_open == ("battery",)
    found = sealed
    assert {a.module for a in found.tried} == {"module-36-cell-50w"}
    left_out = dict(found.left_out)
    assert "below 0 °C" in left_out["battery-lfp-12v-100ah"]
    assert "--chemistry flooded" in left_out["battery-flooded-6v-220ah"]
    weights = [a.pick.mass_kg for a in found.tried if a.pick]
    assert found.pick.pick.mass_kg == min(weights)


def test_cells_that_want_water_are_taken_when_asked_for(run, no_battery, sealed):
    """Unasked the pick is sealed; asked for, it is flooded."""
    design = read_open_site(no_battery)
    assert {a.chemistry for a in sealed.tried} == {"agm", "gel", "nicd", "nicd-arctic"}
    watered = size_from_nothing(design, asked=("flooded",))
    assert {a.chemistry for a in watered.tried} == {"flooded"}
    assert sealed.pick.chemistry != watered.pick.chemistry == "flooded"
    code, page, said = run("size", no_battery, "--chemistry", "flooded", "--json")
    assert code == 0, said
    (taken,) = [r for r in json.loads(page)["from_nothing"]["tried"] if r["taken"]]
    assert taken["chemistry"] == "flooded"


def test_cells_that_want_water_are_taken_where_no_other_does(no_battery):
    """Where every sealed chemistry fails, those that want water are tried after all."""
    design = read_open_site(no_battery)
    parts = {
        name: part
        for name, part in design.parts.items()
        if getattr(part, "chemistry", "flooded") in {"flooded", "lfp"}
    }
    found = size_from_nothing(replace(design, parts=parts))
    assert found.pick.chemistry == "flooded"
    assert [name for name, _ in found.left_out] == ["battery-lfp-12v-100ah"]


@pytest.mark.parametrize(
    ("text", "name", "words"),
    [("open", "wet", "is not known"), ("whole", "agm", "without [battery]")],
)
def test_chemistries_that_cannot_be_asked(run, no_battery, text, name, words):
    """An unknown chemistry, and one beside a battery that is stated, are refused."""
    if text == "whole":
        no_battery.write_text(starter_text(), encoding="utf-8")
    code, _, said = run("size", no_battery, "--chemistry", name)
    assert code == 2
    assert words in " ".join(said.split())


def test_nothing_feasible_writes_nothing(run, tmp_path):
    """Where no size in reach meets the criteria, size ends with 1 and the file stays."""
    path = tmp_path / "site.toml"
    text = open_text("array", "charge_controller").replace(
        'autonomy = "5 d"', 'autonomy = "200 d"'
    )
    path.write_text(text, encoding="utf-8")
    code, page, said = run("size", path, "--write")
    assert (code, path.read_text("utf-8")) == (1, text), said
    assert "NOT FEASIBLE" in page
    code, page, _ = run("size", path, "--chemistry", "agm", "--json")
    assert (code, json.loads(page)["pick"]) == (1, None)


def test_pick_replaces_figures_and_keeps_comments(run, tmp_path):
    """Of a whole file only strings, series and tilt change; every comment stays."""
    path = tmp_path / "site.toml"
    path.write_text(starter_text(), encoding="utf-8")
    code, _, said = run("size", path, "--write")
    assert code == 0, said
    before, after = starter_text().split("\n"), path.read_text("utf-8").split("\n")
    changed = [(a, b) for a, b in zip(before, after, strict=True) if a != b]
    assert {a.split(" =")[0] for a, _ in changed} <= {"parallel", "series", "tilt"}
    assert len(changed) == 2
    design = read_site(path)
    assert (design.tables.array.parallel, design.tables.battery.parallel) == (7, 4)


def test_charge_controller_is_a_name_of_its_table():
    """[charge_controller] reads as [regulator]; both together are refused."""
    text = starter_text()
    one = read_site_text(text.replace("[charge_controller]\n", "[regulator]\n"))
    assert one.tables == read_site_text(text).tables
    with pytest.raises(InputError, match="stands beside"):
        read_site_text(text + '\n[regulator]\nkind = "pwm"\n')


def test_a_key_that_is_a_table_is_not_overwritten():
    """What the writer cannot change without loss is refused."""
    text = starter_text().replace(
        'tilt = "70 deg"', 'tilt = "70 deg"\nsnow = { cover = "slides" }'
    )
    with pytest.raises(InputError, match="table of its own"):
        with_tables(text, {"array": {"snow": "none"}})


def test_places_that_cannot_be(run, lists, tmp_path):
    """A latitude of 91 and a location without a list are refused, nothing is written."""
    site = tmp_path / "site.toml"
    wrong = ("--latitude", "91", "--longitude", "0", "--elevation", "0 m")
    code, _, said = run("new", "--list", lists[0], *wrong, "-o", site)
    assert code == 2
    assert "latitude" in said
    code, _, said = run("new", site, "--latitude", "10")
    assert code == 2
    assert "--list" in said
    assert not site.exists()
