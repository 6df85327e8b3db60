"""Rows of a signal list: points, spares, deleted rows, and what is none of them."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field

from powerbudget.lists.cells import Row, Value
from powerbudget.lists.columns import Columns
from powerbudget.lists.figures import cell_number, pieces
from powerbudget.lists.heads import UNITS
from powerbudget.lists.io_signal import Said, read_points
from powerbudget.lists.io_watts import Draw, Power, read_draw
from powerbudget.lists.questions import Questions
from powerbudget.lists.rows import Line
from powerbudget.lists.signals import UNUSED, read_signal, read_state, read_supply, stated_kinds
from powerbudget.lists.status import NOTES, STATUS_WORDS, TOTAL, is_spare_tag, legend_of, whole_status
from powerbudget.lists.tables import Table, is_repeated_head
from powerbudget.lists.words import folded

_YES = {"yes", "y", "true", "x", "ja", "si", "oui", "wahr", "verdadero", "1", "vrai"}
_NO = {"no", "n", "false", "nein", "non", "falsch", "falso", "0", "faux", "nao"}
_WAS = re.compile(
    r"\b(?:was|formerly|previously|ex|replaces|renamed from|antes|vormals|ersetzt|fruher)[: ]+"
    r"([A-Za-z]{1,5}[-_ ]?\d+\w*)"
)
_ERROR = re.compile(r"^#(?:N/?A|REF!?|NAME\?|VALUE!?|DIV/0!?|NUM!?|NULL!?)$", re.IGNORECASE)
_PARTS = re.compile(r"[A-Za-z0-9]\s*(?:,|/|&| and | und | y )\s*[A-Za-z0-9]")
LARGE_W = 5.0
"""Draw from which the hours of an output or bus device are asked (judgment) [W]."""
_OUT_OF_LIST = {"deleted", "spare", "future", "hold"}


@dataclass
class ListResult:
    """What a signal list became."""

    lines: list[Line] = field(default_factory=list)
    classes: dict[int, str] = field(default_factory=dict)
    totals: list[tuple[int, dict[str, float]]] = field(default_factory=list)
    renamed: dict[str, str] = field(default_factory=dict)


def text_of(cell: Value) -> str:
    """Return a cell as text, numbers without needless digits [text]."""
    if cell is None:
        return ""
    if isinstance(cell, str):
        return cell
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    return f"{cell:g}" if isinstance(cell, float) else cell.date().isoformat()


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
    hidden_sheet
        True for rows of a sheet that is not shown.
    """

    def __init__(  # noqa: PLR0913 - what a table is read with
        self, table: Table, columns: Columns, asked: Questions, *, place: str = "",
        comma: bool | None = None, volts: float = 0.0, legend: dict[str, str] | None = None,
        out: frozenset[str] = frozenset(), words: dict[str, str] | None = None,
    ) -> None:  # fmt: skip
        self.table, self.columns, self.asked = table, columns, asked
        self.place, self.comma, self.volts = place, comma, volts
        self.section = ""
        self.legend = legend or {}
        self.out = out
        self.words = words or {}
        self.name = table.sheet.name
        self.result = ListResult()
        self._at = {f: [c.index for c in columns.of(f)] for f in _FIELDS}
        self._counts = columns.counts()
        self._wide = len(self._counts) >= 2
        self._notes = False
        self._filled_tags = self._merged_tags()
        self._states_first = sorted(
            columns.of("normal"), key=lambda c: "contact" in c.head.text.lower()
        )

    def read(self) -> ListResult:
        """Return what became of every row of the table."""
        for index in range(self.table.first, self.table.last):
            row = self.table.sheet.rows[index]
            self.result.classes[index] = self._row(index, row)
        return self.result

    # --- cells ---

    def _one(self, row: Row, name: str) -> str:
        for index in self._at[name]:
            if index < len(row) and row[index] is not None:
                return text_of(row[index])
        return ""

    def _all(self, row: Row, name: str) -> str:
        found = [text_of(row[k]) for k in self._at[name] if k < len(row) and row[k] is not None]
        return found[0] if len(found) == 1 else " ".join(found)

    def _merged_tags(self) -> dict[int, int]:
        """Return the rows whose tag stands above them in a merged cell."""
        tags = set(self._at["tag"])
        found = {}
        for top, left, bottom, right in self.table.sheet.merged:
            if bottom > top and any(left <= t <= right for t in tags):
                found.update(dict.fromkeys(range(top + 1, bottom + 1), top))
        return found

    # --- one row ---

    def _row(self, index: int, row: Row) -> str:
        filled = [k for k, cell in enumerate(row) if cell is not None]
        if not filled:
            return "blank"
        if is_repeated_head(row, self.table.heads):
            return "head"
        first = row[filled[0]]
        if isinstance(first, str) and len(filled) <= 3 and NOTES.match(folded(first)):
            self._notes = True
        if self._notes and not self._is_data(row, filled):
            return "note"
        self._notes = False
        if all(isinstance(row[k], bool) or row[k] == 0 for k in filled):
            return "filler"
        lone = self._lone(row, filled)
        if lone:
            return lone
        return self._line(index, row, filled)

    def _is_data(self, row: Row, filled: list[int]) -> bool:
        kinds = self._said(row, "").io_type or self._said(row, "").signal
        return len(filled) >= 4 and bool(kinds) and bool(self._one(row, "tag"))

    def _lone(self, row: Row, filled: list[int]) -> str:
        """Return the class of a row that is no tag by its looks, or nothing."""
        texts = [row[k] for k in filled if isinstance(row[k], str)]
        first = str(texts[0]) if texts else ""
        plain = folded(first)
        if texts and TOTAL.match(plain) and not self._states_a_signal(row):
            self.result.totals.append((0, self._numbers(row)))
            return "total"
        if len(filled) > 1 or not texts:
            return ""
        tag_column = filled[0] in self._at["tag"]
        if is_spare_tag(first) and (tag_column or self.place or self.section):
            return ""
        if tag_column and re.search(r"\d", first) and " " not in first and len(first) < 25:
            return ""
        if len(first) > 60 or re.match(r"^(?:\d+[.)]|note|\*|-)\s", plain) or "=" in first:
            return "note"
        kinds = stated_kinds(first)
        self.section = next(iter(kinds)) if len(kinds) == 1 else ""
        return "section"

    def _states_a_signal(self, row: Row) -> bool:
        said = self._said(row, "")
        return any(
            (r := read_signal(t)).stated and bool(r.kinds)
            for t in (said.io_type, said.signal) if t
        )  # fmt: skip

    def _numbers(self, row: Row) -> dict[str, float]:
        found = {}
        for k, cell in enumerate(row):
            number = cell_number(cell, comma=self.comma)
            if number is not None:
                name = next((c.field for c in self.columns.all if c.index == k), "")
                found[name or str(k)] = number
        return found

    def _said(self, row: Row, tag: str) -> Said:
        return Said(
            io_type=self._all(row, "io_type"), signal=self._all(row, "signal"),
            data_type=self._one(row, "data_type"), direction=self._one(row, "direction"),
            address=self._one(row, "address"), protocol=self._one(row, "protocol"),
            port=self._one(row, "port"), detail=self._all(row, "detail"), tag=tag,
            place=self.section or self.place, remark=self._one(row, "remark"),
        )  # fmt: skip

    def _tag(self, index: int, row: Row) -> str:
        """Return the tag of a row; one merged over several rows is that of each."""
        tag = self._one(row, "tag")
        if not tag and not self._at["tag"]:
            tag = self._one(row, "name") or self._one(row, "address")
        if tag:
            return tag
        top = self._filled_tags.get(index)
        if top is not None:
            above = self.table.sheet.rows[top]
            return self._one(above, "tag")
        return ""

    def _line(self, index: int, row: Row, filled: list[int]) -> str:
        tag, number = self._tag(index, row), index + 1
        text = self._one(row, "text") or self._one(row, "name")
        status, clash = self._status(index, row, tag, text)
        if _ERROR.match(tag):
            return self._error(row, number, tag)
        if index in self.table.sheet.markup.hidden_rows and status not in {"deleted"}:
            status = "hidden"
        said = self._said(row, tag)
        points, kind, doubts = self._points(row, said, tag, number)
        if not tag and points and status == "point":
            tag = self._blank_tag(number, text)
        if kind != "point" and status in {"point", "spare", "hidden"}:
            if kind == "unsigned" and status == "spare":
                return self._unknown_spare(number, tag)
            if kind == "unsigned" and folded(tag) in {"na", "n/a", "none", "-"}:
                return "unused"
            if kind == "unsigned" and not (tag or text):
                return "note"
            if kind == "unsigned" and not tag and len(filled) <= 2:
                return "note"
            return self._without(kind, number, tag, said)
        self._doubts(doubts, number, tag, said)
        line = self._made(index, row, status, (tag, text), points)
        self._after(line, row, clash)
        self.result.lines.append(line)
        return line.kind

    def _made(
        self, index: int, row: Row, status: str, names: tuple[str, str], points: dict[str, int]
    ) -> Line:
        tag, text = names
        quantity = self._quantity(index, row, tag)
        line = Line(self.name, index + 1, status, tag, text,
                    {k: n * quantity for k, n in points.items()}, quantity=quantity)  # fmt: skip
        line.signal = " ".join(t for t in (self._all(row, "io_type"), self._all(row, "signal")) if t)
        line.port = self._one(row, "port")
        line.supply = read_supply(
            " ".join((self._one(row, "supply"), line.signal, self._all(row, "detail"),
                      self._one(row, "remark")))
        )  # fmt: skip
        return line

    # --- status ---

    def _status(self, index: int, row: Row, tag: str, text: str) -> tuple[str, str]:
        """Return what a row is by its marks and status cells, and where two disagree."""
        if tag.casefold() in self.out:
            return "excluded", ""
        said = self._one(row, "status")
        meaning = whole_status(self.legend.get(said.lower(), "") or said) if said else ""
        remark = whole_status(self._one(row, "remark"))
        if self._struck(index, row):
            return "deleted", "status-clash" if meaning == "live" else "struck"
        if meaning in _OUT_OF_LIST:
            return meaning, "unread" if len(said) == 1 and said.lower() not in self.legend else ""
        if remark in _OUT_OF_LIST:
            return remark, ""
        flag = self._flag(row, "spare")
        typed = folded(f"{self._all(row, 'io_type')} {self._all(row, 'signal')}")
        if flag or is_spare_tag(tag) or re.search(r"\bspares?\b|\breserva\b", typed):
            return "spare", ""
        if self._flag(row, "scope") is False:
            return "excluded", ""
        own = whole_status(text)
        if own in {"deleted", "spare"}:
            return own, "by-description" if re.search(r"\d", tag) else ""
        return "point", "letter" if len(said) == 1 and not meaning and said.isalpha() else ""

    def _flag(self, row: Row, name: str) -> bool | None:
        said = folded(self._one(row, name)).strip(".")
        if said in _YES or (name == "spare" and whole_status(said) == "spare"):
            return True
        return False if said in _NO else None

    def _struck(self, index: int, row: Row) -> bool:
        struck = self.table.sheet.markup.struck
        if not struck:
            return False
        tags = [k for k in self._at["tag"] if k < len(row) and row[k] is not None]
        if tags:
            return (index, tags[0]) in struck
        filled = [k for k, cell in enumerate(row) if cell is not None]
        return all((index, k) in struck for k in filled)

    # --- points ---

    def _points(
        self, row: Row, said: Said, tag: str, number: int
    ) -> tuple[dict[str, int], str, list[str]]:
        if self._wide:
            return self._counted(row, tag, number)
        if self.columns.several:
            return self._one_by_one(row, said)
        known = self.words.get(folded(" ".join(t for t in (said.io_type, said.signal) if t)))
        if known:
            return ({known: 1}, "point", []) if known != "unused" else ({}, "unused", [])
        found = read_points(said)
        return found.points, found.status, found.doubts

    def _counted(
        self, row: Row, tag: str, number: int
    ) -> tuple[dict[str, int], str, list[str]]:
        """Return the points of a row whose columns count them."""
        points: dict[str, int] = {}
        for index, kind in self._counts.items():
            cell = row[index] if index < len(row) else None
            if cell is None or cell is False:
                continue
            count = 1.0 if cell is True else cell_number(cell, comma=self.comma)
            if count is None:
                count = self._ticked(str(cell), kind, tag, number)
            if kind == "serial" and count > 1:
                self.asked.ask(
                    "registers", "Counts under a bus column were read as registers of one device",
                    "Counted as 1 device each; confirm, and say which devices share one port.",
                    sheet=self.name, row=number, name=f"{tag} ({count:g})",
                )  # fmt: skip
                count = 1.0
            if count > 0:
                points[kind] = points.get(kind, 0) + math.ceil(count)
        return points, "point" if points else ("unused" if tag else "unsigned"), []

    def _ticked(self, cell: str, kind: str, tag: str, number: int) -> float:
        """Return 1 for a cell that ticks a kind of point; words are asked."""
        plain = folded(cell)
        if plain in _YES | {"•", "*", "✓", "✔", "√"}:
            return 1.0
        if plain in _NO | UNUSED | {"."}:
            return 0.0
        self.asked.ask(
            "count-words", "Cells under a kind of signal hold words, not numbers", "Counted as 1 point each; "
            "confirm.", sheet=self.name, row=number, name=f"{tag} {kind.upper()} '{cell[:20]}'",
        )  # fmt: skip
        return 1.0

    def _one_by_one(self, row: Row, said: Said) -> tuple[dict[str, int], str, list[str]]:
        """Return the points of a row that names one in each of several columns."""
        points: dict[str, int] = {}
        doubts: list[str] = []
        unused = 0
        for column in self.columns.several:
            cell = text_of(row[column.index]) if column.index < len(row) else ""
            if not cell:
                continue
            found = read_points(Said(signal=cell, tag=said.tag))
            unused += found.status == "unused"
            doubts += found.doubts
            for kind, count in found.points.items():
                points[kind] = points.get(kind, 0) + count
        if points:
            return points, "point", doubts
        return {}, "unused" if unused else "unsigned", doubts

    def _quantity(self, index: int, row: Row, tag: str) -> int:
        """Return the pieces of a row; one that names several without a count is asked."""
        cells = [row[k] for k in self._at["quantity"] if k < len(row) and row[k] is not None]
        if not cells:
            parts = _several_names(tag)
            if parts > 1 and not self._at["quantity"] and not self._wide:
                self.asked.ask(
                    "several-in-tag", "Tags name several points but the list has no quantity",
                    "Counted as many as named; add a quantity column or split the rows.",
                    sheet=self.name, row=index + 1, name=f"{tag} ({parts})",
                )  # fmt: skip
                return parts
            return 1
        number = pieces(cells[0], comma=self.comma)
        if number is None or number < 0 or number != int(number) or number > 10_000:
            self.asked.ask(
                "quantity", "The quantity is no whole number", "Counted as 1, or rounded up; "
                "correct the cells.", sheet=self.name, row=index + 1,
                name=f"{tag} {text_of(cells[0])[:20]!r}",
            )  # fmt: skip
            return max(1, min(10_000, math.ceil(number))) if number and number > 0 else 1
        if number == 0:
            self.asked.ask(
                "quantity-zero", "The quantity is 0", "Counted as no point; confirm.",
                sheet=self.name, row=index + 1, name=tag,
            )  # fmt: skip
        return int(number)

    # --- what a row is not ---

    def _blank_tag(self, number: int, text: str) -> str:
        above = self.result.lines[-1] if self.result.lines else None
        same = above is not None and above.row == number - 1 and above.kind == "point"
        if same and above is not None and text and text == above.text:
            return above.tag
        self.asked.ask(
            "blank-tag", "Rows with a signal but no tag", "Counted as points without a tag; type the "
            "tags.", sheet=self.name, row=number, name=text,
        )  # fmt: skip
        return ""

    def _error(self, row: Row, number: int, tag: str) -> str:
        guess = "-".join(
            text_of(row[c.index]) for c in self.columns.all
            if c.index < len(row) and c.field in {"", "item"} and row[c.index] is not None
            and len(text_of(row[c.index])) <= 6
        )  # fmt: skip
        self.asked.ask(
            "tag-error", "The tag is an error of a formula, the row is not counted",
            "Type the tag.", sheet=self.name, row=number,
            name=f"row {number} {tag}" + (f" (from the cells beside it {guess})" if guess else ""),
        )  # fmt: skip
        return "unsigned"

    def _unknown_spare(self, number: int, tag: str) -> str:
        self.asked.ask(
            "spare-kind", "Spare rows do not say which kind of channel", "Not counted; state "
            "AI, AO, DI or DO.", sheet=self.name, row=number, name=tag,
        )  # fmt: skip
        return "spare"

    def _without(self, kind: str, number: int, tag: str, said: Said) -> str:
        """Return the class of a row without points; an unknown signal is asked."""
        if kind != "unsigned":
            return kind
        if is_spare_tag(tag):
            return self._unknown_spare(number, tag)
        words = " ".join(t for t in (said.io_type, said.signal) if t)
        if words:
            self.asked.ask(
                "vague", f"'{words}' on {{n}} rows says neither kind nor direction",
                "Not counted; state AI, AO, DI or DO for them.", sheet=self.name, row=number,
                name=tag, key=folded(words),
            )  # fmt: skip
        else:
            self.asked.ask(
                "no-signal", "{n} rows have a tag but no signal", "Not counted; state the "
                "signal, or NONE where there is none.", sheet=self.name, row=number, name=tag,
            )  # fmt: skip
        return "unsigned"

    # --- watts and questions ---

    def _after(self, line: Line, row: Row, clash: str) -> None:
        """Add the stated watts of a row and ask what is open about it."""
        _CLASHES(self, line, clash)
        remark = self._one(row, "remark") + " " + self._one(row, "status")
        was = _WAS.search(remark)
        if was and line.kind == "point" and "deleted" not in folded(remark):
            self.result.renamed[line.tag] = was.group(1)
            self.asked.ask(
                "renamed", "Tags that replace others", "Check that the old tag is gone and that "
                "the kind of signal is right.", sheet=self.name, row=line.row,
                name=f"{line.tag} ({remark.strip()})",
            )  # fmt: skip
        if line.kind not in {"point", "hold", "future", "hidden", "excluded"}:
            return
        draw = self._draw(line, row)
        if draw.each_w is not None:
            line.typical_w = draw.each_w * draw.share * line.quantity
            line.maximum_w = draw.each_w * line.quantity
            line.amps = draw.amps
        line.state = draw.state or self._contact(row)
        if line.kind == "point":
            _ask_draw(self, line, draw, row)

    def _draw(self, line: Line, row: Row) -> Draw:
        kind = next(iter(line.points), "")
        kind = "do" if "do" in line.points else kind
        power, amps = self.columns.first("power"), self.columns.first("current")
        volts = cell_number(self._one(row, "volts") or None, comma=self.comma) or 0.0
        if not volts:
            found = re.search(r"(\d+(?:[.,]\d+)?)\s*V", self._one(row, "volts"), re.IGNORECASE)
            volts = float(found.group(1).replace(",", ".")) if found else 0.0
        head_volts = amps.head.volts if amps else 0.0
        said = Power(
            watts=self._one(row, "power"), watts_unit=power.head.unit if power else "",
            amps=self._one(row, "current"), amps_unit=amps.head.unit if amps else "",
            volts=volts or head_volts or _volts_in(line.signal, self._one(row, "supply")) or self.volts,
            states=(*(text_of(row[c.index]) for c in self._states_first if c.index < len(row)),
                    self._one(row, "supply")),
            duty=self._one(row, "duty") or self._one(row, "hours"),
            duty_unit=self._duty_unit(), remark=self._one(row, "remark"), text=line.text,
            signal=f"{line.signal} {self._all(row, 'detail')}".strip(),
        )  # fmt: skip
        if said.watts and not said.watts_unit and power and cell_number(said.watts) is not None:
            said.watts_unit = "W"
            self.asked.ask(
                "no-unit", f"Column {power.letter} '{power.head.text}' states no unit",
                "Read as W; confirm.", sheet=self.name, row=line.row, name=line.tag,
            )  # fmt: skip
        return read_draw(said, kind, comma=self.comma, ac=line.supply == "ac")

    def _contact(self, row: Row) -> str:
        """Return the contact that a row states, the normal state before the contact form."""
        states = [read_state(text_of(row[c.index])) for c in self._states_first if c.index < len(row)]
        return next((s for s in states if s), "")

    def _duty_unit(self) -> str:
        column = self.columns.first("duty", "hours")
        if column is None:
            return ""
        unit = column.head.unit if column.head.unit in UNITS else ""
        return f"{unit}/{'h' if column.head.per == 'hour' else 'd'}" if unit in {"h", "min", "s"} else unit

    def _doubts(self, doubts: list[str], number: int, tag: str, said: Said) -> None:
        for doubt in doubts:
            lead, action = _DOUBTS[doubt]
            words = " ".join(t for t in (said.io_type, said.signal, said.detail) if t)
            self.asked.ask(
                doubt, lead, action, sheet=self.name, row=number,
                name=f"{tag or said.address} ({words or said.address})",
            )  # fmt: skip


