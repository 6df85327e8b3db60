"""Which machines, tanks and banks a comparison tries: each choice worked by hand."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from powerbudget.compare.break_even import (
    _far,
    _prices,
    _scan,
    sized_turn,
)
from powerbudget.compare.lifecycle import Terms
from powerbudget.compare.machines import (
    CLASSES_W,
    MOST_UNITS,
    TANKS_L,
    _tanks,
    fuels_for,
    full_burn_l_d,
    make_tank,
    source,
    start_stop_frac,
    stock_days,
    templates,
    with_tank,
)
from powerbudget.compare.search import (
    NEVER,
    _fitting,
    _guess,
    _nearness,
    _settled,
    _share,
    _units,
    _worth_trying,
)
from powerbudget.generators.library import fuels
from powerbudget.generators.unit import make_unit
from powerbudget.site.generator import Access, Generator

HALF = (0.4, 0.7)


def machine(name, kind, fuel, watts, **more):
    """Return one table of a generator."""
    return Generator.model_validate(
        {"name": name, "kind": kind, "fuel": fuel, "rated": f"{watts} W", **more}
    )


def place(load_w=100.0, degc=(20.0, 30.0), own=(), prices=None):
    """Return what a search asks of a site that is neither simulated nor priced."""
    tables = SimpleNamespace(site=SimpleNamespace(elevation_m=0.0))
    book = SimpleNamespace(
        generator=lambda _, watts: (prices or {}).get(watts, 10.0 * watts),
        carries_l=lambda: 400.0,
    )
    return SimpleNamespace(
        load_w=load_w, hottest_degc=np.array(degc), own=own, start_stop_frac=HALF,
        book=book, problem=SimpleNamespace(design=SimpleNamespace(tables=tables)),
    )  # fmt: skip


@pytest.mark.parametrize("wanted", [1.0, 29.0, 31.0, 450.0, 451.0, 3800.0, 3801.0, 9e3])
def test_tanks_are_the_smallest_that_hold_enough(wanted):
    """One where one is enough, else of the largest as few as do."""
    size, count = _tanks(wanted)
    assert size * count >= wanted
    if wanted <= max(TANKS_L):
        assert (count, size) == (1, min(t for t in TANKS_L if t >= wanted))
    else:
        assert size == max(TANKS_L)
        assert size * (count - 1) < wanted


def _stock(closed, delay):
    access = Access.model_validate({"closed": closed, "delay": delay})
    return stock_days(SimpleNamespace(access=access))


def test_a_tank_lasts_two_months_beyond_the_closed_season_and_the_delay():
    """A longer season and a longer delay each add their days, and 60 stay beyond."""
    assert _stock("1 Jan to 30 Jan", "5 d") == 30 + 5 + 60
    assert _stock("1 Jan to 10 Jan", "5 d") == 10 + 5 + 60
    assert stock_days(SimpleNamespace(access=None)) >= 60


@pytest.mark.parametrize("trip", [1.0, 90.0, 4000.0])
@pytest.mark.parametrize("litre", [0.5, 6.0])
@pytest.mark.parametrize("fuel", ["propane", "methanol"])
def test_tanks_cost_least_with_the_trips_that_fill_them(fuel, trip, litre):
    """Every stock from what access asks to two years is priced, the cheapest bought."""
    burn_l_d, years, carries_l = 4.0, 15, 700.0
    tables = SimpleNamespace(
        access=Access.model_validate({"closed": "1 Dec to 29 Jan", "delay": "10 d"})
    )
    book = SimpleNamespace(
        delivery=lambda: trip, carries_l=lambda: carries_l,
        tank=lambda litres: litre * litres, own=SimpleNamespace(horizon_years=years),
    )  # fmt: skip
    row = fuels()[fuel]
    used = row.fill_frac - (max(row.unusable_frac, 0.3))
    sums = {}
    for days in (130.0, 180.0, 365.0, 730.0):
        size, count = _tanks(burn_l_d * days / used)
        filled_l = size * count * used
        each_l = min(carries_l, filled_l)
        trips = years * 365.25 * burn_l_d / each_l
        sums[days] = litre * size * count + trips * trip, size, count
    _, size, count = sums[min(sums, key=lambda days: sums[days][0])]
    tank = make_tank(burn_l_d, fuel, tables, book)
    assert (tank.volume_l, tank.count) == (size, count)
    assert tank.largest_delivery_l == carries_l


def test_what_one_machine_of_the_site_burns_is_tried_for_its_own_kind_only():
    """Diesel of an engine does not feed a burner; site gas comes first where it is."""
    own = (machine("set", "engine", "diesel", 900),
           machine("line", "other", "none", 900))  # fmt: skip
    bare, gas = SimpleNamespace(has_gas=False), SimpleNamespace(has_gas=True)
    assert fuels_for("engine", bare, own) == ("propane", "diesel")
    assert fuels_for("thermoelectric", bare, own) == ("propane",)
    assert fuels_for("thermoelectric", gas, own) == ("natural-gas", "propane")
    assert fuels_for("methanol-cell", gas, own) == ("methanol",)
    assert fuels_for("other", bare, own) == ("propane",)


def test_a_helper_starts_above_the_floor_and_stops_a_quarter_later():
    """15 points above what must be left, then 25 more, as far as a bank can go."""
    for floor in (0.1, 0.3, 0.55):
        start, stop = start_stop_frac(floor)
        assert (start - floor, stop - start) == pytest.approx((0.15, 0.25))
    assert start_stop_frac(0.65) == pytest.approx((0.80, 0.97))
    assert start_stop_frac(0.9) == pytest.approx((0.85, 0.97))


def test_a_class_that_can_stop_is_told_when_and_a_steady_one_is_not():
    """States of charge in whole percent, watts as of the class."""
    helper = source("engine", "propane", 2000.0, (0.453, 0.704))
    assert helper.dispatch == "battery"
    assert (helper.start, helper.stop) == (("state", 0.45), ("state", 0.70))
    burner = source("thermoelectric", "propane", 54.0, HALF)
    assert (burner.rated_w, burner.start, burner.stop) == (54.0, None, None)


def test_the_sites_own_machines_stand_in_for_the_classes_of_their_kind_and_fuel():
    """By rising watts, one of each; another fuel leaves the classes."""
    own = (machine("big", "engine", "propane", 900, quantity=3),
           machine("small", "engine", "propane", 300),
           machine("oil", "engine", "diesel", 500))  # fmt: skip
    mine = templates("engine", "propane", own, HALF)
    assert [(g.name, g.quantity) for g in mine] == [("small", 1), ("big", 1)]
    classes = templates("engine", "natural-gas", own, HALF)
    assert [g.rated_w for g in classes] == list(CLASSES_W["engine"])


def test_fuel_that_comes_by_pipe_or_has_its_tank_gets_none():
    """Propane without a tank gets one for its share of full fire."""
    tables = SimpleNamespace(access=None)
    book = SimpleNamespace(
        delivery=lambda: 50.0, carries_l=lambda: 500.0, tank=lambda litres: litres,
        own=SimpleNamespace(horizon_years=20),
    )  # fmt: skip
    gas = machine("gas", "engine", "natural-gas", 900)
    kept = machine("kept", "engine", "propane", 900, tank={"volume": "77 L"})
    assert with_tank(gas, tables, book) is gas
    assert with_tank(kept, tables, book) is kept
    bare = machine("bare", "engine", "propane", 900)
    made = with_tank(bare, tables, book, 0.3)
    assert made.tank == make_tank(0.3 * full_burn_l_d(bare), "propane", tables, book)


@pytest.mark.parametrize(("load", "watts"), [(100.0, 54.0), (30.0, 54.0), (53.0, 54.0)])
def test_units_carry_the_load_with_3_percent_to_spare(load, watts):
    """Through the mean of the hottest month, at the height of the site."""
    site, unit = place(load), machine("a", "thermoelectric", "propane", watts)
    each_w = float(np.mean(make_unit(unit, 0.0).bus_w(site.hottest_degc)))
    count = _units(site, unit)
    assert count * each_w >= 1.03 * load > (count - 1) * each_w
    assert _units(place(load, (400.0, 400.0)), unit) == NEVER


@pytest.mark.parametrize(
    ("kind", "count", "share"),
    [("thermoelectric", 2, 1.0), ("vapor-turbine", 1, 1.0), ("engine", 1, 0.26),
     ("engine", 2, 0.13), ("methanol-cell", 1, 0.26)],
)  # fmt: skip
def test_a_burner_burns_always_and_others_about_as_the_load_asks(kind, count, share):
    """1.3 times the load over the watts of all units, at most all of the time."""
    unit = SimpleNamespace(kind=kind, rated_w=500.0)
    assert _share(place(100.0), unit, count) == pytest.approx(share)
    assert _share(place(450.0), unit, 1) == 1.0


@pytest.mark.parametrize("kind", ["engine", "thermoelectric"])
@pytest.mark.parametrize("fuel", ["propane", "natural-gas"])
def test_a_class_is_ranked_by_price_fuel_and_trips(kind, fuel):
    """A quarter on the price; a year's litres at their price, and trips but for gas."""
    unit = source(kind, fuel, 1000.0, HALF)
    site = place(300.0, prices={1000.0: 7000.0})
    terms = SimpleNamespace(
        fuel_price={fuel: 0.8}, delivery=240.0, fuel_escalation_frac=0.02,
        uniform=lambda rise: 12.0 + 100.0 * rise,
    )  # fmt: skip
    count = _units(site, unit)
    litres = count * _share(site, unit, count) * full_burn_l_d(unit) * 365.25
    yearly = litres / fuels()[fuel].litres_per_unit * 0.8
    yearly += 0.0 if fuel == "natural-gas" else litres / 400.0 * 240.0
    wanted = 1.25 * 7000.0 * count + yearly * 14.0
    assert _guess(site, unit, terms) == pytest.approx(wanted)


