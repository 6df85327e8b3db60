"""How many points a row of a signal list has: stated, counted, or one a column."""

from __future__ import annotations

import math
import re

from powerbudget.lists.cells import Row
from powerbudget.lists.columns import Columns
from powerbudget.lists.figures import cell_number, pieces, pieces_at_least
from powerbudget.lists.io_signal import Said, read_points
from powerbudget.lists.io_status import NO, YES
from powerbudget.lists.questions import Questions
from powerbudget.lists.row_cells import RowCells, cell_at, text_of
from powerbudget.lists.signals import UNUSED, kind_of_tag
from powerbudget.lists.status import is_spare_tag
from powerbudget.lists.words import folded, word_set, words_of
from powerbudget.quantities import count

_NAMES = re.compile(r"[,;/&+\n]")
_PARTS = re.compile(r"[A-Za-z0-9]\s*(?:,|/|&| and | und | y )\s*[A-Za-z0-9]")
_PART = re.compile(
    r"[A-Za-z]{1,5}[-_ ]?\d*[A-Za-z]?|\d{0,4}[A-Za-z]?|[A-Za-z]{0,6}[-_ ]?\d+\w*"
)
_TICKS = YES | {"•", "*", "✓", "✔", "√"}
_SPREAD = re.compile(
    r"(\d{1,5})[A-Za-z]?\s*(?:\bto\b|\bthru\b|\bthrough\b|\bbis\b|\.\.+|…|~)\s*"
    r"(?:[A-Za-z]{1,5}[-_ ]?)?(\d{1,5})[A-Za-z]?$",
    re.IGNORECASE,
)
_TIMES = re.compile(r"\((?:[x×] ?(\d{1,2})|(\d{1,2}) ?(?:[x×]|off|nos?\.?))\)$")
"""Pieces behind a tag: "ZS-1 (x2)"."""
_LETTERS = re.compile(r"\d ?([A-H]) ?[-–] ?([A-H])$")
"""Letters behind a number: "LS-101A-C"."""
MOST_SPREAD = 100
_SLASHED = re.compile(
    r"\b(?:c/w|w/o?|i/[opj]|n/[oc]|a/c|p/[bp]|u/s|d/s|h/w|s/w|t/c|l/r|m/c|s/d|a/m|and/or)\b",
    re.IGNORECASE,
)
"""Abbreviations with a slash, which name no two things (common practice, no source)."""
_FROM_TO = re.compile(r"\s*(\d{1,3})\s*(?:-|–|to|\.\.+|bis)\s*(\d{1,3})\s*")
_CHANNELS = word_set("ch chan channel channels kanal kanale canal canales voie")
"""Words of heads over channels of a card; terminals come in pairs and tell no points."""
Counted = tuple[dict[str, int], str, list[str]]
"""Points of one piece, what the row is without any, and causes of questions."""


