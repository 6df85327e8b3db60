"""Speed as ratios in one run: `pytest -m bench`.  Not part of the default tests."""

from __future__ import annotations

import time

import numpy as np
import pytest

from powerbudget.balance import columns as col
from powerbudget.balance import kernel, twin

pytestmark = pytest.mark.bench


def _best(call, repeat):
    times = []
    for _ in range(repeat):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return min(times)


@pytest.mark.parametrize("direct", [False, True])
def test_kernel_is_at_least_forty_times_its_twin(make_rows, direct, capsys):
    """A year in the compiled kernel takes at most a fortieth of the plain twin's time."""
    rows, currents, tables, s = make_rows(7, 8760, direct=direct)
    out = np.empty((len(rows), col.RESULT_COLUMNS))
    kernel.simulate(rows, currents, tables, s, 0.0, out)
    fast = _best(lambda: kernel.simulate(rows, currents, tables, s, 0.0, out), 7)
    slow = _best(lambda: twin.simulate(rows, currents, tables, s, 0.0), 1)
    with capsys.disabled():
        print(
            f"\n{1e9 * fast / len(rows):.0f} ns an interval, twin / kernel {slow / fast:.0f}"
        )
    assert slow / fast >= 40
