"""The page of the demo sites says what their files say.

Run this file to write the page; with the word ``pictures`` to draw the pictures of README,
manual and page anew as well, with names of pictures behind it to draw only those.
"""

from __future__ import annotations

import re
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

from reference import together
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

PICTURES = {
    "first-run": "run --plot",
    "first-run-frontier": "size --plot",
    "first-run-autonomy": "run --plot-autonomy",
    "first-run-ensemble": "size --monte-carlo 1000 --plot-ensemble",
    "foggy-basin-worksheet": "size foggy-basin-station --plot-worksheet",
    "balances-on-paper": "check balances-on-paper --plot",
    "compare-dark-wellpad": "compare dark-gas-wellpad --plot",
    "tag-list-loads": "loads tag-list-station --plot",
    "winter-hybrid": "run winter-hybrid --plot",
    "northern-sky": "weather northern-wellpad-no-record --plot",
}
"""Picture -> the verb, the demo and the option that draw it."""
OWN = {
    "checked-station-12v": "check", "checked-station-24v": "check",
    "electric-wellpad": "loads",
}  # fmt: skip
"""Demo without a picture of its own -> what its thumbnail shows; else `run`."""
WIDTH = 340


def shown(demo: str) -> tuple[str, str]:
    """Return the thumbnail of a demo and how it is drawn."""
    if demo.startswith("epa-wellpad"):
        # One rule on five sizes: the days are the same.
        return "thumb-epa-wellpad", "run epa-wellpad-2-0 --plot"
    for order in PICTURES.values():
        if demo in order.split():
            return f"thumb-{demo}", order
    return f"thumb-{demo}", f"{OWN.get(demo, 'run')} {demo} --plot"


def header(demo: Path) -> str:
    """Return the comment at the top of a demo, in one line."""
    lines = demo.read_text(encoding="utf-8").splitlines()[1:]
    top = lines[: next(k for k, line in enumerate(lines) if not line.startswith("#"))]
    return " ".join(line.lstrip("# ") for line in top).strip()


def lesson(demo: Path) -> str:
    """Return what a demo teaches."""
    return header(demo).split("What to learn: ")[1]


def page() -> str:
    """Return the page of the demo sites as their files have it, equal lessons in a row."""
    rows: dict[tuple[str, str], list[Path]] = {}
    for demo in DEMOS:
        rows.setdefault((shown(demo.stem)[0], lesson(demo)), []).append(demo)
    lines = []
    for (picture, told), demos in rows.items():
        name = tomllib.loads(demos[0].read_text(encoding="utf-8"))["site"]["name"]
        image = f'<img src="pictures/{picture}.png" alt="{name}" width="240">'
        links = "<br>".join(f"[`{demo.name}`]({demo.name})" for demo in demos)
        lines.append(f"| {image} | {links} | {told} |\n")
    return HEAD + "".join(lines)


def test_the_page_says_what_the_files_say():
    """One home of a lesson: the comment of the demo."""
    assert PAGE.read_text(encoding="utf-8") == page()


@together.parametrize("demo", DEMOS)
def test_a_demo_says_that_it_is_fictitious_and_what_to_learn(demo):
    """In two sentences of the trade's words, beside a picture."""
    text = header(demo)
    assert text.startswith("FICTITIOUS DEMO. ")
    assert tomllib.loads(demo.read_text(encoding="utf-8"))["site"]["fictitious"] is True
    told = re.findall(r"[.](?= |$)", re.sub(r"`[^`]*`|\d\.\d", "", lesson(demo)))
    assert len(told) == 2
    assert max(len(one.split()) for one in re.split(r"[.:;] ", lesson(demo))) <= 30
    assert retired_in(re.sub(r"`[^`]*`", "~", text)) == []
    picture = SITES / "pictures" / f"{shown(demo.stem)[0]}.png"
    assert 2_000 < picture.stat().st_size < 60_000


def _draw(order: str, file: Path) -> None:
    words = [f"sites/{w}.toml" if (SITES / f"{w}.toml").is_file() else w
             for w in order.split()]  # fmt: skip
    command = [sys.executable, "-m", "powerbudget", *words, str(file)]
    subprocess.run(command, check=False, cwd=SITES.parent, stdout=subprocess.DEVNULL)


def _thumb(big: Path, small: Path) -> None:
    from PIL import Image

    with Image.open(big) as picture:
        picture.thumbnail((WIDTH, WIDTH))
        picture.convert("P", palette=Image.Palette.ADAPTIVE, colors=64).save(
            small, optimize=True
        )


def draw(names: list[str]) -> None:
    """Draw pictures and thumbnails anew: those that are named, or all."""
    folder = SITES / "pictures"
    thumbs = dict(shown(demo.stem) for demo in DEMOS)
    for name, order in (PICTURES | thumbs).items():
        if names and name not in names:
            continue
        if name in PICTURES:
            _draw(order, folder / f"{name}.png")
            continue
        kept = [n for n, same in PICTURES.items() if same == order]
        big = (
            folder / f"{kept[0]}.png" if kept else Path(tempfile.mkdtemp()) / "big.png"
        )
        if not kept:
            _draw(order, big)
        _thumb(big, folder / f"{name}.png")


if __name__ == "__main__":
    if sys.argv[1:2] == ["pictures"]:
        draw(sys.argv[2:])
    PAGE.write_text(page(), encoding="utf-8")
