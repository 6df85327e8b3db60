"""What must hold for any weather whatever."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from powerbudget.weather import (
    WeatherRecord,
    daily_ghi_kwh_m2,
    monthly_means,
    sun_position,
    worst_spells,
)
from powerbudget.weather.assemble import build
from powerbudget.weather.raw import RawTable
from powerbudget.weather.zone import to_local_standard

SECOND = np.timedelta64(1, "s")
SEEDS = st.integers(0, 2**32 - 1)


def table_of(seed: int, *, typical: bool, step_h: float = 1.0) -> RawTable:
    """Return a year of made-up rows, stamped at the start in local time."""
    rng = np.random.default_rng(seed)
    n = round(8760 / step_h)
    stamp = (
        np.datetime64("2001-01-01T00:00:00")
        + np.arange(n) * round(3600 * step_h) * SECOND
    )
    return RawTable(
        name="made",
        source="made",
        label="start",
        latitude_deg=50.0,
        longitude_deg=-105.0,
        elevation_m=500.0,
        clock_offset_h=-7.0,
        utc_offset_h=-7.0,
        stamp=stamp,
        start_shift_h=0.0,
        sun_offset_h=np.nan,
        columns={
            "ghi": rng.uniform(0, 1000, n),
            "dni": rng.uniform(0, 1000, n),
            "dhi": rng.uniform(0, 500, n),
            "temp_air": rng.uniform(-40, 40, n),
            "wind_speed": rng.uniform(0, 20, n),
        },
        typical=typical,
    )


def one_file(table: RawTable) -> WeatherRecord:
    """Return the record of a table that came from one file."""
    return build(table, np.zeros(table.stamp.size, dtype=np.int64))


def same(one: WeatherRecord, two: WeatherRecord) -> bool:
    """Return whether two records say the same light at the same sun."""
    return all(
        np.array_equal(getattr(one, name), getattr(two, name))
        for name in (
            "start_utc", "sun_utc", "ghi_w_m2", "dni_w_m2", "dhi_w_m2",
            "temp_air_degc", "wind_speed_m_s", "month", "day_number",
        )
    )  # fmt: skip


@settings(max_examples=15, deadline=None)
@given(seed=SEEDS, minutes=st.integers(-300, 300), typical=st.booleans())
def test_labels_and_convention_moved_together_change_nothing(seed, minutes, typical):
    """Stamps later by any span, read as that much later, give the same record."""
    table = table_of(seed, typical=typical)
    moved = replace(
        table,
        stamp=table.stamp + minutes * 60 * SECOND,
        start_shift_h=-minutes / 60.0,
    )
    assert same(one_file(table), one_file(moved))


@settings(max_examples=15, deadline=None)
@given(seed=SEEDS, hours=st.integers(-12, 12), typical=st.booleans())
def test_the_clock_of_the_file_does_not_matter(seed, hours, typical):
    """The same rows stamped by another clock, and said to be so, are the same year."""
    table = table_of(seed, typical=typical)
    moved = replace(
        table,
        stamp=table.stamp + hours * 3600 * SECOND,
        clock_offset_h=table.clock_offset_h + hours,
    )
    assert same(one_file(table), one_file(moved))


@settings(max_examples=15, deadline=None)
@given(
    seed=SEEDS,
    zone_h=st.sampled_from([-12.0, -9.5, -7.0, 0.0, 1.0, 5.5, 12.75]),
    step_h=st.sampled_from([1.0, 0.5]),
    typical=st.booleans(),
)
def test_another_local_clock_keeps_energy_and_sun(seed, zone_h, step_h, typical):
    """Energy is kept, and each value keeps its hour of the sun."""
    record = one_file(table_of(seed, typical=typical, step_h=step_h))
    record = replace(record, albedo_frac=record.ghi_w_m2 / 1000.0)
    moved = to_local_standard(record, zone_h)
    assert moved.ghi_w_m2.sum() == pytest.approx(record.ghi_w_m2.sum(), rel=1e-12)
    assert np.array_equal(moved.albedo_frac, moved.ghi_w_m2 / 1000.0)
    assert set(np.diff(moved.start_utc).astype(int)) == {round(3600 * step_h)}
    year = np.timedelta64(365, "D")

    def by_time(r):
        within = (r.start_utc - np.datetime64("1990-01-01")) % year.astype("m8[s]")
        return r.ghi_w_m2[np.argsort(within)]

    assert np.array_equal(by_time(moved), by_time(record))
    if typical:
        assert (moved.day_number[-1], moved.month[0], moved.month[-1]) == (364, 1, 12)
        assert same(to_local_standard(moved, record.utc_offset_h), record)


@settings(max_examples=20, deadline=None)
@given(seed=SEEDS, typical=st.booleans())
def test_months_and_days_add_up_to_the_year(seed, typical):
    """Monthly sums and daily sums hold the energy of the record, no more, no less."""
    record = one_file(table_of(seed, typical=typical))
    days = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    monthly = np.array([row.ghi_kwh_m2_day for row in monthly_means(record)])
    year_kwh = record.ghi_w_m2.sum() * record.step_h / 1000
    assert (monthly * days).sum() == pytest.approx(year_kwh, rel=1e-12)
    assert daily_ghi_kwh_m2(record)[1].sum() == pytest.approx(year_kwh, rel=1e-12)


def slow_spell(dates, daily, length):
    """Return the lowest mean of consecutive dates by trying every start."""
    best = np.inf
    for i in range(daily.size - length + 1):
        steps = np.diff(dates[i : i + length].astype(int))
        if (steps == 1).all():
            best = min(best, daily[i : i + length].mean())
    return best


@settings(max_examples=20, deadline=None)
@given(
    seed=SEEDS,
    lost=st.lists(st.integers(60, 300), max_size=6),
    length=st.integers(1, 40),
)
def test_dark_spells_against_a_slow_search(seed, lost, length):
    """The fast search finds what trying every start finds, gaps or not."""
    record = one_file(table_of(seed, typical=False))
    keep = ~np.isin(record.day_number, lost)
    cut = {
        name: getattr(record, name)[keep]
        for name in (
            "start_utc", "ghi_w_m2", "dni_w_m2", "dhi_w_m2", "temp_air_degc",
            "wind_speed_m_s",
        )
    }  # fmt: skip
    gappy = replace(record, **cut)
    dates, daily = daily_ghi_kwh_m2(gappy)
    (found,) = worst_spells(gappy, (length,))
    expected = slow_spell(dates, daily, length)
    assert found.mean_kwh_m2_day == pytest.approx(expected, abs=1e-10)
    assert np.datetime64(found.start) in dates


@settings(max_examples=20, deadline=None)
@given(seed=SEEDS)
def test_longer_spells_are_never_darker(seed):
    """Twice as many days can be no darker than the darkest run of half of them."""
    record = one_file(table_of(seed, typical=True))
    five, ten, twenty = worst_spells(record, (5, 10, 20))
    assert five.mean_kwh_m2_day <= ten.mean_kwh_m2_day <= twenty.mean_kwh_m2_day


@settings(max_examples=30, deadline=None)
@given(seed=SEEDS, at=st.integers(1, 8750), length=st.integers(1, 6))
def test_short_gaps_are_bridged_and_long_ones_refused(seed, at, length):
    """Up to three hours lie on a straight line between neighbours, more are refused."""
    from powerbudget.errors import DataError

    table = table_of(seed, typical=False)
    temperature = table.columns["temp_air"].copy()
    temperature[at : at + length] = 999.0
    table = replace(table, columns={**table.columns, "temp_air": temperature})
    if length > 3:
        with pytest.raises(DataError, match=rf"ambient temperature.*for {length} h"):
            one_file(table)
        return
    record = one_file(table)
    line = np.interp(
        np.arange(at, at + length),
        [at - 1, at + length],
        [temperature[at - 1], temperature[at + length]],
    )
    assert record.temp_air_degc[at : at + length] == pytest.approx(line)
    assert f"ambient temperature {length}" in record.findings[0].text


@settings(max_examples=10, deadline=None)
@given(seed=SEEDS)
def test_rows_in_any_order_make_the_same_record(seed):
    """A shuffled file of a real year is the same record."""
    table = table_of(seed, typical=False)
    order = np.arange(table.stamp.size)
    middle = order[100:200].copy()
    np.random.default_rng(seed).shuffle(middle)
    order[100:200] = middle
    mixed = replace(
        table,
        stamp=table.stamp[order],
        columns={key: values[order] for key, values in table.columns.items()},
    )
    assert same(one_file(table), one_file(mixed))


def test_sun_is_highest_at_solar_noon_of_the_meridian():
    """On the zone's meridian the sun culminates within 17 min of 12:00 local."""
    record = one_file(table_of(0, typical=True, step_h=0.25))
    sun = sun_position(record)
    zenith = sun.zenith_deg.reshape(365, 96)
    noon_h = (np.argmin(zenith, axis=1) + 0.5) * 0.25
    # Equation of time: within 16.5 min; the grid adds half a step.
    assert np.abs(noon_h - 12.0).max() <= (16.5 + 7.5) / 60
