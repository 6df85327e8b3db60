"""The load of the design month as formulas, where it is not the heaviest month's."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.report.book.load_sheet import (
    Listed,
    LoadCells,
    listed,
    sum_where,
    sums_wh,
)
from powerbudget.report.book.sheets import FORMULA, INPUT, Book, Live, Sheet
from powerbudget.site.fields import MONTHS
from powerbudget.sizing.sheetlines import design_tilt
from powerbudget.sizing.sitesheet import site_figures

if TYPE_CHECKING:
    from powerbudget.report.page.package import Package

L = "Loads!"
HEADS = ("load", "time on, share of the month", "energy, Wh/day", "wire, Wh/day")


def write_month(book: Book, package: Package, cells: LoadCells) -> bool:
    """Write the load of the design month, unless it is that of the heaviest.

    Parameters
    ----------
    book
        Inputs and loads are written already.
    package
        All results.
    cells
        Where the load sheet holds its lines.

    Returns
    -------
    bool
        Whether it was written, and has the name ``design_month_Wh``.
    """
    loads, _, array = site_figures(package.problem)
    _, month, _ = design_tilt(loads, array)
    lines, heaviest = listed(package, month), listed(package)
    if all(lines.on_frac(item) == heaviest.on_frac(item) for item in lines.items):
        return False
    name = MONTHS[month]
    sheet = book.sheet("Design month", (34, 14, 14, 14),
                       f"Load of {name}, the month that the array is made for")  # fmt: skip
    sheet.keep(sheet.heads(*HEADS))
    # Rows as on the load sheet, so that one range serves both.
    sheet.row = cells.first - 1
    for item in lines.items:
        r, on = sheet.row + 1, lines.on_frac(item)
        sheet.write(item.load.name)
        sheet.write(on, 1, INPUT)
        wh = (item.on_w * on + item.strokes_w) * 24
        sheet.write(Live(f"={L}L{r}*B{r}*24+{L}D{r}*{L}H{r}", wh), 2, FORMULA)
        wire = item.wire_w(item.draw.typical_w) * on * 24
        sheet.write(Live(f"={L}O{r}*B{r}*24", wire), 3, FORMULA)
        sheet.down()
    sheet.down()
    _sums(sheet, package, lines, cells)
    return True


def _sums(sheet: Sheet, package: Package, lines: Listed, cells: LoadCells) -> None:
    a, b = cells.first, cells.last
    lost, lost_wh = _lost(sheet, lines, cells)
    loads, wires = sums_wh(lines)
    budget, idle_w = package.budget, sum(r.no_load_w for r in lines.named().values())
    base_a = budget.base_a / (1 + budget.contingency_frac)
    rows = [
        ("listed loads, Wh/day", f"=SUM(C{a}:C{b})", loads),
        ("wires, Wh/day", f"=SUM(D{a}:D{b})", wires),
        ("converters, Wh/day", lost, 24 * idle_w + lost_wh),
        ("regulator and leakage, Wh/day", "=24*bus_V*(regulator_A+leakage_A)",
         24 * budget.nominal_v * base_a),
    ]  # fmt: skip
    top = sheet.row + 1
    for label, formula, value in rows:
        sheet.write(label)
        sheet.write(Live(formula, value), 1, FORMULA)
        sheet.down()
    sheet.write("energy with the contingency, Wh/day", 0,
                form=sheet.book.form(bold=True, top=1))  # fmt: skip
    value = float(budget.mean_w[lines.month].sum())
    form = sheet.book.form(bold=True, top=1, num_format="#,##0.00")
    live = Live(f"=(1+contingency)*SUM(B{top}:B{sheet.row})", value)
    sheet.book.name("design_month_Wh", sheet.write(live, 1, FORMULA, form))
    sheet.down()


def _lost(sheet: Sheet, lines: Listed, cells: LoadCells) -> tuple[str, float]:
    """Write what each converter feeds; return what they take, as formula and value."""
    if not lines.named():
        return "=0", 0.0
    sheet.heads("converter", "fed, Wh/day", "lost in it, Wh/day")
    first, total = sheet.row + 1, 0.0
    for name, rail in lines.named().items():
        r, at = sheet.row + 1, cells.converters[name]
        fed = sum(
            (i.on_w + i.wire_w(i.draw.typical_w)) * lines.on_frac(i) + i.strokes_w
            for i in lines.fed_by(name)
        )
        sheet.write(rail.name)
        sheet.write(Live(f"={sum_where(f'A{r}', cells, 'CD')}", 24 * fed), 1, FORMULA)
        lost = 24 * (rail.slope - 1) * fed
        sheet.write(Live(f"=({L}G{at}-1)*B{r}", lost), 2, FORMULA)
        total += lost
        sheet.down()
    last = sheet.row
    sheet.down()
    rows = sorted(cells.converters.values())
    return f"=24*SUM({L}D{rows[0]}:D{rows[-1]})+SUM(C{first}:C{last})", total
