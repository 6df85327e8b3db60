"""Present values, with the convention of every factor named.

Four conventions are in use for costs that fall in a year, and they differ by up to
the discount rate: at its end (10 CFR 436, NIST Handbook 135), in its middle, evenly
through it (MIL-HDBK-1004/10), or at its beginning (annuity-due).
"""

from __future__ import annotations

import math
from typing import Literal, get_args

Convention = Literal["end-of-year", "mid-year", "continuous", "annuity-due"]
CONVENTIONS: tuple[str, ...] = get_args(Convention)


def real_rate_frac(nominal_frac: float, inflation_frac: float) -> float:
    """Return the real discount rate from a nominal one and inflation [fraction].

    Parameters
    ----------
    nominal_frac, inflation_frac
        Per year [fraction].

    Returns
    -------
    float
        ``(1 + nominal) / (1 + inflation) - 1`` [fraction].

    Notes
    -----
    Prices in this package are those of the base year, so only the real rate may
    discount them.

    Examples
    --------
    Federal rates of 2010: 4.0 % nominal with 0.9 % inflation is 3.0 % real.

    >>> round(100 * real_rate_frac(0.04, 0.009), 1)
    3.1
    >>> round(100 * real_rate_frac(0.04, 1.04 / 1.03 - 1), 6)
    3.0

    References
    ----------
    10 CFR 436.14, methodological assumptions; formula unverified.
    """
    return (1.0 + nominal_frac) / (1.0 + inflation_frac) - 1.0


def net_rate_frac(rate_frac: float, escalation_frac: float) -> float:
    """Return the rate that discounts a cost which itself grows [fraction].

    Parameters
    ----------
    rate_frac
        Real discount rate per year [fraction].
    escalation_frac
        Real growth of the price per year [fraction].

    Returns
    -------
    float
        ``(1 + rate) / (1 + escalation) - 1``; may be negative [fraction].

    Examples
    --------
    The modified uniform present worth factor, 3 % with 2 % growth over 20 years:

    >>> round(uniform_factor(net_rate_frac(0.03, 0.02), 20), 3)
    18.081

    References
    ----------
    10 CFR 436.17, modified uniform present worth factors; form unverified.
    """
    return (1.0 + rate_frac) / (1.0 + escalation_frac) - 1.0


def timing_factor(rate_frac: float, convention: str) -> float:
    """Return what a convention makes of a cost at the end of its year [ratio].

    Parameters
    ----------
    rate_frac
        Discount rate per year, above -1 [fraction].
    convention
        One of `CONVENTIONS` [text].

    Returns
    -------
    float
        1 at the end of the year, more the earlier it falls [ratio].

    Raises
    ------
    ValueError
        When the convention has another name.

    Notes
    -----
    End 1; middle ``(1+d)^0.5``; evenly through the year ``d/ln(1+d)``; beginning
    ``1+d``.

    Examples
    --------
    >>> round(timing_factor(0.10, "continuous"), 5)
    1.04921
    """
    if convention == "end-of-year":
        return 1.0
    if convention == "mid-year":
        return math.sqrt(1.0 + rate_frac)
    if convention == "continuous":
        # d / ln(1 + d) is 0 / 0 without discounting; its limit there is 1.
        return rate_frac / math.log1p(rate_frac) if abs(rate_frac) > 1e-9 else 1.0
    if convention == "annuity-due":
        return 1.0 + rate_frac
    raise ValueError(f"convention is one of {', '.join(CONVENTIONS)}")


def single_factor(
    rate_frac: float, year: float, convention: str = "end-of-year"
) -> float:
    """Return the present value of one unit of money spent in a year [ratio].

    Parameters
    ----------
    rate_frac
        Discount rate per year [fraction].
    year
        In which year, 1 is the first; 0 is the start, without discount [year].
    convention
        When in the year it is spent [text].

    Returns
    -------
    float
        ``(1+d)^-t`` times `timing_factor` [ratio].

    Examples
    --------
    MIL-HDBK-1004/10, section 13.6, prints 0.251 for year 15 at 10 %:

    >>> round(single_factor(0.10, 15, "continuous"), 3)
    0.251
    >>> round(single_factor(0.03, 10), 4)
    0.7441

    References
    ----------
    MIL-HDBK-1004/10, Electrical Engineering Cathodic Protection, 31 January 1990,
    section 13.6.
    """
    if year <= 0:
        return 1.0
    return float((1.0 + rate_frac) ** -year) * timing_factor(rate_frac, convention)


