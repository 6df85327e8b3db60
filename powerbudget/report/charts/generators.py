"""Generators in the pictures of a run: who carries the load, fuel in store."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from powerbudget.balance.generator_events import silent_codes, why_silent
from powerbudget.generators.series import RUNS, WHY
from powerbudget.quantities import in_unit
from powerbudget.report.charts import style
from powerbudget.report.charts.time_axis import axis_order, axis_times
from powerbudget.site.fields import MONTHS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from numpy.typing import NDArray

    from powerbudget.balance.simulation import Simulation


def month_sources(axes: Axes, run: Simulation) -> None:
    """Stack what array and generators gave a day by month against the load.

    Parameters
    ----------
    axes
        Where to draw.
    run
        A simulation with a generator.
    """
    rows = run.monthly
    x = np.arange(len(rows))
    sun = np.array([m.array_used_wh_per_day for m in rows]) / 1000
    other = np.array([m.generator_wh_per_day for m in rows]) / 1000
    load = [m.load_wh_per_day / 1000 for m in rows]
    if run.strings:
        axes.bar(x, sun, 0.72, color=style.SUN, label="PV energy delivered")
    axes.bar(
        x, other, 0.72, bottom=sun, color=style.GENERATOR, label="generator energy"
    )
    axes.step(np.r_[x - 0.5, x[-1] + 0.5], np.r_[load, load[-1]], where="post",
              color=style.LOAD, linewidth=2.2, label="load")  # fmt: skip
    for k, row in enumerate(rows):
        share = row.generator_wh_per_day / max(row.load_wh_per_day, 1e-9)
        if share >= 0.005:
            axes.annotate(
                in_unit(100 * share, "%"), (k, sun[k] + other[k]), ha="center",
                va="bottom", fontsize=7.5, color=style.INK,
            )  # fmt: skip
        if row.hours_off >= 0.5:
            axes.annotate(
                f"{in_unit(row.hours_off, 'h')}\noff", (k, 0.02 * max(load)), ha="center",
                va="bottom", fontsize=6.5, color=style.PAPER, fontweight="bold",
                bbox={"boxstyle": "round,pad=0.15", "fc": style.OUTAGE, "ec": "none"},
            )  # fmt: skip
    axes.set_xticks(x, [MONTHS[m.month - 1] for m in rows])
    axes.set_ylim(0, 1.25 * max([*(sun + other), *load]))
    style.dress(axes, "Share of supply (labels: generator share of load)", "kWh/day")
    axes.legend(loc="upper left", fontsize=8, frameon=False, ncols=3,
                columnspacing=1.0, handlelength=1.4)  # fmt: skip


def fuel_tells(run: Simulation) -> bool:
    """Return whether there is a store of fuel to draw, or an hour without running.

    Parameters
    ----------
    run
        A simulation with a generator.
    """
    codes = silent_codes(run.problem, run.out)
    return bool(_stocks(run)) or any((code != RUNS).any() for _, code in codes)


def year_fuel(axes: Axes, run: Simulation) -> None:
    """Draw fuel in store through the record, and hours a day that it could not run.

    Parameters
    ----------
    axes
        Where to draw.
    run
        A simulation with a generator.
    """
    record = run.problem.record
    per_day = max(1, round(24 / record.step_h))
    order = axis_order(run)[: record.n // per_day * per_day]
    days = axis_times(run)[order[::per_day]]
    drawn = False
    for name, left in _stocks(run):
        axes.plot(days, 100 * left[order[::per_day]], color=style.GENERATOR, linewidth=1.4,
                  label=f"{name}: fuel inventory")  # fmt: skip
        drawn = True
    axes.set_ylim(0, 105)
    words = "fuel, % of full" if drawn else "fuel by pipeline"
    style.dress(axes, "Fuel inventory and unavailable hours", words)
    if not drawn:
        axes.set_yticks([])
    _silent_bars(axes, run, order, per_day)
    if axes.get_legend_handles_labels()[0]:
        axes.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), fontsize=8,
                    frameon=False, ncols=4, borderaxespad=0.1)  # fmt: skip


def _silent_bars(
    axes: Axes, run: Simulation, order: NDArray[np.int64], per_day: int
) -> None:
    record, days = run.problem.record, axis_times(run)[order[::per_day]]
    silent_ever = [
        (unit, code)
        for unit, code in silent_codes(run.problem, run.out)
        if (code[order] != RUNS).any()
    ]
    if not silent_ever:
        return
    right = axes.twinx()
    right.set_ylim(0, 25)
    right.set_yticks([0, 12, 24])
    right.set_ylabel("h/day", fontsize=8, color=style.OUTAGE)
    right.tick_params(axis="y", colors=style.OUTAGE, labelsize=8)
    right.spines[:].set_visible(False)
    for unit, code in silent_ever:
        silent = (code != RUNS)[order]
        hours = silent.reshape(-1, per_day).sum(axis=1) * record.step_h
        right.bar(days, hours, width=1.0, color=style.OUTAGE, alpha=0.75, linewidth=0)
        reasons = [why_silent(unit, k) for k in WHY if (code == k).any()]
        axes.bar(days[:1], [0], color=style.OUTAGE,
                 label=f"{unit.name}: {', '.join(reasons)}")  # fmt: skip


def _stocks(run: Simulation) -> list[tuple[str, NDArray[np.float64]]]:
    sources = run.problem.sources
    found = [
        (walk.unit.name, walk.stock_wh / walk.unit.stock_wh)
        for walk in sources.walks
        if not math.isinf(walk.unit.stock_wh)
    ]
    unit = sources.follower
    if unit is not None and not math.isinf(unit.stock_wh):
        left = run.out["source_stock_wh"] / unit.stock_wh
        found.append((unit.name, left))
    return found


def generator_w(run: Simulation, window: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return what generators gave at the bus, by interval [W]."""
    out = run.out[window]
    amps = out["steady_a"] + out["source_a"]
    return np.asarray(amps * out["bus_v"])
