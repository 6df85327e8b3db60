"""When the electrolyte freezes: how far a bank may be discharged in the cold.

Discharge dilutes lead-acid electrolyte.  The acid is that of the room-temperature
bank, so dilution goes by ampere-hours removed over *rated* ampere-hours; the cold
that hides capacity does not give acid back.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from powerbudget.battery.chemistry import Curve, Floats

NEVER = 2.0
"""State asked for where even a full battery freezes: no state is enough."""


def acid_gravity(state_frac: Any, full: float, empty: float) -> Any:
    """Return acid density over water from state on rated Ah [ratio].

    Parameters
    ----------
    state_frac
        One less charge removed over rated Ah [fraction].
    full, empty
        Densities of the charged and the discharged cell [ratio].

    Returns
    -------
    float or array
        On the straight line between them [ratio].

    Examples
    --------
    >>> round(float(acid_gravity(0.75, 1.265, 1.120)), 5)
    1.22875
    """
    return empty + (full - empty) * np.asarray(state_frac, float)


def freezing_degc(state_frac: Any, freezing: Curve | None) -> Any:
    """Return the freezing point of the electrolyte [degC].

    Parameters
    ----------
    state_frac
        One less charge removed over rated Ah [fraction].
    freezing
        Curve of the chemistry; None never freezes.

    Returns
    -------
    float or array
        Freezing point, minus infinity without a curve [degC].

    Notes
    -----
    The first ice is slush; expansion damage follows.  Stratified cells freeze at
    the top first.

    References
    ----------
    US Army TM 10-6140-200-14, table 1-1; TM 5-1185, tables II and III.

    Examples
    --------
    >>> from powerbudget.battery.chemistry import chemistries
    >>> round(float(freezing_degc(0.5, chemistries()["flooded"].freezing)), 1)
    -24.9
    """
    if freezing is None:
        return np.full(np.shape(state_frac), -np.inf)
    return freezing.at(state_frac)


def lowest_state_frac(battery_degc: Any, freezing: Curve | None) -> Floats:
    """Return the state on rated Ah below which the electrolyte freezes [fraction].

    Parameters
    ----------
    battery_degc
        Battery temperature, scalar or array [degC].
    freezing
        Curve of the chemistry; None never freezes.

    Returns
    -------
    array
        0 where even an empty cell stays liquid, `NEVER` where even a full one
        freezes [fraction].

    Examples
    --------
    >>> from powerbudget.battery.chemistry import chemistries
    >>> flooded = chemistries()["flooded"].freezing
    >>> [round(float(lowest_state_frac(t, flooded)), 2) for t in (-5, -20, -40, -70)]
    [0.0, 0.36, 0.76, 2.0]
    """
    degc = np.asarray(battery_degc, float)
    if freezing is None:
        return np.zeros(degc.shape)
    points, states = np.array(freezing.y[::-1]), np.array(freezing.x[::-1])
    found = np.interp(degc, points, states)
    return np.where(degc < points[0], NEVER, np.where(degc >= points[-1], 0.0, found))
