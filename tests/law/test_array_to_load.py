"""One array-to-load ratio, asked of everybody who prints one."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from powerbudget.balance.arrayload import ArrayToLoad, least_ratio
from powerbudget.balance.problem import prepare
from powerbudget.balance.simulation import simulate_size
from powerbudget.site.reader import read_site_text
from powerbudget.sizing.criteria import judge
from powerbudget.weather.record import cut

# Two steps of shedding, a heater in the battery box, a pump in June alone: what the bus
# is asked for beside the plain load, and nothing in July.
TWO_YEARS = """
[site]
name = "Middle (invented)"
latitude = "45 N"
longitude = "110 W"
time_zone = "UTC-7"
[weather.monthly]
source = "invented"
ghi = "1.5 2.4 3.6 4.9 5.9 6.5 6.6 5.7 4.3 2.8 1.7 1.25 kWh/m2/d"
temperature = "-8 -6 -2 4 9 13 17 16 11 5 -2 -7 degC"
years = 3
[bus]
nominal = "24 V"
low_voltage_disconnect = "23.0 V"
low_voltage_reconnect = "25.2 V"
shed_first = "24.2 V"
shed_second = "23.6 V"
[[load]]
name = "core"
typical = "2 W"
maximum = "2 W"
months = "Nov-Mar"
source = "invented"
[[load]]
name = "pump"
typical = "90 W"
maximum = "90 W"
months = "Jun"
priority = "shed first"
source = "invented"
[[load]]
name = "light"
typical = "4 W"
maximum = "4 W"
months = "Nov-Mar"
priority = "shed second"
source = "invented"
[array]
module = "module-36-cell-100w"
series = 2
parallel = 2
tilt = "60 deg"
azimuth = "south"
[charge_controller]
kind = "mppt"
[battery]
chemistry = "agm"
unit = "battery-agm-12v-100ah"
series = 2
parallel = 4
box = { kind = "insulated" }
heater = { power = "20 W", on = "0 degC", off = "4 degC", feed = "battery" }
[criteria]
autonomy = "5 d"
autonomy_temperature = "-25 degC"
"""


def independent(run, which):
    """Return A:L by bin from the string's own curve and a plain sum of the loads."""
    problem, array = run.problem, run.problem.array
    regulator = problem.design.tables.regulator
    bus = run.out["bus_v"]
    if regulator.kind == "mppt":
        power = array.p_mp_w * regulator.efficiency_frac
    else:
        mean = sum(bus) / len(bus)
        at = mean + regulator.drop_v
        power = [mean * np.interp(at, array.v_nodes_v, row) for row in array.i_string_a]
    given, asked = Counter(), Counter()
    for k, bin_ in enumerate(which):
        row = problem.hourly[k]
        given[bin_] += run.strings * power[k]
        watts = row["load_w"] + row["first_w"] + row["second_w"]
        amps = row["load_a"] + row["first_a"] + row["second_a"]
        siemens = row["load_s"] + row["first_s"] + row["second_s"]
        amps += problem.budget.base_a
        asked[bin_] += watts + row["base_w"] + amps * bus[k] + siemens * bus[k] ** 2
    return {x: given[x] / asked[x] if asked[x] else math.inf for x in given}


@pytest.mark.parametrize(
    ("name", "kind"), [("starter", "mppt"), ("hot-valve-site", "pwm")]
)
def test_ratio_is_that_of_an_independent_sum(prepared, name, kind):
    """Energy behind the regulator over energy asked, month by month."""
    run = simulate_size(prepared(name))
    assert run.problem.design.tables.regulator.kind == kind
    ratios = independent(run, run.problem.record.month)
    for row in run.monthly:
        assert row.array_to_load_ratio == pytest.approx(ratios[row.month], rel=1e-9)
        day = row.array_wh_per_day / row.load_wh_per_day
        assert row.array_to_load_ratio == pytest.approx(day, rel=1e-12)
    assert run.array_to_load.ratio == pytest.approx(min(ratios.values()), rel=1e-9)
    assert run.array_to_load.month == min(ratios, key=lambda month: ratios[month])
    assert least_ratio(run) == run.array_to_load.ratio


