"""Autonomy by month, setting and age, and charge lost today, as text."""

from __future__ import annotations

import math

from powerbudget.report.terminal.text import moment, percent, table, wrapped
from powerbudget.site.fields import MONTHS
from powerbudget.sizing.autonomy_view import AutonomyView, Lost, Setting

DAMAGE = {"frost": "freezes", "deep discharge": "too deep", "none": "none in 400 d"}
"""What happens to a bank, in a word or two."""


def autonomy_page(view: AutonomyView, *, typical: bool = False) -> str:
    """Return autonomy from every side as a page [text].

    Parameters
    ----------
    view
        Of `powerbudget.sizing.autonomy_view.autonomy_view`.
    typical
        Whether the record is a typical year, whose year number means nothing.

    Returns
    -------
    str
        Months and ages, disconnect settings, charge lost at each month's worst.
    """
    return "\n".join(
        [_months(view), _settings(view), _lost(view, typical=typical),
         wrapped(view.findings)]
    )  # fmt: skip


def _months(view: AutonomyView) -> str:
    rows = []
    for m, name in enumerate(MONTHS):
        if math.isnan(view.by_month_days[m]):
            continue
        rows.append(
            [name, f"{view.by_month_days[m]:.1f}", f"{view.median_by_month_days[m]:.1f}",
             shortest_hour(view, m),
             *[f"{days[m]:.1f}" for days in view.by_age.values()]]
        )  # fmt: skip
    heads = ["month", "shortest d", "median d", "shortest from",
             *[f"{age} d" for age in view.by_age]]  # fmt: skip
    title = (
        "Autonomy by month: days without any charge, from the state that the run has "
        f"(a start every {view.every_h:g} h)"
    )
    return table(title, heads, rows)


def shortest_hour(view: AutonomyView, month: int) -> str:
    """Return the clock hour from which a month's autonomy is shortest [text].

    Parameters
    ----------
    view
        Of `powerbudget.sizing.autonomy_view.autonomy_view`.
    month
        0 for January [count].
    """
    hours = view.by_month_hour_days[month]
    known = [h for h in range(24) if not math.isnan(hours[h])]
    return f"{min(known, key=lambda h: hours[h]):02d}:00"


def _settings(view: AutonomyView) -> str:
    rows = [_setting(row) for row in view.settings]
    heads = ["disconnect", "", "bank", "health", "design d", "record d", "availability"]
    return table("Autonomy at three disconnect settings, new to end of life", heads, rows,
                 left=3)  # fmt: skip


def _setting(row: Setting) -> list[str]:
    return [
        row.disconnect,
        "site file" if row.own else "",
        row.age,
        percent(row.health_frac, 0),
        f"{row.design_days:.1f}",
        f"{row.record_days:.1f}",
        percent(row.availability_frac, 2),
    ]


def _lost(view: AutonomyView, *, typical: bool) -> str:
    rows = [
        [MONTHS[row.month - 1], moment(row.start, typical_year=typical),
         percent(row.state_frac, 0), _hours(row.to_disconnect_h),
         *_damage(row.to_damage_h, row.damage),
         *_damage(row.unprotected_h, row.unprotected_damage)]
        for row in view.lost
    ]  # fmt: skip
    heads = ["month", "charge lost", "charge", "h to disconnect", "h to damage", "bank",
             "h, no disconnect", "bank"]  # fmt: skip
    return table(
        "Charge lost at the worst moment of each month, and none after it", heads, rows,
        left=2,
    )  # fmt: skip


def _damage(hours: float, word: str) -> tuple[str, str]:
    return _hours(hours), DAMAGE[word]


def _hours(hours: float) -> str:
    return "-" if math.isinf(hours) else f"{hours:,.0f}"


def worst_lost(view: AutonomyView) -> Lost:
    """Return the month in which lost charge brings the disconnect soonest [Lost]."""
    return min(view.lost, key=lambda row: row.to_disconnect_h)
