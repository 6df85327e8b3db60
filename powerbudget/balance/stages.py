"""The stages between a site and the kernel; each is kept by what it reads.

Sun, plane, module and string keep themselves in `powerbudget.weather.sun` and
`powerbudget.array`; here are loads, machines, the battery's box and its temperature.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from powerbudget.array.string_output import ArraySeries
from powerbudget.balance import columns as col
from powerbudget.balance.generator_columns import fill_sources
from powerbudget.battery.bank import Bank, BatteryClimate, climate, state_tables
from powerbudget.battery.box import place_battery
from powerbudget.cache import kept
from powerbudget.charging.controller import (
    CLEAR_FRAC,
    mppt_power_w,
    window_nodes_v,
    window_power_w,
)
from powerbudget.charging.device import converted_w, rating_left_frac
from powerbudget.generators.series import MachineSeries, make_sources
from powerbudget.loads import series
from powerbudget.loads.budget import Budget
from powerbudget.loads.daylight import night_frac
from powerbudget.loads.schedule import Moments, follows_weather
from powerbudget.loads.series import bus_series
from powerbudget.site.reader import Design
from powerbudget.site.tables import Battery, Site
from powerbudget.weather import WeatherRecord

if TYPE_CHECKING:
    from powerbudget.array.module import Module

Floats = NDArray[np.float64]
NODES = 13
WINDOW_FRAC = 1e-3
"""Share of a year's energy below which the input window is left out (assumed)."""
HOTTEST_CELL_DEGC = 75.0
"""Cell in still desert noon, for whether a window can matter at all (assumed)."""


def machines(tables: Site, record: WeatherRecord) -> MachineSeries:
    """Return every source beside the array through a record [MachineSeries].

    Raises
    ------
    InputError
        When a burner needs more pressure than its fuel ever has.
    """
    reads = (tables.generator, tables.access, tables.site, *_when(record))
    return kept(
        "machines",
        (*reads, record.temp_air_degc),
        lambda: make_sources(tables, record),
    )


def load_rows(budget: Budget, record: WeatherRecord) -> Floats:
    """Return the load at the bus, shape (intervals, tiers, behaviours) [W, A, S]."""
    moving = tuple(piece for piece in budget.slices if follows_weather(piece.load))
    reads: tuple[object, ...] = (budget.tier_w, budget.tier_a, budget.tier_s, moving)
    if moving:
        reads += (record.temp_air_degc,)
    return kept(
        "loads",
        (*reads, *_when(record)),
        lambda: bus_series(budget, load_moments(record)),
    )


def daily_load_wh(budget: Budget, record: WeatherRecord) -> Floats:
    """Return the daily load of each month in the air and nights of a record [Wh/day].

    Parameters
    ----------
    budget
        The power budget; its own months have heaters at the design cold.
    record
        The weather.

    Returns
    -------
    array, shape (12)
        Mean over all years at nominal volts, contingency included; a month that the
        record does not have is that of the budget [Wh/day].
    """
    found = series.daily_load_wh(budget, load_rows(budget, record), record.month)
    return np.where(np.isnan(found), budget.daily_load_wh, found)


def conditions(
    battery: Battery,
    record: WeatherRecord,
    bank: Bank,
    *,
    array_w: Floats,
    heat_w: Floats,
) -> BatteryClimate:
    """Return battery temperature, heater and what they do, before the balance.

    Parameters
    ----------
    battery
        The ``[battery]`` table: box and heater.
    record
        Air temperature and sun.
    bank
        Units and chemistry.
    array_w
        What all strings could give at the bus, for a heater that they feed [W].
    heat_w
        Heat of the generators into the box [W].

    Returns
    -------
    BatteryClimate
        By interval.
    """
    box, heater = battery.box, battery.heater
    lag = (battery.box_time_constant_h, battery.box_warmer_k)
    reads: tuple[object, ...] = (box, heater, *lag, *_when(record))
    reads += (record.temp_air_degc,)
    if box is not None:
        reads += (record.ghi_w_m2, heat_w)
    if heater is not None and heater.feed == "array":
        reads += (array_w,)
    place = kept(
        "battery box", reads, lambda: place_battery(battery, record, array_w, heat_w)
    )
    # Number, age and wear of the strings do not change what temperature does.
    one = bank.with_strings(1).with_health(1.0)
    return kept(
        "battery temperature",
        (one, place),
        lambda: climate(bank, place.degc, place.heater_w),
    )


def _when(record: WeatherRecord) -> tuple[object, ...]:
    """Return when and where a record is, as the stages read it."""
    place = (record.latitude_deg, record.longitude_deg, record.elevation_m)
    return (record.start_utc, record.step_h, record.utc_offset_h, *place)


def array_nodes(design: Design, bank: Bank, module: Module) -> tuple[float, float, Any]:
    """Return first node, spacing and array voltages of a direct connection [V].

    A tracker has the nodes of its input window, and none where every string in the
    heat and in low light lies above it.
    """
    controller = design.tables.regulator
    if controller.kind == "mppt":
        wake_v = charging_v(bank) + controller.start_headroom_v
        nodes = window_nodes_v(charging_v(bank), controller.run_headroom_v, wake_v)
        slope_v = module.open_circuit_v * module.open_circuit_per_k
        hot_v = module.max_power_v + slope_v * (HOTTEST_CELL_DEGC - 25.0)
        clear = CLEAR_FRAC * design.tables.array.series * hot_v > nodes[-1]
        return 0.0, 1.0, None if clear else nodes
    volts = design.tables.bus.nominal_v
    nodes = np.linspace(0.75 * volts, 1.40 * volts, NODES)
    return float(nodes[0]), float(nodes[1] - nodes[0]), nodes


