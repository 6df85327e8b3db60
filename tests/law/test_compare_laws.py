"""Present values by a second library, and what must hold for every option."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from powerbudget.compare.break_even import price_turn
from powerbudget.compare.emissions import fuel_heat_mmbtu, fuel_quantity
from powerbudget.compare.fuel_price import fuel_si
from powerbudget.compare.lifecycle import Bill, Piece, Terms, life_cycle
from powerbudget.compare.money import (
    CONVENTIONS,
    left_frac,
    replacement_years,
    single_factor,
    timing_factor,
    uniform_factor,
)
from powerbudget.compare.power_line import extension_cost, reach_m
from powerbudget.compare.prices import price_at
from powerbudget.site.costs import Price
from powerbudget.site.prices import price_tables

npf = pytest.importorskip("numpy_financial")

RATES = st.floats(0.0, 0.25)
YEARS = st.integers(1, 40)
TERMS = Terms(20, 0.03, "end-of-year", {"propane": 0.66}, 600.0, 350.0, 150.0, 0.5)


# The library divides by the rate, so its digits go where the rate does.
@given(st.floats(1e-4, 0.25), YEARS)
def test_uniform_factor_is_the_present_value_of_an_annuity(rate, years):
    """A financial library says the same at the end and the beginning of years."""
    end = -npf.pv(rate, years, 1.0, when="end")
    begin = -npf.pv(rate, years, 1.0, when="begin")
    assert uniform_factor(rate, years) == pytest.approx(end, rel=1e-7)
    assert uniform_factor(rate, years, "annuity-due") == pytest.approx(begin, rel=1e-7)


@given(RATES, YEARS, st.sampled_from(CONVENTIONS))
def test_uniform_factor_is_the_sum_of_single_ones(rate, years, convention):
    """Year by year or at once, under every convention."""
    one_by_one = sum(single_factor(rate, t, convention) for t in range(1, years + 1))
    assert uniform_factor(rate, years, convention) == pytest.approx(
        one_by_one, rel=1e-7
    )


@given(st.floats(0.001, 0.25))
def test_conventions_stand_in_order(rate):
    """The earlier in its year a cost falls, the more it weighs."""
    end, middle, flow, start = (
        timing_factor(rate, name)
        for name in ("end-of-year", "mid-year", "continuous", "annuity-due")
    )
    assert end < middle < flow < start


@given(st.floats(0.01, 0.2))
def test_continuous_flow_is_the_limit_of_many_payments(rate):
    """Ten thousand equal payments through the first year."""
    n = 10_000
    many = sum((1 + rate) ** -((k + 0.5) / n) for k in range(n)) / n
    assert single_factor(rate, 1, "continuous") == pytest.approx(many, rel=1e-8)


@given(st.floats(0.5, 45.0), YEARS)
def test_lives_cover_the_study(life, horizon):
    """Pieces bought, times their life, less what is left, are the study's years."""
    bought = 1 + len(replacement_years(life, horizon))
    covered = (bought - left_frac(life, horizon)) * life
    assert covered == pytest.approx(horizon, rel=1e-6)


def _bill(fuel=900.0):
    pieces = (
        Piece("panels", "PV modules", 1000.0, 20.0, mass_kg=60.0),
        Piece("battery", "battery", 1500.0, 8.0, mass_kg=150.0),
        Piece("unit", "generator", 9000.0, 15.0),
    )
    return Bill(pieces, "propane", fuel, 2.0, 3.0, 1.0, {"fee": 40.0}, (), 1400.0)


def test_a_life_cycle_is_the_sum_of_a_cash_flow():
    """The same money laid out by the year and discounted by a financial library."""
    terms = replace(TERMS, freight_per_kg=2.0, carbon_per_kg=0.05)
    flow = [0.0] * 21
    flow[0] = 11_500 * 1.5 + 2.0 * 210
    for year in range(1, 21):
        flow[year] = 900 * 0.66 + 2 * 600 + 3 * 350 + 150 + 40 + 1400 * 0.05
    flow[8] += 1500 + 300
    flow[16] += 1500 + 300
    flow[15] += 9000
    flow[20] -= 1500 * 0.5 + 9000 * (10 / 15)
    assert life_cycle(_bill(), terms).total == pytest.approx(npf.npv(0.03, flow))


