"""Weather files as people have them: labels, zones, codes, gaps and foreign files."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from powerbudget.errors import DataError, InputError
from powerbudget.site.tables import Place, Weather
from powerbudget.weather import (
    WeatherRecord,
    daily_ghi_kwh_m2,
    monthly_means,
    read_file,
    read_files,
    read_record,
    read_weather,
    sun_position,
    worst_spells,
)

SHARED = Path(__file__).resolve().parents[2] / ".." / "shared" / "weather"
FORMATS = SHARED / "formats"
CALIFORNIA = SHARED / "nsrdb-california-1998-2015"
shared = pytest.mark.skipif(
    not SHARED.exists(), reason="the folder of real weather files is not beside us"
)
PVGIS = "tmy_45.000_8.000_2005_2023"
SERIES = ("ghi_w_m2", "dni_w_m2", "dhi_w_m2", "temp_air_degc", "wind_speed_m_s")
shipped = cache(read_record)
shared_file = cache(read_file)


def place(latitude: float, longitude: float, zone: str | None = None) -> Place:
    """Return the [site] table of a place."""
    table = {"name": "test", "latitude": latitude, "longitude": longitude}
    return Place.model_validate(table | ({"time_zone": zone} if zone else {}))


def epw_rows(record: WeatherRecord, year: int | None = None) -> list[list[str]]:
    """Return EPW data rows, 35 fields each, that say what a record says."""
    rows = []
    for i, start in enumerate(record.start_local):
        date = start.item()
        row = ["0"] * 35
        # Months of different years, as typical years are made up.
        row[:4] = [str(year or 1980 + 7 * date.month % 20), str(date.month),
                   str(date.day), str(date.hour + 1)]  # fmt: skip
        row[6] = f"{record.temp_air_degc[i]:.1f}"
        row[13] = f"{record.ghi_w_m2[i]:.0f}"
        row[14] = f"{record.dni_w_m2[i]:.0f}"
        row[15] = f"{record.dhi_w_m2[i]:.0f}"
        row[21] = f"{record.wind_speed_m_s[i]:.1f}"
        row[32] = "0.2"
        rows.append(row)
    return rows


def epw_text(rows: list[list[str]], zone: float = -9.0, kind: str = "TMY3") -> str:
    """Return an EPW file around data rows, at Sand Point."""
    head = [
        f"LOCATION,Sand Point,AK,USA,{kind},703165,55.317,-160.517,{zone},7.0",
        "DESIGN CONDITIONS,0",
        "TYPICAL/EXTREME PERIODS,0",
        "GROUND TEMPERATURES,0",
        "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
        "COMMENTS 1,made for a test",
        "COMMENTS 2,",
        "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31",
    ]
    return "\n".join(head + [",".join(row) for row in rows]) + "\n"


@cache
def sand_point_rows() -> tuple[tuple[str, ...], ...]:
    """Return Sand Point's typical year as EPW rows."""
    return tuple(tuple(row) for row in epw_rows(shipped("sand-point")))


def rows_of() -> list[list[str]]:
    """Return a fresh copy of Sand Point's rows."""
    return [list(row) for row in sand_point_rows()]


def written(tmp_path: Path, text: str, name: str = "sky.epw") -> Path:
    """Return the path of a file that holds a text."""
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def texts(record: WeatherRecord) -> str:
    """Return all findings of a record as one text."""
    return "\n".join(f"{f.severity}: {f.text}" for f in record.findings)


# --- labels and zones ------------------------------------------------------


def test_epw_and_tmy3_of_one_station_have_the_same_sun(tmp_path):
    """One station in two formats, usually an hour apart, becomes the same record."""
    record = read_file(written(tmp_path, epw_text(rows_of())))
    other = shipped("sand-point")
    assert np.array_equal(record.sun_utc, other.sun_utc)
    for name in SERIES:
        assert getattr(record, name) == pytest.approx(getattr(other, name), abs=1e-9)
    assert record.typical_year
    assert record.albedo_frac is not None


