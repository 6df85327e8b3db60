"""Markdown and DOCX: the blocks of a document as plain paragraphs, tables and pictures."""

from __future__ import annotations

import io
import re
from importlib import import_module
from typing import TYPE_CHECKING, Any

from powerbudget.errors import Fault, InputError
from powerbudget.report.document.blocks import (
    Banner,
    Block,
    Facts,
    Headlines,
    Panels,
    Picture,
    Prose,
    Remarks,
    Section,
    Table,
)
from powerbudget.report.document.words import SEVERITY, gravest_first

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from pathlib import Path

Piece = tuple[Any, ...]
"""``("heading", depth, text)``, ``("text", text)``, ``("facts", pairs)``,
``("table", heads, rows)`` or ``("picture", picture)``."""
WIDE = 7
"""Columns from which a table is set smaller."""
_MARKS = re.compile(r"([\\`*_{}\[\]<>#|])")


def pieces(sections: Iterable[Section]) -> Iterator[Piece]:
    """Yield what a document says, piece by piece, from top to bottom.

    Parameters
    ----------
    sections
        In order, with their numbers.
    """
    for section in sections:
        yield "heading", 2, f"{section.number} {section.title}".strip()
        if section.lead:
            yield "text", section.lead
        for block in section.blocks:
            yield from _of_block(block)


def _of_block(block: Block) -> Iterator[Piece]:  # noqa: C901 - a case a kind of block
    match block:
        case Banner():
            yield "text", f"{block.text} {block.more}"
        case Prose():
            yield from _titled(block.title)
            yield "text", block.text
        case Facts():
            yield from _titled(block.title)
            yield "facts", [(row.label, row.text) for row in block.rows]
        case Remarks():
            yield from _titled(block.title)
            said = gravest_first(block.items)
            yield "facts", [(SEVERITY[one.severity], one.text) for one in said]
        case Headlines():
            rows = [[h.label, f"{h.value} {h.unit}".strip(), h.condition, h.formula]
                    for h in block.items]  # fmt: skip
            yield "table", ["figure", "value", "condition", "how found"], rows
        case Table():
            yield from _titled(block.caption)
            heads = [f"{c.head}, {c.unit}" if c.unit else c.head for c in block.columns]
            yield "table", heads, [[c.text for c in row.cells] for row in block.rows]
            if block.note:
                yield "text", block.note
        case Picture():
            yield "picture", block
        case Panels():
            for panel in block.items:
                yield from _of_block(Facts(panel.facts, panel.title))
                yield from _of_block(panel.table)


def _titled(title: str) -> Iterator[Piece]:
    if title:
        yield "heading", 3, title


def markdown(name: str, head: Sequence[tuple[str, str]], found: Iterable[Piece]) -> str:
    """Return a document as Markdown; a picture is told by its words.

    Parameters
    ----------
    name
        Of the site [text].
    head
        Title block: labels and texts.
    found
        Pieces of the document.
    """
    parts = [f"# {_plain(name)}", _bullets(head)]
    for kind, *what in found:
        match kind:
            case "heading":
                parts.append(f"{'#' * what[0]} {_plain(what[1])}")
            case "text":
                parts.append(_plain(what[0]))
            case "facts":
                parts.append(_bullets(what[0]))
            case "table":
                parts.append(_grid(*what))
            case _:
                parts.append(f"*Picture: {_plain(what[0].alt)}*")
    return "\n\n".join(filter(None, parts)) + "\n"


def _plain(text: str) -> str:
    return _MARKS.sub(r"\\\1", " ".join(text.split()))


def _bullets(pairs: Iterable[tuple[str, str]]) -> str:
    return "\n".join(
        f"- **{_plain(label)}**: {_plain(text)}" if label else f"- {_plain(text)}"
        for label, text in pairs
    )


def _grid(heads: list[str], rows: list[list[str]]) -> str:
    lines = [heads, ["---"] * len(heads), *rows]
    return "\n".join(
        "| "
        + " | ".join(cell if cell == "---" else _plain(cell) for cell in line)
        + " |"
        for line in lines
    )


def check_docx() -> Any:
    """Return the library that writes DOCX.

    Raises
    ------
    InputError
        Where it is not installed.
    """
    try:
        return import_module("docx")
    except ImportError:
        advice = "pip install 'powerbudget[docx]', or write .md or .html"
        raise InputError(
            Fault(
                "-o",
                "a DOCX cannot be made here: python-docx is missing",
                advice=advice,
            )
        ) from None


def write_docx(
    path: Path, name: str, head: Sequence[tuple[str, str]], found: Iterable[Piece]
) -> None:
    """Write a document as DOCX, pictures included.

    Parameters
    ----------
    path
        To write.
    name, head, found
        As for `markdown`.
    """
    document = check_docx().Document()
    margin = import_module("docx.shared").Cm(1.8)
    page = document.sections[0]
    page.left_margin = page.right_margin = margin
    document.add_heading(name, 0)
    _write_facts(document, head)
    for kind, *what in found:
        match kind:
            case "heading":
                document.add_heading(what[1], what[0] - 1)
            case "text":
                document.add_paragraph(what[0])
            case "facts":
                _write_facts(document, what[0])
            case "table":
                _write_table(document, *what)
            case _:
                width = page.page_width - page.left_margin - page.right_margin
                document.add_picture(_png(what[0]), width=width)
    document.save(path)


def _write_facts(document: Any, pairs: Iterable[tuple[str, str]]) -> None:
    for label, text in pairs:
        line = document.add_paragraph(style="List Bullet")
        if label:
            line.add_run(f"{label}: ").bold = True
        line.add_run(text)


def _write_table(document: Any, heads: list[str], rows: list[list[str]]) -> None:
    size = import_module("docx.shared").Pt(6.5 if len(heads) > WIDE else 8)
    table = document.add_table(rows=0, cols=len(heads), style="Table Grid")
    for k, row in enumerate([heads, *rows]):
        for cell, text in zip(table.add_row().cells, row, strict=True):
            run = cell.paragraphs[0].add_run(text)
            run.font.size, run.bold = size, k == 0


def _png(block: Picture) -> io.BytesIO:
    stream = io.BytesIO()
    block.figure().savefig(stream, format="png", dpi=150)
    stream.seek(0)
    return stream
