"""Answers that need an extra: without it the install line is told, exit code 2."""

from __future__ import annotations

import re
import sys
import tomllib
from importlib.metadata import PackageNotFoundError, metadata
from pathlib import Path

import pytest

from powerbudget.fleet import crew

ROOT = Path(__file__).resolve().parents[2]
SITE = ROOT / "sites" / "hot-valve-site.toml"
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]


@pytest.fixture
def without(monkeypatch):
    """Return what hides a library from imports."""

    def hide(*names):
        for name in names:
            for known in [n for n in sys.modules if n.split(".")[0] == name]:
                monkeypatch.delitem(sys.modules, known)
            monkeypatch.setitem(sys.modules, name, None)

    return hide


def test_a_page_on_paper(call, without, tmp_path):
    """`report -o FILE.pdf` says so before it computes."""
    without("weasyprint")
    code, out, err = call("report", SITE, "-o", tmp_path / "page.pdf")
    assert (code, out) == (2, "")
    assert "pip install 'powerbudget[pdf]'" in err
    assert not list(tmp_path.iterdir())


def test_weather_of_a_service(call, without, tmp_path, site_text, monkeypatch):
    """`weather --fetch` asks nobody."""
    monkeypatch.setenv("POWERBUDGET_CACHE", str(tmp_path / "cache"))
    without("requests")
    path = tmp_path / "site.toml"
    text = site_text('[[load]]\nname = "a"\ntypical = "2 W"\n')
    there = 'online = "nasa-power"\nurl = "http://127.0.0.1:9/"'
    path.write_text(text.replace('record = "greensboro"', there), encoding="utf-8")
    code, _, err = call("weather", path, "--fetch")
    assert code == 2
    assert "pip install 'powerbudget[live]'" in err


@pytest.mark.parametrize(
    ("library", "words"),
    [
        ("pyarrow", ["-o", "all.parquet"]),
        ("distributed", ["--scheduler", "tcp://127.0.0.1:9"]),
    ],
)
def test_tables_and_other_machines(
    call, without, tmp_path, monkeypatch, library, words
):
    """`fleet` names the extra; the rows that are done are kept."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "fake.py").write_text(
        "import json, sys\nfor line in sys.stdin:\n"
        "    row = {'file': json.loads(line)[1], 'met': True, 'wh_per_day': 1.0}\n"
        "    print(json.dumps(row), flush=True)\n",
        encoding="utf-8",
    )
    monkeypatch.setattr(crew, "WORKER", (sys.executable, str(tmp_path / "fake.py")))
    (tmp_path / "sites").mkdir()
    (tmp_path / "sites" / "a.toml").write_text("[site]\n", encoding="utf-8")
    without(library, "fastparquet")
    code, _, err = call("fleet", "sites", *words)
    assert code == 2
    assert library in err
    assert "pip install 'powerbudget[fleet]'" in err


def _names(lines):
    return {re.split(r"[<>=\[ ]", line)[0].lower() for line in lines}


def test_licenses_of_dependencies_are_listed():
    """Each dependency and extra has its row, none besides, and the license it states."""
    text = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    table = text.partition("## Licenses of what is needed")[2].partition("\n## ")[0]
    rows = dict(re.findall(r"^\| `([^`]+)` \| ([^|]+) \|", table, re.MULTILINE))
    extras = PROJECT["optional-dependencies"]
    wanted = _names(PROJECT["dependencies"])
    for extra in ("pdf", "live", "fleet", "docx"):
        wanted |= _names(extras[extra])
    assert {name.lower() for name in rows} == wanted
    for name, license_ in rows.items():
        try:
            stated = metadata(name)
        except PackageNotFoundError:
            continue
        kinds = [c for c in stated.get_all("Classifier", []) if c.startswith("License")]
        first = (stated.get("License") or "").partition("\n")[0]
        said = " ".join([stated.get("License-Expression") or first, *kinds])
        family = license_.split("-")[0].split(" ")[0]
        assert family.lower() in said.lower().replace("apache ", "apache"), (name, said)
