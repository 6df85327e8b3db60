"""A radio's time in each state from what it has to send: polls, reports, sessions.

A polled station sends its answers; a repeater sends every message of the stations
behind it once more in each direction; a master sends the requests.  Receiving, or
waiting to receive, fills the time that is left and is never dropped.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from powerbudget.errors import ModelRangeError
from powerbudget.loads import radio
from powerbudget.quantities import plain
from powerbudget.site.load import Traffic

DNP3_BITS = 10
"""Bits of a DNP3 character on a serial line: start, 8 data, stop; unverified [bit]."""
ANALOG_OCTETS, COUNTER_OCTETS, BINARY_OCTETS = 5, 5, 1
"""Octets of a 32-bit value with flag and of a binary with flag, unverified [byte]."""
OBJECT_HEADER = 5
"""Octets of an object header in a response, unverified [byte]."""
POLL_OCTETS = 15
"""User octets of a class poll: transport 1, application 2, four headers of 3 [byte]."""


@dataclass(frozen=True)
class States:
    """Shares of time that a radio spends in each state.

    Parameters
    ----------
    transmit_frac, receive_frac, sleep_frac
        Shares of the day; together 1 [fraction].
    basis
        How they came about [text].
    storm_transmit_frac
        Share of a storm hour spent transmitting, 0 without storms [fraction].
    """

    transmit_frac: float
    receive_frac: float
    sleep_frac: float
    basis: str
    storm_transmit_frac: float = 0.0


def dnp3_response_octets(analogs: int, counters: int, binaries: int) -> int:
    """Return the user octets of a DNP3 response, without transport octets [byte].

    Application header of 4, and for each kind of object a header and its points.

    Parameters
    ----------
    analogs, counters, binaries
        Points with flags in the response [count].

    Returns
    -------
    int
        Application octets [byte].

    References
    ----------
    Sizes of headers and objects unverified; framing as in
    `powerbudget.loads.radio.dnp3_frame_bytes`.

    Examples
    --------
    Ten 32-bit analogs: 4 + 5 + 50.

    >>> dnp3_response_octets(10, 0, 0)
    59
    """
    kinds = (
        (analogs, ANALOG_OCTETS),
        (counters, COUNTER_OCTETS),
        (binaries, BINARY_OCTETS),
    )
    return 4 + sum(OBJECT_HEADER + count * size for count, size in kinds if count)


def dnp3_message_bytes(application_octets: int) -> int:
    """Return the bytes on the line of a DNP3 message, split into frames [byte].

    Each frame carries 1 transport octet and up to 249 application octets.

    Parameters
    ----------
    application_octets
        Octets of the application layer [byte].

    Returns
    -------
    int
        Bytes of all frames [byte].

    References
    ----------
    Practical Modern SCADA Protocols, pp. 97-98; transport octet from a codec's
    documentation.

    Examples
    --------
    >>> dnp3_message_bytes(59), dnp3_message_bytes(500)
    (78, 599)
    """
    room = radio.DNP3_MAX_OCTETS - 1
    whole, rest = divmod(application_octets, room)
    total = whole * radio.dnp3_frame_bytes(radio.DNP3_MAX_OCTETS)
    if rest or not whole:
        total += radio.dnp3_frame_bytes(rest + 1)
    return total


def session_mean_w(
    sessions_per_day: float, on_s: float, on_w: float, off_w: float
) -> float:
    """Return the mean power of a modem that is switched on for sessions [W].

    ``P = f * P_on + (1 - f) * P_off`` with ``f = sessions * seconds / 86400``

    Parameters
    ----------
    sessions_per_day
        Sessions in a day [1/d].
    on_s
        Time of one, registration included [s].
    on_w, off_w
        Power during a session and between them [W].

    Returns
    -------
    float
        Mean power [W].

    Raises
    ------
    ModelRangeError
        When the sessions do not fit into the day.

    References
    ----------
    Sum of states times durations.

    Examples
    --------
    Uploads every half hour, 70 s each at 1.6 and 0.35 W together:

    >>> round(1000 * session_mean_w(48, 70, 1.95, 0.0), 1)
    75.8
    """
    share = sessions_per_day * on_s / 86_400
    if not 0 <= share <= 1:
        raise ModelRangeError(
            f"sessions: {sessions_per_day:g} a day of {on_s:g} s need {share:.3g} of "
            "the day; allowed: 0 to 1; hold fewer or shorter sessions"
        )
    return share * on_w + (1 - share) * off_w


def message_bytes(traffic: Traffic) -> tuple[int, int]:
    """Return the bytes of one request and of one answer [byte].

    Parameters
    ----------
    traffic
        Registers, points or bytes, with the protocol.

    Returns
    -------
    tuple of int
        Request and answer [byte].

    Examples
    --------
    >>> message_bytes(Traffic(registers=20, bit_rate="9600 bit/s"))
    (8, 45)
    """
    if traffic.bytes_sent is not None:
        request = traffic.bytes_received
        return (8 if request is None else request), traffic.bytes_sent
    if _is_dnp3(traffic):
        octets = dnp3_response_octets(
            traffic.analog_points or 0,
            traffic.counter_points or 0,
            traffic.binary_points or 0,
        )
        return radio.dnp3_frame_bytes(POLL_OCTETS), dnp3_message_bytes(octets)
    registers = traffic.registers or 0
    full, rest = divmod(registers, radio.MODBUS_MAX_REGISTERS)
    reads = [radio.MODBUS_MAX_REGISTERS] * full + ([rest] if rest else [])
    pairs = [radio.modbus_rtu_bytes(count) for count in reads]
    return sum(p.request for p in pairs), sum(p.response for p in pairs)


def _is_dnp3(traffic: Traffic) -> bool:
    points = (traffic.analog_points, traffic.counter_points, traffic.binary_points)
    return traffic.protocol == "dnp3" or any(p is not None for p in points)


def _reads(traffic: Traffic) -> int:
    """Return how many exchanges one poll takes."""
    if traffic.bytes_sent is not None or _is_dnp3(traffic):
        return 1
    return max(1, math.ceil((traffic.registers or 0) / radio.MODBUS_MAX_REGISTERS))


def _keyed_s(traffic: Traffic, byte_count: int, messages: int = 1) -> float:
    """Return how long some messages key the transmitter, weak signal included."""
    bits = traffic.bits_per_character
    if bits is None:
        bits = DNP3_BITS if _is_dnp3(traffic) else radio.MODBUS_BITS
    rate = traffic.bit_rate_bit_s or 9600.0
    seconds = radio.transmit_s(byte_count, bits, rate)
    keyed = seconds + messages * (traffic.key_up_s + traffic.tail_s)
    return traffic.signal_factor * keyed


def _hour_s(traffic: Traffic, reports_per_hour: float) -> float:
    """Return the seconds of transmission in an hour, retries left out."""
    request, answer = message_bytes(traffic)
    reads = _reads(traffic)
    ask, tell = _keyed_s(traffic, request, reads), _keyed_s(traffic, answer, reads)
    stations = traffic.stations or 0
    polls = traffic.polls_per_hour
    if traffic.role == "master":
        return polls * max(stations, 1) * ask
    seconds = polls * tell + reports_per_hour * tell
    if traffic.role == "repeater":
        # Each message of each station behind it goes out once more, both ways.
        seconds += stations * (polls * (ask + tell) + reports_per_hour * (tell + ask))
    return seconds


def states(traffic: Traffic) -> States:
    """Return how a radio divides its day [fraction].

    Returns
    -------
    States
        Shares of the day, storms included.

    Raises
    ------
    ModelRangeError
        When the traffic does not fit into the hour or the day.

    Notes
    -----
    A session runs at the transmit draw from registration to its end, which is the
    high side.  Between sessions the radio sleeps, or is off.

    Examples
    --------
    >>> found = states(Traffic(polls_per_hour=60, registers=20, bit_rate="9600 bit/s",
    ...                        key_up="40 ms", tail="10 ms", retries="5 %"))
    >>> round(100 * found.transmit_frac, 3)
    0.178
    """
    if traffic.sessions_per_day is not None:
        return _sessions(traffic)
    usual = _duty(traffic, traffic.reports_per_hour)
    storm = _duty(
        traffic, max(traffic.storm_reports_per_hour, traffic.reports_per_hour)
    )
    share = traffic.storm_h_per_day / 24
    duty = (1 - share) * usual + share * storm
    receive = 1 - duty - traffic.asleep_frac
    if receive < -1e-9:
        raise ModelRangeError(
            f"radio states: given {duty:.4g} of the time transmitting and "
            f"{traffic.asleep_frac:.4g} asleep; allowed: together up to 1; let it "
            "sleep less or send less"
        )
    what = {
        "station": "",
        "repeater": f", repeating {traffic.stations or 0} stations",
        "master": f", asking {max(traffic.stations or 0, 1)} stations",
    }[traffic.role]
    basis = f"transmits {plain(100 * duty, 3, '%')} of the time{what}, else receives or sleeps"
    if traffic.storm_h_per_day:
        basis += f"; {traffic.storm_h_per_day:g} h/d of storm at {plain(100 * storm, 3, '%')}"
    return States(
        duty,
        max(receive, 0.0),
        traffic.asleep_frac,
        basis,
        storm if traffic.storm_h_per_day else 0.0,
    )


def _duty(traffic: Traffic, reports_per_hour: float) -> float:
    seconds = _hour_s(traffic, reports_per_hour)
    return float(radio.transmit_duty_frac(1.0, seconds, traffic.retry_frac))


def _sessions(traffic: Traffic) -> States:
    session = traffic.session_s or 0.0
    on_s = (traffic.registration_s + session * (1 + traffic.retry_frac)) * (
        traffic.signal_factor
    )
    count = traffic.sessions_per_day or 0.0
    share = session_mean_w(count, on_s, 1.0, 0.0)
    basis = (
        f"{count:g} sessions a day of {on_s:g} s with registration, else off or asleep"
    )
    return States(share, 0.0, 1 - share, basis)
