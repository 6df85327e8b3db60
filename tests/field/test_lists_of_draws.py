"""Lists of draws and what is made of them: each sum worked a second way."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from reference import together

from powerbudget.balance.arrayload import asked_w, delivered_w
from powerbudget.balance.events import local_iso
from powerbudget.balance.problem import prepare
from powerbudget.balance.simulation import simulate_size
from powerbudget.errors import InputError
from powerbudget.lists.io_list import Tag
from powerbudget.loads.rack_lines import card_of, channel_lines
from powerbudget.loads.rack_slots import HEADS, rows, tag_w
from powerbudget.review.claim_fields import read_use
from powerbudget.review.wording import wording_faults
from powerbudget.site.load import Rack
from powerbudget.site.parts import load_parts
from powerbudget.site.reader import read_site_text
from powerbudget.site.scenario import Scenario
from powerbudget.sizing.worksheet.duty_cycle import duty_cycle_ah, rating_factor
from powerbudget.sizing.worksheet.figures import SheetLoad, loads_from
from powerbudget.sizing.worst_period import worst_period

TAGS = (
    Tag("A", "ai", quantity=3),
    Tag("B", "ai", current_a=0.016),
    Tag("C", "ai-hart", powered="field", quantity=2),
    Tag("D", "ai-hart", current_a=0.022, quantity=2),
    Tag("E", "ai-low-power", quantity=2),
    Tag("F", "fieldbus", quantity=4, port="1"),
    Tag("G", "di", normal="closed", quantity=5),
    Tag("H", "di", normal="open", quantity=2),
    Tag("I", "di", duty_frac=0.25),
    Tag("J", "solenoid", normal="closed", quantity=2),
    Tag("K", "solenoid", normal="open", load_w=4.0),
    Tag("L", "do", load_w=6.5, duty_frac=0.4, quantity=3),
    Tag("M", "ai", spare=True),
)
VOLTS = {"": 24.0, "loops": 26.0, "low": 12.0}
RACK = Rack.model_validate(
    {"controller": "controller-compact", "loop_supply": "loops",
     "low_power_supply": "low", "wetting_current": "4 mA"}
)  # fmt: skip


def watts(draw, supply):
    """Return a draw of a load line at its supply [W]."""
    unit, amount = draw
    return amount * (VOLTS[supply or ""] if unit == "A" else 1.0)


def test_an_exported_list_adds_up_to_the_lines_of_the_power_budget():
    """By tag and by line: the same mean and the same highest draw of the field side."""
    parts = load_parts()
    by_tag = np.array([tag_w(tag, RACK, parts, VOLTS) for tag in TAGS])
    lines = [line.load for line in channel_lines(RACK, TAGS, parts)]
    field = [load for load in lines if not load.name.endswith(" channels")]
    mean = [x.quantity * x.duty_frac * watts(x.typical, x.supply) for x in field]
    most = [x.quantity * watts(x.maximum, x.supply) for x in field]
    assert by_tag[:, 0].sum() == pytest.approx(sum(mean))
    assert by_tag[:, 1].sum() == pytest.approx(sum(most))
    assert not by_tag[[2, 12]].any()
    # A coil that the library does not have draws nothing that is known.
    assert tag_w(TAGS[9], RACK, {}, VOLTS) == (0.0, 0.0)
    assert (by_tag[:, 1] >= by_tag[:, 0]).all()


def test_an_exported_row_says_what_the_list_said():
    """Milliamperes, watts and duty where they were stated, nothing where not."""
    counts = [
        SimpleNamespace(card=card, built_in=0, channels=8)
        for card in {card_of(tag.signal, RACK) for tag in TAGS}
    ]
    result = SimpleNamespace(counts=counts, mount="cards", nodes=None)
    listing = SimpleNamespace(tags=TAGS)
    table = [
        dict(zip(HEADS, row, strict=True))
        for row in rows(listing, RACK, result, load_parts(), VOLTS)
    ]
    for tag, row in zip(TAGS, table, strict=True):
        stated = tag.current_a, tag.load_w, tag.duty_frac
        told = row["Current [mA]"], row["Load [W]"], row["Duty"]
        for scale, own, said in zip((1e3, 1.0, 1.0), stated, told, strict=True):
            assert said == ("" if own is None else pytest.approx(scale * own))
        assert (row["Tag"], row["Quantity"]) == (tag.tag, tag.quantity)
        assert row["Remark"] == ("SPARE" if tag.spare else "")
        mean, most, day = list(row.values())[-3:]
        assert (mean, most) == pytest.approx(
            tag_w(tag, RACK, load_parts(), VOLTS), rel=1e-5
        )
        assert day == pytest.approx(24 * mean, rel=1e-5)
    normal = {row["Tag"]: row["Normal state"] for row in table}
    assert [normal[x] for x in "AGHJK"] == [
        "", "normally closed", "normally open", "energised", "de-energised"
    ]  # fmt: skip


@together.parametrize(
    ("nominal", "load", "shares", "words"),
    [(0.0, {}, (), "nominal_v"), (12.0, {"draw_w": None}, (), "one power or current"),
     (12.0, {"draw_a": 1.0}, (), "one power or current"),
     (12.0, {"draw_w": -1.0}, (), "out of range"),
     (12.0, {"quantity": -1.0}, (), "out of range"),
     (12.0, {"hours_per_day": 24.5}, (), "out of range"),
     (12.0, {"hours_per_day": -0.5}, (), "out of range"),
     (12.0, {"efficiency_frac": 0.0}, (), "outside 0 to 1"),
     (12.0, {"efficiency_frac": 1.5}, (), "outside 0 to 1"),
     (12.0, {}, (0.0,), "outside 0 to 1"), (12.0, {}, (1.01,), "outside 0 to 1"),
     (12.0, {"hours_per_day": 24.0, "draw_w": 0.0}, (1.0,), ""),
     (12.0, {"hours_per_day": 0.0, "quantity": 0.0, "efficiency_frac": 1.0}, (), "")],
)  # fmt: skip
def test_a_list_for_the_worksheet_is_refused_at_its_ends_alone(
    nominal, load, shares, words
):
    """Nothing, all day and the whole are no fault."""
    one = SheetLoad(**{"name": "pump", "hours_per_day": 6.0, "draw_w": 30.0, **load})
    if not words:
        loads_from(nominal, one, efficiencies=shares)
        return
    with pytest.raises(InputError, match=words) as caught:
        loads_from(nominal, one, efficiencies=shares)
    assert len(caught.value.faults) == 1


def test_of_loads_that_exclude_each_other_the_largest_counts_and_a_start_takes_its_place():
    """6 A and 4 A never together; the start of the first stands in for its run."""
    loads = [
        SheetLoad("a", 1.0, draw_a=6.0, group="g"),
        SheetLoad("b", 1.0, draw_a=2.0, quantity=2.0, group="g"),
        SheetLoad("c", 2.0, draw_w=12.0, efficiency_frac=0.5),
        SheetLoad("a starts", 0.01, draw_a=20.0, kind="momentary", group="g"),
    ]
    found = loads_from(12.0, *loads, efficiencies=(0.8, 0.5))
    assert found.running_a == pytest.approx(6.0 + 2.0)
    assert found.momentary_a == pytest.approx(20.0 + 2.0)
    assert found.ah_per_day == pytest.approx((6 + 4 + 2 * 2 + 0.2) / 0.8 / 0.5)


def test_a_duty_cycle_is_the_largest_of_its_sections():
    """Each change of load runs to the end of its section; corrections stand on top."""
    periods = [(40.0, 1.0), (10.0, 59.0), (25.0, 30.0)]
    done = duty_cycle_ah(
        periods, lambda minutes: 0.5 + minutes / 60, random=[(5.0, 6.0)],
        temperature_factor=1.1, margin_frac=0.2, end_of_life_frac=0.8,
    )  # fmt: skip
    sizes = []
    for last in range(1, 4):
        loads = [0.0, *(amps for amps, _ in periods[:last])]
        lengths = [minutes for _, minutes in periods[:last]]
        sizes.append(
            sum(
                (loads[k + 1] - loads[k]) * (0.5 + sum(lengths[k:]) / 60)
                for k in range(last)
            )
        )
    assert [section.size_ah for section in done.sections] == pytest.approx(sizes)
    assert done.random_ah == pytest.approx(5.0 * 0.6)
    assert done.uncorrected_ah == pytest.approx(max(sizes) + 3.0)
    assert done.corrected_ah == pytest.approx((max(sizes) + 3.0) * 1.1 * 1.2 / 0.8)


@pytest.mark.parametrize(
    ("periods", "more", "words"),
    [([], {}, "empty"), ([(-1.0, 5.0)], {}, "negative"), ([(1.0, 0.0)], {}, "zero time"),
     ([(0.0, 5.0)], {}, ""), ([(1.0, 5.0)], {"margin_frac": -0.1}, "out of range"),
     ([(1.0, 5.0)], {"end_of_life_frac": 0.0}, "out of range"),
     ([(1.0, 5.0)], {"end_of_life_frac": 1.01}, "out of range"),
     ([(1.0, 5.0)], {"temperature_factor": 0.0}, "out of range"),
     ([(1.0, 5.0)], {"margin_frac": 0.0, "end_of_life_frac": 1.0}, "")],
)  # fmt: skip
def test_a_duty_cycle_is_refused_at_its_ends_alone(periods, more, words):
    """No load for a while is no fault, nor is a battery that is kept to its end."""
    if not words:
        duty_cycle_ah(periods, lambda _: 1.0, **more)
        return
    with pytest.raises(InputError, match=words):
        duty_cycle_ah(periods, lambda _: 1.0, **more)


def test_a_cells_table_is_read_to_its_ends_and_no_further():
    """Ah over amperes at the ends; nothing beyond them."""
    table = [(60.0, 50.0), (15.0, 133.0)]
    assert rating_factor(15.0, 100.0, table) == pytest.approx(100 / 133)
    assert rating_factor(60.0, 100.0, table) == pytest.approx(2.0)
    for minutes in (14.9, 60.1):
        with pytest.raises(InputError, match="15 to 60 min"):
            rating_factor(minutes, 100.0, table)


LOAD = '[[load]]\nname = "station"\ntypical = "10 W"\nmaximum = "14 W"\n'


def test_the_worst_period_reaches_from_the_last_full_charge_to_the_lowest(site_text):
    """Its supply, days and charge by the run's own hours; an outage takes its place."""
    problem = prepare(read_site_text(site_text(LOAD, 12)))
    for heavy in (1.0, 8.0):
        run = simulate_size(problem.under(Scenario(load_factor=heavy)))
        found = worst_period(run)
        last = int(np.argmin(run.soc_frac))
        if run.outages:
            last = max(run.outages, key=lambda outage: outage.hours).index
        hours = round(found.days * 24)
        span = np.arange(last - hours + 1, last + 1)
        assert found.end == local_iso(run.problem, last)
        assert found.start == local_iso(
            run.problem, int(span[0] % run.problem.record.n)
        )
        given = (
            delivered_w(run)
            + (run.out["steady_a"] + run.out["source_a"]) * (run.out["bus_v"])
        )
        share = given[span].sum() / asked_w(run)[span].sum()
        assert found.supply_frac == pytest.approx(share)
        assert found.from_soc_frac == pytest.approx(run.soc_frac[span[0]])
        assert found.to_soc_frac == pytest.approx(run.soc_frac[last])


@pytest.mark.parametrize(
    ("says", "told"),
    [("0.9 L/kWh", False), ("0.9 L per kWh, 900 L/MWh", False), ("1.1 L/kWh", True),
     ("0.0009 L/Wh", False), ("2 L/day", False), ("0.9 kg/kWh", False),
     ("1.1 L/kWh or 0.9 L/kWh", False), ("0.904 L/kWh", False), ("0.91 L/kWh", True)],
)  # fmt: skip
def test_a_use_of_fuel_in_words_is_held_against_the_figure_over_the_same(says, told):
    """Half a percent is rounding; another unit or another base is another figure."""
    claim = SimpleNamespace(says=f"takes {says}", claimed=read_use("0.9 L/kWh"))
    assert bool(wording_faults(claim)) == told
    a_week = SimpleNamespace(says=f"takes {says}", claimed=read_use("14 L/month"))
    assert bool(wording_faults(a_week)) == ("day" in says)
    day = read_use("2 L/day")
    assert not wording_faults(SimpleNamespace(says="730.5 L/year", claimed=day))
