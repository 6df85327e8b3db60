"""A power line by tariff: so much a metre, a length free, a discount for cash."""

from __future__ import annotations

FOOT_M = 0.3048


def extension_cost(
    length_m: float, per_m: float, free_m: float = 0.0, paid_frac: float = 1.0
) -> float:
    """Return what a customer pays for a line extension [currency].

    Parameters
    ----------
    length_m
        From existing service to the site [m].
    per_m
        Tariff [currency/m].
    free_m
        Length that the utility gives free of charge [m].
    paid_frac
        Share left after a discount, such as 0.8 for payment in one sum [fraction].

    Returns
    -------
    float
        0 within the free length [currency].

    Examples
    --------
    One mile of single phase at $6.50 a foot, the first quarter mile free, and what
    is left of it when paid in one sum:

    >>> mile, tariff = 5280 * 0.3048, 6.50 / 0.3048
    >>> round(extension_cost(mile, tariff, mile / 4))
    25740
    >>> round(extension_cost(mile, tariff, mile / 4, 0.8))
    20592

    References
    ----------
    Line extension tariff of a rural electric co-operative, page "line extension
    cost", read through a stored copy.
    """
    return max(0.0, length_m - free_m) * per_m * paid_frac


def reach_m(cost: float, per_m: float, free_m: float = 0.0) -> float:
    """Return how long a line a sum of money pays for [m].

    Parameters
    ----------
    cost
        What the alternative costs [currency].
    per_m
        Tariff [currency/m].
    free_m
        Length that is free [m].

    Returns
    -------
    float
        Inverse of `extension_cost` [m].

    Examples
    --------
    >>> round(reach_m(25740.0, 6.50 / 0.3048, 402.336))
    1609
    """
    return max(0.0, cost) / per_m + free_m
