"""The load list as formulas: pieces, watts and time on give energy and maximum."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from powerbudget.loads.lines import (
    CONTINGENCY,
    STANDING,
    kinds_wh,
    rail_average_w,
    rail_maximum_w,
)
from powerbudget.report.book.sheets import (
    FORMULA,
    FOUND,
    INPUT,
    BookSheet,
    Live,
    Workbook,
)

if TYPE_CHECKING:
    from powerbudget.loads.items import Item
    from powerbudget.loads.rails import Rail
    from powerbudget.report.document.package import Package

HEADS = (
    "load",
    "kind",
    "supply",
    "qty",
    "typical power, each, W",
    "maximum power, each, W",
    "duty cycle in the highest-load month",
    "strokes, each, Wh/day",
    "pair, ohm",
    "wire current squared or linear in quantity",
    "supply, V",
    "typical power, all, W",
    "maximum power, all, W",
    "energy, Wh/day",
    "wire at typical power, W",
    "wire at maximum power, W",
    "wire, Wh/day",
    "load kind",
    "status",
    "source",
)
WIDTHS = (
    34, 12, 18, 8, 10, 10, 11, 10, 8, 10, 8, 10, 10, 10, 9, 9, 9, 11, 12, 60,
)  # fmt: skip
BY_MONTH = "By month"
FIGURES = (*range(3, 9), *range(10, 17))
TIME_ON = HEADS.index("duty cycle in the highest-load month")


@dataclass(frozen=True)
class LoadCells:
    """Where the load sheet holds what other sheets need.

    Parameters
    ----------
    wh_per_day, maximum_w
        Addresses of the sums [text].
    first, last
        Rows of the load list, from 1 [count].
    converters
        Row of each converter by its name, from 1 [count].
    by_month
        Whether a sheet of its own holds the time on by month.
    """

    wh_per_day: str = ""
    maximum_w: str = ""
    first: int = 0
    last: int = 0
    converters: dict[str, int] = field(default_factory=dict)
    by_month: bool = False


@dataclass(frozen=True)
class Listed:
    """What the load list is written from.

    Parameters
    ----------
    items, feeds
        Lines, and what feeds them by name; the bus has an empty name.
    month
        The heaviest, from 0 [count].
    """

    items: tuple[Item, ...]
    feeds: dict[str, Rail]
    month: int

    def on_frac(self, item: Item) -> float:
        """Return the share of the month in which a line is on [fraction]."""
        return item.on_frac(self.month)

    def by_season(self, item: Item) -> bool:
        """Return whether the time on of a line differs by month."""
        shares = item.share.mean(axis=1)
        return float(shares.max() - shares.min()) > 1e-12

    @property
    def seasonal(self) -> bool:
        """Whether any line differs by month, a heater by the air of the record."""
        return any(
            self.by_season(item) or item.load.heater is not None for item in self.items
        )

    def named(self) -> dict[str, Rail]:
        """Return the converters by name."""
        return {name: rail for name, rail in self.feeds.items() if name}

    def bus(self) -> str:
        """Return what the bus is called: like no converter [text]."""
        name = "bus"
        while name in self.feeds:
            name = f"the {name}"
        return name


def listed(package: Package) -> Listed:
    """Return the lines behind the budget, what feeds them, and the heaviest month."""
    budget = package.budget
    return Listed(budget.items, budget.rails, budget.highest_load_month - 1)


def has_months(package: Package) -> bool:
    """Return whether the load differs by month, the battery heater counted."""
    heated = bool(package.problem.conditions.heater_w.any())
    return heated or listed(package).seasonal


def write_loads(book: Workbook, package: Package) -> LoadCells:
    """Write the load list and its sums.

    Parameters
    ----------
    book
        Inputs are written already: their names are used here.
    package
        All results.
    """
    lines = listed(package)
    sheet = book.sheet("Loads", WIDTHS, "Load list of the highest-load month")
    head = sheet.heads(*HEADS, right=FIGURES)
    sheet.keep(head)
    first = sheet.row
    # Below the list stand an empty row and the converters' heads.
    below = first + len(lines.items) + 2
    cells = LoadCells(
        first=first + 1,
        last=first + len(lines.items),
        converters={name: below + k for k, name in enumerate(lines.named(), start=1)},
        by_month=has_months(package),
    )
    for item in lines.items:
        _line(sheet, item, lines, cells)
    sheet.page.autofilter(head, 0, sheet.row - 1, len(HEADS) - 1)
    sheet.down()
    done = _sums(sheet, package, lines, cells)
    sheet.wide(2)
    return done


def _line(sheet: BookSheet, item: Item, lines: Listed, cells: LoadCells) -> None:
    r = sheet.row + 1
    load, draw = item.load, item.draw
    for column, text in enumerate((load.name, item.kind, load.supply or lines.bus())):
        sheet.write(text, column)
    for column, value in enumerate(_figures(item, lines, r), start=3):
        follows = column == TIME_ON and lines.by_season(item)
        sheet.write(value, column, FORMULA if follows else INPUT)
    sheet.write("squared" if item.shared else "once", 9, INPUT)
    volts = f"=$C${cells.converters[load.supply]}" if load.supply else "=bus_V"
    sheet.write(Live(volts, item.rail.volts), 10, FORMULA)
    typical, most = item.wire_w(draw.typical_w), item.wire_w(draw.maximum_w)
    pieces = f'IF(J{r}="squared",D{r}^2,D{r})'
    highest = highest_w(item, r)
    formulas = (
        (f"=D{r}*E{r}", item.on_w),
        (f"=D{r}*{highest}", item.maximum_w),
        (f"=L{r}*G{r}*24+D{r}*H{r}", 24 * item.average_w(lines.month)),
        (f"=(E{r}/K{r})^2*I{r}*{pieces}", typical),
        (f"=({highest}/K{r})^2*I{r}*{pieces}", most),
        (f"=O{r}*G{r}*24", 24 * item.wire_average_w(lines.month)),
    )
    for column, (formula, value) in enumerate(formulas, start=11):
        sheet.write(Live(formula, value), column, FORMULA)
    for column, text in enumerate((draw.behaviour, item.status, item.source), start=17):
        sheet.write(text or "site file", column)
    sheet.down()


def highest_w(item: Item, row: int, sheet: str = "") -> str:
    """Return the formula of one piece's highest draw: never below the typical [text].

    Parameters
    ----------
    item
        The line.
    row
        Its row on the load sheet, from 1 [count].
    sheet
        What stands before the cells on another sheet [text].
    """
    if item.draw.maximum_w < item.draw.typical_w:
        return f"{sheet}F{row}"
    return f"MAX({sheet}E{row},{sheet}F{row})"


def _figures(item: Item, lines: Listed, row: int) -> tuple[float | Live, ...]:
    """Return the inputs of a line, from the pieces to the ohms of the pair."""
    load, draw = item.load, item.draw
    wired = draw.behaviour != "current" and item.wire_ohm
    strokes_wh = item.stroke_w * 24
    on: float | Live = lines.on_frac(item)
    if lines.by_season(item):
        months = f"'{BY_MONTH}'!$B${row}:$M${row}"
        on = Live(f"=INDEX({months},heaviest_month)", lines.on_frac(item))
    by_volts = load.strokes is not None and load.strokes.draw[0] == "A"
    return (
        float(load.quantity),
        at_volts(item, draw.typical_w, row, amps=_typical_in_a(item)),
        _highest(item, row),
        on,
        at_volts(item, strokes_wh, row, amps=by_volts),
        item.wire_ohm if wired else 0.0,
    )


def at_volts(
    item: Item, watts: float, row: int, *, amps: bool, sheet: str = ""
) -> float | Live:
    """Return a draw, as amperes times the supply's volts where amperes are given.

    Parameters
    ----------
    item
        The line.
    watts
        At its supply's volts [W].
    row
        On the load sheet, from 1 [count].
    amps
        Whether it was given in amperes.
    sheet
        What stands before the cell on another sheet [text].
    """
    if not amps or not watts:
        return watts
    return Live(f"={watts / item.rail.volts:.14g}*{sheet}K{row}", watts)


def _highest(item: Item, row: int) -> float | Live:
    """Return the highest draw of one piece, that of its strokes included."""
    strokes, draw = item.load.strokes, item.draw
    if strokes is not None and strokes.draw[0] == "A":
        with_stroke = draw.typical_w + strokes.draw[1] * item.rail.volts
        if draw.maximum_w == with_stroke:
            return Live(f"=E{row}+{strokes.draw[1]:.14g}*K{row}", draw.maximum_w)
    return at_volts(item, draw.maximum_w, row, amps=_maximum_in_a(item))


def _typical_in_a(item: Item) -> bool:
    from powerbudget.site.parts import TransmitterPart

    load = item.load
    if load.measured is not None:
        return load.measured.spot is not None and load.measured.spot[0] == "A"
    if load.typical is not None:
        return load.typical[0] == "A"
    by_loop = load.loop is not None and load.loop.kind == "multidrop"
    return by_loop or isinstance(item.part, TransmitterPart)


def _maximum_in_a(item: Item) -> bool:
    from powerbudget.site.parts import TransmitterPart

    load = item.load
    if load.strokes is not None or load.measured is not None:
        return False
    if load.maximum is not None:
        return load.maximum[0] == "A"
    plain = item.part is None or isinstance(item.part, TransmitterPart)
    return plain and _typical_in_a(item)


def peak_in_a(item: Item) -> bool:
    """Return whether a line's short peak follows from amperes."""
    load = item.load
    if load.strokes is not None:
        inrush = load.strokes.inrush
        if inrush is None or inrush[0] != "A":
            return False
        return item.draw.peak_w == inrush[1] * item.rail.volts
    if load.measured is not None:
        return False
    if load.peak is not None:
        return load.peak[0] == "A"
    return _maximum_in_a(item)


