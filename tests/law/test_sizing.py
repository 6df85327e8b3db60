"""Searches and autonomies computed a second, slower way."""

from __future__ import annotations

import ast
import dataclasses
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import powerbudget
from powerbudget.balance import columns as col
from powerbudget.balance import dispatch, kernel
from powerbudget.balance.simulation import simulate_size
from powerbudget.sizing.autonomy import design_autonomy_days, record_autonomy
from powerbudget.sizing.search import size
from powerbudget.sizing.worksheet.figures import (
    ArrayFigures,
    BatteryFigures,
    SheetLoad,
    loads_from,
)
from powerbudget.sizing.worksheet.lines import worksheet_from

SITES = ["starter", "coastal-meter-run", "two-well-pad", "hot-valve-site"]


def _with(problem, **changes):
    """Return the problem with other limits of the search or criteria."""
    tables = problem.design.tables
    parts = {
        name: getattr(tables, name).model_copy(update=update)
        for name, update in changes.items()
    }
    design = dataclasses.replace(problem.design, tables=tables.model_copy(update=parts))
    return dataclasses.replace(problem, design=design)


@pytest.mark.parametrize(
    "name",
    [
        "starter",
        "hot-valve-site",
        pytest.param("coastal-meter-run", marks=pytest.mark.slow),
        pytest.param("two-well-pad", marks=pytest.mark.slow),
    ],
)
def test_record_autonomy_equals_trying_every_start(prepared, name):
    """The bounded search over starts finds the shortest of all of them."""
    run = simulate_size(prepared(name))
    days, start = record_autonomy(run)
    problem = run.problem
    s = problem.scalars(run.strings, run.bank)
    starts = np.arange(problem.record.n)
    counts = kernel.holds(
        problem.hourly, problem.tables, s, np.full(starts.size, np.inf), starts,
        run.removed_ah[:-1], 0 * starts, 9600, 0, True,
    )  # fmt: skip
    assert days * 24 == counts.min()
    assert counts[start] == counts.min()


def test_record_autonomy_is_nothing_when_the_loads_were_lost(prepared):
    """A run with an outage has no autonomy to speak of, and says when."""
    run = simulate_size(prepared("coastal-meter-run"), 1, 1)
    assert run.outages
    days, start = record_autonomy(run)
    assert days == 0
    assert start == run.outages[0].index


def test_design_autonomy_is_charge_over_current_for_a_plain_bank(prepared):
    """With no voltage disconnect and a constant-current load it is Ah over A."""
    problem = prepared("starter")
    bank = problem.bank.with_strings(2)
    tables = problem.design.tables
    by_state = _with(
        problem,
        bus={
            "disconnect_v": None, "reconnect_v": None,
            "disconnect_soc_frac": 0.5, "reconnect_soc_frac": 0.7,
        },
    )  # fmt: skip
    budget = dataclasses.replace(
        problem.budget,
        tier_w=np.zeros((3, 12, 24)),
        tier_s=np.zeros((3, 12, 24)),
        tier_a=np.stack([np.full((12, 24), x) for x in (0.4, 0.0, 0.0)]),
        base_a=0.1,
    )
    plain = dataclasses.replace(by_state, budget=budget)
    usable = 0.5 * bank.charge_ah(plain.mean_load_a)
    days = design_autonomy_days(plain, bank, 25.0)
    lost = bank.chemistry.self_discharge_per_month / 720 * 2**0.5 * usable * 1.5
    exact = usable / (0.5 + lost) / 24
    assert days == pytest.approx(exact, abs=1.5 / 24)
    assert tables.bus.disconnect_v is not None


def _sheet(q: float, battery: BatteryFigures, array: ArrayFigures | None = None):
    loads = loads_from(12.0, SheetLoad("load", 24.0, draw_a=q / 24))
    return {x.symbol: x.value for x in worksheet_from(loads, battery, array)}


