"""Speed of whole steps against a plain step of the same work: `pytest -m bench`."""

from __future__ import annotations

import csv
import time
import tomllib
from pathlib import Path

import pytest

from powerbudget.array.string_output import array_series
from powerbudget.balance.problem import site_module
from powerbudget.lists.io_list import read_io_list
from powerbudget.site import parts
from powerbudget.site.starter import starter_design
from powerbudget.weather import read_files, read_record, sun_position
from powerbudget.weather.audit import audit
from powerbudget.weather.late_imports import pvlib_module

pytestmark = pytest.mark.bench
SHARED = Path(__file__).resolve().parents[3] / "shared" / "weather"


def _best(call, repeat=3, clock=time.perf_counter):
    times = []
    for _ in range(repeat):
        start = clock()
        call()
        times.append(clock() - start)
    return min(times)


def _say(capsys, what, ratio):
    with capsys.disabled():
        print(f"\n{what}: {ratio:.2f}")


def _sun(record):
    """Return a call of the sun's position that no cache answers."""
    import pandas as pd

    solar = pvlib_module("solarposition")
    index = pd.DatetimeIndex(record.start_utc).tz_localize("UTC")
    place = (record.latitude_deg, record.longitude_deg)
    return lambda: solar.get_solarposition(index, *place)


def test_reading_all_parts_costs_few_times_their_toml(capsys):
    """The library with its checks takes at most ten times the bare TOML."""
    files = sorted(parts.FOLDER.glob("*.toml"))

    def bare():
        for file in files:
            tomllib.loads(file.read_text(encoding="utf-8"))

    def checked():
        parts._built_in.cache_clear()
        parts.load_parts()

    checked()
    ratio = _best(checked) / _best(bare)
    _say(capsys, "parts library over bare TOML", ratio)
    assert ratio < 10


def test_audit_and_array_of_a_year_cost_less_than_the_sun(capsys):
    """Audit and panel of a year each take less time than the sun's position."""
    record = read_record("sand-point")
    sun, design = sun_position(record), starter_design()
    module, tables = site_module(design), design.tables
    position = _best(_sun(record))
    for what, call in (
        ("audit", lambda: audit(record)),
        ("panel", lambda: array_series(record, sun, tables.array, module)),
    ):
        call()
        ratio = _best(call) / position
        _say(capsys, f"{what} of a year over the sun's position", ratio)
        assert ratio < 1.5


def test_a_long_list_of_tags_costs_few_times_its_csv(capsys, tmp_path):
    """A list of 100,000 tags is read in at most sixty times the bare CSV."""
    path = tmp_path / "io.csv"
    rows = [f"PT-{k},AI,4-20mA,card,Pressure" for k in range(100_000)]
    head = "Tag,IO type,Signal,Powered by,Service"
    path.write_text("\n".join([head, *rows]), encoding="utf-8")

    def bare():
        with path.open(encoding="utf-8", newline="") as file:
            return sum(1 for _ in csv.reader(file))

    # Seconds of the processor: one long call beside short ones meets other work more.
    cpu = time.process_time
    ratio = _best(lambda: read_io_list(path), 1, cpu) / _best(bare, clock=cpu)
    _say(capsys, "list of tags over bare CSV", ratio)
    assert ratio < 60


@pytest.mark.skipif(not SHARED.is_dir(), reason="no shared weather beside the checkout")
def test_eighteen_years_cost_few_times_their_csv(capsys):
    """18 half-hourly years, read and audited, take at most 25 times their CSV."""
    import pandas as pd

    files = sorted((SHARED / "nsrdb-california-1998-2015").glob("*.csv"))

    def bare():
        for file in files:
            pd.read_csv(file, skiprows=2)

    ratio = _best(lambda: read_files(files), 1) / _best(bare, 1)
    _say(capsys, "18 years read and audited over bare CSV", ratio)
    assert ratio < 25
