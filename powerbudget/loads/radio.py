"""Radios: bytes on the air, transmit duty from traffic, mean power of the states.

For a polled station the receive draw decides, so it is never left out.
"""

from __future__ import annotations

import math
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from powerbudget.errors import ModelRangeError
from powerbudget.quantities import in_unit, plain

Value = TypeVar("Value", float, NDArray[np.float64])

MODBUS_BITS = 11
"""Bits of a MODBUS RTU character: start, 8 data, parity or second stop, stop [bit]."""
MODBUS_MAX_REGISTERS = 125
"""Most registers that one read may ask for, unverified [-]."""
DNP3_MAX_OCTETS = 250
"""Most user octets in one DNP3 link frame [-]."""
_FIXED_GAP_S = 0.00175
_FIXED_GAP_ABOVE_BIT_S = 19_200


class ModbusBytes(NamedTuple):
    """Bytes of one read of registers in each direction.

    Parameters
    ----------
    request
        Bytes that the master sends [byte].
    response
        Bytes that the station sends back [byte].
    """

    request: int
    response: int


def modbus_rtu_bytes(registers: int) -> ModbusBytes:
    """Return the bytes of a MODBUS RTU read of holding or input registers [byte].

    ``request = 8``, ``response = 5 + 2 * registers``

    Parameters
    ----------
    registers
        Registers read at once, 1 to 125 [-].

    Returns
    -------
    ModbusBytes
        Bytes each way [byte].

    Raises
    ------
    ModelRangeError
        When one read cannot hold so many registers.

    References
    ----------
    MODBUS over serial line specification and implementation guide V1.02, 2006, p. 13
    (address 1, function 1, data, check 2; 256 bytes at most); fields of the data part
    unverified.

    Examples
    --------
    >>> modbus_rtu_bytes(20)
    ModbusBytes(request=8, response=45)
    """
    if not 1 <= registers <= MODBUS_MAX_REGISTERS:
        raise ModelRangeError(
            f"registers: given {registers}; allowed: 1 to {MODBUS_MAX_REGISTERS} in "
            "one read; split it into several polls"
        )
    return ModbusBytes(request=8, response=5 + 2 * registers)


def dnp3_frame_bytes(user_octets: int) -> int:
    """Return the length of one DNP3 link frame [byte].

    ``bytes = 10 + octets + 2 * ceil(octets / 16)``

    Parameters
    ----------
    user_octets
        Transport and application octets in the frame, 0 to 250 [-].

    Returns
    -------
    int
        Bytes of the frame with header and checks [byte].

    Raises
    ------
    ModelRangeError
        When one frame cannot hold so many octets.

    References
    ----------
    Practical Modern SCADA Protocols, pp. 97-98: header of 10 octets, blocks of up to
    16 octets with 2 of check each.

    Examples
    --------
    >>> dnp3_frame_bytes(250)
    292
    """
    if not 0 <= user_octets <= DNP3_MAX_OCTETS:
        raise ModelRangeError(
            f"user octets: given {user_octets}; allowed: 0 to {DNP3_MAX_OCTETS} in one "
            "frame; split it into several frames"
        )
    return 10 + user_octets + 2 * math.ceil(user_octets / 16)


def message_s(
    byte_count: Value, bits_per_character: float, bit_rate_bit_s: float
) -> Value:
    """Return how long the bytes of a message last [s].

    ``t = bytes * bits / rate``

    Parameters
    ----------
    byte_count
        Bytes of the message [byte].
    bits_per_character
        Bits sent for each byte: 11 for MODBUS RTU, 10 for 8 data bits without parity
        [bit].
    bit_rate_bit_s
        Rate over the air, which may differ from that of the port [bit/s].

    Returns
    -------
    float or array
        Duration [s].

    Raises
    ------
    ModelRangeError
        When the rate is not above zero.

    References
    ----------
    MODBUS over serial line specification and implementation guide V1.02, 2006, p. 12.

    Examples
    --------
    >>> round(1e3 * message_s(8, 11, 9600), 2)
    9.17
    """
    if not bit_rate_bit_s > 0:
        raise ModelRangeError(
            f"bit rate: given {bit_rate_bit_s:g} bit/s; allowed: above 0; "
            "use the rate over the air, such as 9600 bit/s"
        )
    return byte_count * bits_per_character / bit_rate_bit_s


def gap_s(bit_rate_bit_s: float, bits_per_character: float = MODBUS_BITS) -> float:
    """Return the silence that ends a MODBUS RTU frame [s].

    3.5 characters; above 19200 bit/s a fixed 1.75 ms.

    Parameters
    ----------
    bit_rate_bit_s
        Rate over the line [bit/s].
    bits_per_character
        Bits sent for each byte [bit].

    Returns
    -------
    float
        Duration [s].

    References
    ----------
    MODBUS over serial line specification and implementation guide V1.02, 2006, p. 13.

    Examples
    --------
    >>> round(1e3 * gap_s(9600), 2)
    4.01
    """
    if bit_rate_bit_s > _FIXED_GAP_ABOVE_BIT_S:
        return _FIXED_GAP_S
    return message_s(3.5, bits_per_character, bit_rate_bit_s)


