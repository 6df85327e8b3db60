"""Lines, wires, converters, sources and claims of a site: small sums worked by hand."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from reference import together
from reference.figures import tells

from powerbudget.balance.run import Run
from powerbudget.generators import output, propane, series
from powerbudget.generators.access import closed_days, days_without_visit
from powerbudget.generators.altitude import setups_w
from powerbudget.generators.unit import make_unit
from powerbudget.loads import (
    difference,
    items,
    lines,
    rack_findings,
    rack_slots,
    rails,
    unverified,
)
from powerbudget.loads.loop_checks import clips_at_a
from powerbudget.review import array_claims, battery_claims, battery_sums
from powerbudget.site.generator import Access, Generator
from powerbudget.site.parts import ConverterPart, load_parts


def bag(**values):
    """Return a bag of figures."""
    return SimpleNamespace(**values)


# ---------------------------------------------------------------- converters and wires


def supply(**more):
    """Return a converter of the site file of which nothing is stated."""
    names = (
        "output_v",
        "rated_w",
        "no_load_w",
        "efficiency_frac",
        "minimum_v",
        "part",
        "source",
    )
    return bag(**{**dict.fromkeys(names), "name": "s", **more})


def test_a_rail_is_that_of_its_part_until_the_file_says_otherwise():
    """A converter of the library, one in figures alone, and one that replaces each."""
    parts = load_parts()
    name = next(
        n for n, part in parts.items() if isinstance(part, ConverterPart) and part.input
    )
    part = parts[name]
    design = bag(parts=parts, own_status="user input")
    known = rails._rail(supply(part=name), design)
    assert (known.volts, known.no_load_w, known.rated_w) == (
        part.output,
        part.no_load,
        part.rated,
    )
    assert known.slope == pytest.approx(1 / part.efficiency - part.no_load / part.rated)
    assert (known.minimum_v, known.source, known.status) == (
        part.input.min,
        part.source,
        part.status,
    )
    bare = rails._rail(supply(output_v=24.0, rated_w=30.0, efficiency_frac=0.8), design)
    assert (bare.volts, bare.no_load_w, bare.minimum_v) == (24.0, 0.0, 0.0)
    assert (bare.slope, bare.source, bare.status) == (1.25, "site file", "user input")
    ideal = rails._rail(supply(output_v=24.0, rated_w=30.0), design)
    assert (ideal.slope, ideal.no_load_w) == (1.0, 0.0)
    own = supply(
        part=name, no_load_w=0.0, minimum_v=9.0, efficiency_frac=0.5, source="sheet"
    )
    own = rails._rail(own, design)
    assert (own.no_load_w, own.minimum_v, own.slope, own.source) == (
        0.0,
        9.0,
        2.0,
        "sheet",
    )


def test_a_converter_takes_its_idle_draw_and_its_slope():
    """2 W and 1.25 W each: 10 W out are 14.5 W in, 2.5 W of them by conversion."""
    rail = rails.Rail("s", 24.0, 2.0, 1.25, 30.0, 9.0)
    assert (rail.input_w(10.0), rail.conversion_w(10.0)) == (14.5, 2.5)
    twice = rail.scaled(2.0)
    assert (twice.no_load_w, twice.rated_w, twice.slope, twice.volts) == (
        4.0,
        60.0,
        1.25,
        24.0,
    )
    assert rail.scaled(0.0).rated_w == 30.0
    assert rails.Rail("bus", 12.0).input_w(7.0) == 7.0


def wired(count, shared, behaviour="power", ohm=0.5):
    """Return pieces on a wire of 0.5 ohm at 10 V."""
    wire = bag(shared=shared)
    load = bag(quantity=count, loop=None, wire=wire, supply=None)
    draw = bag(behaviour=behaviour, typical_w=20.0, maximum_w=40.0)
    return items.Item(load, None, rails.Rail("bus", 10.0), draw, np.full((12, 24), 0.25),
                      ohm, 3.0, "device", "", "")  # fmt: skip


@pytest.mark.parametrize(
    ("count", "shared", "watts"), [(1, False, 2.0), (3, False, 6.0), (3, True, 18.0)]
)
def test_a_wire_loses_by_the_square_of_its_current(count, shared, watts):
    """20 W at 10 V are 2 A; three on one pair are 6 A in it."""
    item = wired(count, shared)
    assert item.wire_w(20.0) == pytest.approx(watts)
    assert item.wire_average_w(0) == pytest.approx(watts / 4)
    assert wired(count, shared, "current").wire_w(20.0) == 0.0
    assert wired(count, shared, ohm=0.0).wire_w(20.0) == 0.0
    assert (item.on_w, item.maximum_w, item.strokes_w) == (
        20.0 * count,
        40.0 * count,
        3.0 * count,
    )
    assert item.average_w(5) == pytest.approx((5.0 + 3.0) * count)
    assert lines.rail_average_w([item], "", 0) == pytest.approx(8.0 * count + watts / 4)
    assert lines.rail_maximum_w([item], "") == pytest.approx(40.0 * count + 4 * watts)
    assert lines.rail_maximum_w([item], "s") == 0.0


def test_shares_of_energy_leave_the_contingency_out():
    """By status, by class, by kind and by priority."""

    def line(name, wh, **more):
        figures = {"quantity": 1, "typical_w": 1.0, "maximum_w": 1.0, "duty_frac": 1.0,
                   "supply": "bus", "status": "published", "kind": "radio", **more}  # fmt: skip
        return lines.Line(name=name, wh_per_day=wh, **figures)

    some = (
        line("a", 60.0),
        line("b", 30.0, status="assumed", load_class="momentary", priority="shed first"),
        line("c", 10.0, status="assumed", kind="regulator", hidden=True, load_class="parasitic"),
        line("d", 15.0, kind=lines.CONTINGENCY, status="user input"),
    )  # fmt: skip
    assert lines.status_shares(some) == {
        "published": 0.6,
        "assumed": pytest.approx(0.4),
    }
    assert lines.class_wh(some) == {
        "running": 60.0,
        "momentary": 30.0,
        "parasitic": 10.0,
    }
    assert lines.kinds_wh(some, {"radio"}) == 90.0
    assert lines.tier_w(some)["last"] == 2.5
    assert lines.tier_w(some)["shed first"] == 1.25
    assert lines.status_shares(()) == {}
    more = some[0].scaled(2.0)
    assert (more.wh_per_day, more.typical_w, more.maximum_w, more.duty_frac) == (
        120.0,
        2.0,
        2.0,
        1.0,
    )


def test_what_changed_between_two_budgets_is_told_by_figure():
    """The largest change first; a last bit is none."""

    def line(name, wh, watts=1.0, **more):
        figures = {"quantity": 1, "maximum_w": 2.0, "duty_frac": 0.5, "supply": "bus", "part": "",
                   "priority": "last", "hidden": False, **more}  # fmt: skip
        return bag(name=name, wh_per_day=wh, typical_w=watts, **figures)

    a = bag(lines=(line("same", 10.0), line("gone", 5.0), line("moved", 10.0)))
    b = bag(lines=(line("same", 10.0 + 1e-7, 1.0 + 1e-10), line("moved", 40.0, 4.0, quantity=2),
                   line("new", 7.0, hidden=True)))  # fmt: skip
    rows = difference.changes(a, b)
    assert [(row.name, row.change, row.delta_wh_per_day) for row in rows[:3]] == [
        ("moved", "changed", 30.0), ("new", "added", 7.0), ("gone", "removed", -5.0)
    ]  # fmt: skip
    assert (rows[3].name, rows[3].change, rows[3].why) == ("same", "same", "")
    assert rows[0].why == "qty 1 to 2, typical W 1 to 4"
    assert (rows[1].hidden, rows[1].a_w, rows[1].b_wh_per_day) == (True, 0.0, 7.0)
    assert (rows[2].b_w, rows[2].a_wh_per_day, rows[2].b_wh_per_day) == (0.0, 5.0, 0.0)
    assert difference._show("") == "none"


@pytest.mark.parametrize(
    ("own", "part", "low", "high"),
    [((1.0, 0.8), None, (0.5, 0.9), (1.5, 0.7)), ((None, None), (2.0, 0.6), (1.0, 0.8), (3.0, 0.4)),
     ((1.0, None), None, (0.5, 1.0), (1.5, 1.0))],
)  # fmt: skip
def test_losses_of_an_unverified_converter_may_be_half_as_much_either_way(
    own, part, low, high
):
    """Idle draw and what is lost of its output; without a figure nothing is lost."""
    converter = None if part is None else ConverterPart.model_construct(
        no_load=part[0], efficiency=part[1], status="unverified"
    )  # fmt: skip

    class Own(SimpleNamespace):
        def model_copy(self, update):
            return bag(**{**vars(self), **update})

    tables = Own(
        supply=(Own(name="s", part="p", no_load_w=own[0], efficiency_frac=own[1]),)
    )
    design = Own(
        parts={"p": converter} if converter else {}, tables=tables, own_status="assumed"
    )
    [gap] = unverified._open_supplies(design)
    for level, wanted in (("low", low), ("high", high)):
        [moved] = gap.change(design, level).supplies
        assert (moved.no_load_w, moved.efficiency_frac) == pytest.approx(wanted)


# ---------------------------------------------------------------- racks and loops


@pytest.mark.parametrize(
    ("mount", "found"),
    [("cards", ["built-in di 1", "built-in di 2", "card 1, channel 1", "card 1, channel 3",
                "card 2, channel 1"]),
     ("nodes", ["built-in di 1", "built-in di 2", "node, di 1", "node, di 3", "node, di 5"])],
)  # fmt: skip
def test_built_in_points_are_filled_before_cards_or_nodes(monkeypatch, mount, found):
    """Each counted from 1; a tag of two points takes both."""
    names = rack_slots.places.__globals__
    monkeypatch.setitem(names, "card_of", lambda *_: "card")
    monkeypatch.setitem(names, "POOLS", {})
    tags = [bag(signal="di", quantity=q, port=None) for q in (1, 1, 2, 2, 1)]
    count = bag(card="card", built_in=2, channels=4)
    result = bag(counts=[count], mount=mount, nodes=object())
    assert rack_slots.places(bag(tags=tags), bag(node="node"), result) == found
    serial = [bag(signal="serial", quantity=1, port=port) for port in (None, "COM1")]
    told = rack_slots.places(bag(tags=serial), bag(node="node"), result)
    assert told == ["card, shared port", "card, COM1"]


def tag(signal, count=2, **more):
    """Return a tag of so many points of which nothing is stated."""
    figures = {"signal": signal, "quantity": count, "spare": False, "powered": "", "load_w": None,
               "current_a": None, "normal": "", "duty_frac": None}  # fmt: skip
    return bag(**{**figures, **more})


def test_the_field_side_of_a_tag_draws_by_its_kind(monkeypatch):
    """Loops at 24 V, contacts on the bus, stated watts, coils; nothing of a spare."""
    names = rack_slots.tag_w.__globals__
    monkeypatch.setitem(names, "live_share", lambda one: one.duty_frac or 1.0)
    rack = bag(loop_supply="l", low_power_supply=None, wetting_supply=None, wetting_a=0.002,
               solenoid="coil")  # fmt: skip
    volts = {"": 12.0, "l": 24.0}

    def watts(one, parts=None):
        return rack_slots.tag_w(one, rack, parts or {}, volts)

    mean, most = names["MEAN_A"], names["FAULT_HIGH_A"]
    assert watts(tag("ai")) == pytest.approx((2 * mean * 24.0, 2 * most * 24.0))
    assert watts(tag("ai", current_a=0.03)) == pytest.approx(
        (2 * 0.03 * 24.0, 2 * 0.03 * 24.0)
    )
    low = names["LOW_POWER_A"]
    assert watts(tag("ai-low-power")) == pytest.approx((2 * low * 12.0, 2 * low * 12.0))
    wet = names["WETTING_MOST_A"]
    di = watts(tag("di", duty_frac=0.5, current_a=9.0))
    assert di == pytest.approx((2 * 0.5 * 0.002 * 12.0, 2 * max(0.001, wet) * 12.0))
    assert watts(tag("do", load_w=6.0, duty_frac=0.25)) == (3.0, 12.0)
    assert watts(tag("solenoid")) == (0, 0)
    assert watts(tag("do")) == (0.0, 0.0)
    assert watts(tag("ai", spare=True)) == (0.0, 0.0)
    assert watts(tag("ai", powered="field")) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("count", "more"), [(5, ""), (6, " and 1 more"), (9, " and 4 more")]
)
def test_what_a_list_leaves_unsaid_is_told_for_five_rows(count, more):
    """All points are counted, five rows are named."""
    live = [tag("di", 3, tag=f"t{k}", row=k) for k in range(count)]
    [note] = [
        one for one in rack_findings.assumed(tuple(live)) if "contacts" in one.text
    ]
    assert note.text.startswith(f"Rack: {3 * count} contacts have no normal state")
    assert note.text.endswith(f": t0, t1, t2, t3, t4{more}.")


@pytest.mark.parametrize(
    ("supply_v", "amps"),
    [(24.0, None), (15.5, 0.020), (13.7, 0.0128), (11.4, 0.0036), (11.0, 0.0036)],
)
def test_a_loop_clips_where_its_terminals_fall_short(supply_v, amps):
    """10.5 V behind 250 ohm: (U - 10.5) / 250."""
    found = clips_at_a(supply_v, 250.0, ((0.004, 10.5),), (0.0036, 0.021))
    assert found == (None if amps is None else pytest.approx(amps, abs=1e-6))


# ---------------------------------------------------------------- sources


@together.parametrize(
    ("closed", "days"),
    [("10 Jan to 10 Jan", 1), ("1 Jan to 31 Dec", 365), ("15 Dec to 14 Jan", 31),
     ("28 Feb to 1 Mar", 2), ("1 Apr to 30 Apr", 30), ("30 Sep to 1 Oct", 2),
     ("31 Oct to 1 Nov", 2), ("30 Nov to 1 Dec", 2), ("31 May to 1 Jun", 2),
     ("30 Jun to 1 Jul", 2), ("31 Jul to 1 Aug", 2), ("31 Aug to 1 Sep", 2),
     ("31 Mar to 1 Apr", 2), ("30 Apr to 1 May", 2), ("31 Jan to 1 Feb", 2)],
)  # fmt: skip
def test_a_closed_season_counts_both_of_its_dates(closed, days):
    """Also over the end of a year; the wait has the delay on top."""
    access = Access.model_validate({"closed": closed, "delay": "4 d"})
    assert closed_days(access) == days
    assert days_without_visit(access) == days + 4
    assert closed_days(None) == 0.0
    assert days_without_visit(None) == Access().delay_d


@pytest.mark.parametrize(
    ("ran", "step", "warm", "share"),
    [(0.0, 1.0, 1.25, 0.0), (1.0, 1.0, 1.25, 0.75), (2.0, 1.0, 1.25, 1.0), (0.0, 0.5, 0.25, 0.5),
     (0.0, 1.0, 0.0, 1.0)],
)  # fmt: skip
def test_a_source_gives_nothing_until_it_is_warm(ran, step, warm, share):
    """The share of the interval after the warm-up."""
    assert output.productive_frac(ran, step, warm) == pytest.approx(share)


def test_output_falls_by_heat_height_and_years():
    """0.36 %/K from 20 degC held below -40; 10 %/km above 1.5 km; 5 % a year; never below 0."""
    degc = np.array([20.0, 40.0, -40.0, -60.0, 400.0])
    found = output.ambient_frac(degc, -0.0036, 20.0, -40.0)
    assert found == pytest.approx([1.0, 0.928, 1.216, 1.216, 0.0])
    assert [output.altitude_frac(h, 0.1, 1500.0) for h in (0.0, 1500.0, 2500.0, 2e4)] == [
        1.0, 1.0, pytest.approx(0.9), 0.0
    ]  # fmt: skip
    assert [output.age_frac(y, 0.05) for y in (0.0, 4.0, 30.0)] == [
        1.0,
        pytest.approx(0.8),
        0.0,
    ]


# NFPA and makers' tables of tanks are in US gal by cubic feet an hour: row 100 ft3/h at
# 0 degF asks for 400 gal; between rows and temperatures straight lines.
@pytest.mark.parametrize(
    ("ft3_h", "degf", "gallons"),
    [(50.0, -40.0, 600.0), (100.0, 0.0, 400.0), (200.0, 32.0, 400.0), (150.0, -30.0, 1500.0),
     (75.0, 0.0, 325.0), (100.0, -20.0, 750.0), (25.0, 0.0, 125.0), (50.0, 60.0, 115.0),
     (200.0, -60.0, 2500.0), (201.0, 0.0, math.inf)],
)  # fmt: skip
def test_a_tank_boils_off_by_the_table(ft3_h, degf, gallons):
    """2,500 Btu a cubic foot; less than the first row in proportion, more than the last never."""
    watts = ft3_h * 2500.0 * 0.29307107
    found = propane.tank_needed_l(watts, (degf - 32.0) / 1.8)
    assert found == pytest.approx(gallons * 3.785411784)


@pytest.mark.parametrize("height", [0.0, 2500.0])
@pytest.mark.parametrize("kpa", [20.0, 73.0, 165.0])
def test_a_burner_starves_where_the_gauge_falls_below_its_need(kpa, height):
    """The limit is the inverse of the gauge; beyond 60 degC there is none."""
    degc = propane.lowest_liquid_degc(kpa, height)
    assert propane.gauge_pressure_kpa(degc, height) == pytest.approx(kpa, rel=1e-9)
    assert propane.lowest_liquid_degc(5000.0, height) == math.inf


def burner(**more):
    """Return a burner of 100 W and 1,000 W of fuel in a tank of 4 kWh, one hour a step."""
    table = {"name": "b", "kind": "thermoelectric", "fuel": "propane", "rated": "100 W",
             "efficiency": "10 %", "tank": {"volume": "10 L", "refill_below": "50 %"},
             **more}  # fmt: skip
    unit = make_unit(Generator.model_validate(table), 0.0)
    state = series._Burner(unit, 1.0, 3.0)
    state.full_wh = state.left_wh = 4000.0
    state.order_wh, state.warm_h = 2000.0, 1.25
    return state


def test_a_burner_orders_waits_and_is_filled():
    """1 kWh an hour from 4: ordered below 2, empty after 4 h, filled 3 h after the order."""
    state = burner()
    rows = [state.pass_interval(100.0, series.RUNS, can_come=True) for _ in range(8)]
    stock = [row[3] for row in rows]
    assert stock == [3000.0, 2000.0, 1000.0, 0.0, 0.0, 3000.0, 2000.0, 1000.0]
    assert [row[4] for row in rows] == [False] * 5 + [True] + [False] * 2
    assert [row[2] for row in rows] == [0, 0, 0, 0, series.NO_FUEL, 0, 0, 0]
    # It has gone cold: 1.25 h of warm-up take the first interval and a quarter of the next.
    assert [row[0] for row in rows] == pytest.approx(
        [100, 100, 100, 100, 0, 0, 75, 100]
    )
    assert [row[1] for row in rows] == pytest.approx(
        [1000.0] * 4 + [0.0] + [1000.0] * 3
    )


def test_a_burner_that_is_lit_by_hand_waits_for_a_visit():
    """Out in one interval, it stays out for three hours, and while nobody can come."""
    state = burner(relight="visit")
    state.order_wh = 0.0
    codes = [state.pass_interval(100.0, series.PRESSURE, can_come=True)[2]]
    codes += [
        state.pass_interval(100.0, series.RUNS, can_come=k > 3)[2] for k in range(6)
    ]
    assert codes == [series.PRESSURE, *[series.RELIGHT] * 4, series.RUNS, series.RUNS]
    half = burner()
    half.left_wh = 400.0
    bus, burnt, why, left, _ = half.pass_interval(100.0, series.RUNS, can_come=False)
    assert (bus, burnt, why, left) == (
        pytest.approx(40.0),
        pytest.approx(400.0),
        0,
        0.0,
    )


@pytest.mark.parametrize(
    ("supply_kpa", "refused"), [("65 kPa", False), ("64 kPa", True)]
)
def test_gas_by_pipe_needs_the_pressure_of_burner_and_regulator(supply_kpa, refused):
    """40 and 25 kPa; the fault counts generators from 1."""
    table = {"name": "b", "kind": "thermoelectric", "fuel": "natural-gas", "rated": "54 W",
             "burner_pressure": "40 kPa", "regulator_drop": "25 kPa",
             "supply_pressure": supply_kpa}  # fmt: skip
    unit = make_unit(Generator.model_validate(table), 0.0)
    found = series.pressure_faults(1, unit, None)
    assert bool(found) == refused
    for fault in found:
        assert fault.where == "generator[1] (b).supply_pressure"
        assert fault.allowed == "at least 40 kPa plus 25 kPa for the pressure regulator"


@pytest.mark.parametrize("height", [0.0, 100.0, 200.0, 3000.0])
def test_two_set_ups_are_told_apart_from_one_percent_on(height):
    """3.7 and 12 % a km differ by 1 % at 120 m."""
    table = {
        "name": "b",
        "kind": "thermoelectric",
        "fuel": "natural-gas",
        "rated": "100 W",
    }
    both = setups_w(make_unit(Generator.model_validate(table), height))
    assert (both is None) == (height < 121)
    if both:
        gap = 100.0 * (0.12 - 0.037) * height / 1000.0
        assert both[0] - both[1] == pytest.approx(gap)


# ---------------------------------------------------------------- runs and claims


def test_energy_and_hours_that_were_not_served_are_those_of_each_tier(monkeypatch):
    """Half-hours: 10, 20 and 30 W of which one, two and three intervals were off."""
    names = Run.energy_not_served_wh.func.__globals__
    on = np.array([[0, 1, 1, 1], [0, 0, 1, 1], [0, 0, 0, 1]], bool)
    watts = np.repeat([[10.0], [20.0], [30.0]], 4, axis=1)
    monkeypatch.setitem(names, "served_tiers", lambda _: on)
    monkeypatch.setitem(names, "tier_w", lambda *_: watts)
    run = bag(out=None, problem=bag(record=bag(step_h=0.5)))
    assert Run.energy_not_served_wh.func(run) == 70.0
    assert Run.hours_off_by_tier.func(run) == (0.5, 1.0, 1.5)


@pytest.mark.parametrize(
    ("needed", "said"),
    [(400.0, "the load needs 400 W, or 2.00 times the POA irradiation"),
     (150.0, "150 W are enough: 75 % of the stated power"),
     (200.0, "200 W are enough: 100 % of the stated power")],
)  # fmt: skip
def test_a_claimed_array_is_told_in_watts_and_as_a_ratio(needed, said):
    """Of 200 W claimed."""
    told = []
    answer = bag(cases=[bag(found=needed)], turns=lambda *row: told.append(row))
    array_claims._array_turns(answer, 200.0)
    assert [row[:3] for row in told] == [
        ("array", needed, "W"),
        ("sun", needed / 200.0, "ratio"),
    ]
    assert {row[3] for row in told} == {said}
    answer.cases[0].found = None
    array_claims._array_turns(answer, 200.0)
    assert len(told) == 2
    assert tells(array_claims._span(1.0), "1.00 d")
    assert tells(array_claims._span(0.5), "12.0 h")


@pytest.mark.parametrize(
    ("rate", "held"), [(None, False), (49.0, False), (50.0, True), (100.0, True)]
)
def test_a_slow_rating_holds_its_gain_already(rate, held):
    """From the 50 h rate on."""
    said = battery_sums.slow_rate_holds(rate)
    gain = "includes the gain of a slow discharge: no further credit"
    assert said == ([f"rated at {rate:g} h {gain}"] if held else [])


def test_plain_division_goes_both_ways():
    """100 Ah at 12 V and 80 % carry 10 W for 4 days; 5 days ask for 8 W, and 96 % at half."""
    assert battery_sums.days_on(100.0, 12.0, 10.0, 0.8) == pytest.approx(4.0)
    assert battery_sums.load_for_days(100.0, 12.0, 5.0, 0.8) == pytest.approx(8.0)
    assert battery_sums.needed_ah(240.0, 5.0, 12.0, 0.5, 1.2) == pytest.approx(240.0)
    text = battery_sums.assumed_text(100.0, 12.0, 5.0, {"25 degC": 1.0, "cold": 0.5})
    warm, cold = text.split("; ")
    assert warm == "10.0, 8.00 or 5.00 W at DOD 100, 80 or 50 % and 25 degC"
    assert cold == "and 5.00, 4.00 or 2.50 W at DOD 100, 80 or 50 % and cold"
    assert set(battery_sums.plain_held("agm", None)) == {
        "25 °C", "-20 °C (conservative curve)", "-20 °C (slow-rate curve)"
    }  # fmt: skip
    assert battery_sums.plain_held("agm", 25.0) == {"25 °C": 1.0}


@pytest.mark.parametrize(
    ("volts", "asked", "wrong"),
    [(24.0, 12.0, False), (24.0, 13.0, False), (24.0, 8.0, False), (12.0, 24.0, True),
     (24.0, 17.0, True), (24.0, None, False)],
)  # fmt: skip
def test_blocks_make_up_the_bus_within_a_tenth(volts, asked, wrong):
    """Whole blocks in series; a block of more volts than the bus is none."""
    claim = bag(battery="x", battery_voltage_v=asked, hour_rate_h=None)
    found = battery_claims._conflicts(claim, volts)
    assert bool(found) == wrong
    for fault in found:
        assert fault.given == f"{asked:g} V"
        assert f"bus of {volts:g} V" in fault.problem


@pytest.mark.parametrize(
    ("warm", "cold", "typical", "words"),
    [(25.0, 24.0, False, []), (25.0, 23.9, False, ["the claim is for 25 °C"]),
     (None, -0.1, False, ["can freeze"]), (None, 0.0, True, ["Typical year"])],
)  # fmt: skip
def test_cautions_of_a_battery_claim_stand_at_their_limits(warm, cold, typical, words):
    """A claim more than a kelvin warmer, frost below 0 degC, a typical year."""
    at = bag(
        site=bag(problem=bag(record=bag(typical_year=typical)), cold_degc=cold),
        claim=bag(temperature_degc=warm), bank=bag(chemistry=bag(freezing="curve")),
    )  # fmt: skip
    found = battery_claims._cautions(at)
    assert len(found) == len(words)
    assert all(word in text for word, text in zip(words, found, strict=True))


def test_self_discharge_doubles_for_ten_degrees(monkeypatch):
    """3 % a month at 20 degC are 6 % at 30: a claim of 6 % holds up to there."""
    known = bag(
        name="agm", title="glass mat", self_discharge_per_month=0.03, sources={}
    )
    monkeypatch.setitem(
        battery_claims.judge_self_discharge.__globals__,
        "chemistries",
        lambda: {"agm": known},
    )
    for stated, share in ((None, 0.03), (30.0, 0.06), (10.0, 0.015)):
        claim = bag(chemistry="agm", temperature_degc=stated, claimed_frac=0.06)
        answer = bag(missing=[], remarks=[], sources=[], asked=[], turned=[])
        answer.case = lambda *row, to=answer, **_: to.asked.append(row)
        answer.turns = lambda *row, to=answer: to.turned.append(row)
        battery_claims.judge_self_discharge(claim, answer, None)
        assert answer.asked[0][1] == pytest.approx(share, rel=2e-3)
        assert answer.turned[0][:3] == ("temperature", pytest.approx(30.0), "degC")
        assert "3 % per month at 20 °C" in answer.remarks[0]
