"""Inputs with names, the cold curve and the rate curve."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from powerbudget.report.book.load_sheet import has_months
from powerbudget.report.book.sheets import (
    FORMULA,
    FOUND,
    INPUT,
    BookSheet,
    Live,
    Workbook,
)
from powerbudget.sizing.worksheet.formulas import END_OF_LIFE_FRAC
from powerbudget.sizing.worksheet.site_figures import array_figures

if TYPE_CHECKING:
    from powerbudget.battery.bank import Bank
    from powerbudget.report.document.package import Package

SITE = "site file"
_Input = tuple[str, float | Live | None, str, str, str, str]


@dataclass(frozen=True)
class _Curve:
    """A curve with the place at which it is read.

    Parameters
    ----------
    head, unit
        Head of its first column, and the unit of that [text].
    points
        In rising order.
    source
        Of the curve [text].
    """

    head: str
    unit: str
    points: tuple[tuple[float, float], ...]
    source: str


def write_inputs(book: Workbook, package: Package) -> None:
    """Write the figures that formulas use, each under a name."""
    sized = package.sizing is not None
    title = "Inputs of load list and worksheet" if sized else "Inputs of the load list"
    sheet = book.sheet("Inputs", (46, 14, 14, 24, 60), title)
    head = sheet.heads(
        "input", "value", "unit", "name in formulas", "source", right=(1,)
    )
    sheet.keep(head)
    for label, value, unit, name, kind, source in _inputs(package):
        if value is None:
            continue
        sheet.write(label)
        form = book.count(FORMULA) if (unit, kind) == ("count", FORMULA) else None
        cell = sheet.write(value, 1, kind, form)
        sheet.write(unit, 2)
        sheet.write(name, 3)
        sheet.write(source, 4)
        book.name(name, cell)
        sheet.down()
    sheet.down()
    if sized:
        _cold_curve(sheet, package)
        _rate_curve(sheet, package)


def _inputs(package: Package) -> list[_Input]:
    if package.sizing is None:
        # Without panels there is no worksheet: nothing would follow from the rest.
        return _load_inputs(package)
    lines = package.sizing.worksheet
    value = {line.symbol: line.value for line in lines}
    source = {line.symbol: line.source for line in lines}
    return [
        *_load_inputs(package),
        *_criteria_inputs(package, value, source),
        *_charge_inputs(package),
        *_window_inputs(package, value, source),
        *_sun_inputs(package, value, source),
        *_loss_inputs(package, value, source),
        *_module_inputs(package),
    ]


def _load_inputs(package: Package) -> list[_Input]:
    bus, regulator = package.tables.bus, package.tables.regulator
    lowest = package.budget.lowest_bus_v
    formula = "=disconnect_V"
    why = "the LVD"
    if not bus.disconnect_v:
        formula, why = "=11.6/12*bus_V", "11.6 V of 12 V; the disconnect uses SOC"
    return [
        ("bus, nominal", bus.nominal_v, "V", "bus_V", INPUT, SITE),
        (
            "contingency on the energy",
            bus.contingency_frac,
            "fraction",
            "contingency",
            INPUT,
            SITE,
        ),
        (
            "charge controller self-consumption",
            regulator.own_current_a,
            "A",
            "regulator_A",
            INPUT,
            SITE,
        ),
        ("standing leakage", bus.leakage_a, "A", "leakage_A", INPUT, SITE),
        ("disconnect", bus.disconnect_v, "V", "disconnect_V", INPUT, SITE),
        (
            "lowest bus voltage with loads on",
            Live(formula, lowest),
            "V",
            "lowest_bus_V",
            FORMULA,
            why,
        ),
    ]


def _criteria_inputs(
    package: Package, value: dict[str, float], source: dict[str, str]
) -> list[_Input]:
    criteria, given = package.tables.criteria, package.tables.worksheet
    chemistry = package.run.bank.chemistry
    end = SITE
    if not given.end_of_life_frac:
        end = chemistry.sources.get("end_of_life_source", "worksheet")
    return [
        ("autonomy", criteria.autonomy_d, "d", "autonomy_d", INPUT, SITE),
        ("battery temperature for it", package.problem.design_degc, "degC", "autonomy_degC",
         INPUT, SITE),
        ("battery heater in that cold", package.problem.held.heater_w, "W",
         "battery_heater_W", INPUT, "heat balance of the box"),
        ("maximum DOD", criteria.deepest_discharge_frac, "fraction",
         "deepest_frac", INPUT, SITE),
        ("daily DOD", criteria.daily_discharge_frac, "fraction", "daily_frac",
         INPUT, SITE),
        ("end-of-life capacity, share of rated capacity",
         given.end_of_life_frac or END_OF_LIFE_FRAC, "fraction",
         "end_of_life_frac", INPUT, end),
        ("design margin on the battery", value.get("m"), "ratio", "margin_ratio", INPUT,
         source.get("m", "")),
    ]  # fmt: skip


def _charge_inputs(package: Package) -> list[_Input]:
    bank, regulator = package.run.bank, package.tables.regulator
    chemistry, unit = bank.chemistry, bank.unit
    whole, each = bank.regulation_v, bank.regulation_v / bank.cells
    in_series = Live("=units_in_series*ROUND(unit_V/cell_V,0)", float(bank.cells))
    cell: _Input = ("charging voltage per cell at 25 °C", each, "V", "cell_charge_V",
                    INPUT, chemistry.sources.get("absorption_source", "chemistry"))  # fmt: skip
    charge: _Input = ("charging voltage of the battery at 25 °C",
                      Live("=cell_charge_V*cells_in_series", whole), "V", "charge_V",
                      FORMULA, "cells in series")  # fmt: skip
    if regulator.absorption_v:
        charge = (charge[0], whole, "V", "charge_V", INPUT, SITE)
        cell = (cell[0], Live("=charge_V/cells_in_series", each), "V", "cell_charge_V",
                FORMULA, "the same divided by cells in series")  # fmt: skip
    return [
        ("battery unit", unit.capacity_ah, "Ah", "unit_Ah", INPUT, "rated"),
        ("voltage of a battery unit", unit.nominal_v, "V", "unit_V", INPUT, "rated"),
        ("nominal voltage per cell", chemistry.cell_v, "V", "cell_V", INPUT, "chemistry"),
        ("battery units in series", float(bank.series), "count", "units_in_series", INPUT,
         SITE),
        ("cells in series", in_series, "count", "cells_in_series", FORMULA, ""),
        cell, charge,
    ]  # fmt: skip


def _window_inputs(
    package: Package, value: dict[str, float], source: dict[str, str]
) -> list[_Input]:
    end_v = package.tables.worksheet.end_volts_per_cell_v if "Nc" in value else None
    return [
        ("lowest maximum input voltage", value.get("Vx"), "V",
         "devices_highest_V", FOUND, source.get("Vx", "")),
        ("highest minimum operating voltage", value.get("Vn"), "V",
         "devices_lowest_V", FOUND, source.get("Vn", "")),
        ("recommended end-of-discharge voltage per cell", end_v, "V", "cell_end_V", INPUT, SITE),
    ]  # fmt: skip


def _sun_inputs(
    package: Package, value: dict[str, float], source: dict[str, str]
) -> list[_Input]:
    # Where seasons change the load, the sheet by month finds month and sun.
    sun = None if has_months(package) else value.get("G")
    return [
        ("POA irradiation in the design month", sun, "kWh/m²/day",
         "design_month_sun", FOUND, source.get("G", "")),
        ("coulombic efficiency of the battery", value.get("eta"), "fraction",
         "charge_efficiency_frac", INPUT, source.get("eta", "")),
        ("array sizing factor (worksheet)", value.get("A"), "ratio", "array_sizing_factor", INPUT,
         source.get("A", "")),
        ("recharge time", package.tables.criteria.recovery_d, "d", "recovery_d",
         INPUT, SITE),
    ]  # fmt: skip


def _loss_inputs(
    package: Package, value: dict[str, float], source: dict[str, str]
) -> list[_Input]:
    name = "system_losses_frac"
    lost = (
        "system losses before the charge controller",
        value.get("ls"),
        "fraction",
        name,
    )
    if package.tables.worksheet.system_loss_frac is not None:
        return [(*lost, INPUT, source.get("ls", ""))]
    array = package.tables.array
    by_month = array.soiling_by_month
    dirt = sum(by_month) / 12 if by_month else array.soiling_frac
    parts = (
        ("soiling loss, average of the year", dirt, "soiling_frac"),
        ("mismatch loss", array.mismatch_frac, "mismatch_frac"),
        ("dc wiring loss of the array", array.wiring_frac, "array_wiring_frac"),
        ("module degradation", array.ageing_frac, "array_ageing_frac"),
    )
    kept = "*".join(f"(1-{symbol})" for _, _, symbol in parts)
    label, found, unit, _ = lost
    return [
        *((text, share, unit, symbol, INPUT, SITE) for text, share, symbol in parts),
        (label, Live(f"=1-{kept}", found or 0.0), unit, name, FORMULA, ""),
    ]


def _module_inputs(package: Package) -> list[_Input]:
    module, tables = package.problem.array.module, package.tables
    figures = array_figures(package.problem)
    tracked = tables.regulator.kind == "mppt"
    reach = "=charge_V" if tracked else "=charge_V+regulator_drop_V"
    return [
        ("module power", module.power_w, "W", "module_W", INPUT, "module data"),
        ("module current at maximum power", None if tracked else module.max_power_a,
         "A", "module_A", INPUT, "module data"),
        ("module Vmp at the highest temperature", figures.module_v, "V",
         "module_hot_V", FOUND, "module data at the highest temperature of the weather file"),
        ("modules in series", float(tables.array.series), "count",
         "modules_in_series", INPUT, SITE),
        ("charge controller drop", None if tracked else tables.regulator.drop_v, "V",
         "regulator_drop_V", INPUT, SITE),
        ("voltage required of the array", Live(reach, figures.charge_v), "V",
         "array_charge_V", FORMULA, "charging voltage of the battery plus charge controller drop"
         if not tracked else "charging voltage of the battery"),
        ("MPPT efficiency", figures.tracker_efficiency_frac,
         "fraction", "tracker_efficiency_frac", INPUT, SITE),
    ]  # fmt: skip


def _cold_curve(sheet: BookSheet, package: Package) -> None:
    """Write the capacity curve and the share that it leaves, read between points."""
    bank = package.run.bank
    curve = bank.chemistry.cold[bank.cold_curve]
    head = f"temperature derating {bank.cold_curve}: battery, °C"
    points = tuple(zip(curve.x, curve.y, strict=True))
    x, y = _points(sheet, _Curve(head, "degC", points, curve.source))
    degc = package.problem.design_degc
    at, k = _place(sheet, "autonomy_degC", degc, (x, "degC"), curve.x)
    sheet.write("available capacity at the autonomy temperature")
    formula = (
        f"=MIN(1,INDEX({y},{k})+({at}-INDEX({x},{k}))*(INDEX({y},{k}+1)-INDEX({y},{k}))"
        f"/(INDEX({x},{k}+1)-INDEX({x},{k})))"
    )
    left = float(bank.capacity_frac(degc))
    cell = sheet.write(Live(formula, left), 1, FORMULA)
    sheet.write("fraction", 2)
    sheet.write("capacity_left_frac", 3)
    sheet.write("linear between points; no credit above 25 °C", 4)
    sheet.book.name("capacity_left_frac", cell)
    sheet.down(2)


def _rate_curve(sheet: BookSheet, package: Package) -> None:
    """Write capacity by discharge time and what a unit has at the hour rate."""
    bank = package.run.bank
    value = {line.symbol: line.value for line in package.search.worksheet}
    share = value["Cu"] / bank.unit.capacity_ah
    label = "capacity at the functional hour rate over rated capacity"
    name = "unit_rate_ratio"
    if "tf" not in value:
        cell = sheet.write(share, 1, INPUT)
        sheet.write(label)
        sheet.book.name(name, cell)
        sheet.down()
        return
    points = rate_points(bank)
    source = bank.chemistry.rate.source
    curve = _Curve("rate curve: discharge time, h", "h", points, source)
    x, y = _points(sheet, curve)
    hours = tuple(hour for hour, _ in points)
    at, k = _place(sheet, "w_tf", value["tf"], (x, "h"), hours)
    formula = (
        f"=INDEX({y},{k})+(LN({at})-LN(INDEX({x},{k})))*(INDEX({y},{k}+1)-INDEX({y},{k}))"
        f"/(LN(INDEX({x},{k}+1))-LN(INDEX({x},{k})))"
    )
    sheet.write(label)
    cell = sheet.write(Live(formula, share), 1, FORMULA)
    sheet.write("ratio", 2)
    sheet.write(name, 3)
    sheet.write(
        "linear in the logarithm of time; no credit beyond the slowest rated time", 4
    )
    sheet.book.name(name, cell)
    sheet.down()


def rate_points(bank: Bank) -> tuple[tuple[float, float], ...]:
    """Return hours of discharge and capacity over the name-plate's [h, ratio]."""
    import numpy as np

    unit, rate = bank.unit, bank.chemistry.rate
    rated = float(np.interp(np.log(unit.hour_rate_h), np.log(rate.x), rate.y))
    points = [
        (float(hours), min(1.0, float(share) / rated))
        for hours, share in zip(rate.x, rate.y, strict=True)
        if hours < unit.hour_rate_h
    ]
    points = points or [(unit.hour_rate_h / 10, 1.0)]
    points.append((unit.hour_rate_h, 1.0))
    if unit.slow_capacity_ah is not None and unit.slow_hour_rate_h is not None:
        slow = unit.slow_capacity_ah / unit.capacity_ah
        points.append((unit.slow_hour_rate_h, slow))
    return tuple(points)


