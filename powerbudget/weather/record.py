"""The hourly sky in one canonical form, whatever file it came from.

One row is the mean over one interval; the stamp is the start of that interval in
UTC.  What a source means by its own stamps is settled once, when it is read, and
kept in words.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from powerbudget.cache import sealed
from powerbudget.errors import DataError, Finding

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Times = NDArray[np.datetime64]

HOURS_PER_YEAR = 8760.0
SERIES = ("ghi_w_m2", "dni_w_m2", "dhi_w_m2", "temp_air_degc", "wind_speed_m_s")


@dataclass(frozen=True)
class DesignTemps:
    """Extreme temperatures of a place, from a published table [degC].

    Parameters
    ----------
    annual_minimum_degc
        Mean of the lowest temperature of each year; NaN when not given [degC].
    minimum_50_years_degc
        Lowest temperature of fifty years; NaN when not given [degC].
    heating_99_6_degc
        Exceeded in 99.6 % of the hours; NaN when not given [degC].
    annual_maximum_degc
        Mean of the highest temperature of each year; NaN when not given [degC].
    source
        Where they come from [text].
    """

    annual_minimum_degc: float = math.nan
    minimum_50_years_degc: float = math.nan
    heating_99_6_degc: float = math.nan
    annual_maximum_degc: float = math.nan
    source: str = ""


def seconds(hours: float) -> np.timedelta64:
    """Return a time span as whole seconds [s].

    Parameters
    ----------
    hours
        The span [h].

    Returns
    -------
    numpy.timedelta64
        The span [s].
    """
    return np.timedelta64(round(hours * 3600.0), "s")


def day_of_year(moments: Times) -> Floats:
    """Return days since the year began, counted from 1, with the hour [days].

    Parameters
    ----------
    moments
        Moments in UTC [datetime64].

    Returns
    -------
    numpy.ndarray
        1.0 at 00:00 on 1 January, 1.5 at noon [days].

    Examples
    --------
    >>> day_of_year(np.array(["2001-02-01T12:00:00"], dtype="datetime64[s]"))
    array([32.5])
    """
    year_start = moments.astype("datetime64[Y]").astype("datetime64[s]")
    days: Floats = 1.0 + (moments - year_start).astype(np.int64) / 86400.0
    return days


@dataclass(frozen=True, eq=False)
class WeatherRecord:
    """Irradiance, air temperature and wind at one place, interval by interval.

    Parameters
    ----------
    start_utc
        Start of every interval, in UTC, regular apart from listed gaps [datetime64].
    step_h
        Length of the interval [h].
    latitude_deg, longitude_deg
        Place of the record, north and east positive [deg].
    elevation_m
        Height above sea level [m].
    utc_offset_h
        Local standard time less UTC, fixed all year, no summer time [h].
    ghi_w_m2, dni_w_m2, dhi_w_m2
        Global horizontal, direct normal and diffuse horizontal irradiance, mean
        over the interval [W/m2].
    temp_air_degc
        Air temperature [degC].
    wind_speed_m_s
        Wind speed [m/s].
    albedo_frac
        Share of the light that the ground gives back, None where the source has
        none that can be used [fraction].
    typical_year
        True when the months come from different years [bool].
    source
        Where the record came from [text].
    label
        What the stamps of the source meant [text].
    sun_offset_h
        From the start of an interval to the moment at which the sun stands for
        it; half the interval when left out [h].
    findings
        What a careful colleague would point out [list].
    synthetic
        True for years made from monthly figures, which share one year's sun [bool].
    snow_depth_m
        Snow on the ground, None where the source has none [m].
    design
        Extreme temperatures of the place, None where they are not known.
    verdict
        ``sound`` or ``doubtful`` after the audit, ``made`` for synthetic years
        [text].

    Notes
    -----
    A typical year carries the label year 1990 and begins at 00:00 local standard
    time on 1 January; where the source runs in UTC its rows are rotated, end to
    start, rather than shifted, so that every local day is whole.  Month and day of
    an interval are those of its middle.
    """

    start_utc: Times
    step_h: float
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    utc_offset_h: float
    ghi_w_m2: Floats
    dni_w_m2: Floats
    dhi_w_m2: Floats
    temp_air_degc: Floats
    wind_speed_m_s: Floats
    albedo_frac: Floats | None
    typical_year: bool
    source: str
    label: str
    sun_offset_h: float = math.nan
    findings: tuple[Finding, ...] = ()
    synthetic: bool = False
    snow_depth_m: Floats | None = None
    design: DesignTemps | None = None
    verdict: str = "not checked"

    def __post_init__(self) -> None:
        start = np.asarray(self.start_utc).astype("datetime64[s]")
        object.__setattr__(self, "start_utc", sealed(start))
        if math.isnan(self.sun_offset_h):
            object.__setattr__(self, "sun_offset_h", self.step_h / 2.0)
        for name in SERIES:
            values = np.asarray(getattr(self, name), dtype=np.float64)
            if values.shape != start.shape:
                raise DataError(
                    f"{self.source}: {name} has {values.size} values for "
                    f"{start.size} intervals; every column needs one per interval"
                )
            object.__setattr__(self, name, sealed(values))
        for name in ("albedo_frac", "snow_depth_m"):
            known = getattr(self, name)
            if known is not None:
                object.__setattr__(self, name, sealed(np.asarray(known)))

    @property
    def n(self) -> int:
        """Number of intervals [count]."""
        return int(self.start_utc.size)

    @property
    def years(self) -> float:
        """Length of the record in years of 8760 hours [years]."""
        return self.n * self.step_h / HOURS_PER_YEAR

    @property
    def sun_utc(self) -> Times:
        """Moment at which the sun stands for each interval, UTC [datetime64]."""
        return self.start_utc + seconds(self.sun_offset_h)

    @property
    def start_local(self) -> Times:
        """Start of each interval in local standard time [datetime64]."""
        return self.start_utc + seconds(self.utc_offset_h)

    @property
    def hour_local(self) -> Floats:
        """Hour of the day at the start of each interval, local standard time [h]."""
        start = self.start_local
        since_midnight = (start - start.astype("datetime64[D]")).astype(np.int64)
        hours: Floats = since_midnight / 3600.0
        return hours

    @property
    def day_local(self) -> Times:
        """Local date that holds the middle of each interval [datetime64]."""
        return (self.start_local + seconds(self.step_h / 2)).astype("datetime64[D]")

    @property
    def month(self) -> Integers:
        """Calendar month of each interval, 1 to 12, local standard time [count]."""
        months = self.day_local.astype("datetime64[M]").astype(np.int64)
        return months % 12 + 1

    @property
    def day_number(self) -> Integers:
        """Local days since the first day of the record, from 0 [count]."""
        day = self.day_local.astype(np.int64)
        return day - day[0] if day.size else day


def cut(record: WeatherRecord, rows: slice | NDArray[np.int64]) -> WeatherRecord:
    """Return some intervals of a record as a record [record].

    Parameters
    ----------
    record
        The weather [record].
    rows
        Which intervals [slice or numbers].

    Returns
    -------
    WeatherRecord
        The same place and findings, fewer intervals [record].
    """

    def some(values: Floats | None) -> Floats | None:
        return None if values is None else values[rows]

    return replace(
        record,
        start_utc=record.start_utc[rows],
        albedo_frac=some(record.albedo_frac),
        snow_depth_m=some(record.snow_depth_m),
        **{name: getattr(record, name)[rows] for name in SERIES},
    )
