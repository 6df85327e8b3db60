"""What must hold for made-up years, averages, hills, snow and extreme values."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from powerbudget.array.snow import snow_lost_frac
from powerbudget.array.string_output import array_series
from powerbudget.site.tables import Array, Snow
from powerbudget.weather import (
    WeatherRecord,
    daily_ghi_kwh_m2,
    monthly_means,
    read_record,
    sun_position,
)
from powerbudget.weather.audit import audit
from powerbudget.weather.extremes import (
    fit_minima,
    gev_from_l_moments,
    in_order,
    l_moments,
)
from powerbudget.weather.horizon import horizon_deg, sky_seen_frac
from powerbudget.weather.plane import plane_of_array
from powerbudget.weather.site_record import averaged, deepened
from powerbudget.weather.statistics import month_by_year, persistence
from powerbudget.weather.synthesis import (
    MonthlySky,
    clearness_from_ghi,
    outside_monthly_kwh_m2_d,
    synthesise,
)

SEEDS = st.integers(0, 2**31 - 1)
shipped = cache(read_record)


@st.composite
def skies(draw) -> MonthlySky:
    """Return the monthly figures of some place on earth."""
    latitude = draw(st.floats(-68, 75))
    longitude = draw(st.floats(-179, 179))
    rng = np.random.default_rng(draw(SEEDS))
    season = np.cos(2 * np.pi * (np.arange(12) - 6.5) / 12) * np.sign(latitude + 0.1)
    return MonthlySky(
        latitude, longitude, 100.0, float(round(longitude / 15)),
        rng.uniform(0.15, 0.75, 12), 25 - 0.4 * abs(latitude) + 12 * season,
        rng.uniform(4, 14, 12), None,
        draw(st.sampled_from([None, np.full(12, 0.05), np.full(12, 0.15)])),
    )  # fmt: skip


@pytest.mark.slow
@settings(max_examples=12, deadline=None)
@given(sky=skies(), seed=SEEDS, years=st.integers(1, 6))
def test_made_up_years_keep_their_monthly_means(sky, seed, years):
    """Every month's light is kept within 1 %, whatever place and chance."""
    record = synthesise(sky, years, seed)
    outside = outside_monthly_kwh_m2_d(
        sky.latitude_deg, sky.longitude_deg, sky.utc_offset_h
    )
    made = np.array([row.ghi_kwh_m2_day for row in monthly_means(record)])
    assert made == pytest.approx(sky.clearness * outside, rel=0.01, abs=0.002)
    degc = np.array([row.temp_air_degc for row in monthly_means(record)])
    assert degc == pytest.approx(sky.temperature_degc, abs=0.3)
    for name in ("ghi_w_m2", "dni_w_m2", "dhi_w_m2"):
        values = getattr(record, name)
        assert values.min() >= 0.0
        assert np.isfinite(values).all()
    assert record.ghi_w_m2.max() < 1250.0


@pytest.mark.slow
@settings(max_examples=6, deadline=None)
@given(sky=skies(), seed=SEEDS)
def test_the_same_seed_makes_the_same_years(sky, seed):
    """Years depend on the seed and on nothing else; another seed makes others."""
    one, two = synthesise(sky, 2, seed), synthesise(sky, 2, seed)
    assert np.array_equal(one.ghi_w_m2, two.ghi_w_m2)
    assert np.array_equal(one.temp_air_degc, two.temp_air_degc)
    other = synthesise(sky, 2, seed + 1)
    assert not np.array_equal(one.ghi_w_m2, other.ghi_w_m2)


def alberta(**changes) -> MonthlySky:
    """Return a place in northern Alberta with invented temperatures."""
    outside = outside_monthly_kwh_m2_d(56.65, -111.2, -7.0)
    # Fort McMurray, CWEC2020 statistics.
    ghi = "0.675 1.470 2.921 4.625 5.429 5.963 5.620 4.577 2.892 1.655 0.806 0.473"
    figures = np.array([float(x) for x in ghi.split()])
    season = -np.cos(2 * np.pi * (np.arange(12) - 0.5) / 12)
    base = MonthlySky(
        56.65, -111.2, 370.0, -7.0, clearness_from_ghi(figures, outside),
        1 + 17 * season, np.full(12, 10.0), -39.5,
    )  # fmt: skip
    return replace(base, **changes)


@cache
def years_of_alberta() -> WeatherRecord:
    """Return sixty made-up years."""
    return synthesise(alberta(), 60, 4)