class PointCounter:
    """Counts the points of the rows of one table.

    Parameters
    ----------
    columns, cells
        The columns, and how a row is read.
    asked, sheet
        Where questions go, and the name of the sheet.
    comma
        Whether the list writes decimal commas.
    words
        Kinds of signals that a mapping confirmed, by folded text [text].
    """

    def __init__(
        self,
        columns: Columns,
        cells: RowCells,
        asked: Questions,
        sheet: str,
        *,
        comma: bool | None,
        words: dict[str, str],
    ) -> None:
        self.cells, self.asked, self.sheet = cells, asked, sheet
        self.comma, self.words = comma, words
        self.several = columns.several
        self.counts = columns.counts()
        self.wide, self.totals = len(self.counts) >= 2, columns.totals
        heads = ((c.index, set(words_of(c.head.text))) for c in columns.all)
        self._ch = [k for k, words in heads if words & _CHANNELS]

    def points(self, row: Row, said: Said, tag: str, number: int) -> Counted:
        """Return the points of one piece of a row."""
        if self.wide:
            return self._counted(row, tag, number)
        if self.several:
            return self._one_by_one(row, kind_of_tag(tag))
        if self.words:
            known = self.words.get(folded(f"{said.io_type} {said.signal}".strip()))
            if known:
                return (
                    ({}, "unused", [])
                    if known == "unused"
                    else ({known: 1}, "point", [])
                )
        found = read_points(said)
        if found.status == "unsigned" or "direction" in found.doubts:
            found = read_points(said._replace(guess=kind_of_tag(tag)))
        return found.points, found.status, found.doubts

    def _counted(self, row: Row, tag: str, number: int) -> Counted:
        """Return the points of a row whose columns count them."""
        points: dict[str, int] = {}
        counts = self.counts
        if self.totals and not any(cell_at(row, k) for k in counts):
            # A row of spares may state the points of all pieces alone.
            pieces_ = [cell_at(row, k) for k in self.cells.at.get("quantity", ())]
            counts = self.totals if not any(pieces_) else counts
        for index, kind in counts.items():
            cell = cell_at(row, index)
            if cell is None or cell is False:
                continue
            count = 1.0 if cell is True else cell_number(cell, comma=self.comma)
            if count is None:
                count = self._ticked(text_of(cell), kind, tag, number)
            if kind == "serial" and count > 1:
                self.asked.ask("registers", self.sheet, number, f"{tag} ({count:g})")
                count = 1.0
            if count > 0:
                points[kind] = points.get(kind, 0) + math.ceil(count)
        return points, "point" if points else ("unused" if tag else "unsigned"), []

    def _ticked(self, cell: str, kind: str, tag: str, number: int) -> float:
        """Return 1 for a cell that ticks a kind of point; names are counted and asked."""
        plain = folded(cell)
        if plain in _TICKS:
            return 1.0
        if plain in NO | UNUSED | {"."}:
            return 0.0
        named = [part for part in _NAMES.split(cell) if part.strip()]
        self.asked.ask(
            "count-words", self.sheet, number, f"{tag} {kind.upper()} '{cell[:20]}'"
        )
        return float(max(1, len(named)))

    def _one_by_one(self, row: Row, guess: str) -> Counted:
        """Return the points of a row that names one in each of several columns."""
        points: dict[str, int] = {}
        doubts: list[str] = []
        unused = 0
        for column in self.several:
            cell = text_of(cell_at(row, column.index))
            if not cell:
                continue
            found = read_points(Said(signal=cell, guess=guess))
            unused += found.status == "unused"
            doubts += found.doubts
            for kind, n in found.points.items():
                points[kind] = points.get(kind, 0) + n
        if points:
            return points, "point", list(dict.fromkeys(doubts))
        return {}, "unused" if unused else "unsigned", []

    def quantity(self, row: Row, tag: str, number: int, named: int = 1) -> int:
        """Return the pieces of a row; one that names several without a count is asked.

        ``named`` are the points that its signal names: "2 x RTD" of "TE-1A/B" are two.
        """
        times = (row[k] for k in self.cells.at.get("times", ()) if k < len(row))
        factor = next((n for cell in times if (n := cell_number(cell))), 1)
        return self._of_one(row, tag, number, named) * max(1, math.ceil(factor))

    def _of_one(self, row: Row, tag: str, number: int, named: int) -> int:
        columns = self.cells.at.get("quantity", ())
        cells = [row[k] for k in columns if k < len(row) and row[k] is not None]
        if not cells and (channels := self._channels(row)) > 1:
            self._ask_channels(tag, number, channels)
            return channels
        if not cells:
            counted = columns or self.wide
            return 1 if counted else self._named(tag, number, named)
        count = pieces(cells[0], comma=self.comma)
        if count is None or count < 0 or count != int(count) or count > 10_000:
            self.asked.ask(
                "quantity", self.sheet, number, f"{tag} {text_of(cells[0])[:20]!r}"
            )
            least = math.ceil(count) if count else pieces_at_least(text_of(cells[0]))
            return max(1, min(10_000, least))
        if count == 0:
            self.asked.ask("quantity-zero", self.sheet, number, tag)
        return int(count)

    def _channels(self, row: Row) -> int:
        """Return the channels of a cell such as "3-8" under "Ch", 0 for none [count]."""
        cells = (row[k] for k in self._ch if k < len(row))
        found = (_FROM_TO.fullmatch(c) for c in cells if isinstance(c, str))
        ends = next((tuple(map(int, m.groups())) for m in found if m), (0, -1))
        return ends[1] - ends[0] + 1 if ends[1] - ends[0] < MOST_SPREAD else 0

    def _ask_channels(self, tag: str, number: int, channels: int) -> None:
        """Ask about several channels of a row that is no spare."""
        if tag and not is_spare_tag(tag):
            said = f"{tag} ({count(channels, 'channel')})"
            self.asked.ask("several-in-tag", self.sheet, number, said)

    def _named(self, tag: str, number: int, named: int) -> int:
        """Return how many points a tag names, and ask if several."""
        parts = several_names(tag)
        if parts > 1 and parts == named:
            return 1
        if parts > 1:
            said = f"{tag} ({parts})" if named == 1 else f"{tag} ({parts} x {named})"
            self.asked.ask("several-in-tag", self.sheet, number, said)
        return parts


def several_names(tag: str) -> int:
    """Return how many points a tag names [count].

    Examples
    --------
    >>> several_names("PT-101 to PT-104"), several_names("ZS-201..206"), several_names("PT-1-4")
    (4, 6, 1)
    >>> several_names("ZSO/ZSC-101"), several_names("P-7A/B/C"), several_names("PT-1")
    (2, 3, 1)
    >>> several_names("LS-101A-C"), several_names("ZS-501 A-B"), several_names("PT-1A")
    (3, 2, 1)
    >>> several_names("ZS-1 (x2)"), several_names("ZS-3 (2 off)"), several_names("ZS-3 (2)")
    (2, 2, 1)
    """
    tag = _SLASHED.sub("", tag)
    times = _TIMES.search(tag)
    if times:
        return int(times.group(1) or times.group(2))
    letters = _LETTERS.search(tag)
    if letters and letters.group(1) < letters.group(2):
        return ord(letters.group(2)) - ord(letters.group(1)) + 1
    spread = _SPREAD.search(tag) if len(tag) <= 40 else None
    if spread and 0 < int(spread.group(2)) - int(spread.group(1)) < MOST_SPREAD:
        return int(spread.group(2)) - int(spread.group(1)) + 1
    if not tag or len(tag) > 40 or not _PARTS.search(tag):
        return 1
    parts = [p.strip() for p in re.split(r",|/|&| and | und | y ", tag) if p.strip()]
    plain = all(_PART.fullmatch(part) for part in parts[1:])
    return len(parts) if plain and 1 < len(parts) <= 8 else 1
