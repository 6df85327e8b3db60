"""Chapters of the manual for a terminal: Markdown without pictures and marks."""

from __future__ import annotations

import re
import textwrap
from pathlib import Path

from powerbudget.errors import Fault, InputError, nearest
from powerbudget.reading import PAGE_BYTES, read_text

FOLDER = Path(__file__).parent
WIDTH = 100
_LINK = re.compile(r"\[([^\]]+)\]\([^)]+\)")


def topics() -> dict[str, str]:
    """Return the title of each chapter by its topic [text].

    Examples
    --------
    >>> "keys" in topics()
    True
    """
    return {path.stem: _title(path) for path in sorted(FOLDER.glob("*.md"))}


def _title(path: Path) -> str:
    with path.open(encoding="utf-8") as page:
        return page.readline().lstrip("# ").strip()


def chapter(topic: str) -> str:
    """Return a chapter as plain text of at most 100 columns.

    Parameters
    ----------
    topic
        As `topics` has it [text].

    Raises
    ------
    InputError
        When there is no such chapter; all are named, the nearest as advice.
    """
    known = topics()
    name = topic.strip().lower().removesuffix(".md")
    if name not in known:
        allowed, near = ", ".join(known), nearest(name, known)
        advice = near or f"powerbudget keys --find {name} searches the keys"
        raise InputError(Fault("TOPIC", "has no chapter", topic, allowed, advice))
    path = FOLDER / f"{name}.md"
    fault = Fault("TOPIC", "", file=str(path), advice="install the program again")
    return plain(read_text(path, PAGE_BYTES, fault))


def plain(markdown: str) -> str:
    r"""Return Markdown as text for a terminal: paragraphs wrapped, pictures left out.

    Examples
    --------
    >>> print(plain("# A\n\n![p](p.png)\n\nSee [b](b.md)."), end="")
    # A
    <BLANKLINE>
    See b.
    """
    lines: list[str] = []
    code, rows = False, []
    for line in [*markdown.splitlines(), ""]:
        fence = line.startswith("```")
        code = code != fence
        if line.startswith("|") and not code:
            rows.append(line)
            continue
        if rows:
            lines, rows = [*lines, *_table(rows)], []
        if fence or line.startswith(("<!--", "![")):
            continue
        lines += [f"  {line}".rstrip()] if code else _wrapped(line)
    text = re.sub(r"\n{3,}", "\n\n", "\n".join(lines)).strip("\n")
    return f"{text}\n"


def _table(rows: list[str]) -> list[str]:
    from powerbudget.report.render.terminal import table

    cells = [
        [_LINK.sub(r"\1", cell.strip()) for cell in re.split(r"(?<!\\)\|", row)[1:-1]]
        for row in rows
    ]
    return table("", cells[0], cells[2:]).splitlines()


def _wrapped(line: str) -> list[str]:
    line = _LINK.sub(r"\1", line)
    if line.startswith("#") or not line:
        return [line]
    indent = "  " if line.startswith(("- ", "* ")) else ""
    return textwrap.wrap(
        line,
        WIDTH,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )
