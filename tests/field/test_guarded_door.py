"""Pipes, devices, link loops and foreign files, wherever a file of the user's is named."""

from __future__ import annotations

import errno
import os
import shutil
import signal
from pathlib import Path

import pvlib
import pytest

from powerbudget import reading
from powerbudget.errors import DataError, Fault, InputError
from powerbudget.site.reader import read_site
from powerbudget.weather.formats import FORMATS, parse

ROOT = Path(__file__).resolve().parents[2]
RECORD = Path(pvlib.__file__).parent / "data" / "723170TYA.CSV"
SECRET = "hunter2swordfish"  # noqa: S105 - not to be told
FOREIGN = f"root:{SECRET}:19000:0\npassword = {SECRET}\n{SECRET},1,2\n"


@pytest.fixture(autouse=True)
def _no_hang():
    """End a read that would wait for ever, and say so."""

    def stop(*_):
        raise AssertionError("hangs")

    before = signal.signal(signal.SIGALRM, stop)
    signal.alarm(30)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


def _pipe(path):
    os.mkfifo(path)


def _device(path):
    path.symlink_to("/dev/zero")


def _loop(path):
    path.symlink_to(path.name)


def _folder(path):
    path.mkdir()


def _secret(path):
    path.write_text(FOREIGN, encoding="utf-8")


ODD = {
    _pipe: "is a pipe",
    _device: "is a device",
    _loop: "leads round in a circle",
    _folder: "is a folder",
    None: "no such file",
}


@pytest.fixture
def site(tmp_path, site_text):
    """Write a plain site, lines added at the end or in the place of its record."""

    def write(*, end="", record='record = "greensboro"', top="", array=""):
        text = top + site_text('[[load]]\nname = "a"\ntypical = "2 W"\n') + end
        text = text.replace('record = "greensboro"', record)
        text = text.replace("[array]\n", f"[array]\n{array}")
        path = tmp_path / "site.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


LOGGED = '[[load]]\nname = "b"\n[load.measured]\nfile = "odd.csv"\n'
DESIGNED = 'record = "greensboro"\n[weather.design]\nfile = "odd.csv"\n'
TABLE = """file = "odd.csv"
[weather.csv]
label = "end"
time_zone = "UTC-7"
"""
RACK = '[rack]\ncontroller = "controller-low-power"\nio_list = "odd.csv"\n'
NAMED = {
    "site": lambda site: ["loads", site().with_name("odd.csv")],
    "parts": lambda site: ["loads", site(top='parts_file = "odd.csv"\n')],
    "weather": lambda site: ["weather", site(record='file = "odd.csv"')],
    "glob": lambda site: ["weather", site(record='file = "od?.csv"')],
    "table": lambda site: ["weather", site(record=TABLE)],
    "epw": lambda site: ["weather", site(record='file = "odd.csv"\nformat = "epw"')],
    "tmy3": lambda site: ["weather", site(record='file = "odd.csv"\nformat = "tmy3"')],
    "horizon": lambda site: ["run", site(array='horizon_file = "odd.csv"\n')],
    "design": lambda site: ["weather", site(record=DESIGNED)],
    "claims": lambda site: ["review", site(), site().with_name("odd.csv")],
    "log": lambda site: ["loads", site(end=LOGGED)],
    "rack": lambda site: [
        "loads",
        site(end=RACK),
    ],
    "list": lambda site: ["import", site().with_name("odd.csv")],
    "against": lambda site: [
        "weather",
        site(),
        "--against",
        site().with_name("odd.csv"),
    ],
    "more parts": lambda site: ["parts", "--parts-file", site().with_name("odd.csv")],
}


@pytest.mark.parametrize("make", ODD, ids=lambda m: getattr(m, "__name__", "missing"))
@pytest.mark.parametrize("place", NAMED)
def test_what_is_no_file_is_refused_in_words(call, tmp_path, site, place, make):
    """Exit code 2, what it is and where; a run neither waits nor fills the memory."""
    if make:
        make(tmp_path / "odd.csv")
    code, out, err = call(*NAMED[place](site))
    assert (code, out) == (2, "")
    assert ODD[make] in err


@pytest.mark.parametrize("place", NAMED)
def test_no_line_of_a_foreign_file_is_told(call, tmp_path, site, place):
    """A message names file, line and what is wanted, never what stands there."""
    _secret(tmp_path / "odd.csv")
    code, out, err = call(*NAMED[place](site))
    assert code == 2
    assert SECRET not in out + err
    assert "odd.csv" in err


