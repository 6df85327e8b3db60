"""Checks across tables: dangling names, voltages that do not fit, double names.

Each check takes whatever tables could be read, so that its faults come out beside
those of single keys.
"""

from __future__ import annotations

import glob
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from powerbudget.errors import Fault, nearest
from powerbudget.quantities import show
from powerbudget.site import loadchecks
from powerbudget.site.model import Load, Supply
from powerbudget.site.parts import Part

LOAD_KINDS = (
    "controller", "card", "transmitter", "radio", "device", "network", "panel",
    "detector", "valve", "node",
)  # fmt: skip


def faults(pieces: dict[str, Any], parts: dict[str, Part], folder: Path) -> list[Fault]:
    """Return every fault between tables that could be read.

    Parameters
    ----------
    pieces
        Tables by key; None where a table could not be read.
    parts
        Parts by name.
    folder
        Folder of the site file, for relative paths.

    Returns
    -------
    list of Fault
        Empty when everything fits.
    """
    found: list[Fault] = []
    found += _weather(pieces.get("weather"), folder)
    found += _bus(pieces.get("bus"))
    found += _names(pieces)
    for number, supply in _items(pieces, "supply"):
        where = f"supply[{number}] ({supply.name})"
        found += _supply(where, supply, parts)
        found += _supply_volts(where, supply, pieces.get("bus"), parts)
    for number, load in _items(pieces, "load"):
        found += _load(f"load[{number}] ({load.name})", load, pieces, parts)
    found += loadchecks.faults(pieces, parts, folder)
    found += _empty_list(pieces)
    found += _array(pieces.get("array"), parts)
    found += _battery(pieces.get("battery"), pieces.get("bus"), parts)
    return found


def _items(pieces: dict[str, Any], key: str) -> Iterator[tuple[int, Any]]:
    for number, item in enumerate(pieces.get(key) or (), start=1):
        if item is not None:
            yield number, item


def _found(folder: Path, name: str) -> bool:
    """Return whether a path, or a pattern such as ``"years/*.csv"``, names a file."""
    if any(mark in name for mark in "*?["):
        return bool(glob.glob(str(folder / name)))  # noqa: PTH207 - may be absolute
    return (folder / name).exists()


def _weather(weather: Any, folder: Path) -> Iterator[Fault]:
    if weather is None:
        return
    if (weather.record is None) == (weather.file is None):
        yield Fault(
            "weather", "needs exactly one source",
            allowed='record = "sand-point" (shipped), or file = "path"',
        )  # fmt: skip
    elif weather.file is not None and not _found(folder, weather.file):
        yield Fault(
            "weather.file", "no such file", str(folder / weather.file),
            "a path relative to the site file",
        )  # fmt: skip


def _bus(bus: Any) -> Iterator[Fault]:
    if bus is None:
        return
    volts = (bus.disconnect_v, bus.reconnect_v)
    states = (bus.disconnect_soc_frac, bus.reconnect_soc_frac)
    by_volts, by_state = None not in volts, None not in states
    if by_volts == by_state or (any(v is not None for v in volts) and not by_volts):
        yield Fault(
            "bus", "needs one disconnect rule; there is no safe default",
            allowed="low_voltage_disconnect and low_voltage_reconnect, or "
            "disconnect_state and reconnect_state",
        )  # fmt: skip
        return
    low, high = volts if by_volts else states
    if high <= low:
        yield Fault(
            "bus", "reconnect must lie above disconnect, or the loads will chatter",
            f"disconnect {low:g}, reconnect {high:g}",
        )  # fmt: skip
    if by_volts and not 0.8 <= low / bus.nominal_v <= 1.1:
        yield Fault(
            "bus.low_voltage_disconnect", "does not fit the bus",
            show(low, "V"),
            f"{0.8 * bus.nominal_v:g} V to {1.1 * bus.nominal_v:g} V on a "
            f"{bus.nominal_v:g} V bus",
        )  # fmt: skip


