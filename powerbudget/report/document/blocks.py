"""What a page is made of: sections of blocks, each drawn by one template.

A block holds text and numbers ready to read, never markup; the only markup that
enters is our own SVG.  So whatever a user wrote is escaped in one place.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from powerbudget.errors import Finding
from powerbudget.quantities import in_print, money
from powerbudget.report.document.words import charge_words, number, percent


@dataclass(frozen=True)
class Cell:
    """One cell of a table.

    Parameters
    ----------
    text
        What is shown [text].
    sort
        What the column is sorted by; the text when None [number or text].
    href
        Anchor on the page that it leads to, with its ``#`` [text].
    tone
        ``good``, ``bad``, ``doubt`` or nothing; a word always says the same [text].
    """

    text: str
    sort: float | str | None = None
    href: str = ""
    tone: str = ""


@dataclass(frozen=True)
class Column:
    """Head of a column.

    Parameters
    ----------
    head, unit
        Name, and the unit of every figure under it [text].
    number
        Whether figures stand to the right.
    """

    head: str
    unit: str = ""
    number: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "unit", in_print(self.unit))


@dataclass(frozen=True)
class Row:
    """One row; its first cell names it.

    Parameters
    ----------
    cells
        From left to right.
    anchor
        Its place on the page, without the ``#``; may be empty [text].
    mark
        ``picked``, ``hidden``, ``total`` or nothing [text].
    """

    cells: tuple[Cell, ...]
    anchor: str = ""
    mark: str = ""


@dataclass(frozen=True)
class Table:
    """A table with a caption.

    Parameters
    ----------
    key
        Unique on the page [text].
    caption, note
        Above it and below it [text].
    columns, rows
        Heads and cells.
    tools
        Whether rows may be sorted and filtered where scripts run.
    folded
        Whether it starts folded away where scripts run.
    """

    kind = "table"
    key: str
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    note: str = ""
    tools: bool = False
    folded: bool = False


@dataclass(frozen=True)
class Point:
    """A place on a picture that can be picked.

    Parameters
    ----------
    left_frac, top_frac
        From the picture's left and top edge [fraction].
    href, label
        Where it leads, and what it is called [text].
    """

    left_frac: float
    top_frac: float
    href: str
    label: str


@dataclass(frozen=True)
class Picture:
    """A picture of our own drawing.

    Parameters
    ----------
    key
        Unique on the page [text].
    alt
        What it shows, in words and figures [text].
    draw
        Draws it when a renderer wants it: markup whose ids are already unique, and
        places that can be picked [SVG, Point].
    figure
        The same as the drawing library has it, for what is no page.
    caption
        Below it [text].
    """

    kind = "picture"
    key: str
    alt: str
    draw: Callable[[], tuple[str, tuple[Point, ...]]]
    figure: Callable[[], Any]
    caption: str = ""


@dataclass(frozen=True)
class Fact:
    """A label and what is true of it.

    Parameters
    ----------
    label, text, href
        Words, and an anchor that may be empty [text].
    """

    label: str
    text: str
    href: str = ""


@dataclass(frozen=True)
class Facts:
    """A list of facts, with a heading that may be empty.

    Parameters
    ----------
    rows
        The facts.
    title
        Heading [text].
    key
        By which an option of the command line names it [text].
    """

    kind = "facts"
    rows: tuple[Fact, ...]
    title: str = ""
    key: str = ""


@dataclass(frozen=True)
class Prose:
    """A paragraph.

    Parameters
    ----------
    text, title
        Words, and a heading that may be empty [text].
    """

    kind = "prose"
    text: str
    title: str = ""


@dataclass(frozen=True)
class Remarks:
    """Findings, the gravest first.

    Parameters
    ----------
    items
        What a careful colleague would point out.
    title
        Heading [text].
    """

    kind = "remarks"
    items: tuple[Finding, ...]
    title: str = ""


@dataclass(frozen=True)
class Step:
    """One step behind a figure, with the place where it stands on the page.

    Parameters
    ----------
    text, href
        Words with figures, and an anchor that may be empty [text].
    """

    text: str
    href: str = ""


@dataclass(frozen=True)
class Headline:
    """A figure that matters, and how it was found.

    Parameters
    ----------
    key
        Unique on the page [text].
    label, value, unit
        As printed [text].
    condition
        Without which the figure says nothing [text].
    formula
        How it is reckoned [text].
    steps
        What goes in, each with its place on the page.
    """

    key: str
    label: str
    value: str
    unit: str
    condition: str
    formula: str
    steps: tuple[Step, ...]


@dataclass(frozen=True)
class Headlines:
    """Figures that matter, side by side.

    Parameters
    ----------
    items
        The figures.
    """

    kind = "headlines"
    items: tuple[Headline, ...]


@dataclass(frozen=True)
class Banner:
    """The answer in one sentence.

    Parameters
    ----------
    met
        Whether every criterion is met.
    text, more
        The sentence, and what should be read with it [text].
    """

    kind = "banner"
    met: bool
    text: str
    more: str


@dataclass(frozen=True)
class Panel:
    """One design that can be picked.

    Parameters
    ----------
    key, title
        Unique on the page, and its name [text].
    picked
        Whether it is shown first.
    facts, table
        Its figures.
    """

    key: str
    title: str
    picked: bool
    facts: tuple[Fact, ...]
    table: Table


@dataclass(frozen=True)
class Panels:
    """Designs of which one is looked at; all of them where scripts do not run.

    Parameters
    ----------
    key, legend
        Unique on the page, and what is being chosen [text].
    items
        The designs.
    """

    kind = "panels"
    key: str
    legend: str
    items: tuple[Panel, ...]


Block = (
    Table | Picture | Facts | Prose | Remarks | Headlines | Banner | Panels
)  # fmt: skip


@dataclass(frozen=True)
class Section:
    """One numbered section.

    Parameters
    ----------
    key, title, short
        Anchor, heading, and its name in the contents [text].
    lead
        What the section says, in one or two sentences [text].
    blocks
        From top to bottom.
    number
        In its document, with a letter in the annex; none before they are in order [text].
    """

    key: str
    title: str
    short: str
    lead: str
    blocks: tuple[Block, ...]
    number: str = ""


def word(text: str, href: str = "", tone: str = "") -> Cell:
    """Return a cell of words.

    Parameters
    ----------
    text, href, tone
        As in `Cell` [text].
    """
    return Cell(in_print(text), None, href, tone)


def figure(value: float | None, digits: int = 3, *, href: str = "") -> Cell:
    """Return a cell of a number, rounded for people and sorted by what it is.

    Parameters
    ----------
    value
        The number, None where there is none.
    digits
        Significant figures [count].
    href
        Anchor [text].
    """
    if value is None:
        return Cell("", float("inf"), href)
    # A sum of nothing may come out as minus zero; nobody wants to read that.
    return Cell(number(value + 0.0, digits), float(value) + 0.0, href)


def fixed(value: float, decimals: int) -> Cell:
    """Return a cell of a number with so many decimals.

    Parameters
    ----------
    value
        The number.
    decimals
        Figures behind the point [count].
    """
    return Cell(f"{value:z,.{decimals}f}", float(value))


def whole(value: float | None, *, href: str = "") -> Cell:
    """Return a cell of a count.

    Parameters
    ----------
    value
        The count, None where there is none [count].
    href
        Anchor [text].
    """
    if value is None:
        return Cell("", float("inf"), href)
    return Cell(f"{value:,.0f}", float(value), href)


def cost(value: float | None) -> Cell:
    """Return a cell of a sum of money, sorted by what it is.

    Parameters
    ----------
    value
        The sum, None where there is none; the currency stands in the column's head.
    """
    if value is None:
        return Cell("", float("inf"))
    return Cell(money(value), float(value))


def share(value: float, digits: int = 0, *, href: str = "") -> Cell:
    """Return a cell of a share in percent; the sign stands in the column's head.

    Parameters
    ----------
    value
        The share [fraction].
    digits
        Decimals [count].
    href
        Anchor [text].
    """
    return Cell(percent(value, digits).removesuffix(" %"), float(value), href)


def charge(value: float) -> Cell:
    """Return a cell of a state of charge in percent, almost full as 99.9.

    Parameters
    ----------
    value
        State of charge [fraction].
    """
    return Cell(charge_words(value).removesuffix(" %"), float(value))


def rows_of(cells: Sequence[Sequence[Cell]]) -> tuple[Row, ...]:
    """Return plain rows of cells."""
    return tuple(Row(tuple(row)) for row in cells)