def test_a_clock_an_hour_off_is_noticed(tmp_path):
    """A file stamped in a neighbouring zone gets a warning with the right shift."""
    record = read_file(written(tmp_path, epw_text(rows_of(), zone=-10.0)))
    assert re.search(r"warning: Time labels.*-60 min", texts(record))
    right = read_file(written(tmp_path, epw_text(rows_of())))
    assert "time labels" not in texts(right)


@shared
def test_pvgis_in_three_formats_is_one_record():
    """PVGIS csv, json and epw of one download give the same light at the same sun."""
    csv, json, epw = (
        shared_file(FORMATS / f"{PVGIS}.{e}") for e in ("csv", "json", "epw")
    )
    for other in (json, epw):
        assert np.array_equal(csv.start_utc, other.start_utc)
        assert np.array_equal(csv.sun_utc, other.sun_utc)
        assert csv.utc_offset_h == other.utc_offset_h == 1.0
        for name in ("ghi_w_m2", "dni_w_m2", "dhi_w_m2", "temp_air_degc"):
            assert getattr(csv, name) == pytest.approx(getattr(other, name), abs=1e-9)
        # The epw prints wind to one decimal.
        assert csv.wind_speed_m_s == pytest.approx(other.wind_speed_m_s, abs=0.0501)
    # 0.1761 h from the header, to the second.
    assert csv.sun_utc[0] - csv.start_utc[0] == np.timedelta64(634, "s")
    assert epw.albedo_frac is None
    assert "8,760 of 8,760 rows" in texts(epw)


@shared
def test_pvgis_year_begins_at_local_midnight():
    """The UTC year is rotated: its first local hour is the last row of the file."""
    record = shared_file(FORMATS / f"{PVGIS}.csv")
    assert str(record.start_local[0]) == "1990-01-01T00:00:00"
    assert str(record.start_utc[0]) == "1989-12-31T23:00:00"
    # First row 20180101:0000 is 2.04 degC, last row 20161231:2300 is 2.1 degC.
    assert list(record.temp_air_degc[:2]) == [2.1, 2.04]
    assert record.ghi_w_m2.sum() / 1000 == pytest.approx(1436, abs=0.5)


@shared
def test_pvgis_takes_the_clock_of_the_site():
    """The site's time zone, where given, decides where the local day begins."""
    record = read_weather(
        Weather(file=f"{PVGIS}.csv"), base=FORMATS, site=place(45.1, 8.2, "UTC+2")
    )
    assert str(record.start_local[0]) == "1990-01-01T00:00:00"
    assert str(record.start_utc[0]) == "1989-12-31T22:00:00"
    assert record.temp_air_degc[2] == 2.04
    assert "the site's, UTC+2 h" in texts(record)


@shared
def test_nsrdb_stamps_are_the_middle_of_the_interval():
    """The file's own zenith column agrees with the sun at the record's moments."""
    import pandas as pd

    path = FORMATS / "test_read_psm3.csv"
    record = shared_file(path)
    zenith = pd.read_csv(path, skiprows=2)["Solar Zenith Angle"].to_numpy(float)
    sun = sun_position(record)
    assert str(record.start_local[0]) == "2016-12-31T23:45:00"
    # The column includes refraction; a quarter of an hour would be up to 3.75 deg.
    assert np.abs(sun.zenith_deg - zenith).max() < 0.065
    assert np.abs(sun.zenith_deg - zenith).mean() < 0.005
    assert record.month[0] == 1


def test_24_00_on_28_february_of_a_leap_year_stays_in_february(tmp_path):
    """TMY3 rows from a leap year lose neither an hour nor a day."""
    import pvlib

    source = Path(pvlib.__file__).parent / "data" / "703165TY.csv"
    text = re.sub(r"(?m)^02/(\d\d)/\d{4}", r"02/\1/1996", source.read_text())
    record = read_file(written(tmp_path, text, "leap.csv"))
    assert np.array_equal(record.ghi_w_m2, shipped("sand-point").ghi_w_m2)


