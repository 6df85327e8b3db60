"""What thin air leaves of a charge controller is told where it acts."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from powerbudget.balance.run_findings import stated_limits
from powerbudget.charging.ratings import Rating, fitting_controller
from powerbudget.site.circuit import RegulatorLimits
from powerbudget.site.parts import load_parts


def at(height_m, **keys):
    """Return as much of a prepared site as the words read."""
    regulator = RegulatorLimits(maximum_charge_current="6 A", **keys)
    place = SimpleNamespace(elevation_m=height_m)
    tables = SimpleNamespace(regulator=regulator, site=place)
    return SimpleNamespace(design=SimpleNamespace(tables=tables))


@pytest.mark.parametrize(
    ("height_m", "told"),
    [
        (2000.0, "maximum_charge_current of 6 A"),
        # Two km above full output at 5 % each: 0.9 x 6 A.
        (4000.0, "maximum_charge_current of 6 A (5.4 A at 4,000 m)"),
    ],
)
def test_the_limit_that_acts_is_told(height_m, told):
    assert stated_limits(at(height_m)) == told


def test_a_larger_part_is_named_where_thin_air_derates_it():
    """28 A fit 30 A at sea level; 0.9 of it at 4,000 m are 27 A."""
    parts = load_parts()
    low = fitting_controller(parts, Rating("mppt", 12.0, 28.0, 46.0))
    high = fitting_controller(parts, Rating("mppt", 12.0, 28.0, 46.0, 4000.0))
    assert low == ("charge-controller-mppt-100v-30a", 1)
    assert high != low
    name, count = high
    assert count * parts[name].charge_current * 0.9 >= 28.0
    above = {
        key: part.model_copy(update={"maximum_elevation": 3000.0})
        for key, part in parts.items()
    }
    assert fitting_controller(above, Rating("mppt", 12.0, 28.0, 46.0, 4000.0)) is None