def charging_v(bank: Bank) -> float:
    """Return the terminals of a bank while it charges in bulk, at 25 degC [V].

    Notes
    -----
    Half way between rest at half charge and the set point (judgment): a tracker's
    window is read there, neither at an empty nor at a full battery.
    """
    rest_v = bank.cells * float(bank.chemistry.open_circuit.at(0.5))
    return 0.5 * (rest_v + bank.regulation_v)


def tracker_input_w(array: ArraySeries) -> Floats:
    """Return what one string gives into a tracker, its input window counted [W].

    A window that costs less than a thousandth, at dawn, is left out.
    """
    if not array.v_nodes_v.size:
        return array.p_mp_w
    into_w = window_power_w(array.p_mp_w, array.v_nodes_v, array.i_string_a)
    matters = into_w.sum() < (1.0 - WINDOW_FRAC) * array.p_mp_w.sum()
    return into_w if matters else array.p_mp_w


def kernel_tables(bank: Bank) -> col.Tables:
    """Return the bank's state tables as the kernel reads them [V, fraction, ohm Ah]."""
    t = state_tables(bank)
    found = (t.open_circuit_v, t.efficiency_frac, t.discharge_ohm_ah, t.charge_ohm_ah)
    # Copies: the kernel takes no array that is barred from writing.
    return col.Tables(*(table.copy() for table in found))


def pack_rows(
    design: Design,
    loads: Floats,
    input_w: Floats,
    now: BatteryClimate,
    sources: MachineSeries,
    record: WeatherRecord,
) -> col.Records:
    """Return the records that the kernel reads [see `powerbudget.balance.columns`].

    Parameters
    ----------
    design
        The site, for its charge controller.
    loads, input_w, now, sources
        What the other stages made; watts of one string at the controller.
    record
        Air about the charge controller.

    Returns
    -------
    array
        One record an interval, a copy: the kernel takes none that is barred from writing.
    """

    def pack() -> col.Records:
        rows = np.zeros(loads.shape[0], col.ROW)
        rows["array_w"] = behind_controller_w(design, input_w)
        fill_controller(rows, design.tables, record, input_w)
        for tier, names in enumerate(col.TIERS):
            for kind, name in enumerate(names):
                rows[name] = loads[:, tier, kind]
        fill_climate(rows, now)
        fill_sources(rows, sources)
        return rows

    others = (sources.steady_w, sources.follower_w, sources.open, sources.draw)
    reads = (input_w, loads, now, *others, *_controller_reads(design.tables, record))
    return kept("pack", reads, pack).copy()


def behind_controller_w(design: Design, input_w: Floats) -> Floats:
    """Return what one string gives behind the controller, beside the others [W].

    Parameters
    ----------
    design
        The site: a controller with losses converts what all strings give together.
    input_w
        Of one string at the controller [W].
    """
    regulator, strings = design.tables.regulator, design.tables.array.parallel
    rated_w = regulator.losses_rated_w(design.tables.bus.nominal_v)
    tracked_w = regulator.tracked_frac * input_w
    if regulator.losses is None or rated_w is None or not strings:
        return mppt_power_w(tracked_w, regulator.efficiency_frac)
    return converted_w(strings * tracked_w, regulator.losses, rated_w) / strings


def fill_controller(
    rows: col.Records, tables: Site, record: WeatherRecord, input_w: Floats
) -> None:
    """Write what heat, height and night do to the charge controller, in place."""
    regulator, air_degc = tables.regulator, record.temp_air_degc
    rows["controller_share"] = rating_left_frac(
        regulator, air_degc, tables.site.elevation_m
    )
    less_a = (1.0 + tables.bus.contingency_frac) * regulator.less_asleep_a
    rows["base_less_a"] = np.where(input_w > 0, -less_a, less_a)


def _controller_reads(tables: Site, record: WeatherRecord) -> tuple[object, ...]:
    regulator = tables.regulator
    size = tables.array.parallel if regulator.losses else 0
    bus = (tables.bus.nominal_v, tables.bus.contingency_frac)
    return (regulator, size, *bus, tables.site.elevation_m, record.temp_air_degc)


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


def fill_climate(rows: col.Records, conditions: BatteryClimate) -> None:
    """Write battery-temperature columns into kernel rows, in place."""
    rows["capacity"] = conditions.capacity_frac
    rows["open_shift_v"] = conditions.open_circuit_shift_v
    rows["discharge_ratio"] = conditions.discharge_ratio
    rows["charge_ratio"] = conditions.charge_ratio
    rows["regulation_v"] = conditions.regulation_v
    rows["self_per_h"] = conditions.self_discharge_per_h
    rows["charge_share"] = conditions.charge_share
    rows["base_w"] = conditions.heater_w
