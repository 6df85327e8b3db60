"""Checks across tables: dangling names, voltages that do not fit, double names.

Each check takes whatever tables could be read, so that its faults come out beside
those of single keys.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from powerbudget.errors import Fault, nearest
from powerbudget.limits import between
from powerbudget.quantities import plain, show
from powerbudget.reading import matching, why_not
from powerbudget.site import load_checks as loadchecks
from powerbudget.site.battery_checks import battery_faults, regulator_faults
from powerbudget.site.cells import BUS_FRAC, cell_faults
from powerbudget.site.circuit_checks import circuit_faults
from powerbudget.site.costs import cost_faults
from powerbudget.site.generator_checks import generator_faults
from powerbudget.site.load import Load, Supply
from powerbudget.site.module_checks import point_faults
from powerbudget.site.parts import CardPart, Part
from powerbudget.site.sizing_checks import sizing_faults

DANGLING = "in the parts library"
"""How the problem ends where a part's name is not known."""
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
    found += _regulator(pieces.get("regulator"), pieces.get("bus"))
    found += _array(pieces.get("array"), parts)
    found += _battery(pieces.get("battery"), pieces.get("bus"), parts)
    found += battery_faults(pieces.get("battery"))
    found += cell_faults(*_cells(pieces, parts))
    found += regulator_faults(pieces.get("regulator"), pieces.get("bus"))
    found += circuit_faults(pieces)
    found += sizing_faults(*map(pieces.get, ("sizing", "regulator", "criteria")))
    found += generator_faults(pieces)
    found += cost_faults(pieces.get("costs"))
    return found


def _items(pieces: dict[str, Any], key: str) -> Iterator[tuple[int, Any]]:
    for number, item in enumerate(pieces.get(key) or (), start=1):
        if item is not None:
            yield number, item


def _missing(folder: Path, name: str) -> str:
    """Return why a path, or a pattern such as ``"years/*.csv"``, names no file."""
    found = matching(folder, name)
    return next(filter(None, map(why_not, found)), "") if found else "no such file"


def _weather(weather: Any, folder: Path) -> Iterator[Fault]:
    if weather is None:
        return
    sources = ("record", "file", "monthly", "online")
    given = [key for key in sources if getattr(weather, key) is not None]
    if len(given) != 1:
        yield Fault(
            "weather", "needs exactly one source",
            " and ".join(given) or "neither",
            'record = "sand-point" (shipped), file = "path", a table '
            '[weather.monthly], or online = "pvgis"',
        )  # fmt: skip
    elif weather.csv is not None and weather.file is None:
        yield Fault(
            "weather.csv", "describes a file, and none is named", allowed="file"
        )
    elif weather.file is not None and (problem := _missing(folder, weather.file)):
        yield Fault(
            "weather.file",
            problem,
            str(folder / weather.file),
            "a file, its path relative to the site file",
        )


def _bus(bus: Any) -> Iterator[Fault]:
    if bus is None:
        return
    volts = (bus.disconnect_v, bus.reconnect_v)
    states = (bus.disconnect_soc_frac, bus.reconnect_soc_frac)
    by_volts = any(v is not None for v in volts)
    by_state = any(v is not None for v in states)
    if by_volts == by_state or None in (volts if by_volts else states):
        given = "both rules" if by_volts and by_state else "none"
        yield Fault(
            "bus", "needs one disconnect rule; there is no safe default",
            given if by_volts == by_state else "half of a rule",
            "low_voltage_disconnect and low_voltage_reconnect, or "
            "disconnect_state and reconnect_state",
        )  # fmt: skip
        return
    low, high = volts if by_volts else states
    unit = "V" if by_volts else ""
    if high <= low:
        key = "low_voltage_reconnect" if by_volts else "reconnect_state"
        yield Fault(
            f"bus.{key}",
            "reconnect must lie above disconnect, or the loads will chatter",
            f"{high:g} {unit}".strip(), f"more than {low:g} {unit}".strip(),
        )  # fmt: skip
    if by_volts:
        yield from _fits_bus("bus.low_voltage_disconnect", low, bus.nominal_v, 0.8, 1.1)
        yield from _fits_bus("bus.low_voltage_reconnect", high, bus.nominal_v, 0.8, 1.3)


def _fits_bus(
    where: str, volts: float, bus_v: float, low: float, high: float
) -> Iterator[Fault]:
    """Catch a number for another bus, such as 12 V settings on a 24 V bus."""
    if not between(volts, low * bus_v, high * bus_v):
        yield Fault(
            where,
            "does not fit the bus",
            show(volts, "V"),
            f"{low * bus_v:g} V to {high * bus_v:g} V on a {bus_v:g} V bus",
        )


def _regulator(regulator: Any, bus: Any) -> Iterator[Fault]:
    if regulator is None or bus is None or regulator.absorption_v is None:
        return
    volts = regulator.absorption_v
    yield from _fits_bus("regulator.absorption", volts, bus.nominal_v, 1.0, 1.35)


