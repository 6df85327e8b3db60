"""From a TOML file to a checked design: every fault found is reported at once."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from powerbudget.errors import Fault, InputError, nearest
from powerbudget.quantities import KINDS
from powerbudget.site import crosschecks
from powerbudget.site.fields import Unit
from powerbudget.site.model import BatteryUnit, ModuleData, Site
from powerbudget.site.parts import Part, load_parts

LISTS = ("supply", "load")
_BOUNDS = {
    "greater_than": ("gt", "more than"),
    "greater_than_equal": ("ge", "at least"),
    "less_than": ("lt", "less than"),
    "less_than_equal": ("le", "at most"),
}


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
    parts = load_parts(_parts_path(raw, path))
    faults, pieces = _validate(raw)
    folder = path.parent if path else Path()
    faults += crosschecks.faults(pieces, parts, folder)
    if faults:
        raise InputError([_in_file(fault, file) for fault in faults])
    return Design(Site.model_validate(raw), parts, path)


def _in_file(fault: Fault, file: str) -> Fault:
    return Fault(
        fault.where, fault.problem, fault.given, fault.allowed, fault.advice, file
    )


def _text(path: Path) -> str:
    advice = "powerbudget new my-site.toml writes one to start from"
    if path.is_dir():
        raise InputError(
            Fault(str(path), "is a folder; a site file is needed", advice=advice)
        )
    try:
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        raise InputError(Fault(str(path), "no such site file", advice=advice)) from None
    except UnicodeDecodeError:
        advice = "save it as UTF-8 text"
        raise InputError(Fault(str(path), "is not UTF-8 text", advice=advice)) from None
    except OSError as exc:
        raise InputError(Fault(str(path), f"cannot be read: {exc.strerror}")) from None


def _toml(text: str, file: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as exc:
        advice = 'quantities stand in quotes: typical = "1.5 W"'
        raise InputError(
            Fault(file, "is not valid TOML", given=str(exc), advice=advice)
        ) from None


def _parts_path(raw: dict[str, Any], path: Path | None) -> Path | None:
    name = raw.get("parts_file")
    if not isinstance(name, str):
        return None
    return (path.parent if path else Path()) / name


def _validate(raw: dict[str, Any]) -> tuple[list[Fault], dict[str, Any]]:
    """Check each table on its own, so that one fault does not hide another."""
    faults: list[Fault] = []
    pieces: dict[str, Any] = {}
    fields = Site.model_fields
    for key in raw:
        if key not in fields:
            faults.append(unknown_key(key, "", list(fields), raw[key]))
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
        good = isinstance(value, str)
        return ([] if good else [Fault(key, "needs text", given=repr(value))]), value
    if key not in LISTS:
        return _one(key, value, model)
    if not isinstance(value, list):
        return [Fault(key, f"must be written [[{key}]], once for each")], ()
    faults: list[Fault] = []
    pieces = []
    for number, item in enumerate(value, start=1):
        found, piece = _one(f"{key}[{number}]", item, model)
        faults += found
        pieces.append(piece)
    return faults, pieces


def _one(where: str, value: Any, model: type[BaseModel]) -> tuple[list[Fault], Any]:
    if not isinstance(value, dict):
        return [Fault(where, "must be a table", given=repr(value))], None
    try:
        return [], model.model_validate(value)
    except ValidationError as exc:
        name = value.get("name")
        label = f"{where} ({name})" if isinstance(name, str) and "[" in where else where
        return list(model_faults(exc, label, model)), None


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
    for item in error.errors():
        names = [part for part in item["loc"] if isinstance(part, str)]
        fault = _fault(dict(item), where, names, model)
        # A union reports once for each of its members; the first says enough.
        key = f"{fault.where}|{fault.problem}"
        if key not in seen:
            seen.add(key)
            yield fault


def _fault(
    item: dict[str, Any], where: str, names: list[str], model: type[BaseModel]
) -> Fault:
    table, info, path = _walk(model, names)
    place = ".".join([where, *path])
    kind, given = item["type"], repr(item["input"])
    if kind == "extra_forbidden":
        return unknown_key(names[-1], where, _keys(table), item["input"])
    if kind == "missing":
        return Fault(place, "is missing", allowed=_allowed(info))
    if kind in _BOUNDS:
        name, words = _BOUNDS[kind]
        unit = _unit_of(info)
        return Fault(
            place,
            "is out of range",
            given,
            f"{words} {item['ctx'][name]:g} {unit}".strip(),
        )
    if kind == "literal_error":
        return _literal(place, given, item)
    message = str(item["msg"]).removeprefix("Value error, ")
    return Fault(place, message, given)


def _literal(place: str, given: str, item: dict[str, Any]) -> Fault:
    options = str(item["ctx"]["expected"]).replace(" or ", ", ")
    names = [option.strip("' ") for option in options.split(",")]
    return Fault(
        place, "is not one of the choices", given, ", ".join(names),
        nearest(str(item["input"]), names),
    )  # fmt: skip


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
    return table, info, path or names[-1:]


def _keys(model: type[BaseModel]) -> list[str]:
    return [info.alias or name for name, info in model.model_fields.items()]


def _unit_of(info: FieldInfo | None) -> str:
    for item in info.metadata if info else ():
        if isinstance(item, Unit):
            return item.target.replace("**2", "2")
    return ""


def _allowed(info: FieldInfo | None) -> str:
    for item in info.metadata if info else ():
        if isinstance(item, Unit):
            words, example = KINDS[item.target]
            return f"{words}, such as {example}"
    return ""


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
    place = f"{where}.{key}" if where else key
    given = repr(value)
    shown = given if len(given) < 60 else given[:57] + "..."
    return Fault(
        place, "is not a known key", shown, ", ".join(allowed), nearest(key, allowed)
    )
