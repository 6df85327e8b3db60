"""What a row of a signal list leaves open, put as questions by cause."""

from __future__ import annotations

import re

from powerbudget.lists.cells import Row
from powerbudget.lists.io_watts import SignalDraw, rates_contact
from powerbudget.lists.readers import RowReader
from powerbudget.lists.row_cells import text_of
from powerbudget.lists.rows import ListLine
from powerbudget.lists.signals import UNKNOWN, UNUSED
from powerbudget.lists.words import folded, word_set
from powerbudget.quantities import plain

LARGE_W = 5.0
"""Draw from which the hours of an output or bus device are asked (judgment) [W]."""
CLASHES = word_set(
    "status-clash struck flagged by-description by-remark letter status-word flag-word "
    "status-none"
)
WORDS = word_set("letter status-word status-none")
LEFT_OUT = word_set("hidden hold excluded future")
NO_VOLTS = word_set("no-volts no-unit")
UNREAD = NO_VOLTS | word_set("unread duty")
FUTURE = re.compile(r"futur[aeo]\b|planned\b|geplant\b")
_SHORT_STATE = re.compile(r"n\.?d?\.?e\.?|n\.?d\.?", re.IGNORECASE)


def ask_doubts(
    reader: RowReader, doubts: list[str], number: int, tag: str, words: str
) -> None:
    """Ask what the reading of a signal left open."""
    name = f"{tag} ({words})" if words else tag
    for doubt in doubts:
        reader.asked.ask(doubt, reader.name, number, name.strip())


def ask_status(reader: RowReader, line: ListLine, clash: str, said: str) -> None:
    """Ask about rows whose marks and words disagree, or that are left out."""
    word = f" '{said[:20]}'" if said and clash in WORDS else ""
    for cause, causes in ((clash, CLASHES), (line.kind, LEFT_OUT)):
        if cause in causes:
            _ask(reader, line, cause, f"{line.tag or line.text}{word}")


def _ask(
    reader: RowReader, line: ListLine, cause: str, name: str, weight: float = 0.0
) -> None:
    reader.asked.ask(cause, reader.name, line.row, name, weight=weight)


def ask_draw(
    reader: RowReader, line: ListLine, draw: SignalDraw, row: Row, supply: str
) -> None:
    """Ask what is open about the draw of a live row."""
    if draw.by_position and draw.state == "off" and not line.maximum_w:
        _ask(reader, line, "by-position", line.tag or line.text)
    remark = " ".join(
        text_of(row[k]) for k in reader.cells.at.get("remark", ()) if k < len(row)
    )
    if (
        remark
        and not line.maximum_w
        and rates_contact(remark, next(iter(line.points), ""))
    ):
        _ask(reader, line, "contact-rating", f"{line.tag} '{remark[:40]}'")
    if draw.fails and not line.maximum_w and line.supply != "ac":
        name = f"{line.tag or line.text} (fails {draw.fails})"
        _ask(reader, line, "fail-position", name)
    future = FUTURE.search(line.text.lower())
    if not line.maximum_w:
        _ask_missing(reader, line)
    struck = reader.table.sheet.markup.struck
    if line.maximum_w or draw.doubt or struck:
        _ask_figures(reader, line, draw, row)
    fed = line.supply or not {"ai", "pulse", "serial"} & set(line.points)
    if supply and not fed and not re.search(r"\d", supply):
        _ask(reader, line, "supply-word", f"{line.tag} '{supply}'")
    for text in reader.cells.normal(row) if reader.cells.states else ():
        if _SHORT_STATE.fullmatch(text.strip()):
            _ask(reader, line, "ne-nd", f"{line.tag} ({text})")
    if future:
        _ask(reader, line, "future-text", f"{line.tag} '{line.text}'")


def _ask_figures(reader: RowReader, line: ListLine, draw: SignalDraw, row: Row) -> None:
    """Ask about the watts, currents and hours that a row states."""
    watts, tag = line.maximum_w or 0.0, line.tag or line.text
    name = f"{tag} ({plain(watts, 3, 'W')})" if watts else tag
    if reader.struck_figures(line.row - 1, row):
        _ask(reader, line, "struck-figure", name)
    if watts and draw.word == "several":
        _ask(reader, line, "several-powers", name)
    _ask_hours(reader, line, draw, name)
    if draw.doubt in UNREAD and not (draw.doubt == "no-volts" and line.by_loop):
        cell = name if draw.doubt in NO_VOLTS else f"{tag} {_cell(reader, draw, row)}"
        _ask(reader, line, draw.doubt, cell)
    loop = line.supply == "two-wire" and {"ai", "ao"} & set(line.points)
    if watts and loop and not line.by_loop:
        _ask(reader, line, "loop-watts", name)
    if watts and line.quantity > 1 and not draw.from_remark:
        each = f"{line.quantity} x {plain(watts / line.quantity, 3, 'W')}"
        _ask(reader, line, "watts-each", f"{line.tag} ({each})")


def _cell(reader: RowReader, draw: SignalDraw, row: Row) -> str:
    """Return the cell that could not be read, quoted [text]."""
    names = ("duty", "hours") if draw.doubt == "duty" else ("power", "current")
    cells = [row[k] for n in names for k in reader.cells.at.get(n, ()) if k < len(row)]
    said = next((text_of(cell) for cell in cells if cell is not None), "")
    return repr(said[:20])


def ask_state(reader: RowReader, line: ListLine, texts: tuple[str, ...]) -> None:
    """Ask about a normal state that is written in words nobody knows."""
    if (
        line.kind != "point"
        or line.state
        or not {"di", "do", "pulse"} & set(line.points)
    ):
        return
    said = [t for t in texts if folded(t) not in UNUSED | UNKNOWN | {"", "."}]
    if said:
        _ask(reader, line, "unread-state", f"{line.tag} '{said[0][:20]}'")


def _ask_hours(reader: RowReader, line: ListLine, draw: SignalDraw, name: str) -> None:
    """Ask how long a device is on where the list does not say."""
    watts = line.maximum_w or 0.0
    if (draw.doubt in {"no-state", "alarm-device"} and watts) or (
        draw.doubt == "hours" and watts >= LARGE_W
    ):
        counted = "24 h" if draw.share else "0 h"
        counted += f", fails {draw.fails}" if draw.fails else ""
        _ask(reader, line, "hours", f"{name[:-1]}, {counted})", watts)
    elif draw.doubt == "remark-hours":
        _ask(reader, line, "remark-hours", name)


def _ask_missing(reader: RowReader, line: ListLine) -> None:
    points = line.points
    if line.supply == "ac":
        reader.asked.ask("ac-device", reader.name, line.row, line.tag or line.text)
    if line.supply == "four-wire" and ("ai" in points or "ao" in points):
        what, weight = "4-wire", 3.0
    elif "serial" in points:
        what, weight = "bus device", 2.0
    elif "do" in points and line.supply != "ac":
        name = f"{line.tag or line.text}{' (solenoid)' if line.coil else ''}"
        _ask(reader, line, "output-load", name, float(line.coil))
        return
    else:
        return
    _ask(reader, line, "no-watts", f"{line.tag} ({what})", weight)