_FIELDS = (
    "tag", "name", "text", "io_type", "signal", "data_type", "direction", "address", "protocol",
    "port", "detail", "quantity", "status", "remark", "spare", "scope", "supply", "power", "current",
    "volts", "duty", "hours", "normal",
)  # fmt: skip
_DOUBTS = {
    "several-in-cell": ("Cells that name several points", "Counted as many as named; confirm."),
    "bus-point": ("Points that reach the controller over a bus", "Counted as serial devices, not as "
                  "channels of a card; confirm."),
    "head-transmitter": ("Temperature signals with a transmitter", "Counted as AI (4-20 mA), not as RTD or "
                         "thermocouple inputs; confirm."),
    "refined": ("Stated kinds that the signal column makes more exact", "Counted as the signal column "
                "says; confirm."),
    "pulse-output": ("Outputs that pulse", "Counted as DO, not as pulse inputs: the stated direction holds."),
    "address": ("Addresses of whole words were read as analog channels", "Give the list of cards, or state "
                "AI or AO."),
    "direction": ("Signals without a direction", "Read as inputs or outputs from the letters of the tag; "
                  "state AI, AO, DI or DO."),
}  # fmt: skip


def _several_names(tag: str) -> int:
    """Return how many points a tag names: 'ZSO/ZSC-101' or 'P-7A/B/C'."""
    if not tag or len(tag) > 40 or not _PARTS.search(tag):
        return 1
    parts = [p for p in re.split(r",|/|&| and | und | y ", tag) if p.strip()]
    plain = all(re.fullmatch(r"[A-Za-z]{1,5}[-_ ]?\d*[A-Za-z]?|\d{0,4}[A-Za-z]?|[A-Za-z]{0,6}[-_ ]?\d+\w*",
                             p.strip()) for p in parts[1:])  # fmt: skip
    return len(parts) if plain and 1 < len(parts) <= 8 else 1


