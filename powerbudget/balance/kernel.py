"""The compiled hour-by-hour balance, held to a second one in plain Python by the tests.

One record of ``hourly`` is one interval; fields are named in
`powerbudget.balance.columns`.
State is charge removed from full in Ah, so cold hides capacity without destroying
it.  The bus voltage of an interval solves a quadratic, because constant-power
loads draw more current when it sags.
"""

from __future__ import annotations

import math
from types import SimpleNamespace
from typing import Any, NamedTuple

import numpy as np

from powerbudget.balance.columns import RESULT, ROW, SCALARS, SWITCHES, Record
from powerbudget.balance.compiled import Compiled, part
from powerbudget.balance.dispatch import reset, share_out, wake


class CellState(NamedTuple):
    """The battery at the start of an interval: charge removed, held, state, rest volts."""

    removed: float
    held: float
    state: float
    open_v: float


class Feed(NamedTuple):
    """What may feed the bus: strings awake, their watts, other sources, and limits."""

    direct: bool
    strings: float
    array_w: float
    own_w: float
    most_a: float
    most_w: float


class LoadState(NamedTuple):
    """What the bus must feed, by behavior [W, A, S]."""

    watts: float
    amps: float
    siemens: float


class BusState(NamedTuple):
    """A balance at the bus: its volts, array current offered and linked, direction."""

    volts: float
    offered: float
    linked: float
    charging: bool
    ohm: float


class Connected(NamedTuple):
    """Loads (1 on, 0 off, -1 nothing at all), shed steps, cause, time below disconnect."""

    served: float
    first: bool
    second: bool
    cause: float
    below_h: float


class Flow(NamedTuple):
    """What an interval does: bus volts, currents, charge removed at its end."""

    volts: float
    offered: float
    linked: float
    used: float
    battery_a: float
    removed: float


class Scratch(NamedTuple):
    """Records that a count overwrites; made outside, as making them compiles for long."""

    outs: Any
    modes: Any
    rows: Any
    sizes: Any
    dark: Any


def _scratch() -> Scratch:
    outs, modes = np.zeros(1, RESULT), np.zeros(1, SWITCHES)
    return Scratch(outs, modes, np.zeros(1, ROW), np.zeros(1, SCALARS), np.zeros(0))


@part
def _lookup(table: Any, state: float) -> float:
    """Return a state table's value, straight lines between whole percents."""
    if state <= 0.0:
        return float(table[0])
    if state >= 1.0:
        return float(table[100])
    place = state * 100.0
    low = int(place)
    return float(table[low] + (table[low + 1] - table[low]) * (place - low))


@part
def _string_a(currents: Any, first_v: float, step_v: float, array_v: float) -> float:
    """Return one string's current at an array voltage from its table."""
    last = currents.shape[0] - 1
    place = (array_v - first_v) / step_v
    if place <= 0.0:
        return float(currents[0])
    if place >= last:
        return float(currents[last])
    low = int(place)
    return float(currents[low] + (currents[low + 1] - currents[low]) * (place - low))


@part
def _bus_v(
    open_v: float, ohm: float, power_w: float, amps: float, siemens: float
) -> float:
    """Return the bus voltage for net power and current offered, -1 on collapse."""
    a = 1.0 + ohm * siemens
    b = open_v + ohm * amps
    disc = b * b + 4.0 * a * ohm * power_w
    if disc < 0.0:
        return -1.0
    return (b + math.sqrt(disc)) / (2.0 * a)


@part
def _crossed(bus: float, state: float, low_v: float, low_state: float) -> bool:
    """Return whether a shed step acts; 0 V and state -1 never do."""
    return (low_v > 0.0 and bus < low_v) or state < low_state


