"""First screen of `loads`: the largest loads, and the three sums."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.quantities import count, plain, show
from powerbudget.report.document.blocks import (
    Column,
    Table,
    figure,
    rows_of,
    share,
    whole,
    word,
)
from powerbudget.report.document.words import percent
from powerbudget.report.render.terminal import table_text
from powerbudget.report.screens.layout import Screen, first_line, wrap
from powerbudget.report.sections.loads import battery_heater, season

if TYPE_CHECKING:
    from powerbudget.loads.budget import Budget
    from powerbudget.loads.lines import Line

OPTIONS = "--basis --unverified --findings --full | --plot FILE --json --csv"
LABEL, MOST_ROWS = 22, 16


def loads_screen(budget: Budget, name: str, heater_w: float = 0.0) -> Screen:
    """Return the power budget on one screen.

    Parameters
    ----------
    budget
        Of the site.
    name
        Of the site [text].
    heater_w
        As in `powerbudget.report.sections.loads.battery_heater` [W].
    """
    result = (
        f"{show(budget.wh_per_day, 'Wh/day')}, {show(budget.average_w, 'W')} average"
    )
    body = ["", *_largest(budget), "", *_sums(budget, heater_w)]
    return Screen(first_line("LOADS", name, result), body, budget.findings, OPTIONS)


def _largest(budget: Budget) -> list[str]:
    """Return the largest loads in as many lines as the screen has for them."""
    lines = sorted(budget.lines, key=lambda line: -line.wh_per_day)
    for shown in range(min(len(lines), MOST_ROWS), 0, -1):
        text = table_text(_table(budget, lines[:shown])).splitlines()
        text += _rest(lines[shown:])
        if len(text) <= MOST_ROWS:  # long names take two
            break
    return text


def _table(budget: Budget, lines: list[Line]) -> Table:
    rows = [
        (word(line.name + " *" * line.hidden), whole(line.quantity),
         figure(line.typical_w), figure(line.maximum_w), share(line.duty_frac, 1),
         figure(line.wh_per_day), share(line.wh_per_day / budget.wh_per_day),
         word(line.supply), word(line.status))
        for line in lines
    ]  # fmt: skip
    columns = (
        Column("load (* parasitic)"), Column("qty", "", True), Column("typical", "W", True),
        Column("maximum", "W", True), Column("duty cycle", "%", True),
        Column("energy", "Wh/day", True), Column("share", "%", True), Column("supply"),
        Column("data quality"),
    )  # fmt: skip
    return Table("", "", columns, rows_of(rows))


def _rest(lines: list[Line]) -> list[str]:
    rest = sum(line.wh_per_day for line in lines)
    more = count(len(lines), "more load")
    return [f"and {more}, {plain(rest, 3, 'Wh/day')}: --full"] if lines else []


def _sums(budget: Budget, heater_w: float) -> list[str]:
    low = show(budget.lowest_bus_v, "V")
    inrush = (
        f"with the inrush of {budget.inrush}" if budget.inrush else "no inrush current"
    )
    pairs = (
        ("Daily load", f"{show(budget.wh_per_day, 'Wh/day')} = "
         f"{show(budget.ah_per_day, 'Ah/day')} at {budget.nominal_v:g} V; includes "
         f"{percent(budget.contingency_frac, 0)} contingency; {season(budget)}"),
        *([("Battery heater", battery_heater(budget, heater_w))] if heater_w else []),
        ("Maximum running load", f"{show(budget.maximum_w, 'W')} "
         f"({show(budget.maximum_a, 'A')} at {low}): wire, fuses, converters"),
        ("Peak load", f"{show(budget.peak_w, 'W')} ({show(budget.peak_a, 'A')} at {low}): "
         f"{inrush}"),
        ("Parasitic load", f"{show(budget.hidden_w, 'W')} (converters, wiring, charge "
         "controller, leakage)"),
        ("Data quality", f"{percent(budget.doubtful_frac, 0)} of load energy from unverified "
         "or assumed figures"),
    )  # fmt: skip
    return [line for label, text in pairs for line in wrap(label, text, LABEL)]
