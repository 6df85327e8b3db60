"""A site as the kernel takes it: arrays by interval, and the scalars of a size."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
from powerbudget.balance.generator_columns import set_source
from powerbudget.battery.bank import Bank, BatteryClimate
from powerbudget.generators.series import MachineSeries
from powerbudget.loads.budget import Budget
from powerbudget.site.reader import Design
from powerbudget.site.tables import Bus, Regulator
from powerbudget.weather import WeatherRecord

Floats = NDArray[np.float64]
OVERLOAD = 1.25
"""Lasting current over the rating at which load terminals open, a minute later (a maker's
manual)."""
TAIL_FRAC = 0.04
"""Charge current over capacity at which absorption ends (an open controller design)."""
RECHARGE_FRAC = 2.2 / 2.35
"""Bus over float voltage below which charging begins anew (the same, lead-acid)."""


WINDOW_H = 24.0
"""How long a tracker's input window stands at the battery's volts (own choice) [h]."""


class Window(NamedTuple):
    """What one string gives behind a step-down tracker, by volts of the battery.

    Parameters
    ----------
    rest_v
        Battery at rest, evenly spaced [V].
    array_w
        Behind the controller, a column for each of them [W].
    """

    rest_v: Floats
    array_w: Floats


@dataclass(frozen=True)
class PackedSite:
    """A site as arrays for the kernel.

    Parameters
    ----------
    design, record, budget, bank, conditions, sources
        Where the numbers come from.
    hourly
        One record an interval [see `powerbudget.balance.columns`].
    currents
        One array string's current at the voltage nodes; no columns with
        power-point tracking [A].
    tables
        State tables [see `powerbudget.balance.columns`].
    node_first_v, node_step_v
        Array voltages of ``currents`` [V].
    window
        Of strings that leave a tracker's input window for hours that count, else None.
    """

    design: Design
    record: WeatherRecord
    budget: Budget
    bank: Bank
    conditions: BatteryClimate
    sources: MachineSeries
    hourly: col.Records
    currents: Floats
    tables: col.Tables
    node_first_v: float
    node_step_v: float
    window: Window | None

    def own_rows(self) -> Self:
        """Return the same site, on rows that a run may write array power to."""
        return self if self.window is None else replace(self, hourly=self.hourly.copy())

    @cached_property
    def month_index(self) -> NDArray[np.int64]:
        """Calendar month of each interval, 0 to 11 [count]."""
        return self.record.month.astype(np.int64) - 1

    @cached_property
    def tier_loads(self) -> tuple[tuple[Floats | None, ...], ...]:
        """Watts, amperes and siemens of each tier, None where all are zero."""
        return tuple(
            tuple(
                np.ascontiguousarray(self.hourly[name])
                if self.hourly[name].any()
                else None
                for name in names
            )
            for names in col.TIERS
        )

    @property
    def strings(self) -> int:
        """Array strings in the site file [count]."""
        return self.design.tables.array.parallel

    @property
    def mean_load_a(self) -> float:
        """Mean bus current in the heaviest month [A]."""
        return self.budget.typical_w / self.budget.nominal_v

    @property
    def base_a(self) -> Floats:
        """Draw of regulator and leakage, never disconnected, by interval [A]."""
        return np.asarray(self.budget.base_a - self.hourly["base_less_a"])

    @property
    def controller_limits(self) -> tuple[float, float]:
        """Output limits of the charge controllers together, before heat [A, W]."""
        regulator = self.design.tables.regulator
        names = ("maximum_charge_a", "maximum_charge_w")
        stated = [regulator.of_all(name) for name in names]
        amps, watts = (col.UNLIMITED if x is None else x for x in stated)
        return amps, watts

    def controller_most_w(self, bus_v: float | Floats) -> Floats:
        """Return what the charge controllers pass at a bus voltage, by interval [W].

        Parameters
        ----------
        bus_v
            Bus voltage, one or by interval [V].

        Returns
        -------
        array
            `powerbudget.balance.columns.UNLIMITED` where no limit is stated [W].
        """
        amps, watts = self.controller_limits
        most_w = np.minimum(amps * np.asarray(bus_v), watts)
        return np.asarray(most_w * self.hourly["controller_share"])

    def scalars(self, strings: int, bank: Bank) -> col.Record:
        """Return the kernel's scalars for a size [see `powerbudget.balance.columns`]."""
        bus, regulator = self.design.tables.bus, self.design.tables.regulator
        s: col.Record = np.zeros(1, col.SCALARS)[0]
        s["step_h"] = self.record.step_h
        s["strings"] = strings
        s["rated_ah"] = bank.rated_ah
        s["charge_ah"] = bank.charge_ah(self.mean_load_a)
        s["charge_limit_a"] = bank.chemistry.charge_limit_per_h * bank.rated_ah
        s["base_a"] = self.budget.base_a
        s["trip_v"] = bus.disconnect_v or 0.0
        s["return_v"] = bus.reconnect_v or 0.0
        by_volts = bus.disconnect_v is not None
        s["trip_state"] = -1.0 if by_volts else bus.disconnect_soc_frac or 0.0
        s["return_state"] = -1.0 if by_volts else bus.reconnect_soc_frac or 0.0
        for tier, threshold, back in (
            (1, bus.shed_first, bus.shed_first_return),
            (2, bus.shed_second, bus.shed_second_return),
        ):
            set_shed(s, tier, **shed_limits(bus, threshold, back))
        s["delay_h"] = bus.disconnect_delay_h
        s["restart_v"] = regulator.minimum_battery_v or 0.0
        s["node_first_v"] = self.node_first_v
        s["node_step_v"] = self.node_step_v
        s["drop_v"] = regulator.drop_v if regulator.kind == "pwm" else 0.0
        s["controller_a"], s["controller_w"] = self.controller_limits
        s["load_limit_a"] = OVERLOAD * (regulator.of_all("maximum_load_a") or 0.0)
        set_stages(s, regulator, bank)
        set_source(s, self.sources)
        return s


