"""Rows of a signal list: points, spares, deleted rows, and what is none of them."""

from __future__ import annotations

import re
from collections.abc import Hashable, Iterator
from dataclasses import dataclass, field, replace

from powerbudget.lists.cells import Row, Value
from powerbudget.lists.columns import DASHES, HALF, Columns
from powerbudget.lists.figures import cell_number, figure
from powerbudget.lists.heads import spelt
from powerbudget.lists.io_alike import AlikeRows
from powerbudget.lists.io_bus import BusDevices
from powerbudget.lists.io_points import PointCounter
from powerbudget.lists.io_questions import ask_doubts, ask_draw, ask_state, ask_status
from powerbudget.lists.io_signal import Said
from powerbudget.lists.io_status import is_struck, none_words, status_of
from powerbudget.lists.io_watts import (
    NO_DRAW,
    Power,
    SignalDraw,
    read_draw,
    states_nothing,
    telling,
    wets_contact,
)
from powerbudget.lists.questions import Heard, Questions
from powerbudget.lists.row_cells import RowCells, cell_at, text_of, volts_in
from powerbudget.lists.rows import ListLine
from powerbudget.lists.schedule_power import AC_VOLTS
from powerbudget.lists.signals import (
    UNUSED,
    contact_state,
    fails_to,
    kind_in_tag,
    read_feed,
    read_signal,
    read_state,
    read_supply,
    stated_kinds,
)
from powerbudget.lists.status import (
    NOTES,
    STATUS_WORDS,
    begins_revisions,
    is_spare_tag,
    is_total,
)
from powerbudget.lists.tables import ListTable, head_texts, is_repeated_head
from powerbudget.lists.words import concepts, folded, word_set, words_of
from powerbudget.quantities import count

_WAS = re.compile(
    r"\b(?:was|formerly|previously|ex|replaces|renamed from|antes|vormals|ersetzt|fruher)[: ]+"
    r"([A-Za-z]{1,5}[-_ ]?\d+\w*)",
    re.IGNORECASE,
)
_NAMED = re.compile(r"(?=\S*\d)\S{1,24}")
_ERROR = re.compile(
    r"^#(?:N/?A|REF!?|NAME\?|VALUE!?|DIV/0!?|NUM!?|NULL!?)$", re.IGNORECASE
)
_SUPPLY = re.compile(
    r"wire|hilos|leiter|dmu|loop|active|passive|vac\b|mains|\d ?v\b|extern|separate|self|"
    r"fils|\b[234] ?w\b",
    re.IGNORECASE,
)
_SIGNAL_V = re.compile(r"\d[\d.,]*\s*(?:-|–|to|\.\.+)\s*\+?\d[\d.,]*\s*V\w*")
"""A range that a signal has, which feeds nothing: 1-5 V."""
_CHANNEL = {"port", "address"}
_CHANNELS = word_set("ch chan chn channel channels kanal canal voie canale")
_CONNECTED = {"detail", "remark", "supply", "power", "current", "quantity", "normal"}
"""Meanings of cells that a channel without a device leaves blank."""
_TIMED = {"power", "current", "duty", "hours"}


@dataclass
class ListResult:
    """What a signal list became."""

    lines: list[ListLine] = field(default_factory=list)
    classes: dict[int, str] = field(default_factory=dict)
    totals: list[tuple[int, dict[str, float]]] = field(default_factory=list)
    renamed: dict[str, str] = field(default_factory=dict)


