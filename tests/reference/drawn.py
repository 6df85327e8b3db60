"""Sixty sentences of all output, drawn by a seed, to be read by a person.

Run with a folder: ``python tests/reference/drawn.py FOLDER``; outputs kept there by
``printed.py`` are used, and made first where there are none.
"""

from __future__ import annotations

import random
import re
import sys
from pathlib import Path

from reference.printed import printed, prose, sentences

SEED, SENTENCES = 20261201, 60


def drawn(texts: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """Return place and sentence of the sample.

    Parameters
    ----------
    texts
        Place and text of every output.
    """
    # Sources of figures and comments of demo sites are no output of a calculation.
    told = {
        s: place
        for place, text in texts
        if not place.endswith((" comments", "parts --json"))
        for s in sentences(prose(text))
        # A clause behind a semicolon and a piece of a broken line are no sentences.
        if re.match(r"[A-Z0-9]", s) and s.count("(") == s.count(")")
    }
    picked = random.Random(SEED).sample(sorted(told), SENTENCES)  # noqa: S311 - a sample
    return [(told[one], one) for one in picked]


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    kept = [
        (path.stem, path.read_text("utf-8")) for path in sorted(folder.glob("*.txt"))
    ]
    for place, one in drawn(kept or list(printed(folder))):
        sys.stdout.write(f"{place}: {one}\n")