def uniform_factor(
    rate_frac: float, years: float, convention: str = "end-of-year"
) -> float:
    """Return the present value of one unit of money a year [year].

    Parameters
    ----------
    rate_frac
        Discount rate per year, net of escalation where the cost grows [fraction].
    years
        How long, from the start [year].
    convention
        When in each year it is spent [text].

    Returns
    -------
    float
        ``(1 - (1+d)^-n) / d`` times `timing_factor` [year].

    Examples
    --------
    MIL-HDBK-1004/10, section 13.6, prints 9.524 for 25 years at 10 %, which is the
    flow through the year; the factor for its end is 9.077.

    >>> round(uniform_factor(0.10, 25, "continuous"), 3)
    9.524
    >>> round(uniform_factor(0.10, 25), 3)
    9.077

    References
    ----------
    MIL-HDBK-1004/10, Electrical Engineering Cathodic Protection, 31 January 1990,
    section 13.6.
    """
    if abs(rate_frac) < 1e-9:
        return float(years)
    plain = -math.expm1(-years * math.log1p(rate_frac)) / rate_frac
    return plain * timing_factor(rate_frac, convention)


def recovery_factor(
    rate_frac: float, years: float, convention: str = "end-of-year"
) -> float:
    """Return the yearly sum that pays back one unit of money [1/year].

    Parameters
    ----------
    rate_frac
        Discount rate per year [fraction].
    years
        Over which it is paid back [year].
    convention
        When in each year it is paid [text].

    Returns
    -------
    float
        Inverse of `uniform_factor` [1/year].

    Examples
    --------
    >>> round(recovery_factor(0.03, 10, "annuity-due"), 5)
    0.11382

    References
    ----------
    EPA, ONG-Analysis-2022-Supplemental-Proposal, R/npv-math-funs.R: annuity-due.
    """
    return 1.0 / uniform_factor(rate_frac, years, convention)


def replacement_years(life_y: float, horizon_y: float) -> tuple[int, ...]:
    """Return the years in which a part that wears out is bought again [year].

    Parameters
    ----------
    life_y
        Life of each piece; infinite where it outlasts everything [year].
    horizon_y
        Length of the study [year].

    Returns
    -------
    tuple of int
        One a replacement; none at the very end of the study [year].

    Raises
    ------
    ValueError
        When the life is not positive.

    Examples
    --------
    >>> replacement_years(4.0, 15)
    (4, 8, 12)
    >>> replacement_years(8.3, 20)
    (9, 17)
    >>> replacement_years(5.0, 20)
    (5, 10, 15)
    """
    if not life_y > 0:
        raise ValueError("a life is more than 0 years")
    ends = (k * life_y for k in range(1, math.ceil(horizon_y / life_y) + 1))
    # A last year's tenth is no reason to buy at the door: only ends before the
    # horizon count, and dust in the product must not add one.
    return tuple(math.ceil(t - 1e-9) for t in ends if t < horizon_y - 1e-9)


def left_frac(life_y: float, horizon_y: float) -> float:
    """Return the share of life left in the last piece at the horizon [fraction].

    Parameters
    ----------
    life_y, horizon_y
        Life of each piece and length of the study [year].

    Returns
    -------
    float
        0 where a life ends with the study [fraction].

    Examples
    --------
    >>> left_frac(4.0, 15)
    0.25
    >>> left_frac(5.0, 20)
    0.0
    >>> round(left_frac(25.0, 20), 9)
    0.2
    """
    if math.isinf(life_y):
        return 1.0
    worn = horizon_y % life_y
    # A remainder of a whole life less dust is a whole life.
    whole = worn < 1e-9 * life_y or life_y - worn < 1e-9 * life_y
    return 0.0 if whole else 1.0 - worn / life_y
