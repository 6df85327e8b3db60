"""What changed between two site files, as a section."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from powerbudget.report.document.blocks import (
    Cell,
    Column,
    Fact,
    Facts,
    Section,
    Table,
    figure,
    rows_of,
    word,
)
from powerbudget.report.document.words import number

if TYPE_CHECKING:
    from powerbudget.loads.difference import LineChange


def difference_section(
    rows: list[LineChange], totals: dict[str, Any], names: tuple[str, str]
) -> Section:
    """Return each load that changed, and what that does to the sums.

    Parameters
    ----------
    rows
        Loads, the largest change first.
    totals
        Sums of both files, and their differences.
    names
        The two files [text].
    """
    cells = [
        (word(("parasitic: " if row.hidden else "") + row.name), word(row.change),
         word(row.why), figure(row.a_wh_per_day), figure(row.b_wh_per_day),
         Cell(signed(row.delta_wh_per_day), row.delta_wh_per_day))
        for row in rows
    ]  # fmt: skip
    columns = (
        Column("load"), Column("change"), Column("what"), Column("before", "Wh/day", True),
        Column("after", "Wh/day", True), Column("change", "Wh/day", True),
    )  # fmt: skip
    table = Table("changes", "Loads", columns, rows_of(cells))
    return Section("difference", f"From {names[0]} to {names[1]}", "Difference", "",
                   (table, _sums(totals)))  # fmt: skip


def signed(value: float) -> str:
    """Return a difference with its sign, to three figures [text].

    Examples
    --------
    >>> signed(3.0), signed(-0.25), signed(0.0)
    ('+3.00', '-0.250', '0')
    """
    return ("+" if value > 0 else "") + number(value)


SUMS = (
    ("energy", "wh_per_day", "delta_wh_per_day", "Wh/day"),
    ("maximum running load", "maximum_w", "delta_maximum_w", "W"),
    ("peak load", "peak_a", "delta_peak_a", "A"),
    ("autonomy", "autonomy_design_days", "delta_autonomy_days", "d"),
    ("minimum remaining autonomy", "autonomy_record_days", "delta_autonomy_record_days", "d"),
)  # fmt: skip


def _sums(totals: dict[str, Any]) -> Facts:
    return Facts(
        tuple(
            Fact(label, f"{signed(totals[delta])} {unit}: {number(totals[key][0])} to "
                 f"{number(totals[key][1])}")
            for label, key, delta, unit in SUMS
        ),
        "Total",
    )  # fmt: skip
