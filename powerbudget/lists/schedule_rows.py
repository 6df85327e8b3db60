"""Rows of an equipment schedule: loads, totals, margins, losses, notes."""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from powerbudget.lists.cells import Row
from powerbudget.lists.columns import Columns
from powerbudget.lists.figures import cell_number
from powerbudget.lists.heads import UNITS, spelt
from powerbudget.lists.io_status import OUT, flag, none_words, says_none, status_doubt
from powerbudget.lists.questions import Heard, Questions
from powerbudget.lists.row_cells import cell_at, text_of
from powerbudget.lists.rows import ListedLoad
from powerbudget.lists.schedule_alike import AlikeLoads
from powerbudget.lists.schedule_load import LoadMaker
from powerbudget.lists.schedule_words import (
    CONTINGENCY,
    INVERTER,
    LOSSES,
    OPEN_NOTE,
    PASSIVE,
    RESULTS,
    SOURCES,
    intermittent_share,
)
from powerbudget.lists.status import (
    NOTES,
    STATUS_WORDS,
    begins_revisions,
    is_spare_tag,
    is_total,
    may_be_total,
    row_status,
)
from powerbudget.lists.tables import ListTable, head_texts, is_repeated_head
from powerbudget.lists.words import folded

_RAIL = re.compile(r"(\d+(?:[.,]\d+)?)\s*-?\s*v(?:dc|cc|ac)?\b", re.IGNORECASE)
_OWN_UNIT = re.compile(r"[\[(]\s*([A-Za-z]+)\s*[\])]$")
_AFTER_TOTAL = re.compile(
    r"^batter|\b(?:amps?|current|ah|watts?|power|load)\b.* at \d+ ?v|=|\brequired\b|\bc ?\+"
)
"""Lines below a total that work on with it: battery, amperes at a voltage, formulas."""
_NOTE = re.compile(r"^(?:\d+[.)]|note|\*|-)\s")


@dataclass
class ScheduleResult:
    """What an equipment schedule became.

    Parameters
    ----------
    loads, classes
        Its loads, and the class of each row.
    totals
        Row, label and numbers of each total.
    contingency, losses
        Row, label, and share or watts where stated.
    efficiencies
        Efficiencies of an inverter that notes state [fraction].
    """

    loads: list[ListedLoad] = field(default_factory=list)
    classes: dict[int, str] = field(default_factory=dict)
    totals: list[tuple[int, str, list[tuple[str, float]]]] = field(default_factory=list)
    contingency: list[tuple[int, str, float | None]] = field(default_factory=list)
    losses: list[tuple[int, str, float | None]] = field(default_factory=list)
    efficiencies: set[float] = field(default_factory=set)


