"""Rows of an equipment schedule: quantity, watts, hours, and what is no load."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, field

from powerbudget.lists.cells import Row
from powerbudget.lists.columns import Column, Columns
from powerbudget.lists.figures import Figure, cell_number, figure, pieces
from powerbudget.lists.heads import UNITS, spelt
from powerbudget.lists.io_cells import text_of
from powerbudget.lists.questions import Questions
from powerbudget.lists.rows import Load
from powerbudget.lists.schedule_time import Clock, row_share
from powerbudget.lists.status import NOTES, TOTAL, whole_status
from powerbudget.lists.tables import Table, head_texts, is_repeated_head
from powerbudget.lists.words import folded

PASSIVE = re.compile(
    r"\bantenn|\bbatter|\bakku|\bbateria|\bmodule?s? \d|\bsolar|\bpanel\b|\bmast\b|\bcable|\bkabel|"
    r"\benclosure|\bschrank|\bgabinete|\bfuse|\bbreaker|\bterminal|\bklemme|\bgland|\bearth|\bground|"
    r"\bsurge|\bbracket|\bpole\b|\bcabinet|\bdin rail|\bconduit|\btubing|\bgauge glass|\bsheet\b|"
    r"\blabour|\bfreight|\bmounting|\bpole mount|\bsurge arrest|\bbarrier\b|\bdocument"
)
"""Things that draw nothing by themselves (common practice, no source)."""
LOSSES = re.compile(
    r"\bloss(?:es)?\b|verlust|perdida|pertes|eigenverbrauch|self[- ]?consumption|own consumption|"
    r"\befficiency\b|wirkungsgrad|inefficien|quiescent of (?:charge|regulator)|autoconsumo"
)
REGULATOR = re.compile(
    r"regulator|laderegler|charge controller|solar controller|regulador|controlador de carga"
)
CONTINGENCY = re.compile(
    r"contingency|reserve|reserva|zuschlag|margin|growth|spare capacity|future|design margin|allowance|"
    r"contingencia|margen|puffer|uncertainty|safety factor"
)
_AC = re.compile(
    r"\b\d{2,3} ?v? ?ac\b|\bvac\b|\bac\b|\b(?:110|115|120|127|208|220|230|240) ?v\b(?! ?dc)|\b(?:50|60) ?hz\b"
)
_INCL_INVERTER = re.compile(
    r"incl\w*\.? (?:the )?(?:inverter|losses)|dc side|inverter included|inkl\w*\.? wechselrichter"
)
_RAIL = re.compile(r"(\d+(?:[.,]\d+)?)\s*-?\s*v(?:dc|cc)?\b", re.IGNORECASE)
_LIGHT = re.compile(
    r"\blight|\blamp|\bleuchte|\bluz|\bluminari|\bbeleucht|\bbaliza|\bbeacon"
)


@dataclass
class ScheduleResult:
    """What an equipment schedule became."""

    loads: list[Load] = field(default_factory=list)
    classes: dict[int, str] = field(default_factory=dict)
    totals: list[tuple[int, str, dict[str, float]]] = field(default_factory=list)
    contingency: list[tuple[int, str, float | None]] = field(default_factory=list)
    losses: list[tuple[int, str, float | None]] = field(default_factory=list)
    efficiencies: set[float] = field(default_factory=set)


class ScheduleReader:
    """Reads the rows of one table of equipment.

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
        self, table: Table, columns: Columns, asked: Questions, *,
        comma: bool | None = None, volts: float = 0.0,
    ) -> None:  # fmt: skip
        self.table, self.columns, self.asked = table, columns, asked
        self.comma, self.volts, self.rail = comma, volts, 0.0
        self.name = table.sheet.name
        self.result = ScheduleResult()
        self._notes = False
        self._heads = head_texts(table.heads)
        self._powers = [*columns.of("power"), *columns.of("current")]
        self._modes = sorted({c.head.mode for c in self._powers if c.head.mode})
        self._names = self._name_columns()

    def _name_columns(self) -> list[int]:
        columns = self.columns
        order = [
            *columns.of("name"),
            *columns.of("text"),
            *columns.of("tag"),
            *columns.of("detail"),
        ]
        return [c.index for c in order]

    def read(self) -> ScheduleResult:
        """Return what became of every row of the table."""
        for index in range(self.table.first, self.table.last):
            row = self.table.sheet.rows[index]
            self.result.classes[index] = self._row(index, row)
        return self.result

    # --- cells ---

    def _cell(self, row: Row, column: Column | None) -> str:
        if column is None or column.index >= len(row):
            return ""
        return text_of(row[column.index])

    def _number(self, row: Row, name: str) -> float | None:
        column = self.columns.first(name)
        if column is None or column.index >= len(row):
            return None
        return cell_number(row[column.index], comma=self.comma)

    def label(self, row: Row) -> str:
        """Return what a row is called [text]."""
        for index in self._names:
            if (
                index < len(row)
                and isinstance(row[index], str)
                and cell_number(row[index]) is None
            ):
                return str(row[index])
        return ""

    # --- rows ---

    def _row(self, index: int, row: Row) -> str:
        filled = [k for k, cell in enumerate(row) if cell is not None]
        if not filled:
            return "blank"
        if is_repeated_head(row, self._heads):
            return "head"
        texts = [str(row[k]) for k in filled if isinstance(row[k], str)]
        words = [t for t in texts if cell_number(t) is None]
        first = folded(words[0]) if words else ""
        if words and len(filled) <= 2 and NOTES.match(first):
            self._notes = True
        if self._notes:
            return self._note(index, words)
        special = self._special(index, row, words)
        if special:
            return special
        if len(filled) == 1 and words:
            return self._lone(index, words[0])
        return self._load(index, row, filled)

    def _note(self, index: int, words: list[str]) -> str:
        text = " ".join(words)
        if re.search(r"by others|if any|excluded|not included|bauseits|tb[acd]\b|see vendor|por otros|"
                     r"no incluid|nicht enthalten|see data", folded(text)):  # fmt: skip
            self.asked.ask(
                "note-open", "Notes leave loads open", "Add them as loads, or confirm that there are "
                "none.", sheet=self.name, row=index + 1, name=f"'{text[:90]}'",
            )  # fmt: skip
        return "note"

    def _lone(self, index: int, text: str) -> str:
        plain = folded(text)
        volts = _RAIL.search(text)
        if volts and len(text) < 40:
            self.rail = float(volts.group(1).replace(",", "."))
            return "section"
        if (
            len(text) > 50
            or re.match(r"^(?:\d+[.)]|note|\*|-)\s", plain)
            or text.endswith(".")
        ):
            self._inverter_note(index, text)
            return self._note(index, [text])
        return "section"

    def _inverter_note(self, index: int, text: str) -> None:
        plain = folded(text)
        if not re.search(r"inverter|wechselrichter|inversor", plain):
            return
        share = re.search(r"(\d+(?:[.,]\d+)?)\s*%", text)
        if share:
            self.result.efficiencies.add(float(share.group(1).replace(",", ".")) / 100)
        self.asked.ask(
            "inverter", "An inverter feeds AC loads", "State its efficiency and its standby draw; "
            "standby is not in the loads.", sheet=self.name, row=index + 1, name=f"'{text[:80]}'",
        )  # fmt: skip

    def _special(self, index: int, row: Row, words: list[str]) -> str:
        """Return the class of a total, a contingency or a loss, or nothing."""
        label = next((w for w in words if not _is_unit_word(w)), "")
        if sum(cell is not None for cell in row) == 1 and not TOTAL.match(
            folded(label)
        ):
            return ""
        plain = folded(label)
        numbers = self._figures(row)
        lone = not self._cell(row, self.columns.first("item")) or plain == folded(
            text_of(row[0])
        )
        pieces = self._number(row, "quantity")
        if TOTAL.match(plain) and (lone or pieces is None):
            self.result.totals.append((index + 1, label, numbers))
            return "total"
        if CONTINGENCY.search(plain) and pieces is None and len(words) <= 3 and numbers:
            share = self._contingency_share(row, label)
            self.result.contingency.append((index + 1, label, share))
            return "total"
        if LOSSES.search(plain):
            watts = self._running(row)[0]
            self.result.losses.append((index + 1, label, watts))
            return "loss"
        return ""

    def _figures(self, row: Row) -> dict[str, float]:
        found: dict[str, float] = {}
        for column in self.columns.all:
            if column.field in {"", "item", "price"} or column.index >= len(row):
                continue
            number = cell_number(row[column.index], comma=self.comma)
            if number is not None:
                found[f"{column.field} {column.head.share}".strip()] = number
        return found

    def _contingency_share(self, row: Row, label: str) -> float | None:
        said = re.search(r"(\d+(?:[.,]\d+)?)\s*%", label)
        if said:
            return float(said.group(1).replace(",", ".")) / 100
        for column in self.columns.all:
            if column.index >= len(row) or column.field in {"energy", "price"}:
                continue
            number = cell_number(row[column.index], comma=self.comma)
            if number is not None and 0 < number < 1:
                return number
            if number is not None and column.head.unit == "%" and number <= 100:
                return number / 100
        return None

    # --- loads ---

    def _load(self, index: int, row: Row, filled: list[int]) -> str:
        label, number = self.label(row), index + 1
        values = [cell_number(row[k], comma=self.comma) for k in filled]
        if not label:
            powers = [
                n for c in self._powers if c.index < len(row)
                and (n := cell_number(row[c.index], comma=self.comma)) is not None
            ]  # fmt: skip
            if not any(powers):
                return "template" if any(v is not None for v in values) else "ignored"
            label = f"row {number}"
        if self._out(index, row, label, number):
            return "deleted"
        figures = self._cells_of_power(row)
        if not any(text for text, _ in figures):
            return self._no_figure(row, label, number)
        load = self._made(row, label, number)
        self.result.loads.append(load)
        return "load"

    def _out(self, index: int, row: Row, label: str, number: int) -> bool:
        """Return whether marks or a status cell take a row out, and say so."""
        marks = self.table.sheet.markup
        said = [self._cell(row, c) for c in self.columns.of("status", "remark")]
        status = next(
            (s for s in map(whole_status, said) if s in {"deleted", "future", "hold"}),
            "",
        )
        names = [k for k in self._names if k < len(row) and row[k] is not None]
        struck = bool(names) and (index, names[0]) in marks.struck
        hidden = index in marks.hidden_rows
        if not (status or struck or hidden):
            return False
        why = "struck out" if struck else "hidden" if hidden else f"marked {status}"
        self.asked.ask(
            "out", "Rows are struck out, hidden or marked", "Left out; confirm.", sheet=self.name,
            row=number, name=f"{label} ({why})",
        )  # fmt: skip
        return True

    def _cells_of_power(self, row: Row) -> list[tuple[str, Column]]:
        return [(self._cell(row, column), column) for column in self._powers]

    def _no_figure(self, row: Row, label: str, number: int) -> str:
        energy = self._energy(row)
        if energy:
            load = Load(self.name, number, label, running_w=energy / 24, maximum_w=energy / 24,
                        wh_per_day=energy)  # fmt: skip
            self.asked.ask(
                "energy-only", "Loads state Wh/day but no watts", "Spread over 24 h; state the watts.",
                sheet=self.name, row=number, name=label,
            )  # fmt: skip
            self.result.loads.append(load)
            return "load"
        if not PASSIVE.search(folded(label)):
            self.asked.ask(
                "blank-power", "Rows have a name but no power", "Counted as nothing; state W, or 0.",
                sheet=self.name, row=number, name=label,
            )  # fmt: skip
        return "no-load"

    def _made(self, row: Row, label: str, number: int) -> Load:
        load = Load(self.name, number, label, self._pieces(row, label, number))
        group = self.columns.first("group")
        load.group = self._cell(row, group)
        self._voltage(load, row)
        if self._modes:
            from powerbudget.lists.schedule_modes import fill_modes

            fill_modes(self, load, row)
        else:
            self._fill(load, row)
        self._check_energy(load, row)
        return load

    def _pieces(self, row: Row, label: str, number: int) -> int:
        column = self.columns.first("quantity")
        said = self._cell(row, column)
        value = pieces(said or None, comma=self.comma)
        if value is None:
            if said:
                self._ask_pieces(label, number, said)
            return 1
        if value < 0 or value != int(value) or value > 10_000:
            self._ask_pieces(label, number, said)
            return max(1, min(10_000, math.ceil(value)))
        return int(value)

    def _ask_pieces(self, label: str, number: int, said: str) -> None:
        self.asked.ask(
            "quantity", "The quantity is no whole number", "Rounded up, or counted as 1.",
            sheet=self.name, row=number, name=f"{label} {said[:20]!r}",
        )  # fmt: skip

    def _voltage(self, load: Load, row: Row) -> None:
        said = " ".join(self._cell(row, c) for c in self.columns.of("volts", "supply"))
        if _AC.search(folded(said)):
            load.ac = True
        match = re.search(r"(\d+(?:[.,]\d+)?)", said)
        value = float(match.group(1).replace(",", ".")) if match else 0.0
        if value >= 90 and not load.ac:
            load.ac = True
        load.volts = value or self.rail or self.volts

    def _running(self, row: Row) -> tuple[float | None, float | None, Figure]:
        """Return watts of one piece: running, highest, and the words of the cell."""
        running: float | None = None
        top: float | None = None
        words = Figure()
        volts = self._row_volts(row)
        for text, column in self._cells_of_power(row):
            if not text or column.head.share == "total":
                continue
            found = figure(text, column.head.unit or self._unit(row), comma=self.comma)
            if found.word == "no unit" and column.field == "power":
                found = figure(text, "W", comma=self.comma)
                self.asked.ask("no-unit", f"Column {column.letter} '{column.head.text}' states no unit",
                               "Read as W; confirm.", sheet=self.name)  # fmt: skip
            watts, high = _in_watts(found, found.volts or column.head.volts or volts)
            if found.word or words == Figure():
                words = found if found.word or not words.word else words
            if column.head.reading == "maximum":
                top = (
                    max(x for x in (top, watts, high) if x is not None)
                    if watts is not None
                    else top
                )
            elif running is None and watts is not None:
                running, top = watts, high if high is not None else top
        return running, top, words

    def _unit(self, row: Row) -> str:
        """Return the unit that a row states in a column of its own, empty without one."""
        return spelt(self._cell(row, self.columns.first("unit")))

    def _row_volts(self, row: Row) -> float:
        said = " ".join(self._cell(row, c) for c in self.columns.of("volts", "supply"))
        match = re.search(
            r"(\d+(?:[.,]\d+)?)(?:\s*(?:-|to|bis)\s*(\d+(?:[.,]\d+)?))?", said
        )
        if match:
            return float((match.group(2) or match.group(1)).replace(",", "."))
        return self.rail or self.volts

    def _fill(self, load: Load, row: Row) -> None:
        """Put the running watts, the maximum and the Wh/day of a load."""
        running, top, words = self._running(row)
        total = self._total_w(row)
        if running is None and top is None and total is not None:
            running = total / max(1, load.quantity)
        if running is None and top is not None:
            running = top
            self.asked.ask("maximum-only", "Loads state a maximum only", "Counted at the maximum; state the "
                           "typical power.", sheet=self.name, row=load.row, name=load.name)  # fmt: skip
        if running is None:
            self._without(load, words, row)
            return
        self._ask_word(load, words, running)
        pieces = load.quantity
        if words.times > 1 and words.times == pieces:
            pieces = 1
        load.running_w = running * pieces
        load.maximum_w = max(running, top or 0.0) * pieces
        if (
            total is not None
            and load.running_w
            and abs(total - load.running_w) > 0.02 * load.running_w
        ):
            self._ask_total(load, total)
        clock = self._clock(row)
        share = row_share(self, load, clock)
        if (
            _is_mean(self._powers)
            and share < 1
            and load.maximum_w
            and abs(load.running_w - load.maximum_w * share) <= 0.02 * load.running_w
        ):
            # The "average" is the maximum times the duty already: counted once.
            load.running_w = load.maximum_w
        load.wh_per_day = load.running_w * 24 * share
        self._inrush(load, row)
        self._remarks(load, row)

    def _total_w(self, row: Row) -> float | None:
        for text, column in self._cells_of_power(row):
            if (
                text
                and column.head.share == "total"
                and column.head.reading != "maximum"
            ):
                found = figure(text, column.head.unit or self._unit(row) or ("W" if column.field == "power" else ""),
                               comma=self.comma)  # fmt: skip
                watts, _ = _in_watts(found, self._row_volts(row))
                if watts is not None:
                    return watts
        return None

    def _ask_total(self, load: Load, total: float) -> None:
        self.asked.ask(
            "row-total", "Watts of a row disagree with quantity x watts", "The higher is taken; correct "
            "the row.", sheet=self.name, row=load.row,
            name=f"{load.name} ({load.running_w:.4g} W, the sheet says {total:.4g} W)",
        )  # fmt: skip
        if load.running_w is not None and total > load.running_w:
            load.running_w = total
            load.maximum_w = max(total, load.maximum_w or 0.0)

    def _without(self, load: Load, words: Figure, row: Row) -> None:
        """Say why a load has no figure; it counts as a load of unknown draw."""
        word = words.word
        if words.amps is not None or words.top_amps is not None:
            word = "no-volts"
        load.why = word or "unreadable"
        lead, action = _WHY.get(word, _WHY["unreadable"])
        cell = next((text for text, _ in self._cells_of_power(row) if text), "")
        if load.why in {"none", "self"}:
            load.assumed.append("the schedule states no draw of its own")
            return
        self.asked.ask(f"power-{load.why}", lead, action, sheet=self.name, row=load.row,
                       name=f"{load.name} ('{cell[:30]}')")  # fmt: skip

    def _ask_word(self, load: Load, words: Figure, running: float) -> None:
        if words.word == "va":
            self.asked.ask("va", "Figures in VA: is the load AC or DC?", "Counted as W; state the watts.",
                           sheet=self.name, row=load.row, name=load.name)  # fmt: skip
        elif words.word in {"approximate", "upper", "range"}:
            load.assumed.append(f"'{words.word}' figure counted at {running:g} W")

    def _clock(self, row: Row) -> Clock:
        return Clock.of(
            self.columns, lambda c: self._cell(row, c), self.table.sheet.markup.percent
        )

    def _inrush(self, load: Load, row: Row) -> None:
        column = self.columns.first("inrush")
        number = self._number(row, "inrush")
        if column is None or number is None:
            return
        if column.head.unit in {"A", "mA"}:
            amps = number / 1000 if column.head.unit == "mA" else number
            load.inrush_w = amps * self._row_volts(row) or None
        elif column.head.unit == "W":
            load.inrush_w = number

    def _remarks(self, load: Load, row: Row) -> None:
        """Ask about diversity and remarks that change how a figure is meant."""
        remark = " ".join(self._cell(row, c) for c in self.columns.of("remark"))
        if _INCL_INVERTER.search(folded(remark)):
            load.dc_side = True
            self.asked.ask("dc-side", "Watts are stated with the inverter in them", "Kept, and not divided "
                           "by its efficiency again; confirm.", sheet=self.name, row=load.row,
                           name=load.name)  # fmt: skip
        diversity = self._number(row, "diversity")
        if diversity is not None and diversity not in {1.0, 100.0}:
            self.asked.ask("diversity", "Diversity is stated", "Energy and maximum are not lowered by it; "
                           "confirm what it means.", sheet=self.name, row=load.row,
                           name=f"{load.name} ({diversity:g})")  # fmt: skip

    def _check_energy(self, load: Load, row: Row) -> None:
        load.energy_said = self._energy(row)

    def _energy(self, row: Row) -> float | None:
        """Return the Wh/day that a row states, charge at its own voltage [Wh]."""
        column = self.columns.first("energy")
        number = self._number(row, "energy")
        if column is None or number is None:
            return None
        if column.head.unit in {"Ah", "mAh"}:
            volts = self._row_volts(row)
            return number * UNITS[column.head.unit][1] * volts if volts else None
        return number * (1000 if column.head.unit == "kWh" else 1)


