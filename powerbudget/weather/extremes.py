"""How often so dark a spell comes: an extreme-value fit and how far to trust it."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module

import numpy as np

from powerbudget.errors import Finding
from powerbudget.quantities import count
from powerbudget.weather.record import Floats, WeatherRecord
from powerbudget.weather.statistics import YearSpells, yearly_spells
from powerbudget.weather.summary import SPELL_DAYS

RETURN_YEARS = (2, 5, 10, 20, 50)
FEWEST_YEARS = 8
MOST_RECORDS = 2
"""No return period beyond so many times the record is told [ratio]."""
_STEEPEST = 0.5
_DRAWS = 200
_BAND = (10.0, 90.0)


@dataclass(frozen=True)
class SpellFit:
    """Yearly minima of one length of spell, fitted together with the other lengths.

    Parameters
    ----------
    days
        Length of the run [days].
    years
        Years that the fit stands on [count].
    shape, location, scale
        Of the negative of the yearly minimum, in the sense of scipy's ``genextreme``;
        the shape is that of all lengths together [number, kWh/m2, kWh/m2].
    return_years
        Return periods, none beyond twice the record [years].
    mean_kwh_m2_day
        Mean daily light of the spell at each [kWh/m2].
    low_kwh_m2_day, high_kwh_m2_day
        Its 80 % band from resampled years [kWh/m2].
    worst_kwh_m2_day
        Darkest on record [kWh/m2].
    worst_return_years
        How rarely so dark a spell comes by the fit; infinite beyond twice the record
        [years].
    worst_return_low_years, worst_return_high_years
        80 % band of that [years].
    """

    days: int
    years: int
    shape: float
    location: float
    scale: float
    return_years: tuple[int, ...]
    mean_kwh_m2_day: tuple[float, ...]
    low_kwh_m2_day: tuple[float, ...]
    high_kwh_m2_day: tuple[float, ...]
    worst_kwh_m2_day: float
    worst_return_years: float
    worst_return_low_years: float
    worst_return_high_years: float


def l_moments(values: Floats) -> tuple[Floats, Floats, Floats]:
    """Return mean, L-scale and L-skewness of samples along the last axis [unit].

    Parameters
    ----------
    values
        Samples [any unit].

    Returns
    -------
    tuple of numpy.ndarray
        First and second L-moment [unit] and their third's ratio [number].

    References
    ----------
    Hosking, J.R.M., "L-moments: analysis and estimation of distributions using linear
    combinations of order statistics", Journal of the Royal Statistical Society B 52,
    1990, 105-124.

    Examples
    --------
    >>> mean, scale, skew = l_moments(np.array([1.0, 2.0, 3.0, 4.0]))
    >>> round(float(mean), 3), round(float(scale), 3), round(float(skew), 3)
    (2.5, 0.833, 0.0)
    """
    ranked = np.sort(values, axis=-1)
    n = ranked.shape[-1]
    at = np.arange(n)
    first = ranked.mean(axis=-1)
    b1 = (ranked * at / (n - 1)).mean(axis=-1)
    b2 = (ranked * at * (at - 1) / ((n - 1) * (n - 2))).mean(axis=-1)
    second = 2.0 * b1 - first
    third = 6.0 * b2 - 6.0 * b1 + first
    return first, second, third / np.where(second > 0, second, np.inf)


def gev_from_l_moments(
    mean: Floats, scale: Floats, skew: Floats
) -> tuple[Floats, Floats, Floats]:
    """Return shape, location and scale of a generalised extreme-value fit [unit].

    Parameters
    ----------
    mean, scale, skew
        From `l_moments` [unit].

    Returns
    -------
    tuple of numpy.ndarray
        In the sense of scipy's ``genextreme``: a positive shape has an upper end
        [number, unit, unit].

    References
    ----------
    Hosking (1990), table 2 and section 3: the approximation of the shape is good to
    0.0009 for a skewness from -0.5 to 0.5.  Shapes end at 0.5 either way: Hosking and
    Wallis, Regional Frequency Analysis, 1997, unverified.
    """
    from scipy.special import gamma

    c = 2.0 / (3.0 + skew) - np.log(2.0) / np.log(3.0)
    shape = 7.8590 * c + 2.9554 * c**2
    shape = np.clip(shape, -_STEEPEST, _STEEPEST)
    shape = np.where(np.abs(shape) < 1e-6, 1e-6, shape)
    grown = gamma(1.0 + shape)
    width = scale * shape / ((1.0 - 2.0**-shape) * grown)
    location = mean - width * (1.0 - grown) / shape
    return shape, location, width


def _fit(minima: Floats) -> tuple[Floats, Floats, Floats]:
    """Return a fit of each length, all of one shape, from years by lengths [unit]."""
    mean, scale, skew = l_moments(-np.swapaxes(minima, -1, -2))
    return gev_from_l_moments(mean, scale, skew.mean(axis=-1, keepdims=True))


def _levels(fit: tuple[Floats, Floats, Floats], years: Floats) -> Floats:
    """Return the light of each length at each return period, not under zero."""
    genextreme = import_module("scipy.stats").genextreme
    shape, location, scale = (np.asarray(part)[..., None] for part in fit)
    level: Floats = -genextreme.ppf(1.0 - 1.0 / years, shape, location, scale)
    return in_order(np.maximum(level, 0.0))


def in_order(levels: Floats) -> Floats:
    """Return levels that no longer spell undercuts [kWh/m2].

    Parameters
    ----------
    levels
        Mean daily light; the last axis but one is the length, rising [kWh/m2].

    Returns
    -------
    numpy.ndarray
        Isotonic regression along the lengths: the darkest ten days are never darker
        than the darkest five within them [kWh/m2].

    References
    ----------
    Barlow, Bartholomew, Bremner and Brunk, Statistical Inference under Order
    Restrictions, 1972; of rain over several durations: Roksvag et al., Journal of
    Hydrology 603, 2021, abstract.

    Examples
    --------
    >>> in_order(np.array([[0.10], [0.35], [0.30], [0.32], [0.60], [0.58]])).round(4)[:, 0]
    array([0.1   , 0.3233, 0.3233, 0.3233, 0.59  , 0.59  ])
    """
    repair = import_module("scipy.optimize").isotonic_regression
    columns = np.swapaxes(levels, -1, -2).reshape(-1, levels.shape[-2]).copy()
    for row in np.flatnonzero((np.diff(columns, axis=1) < 0).any(axis=1)):
        columns[row] = repair(columns[row]).x
    turned = columns.reshape(*levels.shape[:-2], levels.shape[-1], levels.shape[-2])
    return np.swapaxes(turned, -1, -2)


def _return_years(
    fit: tuple[Floats, Floats, Floats], light: Floats, longest: float
) -> Floats:
    """Return how rarely a spell as dark comes, infinite beyond the longest."""
    genextreme = import_module("scipy.stats").genextreme
    beyond = np.asarray(genextreme.sf(-light, *fit))
    with np.errstate(divide="ignore"):
        years: Floats = 1.0 / beyond
    return np.where(years > longest, np.inf, years)


def fit_minima(
    days: tuple[int, ...], minima: Floats, seed: int = 1
) -> tuple[SpellFit, ...]:
    """Return the fits of yearly minima of several lengths of spell [kWh/m2].

    Parameters
    ----------
    days
        Lengths of the runs, rising [days].
    minima
        Darkest run of each year (rows) and length (columns) [kWh/m2].
    seed
        Of the resampling [count].

    Returns
    -------
    tuple of SpellFit
        Levels at return periods with bands from resampled whole years.

    Notes
    -----
    L-moments fit small samples better than likelihood does, and one shape for all
    lengths is steadier than one for each.  It adds no years: 80 % bands stay wide.
    Light cannot fall under zero; levels are cut there.
    """
    n = minima.shape[0]
    longest = float(MOST_RECORDS * n)
    told = tuple(year for year in RETURN_YEARS if year <= longest)
    years, worst = np.array(told, dtype=float), minima.min(axis=0)
    fit = _fit(minima)
    rng = np.random.default_rng(seed)
    drawn = _fit(minima[rng.integers(0, n, (_DRAWS, n))])
    level = _levels(fit, years)
    low, high = np.percentile(_levels(drawn, years), _BAND, axis=0)
    rare = _return_years(fit, worst, longest)
    # A rank, not a mean of two: infinite draws must not turn the band into nothing.
    rare_low, rare_high = np.percentile(
        _return_years(drawn, worst, longest), _BAND, axis=0, method="nearest"
    )
    return tuple(
        SpellFit(
            days=length,
            years=n,
            shape=float(np.broadcast_to(fit[0], worst.shape)[k]),
            location=float(fit[1][k]),
            scale=float(fit[2][k]),
            return_years=told,
            mean_kwh_m2_day=tuple(level[k].tolist()),
            low_kwh_m2_day=tuple(low[k].tolist()),
            high_kwh_m2_day=tuple(high[k].tolist()),
            worst_kwh_m2_day=float(worst[k]),
            worst_return_years=float(rare[k]),
            worst_return_low_years=float(rare_low[k]),
            worst_return_high_years=float(rare_high[k]),
        )
        for k, length in enumerate(days)
    )


def fit_spells(record: WeatherRecord) -> tuple[SpellFit, ...]:
    """Return the fit of every length of spell, or none for too short a record.

    Parameters
    ----------
    record
        The weather [record].

    Returns
    -------
    tuple of SpellFit
        Empty for a typical year and for under 8 years.
    """
    if record.typical_year or record.years < FEWEST_YEARS - 0.5:
        return ()
    table: YearSpells = yearly_spells(record, SPELL_DAYS)
    whole = np.isfinite(table.mean_kwh_m2_day).all(axis=1)
    minima = table.mean_kwh_m2_day[whole]
    if len(minima) < FEWEST_YEARS or not (minima.std(axis=0) > 0).all():
        return ()
    return fit_minima(SPELL_DAYS, minima)


def fit_finding(record: WeatherRecord) -> Finding | None:
    """Return why there is no fit, where there is none [text]."""
    if record.typical_year:
        return Finding(
            "note",
            "No return periods: one typical year shows no interannual variability.",
        )
    if record.years < FEWEST_YEARS - 0.5:
        return Finding(
            "note",
            f"No return periods: the weather file has {count(record.years, 'year')}; "
            f"a fit needs {FEWEST_YEARS}.",
        )
    return None
