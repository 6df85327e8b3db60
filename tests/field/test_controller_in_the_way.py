"""A rating of the charge controller that stands in the way, told alike by every verb."""

from __future__ import annotations

import json
import re

import pytest

from powerbudget.balance.controller_rating import string_too_high
from powerbudget.balance.problem import prepare
from powerbudget.charging.cold_string import STRING_VOLTAGE
from powerbudget.checks.registry import check
from powerbudget.compare.comparison import compare
from powerbudget.report.screens.compare import robust
from powerbudget.site.reader import read_site_text
from powerbudget.sizing.search import size

MODULE = (
    'power = "100 W", max_power_voltage = "17.9 V", max_power_current = "5.587 A", '
    'open_circuit_voltage = "22 V", short_circuit_current = "6 A", cells = 36'
)


def site(
    series=1,
    controller="",
    *,
    module=MODULE,
    bus_v=12,
    units=1,
    load="20 W",
    start='state_at_start = "100 %"',
):
    """Return a site whose keys of the controller and string are the case.

    Its battery begins full: what never fills is else run for decades until it repeats.
    """
    return f"""
[site]
name = "station"
latitude = 36.1
longitude = -79.95
time_zone = "UTC-5"
[weather]
record = "greensboro"
[weather.design]
annual_minimum = "-40 degC"
source = "fictitious"
[bus]
nominal = "{bus_v} V"
low_voltage_disconnect = "{11.5 * bus_v / 12:g} V"
low_voltage_reconnect = "{12.6 * bus_v / 12:g} V"
[[load]]
name = "station"
typical = "{load}"
[array]
module = {{ {module} }}
series = {series}
parallel = 4
tilt = "45 deg"
azimuth = "south"
[charge_controller]
kind = "mppt"
{controller}
[battery]
chemistry = "agm"
{start}
unit = {{ nominal = "12 V", capacity = "100 Ah", hour_rate = "20 h" }}
series = {units}
parallel = 4
[criteria]
availability = "99 %"
autonomy = "3 d"
autonomy_temperature = "0 degC"
deepest_discharge = "80 %"
[sizing]
max_array_strings = 8
max_battery_strings = 8
[compare]
options = ["solar", "thermoelectric"]
"""


def written(tmp_path, text):
    """Return a site file with a text."""
    file = tmp_path / "site.toml"
    file.write_text(text, encoding="utf-8")
    return file


def flat(text):
    """Return a page without its line ends and gaps."""
    return re.sub(r"\s+", " ", text.replace("\xa0", " "))


STEEP = MODULE + ', open_circuit_temperature = "-0.33 %/K"'
HIGH = 'maximum_input = "100 V"\nmaximum_charge_current = "30 A"'


def test_every_verb_fails_a_string_above_the_input_in_the_cold(call, tmp_path, undrawn):
    """Four of 22 V at -40 degC are 4 x 22 x (1 + 0.0033 x 65) = 106.9 V on 100 V."""
    file = written(tmp_path, site(4, HIGH, module=STEEP, load="6 W"))
    told = "exceeds the 100 V of the charge controller input: use 3 modules in series"
    for verb in ("run", "size", "check"):
        code, out, _ = call(verb, file, "--full")
        assert code == 1, verb
        assert STRING_VOLTAGE in out.lower().replace("pv", "PV")
        assert (verb == "check") or told in flat(out), verb
    code, _, _ = call("report", file, "-o", tmp_path / "page.html")
    assert code == 1
    assert told in flat((tmp_path / "page.html").read_text(encoding="utf-8"))
    _, out, _ = call("size", file, "--json")
    answer = json.loads(out)
    assert answer["pick"] is None
    [miss] = [row for row in answer["unmet"] if row["criterion"] == STRING_VOLTAGE]
    assert miss["found"] == pytest.approx(106.9, abs=0.05)
    assert told in miss["cure"]


