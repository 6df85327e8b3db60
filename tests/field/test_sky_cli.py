"""The sky from the command line: monthly figures, pictures, tilt, and bad input."""

from __future__ import annotations

import gc
import io
import json
import os
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from powerbudget.errors import InputError
from powerbudget.site.reader import read_site_text
from powerbudget.site.starter import starter_design
from powerbudget.weather import online, read_weather

ROOT = Path(__file__).resolve().parents[2]
SITE = ROOT / "sites" / "northern-wellpad-no-record.toml"
COAST = ROOT / "sites" / "coastal-meter-run.toml"
SHARED = ROOT / ".." / "shared" / "weather"
shared = pytest.mark.skipif(
    not SHARED.exists(), reason="the folder of real weather files is not beside us"
)
MONTHLY = """[weather.monthly]
source = "invented for a test"
clearness = [0.4, 0.45, 0.5, 0.5, 0.5, 0.5, 0.5, 0.5, 0.45, 0.42, 0.4, 0.4]
temperature = "-16 -13 -6 4 11 15 17 16 10 3 -8 -14 degC"
years = 3
"""


WARMER_IN_FIFTY_YEARS = """[weather]
record = "miami"
[weather.design]
annual_minimum = "-5 degC"
minimum_50_years = "-2 degC"
"""


def cli(*args: str | Path) -> subprocess.CompletedProcess[str]:
    """Run the command line within this process and return what it said."""
    from powerbudget.cli import main

    out, err, usual = io.StringIO(), io.StringIO(), sys.argv
    sys.argv = ["powerbudget", *map(str, args)]
    code: object = 0
    try:
        with redirect_stdout(out), redirect_stderr(err):
            main()
    except SystemExit as leaving:
        code = leaving.code or 0
    finally:
        sys.argv = usual
        gc.enable()
    return subprocess.CompletedProcess(args, int(code), out.getvalue(), err.getvalue())


@cache
def told(verb: str) -> dict:
    """Return what a verb says of the shipped site, as JSON; each is asked once."""
    return json.loads(cli(verb, COAST, "--json").stdout)


def site_with(weather: str, array: str = "", base: Path = COAST) -> str:
    """Return a site file with another [weather], and more in [array]."""
    text = base.read_text(encoding="utf-8")
    text = text.replace('[weather]\nrecord = "sand-point"\n', weather)
    return text.replace('azimuth = "south"\n', f'azimuth = "south"\n{array}')


def written(tmp_path: Path, weather: str, array: str = "") -> Path:
    """Return a site file on disk."""
    path = tmp_path / "site.toml"
    path.write_text(site_with(weather, array), encoding="utf-8")
    return path


@cache
def northern() -> dict:
    """Return what `weather --json` says of the site without a record."""
    run = cli("weather", SITE, "--json")
    assert run.returncode == 0, run.stderr
    return json.loads(run.stdout)


def test_a_site_from_monthly_figures_alone():
    """Northern Alberta from a table: thirty winters, design cold, return periods."""
    found = northern()
    assert found["made_from_monthly_figures"]
    assert not found["typical_year"]
    assert found["verdict"] == "made"
    # Fort McMurray, CWEC2020 statistics: December 0.473, June 5.963 kWh/m2 a day.
    ghi = {row["month"]: row["ghi_kwh_m2_day"] for row in found["monthly"]}
    assert ghi[12] == pytest.approx(0.473, rel=0.01)
    assert ghi[6] == pytest.approx(5.963, rel=0.01)
    assert found["design_temperatures"]["annual_minimum_degc"] == -39.5
    assert found["record_lowest_degc"] < -39.5
    assert {row["days"] for row in found["spell_returns"]} >= {1, 5, 10, 30}
    assert any("from monthly means" in f["text"] for f in found["findings"])


def test_dark_runs_grow_with_the_share():
    """Fewer days fall under a quarter of the need than under all of it."""
    runs = northern()["dark_runs"]
    days = [row["days"] for row in runs]
    assert [row["share_frac"] for row in runs] == [1.0, 0.75, 0.5, 0.25]
    assert days == sorted(days, reverse=True)
    assert days[0] > 3


def test_the_page_and_the_picture(tmp_path):
    """The page names verdict and bands, the picture is written, exit code 0."""
    picture = tmp_path / "sky.png"
    run = cli("weather", COAST, "--plot", picture)
    assert run.returncode == 0
    assert "QC passed (clock" in run.stdout
    assert "Deficit periods of the specified array" in run.stdout
    assert "No return periods: one typical year" in run.stdout
    assert picture.read_bytes()[:4] == b"\x89PNG"
    assert "Drew" in run.stderr


