"""Blocks of a document as text for a terminal, 100 columns wide."""

from __future__ import annotations

import re
import textwrap
from typing import TYPE_CHECKING, Any

from powerbudget.report.document.blocks import (
    Block,
    Cell,
    Column,
    Fact,
    Facts,
    Headlines,
    Panels,
    Section,
    Table,
    rows_of,
)
from powerbudget.report.document.words import SEVERITY, gravest_first, held

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from powerbudget.errors import Finding

WIDTH = 100
GAP = "  "
MOST_HEAD = 2
"""Lines of a head, where there is room for a wider column [count]."""
LEAST = 18
"""Letters to which a column of words may be narrowed, longer words broken [count]."""


def section_text(section: Section) -> str:
    """Return a section as text, pictures left out [text]."""
    head = [section.title, "=" * len(section.title), *_fill(section.lead)]
    blocks = filter(None, map(block_text, section.blocks))
    return "\n".join(["\n".join(head) + "\n", *blocks])


def chosen_text(sections: Iterable[Section], keys: Sequence[str]) -> list[str]:
    """Return the sections and blocks that are named, each as text.

    Parameters
    ----------
    sections
        Of a document.
    keys
        Of sections and of blocks [text].
    """
    return [
        text
        for section in sections
        for text in (
            [section_text(section)]
            if section.key in keys
            else [
                block_text(b) for b in section.blocks if getattr(b, "key", "") in keys
            ]
        )
    ]


def block_text(block: Block) -> str:
    """Return a block as text; of a picture nothing [text].

    Returns
    -------
    str
        Lines of at most `WIDTH` letters, each ending in a newline.
    """
    draw: Callable[[Any], str] | None = DRAWN.get(block.kind)
    return draw(block) if draw else ""


def _headlines(block: Headlines) -> str:
    items = (
        Fact(i.label, f"{i.value} {i.unit}".strip() + f": {i.condition}")
        for i in block.items
    )
    return facts_text(Facts(tuple(items)))


def _panels(block: Panels) -> str:
    parts = [
        facts_text(Facts(p.facts, p.title)) + "\n" + table_text(p.table)
        for p in block.items
    ]
    return "\n".join(parts)


