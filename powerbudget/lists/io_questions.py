"""What a row of a signal list leaves open, put as questions by cause."""

from __future__ import annotations

import re
from functools import partial

from powerbudget.lists.cells import Row
from powerbudget.lists.io_watts import SignalDraw
from powerbudget.lists.readers import RowReader
from powerbudget.lists.row_cells import text_of
from powerbudget.lists.rows import ListLine
from powerbudget.lists.signals import UNKNOWN, UNUSED
from powerbudget.lists.words import folded

LARGE_W = 5.0
"""Draw from which the hours of an output or bus device are asked (judgment) [W]."""
DOUBTS = {
    "several-in-cell": (
        "Cells that name several points",
        "Counted as many as named; confirm.",
    ),
    "bus-point": (
        "Points that reach the controller over a bus",
        "Counted as serial devices, not as channels of a card; confirm.",
    ),
    "head-transmitter": (
        "Temperature signals with a transmitter",
        "Counted as AI (4-20 mA), not as RTD or thermocouple inputs; confirm.",
    ),
    "refined": (
        "Stated kinds that the signal column makes more exact",
        "Counted as the signal column says; confirm.",
    ),
    "pulse-output": (
        "Outputs that pulse",
        "Counted as DO, not as pulse inputs: the stated direction holds.",
    ),
    "address": (
        "Addresses of whole words were read as analog channels",
        "Give the list of cards, or state AI or AO.",
    ),
    "direction": (
        "Signals without a direction",
        "Read as inputs or outputs from the letters of the tag; "
        "state AI, AO, DI or DO.",
    ),
    "implied": (
        "Signals that imply a kind without stating it",
        "Counted as they imply; state AI, AO, DI or DO.",
    ),
}
CLASHES = {
    "status-clash": (
        "Rows are struck out but their status says active",
        "Left out; correct the status or the strike-through.",
    ),
    "struck": ("Rows are struck out", "Left out as deleted; confirm."),
    "flagged": (
        "Rows are ticked in a column of deletions",
        "Left out as deleted; confirm.",
    ),
    "by-description": (
        "The description is nothing but a status word",
        "Left out as it says; confirm.",
    ),
    "letter": (
        "Status letters without a legend",
        "Rows counted as live; state what the letters mean.",
    ),
}
STATES = {
    "hidden": ("Hidden rows hold points", "Left out; show the row if it counts."),
    "hold": ("Rows on hold", "Left out; add them if they will be there."),
    "excluded": ("Rows marked out of scope", "Left out; confirm."),
}
NO_VOLTS = ("no-volts", "no-unit")
UNREAD = {
    **dict.fromkeys(
        NO_VOLTS, ("Currents without a voltage or unit", "Not counted; state V or W.")
    ),
    "unread": (
        "Cells of a power or current hold no figure of it",
        "Not counted; state W, or mA with volts.",
    ),
    "duty": (
        "Duty cycles or hours that cannot be read",
        "Counted by the normal state; state a share up to 100 %, or hours a day.",
    ),
}
FUTURE = re.compile(r"futur[aeo]\b|planned\b|geplant\b")
_SHORT_STATE = re.compile(r"n\.?d?\.?e\.?|n\.?d\.?", re.IGNORECASE)


def ask_doubts(
    reader: RowReader, doubts: list[str], number: int, tag: str, words: str
) -> None:
    """Ask what the reading of a signal left open."""
    for doubt in doubts:
        lead, action = DOUBTS[doubt]
        name = f"{tag} ({words})" if words else tag
        reader.asked.ask(
            doubt, lead, action, sheet=reader.name, row=number, name=name.strip()
        )


def ask_status(reader: RowReader, line: ListLine, clash: str) -> None:
    """Ask about rows whose marks and words disagree, or that are left out."""
    name = line.tag or line.text
    for found in (CLASHES.get(clash), STATES.get(line.kind)):
        if found:
            cause = clash if found is CLASHES.get(clash) else line.kind
            reader.asked.ask(cause, *found, sheet=reader.name, row=line.row, name=name)


