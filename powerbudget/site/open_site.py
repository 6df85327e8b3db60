"""A site file that leaves the array, the battery or the charge controller open."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from powerbudget.quantities import QuantityError, parse
from powerbudget.site.parts import BatteryPart, ModulePart, Part

CHARGE_CONTROLLER = "charge_controller"
"""The name in a site file of the table that is called ``regulator`` inside."""
OPEN = ("array", "regulator", "battery")
"""Tables that a site file may leave out where `size` is to find them."""
FINDS_IT = "`powerbudget size FILE --write` finds one and puts it into the file"
"""Advice where a table that may be left open is missing."""
ABOVE_BUS = 1.3
"""Voltage of a string at maximum power over that of the bus: enough to charge when the
modules are hot (judgment) [ratio]."""


def in_file(table: str) -> str:
    """Return the name that a table of the program has in a site file [text].

    Examples
    --------
    >>> in_file("regulator"), in_file("array")
    ('charge_controller', 'array')
    """
    return CHARGE_CONTROLLER if table == "regulator" else table


def open_tables(raw: Mapping[str, Any]) -> tuple[str, ...]:
    """Return the tables that a site file leaves to be found.

    Parameters
    ----------
    raw
        Tables of the file, unchecked.

    Examples
    --------
    >>> open_tables({"battery": {}}), open_tables({"generator": [{}], "battery": {}})
    (('array', 'regulator'), ())
    """
    # A site with a generator may do without panels: nothing is open there.
    needed = ("battery",) if raw.get("generator") and "array" not in raw else OPEN
    return tuple(name for name in needed if name not in raw)


def strings_of_unit(unit_v: float, bus_v: float) -> int:
    """Return how many battery units in series make a bus, 0 where none do [count].

    Examples
    --------
    >>> strings_of_unit(12.8, 24.0), strings_of_unit(6.0, 12.0), strings_of_unit(12.0, 6.0)
    (2, 2, 0)
    """
    series = max(1, round(bus_v / unit_v))
    return series if abs(series * unit_v / bus_v - 1) <= 0.1 else 0


def battery_table(part: BatteryPart, bus_v: float) -> dict[str, Any]:
    """Return one string of a battery unit as a table of a site file."""
    series = max(1, strings_of_unit(part.nominal, bus_v))
    return {
        "chemistry": part.chemistry,
        "unit": part.name,
        "series": series,
        "parallel": 1,
    }


def array_table(part: ModulePart, latitude_deg: float, bus_v: float) -> dict[str, Any]:
    """Return one string of a module, turned to the equator, as a table of a site file."""
    series = 1
    while series * part.data.max_power_v < ABOVE_BUS * bus_v:
        series += 1
    return {
        "module": part.name,
        "series": series,
        "parallel": 1,
        "tilt": f"{round(abs(latitude_deg))} deg",
        "azimuth": "south" if latitude_deg >= 0 else "north",
    }


def regulator_table() -> dict[str, Any]:
    """Return a charge controller of the usual kind as a table of a site file."""
    return {"kind": "mppt"}


def filled(raw: Mapping[str, Any], parts: Mapping[str, Part]) -> dict[str, Any]:
    """Return the tables of a file with stand-ins for those that it leaves open.

    Parameters
    ----------
    raw
        Tables of the file, unchecked.
    parts
        Parts by name.
    """
    bus_v, latitude = _figure(raw, "bus", "nominal", "V"), 0.0
    bus_v = bus_v or 12.0
    batteries = [p for p in parts.values() if isinstance(p, BatteryPart)]
    fits = [p for p in batteries if strings_of_unit(p.nominal, bus_v)] or batteries
    module = next(p for p in parts.values() if isinstance(p, ModulePart))
    made = {
        "array": array_table(module, latitude, bus_v),
        "regulator": regulator_table(),
        "battery": battery_table(fits[0], bus_v),
    }
    return {**raw, **{name: made[name] for name in open_tables(raw)}}


def _figure(raw: Mapping[str, Any], table: str, key: str, unit: str) -> float:
    """Return a quantity of an unchecked table, 0 where it cannot be read."""
    found = raw.get(table)
    value = found.get(key) if isinstance(found, dict) else None
    try:
        return parse(value, unit) if isinstance(value, str) else 0.0
    except QuantityError:
        return 0.0
