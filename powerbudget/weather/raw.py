"""What a weather file says, before it is made into a record."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from powerbudget.errors import DataError, Finding
from powerbudget.quantities import count
from powerbudget.weather.record import DesignTemps, Floats, Integers, Times

_YEAR_ROWS_H = 8784.0
_LONGEST_OVERLAP_H = 31.0 * 24.0


@dataclass(frozen=True, eq=False)
class RawTable:
    """Rows of one file with its own stamps, and what those stamps mean.

    Parameters
    ----------
    name
        The file, for messages [text].
    source
        What the record will say about where it came from [text].
    label
        What the stamps mean [text].
    latitude_deg, longitude_deg
        Place [deg].
    elevation_m
        Height above sea level [m].
    clock_offset_h
        The clock of the stamps less UTC [h].
    utc_offset_h
        Local standard time less UTC [h].
    stamp
        The stamps as written, in the clock of the file [datetime64].
    start_shift_h
        From a stamp to the start of its interval [h].
    sun_offset_h
        From the start of an interval to the sun that stands for it, NaN for the
        middle [h].
    columns
        ``ghi dni dhi temp_air wind_speed albedo``, as far as present [W/m2, degC,
        m/s, fraction].
    typical
        True for a typical year [bool].
    findings
        Remarks of the reader [list].
    design
        Extreme temperatures that the file's head carries.
    """

    name: str
    source: str
    label: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    clock_offset_h: float
    utc_offset_h: float
    stamp: Times
    start_shift_h: float
    sun_offset_h: float
    columns: dict[str, Floats]
    typical: bool
    findings: tuple[Finding, ...] = ()
    design: DesignTemps | None = None

    @property
    def step_h(self) -> float:
        """Length of the interval [h]."""
        return step_of(self.stamp, self.name)


def step_of(stamp: Times, name: str) -> float:
    """Return the usual distance between two rows [h].

    Parameters
    ----------
    stamp
        Stamps as written; a typical year may jump between months [datetime64].
    name
        The file, for messages [text].

    Returns
    -------
    float
        The step [h].

    Raises
    ------
    DataError
        When there are too few rows, or the step does not divide an hour.
    """
    if stamp.size < 24:
        raise DataError(
            f"{name}: has {stamp.size} rows of data; a weather file needs at least "
            "one whole day, and one whole year for sizing"
        )
    step_s = float(np.median(np.diff(stamp).astype("timedelta64[s]").astype(np.int64)))
    if step_s <= 0 or 3600 % step_s:
        raise DataError(
            f"{name}: its rows are {step_s / 3600:g} h apart; allowed: 1 h, or a "
            "whole part of an hour such as 30 or 15 min"
        )
    return step_s / 3600.0


def stamps(
    year: Integers, month: Integers, day: Integers, since_midnight_h: Floats
) -> Times:
    """Return dates and hours of the day as moments, 24:00 on the same day [datetime64].

    Parameters
    ----------
    year, month, day
        The date [count].
    since_midnight_h
        Hours since 00:00 [h].

    Returns
    -------
    numpy.ndarray
        The moments [datetime64].
    """
    first: Times = ((year - 1970) * 12 + (month - 1)).astype("datetime64[M]")
    dates: Times = first.astype("datetime64[D]") + (day - 1).astype("timedelta64[D]")
    whole_s = np.round(since_midnight_h * 3600.0).astype(np.int64)
    moments: Times = dates.astype("datetime64[s]") + whole_s.astype("timedelta64[s]")
    return moments


def mixes_years(stamp: Times, step_h: float) -> bool:
    """Return whether one year of rows carries several calendar years [bool].

    Parameters
    ----------
    stamp
        Stamps as written [datetime64].
    step_h
        Length of the interval [h].

    Returns
    -------
    bool
        True for the make-up of a typical year [bool].
    """
    # A stamp at the end of its interval may say 1 January of the year after.
    years = np.unique((stamp - np.timedelta64(1, "s")).astype("datetime64[Y]"))
    starts_elsewhere = years.size > 1 and np.any(np.diff(stamp).astype(np.int64) < 0)
    return bool(
        years.size > 1
        and stamp.size * step_h <= _YEAR_ROWS_H
        and (starts_elsewhere or years.size > 2)
    )


def one_step(tables: list[RawTable]) -> list[RawTable]:
    """Return tables of one step, finer ones averaged to the coarsest [tables].

    Parameters
    ----------
    tables
        Files of one place [table].

    Returns
    -------
    list of RawTable
        Unchanged when their steps agree [table].
    """
    steps = [table.step_h for table in tables]
    coarsest = max(steps)
    if min(steps) == coarsest:
        return tables
    return [
        table if step == coarsest else coarser(table, round(coarsest / step))
        for table, step in zip(tables, steps, strict=True)
    ]


def coarser(table: RawTable, rows: int) -> RawTable:
    """Return a table with so many rows averaged into one, energy kept [table].

    Parameters
    ----------
    table
        Rows at a regular step [table].
    rows
        Rows that become one [count].

    Returns
    -------
    RawTable
        Stamps at the start of the longer interval [table].
    """
    whole = table.stamp.size // rows * rows
    start = table.stamp + np.timedelta64(round(table.start_shift_h * 3600), "s")
    remark = Finding(
        "note",
        f"{table.name} has a shorter interval than the other files; {rows} rows "
        "of it are averaged into one.",
    )
    return replace(
        table,
        stamp=start[:whole:rows],
        start_shift_h=0.0,
        sun_offset_h=float("nan"),
        columns={
            name: values[:whole].reshape(-1, rows).mean(axis=1)
            for name, values in table.columns.items()
        },
        findings=(*table.findings, remark),
    )


def repeats(
    table: RawTable, slot: Integers, order: Integers
) -> tuple[Integers, tuple[Finding, ...]]:
    """Return which rows to keep where files overlap with the same values [count].

    Parameters
    ----------
    table
        All rows [table].
    slot, order
        Place of each row on the axis, in order, and its row of the table [count].

    Returns
    -------
    tuple
        Positions to keep, and a note; rows that differ are all kept, to be refused
        [count].
    """
    double = np.flatnonzero(np.diff(slot) == 0) + 1
    here, before = order[double], order[double - 1]
    same = np.ones(double.size, dtype=bool)
    for values in table.columns.values():
        one, two = values[here], values[before]
        same &= (one == two) | (np.isnan(one) & np.isnan(two))
    # A month is an overlap of two downloads; more is one file given twice.
    longest = _LONGEST_OVERLAP_H / table.step_h
    if not double.size or not same.all() or double.size > longest:
        return np.arange(slot.size), ()
    keep = np.delete(np.arange(slot.size), double)
    first = str(table.stamp[here[0]].astype("datetime64[m]")).replace("T", " ")
    text = (
        f"{count(double.size, 'row')} found twice with equal values, from {first} by the "
        "clock of the file; each is used once."
    )
    return keep, (Finding("note", text),)
