"""The mapping that lasts: what column means what, kept as TOML beside the site.

Proposed from content, confirmed once, replayed on the next revision of the list.
Columns are found again by their heads, so that another order changes nothing.
"""

from __future__ import annotations

import json
import os
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from powerbudget.errors import Fault, InputError, nearest
from powerbudget.lists.columns import Columns, ListColumn
from powerbudget.lists.found import FoundPart, Import
from powerbudget.lists.rows import ACCOUNTS, ranges
from powerbudget.lists.signals import KINDS
from powerbudget.lists.tables import ListTable
from powerbudget.lists.unread import unread_columns
from powerbudget.lists.words import folded, word_list
from powerbudget.quantities import plain
from powerbudget.reading import PAGE_BYTES, read_text

FIELDS = (
    *word_list(
        "tag text name io_type signal data_type direction address protocol port node "
        "detail quantity times item status remark spare scope supply normal power current "
        "volts inrush duty hours days interval cycles energy efficiency loss diversity contingency "
        "group price other old hidden share unit gone future operation mean time_unit from to"
    ),
    *(f"count:{kind}" for kind in KINDS),
)
"""Meanings that a column can have."""
SHOWN = 200
"""Row numbers of an account are kept up to so many letters [count]."""
KEPT_AT = "mapping"
"""Key of the file beside the site where the mapping is kept elsewhere."""
_ADVICE = "import the lists again"
TABLE_KINDS = ("io", "schedule", "summary", "neither")


@dataclass(frozen=True)
class TableMap:
    """How one table was taken: its sheet, its kind, its columns by head."""

    sheet: str
    kind: str
    columns: dict[str, str]


@dataclass(frozen=True)
class Mapping:
    """A confirmed mapping.

    Parameters
    ----------
    tables
        How each table is taken.
    words
        Folded text of a signal to its kind [text].
    out
        Tags that are left out, in small letters [text].
    last
        What each tag or load was at the last import [text].
    """

    tables: tuple[TableMap, ...] = ()
    words: dict[str, str] = field(default_factory=dict)
    out: frozenset[str] = frozenset()
    last: dict[str, str] = field(default_factory=dict)

    def table(self, table: ListTable) -> TableMap | None:
        """Return the map of a table: the same sheet, else the same heads."""
        heads = {h.text for h in table.heads if h.text}
        best = max(
            self.tables, key=lambda t: _like(t, table.sheet.name, heads), default=None
        )
        if best is None or _like(best, table.sheet.name, heads)[0] < 0.5:
            return None
        return best


def _like(found: TableMap, sheet: str, heads: set[str]) -> tuple[float, bool]:
    shared = len(heads & set(found.columns)) / max(
        1, min(len(heads), len(found.columns))
    )
    return (shared, found.sheet == sheet)


def apply_mapping(
    mapping: Mapping | None, table: ListTable, columns: Columns
) -> Columns:
    """Return the columns of a table as a mapping names them."""
    known = mapping.table(table) if mapping else None
    if known is None:
        return columns
    for head, column in columns.by_head().items():
        wanted = known.columns.get(head)
        if wanted is not None and (wanted == "other" or wanted != column.field):
            columns.put(replace(column, field=wanted, evidence="mapping"))
    columns.several = [
        c
        for c in columns.all
        if c.index in {s.index for s in columns.several}
        and c.field in {"signal", "io_type"}
    ]
    return columns


