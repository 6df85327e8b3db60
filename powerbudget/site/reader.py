"""From a TOML file to a checked design: every fault found is reported at once."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel, ValidationError, WithJsonSchema
from pydantic.fields import FieldInfo

from powerbudget.errors import Fault, InputError, nearest
from powerbudget.quantities import KINDS, QuantityError
from powerbudget.site import crosschecks
from powerbudget.site.fields import Unit, one_line
from powerbudget.site.model import BatteryUnit, ModuleData, Site
from powerbudget.site.parts import Part, load_parts

LISTS = ("supply", "load")
BIGGEST_BYTES = 2_000_000
_PLACE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)")
_BARE_QUANTITY = re.compile(r"=\s*[+-]?[\d.,]+\s*[A-Za-z%°µΩ]")
_BOUNDS = ("greater_than", "greater_than_equal", "less_than", "less_than_equal")
_WORDS = {
    "finite_number": "needs a finite number",
    "model_type": "must be a table of keys",
    "model_attributes_type": "must be a table of keys",
    "too_short": "needs at least one",
    "string_too_long": "is too long",
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
}
"""Unit that is kept -> its multiple in the unit that people write, and that unit."""


@dataclass(frozen=True)
class Design:
    """A checked site with its parts at hand.

    Parameters
    ----------
    tables
        The site file's tables, in SI units.
    parts
        Built-in parts and the user's own, by name.
    path
        The site file, or None when it came as text.
    """

    tables: Site
    parts: dict[str, Part]
    path: Path | None = None

    @property
    def folder(self) -> Path:
        """Folder against which relative paths in the file are read [path]."""
        return self.path.parent if self.path else Path()

    @property
    def module_data(self) -> ModuleData | str:
        """Module points, or a name in pvlib's table [ModuleData or text]."""
        module = self.tables.array.module
        if isinstance(module, str) and module in self.parts:
            return self.parts[module].data  # type: ignore[union-attr]
        return module

    @property
    def battery_unit(self) -> BatteryUnit:
        """The battery unit's name-plate [BatteryUnit]."""
        unit = self.tables.battery.unit
        if isinstance(unit, BatteryUnit):
            return unit
        part: Any = self.parts[unit]
        return BatteryUnit.model_construct(
            nominal_v=part.nominal,
            capacity_ah=part.capacity,
            hour_rate_h=part.hour_rate,
        )


def read_site(path: str | Path) -> Design:
    """Read a site file and refuse it with every fault, or return the design.

    Parameters
    ----------
    path
        TOML site file [path].

    Returns
    -------
    Design
        Checked tables and parts.

    Raises
    ------
    InputError
        With one fault for everything that cannot be used.
    """
    path = Path(path)
    return read_site_text(_text(path), path=path)


def read_site_text(text: str, path: Path | None = None) -> Design:
    """Read a site from text, as `read_site` does from a file.

    Parameters
    ----------
    text
        Contents of a site file [TOML].
    path
        Where it stands, for messages and relative paths [path].

    Returns
    -------
    Design
        Checked tables and parts.

    Raises
    ------
    InputError
        With one fault for everything that cannot be used.
    """
    file = str(path) if path else "site"
    raw = _toml(text, file)
    folder = path.parent if path else Path()
    parts, broken = _library(raw, folder)
    faults, pieces = _validate(raw)
    across = crosschecks.faults(pieces, parts, folder)
    if broken:
        # A name that is missing here may stand in the file that cannot be read.
        across = [f for f in across if not f.problem.endswith(crosschecks.DANGLING)]
    faults += across + broken
    if faults:
        raise InputError([_in_file(fault, file) for fault in faults])
    return Design(Site.model_validate(raw), parts, path)


def _in_file(fault: Fault, file: str) -> Fault:
    return replace(fault, file=fault.file or file)


def _text(path: Path) -> str:
    advice = "powerbudget new my-site.toml writes one to start from"
    try:
        with path.open("rb") as stream:
            content = stream.read(BIGGEST_BYTES + 1)
        if len(content) > BIGGEST_BYTES:
            fault = Fault("file", "is over 2 MB; a site file is a page of text")
        else:
            return content.decode("utf-8-sig")
    except FileNotFoundError:
        fault = Fault("file", "does not exist", advice=advice)
    except UnicodeDecodeError as exc:
        line = content.count(b"\n", 0, exc.start) + 1
        fault = Fault(f"line {line}", "is not UTF-8 text", advice="save it as UTF-8")
    except IsADirectoryError:
        fault = Fault("file", "is a folder; a site file is needed", advice=advice)
    except (OSError, ValueError) as exc:
        reason = getattr(exc, "strerror", None) or str(exc)
        fault = Fault("file", f"cannot be read: {reason.lower()}")
    raise InputError(_in_file(fault, str(path)))


