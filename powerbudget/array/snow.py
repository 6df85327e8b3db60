"""Snow on the panel: what is assumed is said, and what it costs is a loss by name."""

from __future__ import annotations

import threading
import warnings
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from powerbudget.errors import Fault, Finding, InputError
from powerbudget.quantities import in_unit
from powerbudget.weather.late_imports import pvlib_module

if TYPE_CHECKING:
    from powerbudget.site.tables import Array, Snow
    from powerbudget.weather.record import WeatherRecord

FloatArray = npt.NDArray[np.float64]

COVERING_CM_H = 1.0
"""Snowfall that covers a panel, Marion et al. (2013) [cm/h]."""
FALL_CM = 5.0
"""Depth of one fall where only monthly sums are known; assumed, no source [cm]."""
FALL_H = 2.0
"""Length of such a fall; assumed, no source [h]."""
MELTING_DEGC, MELTING_H = 1.0, 12.0
"""Snow that does not slide is gone after so many hours of such air; assumed, no
source [degC, h]."""
FROZEN_DEGC = -12.5
"""Colder than this, 1000 W/m2 do not start a slide: G / -80, Marion et al. (2013)
[degC]."""
STEEP_DEG = 45.0
"""Flatter than this the model needs the snow on the ground, Ryberg and Freeman (2017)
[deg]."""
_FALL_AT_H = 4.0
_COLD_DAY_DEGC = 1.0
_COLD_HOURS = 200.0
_QUIET = threading.Lock()
"""Filters of warnings belong to the process: threads that change them take turns."""


def snowfall_cm(record: WeatherRecord, snow: Snow) -> FloatArray:
    """Return the snow that falls in each interval [cm].

    Parameters
    ----------
    record
        The weather, with snow on the ground or without [record].
    snow
        ``[array.snow]``: monthly sums where the record has no snow [table].

    Returns
    -------
    numpy.ndarray
        Rises of the snow on the ground, or the monthly sums laid on each month's
        darkest cold days [cm].

    Raises
    ------
    InputError
        When neither is known.
    """
    if snow.snowfall_m is not None:
        return _laid_out(record, snow)
    if record.snow_depth_m is None:
        raise InputError(
            Fault(
                "array.snow.snowfall",
                "is missing: the weather file has no snow depth",
                allowed="twelve monthly sums, such as '30 25 20 10 0 0 0 0 5 15 25 30 "
                'cm\', or cover = "none"',
            )
        )
    depth_cm = 100.0 * record.snow_depth_m
    rise: FloatArray = np.maximum(np.diff(depth_cm, prepend=depth_cm[:1]), 0.0)
    return rise


def _laid_out(record: WeatherRecord, snow: Snow) -> FloatArray:
    sums_cm = 100.0 * np.array(snow.snowfall_m)
    day, rows = record.day_number, np.bincount(record.day_number)
    filled = np.maximum(rows, 1)
    light = np.bincount(day, record.ghi_w_m2) / filled
    degc = np.bincount(day, record.temp_air_degc) / filled
    first = record.day_local[0]
    date = first + np.arange(rows.size).astype("timedelta64[D]")
    block = date.astype("datetime64[M]").astype(np.int64)
    falls = np.zeros(rows.size)
    for month in np.unique(block[rows > 0]):
        total = sums_cm[month % 12]
        if total <= 0.0:
            continue
        days = np.flatnonzero((block == month) & (rows > 0))
        count = _falls(total, snow, int(month % 12), days.size)
        # Cold days first, then the darkest of them: snow falls from thick cloud.
        order = np.lexsort((light[days], degc[days] > _COLD_DAY_DEGC))
        falls[days[order[:count]]] = total / count
    hour = record.hour_local
    falling = (hour >= _FALL_AT_H) & (hour < _FALL_AT_H + FALL_H)
    per_day = np.maximum(np.bincount(day, falling), 1)
    spread: FloatArray = np.where(falling, (falls / per_day)[day], 0.0)
    return spread


def _falls(total_cm: float, snow: Snow, month: int, days: int) -> int:
    wanted = total_cm / FALL_CM if snow.snow_days is None else snow.snow_days[month]
    return int(np.clip(round(wanted), 1, days))


def snow_lost_frac(
    record: WeatherRecord, poa_w_m2: FloatArray, array: Array
) -> FloatArray:
    """Return the share of the panel's power that snow takes [fraction].

    Parameters
    ----------
    record
        The weather [record].
    poa_w_m2
        Light on the plane [W/m2].
    array
        Tilt and ``[array.snow]`` [table].

    Returns
    -------
    numpy.ndarray
        By interval [fraction].

    Raises
    ------
    InputError
        When the snowfall is not known, or visits have no interval.

    Notes
    -----
    ``slides``: Marion's model, in which snow slides off by tilt, air temperature and
    light.  ``stays``: nothing slides, and 12 h of air over 1 degC melt it.
    ``cleared``: the same, and somebody sweeps it off every so many days.

    References
    ----------
    Marion, B., Schaefer, R., Caine, H. and Sanchez, G., "Measured and modeled
    photovoltaic system energy losses from snow for Colorado and Wisconsin
    locations", Solar Energy 97, 2013, 112-121.
    Ryberg, D. and Freeman, J., NREL/TP-6A20-68705, 2017: the check of snow on the
    ground, without which flat panels stay covered.
    """
    snow = array.snow
    if snow is None or snow.cover == "none":
        return np.zeros(record.n)
    fall = snowfall_cm(record, snow)
    if snow.cover == "slides":
        covered = _sliding(record, poa_w_m2, array.tilt_deg, fall)
    else:
        covered = _staying(record, snow, fall)
    lost: FloatArray = np.ceil(covered * snow.cell_strings - 1e-9) / snow.cell_strings
    return np.clip(lost, 0.0, 1.0)


