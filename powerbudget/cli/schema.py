"""`powerbudget schema`: what `--json` of a verb holds."""

from __future__ import annotations

from typing import Annotated

import typer

from powerbudget.cli.common import print_json


def command(
    verb: Annotated[
        str | None,
        typer.Argument(
            metavar="VERB", help="Verb; without it, all.", show_default=False
        ),
    ] = None,
) -> None:
    """Print the JSON Schema of an answer.

    Of what VERB prints with --json, units in the names of its keys; without a verb one
    object with the schemas of all.
    """
    from powerbudget.errors import Fault, InputError, nearest
    from powerbudget.report.answers import ANSWERS, schema

    if verb is not None and verb not in ANSWERS:
        allowed = ", ".join(ANSWERS)
        raise InputError(
            Fault("VERB", "has no schema", verb, allowed, nearest(verb, ANSWERS))
        )
    print_json(schema(verb) if verb else {name: schema(name) for name in ANSWERS})
