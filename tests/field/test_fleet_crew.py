"""A fleet loses nothing: rows kept, dead processes replaced, an interrupt obeyed."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from powerbudget.fleet import crew, fleet, kept
from powerbudget.fleet.row import FleetRow

ROOT = Path(__file__).resolve().parents[2]
GOOD = ROOT / "sites" / "hot-valve-site.toml"
FAKE = """
import json, os, sys, time
for line in sys.stdin:
    path, name, sizes = json.loads(line)
    if "killer" in name:
        os._exit(9)
    if "once" in name and not os.path.exists(path + ".died"):
        open(path + ".died", "w").close()
        os._exit(9)
    if "slow" in name:
        time.sleep(600)
    open(path + ".done", "a").write("x")
    print(json.dumps({"file": name, "name": str(os.getpid())}), flush=True)
"""


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """Return a maker of site files by name, answered by a worker of no physics."""
    (tmp_path / "fake.py").write_text(FAKE, encoding="utf-8")
    words = (sys.executable, str(tmp_path / "fake.py"))
    monkeypatch.setattr(crew, "WORKER", words)

    def make(*names):
        place = tmp_path / "sites"
        place.mkdir(exist_ok=True)
        for name in names:
            (place / f"{name}.toml").write_text("[site]\n", encoding="utf-8")
        return place

    return make


def test_a_dead_process_is_replaced_and_its_site_named(folder):
    """The site that ends its process twice is named; every other has its row."""
    rows = fleet.fleet(folder("a", "killer", "once", "z"), workers=2)
    by_name = {row.file: row for row in rows}
    assert "ended its process 2 times" in by_name["killer.toml"].fault
    assert [row.file for row in rows if not row.fault] == [
        "a.toml",
        "once.toml",
        "z.toml",
    ]


def test_rows_are_kept_and_gone_on_from(folder, tmp_path):
    """What was done is not done again, unless its file changed or it failed."""
    place, file = folder("a", "b", "killer"), tmp_path / "rows"
    first = fleet.fleet(place, workers=2, kept=file)
    (place / "b.toml").write_text("[site]\nx = 1\n", encoding="utf-8")
    with file.open("a", encoding="utf-8") as stream:
        stream.write('{"mark": "torn')
    second = fleet.fleet(place, workers=2, kept=file)
    assert [row.file for row in second] == [row.file for row in first]
    done = {p.name: p.read_text() for p in place.glob("*.done")}
    assert done == {"a.toml.done": "x", "b.toml.done": "xx"}


def test_a_row_survives_being_kept(tmp_path):
    """Figures come back to the last digit, empty ones as empty."""
    row = FleetRow("a.toml", "pad 7", 50.1, lowest_soc_frac=0.1 + 0.2, met=True)
    kept.keep(tmp_path / "rows", "m", row)
    assert kept.kept_rows(tmp_path / "rows") == {("a.toml", "m"): row}


def test_an_interrupt_ends_it_with_its_rows(folder, tmp_path):
    """Ctrl-C: 130 within two seconds, rows kept, no process left."""
    place, table = folder("a", "slow"), tmp_path / "t.parquet"
    program = (
        "import sys; from powerbudget.fleet import crew; from powerbudget import cli; "
        f"crew.WORKER = {crew.WORKER!r}; sys.argv = ['powerbudget', 'fleet', {str(place)!r}, "
        f"'-o', {str(table)!r}, '--workers', '2']; cli.main()"
    )
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    running = subprocess.Popen(
        [sys.executable, "-c", program], env=env, stderr=subprocess.PIPE, text=True
    )
    rows = kept.kept_beside(table)
    until = time.monotonic() + 60
    while not (rows.exists() and rows.read_text("utf-8")) and time.monotonic() < until:
        time.sleep(0.05)
    begun = time.monotonic()
    running.send_signal(signal.SIGINT)
    # Ends when nobody holds the stream any more: no worker is left.
    _, said = running.communicate(timeout=20)
    assert running.returncode == 130, said
    assert time.monotonic() - begun < 2.0
    assert "--resume continues" in said
    assert [
        json.loads(line)["file"] for line in rows.read_text("utf-8").splitlines()
    ] == ["a.toml"]


@pytest.mark.slow
def test_at_the_top_of_a_script(tmp_path):
    """A script that guards nothing is run once, and has its rows."""
    (tmp_path / "sites").mkdir()
    for name in "ab":
        shutil.copy(GOOD, tmp_path / "sites" / f"{name}.toml")
    script = "import powerbudget as pb\nrows = pb.fleet('sites', workers=2)\n"
    script += "print('once', [row.met for row in rows])\n"
    (tmp_path / "script.py").write_text(script, encoding="utf-8")
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    found = subprocess.run(
        [sys.executable, "script.py"],
        cwd=tmp_path, env=env, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert found.stdout == "once [True, True]\n"
