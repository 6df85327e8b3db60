"""What changed between two budgets, line by line."""

from __future__ import annotations

from dataclasses import dataclass

from powerbudget.loads.budget import Budget
from powerbudget.loads.lines import Line

SAME_WH = 1e-6


@dataclass(frozen=True)
class LineChange:
    """One line in two budgets.

    Parameters
    ----------
    name, change
        The line, and ``added``, ``removed``, ``changed`` or ``same`` [text].
    a_w, b_w
        Typical draw while on in each, 0 where it is not there [W].
    a_wh_per_day, b_wh_per_day, delta_wh_per_day
        Energy in each, and the second less the first [Wh/day].
    hidden
        True for converters, wiring, regulator and leakage.
    why
        Which figures differ [text].
    """

    name: str
    change: str
    a_w: float
    b_w: float
    a_wh_per_day: float
    b_wh_per_day: float
    delta_wh_per_day: float
    hidden: bool
    why: str


def changes(a: Budget, b: Budget) -> list[LineChange]:
    """Return every line of two budgets beside each other, by name.

    Parameters
    ----------
    a, b
        The budgets, each in its own heaviest month.

    Returns
    -------
    list of LineChange
        The largest change first; the changes add up to that of the whole.
    """
    before = {line.name: line for line in a.lines}
    after = {line.name: line for line in b.lines}
    names = [*before, *(name for name in after if name not in before)]
    rows = [_change(name, before.get(name), after.get(name)) for name in names]
    return sorted(rows, key=lambda row: -abs(row.delta_wh_per_day))


def _change(name: str, a: Line | None, b: Line | None) -> LineChange:
    wh_a = a.wh_per_day if a else 0.0
    wh_b = b.wh_per_day if b else 0.0
    line = b or a
    word = "added" if a is None else "removed" if b is None else "changed"
    why = _why(a, b) if a and b else ""
    if a and b and abs(wh_b - wh_a) < SAME_WH and not why:
        word = "same"
    return LineChange(
        name,
        word,
        a.typical_w if a else 0.0,
        b.typical_w if b else 0.0,
        wh_a,
        wh_b,
        wh_b - wh_a,
        bool(line and line.hidden),
        why,
    )


def _why(a: Line, b: Line) -> str:
    """Return which figures of a line differ, with both values."""
    found = [
        f"{word} {_show(getattr(a, key))} to {_show(getattr(b, key))}"
        for key, word in (
            ("quantity", "qty"),
            ("typical_w", "typical W"),
            ("maximum_w", "maximum W"),
            ("duty_frac", "on"),
            ("supply", "fed by"),
            ("part", "part"),
            ("priority", "priority"),
        )
        if _differ(getattr(a, key), getattr(b, key))
    ]
    return ", ".join(found)


def _differ(x: object, y: object) -> bool:
    if isinstance(x, float) and isinstance(y, float):
        return abs(x - y) > 1e-9 * max(1.0, abs(x), abs(y))
    return x != y


def _show(value: object) -> str:
    return f"{value:.4g}" if isinstance(value, float) else str(value or "none")
