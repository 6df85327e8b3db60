"""Cells of an ``.xlsx`` workbook, as values: text, numbers, ISO dates.

A workbook is a zip of XML files (ECMA-376 part 1).  A streaming parser of our own
keeps a list of 100,000 rows within seconds, where a full object model takes several
times as long.
"""

from __future__ import annotations

import contextlib
import re
import zipfile
from collections.abc import Callable
from datetime import datetime, timedelta
from io import BytesIO
from typing import Any
from xml.parsers import expat

Cell = str | float | None
Row = list[Cell]

MOST_BYTES = 800_000_000
"""Uncompressed size at which a workbook is refused [byte]."""
_DATE_FORMATS = {*range(14, 23), *range(45, 48)}
_DATE_LETTERS = re.compile(r"[ymdhs]", re.IGNORECASE)
_NOT_FORMAT = re.compile(r'"[^"]*"|\[[^\]]*\]|\\.')


class WorkbookError(ValueError):
    """The file is no workbook that can be read; the message says why."""


class _Enough(Exception):  # noqa: N818 - ends a parse early, nothing is wrong
    """Raised to stop parsing when enough rows were read."""


class Workbook:
    """A workbook opened for reading.

    Parameters
    ----------
    data
        Contents of the file [bytes].

    Raises
    ------
    WorkbookError
        When it is no workbook, damaged, or far too large.
    """

    def __init__(self, data: bytes) -> None:
        try:
            self._zip = zipfile.ZipFile(BytesIO(data))
        except zipfile.BadZipFile as exc:
            raise WorkbookError(f"the zip is damaged: {exc}") from None
        if sum(item.file_size for item in self._zip.infolist()) > MOST_BYTES:
            raise WorkbookError("it unpacks to more than 800 MB")
        self._sheets, self._base = self._list_sheets()
        self._strings: list[str] | None = None
        self._styles: dict[int, str] = {}

    @property
    def names(self) -> list[str]:
        """Names of the sheets in their order [text]."""
        return list(self._sheets)

    def rows(self, name: str, most: int | None = None) -> list[Row]:
        """Return the rows of a sheet, empty ones included, at most ``most``."""
        if self._strings is None:
            self._strings = self._read_strings()
            self._styles = self._read_styles()
        reader = _SheetReader(self._strings, self._styles, self._base, most)
        with contextlib.suppress(_Enough):
            self._parse(self._sheets[name], reader.attach)
        return reader.rows

    def _open(self, name: str) -> bytes:
        try:
            return self._zip.read(name)
        except KeyError:
            raise WorkbookError(f"it holds no {name}") from None
        except (zipfile.BadZipFile, OSError, EOFError, RuntimeError) as exc:
            raise WorkbookError(f"{name} is damaged: {exc}") from None

    def _parse(self, name: str, attach: Callable[[Any], None]) -> None:
        parser = expat.ParserCreate()
        parser.buffer_text = True

        def refuse(*_: object) -> None:
            raise WorkbookError(f"{name} declares a document type")

        parser.StartDoctypeDeclHandler = refuse
        attach(parser)
        try:
            parser.Parse(self._open(name), True)
        except expat.ExpatError as exc:
            raise WorkbookError(f"{name} is damaged: {exc}") from None

    def _list_sheets(self) -> tuple[dict[str, str], datetime]:
        found: list[tuple[str, str]] = []
        targets: dict[str, str] = {}
        base = [datetime(1899, 12, 30)]  # noqa: DTZ001 - a spreadsheet has no zones

        def book(tag: str, a: dict[str, str]) -> None:
            if _local(tag) == "sheet":
                ident = next((v for k, v in a.items() if _local(k) == "id"), "")
                found.append((a.get("name", ""), ident))
            if _local(tag) == "workbookPr" and a.get("date1904") in {"1", "true"}:
                base[0] = datetime(1904, 1, 1)  # noqa: DTZ001

        def rels(tag: str, a: dict[str, str]) -> None:
            if _local(tag) == "Relationship":
                target = a.get("Target", "")
                path = target[1:] if target.startswith("/") else f"xl/{target}"
                targets[a.get("Id", "")] = path

        self._parse("xl/workbook.xml", _starts(book))
        self._parse("xl/_rels/workbook.xml.rels", _starts(rels))
        sheets = {
            name: targets[ident]
            for name, ident in found
            if "worksheet" in targets.get(ident, "")
        }
        if not sheets:
            raise WorkbookError("it holds no sheet")
        return sheets, base[0]

    def _read_strings(self) -> list[str]:
        if "xl/sharedStrings.xml" not in self._zip.namelist():
            return []
        reader = _StringReader()
        self._parse("xl/sharedStrings.xml", reader.attach)
        return reader.strings

    def _read_styles(self) -> dict[int, str]:
        """Return the cell styles that show a number as a date or as a percentage."""
        if "xl/styles.xml" not in self._zip.namelist():
            return {}
        formats = dict.fromkeys(_DATE_FORMATS, "date") | dict.fromkeys((9, 10), "%")
        styles: list[int] = []
        inside = [False]

        def start(tag: str, a: dict[str, str]) -> None:
            name = _local(tag)
            if name == "numFmt":
                code = _NOT_FORMAT.sub("", a.get("formatCode", ""))
                number = int(a.get("numFmtId", "0"))
                if "%" in code:
                    formats[number] = "%"
                elif _DATE_LETTERS.search(code):
                    formats[number] = "date"
            elif name == "cellXfs":
                inside[0] = True
            elif name == "cellStyles":
                inside[0] = False
            elif name == "xf" and inside[0]:
                styles.append(int(a.get("numFmtId", "0")))

        self._parse("xl/styles.xml", _starts(start))
        return {k: formats[n] for k, n in enumerate(styles) if n in formats}


