"""Seasons drawn anew: the options of `size` and `report`, and their progress."""

from __future__ import annotations

import sys
from typing import Annotated

from powerbudget.cli.common import option

EnsembleOption = Annotated[
    int | None,
    option("--monte-carlo --ensemble", "Run every size through N seasons with weather, "
           "load, cold curve, dirt and snow drawn anew: probability of meeting the target, "
           "sizes at 50, 90 and 99 %, and what matters most. 1000 seasons take about a "
           "minute.", "N"),
]  # fmt: skip
SeedOption = Annotated[
    int,
    option("--seed", "Repeats an ensemble: the same seed gives the same answer.",
           "WHOLE NUMBER", show_default=True),
]  # fmt: skip


def progress(done: int, total: int) -> None:
    """Show on a terminal how many of the seasons are done."""
    width = 30
    filled = width * done // total
    end = "\n" if done == total else ""
    bar = "#" * filled + "." * (width - filled)
    sys.stderr.write(f"\rseasons: [{bar}] {done:,} of {total:,}{end}")
    sys.stderr.flush()
