"""The search a second way: plain NumPy, every size of the grid at once, no halving.

For checks and for speed ratios.  It knows neither shed steps nor a disconnect delay nor a
regulator that needs a lowest battery voltage.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from powerbudget.balance import columns as col
from powerbudget.balance.arrayload import deliverable_w
from powerbudget.balance.drive import WARM_UP_DAYS
from powerbudget.balance.problem import Problem
from powerbudget.balance.ring import CLOSED_FRAC, MOST_LAPS, wraps
from powerbudget.errors import ModelRangeError
from powerbudget.limits import within
from powerbudget.sizing.autonomy import design_autonomy_days
from powerbudget.sizing.criteria import daily_discharge_frac

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Grid:
    """Every size of a grid, simulated side by side.

    Parameters
    ----------
    arrays, batteries
        Strings of each size [count].
    availability_frac, lowest_soc_frac
        From the hourly balance of each [fraction].
    worst_ratio
        Array over load in the worst month [ratio].
    """

    arrays: NDArray[np.int64]
    batteries: NDArray[np.int64]
    availability_frac: Floats
    lowest_soc_frac: Floats
    worst_ratio: Floats


class _Sizes:
    """What differs from size to size, as vectors."""

    def __init__(self, problem: Problem, arrays: Floats, batteries: Floats) -> None:
        scalars = [
            problem.scalars(int(a), problem.bank.with_strings(int(b)))
            for a, b in zip(arrays, batteries, strict=True)
        ]
        self.arrays, self.batteries = arrays.astype(int), batteries.astype(int)
        s = np.array(scalars)
        self.strings, self.held = s["strings"], s["charge_ah"]
        self.rated, self.limit = s["rated_ah"], s["charge_limit_a"]
        self.one = scalars[0]
        self.tables = problem.tables
        self.nodes = problem.currents.shape[1]
        self.direct = self.nodes > 0

    def lookup(self, table: Floats, state: Floats) -> Floats:
        """Return a table of the bank at states of charge, joined by straight lines."""
        place = np.clip(state, 0.0, 1.0) * 100.0
        low = np.minimum(place.astype(np.int64), 99)
        return np.asarray(table[low] + (table[low + 1] - table[low]) * (place - low))

    def string_a(self, currents: Floats, bus: Floats) -> Floats:
        """Return a string's current at bus voltages, from its nodes by voltage [A]."""
        first, step = self.one["node_first_v"], self.one["node_step_v"]
        place = (bus + self.one["drop_v"] - first) / step
        place = np.clip(place, 0.0, self.nodes - 1.0)
        low = np.minimum(place.astype(np.int64), self.nodes - 2)
        return np.asarray(  # straight lines between nodes
            currents[low] + (currents[low + 1] - currents[low]) * (place - low)
        )


def _asks(row: col.Record) -> tuple[float, float, float]:
    """Return what loads of every tier ask in an interval [W, A, S]."""
    watts, amps, siemens = (
        float(sum(row[name] for name in names))
        for names in zip(*col.TIERS, strict=True)
    )
    return watts, amps, siemens


def _solve(
    z: _Sizes, row: col.Record, currents: Floats, removed: Floats, served: Floats
) -> tuple[Floats, Floats, Bools, Floats]:
    """Return bus volts, charge removed, what charges, and array amperes offered."""
    state = 1.0 - removed / z.held
    open_v = z.lookup(z.tables.open_v, state) + row["open_shift_v"]
    watts, amps, siemens = _asks(row)
    base, on = served > -0.5, served > 0.5
    load_w = base * row["base_w"] + on * watts
    load_a = base * z.one["base_a"] + on * amps
    loads = (np.asarray(load_w), np.asarray(load_a), np.asarray(on * siemens))
    ohms = _ohms(z, row, removed)
    bus, linked, charging = _bus_v(z, (row, currents), open_v, loads, ohms)
    ceiling = np.maximum(row["regulation_v"], open_v)
    limited = charging & (bus > ceiling)
    bus = np.where(limited, ceiling, bus)
    safe = np.where(bus > 0, bus, 1.0)
    if not z.direct:
        linked = row["array_w"] * z.strings / safe
    battery_a = linked - (loads[0] / safe + loads[1] + loads[2] * safe)
    most = np.where(limited, (bus - open_v) / ohms[0], battery_a)
    most = np.minimum(most, z.limit * row["charge_share"])
    dt, efficiency = z.one["step_h"], z.lookup(z.tables.efficiency, state)
    most = np.minimum(most, removed / (efficiency * dt))
    put = np.maximum(0.0, np.minimum(battery_a, most)) * efficiency * dt
    taken = np.where(bus > 0, battery_a * dt, 0.0)
    new = np.where(charging, np.maximum(0.0, removed - put), removed - taken)
    return bus, new, charging, linked


