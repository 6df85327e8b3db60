"""Readers of the file formats, one function a format.

Each says what the format's stamps mean; nothing is shifted or filled here.
Station formats are read directly, because their labels must be kept as written;
web-service formats go through pvlib.
"""

from __future__ import annotations

import io
import json
import re
from collections.abc import Callable
from typing import Any

import numpy as np

from powerbudget.errors import DataError, Finding
from powerbudget.weather.design import design_from_epw
from powerbudget.weather.late_imports import pvlib_module
from powerbudget.weather.raw import RawTable, mixes_years, stamps, step_of
from powerbudget.weather.record import Floats

COLUMNS = ("ghi", "dni", "dhi", "temp_air", "wind_speed", "albedo")

FORMATS = {
    "epw": "EPW",
    "tmy2": "TMY2",
    "tmy3": "TMY3 csv",
    "nsrdb": "NSRDB csv (PSM3 or PSM4)",
    "pvgis-tmy": "PVGIS typical year (csv, json or epw)",
    "pvgis-hourly": "PVGIS hourly on a horizontal plane (csv or json)",
}
"""Format word -> what it is."""

_TYPICAL_WORDS = re.compile(r"TMY|IWEC|CWEC|SWERA|TRY|TYP", re.IGNORECASE)
_TMY2_HEADER = re.compile(
    r"^\s*\d{5}\s+(.+?)\s+[A-Z]{2}\s+(-?\d+)\s+([NS])\s*(\d+)\s+(\d+)"
    r"\s+([EW])\s*(\d+)\s+(\d+)\s+(-?\d+)\s*$"
)
# Marion, W. and Urban, K., "User's Manual for TMY2s", NREL/SP-463-7668, 1995,
# table 3-2: field positions from 1, both ends included.
_TMY2_FIELDS = {
    "year": (2, 3), "month": (4, 5), "day": (6, 7), "hour": (8, 9),
    "ghi": (18, 21), "dni": (24, 27), "dhi": (30, 33),
    "temp_air": (68, 71), "wind_speed": (96, 98),
}  # fmt: skip
# Wilcox, S. and Marion, W., "Users Manual for TMY3 Data Sets", NREL/TP-581-43156,
# 2008, table 1-2: the names of the columns.
_TMY3_NAMES = {
    "GHI (W/m^2)": "ghi", "DNI (W/m^2)": "dni", "DHI (W/m^2)": "dhi",
    "Dry-bulb (C)": "temp_air", "Wspd (m/s)": "wind_speed", "Alb (unitless)": "albedo",
}  # fmt: skip
# EnergyPlus documentation, "Auxiliary Programs", EPW data dictionary: column numbers
# from 0.
_EPW_FIELDS = {
    "year": 0, "month": 1, "day": 2, "hour": 3, "temp_air": 6,
    "ghi": 13, "dni": 14, "dhi": 15, "wind_speed": 21, "snow_depth": 30, "albedo": 32,
}  # fmt: skip
_OFFSET = re.compile(r"Irradiance Time Offset \(h\):\s*(-?[\d.]+)")
_NO_OFFSET = Finding(
    "note",
    ("The file has no irradiance time offset; the sun position is that of the stamp."),
)
_LOWEST_BEAM_DEG = 2.0


def sniff(text: str) -> str | None:
    """Return the format that a text looks like, None for no weather file [text].

    Parameters
    ----------
    text
        The whole file [text].

    Returns
    -------
    str or None
        A key of `FORMATS` [text].
    """
    head = text[:4000].lstrip()
    first, _, rest = head.partition("\n")
    if head.startswith("LOCATION,"):
        return "pvgis-tmy" if _OFFSET.search(head) else "epw"
    if head.startswith("{"):
        return _sniff_json(text)
    if head.startswith("Latitude (decimal degrees)"):
        return "pvgis-tmy" if "time(UTC)," in head else "pvgis-hourly"
    if first.startswith("Source,") and "Time Zone" in first:
        return "nsrdb"
    if rest.startswith("Date (MM/DD/YYYY),Time (HH:MM)"):
        return "tmy3"
    return "tmy2" if _TMY2_HEADER.match(first.rstrip()) else None


def _sniff_json(text: str) -> str | None:
    if '"tmy_hourly"' in text:
        return "pvgis-tmy"
    return "pvgis-hourly" if '"hourly"' in text[:8000] else None