def _names(pieces: dict[str, Any]) -> Iterator[Fault]:
    for key in ("supply", "load", "generator"):
        first: dict[str, int] = {}
        for number, item in _items(pieces, key):
            if item.name in first:
                yield Fault(
                    f"{key}[{number}].name",
                    f"is also the name of {key}[{first[item.name]}]",
                    repr(item.name),
                    "a name of its own for each",
                )
            first.setdefault(item.name, number)


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
    yield from _load_figures(where, load, _rail_v(load, pieces, parts))
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
    if load.part is not None and part is None:
        return
    kind = f"a {part.kind}" if part else "draws written out"
    live = load.live_channels
    if live is not None and not isinstance(part, CardPart):
        yield Fault(f"{where}.live_channels", "belongs to cards only", kind)
    elif isinstance(part, CardPart) and live is not None and live > part.channels:
        yield Fault(
            f"{where}.live_channels", "is more than the card has",
            str(live), f"0 to {part.channels}",
        )  # fmt: skip
    if load.traffic is not None and (part is None or part.kind != "radio"):
        yield Fault(f"{where}.traffic", "belongs to radio parts only", kind)


def _load_figures(where: str, load: Load, rail_v: float | None) -> Iterator[Fault]:
    pairs = (("typical", "maximum"), ("maximum", "peak"), ("typical", "peak"))
    for low, high in pairs:
        a, b = getattr(load, low), getattr(load, high)
        if a is None or b is None or (a[0] != b[0] and rail_v is None):
            continue
        rail = rail_v or 1.0
        least, most = _watts(a, rail), _watts(b, rail)
        if most < least * (1 - 1e-9):
            at = "" if a[0] == b[0] else f" ({plain(most, 3, 'W')} at {rail:g} V)"
            yield Fault(
                f"{where}.{high}", f"is below {low}", f"{b[1]:g} {b[0]}{at}",
                f"at least {a[1]:g} {a[0]}",
            )  # fmt: skip
            return


def _watts(draw: tuple[str, float], rail_v: float) -> float:
    unit, value = draw
    return value if unit == "W" else value * rail_v


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
        yield Fault(
            f"{where}.minimum_input", "is above maximum_input",
            f"{low:g} V and {high:g} V",
        )  # fmt: skip
    elif rail is not None and not low <= rail <= high:
        feed = "the bus" if load.supply is None else f"supply {load.supply!r}"
        yield Fault(
            f"{where}.supply" if load.supply else where,
            f"the device does not take {rail:g} V from {feed}",
            load.part or load.name, f"{low:g} V to {high:g} V at its terminals",
            "feed it through a [[supply]] with a fitting output",
        )  # fmt: skip


def _empty_list(pieces: dict[str, Any]) -> Iterator[Fault]:
    if "rack" in pieces:
        return
    loads = list(pieces.get("load") or ())
    if not loads:
        missing = "load" not in pieces
        yield Fault(
            "load",
            f"the table [[load]] is {'missing' if missing else 'empty'}",
            allowed="[[load]] tables, or a [rack]",
            advice="a load list of nothing cannot be sized",
        )
    elif not any(load is None or _draws(load) for load in loads):
        yield Fault(
            "load", "the load list has no power; a site needs a load",
            "every quantity, duty or typical draw is 0",
        )  # fmt: skip


def _draws(load: Load) -> bool:
    """Return whether a line can draw anything at all."""
    if load.strokes or load.measured:
        return True
    typical = 1.0 if load.typical is None else load.typical[1]
    return load.quantity * load.duty_frac * typical > 0


def _array(array: Any, parts: dict[str, Part]) -> Iterator[Fault]:
    if array is None:
        return
    if not isinstance(array.module, str):
        yield from point_faults(array.module, "array.module")
        return
    if data := getattr(parts.get(array.module), "data", None):
        yield from point_faults(data, array.module)
    names = [name for name, part in parts.items() if part.kind == "module"]
    # Other names are tried in pvlib's module table when the array is built.
    near = nearest(array.module, names)
    if array.module not in names and (near or array.module in parts):
        yield Fault(
            "array.module", "is not a module in the parts library",
            repr(array.module), ", ".join(names), near,
        )  # fmt: skip


def _cells(pieces: dict[str, Any], parts: dict[str, Part]) -> tuple[Any, ...]:
    """Return battery, its nameplate where it is known, charge controller and bus."""
    battery: Any = pieces.get("battery")
    unit = getattr(battery, "unit", None)
    if isinstance(unit, str):
        part: Any = parts.get(unit)
        known = part is not None and part.kind == "battery"
        unit = part if known and part.chemistry == battery.chemistry else None
    return battery, unit, pieces.get("regulator"), pieces.get("bus")


def _other_count(series: int, bus_v: float, unit_v: float) -> str:
    """Return what would make a bank fit its bus, another count or another bus [text]."""
    count = max(1, round(bus_v / unit_v))
    if count != series and abs(count * unit_v / bus_v - 1) <= BUS_FRAC:
        return f"try series = {count}"
    return f'state bus.nominal = "{series * unit_v:g} V", or take other batteries'


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
        if abs(bank_v / bus.nominal_v - 1) > BUS_FRAC:
            yield Fault(
                "battery.series", "the battery does not match the bus",
                f"{battery.series} x {unit_v:g} V = {bank_v:g} V",
                f"about {bus.nominal_v:g} V",
                _other_count(battery.series, bus.nominal_v, unit_v),
            )  # fmt: skip
