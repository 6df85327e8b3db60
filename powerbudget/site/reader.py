"""From a TOML file to a checked design: every fault found is reported at once."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from powerbudget.data.figures import Status
from powerbudget.errors import Fault, InputError, nearest
from powerbudget.quantities import QuantityError
from powerbudget.reading import PAGE_BYTES, read_text, why_not
from powerbudget.site import cross_checks as crosschecks
from powerbudget.site.faults import (
    LISTS,
    model_faults,
    model_of,
    unknown_key,
    written,
)
from powerbudget.site.fields import one_line
from powerbudget.site.open_site import (
    CHARGE_CONTROLLER,
    FINDS_IT,
    OPEN,
    filled,
    open_tables,
)
from powerbudget.site.parts import Part, load_parts
from powerbudget.site.tables import BatteryUnit, ModuleData, Site

_PLACE = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)")
_BARE_QUANTITY = re.compile(r"=\s*[+-]?[\d.,]+\s*[A-Za-z%°µΩ]")


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
    left_open
        Tables that the file leaves to be found; stand-ins are in their place.
    """

    tables: Site
    parts: dict[str, Part]
    path: Path | None = None
    left_open: tuple[str, ...] = ()

    @property
    def folder(self) -> Path:
        """Folder against which relative paths in the file are read [path]."""
        return self.path.parent if self.path else Path()

    @property
    def own_status(self) -> Status:
        """What a figure of the site file without a source stands on [text]."""
        return "fictitious" if self.tables.site.fictitious else "user input"

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
            cells=None,
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


def read_open_site(path: str | Path) -> Design:
    """Read a site file that may leave array, battery and charge controller open.

    Parameters
    ----------
    path
        TOML site file [path].

    Returns
    -------
    Design
        Checked tables; `Design.left_open` names those that only stand in.

    Raises
    ------
    InputError
        With one fault for everything else that cannot be used.
    """
    path = Path(path)
    return read_site_text(_text(path), path, may_be_open=True)


def read_tables(path: Path) -> dict[str, Any]:
    """Return the tables of a TOML file, or refuse it with the line at fault.

    Parameters
    ----------
    path
        A TOML file [path].

    Returns
    -------
    dict
        Its tables, unchecked.

    Raises
    ------
    InputError
        When it cannot be read or is not TOML.
    """
    return _toml(_text(path), str(path))


