"""What carries a formula's result to the answer: figures a user reads, by hand.

Each test was seen to fail with the slip that its comment names, and to pass without.
"""

from __future__ import annotations

import json

import pytest
from typer.testing import CliRunner

from powerbudget.balance.problem import prepare
from powerbudget.cli import app
from powerbudget.fleet.fleet import fleet_row
from powerbudget.site.ensemble import no_spread
from powerbudget.site.reader import read_site_text
from powerbudget.sizing.uncertainty.monte_carlo import ensemble

BOX = '[[load]]\nname = "box"\ntypical = "12 W"\nmaximum = "24 W"\nsource = "test"\n'


@pytest.fixture(scope="module")
def site(site_text):
    """Return a 12 V site whose load is 1 A round the clock, at 25 degC by design."""
    return site_text(BOX, 12, cold="25 degC", low="11.5", high="12.8")


@pytest.fixture
def ask(tmp_path):
    """Return the JSON of a verb about a site's text, as the command line prints it."""

    def answer(text: str, verb: str):
        file = tmp_path / "site.toml"
        file.write_text(text, "utf-8")
        return json.loads(CliRunner().invoke(app, [verb, str(file), "--json"]).stdout)

    return answer


def _rows(found, name):
    rows = found.get("rows", found.get("checks"))
    return next(row for row in rows if row["name"] == name)


@pytest.fixture(scope="module")
def colder(site):
    """Return the site with a design minimum of -25 degC; its record reaches -16.7."""
    design = '[weather.design]\nannual_minimum = "-25 degC"\nsource = "test"\n[bus]'
    return site.replace("[bus]", design)


# Slip: checks/inputs.py, the correction for a design minimum below the record always 0.
def test_checks_look_at_a_battery_as_cold_as_the_design_minimum(ask, colder):
    """A bank in the open is as cold as the air: -25 degC, not the record's -16.7."""
    row = _rows(ask(colder, "check"), "freezing")
    assert row["value"] == pytest.approx(-25.0)
    assert "at -25.0 °C" in row["detail"]


# The same correction with its sign turned, or given to a bank that does not follow it.
def test_a_buried_battery_does_not_follow_the_design_minimum(ask, site, colder):
    """The vault's coldest stays what the record makes it, whatever the design says."""
    buried = 'box = { kind = "buried", depth = "1 m" }\n[criteria]'
    coldest = [
        _rows(
            ask(text.replace("[criteria]", buried), "check"),
            "charging temperature, cold",
        )["value"]
        for text in (site, colder)
    ]
    assert coldest[0] == coldest[1] > -16.0


# Slip: battery/bank.py, health divides instead of multiplying where a unit has two rates.
def test_an_old_bank_of_two_rates_holds_less_in_proportion(ask, site):
    """200 Ah at 20 h and 240 Ah at 100 h, 80 % left: 192 Ah carry 1 A for 8 days less."""
    unit = 'hour_rate = "20 h" }'
    slow = 'hour_rate = "20 h", slow_capacity = "240 Ah", slow_hour_rate = "100 h" }'
    new = ask(site.replace(unit, slow), "run")
    old = ask(site.replace(unit, f'{slow}\nhealth = "80 %"'), "run")
    # One ampere from 240 Ah is 240 h, slower than the slow rate: no further credit.
    # The disconnect ends it a little before the bank is empty, and hours are whole.
    assert 0.9 * 192 / 24 < old["autonomy_design_days"] < 192 / 24
    assert 0.9 * 240 / 24 < new["autonomy_design_days"] < 240 / 24
    ratio = old["autonomy_design_days"] / new["autonomy_design_days"]
    assert ratio == pytest.approx(0.8, abs=0.02)


BURNER = """
[[generator]]
name = "burner"
kind = "thermoelectric"
rated = "54 W"
fuel = "propane"
efficiency = "2.8 %"
[generator.tank]
volume = "400 L"
refill_below = "40 %"
[access]
delay = "3 d"
"""
CELL = """
[[generator]]
name = "cell"
kind = "methanol-cell"
rated = "100 W"
fuel = "methanol"
start = "45 %"
stop = "85 %"
[generator.tank]
volume = "60 L"
count = 2
refill_below = "50 %"
[access]
delay = "10 d"
"""