@part
def _switch(
    s: Any, mode: Any, now: Connected, bus: float, state: float, was: Any
) -> None:
    """Set the switches for the next interval; one that just opened stays open."""
    on, first, second = was
    if now.served < -0.5:
        mode.locked = 1.0
    if not now.first:
        mode.first = 0.0
    if not now.second:
        mode.second = 0.0
    if now.served > 0.5:
        mode.on = 1.0
    elif on:
        mode.on = 0.0
    elif s.trip_state >= 0.0:
        mode.on = 1.0 if state >= s.return_state else 0.0
    else:
        mode.on = 1.0 if bus >= s.return_v else 0.0
    if not first and bus >= s.first_return_v and state >= s.first_return_state:
        mode.first = 1.0
    if not second and bus >= s.second_return_v and state >= s.second_return_state:
        mode.second = 1.0


@part
def _load(row: Any, s: Any, served: float, first: bool, second: bool) -> LoadState:
    """Return the loads that are connected; -1 leaves not even the base draw."""
    if served < -0.5:
        return LoadState(0.0, 0.0, 0.0)
    watts, amps, siemens = row.base_w, s.base_a - row.base_less_a, 0.0
    if served > 0.5:
        watts += row.load_w
        amps += row.load_a
        siemens += row.load_s
        if first:
            watts += row.first_w
            amps += row.first_a
            siemens += row.first_s
        if second:
            watts += row.second_w
            amps += row.second_a
            siemens += row.second_s
    return LoadState(watts, amps, siemens)


@part
def _ohm(row: Any, tables: Any, s: Any, cell: CellState, charging: bool) -> float:
    """Return the internal resistance; on discharge of the charge that cold leaves."""
    if charging:
        ohm = _lookup(tables.charge, cell.state) * row.charge_ratio
        return float(ohm / s.rated_ah)
    left = 0.0
    if row.capacity > 0.0:
        left = 1.0 - cell.removed / (cell.held * row.capacity)
    ohm = _lookup(tables.discharge, left) * row.discharge_ratio
    return float(ohm / s.rated_ah)


@part
def _direct_a(currents: Any, s: Any, feed: Feed, bus: float) -> tuple[float, float]:
    """Return what strings tied to the bus offer at its volts, and what is linked."""
    string_a = _string_a(currents, s.node_first_v, s.node_step_v, bus + s.drop_v)
    return s.strings * string_a, min(feed.strings * string_a, feed.most_a)


@part
def _balance(
    row: Any, currents: Any, tables: Any, s: Any, cell: CellState, feed: Feed, load: Any
) -> BusState:
    """Return the bus at which loads and sources balance; -1 V where none does."""
    bus, offered, linked, charging = cell.open_v, 0.0, 0.0, False
    charge_ohm = discharge_ohm = -1.0
    watts, falls = min(feed.array_w, feed.most_w), False
    # Twice: the direct connection's current is read at the bus voltage that it
    # itself helps to set, and a tracker's limit acts on the current at that voltage.
    for _ in range(2):
        if feed.direct:
            offered, linked = _direct_a(currents, s, feed, bus)
        net_a = linked - load.amps
        net_w = watts + feed.own_w - load.watts
        rest = load.siemens * cell.open_v
        charging = net_a + net_w / cell.open_v - rest > 0.0 and not falls
        if charging and charge_ohm < 0.0:
            charge_ohm = _ohm(row, tables, s, cell, True)
        if not charging and discharge_ohm < 0.0:
            discharge_ohm = _ohm(row, tables, s, cell, False)
        ohm = charge_ohm if charging else discharge_ohm
        bus = _bus_v(cell.open_v, ohm, net_w, net_a, load.siemens)
        # Falling short at rest voltage, a bus above it is no way out: from rest
        # the voltage goes down and finds no balance.
        if not charging and bus > cell.open_v:
            bus = -1.0
        if bus <= 0.0:
            break
        if not feed.direct:
            if watts <= feed.most_a * bus:
                break
            # A current, no longer a power; less of it cannot turn a discharge round.
            linked, watts, falls = feed.most_a, 0.0, not charging
    return BusState(bus, offered, linked, charging, charge_ohm)


