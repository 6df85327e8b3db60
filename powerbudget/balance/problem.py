"""Everything the kernel needs for a site, once; sizes are then only scalars."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from powerbudget.array.horizon import with_horizon
from powerbudget.array.module import Module, module_from_cec, module_from_points
from powerbudget.array.regulator import mppt_power_w
from powerbudget.array.supply import ArraySeries, array_series
from powerbudget.balance import columns as col
from powerbudget.balance.place import site_findings, with_findings
from powerbudget.balance.sources import fill_sources, set_source
from powerbudget.battery.bank import (
    Bank,
    Climate,
    climate,
    make_bank,
    state_tables,
)
from powerbudget.battery.box import place_battery
from powerbudget.errors import Fault, InputError
from powerbudget.generators.series import Sources, make_sources
from powerbudget.loads.budget import Budget, load_budget
from powerbudget.loads.daylight import night_frac
from powerbudget.loads.series import Moments, bus_series
from powerbudget.site.generatormodel import Access, Generator
from powerbudget.site.model import Bus
from powerbudget.site.reader import Design
from powerbudget.weather import WeatherRecord, read_weather, sun_position

Floats = NDArray[np.float64]
NODES = 13


@dataclass(frozen=True)
class Problem:
    """A site laid out for the kernel.

    Parameters
    ----------
    design, record, budget, array, bank, conditions, sources
        Where the numbers come from.
    hourly
        One row an interval [see `powerbudget.balance.columns`].
    currents
        One array string's current at the voltage nodes; no columns with
        power-point tracking [A].
    tables
        State tables [see `powerbudget.balance.columns`].
    node_first_v, node_step_v
        Array voltages of ``currents`` [V].
    """

    design: Design
    record: WeatherRecord
    budget: Budget
    array: ArraySeries
    bank: Bank
    conditions: Climate
    sources: Sources
    hourly: Floats
    currents: Floats
    tables: Floats
    node_first_v: float
    node_step_v: float

    @cached_property
    def month_index(self) -> NDArray[np.int64]:
        """Calendar month of each interval, 0 to 11 [count]."""
        return self.record.month.astype(np.int64) - 1

    @cached_property
    def tier_loads(self) -> tuple[tuple[Floats | None, ...], ...]:
        """Watts, amperes and siemens of each tier, None where a column is empty."""
        return tuple(
            tuple(
                np.ascontiguousarray(self.hourly[:, column])
                if self.hourly[:, column].any()
                else None
                for column in columns
            )
            for columns in col.TIERS
        )

    @property
    def strings(self) -> int:
        """Array strings in the site file [count]."""
        return self.design.tables.array.parallel

    def with_bank(self, bank: Bank) -> Problem:
        """Return the same site with a bank of another age or cold curve.

        Parameters
        ----------
        bank
            A bank of the same chemistry and cells.

        Returns
        -------
        Problem
            Temperatures and heater stay as they are.
        """
        was = self.conditions
        now = climate(bank, was.battery_degc, was.heater_w)
        hourly = self.hourly.copy()
        fill_climate(hourly, now)
        return replace(self, bank=bank, conditions=now, hourly=hourly)

    def for_strings(self, strings: int) -> Problem:
        """Return the site as it is with so many array strings.

        Parameters
        ----------
        strings
            Array strings in parallel [count].

        Returns
        -------
        Problem
            The same, but for a battery heater that only the array feeds: then the
            battery's temperature depends on the array.
        """
        heater = self.design.tables.battery.heater
        if heater is None or heater.feed == "battery" or strings == self.strings:
            return self
        heat = self.sources.heat_w
        case = (self.design, self.record, self.array, self.bank)
        now = _conditions(*case, strings, heat)
        hourly = self.hourly.copy()
        fill_climate(hourly, now)
        return replace(self, conditions=now, hourly=hourly)

    def with_generators(
        self, generators: tuple[Generator, ...], access: Access | None = None
    ) -> Problem:
        """Return the same site with other generators.

        Parameters
        ----------
        generators
            Tables as the site file would have them; none takes them all away.
        access
            The ``[access]`` table, the site's own by default.

        Returns
        -------
        Problem
            Sky, array and load stay as they are.

        Raises
        ------
        InputError
            When a burner needs more pressure than its fuel ever has.
        """
        own = self.design.tables
        change = {"generator": generators, "access": access or own.access}
        tables = own.model_copy(update=change)
        design = replace(self.design, tables=tables)
        sources = make_sources(tables, self.record)
        hourly = self.hourly.copy()
        fill_sources(hourly, sources)
        now = self.conditions
        if (sources.heat_w != self.sources.heat_w).any():
            case = (design, self.record, self.array, self.bank)
            now = _conditions(*case, self.strings, sources.heat_w)
            fill_climate(hourly, now)
        return replace(
            self, design=design, sources=sources, hourly=hourly, conditions=now
        )

    @property
    def mean_load_a(self) -> float:
        """Mean bus current in the heaviest month [A]."""
        return self.budget.typical_w / self.budget.nominal_v

    def scalars(self, strings: int, bank: Bank) -> Floats:
        """Return the kernel's scalars for a size [see `powerbudget.balance.columns`]."""
        bus, regulator = self.design.tables.bus, self.design.tables.regulator
        s = np.zeros(col.SCALARS)
        s[col.S_STEP_H] = self.record.step_h
        s[col.S_STRINGS] = strings
        s[col.S_RATED_AH] = bank.rated_ah
        s[col.S_CHARGE_AH] = bank.charge_ah(self.mean_load_a)
        s[col.S_CHARGE_LIMIT_A] = bank.chemistry.charge_limit_per_h * bank.rated_ah
        s[col.S_BASE_A] = self.budget.base_a
        s[col.S_TRIP_V] = bus.disconnect_v or 0.0
        s[col.S_RETURN_V] = bus.reconnect_v or 0.0
        by_volts = bus.disconnect_v is not None
        s[col.S_TRIP_STATE] = -1.0 if by_volts else bus.disconnect_soc_frac
        s[col.S_RETURN_STATE] = -1.0 if by_volts else bus.reconnect_soc_frac
        for tier, threshold, back in (
            (1, bus.shed_first, bus.shed_first_return),
            (2, bus.shed_second, bus.shed_second_return),
        ):
            set_shed(s, tier, **shed_limits(bus, threshold, back))
        s[col.S_DELAY_H] = bus.disconnect_delay_h
        s[col.S_RESTART_V] = regulator.minimum_battery_v or 0.0
        s[col.S_NODE_FIRST_V] = self.node_first_v
        s[col.S_NODE_STEP_V] = self.node_step_v
        s[col.S_DROP_V] = regulator.drop_v if regulator.kind == "pwm" else 0.0
        set_source(s, self.sources)
        return s