def test_a_midnight_stamped_1_march_of_a_leap_year_stays_in_february(tmp_path):
    """Files that write 00:00 for 24:00 keep the last hour of 28 February."""
    import pvlib

    source = Path(pvlib.__file__).parent / "data" / "703165TY.csv"
    text = re.sub(r"(?m)^02/(\d\d)/\d{4}", r"02/\1/1996", source.read_text())
    assert "02/28/1996,24:00" in text
    text = text.replace("02/28/1996,24:00", "03/01/1996,00:00")
    record = read_file(written(tmp_path, text, "leap.csv"))
    assert np.array_equal(record.temp_air_degc, shipped("sand-point").temp_air_degc)


# --- real years -------------------------------------------------------------

# File, annual GHI [kWh/m2], worst month [kWh/m2 a day], lowest air temperature.
REAL = [
    ("formats/test_read_psm3.csv", 1749, 1.61, -27.7, 0.5),
    ("formats/test_read_psm4.csv", 1827, 2.17, -22.2, 0.5),
]
TYPICAL = [
    ("epw/USA_AZ_Davis-Monthan.AFB.722745_TMY3.epw", 2002, 3.31, -1.1, 1.0),
    ("epw/USA_CO_Aurora-Buckley.Field.ANGB.724695_TMY3.epw", 1660, 2.25, -23.0, 1.0),
    (
        "epw/USA_WA_Port.Angeles-William.R.Fairchild.Intl.AP.727885_TMY3.epw",
        1262, 0.74, -6.0, 1.0,
    ),
    (f"formats/{PVGIS}.json", 1436, 1.49, -2.3, 1.0),
]  # fmt: skip


@shared
@pytest.mark.parametrize(
    ("name", "annual", "worst", "lowest", "step_h"), REAL + TYPICAL
)
def test_real_files_keep_their_energy(name, annual, worst, lowest, step_h):
    """Annual sum, worst month and lowest temperature are those found elsewhere."""
    record = shared_file(SHARED / name)
    assert record.step_h == step_h
    assert record.years == 1.0
    assert record.ghi_w_m2.sum() * step_h / 1000 == pytest.approx(annual, abs=0.5)
    rows = monthly_means(record)
    assert min(r.ghi_kwh_m2_day for r in rows) == pytest.approx(worst, abs=0.0051)
    assert record.temp_air_degc.min() == pytest.approx(lowest, abs=0.051)
    assert record.typical_year == (step_h == 1.0)
    assert ("Typical year" in texts(record)) == record.typical_year
    assert "time labels" not in texts(record)


@shared
def test_a_real_winter_is_worse_than_the_typical_one():
    """The share in the typical-year warning is what the two figures give."""
    # Same pixel: worst month of its typical year 2.08 kWh/m2 a day.
    rows = monthly_means(shared_file(FORMATS / "test_read_psm3.csv"))
    worst = min(row.ghi_kwh_m2_day for row in rows)
    assert 1 - worst / 2.08 == pytest.approx(0.23, abs=0.005)


@cache
def california() -> WeatherRecord:
    """Return the eighteen years as one record."""
    pattern = Weather(file="nsrdb-california-1998-2015/*.csv")
    return read_weather(pattern, base=SHARED)


@shared
def test_eighteen_years_in_one_record():
    """A pattern joins yearly files; missing leap days are a note, not dark days."""
    record = california()
    assert (record.n, record.years) == (18 * 17520, 18.0)
    assert not record.typical_year
    assert "No 29 February in 2000, 2004, 2008, 2012" in texts(record)
    assert "warning" not in texts(record)
    assert len(np.unique(record.day_number)) == 18 * 365
    assert record.day_number[-1] == 18 * 365 + 4 - 1
    yearly = record.ghi_w_m2.reshape(18, -1).sum(axis=1) * 0.5 / 1000
    found = [yearly.mean(), yearly.std(ddof=1), yearly.min(), yearly.max()]
    assert found == pytest.approx([1897, 68, 1703, 1996], abs=0.5)


