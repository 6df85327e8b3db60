"""The smallest store without loss, found three ways."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reference.bookkeeping import least_store_wh, sequent_peak_wh
from reference.ideal import ideal_problem

from powerbudget.errors import ModelRangeError
from powerbudget.sizing.search import size

Energy = st.lists(
    st.tuples(st.integers(0, 30), st.integers(0, 10)), min_size=2, max_size=60
)


@settings(max_examples=60, deadline=None)
@given(Energy)
def test_running_peak_equals_the_linear_programme(pairs):
    """Two ways that share no step find the same store."""
    supply, load = np.array(pairs, float).T
    if load.sum() > supply.sum():
        supply[0] += load.sum() - supply.sum()
    peak = sequent_peak_wh(supply, load)
    assert least_store_wh(supply, load) == pytest.approx(peak, abs=1e-6)


@pytest.mark.parametrize("store", [sequent_peak_wh, least_store_wh])
def test_more_load_than_supply_has_no_store(store):
    """A record that asks for more than it brings is refused, with words."""
    with pytest.raises(ModelRangeError, match="allowed"):
        store(np.array([1.0, 2.0]), np.array([2.0, 2.0]))


def _searched(problem, **changes):
    tables = problem.design.tables
    parts = {
        name: getattr(tables, name).model_copy(update=update)
        for name, update in changes.items()
    }
    design = dataclasses.replace(
        problem.design, tables=tables.model_copy(update={"costs": None, **parts})
    )
    return dataclasses.replace(problem, design=design)


@pytest.mark.parametrize(
    ("strings", "load_w"),
    [
        (6, 15.0),
        pytest.param(9, 15.0, marks=pytest.mark.slow),
        pytest.param(16, 40.0, marks=pytest.mark.slow),
    ],
)
def test_search_finds_the_store_of_the_linear_programme(prepared, strings, load_w):
    """On a bank without losses `size` buys what the programme and the peak ask for."""
    site = prepared("starter")
    supply = site.hourly["array_w"] * strings
    load = np.full(site.record.n, load_w)
    peak_wh = sequent_peak_wh(supply, load)
    assert least_store_wh(supply, load) == pytest.approx(peak_wh, rel=1e-6)
    # Units so small that whole numbers of them tell 0.5 %.
    unit = site.bank.unit.model_copy(
        update={"capacity_ah": peak_wh / 12 / 300.5, "slow_capacity_ah": None}
    )
    bank = dataclasses.replace(site.bank, unit=unit, health_frac=1.0)
    budget = dataclasses.replace(site.budget, base_a=0.0, average_w=1e-3)
    ideal = ideal_problem(site, supply, load)
    ideal = _searched(
        dataclasses.replace(ideal, bank=bank, budget=budget),
        bus={"disconnect_v": None, "reconnect_v": None, "disconnect_soc_frac": 0.0,
             "reconnect_soc_frac": 0.01},
        criteria={"availability_frac": 1.0, "autonomy_d": 0.0, "array_to_load_ratio": 0,
                  "deepest_discharge_frac": 1.0, "daily_discharge_frac": 1.0},
        sizing={"max_array_strings": 1, "max_battery_strings": 320, "array_step": 1,
                "battery_step": 1, "battery_age": "beginning-of-life"},
    )  # fmt: skip
    pick = size(ideal).pick
    assert pick is not None
    assert pick.battery_ah * 12 == pytest.approx(peak_wh, rel=0.005)
    assert pick.battery_ah * 12 >= peak_wh * (1 - 1e-9)
