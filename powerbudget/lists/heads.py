"""What the head of one column says: its field, its unit, and typical or maximum."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import NamedTuple

from powerbudget.lists.signals import stated_kinds
from powerbudget.lists.words import (
    by_word,
    concepts,
    folded,
    known,
    mode_of,
    word_set,
    words_of,
)

UNITS: dict[str, tuple[str, float]] = {
    "W": ("power", 1.0),
    "mW": ("power", 1e-3),
    "kW": ("power", 1e3),
    "VA": ("power", 1.0),
    "kVA": ("power", 1e3),
    "HP": ("power", 745.7),
    "A": ("current", 1.0),
    "mA": ("current", 1e-3),
    "uA": ("current", 1e-6),
    "µA": ("current", 1e-6),
    "V": ("volts", 1.0),
    "Wh": ("energy", 1.0),
    "kWh": ("energy", 1e3),
    "Ah": ("charge", 1.0),
    "mAh": ("charge", 1e-3),
    "h": ("time", 1.0),
    "min": ("time", 1 / 60),
    "s": ("time", 1 / 3600),
    "ms": ("time", 1e-3 / 3600),
    "d": ("time", 24.0),
    "%": ("share", 0.01),
}
"""Unit -> its quantity, and the factor to W, A, V, Wh, Ah, h or a fraction."""
_SPELT = by_word(
    {
        "W": "w watt watts",
        "mW": "mw",
        "kW": "kw",
        "VA": "va",
        "kVA": "kva",
        "HP": "hp bhp",
        "A": "a amp amps ampere",
        "mA": "ma milliamps",
        "uA": "ua",
        "V": "v vdc vac volt volts vcc",
        "Wh": "wh",
        "kWh": "kwh",
        "Ah": "ah",
        "mAh": "mah",
        "h": "h hr hrs hour hours std stunden horas",
        "min": "min mins minutes minuten minutos",
        "s": "s sec secs seconds sek sekunden segundos",
        "ms": "ms",
        "d": "d day days tage dias jours giorni betriebstage",
        "%": "% percent prozent",
    }
)
_SPELT_HOURS = re.compile(
    r"\b(amp(?:ere)?s?|watts?)[- .]?(?:hours?|hrs?|h)\b", re.IGNORECASE
)
_PER_START = re.compile(r"\bper (?:start|operation|event)\b", re.IGNORECASE)
_PULL_IN = re.compile(r"\bpull[- ]in\b", re.IGNORECASE)
_AT_SHAFT = re.compile(r"\b[BbeS]kW\b")
"""Kilowatts at the brake or the shaft, written as one word."""
_BRACKET = re.compile(r"[\[(]\s*([^\])]*?)\s*[\])]")
_PLURAL = re.compile(
    r"\b(signal|point|type|tag|unit|load|device|input|output)\(s\)", re.IGNORECASE
)
_VOLTS = re.compile(r"@?\s*(\d+(?:[.,]\d+)?)\s*V(?:DC|AC|CC)?\b", re.IGNORECASE)
_CURRENCY = re.compile(
    r"[$€£]|\b(?:usd|eur|gbp|chf|cad|aud|mxn|clp|brl|inr)\b", re.IGNORECASE
)


@dataclass(frozen=True)
class Head:
    """What one head means.

    Parameters
    ----------
    field
        Meaning of the column, empty where the words do not tell [text].
    unit
        Unit as in `UNITS`, empty without one [text].
    reading
        ``typical``, ``maximum``, or empty [text].
    share
        ``each``, ``total``, or empty: of one piece or of the whole row [text].
    per
        ``hour``, ``day``, ``week``, ``month``, ``year``, ``cycle``, or empty: what a time or
        count refers to [text].
    mode
        Mode of operation, empty without one [text].
    volts
        Voltage that the head states for a current, 0 without one [V].
    text
        The head as written [text].
    """

    field: str = ""
    unit: str = ""
    reading: str = ""
    share: str = ""
    per: str = ""
    mode: str = ""
    volts: float = 0.0
    text: str = ""


def spelt(unit: str) -> str:
    """Return a unit as in `UNITS`, empty where it is none [text].

    Examples
    --------
    >>> spelt("mA"), spelt("WATTS"), spelt("VDC"), spelt("pcs")
    ('mA', 'W', 'V', '')
    """
    unit = unit.strip().rstrip(".")
    return unit if unit in UNITS else _SPELT.get(unit.lower(), "")


@lru_cache(maxsize=8192)
def read_head(text: str) -> Head:
    """Return what a head means.

    Examples
    --------
    >>> h = read_head("Typ. mA"); h.field, h.unit, h.reading
    ('current', 'mA', 'typical')
    >>> read_head("TagNumber").field, read_head("PwrSrc").field
    ('tag', 'supply')
    >>> h = read_head("Stunden/Tag"); h.field, h.per
    ('hours', 'day')
    >>> read_head("Hours per day [h]").per, read_head("Run time [h]").per
    ('day', '')
    >>> read_head("On time min/h").per, read_head("starts per hour").per
    ('hour', 'hour')
    """
    written = " ".join(_PLURAL.sub(r"\1s", text).split())
    if not written or len(written) > 90:
        return Head(text=written)
    text = _SPELT_HOURS.sub(lambda m: f"{m.group(1)[0]}h", written)
    text = _PULL_IN.sub("pullin", text)
    text = _AT_SHAFT.sub("kW", text)
    found = _VOLTS.search(text)
    words = words_of(_VOLTS.sub(" ", text) if found else text)
    said = concepts(words)
    if "tag" in words and said & {"hours", "energy", "minutes", "seconds"}:
        said = (said - {"tag"}) | {"day"}
    if _CURRENCY.search(text):
        said.add("price")
    if said & {"time", "minutes", "seconds"} and _PER_START.search(text):
        said = (said - {"inrush"}) | {"cycles"}
    unit = _unit(text, words, found is not None)
    head = Head(
        unit=unit,
        reading=_reading(said),
        share="total" if "total" in said else "each" if "each" in said else "",
        per=_per(words, said),
        mode=mode_of(words),
        volts=float(found.group(1).replace(",", ".")) if found else 0.0,
        text=written,
    )
    counted = _counted(text, words)
    if counted:
        return replace(head, field=f"count:{counted}")
    return replace(head, field=_field(words, said, head))


def _reading(said: set[str]) -> str:
    if "maximum" in said:
        return "maximum"
    return "typical" if "typical" in said else ""


def _per(words: list[str], said: set[str]) -> str:
    if said & {"cycles"} and said & {"time", "on", "minutes", "seconds"}:
        return "cycle"
    if len(words) > 1 and words[-1] in _HOUR and _refers(words[-2]):
        return "hour"
    for period, spellings in _PERIODS.items():
        if spellings & set(words):
            return period
    return "day" if "day" in said else ""


_HOUR = {"h", "hour", "hr", "std", "hora", "stunde"}


def _refers(word: str) -> bool:
    """Return whether the hour after a word is what a time or count refers to.

    "min/h" and "starts per hour" are of an hour; "Time on [h]" and "Hours per day [h]"
    only state their unit.
    """
    if word in {"per", "pro", "por", "je", "each"} or word.isdigit():
        return True
    return bool(concepts([word]) & {"cycles", "minutes", "seconds"} or word == "ms")


_PERIODS = {
    "week": {"week", "weekly", "wk", "woche", "semana", "semanal", "semaine"},
    "month": {"month", "monthly", "monat", "mes"},
    "year": {"year", "yearly", "yr", "jahr", "ano", "annual"},
}
PERIOD_H = {
    "hour": 1.0,
    "day": 24.0,
    "": 24.0,
    "week": 168.0,
    "month": 730.0,
    "year": 8760.0,
}
"""Hours of the period that a time belongs to; a time without one is of a day [h]."""
SHORT_UNITS = frozenset({"min", "s", "ms"})
"""Units of times of which nobody knows what they are of, unless it is said."""


def _unit(text: str, words: list[str], volts: bool) -> str:
    for inside in _BRACKET.findall(text):
        first: str = re.split(r"[\s@/]+", inside.strip())[0] if inside.strip() else ""
        if spelt(first):
            return spelt(first)
    # "s/h" and "min/h": the first word is the unit, the second what it refers to.
    case: list[str] = re.findall(r"[A-Za-zµ%]+", text)
    for word in case:
        if word in UNITS and word not in {"A", "V", "h", "s", "d"}:
            return word
    # "Site A" and "Tank D" hold no amperes and no days.
    sure = words[-1:] not in (["a"], ["d"]) or any(map(known, words[:-1]))
    sure = sure or words in (["dc", "a"], ["ac", "a"])
    named = words if sure or len(words) < 2 else words[:-1]
    units = [spelt(word) for word in named if spelt(word)]
    powers = [u for u in units if UNITS[u][0] in {"power", "current", "energy"}]
    if powers:
        return powers[0]
    if units:
        # "Day hours" and "h/day" are hours; the day says what they belong to.
        return next((unit for unit in units if unit != "d"), "d")
    return "V" if volts and not powers else ""


PORT = re.compile(r"(?:RS|EIA|TIA)[- ]?(?:232|422|485)", re.IGNORECASE)
"""Standards of serial ports, which look like tags."""
_COUNT_EXTRA = by_word(
    {
        "serial": "modbus serial ethernet rs485 fieldbus comm comms bus",
        "pulse": "pi pulse pulses hsc",
        "rtd": "rtd",
        "tc": "tc t/c",
    }
)
_COUNT_WORDS = word_set(
    "qty count no of points pts nos number signals channels cant anzahl 4 20 ma 24 24v "
    "vdc quantity total cantidad"
)


def _counted(text: str, words: list[str]) -> str:
    """Return the kind of signal that a column of counts would hold."""
    outside = words_of(_VOLTS.sub(" ", _BRACKET.sub(" ", text)))
    rest = [w for w in outside or words if w not in _COUNT_WORDS]
    if PORT.fullmatch(text.strip()):
        return "serial"
    if len(rest) == 1 and rest[0] in _COUNT_EXTRA:
        return _COUNT_EXTRA[rest[0]]
    kinds = stated_kinds(text)
    if len(kinds) != 1 or len(rest) > 2 or "type" in words:
        return ""
    return next(iter(kinds))


class HeadRule(NamedTuple):
    """When a head means a field: concepts that it has or lacks, its unit, its length.

    Parameters
    ----------
    field
        What it means then [text].
    has, every, without
        Any of these concepts, all of these, none of these; parted by blanks [text].
    units
        Quantities of its unit, ``-`` for none; empty for any [text].
    most, least
        Number of words, 0 for any [count].
    per
        What it refers to; empty for any [text].
    """

    field: str
    has: str = ""
    every: str = ""
    without: str = ""
    units: str = ""
    most: int = 0
    least: int = 0
    per: str = ""

    def holds(self, said: set[str], words: list[str], quantity: str, per: str) -> bool:
        """Return whether a head with these concepts, words and unit means the field."""
        return (
            (not self.has or not said.isdisjoint(self.has.split()))
            and said.issuperset(self.every.split())
            and said.isdisjoint(self.without.split())
            and (not self.units or (quantity or "-") in self.units.split())
            and (not self.most or len(words) <= self.most)
            and len(words) >= self.least
            and (not self.per or per == self.per)
        )


# The first rule that holds decides: what is aside, figures, signals, names.
_RULES: tuple[HeadRule, ...] = (
    HeadRule("old", has="old"),
    HeadRule("gone", has="gone", most=2),
    HeadRule("future", has="future", most=2),
    HeadRule("price", has="price"),
    HeadRule("other", has="fuse"),
    HeadRule("inrush", has="inrush", units="power current -"),
    HeadRule("efficiency", has="efficiency"),
    HeadRule(
        "loss", has="loss", without="energy", units="power current share - time volts"
    ),
    HeadRule("energy", units="energy charge"),
    HeadRule("energy", has="energy", units="current share volts time -"),
    # A power factor is no share of time; other factors are asked, never applied.
    HeadRule("diversity", has="factor", without="duty"),
    HeadRule("diversity", has="diversity"),
    HeadRule("contingency", has="contingency"),
    # "Qty (duty)" beside "Qty (standby)" are pieces.
    HeadRule("quantity", every="quantity duty", without="factor time", units="-"),
    HeadRule("hours", has="duty", units="time"),
    HeadRule("duty", has="duty"),
    HeadRule("duty", has="time on cycles", units="share"),
    HeadRule(
        "cycles",
        has="cycles",
        without="on time minutes seconds",
        units="time share volts -",
    ),
    HeadRule("interval", has="interval", without="energy power", units="time"),
    HeadRule(
        "days", has="day", without="hours energy on time", units="time", per="week"
    ),
    HeadRule("other", has="heat", units="- time"),
    HeadRule(
        "hours", has="hours minutes seconds time", without="energy date", units="time -"
    ),
    HeadRule("hours", units="time", per="hour"),
    HeadRule("power", units="power"),
    HeadRule("current", units="current", without="tag text"),
    HeadRule("current", has="current", without="state status signal"),
    HeadRule("volts", has="volt", without="power signal io"),
    HeadRule("supply", has="supply protocol", every="power", without="watt"),
    HeadRule("name", every="power text", units="-"),
    HeadRule("power", has="watt", every="power"),
    HeadRule("power?", has="power", least=2, units="-"),
    HeadRule("power", has="power", least=2),
    HeadRule("power", every="power watt"),
    HeadRule("power?", has="power"),
    HeadRule("io_type", has="io", most=4),
    # Where a valve goes when it fails is no state of normal running.
    HeadRule("fail", has="fail", without="tag text signal io number", units="-"),
    HeadRule("spare", has="spare"),
    HeadRule("scope", has="scope"),
    HeadRule("normal", has="contact", without="signal"),
    HeadRule("normal", every="norm state"),
    HeadRule("normal", has="norm", most=1),
    HeadRule("supply", has="supply"),
    HeadRule("signal", has="signal"),
    HeadRule("direction", has="direction"),
    HeadRule("protocol", has="protocol"),
    HeadRule("address", has="address"),
    HeadRule("other", has="place document maker date range", without="tag"),
    HeadRule("tag", has="tag", without="type"),
    HeadRule("other", has="on quantity", every="state", most=2),
    HeadRule("quantity", has="quantity", without="text"),
    HeadRule("port", has="network"),
    HeadRule("node", has="node"),
    HeadRule("remark", has="remark"),
    HeadRule("detail", has="detail"),
    HeadRule("text", has="text"),
    HeadRule("type", has="type", without="device"),
    HeadRule("status", has="state status"),
    HeadRule("item", has="item", without="device"),
    HeadRule("quantity", every="device number", least=3),
    HeadRule("tag", every="device number"),
    HeadRule("name", has="device"),
    HeadRule("item", has="number"),
    HeadRule("group", has="group"),
    HeadRule("share", has="percent", most=2),
)


_COSINE = word_set("pf power cosphi cosfi cos phi")
_PIECES = {"number", "device", "range", "quantity"}
"""What "No. of units" is made of."""


_TAGS = word_set("tag tags tagname")
_SHORT_SERIAL = word_set("s sl sr")


_BUS = word_set("ip slave modbus server node profibus nodo knoten esclavo")
_ID = word_set("id address addr adr adresse direccion no nr number nummer")
"""Words of the address of a device on a bus; registers are told apart by their cells."""


def _numbered(words: list[str], said: set[str], unit: str) -> bool:
    """Return whether a head numbers its rows: "S.No", "Load No", but not "No. of loads"."""
    if (
        len(words) == 2
        and words[0] in _SHORT_SERIAL
        and "number" in concepts(words[1:])
    ):
        return True
    return {"number", "power"} <= said and not unit and "of" not in words


ENERGIZED = word_set("energized energised energizado energizada erregt excite excitee")
"""Words of a head under which yes and no say whether an output is on."""


def _field(words: list[str], said: set[str], head: Head) -> str:
    """Return the field of a head from its concepts and unit, most telling first."""
    quantity = UNITS[head.unit][0] if head.unit else ""
    own = {
        "from": words in (["from"], ["von"], ["desde"]),
        "to": words in (["to"], ["nach"], ["hasta"]),
        "node": bool(_BUS & set(words)) and (len(words) == 1 or bool(_ID & set(words))),
        "hours": words == ["t", "h"],
        "current": "i" in words and quantity == "current",
        "item": words == ["s", "n"] or _numbered(words, said, head.unit),
        "quantity": words in (["nos"], ["q", "ta"], ["q", "ty"])
        or words in (["typical", "of"], ["typ", "of"])
        or ("of" in words and said and said <= _PIECES),
        "normal": {"no", "nc"} <= set(words)
        or bool(ENERGIZED & set(words) and not quantity),
        "pf": words == ["p", "f"]
        or (
            "factor" in said <= {"power", "factor", "percent"}
            and bool(_COSINE & set(words))
        ),
        "text": {"tag", "text"} <= said and words[-1].startswith("desc"),
        "tag": bool(_TAGS & set(words) and said & {"signal", "io"})
        and not said & {"type", "text"},
        "supply": "loop" in words and "power" in said and "watt" not in said,
        "other": words == ["r", "w"]
        or (
            ("factor" in said <= {"power", "factor"})
            and not {"load", "demand"} & set(words)
        ),
    }
    special = (name for name, holds in own.items() if holds)
    found = (r.field for r in _RULES if r.holds(said, words, quantity, head.per))
    return next(special, "") or next(found, "")


def is_unit_cell(text: str) -> bool:
    """Return whether a cell holds a unit and nothing else.

    Examples
    --------
    >>> is_unit_cell("mA"), is_unit_cell("s/h"), is_unit_cell("[Wh/day]")
    (True, True, True)
    >>> is_unit_cell("mA loop")
    False
    """
    parts = re.split(r"[/@\s]+", folded(text).strip("[]()."))
    return (
        bool(parts)
        and all(
            spelt(p)
            or p in {"pcs", "day", "tag", "d", "dia", "no", "-", "stk", "st", "ea"}
            or re.fullmatch(r"\d+v?(?:dc)?", p)
            for p in parts
        )
        and any(spelt(p) for p in parts)
    )