class ScheduleReader:
    """Reads the rows of one table of equipment.

    Parameters
    ----------
    table, columns
        The table and the meaning of its columns.
    asked
        Where questions go.
    comma
        Whether the list writes decimal commas.
    volts
        Voltage that the title or the sheet's name states, 0 without one [V].
    legend
        Meaning of short codes, in small letters [text].
    """

    def __init__(
        self,
        table: ListTable,
        columns: Columns,
        asked: Questions,
        *,
        comma: bool | None = None,
        volts: float = 0.0,
        legend: dict[str, str] | None = None,
    ) -> None:
        self.table, self.columns, self.asked, self.comma = table, columns, asked, comma
        self.name = table.sheet.name
        self.make = LoadMaker(table, columns, asked, comma=comma, volts=volts)
        self.make.legend = legend or {}
        self.result = ScheduleResult()
        self._notes = False
        marks = table.sheet.markup
        self._marked = bool(marks.struck or marks.hidden_rows or marks.percent)
        self._alike = AlikeLoads(columns)
        self._heads = head_texts(table.heads)
        self._statuses = [c.index for c in columns.of("status")]
        self._remarks = [c.index for c in columns.of("remark")]
        cells = (cell_at(row, k) for k in self._statuses for row in table.rows())
        self._none = none_words(cells, self.make.legend)
        self._names = [c.index for c in columns.of("name", "text", "tag", "detail")]

    def read(self) -> ScheduleResult:
        """Return what became of every row of the table."""
        lines = (
            c for r in self.table.rows() for c in r if isinstance(c, str) and "%" in c
        )
        shares = map(intermittent_share, (*self.table.above, *lines))
        self.make.run_share = max((s for s in shares if s is not None), default=None)
        for text in self.table.above:
            self._inverter_note(self.table.head_rows[0] - 1, text)
        for index in range(self.table.first, self.table.last):
            self.result.classes[index] = self._row(index, self.table.sheet.rows[index])
        return self.result

    def _label(self, row: Row) -> str:
        for index in self._names:
            cell = cell_at(row, index)
            if isinstance(cell, str) and cell_number(cell) is None:
                return cell
        return ""

    # --- rows ---

    def _row(self, index: int, row: Row) -> str:
        """Return the class of a row, from one like it where one was read before."""
        key = (
            None
            if self._notes or self._marked
            else self._alike.key(row, (self.make.rail, self.make.titled_ac))
        )
        like = (
            self._alike.load(key, row, index + 1, self.asked)
            if key is not None
            else None
        )
        if like is not None:
            self.result.loads.append(like)
            return "load"
        heard: list[Heard] = []
        self.asked.heard = heard
        found = self._read_row(index, row)
        if key is not None and found == "load":
            self._alike.keep(key, self.result.loads[-1], heard)
        return found

    def _read_row(self, index: int, row: Row) -> str:
        filled = [cell for cell in row if cell is not None]
        if not filled:
            return "blank"
        if is_repeated_head(row, self._heads):
            return "head"
        words = [c for c in filled if isinstance(c, str) and cell_number(c) is None]
        notes = len(filled) <= 2 and words and NOTES.match(folded(words[0]))
        if notes or begins_revisions(filled):
            self._notes = True
        if self._notes and len(filled) > 2 and self._states_watts(row):
            self._notes = False
        if self._notes:
            return self._note(index, " ".join(words))
        special = self._special(index, row, words, len(filled))
        if special:
            return special
        if len(filled) == 1 and words:
            return self._lone(index, words[0])
        return self._load(index, row)

    def _states_watts(self, row: Row) -> bool:
        """Return whether a row below notes is a load again: a name with a figure."""
        powers = (
            cell_number(t, comma=self.comma) for t, _ in self.make.power.texts(row)
        )
        return any(powers) and bool(self._label(row))

    def _note(self, index: int, text: str) -> str:
        if OPEN_NOTE.search(folded(text)):
            self.asked.ask("note-open", self.name, index + 1, f"'{text[:90]}'")
        return "note"

    def _lone(self, index: int, text: str) -> str:
        """Return the class of a row with one text: a rail, a note, or a section."""
        volts = _RAIL.search(text)
        if volts and len(text) < 40:
            self.make.rail = float(volts.group(1).replace(",", "."))
            self.make.under(text)
            return "section"
        if len(text) > 50 or _NOTE.match(folded(text)) or text.endswith("."):
            told = self._inverter_note(index, text)
            return "note" if told else self._note(index, text)
        if STATUS_WORDS.search(folded(text)):
            self.asked.ask("section-status", self.name, index + 1, text)
        if self._inverter_note(index, text):
            return "note"
        self.make.under(text)
        return "section"

    def _inverter_note(self, index: int, text: str) -> bool:
        """Return whether a note is about an inverter, and ask what it leaves open."""
        if not INVERTER.search(folded(text)):
            return False
        share = re.search(r"(\d+(?:[.,]\d+)?)\s*%", text)
        if share:
            self.result.efficiencies.add(float(share.group(1).replace(",", ".")) / 100)
        cause = "inverter-stated" if share else "inverter"
        self.asked.ask(cause, self.name, index + 1, f"'{text[:80]}'")
        return True

    def _special(self, index: int, row: Row, words: list[str], filled: int) -> str:
        """Return the class of a total, a contingency or a loss, or nothing."""
        label = next((w for w in words if len(w) > 3 or w.isalpha()), "")
        plain, number = folded(label), index + 1
        if filled == 1 and not is_total(label):
            return ""
        counted = self.make.number(row, "quantity") is not None
        # A row without a number among numbered ones sums them, as one without pieces does.
        item = self.columns.first("item", "tag")
        own = cell_at(row, item.index) if item is not None else None
        bare = item is not None and item.filled > 2 and own in {None, label}
        pieces = bool(self.columns.of("quantity")) or bare
        if is_total(label) or (not counted and may_be_total(label, pieces=pieces)):
            self.result.totals.append((number, label, self._figures(row)))
            return "total"
        if CONTINGENCY.search(plain) and not counted:
            share = self._share(row, label, words)
            alone = self._figures(row) and not self.make.power.texts(row)
            if share is not None or alone:
                self.result.contingency.append((number, label, share))
                return "total"
        if LOSSES.search(plain):
            watts = self.make.power.read(row, self.make.volts).running_w
            self.result.losses.append((number, label, watts))
            return "loss"
        return ""

    def _figures(self, row: Row) -> list[tuple[str, float]]:
        """Return the numbers of a row by the meaning of their columns."""
        found: list[tuple[str, float]] = []
        for column in self.columns.all:
            if column.field in {"", "item", "price"} or column.index >= len(row):
                continue
            number = cell_number(row[column.index], comma=self.comma)
            if number is not None and column.field == "energy":
                number = self.make.energy(row)
            elif number is not None and column.field == "power":
                number *= UNITS.get(column.head.unit, ("", 1.0))[1]
            if number is not None:
                found.append((f"{column.field} {column.head.share}".strip(), number))
        return found

    def _share(self, row: Row, label: str, words: list[str]) -> float | None:
        """Return the contingency that a row states, as a fraction, or None."""
        alone = (re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*%\s*", w) for w in words)
        said = next(filter(None, alone), None)
        if self._figures(row):
            said = said or re.search(r"(\d+(?:[.,]\d+)?)\s*%", label)
        if said:
            return float(said.group(1).replace(",", ".")) / 100
        for column in self.columns.all:
            if column.index >= len(row) or column.field in {"energy", "price"}:
                continue
            number = cell_number(row[column.index], comma=self.comma)
            if number is not None and 0 < number < 1:
                return number
            if number is not None and column.head.unit == "%" and number <= 100:
                return number / 100
        return None

    # --- loads ---

    def _load(self, index: int, row: Row) -> str:
        label, number = self._label(row), index + 1
        if not label:
            values = [
                n for c in row if (n := cell_number(c, comma=self.comma)) is not None
            ]
            powers = [
                cell_number(t, comma=self.comma) for t, _ in self.make.power.texts(row)
            ]
            if not any(powers):
                return "template" if values else "ignored"
            if self._works_on(row):
                said = next((c for c in row if isinstance(c, str)), "")
                self.asked.ask("results", self.name, number, said)
                return "setting"
            label = f"row {number}"
        if self._out(index, row, label):
            return "deleted"
        plain = folded(label)
        after = RESULTS.search(plain) or _AFTER_TOTAL.search(plain)
        sized = self.result.totals and after and self._figures(row)
        below = bool(sized) or self._result_line(row, label)
        if below or (self.make.power.texts(row) and SOURCES.search(plain)):
            self.asked.ask("results" if below else "source", self.name, number, label)
            return "setting"
        if not self.make.power.texts(row):
            return self._no_figure(row, label, number)
        self.result.loads.append(self.make.make(row, label, number))
        return "load"

    def _works_on(self, row: Row) -> bool:
        """Return whether a row below a sum works on with it: "Amps at 24 V"."""
        words = (folded(c) for c in row if isinstance(c, str))
        return bool(self.result.totals) and any(
            RESULTS.search(w) or _AFTER_TOTAL.search(w) for w in words
        )

    def _result_line(self, row: Row, label: str) -> bool:
        """Return whether a line of label and figure states its own unit, which is no power."""
        unit = _OWN_UNIT.search(label)
        if unit is None or sum(cell is not None for cell in row) > 2:
            return False
        kind = UNITS.get(spelt(unit.group(1)), ("",))[0]
        result = kind == "volts" and RESULTS.search(folded(label))
        return bool(kind in {"energy", "charge", "time"} or result)

    def _out(self, index: int, row: Row, label: str) -> bool:
        """Return whether marks or a status cell take a row out, and say so."""
        marks = self.table.sheet.markup
        said = [text_of(cell_at(row, k)) for k in self._statuses]
        known = [self.make.legend.get(text.lower(), "") or text for text in said]
        remarks = [text_of(cell_at(row, k)) for k in self._remarks]
        outs = (s for s in map(row_status, (*known, *remarks)) if s in OUT)
        status = next(outs, "") or self._flagged(row)
        names = [k for k in self._names if k < len(row) and row[k] is not None]
        struck = bool(names) and (index, names[0]) in marks.struck
        if not (status or struck or index in marks.hidden_rows):
            self._ask_status(known, f"{label} '{' '.join(said)[:20]}'", index + 1)
            return False
        why = "struck out" if struck else f"marked {status}" if status else "hidden"
        self.asked.ask("out", self.name, index + 1, f"{label} ({why})")
        return True

    def _ask_status(self, said: list[str], name: str, number: int) -> None:
        """Ask about a status that no rule knows, or that says none where others decide."""
        for text in filter(None, said):
            meaning = row_status(text)
            cause = "" if meaning else status_doubt(text)
            if says_none(text, meaning, self._none):
                cause = "status-none"
            if cause:
                self.asked.ask(cause, self.name, number, name)

    def _flagged(self, row: Row) -> str:
        """Return what columns of ticks say of a row: out of scope, gone, future, spare."""
        for name in ("scope", "gone", "future", "spare"):
            for column in self.columns.of(name):
                ticked = flag(text_of(cell_at(row, column.index)))
                if ticked is (name != "scope"):
                    return "out of scope" if name == "scope" else name
        return ""

    def _no_figure(self, row: Row, label: str, number: int) -> str:
        """Return the class of a row with a name and no power."""
        if sum(cell is not None for cell in row) <= 2 and not self._figures(row):
            return "section"
        energy = self.make.energy(row)
        if energy:
            watts = energy / 24
            load = ListedLoad(
                self.name,
                number,
                label,
                running_w=watts,
                maximum_w=watts,
                wh_per_day=energy,
            )
            self.result.loads.append(load)
            pieces = self.make.number(row, "quantity") or 1
            note = f"as those of all {pieces:g} pieces" if pieces > 1 else ""
            self.make.ask("energy-only", load, note)
            return "load"
        if is_spare_tag(label):
            return "spare"
        if not PASSIVE.search(folded(label)):
            self.asked.ask("blank-power", self.name, number, label)
        return "no-load"