@part
def _charge(
    row: Any,
    tables: Any,
    s: Any,
    cell: CellState,
    feed: Feed,
    load: LoadState,
    at: BusState,
    ceiling: float,
) -> Flow:
    """Return an interval that charges, within regulation, charge limit and room."""
    bus, offered, linked = at.volts, at.offered, at.linked
    limited = False
    if bus > ceiling:
        bus = ceiling
        limited = True
    if not feed.direct:
        offered = feed.array_w / bus
        linked = min(offered, feed.most_w / bus, feed.most_a)
    drawn = load.watts / bus + load.amps + load.siemens * bus
    battery_a = linked + feed.own_w / bus - drawn
    most = (bus - cell.open_v) / at.ohm if limited else battery_a
    most = min(most, s.charge_limit_a * row.charge_share)
    efficiency = _lookup(tables.efficiency, cell.state)
    most = min(most, cell.removed / (efficiency * s.step_h))
    battery_a = max(0.0, min(battery_a, most))
    gained = battery_a * efficiency * s.step_h
    removed = max(0.0, cell.removed - gained)
    return Flow(bus, offered, linked, battery_a + drawn, battery_a, removed)


@part
def _discharge(
    s: Any, cell: CellState, feed: Feed, load: LoadState, at: BusState
) -> Flow:
    """Return an interval that discharges; one without a balance moves no charge."""
    bus, offered, linked = at.volts, at.offered, at.linked
    if bus <= 0.0:
        return Flow(bus, offered, linked, 0.0, 0.0, cell.removed)
    if not feed.direct:
        offered = feed.array_w / bus
        linked = min(offered, feed.most_w / bus, feed.most_a)
    drawn = load.watts / bus + load.amps + load.siemens * bus
    used = linked + feed.own_w / bus
    battery_a = used - drawn
    removed = cell.removed - battery_a * s.step_h
    return Flow(bus, offered, linked, used, battery_a, removed)


@part
def _empty(row: Any, s: Any, held: float, flow: Flow) -> bool:
    """Return whether the usable charge is gone, or the state at which to disconnect."""
    if flow.volts <= 0.0:
        return False
    gone = flow.removed > held * row.capacity
    return bool(gone or 1.0 - flow.removed / held < s.trip_state)


@part
def _overloads(row: Any, s: Any, load: LoadState, open_v: float) -> bool:
    """Return whether the loads draw more than the load terminals bear, at rest volts."""
    amps = load.amps - (s.base_a - row.base_less_a)
    amps += (load.watts - row.base_w) / open_v + load.siemens * open_v
    return bool(amps > s.load_limit_a)


@part
def _next_stage(s: Any, mode: Any, flow: Flow, held: bool) -> None:
    """Go on from absorption to float, or back to bulk, after an interval."""
    if mode.floating > 0.5:
        if flow.volts < s.recharge_v:
            mode.floating = mode.absorbed_h = 0.0
    elif held:
        mode.absorbed_h += s.step_h
        if mode.absorbed_h >= s.absorb_h or flow.battery_a < s.tail_a:
            mode.floating = 1.0


@part
def _feed(
    row: Any, currents: Any, s: Any, mode: Any, cell: CellState, dark: bool
) -> tuple[Feed, tuple[float, float, float, float]]:
    """Return what may feed the bus, and what sources beside the array offer."""
    strings, direct = 0.0 if dark else s.strings, currents.shape[0] > 0
    source_w = share = code = 0.0
    if s.source > 0.5:
        source_w, share, code = wake(row, s, mode, cell.state)
    array_w = 0.0 if direct else row.array_w * strings
    most_a = s.controller_a * row.controller_share
    most_w = s.controller_w * row.controller_share
    feed = Feed(direct, strings, array_w, row.steady_w + source_w, most_a, most_w)
    return feed, (row.steady_w, source_w, share, code)


@part
def _ceiling_v(row: Any, currents: Any, s: Any, mode: Any, open_v: float) -> float:
    """Return the bus voltage that charging holds: absorption, or float until dawn."""
    regulation_v = row.regulation_v
    if s.float_drop_v > 0.0:
        lit = row.array_w > 0.0 or (currents.shape[0] > 0 and currents[0] > 0.0)
        if lit and mode.lit < 0.5:
            mode.floating = mode.absorbed_h = 0.0
        mode.lit = 1.0 if lit else 0.0
        regulation_v -= s.float_drop_v * mode.floating
    return float(max(regulation_v, open_v))