def table(title: str, heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return plain texts as a table: what are figures all the way down stand right.

    Parameters
    ----------
    title
        Line above the table [text].
    heads
        Column heads, units in them [text].
    rows
        Cells as text.

    Examples
    --------
    >>> print(table("Loads", ["load", "W"], [["radio", "1.2"]]), end="")
    Loads
    load     W
    -----  ---
    radio  1.2
    """
    cells = [[Cell(str(text)) for text in row] for row in rows]
    columns = tuple(
        Column(head, "", k > 0 and all(_numeric(row[k].text) for row in cells))
        for k, head in enumerate(heads)
    )
    return table_text(Table("", title, columns, rows_of(cells)))


def _numeric(text: str) -> bool:
    return text[:1] in "-+.0123456789"


def table_text(block: Table) -> str:
    """Return a table: words wrapped, figures to the right, too many columns in turn."""
    lines = [block.caption] if block.caption else []
    picked = any(row.mark == "picked" for row in block.rows)
    widths = _widths(block, WIDTH - (2 if picked else 0))
    for turn, columns in enumerate(_turns(widths, WIDTH - (2 if picked else 0))):
        lines += ["" for _ in range(turn > 0)]
        body = _grid(block, columns, widths)
        lines += _marked(body, block) if picked else [x for row in body for x in row]
    return _lines([*lines, *_fill(block.note, "  ")])


def row_lines(block: Table, room: int = WIDTH) -> list[list[str]]:
    """Return the lines of the heads without a rule, and of each row.

    Parameters
    ----------
    block
        A table whose columns all find room.
    room
        Letters across [count].
    """
    widths = _widths(block, room)
    heads, *rows = _grid(block, list(range(len(widths))), widths)
    return [heads[:-1], *rows]


def _marked(body: list[list[str]], block: Table) -> list[str]:
    """Return lines with a pointer before the first one of each picked row."""
    marks = ["", *[row.mark for row in block.rows]]
    return [
        ("> " if mark == "picked" and k == 0 else "  ") + line
        for mark, lines in zip(marks, body, strict=True)
        for k, line in enumerate(lines)
    ]


def _widths(block: Table, room: int) -> list[int]:
    """Return the letters of each column: words give way where there is no room."""
    full, least = [], []
    for k, column in enumerate(block.columns):
        texts = [held(row.cells[k].text) for row in block.rows]
        head = [*column.head.split(), column.unit]
        longest = max(1, *map(len, [*texts, *head]))
        words = max((len(w) for t in [*texts, *head] for w in t.split(" ")), default=0)
        full.append(max(longest, len(column.head) if not column.number else 0))
        least.append(longest if column.number else min(full[-1], max(words, 8), LEAST))
    spare = room - sum(full) - len(GAP) * (len(full) - 1)
    for k in sorted(range(len(full)), key=lambda k: full[k]):
        while (
            spare > 0 and len(textwrap.wrap(block.columns[k].head, full[k])) > MOST_HEAD
        ):
            full[k], spare = full[k] + 1, spare - 1
    while sum(full) + len(GAP) * (len(full) - 1) > room:
        wide = max(range(len(full)), key=lambda k: full[k] - least[k])
        if full[wide] <= least[wide]:
            break
        full[wide] -= 1
    return full


def _turns(widths: list[int], room: int) -> list[list[int]]:
    """Return which columns stand side by side, the first one always among them."""
    turns, used = [[0]], widths[0]
    for k in range(1, len(widths)):
        if used + len(GAP) + widths[k] > room and len(turns[-1]) > 1:
            turns.append([0])
            used = widths[0]
        turns[-1].append(k)
        used += len(GAP) + widths[k]
    return turns


def _grid(block: Table, columns: list[int], widths: list[int]) -> list[list[str]]:
    """Return the lines of the heads, and of each row."""
    chosen = [(block.columns[k], widths[k]) for k in columns]
    heads = [
        [*textwrap.wrap(c.head, w), *([c.unit] if c.unit else [])] for c, w in chosen
    ]
    high = max(map(len, heads), default=0)
    top = [_line([h[n - high + len(h)] if n >= high - len(h) else "" for h in heads], chosen)
           for n in range(high)]  # fmt: skip
    rule = GAP.join("-" * width for _, width in chosen)
    return [[*top, rule], *[_row(row.cells, columns, chosen) for row in block.rows]]


class _Keys(textwrap.TextWrapper):
    """Breaks a path of keys that is wider than its column behind a dot or underscore."""

    wordsep_re = re.compile(r"(\s+|(?<=[a-z]{2}[._])(?=[a-z]))")


def _wrapped(text: str, width: int) -> list[str]:
    if max(map(len, text.split()), default=0) > width:
        return _Keys(width).wrap(text)
    return textwrap.wrap(text, width)


def _row(
    cells: tuple[Cell, ...], columns: list[int], chosen: list[tuple[Column, int]]
) -> list[str]:
    wrapped = [
        _wrapped(held(cells[k].text), width) or [""]
        for k, (_, width) in zip(columns, chosen, strict=True)
    ]
    high = max(map(len, wrapped))
    return [
        _line([part[n] if n < len(part) else "" for part in wrapped], chosen)
        for n in range(high)
    ]


def _line(texts: Sequence[str], chosen: list[tuple[Column, int]]) -> str:
    parts = [
        text.rjust(width) if column.number else text.ljust(width)
        for text, (column, width) in zip(texts, chosen, strict=True)
    ]
    return GAP.join(parts).rstrip().replace("\u00a0", " ")


def facts(title: str, pairs: Iterable[tuple[str, str]]) -> str:
    """Return label and value pairs, one a line, under a title [text].

    Examples
    --------
    >>> print(facts("Answer", [("availability", "100 %")]), end="")
    Answer
      availability  100 %
    """
    return facts_text(Facts(tuple(Fact(a, b) for a, b in pairs), title))


def facts_text(block: Facts) -> str:
    """Return facts, the labels in a column of their own where they are short."""
    width = min(max((len(row.label) for row in block.rows), default=0), 34)
    lines = [block.title] if block.title else []
    for row in block.rows:
        if len(row.label) > width:
            lines += [*_fill(row.label, "  "), *_fill(row.text, "      ")]
        else:
            lines += hanging(f"  {row.label.ljust(width)}  ", row.text)
    return _lines(lines)


def findings_text(findings: Iterable[Finding], title: str = "Findings") -> str:
    """Return findings with their severity, the gravest first [text].

    Parameters
    ----------
    findings
        In any order.
    title
        Line above them [text].
    """
    lines = [
        line
        for finding in gravest_first(findings)
        for line in hanging(f"{SEVERITY[finding.severity]:7}  ", finding.text)
    ]
    return _lines([title, *(lines or ["  none"])])


def hanging(head: str, text: str) -> list[str]:
    """Return text behind a head, its further lines under its first word [text].

    Parameters
    ----------
    head, text
        Words [text].
    """
    indent = " " * len(head)
    return _fill(text, head, indent) or [head.rstrip()]


def _fill(text: str, first: str = "", indent: str | None = None) -> list[str]:
    """Return text in lines, none of which ends between a number and its unit."""
    lines = textwrap.wrap(
        held(text), WIDTH, initial_indent=first, break_on_hyphens=False,
        subsequent_indent=first if indent is None else indent,
    )  # fmt: skip
    return [line.replace("\u00a0", " ") for line in lines]


def _lines(lines: Iterable[str]) -> str:
    return "".join(f"{line}\n" for line in lines)


DRAWN: dict[str, Callable[[Any], str]] = {
    "table": table_text,
    "facts": facts_text,
    "prose": lambda b: _lines([*filter(None, [b.title]), *_fill(b.text, "  ")]),
    "remarks": lambda b: findings_text(b.items, b.title),
    "banner": lambda b: _lines([*_fill(b.text), *_fill(b.more)]),
    "headlines": _headlines,
    "panels": _panels,
}
"""How each kind of block is written; a picture is not."""
