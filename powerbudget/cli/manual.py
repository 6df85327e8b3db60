"""`powerbudget help`: the manual on the terminal."""

from __future__ import annotations

from typing import Annotated

import typer

from powerbudget.cli.common import JsonOption, print_json
from powerbudget.cli.keys import overview


def command(
    topic: Annotated[
        str | None,
        typer.Argument(
            metavar="TOPIC",
            help="Chapter of the manual; without it, the list of chapters.",
            show_default=False,
        ),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Print a chapter of the manual.

    Each chapter begins with a worked demo. `powerbudget VERB --help` lists the options
    of a verb, `powerbudget keys` the keys of the files.
    """
    from powerbudget.manual.topics import chapter, topics

    if as_json:
        print_json({"topics": topics()} if topic is None else {"text": chapter(topic)})
    elif topic is not None:
        # The page of all keys is for reading in a browser.
        typer.echo(overview() if topic == "keys" else chapter(topic), nl=False)
    else:
        from powerbudget.report.render.terminal import table

        rows = list(topics().items())
        typer.echo(
            table("HELP   powerbudget help TOPIC\n", ["topic", "chapter"], rows),
            nl=False,
        )
