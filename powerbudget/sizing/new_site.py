"""A whole site file from a client's lists and a place, array and battery left open.

Weather is a record near enough, or what the caller names; the bus follows the volts of
the devices, disconnect and criteria are those of the example site, scaled to the bus.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from powerbudget.errors import Fault, InputError, PowerBudgetError
from powerbudget.quantities import in_unit
from powerbudget.site.starter import starter_design
from powerbudget.site.tables import Place, Weather
from powerbudget.weather import RECORDS, read_file, read_record, read_weather
from powerbudget.weather.files import distance_km
from powerbudget.weather.record import WeatherRecord
from powerbudget.weather.summary import coldest_days_degc

NEAR_KM = 100.0
"""Distance up to which a record stands for a site (judgment) [km]."""
NEAR_M = 300.0
"""Difference of elevation up to which it does (judgment) [m]."""
MOST_FILES = 60
"""Weather files beside the site file that are looked at [count]."""
LOCAL = ("*.epw", "*.csv", "*.tm2", "weather/*.epw", "weather/*.csv")
_SHORT_SOURCE = "monthly means given with powerbudget new"


@dataclass(frozen=True)
class SiteWeather:
    """Weather that a new site takes.

    Parameters
    ----------
    lines
        The table of the site file [TOML].
    record
        Its hours.
    words
        Where it is from and how far [text].
    """

    lines: tuple[str, ...]
    record: WeatherRecord
    words: str


@dataclass(frozen=True)
class WeatherRequest:
    """What the caller says about the weather; empty to look for a record nearby.

    Parameters
    ----------
    file
        A weather file [path].
    ghi, temperature
        Twelve monthly means, January first, with their unit [text].
    fetch
        Whether the network may be used.
    """

    file: Path | None = None
    ghi: str = ""
    temperature: str = ""
    fetch: bool = False


def find_weather(place: Place, folder: Path, asked: WeatherRequest) -> SiteWeather:
    """Return the weather for a new site.

    Parameters
    ----------
    place
        The ``[site]`` table.
    folder
        Folder of the site file; weather files in it are looked at [path].
    asked
        What the caller says.

    Raises
    ------
    InputError
        When no record is near enough and nothing else is given.
    """
    if asked.file is not None:
        path = _relative(asked.file, folder)
        return _weather(place, folder, {"file": path}, f"file {path}")
    if asked.ghi or asked.temperature:
        return _weather(place, folder, {"monthly": _monthly(asked)}, _SHORT_SOURCE)
    near = _nearest(place, folder)
    if near is not None:
        return near
    if asked.fetch:
        return _weather(
            place, folder, {"online": "pvgis"}, "online service pvgis", fetch=True
        )
    raise InputError(
        Fault(
            "weather",
            f"no weather file within {NEAR_KM:g} km and {NEAR_M:g} m of elevation",
            f"built-in: {', '.join(RECORDS)}; files in the folder of the site file",
            "",
            "give --weather FILE, or --fetch, or the monthly means: --ghi '1.2 2.3 ... "
            "kWh/m**2/d' and --temperature '-8 -5 ... degC', January first",
        )
    )


def _relative(path: Path, folder: Path) -> str:
    try:
        return path.resolve().relative_to(folder.resolve()).as_posix()
    except ValueError:
        return path.resolve().as_posix()


def _monthly(asked: WeatherRequest) -> dict[str, str]:
    missing = [n for n in ("ghi", "temperature") if not getattr(asked, n)]
    if missing:
        raise InputError(
            Fault(
                f"--{missing[0]}",
                "is missing: monthly means need irradiation and temperature",
            )
        )
    return {"source": _SHORT_SOURCE, "ghi": asked.ghi, "temperature": asked.temperature}


def _weather(
    place: Place, folder: Path, keys: dict[str, Any], words: str, *, fetch: bool = False
) -> SiteWeather:
    from pydantic import ValidationError

    from powerbudget.site.faults import model_faults

    try:
        weather = Weather.model_validate(keys)
    except ValidationError as exc:
        raise InputError(list(model_faults(exc, "weather", Weather))) from None
    record = read_weather(weather, base=folder, site=place, fetch=fetch)
    return SiteWeather(tuple(_lines(keys)), record, words)


def _lines(keys: dict[str, Any]) -> Iterator[str]:
    inner = keys.get("monthly")
    yield "[weather.monthly]" if inner else "[weather]"
    for key, value in (inner or keys).items():
        yield f"{key} = {json.dumps(value, ensure_ascii=False)}"


def _nearest(place: Place, folder: Path) -> SiteWeather | None:
    """Return the nearest record that stands for a place, None without one."""
    best: tuple[float, SiteWeather] | None = None
    for keys, record in _there(folder):
        away_km = distance_km(record, place)
        height_m = abs(record.elevation_m - place.elevation_m)
        if away_km > NEAR_KM or height_m > NEAR_M or (best and away_km >= best[0]):
            continue
        name = next(iter(keys.values()))
        words = (
            f"{name}, distance {in_unit(away_km, 'km')}, difference of elevation "
            f"{in_unit(height_m, 'm')}"
        )
        best = (away_km, SiteWeather(tuple(_lines(keys)), record, words))
    return best[1] if best else None


def _there(folder: Path) -> Iterator[tuple[dict[str, str], WeatherRecord]]:
    for name in RECORDS:
        yield {"record": name}, read_record(name)
    paths = sorted({p for pattern in LOCAL for p in folder.glob(pattern)})
    for path in paths[:MOST_FILES]:
        try:
            yield {"file": _relative(path, folder)}, read_file(path)
        except PowerBudgetError:
            # A client's list beside the site file is no weather.
            continue


def whole_site(
    name: str,
    place: dict[str, str],
    sky: SiteWeather,
    tables: str,
    bus_v: float,
    contingency_frac: float | None,
) -> str:
    """Return a site file: place, weather, bus, the tables of the lists, criteria.

    Parameters
    ----------
    name
        Of the site [text].
    place
        Keys of ``[site]`` as written [text].
    sky
        Its weather.
    tables
        What the lists give [TOML].
    bus_v
        Voltage of the bus [V].
    contingency_frac
        Stated by the lists, None where they state none [fraction].
    """
    return "\n".join(
        [
            "#:schema ./powerbudget.schema.json",
            "# Array, battery, and charge controller are open: `powerbudget size "
            "FILE --write` sizes them.",
            "",
            "[site]",
            f"name = {json.dumps(name, ensure_ascii=False)}",
            *(f"{key} = {json.dumps(text)}" for key, text in place.items()),
            "",
            f"# {sky.words}",
            *sky.lines,
            "",
            *_bus(bus_v, contingency_frac),
            "",
            *_criteria(sky.record),
            "",
            tables,
        ]
    )


def _bus(bus_v: float, contingency_frac: float | None) -> list[str]:
    """Return the bus of the example site, scaled to the devices' volts."""
    own = starter_design().tables.bus
    scale = bus_v / own.nominal_v
    assert own.disconnect_v is not None
    assert own.reconnect_v is not None
    stated = contingency_frac is not None
    share = contingency_frac if contingency_frac is not None else own.contingency_frac
    return [
        "[bus]",
        f'nominal = "{bus_v:g} V"              # of the largest loads',
        f'low_voltage_disconnect = "{own.disconnect_v * scale:.4g} V"  # common practice',
        f'low_voltage_reconnect = "{own.reconnect_v * scale:.4g} V"',
        f'contingency = "{100 * share:g} %"           # '
        + ("stated by the list, once" if stated else "common practice, once"),
        f'standing_leakage = "{1e3 * own.leakage_a:g} mA"',
    ]


def _criteria(record: WeatherRecord) -> list[str]:
    """Return the criteria of the example site at the cold of this one."""
    own = starter_design().tables.criteria
    cold = coldest_days_degc(record, own.autonomy_d)
    return [
        "[criteria]                      # common practice; change them to the client's",
        f'availability = "{100 * own.availability_frac:g} %"',
        f'autonomy = "{own.autonomy_d:g} d"',
        f'autonomy_temperature = "{cold:.0f} degC"  # coldest {own.autonomy_d:g} '
        "consecutive days of the weather file",
        f'deepest_discharge = "{100 * own.deepest_discharge_frac:g} %"',
        f"array_to_load_ratio = {own.array_to_load_ratio:g}",
    ]
