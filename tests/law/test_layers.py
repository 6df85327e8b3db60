"""Imports run one way, and heavy libraries stay where they are needed."""

from __future__ import annotations

import ast
from pathlib import Path

from reference import together
from reference.sources import nodes, tree

PACKAGE = Path(__file__).resolve().parents[2] / "powerbudget"
ORDER = [
    "version",
    "callable_package",
    "cache",
    "errors",
    "quantities",
    "limits",
    "bisection",
    "files",
    "reading",
    "data",
    "site",
    "lists",
    "loads",
    "weather",
    "array",
    "battery",
    "charging",
    "generators",
    "balance",
    "sizing",
    "checks",
    "review",
    "compare",
    "report",
    "fleet",
    "manual",
    "cli",
]
MODULES = sorted(PACKAGE.rglob("*.py"))


def _layer(path: Path) -> str:
    inside = path.relative_to(PACKAGE)
    return inside.parts[0].removesuffix(".py")


def _imports(path: Path) -> set[str]:
    found = set()
    for node in nodes(path):
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        else:
            continue
        found |= {n.split(".")[1] for n in names if n.startswith("powerbudget.")}
    return found


@together.parametrize("path", MODULES)
def test_imports_run_one_way(path):
    """A package imports only from those before it in the order of the design."""
    layer = _layer(path)
    if layer in {"__init__", "__main__"}:
        return
    allowed = set(ORDER[: ORDER.index(layer) + 1])
    assert _imports(path) <= allowed


def test_every_package_has_a_place_in_the_order():
    """No package stands outside the order."""
    found = {_layer(path) for path in MODULES} - {"__init__", "__main__"}
    assert found == set(ORDER)


def test_one_class_name_has_one_meaning():
    """No class of one module bears the name of another's: a reader looks up one."""
    homes: dict[str, list[str]] = {}
    for path in MODULES:
        for node in tree(path).body:
            if isinstance(node, ast.ClassDef):
                homes.setdefault(node.name, []).append(path.name)
    assert {n: where for n, where in homes.items() if len(where) > 1} == {}
