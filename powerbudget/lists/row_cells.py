"""The cells of one row of a signal list, by meaning, read once."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from powerbudget.lists.cells import ClientSheet, Row, Value
from powerbudget.lists.columns import Columns
from powerbudget.lists.heads import ENERGIZED, UNITS
from powerbudget.lists.io_status import NO, YES
from powerbudget.lists.words import folded, word_list, words_of

FIELDS = word_list(
    "tag name text io_type signal data_type direction address protocol port "
    "detail quantity times status remark spare scope supply power current volts duty "
    "hours unit gone future operation node from to"
)


def cell_at(row: Row, index: int) -> Value:
    """Return the cell of a row in a column, None beyond its end."""
    return row[index] if index < len(row) else None


def text_of(cell: Value) -> str:
    """Return a cell as text, numbers without needless digits [text]."""
    if cell is None:
        return ""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    return f"{cell:g}" if isinstance(cell, float) else cell.date().isoformat()


class RowCells:
    """Reads the columns of a table by what they mean.

    Parameters
    ----------
    columns
        Columns of the table.
    sheet
        The sheet, for merged tags.
    """

    def __init__(self, columns: Columns, sheet: ClientSheet) -> None:
        found = {name: [c.index for c in columns.of(name)] for name in FIELDS}
        self.at = {name: indexes for name, indexes in found.items() if indexes}
        self._single = [(name, k[0]) for name, k in self.at.items() if len(k) == 1]
        self._many = [(name, k) for name, k in self.at.items() if len(k) > 1]
        states = sorted(
            columns.of("normal"), key=lambda c: "contact" in c.head.text.lower()
        )
        self._fails = [
            c.index
            for c in columns.of("fail", "normal")
            if "fail" in {c.field, c.head.field}
        ]
        self.states = [c.index for c in states if c.index not in self._fails]
        words = {c.index: ENERGIZED.intersection(words_of(c.head.text)) for c in states}
        self._energized = {k for k, found in words.items() if found}
        self.figures = [
            c.index
            for c in columns.of("power", "current", "quantity", "io_type", "signal")
        ]
        self.external = [
            c.index for c in columns.of("supply") if "extern" in c.head.text.lower()
        ]
        self.by_card = [
            c.index for c in columns.of("supply") if _BY_CARD.search(c.head.text)
        ]
        power, amps = columns.first("power"), columns.first("current")
        self.power = power
        self.power_ac = power is not None and bool(_AC.search(folded(power.head.text)))
        self.power_unit = power.head.unit if power else ""
        self.amps_unit = amps.head.unit if amps else ""
        self.head_volts = amps.head.volts if amps else 0.0
        self.duty_unit = _duty_unit(columns)
        first = amps or power
        self.wetting = first is not None and "wetting" in first.head.text.lower()
        self.between = {"from", "to"} <= self.at.keys()
        tags = set(self.at.get("tag", ()))
        self.merged_tags: dict[int, int] = {}
        for top, left, bottom, right in sheet.merged:
            if bottom > top and any(left <= t <= right for t in tags):
                self.merged_tags.update(dict.fromkeys(range(top + 1, bottom + 1), top))

    def all(self, rows: Iterable[Row], field: str) -> Iterator[Value]:
        """Yield the cells of the columns of a meaning, row by row."""
        for k in self.at.get(field, ()):
            yield from (row[k] for row in rows if k < len(row))

    def of(self, row: Row) -> dict[str, str]:
        """Return the texts of a row by meaning; columns of one meaning are joined."""
        found: dict[str, str] = {}
        width = len(row)
        for name, index in self._single:
            if index < width:
                cell = row[index]
                if cell is not None:
                    found[name] = cell if type(cell) is str else text_of(cell)
        for name, indexes in self._many:
            texts = [
                text_of(row[k]) for k in indexes if k < width and row[k] is not None
            ]
            if texts:
                found[name] = " ".join(texts) if name in _JOINED else texts[0]
        return found

    def fed_by(self, row: Row) -> str:
        """Return who feeds a device by yes-or-no columns of supply, empty without any [text]."""
        for indexes, yes, no in (
            (self.external, "four-wire", "two-wire"),
            (self.by_card, "two-wire", "four-wire"),
        ):
            for k in indexes:
                said = folded(text_of(cell_at(row, k))).strip(".")
                if said in NO or said in {"none", "na", "n/a"}:
                    return no
                named = indexes is self.external and said not in {"", "-", "~", "?"}
                if said in YES or named:
                    return yes
        return ""

    def way(self, row: Row) -> str:
        """Return "input" or "output" by columns of from and to, empty without them [text]."""
        ends = [cell_at(row, self.at[name][0]) for name in ("from", "to")]
        away, toward = (bool(_CONTROLLER.search(folded(text_of(e)))) for e in ends)
        return "" if away == toward else "output" if away else "input"

    def normal(self, row: Row) -> tuple[str, ...]:
        """Return the texts of the columns of normal states; "energized: yes" says it alone."""
        said = {k: text for k in self.states if (text := text_of(cell_at(row, k)))}
        for k in self._energized & said.keys():
            ticked = folded(said[k])
            if ticked in YES | NO:
                return ("energized" if ticked in YES else "de-energized",)
        return tuple(said.values())

    def fails(self, row: Row) -> tuple[str, ...]:
        """Return the texts of the columns of positions at failure."""
        found = (text_of(cell_at(row, k)) for k in self._fails)
        return tuple(f"fail {text}" for text in found if text)


_CONTROLLER = re.compile(
    r"\b(?:rtu|plc|dcs|sps|pcs|controller|control system|scada|bpcs|sis)\b"
)
_AC = re.compile(r"\bvac\b|\d ?v ?ac\b|\bac\b|\bmcc\b")
"""Head of powers that no dc bus feeds: "Motor kW, 400 VAC"."""
_BY_CARD = re.compile(
    r"loop[- ]?powered|powered by (?:card|rack|plc|rtu)|(?:card|system)[- ]powered",
    re.IGNORECASE,
)
_JOINED = {"io_type", "signal", "detail", "remark", "supply"}


def _duty_unit(columns: Columns) -> str:
    column = columns.first("duty", "hours")
    if column is None:
        return ""
    unit = column.head.unit if column.head.unit in UNITS else ""
    if unit not in {"h", "min", "s"}:
        return unit
    return f"{unit}/{'h' if column.head.per == 'hour' else 'd'}"


def volts_in(*texts: str) -> float:
    """Return the first voltage that texts state, 0 without one [V]."""
    for text in texts:
        match = _VOLTS.search(text) if text else None
        if match:
            return float(match.group(1).replace(",", "."))
    return 0.0


_VOLTS = re.compile(r"(\d{1,3}(?:[.,]\d+)?)\s*V(?:DC|CC)?\b", re.IGNORECASE)
