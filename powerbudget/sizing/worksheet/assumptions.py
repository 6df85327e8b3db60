"""Each assumption of the worksheet, and how to put the record's figure in its place."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from powerbudget.quantities import in_unit
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
class Reason:
    """One assumption of the worksheet against the record.

    Parameters
    ----------
    assumption, symbol, unit
        Which, the line that it changes, and its unit [text].
    by_hand, in_record
        The figure on the worksheet and what the record shows.
    side
        ``array`` or ``battery``: what it changes [text].
    words
        The same in a sentence [text].
    effect_frac
        Change of the array current or battery Ah with this one replaced [fraction].
    array_strings, battery_strings
        What the worksheet asks with this one replaced [count].
    """

    assumption: str
    symbol: str
    unit: str
    by_hand: float
    in_record: float
    side: str
    words: str
    effect_frac: float = 0.0
    array_strings: int = 0
    battery_strings: int = 0


@dataclass(frozen=True)
class Replacement:
    """One assumption of the worksheet and what takes its place.

    Parameters
    ----------
    reason
        The assumption, its effect not yet counted.
    changes
        Fields of the array's or battery's figures with it replaced; a function where
        they hang on what other assumptions have left there.
    """

    reason: Reason
    changes: dict[str, Any]

    def apply(self, figures: Figures) -> Figures:
        """Return the worksheet's figures with it replaced."""
        loads, battery, array = figures
        side: Any = array if self.reason.side == "array" else battery
        changed = replace(side, **{
            name: value(side) if callable(value) else value
            for name, value in self.changes.items()
        })  # fmt: skip
        return (loads, battery, changed) if side is array else (loads, changed, array)


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
    ratio = [] if array.ratio_source == GIVEN else [_ratio(array)]
    return (
        _sun(at, array, truth),
        _yield(array, truth),
        _efficiency(array, truth),
        _load(at, figures, truth),
        *ratio,
        _dark_days(battery, truth),
        _cold(battery, truth),
        _depth(battery, truth),
        _age(battery, truth),
    )


