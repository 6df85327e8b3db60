"""Formulas that were saved without a value: simple ones are calculated and named."""

from __future__ import annotations

import ast
import math
import operator
import re
from collections.abc import Callable

from powerbudget.lists.cells import ClientSheet, Value, column_letter
from powerbudget.lists.figures import cell_number
from powerbudget.lists.markup import column_index
from powerbudget.lists.questions import Questions

_REF = re.compile(r"\$?([A-Z]{1,3})\$?(\d{1,7})")
_RANGE = re.compile(r"\$?([A-Z]{1,3})\$?(\d{1,7}):\$?([A-Z]{1,3})\$?(\d{1,7})")
_OPERATORS: dict[type, Callable[[float, float], float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
}
MOST_LETTERS = 300


class _UnknownError(Exception):
    """A formula is beyond simple arithmetic."""


def fill_formulas(sheet: ClientSheet, asked: Questions) -> None:
    """Put values into cells whose formula has none, or say that they are not known."""
    missing = sheet.markup.formulas
    if not missing:
        return
    solver = _Solver(sheet)
    for place, text in missing.items():
        row, column = place
        cell = f"{column_letter(column)}{row + 1}"
        try:
            value: Value = solver.joined(text) or solver.value(place)
        except _UnknownError as exc:
            if row < len(sheet.rows):
                asked.ask(
                    "formula-unknown",
                    sheet.name,
                    row + 1,
                    f"{cell} ={text[:40]} {exc}".strip(),
                )
            continue
        _put(sheet, place, value)
        asked.ask(
            "formula",
            sheet.name,
            row + 1,
            f"{cell} ={text[:40]} -> {_said(value)}",
        )


def _said(value: Value) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


_JOINED = re.compile(
    r'(?:"([^"]*)"|\$?([A-Z]{1,3})\$?(\d{1,7}))\s*(?:&\s*|$)', re.IGNORECASE
)


def _put(sheet: ClientSheet, place: tuple[int, int], value: Value) -> None:
    row, column = place
    while len(sheet.rows) <= row:
        sheet.rows.append([])
    cells = sheet.rows[row]
    cells.extend([None] * (column + 1 - len(cells)))
    cells[column] = value


class _Solver:
    """Calculates sums and products of numbers and cells; no text of a file is run."""

    def __init__(self, sheet: ClientSheet) -> None:
        self._sheet = sheet
        self._busy: set[tuple[int, int]] = set()
        self._done: dict[tuple[int, int], float] = {}

    def joined(self, text: str) -> str:
        """Return the text of cells and words joined by &, empty for any other formula."""
        if "&" not in text or len(text) > MOST_LETTERS:
            return ""
        found, at = "", 0
        for match in _JOINED.finditer(text):
            if match.start() != at:
                return ""
            at = match.end()
            if match.group(1) is not None:
                found += match.group(1)
                continue
            row, column = _place(match.group(2).upper(), match.group(3))
            rows = self._sheet.rows
            cells = rows[row] if row < len(rows) else []
            cell = cells[column] if column < len(cells) else None
            if (row, column) in self._sheet.markup.formulas and cell is None:
                return ""
            found += "" if cell is None else _said(cell)
        return found if at == len(text) else ""

    def value(self, place: tuple[int, int]) -> float:
        if place in self._done:
            return self._done[place]
        if place in self._busy:
            raise _UnknownError("(circular)")
        if place not in self._sheet.markup.formulas:
            return self._cell(place)
        if len(self._busy) > 50:
            raise _UnknownError("(too deep)")
        self._busy.add(place)
        try:
            found = self._text(self._sheet.markup.formulas[place])
        finally:
            self._busy.discard(place)
        self._done[place] = found
        return found

    def _cell(self, place: tuple[int, int]) -> float:
        row, column = place
        rows = self._sheet.rows
        cell = (
            rows[row][column] if row < len(rows) and column < len(rows[row]) else None
        )
        number = cell_number(cell)
        if number is None and cell is not None:
            raise _UnknownError
        return number or 0.0

    def _text(self, text: str) -> float:
        if not text or len(text) > MOST_LETTERS or "!" in text or '"' in text:
            raise _UnknownError
        text = re.sub(r"\bSUM\(([^()]*)\)", self._sum, text.upper())
        text = _REF.sub(
            lambda m: f"({self.value(_place(m.group(1), m.group(2)))!r})", text
        )
        if not re.fullmatch(r"[\d.+\-*/() eE]*", text):
            raise _UnknownError
        try:
            found = _arithmetic(ast.parse(text.strip(), mode="eval").body)
        except (
            SyntaxError,
            ZeroDivisionError,
            OverflowError,
            RecursionError,
            MemoryError,
        ):
            raise _UnknownError from None
        if not math.isfinite(found):
            raise _UnknownError
        return found

    def _sum(self, match: re.Match[str]) -> str:
        total = 0.0
        for part in match.group(1).split(","):
            area = _RANGE.fullmatch(part.strip())
            if not area:
                raise _UnknownError
            a, b = (
                _place(area.group(1), area.group(2)),
                _place(area.group(3), area.group(4)),
            )
            if (b[0] - a[0] + 1) * (b[1] - a[1] + 1) > 10_000:
                raise _UnknownError
            for row in range(a[0], b[0] + 1):
                for column in range(a[1], b[1] + 1):
                    total += self.value((row, column))
        return repr(total)


def _place(letters: str, row: str) -> tuple[int, int]:
    return int(row) - 1, column_index(letters)


def _arithmetic(node: ast.AST) -> float:
    """Return the value of numbers joined by + - * /, or refuse anything else."""
    if isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        return float(node.value)
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub | ast.UAdd):
        value = _arithmetic(node.operand)
        return -value if isinstance(node.op, ast.USub) else value
    if isinstance(node, ast.BinOp) and type(node.op) in _OPERATORS:
        return _OPERATORS[type(node.op)](
            _arithmetic(node.left), _arithmetic(node.right)
        )
    raise _UnknownError
