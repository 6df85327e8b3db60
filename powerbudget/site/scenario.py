"""What may differ from the site as its file has it, and the site that it makes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, Literal

from powerbudget.site.generator import Access, Generator
from powerbudget.site.load import Load, Rack, Supply
from powerbudget.site.parts import Part
from powerbudget.site.reader import Design
from powerbudget.site.sizing import Steps
from powerbudget.site.tables import (
    BatteryUnit,
    Criteria,
    ModuleData,
    Regulator,
    Snow,
    Weather,
)

_ARRAY = {
    "array_strings": "parallel",
    "modules_in_series": "series",
    "module": "module",
    "tilt_deg": "tilt_deg",
    "azimuth_deg": "azimuth_deg",
    "snow": "snow",
}
_BATTERY = {
    "battery_strings": "parallel",
    "batteries_in_series": "series",
    "battery_unit": "unit",
    "chemistry": "chemistry",
    "temperature_derating": "cold_curve",
}
_DISCONNECT = (
    ("disconnect_v", "reconnect_v"),
    ("disconnect_soc_frac", "reconnect_soc_frac"),
)


@dataclass(frozen=True, repr=False)
class Scenario:
    """What differs from the site as written; None leaves it as the file has it.

    Parameters
    ----------
    array_strings
        ``array.parallel``; 0 leaves the panels away, and parts of a string serve a
        search for an edge [count].
    modules_in_series, module
        ``array.series`` and ``array.module`` [count, name or data-sheet points].
    tilt_deg, azimuth_deg
        ``array.tilt`` and ``array.azimuth`` [deg].
    soiling_frac
        ``array.soiling``, and no ``soiling_by_month`` [fraction].
    snow
        ``array.snow``; ``"none"`` takes the table away.
    charge_controller
        ``[charge_controller]``, or only its ``kind`` [text].
    battery_strings, batteries_in_series, battery_unit, chemistry
        ``battery.parallel``, ``series``, ``unit`` and ``chemistry`` [count, text].
    state_of_health_frac
        ``battery.health``, and no ``age_years`` [fraction].
    temperature_derating
        ``battery.cold_curve`` [text].
    disconnect_v, reconnect_v
        ``bus.low_voltage_disconnect`` and ``low_voltage_reconnect``, and no
        ``disconnect_state`` [V].
    disconnect_soc_frac, reconnect_soc_frac
        ``bus.disconnect_state`` and ``reconnect_state``, and no
        ``low_voltage_disconnect`` [fraction].
    contingency_frac, leakage_a
        ``bus.contingency`` and ``bus.leakage`` [fraction, A].
    criteria, sizing, weather
        ``[criteria]``, ``[sizing]`` and ``[weather]``.
    machines, access
        Every ``[[generator]]``, none with an empty tuple, and ``[access]``.
    rack, supplies, loads
        ``[rack]``, every ``[[supply]]`` and every ``[[load]]``.
    loads_off
        Names of ``[[load]]`` that are taken out of the list [text].
    parts
        Parts of the library or of the user that read otherwise, by their names.
    load_factor
        On every watt, ampere and watt-hour of the budget at the bus, where the
        contingency stands too: converters, controller and leakage with the loads.
        The energy is that of ``bus.contingency`` raised from c to
        ``(1 + c) * load_factor - 1``; the other figures are in
        `powerbudget.loads.budget.Budget.scaled` [ratio].
    sun_factor
        On global, direct and diffuse light of the record: the same as a weather file
        with its three columns multiplied [ratio].
    temperature_shift_k
        Added to the air temperature of the record, and not to its design
        temperatures [K].
    years
        Calendar years of the record, by local standard time, that are kept [year].

    Notes
    -----
    Figures are not checked as the site file's are: they come from a site that was.
    """

    array_strings: float | None = None
    modules_in_series: int | None = None
    module: ModuleData | str | None = None
    tilt_deg: float | None = None
    azimuth_deg: float | None = None
    soiling_frac: float | None = None
    snow: Snow | Literal["none"] | None = None
    charge_controller: Regulator | Literal["mppt", "pwm"] | None = None
    battery_strings: int | None = None
    batteries_in_series: int | None = None
    battery_unit: BatteryUnit | str | None = None
    chemistry: str | None = None
    state_of_health_frac: float | None = None
    temperature_derating: str | None = None
    disconnect_v: float | None = None
    reconnect_v: float | None = None
    disconnect_soc_frac: float | None = None
    reconnect_soc_frac: float | None = None
    contingency_frac: float | None = None
    leakage_a: float | None = None
    criteria: Criteria | None = None
    sizing: Steps | None = None
    weather: Weather | None = None
    machines: tuple[Generator, ...] | None = None
    access: Access | None = None
    rack: Rack | None = None
    supplies: tuple[Supply, ...] | None = None
    loads: tuple[Load, ...] | None = None
    loads_off: frozenset[str] = frozenset()
    parts: Mapping[str, Part] | None = None
    load_factor: float | None = None
    sun_factor: float | None = None
    temperature_shift_k: float | None = None
    years: tuple[int, ...] | None = None

    def __repr__(self) -> str:
        """Return what is stated and nothing else [text]."""
        stated = {k: v for k, v in _stated(self).items() if k != "loads_off" or v}
        return f"Scenario({', '.join(f'{k}={v!r}' for k, v in stated.items())})"

    def over(self, other: Scenario) -> Scenario:
        """Return both together, this one's figures where both have one [Scenario].

        Examples
        --------
        >>> Scenario(tilt_deg=70.0).over(Scenario(tilt_deg=45.0, sun_factor=0.8))
        Scenario(tilt_deg=70.0, sun_factor=0.8)
        """
        stated = _stated(self)
        for own, others in (_DISCONNECT, _DISCONNECT[::-1]):
            if own[0] in stated:
                stated = dict.fromkeys(others) | stated
        if isinstance(other.charge_controller, Regulator) and self.charge_controller:
            # A kind alone is that of the controller that stands there.
            stated["charge_controller"] = self._regulator(other.charge_controller)
        stated["parts"] = {**(other.parts or {}), **(self.parts or {})} or None
        stated["loads_off"] = self.loads_off | other.loads_off
        return replace(other, **stated)

    def site(self, design: Design) -> Design:
        """Return the site whose file has this scenario's keys in place of its own.

        Returns
        -------
        Design
            Load factor, sun, temperature and years are not keys: the budget and
            `powerbudget.weather.under.record_under` have them.
        """
        tables = design.tables
        changes = {
            "array": (tables.array, self._array()),
            "battery": (tables.battery, self._battery()),
            "bus": (tables.bus, self._bus()),
        }
        update: dict[str, Any] = {
            name: table.model_copy(update=new)
            for name, (table, new) in changes.items()
            if new
        }
        update |= _some(
            regulator=self._regulator(tables.regulator),
            criteria=self.criteria,
            sizing=self.sizing,
            weather=self.weather,
            generator=self.machines,
            access=self.access,
            rack=self.rack,
            supply=self.supplies,
            load=self.loads,
        )
        if self.loads_off:
            listed = update.get("load", tables.load)
            update["load"] = tuple(x for x in listed if x.name not in self.loads_off)
        if self.parts:
            design = replace(design, parts={**design.parts, **self.parts})
        if not update:
            return design
        return replace(design, tables=tables.model_copy(update=update))

    def _array(self) -> dict[str, Any]:
        found = {key: getattr(self, name) for name, key in _ARRAY.items()}
        found = {key: value for key, value in found.items() if value is not None}
        if self.snow == "none":
            found["snow"] = None
        if self.soiling_frac is not None:
            found |= {"soiling_frac": self.soiling_frac, "soiling_by_month": None}
        return found

    def _regulator(self, written: Regulator) -> Regulator | None:
        if isinstance(self.charge_controller, str):
            return written.model_copy(update={"kind": self.charge_controller})
        return self.charge_controller

    def _battery(self) -> dict[str, Any]:
        found = {key: getattr(self, name) for name, key in _BATTERY.items()}
        found = {key: value for key, value in found.items() if value is not None}
        if self.state_of_health_frac is not None:
            found |= {"health_frac": self.state_of_health_frac, "age_y": None}
        return found

    def _bus(self) -> dict[str, Any]:
        found = _some(contingency_frac=self.contingency_frac, leakage_a=self.leakage_a)
        for own, others in (_DISCONNECT, _DISCONNECT[::-1]):
            stated = _some(**{name: getattr(self, name) for name in own})
            if own[0] in stated:
                stated = dict.fromkeys(others) | stated
            found |= stated
        return found


def _some(**values: Any) -> dict[str, Any]:
    """Return what is not None."""
    return {name: value for name, value in values.items() if value is not None}


def _stated(scenario: Scenario) -> dict[str, Any]:
    values = {f.name: getattr(scenario, f.name) for f in fields(scenario)}
    return _some(**values)
