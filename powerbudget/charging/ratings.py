"""Which generic charge controller carries an array, and how many of them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from powerbudget.charging.device import COOL_DEGC, rating_left_frac
from powerbudget.quantities import in_unit
from powerbudget.site.circuit import RegulatorLimits

MARGIN = 1.25
"""Rating over what the array gives at 1000 W/m2: the sun passes that near clouds
(common practice, as 125 % of short-circuit current in NEC 690.8)."""
MOST_IN_PARALLEL = 8
CLASS_FRAC = 0.24
"""Bus over the voltage class of a controller: 12.8 and 14.8 V are of the 12 V class, 36 V
is of none (assumed)."""


@dataclass(frozen=True)
class Rating:
    """What an array asks of its charge controllers.

    Parameters
    ----------
    kind
        ``mppt`` or ``pwm`` [text].
    nominal_v
        Of the bus [V].
    charge_a
        Charge current together [A].
    input_v
        Highest voltage of a string, cold and open [V].
    elevation_m
        Of the site: thin air derates a part of the library as one without figures of
        its own [m].
    """

    kind: str
    nominal_v: float
    charge_a: float
    input_v: float
    elevation_m: float = 0.0


def needed_charge_a(
    kind: str, nominal_v: float, *, array_w: float, short_circuit_a: float
) -> float:
    """Return the charge current that passes all that an array gives [A].

    Parameters
    ----------
    kind
        ``mppt``, rated by its output, or ``pwm``, through which the array's own current
        flows [text].
    nominal_v
        Of the bus [V].
    array_w, short_circuit_a
        Rated power and short-circuit current of all strings [W, A].

    Returns
    -------
    float
        With the usual 25 % [A].

    Examples
    --------
    >>> needed_charge_a("mppt", 12.0, array_w=400.0, short_circuit_a=24.0)
    41.66666666666667
    >>> needed_charge_a("pwm", 12.0, array_w=400.0, short_circuit_a=24.0)
    30.0
    """
    amps = short_circuit_a if kind == "pwm" else array_w / nominal_v
    return MARGIN * amps


def fitting_controller(
    parts: Mapping[str, Any], asked: Rating
) -> tuple[str, int] | None:
    """Return the part of which fewest carry an array, the cheapest of those, and how many.

    Returns
    -------
    tuple or None
        Name and number in parallel; None where none bears the volts [text, count].

    Examples
    --------
    >>> from powerbudget.site.parts import load_parts
    >>> fitting_controller(load_parts(), Rating("mppt", 12.0, 26.0, 46.0))
    ('charge-controller-mppt-100v-30a', 1)
    >>> fitting_controller(load_parts(), Rating("mppt", 48.0, 120.0, 140.0))
    ('charge-controller-mppt-150v-80a', 2)
    """
    found = []
    height_m = asked.elevation_m
    left = float(rating_left_frac(RegulatorLimits(), COOL_DEGC, height_m)[0])
    for name, part in parts.items():
        if part.kind != "charge-controller" or part.regulation != asked.kind:
            continue
        count = max(1, math.ceil(asked.charge_a / (left * part.charge_current) - 1e-9))
        of_class = any(abs(asked.nominal_v / v - 1) <= CLASS_FRAC for v in part.buses)
        bears = of_class and part.highest_input >= asked.input_v
        highest_m = part.maximum_elevation
        bears = bears and (highest_m is None or height_m <= highest_m)
        if bears and count <= MOST_IN_PARALLEL:
            found.append((count, part.price.typical, name))
    if not found:
        return None
    count, _, name = min(found)
    return name, count


def rating_words(parts: Mapping[str, Any], asked: Rating) -> str:
    """Return what a charge controller must be rated, and which part is [text]."""
    need = f"{in_unit(asked.charge_a, 'A')} and {in_unit(asked.input_v, 'V')} input"
    fits = fitting_controller(parts, asked)
    if fits is None:
        return f"{need}; no charge controller of the parts library has this rating"
    return f"{need}: {fits[1]} x {fits[0]}"
