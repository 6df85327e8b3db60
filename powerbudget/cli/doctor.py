"""`powerbudget doctor`: whether this installation is sound."""

from __future__ import annotations

import typer

from powerbudget.cli.common import JsonOption, print_json


def command(as_json: JsonOption = False) -> None:
    """Check this installation: versions, caches, tools, a site.

    Libraries with their versions, the folders in which answers and compiled code are
    kept, what a PDF and a table of a fleet need, and the built-in example computed and
    held against its energy balance. Exit code 1 when a check fails; what is optional
    gives a warning.
    """
    from powerbudget.report.doctor import examine

    found = examine()
    if as_json:
        print_json({"checks": found})
    else:
        from powerbudget.report.render.terminal import table

        rows = [[c.result.upper(), c.name, c.value, c.remedy] for c in found]
        typer.echo(
            table("DOCTOR", ["result", "check", "found", "remedy"], rows), nl=False
        )
    if any(check.result == "fail" for check in found):
        raise typer.Exit(1)
