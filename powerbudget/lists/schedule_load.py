"""One load of an equipment schedule: pieces, watts, time on, and what is open."""

from __future__ import annotations

import math
import re
from functools import partial
from typing import TYPE_CHECKING

from powerbudget.lists.causes import CAUSES
from powerbudget.lists.cells import Row
from powerbudget.lists.columns import MAKES_WATTS, Columns, ListColumn
from powerbudget.lists.figures import (
    CellFigure,
    cell_number,
    figure,
    on_share,
    others,
    pieces,
    pieces_at_least,
)
from powerbudget.lists.heads import PERIOD_H, UNITS
from powerbudget.lists.io_points import several_names
from powerbudget.lists.row_cells import cell_at, text_of
from powerbudget.lists.rows import AC_FROM_V, ListedLoad
from powerbudget.lists.schedule_modes import (
    TIMES,
    fill_cell_modes,
    fill_modes,
    mode_columns,
)
from powerbudget.lists.schedule_power import AC, AC_VOLTS, PowerCells, RowPower
from powerbudget.lists.schedule_time import Clock, interval_h, row_share
from powerbudget.lists.schedule_words import INCL_INVERTER, duty_standby, operation
from powerbudget.lists.words import folded
from powerbudget.quantities import in_unit, plain

if TYPE_CHECKING:
    from powerbudget.lists.questions import Questions
    from powerbudget.lists.tables import ListTable


THREE_PHASE_V = 380
"""Voltage from which AC stands between phases of three (common practice, no source) [V]."""
PERCENT_FROM = 0.5
"""A number under "Loss %" above which the column holds percentages (judgment)."""
MOTOR_FRAC = 0.7
"""Taken for a motor whose efficiency its row does not state (judgment, assumed)."""


_IN_NAME = re.compile(
    r"\((?:x|×|qty\.?:?)? ?(\d{1,2}) ?(?:x|×|off|nos?\.?|pcs\.?|pieces|stk\.?)?\)\s*$|"
    r"^(\d{1,2}) ?[x×] ",
    re.IGNORECASE,
)
"""Pieces at the end or beginning of a name: "Valves (x4)", "4 x valve"."""
_IN_REMARK = re.compile(
    r"\b(?:[2-9]|\d\d) ?(?:off|nos?\b|pcs|pieces|units|stk\b)|\bqty\b|\bx ?[2-9]\b",
    re.IGNORECASE,
)
"""Pieces that a remark names: "2 nos.", "qty 3"."""

_EACH = re.compile(r"\b(?:each|ea|apiece|je|per (?:unit|piece)|pro stuck|c/u|cada)\b")
"""Words beside a figure that is of one piece: "20 mA each"."""

AC_LOADS = re.compile(
    rf"\bac (?:loads?|consumers?|panel|distribution|side)\b|{AC_VOLTS.pattern}"
)
"""A title over loads that are fed with AC (common practice, no source)."""
_DC = re.compile(r"\bdc\b|\d ?vdc\b")
_WIDE_V = re.compile(
    r"\d\s*(?:V(?:DC)?)?\s*(?:-|–|to|bis|\.\.+)\s*\d+\s*V", re.IGNORECASE
)
"""A range of voltages, which names no rail."""