def read_mapping(path: Path) -> Mapping:
    """Return a mapping from its file, or refuse it with every fault.

    Raises
    ------
    InputError
        When the file is no TOML or names an unknown meaning.
    """
    advice = "leave --mapping out to have it proposed anew"
    raw = _raw(path, advice)
    faults: list[Fault] = []
    tables = []
    for number, item in enumerate(raw.get("table", []), start=1):
        where = f"table[{number}]"
        columns = {str(k): str(v) for k, v in item.get("columns", {}).items()}
        for head, name in columns.items():
            if name and name not in FIELDS:
                faults.append(_unknown(f"{where}.columns.{head}", name, FIELDS, path))
        kind = str(item.get("kind", ""))
        if kind and kind not in TABLE_KINDS:
            faults.append(_unknown(f"{where}.kind", kind, TABLE_KINDS, path))
        tables.append(TableMap(str(item.get("sheet", "")), kind, columns))
    words = {folded(str(k)): str(v) for k, v in raw.get("words", {}).items()}
    faults += [
        _unknown(f"words.{k}", v, (*KINDS, "unused"), path)
        for k, v in words.items()
        if v not in {*KINDS, "unused"}
    ]
    if faults:
        raise InputError(faults)
    out = frozenset(str(tag).casefold() for tag in raw.get("rows", {}).get("out", []))
    return Mapping(
        tuple(tables),
        words,
        out,
        {str(k): str(v) for k, v in raw.get("last", {}).items()},
    )


def _raw(path: Path, advice: str) -> dict[str, Any]:
    fault = Fault("file", "is not a mapping: no TOML", advice=advice, file=str(path))
    text = read_text(path, PAGE_BYTES, fault)
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError):
        raise InputError(fault) from None


def usual_path(site: Path) -> Path:
    """Return where the mapping of a site's lists is kept unless told otherwise [path]."""
    return site.with_name(f"{site.stem}-lists.toml")


def mapping_path(site: Path) -> Path:
    """Return where the mapping of a site's lists is kept [path].

    The file beside the site may name another place, see `pointer_text`.
    """
    usual = usual_path(site)
    told = _raw(usual, _ADVICE).get(KEPT_AT) if usual.is_file() else None
    return usual if told is None else usual.parent / str(told)


def pointer_text(site: Path, kept: Path) -> str:
    """Return what the file beside a site says of a mapping that is kept elsewhere [TOML]."""
    there = os.path.relpath(kept.resolve(), site.resolve().parent)
    about = (
        "# The mapping of the lists and the account of their rows stand in this file."
    )
    return f"{about}\n{KEPT_AT} = {_key(Path(there).as_posix())}\n"


@dataclass(frozen=True)
class SheetAccount:
    """What became of the rows of one sheet at the last import.

    Parameters
    ----------
    sheet, use
        Its name and what it was taken for [text].
    counts
        Rows of each account; they add up to the rows of the sheet [count].
    where
        Their row numbers as ranges [text].
    """

    sheet: str
    use: str
    counts: dict[str, int]
    where: dict[str, str]


def read_accounts(path: Path) -> tuple[SheetAccount, ...]:
    """Return what became of every row of a site's lists.

    Parameters
    ----------
    path
        The mapping beside the site [path].

    Raises
    ------
    InputError
        When the file is no TOML, or its accounts are not as an import writes them.
    """
    found = []
    for number, item in enumerate(_raw(path, _ADVICE).get("account", []), start=1):
        try:
            parts = {name: item[name] for name in (*ACCOUNTS, "ignored")}
            counts = {name: int(part["count"]) for name, part in parts.items()}
            where = {name: str(part["rows"]) for name, part in parts.items()}
            found.append(
                SheetAccount(str(item["sheet"]), str(item["use"]), counts, where)
            )
        except (KeyError, TypeError, ValueError, AttributeError):
            fault = f"account[{number}]"
            raise InputError(
                Fault(
                    fault, "is not as an import writes it", "", "", _ADVICE, str(path)
                )
            ) from None
    return tuple(found)


def _account_lines(found: Import) -> list[str]:
    lines = []
    for tally in found.tallies:
        lines += ["", "[[account]]", f"sheet = {_key(tally.sheet)}"]
        lines += [f"use = {_key(tally.use)}"]
        for name, rows in tally.account_rows().items():
            where = ranges(rows)
            where = where if len(where) <= SHOWN else f"{where[:SHOWN]} ..."
            lines.append(
                f"{_key(name)} = {{ count = {len(rows)}, rows = {_key(where)} }}"
            )
    return lines


