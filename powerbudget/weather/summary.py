"""What a record holds: monthly means and the darkest runs of days."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from powerbudget.weather.record import Floats, Integers, Times, WeatherRecord
from powerbudget.weather.runs import across_end, window_sums

SPELL_DAYS = (1, 3, 5, 7, 10, 14, 20, 30)
"""Lengths of dark spell that are looked for [days]."""


@dataclass(frozen=True)
class MonthMean:
    """One calendar month over all the years of a record.

    Parameters
    ----------
    month
        1 for January to 12 for December [count].
    ghi_kwh_m2_day, dni_kwh_m2_day, dhi_kwh_m2_day
        Mean daily sum of global horizontal, direct normal and diffuse horizontal
        irradiation [kWh/m2].
    temp_air_degc
        Mean air temperature [degC].
    temp_min_degc
        Lowest air temperature of any year [degC].
    """

    month: int
    ghi_kwh_m2_day: float
    dni_kwh_m2_day: float
    dhi_kwh_m2_day: float
    temp_air_degc: float
    temp_min_degc: float


@dataclass(frozen=True)
class Spell:
    """The darkest run of so many days on record.

    Parameters
    ----------
    days
        Length of the run [days].
    mean_kwh_m2_day
        Mean daily sum of global horizontal irradiation over it [kWh/m2].
    start
        Its first day, local standard time, as YYYY-MM-DD [text].
    across_end
        Whether it goes on past the end of a typical year into its first days.
    """

    days: int
    mean_kwh_m2_day: float
    start: str
    across_end: bool = False


def monthly_means(record: WeatherRecord) -> list[MonthMean]:
    """Return one row per calendar month present, over all years [kWh/m2, degC].

    Parameters
    ----------
    record
        The weather [record].

    Returns
    -------
    list of MonthMean
        January first; months without a single interval are left out
        [kWh/m2 a day, degC].

    Notes
    -----
    The sum of energy is divided by the days that are really in the record, so a
    missing 29 February neither adds energy nor counts as a dark day.
    """
    month = record.month
    return [
        _month_mean(record, number, month == number)
        for number in range(1, 13)
        if np.any(month == number)
    ]


def _month_mean(
    record: WeatherRecord, number: int, rows: NDArray[np.bool_]
) -> MonthMean:
    def daily(mean_over_interval_w_m2: Floats) -> float:
        return float(mean_over_interval_w_m2[rows].mean()) * 24.0 / 1000.0

    return MonthMean(
        month=number,
        ghi_kwh_m2_day=daily(record.ghi_w_m2),
        dni_kwh_m2_day=daily(record.dni_w_m2),
        dhi_kwh_m2_day=daily(record.dhi_w_m2),
        temp_air_degc=float(record.temp_air_degc[rows].mean()),
        temp_min_degc=float(record.temp_air_degc[rows].min()),
    )


def daily_ghi_kwh_m2(record: WeatherRecord) -> tuple[Times, Floats]:
    """Return the whole local days of a record and their irradiation [kWh/m2].

    Parameters
    ----------
    record
        The weather [record].

    Returns
    -------
    tuple of numpy.ndarray
        Dates [datetime64] and the daily sum of global horizontal irradiation
        [kWh/m2]; a day with an interval missing is left out.
    """
    days, first, counts = np.unique(
        record.day_number, return_index=True, return_counts=True
    )
    sums = np.bincount(record.day_number, weights=record.ghi_w_m2)[days]
    whole = counts == round(24.0 / record.step_h)
    dates = record.day_local[first[whole]]
    return dates, sums[whole] * record.step_h / 1000.0


def coldest_days_degc(record: WeatherRecord, days: float) -> float:
    """Return the lowest mean temperature of so many days in a row [degC].

    Parameters
    ----------
    record
        The weather.
    days
        Length of the spell [d].
    """
    steps = min(max(1, round(24.0 * days / record.step_h)), record.n)
    ring = record.typical_year
    return float(window_sums(record.temp_air_degc, steps, ring=ring).min()) / steps


def _breaks(dates: Times, *, ring: bool) -> NDArray[np.bool_]:
    """Return for each day whether anything is missing between it and the next.

    On a ring the first day, a year on, is the next of the last; on a line nothing is.
    """
    months = dates.astype("datetime64[M]").astype(np.int64)
    after, later = np.diff(dates.astype(np.int64)), np.diff(months)
    # Some archives leave 29 February out; the weather on either side is adjoining.
    over_leap_day = (after == 2) & (later == 1) & (months[:-1] % 12 == 1)
    lacking = dates[0] + np.timedelta64(365, "D") - dates[-1] > np.timedelta64(1, "D")
    return np.append(~((after == 1) | over_leap_day), not ring or lacking)


def worst_spells(
    record: WeatherRecord, days: Sequence[int] = SPELL_DAYS
) -> tuple[Spell, ...]:
    """Return the darkest run of each length, on whole local days [kWh/m2].

    Parameters
    ----------
    record
        The weather [record].
    days
        Lengths of run wanted [days].

    Returns
    -------
    tuple of Spell
        One per length, shortest first as asked; lengths that no unbroken run of
        days holds are left out [kWh/m2 a day].

    Notes
    -----
    A day that is absent is never a day of no sun, and a run never spans a gap,
    save that 28 February and 1 March adjoin where the archive omits 29 February.
    A typical year goes on from December into its January, a record of actual years
    does not.
    """
    dates, daily = daily_ghi_kwh_m2(record)
    ring = record.typical_year
    found = (_darkest(dates, daily, length, ring=ring) for length in days)
    return tuple(spell for spell in found if spell is not None)


def spell_means(
    dates: Times, daily: Floats, length: int, *, ring: bool
) -> tuple[Floats, Integers]:
    """Return the mean of every run of so many days, and the run's last day [kWh/m2].

    Parameters
    ----------
    dates, daily
        From `daily_ghi_kwh_m2` [datetime64, kWh/m2].
    length
        Length of the run [days].
    ring
        Whether the days are a typical year, which goes on from its last to its first.

    Returns
    -------
    tuple of numpy.ndarray
        Means by the first day, infinite where the run spans a gap, and the number of
        the last day [kWh/m2 a day, count].
    """
    if length < 1 or daily.size < length:
        return np.empty(0), np.empty(0, dtype=np.int64)
    means = window_sums(daily, length, ring=ring) / length
    whole = np.ones(means.size, bool)
    if length > 1:
        gaps = window_sums(_breaks(dates, ring=ring), length - 1, ring=ring)
        whole = gaps[: means.size] < 0.5
    # Rounding keeps the dust of the running sum from choosing between equal days.
    means = np.where(whole, np.round(means, 12), np.inf)
    return means, (np.arange(means.size) + length - 1) % daily.size


def _darkest(dates: Times, daily: Floats, length: int, *, ring: bool) -> Spell | None:
    means, _ = spell_means(dates, daily, length, ring=ring)
    if not np.isfinite(means).any():
        return None
    at = int(np.argmin(means))
    over = across_end(at, length, daily.size)
    return Spell(length, float(means[at]), str(dates[at]), over)
