"""Online services and what is asked of them, through pvlib's getters."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import numpy as np

from powerbudget.errors import Fault, InputError
from powerbudget.weather.formats import COLUMNS, level_columns
from powerbudget.weather.late_imports import pvlib_module
from powerbudget.weather.raw import RawTable, step_of

TIMEOUT_S = 60.0
KEY_VARIABLE = "POWERBUDGET_NSRDB_KEY"
EMAIL_VARIABLE = "POWERBUDGET_NSRDB_EMAIL"


@dataclass(frozen=True)
class Service:
    """One online service.

    Parameters
    ----------
    words
        What it is, for messages [text].
    attribution
        Who is to be named with its data [text].
    years
        First and last year asked for when the site file names none; None for a
        typical year [count].
    """

    words: str
    attribution: str
    years: tuple[int, int] | None


SERVICES = {
    "pvgis": Service(
        "PVGIS hourly, many years",
        "PVGIS, European Commission, Joint Research Centre",
        (2005, 2020),
    ),
    "pvgis-typical": Service(
        "PVGIS typical year",
        "PVGIS, European Commission, Joint Research Centre",
        None,
    ),
    "nasa-power": Service(
        "NASA POWER hourly, many years",
        "NASA Langley Research Center POWER Project, funded through the NASA Earth "
        "Science Directorate Applied Science Program",
        (2001, 2023),
    ),
    "nsrdb": Service(
        "NSRDB (PSM version 4), many years",
        "National Solar Radiation Database, U.S. National Renewable Energy Laboratory",
        (1998, 2022),
    ),
}
"""Word in the site file -> service."""


@dataclass(frozen=True)
class Request:
    """One question to a service.

    Parameters
    ----------
    service
        A key of `SERVICES` [text].
    latitude_deg, longitude_deg, elevation_m, utc_offset_h
        The place and its standard time [deg, deg, m, h].
    first_year, last_year
        Years wanted, None for a typical year [count].
    url
        Another address of the service, for a mirror [text].
    """

    service: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    utc_offset_h: float
    first_year: int | None
    last_year: int | None
    url: str | None

    @property
    def years(self) -> range:
        """Calendar years wanted, empty for a typical year [count]."""
        if self.first_year is None or self.last_year is None:
            return range(0)
        return range(self.first_year, self.last_year + 1)

    @property
    def key(self) -> str:
        """Name of the kept answer [text]."""
        text = json.dumps(
            [self.service, round(self.latitude_deg, 4), round(self.longitude_deg, 4),
             self.first_year, self.last_year, self.url],
        )  # fmt: skip
        return f"{self.service}-{hashlib.sha256(text.encode()).hexdigest()[:16]}"


def _raw(request: Request, frame: Any, **more: Any) -> RawTable:
    service = SERVICES[request.service]
    stamp = frame.index.tz_convert("UTC").tz_localize(None)
    columns = {
        name: frame[name].to_numpy(dtype=np.float64)
        for name in COLUMNS
        if name in frame.columns
    }
    return RawTable(
        **{
            "name": service.words,
            "source": f"{service.words}, {service.attribution}",
            "latitude_deg": request.latitude_deg,
            "longitude_deg": request.longitude_deg,
            "elevation_m": request.elevation_m,
            "clock_offset_h": 0.0,
            "utc_offset_h": request.utc_offset_h,
            "stamp": stamp.to_numpy().astype("datetime64[s]"),
            "start_shift_h": 0.0,
            "sun_offset_h": float("nan"),
            "columns": columns,
            "typical": False,
        }
        | more
    )


def _address(request: Request) -> dict[str, Any]:
    return {} if request.url is None else {"url": request.url}


def _get_pvgis(request: Request, year: int | None) -> RawTable:
    frame, _ = pvlib_module("iotools").get_pvgis_hourly(
        request.latitude_deg,
        request.longitude_deg,
        start=year,
        end=year,
        components=True,
        surface_tilt=0,
        usehorizon=False,
        timeout=TIMEOUT_S,
        **_address(request),
    )
    past_hour = frame.index[0] - frame.index[0].floor("h")
    frame = frame.assign(**level_columns(frame))
    frame.index = frame.index.floor("h")
    return _raw(
        request,
        frame,
        label="irradiance at one moment of its clock hour, UTC",
        sun_offset_h=past_hour.total_seconds() / 3600.0,
    )


def _get_pvgis_typical(request: Request, _year: int | None) -> RawTable:
    frame, meta = pvlib_module("iotools").get_pvgis_tmy(
        request.latitude_deg,
        request.longitude_deg,
        usehorizon=False,
        coerce_year=None,
        timeout=TIMEOUT_S,
        **_address(request),
    )
    place = meta.get("inputs", {}).get("location", {})
    return _raw(
        request,
        frame,
        label="irradiance at one moment of its clock hour, UTC",
        sun_offset_h=float(place.get("irradiance_time_offset", 0.0)),
        typical=True,
    )


@contextmanager
def _timed(module: Any) -> Iterator[None]:
    """Give a module that asks without a limit of time one, while it asks."""
    import requests

    usual = module.requests

    def get(*args: Any, **kwargs: Any) -> Any:
        kwargs.setdefault("timeout", TIMEOUT_S)
        return requests.get(*args, **kwargs)  # noqa: S113 - set on the line above

    module.requests = SimpleNamespace(get=get, HTTPError=requests.HTTPError)
    try:
        yield
    finally:
        module.requests = usual


def _get_nasa_power(request: Request, year: int | None) -> RawTable:
    module = pvlib_module("iotools.nasa_power")
    with _timed(module):
        frame, meta = module.get_nasa_power(
            request.latitude_deg,
            request.longitude_deg,
            f"{year}-01-01",
            f"{year}-12-31",
            parameters=["dni", "dhi", "ghi", "temp_air", "wind_speed"],
            **_address(request),
        )
    return _raw(
        request,
        frame,
        label="mean of the hour after the stamp, UTC",
        elevation_m=float(meta.get("altitude", request.elevation_m)),
    )


def _get_nsrdb(request: Request, year: int | None) -> RawTable:
    key, email = os.environ.get(KEY_VARIABLE), os.environ.get(EMAIL_VARIABLE)
    if not key or not email:
        raise InputError(
            Fault(
                "weather.online",
                "nsrdb needs your own key and its e-mail address",
                allowed=f"set {KEY_VARIABLE} and {EMAIL_VARIABLE} in the environment",
            )
        )
    frame, meta = pvlib_module("iotools").get_nsrdb_psm4_aggregated(
        request.latitude_deg,
        request.longitude_deg,
        key,
        email,
        year=year,
        time_step=60,
        parameters=("ghi", "dni", "dhi", "air_temperature", "wind_speed",
                    "surface_albedo"),
        leap_day=True,
        utc=True,
        timeout=TIMEOUT_S,
        **_address(request),
    )  # fmt: skip
    stamp = frame.index.tz_convert("UTC").tz_localize(None).to_numpy()
    step_h = step_of(stamp.astype("datetime64[s]"), "NSRDB")
    return _raw(
        request,
        frame,
        label="value at the stamp, the middle of the interval",
        start_shift_h=-step_h / 2.0,
        elevation_m=float(meta.get("altitude", request.elevation_m)),
    )


GETTERS: dict[str, Callable[[Request, int | None], RawTable]] = {
    "pvgis": _get_pvgis,
    "pvgis-typical": _get_pvgis_typical,
    "nasa-power": _get_nasa_power,
    "nsrdb": _get_nsrdb,
}
"""Word in the site file -> getter of one year, or of the typical one."""
