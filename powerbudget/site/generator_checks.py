"""Checks of ``[[generator]]`` tables against themselves, each other and the bus."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from powerbudget.data.figures import entries
from powerbudget.errors import Fault
from powerbudget.limits import between
from powerbudget.site.generator import Generator
from powerbudget.site.open_site import FINDS_IT, in_file

BURNS: dict[str, tuple[str, ...]] = {
    name: tuple(entry.words["burns"]) for name, entry in entries("machines").items()
}
"""Fuels that each kind takes."""
FOLLOWS_BATTERY = ("methanol-cell", "solid-oxide-cell", "engine")
"""Kinds that start and stop by the battery unless the file says otherwise."""
NEVER_FOLLOWS = ("thermoelectric", "vapor-turbine", "other")
"""Kinds that burn the same whatever is drawn."""


def runs_always(unit: Generator) -> bool:
    """Return whether a generator burns without asking the battery [flag]."""
    if unit.dispatch is not None:
        return unit.dispatch == "always"
    return unit.kind not in FOLLOWS_BATTERY


def follows_load(unit: Generator) -> bool:
    """Return whether its fuel depends on what the bus takes [flag]."""
    return not (runs_always(unit) and unit.kind in NEVER_FOLLOWS)


def generator_faults(pieces: dict[str, Any]) -> Iterator[Fault]:
    """Yield what is wrong with the ``[[generator]]`` tables, and what they replace.

    Parameters
    ----------
    pieces
        Tables by key; None where one could not be read.

    Yields
    ------
    Fault
        One for each contradiction.
    """
    for key in ("array", "regulator"):
        if key not in pieces and not pieces.get("generator"):
            yield Fault(
                key, f"the table [{in_file(key)}] is missing",
                advice=f"{FINDS_IT}; a site with a [[generator]] may do without",
            )  # fmt: skip
    if ("array" in pieces) > ("regulator" in pieces) and pieces.get("generator"):
        yield Fault(
            "regulator",
            f"the table [{in_file('regulator')}] is missing: [array] needs it",
        )
    followers = []
    for number, unit in enumerate(pieces.get("generator") or (), start=1):
        if unit is None:
            continue
        where = f"generator[{number}] ({unit.name})"
        if follows_load(unit):
            followers.append(unit.name)
        yield from _fuel(where, unit)
        yield from _figures(where, unit)
        yield from _rule(where, unit, pieces.get("bus"))
        yield from _unused(where, unit)
        battery = pieces.get("battery")
        if unit.heat_to_box_w and battery is not None and battery.box is None:
            yield Fault(
                f"{where}.heat_to_battery_box", "needs a box to warm",
                allowed="[battery.box] with its conductance and time_constant",
            )  # fmt: skip
    if len(followers) > 1:
        yield Fault(
            "generator", "only one source can follow battery or load",
            ", ".join(followers),
            "one such table, with quantity; any number of continuous sources",
        )  # fmt: skip


def _fuel(where: str, unit: Generator) -> Iterator[Fault]:
    if unit.fuel not in BURNS[unit.kind]:
        yield Fault(
            f"{where}.fuel", f"is not what a {unit.kind} source takes", unit.fuel,
            ", ".join(BURNS[unit.kind]),
        )  # fmt: skip
        return
    piped = unit.fuel in {"natural-gas", "none"}
    if piped and unit.tank is not None:
        yield Fault(
            f"{where}.tank", f"stands beside fuel = {unit.fuel!r}",
            allowed="no tank: it comes by pipe, or not at all",
        )  # fmt: skip
    if not piped and unit.tank is None:
        yield Fault(
            f"{where}.tank", f"is missing: {unit.fuel} comes from a store",
            allowed='[generator.tank] with volume = "500 gal" or "1.9 m3"',
        )  # fmt: skip
    if unit.supply_pressure_kpa is not None and unit.fuel != "natural-gas":
        yield Fault(
            f"{where}.supply_pressure", "belongs to natural gas; the pressure of "
            "propane follows from the tank's temperature", unit.fuel,
        )  # fmt: skip


def _figures(where: str, unit: Generator) -> Iterator[Fault]:
    if unit.efficiency_frac is not None and unit.fuel_use_l_d is not None:
        yield Fault(
            f"{where}.fuel_use", "says the same as efficiency; give one of them",
            f"{unit.fuel_use_l_d:g} L/d and {100 * unit.efficiency_frac:g} %",
        )  # fmt: skip
    if unit.no_load_fuel_frac is not None and unit.kind in NEVER_FOLLOWS:
        yield Fault(
            f"{where}.no_load_fuel",
            f"has no meaning: the fuel consumption of a {unit.kind} source is constant",
            f"{100 * unit.no_load_fuel_frac:g} %",
        )
    yield from _altitude(where, unit)
    low, high = unit.lowest_degc, unit.highest_degc
    if low is not None and high is not None and low >= high:
        yield Fault(
            f"{where}.highest_ambient", "must lie above lowest_ambient",
            f"{high:g} °C", f"more than {low:g} °C",
        )  # fmt: skip
    tank = unit.tank
    if tank and tank.fill_frac and tank.fill_frac <= (tank.unusable_frac or 0.0):
        yield Fault(
            f"{where}.tank.unusable", "leaves nothing to use of what is filled",
            f"{100 * (tank.unusable_frac or 0):g} %",
            f"less than {100 * tank.fill_frac:g} %",
        )  # fmt: skip


def _altitude(where: str, unit: Generator) -> Iterator[Fault]:
    """Refuse a set-up where nothing hangs on it."""
    if unit.fuel_adjusted_for_altitude is None:
        return
    key = f"{where}.fuel_adjusted_for_altitude"
    if not entries("machines")[unit.kind].has("altitude_not_adjusted_per_km"):
        yield Fault(
            key, f"has no meaning: a {unit.kind} source has one altitude rule",
            str(unit.fuel_adjusted_for_altitude).lower(), "no such key",
        )  # fmt: skip
    elif unit.altitude_per_km is not None:
        yield Fault(
            key, "says the same as altitude_per_km; give one of them",
            f"{str(unit.fuel_adjusted_for_altitude).lower()} and "
            f"{unit.altitude_per_km:g} per km",
        )  # fmt: skip


STARTS = {
    "minimum_run_h": "minimum_run",
    "exercise_every_d": "exercise_every",
    "start_probability_frac": "start_probability",
    "standing_faults_per_y": "standing_faults_per_y",
}
"""Keys without a meaning where nothing ever starts by itself."""


def _unused(where: str, unit: Generator) -> Iterator[Fault]:
    """Refuse keys that the run would pass over in silence."""
    if follows_load(unit):
        for key, given in (
            ("heat_to_battery_box", unit.heat_to_box_w > 0),
            ("relight", unit.relight is not None),
        ):
            if given:
                yield Fault(
                    f"{where}.{key}", "belongs to a continuous source",
                    unit.kind, ", ".join(NEVER_FOLLOWS),
                )  # fmt: skip
        return
    for field, key in STARTS.items():
        if field in unit.model_fields_set:
            yield Fault(
                f"{where}.{key}", "belongs to a source that starts by itself",
                "one that always burns", "no such key, or relight",
            )  # fmt: skip


def _rule(where: str, unit: Generator, bus: Any) -> Iterator[Fault]:
    given = [k for k in ("start", "stop") if getattr(unit, k) is not None]
    if runs_always(unit):
        if given:
            yield Fault(
                f"{where}.{given[0]}", "belongs to a source that follows the battery",
                "dispatch = 'always'", 'dispatch = "battery", or no such key',
            )  # fmt: skip
        return
    if unit.start is None or unit.stop is None:
        yield Fault(
            where, "needs start and stop; there is no safe default",
            ", ".join(given) or "neither",
            "start = '40 %' and stop = '85 %' of charge, or volts for both",
        )  # fmt: skip
        return
    (kind, low), (other, high) = unit.start, unit.stop
    if kind != other:
        yield Fault(
            f"{where}.stop", "must be of the same kind as start",
            f"{low:g} {kind} and {high:g} {other}", "both in V, or both in %",
        )  # fmt: skip
    elif high <= low:
        scale, word = (1, "V") if kind == "V" else (100, "%")
        yield Fault(
            f"{where}.stop", "must lie above start, or the source never rests",
            f"start {scale * low:g} {word}, stop {scale * high:g} {word}",
            f"stop above {scale * low:g} {word}",
        )  # fmt: skip
    elif kind == "V" and bus is not None:
        for key, volts in (("start", low), ("stop", high)):
            if not between(volts, 0.8 * bus.nominal_v, 1.35 * bus.nominal_v):
                yield Fault(
                    f"{where}.{key}", "does not fit the bus", f"{volts:g} V",
                    f"{0.8 * bus.nominal_v:g} V to {1.35 * bus.nominal_v:g} V on a "
                    f"{bus.nominal_v:g} V bus",
                )  # fmt: skip
