"""`powerbudget loads`: the power budget."""

from __future__ import annotations

import dataclasses

import typer

from powerbudget.cli.common import (
    CsvOption,
    JsonOption,
    SiteArgument,
    load_design,
    print_csv,
    print_json,
)


def command(
    site: SiteArgument = None, as_json: JsonOption = False, as_csv: CsvOption = False
) -> None:
    """Print the power budget: every load, hidden ones first, and its three sums."""
    from powerbudget.loads.budget import load_budget

    design = load_design(site)
    budget = load_budget(design)
    if as_json:
        skip = {"bus_w", "bus_a", "bus_s"}
        print_json(
            {
                field.name: getattr(budget, field.name)
                for field in dataclasses.fields(budget)
                if field.name not in skip
            }
        )
    elif as_csv:
        print_csv([dataclasses.asdict(line) for line in budget.lines])
    else:
        from powerbudget.report.views import budget_page

        typer.echo(budget_page(budget, design.tables.site.name), nl=False)