@part
def _fewer(
    row: Any, s: Any, mode: Any, now: Connected, flow: Flow
) -> tuple[Connected, bool]:
    """Return what a discharge leaves connected, and whether that is less than before."""
    served, first, second, cause, _ = now
    held, below_h = s.charge_ah, 0.0
    left = 1.0 - flow.removed / held
    if served > 0.5:
        if first and _crossed(flow.volts, left, s.first_v, s.first_state):
            return Connected(served, False, second, cause, below_h), True
        if second and _crossed(flow.volts, left, s.second_v, s.second_state):
            return Connected(served, first, False, cause, below_h), True
        if 0.0 < flow.volts < s.trip_v:
            below_h = mode.below_h + s.step_h
        empty = _empty(row, s, held, flow)
        if empty or flow.volts <= 0.0 or below_h > s.delay_h:
            return Connected(0.0, first, second, 2.0 if empty else 1.0, 0.0), True
    elif served > -0.5 and (flow.volts <= 0.0 or flow.removed > held):
        return Connected(-1.0, first, second, cause, below_h), True
    return Connected(served, first, second, cause, below_h), False


@part
def _borne(
    row: Any, currents: Any, tables: Any, s: Any, mode: Any, cell: CellState, feed: Feed
) -> tuple[Connected, Flow, bool]:
    """Return the loads that can be borne, what then flows, and whether it is held."""
    ceiling = _ceiling_v(row, currents, s, mode, cell.open_v)
    first, second = mode.first > 0.5, mode.second > 0.5
    now = Connected(1.0 if mode.on > 0.5 else 0.0, first, second, 0.0, 0.0)
    # Each pass with fewer loads than the one before, until what is left can be borne.
    while True:
        load = _load(row, s, now.served, now.first, now.second)
        limited = s.load_limit_a > 0.0 and now.served > 0.5
        if limited and _overloads(row, s, load, cell.open_v):
            now = Connected(0.0, now.first, now.second, 3.0, 0.0)
            continue
        at = _balance(row, currents, tables, s, cell, feed, load)
        if at.charging:
            flow = _charge(row, tables, s, cell, feed, load, at, ceiling)
            break
        flow = _discharge(s, cell, feed, load, at)
        now, again = _fewer(row, s, mode, now, flow)
        if not again:
            break
    return now, flow, at.charging and flow.volts >= ceiling


@part
def step(
    row: Any, currents: Any, tables: Any, s: Any, removed: float, mode: Any, out: Any
) -> None:
    """Advance one interval: write its results to ``out`` and the switches to ``mode``.

    Parameters
    ----------
    row
        One record of ``hourly`` [see `ROW`].
    currents
        One string's current at the voltage nodes, empty for power-point tracking [A].
    tables
        State tables [see `Tables`].
    s
        Scalars [see `SCALARS`].
    removed
        Charge removed from full at the start [Ah].
    mode
        Switches, overwritten with those of the next interval [see `SWITCHES`].
    out
        Result record, overwritten [see `RESULT`].
    """
    held, state = s.charge_ah, 1.0 - removed / s.charge_ah
    open_v = _lookup(tables.open_v, state) + row.open_shift_v
    cell = CellState(removed, held, state, open_v)
    was = (mode.on > 0.5, mode.first > 0.5, mode.second > 0.5)
    dark = s.restart_v > 0.0 and (mode.locked > 0.5 or cell.open_v < s.restart_v)
    feed, offer = _feed(row, currents, s, mode, cell, dark)
    now, flow, at_ceiling = _borne(row, currents, tables, s, mode, cell, feed)
    if s.float_drop_v > 0.0:
        _next_stage(s, mode, flow, at_ceiling)
    removed = flow.removed
    removed += max(0.0, row.self_per_h * s.step_h * (held - removed))
    bus = flow.volts if flow.volts > 0.0 else cell.open_v
    share_out(s, mode, out, bus, (flow.used, flow.linked), offer)
    out.removed_ah, out.bus_v, out.offered_a = removed, bus, flow.offered
    out.battery_a, out.served, out.cause = flow.battery_a, now.served, now.cause
    out.first = 1.0 if now.first and now.served > 0.5 else 0.0
    out.second = 1.0 if now.second and now.served > 0.5 else 0.0
    out.locked = 1.0 if dark else 0.0
    mode.below_h = now.below_h
    if not (now.served > 0.5 and now.first and now.second):
        _switch(s, mode, now, bus, 1.0 - removed / held, was)


