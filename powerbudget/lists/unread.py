"""Columns with figures that nothing is read from: known to be left alone, or asked.

No figure of a live row is dropped without a word: a column that holds figures is used,
is of a kind that never bears on watts, pieces or time, or stands in a question.
"""

from __future__ import annotations

from powerbudget.lists.columns import (
    NO_FIGURE,
    NO_INPUT,
    Columns,
    Content,
    ListColumn,
)
from powerbudget.lists.words import concepts, known, word_list, word_set, words_of

_BOTH = frozenset(
    word_list(
        "quantity power current volts duty hours price address node old hidden tag gone future "
        "operation "
        "signal io_type data_type normal supply direction protocol item remark"
    )
)
_USED = {
    "io": _BOTH | word_set("port times from to"),
    "schedule": _BOTH
    | word_set(
        "times share cycles interval days energy efficiency loss diversity contingency "
        "inrush unit spare pf mean time_unit"
    ),
}
"""Kind of table -> meanings whose cells are read, checked or asked about elsewhere."""
_BEARS = word_set(
    "quantity power watt current duty hours minutes seconds day cycles interval energy"
)
_NEVER = word_set("aside fuse price heat old date")
_ASIDE = word_set(
    "place document maker range address node network number group item tag"
)
_LEFT = 0.3
_WORDED = word_set("name text tag detail")
_MANY = 5
_OF = word_set(
    "of the to in and all operating running working installed fitted required reqd req req'd "
    "q ta ty existing new ordered per site loop system de des der die los las an benotigt requerida"
)
"""Words beside a quantity that change nothing (common practice, no source)."""


def _figures(content: Content) -> bool:
    """Return whether enough cells are numbers, or figures with their unit."""
    return max(content.numeric, content.figures, content.clocked) >= _LEFT


def left_alone(column: ListColumn) -> bool:
    """Return whether the words of a head say that its figures never bear on the loads."""
    words = words_of(column.head.text)
    said = concepts(words)
    if said & _NEVER or (len(words) > 1 and {"factor"} <= said <= {"power", "factor"}):
        return True
    return words == ["pf"] or bool(said & _ASIDE and not said & _BEARS)


def unsure_quantity(columns: Columns) -> list[ListColumn]:
    """Return quantities under a head with a word that nobody knows: "Qty of cores"."""
    return [
        column
        for column in columns.of("quantity")
        if column.evidence != "mapping"
        and not columns.of("times")
        and not all(map(_sure, words_of(column.head.text)))
    ]


def several_times(columns: Columns) -> list[ListColumn]:
    """Return the columns of one time of which a row has several, the first left out."""
    found = [
        column
        for name in ("duty", "cycles", "interval", "days")
        for column in [c for c in columns.of(name) if c.filled and not c.head.mode][1:]
    ]
    seasons = [c for c in columns.of("hours") if _SEASON & set(words_of(c.head.text))]
    return found + seasons[1:]


_SEASON = word_set(
    "summer winter wet dry sommer verano invierno ete hiver estate inverno"
)
"""Words of columns that state the time by season, of which the most counts."""


def _sure(word: str) -> bool:
    return word in _OF or word.isdigit() or known(word) or known(word.removesuffix("s"))


def _counts(content: Content, columns: Columns) -> bool:
    """Return whether a column of positions may be one of pieces instead."""
    return (
        not columns.of("quantity")
        and not columns.counts()
        and content.pieces
        and not content.rising
    )


def _beside_the_first(column: ListColumn, columns: Columns, kind: str) -> bool:
    """Return whether a power stands beside the one that a list of signals is read from."""
    first = (
        columns.first(column.field) if column.field in {"power", "current"} else None
    )
    return kind == "io" and first not in {None, column} and column.filled > 0


def unread_columns(columns: Columns, kind: str) -> list[ListColumn]:
    """Return the columns of figures that are neither used nor known to be left alone.

    Parameters
    ----------
    columns
        The columns of a table by what they mean.
    kind
        What the table is: ``io`` or ``schedule`` [text].
    """
    found = []
    used = _USED.get(kind)
    for column, content in zip(columns.all, columns.content, strict=True):
        if used is None or column.evidence in {NO_FIGURE, NO_INPUT}:
            continue
        if column.field and column.evidence == "mapping":
            continue
        if column.field == "item" and _counts(content, columns):
            found.append(column)
        if _beside_the_first(column, columns, kind):
            found.append(column)
        if column.field in _WORDED and content.numeric < _LEFT:
            # Figures among words are looked for row by row.
            continue
        words = column.field == "remark" and column.head.field != "remark"
        if (column.field in used and not words) or column.field.startswith("count:"):
            continue
        running = content.running and content.filled >= _MANY
        if _figures(content) and not running and not left_alone(column):
            found.append(column)
    twins = {c.index for c in columns.twins}
    return [c for c in found if c.index not in twins]
