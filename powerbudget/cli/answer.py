"""How a verb answers: its first screen, or the parts of the document asked for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from powerbudget.checks.cautions import Caution
    from powerbudget.report.document.blocks import Section
    from powerbudget.report.screens.layout import Screen
    from powerbudget.report.sections.sources import Sources

    Build = Callable[[Sources], Sequence[Section | None]]


def flag(name: str, words: str, *aliases: str) -> Any:
    """Return a switch of a verb with its help, and older names of it."""
    return typer.Option(name, *aliases, help=words)


FullOption = Annotated[bool, flag("--full", "Print every section after the screen.")]
FindingsOption = Annotated[bool, flag("--findings", "Print all warnings and notes.")]
CautionsOption = Annotated[bool, flag("--cautions", "Print the cautions.")]
QuietOption = Annotated[
    bool, typer.Option("-q", "--quiet", help="Print the result line only.")
]


@dataclass(frozen=True)
class Asked:
    """What of a document is wanted.

    Parameters
    ----------
    parts
        Keys of sections and blocks [text].
    full, findings, cautions, quiet
        The options that every verb has.
    """

    parts: tuple[str, ...]
    full: bool = False
    findings: bool = False
    cautions: bool = False
    quiet: bool = False


def asked_parts(**wanted: bool) -> tuple[str, ...]:
    """Return the keys of what is wanted, a low line for each hyphen."""
    return tuple(key.replace("_", "-") for key, on in wanted.items() if on)


def answer(
    screen: Screen, asked: Asked, build: Build, cautions: Sequence[Caution]
) -> None:
    """Print the first screen, or its first line and the parts asked for.

    Parameters
    ----------
    screen
        Of the verb.
    asked
        What of it, and of the document, is wanted.
    build
        Builds the sections of the verb, when one of them is wanted.
    cautions
        Of the site.
    """
    from powerbudget.checks.cautions import caution_text
    from powerbudget.report.render.terminal import findings_text

    parts = asked.parts or asked.findings or asked.cautions
    first = f"{screen.first.splitlines()[0]}\n"
    pages = [first if parts or asked.quiet else screen.text]
    if asked.parts or asked.full:
        pages += _sections(build, asked)
    if asked.findings or asked.full:
        pages.append(findings_text(screen.findings))
    if asked.cautions or asked.full:
        pages.append(caution_text(tuple(cautions)))
    typer.echo("\n".join(pages[:1] if asked.quiet else pages), nl=False)


def _sections(build: Build, asked: Asked) -> list[str]:
    from powerbudget.report.render.terminal import (
        block_text,
        chosen_text,
        section_text,
    )
    from powerbudget.report.sections.sources import Sources

    sources = Sources("site file")
    sections = [section for section in build(sources) if section is not None]
    pages = (
        [section_text(section) for section in sections]
        if asked.full
        else chosen_text(sections, asked.parts)
    )
    named = sources.table()
    if named.rows and (asked.full or named.key in asked.parts):
        pages.append(block_text(named))
    return pages
