"""Battery for a duty cycle of loads that come and go, after IEEE 485 and IEEE 1115.

The other way to size a battery: where currents are high beside the mean, ampere-hours
a day mislead, and each section of the cycle is taken at the rate of its own length.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from powerbudget.errors import Fault, InputError


@dataclass(frozen=True)
class DutySection:
    """One section of a duty cycle: from its start to the end of one period.

    Parameters
    ----------
    number
        Periods in it [count].
    terms
        Change of load, minutes to the section's end, capacity rating factor and their
        product, for each period [A, min, h, Ah].
    size_ah
        Sum of the products [Ah].
    """

    number: int
    terms: tuple[tuple[float, float, float, float], ...]
    size_ah: float


@dataclass(frozen=True)
class DutyCycle:
    """What a duty cycle asks of a battery.

    Parameters
    ----------
    sections
        Each section; the largest decides.
    random_ah
        Of a load that may come at any time, added to the largest section [Ah].
    uncorrected_ah, corrected_ah
        Before and after temperature, margin and ageing [Ah].
    """

    sections: tuple[DutySection, ...]
    random_ah: float
    uncorrected_ah: float
    corrected_ah: float


def rating_factor(
    minutes: float, nominal_ah: float, table: Sequence[tuple[float, float]]
) -> float:
    """Return rated capacity over the current that a cell gives for a time [h].

    Parameters
    ----------
    minutes
        Time to the end of the section [min].
    nominal_ah
        Rated capacity of the cell [Ah].
    table
        Minutes and amperes of the maker's table, to one end voltage [min, A].

    Returns
    -------
    float
        Straight lines between the factors of the table, not extended [h].

    Raises
    ------
    InputError
        Outside the table.

    Notes
    -----
    A worked example is reproduced only by straight lines between the factors; between
    the currents its printed factors do not come out.

    References
    ----------
    IEEE Std 485, capacity rating factor, as taught by K. Webb, Oregon State
    University, ESE 471 section 6, slides 7-33.

    Examples
    --------
    >>> round(rating_factor(25, 104, [(15, 133), (30, 94)]), 3)
    0.998
    """
    rows = sorted(table)
    times = [row[0] for row in rows]
    if not rows or not times[0] <= minutes <= times[-1]:
        allowed = f"{times[0]:g} to {times[-1]:g} min" if rows else "a table"
        raise InputError(
            Fault("duty cycle", "a time outside the table of the cell",
                  f"{minutes:g} min", allowed)
        )  # fmt: skip
    return float(np.interp(minutes, times, [nominal_ah / amps for _, amps in rows]))


def duty_cycle_ah(
    periods: Sequence[tuple[float, float]],
    factor_h: Callable[[float], float],
    *,
    random: Sequence[tuple[float, float]] = (),
    temperature_factor: float = 1.0,
    margin_frac: float = 0.0,
    end_of_life_frac: float = 1.0,
) -> DutyCycle:
    """Return the capacity that a duty cycle asks, section by section [Ah].

    Parameters
    ----------
    periods
        Amperes and minutes of each period, in order [A, min].
    factor_h
        Capacity rating factor for a number of minutes, such as `rating_factor` of a
        cell's table [h].
    random
        Amperes and minutes of loads that may come at any time [A, min].
    temperature_factor
        For the lowest electrolyte temperature [ratio].
    margin_frac
        Design margin on top [fraction].
    end_of_life_frac
        Capacity at which the battery is replaced [fraction].

    Returns
    -------
    DutyCycle
        Sections, and the size before and after corrections [Ah].

    Raises
    ------
    InputError
        For an empty cycle or a factor that cannot be meant.

    References
    ----------
    IEEE Std 485 and IEEE Std 1115 cell-sizing worksheets, as taught by K. Webb, Oregon
    State University, ESE 471 section 6, slides 7-33.

    Examples
    --------
    >>> steady = duty_cycle_ah([(100.0, 120.0)], lambda minutes: 2.81)
    >>> round(steady.corrected_ah)
    281
    """
    _check_cycle(periods, margin_frac, end_of_life_frac, temperature_factor)
    sections = tuple(_section(periods, n, factor_h) for n in range(1, len(periods) + 1))
    extra = sum(amps * factor_h(minutes) for amps, minutes in random)
    size = max(section.size_ah for section in sections) + extra
    return DutyCycle(
        sections=sections,
        random_ah=extra,
        uncorrected_ah=size,
        corrected_ah=size * temperature_factor * (1 + margin_frac) / end_of_life_frac,
    )


def _section(
    periods: Sequence[tuple[float, float]],
    number: int,
    factor_h: Callable[[float], float],
) -> DutySection:
    terms, before = [], 0.0
    for k in range(number):
        amps = periods[k][0]
        minutes = sum(period[1] for period in periods[k:number])
        factor = factor_h(minutes)
        terms.append((amps - before, minutes, factor, (amps - before) * factor))
        before = amps
    return DutySection(number, tuple(terms), sum(term[3] for term in terms))


def _check_cycle(
    periods: Sequence[tuple[float, float]],
    margin_frac: float,
    end_of_life_frac: float,
    temperature_factor: float,
) -> None:
    faults = []
    if not periods:
        faults.append(Fault("periods", "the duty cycle is empty"))
    if any(amps < 0 or minutes <= 0 for amps, minutes in periods):
        faults.append(
            Fault("periods", "has a negative load or a zero time",
                  allowed="0 A or more, over 0 min")
        )  # fmt: skip
    if margin_frac < 0 or not 0 < end_of_life_frac <= 1 or temperature_factor <= 0:
        faults.append(
            Fault("margin, end of life, temperature", "is out of range",
                  f"{margin_frac:g}, {end_of_life_frac:g}, {temperature_factor:g}",
                  "0 or more; above 0 to 1; above 0")
        )  # fmt: skip
    if faults:
        raise InputError(faults)
