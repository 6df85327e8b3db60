"""The three records that need no file, against figures worked out elsewhere.

Monthly sums and dark spells were computed apart from this package, straight from the
files, with another reader; the files are TMY3 703165 and 723170 (Wilcox, S. and
Marion, W., "Users Manual for TMY3 Data Sets", NREL/TP-581-43156, 2008) and TMY2 12839
(Marion, W. and Urban, K., "User's Manual for TMY2s", NREL/SP-463-7668, 1995).
"""

from __future__ import annotations

import dataclasses
from functools import cache

import numpy as np
import pytest

from powerbudget.weather import (
    RECORDS,
    monthly_means,
    read_record,
    sun_position,
    worst_spells,
)

read = cache(read_record)

# Mean daily sums, January to December [kWh/m2], two decimals.
MONTHS = {
    "greensboro": {
        "ghi": "2.41 3.06 4.25 5.41 5.64 6.25 6.08 5.61 4.43 3.59 2.43 2.24",
        "dhi": "1.13 1.14 1.79 2.10 2.67 2.76 2.72 2.55 2.00 1.51 1.07 0.93",
        "dni": "3.09 4.03 4.20 5.02 4.20 4.71 4.63 4.36 3.94 3.93 3.09 3.36",
    },
    "miami": {
        "ghi": "3.49 4.43 5.16 6.16 6.03 5.76 5.99 5.67 4.91 4.37 3.57 3.36",
        "dhi": "1.43 1.64 2.08 2.32 2.63 3.03 3.02 3.02 2.37 2.01 1.58 1.43",
        "dni": "4.01 4.70 4.82 5.31 4.64 3.65 3.96 3.64 3.52 3.81 3.68 3.79",
    },
    "sand-point": {
        "ghi": "0.58 1.05 1.85 3.06 3.28 3.81 5.00 2.70 3.04 1.61 0.74 0.46",
        "dhi": "0.39 0.67 1.19 1.65 2.11 2.41 2.10 1.79 1.27 0.83 0.46 0.26",
        "dni": "0.97 1.32 1.57 2.70 1.96 2.29 4.80 1.73 4.10 2.58 1.52 1.35",
    },
}
TEMPERATURES = {
    "greensboro": "0.3 5.0 11.4 14.7 19.0 23.6 25.4 24.8 20.1 13.1 10.8 4.2",
    "miami": "20.0 20.8 21.6 24.5 25.8 27.3 28.0 27.9 26.9 25.1 23.2 20.6",
    "sand-point": "0.6 1.2 1.7 2.1 3.2 8.1 11.8 11.9 7.9 4.5 0.4 -0.6",
}
# Annual GHI [kWh/m2], lowest and mean air temperature [degC].
YEAR = {
    "sand-point": (829, -10.6, 4.4),
    "greensboro": (1566, -16.7, 14.4),
    "miami": (1793, 3.3, 24.3),
}
# Lowest 1-, 5- and 10-day means [kWh/m2 a day] and the day of year of the first.
SPELLS = {
    "greensboro": (0.694, 1.215, 1.733, 331),
    "miami": (1.095, 2.47, 2.876, 1),
    "sand-point": (0.164, 0.224, 0.286, 8),
}


@pytest.mark.parametrize("quantity", ["ghi", "dhi", "dni"])
@pytest.mark.parametrize("name", MONTHS)
def test_monthly_sums(name, quantity):
    """Every month's daily sum agrees to the last printed digit."""
    found = [
        getattr(row, f"{quantity}_kwh_m2_day") for row in monthly_means(read(name))
    ]
    printed = [float(word) for word in MONTHS[name][quantity].split()]
    assert found == pytest.approx(printed, abs=0.005 + 1e-9)


@pytest.mark.parametrize("name", TEMPERATURES)
def test_monthly_temperatures(name):
    """Every month's mean air temperature agrees to the last printed digit."""
    found = [row.temp_air_degc for row in monthly_means(read(name))]
    printed = [float(word) for word in TEMPERATURES[name].split()]
    assert found == pytest.approx(printed, abs=0.05 + 1e-9)


@pytest.mark.parametrize("name", YEAR)
def test_year(name):
    """Annual irradiation, lowest and mean temperature agree."""
    record = read(name)
    annual, lowest, mean = YEAR[name]
    assert record.ghi_w_m2.sum() / 1000 == pytest.approx(annual, abs=0.5)
    assert record.temp_air_degc.min() == pytest.approx(lowest, abs=1e-9)
    assert record.temp_air_degc.mean() == pytest.approx(mean, abs=0.05 + 1e-9)
    lowest_rows = [row.temp_min_degc for row in monthly_means(record)]
    assert min(lowest_rows) == pytest.approx(lowest, abs=1e-9)


