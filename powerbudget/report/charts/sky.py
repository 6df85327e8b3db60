"""A picture of the sky of a site: months, dark spells and how often they come."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from powerbudget.errors import DataError
from powerbudget.quantities import count, in_unit
from powerbudget.report.charts import style
from powerbudget.site.fields import MONTHS
from powerbudget.weather import WeatherRecord, daily_ghi_kwh_m2, monthly_means
from powerbudget.weather.extremes import SpellFit, fit_spells
from powerbudget.weather.runs import ACROSS_END
from powerbudget.weather.statistics import YearSpells, month_by_year, yearly_spells
from powerbudget.weather.summary import worst_spells

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

LENGTHS = (1, 2, 3, 4, 5, 6, 7, 8, 10, 12, 14, 17, 20, 25, 30)
FITTED_DAYS = 10
_WINDOW_DAYS = 75


def sky_chart(
    record: WeatherRecord, name: str, path: Path, against: WeatherRecord | None = None
) -> None:
    """Draw months, dark spells, return periods and the darkest weeks.

    Parameters
    ----------
    record
        The weather.
    name
        Site name for the title [text].
    path
        PNG, SVG or PDF to write.
    against
        A measured record to compare with, or None.
    """
    style.save(sky_figure(record, name, against), path)


def sky_figure(
    record: WeatherRecord, name: str, against: WeatherRecord | None = None
) -> Figure:
    """Return the picture that `sky_chart` writes.

    Parameters
    ----------
    record
        The weather.
    name
        Site name for the title, left out where empty [text].
    against
        A measured record to compare with, or None.
    """
    figure = style.new_figure(11.5, 8.4)
    grid = figure.add_gridspec(2, 2)
    _months(figure.add_subplot(grid[0, 0]), record, against)
    _spells(figure.add_subplot(grid[0, 1]), record, against)
    _returns(figure.add_subplot(grid[1, 0]), record, against)
    _darkest_weeks(figure.add_subplot(grid[1, 1]), record)
    kind = "typical year (no extreme winter)" if record.typical_year else (
        count(record.years, "synthetic year" if record.synthetic else "actual year")
    )  # fmt: skip
    if name:
        style.headline(figure, f"Solar resource of {name}   ({kind})")
    return figure


def _months(axes: Axes, record: WeatherRecord, against: WeatherRecord | None) -> None:
    rows = monthly_means(record)
    x = np.array([row.month - 1 for row in rows])
    mean = np.array([row.ghi_kwh_m2_day for row in rows])
    top = mean
    axes.bar(x, mean, 0.7, color=style.SUN, label="average of all years")
    if record.years > 1.5:
        months = month_by_year(record).ghi_kwh_m2_d[:, x]
        low, top = np.nanmin(months, axis=0), np.nanmax(months, axis=0)
        axes.vlines(x, low, top, color=style.INK, linewidth=1.6,
                    label="lowest to highest year")  # fmt: skip
    if against is not None:
        other = monthly_means(against)
        axes.plot([row.month - 1 for row in other],
                  [row.ghi_kwh_m2_day for row in other], "o", mfc="none", ms=6,
                  color=style.LOAD, label="measured weather file")  # fmt: skip
    worst = int(np.argmin(mean))
    axes.annotate(f"{mean[worst]:.2f}", (x[worst], top[worst]), ha="center",
                  va="bottom", fontsize=8.5, fontweight="bold", color=style.INK,
                  xytext=(0, 2), textcoords="offset points")  # fmt: skip
    axes.set_xticks(range(12), MONTHS)
    axes.margins(y=0.22)
    style.dress(axes, "Global horizontal irradiation (GHI) by month", "kWh/m²/day")
    axes.legend(loc="upper left", fontsize=8, frameon=False)


def _yearly(record: WeatherRecord) -> YearSpells | None:
    try:
        return yearly_spells(record, LENGTHS)
    except DataError:
        return None


def _spells(axes: Axes, record: WeatherRecord, against: WeatherRecord | None) -> None:
    yearly = _yearly(record)
    if yearly is not None and yearly.year.size > 1:
        table = yearly.mean_kwh_m2_day
        low, middle, high = np.nanpercentile(table, (10, 50, 90), axis=0)
        axes.fill_between(LENGTHS, low, high, color=style.CHARGE, alpha=0.25,
                          linewidth=0, label="8 years in 10")  # fmt: skip
        axes.plot(LENGTHS, middle, color=style.CHARGE, linewidth=1.6,
                  label="median year")  # fmt: skip
    worst = worst_spells(record, LENGTHS)
    axes.plot([s.days for s in worst], [s.mean_kwh_m2_day for s in worst], "o-", ms=3.5,
              color=style.OUTAGE, linewidth=1.8, label="minimum of all years")  # fmt: skip
    if against is not None:
        _against(axes, against)
    axes.set_xlim(0, 31)
    axes.set_ylim(0, 1.3 * axes.get_ylim()[1])
    style.dress(axes, "n-day minimum GHI of each year", "kWh/m²/day", "length, d")
    axes.legend(loc="upper left", fontsize=8, frameon=True, framealpha=0.9)


def _against(axes: Axes, record: WeatherRecord) -> None:
    yearly = _yearly(record)
    if yearly is None:
        return
    label = f"measured, {count(yearly.year.size, 'year')}: "
    middle = np.nanmedian(yearly.mean_kwh_m2_day, axis=0)
    axes.plot(LENGTHS, middle, "--", color=style.LOAD, linewidth=1.6,
              label=label + "median")  # fmt: skip
    axes.plot(LENGTHS, np.nanmin(yearly.mean_kwh_m2_day, axis=0), ":", linewidth=2.0,
              color=style.LOAD, label=label + "darkest")  # fmt: skip


def _returns(axes: Axes, record: WeatherRecord, against: WeatherRecord | None) -> None:
    title = f"Return period of the {FITTED_DAYS}-day minimum GHI"
    fits = [fit for fit in fit_spells(record) if fit.days == FITTED_DAYS]
    if not fits:
        axes.axis("off")
        why = (
            "one typical year shows no\ninterannual variability"
            if record.typical_year
            else "too few years for a fit"
        )
        axes.text(0.5, 0.5, f"no return periods:\n{why}", ha="center", va="center",
                  fontsize=11, color=style.INK)  # fmt: skip
        axes.set_title(title, loc="left", fontsize=10, color=style.INK,
                       fontweight="bold")  # fmt: skip
        return
    _fit_curve(axes, fits[0])
    _points(axes, record, style.CHARGE, "years of this weather file")
    if against is not None and against.years > 1.5:
        _points(axes, against, style.LOAD, "years of the measured weather file")
    axes.set_xscale("log")
    axes.set_xlim(1.02, max(60.0, 1.4 * record.years))
    ticks = [t for t in (2, 5, 10, 20, 50, 100, 1000) if t <= max(60.0, record.years)]
    axes.set_xticks(ticks, [str(t) for t in ticks])
    axes.minorticks_off()
    axes.set_ylim(bottom=0)
    style.dress(axes, title, "kWh/m²/day", "return period, yr")
    axes.legend(loc="upper right", fontsize=8, frameon=True, framealpha=0.9)


def _fit_curve(axes: Axes, fit: SpellFit) -> None:
    axes.fill_between(fit.return_years, fit.low_kwh_m2_day, fit.high_kwh_m2_day,
                      color=style.HIDDEN, alpha=0.35, linewidth=0,
                      label="80 % confidence interval")  # fmt: skip
    axes.plot(fit.return_years, fit.mean_kwh_m2_day, color=style.INK, linewidth=1.6,
              label="extreme-value fit")  # fmt: skip


def _points(axes: Axes, record: WeatherRecord, colour: str, label: str) -> None:
    minima = yearly_spells(record, (FITTED_DAYS,)).mean_kwh_m2_day[:, 0]
    ranked = np.sort(minima[np.isfinite(minima)])
    # Gringorten's plotting position suits extreme-value laws.
    rank = np.arange(1, ranked.size + 1)
    period = (ranked.size + 0.12) / (rank - 0.44)
    axes.plot(period, ranked, "o", ms=4.5, color=colour, mfc="none", label=label)


def _darkest_weeks(axes: Axes, record: WeatherRecord) -> None:
    from importlib import import_module

    mdates: Any = import_module("matplotlib.dates")
    dates, daily = daily_ghi_kwh_m2(record)
    spells = {s.days: s for s in worst_spells(record, (FITTED_DAYS,))}
    if FITTED_DAYS not in spells:
        axes.axis("off")
        return
    spell = spells[FITTED_DAYS]
    at = int(np.searchsorted(dates, np.datetime64(spell.start)))
    first = at - (_WINDOW_DAYS - FITTED_DAYS) // 2
    inside = np.arange(first, first + _WINDOW_DAYS)
    if not record.typical_year:
        inside = np.arange(max(0, first), min(dates.size, max(0, first) + _WINDOW_DAYS))
    dark = (inside >= at) & (inside < at + FITTED_DAYS)
    colours = np.where(dark, style.OUTAGE, style.SUN)
    # The days of a typical year go on from December to January, and back.
    place = inside % dates.size
    when = dates[place] + dates.size * (inside // dates.size)
    axes.bar(when, daily[place], 0.9, color=list(colours))
    year = "" if record.typical_year else f" ({spell.start[:4]})"
    axes.xaxis.set_major_locator(mdates.AutoDateLocator(minticks=4, maxticks=7))
    axes.xaxis.set_major_formatter(mdates.DateFormatter("%d %b"))
    axes.annotate(
        f"{FITTED_DAYS}-day minimum GHI: {in_unit(spell.mean_kwh_m2_day, 'kWh/m²/day', 2)}"
        + (f"\n{ACROSS_END}" if spell.across_end else ""),
        (0.02, 0.96), xycoords="axes fraction", fontsize=9, color=style.OUTAGE,
        va="top", fontweight="bold",
    )  # fmt: skip
    axes.margins(y=0.2)
    style.dress(axes, f"GHI by day around the minimum{year}", "kWh/m²/day")
