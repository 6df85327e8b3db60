"""`powerbudget new`: a commented site file to start from, or its schema."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def command(
    file: Annotated[
        Path | None,
        typer.Argument(
            metavar="FILE.toml",
            help="File to write; my-site.toml when left out.",
            show_default=False,
        ),
    ] = None,
    schema: Annotated[
        bool,
        typer.Option(
            "--schema",
            help="Write the JSON Schema from which editors complete keys, in place of a "
            "site file; powerbudget.schema.json when FILE is left out.",
        ),
    ] = False,
    force: Annotated[
        bool, typer.Option("--force", help="Replace a file that exists already.")
    ] = False,
) -> None:
    """Write a commented site file to start from.

    It holds an invented example that runs as it stands. A file that exists is kept.
    """
    from powerbudget.cli.common import remark
    from powerbudget.errors import Fault, InputError
    from powerbudget.files import check_target, write_text
    from powerbudget.site import starter

    if file is None:
        file = Path("powerbudget.schema.json" if schema else "my-site.toml")
    check_target(file)
    if file.exists() and not force:
        raise InputError(
            Fault(
                str(file),
                "exists already",
                advice="--force replaces it, or name another",
            )
        )
    write_text(file, starter.schema_text() if schema else starter.starter_text())
    remark(f"Wrote {file}.")
    if not schema:
        remark(f"Next: edit it, then `powerbudget loads {file}`.")
