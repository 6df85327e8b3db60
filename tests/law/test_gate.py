"""What a simulation must hold before anything is told of it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from powerbudget.balance import simulation as runs
from powerbudget.balance.gate import check_books, check_run
from powerbudget.balance.simulation import simulate
from powerbudget.compare.sized import panelled
from powerbudget.errors import InputError
from powerbudget.site.reader import read_site
from powerbudget.site.starter import starter_design

SITES = Path(__file__).resolve().parents[2] / "sites"


@pytest.fixture(scope="module")
def run():
    """Return the run of the built-in example."""
    return simulate(starter_design())


@pytest.mark.parametrize("charge", [-0.01, 1.01, np.nan])
def test_a_state_of_charge_out_of_bounds_is_refused(run, charge):
    """More than the bank holds, less than nothing, and no number at all."""
    removed = run.removed_ah.copy()
    removed[100] = (1.0 - charge) * run.scalars["charge_ah"]
    check_run(run)
    with pytest.raises(InputError, match="left its valid range"):
        check_run(replace(run, removed_ah=removed))


@pytest.mark.parametrize("name", ["error_frac", "charge_error_frac"])
def test_books_that_do_not_close_are_refused(run, name):
    """Energy and charge each; a part in a million is still rounding."""
    books = run.ledger

    class Open:
        error_frac = books.error_frac
        charge_error_frac = books.charge_error_frac

    check_books(Open)
    setattr(Open, name, 2e-6)
    with pytest.raises(InputError, match="balance residual 2e-06"):
        check_books(Open)


def test_a_simulation_goes_through_both_gates(monkeypatch):
    """Neither is left out of what `run` prints."""
    seen = []
    monkeypatch.setattr(runs, "check_run", lambda _: seen.append("charge"))
    monkeypatch.setattr(runs, "check_books", lambda _: seen.append("books"))
    simulate(starter_design())
    assert seen == ["charge", "books"]


def test_panels_of_a_comparison_suit_the_bus():
    """Two modules of 12 V in series charge 24 V; one alone would not."""
    problem = panelled(read_site(SITES / "propane-relay.toml"))
    assert problem.design.tables.bus.nominal_v == 24.0
    assert problem.design.tables.array.series == 2
    single = problem.design.tables.array.model_copy(update={"series": 1})
    tables = problem.design.tables.model_copy(update={"array": single})
    alone = panelled(replace(problem.design, tables=tables))
    assert alone.hourly["array_w"].sum() < 0.01 * problem.hourly["array_w"].sum()
