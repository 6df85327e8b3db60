"""The page of the demo sites says what their files say; run this file to write it."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from reference.texts import retired_in

SITES = Path(__file__).resolve().parents[2] / "sites"
PAGE = SITES / "README.md"
DEMOS = sorted(SITES.glob("*.toml"))
HEAD = """# Demo sites

All demo sites are fictitious and say so. Each teaches one thing.
`powerbudget new --example all` writes them into a folder of yours.
`powerbudget fleet sites` simulates them all.

| | site | what to learn |
| --- | --- | --- |
"""


def header(demo: Path) -> str:
    """Return the comment at the top of a demo, in one line."""
    lines = demo.read_text(encoding="utf-8").splitlines()[1:]
    top = lines[: next(k for k, line in enumerate(lines) if not line.startswith("#"))]
    return " ".join(line.lstrip("# ") for line in top).strip()


def lesson(demo: Path) -> str:
    """Return what a demo teaches."""
    return header(demo).split("What to learn: ")[1]


def page() -> str:
    """Return the page of the demo sites as their files have it."""
    rows = []
    for demo in DEMOS:
        name = tomllib.loads(demo.read_text(encoding="utf-8"))["site"]["name"]
        picture = f"![{name}](pictures/thumb-{demo.stem}.png)"
        rows.append(f"| {picture} | [`{demo.name}`]({demo.name}) | {lesson(demo)} |\n")
    return HEAD + "".join(rows)


def test_the_page_says_what_the_files_say():
    """One home of a lesson: the comment of the demo."""
    assert PAGE.read_text(encoding="utf-8") == page()


@pytest.mark.parametrize("demo", DEMOS, ids=lambda demo: demo.stem)
def test_a_demo_says_that_it_is_fictitious_and_what_to_learn(demo):
    """In two sentences of the trade's words, beside a picture."""
    text = header(demo)
    assert text.startswith("FICTITIOUS DEMO. ")
    assert tomllib.loads(demo.read_text(encoding="utf-8"))["site"]["fictitious"] is True
    told = re.findall(r"[.](?= |$)", re.sub(r"`[^`]*`|\d\.\d", "", lesson(demo)))
    assert len(told) == 2
    assert max(len(one.split()) for one in re.split(r"[.:;] ", lesson(demo))) <= 30
    assert retired_in(re.sub(r"`[^`]*`", "~", text)) == []
    picture = SITES / "pictures" / f"thumb-{demo.stem}.png"
    assert 2_000 < picture.stat().st_size < 60_000


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
