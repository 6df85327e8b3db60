"""Rows that differ by tag and description only: read once, then counted.

A list of 100,000 rows holds a few hundred kinds of row.  A row takes part only where
neither its tag nor its description bears on the answer; what was asked about the first
is asked about all.
"""

from __future__ import annotations

import re
from collections.abc import Hashable
from functools import lru_cache

from powerbudget.lists.cells import Row
from powerbudget.lists.columns import Columns
from powerbudget.lists.io_questions import FUTURE
from powerbudget.lists.io_watts import telling
from powerbudget.lists.questions import Heard, Questions
from powerbudget.lists.rows import ListLine
from powerbudget.lists.signals import fails_to
from powerbudget.lists.status import (
    is_spare_tag,
    is_total,
    mark_in,
    row_status,
    whole_status,
)
from powerbudget.lists.words import bare_letters

_PLAIN_TAG = re.compile(r"[A-Za-z0-9][A-Za-z0-9_.-]*\d[A-Za-z0-9_.-]*")
ASIDE = {
    "tag",
    "text",
    "name",
    "item",
    "other",
    "group",
    "hidden",
    "old",
    "price",
    "date",
    "",
}
"""Meanings of columns that tell nothing about the points and the power of a row."""


@lru_cache(maxsize=16384)
def _bears(text: str) -> bool:
    """Return whether a description, each number one digit, bears on its row or draw."""
    return bool(
        _DIGIT_TELLS.search(text)
        or whole_status(text)
        or mark_in(text)
        or fails_to(text)
        or is_total(text)
        or telling(text)
        or FUTURE.search(text.lower())
    )


_DIGITS = re.compile(r"\d+")
_DIGIT_TELLS = re.compile(r"phase.*9", re.IGNORECASE | re.DOTALL)
"""Before it a number tells: phase 2 is to come, phase 1 is not."""


_TELLS = re.compile(
    r"\bwas\b|former|previous|\bex\b|replac|renam|antes|vormals|ersetzt|fruher|"
    r"wire|hilos|leiter|dmu|loop|active|passive|mains|extern|separate|self|fils|powered|"
    r"rtd|pt ?-?\d|thermo|transm|kopf|energ|excit|normal|strom|puls|gezog|gefall|alarm|horn|"
    r"beacon|siren|strob|buzz|sounder|hupe|blitz|bocina|baliza|zumb|klaxon|dry|contact|kontakt|"
    r"contatto|free|frei|prox|p-?n-?p|n-?p-?n|n[./]?[oc]\b|\bf[- /.]?[ocl]\b|\bsec\b|button|"
    r"switch|sensor|"
    r"detector|photo|inductive|electronic|radar|ultraso|capacit|naherung|lichtschranke|"
    r"libre|fail|[%/]|\d ?[a-zµ]"
)
"""A quick look at remarks, most of which tell nothing of signal, state and draw."""


@lru_cache(maxsize=16384)
def _tells(stem: str) -> bool:
    """Return whether a remark bears on what its row is, is fed by, or draws."""
    return bool(_TELLS.search(bare_letters(stem)) or row_status(stem))


class AlikeRows:
    """Remembers lines by the cells that decide about them.

    Parameters
    ----------
    columns
        Columns of the table.
    """

    def __init__(self, columns: Columns) -> None:
        tags, texts = columns.of("tag"), [*columns.of("text"), *columns.of("name")]
        self._tag = tags[0].index if len(tags) == 1 else -1
        self._text = texts[0].index if texts else -1
        self._deciding = [c.index for c in columns.all if c.field not in ASIDE]
        remarks = {c.index for c in columns.of("remark")}
        self._remarks = [n for n, k in enumerate(self._deciding) if k in remarks]
        self._last = max(self._tag, self._text, *self._deciding)
        self._blank = [None] * (self._last + 1)
        self._known: dict[Hashable, tuple[ListLine, tuple[Heard, ...]]] = {}

    def key(self, row: Row, place: str) -> Hashable | None:
        """Return what decides about a row, None where its words may decide too."""
        row = row if len(row) > self._last else [*row, *self._blank]
        tag = row[self._tag] if self._tag >= 0 else None
        text = row[self._text] if self._text >= 0 else None
        if (
            not isinstance(tag, str)
            or not _PLAIN_TAG.fullmatch(tag)
            or is_spare_tag(tag)
        ):
            return None
        if text is not None and (
            not isinstance(text, str) or _bears(_DIGITS.sub("9", text))
        ):
            return None
        cells = [row[k] for k in self._deciding]
        for k in self._remarks:
            cell = cells[k]
            if isinstance(cell, str) and not _tells(_DIGITS.sub("9", cell)):
                cells[k] = None
        return (place, *cells)

    def line(
        self, key: Hashable, row: Row, number: int, asked: Questions
    ) -> ListLine | None:
        """Return the line of a row like one that was read before, or None."""
        found = self._known.get(key)
        if found is None:
            return None
        like, heard = found
        for one in heard:
            name = str(row[self._tag]) + one.name.removeprefix(like.tag)
            asked.ask(one.cause, like.sheet, number, name, weight=one.weight)
        text = row[self._text] if 0 <= self._text < len(row) else None
        return ListLine(
            like.sheet, number, like.kind, str(row[self._tag]), str(text or ""), like.points,
            like.typical_w, like.maximum_w, like.signal, like.supply, like.state, like.port,
            like.quantity, like.amps, like.duty_frac,
            like.volts,
        )  # fmt: skip

    def keep(self, key: Hashable, line: ListLine, heard: list[Heard]) -> None:
        """Remember a line with what was asked about it by its tag."""
        own = all(
            h.row == line.row
            and line.tag
            and h.name.startswith(line.tag)
            and not h.what
            for h in heard
        )
        if own and len(self._known) < 5000:
            self._known[key] = line, tuple(heard)