def parse(text: str, fmt: str, name: str) -> RawTable:
    """Return the rows of one file of a known format [table].

    Parameters
    ----------
    text
        The whole file [text].
    fmt
        A key of `FORMATS` [text].
    name
        The file, for messages [text].

    Returns
    -------
    RawTable
        The rows as written [table].

    Raises
    ------
    DataError
        When the text does not hold what the format promises.
    """
    try:
        return _READERS[fmt](text, name)
    except DataError:
        raise
    except (ValueError, KeyError, IndexError, TypeError, AttributeError) as exc:
        raise DataError(
            f"{name}: cannot be read as {FORMATS[fmt]}: {_one_line(exc)}; the file may "
            "be cut short, edited or of another format"
        ) from exc


def _one_line(exc: Exception) -> str:
    """Return what is wrong without what stands in the file, which may be anything."""
    words = " ".join(str(exc).split()) or type(exc).__name__
    if isinstance(exc, KeyError):
        return f"no {words}"
    return re.sub(r"['\"].*['\"]", "...", words)[:200]


def _table(text: str, skip: int, columns: dict[str, int]) -> dict[str, Floats]:
    import pandas as pd

    frame = pd.read_csv(
        io.StringIO(text),
        header=None,
        skiprows=skip,
        usecols=sorted(columns.values()),
        low_memory=False,
    )
    return {
        name: frame[number].to_numpy(dtype=np.float64)
        for name, number in columns.items()
    }


def _calendar(table: dict[str, Floats], hour: Floats) -> Any:
    if not all(np.isfinite(table[key]).all() for key in ("year", "month", "day")):
        raise ValueError("a row has no date")
    dates = [table.pop(key).astype(np.int64) for key in ("year", "month", "day")]
    return stamps(dates[0], dates[1], dates[2], hour)


def _read_epw(text: str, name: str) -> RawTable:
    lines = text.splitlines()
    place = lines[0].split(",")
    header = [i for i, line in enumerate(lines[:60]) if line.startswith("DATA PERIODS")]
    if not header:
        raise DataError(
            f"{name}: EPW without its DATA PERIODS line; the file may be cut short"
        )
    per_hour = lines[header[0]].split(",")[2].strip()
    if per_hour != "1":
        raise DataError(
            f"{name}: EPW with {per_hour} rows per hour; only hourly EPW is supported"
        )
    table = _table(text, header[0] + 1, _EPW_FIELDS)
    stamp = _calendar(table, table.pop("hour"))
    offset = _OFFSET.search(text[:4000])
    typical = bool(
        offset or mixes_years(stamp, 1.0) or _TYPICAL_WORDS.search(",".join(place[4:6]))
    )
    zone_h = float(place[8])
    return RawTable(
        name=name,
        source=f"EPW file {name} ({place[1].strip()})",
        label="stamp at the end of the hour, local standard time"
        if not offset
        else "stamp at the end of the hour in UTC, whatever the LOCATION line says; "
        "irradiance at one moment of the hour",
        latitude_deg=float(place[6]),
        longitude_deg=float(place[7]),
        elevation_m=float(place[9]),
        clock_offset_h=0.0 if offset else zone_h,
        utc_offset_h=zone_h,
        stamp=stamp,
        start_shift_h=-1.0,
        sun_offset_h=1.0 + float(offset.group(1)) if offset else np.nan,
        columns=table,
        typical=typical,
        findings=() if typical else (_one_year_note(stamp),),
        design=design_from_epw(lines[:8], name),
    )


def _one_year_note(stamp: Any) -> Finding:
    year = str(stamp[0])[:4]
    return Finding(
        "note",
        f"All rows of the EPW file are dated {year} or follow from it: read as an "
        "actual year. A typical year under one date contains no extreme winter.",
    )


def _read_tmy3(text: str, name: str) -> RawTable:
    first, header = text.split("\n", 2)[:2]
    place = _split_quoted(first)
    names = [word.strip() for word in header.split(",")]
    wanted = {
        short: names.index(long) for long, short in _TMY3_NAMES.items() if long in names
    }
    table = _table(text, 2, wanted)
    rows = [line for line in text.splitlines()[2:] if line.strip()]
    stamp = stamps(
        np.array([int(row[6:10]) for row in rows]),
        np.array([int(row[0:2]) for row in rows]),
        np.array([int(row[3:5]) for row in rows]),
        np.array([int(row[11:13]) + int(row[14:16]) / 60.0 for row in rows]),
    )
    return RawTable(
        name=name,
        source=f"TMY3 file {name} ({place[1].strip()})",
        label="stamp at the end of the hour, local standard time",
        latitude_deg=float(place[4]),
        longitude_deg=float(place[5]),
        elevation_m=float(place[6]),
        clock_offset_h=float(place[3]),
        utc_offset_h=float(place[3]),
        stamp=stamp,
        start_shift_h=-1.0,
        sun_offset_h=np.nan,
        columns=table,
        typical=True,
    )


