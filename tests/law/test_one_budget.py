"""One budget: its lines, totals, tiers and hours say the same for every load list."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from powerbudget.balance import columns as col
from powerbudget.balance.problem import prepare
from powerbudget.balance.scenario import Scenario
from powerbudget.loads.budget import Budget, load_budget
from powerbudget.site.reader import read_site_text

STEPS = 'shed_first = "24.4 V"\nshed_second = "23.9 V"'
DRIVERS = (
    "", 'hours = "06:00-18:30"', 'months = "Nov-Mar"', 'when = "night"',
    'seasons = [{ dates = "15 Nov to 1 Mar", duty = "8 %" }]',
    'seasons = [{ dates = "1 Jun to 31 Aug", duty = "70 %" }]',
)  # fmt: skip
FEW = settings(max_examples=40, deadline=None)


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
    loads = [k for columns in col.TIERS for k in columns]
    assert np.allclose(other.hourly[:, loads], factor * plain.hourly[:, loads])
