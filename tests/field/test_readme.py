"""The README shows what the tool prints; run this file to refresh it."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
README = ROOT / "README.md"
FAULTY = """
[site]
name = "My site"
latitude = 91
longitude = "119.4 W"

[weather]
record = "sandpoint"

[bus]
nominal = "24 V"
low_voltage_disconnect = "23.2 V"
low_voltage_reconnect = "25 V"
contigency = "15 %"

[[load]]
name = "logger"
part = "controller-logger-sleeping"

[[load]]
name = "radio"
part = "radio-licenced-5w"

[array]
module = "module-36-cell-100w"
tilt = "60 deg"
azimuth = "south"

[regulator]
kind = "mppt"

[battery]
chemistry = "agm"
unit = { nominal = "12 V", capacity = "100 Wh", hour_rate = "20 h" }
series = 2

[criteria]
autonomy = "7 d"
autonomy_temperature = "-30 degC"
"""


def _output(*words: str, text: str = "") -> str:
    command = [sys.executable, "-m", "powerbudget", *words]
    if text:
        folder = ROOT / ".pytest_cache"
        folder.mkdir(exist_ok=True)
        (folder / "my-site.toml").write_text(text, encoding="utf-8")
        done = subprocess.run(
            [*command, "my-site.toml"],
            capture_output=True,
            text=True,
            check=False,
            cwd=folder,
        )
        return done.stderr
    done = subprocess.run(
        command, capture_output=True, text=True, check=False, cwd=ROOT
    )
    return done.stdout


def _rest(text: str) -> str:
    """Return what stands under the result line."""
    return text.split("\n\n", maxsplit=1)[1]


def _blocks() -> dict[str, str]:
    basin = "sites/foggy-basin-station.toml"
    return {
        "loads": _output("loads"),
        "run": _output("run"),
        "battery": _rest(_output("run", "--battery", "--end-of-life")),
        "size": _output("size"),
        "check": _output("check", "sites/balances-on-paper.toml"),
        "faults": _output("run", text=FAULTY),
        "worksheet": _rest(_output("size", basin, "--compare-worksheet")),
    }


def _pattern(name: str) -> re.Pattern[str]:
    return re.compile(rf"(<!-- output: {name} -->\n```text\n)(.*?)(```)", re.DOTALL)


@pytest.fixture(scope="module")
def blocks():
    """Return what the tool prints now, by name."""
    return _blocks()


@pytest.mark.slow
@pytest.mark.parametrize(
    "name", ["loads", "run", "battery", "size", "check", "faults", "worksheet"]
)
def test_readme_shows_what_is_printed(blocks, name):
    """Each block of output in the README is what the tool prints."""
    match = _pattern(name).search(README.read_text(encoding="utf-8"))
    assert match is not None
    assert match.group(2) == blocks[name]


def test_readme_names_every_verb():
    """The README shows every verb that the tool has."""
    text = README.read_text(encoding="utf-8")
    listed = re.findall(
        r"^  (\w+) ", _output("--help").split("Commands:")[1], re.MULTILINE
    )
    assert {"new", "parts", "loads", "weather", "run", "size"} <= set(listed)
    for verb in listed:
        assert f"powerbudget {verb}" in text


def _refresh() -> None:
    text = README.read_text(encoding="utf-8")
    for name, block in _blocks().items():
        text = _pattern(name).sub(lambda m, b=block: m.group(1) + b + m.group(3), text)
    README.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    _refresh()