@pytest.mark.parametrize("place", ["site", "parts", "claims", "more parts"])
def test_no_value_of_a_foreign_toml_file_is_told(call, tmp_path, site, place):
    """Files of other programs are TOML as well."""
    text = f'token = "{SECRET}"\n[registry]\n{SECRET} = "{SECRET}"\n'
    (tmp_path / "odd.csv").write_text(text, encoding="utf-8")
    code, _, err = call(*NAMED[place](site))
    assert code == 2
    assert SECRET not in err


@pytest.mark.parametrize("fmt", FORMATS)
def test_no_cell_is_told_of_a_file_that_is_not_what_was_said(fmt):
    """Errors of the readers below quote what they could not turn into a number."""
    line = ",".join([SECRET] * 40)
    text = "\n".join([line, "DATA PERIODS,1,1", *[line] * 70])
    with pytest.raises(DataError) as caught:
        parse(text, fmt, "odd.csv")
    assert SECRET not in str(caught.value)


def test_a_folder_with_signs_of_a_pattern_in_its_name(call, tmp_path, site):
    """`Pad [7]` is a name; signs count in the pattern alone."""
    pad = tmp_path / "Pad [7] *"
    pad.mkdir()
    text = site(record='file = "yea*.csv"').read_text("utf-8")
    (pad / "site.toml").write_text(text, encoding="utf-8")
    shutil.copy(RECORD, pad / "years-1.csv")
    assert call("weather", pad / "site.toml")[0] == 0


def test_a_limit_is_told_with_its_number(tmp_path, monkeypatch):
    """No more than the limit is read, whatever size the file states."""
    path = tmp_path / "big"
    path.write_bytes(b"x" * 2_000_001)
    with pytest.raises(InputError, match="larger than 2 MB"):
        reading.read_bytes(path, 2_000_000, Fault("file", ""))
    assert len(reading.read_bytes(path, 2_000_001, Fault("file", ""))) == 2_000_001


def test_a_file_that_blocks_when_read_is_refused(tmp_path, monkeypatch):
    """Some files of the system are regular by name and wait when read."""
    path = tmp_path / "file"
    path.write_text("a", encoding="utf-8")

    def wait(*_):
        raise BlockingIOError(errno.EAGAIN, "waits")

    monkeypatch.setattr(reading.os, "open", wait)
    with pytest.raises(InputError, match="has nothing to give"):
        reading.read_bytes(path, 100, Fault("file", ""))


def test_a_name_that_changes_hands_is_looked_at_again(tmp_path, monkeypatch):
    """A pipe put in the place of the file between look and open is refused."""
    path = tmp_path / "file"
    os.mkfifo(path)
    monkeypatch.setattr(reading, "why_not", lambda _: "")
    with pytest.raises(InputError):
        reading.read_bytes(path, 100, Fault("file", ""))


def test_too_many_matches_are_refused(tmp_path, monkeypatch):
    """A pattern over a whole disk is a mistake."""
    monkeypatch.setattr(reading, "MOST_FILES", 2)
    for name in "abc":
        (tmp_path / f"{name}.csv").touch()
    with pytest.raises(InputError, match="matches too many files"):
        reading.matching(tmp_path, "*.csv")


@pytest.mark.parametrize("number", ["1" * 5000, "0x" + "f" * 5000, "[[" * 9000])
@pytest.mark.parametrize("key", ["latitude = ", "colour = "])
def test_numbers_and_lists_beyond_all_measure(site, number, key):
    """Neither the reader nor the message about it stumbles."""
    path = site()
    text = path.read_text("utf-8").replace("[site]\n", f"[site]\n{key}{number}\n", 1)
    path.write_text(text.replace("latitude = 50.0\n", ""), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_site(path)
    assert len(str(caught.value)) < 5000


def test_a_choice_that_is_a_number_beyond_all_measure(site):
    """Found by mutants: the nearest word was looked for among thousands of digits."""
    path = site()
    text = path.read_text("utf-8")
    text = text.replace('chemistry = "agm"', f"chemistry = 0x{'f' * 5000}")
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match="is not one of the choices"):
        read_site(path)


def test_synthetic_years_end_before_memory_does(tmp_path):
    """A report of forty years takes 1.35 GB: one more is refused with the limit."""
    site = (ROOT / "sites" / "northern-wellpad-no-record.toml").read_text("utf-8")
    path = tmp_path / "site.toml"
    path.write_text(site.replace("years = 30", "years = 41"), encoding="utf-8")
    with pytest.raises(InputError, match=r"monthly\.years: .*41; allowed: 1 to 40"):
        read_site(path)
    path.write_text(site.replace("years = 30", "years = 40"), encoding="utf-8")
    assert read_site(path).tables.weather.monthly.years == 40
