"""The sky of a site, and the same as one JSON object."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from powerbudget.errors import DataError, Finding
from powerbudget.weather import WeatherRecord, monthly_means, worst_spells
from powerbudget.weather.extremes import SpellFit, fit_finding, fit_spells
from powerbudget.weather.statistics import Persistence, persistence, yearly_spells
from powerbudget.weather.summary import SPELL_DAYS, MonthMean, Spell

if TYPE_CHECKING:
    from powerbudget.sizing.deficit_periods import DarkRun


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
