"""`powerbudget keys`: every key of the files, with unit, default, range, example."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from typing import TYPE_CHECKING, Annotated

import typer

from powerbudget.cli.common import (
    CsvOption,
    JsonOption,
    check_form,
    option,
    print_csv,
    print_json,
)

if TYPE_CHECKING:
    from powerbudget.site.keys import Key, KeyTable

LABEL = 24
"""Columns kept for the name of a key [count]."""
MOST = 12
"""Keys of a search on one screen [count]."""


def command(
    name: Annotated[
        str | None,
        typer.Argument(
            metavar="TABLE",
            help="Table or key, such as battery or battery.unit; without it, all tables.",
            show_default=False,
        ),
    ] = None,
    find: Annotated[
        str,
        option("--find", "Search names and descriptions; in quotes for several words.",
               "WORD"),
    ] = "",
    markdown: Annotated[
        bool, option("--markdown", "Print the whole reference as Markdown.")
    ] = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:  # fmt: skip
    """List keys with unit, default, range, example.

    The keys of site, claims and parts files, as the reader accepts them. `powerbudget
    new --schema` gives the same to an editor.
    """
    from powerbudget.manual import reference

    check_form(as_json, as_csv)
    if markdown:
        typer.echo(reference.markdown(), nl=False)
        return
    chosen = None if name is None else reference.lookup(name)
    tables = reference.every_table() if chosen is None else _tables(chosen)
    keys = _search(find, name) if find else [k for t in tables for k in t.keys]
    if as_json:
        print_json({"keys": keys})
    elif as_csv:
        print_csv([dataclasses.asdict(key) for key in keys])
    elif find:
        more = len(keys) - MOST
        end = f"\nand {more} more: add a word, or --csv\n" if more > 0 else ""
        page = _entries(keys[:MOST], full=True)
        typer.echo(f"KEYS   {len(keys)} with {find}\n\n{page}{end}", nl=False)
    elif isinstance(chosen, tuple):
        typer.echo("\n".join(map(_table_page, chosen)), nl=False)
    else:
        page = overview() if chosen is None else f"KEYS   {chosen.path}\n\n"
        typer.echo(page + (_entries([chosen]) if chosen else ""), nl=False)


def _tables(chosen: tuple[KeyTable, ...] | Key) -> tuple[KeyTable, ...]:
    if isinstance(chosen, tuple):
        return chosen
    from powerbudget.site.keys import KeyTable

    return (KeyTable(chosen.path, "", many=False, keys=(chosen,)),)


def _search(find: str, name: str | None) -> list[Key]:
    """Return what a search finds, or raise where it finds nothing."""
    from powerbudget.errors import Fault, InputError, nearest_names
    from powerbudget.manual import reference

    found = [
        key
        for key in reference.find(find)
        if key.path.startswith((name or "").strip("[]"))
    ]
    if not found:
        words = {k.path.split(".")[-1] for t in reference.every_table() for k in t.keys}
        near = " or ".join(nearest_names(find, sorted(words)))
        problem, advice = "is in no key", f"did you mean {near}?" if near else ""
        raise InputError(Fault("--find", problem, find, "one word or several", advice))
    return found


def overview() -> str:
    """Return the tables of every file, with the number of keys in each [text]."""
    from powerbudget.manual import reference
    from powerbudget.report.render.terminal import table

    rows, counts = [], []
    for file in reference.reference():
        counts.append(f"{file.count} in the {file.title.lower()}")
        for found in file.tables:
            if "." not in found.path:
                count = sum(
                    len(t.keys)
                    for t in file.tables
                    if t.path.split(".")[0] == found.path and not t.same_as
                )
                rows.append((found.head, str(count), found.description))
    title = f"KEYS   {', '.join(counts)}\n"
    end = "\nMore: powerbudget keys TABLE | TABLE.KEY | --find WORD | --markdown --json --csv\n"
    return table(title, ["table", "keys", "description"], rows) + end


def _table_page(found: KeyTable) -> str:
    from powerbudget.manual.reference import within
    from powerbudget.report.render.terminal import hanging

    head = "\n".join(hanging(f"KEYS   {found.head}   ", found.description))
    same = f"       Keys as in [{found.same_as}].\n" if found.same_as else ""
    inner = ", ".join(t.path for t in within(found.path))
    more = "\n".join(["", *hanging("More tables: ", inner), ""]) if inner else ""
    return f"{head}\n{same}\n{_entries(found.keys)}{more}"


def _entries(keys: Iterable[Key], *, full: bool = False) -> str:
    """Return each key in two lines or three: what it is, then its figures [text]."""
    from powerbudget.report.render.terminal import hanging

    lines: list[str] = []
    for key in keys:
        name = key.path if full else key.path.split(".")[-1]
        lines += [name] if len(name) > LABEL - 2 else []
        lines += hanging(
            f"{name if len(name) <= LABEL - 2 else '':{LABEL}}", key.description
        )
        figures = f"unit: {key.unit}; default: {key.default}; range: {key.range}"
        lines += hanging(" " * LABEL, figures)
        lines += hanging(
            " " * LABEL, f"example: {key.path.split('.')[-1]} = {key.example}"
        )
    return "".join(f"{line.rstrip()}\n" for line in lines)
