"""Faults in the words of the site file, from whatever pydantic complains about."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel, ValidationError, WithJsonSchema
from pydantic.fields import FieldInfo

from powerbudget.errors import Fault, nearest
from powerbudget.quantities import KINDS
from powerbudget.site.fields import FieldUnit
from powerbudget.site.monthly import Twelve
from powerbudget.site.tables import Site

LISTS = ("supply", "load", "generator")
"""Tables that are written once for each, in double brackets."""
LONGEST = 10**60
_BOUNDS = ("greater_than", "greater_than_equal", "less_than", "less_than_equal")
_WORDS = {
    "finite_number": "needs a finite number",
    "model_type": "must be a table of keys",
    "model_attributes_type": "must be a table of keys",
    "too_short": "needs at least one",
    "string_too_long": "is too long",
    "string_too_short": "needs a few words",
    "string_pattern_mismatch": "needs small letters, digits and single hyphens, such "
    "as 'my-radio-2'",
    "too_long": "is too long",
    "union_tag_not_found": "needs a name in quotes, or a table of figures",
    "union_tag_invalid": "needs a name in quotes, or a table of figures",
}
"""What a validator's complaint is called here; anything else is "cannot be used"."""
_SHOWN = {
    "V/K": (1000.0, "mV/degC"),
    "1/K": (100.0, "%/degC"),
    "m**2": (1.0, "m2"),
    "m**2/s": (1.0, "m2/s"),
    "%": (100.0, "%"),
    "percent": (100.0, "%"),
    "kWh/m**2/d": (1.0, "kWh/m2/d"),
}
"""Unit that is kept -> its multiple in the unit that people write, and that unit."""


def model_of(info: FieldInfo) -> type[BaseModel] | None:
    """Return the table's model, also inside ``tuple[...]`` and ``... | None``."""
    queue: list[Any] = [info.annotation]
    while queue:
        item = queue.pop()
        if isinstance(item, type) and issubclass(item, BaseModel):
            return item
        queue += get_args(item)
    return None


def written(value: object) -> str:
    """Return what the user wrote, in quotes where it is text, at most 60 letters.

    Examples
    --------
    >>> written(True), written("12,5 V"), written({"x": 1})
    ('true', "'12,5 V'", 'a table')
    """
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict | list):
        return "a table" if isinstance(value, dict) else "a list"
    if isinstance(value, int) and abs(value) > LONGEST:
        return "a number of many digits"
    if isinstance(value, str | int | float):
        text = repr(value)
        return text if len(text) <= 60 else text[:57] + "..."
    return str(value)


def model_faults(
    error: ValidationError, where: str, model: type[BaseModel]
) -> Iterable[Fault]:
    """Turn a pydantic error into faults in the words of the site file.

    Parameters
    ----------
    error
        What pydantic found.
    where
        Path of the table [text].
    model
        The table's model.

    Yields
    ------
    Fault
        One for each key at fault.
    """
    seen: set[str] = set()
    for item in error.errors(include_url=False, include_context=False):
        fault = _fault(dict(item), where, model)
        # One list can hold the same mistake many times; the first says enough.
        key = f"{fault.where}|{fault.problem}"
        if key not in seen:
            seen.add(key)
            yield fault


def _fault(item: dict[str, Any], where: str, model: type[BaseModel]) -> Fault:
    names = [part for part in item["loc"] if isinstance(part, str)]
    table, info, path = _walk(model, names)
    place = ".".join([where, *path])
    kind, given = item["type"], written(item["input"])
    if kind == "extra_forbidden":
        return unknown_key(names[-1], place, _keys(table), item["input"])
    if kind == "missing":
        return Fault(place, "is missing", allowed=_allowed(info))
    if kind in _BOUNDS:
        bare = "%" in marks_of(info) and not isinstance(item["input"], str)
        advice = "write '90 %', or 0.9 without the sign" if bare else ""
        return Fault(place, "is out of range", given, range_of(info), advice)
    if kind == "literal_error":
        options = options_of(info)
        near = nearest(given.strip("'\""), options)
        return Fault(
            place, "is not one of the choices", given, ", ".join(options), near
        )
    if kind == "value_error":
        return Fault(place, str(item["msg"]).removeprefix("Value error, "), given)
    problem = _WORDS.get(kind, "cannot be used as it is written")
    return Fault(place, problem, given, _allowed(info))


def _walk(
    model: type[BaseModel], names: list[str]
) -> tuple[type[BaseModel], FieldInfo | None, list[str]]:
    """Follow a key path; steps that pydantic adds for unions are left out."""
    table, info, path = model, None, []
    for name in names:
        by_key = {f.alias or n: f for n, f in table.model_fields.items()}
        if name not in by_key:
            continue
        info = by_key[name]
        path.append(name)
        inner = model_of(info)
        if inner is not None and name != names[-1]:
            table = inner
    return table, info, path


