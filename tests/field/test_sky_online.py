"""Online services against a stub on this machine: asked only when told to, and kept."""

from __future__ import annotations

import json
import threading
from dataclasses import replace
from functools import cache
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import parse_qs, urlparse

import numpy as np
import pytest

from powerbudget.errors import DataError, InputError
from powerbudget.files import CACHE_VARIABLE, cache_folder
from powerbudget.site.tables import Place, Weather
from powerbudget.weather import online, read_record, read_weather, services

SHARED = Path(__file__).resolve().parents[2] / ".." / "shared" / "weather"
PVGIS_JSON = SHARED / "formats" / "tmy_45.000_8.000_2005_2023.json"
shipped = cache(read_record)
PLACE = Place.model_validate(
    {"name": "stub", "latitude": 36.1, "longitude": -79.95, "time_zone": "UTC-5"}
)


class Stub(ThreadingHTTPServer):
    """A service on the loop-back address that answers as it is told."""

    def __init__(self) -> None:
        self.asked: list[dict[str, str]] = []
        self.answer = lambda _query: (200, "{}")
        super().__init__(("127.0.0.1", 0), _Handler)

    @property
    def url(self) -> str:
        """Address of the stub."""
        return f"http://127.0.0.1:{self.server_port}/"


class _Handler(BaseHTTPRequestHandler):
    server: Stub

    def do_GET(self) -> None:
        """Answer one question."""
        parts = urlparse(self.path)
        query = {key: values[0] for key, values in parse_qs(parts.query).items()}
        query["path"] = parts.path
        self.server.asked.append(query)
        status, text = self.server.answer(query)
        body = text.encode()
        self.send_response(status)
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *args: object) -> None:
        """Keep quiet."""


@pytest.fixture
def stub(tmp_path, monkeypatch):
    """Give a running stub, a cache of its own, and no waiting between tries."""
    monkeypatch.setenv(CACHE_VARIABLE, str(tmp_path / "cache"))
    monkeypatch.setattr(online, "PAUSE_S", 0.0)
    server = Stub()
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield server
    server.shutdown()
    server.server_close()
    thread.join()


def power_answer(query: dict[str, str]) -> tuple[int, str]:
    """Answer as NASA POWER does, with Greensboro's sky under the asked year."""
    year = int(query["start"][:4])
    record = shipped("greensboro")
    # The typical year goes round, so that every hour of the year in UTC has a row.
    hour = (np.arange(8760) - 5) % 8760
    start = np.datetime64(f"{year}-01-01T00") + np.arange(8760)
    stamps = np.char.replace(np.char.replace(start.astype(str), "-", ""), "T", "")
    columns = {
        "ALLSKY_SFC_SW_DWN": record.ghi_w_m2, "ALLSKY_SFC_SW_DNI": record.dni_w_m2,
        "ALLSKY_SFC_SW_DIFF": record.dhi_w_m2, "T2M": record.temp_air_degc,
        "WS10M": record.wind_speed_m_s,
    }  # fmt: skip
    parameter = {
        name: {
            str(s): round(float(v), 2)
            for s, v in zip(stamps, values[hour], strict=True)
        }
        for name, values in columns.items()
    }
    return 200, json.dumps(
        {
            "properties": {"parameter": parameter},
            "header": {"fill_value": -999.0},
            "parameters": {},
            "times": {},
            "geometry": {"coordinates": [-79.95, 36.1, 273.0]},
        }
    )


def power(stub: Stub, **changes) -> Weather:
    """Return a [weather] table that asks the stub."""
    table = {"online": "nasa-power", "first_year": 2014, "last_year": 2014}
    return Weather.model_validate(table | {"url": stub.url} | changes)


def test_nothing_is_asked_unless_told(stub):
    """Without --fetch the network is not touched, and the user learns what to run."""
    with pytest.raises(InputError, match=r"powerbudget weather SITE\.toml --fetch"):
        read_weather(power(stub), site=PLACE)
    assert stub.asked == []


