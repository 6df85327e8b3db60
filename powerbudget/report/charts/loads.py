"""Where the watt-hours go: every line of the budget ranked, hidden ones marked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.data.figures import UNVERIFIED
from powerbudget.loads.lines import Line
from powerbudget.quantities import count, show
from powerbudget.report.charts import style
from powerbudget.report.document.words import percent
from powerbudget.site.fields import MONTHS

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.patches import Patch

    from powerbudget.loads.budget import Budget

MOST_BARS = 30
"""Lines shown one by one; smaller ones are summed into a last bar [count]."""


def ranked(budget: Budget) -> list[tuple[str, float, str, bool]]:
    """Return the bars: name, Wh/day, kind of line, and whether it is unverified.

    Returns
    -------
    list of tuple
        The largest first; small lines summed into the last.
    """
    lines = sorted(
        (x for x in budget.lines if x.wh_per_day > 0), key=lambda line: -line.wh_per_day
    )
    bars = [(_label(x), x.wh_per_day, _group(x), x.status in UNVERIFIED) for x in lines]
    if len(bars) <= MOST_BARS:
        return bars
    rest = bars[MOST_BARS - 1 :]
    small = (
        count(len(rest), "smaller load"),
        sum(bar[1] for bar in rest),
        "small",
        False,
    )
    return [*bars[: MOST_BARS - 1], small]


def _label(line: Line) -> str:
    pieces = f"{line.quantity} x " if line.quantity > 1 else ""
    name = line.name if len(line.name) <= 40 else line.name[:39] + "…"
    return f"{pieces}{name}"


def _group(line: Line) -> str:
    if line.hidden:
        return "hidden"
    return "contingency" if line.kind == "contingency" else "listed"


def loads_chart(budget: Budget, name: str, path: Path) -> None:
    """Draw the budget's lines ranked by energy, with the three sums beside them.

    Parameters
    ----------
    budget
        The power budget.
    name
        Name of the site [text].
    path
        PNG, SVG or PDF to write.
    """
    style.save(loads_figure(budget, name), path)


def loads_figure(budget: Budget, name: str) -> Figure:
    """Return the picture that `loads_chart` writes.

    Parameters
    ----------
    budget
        The power budget.
    name
        Name of the site, left out where empty [text].
    """
    bars = ranked(budget)
    figure = style.new_figure(12.0, 2.4 + 0.31 * max(len(bars), 6))
    grid = figure.add_gridspec(1, 2, width_ratios=[3.4, 1.0])
    axes = figure.add_subplot(grid[0])
    _bars(axes, bars, budget)
    _sums(figure.add_subplot(grid[1]), budget)
    month = MONTHS[budget.highest_load_month - 1]
    style.dress(
        axes,
        f"Daily load by device: {show(budget.wh_per_day, 'Wh')} per day in {month}",
        "",
        "Wh/day",
    )
    axes.grid(visible=False, axis="y")
    if name:
        style.headline(figure, name)
    return figure


def _bars(axes: Axes, bars: list[tuple[str, float, str, bool]], budget: Budget) -> None:
    colours = {
        "listed": style.LOAD,
        "hidden": style.HIDDEN,
        "contingency": style.GRID,
        "small": style.PAPER,
    }
    at = range(len(bars))
    for group, colour in colours.items():
        chosen = [k for k, bar in enumerate(bars) if bar[2] == group]
        drawn = axes.barh(
            chosen,
            [bars[k][1] for k in chosen],
            0.68,
            color=colour,
            edgecolor=style.INK if group != "listed" else colour,
            linewidth=0.5,
        )
        for k, rectangle in zip(chosen, drawn, strict=True):
            if bars[k][3]:
                rectangle.set_hatch("///")
                rectangle.set_edgecolor(style.PAPER if group == "listed" else style.INK)
    axes.set_yticks(list(at), [style.drawable(bar[0]) for bar in bars])
    for label in axes.get_yticklabels():
        # A dollar sign in a name must not be taken for a formula.
        label.set_parse_math(False)
    # A short list keeps slim bars; the largest stands on top.
    axes.set_ylim(max(len(bars), 6) - 0.5, -0.6)
    longest = bars[0][1]
    for k, bar in enumerate(bars):
        share = bar[1] / budget.wh_per_day
        words = percent(share, 0) if share >= 0.01 else "under 1 %"
        axes.text(
            bar[1] + 0.008 * longest,
            k,
            f"{show(bar[1], '')}  {words}",
            va="center",
            fontsize=8,
            color=style.INK,
        )
    axes.set_xlim(0, 1.16 * longest)


def _sums(axes: Axes, budget: Budget) -> None:
    text = (
        f"average  {show(budget.average_w, 'W')}\nmaximum  "
        f"{show(budget.maximum_w, 'W')}\npeak     {show(budget.peak_a, 'A')} at "
        f"{show(budget.lowest_bus_v, 'V')}\nparasitic {show(budget.hidden_w, 'W')}\nunverified "
        f"{percent(budget.doubtful_frac, 0)} of energy"
    )
    axes.axis("off")
    axes.legend(
        handles=_legend(),
        loc="upper left",
        fontsize=8.5,
        frameon=False,
        borderaxespad=0.0,
    )
    axes.text(
        0.02,
        0.0,
        text,
        transform=axes.transAxes,
        ha="left",
        va="bottom",
        fontsize=9,
        family="monospace",
        color=style.INK,
        bbox={"facecolor": style.PAPER, "edgecolor": style.GRID, "pad": 6},
    )


def _legend() -> list[Patch]:
    from matplotlib.patches import Patch

    return [
        Patch(color=style.LOAD, label="listed load"),
        Patch(
            facecolor=style.HIDDEN,
            edgecolor=style.INK,
            label="parasitic: converters, wiring,\ncharge controller, leakage",
        ),
        Patch(facecolor=style.GRID, edgecolor=style.INK, label="contingency"),
        Patch(
            facecolor=style.LOAD,
            edgecolor=style.PAPER,
            hatch="///",
            label="figure unverified",
        ),
    ]
