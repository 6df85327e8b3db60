"""Where tables begin and end on a sheet: rows of heads, titles above, notes below."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from powerbudget.lists.cells import ClientSheet, Row, Value
from powerbudget.lists.figures import cell_number
from powerbudget.lists.heads import PORT, UNITS, Head, is_unit_cell, read_head
from powerbudget.lists.signals import stated_kinds
from powerbudget.lists.words import folded, known, mode_of, word_set, words_of

LOOK_FOR_HEADS = 200
_TAGGED = re.compile(
    r"^\d{0,4}[-_]?[A-Z]{1,5}[-_]\d+[A-Z]?(?:[-_][A-Z]{1,4}\d?)?$|^[A-Z]{1,4}\d{3,}$|^[IOQMEA]%?\d+[.:/]"
)
"""Tags and addresses: a row that holds one is data, not heads."""
NAMING = {"tag", "text", "name", "address", "item", "group", "type", "detail", "power?"}


@dataclass
class ListTable:
    """One table of a sheet; rows count from 0.

    Parameters
    ----------
    sheet
        The sheet that holds it.
    head_rows
        Rows of its heads; empty for a table without heads.
    heads
        Head of each column.
    first, last
        First row of data, and the row after the last.
    above
        Texts of the rows between the table before and its heads, nearest last.
    beside
        Whether another table stands in the same rows; cells of others are blank then.
    """

    sheet: ClientSheet
    head_rows: list[int]
    heads: list[Head]
    first: int
    last: int
    above: list[str] = field(default_factory=list)
    beside: bool = False

    def rows(self) -> Sequence[Row]:
        """Return the rows of data."""
        return self.sheet.rows[self.first : self.last]


def find_tables(sheet: ClientSheet) -> list[ListTable]:
    """Return the tables of a sheet from top to bottom, each up to the next one's heads."""
    starts: list[tuple[list[int], list[Head]]] = []
    index, rows = 0, sheet.rows
    known: frozenset[str] = frozenset()
    while index < len(rows):
        if not _worth_a_look(sheet, index, known):
            index += 1
            continue
        found = _heads_at(sheet, index)
        if found is None:
            index += 1
            continue
        if starts and _repeats(found[1], starts[-1][1]):
            index = found[0][-1] + 1
            continue
        starts.append(found)
        known = head_texts(found[1]) if _useful(found[1]) else frozenset()
        index = found[0][-1] + 1
    tables, before = [], 0
    for number, (head_rows, heads) in enumerate(starts):
        after = starts[number + 1][0][0] if number + 1 < len(starts) else len(rows)
        first = head_rows[-1] + 1
        above = [
            _line(row) for row in rows[max(before, head_rows[0] - 6) : head_rows[0]]
        ]
        table = ListTable(
            sheet, head_rows, heads, first, after, [a for a in above if a]
        )
        tables += _side_by_side(table, before)
        before = first
    return tables


def _side_by_side(table: ListTable, before: int) -> list[ListTable]:
    """Return the tables that stand beside each other under one row of heads, or the one."""
    spans = _spans_of_heads(table.heads)
    if len(spans) < 2:
        return [table]
    if any(
        row[gap] is not None
        for (_, end), (start, _) in pairwise(spans)
        for gap in range(end, start)
        for row in table.rows()
        if gap < len(row)
    ):
        return [table]
    found = []
    for low, high in spans:
        rows = [
            [cell if low <= k < high else None for k, cell in enumerate(row)]
            for row in table.sheet.rows
        ]
        top = table.head_rows[0]
        above = [_line(row) for row in rows[max(before, top - 6) : top]]
        heads = [
            head if low <= k < high else Head() for k, head in enumerate(table.heads)
        ]
        found.append(
            replace(
                table,
                sheet=replace(table.sheet, rows=rows),
                heads=heads,
                above=[text for text in above if text],
                beside=True,
            )
        )
    return found


