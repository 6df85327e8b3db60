"""How often so dark a spell comes: an extreme-value fit and how far to trust it."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module

import numpy as np

from powerbudget.errors import Finding
from powerbudget.weather.record import Floats, WeatherRecord
from powerbudget.weather.statistics import YearSpells, yearly_spells
from powerbudget.weather.summary import SPELL_DAYS

RETURN_YEARS = (2, 5, 10, 20, 50)
FEWEST_YEARS = 8
_GUMBEL_BELOW = 15
_DRAWS = 400
_BAND = (10.0, 90.0)
_EULER = 0.5772156649015329


@dataclass(frozen=True)
class SpellFit:
    """Yearly minima of one length of spell, fitted.

    Parameters
    ----------
    days
        Length of the run [days].
    family
        ``gumbel`` or ``gev`` [text].
    shape, location, scale
        Of the negative of the yearly minimum, in the sense of scipy's ``genextreme``
        [number, kWh/m2, kWh/m2].
    return_years
        Return periods [years].
    mean_kwh_m2_day
        Mean daily light of the spell at each [kWh/m2].
    low_kwh_m2_day, high_kwh_m2_day
        Its 80 % band from resampled years [kWh/m2].
    worst_kwh_m2_day
        Darkest on record [kWh/m2].
    worst_return_years
        How rarely so dark a spell comes by the fit; infinite where it lies beyond it
        [years].
    worst_return_low_years, worst_return_high_years
        80 % band of that [years].
    """

    days: int
    family: str
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
    0.0009 for a skewness from -0.5 to 0.5.
    """
    from scipy.special import gamma

    c = 2.0 / (3.0 + skew) - np.log(2.0) / np.log(3.0)
    shape = 7.8590 * c + 2.9554 * c**2
    shape = np.where(np.abs(shape) < 1e-6, 1e-6, np.clip(shape, -0.6, 0.9))
    grown = gamma(1.0 + shape)
    width = scale * shape / ((1.0 - 2.0**-shape) * grown)
    location = mean - width * (1.0 - grown) / shape
    return shape, location, width


def gumbel_from_l_moments(mean: Floats, scale: Floats) -> tuple[Floats, Floats, Floats]:
    """Return shape 0, location and scale of a Gumbel fit [unit].

    Parameters
    ----------
    mean, scale
        From `l_moments` [unit].

    Returns
    -------
    tuple of numpy.ndarray
        As for `gev_from_l_moments` [number, unit, unit].

    References
    ----------
    Hosking (1990), table 2.
    """
    width = scale / np.log(2.0)
    return np.zeros_like(width), mean - _EULER * width, width


def _fit(values: Floats, family: str) -> tuple[Floats, Floats, Floats]:
    mean, scale, skew = l_moments(-values)
    if family == "gumbel":
        return gumbel_from_l_moments(mean, scale)
    return gev_from_l_moments(mean, scale, skew)


def _levels(fit: tuple[Floats, Floats, Floats], years: Floats) -> Floats:
    """Return the light of a spell at each return period, not under zero."""
    genextreme = import_module("scipy.stats").genextreme
    shape, location, scale = (np.asarray(part)[..., None] for part in fit)
    level: Floats = -genextreme.ppf(1.0 - 1.0 / years, shape, location, scale)
    return np.maximum(level, 0.0)


def _return_years(fit: tuple[Floats, Floats, Floats], light: float) -> Floats:
    """Return how rarely a spell as dark comes."""
    genextreme = import_module("scipy.stats").genextreme
    beyond = np.asarray(genextreme.sf(-light, *fit))
    with np.errstate(divide="ignore"):
        years: Floats = 1.0 / beyond
    return years


def fit_spell(days: int, minima: Floats, seed: int = 1) -> SpellFit:
    """Return the fit of yearly minima of one length of spell [kWh/m2].

    Parameters
    ----------
    days
        Length of the run [days].
    minima
        Darkest run of each year [kWh/m2].
    seed
        Of the resampling [count].

    Returns
    -------
    SpellFit
        Levels at return periods with bands from resampled years.

    Notes
    -----
    L-moments fit small samples better than likelihood does.  Under 15 years the two
    parameters of a Gumbel law are all that the sample can carry.  Light cannot fall
    under zero; levels are cut there.
    """
    years = np.array(RETURN_YEARS, dtype=float)
    family = "gumbel" if minima.size < _GUMBEL_BELOW else "gev"
    fit = _fit(minima, family)
    worst = float(minima.min())
    rng = np.random.default_rng(seed)
    drawn = _fit(rng.choice(minima, (_DRAWS, minima.size)), family)
    bands = np.percentile(_levels(drawn, years), _BAND, axis=0)
    rare = np.percentile(np.minimum(_return_years(drawn, worst), 1e6), _BAND)
    return SpellFit(
        days=days,
        family=family,
        shape=float(fit[0]),
        location=float(fit[1]),
        scale=float(fit[2]),
        return_years=RETURN_YEARS,
        mean_kwh_m2_day=tuple(_levels(fit, years).reshape(-1).tolist()),
        low_kwh_m2_day=tuple(bands[0].tolist()),
        high_kwh_m2_day=tuple(bands[1].tolist()),
        worst_kwh_m2_day=worst,
        worst_return_years=float(_return_years(fit, worst)),
        worst_return_low_years=float(rare[0]),
        worst_return_high_years=float(rare[1]),
    )


def fit_spells(
    record: WeatherRecord, days: tuple[int, ...] = SPELL_DAYS
) -> tuple[SpellFit, ...]:
    """Return the fit of every length of spell, or none for too short a record.

    Parameters
    ----------
    record
        The weather [record].
    days
        Lengths of run [days].

    Returns
    -------
    tuple of SpellFit
        Empty for a typical year and for under 8 years.
    """
    if record.typical_year or record.years < FEWEST_YEARS - 0.5:
        return ()
    table: YearSpells = yearly_spells(record, days)
    found = []
    for column, length in enumerate(days):
        minima = table.mean_kwh_m2_day[:, column]
        minima = minima[np.isfinite(minima)]
        if minima.size >= FEWEST_YEARS and minima.std() > 0:
            found.append(fit_spell(length, minima))
    return tuple(found)


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
            f"No return periods: {record.years:.2g} years are too few; a "
            f"two-parameter fit needs {FEWEST_YEARS}.",
        )
    return None
