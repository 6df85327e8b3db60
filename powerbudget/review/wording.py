"""What a claim's words say, held against the figure that was typed from them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from powerbudget.errors import Fault
from powerbudget.limits import CLAIM_ROUNDING_FRAC, CLAIM_ROUNDING_K
from powerbudget.quantities import QuantityError, parse
from powerbudget.review.claim_fields import PERIODS_H, Use, read_use
from powerbudget.review.claim_tables import UNITS

DAYS_PER_YEAR = 365.25
ROUNDING_DEGF_K = 0.3
"""A whole degree Fahrenheit, written in Celsius, is rounded by up to this [K]."""
NOMINAL_V = (6.0, 12.0, 24.0, 36.0, 48.0)
"""Names of voltage classes: a 12 V battery is no claim of 12 V."""
SPELLED = {
    "watt": "W", "kilowatt": "kW", "amp": "A", "ampere": "A", "volt": "V",
    "hour": "h", "hr": "h", "day": "d", "week": "week", "year": "year", "yr": "year",
    "month": "month", "percent": "%", "watt-hour": "Wh", "kilowatt-hour": "kWh",
    "amp-hour": "Ah", "ampere-hour": "Ah", "c": "degC", "f": "degF",
    "°c": "degC", "°f": "degF",
}  # fmt: skip
"""Unit as people write it -> unit as it is read."""
WORDS = (
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve",
)  # fmt: skip
NUMBERS = {word: k for k, word in enumerate(WORDS, 1)}
DAILY = ("energy", "yield")
TIMES = {"d": ("h", "d", "week"), "h": ("h",), "year": ("year", "month")}
"""Times that mean the same kind of thing: an autonomy is no warranty of years."""
_COUNT = r"\b(?:" + "|".join(WORDS) + r")\b"
_FIGURE = re.compile(
    # Not inside a part number, a date, a range or another number.
    r"(?<![\w./:,])(?<!\w[-–−])(?P<first>[-+−]?\d[\d,]*(?:\.\d+)?|" + _COUNT + r")"
    r"(?:\s*(?:-|–|to|or|and)\s*(?P<last>[-+−]?\d[\d,]*(?:\.\d+)?))?"
    r"\s*-?(?P<sun>(?:peak\s+)?sun\s+)?"
    r"(?P<unit>%|°?[A-Za-z]+(?:-[Hh]ours?)?)(?![\w-]*\d)"
    r"(?:\s*(?:/|\bper\b|\ban?\b)\s*(?P<per>d|day|month|year|yr|y|kwh|h)\b)?",
    re.IGNORECASE,
)
_USES = re.compile(r"(?<![\w.])[\d.,]+\s*[A-Za-z³]+\d?\s*(?:/|\bper\b)\s*[A-Za-z]+")
_TIMES_BEFORE = re.compile(
    # "2 x", "two 12 V", "six panels of", "two blocks in parallel of".
    r"(\d+|"
    + _COUNT
    + r")(?:\s*[x×*])?(?:\s+\d+\s*V)?(?:(?:\s+[a-z]+){1,3}\s+of)?\s*$",
    re.IGNORECASE,
)
_TOLERANCE = re.compile(r"(?:\+/-|±)\s*[\d.]+")
_THOUSANDS = re.compile(r"(?<![\d.,])(\d{1,3}) (?=\d{3}(?!\d))")
_AT_VOLTS = re.compile(r"(?:\bat|@)\s*(\d+(?:\.\d+)?)\s*V\b")
TIMES_VOLTS = {"W": "A", "Wh": "Ah"}
"""What volts beside it make of a figure."""
_ITSELF = re.compile(
    r"\b(?:any|every|each)\s+(?:\w+\s+)?(?:outage|disconnect|failure|discharge|flat)"
    r"|\bby\s+(?:itself|themselves)\b|\bautomatic|\b(?:without|no)\s+(?:an?\s+|any\s+)?"
    r"(?:site\s+)?visit",
    re.IGNORECASE,
)


def needs_no_visit(claim: Any) -> bool:
    """Return whether a claim's words promise that nobody has to come [true or false].

    Examples
    --------
    >>> from types import SimpleNamespace as Words
    >>> [needs_no_visit(Words(says=text)) for text in
    ...  ("back within a week after any outage", "back in 7 days", None)]
    [True, False, False]
    """
    return bool(_ITSELF.search(claim.says or ""))


def wording_faults(claim: Any) -> tuple[Fault, ...]:
    """Return what a claim's words say against its figure.

    Parameters
    ----------
    claim
        A claim; without words nothing is compared.

    Returns
    -------
    tuple of Fault
        One where the words name figures of the claim's own kind, none of which is the
        claimed one or a condition of it; both figures are given.
    """
    faults: tuple[Fault, ...] = ()
    plain = _TOLERANCE.sub("", claim.says or "")
    # "2 100 Ah" may be two of 100, or 2,100.
    for says in dict.fromkeys((plain, _THOUSANDS.sub(r"\1", plain))):
        faults = _faults(claim, says)
        if not faults:
            return ()
    return faults


def _faults(claim: Any, says: str) -> tuple[Fault, ...]:
    """Return what words of one reading say against the figure."""
    if isinstance(getattr(claim, "claimed", None), Use):
        return _use_faults(claim, says)
    figure = _stated(claim)
    if figure is None:
        return ()
    target, claimed = figure
    stated = set(_conditions(claim, target))
    others = []
    for low, high, slack, many, written in _figures(claim, says, target):
        # Two 100 Ah blocks may be meant as 200 Ah, or as the 100 Ah of one.
        if any(n * (low - slack) <= claimed <= n * (high + slack) for n in {1, many}):
            return ()
        if any(low - slack <= value <= high + slack for value in stated):
            continue
        others.append(written)
    if not others:
        return ()
    daily = "/day" if claim.kind in DAILY and target in {"Wh", "Ah"} else ""
    said = " and ".join(dict.fromkeys(others))
    return (_fault(said, f"{claimed:.6g} {target}{daily}"),)


def _fault(said: str, claimed: str) -> Fault:
    return Fault(
        "says", f"names {said}, but the stated value is {claimed}", said, claimed,
        "read the document again and make wording and value agree",
    )  # fmt: skip


def _stated(claim: Any) -> tuple[str, float] | None:
    """Return unit and figure of what is claimed; shares in percent, sums of a day."""
    unit, value = claim.stated() or ("", 0.0)
    return None if not unit else _plain(unit, value)


def _plain(unit: str, value: float) -> tuple[str, float]:
    """Return a figure in the unit that words have for it."""
    if unit == "fraction":
        return "%", 100 * value
    return unit.removesuffix("s"), value


def _conditions(claim: Any, target: str) -> Iterator[float]:
    """Yield the further figures of a claim that its words may well repeat."""
    for name in type(claim).model_fields:
        value = getattr(claim, name)
        if name.startswith("claimed") or value is None:
            continue
        if isinstance(value, tuple) and len(value) == 2 and value[0] == target:
            yield float(value[1])
        unit = UNITS.get(name.rpartition("_")[2])
        if not isinstance(value, float) or unit is None:
            continue
        unit, value = _plain(unit, value)
        if unit == target:
            yield value
        elif (unit, target) == ("h", "d"):
            yield value / 24


def _figures(
    claim: Any, says: str, target: str
) -> Iterator[tuple[float, float, float, int, str]]:
    """Yield lowest and highest value, rounding, count and words of each figure."""
    for match in _FIGURE.finditer(says):
        ends = [_read(match, group, target, claim.kind) for group in ("first", "last")]
        if ends[0] is None or (target == "V" and ends[0] in NOMINAL_V):
            continue
        many = _many(match) if target in {"W", "Ah", "Wh", "A"} else 1
        first = ends[0]
        last = first if ends[1] is None else ends[1]
        low, high = min(first, last), max(first, last)
        slack = 0.0 if claim.kind == "availability" else CLAIM_ROUNDING_FRAC * abs(high)
        if target == "degC":
            unit = match["unit"].lower()
            slack = ROUNDING_DEGF_K if "f" in unit else CLAIM_ROUNDING_K
        yield low, high, slack + 1e-9, many, match[0].strip()


def _read(match: re.Match[str], group: str, target: str, kind: str) -> float | None:
    """Return a figure in a unit, None where it measures something else."""
    text = match[group]
    if text is None:
        return None
    number = NUMBERS.get(text.lower(), text.replace(",", "").replace("−", "-"))
    word = match["unit"]
    unit = SPELLED.get(word.lower().removesuffix("s") or word, word)
    if bool(match["sun"]) != (kind == "sun") and (match["sun"] or unit != "h"):
        return None
    if "%" in {target, unit} or (target in TIMES and unit not in TIMES[target]):
        return float(number) if target == unit else None
    if target == "year":
        return float(number) / (12 if unit == "month" else 1)
    value = _measured(f"{number} {unit}", target, match.string)
    if value is None:
        return None
    period = (match["per"] or "day").lower()
    daily = kind in DAILY and target in {"Wh", "Ah"}
    return value * 24 / PERIODS_H.get(period, 24.0) if daily else value


def _measured(figure: str, target: str, says: str) -> float | None:
    """Return a figure in a unit, amperes at volts of the words as watts."""
    try:
        return parse(figure, target)
    except QuantityError:
        volts = _AT_VOLTS.search(says)
        if volts is None or target not in TIMES_VOLTS:
            return None
    try:
        return parse(figure, TIMES_VOLTS[target]) * float(volts[1])
    except QuantityError:
        return None


def _many(match: re.Match[str]) -> int:
    """Return how many of a figure the words count: two 100 Ah blocks are 200 Ah."""
    before = _TIMES_BEFORE.search(match.string[: match.start()])
    if before is None:
        return 1
    word = before[1].lower()
    return NUMBERS.get(word) or int(word) or 1


def _use_faults(claim: Any, says: str) -> tuple[Fault, ...]:
    """Compare fuel uses, which have a unit over another."""
    own, others = claim.claimed, []
    for match in _USES.finditer(says):
        try:
            said = read_use(match[0])
        except QuantityError:
            continue
        if said.unit != own.unit or bool(said.kwh) != bool(own.kwh):
            continue
        base = (said.kwh or said.hours), (own.kwh or own.hours)
        rates = said.amount / base[0], own.amount / base[1]
        if abs(rates[0] - rates[1]) <= CLAIM_ROUNDING_FRAC * rates[1]:
            return ()
        others.append(match[0].strip())
    return (_fault(" and ".join(others), own.written),) if others else ()
