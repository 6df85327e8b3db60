"""What a simulation must hold before anything is told of it; else the key is named."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from powerbudget.battery.bank import Climate
from powerbudget.errors import Fault, InputError
from powerbudget.site.tables import Battery

if TYPE_CHECKING:
    from powerbudget.balance.ledger import Ledger
    from powerbudget.balance.run import Run

LOWEST_DEGC, HIGHEST_DEGC = -80.0, 80.0
"""Battery temperatures that the curves of a chemistry can be asked for (judgment)."""
CLOSED_FRAC = 1e-6
"""Energy or charge that a ledger may miss before it counts as open [fraction]."""
ROUNDING_FRAC = 1e-9


def check_temperature(battery: Battery, now: Climate) -> None:
    """Refuse a battery hotter or colder than its model knows.

    Parameters
    ----------
    battery
        The ``[battery]`` table.
    now
        What temperature does to it, interval by interval.

    Raises
    ------
    InputError
        With the key that carries most of it.
    """
    low, high = float(now.battery_degc.min()), float(now.battery_degc.max())
    if low >= LOWEST_DEGC and high <= HIGHEST_DEGC:
        return
    key, given = _warmest(battery) if high > HIGHEST_DEGC else ("weather", "")
    raise InputError(
        Fault(
            key,
            f"puts the battery at {low:.0f} to {high:.0f} degC, where no figure of a "
            "battery holds",
            given,
            f"{LOWEST_DEGC:g} to {HIGHEST_DEGC:g} degC",
            "less heat into the box or a higher conductance, measured or by its walls"
            if high > HIGHEST_DEGC
            else "look at the temperatures of the record",
        )
    )


def _warmest(battery: Battery) -> tuple[str, str]:
    """Return the key that warms the battery most above the air, and what it states."""
    box = battery.box
    if box is None:
        return "battery.box_warmer_k", f"{battery.box_warmer_k:g} K"
    own_k = box.internal_heat_w / box.conductance_w_per_k
    if own_k >= box.sun_gain_k:
        stated = f"{box.internal_heat_w:g} W in {box.conductance_w_per_k:g} W/K"
        return "battery.box.internal_heat", f"{stated}: {own_k:.0f} K warmer"
    return "battery.box.sun_gain_k", f"{box.sun_gain_k:g} K"


def check_run(run: Run, books: Ledger) -> None:
    """Refuse a run whose charge left its bounds, or whose books do not close.

    Parameters
    ----------
    run
        A simulation.
    books
        Its ledger.

    Raises
    ------
    InputError
        With the figures that do not hold.
    """
    removed, held = run.removed_ah, float(run.scalars["charge_ah"])
    low, high = 1.0 - float(removed.max()) / held, 1.0 - float(removed.min()) / held
    sound = low >= -ROUNDING_FRAC and high <= 1.0 + ROUNDING_FRAC
    left = max(books.error_frac, books.charge_error_frac)
    # Written so that a figure that is no number fails as well.
    if not (sound and np.isfinite(run.out["bus_v"]).all()):
        raise _broken(f"state of charge from {100 * low:.4g} to {100 * high:.4g} %")
    if not left <= CLOSED_FRAC:
        raise _broken(f"ledger open by {left:.2g} of what came in")


def _broken(what: str) -> InputError:
    return InputError(
        Fault(
            "battery",
            "the simulation left its own bounds, so nothing is told of it",
            what,
            "state of charge within 0 and 100 %, a ledger that closes",
            "look for a figure of [battery] or [array] beyond reason",
        )
    )
