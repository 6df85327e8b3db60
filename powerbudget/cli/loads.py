"""`powerbudget loads`: the power budget."""

from __future__ import annotations

import dataclasses

import typer

from powerbudget.cli.common import (
    CsvOption,
    JsonOption,
    SiteArgument,
    check_form,
    load_design,
    naming,
    print_csv,
    print_json,
)


def command(
    site: SiteArgument = None, as_json: JsonOption = False, as_csv: CsvOption = False
) -> None:
    """Print the power budget: W, Wh/day and Ah/day of each load.

    Hidden loads (converters, wiring, regulator, leakage) come first. Three sums that
    must not be mixed: typical draw times duty for energy, the lasting maximum for
    wires and fuses, the peak for brown-out.
    """
    from powerbudget.loads.budget import load_budget

    check_form(as_json, as_csv)
    design = load_design(site)
    with naming(site):
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
