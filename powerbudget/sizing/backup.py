"""A generator behind a solar site: the energy left to it, its hours and its fuel."""

from __future__ import annotations

HOURS_PER_YEAR = 8760.0


def unserved_kwh_per_year(load_kw: float, loss_of_load_frac: float) -> float:
    """Return the energy that panel and battery leave open [kWh/year].

    Parameters
    ----------
    load_kw
        Mean load [kW].
    loss_of_load_frac
        Unmet energy over energy asked [fraction].

    Returns
    -------
    float
        In a year of 8760 h [kWh/year].

    References
    ----------
    O. Perpinan, Energia Solar Fotovoltaica, 2020, exercise on a radio link.

    Examples
    --------
    >>> round(unserved_kwh_per_year(1.0, 0.01), 1)
    87.6
    """
    return load_kw * loss_of_load_frac * HOURS_PER_YEAR


def generator_hours_per_year(
    energy_kwh: float, rated_kva: float, power_factor: float
) -> float:
    """Return how long a generator runs at full power for an energy [h/year].

    Parameters
    ----------
    energy_kwh
        Wanted in a year [kWh/year].
    rated_kva
        Of the generator [kVA].
    power_factor
        Real over apparent power [fraction].

    Returns
    -------
    float
        Hours at full power [h/year].

    References
    ----------
    O. Perpinan, Energia Solar Fotovoltaica, 2020, exercise on a radio link.

    Examples
    --------
    >>> round(generator_hours_per_year(87.6, 10.0, 0.7), 2)
    12.51
    """
    return energy_kwh / (rated_kva * power_factor)


def fuel_l_per_year(energy_kwh: float, fuel_l_per_kwh: float) -> float:
    """Return the fuel for an energy [L/year].

    Parameters
    ----------
    energy_kwh
        Wanted in a year [kWh/year].
    fuel_l_per_kwh
        Specific consumption [L/kWh].

    Returns
    -------
    float
        Fuel [L/year].

    References
    ----------
    O. Perpinan, Energia Solar Fotovoltaica, 2020, exercise on a radio link.

    Examples
    --------
    >>> round(fuel_l_per_year(87.6, 0.3), 2)
    26.28
    """
    return energy_kwh * fuel_l_per_kwh
