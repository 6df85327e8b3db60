"""Pitfalls of weather files and services that people report, one test each.

Others stand with the readers (labels, zones, codes, leap days) and with the audit.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from powerbudget.errors import DataError
from powerbudget.weather import monthly_means, read_file, read_record

SHARED = Path(__file__).resolve().parents[2] / ".." / "shared" / "weather"
NSRDB = SHARED / "formats" / "test_read_psm4.csv"
shared = pytest.mark.skipif(
    not SHARED.exists(), reason="the folder of real weather files is not beside us"
)
shipped = cache(read_record)
HEAD = (
    "LOCATION,Greensboro,NC,USA,{kind},723170,36.1,-79.95,{zone},273.0\n"
    "DESIGN CONDITIONS,0\nTYPICAL/EXTREME PERIODS,0\nGROUND TEMPERATURES,0\n"
    "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0\nCOMMENTS 1,x\nCOMMENTS 2,x\n"
    "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31\n"
)


def epw(tmp_path: Path, *, minute: int = 60, year: int = 2001, leap: bool = False):
    """Return the path of an EPW of Greensboro, the minute field as told."""
    record, rows = shipped("greensboro"), []
    order = list(range(8760))
    if leap:
        # 29 February is a copy of the 28th.
        order = order[: 59 * 24] + order[58 * 24 : 59 * 24] + order[59 * 24 :]
    days = np.datetime64(f"{year}-01-01T00") + np.arange(len(order))
    for start, i in zip(days, order, strict=True):
        date = start.astype("datetime64[s]").item()
        row = ["0"] * 35
        row[:5] = [str(date.year), str(date.month), str(date.day), str(date.hour + 1),
                   str(minute)]  # fmt: skip
        row[6] = f"{record.temp_air_degc[i]:.1f}"
        row[13], row[14] = f"{record.ghi_w_m2[i]:.0f}", f"{record.dni_w_m2[i]:.0f}"
        row[15], row[21] = f"{record.dhi_w_m2[i]:.0f}", "2.0"
        rows.append(",".join(row))
    path = tmp_path / f"{year}-{minute}.epw"
    path.write_text(HEAD.format(kind="own", zone=-5.0) + "\n".join(rows) + "\n")
    return path


@pytest.mark.parametrize("minute", [0, 60])
def test_minute_0_and_minute_60_are_the_same_hour(tmp_path, minute):
    """Pitfall 22: both forms of the minute field mean the end of the hour."""
    record = read_file(epw(tmp_path, minute=minute))
    assert record.sun_utc[0] == np.datetime64("2001-01-01T05:30:00")
    assert record.verdict == "sound"


def test_a_real_leap_year_keeps_its_day(tmp_path):
    """Pitfall 9: 8784 rows of 2004 are read with 29 February in them."""
    record = read_file(epw(tmp_path, year=2004, leap=True))
    assert record.n == 8784
    assert not record.typical_year
    assert np.datetime64("2004-02-29") in record.day_local


def test_months_of_several_years_are_one_typical_year():
    """Pitfalls 6 and 8: mixed years neither jump nor spill a row into the next year."""
    for name in ("greensboro", "sand-point", "miami"):
        record = shipped(name)
        assert set(np.diff(record.start_utc).astype(int)) == {3600}
        assert set(record.start_local.astype("datetime64[Y]").astype(str)) == {"1990"}
        assert [row.month for row in monthly_means(record)] == list(range(1, 13))


@shared
def test_a_half_hour_zone_is_one_clear_message(tmp_path):
    """Pitfall 19: an NSRDB head with UTC+5.5 is refused or read, never misread."""
    lines = NSRDB.read_text().split("\n")
    place = lines[1].split(",")
    at = lines[0].split(",").index("Time Zone")
    place[at] = "5.5"
    path = tmp_path / "half.csv"
    path.write_text("\n".join([lines[0], ",".join(place), *lines[2:]]))
    with pytest.raises(DataError) as caught:
        read_file(path)
    assert "Traceback" not in str(caught.value)


def test_a_question_to_a_service_has_a_time_limit_and_whole_names(monkeypatch):
    """Pitfall 18: parameters are a list of names, and the call ends in a minute."""
    import requests

    from powerbudget.weather import services

    asked = {}

    def get(url, **kwargs):
        asked.update(kwargs, url=url)
        raise requests.Timeout

    monkeypatch.setattr(requests, "get", get)
    request = services.Request("nasa-power", 36.1, -79.95, 0.0, -5.0, 2014, 2014, None)
    with pytest.raises(requests.Timeout):
        services.GETTERS["nasa-power"](request, 2014)
    assert asked["timeout"] == services.TIMEOUT_S
    words = set(asked["params"]["parameters"].split(","))
    assert words == {
        "ALLSKY_SFC_SW_DNI", "ALLSKY_SFC_SW_DIFF", "ALLSKY_SFC_SW_DWN", "T2M", "WS10M",
    }  # fmt: skip
    assert requests.get is get


@pytest.mark.parametrize("service", ["pvgis", "pvgis-typical", "nsrdb"])
def test_every_service_has_a_time_limit(monkeypatch, service):
    """No getter can hang: each passes a limit to the network call."""
    import requests

    from powerbudget.weather import services

    seen = []

    def get(*args, **kwargs):
        seen.append(kwargs.get("timeout"))
        raise requests.Timeout

    monkeypatch.setattr(requests, "get", get)
    monkeypatch.setenv(services.KEY_VARIABLE, "k")
    monkeypatch.setenv(services.EMAIL_VARIABLE, "a@b.c")
    request = services.Request(service, 36.1, -79.95, 0.0, -5.0, 2014, 2014, None)
    with pytest.raises(requests.Timeout):
        services.GETTERS[service](request, 2014)
    assert seen == [services.TIMEOUT_S]


def test_albedo_of_a_missing_code_is_not_used(tmp_path):
    """Pitfall 14: albedo 999 would multiply the ground's light by five thousand."""
    path = epw(tmp_path)
    lines = path.read_text().split("\n")
    for number in range(8, len(lines) - 1):
        row = lines[number].split(",")
        row[32], row[30] = "999", "999"
        lines[number] = ",".join(row)
    path.write_text("\n".join(lines))
    record = read_file(path)
    assert record.albedo_frac is None
    assert record.snow_depth_m is None


def test_snow_depth_of_an_epw_is_read_in_metres(tmp_path):
    """A depth of 12 cm in the file is 0.12 m of snow on the ground."""
    path = epw(tmp_path)
    lines = path.read_text().split("\n")
    for number in range(8, 8 + 24 * 20):
        row = lines[number].split(",")
        row[30] = "12"
        lines[number] = ",".join(row)
    path.write_text("\n".join(lines))
    record = read_file(path)
    assert record.snow_depth_m[:480] == pytest.approx(0.12)
    assert record.snow_depth_m[500] == 0.0
