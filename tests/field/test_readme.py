"""README and manual show what the program prints; run this file to refresh them.

Names of chapters behind it refresh only those.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import statistics
import subprocess
import sys
import tempfile
from functools import cache
from pathlib import Path

import pytest
from reference import together
from reference.texts import retired_in

from powerbudget.manual.topics import chapter

ROOT = Path(__file__).resolve().parents[2]
README = ROOT / "README.md"
MANUAL = ROOT / "powerbudget" / "manual"
CHAPTERS = sorted(
    set(MANUAL.glob("*.md")) - {MANUAL / "changes.md", MANUAL / "keys.md"}
)
BLOCK = re.compile(r"(<!-- output: (.+?) -->\n```text\n)(.*?)(```)", re.DOTALL)
"""What is printed by a command, and which of its lines: ``| rest``, what stands under
the result line; ``| head N``; ``| errors``, standard error."""
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

[charge_controller]
kind = "mppt"

[battery]
chemistry = "agm"
unit = { nominal = "12 V", capacity = "100 Wh", hour_rate = "20 h" }
series = 2

[criteria]
autonomy = "7 d"
autonomy_temperature = "-30 degC"
"""


@cache
def folder() -> Path:
    """Return a folder with the demo sites and a faulty site file."""
    place = Path(tempfile.mkdtemp(prefix="readme-"))
    ignore = shutil.ignore_patterns("pictures", "*.md")
    shutil.copytree(ROOT / "sites", place / "sites", ignore=ignore)
    (place / "my-site.toml").write_text(FAULTY, encoding="utf-8")
    return place


@cache
def run(command: str) -> subprocess.CompletedProcess[str]:
    """Return what a command of a page prints."""
    words = [sys.executable, "-m", *shlex.split(command)]
    paths = os.pathsep.join([str(ROOT), os.environ.get("PYTHONPATH", "")])
    return subprocess.run(
        words, capture_output=True, encoding="utf-8", check=False, cwd=folder(),
        env={**os.environ, "PYTHONPATH": paths, "PYTHONUTF8": "1"},
    )  # fmt: skip


def printed(order: str) -> str:
    """Return what stands in a block: a command and which of its lines."""
    command, *filters = [word.strip() for word in order.split("|")]
    done = run(command)
    text = done.stderr if "errors" in filters else done.stdout
    for word in filters:
        if word == "rest":
            text = text.split("\n\n", maxsplit=1)[1]
        if word.startswith("head"):
            lines = text.splitlines()[: int(word.split()[1])]
            text = "".join(f"{line}\n" for line in [*lines, "..."])
    return text


def blocks(page: Path) -> list[tuple[str, str]]:
    """Return the orders of a page with what stands there."""
    found = BLOCK.findall(page.read_text(encoding="utf-8"))
    return [(order, text) for _, order, text, _ in found]


SHOWN = [
    pytest.param(order, text, id=f"{page.stem}: {order}")
    for page in [README, *CHAPTERS]
    for order, text in blocks(page)
]


@pytest.mark.slow
@pytest.mark.parametrize(("order", "text"), SHOWN)
def test_a_page_shows_what_is_printed(order, text):
    """Each block of output in README and manual is what the program prints."""
    assert text == printed(order)


def test_readme_shows_the_first_screens_and_is_short():
    """Three first screens of the built-in example; 200 lines at most."""
    orders = [order for order, _ in blocks(README)]
    assert orders == ["powerbudget loads", "powerbudget run", "powerbudget size"]
    assert len(README.read_text(encoding="utf-8").splitlines()) <= 200


def test_readme_needs_no_file_beside_it():
    """On a package index no relative link works: there is none but the picture's."""
    text = README.read_text(encoding="utf-8")
    links = re.findall(r"(!?)\[[^\]]+\]\(([^)]+)\)", text)
    assert [link for mark, link in links if not mark and "://" not in link] == []
    assert len([link for mark, link in links if mark]) == 1


def test_readme_names_every_verb():
    """The README shows every verb that the tool has."""
    text = README.read_text(encoding="utf-8")
    listing = run("powerbudget --help").stdout
    listed = re.findall(r"^  (\w+) ", listing.split("Commands:")[1], re.MULTILINE)
    assert {"new", "parts", "loads", "weather", "run", "size"} <= set(listed)
    for verb in listed:
        assert f"powerbudget {verb}" in text