def _ohms(z: _Sizes, row: col.Record, removed: Floats) -> tuple[Floats, Floats]:
    """Return resistance while charging and while discharging [ohm]."""
    state, cap = 1.0 - removed / z.held, row["capacity"]
    left = 1.0 - removed / (z.held * cap) if cap > 0 else np.zeros_like(state)
    r_in = z.lookup(z.tables.charge, state) * row["charge_ratio"] / z.rated
    r_out = z.lookup(z.tables.discharge, left) * row["discharge_ratio"] / z.rated
    return r_in, r_out


def _bus_v(
    z: _Sizes,
    rows: tuple[col.Record, Floats],
    open_v: Floats,
    loads: tuple[Floats, Floats, Floats],
    ohms: tuple[Floats, Floats],
) -> tuple[Floats, Floats, Bools]:
    """Return bus volts (-1 on collapse), the array's current, and what charges."""
    row, currents = rows
    load_w, load_a, load_s = loads
    array_w = 0.0 if z.direct else row["array_w"] * z.strings
    bus, linked = open_v, np.zeros_like(open_v)
    charging = np.zeros(open_v.size, bool)
    for _ in range(2 if z.direct else 1):
        if z.direct:
            seen = z.strings * z.string_a(currents, bus)
            linked = np.where(bus > 0, seen, linked)
        net_w, net_a = array_w - load_w, linked - load_a
        charging = net_a + net_w / open_v - load_s * open_v > 0
        ohm = np.where(charging, *ohms)
        a, b = 1.0 + ohm * load_s, open_v + ohm * net_a
        disc = b * b + 4.0 * a * ohm * net_w
        volts = (b + np.sqrt(np.maximum(disc, 0.0))) / (2.0 * a)
        dead = (disc < 0) | (~charging & (volts > open_v)) | (bus <= 0)
        bus = np.where(dead, -1.0, volts)
    return bus, linked, charging


def _step(
    z: _Sizes, row: col.Record, currents: Floats, removed: Floats, on: Bools
) -> tuple[Floats, tuple[Floats, Floats], Bools, Bools]:
    """Return charge removed, bus volts and amperes offered, served, and on next."""
    trip = z.one["trip_state"]
    served = np.where(on, 1.0, 0.0)
    bus, new, charging, offered = _solve(z, row, currents, removed, served)

    def again(wrong: Bools, value: float) -> None:
        """Solve the interval once more where loads were put on or off wrongly."""
        nonlocal bus, new, charging, offered, served
        if wrong.any():
            served = np.where(wrong, value, served)
            found = _solve(z, row, currents, removed, served)
            bus, new = np.where(wrong, found[0], bus), np.where(wrong, found[1], new)
            charging = np.where(wrong, found[2], charging)
            offered = np.where(wrong, found[3], offered)

    over = new > z.held * row["capacity"]
    empty = (bus > 0) & (over | (1.0 - new / z.held < trip))
    again(on & ~charging & (empty | (bus < z.one["trip_v"])), 0.0)
    again((served == 0.0) & ~charging & ((bus <= 0) | (new > z.held)), -1.0)
    rest = z.lookup(z.tables.open_v, 1.0 - removed / z.held) + row["open_shift_v"]
    bus = np.where(bus > 0, bus, rest)
    lost = row["self_per_h"] * z.one["step_h"] * (z.held - new)
    new = new + np.maximum(0.0, lost)
    back = bus >= z.one["return_v"]
    if trip >= 0:
        back = 1.0 - new / z.held >= z.one["return_state"]
    kept = served > 0.5
    return new, (bus, offered), kept, kept | (~on & back)


def grid_of(problem: Problem, arrays: range, batteries: range) -> Grid:
    """Return every size of a grid through the record.

    Parameters
    ----------
    problem
        Prepared site.
    arrays, batteries
        Strings to take [count].

    Returns
    -------
    Grid
        One value a size, arrays running fastest.

    Raises
    ------
    ModelRangeError
        Where the site sheds loads, delays its disconnect, or has a regulator that needs
        a lowest battery voltage or a heater that only the array feeds.
    """
    pairs = np.array([(a, b) for b in batteries for a in arrays], dtype=float)
    z = _Sizes(problem, pairs[:, 0], pairs[:, 1])
    _plain_enough(problem, z.one)
    removed, on = _started(problem, z), np.ones(z.held.size, bool)
    grid, ended, ended_on = _walk(problem, z, removed, on)
    if not wraps(problem):
        return grid
    # A typical year is walked again from its own end, size by size, until it begins
    # as an earlier lap began; a size that is closed keeps its last lap.
    moving, seen = np.ones(z.held.size, bool), [(removed, on)]
    for _ in range(MOST_LAPS):
        for was, was_on in seen:
            near = np.abs(ended - was) <= CLOSED_FRAC * z.held
            moving &= ~(near & (ended_on == was_on))
        if not moving.any():
            break
        seen.append((ended, ended_on))
        again, ended, ended_on = _walk(problem, z, ended, ended_on)
        grid = _where(moving, again, grid)
    return grid


