"""The hand calculation beside the hourly run, each line with formula and source.

After the manner of IEEE 1013 (battery) and IEEE 1562 (array): currents and daily
ampere-hours, autonomy, depth and end-of-life rules of which the largest wins,
temperature, margin, hour rate, cells and strings; then the design month by load over
sun at candidate tilts, and the array by its ampere-hours.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from powerbudget.balance.problem import Problem
from powerbudget.sizing.design_month import DesignMonth, design_month

END_OF_LIFE_FRAC = 0.8
CHARGE_EFFICIENCY_FRAC = 0.85
DEFAULT_RATIO = 1.3
_1013 = "IEEE 1013 worksheet"
_GIVEN = "site file"


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


def governing_ah(
    ah_per_day: float, days: float, deepest_frac: float, daily_frac: float
) -> float:
    """Return battery Ah before temperature and margin: the largest of three rules [Ah].

    Parameters
    ----------
    ah_per_day
        Daily load [Ah/day].
    days
        Autonomy [d].
    deepest_frac, daily_frac
        Allowed depth over the autonomy and in a day [fraction].

    Returns
    -------
    float
        Largest of the depth, daily depth and end-of-life rules, not their product
        [Ah].

    References
    ----------
    IEEE Std 1013 worksheet lines 6c, 6e, 6g, 6h, as taught by K. Webb, Oregon State
    University, ESE 471 section 6, slides 34-54.

    Examples
    --------
    >>> round(governing_ah(51.4, 6, 0.80, 0.20), 1)
    385.5
    """
    unadjusted = ah_per_day * days
    return max(
        unadjusted / deepest_frac,
        ah_per_day / daily_frac,
        unadjusted / END_OF_LIFE_FRAC,
    )


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


def required_array_a(
    ah_per_day: float, sun_kwh_m2_day: float, array_to_load_ratio: float
) -> float:
    """Return array current at 1000 W/m2 for a daily load [A].

    Parameters
    ----------
    ah_per_day
        Daily load with its losses [Ah/day].
    sun_kwh_m2_day
        Design month's irradiation on the panel [kWh/m2/day].
    array_to_load_ratio
        Array Ah over load Ah wanted [ratio].

    Returns
    -------
    float
        Maximum-power current [A].

    References
    ----------
    IEEE Std 1013-2000, definition of array-to-load ratio; O. Perpinan, Energia Solar
    Fotovoltaica, 2020, exercise on three Altiplano systems.

    Examples
    --------
    >>> round(required_array_a(24.22, 4.65, 1.1), 2)
    5.73
    """
    return array_to_load_ratio * ah_per_day / sun_kwh_m2_day


def load_ah_per_day(
    load_wh_per_day: float, bus_v: float, efficiencies: tuple[float, ...]
) -> float:
    """Return the daily ampere-hours behind a load and a chain of efficiencies [Ah/day].

    Parameters
    ----------
    load_wh_per_day
        Energy at the loads [Wh/day].
    bus_v
        Nominal volts [V].
    efficiencies
        Each used once [fraction].

    Returns
    -------
    float
        At the bus [Ah/day].

    Examples
    --------
    >>> round(load_ah_per_day(230, 12, (0.95, 0.85, 0.98)), 2)
    24.22
    """
    for efficiency in efficiencies:
        load_wh_per_day /= efficiency
    return load_wh_per_day / bus_v


def make_worksheet(problem: Problem) -> tuple[WorksheetLine, ...]:
    """Return the worksheet of a prepared site.

    Parameters
    ----------
    problem
        Prepared site [-].

    Returns
    -------
    tuple of WorksheetLine
        In order, each with its own unit [-].
    """
    loads = _load_rows(problem)
    battery, adjusted = _battery_rows(problem)
    rows = [*loads, *battery, *_string_rows(problem, adjusted)]
    rows += _array_rows(problem, design_month(problem))
    return tuple(
        WorksheetLine(number, *row) for number, row in enumerate(rows, start=1)
    )


_Row = tuple[str, str, float, str, str, str, str]


def _load_rows(problem: Problem) -> list[_Row]:
    budget, volts = problem.budget, problem.budget.nominal_v
    return [
        ("Q", "daily load, contingency in it once", budget.ah_per_day, "Ah/day",
         "Wh/day / V", f"{budget.wh_per_day:.1f} Wh/day, {volts:g} V", "power budget"),
        ("Ir", "highest running current", budget.maximum_w / volts, "A",
         "maximum / V", f"{budget.maximum_w:.1f} W, {volts:g} V", "power budget"),
        ("Ip", "highest momentary current", budget.peak_w / volts, "A",
         "peak / V", f"{budget.peak_w:.1f} W, {volts:g} V", "power budget"),
    ]  # fmt: skip


def _battery_rows(problem: Problem) -> tuple[list[_Row], float]:
    criteria, bank = problem.design.tables.criteria, problem.bank
    q, days = problem.budget.ah_per_day, criteria.autonomy_d
    deep, daily = criteria.deepest_discharge_frac, criteria.daily_discharge_frac
    governing = governing_ah(q, days, deep, daily)
    degc = criteria.autonomy_degc
    left = max(float(bank.capacity_frac(degc)), 1e-9)
    adjusted = governing / left
    cold = bank.chemistry.cold[bank.cold_curve].source
    c1 = q * days
    return [
        ("D", "autonomy", days, "d", "given", "", _GIVEN),
        ("C1", "unadjusted capacity", c1, "Ah", "Q D",
         f"{q:.2f} Ah/day, {days:g} d", f"{_1013} 6a"),
        ("C2", "for the deepest discharge", c1 / deep, "Ah", "C1 / depth",
         f"depth {deep:g}", f"{_1013} 6c"),
        ("C3", "for the daily discharge", q / daily, "Ah", "Q / daily depth",
         f"daily depth {daily:g}", f"{_1013} 6e"),
        ("C4", "for the end of life", c1 / END_OF_LIFE_FRAC, "Ah", "C1 / end of life",
         f"end of life {END_OF_LIFE_FRAC:g}", f"{_1013} 6g"),
        ("C5", "governing capacity", governing, "Ah", "largest of C2, C3, C4",
         "not their product", f"{_1013} 6h"),
        ("kT", "temperature factor", 1 / left, "ratio", "1 / capacity left",
         f"{left:.3f} at {degc:g} degC, curve {bank.cold_curve}", cold),
        ("C6", "adjusted capacity", adjusted, "Ah", "C5 kT",
         "contingency is in Q already", f"{_1013} 6k, 6m"),
    ], adjusted  # fmt: skip


def _string_rows(problem: Problem, adjusted_ah: float) -> list[_Row]:
    bank, bus = problem.bank, problem.design.tables.bus
    mean_a = problem.mean_load_a
    rate = functional_hour_rate_h(adjusted_ah, mean_a)
    per_cell = bank.regulation_v / bank.cells
    cells = cells_in_series(bank.regulation_v, per_cell)
    end_v = (bus.disconnect_v or 0.0) / cells
    unit = bank.unit.capacity_ah
    rows: list[_Row] = [
        ("tf", "functional hour rate", rate, "h", "C6 / mean current",
         f"{mean_a:.3f} A; the name-plate is for {bank.unit.hour_rate_h:g} h",
         f"{_1013} 7, on the mean current of a telemetry load"),
        ("Ns", "cells in series", float(cells), "count",
         "highest voltage / charge voltage of a cell, rounded down",
         f"{bank.regulation_v:.2f} V, {per_cell:.3f} V", f"{_1013} 9b"),
    ]  # fmt: skip
    if bus.disconnect_v is not None:
        rows.append(
            ("Ve", "volts per cell at disconnect", end_v, "V", "disconnect / Ns",
             f"{bus.disconnect_v:g} V", f"{_1013} 9d")
        )  # fmt: skip
    rows.append(
        ("Np", "battery strings in parallel", float(whole_strings(adjusted_ah, unit)),
         "count", "C6 / unit, rounded up", f"unit {unit:g} Ah", f"{_1013} 10b")
    )  # fmt: skip
    return rows


def _array_rows(problem: Problem, month: DesignMonth) -> list[_Row]:
    module = problem.array.module
    asked = problem.design.tables.criteria.array_to_load_ratio
    ratio = asked or DEFAULT_RATIO
    amps = required_array_a(
        month.load_ah_per_day / CHARGE_EFFICIENCY_FRAC, month.sun_kwh_m2_day, ratio
    )
    guidance = "IEEE 1562 guidance 1.3-1.4 for critical loads, from memory"
    tried = ", ".join(f"{t:g} deg: {r:.2f}" for t, r in month.load_over_sun.items())
    return [
        ("G", f"sun on the panel in {month.name}, the design month",
         month.sun_kwh_m2_day, "kWh/m2/day", "largest load over sun of the year",
         f"tilt {month.tilt_deg:g} deg; worst Ah/kWh by tilt {tried}",
         "IEEE 1562 method; weather record"),
        ("Qm", "daily load in that month", month.load_ah_per_day, "Ah/day",
         "Wh/day / V", "", "power budget"),
        ("eta", "charge efficiency of the battery", CHARGE_EFFICIENCY_FRAC, "fraction",
         "assumed", "", "whole-cycle lead-acid figure, general text"),
        ("A", "array-to-load ratio", ratio, "ratio", "given" if asked else "assumed",
         "", _GIVEN if asked else guidance),
        ("I", "array current at 1000 W/m2", amps, "A", "A Qm / (eta G)", "",
         "IEEE 1013-2000, definition of array-to-load ratio"),
        ("Na", "array strings in parallel",
         float(whole_strings(amps, module.max_power_a)), "count",
         "I / module current, rounded up", f"module {module.max_power_a:g} A",
         "counts a direct connection; a power-point tracker gains the voltage too"),
    ]  # fmt: skip
