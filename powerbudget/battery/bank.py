"""A bank: so many units of one chemistry, as the tables that the simulation reads."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from powerbudget.battery.capacity import (
    box_degc,
    rate_frac,
    self_discharge_per_h,
    temperature_frac,
)
from powerbudget.battery.chemistry import NODES, Chemistry, Floats, chemistries
from powerbudget.battery.voltage import (
    REFERENCE_DEGC,
    charge_ohm_ah,
    discharge_ohm_ah,
    regulation_v,
)
from powerbudget.site.model import Battery, BatteryUnit, Regulator


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
    """

    chemistry: Chemistry
    unit: BatteryUnit
    series: int
    parallel: int
    health_frac: float
    cold_curve: str
    regulation_v: float
    compensation_v_per_k: float

    @property
    def cells(self) -> int:
        """Cells in series [count]."""
        return self.series * round(self.unit.nominal_v / self.chemistry.cell_v)

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

    def charge_ah(self, load_a: float) -> float:
        """Return the Ah that the bank holds at 25 degC for a mean load [Ah]."""
        hours = self.rated_ah / load_a if load_a > 0 else 1e6
        rate = rate_frac(hours, self.unit.hour_rate_h, self.chemistry.rate)
        return self.rated_ah * rate

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
class Climate:
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
    charge_allowed
        1 where the battery may be charged, else 0 [flag].
    """

    battery_degc: Floats
    capacity_frac: Floats
    open_circuit_shift_v: Floats
    discharge_ratio: Floats
    charge_ratio: Floats
    regulation_v: Floats
    self_discharge_per_h: Floats
    charge_allowed: Floats


def make_bank(battery: Battery, unit: BatteryUnit, regulator: Regulator) -> Bank:
    """Return the bank of a site.

    Parameters
    ----------
    battery
        The ``[battery]`` table.
    unit
        Its unit, looked up in the parts library where it was named.
    regulator
        The ``[regulator]`` table: set point and compensation.

    Returns
    -------
    Bank
        With the chemistry's own set point where the site gives none.
    """
    chemistry = chemistries()[battery.chemistry]
    cells = battery.series * round(unit.nominal_v / chemistry.cell_v)
    compensation = regulator.compensation_v_per_k_cell
    return Bank(
        chemistry=chemistry,
        unit=unit,
        series=battery.series,
        parallel=battery.parallel,
        health_frac=battery.health_frac,
        cold_curve=battery.cold_curve,
        regulation_v=regulator.absorption_v or chemistry.absorption_v * cells,
        compensation_v_per_k=(
            chemistry.compensation_v_per_k if compensation is None else compensation
        ),
    )


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


def climate(bank: Bank, battery_degc: Floats) -> Climate:
    """Return what temperature does to the bank, interval by interval.

    Parameters
    ----------
    bank
        The bank.
    battery_degc
        Battery temperature by interval [degC].

    Returns
    -------
    Climate
        Arrays of the same length.
    """
    c, cells = bank.chemistry, bank.cells
    allowed = (battery_degc >= c.charge_min_degc) & (battery_degc <= c.charge_max_degc)
    regulation = cells * regulation_v(
        battery_degc,
        bank.regulation_v / cells,
        bank.compensation_v_per_k,
        min(c.regulation_min_v, bank.regulation_v / cells),
        max(c.regulation_max_v, bank.regulation_v / cells),
    )
    shift = cells * c.open_circuit_v_per_k * (battery_degc - REFERENCE_DEGC)
    return Climate(
        battery_degc=battery_degc,
        capacity_frac=bank.capacity_frac(battery_degc),
        open_circuit_shift_v=shift,
        discharge_ratio=c.discharge_by_degc.at(battery_degc),
        charge_ratio=c.charge_by_degc.at(battery_degc),
        regulation_v=regulation,
        self_discharge_per_h=self_discharge_per_h(
            battery_degc, c.self_discharge_per_month
        ),
        charge_allowed=allowed.astype(float),
    )


def battery_temperature(battery: Battery, air_degc: Floats, step_h: float) -> Floats:
    """Return battery temperature by interval [degC].

    Parameters
    ----------
    battery
        The ``[battery]`` table: box time constant and steady rise.
    air_degc
        Air temperature by interval [degC].
    step_h
        Interval length [h].

    Returns
    -------
    array
        Battery temperature [degC].
    """
    lagged = box_degc(
        air_degc, step_h, battery.box_time_constant_h, battery.box_warmer_k
    )
    return np.asarray(lagged, float)
