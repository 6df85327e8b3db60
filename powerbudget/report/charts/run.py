"""Pictures of a run and of a search, made to be handed on."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

import numpy as np

from powerbudget.balance.events import SUN_FRAC
from powerbudget.quantities import in_unit, plain, show
from powerbudget.report.charts import style
from powerbudget.report.charts.generators import (
    fuel_tells,
    generator_w,
    month_sources,
    year_fuel,
)
from powerbudget.report.charts.time_axis import axis_order, axis_times, worst_weeks
from powerbudget.report.document.words import (
    charge_words,
    moment,
    percent,
    share_beside,
)
from powerbudget.site.fields import MONTHS

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    from powerbudget.balance.simulation import Simulation
    from powerbudget.sizing.autonomy import Autonomy

DAY = np.timedelta64(1, "D")
PLATE = {"facecolor": style.PAPER, "edgecolor": "none", "alpha": 0.8, "pad": 1.0}
"""Behind words that stand on lines."""


def run_chart(run: Simulation, days: Autonomy, path: Path) -> None:
    """Draw state of charge, sun, load and outages, the worst weeks enlarged.

    Parameters
    ----------
    run, days
        Simulation and its autonomies.
    path
        PNG, SVG or PDF to write.
    """
    style.save(run_figure(run, days), path)


def run_figure(run: Simulation, days: Autonomy) -> Figure:
    """Return the picture that `run_chart` writes."""
    fuelled = bool(run.generation)
    figure = style.new_figure(11.5, 12.8 if fuelled else 11.2)
    heights = [1.15, 0.45, *([0.5] if fuelled else []), 1.0, 1.25]
    grid = figure.add_gridspec(len(heights), 2, height_ratios=heights)
    top = figure.add_subplot(grid[0, :])
    _year_charge(top, run)
    _year_heat(figure.add_subplot(grid[1, :], sharex=top), run)
    if fuelled:
        year_fuel(figure.add_subplot(grid[2, :], sharex=top), run)
        month_sources(figure.add_subplot(grid[-2, 0]), run)
    else:
        _month_bars(figure.add_subplot(grid[-2, 0]), run)
    _answers(figure.add_subplot(grid[-2, 1]), run, days)
    _worst_weeks(figure, grid[-1, :], run)
    style.headline(figure, run.problem.design.tables.site.name)
    return figure


def charge_figure(run: Simulation) -> Figure:
    """Return state of charge and battery temperature through the record."""
    figure = style.new_figure(11.0, 4.6)
    grid = figure.add_gridspec(2, 1, height_ratios=[1.0, 0.5])
    top = figure.add_subplot(grid[0])
    _year_charge(top, run)
    _year_heat(figure.add_subplot(grid[1], sharex=top), run)
    return figure


def months_figure(run: Simulation) -> Figure:
    """Return energy offered and asked by month, each with its ratio."""
    figure = style.new_figure(11.0, 3.2)
    _month_bars(figure.add_subplot(), run)
    return figure


def supply_figure(run: Simulation) -> Figure:
    """Return who carries the load by month, and fuel through the record.

    Parameters
    ----------
    run
        A simulation with a generator.
    """
    record = run.problem.record
    per_day = max(1, round(24 / record.step_h))
    days = axis_times(run)[_whole_days(run, per_day)[::per_day]]
    if not fuel_tells(run):
        figure = style.new_figure(11.0, 3.2)
        month_sources(figure.add_subplot(), run)
        return figure
    figure = style.new_figure(11.0, 5.6)
    grid = figure.add_gridspec(2, 1, height_ratios=[1.0, 0.7])
    month_sources(figure.add_subplot(grid[0]), run)
    fuel = figure.add_subplot(grid[1])
    year_fuel(fuel, run)
    fuel.set_xlim(days[0], days[-1])
    _date_ticks(fuel, run, days)
    return figure


def weeks_figure(run: Simulation) -> Figure:
    """Return the three weeks around the lowest charge, hour by hour."""
    figure = style.new_figure(11.0, 4.4)
    _worst_weeks(figure, figure.add_gridspec(1, 1)[0], run)
    return figure


def lowest_charge(run: Simulation) -> str:
    """Return the lowest charge so that it never reads like a limit that it misses [text]."""
    limit = 1 - run.problem.design.tables.criteria.deepest_discharge_frac
    found = run.lowest_soc_frac
    return share_beside(found, limit) if found < limit else charge_words(found)


def _when(run: Simulation, iso: str) -> str:
    return moment(iso, typical_year=run.problem.record.typical_year)


def _whole_days(run: Simulation, per_day: int) -> NDArray[np.int64]:
    """Return the intervals of whole days in the order of the time axis [count]."""
    order = axis_order(run)
    return order[: order.size // per_day * per_day]


def _dense(days: NDArray[Any]) -> bool:
    """Return whether a daily band holds more corners than a vector picture should."""
    return days.size > 1500


def _year_charge(axes: Axes, run: Simulation) -> None:
    """State of charge as a daily band, so that a year or twenty read the same."""
    record = run.problem.record
    per_day = max(1, round(24 / record.step_h))
    order = _whole_days(run, per_day)
    soc = 100 * run.soc_frac[order].reshape(-1, per_day)
    times = axis_times(run)
    days = times[order[::per_day]]
    axes.fill_between(
        days, soc.min(axis=1), soc.max(axis=1), color=style.CHARGE, alpha=0.35,
        linewidth=0, label="range within the day", rasterized=_dense(days),
    )  # fmt: skip
    axes.plot(days, soc.min(axis=1), color=style.CHARGE, linewidth=1.1,
              label="daily minimum")  # fmt: skip
    floor = 100 * (1 - run.problem.design.tables.criteria.deepest_discharge_frac)
    axes.axhline(floor, color=style.LOAD, linewidth=1.2, linestyle="--",
                 label=f"minimum SOC allowed: {in_unit(floor, '%')}")  # fmt: skip
    _mark_outages(axes, run)
    _frost_limit(axes, run, days, per_day)
    low = int(np.argmin(run.soc_frac))
    axes.plot(times[low], 100 * run.lowest_soc_frac, "o", color=style.INK, ms=5)
    late = times[low] > days[int(0.7 * days.size)]
    axes.annotate(
        f"{lowest_charge(run)} on {_when(run, run.lowest_soc_at)}",
        (times[low], 100 * run.lowest_soc_frac),
        xytext=(-8 if late else 8, -4), textcoords="offset points", fontsize=8.5,
        color=style.INK, va="top", ha="right" if late else "left", bbox=PLATE,
    )  # fmt: skip
    axes.set_ylim(0, 104)
    axes.set_xlim(days[0], days[-1])
    style.dress(axes, "Battery state of charge",
                "SOC, % of full-charge capacity (25 °C)")  # fmt: skip
    _date_ticks(axes, run, days)
    axes.tick_params(labelbottom=False)
    entries = len(axes.get_legend_handles_labels()[0])
    # In one row beside the title there is room for three.
    axes.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), fontsize=8, frameon=False,
                ncols=min(3, entries), borderaxespad=0.1)  # fmt: skip


def _frost_limit(axes: Axes, run: Simulation, days: NDArray[Any], per_day: int) -> None:
    """Draw the charge that the day's coldest hour needs to stay liquid."""
    floor = run.problem.conditions.frozen_below_frac[_whole_days(run, per_day)]
    if floor.max() <= 0:
        return
    floor = floor.reshape(-1, per_day).max(axis=1)
    # The limit is on rated Ah, the picture on what the bank holds at this load.
    held = run.problem.scalars(run.strings, run.bank)["charge_ah"]
    limit = 100 * (1 - (1 - floor) * run.bank.rated_ah / held)
    limit = np.clip(np.where(floor > 0, limit, 0), 0, 104)
    axes.fill_between(days, 0, limit, color=style.FROST, alpha=0.6, linewidth=0,
                      label="freezing SOC", rasterized=_dense(days))  # fmt: skip
    lost = run.frost.lost_index
    if lost >= 0:
        times = axis_times(run)
        late = times[lost] > days[int(0.7 * days.size)]
        axes.plot(times[lost], 100 * run.soc_frac[lost], "X", color=style.OUTAGE,
                  ms=10, mec=style.PAPER)  # fmt: skip
        axes.annotate(
            f"battery frozen, {_when(run, run.frost.lost_at)}",
            (times[lost], 100 * run.soc_frac[lost]),
            xytext=(-9 if late else 9, 0), textcoords="offset points", fontsize=8.5,
            color=style.OUTAGE, fontweight="bold", va="center",
            ha="right" if late else "left", bbox=PLATE,
        )  # fmt: skip


