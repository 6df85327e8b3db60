"""What one string of modules gives, hour by hour, and where the rest went.

Each loss is applied once: the glass in `plane_of_array`, soiling on the light
behind it, temperature and low light in the one-diode curve, then mismatch,
wiring and ageing on the power.  A PWM regulator takes the current of the curve
at the bus voltage, and the same three factors lower that current; wiring really
takes volts there and not amperes, so the figure is a little low.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from powerbudget.array.curve import current_a, max_power_w
from powerbudget.array.snow import snow_lost_frac
from powerbudget.array.thermal import cell_temperature_degc
from powerbudget.cache import kept
from powerbudget.weather.plane import Plane, plane_of_array

if TYPE_CHECKING:
    from powerbudget.array.module import Module
    from powerbudget.site.tables import Array
    from powerbudget.weather.record import WeatherRecord
    from powerbudget.weather.sun import SunPosition

FloatArray = npt.NDArray[np.float64]

LOSSES = (
    "incidence",
    "soiling",
    "temperature and low light",
    "mismatch",
    "wiring",
    "ageing",
)
"""Names of the losses, in the order in which they are applied.

``horizon`` comes before them and ``snow`` after ``incidence`` where the site has them.
"""


@dataclass(frozen=True)
class ArraySeries:
    """One series string, DC, before the regulator.

    Parameters
    ----------
    poa_w_m2
        Irradiance on the plane [W/m2].
    cell_degc
        Cell temperature [degC].
    p_mp_w
        Power at the maximum-power point after every loss [W].
    v_nodes_v
        Voltages at the string's terminals [V].
    i_string_a
        Current at those voltages after every loss, one row an interval [A].
    nominal_wh
        Energy at rated power under the same irradiance [Wh].
    losses_wh
        Energy lost under each name of `LOSSES`; cold makes "temperature and low
        light" negative, a gain [Wh].
    energy_wh
        Energy at the maximum-power point [Wh].
    module
        The module [-].
    series
        Modules in the string [-].
    """

    poa_w_m2: FloatArray
    cell_degc: FloatArray
    p_mp_w: FloatArray
    v_nodes_v: FloatArray
    i_string_a: FloatArray
    nominal_wh: float
    losses_wh: dict[str, float]
    energy_wh: float
    module: Module
    series: int


def array_series(
    record: WeatherRecord,
    sun: SunPosition,
    array: Array,
    module: Module,
    *,
    v_nodes_v: FloatArray | None = None,
) -> ArraySeries:
    """Return what one string gives through the whole record [W].

    Parameters
    ----------
    record
        Hourly sky; its own albedo is used where it has one [-].
    sun
        Sun position at the middle of each interval [-].
    array
        How many in series, orientation and loss factors [-].
    module
        The module [-].
    v_nodes_v
        String voltages at which a PWM regulator may hold it, or None [V].

    Returns
    -------
    ArraySeries
        Power, currents and the account of losses [-].
    """
    plane = plane_of_array(
        record,
        sun,
        tilt_deg=array.tilt_deg,
        azimuth_deg=array.azimuth_deg,
        albedo_frac=albedo_of(record, array),
        horizon=array.horizon,
    )
    one = _lit_module(record, plane, array, module)
    cell, bare, clean, module_w = one.cell_degc, one.bare_frac, one.clean_w_m2, one.w
    nodes = np.empty(0) if v_nodes_v is None else np.asarray(v_nodes_v, dtype=float)
    names, stages = _stages_wh(
        plane, bare, clean, module_w, array, module, record.step_h
    )
    return ArraySeries(
        poa_w_m2=plane.global_w_m2,
        cell_degc=cell,
        p_mp_w=kept(
            "string",
            (one, array.series, _kept_frac(array)),
            lambda: module_w * (array.series * _kept_frac(array)),
        ),
        v_nodes_v=nodes,
        i_string_a=kept(
            "string currents",
            (one, array.series, _kept_frac(array), nodes),
            lambda: _node_currents_a(clean, cell, array, module, nodes),
        ),
        nominal_wh=stages[0],
        losses_wh={
            name: before - after
            for name, before, after in zip(names, stages, stages[1:], strict=False)
        },
        energy_wh=stages[-1],
        module=module,
        series=array.series,
    )


@dataclass(frozen=True)
class _LitModule:
    """One module: cells, what snow leaves, light behind glass and dirt, power."""

    cell_degc: FloatArray
    bare_frac: FloatArray
    clean_w_m2: FloatArray
    w: FloatArray


def _lit_module(
    record: WeatherRecord, plane: Plane, array: Array, module: Module
) -> _LitModule:
    """Return one module through the record, whatever stands beside it in a string."""
    dirt = soiling_frac(record, array)
    air = (record.temp_air_degc, record.wind_speed_m_s)
    reads: tuple[object, ...] = (plane, *air, dirt, module, array.snow)
    if array.snow is not None and array.snow.cover != "none":
        when = (record.start_utc, record.utc_offset_h, record.step_h)
        reads += (*when, record.ghi_w_m2, record.snow_depth_m, array.tilt_deg)

    def make() -> _LitModule:
        cell = cell_temperature_degc(plane.global_w_m2, *air)
        bare = 1.0 - snow_lost_frac(record, plane.global_w_m2, array)
        clean = plane.effective_w_m2 * bare * (1.0 - dirt)
        return _LitModule(cell, bare, clean, max_power_w(module, clean, cell))

    return kept("module", reads, make)


def soiling_frac(record: WeatherRecord, array: Array) -> float | FloatArray:
    """Return the share of light lost to dirt, by interval where months differ [frac].

    Parameters
    ----------
    record
        Hourly sky, for its months [-].
    array
        The year's figure, or twelve [-].

    Returns
    -------
    float or array
        Share lost [frac].
    """
    if array.soiling_by_month is None:
        return array.soiling_frac
    by_month: FloatArray = np.array(array.soiling_by_month)[record.month - 1]
    return by_month


def albedo_of(record: WeatherRecord, array: Array) -> float | FloatArray:
    """Return the ground's reflectance, by interval where it changes [frac].

    Parameters
    ----------
    record
        Hourly sky, with albedo of its own or without [record].
    array
        Twelve figures win; the single one stands where the record has none [table].

    Returns
    -------
    float or array
        Share of the light that the ground gives back [frac].
    """
    if array.albedo_by_month is not None:
        by_month: FloatArray = np.array(array.albedo_by_month)[record.month - 1]
        return by_month
    if record.albedo_frac is None:
        return array.albedo_frac
    known = np.isfinite(record.albedo_frac)
    return np.where(known, record.albedo_frac, array.albedo_frac)


def _kept_frac(array: Array) -> float:
    """Return what mismatch, wiring and ageing leave of the power [frac]."""
    return (
        (1.0 - array.mismatch_frac)
        * (1.0 - array.wiring_frac)
        * (1.0 - array.ageing_frac)
    )


def _stages_wh(
    plane: Plane,
    bare: FloatArray,
    clean: FloatArray,
    module_w: FloatArray,
    array: Array,
    module: Module,
    step_h: float,
) -> tuple[list[str], list[float]]:
    """Return the losses' names, and the string's energy before and after each [Wh]."""
    rated = array.series * module.power_w / 1000.0 * step_h
    names, stages = list(LOSSES), [float(plane.open_w_m2.sum()) * rated]
    if array.horizon is not None:
        names.insert(0, "horizon")
        stages.append(float(plane.global_w_m2.sum()) * rated)
    stages.append(float(plane.effective_w_m2.sum()) * rated)
    if array.snow is not None and array.snow.cover != "none":
        names.insert(names.index("soiling"), "snow")
        stages.append(float((plane.effective_w_m2 * bare).sum()) * rated)
    stages.append(float(clean.sum()) * rated)
    stages.append(float(module_w.sum()) * array.series * step_h)
    for lost in (array.mismatch_frac, array.wiring_frac, array.ageing_frac):
        stages.append(stages[-1] * (1.0 - lost))
    return names, stages


def _node_currents_a(
    light: FloatArray,
    cell: FloatArray,
    array: Array,
    module: Module,
    nodes: FloatArray,
) -> FloatArray:
    """Return the string's current at each node voltage [A]."""
    current = np.zeros((cell.size, nodes.size))
    if nodes.size:
        lit = light > 0
        current[lit] = _kept_frac(array) * current_a(
            module, light[lit, None], cell[lit, None], nodes / array.series
        )
    return current
