"""Every assertion looks at something computed: no literal is held against a literal."""

from __future__ import annotations

import ast
from pathlib import Path

from reference import together

TESTS = Path(__file__).resolve().parents[1]
FILES = sorted(TESTS.glob("*/test_*.py"))
ARITHMETIC = {
    "abs", "all", "any", "dict", "enumerate", "float", "int", "len", "list", "max", "min",
    "range", "round", "set", "sorted", "str", "sum", "tuple", "zip", "math", "pytest",
}  # fmt: skip
"""What computes nothing of the package out of literals."""


def _names(node: ast.AST) -> set[str]:
    names: set[str] = set()
    inner: set[str] = set()
    for one in ast.walk(node):
        if isinstance(one, ast.Name):
            names.add(one.id)
        elif isinstance(one, ast.comprehension):
            inner |= _targets(one.target)
    return names - inner


def _targets(node: ast.AST) -> set[str]:
    return {n.id for n in ast.walk(node) if isinstance(n, ast.Name)}


STORES = ast.List | ast.Dict | ast.Set | ast.ListComp | ast.DictComp | ast.Call


def _assigned(body: list[ast.stmt], known: set[str]) -> set[str]:
    """Return the names that hold nothing but literals, those of `known` included."""
    plain, other = set(known), set()
    inside = [node for statement in body for node in ast.walk(statement)]
    handed = _handed_over(inside)
    for node in inside:
        match node:
            case ast.Assign(targets=targets, value=value):
                found = {name for t in targets for name in _targets(t)}
            case ast.AnnAssign(target=target, value=value) if value is not None:
                found = _targets(target)
            case ast.For(target=target, iter=value):
                found = _targets(target)
            case ast.AugAssign(target=target):  # a count of what was looked at
                other |= _targets(target)
                continue
            case _:
                continue
        filled = found & handed and any(isinstance(n, STORES) for n in ast.walk(value))
        literal = _names(value) <= plain - other and not filled
        (plain if literal else other).update(found)
    return plain - other


def _handed_over(inside: list[ast.AST]) -> set[str]:
    """Return the names that others may fill: given to calls, asked for a method, set."""
    found: set[str] = set()
    for node in inside:
        if isinstance(node, ast.Call) and not _names(node.func) <= ARITHMETIC:
            found |= _names(node)
        if isinstance(node, ast.Subscript) and isinstance(node.ctx, ast.Store):
            found |= _names(node)
    return found - ARITHMETIC


def _parametrized(node: ast.FunctionDef, known: set[str]) -> set[str]:
    """Return the arguments that a list of literals fills."""
    found: set[str] = set()
    for mark in node.decorator_list:
        if isinstance(mark, ast.Call) and ast.unparse(mark.func).endswith(
            "parametrize"
        ):
            words, values = mark.args[:2]
            if _names(values) <= known:
                text = ast.literal_eval(words)
                split = text.split(",") if isinstance(text, str) else text
                found |= {word.strip() for word in split}
    return found


def blind(code: str) -> list[str]:
    """Return the assertions of a file that no change of the package can break."""
    tree = ast.parse(code)
    top = [n for n in tree.body if isinstance(n, ast.Assign | ast.AnnAssign)]
    known = _assigned(top, ARITHMETIC)
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
            own = {n.name for n in ast.walk(node) if isinstance(n, ast.FunctionDef)}
            given = known - own - {a.arg for a in node.args.args}
            given = _assigned(node.body, given | _parametrized(node, known))
            found += [
                f"line {one.lineno}: {ast.unparse(one)}"
                for one in ast.walk(node)
                if isinstance(one, ast.Assert) and _names(one.test) <= given
            ]
    return found


@together.parametrize("path", FILES)
def test_no_assertion_holds_a_literal_against_a_literal(path):
    """An assertion made of literals alone passes whatever the package does."""
    assert blind(path.read_text("utf-8")) == []


def test_a_blind_assertion_would_be_seen():
    """The reading of tests itself notices what it should, and nothing else."""
    code = """
ROWS = [(1.0, 2.0)]

@pytest.mark.parametrize(("one", "two"), ROWS)
def test_it(one, two, site):
    three = one + two
    assert three == pytest.approx(3.0)
    assert site.watts == three
    four = site.watts + three
    assert four == 7
    assert 405 == 300 * 1.35
"""
    assert [text.split(":")[0] for text in blind(code)] == ["line 7", "line 11"]
