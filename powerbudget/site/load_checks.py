"""Checks of the load tables among themselves: traffic, schedules, racks, shedding."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from powerbudget.errors import Fault, nearest
from powerbudget.quantities import show
from powerbudget.reading import why_not
from powerbudget.site.load import HeatedBox, Load, Rack, Traffic
from powerbudget.site.parts import Part
from powerbudget.site.tables import Bus


def faults(
    pieces: dict[str, Any], parts: dict[str, Part], folder: Path
) -> Iterator[Fault]:
    """Return every fault within and between load tables.

    Parameters
    ----------
    pieces
        Tables by key; None where a table could not be read.
    parts
        Parts by name.
    folder
        Folder of the site file, for relative paths.

    Yields
    ------
    Fault
        One for each thing that does not fit.
    """
    bus = pieces.get("bus")
    if bus is not None:
        yield from _steps(bus, pieces)
    for number, load in enumerate(pieces.get("load") or (), start=1):
        if load is not None:
            where = f"load[{number}] ({load.name})"
            if load.traffic is not None:
                yield from _traffic(f"{where}.traffic", load.traffic)
            yield from _schedule(where, load)
            yield from _measured(where, load, folder)
    rack = pieces.get("rack")
    if rack is not None:
        yield from _rack(rack, pieces, parts, folder)


def _traffic(where: str, traffic: Traffic) -> Iterator[Fault]:
    points = (traffic.analog_points, traffic.counter_points, traffic.binary_points)
    ways = ("registers", "bytes_sent", "points")
    said = [
        traffic.registers is not None,
        traffic.bytes_sent is not None,
        any(p is not None for p in points),
    ]
    if traffic.sessions_per_day is not None:
        yield from _sessions(where, traffic, polled=any(said))
        return
    if sum(said) != 1:
        yield Fault(
            where,
            "needs exactly one of registers, bytes_sent and points",
            " and ".join(name for name, given in zip(ways, said, strict=True) if given)
            or "none of them",
            "registers = 20, bytes_sent = 45, or analog_points = 10 with "
            "counter_points and binary_points",
        )
    if traffic.bit_rate_bit_s is None:
        yield Fault(
            f"{where}.bit_rate",
            "is missing",
            allowed="a bit rate, such as '9600 bit/s'",
        )
    yield from _protocol(where, traffic, registers=said[0], points=said[2])
    yield from _role(where, traffic)
    if bool(traffic.storm_h_per_day) != bool(traffic.storm_reports_per_hour):
        yield Fault(
            f"{where}.storm",
            "needs both its hours a day and its reports an hour",
            allowed="storm = '2 h', storm_reports_per_hour = 3600",
        )


def _sessions(where: str, traffic: Traffic, *, polled: bool) -> Iterator[Fault]:
    if traffic.session_s is None:
        yield Fault(
            where,
            "sessions_per_day needs session = how long one lasts",
            allowed="session = '70 s', registration = '45 s'",
        )
    if traffic.polls_per_hour or polled:
        yield Fault(
            where,
            "has sessions and polls; a modem is either switched on for "
            "sessions or listens all the time",
            advice="leave one of the two out",
        )


def _protocol(
    where: str, traffic: Traffic, *, registers: bool, points: bool
) -> Iterator[Fault]:
    if traffic.protocol == "modbus-rtu" and points:
        yield Fault(
            f"{where}.protocol",
            "does not carry points",
            "modbus-rtu",
            "registers = 20, or protocol = 'dnp3'",
        )
    if traffic.protocol == "dnp3" and registers:
        yield Fault(
            f"{where}.protocol",
            "does not carry registers",
            "dnp3",
            "analog_points, counter_points, binary_points",
        )


def _role(where: str, traffic: Traffic) -> Iterator[Fault]:
    if traffic.role != "station" and not traffic.stations:
        yield Fault(
            f"{where}.stations",
            f"is missing: a {traffic.role} serves how many?",
            allowed="1 or more",
        )
    if traffic.role == "station" and traffic.stations:
        yield Fault(
            f"{where}.stations",
            "belongs to a repeater or master",
            str(traffic.stations),
            "role = 'repeater' or role = 'master'",
        )


def _heated(where: str, load: Load, box: HeatedBox) -> Iterator[Fault]:
    by_area = box.area_m2 is not None and box.insulation_m is not None
    if (box.loss_w_per_k is None) != by_area or (
        box.loss_w_per_k is not None
        and (box.area_m2 is not None or box.insulation_m is not None)
    ):
        yield Fault(
            f"{where}.heater",
            "needs its heat loss, or area and insulation",
            allowed="loss = '1.5 W/degC', or area = '1.2 m2' and insulation = '50 mm'",
        )
    if load.part is None and (load.typical is None or load.typical[0] != "W"):
        yield Fault(
            f"{where}.typical",
            "must be the heater's rating in watts",
            allowed="typical = '50 W'",
        )


def _schedule(where: str, load: Load) -> Iterator[Fault]:
    sampled = load.sampled
    if sampled and sampled.warm_up_s + sampled.sample_s > sampled.interval_s:
        yield Fault(
            f"{where}.sampled",
            "warm-up and sample are longer than the interval",
            f"{sampled.warm_up_s:g} s + {sampled.sample_s:g} s in "
            f"{sampled.interval_s:g} s",
            "together no longer than the interval",
            "sample less often, or leave it on",
        )
    if load.heater is not None:
        yield from _heated(where, load, load.heater)
    if load.strokes and load.strokes.per_day * load.strokes.time_s > 86_400:
        yield Fault(
            f"{where}.strokes",
            "do not fit into a day",
            f"{load.strokes.per_day:g} of {load.strokes.time_s:g} s",
        )
    loop = load.loop
    if loop and loop.kind == "low-power" and load.typical and load.typical[0] == "W":
        yield Fault(
            f"{where}.typical",
            "of a low-power loop is a current",
            allowed="typical = '3 mA'",
        )


def _measured(where: str, load: Load, folder: Path) -> Iterator[Fault]:
    measured = load.measured
    if measured is None:
        return
    place = f"{where}.measured"
    if (measured.file is None) == (measured.spot is None):
        yield Fault(
            place,
            "needs exactly one of file and spot",
            allowed="file = 'log.csv', or spot = '85 mA' for one reading",
        )
    elif measured.file is not None and (problem := why_not(folder / measured.file)):
        yield Fault(
            f"{place}.file",
            problem,
            str(folder / measured.file),
            "a path relative to the site file",
        )
    kept = [
        key
        for key, given in (
            ("typical", load.typical),
            ("traffic", load.traffic),
            ("heater", load.heater),
            ("sampled", load.sampled),
            ("strokes", load.strokes),
            ("seasons", load.seasons),
            ("when", load.when != "always"),
            ("duty", load.duty_frac != 1.0),
        )
        if given
    ]
    if measured.file is not None and kept:
        yield Fault(
            place,
            f"already holds what {', '.join(kept)} would say",
            advice="a log replaces the computed line: leave them out",
        )


def _rack(
    rack: Rack, pieces: dict[str, Any], parts: dict[str, Part], folder: Path
) -> Iterator[Fault]:
    wanted = [
        ("controller", rack.controller, "controller"),
        ("solenoid", rack.solenoid, "valve"),
        ("node", rack.node, "node"),
    ]
    wanted += [(f"cards.{key}", name, "card") for key, name in rack.cards.items()]
    for key, name, kind in wanted:
        names = [part for part, item in parts.items() if item.kind == kind]
        if name not in names:
            yield Fault(
                f"rack.{key}",
                f"is not a {kind} in the parts library",
                repr(name),
                ", ".join(names),
                nearest(name, names),
            )
    feeds = [supply.name for supply in pieces.get("supply") or () if supply is not None]
    for key in (
        "supply",
        "loop_supply",
        "low_power_supply",
        "wetting_supply",
        "solenoid_supply",
    ):
        name = getattr(rack, key)
        if name is not None and name not in feeds:
            yield Fault(
                f"rack.{key}",
                "no [[supply]] has that name",
                repr(name),
                ", ".join(feeds) or "there is no [[supply]] table",
                nearest(name, feeds),
            )
    if rack.io_list is not None and (problem := why_not(folder / rack.io_list)):
        yield Fault(
            "rack.io_list",
            problem,
            str(folder / rack.io_list),
            "a path relative to the site file",
        )


def _steps(bus: Bus, pieces: dict[str, Any]) -> Iterator[Fault]:
    """Check the shedding steps against each other, the disconnect and the loads."""
    first, second = bus.shed_first, bus.shed_second
    loads = [load for load in pieces.get("load") or () if load is not None]
    rack = pieces.get("rack")
    used = {load.priority for load in loads} | ({rack.priority} if rack else set())
    for step, word in ((first, "shed first"), (second, "shed second")):
        key = word.replace(" ", "_")
        if step is None and word in used:
            yield Fault(
                f"bus.{key}",
                f"is missing: a load has priority '{word}'",
                allowed="volts or a state of charge: '23.8 V' or '45 %'",
            )
        back = getattr(bus, f"{key}_return")
        if step is not None:
            yield from _step(f"bus.{key}", step, bus)
            yield from _return(f"bus.{key}_return", step, back)
        elif back is not None:
            yield Fault(f"bus.{key}_return", f"belongs to {key}, which is missing")
    if first and second and first[0] != second[0]:
        yield Fault(
            "bus.shed_second",
            "is not of the same kind as shed_first",
            _show(second),
            "both volts, or both a state of charge",
        )
    elif first and second and second[1] >= first[1]:
        yield Fault(
            "bus.shed_second",
            "must lie below shed_first",
            _show(second),
            f"below {_show(first)}",
        )


def _step(where: str, step: tuple[str, float], bus: Bus) -> Iterator[Fault]:
    kind, value = step
    floor = bus.disconnect_v if kind == "V" else bus.disconnect_soc_frac
    if floor is None:
        other = "volts" if kind == "state" else "a state of charge"
        yield Fault(
            where,
            "is not of the same kind as the final disconnect",
            _show(step),
            f"{other}, as the disconnect",
        )
    elif value <= floor:
        yield Fault(
            where,
            "must lie above the final disconnect",
            _show(step),
            f"above {_show((kind, floor))}",
        )
    if kind == "V" and value > 1.25 * bus.nominal_v:
        yield Fault(
            where,
            "does not fit the bus",
            _show(step),
            f"up to {show(1.25 * bus.nominal_v, 'V')}",
        )


def _return(
    where: str,
    step: tuple[str, float],
    back: tuple[str, float] | None,
) -> Iterator[Fault]:
    """Check that shed loads come back above where they went off."""
    kind, level = step
    if back is not None and back[0] != kind:
        yield Fault(where, "is not of the same kind as its step", _show(back))
        return
    if back is not None and back[1] <= level:
        yield Fault(
            where,
            "must lie above its step, or the loads will chatter",
            _show(back),
            f"above {_show(step)}",
        )


def _show(step: tuple[str, float]) -> str:
    return show(step[1], "V") if step[0] == "V" else f"{100 * step[1]:g} %"
