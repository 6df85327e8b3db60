"""Rows of a fleet kept as they finish, so that an end before the end loses none."""

from __future__ import annotations

import dataclasses
import hashlib
import json
from pathlib import Path

from powerbudget.errors import Fault, InputError
from powerbudget.fleet.row import FleetRow
from powerbudget.reading import PAGE_BYTES, TABLE_BYTES, read_bytes, read_text
from powerbudget.version import __version__


def kept_beside(table: Path) -> Path:
    """Return where rows stand until the table is written [path]."""
    return table.with_name(f"{table.name}.rows")


def mark_of(path: str, sizes: bool) -> str:
    """Return what a row was made from: site file, version, whether it was sized."""
    try:
        content = read_bytes(Path(path), PAGE_BYTES, Fault("file", ""))
    except InputError:
        return ""
    told = f"{__version__} {sizes} ".encode() + content
    return hashlib.sha256(told).hexdigest()[:24]


def keep(file: Path, mark: str, row: FleetRow) -> None:
    """Add a row to those that are kept."""
    line = json.dumps({"mark": mark, **dataclasses.asdict(row)})
    with file.open("a", encoding="utf-8") as stream:
        stream.write(line + "\n")


def kept_rows(file: Path) -> dict[tuple[str, str], FleetRow]:
    """Return rows by file and mark; a torn last line and rows with a fault are left out."""
    if not file.exists():
        return {}
    found = {}
    for line in read_text(file, TABLE_BYTES, Fault(str(file), "")).splitlines():
        try:
            told = json.loads(line)
            mark = told.pop("mark")
            row = FleetRow(**told)
        except (ValueError, TypeError, KeyError, AttributeError):
            continue
        if not row.fault:
            found[row.file, mark] = row
    return found
