"""`powerbudget fleet`: a folder of sites at once."""

from __future__ import annotations

import dataclasses
import sys
from pathlib import Path
from typing import Annotated

import typer

from powerbudget.cli.common import (
    CsvOption,
    JsonOption,
    check_form,
    print_csv,
    print_json,
)


def command(
    folder: Annotated[
        Path,
        typer.Argument(metavar="FOLDER", help="Folder with site files, below as well."),
    ],
    out: Annotated[
        Path | None,
        typer.Option(
            "--out",
            "-o",
            metavar="FILE",
            help="Write one row a site into this table (.parquet).",
            show_default=False,
        ),
    ] = None,
    sizes: Annotated[
        bool, typer.Option("--size", help="Also find the panel and battery needed.")
    ] = False,
    workers: Annotated[
        int | None,
        typer.Option(
            "--workers",
            metavar="COUNT",
            help="Processes on this machine; by default one a core.",
            show_default=False,
        ),
    ] = None,
    scheduler: Annotated[
        str,
        typer.Option(
            "--scheduler",
            metavar="ADDRESS",
            help="Run on a Dask scheduler that is already there, tcp://HOST:PORT; its "
            "workers must see the folder under the same path.",
            show_default=False,
        ),
    ] = "",
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Simulate every site of a folder: one row a site.

    Exit code 2 when a site could not be used (the others are still computed and
    written), otherwise 1 when one does not meet its criteria.
    """
    from powerbudget.files import check_target
    from powerbudget.fleet.fleet import fleet
    from powerbudget.fleet.page import TABLES, fleet_page, write_fleet

    check_form(as_json, as_csv)
    if out:
        check_target(out, TABLES)
    rows = fleet(
        folder,
        sizes=sizes,
        workers=workers,
        scheduler=scheduler,
        progress=_progress if sys.stderr.isatty() else None,
    )
    if out:
        from powerbudget.cli.common import remark

        write_fleet(rows, out)
        remark(f"Wrote {len(rows)} rows into {out}.")
    if as_json:
        print_json({"sites": rows})
    elif as_csv:
        print_csv([dataclasses.asdict(row) for row in rows])
    else:
        typer.echo(fleet_page(rows, sizes=sizes), nl=False)
    if any(row.fault for row in rows):
        raise typer.Exit(2)
    if not all(row.met for row in rows):
        raise typer.Exit(1)


def _progress(done: int, total: int) -> None:
    end = "\n" if done == total else ""
    sys.stderr.write(f"\rsites done: {done} of {total}{end}")
    sys.stderr.flush()
