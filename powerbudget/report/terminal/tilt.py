"""The search for an orientation as text."""

from __future__ import annotations

from powerbudget.charging.controller import describe_orientation
from powerbudget.report.terminal.text import facts, percent, table
from powerbudget.sizing.tilt import TiltRow, TiltSearch


def _words(row: TiltRow) -> str:
    return describe_orientation(row.tilt_deg, row.azimuth_deg)


def tilt_page(found: TiltSearch) -> str:
    """Return pick, comparison and every plane tried as text."""
    pick, year, written = found.pick, found.for_year, found.as_written
    most = (
        f"{_words(year)}: {year.year_kwh_m2_day:.2f} kWh/m2 a day, but "
        f"{percent(1 - year.worst_share, 0)} less for the load when it counts"
    )
    short = percent(1 - written.worst_share, 0)
    light = f"{pick.worst_kwh_m2_day:.2f} kWh/m2 a day from {pick.worst_start}"
    head = facts(
        f"How the panel should stand, by its worst {found.window_days} days",
        [
            ("pick", f"{_words(pick)}: {light}"),
            ("most in a year", most),
            ("site file", f"{_words(written)}: {short} less than the best"),
        ],
    )
    rows = [
        [f"{row.tilt_deg:g}", f"{row.azimuth_deg:g}", f"{row.worst_kwh_m2_day:.2f}",
         row.worst_start, percent(row.worst_share, 0), f"{row.year_kwh_m2_day:.2f}",
         "pick" if (row.tilt_deg, row.azimuth_deg) == (pick.tilt_deg, pick.azimuth_deg)
         else ""]
        for row in found.rows
    ]  # fmt: skip
    heads = ["tilt deg", "azimuth deg", "worst weeks kWh/m2/day", "from",
             "of the best", "mean of the year", ""]  # fmt: skip
    return head + "\n" + table(
        "Light behind the glass (of planes within 1 % the steepest is taken)", heads,
        rows, left=0,
    )  # fmt: skip
