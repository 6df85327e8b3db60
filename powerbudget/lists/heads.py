"""What the head of one column says: its field, its unit, and typical or maximum."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

from powerbudget.lists.signals import stated_kinds
from powerbudget.lists.words import concepts, folded, mode_of, words_of

UNITS: dict[str, tuple[str, float]] = {
    "W": ("power", 1.0), "mW": ("power", 1e-3), "kW": ("power", 1e3),
    "VA": ("power", 1.0), "A": ("current", 1.0), "mA": ("current", 1e-3),
    "uA": ("current", 1e-6), "µA": ("current", 1e-6), "V": ("volts", 1.0),
    "Wh": ("energy", 1.0), "kWh": ("energy", 1e3), "Ah": ("charge", 1.0),
    "mAh": ("charge", 1e-3), "h": ("time", 1.0), "min": ("time", 1 / 60),
    "s": ("time", 1 / 3600), "ms": ("time", 1e-3 / 3600), "d": ("time", 24.0),
    "%": ("share", 0.01),
}  # fmt: skip
"""Unit -> its quantity, and the factor to W, A, V, Wh, Ah, h or a fraction."""
_SPELT = {
    "w": "W", "watt": "W", "watts": "W", "mw": "mW", "kw": "kW", "va": "VA",
    "kva": "kVA", "a": "A", "amp": "A", "amps": "A", "ampere": "A", "ma": "mA",
    "milliamps": "mA", "ua": "uA", "v": "V", "vdc": "V", "vac": "V", "volt": "V",
    "volts": "V", "vcc": "V", "wh": "Wh", "kwh": "kWh", "ah": "Ah", "mah": "mAh",
    "h": "h", "hr": "h", "hrs": "h", "hour": "h", "hours": "h", "std": "h",
    "stunden": "h", "horas": "h", "min": "min", "mins": "min", "minutes": "min",
    "minuten": "min", "minutos": "min", "s": "s", "sec": "s", "secs": "s",
    "seconds": "s", "sek": "s", "sekunden": "s", "segundos": "s", "ms": "ms",
    "d": "d", "day": "d", "days": "d", "%": "%", "percent": "%", "prozent": "%",
}  # fmt: skip
_BRACKET = re.compile(r"[\[(]\s*([^\])]*?)\s*[\])]")
_VOLTS = re.compile(r"@?\s*(\d+(?:[.,]\d+)?)\s*V(?:DC|AC|CC)?\b", re.IGNORECASE)
_CURRENCY = re.compile(r"[$€£]|\b(?:usd|eur|gbp|chf|cad|aud|mxn|clp|brl|inr)\b", re.I)


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


Rule = Callable[[set[str], str, "Head"], str]


def _is(*wanted: str) -> Callable[[set[str]], bool]:
    return lambda s: bool(s & set(wanted))


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
    """
    text = " ".join(text.split())
    if not text or len(text) > 90:
        return Head(text=text)
    found = _VOLTS.search(text)
    words = words_of(_VOLTS.sub(" ", text) if found else text)
    said = concepts(words)
    if "tag" in words and said & {"hours", "energy"}:
        said = (said - {"tag"}) | {"day"}
    if _CURRENCY.search(text):
        said.add("price")
    unit = _unit(text, words, found is not None)
    head = Head(
        unit=unit,
        reading=_reading(said),
        share="total" if "total" in said else "each" if "each" in said else "",
        per=_per(words, said),
        mode=mode_of(words),
        volts=float(found.group(1).replace(",", ".")) if found else 0.0,
        text=text,
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
    if len(words) > 1 and words[-1] in {"h", "hour", "hr", "std", "hora", "stunde"}:
        return "hour"
    for period, spellings in _PERIODS.items():
        if spellings & set(words):
            return period
    return "day" if "day" in said else ""


_PERIODS = {
    "week": {"week", "weekly", "wk", "woche", "semana", "semanal"},
    "month": {"month", "monthly", "monat", "mes"},
    "year": {"year", "yearly", "yr", "jahr", "ano", "annual"},
}
PERIOD_H = {"hour": 1.0, "day": 24.0, "": 24.0, "week": 168.0, "month": 730.0, "year": 8760.0}
"""Hours of the period that a time belongs to; a time without one is of a day [h]."""


def _unit(text: str, words: list[str], volts: bool) -> str:
    for inside in _BRACKET.findall(text):
        first = re.split(r"[\s@/]+", inside.strip())[0] if inside.strip() else ""
        if spelt(first):
            return spelt(first)
    # "s/h" and "min/h": the first word is the unit, the second what it refers to.
    case = re.findall(r"[A-Za-zµ%]+", text)
    for word in case:
        if word in UNITS and word not in {"A", "V", "h", "s", "d"}:
            return word
    units = [spelt(word) for word in words if spelt(word)]
    powers = [u for u in units if UNITS[u][0] in {"power", "current", "energy"}]
    if powers:
        return powers[0]
    if units:
        # "Day hours" and "h/day" are hours; the day says what they belong to.
        return next((unit for unit in units if unit != "d"), "d")
    return "V" if volts and not powers else ""


_COUNT_EXTRA = {
    "modbus": "serial", "serial": "serial", "pi": "pulse", "pulse": "pulse",
    "pulses": "pulse", "rtd": "rtd", "tc": "tc", "t/c": "tc",
    "ethernet": "serial", "rs485": "serial", "fieldbus": "serial", "comm": "serial",
    "comms": "serial", "hsc": "pulse", "bus": "serial",
}  # fmt: skip
_COUNT_WORDS = {
    "qty", "count", "no", "of", "points", "pts", "nos", "number", "signals", "channels",
    "cant", "anzahl", "4", "20", "ma", "24", "24v", "vdc", "quantity", "total", "cantidad",
}  # fmt: skip


def _counted(text: str, words: list[str]) -> str:
    """Return the kind of signal that a column of counts would hold."""
    rest = [w for w in words if w not in _COUNT_WORDS]
    if len(rest) == 1 and rest[0] in _COUNT_EXTRA:
        return _COUNT_EXTRA[rest[0]]
    kinds = stated_kinds(text)
    if len(kinds) != 1 or len(rest) > 2 or "type" in words:
        return ""
    return next(iter(kinds))


def _field(words: list[str], said: set[str], head: Head) -> str:
    """Return the field of a head from its concepts and unit, most telling first."""
    for rule in _RULES:
        found = rule(said, words, head)
        if found:
            return found
    return ""


def _quantities(said: set[str], _: list[str], head: Head) -> str:
    kind = UNITS[head.unit][0] if head.unit else ""
    if "inrush" in said and (kind in {"power", "current", ""}):
        return "inrush"
    if "efficiency" in said:
        return "efficiency"
    if "loss" in said and "energy" not in said and kind not in {"energy"}:
        return "loss"
    if kind in {"energy", "charge"} or ("energy" in said and kind != "power"):
        return "energy"
    if "factor" in said and "duty" not in said:
        return "other" if said & {"power"} or len(words_without_factor(_)) == 0 else "diversity"
    if "diversity" in said:
        return "diversity"
    if "contingency" in said:
        return "contingency"
    return ""


def words_without_factor(words: list[str]) -> list[str]:
    """Return the words of a head that say which factor it is."""
    return [w for w in words if "factor" not in concepts([w])]


def _times(said: set[str], words: list[str], head: Head) -> str:
    kind = UNITS[head.unit][0] if head.unit else ""
    if "duty" in said or (kind == "share" and said & {"time", "on", "cycles"}):
        return "duty"
    if "cycles" in said and head.per != "cycle" and kind not in {"power", "current"}:
        return "cycles"
    clock = said & {"hours", "minutes", "seconds", "time"}
    if clock and kind in {"time", ""} and not said & {"energy", "date"}:
        only = said & {"day", "time", "on", "minutes", "seconds", "cycles", "hours"}
        if head.per in {"hour", "cycle"} or only:
            return "hours"
    if head.per == "hour" and kind == "time":
        return "hours"
    return ""


def _watts(said: set[str], words: list[str], head: Head) -> str:
    kind = UNITS[head.unit][0] if head.unit else ""
    if kind == "power":
        return "power"
    if kind == "current" and not said & {"tag", "text"}:
        return "current"
    if "current" in said and not said & {"state", "status", "signal"}:
        return "current"
    if "volt" in said and not said & {"power", "signal", "io"}:
        return "volts"
    if "power" in said:
        if said & {"supply", "protocol"} or "loop" in words:
            return "supply" if "watt" not in said else "power"
        if said & {"each", "total", "maximum", "typical", "watt"} or len(words) > 1:
            return "power"
        return "power?"
    return ""


def _points(said: set[str], words: list[str], _: Head) -> str:
    if said & {"io"}:
        return "io_type" if len(words) < 5 else ""
    if "spare" in said:
        return "spare"
    if "scope" in said:
        return "scope"
    if "norm" in said and said & {"state", "contact"} or "contact" in said:
        return "normal"
    if "norm" in said and len(words) == 1:
        return "normal"
    if "supply" in said:
        return "supply"
    if "signal" in said:
        return "signal"
    if "direction" in said:
        return "direction"
    if "protocol" in said:
        return "protocol"
    if "address" in said:
        return "address"
    return ""


def _names(said: set[str], words: list[str], head: Head) -> str:
    if said & {"place", "document", "maker", "date", "range"} and not said & {"tag"}:
        return "other"
    if "tag" in said and "text" in said and "description" not in words[-1]:
        return "tag" if words[-1] not in {"desc", "descr", "description"} else "text"
    if "tag" in said and said & {"text"}:
        return "text"
    if "tag" in said and "type" not in said:
        return "tag"
    if "quantity" in said and not said & {"text"}:
        return "quantity"
    if "network" in said:
        return "port"
    if "node" in said:
        return "node"
    if "remark" in said:
        return "remark"
    if "detail" in said:
        return "detail"
    if "text" in said:
        return "text"
    return ""


def _loose(said: set[str], words: list[str], _: Head) -> str:
    if "type" in said and not said & {"device"}:
        return "type"
    if said & {"state", "status"}:
        return "status"
    if "item" in said and "device" not in said:
        return "item"
    if "device" in said:
        return "name"
    if "number" in said:
        return "item"
    if "group" in said:
        return "group"
    if "percent" in said and len(words) < 3:
        return "share"
    if said & {"on"} and len(words) == 1:
        return ""
    return ""


def _aside(said: set[str], words: list[str], __: Head) -> str:
    if "old" in said:
        return "old"
    if words == ["s", "n"]:
        return "item"
    if said & {"gone", "future"} and len(words) < 3:
        return "gone" if "gone" in said else "future"
    return "price" if "price" in said else ""


_RULES = (_aside, _quantities, _times, _watts, _points, _names, _loose)


def is_unit_cell(text: str) -> bool:
    """Return whether a cell holds a unit and nothing else.

    Examples
    --------
    >>> is_unit_cell("mA"), is_unit_cell("s/h"), is_unit_cell("[Wh/day]")
    (True, True, True)
    >>> is_unit_cell("mA loop")
    False
    """
    parts = re.split(r"[/@\s]+", folded(text).strip("[]()"))
    return bool(parts) and all(
        spelt(p) or p in {"pcs", "day", "tag", "d", "dia", "no", "-", "stk", "st", "ea"}
        or re.fullmatch(r"\d+v?(?:dc)?", p) for p in parts
    ) and any(spelt(p) for p in parts)  # fmt: skip
