"""How long a load of a schedule is on: duty, hours, on-time and cycles."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from powerbudget.lists.columns import Columns, ListColumn
from powerbudget.lists.figures import cell_number, on_share
from powerbudget.lists.heads import PERIOD_H, SHORT_UNITS, UNITS
from powerbudget.lists.readers import LoadReader
from powerbudget.lists.rows import ListedLoad
from powerbudget.lists.words import words_of
from powerbudget.quantities import count, plain

_RATIO = re.compile(r"\s*(\d{1,4})\s*[:/]\s*(\d{1,5})\s*$")
"""A duty as a ratio: 1:10."""
_TIMED = re.compile(
    r"\d ?(?:s|sec\w*|min\w*|h|hours?)\b|per (?:day|hour|week)|/ ?(?:d|day|h|week)\b|"
    r"intermittent|\bstrokes?\b|\bcycles?\b|on demand|when |only "
)
"""Words of a remark that bear on the time on."""


DAYS_A_WEEK = 7


@dataclass
class Clock:
    """Cells of one row that say how long a load is on, with their columns."""

    duty: tuple[str, ListColumn] | None = None
    hours: tuple[str, ListColumn] | None = None
    cycles: tuple[str, ListColumn] | None = None
    days: tuple[str, ListColumn] | None = None
    interval: tuple[str, ListColumn] | None = None
    remark: str = ""
    percent_cells: bool = False

    @property
    def by_day(self) -> bool:
        """Whether hours of the day are stated, which the season may change."""
        if self.hours is None or self.duty is not None or self.interval is not None:
            return False
        text, column = self.hours
        return column.head.per != "hour" and not re.search(r"/h|%", text)

    @classmethod
    def of(
        cls,
        columns: Columns,
        cell: Callable[[ListColumn], str],
        percent: set[tuple[int, int]],
    ) -> Clock:
        """Return the cells of a row that bear on time."""

        def one(*names: str) -> tuple[str, ListColumn] | None:
            said = [(cell(c), c) for c in columns.of(*names) if cell(c)]
            # Of "typical" and "worst case" the highest counts.
            like = [x for x in said if x[1].field == said[0][1].field]
            several = names[0] in {"duty", "cycles"} and len(like) > 1
            return max(like, key=_time) if several else next(iter(said), None)

        duty = one("duty", "share")
        hours = _several_hours(columns, cell) or one("hours")
        marked = duty is not None and any(c == duty[1].index for _, c in percent)
        remark = " ".join(cell(c) for c in columns.of("remark"))
        cycles, days, interval = one("cycles"), one("days"), one("interval")
        return cls(duty, hours, cycles, days, interval, remark, marked)


_IDLE = {"off", "aus", "pause", "resting"}
"""Words of the time of a cycle in which a load does not run (common practice, no source)."""


def _time(said: tuple[str, ListColumn]) -> float:
    return _in_unit(said[0], said[1].head.unit) or 0.0


def _in_unit(text: str, unit: str) -> float | None:
    """Return a time in the unit of its head, "10 h" as hours a day; None for no time."""
    number = cell_number(text or None)
    share = on_share(text) if number is None and text else None
    if share is None:
        return number
    return share * 24 / (UNITS[unit][1] if unit in SHORT_UNITS else 1.0)


def _several_hours(
    columns: Columns, cell: Callable[[ListColumn], str]
) -> tuple[str, ListColumn] | None:
    """Return hours by day and by night together, the most by season, or "on" of "on, off"."""
    found = [
        c for c in columns.of("hours") if not c.head.mode and c.head.per != "cycle"
    ]
    values = [(_in_unit(cell(c), c.head.unit), c) for c in found]
    numbers = [n for n, _ in values if n is not None]
    if len(found) < 2 or len(numbers) < 2 or len({c.head.unit for c in found}) > 1:
        return None
    off = [n for n, c in values if n is not None and _IDLE & set(words_of(c.head.text))]
    if len(numbers) == 2 and len(off) == 1 and sum(numbers) > 0:
        return f"{100 * (1 - off[0] / sum(numbers)):.12g} %", found[0]
    night = any(
        "night" in c.head.text.lower()
        or "nacht" in c.head.text.lower()
        or "noche" in c.head.text.lower()
        for c in found
    )
    total = sum(numbers) if night else max(numbers)
    return f"{total:g}", found[0]


def row_share(reader: LoadReader, load: ListedLoad, clock: Clock) -> float:
    """Return the share of the day that a load is on [fraction].

    A duty beside hours multiplies them; an on-time of a cycle needs its cycles.  What
    is not stated counts as all day.
    """
    comma = reader.comma
    duty = _duty(reader, load, clock)
    hours = _hours(clock, comma)
    cells = ((hours, clock.hours), (duty, clock.duty))
    unread = [
        c[0] for read, c in cells if read is None and c and c[0].strip() not in _BLANK
    ]
    if hours is not None and _of_what(clock, comma):
        reader.asked.ask("time-of-what", reader.name, load.row, load.name)
    duty = _on_days(reader, load, clock, duty)
    if duty is None and hours is None:
        return _by_remark(reader, load, clock, unread)
    for text in unread:
        _ask_time(reader, load, text)
    share = (1.0 if duty is None else duty) * (1.0 if hours is None else hours)
    if share > 1.0001:
        reader.asked.ask(
            "over-a-day",
            reader.name,
            load.row,
            f"{load.name} ({plain(24 * share, 3, 'h')})",
        )
        return 1.0
    if clock.by_day and 2 <= 24 * share <= 20 and load.running_w:
        reader.asked.ask(
            "part-day",
            reader.name,
            load.row,
            f"{load.name} ({plain(24 * share, 3, 'h')})",
            weight=load.running_w * share,
        )
    return max(0.0, share)


_BLANK = {"-", "n/a"}
"""Cells of a time that state none."""
_OF_DUTY = re.compile(r"duty|on[- ]time|of (?:the )?(?:time|day|hour)|einschalt|\bed\b")
"""Words beside a percentage that is a share of time, not an efficiency or a load."""


def _by_remark(
    reader: LoadReader, load: ListedLoad, clock: Clock, unread: list[str]
) -> float:
    """Return the share of the day that a remark states, all day without one [fraction]."""
    plain, comma = clock.remark.lower(), reader.comma
    timed = _TIMED.search(plain)
    read = None
    if "/" in plain and (timed or _OF_DUTY.search(plain)):
        read = on_share(clock.remark, comma=comma)
        read = read if read is not None and 0 <= read <= 1 else None
    if timed and read is None and not (clock.duty or clock.hours):
        _ask_time(reader, load, clock.remark)
    if read is not None and unread:
        name = f"{load.name} ('{clock.remark[:30]}')"
        reader.asked.ask("remark-hours", reader.name, load.row, name)
    for text in unread if read is None else ():
        _ask_time(reader, load, text)
    load.clock = load.clock or ("none" if read is None else "")
    return 1.0 if read is None else read


def _of_what(clock: Clock, comma: bool | None) -> bool:
    """Return whether minutes or seconds stand without the hour, day or cycle they are of."""
    if clock.hours is None or clock.cycles or clock.interval:
        return False
    text, column = clock.hours
    if column.head.per:
        return False
    short = column.head.unit in SHORT_UNITS
    if cell_number(text, comma=comma) is None:
        short = bool(_SHORT.fullmatch(text.strip().lower()))
    return short


_SHORT = re.compile(r"[\d.,]+\s*(?:min\w*|m?s|secs?|seconds?|sek\w*|segundos?)\.?")


def _on_days(
    reader: LoadReader, load: ListedLoad, clock: Clock, duty: float | None
) -> float | None:
    """Return a duty with the days of the week in it; fewer than all are asked."""
    if clock.days is None:
        return duty
    days = cell_number(clock.days[0], comma=reader.comma)
    if days is None or not 0 <= days <= DAYS_A_WEEK:
        _ask_time(reader, load, clock.days[0])
        return duty
    if days < DAYS_A_WEEK:
        reader.asked.ask(
            "part-week", reader.name, load.row, f"{load.name} ({count(days, 'day')})"
        )
    return (1.0 if duty is None else duty) * days / DAYS_A_WEEK


def _ask_time(reader: LoadReader, load: ListedLoad, text: str) -> None:
    reader.asked.ask(
        "time-unread", reader.name, load.row, f"{load.name} ('{text[:30]}')"
    )


def _duty(reader: LoadReader, load: ListedLoad, clock: Clock) -> float | None:
    if clock.duty is None:
        return None
    text, column = clock.duty
    number = cell_number(text, comma=reader.comma)
    if number is None:
        return (
            _ratio(text)
            or on_share(text, comma=reader.comma)
            or _by_letter(reader, load, text)
        )
    shown = (load.row - 1, column.index) in reader.table.sheet.markup.percent
    shown = shown or (clock.percent_cells and number <= 1)
    share, doubt = (number, "") if shown else reader.columns.share(number, column)
    if doubt:
        what = column.head.text if doubt == "percent" else ""
        name = f"{load.name} ({number:g})"
        reader.asked.ask(doubt, reader.name, load.row, name, what=what)
    return share


def _by_letter(reader: LoadReader, load: ListedLoad, text: str) -> float | None:
    """Return the share that the legend of a list gives a letter, continuous as all day."""
    meaning = reader.legend.get(text.strip().lower(), "")
    share = on_share(meaning, comma=reader.comma) if meaning else None
    if share is not None:
        note = f"{load.name} ('{text}' = {meaning[:40]})"
        reader.asked.ask("duty-letter", reader.name, load.row, note)
    return share


def _ratio(text: str) -> float:
    """Return a duty that is written as a ratio, 0 for any other [fraction]."""
    found = _RATIO.match(text)
    part, whole = map(int, found.groups()) if found else (0, 0)
    return part / whole if 0 < part <= whole else 0.0


def interval_h(cell: tuple[str, ListColumn] | None, comma: bool | None) -> float | None:
    """Return the hours after which an on-time comes again, None if not stated [h]."""
    if cell is None:
        return None
    number = cell_number(cell[0], comma=comma)
    if number is None:
        # "10 min" as a share of the day.
        return (on_share(cell[0], comma=comma) or 0.0) * 24 or None
    return number * UNITS[cell[1].head.unit][1] if number > 0 else None


def _hours(  # noqa: PLR0911 - a ladder of ways to write a time
    clock: Clock, comma: bool | None
) -> float | None:
    """Return the share of the day from hours a day, minutes an hour, or cycles."""
    if clock.hours is None:
        if clock.cycles is None:
            return None
        return on_share(clock.cycles[0], comma=comma)
    text, column = clock.hours
    number = cell_number(text, comma=comma)
    head = column.head
    if number is None:
        share = on_share(text, comma=comma, per=head.per or "day")
        alone = clock.cycles is None and clock.interval is None
        if share in {None, 1.0} or alone or "/" in text:
            return share
        number, unit_h = share * 24, 1.0
    else:
        unit_h = UNITS[head.unit][1] if head.unit in {"h", "min", "s", "ms"} else 1.0
        if head.unit == "%":
            return number / 100 if number > 1 else number
    every_h = interval_h(clock.interval, comma)
    if every_h:
        return number * unit_h / every_h
    if head.per in {"hour", "week", "month", "year"}:
        return number * unit_h / PERIOD_H[head.per]
    if clock.cycles is None:
        return number * unit_h / 24 if head.per != "cycle" else None
    count = cell_number(clock.cycles[0], comma=comma)
    if count is None:
        return None
    a_day = count * 24 / PERIOD_H.get(clock.cycles[1].head.per, 24.0)
    return number * unit_h * a_day / 24