def _is_unit_word(text: str) -> bool:
    return len(text) <= 3 and not text.isalpha()


def _is_mean(columns: list[Column]) -> bool:
    words = " ".join(
        c.head.text.lower() for c in columns if c.head.reading == "typical"
    )
    return bool(re.search(r"\bav(?:g|erage)|\bmean|mittel|promedio|moyen", words))


def _in_watts(found: Figure, volts: float) -> tuple[float | None, float | None]:
    """Return running and highest watts of a cell, currents at its volts."""
    watts, high = found.watts, found.top_watts
    if watts is None and found.amps is not None and volts:
        watts = found.amps * volts
    if high is None and found.top_amps is not None and volts:
        high = found.top_amps * volts
    return watts, high


_WHY = {
    "included": ("Loads are included in others", "Nothing is added; confirm."),
    "others": ("Loads are left out: by others", "Left out; confirm that they are not on this bus."),
    "self": ("Loads are fed by themselves", "Nothing is added."),
    "negligible": ("Loads are called negligible", "Nothing is added; state a figure, if only 0."),
    "tbc": ("Loads have no figure yet (TBC)", "Counted as unknown; state the watts."),
    "none": ("Loads are stated without power", "Nothing is added."),
    "no-volts": ("Currents without a voltage", "Not counted; state the voltage."),
    "no unit": ("Figures without a unit", "Not counted; state W, A or mA in the head."),
    "unreadable": ("Cells of power cannot be read", "Not counted; state the watts."),
}  # fmt: skip
