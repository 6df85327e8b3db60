"""Seasons drawn anew: the options of `size` and `report`, and their progress."""

from __future__ import annotations

import sys
from typing import Annotated

from powerbudget.cli.common import option

EnsembleOption = Annotated[
    int | None,
    option(
        "--monte-carlo --ensemble",
        "Simulate every size over N winters of sampled weather, load, "
        "temperature derating, soiling, and snow: probability of PASS; 50 %, 90 "
        "%, 99 % size; input influence. 1000 winters take about a minute.",
        "N",
    ),
]
SeedOption = Annotated[
    int,
    option("--seed", "Random seed: the same seed gives the same result.",
           "WHOLE NUMBER", show_default=True),
]  # fmt: skip


def progress(done: int, total: int) -> None:
    """Show on a terminal how many winters are done."""
    width = 30
    filled = width * done // total
    end = "\n" if done == total else ""
    bar = "#" * filled + "." * (width - filled)
    sys.stderr.write(f"\rwinters: [{bar}] {done:,} of {total:,}{end}")
    sys.stderr.flush()
