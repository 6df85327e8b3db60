"""The load by month as formulas, where seasons change it: heaviest and design month."""

from __future__ import annotations

import math
from string import ascii_uppercase
from typing import TYPE_CHECKING

import numpy as np

from powerbudget.balance.stages import daily_load_wh, load_moments
from powerbudget.loads.lines import STANDING, kinds_wh, rail_average_w
from powerbudget.loads.schedule import follows_weather, monthly_share
from powerbudget.report.book.load_sheet import BY_MONTH, Listed, LoadCells, listed
from powerbudget.report.book.sheets import (
    FORMULA,
    FOUND,
    INPUT,
    BookSheet,
    Live,
    Workbook,
)
from powerbudget.site.fields import MONTHS
from powerbudget.sizing.worksheet.lines import NO_SUN_KWH, design_tilt
from powerbudget.sizing.worksheet.site_figures import site_figures

if TYPE_CHECKING:
    from collections.abc import Iterable

    from powerbudget.loads.items import Item
    from powerbudget.report.document.package import Package

COLUMNS = ascii_uppercase[1:13]
"""Letters of the columns January to December."""
RIGHT = range(1, 13)


def write_months(book: Workbook, package: Package, cells: LoadCells) -> None:
    """Write the load of each month, and find the heaviest and the design month.

    Parameters
    ----------
    book
        Inputs and loads are written already.
    package
        All results.
    cells
        Where the load sheet holds its lines.
    """
    lines = listed(package)
    sheet = book.sheet(BY_MONTH, (38, *(9.0 for _ in MONTHS)),
                       "Duty cycle of each load by month")  # fmt: skip
    sheet.keep(sheet.heads("load", *MONTHS, right=RIGHT))
    # Rows as on the load sheet, so that one range serves both.
    sheet.row = cells.first - 1
    for item in lines.items:
        _time_on(sheet, item, lines)
    sheet.down()
    energy = _energy(sheet, package, lines, cells)
    values = [float(wh) for wh in package.budget.daily_load_wh]
    _pick(sheet, "highest-load month", "heaviest_month", energy, values)
    if any(follows_weather(item.load) for item in lines.items):
        energy, values = _record(sheet, package, lines, cells, energy)
    if package.problem.conditions.heater_w.any():
        energy, values = _heated(sheet, package, energy, values)
    if package.sizing is not None:
        _design(sheet, package, energy, values)
        sheet.note(
            "The design month of the array has the largest load over irradiation."
        )
    sheet.note("The load list uses the highest-load month; it is recalculated when "
"inputs change.")  # fmt: skip


def _time_on(sheet: BookSheet, item: Item, lines: Listed) -> None:
    sheet.write(item.load.name)
    constant = not lines.by_season(item)
    for column, share in enumerate(item.share.mean(axis=1), start=1):
        on = float(share)
        value = Live(f"=Loads!$G${sheet.row + 1}", on) if constant else on
        sheet.write(value, column, FORMULA if constant else INPUT)
    sheet.down()


def _energy(sheet: BookSheet, package: Package, lines: Listed, cells: LoadCells) -> int:
    """Write the sums by month and return the row of the whole, from 1."""
    a, b = cells.first, cells.last
    sheet.heads("Wh/day", *MONTHS, right=RIGHT)
    strokes = f"SUMPRODUCT(Loads!$D${a}:$D${b},Loads!$H${a}:$H${b})"
    first = sheet.row + 1
    _row(sheet, "loads and their wires", [
        f"24*SUMPRODUCT(Loads!$L${a}:$L${b}+Loads!$O${a}:$O${b},{c}${a}:{c}${b})+{strokes}"
        for c in COLUMNS
    ], _fed(lines, lines.feeds))  # fmt: skip
    for name, rail in lines.named().items():
        r = cells.converters[name]
        fed = f"--EXACT(Loads!$C${a}:$C${b},Loads!$A${r})"
        through = [
            f"24*SUMPRODUCT({fed},Loads!$L${a}:$L${b}+Loads!$O${a}:$O${b},{c}${a}:{c}${b})"
            f"+SUMPRODUCT({fed},Loads!$D${a}:$D${b},Loads!$H${a}:$H${b})"
            for c in COLUMNS
        ]
        _row(sheet, f"loss in {name}",
             [f"24*Loads!$D${r}+(Loads!$G${r}-1)*({wh})" for wh in through],
             [24 * rail.no_load_w + rail.conversion_w(wh)
              for wh in _fed(lines, [name])])  # fmt: skip
    base = kinds_wh(package.budget.lines, STANDING)
    _row(sheet, "charge controller and leakage",
         ["24*bus_V*(regulator_A+leakage_A)" for _ in MONTHS],
         [base for _ in MONTHS])  # fmt: skip
    last = sheet.row
    _row(sheet, "with contingency, Wh/day",
         [f"(1+contingency)*SUM({c}{first}:{c}{last})" for c in COLUMNS],
         [float(wh) for wh in package.budget.daily_load_wh])  # fmt: skip
    return sheet.row