def ask_draw(
    reader: RowReader, line: ListLine, draw: SignalDraw, row: Row, supply: str
) -> None:
    """Ask what is open about the draw of a live row."""
    watts = line.maximum_w or 0.0
    if not watts:
        _ask_missing(reader, line)
    if not (
        watts
        or supply
        or draw.doubt
        or reader.cells.states
        or reader.table.sheet.markup.struck
        or FUTURE.search(line.text.lower())
    ):
        return
    ask = partial(reader.asked.ask, sheet=reader.name, row=line.row)
    tag = line.tag or line.text
    name = f"{tag} ({watts:.3g} W)" if watts else tag
    if reader.struck_figures(line.row - 1, row):
        ask(
            "struck-figure",
            "Figures are struck out on live rows",
            "Kept; delete or correct the cells.",
            name=name,
        )
    _ask_hours(reader, line, draw, name)
    if draw.doubt in UNREAD and not (draw.doubt == "no-volts" and line.by_loop):
        cell = name if draw.doubt in NO_VOLTS else f"{tag} {_cell(reader, draw, row)}"
        ask(draw.doubt, *UNREAD[draw.doubt], name=cell)
    if watts and line.quantity > 1 and not draw.from_remark:
        ask(
            "watts-each",
            "Watts stand beside a quantity",
            "Read as watts of one piece; confirm.",
            name=f"{line.tag} ({line.quantity} x {watts / line.quantity:.3g} W)",
        )
    points = line.points
    if (
        supply
        and not line.supply
        and ("ai" in points or "pulse" in points or "serial" in points)
        and not re.search(r"\d", supply)
    ):
        ask(
            "supply-word",
            "Words under the supply that name no supply",
            "Read as no supply beyond the card; confirm.",
            name=f"{line.tag} '{supply}'",
        )
    for text in reader.cells.normal(row) if reader.cells.states else ():
        if _SHORT_STATE.fullmatch(text.strip()):
            ask(
                "ne-nd",
                "NE and ND were read as normally energized and normally de-energized",
                "Confirm.",
                name=f"{line.tag} ({text})",
            )
    if FUTURE.search(line.text.lower()):
        ask(
            "future-text",
            "Descriptions speak of the future",
            "Counted as live; are they there on the first day?",
            name=f"{line.tag} '{line.text}'",
        )


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
        reader.asked.ask(
            "unread-state",
            "Normal states that cannot be read",
            "Counted as not stated; write normally open, normally closed, energized or "
            "de-energized.",
            sheet=reader.name,
            row=line.row,
            name=f"{line.tag} '{said[0][:20]}'",
        )


def _ask_hours(reader: RowReader, line: ListLine, draw: SignalDraw, name: str) -> None:
    """Ask how long a device is on where the list does not say."""
    watts = line.maximum_w or 0.0
    ask = partial(reader.asked.ask, sheet=reader.name, row=line.row)
    if (draw.doubt in {"no-state", "alarm-device"} and watts) or (
        draw.doubt == "hours" and watts >= LARGE_W
    ):
        counted = "24 h" if draw.share else "0 h"
        ask(
            "hours",
            "Hours a day are not stated",
            "Counted by the normal state (on 24 h, off or pulsed "
            "0 h; outputs without one on, alarm devices off); state the hours.",
            name=f"{name[:-1]}, {counted})",
            weight=watts,
        )
    elif draw.doubt == "remark-hours":
        ask(
            "remark-hours",
            "Hours are taken from the remark",
            "Confirm, also for the longest night.",
            name=name,
        )


def _ask_missing(reader: RowReader, line: ListLine) -> None:
    points = line.points
    if line.supply == "ac":
        reader.asked.ask(
            "ac-device",
            "Devices are fed with AC",
            "AC watts are not counted on the dc bus; state who feeds them, or watts and inverter.",
            sheet=reader.name,
            row=line.row,
            name=line.tag or line.text,
        )
    if line.supply == "four-wire" and ("ai" in points or "ao" in points):
        what, weight = "4-wire", 3.0
    elif "serial" in points:
        what, weight = "bus device", 2.0
    elif "do" in points and line.supply != "ac":
        what, weight = "output", 1.0
    else:
        return
    reader.asked.ask(
        "no-watts",
        "No watts are stated",
        "Library figures are taken and named; state the watts.",
        sheet=reader.name,
        row=line.row,
        name=f"{line.tag} ({what})",
        weight=weight,
    )
