"""Where the battery lives: open air, insulated box, buried vault, with or without heat.

The battery and its box are one lump: heat capacity over conductance is the time
constant.  Temperatures are simulated before the balance, interval by interval.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

from powerbudget.errors import Fault, InputError
from powerbudget.quantities import in_unit
from powerbudget.site.tables import Battery, Box, Heater
from powerbudget.weather import WeatherRecord

Floats = NDArray[np.float64]
YEAR_D = 365.25
LOWEST_DEGC, HIGHEST_DEGC = -80.0, 80.0
"""Battery temperatures that the curves of a chemistry can be asked for (judgment)."""


@dataclass(frozen=True)
class BoxPlace:
    """Battery temperature and heat, by interval.

    Parameters
    ----------
    degc
        Battery temperature at the middle of the interval [degC].
    heater_w
        Heater's mean draw, zero without one [W].
    """

    degc: Floats
    heater_w: Floats


@dataclass(frozen=True)
class HeldBox:
    """What a box comes to in days of one outside temperature without sun.

    Parameters
    ----------
    degc
        Battery temperature [degC].
    heater_w
        Mean draw of the heater that the battery feeds, zero without one [W].
    """

    degc: float
    heater_w: float


def held_in_cold(battery: Battery, stated_degc: float) -> HeldBox:
    """Return what the battery stands at where its design temperature is stated.

    Parameters
    ----------
    battery
        The ``[battery]`` table.
    stated_degc
        The battery's own temperature, and what its box would come to where a heater
        that the battery feeds keeps it warmer [degC].

    Returns
    -------
    HeldBox
        At most where the heater switches on; an array gives no heat without sun.

    Notes
    -----
    Steady state: (power + internal heat) / conductance above the outside.

    Examples
    --------
    >>> from powerbudget.site.tables import Box, Heater
    >>> box = Box(kind="insulated", conductance="1.2 W/K", internal_heat="6 W")
    >>> heat = dict(on="5 degC", off="8 degC", feed="battery")
    >>> for power in ("60 W", "12 W"):
    ...     heater = Heater(power=power, **heat)
    ...     held_in_cold(Battery.model_construct(box=box, heater=heater), -25.0)
    HeldBox(degc=5.0, heater_w=30.0)
    HeldBox(degc=-10.0, heater_w=12.0)
    """
    box, heater = battery.box, battery.heater
    if box is None or heater is None or heater.feed == "array":
        return HeldBox(stated_degc, 0.0)
    most_w = heater.power_w + box.internal_heat_w
    reached = stated_degc + most_w / box.conductance_w_per_k
    degc = max(stated_degc, min(heater.on_degc, reached))
    lost_w = box.conductance_w_per_k * (degc - stated_degc)
    return HeldBox(degc, min(heater.power_w, max(0.0, lost_w - box.internal_heat_w)))


@dataclass(frozen=True)
class AnnualWave:
    """The yearly wave of surface temperature.

    Parameters
    ----------
    mean_degc
        Mean over the year [degC].
    amplitude_k
        Half of the swing [K].
    coldest_day
        Day of the year at which it is lowest, 0 is 1 January [d].
    """

    mean_degc: float
    amplitude_k: float
    coldest_day: float


def ground_degc(
    day: NDArray[np.float64] | float,
    wave: AnnualWave,
    depth_m: float,
    diffusivity_m2_s: float,
) -> Floats:
    """Return undisturbed ground temperature at a depth [degC].

    Parameters
    ----------
    day
        Day of the year, 0 is the start of 1 January [d].
    wave
        Wave at the surface.
    depth_m
        Below the surface [m].
    diffusivity_m2_s
        Of the soil: 0.2e-6 dry, 0.5e-6 usual, 1.0e-6 wet sand [m2/s].

    Returns
    -------
    array
        Ground temperature [degC].

    Notes
    -----
    No snow (it keeps the winter ground 5 to 10 K warmer, unverified), no freezing
    of soil water, no heat from the vault.  The daily wave is gone below half a
    metre.

    References
    ----------
    T. Kusuda & P.R. Achenbach, Earth temperature and thermal diffusivity at selected
    stations in the United States, ASHRAE Transactions 71, 1965.

    Examples
    --------
    >>> wave = AnnualWave(2.0, 18.0, 20.0)
    >>> [round(float(ground_degc(d, wave, 1.5, 0.5e-6)), 2) for d in (20, 50, 200)]
    [-5.23, -7.11, 8.97]
    """
    period_d = 365.0
    per_day = 86_400.0 * diffusivity_m2_s
    decay = depth_m * np.sqrt(np.pi / (period_d * per_day))
    lag_d = 0.5 * depth_m * np.sqrt(period_d / (np.pi * per_day))
    turn = 2 * np.pi / period_d * (np.asarray(day, float) - wave.coldest_day - lag_d)
    return np.asarray(wave.mean_degc - wave.amplitude_k * np.exp(-decay) * np.cos(turn))


def annual_wave(record: WeatherRecord) -> AnnualWave:
    """Return the yearly wave of air temperature in a record [AnnualWave].

    Notes
    -----
    Least-squares first harmonic over the whole record: air stands in for the ground
    surface.
    """
    day = day_of_year(record)
    turn = 2 * np.pi * day / YEAR_D
    design = np.column_stack([np.ones(record.n), np.cos(turn), np.sin(turn)])
    mean, c, s = np.linalg.lstsq(design, record.temp_air_degc, rcond=None)[0]
    coldest = np.mod(np.arctan2(-s, -c) / (2 * np.pi) * YEAR_D, YEAR_D)
    return AnnualWave(float(mean), float(np.hypot(c, s)), float(coldest))


def day_of_year(record: WeatherRecord) -> Floats:
    """Return days since the start of each interval's own year [d]."""
    start = record.start_local.astype("datetime64[m]")
    since = start - start.astype("datetime64[Y]").astype("datetime64[m]")
    return np.asarray(since.astype(float) / 1440.0)


