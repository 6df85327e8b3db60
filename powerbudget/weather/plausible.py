"""Units, night, stuck values and dark days: what a record cannot or should not hold."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from powerbudget.errors import DataError, Finding
from powerbudget.quantities import count, in_unit
from powerbudget.weather.record import Floats, Integers, Times, WeatherRecord

if TYPE_CHECKING:
    from powerbudget.weather.sun_path import SunPath

HOTTEST_DEGC = 57.0
"""Just over the highest air temperature on record, 56.7 degC (World Meteorological
Organization archive, unverified) [degC]."""
HOTTEST_MEAN_DEGC = 36.0
"""Just over the highest mean of a year, about 34.5 degC (unverified) [degC]."""
NIGHT_DEG = -6.0
BRIGHT_MONTH, IMPOSSIBLE_MONTH = 0.82, 0.90
"""Monthly clearness that is doubtful, and that no sky has; high ice reaches about 0.8
[fraction]."""
_NIGHT_LIGHT_W_M2 = 5.0
_STUCK_LIGHT_H = 4.0
_STUCK_TEMP_H = 48.0
_DARK_DAY = 0.008
_SHOWN = 4


def check_temperature_unit(values: Floats, name: str) -> None:
    """Refuse air temperatures that are plainly in another unit.

    Parameters
    ----------
    values
        As read, missing codes and all [degC].
    name
        The file, for messages [text].

    Raises
    ------
    DataError
        When most of the values are kelvin, Fahrenheit or tenths.
    """
    known = values[np.isfinite(values) & (np.abs(values) < 900.0)]
    if known.size < 24:
        return
    middle, high = float(np.median(known)), float(np.percentile(known, 99.5))
    low = float(np.percentile(known, 0.5))
    unit = ""
    if 200.0 < middle < 330.0 and low > 180.0:
        unit = "kelvin"
    elif high > 150.0 or low < -120.0:
        unit = "tenths of a degree"
    elif (
        high > HOTTEST_DEGC
        or (middle > HOTTEST_MEAN_DEGC and high > 50.0)
        or (middle > HOTTEST_MEAN_DEGC and known.size > 8000)
    ):
        unit = "degrees Fahrenheit"
    if unit:
        raise DataError(
            f"{name}: QC failed: ambient temperature is not in °C (median {middle:.0f}, "
            f"one hour in 200 above {high:.0f}); probably {unit}. Convert the column "
            "to °C"
        )


def check_light_scale(values: Floats, name: str) -> None:
    """Refuse global light that is far too strong to be W/m2.

    Parameters
    ----------
    values
        As read, missing codes and all [W/m2].
    name
        The file, for messages [text].

    Raises
    ------
    DataError
        When one hour in a hundred is brighter than the sun above the air.
    """
    known = values[np.isfinite(values) & (values < 9000.0)]
    if known.size < 24:
        return
    high = float(np.percentile(known, 99))
    if high > 1500.0:
        raise DataError(
            f"{name}: QC failed: one hour in 100 exceeds {in_unit(high, 'W/m²')} of GHI; "
            "extraterrestrial irradiance is about 1361. Probably kJ/m² per hour: "
            "divide by 3.6"
        )


def check_light_unit(record: WeatherRecord, path: SunPath) -> None:
    """Refuse global light that is far too weak to be W/m2.

    Parameters
    ----------
    record
        The weather [record].
    path
        Its sun.

    Raises
    ------
    DataError
        When the brightest hours hold under 5 % of the light above the air.
    """
    outside = path.extra_w_m2 * np.maximum(path.sine_of_height(), 0.0)
    high = outside > 300.0
    if high.sum() * record.step_h < 100.0:
        return
    bright = float(np.percentile(record.ghi_w_m2[high] / outside[high], 95))
    if bright >= 0.05:
        return
    if bright <= 0.0:
        raise DataError(
            f"{record.source}: GHI is zero in all rows; the column is empty"
        )
    raise DataError(
        f"{record.source}: GHI is too low for W/m²: its clearest hours have "
        f"{in_unit(100 * bright, '%', 2)} of extraterrestrial irradiance; clear skies "
        "reach about 75 "
        "%. Probably kWh/m² or MJ/m² per hour: multiply by 1000 (or 277.8)"
    )


def plausible_findings(
    record: WeatherRecord, path: SunPath, shift_min: float | Floats = 0.0
) -> list[Finding]:
    """Return remarks on night light, stuck values and days without light [list].

    Parameters
    ----------
    record
        The weather [record].
    path
        Its sun.
    shift_min
        Minutes by which the labels are off, allowed for at night [min].

    Returns
    -------
    list of Finding
        What is doubtful.

    Raises
    ------
    DataError
        When a month is brighter than any sky.
    """
    found = [
        _bright_months(record, path, shift_min),
        _night(record, path.sine_of_height(shift_min)),
        _stuck(record, record.ghi_w_m2, "GHI", _STUCK_LIGHT_H, 20.0),
        _stuck(
            record, record.temp_air_degc, "ambient temperature", _STUCK_TEMP_H, None
        ),
        _copied_days(record),
        _dark_days(record, path),
    ]
    return [finding for finding in found if finding is not None]


def _bright_months(
    record: WeatherRecord, path: SunPath, shift_min: float | Floats
) -> Finding | None:
    """Find months whose light is too large a part of that above the air."""
    outside = path.extra_w_m2 * np.maximum(path.sine_of_height(shift_min), 0.0)
    month = record.day_local.astype("datetime64[M]")
    labels, slot = np.unique(month, return_inverse=True)
    above, light = np.bincount(slot, outside), np.bincount(slot, record.ghi_w_m2)
    # A month of the polar night, or of a few days, says nothing.
    enough = above * record.step_h > 20_000.0
    index = np.where(enough, light / np.maximum(above, 1.0), 0.0)
    at = int(np.argmax(index))
    if index[at] <= BRIGHT_MONTH:
        return None
    when = (
        str(labels[at])
        if not record.typical_year
        else f"month {labels[at].astype(int) % 12 + 1}"
    )
    text = (
        f"{when} has a clearness index of {in_unit(100 * index[at], '%')}; the clearest months of "
        "QC-passed files have 75 to 80 %"
    )
    if index[at] <= IMPOSSIBLE_MONTH:
        return Finding("warning", f"{text}.")
    raise DataError(
        f"{record.source}: QC failed: {text}. Check unit, location, and labels"
    )


def _night(record: WeatherRecord, sine: Floats) -> Finding | None:
    dark = sine < np.sin(np.radians(NIGHT_DEG))
    # The sun at an interval's middle does not stand for its ends.
    bright = dark & (record.ghi_w_m2 > _NIGHT_LIGHT_W_M2)
    if bright.sum() <= max(2.0, 0.0005 * record.n):
        return None
    at = int(np.argmax(np.where(bright, record.ghi_w_m2, -1.0)))
    return Finding(
        "warning",
        f"{int(bright.sum())} intervals have irradiance with the sun more than "
        f"{-NIGHT_DEG:g}° below the horizon, maximum {in_unit(record.ghi_w_m2[at], 'W/m²')} "
        f"at {_when(record.start_local[at])} local standard time: instrument "
        "offset, or wrong labels.",
    )


def _runs_of_equal(values: Floats) -> tuple[Integers, Integers]:
    """Return where each run of equal values begins, and its length."""
    edges = np.flatnonzero(np.diff(values) != 0) + 1
    begins = np.concatenate([[0], edges]).astype(np.int64)
    return begins, np.diff(np.concatenate([begins, [values.size]])).astype(np.int64)


def _stuck(
    record: WeatherRecord, values: Floats, words: str, hours: float, above: float | None
) -> Finding | None:
    begins, length = _runs_of_equal(values)
    stuck = length * record.step_h >= hours
    if above is not None:
        stuck &= values[begins] > above
    if not stuck.any():
        return None
    shown = ", ".join(
        f"{_when(record.start_local[at])} for {n * record.step_h:g} h"
        for at, n in zip(begins[stuck][:_SHOWN], length[stuck][:_SHOWN], strict=True)
    )
    more = int(stuck.sum()) - _SHOWN
    tail = f" and {more} more" if more > 0 else ""
    return Finding(
        "warning",
        f"{words} is constant for {hours:g} h or longer {int(stuck.sum())} times: "
        f"{shown}{tail}. Cause: a stuck sensor or a filled gap.",
    )


def _copied_days(record: WeatherRecord) -> Finding | None:
    """Find days whose light is that of the day before, to the last digit."""
    per_day = round(24.0 / record.step_h)
    if record.n < 3 * per_day or record.hour_local[0] != 0.0:
        return None
    whole = record.n // per_day * per_day
    days = record.ghi_w_m2[:whole].reshape(-1, per_day)
    same = (days[1:] == days[:-1]).all(axis=1) & (days[1:].max(axis=1) > 50.0)
    if not same.any():
        return None
    dates = record.day_local[:whole:per_day][1:][same]
    return Finding(
        "warning",
        f"{count(dates.size, 'day')} with exactly the GHI of the day before: "
        f"{_listed(dates)}. Cause: gaps filled by copying.",
    )


def _dark_days(record: WeatherRecord, path: SunPath) -> Finding | None:
    """Find days with next to no light though the sun rose well."""
    day = record.day_number
    outside = np.bincount(day, path.extra_w_m2 * np.maximum(path.sine_of_height(), 0.0))
    light = np.bincount(day, record.ghi_w_m2)
    rows = np.bincount(day)
    dark = (
        (rows == round(24.0 / record.step_h))
        & (outside * record.step_h > 1500.0)
        & (light < _DARK_DAY * outside)
    )
    if not dark.any():
        return None
    first = record.day_local[0]
    dates = first + np.flatnonzero(dark).astype("timedelta64[D]")
    return Finding(
        "warning",
        f"{count(dates.size, 'day')} with less than "
        f"{in_unit(100 * _DARK_DAY, '%', 1)} of extraterrestrial "
        f"irradiation: {_listed(dates)}. Minimum in QC-passed files: 2 %. "
        "Probably gaps filled with zeros, which count as deficit days.",
    )


def _listed(dates: Times) -> str:
    more = f" and {dates.size - _SHOWN} more" if dates.size > _SHOWN else ""
    return ", ".join(str(date) for date in dates[:_SHOWN]) + more


def _when(moment: np.datetime64) -> str:
    return str(moment.astype("datetime64[m]")).replace("T", " ")
