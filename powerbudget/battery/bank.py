"""A bank: so many units of one chemistry, as the tables that the simulation reads."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from powerbudget.battery.capacity import (
    rate_frac,
    self_discharge_per_h,
    temperature_frac,
    two_rate_ah,
)
from powerbudget.battery.chemistry import (
    NODES,
    Chemistry,
    Curve,
    Floats,
    chemistries,
)
from powerbudget.battery.freezing import lowest_state_frac
from powerbudget.battery.voltage import (
    REFERENCE_DEGC,
    charge_ohm_ah,
    discharge_ohm_ah,
    regulation_v,
)
from powerbudget.errors import Hindrance
from powerbudget.site.cells import cell_count
from powerbudget.site.tables import Battery, BatteryUnit, CurveData, Regulator


@dataclass(frozen=True)
class Bank:
    """Units in series and parallel.

    Parameters
    ----------
    chemistry
        What the cells do.
    unit
        One unit's name-plate.
    series, parallel
        Units in a string, and strings [count].
    health_frac
        Capacity left by age [fraction].
    cold_curve
        Name of the capacity curve by temperature [text].
    regulation_v
        Set point of the whole bank at 25 degC [V].
    compensation_v_per_k
        Compensation of one cell [V/K].
    lowest_v, highest_v
        Clamps of the regulation voltage, whole bank [V].
    charge_min_degc, charge_restart_degc
        Charging is blocked below the first, and starts again at the second [degC].
    off_when_cold
        Whether the pack switches off altogether where charging is blocked by cold.
    stated_highest_v
        Upper clamp that the site file states, infinite where the usual one is taken
        [V].
    """

    chemistry: Chemistry
    unit: BatteryUnit
    series: int
    parallel: int
    health_frac: float
    cold_curve: str
    regulation_v: float
    compensation_v_per_k: float
    lowest_v: float
    highest_v: float
    charge_min_degc: float
    charge_restart_degc: float
    off_when_cold: bool
    stated_highest_v: float = math.inf

    @property
    def cells(self) -> int:
        """Cells in series [count]."""
        return _cells(self.series, self.unit, self.chemistry.name)

    @property
    def nominal_v(self) -> float:
        """Nominal volts of the bank [V]."""
        return self.series * self.unit.nominal_v

    @property
    def nameplate_ah(self) -> float:
        """Ampere-hours on the name-plates, at their hour rate [Ah]."""
        return self.parallel * self.unit.capacity_ah

    @property
    def rated_ah(self) -> float:
        """Name-plate ampere-hours times health [Ah]."""
        return self.nameplate_ah * self.health_frac

    @property
    def units(self) -> int:
        """Units to buy [count]."""
        return self.series * self.parallel

    def with_strings(self, parallel: int) -> Bank:
        """Return the same bank with another number of strings [Bank]."""
        return replace(self, parallel=parallel)

    def with_health(self, health_frac: float) -> Bank:
        """Return the same bank older or younger [Bank]."""
        return replace(self, health_frac=health_frac)

    def with_cold_curve(self, name: str) -> Bank:
        """Return the same bank on another cold curve [Bank]."""
        return replace(self, cold_curve=name)

    def charge_ah(self, load_a: float) -> float:
        """Return the Ah that the bank holds at 25 degC for a mean load [Ah]."""
        hours = self.rated_ah / load_a if load_a > 0 else 1e6
        unit = self.unit
        slow_ah, slow_h = unit.slow_capacity_ah, unit.slow_hour_rate_h
        if slow_ah is not None and slow_h is not None and hours > unit.hour_rate_h:
            fast = (unit.hour_rate_h, unit.capacity_ah)
            one = two_rate_ah(hours, fast, (slow_h, slow_ah))
            return self.parallel * self.health_frac * one
        rate = rate_frac(hours, unit.hour_rate_h, self.chemistry.rate)
        return self.rated_ah * rate

    @property
    def label(self) -> str:
        """What a sentence calls the chemistry [text]."""
        name = self.chemistry.name
        return name.upper() if len(name) <= 3 else self.chemistry.title

    def asked_v(self, battery_degc: float | Floats) -> Floats:
        """Return the charge voltage that compensation asks for, stated clamps alone [V].

        Parameters
        ----------
        battery_degc
            Battery temperature [degC].

        Returns
        -------
        array
            What a device on the bus may see where the controller has no other clamp
            [V].
        """
        per_cell = regulation_v(
            battery_degc,
            self.regulation_v / self.cells,
            self.compensation_v_per_k,
            self.lowest_v / self.cells,
            self.stated_highest_v / self.cells,
        )
        return np.asarray(self.cells * per_cell)

    @property
    def discharge_min_degc(self) -> float | None:
        """Coldest point of the cold curve that still has capacity [degC].

        None where the curve never ends.
        """
        curve = self.chemistry.cold[self.cold_curve]
        if curve.y[0] > 0:
            return None
        return min(x for x, y in zip(curve.x, curve.y, strict=True) if y > 0)

    def no_current(self, degc: float) -> Hindrance | None:
        """Return why the bank cannot carry a load at a temperature, None where it can.

        Parameters
        ----------
        degc
            Battery temperature [degC].
        """
        # Between two points of a curve a cut is no slope that anyone measured.
        least = self.discharge_min_degc
        if least is None or degc >= least:
            return None
        return Hindrance(
            f"{self.label} delivers no current at {round(degc, 1):g} °C",
            "heat the box, state a milder design temperature, or use another chemistry",
        )

    def capacity_frac(self, battery_degc: float | Floats) -> Floats:
        """Return capacity over that at 25 degC [fraction]."""
        cold = self.chemistry.cold[self.cold_curve]
        return np.asarray(temperature_frac(battery_degc, cold), float)


@dataclass(frozen=True)
class StateTables:
    """Bank quantities at every whole percent, 0 to 100.

    Parameters
    ----------
    open_circuit_v
        Rest voltage of the bank, 25 degC [V].
    efficiency_frac
        Charge efficiency [fraction].
    discharge_ohm_ah, charge_ohm_ah
        Resistance of the bank times its rated Ah [ohm Ah].
    """

    open_circuit_v: Floats
    efficiency_frac: Floats
    discharge_ohm_ah: Floats
    charge_ohm_ah: Floats


@dataclass(frozen=True)
class BatteryClimate:
    """What battery temperature does, interval by interval.

    Parameters
    ----------
    battery_degc
        Battery temperature [degC].
    capacity_frac
        Capacity over that at 25 degC [fraction].
    open_circuit_shift_v
        Added to the rest voltage of the bank [V].
    discharge_ratio, charge_ratio
        Multipliers on resistance [ratio].
    regulation_v
        Regulation voltage of the bank [V].
    self_discharge_per_h
        Share of the charge left that is lost [1/h].
    charge_share
        Share of the charge limit that temperature allows, 0 where charging is
        blocked [fraction].
    frozen_below_frac
        State on rated Ah below which the electrolyte freezes [fraction].
    heater_w
        Draw of the battery heater [W].
    """

    battery_degc: Floats
    capacity_frac: Floats
    open_circuit_shift_v: Floats
    discharge_ratio: Floats
    charge_ratio: Floats
    regulation_v: Floats
    self_discharge_per_h: Floats
    charge_share: Floats
    frozen_below_frac: Floats
    heater_w: Floats


def make_bank(battery: Battery, unit: BatteryUnit, regulator: Regulator) -> Bank:
    """Return the bank of a site.

    Parameters
    ----------
    battery
        The ``[battery]`` table.
    unit
        Its unit, looked up in the parts library where it was named.
    regulator
        The ``[charge_controller]`` table: set point and compensation.

    Returns
    -------
    Bank
        With the chemistry's own set point where the site gives none.
    """
    chemistry = with_curves(battery)
    cells = _cells(battery.series, unit, chemistry.name)
    compensation = regulator.compensation_v_per_k_cell
    set_v = regulator.absorption_v or chemistry.absorption_v * cells
    charge_min = _warmer(chemistry.charge_min_degc, regulator.charge_min_degc)
    restart = _warmer(charge_min, chemistry.charge_restart_degc)
    if battery.charge_restart_degc is not None:
        restart = max(charge_min, battery.charge_restart_degc)
    return Bank(
        chemistry=chemistry,
        unit=unit,
        series=battery.series,
        parallel=battery.parallel,
        health_frac=battery.health_frac,
        cold_curve=battery.cold_curve,
        regulation_v=set_v,
        compensation_v_per_k=(
            chemistry.compensation_v_per_k if compensation is None else compensation
        ),
        lowest_v=regulator.lowest_v or min(chemistry.regulation_min_v * cells, set_v),
        highest_v=regulator.highest_v or max(chemistry.regulation_max_v * cells, set_v),
        charge_min_degc=charge_min,
        charge_restart_degc=restart,
        off_when_cold=battery.cold_policy == "off",
        stated_highest_v=regulator.highest_v or math.inf,
    )


def _cells(series: int, unit: BatteryUnit, chemistry: str) -> int:
    """Return the cells of a string; the reader has refused what fits no number."""
    cells = cell_count(unit.nominal_v, chemistry, unit.cells)
    if not cells:
        raise ValueError(
            f"{unit.nominal_v:g} V does not match a whole number of {chemistry} cells"
        )
    return series * cells


def _warmer(one: float, other: float | None) -> float:
    """Return the higher of two limits: each of them blocks on its own."""
    return one if other is None else max(one, other)


def with_curves(battery: Battery) -> Chemistry:
    """Return the site's chemistry with the curves that the site file replaces.

    Parameters
    ----------
    battery
        The ``[battery]`` table.

    Returns
    -------
    Chemistry
        A replaced cold curve stands for both built-in ones; they end at the lowest
        temperature for discharge that the file states.
    """
    chemistry, own = chemistries()[battery.chemistry], battery.curves
    changes: dict[str, Any] = {}
    for name, data in (
        ("open_circuit", own.rest_volts_by_state),
        ("efficiency", own.charge_efficiency_by_state),
        ("rate", own.capacity_by_hours),
        ("freezing", own.freezing_degc_by_state),
        ("cycles", own.cycles_by_depth),
    ):
        if data is not None:
            changes[name] = own_curve(data)
    if own.capacity_by_degc is not None:
        cold = own_curve(own.capacity_by_degc)
        changes["cold"] = dict.fromkeys(chemistry.cold, cold)
    if battery.discharge_min_degc is not None:
        below = None if own.capacity_by_degc else chemistry.cold_if_stated
        changes["cold"] = {
            name: curve.ending_at(battery.discharge_min_degc, below)
            for name, curve in changes.get("cold", chemistry.cold).items()
        }
    return replace(chemistry, **changes)


def own_curve(data: CurveData) -> Curve:
    """Return a curve of the site file as the simulation reads it [Curve]."""
    x, y = zip(*data.points, strict=True)
    return Curve(tuple(map(float, x)), tuple(map(float, y)), data.source)


def state_tables(bank: Bank) -> StateTables:
    """Return the bank's curves on whole percents [StateTables]."""
    state = np.linspace(0.0, 1.0, NODES)
    c, cells = bank.chemistry, bank.cells
    return StateTables(
        open_circuit_v=cells * c.open_circuit.at(state),
        efficiency_frac=c.efficiency.at(state),
        discharge_ohm_ah=cells
        * discharge_ohm_ah(state, c.discharge_ohm_ah, c.discharge_low_state_ohm_ah),
        charge_ohm_ah=cells
        * charge_ohm_ah(state, c.charge_ohm_ah, c.charge_near_full_ohm_ah),
    )


