"""Writing cells: what is an input, what is a formula, what a program found."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from powerbudget.report.render.metadata import FACE, sign

if TYPE_CHECKING:
    from collections.abc import Collection

INPUT, FORMULA, FOUND, TEXT = "input", "formula", "found", "text"
FILLS = {INPUT: "#fdf3dc", FOUND: "#e9edf0"}
"""Inputs are yellow, figures that only the program can find are grey."""
LEGEND = (
    (INPUT, "input cell: change it, and dependent cells are recalculated"),
    (FORMULA, "formula: recalculated from inputs"),
    (FOUND, "simulation result: does not change with inputs"),
)
FONT = {"font_name": FACE, "font_size": 10}
PAPERS = {"a4": 9, "letter": 1}
"""Number of each paper in a workbook."""
WIDE_CHARACTERS = 140
"""Characters across a page on its side at full size, either paper."""
LINE_PT = 13.5


def number_form(value: float) -> str:
    """Return the format that shows a number to about four figures [text].

    Examples
    --------
    >>> number_form(435.2), number_form(0.0123), number_form(0.0)
    ('#,##0.0', '0.00000', '0')
    """
    size = abs(value)
    if size == 0 or size >= 1e4:
        return "0" if size == 0 else "#,##0"
    for least, form in ((100, "#,##0.0"), (10, "0.00"), (1, "0.000"), (0.1, "0.0000")):
        if size >= least:
            return form
    return "0.00000" if size >= 1e-4 else "0.00E+00"


def lines_of(text: str, width: float) -> int:
    """Return how many lines a text takes in a column [count].

    Parameters
    ----------
    text
        What is written [text].
    width
        Of the column [characters].

    Examples
    --------
    >>> lines_of("site file", 12.0), lines_of("a text of some twenty-five", 10.0)
    (1, 4)
    """
    lines, room = 0, max(1.05 * width - 1.0, 1.0)
    for part in text.split("\n"):
        lines, used = lines + 1, 0.0
        for word in part.split(" "):
            if used and used + 1 + len(word) > room:
                lines, used = lines + 1, 0.0
            used += len(word) + (1 if used else 0)
            while used > room:
                lines, used = lines + 1, used - room
    return lines


def endless(value: float) -> str:
    """Return the word for a figure that no cell can hold as a number [text].

    Parameters
    ----------
    value
        Infinite, or not a number.

    Examples
    --------
    >>> endless(float("inf")), endless(float("nan"))
    ('unlimited', '-')
    """
    return "-" if math.isnan(value) else "unlimited"


def _long(value: Any) -> bool:
    """Return whether a number has more digits than anyone typed."""
    number = value.value if isinstance(value, Live) else value
    return isinstance(number, float) and f"{number:.6g}" != f"{number:.12g}"


def _number_form(value: Any) -> str:
    if not isinstance(value, Live):
        return number_form(value)
    # What is nothing now may become any size.
    if isinstance(value.value, str) or not value.value:
        return "General"
    return number_form(value.value)


class Workbook:
    """A workbook being written.

    Parameters
    ----------
    path
        Where to [path].
    paper
        ``a4`` or ``letter`` [text].

    Notes
    -----
    Text is always written as text: nothing that somebody wrote can become a formula.
    Every formula carries the value that the program found, for readers that do not
    reckon.
    """

    def __init__(self, path: str, paper: str = "a4") -> None:
        from xlsxwriter import Workbook

        self.path, self.paper = Path(path), paper
        self.book = Workbook(
            path,
            {
                "strings_to_formulas": False, "strings_to_urls": False,
                "strings_to_numbers": False, "nan_inf_to_errors": True,
                "default_format_properties": FONT,
            },
        )  # fmt: skip
        self._formats: dict[tuple[Any, ...], Any] = {}

    def form(self, **properties: Any) -> Any:
        """Return a cell format, each made once."""
        base = {**FONT, "valign": "top", **properties}
        key = tuple(sorted(base.items()))
        if key not in self._formats:
            self._formats[key] = self.book.add_format(base)
        return self._formats[key]

    def sheet(self, name: str, widths: tuple[float, ...], title: str) -> BookSheet:
        """Return a new sheet with a title.

        Parameters
        ----------
        name
            On its tab [text].
        widths
            Of the columns [characters].
        title
            In its first cell [text].
        """
        page = self.book.add_worksheet(name)
        for column, width in enumerate(widths):
            page.set_column(column, column, width)
        page.set_landscape()
        page.set_paper(PAPERS[self.paper])
        page.fit_to_pages(1, 0)
        page.set_footer("&L&8&A&R&8page &P of &N")
        page.hide_gridlines(2)
        sheet = BookSheet(self, page, name, widths)
        sheet.write(title, form=self.form(bold=True, font_size=14))
        sheet.down(2)
        return sheet

    def name(self, name: str, cell: str) -> None:
        """Give a cell a name that formulas may use.

        Parameters
        ----------
        name, cell
            As in ``autonomy_d`` and ``Inputs!$B$4`` [text].
        """
        self.book.define_name(name, f"={cell}")

    def count(self, kind: str) -> Any:
        """Return the format of a whole number.

        Parameters
        ----------
        kind
            `INPUT`, `FORMULA` or `FOUND`.
        """
        fill = {"bg_color": FILLS[kind]} if kind in FILLS else {}
        return self.form(num_format="#,##0", **fill)

    def close(self) -> None:
        """Write the file."""
        self.book.close()
        sign(self.path)


@dataclass(frozen=True)
class Live:
    """A formula with the value that it has when written.

    Parameters
    ----------
    formula
        With its equals sign [formula].
    value
        As the program found it.
    """

    formula: str
    value: float | str


class BookSheet:
    """One sheet and the row that is written next."""

    def __init__(
        self, book: Workbook, page: Any, name: str, widths: tuple[float, ...]
    ) -> None:
        self.book, self.page, self.name, self.widths = book, page, name, widths
        self.row = 0
        self._lines: dict[int, int] = {}

    def down(self, rows: int = 1) -> None:
        """Leave so many rows empty before what is written next.

        Parameters
        ----------
        rows
            How far [count].
        """
        self.row += rows

    def write(
        self, value: Any, column: int = 0, kind: str = TEXT, form: Any = None
    ) -> str:
        """Write one cell of the current row and return its address [text].

        Parameters
        ----------
        value
            Text, number, `Live` formula, or None for a cell that stays empty.
        column
            From 0 [count].
        kind
            `INPUT`, `FORMULA`, `FOUND` or `TEXT`.
        form
            A cell format in place of the one that belongs to the kind.
        """
        form = form or self._form(value, column, kind)
        if isinstance(value, Live):
            self.page.write_formula(self.row, column, value.formula, form, value.value)
        elif isinstance(value, bool) or value is None:
            self.page.write_blank(self.row, column, None, form)
        elif isinstance(value, int | float) and math.isfinite(value):
            self.page.write_number(self.row, column, float(value), form)
        else:
            text = value if isinstance(value, str) else endless(value)
            self.page.write_string(self.row, column, text[:32_000], form)
            if form.text_wrap:
                width = self.widths[column] if column < len(self.widths) else 8.0
                self._grow(lines_of(text, width))
        return self.address(column)

    def _grow(self, lines: int) -> None:
        """Make the current row high enough: not every reader does so by itself."""
        if lines > self._lines.get(self.row, 1):
            self._lines[self.row] = lines
            self.page.set_row(self.row, min(lines * LINE_PT, 400))

    def note(self, text: str) -> None:
        """Write text across all columns, as many lines as it needs, and go down.

        Parameters
        ----------
        text
            Of somebody or of the program [text].
        """
        last = len(self.widths) - 1
        across = min(sum(self.widths), WIDE_CHARACTERS)
        form = self.book.form(text_wrap=True, quote_prefix=True)
        while last > 1 and sum(self.widths[:last]) >= across:
            last -= 1
        self.page.merge_range(self.row, 0, self.row, last, "", form)
        self.page.write_string(self.row, 0, text[:32_000], form)
        self._grow(lines_of(text, sum(self.widths[: last + 1])))
        self.down()

    def _form(self, value: Any, column: int, kind: str) -> Any:
        properties: dict[str, Any] = {}
        if kind in FILLS:
            properties["bg_color"] = FILLS[kind]
        if isinstance(value, str):
            properties["text_wrap"] = True
            if column:
                properties.update(indent=1, align="left")
            if value[:1] in set("=+-@＝＋－＠\t\r"):
                # Read as text also where the sheet is saved as plain text again.
                properties["quote_prefix"] = True
        elif value is not None and (kind != INPUT or _long(value)):
            properties["num_format"] = _number_form(value)
        return self.book.form(**properties)

    def wide(self, pages: int) -> None:
        """Print on pages side by side, the first column on each.

        Parameters
        ----------
        pages
            How many [count].
        """
        self.page.fit_to_pages(pages, 0)
        self.page.repeat_columns(0)

    def heads(self, *titles: str, right: Collection[int] = ()) -> int:
        """Write column heads, keep them in view, and return their row [count].

        Parameters
        ----------
        *titles
            From left to right, units in them [text].
        right
            Columns whose head stands to the right, as figures do [count].
        """
        for column, title in enumerate(titles):
            place: dict[str, Any] = {"align": "right" if column in right else "left"}
            if column and column not in right:
                place["indent"] = 1
            form = self.book.form(bold=True, text_wrap=True, bottom=1, valign="bottom",
                                  **place)  # fmt: skip
            self.write(title, column, form=form)
        row = self.row
        self.down()
        return row

    def keep(self, row: int) -> None:
        """Keep rows to a head in view, and repeat it on paper.

        Parameters
        ----------
        row
            Row of the heads [count].
        """
        self.page.freeze_panes(row + 1, 1)
        self.page.repeat_rows(row)

    def address(self, column: int, row: int | None = None) -> str:
        """Return the absolute address of a cell [text].

        Parameters
        ----------
        column
            From 0 [count].
        row
            From 0; the current one when None [count].
        """
        from xlsxwriter.utility import xl_rowcol_to_cell

        at = self.row if row is None else row
        cell = xl_rowcol_to_cell(at, column, row_abs=True, col_abs=True)
        return f"'{self.name}'!{cell}"