class LoadMaker:
    """Makes loads from the rows of one table.

    Parameters
    ----------
    table, columns
        The table and the meaning of its columns.
    asked
        Where questions go.
    comma
        Whether the list writes decimal commas.
    volts
        Voltage that the title or the sheet's name states, 0 without one [V].
    """

    def __init__(
        self,
        table: ListTable,
        columns: Columns,
        asked: Questions,
        *,
        comma: bool | None,
        volts: float,
    ) -> None:
        self.table, self.columns, self.asked, self.comma = table, columns, asked, comma
        self.volts, self.rail = volts, 0.0
        self.legend: dict[str, str] = {}
        self.run_share: float | None = None
        titles = map(folded, table.above)
        self.titled_ac = any(AC_LOADS.search(t) and not _DC.search(t) for t in titles)
        self.name = table.sheet.name
        self.power = PowerCells(columns, comma)
        self.modes = mode_columns(self.power, columns)
        self.beside = PowerCells(
            Columns([c for c in columns.all if c.index not in self.modes]), comma
        )

    def under(self, heading: str) -> None:
        """Take what feeds the rows below a heading; one without a word of it changes nothing."""
        plain = folded(heading)
        direct = bool(_DC.search(plain)) or 0 < self.rail < AC_FROM_V
        if AC_LOADS.search(plain) or direct:
            self.titled_ac = not direct

    # --- cells ---

    def text(self, row: Row, *fields: str) -> str:
        """Return the texts of the columns of some meanings, joined [text]."""
        found = (
            text_of(row[c.index])
            for c in self.columns.of(*fields)
            if c.index < len(row)
        )
        return " ".join(t for t in found if t)

    def number(self, row: Row, field: str) -> float | None:
        """Return the number of the first column of a meaning, or None."""
        column = self.columns.first(field)
        if column is None or column.index >= len(row):
            return None
        return cell_number(row[column.index], comma=self.comma)

    def row_volts(self, row: Row) -> float:
        """Return the voltage of a row, else of its rail or title [V]."""
        return self.power.volts(row, self.rail or self.volts)

    def every_h(self, row: Row) -> float | None:
        """Return the hours after which the on-time of a row comes again, or None [h]."""
        return interval_h(self._clock(row).interval, self.comma)

    def share(self, load: ListedLoad, row: Row) -> float:
        """Return the share of the day that a load is on [fraction]."""
        return row_share(self, load, self._clock(row))

    def rest_share(self, load: ListedLoad, row: Row) -> float | None:
        """Return the share of the day by the times that no mode owns, or None [fraction]."""
        own = [c for c in self.columns.all if not (c.field in TIMES and c.head.mode)]
        clock = self._clock(row, Columns(own))
        stated = clock.duty or clock.hours or clock.cycles
        return row_share(self, load, clock) if stated else None

    def energy(self, row: Row) -> float | None:
        """Return the Wh/day that a row states, charge at its own voltage [Wh]."""
        column, number = self.columns.first("energy"), self.number(row, "energy")
        if column is None or number is None:
            return None
        days = PERIOD_H.get(column.head.per, 24.0) / 24
        if column.head.unit in {"Ah", "mAh"}:
            volts = column.head.volts or self.row_volts(row)
            return number * UNITS[column.head.unit][1] * volts / days if volts else None
        return number * (1000 if column.head.unit == "kWh" else 1) / days

    def ask(self, cause: str, load: ListedLoad, note: str = "") -> None:
        """Put a question about a load."""
        name = f"{load.name} ({note})" if note else load.name
        self.asked.ask(cause, self.name, load.row, name)

    # --- the load ---

    def make(self, row: Row, label: str, number: int) -> ListedLoad:
        """Return the load of a row."""
        load = ListedLoad(self.name, number, label, self._pieces(row, label, number))
        load.tag = self.text(row, "tag")
        said = self.power.said_volts(row)
        load.ac, value = self._feed(row, said, label)
        load.volts = value or self.rail or self.power.head_v(row) or self.volts
        found = self.power.read(row, self.rail or self.volts)
        if self.modes:
            fill_modes(self, load, row)
            self._beside_modes(load, row)
            if load.why:
                self.ask(f"power-{load.why}", load)
        else:
            self._fill(load, row, found)
        if load.ac and load.volts >= THREE_PHASE_V and found.words.amps is not None:
            self._three_phase(load)
        self._inrush(load, row, found.words)
        self._remarks(load, row)
        load.energy_said = self.energy(row)
        if found.words.word != "shaft":
            load.drawn_frac = self._fraction(row, "efficiency", 1.0)
            load.drawn_frac /= 1 + self._loss(load, row)
        self._on_duty(load, row)
        self._mean(load, row)
        self._operation(load, row)
        return load

    def _on_duty(self, load: ListedLoad, row: Row) -> None:
        """Leave out the pieces that stand by where the words of a row tell how many."""
        duty, rest = duty_standby(self.text(row, "quantity"))
        if duty and rest and load.running_w:
            # The pieces on duty were counted.
            load.standby_w = load.running_w * rest / duty
            note = f"{duty} on duty, {rest} standing by"
            self.ask("standby", load, f"{note}, {plain(load.standby_w, 4, 'W')}")
            return
        words = self.text(row, "name", "text", "detail", "remark")
        duty, rest = duty_standby(f"{load.name} {words}")
        if not (duty and rest and load.running_w):
            return
        note = f"{duty} on duty, {rest} standing by"
        if load.quantity != duty + rest:
            if load.quantity != duty:
                self.ask("standby-pieces", load, f"{note}, quantity {load.quantity}")
            return
        frac = duty / load.quantity
        load.standby_w = (1 - frac) * load.running_w
        load.running_w *= frac
        load.maximum_w = frac * (load.maximum_w or 0.0)
        load.wh_per_day = frac * (load.wh_per_day or 0.0)
        load.quantity = duty
        self.ask("standby", load, f"{note}, {plain(load.standby_w, 4, 'W')}")

    def _operation(self, load: ListedLoad, row: Row) -> None:
        """Leave out what stands by without a time of its own; a continuous 0 h is asked."""
        cell = self.text(row, "operation")
        said = operation(self.legend.get(cell.lower(), "") or cell)
        ways = (w for k, w in self.columns.runs.items() if cell_at(row, k))
        cell = cell or next(ways, "")
        said = said or operation(cell)
        if not (said and load.running_w):
            return
        untimed, idle = load.clock == "none", not load.wh_per_day
        if said == "standby" and (untimed or idle):
            self.ask("standby", load, f"{plain(load.running_w, 4, 'W')}")
            load.standby_w = load.running_w
            load.running_w = load.maximum_w = load.wh_per_day = 0.0
        elif said == "continuous" and idle:
            self.ask("operation-clash", load)
            load.wh_per_day = 24 * load.running_w
        elif said == "intermittent" and untimed and self.run_share is not None:
            self.ask("run-share", load, in_unit(100 * self.run_share, "%"))
            load.wh_per_day = 24 * load.running_w * self.run_share
        elif said == "intermittent" and untimed:
            self.ask("time-unread", load, f"'{cell}'")
        load.clock = "" if untimed else load.clock

    def _mean(self, load: ListedLoad, row: Row) -> None:
        """Take the average watts of a row for its energy, or compare them with its time.

        Average watts above the watts of one piece are those of the row.
        """
        column = self.columns.first("mean")
        text = text_of(cell_at(row, column.index)) if column is not None else ""
        if column is None or not text or load.running_w is None:
            return
        said = figure(text, column.head.unit or "W", comma=self.comma)
        watts = said.watts
        if watts is None and said.amps is not None:
            volts = said.volts or column.head.volts or self.row_volts(row)
            watts = said.amps * volts if volts else None
        if watts is None:
            return
        each = {"each": True, "total": False}.get(column.head.share)
        ways = {watts * load.quantity if way else watts for way in (each, each is None)}
        likely = [w for w in ways if w <= 1.02 * load.running_w] or [watts]
        counted = (load.wh_per_day or 0.0) / 24
        if load.clock == "none":
            load.clock, load.wh_per_day = "", 24 * max(likely)
            if len(likely) > 1:
                self.ask("mean-each", load, f"{load.quantity} x {plain(watts, 4, 'W')}")
        elif not any(abs(w - counted) <= 0.02 * max(w, counted) for w in ways):
            note = (
                f"{plain(watts, 4, 'W')} stated, {plain(counted, 4, 'W')} by its time"
            )
            self.ask("mean", load, note)
            load.wh_per_day = 24 * max(counted, *likely)

    def _beside_modes(self, load: ListedLoad, row: Row) -> None:
        """Read the powers of no mode that stand beside the modes; the higher counts."""
        found = self.beside.read(row, self.rail or self.volts)
        before = load.running_w
        self._total(load, found.total_w)
        if before and load.running_w and load.wh_per_day:
            load.wh_per_day *= load.running_w / before
        if found.running_w is None:
            return
        if load.why == "unreadable":
            load.why = ""
            self._fill(load, row, found)
            return
        watts, day = found.running_w * load.quantity, load.wh_per_day or 0.0
        if 24 * watts > 1.02 * day:
            note = f"{plain(watts, 4, 'W')} beside modes of {plain(day / 24, 4, 'W')} in the mean"
            self.ask("two-powers", load, note)
            load.wh_per_day = 24 * watts
            load.running_w = max(watts, load.running_w or 0.0)
            load.maximum_w = max(watts, load.maximum_w or 0.0)

    def _three_phase(self, load: ListedLoad) -> None:
        """Raise a load stated as volts between phases times the current of one."""
        for name in ("running_w", "maximum_w", "wh_per_day"):
            value = getattr(load, name)
            if value is not None:
                setattr(load, name, value * math.sqrt(3))
        self.ask("three-phase", load)

    def _feed(self, row: Row, said: str, label: str) -> tuple[bool, float]:
        """Return whether a row is fed with AC, and the one voltage that it states [V]."""
        match = re.search(r"(\d+(?:[.,]\d+)?)", said)
        value = float(match.group(1).replace(",", ".")) if match else 0.0
        ac = bool(AC.search(folded(said))) or value >= AC_FROM_V
        if not said.strip():
            remark = self.text(row, "remark")
            words = (label, remark, *(text for text, _ in self.power.texts(row)))
            ac = self.titled_ac or any(AC_VOLTS.search(folded(t)) for t in words)
        if self.power.ac:
            said_in = {c.index for text, c in self.power.texts(row) if text != "0"}
            ac = ac or (bool(said_in) and said_in <= self.power.ac)
        # A device that bears 10 to 30 V belongs to no voltage of its own.
        return ac, 0.0 if _WIDE_V.search(said) and not ac else value

    def _pieces(self, row: Row, label: str, number: int) -> int:
        times = self.number(row, "times")
        return self._of_one(row, label, number) * max(1, math.ceil(times or 1))

    def _of_one(self, row: Row, label: str, number: int) -> int:
        said = self.text(row, "quantity")
        value = pieces(said or None, comma=self.comma)
        duty, rest = duty_standby(said)
        if duty and rest:
            return duty
        several = max(several_names(label), several_names(self.text(row, "tag")))
        if several > 1 and value != several:
            note = f"{label} ({several} named, quantity '{said}')"
            self.asked.ask("several-named", self.name, number, note)
            if not said and self.columns.of("quantity"):
                return several
        if value is not None and value == int(value) and 0 <= value <= 10_000:
            return int(value)
        named = _IN_NAME.search(label)
        if named and not self.columns.of("quantity"):
            each = any(c.head.share == "each" for c in self.power.columns) or bool(
                _EACH.search(self.text(row, "power", "current").lower())
            )
            self.asked.ask(
                "pieces-each" if each else "pieces-all", self.name, number, label
            )
            return int(named.group(1) or named.group(2)) if each else 1
        if not self.columns.of("quantity") and _IN_REMARK.search(
            self.text(row, "remark")
        ):
            self.asked.ask("pieces-all", self.name, number, label)
        if said:
            self.asked.ask("quantity", self.name, number, f"{label} {said[:20]!r}")
        least = math.ceil(value) if value else pieces_at_least(said)
        return max(1, min(10_000, least))

    def _fill(self, load: ListedLoad, row: Row, found: RowPower) -> None:
        """Put the running watts, the maximum and the Wh/day of a load."""
        if found.unread is not None:
            self.asked.ask("no-unit-head", self.name, what=found.unread.called)
        running = self._one_piece(load, found)
        if running is None:
            self._without(load, found, row)
            return
        self._ask_word(load, found, running)
        if load.ac and found.words.watts is None and found.words.amps is not None:
            running *= self.power.power_factor(row) or 1.0
        if found.words.word == "shaft":
            running /= self._motor_frac(row)
        count = load.quantity
        if found.words.times > 1 and found.words.times == count:
            count = 1
        load.running_w = running * count
        load.maximum_w = max(running, found.top_w or 0.0) * count
        self._total(load, found.total_w)
        if found.words.modes:
            times = self.text(row, "duty", "share", "hours", "cycles", "remark")
            times = "; ".join((times, *(text for text, _ in self.power.texts(row))))
            fill_cell_modes(self, load, found.words, self.row_volts(row), times)
            return
        share = row_share(self, load, self._clock(row))
        if not load.running_w and load.maximum_w and 0 < share < 1:
            # Hours of a load whose running power is 0 are those of its maximum.
            self.ask("maximum-only", load)
            load.running_w = load.maximum_w
        load.wh_per_day = load.running_w * 24 * share
        top = load.maximum_w
        if (
            self.power.has_mean
            and share < 1
            and abs(load.running_w - top * share) <= 0.02 * top
        ):
            # The "average" is the maximum times the duty already: counted once.
            load.wh_per_day, load.running_w = load.running_w * 24, top
        elif self.power.has_mean and share < 1 and top > load.running_w:
            self.ask(
                "mean-duty",
                load,
                f"{plain(load.running_w, 4, 'W')}, {in_unit(100 * share, '%')}",
            )
            load.wh_per_day = load.running_w * 24

    def _one_piece(self, load: ListedLoad, found: RowPower) -> float | None:
        if found.differ:
            self.ask(
                "two-powers",
                load,
                " / ".join(plain(w, 4, "W") for w in found.differ),
            )
        if found.running_w is not None:
            return found.running_w
        if found.top_w is None:
            return (
                found.total_w / max(1, load.quantity)
                if found.total_w is not None
                else None
            )
        self.ask("maximum-only", load)
        return found.top_w

    def _total(self, load: ListedLoad, total: float | None) -> None:
        """Compare the total of a row with its pieces; the higher counts."""
        running = load.running_w or 0.0
        if total is None or abs(total - running) <= 0.02 * max(running, total):
            return
        self.ask(
            "row-total",
            load,
            f"{plain(running, 4, 'W')}, the sheet says {plain(total, 4, 'W')}",
        )
        if total > running:
            load.running_w, load.maximum_w = total, max(total, load.maximum_w or 0.0)

    def _without(self, load: ListedLoad, found: RowPower, row: Row) -> None:
        """Say why a load has no figure; it counts as a load of unknown draw."""
        word = found.words.word
        if found.words.amps is not None or found.words.top_amps is not None:
            word = "no-volts"
        load.why = word or "unreadable"
        if load.why in {"none", "self"}:
            load.assumed.append("the schedule states no draw of its own")
        if load.why == "none":
            return
        cell = next((text for text, _ in self.power.texts(row)), "")
        cause = f"power-{load.why.replace(' ', '-')}"
        cause = cause if cause in CAUSES else "power-unreadable"
        self.ask(cause, load, f"'{cell[:30]}'")
        energy = self.energy(row)
        if energy and load.why in {"unreadable", "tbc", "no-volts", "no unit"}:
            # What the row states for the day is nearer than a figure for the unknown.
            load.running_w = load.maximum_w = energy / 24
            load.wh_per_day, load.why = energy, ""
            self.ask("energy-only", load)

    def _ask_word(self, load: ListedLoad, found: RowPower, running: float) -> None:
        word = found.words.word
        if word == "va":
            self.ask("va", load)
        elif word == "shaft":
            self.ask("shaft", load)
        elif word == "several" and not found.words.modes:
            self.ask("several-powers", load, plain(running, 4, "W"))
        elif word in {"approximate", "upper", "range"}:
            load.assumed.append(f"'{word}' figure counted at {running:g} W")

    def _motor_frac(self, row: Row) -> float:
        """Return the efficiency of a motor: what its row states, else the assumed one."""
        return self._fraction(row, "efficiency", MOTOR_FRAC)

    def _fraction(self, row: Row, field: str, otherwise: float) -> float:
        said = self.number(row, field)
        # A text file holds "80 %" as text.
        share = on_share(self.text(row, field)) if said is None else None
        said = said or share or otherwise
        said = said / 100 if said > 1 else said
        return said if said > 0 else otherwise

    def _loss(self, load: ListedLoad, row: Row) -> float:
        """Return the losses that a row states, as a fraction of its watts."""
        column, said = self.columns.first("loss"), self.number(row, "loss")
        if column is None or not said or said < 0:
            return 0.0
        shown = (load.row - 1, column.index) in self.table.sheet.markup.percent
        unit = column.head.unit == "%" and self.columns.most(column) > PERCENT_FROM
        percent = said > 1 or (unit and not shown)
        return said / 100 if percent else said

    def _clock(self, row: Row, columns: Columns | None = None) -> Clock:
        percent = self.table.sheet.markup.percent
        return Clock.of(columns or self.columns, partial(self._timed, row), percent)

    def _timed(self, row: Row, column: ListColumn) -> str:
        """Return a cell of a time with its unit where a column beside it states that."""
        text = text_of(cell_at(row, column.index))
        beside = self.columns.first("time_unit")
        if text and beside is not None and beside.index == column.index + 1:
            return f"{text} {text_of(cell_at(row, beside.index))}".strip()
        return text

    def _inrush(self, load: ListedLoad, row: Row, found: CellFigure) -> None:
        """Put the start-up power of one piece, from its column or the cell of its power."""
        column = self.columns.first("inrush")
        text = self.text(row, "inrush") if column is not None else ""
        watts, amps = [found.inrush_watts], [found.inrush_amps]
        if column is not None and text:
            found = figure(text, column.head.unit, comma=self.comma)
            watts = [found.watts, found.top_watts, found.inrush_watts]
            amps = [found.amps, found.top_amps, found.inrush_amps]
        if not any((*watts, *amps)):
            return
        volts = found.volts or self.row_volts(row)
        most = (max(x or 0.0 for x in said) for said in (watts, amps))
        load.inrush_w = next(most) or next(most) * volts or None

    def _remarks(self, load: ListedLoad, row: Row) -> None:
        """Ask about remarks and factors that change how a figure is meant."""
        if INCL_INVERTER.search(folded(self.text(row, "remark"))):
            load.dc_side = True
            self.ask("dc-side", load)
        if others(self.text(row, "remark", "supply")):
            self.ask("remark-others", load)
        factor, said = self.columns.first("duty"), self.number(row, "duty")
        applied = factor is not None and factor.evidence == MAKES_WATTS
        if applied and said is not None and said not in {1.0, 100.0}:
            self.ask("diversity-used", load, f"{said:g}")
        diversity = self.number(row, "diversity")
        if diversity is not None and diversity not in {1.0, 100.0}:
            self.ask("diversity", load, f"{diversity:g}")
