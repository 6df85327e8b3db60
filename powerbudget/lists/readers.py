"""What a helper sees of the reader of rows that calls it."""

from __future__ import annotations

from typing import Protocol

from powerbudget.lists.cells import Row
from powerbudget.lists.columns import Columns
from powerbudget.lists.questions import Questions
from powerbudget.lists.row_cells import RowCells
from powerbudget.lists.rows import ListedLoad
from powerbudget.lists.tables import ListTable


class RowReader(Protocol):
    """A reader of the rows of a signal list."""

    table: ListTable
    asked: Questions
    name: str
    cells: RowCells

    def struck_figures(self, index: int, row: Row) -> bool:
        """Return whether a quantity, type or power of a row is struck out."""


class LoadReader(Protocol):
    """A reader of the rows of an equipment schedule."""

    table: ListTable
    columns: Columns
    asked: Questions
    name: str
    comma: bool | None
    legend: dict[str, str]
    modes: dict[int, str]

    def row_volts(self, row: Row) -> float:
        """Return the voltage of a row, else of its rail or title [V]."""

    def every_h(self, row: Row) -> float | None:
        """Return the hours after which the on-time of a row comes again, or None [h]."""

    def share(self, load: ListedLoad, row: Row) -> float:
        """Return the share of the day that a load is on [fraction]."""

    def rest_share(self, load: ListedLoad, row: Row) -> float | None:
        """Return the share of the day by the times that no mode owns, or None [fraction]."""