def lagged_degc(
    outside_degc: Floats, step_h: float, time_constant_h: float, first: float
) -> Floats:
    """Return a first-order lag behind an outside temperature [degC].

    Parameters
    ----------
    outside_degc
        What the box would come to in the long run, by interval [degC].
    step_h
        Interval length [h].
    time_constant_h
        Heat capacity over conductance; 0 follows at once [h].
    first
        Temperature before the first interval [degC].

    Returns
    -------
    array
        At the end of each interval, exact for a constant outside [degC].

    Examples
    --------
    >>> import numpy as np
    >>> round(float(lagged_degc(np.zeros(10), 1.0, 10.0, 20.0)[-1]), 3)
    7.358
    """
    if time_constant_h <= 0:
        return np.array(outside_degc, float)
    keep = float(np.exp(-step_h / time_constant_h))
    # scipy.signal would do the same, at half a second of import time for every run.
    chain = accumulate(
        outside_degc.tolist(), lambda t, out: keep * t + (1 - keep) * out, initial=first
    )
    return np.fromiter(chain, float, outside_degc.size + 1)[1:]


def heated_degc(
    outside_degc: Floats,
    step_h: float,
    box: Box,
    heater: Heater,
    available_w: Floats,
) -> BoxPlace:
    """Return box temperature and heater draw under a thermostat.

    Parameters
    ----------
    outside_degc
        What the unheated box would come to [degC].
    step_h
        Interval length [h].
    box
        Time constant and conductance.
    heater
        Watts, thermostat and what feeds it.
    available_w
        Power that may feed the heater, by interval [W].

    Returns
    -------
    BoxPlace
        Temperature never above the thermostat's upper setting because of the
        heater, and its mean draw; it begins where the heater holds the first day.

    Notes
    -----
    An interval in which less than full power reaches the upper setting uses that
    much less: the thermostat cycles inside the interval.
    """
    tau, watts_per_k = box.time_constant_h, box.conductance_w_per_k
    keep = float(np.exp(-step_h / tau)) if tau > 0 else 0.0
    gain = (1 - keep) / watts_per_k
    degc, power = np.empty(outside_degc.size), np.empty(outside_degc.size)
    bare, heat_w = _first_day(outside_degc, step_h), _first_day(available_w, step_h)
    # The heater has run before: it does not find the box as cold as the air.
    reached = bare + min(heater.power_w, heat_w) / watts_per_k
    now, on = max(bare, min(heater.on_degc, reached)), False
    for k, (outside, most) in enumerate(
        zip(outside_degc.tolist(), available_w.tolist(), strict=True)
    ):
        bare = keep * now + (1 - keep) * outside
        on = bare < heater.off_degc if on else bare < heater.on_degc
        wanted = max(0.0, (heater.off_degc - bare) / gain) if on else 0.0
        drawn = min(heater.power_w, most, wanted)
        now = bare + gain * drawn
        on = on and now < heater.off_degc - 1e-9
        degc[k], power[k] = now, drawn
    return BoxPlace(degc, power)


