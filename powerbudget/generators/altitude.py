"""What a burner gives at the site's altitude, with its fuel re-set for it and without."""

from __future__ import annotations

from powerbudget.generators.unit import NOT_ADJUSTED, Machine
from powerbudget.quantities import in_unit, show

LITTLE_FRAC = 0.01
"""Share of the rating below which the two set-ups are not told apart: judgement."""
KEY = "fuel_adjusted_for_altitude"


def setups_w(unit: Machine) -> tuple[float, float] | None:
    """Return output at the rating's temperature, fuel re-set for the site and not [W].

    Returns
    -------
    tuple of float or None
        None where the site file states which holds, the kind has one rule, or both
        lie within 1 % of the rating.
    """
    stated = unit.table.fuel_adjusted_for_altitude is not None
    if stated or unit.table.altitude_per_km is not None:
        return None
    if not unit.kind.has(NOT_ADJUSTED):
        return None
    degc = unit.figure("rated_degc")
    adjusted, plain = (
        float(unit.with_fuel_adjusted(flag).terminal_w(degc)) for flag in (True, False)
    )
    if adjusted - plain < LITTLE_FRAC * unit.rated_w:
        return None
    return adjusted, plain


def setups_words(unit: Machine) -> str:
    """Return both outputs and which one is used, empty where one is known [text]."""
    both = setups_w(unit)
    if both is None:
        return ""
    adjusted, plain = (show(watts, "W") for watts in both)
    return (
        f"at {in_unit(unit.elevation_m, 'm')} and {unit.figure('rated_degc'):g} °C the "
        f"output is {adjusted} with fuel pressure or orifice adjusted for the "
        f"site, {plain} without. The lower is used. State {KEY} = true or false"
    )