@shared
def test_dark_spells_of_eighteen_years():
    """Darkest runs agree with those worked out apart; no leap day counts as dark."""
    spells = worst_spells(california())
    assert [spell.days for spell in spells] == [1, 3, 5, 7, 10, 14, 20, 30]
    printed = [0.16, 0.31, 0.54, 0.65, 0.71, 0.79, 0.89, 1.03]
    found = [spell.mean_kwh_m2_day for spell in spells]
    assert found == pytest.approx(printed, abs=0.00501)
    assert spells[4].start == "1998-01-06"
    assert not any(spell.start[5:] == "02-29" for spell in spells)


@shared
def test_a_run_may_pass_over_a_missing_leap_day_only():
    """28 February and 1 March adjoin; a run never spans a missing year."""
    files = [next(CALIFORNIA.glob(f"*_{year}.csv")) for year in (2004, 2006)]
    record = read_files(files)
    assert "2005-01-01 00:00 for 8760 h" in texts(record)
    assert record.years == 2.0
    assert worst_spells(record, (366,)) == ()
    (whole,) = worst_spells(read_file(files[0]), (365,))
    assert whole.start == "2004-01-01"


def test_a_day_cut_in_half_is_no_dark_day(tmp_path):
    """A record that begins at noon does not take its first afternoon for a day."""
    rows = epw_rows(shipped("sand-point"), 2009)
    record = read_file(written(tmp_path, epw_text(rows[12:-3], kind="measured")))
    dates, daily = daily_ghi_kwh_m2(record)
    whole = daily_ghi_kwh_m2(shipped("sand-point"))[1]
    assert [str(dates[0]), str(dates[-1])] == ["2009-01-02", "2009-12-30"]
    assert daily == pytest.approx(whole[1:-1], abs=1e-9)


@shared
def test_files_that_do_not_fit_together_are_refused():
    """The same year twice, two places, or a typical year among real ones."""
    year = next(CALIFORNIA.glob("*_1998.csv"))
    with pytest.raises(DataError, match=r"17,520 rows with the time of another"):
        read_files([year, year])
    with pytest.raises(DataError, match=r"latitude is 40.53 deg and .* has 38.93"):
        read_files([year, FORMATS / "test_read_psm3.csv"])
    with pytest.raises(DataError, match="is a typical year; only files of actual"):
        read_files([year, FORMATS / f"{PVGIS}.csv"])


def test_leap_year_kept_when_it_is_there(tmp_path):
    """A real leap year of 8784 hours keeps its 29 February."""
    rows = [[*row] for row in epw_rows(shipped("sand-point"), 2008)]
    at = (31 + 28) * 24
    leap = [[*row] for row in rows[at - 24 : at]]
    for row in leap:
        row[2] = "29"
    text = epw_text(rows[:at] + leap + rows[at:], kind="measured")
    record = read_file(written(tmp_path, text))
    assert (record.n, record.typical_year) == (8784, False)
    assert "2008" in texts(record)
    assert str(record.day_local[at]) == "2008-02-29"
    without = read_file(written(tmp_path, epw_text(rows, kind="measured")))
    assert without.n == 8760
    assert "No 29 February in 2008" in texts(without)


def test_leap_day_of_a_typical_year_is_left_out(tmp_path):
    """A typical year with a 29 February becomes 365 days, and says so."""
    rows = rows_of()
    at = (31 + 28) * 24
    for row in rows[31 * 24 : at]:
        row[0] = "1996"
    leap = [[*row] for row in rows[at - 24 : at]]
    for row in leap:
        row[2] = "29"
    record = read_file(written(tmp_path, epw_text(rows[:at] + leap + rows[at:])))
    assert np.array_equal(record.ghi_w_m2, shipped("sand-point").ghi_w_m2)
    assert "29 February left out" in texts(record)


# --- codes for missing values, gaps, impossible values -----------------------