class ListReader:
    """Reads the rows of one table of signals.

    Parameters
    ----------
    table, columns
        The table and the meaning of its columns.
    asked
        Where questions go.
    place
        Kind of point that the sheet's name or title states, empty if none [text].
    comma
        Whether the list writes decimal commas.
    volts
        Voltage of the bus as the sheet states it, 0 if it does not [V].
    legend, words
        Meaning of short codes; kinds of signals that a mapping confirmed [text].
    out
        Tags that a mapping leaves out, in small letters [text].
    """

    def __init__(  # noqa: PLR0913 - what a table is read with
        self,
        table: ListTable,
        columns: Columns,
        asked: Questions,
        *,
        place: str = "",
        comma: bool | None = None,
        volts: float = 0.0,
        legend: dict[str, str] | None = None,
        out: frozenset[str] = frozenset(),
        words: dict[str, str] | None = None,
    ) -> None:
        self.table, self.columns, self.asked = table, columns, asked
        self.place, self.comma, self.volts = place, comma, volts
        self.section = ""
        self.legend, self.out = legend or {}, out
        self.name = table.sheet.name
        self.cells = RowCells(columns, table.sheet)
        self.result = ListResult()
        self.counter = PointCounter(
            columns, self.cells, asked, self.name, comma=comma, words=words or {}
        )
        marks = table.sheet.markup
        self._percent = marks.percent
        self._width = len(table.heads) if table.sheet.text else 0
        self._marked = bool(marks.struck or marks.hidden_rows or out or columns.in_tags)
        self._alike = AlikeRows(columns)
        self._bus = BusDevices(columns)
        looks = [
            (c, own)
            for c, own in zip(columns.all, columns.content, strict=False)
            if "place" in concepts(words_of(c.head.text))
        ]
        self._cards = [
            c.index
            for c, own in looks
            if c.field in {"other", ""} and own.cards >= HALF
        ]
        named = (words_of(c.head.text) for c in columns.all)
        self._grid = any(not _CHANNELS.isdisjoint(w) for w in named)
        self._notes = False
        self._heads = head_texts(table.heads)
        self._tags = self.cells.at.get("tag", [])
        self._none = none_words(self.cells.all(table.rows(), "status"), self.legend)

    def read(self) -> ListResult:
        """Return what became of every row of the table."""
        rows = self.table.sheet.rows
        for index in range(self.table.first, self.table.last):
            self.result.classes[index] = self._row(index, rows[index])
        for number, tag in self._bus.unsure.items():
            self.asked.ask("registers-of", self.name, number, tag)
        return self.result

    def struck_figures(self, index: int, row: Row) -> bool:
        """Return whether a quantity, type or power of a row is struck out."""
        struck = self.table.sheet.markup.struck
        return bool(struck) and any(
            (index, k) in struck and k < len(row) and row[k] is not None
            for k in self.cells.figures
        )

    # --- what a row is ---

    def _row(self, index: int, row: Row) -> str:
        key = self._key(row)
        like = (
            self._alike.line(key, row, index + 1, self.asked)
            if key is not None
            else None
        )
        if like is not None:
            self.result.lines.append(like)
            return like.kind
        filled = [k for k, cell in enumerate(row) if cell is not None]
        if not filled or is_repeated_head(row, self._heads):
            return "head" if filled else "blank"
        if self._width and filled[-1] >= self._width:
            self._overlong(index, row, filled[-1])
        heard: list[Heard] = []
        self.asked.heard = heard
        first, cells = row[filled[0]], self.cells.of(row)
        self._notes = self._notes or begins_revisions([row[k] for k in filled])
        if self._in_notes(first, cells, len(filled)):
            return "note"
        if not isinstance(first, str) and not any(_says(row[k]) for k in filled):
            return "filler"
        found = self._lone(index, row, filled, cells)
        if found == "section" and STATUS_WORDS.search(folded(text_of(first))):
            self.asked.ask("section-status", self.name, index + 1, text_of(first))
        found = found or self._line(index, row, cells, len(filled))
        # Of rows on a bus each may be a device or a further register of one.
        serial = (
            found == "point"
            and self.result.lines[-1].kind == "point"
            and (
                not self.result.lines[-1].points
                or "serial" in self.result.lines[-1].points
            )
        )
        if key is not None and found == "point" and not serial:
            self._alike.keep(key, self.result.lines[-1], heard)
        return found

    def _overlong(self, index: int, row: Row, last: int) -> None:
        """Ask about a row of a text table that has more cells than heads."""
        self.asked.ask(
            "more-cells",
            self.name,
            index + 1,
            f"{text_of(row[0])} ({count(last + 1, 'cell')}, {count(self._width, 'head')})",
        )

    def _key(self, row: Row) -> Hashable | None:
        """Return what decides about a row, None where marks or its words decide too."""
        overlong = self._width and any(row[self._width :])
        if self._marked or self._notes or overlong or len(row) - row.count(None) < 3:
            return None
        return self._alike.key(row, self.section)

    def _in_notes(self, first: Value, cells: dict[str, str], filled: int) -> bool:
        """Return whether a row belongs to notes, which end where data go on."""
        if filled <= 3 and isinstance(first, str) and NOTES.match(folded(first)):
            self._notes = True
        if self._notes and filled >= 4 and "tag" in cells:
            self._notes = not (cells.get("io_type") or cells.get("signal"))
        return self._notes

    def _lone(
        self, index: int, row: Row, filled: list[int], cells: dict[str, str]
    ) -> str:
        """Return the class of a row that is no tag by its looks, or nothing."""
        first = row[filled[0]]
        if not isinstance(first, str):
            first = next((row[k] for k in filled if isinstance(row[k], str)), None)
        if not isinstance(first, str):
            return ""
        # A remark may stand left of the tag that says "total".
        summed = is_total(first) or is_total(cells.get("tag", ""))
        if summed and not _states_a_signal(cells):
            self.result.totals.append((index + 1, self._numbers(row)))
            return "total"
        if len(filled) > 1:
            return ""
        plain, tag_column = folded(first), filled[0] in self._tags
        spare = is_spare_tag(first) and (tag_column or self.place or self.section)
        named = tag_column and _NAMED.fullmatch(first)
        if spare or named:
            return ""
        if (
            len(first) > 60
            or re.match(r"^(?:\d+[.)]|note|\*|-)\s", plain)
            or "=" in first
        ):
            return "note"
        kinds = stated_kinds(first)
        self.section = next(iter(kinds)) if len(kinds) == 1 else ""
        return "section"

    def _numbers(self, row: Row) -> dict[str, float]:
        found = {}
        for column in self.columns.all:
            cell = cell_at(row, column.index)
            number = cell_number(cell, comma=self.comma)
            if number is not None:
                found[column.field or str(column.index)] = number
        return found

    def _line(self, index: int, row: Row, cells: dict[str, str], filled: int) -> str:
        number, tag = index + 1, self._tag(index, cells)
        text = cells.get("text") or cells.get("name", "")
        if tag[:1] == "#" and _ERROR.match(tag):
            return self._error(row, number, tag)
        status, clash = self._status(index, row, cells, tag, text)
        said = self._said(cells, row)
        points, kind, doubts = self.counter.points(row, said, tag, number)
        if kind != "point" and status in {"point", "spare", "hidden"}:
            watts = cells.get("power") or cells.get("current", "")
            names = (tag, text)
            return self._without(kind, status, number, names, said, filled, watts)
        tag = "" if tag in DASHES else tag
        if self._unnamed_channel(cells, tag, status):
            self.asked.ask("blank-channel", self.name, number)
            status = "spare"
        if not tag and status == "point":
            tag = self._blank_tag(number, text)
        if doubts:
            words = (
                " ".join(t for t in (said.io_type, said.signal, said.detail) if t)
                or said.address
            )
            ask_doubts(self, doubts, number, tag, words)
        if status == "point" and "serial" in points:
            points = self._one_device(points, row, tag, number)
        line = self._made(index, row, cells, status, (tag, text), points)
        self._finish(line, row, cells, clash)
        self.result.lines.append(line)
        return line.kind

    def _one_device(
        self, points: dict[str, int], row: Row, tag: str, number: int
    ) -> dict[str, int]:
        """Return the points of a row without its bus device where that was counted before."""
        first = self._bus.first(row, tag, number)
        if first == number:
            return points
        self.asked.ask("one-device", self.name, number, f"{tag} (as row {first})")
        return {kind: n for kind, n in points.items() if kind != "serial"}

    def _status(
        self, index: int, row: Row, cells: dict[str, str], tag: str, text: str
    ) -> tuple[str, str]:
        if self.out and tag.casefold() in self.out:
            return "excluded", ""
        struck = is_struck(self.table.sheet, index, row, self._tags)
        status, clash = status_of(
            cells, tag, text, self.legend, struck=struck, none=self._none
        )
        if index in self.table.sheet.markup.hidden_rows and status != "deleted":
            return "hidden", clash
        return status, clash

    def _tag(self, index: int, cells: dict[str, str]) -> str:
        """Return the tag of a row; one merged over several rows is that of each."""
        tag = cells.get("tag", "")
        if not tag and not self._tags:
            tag = cells.get("name", "") or cells.get("address", "")
            tag = tag or (cells.get("text", "") if self.columns.counts() else "")
        top = None if tag else self.cells.merged_tags.get(index)
        if top is not None:
            return self.cells.of(self.table.sheet.rows[top]).get("tag", "")
        return tag

    def _said(self, cells: dict[str, str], row: Row) -> Said:
        get = cells.get
        io_type = get("io_type", "")
        way = get("direction", "")
        if self.cells.between and not way:
            way = self.cells.way(row)
        if self.columns.in_tags:
            io_type = kind_in_tag(get("tag", ""))
        return Said(
            io_type,
            get("signal", ""),
            get("data_type", ""),
            way,
            get("address", ""),
            get("protocol", ""),
            get("port", ""),
            get("detail", ""),
            "",
            self.section or self.place or self._card(row),
            _temperature(get("remark", "")),
        )

    def _card(self, row: Row) -> str:
        """Return the kind of signal that the card of a row states, empty if none [text]."""
        texts = (text_of(cell_at(row, k)) for k in self._cards)
        kinds = next((k for t in texts if t and (k := stated_kinds(t))), {})
        return next(iter(kinds)) if len(kinds) == 1 else ""

    def _made(
        self,
        index: int,
        row: Row,
        cells: dict[str, str],
        status: str,
        names: tuple[str, str],
        points: dict[str, int],
    ) -> ListLine:
        named = sum(points.values())
        quantity = self.counter.quantity(row, names[0], index + 1, named)
        get = cells.get
        signal = f"{get('io_type', '')} {get('signal', '')}".strip()
        said = (get("supply", ""), get("volts", ""), signal, get("detail", ""))
        supply = read_supply(" ".join(said))
        remark = get("remark", "")
        supply = supply or read_feed(get("supply", ""))
        if self.cells.external or self.cells.by_card:
            supply = self.cells.fed_by(row) or supply
        if not supply and remark and _SUPPLY.search(remark):
            supply = read_supply(remark)
        mains = supply == "four-wire" and AC_VOLTS.search(folded(remark))
        if mains or (self.cells.power_ac and get("power")):
            supply = "ac"
        if quantity != 1:
            points = {kind: count * quantity for kind, count in points.items()}
        return ListLine(
            self.name,
            index + 1,
            status,
            names[0],
            names[1],
            points,
            signal=signal,
            supply=supply,
            port=get("port", ""),
            quantity=quantity,
        )

    # --- rows without points ---

    def _unnamed_channel(self, cells: dict[str, str], tag: str, status: str) -> bool:
        """Return whether a row is a channel of a card to which nothing is connected."""
        texts = {cells.get("text", ""), cells.get("name", "")}
        named = tag or texts - {"", *DASHES} or not self._tags
        if status != "point" or named:
            return False
        return not _CHANNEL.isdisjoint(cells) or (
            self._grid and _CONNECTED.isdisjoint(cells)
        )

    def _blank_tag(self, number: int, text: str) -> str:
        above = self.result.lines[-1] if self.result.lines else None
        same = above is not None and above.row == number - 1 and above.kind == "point"
        if same and above is not None and text and text == above.text:
            return above.tag
        self.asked.ask("blank-tag", self.name, number, text)
        return ""

    def _error(self, row: Row, number: int, tag: str) -> str:
        guess = "-".join(
            text_of(row[c.index])
            for c in self.columns.all
            if c.index < len(row)
            and c.field in {"", "item"}
            and row[c.index] is not None
            and len(text_of(row[c.index])) <= 6
        )
        self.asked.ask(
            "tag-error",
            self.name,
            number,
            f"row {number} {tag}"
            + (f" (from the cells beside it {guess})" if guess else ""),
        )
        return "unsigned"

    def _without(
        self,
        kind: str,
        status: str,
        number: int,
        names: tuple[str, str],
        said: Said,
        filled: int,
        watts: str,
    ) -> str:
        """Return the class of a row without points; an unknown signal is asked."""
        tag, text = names
        if kind != "unsigned":
            self._dropped_watts(number, tag or text, watts)
            return kind
        if status == "spare" or is_spare_tag(tag):
            self.asked.ask("spare-kind", self.name, number, tag)
            return "spare"
        words = f"{said.io_type} {said.signal}".strip()
        if folded(tag) in UNUSED or (words and not words.strip("-–— ")):
            self._dropped_watts(number, tag or text, watts)
            return "unused"
        if not (tag or text) or (not tag and filled <= 2):
            return "note"
        if tag == "0" and words in {"", "0"}:
            return "template"
        if words:
            self.asked.ask("vague", self.name, number, tag, what=words)
        else:
            self.asked.ask("no-signal", self.name, number, tag)
        return "unsigned"

    def _dropped_watts(self, number: int, name: str, watts: str) -> None:
        """Ask about a row without a signal that states a draw."""
        if re.search(r"[1-9]", watts):
            self.asked.ask(
                "watts-no-signal", self.name, number, f"{name} ({watts[:20]})"
            )

    # --- watts ---

    def _finish(
        self, line: ListLine, row: Row, cells: dict[str, str], clash: str
    ) -> None:
        """Add the stated watts of a row and ask what is open about it."""
        if clash or line.kind != "point":
            ask_status(self, line, clash, cells.get("status", ""))
        if "remark" in cells or "status" in cells:
            self._renamed(
                line, f"{cells.get('remark', '')} {cells.get('status', '')}".strip()
            )
        if line.kind in {"spare", "deleted"}:
            return
        draw = self._draw(line, row, cells) if self._may_draw(line, cells) else NO_DRAW
        if draw.each_w is not None:
            line.typical_w = draw.each_w * draw.share * line.quantity
            line.maximum_w = draw.each_w * line.quantity
        line.amps, line.duty_frac = draw.amps, draw.duty_frac
        if wets_contact(line, draw, self._words(cells), head=self.cells.wetting):
            if draw.each_w and line.volts and line.amps is None:
                line.amps = draw.each_w / line.volts
            line.typical_w = line.maximum_w = None
            draw = replace(draw, each_w=None, doubt="")
            self.asked.ask("wetting", self.name, line.row, line.tag or line.text)
        if draw.state or self.cells.states:
            texts = self.cells.normal(row)
            line.state = draw.state or next(
                (s for t in texts if (s := read_state(t))), ""
            )
            ask_state(self, line, texts)
        if not line.state and "di" in line.points:
            line.state = self._contact(line, row, cells)
        if line.kind == "point":
            ask_draw(self, line, draw, row, cells.get("supply", ""))

    def _contact(self, line: ListLine, row: Row, cells: dict[str, str]) -> str:
        """Return the normal state of a contact that other cells of its row state [text]."""
        fails = (text.removeprefix("fail ") for text in self.cells.fails(row))
        texts = (line.signal, cells.get("detail", ""), *fails, cells.get("remark", ""))
        return next((s for t in texts if t and (s := contact_state(t))), "")

    def _words(self, cells: dict[str, str]) -> str:
        """Return the words of a row that tell a contact from a sensor [text]."""
        names = ("io_type", "signal", "detail", "supply", "text", "name", "remark")
        return " ".join(cells[name] for name in names if name in cells)

    def _renamed(self, line: ListLine, remark: str) -> None:
        was = _WAS.search(remark)
        if was and line.kind == "point" and "deleted" not in remark.lower():
            self.result.renamed[line.tag] = was.group(1)
            self.asked.ask("renamed", self.name, line.row, f"{line.tag} ({remark})")

    def _may_draw(self, line: ListLine, cells: dict[str, str]) -> bool:
        """Return whether a row can bear on the power at all; most inputs do not."""
        if "do" in line.points or not _TIMED.isdisjoint(cells):
            return True
        if not states_nothing(cells.get("supply", ""), ""):
            return True
        return not states_nothing(
            cells.get("remark", ""), f"{line.signal} {cells.get('detail', '')}"
        )

    def _draw(self, line: ListLine, row: Row, cells: dict[str, str]) -> SignalDraw:
        kind = "do" if "do" in line.points else next(iter(line.points), "")
        get = cells.get
        states = (*self.cells.normal(row), get("supply", ""))
        unit = spelt(get("unit", ""))
        said = Power(
            watts=get("power", "") or _draw_in(get("supply", "")),
            watts_unit=self.cells.power_unit or unit,
            amps=get("current", ""),
            amps_unit=self.cells.amps_unit or unit,
            states=states,
            fails=(*self.cells.fails(row), *_own_fails(get("remark", ""), line.text)),
            duty=self._duty(line, row)
            or get("duty")
            or get("hours")
            or (get("operation", "") if {"power", "current"} & cells.keys() else ""),
            duty_unit=self.cells.duty_unit,
            remark=get("remark", ""),
            text=telling(line.text) if kind == "do" else "",
            signal=f"{line.signal} {get('detail', '')}".strip(),
        )
        volts = cell_number(get("volts"), comma=self.comma) or volts_in(
            get("volts", "")
        )
        line.volts = (
            volts
            or self.cells.head_volts
            or volts_in(get("supply", ""), _SIGNAL_V.sub("", line.signal))
        )
        said = said._replace(volts=line.volts or self.volts)
        power = self.cells.power
        if (
            said.watts
            and not said.watts_unit
            and power
            and cell_number(said.watts) is not None
        ):
            said = said._replace(watts_unit="W")
            self.asked.ask(
                "no-unit-head", self.name, line.row, line.tag, what=power.called
            )
        return read_draw(said, kind, comma=self.comma, ac=line.supply == "ac")

    def _duty(self, line: ListLine, row: Row) -> str:
        """Return the share of a duty cell that holds a number, as a percentage [text]."""
        for k in self.cells.at.get("duty", ()):
            share = cell_number(cell_at(row, k), comma=self.comma)
            if share is None:
                continue
            if (line.row - 1, k) not in self._percent:
                column, number = self.columns.all[k], share
                share, doubt = self.columns.share(number, column)
                if doubt:
                    what = column.head.text if doubt == "percent" else ""
                    name = f"{line.tag} ({number:g})"
                    self.asked.ask(doubt, self.name, line.row, name, what=what)
            return f"{100 * share:.12g} %"
        return ""


