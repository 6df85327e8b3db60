"""Count code lines and statements of the package, comments and docstrings left out.

python tests/count.py [FILES]
"""

from __future__ import annotations

import ast
import io
import sys
import tokenize
from collections import Counter
from pathlib import Path

PACKAGE = Path(__file__).parents[1] / "powerbudget"
BLANK = {
    tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT,
    tokenize.ENDMARKER,
}  # fmt: skip


def is_text(node: ast.AST) -> bool:
    """Return whether a node is a string that stands alone, as docstrings do."""
    inner = node.value if isinstance(node, ast.Expr) else None
    return isinstance(inner, ast.Constant) and isinstance(inner.value, str)


def count(source: str) -> tuple[int, int]:
    """Return code lines and statements of a file [count]."""
    nodes = list(ast.walk(ast.parse(source)))
    lines: set[int] = set()
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type not in BLANK:
            lines |= set(range(token.start[0], token.end[0] + 1))
    for node in nodes:
        if is_text(node):
            lines -= set(range(node.lineno, node.end_lineno + 1))
    statements = [n for n in nodes if isinstance(n, ast.stmt) and not is_text(n)]
    return len(lines), len(statements)


def main() -> None:
    """Print a line a package, with `FILES` a line a file, and the sums."""
    by: dict[str, Counter[str]] = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        inside = path.relative_to(PACKAGE)
        name = str(inside) if sys.argv[1:] else inside.parts[0]
        lines, statements = count(path.read_text("utf-8"))
        by.setdefault(name, Counter()).update(lines=lines, statements=statements)
    for name, sums in sorted(by.items(), key=lambda item: -item[1]["lines"]):
        print(f"{sums['lines']:7,} {sums['statements']:7,}  {name}")
    whole: Counter[str] = sum(by.values(), Counter())
    print(f"{whole['lines']:7,} {whole['statements']:7,}  code lines, statements")


if __name__ == "__main__":
    main()
