"""Small cases of one claim as one test: each as a test of its own costs more than it does."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Sequence
from reprlib import Repr
from typing import Any

import pytest

SHORT = Repr()
SHORT.maxstring = SHORT.maxother = 100
FAULTS = (Exception, pytest.fail.Exception)


def parametrize(
    names: str | Sequence[str], values: Iterable[Any]
) -> Callable[..., Callable[..., None]]:
    """Return a decorator like pytest's of this name, but all cases are one test.

    Every case is tried, and the failure names each that failed.  For cases that share
    nothing and change nothing: a fixture is made once for all of them.
    """
    words = names.split(",") if isinstance(names, str) else names
    words = [word.strip() for word in words]
    rows = [value if len(words) > 1 else [value] for value in values]
    given = [dict(zip(words, row, strict=True)) for row in rows]

    def decorate(test: Callable[..., None]) -> Callable[..., None]:
        inner, further, filled = getattr(test, "family", (test, [{}], []))
        cases = [{**one, **other} for one in given for other in further]
        return _family(inner, cases, [*words, *filled])

    return decorate


def _family(
    inner: Callable[..., None], cases: list[dict[str, Any]], filled: list[str]
) -> Any:
    """Return a test of all cases; a list of none is a fault of the test."""

    def tried(**fixtures: Any) -> None:
        assert cases, "no case to try"
        faults = {}
        for case in cases:
            try:
                inner(**case, **fixtures)
            except FAULTS as fault:
                shown = ", ".join(f"{k}={SHORT.repr(v)}" for k, v in case.items())
                faults[shown] = fault
        said = [f"[{case}] {type(x).__name__}: {x}" for case, x in faults.items()]
        if faults:
            head = f"{len(said)} of {len(cases)} cases:"
            raise AssertionError("\n".join([head, *said])) from next(
                iter(faults.values())
            )

    wanted = inspect.signature(inner).parameters.items()
    free = [parameter for name, parameter in wanted if name not in filled]
    tried.__signature__ = inspect.Signature(free)  # what pytest reads the fixtures from
    tried.__name__, tried.__qualname__ = inner.__name__, inner.__qualname__
    tried.__module__, tried.__doc__ = inner.__module__, inner.__doc__
    tried.family = (inner, cases, filled)
    return tried
