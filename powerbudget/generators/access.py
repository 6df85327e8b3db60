"""When somebody can come, and how long a store must last until then."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from powerbudget.site.generator import Access
from powerbudget.weather import WeatherRecord

DAYS_BEFORE = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334)


def access_open(record: WeatherRecord, access: Access | None) -> NDArray[np.bool_]:
    """Return whether people can reach the site, by interval.

    Parameters
    ----------
    record
        Gives the dates, in standard time.
    access
        The ``[access]`` table, None where the site is open all year.

    Returns
    -------
    array of bool
        True where a visit is possible.
    """
    if access is None or access.closed is None:
        return np.ones(record.n, bool)
    day = record.day_local
    first = day.astype("datetime64[M]").astype("datetime64[D]")
    of_month = (day - first).astype(np.int64) + 1
    date = 100 * record.month.astype(np.int64) + of_month
    start, end = access.closed
    if start <= end:
        return np.asarray((date < start) | (date > end))
    return np.asarray((date > end) & (date < start))


def closed_days(access: Access | None) -> float:
    """Return the longest stretch without access in a year [d].

    Parameters
    ----------
    access
        The ``[access]`` table, None where the site is open all year.

    Returns
    -------
    float
        Both dates are counted [d].

    Examples
    --------
    >>> closed_days(Access.model_validate({"closed": "1 Dec to 30 Apr"}))
    151.0
    """
    if access is None or access.closed is None:
        return 0.0
    first, last = (DAYS_BEFORE[d // 100 - 1] + d % 100 for d in access.closed)
    return float((last - first) % 365 + 1)


def days_without_visit(access: Access | None) -> float:
    """Return how long a site may wait for fuel or repair at the worst time [d].

    Parameters
    ----------
    access
        The ``[access]`` table, None where the site is open all year.

    Returns
    -------
    float
        Closed stretch plus the delay until somebody comes [d].
    """
    delay = Access().delay_d if access is None else access.delay_d
    return closed_days(access) + delay
