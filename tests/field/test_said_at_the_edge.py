"""What is said where a figure meets its limit, worked by hand on either side of it."""

from __future__ import annotations

import dataclasses
import math
from datetime import datetime
from types import SimpleNamespace

import numpy as np
import pytest

from powerbudget.balance import events
from powerbudget.balance.generation import (
    _life_y,
    _lowest,
    _stack_life_y,
    _visits,
    loads_per_refill,
)
from powerbudget.balance.problem import prepare
from powerbudget.balance.run_findings import _disconnect, _limited, run_findings
from powerbudget.balance.simulation import simulate_size
from powerbudget.battery.freezing import NEVER
from powerbudget.checks.charging import deep
from powerbudget.checks.photovoltaic import regulator_current
from powerbudget.checks.protection import battery_main
from powerbudget.generators.unit import make_unit
from powerbudget.loads.measured import _asked, _stamp
from powerbudget.review.load_measure import site_cards
from powerbudget.site.generator import Generator
from powerbudget.site.reader import read_site_text
from powerbudget.sizing.limiting import _relax
from powerbudget.sizing.uncertainty.trials import Outcomes, meets

LOAD = '[[load]]\nname = "station"\ntypical = "10 W"\nmaximum = "14 W"\n'


@pytest.fixture(scope="module")
def run(site_text):
    """Return a 12 V site of 10 W, simulated."""
    return simulate_size(prepare(read_site_text(site_text(LOAD, 12))))


@pytest.mark.parametrize(
    ("chemistry", "usual", "least"),
    [("agm", 1.80, 1.75), ("nicd", 1.0, 0.9), ("lfp", 2.8, 2.5),
     ("lithium-ion", 3.0, 2.5)],
)  # fmt: skip
def test_a_disconnect_warns_below_the_usual_and_fails_below_the_least(
    chemistry, usual, least
):
    """Volts a cell as the rule says them, times the cells of the bank."""
    cells = 12
    bank = SimpleNamespace(chemistry=SimpleNamespace(name=chemistry), cells=cells)
    for volts, verdict in ((usual + 0.01, "pass"), (usual - 0.01, "warn"),
                           (least + 0.001, "warn"), (least - 0.01, "fail"),
                           (least / 2, "fail")):  # fmt: skip
        tables = SimpleNamespace(bus=SimpleNamespace(disconnect_v=volts * cells))
        problem = SimpleNamespace(full_rest_v=99.0)
        [row] = deep(SimpleNamespace(tables=tables, bank=bank, problem=problem))
        assert (volts, row.verdict) == (volts, verdict)
        assert row.limit == pytest.approx(usual * cells)
        assert f"{volts:.2f} V per cell, {cells} cells" in row.detail


def test_a_battery_without_a_fuse_lacks_the_whole_of_it(monkeypatch):
    """None of one fuse: a margin of -100 %."""
    monkeypatch.setitem(
        battery_main.__globals__, "_battery_a", lambda _: (8.0, "loads")
    )
    battery = SimpleNamespace(fuse_a=0.0, wire=None)
    facts = SimpleNamespace(tables=SimpleNamespace(battery=battery))
    monkeypatch.setitem(battery_main.__globals__, "_wire_rows", lambda *_: [])
    [row] = battery_main(facts)
    assert (row.verdict, row.margin) == ("fail", -1.0)
    assert (row.value, row.limit) == (0.0, 1.0)
    assert "1.25 x 8.00 A, loads" in row.detail


def test_a_season_is_met_with_its_hours_its_depth_and_no_ice():
    """Each of the three alone loses it; the limits themselves are met."""
    criteria = SimpleNamespace(availability_frac=0.99, deepest_discharge_frac=0.6)
    tables = SimpleNamespace(criteria=criteria)
    problem = SimpleNamespace(design=SimpleNamespace(tables=tables))
    cases = [(10.0, 0.4, 0.0, True), (10.1, 0.4, 0.0, False), (0.0, 0.39, 0.0, False),
             (0.0, 1.0, 1.0, False), (0.0, 1.0, 0.0, True)]  # fmt: skip
    off, lowest, frozen = (np.array([[row[k]] for row in cases]) for k in range(3))
    season = np.full((len(cases), 1), 1000.0)
    done = meets(problem, Outcomes(off, lowest, frozen, season, np.zeros((5, 3))))
    assert done[:, 0].tolist() == [row[3] for row in cases]


