"""Questions to the engineer, grouped by cause: one line a cause, five rows named."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import NamedTuple

from powerbudget.lists.causes import CAUSES
from powerbudget.lists.words import folded

SHOWN = 5


@dataclass(slots=True)
class QuestionRow:
    """One row or cell that a question is about."""

    sheet: str
    row: int
    name: str = ""
    weight: float = 0.0


@dataclass
class Question:
    """What one cause asks.

    Parameters
    ----------
    cause
        Short name of the cause, stable between versions [text].
    lead, action
        What was found; what was assumed and what to do [text].
    items
        Rows it is about.
    """

    cause: str
    lead: str
    action: str
    items: list[QuestionRow] = field(default_factory=list)

    @property
    def text(self) -> str:
        """The question on one line: what, where (five rows named), what to do."""
        shown = sorted(self.items, key=lambda i: -i.weight)[:SHOWN]
        names = ", ".join(i.name for i in shown if i.name)
        more = len(self.items) - len(shown)
        lead = self.lead.replace("{n}", f"{len(self.items):,}")
        line = lead + (f": {names}" if names else "")
        line += f" and {more:,} more" if more > 0 and names else ""
        place = _places(shown, more)
        return f"{line}{place}. {self.action}"


def _places(items: list[QuestionRow], more: int) -> str:
    rows = [(i.sheet, i.row) for i in items if i.row]
    if not rows:
        return ""
    sheets = list(dict.fromkeys(sheet for sheet, _ in rows))
    text = "; ".join(
        (f"{sheet}, " if sheet != "csv" else "")
        + ("row " if sum(s == sheet for s, _ in rows) == 1 and not more else "rows ")
        + ", ".join(str(r) for r in sorted({row for s, row in rows if s == sheet}))
        for sheet in sheets
    )
    return f" ({text}{', ...' if more > 0 else ''})"


class Heard(NamedTuple):
    """One call of `Questions.ask`."""

    cause: str
    row: int
    name: str
    weight: float
    what: str


class Questions:
    """Questions gathered while a book is read; ``asked`` counts their rows."""

    def __init__(self) -> None:
        self._by: dict[str, Question] = {}
        self._places: dict[tuple[str, int], set[str]] = {}
        self.asked = 0
        self.heard: list[Heard] = []

    def ask(
        self,
        cause: str,
        sheet: str,
        row: int = 0,
        name: str = "",
        *,
        weight: float = 0.0,
        what: str = "",
    ) -> None:
        """Note one row under a cause of `CAUSES`; ``what`` parts those that name it."""
        key = f"{cause}:{folded(what)}" if what else cause
        found = self._by.get(key)
        if found is None:
            lead, action = CAUSES[cause]
            found = self._by[key] = Question(
                cause, lead.replace("{what}", what), action
            )
        self.asked += 1
        self.heard.append(Heard(cause, row, name, weight, what))
        found.items.append(QuestionRow(sheet, row, name, weight))
        places = self._places.get((sheet, row))
        if places is None:
            self._places[(sheet, row)] = {cause}
        else:
            places.add(cause)

    def about(self, sheet: str, row: int) -> set[str]:
        """Return the causes under which a row was asked about."""
        return self._places.get((sheet, row), set())

    def __iter__(self) -> Iterator[Question]:
        """Iterate over the questions in the order in which they came up."""
        return iter(list(self._by.values()))

    def __len__(self) -> int:
        """Return the number of questions [count]."""
        return len(self._by)

    def drop(self, cause: str) -> None:
        """Forget the questions of a cause that turned out to be settled."""
        self._by = {k: q for k, q in self._by.items() if q.cause != cause}