@given(
    q=st.floats(0.1, 1e4), days=st.floats(0.5, 60), deep=st.floats(0.05, 1),
    daily=st.floats(0.05, 1), end=st.floats(0.5, 1),
)  # fmt: skip
def test_governing_capacity_covers_every_rule_and_one_exactly(
    q, days, deep, daily, end
):
    """Depth, daily depth and end of life all hold; the one that governs just so."""
    figures = BatteryFigures(
        days=days, unit_ah=100, deepest_frac=deep, daily_frac=daily,
        end_of_life_frac=end,
    )  # fmt: skip
    ah = _sheet(q, figures)["C6"]
    spare = [ah * deep / (q * days), ah * daily / q, ah * end / (q * days)]
    assert min(spare) == pytest.approx(1.0)


@given(q=st.floats(0.1, 1e3), sun=st.floats(0.1, 8), ratio=st.floats(0.5, 3))
def test_array_current_gives_back_the_ratio(q, sun, ratio):
    """Array Ah over load Ah is the ratio asked for, what charging loses counted."""
    array = ArrayFigures(
        {30.0: (sun,)}, module_a=5.0, module_w=90.0, module_v=18.0, charge_v=14.4,
        ratio=ratio, charge_efficiency_frac=0.8, system_loss_frac=0.25,
    )  # fmt: skip
    amps = _sheet(q, BatteryFigures(days=3, unit_ah=100), array)["I"]
    assert amps * sun * 0.8 * 0.75 / q == pytest.approx(ratio)


def test_nothing_large_enough_is_said(prepared):
    """Where no step is large enough there is no pick, and the reason is named."""
    problem = _with(
        prepared("coastal-meter-run"),
        sizing={"max_array_strings": 2, "max_battery_strings": 1},
    )
    result = size(problem)
    assert result.pick is None
    assert not result.frontier
    assert "autonomy" in result.binding
    assert result.nearest_miss.array_strings == 2


def test_colder_bank_holds_fewer_days(prepared):
    """Design autonomy never grows as the battery gets colder."""
    problem = prepared("coastal-meter-run")
    days = [
        design_autonomy_days(problem, problem.bank, degc) for degc in range(-40, 31, 10)
    ]
    assert all(np.diff(days) >= 0)
    assert days[0] < 0.6 * days[-1]


def _used(record, context):
    """Return the fields of a record that the compiled files read or write."""
    text = "".join(Path(m.__file__).read_text("utf-8") for m in (kernel, dispatch))
    nodes = (n for n in ast.walk(ast.parse(text)) if isinstance(n, ast.Attribute))
    own = (n for n in nodes if isinstance(n.ctx, context))
    return {n.attr for n in own if getattr(n.value, "id", "") == record}


def test_every_field_of_the_records_is_used():
    """The kernel reads all it is given, writes all it gives, and somebody looks at it."""
    for record, fields, context in (
        ("row", col.ROW, ast.Load), ("s", col.SCALARS, ast.Load),
        ("mode", col.SWITCHES, ast.Load), ("mode", col.SWITCHES, ast.Store),
        ("out", col.RESULT, ast.Store),
    ):  # fmt: skip
        assert set(fields.names) == _used(record, context)
    home = Path(powerbudget.__file__).parent
    plain = [path for path in home.rglob("*.py") if path.name != "columns.py"]
    text = "".join(path.read_text("utf-8") for path in plain)
    assert [name for name in col.RESULT.names if f'"{name}"]' not in text] == []


def test_binding_names_the_day_on_which_one_step_smaller_fails(prepared):
    """The day in the reason is that of the smaller design's own hourly run."""
    problem = prepared("starter")
    result = size(problem)
    smaller = simulate_size(
        result.problem, result.pick.array_strings - 1, result.pick.battery_strings
    )
    day = int(smaller.lowest_soc_at[8:10])
    left = f"SOC {100 * smaller.lowest_soc_frac:.0f} % on {day}"
    assert left in result.binding.split("; ")[0]
