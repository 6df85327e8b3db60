"""One array-to-load ratio, asked of everybody who prints one."""

from __future__ import annotations

import numpy as np
import pytest

from powerbudget.balance import columns as col
from powerbudget.balance.simulation import simulate_size
from powerbudget.sizing.criteria import judge


def independent(run):
    """Return A:L by month from the string's own curve and a plain sum of the loads."""
    problem, array = run.problem, run.problem.array
    regulator = problem.design.tables.regulator
    bus = run.out[:, col.R_BUS_V]
    if regulator.kind == "mppt":
        power = array.p_mp_w * regulator.efficiency_frac
    else:
        mean = sum(bus) / len(bus)
        at = mean + regulator.drop_v
        power = [mean * np.interp(at, array.v_nodes_v, row) for row in array.i_string_a]
    given, asked = np.zeros(12), np.zeros(12)
    for k, month in enumerate(problem.record.month):
        row = problem.hourly[k]
        given[month - 1] += run.strings * power[k]
        watts = row[col.H_LOAD_W] + row[col.H_FIRST_W] + row[col.H_SECOND_W]
        amps = row[col.H_LOAD_A] + row[col.H_FIRST_A] + row[col.H_SECOND_A]
        siemens = row[col.H_LOAD_S] + row[col.H_FIRST_S] + row[col.H_SECOND_S]
        amps += problem.budget.base_a
        asked[month - 1] += (
            watts + row[col.H_BASE_W] + amps * bus[k] + siemens * bus[k] ** 2
        )
    return given / asked


@pytest.mark.parametrize(
    ("name", "kind"), [("starter", "mppt"), ("hot-valve-site", "pwm")]
)
def test_ratio_is_that_of_an_independent_sum(prepared, name, kind):
    """Energy behind the regulator over energy asked, month by month."""
    run = simulate_size(prepared(name))
    assert run.problem.design.tables.regulator.kind == kind
    ratios = independent(run)
    for row in run.monthly:
        assert row.array_to_load_ratio == pytest.approx(ratios[row.month - 1], rel=1e-9)
        day = row.array_wh_per_day / row.load_wh_per_day
        assert row.array_to_load_ratio == pytest.approx(day, rel=1e-12)
    assert run.array_to_load.ratio == pytest.approx(min(ratios), rel=1e-9)
    assert run.array_to_load.month == int(np.argmin(ratios)) + 1


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


@pytest.mark.parametrize("name", ["starter", "hot-valve-site"])
def test_everybody_gives_the_same_ratio(prepared, name):
    """Months, criteria, reliability and plain grid: equal floats."""
    from reference.plain_grid import grid_of

    from powerbudget.sizing.uncertainty.reliability import reliability_view

    problem = prepared(name)
    run = simulate_size(problem)
    asked = run.array_to_load.ratio
    assert asked == min(row.array_to_load_ratio for row in run.monthly)
    criterion = next(v for v in judge(run) if v.name.startswith("array-to-load"))
    assert criterion.found == asked
    assert reliability_view(problem, 1).array_ratio == asked
    grid = grid_of(problem, [problem.strings], [problem.bank.parallel])
    assert float(grid.worst_ratio[0]) == pytest.approx(asked, rel=1e-9)
