"""Text tables: byte-order marks, encodings, delimiters, quoted fields."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections import Counter
from pathlib import Path

from powerbudget.errors import Fault, InputError

TEXTS = (".csv", ".tsv", ".txt")
DELIMITERS = (",", ";", "\t", "|")
LOOK_AT = 80
MOST_FIELDS = 2_000
_SEP = re.compile(r'^"?sep=(.)"?\s*$', re.IGNORECASE)
_BOMS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


def read_text(
    path: Path, data: bytes, encoding: str | None
) -> tuple[list[list[str | None]], list[str]]:
    """Return the records of a text table and what had to be assumed.

    Raises
    ------
    InputError
        For nul bytes, an unknown encoding, two of them, a web page, or quotes that do not close.
    """
    text, notes = _decode(path, data, encoding)
    if re.match(r"\s*<(?:!doctype|html|table|\?xml)", text[:200], re.IGNORECASE):
        raise _fault(
            path,
            "is a web page or XML, not a table",
            advice="open it and save it as .xlsx or CSV",
        )
    head, _, rest = text.partition("\n")
    declared = _SEP.match(head.rstrip("\r"))
    delimiter = declared.group(1) if declared else _sniff(text)
    rows = _records(path, rest if declared else text, delimiter)
    if declared:
        rows.insert(0, [None])
    while rows and not any(rows[-1]):
        rows.pop()
    return rows, notes


def _fault(path: Path, problem: str, given: str = "", advice: str = "") -> InputError:
    return InputError(Fault("file", problem, given, "", advice, str(path)))


def _decode(path: Path, data: bytes, encoding: str | None) -> tuple[str, list[str]]:
    for bom, name in _BOMS:
        if data.startswith(bom):
            return _decode_as(path, data, name), []
    if encoding:
        return _decode_as(path, data, encoding), []
    if b"\x00" in data:
        raise _fault(
            path,
            "holds nul bytes: it is no text, or UTF-16 without a mark",
            advice="save it as CSV UTF-8, or state the encoding utf-16-le",
        )
    try:
        return data.decode("utf-8"), []
    except UnicodeDecodeError as exc:
        row = data[: exc.start].count(b"\n") + 1
    text = _decode_as(path, data, "cp1252")
    mixed = any(re.search(rb"\xc3[\x80-\xbf]", line) for line in data.splitlines())
    if mixed:
        raise _fault(
            path,
            "is written in two encodings",
            f"row {row} is not UTF-8, others are",
            "save it anew as CSV UTF-8, or state the one to read it in: --encoding",
        )
    return text, [
        f"{path.name} is not UTF-8 (row {row}); read as Windows-1252. "
        "State the encoding if letters look wrong."
    ]


def _decode_as(path: Path, data: bytes, encoding: str) -> str:
    try:
        return data.decode(encoding)
    except LookupError:
        raise _fault(
            path,
            "is read with an encoding that is not known",
            encoding,
            "such as utf-8, utf-16, cp1252, cp1250, latin-1",
        ) from None
    except UnicodeDecodeError as exc:
        raise _fault(
            path,
            f"is not {encoding} text (byte {exc.start})",
            advice="save it as CSV UTF-8, or state the encoding: cp1252, cp1250, utf-16",
        ) from None


def _sniff(text: str) -> str:
    """Return the delimiter under which most rows have the same number of cells."""
    sample = "\n".join(text.splitlines()[:LOOK_AT])
    best, best_mark = ",", (0.0, 0.0)
    for delimiter in DELIMITERS:
        try:
            rows = list(csv.reader(io.StringIO(sample), delimiter=delimiter))
        except csv.Error:
            continue
        widths = Counter(len(row) for row in rows if any(row))
        parted = {w: n for w, n in widths.items() if w > 1}
        if not parted:
            continue
        share = max(parted.values()) / sum(widths.values())
        mark = (round(share, 1), float(max(parted, key=lambda w: parted[w])))
        if mark > best_mark:
            best, best_mark = delimiter, mark
    return best


def _records(path: Path, body: str, delimiter: str) -> list[list[str | None]]:
    rows: list[list[str | None]] = []
    odd = "\xa0" in body or "'" in body
    reader = csv.reader(io.StringIO(body, newline=""), delimiter=delimiter, strict=True)
    try:
        for row in reader:
            if len(row) > MOST_FIELDS:
                raise _fault(
                    path,
                    f"row {len(rows) + 1} has {len(row):,} columns",
                    advice="check the delimiter and the quotation marks",
                )
            rows.append([cell.strip() or None for cell in row])
            if odd:
                rows[-1] = [_plain(cell) for cell in rows[-1]]
    except csv.Error as exc:
        raise InputError(
            Fault(
                f"row {len(rows) + 1}",
                "cannot be parted into cells",
                str(exc),
                "",
                "check the quotation marks in that row",
                str(path),
            )
        ) from None
    return rows


def _plain(cell: str | None) -> str | None:
    if not cell:
        return None
    if cell[0] == "'" and cell[1:2] in {"=", "+", "-", "@"}:
        # An apostrophe before one of these is a spreadsheet's way to keep it text.
        cell = cell[1:]
    return cell.replace("\xa0", " ")
