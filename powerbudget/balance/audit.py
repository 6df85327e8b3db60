"""What a run's own figures say of it, compiled: bus, charge and how far it went.

Written from the balance itself and not from the kernel's steps, so that a slip in either
shows as a sum that does not close.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from powerbudget.balance.compiled import Compiled, part


class Audit(NamedTuple):
    """What an audit finds.

    Parameters
    ----------
    energy_off_wh, energy_wh
        What no source, load or battery accounts for at the bus, and what passed it [Wh].
    charge_off_ah, charge_ah
        The same of the ampere-hours through the battery [Ah].
    least_ah, most_ah
        Charge removed from full [Ah].
    """

    energy_off_wh: float
    energy_wh: float
    charge_off_ah: float
    charge_ah: float
    least_ah: float
    most_ah: float


@part
def _drawn_w(row: Any, s: Any, out: Any) -> float:
    """Return what the loads left on and the base draw take at the bus [W]."""
    watts, volts = 0.0, out.bus_v
    if out.served > -0.5:
        watts += row.base_w + (s.base_a - row.base_less_a) * volts
    if out.served > 0.5:
        watts += row.load_w + (row.load_a + row.load_s * volts) * volts
    if out.first > 0.5:
        watts += row.first_w + (row.first_a + row.first_s * volts) * volts
    if out.second > 0.5:
        watts += row.second_w + (row.second_a + row.second_s * volts) * volts
    return float(watts)


@part
def _limits(row: Any, out: Any) -> float:
    """Return the figures that only limit others, added up: no sum of them means a thing.

    A limit that is no number limits nothing, and the balance closes without it.
    """
    climate = row.capacity + row.regulation_v + row.self_per_h + row.charge_share
    return float(climate + row.array_w + out.offered_a)


@part
def _taken_frac(efficiency: Any, state: float) -> float:
    """Return the share of a charge current that the cells keep."""
    place = min(max(100.0 * state, 0.0), 100.0)
    low = min(int(place), 99)
    share = efficiency[low] + (efficiency[low + 1] - efficiency[low]) * (place - low)
    return float(share)


def audit(hourly: Any, efficiency: Any, s: Any, start_ah: float, out: Any) -> Audit:
    """Return what is off at the bus and in the battery, added up over a run.

    Parameters
    ----------
    hourly
        As the kernel read it [see `powerbudget.balance.columns`].
    efficiency
        State table of charging [fraction].
    s
        Scalars.
    start_ah
        Charge removed at the first interval [Ah].
    out
        What the kernel wrote.

    Returns
    -------
    Audit
        A figure that is no number spoils its sum.
    """
    found = np.empty(len(Audit._fields))
    _add_up(hourly, efficiency, s, start_ah, out, found)
    return Audit(*found.tolist())


@Compiled
def _add_up(
    hourly: Any, efficiency: Any, s: Any, start_ah: float, out: Any, found: Any
) -> None:
    """Write the figures of `audit`."""
    energy_off = energy = charge_off = charge = 0.0
    removed = least = most = start_ah
    for k in range(hourly.shape[0]):
        row, now = hourly[k], out[k]
        drawn_w = _drawn_w(row, s, now)
        fed_a = now.array_a + now.steady_a + now.source_a - now.battery_a
        energy_off += abs(fed_a * now.bus_v - drawn_w) * s.step_h
        energy_off += 0.0 * _limits(row, now)  # nothing, but of what is no number
        energy += (abs(now.battery_a) * now.bus_v + abs(drawn_w)) * s.step_h
        moved = now.battery_a * s.step_h
        charge += abs(moved)
        if moved > 0.0:
            moved *= _taken_frac(efficiency, 1.0 - removed / s.charge_ah)
        left = s.charge_ah - removed + moved
        left -= max(0.0, row.self_per_h * s.step_h * left)
        removed = now.removed_ah
        charge_off += abs(s.charge_ah - left - removed)
        least, most = min(least, removed), max(most, removed)
    found[0], found[1], found[2] = energy_off, energy, charge_off
    found[3], found[4], found[5] = charge, least, most
