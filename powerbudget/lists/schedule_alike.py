"""Rows of a schedule that differ by name only: read once, then copied.

A schedule of 100,000 rows holds some hundred kinds of row.  A row takes part only where
its name does not bear on the answer; what was asked about the first is asked about all.
"""

from __future__ import annotations

import re
from collections.abc import Hashable
from functools import lru_cache

from powerbudget.lists.cells import Row
from powerbudget.lists.columns import Columns
from powerbudget.lists.questions import Heard, Questions
from powerbudget.lists.rows import ListedLoad
from powerbudget.lists.schedule_words import (
    CONTINGENCY,
    INVERTER,
    LOSSES,
    RESULTS,
    SOURCES,
)
from powerbudget.lists.status import NOTES, may_be_total, whole_status
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
    rules = (CONTINGENCY, INVERTER, LOSSES, RESULTS, SOURCES, NOTES, _COUNTS)
    return (
        len(plain) < 2
        or _is_total(stem)
        or may_be_total(stem, pieces=True)
        or bool(whole_status(stem))
        or any(rule.search(plain) for rule in rules)
        or bool(_COUNTS.search(stem.lower()))
    )


class AlikeLoads:
    """Remembers loads by the cells that decide about them.

    Parameters
    ----------
    columns
        Columns of the table.
    """

    def __init__(self, columns: Columns) -> None:
        names = columns.of("name", "text", "tag")
        self._name = names[0].index if names else -1
        alone = len(names) == 1 and not columns.of("detail") and names[0].field != "tag"
        self._alone = alone
        self._known: dict[Hashable, tuple[ListedLoad, tuple[Heard, ...]]] = {}

    def key(self, row: Row, rail: float) -> Hashable | None:
        """Return what decides about a row, None where its name may decide too."""
        name = row[self._name] if self._alone and self._name < len(row) else None
        if not isinstance(name, str) or _bears(_DIGITS.sub("1", name)):
            return None
        return (rail, *row[: self._name], *row[self._name + 1 :])

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
