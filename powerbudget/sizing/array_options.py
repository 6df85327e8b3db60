"""Which ways of building the array the search tries: tilts and strings."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import TypeVar

from powerbudget.balance.design_cold import coldest_degc
from powerbudget.balance.problem import Problem
from powerbudget.balance.stages import tracker_input_w
from powerbudget.charging.cold_string import too_high
from powerbudget.charging.controller import HOT_CELL_DEGC
from powerbudget.errors import Fault, InputError
from powerbudget.quantities import count, in_unit
from powerbudget.site.scenario import Scenario
from powerbudget.site.sizing import AUTO

T = TypeVar("T", bound=float)
TILT_STEPS_DEG = (-15.0, 0.0, 15.0, 30.0)
"""Around the latitude; the first three are those of IEEE 1562, unverified [deg]."""
MOST_IN_SERIES = 30
MANY = 100_000
WORKERS = 2


@dataclass(frozen=True)
class Variant:
    """One way of building the array, prepared.

    Parameters
    ----------
    problem
        The site with this tilt and this many modules in series.
    most_strings
        Strings in parallel that the search may take [count].
    """

    problem: Problem
    most_strings: int

    @property
    def series(self) -> int:
        """Modules in a string [count]."""
        return self.problem.design.tables.array.series

    @property
    def lossless(self) -> bool:
        """Whether a tracker takes every watt, so that only modules in all count."""
        array = self.problem.array
        tracked = self.problem.design.tables.regulator.kind == "mppt"
        return tracked and tracker_input_w(array) is array.p_mp_w


def variants(problem: Problem) -> tuple[Variant, ...]:
    """Return every way to build the array that the site file lets the search try.

    Parameters
    ----------
    problem
        The site as written, its bank as old as it is to be.

    Returns
    -------
    tuple of Variant
        The site's own way first where it is among them.

    Raises
    ------
    InputError
        When no string fits the regulator.
    """
    tables = problem.design.tables
    most = tables.sizing.max_array_strings * tables.array.series
    found = []
    bearable = most_parallel(problem)
    with ThreadPoolExecutor(WORKERS) as pool:
        planes = pool.map(partial(_turned, problem), candidate_tilts(problem))
        strung = candidate_series(problem)
    for turned in planes:
        lossless: list[int] = []
        for series in strung:
            strings = min(most // series, bearable)
            if strings < tables.sizing.array_step or _repeats(series, lossless):
                continue
            found.append(Variant(_strung(turned, series), strings))
            # Few strings may be all that the regulator bears.
            if found[-1].lossless and bearable == MANY:
                lossless.append(series)
    if not found:
        raise InputError(_no_step(problem, bearable))
    return tuple(found)


def _repeats(series: int, lossless: list[int]) -> bool:
    """Return whether shorter strings that lose nothing make the same arrays."""
    return any(series % shorter == 0 for shorter in lossless)


def most_parallel(problem: Problem) -> int:
    """Return the strings in parallel that the regulator's input bears [count].

    Returns
    -------
    int
        By 1.25 times the short-circuit current of each string; as many as anyone can
        buy where no limit is stated [count].

    References
    ----------
    NEC 690.8(A): 125 % of the short-circuit current (unverified).
    """
    limit_a = _input_limit(problem)[0]
    return int(limit_a / input_a(problem, 1) + 1e-9) if limit_a else MANY


def input_a(problem: Problem, strings: int) -> float:
    """Return the current that so many strings may drive into the regulator [A]."""
    return 1.25 * strings * problem.array.module.short_circuit_a


def _input_limit(problem: Problem) -> tuple[float, str]:
    """Return the least input limit of all controllers, 0 without, and its key [A, text]."""
    regulator = problem.design.tables.regulator
    named = {"maximum_input_a": "maximum_input_current"}
    if regulator.kind == "pwm":
        # What comes in goes out of a direct connection.
        named["maximum_charge_a"] = "maximum_charge_current"
    limits = [(a, key) for name, key in named.items() if (a := regulator.of_all(name))]
    return min(limits, default=(0.0, ""))


def input_in_the_way(problem: Problem) -> str:
    """Return which input rating ends the search before ``[sizing]`` does [text].

    Returns
    -------
    str
        Key and value, and the strings it bears; empty where ``max_array_strings`` or
        nothing ends the search first [text].
    """
    bears = most_parallel(problem)
    if bears >= problem.design.tables.sizing.max_array_strings:
        return ""
    limit_a, key = _input_limit(problem)
    return f"{key} of {limit_a:g} A, enough for {count(bears, 'array string')}"


def _no_step(problem: Problem, bearable: int) -> Fault:
    steps = problem.design.tables.sizing
    return Fault(
        "sizing",
        "no array step fits the limits",
        f"steps of {count(steps.array_step, 'string')}, at most {steps.max_array_strings}; "
        f"the charge controller input allows {bearable} in parallel",
        (
            "use a smaller array_step, or a charge controller with a higher input "
            "current"
        ),
    )


def candidate_tilts(problem: Problem) -> tuple[float, ...]:
    """Return the tilts to try, the site's own first where it is one of them [deg].

    Returns
    -------
    tuple
        Only its own unless ``[sizing] tilts`` says otherwise; ``"auto"`` takes the
        latitude, 15 deg less, and 15 and 30 deg more as well [deg].
    """
    tables = problem.design.tables
    own, asked = tables.array.tilt_deg, tables.sizing.tilts
    if asked is None:
        return (own,)
    if isinstance(asked, str):
        latitude = round(abs(tables.site.latitude_deg))
        near = [min(max(latitude + step, 0.0), 90.0) for step in TILT_STEPS_DEG]
        asked = tuple(sorted({*near, own}))
    return _first(own, asked)


def candidate_series(problem: Problem) -> tuple[int, ...]:
    """Return modules in series to try, the site's own first where it is one [count].

    Returns
    -------
    tuple of int
        Only its own unless ``[sizing] series`` says otherwise; those whose hot
        maximum-power voltage cannot charge the battery, or whose cold open-circuit
        voltage exceeds ``array_voltage_limit``, are left out [count].

    Raises
    ------
    InputError
        When none is left.
    """
    tables = problem.design.tables
    own, asked = tables.array.series, tables.sizing.series
    if asked is None:
        return (own,)
    wanted = tuple(range(1, MOST_IN_SERIES + 1)) if isinstance(asked, str) else asked
    fits = tuple(series for series in wanted if not unfit(problem, series))
    if asked == AUTO and tables.regulator.kind == "pwm":
        fits = fits[:1]
    if not fits:
        raise InputError(_none_fits(problem, wanted))
    return _first(own, fits)


def hot_module_v(problem: Problem) -> float:
    """Return the maximum-power volts of one module with hot cells [V].

    Returns
    -------
    float
        At 60 degC cells; falls by as many volts as the open-circuit voltage [V].
    """
    module = problem.array.module
    slope_v = module.open_circuit_v * module.open_circuit_per_k
    return module.max_power_v + slope_v * (HOT_CELL_DEGC - 25.0)


def unfit(problem: Problem, series: int) -> str:
    """Return why a string does not go with the regulator, empty where it does [text].

    Parameters
    ----------
    problem
        Prepared site.
    series
        Modules in the string [count].

    Returns
    -------
    str
        Its hot or its cold voltage beside the limit [text].
    """
    tables, bank = problem.design.tables, problem.bank
    drop = tables.regulator.drop_v if tables.regulator.kind == "pwm" else 0.0
    need, hot = bank.regulation_v + drop, series * hot_module_v(problem)
    coldest = coldest_degc(problem.record)
    over = too_high(problem.design, problem.array.module, series, coldest,
                    tables.sizing.array_voltage_limit_v)  # fmt: skip
    if over:
        degc = in_unit(coldest, "°C")
        return f"Voc {in_unit(over.volts, 'V')} at {degc}, limit {over.limit_v:g} V"
    # 5 %: a hot afternoon just short of absorption still fills the battery.
    if hot < 0.95 * need:
        return f"{in_unit(hot, 'V', 1)} with hot cells, charging voltage {in_unit(need, 'V', 1)}"
    return ""


def _first(own: T, values: tuple[T, ...]) -> tuple[T, ...]:
    return (own, *(v for v in values if v != own)) if own in values else values


def _none_fits(problem: Problem, wanted: tuple[int, ...]) -> Fault:
    why = "; ".join(f"{n}: {unfit(problem, n)}" for n in (wanted[0], wanted[-1]))
    return Fault(
        "sizing.series",
        "no number of modules in series fits the charge controller",
        why,
        "string voltage between the charging voltage and array_voltage_limit",
        "use another module, or a charge controller with a higher input voltage",
    )


def _turned(problem: Problem, tilt_deg: float) -> Problem:
    same = tilt_deg == problem.design.tables.array.tilt_deg
    return problem if same else problem.under(Scenario(tilt_deg=tilt_deg))


def _strung(problem: Problem, series: int) -> Problem:
    """Return the site with another number of modules in series."""
    same = series == problem.design.tables.array.series
    return problem if same else problem.under(Scenario(modules_in_series=series))
