"""What became of every row of the client's lists, as a section."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.quantities import count
from powerbudget.report.document.blocks import (
    Column,
    Row,
    Section,
    Table,
    rows_of,
    whole,
    word,
)

if TYPE_CHECKING:
    from powerbudget.lists.mapping import SheetAccount
    from powerbudget.report.document.package import Package
    from powerbudget.report.sections.sources import Sources

UNREMARKABLE = ("read", "ignored")
"""Accounts whose row numbers say nothing that the list itself does not."""


def lists_section(package: Package, _sources: Sources) -> Section | None:
    """Return the rows of the lists that a site was imported from, by account.

    Parameters
    ----------
    package
        All results; without a mapping beside the site file there is no section.
    """
    from powerbudget.lists.mapping import mapping_path, read_accounts, usual_path

    site = package.design.path
    there = site and usual_path(site).is_file()
    found = read_accounts(mapping_path(site)) if site and there else ()
    if not found:
        return None
    tables = [_counts(found), _where(found)]
    return Section(
        "lists",
        "Rows of the client's lists",
        "Lists",
        _lead(found),
        tuple(table for table in tables if table.rows),
    )


def _lead(found: tuple[SheetAccount, ...]) -> str:
    rows = sum(sum(sheet.counts.values()) for sheet in found)
    read, asked = (sum(s.counts[name] for s in found) for name in ("read", "asked"))
    return (
        f"{read:,} of {count(rows, 'row')} on {count(len(found), 'sheet')} became points or "
        f"loads; {asked:,} need an answer, listed as questions in the site file."
    )


def _counts(found: tuple[SheetAccount, ...]) -> Table:
    heads = ("sheet", "used as", "rows", *found[0].counts)
    columns = [Column(head, number=k > 1) for k, head in enumerate(heads)]
    rows = [
        [
            word(sheet.sheet),
            word(sheet.use),
            whole(sum(sheet.counts.values())),
            *(whole(count) for count in sheet.counts.values()),
        ]
        for sheet in found
    ]
    note = "The accounts of a sheet add up to its rows."
    return Table("list-rows", "Rows by account", tuple(columns), rows_of(rows), note)


def _where(found: tuple[SheetAccount, ...]) -> Table:
    columns = (Column("sheet"), Column("account"), Column("row numbers"))
    rows: tuple[Row, ...] = rows_of(
        [
            [word(sheet.sheet), word(name), word(where)]
            for sheet in found
            for name, where in sheet.where.items()
            if where and name not in UNREMARKABLE
        ]
    )
    return Table("list-row-numbers", "Rows with an open question", columns,
                 rows)  # fmt: skip