@Compiled
def go_on(
    hourly: Any,
    currents: Any,
    tables: Any,
    s: Any,
    removed: float,
    mode: Any,
    out: Any,
) -> None:
    """Run every interval from switches as they stand, and leave them as they end.

    Parameters
    ----------
    hourly, currents, tables, s
        As in `step`, one record of ``hourly`` and ``currents`` for each interval.
    removed
        Charge removed from full at the start [Ah].
    mode
        Switches, overwritten with those after the last interval [see `SWITCHES`].
    out
        One record an interval, overwritten [see `RESULT`].
    """
    for k in range(hourly.shape[0]):
        step(hourly[k], currents[k], tables, s, removed, mode, out[k])
        removed = out[k].removed_ah


@Compiled
def go_on_windowed(
    hourly: Any,
    currents: Any,
    tables: Any,
    s: Any,
    removed: float,
    mode: Any,
    out: Any,
    window: Any,
    length: int,
) -> None:
    """Run as `go_on` does, behind a tracker that leaves its input window.

    Parameters
    ----------
    hourly, currents, tables, s, removed, mode, out
        As in `go_on`; array power is written to ``hourly``.
    window
        One row an interval [see `powerbudget.balance.packed_site.Window`].
    length
        For so many intervals it stands at the battery's rest voltage [count].
    """
    low, share, last = 0, 0.0, window.rest_v.shape[0] - 1
    first_v, step_v = window.rest_v[0], window.rest_v[1] - window.rest_v[0]
    for k in range(hourly.shape[0]):
        row, powers_w = hourly[k], window.array_w[k]
        if k % length == 0:
            state = 1.0 - removed / s.charge_ah
            rest_v = _lookup(tables.open_v, state) + row.open_shift_v
            place = min(max((rest_v - first_v) / step_v, 0.0), float(last))
            low = min(int(place), last - 1)
            share = place - low
        row.array_w = powers_w[low] + (powers_w[low + 1] - powers_w[low]) * share
        step(row, currents[k], tables, s, removed, mode, out[k])
        removed = out[k].removed_ah


def fresh(scalars: Record) -> Record:
    """Return switches as a run begins: loads connected, a source sound and full."""
    s, mode = SimpleNamespace(), SimpleNamespace()
    s.source_tank_wh = scalars["source_tank_wh"]
    reset(s, mode, 1.0)
    values = tuple([vars(mode)[name] for name in SWITCHES.names or ()])
    made: Record = np.array([values], SWITCHES)[0]
    return made


def simulate(
    hourly: Any, currents: Any, tables: Any, s: Any, removed: float, out: Any
) -> None:
    """Run every interval with the loads connected at first, and fill ``out``.

    Parameters
    ----------
    hourly, currents, tables, s, removed, out
        As in `go_on`.
    """
    go_on(hourly, currents, tables, s, removed, fresh(s), out)


def returns(
    hourly: Any,
    currents: Any,
    tables: Any,
    s: Any,
    starts: Any,
    removed: float,
    locked: bool,
    most: int,
    ring: bool,
) -> Any:
    """Return how many intervals pass until disconnected loads come back.

    Parameters
    ----------
    hourly, currents, tables, s
        As in `go_on`.
    starts
        Index of the first interval of each trial.
    removed
        Charge removed from full at each start [Ah].
    locked
        Whether the battery went flat, so that a regulator with a lowest battery
        voltage stays dark.
    most
        Give up after so many intervals [count].
    ring
        Whether the first interval follows the last.

    Returns
    -------
    array of int
        Intervals until the loads are switched on, -1 where they never are; where the
        record ends first, those until then.
    """
    counts = np.full(starts.shape[0], -1, np.int64)
    trials = (starts, removed, locked, most, ring)
    _count_returns(hourly, currents, tables, s, trials, _scratch(), counts)
    return counts