_WIRES = re.compile(r"\s*[234] ?-?W\s*", re.IGNORECASE)
"""Two, three or four wires in a column of supplies, no watts."""
_FAILURE = re.compile(r"\bfail\w* to\b|\balarm", re.IGNORECASE)
"""Words of a signal that a device did not move, not of where it goes."""


def _own_fails(*texts: str) -> Iterator[str]:
    """Yield the texts of a row that say where its valve goes at failure [text]."""
    yield from (t for t in texts if t and fails_to(t) and not _FAILURE.search(t))


def _draw_in(supply: str) -> str:
    """Return a supply that states a draw too ("24 VDC / 350 mA"), else nothing [text]."""
    wires = _WIRES.fullmatch(supply)
    return "" if wires or states_nothing(supply, "") or figure(supply).empty else supply


def _says(cell: Value) -> bool:
    """Return whether a cell holds more than a checkbox or a zero."""
    return not isinstance(cell, bool) and cell != 0


def _states_a_signal(cells: dict[str, str]) -> bool:
    found = [read_signal(cells[k]) for k in ("io_type", "signal") if k in cells]
    return any(r.stated and r.kinds for r in found)


def _temperature(remark: str) -> str:
    """Return a remark that speaks of a temperature sensor, else nothing [text]."""
    return (
        remark
        if remark
        and re.search(r"rtd|pt ?-?100|thermo|transm|kopf", remark, re.IGNORECASE)
        else ""
    )
