"""A picture of an ensemble: probability by size, and which inputs matter."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Any

import numpy as np

from powerbudget.quantities import count, in_unit, money
from powerbudget.report.charts import style
from powerbudget.report.document.words import percent

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from powerbudget.sizing.uncertainty.monte_carlo import Ensemble
    from powerbudget.sizing.uncertainty.probability import Odds, SureSize

_LINES = {0.5: ":", 0.9: "--", 0.99: "-"}


def ensemble_figure(result: Ensemble, name: str, currency: str = "") -> Figure:
    """Return the picture of an ensemble.

    Parameters
    ----------
    result
        Of `powerbudget.sizing.uncertainty.monte_carlo.ensemble`.
    name
        Site name for the title [text].
    currency
        Unit of costs, empty without prices [text].

    Returns
    -------
    Figure
        Probability of every size; inputs ranked; lowest charge of the sure sizes.
    """
    figure = style.new_figure(10.0, 9.4)
    upper, lower = style.halves(figure, (1.4, 1.0))
    _map(upper.add_subplot(), result, currency)
    pair = lower.add_gridspec(1, 2)
    _inputs(lower.add_subplot(pair[0]), result)
    _curve(lower.add_subplot(pair[1]), result)
    kind = ", synthetic years from monthly means" if result.years_from == "made" else (
        f" from {count(result.seasons, 'actual winter')}"
    )  # fmt: skip
    whose = f"Probability of meeting the criteria: {name} " if name else ""
    style.headline(
        figure,
        f"{whose}({count(result.years, 'winter')}{kind}, random seed {result.seed})",
    )
    if name:
        figure.supxlabel(f"Target {result.target}.", fontsize=8.5, color=style.INK,
                         x=0.01, ha="left")  # fmt: skip
    return figure


def ensemble_chart(result: Ensemble, name: str, path: Path, currency: str = "") -> None:
    """Draw the picture of an ensemble into a file.

    Parameters
    ----------
    result, name
        As in `ensemble_figure`.
    path
        PNG, SVG or PDF to write.
    currency
        Unit of costs, empty without prices [text].
    """
    style.save(ensemble_figure(result, name, currency), path)


def _map(axes: Axes, result: Ensemble, currency: str) -> None:
    """Draw every size as a disc that fills with its probability."""
    rows = result.candidates
    for c in rows:
        axes.scatter(
            c.battery_ah, c.array_w, s=95, c=[c.probability_frac], cmap=style.shades(),
            vmin=0.0, vmax=1.0, edgecolors=style.HIDDEN, linewidths=0.6, zorder=3,
        )  # fmt: skip
    marks = axes.scatter([], [], c=[], cmap=style.shades(), vmin=0, vmax=1)
    holder: Any = axes.get_figure()
    bar = holder.colorbar(marks, ax=axes, location="bottom", pad=0.02, shrink=0.5)
    bar.set_label("winters that pass", fontsize=8.5, color=style.INK)
    bar.set_ticks(
        [0, 0.25, 0.5, 0.75, 1.0], labels=["0 %", "25 %", "50 %", "75 %", "100 %"]
    )
    bar.ax.tick_params(labelsize=8, colors=style.INK)
    for size in result.sizes:
        _edge(axes, rows, size.level)
        _sure(axes, size, currency)
    own = rows[0]
    axes.plot(own.battery_ah, own.array_w, "s", ms=15, mfc="none", mec=style.LOAD,
              mew=1.8, label=f"site file: {percent(own.probability_frac, 0)}")  # fmt: skip
    style.dress(axes, "Probability by size", "array, W", "battery, Ah (rated)")
    axes.margins(x=0.12, y=0.1)
    axes.legend(loc="center left", bbox_to_anchor=(1.01, 0.5), fontsize=8.5,
                frameon=False, markerscale=0.55, labelspacing=0.9)  # fmt: skip


def _edge(axes: Axes, rows: tuple[Odds, ...], level: float) -> None:
    """Join the smallest arrays that reach a probability, battery by battery."""
    least: dict[float, float] = {}
    for c in rows:
        if c.probability_frac >= level:
            w = least.get(c.battery_ah, np.inf)
            least[c.battery_ah] = min(w, c.array_w)
    if least:
        x = sorted(least)
        axes.plot(x, np.minimum.accumulate([least[ah] for ah in x]), _LINES[level],
                  drawstyle="steps-post", color=style.CHARGE, linewidth=1.5, zorder=2,
                  label=f"{100 * level:g} % size")  # fmt: skip


def _sure(axes: Axes, size: SureSize, currency: str) -> None:
    c = size.candidate
    if c is None:
        return
    price = "" if c.cost is None else f", {money(c.cost, currency)}"
    axes.plot(
        c.battery_ah, c.array_w, "D", ms=15, mfc="none", mec=style.PICK, mew=2,
        label=f"{in_unit(100 * size.level, '%')}: {count(c.modules, 'module')}, "
        f"{count(c.battery_units, 'unit')}{price}",
    )  # fmt: skip
    axes.annotate(
        in_unit(100 * size.level, "%"), (c.battery_ah, c.array_w), xytext=(11, 6),
        textcoords="offset points", fontsize=9, color=style.PICK, fontweight="bold",
        zorder=5,
    )  # fmt: skip


def _inputs(axes: Axes, result: Ensemble) -> None:
    rows = result.influences[::-1]
    if not rows:
        axes.axis("off")
        return
    colours = [style.PICK if r.rank_correlation > 0 else style.LOAD for r in rows]
    axes.barh([r.name for r in rows], [abs(r.rank_correlation) for r in rows],
              color=colours)  # fmt: skip
    # Long names would take the room of the bars.
    names = [textwrap.fill(row.name, 20) for row in rows]
    axes.set_yticks(range(len(rows)), names)
    for k, row in enumerate(rows):
        axes.annotate(f"{row.rank_correlation:+z.2f}", (abs(row.rank_correlation), k),
                      xytext=(4, 0), textcoords="offset points", va="center",
                      fontsize=8, color=style.INK)  # fmt: skip
    c = result.reference
    axes.set_xlim(0, 1)
    style.dress(
        axes, f"Inputs that change {count(c.modules, 'module')}, "
        f"{count(c.battery_units, 'unit')}", "",
        "rank correlation; green: a larger input raises the margin",
    )  # fmt: skip


def _curve(axes: Axes, result: Ensemble) -> None:
    """Draw probability against array for the batteries of the sure sizes."""
    wanted = {s.candidate.battery_strings for s in result.sizes if s.candidate}
    wanted = wanted or {result.reference.battery_strings}
    shades = (style.CHARGE, style.HEAT, style.INK)
    for battery, colour in zip(sorted(wanted), shades, strict=False):
        rows = sorted(
            (c for c in result.candidates if c.battery_strings == battery),
            key=lambda c: c.array_w,
        )
        x = [c.array_w for c in rows]
        y = np.array([100 * c.probability_frac for c in rows])
        give = np.array([200 * c.error_frac for c in rows])
        axes.fill_between(x, y - give, y + give, color=colour, alpha=0.2, linewidth=0)
        axes.plot(x, y, "o-", color=colour, ms=4, linewidth=1.5,
                  label=in_unit(rows[0].battery_ah, "Ah"))  # fmt: skip
    axes.set_ylim(0, 104)
    style.dress(axes, "Winters that pass", "%", "array, W")
    axes.legend(loc="lower right", fontsize=8, frameon=False,
                title="battery; band: two standard errors", title_fontsize=8)  # fmt: skip