def _split_quoted(line: str) -> list[str]:
    import csv

    return next(csv.reader([line]))


def _read_tmy2(text: str, name: str) -> RawTable:
    first, *rows = [line for line in text.splitlines() if line.strip()]
    match = _TMY2_HEADER.match(first)
    if not match:
        raise DataError(f"{name}: the first line is no TMY2 station line")
    city, zone, north, lat_d, lat_m, east, lon_d, lon_m, height = match.groups()
    table = {
        key: np.array([float(row[a - 1 : b]) for row in rows])
        for key, (a, b) in _TMY2_FIELDS.items()
    }
    table["year"] += 1900.0
    table["temp_air"] /= 10.0
    table["wind_speed"] /= 10.0
    latitude = int(lat_d) + int(lat_m) / 60.0
    longitude = int(lon_d) + int(lon_m) / 60.0
    return RawTable(
        name=name,
        source=f"TMY2 file {name} ({city.strip()})",
        label="stamp at the end of the hour, hours 1 to 24, local standard time",
        latitude_deg=latitude if north == "N" else -latitude,
        longitude_deg=longitude if east == "E" else -longitude,
        elevation_m=float(height),
        clock_offset_h=float(zone),
        utc_offset_h=float(zone),
        stamp=_calendar(table, table.pop("hour")),
        start_shift_h=-1.0,
        sun_offset_h=np.nan,
        columns=table,
        typical=True,
    )


def _read_nsrdb(text: str, name: str) -> RawTable:
    iotools = pvlib_module("iotools")

    frame, meta = iotools.read_nsrdb_psm4(io.StringIO(text), map_variables=True)
    stamp = frame.index.tz_localize(None).to_numpy().astype("datetime64[s]")
    step_h = step_of(stamp, name)
    return RawTable(
        name=name,
        source=f"NSRDB file {name} (version {meta.get('Version') or 'not given'})",
        label="value at the stamp, the middle of the interval",
        latitude_deg=meta["latitude"],
        longitude_deg=meta["longitude"],
        elevation_m=float(meta["altitude"]),
        clock_offset_h=float(meta["Time Zone"]),
        utc_offset_h=float(meta["Local Time Zone"]),
        stamp=stamp,
        start_shift_h=-step_h / 2.0,
        sun_offset_h=np.nan,
        columns=_columns(frame),
        typical=mixes_years(stamp, step_h),
    )


def _columns(frame: Any) -> dict[str, Floats]:
    return {
        key: frame[key].to_numpy(dtype=np.float64)
        for key in COLUMNS
        if key in frame.columns
    }


def _solar_zone_h(longitude_deg: float) -> float:
    """Return the whole-hour zone of a meridian, for files that name none [h]."""
    return float(round(longitude_deg / 15.0))


def _read_pvgis_tmy(text: str, name: str) -> RawTable:
    if text.lstrip().startswith("LOCATION,"):
        return _read_epw(text, name)
    frame, inputs = _pvgis_tmy_frame(text)
    return RawTable(
        name=name,
        source=f"PVGIS typical year, file {name}",
        label="stamp at the start of the hour, UTC; irradiance at one moment of the "
        "hour",
        latitude_deg=inputs["latitude"],
        longitude_deg=inputs["longitude"],
        elevation_m=inputs["elevation"],
        clock_offset_h=0.0,
        utc_offset_h=_solar_zone_h(inputs["longitude"]),
        stamp=frame.index.tz_localize(None).to_numpy().astype("datetime64[s]"),
        start_shift_h=0.0,
        sun_offset_h=float(inputs.get("irradiance time offset", 0.0)),
        columns=_columns(frame),
        typical=True,
        findings=() if "irradiance time offset" in inputs else (_NO_OFFSET,),
    )