@given(st.floats(0.0, 5.0), st.floats(0.01, 5.0))
def test_dearer_fuel_never_lowers_a_cost(price, more):
    """Total rises with the price of what is burnt, and only the fuel moves."""
    low = life_cycle(_bill(), replace(TERMS, fuel_price={"propane": price}))
    high = life_cycle(_bill(), replace(TERMS, fuel_price={"propane": price + more}))
    assert high.total > low.total
    assert high.capital == low.capital


def test_no_discount_adds_money_up():
    """At 0 % a cost a year is multiplied by its years under every convention."""
    for convention in CONVENTIONS:
        assert uniform_factor(0.0, 17, convention) == pytest.approx(17.0)


@given(st.floats(0.06, 4.9), st.floats(0.1, 4.9))
def test_a_turning_value_makes_two_costs_equal(root, start):
    """One option is cheaper before it and another behind it."""
    turn = price_turn(
        "price", "USD", (0.05, start, 5.0), lambda x: "gas" if x < root else "sun"
    )
    at = turn.turns_at
    if abs(root - start) < 1e-9:
        return
    assert at == pytest.approx(root, rel=2e-3)


@given(st.floats(0.0, 50_000.0), st.floats(1.0, 60.0), st.floats(0.0, 1000.0))
def test_reach_is_the_length_that_a_sum_pays_for(cost, per_m, free):
    """A line of that length costs the sum again."""
    length = reach_m(cost, per_m, free)
    assert extension_cost(length, per_m, free) == pytest.approx(cost, abs=1e-6)


@given(st.floats(0.1, 1e5), st.sampled_from(["natural-gas", "propane", "methanol"]))
def test_heat_and_quantity_are_inverse(quantity, fuel):
    """There and back."""
    back = fuel_quantity(fuel_heat_mmbtu(quantity, fuel), fuel)
    assert back == pytest.approx(quantity, rel=1e-12)


@pytest.mark.parametrize("fuel", ["natural-gas", "propane", "methanol", "diesel"])
def test_heat_of_emissions_and_of_generators_agree(fuel):
    """Fuel is counted twice over, for its energy and for its CO2: one heating value."""
    from powerbudget.generators.library import fuels

    row = fuels()[fuel]
    mmbtu = row.heat_mj_per_l * row.litres_per_unit / 1055.05585
    assert fuel_heat_mmbtu(1.0, fuel) == pytest.approx(mmbtu, rel=2e-3)


def test_a_price_by_heat_is_a_price_by_volume():
    """1 GJ and 1 mmBtu of gas cost in the ratio of their heat."""
    by_gj = fuel_si(Price(10.0, "USD", "GJ"), "natural-gas")
    by_btu = fuel_si(Price(10.0, "USD", "mmBtu"), "natural-gas")
    assert by_gj / by_btu == pytest.approx(1.05505585, rel=1e-6)


@pytest.mark.parametrize("kind", price_tables()["generator"])
def test_prices_of_sources_rise_with_their_size(kind):
    """Between and beyond the points, low under typical under high."""
    row = price_tables()["generator"][kind]
    sizes = [w * f for w in row["watts"] for f in (0.8, 1.0, 1.3)]
    found = [price_at(row["watts"], row["value"], w) for w in sorted(sizes)]
    assert found == sorted(found)
    for low, value, high in zip(row["low"], row["value"], row["high"], strict=True):
        assert low <= value <= high


def _rows(table):
    for value in table.values():
        if isinstance(value, dict) and "source" in value:
            yield value
        elif isinstance(value, dict):
            yield from _rows(value)


def test_every_built_in_price_says_where_it_comes_from():
    """Source, one of four status words, and a range that holds the value."""
    rows = list(_rows(price_tables()))
    assert len(rows) > 40
    for row in rows:
        assert row["status"] in {
            "published",
            "common practice",
            "unverified",
            "assumed",
        }
        assert len(row["source"]) > 7
        if not isinstance(row["value"], list):
            assert row["low"] <= row["value"] <= row["high"], row["title"]