@pytest.mark.parametrize(
    ("unit", "reached", "said"),
    [("fraction", 0.912, "91.2 %"), ("fraction", 1.0, "100 %"), ("fraction", 0.0, ""),
     ("fraction", 1.01, ""), ("fraction", 0.004, "0.4 %"), ("d", 0.5, "0.5 d"),
     ("d", 0.0, ""), ("h", 12.0, "12 h")],
)  # fmt: skip
def test_a_criterion_is_relaxed_to_what_was_reached_and_never_to_nothing(
    unit, reached, said
):
    """A share ends at the whole; none is relaxed to nothing."""
    words = _relax(SimpleNamespace(found=reached, unit=unit))
    assert words.endswith(f", or a lower limit of {said}" if said else "a smaller load")


@pytest.mark.parametrize("floor", [0.245, NEVER])
def test_a_lost_bank_is_told_with_the_charge_it_had_when_it_froze(monkeypatch, floor):
    """At the end of the interval in which it froze, on the rated charge."""
    index, degc = 3, np.array([-1.0, -5.0, -9.0, -16.25, -20.0])
    removed = np.array([0.0, 10.0, 25.0, 40.0, 62.0, 90.0])
    conditions = SimpleNamespace(
        battery_degc=degc, frozen_below_frac=np.full(degc.size, floor)
    )
    bank = SimpleNamespace(rated_ah=100.0)
    problem = SimpleNamespace(conditions=conditions, bank=bank)
    out = np.zeros(degc.size, [("locked", float)])
    out["locked"][4:] = 1.0
    frost = SimpleNamespace(lost_index=index, lost_at="2001-01-01T03:00")
    monkeypatch.setattr(events, "source_events", lambda *_: [(0, "first", "words")])
    monkeypatch.setattr(events, "local_iso", lambda _, k: f"at {k}")
    first, lost, dark = events.list_events(problem, removed, out, frost)
    assert (first.kind, lost.kind, dark.kind) == (
        "first",
        "battery frozen",
        "charge controller off",
    )
    assert (lost.start, dark.start) == ("2001-01-01T03:00", "at 4")
    assert f"-16.2 °C at SOC {100 - 62:.1f} %" in lost.text
    need = "the battery freezes at any SOC" if floor == NEVER else "freezing SOC 24.5 %"
    assert need in lost.text


def test_a_load_of_nothing_leaves_the_charge_of_the_slowest_one(run):
    """A bank without a load holds what it holds for the least of loads."""
    bank = run.bank
    assert bank.charge_ah(0.0) == pytest.approx(bank.charge_ah(bank.rated_ah / 1e6))
    assert bank.charge_ah(0.0) >= bank.charge_ah(1.0)


def machine(kind, fuel, **more):
    """Return one unit at the level of the sea."""
    table = {"name": "a", "kind": kind, "fuel": fuel, "rated": "500 W", **more}
    return make_unit(Generator.model_validate(table), 0.0)


@pytest.mark.parametrize("run_h", [0.5, 100.0, 3000.0, 8000.0])
@pytest.mark.parametrize(
    ("kind", "fuel"), [("engine", "diesel"), ("thermoelectric", "propane"),
                       ("solid-oxide-cell", "natural-gas")],
)  # fmt: skip
def test_a_source_wears_by_its_hours_its_age_and_its_starts(kind, fuel, run_h):
    """The first of them ends it; a stated life in hours stands alone."""
    unit = machine(kind, fuel)
    ends = [unit.figure("life_h") / run_h]
    ends += [unit.figure("life_years")] if unit.kind.has("life_years") else []
    assert _life_y(unit, run_h) == pytest.approx(min(ends))
    stated = machine(kind, fuel, life="4000 h")
    assert _life_y(stated, run_h) == pytest.approx(4000.0 / run_h)
    assert _stack_life_y(stated, run_h, 10.0) == math.inf
    if not unit.kind.has("stack_life_h"):
        assert _stack_life_y(unit, run_h, 10.0) == math.inf
        return
    by_hours = unit.figure("stack_life_h") / run_h
    assert _stack_life_y(unit, run_h, 0.0) == pytest.approx(by_hours)
    starts = 1e4 if unit.kind.has("stack_starts") else 0.0
    by_starts = unit.figure("stack_starts") / starts if starts else math.inf
    found = _stack_life_y(unit, run_h, starts)
    assert found == pytest.approx(min(by_hours, by_starts))


def test_a_source_that_runs_is_looked_at_once_a_year_and_by_its_hours():
    """One that never runs needs nobody, and lasts by its age alone."""
    unit = machine("engine", "diesel", service_every="250 h")
    visits = [_visits(unit, hours) for hours in (0.0, 0.5, 250.0, 251.0, 1000.0)]
    assert visits == pytest.approx([0.0, 1.0, 1.0, 1.004, 4.0])
    assert _life_y(unit, 0.0) == (
        unit.figure("life_years") if unit.kind.has("life_years") else math.inf
    )


