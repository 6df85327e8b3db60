"""Installed cost: every key acts, every piece costs more, other currencies are told."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from math import ceil

import pytest

from powerbudget.site.costs import Costs
from powerbudget.site.prices import price_tables
from powerbudget.sizing.installed import (
    chosen_controller,
    cost_lines,
    counted_words,
    installed_cost,
)
from powerbudget.sizing.search import size

KEYS = {
    "equipment.charge_controller": "9 USD/W",
    "equipment.structure": "9 USD/W",
    "equipment.foundation": "9000 USD",
    "equipment.box": "900 USD/kWh",
    "trips.freight": "90 USD/kg",
}


def _with(problem, **tables):
    changed = problem.design.tables.model_copy(update=tables)
    return replace(problem, design=replace(problem.design, tables=changed))


def _priced(problem, stated):
    own = {"module": 70, "battery_unit": 260, **stated}
    return _with(problem, costs=Costs.model_validate(own))


def _stated(key, value):
    table, name = key.split(".")
    return {table: {name: value}}


@pytest.mark.parametrize("key", KEYS)
def test_each_price_of_the_site_file_takes_the_place_of_the_built_in_one(prepared, key):
    """A stated price has no range left, and moves its own line only."""
    built_in = cost_lines(prepared("starter"), 9, 4)
    stated = cost_lines(_priced(prepared("starter"), _stated(key, KEYS[key])), 9, 4)
    assert [line.key for line in built_in] == [line.key for line in stated]
    for before, after in zip(built_in, stated, strict=True):
        if before.key == f"costs.{key}":
            assert before.low < before.cost < before.high < after.cost
            assert after.low == after.cost == after.high
            assert after.status == "user input"
        else:
            assert before.cost == after.cost


def test_cost_rises_with_every_piece(prepared):
    """So that the cheapest design lies on the frontier."""
    problem = prepared("starter")
    grid = [[installed_cost(problem, a, b) for b in range(1, 12)] for a in range(1, 60)]
    for row, larger in pairwise(grid):
        assert all(more > less for less, more in zip(row, larger, strict=True))
        assert all(more > less for less, more in pairwise(row))


def test_a_mast_carries_so_many_watts_and_has_one_foundation(prepared):
    """Twelve modules of 50 W stand on one mast of 600 W, the thirteenth on a second."""
    problem = prepared("starter")
    most_w = price_tables()["mast_carries"]["value"]
    each_w = problem.array.module.power_w
    for strings in (1, int(most_w / each_w), int(most_w / each_w) + 1):
        found = {x.piece: x for x in cost_lines(problem, strings, 1)}["foundations"]
        assert found.count == ceil(strings * each_w / most_w)
        assert found.cost == found.count * price_tables()["foundation"]["value"]


def test_built_in_dollars_are_not_mixed_into_another_currency(prepared):
    """Without a rate only what the site file states is counted, and that is told."""
    stated = {"currency": "EUR", "equipment": {"box": "100 EUR/kWh"}}
    problem = _priced(prepared("starter"), stated)
    lines = cost_lines(problem, 9, 4)
    assert {x.status for x in lines} == {"user input"}
    assert "costs.per_usd" in counted_words(problem)
    with_rate = _priced(prepared("starter"), {"currency": "EUR", "per_usd": 0.5})
    dollars = {x.key: x for x in cost_lines(prepared("starter"), 9, 4)}
    for line in cost_lines(with_rate, 9, 4):
        share = 1.0 if line.status == "user input" else 0.5
        assert line.cost == pytest.approx(share * dollars[line.key].cost)


def test_dear_masts_turn_the_pick_to_fewer_modules(prepared):
    """What stands under a module counts in the ranking, not its own price alone."""
    cheap = size(_priced(prepared("starter"), {}))
    dear = size(_priced(prepared("starter"), {"equipment": {"structure": "9 USD/W"}}))
    assert dear.pick.modules < cheap.pick.modules


def test_a_named_controller_stands_for_itself(prepared):
    """Its number and its price are the site's, whatever the array asks."""
    named = {"part": "charge-controller-mppt-75v-10a", "parallel": 3}
    own = prepared("starter").design.tables.regulator.model_copy(update=named)
    problem = _with(prepared("starter"), regulator=own)
    assert chosen_controller(problem, 9) == ("charge-controller-mppt-75v-10a", 3)
    line = next(x for x in cost_lines(problem, 9, 4) if x.piece == "charge controller")
    part = problem.design.parts["charge-controller-mppt-75v-10a"]
    assert line.cost == 3 * part.price.typical


@pytest.mark.parametrize(("amps", "each", "name"), [
    (20, 1, "charge-controller-mppt-100v-20a"), (12, 2, "charge-controller-mppt-75v-15a"),
    (500, 1, "charge-controller-mppt-150v-50a"),
])  # fmt: skip
def test_a_stated_charge_current_is_the_controller_that_is_bought(
    prepared, amps, each, name
):
    """Clipping that the site states stays; a limit beyond the array's need asks no more."""
    limit = {"maximum_charge_a": float(amps), "parallel": each}
    own = prepared("starter").design.tables.regulator.model_copy(update=limit)
    problem = _with(prepared("starter"), regulator=own)
    assert chosen_controller(problem, 9) == (name, each)
