"""Each assumption of the worksheet, and how to put the record's figure in its place."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from powerbudget.site.fields import MONTHS
from powerbudget.sizing.worksheet.figures import (
    ArrayFigures,
    BatteryFigures,
    LoadFigures,
)
from powerbudget.sizing.worksheet.formulas import (
    tracked_string_a,
    whole_strings,
)
from powerbudget.sizing.worksheet.lines import design_tilt, temperature_factor
from powerbudget.sizing.worksheet.record_figures import Truth

Figures = tuple[LoadFigures, BatteryFigures, ArrayFigures]
GIVEN = "site file"


@dataclass(frozen=True)
class Replacement:
    """One assumption and how to put the record's figure in its place.

    Parameters
    ----------
    assumption, symbol, unit, side
        Name, worksheet line, unit and what it changes [text].
    by_hand, in_record
        Both figures.
    words
        The assumption in a sentence [text].
    apply
        Returns the worksheet's figures with it replaced.
    """

    assumption: str
    symbol: str
    unit: str
    side: str
    by_hand: float
    in_record: float
    words: str
    apply: Callable[[Figures], Figures]


@dataclass(frozen=True)
class _Month:
    """The design month of a worksheet: its place, sun and load."""

    tilt: float
    month: int
    name: str
    sun: float
    daily_ah: float


def replacements(figures: Figures, truth: Truth) -> tuple[Replacement, ...]:
    """Return each assumption with the record's figure to put in its place.

    Parameters
    ----------
    figures
        Of the site's worksheet.
    truth
        From `powerbudget.sizing.worksheet.record_figures.truth_of`.

    Returns
    -------
    tuple of Replacement
        Array first, then battery.
    """
    _, battery, array = figures
    at = _month(figures)
    found = [
        _sun(at, truth),
        _yield(array, truth),
        _efficiency(array, truth),
        _load(at, truth),
    ]
    if array.ratio_source != GIVEN:
        found.append(_ratio(array))
    return (
        *found,
        _dark_days(battery, truth),
        _cold(battery, truth),
        _depth(battery, truth),
        _age(truth),
    )


def design_sun(figures: Figures) -> tuple[str, float]:
    """Return the design month of a worksheet and its sun.

    Parameters
    ----------
    figures
        Of the site's worksheet.

    Returns
    -------
    tuple of str and float
        Month, and sun on the panel [text, kWh/m2/day].
    """
    at = _month(figures)
    return at.name, at.sun


def _month(figures: Figures) -> _Month:
    loads, _, array = figures
    tilt, month, _ = design_tilt(loads, array)
    sun = array.sun_kwh_m2_day[tilt]
    daily = (array.load_ah_by_month or (loads.ah_per_day,) * len(sun))[month]
    name = MONTHS[month] if len(sun) == len(MONTHS) else "the worst month"
    return _Month(tilt, month, name, sun[month], daily)


def _sun(at: _Month, truth: Truth) -> Replacement:
    found = max(truth.dependable_sun, 1e-6)

    def apply(f: Figures) -> Figures:
        only: dict[float, tuple[float, ...]] = {at.tilt: (found,)}
        asked = f[2].load_ah_by_month
        asked = (asked[at.month],) if asked and len(asked) > 1 else asked
        new = replace(
            f[2], tilt_deg=at.tilt, sun_kwh_m2_day=only, load_ah_by_month=asked
        )
        return f[0], f[1], new

    return Replacement(
        assumption="sun of a mean month",
        symbol="G",
        unit="kWh/m2/day",
        side="array",
        by_hand=at.sun,
        in_record=truth.dependable_sun,
        words=f"sun of a mean design month {at.sun:.2f} kWh/m2 a day, while the record "
        f"lets an array beside this battery count on {truth.dependable_sun:.2f}",
        apply=apply,
    )


def _yield(array: ArrayFigures, truth: Truth) -> Replacement:
    by_hand = _string_a(array) * (1.0 - array.system_loss_frac)
    found = truth.string_ah_per_kwh

    def apply(f: Figures) -> Figures:
        # One string brings so much less or more for the same light.
        ratio, old = max(found, 1e-9) / by_hand, f[2]
        new = replace(old, module_a=old.module_a * ratio, module_w=old.module_w * ratio)
        return f[0], f[1], new

    return Replacement(
        assumption="what a string yields",
        symbol="Im",
        unit="Ah per kWh/m2",
        side="array",
        by_hand=by_hand,
        in_record=found,
        words=f"a string brings {by_hand:.2f} Ah for a kWh/m2 by hand, {found:.2f} in "
        f"{truth.yield_in} (cells' temperature, glass, low light, volts, snow)",
        apply=apply,
    )


def _string_a(array: ArrayFigures) -> float:
    if array.tracker_efficiency_frac is None:
        return array.module_a
    series = array.modules_in_series or whole_strings(array.charge_v, array.module_v)
    watts = series * array.module_w
    return tracked_string_a(watts, array.charge_v, array.tracker_efficiency_frac)


def _efficiency(array: ArrayFigures, truth: Truth) -> Replacement:
    by_hand, found = array.charge_efficiency_frac, truth.charge_efficiency_frac
    why = (
        "by day the load is fed past the battery"
        if found >= by_hand
        else "near full much of the charge goes into gas"
    )
    return Replacement(
        assumption="charge efficiency",
        symbol="eta",
        unit="fraction",
        side="array",
        by_hand=by_hand,
        in_record=found,
        words=f"charge efficiency {by_hand:.2f} by hand, {found:.2f} in the spell "
        f"({why})",
        apply=lambda f: (f[0], f[1], replace(f[2], charge_efficiency_frac=found)),
    )


def _load(at: _Month, truth: Truth) -> Replacement:
    def apply(f: Figures) -> Figures:
        was = f[2].load_ah_by_month or (f[0].ah_per_day,)
        same = tuple(truth.load_ah_per_day * ah / at.daily_ah for ah in was)
        return f[0], f[1], replace(f[2], load_ah_by_month=same)

    return Replacement(
        assumption="load of the design month",
        symbol="Qm",
        unit="Ah/day",
        side="array",
        by_hand=at.daily_ah,
        in_record=truth.load_ah_per_day,
        words=f"load {at.daily_ah:.1f} Ah/day in {at.name} at nominal volts, "
        f"{truth.load_ah_per_day:.1f} in the spell at the volts of the run",
        apply=apply,
    )


def _ratio(array: ArrayFigures) -> Replacement:
    return Replacement(
        assumption="array sizing factor as a margin",
        symbol="A",
        unit="ratio",
        side="array",
        by_hand=array.ratio,
        in_record=1.0,
        words=f"a ratio of {array.ratio:g} for what the mean hides, 1 where the record "
        "itself is asked",
        apply=lambda f: (f[0], f[1], replace(f[2], ratio=1.0)),
    )


def _dark_days(battery: BatteryFigures, truth: Truth) -> Replacement:
    days = max(battery.days, truth.drawdown_days)
    return Replacement(
        assumption="dark days from full, then sun",
        symbol="D",
        unit="d",
        side="battery",
        by_hand=battery.days,
        in_record=days,
        words=f"{battery.days:g} days without sun asked, the record's worst draw-down "
        f"{truth.drawdown_days:.1f} days of load",
        apply=lambda f: (f[0], replace(f[1], days=days), f[2]),
    )


def _cold(battery: BatteryFigures, truth: Truth) -> Replacement:
    factor, _ = temperature_factor(battery)
    found = max(factor, truth.cold_factor)
    return Replacement(
        assumption="temperature of the battery",
        symbol="kT",
        unit="ratio",
        side="battery",
        by_hand=factor,
        in_record=found,
        words=f"temperature factor {factor:.2f} by hand, {truth.cold_factor:.2f} at the "
        f"spell's mean of {truth.spell_degc:.0f} degC (the larger counts)",
        apply=lambda f: (f[0], replace(f[1], temperature_factor=found), f[2]),
    )


def _depth(battery: BatteryFigures, truth: Truth) -> Replacement:
    by_hand = min(battery.deepest_frac or 1.0, battery.end_of_life_frac)
    used = truth.usable_frac

    def apply(f: Figures) -> Figures:
        return f[0], replace(f[1], deepest_frac=used, end_of_life_frac=1.0), f[2]

    return Replacement(
        assumption="depth in place of the disconnect",
        symbol="C2",
        unit="fraction",
        side="battery",
        by_hand=by_hand,
        in_record=used,
        words=f"{100 * by_hand:.0f} % of the charge used by hand, {100 * used:.0f} % "
        "when disconnect or frost act in the cold",
        apply=apply,
    )


def _age(truth: Truth) -> Replacement:
    health = truth.health_frac

    def apply(f: Figures) -> Figures:
        unit = f[1].adjusted_unit_ah or f[1].unit_ah
        return f[0], replace(f[1], adjusted_unit_ah=unit * health), f[2]

    return Replacement(
        assumption="age of the bank",
        symbol="C4",
        unit="fraction",
        side="battery",
        by_hand=1.0,
        in_record=health,
        words=f"a bank of {100 * health:.0f} % health in the run, a new one by hand "
        "unless the end-of-life rule is the largest",
        apply=apply,
    )
