"""Schedules with a column group for each mode: sleep, idle, transmit."""

from __future__ import annotations

import re

from powerbudget.lists.cells import Row
from powerbudget.lists.columns import Columns
from powerbudget.lists.figures import CellFigure, cell_number, figure, on_share
from powerbudget.lists.heads import PERIOD_H, SHORT_UNITS, UNITS, Head
from powerbudget.lists.readers import LoadReader
from powerbudget.lists.row_cells import cell_at, text_of
from powerbudget.lists.rows import ListedLoad
from powerbudget.lists.schedule_power import PowerCells
from powerbudget.lists.words import mode_of, word_set, words_of

TIMES = ("hours", "duty", "share")
PEAK = "peak"
BASE = "the rest"
"""Mode of a plain column of power that stands beside that of one mode."""


def mode_columns(power: PowerCells, columns: Columns) -> dict[int, str]:
    """Return the mode of each column of a table of modes, empty for any other table.

    "Standby W" beside "Operating W" or "W" are two modes; one column of a mode alone is
    the typical power.
    """
    named = {c.index: c.head.mode for c in columns.all if c.head.mode}
    modes = {c.head.mode for c in power.columns if c.head.mode}
    plain = [c for c in power.plain if not c.head.mode]
    peak = _at_peak(power, columns)
    if peak:
        return named | peak
    if len(modes) == 1 and len(plain) == 1 and not power.has_mean:
        return named | {plain[0].index: BASE}
    timed = {c.head.mode for c in columns.of(*TIMES) if c.head.mode}
    several = modes and len(modes | timed) > 1
    return named | _on_of_cycle(modes, columns) if several else {}


def _on_of_cycle(modes: set[str], columns: Columns) -> dict[int, str]:
    """Return the one on-time of a cycle as that of the one mode that is not at rest."""
    work = modes - _AT_REST
    times = [c for c in columns.of(*TIMES) if not c.head.mode]
    if len(work) != 1 or len(times) != 1 or not columns.of("interval"):
        return {}
    return {times[0].index: min(work)}


_AT_REST = word_set("idle standby sleep receive")
"""Modes of little draw, to which a duty beside a maximum does not belong."""


def _at_peak(power: PowerCells, columns: Columns) -> dict[int, str]:
    """Return the modes of "W (idle), W (peak), Duty at peak", empty for any other table."""
    tops = [c for c in power.columns if c.head.reading == "maximum" and not c.head.mode]
    times = [c for c in columns.of(*TIMES) if not c.head.mode]
    if not (len(tops) == len(times) == len(power.plain) == 1):
        return {}
    base = power.plain[0]
    said = words_of(times[0].head.text)
    at = times[0].head.reading == "maximum" and not {"at", "bei", "en"}.isdisjoint(said)
    if not (at or base.head.mode in _AT_REST):
        return {}
    return {
        tops[0].index: PEAK,
        times[0].index: PEAK,
        base.index: base.head.mode or BASE,
    }


def fill_modes(reader: LoadReader, load: ListedLoad, row: Row) -> None:
    """Put the watts of the highest mode and the energy of all modes of a load.

    Modes exclude each other; times that do not add up to the whole are asked and
    count as written.
    """
    powers, shares = _by_mode(reader, load, row)
    if not powers:
        amps = any(
            c.index in reader.modes
            and c.index < len(row)
            and cell_number(row[c.index]) is not None
            for c in reader.columns.of("current")
        )
        load.why = "no-volts" if amps and not reader.row_volts(row) else "unreadable"
        return
    top = _maximum(reader, row, reader.row_volts(row))
    load.running_w = max(powers.values()) * load.quantity
    load.maximum_w = max(load.running_w, top * load.quantity)
    rest = reader.rest_share(load, row) if BASE in powers else None
    if rest is not None:
        shares[BASE] = rest
    if len(powers) == 1 and not shares:
        # A row of one mode alone is timed as rows of other tables are.
        shares = dict.fromkeys(powers, reader.share(load, row))
    timed = {m: s for m, s in shares.items() if m in powers}
    if not timed and len(powers) > 1:
        reader.asked.ask("mode-shares", reader.name, load.row, load.name)
    if len(powers) > 1:
        load.clock = "modes"
    seconds = 3600 * sum(timed.values())
    untimed = [m for m in powers if m not in timed]
    energy = sum(powers[m] * s for m, s in timed.items())
    if untimed:
        energy += max(powers[m] for m in untimed) * max(0.0, 1 - sum(timed.values()))
    load.wh_per_day = energy * 24 * load.quantity
    if abs(seconds - 3600) > 4 and not untimed and len(timed) > 1:
        reader.asked.ask(
            "mode-times",
            reader.name,
            load.row,
            f"{load.name} ({seconds:.0f} of 3600 s)",
        )


