"""The array-to-load ratio of one site is one figure for every verb and on every page."""

from __future__ import annotations

import json

import pytest
from typer.testing import CliRunner

from powerbudget.balance.problem import prepare
from powerbudget.balance.simulation import simulate_size
from powerbudget.checks.inputs import CheckInputs
from powerbudget.cli import app
from powerbudget.compare.comparison import compare
from powerbudget.report.sections.battery import months_table
from powerbudget.report.sections.sources import Sources
from powerbudget.report.sections.summary import _ratio
from powerbudget.review.claims_file import claims_of
from powerbudget.review.reviewer import review
from powerbudget.review.varied_site import VariedSite
from powerbudget.site.reader import read_site_text
from powerbudget.sizing.search import size

# A direct connection, so that the ratio hangs on the battery's volts; the battery as old
# as `size` and `compare` ask it to be, so that they judge the site as it is written.
SITE = """
[site]
name = "Middle (invented)"
latitude = "45 N"
longitude = "110 W"
time_zone = "UTC-7"
[weather.monthly]
source = "invented"
ghi = "1.5 2.4 3.6 4.9 5.9 6.5 6.6 5.7 4.3 2.8 1.7 1.25 kWh/m2/d"
temperature = "-8 -6 -2 4 9 13 17 16 11 5 -2 -7 degC"
years = 2
[bus]
nominal = "24 V"
low_voltage_disconnect = "23.0 V"
low_voltage_reconnect = "25.2 V"
standing_leakage = "20 mA"
[[load]]
name = "all"
typical = "25 W"
maximum = "25 W"
behaviour = "resistance"
source = "invented"
[array]
module = "module-36-cell-100w"
series = 2
parallel = {array}
tilt = "60 deg"
azimuth = "south"
[charge_controller]
kind = "pwm"
[battery]
chemistry = "agm"
unit = "battery-agm-12v-100ah"
series = 2
parallel = {battery}
health = "80 %"
[criteria]
autonomy = "5 d"
autonomy_temperature = "-25 degC"
deepest_discharge = "80 %"
array_to_load_ratio = 1.2
[costs]
module = 600
battery_unit = 500
equipment = {{ charge_controller = "0 USD/W", structure = "0.5 USD/W", module_power = "2 USD/W" }}
[compare]
options = ["solar"]
"""
NAME = "array-to-load ratio"


def written(array: int, battery: int):
    """Return the site file with so many strings, read anew."""
    return read_site_text(SITE.format(array=array, battery=battery))


def stated(verdicts):
    """Return what a list of verdicts found for the ratio."""
    return next(v.found for v in verdicts if v.name == NAME)


@pytest.fixture(scope="module")
def sized():
    """Return the recommended size of the site."""
    return size(written(2, 4)).pick


@pytest.fixture(scope="module")
def own(sized):
    """Return the site written with that size, and its run."""
    design = written(sized.array_strings, sized.battery_strings)
    return design, simulate_size(prepare(design))


def test_size_states_the_ratio_that_run_finds_for_its_pick(own, sized):
    """The size is written into the file, and the file is run: equal floats."""
    assert stated(sized.verdicts) == own[1].array_to_load.ratio


def test_run_gives_one_ratio_in_its_json(own, sized, tmp_path):
    """Ratio, least month and criterion; the lowest single month is below them."""
    text = SITE.format(array=sized.array_strings, battery=sized.battery_strings)
    path = tmp_path / "site.toml"
    path.write_text(text, encoding="utf-8")
    told = json.loads(CliRunner().invoke(app, ["run", str(path), "--json"]).stdout)
    asked = own[1].array_to_load
    assert told["array_to_load"]["ratio"] == asked.ratio
    assert min(m["array_to_load_ratio"] for m in told["monthly"]) == asked.ratio
    found = next(v["found"] for v in told["criteria"] if v["name"] == NAME)
    assert found == asked.ratio
    assert told["array_to_load"]["single"] == asked.single < asked.ratio


def test_compare_states_the_ratio_that_run_finds_for_its_size():
    """Panels as the comparison buys them, written into the file: equal floats."""
    trial = compare(written(2, 4), turns=False).options[0].trial
    run = simulate_size(prepare(written(trial.strings, trial.battery)))
    assert trial.run.array_to_load == run.array_to_load


def test_review_and_check_look_at_the_same_ratio(own):
    """The desk's run under the site's own conditions, and the run behind the checks."""
    design, run = own
    desk = VariedSite(design)
    here = desk.simulate(desk.conditions()[0].scenario)
    assert here.array_to_load == run.array_to_load
    assert CheckInputs(prepare(design), air=None).run.array_to_load == run.array_to_load


def test_review_prints_the_ratio_of_the_run(own):
    """A claim of the site's own array is judged by the ratio that `run` prints."""
    design, run = own
    watts = VariedSite(design).array_w
    claims = claims_of({"claim": [{"kind": "array", "claimed": f"{watts:g} W"}]})
    remarks = review(design, claims).claims[0].remarks
    assert any(run.array_to_load.text in text for text in remarks)


def test_the_page_has_the_ratio_of_the_run_and_the_worksheet_none(package_of):
    """Headline and table of months; the worksheet's own figures have other names."""
    package = package_of("starter")
    asked = package.run.array_to_load.ratio
    assert _ratio(package, Sources("site.toml")).value == f"{asked:.2f}"
    table = months_table(package.run, "x", "x")
    at = [column.head for column in table.columns].index("array-to-load ratio")
    assert min(row.cells[at].sort for row in table.rows) == asked
    for line in package.sizing.worksheet:
        assert line.quantity != "array-to-load ratio"
