"""Everything the kernel needs for a site, once; sizes are then only scalars."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from powerbudget.array.module import Module, module_from_cec, module_from_points
from powerbudget.array.string_output import ArraySeries, array_series
from powerbudget.balance.design_cold import site_findings, with_findings
from powerbudget.balance.drive import aged_health_frac
from powerbudget.balance.packed_site import PackedSite, Window
from powerbudget.balance.stages import (
    array_nodes,
    behind_controller_w,
    charging_v,
    conditions,
    daily_load_wh,
    kernel_tables,
    load_rows,
    machines,
    pack_rows,
    tracker_input_w,
)
from powerbudget.battery.bank import make_bank
from powerbudget.battery.box import HeldBox, check_temperature, held_in_cold
from powerbudget.charging.controller import window_nodes_v, window_power_w
from powerbudget.errors import Fault, InputError
from powerbudget.loads.budget import Budget, load_budget
from powerbudget.site.reader import Design
from powerbudget.site.scenario import Scenario
from powerbudget.site.tables import Array
from powerbudget.weather import WeatherRecord, read_weather, sun_position
from powerbudget.weather.horizon import with_horizon
from powerbudget.weather.under import record_under

Floats = NDArray[np.float64]
AS_WRITTEN = Scenario()
WINDOW_NODES = 24


@dataclass(frozen=True)
class Problem(PackedSite):
    """A site laid out for the kernel, and what it was laid out from.

    Parameters
    ----------
    listed
        The budget as the load list has it, before any load factor.
    array
        One string through the record.
    weather, scenario
        The record as read, and what differs from the site as written; all other
        fields are under ``scenario``.
    """

    listed: Budget
    array: ArraySeries
    weather: WeatherRecord
    scenario: Scenario = AS_WRITTEN

    @property
    def held(self) -> HeldBox:
        """What the battery's box comes to in the cold for which autonomy is asked."""
        tables = self.design.tables
        return held_in_cold(tables.battery, tables.criteria.autonomy_degc)

    @property
    def design_degc(self) -> float:
        """Battery temperature for which autonomy is asked, its heater counted [degC]."""
        return self.held.degc

    @property
    def dark_day_wh(self) -> float:
        """What a sunless day takes: the heaviest month, and the heater in its cold [Wh]."""
        return self.budget.wh_per_day + 24.0 * self.held.heater_w

    @property
    def heater_wh_per_day(self) -> Floats:
        """Battery heater by calendar month, none where the record has none [Wh/day]."""
        month = self.month_index
        watts = np.bincount(month, self.conditions.heater_w, 12)
        return np.asarray(
            24.0 * watts / np.maximum(np.bincount(month, minlength=12), 1)
        )

    @property
    def full_rest_v(self) -> float:
        """Voltage at which a full battery rests [V]."""
        return float(self.tables.open_v[-1])

    @property
    def daily_wh(self) -> Floats:
        """Loads and battery heater by calendar month, in the record's air [Wh/day]."""
        return daily_load_wh(self.budget, self.record) + self.heater_wh_per_day

    @property
    def tracker_frac(self) -> float:
        """What a tracker passes to the bus of the array's best, mean [fraction]."""
        regulator = self.design.tables.regulator
        into_w = tracker_input_w(self.array)
        if regulator.losses is None or not into_w.any():
            return regulator.tracked_frac * regulator.efficiency_frac
        # Of the same input: a run reads the window at the volts of its battery.
        return float(behind_controller_w(self.design, into_w).sum() / into_w.sum())

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
        stays = scenario.weather is None
        weather = self.weather if stays else site_weather(design)
        return _lay_out(design, weather, both, listed)


