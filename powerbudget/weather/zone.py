"""The local clock of a record: rows are rotated, the light is never shifted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from powerbudget.weather.record import (
    HOURS_PER_YEAR,
    SERIES,
    WeatherRecord,
    seconds,
)

LABEL_YEAR = 1990


def to_local_standard(record: WeatherRecord, utc_offset_h: float) -> WeatherRecord:
    """Return the record with its days counted in another standard time [record].

    Parameters
    ----------
    record
        The weather [record].
    utc_offset_h
        The wanted standard time less UTC [h].

    Returns
    -------
    WeatherRecord
        The same light at the same sun.  Real years keep every row; a typical year
        moves some rows from one end to the other, so that it still begins at local
        midnight on 1 January [record].
    """
    if utc_offset_h == record.utc_offset_h:
        return record
    if not record.typical_year:
        return replace(record, utc_offset_h=utc_offset_h)
    origin = np.datetime64(f"{LABEL_YEAR}-01-01T00:00:00")
    start_h = (record.start_utc - origin).astype(np.int64) / 3600.0 + utc_offset_h
    middle_h = (start_h + record.step_h / 2.0) % HOURS_PER_YEAR
    order = np.argsort(middle_h, kind="stable")
    first_local = origin + seconds(float(middle_h[order[0]]) - record.step_h / 2.0)
    start_local = first_local + np.arange(record.n) * seconds(record.step_h)
    albedo, snow = record.albedo_frac, record.snow_depth_m
    return replace(
        record,
        start_utc=start_local - seconds(utc_offset_h),
        utc_offset_h=utc_offset_h,
        albedo_frac=None if albedo is None else albedo[order],
        snow_depth_m=None if snow is None else snow[order],
        **{name: getattr(record, name)[order] for name in SERIES},
    )