def needs_array(design: Design) -> None:
    """Refuse what only a site with panels can be asked.

    Parameters
    ----------
    design
        A checked site.

    Raises
    ------
    InputError
        Where the site file has no ``[array]``.
    """
    if not design.tables.array.parallel:
        raise InputError(
            Fault(
                "array",
                "the table [array] is missing, so there is nothing to size or to tilt",
                advice="give one to start from; generators alone are judged by "
                "powerbudget run",
            )
        )


def site_module(design: Design) -> Module:
    """Return the site's module from its points or by name [Module].

    Raises
    ------
    InputError
        When the points are implausible or the name is not known.
    """
    data = design.module_data
    if isinstance(data, str):
        return module_from_cec(data)
    name = design.tables.array.module
    return module_from_points(data, name if isinstance(name, str) else "array.module")


def prepare(design: Design, record: WeatherRecord | None = None) -> Problem:
    """Lay a site out for the kernel: load, sky, array and battery by interval.

    Parameters
    ----------
    design
        A checked site.
    record
        Weather to use in place of the site's own.

    Returns
    -------
    Problem
        Ready for `powerbudget.balance.simulation.simulate`.

    Raises
    ------
    InputError, DataError
        When weather, module or load cannot be used.
    """
    tables = design.tables
    budget = load_budget(design)
    if record is None:
        record = read_weather(tables.weather, base=design.folder, site=tables.site)
    panels = with_horizon(tables.array, design.folder)
    module = site_module(design)
    record = with_findings(record, site_findings(design, record, panels, module))
    first, step, nodes = _nodes(design)
    array = array_series(
        record,
        sun_position(record),
        panels,
        module,
        v_nodes_v=nodes,
    )
    bank = make_bank(tables.battery, design.battery_unit, tables.regulator)
    sources = make_sources(tables, record)
    case = (design, record, array, bank)
    conditions = _conditions(*case, tables.array.parallel, sources.heat_w)
    hourly = _hourly(design, record, budget, array, conditions)
    fill_sources(hourly, sources)
    return Problem(
        design=design,
        record=record,
        budget=budget,
        array=array,
        bank=bank,
        conditions=conditions,
        sources=sources,
        hourly=hourly,
        currents=np.ascontiguousarray(array.i_string_a),
        tables=state_matrix(bank),
        node_first_v=first,
        node_step_v=step,
    )


