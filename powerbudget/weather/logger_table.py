"""A table of one's own: a logger's csv, its columns and labels named by the user."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from powerbudget.errors import DataError, Fault, Finding, InputError, nearest
from powerbudget.quantities import count
from powerbudget.weather.files import record_of, text_of
from powerbudget.weather.raw import RawTable, step_of
from powerbudget.weather.record import Floats, Times, WeatherRecord

if TYPE_CHECKING:
    from powerbudget.site.tables import CsvColumns, Place

_LOWEST_BEAM_SINE = 0.035
_BRIGHTEST_BEAM = 0.80
_LABEL_SHIFT = {"start": 0.0, "middle": -0.5, "end": -1.0}


def read_tables(paths: list[Path], columns: CsvColumns, site: Place) -> WeatherRecord:
    """Return the audited record in csv files of one's own [record].

    Parameters
    ----------
    paths
        One or several files of one place [path].
    columns
        ``[weather.csv]``: which column is what, and what a stamp means [table].
    site
        ``[site]``: the files name no place [table].

    Returns
    -------
    WeatherRecord
        As for any file; direct and diffuse light are split from global light by
        Erbs, Klein and Duffie (1982) where the files lack them [record].

    Raises
    ------
    InputError
        When a column is not there.
    DataError
        When rows cannot be read, or the record cannot be true.
    """
    tables = [_read(path, columns, site) for path in paths]
    split = columns.dni is None or columns.dhi is None
    if split:
        tables = [_with_split(table) for table in tables]
    record = record_of(tables)
    if not split:
        return record
    note = Finding(
        "note",
        "Direct and diffuse irradiance are split from GHI by a published "
        "correlation (Erbs, Klein, and Duffie 1982): error 5 to 10 % of a month "
        "on a steep module.",
    )
    return replace(record, findings=(*record.findings, note))


def _read(path: Path, columns: CsvColumns, site: Place) -> RawTable:
    frame = _frame(text_of(path), path.name)
    named = {
        "ghi": columns.ghi,
        "temp_air": columns.temp_air,
        "dni": columns.dni,
        "dhi": columns.dhi,
        "wind_speed": columns.wind_speed,
    }
    wanted = {key: name for key, name in named.items() if name is not None}
    for key, name in {"time": columns.time, **wanted}.items():
        if name not in frame.columns:
            # One column alone is no table: the line may be of any file.
            heads = [str(head) for head in frame.columns] if frame.shape[1] > 1 else []
            raise InputError(
                Fault(
                    f"weather.csv.{key}", "no column has that heading", name,
                    ", ".join(heads)[:300], nearest(name, heads),
                )
            )  # fmt: skip
    stamp = _stamps(frame[columns.time], columns.time_format, path.name)
    step_h = step_of(stamp, path.name)
    values = {
        key: _numbers(frame[name], columns, path.name) for key, name in wanted.items()
    }
    zone = columns.utc_offset_h
    return RawTable(
        name=path.name,
        source=f"csv file {path.name}",
        label=f"stamp at the {columns.label} of the interval, UTC{zone:+g}",
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        elevation_m=site.elevation_m,
        clock_offset_h=zone,
        utc_offset_h=zone if site.utc_offset_h is None else site.utc_offset_h,
        stamp=stamp,
        start_shift_h=_LABEL_SHIFT[columns.label] * step_h,
        sun_offset_h=float("nan"),
        columns=values,
        typical=False,
    )


def _frame(text: str, name: str) -> Any:
    import pandas as pd

    first, _, rest = text.partition("\n")
    if first.strip().lower().startswith("sep="):
        text, first = rest, rest.partition("\n")[0]
    semicolons = first.count(";") > first.count(",")
    tabs = first.count("\t") > first.count(",")
    try:
        frame = pd.read_csv(
            io.StringIO(text),
            sep=";" if semicolons else "\t" if tabs else ",",
            decimal="," if semicolons and "," in text else ".",
            low_memory=False,
            index_col=False,
        )
    except (ValueError, pd.errors.ParserError) as exc:
        raise DataError(
            f"{name}: cannot be read as a table: rows differ in the number of cells"
        ) from exc
    return frame.rename(columns=lambda head: str(head).strip())


def _stamps(column: Any, form: str | None, name: str) -> Times:
    import pandas as pd

    if form is None and pd.api.types.is_numeric_dtype(column):
        raise DataError(
            f"{name}: the time column has plain numbers ({column.iloc[0]:g}); use "
            "dates such as 2014-01-31 16:30, or time_format for another form. Format "
            "spreadsheet day numbers as dates first"
        )
    try:
        index = pd.to_datetime(column.astype(str), format=form or "ISO8601")
    except ValueError as exc:
        raise DataError(
            f"{name}: a date cannot be read{_row_of(exc)}; use dates such as "
            "2014-01-31 16:30 in one clock all year, or time_format"
        ) from exc
    if index.dt.tz is not None:
        index = index.dt.tz_localize(None)
    stamps: Times = index.to_numpy().astype("datetime64[s]")
    return stamps


def _row_of(exc: ValueError) -> str:
    place = re.search(r"at position (\d+)", str(exc))
    return f" in row {int(place.group(1)) + 2}" if place else ""


def _numbers(column: Any, columns: CsvColumns, name: str) -> Floats:
    import pandas as pd

    values = np.asarray(pd.to_numeric(column, errors="coerce"), dtype=np.float64)
    text = np.isnan(values) & column.notna().to_numpy()
    if text.mean() > 0.1:
        raise DataError(
            f"{name}: column {column.name} is text in {int(text.sum()):,} of "
            f"{count(text.size, 'row')}, first {column[text].iloc[0]!r}; "
            "check for a row of units or a decimal comma"
        )
    return np.where(np.isin(values, columns.missing), np.nan, values)


def _with_split(table: RawTable) -> RawTable:
    """Return the table with beam and diffuse light from global light."""
    from powerbudget.weather.hourly_clearness import erbs_diffuse_frac
    from powerbudget.weather.record import seconds
    from powerbudget.weather.sun import sun_position
    from powerbudget.weather.synthesis import bare_record

    start = table.stamp + seconds(table.start_shift_h - table.clock_offset_h)
    place = (
        table.latitude_deg, table.longitude_deg, table.elevation_m, table.utc_offset_h,
    )  # fmt: skip
    sun = sun_position(bare_record(start, table.step_h, place))
    sine = np.cos(np.radians(sun.zenith_deg))
    up = sine > _LOWEST_BEAM_SINE
    ghi = table.columns["ghi"]
    outside = sun.dni_extra_w_m2 * np.where(up, sine, 1.0)
    share = erbs_diffuse_frac(np.clip(ghi / outside, 0.0, 1.0))
    dni = np.where(up, ghi * (1.0 - share) / np.where(up, sine, 1.0), 0.0)
    dni = np.clip(dni, 0.0, _BRIGHTEST_BEAM * sun.dni_extra_w_m2)
    dhi = ghi - dni * np.where(up, sine, 0.0)
    return replace(table, columns={**table.columns, "dni": dni, "dhi": dhi})
