"""From the rows of one file, or several years of files, to one record.

Rows are put on a regular axis in UTC, missing codes become gaps, short gaps are
filled and counted, long ones refused with a list.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from powerbudget.errors import DataError, Finding
from powerbudget.quantities import count, in_unit
from powerbudget.weather.plausible import check_light_scale, check_temperature_unit
from powerbudget.weather.raw import RawTable, one_step, repeats
from powerbudget.weather.record import (
    HOURS_PER_YEAR,
    Floats,
    Integers,
    Times,
    WeatherRecord,
    seconds,
)
from powerbudget.weather.runs import runs_of
from powerbudget.weather.zone import LABEL_YEAR

LONGEST_FILL_H = 3.0
LONGEST_STRAY_H = 12.0
STILL_WIND_M_S = 1.0
_NEEDED = {
    "ghi": "global horizontal irradiance",
    "dni": "direct normal irradiance",
    "dhi": "diffuse horizontal irradiance",
    "temp_air": "ambient temperature",
}
# Missing codes differ by format (9999, -9900, 99.9, 999); none is a possible value,
# so one range per quantity serves all.  Lowest and highest air temperatures on record
# are -89.2 and 56.7 degC (World Meteorological Organization archive, unverified).
_POSSIBLE = {
    "ghi": (-100.0, 3000.0),
    "dni": (-100.0, 3000.0),
    "dhi": (-100.0, 3000.0),
    "temp_air": (-95.0, 65.0),
    "wind_speed": (0.0, 90.0),
}
_SHOWN = 5
_MONTH_STARTS_D = np.cumsum([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30])


@dataclass(frozen=True, eq=False)
class _Axis:
    """The regular axis and the row of the file for each interval, -1 for none."""

    start_utc: Times
    row: Integers
    findings: tuple[Finding, ...] = ()


def join(tables: list[RawTable]) -> tuple[RawTable, Integers]:
    """Return the rows of several files of one place as one, and their file [table].

    Parameters
    ----------
    tables
        One per file, in any order [table].

    Returns
    -------
    tuple of RawTable and numpy.ndarray
        All rows in the order of time, and the number of the file of each [count].

    Raises
    ------
    DataError
        When the files differ in place, step or convention, or one is a typical year.
    """
    tables = one_step(sorted(tables, key=lambda table: table.stamp[0]))
    first = tables[0]
    block = np.repeat(np.arange(len(tables)), [t.stamp.size for t in tables])
    if len(tables) == 1:
        return first, block
    for table in tables:
        _check_alike(first, table)
    shared = set.intersection(*(set(t.columns) for t in tables))
    return (
        RawTable(
            name=f"{first.name} to {tables[-1].name}",
            source=f"{first.source} and {len(tables) - 1} more",
            label=first.label,
            latitude_deg=first.latitude_deg,
            longitude_deg=first.longitude_deg,
            elevation_m=first.elevation_m,
            clock_offset_h=first.clock_offset_h,
            utc_offset_h=first.utc_offset_h,
            stamp=np.concatenate([t.stamp for t in tables]),
            start_shift_h=first.start_shift_h,
            sun_offset_h=first.sun_offset_h,
            columns={
                k: np.concatenate([t.columns[k] for t in tables])
                for k in sorted(shared)
            },
            typical=False,
            findings=tuple(f for t in tables for f in t.findings),
        ),
        block,
    )


def _check_alike(first: RawTable, other: RawTable) -> None:
    if other.typical:
        raise DataError(
            f"{other.name}: is a typical year; only files of actual years can be joined"
        )
    for what, unit in (
        ("latitude_deg", "deg"), ("longitude_deg", "deg"), ("step_h", "h"),
        ("clock_offset_h", "h"), ("utc_offset_h", "h"), ("start_shift_h", "h"),
    ):  # fmt: skip
        one, two = getattr(first, what), getattr(other, what)
        if abs(one - two) > 0.01:
            raise DataError(
                f"{other.name}: {what.rsplit('_', 1)[0]} is {two:g} {unit} and "
                f"{first.name} has {one:g} {unit}; files read as one weather file must "
                "have one location and one type"
            )


def build(table: RawTable, block: Integers) -> WeatherRecord:
    """Return the record that a table of rows makes [record].

    Parameters
    ----------
    table
        The rows, from a reader or `join` [table].
    block
        Number of the file of each row [count].

    Returns
    -------
    WeatherRecord
        The canonical form [record].

    Raises
    ------
    DataError
        When a needed column is missing, rows double or do not fall on a regular
        axis, or a gap is longer than 3 h.
    """
    _check_columns(table)
    check_temperature_unit(table.columns["temp_air"], table.name)
    check_light_scale(table.columns["ghi"], table.name)
    axis = _typical_axis(table) if table.typical else _real_axis(table, block)
    findings = list(table.findings + axis.findings)
    local = axis.start_utc + seconds(table.utc_offset_h)
    columns = {
        name: np.where(axis.row >= 0, values[np.maximum(axis.row, 0)], np.nan)
        for name, values in table.columns.items()
    }
    albedo = _albedo(columns, findings)
    wind = _wind(columns, local, table, findings)
    needed = _needed(columns, local, table, findings)
    return WeatherRecord(
        start_utc=axis.start_utc,
        step_h=table.step_h,
        latitude_deg=table.latitude_deg,
        longitude_deg=table.longitude_deg,
        elevation_m=table.elevation_m,
        utc_offset_h=table.utc_offset_h,
        ghi_w_m2=needed["ghi"],
        dni_w_m2=needed["dni"],
        dhi_w_m2=needed["dhi"],
        temp_air_degc=needed["temp_air"],
        wind_speed_m_s=wind,
        albedo_frac=albedo,
        snow_depth_m=_snow_depth(columns),
        design=table.design,
        typical_year=table.typical,
        source=table.source,
        label=table.label,
        sun_offset_h=table.sun_offset_h,
        findings=tuple(findings),
    )


def _check_columns(table: RawTable) -> None:
    missing = [words for key, words in _NEEDED.items() if key not in table.columns]
    if missing:
        raise DataError(
            f"{table.name}: contains no {', no '.join(missing)}; a weather file needs "
            f"{', '.join(_NEEDED.values())}; download the file again with those "
            "columns"
        )
    rows = {values.size for values in table.columns.values()}
    if rows != {table.stamp.size}:
        raise DataError(
            f"{table.name}: {table.stamp.size} times for {min(rows)} rows of values; "
            "check for an unclosed quotation mark, or rows cut short"
        )
    if not (abs(table.latitude_deg) <= 90.0 and abs(table.longitude_deg) <= 180.0):
        raise DataError(
            f"{table.name}: its header places it at latitude {table.latitude_deg:g}, "
            f"longitude {table.longitude_deg:g}; allowed: -90 to 90 and -180 to 180 deg"
        )


def _typical_axis(table: RawTable) -> _Axis:
    """Lay the rows of a typical year on one year of 365 days, local midnight first."""
    step_h = table.step_h
    start = table.stamp + seconds(table.start_shift_h)
    dates = start.astype("datetime64[D]")
    months = dates.astype("datetime64[M]")
    month = months.astype(np.int64) % 12
    day = (dates - months).astype(np.int64)
    leap = (month == 1) & (day == 28)
    if leap.sum() * step_h < LONGEST_STRAY_H:
        # Not a day but the last hour of 28 February, stamped 1 March 00:00.
        day, leap = np.where(leap, 27, day), np.zeros_like(leap)
    past_midnight_h = (start - dates).astype(np.int64) / 3600.0
    hour = (_MONTH_STARTS_D[month] + day) * 24.0 + past_midnight_h
    middle_h = (
        hour + step_h / 2 + table.utc_offset_h - table.clock_offset_h
    ) % HOURS_PER_YEAR
    slot = np.floor(middle_h / step_h + 1e-6).astype(np.int64)
    phase_h = middle_h - slot * step_h
    keep = np.flatnonzero(~leap)
    _check_regular(table, np.ptp(phase_h[keep]) if keep.size else 0.0)
    row = np.full(round(HOURS_PER_YEAR / step_h), -1)
    _check_double(table, slot[keep], keep)
    row[slot[keep] % row.size] = keep
    origin = np.datetime64(f"{LABEL_YEAR}-01-01T00:00:00")
    first_local = origin + seconds(float(np.median(phase_h)) - step_h / 2)
    start_local = first_local + np.arange(row.size) * seconds(step_h)
    notes = [
        Finding(
            "note",
            f"29 February left out of the typical year ({count(leap.sum(), 'row')}).",
        )
    ]
    return _Axis(
        start_local - seconds(table.utc_offset_h), row, tuple(notes[: int(leap.any())])
    )


def _check_regular(table: RawTable, spread_h: float) -> None:
    if spread_h > 0.01:
        raise DataError(
            f"{table.name}: its rows are not {table.step_h:g} h apart (they shift by "
            f"up to {in_unit(spread_h * 60, 'min')})"
        )


def _check_double(table: RawTable, slot: Integers, rows: Integers) -> None:
    order = np.argsort(slot, kind="stable")
    double = np.flatnonzero(np.diff(slot[order]) == 0)
    if double.size:
        at = table.stamp[rows[order[double[0] + 1]]]
        raise DataError(
            f"{table.name}: {count(double.size, 'row')} with the time of another row, first at "
            f"{_when(at)} by the file's clock; each interval may be given once"
        )


def _real_axis(table: RawTable, block: Integers) -> _Axis:
    """Lay the rows of real years on a regular axis, whole-file gaps left out."""
    step = seconds(table.step_h)
    order = np.argsort(table.stamp, kind="stable")
    stamp, block = table.stamp[order], block[order]
    since = (stamp - stamp[0]).astype(np.int64)
    slot = np.round(since / step.astype(np.int64)).astype(np.int64)
    _check_regular(table, np.ptp(since - slot * step.astype(np.int64)) / 3600.0)
    keep, overlap = repeats(table, slot, order)
    order, stamp, block, slot = order[keep], stamp[keep], block[keep], slot[keep]
    _check_double(table, slot, order)
    jump = np.flatnonzero(np.diff(slot) > 1)
    missing = np.diff(slot)[jump] - 1
    opens = stamp[jump] + step
    is_leap = (missing * table.step_h == 24.0) & _is_29_february(opens)
    between = (block[jump] != block[jump + 1]) & ~is_leap
    inside = ~is_leap & ~between
    _refuse_long(table, opens[inside], missing[inside] * table.step_h)
    wanted = np.ones(int(slot[-1]) + 1, dtype=bool)
    for at in jump[is_leap | between]:
        wanted[slot[at] + 1 : slot[at + 1]] = False
    row = np.full(wanted.size, -1)
    row[slot] = order
    first_utc = stamp[0] + seconds(table.start_shift_h - table.clock_offset_h)
    start_utc = first_utc + np.arange(wanted.size) * step
    notes = overlap + _gap_findings(opens, missing * table.step_h, is_leap, between)
    return _Axis(start_utc[wanted], row[wanted], notes)


def _is_29_february(moment: Times) -> NDArray[np.bool_]:
    months = moment.astype("datetime64[M]")
    days = (moment.astype("datetime64[D]") - months).astype(np.int64)
    is_leap_day: NDArray[np.bool_] = (months.astype(np.int64) % 12 == 1) & (days == 28)
    return is_leap_day


def _refuse_long(table: RawTable, opens: Times, hours: Floats) -> None:
    long = hours > LONGEST_FILL_H
    if long.any():
        listed = _listed(opens[long], hours[long])
        raise DataError(
            f"{table.name}: {int(long.sum())} gaps of rows are longer than "
            f"{LONGEST_FILL_H:g} h: {listed} (clock of the file); allowed: gaps up to "
            f"{LONGEST_FILL_H:g} h, and a missing 29 February; fill or cut the file"
        )


def _listed(opens: Times, hours: Floats) -> str:
    shown = [
        f"{_when(moment)} for {span:g} h"
        for moment, span in zip(opens[:_SHOWN], hours[:_SHOWN], strict=True)
    ]
    more = f" and {opens.size - _SHOWN} more" if opens.size > _SHOWN else ""
    return ", ".join(shown) + more


def _when(moment: np.datetime64) -> str:
    return str(moment.astype("datetime64[m]")).replace("T", " ")


def _gap_findings(
    opens: Times,
    hours: Floats,
    is_leap: NDArray[np.bool_],
    between: NDArray[np.bool_],
) -> tuple[Finding, ...]:
    findings = []
    if is_leap.any():
        years = ", ".join(str(moment)[:4] for moment in opens[is_leap])
        findings.append(
            Finding(
                "note",
                f"No 29 February in {years}: the weather file continues from 28 February "
                "to 1 March.",
            )
        )
    if between.any():
        findings.append(
            Finding(
                "warning",
                f"The files are not consecutive: {_listed(opens[between], hours[between])} "
                "missing between them. The simulation joins the two sides.",
            )
        )
    return tuple(findings)


def _possible(values: Floats, name: str) -> Floats:
    """Return the values with missing codes and impossible ones as NaN."""
    low, high = _POSSIBLE[name]
    with np.errstate(invalid="ignore"):
        return np.where((values >= low) & (values <= high), values, np.nan)


def _albedo(columns: dict[str, Floats], findings: list[Finding]) -> Floats | None:
    albedo = columns.get("albedo")
    if albedo is None:
        return None
    good = (albedo >= 0.0) & (albedo <= 1.0)
    if good.all():
        return albedo
    findings.append(
        Finding(
            "note",
            f"Albedo is outside 0 to 1 in {int((~good).sum()):,} of {count(albedo.size, 'row')}; "
            "the column is not used.",
        )
    )
    return None


def _snow_depth(columns: dict[str, Floats]) -> Floats | None:
    """Return snow on the ground, None where the column is empty or a missing code."""
    depth_cm = columns.get("snow_depth")
    if depth_cm is None:
        return None
    # 999 marks a missing depth; a column of zeros in a cold place is one as well.
    good = (depth_cm >= 0.0) & (depth_cm < 900.0)
    if good.mean() < 0.9 or not np.any(depth_cm[good] > 0.0):
        return None
    at = np.arange(depth_cm.size)
    filled: Floats = np.interp(at, at[good], depth_cm[good]) / 100.0
    return filled


def _wind(
    columns: dict[str, Floats],
    local: Times,
    table: RawTable,
    findings: list[Finding],
) -> Floats:
    wind = columns.get("wind_speed", np.full(local.size, np.nan))
    wind, _ = _fill(_possible(wind, "wind_speed"), table.step_h)
    missing = np.isnan(wind)
    if missing.any():
        findings.append(
            Finding(
                "note",
                f"Wind speed is missing in {int(missing.sum()):,} of {count(wind.size, 'row')}: "
                f"{STILL_WIND_M_S:g} m/s assumed there, which keeps modules warm.",
            )
        )
    return np.where(missing, STILL_WIND_M_S, wind)


def _needed(
    columns: dict[str, Floats],
    local: Times,
    table: RawTable,
    findings: list[Finding],
) -> dict[str, Floats]:
    """Return irradiance and temperature without gaps, every change counted."""
    filled, counts, refused = {}, [], []
    for name, words in _NEEDED.items():
        values, count = _fill(_possible(columns[name], name), table.step_h)
        if np.isnan(values).any():
            opens, length = runs_of(np.isnan(values), ring=False)
            gaps = _listed(local[opens], length.astype(np.float64) * table.step_h)
            refused.append(f"{words}: {gaps}")
        if count:
            counts.append(f"{words} {count}")
        filled[name] = values
    if refused:
        raise DataError(
            f"{table.name}: missing or impossible values for longer than "
            f"{LONGEST_FILL_H:g} h at a time (local standard time): "
            f"{'; '.join(refused)}; fill the gaps from another source or use another "
            "year"
        )
    if counts:
        findings.append(
            Finding(
                "note",
                f"Gaps of up to {LONGEST_FILL_H:g} h were interpolated; rows filled: "
                f"{', '.join(counts)}.",
            )
        )
    _clip(filled, findings)
    return filled


def _clip(filled: dict[str, Floats], findings: list[Finding]) -> None:
    clipped = 0
    for name in ("ghi", "dni", "dhi"):
        clipped += int(np.count_nonzero(filled[name] < 0.0))
        # Adding zero turns the -0.0 that some services write at night into 0.0.
        filled[name] = np.maximum(filled[name], 0.0) + 0.0
    if clipped:
        findings.append(
            Finding(
                "note",
                f"{clipped} negative irradiance values were set to zero (instrument "
                "offset at night).",
            )
        )


def _fill(values: Floats, step_h: float) -> tuple[Floats, int]:
    """Return the values with runs of NaN up to 3 h bridged, and how many they were."""
    gaps = np.isnan(values)
    if not gaps.any() or gaps.all():
        return values, 0
    opens, length = runs_of(np.isnan(values), ring=False)
    short = length * step_h <= LONGEST_FILL_H
    fill = np.zeros(values.size, dtype=bool)
    for start, steps in zip(opens[short], length[short], strict=True):
        fill[start : start + steps] = True
    at = np.arange(values.size)
    bridged = np.interp(at, at[~gaps], values[~gaps])
    return np.where(fill, bridged, values), int(fill.sum())