def test_an_answer_is_kept_and_read_again(stub):
    """The second reading needs no network; data, place and source are those asked."""
    stub.answer = power_answer
    first = read_weather(power(stub), site=PLACE, fetch=True)
    assert len(stub.asked) == 1
    assert stub.asked[0]["latitude"] == "36.1"
    assert (stub.asked[0]["start"], stub.asked[0]["end"]) == ("20140101", "20141231")
    again = read_weather(power(stub), site=PLACE)
    assert len(stub.asked) == 1
    assert np.array_equal(first.ghi_w_m2, again.ghi_w_m2)
    assert (again.utc_offset_h, again.typical_year) == (-5.0, False)
    assert any("NASA Langley" in f.text for f in again.findings)
    assert again.verdict == "sound"
    record = shipped("greensboro")
    assert again.ghi_w_m2.sum() == pytest.approx(record.ghi_w_m2.sum(), rel=0.002)


def test_several_years_are_asked_one_by_one(stub):
    """Three years are three questions, with progress, and one record."""
    stub.answer = power_answer
    seen: list[tuple[int, int]] = []
    table = power(stub, first_year=2013, last_year=2015)
    read_weather(
        table, site=PLACE, fetch=True, progress=lambda a, b: seen.append((a, b))
    )
    assert [q["start"][:4] for q in stub.asked] == ["2013", "2014", "2015"]
    assert seen == [(1, 3), (2, 3), (3, 3)]


def test_a_service_that_fails_is_tried_three_times(stub):
    """No network: three tries, then one plain fault and nothing kept."""
    import requests

    tries = []

    def fail(_request, _year):
        tries.append(1)
        raise requests.ConnectionError("nobody there")

    services.GETTERS["nasa-power"], kept = fail, services.GETTERS["nasa-power"]
    try:
        with pytest.raises(InputError, match="no network, or a wrong") as caught:
            read_weather(power(stub), site=PLACE, fetch=True)
    finally:
        services.GETTERS["nasa-power"] = kept
    assert len(tries) == 3
    assert "download the file and name it" in str(caught.value)
    assert not list(cache_folder("weather").glob("*.npz"))


def test_a_closed_port_is_a_plain_message(stub):
    """Nobody listens at the address: exit code 2, no traceback."""
    table = power(stub, url="http://127.0.0.1:9/")
    with pytest.raises(InputError, match="cannot be reached") as caught:
        read_weather(table, site=PLACE, fetch=True)
    assert caught.value.exit_code == 2


def test_a_service_that_recovers_is_used(stub):
    """Two broken connections, then an answer."""
    import requests

    tries = []
    getter = services.GETTERS["nasa-power"]

    def flaky(request, year):
        tries.append(1)
        if len(tries) < 3:
            raise requests.Timeout("slow")
        return getter(request, year)

    stub.answer = power_answer
    services.GETTERS["nasa-power"] = flaky
    try:
        assert read_weather(power(stub), site=PLACE, fetch=True).n == 8760
    finally:
        services.GETTERS["nasa-power"] = getter


def test_a_refusal_is_passed_on_without_the_address(stub):
    """A question that the service refuses is not asked again."""
    stub.answer = lambda _query: (422, json.dumps({"messages": ["outside the map"]}))
    with pytest.raises(InputError, match="outside the map") as caught:
        read_weather(power(stub), site=PLACE, fetch=True)
    assert len(stub.asked) == 1
    assert "http" not in str(caught.value)


@pytest.mark.parametrize("text", ["not json", "{}", '{"properties": 3}'])
def test_an_answer_that_is_no_weather_is_refused(stub, text):
    """Pages of a portal or a changed service are one clear fault."""
    stub.answer = lambda _query: (200, text)
    with pytest.raises(DataError, match="the answer cannot be read"):
        read_weather(power(stub), site=PLACE, fetch=True)
    assert not list(cache_folder("weather").glob("*.npz"))


def test_a_damaged_cache_is_named(stub):
    """A kept file that was cut short is named, with what to do."""
    stub.answer = power_answer
    read_weather(power(stub), site=PLACE, fetch=True)
    (path,) = cache_folder("weather").glob("*.npz")
    path.write_bytes(path.read_bytes()[:1000])
    with pytest.raises(DataError, match="delete it and fetch again"):
        read_weather(power(stub), site=PLACE)


def test_another_question_has_another_answer(stub):
    """Place, years and service all count for what is kept."""
    base = online.make_request(power(stub), PLACE)
    other = online.make_request(power(stub, last_year=2015), PLACE)
    moved = online.make_request(
        power(stub), PLACE.model_copy(update={"latitude_deg": 36.2})
    )
    assert len({base.key, other.key, moved.key}) == 3


