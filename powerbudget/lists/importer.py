"""One call from files to what they hold: points, loads, questions, every row named."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from pathlib import Path

from powerbudget.lists import checks, schedule_checks
from powerbudget.lists.cells import (
    ClientBook,
    ClientSheet,
    Row,
    column_letter,
    read_book,
    without_collection,
)
from powerbudget.lists.columns import HALF, Columns, map_columns
from powerbudget.lists.formulas import fill_formulas
from powerbudget.lists.found import FoundPart, Import
from powerbudget.lists.io_bus import is_register_map
from powerbudget.lists.io_rows import ListReader
from powerbudget.lists.io_status import OUT
from powerbudget.lists.mapping import Mapping, apply_mapping
from powerbudget.lists.questions import Questions
from powerbudget.lists.refusals import refuse_broken
from powerbudget.lists.repeats import fill_ditto, join_tags
from powerbudget.lists.row_cells import cell_at
from powerbudget.lists.rows import Tally, ranges
from powerbudget.lists.schedule_rows import ScheduleReader
from powerbudget.lists.second_look import ScheduleLook, look_at_signals
from powerbudget.lists.signals import stated_kinds
from powerbudget.lists.status import (
    STATUS_WORDS,
    is_total,
    legend_of,
    legend_rows,
    row_status,
)
from powerbudget.lists.tables import ListTable, find_tables
from powerbudget.lists.vertical import VerticalResult, is_vertical, read_vertical
from powerbudget.lists.words import bare_letters, folded, word_set, words_of

_COMMA = re.compile(r"^[+-]?(?:\d+,\d{1,2}|\d{1,3}(?:\.\d{3})+,\d+|\d+,\d{4,})$")
_POINT = re.compile(r"^[+-]?(?:\d+\.\d{1,2}|\d{1,3}(?:,\d{3})+\.\d+|\d+\.\d{4,})$")
_EITHER = re.compile(r"^[+-]?\d{1,3},\d{3}$")
_OLD = re.compile(
    r"\bold\b|supersed|\bprevious|\bobsolete|\bbackup|\bbak\b|\balt\b|\bhistor|\bveraltet|"
    r"\bcopy of|\bcopia|\bantigu|\banterior|\barchiv"
)
_SYSTEM_V = re.compile(
    r"\b(?:system|bus|supply|battery|nominal) (?:supply )?"
    r"(?:volt(?:s|age)\W{0,4}(?=\d{1,2}(?:[.,]\d)? ?(?:V|$))|(?=\d{1,2}(?:[.,]\d)? ?V))"
    r"(\d{1,2}(?:[.,]\d)?)",
    re.IGNORECASE,
)
_VOLTS = re.compile(r"\b(\d{1,2}(?:[.,]\d)?)\s*V(?:DC|CC)?\b", re.IGNORECASE)


def read_lists(
    paths: list[Path], mapping: Mapping | None = None, encoding: str | None = None
) -> Import:
    """Return what signal lists and equipment schedules hold.

    Parameters
    ----------
    paths
        Workbooks and text tables [path].
    mapping
        Meanings of columns confirmed before, None to propose them.
    encoding
        Encoding of text tables, None to find out [text].

    Returns
    -------
    Import
        Points, loads, questions, and the class of every row.

    Raises
    ------
    InputError
        When a file cannot be used, or none of its sheets holds a list.
    """
    with without_collection():
        return read_books([read_book(path, encoding) for path in paths], mapping)


def read_books(
    books: list[ClientBook],
    mapping: Mapping | None = None,
    *,
    comma: bool | None = None,
    chosen: bool = False,
) -> Import:
    """Return what files hold whose cells were read before.

    Parameters
    ----------
    books
        The files.
    mapping
        Meanings of columns confirmed before, None to propose them.
    comma
        Whether texts write decimal commas, None to find out.
    chosen
        True where a person named the sheets: none is left out as hidden or old.

    Raises
    ------
    InputError
        When none of the sheets holds a list, or figures are dates or go in a circle.
    """
    _own_names(books)
    out = Import(books)
    for book in books:
        out.notes += book.notes
        _Reader(book, out, mapping, comma=comma, chosen=chosen).read()
    refuse_broken(out)
    checks.after(out)
    return out


def _own_names(books: list[ClientBook]) -> None:
    """Name sheets that several files call alike by their file as well.

    Rows are accounted for, and sources named, by sheet: two files of one sheet name
    must not be taken for one.
    """
    count = Counter(sheet.name for book in books for sheet in book.sheets)
    used: set[str] = set()
    for book in books:
        for sheet in book.sheets:
            file = book.path.name
            name = sheet.name
            if count[sheet.name] > 1:
                name = file if sheet.text else f"{file} {sheet.name}"
            number = 2
            while name in used:
                name, number = f"{file} ({number})", number + 1
            sheet.name = name
            used.add(name)


class _Reader:
    """Reads one book into an import."""

    def __init__(
        self,
        book: ClientBook,
        out: Import,
        mapping: Mapping | None,
        *,
        comma: bool | None,
        chosen: bool,
    ) -> None:
        self.book, self.out, self.mapping, self.chosen = book, out, mapping, chosen
        self.comma = _comma(book, out) if comma is None else comma
        texts = [
            c
            for s in book.sheets
            for row in s.rows[:400]
            for c in row
            if isinstance(c, str)
        ]
        texts += [
            c
            for s in book.sheets
            for row in s.rows[-60:]
            for c in row
            if isinstance(c, str)
        ]
        self.legend = legend_of(
            [t for t in dict.fromkeys(texts) if "=" in t or ":" in t]
        )
        for sheet in book.sheets:
            for code, meaning in legend_rows(sheet.rows):
                self.legend.setdefault(code, meaning)

    def read(self) -> None:
        for sheet in self.book.sheets:
            if not sheet.rows:
                self.out.tallies.append(Tally(sheet.name, "empty", []))
                continue
            fill_formulas(sheet, self.out.asked)
            self._sheet(sheet)

    def _sheet(self, sheet: ClientSheet) -> None:
        classes = ["blank" if row.count(None) == len(row) else "" for row in sheet.rows]
        tables = [t for t in find_tables(sheet) if t.last > t.first]
        for table in tables:
            fill_kinds(table)
            self._repeats(table)
        used = "neither"
        parts = [
            FoundPart(t, apply_mapping(self.mapping, t, self._mapped(t)), "")
            for t in tables
        ]
        for part in parts:
            fill_merged(part.table, part.columns)
            part.hidden = sheet.hidden
            known = self.mapping.table(part.table) if self.mapping else None
            part.kind = (known.kind if known else "") or kind_of(
                part.table, part.columns, [*self.out.parts, *parts]
            )
            self._part(part, sheet)
            self._class(part, classes)
            self._unused(part)
            if part.kind in {"io", "schedule"}:
                checks.unread(self.out, part)
            self.out.parts.append(part)
            used = part.kind if part.kind not in {"neither", "summary"} else used
        key = any(tells_of_paper(p.table, p.columns) for p in parts)
        if used == "neither" and not key and is_vertical(sheet, self.comma):
            used = "schedule"
            found = read_vertical(sheet, self.out.asked, comma=self.comma)
            self.out.loads += found.loads
            schedule_checks.ask_contingency(self.out, sheet.name, found.contingency)
            schedule_checks.check_totals(
                self.out, sheet.name, found.totals, found.loads
            )
            for index, name in found.classes.items():
                classes[index] = name
        first = min(
            (p.table.head_rows[0] for p in parts if p.table.head_rows), default=0
        )
        for index, name in enumerate(classes):
            if not name:
                classes[index] = "title" if index < first else "note"
        self.out.tallies.append(Tally(sheet.name, used, classes))
        inside = [k + 1 for k, name in enumerate(classes) if name == "internal"]
        if inside:
            self.out.notes.append(
                f"{sheet.name}: rows of the program, not wired, are no points: "
                f"{ranges(inside)}."
            )

    def _repeats(self, table: ListTable) -> None:
        """Write out ditto marks and tags that are split over columns, and say so."""
        ditto, name = fill_ditto(table), table.sheet.name
        if ditto:
            told = (
                f"rows {ranges(ditto)}: ditto marks were read as the cells above them."
            )
            self.out.notes.append(f"{name}: {told}")
        if join_tags(table):
            self.out.notes.append(f"{name}: tags were joined from their columns.")

    def _mapped(self, table: ListTable) -> Columns:
        """Return the columns, one of letters that a legend calls deleted or so as the status."""
        columns = map_columns(table)
        for column in columns.all if self.legend and not columns.of("status") else ():
            if column.field not in {"", "other"} or not column.filled:
                continue
            cells = (cell_at(row, column.index) for row in table.rows())
            codes = [cell.lower() for cell in cells if isinstance(cell, str)]
            told = [self.legend[code] for code in codes if code in self.legend]
            if len(told) >= HALF * len(codes) and OUT & set(map(row_status, told)):
                why = "its letters are statuses by the legend"
                columns.put(replace(column, field="status", evidence=why))
                break
        return columns

    def _unused(self, part: FoundPart) -> None:
        """Note the columns of a list that nothing was read from."""
        heads = [
            c.called
            for c in part.columns.all
            if c.field in {"", "other", "hidden"} and c.filled and c.head.text
        ]
        if heads and part.kind in {"io", "schedule"}:
            more = f" and {len(heads) - 12} more" if len(heads) > 12 else ""
            self.out.notes.append(
                f"{part.table.sheet.name}: columns not used: {', '.join(heads[:12])}{more}."
            )

    def _class(self, part: FoundPart, classes: list[str]) -> None:
        for index in part.table.head_rows:
            classes[index] = "head"
        if part.result is not None and not isinstance(part.result, VerticalResult):
            for index, name in part.result.classes.items():
                known = part.table.beside and classes[index] in _KEPT
                if not (known or (part.table.beside and name == "blank")):
                    classes[index] = name
            return
        name = "copy" if part.kind == "summary" else "note"
        for index in range(part.table.first, part.table.last):
            if not classes[index]:
                first = next(
                    (c for c in part.table.sheet.rows[index] if isinstance(c, str)), ""
                )
                classes[index] = "total" if name == "copy" and is_total(first) else name

    def _part(self, part: FoundPart, sheet: ClientSheet) -> None:
        """Read one table as what it is."""
        names = (c.head.text for c in part.columns.of("name", "text", "tag"))
        titles = " ".join((*part.table.above, sheet.name, *names))
        volts = _VOLTS.search(titles)
        volts = volts or next(filter(None, map(_system_volts, sheet.rows)), None)
        bus = float(volts.group(1).replace(",", ".")) if volts else 0.0
        listed = part.kind in {"io", "schedule"} and not sheet.hidden
        if listed and STATUS_WORDS.search(folded(sheet.name)):
            self.out.asked.ask("section-status", sheet.name, 0, f"sheet '{sheet.name}'")
        if part.kind == "io":
            self._list(part, sheet, bus)
        elif part.kind == "schedule":
            reader = ScheduleReader(
                part.table,
                part.columns,
                self.out.asked,
                comma=self.comma,
                volts=bus,
                legend=self.legend,
            )
            part.result = found = reader.read()
            old = sheet.hidden or _OLD.search(folded(sheet.name))
            if old and not self.chosen:
                part.hidden = True
                schedule_checks.hidden_schedule(self.out, sheet.name, found)
                return
            self.out.volts = self.out.volts or bus
            look = ScheduleLook(part, self.out.asked, comma=self.comma)
            self.out.notes += look.look()
            self.out.loads += found.loads
            checks.left_out(self.out, part)
            schedule_checks.after_schedule(self.out, part, found)

    def _list(self, part: FoundPart, sheet: ClientSheet, bus: float) -> None:
        private = Questions() if sheet.hidden and not self.chosen else self.out.asked
        reader = ListReader(
            part.table,
            part.columns,
            private,
            place=place_of(part.table)
            or ("serial" if is_register_map(part.columns) else "")
            or shape_of(part.table, part.columns),
            comma=self.comma,
            volts=bus,
            legend=self.legend,
            out=self.mapping.out if self.mapping else frozenset(),
            words=self.mapping.words if self.mapping else {},
        )
        part.result = found = reader.read()
        old = sheet.hidden or _OLD.search(folded(sheet.name))
        if old and not self.chosen:
            checks.old_sheet(self.out, sheet.name, found)
            return
        self.out.volts = self.out.volts or bus
        self.out.renamed |= found.renamed
        checks.add_list(self.out, part, found)
        look_at_signals(part, found.lines, self.out.asked, comma=self.comma)


def fill_kinds(table: ListTable) -> None:
    """Carry a kind of signal that is merged over rows down to each: "8 ch. analog input"."""
    rows = table.sheet.rows
    for top, left, bottom, right in table.sheet.merged:
        text = rows[top][left] if left < len(rows[top]) else None
        one = bottom > top and left == right and isinstance(text, str)
        if not (one and len(stated_kinds(str(text))) == 1):
            continue
        for row in rows[max(top + 1, table.first) : min(bottom + 1, table.last)]:
            if len(row) > left and any(c is not None for c in row):
                row[left] = text


_MERGED = ("status", "scope", "name", "tag")


def fill_merged(table: ListTable, columns: Columns) -> None:
    """Carry a name, tag or status that is merged over rows down to each of them."""
    indexes = {c.index for c in columns.of(*_MERGED)}
    names = {c.index for c in columns.of("name", "text", "tag")}
    spans = {(a, c) for a, b, c, d in table.sheet.merged if b == d and b in names}
    pieces = {c.index for c in columns.of("quantity")}
    rows = table.sheet.rows
    for top, left, bottom, right in table.sheet.merged:
        of_one = left in pieces and (top, bottom) in spans
        if bottom == top or left != right or not (left in indexes or of_one):
            continue
        text = rows[top][left] if left < len(rows[top]) else None
        for row in rows[max(top + 1, table.first) : min(bottom + 1, table.last)]:
            if (
                (isinstance(text, str) or (of_one and text is not None))
                and len(row) > left
                and any(c is not None for c in row)
            ):
                row[left] = text


_KEPT = {"load", "point", "head"}
"""Classes of a row that a table beside another does not change."""


def _comma(book: ClientBook, out: Import) -> bool | None:
    """Return whether the texts of a book write decimal commas."""
    commas = points = 0
    either: list[tuple[str, int, str]] = []
    for sheet in book.sheets:
        for number, row in enumerate(sheet.rows[:5000], start=1):
            for index, cell in enumerate(row):
                if isinstance(cell, str) and len(cell) < 16 and cell[-1:].isdigit():
                    commas += bool(_COMMA.match(cell))
                    points += bool(_POINT.match(cell))
                    if _EITHER.match(cell):
                        place = f"{column_letter(index)}{number} {cell!r}"
                        either.append((sheet.name, number, place))
    if commas and not points:
        out.notes.append(f"{book.path.name}: commas were read as decimal marks.")
    if commas and points:
        out.notes.append(
            f"{book.path.name} writes decimal commas and decimal points; each was read as written."
        )
    if either and not commas:
        for name, number, place in either:
            out.asked.ask("comma", name, number, place)
    return True if commas else False if points else None


def _system_volts(row: Row) -> re.Match[str] | None:
    """Return the voltage of the system where a row of few words states it."""
    if not 0 < len(row) - row.count(None) <= 3:
        return None
    return _SYSTEM_V.search(" ".join(str(cell) for cell in row if cell is not None))


_TAGGED = re.compile(r"\b[A-Za-z]{1,4}-\d+[A-Za-z]?\b")
"""A tag in a title: letters and a number joined by a hyphen."""


def place_of(table: ListTable, *, powers: bool = False) -> str:
    """Return the kind of point that a sheet's name or title states, empty if none.

    Over rows that state watts or amperes only the sheet's name does ("Discrete outputs").
    """
    titles = () if powers else reversed(table.above[-3:])
    for text in (table.sheet.name, *titles):
        # "DI = discrete input" is of a legend, "Skid CI-5" names a skid.
        words = re.sub(r"[&+/]", " ", text)
        named = " " in text.strip() or powers
        words = _TAGGED.sub(" ", words) if named else words
        kinds = stated_kinds(words) if "=" not in text else {}
        if len(kinds) == 1:
            return next(iter(kinds))
    return ""


_SHAPES = {
    "analog": re.compile(r"^(?:analog(?:ue|og)?|analogic[ao]s?)\b"),
    "discrete": re.compile(r"^(?:discrete|digital(?:es)?|binary|status)\b"),
}


def shape_of(table: ListTable, columns: Columns) -> str:
    """Return ``analog`` or ``discrete`` where a title says so over in and out, else empty."""
    if not columns.of("direction"):
        return ""
    for text in (*reversed(table.above[-3:]), table.sheet.name):
        found = (name for name, rule in _SHAPES.items() if rule.match(folded(text)))
        if shape := next(found, ""):
            return shape
    return ""


def _typed_sections(table: ListTable) -> bool:
    """Return whether rows with one cell name kinds of signal, as headings do."""
    for row in list(table.rows())[:2000]:
        filled = [c for c in row if c is not None]
        if (
            len(filled) == 1
            and isinstance(filled[0], str)
            and len(stated_kinds(filled[0])) == 1
        ):
            return True
    return False


MOST_KINDS = 40
"""Cells up to which a table may sum kinds of signal (judgment) [count]."""


def _summary(table: ListTable, columns: Columns) -> bool:
    """Return whether rows are kinds of signal with counts, not signals."""
    if columns.of("tag") or len(set(columns.counts().values())) > 1:
        return False
    texts = [
        str(row[c.index])
        for c in columns.of("text", "name", "io_type", "signal")[:2]
        for row in table.rows()
        if c.index < len(row) and isinstance(row[c.index], str)
    ]
    if len(texts) > MOST_KINDS:
        return False
    kinds = [t for t in texts if len(stated_kinds(t)) == 1 and len(t) < 30]
    totals = sum(map(is_total, texts))
    numbers = bool(kinds) and bool(columns.of("quantity") or totals)
    return numbers and len(kinds) >= 0.6 * (len(texts) - totals)


_KEY_TITLE = re.compile(
    r"\b(?:legend|legende|leyenda|legenda|abbreviat|abkurz|abreviat|symbols?\b|glossar|"
    r"nomenclatur|cover\b|deckblatt|titelblatt|portada|page de garde)|^key$"
)
"""Names of sheets about the paper and its signs (common practice, no source)."""
_REVISION = word_set("rev revs revision issue ind indice index revisao revisione")
_SIGNED = word_set("date datum fecha data by prepared checked approved drawn")


def tells_of_paper(table: ListTable, columns: Columns) -> bool:
    """Return whether a table lists revisions, or what signs stand for.

    Revisions begin with their letter and are dated or signed; signs are kinds of signal
    in place of tags, or stand on a sheet that is named for them.
    """
    heads = [c for c in columns.all if c.head.text]
    if not heads or columns.of("quantity") or columns.counts():
        return False
    words = [set(words_of(c.head.text)) for c in heads]
    if words[0] & _REVISION and any(w & _SIGNED for w in words[1:]):
        return True
    named = _KEY_TITLE.search(bare_letters(table.sheet.name))
    draws = columns.of("power", "current", "energy")
    figures = any(columns.content[c.index].numeric >= HALF for c in draws)
    if named and len(heads) <= MOST_OF_KEY and not figures:
        return True
    first = heads[0].index
    cells = [row[first] for row in table.rows() if first < len(row) and row[first]]
    signs = [c for c in cells if isinstance(c, str) and c.isalpha() and stated_kinds(c)]
    return len(heads) <= MOST_OF_KEY and 1 < len(signs) == len(set(signs)) == len(cells)


MOST_OF_KEY = 4
"""Columns up to which a table may be a key of signs (judgment) [count]."""


def kind_of(  # noqa: PLR0911 - a ladder: the first kind that fits
    table: ListTable, columns: Columns, parts: list[FoundPart]
) -> str:
    """Return what a table is by its content: io, schedule, summary, or neither."""
    named = bool(columns.of("tag", "name", "text", "address"))
    signals = (
        bool(columns.of("io_type", "signal", "data_type"))
        or len(set(columns.counts().values())) > 1
        or columns.in_tags
    )
    powers = bool(columns.of("power", "current"))
    if _summary(table, columns):
        return "summary"
    if tells_of_paper(table, columns):
        return "neither"
    addressed = any(
        checks.reads_as_address(row[c.index])
        for c in columns.of("address")
        for row in list(table.rows())[:40]
        if c.index < len(row)
    )
    if (
        signals
        and (named or not powers)
        and columns.of("tag", "name", "text", "address")
    ):
        return "io"
    if columns.of("tag") and _typed_sections(table):
        return "io"
    if named and (
        addressed
        or columns.of("protocol")
        or is_register_map(columns)
        or (place_of(table, powers=powers) and columns.of("tag", "item"))
        or shape_of(table, columns)
    ):
        return "io"
    grouped = not (named or columns.of("item", "detail"))
    if (grouped or not powers) and any(p.kind == "schedule" for p in parts):
        # Rows that only name a group sum the loads above.
        return "summary" if columns.of("energy", "power", "current") else "neither"
    if powers and (named or columns.of("item", "group", "detail")):
        return "schedule"
    return "schedule" if columns.of("energy") and named else "neither"
