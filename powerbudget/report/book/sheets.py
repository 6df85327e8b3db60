"""Writing cells: what is an input, what is a formula, what a program found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

INPUT, FORMULA, FOUND, TEXT = "input", "formula", "found", "text"
FILLS = {INPUT: "#fdf3dc", FOUND: "#e9edf0"}
"""Inputs are yellow, figures that only the program can find are grey."""
LEGEND = (
    (INPUT, "input: change it, and everything that follows from it is reckoned anew"),
    (FORMULA, "formula: follows from inputs by itself"),
    (FOUND, "found by the program: stays as it is when an input changes"),
)


def number_form(value: float) -> str:
    """Return the format that shows a number to about four figures [text].

    Parameters
    ----------
    value
        The number.

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


class Book:
    """A workbook being written.

    Parameters
    ----------
    path
        Where to [path].

    Notes
    -----
    Text is always written as text: nothing that somebody wrote can become a formula.
    Every formula carries the value that the program found, for readers that do not
    reckon.
    """

    def __init__(self, path: str) -> None:
        from xlsxwriter import Workbook

        self.book = Workbook(
            path,
            {
                "strings_to_formulas": False, "strings_to_urls": False,
                "strings_to_numbers": False, "nan_inf_to_errors": True,
            },
        )  # fmt: skip
        self._formats: dict[tuple[Any, ...], Any] = {}

    def form(self, **properties: Any) -> Any:
        """Return a cell format, each made once."""
        base = {"font_name": "Arial", "font_size": 10, "valign": "top", **properties}
        key = tuple(sorted(base.items()))
        if key not in self._formats:
            self._formats[key] = self.book.add_format(base)
        return self._formats[key]

    def sheet(self, name: str, widths: tuple[float, ...], title: str) -> Sheet:
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
        page.set_paper(9)
        page.fit_to_pages(1, 0)
        page.set_footer("&L&8&A&R&8page &P of &N")
        page.hide_gridlines(2)
        sheet = Sheet(self, page, name)
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

    def close(self) -> None:
        """Write the file."""
        self.book.close()


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
    value: float


class Sheet:
    """One sheet and the row that is written next."""

    def __init__(self, book: Book, page: Any, name: str) -> None:
        self.book, self.page, self.name = book, page, name
        self.row = 0

    def down(self, rows: int = 1) -> None:
        """Go down.

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
        elif isinstance(value, int | float):
            self.page.write_number(self.row, column, float(value), form)
        else:
            self.page.write_string(self.row, column, str(value)[:32_000], form)
        return self.address(column)

    def _form(self, value: Any, column: int, kind: str) -> Any:
        properties: dict[str, Any] = {}
        if kind in FILLS:
            properties["bg_color"] = FILLS[kind]
        if isinstance(value, str):
            properties["text_wrap"] = True
            properties["indent"] = 1 if column else 0
            if value[:1] in set("=+-@＝＋－＠\t\r"):
                # Read as text also where the sheet is saved as plain text again.
                properties["quote_prefix"] = True
        elif kind != INPUT and value is not None:
            shown = value.value if isinstance(value, Live) else value
            properties["num_format"] = number_form(shown)
        return self.book.form(**properties)

    def heads(self, *titles: str) -> int:
        """Write column heads, keep them in view, and return their row [count].

        Parameters
        ----------
        *titles
            From left to right, units in them [text].
        """
        form = self.book.form(bold=True, text_wrap=True, bottom=2, valign="bottom")
        for column, title in enumerate(titles):
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