def read_site_text(
    text: str, path: Path | None = None, *, may_be_open: bool = False
) -> Design:
    """Read a site from text, as `read_site` does from a file.

    Parameters
    ----------
    text
        Contents of a site file [TOML].
    path
        Where it stands, for messages and relative paths [path].
    may_be_open
        True where array, battery and charge controller may be left out.

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
    if raw and not raw.keys() & {*Site.model_fields, CHARGE_CONTROLLER}:
        # Somebody else's file may hold secrets: none of its keys is told.
        allowed = ", ".join(Site.model_fields)
        raise InputError(Fault("file", "is no site file", "", allowed, file=file))
    older = "regulator" in raw and CHARGE_CONTROLLER not in raw
    controller = "regulator" if older else CHARGE_CONTROLLER
    raw, twice = _one_name(raw)
    folder = path.parent if path else Path()
    parts, broken = _library(raw, folder)
    raw, unknown = _rated(raw, parts)
    left_open = open_tables(raw) if may_be_open else ()
    raw = filled(raw, parts) if left_open else raw
    faults, pieces = _validate(raw)
    across = crosschecks.faults(pieces, parts, folder)
    if broken:
        # A name that is missing here may stand in the file that cannot be read.
        across = [f for f in across if not f.problem.endswith(crosschecks.DANGLING)]
    faults += across + broken + twice + unknown
    if faults:
        named = [_as_written(fault, controller) for fault in faults]
        raise InputError([_in_file(fault, file) for fault in named])
    return Design(Site.model_validate(raw), parts, path, left_open)


def _as_written(fault: Fault, controller: str) -> Fault:
    """Return a fault whose key names the charge controller as the file does [Fault]."""
    table, dot, key = fault.where.partition(".")
    return (
        replace(fault, where=controller + dot + key) if table == "regulator" else fault
    )


def _one_name(raw: dict[str, Any]) -> tuple[dict[str, Any], list[Fault]]:
    """Return the tables with the charge controller under the name used inside."""
    if CHARGE_CONTROLLER not in raw:
        return raw, []
    both = "regulator" in raw
    moved = {
        "regulator" if k == CHARGE_CONTROLLER else k: v
        for k, v in raw.items()
        if not (both and k == "regulator")
    }
    problem = "stands beside [regulator]: both name the charge controller"
    return moved, [Fault(CHARGE_CONTROLLER, problem)] if both else []


def _rated(
    raw: dict[str, Any], parts: dict[str, Part]
) -> tuple[dict[str, Any], list[Fault]]:
    """Return the tables with the figures of a named charge controller written out."""
    table = raw.get("regulator")
    if not isinstance(table, dict) or "part" not in table:
        return raw, []
    part: Any = parts.get(table["part"]) if isinstance(table["part"], str) else None
    if part is None or part.kind != "charge-controller":
        names = [n for n, p in parts.items() if p.kind == "charge-controller"]
        fault = Fault(
            "charge_controller.part", "is not a charge controller in the parts library",
            written(table["part"]), ", ".join(names), nearest(str(table["part"]), names),
        )  # fmt: skip
        known = {key: value for key, value in table.items() if key != "part"}
        return {**raw, "regulator": {"kind": "mppt", **known}}, [fault]
    figures = controller_keys(part)
    if {"efficiency", "losses"} & set(table):
        figures = {
            k: v for k, v in figures.items() if k not in ("efficiency", "losses")
        }
    return {**raw, "regulator": figures | table}, []


def controller_keys(part: Any) -> dict[str, Any]:
    """Return the keys of ``[charge_controller]`` that a part of the library stands for."""
    figures = {
        "kind": part.regulation,
        "maximum_charge_current": f"{part.charge_current:g} A",
        "maximum_input": f"{part.highest_input:g} V",
        "own_current": f"{part.own_current:g} A",
    }
    if part.losses is None:
        figures["efficiency"] = part.efficiency
    else:
        figures["losses"] = part.losses.model_dump(by_alias=True)
    if part.temperature is not None:
        low, high = part.temperature.min, part.temperature.max
        figures["temperature"] = {"min": f"{low:g} °C", "max": f"{high:g} °C"}
    return figures


def _in_file(fault: Fault, file: str) -> Fault:
    return replace(fault, file=fault.file or file)


def _text(path: Path) -> str:
    advice = "powerbudget new my-site.toml writes one to start from"
    return read_text(path, PAGE_BYTES, Fault("file", "", advice=advice, file=str(path)))


def _toml(text: str, file: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as exc:
        fault = _toml_fault(str(exc), text)
    except RecursionError:
        fault = Fault("file", "tables or lists are nested too deeply")
    except ValueError:
        fault = Fault("file", "holds a whole number of thousands of digits")
    raise InputError(_in_file(fault, file))


def _toml_fault(message: str, text: str) -> Fault:
    """Return the fault of a file that is not TOML, with its place.

    The line itself is not told: the file may be anything, and a log is read by many.
    """
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
    return Fault(where, problem, advice=advice)


def _library(raw: dict[str, Any], folder: Path) -> tuple[dict[str, Part], list[Fault]]:
    """Return the parts, and what is wrong with the file in ``parts_file``."""
    name = raw.get("parts_file")
    if not isinstance(name, str) or not name.isprintable() or not name.strip():
        return load_parts(), []
    path = folder / name.strip()
    if problem := why_not(path):
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


_FROM_LISTS = "`powerbudget new` writes a whole site; with --list BOOK from lists"


def _missing_table(key: str) -> Fault:
    written = f"[[{key}]]" if key in LISTS else f"[{key}]"
    what = "a load list of nothing cannot be sized" if key == "load" else ""
    what = FINDS_IT if key in OPEN else _FROM_LISTS if key == "site" else what
    return Fault(key, f"the table {written} is missing", advice=what)


def _table(key: str, value: Any, info: FieldInfo) -> tuple[list[Fault], Any]:
    model = model_of(info)
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
        return list(model_faults(exc, label, model)), _without_strangers(value, model)


def _without_strangers(value: dict[str, Any], model: type[BaseModel]) -> Any:
    """Return the table read without its unknown keys, None where more is wrong.

    A misspelt key must not hide what the rest of its table has wrong.
    """
    keys = {info.alias or name for name, info in model.model_fields.items()}
    try:
        return model.model_validate({k: v for k, v in value.items() if k in keys})
    except ValidationError:
        return None
