"""Texts that people read, and the words that are retired from them."""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from fnmatch import fnmatch
from functools import cache
from pathlib import Path
from typing import Any

from reference.sources import nodes

ROOT = Path(__file__).parents[2]
PACKAGE = ROOT / "powerbudget"
WORDS = tomllib.loads((ROOT / "tests/field/retired_words.toml").read_text("utf-8"))
PRINTED_KEYS = {"source", "title", "note", "words", "status", "label", "name", "basis"}
"""Keys of data files whose texts are printed."""


_TYPED = re.compile(r"[-+\d. ]+ (degC|kWh/m2/d)")
"""Values as they are typed in a file."""


@cache
def _pattern(words: str) -> re.Pattern[str]:
    """Return the pattern of one row; with capitals in it, capitals count."""
    case = 0 if re.search(r"[A-Z]", words) else re.IGNORECASE
    return re.compile(rf"(?<!\w)(?:{words})(?!\w)", case)


def retired_in(text: str, where: str = "") -> list[str]:
    """Return every retired word of a text that its place does not allow [text].

    Parameters
    ----------
    text
        What is printed.
    where
        Path in the package, to which exceptions are tied; empty for output.
    """
    # Keys, tables, patterns of lists and values as they are typed are no sentences.
    if where and (" " not in text.strip() or "|" in text or _TYPED.fullmatch(text)):
        return []
    text = " ".join(re.sub(r"\[\[?[a-z_.]+\]\]?", "[]", text).split())
    for phrase in [] if where else WORDS["allowed"]["printed"]:
        text = re.sub(phrase, "~", text)
    for phrase in WORDS["allowed"]["everywhere"]:
        text = re.sub(phrase, "~", text)
    free = [
        words
        for glob, rows in WORDS["allowed"]["at"].items()
        if where and fnmatch(where, glob)
        for words in rows
    ]
    return [
        hit[0]
        for words in WORDS["retired"]
        if words not in free
        for hit in _pattern(words).finditer(text)
    ]


def _literal(node: ast.AST) -> str | None:
    """Return a literal's text, ``{}`` for each value in it."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(
            v.value if isinstance(v, ast.Constant) else "{}" for v in node.values
        )
    return None


def literals(path: Path) -> Iterator[str]:
    """Yield the string literals of a module; docstrings only where they are help."""
    silent: set[int] = set()
    for node in nodes(path):
        if isinstance(node, ast.Expr):
            silent.add(id(node.value))
        if isinstance(node, ast.JoinedStr):
            silent.update(id(v) for v in node.values if isinstance(v, ast.Constant))
            silent.update(id(s) for v in ast.walk(node) if isinstance(v, ast.FormattedValue)
                          and v.format_spec for s in ast.walk(v.format_spec))  # fmt: skip
    for node in nodes(path):
        text = _literal(node)
        if text and id(node) not in silent:
            yield text
        if (
            path.parent.name == "cli"
            and isinstance(node, ast.FunctionDef)
            and not node.name.startswith("_")
        ):
            yield ast.get_docstring(node) or ""


def values(table: Any, key: str = "") -> Iterator[str]:
    """Yield the texts of a data file that are printed: sources, titles, notes."""
    if isinstance(table, dict):
        for name, value in table.items():
            yield from values(value, name)
    elif isinstance(table, list):
        for value in table:
            yield from values(value, key)
    elif isinstance(table, str) and any(key.endswith(k) for k in PRINTED_KEYS):
        yield table


def package_texts() -> Iterator[tuple[str, str]]:
    """Yield path in the package and text, for all that it can print."""
    for path in sorted(PACKAGE.rglob("*.py")):
        if path.name == "__init__.py" and path.parent.name != "cli":
            continue  # names of functions, no text
        where = path.relative_to(PACKAGE).as_posix()
        yield from ((where, text) for text in literals(path))
    for path in sorted(PACKAGE.rglob("*.toml")):
        where = path.relative_to(PACKAGE).as_posix()
        tables = tomllib.loads(path.read_text("utf-8"))
        yield from ((where, text) for text in values(tables))
