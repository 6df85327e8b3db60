"""The sky of a site as a page and as one JSON object."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from powerbudget.errors import DataError, Finding
from powerbudget.report.terminal.text import begins, facts, percent, table, wrapped
from powerbudget.site.fields import MONTHS
from powerbudget.sizing.deficit_periods import DarkRun
from powerbudget.weather import WeatherRecord, monthly_means, worst_spells
from powerbudget.weather.extremes import SpellFit, fit_finding, fit_spells
from powerbudget.weather.record import DesignTemps
from powerbudget.weather.statistics import Persistence, persistence, yearly_spells
from powerbudget.weather.summary import SPELL_DAYS, MonthMean, Spell

_LONGEST_RETURN = 999.0


@dataclass(frozen=True, eq=False)
class Sky:
    """All that `weather` answers.

    Parameters
    ----------
    record
        The weather.
    dark_runs
        Longest runs of days under shares of the load.
    against
        A measured record to compare with, or None.
    """

    record: WeatherRecord
    dark_runs: tuple[DarkRun, ...] = ()
    against: WeatherRecord | None = None

    @cached_property
    def months(self) -> list[MonthMean]:
        """Monthly means [kWh/m2, degC]."""
        return monthly_means(self.record)

    @cached_property
    def spells(self) -> tuple[Spell, ...]:
        """Darkest runs of the whole record [kWh/m2]."""
        return worst_spells(self.record)

    @cached_property
    def fits(self) -> tuple[SpellFit, ...]:
        """Return periods of dark spells, empty for too short a record."""
        return fit_spells(self.record)

    @cached_property
    def persistence(self) -> tuple[Persistence, ...]:
        """Day-to-day persistence by month."""
        return persistence(self.record)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Remarks of the record, and why there is no fit."""
        why = fit_finding(self.record)
        return self.record.findings + ((why,) if why else ())

    def as_json(self, plain: Callable[[Any], Any]) -> dict[str, Any]:
        """Return everything as one object, units in the keys."""
        record = self.record
        found: dict[str, Any] = {
            "source": record.source,
            "label": record.label,
            "step_h": record.step_h,
            "years": record.years,
            "typical_year": record.typical_year,
            "made_from_monthly_figures": record.synthetic,
            "verdict": record.verdict,
            "monthly": [plain(row) for row in self.months],
            "worst_spells": [plain(spell) for spell in self.spells],
            "spell_returns": [plain(fit) for fit in self.fits],
            "persistence": [plain(row) for row in self.persistence],
            "dark_runs": [plain(run) for run in self.dark_runs],
            "design_temperatures": plain(record.design),
            "record_lowest_degc": float(record.temp_air_degc.min()),
            "findings": [plain(finding) for finding in self.findings],
        }
        if self.against is not None:
            found["against"] = plain(self.comparison())
        return found

    def comparison(self) -> dict[str, Any]:
        """Return this record and the measured one side by side."""
        if self.against is None:
            return {}
        mine, other = self.persistence, persistence(self.against)
        return {
            "source": self.against.source,
            "persistence": [
                {
                    "month": a.month,
                    "lag_one": a.lag_one,
                    "measured_lag_one": b.lag_one,
                    "spread_kwh_m2_day": a.spread_kwh_m2_day,
                    "measured_spread_kwh_m2_day": b.spread_kwh_m2_day,
                    "year_to_year_frac": a.year_to_year_frac,
                    "measured_year_to_year_frac": b.year_to_year_frac,
                }
                for a, b in zip(mine, other, strict=False)
            ],
            "spells": _spell_rows(self.record, self.against),
        }

    def page(self) -> str:
        """Return everything as text."""
        parts = [
            self._head(),
            _month_table(self.months, self.persistence),
            _spell_table(self.spells, self.fits),
        ]
        if self.dark_runs:
            parts.append(_run_table(self.dark_runs))
        if self.against is not None:
            parts.append(_against_tables(self))
        return "\n".join([*parts, wrapped(self.findings)])

    def _head(self) -> str:
        record = self.record
        kind = "typical year" if record.typical_year else "real years"
        kind = "synthetic years" if record.synthetic else kind
        place = (
            f"{record.latitude_deg:g} deg, {record.longitude_deg:g} deg, "
            f"{record.elevation_m:g} m, UTC{record.utc_offset_h:+g}"
        )
        step = f"{60 * record.step_h:g} min"
        length = f"{record.years:.3g}" if record.years < 100 else f"{record.years:,.0f}"
        rows = [
            ("place", place),
            ("length", f"{length} year(s), {kind}, every {step}"),
            ("labels", record.label),
            ("verdict", _verdict(record)),
            ("coldest", f"{record.temp_air_degc.min():.1f} degC in the record"
             + _design_words(record.design)),
        ]  # fmt: skip
        return facts(record.source, rows)


def _verdict(record: WeatherRecord) -> str:
    return {
        "sound": "sound: clock, ceiling, closure, night, stuck values and gaps tested",
        "doubtful": "doubtful: see the findings",
        "made": "made from monthly figures, not measured",
    }.get(record.verdict, record.verdict)


def _design_words(design: DesignTemps | None) -> str:
    if design is None:
        return "; no design temperatures given"
    known = [
        (design.annual_minimum_degc, "mean yearly minimum"),
        (design.minimum_50_years_degc, "in 50 years"),
        (design.heating_99_6_degc, "exceeded 99.6 % of the time"),
    ]
    words = [f"{value:.1f} {text}" for value, text in known if np.isfinite(value)]
    return f"; design: {', '.join(words)}" if words else ""


def _share(value: float) -> str:
    return percent(value, 0) if np.isfinite(value) else "-"


def _month_table(months: list[MonthMean], rows: tuple[Persistence, ...]) -> str:
    by_month = {row.month: row for row in rows}
    cells = []
    for m in months:
        p = by_month.get(m.month)
        lag = f"{p.lag_one:.2f}" if p and np.isfinite(p.lag_one) else "-"
        cells.append(
            [MONTHS[m.month - 1], f"{m.ghi_kwh_m2_day:.2f}",
             _share(p.year_to_year_frac) if p else "-", lag,
             f"{m.temp_air_degc:.1f}", f"{m.temp_min_degc:.1f}"]
        )  # fmt: skip
    heads = ["month", "sun kWh/m2/day", "year to year", "day to day", "mean degC",
             "lowest degC"]  # fmt: skip
    return table("Horizontal sun and air temperature", heads, cells)


def _years(value: float) -> str:
    return f">{_LONGEST_RETURN:.0f}" if value > _LONGEST_RETURN else f"{value:.0f}"


def _spell_table(spells: tuple[Spell, ...], fits: tuple[SpellFit, ...]) -> str:
    if not fits:
        rows = [
            [str(s.days), f"{s.mean_kwh_m2_day:.2f}", begins(s.start, s.across_end)]
            for s in spells
        ]
        return table(
            "Darkest spells", ["days", "mean kWh/m2/day", "from"], rows, left=0
        )
    by_days = {fit.days: fit for fit in fits}
    rows = []
    for s in spells:
        row = [str(s.days), f"{s.mean_kwh_m2_day:.2f}", s.start]
        fit = by_days.get(s.days)
        if fit:
            levels = zip(
                fit.mean_kwh_m2_day, fit.low_kwh_m2_day, fit.high_kwh_m2_day,
                strict=True,
            )  # fmt: skip
            shown = [f"{a:.2f} ({b:.2f}-{c:.2f})" for a, b, c in levels]
            row += [shown[2], shown[4]]
            row.append(
                f"{_years(fit.worst_return_years)} "
                f"({_years(fit.worst_return_low_years)}-"
                f"{_years(fit.worst_return_high_years)})"
            )
        rows.append(row)
    heads = ["days", "darkest kWh/m2/day", "from", "once in 10 y", "once in 50 y",
             "darkest comes once in, y"]  # fmt: skip
    body = table("Darkest spells, with 80 % bands of the fit", heads, rows, left=0)
    families = sorted({fit.family for fit in fits})
    return body + (
        f"Yearly minima fitted by L-moments ({', '.join(families)}); beyond twice the "
        "length of the\nrecord such figures are guesses.\n"
    )


def _run_table(runs: tuple[DarkRun, ...]) -> str:
    rows = [
        [percent(run.share_frac, 0), str(run.days),
         begins(run.start or "-", run.across_end),
         percent(run.mean_frac, 0) if run.days else "-", f"{run.days_per_year:.0f}"]
        for run in runs
    ]  # fmt: skip
    heads = ["below this share of the load", "longest run, days", "from", "mean in it",
             "days a year"]  # fmt: skip
    return table("Days on which the array gives less than the load needs", heads, rows)


def _spell_rows(
    record: WeatherRecord, against: WeatherRecord
) -> list[dict[str, float | int]]:
    try:
        mine, other = yearly_spells(record), yearly_spells(against)
    except DataError:
        return []
    one, two = mine.mean_kwh_m2_day, other.mean_kwh_m2_day
    rows: list[dict[str, float | int]] = []
    for column, days in enumerate(SPELL_DAYS):
        rows.append(
            {
                "days": days,
                "median_kwh_m2_day": float(np.nanmedian(one[:, column])),
                "measured_median_kwh_m2_day": float(np.nanmedian(two[:, column])),
                "one_in_ten_kwh_m2_day": float(np.nanpercentile(one[:, column], 10)),
                "measured_one_in_ten_kwh_m2_day": float(
                    np.nanpercentile(two[:, column], 10)
                ),
            }
        )
    return rows


def _against_tables(sky: Sky) -> str:
    found = sky.comparison()
    cells = [
        [MONTHS[row["month"] - 1]]
        + [f"{row[key]:.2f}" for key in ("lag_one", "measured_lag_one")]
        + [f"{row[k]:.2f}" for k in ("spread_kwh_m2_day", "measured_spread_kwh_m2_day")]
        + [_share(row[k]) for k in ("year_to_year_frac", "measured_year_to_year_frac")]
        for row in found["persistence"]
    ]
    heads = ["month", "day to day", "measured", "spread of days", "measured",
             "year to year", "measured"]  # fmt: skip
    first = table(f"Beside the measured record: {found['source']}", heads, cells)
    rows = [
        [str(row["days"])]
        + [f"{value:.2f}" for key, value in row.items() if key != "days"]
        for row in found["spells"]
    ]
    names = ["days", "median year", "measured", "one year in ten", "measured"]
    return (
        first + "\n" + table("Darkest run of a year, kWh/m2 a day", names, rows, left=0)
    )
