"""Numbers, powers, currents and times as they stand in cells.

``max. 3.6 W (typ. 2.1 W)``, ``250 mA @ 24 V``, ``2 x 1.5 W``, ``<5 W``, ``by others``,
``10 min/h``.  A range counts at its high end; what a cell does not tell is named.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace
from functools import lru_cache, partial

from powerbudget.lists.heads import PERIOD_H, UNITS, spelt
from powerbudget.lists.words import (
    CONCEPTS,
    bare_letters,
    by_word,
    folded,
    mode_of,
    words_of,
)

LONGEST = 1000
"""Signs of a cell that are looked at for a figure: patterns of numbers take the square
of a row of digits to find nothing [count]."""
_PLAIN = re.compile(r"^[+-]?\d[\d.,' ]*(?:e[+-]?\d+)?$", re.IGNORECASE)
_GROUPED = re.compile(r"^[+-]?\d{1,3}(?:[.,' ]\d{3})+$")
WORDS: tuple[tuple[str, str], ...] = (
    (
        "included",
        r"\bincl|\bin item\b|\bpart of\b|enthalten|\bin pos|comprendid|contained in|\bw/ item",
    ),
    (
        "others",
        r"\bby others?\b|bauseits|por otros|by (?:package |skid )?"
        r"(?:vendor|supplier|contractor|client|owner)|not in scope|out of scope|"
        r"\bexcluded\b|fremdgewerk|separate supply|own supply|mains fed|\butility\b",
    ),
    (
        "self",
        r"self[- ]powered|battery[- ](?:powered|operated)|own battery|loop[- ]powered|"
        r"internal battery|batteriebetrieben|autoaliment|solar[- ]powered|own solar",
    ),
    ("negligible", r"negl|vernachl|despreciable|insignificant|nominal$|minimal$"),
    (
        "tbc",
        r"\btb[acd]\b|to be (?:confirmed|advised|determined|defined)|\?|\blater\b|see vendor|"
        r"\bunknown\b|offen$|por definir|por confirmar|\bask\b|see data ?sheet|noch zu|\bhold\b",
    ),
    (
        "none",
        r"^(?:n/?a\.?|n\.a\.?|none|-+|nil|not applicable|keine?|no aplica|passive?|"
        r"mechanical|no power)$",
    ),
)
"""What a cell says in place of a figure (common practice, no source)."""
_WORDS = tuple((name, re.compile(rule)) for name, rule in WORDS)


def others(text: str) -> bool:
    """Return whether a text says that others bring or feed something.

    Examples
    --------
    >>> others("Fed by others"), others("120 VAC utility"), others("24 VDC")
    (True, True, False)
    """
    return bool(dict(_WORDS)["others"].search(folded(text)))


_UNIT = r"(kW|mW|W|VA|kVA|B?HP|watts?|mA|uA|µA|A|amps?|VDC|VAC|VCC|V|Vdc|Vac|volts?|kWh|Wh|Ah)"
_ONE = re.compile(
    r"(?:(?P<times>\d{1,3})\s*[x×*]\s*)?(?P<sign>[<>~≈≤])?\s*"
    r"(?P<low>\d+(?:[.,]\d+)*)(?:\s*(?:-|–|to|\.\.+|…|bis|/)\s*(?P<high>\d+(?:[.,]\d+)*))?\s*"
    + _UNIT.replace("(", "(?P<unit>", 1)
    + r"(?![A-Za-z])",
    re.IGNORECASE,
)
_BARE_RANGE = re.compile(
    r"^\s*(\d+(?:[.,]\d+)*)\s*(?:-|–|to|bis|\.\.+|/)\s*(\d+(?:[.,]\d+)*)\s*$"
)
_TYPICAL = re.compile(
    r"\btyp|\bavg|\baverage|\bmean|\bnom|\brunning|\bidle|\bnormal|\bsteady|\bdauer"
)
_MAXIMUM = re.compile(r"\bmax|\bpeak|\bup to|\bspitze|\bpico|\bfull|\bbis zu|\bhasta")
_INRUSH = re.compile(r"inrush|surge|start|anlauf|einschalt|arranque|\bfor \d+ ?m?s\b")
_RATING = re.compile(
    r"\bfuse|\bbreaker|\bmcb\b|\brated contact|\bsicherung|\bfusible|\bcontact rating"
)


_PART = r"(\d{1,2})/(2|3|4|5|8|16)(?![\d./])"
_MIXED = re.compile(rf"(?<![\w./,-])(\d{{1,3}})(?: ?- ?| +){_PART}")
_COMMON = re.compile(
    rf"(?<![\w./,-])(){_PART}(?=\s*-?\s*(?:B?HP|horsepower|h|hrs?|hours?)\b)",
    re.IGNORECASE,
)
_ALONE_PART = re.compile(rf"^\s*(){_PART}\s*$")
_SIGN = re.compile(r"(\d{1,3})?\s?-?\s?([\u00bc-\u00be\u2153-\u215e])")
"""Signs of fractions, a quarter to seven eighths, behind whole ones."""
_IN_PARTS = frozenset({"HP", "h"})
"""Units of which people write common fractions (common practice, no source)."""


@lru_cache(maxsize=4096)
def in_decimals(text: str, unit: str = "") -> str:
    """Return a text with its common fractions as decimals [text].

    Of horsepower and hours "1/4" is a fraction; of watts it stands for two draws.

    Examples
    --------
    >>> in_decimals("1/4 HP"), in_decimals("1-1/2 kW"), in_decimals("\u00be", "HP")
    ('0.25 HP', '1.5 kW', '0.75')
    >>> in_decimals("8/2 W"), in_decimals("1/4 W"), in_decimals("3/4", "HP")
    ('8/2 W', '1/4 W', '0.75')
    """

    def part(match: re.Match[str]) -> str:
        above, below = int(match.group(2)), int(match.group(3))
        if above >= below:
            return match.group()
        return f"{int(match.group(1) or 0) + above / below:g}"

    def sign(match: re.Match[str]) -> str:
        return f"{int(match.group(1) or 0) + unicodedata.numeric(match.group(2)):g}"

    if "/" in text:
        text = _COMMON.sub(part, _MIXED.sub(part, text))
        text = _ALONE_PART.sub(part, text) if unit in _IN_PARTS else text
    return text if text.isascii() else _SIGN.sub(sign, text)


@dataclass(frozen=True)
class CellFigure:
    """What one cell says of a power; None where it does not say.

    Parameters
    ----------
    watts, amps
        Running power or current of the cell [W, A].
    top_watts, top_amps
        Highest power or current that lasts [W, A].
    volts
        Voltage that the cell itself states [V].
    inrush_watts, inrush_amps
        Start-up power or current [W, A].
    times
        Pieces that the cell itself multiplies by ("2 x 1.5 W") [count].
    word
        A key of `WORDS`, or ``approximate``, ``upper``, ``range``, ``va``, ``shaft``,
        ``several``; else empty.
    modes
        Modes that the cell names, each with its watts, or amperes where it states no
        watts; empty unless there are two.
    """

    watts: float | None = None
    amps: float | None = None
    top_watts: float | None = None
    top_amps: float | None = None
    volts: float | None = None
    inrush_watts: float | None = None
    inrush_amps: float | None = None
    times: int = 1
    word: str = ""
    modes: tuple[tuple[str, float], ...] = ()

    @property
    def empty(self) -> bool:
        """Whether the cell holds no power and no current."""
        return self.watts is None and self.amps is None


NO_FIGURE = CellFigure()


@lru_cache(maxsize=65536)
def number(text: str, *, comma: bool | None = None) -> float | None:
    """Return a number written any way, or None.

    Parameters
    ----------
    text
        ``3.5``, ``3,5``, ``1.850,00``, ``1,250`` [text].
    comma
        Whether the list writes decimal commas, None where it does not tell.

    Examples
    --------
    >>> number("1.850,00"), number("3,5"), number("1,250"), number("1,250", comma=True)
    (1850.0, 3.5, 1250.0, 1.25)
    """
    plain = text.strip().replace("−", "-")
    if not _PLAIN.match(plain):
        plain = in_decimals(plain[:LONGEST]).strip()
        comma = comma and plain == text.strip()
        if not _PLAIN.match(plain):
            return None
    plain = plain.replace("'", "").replace(" ", "")
    dot, mark = plain.rfind("."), plain.rfind(",")
    if dot >= 0 and mark >= 0:
        plain = (
            plain.replace(".", "").replace(",", ".")
            if mark > dot
            else plain.replace(",", "")
        )
    elif mark >= 0:
        thousands = (
            _GROUPED.match(plain)
            and not comma
            and not plain.lstrip("+-").startswith("0,")
        )
        plain = plain.replace(",", "" if thousands else ".")
    elif (
        dot >= 0
        and comma
        and _GROUPED.match(plain)
        and not plain.lstrip("+-").startswith("0.")
    ):
        plain = plain.replace(".", "")
    try:
        value = float(plain)
    except ValueError:
        return None
    return value if abs(value) < 1e15 else None


_PIECES_AT_FRONT = re.compile(r"\s*(?:qty\.?\s*)?(\d{1,4})\b(?:\s*\+\s*(\d{1,4})\b)?")
_SPELT_OUT = [
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
]
_PIECES = re.compile(
    r"^\s*(?:qty\.?\s*)?(\d{1,4})\s*(?:x|×|off|no\.?|nos\.?|pcs?\.?|pieces?|ea\.?|each|stk\.?|st\.?|uds?\.?|"
    r"units?|stuck|sets?|pts?|points?)?\s*$",
    re.IGNORECASE,
)


def pieces(cell: object, *, comma: bool | None = None) -> float | None:
    """Return the number of pieces that a cell states, None where it states none.

    Examples
    --------
    >>> pieces("2 off"), pieces(3.0), pieces("2024-03-02")
    (2.0, 3.0, None)
    """
    found = cell_number(cell, comma=comma)
    if found is not None or not isinstance(cell, str):
        return found
    match = _PIECES.match(cell)
    return float(match.group(1)) if match else None


def pieces_at_least(text: str) -> int:
    """Return the pieces that a text of more words begins with, 0 where it names none.

    Examples
    --------
    >>> pieces_at_least("2 (1 duty, 1 standby)"), pieces_at_least("2+1 spare")
    (2, 3)
    >>> pieces_at_least("two"), pieces_at_least("as required")
    (2, 0)
    """
    found = _PIECES_AT_FRONT.match(text)
    if found:
        return int(found.group(1)) + int(found.group(2) or 0)
    word = folded(text)
    return _SPELT_OUT.index(word) + 1 if word in _SPELT_OUT else 0


def cell_number(cell: object, *, comma: bool | None = None) -> float | None:
    """Return the number of a cell, None where it holds none."""
    if isinstance(cell, float):
        return cell if abs(cell) < 1e15 else None
    return number(cell, comma=comma) if isinstance(cell, str) else None


@lru_cache(maxsize=16384)
def figure(text: str, unit: str = "", *, comma: bool | None = None) -> CellFigure:
    """Return what a cell says of a power.

    Parameters
    ----------
    text, unit
        The cell, and the unit of its column where the cell has none [text].
    comma
        Whether the list writes decimal commas.

    Examples
    --------
    >>> f = figure("max. 3.6 W (typ. 2.1 W)"); f.watts, f.top_watts
    (2.1, 3.6)
    >>> f = figure("120 mA @ 24 V"); f.amps, f.volts
    (0.12, 24.0)
    >>> figure("by others").word, figure("2 x 1.5 W").watts, figure("250", "mA").amps
    ('others', 3.0, 0.25)
    """
    bare = number(text, comma=comma)
    if bare is not None:
        return _of(bare, unit)
    text = text[:LONGEST]
    decimals = in_decimals(text, unit)
    if decimals != text:
        return figure(decimals, unit, comma=comma and "," in decimals)
    found = list(_ONE.finditer(text))
    plain = folded(text)
    word = next((name for name, rule in _WORDS if rule.search(plain)), "")
    if not any(
        UNITS.get(spelt(m["unit"]), ("",))[0] in {"power", "current"} for m in found
    ):
        lone = re.fullmatch(
            r"\s*([<>~≈≤]|ca\.?|approx\.?)\s*(\d+(?:[.,]\d+)*)\s*", text
        )
        if lone and unit:
            value = number(lone.group(2), comma=comma)
            sign = "upper" if lone.group(1) in "<≤" else "approximate"
            return (
                _of(value, unit, sign) if value is not None else CellFigure(word=word)
            )
        bare_range = _BARE_RANGE.match(text)
        ends = bare_range.groups() if bare_range and unit and not word else ()
        values = [
            n for n in (number(end, comma=comma) for end in ends) if n is not None
        ]
        if values:
            # "8.5/2.1" are two draws, "5-8" is the range of one.
            several = "/" in text and len(set(values)) > 1
            return _of(max(values), unit, "several" if several else "range")
        return CellFigure(word=word, volts=_volts(found, comma))
    return _gather(text, found, comma, word)


def _of(value: float, unit: str, word: str = "") -> CellFigure:
    kind, factor = UNITS.get(unit, ("", 0.0))
    if kind == "power":
        word = word or _APPARENT.get(unit, "")
        return CellFigure(watts=value * factor, word=word)
    if kind == "current":
        return CellFigure(amps=value * factor, word=word)
    # Nothing is nothing in every unit.
    return CellFigure(word=word or "no unit") if value else CellFigure(watts=0.0)


def _volts(found: list[re.Match[str]], comma: bool | None) -> float | None:
    for match in found:
        if spelt(match["unit"]) == "V":
            return number(match["high"] or match["low"], comma=comma)
    return None


def _gather(
    text: str, found: list[re.Match[str]], comma: bool | None, word: str
) -> CellFigure:
    """Return the figure of a cell that holds several numbers with units."""
    values: dict[str, float] = {}
    modes: dict[str, dict[str, float]] = {"power": {}, "current": {}}
    volts, times = None, 1
    for k, match in enumerate(found):
        unit = spelt(match["unit"])
        kind, factor = UNITS.get(unit, ("", 0.0))
        low = number(match["low"], comma=comma)
        high = number(match["high"], comma=comma) if match["high"] else low
        if low is None or high is None:
            continue
        if kind == "volts":
            volts = volts or high
            continue
        if kind not in {"power", "current"} or (
            unit == "mA" and low in {0, 4} and high == 20
        ):
            continue
        around = folded(_segment(text, match))
        if _RATING.search(around):
            continue
        times = int(match["times"] or 1)
        value = high * factor * times
        word = word or _hedge(match, unit, spread=high != low)
        slot = (
            "inrush"
            if _INRUSH.search(around)
            else "max"
            if _MAXIMUM.search(around)
            else "typ"
        )
        before = values.get(f"{slot} {kind}")
        if before is not None and abs(before - value) > 0.02 * max(before, value):
            added = text[found[k - 1].end() : match.start()].strip() == "+"
            word = word if added else word or "several"
            value = before + value if added else max(before, value)
        values[f"{slot} {kind}"] = value
        mode = _mode(
            around, text[match.end() : found[k + 1].start() if found[k + 1 :] else None]
        )
        if mode and slot != "inrush":
            modes[kind][mode] = high * factor * times
    by_mode = next((m for m in modes.values() if len(m) > 1), {})
    return replace(_figure(values, volts, times, word), modes=tuple(by_mode.items()))


_IN_TAG = re.compile(r"[A-Za-z_]-?$")
"""What stands before a number of a tag: "XY-701A" is no 701 A."""


@lru_cache(maxsize=4096)
def draws_in(text: str, *, comma: bool | None = None) -> tuple[tuple[str, float], ...]:
    """Return the powers, currents and energies that a text names, each with its unit.

    Ratings of fuses, the range of a loop and numbers of tags are left out.

    Examples
    --------
    >>> draws_in("peak 30 W at 24 V (2 A fuse)"), draws_in("XY-701A 4-20 mA")
    ((('W', 30.0),), ())
    """
    found = []
    text = in_decimals(text[:LONGEST])
    for match in _ONE.finditer(text):
        unit = spelt(match["unit"])
        low = number(match["low"], comma=comma)
        high = number(match["high"] or match["low"], comma=comma)
        loop = unit == "mA" and high == 20
        in_tag = _IN_TAG.search(text[: match.start("low")])
        volts = UNITS[unit][0] == "volts"
        if volts or loop or in_tag or low is None or high is None:
            continue
        if not _RATING.search(folded(_segment(text, match))):
            found.append((unit, high * int(match["times"] or 1)))
    return tuple(found)


def _hedge(match: re.Match[str], unit: str, *, spread: bool) -> str:
    """Return the word for a figure that is a range, a bound, or an apparent power [text]."""
    if spread:
        return "range"
    if match["sign"]:
        return "approximate" if match["sign"] in "~≈" else "upper"
    return _APPARENT.get(unit, "")


_APPARENT = {"VA": "va", "kVA": "va", "HP": "shaft"}
"""Unit -> word for a figure that is not the power that a device draws."""


def _mode(around: str, after: str) -> str:
    """Return the mode that the words around a figure name, else those up to the next."""
    return mode_of(words_of(around)) or mode_of(words_of(after))


def _segment(text: str, match: re.Match[str]) -> str:
    """Return the words that belong to one number: up to the next slash or bracket."""
    before = re.split(r"[/;()]|,(?:\s|$)", text[: match.start()])[-1]
    after = re.split(r"[/;()]|,\s", text[match.end() :])[0]
    return f"{before} {after}"


def _figure(
    values: dict[str, float], volts: float | None, times: int, word: str
) -> CellFigure:
    watts, amps = values.get("typ power"), values.get("typ current")
    top_watts, top_amps = values.get("max power"), values.get("max current")
    if watts is None and amps is None:
        watts, amps = top_watts, top_amps
    return CellFigure(
        watts,
        amps,
        top_watts,
        top_amps,
        volts,
        values.get("inrush power"),
        values.get("inrush current"),
        times,
        word,
    )


_CLOCK = {"h": 1.0, "min": 1 / 60, "s": 1 / 3600, "ms": 1e-3 / 3600, "d": 24.0}
_CLOCK |= {period: PERIOD_H[period] for period in ("week", "month", "year")}
_TIME = (
    r"(h|hrs?|hours?|std|stunden?|horas?|min|mins|minutes?|minuten?|minutos?|s|secs?|seconds?|"
    r"sek|sekunden?|segundos?|ms|d|days?|tag|dias?|jour|weeks?|wk|woche|semana|"
    r"months?|monat|mes|years?|yr|jahr|ano|heures?|jours|ora|ore|giorno|uur|dag|semaine|mois|"
    r"cycle|zyklus|ciclo)"
)
_SHARE = re.compile(
    r"(?:(\d+)\s*[x×*]\s*)?(\d+(?:[.,]\d+)*)\s*"
    + _TIME
    + r"(?: [a-z]{3,})?\s*(?:/|per|pro|por|par|al|a|each|every|alle|cada|toutes les|ogni|in)"
    r"\s*(\d+(?:[.,]\d+)*)?\s*" + _TIME + r"\b"
)
_PERCENT = re.compile(r"(\d+(?:[.,]\d+)*)\s*(?:%|percent|prozent)")
_ALONE = re.compile(r"^(?:(\d+)\s*[x×*]\s*)?(\d+(?:[.,]\d+)*)\s*" + _TIME + r"\b")
_EVENTS = re.compile(
    r"(\d+(?:[.,]\d+)?)\s*(?:x|×|times|mal|fois|veces|"
    + "|".join(rf"{word.removesuffix('s')}s?" for word in CONCEPTS["cycles"].split())
    + r")\s*(?:/|per|pro|por|par|al|a|each|every|alle|cada|toutes les|ogni)\s*(\d+(?:[.,]\d+)*)?\s*"
    + _TIME
    + r"\b"
)
"""So many times in a period, as "6 strokes/day" or "2 x per hour"."""
_LASTING = re.compile(r"(\d+(?:[.,]\d+)*)\s*" + _TIME + r"\b")
_BY_CLOCK = re.compile(
    r"\b(\d{1,2}):(\d\d) ?(?:h|uhr)? ?(?:-|–|to|till|until|bis|a) ?(\d{1,2}):(\d\d)"
)
"""From one time of the clock to another."""
_ALWAYS = re.compile(
    r"\bcontinuous|\bcont\b\.?|24 ?/ ?7|\balways|permanent|dauer|continuo|\bcontinua|"
    r"durchgehend|\b24 ?h\b"
)
_SPELL = by_word(
    {
        "h": "hr hrs hour hours std stunde stunden hora horas heure heures ora ore uur",
        "min": "mins minute minutes minuten minuto minutos",
        "s": "sec secs second seconds sek sekunde sekunden segundo segundos",
        "d": "day days tag dia dias jour jours giorno dag",
        "week": "weeks wk woche semana semaine",
        "month": "months monat mes mois",
        "year": "years yr jahr ano",
    }
)


def _clock(unit: str) -> float | None:
    return _CLOCK.get(_SPELL.get(unit, unit))


_OF_TIME = re.compile(r"\d\s*(?:%|" + _TIME + r"\b)")


def _says_more(plain: str, match: re.Match[str]) -> bool:
    """Return whether a text states a further time or share outside of brackets."""
    rest = plain[: match.start()] + " " + plain[match.end() :]
    return bool(_OF_TIME.search(re.sub(r"\(.*?\)", " ", rest)))


def _of_events(
    events: re.Match[str], lasting: re.Match[str] | None, comma: bool | None
) -> float | None:
    """Return the share of so many times in a period, each of a stated length."""
    count, base, whole = events.groups()
    number_, of = number(count, comma=comma), number(base or "1", comma=comma)
    below = _clock(whole)
    if lasting is None or number_ is None or not of or below is None:
        return None
    each, above = number(lasting.group(1), comma=comma), _clock(lasting.group(2))
    if each is None or above is None:
        return None
    return number_ * each * above / (of * below)


@lru_cache(maxsize=8192)
def on_share(text: str, *, comma: bool | None = None, per: str = "day") -> float | None:
    """Return the share of time that a text states, or None.

    Parameters
    ----------
    text
        ``24 h/d``, ``10 min/h``, ``2 x 15 min/day``, ``5 %``, ``continuous`` [text].
    comma
        Whether the list writes decimal commas.
    per
        What a time without a reference belongs to: ``day`` or ``hour`` [text].

    Examples
    --------
    >>> on_share("6 h/d"), on_share("10 min/h") == 10 / 60, on_share("5 %")
    (0.25, True, 0.05)
    >>> on_share("15 min, 4 strokes/day"), on_share("30 %, 12 h/d")
    (0.041666666666666664, None)
    >>> on_share("06:00 - 18:00"), on_share("20:00 to 08:00")
    (0.5, 0.5)
    >>> round(on_share("30 min per month") * 730, 3), round(on_share("7 h/week"), 4)
    (0.5, 0.0417)
    """
    plain = bare_letters(in_decimals(text[:LONGEST]))
    clock = _BY_CLOCK.search(plain)
    if clock:
        begin, end = (int(clock[k]) + int(clock[k + 1]) / 60 for k in (1, 3))
        return None if _says_more(plain, clock) else ((end - begin) % 24 or 24) / 24
    events = _EVENTS.search(plain)
    if events:
        lasting = _LASTING.search(plain[: events.start()] + plain[events.end() :])
        return _of_events(events, lasting, comma)
    for rule, read in (
        (_SHARE, _of_period),
        (_PERCENT, _of_percent),
        (_ALONE, partial(_of_day, period_h=1.0 if per == "hour" else 24.0)),
    ):
        match = rule.search(plain)
        if match:
            return None if _says_more(plain, match) else read(match, comma)
    return 1.0 if _ALWAYS.search(plain) else None


def _of_period(match: re.Match[str], comma: bool | None) -> float | None:
    times, value, unit, base, whole = match.groups()
    above, below = _clock(unit), _clock(whole)
    amount = number(value, comma=comma)
    of = number(base, comma=comma) if base else 1.0
    if above is None or below is None or amount is None or not of:
        return None
    return int(times or 1) * amount * above / (of * below)


def _of_percent(match: re.Match[str], comma: bool | None) -> float | None:
    value = number(match.group(1), comma=comma)
    return value / 100 if value is not None else None


def _of_day(
    match: re.Match[str], comma: bool | None, *, period_h: float
) -> float | None:
    unit_h, amount = _clock(match.group(3)), number(match.group(2), comma=comma)
    if unit_h is None or amount is None:
        return None
    return int(match.group(1) or 1) * amount * unit_h / period_h
