"""One budget: its lines, totals, tiers and hours say the same for every load list."""

from __future__ import annotations

import dataclasses
import json
import re
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook
from typer.testing import CliRunner

from powerbudget.balance import columns as col
from powerbudget.balance import stages
from powerbudget.balance.problem import prepare
from powerbudget.checks.branches import separate
from powerbudget.checks.inputs import collect
from powerbudget.checks.protection import converter
from powerbudget.checks.result import Check
from powerbudget.cli import app
from powerbudget.loads import budget as budget_module
from powerbudget.loads import items as items_module
from powerbudget.loads.budget import Budget, load_budget
from powerbudget.loads.lines import rail_maximum_w
from powerbudget.loads.schedule import design_grid, share
from powerbudget.loads.series import bus_series, daily_load_wh
from powerbudget.report.document.blocks import Table
from powerbudget.report.render.workbook import write_workbook
from powerbudget.report.sections.loads import loads_section
from powerbudget.report.sections.sources import Sources
from powerbudget.site.load import Load
from powerbudget.site.reader import read_site, read_site_text
from powerbudget.site.scenario import Scenario
from powerbudget.sizing.worksheet.design_month import design_month
from powerbudget.sizing.worksheet.site_figures import site_figures

STEPS = 'shed_first = "24.4 V"\nshed_second = "23.9 V"'
DRIVERS = (
    "", 'hours = "06:00-18:30"', 'months = "Nov-Mar"', 'when = "night"',
    'seasons = [{ dates = "15 Nov to 1 Mar", duty = "8 %" }]',
    'seasons = [{ dates = "1 Jun to 31 Aug", duty = "70 %" }]',
)  # fmt: skip
FEW = settings(max_examples=25, deadline=None)


@st.composite
def load_lists(draw: Any) -> dict[str, Any]:
    """Return a random list: supplies, tiers, schedules, wires, strokes, a heater."""
    watts = st.floats(0.05, 30)
    rows = draw(
        st.lists(
            st.fixed_dictionaries(
                {
                    "typical": watts, "more": st.floats(0, 20), "start": st.floats(0, 40),
                    "duty": st.floats(0.01, 1), "quantity": st.integers(0, 6),
                    "supply": st.sampled_from(["", "loops", "radios"]),
                    "priority": st.sampled_from(["last", "shed first", "shed second"]),
                    "behaviour": st.sampled_from(["power", "current", "resistance"]),
                    "driver": st.sampled_from(DRIVERS),
                    "wire_m": st.sampled_from([0.0, 4.0, 30.0]),
                    "shared": st.booleans(), "strokes": st.integers(0, 40),
                }
            ),
            min_size=1, max_size=6,
        )
    )  # fmt: skip
    return {
        "rows": rows, "heater": draw(st.booleans()),
        "base": draw(st.sampled_from([(0, 0), (7, 20)])),
        "contingency": draw(st.sampled_from([0, 15])),
    }  # fmt: skip


def text_of(site_text: Any, case: dict[str, Any], k: float = 1.0) -> str:
    """Return the site file of a random list, each draw k-fold and each wire 1/k."""
    parts = [
        f'[[supply]]\nname = "{name}"\noutput = "{volts} V"\nrated = "{500 * k!r} W"\n'
        f'no_load = "{0.2 * k!r} W"\nefficiency = "85 %"'
        for name, volts in (("loops", 24), ("radios", 12))
    ]
    # One load that is always there: a list that draws nothing is refused.
    parts.append(f'[[load]]\nname = "controller"\ntypical = "{2 * k!r} W"')
    for number, row in enumerate(case["rows"]):
        most = row["typical"] + row["more"]
        lines = [
            f'[[load]]\nname = "load {number}"\ntypical = "{k * row["typical"]!r} W"',
            f'maximum = "{k * most!r} W"\npeak = "{k * (most + row["start"])!r} W"',
            f"duty = {row['duty']!r}\nquantity = {row['quantity']}",
            f'priority = "{row["priority"]}"\nbehaviour = "{row["behaviour"]}"',
            row["driver"],
        ]
        if row["supply"]:
            lines.append(f'supply = "{row["supply"]}"')
        if row["wire_m"]:
            shared = ", shared = true" if row["shared"] else ""
            length = f"{row['wire_m'] / k!r} m"
            lines.append(f'wire = {{ gauge = "12 AWG", length = "{length}"{shared} }}')
        if row["strokes"]:
            lines.append(
                f"strokes = {{ per_day = {row['strokes']}, "
                f'draw = "{6 * k!r} W", time = "15 s", inrush = "{9 * k!r} W" }}'
            )
        parts.append("\n".join(lines))
    if case["heater"]:
        parts.append(
            f'[[load]]\nname = "heater"\ntypical = "{60 * k!r} W"\n'
            'behaviour = "resistance"\n'
            f'heater = {{ thermostat = "5 degC", loss = "{1.5 * k!r} W/degC", '
            f'warmed_by = "{2 * k!r} W" }}'
        )
    leakage, own = case["base"]
    return str(site_text(
        "\n".join(parts), bus=STEPS, contingency=f"{case['contingency']} %",
        leakage=f"{leakage * k!r} mA", own=f"{own * k!r} mA",
    ))  # fmt: skip


