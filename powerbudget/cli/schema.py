"""`powerbudget schema`: what `--json` of a verb holds."""

from __future__ import annotations

from typing import Annotated, Any

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
    object with the schemas of all. `faults` is what any verb prints in place of an
    answer.
    """
    from powerbudget.errors import Fault, InputError, nearest

    known = published()
    if verb is not None and verb not in known:
        allowed = ", ".join(known)
        raise InputError(
            Fault("VERB", "has no schema", verb, allowed, nearest(verb, known))
        )
    print_json(known[verb] if verb else known)


def published() -> dict[str, Any]:
    """Return the schema of each verb that answers in JSON, and of faults."""
    from powerbudget.fleet.row import FleetRow
    from powerbudget.report.answers import ANSWERS, FAULTS, Keys, schema

    sites: Keys = {"sites": (tuple[FleetRow, ...], "sites")}
    answers = {v: schema(v, keys) for v, keys in (ANSWERS | {"fleet": sites}).items()}
    return answers | {"faults": schema("VERB", FAULTS)}
