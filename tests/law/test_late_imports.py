"""What a plain run leaves alone, and that nobody else misses it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

SITE = Path(__file__).resolve().parents[2] / "sites" / "hot-valve-site.toml"
UNUSED = ("jinja2", "matplotlib", "openpyxl", "pandas", "rich", "scipy.interpolate",
          "scipy.optimize", "scipy.stats", "tomlkit", "weasyprint")  # fmt: skip


def said(code):
    """Return what a Python of its own prints last, as JSON."""
    run = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    return json.loads(run.stdout.splitlines()[-1])


def test_a_plain_run_loads_what_it_uses():
    """Tables, solvers, charts and documents are imported by who wants them."""
    code = f"""
import json, sys
from powerbudget.cli import main
sys.argv = ["powerbudget", "run", {str(SITE)!r}]
try:
    main()
except SystemExit as ended:
    assert not ended.code
print(json.dumps([name for name in {UNUSED!r} if name in sys.modules]))
"""
    assert said(code) == []


def test_who_comes_later_finds_everything_whole():
    """A series is one, a solver solves, and the packages themselves are their own."""
    code = """
import json, sys
import numpy as np
from powerbudget.weather.late_imports import pvlib_module
sun, light = pvlib_module("solarposition"), pvlib_module("irradiance")
held = [name for name in ("pandas", "scipy.optimize") if name in sys.modules]
before = isinstance(1.0, sun.pd.Series)
import pandas as pd
series = pd.Series([100.0, 200.0])
axis = pd.date_range("2020-06-01", periods=2, freq="h", tz="UTC")
both = (sun.pd.Series, sun.pd.DataFrame)
kinds = [isinstance(series, both), isinstance(series, sun.pd.DatetimeIndex)]
frame = sun.get_solarposition(axis, 40.0, -105.0)
peak = [pvlib_module("singlediode").bishop88_mpp(1.0, 9e-10, 4.0, 5000.0, 4.0, method=m)
        for m in ("brentq", "newton")]
sky = light.isotropic(30.0, series)
extra = light.get_extra_radiation(axis)
import scipy.optimize
root = scipy.optimize.brentq(lambda x: x - 2.0, 0.0, 3.0)
print(json.dumps([held, before, kinds, type(frame) is pd.DataFrame,
    bool(abs(peak[0][2] - peak[1][2]) < 1e-9),
    type(sky) is pd.Series, type(extra) is pd.Series,
    bool(sun.pd.Timestamp.min == pd.Timestamp.min), root]))
"""
    told = [[], False, [True, False], True, True, True, True, True, 2.0]
    assert said(code) == told


def test_the_bare_package_gives_what_the_whole_one_gives():
    """Sun by our call of the algorithm and by the library's own, to the last digit.

    The second place has the clock of the first, and shares what follows from time alone.
    """
    code = """
import dataclasses, json
import numpy as np
from powerbudget.weather.files import read_record
from powerbudget.weather.sun import sun_position
first = read_record("sand-point")
places = [first, dataclasses.replace(
    first, latitude_deg=-33.0, longitude_deg=22.0, elevation_m=1500.0)]
found = [sun_position(record) for record in places]
import pandas as pd, pvlib
same = []
for record, ours in zip(places, found):
    theirs = pvlib.solarposition.get_solarposition(
        pd.DatetimeIndex(record.sun_utc).tz_localize("UTC"), record.latitude_deg,
        record.longitude_deg, altitude=record.elevation_m)
    pairs = ((ours.zenith_deg, "apparent_zenith"), (ours.true_zenith_deg, "zenith"),
             (ours.azimuth_deg, "azimuth"))
    same += [bool((a == theirs[b].to_numpy()).all()) for a, b in pairs]
print(json.dumps(same))
"""
    assert said(code) == [True] * 6
