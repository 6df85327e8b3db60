"""Weather from online services: only when asked, kept, with its source named.

The network is used by `weather SITE --fetch` and by nothing else; every other run
reads what was kept.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from time import sleep
from typing import TYPE_CHECKING

import numpy as np

from powerbudget.errors import DataError, Fault, Finding, InputError, missing_extra
from powerbudget.files import cache_folder
from powerbudget.weather.cache import keep, kept
from powerbudget.weather.files import record_of
from powerbudget.weather.raw import RawTable
from powerbudget.weather.record import WeatherRecord
from powerbudget.weather.services import GETTERS, SERVICES, Request, Service

if TYPE_CHECKING:
    from powerbudget.site.tables import Place, Weather

Progress = Callable[[int, int], None]
TRIES = 3
PAUSE_S = 2.0


def make_request(weather: Weather, site: Place) -> Request:
    """Return the question that a site file asks [request].

    Parameters
    ----------
    weather, site
        ``[weather]`` and ``[site]`` [table].

    Returns
    -------
    Request
        Years filled in where the site file names none.

    Raises
    ------
    InputError
        When the years are in the wrong order or given for a typical year.
    """
    name = str(weather.online)
    usual = SERVICES[name].years
    if usual is None and (weather.first_year or weather.last_year):
        raise InputError(
            Fault("weather.first_year", "does not apply to a typical year")
        )
    first = last = None
    if usual is not None:
        first = weather.first_year or usual[0]
        last = weather.last_year or max(usual[1], first)
        if last < first:
            raise InputError(
                Fault("weather.last_year", "is before first_year", str(last))
            )
    zone = site.utc_offset_h
    return Request(
        service=name,
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        elevation_m=site.elevation_m,
        utc_offset_h=float(round(site.longitude_deg / 15.0)) if zone is None else zone,
        first_year=first,
        last_year=last,
        url=weather.url,
    )


def online_record(
    weather: Weather,
    site: Place,
    *,
    fetch: bool = False,
    progress: Progress | None = None,
) -> WeatherRecord:
    """Return a service's record, from what was kept or, when asked, from the network.

    Parameters
    ----------
    weather, site
        ``[weather]`` and ``[site]`` [table].
    fetch
        Whether the network may be used [bool].
    progress
        Called with years done and years in all [count].

    Returns
    -------
    WeatherRecord
        Audited like any file, with the service named [record].

    Raises
    ------
    InputError
        When the answer has not been fetched, or the service cannot be reached.
    DataError
        When the answer cannot be used.
    """
    request = make_request(weather, site)
    path = cache_folder("weather") / f"{request.key}.npz"
    if not path.exists():
        if not fetch:
            raise InputError(
                Fault(
                    "weather.online",
                    "has not been fetched; the network is used only on request",
                    request.service,
                    advice="run: powerbudget weather SITE.toml --fetch",
                )
            )
        keep(fetch_table(request, progress), path)
    record = record_of([kept(path)])
    service = SERVICES[request.service]
    note = Finding("note", f"Weather data: {service.attribution}.")
    return replace(record, findings=(*record.findings, note))


def fetch_table(request: Request, progress: Progress | None = None) -> RawTable:
    """Return the answer of a service, year by year where it has years [table].

    Parameters
    ----------
    request
        What is asked.
    progress
        Called with years done and years in all [count].

    Returns
    -------
    RawTable
        Rows as the service gives them [table].

    Raises
    ------
    InputError
        When the service cannot be reached in three tries, or needs a key.
    DataError
        When it answers with something else than weather.
    """
    get = GETTERS[request.service]
    if not request.years:
        return _patiently(lambda: get(request, None), request)
    frames = []
    for number, year in enumerate(request.years, start=1):
        frames.append(_patiently(lambda y=year: get(request, y), request))  # type: ignore[misc]
        if progress:
            progress(number, len(request.years))
    return _joined(frames)


def _joined(tables: list[RawTable]) -> RawTable:
    first = tables[0]
    return replace(
        first,
        stamp=np.concatenate([table.stamp for table in tables]),
        columns={
            name: np.concatenate([table.columns[name] for table in tables])
            for name in first.columns
        },
    )


def _patiently(ask: Callable[[], RawTable], request: Request) -> RawTable:
    """Ask up to three times; only a network that fails is asked again."""
    try:
        import requests
    except ModuleNotFoundError:
        raise missing_extra("weather.online", "requests", "live") from None

    service = SERVICES[request.service]
    for left in reversed(range(TRIES)):
        try:
            return ask()
        except (requests.ConnectionError, requests.Timeout) as exc:
            if not left:
                raise InputError(_unreachable(service, request, exc)) from exc
            sleep(PAUSE_S * (TRIES - left))
        except requests.HTTPError as exc:
            code = exc.response.status_code if exc.response is not None else 0
            if code < 500 or not left:
                raise InputError(_refused(service, exc)) from exc
            sleep(PAUSE_S * (TRIES - left))
        except (InputError, DataError):
            raise
        except Exception as exc:
            raise DataError(
                f"{service.words}: the answer cannot be read: "
                f"{' '.join(str(exc).split())[:200] or type(exc).__name__}; the service "
                "may have changed, or does not cover the location"
            ) from exc
    raise AssertionError  # pragma: no cover - the loop returns or raises


def _unreachable(service: Service, request: Request, exc: Exception) -> Fault:
    why = "no network, or a wrong address"
    if "Timeout" in type(exc).__name__:
        why = "no answer in time"
    return Fault(
        "weather.online",
        f"the service cannot be reached ({why})",
        f"{service.words}" + (f" at {request.url}" if request.url else ""),
        advice=f"tried {TRIES} times; check the connection, or download the file and "
        'name it with file = "..."',
    )


def _refused(service: Service, exc: Exception) -> Fault:
    # The address may carry a key, so it is never shown.
    words = " ".join(str(exc).split()).split("http")[0].strip(" :")
    response = getattr(exc, "response", None)
    code = f" (status {response.status_code})" if response is not None else ""
    return Fault(
        "weather.online",
        f"the service refused the request{code}: {words[:200]}",
        service.words,
        advice="the location may be outside its map, the years outside its range, or "
        "the key may be wrong",
    )
