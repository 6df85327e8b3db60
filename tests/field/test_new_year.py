"""Three dark weeks over New Year, from a weather file to every verb and the page."""

from __future__ import annotations

import csv
import gc
import importlib.util
import io
import json
import sys
from contextlib import redirect_stdout
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SHIPPED = Path(importlib.util.find_spec("pvlib").origin).parent / "data/703165TY.csv"
OVER = "across the end of the typical year"


def said(*args: object) -> str:
    """Return what the command line prints."""
    from powerbudget.cli import main

    out, usual = io.StringIO(), sys.argv
    sys.argv = ["powerbudget", *map(str, args)]
    try:
        with redirect_stdout(out):
            main()
    except SystemExit:
        pass
    finally:
        sys.argv = usual
        gc.enable()
    return out.getvalue()


@pytest.fixture(scope="module")
def site(tmp_path_factory) -> Path:
    """Return a site with no light from 23 December to 12 January: 9 and 12 days."""
    folder = tmp_path_factory.mktemp("new-year")
    with SHIPPED.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    light = [k for k, name in enumerate(rows[1]) if name in
             {"GHI (W/m^2)", "DNI (W/m^2)", "DHI (W/m^2)"}]  # fmt: skip
    assert len(light) == 3
    for hour, row in enumerate(rows[2:]):
        if hour < 12 * 24 or hour >= 8760 - 9 * 24:
            for k in light:
                row[k] = "0"
        elif hour < 13 * 24 or hour >= 8760 - 10 * 24:
            # A day of March stands on either side, so that the run is no longer.
            for k in light:
                row[k] = rows[2 + 80 * 24 + hour % 24][k]
    with (folder / "dark.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)
    text = (ROOT / "sites/coastal-meter-run.toml").read_text(encoding="utf-8")
    assert 'record = "sand-point"' in text
    path = folder / "dark.toml"
    path.write_text(text.replace('record = "sand-point"', 'file = "dark.csv"'),
                    encoding="utf-8")  # fmt: skip
    return path


def test_weather_reports_21_days(site):
    """The longest run under a quarter of the load is 21 days and begins in December."""
    found = json.loads(said("weather", site, "--json"))
    run = next(r for r in found["dark_runs"] if r["share_frac"] == 0.25)
    assert (run["days"], run["start"], run["across_end"]) == (21, "1990-12-23", True)
    spell = next(s for s in found["worst_spells"] if s["days"] == 20)
    assert spell["mean_kwh_m2_day"] == 0.0
    assert spell["across_end"] is True
    assert f"23 Dec, {OVER}" in said("weather", site)


def test_run_has_one_outage_over_new_year(site):
    """The bank of 10 days loses the loads in one stretch that ends in January."""
    found = json.loads(said("run", site, "--json"))
    over = [o for o in found["outages"] if o["across_end"]]
    long = max(found["outages"], key=lambda o: o["hours"])
    assert found["availability_frac"] < 1.0
    assert over in ([], [long])
    assert long["hours"] > 24.0
    assert long["recovered"] is True
    # Loads off until the sun is back on 13 January, whenever they went.
    assert not any(o["start"][5:10] == "01-01" for o in found["outages"])
    text = " ".join(said("run", site, "--outages").split())
    assert ("across the end" in text) == bool(over)


def test_size_and_worksheet_count_21_days(site, tmp_path):
    """The draw-down that the record shows is that of 21 days, and the spell is named."""
    # A bank by hand that lasts past New Year: the spell is told up to the outage.
    text = site.read_text(encoding="utf-8").replace('"7 d"', '"14 d"')
    dark, site = site.with_name("dark.csv"), tmp_path / "longer.toml"
    site.write_text(text.replace("dark.csv", str(dark)), encoding="utf-8")
    text = " ".join(said("size", site, "--compare-worksheet").split())
    assert OVER in text
    found = json.loads(said("size", site, "--json"))
    inside = json.dumps(found)
    assert f"Jan, {OVER}" in inside


@pytest.mark.slow
def test_the_page_says_21_days(site, undrawn):
    """The table of dark runs and its note carry the whole run."""
    from powerbudget.report.document.package import assemble
    from powerbudget.report.render.html import html_page
    from powerbudget.site.reader import read_site

    page = html_page(assemble(read_site(site)), made="2026-01-02 03:04 UTC")
    assert f"23 Dec, {OVER}" in page
