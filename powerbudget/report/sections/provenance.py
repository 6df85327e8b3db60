"""What a package was made from: versions, fingerprints of inputs, seeds."""

from __future__ import annotations

import hashlib
from importlib.metadata import PackageNotFoundError, version
from inspect import signature
from pathlib import Path
from typing import TYPE_CHECKING

from powerbudget.errors import Fault, InputError
from powerbudget.files import in_letters
from powerbudget.reading import TABLE_BYTES, read_bytes
from powerbudget.report.document.blocks import (
    Column,
    Fact,
    Facts,
    Section,
    Table,
    rows_of,
    word,
)
from powerbudget.version import __version__

if TYPE_CHECKING:
    from powerbudget.report.document.package import Package
    from powerbudget.site.reader import Design
    from powerbudget.weather import WeatherRecord

LIBRARIES = ("numpy", "scipy", "pandas", "pvlib", "numba", "pydantic",
             "rainflow", "matplotlib", "jinja2", "xlsxwriter")  # fmt: skip


def file_sha256(path: Path) -> str:
    """Return the SHA-256 of a file, empty when it cannot be read [hex].

    Parameters
    ----------
    path
        The file [path].
    """
    try:
        content = read_bytes(path, TABLE_BYTES, Fault(path.name, ""))
    except InputError:
        return ""
    return hashlib.sha256(content).hexdigest()


def series_sha256(record: WeatherRecord) -> str:
    """Return the SHA-256 of the weather as the simulation uses it [hex].

    Notes
    -----
    Over start times in whole seconds since 1970 and the five series as little-endian
    64-bit floats, in the order start, global, direct, diffuse, air, wind.
    """
    from powerbudget.weather.record import SERIES

    digest = hashlib.sha256()
    seconds = record.start_utc.astype("datetime64[s]").astype("<i8")
    digest.update(seconds.tobytes())
    for name in SERIES:
        digest.update(getattr(record, name).astype("<f8").tobytes())
    return digest.hexdigest()


def input_files(design: Design) -> list[tuple[str, Path]]:
    """Return each file that the site was read from, with what it is."""
    tables, base = design.tables, design.folder
    found: list[tuple[str, Path]] = []
    if design.path is not None:
        found.append(("site file", design.path))
    if tables.parts_file:
        found.append(("parts file", base / tables.parts_file))
    if tables.rack is not None and tables.rack.io_list:
        found.append(("I/O list", base / tables.rack.io_list))
    if tables.array.horizon_file:
        found.append(("horizon", base / tables.array.horizon_file))
    found += [
        ("measured load", base / load.measured.file)
        for load in tables.load
        if load.measured is not None and load.measured.file
    ]
    return found + _weather_files(design)


def _weather_files(design: Design) -> list[tuple[str, Path]]:
    from powerbudget.weather.files import record_paths

    weather, base = design.tables.weather, design.folder
    found = []
    if weather.file is not None:
        found += [("weather file", path) for path in record_paths(base, weather.file)]
    if weather.design is not None and weather.design.file:
        found.append(("design temperatures", base / weather.design.file))
    return found


def _versions() -> str:
    import platform

    found = [f"powerbudget {__version__}", f"Python {platform.python_version()}"]
    for name in LIBRARIES:
        try:
            found.append(f"{name} {version(name)}")
        except PackageNotFoundError:  # not needed for this file
            continue
    return ", ".join(found)


def _hash_table(package: Package) -> Table:
    rows = [
        (
            word(what),
            word(in_letters(path.name)),
            word(file_sha256(path) or "cannot be read"),
        )
        for what, path in input_files(package.design)
    ]
    claims = package.extras.claims
    if claims is not None:
        rows.append(
            (
                word("claims"),
                word(in_letters(Path(claims).name)),
                word(file_sha256(Path(claims))),
            )
        )
    if package.design.path is None:
        from powerbudget.site.starter import starter_text

        digest = hashlib.sha256(starter_text().encode()).hexdigest()
        rows.insert(0, (word("site file"), word("built-in example"), word(digest)))
    used = word("weather, series as used")
    rows.append(
        (used, word(package.record.source), word(series_sha256(package.record)))
    )
    columns = (Column("input"), Column("name"), Column("SHA-256"))
    return Table(
        "fingerprints", "Hashes of the inputs", columns, rows_of(rows),
        note="The same hashes and versions give the same figures. Hashed series: "
"whole seconds since 1970, then GHI, DNI, DHI, ambient temperature, and "
"wind as little-endian 64-bit floats.",
    )  # fmt: skip


def _seeds(package: Package) -> str:
    from powerbudget.weather.extremes import fit_minima

    monthly = package.tables.weather.monthly
    found = []
    if monthly is not None:
        found.append(f"synthetic years: random seed {monthly.seed}")
    if package.odds is not None:
        found.append(f"Monte Carlo simulation: random seed {package.odds.seed}")
    if package.sky.fits:
        resampling = signature(fit_minima).parameters["seed"].default
        found.append(
            f"confidence intervals of return periods: random seed {resampling}"
        )
    return "; ".join(found) or "Random sampling: none"


def provenance_section(package: Package, made: str) -> Section:
    """Return versions, fingerprints and seeds.

    Parameters
    ----------
    package
        All results.
    made
        When the package was made [text].
    """
    name = in_letters(package.design.path.name) if package.design.path else ""
    again = " ".join(
        f"powerbudget report {name} {package.extras.words} -o FILE".split()
    )
    facts = (
        Fact("made", made), Fact("command", again),
        Fact("seeds", _seeds(package)), Fact("versions", _versions()),
    )  # fmt: skip
    return Section(
        "provenance", "Traceability", "Traceability",
        "These inputs and this version give these figures.",
        (Facts(facts), _hash_table(package)),
    )  # fmt: skip
