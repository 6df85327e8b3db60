"""Keys of a file as people read them: description, unit, default, range, example.

The one home of a description is its field in a model; unit, default and range follow
from the field's type.  Reference page, terminal and editor schema read them here.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from powerbudget.site.costs import PriceOf
from powerbudget.site.faults import (
    figure,
    marks_of,
    model_of,
    options_of,
    range_of,
    scale_of,
)
from powerbudget.site.fields import InWords
from powerbudget.site.monthly import Twelve
from powerbudget.site.open_site import in_file

PLAIN_UNITS = {
    "_per_hour": "1/h", "_per_day": "1/day", "per_day": "1/day", "_per_year": "1/yr",
    "_per_y": "1/yr", "_per_km": "1/km", "_m_s": "m/s", "_mj_m3": "MJ/m3",
    "_kg_kwh": "kg/kWh", "_kg": "kg", "_k": "K", "_ppm": "ppm", "_years": "yr",
    "_y": "yr", "snow_days": "day", "buses": "V", "horizon": "deg", "per_usd": "currency per USD",
    "_year": "year", "year": "year",
}  # fmt: skip
"""End of a field's name -> unit of its plain number."""
PRICED = frozenset({"module", "battery_unit", "low", "typical", "high"})
"""Plain numbers that are prices, where their table has a currency."""


@dataclass(frozen=True)
class Key:
    """One key of a file.

    Parameters
    ----------
    path
        Tables and key, such as ``battery.box.depth`` [text].
    description, unit, default, range, example
        As people read them; the example as TOML [text].
    """

    path: str
    description: str
    unit: str
    default: str
    range: str
    example: str


@dataclass(frozen=True)
class KeyTable:
    """A table of a file with its keys.

    Parameters
    ----------
    path
        Such as ``battery.box`` [text].
    description
        What it is [text].
    many
        Whether it is written once for each, in double brackets.
    keys
        Its own keys; tables within are tables of their own and keys here too.
    same_as
        Path of an earlier table of the same model, which has the same keys [text].
    kind
        Value of its key ``kind``, where tables of other keys bear the same name [text].
    """

    path: str
    description: str
    many: bool
    keys: tuple[Key, ...]
    same_as: str = ""
    kind: str = ""

    @property
    def head(self) -> str:
        """The table as a file writes it [text]."""
        if not self.path:
            return "(top of the file)"
        if self.kind:
            return f'[[{self.path.split(".")[0]}]] with kind = "{self.kind}"'
        return f"[[{self.path}]]" if self.many else f"[{self.path}]"


def tables_of(
    model: type[BaseModel],
    path: str,
    description: str = "",
    seen: dict[type[BaseModel], str] | None = None,
    *,
    many: bool = False,
) -> Iterator[KeyTable]:
    """Yield the table of a model and those within it, in the order of the fields.

    Parameters
    ----------
    model
        Of the table.
    path
        Its place in the file, empty for the file itself [text].
    description
        What the table is; the model's docstring where empty [text].
    seen
        Models met before, with their path; it is added to.
    many
        Whether the table is written in double brackets.
    """
    seen = {} if seen is None else seen
    words = description or (model.__doc__ or "").split("\n")[0]
    same = seen.setdefault(model, path)
    keys = tuple(_keys(model, path))
    if path:
        yield KeyTable(path, words, many, keys, same if same != path else "")
    for name, info in model.model_fields.items():
        inner = model_of(info)
        if inner is not None and get_origin(info.annotation) is not dict:
            place = _place(path, name, info)
            words, lists = info.description or "", _holds_many(info)
            yield from tables_of(inner, place, words, seen, many=lists)


def _place(path: str, name: str, info: FieldInfo) -> str:
    key = info.alias or (name if path else in_file(name))
    return f"{path}.{key}".lstrip(".")


def _holds_many(info: FieldInfo) -> bool:
    return get_origin(info.annotation) is tuple and any(
        isinstance(arg, type) and issubclass(arg, BaseModel)
        for arg in get_args(info.annotation)
    )


def _keys(model: type[BaseModel], path: str) -> Iterator[Key]:
    own = [name for name in model.model_fields if name in model.__annotations__]
    rest = [name for name in model.model_fields if name not in own]
    for name in own + rest:
        info = model.model_fields[name]
        if path or model_of(info) is None:
            yield key_of(model, name, _place(path, name, info))


def key_of(model: type[BaseModel], name: str, path: str) -> Key:
    """Return a field as a key.

    Parameters
    ----------
    model
        Of its table.
    name
        Of the field [text].
    path
        Of the key in the file [text].
    """
    info = model.model_fields[name]
    return Key(
        path,
        info.description or "",
        unit_of(name, info, priced="currency" in model.model_fields),
        default_of(info),
        range_words(info),
        toml(info.examples[0]) if info.examples else "",
    )


