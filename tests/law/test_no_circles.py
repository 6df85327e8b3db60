"""No two modules import each other, directly or round a corner."""

from __future__ import annotations

import ast
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest
from reference.sources import nodes

ROOT = Path(__file__).resolve().parents[2]


def _modules(root: Path) -> dict[str, Path]:
    found = {}
    for path in (root / "powerbudget").rglob("*.py"):
        parts = path.relative_to(root).with_suffix("").parts
        found[".".join(parts).removesuffix(".__init__")] = path
    return found


def imports(path: Path, modules: dict[str, Path]) -> set[str]:
    """Return the modules that a file imports, inside functions and for types too."""
    found = set()
    for node in nodes(path):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                inside = f"{node.module}.{alias.name}"
                found.add(inside if inside in modules else node.module)
    return found & set(modules)


def circle(root: Path) -> list[str]:
    """Return the modules of one circle, empty where there is none."""
    modules = _modules(root)
    graph = {name: imports(path, modules) - {name} for name, path in modules.items()}
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


def test_no_circle_between_modules():
    """Every import counts, also late ones and those for types alone."""
    assert circle(ROOT) == []


@pytest.mark.parametrize(
    "line", ["from powerbudget.b import x", "from powerbudget import b"]
)
@pytest.mark.parametrize(
    "place", ["{}", "def f():\n    {}", "if TYPE_CHECKING:\n    {}"]
)
def test_a_circle_is_seen(tmp_path, line, place):
    """A circle of two is found in either form of import, wherever it stands."""
    package = tmp_path / "powerbudget"
    package.mkdir()
    (package / "a.py").write_text(place.format(line), encoding="utf-8")
    (package / "b.py").write_text("import powerbudget.a\n", encoding="utf-8")
    assert set(circle(tmp_path)) == {"powerbudget.a", "powerbudget.b"}
