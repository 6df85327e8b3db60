"""Everything the kernel needs for a site, once; sizes are then only scalars."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from powerbudget.array.horizon import with_horizon
from powerbudget.array.module import Module, module_from_cec, module_from_points
from powerbudget.array.string_output import ArraySeries, array_series
from powerbudget.balance import columns as col
from powerbudget.balance.design_cold import site_findings, with_findings
from powerbudget.balance.drive import aged_health_frac
from powerbudget.balance.generator_columns import set_source
from powerbudget.balance.scenario import Scenario
from powerbudget.balance.stages import (
    array_nodes,
    conditions,
    load_rows,
    machines,
    pack_rows,
    state_matrix,
)
from powerbudget.battery.bank import Bank, Climate, make_bank
from powerbudget.errors import Fault, InputError
from powerbudget.generators.series import Sources
from powerbudget.loads.budget import Budget, load_budget
from powerbudget.site.reader import Design
from powerbudget.site.tables import Bus
from powerbudget.weather import WeatherRecord, read_weather, sun_position

Floats = NDArray[np.float64]
AS_WRITTEN = Scenario()


@dataclass(frozen=True)
class Problem:
    """A site laid out for the kernel.

    Parameters
    ----------
    design, record, budget, array, bank, conditions, sources
        Where the numbers come from; all of them under ``scenario``.
    listed
        The budget as the load list has it, before any load factor.
    weather, scenario
        The record as read, and what differs from the site as written.
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
    listed: Budget
    array: ArraySeries
    bank: Bank
    conditions: Climate
    sources: Sources
    hourly: Floats
    currents: Floats
    tables: Floats
    node_first_v: float
    node_step_v: float
    weather: WeatherRecord
    scenario: Scenario = AS_WRITTEN

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

    def under(self, scenario: Scenario) -> Problem:
        """Return the site laid out as a scenario would have it.

        Parameters
        ----------
        scenario
            What differs; what it leaves open stays as it is here.

        Returns
        -------
        Problem
            The same as `prepare` of a site file with those keys; stages that the
            scenario does not touch are not worked out again.

        Raises
        ------
        InputError, DataError
            When module, snow or machines cannot be used.
        """
        both = scenario.over(self.scenario)
        design = scenario.site(self.design)
        listed = self.listed if _same_loads(design, self.design) else None
        return _lay_out(design, self.weather, both, listed)

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

    Where the site file gives the bank's age in years, its capacity has fallen along
    the line to the end of the life that cycles and heat leave here.

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
    if record is None:
        tables = design.tables
        record = read_weather(tables.weather, base=design.folder, site=tables.site)
    return _lay_out(design, record, AS_WRITTEN)


LOAD_TABLES = (
    "site",
    "bus",
    "supply",
    "load",
    "rack",
    "regulator",
    "criteria",
    "array",
)
"""What the power budget reads of a site file."""


def _same_loads(one: Design, other: Design) -> bool:
    """Return whether two designs share the very tables that a budget reads."""
    a, b = one.tables, other.tables
    same = all(getattr(a, name) is getattr(b, name) for name in LOAD_TABLES)
    return same and one.parts is other.parts


def _lay_out(
    design: Design,
    weather: WeatherRecord,
    scenario: Scenario,
    listed: Budget | None = None,
) -> Problem:
    """Return a site under a scenario whose keys the design has already."""
    tables, record = design.tables, scenario.record(weather)
    factor = 1.0 if scenario.load_factor is None else scenario.load_factor
    listed = listed or load_budget(design)
    budget = listed.scaled(factor)
    panels, module = with_horizon(tables.array, design.folder), site_module(design)
    record = with_findings(record, site_findings(design, record, panels, module))
    first, step, nodes = array_nodes(design)
    sun = sun_position(record)
    array = array_series(record, sun, panels, module, v_nodes_v=nodes)
    bank = make_bank(tables.battery, design.battery_unit, tables.regulator)
    sources = machines(tables, record)
    array_w = tables.array.parallel * array.p_mp_w * tables.regulator.efficiency_frac
    now = conditions(
        tables.battery, record, bank, array_w=array_w, heat_w=sources.heat_w
    )
    problem = Problem(
        design=design,
        record=record,
        budget=budget,
        listed=listed,
        array=array,
        bank=bank,
        conditions=now,
        sources=sources,
        hourly=pack_rows(design, load_rows(budget, record), array, now, sources),
        # A copy: the kernel takes no array that is barred from writing.
        currents=array.i_string_a.copy(),
        tables=state_matrix(bank),
        node_first_v=first,
        node_step_v=step,
        weather=weather,
        scenario=scenario,
    )
    age_y = tables.battery.age_y
    if age_y is None:
        return problem
    return replace(problem, bank=bank.with_health(aged_health_frac(problem, age_y)))


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
