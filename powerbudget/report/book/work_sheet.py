"""Inputs with names, the cold curve, and the hand worksheet as formulas."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from powerbudget.report.book.load_sheet import LoadCells
from powerbudget.report.book.sheets import FORMULA, FOUND, INPUT, Book, Live, Sheet
from powerbudget.sizing.sitesheet import array_figures
from powerbudget.sizing.worksheet import END_OF_LIFE_FRAC

if TYPE_CHECKING:
    from powerbudget.report.page.package import Package

EXACT = "1E-9"
FORMULAS = {
    "D": "=autonomy_d",
    "Ip": "=MAX(peak_W,{maximum})/bus_V",
    "Ir": "={maximum}/bus_V",
    "Ix": "=MAX(w_Ip,w_Ir)",
    "Q": "={energy}/bus_V",
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
    "Nc": "=w_Ns-IF(w_Ve<cell_end_V-1E-9,1,0)",
    "Cu": "=unit_Ah*unit_rate_ratio",
    "Np": f"=ROUNDUP(w_C6/w_Cu*(1-{EXACT}),0)",
    "Ci": "=w_Np*w_Cu",
    "Nu": f"=w_Np*ROUNDUP(bus_V/unit_V*(1-{EXACT}),0)",
    "G": "=design_month_sun",
    "Qm": "=w_Q*design_month_load_ratio",
    "eta": "=charge_efficiency_frac",
    "ls": "=system_losses_frac",
    "I0": "=w_Qm/(w_eta*(1-w_ls)*w_G)",
    "A": "=array_to_load_ratio",
    "I": "=w_A*w_I0",
    "Irec": "=w_I0*(w_Qm+w_C1/recovery_d)/w_Qm",
    "Ms": f"=ROUNDUP(array_charge_V/module_hot_V*(1-{EXACT}),0)",
    "Im": "={string}",
    "Na": f"=ROUNDUP({{wanted}}/w_Im*(1-{EXACT}),0)",
    "Nm": "=w_Na*modules_in_series",
    "W": "=w_Nm*module_W",
    "Wn": "={wanted}*bus_V",
    "AL": "=w_Na*w_Im*w_G/w_Qm",
    "R": "=w_C1/(w_eta*(1-w_ls)*w_Na*w_Im*w_G-w_Qm)",
}
"""Each worksheet line by its symbol; ``w_`` and a symbol is a line's value."""
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
        string=TRACKED if package.tables.regulator.kind == "mppt" else "module_A",
    )


def write_inputs(book: Book, package: Package) -> None:
    """Write the figures that formulas use, each under a name.

    Parameters
    ----------
    book
        Where to.
    package
        All results.
    """
    sheet = book.sheet("Inputs", (46, 14, 14, 24, 70),
                       "Inputs of the worksheet")  # fmt: skip
    head = sheet.heads("input", "value", "unit", "name in formulas", "source")
    sheet.keep(head)
    for label, value, unit, name, kind, source in _inputs(package):
        if value is None:
            continue
        sheet.write(label)
        cell = sheet.write(value, 1, kind)
        sheet.write(unit, 2)
        sheet.write(name, 3)
        sheet.write(source, 4)
        book.name(name, cell)
        sheet.down()
    sheet.down()
    _cold_curve(sheet, package)


_Input = tuple[str, float | None, str, str, str, str]


def _inputs(package: Package) -> list[_Input]:
    lines = package.sizing.worksheet if package.sizing else ()
    value = {line.symbol: line.value for line in lines}
    source = {line.symbol: line.source for line in lines}
    return [
        *_load_inputs(package),
        *_criteria_inputs(package),
        *_volt_inputs(package, value, source),
        *_unit_inputs(package, value, source),
        *_sun_inputs(package, value, source),
        *_module_inputs(package),
    ]


SITE = "site file"


def _load_inputs(package: Package) -> list[_Input]:
    bus, regulator = package.tables.bus, package.tables.regulator
    peak = "power budget; at the lowest bus voltage, not reckoned here"
    return [
        ("bus, nominal", bus.nominal_v, "V", "bus_V", INPUT, SITE),
        ("contingency, on the energy, once", bus.contingency_frac, "fraction",
         "contingency", INPUT, SITE),
        ("regulator, own draw", regulator.own_current_a, "A", "regulator_A", INPUT, SITE),
        ("standing leakage", bus.leakage_a, "A", "leakage_A", INPUT, SITE),
        ("peak of the load", package.budget.peak_w, "W", "peak_W", FOUND, peak),
    ]  # fmt: skip