def test_missing_codes_are_never_taken_for_values(tmp_path):
    """999, 99.9 and 9999 are gaps: bridged, replaced or dropped, and counted."""
    rows = rows_of()
    for i in (4000, 4001):
        rows[i][6] = "99.9"
    rows[5000][13] = "9999"
    for i in range(100, 110):
        rows[i][21] = "999"
    rows[7][32] = "999"
    record = read_file(written(tmp_path, epw_text(rows)))
    before, after = record.temp_air_degc[[3999, 4002]]
    assert record.temp_air_degc[4000] == pytest.approx((2 * before + after) / 3)
    assert (record.wind_speed_m_s[100:110] == 1.0).all()
    assert record.albedo_frac is None
    assert record.ghi_w_m2.max() < 1400
    assert "horizontal irradiance 1, ambient temperature 2" in texts(record)
    assert "Wind speed is missing in 10 of 8,760 rows: 1 m/s" in texts(record)
    assert "1 of 8,760 rows; the column is not used" in texts(record)


def test_gaps_of_rows(tmp_path):
    """Two missing rows are bridged; five are refused with the time of the gap."""
    rows = rows_of()
    short = read_file(written(tmp_path, epw_text(rows[:1000] + rows[1002:])))
    assert short.n == 8760
    assert "global horizontal irradiance 2" in texts(short)
    with pytest.raises(DataError, match="1990-02-11 16:00 for 5 h"):
        read_file(written(tmp_path, epw_text(rows[:1000] + rows[1005:])))
    real = epw_rows(shipped("sand-point"), 2009)
    text = epw_text(real[:1000] + real[1005:], kind="measured")
    with pytest.raises(DataError, match="2009-02-11 17:00 for 5 h"):
        read_file(written(tmp_path, text))


def test_many_gaps_are_listed_but_not_all(tmp_path):
    """Seven long gaps: the first five are listed, the others counted."""
    rows = rows_of()
    for first in range(100, 800, 100):
        for i in range(first, first + 6):
            rows[i][6] = "99.9"
    with pytest.raises(DataError, match=r"01-05 04:00 for 6 h.* and 2 more"):
        read_file(written(tmp_path, epw_text(rows)))


def test_a_file_cut_short_is_refused(tmp_path):
    """Half a typical year is not stretched over the year."""
    with pytest.raises(DataError, match=r"1990-07-01 00:00 for 4416 h"):
        read_file(written(tmp_path, epw_text(rows_of()[: 181 * 24])))


def test_negative_light_is_set_to_zero_and_counted(tmp_path):
    """Night readings a little below zero add nothing and are reported."""
    rows = rows_of()
    for i in (0, 1, 2):
        rows[i][13] = "-4.4"
    record = read_file(written(tmp_path, epw_text(rows)))
    assert record.ghi_w_m2.min() == 0.0
    assert "3 negative irradiance values" in texts(record)


def test_more_light_than_the_sun_sends_is_refused(tmp_path):
    """A file in kJ instead of Wh is refused, with the unit as the hint."""
    rows = rows_of()
    for row in rows:
        for column in (13, 14, 15):
            row[column] = str(float(row[column]) * 3.6 / 2)
    with pytest.raises(DataError, match=r"QC failed.*Check unit"):
        read_file(written(tmp_path, epw_text(rows)))


def test_a_few_bright_hours_are_a_remark(tmp_path):
    """Three impossible noon hours are named, not refused."""
    rows = rows_of()
    for day in (10, 20, 30):
        rows[day * 24 + 12][13] = "900"
    record = read_file(written(tmp_path, epw_text(rows)))
    assert "warning: 3 of 44" in texts(record)


def test_columns_that_do_not_belong_together(tmp_path):
    """Global light that is not beam plus diffuse gets a warning."""
    rows = rows_of()
    for row in rows:
        row[15] = row[13]
    record = read_file(written(tmp_path, epw_text(rows)))
    assert "differs from diffuse plus beam by" in texts(record)


# --- NSRDB polar --------------------------------------------------------------


