"""Money, counts and figures with units have one formatter each."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Sequence

import pytest
from reference.sources import nodes
from reference.texts import PACKAGE

NOUNS = (
    "module|string|unit|site|year|winter|load|card|rack|point|row|day|period|file|fault|"
    "error|check|tag|sheet|alternative|criteri|input|finding|warning|note|start|trip|visit|"
    "cell|device|battery unit|channel"
)
NAMES = {"per_hour", "kind", "ending", "chemistry", "kind.title", "part.chemistry"}
"""Words before a noun, no counts of it."""
SOURCES = sorted(PACKAGE.rglob("*.py"))


def _pairs(found: Sequence[ast.AST]) -> Iterator[tuple[ast.FormattedValue, str]]:
    """Yield each value of a text with the words behind it, ``{name}`` for a value."""
    for node in found:
        if not isinstance(node, ast.JoinedStr):
            continue
        for k, value in enumerate(node.values):
            if not isinstance(value, ast.FormattedValue):
                continue
            rest = "".join(
                str(v.value)
                if isinstance(v, ast.Constant)
                else f"{{{ast.unparse(v.value)}}}"
                for v in node.values[k + 1 :]
                if isinstance(v, ast.Constant | ast.FormattedValue)
            )
            yield value, rest


def _named(value: ast.FormattedValue) -> str:
    return ast.unparse(value.value)


def _is_call(value: ast.FormattedValue, *names: str) -> bool:
    call = value.value
    return isinstance(call, ast.Call) and ast.unparse(call.func) in names


def money_by_hand(of: Sequence[ast.AST]) -> list[str]:
    """Return figures before a currency that `powerbudget.quantities.money` did not write."""
    return [
        ast.unparse(value)
        for value, rest in _pairs(of)
        if re.match(r" (USD\b|\{[\w.]*currency\})", rest)
        and value.format_spec
        and ".price." not in _named(value)  # unit prices keep the cents
    ]


def counts_by_hand(of: Sequence[ast.AST]) -> list[str]:
    """Return counts before a noun that `powerbudget.quantities.count` did not write."""
    found = [
        f"{ast.unparse(value)}{rest[:24]}"
        for value, rest in _pairs(of)
        if re.match(rf" ([a-z]+ )?({NOUNS})s?\b(?! of)", rest)
        and re.match(rf" ([a-z]+ )?({NOUNS})s\b", rest)
        and not _is_call(
            value, "count", "show", "percent", "number", "in_unit", "plain"
        )
        # A constant of the program is known to be more than one.
        and not re.search(r"\b[A-Z][A-Z_]+$", _named(value))
        and not isinstance(value.value, ast.Constant)
        and _named(value) not in NAMES
    ]
    for node in of:
        if isinstance(node, ast.IfExp):
            ends = {ast.unparse(node.body), ast.unparse(node.orelse)}
            if ends in ({"'s'", "''"}, {"'es'", "''"}):
                found.append(ast.unparse(node))
        if isinstance(node, ast.Constant) and re.search(r"[a-z]\(s\)", str(node.value)):
            found.append(str(node.value)[:60])
    return found


UNITS = (
    "%|°[CF]?|[kM]?Wh?|kVA|m?A|Ah|m?V|[mk]?Ω|h|d|yr|min|m?s|K|[cmk]?m[²³]?|L|gal|kg|t|"
    "kPa|MJ|MB|PSH"
)
EXACT = re.compile(r"[-+]?(\.\d{2,}|)g")
"""Every digit of an input, as it was given: no rounding to hide in it."""
FILES = {"lists/site_text.py", "sizing/new_site.py"}
"""Modules that write site files, whose values are typed again."""


def units_by_hand(of: Sequence[ast.AST]) -> list[str]:
    """Return rounded figures before a unit that `powerbudget.quantities` did not write."""
    found = []
    for value, rest in _pairs(of):
        spec = ast.unparse(value.format_spec)[2:-1] if value.format_spec else ""
        rounded = spec[-1:] in {"f", "g", "%"} and not EXACT.fullmatch(spec)
        if rounded and (
            spec.endswith("%")
            or re.match(rf" ?({UNITS})(?![\w²³])| \{{[\w.]*unit\}}", rest)
        ):
            found.append(f"{ast.unparse(value)}{rest[:16]}")
    return found


@pytest.mark.parametrize("look", [money_by_hand, counts_by_hand, units_by_hand])
def test_each_kind_of_figure_has_one_formatter(look):
    """Three digits of money, one plural, a unit behind every rounded figure."""
    found = {
        path.relative_to(PACKAGE).as_posix(): rows
        for path in SOURCES
        if path.name != "quantities.py"
        and not (
            look is units_by_hand and path.relative_to(PACKAGE).as_posix() in FILES
        )
        and (rows := look(nodes(path)))
    }
    assert not found


def test_the_formatter_test_sees_what_it_is_for():
    """A sum with cents, a bracketed plural, a plural of one."""
    bad = 'f"{x:,.2f} {costs.currency}"; f"{n} modules"; f"{len(a)} whole winters"'

    def read(code):
        return list(ast.walk(ast.parse(code)))

    hits = read(bad + '; "row(s)"; "s" if n > 1 else ""')
    assert len(money_by_hand(hits)) == 1
    assert len(counts_by_hand(hits)) == 4
    units = """
f"{x:.1f} W"; f"{x:+.0f} °C mean"; f"{x:.0%}"; f"{x:.{n}f} {c.unit}"; f"{x:,.3g} V, {y}"
f"{x:.1f}" " kWh/m²/day"
"""
    assert len(units_by_hand(read(units))) == 6
    fine = 'f"{x:g} V"; f"{x:.12g} A"; f"{x:.1f} to {in_unit(y, 1)}"; f"{x:.2f} was"'
    assert not units_by_hand(read(fine))
    good = read('f"{money(x, c)}"; f"{count(n, \'module\')}"; f"{MOST} years"')
    assert not money_by_hand(good)
    assert not counts_by_hand(good)
