"""Weather files and shipped records by name."""

from __future__ import annotations

from dataclasses import replace
from difflib import get_close_matches
from hashlib import blake2b
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from powerbudget.cache import kept
from powerbudget.errors import DataError, Fault, Finding, InputError, Severity
from powerbudget.files import in_letters
from powerbudget.quantities import in_unit, plain
from powerbudget.reading import TABLE_BYTES, matching, read_bytes
from powerbudget.weather.assemble import build, join
from powerbudget.weather.audit import audit
from powerbudget.weather.formats import FORMATS, parse, sniff
from powerbudget.weather.raw import RawTable
from powerbudget.weather.record import WeatherRecord
from powerbudget.weather.zone import to_local_standard

if TYPE_CHECKING:
    from powerbudget.site.tables import Place

RECORDS: dict[str, str] = {
    "sand-point": "Sand Point, Alaska, 55.3 N 160.5 W, 7 m: cool, cloudy coast; "
    "typical year TMY3 703165",
    "greensboro": "Greensboro, North Carolina, 36.1 N 80.0 W, 273 m: mild; typical "
    "year TMY3 723170",
    "miami": "Miami, Florida, 25.8 N 80.3 W, 2 m: warm; typical year TMY2 12839",
}
"""Records that need no file: name -> what it is."""

_SHIPPED = {
    "sand-point": ("703165TY.csv", "tmy3"),
    "greensboro": ("723170TYA.CSV", "tmy3"),
    "miami": ("12839.tm2", "tmy2"),
}
_TYPICAL = Finding(
    "warning",
    "Typical year: contains no extreme winter. At one location in north-west "
    "Colorado the lowest month of an actual year (2017) is 23 % below that "
    "of the typical year. Size on 10 or more actual years.",
)
_FAR_DEG = 0.5
_ENOUGH_YEARS = 10


def record_paths(base: Path, pattern: str) -> list[Path]:
    """Return the files that a name or a pattern names, one at least [paths]."""
    found = matching(base, pattern)
    if not found:
        raise InputError(
            Fault(
                where="weather.file",
                problem="no file matches the pattern",
                given=pattern,
                advice=f"searched from {base.resolve()}",
            )
        )
    return found


def read_record(name: str) -> WeatherRecord:
    """Return one of the records that need no file [record].

    Parameters
    ----------
    name
        A key of `RECORDS` [text].

    Returns
    -------
    WeatherRecord
        The canonical form [record].

    Raises
    ------
    InputError
        When there is no such record.
    """
    key = name.strip().lower().replace(" ", "-").replace("_", "-")
    if key not in _SHIPPED:
        near = get_close_matches(key, RECORDS, n=1, cutoff=0.5)
        raise InputError(
            Fault(
                where="weather.record",
                problem="is not a built-in weather file",
                given=name,
                allowed=", ".join(RECORDS),
                advice=f"did you mean '{near[0]}'?" if near else "",
            )
        )
    file_name, fmt = _SHIPPED[key]
    spec = find_spec("pvlib")
    if spec is None or spec.origin is None:
        raise DataError(
            f"weather file '{key}': pvlib, which contains it, is not installed"
        )
    path = Path(spec.origin).parent / "data" / file_name
    record = read_file(path, fmt)
    kind = fmt.upper()
    return replace(record, source=f"{kind} file {file_name}, part of pvlib ({key})")


def read_file(path: Path | str, fmt: str = "auto") -> WeatherRecord:
    """Return the record in one weather file [record].

    Parameters
    ----------
    path
        The file [path].
    fmt
        ``auto`` to tell by the content, or a format word: ``epw``, ``tmy2``,
        ``tmy3``, ``nsrdb``, ``pvgis-tmy`` or ``pvgis-hourly`` [text].

    Returns
    -------
    WeatherRecord
        The canonical form [record].

    Raises
    ------
    InputError
        When there is no such file or format word.
    DataError
        When the content is no weather, is damaged, or cannot be true.
    """
    return read_files([Path(path)], fmt)


def read_files(paths: list[Path], fmt: str = "auto") -> WeatherRecord:
    """Return one record from files of several real years at one place [record].

    Parameters
    ----------
    paths
        The files, in any order [path].
    fmt
        As for `read_file`, the same for all [text].

    Returns
    -------
    WeatherRecord
        The canonical form [record].

    Raises
    ------
    InputError
        When there is no such file or format word.
    DataError
        When a file is no weather, is damaged, or the files do not fit together.
    """
    _check_format(fmt)
    texts = [(path, text_of(path)) for path in paths]
    # By content: sites that share a record read and audit it once.
    reads = [(str(p), blake2b(text.encode()).digest()) for p, text in texts]
    return kept(
        "record",
        (fmt, *reads),
        lambda: record_of([_table_of(path, text, fmt) for path, text in texts]),
    )


def record_of(tables: list[RawTable]) -> WeatherRecord:
    """Return the audited record of tables of one place [record].

    Parameters
    ----------
    tables
        From the readers or an online service [table].

    Returns
    -------
    WeatherRecord
        The canonical form [record].

    Raises
    ------
    DataError
        When the tables do not fit together or cannot be true.
    """
    table, block = join(tables)
    record = build(table, block)
    remarks = audit(record)
    doubtful = any(finding.severity != "note" for finding in remarks)
    return replace(
        record,
        findings=record.findings + _span_findings(record) + remarks,
        verdict="doubtful" if doubtful else "sound",
    )


