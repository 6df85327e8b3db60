"""Extreme values of dark spells against worked figures and a general library."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from powerbudget.weather.extremes import (
    fit_minima,
    gev_from_l_moments,
    in_order,
    l_moments,
)

LENGTHS = (1, 3, 5, 10, 20)
# Twelve invented winters, darkest mean of so many days, kWh/m2 a day.
WINTERS = np.array(
    [
        [0.21, 0.35, 0.18, 0.27, 0.30, 0.24, 0.15, 0.33, 0.22, 0.26, 0.19, 0.29],
        [0.41, 0.52, 0.33, 0.45, 0.50, 0.38, 0.36, 0.55, 0.40, 0.47, 0.35, 0.49],
        [0.55, 0.66, 0.50, 0.60, 0.63, 0.54, 0.44, 0.70, 0.52, 0.61, 0.53, 0.62],
        [0.80, 0.95, 0.70, 0.86, 0.90, 0.78, 0.72, 0.98, 0.77, 0.85, 0.76, 0.88],
        [1.02, 1.15, 0.97, 1.08, 1.10, 1.00, 0.93, 1.20, 1.01, 1.09, 1.03, 1.06],
    ]
).T
# Worked beside the tool with the formulas of Hosking, Journal of the Royal Statistical
# Society B 52, 1990, 105-124, table 2.
MOMENTS = [
    (-0.24917, 0.03705, -0.0217),
    (-0.43417, 0.04341, -0.0311),
    (-0.57500, 0.04379, 0.0104),
    (-0.82917, 0.05280, -0.0703),
    (-1.05333, 0.04470, -0.0847),
]
LEVELS = [
    (0.2467, 0.1913, 0.1652, 0.1459),
    (0.4313, 0.3663, 0.3357, 0.3131),
    (0.5721, 0.5066, 0.4757, 0.4529),
    (0.8256, 0.7466, 0.7094, 0.6819),
    (1.0503, 0.9835, 0.9520, 0.9287),
]


def test_l_moments_of_twelve_winters():
    """Mean, scale and skewness of the negatives to the last printed digit."""
    found = np.column_stack(l_moments(-WINTERS.T))
    assert found == pytest.approx(np.array(MOMENTS), abs=5.1e-5)


@pytest.mark.parametrize(
    ("skew", "shape"),
    [(-0.1, 0.47172), (0.0, 0.28463), (0.1, 0.11244), (0.2, -0.0465), (0.3, -0.19362)],
)
def test_shape_from_skewness(skew, shape):
    """The approximation of Hosking 1990, worked by hand."""
    one = np.array(1.0)
    assert float(gev_from_l_moments(one, one, np.array(skew))[0]) == pytest.approx(
        shape, abs=5e-5
    )


def test_levels_of_five_lengths_with_one_shape():
    """Pooled skewness -0.03948, shape 0.3566; levels once in 2, 5, 10 and 20 years.

    Once in 50 years is beyond twice the record and is not told.
    """
    fits = fit_minima(LENGTHS, WINTERS)
    assert [fit.shape for fit in fits] == pytest.approx([0.3566] * 5, abs=5e-5)
    assert {fit.return_years for fit in fits} == {(2, 5, 10, 20)}
    found = [fit.mean_kwh_m2_day for fit in fits]
    assert np.array(found) == pytest.approx(np.array(LEVELS), abs=5.1e-5)


def test_one_length_against_a_general_library():
    """Five days alone: shape 0.26522, location -0.60288, scale 0.07655 elsewhere.

    Its exact shape differs from the approximation by less than 0.001; the level is the
    quantile of scipy's distribution.
    """
    (fit,) = fit_minima((5,), WINTERS[:, 2:3])
    assert fit.shape == pytest.approx(0.26522, abs=1e-3)
    assert fit.location == pytest.approx(-0.60288, abs=1e-4)
    assert fit.scale == pytest.approx(0.07655, abs=1e-4)
    ten = -stats.genextreme.ppf(0.9, fit.shape, fit.location, fit.scale)
    assert fit.mean_kwh_m2_day[2] == pytest.approx(ten)


def test_pooling_of_levels_out_of_order():
    """Pool-adjacent-violators, worked by hand."""
    given = np.array([0.10, 0.35, 0.30, 0.32, 0.60, 0.58])
    wanted = [0.10, 0.3233, 0.3233, 0.3233, 0.59, 0.59]
    assert in_order(given[:, None])[:, 0] == pytest.approx(wanted, abs=5e-5)