@pytest.mark.parametrize("page", CHAPTERS, ids=lambda page: page.stem)
def test_a_chapter_is_read_on_a_terminal(page):
    """Prose and tables in 100 columns, without pictures, marks and links."""
    text = chapter(page.stem)
    code = re.findall(r"```\w+\n(.*?)```", page.read_text("utf-8"), re.DOTALL)
    quoted = {line.strip() for block in code for line in block.splitlines()}
    wide = [x for x in text.splitlines() if len(x) > 100 and x.strip() not in quoted]
    assert wide == []
    assert not re.search(r"```|<!--|^!|\]\(|\| ---", text, re.MULTILINE)
    for block in code:
        assert all(line.strip() in text for line in block.splitlines())


@together.parametrize("page", CHAPTERS)
def test_a_chapter_begins_with_a_worked_demo(page):
    """Title, demo, command, and what the command prints, in this order."""
    text = page.read_text(encoding="utf-8")
    assert text.startswith("# ")
    sections = re.findall("^## (.+)$", text, re.MULTILINE)
    assert sections[0].startswith("Demo: ")
    if page.stem == "python":
        return
    demo = text.split("\n## ")[1]
    command = re.search(r"```sh\n(.+)\n", demo)
    (order, shown), *_ = blocks(page)
    assert command.group(1).startswith(order.split(" |")[0])
    assert shown.strip()


def sentences(text: str) -> list[str]:
    """Return the sentences of a page, without code, tables, headings and marks."""
    text = re.sub(r"```.*?```|<!--.*?-->|!\[.*?\]\(.*?\)", "", text, flags=re.DOTALL)
    text = re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", text)
    prose = [x for x in text.splitlines() if x and not x.startswith(("|", "#"))]
    parts = [re.split(r"(?<=[.!?])\**\s+(?=[A-Z`*\"0-9])", line) for line in prose]
    return [sentence for part in parts for sentence in part]


@together.parametrize("page", [README, *CHAPTERS])
def test_no_sentence_is_long(page):
    """At most 30 words: the style guide's limit."""
    told = sentences(page.read_text(encoding="utf-8"))
    assert [one for one in told if len(one.split()) > 30] == []


def test_sentences_are_short():
    """At most 14 words in the median of README and manual: the style guide's limit."""
    pages = [page.read_text(encoding="utf-8") for page in [README, *CHAPTERS]]
    counts = [len(one.split()) for text in pages for one in sentences(text)]
    assert len(counts) > 300
    assert statistics.median(counts) <= 14


@together.parametrize("page", [README, *CHAPTERS])
def test_no_retired_word_stands_in_the_prose(page):
    """Words of the trade; code, keys and what the program prints are held elsewhere."""
    text = re.sub(r"```.*?```|<!--.*?-->", "", page.read_text("utf-8"), flags=re.DOTALL)
    text = re.sub(r"`[^`]*`|\]\([^)]*\)", "~", text)
    assert retired_in(text) == []


@together.parametrize("page", [README, *CHAPTERS])
def test_every_link_of_a_page_leads_to_a_file(page):
    """A link or picture within the project is there."""
    text = page.read_text(encoding="utf-8")
    for link in re.findall(r"\]\(([^)#]+)[^)]*\)", text):
        assert "://" in link or (page.parent / link).is_file(), link


def test_keys_of_the_manual_are_keys_of_the_reader():
    """Each key that a chapter writes in TOML is one of the key reference."""
    known = {path.split(".")[-1] for path in _paths()}
    for page in CHAPTERS:
        for block in re.findall(
            r"```toml\n(.*?)```", page.read_text("utf-8"), re.DOTALL
        ):
            for key in re.findall(r"^([a-z_0-9]+) = ", block, re.MULTILINE):
                assert key in known, f"{page.stem}: {key}"


def _paths() -> set[str]:
    from powerbudget.manual.reference import every_table

    return {key.path for table in every_table() for key in table.keys}


PYTHON = [
    pytest.param(code, id=f"{page.stem}-{k}")
    for page in [README, *CHAPTERS]
    for k, code in enumerate(
        re.findall(r"```python\n(.*?)```", page.read_text("utf-8"), re.DOTALL)
    )
]


@pytest.mark.slow
@pytest.mark.parametrize("code", PYTHON)
def test_python_of_a_page_runs(code, capsys, monkeypatch):
    """What a page shows in Python prints something when it is run as it stands."""
    monkeypatch.chdir(folder())
    exec(compile(code, "page", "exec"), {})  # noqa: S102 - the page's own code
    assert capsys.readouterr().out


def _refresh(names: list[str]) -> None:
    for page in [README, *CHAPTERS]:
        if names and page.stem not in names:
            continue
        text = page.read_text(encoding="utf-8")
        fresh = BLOCK.sub(lambda m: m.group(1) + printed(m.group(2)) + m.group(4), text)
        page.write_text(fresh, encoding="utf-8")


if __name__ == "__main__":
    _refresh(sys.argv[1:])
