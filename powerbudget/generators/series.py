"""Every source through the record: what the kernel reads, and what was burnt before it.

A source that always burns the same does not ask the battery, so its output, its fuel
and its deliveries are walked through here, once; the one that follows battery or load
goes to the kernel with what it could give in each interval.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from powerbudget.errors import Fault, InputError
from powerbudget.generators.access import access_open
from powerbudget.generators.cold import starved, tank_degc
from powerbudget.generators.output import productive_frac
from powerbudget.generators.propane import gauge_pressure_kpa
from powerbudget.generators.unit import Machine, make_units
from powerbudget.quantities import in_unit
from powerbudget.site.generator import Access
from powerbudget.site.tables import Site
from powerbudget.weather import WeatherRecord

Floats = NDArray[np.float64]
Codes = NDArray[np.int64]

RUNS, PRESSURE, CLOSED, AMBIENT, NO_FUEL, RELIGHT = range(6)
"""Why a source gives nothing: fuel pressure, months, ambient, stock, waiting for people."""
WHY = {
    PRESSURE: "insufficient fuel pressure",
    CLOSED: "fuel not available",
    AMBIENT: "outside rated ambient range",
    NO_FUEL: "no fuel",
    RELIGHT: "waiting for manual reignition",
}


@dataclass(frozen=True)
class Walk:
    """A source that always burns the same, through the record.

    Parameters
    ----------
    unit
        The source.
    bus_w
        What it could give at the bus [W].
    fuel_w
        Heat in the fuel burnt, mean of the interval [W].
    code
        `RUNS`, or a key of `WHY` [code].
    stock_wh
        Fuel left at the end of the interval [Wh].
    delivered
        Whether fuel came [flag].
    """

    unit: Machine
    bus_w: Floats
    fuel_w: Floats
    code: Codes
    stock_wh: Floats
    delivered: NDArray[np.bool_]


@dataclass(frozen=True)
class MachineSeries:
    """All sources of a site through a record.

    Parameters
    ----------
    units
        Every ``[[generator]]``, in the file's order.
    walks
        Those that always burn the same.
    follower
        The one that follows battery or load, None without.
    steady_w, heat_w
        What the first could give at the bus, and their heat into the battery box [W].
    follower_w
        What the other could give at the bus, were it running [W].
    follower_code
        Why it could give nothing [code].
    open, draw
        Whether people can come, and a number from 0 to 1 for a start [flag, fraction].
    access
        The ``[access]`` table.
    """

    units: tuple[Machine, ...]
    walks: tuple[Walk, ...]
    follower: Machine | None
    steady_w: Floats
    heat_w: Floats
    follower_w: Floats
    follower_code: Codes
    open: NDArray[np.bool_]
    draw: Floats
    access: Access | None

    @property
    def delay_h(self) -> float:
        """How long fuel and repair take to come while the site is open [h]."""
        return 24.0 * (Access() if self.access is None else self.access).delay_d


def make_sources(tables: Site, record: WeatherRecord) -> MachineSeries:
    """Return every source of a site through a record.

    Returns
    -------
    MachineSeries
        Zeros where the site has no generator.

    Raises
    ------
    InputError
        When a burner needs more pressure than its fuel ever has.
    """
    units, n = make_units(tables), record.n
    faults = [f for k, u in enumerate(units, 1) for f in pressure_faults(k, u, record)]
    if faults:
        raise InputError(faults)
    reached = access_open(record, tables.access)
    delay_h = 24.0 * (tables.access or Access()).delay_d
    walks = tuple(
        walk(unit, record, reached, delay_h) for unit in units if not unit.follows
    )
    steady, heat = np.zeros(n), np.zeros(n)
    for one in walks:
        steady += one.bus_w
        heat += one.unit.table.heat_to_box_w * (one.code == RUNS)
    follower = next((unit for unit in units if unit.follows), None)
    power, code, draw = np.zeros(n), np.zeros(n, np.int64), np.zeros(n)
    if follower is not None:
        power, code = could_give(follower, record)
        draw = np.random.default_rng(follower.table.start_seed).random(n)
    return MachineSeries(
        units, walks, follower, steady, heat, power, code, reached, draw, tables.access
    )


def could_give(unit: Machine, record: WeatherRecord) -> tuple[Floats, Codes]:
    """Return what a source gives at the bus with fuel in store, and why not.

    Returns
    -------
    tuple of array
        Power and codes [W, code].
    """
    watts = unit.bus_w(record.temp_air_degc)
    code = np.where(watts > 0.0, RUNS, AMBIENT)
    if unit.table.months is not None:
        code[~np.isin(record.month, unit.table.months)] = CLOSED
    code[starved(unit, record)] = PRESSURE
    return np.where(code == RUNS, watts, 0.0), code.astype(np.int64)


def walk(
    unit: Machine,
    record: WeatherRecord,
    reached: NDArray[np.bool_],
    delay_h: float,
) -> Walk:
    """Return a source that always burns the same, interval by interval.

    Parameters
    ----------
    unit
        The source.
    record
        Air temperature and dates.
    reached
        Whether people can come.
    delay_h
        How long fuel and a match take to come while they can [h].

    Returns
    -------
    Walk
        It stands full and burning at the first interval.
    """
    power, code = could_give(unit, record)
    n, step = record.n, record.step_h
    if unit.stock_l == float("inf") and not (code != RUNS).any():
        burnt = np.full(n, unit.full_fuel_w)
        return Walk(unit, power, burnt, code, np.full(n, np.inf), np.zeros(n, bool))
    state = _Burner(unit, step, delay_h)
    rows = [
        state.pass_interval(watts, why, can_come)
        for watts, why, can_come in zip(
            power.tolist(), code.tolist(), reached.tolist(), strict=True
        )
    ]
    series = [np.array(column) for column in zip(*rows, strict=True)]
    bus, burnt, codes, left, came = series
    return Walk(unit, bus, burnt, codes, left, came)


class _Burner:
    """Stock, flame and orders of one source that always burns the same."""

    def __init__(self, unit: Machine, step_h: float, delay_h: float) -> None:
        tank = unit.table.tank
        self.full_wh = unit.stock_wh
        self.order_wh = tank.refill_below_frac * self.full_wh if tank else 0.0
        self.need_wh = unit.full_fuel_w * step_h
        self.step_h, self.delay_h = step_h, delay_h
        self.warm_h = unit.figure("warm_up_h")
        self.by_hand = unit.table.relight == "visit"
        self.left_wh = self.full_wh
        self.ran_h, self.order_h, self.out_h = 1e9, -1.0, -1.0

    def pass_interval(
        self, watts: float, why: int, can_come: bool
    ) -> tuple[float, float, int, float, bool]:
        """Return bus watts, fuel watts, code, stock and whether fuel came."""
        came = self._visit(can_come)
        if why == RUNS and self.left_wh <= 0.0:
            why = NO_FUEL
        if why != RUNS:
            self.ran_h = 0.0
            if self.by_hand:
                self.out_h = max(self.out_h, 0.0)
        elif self.out_h >= 0.0:
            why = RELIGHT
        bus, burnt = (0.0, 0.0) if why != RUNS else self._burn(watts)
        if self.left_wh < self.order_wh and self.order_h < 0.0:
            self.order_h = 0.0
        return bus, burnt, why, self.left_wh, came

    def _visit(self, can_come: bool) -> bool:
        came = False
        if self.order_h >= 0.0:
            self.order_h += self.step_h
            if self.order_h >= self.delay_h and can_come:
                self.left_wh, self.order_h, came = self.full_wh, -1.0, True
        if self.out_h >= 0.0:
            self.out_h += self.step_h
            if self.out_h >= self.delay_h and can_come:
                self.out_h = -1.0
        return came

    def _burn(self, watts: float) -> tuple[float, float]:
        share = 1.0
        if self.need_wh > self.left_wh:
            share = self.left_wh / self.need_wh
        bus = watts * share * productive_frac(self.ran_h, self.step_h, self.warm_h)
        self.left_wh -= share * self.need_wh if self.need_wh else 0.0
        self.left_wh = max(0.0, self.left_wh)
        self.ran_h += self.step_h
        return bus, share * self.need_wh / self.step_h


def pressure_faults(number: int, unit: Machine, record: WeatherRecord) -> list[Fault]:
    """Return whether a burner needs more pressure than its fuel ever has.

    Parameters
    ----------
    number
        Place of the generator in the file, from 1 [count].
    unit
        The source.
    record
        Air temperature.

    Returns
    -------
    list of Fault
        Empty where it can burn at some time of the record.
    """
    where = f"generator[{number}] ({unit.name})"
    supply = unit.table.supply_pressure_kpa
    if supply is not None and supply < unit.needed_kpa:
        return [
            Fault(
                f"{where}.supply_pressure", "is below the minimum supply pressure of the burner",
                f"{supply:g} kPa",
                f"at least {unit.burner_kpa:g} kPa plus {unit.drop_kpa:g} kPa for the "
"pressure regulator",
            )
        ]  # fmt: skip
    if unit.fuel.name != "propane" or unit.needed_kpa <= 0.0:
        return []
    warmest = float(tank_degc(unit, record).max())
    most = float(gauge_pressure_kpa(warmest, unit.elevation_m))
    if most >= unit.needed_kpa:
        return []
    return [
        Fault(
            f"{where}.burner_pressure", "exceeds the tank pressure at all times",
            (f"{unit.burner_kpa:g} kPa plus {unit.drop_kpa:g} kPa for the pressure "
"regulator"),
            f"at most {in_unit(max(0.0, most - unit.drop_kpa), 'kPa')}: the tank never "
f"exceeds {in_unit(warmest, '°C', 1)} here",
            "heat or bury the tank, or use another burner",
        )
    ]  # fmt: skip