def test_two_classes_of_few_units_are_tried_and_the_largest_where_none_has_few():
    """At most six units, the two that look cheapest; else the last class."""
    terms = SimpleNamespace(
        fuel_price={}, delivery=0.0, fuel_escalation_frac=0.0, uniform=lambda _: 1.0
    )
    prices = dict.fromkeys(CLASSES_W["thermoelectric"], 5000.0)
    site = place(400.0, prices=prices)
    sizes = templates("thermoelectric", "propane", (), HALF)
    few = [unit for unit in sizes if _units(site, unit) <= 6]
    by_cost = sorted(few, key=lambda unit: _units(site, unit))
    tried = _worth_trying(site, "thermoelectric", "propane", terms)
    assert [unit.rated_w for unit in tried] == [unit.rated_w for unit in by_cost[:2]]
    assert _units(site, sizes[len(sizes) - len(few) - 1]) > MOST_UNITS
    huge = _worth_trying(place(9e5), "thermoelectric", "propane", terms)
    assert [unit.rated_w for unit in huge] == [CLASSES_W["thermoelectric"][-1]]


@pytest.mark.parametrize(
    ("load", "rated"),
    [(10.0, [21.0]), (17.5, [21.0]), (17.6, [21.0, 54.0]), (90.0, [54.0, 108.0]),
     (91.0, [108.0, 220.0]), (900.0, [550.0])],
)  # fmt: skip
def test_a_helper_is_the_size_just_below_or_above_the_load(load, rated):
    """Above means a fifth more than the load."""
    sizes = templates("thermoelectric", "propane", (), HALF)
    assert [unit.rated_w for unit in _fitting(place(load), sizes)] == rated


