"""What people write for a signal, and which kind of input or output they mean.

What is stated ("DI", "analog input", "salida digital") decides; what is only implied
("dry contact", "solenoid", "Pt100") decides where nothing is stated, and refines
otherwise.  Words come from public lists (common practice, no source).  ``2W`` and
``4W`` count wires, not watts; ``NO`` names a contact, not a negation.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

from powerbudget.lists.words import by_word, folded, word_set

KINDS = ("ai", "ao", "di", "do", "rtd", "tc", "pulse", "serial")
"""Kinds of point that are counted."""
_TOKENS = by_word(
    {
        "ai": "ai ain a/i aih hai sai fai",
        "ao": "ao aout a/o aoh",
        "di": "di din d/i bi sdi fdi dis spi",
        "do": "do dout d/o bo sdo fdo ro dor dos spo",
        "pulse": "pi hsc fi ci pin",
        "rtd": "rtd rtdi",
        "tc": "tc t/c tci thermocouple",
    }
)
# German Analog-/Digital-/Binaer-Eingang, -Ausgang; Spanish and French entrada, salida
_LOCAL = by_word(
    {
        "ai": "ae ea eana",
        "ao": "aa sa sana",
        "di": "de be ed etor et",
        "do": "da ba sd stor st",
    }
)
_ANALOG = r"(?:analog(?:ue|ic[aoi]s?|iche|ique|e)?|analoog|ana)"
_DIGITAL = (
    r"(?:digital(?:es|e|i)?|digita(?:is|al)|discrete|discret[ao]s?|binary|binar(?:e|er)?|bool(?:ean)?|tor|"
    r"logique|numerique)"
)
_PULSE = r"(?:pulses?|impuls(?:e|eingang)?|pulsos?|frequency|frecuencia|impulsions?)"
_IN = r"(?:in|inputs?|eingang|eingange|eing|entradas?|entrees?|ingress[oi]|ingang|inp)"
_OUT = r"(?:out|outputs?|ausgang|ausgange|ausg|salidas?|saidas?|uscit[ae]|uitgang|sorties?)"
_PHRASES: tuple[tuple[str, re.Pattern[str]], ...] = tuple(
    (kind, re.compile(rf"\b{a}[- ]?{b}\b|\b{b}[- ](?:de )?{a}\b"))
    for kind, a, b in (
        ("ai", _ANALOG, _IN),
        ("ao", _ANALOG, _OUT),
        ("di", _DIGITAL, _IN),
        ("do", _DIGITAL, _OUT),
        ("pulse", _PULSE, _IN),
        ("do", _PULSE, _OUT),
        ("do", "relay", _OUT),
        ("do", "relais", _OUT),
        ("do", "rele", _OUT),
        ("di", "contact", _IN),
        ("di", "status", _IN),
        ("rtd", "rtd", _IN),
        ("tc", "thermocouple", _IN),
        ("di", "switch", _IN),
        ("pulse", "counter", _IN),
        ("ai", "current", _IN),
        ("ao", "current", _OUT),
        ("ai", "hart", _IN),
        ("ai", "voltage", _IN),
        ("ao", "voltage", _OUT),
        ("rtd", "temperature", _IN),
    )
)
_JOINED = re.compile(
    r"\b(analog|digital|binar)(eingang|eingange|ausgang|ausgange|eing|ausg)\b"
)
_SERIAL = re.compile(
    r"\bmodbus\b|\brs ?-?(?:232|422|485)\b|profibus|profinet|\bethernet\b|\btcp\b|"
    r"\bserial\b|\bseriell\b|\bserie\b|\bdnp3?\b|\bcomm?s?\b|\b[ad][io]asi\b|\bas-?i\b|"
    r"\bmb\b|fieldbus|feldbus|\bff\b|\bh1\b|\bbacnet\b|\bcan(?:open| ?bus)?\b|ethernet/?ip|"
    r"\bmodbus[- ]?(?:rtu|tcp)\b|\bbus\b|\bsoft ?link\b|\bopc\b|\biec ?-?6\d+|\busb\b|"
    r"\bsdi-?12\b|\bwireless(?:hart)?\b|\bisa ?100\b|\blan\b|\bport\b"
)
_TO = r" ?(?:v(?:dc)? ?)?(?:-|to|\.\.+|bis|a) ?\+?"
VOLT_RANGE = (
    rf"(?<![\d.])(?:[0-2](?:[. ]\d+)?{_TO}\d{{1,3}}(?:[. ]\d+)?|"
    rf"[3-8](?:[. ]\d+)?{_TO}(?:\d|10)(?:[. ]\d+)?|\d{{1,3}} ?(?:mv)?{_TO}\d{{1,3}} ?m)"
    r" ?v(?:dc|cc)?\b"
)
"""A range of an analog signal in a folded text; one from 3 V or more to more than 10 V is
that of a supply (common practice, no source)."""
_IMPLIED: tuple[tuple[str, re.Pattern[str]], ...] = (
    (
        "tc",
        re.compile(r"thermocouple|thermoelement|termopar|\bt/?c\b|\btype [jktnes]\b"),
    ),
    (
        "rtd",
        re.compile(
            r"\brtd\b|\bpt ?-?1000?\b|resistance therm|widerstandstherm|\bni ?1000?\b"
        ),
    ),
    (
        "pulse",
        re.compile(
            r"\bpuls|impuls|frequenc|frecuenc|\bhsc\b|\bhz\b|quadrature|turbine pick"
        ),
    ),
    (
        "do",
        re.compile(
            r"solenoid|\bsov\b|magnetventil|electrovalv|\bcoil\b|starter|\brelay\b|"
            r"\brelais\b|\brele\b|\blamp\b|\bhorn\b|\bbeacon\b|siren|contactor"
        ),
    ),
    (
        "analog",
        re.compile(
            r"\b0?4 ?(?:-|to|\.\.+|bis|a|/) ?20 ?(?:ma)?\b|\bhart\b|\b[24] ?dmu\b|"
            r"\b0 ?(?:-|to|\.\.+|bis) ?20 ?ma|" + VOLT_RANGE + "|"
            r"\b0 ?(?:to|\.\.+|bis|-)? ?[-+\u00b1] ?\d{1,2} ?v|(?:\u00b1|\+/?-) ?\d{1,2} ?v|"
            r"-\d{1,2} ?(?:to|\.\.+|bis) ?\+?\d{1,2} ?v|"
            r"\bloop powered\b|\banalog|\bsmart\b|\breal\b|\bfloat\b|\bmv\b|current loop"
        ),
    ),
    (
        "di",
        re.compile(
            r"\bcontact|\bkontakt|\bcontacto|\bn[co]\b|\bn/[co]\b|\bdry\b|\bpnp\b|\bnpn\b|"
            r"\bprox|limit switch|\bswitch\b|photoelectric|schliesser|offner|"
            r"\b(?:sourc|sink)ing\b(?!.*\bout)|"
            r"volt(?:age)?[- ]free|"
            r"potentialfrei|\bnamur\b|push ?button|libre de potencial|"
            r"livre de potencial|pulito"
        ),
    ),
    (
        "discrete",
        re.compile(
            r"\bdigital|\bdiscrete|\bbinar|\bbool|\b24 ?v ?(?:dc|cc|d)?\b|"
            r"on ?/ ?off|\blogic"
        ),
    ),
)
_ALL_TOKEN = "|".join(sorted(map(re.escape, _TOKENS), key=len, reverse=True))
_NOS = r"(?:off|nos|pcs|pieces|stk)"
_TOKEN = re.compile(
    rf"(?:(?<![\w.])(\d{{1,3}})\s*(?:x|×|no\.?|off|nos)?\s*|\b)({_ALL_TOKEN})"
    rf"(?:(?![-_ #]?\d{{1,3}}\s*(?:{_NOS}\b|(?:x|×|{_NOS})?\s*(?:{_ALL_TOKEN})\b))"
    r"[-_ #]?\d{1,4})?s?(?![\w])"
    rf"(?:\s*(?:x|×)\s*(\d{{1,3}})\b|\s*(\d{{1,3}})\s*{_NOS}\b)?"
)
"""A kind with how many of it, before or after; other digits number its channel."""
UNUSED = word_set(
    "none na n/a n_a unused not_used - -- --- keine kein aucun ninguno ninguna nil "
    "no_signal not_applicable local no_electrical mechanical n.a. n.a sans "
    "entfallt_nicht nicht_zutreffend"
)
UNKNOWN = {"", "~", "?", "??", "tbd", "tba", "tbc", "unknown", "later", "tdb"}
_INTERNAL = re.compile(
    r"\bs/w\b|\bsoft(?:ware)?\b(?! ?start)|\binternal\b|\bintern(?:o|e|a)?\b|\bvirtual\b|"
    r"\bmemory\b|\bnot wired\b|\bprogram only\b|\bhmi\b|\bcalculated\b|\bmerker\b|\bmemoria\b|"
    r"\btimer\b|\bcounter value\b|\bsetpoint only\b|\bscada only\b|\bsoft ?point\b"
)


_WIRED = re.compile(
    r"\bh/w\b|\bhard ?-?wired?\b|\bverdrahtet\b|\bcablead[ao]\b|\bi/?o\b"
)


def comes_by(text: str) -> str:
    """Return how a point reaches the controller: wired, bus, internal, or empty [text].

    Examples
    --------
    >>> comes_by("Hardwired"), comes_by("Modbus"), comes_by("Calculated"), comes_by("24 VDC")
    ('wired', 'bus', 'internal', '')
    """
    plain = folded(text)
    if _INTERNAL.search(plain):
        return "internal"
    if _SERIAL.search(plain):
        return "bus"
    return "wired" if _WIRED.search(plain) else ""


@dataclass(frozen=True)
class Reading:
    """How the text of a signal was understood.

    Parameters
    ----------
    kinds
        Kind of point to how many the text names [count].
    stated
        True where the text states the kind, False where it only implies it.
    hint
        ``analog``, ``discrete``, ``in``, ``out``, or empty: half of the answer [text].
    unused, internal, unknown
        No electrical signal; a point of the program; nothing told.
    """

    kinds: tuple[tuple[str, int], ...] = ()
    stated: bool = False
    hint: str = ""
    unused: bool = False
    internal: bool = False
    unknown: bool = False


NOTHING = Reading(unknown=True)


def stated_kinds(text: str) -> dict[str, int]:
    """Return the kinds of point that a text states, with how many of each.

    Examples
    --------
    >>> stated_kinds("AI 4-20mA"), stated_kinds("2xDI + 1 DO"), stated_kinds("Void")
    ({'ai': 1}, {'di': 2, 'do': 1}, {})
    >>> stated_kinds("1 DO, 2 DI"), stated_kinds("AI (2 off)"), stated_kinds("AI 2")
    ({'do': 1, 'di': 2}, {'ai': 2}, {'ai': 1})
    >>> stated_kinds("Salida digital"), stated_kinds("Digitaleingang")
    ({'do': 1}, {'di': 1})
    """
    return dict(_stated(folded(text)))


@lru_cache(maxsize=16384)
def _stated(plain: str) -> tuple[tuple[str, int], ...]:
    found: dict[str, int] = {}
    for before, token, times, off in _TOKEN.findall(plain):
        kind = _TOKENS[token]
        found[kind] = found.get(kind, 0) + int(before or times or off or 1)
    if not found:
        joined = _JOINED.search(plain)
        if joined:
            first = "a" if joined.group(1) == "analog" else "d"
            kind = first + ("i" if joined.group(2).startswith("ein") else "o")
            return ((kind, 1),)
        for kind, phrase in _PHRASES:
            if phrase.search(plain):
                return ((kind, 1),)
        local = _local(plain)
        if local:
            return ((local, 1),)
    elif set(found) & {"rtd", "tc"} and "ai" in found and sum(found.values()) == 2:
        # "RTD AI" is one point said twice, not two.
        found.pop("ai")
    return tuple(found.items())


def _local(plain: str) -> str:
    """Return the kind of an abbreviation that stands alone or before its signal [text].

    "AE 4-20 mA" and "BA 24 V" begin with one; "de 4 a 20 mA" has "de" as a word.
    """
    first, _, rest = plain.partition(" ")
    kind = _LOCAL.get(first, "")
    if not kind or not rest:
        return kind
    found = _implied(rest)
    seen = {found.hint, *dict(found.kinds)}
    return kind if seen & (_OF_ANALOG if kind[0] == "a" else _OF_DISCRETE) else ""


_OF_ANALOG, _OF_DISCRETE = {"analog", "rtd", "tc"}, {"discrete", "di", "do"}


@lru_cache(maxsize=16384)
def read_signal(text: str) -> Reading:
    """Return what the text of a type or signal cell means.

    Examples
    --------
    >>> read_signal("24 V DO").kinds, read_signal("dry contact").kinds
    ((('do', 1),), (('di', 1),))
    >>> read_signal("4-20 mA").hint, read_signal("Hardwired").kinds
    ('analog', ())
    """
    plain = folded(text)
    if plain in UNKNOWN:
        return NOTHING
    if plain in UNUSED:
        return Reading(unused=True)
    serial = _SERIAL.search(plain)
    if _INTERNAL.search(plain):
        # "Soft, RS-485" is a device on a bus, whose points are not wired.
        bus = serial and "soft" in plain
        return (
            Reading((("serial", 1),), stated=True, hint="bus")
            if bus
            else Reading(internal=True)
        )
    kinds = _stated(plain)
    if serial and kinds and not re.search(r"\bhart\b", plain):
        # "AI" beside "Modbus TCP" is a point on a bus, not a channel of a card.
        return Reading((("serial", 1),), stated=True, hint="bus")
    if kinds or serial:
        return Reading(kinds or (("serial", 1),), stated=True)
    return _implied(plain)


_AWAY = {"from", "von", "desde", "du"}
_TOWARD = re.compile(
    r"\b(to|into|from|zur?|von|a|al|hacia|desde|vers|du) (?:the |der |dem |la |el |le )?"
    r"(?:plc|rtu|dcs|sps|scada|controller|control system|steuerung|automate)\b"
)
_BY_WAY = {"analog": ("ai", "ao"), "discrete": ("di", "do"), "di": ("di", "do")}
"""Which way a signal goes: "24VDC from PLC" is an output of the controller."""


def _implied(plain: str) -> Reading:
    """Return what a text without a stated kind implies, or the half that it tells."""
    toward = _TOWARD.search(plain)
    goes = ("out" if toward.group(1) in _AWAY else "in") if toward else ""
    out = goes == "out" or bool(re.search(rf"\b{_OUT}\b", plain))
    way = "out" if out else "in" if goes or re.search(rf"\b{_IN}\b", plain) else ""
    for kind, pattern in _IMPLIED:
        if not pattern.search(plain) or (
            kind == "do" and re.search(r"contact|kontakt", plain)
        ):
            continue
        if kind == "analog" and (
            out or re.search(r"positioner|stellungsregler|\bto valve", plain)
        ):
            return Reading((("ao", 1),), hint="analog")
        if goes and kind in _BY_WAY:
            return Reading(((_BY_WAY[kind][goes == "out"], 1),))
        if kind == "discrete" and (out or way == "in"):
            return Reading(((_BY_WAY[kind][out], 1),), hint=kind)
        if kind in {"analog", "discrete"}:
            return Reading(hint=kind)
        return Reading((("do" if kind == "pulse" and out else kind, 1),))
    return Reading(hint=way)


_TWO = re.compile(
    r"\b2 ?-?w(?:ires?)?\b|\btwo[- ]wire|2 ?dmu|zweileiter|2 ?-?leiter|"
    r"\b(?:2|dos) hilos|loop[- ]?powered|"
    r"\bpassive?\b|deux fils|\b2 fils\b"
)
_FOUR = re.compile(
    r"\b[34] ?-?w(?:ires?)?\b|\bfour[- ]wire|4 ?dmu|vierleiter|4 ?-?leiter|\b(?:4|cuatro) hilos|"
    r"\bactive\b|self[- ]powered|extern|separate|own supply|\b4 fils\b|"
    r"quatre fils|three[- ]wire"
)
_AC = re.compile(
    r"\b\d{2,3} ?v ?ac\b|\bvac\b|\bac\b|\bmains\b|\b(?:110|115|120|220|230|240) ?v\b"
)


@lru_cache(maxsize=8192)
def read_supply(text: str) -> str:
    """Return ``two-wire``, ``four-wire``, ``ac``, or empty [text].

    Examples
    --------
    >>> read_supply("4-wire"), read_supply("Zweileiter"), read_supply("24 VDC")
    ('four-wire', 'two-wire', '')
    """
    plain = folded(text)
    if _AC.search(plain):
        return "ac"
    if _TWO.search(plain):
        return "two-wire"
    return "four-wire" if _FOUR.search(plain) else ""


_BY_CARD = re.compile(
    r"\bcards?\b|\brack\b|\bsystem\b|\bcontroller\b|\bplc\b|\brtu\b|^loop$|\bintern(?:al)?\b"
)
_BY_FIELD = re.compile(
    r"\bfield\b|^ext$|\bself\b|\blocal\b|\bsolar\b|feldseitig|\bcampo\b|\bterrain\b"
)


@lru_cache(maxsize=4096)
def read_feed(text: str) -> str:
    """Return who feeds a device by a cell of a supply column, as `read_supply` does [text].

    Examples
    --------
    >>> read_feed("card"), read_feed("by field"), read_feed("24 VDC")
    ('two-wire', 'four-wire', '')
    """
    found = read_supply(text)
    if found:
        return found
    plain = folded(text)
    if _BY_FIELD.search(plain):
        return "four-wire"
    return "two-wire" if _BY_CARD.search(plain) else ""


_OFF = re.compile(
    r"\bde-?energi[sz]ed\b|\bn\.?d\.?e?\b|\boff\b|\bnormally off\b|desenergizad|stromlos|"
    r"abgefallen|\bentregt|hors tension|\bout\b|desexcit[ae]|diseccitat"
)
_PULSED = re.compile(r"\bpulsed?\b|impulsweise|\bmomentary|\bpulso|\btastend|\blatch")
_ON = re.compile(
    r"(?<!de-)(?<!de)\benergi[sz]ed\b|\bn\.?e\b|\bnormally on\b|^on$|\bcontinuous(?:ly)?\b|"
    r"(?<!des)energizad|angezogen|erregt|bestromt|sous tension|\bexcit[ae]|\beccitat|\bhold\b"
)
_CLOSED = re.compile(
    r"\bn\.?c\b|\bn/c\b|normally closed|\bclosed\b|\bn\.?f\b|offner|geschlossen|cerrad|ferme"
)
_OPEN = re.compile(
    r"\bn\.?o\b|\bn/o\b|normally open|\bopen\b|schliesser|offen|abiert|ouvert"
)


_ENDS = (
    r"(?:open(?:s|ed)?|clos(?:e[ds]?|ing)|last|lock(?:ed)?|in place|as is|indeterminate|"
    r"abiert[ao]|abert[ao]|apert[ao]|abre|cerrad[ao]|fechad[ao]|chius[ao]|cierra|zu|auf|"
    r"geschlossen|offen|geoffnet|fermee?|ouverte?)"
)
_FAILS_TO = re.compile(
    r"\b(?:fail(?:s|ed|ing|ure|[- ]?safe)?|safe|fault|falla|fallo|ausfall|repli|loss)\b"
    r"(?:[- :]+(?:safe|position|state|mode|action|to|en|a|auf|in))*[- :]*"
    + _ENDS
    + r"\b|"
    r"\b" + _ENDS + r" (?:on|at|upon|bei|en|in case of|with|sur) (?:\w+ )?"
    r"(?:fail\w*|loss|ausfall|falla|fallo|falta|perte|manque)\b|"
    r"\b" + _ENDS + r" (?:when|if|while) de-?energi[sz]ed\b|"
    r"\b" + _ENDS + r" (?:hors|sin|senza|sem) tensi?on[e]?\b|"
    r"\bstromlos[- ]" + _ENDS + r"\b|\bf[- /.]?[ocl]\b"
)
"""Where a device goes when its power or signal fails (common practice, no source)."""


@lru_cache(maxsize=8192)
def fails_to(text: str) -> str:
    """Return ``closed`` or ``open`` where a text says that a device fails so [text].

    Such a position is no state of normal running.

    Examples
    --------
    >>> fails_to("FC"), fails_to("fail open"), fails_to("closed on air failure")
    ('closed', 'open', 'closed')
    >>> fails_to("normally closed"), read_state("fail closed"), read_state("NC, fail safe")
    ('', '', 'closed')
    """
    found = _FAILS_TO.search(folded(text))
    if not found:
        return ""
    said = found.group(0)
    if re.search(r"f[- /.]?c$|clos|cerr|fech|chius|cierra|\bzu\b|geschl|ferme", said):
        return "closed"
    if re.search(
        r"f[- /.]?o$|open|ab[ir]?er|apert|abre|\bauf$|off?en|geoff|ouvert", said
    ):
        return "open"
    return "last"


def without_failure(text: str) -> str:
    """Return a folded text without what it says of a failure [text]."""
    return _FAILS_TO.sub(" ", folded(text))


_TO_ACT = re.compile(
    r"\b(de-?)?energi[sz]e[d]? to (?:trip|act|open|close|start|stop|shut|alarm)"
)


@lru_cache(maxsize=16384)
def read_state(text: str) -> str:
    """Return ``on``, ``off``, ``pulsed``, ``closed``, ``open``, or empty [text].

    Examples
    --------
    >>> read_state("normally de-energised"), read_state("NE"), read_state("N.C.")
    ('off', 'on', 'closed')
    >>> read_state("energise to trip"), read_state("de-energise to trip")
    ('off', 'on')
    """
    plain = folded(text)
    to_act = _TO_ACT.search(plain)
    if to_act:
        # What is de-energized to act is energized while all is well.
        return "on" if to_act.group(1) else "off"
    plain = without_failure(text)
    for name, pattern in (
        ("off", _OFF),
        ("pulsed", _PULSED),
        ("on", _ON),
        ("closed", _CLOSED),
        ("open", _OPEN),
    ):
        if pattern.search(plain):
            return name
    return ""


_OF_CONTACT = re.compile(
    r"(?:^|[,;(\s])(?:N[./]?([CO])\.?|(?i:normally (open|closed)))(?i: contacts?| switch)?"
    r"\s*(?=$|[,;)])"
)


@lru_cache(maxsize=8192)
def contact_state(text: str) -> str:
    """Return ``closed`` or ``open`` where words of a contact end in NC or NO, else empty.

    "No" is a negation, "NC/NO" leaves both.

    Examples
    --------
    >>> contact_state("Dry contact, NC"), contact_state("N.O."), contact_state("No alarm")
    ('closed', 'open', '')
    >>> contact_state("NC/NO"), contact_state("dry contact (normally open)")
    ('', 'open')
    """
    found = {(a or b[0]).upper() for a, b in _OF_CONTACT.findall(text)}
    return {"C": "closed", "O": "open"}[found.pop()] if len(found) == 1 else ""


_ADDRESS: tuple[tuple[re.Pattern[str], str], ...] = (
    (
        re.compile(
            r"^%?M[BWDX]?\s?\d|^%M|^B\d+:|^[NTCFLRS]\d+:|^DB\d|^%?[TC]\d+$",
            re.IGNORECASE,
        ),
        "internal",
    ),
    (re.compile(r"^%I[WD]\s?\d|^P?[IE]W\s?\d", re.IGNORECASE), "ai"),
    (re.compile(r"^%Q[WD]\s?\d|^P?[QA]W\s?\d", re.IGNORECASE), "ao"),
    (re.compile(r"^%IX?\s?\d+[./]|^[IE]\s?\d+\.\d", re.IGNORECASE), "di"),
    (re.compile(r"^%QX?\s?\d+[./]|^[QA]\s?\d+\.\d", re.IGNORECASE), "do"),
    (re.compile(r"^AI[-_ ]?\d+(?:[.:/]\d+)?$", re.IGNORECASE), "ai"),
    (re.compile(r"^AO[-_ ]?\d+(?:[.:/]\d+)?$", re.IGNORECASE), "ao"),
    (re.compile(r"^D?I[-_ ]?\d+(?:[.:/]\d+)?$|^BI[-_ ]?\d+$", re.IGNORECASE), "di"),
    (re.compile(r"^D?O[-_ ]?\d+(?:[.:/]\d+)?$|^BO[-_ ]?\d+$", re.IGNORECASE), "do"),
    (re.compile(r"^I:\d+(?:\.\d+)?/\d+$", re.IGNORECASE), "di"),
    (re.compile(r"^O:\d+(?:\.\d+)?/\d+$", re.IGNORECASE), "do"),
    (re.compile(r"^I:\d+[.:]\d+$", re.IGNORECASE), "ai"),
    (re.compile(r"^O:\d+[.:]\d+$", re.IGNORECASE), "ao"),
)


@lru_cache(maxsize=65536)
def read_address(text: str) -> str:
    """Return the kind of point that an address is of, ``internal``, or empty [text].

    Examples
    --------
    >>> read_address("%IW64"), read_address("O:2/3"), read_address("N7:10")
    ('ai', 'do', 'internal')
    """
    plain = text.strip()
    return next((kind for rule, kind in _ADDRESS if rule.match(plain)), "")


_IN_TAG = re.compile(
    r"[-_./ ](AI|AO|DI|DO|PI|RTD|TC)[-_ ]?\d{0,3}$|^(AI|AO|DI|DO)[-_./ ](?=[\w-]*\d)",
    re.IGNORECASE,
)


@lru_cache(maxsize=65536)
def kind_in_tag(tag: str) -> str:
    """Return the kind of signal that a tag carries at its end or beginning [text].

    Examples
    --------
    >>> kind_in_tag("PIT-101_AI"), kind_in_tag("DI_ZSO-7"), kind_in_tag("PI-101")
    ('AI', 'DI', '')
    """
    found = _IN_TAG.search(tag)
    return (found.group(1) or found.group(2)).upper() if found else ""


_LETTERS = re.compile(r"^[\W\d]*(?:\d{1,4}[- ]?)?([A-Z]{1,5})(?=[-_ ]?\d|$)")


@lru_cache(maxsize=65536)
def kind_of_tag(tag: str) -> str:
    """Return the likely kind of point from the letters of a tag, or empty [text].

    References
    ----------
    Letter order after ISA-5.1 (instrument identification): first the measured
    quantity, then the function; T transmitter, E element, S switch, Y relay or
    solenoid, V valve, A alarm, Q total.

    Examples
    --------
    >>> kind_of_tag("PIT-101"), kind_of_tag("ZSC-7"), kind_of_tag("XY-3"), kind_of_tag("TE-1")
    ('ai', 'di', 'do', 'rtd')
    """
    match = _LETTERS.match(tag.upper())
    if not match:
        return ""
    letters = match.group(1)
    return next((kind for kind, rule in _ISA if rule.fullmatch(letters)), "")


_ISA: tuple[tuple[str, re.Pattern[str]], ...] = (
    ("rtd", re.compile(r"T?TE")),
    ("pulse", re.compile(r"FQ[IS]?")),
    ("do", re.compile(r"SV|SOV|[XHUK]Y|\w*SY")),
    ("ao", re.compile(r"[FLPT](?:C?V|C?Y)")),
    ("ai", re.compile(r"\w\w*T")),
    ("di", re.compile(r"\wD?S[HLCO]{0,3}|\wSHL")),
)
"""Kind of point -> letters of its tag, after ISA-5.1 (see `kind_of_tag`)."""


ALARM_DEVICE = re.compile(
    r"\bhorn\b|\bbeacon\b|\bsiren|\bstrobe|\bbuzzer|\bsounder|\bhupe\b|blitz|sirena|bocina|"
    r"baliza|\bzumbador|alarm (?:lamp|light)|\bklaxon"
)
"""Devices that are silent or dark in normal running (common practice, no source)."""