def test_made_up_years_pass_the_audit():
    """Clock, ceiling, closure, night and dark days have nothing against them."""
    assert audit(synthesise(alberta(), 5, 9)) == ()


def test_days_remember_the_day_before():
    """Persistence from day to day lies where the library has it, and is not zero."""
    # The chain of the classes 0.40 to 0.55 has 0.31 to 0.33 in the long run.
    lags = np.array([row.lag_one for row in persistence(years_of_alberta())])
    assert lags.mean() == pytest.approx(0.32, abs=0.05)


def test_a_stated_spread_of_winters_is_reached():
    """20 % from year to year means 20 % in every month, not the half of it."""
    sky = alberta(year_to_year_frac=np.full(12, 0.20))
    months = month_by_year(synthesise(sky, 60, 4))
    assert months.spread_frac[[0, 10, 11]] == pytest.approx(0.20, abs=0.015)
    free = month_by_year(years_of_alberta())
    assert free.spread_frac[11] < 0.13


def test_winters_are_unbroken_at_new_year():
    """The last of December and the first of January hang together like other days."""
    dates, daily = daily_ghi_kwh_m2(synthesise(alberta(), 400, 2))
    at = np.flatnonzero(np.char.endswith(dates.astype(str), "01-01"))[1:]
    joined = np.corrcoef(daily[at - 1], daily[at])[0, 1]
    # 399 pairs: the standard error of a correlation of 0.3 is 0.046.
    assert joined == pytest.approx(0.33, abs=0.14)


def test_clear_days_are_cold_in_january_and_warm_in_july():
    """The tie of clearness and temperature changes its sign with the season."""
    record = years_of_alberta()
    _, light = daily_ghi_kwh_m2(record)
    degc = record.temp_air_degc.reshape(-1, 24).mean(axis=1)
    month = record.month.reshape(-1, 24)[:, 0]
    ties = {m: np.corrcoef(light[month == m], degc[month == m])[0, 1] for m in (1, 7)}
    assert ties[1] < -0.1
    assert ties[7] > 0.2


def test_a_thousand_years_share_one_sun():
    """The sun of any made-up year is that of the first, to the last digit."""
    record = synthesise(alberta(), 3, 1)
    sun = sun_position(record).zenith_deg.reshape(3, 8760)
    assert np.array_equal(sun[0], sun[2])
    first = sun_position(replace(synthesise(alberta(), 1, 1), synthetic=False))
    assert np.array_equal(sun[0], first.zenith_deg)


@pytest.mark.slow
def test_a_thousand_years_in_a_minute():
    """1,000 years are made in under 60 s, with progress."""
    from time import perf_counter

    seen = []
    start = perf_counter()
    record = synthesise(alberta(), 1000, 1, lambda a, b: seen.append((a, b)))
    assert perf_counter() - start < 60
    assert record.n == 8_760_000
    assert seen[-1] == (1000, 1000)
    assert len(seen) > 10


# --- averaging and deepening -------------------------------------------------


@settings(max_examples=10, deadline=None)
@given(seed=SEEDS, rows=st.sampled_from([2, 4, 6]))
def test_averaging_keeps_energy(seed, rows):
    """A finer record brought to the hour holds the same energy in every column."""
    rng = np.random.default_rng(seed)
    n = 24 * rows * 40
    values = {name: rng.uniform(0, 900, n) for name in ("ghi", "dni", "dhi")}
    start = np.datetime64("2011-02-20T00:00:00") + np.arange(n) * np.timedelta64(
        3600 // rows, "s"
    )
    record = WeatherRecord(
        start, 1 / rows, 50.0, -110.0, 0.0, -7.0, values["ghi"], values["dni"],
        values["dhi"], rng.uniform(-30, 30, n), np.zeros(n), None,
        typical_year=False, source="made", label="made",
    )  # fmt: skip
    hourly = averaged(record, 1.0)
    assert hourly.n == n // rows
    for name in ("ghi_w_m2", "dni_w_m2", "dhi_w_m2", "temp_air_degc"):
        fine, coarse = getattr(record, name), getattr(hourly, name)
        assert coarse.sum() == pytest.approx(fine.sum() / rows, rel=1e-12)
    assert hourly.sun_utc[0] - hourly.start_utc[0] == np.timedelta64(1800, "s")


