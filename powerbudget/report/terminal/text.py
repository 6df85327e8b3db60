"""Tables and sentences for a terminal: plain, every number with its unit."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Iterable, Sequence

from powerbudget.errors import Finding
from powerbudget.weather.runs import ACROSS_END

MARKS = {"note": "note", "warning": "look", "serious": "STOP"}
WIDTH = 100


def table(
    title: str, heads: Sequence[str], rows: Iterable[Sequence[str]], left: int = 1
) -> str:
    """Return a table as text: words to the left, numbers to the right.

    Parameters
    ----------
    title
        Line above the table [text].
    heads
        Column heads, units in them [text].
    rows
        Cells as text.
    left
        How many first columns are set to the left whatever they hold [count].

    Returns
    -------
    str
        Lines ending in a newline.

    Examples
    --------
    >>> print(table("Loads", ["load", "W"], [["radio", "1.2"]]), end="")
    Loads
    load     W
    -----  ---
    radio  1.2
    """
    cells = [list(map(str, row)) for row in rows]
    widths = [
        max(len(str(head)), *(len(row[k]) for row in cells)) if cells else len(head)
        for k, head in enumerate(heads)
    ]

    numeric = [
        k >= left and all(row[k][:1] in "-+.0123456789" for row in cells)
        for k in range(len(heads))
    ]

    def line(row: Sequence[str]) -> str:
        parts = [
            cell.ljust(width) if not numeric[k] else cell.rjust(width)
            for k, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        return "  ".join(parts).rstrip()

    rule = "  ".join("-" * width for width in widths)
    return "\n".join([title, line(heads), rule, *map(line, cells)]) + "\n"


def facts(title: str, pairs: Iterable[tuple[str, str]]) -> str:
    """Return label and value pairs, one a line, under a title [text].

    Examples
    --------
    >>> print(facts("Answer", [("availability", "100 %")]), end="")
    Answer
      availability  100 %
    """
    pairs = list(pairs)
    width = max((len(label) for label, _ in pairs), default=0)
    body = [f"  {label.ljust(width)}  {value}".rstrip() for label, value in pairs]
    return "\n".join([title, *body]) + "\n"


def wrapped(findings: Iterable[Finding]) -> str:
    """Return findings, the gravest first, wrapped to the page [text]."""
    import textwrap

    order = ("serious", "warning", "note")
    lines = []
    for finding in sorted(findings, key=lambda f: order.index(f.severity)):
        lines += textwrap.wrap(
            f"{MARKS[finding.severity]:4}  {finding.text}",
            width=WIDTH,
            subsequent_indent="      ",
        )
    return "\n".join(["Findings", *(lines or ["      none"])]) + "\n"


def percent(share: float, digits: int = 1) -> str:
    """Return a share in percent [text].

    Examples
    --------
    >>> percent(0.99987, 2)
    '99.99 %'
    >>> percent(-0.0001, 0)
    '0 %'
    """
    text = f"{100 * share:z.{digits}f} %"
    # 99.99 % must not be printed as 100 % when it is not.
    if share < 1 and text.startswith("100"):
        return percent(share, digits + 1) if digits < 6 else "just under 100 %"
    return text


def told_apart(
    found: float, needed: float, words: Callable[[float, int], str]
) -> tuple[str, str]:
    """Return two figures with as many digits as it takes to tell them apart [text].

    Parameters
    ----------
    found, needed
        Two figures in the same unit.
    words
        Writes one, with so many digits more than usual.

    Returns
    -------
    tuple of str
        Both as printed; alike only where the figures are.

    Examples
    --------
    >>> told_apart(0.59996, 0.6, lambda value, more: percent(value, 1 + more))
    ('59.996 %', '60.000 %')
    >>> told_apart(0.41, 0.6, lambda value, more: percent(value, 1 + more))
    ('41.0 %', '60.0 %')
    """
    pair = words(found, 0), words(needed, 0)
    for more in range(1, 9):
        if pair[0] != pair[1] or found == needed:
            break
        pair = words(found, more), words(needed, more)
    return pair


def share_beside(share: float, limit: float, digits: int = 0) -> str:
    """Return a share in percent that never reads like a limit that it misses [text].

    Parameters
    ----------
    share, limit
        What was found, and what it is held against [fraction].
    digits
        Decimals where they are apart [count].

    Examples
    --------
    >>> share_beside(0.3996, 0.4), share_beside(0.45, 0.4)
    ('39.96 %', '45 %')
    """
    if share >= limit:
        return percent(share, digits)
    return told_apart(share, limit, lambda x, more: percent(x, digits + more))[0]


def charge_words(share: float) -> str:
    """Return a state of charge in percent; almost full needs no third decimal [text].

    Parameters
    ----------
    share
        State of charge [fraction].

    Examples
    --------
    >>> charge_words(0.4461), charge_words(0.99998), charge_words(1.0)
    ('45 %', '99.9 %', '100 %')
    """
    return percent(min(share, 0.999) if share < 1 else share, 0)


def miss(share: float) -> str:
    """Return in percent how far something is missed: never as nothing [text].

    Parameters
    ----------
    share
        A share that is not 0 [fraction].

    Examples
    --------
    >>> miss(-0.21), miss(-0.0019)
    ('-21 %', '-0.2 %')
    """
    if not math.isfinite(share):
        return "-"
    for digits in range(6):
        if round(100 * share, digits):
            return percent(share, digits)
    return f"{100 * share:.1g} %"


def closure(error_frac: float) -> str:
    """Return how well a sum closes, in plain words [text].

    Parameters
    ----------
    error_frac
        What is left over, as a share of the whole [fraction].

    Examples
    --------
    >>> closure(8.9e-17), closure(0.00042)
    ('to rounding', 'to 0.042 %')
    """
    return "to rounding" if error_frac < 1e-9 else f"to {100 * error_frac:.2g} %"


def count(pieces: int, word: str) -> str:
    """Return a count with its noun [text].

    Examples
    --------
    >>> count(1, "module"), count(4, "battery unit")
    ('1 module', '4 battery units')
    """
    return f"{pieces:,} {word}" + ("" if pieces == 1 else "s")


def number(value: float, digits: int = 3) -> str:
    """Return a number to a few significant figures, for table cells [text].

    Examples
    --------
    >>> number(0.0), number(145.1496), number(0.0961)
    ('0', '145', '0.0961')
    """
    from powerbudget.quantities import show

    return show(value, "", digits)


def moment(iso: str, *, typical_year: bool) -> str:
    """Return a local time for people; the year of a typical year is left out [text].

    Examples
    --------
    >>> moment("1990-11-29T07:00", typical_year=True)
    '29 Nov 07:00'
    >>> moment("2014-01-05T16:30", typical_year=False)
    '5 Jan 2014 16:30'
    """
    from datetime import datetime

    at = datetime.fromisoformat(iso)
    form = "%b %H:%M" if typical_year else "%b %Y %H:%M"
    return f"{at.day} {at.strftime(form)}"


def begins(when: str, across_end: bool) -> str:
    """Return when a run begins, and whether it goes on past the typical year [text].

    Examples
    --------
    >>> begins("22 Dec", True)
    '22 Dec, across the end of the typical year'
    """
    return f"{when}, {ACROSS_END}" if across_end else when


def remark(text: str) -> None:
    """Write a remark for the user, apart from the answer."""
    sys.stderr.write(text.rstrip() + "\n")