def _unknown(where: str, given: str, allowed: Iterable[str], path: Path) -> Fault:
    names = list(allowed)
    return Fault(
        where,
        "is not a meaning that is known",
        given,
        ", ".join(names),
        nearest(given, names),
        str(path),
    )


def proposed(found: Import) -> list[tuple[str, str, ListColumn]]:
    """Return sheet, kind and column of every used column, for confirmation."""
    return [
        (part.table.sheet.name, part.kind, column)
        for part in found.parts
        if part.kind in {"io", "schedule"} and not part.hidden
        for column in part.columns.all
        if column.field and column.field not in {"other", "hidden"}
    ]


def mapping_text(found: Import, before: Mapping | None = None) -> str:
    """Return the mapping of an import as TOML, words and rows of before kept."""
    lines = [
        "# Meanings of the columns of client's lists, as confirmed. Replayed on the next revision.",
        "# columns: head = meaning; words: text of a signal = kind of point;",
        "# rows.out: tags left out.",
    ]
    for part in found.parts:
        lines += _table_lines(part)
    lines += _account_lines(found)
    lines += ["", "[words]"]
    lines += [
        f"{_key(k)} = {_key(v)}"
        for k, v in sorted((before.words if before else {}).items())
    ]
    gone = ", ".join(_key(tag) for tag in sorted(before.out if before else ()))
    lines += ["", "[rows]", f"out = [{gone}]", "", "[last]"]
    lines += [f"{_key(k)} = {_key(v)}" for k, v in snapshot(found).items()]
    return "\n".join(lines) + "\n"


def _table_lines(part: FoundPart) -> list[str]:
    lines = [
        "",
        "[[table]]",
        f"sheet = {_key(part.table.sheet.name)}",
        f'kind = "{part.kind}"',
        "[table.columns]",
    ]
    unread = {c.index for c in unread_columns(part.columns, part.kind)}
    for head, column in part.columns.by_head().items():
        name = "" if column.index in unread else column.field or "other"
        why = f"  # {column.letter}: {column.evidence}" if column.evidence else ""
        why = "".join(c if c.isprintable() else " " for c in why)
        lines.append(f"{_key(head)} = {_key(name)}{why}")
    return lines


def _key(text: str) -> str:
    # A JSON string of printable text is a TOML string too.
    return json.dumps(
        "".join(c if c.isprintable() else " " for c in text), ensure_ascii=False
    )


def snapshot(found: Import) -> dict[str, str]:
    """Return what each live tag and load is now, in words that can be compared."""
    tags: dict[str, dict[str, Any]] = {}
    for line in found.lines:
        if line.kind != "point" or not line.tag:
            continue
        entry = tags.setdefault(
            line.tag, {"points": {}, "typical": 0.0, "maximum": 0.0}
        )
        for kind, count in line.points.items():
            entry["points"][kind] = entry["points"].get(kind, 0) + count
        entry["typical"] += line.typical_w or 0.0
        entry["maximum"] += line.maximum_w or 0.0
    out = {}
    for tag, entry in tags.items():
        points = " + ".join(
            f"{n} {k.upper()}" for k, n in sorted(entry["points"].items())
        )
        watts = (
            f", {plain(entry['typical'], 4, 'W')} typical, "
            f"{plain(entry['maximum'], 4, 'W')} maximum"
            if entry["maximum"]
            else ""
        )
        out[tag] = points + watts
    for load in found.loads:
        name, number = load.name, 2
        while f"load {name}" in out:
            name, number = f"{load.name} {number}", number + 1
        watts = (
            plain(load.running_w, 4, "W") if load.running_w is not None else "no figure"
        )
        day = (
            f", {plain(load.wh_per_day, 4, 'Wh/day')}"
            if load.wh_per_day is not None
            else ""
        )
        out[f"load {name}"] = f"{load.quantity} x, {watts}{day}"
    return out