@shared
@pytest.mark.parametrize(
    "name", ["test_psm4_polar_2023.csv", "test_psm4_polar_tmy_2023.csv"]
)
def test_a_download_without_temperature_is_refused(name):
    """A file with global irradiance only says which columns to ask for."""
    with pytest.raises(
        DataError, match=r"no direct normal.*no ambient temperature.*download"
    ):
        read_file(FORMATS / name)


def with_columns(name: str, tmp_path: Path) -> Path:
    """Return a polar file with the columns that it lacks."""
    lines = (FORMATS / name).read_text().splitlines()
    extra = [",DHI,DNI,Temperature,Wind Speed"]
    extra += [f",{line.rsplit(',', 1)[1]},0,-10,2" for line in lines[3:]]
    body = [a + b for a, b in zip(lines[2:], extra, strict=True)]
    return written(tmp_path, "\n".join(lines[:2] + body) + "\n", name)


@shared
def test_polar_typical_year_is_stamped_half_an_hour_late(tmp_path):
    """The audit finds the half hour by which a published file's labels are off."""
    record = read_file(with_columns("test_psm4_polar_tmy_2023.csv", tmp_path))
    # 53 light rows with the sun down and 64 dark rows with it up; none at -30 min.
    assert "-30 min" in texts(record)
    count = int(
        re.search(r"match the sun position: (\d+) rows", texts(record)).group(1)
    )
    assert count == pytest.approx(53 + 64, abs=3)
    assert record.typical_year
    assert str(record.start_local[0]) == "1990-01-01T00:00:00"


@shared
def test_polar_year_is_right_as_stamped(tmp_path):
    """The yearly file of the same place passes the audit and keeps its dates."""
    record = read_file(with_columns("test_psm4_polar_2023.csv", tmp_path))
    assert "time labels" not in texts(record)
    assert not record.typical_year
    # 945 kWh/m2 in the year, 0.06 kWh/m2 a day in December.
    assert record.ghi_w_m2.sum() / 1000 == pytest.approx(945, abs=0.5)
    december = monthly_means(record)[-1]
    assert december.ghi_kwh_m2_day == pytest.approx(0.06, abs=0.0051)


# --- PVGIS hourly -------------------------------------------------------------


@shared
def test_light_on_a_tilted_plane_is_refused():
    """Plane-of-array values cannot be turned back into a sky."""
    with pytest.raises(DataError, match=r"tilted 30 deg .*slope 0"):
        read_file(
            FORMATS / "pvgis_hourly_Timeseries_45.000_8.000_SA_30deg_0deg_2016_2016.csv"
        )
    with pytest.raises(DataError, match="a moving plane"):
        read_file(
            FORMATS
            / "pvgis_hourly_Timeseries_45.000_8.000_SA2_10kWp_CIS_5_2a_2013_2014.json"
        )


# Height of the sun ten minutes past the hour, 1 January, 45 N 8 E [deg].
HEIGHTS_DEG = {8: 8.1, 9: 14.8, 10: 19.5, 11: 21.8, 12: 21.4, 13: 18.4, 14: 13.2}


def pvgis_hourly(slope: str = "0 deg.") -> str:
    """Return two days in the layout of the service, on a level plane."""
    head = (
        "Latitude (decimal degrees):\t45.000\nLongitude (decimal degrees):\t8.000\n"
        "Elevation (m):\t250\nRadiation database:\tPVGIS-SARAH\n\n\n"
        f"Slope: {slope} \nAzimuth: 0 deg. \n"
        "time,Gb(i),Gd(i),Gr(i),H_sun,T2m,WS10m,Int\n"
    )
    rows = []
    for day in (1, 2):
        for hour in range(24):
            height = HEIGHTS_DEG.get(hour, 0.0)
            beam, diffuse = (100.0, 50.0) if height else (0.0, 0.0)
            rows.append(
                f"201601{day:02d}:{hour:02d}10,{beam},{diffuse},0.0,{height},3.0,1.4,0.0"
            )
    return head + "\n".join(rows) + "\n\nGb(i): beam\n"