def budget_of_case(site_text: Any, case: dict[str, Any], k: float = 1.0) -> Budget:
    """Return the budget of a random list."""
    return load_budget(read_site_text(text_of(site_text, case, k)))


# Words and the file's own tables: what a scaled budget keeps as written.
AS_WRITTEN = {"findings", "loops", "rack", "load", "basis", "grid", "load_factor"}


def same(found: Any, wanted: Any, where: str = "budget") -> None:
    """Compare two results field by field, whatever fields they have."""
    if dataclasses.is_dataclass(found):
        for field in dataclasses.fields(found):
            if field.name not in AS_WRITTEN:
                pair = getattr(found, field.name), getattr(wanted, field.name)
                same(*pair, f"{where}.{field.name}")
    elif isinstance(found, tuple | list):
        assert len(found) == len(wanted), where
        for number, pair in enumerate(zip(found, wanted, strict=True)):
            same(*pair, f"{where}[{number}]")
    elif isinstance(found, dict):
        assert list(found) == list(wanted), where
        for key, value in found.items():
            same(value, wanted[key], f"{where}[{key}]")
    elif isinstance(found, float | np.ndarray):
        assert np.allclose(found, wanted, rtol=1e-9, atol=1e-12), where
    else:
        assert found == wanted, where


@given(case=load_lists(), factor=st.floats(0.2, 5))
@FEW
def test_a_scaled_budget_is_that_of_a_site_so_much_larger(
    site_text: Any, case: dict[str, Any], factor: float
) -> None:
    """Every draw, converter and wire k-fold in the file: every field is the same."""
    plain = budget_of_case(site_text, case)
    scaled = plain.scaled(factor)
    same(scaled, budget_of_case(site_text, case, factor))
    assert scaled.load_factor == factor


def test_of_equal_inrushes_the_first_is_named_at_any_load(site_text: Any) -> None:
    """The last bits of a scaled draw do not choose between two starts of 1 W."""
    row = {
        "typical": 1.0, "more": 0.0, "start": 0.0, "duty": 1.0, "quantity": 0,
        "supply": "", "priority": "last", "behaviour": "power", "driver": "",
        "wire_m": 0.0, "shared": False, "strokes": 0,
    }  # fmt: skip
    rows = [dict(row) for _ in range(3)]
    last = dict(row, start=1.0, quantity=1, supply="loops")
    rows += [dict(last, more=6.0), last]
    case = {"rows": rows, "heater": False, "base": (0, 0), "contingency": 0}
    factor = 1.5628613425267983
    for budget in (
        budget_of_case(site_text, case, factor),
        budget_of_case(site_text, case).scaled(factor),
    ):
        assert budget.inrush == "load 3"


def test_scaling_twice_multiplies_and_nothing_is_refused(site_text: Any) -> None:
    """Two factors are their product; a load cannot be less than none."""
    case = {"rows": [], "heater": True, "base": (7, 20), "contingency": 15}
    budget = budget_of_case(site_text, case)
    same(budget.scaled(2).scaled(0.5), budget)
    assert budget.scaled(2).scaled(3).load_factor == 6
    assert budget.scaled(0).peak_a == 0
    for wrong in (-0.1, float("nan")):
        with pytest.raises(ValueError, match="load factor"):
            budget.scaled(wrong)