@shared
@pytest.mark.slow
def test_made_years_beside_a_measured_record(tmp_path):
    """The measured record stands beside the made one, month by month and by spell."""
    pattern = SHARED / "nsrdb-california-1998-2015" / "*_20*.csv"
    picture = tmp_path / "x.svg"
    run = cli("weather", SITE, "--against", pattern, "--json", "--plot", picture)
    assert run.returncode == 0, run.stderr
    found = json.loads(run.stdout)["against"]
    assert len(found["persistence"]) == 12
    assert all(0.2 < row["measured_lag_one"] < 0.7 for row in found["persistence"])
    assert [row["days"] for row in found["spells"]][:3] == [1, 3, 5]
    assert picture.stat().st_size > 10_000


def test_tilt_search_says_how_the_panel_should_stand():
    """At 55 N the worst weeks want a steeper panel than the year does."""
    run = cli("size", COAST, "--tilt", "search", "--json")
    assert run.returncode == 0, run.stderr
    found = json.loads(run.stdout)
    tilt = found["tilt"]
    assert tilt["pick"]["tilt_deg"] > tilt["for_year"]["tilt_deg"] + 15
    assert found["tilt_deg"] == tilt["pick"]["tilt_deg"]
    assert tilt["pick"]["worst_share"] > 0.985
    assert tilt["for_year"]["worst_share"] < 0.95
    page = cli("size", COAST, "--tilt", "search").stdout
    assert "tilt, azimuth 180° (south)" in page


@pytest.mark.parametrize("tilt", ["60", "steep", "120 deg", "3 m"])
def test_a_tilt_that_cannot_be_is_refused(tilt):
    """Numbers without a unit, words, and angles over 90 are told what is allowed."""
    run = cli("size", COAST, "--tilt", tilt)
    assert run.returncode == 2
    assert "--tilt" in run.stderr
    assert "Traceback" not in run.stderr


# --- bad input -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('ghi = "1 2 3 kWh/m2/d"', "needs 12 figures"),
        ('ghi = "1 2 3 4 5 6 6 5 4 3 2 1"', "the unit is missing"),
        ('ghi = "1 2 3 4 5 6 6 5 4 3 2 1 Ah"', "is a charge"),
        ('ghi = "4 4 4 5 5 6 6 5 4 3 3 4 kWh/m2/d"', "allowed: up to 85 %"),
        ('sun_hours = "4 h"', "plane_tilt"),
        ('sun_hours = "9 h"\nplane_tilt = "60 deg"', "exceed a clear sky"),
        ("clearness = 0.95", "is out of range"),
        ('clearness = 0.5\nghi = "2 kWh/m2/d"', "exactly one measure"),
        ("", "exactly one measure"),
        ('clearness = 0.5\ntemperature = "70 degC"', "out of range"),
        ("clearness = 0.5\nyears = 2000", "out of range"),
        ('clearness = 0.5\nsource = ""', "source"),
        ("clearnes = 0.5", "did you mean clearness?"),
    ],
)
def test_monthly_figures_that_cannot_be_used(tmp_path, line, words):
    """Each slip in the table is refused in plain words, exit code 2."""
    table = '[weather.monthly]\nsource = "me."\ntemperature = "3 degC"\nyears = 1\n'
    for key in ("temperature", "source", "years"):
        if f"{key} =" in line:
            table = "\n".join(x for x in table.split("\n") if not x.startswith(key))
    run = cli("weather", written(tmp_path, f"{table}{line}\n"))
    assert run.returncode == 2, run.stdout[:300]
    assert words in run.stderr
    assert "Traceback" not in run.stderr


@pytest.mark.parametrize(
    ("weather", "words"),
    [
        ('[weather]\nonline = "pvgis"\n', "weather SITE.toml --fetch"),
        ('[weather]\nonline = "weather-r-us"\n', "is not one of the choices"),
        ('[weather]\nrecord = "miami"\nonline = "pvgis"\n', "exactly one source"),
        ("[weather]\n", "exactly one source"),
        ('[weather]\nrecord = "miami"\nstep = "20 min"\n', "whole multiple"),
        ('[weather]\nrecord = "miami"\n[weather.design]\nfile = "no.ddy"\n',
         "no such file"),
        (WARMER_IN_FIFTY_YEARS, "is warmer than annual_minimum"),
    ],
)  # fmt: skip
def test_weather_that_cannot_be_used(tmp_path, monkeypatch, weather, words):
    """Sources that are missing, doubled or unknown, and design cold in wrong order."""
    monkeypatch.setenv("POWERBUDGET_CACHE", str(tmp_path / "cache"))
    run = cli("weather", written(tmp_path, weather))
    assert run.returncode == 2, run.stdout[:300]
    assert words in run.stderr
    assert "Traceback" not in run.stderr