def test_the_nearest_miss_fails_fewest_and_by_least():
    """One criterion missed by much is nearer than two by little."""

    def trial(*orders):
        failed = [SimpleNamespace(held=SimpleNamespace(order=x)) for x in orders]
        return SimpleNamespace(failed=failed)

    far, near, two = trial(-0.5), trial(-0.1), trial(-0.01, -0.02)
    assert max((far, near, two), key=_nearness) is near
    assert _nearness(two) < _nearness(far) < _nearness(near) < _nearness(trial())
    assert _nearness(two)[1] == -0.02


@pytest.mark.parametrize(
    ("least", "enough"), [(1, 1), (1, 5), (3, 3), (3, 23), (7, 400)]
)
def test_the_smallest_bank_that_is_enough_is_found_between_the_rungs(least, enough):
    """And no more banks are run than a halving needs."""
    tried = []

    def attempt(strings, battery, sources):
        tried.append(battery)
        failed = [] if battery >= enough else [SimpleNamespace(name="autonomy")]
        return SimpleNamespace(strings=strings, battery=battery, generators=sources,
                               met=not failed, failed=failed)  # fmt: skip

    found = _settled(SimpleNamespace(attempt=attempt), 2, least, ())
    assert (found.battery, found.met, found.strings) == (enough, True, 2)
    assert len(tried) <= 3 * (1 + math.log2(400))


def test_a_criterion_that_no_bank_cures_ends_the_search_at_the_first():
    """Too little array is not looked for among larger banks."""
    tried = []

    def attempt(strings, battery, sources):
        tried.append(battery)
        failed = [SimpleNamespace(name="array-to-load ratio, Dec")]
        return SimpleNamespace(battery=battery, met=False, failed=failed)

    found = _settled(SimpleNamespace(attempt=attempt), 2, 3, ())
    assert (found.battery, tried) == (3, [3])


