"""The figures of a site as its hand worksheet takes them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from powerbudget.balance.problem import Problem
from powerbudget.battery.bank import Bank
from powerbudget.quantities import in_unit
from powerbudget.sizing.array_options import hot_module_v
from powerbudget.sizing.autonomy import needs_current
from powerbudget.sizing.worksheet.design_month import sun_by_tilt
from powerbudget.sizing.worksheet.figures import (
    ArrayFigures,
    BatteryFigures,
    LoadFigures,
)
from powerbudget.sizing.worksheet.formulas import (
    CHARGE_EFFICIENCY_FRAC,
    DEFAULT_RATIO,
    END_OF_LIFE_FRAC,
    WorksheetLine,
    functional_hour_rate_h,
)
from powerbudget.sizing.worksheet.lines import worksheet_from

EFFICIENCY = {
    "lfp": (0.98, "lithium iron phosphate, unverified"),
    "lithium-ion": (0.98, "lithium-ion, unverified"),
    "nicd": (0.78, "nickel-cadmium, full cycle 71-85 %, unverified"),
    "nicd-arctic": (0.78, "nickel-cadmium, full cycle 71-85 %, unverified"),
}
"""Whole-cycle charge efficiency by chemistry, and its source; others are lead-acid."""


def make_worksheet(problem: Problem) -> tuple[WorksheetLine, ...]:
    """Return the worksheet of a prepared site.

    Parameters
    ----------
    problem
        Prepared site [-].

    Returns
    -------
    tuple of WorksheetLine
        In order, each with its own unit [-].
    """
    loads, battery, array = site_figures(problem)
    return worksheet_from(loads, battery, array)


def site_figures(
    problem: Problem,
) -> tuple[LoadFigures, BatteryFigures, ArrayFigures]:
    """Return what the worksheet of a site is filled with.

    Returns
    -------
    tuple
        Loads, battery and array.
    """
    loads = load_figures(problem)
    return loads, battery_figures(problem, loads), array_figures(problem)


def load_figures(problem: Problem) -> LoadFigures:
    """Return the power budget as the worksheet takes it [LoadFigures]."""
    budget = problem.budget
    volts, heater_wh = budget.nominal_v, problem.dark_day_wh - budget.wh_per_day
    heated = (
        f" + {in_unit(heater_wh, 'Wh/day', 1)} of the battery heater"
        if heater_wh
        else ""
    )
    return LoadFigures(
        nominal_v=volts,
        ah_per_day=problem.dark_day_wh / volts,
        running_a=budget.maximum_w / volts,
        momentary_a=max(budget.peak_w, budget.maximum_w) / volts,
        mean_a=problem.mean_load_a,
        inputs=f"{in_unit(budget.wh_per_day, 'Wh/day', 1)}{heated}, {volts:g} V",
        source="power budget",
    )


def battery_figures(problem: Problem, loads: LoadFigures) -> BatteryFigures:
    """Return criteria, window and unit as the worksheet takes them [BatteryFigures]."""
    tables, bank = problem.design.tables, problem.bank
    criteria, sheet = tables.criteria, tables.worksheet
    needs_current(problem)
    left = float(bank.capacity_frac(problem.design_degc))
    cold = bank.chemistry.cold[bank.cold_curve].source
    figures = BatteryFigures(
        days=max(criteria.autonomy_d, 1e-9),
        unit_ah=bank.unit.capacity_ah,
        unit_v=bank.unit.nominal_v,
        deepest_frac=criteria.deepest_discharge_frac,
        daily_frac=criteria.daily_discharge_frac,
        end_of_life_frac=sheet.end_of_life_frac or END_OF_LIFE_FRAC,
        degc=problem.design_degc,
        temperature_factor=1.0 / left,
        temperature_source=f"{left:.3f} available, curve {bank.cold_curve}: {cold}",
        margin_frac=sheet.margin_frac,
        hour_rate_h=bank.unit.hour_rate_h,
        window_v=device_window_v(problem),
        disconnect_v=tables.bus.disconnect_v,
        full_charge_v=bank.regulation_v,
        cell_full_v=bank.regulation_v / bank.cells,
        cell_end_v=sheet.end_volts_per_cell_v,
        cell_v=bank.chemistry.cell_v,
    )
    return _at_hour_rate(figures, bank, loads)


def _at_hour_rate(
    figures: BatteryFigures, bank: Bank, loads: LoadFigures
) -> BatteryFigures:
    """Return the same with the unit's capacity at the functional hour rate."""
    lines = {line.symbol: line.value for line in worksheet_from(loads, figures)}
    if "tf" not in lines:
        return figures
    hours = functional_hour_rate_h(lines["C6"], loads.mean_a or loads.running_a)
    one = bank.with_strings(1).with_health(1.0)
    return replace(figures, adjusted_unit_ah=one.charge_ah(one.rated_ah / hours))