def _keys(model: type[BaseModel]) -> list[str]:
    return [info.alias or name for name, info in model.model_fields.items()]


def marks_of(info: FieldInfo | None) -> Iterator[Any]:
    """Yield what is attached to a field, also inside ``... | None``."""
    if info is None:
        return
    queue: list[Any] = [*info.metadata, info.annotation]
    while queue:
        item = queue.pop(0)
        if isinstance(item, FieldInfo):
            queue = [*item.metadata, *queue]
        else:
            yield item
            queue += get_args(item)


def options_of(info: FieldInfo | None) -> list[str]:
    """Return the words that a field chooses from [text]."""
    found = [item for item in marks_of(info) if get_origin(item) is Literal]
    return [str(option) for item in found for option in get_args(item)]


def _allowed(info: FieldInfo | None) -> str:
    """Return in words what a field takes, with an example."""
    if options := options_of(info):
        return ", ".join(options)
    return next(filter(None, map(_in_words, marks_of(info))), "")


def _in_words(mark: Any) -> str:
    words = ""
    if isinstance(mark, FieldUnit):
        words = "{}, such as {}".format(*KINDS[mark.target])
    elif mark == "%":
        words = "a share: '15 %', or a number from 0 to 1"
    elif isinstance(mark, WithJsonSchema):
        examples = (mark.json_schema or {}).get("examples", [])
        words = " or ".join(written(example) for example in examples)
    elif isinstance(mark, type) and issubclass(mark, BaseModel):
        words = f"a table with {', '.join(_keys(mark))}"
    elif getattr(mark, "max_length", None):
        words = f"at most {mark.max_length} letters"
    return words


def scale_of(info: FieldInfo | None) -> tuple[float, str]:
    """Return the multiple and the unit in which people write a field's number."""
    scale, unit = 1.0, ""
    for item in marks_of(info):
        if isinstance(item, FieldUnit | Twelve) or item in {"%", "deg", "h"}:
            kept = item if isinstance(item, str) else item.target
            scale, unit = _SHOWN.get(kept, (1.0, kept))
    return scale, unit


def range_of(info: FieldInfo | None) -> str:
    """Return the narrowest bounds of a field, in the unit that people write [text]."""
    scale, unit = scale_of(info)
    low: tuple[float, str] | None = None
    high: tuple[float, str] | None = None
    for item in marks_of(info):
        for name, words in (("ge", "at least"), ("gt", "more than")):
            bound = getattr(item, name, None)
            if isinstance(bound, int | float) and (low is None or bound >= low[0]):
                low = (bound, words)
        for name, words in (("le", "at most"), ("lt", "less than")):
            bound = getattr(item, name, None)
            if isinstance(bound, int | float) and (high is None or bound <= high[0]):
                high = (bound, words)
    ends = [end for end in (low, high) if end is not None]
    if [words for _, words in ends] == ["at least", "at most"]:
        ends = [(ends[0][0], ""), (ends[1][0], "")]
        joint = " to "
    else:
        joint = ", "
    return joint.join(
        f"{words} {figure(scale * bound)} {unit}".strip() for bound, words in ends
    )


def figure(value: float) -> str:
    """Return a number as people write it [text].

    Examples
    --------
    >>> figure(1e6), figure(0.5), figure(5e-8), figure(20)
    ('1,000,000', '0.5', '5e-08', '20')
    """
    return f"{value:,.0f}" if abs(value) >= 10_000 else f"{value:g}"


def unknown_key(key: str, where: str, allowed: list[str], value: object) -> Fault:
    """Return the fault for a key that no table has.

    Parameters
    ----------
    key
        The key as written [text].
    where
        Its table [text].
    allowed
        Keys that the table has [text].
    value
        What was given for it.

    Returns
    -------
    Fault
        With the nearest spelling as advice.
    """
    shown = key if key.isprintable() and len(key) <= 60 else written(key)
    advice = nearest(key, allowed) or _home(key)
    return Fault(
        f"{where}.{shown}" if where else shown,
        "is not a known key",
        written(value),
        ", ".join(allowed),
        advice,
    )


def _home(key: str) -> str:
    """Return a hint when a key belongs to another table."""
    homes = []
    for name, info in Site.model_fields.items():
        model = model_of(info)
        if model is not None and key in _keys(model):
            homes.append(f"[[{name}]]" if name in LISTS else f"[{name}]")
    return f"that key belongs in {' or '.join(homes)}" if homes else ""