def _toml(text: str, file: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as exc:
        fault = _toml_fault(str(exc), text)
    except RecursionError:
        fault = Fault("file", "tables or lists are nested too deeply")
    raise InputError(_in_file(fault, file))


def _toml_fault(message: str, text: str) -> Fault:
    """Return the fault of a file that is not TOML, with the line at fault."""
    match = _PLACE.search(message)
    where, line = "end", ""
    if match and match.group(1):
        where = f"line {match.group(1)}, column {match.group(2)}"
        line = text.split("\n")[int(match.group(1)) - 1]
    advice = "check the quotes, brackets and equals signs there"
    if message.startswith("Cannot"):
        advice = "it stands twice; tables that repeat need double brackets: [[load]]"
    elif any(mark in line for mark in "“”„‘’"):
        advice = "use straight quotes"
    elif _BARE_QUANTITY.search(line):
        advice = 'quantities stand in quotes: typical = "1.5 W"'
    problem = f"is not valid TOML: {_PLACE.sub('', message).lower()}"
    return Fault(where, problem, line.strip()[:80], advice=advice)


def _library(raw: dict[str, Any], folder: Path) -> tuple[dict[str, Part], list[Fault]]:
    """Return the parts, and what is wrong with the file in ``parts_file``."""
    name = raw.get("parts_file")
    if not isinstance(name, str) or not name.isprintable() or not name.strip():
        return load_parts(), []
    path = folder / name.strip()
    if not path.is_file():
        problem = "is a folder, not a file" if path.is_dir() else "no such file"
        allowed = "a path relative to the site file"
        return load_parts(), [Fault("parts_file", problem, str(path), allowed)]
    try:
        return load_parts(path), []
    except InputError as exc:
        return load_parts(), list(exc.faults)


def _validate(raw: dict[str, Any]) -> tuple[list[Fault], dict[str, Any]]:
    """Check each table on its own, so that one fault does not hide another."""
    faults: list[Fault] = []
    pieces: dict[str, Any] = {}
    fields = Site.model_fields
    known = list(fields)
    faults += [
        unknown_key(key, "", known, value)
        for key, value in raw.items()
        if key not in fields
    ]
    for key, info in fields.items():
        if key not in raw:
            if info.is_required():
                faults.append(_missing_table(key))
            continue
        found, piece = _table(key, raw[key], info)
        faults += found
        pieces[key] = piece
    return faults, pieces


def _missing_table(key: str) -> Fault:
    written = f"[[{key}]]" if key in LISTS else f"[{key}]"
    what = "a load list of nothing cannot be sized" if key == "load" else ""
    return Fault(key, f"the table {written} is missing", advice=what)


def _model(info: FieldInfo) -> type[BaseModel] | None:
    """Return the table's model, also inside ``tuple[...]`` and ``... | None``."""
    queue: list[Any] = [info.annotation]
    while queue:
        item = queue.pop()
        if isinstance(item, type) and issubclass(item, BaseModel):
            return item
        queue += get_args(item)
    return None


def _table(key: str, value: Any, info: FieldInfo) -> tuple[list[Fault], Any]:
    model = _model(info)
    if model is None:
        return _plain(key, value), value
    if key not in LISTS:
        return _one(key, value, model)
    if not isinstance(value, list):
        problem = f"must be written [[{key}]], once for each"
        return [Fault(key, problem, written(value))], (None,)
    faults: list[Fault] = []
    pieces = []
    for number, item in enumerate(value, start=1):
        found, piece = _one(f"{key}[{number}]", item, model)
        faults += found
        pieces.append(piece)
    return faults, pieces


def _plain(key: str, value: Any) -> list[Fault]:
    """Check a key at the top that is no table."""
    try:
        one_line(value)
    except QuantityError as exc:
        return [Fault(key, str(exc), written(value), "a path")]
    return []


def _one(where: str, value: Any, model: type[BaseModel]) -> tuple[list[Fault], Any]:
    if not isinstance(value, dict):
        allowed = "" if "[" in where else f"[{where}] and its keys, once"
        return [Fault(where, "must be a table of keys", written(value), allowed)], None
    try:
        return [], model.model_validate(value)
    except ValidationError as exc:
        name = value.get("name")
        known = isinstance(name, str) and name.isprintable() and len(name) <= 60
        label = f"{where} ({name})" if known and "[" in where else where
        return list(model_faults(exc, label, model)), None


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
        bare = "%" in _marks(info) and not isinstance(item["input"], str)
        advice = "write '90 %', or 0.9 without the sign" if bare else ""
        return Fault(place, "is out of range", given, _range(info), advice)
    if kind == "literal_error":
        options = _options(info)
        near = nearest(str(item["input"]), options)
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
        inner = _model(info)
        if inner is not None and name != names[-1]:
            table = inner
    return table, info, path


def _keys(model: type[BaseModel]) -> list[str]:
    return [info.alias or name for name, info in model.model_fields.items()]


def _marks(info: FieldInfo | None) -> Iterator[Any]:
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


def _options(info: FieldInfo | None) -> list[str]:
    found = [item for item in _marks(info) if get_origin(item) is Literal]
    return [str(option) for item in found for option in get_args(item)]


def _allowed(info: FieldInfo | None) -> str:
    """Return in words what a field takes, with an example."""
    if options := _options(info):
        return ", ".join(options)
    return next(filter(None, map(_in_words, _marks(info))), "")


def _in_words(mark: Any) -> str:
    words = ""
    if isinstance(mark, Unit):
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


def _range(info: FieldInfo | None) -> str:
    """Return the narrowest bounds of a field, in the unit that people write."""
    scale, unit = 1.0, ""
    low: tuple[float, str] | None = None
    high: tuple[float, str] | None = None
    for item in _marks(info):
        if isinstance(item, Unit) or item in {"%", "deg", "h"}:
            kept = item.target if isinstance(item, Unit) else item
            scale, unit = _SHOWN.get(kept, (1.0, kept))
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
        f"{words} {scale * bound:g} {unit}".strip() for bound, words in ends
    )


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
        model = _model(info)
        if model is not None and key in _keys(model):
            homes.append(f"[[{name}]]" if name in LISTS else f"[{name}]")
    return f"that key belongs in {' or '.join(homes)}" if homes else ""
