"""What a row of a signal list is by its marks and its status cells."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

from powerbudget.lists.cells import ClientSheet, Row
from powerbudget.lists.signals import UNUSED, fails_to
from powerbudget.lists.status import is_spare_tag, mark_in, row_status, whole_status
from powerbudget.lists.words import folded

YES = {"yes", "y", "true", "x", "ja", "si", "oui", "wahr", "verdadero", "1", "vrai"}
NO = {"no", "n", "false", "nein", "non", "falsch", "falso", "0", "faux", "nao"}
KNOWN = YES | NO | UNUSED | {"", "."}
_WORDY = re.compile(r"[^\W\d]{3}")
_CODED = re.compile(r"[^\W\d_]{2}")
"""Two letters, as a status code is."""
_ISSUE = re.compile(
    r"rev|iss|if[acdr]\b|afc\b|released?|design|date|as |check|new |per |was |formerly |renam"
)
"""Beginnings of status cells that speak of the paper, not of the row."""
OUT = {"deleted", "spare", "future", "hold"}
_SPARE = re.compile(r"\bspares?\b|\breserva\b", re.IGNORECASE)


@lru_cache(maxsize=4096)
def _says_spare(text: str) -> bool:
    return bool(_SPARE.search(text))


def flag(text: str, *, spare: bool = False) -> bool | None:
    """Return what a yes-or-no cell says, None where it says neither.

    Examples
    --------
    >>> flag("Yes"), flag("FALSE"), flag("maybe")
    (True, False, None)
    """
    said = folded(text).strip(".")
    if said in YES or (spare and whole_status(said) == "spare"):
        return True
    return False if said in NO else None


def is_struck(sheet: ClientSheet, index: int, row: Row, tags: list[int]) -> bool:
    """Return whether a row is struck out: its tag is, or all of it without a tag."""
    struck = sheet.markup.struck
    if not struck:
        return False
    named = [k for k in tags if k < len(row) and row[k] is not None]
    if named:
        return (index, named[0]) in struck
    return all((index, k) in struck for k, cell in enumerate(row) if cell is not None)


def status_of(  # noqa: PLR0911 - a ladder: marks, status, remark, flags, description
    cells: dict[str, str],
    tag: str,
    text: str,
    legend: dict[str, str],
    *,
    struck: bool,
    none: frozenset[str] = frozenset(),
) -> tuple[str, str]:
    """Return what a row is, and the cause of a question where its words disagree.

    Parameters
    ----------
    cells
        Texts of the row by meaning.
    tag, text
        Its tag and service [text].
    legend
        Meaning of short codes, in small letters [text].
    struck
        Whether it is struck out.
    none
        Words for "none" that are asked about, see `none_words` [text].

    Examples
    --------
    >>> status_of({"status": "D"}, "PT-1", "", {"d": "deleted"}, struck=False)
    ('deleted', '')
    >>> status_of({"remark": "replaces deleted PT-90"}, "PT-1", "", {}, struck=False)
    ('point', '')
    """
    said = cells.get("status", "")
    meaning = row_status(legend.get(said.lower(), "") or said) if said else ""
    if struck:
        return "deleted", "status-clash" if meaning == "live" else "struck"
    if meaning in OUT:
        return meaning, ""
    remark = row_status(cells["remark"]) if "remark" in cells else ""
    if remark in OUT:
        doubt = remark == "deleted" and not whole_status(cells["remark"])
        return remark, "by-remark" if doubt else ""
    ticked = _ticked(cells)
    if ticked:
        return ticked, "flagged" if ticked == "deleted" else ""
    if (
        is_spare_tag(tag)
        or _says_spare(cells.get("io_type", ""))
        or _says_spare(cells.get("signal", ""))
    ):
        return "spare", ""
    if "scope" in cells and flag(cells["scope"]) is False:
        return "excluded", ""
    marked = mark_in(tag) or mark_in(cells.get("io_type", ""))
    if marked in OUT:
        return marked, "by-description"
    own = whole_status(text) if text else ""
    if own in {"deleted", "spare"}:
        return own, "by-description" if re.search(r"\d", tag) else ""
    if says_none(said, meaning, none):
        return "point", "status-none"
    return "point", _unread(cells, said if not meaning else "")


def _ticked(cells: dict[str, str]) -> str:
    """Return what a column of ticks says of a row, empty for nothing [text]."""
    for name, kind in (("gone", "deleted"), ("future", "future")):
        if name in cells and (flag(cells[name]) or whole_status(cells[name]) == kind):
            return kind
    spare = "spare" in cells and flag(cells["spare"], spare=True)
    return "spare" if spare else ""


def _unread(cells: dict[str, str], said: str) -> str:
    """Return the cause of a question about a status or flag that nobody knows."""
    cause = status_doubt(said)
    if cause:
        return cause
    flags = (cells[name] for name in ("spare", "gone", "future") if name in cells)
    plain = [folded(text).strip(".") for text in flags]
    known = all(text in KNOWN for text in plain)
    scope = folded(cells.get("scope", "")).strip(".")
    return "" if known and scope in _SCOPED else "flag-word"


_SCOPED = YES | NO | {"", "."}
"""What a column of scope says; "n/a" in it leaves open whether the row is there."""


@lru_cache(maxsize=4096)
def status_doubt(said: str) -> str:
    """Return the cause of a question about a status word that no rule knows, else empty.

    Examples
    --------
    >>> status_doubt("parked"), status_doubt("Q"), status_doubt("XX"), status_doubt("Rev B")
    ('status-word', 'letter', 'status-word', '')
    """
    if len(said) == 1 and said.isalpha():
        return "letter"
    plain = folded(said)
    if plain.strip(".") in UNUSED or _ISSUE.match(plain) or fails_to(plain):
        return ""
    return "status-word" if _WORDY.search(said) or _CODED.fullmatch(said) else ""


def says_none(said: str, meaning: str, none: frozenset[str]) -> bool:
    """Return whether a status cell leaves open whether its row is there."""
    return meaning == "unused" or (bool(none) and folded(said).strip(".") in none)


def none_words(cells: Iterable[object], legend: dict[str, str]) -> frozenset[str]:
    """Return the words for "none" of a status column that other cells make decide.

    Where some rows are marked live, a dash leaves a row as open as "n/a" does; where
    only deletions are marked, a dash is a cell left blank.

    Examples
    --------
    >>> sorted(none_words(["Live", "-", "N/A"], {})), sorted(none_words(["Deleted", "-"], {}))
    (['-', 'n/a'], [])
    """
    said = {cell for cell in cells if isinstance(cell, str)}
    found = {row_status(legend.get(text.lower(), "") or text) for text in said}
    if found.isdisjoint({*OUT, "live"}):
        return frozenset()
    none = {folded(text).strip(".") for text in said} & UNUSED
    if "live" not in found:
        none = {text for text in none if text.strip("-")}
    return frozenset(none)
