"""What a simulation must hold before anything is told of it; else the key is named."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from powerbudget.errors import Fault, InputError

if TYPE_CHECKING:
    from powerbudget.balance.ledger import Ledger
    from powerbudget.balance.run import Run

CLOSED_FRAC = 1e-6
"""Energy or charge that a ledger may miss before it counts as open [fraction]."""
ROUNDING_FRAC = 1e-9


def check_run(run: Run) -> None:
    """Refuse a run whose charge left its bounds.

    Raises
    ------
    InputError
        With the figures that do not hold.
    """
    removed, held = run.removed_ah, float(run.scalars["charge_ah"])
    low, high = 1.0 - float(removed.max()) / held, 1.0 - float(removed.min()) / held
    sound = low >= -ROUNDING_FRAC and high <= 1.0 + ROUNDING_FRAC
    # Written so that a figure that is no number fails as well.
    if not (sound and np.isfinite(run.out["bus_v"]).all()):
        raise _broken(f"SOC from {100 * low:.4g} to {100 * high:.4g} %")


def check_books(books: Ledger) -> None:
    """Refuse a ledger that does not close.

    Parameters
    ----------
    books
        Of a simulation; it is made when first asked for.

    Raises
    ------
    InputError
        With what is missing.
    """
    left = max(books.error_frac, books.charge_error_frac)
    if not left <= CLOSED_FRAC:
        raise _broken(f"balance residual {left:.2g} of the energy in")


def _broken(what: str) -> InputError:
    return InputError(
        Fault(
            "battery",
            "the simulation left its valid range; no result is printed",
            what,
            "SOC within 0 and 100 %, an energy balance that closes",
            "check [battery] and [array] for an implausible value",
        )
    )