def _spans_of_heads(heads: list[Head]) -> list[tuple[int, int]]:
    """Return first and last column but one of tables beside each other, none for one.

    They are parted by a blank head, or the first head and all after it come again; each
    names things and holds a figure or a signal of its own.
    """
    texts = [head.text for head in heads]
    starts = [
        k
        for k, text in enumerate(texts)
        if text and (not k or not texts[k - 1] or text == texts[0])
    ]
    ends = [*starts[1:], len(heads)]
    spans = []
    for low, high in zip(starts, ends, strict=True):
        last = max(k for k in range(low, high) if texts[k]) + 1
        first, *others = [h.field for h in heads[low:last] if h.text]
        named = _NAMES.intersection((first, *others)) or first == "power?"
        if not (named and {*_FIGURES, *_SIGNALS}.intersection(others)):
            return []
        spans.append((low, last))
    return spans


_FIGURES = {"power", "power?", "current", "energy"}
_SIGNALS = {"io_type", "signal", "type"}
_NAMES = {"tag", "text", "name", "device"}


def _line(row: Row) -> str:
    return " ".join(str(cell) for cell in row if isinstance(cell, str))


def _worth_a_look(sheet: ClientSheet, index: int, known: frozenset[str]) -> bool:
    """Return whether a row can be heads: all rows down to the first table, few below.

    Inside a table heads follow a row that is blank or a title, or say again what stood
    above: a row of data full of common words must not begin a table of its own.
    """
    if not known:
        return index < LOOK_FOR_HEADS
    before = sheet.rows[index - 1]
    if len(before) - before.count(None) <= 1:
        return True
    return is_repeated_head(sheet.rows[index], known)


_USEFUL = {
    "io_type",
    "signal",
    "type",
    "address",
    "power",
    "power?",
    "current",
    "protocol",
    "energy",
    "supply",
}


def _useful(heads: list[Head]) -> bool:
    """Return whether heads are those of a list, not of a title block."""
    return any(h.field in _USEFUL or h.field.startswith("count:") for h in heads)


def _repeats(heads: list[Head], before: list[Head]) -> bool:
    return [h.text for h in heads if h.text] == [h.text for h in before if h.text]


def head_texts(heads: list[Head]) -> frozenset[str]:
    """Return the texts of heads, those over two rows by row."""
    return frozenset(
        part
        for head in heads
        if head.text
        for part in (head.text, *head.text.split(" | "))
    )


def is_repeated_head(row: Row, heads: frozenset[str]) -> bool:
    """Return whether a row says the heads again: most of its cells are heads."""
    same = len(heads.intersection(row))
    return same >= 2 and same >= 0.6 * len({c for c in row if c is not None})


def _is_head_word(text: str) -> bool:
    """Return whether most words of a cell are words of heads."""
    words = words_of(text)
    if not words or len(words) > 9:
        return False
    if is_unit_cell(text):
        return True
    head = read_head(text)
    if head.field.startswith("count:"):
        return not re.search(r"\d", text) or len(words) > 2
    named = sum(known(word) or len(word) < 2 or word in _LITTLE for word in words)
    return bool(head.field or head.mode) and named >= 0.5 * len(words)


_LITTLE = word_set("of in per at the for by de del la der des y and")


def _texts(row: Row) -> list[tuple[int, str]]:
    return [(k, c) for k, c in enumerate(row) if isinstance(c, str)]


def _numbers(row: Row) -> int:
    return sum(
        isinstance(c, float | bool)
        or cell_number(c) is not None
        or (isinstance(c, str) and bool(_FIGURE.match(c)))
        for c in row
    )


_FIGURE = re.compile(
    r"\s*[<>~]?\s*\d+(?:[.,]\d+)? ?(?:mW|kW|W|mA|A)\b(?! ?[/-] ?\d ?W\b)"
)
"""A draw with its unit, which stands among data and not among heads."""