def test_years_in_the_wrong_order_are_refused(stub):
    """Last before first, and years for a typical year."""
    with pytest.raises(InputError, match="is before first_year"):
        online.make_request(power(stub, last_year=2010), PLACE)
    with pytest.raises(InputError, match="does not apply to a typical year"):
        online.make_request(power(stub, online="pvgis-typical"), PLACE)


def test_nsrdb_needs_a_key_and_never_shows_it(stub, monkeypatch):
    """Without the two variables the user is told their names."""
    for name in (services.KEY_VARIABLE, services.EMAIL_VARIABLE):
        monkeypatch.delenv(name, raising=False)
    table = power(stub, online="nsrdb")
    with pytest.raises(InputError, match=services.KEY_VARIABLE):
        read_weather(table, site=PLACE, fetch=True)
    monkeypatch.setenv(services.KEY_VARIABLE, "secret-key")
    monkeypatch.setenv(services.EMAIL_VARIABLE, "a@b.c")
    stub.answer = lambda _query: (403, json.dumps({"errors": ["key not valid"]}))
    with pytest.raises(InputError) as caught:
        read_weather(table, site=PLACE, fetch=True)
    assert stub.asked[-1]["api_key"] == "secret-key"
    assert "secret-key" not in str(caught.value)


@pytest.mark.skipif(
    not PVGIS_JSON.exists(), reason="the folder of real weather files is not beside us"
)
def test_pvgis_typical_year_is_the_file_of_the_same_place(stub):
    """The service's answer makes the record that its downloaded file makes."""
    from powerbudget.weather import read_file

    text = PVGIS_JSON.read_text()
    stub.answer = lambda _query: (200, text)
    site = Place.model_validate(
        {"name": "x", "latitude": 45.0, "longitude": 8.0, "time_zone": "UTC+1"}
    )
    table = Weather.model_validate({"online": "pvgis-typical", "url": stub.url})
    found = read_weather(table, site=site, fetch=True)
    filed = read_file(PVGIS_JSON)
    assert found.typical_year
    assert stub.asked[0]["path"] == "/tmy"
    assert np.array_equal(found.sun_utc, filed.sun_utc)
    assert np.array_equal(found.ghi_w_m2, filed.ghi_w_m2)
    assert found.temp_air_degc == pytest.approx(filed.temp_air_degc)


def pvgis_hourly_answer(query: dict[str, str]) -> tuple[int, str]:
    """Answer as PVGIS does for hourly light on a level plane, a clear sky."""
    from datetime import datetime, timedelta

    year = int(query["startyear"])
    rows = []
    moment = datetime(year, 1, 1, 0, 10)  # noqa: DTZ001 - the service writes UTC bare
    latitude, longitude = float(query["lat"]), float(query["lon"])
    while moment.year == year:
        day = moment.timetuple().tm_yday
        declination = np.radians(23.45 * np.sin(2 * np.pi * (284 + day) / 365))
        turn = np.radians(15 * (moment.hour + moment.minute / 60 - 12) + longitude)
        sine = np.sin(np.radians(latitude)) * np.sin(declination) + np.cos(
            np.radians(latitude)
        ) * np.cos(declination) * np.cos(turn)
        up = max(float(sine), 0.0)
        rows.append(
            {
                "time": moment.strftime("%Y%m%d:%H%M"), "Gb(i)": 700 * up**1.2,
                "Gd(i)": 80 * up**0.5, "Gr(i)": 0.0,
                "H_sun": float(np.degrees(np.arcsin(up))), "T2m": 10.0 + 5 * up
                + day / 365 + moment.hour / 100, "WS10m": 2.0, "Int": 0.0,
            }
        )  # fmt: skip
        moment += timedelta(hours=1)
    place = {"latitude": latitude, "longitude": longitude, "elevation": 250.0}
    inputs = {"location": place, "mounting_system": {"fixed": {}}}
    outputs = {"hourly": rows}
    return 200, json.dumps(
        {"inputs": inputs, "outputs": outputs, "meta": {"inputs": {}}}
    )


