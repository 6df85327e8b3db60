"""The hand calculation beside the hourly run, each line with formula and source.

After the manner of IEEE 1013 (battery) and IEEE 1562 (array): daily ampere-hours,
autonomy, depth and end-of-life rules of which the largest wins, temperature,
margin; then array current by the design month's sun.
"""

from __future__ import annotations

from dataclasses import dataclass

from powerbudget.balance.problem import Problem

END_OF_LIFE_FRAC = 0.8


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
    unit, formula, source
        As printed [text].
    """

    line: int
    symbol: str
    quantity: str
    value: float
    unit: str
    formula: str
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
    rows = [*_battery_rows(problem)]
    rows += _array_rows(problem)
    return tuple(
        WorksheetLine(number, *row) for number, row in enumerate(rows, start=1)
    )


_Row = tuple[str, str, float, str, str, str]
_1013 = "IEEE 1013 worksheet"


def _battery_rows(problem: Problem) -> list[_Row]:
    criteria, bank = problem.design.tables.criteria, problem.bank
    q = problem.budget.ah_per_day
    days, deep = criteria.autonomy_d, criteria.deepest_discharge_frac
    daily = criteria.daily_discharge_frac
    governing = governing_ah(q, days, deep, daily)
    cold = max(float(bank.capacity_frac(criteria.autonomy_degc)), 1e-9)
    needed = governing / cold
    strings = -(-needed // bank.unit.capacity_ah)
    return [
        ("Q", "daily load, contingency included", q, "Ah/day",
         "Wh/day over nominal bus volts", "power budget"),
        ("D", "autonomy", days, "d", "given", "[criteria]"),
        ("C1", "unadjusted capacity", q * days, "Ah", "Q D", _1013),
        ("C2", "for the deepest discharge", q * days / deep, "Ah",
         f"C1 / {deep:g}", _1013),
        ("C3", "for the daily discharge", q / daily, "Ah", f"Q / {daily:g}", _1013),
        ("C4", "for the end of life", q * days / END_OF_LIFE_FRAC, "Ah",
         f"C1 / {END_OF_LIFE_FRAC:g}", _1013),
        ("C5", "governing capacity", governing, "Ah", "largest of C2, C3, C4", _1013),
        ("kT", f"capacity left at {criteria.autonomy_degc:g} degC", cold, "fraction",
         f"curve {bank.cold_curve}", bank.chemistry.cold[bank.cold_curve].source),
        ("C6", "capacity at 25 degC", needed, "Ah", "C5 / kT", _1013),
        ("NB", "battery strings", strings, "count",
         f"C6 / {bank.unit.capacity_ah:g} Ah, rounded up", _1013),
    ]  # fmt: skip


def _array_rows(problem: Problem) -> list[_Row]:
    module = problem.array.module
    sun, month = _design_sun(problem)
    ratio = problem.design.tables.criteria.array_to_load_ratio or 1.3
    current = required_array_a(problem.budget.ah_per_day / 0.85, sun, ratio)
    strings = -(-current // module.max_power_a)
    source = "IEEE 1562 guidance 1.3-1.4 for critical loads, from memory"
    return [
        ("G", f"sun on the panel in month {month}, the least of the year", sun,
         "kWh/m2/day", "mean of the record", "weather record"),
        ("eta", "charge efficiency of the battery", 0.85, "fraction", "assumed",
         "lead-acid ampere-hour efficiency over a whole cycle, general text"),
        ("A", "array-to-load ratio", ratio, "ratio", "given or 1.3", source),
        ("I", "array current at 1000 W/m2", current, "A", "A Q / (eta G)",
         "IEEE 1013-2000, definition of array-to-load ratio"),
        ("NA", "array strings by current", strings, "count",
         f"I / {module.max_power_a:g} A, rounded up", _1013),
    ]  # fmt: skip


def _design_sun(problem: Problem) -> tuple[float, int]:
    """Return the least monthly mean on the panel and its month."""
    record, poa = problem.record, problem.array.poa_w_m2
    means = {
        month: float(poa[record.month == month].mean() * 24 / 1000)
        for month in range(1, 13)
        if (record.month == month).any()
    }
    month = min(means, key=lambda m: means[m])
    return max(means[month], 1e-6), month
