"""Sun hours stated on a plane come back on that plane of the years that are run."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from powerbudget.site.tables import MonthlyFigures, Place
from powerbudget.weather import sun_position
from powerbudget.weather.plane import plane_of_array
from powerbudget.weather.site_record import from_monthly, sky_of_table
from powerbudget.weather.synthesis import MonthlySky, synthesise

ALBEDO = 0.25


def table(hours, tilt, years=2, **more):
    """Return monthly figures with sun hours on a plane."""
    return MonthlyFigures.model_validate(
        {"source": "fictitious", "sun_hours": " ".join(f"{h:.4f}" for h in hours) + " h",
         "plane_tilt": f"{tilt} deg", "temperature": "8 degC", "years": years,
         "albedo": ALBEDO, **more}
    )  # fmt: skip


def place(latitude):
    """Return a site at a latitude."""
    return Place.model_validate({"name": "x", "latitude": latitude, "longitude": 0.0})


def on_plane(record, tilt, latitude):
    """Return kWh/m2 a day by month on a plane that faces the equator."""
    plane = plane_of_array(
        record, sun_position(record), tilt_deg=tilt, albedo_frac=ALBEDO,
        azimuth_deg=180.0 if latitude >= 0 else 0.0,
    )  # fmt: skip
    return np.array(
        [plane.global_w_m2[record.month == m].mean() * 0.024 for m in range(1, 13)]
    )


PLACES = [
    (52.0, 60.0, [1.2, 1.9, 2.9, 3.8, 4.4, 4.6, 4.5, 4.1, 3.4, 2.3, 1.4, 1.0]),
    (40.0, 45.0, [2.0, 2.8, 3.7, 4.4, 4.7, 4.9, 5.0, 4.9, 4.5, 3.6, 2.4, 1.9]),
    (-30.0, 40.0, [6.0, 5.8, 5.5, 5.0, 4.4, 4.1, 4.3, 4.9, 5.3, 5.6, 5.9, 6.0]),
    (68.0, 75.0, [0.0, 1.0, 3.0, 4.3, 4.2, 4.0, 3.8, 3.4, 2.8, 1.4, 0.3, 0.0]),
]


@pytest.mark.parametrize(
    ("latitude", "tilt", "hours"),
    [PLACES[3], *(pytest.param(*p, marks=pytest.mark.slow) for p in PLACES[:3])],
)
def test_every_month_comes_back_within_half_a_percent(latitude, tilt, hours):
    """On the plane as stated, before any loss, as the mean of the years."""
    record = from_monthly(table(hours, tilt), place(latitude))
    stated = np.array(hours)
    lit = stated > 0
    found = on_plane(record, tilt, latitude)
    assert found[lit] == pytest.approx(stated[lit], rel=0.005)
    assert found[~lit] == pytest.approx(0.0, abs=0.02)
    (told,) = [f for f in record.findings if "Sun hours" in f.text]
    assert told.severity == "note"
    assert "come back on the plane" in told.text


@pytest.mark.slow
def test_level_sun_hours_are_level_light():
    """A plane at 0 deg: stated figures are GHI, and the ground counts for nothing."""
    hours = [2.0, 2.6, 3.4, 4.4, 5.2, 5.8, 5.7, 5.0, 4.0, 3.0, 2.1, 1.7]
    record = from_monthly(table(hours, 0.0), place(40.0))
    ghi = [record.ghi_w_m2[record.month == m].mean() * 0.024 for m in range(1, 13)]
    assert ghi == pytest.approx(hours, rel=0.005)


def test_more_sun_stated_in_one_month_raises_its_level_light_alone():
    """January up by a tenth; July stays within the tolerance."""
    hours = np.array(PLACES[0][2])
    more = hours * np.where(np.arange(12) == 0, 1.1, 1.0)
    one, two = (
        sky_of_table(table(h, 60.0), place(52.0)).clearness for h in (hours, more)
    )
    assert two[0] > 1.03 * one[0]
    assert two[6] == pytest.approx(one[6], rel=0.01)


@pytest.mark.slow
def test_the_same_figures_and_seed_give_the_same_years_and_another_seed_the_same_mean():
    """Byte for byte; with another seed each month within the tolerance."""
    hours = PLACES[1][2]
    one, two, other = (
        from_monthly(table(hours, 45.0, seed=seed), place(40.0)) for seed in (5, 5, 6)
    )
    assert np.array_equal(one.ghi_w_m2, two.ghi_w_m2)
    assert not np.array_equal(one.ghi_w_m2, other.ghi_w_m2)
    assert on_plane(other, 45.0, 40.0) == pytest.approx(np.array(hours), rel=0.005)


def test_a_month_that_does_not_come_back_is_named_with_both_figures(monkeypatch):
    """One pass alone: the first guess stands, its months are named in a warning."""
    from powerbudget.weather import stated_plane

    monkeypatch.setattr(stated_plane, "_MOST_PASSES", 1)
    record = from_monthly(table(PLACES[0][2], 60.0), place(52.0))
    (told,) = [f for f in record.findings if "Sun hours" in f.text]
    assert told.severity == "warning"
    assert "h for 4.60 h" in told.text
    assert "Jun" in told.text


@pytest.mark.slow
@settings(max_examples=12, deadline=None)
@given(
    latitude=st.floats(-60.0, 70.0),
    tilt=st.floats(0.0, 90.0),
    seed=st.integers(0, 2**31 - 1),
)
def test_what_a_sky_lays_on_a_plane_comes_back(latitude, tilt, seed):
    """Figures that a known sky has on a plane, stated, come back within 0.5 %."""
    assume(tilt - abs(latitude) <= 45.0)
    rng = np.random.default_rng(seed)
    sky = MonthlySky(latitude, 0.0, 0.0, 0.0, rng.uniform(0.25, 0.65, 12),
                     np.full(12, 8.0), np.full(12, 9.0))  # fmt: skip
    hours = on_plane(synthesise(sky, 3, 1), tilt, latitude)
    hours = np.where(hours < 0.06, 0.0, hours)
    record = from_monthly(table(hours, tilt, years=3), place(latitude))
    lit = hours > 0
    found = on_plane(record, tilt, latitude)
    named = [f for f in record.findings if "do not come back" in f.text]
    near = np.abs(found[lit] / hours[lit] - 1.0) <= 0.0051
    assert near.all() or named
