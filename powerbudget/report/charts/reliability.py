"""A picture of reliability: curves over array and storage, outages by length."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.quantities import in_unit, plain, show
from powerbudget.report.charts import style
from powerbudget.report.document.words import percent
from powerbudget.site.fields import MONTHS

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from powerbudget.sizing.uncertainty.reliability import Reliability

_SHADES = (style.HIDDEN, style.SUN, style.CHARGE, style.INK)
_HIGHEST = 4.5


def reliability_figure(result: Reliability, name: str) -> Figure:
    """Return the picture of a site's reliability.

    Parameters
    ----------
    result
        Of `powerbudget.sizing.uncertainty.reliability.reliability_view`.
    name
        Site name for the title [text].

    Returns
    -------
    Figure
        Curves of equal reliability, outages by length, hours off by month, figures.
    """
    figure = style.new_figure(11.5, 7.6)
    grid = figure.add_gridspec(2, 2, width_ratios=[1.25, 1.0])
    _curves(figure.add_subplot(grid[:, 0]), result)
    if result.hours_off_per_year > 0:
        _lengths(figure.add_subplot(grid[0, 1]), result)
        _months(figure.add_subplot(grid[1, 1]), result)
    else:
        _figures(figure.add_subplot(grid[:, 1]), result)
    style.headline(figure, f"Reliability of {name}")
    words = (
        f"LOLP {percent(result.lolp_hours_frac, 3)} of hours, LLP "
        f"{percent(result.llp_energy_frac, 3)} of energy, "
        f"{result.outages_per_year:.2f} outages/yr, {plain(result.years, 3, 'yr')}. Curves "
        "below 1 % rest on a few days. Symbols C_A, C_S, LLP: Egido and Lorenzo "
        "(1992)."
    )
    figure.supxlabel(words, fontsize=8.5, color=style.INK, x=0.01, ha="left")
    return figure


def reliability_chart(result: Reliability, name: str, path: Path) -> None:
    """Draw the picture of a site's reliability into a file.

    Parameters
    ----------
    result, name
        As in `reliability_figure`.
    path
        PNG, SVG or PDF to write.
    """
    style.save(reliability_figure(result, name), path)


def _curves(axes: Axes, r: Reliability) -> None:
    levels = sorted({p.llp_frac for p in r.curves}, reverse=True)
    for level, colour in zip(levels, _SHADES, strict=False):
        points = [p for p in r.curves if p.llp_frac == level]
        axes.plot([p.storage_days for p in points], [p.array_ratio for p in points],
                  "o-", color=colour, ms=4, linewidth=1.8,
                  label=f"LLP {100 * level:g} % of energy")  # fmt: skip
    axes.plot(r.storage_days, r.array_ratio, "D", ms=12, mfc="none", mec=style.PICK,
              mew=2.2, label="this site")  # fmt: skip
    style.dress(axes, "Iso-reliability curves",
                "array-to-load ratio, lowest month (C_A)",
                "storage at 25 °C to the LVD, d (C_S)")  # fmt: skip
    axes.set_ylim(0, max(_HIGHEST, 1.15 * r.array_ratio))
    axes.set_xlim(left=0)
    axes.axhline(1.0, color=style.LOAD, linewidth=1.0, linestyle=":")
    axes.annotate("array = load", (1.0, 1.0), xycoords=("axes fraction", "data"),
                  xytext=(-4, 3), textcoords="offset points", fontsize=8, ha="right",
                  color=style.LOAD)  # fmt: skip
    axes.legend(loc="upper right", fontsize=8.5, frameon=True, framealpha=0.95)


def _lengths(axes: Axes, r: Reliability) -> None:
    names = [c.label for c in r.lengths]
    axes.bar(names, [c.per_year for c in r.lengths], 0.7, color=style.OUTAGE)
    for k, c in enumerate(r.lengths):
        if c.outages:
            axes.annotate(f"{in_unit(c.hours, 'h')} in total", (k, c.per_year), ha="center",
                          va="bottom", fontsize=8, color=style.INK)  # fmt: skip
    style.dress(axes, f"Outages by length; longest {in_unit(r.longest_outage_h, 'h')}",
                "outages/yr")  # fmt: skip
    axes.margins(y=0.18)


def _months(axes: Axes, r: Reliability) -> None:
    axes.bar(range(12), r.hours_off_by_month, 0.7, color=style.OUTAGE)
    axes.set_xticks(range(12), MONTHS)
    style.dress(
        axes, f"Outage hours: {in_unit(r.hours_off_per_year, 'h/yr', 1)}, "
f"{show(r.unmet_wh_per_year, 'Wh')}/yr unserved", "h/yr",
    )  # fmt: skip


def _figures(axes: Axes, r: Reliability) -> None:
    axes.axis("off")
    rows = [
        ("outage", "none in the simulation"),
        ("length of the weather file", plain(r.years, 3, "yr")),
        ("array-to-load ratio, lowest month", f"{r.array_ratio:.2f}"),
        ("storage at 25 °C to the LVD", in_unit(r.storage_days, "d", 1)),
    ]
    for level in sorted({p.llp_frac for p in r.curves}, reverse=True):
        points = [p for p in r.curves if p.llp_frac == level]
        near = min(points, key=lambda p: abs(p.storage_days - r.storage_days))
        rows.append(
            (
                f"array for LLP {100 * level:g} % at {in_unit(near.storage_days, 'd', 1)}",
                f"{near.array_ratio:.2f}",
            )
        )
    for k, (label, value) in enumerate(rows):
        y = 0.97 - k * 0.085
        axes.text(0.02, y, label, fontsize=10, color=style.INK, va="top")
        axes.text(1.0, y, value, fontsize=10, color=style.INK, va="top", ha="right",
                  fontweight="bold")  # fmt: skip
        axes.plot([0.02, 1], [y - 0.06] * 2, color=style.GRID, linewidth=0.8)
    axes.set_xlim(0, 1)
    axes.set_ylim(0, 1)
