"""Speed as ratios in one run: `pytest -m bench`.  Not part of the default tests."""

from __future__ import annotations

import time

import numpy as np
import pytest
from reference import twin

from powerbudget.balance import columns as col
from powerbudget.balance import kernel

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
    out = np.empty(len(rows), col.RESULT)
    kernel.simulate(rows, currents, tables, s, 0.0, out)
    fast = _best(lambda: kernel.simulate(rows, currents, tables, s, 0.0, out), 7)
    slow = _best(lambda: twin.simulate(rows, currents, tables, s, 0.0), 1)
    with capsys.disabled():
        print(
            f"\n{1e9 * fast / len(rows):.0f} ns an interval, twin / kernel {slow / fast:.0f}"
        )
    assert slow / fast >= 40


@pytest.mark.parametrize("direct", [False, True])
def test_a_generator_costs_less_than_the_interval_itself(make_rows, direct, capsys):
    """An interval with a source that follows the battery takes at most twice the time."""
    rows, currents, tables, s = make_rows(7, 40_000, direct=direct)
    out = np.empty(len(rows), col.RESULT)
    s["source"] = 0.0
    rows["steady_w"] = 0.0

    def run():
        kernel.simulate(rows, currents, tables, s, 0.0, out)

    run()
    bare = _best(run, 9)
    s["source"], s["source_start_frac"] = 1.0, 1.0
    s["source_start_state"], s["source_stop_state"] = 0.5, 0.8
    s["source_tank_wh"], s["source_order_wh"] = 1e5, 3e4
    s["source_idle_w"], s["source_slope"] = 100.0, 3.0
    s["source_exercise_every_h"], s["source_exercise_h"] = 168.0, 0.5
    rows["steady_w"], rows["source_w"] = 5.0, 60.0
    rows["source_open"] = 1.0
    with_source = _best(run, 9)
    with capsys.disabled():
        print(f"\n{with_source / bare:.2f} times the interval without a generator")
    assert with_source / bare <= 2


@pytest.mark.parametrize("direct", [False, True])
def test_a_controller_that_clips_costs_little_more_than_one_that_does_not(
    make_rows, direct, capsys
):
    """An interval behind a limit that acts takes at most 1.15 times one without a limit."""
    rows, currents, tables, s = make_rows(7, 100_000, direct=direct)
    out = np.empty(len(rows), col.RESULT)
    s["source"] = 0.0
    s["controller_a"] = s["controller_w"] = col.UNLIMITED

    def run():
        kernel.simulate(rows, currents, tables, s, 0.0, out)

    run()
    free = _best(run, 15)
    s["controller_a"] = 2.0
    clipped = _best(run, 15)
    assert (out["offered_a"] > 2.0).mean() > 0.1
    with capsys.disabled():
        print(f"\n{clipped / free:.2f} times the interval without a limit")
    assert clipped / free <= 1.15


def test_stages_and_load_terminals_cost_little(make_rows, capsys):
    """Float after absorption and a limit of the load terminals: at most 1.15 times."""
    rows, currents, tables, s = make_rows(7, 100_000, direct=False)
    out = np.empty(len(rows), col.RESULT)
    s["source"] = s["load_limit_a"] = s["float_drop_v"] = 0.0

    def run():
        kernel.simulate(rows, currents, tables, s, 0.0, out)

    run()
    plain = _best(run, 15)
    s["load_limit_a"], s["float_drop_v"] = 1e6, 0.5
    s["absorb_h"], s["recharge_v"] = 2.0, 13.0
    staged = _best(run, 15)
    with capsys.disabled():
        print(f"\n{staged / plain:.2f} times the interval without stages")
    assert staged / plain <= 1.15
