"""A value held against a limit: whether it is inside, and by what margin.

The one definition for criteria, circuit checks and claims.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

Sense = Literal["upper", "lower"]
TOLERANCE_FRAC = 1e-9
"""A computed value beyond its limit by less than this share of it, or by less than this
number where the limit is under 1, is at the limit: dust of floating point."""
CLAIM_ROUNDING_FRAC = 0.005
"""A stated figure is printed rounded: half a percent of it is not held against it."""
CLAIM_ROUNDING_K = 0.05
"""The same for a stated temperature, whose zero means nothing [K]."""
SHARE, OUTAGE = "fraction", "h/yr"
HOURS_PER_YEAR = 8766.0
MOST_TIMES = 1000.0
"""Times the limit beyond which a margin is no figure that anybody reads."""
HOURS_READ_FRAC = 0.05
"""How far hours off may lie from those that the printed percents give, as two digits do."""
MARGIN_NOTE = "margin: % of the limit"
"""Said once on every page that has margins; a margin in another unit says which."""


@dataclass(frozen=True)
class Limit:
    """A value, the limit it is held against, and the side on which it has to lie.

    Parameters
    ----------
    value, limit
        What is there and what is asked [``unit``].
    sense
        ``upper`` where the value may not lie above, ``lower`` where not below.
    unit
        Of both; ``degC`` makes the margin a difference in K [text].
    rounding
        How far beyond still counts as inside, for figures stated rounded [``unit``].
    availability
        Whether both are shares of the time on, so that the margin is in hours off.

    Examples
    --------
    >>> Limit(0.39, 0.60, "upper", "fraction").margin_text()
    '+35 %'
    >>> Limit(-35.0, -40.0, "upper", "degC").margin_text()
    '-5.0 K'
    """

    value: float
    limit: float
    sense: Sense
    unit: str = ""
    rounding: float = 0.0
    availability: bool = False

    @property
    def met(self) -> bool:
        """Whether the value is inside the limit or at it; not a number never is."""
        return bool(within(self.value, self.limit, self.sense, self.rounding))

    @property
    def spare(self) -> float:
        """Distance to the limit, positive inside it [``unit``]."""
        # Two infinities are the same place: their difference is no number.
        if self.value == self.limit:
            return 0.0
        beyond = self.value - self.limit
        return -beyond if self.sense == "upper" else beyond

    @property
    def margin_unit(self) -> str:
        """Unit of `margin`, ``fraction`` for a share of the limit [text]."""
        if self.availability:
            return OUTAGE
        if self.unit == "degC":
            return "K"
        return self.unit if self.limit == 0 else SHARE

    @property
    def margin(self) -> float:
        """Margin, positive inside the limit, in `margin_unit`.

        Notes
        -----
        Upper limit: (limit - value) / abs(limit); lower limit: (value - limit) /
        abs(limit).  Where that share means nothing the difference stands: temperatures
        in K, a limit of zero in its own unit, availability in hours off a year.
        """
        if self.margin_unit == OUTAGE:
            return self.spare * HOURS_PER_YEAR
        if self.margin_unit == SHARE and self.limit != 0:
            return self.spare / abs(self.limit)
        return self.spare

    @property
    def margin_frac(self) -> float | None:
        """`margin` where it is a share of the limit, else None [fraction]."""
        return self.margin if self.margin_unit == SHARE else None

    @property
    def order(self) -> float:
        """Key that puts rows of different units in order, the worst first; not printed."""
        return self.spare / (abs(self.limit) or 1.0)

    def margin_text(self) -> str:
        """Return the margin as printed, with sign and unit [text]."""
        return margin_text(self.margin, self.margin_unit)


def within(value: Any, limit: float, sense: Sense, rounding: float = 0.0) -> Any:
    """Return whether values are inside a limit, the one tolerance allowed.

    Parameters
    ----------
    value
        A number or an array of them [unit of the limit].
    limit
        The limit.
    sense, rounding
        As in `Limit`.

    Returns
    -------
    bool or array of bool
        True at the limit itself.

    Examples
    --------
    >>> within(0.1 + 0.2, 0.3, "upper"), within(25.1, 25.0, "upper")
    (True, False)
    """
    dust = TOLERANCE_FRAC * max(1.0, abs(limit)) if math.isfinite(limit) else 0.0
    slack = max(rounding, dust)
    return value <= limit + slack if sense == "upper" else value >= limit - slack


def between(value: float, low: float, high: float) -> bool:
    """Return whether a value is inside two limits, either of them included.

    Examples
    --------
    >>> between(9.6, 0.8 * 12, 1.1 * 12), between(9.5, 0.8 * 12, 1.1 * 12)
    (True, False)
    """
    return bool(within(value, low, "lower") and within(value, high, "upper"))


def margin_text(margin: float, unit: str) -> str:
    """Return a margin with sign and unit, two significant digits [text].

    Parameters
    ----------
    margin, unit
        As `Limit.margin` and `Limit.margin_unit`.

    Returns
    -------
    str
        Multiples of the limit beyond a thousand of it, ``-`` without a number.

    Examples
    --------
    >>> [margin_text(m, "fraction") for m in (0.3527, -0.0019, 0.0, 12.0, -4e6)]
    ['+35 %', '-0.19 %', '0 %', '+1,200 %', 'over -1,000 x']
    >>> margin_text(-12.34, "h/yr"), margin_text(5.0, "K"), margin_text(-3.0, "count")
    ('-12 h/yr', '+5.0 K', '-3')
    """
    if math.isnan(margin):
        return "-"
    if not math.isfinite(margin):
        return "no limit" if margin > 0 else "never"
    if unit == SHARE:
        if abs(margin) > MOST_TIMES:
            return f"over {math.copysign(MOST_TIMES, margin):+,.0f} x"
        return _two_digits(100 * margin) + " %"
    if unit == "count":
        return f"{margin:+.0f}"
    plain = "" if unit == "ratio" else f" {unit}"
    return _two_digits(margin) + plain


def _two_digits(value: float) -> str:
    if value == 0:
        return "0"
    rounded = float(f"{value:.2g}")
    places = max(0, 1 - math.floor(math.log10(abs(rounded))))
    return f"{rounded:+,.{places}f}"


def printed(shown: Limit, value_text: str, limit_text: str) -> str:
    """Return the margin of two figures as they are printed [text].

    Parameters
    ----------
    shown
        The limit whose figures are printed.
    value_text, limit_text
        Both as printed, a share in percent or as a number; what holds no number gives
        the margin of the unrounded figures [text].

    Returns
    -------
    str
        What a reader with a calculator gets from the two figures.

    Examples
    --------
    >>> printed(Limit(0.3949, 0.6, "upper", "fraction"), "39 %", "60 %")
    '+35 %'
    """
    figures = [_number(text) for text in (value_text, limit_text)]
    if figures[0] is None or figures[1] is None:
        return shown.margin_text()
    if (figures[0] == figures[1]) != (shown.value == shown.limit):
        # Rounding hides which side it is on: better the true margin than a false 0.
        return shown.margin_text()
    as_read = Limit(
        figures[0], figures[1], shown.sense, shown.unit,
        availability=shown.availability,
    )  # fmt: skip
    off = abs(as_read.margin - shown.margin)
    if shown.availability and off > HOURS_READ_FRAC * abs(shown.margin):
        # Hours are finer than percents: one hour in ten years is less than 0.01 %.
        return shown.margin_text()
    return as_read.margin_text()


def _number(text: str) -> float | None:
    """Return the number that a printed figure begins with, percent as a share."""
    plain = text.lstrip("<>=≤≥ ").replace(",", "").replace("−", "-")
    head, _, unit = plain.partition(" ")
    try:
        number = float(head)
    except ValueError:
        return None
    return number / 100 if unit.startswith("%") else number
