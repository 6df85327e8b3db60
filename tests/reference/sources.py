"""The package as syntax, read once for all tests that look at it."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path


@cache
def tree(path: Path) -> ast.Module:
    """Return a file as syntax; nobody changes it."""
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    """Return every node of a file, parents before children."""
    return tuple(ast.walk(tree(path)))