def _names(pieces: dict[str, Any]) -> Iterator[Fault]:
    for key in ("supply", "load"):
        counts = Counter(item.name for _, item in _items(pieces, key))
        for name, count in counts.items():
            if count > 1:
                yield Fault(
                    f"{key}.name", f"is used {count} times", repr(name),
                    "a name of its own for each",
                )  # fmt: skip


def _supply(where: str, supply: Supply, parts: dict[str, Part]) -> Iterator[Fault]:
    names = [name for name, part in parts.items() if part.kind == "converter"]
    if supply.part is not None and supply.part not in names:
        yield Fault(
            f"{where}.part", "is not a converter in the parts library",
            repr(supply.part), ", ".join(names), nearest(supply.part, names),
        )  # fmt: skip
    written = (
        supply.output_v,
        supply.rated_w,
        supply.no_load_w,
        supply.efficiency_frac,
    )
    if supply.part is None and None in written:
        yield Fault(
            where, "needs a part, or its figures written out",
            allowed="output, rated, no_load and efficiency",
        )  # fmt: skip
    elif supply.efficiency_frac == 0:
        yield Fault(f"{where}.efficiency", "must be more than 0", "0")


def _supply_volts(
    where: str, supply: Supply, bus: Any, parts: dict[str, Part]
) -> Iterator[Fault]:
    window = getattr(parts.get(supply.part or ""), "input", None)
    if bus is None or window is None:
        return
    if not window.min <= bus.nominal_v <= window.max:
        yield Fault(
            f"{where}.part",
            f"the converter does not take the {bus.nominal_v:g} V bus",
            repr(supply.part),
            f"{window.min:g} V to {window.max:g} V at its input",
        )


def _load(
    where: str, load: Load, pieces: dict[str, Any], parts: dict[str, Part]
) -> Iterator[Fault]:
    part = parts.get(load.part) if load.part else None
    yield from _load_part(where, load, part, parts)
    yield from _load_figures(where, load, part)
    yield from _load_supply(where, load, pieces)
    yield from _load_volts(where, load, part, pieces, parts)


def _load_part(
    where: str, load: Load, part: Part | None, parts: dict[str, Part]
) -> Iterator[Fault]:
    names = [name for name, item in parts.items() if item.kind in LOAD_KINDS]
    if load.part is not None and load.part not in names:
        yield Fault(
            f"{where}.part",
            "is not a load in the parts library",
            repr(load.part),
            "a name that `powerbudget parts` lists, or draws written out",
            nearest(load.part, names),
        )
    if load.part is None and not (load.typical or load.strokes or load.measured):
        yield Fault(where, "needs a part, or typical = a draw in W or A")
    if load.live_channels is not None and (part is None or part.kind != "card"):
        if load.part is None or part is not None:
            yield Fault(f"{where}.live_channels", "belongs to cards only")
    elif part is not None and part.kind == "card" and load.live_channels is not None:
        if load.live_channels > part.channels:
            yield Fault(
                f"{where}.live_channels", "is more than the card has",
                str(load.live_channels), f"0 to {part.channels}",
            )  # fmt: skip
    if load.traffic is not None and (part is None or part.kind != "radio"):
        yield Fault(f"{where}.traffic", "belongs to radio parts only")


def _load_figures(where: str, load: Load, part: Part | None) -> Iterator[Fault]:
    pairs = (("typical", "maximum"), ("maximum", "peak"), ("typical", "peak"))
    for low, high in pairs:
        a, b = getattr(load, low), getattr(load, high)
        if a and b and a[0] == b[0] and a[1] > b[1]:
            yield Fault(
                f"{where}.{high}", f"is below {low}", f"{b[1]:g} {b[0]}",
                f"at least {a[1]:g} {a[0]}",
            )  # fmt: skip
            return
    del part


