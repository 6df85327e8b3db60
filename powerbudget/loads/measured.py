"""A load as a logger saw it: mean, hours of the day, highest sample, and the gaps."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from powerbudget.errors import Fault, Finding, InputError
from powerbudget.lists.cells import (
    Row,
    Value,
    column_letter,
    likely_sheet,
    read_book,
    sheet_named,
)
from powerbudget.quantities import QuantityError, in_unit, parse, plain
from powerbudget.site.load import Measured

Floats = NDArray[np.float64]

SHORTEST_H = 24.0
"""Log that shows a whole day; shorter ones are flagged (common practice) [h]."""
MOST_FAULTS = 100
_TIME = re.compile(r"time|date|stamp|zeit|datum|heure|hora|fecha", re.IGNORECASE)
_BRACKET = re.compile(r"[\[(]\s*([^\])]+?)\s*[\])]\s*$")
_TAIL = re.compile(r"[_ ](uA|mA|A|mW|W|kW|ma|w|a|kw)$")
_NAMES = {"w": "W", "a": "A", "ma": "mA", "kw": "kW"}
_MISSING = {"nan", "na", "n/a", "null", "none", "-", "#n/a", "nodata", "no data"}
_SERIAL = re.compile(r"^\d{5}(?:[.,]\d+)?$")
_COMMA = re.compile(r"^[+-]?\d+,\d+$")


@dataclass(frozen=True)
class Grid:
    """Rows of the sheet that holds a log.

    Parameters
    ----------
    path
        The file they came from.
    rows
        Cells by row.
    """

    path: Path
    rows: list[Row]


@dataclass(frozen=True)
class Log:
    """What a logged file says about a load.

    Parameters
    ----------
    unit
        ``W`` or ``A`` [text].
    mean, highest
        Mean of all samples and highest sample [the unit].
    profile
        Mean by month and clock hour over the mean, shape (12, 24) [fraction].
    hours, interval_s
        Time that samples cover, and between two of them [h, s].
    gaps
        Start and length of every gap; none is filled [text, h].
    first, last
        First and last stamp [text].
    basis
        All that in one sentence [text].
    findings
        What a careful reader would ask.
    """

    unit: str
    mean: float
    highest: float
    profile: Floats
    hours: float
    interval_s: float
    gaps: tuple[tuple[str, float], ...]
    first: str
    last: str
    basis: str
    findings: tuple[Finding, ...]


def read_log(
    measured: Measured, folder: Path, name: str, utc_offset_h: float | None
) -> Log:
    """Read a logged current or power and refuse it with every fault, or return it.

    Parameters
    ----------
    measured
        The site file's table.
    folder
        Against which the file's path is read [path].
    name
        The load line, for messages [text].
    utc_offset_h
        Site's standard time less UTC, for stamps with a zone [h].

    Returns
    -------
    Log
        Mean, profile and gaps.

    Raises
    ------
    InputError
        With row and column of what cannot be used.
    """
    path = folder / (measured.file or "")
    grid = _read_grid(path, measured)
    head, first = _header(grid, measured)
    time_at = _time_column(grid, head, measured)
    value_at, unit, first = _value_column(grid, head, first, time_at, measured)
    stamps, values = _samples(grid, first, (time_at, value_at), measured, utc_offset_h)
    return _summary(stamps, values, unit, measured, name)


def _read_grid(path: Path, measured: Measured) -> Grid:
    book = read_book(path, measured.encoding)
    name = measured.sheet
    sheet = likely_sheet(book, _score) if name is None else sheet_named(book, name)
    return Grid(path, sheet.rows)


def _score(rows: Sequence[Row]) -> int:
    for row in rows[:20]:
        texts = [c for c in row if isinstance(c, str)]
        if len(texts) > 1 and _TIME.search(texts[0]):
            return len(row)
    return 0


# --- header ---------------------------------------------------------------------


def _fail(grid: Grid, where: str, problem: str, *rest: str) -> InputError:
    given, allowed, advice = (*rest, "", "", "")[:3]
    return InputError(Fault(where, problem, given, allowed, advice, str(grid.path)))


def _header(grid: Grid, measured: Measured) -> tuple[Row, int]:
    wanted = {measured.column, measured.time_column} - {None}
    for index, row in enumerate(grid.rows[:20]):
        texts = [c for c in row if isinstance(c, str)]
        if wanted and wanted <= set(texts):
            return row, index + 1
        if not wanted and len(texts) > 1 and any(_TIME.search(t) for t in texts):
            return row, index + 1
    seen = str(grid.rows[0]) if grid.rows else ""
    hint = "was it saved with semicolons?" if ";" in seen else ""
    raise _fail(
        grid,
        "header",
        "no row names a time column and the column wanted",
        "",
        "heads such as 'time' and 'current [mA]'",
        hint,
    )


def _time_column(grid: Grid, head: Row, measured: Measured) -> int:
    for index, cell in enumerate(head):
        if cell == measured.time_column or (
            measured.time_column is None
            and isinstance(cell, str)
            and _TIME.search(cell)
        ):
            return index
    raise _fail(grid, "header", "no time column", ", ".join(str(c) for c in head if c))


def _unit_of(cell: Value) -> str:
    if not isinstance(cell, str):
        return ""
    match = _BRACKET.search(cell) or _TAIL.search(cell)
    return _NAMES.get(match.group(1), match.group(1)) if match else ""


def _kind(unit: str) -> str:
    for target in ("W", "A"):
        try:
            parse(f"1 {unit}", target)
        except QuantityError:
            continue
        return target
    return ""


def _value_column(
    grid: Grid, head: Row, first: int, time_at: int, measured: Measured
) -> tuple[int, str, int]:
    """Return the column, its unit, and where samples begin."""
    units = [_unit_of(cell) for cell in head]
    below = grid.rows[first] if first < len(grid.rows) else []
    cell = below[time_at] if time_at < len(below) else None
    if cell is None or (isinstance(cell, str) and not re.search(r"\d", cell)):
        first += 1
        for index, text in enumerate(below[: len(units)]):
            if not units[index] and isinstance(text, str):
                units[index] = text.strip("[]() ")
    usable = [i for i, unit in enumerate(units) if i != time_at and _kind(unit)]
    if measured.column is not None:
        if measured.column not in head:
            raise _fail(
                grid,
                "header",
                "no such column",
                measured.column,
                ", ".join(str(c) for c in head if c),
            )
        usable = [head.index(measured.column)]
    if len(usable) != 1:
        heads = ", ".join(str(c) for c in head if c)
        what = "several columns could be meant" if usable else "no column has a unit"
        raise _fail(
            grid,
            "header",
            what,
            heads,
            "a head such as 'current [mA]'",
            "name it: column = '...'",
        )
    unit = units[usable[0]]
    if not _kind(unit):
        raise _fail(
            grid,
            f"column {column_letter(usable[0])}",
            "has no unit of power or current",
            str(head[usable[0]]),
            "'power [W]', 'current [mA]'",
        )
    return usable[0], unit, first


# --- samples --------------------------------------------------------------------


def _samples(
    grid: Grid,
    first: int,
    columns: tuple[int, int],
    measured: Measured,
    utc_offset_h: float | None,
) -> tuple[list[datetime], list[float]]:
    stamps: list[datetime] = []
    values: list[float] = []
    faults: list[Fault] = []
    comma = measured.decimal == "comma"
    for number, row in enumerate(grid.rows[first:], start=first + 1):
        if all(cell is None for cell in row):
            continue
        try:
            stamp = _stamp(row, columns[0], measured, utc_offset_h)
            if stamps and stamp <= stamps[-1]:
                raise ValueError(  # noqa: TRY301 - told with row and column below
                    f"time|does not come after the row before: {stamp}; a clock with "
                    "summer time repeats an hour: log in standard time"
                )
            value = _value(row, columns[1], comma=comma)
        except ValueError as exc:
            which, _, text = str(exc).partition("|")
            column = column_letter(columns[0] if which == "time" else columns[1])
            faults.append(
                Fault(f"row {number}, column {column}", text, file=str(grid.path))
            )
            if len(faults) >= MOST_FAULTS:
                break
            continue
        stamps.append(stamp)
        values.append(value)
    if faults:
        raise InputError(faults)
    if sum(not math.isnan(v) for v in values) < 2:
        raise _fail(grid, "file", "holds fewer than two samples")
    return stamps, values


def _stamp(
    row: Row, at: int, measured: Measured, utc_offset_h: float | None
) -> datetime:
    cell = row[at] if at < len(row) else None
    if isinstance(cell, float) or (isinstance(cell, str) and _SERIAL.match(cell)):
        raise ValueError(
            f"time|{cell} is a number, such as a spreadsheet's day count; write dates "
            "as 2026-01-31 13:00"
        )
    try:
        if isinstance(cell, datetime):
            stamp = cell
        elif measured.time_format:
            stamp = datetime.strptime(str(cell), measured.time_format)  # noqa: DTZ007
        else:
            stamp = datetime.fromisoformat(str(cell).replace("/", "?"))
    except ValueError:
        raise ValueError(
            f"time|{cell!r} is not a time; allowed: 2026-01-31 13:00, or state "
            "time_format = '%d.%m.%Y %H:%M'"
        ) from None
    if stamp.tzinfo is not None:
        if utc_offset_h is None:
            raise ValueError("time|has a zone, but the site has no time_zone")
        offset = stamp.utcoffset() or timedelta(0)
        stamp = stamp.replace(tzinfo=None) - offset + timedelta(hours=utc_offset_h)
    return stamp


def _value(row: Row, at: int, *, comma: bool) -> float:
    cell = row[at] if at < len(row) else None
    if cell is None or (isinstance(cell, str) and cell.lower() in _MISSING):
        return math.nan
    if isinstance(cell, str):
        if _COMMA.match(cell) and not comma:
            raise ValueError(
                f"value|{cell!r} has a comma; use a point, or state decimal = 'comma'"
            )
        cell = (
            cell.replace(".", "").replace(",", ".") if comma and "," in cell else cell
        )
    if isinstance(cell, bool | datetime):
        raise ValueError(f"value|{cell} is not a number")  # noqa: TRY004 - told with its row
    try:
        value = float(cell)
    except ValueError:
        raise ValueError(f"value|{cell!r} is not a number") from None
    if math.isinf(value) or value < 0:
        raise ValueError(
            f"value|{value:g} is not a draw; allowed: 0 or more. Leave charging "
            "currents out, or turn the sensor's sign"
        )
    return value


# --- what it says ---------------------------------------------------------------


def _summary(
    stamps: list[datetime],
    values: list[float],
    unit: str,
    measured: Measured,
    name: str,
) -> Log:
    target = _kind(unit)
    known = ~np.isnan(np.array(values))
    scale = parse(f"1 {unit}", target)
    samples = np.array(values)[known] * scale
    times = np.array(stamps, dtype="datetime64[s]")
    steps = np.diff(times).astype(float)
    interval_s = measured.interval_s or float(np.median(steps))
    starts = times if measured.label == "start" else times - _seconds(interval_s)
    starts = starts[known]
    gaps = _gaps(starts, interval_s)
    mean = float(samples.mean())
    hours = samples.size * interval_s / 3600
    profile, whole = _profile(starts, samples, mean)
    first, last = str(starts[0]), str(starts[-1])
    basis = (
        f"logged {first} to {last}, every {interval_s:g} s, {in_unit(hours, 'h', 1)}, "
        f"{len(gaps)} gaps of {in_unit(sum(g[1] for g in gaps), 'h', 1)} not filled"
    )
    found = _asked(name, hours, gaps, measured, whole=whole)
    return Log(
        target,
        mean,
        float(samples.max()),
        profile,
        hours,
        interval_s,
        tuple(gaps),
        first,
        last,
        basis,
        tuple(found),
    )


def _seconds(seconds: float) -> np.timedelta64:
    return np.timedelta64(round(seconds), "s")


def _gaps(starts: NDArray[np.datetime64], interval_s: float) -> list[tuple[str, float]]:
    """Return where samples are missing: a longer step is a gap, never stretched."""
    steps = np.diff(starts).astype(float)
    return [
        (str(starts[k] + _seconds(interval_s)), float(steps[k] - interval_s) / 3600)
        for k in np.flatnonzero(steps > 1.5 * interval_s)
    ]


def _profile(
    starts: NDArray[np.datetime64], samples: Floats, mean: float
) -> tuple[Floats, bool]:
    """Return the mean by month and clock hour over the mean, and if all hours show."""
    day = starts.astype("datetime64[D]")
    hour = ((starts - day).astype(np.int64) // 3600) % 24
    month = starts.astype("datetime64[M]").astype(np.int64) % 12
    if not mean:
        return np.ones((12, 24)), True
    by_month = np.unique(month).size == 12
    rows = month if by_month else np.zeros_like(month)
    total, count = np.zeros((12, 24)), np.zeros((12, 24))
    np.add.at(total, (rows, hour), samples)
    np.add.at(count, (rows, hour), 1.0)
    with np.errstate(invalid="ignore"):
        table = np.where(count > 0, total / count, mean) / mean
    if not by_month:
        # An hour without samples takes the mean; the day's mean stays that of the log.
        table = np.tile(table[0] / table[0].mean(), (12, 1))
    seen = count > 0
    return table, bool(seen.all() if by_month else seen[0].all())


def _asked(
    name: str,
    hours: float,
    gaps: list[tuple[str, float]],
    measured: Measured,
    *,
    whole: bool,
) -> list[Finding]:
    found = []
    if hours < SHORTEST_H:
        found.append(
            Finding(
                "warning",
                f"{name!r} was logged for {in_unit(hours, 'h', 1)} only; log a whole "
                "day or more to "
                "include daily events.",
            )
        )
    if gaps:
        shown = ", ".join(
            f"{start} for {plain(length, 3, 'h')}" for start, length in gaps[:4]
        )
        more = f" and {len(gaps) - 4} more" if len(gaps) > 4 else ""
        found.append(
            Finding("note", f"{name!r}: gaps in the log, not filled: {shown}{more}.")
        )
    if not whole:
        found.append(
            Finding(
                "note",
                f"{name!r}: some clock hours have no sample; the mean of the log is used "
                "there.",
            )
        )
    if not measured.method:
        found.append(
            Finding(
                "note",
                f"{name!r}: state how it was measured: method = 'shunt and "
                "logger', with the sampling time of the meter.",
            )
        )
    return found
