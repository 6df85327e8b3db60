"""Lines of the hand worksheet against a printed example."""

from __future__ import annotations

import math

import pytest

from powerbudget.sizing.worksheet.site_figures import make_worksheet


def test_worksheet_lines_follow_from_each_other(prepared):
    """Every line can be ticked with a pencil from the lines above it."""
    problem = prepared("coastal-meter-run")
    lines = {w.symbol: w for w in make_worksheet(problem)}
    criteria = problem.design.tables.criteria
    value = {symbol: w.value for symbol, w in lines.items()}
    assert value["C1"] == pytest.approx(value["Q"] * value["D"])
    assert value["C2"] == pytest.approx(value["C1"] / criteria.deepest_discharge_frac)
    assert value["C5"] == pytest.approx(max(value[c] for c in ("C2", "C3", "C4")))
    assert value["C6"] == pytest.approx(value["C5"] * value["kT"])
    assert value["I"] == pytest.approx(
        value["A"] * value["Qm"] / (value["eta"] * (1 - value["ls"]) * value["G"])
    )
    assert value["Na"] == math.ceil(value["I"] / value["Im"])
    assert value["Np"] == math.ceil(value["C6"] / value["Cu"])
    assert value["Ns"] == problem.bank.cells
    numbers = [w.line for w in make_worksheet(problem)]
    assert numbers == list(range(1, len(numbers) + 1))
    assert all(w.source and w.formula and w.unit for w in lines.values())


def test_steeper_panel_is_the_better_one_in_the_north(prepared):
    """At 55 degrees north, load over sun falls from latitude - 15 to latitude + 15."""
    (line,) = [w for w in make_worksheet(prepared("starter")) if w.symbol == "G"]
    worst = [
        float(part.split(": ")[1]) for part in line.inputs.split("tilt ")[2].split(", ")
    ]
    assert worst == sorted(worst, reverse=True)
    assert len(worst) >= 3
