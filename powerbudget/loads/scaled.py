"""A budget with so many times the load: every figure of it, or none would agree."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

if TYPE_CHECKING:
    from powerbudget.loads.budget import Budget

T = TypeVar("T")
_UNITS = ("_w", "_a", "_s", "_wh", "_ah", "wh_per_day", "ah_per_day")
_ONE_PIECE = ("peak_a",)
"""Of one piece at its own terminals: more pieces draw no more each."""


def scaled_budget(budget: Budget, factor: float) -> Budget:
    """Return a budget with every load at the bus so many times as large.

    Parameters
    ----------
    budget
        From `powerbudget.loads.budget.load_budget`.
    factor
        On watts, amperes, siemens and watt-hours; converters, controller and leakage
        with the loads [ratio].

    Returns
    -------
    Budget
        As with so many more pieces of each, controllers and converters too; shares,
        duty cycles, volts and what one piece draws stay.

    Examples
    --------
    >>> from powerbudget.loads.budget import load_budget
    >>> from powerbudget.site.starter import starter_design
    >>> one = load_budget(starter_design())
    >>> two = scaled_budget(one, 2.0)
    >>> two.peak_a / one.peak_a, two.peak_w / one.peak_w, two.typical_w / one.typical_w
    (2.0, 2.0, 2.0)
    """
    if factor == 1.0:
        return budget
    lines = tuple(_scaled(line, factor, _ONE_PIECE) for line in budget.lines)
    slices = tuple(replace(s, amount=factor * s.amount) for s in budget.slices)
    return replace(_scaled(budget, factor), lines=lines, slices=slices)


def _scaled(thing: T, factor: float, but: tuple[str, ...] = ()) -> T:
    """Return a dataclass with its powers, currents and energies scaled."""
    changes: dict[str, Any] = {}
    for field in fields(thing):  # type: ignore[arg-type]
        if field.name.endswith(_UNITS) and field.name not in but:
            changes[field.name] = _times(getattr(thing, field.name), factor)
    found: T = replace(thing, **changes)  # type: ignore[type-var]
    return found


def _times(value: Any, factor: float) -> Any:
    if isinstance(value, dict):
        return {name: factor * amount for name, amount in value.items()}
    if isinstance(value, np.ndarray | float | int):
        return factor * value
    raise TypeError(f"a figure of the budget is {type(value).__name__}")