def sum_where(name: str, cells: LoadCells, columns: str, sheet: str = "") -> str:
    """Return the sum of columns over the lines of one supply [formula].

    Parameters
    ----------
    name
        A cell, or text in quotes, with the supply's name [text].
    cells
        Rows of the load list.
    columns
        Letters of the columns to add [text].
    sheet
        What stands before the columns, empty on the load sheet itself [text].

    Notes
    -----
    The names are compared letter by letter: one that begins with a comparison sign or
    holds a star would mean something else to a conditional sum.
    """
    a, b = cells.first, cells.last
    fed = f"--EXACT(Loads!$C${a}:$C${b},{name})"
    parts = (f"SUMPRODUCT({fed},{sheet}${c}${a}:${c}${b})" for c in columns)
    return "+".join(parts)


def _sums(
    sheet: BookSheet, package: Package, lines: Listed, cells: LoadCells
) -> LoadCells:
    first, last = _converters(sheet, lines, cells)
    budget = package.budget
    top = sheet.row
    for label, formula, value in _parts(package, lines, cells, (first, last)):
        _sum_row(sheet, label, formula, value)
    subtotal = f"SUM(D{top + 1}:D{sheet.row})"
    _sum_row(sheet, "contingency, Wh/day", f"=contingency*{subtotal}",
             kinds_wh(budget.lines, {CONTINGENCY}))  # fmt: skip
    energy = _sum_row(sheet, "energy, Wh/day", f"=SUM(D{top + 1}:D{sheet.row})",
                      budget.wh_per_day, bold=True)  # fmt: skip
    on_bus = sum_where(f'"{lines.bus()}"', cells, "MP")
    maximum = _sum_row(
        sheet, "maximum running load, W",
        f"={on_bus}+SUM(K{first}:K{last})+bus_V*(regulator_A+leakage_A)",
        budget.maximum_w, bold=True,
    )  # fmt: skip
    for text in NOTES if lines.seasonal else NOTES[1:]:
        sheet.note(text)
    return replace(cells, wh_per_day=energy, maximum_w=maximum)