def _check_format(fmt: str) -> None:
    if fmt != "auto" and fmt not in FORMATS:
        near = get_close_matches(fmt, FORMATS, n=1)
        raise InputError(
            Fault(
                where="weather.format",
                problem="is not a weather format",
                given=fmt,
                allowed=", ".join(["auto", *FORMATS]),
                advice=f"did you mean '{near[0]}'?" if near else "",
            )
        )


def _table_of(path: Path, text: str, fmt: str) -> RawTable:
    seen = sniff(text)
    if seen is None and fmt == "auto":
        raise DataError(f"{path}: is not a readable weather file; {_accepted()}")
    return parse(text, seen if fmt == "auto" and seen else fmt, in_letters(path.name))


def _accepted() -> str:
    return f"accepted: {', '.join(FORMATS.values())}"


def text_of(path: Path) -> str:
    """Return the text of a file, whatever its line ends and encoding [text]."""
    advice = ""
    if path.is_dir():
        pattern = f"'{path.name or 'years'}/*.csv'"
        advice = f"name one file, or several years with a pattern such as {pattern}"
    allowed = ", ".join(FORMATS.values())
    fault = Fault("weather.file", "", str(path), allowed, advice)
    return _decode(read_bytes(path, TABLE_BYTES, fault), path)


def _decode(content: bytes, path: Path) -> str:
    if not content.strip():
        raise DataError(f"{path}: is empty; {_accepted()}")
    if b"\0" in content[:100_000]:
        raise DataError(
            f"{path}: is not plain text (an image, an archive or UTF-16?); "
            f"{_accepted()}, saved as UTF-8"
        )
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        # Station names in older files carry accents in this encoding.
        text = content.decode("latin-1")
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _span_findings(record: WeatherRecord) -> tuple[Finding, ...]:
    if record.typical_year:
        return (_TYPICAL,)
    if record.years < 0.99:
        days = record.n * record.step_h / 24.0
        return (
            Finding(
                "warning",
                f"The weather file covers {in_unit(days, 'd')}, less than a year; a winter may be "
                "missing.",
            ),
        )
    if record.years < _ENOUGH_YEARS - 0.5:
        return (
            Finding(
                "note",
                f"The weather file contains {plain(record.years, 2, 'yr')} of actual weather. An "
                f"extreme winter needs {_ENOUGH_YEARS} yr or more.",
            ),
        )
    return ()


def compare_place(record: WeatherRecord, site: Place) -> WeatherRecord:
    """Return the record on the site's clock, or with a remark that it is elsewhere."""
    east_deg = (record.longitude_deg - site.longitude_deg + 180.0) % 360.0 - 180.0
    north_deg = record.latitude_deg - site.latitude_deg
    if max(abs(east_deg), abs(north_deg)) > _FAR_DEG:
        # Weather of another meridian keeps its own clock, so that its noon stays at
        # noon for loads that follow the hour.
        return _add(record, "warning", _far_away(record, site, east_deg))
    if site.utc_offset_h is None or site.utc_offset_h == record.utc_offset_h:
        return record
    moved = to_local_standard(record, site.utc_offset_h)
    text = (
        f"The clock of the weather file is UTC{record.utc_offset_h:+g} h; days "
        f"and hours are counted in the site's, UTC{site.utc_offset_h:+g} h."
    )
    return _add(moved, "note", text)


def _add(record: WeatherRecord, severity: Severity, text: str) -> WeatherRecord:
    return replace(record, findings=(*record.findings, Finding(severity, text)))


def _far_away(record: WeatherRecord, site: Place, east_deg: float) -> str:
    distance_km = _distance_km(site.latitude_deg, record.latitude_deg, east_deg)
    return (
        f"Weather location is {in_unit(distance_km, 'km')} from the site, at "
        f"{_where(record.latitude_deg, record.longitude_deg)}; the site is at "
        f"{_where(site.latitude_deg, site.longitude_deg)}. Irradiation, "
        "temperature, clock, and monthly means are those of the weather location."
    )


def distance_km(record: WeatherRecord, site: Place) -> float:
    """Return how far from a site its weather was recorded [km].

    Parameters
    ----------
    record
        The weather.
    site
        The ``[site]`` table.
    """
    east_deg = (record.longitude_deg - site.longitude_deg + 180.0) % 360.0 - 180.0
    return _distance_km(site.latitude_deg, record.latitude_deg, east_deg)


def _where(latitude_deg: float, longitude_deg: float) -> str:
    north, east = "NS"[latitude_deg < 0], "EW"[longitude_deg < 0]
    return f"{abs(latitude_deg):.2f} {north} {abs(longitude_deg):.2f} {east}"


def _distance_km(from_deg: float, to_deg: float, east_deg: float) -> float:
    """Return the great-circle distance between two latitudes and a longitude step."""
    south, north, east = np.radians([from_deg, to_deg, east_deg])
    half = (
        np.sin((north - south) / 2.0) ** 2
        + np.cos(south) * np.cos(north) * np.sin(east / 2.0) ** 2
    )
    return float(2.0 * 6371.0 * np.arcsin(np.sqrt(half)))
