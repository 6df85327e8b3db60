"""What a simulation must hold before anything is told of it."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from powerbudget.balance import columns as col
from powerbudget.balance import kernel, ring
from powerbudget.balance import simulation as runs
from powerbudget.balance.drive import aged_health_frac
from powerbudget.balance.gate import check_books, check_run
from powerbudget.balance.simulation import simulate, simulate_size
from powerbudget.checks.registry import check
from powerbudget.compare.comparison import compare
from powerbudget.compare.sized import panelled
from powerbudget.errors import InputError
from powerbudget.fleet.fleet import fleet_row
from powerbudget.site.reader import read_site
from powerbudget.site.starter import starter_design
from powerbudget.sizing.autonomy_view import autonomy_view
from powerbudget.sizing.recovery import recovery
from powerbudget.sizing.search import size
from powerbudget.sizing.uncertainty.monte_carlo import ensemble
from powerbudget.sizing.uncertainty.reliability import unmet_frac

SITES = Path(__file__).resolve().parents[2] / "sites"


@pytest.fixture(scope="module")
def run():
    """Return the run of the built-in example."""
    return simulate(starter_design())


@pytest.mark.parametrize("charge", [-0.01, 1.01, np.nan])
def test_a_state_of_charge_out_of_bounds_is_refused(run, charge):
    """More than the bank holds, less than nothing, and no number at all."""
    start, out = run.removed_ah[0], run.out.copy()
    check_run(run.problem, run.scalars, start, out)
    out["removed_ah"][100] = (1.0 - charge) * run.scalars["charge_ah"]
    with pytest.raises(InputError, match="left its valid range"):
        check_run(run.problem, run.scalars, start, out)


@pytest.mark.parametrize("name", ["array_a", "battery_a", "bus_v", "served"])
def test_figures_of_a_run_that_do_not_add_up_are_refused(run, name):
    """A hundredth of a year's hours with one figure a little off is seen."""
    out = run.out.copy()
    out[name][::100] *= 1.01 if name.endswith(("_a", "_v")) else 0.0
    with pytest.raises(InputError, match="balance residual"):
        check_run(run.problem, run.scalars, run.removed_ah[0], out)


NEVER_READ = ("source_w", "source_open", "source_draw")  # without a source to follow


@pytest.mark.parametrize("column", sorted({*col.ROW.names} - {*NEVER_READ}))
def test_the_refusal_names_the_table_of_a_figure_that_is_none(run, column):
    """Whatever table made a figure that is no number is named, also where it limits."""
    rows = run.problem.hourly.copy()
    rows[column][2000:] = np.nan
    with pytest.raises(InputError) as caught:
        simulate_size(replace(run.problem, hourly=rows))
    (fault,) = caught.value.faults
    assert fault.where == TABLE_OF.get(column, "battery")


TABLE_OF = {
    "array_w": "array",
    "base_w": "battery.heater",
    "controller_share": "charge_controller",
    "base_less_a": "charge_controller",
    "steady_w": "generator",
    **dict.fromkeys(itertools.chain(*col.TIERS), "load"),
}


@pytest.mark.parametrize("off", [(2e-6, 0.0), (0.0, 2e-6)])
def test_books_that_do_not_close_are_refused(run, off):
    """Energy and charge each; a part in a million is still rounding."""
    check_books(run.problem, run.ledger.error_frac, run.ledger.charge_error_frac)
    with pytest.raises(InputError, match="balance residual 2e-06"):
        check_books(run.problem, *off)


def test_a_simulation_goes_through_both_gates(monkeypatch):
    """Neither is left out of what `run` prints."""
    seen = []
    monkeypatch.setattr(ring, "check_run", lambda *_: seen.append("charge"))
    monkeypatch.setattr(runs, "check_books", lambda *_: seen.append("books"))
    simulate(starter_design())
    assert seen == ["charge", "books"]


def _leaky(step):
    """Return the kernel's year with a hundredth of the charge lost each hundredth hour."""

    def go_on(hourly, currents, tables, s, removed, mode, out):
        step(hourly, currents, tables, s, removed, mode, out)
        out["removed_ah"][::100] += 0.01 * (s["charge_ah"] - out["removed_ah"][::100])

    return go_on


VERBS = {
    "run": lambda p: simulate(p.design),
    "size": size,
    "autonomy": lambda p: autonomy_view(simulate_size(p)),
    "recovery": lambda p: recovery(simulate_size(p)),
    "age in years": lambda p: aged_health_frac(p, 5.0),
    "energy not served": lambda p: unmet_frac(p, 1.5, p.bank),
    "years drawn": lambda p: ensemble(p, 3, 1, sizes=[(2, 1)]),
    "check": lambda p: check(p.design, p),
}


@pytest.mark.parametrize("verb", VERBS)
def test_no_verb_goes_past_the_gate(monkeypatch, prepared, verb):
    """A kernel that loses charge is refused by whatever asks it."""
    problem = prepared("starter")
    monkeypatch.setattr(kernel, "go_on", _leaky(kernel.go_on))
    with pytest.raises(InputError, match="balance residual"):
        VERBS[verb](problem)


def test_verbs_that_collect_say_what_the_gate_said(monkeypatch):
    """Of a fleet the site, of a comparison each option beside a sound one."""
    monkeypatch.setattr(kernel, "go_on", _leaky(kernel.go_on))
    path = SITES / "coastal-meter-run.toml"
    assert "balance residual" in fleet_row(str(path), path.name, sizes=True).fault
    with pytest.raises(InputError, match="balance residual"):
        compare(read_site(path), turns=False)


def test_panels_of_a_comparison_suit_the_bus():
    """Two modules of 12 V in series charge 24 V; one alone would not."""
    problem = panelled(read_site(SITES / "propane-relay.toml"))
    assert problem.design.tables.bus.nominal_v == 24.0
    assert problem.design.tables.array.series == 2
    single = problem.design.tables.array.model_copy(update={"series": 1})
    tables = problem.design.tables.model_copy(update={"array": single})
    alone = panelled(replace(problem.design, tables=tables))
    assert alone.hourly["array_w"].sum() < 0.01 * problem.hourly["array_w"].sum()