def _volts_in(*texts: str) -> float:
    for text in texts:
        match = re.search(r"(\d+(?:[.,]\d+)?)\s*V(?:DC|CC)?\b", text, re.IGNORECASE)
        if match:
            return float(match.group(1).replace(",", "."))
    return 0.0


def _CLASHES(reader: ListReader, line: Line, clash: str) -> None:  # noqa: N802
    """Ask about rows whose marks and words disagree."""
    words = {
        "status-clash": ("Rows are struck out but their status says active",
                         "Left out; correct the status or the strike-through."),
        "struck": ("Rows are struck out", "Left out as deleted; confirm."),
        "by-description": ("The description is nothing but a status word",
                           "Left out as it says; confirm."),
        "letter": ("Status letters without a legend", "Rows counted as live; state what the letters mean."),
        "unread": ("Status letters without a legend", "Read as the letter suggests; confirm."),
    }.get(clash)  # fmt: skip
    if words:
        reader.asked.ask(clash, words[0], words[1], sheet=reader.name, row=line.row, name=line.tag or line.text)
    states = {
        "hidden": ("Hidden rows hold points", "Left out; show the row if it counts."),
        "hold": ("Rows on hold", "Left out; add them if they will be there."),
        "excluded": ("Rows marked out of scope", "Left out; confirm."),
    }.get(line.kind)  # fmt: skip
    if states:
        reader.asked.ask(line.kind, states[0], states[1], sheet=reader.name, row=line.row, name=line.tag)