def array_figures(problem: Problem) -> ArrayFigures:
    """Return sun, losses and module as the worksheet takes them [ArrayFigures]."""
    tables, bank, module = problem.design.tables, problem.bank, problem.array.module
    criteria, tracked = tables.criteria, tables.regulator.kind == "mppt"
    load_wh = problem.daily_wh
    efficiency, why = charge_efficiency(problem)
    lost, losses = system_losses(problem)
    asked = criteria.array_to_load_ratio
    drop = 0.0 if tracked else tables.regulator.drop_v
    return ArrayFigures(
        sun_kwh_m2_day=sun_by_tilt(problem),
        module_a=module.max_power_a,
        module_w=module.power_w,
        module_v=max(hot_module_v(problem), 0.1),
        charge_v=bank.regulation_v + drop,
        ratio=asked or DEFAULT_RATIO,
        charge_efficiency_frac=efficiency,
        system_loss_frac=lost,
        recovery_d=criteria.recovery_d,
        load_ah_by_month=tuple(map(float, load_wh / problem.budget.nominal_v)),
        tilt_deg=tables.array.tilt_deg,
        tracker_efficiency_frac=problem.tracker_frac if tracked else None,
        modules_in_series=tables.array.series,
        ratio_source="site file"
        if asked
        else "IEEE 1562 guidance 1.3-1.4 for critical loads, unverified",
        efficiency_source=why,
        loss_source=losses,
    )


def charge_efficiency(problem: Problem) -> tuple[float, str]:
    """Return the charge efficiency that the worksheet takes, and its source.

    Returns
    -------
    tuple of float and str
        Ampere-hours out over in [fraction, text].
    """
    given = problem.design.tables.worksheet.charge_efficiency_frac
    if given is not None:
        return given, "site file"
    lead = (CHARGE_EFFICIENCY_FRAC, "full-cycle lead-acid figure, general text")
    return EFFICIENCY.get(problem.design.tables.battery.chemistry, lead)


def system_losses(problem: Problem) -> tuple[float, str]:
    """Return the losses between light and regulator that the worksheet takes.

    Returns
    -------
    tuple of float and str
        Dirt (the mean of the months), mismatch, wires and age; no snow, no
        temperature [fraction, text].
    """
    tables = problem.design.tables
    given = tables.worksheet.system_loss_frac
    if given is not None:
        return given, "site file"
    array = tables.array
    by_month = array.soiling_by_month
    dirt = sum(by_month) / 12 if by_month else array.soiling_frac
    kept = (1 - dirt) * (1 - array.mismatch_frac)
    kept *= (1 - array.wiring_frac) * (1 - array.ageing_frac)
    words = f"soiling {dirt:.3g}, mismatch, wiring, degradation: site file, [array]"
    return 1 - kept, words


def device_window_v(problem: Problem) -> tuple[float | None, float | None]:
    """Return the bus volts that every device on it takes, as far as stated [V].

    Returns
    -------
    tuple
        Largest lower and smallest upper limit, None where nobody states one [V].
    """
    design = problem.design
    lows, highs = [], []
    items: list[Any] = [*design.tables.load, *design.tables.supply]
    for item in items:
        if getattr(item, "supply", None) is not None:
            continue
        window = getattr(design.parts.get(item.part or ""), "input", None)
        low = getattr(item, "minimum_v", None) or (window.min if window else None)
        high = getattr(item, "maximum_v", None) or (window.max if window else None)
        lows += [low] if low else []
        highs += [high] if high else []
    return (max(lows) if lows else None, min(highs) if highs else None)