def _local(name: str) -> str:
    return name.rpartition(":")[2]


def _starts(handler: Callable[[str, dict[str, str]], None]) -> Callable[[Any], None]:
    def attach(parser: Any) -> None:
        parser.StartElementHandler = handler

    return attach


class _StringReader:
    """Collects shared strings; the runs of one string are joined."""

    def __init__(self) -> None:
        self.strings: list[str] = []
        self._parts: list[str] = []
        self._in_text = False
        self._phonetic = False

    def attach(self, parser: Any) -> None:
        """Set the parser's handlers."""
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._text

    def _start(self, tag: str, _: dict[str, str]) -> None:
        name = _local(tag)
        if name == "si":
            self._parts = []
        elif name == "rPh":
            self._phonetic = True
        self._in_text = name == "t" and not self._phonetic

    def _end(self, tag: str) -> None:
        name = _local(tag)
        if name == "si":
            self.strings.append("".join(self._parts))
        elif name == "rPh":
            self._phonetic = False
        self._in_text = False

    def _text(self, data: str) -> None:
        if self._in_text:
            self._parts.append(data)


class _SheetReader:
    """Collects the cells of one sheet."""

    def __init__(
        self,
        strings: list[str],
        styles: dict[int, str],
        base: datetime,
        most: int | None,
    ) -> None:
        self.rows: list[Row] = []
        self._strings, self._styles, self._base = strings, styles, base
        self._most = most
        self._row: Row = []
        self._kind = self._style = ""
        self._column = 0
        self._value: list[str] = []
        self._reading = False
        self._letters: dict[str, int] = {}

    def attach(self, parser: Any) -> None:
        """Set the parser's handlers."""
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._text

    def _start(self, tag: str, a: dict[str, str]) -> None:
        name = tag if ":" not in tag else _local(tag)
        if name == "c":
            self._kind = a.get("t", "n")
            self._style = a.get("s", "")
            place = a.get("r", "")
            self._column = self._index(place) if place else len(self._row)
            self._value = []
        elif name in {"v", "t"}:
            self._reading = True
        elif name == "row":
            number = int(a.get("r", len(self.rows) + 1))
            if self._most is not None and number > self._most:
                raise _Enough
            # A stray cell in the last row a sheet can have must not cost gigabytes.
            if number > 1_048_576:
                raise WorkbookError(f"it has a row number {number}")
            while len(self.rows) < number - 1:
                self.rows.append([])
            self._row = []
        elif name == "rPh":
            self._kind = "skip"

    def _end(self, tag: str) -> None:
        name = tag if ":" not in tag else _local(tag)
        if name in {"v", "t"}:
            self._reading = False
        elif name == "c":
            if self._value:
                row = self._row
                while len(row) < self._column:
                    row.append(None)
                row.append(self._cell("".join(self._value)))
        elif name == "row":
            self.rows.append(self._row)

    def _text(self, data: str) -> None:
        if self._reading:
            self._value.append(data)

    def _index(self, place: str) -> int:
        letters = place.rstrip("0123456789")
        if letters not in self._letters:
            number = 0
            for letter in letters:
                number = number * 26 + ord(letter) - 64
            self._letters[letters] = number - 1
        return self._letters[letters]

    def _cell(self, text: str) -> Cell:
        kind = self._kind
        if kind == "s":
            return self._strings[int(text)]
        if kind == "n":
            shown = self._styles.get(int(self._style)) if self._style else None
            return self._shown(float(text), shown) if shown else float(text)
        if kind == "b":
            return "yes" if text == "1" else "no"
        return text

    def _shown(self, value: float, shown: str) -> str:
        """Return a number as its style shows it: 42 %, or a date."""
        if shown == "%":
            return f"{100 * value:.12g}%"
        moment = self._base + timedelta(seconds=round(value * 86400))
        return moment.isoformat()
