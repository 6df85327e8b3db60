"""The list of sources: each text once, numbered in the order of first use."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.report.document.blocks import Cell, Column, Row, Table

if TYPE_CHECKING:
    from collections.abc import Iterable


class Sources:
    """Collects sources while sections are written.

    Parameters
    ----------
    site_file
        What the site file is called on the page [text].
    """

    def __init__(self, site_file: str) -> None:
        self.site_file = site_file
        self._numbers: dict[str, int] = {}
        self._status: dict[str, set[str]] = {}

    def number(self, text: str, status: str = "") -> int:
        """Return the number of a source, giving it one when it is new [count].

        Parameters
        ----------
        text
            The source; nothing means the site file [text].
        status
            Status word of a figure that rests on it [text].
        """
        words = " ".join(text.split()) or self.site_file
        if words == "site file":
            words = self.site_file
        self._numbers.setdefault(words, len(self._numbers) + 1)
        if status:
            self._status.setdefault(words, set()).add(status)
        return self._numbers[words]

    def href(self, text: str, status: str = "") -> str:
        """Return the anchor of a source [text].

        Parameters
        ----------
        text, status
            As in `number` [text].
        """
        return f"#source-{self.number(text, status)}"

    def cell(self, text: str, status: str = "") -> Cell:
        """Return a cell that leads to a source [Cell].

        Parameters
        ----------
        text, status
            As in `number` [text].
        """
        n = self.number(text, status)
        return Cell(f"S{n}", float(n), f"#source-{n}")

    def table(self) -> Table:
        """Return all sources so far."""
        rows = [
            Row(
                (
                    Cell(f"S{n}", float(n)),
                    Cell(text),
                    Cell(", ".join(sorted(self._status.get(text, ())))),
                ),
                anchor=f"source-{n}",
            )
            for text, n in self._numbers.items()
        ]
        columns = (Column("no"), Column("source"), Column("status of its figures"))
        return Table("sources", "Sources", columns,
                     tuple(rows), tools=True)  # fmt: skip


def statuses(words: Iterable[str]) -> str:
    """Return what status words mean, those that occur [text].

    Parameters
    ----------
    words
        Status words [text].
    """
    meaning = {
        "measured": "measured: logged at this equipment",
        "spot measurement": "spot measurement: one reading, not a log",
        "published": "published: in a public document that a reader can find",
        "data sheet": "data sheet: in a manufacturer's document that is not named here",
        "common practice": "common practice: generally used, no single source",
        "user input": "user input: typed in the site file without a source",
        "unverified": "unverified: believed, not traced to a document; confirm before use",
        "assumed": "assumed: chosen by this program or its author",
        "fictitious": "fictitious: made up for a demonstration site",
    }
    used = set(words)
    return "; ".join(text for key, text in meaning.items() if key in used) + "."