@pytest.mark.parametrize(
    ("most", "trips"),
    [("100 L", 5), ("90 L", 5), ("89 L", 6), ("450 L", 1), ("449 L", 2), (None, 1)],
)
def test_a_refill_takes_whole_trips_of_the_largest_delivery(most, trips):
    """What is missing where it was ordered, in whole trips."""
    size = {
        "volume": "1000 L",
        "fill": "60 %",
        "unusable": "10 %",
        "refill_below": "0 %",
    }
    unit = machine("engine", "diesel", tank=size)
    brought = unit.stock_l
    more = {} if most is None else {"largest_delivery": most}
    scaled = {**size, "volume": f"{1000 * 450 / brought} L", **more}
    full = machine("engine", "diesel", tank=scaled)
    assert full.stock_l == pytest.approx(450.0)
    assert loads_per_refill(full) == trips
    half = {**scaled, "refill_below": "50 %"}
    assert loads_per_refill(machine("engine", "diesel", tank=half)) == math.ceil(
        trips / 2
    )


def test_the_lowest_stock_is_a_share_of_all_that_is_stored():
    """Of what can be used; without a tank nothing ever runs low."""
    one = SimpleNamespace(stock_wh=np.array([90.0, 30.0, 60.0]))
    assert _lowest(SimpleNamespace(stock_wh=120.0), one) == 0.25
    assert _lowest(SimpleNamespace(stock_wh=math.inf), one) == 1.0


@pytest.mark.parametrize(
    ("nominal", "gap", "said"),
    [(12, 0.99, "0.99 V"), (12, 1.01, ""), (24, 1.98, "0.99 V"), (24, 2.02, ""),
     (48, 3.0, "0.75 V")],
)  # fmt: skip
def test_a_reconnect_close_to_the_disconnect_is_told_on_a_base_of_12_volts(
    monkeypatch, run, nominal, gap, said
):
    """One volt on 12 V is two on 24 V."""
    for name, nothing in (("_inrush", []), ("disconnects_when_full", None)):
        monkeypatch.setitem(_disconnect.__globals__, name, lambda *_, n=nothing: n)
    bus = run.problem.design.tables.bus.model_copy(
        update={
            "nominal_v": float(nominal),
            "disconnect_v": 20.0,
            "reconnect_v": 20.0 + gap,
        }
    )
    design = SimpleNamespace(tables=SimpleNamespace(bus=bus))
    found = _disconnect(SimpleNamespace(problem=SimpleNamespace(design=design)))
    assert [said in one.text for one in found] == ([True] if said else [])


def test_what_a_charge_controller_keeps_off_the_bus_is_told_in_kwh_hours_and_percent(
    monkeypatch, run
):
    """Of what the array offers, over whole hours."""
    out = np.zeros(4, [("offered_a", float), ("bus_v", float)])
    out["offered_a"], out["bus_v"] = [2.0, 4.0, 6.0, 8.0], 12.5
    over = np.array([0.0, 0.0, 15.0, 40.0])
    monkeypatch.setitem(_limited.__globals__, "limited_w", lambda *_: over)
    monkeypatch.setitem(_limited.__globals__, "controller_rating", lambda *_: None)
    monkeypatch.setitem(_limited.__globals__, "rating_words", lambda *_: "more")
    monkeypatch.setitem(_limited.__globals__, "_heat_words", lambda _: "")
    step = run.problem.record.step_h
    share = 100 * over.sum() / (12.5 * 20.0)
    [found] = _limited(dataclasses.replace(run, out=out))
    assert f"curtails {55.0 * step / 1000:.4f} kWh in {2 * step:,.0f} h, " in found.text
    assert f"{share:.2g} % of the available array" in found.text
    assert found.severity == "warning"
    # Of 250 Wh offered: a hundredth warns, less is a note, dust is nothing.
    for watts, told in ((2.5, "warning"), (2.4, "note"), (0.2, "note"), (2e-7, None)):
        over[:] = [0.0, 0.0, 0.0, watts]
        said = _limited(dataclasses.replace(run, out=out))
        assert [one.severity for one in said] == ([told] if told else [])
    assert "less than 0.1 % of" in _limited_words(run, out, over, 0.2)


def _limited_words(run, out, over, watts):
    over[:] = [0.0, 0.0, 0.0, watts]
    return _limited(dataclasses.replace(run, out=out))[0].text


