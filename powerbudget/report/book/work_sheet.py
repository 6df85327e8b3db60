"""The hand worksheet as formulas."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from powerbudget.quantities import in_print
from powerbudget.report.book.sheets import FORMULA, FOUND, Live, Workbook

if TYPE_CHECKING:
    from powerbudget.report.book.load_sheet import LoadCells
    from powerbudget.report.document.package import Package

EXACT = "1E-9"
FORMULAS = {
    "D": "=autonomy_d",
    "Ip": "=MAX(peak_W,{maximum})/bus_V",
    "Ir": "={maximum}/bus_V",
    "Ix": "=MAX(w_Ip,w_Ir)",
    "Q": "=({energy}+24*battery_heater_W)/bus_V",
    "Vx": "=devices_highest_V",
    "Vn": "=devices_lowest_V",
    "C1": "=w_Q*w_D",
    "C2": "=w_C1/deepest_frac",
    "C3": "=w_Q/daily_frac",
    "C4": "=w_C1/end_of_life_frac",
    "C5": "=MAX(w_C2,w_C3,w_C4)",
    "kT": "=1/MAX(capacity_left_frac,1E-9)",
    "CT": "=w_C5*w_kT",
    "m": "=margin_ratio",
    "C6": "=w_CT*w_m",
    "tf": "=w_C6/({energy}/24/bus_V)",
    "Vd": "=MAX({lows})",
    "Vc": "=MIN({highs})",
    "Ns": "=ROUNDDOWN(w_Vc/cell_charge_V*(1+1E-6),0)",
    "Ve": "=w_Vd/w_Ns",
    "Nc": f"=MAX(1,MIN(w_Ns,ROUNDDOWN(w_Vd/(cell_end_V*(1-{EXACT})),0)))",
    "Cu": "=unit_Ah*unit_rate_ratio",
    "Np": f"=ROUNDUP(w_C6/w_Cu*(1-{EXACT}),0)",
    "Ci": "=w_Np*w_Cu",
    "Nu": f"=w_Np*ROUNDUP(bus_V/unit_V*(1-{EXACT}),0)",
    "G": "=design_month_sun",
    "Qm": "={month}",
    "eta": "=charge_efficiency_frac",
    "ls": "=system_losses_frac",
    "I0": "=w_Qm/(w_eta*(1-w_ls)*w_G)",
    "A": "=array_sizing_factor",
    "I": "=w_A*w_I0",
    "Irec": "=w_I0*(w_Qm+w_C1/recovery_d)/w_Qm",
    "Ms": f"=ROUNDUP(array_charge_V/module_hot_V*(1-{EXACT}),0)",
    "Im": "={string}",
    "Na": f"=ROUNDUP({{wanted}}/w_Im*(1-{EXACT}),0)",
    "Nm": "=w_Na*modules_in_series",
    "W": "=w_Nm*module_W",
    "Wn": "={wanted}*bus_V",
    "AL": "=w_Na*w_Im*w_G/w_Qm",
    "R": '=IF({spare}>0,w_C1/({spare}),"never")',
}
"""Each worksheet line by its symbol; ``w_`` and a symbol is a line's value."""
SPARE = "w_eta*(1-w_ls)*w_Na*w_Im*w_G-w_Qm"
TRACKED = "modules_in_series*module_W*tracker_efficiency_frac/array_charge_V"


def filled(symbol: str, package: Package, cells: LoadCells) -> str | None:
    """Return a line's formula for this site, None where it has none [text].

    Parameters
    ----------
    symbol
        Of the worksheet line [text].
    package
        All results.
    cells
        Where the load sheet holds its sums.

    Returns
    -------
    str or None
        With the names of the cells in it [text].
    """
    there = {line.symbol for line in package.search.worksheet}
    lows = ["w_Vn"] if "Vn" in there else []
    if package.tables.bus.disconnect_v is not None:
        lows.append("disconnect_V")
    formula = FORMULAS.get(symbol)
    return formula and formula.format(
        energy=cells.wh_per_day,
        maximum=cells.maximum_w,
        lows=",".join(lows),
        highs=",".join([*(["w_Vx"] if "Vx" in there else []), "charge_V"]),
        wanted="MAX(w_I,w_Irec)" if "Irec" in there else "w_I",
        month="design_month_Wh/bus_V" if cells.by_month else "w_Q",
        spare=SPARE,
        string=TRACKED if package.tables.regulator.kind == "mppt" else "module_A",
    )


def write_worksheet(book: Workbook, package: Package, cells: LoadCells) -> None:
    """Write the hand worksheet line by line.

    Parameters
    ----------
    book
        Inputs and loads are written already.
    package
        All results.
    cells
        Where the load sheet holds its sums.
    """
    sheet = book.sheet("Worksheet", (6, 9, 34, 12, 12, 12, 30, 34, 44),
                       "Sizing worksheet (IEEE 1013/1562)")  # fmt: skip
    head = sheet.heads("line", "symbol", "quantity", "value", "unit", "value at issue",
                       "formula", "inputs at issue", "source", right=(0, 3, 5))  # fmt: skip
    sheet.keep(head)
    for line in package.search.worksheet:
        counts = line.unit == "count"
        sheet.write(float(line.line), form=book.count(FORMULA))
        sheet.write(line.symbol, 1)
        sheet.write(line.quantity, 2)
        value = line.value if math.isfinite(line.value) else "never"
        formula = filled(line.symbol, package, cells)
        if formula:
            cell = sheet.write(Live(formula, value), 3, FORMULA,
                               book.count(FORMULA) if counts else None)  # fmt: skip
        else:
            cell = sheet.write(value, 3, FOUND)
        book.name(f"w_{line.symbol}", cell)
        sheet.write(in_print(line.unit), 4)
        sheet.write(value, 5, FOUND, book.count(FOUND) if counts else None)
        for column, text in enumerate(
            (line.formula, line.inputs, line.source), start=6
        ):
            sheet.write(text, column)
        sheet.down()
    sheet.down()
    sheet.note("The worksheet uses ampere-hours of an average month; the simulation "
"uses the weather file.")  # fmt: skip