def transmit_s(
    byte_count: Value,
    bits_per_character: float,
    bit_rate_bit_s: float,
    *,
    key_up_s: float = 0.0,
    tail_s: float = 0.0,
) -> Value:
    """Return how long the transmitter is keyed for one message [s].

    ``t = key_up + bytes * bits / rate + tail``

    Parameters
    ----------
    byte_count
        Bytes of the message [byte].
    bits_per_character
        Bits sent for each byte [bit].
    bit_rate_bit_s
        Rate over the air [bit/s].
    key_up_s
        Carrier before the first bit, or the wake header of a sleeping network [s].
    tail_s
        Carrier after the last bit [s].

    Returns
    -------
    float or array
        Duration [s].

    References
    ----------
    Sum of times; key-up of 40 ms: licensed UHF modem manual, register list, 2004.

    Examples
    --------
    >>> keyed = transmit_s(
    ...     45, bits_per_character=11, bit_rate_bit_s=9600, key_up_s=0.04, tail_s=0.01
    ... )
    >>> round(1e3 * keyed, 1)
    101.6
    """
    return key_up_s + message_s(byte_count, bits_per_character, bit_rate_bit_s) + tail_s


def transmit_duty_frac(
    polls_per_hour: Value, transmit_s: float, retry_frac: float = 0.0
) -> Value:
    """Return the share of time that a station transmits [-].

    ``duty = polls * t * (1 + retries) / 3600``

    Parameters
    ----------
    polls_per_hour
        Messages sent in an hour [1/h].
    transmit_s
        Time that one message keys the transmitter [s].
    retry_frac
        Extra messages sent for each one wanted [-].

    Returns
    -------
    float or array
        Duty from 0 to 1 [-].

    Raises
    ------
    ModelRangeError
        When the traffic is negative or does not fit into the hour.

    References
    ----------
    Two-state sum in a gas flow computer manual, February 2001, section 1.7 (1 s in
    60 s is 0.0167).

    Examples
    --------
    >>> round(100 * transmit_duty_frac(60.0, 0.1016, 0.05), 3)
    0.178
    """
    duty = polls_per_hour * transmit_s * (1 + retry_frac) / 3600
    if not np.all((duty >= 0) & (duty <= 1)):
        raise ModelRangeError(
            f"traffic: {np.max(polls_per_hour):g} messages an hour of "
            f"{plain(transmit_s, 3, 's')} with {in_unit(100 * retry_frac, '%')} retries "
            f"need {np.max(duty):.3g} of the time; "
            "allowed: 0 to 1; poll less often, send fewer bytes or raise the bit rate"
        )
    return duty


def mean_w(
    transmit_w: float,
    receive_w: float,
    sleep_w: float,
    transmit_frac: Value,
    asleep_frac: float = 0.0,
) -> Value:
    """Return the mean power of a radio over its three states [W].

    ``P = f_tx * P_tx + f_sleep * P_sleep + (1 - f_tx - f_sleep) * P_rx``

    Parameters
    ----------
    transmit_w
        Power while transmitting [W].
    receive_w
        Power while receiving or idle [W].
    sleep_w
        Power while asleep [W].
    transmit_frac
        Share of time transmitting [-].
    asleep_frac
        Share of time asleep [-].

    Returns
    -------
    float or array
        Mean power; receiving fills the time that is left [W].

    Raises
    ------
    ModelRangeError
        When a share is negative or the two come to more than 1.

    References
    ----------
    Gas flow computer manual, February 2001, section 1.7 and flow manager manual, May
    2000, p. 1-12 (transmit and receive); sleep added.

    Examples
    --------
    >>> round(mean_w(24.0, 1.2, 0.0, 0.00178), 3)
    1.241
    """
    receive_frac = 1 - transmit_frac - asleep_frac
    lowest = min(float(np.min(transmit_frac)), asleep_frac)
    # The tolerance admits shares that come to 1 except for rounding.
    if not (lowest >= 0 and np.all(receive_frac >= -1e-9)):
        raise ModelRangeError(
            f"radio states: given {np.max(transmit_frac):.4g} of the time transmitting "
            f"and {asleep_frac:.4g} asleep; allowed: each 0 or more, together up to 1; "
            "let it sleep less or send less"
        )
    return transmit_frac * transmit_w + asleep_frac * sleep_w + receive_frac * receive_w