def _heads_at(sheet: ClientSheet, index: int) -> tuple[list[int], list[Head]] | None:
    """Return the heads that begin in a row, over one to three rows, or None."""
    rows = sheet.rows
    top = rows[index]
    if (
        (len(_texts(top)) < 2 and not _lone_group(sheet, index))
        or _numbers(top)
        or any(_TAGGED.match(t) and not PORT.fullmatch(t) for _, t in _texts(top))
    ):
        return None
    if _is_title(sheet, index):
        return None
    own = [_is_head_word(text) for _, text in _texts(top)]
    strong = _strong([read_head(text) for _, text in _texts(top)])
    if not (sum(own) >= 2 and sum(own) >= 0.5 * len(own) and strong):
        below = rows[index + 1] if index + 1 < len(rows) else []
        # A row of groups alone is heads only above a row of heads.
        kinds = len(_texts(below)) > 2 and _only_kinds(below, top)
        if not (kinds or (_spans(sheet, index) and _is_heads(below, top))):
            return None
    used = [index]
    heads = [_text(cell) for cell in top]
    for lower in (index + 1, index + 2):
        if lower >= len(rows) or not _is_lower(sheet, used[-1], lower):
            break
        heads = _joined(sheet, used[-1], heads, rows[lower])
        used.append(lower)
    return used, [_meaning(text) for text in heads]


_OF_PAPER = re.compile(
    r"(?:rev(?:ision|isao|isione)?|issue|indice|stand|date|datum|fecha|sheet|page|blatt|hoja|"
    r"doc\w*|dwg|drawing|job|project|plano|folio)\b[ .:#n°o-]*\S"
)
"""A mark of the paper with its value: "Rev C", "Sheet 1 of 2"."""


def _is_title(sheet: ClientSheet, index: int) -> bool:
    """Return whether a row is the title right above the heads: it bears its revision."""
    texts = _texts(sheet.rows[index])
    below = sheet.rows[index + 1] if index + 1 < len(sheet.rows) else []
    return (
        len(texts) <= 3 < len(_texts(below))
        and any(_OF_PAPER.match(folded(text)) for _, text in texts)
        and _is_heads(below)
    )


def _is_heads(row: Row, groups: Sequence[Value] = ()) -> bool:
    """Return whether most texts of a row are words of heads, alone or under their groups."""
    texts = _texts(row)
    if len(texts) < 2 or _numbers(row):
        return False
    own = [_is_head_word(t) or _kind_below(_group(groups, k), t) for k, t in texts]
    return sum(own) >= 0.6 * len(own) and _strong([read_head(t) for _, t in texts])


def _strong(heads: list[Head]) -> bool:
    fields = {head.field for head in heads if head.field}
    if fields & {"power", "current"} and len(fields) > 2:
        return True
    if sum(head.field == "power?" for head in heads) > 1:
        # "Load" names what draws beside "Typical consumption".
        return True
    return (
        bool(fields & NAMING) and len(fields | {h.mode for h in heads if h.mode}) >= 2
    )


def _text(cell: Value) -> str:
    return " ".join(cell.split()) if isinstance(cell, str) else ""


def _spans(sheet: ClientSheet, index: int) -> bool:
    """Return whether cells of a row are merged over several columns."""
    return any(a <= index <= c and d > b for a, b, c, d in sheet.merged)


def _lone_group(sheet: ClientSheet, index: int) -> bool:
    """Return whether the one text of a row is merged over some of the heads below it."""
    below = sheet.rows[index + 1] if index + 1 < len(sheet.rows) else []
    filled = [k for k, cell in enumerate(below) if cell is not None]
    spans = [(b, d) for a, b, c, d in sheet.merged if a == c == index and d > b]
    return len(spans) == 1 and _is_heads(below) and filled[0] < spans[0][0]


def _kind_below(group: str, text: str) -> bool:
    """Return whether a group and the word under it name one kind: Inputs, Analog."""
    both = len(stated_kinds(f"{group} {text}")) == 1
    return both and not stated_kinds(group) and not stated_kinds(text)


def _group(above: Sequence[Value], column: int) -> str:
    """Return the nearest text of a row at a column or left of it: its group [text]."""
    left = (cell for cell in reversed(above[: column + 1]) if cell is not None)
    return _text(next(left, None))


