"""Figures and counts in words: plain, every number with its unit."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

from powerbudget.quantities import in_unit, plain, show
from powerbudget.site.fields import MONTHS
from powerbudget.weather.runs import ACROSS_END

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from powerbudget.balance.simulation import Simulation
    from powerbudget.errors import Finding
    from powerbudget.sizing.criteria import Verdict

SEVERITY = {"serious": "WARNING", "warning": "WARNING", "note": "NOTE"}
"""Word that each severity has in print, the gravest first."""
AVAILABILITY = "availability"


def gravest_first(findings: Iterable[Finding]) -> list[Finding]:
    """Return findings, the gravest first."""
    order = list(SEVERITY)
    return sorted(findings, key=lambda finding: order.index(finding.severity))


def percent(share: float, digits: int = 1) -> str:
    """Return a share in percent [text].

    Examples
    --------
    >>> percent(0.99987, 2), percent(0.9999999, 2)
    ('99.99 %', '99.99 %')
    >>> percent(-0.0001, 0)
    '0 %'
    """
    text = in_unit(100 * share, "%", digits)
    if share >= 1 or not text.startswith("100"):
        return text
    # What is not all must not be printed as 100 %: one digit more, then rounded down.
    if digits < 2:
        return percent(share, digits + 1)
    return in_unit(100 - 0.1**digits, "%", digits)


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
    return plain(100 * share, 1, "%")


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
    return (
        "to rounding" if error_frac < 1e-9 else f"to {plain(100 * error_frac, 2, '%')}"
    )


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
    '29 Nov, 07:00'
    >>> moment("2014-01-05T16:30", typical_year=False)
    '5 Jan 2014, 16:30'
    """
    from datetime import datetime

    at = datetime.fromisoformat(iso)
    form = "%b, %H:%M" if typical_year else "%b %Y, %H:%M"
    return f"{at.day} {at.strftime(form)}"


def coordinates(latitude_deg: float, longitude_deg: float, elevation_m: float) -> str:
    """Return a location in words [text].

    Parameters
    ----------
    latitude_deg, longitude_deg, elevation_m
        Of the site [deg, deg, m].

    Examples
    --------
    >>> coordinates(55.32, -160.52, 7.0)
    '55.3° N, 160.5° W, 7 m'
    """
    north, east = "NS"[latitude_deg < 0], "EW"[longitude_deg < 0]
    return (
        f"{in_unit(abs(latitude_deg), '°', 1)} {north}, "
        f"{in_unit(abs(longitude_deg), '°', 1)} {east}, "
        f"{in_unit(elevation_m, 'm')}"
    )


def begins(when: str, across_end: bool) -> str:
    """Return when a run begins, and whether it goes on past the typical year [text].

    Examples
    --------
    >>> begins("22 Dec", True)
    '22 Dec, across the end of the typical year'
    """
    return f"{when}, {ACROSS_END}" if across_end else when


def figure_words(value: float, unit: str, more: int = 0) -> str:
    """Return a criterion's figure with its unit [text].

    Parameters
    ----------
    value, unit
        As in a verdict.
    more
        Digits beyond the usual ones [count].

    Examples
    --------
    >>> figure_words(0.61, "fraction"), figure_words(9.61, "d"), figure_words(286.4, "d")
    ('61 %', '9.6 d', '286 d')
    >>> figure_words(math.inf, "d")
    'unlimited'
    """
    if math.isinf(value):
        return "unlimited"
    if value == 0 and unit in {"fraction", "d", "h"}:
        return f"0 {'%' if unit == 'fraction' else unit}"
    if unit == "fraction":
        return percent(value, (0 if abs(value) >= 0.0995 else 1) + more)
    if unit == "ratio":
        return f"{value:z.{2 + more}f}"
    if unit == "count":
        return f"{value:.0f}"
    return in_unit(value, unit, (abs(value) < 99.95) + more)


def figures_apart(found: float, needed: float, unit: str) -> tuple[str, str]:
    """Return two figures of a criterion, printed so that they can be told apart [text]."""
    return told_apart(found, needed, lambda x, more: figure_words(x, unit, more))


def found_and_needed(v: Verdict) -> tuple[str, str]:
    """Return both figures of a verdict as printed; a missed one shows that it is [text].

    Examples
    --------
    >>> from powerbudget.sizing.criteria import Verdict
    >>> found_and_needed(Verdict("maximum DOD", 0.6004, 0.6, "fraction", False, 0))
    ('60.04 %', '60.00 %')
    """

    def words(value: float, more: int) -> str:
        if v.name == AVAILABILITY:
            return percent(value, 2 + more)
        return figure_words(value, v.unit, more)

    if v.met:
        return words(v.found, 0), words(v.needed, 0)
    return told_apart(v.found, v.needed, words)


def criterion_name(v: Verdict, run: Simulation) -> str:
    """Return a criterion in the words of the trade, with what it depends on [text].

    Parameters
    ----------
    v, run
        A verdict, and the simulation that it judges.
    """
    problem = run.problem
    degc, held = problem.design.tables.criteria.autonomy_degc, problem.design_degc
    if v.name == "autonomy":
        if held > degc:
            return f"Autonomy, battery at {plain(held, 3, '°C')}"
        return f"Autonomy at {degc:g} °C"
    name = v.name[:1].upper() + v.name[1:]
    if v.name == "array-to-load ratio" and run.array_to_load.month:
        return f"Array-to-load ratio, {MONTHS[run.array_to_load.month - 1]}"
    return name


def sentence(text: str) -> str:
    """Return words as a sentence: a capital first and a full stop last [text].

    Examples
    --------
    >>> sentence("it turns at 12.5 W")
    'It turns at 12.5 W.'
    """
    text = text.strip()
    if not text:
        return ""
    return text[0].upper() + text[1:] + ("" if text[-1] in ".!?" else ".")


def figure_text(value: float | None, unit: str, digits: int = 3) -> str:
    """Return a figure with its unit, shares in percent, ``-`` for none [text].

    Examples
    --------
    >>> figure_text(0.999, "fraction", 4), figure_text(None, "W")
    ('99.900 %', '-')
    """
    if value is None:
        return "-"
    if unit == "fraction":
        # 99.87 % must not be printed as the 99.9 % that it misses.
        return show(100 * value, "%", 5 if 0.99 < value < 1 else digits)
    if unit == "degC":
        return in_unit(value, "°C", 1)
    return show(value, unit, digits)


_GAP = re.compile(
    r"(?<=\d) (?=(?:%|W|Wh|kWh|V|A|Ah|mA|h|d|yr|°C|Ω|m|units?|modules?)(?:[ ,.;:)/]|$))"
    r"|(?<=NOT) (?=[A-Z])"
)


def held(text: str) -> str:
    r"""Return text in which no line ends between a number and its unit [text].

    Parameters
    ----------
    text
        Plain words [text].

    Examples
    --------
    >>> held("72 % of 18 Wh/day")
    '72\xa0% of 18\xa0Wh/day'
    """
    return _GAP.sub("\u00a0", text)
