"""The calculation package as a workbook: change an input and it reckons anew."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from powerbudget.report.document.package import Package


def write_workbook(
    package: Package, path: Path, made: str | None = None, paper: str = "a4"
) -> None:
    """Write load list and worksheet as live formulas, and the rest as figures.

    Parameters
    ----------
    package
        All results.
    path
        Where to [path].
    made
        When it was made; now, in UTC, when left out [text].
    paper
        ``a4`` or ``letter`` [text].
    """
    from powerbudget.report.book.input_sheet import write_inputs
    from powerbudget.report.book.load_sheet import write_loads
    from powerbudget.report.book.month_sheet import write_months
    from powerbudget.report.book.peak_sheet import write_peak
    from powerbudget.report.book.result_sheets import write_summary, write_tables
    from powerbudget.report.book.sheets import Workbook
    from powerbudget.report.book.work_sheet import write_worksheet
    from powerbudget.report.sections.registry import sections

    stamp = made or datetime.now(UTC).strftime("%Y-%m-%d %H:%M UTC")
    book = Workbook(str(path), paper)
    write_summary(book, package, stamp)
    write_inputs(book, package)
    cells = write_loads(book, package)
    if cells.by_month:
        write_months(book, package, cells)
    write_peak(book, package, cells)
    if package.sizing is not None:
        write_worksheet(book, package, cells)
    write_tables(book, sections(package, stamp))
    book.close()