def test_averaging_never_crosses_a_gap():
    """Rows on two sides of a gap are never mixed; what is left over is named."""
    n = 96
    half = np.timedelta64(1800, "s")
    start = np.datetime64("2011-02-20T00:00:00") + np.arange(n) * half
    start[49:] += np.timedelta64(86400, "s")
    ghi = np.where(np.arange(n) < 49, 100.0, 500.0)
    record = WeatherRecord(
        start, 0.5, 50.0, -110.0, 0.0, -7.0, ghi, ghi, ghi, ghi / 100, ghi / 100, None,
        typical_year=False, source="made", label="made",
    )  # fmt: skip
    hourly = averaged(record, 1.0)
    assert set(hourly.ghi_w_m2) == {100.0, 500.0}
    assert "2 rows at the edges of gaps not used" in hourly.findings[-1].text


@settings(max_examples=15, deadline=None)
@given(share=st.floats(0.01, 0.95), name=st.sampled_from(["sand-point", "miami"]))
def test_a_deeper_winter_takes_the_beam_first(share, name):
    """Three months lose the share, the rest nothing, and nothing turns negative."""
    record = shipped(name)
    dark = deepened(record, share)
    before = {row.month: row.ghi_kwh_m2_day for row in monthly_means(record)}
    after = {row.month: row.ghi_kwh_m2_day for row in monthly_means(dark)}
    kept = sorted(after[m] / before[m] for m in before)
    assert kept[:3] == pytest.approx([1 - share] * 3, rel=1e-9)
    assert kept[3:] == pytest.approx([1.0] * 9, rel=1e-12)
    assert (dark.dni_w_m2 <= record.dni_w_m2 + 1e-9).all()
    assert (dark.dhi_w_m2 <= record.dhi_w_m2 + 1e-9).all()
    assert min(dark.dni_w_m2.min(), dark.dhi_w_m2.min()) >= 0.0
    assert any("Winter derating" in f.text for f in dark.findings)
    assert "winter derating" in dark.source


# --- hills -----------------------------------------------------------------------

POINTS = st.lists(
    st.tuples(st.floats(0, 359.9), st.floats(0, 60)), min_size=1, max_size=12,
    unique_by=lambda p: round(p[0], 3),
).map(tuple)  # fmt: skip


@settings(max_examples=20, deadline=None)
@given(points=POINTS, tilt=st.floats(0, 90), azimuth=st.floats(0, 359))
def test_a_hill_only_takes_light_away(points, tilt, azimuth):
    """Share of the sky between 0 and 1, and a higher hill leaves no more of it."""
    seen = sky_seen_frac(points, tilt, azimuth)
    assert 0.0 <= seen <= 1.0
    higher = tuple((a, min(h + 5, 89.0)) for a, h in points)
    assert sky_seen_frac(higher, tilt, azimuth) <= seen + 1e-9


@pytest.mark.parametrize("height", [0.0, 10.0, 30.0, 60.0])
def test_sky_of_a_level_plane_in_a_bowl(height):
    """A level plane in a bowl of even height sees cos squared of it (geometry)."""
    seen = sky_seen_frac(((0.0, height),), 0.0, 180.0)
    assert seen == pytest.approx(np.cos(np.radians(height)) ** 2, abs=0.006)


def test_horizon_goes_all_the_way_round():
    """North is 0 and 360 alike, and lines between points wrap around it."""
    points = ((350.0, 10.0), (10.0, 20.0))
    found = horizon_deg(points, np.array([0.0, 360.0, 355.0]))
    assert found == pytest.approx([15.0, 15.0, 12.5])


def test_a_hill_in_the_south_takes_the_winter():
    """20 deg of hill south of a panel at 55 N: no beam in December, June unharmed."""
    record = shipped("sand-point")
    sun = sun_position(record)
    hill = ((90.0, 0.0), (120.0, 20.0), (240.0, 20.0), (270.0, 0.0))
    open_, shaded = (
        plane_of_array(
            record, sun, tilt_deg=70, azimuth_deg=180, albedo_frac=0.2, horizon=h
        )
        for h in (None, hill)
    )
    december, june = record.month == 12, record.month == 6
    assert open_.beam_w_m2[december].sum() > 0
    assert shaded.beam_w_m2[december].sum() == 0.0
    kept = shaded.beam_w_m2[june].sum() / open_.beam_w_m2[june].sum()
    assert kept > 0.9
    assert (shaded.global_w_m2 <= open_.global_w_m2 + 1e-9).all()
    assert shaded.open_w_m2 == pytest.approx(open_.global_w_m2)


# --- snow, soiling, albedo and the account ------------------------------------


