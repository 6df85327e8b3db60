"""Every table of a site file is listed among the inputs, in words that people read."""

from __future__ import annotations

import re
import tomllib
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import pytest

from powerbudget.balance.problem import prepare
from powerbudget.balance.simulation import simulate_size
from powerbudget.report.sections.assumptions import assumptions
from powerbudget.report.sections.values import shown
from powerbudget.site.costs import Price
from powerbudget.site.reader import read_site, read_site_text
from powerbudget.site.starter import starter_text

pytestmark = pytest.mark.slow

SITES = sorted((Path(__file__).resolve().parents[2] / "sites").glob("*.toml"))
ELSEWHERE = {"site": "Site and basis", "load": "Power budget"}
"""Tables that sections of their own show."""
REPR = re.compile(r"[A-Za-z_]\w*\([a-z_]+=|\bNone\b|<[a-z]+ |^\{|datetime|np\.")
MORE = """
[ensemble]
more_soiling = "4 %"
[protection]
bus_fuse = "10 A"
disconnect_by = "relay"
[worksheet]
margin = "10 %"
[access]
closed = "15 Oct to 15 May"
[compare]
options = ["solar", "thermoelectric"]
gas_driven = { pump = 2 }
[costs]
module = 245
battery_unit = 260
currency = "EUR"
discount_rate = "5 %"
fuel = { propane = "0.75 EUR/L" }
trips = { visit = 600, freight = "5 EUR/kg" }
line = { distance = "3 km", tariff = "30 EUR/m" }
[[generator]]
name = "engine"
kind = "engine"
rated = "300 W"
fuel = "propane"
start = "50 %"
stop = "85 %"
months = "Nov-Mar"
[generator.tank]
volume = "500 gal"
"""


def listed(design):
    """Return the inputs of a site, from its run alone."""
    run = simulate_size(prepare(design))
    stand_in = SimpleNamespace(
        tables=design.tables, design=design, run=run, problem=run.problem, odds=None,
        sizing=object() if design.tables.array.parallel else None,
    )  # fmt: skip
    return assumptions(stand_in)


@cache
def listed_of(path: Path):
    """Return the inputs of a demo site, worked out once."""
    return listed(read_site(path))


def head(path: str) -> str:
    """Return the top-level key that an input belongs to."""
    return re.split(r"[.,:]", path)[0]


@pytest.fixture(scope="module")
def everything():
    """Return the inputs of a site that has most tables."""
    plain = re.sub(
        r"^\[costs\].*?(?=^\[|\Z)", "", starter_text(), flags=re.MULTILINE | re.DOTALL
    )
    return listed(read_site_text(plain + MORE))


@pytest.mark.parametrize("path", SITES, ids=lambda p: p.stem)
def test_every_table_of_a_demo_site_is_listed_or_has_its_section(path):
    """No key that the site file has is missing from the page."""
    found = listed_of(path)
    keys = set(tomllib.loads(path.read_text(encoding="utf-8"))) - set(ELSEWHERE)
    assert keys - {head(item.path) for item in found} == set()
    anchors = [item.anchor for item in found]
    assert len(set(anchors)) == len(anchors)
    for item in found:
        for cell in (item.path, item.value, item.unit, item.source):
            assert not REPR.search(cell), cell
        assert item.value, item.path


@pytest.mark.parametrize("path", SITES, ids=lambda p: p.stem)
def test_nothing_is_called_site_file_that_the_file_does_not_have(path):
    """The status word 'site file' is true of the file's own top-level keys."""
    keys = set(tomllib.loads(path.read_text(encoding="utf-8")))
    stated = {head(i.path) for i in listed_of(path) if i.status == "user input"}
    assert stated <= keys


def test_tables_that_few_sites_have_are_listed_with_their_units(everything):
    """Prices have currency and unit, dates and thresholds are words."""
    rows = {item.path: (item.value, item.unit) for item in everything}
    assert rows["costs.module"] == ("245", "EUR each")
    assert rows["costs.fuel.propane"] == ("0.75", "EUR/L")
    assert rows["costs.trips.visit"] == ("600", "EUR")
    assert rows["costs.line.tariff"] == ("30", "EUR/m")
    assert rows["costs.discount_rate"] == ("5", "%")
    assert rows["generator.1.start"] == ("SOC 50 %", "")
    assert rows["generator.1.stop"] == ("SOC 85 %", "")
    assert rows["generator.1.months"] == ("Jan, Feb, Mar, Nov, Dec", "")
    assert rows["access.closed"] == ("15 Oct to 15 May", "")
    assert rows["compare.options"] == ("solar, thermoelectric", "")
    assert rows["compare.gas_driven.pump"] == ("2", "")
    assert rows["protection.bus_fuse"] == ("10", "A")
    assert rows["ensemble.more_soiling"] == ("4", "%")
    assert not [item for item in everything if REPR.search(item.value)]


def test_figures_that_a_generator_takes_from_its_kind_have_their_source(everything):
    """An efficiency that the file does not state is listed, with how far to trust it."""
    row = next(
        i for i in everything if i.path == "generator.1, of its kind: efficiency"
    )
    assert row.status in {"published", "unverified", "common practice"}
    assert len(row.source) > 10


def test_a_price_is_never_printed_as_python():
    """Amount, currency and unit, as one writes them."""
    assert shown("carbon", Price(50.0, "USD", "t")) == ("50", "USD/t")
    assert shown("visit", Price(0.0, "", ""), "CAD") == ("0", "CAD")