@pytest.mark.parametrize("most", [math.inf, 200.0])
def test_sizes_are_found_anew_at_the_same_steps_up_and_down(most):
    """A quarter, 60 %, 2.5 and 4 times more and less, the nearest first."""
    asked = []

    def first(value):
        asked.append(value)
        return "sun"

    turn = sized_turn("load", "W", 100.0, first, most)
    steps = [(r, 1 / r) for r in (1.25, 1.6, 2.5, 4.0)]
    tried = [100.0 * r for pair in steps for r in pair if 100.0 * r <= most]
    assert asked[0] == 100.0
    assert [x for x in asked if x != 100.0] == pytest.approx(tried)
    assert (turn.turns_at, turn.takes_over) == (None, "")
    assert (turn.low, turn.high) == pytest.approx((min(tried), max(tried)))


@pytest.mark.parametrize(("edge", "side"), [(130.0, 1), (390.0, 1), (70.0, -1)])
def test_a_turn_lies_between_two_tried_values_a_fiftieth_apart(edge, side):
    """Told by the middle of both, on whichever side of today it is."""

    def first(value):
        return "sun" if (value < edge) == (side > 0) else "gas"

    turn = sized_turn("load", "W", 100.0, first)
    near, far = turn.between
    assert first(near) == "sun"
    assert first(far) == turn.takes_over == "gas"
    assert max(turn.between) / min(turn.between) <= 1.02 + 1e-9
    assert turn.turns_at == pytest.approx(math.sqrt(near * far))


@pytest.mark.parametrize(
    ("start", "end"), [(2.0, 20.0), (2.0, 0.1), (2.0, 0.0), (0, 3)]
)
def test_each_side_of_a_price_is_scanned_in_24_steps_to_its_end(start, end):
    """By ratio where both ends are above zero, else by difference."""
    steps = list(_scan(start, end))
    assert len(steps) == 24
    assert steps[-1] == pytest.approx(end)
    line = [float(start), *steps]
    by = np.diff(np.log(line)) if start > 0 and end > 0 else np.diff(line)
    assert by == pytest.approx(np.full(24, by.mean()))
    assert list(_scan(3.0, 3.0)) == []


def test_how_far_a_turn_lies_is_a_ratio_where_there_is_one():
    """Three times as much is as far as a third; from nothing the distance counts."""
    assert _far(6.0, 2.0) == _far(2.0 / 3.0, 2.0) == pytest.approx(3.0)
    assert (_far(0.5, 0.0), _far(0.0, 0.5), _far(-0.3, 0.0)) == (0.5, 0.5, 0.3)


def test_prices_rates_and_lives_move_alone_over_their_spans():
    """Each puts its own value into the terms; both trips move together."""
    terms = Terms(20, 0.04, "end-of-year", {"propane": 0.5, "natural-gas": 0.0},
                  300.0, 120.0, 80.0, 0.3)  # fmt: skip
    met = [SimpleNamespace(fuel=f, fuel_unit=u) for f, u in
           (("propane", "L"), ("natural-gas", "m3"), ("", ""))]  # fmt: skip
    rows = {
        name: (unit, span, at) for name, unit, span, at in _prices(met, terms, "EUR")
    }
    spans = {name: row[:2] for name, row in rows.items()}
    assert spans == {
        "price of propane": ("EUR/L", (0.05, 0.5, 5.0)),
        "price of natural gas": ("EUR/m3", (0.0, 0.0, 1.0)),
        "cost of a visit": ("EUR", (15.0, 300.0, 6000.0)),
        "discount rate": ("%", (0.0, 4.0, 15.0)),
        "module price": ("x assumed", (0.1, 1.0, 10.0)),
        "battery price": ("x assumed", (0.1, 1.0, 10.0)),
        "generator price": ("x assumed", (0.1, 1.0, 10.0)),
        "battery life": ("x assumed", (0.2, 1.0, 2.0)),
        "generator life": ("x assumed", (0.2, 1.0, 2.0)),
    }
    gas = rows["price of natural gas"][2](0.7)
    assert gas.fuel_price == {"propane": 0.5, "natural-gas": 0.7}
    trips = rows["cost of a visit"][2](450.0)
    assert (trips.visit, trips.delivery) == pytest.approx((450.0, 180.0))
    assert rows["discount rate"][2](7.0).rate_frac == pytest.approx(0.07)
    assert rows["battery price"][2](3.0).piece_factor == {"battery": 3.0}
    assert rows["generator life"][2](0.5).life_factor == {"generator": 0.5}
