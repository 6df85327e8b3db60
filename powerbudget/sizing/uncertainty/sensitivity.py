"""The inputs that move the recommended size most: each at its low and its high end."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Any

from powerbudget.bisection import least_count
from powerbudget.errors import PowerBudgetError
from powerbudget.loads.budget import load_budget
from powerbudget.quantities import in_unit, plain
from powerbudget.site.scenario import Scenario
from powerbudget.site.tables import Snow
from powerbudget.sizing.array_options import Variant
from powerbudget.sizing.frontier import Search
from powerbudget.sizing.uncertainty.members import highest_design

if TYPE_CHECKING:
    from powerbudget.balance.problem import Problem
    from powerbudget.sizing.candidates import Candidate
    from powerbudget.sizing.search import Sizing

MOST = 10
FURTHER = 4
"""Array strings are tried up to this many times those recommended."""
SUN_FRAC, COLDER_K, HEALTH_FRAC = 0.10, 3.0, 0.05
TILT_DEG, AZIMUTH_DEG, LVD_V = 10.0, 15.0, 0.2
"""Ranges where nothing says better: assumed, as what a survey or a record may be off by."""


@dataclass(frozen=True)
class RangeEnd:
    """One end of the range of an input, and the size that it needs.

    Parameters
    ----------
    value
        Of the input [text].
    array_w, battery_ah
        Smallest array that passes with the recommended battery, or with the next larger
        one that has such an array; None where none has [W, Ah].
    """

    value: str
    array_w: float | None = None
    battery_ah: float | None = None


@dataclass(frozen=True)
class Influential:
    """An input of the site, and what its range does to the size.

    Parameters
    ----------
    name, value, status
        What it is, as it stands, and how far it can be relied on [text].
    low, high
        The ends of its range.
    effect_frac
        Largest change of array and battery together, of those recommended [fraction].
    """

    name: str
    value: str
    status: str
    low: RangeEnd
    high: RangeEnd
    effect_frac: float


_Input = tuple[str, str, str, tuple[str, Scenario], tuple[str, Scenario]]


def sensitivity(found: Sizing) -> tuple[Influential, ...]:
    """Return the inputs that move the recommended size, the strongest first.

    Parameters
    ----------
    found
        Of a search; one without a size that passes has nothing to move.

    Notes
    -----
    One input at a time, the others as they stand; the same search and the same criteria.
    """
    pick = found.pick
    if pick is None:
        return ()
    with ThreadPoolExecutor(2) as pool:
        rows = pool.map(lambda each: _moved(found.problem, pick, each), _inputs(found))
        kept = [row for row in rows if row is not None]
    return tuple(sorted(kept, key=lambda row: -row.effect_frac)[:MOST])


def _moved(problem: Problem, pick: Candidate, one: _Input) -> Influential | None:
    name, value, status, *ends = one
    try:
        low, high = (RangeEnd(text, *_needed(problem, pick, s)) for text, s in ends)
    except PowerBudgetError:  # this end cannot be laid out at this site
        return None
    effect = max(_change(pick, end) for end in (low, high))
    return Influential(name, value, status, low, high, effect)


def _change(pick: Candidate, end: RangeEnd) -> float:
    if end.array_w is None or end.battery_ah is None:
        return float(FURTHER)
    array, battery = end.array_w / pick.array_w, end.battery_ah / pick.battery_ah
    return abs(array - 1) + abs(battery - 1)


def _needed(
    problem: Problem, pick: Candidate, scenario: Scenario
) -> tuple[float | None, float | None]:
    changed = problem.under(scenario)
    step, steps = changed.design.tables.sizing.array_step, FURTHER * pick.array_strings
    search = Search(changed, (Variant(changed, steps),))
    search.problem = changed  # its state of health is one of the inputs
    most = -(-steps // step)
    for battery in range(pick.battery_strings, 2 * pick.battery_strings + 1):
        if search.passes(most * step, battery):
            array = least_count(partial(_passes, search, step, battery), 0, most)
            size = search.at(array * step, battery)
            return size.array_w, size.battery_ah
    return None, None


def _inputs(found: Sizing) -> Iterator[_Input]:
    problem = found.problem
    yield from _loads(problem)
    yield from _weather(problem)
    yield from _array(problem)
    yield from _battery(problem)


def _loads(problem: Problem) -> Iterator[_Input]:
    budget, tables = problem.budget, problem.design.tables
    share = max(budget.status_frac, key=lambda name: budget.status_frac[name])
    most_w = max(
        load_budget(highest_design(problem.design)).average_w, budget.average_w
    )
    reach = tables.ensemble.load_to_maximum_frac * (most_w / budget.average_w - 1)
    part, low = tables.bus.contingency_frac, 0.9
    yield _input("Load without contingency", plain(budget.wh_per_day / (1 + part), 3, "Wh/day"),
           f"mainly {share}", _scaled(problem, low), _scaled(problem, 1 + reach))  # fmt: skip
    if part:
        yield _input("Contingency", plain(100 * part, 3, "%"),
           _said(tables.bus, "contingency_frac"),
               _part(0.0, part), _part(2 * part, part))  # fmt: skip


def _passes(search: Search, step: int, battery: int, steps: int) -> bool:
    return search.passes(steps * step, battery)


def _input(name: str, value: str, status: str, *ends: tuple[str, Scenario]) -> _Input:
    low, high = ends
    return name, value, status, low, high


def _scaled(problem: Problem, factor: float) -> tuple[str, Scenario]:
    wh = problem.budget.wh_per_day / (1 + problem.design.tables.bus.contingency_frac)
    return plain(factor * wh, 3, "Wh/day"), Scenario(load_factor=factor)


def _part(new: float, old: float) -> tuple[str, Scenario]:
    return plain(100 * new, 3, "%"), Scenario(load_factor=(1 + new) / (1 + old))


def _weather(problem: Problem) -> Iterator[_Input]:
    record = problem.record
    status = "synthetic" if record.synthetic else (
        "typical year" if record.typical_year else "measured")  # fmt: skip
    mean = float(record.ghi_w_m2.mean()) * 24 / 1000
    yield _input("Global horizontal irradiation", plain(mean, 3, "kWh/m²/day"), status,
           *((in_unit(100 * sign * SUN_FRAC, "%", sign=True),
              Scenario(sun_factor=1 + sign * SUN_FRAC))
             for sign in (1, -1)))  # fmt: skip
    degc = float(record.temp_air_degc.mean())
    yield _input("Ambient temperature", f"{in_unit(degc, '°C', 1)} mean", status,
           *((in_unit(sign * COLDER_K, "K", sign=True),
              Scenario(temperature_shift_k=sign * COLDER_K))
             for sign in (1, -1)))  # fmt: skip


def _array(problem: Problem) -> Iterator[_Input]:
    tables = problem.design.tables
    array, more = tables.array, tables.ensemble.more_soiling_frac
    dirt = sum(array.soiling_by_month or [array.soiling_frac] * 12) / 12
    yield _input("Soiling", plain(100 * dirt, 2, "%"), _said(array, "soiling_frac"), _dirt(0.0),
           _dirt(dirt + more))  # fmt: skip
    bare = ("not included", Scenario(snow="none"))
    yield _input("Snow on the array", "included" if array.snow else "not included",
           _said(array, "snow"), bare,
           ("included", Scenario(snow=array.snow or Snow(cover="slides"))))  # fmt: skip
    tilts = (min(array.tilt_deg + TILT_DEG, 90.0), max(array.tilt_deg - TILT_DEG, 0.0))
    yield _input("Tilt", f"{array.tilt_deg:g}°", _said(array, "tilt_deg"),
           *((f"{deg:g}°", Scenario(tilt_deg=deg)) for deg in tilts))  # fmt: skip
    yield _input("Azimuth", f"{array.azimuth_deg:g}°", _said(array, "azimuth_deg"),
           *((f"{d:g}°", Scenario(azimuth_deg=d % 360)) for d in
             (array.azimuth_deg - AZIMUTH_DEG, array.azimuth_deg + AZIMUTH_DEG)))  # fmt: skip


def _dirt(share: float) -> tuple[str, Scenario]:
    return plain(100 * share, 2, "%"), Scenario(soiling_frac=share)


def _battery(problem: Problem) -> Iterator[_Input]:
    bank, bus = problem.bank, problem.design.tables.bus
    health = bank.health_frac
    yield _input("State of health sized for", in_unit(100 * health, "%"), "chemistry data",
           *((in_unit(100 * h, "%"), Scenario(state_of_health_frac=h))
             for h in (min(1.0, health + HEALTH_FRAC), health - HEALTH_FRAC)))  # fmt: skip
    curves = sorted(bank.chemistry.cold)
    if len(curves) > 1:
        ends = [(name, Scenario(temperature_derating=name)) for name in curves]
        yield _input("Temperature derating of capacity", bank.cold_curve, "published", ends[-1],
               ends[0])  # fmt: skip
    if bus.disconnect_v is not None:
        step = LVD_V * bus.nominal_v / 12
        volts = (bus.disconnect_v - step, bus.disconnect_v + step)
        yield _input("Low-voltage disconnect", f"{bus.disconnect_v:g} V",
               _said(bus, "disconnect_v"),
               *((plain(v, 4, "V"), Scenario(disconnect_v=v)) for v in volts))  # fmt: skip


def _said(table: Any, field: str) -> str:
    return "site file" if field in table.model_fields_set else "default"