@pytest.mark.parametrize("factor", [0.0, 0.4, 2.5])
def test_a_scenario_multiplies_the_one_budget(site_text: Any, factor: float) -> None:
    """The load factor of a scenario is that of the budget; none at all is none."""
    case = {"rows": [], "heater": True, "base": (7, 20), "contingency": 15}
    plain = prepare(read_site_text(text_of(site_text, case)))
    other = plain.under(Scenario(load_factor=factor))
    same(other.budget, plain.budget.scaled(factor))
    for name in np.ravel(col.TIERS):
        assert np.allclose(other.hourly[name], factor * plain.hourly[name])


def _rail_wh(budget: Budget, name: str, month: int) -> float:
    """Return what a supply asks of the bus, hour by hour by hand [Wh/day]."""
    rail, found = budget.rails[name], 0.0
    for hour in range(24):
        fed = 0.0
        for item in budget.items:
            if (item.load.supply or "") == name:
                one = item.draw.typical_w * item.load.quantity
                wire = item.wire_w(item.draw.typical_w)
                fed += (one + wire) * item.share[month, hour]
                fed += item.stroke_w * item.load.quantity
        found += rail.no_load_w + rail.slope * fed
    return found


@given(case=load_lists(), factor=st.sampled_from([1.0, 1.7]))
@FEW
def test_lines_come_to_every_total(
    site_text: Any, case: dict[str, Any], factor: float
) -> None:
    """Energy, maximum, parasitic load, classes and words of status are sums of lines."""
    budget = budget_of_case(site_text, case).scaled(factor)
    lines = budget.lines
    energy = sum(line.wh_per_day for line in lines)
    assert energy == pytest.approx(budget.wh_per_day, rel=1e-12)
    assert energy == pytest.approx(24 * budget.average_w, rel=1e-12)
    assert energy == pytest.approx(budget.nominal_v * budget.ah_per_day, rel=1e-12)
    most = sum(line.maximum_w for line in lines)
    assert most == pytest.approx(budget.maximum_w, rel=1e-12)
    parasitic = sum(line.wh_per_day for line in lines if line.hidden)
    assert parasitic == pytest.approx(24 * budget.hidden_w, rel=1e-12)
    plain = energy / (1 + budget.contingency_frac)
    assert sum(budget.class_wh.values()) == pytest.approx(plain, rel=1e-12)
    assert sum(budget.status_frac.values()) == pytest.approx(1.0, rel=1e-12)
    for line in lines:
        strokes = line.wh_per_day - 24 * line.typical_w * line.duty_frac
        assert strokes >= -1e-9 * line.wh_per_day
        assert line.peak_w >= line.maximum_w


@given(case=load_lists(), month=st.integers(0, 11))
@FEW
def test_lines_come_to_the_total_of_every_supply(
    site_text: Any, case: dict[str, Any], month: int
) -> None:
    """Loads and wires times the slope, and the no-load power once, in every month."""
    budget = budget_of_case(site_text, case)
    margin = 1 + budget.contingency_frac
    base_wh = 24 * budget.base_a * budget.nominal_v
    of_rails = sum(_rail_wh(budget, name, month) for name in budget.rails)
    found = float(budget.daily_load_wh[month])
    assert found == pytest.approx(margin * of_rails + base_wh, rel=1e-9)
    top = budget.highest_load_month - 1
    for name, rail in budget.rails.items():
        if not name:
            continue
        lost = [x for x in budget.lines if x.name.startswith(f"{name}: ")]
        fed = sum(x.wh_per_day for x in budget.lines if x.supply == name)
        wires = sum(
            24 * item.wire_w(item.draw.typical_w) * float(item.share[top].mean())
            for item in budget.items
            if item.load.supply == name
        )
        wanted = _rail_wh(budget, name, top)
        whole = fed + wires + sum(x.wh_per_day for x in lost)
        assert whole == pytest.approx(wanted, rel=1e-9)
        no_load = next(x for x in lost if x.name.endswith("no-load"))
        assert no_load.wh_per_day == 24 * rail.no_load_w == 24 * 0.2