def _ask_draw(reader: ListReader, line: Line, draw: Draw, row: Row) -> None:
    """Ask what is open about the draw of a live row."""
    struck = reader.table.sheet.markup.struck
    ask, place = reader.asked.ask, {"sheet": reader.name, "row": line.row}
    watts = line.maximum_w or 0.0
    name = f"{line.tag or line.text} ({watts:.3g} W)" if watts else line.tag or line.text
    columns = [c.index for c in reader.columns.of("power", "current", "quantity", "io_type", "signal")]
    if any((line.row - 1, k) in struck and k < len(row) and row[k] is not None for k in columns):
        ask("struck-figure", "Figures are struck out on live rows", "Kept; delete or correct the cells.",
            name=name, **place)  # fmt: skip
    if draw.doubt in {"no-state", "alarm-device"} and watts or draw.doubt == "hours" and watts >= LARGE_W:
        counted = "24 h" if draw.share else "0 h"
        ask("hours", "Hours a day are not stated", "Counted by the normal state (on 24 h, off or pulsed "
            "0 h; outputs without one on, alarm devices off); state the hours.",
            name=f"{name[:-1]}, {counted})", weight=watts, **place)  # fmt: skip
    elif draw.doubt == "remark-hours":
        ask("remark-hours", "Hours are taken from the remark", "Confirm, also for the longest night.",
            name=name, **place)  # fmt: skip
    elif draw.doubt in {"no-volts", "no-unit"}:
        ask(draw.doubt, "Currents without a voltage or unit", "Not counted; state V or W.", name=name, **place)
    if watts and line.quantity > 1 and not draw.from_remark:
        ask("watts-each", "Watts stand beside a quantity", "Read as watts of one piece; confirm.",
            name=f"{line.tag} ({line.quantity} x {watts / line.quantity:.3g} W)", **place)  # fmt: skip
    if not watts:
        _ask_missing(reader, line)
    said = reader._one(row, "supply")  # noqa: SLF001 - one reader in two files
    if said and not line.supply and not re.search(r"\d", said) and set(line.points) & {"ai", "pulse", "serial"}:
        ask("supply-word", "Words under the supply that name no supply", "Read as no supply beyond the "
            "card; confirm.", name=f"{line.tag} '{said}'", **place)  # fmt: skip
    short = [text_of(row[c.index]) for c in reader.columns.of("normal") if c.index < len(row)]
    for text in short:
        if re.fullmatch(r"n\.?d?\.?e\.?|n\.?d\.?", text.strip().lower()):
            ask("ne-nd", "NE and ND were read as normally energized and normally de-energized", "Confirm.",
                name=f"{line.tag} ({text})", **place)  # fmt: skip
    if STATUS_WORDS.search(folded(line.text)) and re.search(r"\bfuture|\bplanned", folded(line.text)):
        ask("future-text", "Descriptions speak of the future", "Counted as live; are they there on the "
            "first day?", name=f"{line.tag} '{line.text}'", **place)  # fmt: skip


def _ask_missing(reader: ListReader, line: Line) -> None:
    kind = next(iter(line.points), "")
    what = ""
    if line.supply == "four-wire" and kind in {"ai", "ao"}:
        what, weight = "4-wire", 3.0
    elif kind == "serial":
        what, weight = "bus device", 2.0
    elif kind == "do" and line.supply != "ac":
        what, weight = "output", 1.0
    if what:
        reader.asked.ask("no-watts", "No watts are stated", "Library figures are taken and named; state "
                         "the watts.", sheet=reader.name, row=line.row, name=f"{line.tag} ({what})",
                         weight=weight)  # fmt: skip
