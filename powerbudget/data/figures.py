"""The one loader of tables: value, low, high, unit, source and status of each figure.

A file of this folder holds tables by name; in a table a figure is
``key = { value, unit, range, status, source }``, or a list of such rows where it differs
by fuel or by size, and anything else is plain text or a list.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Literal, get_args

FOLDER = Path(__file__).parent
Status = Literal[
    "measured", "spot measurement", "published", "data sheet", "common practice",
    "user input", "unverified", "assumed", "fictitious",
]  # fmt: skip
STATUS: tuple[Status, ...] = get_args(Status)
"""Every word for what a figure stands on, in the order of trust."""
UNVERIFIED = frozenset({"spot measurement", "unverified", "assumed", "fictitious"})
"""Words of figures to be confirmed before use; one reading is no mean, nor a log."""


@dataclass(frozen=True)
class Figure:
    """One outside figure with where it comes from.

    Parameters
    ----------
    value, low, high
        The figure, and the range that its source leaves open [``unit``].
    unit
        Of all three [text].
    source, status
        Where it comes from, and a word of `STATUS` [text].
    fuel
        The fuel that it is for, empty for any [text].
    below_w, class_w
        It is for machines rated below this; it was read for a machine of this size
        [W].
    """

    value: float
    low: float
    high: float
    unit: str
    source: str
    status: str
    fuel: str = ""
    below_w: float = float("inf")
    class_w: float | None = None


@dataclass(frozen=True)
class Entry:
    """One table of a file: what it is called, its figures, its other words.

    Parameters
    ----------
    name
        Key in the file [text].
    figures
        Rows of each figure by key.
    words
        Everything else by key.
    """

    name: str
    figures: Mapping[str, tuple[Figure, ...]]
    words: Mapping[str, Any]

    @property
    def title(self) -> str:
        """Plain words for it [text]."""
        return str(self.words["title"])

    def figure(self, key: str, fuel: str = "", rated_w: float = 0.0) -> Figure:
        """Return the row of a figure that fits a fuel and a size [Figure].

        Parameters
        ----------
        key
            Name of the figure [text].
        fuel
            What is burnt; empty where that does not matter [text].
        rated_w
            Rated output of one machine [W].

        Returns
        -------
        Figure
            The first row that fits; among rows read for one size each, the nearest
            by ratio, since such figures do not rise with the size.

        Raises
        ------
        KeyError
            When the table has no such figure, or none for that fuel.
        """
        rows = [
            row
            for row in self.figures[key]
            if row.fuel in {"", fuel} and rated_w < row.below_w
        ]
        if not rows:
            raise KeyError(f"{self.name}.{key} for {fuel or 'any fuel'}")
        if rows[0].class_w is None:
            return rows[0]
        return min(rows, key=lambda row: _ratio(row.class_w or rated_w, rated_w))

    def has(self, key: str, fuel: str = "") -> bool:
        """Return whether the table has a figure, for a fuel where one is named."""
        return any(row.fuel in {"", fuel} for row in self.figures.get(key, ()))


def _ratio(one: float, other: float) -> float:
    return max(one / other, other / one)


@cache
def tables(file: str) -> dict[str, Any]:
    """Return a file of this folder as it is written.

    Parameters
    ----------
    file
        Its name without the ending [text].
    """
    with (FOLDER / f"{file}.toml").open("rb") as stream:
        return tomllib.load(stream)


@cache
def entries(file: str) -> Mapping[str, Entry]:
    """Return the tables of a file of this folder by name [Entry].

    Parameters
    ----------
    file
        Its name without the ending [text].

    Raises
    ------
    ValueError
        When a figure lacks its unit, source or status, or lies outside its range.

    Examples
    --------
    >>> entries("fuels")["propane"].figure("regulator_drop_kpa").value
    25.0
    """
    return {name: _entry(file, name, table) for name, table in tables(file).items()}


def _entry(file: str, name: str, table: dict[str, Any]) -> Entry:
    figures: dict[str, tuple[Figure, ...]] = {}
    words: dict[str, Any] = {}
    for key, held in table.items():
        rows = held if isinstance(held, list) else [held]
        if all(isinstance(row, dict) for row in rows):
            where = f"{file}.toml, {name}.{key}"
            figures[key] = tuple(_figure(where, row) for row in rows)
        else:
            words[key] = held
    return Entry(name, figures, words)


def _figure(where: str, row: dict[str, Any]) -> Figure:
    given = dict(row)
    low, high = given.pop("range", (row["value"], row["value"]))
    if not low <= row["value"] <= high:
        raise ValueError(f"{where}: {row['value']} is not from {low} to {high}")
    if row.get("status") not in STATUS or not row.get("source"):
        raise ValueError(f"{where}: needs a source, and a status of {STATUS}")
    for key in ("value", "below_w", "class_w"):
        if key in given:
            given[key] = float(given[key])
    return Figure(low=float(low), high=float(high), **given)
