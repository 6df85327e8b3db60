"""An ensemble against the bare kernel on the same hours: `pytest -m bench`."""

from __future__ import annotations

import time

import pytest

from powerbudget.balance.drive import run_kernel
from powerbudget.sizing.uncertainty.monte_carlo import ensemble

pytestmark = pytest.mark.bench


def test_ensemble_costs_little_more_than_its_kernel_runs(prepared, capsys):
    """Making, laying out and counting add at most twice the kernel's own time."""
    problem = prepared("starter")
    sizes = [(a, b) for a in range(8, 18) for b in range(3, 8)]
    ensemble(problem, 2, 1, sizes=sizes, threads=1)
    s = problem.scalars(10, problem.bank)
    start = time.perf_counter()
    for _ in range(500):
        run_kernel(problem, s, 0.0)
    bare = (time.perf_counter() - start) / 500
    start = time.perf_counter()
    ensemble(problem, 50, 1, sizes=sizes, threads=1)
    ratio = (time.perf_counter() - start) / (50 * len(sizes)) / bare
    with capsys.disabled():
        print(f"\nensemble over bare kernel, one size in one season: {ratio:.2f}")
    assert ratio < 3.0
