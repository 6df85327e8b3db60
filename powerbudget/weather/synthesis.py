"""Hourly years from monthly figures and a seed, for a place with no record."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from powerbudget.errors import DataError, Finding
from powerbudget.quantities import count, in_unit
from powerbudget.weather import geometry, markov, temperature
from powerbudget.weather import hourly_clearness as tag
from powerbudget.weather.record import (
    Floats,
    Times,
    WeatherRecord,
    seconds,
)
from powerbudget.weather.sun import SunPosition, sun_position

Progress = Callable[[int, int], None]
FIRST_YEAR = 2001
CHUNK_YEARS = 25
_PARTS = 6
_LOWEST_BEAM_SINE = 0.035
_BRIGHTEST_BEAM = 0.80


@dataclass(frozen=True, eq=False)
class MonthlySky:
    """What is known of a place without a record.

    Parameters
    ----------
    latitude_deg, longitude_deg, elevation_m, utc_offset_h
        The place and its standard time [deg, deg, m, h].
    clearness
        Twelve monthly means of level light over that above the air [fraction].
    temperature_degc, daily_range_k
        Twelve monthly means and daily ranges [degC, K].
    design_minimum_degc
        Mean of each year's lowest temperature, None when not known [degC].
    year_to_year_frac
        Twelve standard deviations of a month's light over its mean, None to let
        chance alone make them [fraction].
    wind_m_s
        Wind, the same at all hours [m/s].
    source
        Where the figures come from [text].
    drawn_for
        Twelve clearness figures whose classes draw the days before each month is scaled
        to its mean, None for those of ``clearness``; with them a little more light
        moves every hour a little [fraction].
    remarks
        What is to be told of the figures [findings].
    """

    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    utc_offset_h: float
    clearness: Floats
    temperature_degc: Floats
    daily_range_k: Floats
    design_minimum_degc: float | None = None
    year_to_year_frac: Floats | None = None
    wind_m_s: float = 2.0
    source: str = "monthly means"
    drawn_for: Floats | None = None
    remarks: tuple[Finding, ...] = ()


@dataclass(frozen=True, eq=False)
class _Year:
    """The sun of one year of 365 days, by day and hour."""

    start_utc: Times
    outside_w_m2: Floats
    sine: Floats
    solar_hour: Floats
    sun: SunPosition

    @property
    def by_day(self) -> Floats:
        sums: Floats = self.outside_w_m2.sum(axis=1)
        return sums


def outside_monthly_kwh_m2_d(
    latitude_deg: float, longitude_deg: float, utc_offset_h: float | None = None
) -> Floats:
    """Return the light above the air on the level, mean day of each month [kWh/m2].

    Parameters
    ----------
    latitude_deg, longitude_deg
        The place [deg].
    utc_offset_h
        Standard time, that of the meridian when left out [h].

    Returns
    -------
    numpy.ndarray
        Twelve daily means [kWh/m2].
    """
    zone = round(longitude_deg / 15.0) if utc_offset_h is None else utc_offset_h
    by_day = _sun_of_year(latitude_deg, longitude_deg, 0.0, zone).by_day
    month = markov.MONTH_OF_DAY
    means: Floats = np.bincount(month, weights=by_day) / np.bincount(month) / 1000.0
    return means


def clearness_from_ghi(ghi_kwh_m2_d: Floats, outside_kwh_m2_d: Floats) -> Floats:
    """Return monthly clearness from daily sums of level light [fraction].

    Parameters
    ----------
    ghi_kwh_m2_d, outside_kwh_m2_d
        Monthly mean day on the ground and above the air [kWh/m2].

    Returns
    -------
    numpy.ndarray
        Clearness index, 0 in the polar night [fraction].

    Raises
    ------
    DataError
        When a month has more light than 85 % of what reaches the air.
    """
    lit = outside_kwh_m2_d > 0.005
    index = np.where(lit, ghi_kwh_m2_d / np.where(lit, outside_kwh_m2_d, 1.0), 0.0)
    dark = ~lit & (ghi_kwh_m2_d > 0.05)
    bad = np.flatnonzero((index > 0.85) | dark)
    if bad.size:
        month = int(bad[0])
        raise DataError(
            f"monthly means: month {month + 1} has "
            f"{in_unit(ghi_kwh_m2_d[month], 'kWh/m²/day', 2)} GHI, and "
            "extraterrestrial irradiation is "
            f"{outside_kwh_m2_d[month]:.2f}; allowed: up to 85 % of that. Check the "
            "unit, the order of the months, the latitude, and tilted-plane values "
            "(enter those as sun_hours with plane_tilt)"
        )
    return index


def ghi_from_sun_hours(
    sun_hours_h: Floats,
    *,
    latitude_deg: float,
    plane_tilt_deg: float,
    albedo_frac: Floats,
) -> Floats:
    """Return level light from sun hours on a tilted plane facing the equator [kWh/m2].

    Parameters
    ----------
    sun_hours_h
        Twelve figures: hours at 1 kW/m2, that is kWh/m2 a day [h].
    latitude_deg
        North positive [deg].
    plane_tilt_deg
        Tilt of the plane that they hold for [deg].
    albedo_frac
        Ground reflectance by month [fraction].

    Returns
    -------
    numpy.ndarray
        Level light of the mean day [kWh/m2].

    Notes
    -----
    Inverts the monthly method of Duffie & Beckman (2013), section 2.19, by halving;
    good to its own few percent.  `powerbudget.weather.stated_plane` begins here.
    """
    days = np.array(geometry.MEAN_DAYS, dtype=float)
    outside = np.asarray(geometry.extraterrestrial_daily_mj_m2(latitude_deg, days))
    low, high = np.zeros(12), 0.85 * outside
    for _ in range(50):
        middle = (low + high) / 2.0
        tilted = geometry.monthly_tilted_mj_m2(
            middle,
            latitude_deg=latitude_deg,
            tilt_deg=plane_tilt_deg,
            day_of_year=days,
            albedo_frac=albedo_frac,
        )
        below = np.asarray(tilted) < 3.6 * sun_hours_h
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    stuck = low > 0.8499 * outside
    if np.any(stuck & (sun_hours_h > 0.1)):
        month = int(np.flatnonzero(stuck & (sun_hours_h > 0.1))[0])
        raise DataError(
            f"monthly means: {sun_hours_h[month]:g} sun hours per day in month "
            f"{month + 1} on a plane at {plane_tilt_deg:g}° exceed a clear sky at "
            f"latitude {latitude_deg:g}°; check location, month, tilt"
        )
    return (low + high) / 2.0 / 3.6


def synthesise(
    sky: MonthlySky, years: int, seed: int, progress: Progress | None = None
) -> WeatherRecord:
    """Return hourly years made from monthly figures [record].

    Parameters
    ----------
    sky
        The place and its monthly figures.
    years
        How many [count].
    seed
        The same seed gives the same years [count].
    progress
        Called with years done and years in all [count].

    Returns
    -------
    WeatherRecord
        Years of 365 days in local standard time; monthly means over all years are
        those given, single years differ [record].

    Notes
    -----
    Daily clearness by Aguiar, Collares-Pereira and Conde (1988), hours by Aguiar and
    Collares-Pereira (1992), diffuse share by Erbs, Klein and Duffie (1982).
    """
    rng = np.random.default_rng(seed)
    year = _sun_of_year(
        sky.latitude_deg, sky.longitude_deg, sky.elevation_m, sky.utc_offset_h
    )
    daily = _daily(sky, year, years, rng)
    degc, ranges = _temperatures(sky, daily, rng)
    columns = {name: np.empty(years * 8760) for name in ("ghi", "dni", "dhi", "temp")}
    for first in range(0, years, CHUNK_YEARS):
        some = slice(first, min(first + CHUNK_YEARS, years))
        rows = slice(some.start * 8760, some.stop * 8760)
        light = _light(daily[some], year, rng, steady=sky.drawn_for is not None)
        for name, values in zip(("ghi", "dni", "dhi"), light, strict=True):
            columns[name][rows] = values.reshape(-1)
        hours = temperature.hourly_degc(degc[some], ranges[some], year.solar_hour)
        columns["temp"][rows] = hours.reshape(-1)
        if progress:
            progress(some.stop, years)
    return _record(sky, years, seed, columns)


def _record(
    sky: MonthlySky, years: int, seed: int, columns: dict[str, Floats]
) -> WeatherRecord:
    local = _starts(years)
    return WeatherRecord(
        start_utc=local - seconds(sky.utc_offset_h),
        step_h=1.0,
        latitude_deg=sky.latitude_deg,
        longitude_deg=sky.longitude_deg,
        elevation_m=sky.elevation_m,
        utc_offset_h=sky.utc_offset_h,
        ghi_w_m2=columns["ghi"],
        dni_w_m2=columns["dni"],
        dhi_w_m2=columns["dhi"],
        temp_air_degc=columns["temp"],
        wind_speed_m_s=np.full(columns["ghi"].size, sky.wind_m_s),
        albedo_frac=None,
        typical_year=False,
        source=(
            f"{count(years, 'synthetic year')} from monthly means (random seed {seed}): "
            f"{sky.source}"
        ),
        label="made by the hour, local standard time, without 29 February",
        synthetic=True,
        verdict="made",
        findings=_findings(sky, years),
    )


def _findings(sky: MonthlySky, years: int) -> tuple[Finding, ...]:
    found = [
        Finding(
            "warning",
            f"Synthetic years ({years}) from monthly means: extreme winters are "
            "estimated, not observed.",
        ),
        *sky.remarks,
    ]
    if sky.year_to_year_frac is None:
        found.append(
            Finding(
                "note",
                "Synthetic winters vary by day-to-day chance only, less than actual ones "
                "(satellite data at 39° N: 19 % in December). Set year_to_year where "
                "known.",
            )
        )
    if sky.design_minimum_degc is None:
        found.append(
            Finding(
                "note",
                "Design minimum temperature not given: periods of low temperature "
                "follow a rule of thumb. Set design_minimum from a published table.",
            )
        )
    return tuple(found)


def _starts(years: int) -> Times:
    """Return local starts of every hour of years without 29 February."""
    labels = np.arange(FIRST_YEAR, FIRST_YEAR + years)
    first = (labels - 1970).astype("datetime64[Y]").astype("datetime64[D]")
    leap = (labels % 4 == 0) & ((labels % 100 != 0) | (labels % 400 == 0))
    day = np.arange(365)
    shift = (leap[:, None] & (day >= 59)).astype(np.int64)
    dates = first[:, None] + day + shift
    hours = dates.astype("datetime64[h]")[:, :, None] + np.arange(24)
    flat: Times = hours.reshape(-1).astype("datetime64[s]")
    return flat


def _sun_of_year(
    latitude_deg: float, longitude_deg: float, elevation_m: float, zone_h: float
) -> _Year:
    start = _starts(1) - seconds(zone_h)
    middle = bare_record(start, 1.0, (latitude_deg, longitude_deg, elevation_m, zone_h))
    fine = start[:, None] + np.arange(_PARTS) * seconds(1.0 / _PARTS)
    sub = bare_record(
        fine.reshape(-1),
        1.0 / _PARTS,
        (latitude_deg, longitude_deg, elevation_m, zone_h),
    )
    sun = sun_position(sub)
    up = np.maximum(np.cos(np.radians(sun.true_zenith_deg)), 0.0).reshape(-1, _PARTS)
    extra = sun.dni_extra_w_m2.reshape(-1, _PARTS)
    lit = np.maximum((up > 0).sum(axis=1), 1)
    return _Year(
        start_utc=start,
        outside_w_m2=(up * extra).mean(axis=1).reshape(365, 24),
        sine=np.maximum(up.sum(axis=1) / lit, 1e-3).reshape(365, 24),
        solar_hour=_solar_hour(middle).reshape(365, 24),
        sun=sun_position(middle),
    )


def bare_record(
    start: Times, step_h: float, place: tuple[float, float, float, float]
) -> WeatherRecord:
    """Return a record without light, to ask where the sun stands."""
    dark = np.zeros(start.size)
    return WeatherRecord(
        start, step_h, *place, dark, dark, dark, dark, dark, None,
        typical_year=False, source="sun only", label="sun only",
    )  # fmt: skip


def _solar_hour(record: WeatherRecord) -> Floats:
    from powerbudget.weather.sun_path import sun_path

    hours: Floats = (12.0 + np.degrees(sun_path(record).hour_angle_rad) / 15.0) % 24.0
    return hours


def _daily(
    sky: MonthlySky, year: _Year, years: int, rng: np.random.Generator
) -> Floats:
    """Return the clearness of every day, monthly means kept."""
    wanted = np.broadcast_to(sky.clearness, (years, 12)).copy()
    own = sky.year_to_year_frac is not None
    if own and years > 1:
        wanted = _winters(sky, years, rng)
    share = np.ones(12)
    if sky.drawn_for is not None:
        share = sky.drawn_for / np.where(sky.clearness > 0, sky.clearness, 1.0)
    days = markov.daily_clearness(wanted * share, rng)
    weight = year.by_day
    for month in range(12):
        inside = month == markov.MONTH_OF_DAY
        days[:, inside] = markov.scaled_to_mean(
            days[:, inside], weight[inside], wanted[:, month],
            each_year=own or years == 1,
        )  # fmt: skip
    return days


def _winters(sky: MonthlySky, years: int, rng: np.random.Generator) -> Floats:
    """Return monthly means by year with the stated spread and the stated mean."""
    spread = np.asarray(sky.year_to_year_frac)
    chance = rng.standard_normal((years, 12))
    chance = (chance - chance.mean(axis=0)) / np.maximum(chance.std(axis=0), 1e-9)
    wanted = np.clip(sky.clearness * (1.0 + spread * chance), 0.02, 0.80)
    for _ in range(20):
        mean = np.maximum(wanted.mean(axis=0), 1e-9)
        wanted = np.clip(wanted * (sky.clearness / mean), 0.02, 0.82)
    return np.where(sky.clearness > 0, wanted, 0.0)


def _temperatures(
    sky: MonthlySky, daily: Floats, rng: np.random.Generator
) -> tuple[Floats, Floats]:
    """Return daily means and ranges, monthly means kept over all years."""
    normals = temperature.climate(sky.temperature_degc, sky.daily_range_k)
    clear = np.empty_like(daily)
    ranges = np.empty_like(daily)
    for month in range(12):
        inside = month == markov.MONTH_OF_DAY
        some = daily[:, inside]
        mean, spread = float(some.mean()), float(some.std())
        clear[:, inside] = (some - mean) / spread if spread > 0 else 0.0
        wide = np.clip(some / mean, 0.4, 1.5) if mean > 0 else np.ones_like(some)
        # A clear day is colder at night and warmer at noon than a dull one.
        ranges[:, inside] = normals.range_k[inside] * wide / wide.mean()
    spread_k, _ = temperature.spread_k(normals, sky.design_minimum_degc)
    unit = temperature.departures(clear, normals, rng)
    days = normals.mean_degc + spread_k * unit
    for month in range(12):
        inside = month == markov.MONTH_OF_DAY
        days[:, inside] += sky.temperature_degc[month] - days[:, inside].mean()
    return days, ranges


def _light(
    daily: Floats, year: _Year, rng: np.random.Generator, *, steady: bool
) -> tuple[Floats, Floats, Floats]:
    """Return global, direct and diffuse light by the hour [W/m2]."""
    outside = year.outside_w_m2
    clearness = tag.hourly_clearness(
        daily, year.sine, outside, year.solar_hour, rng, steady=steady
    )
    ghi = clearness * outside
    sine = np.cos(np.radians(year.sun.zenith_deg)).reshape(365, 24)
    usable = sine > _LOWEST_BEAM_SINE
    beam = ghi * (1.0 - tag.erbs_diffuse_frac(clearness))
    dni = np.where(usable, beam / np.where(usable, sine, 1.0), 0.0)
    dni = np.minimum(dni, _BRIGHTEST_BEAM * year.sun.dni_extra_w_m2.reshape(365, 24))
    # What the beam cannot hold stays in the sky, so that the three close.
    return ghi, dni, np.maximum(ghi - dni * np.maximum(sine, 0.0), 0.0)


def monthly_sky_from(record: WeatherRecord) -> MonthlySky:
    """Return the monthly figures of a record, to make more years like it [sky].

    Parameters
    ----------
    record
        A measured record [record].

    Returns
    -------
    MonthlySky
        Its clearness, temperatures, ranges, yearly minimum and spread.
    """
    from powerbudget.weather.statistics import month_by_year

    outside = outside_monthly_kwh_m2_d(
        record.latitude_deg, record.longitude_deg, record.utc_offset_h
    )
    months = month_by_year(record)
    return MonthlySky(
        latitude_deg=record.latitude_deg,
        longitude_deg=record.longitude_deg,
        elevation_m=record.elevation_m,
        utc_offset_h=record.utc_offset_h,
        clearness=clearness_from_ghi(np.nanmean(months.ghi_kwh_m2_d, axis=0), outside),
        temperature_degc=np.nanmean(months.temp_degc, axis=0),
        daily_range_k=np.nanmean(months.range_k, axis=0),
        design_minimum_degc=float(np.nanmean(np.nanmin(months.lowest_degc, axis=1))),
        year_to_year_frac=months.spread_frac if months.years > 3 else None,
        wind_m_s=float(record.wind_speed_m_s.mean()),
        source=f"statistics of {record.source}",
    )
