"""Formulas of the hand worksheet, after the manner of IEEE 1013 and IEEE 1562.

`sheetlines` writes the lines from bare figures, `sitesheet` takes those of a site.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

END_OF_LIFE_FRAC = 0.8
CHARGE_EFFICIENCY_FRAC = 0.85
DEFAULT_RATIO = 1.3


@dataclass(frozen=True)
class WorksheetLine:
    """One line a reviewer can tick.

    Parameters
    ----------
    line
        Number [count].
    symbol, quantity
        Letter and words [text].
    value
        Figure [unit].
    unit, formula, inputs, source
        As printed [text].
    """

    line: int
    symbol: str
    quantity: str
    value: float
    unit: str
    formula: str
    inputs: str
    source: str


def functional_hour_rate_h(capacity_ah: float, running_a: float) -> float:
    """Return the hours in which the running load would empty a bank [h].

    Parameters
    ----------
    capacity_ah
        Adjusted capacity [Ah].
    running_a
        Highest running current [A].

    Returns
    -------
    float
        Rate at which a battery's capacity is to be read from its table [h].

    References
    ----------
    IEEE Std 1013 worksheet line 7, as taught by K. Webb, slides 34-54.

    Examples
    --------
    >>> round(functional_hour_rate_h(424.05, 6.1), 1)
    69.5
    """
    return capacity_ah / running_a


def cells_in_series(maximum_v: float, charge_v_per_cell: float) -> int:
    """Return the most cells in series that the highest bus voltage can charge [count].

    Parameters
    ----------
    maximum_v
        Highest voltage the bus may have [V].
    charge_v_per_cell
        Full-charge voltage of one cell [V].

    Returns
    -------
    int
        Whole cells [count].

    Notes
    -----
    14.7 V over 2.45 V is six cells; in binary it falls short of 6 by a hair, so a
    quotient within a millionth of a whole number counts as whole.

    References
    ----------
    IEEE Std 1013 worksheet line 9b, as taught by K. Webb, slides 34-54.

    Examples
    --------
    >>> cells_in_series(14.7, 2.45)
    6
    """
    return math.floor(maximum_v / charge_v_per_cell * (1 + 1e-6))


def whole_strings(needed: float, each: float) -> int:
    """Return how many strings in parallel cover a need [count].

    Parameters
    ----------
    needed, each
        Need and what one string gives, in the same unit [-].

    Returns
    -------
    int
        Rounded up, a hair above a whole number counting as whole [count].

    Examples
    --------
    >>> whole_strings(424.05, 110.0), whole_strings(0.3, 0.1)
    (4, 3)
    """
    return math.ceil(needed / each * (1 - 1e-9))


def cells_above_end_v(cells: int, lowest_v: float, cell_end_v: float) -> int:
    """Return the cells in series that keep a cell above its lowest volts [count].

    Parameters
    ----------
    cells
        Most that can be charged [count].
    lowest_v
        Lowest bus voltage [V].
    cell_end_v
        Lowest volts recommended for one cell [V].

    Returns
    -------
    int
        One fewer as often as the lowest bus voltage shared among them falls short,
        at least one [count].

    References
    ----------
    IEEE Std 1013 worksheet lines 9c to 9g, as taught by K. Webb, slides 34-54.

    Examples
    --------
    >>> cells_above_end_v(6, 10.8, 1.80), cells_above_end_v(6, 10.5, 1.85)
    (6, 5)
    """
    while cells > 1 and lowest_v / cells < cell_end_v * (1 - 1e-9):
        cells -= 1
    return cells


def replacing_array_a(
    ah_per_day: float,
    sun_kwh_m2_day: float,
    charge_efficiency_frac: float = 1.0,
    system_loss_frac: float = 0.0,
) -> float:
    """Return the array current at 1000 W/m2 that just replaces a daily load [A].

    Parameters
    ----------
    ah_per_day
        Daily load at the bus [Ah/day].
    sun_kwh_m2_day
        Sun on the panel: hours at 1000 W/m2 [kWh/m2/day].
    charge_efficiency_frac
        Of the battery, ampere-hours out over in [fraction].
    system_loss_frac
        Dirt, mismatch, wires, age [fraction].

    Returns
    -------
    float
        Maximum-power current [A].

    References
    ----------
    IEEE Std 1562, array sizing by ampere-hours and peak sun hours (unverified).

    Examples
    --------
    >>> round(replacing_array_a(24.0, 4.0, 0.85), 3)
    7.059
    """
    kept = charge_efficiency_frac * (1.0 - system_loss_frac)
    return ah_per_day / (kept * sun_kwh_m2_day)


def recovery_days(
    used_ah: float, array_ah_per_day: float, load_ah_per_day: float
) -> float:
    """Return the days in which an array charges a battery beside its load [d].

    Parameters
    ----------
    used_ah
        Charge to be put back [Ah].
    array_ah_per_day
        What the array puts into the battery in a day, losses off [Ah/day].
    load_ah_per_day
        Daily load [Ah/day].

    Returns
    -------
    float
        Infinite where nothing is left over [d].

    References
    ----------
    IEEE Std 1562, time to recharge after the autonomy (unverified).

    Examples
    --------
    >>> recovery_days(300.0, 65.0, 50.0)
    20.0
    """
    spare = array_ah_per_day - load_ah_per_day
    return used_ah / spare if spare > 0 else math.inf


def tracked_string_a(string_w: float, charge_v: float, efficiency_frac: float) -> float:
    """Return what one string brings to the bus behind a power-point tracker [A].

    Parameters
    ----------
    string_w
        Rated power of the string [W].
    charge_v
        Volts at which the battery charges [V].
    efficiency_frac
        Of the regulator [fraction].

    Returns
    -------
    float
        Current at 1000 W/m2 [A].

    Examples
    --------
    >>> round(tracked_string_a(100.0, 14.4, 0.96), 2)
    6.67
    """
    return string_w * efficiency_frac / charge_v