def _sliding(
    record: WeatherRecord, poa_w_m2: FloatArray, tilt_deg: float, fall_cm: FloatArray
) -> FloatArray:
    import pandas as pd

    # A made-up axis: gaps are joined, and a thousand years fit in whole seconds.
    axis = pd.date_range(
        "2001-01-01",
        periods=record.n,
        freq=pd.Timedelta(seconds=round(3600 * record.step_h)),
        unit="s",
    )

    def series(values: FloatArray) -> Any:
        return pd.Series(np.asarray(values, dtype=float), index=axis)

    depth = record.snow_depth_m
    known: dict[str, Any] = {}
    if depth is not None:
        known["snow_depth"] = series(100.0 * depth)
    model = pvlib_module("snow").coverage_nrel
    inputs = (series(fall_cm), series(poa_w_m2), series(record.temp_air_degc))
    known["threshold_snowfall"] = COVERING_CM_H
    with _QUIET, warnings.catch_warnings():
        # The library's own call of pandas announces a change of pandas.
        warnings.simplefilter("ignore", category=Warning)
        covered = model(*inputs, tilt_deg, **known)
        # The year may begin under snow that fell before it: begin as it ends.
        known["initial_coverage"] = float(covered.iloc[-1])
        covered = model(*inputs, tilt_deg, **known)
    return np.asarray(covered.to_numpy(), dtype=float)


def _staying(record: WeatherRecord, snow: Snow, fall_cm: FloatArray) -> FloatArray:
    step = record.step_h
    falls = np.flatnonzero(fall_cm / step > COVERING_CM_H)
    warm_h = np.cumsum(record.temp_air_degc > MELTING_DEGC) * step
    visits = _visits(record, snow)
    covered = np.zeros(record.n)
    for at, following in zip(falls, [*falls[1:], record.n], strict=True):
        end = min(
            int(following),
            int(np.searchsorted(warm_h, warm_h[at] + MELTING_H)),
            int(visits[np.searchsorted(visits, at, side="right")]),
        )
        covered[at:end] = 1.0
    return covered


def _visits(record: WeatherRecord, snow: Snow) -> npt.NDArray[np.int64]:
    """Return intervals at which somebody sweeps the panel, the end as the last."""
    if snow.cover != "cleared":
        return np.array([record.n])
    if snow.cleared_every_d is None:
        raise InputError(
            Fault(
                "array.snow.cleared_every",
                "is missing: interval at which the modules are cleared",
                allowed='a number of days, such as "14 d"',
            )
        )
    every = max(1, round(snow.cleared_every_d * 24.0 / record.step_h))
    first = round(12.0 / record.step_h)
    return np.append(np.arange(first, record.n, every), record.n)


def snow_findings(record: WeatherRecord, array: Array) -> list[Finding]:
    """Return what is assumed about snow [list].

    Parameters
    ----------
    record
        The weather [record].
    array
        ``[array]`` [table].

    Returns
    -------
    list of Finding
        A note where the place is cold and no snow is counted, or what is counted
        [list].
    """
    cold_h = float((record.temp_air_degc < -2.0).sum()) * record.step_h / record.years
    if array.snow is None or array.snow.cover == "none":
        if cold_h < _COLD_HOURS:
            return []
        return [
            Finding(
                "note",
                f"Snow loss is not included ({in_unit(cold_h, 'h/yr')} below -2 °C). Add "
                "[array.snow] to include it.",
            )
        ]
    return _counted_snow(record, array, array.snow)


def _counted_snow(record: WeatherRecord, array: Array, snow: Snow) -> list[Finding]:
    """Return how snow is counted, and where the model does not carry."""
    every = f"{snow.cleared_every_d or 0:g} d"
    words = {
        "slides": "slides off by tilt, temperature, and irradiance",
        "stays": f"stays until {MELTING_H:g} h above {MELTING_DEGC:g} °C melt it",
        "cleared": f"stays until it melts or is cleared every {every}",
    }[snow.cover]
    basis = "monthly sums, assigned to the cold days with the lowest irradiation"
    if snow.snowfall_m is None:
        basis = "snow depth of the weather file"
    found = [Finding("note", f"Snow on the modules {words}; snowfall from {basis}.")]
    flat = array.tilt_deg < STEEP_DEG and record.snow_depth_m is None
    if snow.cover == "slides" and flat:
        found.append(
            Finding(
                "warning",
                "Without snow depth in the weather file the snow model overestimates "
                f"cover at {array.tilt_deg:g}° tilt; it was fitted to steeper modules.",
            )
        )
    deep_h = float((record.temp_air_degc < FROZEN_DEGC).sum()) * record.step_h
    if snow.cover == "slides" and deep_h > _COLD_HOURS * record.years:
        found.append(
            Finding(
                "warning",
                f"The snow model overestimates multi-week snow cover below {FROZEN_DEGC:g} "
                f"°C ({in_unit(deep_h / record.years, 'h/yr')}). It was fitted in Colorado and "
                "Wisconsin.",
            )
        )
    return found