def _load_supply(where: str, load: Load, pieces: dict[str, Any]) -> Iterator[Fault]:
    names = [supply.name for _, supply in _items(pieces, "supply")]
    known = names + [
        # A supply that could not be read is still named in the file.
        load.supply or ""
        for supply in pieces.get("supply") or ()
        if supply is None
    ]
    if load.supply is not None and load.supply not in known:
        yield Fault(
            f"{where}.supply", "no [[supply]] has that name", repr(load.supply),
            ", ".join(names) or "there is no [[supply]] table",
            nearest(load.supply, names),
        )  # fmt: skip


def _rail_v(load: Load, pieces: dict[str, Any], parts: dict[str, Part]) -> float | None:
    """Return the nominal volts that feed a load, None when not known."""
    if load.supply is None:
        bus = pieces.get("bus")
        return None if bus is None else float(bus.nominal_v)
    for _, supply in _items(pieces, "supply"):
        if supply.name == load.supply:
            if supply.output_v is not None:
                return float(supply.output_v)
            part: Any = parts.get(supply.part or "")
            return float(part.output) if part and part.kind == "converter" else None
    return None


def _load_volts(
    where: str,
    load: Load,
    part: Part | None,
    pieces: dict[str, Any],
    parts: dict[str, Part],
) -> Iterator[Fault]:
    window = getattr(part, "input", None)
    low = load.minimum_v or (window.min if window else 0.0)
    high = load.maximum_v or (window.max if window else float("inf"))
    rail = _rail_v(load, pieces, parts)
    if low > high:
        yield Fault(f"{where}.minimum_input", "is above maximum_input")
    elif rail is not None and not low <= rail <= high:
        feed = "the bus" if load.supply is None else f"supply {load.supply!r}"
        yield Fault(
            f"{where}.supply", f"the device does not take {rail:g} V from {feed}",
            load.part or load.name, f"{low:g} V to {high:g} V at its terminals",
            "feed it through a [[supply]] with a fitting output",
        )  # fmt: skip


def _empty_list(pieces: dict[str, Any]) -> Iterator[Fault]:
    if "rack" not in pieces and not list(pieces.get("load") or ()):
        yield Fault("load", "a load list of nothing cannot be sized",
                    allowed="[[load]] tables, or a [rack]")  # fmt: skip


def _array(array: Any, parts: dict[str, Part]) -> Iterator[Fault]:
    if array is None or not isinstance(array.module, str):
        return
    names = [name for name, part in parts.items() if part.kind == "module"]
    # Other names are tried in pvlib's module table when the array is built.
    near = nearest(array.module, names)
    if array.module not in names and (near or array.module in parts):
        yield Fault(
            "array.module", "is not a module in the parts library",
            repr(array.module), ", ".join(names), near,
        )  # fmt: skip


def _battery(battery: Any, bus: Any, parts: dict[str, Part]) -> Iterator[Fault]:
    if battery is None:
        return
    unit_v = getattr(battery.unit, "nominal_v", None)
    if isinstance(battery.unit, str):
        names = [name for name, part in parts.items() if part.kind == "battery"]
        part: Any = parts.get(battery.unit)
        if battery.unit not in names:
            yield Fault(
                "battery.unit", "is not a battery in the parts library",
                repr(battery.unit), ", ".join(names), nearest(battery.unit, names),
            )  # fmt: skip
            return
        unit_v = part.nominal
        if part.chemistry != battery.chemistry:
            yield Fault(
                "battery.chemistry", "is not that of the unit",
                battery.chemistry, part.chemistry,
            )  # fmt: skip
    if bus is not None and unit_v is not None:
        bank_v = unit_v * battery.series
        if abs(bank_v / bus.nominal_v - 1) > 0.1:
            yield Fault(
                "battery.series", "the bank does not fit the bus",
                f"{battery.series} x {unit_v:g} V = {bank_v:g} V",
                f"about {bus.nominal_v:g} V",
                f"try series = {max(1, round(bus.nominal_v / unit_v))}",
            )  # fmt: skip