def needs_array(design: Design) -> None:
    """Refuse what only a site with panels can be asked.

    Raises
    ------
    InputError
        Where the site file has no ``[array]``.
    """
    if not design.tables.array.parallel:
        raise InputError(
            Fault(
                "array",
                "the table [array] is missing: no array to size or to tilt",
                advice="add [array] as a starting point; powerbudget run simulates generators "
                "alone",
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


def prepare(
    design: Design,
    record: WeatherRecord | None = None,
    scenario: Scenario = AS_WRITTEN,
) -> Problem:
    """Lay a site out for the kernel: load, sky, array and battery by interval.

    Where the site file gives the bank's age in years, its capacity has fallen along
    the line to the end of the life that cycles and heat leave here.

    Parameters
    ----------
    design
        A checked site.
    record
        Weather to use in place of the site's own.
    scenario
        What differs from the site as written: `Problem.under` with nothing laid out
        before it.

    Returns
    -------
    Problem
        Ready for `powerbudget.balance.simulation.simulate`.

    Raises
    ------
    InputError, DataError
        When weather, module or load cannot be used.
    """
    design = scenario.site(design)
    if record is None:
        record = site_weather(design)
    return _lay_out(design, record, scenario)


def site_weather(design: Design) -> WeatherRecord:
    """Return the weather that a site's file asks for [record]."""
    tables = design.tables
    return read_weather(tables.weather, base=design.folder, site=tables.site)


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


def _window(problem: Problem, panels: Array) -> Window:
    """Return what a string gives behind a tracker at each rest voltage of the bank.

    The tracker wakes at the battery's rest; it works above terminals that charge lifts by
    as much as `charging_v` lies above rest at half charge, at most to the set point.
    """
    controller, bank = problem.design.tables.regulator, problem.bank
    shift_v = problem.hourly["open_shift_v"]
    open_v = problem.tables.open_v
    low_v, high_v = open_v[0] + shift_v.min(), open_v[-1] + shift_v.max()
    rest_v = np.linspace(low_v, high_v, WINDOW_NODES)
    rise_v = charging_v(bank) - bank.cells * float(bank.chemistry.open_circuit.at(0.5))
    charged_v = np.maximum(np.minimum(rest_v + rise_v, bank.regulation_v), rest_v)
    nodes = window_nodes_v(
        charged_v, controller.run_headroom_v, rest_v + controller.start_headroom_v
    )
    record, module = problem.record, problem.array.module
    sun = sun_position(record)
    array = array_series(record, sun, panels, module, v_nodes_v=nodes.ravel())
    amps = array.i_string_a.reshape(record.n, *nodes.shape)
    columns = [
        behind_controller_w(
            problem.design, window_power_w(array.p_mp_w, nodes[k], amps[:, k])
        )
        for k in range(WINDOW_NODES)
    ]
    return Window(rest_v, np.column_stack(columns))


def _lay_out(
    design: Design,
    weather: WeatherRecord,
    scenario: Scenario,
    listed: Budget | None = None,
) -> Problem:
    """Return a site under a scenario whose keys the design has already."""
    tables, record = design.tables, record_under(weather, scenario)
    factor = 1.0 if scenario.load_factor is None else scenario.load_factor
    listed = listed or load_budget(design)
    budget = listed.scaled(factor)
    panels, module = with_horizon(tables.array, design.folder), site_module(design)
    record = with_findings(record, site_findings(design, record, panels, module))
    bank = make_bank(tables.battery, design.battery_unit, tables.regulator)
    first, step, nodes = array_nodes(design, bank, module)
    sun = sun_position(record)
    array = array_series(record, sun, panels, module, v_nodes_v=nodes)
    direct = tables.regulator.kind == "pwm"
    input_w = array.p_mp_w if direct else tracker_input_w(array)
    sources = machines(tables, record)
    array_w = tables.array.parallel * behind_controller_w(design, input_w)
    now = conditions(
        tables.battery, record, bank, array_w=array_w, heat_w=sources.heat_w
    )
    check_temperature(tables.battery, now.battery_degc)
    problem = Problem(
        design=design,
        record=record,
        budget=budget,
        listed=listed,
        array=array,
        bank=bank,
        conditions=now,
        sources=sources,
        hourly=pack_rows(
            design, load_rows(budget, record), input_w, now, sources, record
        ),
        # A copy: the kernel takes no array that is barred from writing.
        currents=(array.i_string_a if direct else np.zeros((record.n, 0))).copy(),
        tables=kernel_tables(bank),
        node_first_v=first,
        node_step_v=step,
        window=None,
        weather=weather,
        scenario=scenario,
    )
    if tables.array.parallel and input_w is not array.p_mp_w:
        problem = replace(problem, window=_window(problem, panels))
    age_y = tables.battery.age_y
    if age_y is None:
        return problem
    return replace(problem, bank=bank.with_health(aged_health_frac(problem, age_y)))