def _criteria_inputs(package: Package) -> list[_Input]:
    criteria, given = package.tables.criteria, package.tables.worksheet
    chemistry = package.run.bank.chemistry
    end = SITE
    if not given.end_of_life_frac:
        end = chemistry.sources.get("end_of_life_source", "worksheet")
    return [
        ("autonomy", criteria.autonomy_d, "d", "autonomy_d", INPUT, SITE),
        ("battery temperature for it", criteria.autonomy_degc, "degC", "autonomy_degC",
         INPUT, SITE),
        ("deepest discharge", criteria.deepest_discharge_frac, "fraction",
         "deepest_frac", INPUT, SITE),
        ("daily discharge", criteria.daily_discharge_frac, "fraction", "daily_frac",
         INPUT, SITE),
        ("end of life, share of rated capacity",
         given.end_of_life_frac or END_OF_LIFE_FRAC, "fraction",
         "end_of_life_frac", INPUT, end),
    ]  # fmt: skip


def _volt_inputs(
    package: Package, value: dict[str, float], source: dict[str, str]
) -> list[_Input]:
    tables, bank = package.tables, package.run.bank
    return [
        ("charge voltage of the bank at 25 degC", bank.regulation_v, "V", "charge_V",
         INPUT, SITE),
        ("charge voltage of a cell", bank.regulation_v / bank.cells, "V",
         "cell_charge_V", INPUT, "the same over the cells in series"),
        ("disconnect", tables.bus.disconnect_v, "V", "disconnect_V", INPUT, SITE),
        ("highest volts that every device takes", value.get("Vx"), "V",
         "devices_highest_V", FOUND, source.get("Vx", "")),
        ("lowest volts that every device takes", value.get("Vn"), "V",
         "devices_lowest_V", FOUND, source.get("Vn", "")),
        ("recommended end volts of a cell", tables.worksheet.end_volts_per_cell_v, "V",
         "cell_end_V", INPUT, SITE),
    ]  # fmt: skip


def _unit_inputs(
    package: Package, value: dict[str, float], source: dict[str, str]
) -> list[_Input]:
    unit = package.run.bank.unit
    return [
        ("design margin on the battery", value.get("m"), "ratio", "margin_ratio", INPUT,
         source.get("m", "")),
        ("battery unit", unit.capacity_ah, "Ah", "unit_Ah", INPUT, "name-plate"),
        ("volts of a battery unit", unit.nominal_v, "V", "unit_V", INPUT, "name-plate"),
        ("capacity at the functional hour rate over the name-plate",
         value.get("Cu", unit.capacity_ah) / unit.capacity_ah, "ratio",
         "unit_rate_ratio", FOUND, source.get("Cu", "")),
    ]  # fmt: skip


def _sun_inputs(
    package: Package, value: dict[str, float], source: dict[str, str]
) -> list[_Input]:
    return [
        ("sun on the panel in the design month", value.get("G"), "kWh/m2/day",
         "design_month_sun", FOUND, source.get("G", "")),
        ("load of the design month over that of the heaviest", _load_ratio(value),
         "ratio", "design_month_load_ratio", FOUND, "power budget"),
        ("charge efficiency of the battery", value.get("eta"), "fraction",
         "charge_efficiency_frac", INPUT, source.get("eta", "")),
        ("array-to-load ratio", value.get("A"), "ratio", "array_to_load_ratio", INPUT,
         source.get("A", "")),
        ("system losses before the regulator", value.get("ls"), "fraction",
         "system_losses_frac", INPUT, source.get("ls", "")),
        ("days to charge again", package.tables.criteria.recovery_d, "d", "recovery_d",
         INPUT, SITE),
    ]  # fmt: skip