NOTES = (
    "A duty cycle that differs by month is an input of the sheet By month.",
    "An input with a formula is a current times the supply voltage.",
)


def _converters(sheet: BookSheet, lines: Listed, cells: LoadCells) -> tuple[int, int]:
    """Write the converters and return their first and last row, from 1."""
    sheet.heads("converter", "", "output, V", "no-load power, W", "rated output, W",
                "efficiency at rated output", "input per watt of output, W/W",
                "output, Wh/day", "loss, Wh/day", "output at maximum, W",
                "input at maximum, W", "", "", "", "", "", "", "", "status", "source",
                right=range(2, 11))  # fmt: skip
    first = sheet.row
    for name, rail in lines.named().items():
        _converter(sheet, rail, lines, name, cells)
    last = max(sheet.row, first + 1)
    sheet.down()
    return first + 1, last


def _parts(
    package: Package, lines: Listed, cells: LoadCells, rails: tuple[int, int]
) -> list[tuple[str, str, float]]:
    """Return label, formula and value of what the energy is made of."""
    (a, b), (first, last) = (cells.first, cells.last), rails
    budget = package.budget
    idle = 24 * sum(rail.no_load_w for rail in lines.named().values())
    lost = kinds_wh(budget.lines, {"converter"}) - idle
    listed_wh = sum(
        x.wh_per_day for x in budget.lines if not x.hidden and x.kind != CONTINGENCY
    )
    return [
        ("listed loads, Wh/day", f"=SUM(N{a}:N{b})", listed_wh),
        ("wires, Wh/day", f"=SUM(Q{a}:Q{b})",
         kinds_wh(budget.lines, {"wiring"})),
        ("converters, no-load, Wh/day", f"=24*SUM(D{first}:D{last})", idle),
        ("converters, conversion loss, Wh/day", f"=SUM(I{first}:I{last})", lost),
        ("charge controller and leakage, Wh/day",
         "=24*bus_V*(regulator_A+leakage_A)",
         kinds_wh(budget.lines, STANDING)),
    ]  # fmt: skip