@pytest.mark.parametrize(
    ("stated", "limit_v", "over"),
    [(True, 107.0, False), (True, 106.8, True), (False, 109.9, True), (False, 110.1, False)],
)  # fmt: skip
def test_the_criterion_and_the_check_judge_by_one_voltage(stated, limit_v, over):
    """Own coefficient where stated; else the code table's 1.25 at -40 degC: 110 V."""
    module = STEEP if stated else MODULE
    problem = prepare(
        read_site_text(site(4, f'maximum_input = "{limit_v} V"', module=module))
    )
    rows = [
        row for row in check(problem.design, problem).checks
        if row.name == STRING_VOLTAGE and row.subject == "charge controller input"
    ]  # fmt: skip
    found = string_too_high(problem)
    assert [row.verdict for row in rows] == ["fail" if over else "pass"]
    assert bool(found) == over
    if found:
        assert found.volts == pytest.approx(rows[0].value)


def test_the_limit_of_the_module_counts_as_well():
    """Insulation for 80 V ends before an input of 150 V."""
    module = MODULE + ', maximum_system_voltage = "80 V"'
    found = string_too_high(
        prepare(read_site_text(site(4, 'maximum_input = "150 V"', module=module)))
    )
    assert found
    assert (found.limit_v, found.subject, found.most) == (80.0, "module insulation", 2)


def test_compare_buys_the_controller_that_size_names():
    """3 A hold back 20 W: panels are compared with the controller that passes them."""

    def design_of(amps):
        limit = f'maximum_charge_current = "{amps} A"'
        text = site(controller=limit, start="")
        return read_site_text(text.replace("strings = 8", "strings = 5"))

    design = design_of(3)
    found = size(design)
    assert found.pick is None
    [named] = re.findall(r"1 x (charge-controller-\S+)", found.other_controller)
    result = compare(design, turns=False)
    [solar] = [o for o in result.options if o.name == "solar"]
    assert solar.met
    assert f"1 x {named}" in solar.parts
    assert f"1 x {named} in place of the stated charge controller" in solar.binding
    size_w, size_ah = solar.trial.array_w, solar.trial.run.bank.nameplate_ah
    assert f"{size_w:,.0f} W + {size_ah:,.0f} Ah" in found.other_controller
    told = [f.text for f in result.findings if f.severity == "serious"]
    assert any("maximum_charge_current of 3 A is too low" in text for text in told)
    free = compare(design_of(30), turns=False)
    assert (free.best.name, solar.trial.strings) == ("solar", free.best.trial.strings)
    assert not any("in place of" in f.text for f in free.findings)


def test_a_ranking_with_strings_below_the_window_is_not_called_robust():
    """One 36-cell module charges no 24 V battery: the reason stands beside the failure."""
    low = site(bus_v=24, units=2, load="10 W")
    result = compare(read_site_text(low))
    [solar] = [o for o in result.options if o.name == "solar"]
    assert not solar.met
    assert solar.reason.startswith("the string voltage is below the input range")
    assert result.best is not None
    assert not robust(result)
    assert any(
        f.severity == "serious" and "Ranking not robust, PV and battery" in f.text
        for f in result.findings
    )


def test_sizes_beyond_the_search_are_told_with_the_lowest_cost():
    """One battery string is all that may be bought; more pass, and are told as such."""
    text = site().replace("max_battery_strings = 8", "max_battery_strings = 1")
    result = compare(read_site_text(text), turns=False)
    [solar] = [o for o in result.options if o.name == "solar"]
    strings = solar.trial.battery
    assert strings > 1
    told = f"{strings} battery strings, limit 1"
    assert f"outside the limits of [sizing] ({told})" in solar.binding
    assert any(f.severity == "warning" and told in f.text for f in result.findings)


def test_an_input_current_that_ends_the_search_is_told_with_what_passes():
    """10 A bear one string, as 1.25 x 6 A each; the four specified ones are no pick."""
    for amps in (30, 3):
        limit = f'maximum_input_current = "10 A"\nmaximum_charge_current = "{amps} A"'
        found = size(read_site_text(site(controller=limit)))
        assert found.pick is None
        assert (
            "maximum_input_current of 10 A, enough for 1 array string" in found.binding
        )
        assert "in place of the stated charge controller" in found.other_controller
        [miss] = [row for row in found.unmet if row.criterion == "availability"]
        assert miss.cure == found.other_controller
    # What 3 A leave of four strings is more than one string gives, and is the best.
    assert found.nearest_miss.array_strings == 4
