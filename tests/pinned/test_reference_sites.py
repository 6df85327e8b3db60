"""Our own figures on the demo sites: they show that a change moved a result.

They prove stability, not truth.  When a change moves one on purpose, give the new
figure here and put before and after under "Numbers changed" in powerbudget/manual/changes.md.
"""

from __future__ import annotations

import pytest

from powerbudget.balance.simulation import simulate_size
from powerbudget.sizing.autonomy import autonomy
from powerbudget.sizing.search import size

# Site, load Wh/day, array kWh a year before the regulator, lowest state of charge,
# autonomy of design and of the record in days, modules and battery units of the pick.
PINNED = [
    ("starter", 327.2, 442.2, 0.676, 10.833, 5.875, 7, 4),
    ("coastal-meter-run", 419.8, 707.5, 0.732, 12.167, 9.042, 8, 6),
    pytest.param("two-well-pad", 378.7, 585.3, 0.878, 9.083, 8.667, 4, 3,
                 marks=pytest.mark.slow),
    pytest.param("hot-valve-site", 88.7, 131.1, 0.881, 7.208, 6.75, 2, 2,
                 marks=pytest.mark.slow),
]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "load", "array", "soc", "design", "record", "modules", "units"), PINNED
)
def test_reference_site_is_where_it_was(
    prepared, name, load, array, soc, design, record, modules, units
):
    """Load, array, lowest charge, autonomies and pick of a demo site have not moved."""
    problem = prepared(name)
    run = simulate_size(problem)
    days = autonomy(run)
    assert problem.budget.wh_per_day == pytest.approx(load, abs=0.05)
    array_kwh = problem.array.energy_wh * problem.strings / 1000
    assert array_kwh == pytest.approx(array, abs=0.05)
    assert run.availability_frac == 1.0
    assert run.lowest_soc_frac == pytest.approx(soc, abs=0.0005)
    assert days.design_days == pytest.approx(design, abs=0.006)
    assert days.record_days == pytest.approx(record, abs=0.006)
    pick = size(problem).pick
    assert (pick.modules, pick.battery_units) == (modules, units)
