"""When each tier of loads goes off and comes back, before the final disconnect."""

from __future__ import annotations

from dataclasses import dataclass

from powerbudget.site.model import Bus


@dataclass(frozen=True)
class ShedStep:
    """One step of shedding.

    Parameters
    ----------
    tier
        1 for the loads that are shed first, 2 for those shed second.
    volts
        Off below the first and on again above the second, None by state [V].
    states
        The same as states of charge, None by voltage [fraction].
    """

    tier: int
    volts: tuple[float, float] | None = None
    states: tuple[float, float] | None = None


def shed_steps(bus: Bus) -> tuple[ShedStep, ...]:
    """Return the steps of shedding that a site has, the first to act first.

    Parameters
    ----------
    bus
        The site file's table.

    Returns
    -------
    tuple of ShedStep
        Up to two; loads come back at the stated return, or at the bus's own
        reconnect where none is stated.

    Examples
    --------
    >>> bus = Bus(nominal="24 V", low_voltage_disconnect="23 V",
    ...           low_voltage_reconnect="25.6 V", shed_first="24.2 V")
    >>> shed_steps(bus)
    (ShedStep(tier=1, volts=(24.2, 25.6), states=None),)
    """
    found = []
    for tier, step, back in (
        (1, bus.shed_first, bus.shed_first_return),
        (2, bus.shed_second, bus.shed_second_return),
    ):
        if step is None:
            continue
        kind, level = step
        own = bus.reconnect_v if kind == "V" else bus.reconnect_soc_frac
        pair = (level, back[1] if back else own or level)
        found.append(
            ShedStep(tier, volts=pair) if kind == "V" else ShedStep(tier, states=pair)
        )
    return tuple(found)
