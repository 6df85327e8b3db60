"""Pictures of a comparison: costs, availability, months."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import numpy as np

from powerbudget.compare.lifecycle import GROUPS
from powerbudget.quantities import in_print
from powerbudget.report.charts import style
from powerbudget.report.document.words import number, percent
from powerbudget.site.fields import MONTHS

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from powerbudget.compare.alternative import Option
    from powerbudget.compare.comparison import Comparison

GROUP_COLOURS = {
    "PV modules": style.SUN,
    "battery": style.CHARGE,
    "generator": style.SOURCE,
    "fuel train": "#d9a58c",
    "utility line extension": style.INK,
    "installation": style.HIDDEN,
    "freight": "#cfd6db",
    "replacement": style.FROST,
    "fuel": style.FUEL,
    "fuel delivery": "#b98a6b",
    "site visits": style.PICK,
    "scheduled maintenance": "#9cc3ab",
    "utility charges": "#5b6b78",
    "price of emissions": style.LOAD,
}
SHARE_COLOURS = (style.PICK, style.SOURCE, style.HEAT, style.GENERATOR, style.CHARGE)


def compare_chart(result: Comparison, path: Path) -> None:
    """Draw cost stack, availability against cost, and share of supply by month.

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

    Returns
    -------
    Figure
        Cost stack, availability against cost, share of supply by month.
    """
    shown = priced(result)
    heights = [0.8 + 0.62 * len(shown), 2.9, *[2.4] * bool(shared(result))]
    figure = style.new_figure(12.0, 0.8 + sum(heights) * 1.12)
    grid = figure.add_gridspec(len(heights), 6, height_ratios=heights)
    cost_axes(figure.add_subplot(grid[0, :]), result)
    availability_axes(figure.add_subplot(grid[1, :2]), result)
    _answers(figure.add_subplot(grid[1, 2:]), result)
    if shared(result):
        share_axes(figure.add_subplot(grid[2, :]), result)
    style.headline(figure, f"{result.site}: comparison of alternatives")
    return figure


def compare_page_figure(result: Comparison) -> Figure:
    """Return the picture for a page that holds the figures as a table.

    Returns
    -------
    Figure
        Cost stack and share of supply by month.
    """
    shown = priced(result)
    heights = (0.8 + 0.62 * len(shown), 2.4)
    if not shared(result):
        figure = style.new_figure(10.0, 0.6 + heights[0] * 1.12)
        cost_axes(figure.add_subplot(), result)
        return figure
    figure = style.new_figure(10.0, 0.6 + sum(heights) * 1.12)
    upper, lower = style.halves(figure, heights)
    cost_axes(upper.add_subplot(), result)
    share_axes(lower.add_subplot(), result)
    return figure


def priced(result: Comparison) -> list[Option]:
    """Return the options that could be simulated, in their order."""
    return [option for option in result.options if option.cost]


def shared(result: Comparison) -> list[tuple[int, Option]]:
    """Return number and alternative wherever an array and a generator share the supply."""
    return [
        (k, option)
        for k, option in enumerate(priced(result), start=1)
        if any(m.sun_wh_per_day for m in option.months)
        and any(m.source_wh_per_day for m in option.months)
    ]


def _label(option: Option) -> str:
    return option.title + ("" if option.met else ": FAIL")


def cost_axes(axes: Axes, result: Comparison) -> None:
    """Draw life-cycle costs as stacked bars, cheapest at the top."""
    shown = priced(result)
    places = np.arange(len(shown))[::-1].astype(float)
    left = np.zeros(len(shown))
    for name in GROUPS[:-1]:
        values = np.array([o.cost.groups[name] for o in shown if o.cost]) / 1000
        if not (np.abs(values) > 0.005).any():
            continue
        axes.barh(places, values, 0.46, left=left, color=GROUP_COLOURS[name],
                  label=name, linewidth=0)  # fmt: skip
        left += values
    for k, (place, option, end) in enumerate(zip(places, shown, left, strict=True)):
        total = option.life_cycle_cost / 1000
        axes.plot([total, total], [place - 0.29, place + 0.29], color=style.INK,
                  linewidth=1.6)  # fmt: skip
        axes.annotate(number(total), (max(end, total), place), xytext=(5, 0),
                      textcoords="offset points", va="center", fontsize=9,
                      fontweight="bold", color=style.INK)  # fmt: skip
        axes.annotate(f"{k + 1}  {_label(option)}", (0, place + 0.27), xytext=(3, 1),
                      textcoords="offset points", va="bottom", fontsize=9,
                      color=style.INK if option.met else style.OUTAGE)  # fmt: skip
        if not option.met:
            axes.barh(place, end, 0.46, color="none", edgecolor=style.OUTAGE,
                      hatch="///", linewidth=0.8)  # fmt: skip
    axes.set_yticks([])
    axes.set_ylim(-0.45, len(shown) - 0.25)
    axes.margins(x=0.08)
    axes.set_xlim(left=0)
    terms = result.terms
    style.dress(
        axes,
        f"Life-cycle cost, {terms.horizon_y} yr at {100 * terms.rate_frac:g} % "
"real (line: net of residual value; hatched: FAIL)",
        "", f"thousand {result.currency}",
    )  # fmt: skip
    axes.grid(axis="y", visible=False)
    axes.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0), fontsize=8.5,
                frameon=False)  # fmt: skip


def availability_axes(axes: Axes, result: Comparison) -> None:
    """Draw hours without loads a year against life-cycle cost."""
    floor, costs = 0.1, []
    for k, option in enumerate(priced(result)):
        off = max(floor, 8766 * (1 - option.availability_frac))
        cost = option.life_cycle_cost / 1000
        costs.append(cost)
        axes.plot(cost, off, "o", ms=8, mec=style.PAPER,
                  color=style.PICK if option.met else style.OUTAGE)  # fmt: skip
        # Numbers of neighbours with the same availability stand above and below.
        axes.annotate(f"{k + 1}", (cost, off), xytext=(0, 7 if k % 2 else -8),
                      textcoords="offset points", fontsize=9, fontweight="bold",
                      ha="center", va="bottom" if k % 2 else "top",
                      color=style.INK)  # fmt: skip
    axes.set_yscale("log")
    axes.set_ylim(floor / 3, max(3.0, 3 * axes.get_ylim()[1]))
    ticks = [t for t in (0.1, 1, 10, 100, 1000) if t <= axes.get_ylim()[1]]
    axes.set_yticks(ticks, ["none" if t <= floor else f"{t:g}" for t in ticks])
    axes.minorticks_off()
    axes.set_xlim(0, 1.12 * max(costs, default=1.0))
    style.dress(axes, "Outage hours and cost", "h/yr",
                f"life-cycle cost, thousand {result.currency}")  # fmt: skip


def _answers(axes: Axes, result: Comparison) -> None:
    """Write availability, fuel, visits and emissions beside the pictures."""
    axes.axis("off")
    heads = ("", "available", "fuel/yr", "visits/yr", "t CO2e/yr")
    places = (0.0, 0.55, 0.70, 0.84, 1.0)
    shown = priced(result)
    rows = [
        (
            textwrap.shorten(f"{k + 1}  {option.title}", 38, placeholder="..."),
            percent(option.availability_frac, 2),
            f"{number(option.fuel_per_year)} {in_print(option.fuel_unit)}"
            if option.fuel
            else "-",
            f"{option.visits_per_year:.1f}",
            f"{option.co2e_kg_per_year / 1000:.2f}",
        )
        for k, option in enumerate(shown)
    ]
    for line, row in enumerate([heads, *rows]):
        y = 0.98 - line * min(0.13, 0.95 / (len(rows) + 1))
        for x, words in zip(places, row, strict=True):
            axes.text(x, y, words, fontsize=8.5, va="top", color=style.INK,
                      ha="left" if x == 0 else "right",
                      fontweight="bold" if line == 0 else "normal")  # fmt: skip
    axes.set_xlim(0, 1)
    axes.set_ylim(0, 1)


def share_axes(axes: Axes, result: Comparison) -> None:
    """Draw the share of supply that comes from the array, a line for each alternative."""
    for n, (place, option) in enumerate(shared(result)):
        given = [(m.sun_wh_per_day, m.source_wh_per_day) for m in option.months]
        share = [100 * sun / max(sun + source, 1e-9) for sun, source in given]
        axes.plot(range(len(share)), share, "o-", ms=4, linewidth=1.8,
                  color=SHARE_COLOURS[n % len(SHARE_COLOURS)],
                  label=f"{place}  {option.title}")  # fmt: skip
        names = [MONTHS[m.month - 1] for m in option.months]
        axes.set_xticks(range(len(names)), names)
    axes.set_ylim(0, 104)
    style.dress(
        axes, "Share of supply from the array by month", "% of energy delivered"
    )
    axes.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0), fontsize=8.5,
                frameon=False)  # fmt: skip
