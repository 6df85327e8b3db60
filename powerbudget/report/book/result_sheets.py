"""What only the program can find: verdicts, months, designs, inputs and sources."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

from powerbudget.limits import MARGIN_NOTE
from powerbudget.report.book.sheets import FILLS, FOUND, LEGEND, BookSheet, Workbook
from powerbudget.report.document.blocks import Cell, Column, Section, Table
from powerbudget.report.document.words import SEVERITY, coordinates

if TYPE_CHECKING:
    from powerbudget.report.document.package import Package


def write_summary(book: Workbook, package: Package, made: str) -> None:
    """Write site, verdicts and the legend of colours.

    Parameters
    ----------
    book
        Where to.
    package
        All results.
    made
        When it was made [text].
    """
    from powerbudget.version import __version__

    sheet = book.sheet("Summary", (44, 18, 18, 14, 14, 50), package.tables.site.name)
    site = package.tables.site
    place = coordinates(site.latitude_deg, site.longitude_deg, site.elevation_m)
    for label, text in (
        ("location", place), ("weather", package.record.source), ("made", made),
        ("program", f"powerbudget {__version__}"),
    ):  # fmt: skip
        sheet.write(label)
        sheet.write(text, 1, form=book.form())
        sheet.down()
    sheet.down()
    sheet.heads("criterion", "found", "needed", "unit", "verdict", right=(1, 2))
    for v in package.verdicts:
        sheet.write(v.name)
        sheet.write(v.found, 1, FOUND)
        sheet.write(v.needed, 2, FOUND)
        sheet.write(v.unit, 3)
        sheet.write("PASS" if v.met else "FAIL", 4, form=book.form(bold=True))
        sheet.down()
    sheet.down()
    _legend(sheet)
    _figures(sheet, package)


def _legend(sheet: BookSheet) -> None:
    sheet.heads("color", "meaning")
    for kind, text in LEGEND:
        colour = {"bg_color": FILLS[kind]} if kind in FILLS else {}
        sheet.write(kind, 0, form=sheet.book.form(border=1, **colour))
        sheet.write(text, 1, form=sheet.book.form())
        sheet.down()
    sheet.note(CHANGE)
    sheet.down()


def _figures(sheet: BookSheet, package: Package) -> None:
    run, days = package.run, package.days
    sheet.heads("simulation result", "value", "unit", right=(1,))
    for label, value, unit in (
        ("availability", run.availability_frac, "fraction"),
        ("outage hours", run.hours_off_by_tier[0], "h"),
        ("minimum SOC", run.lowest_soc_frac, "fraction"),
        (f"autonomy at {days.design_degc:g} °C", days.design_days, "d"),
        ("minimum remaining autonomy", days.record_days, "d"),
        ("array as specified", run.strings * package.tables.array.series
         * package.problem.array.module.power_w, "W"),
        ("battery as specified", run.bank.nameplate_ah, "Ah"),
    ):  # fmt: skip
        sheet.write(label)
        sheet.write(value, 1, FOUND)
        sheet.write(unit, 2)
        sheet.down()
    sheet.down()
    for finding in package.findings:
        sheet.note(f"{SEVERITY[finding.severity]}: {finding.text}")


CHANGE = (
    "Change input cells on Inputs, Loads, By month, and Peak; Worksheet is "
    "recalculated. Results, simulation results, and all other sheets do not "
    "change. To update them, change the site file and write the workbook "
    "again."
)
SHEETS = {
    "run-months": "Months", "outages": "Outages", "generators-output": "Generators",
    "generators-care": "Fuel and visits", "generator-months": "Share of supply",
    "months": "Solar resource", "spells": "Deficit periods",
    "frontier": "Sizes", "circuit-checks": "Checks", "claims-judged": "Claims",
    "options-table": "Alternatives", "prices": "Prices", "turns": "Break-even",
    "inputs": "All inputs", "sources": "Sources", "ledger": "Energy",
}  # fmt: skip
"""Tables of the page that become sheets, by key."""


def write_tables(book: Workbook, sections: tuple[Section, ...]) -> None:
    """Write the page's tables, one a sheet, as figures."""
    for section in sections:
        for block in section.blocks:
            if isinstance(block, Table) and block.key in SHEETS:
                _table(book, block, SHEETS[block.key])


def _table(book: Workbook, table: Table, name: str) -> None:
    sheet = book.sheet(name, _widths(table), table.caption)
    heads = [f"{c.head}, {c.unit}" if c.unit else c.head for c in table.columns]
    numbers = [k for k, column in enumerate(table.columns) if column.number]
    sheet.keep(sheet.heads(*heads, right=numbers))
    forms = [_whole(book, table, column) for column in range(len(heads))]
    as_typed = book.form(bg_color=FILLS[FOUND])
    for row in table.rows:
        for column, (cell, head) in enumerate(
            zip(row.cells, table.columns, strict=True)
        ):
            value = _value(cell, head, name)
            if isinstance(value, float):
                form = forms[column] if head.number else as_typed
                sheet.write(value, column, FOUND, form)
            else:
                sheet.write(value, column)
        sheet.down()
    said = f"{MARGIN_NOTE}." if "margin" in heads else ""
    for note in filter(None, (table.note, said)):
        sheet.down()
        sheet.note(note)


def _value(cell: Cell, head: Column, name: str) -> float | str:
    """Return what a cell holds: a number where it is one."""
    if head.number and isinstance(cell.sort, float) and math.isfinite(cell.sort):
        return 100 * cell.sort if head.unit.startswith("%") else cell.sort
    if (
        name == SHEETS["inputs"]
        and head.head == "value"
        and _NUMBER.fullmatch(cell.text)
    ):
        return float(cell.text)
    return cell.text


_NUMBER = re.compile(r"-?\d+(\.\d+)?(e-?\d+)?")


def _whole(book: Workbook, table: Table, column: int) -> Any:
    """Return the format of a column that counts, None for another."""
    found = [row.cells[column].sort for row in table.rows]
    numbers = [value for value in found if isinstance(value, float)]
    finite = [value for value in numbers if math.isfinite(value)]
    counts = all(value == round(value) for value in finite)
    percents = table.columns[column].unit.startswith("%")
    return book.count(FOUND) if finite and counts and not percents else None


def _widths(table: Table) -> tuple[float, ...]:
    """Return the widths that the texts of a table ask for [characters]."""
    found = []
    for column, head in enumerate(table.columns):
        texts = [len(row.cells[column].text) for row in table.rows]
        title = f"{head.head}, {head.unit}" if head.unit else head.head
        word = max(map(len, title.split()))
        longest = max([*texts, min(len(title), 12), word], default=12)
        found.append(float(min(max(longest + 3, 10), 14 if head.number else 60)))
    return tuple(found)
