"""The door to the sky of a site: which source, then step, shortfall and design cold."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from powerbudget.errors import DataError, Fault, Finding, InputError
from powerbudget.quantities import count, in_unit
from powerbudget.weather import files
from powerbudget.weather.record import (
    SERIES,
    DesignTemps,
    Floats,
    Integers,
    WeatherRecord,
    seconds,
)

if TYPE_CHECKING:
    from powerbudget.site.tables import (
        DesignTemperatures,
        MonthlyFigures,
        Place,
        Weather,
    )
    from powerbudget.weather.synthesis import MonthlySky

Progress = Callable[[int, int], None]
SOURCES = ("record", "file", "monthly", "online")
_DARK_MONTHS = 3


def read_weather(
    weather: Weather,
    *,
    base: Path = Path(),
    site: Place | None = None,
    progress: Progress | None = None,
    fetch: bool = False,
) -> WeatherRecord:
    """Return the hourly sky that a site file asks for [record].

    Parameters
    ----------
    weather
        The ``[weather]`` table: a shipped record's name, a file (a pattern such as
        ``nsrdb/*.csv`` joins files of several years), monthly figures, or an online
        service whose answer has been fetched [table].
    base
        Folder of the site file; file names are taken from there [path].
    site
        The ``[site]`` table, for the distance to the record; needed for monthly
        figures and online services [table].
    progress
        Called with parts done and parts in all [count].
    fetch
        Whether the network may be used; it is not used otherwise [bool].

    Returns
    -------
    WeatherRecord
        The canonical form [record].

    Raises
    ------
    InputError
        When there is not exactly one source, or no such source.
    DataError
        When it cannot be read or cannot be true.
    """
    named = [key for key in SOURCES if getattr(weather, key) is not None]
    if len(named) != 1:
        raise InputError(
            Fault(
                where="weather",
                problem="needs either record or file, or monthly or online, one only",
                given=" and ".join(named) or "neither",
                allowed=f"record = one of {', '.join(files.RECORDS)}; file = a weather "
                "file; a table [weather.monthly]; or online = a service",
            )
        )
    record = _source(weather, Path(base), site, progress, fetch=fetch)
    if weather.step_h is not None:
        record = averaged(record, weather.step_h)
    if weather.winter_shortfall_frac:
        record = deepened(record, weather.winter_shortfall_frac)
    return _with_design(record, weather.design, Path(base))


def _source(
    weather: Weather,
    base: Path,
    site: Place | None,
    progress: Progress | None,
    *,
    fetch: bool,
) -> WeatherRecord:
    if weather.record is not None:
        record = files.read_record(weather.record)
    elif weather.file is not None:
        paths = files.record_paths(base, weather.file)
        if weather.csv is not None:
            from powerbudget.weather.logger_table import read_tables

            if site is None:
                raise InputError("your own csv file needs the [site] location")
            return read_tables(paths, weather.csv, site)
        record = files.read_files(paths, weather.format)
    else:
        if site is None:
            raise InputError(
                "monthly means and online weather need the [site] location"
            )
        if weather.monthly is not None:
            return from_monthly(weather.monthly, site, progress)
        from powerbudget.weather.online import online_record

        record = online_record(weather, site, fetch=fetch, progress=progress)
    return record if site is None else files.compare_place(record, site)


def from_monthly(
    table: MonthlyFigures, site: Place, progress: Progress | None = None
) -> WeatherRecord:
    """Return the hourly years that monthly figures make [record].

    Parameters
    ----------
    table, site
        ``[weather.monthly]`` and ``[site]`` [table].
    progress
        Called with years done and years in all [count].

    Returns
    -------
    WeatherRecord
        As `powerbudget.weather.synthesis.synthesise` [record].

    Raises
    ------
    InputError
        When there is not exactly one measure of the sun, or sun hours have no plane.
    DataError
        When a month has more sun than there can be.
    """
    from powerbudget.weather.synthesis import synthesise

    sky = sky_of_table(table, site)
    record = synthesise(sky, table.years, table.seed, progress)
    if table.design_minimum_degc is None:
        return record
    return replace(
        record,
        design=DesignTemps(
            annual_minimum_degc=table.design_minimum_degc, source=table.source
        ),
    )


def sky_of_table(table: MonthlyFigures, site: Place) -> MonthlySky:
    """Return the monthly figures of a site file as years are made from [sky].

    Parameters
    ----------
    table, site
        ``[weather.monthly]`` and ``[site]`` [table].

    Returns
    -------
    MonthlySky
        Place, clearness and temperatures by month [sky].

    Raises
    ------
    InputError
        When there is not exactly one measure of the sun, or sun hours have no plane.
    DataError
        When a month has more sun than there can be.
    """
    from powerbudget.weather.synthesis import MonthlySky

    zone = site.utc_offset_h
    if zone is None:
        zone = float(round(site.longitude_deg / 15.0))
    sky = MonthlySky(
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        elevation_m=site.elevation_m,
        utc_offset_h=zone,
        clearness=_clearness(table, site, zone),
        temperature_degc=np.array(table.temperature_degc),
        daily_range_k=np.array(table.daily_range_k),
        design_minimum_degc=table.design_minimum_degc,
        year_to_year_frac=None
        if table.year_to_year_frac is None
        else np.array(table.year_to_year_frac),
        wind_m_s=table.wind_m_s,
        source=table.source,
    )
    if table.sun_hours_h is None or table.plane_tilt_deg is None:
        return sky
    from powerbudget.weather.stated_plane import returning

    return returning(
        sky,
        np.array(table.sun_hours_h),
        plane_tilt_deg=table.plane_tilt_deg,
        albedo_frac=np.array(table.albedo_frac),
        years=table.years,
        seed=table.seed,
    )


def _clearness(table: MonthlyFigures, site: Place, zone_h: float) -> Floats:
    from powerbudget.weather import synthesis

    given = {
        "clearness": table.clearness,
        "ghi": table.ghi_kwh_m2_d,
        "sun_hours": table.sun_hours_h,
    }
    named = [key for key, value in given.items() if value is not None]
    if len(named) != 1:
        raise InputError(
            Fault(
                "weather.monthly", "needs exactly one measure of irradiation",
                " and ".join(named) or "none",
                "clearness (fractions), ghi (kWh/m2/d, horizontal), or sun_hours with "
"plane_tilt",
            )
        )  # fmt: skip
    if table.clearness is not None:
        return np.array(table.clearness)
    outside = synthesis.outside_monthly_kwh_m2_d(
        site.latitude_deg, site.longitude_deg, zone_h
    )
    if table.ghi_kwh_m2_d is not None:
        return synthesis.clearness_from_ghi(np.array(table.ghi_kwh_m2_d), outside)
    if table.plane_tilt_deg is None:
        raise InputError(
            Fault(
                "weather.monthly.plane_tilt",
                "is missing: sun hours need the plane that they apply to",
                allowed='"0 deg" for horizontal, "60 deg", ...; the plane faces the equator',
            )
        )
    ghi = synthesis.ghi_from_sun_hours(
        np.array(table.sun_hours_h),
        latitude_deg=site.latitude_deg,
        plane_tilt_deg=table.plane_tilt_deg,
        albedo_frac=np.array(table.albedo_frac),
    )
    return np.minimum(synthesis.clearness_from_ghi(ghi, np.maximum(outside, ghi)), 0.85)


def averaged(record: WeatherRecord, step_h: float) -> WeatherRecord:
    """Return the record at a longer step, energy kept [record].

    Parameters
    ----------
    record
        The weather [record].
    step_h
        Wanted length of the interval, a whole multiple of the record's [h].

    Returns
    -------
    WeatherRecord
        Means over the longer interval; rows that do not fill one are left out and
        counted [record].

    Raises
    ------
    DataError
        When the wanted step is shorter, or no multiple.
    """
    rows = step_h / record.step_h
    if abs(rows - round(rows)) > 1e-6 or rows < 1 - 1e-6:
        raise DataError(
            f"{record.source}: cannot be converted to an interval of {60 * step_h:g} "
            f"min from {60 * record.step_h:g} min; allowed: a whole multiple, up to 1 "
            "h"
        )
    each = round(rows)
    if each == 1:
        return record
    groups = _groups(record, each)
    lost = record.n - groups.size

    def mean(values: Floats | None) -> Floats | None:
        return None if values is None else values[groups].mean(axis=1)

    text = (
        f"Averaged from {60 * record.step_h:g} to {60 * step_h:g} min"
        + (f"; {count(lost, 'row')} at the edges of gaps not used" if lost else "")
        + "."
    )
    series = {name: getattr(record, name)[groups].mean(axis=1) for name in SERIES}
    return replace(
        record,
        start_utc=record.start_utc[groups[:, 0]],
        step_h=step_h,
        sun_offset_h=step_h / 2.0,
        albedo_frac=mean(record.albedo_frac),
        snow_depth_m=mean(record.snow_depth_m),
        findings=(*record.findings, Finding("note", text)),
        **series,
    )


def _groups(record: WeatherRecord, count: int) -> Integers:
    """Return row numbers of full groups, none across a gap."""
    step = seconds(record.step_h)
    breaks = np.flatnonzero(np.diff(record.start_utc) != step) + 1
    edges = [0, *breaks.tolist(), record.n]
    parts = []
    for first, last in pairwise(edges):
        whole = (last - first) // count * count
        parts.append(np.arange(first, first + whole).reshape(-1, count))
    return np.concatenate(parts).astype(np.int64)


def deepened(record: WeatherRecord, shortfall_frac: float) -> WeatherRecord:
    """Return the record with its darkest months darker by a stated share [record].

    Parameters
    ----------
    record
        The weather, usually a typical year [record].
    shortfall_frac
        Share of the light that is taken away there [fraction].

    Returns
    -------
    WeatherRecord
        Three months hold that much less; the beam goes first, as in dull weather
        [record].

    Notes
    -----
    A typical year hides bad winters.  At one pixel in north-west Colorado the worst
    month of a real year lay 23 % under that of the typical year; eighteen years at
    39 N spread by 19 % in December.
    """
    from powerbudget.site.fields import MONTHS
    from powerbudget.weather.summary import monthly_means

    months = sorted(monthly_means(record), key=lambda row: row.ghi_kwh_m2_day)
    dark = sorted(row.month for row in months[:_DARK_MONTHS])
    inside = np.isin(record.month, dark)
    kept = np.where(inside, 1.0 - shortfall_frac, 1.0)
    ghi = record.ghi_w_m2 * kept
    beam = np.maximum(record.ghi_w_m2 - record.dhi_w_m2, 0.0)
    left = np.maximum(beam - (record.ghi_w_m2 - ghi), 0.0)
    share = np.where(beam > 0, left / np.where(beam > 0, beam, 1.0), 0.0)
    names = ", ".join(MONTHS[month - 1] for month in dark)
    text = (
        f"Winter derating: irradiation in {names} is reduced by "
        f"{in_unit(100 * shortfall_frac, '%')} (assumed, not measured)."
    )
    return replace(
        record,
        ghi_w_m2=ghi,
        dni_w_m2=np.where(inside, record.dni_w_m2 * share, record.dni_w_m2),
        dhi_w_m2=np.where(inside, np.minimum(record.dhi_w_m2, ghi), record.dhi_w_m2),
        source=f"{record.source}, winter derating {in_unit(100 * shortfall_frac, '%')}",
        findings=(*record.findings, Finding("warning", text)),
    )


def _with_design(
    record: WeatherRecord, table: DesignTemperatures | None, base: Path
) -> WeatherRecord:
    from powerbudget.weather.design import design_findings, read_design

    known = record.design
    if table is not None:
        known = read_design(base / table.file) if table.file else DesignTemps()
        typed = {
            key: value
            for key in (
                "annual_minimum_degc",
                "minimum_50_years_degc",
                "heating_99_6_degc",
                "annual_maximum_degc",
            )
            if (value := getattr(table, key)) is not None
        }
        if typed:
            source = table.source or "typed in the site file"
            both = f"{known.source}; {source}" if known.source else source
            known = replace(known, source=both, **typed)
        low, lower = known.annual_minimum_degc, known.minimum_50_years_degc
        if not math.isnan(low) and not math.isnan(lower) and lower > low:
            raise InputError(
                Fault(
                    "weather.design.minimum_50_years",
                    "is warmer than annual_minimum",
                    f"{lower:g} °C",
                    f"at most {low:g} °C",
                )
            )
    record = replace(record, design=known)
    return replace(record, findings=record.findings + design_findings(record))