def unit_of(name: str, info: FieldInfo, *, priced: bool = False) -> str:
    """Return the unit in which people write a field, or what else it is [text]."""
    for mark in marks_of(info):
        if isinstance(mark, InWords):
            return mark.unit
        if isinstance(mark, PriceOf):
            per = " or ".join(mark.units)
            return f"currency per {per}" if per else "currency"
    unit = scale_of(info)[1]
    if unit:
        return unit
    if model_of(info) is not None or _is_dict(info):
        return "table"
    if options_of(info):
        return "word"
    return _plain_unit(name, info, priced=priced)


def _plain_unit(name: str, info: FieldInfo, *, priced: bool) -> str:
    kinds = set(_types(info))
    if bool in kinds:
        return "true or false"
    if not kinds & {int, float}:
        return "text"
    if priced and name in PRICED:
        return "currency"
    ends = (unit for end, unit in PLAIN_UNITS.items() if name.endswith(end))
    return next(ends, "count" if int in kinds else "number")


def _types(info: FieldInfo) -> Iterator[type]:
    queue: list[Any] = [info.annotation]
    while queue:
        item = queue.pop()
        if isinstance(item, type):
            yield item
        queue += get_args(item)


def _is_dict(info: FieldInfo) -> bool:
    return get_origin(info.annotation) is dict


def default_of(info: FieldInfo) -> str:
    """Return a field's default as a file would state it [text]."""
    if info.is_required():
        return "required"
    value = info.default
    if info.default_factory is not None or value is None:
        return "none"
    if isinstance(value, BaseModel) or value in ((), {}, ""):
        return "none"
    if isinstance(value, tuple) and len(set(value)) == 1:
        value = value[0]
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        scale, unit = scale_of(info)
        return f"{figure(scale * value)} {unit}".strip()
    return str(value)


def range_words(info: FieldInfo) -> str:
    """Return what a field accepts [text]."""
    told = next(filter(None, map(_told, marks_of(info))), "")
    return told or ", ".join(options_of(info)) or _bounds(info) or _any(info)


def _told(mark: Any) -> str:
    if getattr(mark, "max_length", None):
        return f"1 to {mark.max_length} characters, one line"
    if isinstance(mark, InWords):
        return mark.range
    return "0 and up" if isinstance(mark, PriceOf) else ""


def _bounds(info: FieldInfo) -> str:
    inner = model_of(info)
    if inner is not None:
        names = [f.alias or n for n, f in inner.model_fields.items()]
        return f"a table with {', '.join(names)}"
    months = any(isinstance(mark, Twelve) for mark in marks_of(info))
    return range_of(info) + "; 12 values, January first, or one" * months


def _any(info: FieldInfo) -> str:
    kinds = set(_types(info))
    if bool in kinds:
        return "true, false"
    if _is_dict(info):
        return "names and values"
    return "any text" if str in kinds else "any number"


def toml(value: object) -> str:
    """Return a value as TOML writes it [text].

    Examples
    --------
    >>> toml({"power": "40 W", "on": True, "pairs": [[1, 2]]})
    '{ power = "40 W", on = true, pairs = [[1, 2]] }'
    """
    if isinstance(value, Mapping):
        inside = ", ".join(f"{_bare(k)} = {toml(v)}" for k, v in value.items())
        return f"{{ {inside} }}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(toml, value))}]"
    return json.dumps(value, ensure_ascii=False)


def _bare(key: str) -> str:
    plain = key.replace("-", "").replace("_", "")
    return key if plain.isalnum() and plain.isascii() else json.dumps(key)


def models_in(model: type[BaseModel]) -> Iterator[type[BaseModel]]:
    """Yield a model and every model within it."""
    yield model
    for info in model.model_fields.values():
        inner = model_of(info)
        if inner is not None:
            yield from models_in(inner)


def hover(schema: dict[str, Any], models: Mapping[str, type[BaseModel]]) -> None:
    """Put default and range as people write them into a JSON Schema.

    Parameters
    ----------
    schema
        With ``$defs`` by the models' names; it is changed.
    models
        By name.
    """
    for name, model in models.items():
        table = schema.get("$defs", {}).get(name, schema)
        for field, info in model.model_fields.items():
            place = table.get("properties", {}).get(info.alias or field)
            if place is None:
                continue
            default, accepted = default_of(info), range_words(info)
            if default not in {"required", "none"}:
                place["default"] = default
            words = [info.description or "", f"Range: {accepted}."]
            words += (
                [f"Default: {default}."] if default != "required" else ["Required."]
            )
            place["description"] = " ".join(filter(None, words))
