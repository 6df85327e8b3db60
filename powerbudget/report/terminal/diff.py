"""Two site files beside each other, as a page of text."""

from __future__ import annotations

from typing import Any

from powerbudget.loads.difference import LineChange
from powerbudget.report.terminal.text import facts, number, table


def diff_page(
    rows: list[LineChange], totals: dict[str, Any], names: tuple[str, str]
) -> str:
    """Return what changed between two sites as text.

    Parameters
    ----------
    rows
        Lines, the largest change first.
    totals
        Sums of both and their differences.
    names
        The two files [text].
    """
    cells = [
        [
            ("* " if row.hidden else "  ") + row.name[:38], row.change, row.why[:60],
            number(row.a_wh_per_day), number(row.b_wh_per_day),
            signed(row.delta_wh_per_day),
        ]
        for row in rows
    ]  # fmt: skip
    heads = ["load", "change", "what", "Wh/day before", "after", "change Wh/day"]
    title = f"From {names[0]} to {names[1]}   (* hidden load)"
    return "\n".join([table(title, heads, cells, left=3), _sums(totals)])


def signed(value: float) -> str:
    """Return a difference with its sign, to three figures [text].

    Examples
    --------
    >>> signed(3.0), signed(-0.25), signed(0.0)
    ('+3.00', '-0.250', '0')
    """
    return ("+" if value > 0 else "") + number(value)


def _sums(totals: dict[str, Any]) -> str:
    pairs = []
    for label, key, delta, unit in (
        ("energy", "wh_per_day", "delta_wh_per_day", "Wh/day"),
        ("maximum", "maximum_w", "delta_maximum_w", "W"),
        ("peak", "peak_a", "delta_peak_a", "A"),
        ("autonomy, design", "autonomy_design_days", "delta_autonomy_days", "d"),
        ("autonomy, record", "autonomy_record_days", "delta_autonomy_record_days", "d"),
    ):
        a, b = totals[key]
        pairs.append(
            (label, f"{signed(totals[delta])} {unit}: {number(a)} to {number(b)}")
        )
    return facts("All together", pairs)