def _is_lower(sheet: ClientSheet, upper: int, index: int) -> bool:
    """Return whether a row goes on with the heads above it."""
    row = sheet.rows[index]
    texts = _texts(row)
    if not texts or _numbers(row):
        return False
    if _only_units(row):
        return True
    above = sheet.rows[upper]
    if _only_units(above):
        return False
    if _only_kinds(row, above):
        return True
    like = sum(
        _is_head_word(text)
        or bool(mode_of(words_of(text)) or read_head(text).reading)
        or _kind_below(_group(above, k), text)
        for k, text in texts
    )
    head_like = like >= 0.6 * len(texts) and all(len(text) < 25 for _, text in texts)
    under_blank = any(k >= len(above) or above[k] is None for k, _ in texts)
    merged_down = any(
        a <= upper and c >= index and c > a for a, _, c, _ in sheet.merged
    )
    return head_like and (under_blank or merged_down)


_PIECES = re.compile(r"[-]|text|nos?|nr|pcs?|ea(?:ch)?|qty|stk?|pieces|count|u")


def _only_units(row: Row) -> bool:
    """Return whether a row holds units, and words for pieces or text, and nothing else."""
    texts = [text for _, text in _texts(row)]
    units = [text for text in texts if is_unit_cell(text)]
    rest = (text for text in texts if text not in units)
    return bool(units) and all(
        _PIECES.fullmatch(folded(text).strip(".[]")) for text in rest
    )


def _only_kinds(row: Row, above: Row) -> bool:
    """Return whether a row names kinds of signal under heads, its first column blank."""
    texts = [text for _, text in _texts(row)]
    first = next((k for k, cell in enumerate(above) if cell is not None), 0)
    blank = first >= len(row) or row[first] is None
    return blank and len(texts) > 1 and all(_names_kind(text) for text in texts)


def _names_kind(text: str) -> bool:
    return len(text) < 12 and len(stated_kinds(text)) == 1


def _joined(sheet: ClientSheet, upper: int, heads: list[str], lower: Row) -> list[str]:
    """Return heads over two rows: the group's words go with each head under it."""
    width = max(len(heads), len(lower))
    out, group, reach = [], "", -1
    merges = {b: d for a, b, c, d in sheet.merged if a <= upper <= c and d > b}
    for column in range(width):
        top = heads[column] if column < len(heads) else ""
        sub = _text(lower[column]) if column < len(lower) else ""
        if top:
            group, reach = top, merges.get(column, -1 if sheet.merged else width)
        above = top or (group if sub and column <= reach else "")
        if not sub:
            out.append(top)
            continue
        out.append(f"{above} | {sub}" if above else sub)
    return out


_KINDS = {"A": "analog", "D": "digital"}


def _meaning(text: str) -> Head:  # noqa: PLR0911 - a ladder of groups and heads
    """Return the meaning of a head, its group's words taken where it needs them."""
    if " | " not in text:
        return read_head(text)
    parts = text.split(" | ")
    if parts[-1] in _KINDS and stated_kinds(f"{parts[-2]} {_KINDS[parts[-1]]}"):
        # A and D under "Inputs" are its kinds.
        parts[-1] = _KINDS[parts[-1]]
    whole, own = read_head(" ".join(parts)), read_head(parts[-1])
    if whole.field == "quantity" and own.field.startswith("count:"):
        # "ea" under "Qty" is each, not an analog input.
        return replace(whole, text=text)
    if is_unit_cell(parts[-1]):
        group = read_head(" ".join(parts[:-1]))
        if own.unit == "min" and UNITS.get(group.unit, ("",))[0] in {
            "power",
            "current",
        }:
            # Beside "typ" and "max" it is the lowest draw, not minutes.
            return replace(group, field="other", text=text)
        if group.field in {"power", "current"} and own.field in {"hours", "energy"}:
            # "AC loads 230 V" over "h/day" is a group of columns, no draw.
            return replace(own, mode=whole.mode, text=text)
        if group.field in {"", "power?", "mode"} or own.field in {"power", "current"}:
            keep = "inrush" if group.field == "inrush" else own.field or whole.field
            return replace(whole, field=keep or whole.field, text=text)
        return replace(group, unit=own.unit or group.unit, text=text)
    if (
        own.field
        and whole.field != own.field
        and own.field not in {"type", "status", "item"}
    ):
        return replace(
            own, mode=whole.mode, reading=own.reading or whole.reading, text=text
        )
    return replace(whole, text=text)
