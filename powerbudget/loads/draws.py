"""What one line of the equipment list draws at its terminals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from powerbudget.loads import radio
from powerbudget.site.model import Behaviour, Load, Traffic
from powerbudget.site.parts import (
    CardPart,
    DevicePart,
    Part,
    RadioPart,
    TransmitterPart,
)

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Draw:
    """One device's draw at its terminals.

    Parameters
    ----------
    typical_w
        Mean while it is on [W].
    maximum_w
        Highest lasting draw [W].
    peak_w
        Highest short draw, such as inrush [W].
    behaviour
        How the draw follows the voltage: constant power, current or resistance.
    basis
        How the typical figure came about [text].
    assumed
        True where something had to be assumed that the user could tell us.
    """

    typical_w: float
    maximum_w: float
    peak_w: float
    behaviour: Behaviour
    basis: str = ""
    assumed: bool = False


def of_load(load: Load, part: Part | None, rail_v: float) -> Draw:
    """Return what one piece of a load line draws.

    Parameters
    ----------
    load
        The line.
    part
        Its part, or None where the draws are written out.
    rail_v
        Nominal volts that feed it [V].

    Returns
    -------
    Draw
        Figures in the line win over those of the part.
    """
    base = _of_part(load, part, rail_v) if part else None
    if load.typical is None:
        return base or Draw(0.0, 0.0, 0.0, "power")
    typical_w = _watts(load.typical, rail_v)
    behaviour: Behaviour = "current" if load.typical[0] == "A" else "power"
    floor = base.maximum_w if base else typical_w
    maximum_w = _watts(load.maximum, rail_v) if load.maximum else max(floor, typical_w)
    peak_w = _watts(load.peak, rail_v) if load.peak else maximum_w
    return Draw(
        typical_w,
        maximum_w,
        max(peak_w, maximum_w),
        load.behaviour or behaviour,
        "written in the site file",
    )


def _watts(draw: tuple[str, float], rail_v: float) -> float:
    unit, value = draw
    return value if unit == "W" else value * rail_v


def _of_part(load: Load, part: Part, rail_v: float) -> Draw:
    if isinstance(part, DevicePart):
        draw = Draw(
            part.power.typical,
            part.power.high,
            max(part.peak or 0.0, part.power.high),
            part.behaviour,
            "typical of the part",
        )
    elif isinstance(part, CardPart):
        draw = _card(part, load.live_channels)
    elif isinstance(part, TransmitterPart):
        draw = _transmitter(part, rail_v)
    elif isinstance(part, RadioPart):
        draw = _radio(part, load.traffic)
    else:
        raise TypeError(f"part {part.name} is not a load")
    return _overrides(draw, load, rail_v)


def _overrides(draw: Draw, load: Load, rail_v: float) -> Draw:
    maximum_w = _watts(load.maximum, rail_v) if load.maximum else draw.maximum_w
    peak_w = _watts(load.peak, rail_v) if load.peak else draw.peak_w
    return Draw(
        draw.typical_w,
        maximum_w,
        max(peak_w, maximum_w),
        load.behaviour or draw.behaviour,
        draw.basis,
        draw.assumed,
    )


def _card(part: CardPart, live: int | None) -> Draw:
    channels = part.channels if live is None else live
    typical = part.base.typical + channels * part.per_channel.typical
    # Every channel may be live at once, whatever is used today.
    high = part.base.high + part.channels * part.per_channel.high
    basis = f"base and {channels} live channels of {part.channels}"
    return Draw(typical, high, high, "power", basis)


def _transmitter(part: TransmitterPart, rail_v: float) -> Draw:
    amps = part.current
    basis = f"{1000 * amps.typical:g} mA from {rail_v:g} V, wherever the volts drop"
    maximum = amps.high * rail_v
    return Draw(amps.typical * rail_v, maximum, maximum, "current", basis)


def _radio(part: RadioPart, traffic: Traffic | None) -> Draw:
    high = part.transmit.high
    if traffic is None:
        basis = "receive draw only: no traffic is given"
        return Draw(part.receive.typical, high, high, "power", basis, assumed=True)
    duty = transmit_frac(traffic)
    mean = radio.mean_w(
        part.transmit.typical,
        part.receive.typical,
        part.sleep.typical,
        duty,
        traffic.asleep_frac,
    )
    basis = f"transmits {100 * duty:.3g} % of the time, else receives or sleeps"
    return Draw(mean, high, high, "power", basis)


def transmit_frac(traffic: Traffic) -> float:
    """Return the share of time that a polled station transmits [fraction].

    Parameters
    ----------
    traffic
        Polls, message length and bit rate.

    Returns
    -------
    float
        Between 0 and 1 [fraction].
    """
    count = traffic.bytes_sent
    if count is None:
        count = radio.modbus_rtu_bytes(traffic.registers or 0)[1]
    seconds = radio.transmit_s(
        count,
        traffic.bits_per_character,
        traffic.bit_rate_bit_s,
        key_up_s=traffic.key_up_s,
        tail_s=traffic.tail_s,
    )
    return float(
        radio.transmit_duty_frac(traffic.polls_per_hour, seconds, traffic.retry_frac)
    )


def on_share(load: Load) -> Floats:
    """Return the share of each month's clock hour in which a load is on [fraction].

    Parameters
    ----------
    load
        The line, with its duty, hours and months.

    Returns
    -------
    array, shape (12, 24)
        Duty times schedule, local standard time [fraction].
    """
    hours = np.asarray(load.hours or (1.0,) * 24)
    months = np.zeros(12)
    months[[month - 1 for month in load.months or range(1, 13)]] = 1.0
    return load.duty_frac * np.outer(months, hours)