def _without_panels(site: str, generator: str) -> str:
    return site[: site.index("[array]")] + generator + site[site.index("[battery]") :]


# Slip: generators/series.py, `24 * delay_d` becomes `24 / delay_d` (a steady source).
def test_fuel_of_a_steady_burner_comes_as_many_days_after_the_order_as_asked(ask, site):
    """Ordered at 40 % and three days under way: 3 d of burning below 40 % is the least."""
    (burner,) = ask(_without_panels(site, BURNER), "run")["generators"]
    days = burner["stock_days"]
    # The order goes out within an hour of 40 %, the truck comes with a whole hour.
    assert burner["lowest_stock_frac"] == pytest.approx(
        0.4 - 3 / days, abs=1 / 24 / days
    )
    round_trip_d = 0.6 * days + 3
    assert burner["deliveries_per_year"] == pytest.approx(
        365.25 / round_trip_d, rel=0.02
    )


# The same slip where the source follows the battery and the kernel counts the hours.
def test_fuel_of_a_fuel_cell_comes_as_many_days_after_the_order_as_asked(ask, site):
    """Ordered at half a tank, ten days under way: 10 d of its mean use are burnt."""
    (cell,) = ask(_without_panels(site, CELL), "run")["generators"]
    days = cell["stock_days_as_run"]
    # One charge of the bank more or less: 40 % of 2.4 kWh is 3.3 days of 12 W.
    assert cell["lowest_stock_frac"] == pytest.approx(0.5 - 10 / days, abs=3.4 / days)
    assert cell["no_fuel_h"] == 0


# Slip: sizing/worksheet/site_figures.py, mismatch divides in the worksheet's losses.
def test_worksheet_multiplies_what_dirt_mismatch_wires_and_age_leave(ask, site):
    """10 % dirt, 20 % mismatch, 5 % wire, 10 % age leave 0.9 x 0.8 x 0.95 x 0.9."""
    losses = (
        'soiling = "10 %"\nmismatch = "20 %"\nwiring_loss = "5 %"\nageing = "10 %"\n'
        "[charge_controller]"
    )
    sheet = ask(site.replace("[charge_controller]", losses), "size")["worksheet"]
    value = {line["symbol"]: line["value"] for line in sheet}
    assert value["ls"] == pytest.approx(1 - 0.9 * 0.8 * 0.95 * 0.9)


# Slip: fleet/fleet.py, array watts divided by strings.
def test_a_row_of_the_fleet_counts_every_module(tmp_path, site):
    """Four strings of two modules of 100 W are 800 W."""
    file = tmp_path / "site.toml"
    file.write_text(site.replace("series = 1", "series = 2"), "utf-8")
    row = fleet_row(str(file), "here", sizes=False)
    assert not row.fault
    assert row.array_w == pytest.approx(800.0)
    assert row.battery_ah == pytest.approx(200.0)
    assert row.wh_per_day == pytest.approx(12 * 24)


# Slip: sizing/uncertainty/monte_carlo.py, sign of the reported mean load.
def test_members_of_an_ensemble_draw_between_the_load_of_run_and_the_highest(site):
    """12 to 24 W, most near 12: the mean of such a triangle lies a third of the way."""
    spread = no_spread().model_copy(
        update={"years_from": "made", "load_to_maximum_frac": 1.0}
    )
    found = ensemble(
        prepare(read_site_text(site)), 25, 5, sizes=[(4, 1)], spread=spread
    )
    assert (found.load_run_w, found.load_top_w) == pytest.approx((12.0, 24.0))
    # Four standard errors: 12 W x 0.2357 / sqrt(25) each.
    assert found.load_mean_w == pytest.approx(16.0, abs=4 * 12 * 0.2357 / 5)