def _sum_row(
    sheet: BookSheet, label: str, formula: str, value: float, *, bold: bool = False
) -> str:
    form = sheet.book.form(bold=True, top=1) if bold else None
    sheet.write(label, 0, form=form)
    number = sheet.book.form(bold=True, top=1, num_format="#,##0.00") if bold else None
    address = sheet.write(Live(formula, value), 3, FORMULA, number)
    sheet.write(value, 4, FOUND)
    sheet.write("value at issue", 5, form=sheet.book.form(indent=1, align="left"))
    sheet.down()
    return address


def _converter(
    sheet: BookSheet, rail: Rail, lines: Listed, name: str, cells: LoadCells
) -> None:
    r = sheet.row + 1
    mean = rail_average_w(lines.items, name, lines.month)
    most = rail_maximum_w(lines.items, name)
    efficiency = 1 / (rail.slope + rail.no_load_w / rail.rated_w)
    sheet.write(rail.name, 0)
    for column, value in enumerate(
        (rail.volts, rail.no_load_w, rail.rated_w, efficiency), start=2
    ):
        sheet.write(value, column, INPUT)
    formulas = (
        (f"=1/F{r}-D{r}/E{r}", rail.slope),
        (f"={sum_where(f'A{r}', cells, 'NQ')}", 24 * mean),
        (f"=(G{r}-1)*H{r}", 24 * rail.conversion_w(mean)),
        (f"={sum_where(f'A{r}', cells, 'MP')}", most),
        (f"=D{r}+G{r}*J{r}", rail.input_w(most)),
    )
    for column, (formula, value) in enumerate(formulas, start=6):
        sheet.write(Live(formula, value), column, FORMULA)
    sheet.write(rail.status, 18)
    sheet.write(rail.source or "site file", 19)
    sheet.down()
