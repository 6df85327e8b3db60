"""The header of a list of inputs and outputs: which column holds what."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from powerbudget.errors import Fault, InputError, nearest
from powerbudget.lists.sheets import Cell, Grid, Row, column_letter
from powerbudget.lists.signal_words import folded

LOOK_FOR_HEADER = 40

FIELDS: dict[str, tuple[str, ...]] = {
    "tag": ("tag", "tag no", "tag number", "tag name", "tagname", "tag id", "tag nr",
            "tagnummer", "i/o tag", "io tag", "instrument tag", "point name",
            "messstelle", "kennzeichen", "repere", "etiqueta", "point", "instrument"),
    "signal": ("signal", "signal type", "signaltyp", "signalart", "type of signal",
               "senal", "tipo de senal", "type de signal", "sensor type"),
    "io_type": ("io type", "i/o type", "type of i/o", "type of io", "point type", "io",
                "i/o", "type", "typ",
                "e/a", "es", "e/s"),
    "powered": ("powered by", "power", "power source", "powered", "supply",
                "loop power", "power by", "versorgung", "speisung", "alimentation",
                "alimentacion", "wires", "wiring"),
    "by_card": ("loop powered", "card powered", "powered by card", "powered by rack",
                "system powered"),
    "external": ("external power", "external power supply", "externally powered",
                 "external supply", "fremdspeisung"),
    "normal": ("normal state", "normal", "contact", "normally", "no/nc", "nc/no",
               "normal position", "contact state", "contact type", "ruhelage",
               "normalstellung", "etat normal", "energised", "energized"),
    "service": ("service", "description", "desc", "beschreibung", "designation",
                "descripcion", "bezeichnung", "servicio", "text"),
    "quantity": ("quantity", "qty", "count", "#", "anzahl", "quantite", "cantidad",
                 "no of points", "menge"),
    "current": ("current", "loop current", "strom", "courant", "corriente",
                "mean current"),
    "load": ("load", "coil", "coil power", "power draw", "consumption", "draw",
             "leistung", "puissance", "potencia", "watts"),
    "duty": ("duty", "duty cycle", "on time share", "# on", "% on", "einschaltdauer"),
    "port": ("port", "bus", "network", "segment", "channel group"),
    "unit": ("unit", "units", "uom", "einheit", "unite", "unidad"),
    "remark": ("remark", "remarks", "status", "note", "notes", "comment", "comments",
               "bemerkung", "remarque"),
}  # fmt: skip
"""Field -> heads of columns that mean it (common practice, no source)."""
_RANK = {name: k for names in FIELDS.values() for k, name in enumerate(names)}
_BY_HEAD = {name: key for key, names in FIELDS.items() for name in names}
TAG_HEADS = {name for name, key in _BY_HEAD.items() if key == "tag"}
QUANTITIES = {"current": "A", "load": "W"}
EXAMPLE = {"current": "'Current [mA]'", "load": "'Load [W]'"}
_HEAD_UNIT = re.compile(r"^(.*?)\s*[\[(]\s*([^\])]+?)\s*[\])]\s*$", re.DOTALL)
_TAIL_UNIT = re.compile(r"^(.*?)[_ ](mA|uA|A|mW|W|kW|%|ma|w)$")


@dataclass
class Columns:
    """Which column holds what.

    Parameters
    ----------
    at
        Field to index of its column.
    heads
        Index of a column to its head as written.
    units
        Field to the unit in its head, empty where there is none.
    header_row
        Index of the header's last row.
    ignored
        Heads that mean nothing here.
    """

    at: dict[str, int]
    heads: dict[int, str]
    units: dict[str, str]
    header_row: int
    ignored: list[str] = field(default_factory=list)


def _head(cell: Cell) -> tuple[str, str]:
    """Return a head without its unit, and the unit."""
    if not isinstance(cell, str):
        return "", ""
    text = " ".join(cell.split())
    whole = _words(text)
    match = _HEAD_UNIT.match(text) or _TAIL_UNIT.match(text)
    if match and whole not in _BY_HEAD:
        return _words(match.group(1)), match.group(2)
    return whole, ""


def _words(text: str) -> str:
    plain = folded(text).replace("-", " ").replace(".", " ").replace(" / ", "/")
    return " ".join(plain.split())


def _field(cell: Cell) -> str:
    """Return the field that a head names, or nothing."""
    head, unit = _head(cell)
    key = _BY_HEAD.get(head, "")
    # "Power (W)" is a draw, "Power" says who feeds it.
    return "load" if key == "powered" and unit in {"W", "mW", "kW", "w"} else key


def known_heads(row: Sequence[Cell]) -> dict[str, int]:
    """Return the fields that a row's cells are heads of, with their index."""
    found: dict[str, int] = {}
    for index, cell in enumerate(row):
        key = _field(cell)
        # Where two heads could mean it, the plainer one does: "Tag", not "Point".
        if key and (key not in found or _rank(cell) < _rank(row[found[key]])):
            found[key] = index
    return found