def _first_day(degc: Floats, step_h: float) -> float:
    return float(degc[: max(1, round(24 / step_h))].mean())


def place_battery(
    battery: Battery,
    record: WeatherRecord,
    array_w: Floats | None = None,
    heat_w: Floats | float = 0.0,
) -> BoxPlace:
    """Return battery temperature and heater draw through a record.

    Parameters
    ----------
    battery
        The ``[battery]`` table.
    record
        Air temperature and sun.
    array_w
        What the array can give at the bus, for a heater that only it feeds [W].
    heat_w
        Further heat into a box that has a conductance [W].

    Returns
    -------
    BoxPlace
        By interval.
    """
    box = battery.box
    step = record.step_h
    if box is None:
        lag = battery.box_time_constant_h
        air = record.temp_air_degc
        degc = lagged_degc(air, step, lag, _first_day(air, step))
        return BoxPlace(degc + battery.box_warmer_k, np.zeros(record.n))
    outside = _outside_degc(box, record) + heat_w / box.conductance_w_per_k
    heater = battery.heater
    if heater is None:
        first = _first_day(outside, step)
        degc = lagged_degc(outside, step, box.time_constant_h, first)
        return BoxPlace(degc, np.zeros(record.n))
    available = np.full(record.n, np.inf)
    if heater.feed == "array":
        available = np.zeros(record.n) if array_w is None else array_w
    return heated_degc(outside, step, box, heater, available)


def _outside_degc(box: Box, record: WeatherRecord) -> Floats:
    """Return what the box would come to with the outside as it is [degC]."""
    warmer = box.internal_heat_w / box.conductance_w_per_k
    if box.kind == "buried":
        wave = annual_wave(record)
        day = day_of_year(record)
        ground = ground_degc(day, wave, box.depth_m, box.soil_diffusivity_m2_s)
        return np.asarray(ground + warmer)
    sun = box.sun_gain_k * record.ghi_w_m2 / 1000.0
    return np.asarray(record.temp_air_degc + sun + warmer)


def check_temperature(battery: Battery, degc: Floats) -> None:
    """Refuse a battery hotter or colder than its model knows.

    Parameters
    ----------
    battery
        The ``[battery]`` table.
    degc
        Its temperature, interval by interval [degC].

    Raises
    ------
    InputError
        With the key that carries most of it.
    """
    low, high = float(degc.min()), float(degc.max())
    if low >= LOWEST_DEGC and high <= HIGHEST_DEGC:
        return
    key, given = _warmest(battery) if high > HIGHEST_DEGC else ("weather", "")
    raise InputError(
        Fault(
            key,
            f"gives a battery temperature of {low:.0f} to {in_unit(high, '°C')}, outside the "
            "range of battery data",
            given,
            f"{LOWEST_DEGC:g} to {HIGHEST_DEGC:g} °C",
            (
                "use less heat in the box or a higher conductance, measured or "
                "calculated from its walls"
            )
            if high > HIGHEST_DEGC
            else "check the temperatures of the weather file",
        )
    )


def _warmest(battery: Battery) -> tuple[str, str]:
    """Return the key that warms the battery most above the air, and what it states."""
    box = battery.box
    if box is None:
        return "battery.box_warmer_k", f"{battery.box_warmer_k:g} K"
    own_k = box.internal_heat_w / box.conductance_w_per_k
    if own_k >= box.sun_gain_k:
        stated = f"{box.internal_heat_w:g} W in {box.conductance_w_per_k:g} W/K"
        return "battery.box.internal_heat", f"{stated}: {in_unit(own_k, 'K')} warmer"
    return "battery.box.sun_gain_k", f"{box.sun_gain_k:g} K"
