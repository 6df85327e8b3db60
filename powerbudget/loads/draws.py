"""What one line of the equipment list draws at its terminals."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from powerbudget.loads import traffic as traffic_
from powerbudget.loads.loop import LIVE_ZERO_A, sampled_duty_frac
from powerbudget.quantities import plain
from powerbudget.site.load import Behaviour, Load, Traffic
from powerbudget.site.parts import (
    CardPart,
    DevicePart,
    NodePart,
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
    leading
        Figure of the part that most of the draw follows from, empty for its only one.
    """

    typical_w: float
    maximum_w: float
    peak_w: float
    behaviour: Behaviour
    basis: str = ""
    assumed: bool = False
    leading: str = ""


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
        return _loop_kind(base, load, rail_v) if base else _written_out(load, rail_v)
    typical_w = watts(load.typical, rail_v)
    behaviour: Behaviour = "current" if load.typical[0] == "A" else "power"
    floor = base.maximum_w if base else typical_w
    maximum_w = watts(load.maximum, rail_v) if load.maximum else max(floor, typical_w)
    peak_w = watts(load.peak, rail_v) if load.peak else maximum_w
    return Draw(
        typical_w,
        maximum_w,
        max(peak_w, maximum_w),
        load.behaviour or behaviour,
        "from the site file",
    )


def _written_out(load: Load, rail_v: float) -> Draw:
    """Return the draw of a line that has strokes or a heater and nothing else."""
    maximum_w = watts(load.maximum, rail_v) if load.maximum else 0.0
    peak_w = watts(load.peak, rail_v) if load.peak else maximum_w
    behaviour = load.behaviour or "power"
    return Draw(0.0, maximum_w, max(peak_w, maximum_w), behaviour, "no base current")


def _loop_kind(draw: Draw, load: Load, rail_v: float) -> Draw:
    """Return the draw of a part whose loop holds its current at the live zero."""
    if load.loop is None or load.loop.kind != "multidrop":
        return draw
    power_w = LIVE_ZERO_A * rail_v
    basis = f"multidrop: {1000 * LIVE_ZERO_A:g} mA fixed from {rail_v:g} V"
    return Draw(power_w, power_w, power_w, "current", basis)


def watts(draw: tuple[str, float], rail_v: float) -> float:
    """Return a draw written in watts or amperes in watts at the rail [W]."""
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
    elif isinstance(part, NodePart):
        high = part.power.high
        draw = Draw(part.power.typical, high, high, "power", "base draw of the node")
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
    maximum_w = watts(load.maximum, rail_v) if load.maximum else draw.maximum_w
    peak_w = watts(load.peak, rail_v) if load.peak else draw.peak_w
    return Draw(
        draw.typical_w,
        maximum_w,
        max(peak_w, maximum_w),
        load.behaviour or draw.behaviour,
        draw.basis,
        draw.assumed,
        draw.leading,
    )


def _card(part: CardPart, live: int | None) -> Draw:
    channels = part.channels if live is None else live
    live_w = channels * part.per_channel.typical
    typical = part.base.typical + live_w
    # Every channel may be live at once, whatever is used today.
    high = part.base.high + part.channels * part.per_channel.high
    basis = f"base and {channels} live channels of {part.channels}"
    leading = "per_channel" if live_w > part.base.typical else "base"
    return Draw(typical, high, high, "power", basis, leading=leading)


def _transmitter(part: TransmitterPart, rail_v: float) -> Draw:
    amps = part.current
    basis = (
        f"{1000 * amps.typical:g} mA x {rail_v:g} V supply; includes the drop in "
        "wiring and barrier"
    )
    maximum = amps.high * rail_v
    return Draw(amps.typical * rail_v, maximum, maximum, "current", basis)


def _radio(part: RadioPart, traffic: Traffic | None) -> Draw:
    high = part.transmit.high
    peak = max(part.peak or 0.0, high)
    if traffic is None:
        basis = "receive power only: no traffic is given"
        return Draw(part.receive.typical, high, peak, "power", basis, True, "receive")
    states = traffic_.states(traffic)
    shares = {
        "transmit": states.transmit_frac * part.transmit.typical,
        "receive": states.receive_frac * part.receive.typical,
        "sleep": states.sleep_frac * part.sleep.typical,
    }
    leading = max(shares, key=lambda state: shares[state])
    mean = sum(shares.values())
    return Draw(mean, high, peak, "power", states.basis, leading=leading)


def transmit_frac(traffic: Traffic) -> float:
    """Return the share of time that a station transmits [fraction].

    Returns
    -------
    float
        Between 0 and 1 [fraction].
    """
    return traffic_.states(traffic).transmit_frac


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
    return duty_frac(load) * np.outer(months, hours)


def duty_frac(load: Load) -> float:
    """Return the share of its hours that a load is on [fraction].

    Parameters
    ----------
    load
        The line, with its duty and its sampling.

    Returns
    -------
    float
        Duty times the share that sampling leaves on [fraction].

    Raises
    ------
    ModelRangeError
        When warm-up and sample are longer than the interval.
    """
    sampled = load.sampled
    if sampled is None:
        return load.duty_frac
    return load.duty_frac * sampled_duty_frac(
        sampled.interval_s, sampled.warm_up_s, sampled.sample_s
    )


def stroke_w(load: Load, rail_v: float) -> float:
    """Return the mean power of a line's strokes through the day [W].

    ``P = strokes * draw * seconds / 86400``

    Parameters
    ----------
    load
        The line, of one piece.
    rail_v
        Nominal volts that feed it [V].

    Returns
    -------
    float
        Mean over a day [W].
    """
    if load.strokes is None:
        return 0.0
    energy_j = watts(load.strokes.draw, rail_v) * load.strokes.time_s
    return load.strokes.per_day * energy_j / 86_400


def with_strokes(draw: Draw, load: Load, rail_v: float) -> Draw:
    """Return a draw whose maximum and peak reach those of the strokes [W].

    Parameters
    ----------
    draw
        The standing draw.
    load
        The line.
    rail_v
        Nominal volts that feed it [V].

    Returns
    -------
    Draw
        The typical draw stays the standing one.
    """
    strokes = load.strokes
    if strokes is None:
        return draw
    running = draw.typical_w + watts(strokes.draw, rail_v)
    inrush = watts(strokes.inrush, rail_v) if strokes.inrush else running
    maximum = max(draw.maximum_w, running)
    joules = watts(strokes.draw, rail_v) * strokes.time_s
    basis = f"{draw.basis}; {strokes.per_day:g} strokes per day of {plain(joules / 3600, 3, 'Wh')}"
    return Draw(draw.typical_w, maximum, max(draw.peak_w, inrush, maximum),
                draw.behaviour, basis, draw.assumed, draw.leading)  # fmt: skip
