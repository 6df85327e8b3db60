"""What the power cells of one row of a schedule say: running, highest, total."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from powerbudget.lists.cells import Row
from powerbudget.lists.columns import Columns, ListColumn
from powerbudget.lists.figures import NO_FIGURE, CellFigure, figure, number
from powerbudget.lists.heads import spelt
from powerbudget.lists.row_cells import cell_at, text_of
from powerbudget.lists.words import words_of

_STATES_V = re.compile(r"^\s*\d+(?:[.,]\d+)?\s*$|\d\s*V", re.IGNORECASE)
POE = "48 V"
"""Voltage of power over Ethernet whose text names none (IEEE 802.3: 44 to 57 V)."""
_IN_VOLTS = re.compile(r"\d ?V", re.IGNORECASE)
_DIGITS = re.compile(r"\d+")
_FACTOR = re.compile(r"\d+(?:[.,]\d+)?")
_RANGE_V = re.compile(
    r"(\d+(?:[.,]\d+)?)(?:\s*(?:-|to|bis|/|\.\.+)\s*(\d+(?:[.,]\d+)?))?"
)
_MEAN = re.compile(r"\bav(?:g|erage)|\bmean|mittel|promedio|moyen")
AC = re.compile(
    r"\b\d{2,3} ?v? ?ac\b|\bvac\b|\bac\b|\b(?:50|60) ?hz\b|"
    r"\b(?:110|115|120|127|208|220|230|240|400|415|480) ?v\b(?! ?dc)"
)


AC_VOLTS = re.compile(
    r"\b\d{2,3} ?v ?ac\b|\b(?:110|115|120|127|208|220|230|240|400|415|480) ?v\b(?! ?dc)"
)
"""A voltage of the mains, in a text that speaks of other things too."""


@dataclass
class RowPower:
    """Power of one piece as a row states it.

    Parameters
    ----------
    running_w, top_w
        Running power and highest power that lasts, None if not stated [W].
    total_w
        Power of the whole row where a column states it [W].
    words
        Figure whose words say why one is missing, or how it is meant.
    unread
        Column without a unit that was read as W, None where all have one.
    differ
        Powers of columns that do not agree, where the highest was taken [W].
    """

    running_w: float | None = None
    top_w: float | None = None
    total_w: float | None = None
    words: CellFigure = NO_FIGURE
    unread: ListColumn | None = None
    differ: tuple[float, ...] = ()


class PowerCells:
    """Reads the power cells of a table.

    Parameters
    ----------
    columns
        Columns of the table.
    comma
        Whether the list writes decimal commas.
    """

    def __init__(self, columns: Columns, comma: bool | None) -> None:
        self.columns = [*columns.of("power"), *columns.of("current")]
        self._comma = comma
        self._last: tuple[Row, float, RowPower] = ([], 0.0, RowPower())
        # Columns of watts under "AC"; volts that the heads of currents state.
        self.ac = {c.index for c in self.columns if "ac" in words_of(c.head.text)}
        self._heads_v = {c.index: c.head.volts for c in self.columns if c.head.volts}
        self._unit = columns.first("unit")
        currents = [c.head.unit for c in columns.of("current") if c.head.unit]
        # "Total current" beside "Current (A)" is in amperes too.
        self._amps = next(iter(currents), "")
        self._factor = columns.first("pf")
        self._volts = columns.of("volts", "supply")
        self.plain = [
            c
            for c in self.columns
            if c.head.reading != "maximum" and c.head.share != "total"
        ]
        # Currents under "12 V" and "24 V" are two feeds of one device: they add up.
        self.rails = len({c.head.volts for c in self.plain if c.head.volts}) > 1
        self.has_mean = any(
            _MEAN.search(c.head.text.lower())
            for c in self.columns
            if c.head.reading == "typical"
        )

    def head_v(self, row: Row) -> float:
        """Return the one voltage under which currents of a row stand, 0 for none [V]."""
        heads = self._heads_v.items()
        found = {volts for k, volts in heads if cell_at(row, k) is not None}
        return found.pop() if len(found) == 1 else 0.0

    def texts(self, row: Row) -> list[tuple[str, ListColumn]]:
        """Return the power cells of a row with their columns, empty ones left out."""
        return [
            (text_of(row[c.index]), c)
            for c in self.columns
            if c.index < len(row) and row[c.index] is not None
        ]

    def said_volts(self, row: Row) -> str:
        """Return the texts of the voltage and supply cells of a row [text]."""
        found = []
        for column in self._volts:
            text = text_of(cell_at(row, column.index))
            if "poe" in text.lower() and not _IN_VOLTS.search(text):
                text = POE
            if column.field == "supply" and not _STATES_V.search(text):
                # "see row 4" under a source is no voltage.
                text = _DIGITS.sub("", text)
            found.append(text)
        return " ".join(found)

    def volts(self, row: Row, otherwise: float) -> float:
        """Return the voltage of a row, the upper end of a range [V]."""
        match = _RANGE_V.search(self.said_volts(row))
        if match:
            ends = (float(v.replace(",", ".")) for v in match.groups() if v)
            return max(ends)
        return otherwise

    def read(self, row: Row, otherwise_v: float) -> RowPower:
        """Return the power of a row; currents without a voltage of their own use the other."""
        if row is self._last[0] and otherwise_v == self._last[1]:
            return self._last[2]
        out = RowPower()
        self._last = (row, otherwise_v, out)
        volts = self.volts(row, otherwise_v)
        unit = self._row_unit(row)
        plain: list[float] = []
        highs: list[float] = []
        for found, column in self._figures(row, unit, out):
            watts, high = _in_watts(found, found.volts or column.head.volts or volts)
            if column.head.share == "total":
                if watts is not None and column.head.reading != "maximum":
                    out.total_w = max(watts, out.total_w or 0.0)
                if found.word == "va" and out.words == NO_FIGURE:
                    out.words = found
                continue
            if found.word or out.words == NO_FIGURE:
                out.words = found if found.word or not out.words.word else out.words
            if watts is None:
                continue
            if column.head.reading == "maximum":
                highs += [watts, high or 0.0]
            else:
                plain.append(watts)
                highs += [high] if high is not None else []
        self._sum(out, plain, highs)
        return out

    def _figures(
        self, row: Row, unit: str, out: RowPower
    ) -> list[tuple[CellFigure, ListColumn]]:
        """Return the figure of each power cell of a row with its column.

        Watts beside volt-amperes are what is drawn; else the power factor lowers these.
        """
        cells = []
        for text, column in self.texts(row):
            own = column.head.unit or unit or (self._amps * (column.field == "current"))
            found = figure(text, own, comma=self._comma)
            if found.word == "no unit" and column.field == "power":
                found, out.unread = figure(text, "W", comma=self._comma), column
            if min(found.watts or 0.0, found.amps or 0.0) < 0:
                found = CellFigure(word="unreadable")
            cells.append((found, column))
        if all(f.word != "va" for f, _ in cells):
            return cells
        real = {c.head.share for f, c in cells if f.word != "va" and f.watts}
        factor = self.power_factor(row)
        return [
            (_times(f, factor) if f.word == "va" and factor else f, c)
            for f, c in cells
            if f.word != "va" or c.head.share not in real
        ]

    def power_factor(self, row: Row) -> float | None:
        """Return the power factor that a row states ("0.8", "80 %", "0.8 lag"), or None."""
        if self._factor is None:
            return None
        match = _FACTOR.search(text_of(cell_at(row, self._factor.index)))
        said = number(match.group(), comma=True) if match else None
        said = said / 100 if said is not None and said > 1 else said
        return said if said and said <= 1 else None

    def _sum(self, out: RowPower, plain: list[float], highs: list[float]) -> None:
        out.top_w = max(highs, default=None)
        if not plain:
            return
        if self.rails:
            out.running_w = sum(plain)
            return
        # W beside A x V say one thing twice; where they differ the higher counts.
        out.running_w = max(plain)
        if max(plain) - min(plain) > 0.05 * max(plain):
            out.differ = tuple(plain)

    def _row_unit(self, row: Row) -> str:
        if self._unit is None or self._unit.index >= len(row):
            return ""
        return spelt(text_of(row[self._unit.index]))


def _times(found: CellFigure, factor: float) -> CellFigure:
    """Return apparent watts times their power factor."""
    low, high = found.watts, found.top_watts
    return replace(
        found,
        watts=None if low is None else low * factor,
        top_watts=None if high is None else high * factor,
        modes=tuple((mode, watts * factor) for mode, watts in found.modes),
        word="",
    )


def _in_watts(found: CellFigure, volts: float) -> tuple[float | None, float | None]:
    """Return running and highest watts of a cell, currents at its volts."""
    watts, high = found.watts, found.top_watts
    if watts is None and found.amps is not None and volts:
        watts = found.amps * volts
    if high is None and found.top_amps is not None and volts:
        high = found.top_amps * volts
    return watts, high
