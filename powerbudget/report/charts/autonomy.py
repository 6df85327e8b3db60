"""A picture of autonomy: month and hour, ages, disconnect settings, lost charge."""

from __future__ import annotations

import math
from importlib import import_module
from typing import TYPE_CHECKING, Any

import numpy as np

from powerbudget.report.charts import style
from powerbudget.site.fields import MONTHS

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from powerbudget.sizing.autonomy_view import AutonomyView

_AGES = (style.PICK, style.CHARGE, style.OUTAGE)


def autonomy_figure(view: AutonomyView, name: str) -> Figure:
    """Return the picture of a site's autonomy.

    Parameters
    ----------
    view
        Of `powerbudget.sizing.autonomy_view.autonomy_view`.
    name
        Site name for the title [text].

    Returns
    -------
    Figure
        Heat map by month and hour, months by age, settings, charge lost today.
    """
    figure = style.new_figure(11.5, 8.6)
    grid = figure.add_gridspec(2, 2)
    _heat(figure.add_subplot(grid[0, 0]), view)
    _months(figure.add_subplot(grid[0, 1]), view)
    _settings(figure.add_subplot(grid[1, 0]), view)
    _lost(figure.add_subplot(grid[1, 1]), view)
    if name:
        style.headline(figure, f"Autonomy of {name}")
    words = (
        "Remaining autonomy from SOC, temperature, and load at each start (one "
        f"every {view.every_h:g} h)."
    )
    figure.supxlabel(words, fontsize=8.5, color=style.INK, x=0.01, ha="left")
    return figure


def autonomy_chart(view: AutonomyView, name: str, path: Path) -> None:
    """Draw the picture of a site's autonomy into a file.

    Parameters
    ----------
    view, name
        As in `autonomy_figure`.
    path
        PNG, SVG or PDF to write.
    """
    style.save(autonomy_figure(view, name), path)


def _heat(axes: Axes, view: AutonomyView) -> None:
    table = np.array(view.by_month_hour_days)
    top = max(1.0, float(np.nanmax(table)))
    mesh = axes.pcolormesh(np.arange(25), np.arange(13), table, cmap=style.shades(),
                           vmin=min(float(np.nanmin(table)), top - 1), vmax=top)  # fmt: skip
    bar = axes.figure.colorbar(mesh, ax=axes)
    bar.set_label("days", fontsize=8.5, color=style.INK)
    bar.ax.tick_params(labelsize=8, colors=style.INK)
    axes.set_yticks(np.arange(12) + 0.5, MONTHS)
    axes.set_xticks(range(0, 25, 3))
    axes.invert_yaxis()
    style.dress(axes, "Minimum by month and starting hour", "",
                "starting hour, local standard time")  # fmt: skip
    axes.grid(visible=False)


def _months(axes: Axes, view: AutonomyView) -> None:
    x = np.arange(12)
    for (age, days), colour in zip(view.by_age.items(), _AGES, strict=False):
        thick = 4.0 if age == "as specified" else 1.7
        axes.plot(x, days, "o-", color=colour, ms=4, linewidth=thick,
                  label=f"battery {age}")  # fmt: skip
    axes.plot(x, view.median_by_month_days, color=style.HIDDEN, linestyle="--",
              label="median start, as specified")  # fmt: skip
    axes.set_xticks(x, MONTHS)
    axes.set_ylim(0, max(1.0, axes.get_ylim()[1]))
    style.dress(axes, "Minimum by month", "days")
    axes.legend(fontsize=8, frameon=False)


def _settings(axes: Axes, view: AutonomyView) -> None:
    names = list(dict.fromkeys(row.disconnect for row in view.settings))
    ages = list(dict.fromkeys(row.age for row in view.settings))
    for k, (age, colour) in enumerate(zip(ages, _AGES, strict=False)):
        rows = [row for row in view.settings if row.age == age]
        x = np.arange(len(rows)) + (k - 1) * 0.27
        axes.bar(x, [row.design_days for row in rows], 0.24, color=colour,
                 label=f"battery {age}")  # fmt: skip
        axes.plot(
            x,
            [row.record_days for row in rows],
            "D",
            color=style.INK,
            ms=5,
            mfc=style.PAPER,
            label="minimum remaining autonomy" if k == 0 else None,
        )
    own = {row.disconnect for row in view.settings if row.own}
    axes.set_xticks(
        range(len(names)), [f"{n}\n(site file)" if n in own else n for n in names]
    )
    axes.margins(y=0.25)
    style.dress(axes, "Autonomy by LVD setting and age", "days")
    axes.legend(fontsize=8, frameon=False, ncols=2, loc="upper left")


def _lost(axes: Axes, view: AutonomyView) -> None:
    """Draw hours to disconnect and to damage for each month's worst moment."""
    x = [row.month - 1 for row in view.lost]
    series: list[tuple[str, list[float], Any]] = [
        ("outage", [row.to_disconnect_h for row in view.lost], style.LOAD),
        ("battery damaged", [row.to_damage_h for row in view.lost], style.OUTAGE),
        ("damaged, LVD fails", [row.unprotected_h for row in view.lost],
         style.HEAT),
    ]  # fmt: skip
    for label, hours, colour in series:
        days = [h / 24 if math.isfinite(h) else math.nan for h in hours]
        axes.plot(x, days, "o-", color=colour, ms=4, linewidth=1.6, label=label)
    ice = [
        (row.month - 1, row.unprotected_h / 24)
        for row in view.lost
        if row.unprotected_damage == "frost"
    ]
    if ice:
        axes.plot(*zip(*ice, strict=True), "s", ms=9, mfc="none", mec=style.FROST,
                  mew=2, linestyle="none", label="by freezing")  # fmt: skip
    axes.set_xticks(range(12), MONTHS)
    axes.set_yscale("log")
    axes.yaxis.set_major_formatter("{x:g}")
    ticks: Any = import_module("matplotlib.ticker")
    axes.yaxis.set_minor_locator(ticks.LogLocator(subs=(2, 5)))
    axes.yaxis.set_minor_formatter("{x:g}")
    axes.tick_params(axis="y", which="minor", labelsize=7, colors=style.INK)
    style.dress(axes, "Charging lost at the worst hour of the month", "days, log scale")
    axes.set_ylim(top=3.2 * axes.get_ylim()[1])
    axes.legend(fontsize=8, frameon=False, loc="upper left", ncols=2)