def _record(
    sheet: BookSheet, package: Package, lines: Listed, cells: LoadCells, energy: int
) -> tuple[int, list[float]]:
    """Write the load of each month in the record's air and nights, and return it."""
    moments = load_moments(package.problem.record)
    sheet.down()
    sheet.heads("share of each month in the weather file", *MONTHS, right=RIGHT)
    terms: list[str] = []
    for number, item in enumerate(lines.items):
        if not follows_weather(item.load):
            continue
        r, here = cells.first + number, sheet.row + 1
        slope = cells.converters.get(item.load.supply or "")
        through = f"Loads!$G${slope}*" if slope else ""
        terms.append(f"{through}(Loads!$L${r}+Loads!$O${r})*({{c}}{here}-{{c}}{r})")
        found = monthly_share(item.load, moments)
        known = np.where(np.isnan(found), item.share.mean(axis=1), found)
        sheet.write(item.load.name)
        for column, share in enumerate(known, start=1):
            sheet.write(float(share), column, FOUND)
        sheet.down()
    values = [float(wh) for wh in daily_load_wh(package.budget, package.problem.record)]
    _row(sheet, "with the weather file, Wh/day",
         [f"{c}{energy}+(1+contingency)*24*({'+'.join(terms).format(c=c)})"
          for c in COLUMNS], values)  # fmt: skip
    total = sheet.row
    sheet.note("The load list has heaters at the design minimum temperature; the array "
"is sized with the months of the weather file.")  # fmt: skip
    return total, values


def _heated(
    sheet: BookSheet, package: Package, energy: int, values: list[float]
) -> tuple[int, list[float]]:
    """Write the battery heater of each month of the record, and the load with it."""
    sheet.down()
    heater = [float(wh) for wh in package.problem.heater_wh_per_day]
    sheet.write("battery heater, Wh/day")
    for column, found in enumerate(heater, start=1):
        sheet.write(found, column, FOUND)
    sheet.down()
    row = sheet.row
    total = [wh + more for wh, more in zip(values, heater, strict=True)]
    _row(sheet, "with the battery heater, Wh/day",
         [f"{c}{energy}+{c}{row}" for c in COLUMNS], total)  # fmt: skip
    return sheet.row, total


def _fed(lines: Listed, names: Iterable[str]) -> list[float]:
    """Return what the loads of some supplies and their wires take in each month [Wh/day]."""
    return [
        24 * sum(rail_average_w(lines.items, name, month) for name in names)
        for month in range(12)
    ]


def _row(
    sheet: BookSheet, label: str, formulas: list[str], values: list[float]
) -> None:
    sheet.write(label)
    for column, (text, value) in enumerate(zip(formulas, values, strict=True), start=1):
        sheet.write(Live(f"={text}", value), column, FORMULA)
    sheet.down()


def _pick(
    sheet: BookSheet, label: str, name: str, row: int, values: list[float]
) -> None:
    """Write which month has the largest figure of a row, as number and as word."""
    month = max(range(12), key=lambda k: values[k])
    span = f"$B${row}:$M${row}"
    sheet.write(f"{label}, number")
    live = Live(f"=MATCH(MAX({span}),{span},0)", float(month + 1))
    cell = sheet.write(live, 1, FORMULA, sheet.book.count(FORMULA))
    sheet.book.name(name, cell)
    sheet.write(Live(f"=INDEX($B$3:$M$3,{name})", MONTHS[month]), 2, FORMULA)
    sheet.down()


def _design(
    sheet: BookSheet, package: Package, energy: int, values: list[float]
) -> None:
    loads, _, array = site_figures(package.problem)
    tilt, month, _ = design_tilt(loads, array)
    sun = array.sun_kwh_m2_day[tilt]
    sheet.down()
    sheet.heads("irradiation, and load over irradiation", *MONTHS, right=RIGHT)
    sheet.write("POA irradiation, kWh/m²/day")
    for column, found in enumerate(sun, start=1):
        there = not math.isnan(found)
        sheet.write(max(found, NO_SUN_KWH) if there else "-", column, FOUND)
    sheet.down()
    r = sheet.row
    ratio = [
        -1.0 if math.isnan(s) else wh / package.budget.nominal_v / max(s, NO_SUN_KWH)
        for wh, s in zip(values, sun, strict=True)
    ]
    _row(sheet, "load over irradiation, Ah/kWh",
         [f"IF(ISNUMBER({c}{r}),{c}{energy}/bus_V/{c}{r},-1)" for c in COLUMNS],
         ratio)  # fmt: skip
    _pick(sheet, "design month", "design_month", sheet.row, ratio)
    for label, name, row, value in (
        (
            "irradiation of the design month, kWh/m²/day",
            "design_month_sun",
            r,
            sun[month],
        ),
        ("load of the design month, Wh/day", "design_month_Wh", energy, values[month]),
    ):
        sheet.write(label)
        live = Live(f"=INDEX($B${row}:$M${row},design_month)", value)
        sheet.book.name(name, sheet.write(live, 1, FORMULA))
        sheet.down()
