"""What a simulation must hold before anything is told of it; else the key is named."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from powerbudget.errors import Fault, InputError
from powerbudget.quantities import plain

if TYPE_CHECKING:
    from powerbudget.balance import columns as col
    from powerbudget.balance.packed_site import PackedSite

CLOSED_FRAC = 1e-6
"""Energy or charge that a ledger may miss before it counts as open [fraction]."""
ROUNDING_FRAC = 1e-9
READ_FROM = {
    "array_w": "array",
    "load": "load",
    "first": "load",
    "second": "load",
    "base_w": "battery.heater",
    "controller": "charge_controller",
    "base_less": "charge_controller",
    "steady": "generator",
    "source": "generator",
}
"""Table of the site file from which columns that begin so are made; others are of the
battery."""


def check_run(
    problem: PackedSite, s: col.Record, start_ah: float, out: col.Records
) -> None:
    """Refuse a run whose charge left its bounds, or whose sums do not close.

    Parameters
    ----------
    problem, s
        What was run; its temperatures are held to their range when it is laid out.
    start_ah
        Charge removed at the first interval [Ah].
    out
        Kernel results.

    Raises
    ------
    InputError
        With the figures that do not hold.
    """
    from powerbudget.balance.audit import audit

    case = (problem.hourly, problem.tables.efficiency, s, start_ah, out)
    found, held = audit(*case), float(s["charge_ah"])
    low, high = 1.0 - found.most_ah / held, 1.0 - found.least_ah / held
    # Written so that a figure that is no number fails as well.
    if not (low >= -ROUNDING_FRAC and high <= 1.0 + ROUNDING_FRAC):
        raise _broken(
            problem, f"SOC from {100 * low:.4g} to {plain(100 * high, 4, '%')}"
        )
    _closed(problem, found.energy_off_wh, found.energy_wh)
    _closed(problem, found.charge_off_ah, max(found.charge_ah, held))


def check_books(problem: PackedSite, *off_frac: float) -> None:
    """Refuse a ledger that does not close, from the sun on the panels to the loads.

    Parameters
    ----------
    problem
        What was run.
    off_frac
        What is left over of its energy and its charge [fraction].

    Raises
    ------
    InputError
        With what is missing.
    """
    for off in off_frac:
        _closed(problem, off, 1.0)


def _closed(problem: PackedSite, off: float, of: float) -> None:
    if not off <= CLOSED_FRAC * of:
        share = off / of if of > 0 else off
        raise _broken(problem, f"balance residual {share:.2g} of what passed the bus")


def _broken(problem: PackedSite, what: str) -> InputError:
    rows = problem.hourly
    odd = [n for n in rows.dtype.names or () if not np.isfinite(rows[n]).all()]
    keys = [key for start, key in READ_FROM.items() if odd and odd[0].startswith(start)]
    key = keys[0] if keys else "battery"
    return InputError(
        Fault(
            key,
            "the simulation left its valid range; no result is printed",
            "a value that is not a number" if odd else what,
            "SOC within 0 and 100 %, an energy balance that closes",
            f"check [{key}] for an implausible value"
            if odd
            else "check [battery] and [array] for an implausible value",
        )
    )
