"""Twelve figures in one field: one a month, January first, in one unit."""

from __future__ import annotations

import re
from typing import Any

from pydantic_core import core_schema

from powerbudget.quantities import KINDS, QuantityError, parse, parse_fraction

_NUMBERS = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")


class Twelve:
    """Marks a field that holds one figure a month, January first, in one unit.

    Parameters
    ----------
    target
        A key of `powerbudget.quantities.KINDS`, ``"percent"`` for shares and an
        empty text for plain numbers [text].
    """

    def __init__(self, target: str = "") -> None:
        self.target = target

    def read(self, value: object) -> tuple[float, ...]:
        """Return twelve numbers, a single one repeated, or say what is needed."""
        items = self._items(value)
        if len(items) == 1:
            items *= 12
        if len(items) != 12:
            raise QuantityError(
                f"needs 12 figures, January first, or one for all months; there are "
                f"{len(items)}; such as {self.example}"
            )
        return tuple(self._one(item) for item in items)

    @property
    def example(self) -> str:
        """How the field may be written [text]."""
        if not self.target:
            return "[9, 9, 10, 11, 12, 12, 12, 12, 11, 10, 9, 9]"
        one = KINDS[self.target][1].split("'")[1]
        number, _, unit = one.partition(" ")
        return f"'{' '.join([number] * 3)} ... {unit}'"

    def _items(self, value: object) -> list[object]:
        if isinstance(value, list | tuple):
            return list(value)
        if not isinstance(value, str) or not self.target:
            return [value]
        numbers = _NUMBERS.findall(value.replace("\u2212", "-"))
        unit = value.strip().split(" ")[-1] if numbers else ""
        if len(numbers) < 2 or _NUMBERS.fullmatch(unit):
            return [value] if len(numbers) < 2 else list(numbers)
        rest = value.strip()[: -len(unit)].replace(",", " ").split()
        return [f"{number} {unit}" for number in rest]

    def _one(self, item: object) -> float:
        if self.target == "percent":
            return parse_fraction(item)
        if not self.target:
            if isinstance(item, bool) or not isinstance(item, int | float):
                raise QuantityError(f"needs numbers, such as {self.example}")
            return float(item)
        if not isinstance(item, str):
            raise QuantityError(f"needs text with a unit at its end: {self.example}")
        return parse(item, self.target)

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        """Read text before pydantic checks the numbers."""
        return core_schema.no_info_before_validator_function(self.read, handler(source))

    def __get_pydantic_json_schema__(self, _schema: Any, _handler: Any) -> Any:
        """Tell editors that the value is twelve figures."""
        return {
            "anyOf": [
                {"type": "string"},
                {"type": "number"},
                {"type": "array", "minItems": 1, "maxItems": 12},
            ],
            "description": "one figure a month, January first, such as " + self.example,
        }
