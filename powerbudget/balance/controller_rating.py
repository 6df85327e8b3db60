"""What the array of a prepared site asks of its charge controllers."""

from __future__ import annotations

from powerbudget.balance.design_cold import coldest_degc
from powerbudget.balance.problem import Problem
from powerbudget.charging.cold_string import ColdString, string_cold_v, too_high
from powerbudget.charging.ratings import Rating, needed_charge_a


def controller_rating(problem: Problem, strings: float) -> Rating:
    """Return what so many strings of the site ask of its charge controllers.

    Parameters
    ----------
    problem
        Prepared site.
    strings
        Array strings in parallel [count].

    Returns
    -------
    Rating
        Charge current with the usual margin, and the cold open string.
    """
    tables, module = problem.design.tables, problem.array.module
    kind, series = tables.regulator.kind, tables.array.series
    bus_v = tables.bus.nominal_v
    amps = needed_charge_a(
        kind,
        bus_v,
        array_w=strings * series * module.power_w,
        short_circuit_a=strings * module.short_circuit_a,
    )
    coldest = coldest_degc(problem.record)
    volts = string_cold_v(problem.design, module, series, coldest)
    return Rating(kind, bus_v, amps, volts, max(0.0, tables.site.elevation_m))


def string_too_high(problem: Problem) -> ColdString | None:
    """Return the site's string where the cold takes it above one of its limits."""
    array = problem.design.tables.array
    coldest = coldest_degc(problem.record)
    return too_high(problem.design, problem.array.module, array.series, coldest)
