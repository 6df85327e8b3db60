"""Rows of a schedule that differ by name only: read once, then copied.

A schedule of 100,000 rows holds some hundred kinds of row.  A row takes part only where
its name does not bear on the answer; what was asked about the first is asked about all.
"""

from __future__ import annotations

import re
from collections.abc import Hashable
from functools import lru_cache

from powerbudget.lists.cells import Row, Value
from powerbudget.lists.columns import Columns
from powerbudget.lists.figures import others
from powerbudget.lists.io_points import several_names
from powerbudget.lists.questions import Heard, Questions
from powerbudget.lists.row_cells import text_of
from powerbudget.lists.rows import ListedLoad
from powerbudget.lists.schedule_words import (
    BY_TURNS,
    CONTINGENCY,
    INCL_INVERTER,
    INVERTER,
    LOSSES,
    RESULTS,
    SOURCES,
)
from powerbudget.lists.status import NOTES, may_be_total, row_status, whole_status
from powerbudget.lists.status import is_total as _is_total
from powerbudget.lists.words import folded

_DIGITS = re.compile(r"\d+")
_COUNTS = re.compile(r"\(.*\d|^\d|\d ?(?:v|x|×|%|off|nos?)\b")
"""Figures of a name that are read: volts, pieces, shares."""
_MOST = 5000


@lru_cache(maxsize=16384)
def _bears(stem: str) -> bool:
    """Return whether the words of a name bear on what its row is or draws."""
    plain = folded(stem)
    rules = (CONTINGENCY, INVERTER, LOSSES, RESULTS, SOURCES, NOTES, BY_TURNS, _COUNTS)
    return (
        len(plain) < 2
        or _is_total(stem)
        or may_be_total(stem, pieces=True)
        or bool(whole_status(stem))
        or any(rule.search(plain) for rule in rules)
        or bool(_COUNTS.search(stem.lower()))
    )


_SAYS = re.compile(
    r"[%/]|\d ?[a-z]|[a-z]\d|per |qty|x \d|\d x|intermittent|"
    r"stroke|cycle|demand|when |only |duty|time|" + BY_TURNS.pattern
)
_TAG = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]*")


@lru_cache(maxsize=16384)
def _remark_bears(stem: str) -> bool:
    """Return whether the words of a remark may bear on what its row draws."""
    plain = folded(stem)
    found = _SAYS.search(plain) or row_status(stem) or others(stem)
    return bool(found or INCL_INVERTER.search(plain))


def _plain_tag(cell: Value) -> bool:
    """Return whether a cell is a tag of one device, which tells nothing more."""
    if isinstance(cell, str):
        return bool(_TAG.fullmatch(cell)) and several_names(cell) == 1
    return isinstance(cell, float)


class AlikeLoads:
    """Remembers loads by the cells that decide about them.

    Parameters
    ----------
    columns
        Columns of the table.
    """

    def __init__(self, columns: Columns) -> None:
        names = columns.of("name", "text")
        self._name = names[0].index if names else -1
        tags = columns.of("tag", "item")
        self._tag = next((c.index for c in tags if c.field == "tag"), -1)
        self._tags = [c.index for c in tags]
        self._remarks = [c.index for c in columns.of("remark")]
        alone = len(names) == 1 and not columns.of("detail")
        self._alone = alone and len(tags) < 3
        self._known: dict[Hashable, tuple[ListedLoad, tuple[Heard, ...]]] = {}

    def key(self, row: Row, rail: Hashable) -> Hashable | None:
        """Return what decides about a row, None where its name may decide too."""
        name = row[self._name] if self._alone and self._name < len(row) else None
        if not isinstance(name, str) or _bears(_DIGITS.sub("1", name)):
            return None
        if not (self._tags or self._remarks):
            return (rail, *row[: self._name], *row[self._name + 1 :])
        if len(row) - row.count(None) < 3:
            return None
        deciding = list(row)
        deciding[self._name] = None
        for k in self._tags:
            if k < len(row) and row[k] is not None:
                if not _plain_tag(row[k]):
                    return None
                deciding[k] = True
        for k in self._remarks:
            cell = row[k] if k < len(row) else None
            if isinstance(cell, str):
                stem = _DIGITS.sub("9", cell)
                deciding[k] = cell if _remark_bears(stem) else True
        return (rail, *deciding)

    def load(
        self, key: Hashable, row: Row, number: int, asked: Questions
    ) -> ListedLoad | None:
        """Return the load of a row like one that was read before, or None."""
        found = self._known.get(key)
        if found is None:
            return None
        like, heard = found
        load = object.__new__(ListedLoad)
        load.__dict__.update(like.__dict__)
        load.row, load.name, load.assumed = number, str(row[self._name]), []
        if 0 <= self._tag < len(row):
            load.tag = text_of(row[self._tag])
        for one in heard:
            name = load.name + one.name.removeprefix(like.name)
            asked.ask(one.cause, load.sheet, number, name, weight=one.weight)
        return load

    def keep(self, key: Hashable, load: ListedLoad, heard: list[Heard]) -> None:
        """Remember a load of which nothing was assumed, with what was asked about it."""
        own = all(
            h.row == load.row and h.name.startswith(load.name) and not h.what
            for h in heard
        )
        if own and len(self._known) < _MOST and not load.assumed:
            self._known[key] = load, tuple(heard)
