"""What a signal list states of the draw of its devices."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

from powerbudget.lists.figures import CellFigure, figure, number, on_share
from powerbudget.lists.rows import ListLine
from powerbudget.lists.signals import (
    ALARM_DEVICE,
    fails_to,
    read_state,
    without_failure,
)
from powerbudget.lists.words import folded

_WIRES = re.compile(r"(?<![\d.,])\b[234] ?W\b(?!atts?)")
_WIRES_SAID = re.compile(r"\b(?:[234]|two|three|four)[- ]?wires?\b", re.IGNORECASE)
_FED = re.compile(r"\dV ?(?:DC|AC)?[ ,;/@]+[234] W\b", re.IGNORECASE)
_SIGNAL = re.compile(r"\b[04] ?(?:-|–|to|\.\.+) ?20\b")
"""A range of a signal, which is no draw."""
_FIGURE = re.compile(
    r"\d\s*(?:[kKmu]?[WA]|VA|watts?|amps?)\b|(?:\d\d|[.,]\d|\b[015-9])\s?w\b"
)
_TIMED = re.compile(
    r"\d\s*(?:h|hrs?|hours?|std|min|s|sec|minut\w*|horas|stunden|heures?|ore)\b.*?"
    r"(?:/|per|pro|por|par|al|a|each|every|cada|ogni)"
)
_STATEISH = re.compile(r"energ|excit|normal|strom|puls|gezog|gefall")
_TELLING = re.compile(
    _STATEISH.pattern
    + r"|,|horn|beacon|siren|strob|buzz|sounder|hupe|blitz|bocina|baliza|zumb|alarm|klaxon"
)
"""A quick look at descriptions, which mostly do not speak of a state."""
_SAID_STATE = re.compile(
    r"(?:de-?)?energi[sz]ed|normally (?:on|off|open|closed)\b|(?:des)?energizad\w*|"
    r"stromlos(?! (?:geschlossen|zu\b|offen|auf\b|geoffnet))|"
    r"(?:des)?excit[ae]\w*|impulsweise|\bpulsed?\b|angezogen|abgefallen"
)


class Power(NamedTuple):
    """Cells of one row that bear on its draw, as text."""

    watts: str = ""
    watts_unit: str = ""
    amps: str = ""
    amps_unit: str = ""
    volts: float = 0.0
    states: tuple[str, ...] = ()
    fails: tuple[str, ...] = ()
    duty: str = ""
    duty_unit: str = ""
    remark: str = ""
    text: str = ""
    signal: str = ""


@dataclass(frozen=True, slots=True)
class SignalDraw:
    """The stated draw of one piece in the normal state, and with everything on.

    Parameters
    ----------
    each_w
        Watts while on, None where the list states none [W].
    share
        Share of time that it is on in the normal state [fraction].
    state
        ``on``, ``off``, ``pulsed``, or empty [text].
    doubt
        Cause of a question: ``hours``, ``no-state``, ``alarm-device``, ``no-volts``,
        ``wires``, ``remark-hours``, ``unread``, ``duty``, or empty [text].
    from_remark
        Whether the watts stand in a remark.
    word
        What the cell says in place of a figure, empty if it has one [text].
    amps
        Stated current of one piece, None if not stated [A].
    duty_frac
        Stated share of time on, None if not stated [fraction].
    by_position
        Whether the state follows only from where a valve stands and fails to.
    fails
        Where a valve fails to whose normal state is not stated, else empty [text].
    """

    each_w: float | None = None
    share: float = 1.0
    state: str = ""
    doubt: str = ""
    from_remark: bool = False
    word: str = ""
    amps: float | None = None
    duty_frac: float | None = None
    by_position: bool = False
    fails: str = ""


NO_DRAW = SignalDraw()


def states_nothing(remark: str, signal: str) -> bool:
    """Return whether a row's words hold no power or current, as most do not.

    Examples
    --------
    >>> states_nothing("see note 3", "4-20 mA"), states_nothing("12 W", "")
    (True, False)
    """
    return not ((remark and _FIGURE.search(remark)) or _has_figure(signal))


@lru_cache(maxsize=8192)
def _has_figure(signal: str) -> bool:
    return bool(_FIGURE.search(signal)) and not figure(signal).empty


def telling(text: str) -> str:
    """Return a description that bears on the state of a device, else nothing [text]."""
    return text if _TELLING.search(text.lower()) else ""


@lru_cache(maxsize=8192)
def read_draw(said: Power, kind: str, *, comma: bool | None, ac: bool) -> SignalDraw:
    """Return the draw of a device as its row states it.

    Parameters
    ----------
    said
        Cells of the row.
    kind
        Kind of its point [text].
    comma
        Whether the list writes decimal commas.
    ac
        True for an AC device, whose watts are not those of the dc bus.

    Examples
    --------
    >>> d = read_draw(Power(watts="4.2", watts_unit="W", states=("de-energised",)), "do",
    ...               comma=None, ac=False); d.each_w, d.share
    (4.2, 0.0)
    """
    state = _state(said, kind)
    placed = "" if state or kind != "do" else _by_position(said)
    state = state or placed
    fails = "" if state or kind != "do" else _fails(said)
    each, doubt, remark, word = _each(said, kind, comma)
    stated = stated_share(said.duty, said.duty_unit, comma=comma)
    unread = "duty" if said.duty and stated is None else ""
    amps = figure(said.amps, said.amps_unit, comma=comma).amps if said.amps else None
    if amps is not None and amps < 0:
        amps = None
    if each is None or ac:
        return SignalDraw(
            None,
            1.0,
            state,
            doubt or unread,
            word=word,
            amps=amps,
            duty_frac=stated,
            by_position=bool(placed),
            fails=fails,
        )
    share, more = _share(said, kind, state, stated, comma)
    if placed and more == "hours":
        # A low draw that rests on a position alone is asked whatever its watts.
        more = "no-state"
    doubt = doubt or unread or more
    return SignalDraw(
        each, share, state, doubt, remark, word=word, amps=amps, duty_frac=stated,
        fails=fails if stated is None else "",
    )  # fmt: skip


WETTING_A = 0.03
"""Most that an input draws through a contact (IEC 61131-2, type 2, 24 V dc) [A]."""
WETTING_V = 24.0
_CONTACT = re.compile(
    r"\bdry\b|contact|kontakt|contatto|volt(?:age)?[- ]free|potential(?:frei|[- ]free)|"
    r"\bn[./]?[oc]\b|libre de potencial|\bsec\b|pushbutton|limit switch"
)
_SENSOR = re.compile(
    r"prox|\bp-?n-?p\b|\bn-?p-?n\b|[34][- ]?wires?\b|\b[34] ?w\b|sensor|detector|photo|"
    r"capaciti|ultraso|electronic|radar|powered|inductive|naherung|lichtschranke"
)
"""Words of a device that draws by itself behind a discrete input."""


def wets_contact(line: ListLine, draw: SignalDraw, words: str, *, head: bool) -> bool:
    """Return whether a stated draw is the current that a card sends through a contact.

    Parameters
    ----------
    line, draw
        The row and its stated draw.
    words
        What the row says of its signal and device [text].
    head
        Whether the head of the column speaks of wetting.
    """
    if set(line.points) != {"di"} or not (draw.amps or draw.each_w):
        return False
    amps = draw.amps or (draw.each_w or 0.0) / (line.volts or WETTING_V)
    plain = folded(words)
    if amps > WETTING_A or (_SENSOR.search(plain) and not head):
        return False
    return head or draw.amps is not None or bool(_CONTACT.search(plain))


def stated_share(text: str, unit: str, *, comma: bool | None) -> float | None:
    """Return the share of time that a cell of hours or duty states, None if none.

    Examples
    --------
    >>> stated_share("40", "%", comma=None), stated_share("0.4", "", comma=None)
    (0.4, 0.4)
    >>> stated_share("6", "h/d", comma=None), stated_share("140 %", "", comma=None)
    (0.25, None)
    """
    if not text:
        return None
    bare = number(text, comma=comma)
    if bare is not None and not unit:
        share: float | None = bare
    elif bare is None or unit == "%":
        share = on_share(
            text if "%" in text or bare is None else f"{text} %", comma=comma
        )
        share = on_share(f"{text} {unit}", comma=comma) if share is None else share
    else:
        share = on_share(f"{text} {unit}", comma=comma)
    return share if share is not None and 0 <= share <= 1 else None


def _state(said: Power, kind: str) -> str:
    """Return the normal state of a device: its column first, then its remarks."""
    powered = {"on", "off", "pulsed"}
    read = [read_state(text) for text in said.states if text]
    for state in read:
        if state in powered:
            return state
    output = kind == "do"
    for text in (said.remark, said.text, said.signal):
        if not text or not _STATEISH.search(text.lower()):
            continue
        match = _SAID_STATE.search(without_failure(text))
        if match and read_state(match.group(0)) in powered:
            return read_state(match.group(0))
    if output and re.search(r"\bpulse of \d", said.remark, re.IGNORECASE):
        return "pulsed"
    tail = said.text.rpartition(",")[2] if "," in said.text else ""
    if output and tail and len(tail.split()) <= 2 and read_state(tail) in powered:
        return read_state(tail)
    return ""


def _by_position(said: Power) -> str:
    """Return whether an output is on, from its normal position and that at failure.

    A valve that does not stand where it fails to is held there.  Where it fails to does
    not tell by itself where it stands.
    """
    texts, fails = said.states, _fails(said)
    normal = next((s for t in texts if (s := read_state(t)) in {"open", "closed"}), "")
    if not normal:
        return ""
    if fails:
        return "off" if normal == fails else "on"
    return {"closed": "on", "open": "off"}[normal]


def _fails(said: Power) -> str:
    """Return where a row says that its valve goes at failure, or empty [text]."""
    return next((f for t in (*said.fails, *said.states) if (f := fails_to(t))), "")


def _each(
    said: Power, kind: str, comma: bool | None
) -> tuple[float | None, str, bool, str]:
    """Return the watts of one piece, a doubt, whether they stand in a remark, and a word."""
    word = ""
    for text, unit in ((said.watts, said.watts_unit), (said.amps, said.amps_unit)):
        if not text:
            continue
        found = figure(text, unit or "", comma=comma)
        word = found.word
        watts = _watts(found, said.volts)
        doubt = _doubt(text, found, watts)
        if doubt or watts is not None:
            return None if doubt else watts, doubt, False, word
    for text in (said.remark, said.signal):
        if not text or rates_contact(text, kind):
            continue
        if kind in {"ai", "rtd", "tc", "ao"} and _counts_wires(text):
            continue
        found = figure(text, comma=comma) if re.search(r"\d", text) else CellFigure()
        watts = (
            found.watts
            if found.watts is not None
            else (_watts(found, said.volts) if text is said.remark else None)
        )
        if watts is not None and not re.fullmatch(r"\s*[\d.,]+\s*", text):
            return watts, "", True, ""
    return None, "", False, word


_RATED = re.compile(
    r"\brat(?:ed|ing|ings)\b|\bswitching capacity|\bbelastbar|\bnennlast"
)
_OF_CONTACT = re.compile(r"\bcontacts?\b|\brelays?\b|kontakt|contacto|\bswitch\b")


def _counts_wires(text: str) -> bool:
    """Return whether "4 W" counts wires: not beside wires in words, nor after a voltage."""
    watts = _WIRES_SAID.search(text) or _FED.search(re.sub(r"(?<=\d) (?=V)", "", text))
    return bool(_WIRES.search(text)) and not watts


def rates_contact(text: str, kind: str) -> bool:
    """Return whether a text states what a contact may switch, which is no draw.

    Examples
    --------
    >>> rates_contact("rated 3 A at 24 VDC", "di"), rates_contact("rated 12 W", "do")
    (True, False)
    """
    plain = folded(text)
    contact = kind in {"di", "pulse"} or bool(_OF_CONTACT.search(plain))
    return contact and bool(_RATED.search(plain))


def _doubt(text: str, found: CellFigure, watts: float | None) -> str:
    """Return why a cell of a power or current gives no watts, empty where it does [text]."""
    if (found.watts or 0.0) < 0 or (found.amps or 0.0) < 0:
        return "unread"
    if found.amps is not None and watts is None:
        return "no-volts"
    if found.word == "no unit":
        return "no-unit"
    started = found.inrush_watts is not None or found.inrush_amps is not None
    told = found.word or started or _SIGNAL.search(text)
    return "unread" if found.empty and not told else ""


def _watts(found: CellFigure, volts: float) -> float | None:
    if found.watts is not None:
        return max(found.watts, found.top_watts or 0.0)
    amps = found.amps
    if amps is None:
        return None
    volts = found.volts or volts
    return max(amps, found.top_amps or 0.0) * volts if volts else None


def _share(
    said: Power, kind: str, state: str, stated: float | None, comma: bool | None
) -> tuple[float, str]:
    """Return the share of time on in the normal state, and a doubt."""
    if stated is not None:
        return stated, ""
    if _TIMED.search(said.remark.lower()):
        share = on_share(said.remark, comma=comma)
        if share is not None and 0 <= share <= 1:
            return share, "remark-hours"
    if state == "off" or (state == "pulsed" and kind == "do"):
        return 0.0, "hours"
    if kind == "do" and not state:
        words = folded(f"{said.text} {said.signal} {said.remark}")
        if ALARM_DEVICE.search(words):
            return 0.0, "alarm-device"
        return 1.0, "no-state"
    return 1.0, "hours" if kind == "serial" else ""
