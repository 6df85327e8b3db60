"""Answers of online services, kept on disk."""

from __future__ import annotations

import io
import json
import os
from pathlib import Path
from typing import Any

import numpy as np

from powerbudget.errors import DataError, Fault, InputError
from powerbudget.files import CACHE_VARIABLE
from powerbudget.weather.raw import RawTable

_KEPT = (
    "name", "source", "label", "latitude_deg", "longitude_deg", "elevation_m",
    "clock_offset_h", "utc_offset_h", "start_shift_h", "sun_offset_h", "typical",
)  # fmt: skip


def keep(table: RawTable, path: Path) -> None:
    """Write an answer to the cache, whole or not at all.

    Parameters
    ----------
    table
        The rows [table].
    path
        Where to [path].

    Raises
    ------
    InputError
        When the folder cannot be written.
    """
    head = json.dumps({name: getattr(table, name) for name in _KEPT})
    partial = path.with_suffix(f".{os.getpid()}.part.npz")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        parts: dict[str, Any] = {
            f"column_{name}": values for name, values in table.columns.items()
        }
        stamp = table.stamp.astype(np.int64)
        np.savez_compressed(partial, head=np.array(head), stamp=stamp, **parts)
        partial.replace(path)
    except OSError as exc:
        raise InputError(
            Fault(
                "cache",
                f"cannot be written ({exc.strerror})",
                str(path.parent),
                advice=f"set {CACHE_VARIABLE} to a folder that can",
            )
        ) from exc


def kept(path: Path) -> RawTable:
    """Return an answer from the cache [table].

    Parameters
    ----------
    path
        Written by `keep` [path].

    Returns
    -------
    RawTable
        The same rows [table].

    Raises
    ------
    DataError
        When the file is damaged.
    """
    try:
        with np.load(io.BytesIO(path.read_bytes()), allow_pickle=False) as store:
            head = json.loads(str(store["head"]))
            columns = {
                name.removeprefix("column_"): store[name]
                for name in store.files
                if name.startswith("column_")
            }
            stamp = store["stamp"].astype("datetime64[s]")
    except Exception as exc:
        raise DataError(
            f"{path}: the kept answer cannot be read; delete it and fetch again"
        ) from exc
    return RawTable(**head, stamp=stamp, columns=columns)
