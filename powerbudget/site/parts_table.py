"""A user's parts as a table: one row a reading, the part's own keys in any of its rows."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from powerbudget.errors import Fault, InputError
from powerbudget.reading import PAGE_BYTES, read_bytes, read_text

TABLES = frozenset({".csv", ".xlsx"})
"""Endings of parts files that are tables."""
PART_KEYS = ("kind", "title", "note", "source", "status")
READING_KEYS = (
    "figure", "value", "at", "maximum", "condition", "document", "year", "page",
    "grade", "public",
)  # fmt: skip
ENDS = ("low", "typical", "high")
COLUMNS = ("name", *PART_KEYS, *READING_KEYS, *ENDS)
_LARGEST_BYTES = 50_000_000
_DECIMAL_COMMA = re.compile(r"(?<=\d),(?=\d)")
_YES = frozenset({"yes", "true", "x", "1"})


def table_document(path: Path, fault: Fault) -> dict[str, Any]:
    """Return the ``[[part]]`` tables that a CSV or XLSX file says in rows.

    Parameters
    ----------
    path
        The table: a head row of the words in `COLUMNS`, then rows [path].
    fault
        What to raise where the file cannot be read, its problem left open.

    Returns
    -------
    dict
        As a TOML file of the same parts is read.

    Raises
    ------
    InputError
        When it cannot be read, or has a column that is not known.
    """
    rows = (
        _workbook(path, fault) if path.suffix.lower() == ".xlsx" else _text(path, fault)
    )
    heads = [_word(cell).lower() for cell in next(rows, [])]
    unknown = [n for n, head in enumerate(heads, 1) if head and head not in COLUMNS]
    if unknown or "name" not in heads:
        # What stands there is not told: it may be another program's file.
        what = (
            f"column {unknown[0]} is not known" if unknown else "has no column 'name'"
        )
        allowed = ", ".join(COLUMNS)
        raise InputError(Fault("row 1", what, allowed=allowed, file=str(path)))
    parts: dict[str, dict[str, Any]] = {}
    for row in rows:
        cells = dict(zip(heads, map(_word, row), strict=False))
        cells = {key: text for key, text in cells.items() if key and text}
        if name := cells.pop("name", ""):
            _add(parts.setdefault(name, {"name": name}), cells)
    return {"part": list(parts.values())}


def _add(part: dict[str, Any], cells: dict[str, str]) -> None:
    """Put a row into its part: own keys, then a reading or low, typical and high."""
    part |= {key: cells[key] for key in PART_KEYS if key in cells}
    if "value" in cells:
        part.setdefault("reading", []).append(_reading(cells))
    ends = {key: _decimal(cells[key]) for key in ENDS if key in cells}
    if ends:
        part[cells.get("figure", "power")] = ends


def _reading(cells: dict[str, str]) -> dict[str, Any]:
    found: dict[str, Any] = {key: cells[key] for key in READING_KEYS if key in cells}
    found["value"] = [_decimal(text.strip()) for text in cells["value"].split(";")]
    if "at" in found:
        found["at"] = _decimal(found["at"])
    for key in {"maximum", "public"} & found.keys():
        found[key] = found[key].lower() in _YES
    if "year" in found and found["year"].isdigit():
        found["year"] = int(found["year"])
    elif found.get("year", "").lower() == "undated":
        del found["year"]
    return found


def _word(cell: object) -> str:
    if isinstance(cell, float) and cell.is_integer():
        cell = int(cell)
    return "" if cell is None else str(cell).strip()


def _decimal(text: str) -> str:
    return _DECIMAL_COMMA.sub(".", text)


def _text(path: Path, fault: Fault) -> Iterator[list[Any]]:
    text = read_text(path, PAGE_BYTES, fault)
    head = text.partition("\n")[0]
    mark = max(",;\t", key=head.count)
    yield from csv.reader(io.StringIO(text), delimiter=mark)


def _workbook(path: Path, fault: Fault) -> Iterator[list[Any]]:
    content = io.BytesIO(read_bytes(path, PAGE_BYTES, fault))
    try:
        rows = _first_sheet(content)
    except (zipfile.BadZipFile, KeyError, IndexError, ValueError, OSError) as exc:
        problem = "is no workbook that can be read"
        raise InputError(Fault("file", problem, file=str(path))) from exc
    yield from map(list, rows)


def _first_sheet(content: io.BytesIO) -> list[tuple[Any, ...]]:
    """Return the rows of a workbook's first sheet, of none that unpacks to too much."""
    with zipfile.ZipFile(content) as held:
        if sum(one.file_size for one in held.infolist()) > _LARGEST_BYTES:
            raise ValueError("unpacks to too much")
    from openpyxl import load_workbook

    book = load_workbook(content, read_only=True, data_only=True)
    return list(book.worksheets[0].iter_rows(values_only=True))
