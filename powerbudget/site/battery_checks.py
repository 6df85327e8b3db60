"""Checks of the ``[battery]`` and ``[charge_controller]`` tables against themselves and the bus."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

from powerbudget.errors import Fault
from powerbudget.quantities import in_unit
from powerbudget.site.cells import float_faults
from powerbudget.site.tables import Battery, BatteryUnit, CurveData, Regulator

CURVE_RULES = {
    # Key: what the first and second numbers are, their spans, how the second runs.
    "capacity_by_degc": ("degC", (-80, 80), (0, 1.3), "rises"),
    "capacity_by_hours": ("h", (0.1, 1000), (0.05, 3), "rises"),
    "rest_volts_by_state": ("state", (0, 1), (0.5, 5), "rises"),
    "charge_efficiency_by_state": ("state", (0, 1), (0.01, 1), "any"),
    "freezing_degc_by_state": ("state", (0, 1), (-120, 5), "falls"),
    "cycles_by_depth": ("depth", (0.001, 1), (1, 1e7), "falls"),
}
WRONG_WAY = {
    "capacity_by_degc": "capacity rises in the cold",
    "capacity_by_hours": "capacity falls with slower discharge",
    "rest_volts_by_state": "open-circuit voltage falls as SOC increases",
    "freezing_degc_by_state": "the freezing point rises as the battery fills",
    "cycles_by_depth": "deeper cycles last longer",
}


def battery_faults(battery: Battery | None) -> Iterator[Fault]:
    """Yield what is wrong inside the ``[battery]`` table.

    Parameters
    ----------
    battery
        The table; None where it could not be read.

    Yields
    ------
    Fault
        One for each contradiction.
    """
    if battery is None:
        return
    if battery.age_y is not None and battery.health_frac < 1.0:
        yield Fault(
            "battery.age_years", "says the same as health; give one of them",
            f"age_years = {battery.age_y:g}, health = {battery.health_frac:g}",
        )  # fmt: skip
    if battery.box is not None and (
        battery.box_time_constant_h or battery.box_warmer_k
    ):
        yield Fault(
            "battery.box", "stands beside box_time_constant or box_warmer_k",
            allowed="either [battery.box], or the two simple keys",
        )  # fmt: skip
    yield from _heater(battery)
    yield from _boiling(battery)
    if isinstance(battery.unit, BatteryUnit):
        yield from _two_rates(battery.unit)
    for key in CURVE_RULES:
        data = getattr(battery.curves, key)
        if data is not None:
            yield from _curve(key, data)


MOST_WARMER_K = 140.0
"""Box over the air, above which it leaves the battery's model, -80 to 80 degC, in air of
-60 degC too."""


def _boiling(battery: Battery) -> Iterator[Fault]:
    box = battery.box
    warmer_k = box.internal_heat_w / box.conductance_w_per_k if box else 0.0
    if box and warmer_k > MOST_WARMER_K:
        yield Fault(
            "battery.box.internal_heat", "heats the battery beyond the range of its data",
            f"{box.internal_heat_w:g} W in {box.conductance_w_per_k:g} W/K: "
            f"{in_unit(warmer_k, 'K')} warmer",
            "-80 to 80 °C",
            "use less heat in the box or a higher conductance, measured or calculated "
            "from its walls",
        )  # fmt: skip


def _heater(battery: Battery) -> Iterator[Fault]:
    heater = battery.heater
    if heater is None:
        return
    if battery.box is None or battery.box.kind == "open":
        yield Fault(
            "battery.heater", "needs a box to heat",
            allowed='[battery.box] with kind = "insulated" or "buried", and its '
            "conductance and time_constant",
        )  # fmt: skip
    if heater.off_degc <= heater.on_degc:
        yield Fault(
            "battery.heater.off", "must lie above on, or the thermostat chatters",
            f"{heater.off_degc:g} °C", f"more than {heater.on_degc:g} °C",
        )  # fmt: skip


def _two_rates(unit: BatteryUnit) -> Iterator[Fault]:
    ah, hours = unit.slow_capacity_ah, unit.slow_hour_rate_h
    if ah is None and hours is None:
        return
    if ah is None or hours is None:
        yield Fault(
            "battery.unit", "half of the slow rating is given",
            allowed="slow_capacity and slow_hour_rate, or neither",
        )  # fmt: skip
    elif hours <= unit.hour_rate_h or ah < unit.capacity_ah:
        yield Fault(
            "battery.unit.slow_capacity",
            "must be at least capacity, at a longer hour rate",
            f"{ah:g} Ah at {hours:g} h beside {unit.capacity_ah:g} Ah at "
            f"{unit.hour_rate_h:g} h",
        )


def _curve(key: str, data: CurveData) -> Iterator[Fault]:
    where = f"battery.curves.{key}"
    first, (low_x, high_x), (low_y, high_y), way = CURVE_RULES[key]
    for x, y in data.points:
        if not (low_x <= x <= high_x and low_y <= y <= high_y):
            yield Fault(
                f"{where}.points", "has a point out of range", f"[{x:g}, {y:g}]",
                f"{first} {low_x:g} to {high_x:g}, value {low_y:g} to {high_y:g}",
            )  # fmt: skip
            return
    for (x1, y1), (x2, y2) in pairwise(data.points):
        given = f"[{x1:g}, {y1:g}] before [{x2:g}, {y2:g}]"
        if x2 <= x1:
            yield Fault(
                f"{where}.points", f"{first} must rise from point to point", given
            )
            return
        if (way == "rises" and y2 < y1) or (way == "falls" and y2 > y1):
            yield Fault(f"{where}.points", WRONG_WAY[key], given)
            return


def regulator_faults(regulator: Any, bus: Any) -> Iterator[Fault]:
    """Yield what is wrong with the limits in ``[charge_controller]`` and the delay in ``[bus]``.

    Parameters
    ----------
    regulator, bus
        The tables; None where they could not be read.

    Yields
    ------
    Fault
        One for each contradiction.
    """
    if bus is not None and bus.disconnect_delay_h and bus.disconnect_v is None:
        yield Fault(
            "bus.disconnect_delay", "belongs to a disconnect by voltage",
            allowed="low_voltage_disconnect and low_voltage_reconnect",
        )  # fmt: skip
    if regulator is not None and regulator.kind == "pwm" and regulator.maximum_charge_w:
        yield Fault(
            "regulator.maximum_charge_power", "belongs to a tracking controller",
            f"{regulator.maximum_charge_w:g} W",
            "maximum_charge_current, which limits a PWM controller",
        )  # fmt: skip
    if regulator is not None:
        yield from _device_faults(regulator)
    if regulator is None or bus is None:
        return
    spans = (
        ("highest_charge_voltage", regulator.highest_v, 1.0, 1.45),
        ("lowest_charge_voltage", regulator.lowest_v, 0.95, 1.35),
        ("float", regulator.float_v, 1.0, 1.35),
        ("recharge", regulator.recharge_v, 0.9, 1.3),
        ("minimum_battery", regulator.minimum_battery_v, 0.0, 1.0),
    )
    for key, volts, low, high in spans:
        if (
            volts is not None
            and not low * bus.nominal_v <= volts <= high * bus.nominal_v
        ):
            yield Fault(
                f"regulator.{key}", "does not fit the bus", f"{volts:g} V",
                f"{low * bus.nominal_v:g} V to {high * bus.nominal_v:g} V on a "
                f"{bus.nominal_v:g} V bus",
            )  # fmt: skip
    if regulator.absorption_v is not None:
        yield from float_faults(regulator, regulator.absorption_v)
    order = (regulator.lowest_v, regulator.absorption_v, regulator.highest_v)
    given = [volts for volts in order if volts is not None]
    if given != sorted(given):
        yield Fault(
            "regulator", "charge voltages are out of order",
            ", ".join(f"{volts:g} V" for volts in given),
            "lowest_charge_voltage, absorption, highest_charge_voltage rising",
        )  # fmt: skip


def _device_faults(regulator: Regulator) -> Iterator[Fault]:
    """Yield what of a controller's losses and derating contradicts the rest."""
    for key in ("run_headroom", "start_headroom"):
        volts = getattr(regulator, f"{key}_v")
        if volts < 0:
            yield Fault(f"regulator.{key}", "is negative", f"{volts:g} V",
                        "volts of the array above the battery's")  # fmt: skip
    stops, full = regulator.stops_above_degc, regulator.full_output_degc
    if stops < full:
        yield Fault(
            "regulator.stops_above", "lies below full_output_to", f"{stops:g} °C",
            f"at least {full:g} °C",
        )  # fmt: skip
    if regulator.kind == "pwm" and regulator.tracking_frac is not None:
        yield Fault("regulator.tracking", "belongs to a tracking controller",
                    f"{100 * regulator.tracking_frac:g} %",
                    "voltage_drop, which a PWM controller loses")  # fmt: skip
    if regulator.losses is None:
        return
    if regulator.kind == "pwm":
        yield Fault("regulator.losses", "belong to a tracking controller",
                    allowed="voltage_drop, which a PWM controller loses")  # fmt: skip
    elif "efficiency_frac" in regulator.model_fields_set:
        yield Fault("regulator.losses", "stand beside efficiency: both say the same",
                    allowed="one of the two")  # fmt: skip
    if regulator.rated_w is None and regulator.maximum_charge_a is None:
        yield Fault("regulator.losses", "are shares of a rating that is not stated",
                    allowed="maximum_charge_current or rated_power")  # fmt: skip
