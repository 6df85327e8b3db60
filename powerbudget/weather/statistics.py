"""How days, months and winters of a record differ: persistence, spread, spells."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from powerbudget.errors import DataError
from powerbudget.weather.record import Floats, Integers, WeatherRecord
from powerbudget.weather.summary import SPELL_DAYS, daily_ghi_kwh_m2, spell_means

_WHOLE_YEAR_DAYS = 300


@dataclass(frozen=True, eq=False)
class Months:
    """Each month of each year of a record; NaN where it is not whole.

    Parameters
    ----------
    year
        Calendar years, or winters' labels of made years [count].
    ghi_kwh_m2_d
        Mean day, shape (years, 12) [kWh/m2].
    temp_degc, lowest_degc, range_k
        Mean, lowest and mean daily range of air temperature [degC, degC, K].
    """

    year: Integers
    ghi_kwh_m2_d: Floats
    temp_degc: Floats
    lowest_degc: Floats
    range_k: Floats

    @property
    def years(self) -> int:
        """Number of years [count]."""
        return int(self.year.size)

    @property
    def spread_frac(self) -> Floats:
        """Standard deviation of each month's light over its mean [fraction]."""
        mean = np.nanmean(self.ghi_kwh_m2_d, axis=0)
        spread = np.nanstd(self.ghi_kwh_m2_d, axis=0, ddof=1)
        return np.where(mean > 0, spread / np.where(mean > 0, mean, 1.0), 0.0)


def month_by_year(record: WeatherRecord) -> Months:
    """Return means of every month of every year, with at least 25 days [months].

    Parameters
    ----------
    record
        The weather [record].

    Returns
    -------
    Months
        Light and temperature [kWh/m2, degC].
    """
    calendar = record.day_local.astype("datetime64[M]").astype(np.int64)
    year = calendar // 12 + 1970
    labels = np.unique(year)
    slot = np.searchsorted(labels, year) * 12 + calendar % 12
    size = labels.size * 12
    rows = np.bincount(slot, minlength=size)
    enough = rows * record.step_h >= 25 * 24

    def mean(values: Floats) -> Floats:
        total = np.bincount(slot, weights=values, minlength=size)
        means = np.where(enough, total / np.maximum(rows, 1), np.nan)
        return means.reshape(-1, 12)

    lowest = np.full(size, np.inf)
    np.minimum.at(lowest, slot, record.temp_air_degc)
    return Months(
        year=labels.astype(np.int64),
        ghi_kwh_m2_d=mean(record.ghi_w_m2) * 24.0 / 1000.0,
        temp_degc=mean(record.temp_air_degc),
        lowest_degc=np.where(enough, lowest, np.nan).reshape(-1, 12),
        range_k=mean(_daily_range(record)),
    )


def _daily_range(record: WeatherRecord) -> Floats:
    """Return each interval's daily temperature range [K]."""
    day = record.day_number
    low, high = np.full(day[-1] + 1, np.inf), np.full(day[-1] + 1, -np.inf)
    np.minimum.at(low, day, record.temp_air_degc)
    np.maximum.at(high, day, record.temp_air_degc)
    spread: Floats = (high - low)[day]
    return spread


@dataclass(frozen=True)
class Persistence:
    """How a record's days hang together.

    Parameters
    ----------
    month
        1 to 12 [count].
    mean_kwh_m2_day
        Mean daily light [kWh/m2].
    spread_kwh_m2_day
        Standard deviation of daily light [kWh/m2].
    lag_one
        Correlation of one day with the next [number].
    year_to_year_frac
        Standard deviation of the month's mean over years, as a share [fraction].
    """

    month: int
    mean_kwh_m2_day: float
    spread_kwh_m2_day: float
    lag_one: float
    year_to_year_frac: float


def persistence(record: WeatherRecord) -> tuple[Persistence, ...]:
    """Return day-to-day persistence by month [kWh/m2, number].

    Parameters
    ----------
    record
        The weather [record].

    Returns
    -------
    tuple of Persistence
        One a month present.

    Notes
    -----
    The season within a month is taken out by a straight line over the day of the
    month before days are compared.
    """
    dates, daily = daily_ghi_kwh_m2(record)
    months = dates.astype("datetime64[M]")
    month = months.astype(np.int64) % 12 + 1
    day = (dates - months).astype(np.int64)
    follows = np.diff(dates.astype(np.int64)) == 1
    spread = month_by_year(record).spread_frac if record.years > 1.5 else None
    found = []
    for number in np.unique(month):
        inside = month == number
        line = np.polynomial.Polynomial.fit(day[inside], daily[inside], 1)
        rest = np.where(inside, daily - line(day), 0.0)
        pairs = follows & inside[1:] & inside[:-1]
        found.append(
            Persistence(
                month=int(number),
                mean_kwh_m2_day=float(daily[inside].mean()),
                spread_kwh_m2_day=float(rest[inside].std()),
                lag_one=_correlation(rest[:-1][pairs], rest[1:][pairs]),
                year_to_year_frac=np.nan
                if spread is None
                else float(spread[number - 1]),
            )
        )
    return tuple(found)


def _correlation(one: Floats, two: Floats) -> float:
    if one.size < 10 or one.std() == 0 or two.std() == 0:
        return float("nan")
    return float(np.corrcoef(one, two)[0, 1])


@dataclass(frozen=True, eq=False)
class YearSpells:
    """The darkest run that ends in each year, for several lengths.

    Parameters
    ----------
    days
        Lengths of run [days].
    year
        Calendar year in which the runs end [count].
    mean_kwh_m2_day
        Shape (years, lengths) [kWh/m2].
    """

    days: tuple[int, ...]
    year: Integers
    mean_kwh_m2_day: Floats


def yearly_spells(
    record: WeatherRecord, days: tuple[int, ...] = SPELL_DAYS
) -> YearSpells:
    """Return the darkest run of every year and every length [kWh/m2].

    Parameters
    ----------
    record
        The weather [record].
    days
        Lengths of run [days].

    Returns
    -------
    YearSpells
        A run belongs to the calendar year in which it ends and may begin in the one
        before, of a typical year in its own December; years with under 300 whole days
        are left out.

    Raises
    ------
    DataError
        When no year is whole.
    """
    dates, daily = daily_ghi_kwh_m2(record)
    year = dates.astype("datetime64[Y]").astype(np.int64) + 1970
    labels, counts = np.unique(year, return_counts=True)
    whole = labels[counts >= _WHOLE_YEAR_DAYS]
    if not whole.size:
        raise DataError(
            f"{record.source}: has no whole year; n-day minimum GHI cannot be ranked"
        )
    table = np.full((whole.size, len(days)), np.nan)
    for column, length in enumerate(days):
        means, last = spell_means(dates, daily, length, ring=record.typical_year)
        if not means.size:
            continue
        lowest = np.full(int(labels[-1] - labels[0]) + 1, np.inf)
        np.minimum.at(lowest, year[last] - labels[0], means)
        mine = lowest[whole - labels[0]]
        table[:, column] = np.where(np.isfinite(mine), mine, np.nan)
    return YearSpells(tuple(days), whole.astype(np.int64), table)
