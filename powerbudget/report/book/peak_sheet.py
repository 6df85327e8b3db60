"""The peak at the lowest bus voltage as formulas, line by line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.report.book.load_sheet import (
    Listed,
    LoadCells,
    at_volts,
    highest_w,
    listed,
    peak_in_a,
    sum_where,
)
from powerbudget.report.book.sheets import FORMULA, INPUT, BookSheet, Live, Workbook

if TYPE_CHECKING:
    from powerbudget.loads.items import Item
    from powerbudget.report.document.package import Package

HEADS = (
    "load", "inrush, each, W", "voltage at the start of its wire, V",
    "all at maximum power, A", "one at maximum power, A", "one at inrush, A",
    "inrush added on the bus, A",
)  # fmt: skip
L = "Loads!"


def write_peak(book: Workbook, package: Package, cells: LoadCells) -> None:
    """Write what the bus carries at its lowest voltage while one device starts.

    Parameters
    ----------
    book
        Inputs and loads are written already.
    package
        All results.
    cells
        Where the load sheet holds its lines.
    """
    lines, lowest = listed(package), package.budget.lowest_bus_v
    sheet = book.sheet("Peak", (34, 12, 14, 14, 14, 14, 14),
                       "Peak load at the lowest bus voltage")  # fmt: skip
    sheet.keep(sheet.heads(*HEADS, right=range(1, len(HEADS))))
    # Rows as on the load sheet, so that one range serves both.
    sheet.row = cells.first - 1
    for item in lines.items:
        _line(sheet, item, cells, lowest)
    sheet.down()
    _sums(sheet, package, lines, cells)


def _sums(sheet: BookSheet, package: Package, lines: Listed, cells: LoadCells) -> None:
    budget = package.budget
    drawn = _converters(sheet, lines, cells, budget.lowest_bus_v)
    a, b = cells.first, cells.last
    on_bus = sum_where(f'"{lines.bus()}"', cells, "D")
    rows = (
        ("all at maximum power, A", f"={on_bus}{drawn}+regulator_A+leakage_A",
         budget.maximum_a),
        ("largest inrush added, A", f"=MAX(0,G{a}:G{b})",
         budget.peak_a - budget.maximum_a),
    )  # fmt: skip
    top = sheet.row + 1
    for label, formula, value in rows:
        sheet.write(label)
        sheet.write(Live(formula, value), 1, FORMULA)
        sheet.down()
    sheet.write("peak load, W", 0, form=sheet.book.form(bold=True, top=1))
    form = sheet.book.form(bold=True, top=1, num_format="#,##0.00")
    live = Live(f"=(B{top}+B{top + 1})*lowest_bus_V", budget.peak_w)
    sheet.book.name("peak_W", sheet.write(live, 1, FORMULA, form))
    sheet.down()
    sheet.note("A constant-power load draws more current at lower voltage; behind a "
"converter it has the output voltage of the converter.")  # fmt: skip


def amps(how: str, watts: str, volts: str, nominal: str, ohm: str) -> str:
    """Return the current at the end of a wire, as `end_of_wire` reckons it [formula].

    Parameters
    ----------
    how
        ``power``, ``current`` or ``resistance`` [text].
    watts, volts, nominal, ohm
        Cells with the draw, the volts where the wire begins, those at which the draw
        is stated, and the pair [text].
    """
    if how == "current":
        return f"{watts}/{nominal}"
    if how == "resistance":
        return f"IF({watts}>0,{volts}/({nominal}^2/MAX({watts},1E-30)+{ohm}),0)"
    root = f"{volts}^2-4*{ohm}*{watts}"
    return (
        f"IF({root}<0,{volts}/(2*MAX({ohm},1E-30)),"
        f"2*{watts}/({volts}+SQRT(MAX(0,{root}))))"
    )


def _line(sheet: BookSheet, item: Item, cells: LoadCells, lowest: float) -> None:
    from powerbudget.loads.voltage import end_of_wire, inrush_a, most_a

    r, draw, rail = sheet.row + 1, item.draw, item.rail
    most, volts = highest_w(item, r, L), rail.volts if item.load.supply else lowest
    sheet.write(item.load.name)
    peak = at_volts(item, draw.peak_w, r, amps=peak_in_a(item), sheet=L)
    sheet.write(peak, 1, INPUT)
    how, wire = draw.behaviour, (f"C{r}", f"{L}K{r}", f"{L}I{r}")
    one = amps(how, most, *wire)
    together = amps(how, f"({most}*{L}D{r})", *wire)
    behind = f"*{L}G{cells.converters[item.load.supply]}*{L}K{r}/lowest_bus_V" if (
        item.load.supply
    ) else ""  # fmt: skip
    ends = [
        end_of_wire(volts, watts, rail.volts, how, item.wire_ohm).amps
        for watts in (draw.maximum_w, draw.peak_w)
    ]
    formulas = (
        (f"={L}K{r}" if item.load.supply else "=lowest_bus_V", volts),
        (f'=IF({L}J{r}="squared",{together},{L}D{r}*{one})', most_a(item, lowest)),
        (f"={one}", ends[0]),
        (f"={amps(how, f'MAX(B{r},{most})', *wire)}", ends[1]),
        (f"=IF({L}D{r}>0,(F{r}-E{r}){behind},0)", inrush_a(item, lowest)),
    )
    for column, (formula, value) in enumerate(formulas, start=2):
        sheet.write(Live(formula, value), column, FORMULA)
    sheet.down()


def _converters(
    sheet: BookSheet, lines: Listed, cells: LoadCells, lowest: float
) -> str:
    """Write what each converter draws and return what adds it up [formula]."""
    from powerbudget.loads.voltage import fed_a, rail_a

    if not lines.named():
        return ""
    sheet.heads("converter", "output, A", "bus current, A", right=(1, 2))
    first = sheet.row + 1
    for name, rail in lines.named().items():
        r, at = sheet.row + 1, cells.converters[name]
        fed = fed_a(lines.items, name, lowest)
        sheet.write(rail.name)
        sheet.write(Live(f"={sum_where(f'A{r}', cells, 'D')}", fed), 1, FORMULA)
        drawn = rail_a(lines.items, name, rail, lowest)
        formula = f"=({L}D{at}+{L}G{at}*B{r}*{L}C{at})/lowest_bus_V"
        sheet.write(Live(formula, drawn), 2, FORMULA)
        sheet.down()
    last = sheet.row
    sheet.down()
    return f"+SUM(C{first}:C{last})"
