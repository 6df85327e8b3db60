"""Docstrings are a contract: a meaning, every parameter in order, a unit on results."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "powerbudget"
MODULES = sorted(PACKAGE.rglob("*.py"))
FORMULAS = [
    "loads/converter.py", "loads/loop.py", "loads/radio.py", "loads/wiring.py",
    "battery/capacity.py", "battery/voltage.py", "weather/sun.py",
    "weather/geometry.py", "weather/tag.py",
    "checks/ratings.py", "battery/resistance.py", "sizing/worksheet.py",
    "generators/output.py", "generators/fuelline.py", "generators/propane.py",
    "generators/starts.py",
    *(f"array/{path.name}" for path in sorted((PACKAGE / "array").glob("[a-z]*.py"))),
]  # fmt: skip
SECTION = re.compile(r"^(\w[\w ]*)\n-{3,}\s*$", re.MULTILINE)
UNIT = re.compile(r"\[[^\]\n]+\]")
# Functions whose docstrings are still to be completed; it should stay empty.
EXCEPTIONS: set[str] = set()


def public(path: Path):
    """Yield name and node of every public function, class and method in a file."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    module = path.relative_to(PACKAGE).as_posix()
    kinds = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef

    def walk(body, prefix):
        for node in body:
            if isinstance(node, kinds) and not node.name.startswith("_"):
                yield f"{module}:{prefix}{node.name}", node
                if isinstance(node, ast.ClassDef):
                    yield from walk(node.body, f"{node.name}.")

    yield from walk(tree.body, "")


NODES = {name: node for path in MODULES for name, node in public(path)}
FUNCTIONS = {n: x for n, x in NODES.items() if not isinstance(x, ast.ClassDef)}
FORMULA_FUNCTIONS = [
    name
    for name in FUNCTIONS
    if name.split(":")[0] in FORMULAS and "." not in name.split(":")[1]
]


def sections(node) -> dict[str, str]:
    """Return a docstring's sections by title; the head is under ''."""
    text = ast.get_docstring(node) or ""
    pieces = SECTION.split(text)
    return {"": pieces[0], **dict(zip(pieces[1::2], pieces[2::2], strict=True))}


def documented(text: str) -> list[str]:
    """Return the parameter names of a numpydoc section, in order."""
    lines = [line for line in text.splitlines() if re.match(r"\*{0,2}\w", line)]
    heads = [line.split(" : ")[0] for line in lines]
    return [name.strip().lstrip("*") for head in heads for name in head.split(",")]


def signature(node) -> list[str]:
    """Return the parameter names of a function, in order, without self and cls."""
    a = node.args
    found = [*a.posonlyargs, *a.args]
    names = [item.arg for item in found] + [a.vararg.arg if a.vararg else ""]
    names += [item.arg for item in a.kwonlyargs] + [a.kwarg.arg if a.kwarg else ""]
    hidden = {"", "self", "cls"}
    return [n for n in names if n not in hidden and not n.startswith("_")]


def fields(node) -> list[str]:
    """Return the fields of a dataclass or model."""
    return [
        item.target.id
        for item in node.body
        if isinstance(item, ast.AnnAssign) and isinstance(item.target, ast.Name)
    ]


def test_the_package_is_found():
    """The tests below do not pass for lack of functions."""
    assert len(FUNCTIONS) > 80
    assert len(FORMULA_FUNCTIONS) > 30
    assert {name.split(":")[0] for name in NODES} >= set(FORMULAS)


@pytest.mark.parametrize("name", NODES)
def test_the_first_line_says_in_a_sentence_what_it_is(name):
    """One line, with a full stop or a unit at its end, then a blank line."""
    lines = (ast.get_docstring(NODES[name]) or "").splitlines()
    assert lines, "no docstring"
    assert lines[0].endswith((".", "]", ":"))
    assert len(lines) == 1 or lines[1] == ""


@pytest.mark.parametrize("name", FUNCTIONS)
def test_parameters_are_documented_in_the_order_of_the_signature(name):
    """A docstring that explains its parameters explains each, in order."""
    if name in EXCEPTIONS:
        pytest.skip("listed as still to be completed")
    node = FUNCTIONS[name]
    found = sections(node)
    if "Parameters" in found:
        assert documented(found["Parameters"]) == signature(node)


@pytest.mark.parametrize("name", [n for n in NODES if n not in FUNCTIONS])
def test_every_field_of_an_explained_class_is_explained(name):
    """A class that explains its fields explains each, and no other."""
    if name in EXCEPTIONS:
        pytest.skip("listed as still to be completed")
    node = NODES[name]
    found = sections(node)
    names = fields(node)
    if "Parameters" in found and names:
        assert sorted(documented(found["Parameters"])) == sorted(names)


@pytest.mark.parametrize("name", FORMULA_FUNCTIONS)
def test_a_formula_states_the_unit_of_its_result(name):
    """Returns, or the one line of a short docstring, ends in a unit in brackets."""
    if name in EXCEPTIONS:
        pytest.skip("listed as still to be completed")
    found = sections(FUNCTIONS[name])
    if "Parameters" in found:
        assert UNIT.search(found.get("Returns", ""))
    else:
        assert UNIT.search(found.get("Returns", found[""]))


@pytest.mark.parametrize("name", FORMULA_FUNCTIONS)
def test_a_formula_states_the_unit_of_each_parameter(name):
    """Each parameter of a formula says its unit, or that it has none."""
    if name in EXCEPTIONS:
        pytest.skip("listed as still to be completed")
    text = sections(FUNCTIONS[name]).get("Parameters", "")
    # Each entry runs from an unindented head to the next one.
    for entry in re.split(r"\n(?=\S)", text.strip()):
        assert not entry or UNIT.search(entry), entry


def test_a_missing_parameter_would_be_seen():
    """The reading of docstrings itself notices what it should."""
    code = '''
def power_w(volts_v, *, amps_a=1.0, **more):
    """Return power [W].

    Parameters
    ----------
    amps_a, volts_v
        Current and voltage [A, V].

    Returns
    -------
    float
        Power.
    """
'''
    (node,) = ast.parse(code).body
    found = sections(node)
    assert documented(found["Parameters"]) == ["amps_a", "volts_v"]
    assert signature(node) == ["volts_v", "amps_a", "more"]
    assert not UNIT.search(found["Returns"])
    assert UNIT.search(found[""])