@given(case=load_lists(), month=st.integers(0, 11), hour=st.integers(0, 23))
@FEW
def test_lines_come_to_the_total_of_every_tier_and_hour(
    site_text: Any, case: dict[str, Any], month: int, hour: int
) -> None:
    """At every hour a tier draws its loads through their converters, and no more."""
    budget = budget_of_case(site_text, case)
    volts = budget.nominal_v
    # Converters idle until the final disconnect, whoever hangs on them.
    wanted = [sum(rail.no_load_w for rail in budget.rails.values()), 0.0, 0.0]
    for item in budget.items:
        one = item.draw.typical_w * item.load.quantity
        wire = item.wire_w(item.draw.typical_w)
        at = (one + wire) * item.share[month, hour] + item.stroke_w * item.load.quantity
        wanted[item.tier] += item.rail.slope * at
    for tier in range(3):
        found = (
            budget.tier_w[tier, month, hour]
            + budget.tier_a[tier, month, hour] * volts
            + budget.tier_s[tier, month, hour] * volts**2
        )
        asked = (1 + budget.contingency_frac) * wanted[tier]
        assert found == pytest.approx(asked, rel=1e-9, abs=1e-12)


@given(case=load_lists())
@FEW
def test_the_highest_load_month_is_the_highest(
    site_text: Any, case: dict[str, Any]
) -> None:
    """No month has a larger daily load; of equal ones it is the first."""
    budget = budget_of_case(site_text, case)
    top = budget.highest_load_month - 1
    assert budget.wh_per_day == pytest.approx(budget.daily_load_wh.max(), rel=1e-9)
    assert np.all(budget.daily_load_wh[:top] < budget.wh_per_day)
    for line, item in zip(
        [x for x in budget.lines if not x.hidden], budget.items, strict=False
    ):
        assert line.duty_frac == float(item.share[top].mean())


def test_one_line_has_one_figure_everywhere(tmp_path: Path, package_of: Any) -> None:
    """Page, workbook, JSON and checks hold the same floats for the same load."""
    package = package_of("coast")
    site = Path(__file__).parents[2] / "sites" / "coastal-meter-run.toml"
    answer = CliRunner().invoke(app, ["loads", str(site), "--json"]).stdout
    told = json.loads(answer)
    section = loads_section(package, Sources(""))
    tables = {block.key: block for block in section.blocks if isinstance(block, Table)}
    rows = tables["lines"].rows
    place = {column.head: k for k, column in enumerate(tables["lines"].columns)}
    write_workbook(package, tmp_path / "book.xlsx", "2026-01-02")
    sheet = load_workbook(tmp_path / "book.xlsx", data_only=True)["Loads"]
    heads = [cell.value for cell in sheet[3]]
    book = {row[0].value: row for row in sheet.iter_rows(min_row=4)}
    assert len(told["lines"]) == len(rows) - 1 == len(package.budget.lines)
    for line, row, mine in zip(told["lines"], rows, package.budget.lines, strict=False):
        keys = ("typical_w", "maximum_w", "duty_frac", "wh_per_day")
        values = [getattr(mine, key) for key in keys]
        assert [line[key] for key in keys] == values
        shown = [
            row.cells[place[head]].sort for head in ("typical", "maximum", "energy")
        ]
        assert shown == [values[0], values[1], values[3]]
        if not mine.hidden and mine.kind != "contingency":
            cells = [
                book[mine.name][heads.index(head)].value
                for head in (
                    "typical power, all, W",
                    "maximum power, all, W",
                    "energy, Wh/day",
                )
            ]
            assert cells == [values[0], values[1], values[3]]
    facts = collect(package.design, package.problem)
    assert facts.items == tuple(i for i in package.budget.items if i.load.quantity)
    found = {row.subject: row for row in converter(facts) if isinstance(row, Check)}
    for name in package.budget.rails:
        if name:
            assert found[name].value == rail_maximum_w(package.budget.items, name)


@pytest.mark.parametrize("verb", [["check"], ["run"], ["loads"]])
def test_a_verb_reckons_the_loads_once(
    monkeypatch: pytest.MonkeyPatch, verb: list[str]
) -> None:
    """One command lays the load list out once."""
    calls = []
    inner = items_module.site_items

    def counted(*args: Any) -> Any:
        calls.append(args)
        return inner(*args)

    monkeypatch.setattr(budget_module, "site_items", counted)
    site = Path(__file__).parents[2] / "sites" / "checked-station-12v.toml"
    CliRunner().invoke(app, [*verb, str(site), "--json"])
    assert len(calls) == 1


@given(case=load_lists())
@FEW
def test_months_of_the_series_are_those_of_the_tables(
    site_text: Any, case: dict[str, Any]
) -> None:
    """In the design year the hourly series gives the budget's own daily loads."""
    budget = budget_of_case(site_text, case)
    rows = bus_series(budget, budget.grid)
    found = daily_load_wh(budget, rows, budget.grid.month)
    assert found == pytest.approx(budget.daily_load_wh, rel=1e-9)
    january = budget.grid.month == 1
    only = daily_load_wh(budget, rows[january], budget.grid.month[january])
    assert only[0] == pytest.approx(budget.daily_load_wh[0], rel=1e-9)
    assert np.all(np.isnan(only[1:]))