def test_fetch_without_a_network_is_a_plain_message(tmp_path, monkeypatch):
    """Nobody at the address: exit code 2 and what to do instead."""
    monkeypatch.setenv("POWERBUDGET_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(online, "PAUSE_S", 0)
    site = written(
        tmp_path, '[weather]\nonline = "nasa-power"\nurl = "http://127.0.0.1:9/"\n'
    )
    run = cli("weather", site, "--fetch")
    assert run.returncode == 2
    assert "cannot be reached" in run.stderr
    assert "download the file and name it" in run.stderr
    assert "Traceback" not in run.stderr


@pytest.mark.parametrize(
    ("array", "words"),
    [
        ("horizon = [[0, 95]]", "has an impossible point"),
        ("horizon = [[10, 5], [10, 6]]", "each direction once"),
        ('horizon_file = "absent.csv"', "no such file"),
        ('soiling_by_month = "3 4 %"', "needs 12 figures"),
        ('snow = { cover = "melts" }', "is not one of the choices"),
        ('snow = { cover = "slides" }', "has no snow depth"),
        (
            'snow = { cover = "cleared", snowfall = "20 cm" }',
            "interval at which the modules are cleared",
        ),
    ],
)
def test_hills_and_snow_that_cannot_be_used(tmp_path, array, words):
    """Horizon, monthly dirt and snow are checked before a simulation is made."""
    site = written(tmp_path, '[weather]\nrecord = "sand-point"\n', array + "\n")
    run = cli("run", site)
    assert run.returncode == 2, run.stdout[:300]
    assert words in run.stderr
    assert "Traceback" not in run.stderr


def test_a_horizon_from_a_file_is_a_loss_in_the_ledger(tmp_path):
    """Hills read from a table next to the site file cost energy, by name."""
    (tmp_path / "hills.csv").write_text(
        "horizon_azimuth,horizon_elevation\n0,2\n135,8\n180,12\n225,8\n"
    )
    site = written(
        tmp_path,
        '[weather]\nrecord = "sand-point"\n',
        'horizon_file = "hills.csv"\n'
        'snow = { cover = "slides", snowfall = "30 25 20 5 0 0 0 0 0 5 20 30 cm" }\n',
    )
    found = json.loads(cli("run", site, "--json").stdout)
    assert found["ledger"]["array: horizon"] > 0
    assert found["ledger"]["array: snow"] > 0
    assert found["ledger_error_frac"] < 1e-9
    plain = told("run")
    assert "array: snow" not in plain["ledger"]
    assert found["lowest_soc_frac"] < plain["lowest_soc_frac"]


# --- what goes with every result -------------------------------------------------


def test_the_typical_year_warning_goes_with_every_result():
    """run, size and weather all say that a typical year hides bad winters."""
    for verb in ("run", "size", "weather"):
        found = told(verb)
        said = " ".join(f["text"] for f in found["findings"])
        assert "Typical year" in said, verb


def test_a_deeper_winter_is_marked_and_costs_charge(tmp_path):
    """Twenty percent off three months lowers the lowest charge, and says why."""
    site = written(
        tmp_path, '[weather]\nrecord = "sand-point"\nwinter_shortfall = "20 %"\n'
    )
    deep = json.loads(cli("run", site, "--json").stdout)
    plain = told("run")
    assert deep["lowest_soc_frac"] < plain["lowest_soc_frac"]
    assert "winter derating 20 %" in deep["weather"]
    assert any("Winter derating" in f["text"] for f in deep["findings"])


def test_design_cold_stands_beside_the_record(tmp_path):
    """A colder design minimum than record and criterion is a warning in `run`."""
    site = written(
        tmp_path,
        '[weather]\nrecord = "sand-point"\n[weather.design]\n'
        'annual_minimum = "-18 degC"\nminimum_50_years = "-26 degC"\n'
        'source = "invented"\n',
    )
    found = json.loads(cli("run", site, "--json").stdout)
    said = " ".join(f["text"] for f in found["findings"])
    assert "the site design minimum is -26.0 °C" in said
    assert "Autonomy is overstated" in said
    assert "String Voc at" in said
    assert "Available capacity at -26.0 °C" in said
    assert "Rated above it" not in said


@pytest.mark.slow
def test_parts_that_end_above_the_cold_are_named(tmp_path):
    """Devices good to -40 degC at a place of -45.6 degC are named, once."""
    found = json.loads(cli("run", SITE, "--json").stdout)
    said = [f["text"] for f in found["findings"] if "Rated above it" in f["text"]]
    assert len(said) == 1
    assert "controller (-40 °C)" in said[0]


def test_sun_hours_on_a_plane_and_clearness_agree():
    """Sun hours at 60 deg come out near the level light that they came from."""
    from powerbudget.site.tables import MonthlyFigures, Place
    from powerbudget.weather.geometry import MEAN_DAYS, monthly_tilted_mj_m2
    from powerbudget.weather.site_record import from_monthly

    # Madison, Duffie & Beckman (2013), Example 2.19.1, level light in MJ/m2.
    level = np.array([6.44, 9.89, 12.86, 16.05, 21.36, 23.04, 22.58, 20.33, 14.59,
                      10.48, 6.37, 5.74])  # fmt: skip
    tilted = monthly_tilted_mj_m2(
        level, latitude_deg=43.0, tilt_deg=60.0,
        day_of_year=np.array(MEAN_DAYS, dtype=float), albedo_frac=0.2,
    )  # fmt: skip
    hours = " ".join(f"{x / 3.6:.3f}" for x in tilted)
    table = MonthlyFigures.model_validate(
        {"source": "textbook", "sun_hours": f"{hours} h", "plane_tilt": "60 deg",
         "temperature": "8 degC", "years": 2}
    )  # fmt: skip
    place = Place.model_validate({"name": "x", "latitude": 43.0, "longitude": -89.4})
    record = from_monthly(table, place)
    made = [record.ghi_w_m2[record.month == m].mean() * 0.0864 for m in range(1, 13)]
    # The plane keeps its light; the monthly method and the hourly sky that turn it into
    # level light are known to lie up to 10 % apart.
    assert made == pytest.approx(level, rel=0.10)


def test_the_schema_knows_the_new_tables():
    """Editors complete monthly figures, snow and design temperatures."""
    from powerbudget.site.tables import Site

    schema = json.dumps(Site.model_json_schema(by_alias=True))
    for key in ("MonthlyFigures", "DesignTemperatures", "Snow", "year_to_year"):
        assert key in schema


def test_monthly_without_a_place_is_refused():
    """From Python, monthly figures need the [site] table."""
    design = read_site_text(site_with(MONTHLY))
    with pytest.raises(InputError, match="need the"):
        read_weather(design.tables.weather)
    assert read_weather(design.tables.weather, site=design.tables.site).years == 3


def test_one_module_for_help():
    """The help of the verb loads no weather libraries."""
    code = """
import sys
sys.argv[1:] = ["weather", "--help"]
from powerbudget.cli import main
try:
    main()
except SystemExit:
    pass
print([m for m in ("pvlib", "scipy", "numba", "requests") if m in sys.modules])
"""
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert run.stdout.strip().endswith("[]")
    assert "--against" in run.stdout


def test_starter_is_still_read():
    """The built-in example keeps its weather."""
    assert starter_design().tables.weather.record is not None


@shared
@pytest.mark.slow
@pytest.mark.skipif(
    not Path("/proc/self/status").exists(), reason="needs the kernel's own memory count"
)
def test_eighteen_half_hourly_years_fit_in_a_gigabyte():
    """Read, audited and on the panel in under 1 GB."""
    code = f"""
import pathlib, re
from powerbudget.weather.plane import plane_of_array
from powerbudget.weather import read_files, sun_position
record = read_files(sorted(__import__("pathlib").Path({str(SHARED)!r}).glob(
    "nsrdb-california-1998-2015/*.csv")))
plane_of_array(record, sun_position(record), tilt_deg=60, azimuth_deg=180,
               albedo_frac=0.2)
# Usage figures of a child begin with its parent's; this one begins at its start.
peak = re.search(r"VmHWM:\\s+(\\d+)", pathlib.Path("/proc/self/status").read_text())
print(int(peak.group(1)) / 1e6)
"""
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert float(run.stdout) < 1.0