def design_sun(figures: Figures) -> tuple[str, float]:
    """Return the design month of a worksheet and its sun.

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
    name = MONTHS[month] if len(sun) == len(MONTHS) else "the design month"
    return _Month(tilt, month, name, sun[month], daily)


def _of_array(
    name: tuple[str, str, str], by_hand: float, in_record: float, words: str,
    **changes: Any,
) -> Replacement:  # fmt: skip
    """Return an assumption about the array: name, symbol and unit, figures, changes."""
    return Replacement(Reason(*name, by_hand, in_record, "array", words), changes)


def _of_battery(
    name: tuple[str, str, str], by_hand: float, in_record: float, words: str,
    **changes: Any,
) -> Replacement:  # fmt: skip
    """Return an assumption about the battery, likewise."""
    return Replacement(Reason(*name, by_hand, in_record, "battery", words), changes)


def _sun(at: _Month, array: ArrayFigures, truth: Truth) -> Replacement:
    asked = array.load_ah_by_month
    return _of_array(
        ("POA irradiation of an average month", "G", "kWh/m2/day"),
        at.sun,
        truth.dependable_sun,
        f"POA in the design month {in_unit(at.sun, 'kWh/m²/day', 2)} in the worksheet, "
        f"{truth.dependable_sun:.2f} dependable in the simulation with this "
        "battery",
        tilt_deg=at.tilt,
        sun_kwh_m2_day={at.tilt: (max(truth.dependable_sun, 1e-6),)},
        load_ah_by_month=(asked[at.month],) if asked and len(asked) > 1 else asked,
    )


def _yield(array: ArrayFigures, truth: Truth) -> Replacement:
    by_hand = _string_a(array) * (1.0 - array.system_loss_frac)
    # One string brings so much less or more for the same light.
    ratio = max(truth.string_ah_per_kwh, 1e-9) / by_hand
    return _of_array(
        ("yield per string", "Im", "Ah per kWh/m²"),
        by_hand,
        truth.string_ah_per_kwh,
        f"yield per string: {in_unit(by_hand, 'Ah', 2)} per kWh/m² in the worksheet, "
        f"{truth.string_ah_per_kwh:.2f} in {truth.yield_in} (cell temperature, "
        "incidence, low irradiance, voltage, snow)",
        module_a=array.module_a * ratio,
        module_w=array.module_w * ratio,
    )


def _string_a(array: ArrayFigures) -> float:
    if array.tracker_efficiency_frac is None:
        return array.module_a
    series = array.modules_in_series or whole_strings(array.charge_v, array.module_v)
    watts = series * array.module_w
    return tracked_string_a(watts, array.charge_v, array.tracker_efficiency_frac)


def _efficiency(array: ArrayFigures, truth: Truth) -> Replacement:
    by_hand, in_record = array.charge_efficiency_frac, truth.charge_efficiency_frac
    why = (
        "part of the load is served by the array directly"
        if in_record >= by_hand
        else "gassing takes much of the charge near full"
    )
    return _of_array(
        ("coulombic efficiency", "eta", "fraction"),
        by_hand,
        in_record,
        (
            f"coulombic efficiency {by_hand:.2f} in the worksheet, {in_record:.2f} in "
            f"the worst period ({why})"
        ),
        charge_efficiency_frac=in_record,
    )


def _load(at: _Month, figures: Figures, truth: Truth) -> Replacement:
    ratio = truth.load_ah_per_day / at.daily_ah
    same_all_year = (figures[0].ah_per_day,)

    def scaled(array: ArrayFigures) -> tuple[float, ...]:
        by_month = array.load_ah_by_month or same_all_year
        return tuple(ratio * ah for ah in by_month)

    return _of_array(
        ("load of the design month", "Qm", "Ah/day"),
        at.daily_ah,
        truth.load_ah_per_day,
        f"load {in_unit(at.daily_ah, 'Ah/day', 1)} in {at.name} at nominal voltage, "
        f"{truth.load_ah_per_day:.1f} in the worst period at simulated voltage",
        load_ah_by_month=scaled,
    )


def _ratio(array: ArrayFigures) -> Replacement:
    return _of_array(
        ("array sizing factor", "A", "ratio"),
        array.ratio,
        1.0,
        f"array sizing factor {array.ratio:g} in the worksheet, 1 in the simulation",
        ratio=1.0,
    )


def _dark_days(battery: BatteryFigures, truth: Truth) -> Replacement:
    days = max(battery.days, truth.drawdown_days)
    return _of_battery(
        ("days of battery reserve", "D", "d"),
        battery.days,
        days,
        f"{battery.days:g} d of autonomy specified, storage of "
        f"{in_unit(truth.drawdown_days, 'd', 1)} of load needed in the simulation",
        days=days,
    )


def _cold(battery: BatteryFigures, truth: Truth) -> Replacement:
    factor, _ = temperature_factor(battery)
    colder = max(factor, truth.cold_factor)
    return _of_battery(
        ("battery temperature", "kT", "ratio"),
        factor,
        colder,
        f"temperature correction factor {factor:.2f} in the worksheet, "
        f"{truth.cold_factor:.2f} at the {in_unit(truth.spell_degc, '°C')} of the worst "
        "period (the larger counts)",
        temperature_factor=colder,
    )


def _depth(battery: BatteryFigures, truth: Truth) -> Replacement:
    by_hand = min(battery.deepest_frac or 1.0, battery.end_of_life_frac)
    used = truth.usable_frac
    return _of_battery(
        ("DOD for sizing", "C2", "fraction"),
        by_hand,
        used,
        f"{in_unit(100 * by_hand, '%')} DOD in the worksheet, {in_unit(100 * used, '%')} at LVD "
        "or freezing in the simulation",
        deepest_frac=used,
        end_of_life_frac=1.0,
    )


def _age(battery: BatteryFigures, truth: Truth) -> Replacement:
    health = truth.health_frac
    return _of_battery(
        ("state of health", "C4", "fraction"),
        1.0,
        health,
        f"SOH {in_unit(100 * health, '%')} in the simulation, 100 % in the worksheet "
        "unless the end-of-life rule governs",
        adjusted_unit_ah=(battery.adjusted_unit_ah or battery.unit_ah) * health,
    )
