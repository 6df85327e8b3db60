"""Docstrings are a contract: a meaning, every parameter in order, a unit on results."""

from __future__ import annotations

import ast
import functools
import re
from pathlib import Path

from reference.sources import tree

PACKAGE = Path(__file__).resolve().parents[2] / "powerbudget"
MODULES = sorted(PACKAGE.rglob("*.py"))
FORMULAS = [
    "loads/converter.py", "loads/loop.py", "loads/radio.py", "loads/wiring.py",
    "battery/capacity.py", "battery/voltage.py", "weather/sun.py",
    "weather/geometry.py", "weather/hourly_clearness.py",
    "checks/code_tables.py", "battery/resistance.py", "sizing/worksheet/formulas.py",
    "generators/output.py", "generators/fuel_line.py", "generators/propane.py",
    "generators/starts.py",
    *(f"array/{path.name}" for path in sorted((PACKAGE / "array").glob("[a-z]*.py"))),
]  # fmt: skip
SECTION = re.compile(r"^(\w[\w ]*)\n-{3,}\s*$", re.MULTILINE)
UNIT = re.compile(r"\[[^\]\n]+\]")


def public(path: Path):
    """Yield name and node of every public function, class and method in a file."""
    module = path.relative_to(PACKAGE).as_posix()
    kinds = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef

    def walk(body, prefix):
        for node in body:
            if isinstance(node, kinds) and not node.name.startswith("_"):
                yield f"{module}:{prefix}{node.name}", node
                if isinstance(node, ast.ClassDef):
                    yield from walk(node.body, f"{node.name}.")

    yield from walk(tree(path).body, "")


@functools.cache
def nodes() -> dict[str, ast.AST]:
    """Return every public function and class; not on import, which all tests wait for."""
    return {name: node for path in MODULES for name, node in public(path)}


@functools.cache
def functions() -> dict[str, ast.AST]:
    """Return the functions among them."""
    return {n: x for n, x in nodes().items() if not isinstance(x, ast.ClassDef)}


def formula_functions() -> list[str]:
    """Return the names of those that are formulas."""
    names = [(name, *name.split(":")) for name in functions()]
    return [n for n, file, inner in names if file in FORMULAS and "." not in inner]


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
    assert len(functions()) > 80
    assert len(formula_functions()) > 30
    assert {name.split(":")[0] for name in nodes()} >= set(FORMULAS)


def test_the_first_line_says_in_a_sentence_what_it_is():
    """One line, with a full stop or a unit at its end, then a blank line."""

    def wrong(name: str) -> bool:
        lines = (ast.get_docstring(nodes()[name]) or "").splitlines()
        ends = bool(lines) and lines[0].endswith((".", "]", ":"))
        return not ends or (len(lines) > 1 and lines[1] != "")

    assert [name for name in nodes() if wrong(name)] == []


def test_the_first_line_says_more_than_the_name():
    """A line made of the words of the name alone says nothing."""

    def stems(text: str) -> set[str]:
        return {w[:4] for w in re.findall(r"[a-z]+", text.lower()) if len(w) > 2}

    said = {
        name: (ast.get_docstring(node) or "").split("\n")[0]
        for name, node in functions().items()
    }
    filler = stems("return give the this that with from for and its")
    empty = [
        name
        for name, line in said.items()
        if not UNIT.search(line)
        and not stems(line) - filler - stems(name.split(":")[1].replace("_", " "))
    ]
    assert empty == []


def test_parameters_are_documented_in_the_order_of_the_signature():
    """A docstring that explains its parameters explains each, in order."""
    explained = [n for n, x in functions().items() if "Parameters" in sections(x)]
    # Not for lack of them; it was a half until those that said nothing went.
    assert len(explained) > len(functions()) / 3
    wrong = [
        name
        for name in explained
        if documented(sections(functions()[name])["Parameters"])
        != signature(functions()[name])
    ]
    assert wrong == []


def test_a_section_of_parameters_says_what_their_types_do_not():
    """Four words without a unit for every one of them say nothing."""

    def says(entry: str) -> bool:
        words = entry.split("\n", 1)[-1]
        return len(words.split()) > 4 or "[" in words or "`" in words

    texts = {n: sections(x).get("Parameters", "") for n, x in functions().items()}
    entries = {n: re.split(r"\n(?=\S)", t.strip()) for n, t in texts.items() if t}
    assert [n for n, found in entries.items() if not any(map(says, found))] == []


def test_every_field_of_an_explained_class_is_explained():
    """A class that explains its fields explains each, and no other."""
    classes = {n: x for n, x in nodes().items() if isinstance(x, ast.ClassDef)}
    explained = {
        n: x for n, x in classes.items() if "Parameters" in sections(x) and fields(x)
    }
    assert len(explained) > len(classes) / 3
    wrong = [
        name
        for name, node in explained.items()
        if sorted(documented(sections(node)["Parameters"])) != sorted(fields(node))
    ]
    assert wrong == []


def test_a_formula_states_the_unit_of_its_result():
    """Returns, or the one line of a short docstring, ends in a unit in brackets."""

    def result(name: str) -> str:
        found = sections(functions()[name])
        return found.get("Returns", "" if "Parameters" in found else found[""])

    assert [n for n in formula_functions() if not UNIT.search(result(n))] == []


def test_a_formula_states_the_unit_of_each_parameter():
    """A formula explains its parameters; each says its unit, or that it has none."""
    wrong = []
    for name in formula_functions():
        text = sections(functions()[name]).get("Parameters", "")
        # Each entry runs from an unindented head to the next one.
        entries = re.split(r"\n(?=\S)", text.strip())
        if signature(functions()[name]) and not all(map(UNIT.search, entries)):
            wrong.append(name)
    assert wrong == []


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