def two_years_and_two_days():
    """Return the site for two years, behind two days of December without light."""
    design = read_site_text(TWO_YEARS)
    record = prepare(design).record
    day = record.day_local
    year = day.astype("datetime64[Y]")
    first = np.flatnonzero(year > year[0])[0] - 48
    short = cut(record, slice(int(first), record.n))
    dark = np.arange(short.n) < 48
    none = {
        name: np.where(dark, 0.0, getattr(short, name))
        for name in ("ghi_w_m2", "dni_w_m2", "dhi_w_m2")
    }
    # Its own sun for every day: no whole years of one sun any more.
    return prepare(design, replace(short, synthetic=False, **none))


def test_every_load_counts_and_only_whole_months_and_the_strings_asked():
    """Heater and both steps of shedding, three strings for two, two years and no more.

    June with its 30 days asks most of the array; the two dark days of December would
    be less still, but are no month.
    """
    problem = two_years_and_two_days()
    run = simulate_size(problem, 3)
    assert run.strings != problem.strings
    for name in ("base_w", "first_w", "second_w"):
        assert (problem.hourly[name] > 0).any()
    ratios = independent(run, problem.record.month)
    for row in run.monthly:
        assert row.array_to_load_ratio == pytest.approx(ratios[row.month], rel=1e-9)
    single = independent(run, problem.record.day_local.astype("datetime64[M]"))
    first, *whole = sorted(single)
    found, least = run.array_to_load, min(whole, key=lambda month: single[month])
    assert single[first] < single[least] < found.ratio
    assert found.single == pytest.approx(single[least], rel=1e-9)
    assert found.single_month == str(least)
    assert found.month == 6
    assert least.astype(object).month == 6


def test_a_month_without_a_load_is_never_the_smallest():
    """Nothing is asked in July: the ratio is infinite and not the least."""
    problem = two_years_and_two_days()
    idle = replace(problem, budget=replace(problem.budget, base_a=0.0))
    run = simulate_size(idle)
    ratios = {row.month: row.array_to_load_ratio for row in run.monthly}
    assert math.isinf(ratios[7])
    assert run.array_to_load.month == 6
    assert run.array_to_load.ratio == ratios[6] < 2
    assert least_ratio(run) == ratios[6]


def test_the_words_of_a_ratio():
    """Two decimals, the month of the mean, and the smallest single month beside it."""
    words = ArrayToLoad(12, 1.994, 0.2449, "2000-01").text
    assert words == "1.99, mean Dec; 0.24 in the lowest single month"
    assert ArrayToLoad(1, 2.0).text == "2.00, mean Jan"


def test_the_lowest_single_month_needs_more_than_one_year(prepared):
    """A typical year has none; of real years it is named, whole, and below the mean."""
    assert simulate_size(prepared("starter")).array_to_load.single is None
    run = simulate_size(prepared("polar-station"))
    found = run.array_to_load
    assert run.years > 2
    assert found.single <= found.ratio
    month = run.problem.record.day_local.astype("datetime64[M]").astype(str)
    inside = month == found.single_month
    assert inside.sum() * run.problem.record.step_h >= 27 * 24
    assert "in the lowest single month" in found.text


@pytest.mark.parametrize(
    "name", ["starter", pytest.param("hot-valve-site", marks=pytest.mark.slow)]
)
def test_everybody_gives_the_same_ratio(prepared, name):
    """Months, criteria and reliability: equal floats."""
    from powerbudget.sizing.uncertainty.reliability import reliability_view

    problem = prepared(name)
    run = simulate_size(problem)
    asked = run.array_to_load.ratio
    assert asked == min(row.array_to_load_ratio for row in run.monthly)
    criterion = next(v for v in judge(run) if v.name.startswith("array-to-load"))
    assert criterion.found == asked
    assert reliability_view(problem, 1).array_ratio == asked


@pytest.mark.slow
@pytest.mark.parametrize("name", ["starter", "hot-valve-site"])
def test_a_plain_grid_gives_the_same_ratio(prepared, name):
    """Interval by interval without the kernel."""
    from reference.plain_grid import grid_of

    problem = prepared(name)
    asked = simulate_size(problem).array_to_load.ratio
    grid = grid_of(problem, [problem.strings], [problem.bank.parallel])
    assert float(grid.worst_ratio[0]) == pytest.approx(asked, rel=1e-9)