def _by_mode(
    reader: LoadReader, load: ListedLoad, row: Row
) -> tuple[dict[str, float], dict[str, float]]:
    """Return the watts and the share of time of each mode that a row states."""
    powers: dict[str, float] = {}
    shares: dict[str, float] = {}
    volts = reader.row_volts(row)
    every_h = reader.every_h(row)
    for column in reader.columns.all:
        mode = reader.modes.get(column.index, "")
        cell = cell_at(row, column.index)
        if not mode or cell is None:
            continue
        text = text_of(cell)
        if column.field in {"power", "current"}:
            at = column.head.volts or volts
            watts = _watts(reader, text, column.head.unit, at)
            if watts is not None:
                powers[mode] = max(watts, powers.get(mode, 0.0))
        elif column.field in TIMES:
            share = _share(text, column.head, every_h, reader.comma)
            if share is not None:
                shares[mode] = share
            if column.head.unit in SHORT_UNITS and not (every_h or column.head.per):
                reader.asked.ask("time-of-what", reader.name, load.row, load.name)
    return powers, shares


def fill_cell_modes(
    reader: LoadReader, load: ListedLoad, found: CellFigure, volts: float, times: str
) -> None:
    """Put the energy of a load whose one cell states its draw by mode.

    "Tx 12 W, Rx 1.5 W" with "5 % transmit" leaves the rest of the time to the other
    mode; without times the highest counts all day and is asked.
    """
    load.clock = "modes"
    unit = volts if found.watts is None else 1.0
    powers = {mode: value * unit for mode, value in found.modes}
    shares: dict[str, float] = {}
    for clause in re.split(r"[,;+]|\s/\s|\band\b|\bund\b|\by\b", times):
        mode, share = mode_of(words_of(clause)), on_share(clause, comma=reader.comma)
        if mode in powers and share is not None:
            shares[mode] = share
    rest = max(0.0, 1 - sum(shares.values()))
    others = [watts for mode, watts in powers.items() if mode not in shares]
    mean = sum(powers[m] * s for m, s in shares.items()) + rest * max(
        others, default=0.0
    )
    load.running_w = max(powers.values()) * load.quantity
    load.maximum_w = max(load.running_w, load.maximum_w or 0.0)
    load.wh_per_day = 24 * load.quantity * (mean if shares else max(powers.values()))
    if not shares:
        reader.asked.ask("mode-shares", reader.name, load.row, load.name)


def _watts(reader: LoadReader, text: str, unit: str, volts: float) -> float | None:
    """Return the watts of a cell, a current at its own volts or those of the row [W]."""
    found = figure(text, unit, comma=reader.comma)
    at = found.volts or volts
    if found.watts is not None or found.amps is None or not at:
        return found.watts
    return found.amps * at


def _maximum(reader: LoadReader, row: Row, volts: float) -> float:
    """Return the power of a column of maxima beside the modes, 0 without one [W]."""
    top = 0.0
    for column in reader.columns.of("power", "current"):
        cell = cell_at(row, column.index)
        if (
            column.head.reading == "maximum"
            and column.index not in reader.modes
            and cell is not None
        ):
            text = text_of(cell)
            top = max(top, _watts(reader, text, column.head.unit, volts) or 0.0)
    return top


def _share(
    text: str, head: Head, every_h: float | None, comma: bool | None
) -> float | None:
    number = cell_number(text, comma=comma)
    if number is None:
        return on_share(text, comma=comma, per=head.per or "day")
    if head.unit == "%":
        return number / 100
    if head.unit in {"h", "min", "s", "ms"}:
        return number * UNITS[head.unit][1] / (every_h or PERIOD_H.get(head.per, 24.0))
    return number if number <= 1 else None