@Compiled
def _count_returns(
    hourly: Any, currents: Any, tables: Any, s: Any, trials: Any, work: Any, counts: Any
) -> None:
    """Write the counts of `returns`."""
    starts, removed, locked, most, ring = trials
    n = hourly.shape[0]
    for trial in range(starts.shape[0]):
        # Taken anew each time: compiled, a record does not keep its array alive.
        out, mode = work.outs[0], work.modes[0]
        reset(s, mode, 0.0)
        mode.locked = 1.0 if locked else 0.0
        left = removed
        for passed in range(most):
            if not ring and starts[trial] + passed >= n:
                counts[trial] = passed
                break
            k = (starts[trial] + passed) % n
            step(hourly[k], currents[k], tables, s, left, mode, out)
            left = out.removed_ah
            if mode.on > 0.5:
                counts[trial] = passed + 1
                break
            if mode.locked > 0.5 and s.restart_v > 0.0:
                break


def holds(
    hourly: Any,
    tables: Any,
    s: Any,
    frozen_ah: Any,
    starts: Any,
    removed_at: Any,
    floors: Any,
    most: int,
    slack: int,
    ring: bool,
) -> Any:
    """Return how many intervals loads and bank last without charge, for each start.

    Parameters
    ----------
    hourly, tables, s
        As in `go_on`; array and other sources are taken as zero.
    frozen_ah
        Charge removed from which the electrolyte freezes, by interval [Ah].
    starts
        Index of the first dark interval of each trial.
    removed_at
        Charge removed at the start of each trial [Ah].
    floors
        What is known of each trial beforehand: it holds at least so many [count].
    most
        Give up after so many intervals [count].
    slack
        Stop a trial that has outlasted the shortest one so far by so many intervals, or
        is known to; its count is then a lower bound.  Below 0 none is stopped [count].
    ring
        Whether the first interval follows the last.

    Returns
    -------
    array of int
        Intervals held, one for each start; -1 where the record ends before the loads
        do, which tells nothing.
    """
    counts = np.zeros(starts.shape[0], np.int64)
    trials = (frozen_ah, starts, removed_at, floors, most, slack, ring)
    _count_holds(hourly, tables, s, trials, _scratch(), counts)
    return counts


@Compiled
def _count_holds(
    hourly: Any, tables: Any, s: Any, trials: Any, work: Any, counts: Any
) -> None:
    """Write the counts of `holds`."""
    frozen_ah, starts, removed_at, floors, most, slack, ring = trials
    n = hourly.shape[0]
    limit = most
    for trial in range(starts.shape[0]):
        counts[trial] = floors[trial]
        if floors[trial] >= limit:
            continue
        removed = removed_at[trial]
        held = 0
        # Taken anew each time: compiled, a record does not keep its array alive.
        out, mode, row = work.outs[0], work.modes[0], work.rows[0]
        size = work.sizes[0]
        # Without charge: no sun, and no source that would feed the battery.
        work.sizes[0] = s
        size.source = 0.0
        reset(size, mode, 1.0)
        while held < limit:
            if not ring and starts[trial] + held >= n:
                held = -1
                break
            k = (starts[trial] + held) % n
            work.rows[0] = hourly[k]
            row.array_w = 0.0
            row.steady_w = 0.0
            step(row, work.dark, tables, size, removed, mode, out)
            removed = out.removed_ah
            if mode.on < 0.5 or removed > frozen_ah[k]:
                break
            held += 1
        counts[trial] = held
        if slack >= 0 and held >= 0:
            limit = min(limit, held + slack)
