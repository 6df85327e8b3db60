"""One part of the library on a page: figures, readings, and how they spread."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from powerbudget.quantities import plain
from powerbudget.report.render.terminal import facts, table
from powerbudget.site.readings import LOOSE, counted

if TYPE_CHECKING:
    from collections.abc import Mapping

    from powerbudget.site.readings import PartReading

SPREAD = 40
"""Letters from nothing to the highest reading [count]."""


def part_page(part: Any, row: Mapping[str, Any]) -> str:
    """Return a part with its readings [text].

    Parameters
    ----------
    part
        Of the library or of a user.
    row
        Its line of the list: name, kind, figures, input, status.
    """
    pairs = [(key, str(value)) for key, value in row.items() if value]
    climate = part.temperature
    if climate:
        pairs.append(("temperature", f"{climate.min:g} to {climate.max:g} °C"))
    pairs.append(("note", part.note or "none"))
    if not part.reading:
        pairs.insert(-1, ("source", part.source))
    text = facts(part.title, pairs + [("request", a) for a in asked(part)])
    if part.reading:
        text += "\n" + "".join(f"{line}\n" for line in _pictures(part))
        text += "\n" + table("Readings", _HEADS, map(_reading, part.reading))
    return text


_HEADS = ("figure", "value", "condition", "document, year, page", "grade")


def asked(part: Any) -> list[str]:
    """Return what to ask the maker's sheet for, and where it goes [text].

    Parameters
    ----------
    part
        Of the library or of a user.
    """
    names = ", ".join(part.asks)
    field = part.asks[0] if part.asks else ""
    return [
        f"the manufacturer's data sheet: {names}. In your own parts file: "
        f'[[part.reading]] figure = "{field}", value, document, page'
    ] * bool(names)


def _pictures(part: Any) -> list[str]:
    """Return a line for each figure that has readings: where each one lies."""
    figures = dict.fromkeys(one.figure for one in part.reading)
    wide = max(map(len, figures))
    lines = [f"{'':{wide}}  o a reading, O the typical figure, . not counted"]
    for name in figures:
        held, unit = getattr(part, name), "A" if name == "current" else "W"
        lines.append(
            f"{name:{wide}}  0 |{_picture(part.reading, name, held.typical)}| "
            f"{_amount(held.high, unit)}  typical {_amount(held.typical, unit)}, "
            f"n = {part.documents(name)}"
        )
    return lines


def _picture(readings: tuple[PartReading, ...], figure: str, typical: float) -> str:
    """Return the readings of a figure along a line from nothing to the highest."""
    used = counted(readings, figure)
    marks = [(x, "o" if one in used else ".") for one in readings
             if one.figure == figure for x in one.amounts]  # fmt: skip
    most = max(x for x, mark in marks if mark == "o")
    line = ["-"] * (SPREAD + 1)
    for x, mark in [*sorted(marks, key=lambda pair: pair[1]), (typical, "O")]:
        line[round(SPREAD * min(x / most, 1.0))] = mark
    return "".join(line)


def _reading(one: PartReading) -> tuple[str, ...]:
    at = f" at {one.supply_v:g} V" if one.supply_v else ""
    values = ", ".join(_amount(x, unit) for unit, x in one.draws) + at
    most = "at most; " * one.maximum
    where = "" if one.grade in LOOSE else one.citation
    return (one.figure, values, f"{most}{one.condition}".removesuffix("; "), where,
            one.grade)  # fmt: skip


def _amount(value: float, unit: str) -> str:
    """Return watts or amperes as documents print them, small ones in thousandths."""
    return (
        plain(value, 4, unit) if value >= 1 else f"{plain(1e3 * value, 4, 'm')}{unit}"
    )