def _rank(cell: Cell) -> int:
    return _RANK.get(_head(cell)[0], 99)


def is_header(found: dict[str, int]) -> bool:
    """Return whether heads are enough for a list: a tag and a signal."""
    return "tag" in found and bool({"signal", "io_type"} & set(found))


def header_score(rows: Sequence[Row]) -> int:
    """Return how many columns of the best header row are known [count]."""
    best = 0
    for row in _candidates(rows):
        found = known_heads(row)
        best = max(best, len(found) + (10 if is_header(found) else 0))
    return best


def _candidates(rows: Sequence[Row]) -> list[Row]:
    """Return rows, and pairs of rows joined as merged heads leave them."""
    rows = rows[:LOOK_FOR_HEADER]
    out: list[Row] = list(rows)
    for upper, lower in pairwise(rows):
        out.append(_joined(upper, lower))
    return out


def _joined(upper: Row, lower: Row) -> Row:
    width = max(len(upper), len(lower))
    a = [*upper, *[None] * (width - len(upper))]
    b = [*lower, *[None] * (width - len(lower))]
    return [y if y is not None else x for x, y in zip(a, b, strict=True)]


def find_header(grid: Grid) -> Columns:
    """Return the columns of a list, or refuse a file without a header.

    Parameters
    ----------
    grid
        Cells of the file.

    Returns
    -------
    Columns
        Where each field stands.

    Raises
    ------
    InputError
        When no row names a tag and a signal, or a head stands twice.
    """
    rows = grid.rows
    best: tuple[int, int, Row] | None = None
    for index in range(min(LOOK_FOR_HEADER, len(rows))):
        options = [(index, rows[index])]
        if index + 1 < len(rows):
            options.append((index + 1, _joined(rows[index], rows[index + 1])))
        for last, row in options:
            found = known_heads(row)
            if is_header(found) and (best is None or len(found) > best[0]):
                best = (len(found), last, row)
    if best is None:
        raise InputError(_no_header(grid))
    _, last, row = best
    return _columns(grid, last, row)


def _no_header(grid: Grid) -> Fault:
    best = max(
        grid.rows[:LOOK_FOR_HEADER], key=lambda r: len(known_heads(r)), default=[]
    )
    seen = [str(cell) for cell in best if cell is not None][:12]
    hint = nearest(folded(seen[0]), [*FIELDS["tag"], *FIELDS["signal"]]) if seen else ""
    return Fault(
        "header",
        "no row has the heads of an input-output list",
        ", ".join(seen) or "nothing",
        "a column 'tag' and a column 'signal' or 'I/O type'",
        hint,
        str(grid.path),
    )


def _columns(grid: Grid, last: int, row: Row) -> Columns:
    at = known_heads(row)
    heads = {i: str(cell) for i, cell in enumerate(row) if cell is not None}
    faults = []
    for index, cell in enumerate(row):
        key = _field(cell)
        if key and at[key] != index and _head(cell)[0] == _head(row[at[key]])[0]:
            faults.append(
                Fault(
                    f"row {last + grid.first_row}, column {column_letter(index)}",
                    f"the head stands twice, also in column {column_letter(at[key])}",
                    str(cell),
                    advice="leave one of the two",
                    file=str(grid.path),
                )
            )
    if faults:
        raise InputError(faults)
    units = {key: _head(row[at[key]])[1] for key in QUANTITIES if key in at}
    ignored = [head for i, head in heads.items() if i not in at.values()]
    return Columns(at, heads, units, last, ignored)