def set_stages(s: col.Record, regulator: Regulator, bank: Bank) -> None:
    """Write absorption and float into the kernel's scalars, in place.

    Parameters
    ----------
    s
        Scalars of `PackedSite.scalars`.
    regulator
        Its table; without a float voltage absorption is held for good.
    bank
        For the voltage of absorption, and shares of its capacity and cells.
    """
    if regulator.float_v is None:
        return
    s["float_drop_v"] = bank.regulation_v - regulator.float_v
    s["absorb_h"] = regulator.absorption_h
    tail_a, recharge_v = regulator.absorption_end_a, regulator.recharge_v
    s["tail_a"] = TAIL_FRAC * bank.rated_ah if tail_a is None else tail_a
    s["recharge_v"] = RECHARGE_FRAC * regulator.float_v
    if recharge_v is not None:
        s["recharge_v"] = recharge_v


def shed_limits(
    bus: Bus,
    threshold: tuple[str, float] | None,
    back: tuple[str, float] | None = None,
) -> dict[str, tuple[float, float]]:
    """Return a shed step and its return as `set_shed` takes them [V or fraction].

    Parameters
    ----------
    bus
        The ``[bus]`` table.
    threshold
        ``("V", volts)`` or ``("state", share)``, None where nothing is shed.
    back
        Where its loads come back, of the same kind; None to derive it.

    Returns
    -------
    dict
        Empty, or one of ``volts`` and ``states`` [V or fraction].

    Notes
    -----
    Where no return is stated, a shed step returns as far above its threshold as the
    reconnect lies above the disconnect; both are stated in the same kind, which the
    reader checks.

    Examples
    --------
    >>> from powerbudget.site.tables import Bus
    >>> bus = Bus.model_validate({"nominal": "12 V", "low_voltage_disconnect": "11.5 V",
    ...     "low_voltage_reconnect": "12.5 V"})
    >>> shed_limits(bus, ("V", 12.0)), shed_limits(bus, None)
    ({'volts': (12.0, 13.0)}, {})
    """
    if threshold is None:
        return {}
    kind, low = threshold
    if back is not None:
        return {"volts" if kind == "V" else "states": (low, back[1])}
    if kind == "V":
        return {
            "volts": (low, low + (bus.reconnect_v or 0.0) - (bus.disconnect_v or 0.0))
        }
    gap = (bus.reconnect_soc_frac or 0.0) - (bus.disconnect_soc_frac or 0.0)
    # A bank that is gassing near full may never reach 100 %.
    return {"states": (low, min(low + gap, 0.98))}


def set_shed(
    s: col.Record,
    tier: int,
    *,
    volts: tuple[float, float] | None = None,
    states: tuple[float, float] | None = None,
) -> None:
    """Write a shed step into the kernel's scalars, in place.

    Parameters
    ----------
    s
        Scalars of `Problem.scalars`.
    tier
        1 for the loads that are shed first, 2 for those shed second.
    volts
        Shed below and return at these bus voltages [V].
    states
        Shed below and return at these states of charge [fraction].
    """
    name = "first" if tier == 1 else "second"
    s[f"{name}_v"], s[f"{name}_return_v"] = volts or (0.0, 0.0)
    s[f"{name}_state"], s[f"{name}_return_state"] = states or (-1.0, -1.0)