def _points(sheet: BookSheet, curve: _Curve) -> tuple[str, str]:
    """Write the points of a curve and return the ranges of both columns."""
    sheet.heads(curve.head, "available capacity", "unit", "", "source", right=(0, 1))
    first = sheet.row
    for x, y in curve.points:
        sheet.write(x, 0, INPUT)
        sheet.write(y, 1, INPUT)
        sheet.write("fraction", 2)
        if sheet.row == first:
            sheet.write(curve.source, 4)
        sheet.down()
    a, b = first + 1, sheet.row
    sheet.down()
    return f"$A${a}:$A${b}", f"$B${a}:$B${b}"


def _place(
    sheet: BookSheet,
    name: str,
    value: float,
    column: tuple[str, str],
    points: tuple[float, ...],
) -> tuple[str, str]:
    """Write where on a curve a value lies; return the cells of value and point."""
    x, unit = column
    inside = min(max(value, points[0]), points[-1])
    index = min(sum(point <= inside for point in points), len(points) - 1)
    sheet.write("position within the curve")
    at = sheet.write(Live(f"=MIN(MAX({name},MIN({x})),MAX({x}))", inside), 1, FORMULA)
    sheet.write(unit, 2)
    sheet.down()
    sheet.write("point below it")
    k = sheet.write(
        Live(f"=MIN(MATCH({at},{x},1),ROWS({x})-1)", float(index)), 1, FORMULA,
        sheet.book.count(FORMULA),
    )  # fmt: skip
    sheet.write("count", 2)
    sheet.down()
    return at, k