@pytest.mark.parametrize("name", SPELLS)
def test_darkest_days(name):
    """The darkest day, five and ten days agree, and so does the day's date."""
    one, five, ten, day = SPELLS[name]
    # The figures were read off the file from January to December: not as a ring.
    line = dataclasses.replace(read(name), typical_year=False)
    found = worst_spells(line, (1, 5, 10))
    means = [spell.mean_kwh_m2_day for spell in found]
    assert means == pytest.approx([one, five, ten], abs=5e-4 + 1e-9)
    start = np.datetime64(found[0].start)
    assert (start - np.datetime64("1990-01-01")).astype(int) + 1 == day


@pytest.mark.parametrize("name", RECORDS)
def test_typical_year_is_one_plain_year(name):
    """A typical year has 8760 regular hours from local midnight on 1 January."""
    record = read(name)
    assert (record.n, record.years, record.step_h) == (8760, 1.0, 1.0)
    assert str(record.start_local[0]) == "1990-01-01T00:00:00"
    assert set(np.diff(record.start_utc).astype(int)) == {3600}
    assert record.typical_year
    assert "pvlib" in record.source
    assert [f.severity for f in record.findings] == ["warning"]
    assert "23 %" in record.findings[0].text
    assert (record.month[0], record.month[-1]) == (1, 12)
    assert (record.day_number[0], record.day_number[-1]) == (0, 364)
    assert list(record.hour_local[:25]) == [*range(24), 0]


@pytest.mark.parametrize(
    ("name", "reader", "columns"),
    [
        ("sand-point", "tmy3", ("ghi", "dni", "dhi", "temp_air", "wind_speed")),
        ("greensboro", "tmy3", ("ghi", "dni", "dhi", "temp_air", "wind_speed")),
        ("miami", "tmy2", ("GHI", "DNI", "DHI", "DryBulb", "Wspd")),
    ],
)
def test_rows_are_those_of_a_second_reader(name, reader, columns):
    """Every value of the year is what pvlib's own reader of the format finds."""
    from pathlib import Path

    import pvlib

    files = {
        "sand-point": "703165TY.csv",
        "greensboro": "723170TYA.CSV",
        "miami": "12839.tm2",
    }
    path = Path(pvlib.__file__).parent / "data" / files[name]
    if reader == "tmy3":
        frame, meta = pvlib.iotools.read_tmy3(path, map_variables=True)
    else:
        frame, meta = pvlib.iotools.read_tmy2(path)
    record = read(name)
    tenths = 0.1 if reader == "tmy2" else 1.0
    ghi, dni, dhi, temperature, wind = (frame[c].to_numpy(float) for c in columns)
    assert np.array_equal(record.ghi_w_m2, ghi)
    assert np.array_equal(record.dni_w_m2, dni)
    assert np.array_equal(record.dhi_w_m2, dhi)
    assert record.temp_air_degc == pytest.approx(temperature * tenths, abs=1e-9)
    assert record.wind_speed_m_s == pytest.approx(wind * tenths, abs=1e-9)
    place = (record.latitude_deg, record.longitude_deg, record.elevation_m)
    expected = (meta["latitude"], meta["longitude"], meta["altitude"])
    assert place == pytest.approx(expected, abs=1e-9)
    assert record.utc_offset_h == meta["TZ"]


def test_extraterrestrial_column_of_the_file_fits_the_sun():
    """The file's own extraterrestrial column agrees with the sun at mid-hour."""
    from pathlib import Path

    import pvlib

    path = Path(pvlib.__file__).parent / "data" / "703165TY.csv"
    lines = path.read_text().splitlines()[2:]
    # Column 3 of table 1-2: extraterrestrial irradiation on the level in the hour.
    printed = np.array([float(line.split(",")[2]) for line in lines])
    sun = sun_position(read("sand-point"))
    high = sun.true_zenith_deg < 80
    found = sun.dni_extra_w_m2 * np.cos(np.radians(sun.true_zenith_deg))
    # A sun half an hour off would differ by up to 100 W/m2.
    assert np.abs(found - printed)[high].max() < 12
    assert np.abs((found - printed)[high].mean()) < 3
