"""Pictures of a comparison: costs, availability, months, and where each option wins."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from powerbudget.compare.lifecycle import GROUPS
from powerbudget.compare.options import Option
from powerbudget.compare.rank import Comparison
from powerbudget.compare.winmap import WinMap, win_map
from powerbudget.report import style
from powerbudget.report.text import number, percent
from powerbudget.site.fields import MONTHS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

GROUP_COLOURS = {
    "panels": style.SUN,
    "battery": style.CHARGE,
    "generator": style.SOURCE,
    "fuel gear": "#d9a58c",
    "power line": style.INK,
    "installation": style.HIDDEN,
    "haulage": "#cfd6db",
    "replacements": style.FROST,
    "fuel": style.FUEL,
    "deliveries": "#b98a6b",
    "visits": style.PICK,
    "service": "#9cc3ab",
    "line charges": "#5b6b78",
    "carbon": style.LOAD,
}
MARKS = "osD^vP*X"


def compare_chart(result: Comparison, path: Path) -> None:
    """Draw cost stack, availability against cost, and who carries each month.

    Parameters
    ----------
    result
        A comparison.
    path
        PNG, SVG or PDF to write.
    """
    style.save(compare_figure(result), path)


def compare_figure(result: Comparison) -> Figure:
    """Return the picture of a comparison.

    Parameters
    ----------
    result
        A comparison.

    Returns
    -------
    Figure
        Cost stack, availability against cost, months.
    """
    shown = [option for option in result.options if option.cost]
    rows = max(1, -(-len(shown) // 3))
    figure = style.new_figure(12.0, 4.6 + 0.45 * len(shown) + 2.1 * rows)
    grid = figure.add_gridspec(
        2 + rows, 6, height_ratios=[1.0 + 0.45 * len(shown), 2.6, *[1.9] * rows]
    )
    cost_axes(figure.add_subplot(grid[0, :]), result)
    availability_axes(figure.add_subplot(grid[1, :3]), result)
    _answers(figure.add_subplot(grid[1, 3:]), result)
    for k, option in enumerate(shown):
        place = grid[2 + k // 3, 2 * (k % 3) : 2 * (k % 3) + 2]
        month_axes(figure.add_subplot(place), option, legend=k == 0)
    figure.suptitle(
        f"{result.site}: sources of power on equal terms", x=0.01, ha="left",
        fontsize=13, color=style.INK,
    )  # fmt: skip
    return figure


def _label(option: Option) -> str:
    return option.title + ("" if option.met else " (criteria not met)")


def cost_axes(axes: Axes, result: Comparison) -> None:
    """Draw life-cycle costs as stacked bars, cheapest at the top.

    Parameters
    ----------
    axes
        Where to draw.
    result
        A comparison.
    """
    shown = [option for option in result.options if option.cost]
    places = np.arange(len(shown))[::-1]
    left = np.zeros(len(shown))
    for name in GROUPS[:-1]:
        values = np.array([o.cost.groups[name] for o in shown if o.cost]) / 1000
        if not (np.abs(values) > 0.005).any():
            continue
        axes.barh(places, values, 0.62, left=left, color=GROUP_COLOURS[name],
                  label=name, linewidth=0)  # fmt: skip
        left += values
    for place, option, end in zip(places, shown, left, strict=True):
        total = option.life_cycle_cost / 1000
        axes.plot([total, total], [place - 0.36, place + 0.36], color=style.INK,
                  linewidth=1.6)  # fmt: skip
        axes.annotate(f"{number(total)}", (max(end, total), place), xytext=(5, 0),
                      textcoords="offset points", va="center", fontsize=9,
                      fontweight="bold", color=style.INK)  # fmt: skip
        if not option.met:
            axes.barh(place, end, 0.62, color="none", edgecolor=style.OUTAGE,
                      hatch="///", linewidth=0.8)  # fmt: skip
    axes.set_yticks(places, [_label(option) for option in shown])
    axes.margins(x=0.08)
    axes.set_xlim(left=0)
    terms = result.terms
    style.dress(
        axes,
        f"Life-cycle cost over {terms.horizon_y} years at {100 * terms.rate_frac:g} % "
        "real; black line: after what is left at the end; hatched: criteria not met",
        "", f"thousand {result.currency}",
    )  # fmt: skip
    axes.grid(axis="y", visible=False)
    axes.legend(loc="lower right", fontsize=8, frameon=True, framealpha=0.95, ncols=2)


def availability_axes(axes: Axes, result: Comparison) -> None:
    """Draw hours without loads a year against life-cycle cost.

    Parameters
    ----------
    axes
        Where to draw.
    result
        A comparison.
    """
    shown = [option for option in result.options if option.cost]
    floor = 0.1
    for k, option in enumerate(shown):
        off = max(floor, 8766 * (1 - option.availability_frac))
        axes.plot(option.life_cycle_cost / 1000, off, MARKS[k % len(MARKS)], ms=9,
                  color=style.PICK if option.met else style.OUTAGE,
                  mec=style.PAPER, label=_label(option), ls="none")  # fmt: skip
    axes.set_yscale("log")
    axes.set_ylim(floor / 1.6, None)
    axes.set_xscale("log")
    ticks = axes.get_ylim()
    axes.set_yticks([t for t in (0.1, 1, 10, 100, 1000) if ticks[0] <= t <= ticks[1]])
    axes.set_yticklabels(
        ["none" if t <= floor else f"{t:g}" for t in axes.get_yticks()]
    )
    axes.xaxis.set_major_formatter(lambda value, _: f"{value:g}")
    axes.minorticks_off()
    style.dress(axes, "Hours without loads a year, against cost", "h a year",
                f"life-cycle cost, thousand {result.currency}")  # fmt: skip
    axes.legend(fontsize=7.5, frameon=True, framealpha=0.95, loc="best")


def _answers(axes: Axes, result: Comparison) -> None:
    """Write fuel, visits and emissions of each option beside the pictures."""
    axes.axis("off")
    heads = ("", "available", "fuel a year", "visits", "t CO2e")
    places = (0.0, 0.56, 0.76, 0.88, 1.0)
    rows = [
        (
            option.title,
            percent(option.availability_frac, 2),
            f"{number(option.fuel_per_year)} {option.fuel_unit}"
            if option.fuel
            else "-",
            f"{option.visits_per_year:.1f}",
            f"{option.co2e_kg_per_year / 1000:.2f}",
        )
        for option in result.options
        if option.bill
    ]
    for line, row in enumerate([heads, *rows]):
        y = 0.98 - line * min(0.13, 0.95 / (len(rows) + 1))
        for x, words in zip(places, row, strict=True):
            axes.text(x, y, words, fontsize=8.2, va="top", color=style.INK,
                      ha="left" if x == 0 else "right",
                      fontweight="bold" if line == 0 else "normal")  # fmt: skip
    axes.set_xlim(0, 1)
    axes.set_ylim(0, 1)


def month_axes(axes: Axes, option: Option, *, legend: bool = False) -> None:
    """Draw who carries the load of an option, month by month.

    Parameters
    ----------
    axes
        Where to draw.
    option
        An option that was simulated.
    legend
        Whether to explain the colours.
    """
    rows = option.months
    x = np.arange(len(rows))
    sun = np.array([m.sun_wh_per_day for m in rows])
    source = np.array([m.source_wh_per_day for m in rows])
    load = np.array([m.load_wh_per_day for m in rows])
    axes.bar(x, source, 0.8, color=style.SOURCE, label="source")
    axes.bar(x, sun, 0.8, bottom=source, color=style.SUN, label="sun")
    axes.step(np.r_[x - 0.5, x[-1] + 0.5], np.r_[load, load[-1]], where="post",
              color=style.LOAD, linewidth=1.8, label="load")  # fmt: skip
    axes.set_xticks(x, [MONTHS[m.month - 1][0] for m in rows])
    axes.set_ylim(0, 1.35 * max(1.0, float(load.max()), float((sun + source).max())))
    style.dress(axes, option.title, "Wh a day taken")
    axes.title.set_fontsize(8.5)
    if legend:
        axes.legend(fontsize=7.5, frameon=False, ncols=3, loc="upper center")


def map_chart(result: Comparison, path: Path) -> None:
    """Draw which option is cheapest by load and sun.

    Parameters
    ----------
    result
        A comparison.
    path
        PNG, SVG or PDF to write.
    """
    style.save(map_figure(win_map(result)), path)


def map_figure(plan: WinMap) -> Figure:
    """Return the map of the cheapest option by load and sun of the design month.

    Parameters
    ----------
    plan
        From `powerbudget.compare.winmap.win_map`.

    Returns
    -------
    Figure
        Lines where the cheapest changes, a mark at the site.
    """
    figure = style.new_figure(9.0, 6.4)
    axes = figure.add_subplot()
    tints = (style.SUN, style.SOURCE, style.FROST, style.FUEL, style.HIDDEN,
             style.PICK, style.HEAT, style.CHARGE)  # fmt: skip
    from matplotlib.colors import ListedColormap

    colours = ListedColormap([tints[k % len(tints)] for k in range(len(plan.titles))])
    axes.pcolormesh(
        plan.sun_kwh_m2_day, plan.load_w, plan.winner, cmap=colours, alpha=0.75,
        vmin=-0.5, vmax=len(plan.titles) - 0.5, shading="nearest", linewidth=0,
        rasterized=True,
    )  # fmt: skip
    for k, title in enumerate(plan.titles):
        inside = plan.winner == k
        if inside.any():
            axes.plot([], [], "s", ms=11, color=tints[k % len(tints)], alpha=0.75,
                      label=title)  # fmt: skip
    axes.plot(plan.today_sun, plan.today_w, "o", ms=11, mfc=style.PAPER,
              mec=style.INK, mew=2.2, label="this site")  # fmt: skip
    axes.set_yscale("log")
    axes.set_xscale("log")
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_formatter(lambda value, _: f"{value:g}")
    axes.set_xticks([t for t in (0.1, 0.2, 0.5, 1, 2, 3, 5, 8)
                     if plan.sun_kwh_m2_day[0] <= t <= plan.sun_kwh_m2_day[-1]])  # fmt: skip
    axes.set_yticks([t for t in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000)
                     if plan.load_w[0] <= t <= plan.load_w[-1]])  # fmt: skip
    axes.minorticks_off()
    style.dress(
        axes, f"Cheapest over {plan.years} years: {plan.site}", "mean load, W",
        f"sun on the panel in {plan.month}, kWh/m2 a day",
    )  # fmt: skip
    figure.legend(loc="outside lower center", ncols=2, fontsize=8.5, frameon=False)
    return figure
