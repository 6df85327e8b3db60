"""Every number of a site, claims or parts file has the ends that are written down here.

Stability, not truth: `field_bounds.toml` was written from the fields once, read row by
row for sense, and is now what a change has to answer to.  The ends are asked of the
reader as a file would write them, so a bound that is declared and not used fails too.
"""

from __future__ import annotations

import importlib
import math
import pkgutil
import re
import tomllib
import typing
from pathlib import Path

import annotated_types
import pytest
from pydantic import TypeAdapter, ValidationError
from reference import together

import powerbudget
from powerbudget.errors import InputError
from powerbudget.site.fields import FieldUnit, Strict
from powerbudget.site.monthly import Twelve

FILE = Path(__file__).with_name("field_bounds.toml")
BOUNDS = tomllib.loads(FILE.read_text("utf-8"))
ENDS = re.compile(r"^([\[(])(\S+), (\S+)([\])])$")
LIMITS = (
    annotated_types.Ge,
    annotated_types.Gt,
    annotated_types.Le,
    annotated_types.Lt,
)
WAYS = (
    "{} %",
    "{}",
    "{} {unit}",
    "{} V",
    "{} W",
    "{} Wh/day",
    "{} deg",
    "{} kPa",
    "{} y",
)
"""How a file may write a number; the first that is understood is used."""


def tables():
    """Return every table of a file by name, with its module imported."""
    for info in pkgutil.walk_packages(powerbudget.__path__, "powerbudget."):
        if re.search(r"\.site\.|\.claim_tables$", info.name):
            importlib.import_module(info.name)
    found, left = {}, list(Strict.__subclasses__())
    while left:
        table = left.pop()
        found[table.__name__] = table
        left += table.__subclasses__()
    return found


def fields():
    """Return the fields with a bound by ``table.field``."""
    return {
        f"{name}.{key}": field
        for name, table in tables().items()
        for key, field in table.model_fields.items()
        if key in vars(table).get("__annotations__", {})
        and any(isinstance(mark, LIMITS) for mark in marks(whole(field)))
    }


def whole(field):
    """Return the annotation of a field with what pydantic has taken off it."""
    kept = field.annotation
    for mark in field.metadata:
        kept = typing.Annotated[kept, mark]
    return kept


def marks(annotation):
    """Yield all that is said of an annotation and of what it holds."""
    for mark in getattr(annotation, "__metadata__", ()):
        yield from getattr(mark, "metadata", [mark])
    for inner in typing.get_args(annotation):
        yield from marks(inner)


def written(way, value, unit):
    """Return a number as a file writes it."""
    if way == "{}":
        return value
    return way.format(f"{100 * value if '%' in way else value:.15f}", unit=unit)


def zone(value):
    """Return hours ahead of UTC as a file writes them, to a minute."""
    hours, minutes = divmod(math.ceil(abs(value) * 60), 60)
    return f"UTC{'-' if value < 0 else '+'}{hours}:{minutes:02d}"


def shapes(value):
    """Yield what a field may want around a number."""
    yield value
    yield [value] * 12
    yield {"key": value}
    yield {"ai": value}


def taken(adapter, value):
    """Return whether the reader takes a value."""
    try:
        adapter.validate_python(value)
    except (ValidationError, InputError):
        return False
    return True


def writer(adapter, inside, unit):
    """Return how a field wants its number written."""
    if taken(adapter, zone(inside)):
        return zone
    for way in WAYS:
        for k, shape in enumerate(shapes(written(way, inside, unit))):
            if taken(adapter, shape):
                return lambda v, way=way, k=k: list(shapes(written(way, v, unit)))[k]
    pytest.fail(f"no way found to write {inside}")


def test_every_field_with_a_bound_is_written_down():
    """A new number gets its ends here, and one that is gone leaves."""
    kept = {f"{name}.{key}" for name, rows in BOUNDS.items() for key in rows}
    found = set(fields())
    assert found == kept, (
        f"write into {FILE.name}: {found - kept}; gone: {kept - found}"
    )


@together.parametrize("name", BOUNDS)
def test_both_ends_of_every_field_of_a_table(name):
    """At a closed end the number is taken, just beyond it refused."""
    table = tables()[name]
    wrong = []
    for key, ends in BOUNDS[name].items():
        annotation = whole(table.model_fields[key])
        wrong += [f"{key} {ends}: {w}" for w in _wrong(annotation, ends)]
    assert not wrong


def _wrong(annotation, ends):
    left, low, high, right = ENDS.match(ends).groups()
    adapter = TypeAdapter(annotation)
    integer = not {".", "e"} & set(low + high)
    low, high = (int(low), int(high)) if integer else (float(low), float(high))
    unit = next(
        (m.target for m in marks(annotation) if isinstance(m, FieldUnit | Twelve)), ""
    )
    open_ended = math.isinf(high)
    top = low + 1e9 if open_ended else high
    middle = (low + top) // 2 if integer else (low + top) / 2
    write = writer(adapter, middle, unit)
    step = 1 if integer else 1e-6 * max(abs(low), abs(top))
    asked = {
        low: left == "[", low - step: False, low + step: True, top - step: True,
        top: right == "]" or open_ended, top + step: open_ended,
    }  # fmt: skip
    return [
        f"{value} {'refused' if inside else 'taken'}"
        for value, inside in asked.items()
        if taken(adapter, write(value)) != inside
    ]