def test_light_on_a_level_plane_is_a_sky(tmp_path):
    """Beam on the level becomes direct normal by the height of the sun."""
    record = read_file(written(tmp_path, pvgis_hourly(), "hourly.csv"))
    assert record.n == 48
    assert record.sun_offset_h == pytest.approx(1 / 6)
    noon = 11
    assert record.ghi_w_m2[noon] == 150.0
    assert record.dni_w_m2[noon] == pytest.approx(100.0 / np.sin(np.radians(21.8)))
    assert record.dhi_w_m2[noon] == 50.0
    assert str(record.start_utc[noon]) == "2016-01-01T11:00:00"
    assert "covers 2 d" in texts(record)


# --- foreign files ------------------------------------------------------------

FOREIGN = {
    "empty": (b"", "is empty"),
    "blank": (b"\n \n", "is empty"),
    "image": (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "is not plain text"),
    "utf-16": ("LOCATION,a,b".encode("utf-16"), "is not plain text"),
    "letter": (
        "Sehr geehrte Damen,\nMit Gr\xfc\xdfen\n".encode("latin-1"),
        "not a readable weather file",
    ),
    "load list": (b"name;power (W)\nradio;5,5\n", "not a readable weather file"),
    "json": (b'{"a": 1}', "not a readable weather file"),
    "cut json": (b'{"outputs": {"tmy_hourly": [{"T2m"', "incomplete"),
    "epw head": (b"LOCATION,a,b,c,TMY3,1,50,8,1,100\nDESIGN", "DATA PERIODS"),
    "nsrdb head": (b"Source,Location ID,Time Zone\nNSRDB,1,0\n", "cannot be read"),
    "tmy3 head": (
        b'703165,"A",AK,-9.0,55,-160,7\nDate (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2)\n',
        "cannot be read|holds 0 rows",
    ),
    "pvgis head": (
        b"Latitude (decimal degrees): 45\ntime(UTC),T2m\n",
        "cannot be read",
    ),
}


@pytest.mark.parametrize("kind", FOREIGN)
@pytest.mark.filterwarnings("error")
def test_foreign_content_is_one_clear_message(tmp_path, kind):
    """What is no weather file is refused in one message that names the file."""
    content, message = FOREIGN[kind]
    path = tmp_path / "file.dat"
    path.write_bytes(content)
    with pytest.raises(DataError, match=message) as caught:
        read_file(path)
    assert "file.dat" in str(caught.value)
    assert "\n" not in str(caught.value)


@shared
@pytest.mark.parametrize(
    "name",
    [
        "surfrad-slv16001.dat",
        "CRN_with_problems.txt",
        "cams_radiation_monthly.csv",
        "test_read_pvgis_horizon.csv",
        "../epw/USA_AZ_Davis-Monthan.AFB.722745_TMY3.ddy",
    ],
)
def test_other_formats_of_the_trade_are_refused_with_the_list(name):
    """A format that is not read is answered with those that are."""
    with pytest.raises(DataError, match=r"EPW.*TMY2.*TMY3.*NSRDB.*PVGIS"):
        read_file(FORMATS / name)


@pytest.mark.parametrize(
    "fmt", ["epw", "tmy2", "tmy3", "nsrdb", "pvgis-tmy", "pvgis-hourly"]
)
def test_a_wrong_format_word_is_refused(tmp_path, fmt):
    """A load list is no weather even where the user insists."""
    path = written(tmp_path, "name,power\nradio,5\n", "loads.csv")
    with pytest.raises(DataError, match=r"loads\.csv"):
        read_file(path, fmt)