def _year_heat(axes: Axes, run: Simulation) -> None:
    """Battery temperature as a daily band, and sun that may not charge."""
    record, conditions = run.problem.record, run.problem.conditions
    per_day = max(1, round(24 / record.step_h))
    order = _whole_days(run, per_day)
    days = axis_times(run)[order[::per_day]]
    daily = conditions.battery_degc[order].reshape(-1, per_day)
    axes.fill_between(days, daily.min(axis=1), daily.max(axis=1), color=style.HEAT,
                      alpha=0.35, linewidth=0, label="range within the day",
                      rasterized=_dense(days))  # fmt: skip
    axes.plot(days, daily.mean(axis=1), color=style.HEAT, linewidth=1.0,
              label="daily average")  # fmt: skip
    axes.axhline(0, color=style.INK, linewidth=0.7)
    power = run.problem.array.p_mp_w[order]
    blocked = (conditions.charge_share[order] <= 0) & (power > SUN_FRAC * power.max())
    hours = blocked.reshape(-1, per_day).sum(axis=1) * record.step_h
    style.dress(axes, "Battery temperature", "°C")
    _date_ticks(axes, run, days)
    if hours.any():
        right = axes.twinx()
        right.bar(days, hours, width=1.0, color=style.OUTAGE, alpha=0.8, linewidth=0)
        right.set_ylim(0, 24)
        right.set_yticks([0, 6, 12])
        right.set_ylabel("h/day", fontsize=8, color=style.OUTAGE)
        right.tick_params(axis="y", colors=style.OUTAGE, labelsize=8)
        right.spines[:].set_visible(False)
        axes.bar(
            days[:1],
            [0],
            color=style.OUTAGE,
            label="charging inhibited with irradiance",
        )
    axes.legend(loc="lower right", bbox_to_anchor=(1.0, 1.0), fontsize=8,
                frameon=False, ncols=3, borderaxespad=0.1)  # fmt: skip


