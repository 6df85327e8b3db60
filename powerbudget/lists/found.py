"""What files hold once they are read: tables, lines, loads, rows, questions."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from powerbudget.lists.cells import ClientBook
from powerbudget.lists.columns import Columns
from powerbudget.lists.io_rows import ListResult
from powerbudget.lists.questions import Questions
from powerbudget.lists.rows import ListedLoad, ListLine, Tally
from powerbudget.lists.schedule_rows import ScheduleResult
from powerbudget.lists.tables import ListTable
from powerbudget.lists.vertical import VerticalResult


@dataclass
class FoundPart:
    """One table that was read, with its columns and what it is."""

    table: ListTable
    columns: Columns
    kind: str
    result: ListResult | ScheduleResult | VerticalResult | None = None
    hidden: bool = False


@dataclass
class Import:
    """What one or more files hold.

    Parameters
    ----------
    books
        The files.
    parts
        Their tables and how each was taken.
    lines, loads
        Rows of signal lists; loads of schedules.
    tallies
        Every row of every sheet with its class.
    asked
        Questions, grouped by cause.
    notes
        What was assumed without a question [text].
    volts
        Voltage of the bus as a title states it, 0 without one [V].
    contingency_frac, inverter_frac
        Contingency of the sheet and efficiency of the inverter, None if not stated
        [fraction].
    renamed
        New tag to old tag, as remarks state it [text].
    """

    books: list[ClientBook]
    parts: list[FoundPart] = field(default_factory=list)
    lines: list[ListLine] = field(default_factory=list)
    loads: list[ListedLoad] = field(default_factory=list)
    tallies: list[Tally] = field(default_factory=list)
    asked: Questions = field(default_factory=Questions)
    notes: list[str] = field(default_factory=list)
    volts: float = 0.0
    contingency_frac: float | None = None
    inverter_frac: float | None = None
    renamed: dict[str, str] = field(default_factory=dict)

    def points(self, kind: str = "point") -> dict[str, int]:
        """Return the number of points of each kind of live (or spare) rows [count]."""
        found: Counter[str] = Counter()
        for line in self.lines:
            if line.kind == kind:
                for name, number in line.points.items():
                    found[name] += number
        return {k: n for k, n in found.items() if n}

    def tags(self) -> list[str]:
        """Return the live tags, each once."""
        return list(
            dict.fromkeys(x.tag for x in self.lines if x.kind == "point" and x.tag)
        )
