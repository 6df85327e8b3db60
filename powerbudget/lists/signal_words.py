"""What people write for a signal, and which kind of input or output they mean.

Words come from public lists (common practice, no source).  ``2W`` and ``4W`` count
wires, not watts; ``NO`` names a contact, not a negation; a blank says nothing.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache

SIGNALS: dict[str, str] = {
    "ai": "analog input, 4-20 mA",
    "ai-hart": "analog input, 4-20 mA with a digital overlay",
    "ai-low-power": "analog input, 1-5 V from a low-power instrument",
    "ai-volt": "analog input, other voltage",
    "ao": "analog output",
    "di": "discrete input",
    "do": "discrete output, relay",
    "solenoid": "discrete output that drives a solenoid",
    "pulse": "pulse input",
    "rtd": "resistance thermometer",
    "thermocouple": "thermocouple",
    "serial": "point on a serial or network port",
    "fieldbus": "device on a fieldbus segment",
    "wireless": "short-range wireless field device",
}
"""Kind of signal -> what it is in words."""

UNUSED = {"none", "na", "n a", "unused", "not used", "0", "-", "keine", "aucun"}
UNKNOWN = {"", "~", "?", "??", "tbd", "tba", "unknown", "x"}

_RULES: tuple[tuple[str, str], ...] = (
    ("wireless", r"wireless|62591"),
    ("serial", (r"modbus|rs ?-?(?:232|422|485)|profibus|profinet|ethernet|\btcp\b|"
     r"\bserial\b|\bdnp\b|\bdnp3\b|soft point|\bcomm?s?\b|\b[ad][io]asi\b|"
        r"\bas ?i\b|\bmb\b")),
    ("fieldbus", r"fieldbus|\bff\b|\bh1\b|\bpa\b"),
    ("thermocouple", r"thermocouple|thermoelement|\bt/?c\b|\btype [jkt]\b"),
    ("rtd", r"\brtd\b|\bpt ?1000?\b|resistance therm|widerstandstherm"),
    ("pulse", r"pulse|impuls|frequency|\bpi\b|\bhsc\b|turbine"),
    ("solenoid", r"solenoid|\bsov\b|magnetventil"),
    ("ao", (r"\bao\b|analog(?:ue)? ?out(?:put)?|analogausgang|sortie analog|"
     r"salida anal|%qw")),
    ("ai-hart", r"hart\b"),
    ("ai-low-power", r"\b1 ?(?:-|to) ?5 ?v|low[ -]power"),
    ("ai-volt", r"\bai-volt\b|\b0 ?(?:-|to) ?(?:5|10) ?v|\b\+?-?10 ?v\b"),
    ("do", (r"\bdo\b|(?:digital|discrete) ?out(?:put)?|digitalausgang|relay|relais|"
     r"\bcoil\b|starter|sortie (?:tor|logique)|salida dig|%q\d|"
     r"\boutput bool\b|\bbool output\b")),
    ("di", (r"\bdi\b|(?:digital|discrete) ?in(?:put)?|digitaleingang|contact|kontakt|"
     r"\bn[co]\b|\bdry\b|\bpnp\b|\bnpn\b|\bprox\b|limit switch|switch|photoelectric|"
     r"entree (?:tor|logique)|entrada dig|%i\d|schliesser|offner|oeffner|"
     r"sourcing|sinking|\binput bool\b|\bbool input\b")),
    ("ai", (r"\bai\b|analog(?:ue)? ?in(?:put)?|analogeingang|entree analog|"
     r"entrada anal|\b4 ?(?:-|to|\.\.+) ?20 ?ma|\b4-20\b|%iw|\b[24] ?dmu\b|\bloop\b")),
)  # fmt: skip
_COMPILED = tuple((kind, re.compile(pattern)) for kind, pattern in _RULES)
_CLOSED = re.compile(
    r"\bnc\b|\bn/c\b|normally closed|closed|offner|oeffner|repos|geschlossen|ferme"
)
_OPEN = re.compile(
    r"\bno\b|\bn/o\b|normally open|open|schliesser|travail|offen|ouvert|abierto"
)
_ON = re.compile(r"de-?energi[sz]ed to (?:trip|act)|\bfail ?-?safe\b|"
                 r"\benergi[sz]ed|^on$|\bhold")  # fmt: skip
_OFF = re.compile(
    r"de-?energi[sz]ed$|\boff\b|energi[sz]ed? to (?:trip|act|open|close)|latch"
)
_CARD = re.compile(
    r"card|rack|system|controller|plc|rtu|loop powered|^loop$|internal|^int$|"
    r"\b2 ?-?w(?:ire)?s?\b|two wire|2 ?dmu|\bpassive\b|intern"
)
_FIELD = re.compile(
    r"field|extern|^ext$|self|separate|own supply|local|\b4 ?-?w(?:ire)?s?\b|"
    r"four wire|4 ?dmu|mains|\b\d{3} ?vac\b|\bvac\b|\bac\b|\bactive\b|solar"
)
YES = {
    "yes",
    "y",
    "true",
    "1",
    "x",
    "ja",
    "wahr",
    "oui",
    "vrai",
    "si",
    "verdadero",
    "sim",
}
NO = {"no", "n", "false", "0", "nein", "falsch", "non", "faux", "falso", "nao"}


@dataclass(frozen=True)
class Reading:
    """How a signal's text was understood.

    Parameters
    ----------
    kind
        A key of `SIGNALS`; ``"unused"``; empty where it is not known [text].
    powered
        ``"card"``, ``"field"``, or empty where the text does not say [text].
    normal
        ``"closed"``, ``"open"``, or empty [text].
    """

    kind: str
    powered: str = ""
    normal: str = ""


@lru_cache(maxsize=4096)
def folded(text: str) -> str:
    """Return text in small letters without accents or doubled blanks [text].

    Examples
    --------
    >>> folded("  4_to_20_mA  (Öffner) ")
    '4 to 20 ma offner'
    """
    text = (
        text.replace("ß", "ss").replace("–", "-").replace("—", "-").replace("…", "...")
    )
    plain = unicodedata.normalize("NFKD", text)
    plain = "".join(c for c in plain if not unicodedata.combining(c)).lower()
    return " ".join(re.sub(r"[_()\[\],;:]+", " ", plain).split())


@lru_cache(maxsize=4096)
def read_signal(text: str) -> Reading:
    """Return what a signal's text means.

    Parameters
    ----------
    text
        As written, an input-output column and a signal column joined [text].

    Returns
    -------
    Reading
        Kind, who powers it, and the normal state of a contact, as far as said.

    Examples
    --------
    >>> read_signal("4_to_20_mA_2DMU")
    Reading(kind='ai', powered='card', normal='')
    >>> read_signal("24VDC NC")
    Reading(kind='di', powered='', normal='closed')
    >>> read_signal("RTD PT100 3W").kind, read_signal("DIASI").kind
    ('rtd', 'serial')
    """
    plain = folded(text)
    if plain in UNKNOWN:
        return Reading("")
    if plain in UNUSED:
        return Reading("unused")
    kind = next((kind for kind, rule in _COMPILED if rule.search(plain)), "")
    powered = read_powered(text) if kind in {"ai", "ai-hart", "do", "solenoid"} else ""
    normal = ""
    if kind == "di":
        normal = _contact(plain)
    elif kind in {"do", "solenoid"}:
        normal = _output(plain)
    return Reading(kind, powered, normal)


def _contact(plain: str) -> str:
    if _CLOSED.search(plain):
        return "closed"
    return "open" if _OPEN.search(plain) else ""


def _output(plain: str) -> str:
    """Return 'closed' for an output that is energised in normal running."""
    if re.search(r"^de-?energi[sz]ed to (?:trip|act)", plain):
        return "closed"
    if _OFF.search(plain):
        return "open"
    return "closed" if _ON.search(plain) else ""


@lru_cache(maxsize=4096)
def read_normal(text: str, kind: str) -> str | None:
    """Return the normal state: ``closed``, ``open``, empty, or None if unreadable.

    Parameters
    ----------
    text
        As written in a column of normal states [text].
    kind
        The kind of signal, as in `SIGNALS` [text].

    Examples
    --------
    >>> read_normal("N.C.", "di"), read_normal("energised", "do")
    ('closed', 'closed')
    >>> read_normal("odd", "di") is None
    True
    """
    plain = folded(text).replace(".", "")
    if plain in UNKNOWN or plain in {"-", "na", "n/a", "none"}:
        return ""
    if kind in {"do", "solenoid"}:
        found = _output(plain) or _contact(plain)
    else:
        found = _contact(plain) or _output(plain)
    return found or None


@lru_cache(maxsize=4096)
def read_powered(text: str) -> str:
    """Return who powers a signal: ``card``, ``field``, or empty if not said.

    Examples
    --------
    >>> read_powered("4-wire"), read_powered("2W"), read_powered("24VDC")
    ('field', 'card', '')
    """
    plain = folded(text)
    if _FIELD.search(plain):
        return "field"
    return "card" if _CARD.search(plain) else ""
