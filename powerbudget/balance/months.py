"""A run by calendar month."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance.arrayload import MonthRow, energies_wh, ratio_of
from powerbudget.balance.run import Run

Floats = NDArray[np.float64]


def monthly_rows(run: Run) -> tuple[MonthRow, ...]:
    """Return each calendar month of a run, January first, over all of its years."""
    problem, out = run.problem, run.out
    step, volts = problem.record.step_h, out["bus_v"]
    used = out["array_a"] * volts
    offered = out["offered_a"] * volts
    if problem.currents.shape[1] == 0:
        offered = problem.hourly["array_w"] * run.strings
    which = problem.month_index

    def summed(values: Floats) -> Floats:
        return np.asarray(np.bincount(which, values, 12) * step, float)

    others = (out["steady_a"] + out["source_a"]) * volts
    sums = (*energies_wh(run), summed(used), summed(others))
    # Rounding leaves a hair below nothing where everything is taken.
    spilled = np.maximum(summed(offered - used), 0.0)
    off = summed((~run.served).astype(float))
    hours = np.bincount(which, minlength=12) * step
    lowest = np.full(12, np.inf)
    np.minimum.at(lowest, which, run.soc_frac)
    return tuple(
        MonthRow(
            month=m + 1,
            array_to_load_ratio=ratio_of(float(sums[0][m]), float(sums[1][m])),
            array_wh_per_day=float(sums[0][m] / hours[m] * 24),
            load_wh_per_day=float(sums[1][m] / hours[m] * 24),
            spill_wh=float(spilled[m]),
            lowest_soc_frac=float(lowest[m]),
            hours_off=float(off[m]),
            array_used_wh_per_day=float(sums[2][m] / hours[m] * 24),
            generator_wh_per_day=float(sums[3][m] / hours[m] * 24),
        )
        for m in range(12)
        if hours[m]
    )
