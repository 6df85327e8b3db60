"""Files that nobody wrote: mutants of those that somebody did, drawn by a seed."""

from __future__ import annotations

import random
import re
from functools import cache
from pathlib import Path

import pvlib
from reference.plain_book import HEAD, packed, parts

ROOT = Path(__file__).resolve().parents[2]
SITES = ROOT / "sites"
YEARS = Path(pvlib.__file__).parent / "data"
HEAD_BYTES = 3000
"""Of a file of weather so much is changed: rows beyond are like those before."""
ODD = [
    "", "0", "-1", "1e999", "nan", "inf", "9" * 5000, "0x" + "f" * 5000, '"', "'''", "[[",
    "]]", "{", "}", "=", "\0", "\ud7ff", "é", "∞", "\u202e", "true", "1979-05-27", "-0",
    "1 W", "1e308 W", "-1e-320 V", "100 %", "#", "[load]", "[[load]]", "\r", "\t", ",", ";",
    "XFDXF2", "A4294967295", "65536", "2" * 300, "..", "/dev/zero", "*",
]  # fmt: skip


@cache
def kinds() -> dict[str, list[tuple[str, bytes]]]:
    """Return the seeds by kind: ending and content."""
    weather = b"time,ghi,temp_air\n2014-01-01 00:00,0,-3\n2014-01-01 01:00,5,-2\n" * 40
    return {
        "site": [(".toml", path.read_bytes()) for path in SITES.glob("*.toml")],
        "claims": [(".toml", p.read_bytes()) for p in SITES.glob("claims/*.toml")],
        "list": [
            (".csv", b"".join(path.read_bytes().splitlines(keepends=True)[:12]))
            for path in SITES.glob("*.csv")
        ],
        "weather": [
            (".csv", weather),
            (".epw", b"LOCATION,X,Y,Z,TMY,1,50.0,-110.0,-7.0,700\n" * 3 + weather),
            (".csv", b'703165,"COLD BAY",AK,-9.0,55.2,-162.7,29\n' + weather),
            (".csv", (YEARS / "723170TYA.CSV").read_bytes()),
            (".tm2", (YEARS / "12839.tm2").read_bytes()),
        ],
        "workbook": [(".xlsx", b"")],
    }


def mutant(kind: str, seed: int) -> tuple[str, bytes]:
    """Return ending and content of one mutant, the same for the same seed."""
    draw = random.Random(f"{kind} {seed}")  # noqa: S311 - no secret
    ending, content = draw.choice(kinds()[kind])
    if kind == "weather":
        head, rows = content[:HEAD_BYTES], content[HEAD_BYTES:]
        return ending, _changed(head, draw) + rows
    if kind != "workbook":
        return ending, _changed(content, draw)
    styles = (
        "<styleSheet><cellXfs><xf fontId='0' numFmtId='14'/></cellXfs></styleSheet>"
    )
    found = parts(HEAD, "<mergeCells><mergeCell ref='A1:B2'/></mergeCells>", styles)
    name = draw.choice([*found, "all"])
    if name == "all":
        return ending, _changed(packed(found), draw)
    return ending, packed({**found, name: _changed(found[name].encode(), draw)})


def other_figures(seed: int) -> str:
    """Return a demo site with other numbers in it, so that many are still sites."""
    draw = random.Random(f"figures {seed}")  # noqa: S311 - no secret
    text = draw.choice(kinds()["site"])[1].decode()
    # Beyond the comments and the name: a key, its sign of equality, a figure.
    places = list(re.finditer(r"(?m)^[a-z_]+ = [^#\n]*?(\d+(?:\.\d+)?)", text))
    chosen = draw.sample(places, min(len(places), draw.randint(1, 4)))
    for place in sorted(chosen, key=lambda one: -one.start(1)):
        factor = draw.choice([0, 0.01, 0.5, 0.9, 1.1, 2, 10, 100, -1, 1e-6])
        number = f"{float(place[1]) * factor:.6g}"
        text = text[: place.start(1)] + number + text[place.end(1) :]
    return text


def _changed(content: bytes, draw: random.Random) -> bytes:
    for _ in range(draw.randint(1, 4)):
        place = draw.randrange(len(content) + 1)
        end = min(len(content), place + draw.choice([0, 1, 1, 5, 40]))
        odd = draw.choice(ODD).encode("utf-8", "surrogatepass")
        if draw.random() < 0.1:
            odd = bytes(draw.randrange(256) for _ in range(8))
        content = content[:place] + odd + content[end:]
        if draw.random() < 0.05:
            content = content[:place]
    return content