def test_heaters_follow_the_air_of_the_record_by_month(site_text: Any) -> None:
    """A heater's month is its loss at the record's air, and the cold's in the budget."""
    case = {"rows": [], "heater": True, "base": (7, 20), "contingency": 15}
    problem = prepare(read_site_text(text_of(site_text, case)))
    budget, record = problem.budget, problem.record
    found = stages.daily_load_wh(budget, record)
    heater_w = np.clip(1.5 * (5 - record.temp_air_degc) - 2, 0, 60)
    standing_w = 2 + 0.4 + 24 * 0.027
    for month in range(12):
        mean_w = float(heater_w[record.month == month + 1].mean())
        wanted = 24 * 1.15 * (standing_w + mean_w)
        assert found[month] == pytest.approx(wanted, rel=1e-9)
    cold_w = 1.5 * (5 + 20) - 2
    assert budget.heated
    assert budget.design_cold_degc == -20
    assert budget.daily_load_wh == pytest.approx(24 * 1.15 * (standing_w + cold_w))
    worksheet = site_figures(problem)[2].load_ah_by_month
    assert worksheet == pytest.approx(tuple(found / 24))
    assert design_month(problem).load_ah_per_day in list(found / 24)


@pytest.mark.parametrize("heater", [False, True])
def test_the_page_names_the_design_cold_and_the_months(
    site_text: Any, heater: bool
) -> None:
    """A heated site's page says at which air it draws so much, and what months draw."""
    case = {"rows": [], "heater": heater, "base": (7, 20), "contingency": 15}
    problem = prepare(read_site_text(text_of(site_text, case)))
    budget, run = problem.budget, SimpleNamespace(strings=1, generation=())
    package: Any = SimpleNamespace(
        budget=budget, record=problem.record, run=run, problem=problem
    )
    section = loads_section(package, Sources(""))
    found = stages.daily_load_wh(budget, problem.record)
    tables = {block.key: block for block in section.blocks if isinstance(block, Table)}
    assert budget.heated == heater
    assert ("heaters at the design minimum of -20 °C" in section.lead) == heater
    assert ("daily-load" in tables) == heater
    if heater:
        rows = tables["daily-load"].rows
        assert [row.cells[1].sort for row in rows] == list(budget.daily_load_wh)
        assert [row.cells[2].sort for row in rows] == list(found)


@pytest.mark.parametrize(
    ("dates", "inside", "outside"),
    [
        ("1 Jun to 31 Aug", (151, 242), (150, 243)),
        ("15 Nov to 1 Mar", (318, 364, 0, 59), (317, 60)),
        ("4 Jul to 4 Jul", (184,), (183, 185)),
    ],
)
def test_a_season_holds_its_first_and_its_last_day(
    dates: str, inside: tuple[int, ...], outside: tuple[int, ...]
) -> None:
    """Both dates are in it and their neighbors are not: 1 June is day 151 from 0."""
    seasons: Any = [{"dates": dates, "duty": "50 %"}]
    load = Load(name="pump", typical="10 W", duty="10 %", seasons=seasons)
    daily = share(load, design_grid((50.0, 0.0, 0.0), 0.0)).reshape(365, 24)
    assert all(np.all(daily[day] == 0.5) for day in inside)
    assert all(np.all(daily[day] == 0.1) for day in outside)


def test_alike_lines_of_a_rack_are_told_once_with_their_number() -> None:
    """What `check` leaves out it counts: names and "N more" come to all loads."""
    site = Path(__file__).parents[2] / "sites" / "tag-list-station.toml"
    facts = collect(read_site(site))
    named = separate(facts)
    more = [re.search(r" and (\d+) more of the rack$", name) for name, _ in named]
    hidden = sum(int(found[1]) for found in more if found)
    assert hidden > 0
    assert len(named) + hidden == len(facts.items)
    told = json.loads(CliRunner().invoke(app, ["check", str(site), "--json"]).stdout)
    subjects = {row["subject"] for row in told.get("rows", told.get("checks"))}
    names = [name for name, _ in named if " more of the rack" in name]
    assert set(names) & subjects