def _conditions(
    design: Design,
    record: WeatherRecord,
    array: ArraySeries,
    bank: Bank,
    strings: int,
    heat_w: Floats,
) -> Climate:
    """Return battery temperature, heater and what they do, before the balance."""
    array_w = strings * array.p_mp_w * design.tables.regulator.efficiency_frac
    place = place_battery(design.tables.battery, record, array_w, heat_w)
    return climate(bank, place.degc, place.heater_w)


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
    >>> from powerbudget.site.model import Bus
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
    s: Floats,
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
    first = col.S_FIRST_V if tier == 1 else col.S_SECOND_V
    s[first], s[first + 1] = volts or (0.0, 0.0)
    s[first + 2], s[first + 3] = states or (-1.0, -1.0)


def _nodes(design: Design) -> tuple[float, float, Floats | None]:
    """Return first node, spacing and array voltages of a direct connection."""
    if design.tables.regulator.kind == "mppt":
        return 0.0, 1.0, None
    volts = design.tables.bus.nominal_v
    nodes = np.linspace(0.75 * volts, 1.40 * volts, NODES)
    return float(nodes[0]), float(nodes[1] - nodes[0]), nodes


def state_matrix(bank: Bank) -> Floats:
    """Return the bank's state tables as the kernel reads them, shape (4, 101)."""
    t = state_tables(bank)
    rows = np.empty((4, len(t.open_circuit_v)))
    rows[col.T_OPEN_V] = t.open_circuit_v
    rows[col.T_EFFICIENCY] = t.efficiency_frac
    rows[col.T_DISCHARGE] = t.discharge_ohm_ah
    rows[col.T_CHARGE] = t.charge_ohm_ah
    return rows


def _hourly(
    design: Design,
    record: WeatherRecord,
    budget: Budget,
    array: ArraySeries,
    conditions: Climate,
) -> Floats:
    rows = np.zeros((record.n, col.HOURLY_COLUMNS))
    efficiency = design.tables.regulator.efficiency_frac
    rows[:, col.H_ARRAY_W] = mppt_power_w(array.p_mp_w, efficiency)
    load = bus_series(budget, load_moments(record))
    for tier, columns in enumerate(col.TIERS):
        rows[:, columns] = load[:, tier]
    fill_climate(rows, conditions)
    return rows


def load_moments(record: WeatherRecord) -> Moments:
    """Return what loads may follow, interval by interval [Moments].

    Parameters
    ----------
    record
        Weather record; it stands on the site's clock, or on its own, with its own
        place's nights, where it is from elsewhere.

    Returns
    -------
    Moments
        Month, day, clock hour, air temperature and night.
    """
    day = record.day_local
    first = day.astype("datetime64[M]").astype("datetime64[D]")
    place = (record.latitude_deg, record.longitude_deg, record.utc_offset_h)
    number = (day - day.astype("datetime64[Y]").astype("datetime64[D]")).astype(float)
    return Moments(
        month=record.month.astype(np.int64),
        day=(day - first).astype(np.int64) + 1,
        hour=np.floor(record.hour_local).astype(np.int64) % 24,
        air_degc=record.temp_air_degc,
        night_frac=night_frac(place, number + 1, record.hour_local, record.step_h),
    )


def fill_climate(rows: Floats, conditions: Climate) -> None:
    """Write battery-temperature columns into kernel rows, in place."""
    rows[:, col.H_CAPACITY] = conditions.capacity_frac
    rows[:, col.H_OPEN_SHIFT_V] = conditions.open_circuit_shift_v
    rows[:, col.H_DISCHARGE_RATIO] = conditions.discharge_ratio
    rows[:, col.H_CHARGE_RATIO] = conditions.charge_ratio
    rows[:, col.H_REGULATION_V] = conditions.regulation_v
    rows[:, col.H_SELF_PER_H] = conditions.self_discharge_per_h
    rows[:, col.H_CHARGE_SHARE] = conditions.charge_share
    rows[:, col.H_BASE_W] = conditions.heater_w
