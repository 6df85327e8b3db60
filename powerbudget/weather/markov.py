"""Daily clearness, day after day: the library of Markov transition matrices.

The chance of tomorrow's sky depends on today's, in ten tables for ten classes of the
monthly mean, which is how dark spells come about.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np

from powerbudget.weather.record import Floats, Integers

STATES = 10
BRIGHTEST_DAY = 0.86
"""Highest daily clearness index of the library's tables, rounded [fraction]."""
_DARKEST_DAY = 0.005
_DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
MONTH_OF_DAY: Integers = np.repeat(np.arange(12), _DAYS)
"""Month, from 0, of each of 365 days [count]."""
JULY = 181
SEASON_ORDER: Integers = np.concatenate([np.arange(JULY, 365), np.arange(JULY)])
"""Days of the year from 1 July to 30 June [count]."""


@dataclass(frozen=True, eq=False)
class MarkovLibrary:
    """Ten matrices of the daily clearness index.

    Parameters
    ----------
    class_from
        Lowest monthly mean of each class [fraction].
    k_min, k_max
        Range of the daily index in each class [fraction].
    probability
        ``[class, state of the day before, state]``, rows add up to 1 [fraction].
    """

    class_from: Floats
    k_min: Floats
    k_max: Floats
    probability: Floats

    @property
    def width(self) -> Floats:
        """Width of a state in each class [fraction]."""
        width: Floats = (self.k_max - self.k_min) / STATES
        return width


@cache
def markov_library() -> MarkovLibrary:
    """Return the published matrices, rows renormalised [library].

    Returns
    -------
    MarkovLibrary
        Ten classes of ten states [fraction].

    References
    ----------
    Aguiar, R.J., Collares-Pereira, M. and Conde, J.P., "Simple procedure for
    generating sequences of daily radiation values using a library of Markov
    transition matrices", Solar Energy 40(3), 1988, 269-279.

    Examples
    --------
    >>> markov_library().probability.shape
    (10, 10, 10)
    """
    text = files("powerbudget.weather").joinpath("markov.toml").read_text("utf-8")
    tables = tomllib.loads(text)["matrix"]
    printed = np.array([table["rows"] for table in tables])
    return MarkovLibrary(
        class_from=np.array([table["monthly_from"] for table in tables]),
        k_min=np.array([table["k_min"] for table in tables]),
        k_max=np.array([table["k_max"] for table in tables]),
        probability=printed / printed.sum(axis=2, keepdims=True),
    )


def clearness_class(monthly: Floats) -> Integers:
    """Return the class of a monthly mean clearness index, from 0 [count].

    Parameters
    ----------
    monthly
        Monthly mean [fraction].

    Returns
    -------
    numpy.ndarray
        0 up to 0.30, 1 up to 0.35, ... 9 over 0.70 [count].

    Examples
    --------
    >>> clearness_class(np.array([0.2, 0.3, 0.31, 0.72])).tolist()
    [0, 0, 1, 9]
    """
    upper = markov_library().class_from[1:]
    return np.searchsorted(upper, monthly, side="left").astype(np.int64)


def daily_clearness(monthly: Floats, rng: np.random.Generator) -> Floats:
    """Return daily clearness indices of many years [fraction].

    Parameters
    ----------
    monthly
        Monthly mean by year and month, shape (years, 12) [fraction].
    rng
        Source of chance [generator].

    Returns
    -------
    numpy.ndarray
        Shape (years, 365), months not yet scaled to their mean [fraction].

    Notes
    -----
    The chain runs from July to June, so that winters are unbroken; each starts from
    the June mean.  A day's value is drawn evenly within its state.

    References
    ----------
    Aguiar et al. (1988), section 4.
    """
    library = markov_library()
    steps = np.cumsum(library.probability, axis=2)
    of_month = clearness_class(by_season(monthly))
    years = monthly.shape[0]
    days = np.empty((years, MONTH_OF_DAY.size))
    value = monthly[:, 5]
    for day in SEASON_ORDER:
        group = of_month[:, MONTH_OF_DAY[day]]
        low, width = library.k_min[group], library.width[group]
        state = np.clip((value - low) / width, 0, STATES - 1).astype(np.int64)
        chance: Floats = rng.random((years,))
        within: Floats = rng.random((years,))
        then = (chance[:, None] > steps[group, state]).sum(axis=1)
        value = low + (np.minimum(then, STATES - 1) + within) * width
        days[:, day] = value
    return by_year(days)


def by_season(by_calendar: Floats) -> Floats:
    """Return figures by year with January to June taken from the year after."""
    half = by_calendar.shape[1] // 2
    seasons = by_calendar.copy()
    seasons[:, :half] = np.roll(by_calendar[:, :half], -1, axis=0)
    return seasons


def by_year(by_seasons: Floats) -> Floats:
    """Return figures by season, July to June, set back into calendar years."""
    half = JULY if by_seasons.shape[1] == MONTH_OF_DAY.size else 6
    years = by_seasons.copy()
    years[:, :half] = np.roll(by_seasons[:, :half], 1, axis=0)
    return years


def scaled_to_mean(
    clearness: Floats, weight: Floats, target: Floats, *, each_year: bool
) -> Floats:
    """Return days of one month scaled so that their mean is kept [fraction].

    Parameters
    ----------
    clearness
        Daily index, shape (years, days) [fraction].
    weight
        Irradiation above the atmosphere on each day [any unit].
    target
        Wanted mean by year [fraction].
    each_year
        Whether each year keeps its own mean, or only all years together [bool].

    Returns
    -------
    numpy.ndarray
        Between 0.005 and `BRIGHTEST_DAY` [fraction].
    """
    if weight.sum() <= 0:
        return np.zeros_like(clearness)
    share = weight / weight.sum()
    scaled = clearness
    for _ in range(40):
        mean = scaled @ share
        common = np.full_like(mean, target.mean() / mean.mean())
        ratio = target / mean if each_year else common
        if np.abs(ratio - 1.0).max() < 1e-6:
            break
        scaled = np.clip(scaled * ratio[:, None], _DARKEST_DAY, BRIGHTEST_DAY)
    return scaled