def charge_share_frac(bank: Bank, battery_degc: Floats) -> Floats:
    """Return the share of the charge limit that temperature allows [fraction].

    Parameters
    ----------
    bank
        Chemistry and cold limits.
    battery_degc
        Battery temperature by interval [degC].

    Returns
    -------
    array
        0 from the interval that falls below the lowest charging temperature until
        the restart temperature is reached [fraction].
    """
    c = bank.chemistry
    share = np.asarray(c.charge_share_by_degc.at(battery_degc), float)
    mark = np.where(battery_degc < bank.charge_min_degc, 1, -1)
    mark[battery_degc >= bank.charge_restart_degc] = 0
    mark[0] = max(mark[0], 0)
    last = np.maximum.accumulate(np.where(mark >= 0, np.arange(mark.size), 0))
    blocked = (mark[last] == 1) | (battery_degc > c.charge_max_degc)
    return np.where(blocked, 0.0, share)


def climate(
    bank: Bank, battery_degc: Floats, heater_w: Floats | None = None
) -> BatteryClimate:
    """Return what temperature does to the bank, interval by interval.

    Parameters
    ----------
    bank
        The bank.
    battery_degc
        Battery temperature by interval [degC].
    heater_w
        Draw of the battery heater, none by default [W].

    Returns
    -------
    BatteryClimate
        Arrays of the same length.
    """
    c, cells = bank.chemistry, bank.cells
    regulation = cells * regulation_v(
        battery_degc,
        bank.regulation_v / cells,
        bank.compensation_v_per_k,
        bank.lowest_v / cells,
        bank.highest_v / cells,
    )
    shift = cells * c.open_circuit_v_per_k * (battery_degc - REFERENCE_DEGC)
    share = charge_share_frac(bank, battery_degc)
    capacity = bank.capacity_frac(battery_degc)
    if bank.off_when_cold:
        capacity = np.where(
            (share <= 0) & (battery_degc < REFERENCE_DEGC), 0.0, capacity
        )
    return BatteryClimate(
        battery_degc=battery_degc,
        capacity_frac=capacity,
        open_circuit_shift_v=shift,
        discharge_ratio=c.discharge_by_degc.at(battery_degc),
        charge_ratio=c.charge_by_degc.at(battery_degc),
        regulation_v=regulation,
        self_discharge_per_h=self_discharge_per_h(
            battery_degc, c.self_discharge_per_month
        ),
        charge_share=share,
        frozen_below_frac=lowest_state_frac(battery_degc, c.freezing),
        heater_w=np.zeros(battery_degc.shape) if heater_w is None else heater_w,
    )