def test_folder_missing_file_and_format_word(tmp_path):
    """A folder, a missing file and an unknown format word name the way out."""
    with pytest.raises(InputError, match=r"is a folder.*\*\.csv"):
        read_file(tmp_path)
    with pytest.raises(InputError, match=r"no such file.*nowhere\.epw"):
        read_file(tmp_path / "nowhere.epw")
    with pytest.raises(InputError, match="did you mean 'tmy3'"):
        read_file(tmp_path / "nowhere.epw", "tmy-3")
    with pytest.raises(InputError, match="no file matches"):
        read_weather(Weather(file="*.epw"), base=tmp_path)


def test_half_hourly_epw_is_refused(tmp_path):
    """Two rows an hour cannot be told apart in this format's hour column."""
    text = epw_text(rows_of()).replace("DATA PERIODS,1,1,", "DATA PERIODS,1,2,")
    with pytest.raises(DataError, match="2 rows per hour"):
        read_file(written(tmp_path, text))


def test_a_place_off_the_globe_is_refused(tmp_path):
    """Latitude 553 in the header is a slip of the decimal point."""
    text = epw_text(rows_of()).replace(",55.317,", ",553.17,")
    with pytest.raises(DataError, match=r"latitude 553\.17"):
        read_file(written(tmp_path, text))


@pytest.mark.parametrize("kind", ["bom", "crlf", "latin-1"])
def test_encodings_people_have(tmp_path, kind):
    """A byte-order mark, Windows line ends and accents in old encodings are read."""
    text = epw_text(rows_of())
    content = {
        "bom": b"\xef\xbb\xbf" + text.encode(),
        "crlf": text.replace("\n", "\r\n").encode(),
        "latin-1": text.replace("Sand Point", "Montr\xe9al").encode("latin-1"),
    }[kind]
    path = tmp_path / "sky.txt"
    path.write_bytes(content)
    assert np.array_equal(read_file(path).ghi_w_m2, shipped("sand-point").ghi_w_m2)


# --- from the site file -------------------------------------------------------


def test_shipped_record_by_name():
    """Names are forgiving about case and spaces; unknown ones get the nearest."""
    assert read_record("Sand Point").n == 8760
    with pytest.raises(InputError, match="did you mean 'greensboro'") as caught:
        read_record("greensborough")
    assert "sand-point" in str(caught.value)


@pytest.mark.parametrize("table", [{}, {"record": "miami", "file": "a.epw"}])
def test_record_or_file_but_one_of_them(table):
    """Neither and both are refused."""
    with pytest.raises(InputError, match="needs either record or file"):
        read_weather(Weather(**table))


def test_weather_from_far_away_is_flagged():
    """A site 400 km from its weather is told so, with the distance."""
    # One degree of latitude is 111.2 km on a sphere of 6371 km.
    site = place(55.317 + 3.6, -160.517, "UTC-7")
    record = read_weather(Weather(record="sand-point"), site=site)
    assert "warning: Weather location is 400 km" in texts(record)
    assert "55.32 N 160.52 W" in texts(record)
    assert record.utc_offset_h == -9.0


def test_weather_from_close_by_is_not_flagged():
    """Half a degree is close enough, also across the date line."""
    record = read_weather(Weather(record="miami"), site=place(25.5, -80.5, "UTC-5"))
    assert len(record.findings) == len(shipped("miami").findings)
    far = read_weather(Weather(record="sand-point"), site=place(55.3, 170.0))
    # 29.5 deg of longitude at 55.3 N, great circle: 1855 km by haversine.
    assert re.search(r"location is 1,8[56]\d km", texts(far))


def test_the_date_line_is_no_distance():
    """179.9 E and 179.9 W are neighbours."""
    from dataclasses import replace

    from powerbudget.weather.files import compare_place

    record = replace(shipped("sand-point"), longitude_deg=179.9)
    assert compare_place(record, place(55.317, -179.9)) is record


# --- cost ---------------------------------------------------------------------


def test_importing_the_package_is_light():
    """Reading weather is only paid for when a record is read."""
    import subprocess
    import sys

    code = (
        "import sys, powerbudget.weather; "
        "print([m for m in ('pvlib', 'pandas', 'scipy') if m in sys.modules])"
    )
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert run.stdout.strip() == "[]"
