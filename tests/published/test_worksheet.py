"""Lines of the hand worksheet against a printed example."""

from __future__ import annotations

import math

import pytest

from powerbudget.sizing.sitesheet import make_worksheet
from powerbudget.sizing.worksheet import (
    cells_in_series,
    functional_hour_rate_h,
    governing_ah,
    whole_strings,
)


# IEEE Std 1013 worksheet, medical refrigerator, K. Webb, Oregon State University,
# ESE 471 section 6, slides 34-54.
def test_refrigerator_worksheet_from_loads_to_strings():
    """Lines 5 to 10 as printed: 15.1 A, 51.4, 424 Ah, 70 h, 6 cells, 4 strings."""
    loads = [(6.0, 3.0), (6.0, 5.0), (15.0, 4 / 60), (0.1, 24.0)]
    q = sum(amps * hours for amps, hours in loads)
    assert pytest.approx(15.1) == 15 + 0.1
    assert q == pytest.approx(51.4, abs=0.05)
    adjusted = governing_ah(q, 6, 0.80, 0.20) * 1.00 * 1.1
    assert adjusted == pytest.approx(424, abs=0.5)
    assert functional_hour_rate_h(adjusted, 6 + 0.1) == pytest.approx(70, abs=0.55)
    cells = cells_in_series(min(15.0, 14.7), 2.45)
    assert cells == 6
    assert max(10.5, 10.8) / cells == pytest.approx(1.80, abs=0.005)
    assert whole_strings(adjusted, 110) == 4
    assert whole_strings(adjusted, 110) * 110 == 440


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
