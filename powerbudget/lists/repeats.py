"""Cells that lean on others: ditto marks, and tags that are split over columns."""

from __future__ import annotations

import re
from dataclasses import replace

from powerbudget.lists.cells import Value
from powerbudget.lists.columns import MOSTLY
from powerbudget.lists.row_cells import cell_at, text_of
from powerbudget.lists.signals import stated_kinds
from powerbudget.lists.tables import ListTable
from powerbudget.lists.words import concepts, words_of

_DITTO = re.compile(
    r"\s*-?\s*(?:[\"\u2033\u3003\u201c-\u201e]|''|,,|[Dd]o\.|do(?=\s*-)|"
    r"[Dd]it?to\.?|DITTO|[Dd]to\.?|[Ii\u00ed]dem)\s*-?\s*"
)
"""Marks for "as above" (common practice, no source); "DO" is a discrete output."""
_LETTERS = re.compile(r"[A-Z]{1,5}")
_NUMBER = re.compile(r"\d{2,5}[A-Z]?")
_OPEN = frozenset({"", "tag", "type", "text", "name", "item"})
"""Meanings of heads under which letters of tags can stand: no supply, duty or unit."""
_AREA = re.compile(r"\w{1,5}")


def fill_ditto(table: ListTable) -> list[int]:
    """Put the cell above in place of each ditto mark; return the numbers of such rows."""
    found: list[int] = []
    above: list[Value] = []
    cells = set[Value]().union(*table.rows())
    marks = {c for c in cells if isinstance(c, str) and _DITTO.fullmatch(c)}
    for number, row in enumerate(table.rows() if marks else (), table.first + 1):
        for k, cell in enumerate(row):
            if cell in marks and cell_at(above, k) is not None:
                row[k] = above[k]
                found.append(number)
        above = row if len(row) - row.count(None) > 1 else above
    return sorted(set(found))


def join_tags(table: ListTable) -> bool:
    """Join tags whose letters and numbers stand in columns of their own, area before them.

    Returns
    -------
    bool
        Whether the tags were split: the column of letters then holds whole tags.
    """
    at = next((k for k in range(len(table.heads) - 1) if _splits(table, k)), None)
    if at is None:
        return False
    area = at > 0 and table.heads[at - 1].field == "group"
    area = area and _mostly(table, at - 1, _AREA)
    for row in table.rows():
        parts = [text_of(cell_at(row, k)) for k in (at - 1, at, at + 1)[not area :]]
        if _LETTERS.fullmatch(parts[-2]) and _NUMBER.fullmatch(parts[-1]):
            row[at] = "-".join(filter(None, parts))
    table.heads[at] = replace(table.heads[at], field="tag")
    return True


def _splits(table: ListTable, at: int) -> bool:
    """Return whether a column holds letters of tags and the next one their numbers."""
    others = (h.field for k, h in enumerate(table.heads) if k not in {at, at + 1})
    numbered = "number" in concepts(words_of(table.heads[at + 1].text))
    numbered = numbered or table.heads[at + 1].field == "tag"
    named = table.heads[at].field in _OPEN
    if (
        "tag" in others
        or not (numbered and named)
        or not _mostly(table, at + 1, _NUMBER)
    ):
        return False
    letters = {text_of(cell_at(row, at)) for row in table.rows()} - {""}
    kinds = sum(bool(stated_kinds(text)) or len(text) < 2 for text in letters)
    return (
        _mostly(table, at, _LETTERS) and len(letters) > 1 and 2 * kinds < len(letters)
    )


def _mostly(table: ListTable, at: int, rule: re.Pattern[str]) -> bool:
    rows = (row for row in table.rows() if len(row) - row.count(None) > 2)
    cells = [text for row in rows if (text := text_of(cell_at(row, at)))]
    fit = sum(bool(rule.fullmatch(text)) for text in cells)
    return len(cells) > 1 and fit >= MOSTLY * len(cells)