def _pvgis_tmy_frame(text: str) -> tuple[Any, dict[str, float]]:
    iotools = pvlib_module("iotools")

    text = text.lstrip()
    if text.startswith("{"):
        _check_json(text)
        frame, meta = iotools.read_pvgis_tmy(io.StringIO(text), pvgis_format="json")
        inputs = dict(meta["inputs"]["location"])
        if "irradiance_time_offset" in inputs:
            inputs["irradiance time offset"] = inputs["irradiance_time_offset"]
        return frame, inputs
    frame, meta = iotools.read_pvgis_tmy(io.BytesIO(text.encode()), pvgis_format="csv")
    return frame, meta["inputs"]


def _check_json(text: str) -> None:
    # The reader below would print the parser's position in a one-line file.
    try:
        json.loads(text)
    except ValueError as exc:
        raise ValueError("the JSON text is incomplete") from exc


def _read_pvgis_hourly(text: str, name: str) -> RawTable:
    frame, inputs = _pvgis_hourly_frame(text)
    slope = inputs["slope"]
    if slope != 0.0:
        plane = "a moving plane" if slope is None else f"a plane tilted {slope:g} deg"
        raise DataError(
            f"{name}: a PVGIS hourly file for {plane} has irradiance on that plane "
            "only; request slope 0 with radiation components, or the typical year"
        )
    if "poa_direct" not in frame.columns:
        raise DataError(
            f"{name}: the PVGIS hourly file has no beam and diffuse columns; request "
            "radiation components"
        )
    stamp = frame.index.tz_localize(None).to_numpy().astype("datetime64[s]")
    past_hour = stamp - stamp.astype("datetime64[h]")
    columns = _columns(frame) | level_columns(frame)
    return RawTable(
        name=name,
        source=f"PVGIS hourly, file {name}",
        label="irradiance at the stamp, which falls within its clock hour, UTC",
        latitude_deg=inputs["latitude"],
        longitude_deg=inputs["longitude"],
        elevation_m=inputs["elevation"],
        clock_offset_h=0.0,
        utc_offset_h=_solar_zone_h(inputs["longitude"]),
        stamp=stamp.astype("datetime64[h]").astype("datetime64[s]"),
        start_shift_h=0.0,
        sun_offset_h=float(past_hour[0].astype(np.int64)) / 3600.0,
        columns=columns,
        typical=False,
    )


def level_columns(frame: Any) -> dict[str, Floats]:
    """Return GHI, DNI and DHI from beam and diffuse on a level plane [W/m2]."""
    beam = frame["poa_direct"].to_numpy(dtype=np.float64)
    diffuse = frame["poa_sky_diffuse"].to_numpy(dtype=np.float64)
    height_deg = frame["solar_elevation"].to_numpy(dtype=np.float64)
    # Near the horizon the division explodes; the light is kept, as diffuse.
    usable = height_deg > _LOWEST_BEAM_DEG
    sine = np.sin(np.radians(np.where(usable, height_deg, 90.0)))
    return {
        "ghi": beam + diffuse,
        "dni": np.where(usable, beam / sine, 0.0),
        "dhi": diffuse + np.where(usable, 0.0, beam),
    }


def _pvgis_hourly_frame(text: str) -> tuple[Any, dict[str, Any]]:
    iotools = pvlib_module("iotools")

    text = text.lstrip()
    if not text.startswith("{"):
        frame, meta = iotools.read_pvgis_hourly(
            io.StringIO(text), pvgis_format="csv", map_variables=True
        )
        slope = re.match(r"\s*(-?[\d.]+)", str(meta["inputs"].get("Slope", "")))
        return frame, {
            **meta["inputs"],
            "slope": float(slope.group(1)) if slope else None,
        }
    _check_json(text)
    frame, meta = iotools.read_pvgis_hourly(
        io.StringIO(text), pvgis_format="json", map_variables=True
    )
    mount = next(iter(meta["inputs"]["mounting_system"].values()))
    value = mount["slope"]["value"]
    return frame, {
        **meta["inputs"]["location"],
        "slope": float(value) if isinstance(value, int | float) else None,
    }


_READERS: dict[str, Callable[[str, str], RawTable]] = {
    "epw": _read_epw,
    "tmy2": _read_tmy2,
    "tmy3": _read_tmy3,
    "nsrdb": _read_nsrdb,
    "pvgis-tmy": _read_pvgis_tmy,
    "pvgis-hourly": _read_pvgis_hourly,
}