def _date_ticks(axes: Axes, run: Simulation, days: NDArray[Any]) -> None:
    dates: Any = import_module("matplotlib.dates")
    years = (days[-1] - days[0]) / DAY / 365.25
    if years < 1.6:
        axes.xaxis.set_major_locator(dates.MonthLocator())
        axes.xaxis.set_major_formatter(dates.DateFormatter("%b"))
    else:
        axes.xaxis.set_major_locator(dates.YearLocator(1 if years < 25 else 5))
        axes.xaxis.set_major_formatter(dates.DateFormatter("%Y"))
    del run


def _mark_outages(axes: Axes, run: Simulation) -> None:
    times, step = axis_times(run), run.problem.record.step_h
    for number, outage in enumerate(run.outages[:400]):
        start = times[outage.index]
        end = start + np.timedelta64(round(60 * outage.hours), "m")
        axes.axvspan(start, end, color=style.OUTAGE, alpha=0.55, linewidth=0,
                     label="outage" if number == 0 else None)  # fmt: skip
    del step


def _month_bars(axes: Axes, run: Simulation) -> None:
    rows = run.monthly
    x = np.arange(len(rows))
    array = [m.array_wh_per_day / 1000 for m in rows]
    load = [m.load_wh_per_day / 1000 for m in rows]
    axes.bar(x, array, 0.72, color=style.SUN, label="available array energy")
    axes.step(np.r_[x - 0.5, x[-1] + 0.5], np.r_[load, load[-1]], where="post",
              color=style.LOAD, linewidth=2.2, label="load")  # fmt: skip
    worst = run.array_to_load.month
    for k, row in enumerate(rows):
        axes.annotate(
            f"{row.array_to_load_ratio:.1f}", (k, array[k]), ha="center", va="bottom",
            fontsize=8, color=style.INK, fontweight="bold" if row.month == worst else "normal",
        )  # fmt: skip
    axes.set_xticks(x, [MONTHS[m.month - 1] for m in rows])
    axes.margins(y=0.30)
    style.dress(
        axes, "Daily energy at the dc bus (labels: array-to-load ratio)", "kWh/day"
    )
    axes.legend(loc="upper left", fontsize=8, frameon=False, ncols=2)


