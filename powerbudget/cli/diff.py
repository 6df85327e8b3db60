"""`powerbudget diff`: what changed between two site files."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from powerbudget.cli.common import (
    CsvOption,
    JsonOption,
    load_design,
    print_csv,
    print_json,
)

if TYPE_CHECKING:
    from powerbudget.loads.budget import Budget
    from powerbudget.sizing.autonomy import Autonomy


def command(
    a: Annotated[Path, typer.Argument(metavar="A.toml", help="Site file before.")],
    b: Annotated[Path, typer.Argument(metavar="B.toml", help="Site file after.")],
    all_lines: Annotated[
        bool, typer.Option("--all", help="Show unchanged loads too.")
    ] = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Compare two site files: watts, Wh/day and days of autonomy that changed."""
    from powerbudget.balance.simulation import simulate
    from powerbudget.loads.difference import changes
    from powerbudget.sizing.autonomy import autonomy

    designs = [load_design(path) for path in (a, b)]
    runs = [simulate(design) for design in designs]
    days = [autonomy(run) for run in runs]
    budgets = [run.problem.budget for run in runs]
    rows = changes(*budgets)
    if not all_lines and not as_json:
        rows = [row for row in rows if row.change != "same"]
    totals = _totals(budgets, days)
    if as_json:
        print_json({"lines": rows, **totals})
    elif as_csv:
        print_csv([dataclasses.asdict(row) for row in rows])
    else:
        from powerbudget.report.render.terminal import section_text
        from powerbudget.report.sections.difference import difference_section

        section = difference_section(rows, totals, (str(a), str(b)))
        typer.echo(section_text(section), nl=False)


def _totals(budgets: list[Budget], days: list[Autonomy]) -> dict[str, Any]:
    first, second = budgets
    a, b = days
    record = None
    if a.record_days is not None and b.record_days is not None:
        record = b.record_days - a.record_days
    return {
        "delta_wh_per_day": second.wh_per_day - first.wh_per_day,
        "delta_typical_w": second.average_w - first.average_w,
        "delta_maximum_w": second.maximum_w - first.maximum_w,
        "delta_peak_a": second.peak_a - first.peak_a,
        "delta_autonomy_days": b.design_days - a.design_days,
        "delta_autonomy_record_days": record,
        "wh_per_day": [first.wh_per_day, second.wh_per_day],
        "maximum_w": [first.maximum_w, second.maximum_w],
        "peak_a": [first.peak_a, second.peak_a],
        "autonomy_design_days": [a.design_days, b.design_days],
        "autonomy_record_days": [a.record_days, b.record_days],
    }
