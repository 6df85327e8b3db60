"""Plain sums behind a battery claim: hours on a charge, and the load it assumes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from powerbudget.battery.capacity import temperature_frac
from powerbudget.battery.chemistry import chemistries
from powerbudget.quantities import show


@dataclass(frozen=True)
class Assumed:
    """The mean load that a number of days on a battery takes for granted.

    Parameters
    ----------
    depth_frac, capacity_frac
        Share of the charge that is used, and share that the cold leaves [fraction].
    watts
        Mean load [W].
    place
        Temperature and curve in words [text].
    """

    depth_frac: float
    capacity_frac: float
    watts: float
    place: str

    @property
    def text(self) -> str:
        """Both assumptions and the load, in words."""
        depth = f"{100 * self.depth_frac:.0f} % depth"
        return f"{show(self.watts, 'W')} at {depth} and {self.place}"


def days_on(
    capacity_ah: Any, volts: Any, load_w: Any, depth_frac: Any = 1.0, held: Any = 1.0
) -> Any:
    """Return days on a charge by plain division [d].

    ``days = Ah * V * depth * held / W / 24``

    Parameters
    ----------
    capacity_ah, volts
        Rated charge and the voltage at which it is counted [Ah, V].
    load_w
        Mean load [W].
    depth_frac
        Share of the charge that is used [fraction].
    held
        Share of the rated capacity that temperature and rate leave [fraction].

    Returns
    -------
    float or array
        No charge on the way [d].

    Notes
    -----
    Nominal volts; no losses in converters or wires, no self-discharge.

    Examples
    --------
    >>> days_on(180.0, 12.0, 22.5)
    4.0
    """
    return capacity_ah * volts * depth_frac * held / load_w / 24


def load_for_days(
    capacity_ah: Any, volts: Any, days: Any, depth_frac: Any = 1.0, held: Any = 1.0
) -> Any:
    """Return the mean load that empties a battery in so many days [W].

    ``W = Ah * V * depth * held / days / 24``

    Parameters
    ----------
    capacity_ah, volts
        Rated charge and the voltage at which it is counted [Ah, V].
    days
        Days without charge [d].
    depth_frac
        Share of the charge that is used [fraction].
    held
        Share of the rated capacity that temperature and rate leave [fraction].

    Returns
    -------
    float or array
        Mean load [W].

    Examples
    --------
    >>> load_for_days(180.0, 12.0, 4.0), load_for_days(180.0, 12.0, 4.0, 0.5)
    (22.5, 11.25)
    """
    return capacity_ah * volts * depth_frac * held / days / 24


def needed_ah(
    wh_per_day: Any, days: Any, volts: Any, depth_frac: Any = 1.0, factor: Any = 1.0
) -> Any:
    """Return the rated charge for some days by plain division [Ah].

    ``Ah = Wh/day * days / depth * factor / V``

    Parameters
    ----------
    wh_per_day
        Daily energy [Wh].
    days
        Days without charge [d].
    volts
        Voltage at which the charge is counted [V].
    depth_frac
        Share of the charge that may be used [fraction].
    factor
        Cold and other factors above 1, multiplied [ratio].

    Returns
    -------
    float or array
        Rated charge [Ah].

    References
    ----------
    A published worked sum: 1,000 Wh/day, 2.5 days, half the charge, 4.4 degC, 12 V.

    Examples
    --------
    >>> round(needed_ah(1000.0, 2.5, 12.0, 0.5, 1.30), 1)
    541.7
    """
    return wh_per_day * days / depth_frac * factor / volts


def held_frac(chemistry: str, curve: str, degc: float) -> float:
    """Return the share of the rated capacity that a temperature leaves [fraction].

    Parameters
    ----------
    chemistry, curve
        Names of the chemistry and of its cold curve [text].
    degc
        Battery temperature [degC].

    Returns
    -------
    float
        At most 1 [fraction].

    Examples
    --------
    >>> held_frac("agm", "conservative", -20.0)
    0.58
    """
    return float(temperature_frac(degc, chemistries()[chemistry].cold[curve]))


def rated_elsewhere_ah(
    capacity_ah: float, rated_h: float, wanted_h: float, chemistry: str
) -> float:
    """Return a capacity at another hour rate [Ah].

    Parameters
    ----------
    capacity_ah, rated_h
        Printed capacity and its hour rate [Ah, h].
    wanted_h
        Hour rate asked for [h].
    chemistry
        Name of the chemistry whose rate curve is used [text].

    Returns
    -------
    float
        More for slower rates than the printed one too: this compares ratings, it
        grants no credit [Ah].

    Examples
    --------
    >>> round(rated_elsewhere_ah(110.0, 100.0, 20.0, "flooded"), 1)
    91.7
    """
    import numpy as np

    rate = chemistries()[chemistry].rate
    logs = np.log(rate.x)
    at, there = np.interp(np.log([rated_h, wanted_h]), logs, rate.y)
    return float(capacity_ah * there / at)


def assumed_loads(
    capacity_ah: float,
    volts: float,
    days: float,
    held: dict[str, float],
    depths: tuple[float, ...] = (1.0, 0.8, 0.5),
) -> tuple[Assumed, ...]:
    """Return the load that days on a battery assume, by depth and temperature.

    Parameters
    ----------
    capacity_ah, volts
        Rated charge and the voltage at which it is counted [Ah, V].
    days
        Days without charge [d].
    held
        Name of a temperature to the share of capacity it leaves [fraction].
    depths
        Shares of the charge that are used [fraction].

    Returns
    -------
    tuple of Assumed
        One for each pair [W].

    Examples
    --------
    >>> assumed_loads(180.0, 12.0, 4.0, {"25 degC": 1.0}, (1.0,))[0].watts
    22.5
    """
    found = []
    for name, share in held.items():
        for depth in depths:
            watts = float(load_for_days(capacity_ah, volts, days, depth, share))
            found.append(Assumed(depth, share, watts, name))
    return tuple(found)


def assumed_text(loads: tuple[Assumed, ...]) -> str:
    """Return assumed loads as words, a group for each temperature [text].

    Examples
    --------
    >>> assumed_text(assumed_loads(180.0, 12.0, 4.0, {"25 degC": 1.0}))
    '22.5, 18.0 or 11.2 W at 100, 80 or 50 % depth and 25 degC'
    """
    groups: dict[str, list[Assumed]] = {}
    for load in loads:
        groups.setdefault(load.place, []).append(load)
    found = []
    for place, group in groups.items():
        watts = _either([show(load.watts, "") for load in group])
        depths = _either([f"{100 * load.depth_frac:.0f}" for load in group])
        found.append(f"{watts} W at {depths} % depth and {place}")
    return "; ".join(found)


def _either(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"