def array_of(**changes) -> Array:
    """Return an [array] table at 60 deg."""
    table = {"module": "m", "tilt": "60 deg", "azimuth": "south"}
    return Array.model_validate(table | changes)


@cache
def module():
    """Return the starter's module."""
    from powerbudget.balance.problem import site_module
    from powerbudget.site.starter import starter_design

    return site_module(starter_design())


@pytest.mark.parametrize("cover", ["none", "slides", "stays", "cleared"])
def test_losses_by_name_close_with_hills_and_snow(cover):
    """Light at rated power less every named loss is what the string gives."""
    record = shipped("sand-point")
    array = array_of(
        horizon=[[0, 5], [180, 12]],
        soiling_by_month="5 5 5 4 3 2 2 2 3 4 5 5 %",
        albedo_by_month="60 60 50 30 20 20 20 20 20 20 40 60 %",
        snow={"cover": cover, "snowfall": "30 25 20 5 0 0 0 0 0 5 20 30 cm",
              "cleared_every": "14 d"},
    )  # fmt: skip
    found = array_series(record, sun_position(record), array, module())
    total = sum(found.losses_wh.values()) + found.energy_wh
    assert total == pytest.approx(found.nominal_wh, rel=1e-12)
    assert found.losses_wh["horizon"] > 0
    assert ("snow" in found.losses_wh) == (cover != "none")
    assert found.losses_wh.get("snow", 1.0) > 0
    assert found.energy_wh == pytest.approx(found.p_mp_w.sum() * record.step_h)


def snow(**changes) -> Snow:
    """Return an [array.snow] table with 30 cm a winter month."""
    table = {"cover": "stays", "snowfall": "30 30 20 5 0 0 0 0 0 5 20 30 cm"}
    return Snow.model_validate(table | changes)


def lost(tilt: float, **changes) -> np.ndarray:
    """Return what snow takes at Sand Point, by hour."""
    record = shipped("sand-point")
    plane = plane_of_array(
        record, sun_position(record), tilt_deg=tilt, azimuth_deg=180, albedo_frac=0.2
    )
    array = array_of(tilt=f"{tilt} deg").model_copy(update={"snow": snow(**changes)})
    return snow_lost_frac(record, plane.global_w_m2, array)


def test_snow_that_is_cleared_costs_less():
    """Weekly visits beat monthly ones, those beat none; steep beats flat."""
    stays = lost(60).sum()
    weekly, monthly = (
        lost(60, cover="cleared", cleared_every=f"{days} d").sum() for days in (7, 30)
    )
    assert 0 < weekly < monthly <= stays
    assert lost(75, cover="slides").sum() < lost(15, cover="slides").sum()
    assert lost(60, cover="none").sum() == 0.0


def test_no_snow_in_summer():
    """Months without snowfall, well after the last, lose nothing."""
    record = shipped("sand-point")
    for cover in ("slides", "stays"):
        assert lost(60, cover=cover)[np.isin(record.month, [6, 7, 8, 9])].sum() == 0.0


def test_snow_without_a_snowfall_is_refused():
    """A record without snow on the ground needs monthly sums, and says so."""
    from powerbudget.errors import InputError

    with pytest.raises(InputError, match="has no snow depth"):
        lost(60, snowfall=None)
    with pytest.raises(InputError, match="interval at which the modules are cleared"):
        lost(60, cover="cleared")


@pytest.mark.parametrize(("tilt", "said"), [(20, True), (60, False)])
def test_a_flat_panel_without_snow_on_the_ground_is_pointed_out(tilt, said):
    """The snow model is pessimistic at low tilt when only snowfall is known."""
    from powerbudget.array.snow import snow_findings

    array = array_of(tilt=f"{tilt} deg").model_copy(
        update={"snow": snow(cover="slides")}
    )
    texts = " ".join(f.text for f in snow_findings(shipped("sand-point"), array))
    assert ("overestimates cover" in texts) == said
    assert "slides off by tilt" in texts


def test_snow_on_the_ground_is_used_where_the_record_has_it():
    """Rises of the depth are the falls, and a bare ground frees a flat panel."""
    record = shipped("sand-point")
    depth = np.zeros(record.n)
    depth[24 * 20 : 24 * 30] = 0.10
    record = replace(record, snow_depth_m=depth, temp_air_degc=np.full(record.n, -10.0))
    array = array_of(tilt="0 deg").model_copy(
        update={"snow": Snow.model_validate({"cover": "slides"})}
    )
    found = snow_lost_frac(record, np.full(record.n, 50.0), array)
    assert found[24 * 20 + 1 : 24 * 30].min() == 1.0
    assert found[: 24 * 20].max() == 0.0
    assert found[24 * 30 + 2 :].max() == 0.0


