"""From the cells of one row to the points it has: what is stated decides."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

from powerbudget.lists.signals import (
    KINDS,
    Reading,
    comes_by,
    read_address,
    read_signal,
)
from powerbudget.lists.words import folded, word_set

ANALOG_TYPES = word_set(
    "real int word float dint uint analog analogue analogico analogica analogique a"
)
DIGITAL_TYPES = word_set("bool digital binar binary discrete tor binario logical d")
_INPUT = word_set("i in input inputs eingang ein entrada entree e read inp")
_OUTPUT = word_set("o out output outputs ausgang aus salida sortie q s write a")
_TOLD = word_set(
    "alarm alarms status state indication measurement measurements measured measurand feedback"
    " meldung messwert medicion estado alarma"
)
_ORDERED = word_set(
    "control controls command commands cmd setpoint befehl sollwert mando"
)
_INPUT, _OUTPUT = _INPUT | _TOLD, _OUTPUT | _ORDERED
WAYS = _TOLD | _ORDERED | word_set("data")
"""Classes of points by what passes: told to the controller, or ordered by it."""
_BY_SHAPE = {"analog": ("ai", "ao"), "discrete": ("di", "do")}
_SHAPE = {kind: shape for shape, kinds in _BY_SHAPE.items() for kind in kinds}
_COUNTED = ("impuls", "pulse", "accumul", "totali", "contador")
"""Beginnings of data types that count pulses (common practice, no source)."""
_TRANSMITTER = re.compile(
    r"transmitter|transducer|umformer|transmisor|\bconvert|4 ?- ?20|\btx\b"
)
_TEMPERATURE = re.compile(
    r"\brtd\b|pt ?-?1000?\b|thermocouple|\bt/c\b|head transmitter|kopftransmitter|"
    r"resistance|termopar|thermoelement"
)
_SOFT = re.compile(
    r"\bsoftware\b|\bnot wired\b|program only|\bsoft ?(?:point|tag)|\bvirtual\b|\bhmi only\b"
)
_WORD = re.compile(r"^[IO]:\d+[.:]\d+$", re.IGNORECASE)
_PULSE = re.compile(r"\bpuls|impuls|frequenc")
_SENSORS = {"rtd", "tc", "pulse"}


class Said(NamedTuple):
    """What a row says of its signal, by the column it stands in.

    ``guess`` is the kind that the letters of the tag suggest, ``place`` the kind that a
    heading or the sheet's name states, ``remark`` a remark on a temperature sensor.
    """

    io_type: str = ""
    signal: str = ""
    data_type: str = ""
    direction: str = ""
    address: str = ""
    protocol: str = ""
    port: str = ""
    detail: str = ""
    guess: str = ""
    place: str = ""
    remark: str = ""


@dataclass(slots=True)
class SignalFound:
    """The points of a row and how sure they are; shared between rows, not to be changed.

    Parameters
    ----------
    points
        Kind of point to number, of one piece [count].
    status
        ``point``, ``unused``, ``internal`` or ``unsigned`` [text].
    doubts
        Causes of questions that the reading raised [text].
    """

    points: dict[str, int] = field(default_factory=dict)
    status: str = "point"
    doubts: list[str] = field(default_factory=list)


@lru_cache(maxsize=8192)
def read_points(said: Said) -> SignalFound:
    """Return the points that a row states, refined by its other words.

    Examples
    --------
    >>> read_points(Said(io_type="DI", detail="dry contact, relay")).points
    {'di': 1}
    >>> read_points(Said(signal="4-20 mA", guess="ai")).doubts
    ['direction']
    >>> read_points(Said(data_type="BOOL", direction="O")).points
    {'do': 1}
    >>> read_points(Said(signal="4-20 mA + pulse", guess="ai")).points
    {'pulse': 1, 'ai': 1}
    """
    found = _one_kind(said)
    parts = _PLUS.split(said.io_type or said.signal)
    if len(parts) < 2 or found.status != "point":
        return found
    each = [_one_kind(Said(signal=part, guess=said.guess)).points for part in parts]
    further = {kind: n for points in each for kind, n in points.items()}
    points = further | found.points if found.points.keys() < further.keys() else {}
    if not points or ({"rtd", "tc"} & points.keys() and "ai" in points):
        # A thermometer with its transmitter is one input.
        return found
    return SignalFound(found.points | points, doubts=[*found.doubts, "several-in-cell"])


_PLUS = re.compile(r"\s*(?:[+&]|\b(?:and|und|y|et)\b)\s*", re.IGNORECASE)


def _one_kind(said: Said) -> SignalFound:
    """Return the points of a row as its first words state them."""
    io, signal = read_signal(said.io_type), read_signal(said.signal)
    detail = read_signal(said.detail)
    address = read_address(said.address) if said.address else ""
    if not address and said.signal[:1] == "%":
        address = read_address(said.signal)
    if _internal(said, io, signal, address) or _SOFT.search(folded(said.detail)):
        return SignalFound(status="internal")
    typed = _typed(said)
    if io.internal:
        return SignalFound({"serial": 1}, doubts=["bus-point"])
    for found in (io, typed, signal):
        if found.stated and found.kinds:
            return _refined(dict(found.kinds), said, found)
    if address:
        found_ = _refined({address: 1}, said, Reading(stated=True))
        if _WORD.match(said.address.strip()):
            found_.doubts.append("address")
        return found_
    return _unstated(said, io, signal, detail)


def _internal(said: Said, io: Reading, signal: Reading, address: str) -> bool:
    if folded(said.direction) in {
        "internal",
        "intern",
        "interno",
        "interna",
        "memory",
        "m",
    }:
        return True
    if folded(said.data_type) in {"timer", "counter"} and not address:
        return True
    # "SOFT" beside Modbus is a device on a bus, whose points are not wired.
    bus = signal.stated and "serial" in dict(signal.kinds)
    way = comes_by(said.protocol) if said.protocol else ""
    return (io.internal and not bus) or signal.internal or "internal" in {address, way}


def _typed(said: Said) -> Reading:
    """Return the reading of a data type beside a direction: BOOL and O are a DO."""
    kind, way = folded(said.data_type), folded(said.direction)
    if not way and folded(said.io_type) in _INPUT | _OUTPUT:
        way = folded(said.io_type)
    into, out = way in _INPUT, way in _OUTPUT
    if not (into or out):
        return (
            read_signal(f"{said.data_type} {said.direction}")
            if said.direction
            else Reading()
        )
    own = read_signal(said.io_type or said.signal)
    named = dict(own.kinds)
    sensor = set(named) | set(dict(read_signal(said.data_type).kinds))
    if kind.startswith(_COUNTED):
        found = "pulse" if into else "do"
    elif kind in ANALOG_TYPES or (kind not in DIGITAL_TYPES and own.hint == "analog"):
        found = "ai" if into else "ao"
    elif into and sensor & _SENSORS:
        found = min(sensor & _SENSORS)
    elif kind in DIGITAL_TYPES or own.hint == "discrete" or named:
        found = "di" if into else "do"
    else:
        return Reading(hint="in" if into else "out")
    return Reading(((found, 1),), stated=True)


def _refined(kinds: dict[str, int], said: Said, by: Reading) -> SignalFound:
    """Return stated points, refined where other words of the row are more exact."""
    if sum(kinds.values()) > 1:
        return SignalFound(kinds, doubts=["several-in-cell"])
    kind = next(iter(kinds))
    rest = folded(f"{said.io_type} {said.signal} {said.detail}")
    if by.hint == "bus" or (kind in {"ai", "ao", "di", "do"} and _on_bus(said, rest)):
        return SignalFound({"serial": 1}, doubts=["bus-point"])
    if kind == "ai":
        return _temperature(said, rest)
    if kind == "do" and _PULSE.search(rest):
        return SignalFound(kinds, doubts=["pulse-output"])
    if kind == "di" and _PULSE.search(rest) and not said.address:
        return SignalFound({"pulse": 1}, doubts=["refined"])
    return SignalFound(kinds)


def _on_bus(said: Said, rest: str) -> bool:
    """Return whether the signal or protocol column says that a point comes over a bus."""
    if "hart" in rest:
        return False
    found = [read_signal(t) for t in (said.signal, said.protocol) if t]
    return any(r.stated and "serial" in dict(r.kinds) for r in found)


def _temperature(said: Said, rest: str) -> SignalFound:
    """Return an analog input, or the RTD or thermocouple that its signal names."""
    words = rest if _TEMPERATURE.search(rest) else folded(said.remark)
    if not _TEMPERATURE.search(words):
        return SignalFound({"ai": 1})
    if _TRANSMITTER.search(words):
        return SignalFound({"ai": 1}, doubts=["head-transmitter"])
    if words is rest and re.search(
        r"thermocouple|t/c|thermoelement|termopar|\btype [bejknrst]\b", rest
    ):
        return SignalFound({"tc": 1}, doubts=["refined"])
    if words is rest and re.search(r"\brtd\b|pt ?-?1000?\b", rest):
        return SignalFound({"rtd": 1}, doubts=["refined"])
    return SignalFound({"ai": 1})


def _unstated(said: Said, io: Reading, signal: Reading, detail: Reading) -> SignalFound:
    """Return the points of a row that states no kind."""
    bus = read_signal(said.protocol) if said.protocol else Reading()
    # "Channel 3" of a card is no port where other words name an electrical signal.
    silent = not (said.io_type or said.signal or detail.kinds or detail.hint)
    if dict(bus.kinds).get("serial") or (said.port and silent and not said.place):
        return SignalFound({"serial": 1})
    if io.unused or (signal.unused and not io.kinds and not io.hint):
        return SignalFound(status="unused")
    way, shape = folded(said.direction), _SHAPE.get(said.place, said.place)
    if said.place in KINDS and not (said.place in _SHAPE and way in _INPUT | _OUTPUT):
        return _refined({said.place: 1}, said, Reading(stated=True))
    if shape in _BY_SHAPE and way in _INPUT | _OUTPUT:
        kind = _BY_SHAPE[shape][way in _OUTPUT]
        return _refined({kind: 1}, said, Reading(stated=True))
    hints = {r.hint for r in (io, signal, detail, _typed(said)) if r.hint}
    implied = next((r.kinds for r in (io, signal, detail) if r.kinds), ())
    found = _by_hints(hints, dict(implied), said.guess)
    words = said.signal or said.io_type
    if implied and words and not any(r.kinds or r.hint for r in (io, signal)):
        # The column that ought to state the kind is not understood, another implies it.
        found.doubts.append("implied")
    return found


def _by_hints(hints: set[str], implied: dict[str, int], guess: str) -> SignalFound:
    """Return the points that halves of an answer tell: analog, in, the letters of a tag."""
    for shape, into, out in (("analog", "ai", "ao"), ("discrete", "di", "do")):
        if shape in hints and hints & {"in", "out"}:
            return SignalFound({into if "in" in hints else out: 1})
    if implied:
        return SignalFound(implied)
    if "analog" in hints:
        return SignalFound({"ao" if guess == "ao" else "ai": 1}, doubts=["direction"])
    if "discrete" in hints and guess in {"di", "do"}:
        return SignalFound({guess: 1}, doubts=["direction"])
    return SignalFound(status="unsigned")
