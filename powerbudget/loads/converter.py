"""DC/DC converters: what a supply draws from the bus for what it gives to its loads.

Two terms, input = no-load + slope x output.  A flat efficiency is wrong by a factor
of two where one loop hangs on an oversized converter.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from powerbudget.errors import ModelRangeError
from powerbudget.quantities import plain

Value = TypeVar("Value", float, NDArray[np.float64])


def input_w(output_w: Value, *, no_load_w: float, slope: float) -> Value:
    """Return the power that a converter draws for its output [W].

    ``input = no_load + slope * output``

    Parameters
    ----------
    output_w
        Power given to the loads [W].
    no_load_w
        Input with nothing connected to the output [W].
    slope
        Extra input for each extra watt of output [W/W].

    Returns
    -------
    float or array
        Power drawn from the bus [W].

    Notes
    -----
    Losses that grow with the square of the current are left out: data sheets print
    two points, which fix two terms.

    References
    ----------
    Two points on the sheet of an isolated 15 W converter, p. 2 (8 mA at no load and
    1450 mA at 15 W, at 12 V); the two-term form is common practice, no source.

    Examples
    --------
    One loop of 12 mA at 24 V on a 12 W converter:

    >>> round(input_w(0.288, no_load_w=0.24, slope=1.129), 3)
    0.565
    """
    return no_load_w + slope * output_w


def slope_from_point(rated_w: float, efficiency_frac: float, no_load_w: float) -> float:
    """Return the slope of a converter from its full-load efficiency [W/W].

    ``slope = 1 / efficiency - no_load / rated``

    Parameters
    ----------
    rated_w
        Output at which the efficiency holds [W].
    efficiency_frac
        Output over input at that output [-].
    no_load_w
        Input with nothing connected to the output [W].

    Returns
    -------
    float
        Extra input for each extra watt of output [W/W].

    Raises
    ------
    ModelRangeError
        When an argument is out of range, or the two points would make an extra watt
        of output cost less than a watt.

    References
    ----------
    Sheet of an isolated 15 W converter, p. 2: 17.4 W in for 15 W out, 0.096 W idle.

    Examples
    --------
    >>> round(slope_from_point(15.0, 15.0 / 17.4, 0.096), 3)
    1.154
    """
    if not (rated_w > 0 and 0 < efficiency_frac <= 1 and no_load_w >= 0):
        raise ModelRangeError(
            f"converter point: given rated {rated_w:g} W, efficiency "
            f"{efficiency_frac:g}, no-load {no_load_w:g} W; allowed: rated above 0 W, "
            "efficiency above 0 and up to 1, no-load 0 W or more; check the data sheet"
        )
    slope = 1 / efficiency_frac - no_load_w / rated_w
    # The tolerance keeps an ideal converter (efficiency 1) usable after rounding.
    if slope < 1 - 1e-9:
        raise ModelRangeError(
            f"converter point: a no-load input of {no_load_w:g} W and an efficiency of "
            f"{efficiency_frac:g} at {rated_w:g} W contradict each other; allowed: a "
            f"no-load input up to {plain(rated_w * (1 / efficiency_frac - 1), 3, 'W')}; check "
            "that both come from the same sheet and input voltage"
        )
    return slope


def efficiency_frac(output_w: Value, *, no_load_w: float, slope: float) -> Value:
    """Return output over input of a converter, 0 where it idles [-].

    Parameters
    ----------
    output_w
        Power given to the loads [W].
    no_load_w
        Input with nothing connected to the output [W].
    slope
        Extra input for each extra watt of output [W/W].

    Returns
    -------
    float or array
        Efficiency at that output [-].

    References
    ----------
    As `input_w`.

    Examples
    --------
    >>> round(efficiency_frac(0.15, no_load_w=0.096, slope=1.154), 2)
    0.56
    """
    if no_load_w == 0:
        # Zero over zero at no output; the ratio has the limit 1 / slope.
        return 1 / slope + 0 * output_w
    return output_w / input_w(output_w, no_load_w=no_load_w, slope=slope)
