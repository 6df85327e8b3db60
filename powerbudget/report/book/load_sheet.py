"""The load list as formulas: pieces, watts and time on give energy and maximum."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from powerbudget.report.book.sheets import FORMULA, FOUND, INPUT, Book, Live, Sheet

if TYPE_CHECKING:
    from powerbudget.loads.items import Item
    from powerbudget.loads.rails import Rail
    from powerbudget.report.page.package import Package

HEADS = (
    "load", "kind", "fed by", "pieces", "typical, each, W", "highest, each, W",
    "time on, share of the heaviest month", "strokes, each, Wh/day", "pair, ohm",
    "wire carries, pieces squared or not", "supply, V", "typical, all, W",
    "highest, all, W", "energy, Wh/day", "wire at typical, W", "wire at highest, W",
    "wire, Wh/day", "behaves as", "status", "source",
)  # fmt: skip


@dataclass(frozen=True)
class LoadCells:
    """Where the load sheet holds what other sheets need.

    Parameters
    ----------
    wh_per_day, maximum_w
        Addresses of the sums [text].
    """

    wh_per_day: str
    maximum_w: str


def load_items(package: Package) -> tuple[list[Item], dict[str, Rail], int]:
    """Return the lines behind the budget, what feeds them, and the month from 0.

    Parameters
    ----------
    package
        All results.
    """
    from powerbudget.loads.items import site_items
    from powerbudget.loads.rails import rails

    feeds = rails(package.design)
    items, _ = site_items(package.design, feeds, package.budget.grid)
    return items, feeds, package.budget.heaviest_month - 1


def write_loads(book: Book, package: Package) -> LoadCells:
    """Write the load list and its sums.

    Parameters
    ----------
    book
        Inputs are written already: their names are used here.
    package
        All results.
    """
    items, feeds, month = load_items(package)
    widths = (34, 12, 20, 8, 10, 10, 11, 10, 8, 10, 8, 10, 10, 10, 9, 9, 9, 11, 12, 60)
    sheet = book.sheet("Loads", widths, "Load list of the heaviest month")
    head = sheet.heads(*HEADS)
    sheet.keep(head)
    first = sheet.row
    for item in items:
        _line(sheet, item, month)
    sheet.page.autofilter(head, 0, sheet.row - 1, len(HEADS) - 1)
    span = (first, sheet.row - 1)
    sheet.down()
    return _sums(sheet, package, (items, feeds, month), span)


def _line(sheet: Sheet, item: Item, month: int) -> None:
    r = sheet.row + 1
    load, draw = item.load, item.draw
    duty = float(item.share[month].mean())
    wired = draw.behaviour != "current" and item.wire_ohm
    squares = "squared" if item.shared else "once"
    for column, text in enumerate((load.name, item.kind, load.supply or "bus")):
        sheet.write(text, column)
    numbers = (
        float(load.quantity), draw.typical_w, draw.maximum_w, duty, item.stroke_w * 24,
        item.wire_ohm if wired else 0.0,
    )  # fmt: skip
    for column, value in enumerate(numbers, start=3):
        sheet.write(value, column, INPUT)
    sheet.write(squares, 9, INPUT)
    sheet.write(item.rail.volts, 10, INPUT)
    typical, most = item.wire_w(draw.typical_w), item.wire_w(draw.maximum_w)
    pieces = f'IF(J{r}="squared",D{r}^2,D{r})'
    formulas = (
        (f"=D{r}*E{r}", item.on_w),
        (f"=D{r}*F{r}", item.maximum_w),
        (f"=L{r}*G{r}*24+D{r}*H{r}", (item.on_w * duty + item.strokes_w) * 24),
        (f"=(E{r}/K{r})^2*I{r}*{pieces}", typical),
        (f"=(F{r}/K{r})^2*I{r}*{pieces}", most),
        (f"=O{r}*G{r}*24", typical * duty * 24),
    )
    for column, (formula, value) in enumerate(formulas, start=11):
        sheet.write(Live(formula, value), column, FORMULA)
    for column, text in enumerate((draw.behaviour, item.status, item.source), start=17):
        sheet.write(text or "site file", column)
    sheet.down()


def _sums(
    sheet: Sheet,
    package: Package,
    lines: tuple[list[Item], dict[str, Rail], int],
    span: tuple[int, int],
) -> LoadCells:
    a, b = span[0] + 1, span[1] + 1
    first, last = _converters(sheet, lines, (a, b))
    budget = package.budget
    top = sheet.row
    for label, formula, value in _parts(package, lines, (a, b), (first, last)):
        _sum_row(sheet, label, formula, value)
    subtotal = f"SUM(D{top + 1}:D{sheet.row})"
    c = budget.contingency_frac
    _sum_row(sheet, "contingency, once, Wh/day", f"=contingency*{subtotal}",
             budget.wh_per_day * c / (1 + c))  # fmt: skip
    energy = _sum_row(sheet, "energy, Wh/day", f"=SUM(D{top + 1}:D{sheet.row})",
                      budget.wh_per_day, bold=True)  # fmt: skip
    maximum = _sum_row(
        sheet, "simultaneous maximum, W",
        f'=SUMIF(C{a}:C{b},"bus",M{a}:M{b})+SUMIF(C{a}:C{b},"bus",P{a}:P{b})'
        f"+SUM(K{first}:K{last})+bus_V*(regulator_A+leakage_A)",
        budget.maximum_w, bold=True,
    )  # fmt: skip
    sheet.write("The time on is that of the heaviest month when this was written; another "
                "month may become the heaviest when inputs change.")  # fmt: skip
    return LoadCells(energy, maximum)


def _converters(
    sheet: Sheet, lines: tuple[list[Item], dict[str, Rail], int], span: tuple[int, int]
) -> tuple[int, int]:
    """Write the converters and return their first and last row, from 1."""
    items, feeds, month = lines
    sheet.heads("converter", "", "", "idle, W", "rated output, W",
                "efficiency at rated output", "watts in for each further watt out",
                "fed, Wh/day", "lost in it, Wh/day", "fed at highest, W",
                "drawn at highest, W", "", "", "", "", "", "", "", "status", "source")  # fmt: skip
    first = sheet.row
    for name, rail in feeds.items():
        if name:
            fed = [item for item in items if item.load.supply == name]
            _converter(sheet, rail, fed, month, span)
    last = max(sheet.row, first + 1)
    sheet.down()
    return first + 1, last


def _parts(
    package: Package,
    lines: tuple[list[Item], dict[str, Rail], int],
    span: tuple[int, int],
    rails: tuple[int, int],
) -> list[tuple[str, str, float]]:
    """Return label, formula and value of what the energy is made of."""
    items, feeds, month = lines
    (a, b), (first, last) = span, rails
    budget = package.budget
    on = [float(item.share[month].mean()) for item in items]
    listed = sum(
        (i.on_w * share + i.strokes_w) * 24 for i, share in zip(items, on, strict=True)
    )
    wires = sum(
        i.wire_w(i.draw.typical_w) * share * 24
        for i, share in zip(items, on, strict=True)
    )
    idle = 24 * sum(rail.no_load_w for name, rail in feeds.items() if name)
    base_wh = _base_wh(package)
    whole = budget.wh_per_day / (1 + budget.contingency_frac)
    lost = whole - listed - wires - idle - base_wh
    return [
        ("listed loads, Wh/day", f"=SUM(N{a}:N{b})", listed),
        ("wires, Wh/day", f"=SUM(Q{a}:Q{b})", wires),
        ("converters, idle, Wh/day", f"=24*SUM(D{first}:D{last})", idle),
        ("converters, conversion, Wh/day", f"=SUM(I{first}:I{last})", lost),
        ("regulator and leakage, Wh/day",
         "=24*bus_V*(regulator_A+leakage_A)", base_wh),
    ]  # fmt: skip


def _base_wh(package: Package) -> float:
    tables = package.tables
    amps = tables.regulator.own_current_a + tables.bus.leakage_a
    return 24 * package.budget.nominal_v * amps


def _sum_row(
    sheet: Sheet, label: str, formula: str, value: float, *, bold: bool = False
) -> str:
    form = sheet.book.form(bold=True, top=1) if bold else None
    sheet.write(label, 0, form=form)
    number = sheet.book.form(bold=True, top=1, num_format="#,##0.00") if bold else None
    address = sheet.write(Live(formula, value), 3, FORMULA, number)
    sheet.write(value, 4, FOUND)
    sheet.write("when written", 5)
    sheet.down()
    return address


def _converter(
    sheet: Sheet, rail: Rail, fed: list[Item], month: int, span: tuple[int, int]
) -> None:
    r, (a, b) = sheet.row + 1, span
    mean = sum(
        (i.on_w + i.wire_w(i.draw.typical_w)) * float(i.share[month].mean())
        + i.strokes_w
        for i in fed
    )
    most = sum(i.maximum_w + i.wire_w(i.draw.maximum_w) for i in fed)
    efficiency = 1 / (rail.slope + rail.no_load_w / rail.rated_w)
    sheet.write(rail.name, 0)
    sheet.write(rail.no_load_w, 3, INPUT)
    sheet.write(rail.rated_w, 4, INPUT)
    sheet.write(efficiency, 5, INPUT)
    # A tilde keeps stars and question marks in a name from meaning "anything".
    match = f'SUBSTITUTE(SUBSTITUTE(SUBSTITUTE(A{r},"~","~~"),"*","~*"),"?","~?")'
    feed, wire = f"$C${a}:$C${b}", "SUMIF({f},{m},${c}${a}:${c}${b})"

    def fed_by(column: str) -> str:
        return wire.format(f=feed, m=match, c=column, a=a, b=b)

    formulas = (
        (f"=1/F{r}-D{r}/E{r}", rail.slope),
        (f"={fed_by('N')}+{fed_by('Q')}", 24 * mean),
        (f"=(G{r}-1)*H{r}", 24 * (rail.slope - 1) * mean),
        (f"={fed_by('M')}+{fed_by('P')}", most),
        (f"=D{r}+G{r}*J{r}", rail.no_load_w + rail.slope * most),
    )
    for column, (formula, value) in enumerate(formulas, start=6):
        sheet.write(Live(formula, value), column, FORMULA)
    sheet.write(rail.status, 18)
    sheet.write(rail.source or "site file", 19)
    sheet.down()
