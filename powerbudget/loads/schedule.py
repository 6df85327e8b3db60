"""When a load is on: schedule, season, night and thermostat, by interval.

Loads that follow the clock are the same in every month; those that follow the air,
the night or the date need the moments of a weather record, and get them here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from powerbudget.cache import kept
from powerbudget.loads.daylight import night_frac
from powerbudget.loads.draws import duty_frac, on_share
from powerbudget.loads.heat import box_loss_w_per_k, heater_w
from powerbudget.site.load import HeatedBox, Load

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
TIERS = ("last", "shed first", "shed second")
"""Words for tier 0, kept until the final disconnect, then 1 and 2."""
BEHAVIOURS = ("power", "current", "resistance")


@dataclass(frozen=True)
class Moments:
    """What a load may follow, interval by interval.

    Parameters
    ----------
    month, day
        Calendar month 1-12 and day of the month, local standard time [count].
    hour
        Clock hour 0-23 at the start of the interval [count].
    air_degc
        Air temperature [degC].
    night_frac
        Share of the interval that is night [fraction].
    """

    month: Integers
    day: Integers
    hour: Integers
    air_degc: Floats
    night_frac: Floats


@dataclass(frozen=True)
class Slice:
    """One load as the bus sees it, converter and contingency in it.

    Parameters
    ----------
    name
        The line [text].
    tier
        0, 1 or 2, as in `TIERS`.
    behaviour
        How it follows the bus voltage [text].
    amount
        At full share: watts, amperes or siemens by behaviour.
    share
        Mean share by month and clock hour, shape (12, 24) [fraction].
    load
        The line with its schedule.
    """

    name: str
    tier: int
    behaviour: str
    amount: float
    share: Floats
    load: Load


def tier(load: Load) -> int:
    """Return the shedding tier of a line: 0 last, 1 shed first, 2 shed second."""
    return TIERS.index(load.priority)


def follows_weather(load: Load) -> bool:
    """Return whether a line needs air temperature, night or date."""
    return load.heater is not None or load.when != "always" or bool(load.seasons)


def monthly_share(load: Load, moments: Moments) -> Floats:
    """Return the duty cycle of a load in each month of an hourly series [fraction].

    Returns
    -------
    array, shape (12)
        Mean over all years; NaN for a month that the series does not have [fraction].
    """
    hours = np.bincount(moments.month - 1, minlength=12).astype(float)
    hours[hours == 0] = np.nan
    found: Floats = np.bincount(moments.month - 1, share(load, moments), 12) / hours
    return found


def share(load: Load, moments: Moments) -> Floats:
    """Return the share of each interval for which a line is on [fraction].

    Parameters
    ----------
    load
        The line, with hours, months, seasons, night and thermostat.
    moments
        What it may follow.

    Returns
    -------
    array
        0 to 1; for a heater the part of its rating [fraction].
    """
    month, hour = moments.month - 1, moments.hour
    found = on_share(load)[month, hour]
    for season in load.seasons:
        first, last = season.dates
        date = 100 * moments.month + moments.day
        inside = (
            (first <= date) & (date <= last)
            if first <= last
            else (first <= date) | (date <= last)
        )
        hours = np.asarray(season.hours or load.hours or (1.0,) * 24)
        scale = duty_frac(load) / load.duty_frac if load.duty_frac else 1.0
        found = np.where(inside, season.duty_frac * scale * hours[hour], found)
    if load.when == "night":
        found = found * moments.night_frac
    elif load.when == "day":
        found = found * (1 - moments.night_frac)
    if load.heater is not None:
        found = found * _heater_share(load, moments.air_degc)
    return found


def _heater_share(load: Load, air_degc: Floats) -> Floats:
    box = load.heater
    assert box is not None
    # The rating is in the amount; here only its part counts.
    rated = heater_rated_w(load)
    watts = heater_w(
        air_degc,
        thermostat_degc=box.thermostat_degc,
        loss_w_per_k=loss_w_per_k(box),
        rated_w=rated * load.quantity,
        inside_w=box.inside_w,
    )
    return watts / (rated * load.quantity) if rated * load.quantity else watts


def loss_w_per_k(box: HeatedBox) -> float:
    """Return the heat loss of a box, stated or from area and insulation [W/K]."""
    if box.loss_w_per_k is not None:
        return box.loss_w_per_k
    return box_loss_w_per_k(box.area_m2 or 1.0, box.insulation_m or 0.05)


def heater_rated_w(load: Load) -> float:
    """Return the rating of one heater of a line, written in watts [W]."""
    return (load.typical or ("W", 0.0))[1]


def design_grid(place: tuple[float, float, float], air_degc: float) -> Moments:
    """Return every hour of a year of 365 days at one air temperature.

    Parameters
    ----------
    place
        Latitude, longitude, and local standard time less UTC [deg, deg, h].
    air_degc
        Design air temperature, for heaters [degC].

    Returns
    -------
    Moments
        8760 intervals from 1 January.
    """
    return kept("design grid", (place, air_degc), lambda: _grid(place, air_degc))


def _grid(place: tuple[float, float, float], air_degc: float) -> Moments:
    dates = np.arange("2001-01-01", "2002-01-01", dtype="datetime64[D]")
    month = dates.astype("datetime64[M]").astype(np.int64) % 12 + 1
    first = dates.astype("datetime64[M]").astype("datetime64[D]")
    day = (dates - first).astype(np.int64) + 1
    number = np.repeat(np.arange(1.0, 366.0), 24)
    hour = np.tile(np.arange(24), 365)
    night = night_frac(place, number, hour.astype(float))
    return Moments(
        np.repeat(month, 24),
        np.repeat(day, 24),
        hour,
        np.full(8760, float(air_degc)),
        night,
    )


def yearly_share(load: Load, grid: Moments) -> Floats:
    """Return the mean share by month and clock hour, shape (12, 24) [fraction].

    Parameters
    ----------
    load
        The line.
    grid
        From `design_grid`.

    Returns
    -------
    array, shape (12, 24)
        Share of each clock hour in the mean of the month [fraction].
    """
    if not follows_weather(load):
        return on_share(load)
    values = share(load, grid)
    table = np.zeros((12, 24))
    days = np.zeros((12, 24))
    np.add.at(table, (grid.month - 1, grid.hour), values)
    np.add.at(days, (grid.month - 1, grid.hour), 1.0)
    return table / days
