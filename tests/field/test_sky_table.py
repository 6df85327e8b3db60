"""A logger's csv: columns and labels named by the user, and everyday faults."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from powerbudget.errors import DataError, InputError
from powerbudget.site.tables import Place, Weather
from powerbudget.weather import WeatherRecord, read_record, read_weather

shipped = cache(read_record)
SITE = Place.model_validate(
    {"name": "x", "latitude": 36.1, "longitude": -79.95, "elevation": "273 m",
     "time_zone": "UTC-5"}
)  # fmt: skip
CSV = {"label": "start", "time_zone": "UTC-5", "wind_speed": "wind"}


def rows(
    record: WeatherRecord, label_h: float = 0.0, decimal: str = ".", sep: str = ","
):
    """Return lines of a csv that say what a record says, beam and diffuse left out."""
    start = record.start_local + np.timedelta64(round(3600 * label_h), "s")
    start = start + (np.datetime64("2014-01-01") - np.datetime64("1990-01-01"))
    lines = [sep.join(["time", "ghi", "temp_air", "wind"])]
    for at, *values in zip(
        start, record.ghi_w_m2, record.temp_air_degc, record.wind_speed_m_s, strict=True
    ):
        stamp = str(at).replace("T", " ")
        numbers = [f"{value:.1f}".replace(".", decimal) for value in values]
        lines.append(sep.join([stamp, *numbers]))
    return lines


def read(tmp_path, lines, **changes) -> WeatherRecord:
    """Return the record of lines under a [weather.csv] table."""
    (tmp_path / "own.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    table = Weather.model_validate({"file": "own.csv", "csv": CSV | changes})
    return read_weather(table, base=tmp_path, site=SITE)


@pytest.mark.parametrize(
    ("label", "shift"), [("start", 0), ("middle", 0.5), ("end", 1)]
)
def test_three_meanings_of_a_stamp_give_one_record(tmp_path, label, shift):
    """The same year stamped at start, middle or end is the same light at the same sun."""
    record = shipped("greensboro")
    found = read(tmp_path, rows(record, shift), label=label)
    assert found.verdict == "sound"
    assert found.n == 8760
    assert found.sun_utc[12] - found.start_utc[12] == np.timedelta64(1800, "s")
    assert found.hour_local[0] == 0.0
    assert found.ghi_w_m2 == pytest.approx(record.ghi_w_m2, abs=0.051)


def test_split_light_closes_and_is_near_the_measured(tmp_path):
    """Beam and diffuse add up to global light, the beam of a year within 10 %."""
    record = shipped("greensboro")
    found = read(tmp_path, rows(record))
    assert found.dni_w_m2.sum() == pytest.approx(record.dni_w_m2.sum(), rel=0.10)
    assert found.dhi_w_m2.sum() == pytest.approx(record.dhi_w_m2.sum(), rel=0.10)
    assert any("split from GHI" in f.text for f in found.findings)


def test_a_wrong_label_is_found(tmp_path):
    """End-stamped rows called start-stamped: an hour off, and said so."""
    found = read(tmp_path, rows(shipped("greensboro"), 1.0))
    assert found.verdict == "doubtful"
    assert any("-60 min" in f.text for f in found.findings)


def test_semicolons_and_decimal_commas(tmp_path):
    """A spreadsheet of another country is read with its commas."""
    record = shipped("greensboro")
    lines = ["sep=;", *rows(record, decimal=",", sep=";")]
    assert read(tmp_path, lines).temp_air_degc == pytest.approx(
        record.temp_air_degc, abs=0.051
    )


def test_missing_codes_are_named_by_the_user(tmp_path):
    """A code of the logger's own is a gap, counted, not a temperature."""
    lines = rows(shipped("greensboro"))
    parts = lines[500].split(",")
    lines[500] = ",".join([*parts[:2], "-49.9", parts[3]])
    found = read(tmp_path, lines, missing=[-49.9])
    assert found.temp_air_degc.min() > -40
    assert any("ambient temperature 1" in f.text for f in found.findings)


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        (lambda x: [x[0].replace("ghi", "sw"), *x[1:]], "no column has that heading"),
        (lambda x: [x[0], "date,W/m2,C,m/s", *x[1:]], "a date cannot be read"),
        (lambda x: [x[0], *(f"46197.{i},1,2,3" for i in range(50))], "plain numbers"),
        (lambda x: [x[0], *(r.replace("2014-0", "14/0") for r in x[1:])],
         "a date cannot be read"),
        (lambda x: [x[0], *(r.rsplit(",", 2)[0] + ",cold,1" for r in x[1:])],
         "is text in"),
        (lambda x: x[:5], "at least one whole day"),
    ],
)  # fmt: skip
def test_everyday_faults_are_plain(tmp_path, edit, words):
    """Heads, unit rows, spreadsheet days, other dates and text are each named."""
    with pytest.raises((DataError, InputError), match=words):
        read(tmp_path, edit(rows(shipped("greensboro"))))


def test_impossible_light_in_a_logger_file_is_refused(tmp_path):
    """Winter months at 1.35 times the light above the air cannot be true."""
    lines = rows(shipped("greensboro"))
    for number, line in enumerate(lines[1:], start=1):
        at, ghi, *rest = line.split(",")
        if at[5:7] in {"11", "12"}:
            lines[number] = ",".join([at, f"{2.6 * float(ghi):.1f}", *rest])
    with pytest.raises(DataError, match="QC failed"):
        read(tmp_path, lines)


def test_label_and_zone_are_required():
    """Nothing is guessed about what a stamp means."""
    from pydantic import ValidationError

    for key in ("label", "time_zone"):
        table = {k: v for k, v in CSV.items() if k != key}
        with pytest.raises(ValidationError, match=key):
            Weather.model_validate({"file": "x.csv", "csv": table})