def test_pvgis_many_years_are_level_light(stub):
    """Beam and diffuse on the level, ten past each hour, become a sky."""
    stub.answer = pvgis_hourly_answer
    table = Weather.model_validate(
        {"online": "pvgis", "url": stub.url, "first_year": 2015, "last_year": 2016}
    )
    record = read_weather(table, site=PLACE, fetch=True)
    assert [q["startyear"] for q in stub.asked] == ["2015", "2016"]
    assert stub.asked[0]["path"] == "/seriescalc"
    assert float(stub.asked[0]["angle"]) == 0.0
    assert record.n == 8760 + 8784
    assert record.sun_offset_h == pytest.approx(1 / 6)
    assert record.verdict == "sound"
    assert "PVGIS" in record.source


NSRDB_CSV = SHARED / "formats" / "test_read_psm4.csv"


@pytest.mark.skipif(
    not NSRDB_CSV.exists(), reason="the folder of real weather files is not beside us"
)
def test_nsrdb_is_the_file_of_the_same_place(stub, monkeypatch):
    """The service's csv makes the record that the saved csv makes, sun and all."""
    from powerbudget.weather import read_file

    monkeypatch.setenv(services.KEY_VARIABLE, "k")
    monkeypatch.setenv(services.EMAIL_VARIABLE, "a@b.c")
    text = NSRDB_CSV.read_text()
    stub.answer = lambda _query: (200, text)
    site = Place.model_validate(
        {"name": "x", "latitude": 40.53, "longitude": -108.54, "time_zone": "UTC-7"}
    )
    table = power(stub, online="nsrdb", first_year=2023, last_year=2023)
    found = read_weather(table, site=site, fetch=True)
    filed = read_file(NSRDB_CSV)
    assert stub.asked[0]["names"] == "2023"
    assert np.array_equal(found.sun_utc, filed.sun_utc)
    assert np.array_equal(found.ghi_w_m2, filed.ghi_w_m2)
    assert found.verdict == "sound"
    assert any("National Solar Radiation Database" in f.text for f in found.findings)


def run(*words: object):
    """Run the command line and return its result."""
    from typer.testing import CliRunner

    from powerbudget.cli import app

    return CliRunner().invoke(app, [str(word) for word in words])


@pytest.fixture
def new_site(stub, tmp_path, monkeypatch):
    """Let the stub answer for the service's own address, and make a site with --fetch."""
    import requests

    usual = requests.get
    monkeypatch.setattr(
        requests,
        "get",
        lambda url, **more: usual(stub.url + url.rsplit("/", 1)[1], **more),
    )
    few = replace(services.SERVICES["pvgis"], years=(2015, 2016))
    monkeypatch.setitem(services.SERVICES, "pvgis", few)
    stub.answer = pvgis_hourly_answer
    book, site = tmp_path / "loads.csv", tmp_path / "site.toml"
    book.write_text("Equipment,Typical W,Volts\nRadio,5,12\n", encoding="utf-8")
    there = ("--latitude", "44.5 N", "--longitude", "8.2 E", "--elevation", "250 m")
    new = ("new", "--list", book, *there, "-o", site, "--yes")
    assert run(*new).exit_code != 0
    assert stub.asked == []
    made = run(*new, "--fetch")
    assert made.exit_code == 0, made.output
    assert "Weather: online service pvgis" in made.output
    return site


def test_a_new_site_takes_its_weather_from_the_service(
    stub, new_site, tmp_path, monkeypatch
):
    """From a list and a place: asked once with --fetch, kept, and read without a network."""
    from powerbudget.site.reader import read_open_site

    assert [q["startyear"] for q in stub.asked] == ["2015", "2016"]
    assert {float(q["lat"]) for q in stub.asked} == {44.5}
    found = read_open_site(new_site).tables
    assert found.weather.online == "pvgis"
    record = read_weather(found.weather, site=found.site)
    assert record.n == 8760 + 8784
    assert len(stub.asked) == 2
    # On a machine that has kept nothing, the user learns what to run.
    monkeypatch.setenv(CACHE_VARIABLE, str(tmp_path / "elsewhere"))
    lost = run("size", new_site)
    assert "has not been fetched" in str(lost.exception)


@pytest.mark.slow
def test_a_fetched_site_becomes_a_design_without_a_network(stub, new_site):
    """The second command needs no service: a design that meets all criteria is written."""
    sized = run("size", new_site, "--write")
    assert sized.exit_code == 0, sized.output
    assert "FEASIBLE" in sized.output
    ran = run("run", new_site, "--json")
    assert all(c["met"] for c in json.loads(ran.stdout)["criteria"])
    assert len(stub.asked) == 2
