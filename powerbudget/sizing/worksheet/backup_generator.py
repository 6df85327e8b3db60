"""A generator behind a solar site: the energy left to it, its hours and its fuel."""

from __future__ import annotations

from dataclasses import dataclass

from powerbudget.generators.unit import Machine

HOURS_PER_YEAR = 8760.0


@dataclass(frozen=True)
class Backup:
    """What a generator behind panels and battery does in a year of 8760 h.

    Parameters
    ----------
    energy_kwh
        What panels and battery leave open [kWh/year].
    hours
        How long it runs for that at full power [h/year].
    fuel
        What it burns, in the unit of its fuel [m3/year or L/year].
    """

    energy_kwh: float
    hours: float
    fuel: float


def backup_year(
    unit: Machine, mean_load_w: float, unserved_frac: float, air_degc: float
) -> Backup:
    """Return hours and fuel of a generator that serves what the sun leaves open.

    Parameters
    ----------
    unit
        The generator.
    mean_load_w
        Mean load at the bus [W].
    unserved_frac
        Energy that panels and battery do not serve, over energy asked [fraction].
    air_degc
        Ambient temperature while it runs [degC].

    Returns
    -------
    Backup
        At full power whenever it runs, no start counted.

    Raises
    ------
    ZeroDivisionError
        When the generator gives nothing at that temperature.

    References
    ----------
    O. Perpinan, Energia Solar Fotovoltaica, 2020, exercise on a radio link: 1 kW with
    1 % left open takes 87.6 kWh, 12.5 h of 10 kVA at 0.7, 26.3 L at 0.3 L/kWh.
    """
    energy_kwh = mean_load_w / 1000.0 * unserved_frac * HOURS_PER_YEAR
    hours = 1000.0 * energy_kwh / float(unit.bus_w(air_degc))
    a_day = float(unit.fuel_per_day(unit.terminal_w(air_degc)))
    return Backup(energy_kwh, hours, a_day / 24.0 * hours)
