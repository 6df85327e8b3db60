"""What only the program can find: verdicts, months, designs, inputs and sources."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.report.book.sheets import FILLS, FOUND, LEGEND, Book, Sheet
from powerbudget.report.page.blocks import Section, Table

if TYPE_CHECKING:
    from powerbudget.report.page.package import Package


def write_summary(book: Book, package: Package, made: str) -> None:
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
    from powerbudget.report.page.provenance import program_version

    sheet = book.sheet("Summary", (44, 18, 18, 14, 14, 50), package.tables.site.name)
    site = package.tables.site
    place = (
        f"{site.latitude_deg:g} deg, {site.longitude_deg:g} deg, {site.elevation_m:g} m"
    )
    for label, text in (
        ("place", place), ("weather", package.record.source), ("made", made),
        ("program", f"powerbudget {program_version()}"),
    ):  # fmt: skip
        sheet.write(label)
        sheet.write(text, 1, form=book.form())
        sheet.down()
    sheet.down()
    sheet.heads("criterion", "found", "needed", "unit", "verdict")
    for v in package.verdicts:
        sheet.write(v.name)
        sheet.write(v.found, 1, FOUND)
        sheet.write(v.needed, 2, FOUND)
        sheet.write(v.unit, 3)
        sheet.write("met" if v.met else "NOT MET", 4, form=book.form(bold=True))
        sheet.down()
    sheet.down()
    _legend(sheet)
    _figures(sheet, package)


def _legend(sheet: Sheet) -> None:
    sheet.heads("colour", "meaning")
    for kind, text in LEGEND:
        colour = {"bg_color": FILLS[kind]} if kind in FILLS else {}
        sheet.write(kind, 0, form=sheet.book.form(border=1, **colour))
        sheet.write(text, 1, form=sheet.book.form())
        sheet.down()
    sheet.down()


def _figures(sheet: Sheet, package: Package) -> None:
    run, days = package.run, package.days
    sheet.heads("found by the simulation", "value", "unit")
    for label, value, unit in (
        ("availability", run.availability_frac, "fraction"),
        ("hours without loads", run.hours_off_by_tier[0], "h"),
        ("lowest state of charge", run.lowest_soc_frac, "fraction"),
        (f"autonomy, design, at {days.design_degc:g} degC", days.design_days, "d"),
        ("autonomy, record", days.record_days, "d"),
        ("array as written", run.strings * package.tables.array.series
         * package.problem.array.module.power_w, "W"),
        ("battery as written", run.bank.nameplate_ah, "Ah"),
    ):  # fmt: skip
        sheet.write(label)
        sheet.write(value, 1, FOUND)
        sheet.write(unit, 2)
        sheet.down()
    sheet.down()
    for finding in package.findings:
        sheet.write(f"{finding.severity}: {finding.text}", 0, form=sheet.book.form())
        sheet.down()


SHEETS = {
    "run-months": "Months", "outages": "Outages", "generators-output": "Generators",
    "generators-care": "Fuel and visits", "generator-months": "Who carries the load",
    "months": "Sky", "spells": "Dark spells",
    "frontier": "Designs", "circuit-checks": "Checks", "claims-judged": "Claims",
    "options-table": "Options", "prices": "Prices", "turns": "Turns",
    "inputs": "All inputs", "sources": "Sources", "ledger": "Energy",
}  # fmt: skip
"""Tables of the page that become sheets, by key."""


def write_tables(book: Book, sections: tuple[Section, ...]) -> None:
    """Write the page's tables, one a sheet, as figures.

    Parameters
    ----------
    book
        Where to.
    sections
        Of the page.
    """
    for section in sections:
        for block in section.blocks:
            if isinstance(block, Table) and block.key in SHEETS:
                _table(book, block, SHEETS[block.key])


def _table(book: Book, table: Table, name: str) -> None:
    widths = tuple(14.0 if c.number else 30.0 for c in table.columns)
    sheet = book.sheet(name, widths, table.caption)
    heads = [f"{c.head}, {c.unit}" if c.unit else c.head for c in table.columns]
    sheet.keep(sheet.heads(*heads))
    for row in table.rows:
        for column, (cell, head) in enumerate(
            zip(row.cells, table.columns, strict=True)
        ):
            number = cell.sort if head.number and isinstance(cell.sort, float) else None
            if number is not None and abs(number) != float("inf"):
                percents = head.unit.startswith("%")
                sheet.write(100 * number if percents else number, column, FOUND)
            else:
                sheet.write(cell.text, column)
        sheet.down()
    if table.note:
        sheet.down()
        sheet.write(table.note, form=book.form())