def _where(moving: Bools, again: Grid, before: Grid) -> Grid:
    """Return the later walk for sizes that still move, else the earlier."""
    picked = {
        one.name: np.where(moving, getattr(again, one.name), getattr(before, one.name))
        for one in fields(Grid)
    }
    return Grid(**picked)


def _walk(
    problem: Problem, z: _Sizes, removed: Floats, on: NDArray[np.bool_]
) -> tuple[Grid, Floats, NDArray[np.bool_]]:
    """Return every size through the record, its charge and its switch at the end."""
    deepest, hours = np.zeros(removed.size), np.zeros(removed.size)
    asked, volts = np.zeros((12, removed.size)), np.zeros(removed.size)
    for k, row in enumerate(problem.hourly):
        removed, seen, kept, on = _step(z, row, problem.currents[k], removed, on)
        bus = seen[0]
        hours += kept
        deepest = np.maximum(deepest, removed)
        month = problem.month_index[k]
        volts += bus
        watts, amps, siemens = _asks(row)
        amps += z.one["base_a"]
        asked[month] += watts + row["base_w"] + amps * bus + siemens * bus**2
    there = asked[:, 0] > 0
    mean_v = volts / len(problem.hourly)
    offered = np.array(
        [
            np.bincount(problem.month_index, deliverable_w(problem, a, v), 12)
            for a, v in zip(z.arrays, mean_v, strict=True)
        ]
    ).T
    grid = Grid(
        arrays=z.arrays,
        batteries=z.batteries,
        availability_frac=hours / len(problem.hourly),
        lowest_soc_frac=1.0 - deepest / z.held,
        worst_ratio=(offered[there] / asked[there]).min(axis=0),
    )
    return grid, removed, on


def _started(problem: Problem, z: _Sizes) -> Floats:
    """Return the charge removed at the start, after the record's last months [Ah]."""
    given = problem.design.tables.battery.start_frac
    if given is not None:
        return np.asarray((1.0 - given) * z.held)
    n = problem.record.n
    first = max(0, n - round(WARM_UP_DAYS * 24 / problem.record.step_h))
    removed: Floats = np.zeros(z.held.size)
    on = np.ones(z.held.size, bool)
    for k in range(first, n):
        row, currents = problem.hourly[k], problem.currents[k]
        removed, _, _, on = _step(z, row, currents, removed, on)
    return removed


def _plain_enough(problem: Problem, s: col.Record) -> None:
    heater = problem.design.tables.battery.heater
    acts = any(s[name] > 0 for name in ("first_v", "second_v", "delay_h", "restart_v"))
    acts |= any(s[name] >= 0 for name in ("first_state", "second_state"))
    if acts or (heater is not None and heater.feed == "array"):
        raise ModelRangeError("the plain search knows no shedding, delay or restart")


def plain_frontier(problem: Problem) -> list[tuple[int, int]]:
    """Return array and battery strings of the frontier from the whole grid [count].

    Parameters
    ----------
    problem
        Prepared site; its own tilt and strings, without frost and recovery.

    Returns
    -------
    list of tuple
        Small batteries first [count].
    """
    tables = problem.design.tables
    steps, criteria = tables.sizing, tables.criteria
    arrays = range(1, steps.max_array_strings + 1)
    batteries = range(1, steps.max_battery_strings + 1)
    grid = grid_of(problem, arrays, batteries)
    met = within(grid.availability_frac, criteria.availability_frac, "lower")
    depth = 1.0 - grid.lowest_soc_frac
    met &= within(depth, criteria.deepest_discharge_frac, "upper")
    met &= within(grid.worst_ratio, criteria.array_to_load_ratio, "lower")
    edge: list[tuple[int, int]] = []
    least = steps.max_array_strings + 1
    for battery in batteries:
        bank = problem.bank.with_strings(battery)
        days = design_autonomy_days(problem, bank, criteria.autonomy_degc)
        daily = daily_discharge_frac(problem, bank)
        found = grid.arrays[met & (grid.batteries == battery)]
        holds = within(days, criteria.autonomy_d, "lower") and within(
            daily, criteria.daily_discharge_frac, "upper"
        )
        if holds and found.size and found.min() < least:
            least = int(found.min())
            edge.append((least, battery))
    return edge