def _module_inputs(package: Package) -> list[_Input]:
    module = package.problem.array.module
    figures = array_figures(package.problem) if package.sizing else None
    return [
        ("module current at maximum power", module.max_power_a,
         "A", "module_A", INPUT, "module data"),
        ("module power", module.power_w, "W", "module_W", INPUT, "module data"),
        ("module volts at maximum power in the heat",
         figures.module_v if figures else None, "V", "module_hot_V", FOUND,
         "module data at the hottest of the record"),
        ("volts that the array must reach", figures.charge_v if figures else None, "V",
         "array_charge_V", FOUND,
         "charge voltage of the bank, drop of a direct connection on top"),
        ("modules in series", float(package.tables.array.series), "count",
         "modules_in_series", INPUT, SITE),
        ("efficiency of the power-point tracker",
         figures.tracker_efficiency_frac if figures else None, "fraction",
         "tracker_efficiency_frac", INPUT, SITE),
    ]  # fmt: skip


def _load_ratio(value: dict[str, float]) -> float | None:
    if not value.get("Q") or "Qm" not in value:
        return None
    return value["Qm"] / value["Q"]


def _cold_curve(sheet: Sheet, package: Package) -> None:
    """Write the capacity curve and the share that it leaves, read between points."""
    bank = package.run.bank
    curve = bank.chemistry.cold[bank.cold_curve]
    sheet.heads(f"cold curve {bank.cold_curve}: battery, degC", "capacity left", "unit",
                "", "source")  # fmt: skip
    first = sheet.row
    for degc, left in zip(curve.x, curve.y, strict=True):
        sheet.write(degc, 0, INPUT)
        sheet.write(left, 1, INPUT)
        sheet.write("fraction", 2)
        if sheet.row == first:
            sheet.write(curve.source, 4)
        sheet.down()
    a, b = first + 1, sheet.row
    x, y = f"$A${a}:$A${b}", f"$B${a}:$B${b}"
    degc = package.tables.criteria.autonomy_degc
    inside = min(max(degc, curve.x[0]), curve.x[-1])
    index = min(sum(point <= inside for point in curve.x), len(curve.x) - 1)
    sheet.down()
    sheet.write("temperature within the curve")
    at = sheet.write(
        Live(f"=MIN(MAX(autonomy_degC,MIN({x})),MAX({x}))", inside), 1, FORMULA
    )
    sheet.write("degC", 2)
    sheet.down()
    sheet.write("point below it")
    k = sheet.write(
        Live(f"=MIN(MATCH({at},{x},1),ROWS({x})-1)", float(index)), 1, FORMULA
    )
    sheet.write("count", 2)
    sheet.down()
    sheet.write("capacity left at the autonomy's temperature")
    formula = (
        f"=MIN(1,INDEX({y},{k})+({at}-INDEX({x},{k}))*(INDEX({y},{k}+1)-INDEX({y},{k}))"
        f"/(INDEX({x},{k}+1)-INDEX({x},{k})))"
    )
    left = float(bank.capacity_frac(degc))
    cell = sheet.write(Live(formula, left), 1, FORMULA)
    sheet.write("fraction", 2)
    sheet.write("capacity_left_frac", 3)
    sheet.write("straight line between points; no credit above 25 degC", 4)
    sheet.book.name("capacity_left_frac", cell)
    sheet.down()


def write_worksheet(book: Book, package: Package, cells: LoadCells) -> None:
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
    sheet = book.sheet("Worksheet", (6, 9, 40, 14, 13, 14, 38, 44, 60),
                       "Hand worksheet after IEEE 1013 and IEEE 1562")  # fmt: skip
    head = sheet.heads("line", "symbol", "quantity", "value", "unit", "when written",
                       "formula", "with", "source")  # fmt: skip
    sheet.keep(head)
    for line in package.search.worksheet:
        sheet.write(float(line.line))
        sheet.write(line.symbol, 1)
        sheet.write(line.quantity, 2)
        formula = filled(line.symbol, package, cells)
        # An array that never fills the bank has no number of days to write.
        if formula and math.isfinite(line.value):
            cell = sheet.write(Live(formula, line.value), 3, FORMULA)
        else:
            cell = sheet.write(line.value, 3, FOUND)
        book.name(f"w_{line.symbol}", cell)
        sheet.write(line.unit, 4)
        sheet.write(line.value, 5, FOUND)
        for column, text in enumerate(
            (line.formula, line.inputs, line.source), start=6
        ):
            sheet.write(text, column)
        sheet.down()
    sheet.down()
    sheet.write("The worksheet counts ampere-hours of a mean month; the simulation sees the "
                "weather.")  # fmt: skip
