"""A design put into a site file: its tables written or changed, comments kept."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from powerbudget.errors import Fault, InputError
from powerbudget.site.open_site import in_file
from powerbudget.site.reader import read_site_text


def with_tables(
    text: str,
    tables: Mapping[str, Mapping[str, Any]],
    path: Path | None = None,
    remark: str = "",
) -> str:
    """Return a site file with the keys of some tables set, and all else as it was.

    Parameters
    ----------
    text
        The file as it stands [TOML].
    tables
        Table to its keys and values, quantities with their unit [text].
    path
        Where the file stands, for messages and relative paths [path].
    remark
        Comment above a table that is new [text].

    Raises
    ------
    InputError
        When the result would not be a site file.
    """
    import tomlkit

    document = tomlkit.parse(text)
    for name, keys in tables.items():
        there = _there(document, name)
        if there is None:
            there = tomlkit.table()
            if remark:
                there.comment(remark)
            document.append(in_file(name), there)
        for key, value in keys.items():
            _put(there, key, value, path)
    out = tomlkit.dumps(document).rstrip("\n") + "\n"
    read_site_text(out, path)
    return out


def _there(document: Any, name: str) -> Any:
    for key in (name, in_file(name)):
        if key in document:
            return document[key]
    return None


def _put(table: Any, key: str, value: Any, path: Path | None) -> None:
    """Set one key; one that stands as a table of its own is not overwritten."""
    if isinstance(table.get(key), Mapping):
        raise InputError(
            Fault(key, "is a table of its own and is not changed", file=str(path or ""))
        )
    if table.get(key) != value:
        table[key] = value