def test_cold_that_hides_all_of_a_bank_leaves_no_absurd_inrush(run):
    """Where the bank holds nothing its resistance is that of an empty one."""
    hourly = run.problem.hourly.copy()
    hourly["capacity"][::3] = 0.0
    problem = dataclasses.replace(run.problem, hourly=hourly)
    near = [one.text for one in run_findings(dataclasses.replace(run, problem=problem))]
    lowest = [text for text in near if "the battery sags to" in text]
    assert not any("to -" in text for text in lowest)


@pytest.mark.parametrize("kind", ["mppt", "pwm"])
@pytest.mark.parametrize(
    ("given", "charge", "limit"), [(20.0, 15.0, (20.0, 15.0)), (None, 15.0, (None, 15.0)),
                                   (20.0, None, (20.0, 20.0)), (None, None, (None, None))],
)  # fmt: skip
def test_what_comes_into_a_direct_controller_goes_out_of_it(
    monkeypatch, kind, given, charge, limit
):
    """Its charge rating limits the array too; that of a tracker is another row."""
    monkeypatch.setitem(regulator_current.__globals__, "_clipped", lambda _: "clipped")
    stated = {"maximum_input_a": given, "maximum_charge_a": charge}
    regulator = SimpleNamespace(kind=kind, of_all=stated.get)
    module = SimpleNamespace(short_circuit_a=6.0)
    facts = SimpleNamespace(
        tables=SimpleNamespace(regulator=regulator),
        problem=SimpleNamespace(array=SimpleNamespace(module=module), strings=2),
    )
    first, *others = regulator_current(facts)
    assert others == (["clipped"] if kind == "mppt" else [])
    at_most_a = limit[kind == "pwm"]
    if at_most_a is None:
        key = "maximum_charge_current" if kind == "pwm" else "maximum_input_current"
        assert key in first.missing
        return
    assert (first.value, first.limit) == (1.25 * 2 * 6.0, at_most_a)


@pytest.mark.parametrize("count", [0, 1, 4, 5, 9])
def test_gaps_of_a_log_are_told_four_by_four_and_the_rest_counted(count):
    """None is hidden: five are four and one more."""
    gaps = [(f"day {k}", 1.5 * k) for k in range(1, count + 1)]
    measured = SimpleNamespace(method="shunt")
    found = _asked("pump", 24.0, gaps, measured, whole=True)
    assert len(found) == bool(count)
    for one in found:
        assert all(f"{start} for {hours:g} h" in one.text for start, hours in gaps[:4])
        assert one.text.endswith(f" and {count - 4} more." if count > 4 else " h.")
    short = _asked("pump", 23.9, [], measured, whole=False)
    assert [one.severity for one in short] == ["warning", "note"]
    assert "for 23.9 h only" in short[0].text


@pytest.mark.parametrize(
    ("cell", "offset_h", "stamp"),
    [
        ("2026-01-31T13:30+00:00", -7.0, datetime.fromisoformat("2026-01-31T06:30")),
        ("2026-01-31T13:30+02:00", 5.5, datetime.fromisoformat("2026-01-31T17:00")),
        ("2026-01-31 13:30", -7.0, datetime.fromisoformat("2026-01-31T13:30")),
        ("2026-01-31 13:30", None, datetime.fromisoformat("2026-01-31T13:30")),
    ],
)
def test_a_logger_with_a_zone_is_read_in_the_time_of_the_site(cell, offset_h, stamp):
    """Without a zone the clock is the site's own."""
    measured = SimpleNamespace(time_format=None)
    assert _stamp([cell], 0, measured, offset_h) == stamp


def test_a_zone_asks_the_site_for_its_own():
    """Nothing to convert to: refused."""
    with pytest.raises(ValueError, match="the site has no time_zone"):
        _stamp(["2026-01-31T13:30+00:00"], 0, SimpleNamespace(time_format=None), None)


def test_cards_on_several_lines_are_counted_together(site_text):
    """Two and three of one card are five, and another kind stands apart."""
    line = '[[load]]\nname = "{}"\npart = "{}"\nquantity = {}\n'
    kinds = [
        ("card-analog-input", 2),
        ("card-digital-output-relay", 1),
        ("card-analog-input", 3),
    ]
    text = "".join(
        line.format(f"{n} row", kind, count) for n, (kind, count) in enumerate(kinds)
    )
    cards = site_cards(read_site_text(site_text(LOAD + text, 12)))
    assert cards == {"card-analog-input": 5, "card-digital-output-relay": 1}
