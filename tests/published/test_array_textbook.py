"""Monthly tilt method against the textbook's printed examples."""

from __future__ import annotations

import numpy as np
import pytest

from powerbudget.weather.geometry import (
    MEAN_DAYS,
    beam_ratio_monthly,
    day_length_h,
    declination_deg,
    distance_factor,
    erbs_monthly_diffuse_frac,
    extraterrestrial_daily_mj_m2,
    monthly_tilted_mj_m2,
    sunset_angle_deg,
)

MONTH_ENDS = np.cumsum([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30])
DAYS = np.array(MEAN_DAYS, dtype=float)

# Duffie & Beckman, Solar Engineering of Thermal Processes, Example 2.19.1:
# Madison, 43 N, 60 deg south.  H0, H, H_T in MJ/m2 and the ground's albedo.
H0 = (
    13.37,
    18.81,
    26.03,
    33.78,
    39.42,
    41.78,
    40.56,
    35.92,
    28.80,
    20.90,
    14.62,
    11.91,
)
H = (6.44, 9.89, 12.86, 16.05, 21.36, 23.04, 22.58, 20.33, 14.59, 10.48, 6.37, 5.74)
ALBEDO = (0.7, 0.7, 0.4, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.4)
H_T = (13.7, 17.2, 15.8, 14.7, 16.6, 16.5, 16.8, 17.5, 15.6, 15.2, 11.4, 12.7)


def test_tilted_irradiation_of_twelve_months():
    """All twelve printed means on the 60 degree plane come out to the last digit."""
    found = monthly_tilted_mj_m2(
        np.array(H),
        latitude_deg=43.0,
        tilt_deg=60.0,
        day_of_year=DAYS,
        albedo_frac=np.array(ALBEDO),
    )
    np.testing.assert_allclose(found, H_T, atol=0.06)


def test_extraterrestrial_of_twelve_months():
    """The twelve printed days outside the air come out to 0.015 MJ/m2."""
    found = extraterrestrial_daily_mj_m2(43.0, DAYS)
    np.testing.assert_allclose(found, H0, atol=0.015)


@pytest.mark.parametrize(
    ("latitude_deg", "printed"),
    [
        # Duffie & Beckman, table 1.10.1, months January to December.
        (45, (12.2, 17.4, 25.1, 33.2, 39.2, 41.7, 40.4, 35.3, 27.8, 19.6, 13.3, 10.7)),
        (0, (36.2, 37.4, 37.8, 36.7, 34.8, 33.5, 34.0, 35.7, 37.2, 37.3, 36.3, 35.7)),
        (-60, (41.0, 32.4, 21.2, 10.9, 4.5, 2.2, 3.1, 8.0, 17.0, 28.4, 38.7, 43.7)),
    ],
)
def test_extraterrestrial_table(latitude_deg, printed):
    """Every day of each month averaged gives the table, in both hemispheres."""
    daily = extraterrestrial_daily_mj_m2(float(latitude_deg), np.arange(1.0, 366.0))
    found = [month.mean() for month in np.split(daily, MONTH_ENDS)]
    np.testing.assert_allclose(found, printed, atol=0.0505)


def test_geometry_of_day_261():
    """A textbook exercise for day 261 at 40 N comes out in every step."""
    # O. Perpinan, Energia Solar Fotovoltaica (2020), geometry and radiation exercises.
    declination = declination_deg(261)
    assert declination == pytest.approx(1.0089, abs=5e-5)
    assert sunset_angle_deg(40.0, declination) == pytest.approx(90.85, abs=5e-3)
    assert distance_factor(261) == pytest.approx(0.9928151, abs=5e-8)
    outside_wh_m2 = extraterrestrial_daily_mj_m2(40.0, 261) / 0.0036
    assert outside_wh_m2 == pytest.approx(8126.37, abs=0.005)
    assert 4150 / outside_wh_m2 == pytest.approx(0.5107, abs=5e-5)


@pytest.mark.parametrize(
    ("latitude_deg", "hours"),
    [(10, 12.02), (40, 12.11), (70, 12.37), (-10, 11.97), (-40, 11.88), (-70, 11.63)],
)
def test_day_length(latitude_deg, hours):
    """The exercise's day lengths of day 261 come out at six latitudes."""
    # The exercise truncates 11.976 to 11.97 and 11.887 to 11.88.
    assert day_length_h(float(latitude_deg), 261) == pytest.approx(hours, abs=0.0075)


def test_polar_night_and_day():
    """Beyond the polar circle the formulas give darkness or a day of 24 hours."""
    assert extraterrestrial_daily_mj_m2(80.0, 355) == pytest.approx(0.0, abs=1e-12)
    assert beam_ratio_monthly(80.0, 60.0, 355) == 0.0
    assert day_length_h(80.0, 172) == pytest.approx(24.0)
    assert (
        monthly_tilted_mj_m2(
            0.0, latitude_deg=80.0, tilt_deg=60.0, day_of_year=355, albedo_frac=0.8
        )
        == 0.0
    )


def test_hemispheres_mirror():
    """A plane facing north at 43 S has the beam ratio of one facing south at 43 N."""
    # Half a year apart by declination; the mean days do not mirror exactly.
    north = beam_ratio_monthly(43.0, 60.0, 80.75)
    south = beam_ratio_monthly(-43.0, 60.0, 80.75)
    assert south == pytest.approx(north, rel=0.02)
    assert beam_ratio_monthly(-43.0, 60.0, 172) > 2.5
    assert beam_ratio_monthly(-43.0, 60.0, 355) < 0.7


def test_dull_months_stay_below_one():
    """The diffuse share rises to 1 and no further as the sky grows dull."""
    clearness = np.linspace(0.0, 1.0, 101)
    for sunset_deg in (70.0, 100.0):
        share = erbs_monthly_diffuse_frac(clearness, np.full(101, sunset_deg))
        assert share[0] == 1.0
        assert (np.diff(share) <= 0).all()
        assert share.min() > 0.1