def test_monthly_figures_of_one_value_are_the_yearly_figure():
    """Twelve equal shares of dirt and albedo give what the single keys give."""
    record, sun = shipped("miami"), sun_position(shipped("miami"))
    one = array_of(soiling="4 %", albedo=0.3)
    many = array_of(soiling_by_month="4 %", albedo_by_month="30 %")
    a, b = (array_series(record, sun, x, module()) for x in (one, many))
    assert b.p_mp_w == pytest.approx(a.p_mp_w, rel=1e-12)
    snowy = array_of(soiling="4 %", albedo_by_month="80 %")
    assert array_series(record, sun, snowy, module()).energy_wh > a.energy_wh


# --- extreme values ------------------------------------------------------------


@pytest.mark.parametrize("shape", [-0.1, 0.0001, 0.2, 0.4])
def test_a_known_law_is_found_again(shape):
    """L-moments of a large sample give back the law that it was drawn from."""
    from scipy.stats import genextreme

    drawn = genextreme.rvs(shape, -1.2, 0.3, size=40_000, random_state=3)
    mean, scale, skew = l_moments(drawn)
    found = gev_from_l_moments(mean, scale, skew)
    assert [float(x) for x in found] == pytest.approx([shape, -1.2, 0.3], abs=0.012)


def test_ten_year_level_of_a_known_law():
    """The ten-year spell of a fitted sample is that of the law, inside its band."""
    from scipy.stats import gumbel_r

    rng = np.random.default_rng(5)
    minima = 3.0 - gumbel_r.rvs(0, 0.2, size=200, random_state=rng)
    (fit,) = fit_minima((10,), minima[:, None])
    truth = 3.0 - gumbel_r.ppf(0.9, 0, 0.2)
    assert fit.return_years[2] == 10
    assert fit.mean_kwh_m2_day[2] == pytest.approx(truth, abs=0.06)
    assert fit.low_kwh_m2_day[2] < truth < fit.high_kwh_m2_day[2]
    assert list(fit.mean_kwh_m2_day) == sorted(fit.mean_kwh_m2_day, reverse=True)


@st.composite
def dark_years(draw) -> np.ndarray:
    """Return the darkest 1, 5, 10 and 20 days of some years."""
    rng, n = np.random.default_rng(draw(SEEDS)), draw(st.integers(8, 40))
    year = rng.gamma(4.0, 0.2, n)
    longer = rng.gamma(2.0, 0.1, (n, 3)).cumsum(axis=1)
    return np.column_stack([year, year[:, None] + longer])


@settings(max_examples=20, deadline=None)
@given(dark_years())
def test_rarer_spells_are_darker_longer_ones_lighter_and_light_never_negative(minima):
    """Levels fall with the return period, rise with length and stop at zero."""
    n, lengths = len(minima), (1, 5, 10, 20)
    fits = fit_minima(lengths, minima)
    for name in ("mean_kwh_m2_day", "low_kwh_m2_day", "high_kwh_m2_day"):
        table = np.array([getattr(fit, name) for fit in fits])
        assert table.min() >= 0.0
        assert (np.diff(table, axis=1) <= 1e-12).all()
        assert (np.diff(table, axis=0) >= -1e-12).all()
    for fit in fits:
        assert fit.return_years == tuple(y for y in (2, 5, 10, 20, 50) if y <= 2 * n)
        assert fit.worst_return_years > 1.0
        assert fit.worst_return_years <= 2 * n or fit.worst_return_years == np.inf
        assert fit.worst_return_low_years <= fit.worst_return_high_years
        assert (fit.shape, fit.years) == (fits[0].shape, n)


@settings(max_examples=30, deadline=None)
@given(SEEDS)
def test_levels_out_of_order_are_pooled_and_keep_their_mean(seed):
    """Rising columns stay; any other keeps its sum and no value leaves its range."""
    levels = np.random.default_rng(seed).uniform(0.0, 2.0, (3, 6, 2))
    found = in_order(levels)
    assert (np.diff(found, axis=1) >= 0).all()
    assert found.sum(axis=1) == pytest.approx(levels.sum(axis=1))
    rising = np.sort(levels, axis=1)
    assert (in_order(rising) == rising).all()