def _answers(axes: Axes, run: Simulation, days: Autonomy) -> None:
    axes.axis("off")
    problem = run.problem
    off = problem.record.n * problem.record.step_h * (1 - run.availability_frac)
    watts = run.strings * problem.array.series * problem.array.module.power_w
    rows = [
        ("availability", percent(run.availability_frac, 2)),
        ("outage", in_unit(off, "h")),
        ("minimum SOC", f"{lowest_charge(run)}, {_when(run, run.lowest_soc_at)}"),
        (f"autonomy from full charge at {days.design_degc:g} °C",
         in_unit(days.design_days, "d", 1)),
        ("minimum remaining autonomy", in_unit(days.record_days, "d", 1)),
        ("load", f"{show(problem.budget.wh_per_day, 'Wh')}/day"),
        ("array", in_unit(watts, "W") if watts else "none"),
        *_fuel_answers(run),
        ("battery", f"{in_unit(run.bank.nameplate_ah, 'Ah')} at {run.bank.nominal_v:g} V"),
        ("weather", plain(problem.record.years, 3, "yr")
         + (", typical year (no extreme winter)" if problem.record.typical_year else "")),
    ]  # fmt: skip
    pitch = 0.972 / max(9, len(rows))
    for k, (label, value) in enumerate(rows):
        y = 0.97 - k * pitch
        axes.text(0.0, y, label, fontsize=9.5, color=style.INK, va="top")
        axes.text(1.0, y, value, fontsize=9.5, color=style.INK, va="top", ha="right",
                  fontweight="bold")  # fmt: skip
        axes.plot([0, 1], [y - 0.74 * pitch] * 2, color=style.GRID, linewidth=0.8)
    axes.set_xlim(0, 1)
    axes.set_ylim(0, 1)


def _fuel_answers(run: Simulation) -> list[tuple[str, str]]:
    """Return fuel by the year of each generator, two lines at most."""
    return [
        (
            f"{year.name}, {show(year.rated_w, 'W')}",
            f"{in_unit(year.fuel_per_year, year.fuel_unit)}/yr"
            if year.fuel_unit
            else in_unit(year.run_h_per_year, "h/yr"),
        )
        for year in run.generation[:2]
    ]


def _worst_weeks(figure: Figure, place: Any, run: Simulation) -> None:
    """Enlarge the three weeks around the lowest charge, hour by hour."""
    record = run.problem.record
    inner = place.subgridspec(2, 1, height_ratios=[1.0, 0.9], hspace=0.05)
    top = figure.add_subplot(inner[0])
    bottom = figure.add_subplot(inner[1], sharex=top)
    window = worst_weeks(run)
    times = axis_times(run)[window]
    top.plot(times, 100 * run.soc_frac[window], color=style.CHARGE, linewidth=1.6)
    _mark_outages(top, run)
    low = 100 * float(run.soc_frac[window].min())
    top.set_ylim(max(0.0, 10 * np.floor((low - 4) / 10)), 102)
    record_year = "" if record.typical_year else f" ({str(times[0])[:4]})"
    style.dress(top, f"Worst three weeks{record_year}, hourly", "SOC, %")
    top.tick_params(labelbottom=False)
    volts = run.out["bus_v"][window]
    offered = run.out["offered_a"][window] * volts
    asked = _load_w(run, window)
    if run.strings:
        bottom.fill_between(times, offered, step="post", color=style.SUN, linewidth=0,
                            alpha=0.9, label="available array energy")  # fmt: skip
    if run.generation:
        given = generator_w(run, window)
        bottom.fill_between(times, given, step="post", color=style.GENERATOR,
                            linewidth=0, alpha=0.75, label="generator energy")  # fmt: skip
        offered = np.maximum(np.maximum(offered, given), asked)
    bottom.step(times, asked, where="post", color=style.LOAD, linewidth=1.6,
                label="load")  # fmt: skip
    _mark_outages(bottom, run)
    bottom.set_ylim(0, max(1.0, 1.25 * float(offered.max())))
    bottom.set_xlim(times[0], times[-1])
    style.dress(bottom, "", "W at the dc bus")
    dates: Any = import_module("matplotlib.dates")
    bottom.xaxis.set_major_locator(dates.DayLocator(interval=3))
    bottom.xaxis.set_major_formatter(dates.DateFormatter("%d %b"))
    bottom.legend(loc="upper left", fontsize=8, frameon=True, framealpha=0.9, ncols=3)


def _load_w(run: Simulation, window: NDArray[np.int64]) -> NDArray[np.float64]:
    from powerbudget.balance.ledger import demand_w

    out = run.out
    asked = demand_w(run.problem, out)
    asked = asked + run.problem.budget.base_a * out["bus_v"]
    return asked[window]
