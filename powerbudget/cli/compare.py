"""`powerbudget compare`: sources of power on equal terms."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from powerbudget.cli.answer import Asked, Part, drawn, tell, verb
from powerbudget.cli.common import (
    SiteArgument,
    load_design,
    naming,
    option,
    plot_option,
)  # fmt: skip


@verb(
    Part("--cost", "Print the cost by group.", ("costs-by-kind",)),
    Part("--inputs", "Print prices with their ranges.", ("prices",)),
    Part("--equipment", "Print equipment and limiting criterion.", ("equipment",)),
    Part("--monthly", "Print the supply by month.", ("supply-months",)),
)
def command(
    asked: Asked,
    site: SiteArgument = None,
    plot: Annotated[
        Path | None,
        plot_option(
            "Draw cost, availability and share of supply by month into this file"
        ),
    ] = None,
    break_even: Annotated[
        bool,
        option(
            "--break-even",
            "Size every alternative again at other loads (W) and autonomies, until "
            "another has the lowest cost; 10 to 20 times as long.",
        ),
    ] = False,
) -> None:
    """Compare alternatives: cost, fuel, visits, emissions.

    Sizes PV, thermoelectric generators, fuel cells, engine-generator sets, hybrid
    systems, and a utility line to the same criteria and weather. Prints break-even
    prices; with --break-even also load (W) and autonomy (d). [compare] selects the
    alternatives, [costs] has the prices. Exit code 1 when no alternative passes.
    """
    from powerbudget.checks.cautions import cautions
    from powerbudget.compare.comparison import compare
    from powerbudget.report.charts.compare import compare_chart
    from powerbudget.report.screens.compare import compare_screen
    from powerbudget.report.sections.alternatives import compared_section

    progress = _progress if sys.stderr.isatty() else None
    with naming(site):
        result = compare(load_design(site), progress, break_even=break_even)
    drawn(plot, lambda file: compare_chart(result, file))
    asked = asked.also(*["turns"] * break_even)
    told = cautions(fuel=any(option.fuel for option in result.options))
    tell(asked, "compare", result, lambda: (
        compare_screen(result), lambda s: [compared_section(result, s)], told,
    ))  # fmt: skip
    if result.best is None:
        raise typer.Exit(1)


def _progress(done: int, total: int, what: str) -> None:
    line = f"alternatives sized: {done} of {total}, now {what}" if done < total else ""
    line = line if total else f"{what} ({done})"
    sys.stderr.write(f"\r\x1b[K{line}")
    sys.stderr.flush()
