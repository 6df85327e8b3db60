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
    remark,
)
from powerbudget.quantities import count


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
            help="Write one row per site into this table (.parquet).",
            show_default=False,
        ),
    ] = None,
    sizes: Annotated[
        bool, typer.Option("--size", help="Also size array and battery.")
    ] = False,
    workers: Annotated[
        int | None,
        typer.Option(
            "--workers",
            metavar="COUNT",
            help="Processes on this machine; default one per core.",
            show_default=False,
        ),
    ] = None,
    scheduler: Annotated[
        str,
        typer.Option(
            "--scheduler",
            metavar="ADDRESS",
            help="Use a running Dask scheduler, tcp://HOST:PORT; its workers need the "
            "folder under the same path.",
            show_default=False,
        ),
    ] = "",
    resume: Annotated[
        bool,
        typer.Option(
            "--resume",
            help="Continue an earlier run with the same --out; changed sites are "
            "calculated again.",
        ),
    ] = False,
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
    kept = _kept(out, resume=resume)
    try:
        rows = fleet(
            folder,
            sizes=sizes,
            workers=workers,
            scheduler=scheduler,
            progress=_progress if sys.stderr.isatty() else None,
            kept=kept,
        )
    except SystemExit:  # interrupted
        if kept and kept.exists():
            remark(f"Finished rows are kept in {kept}; --resume continues from them.")
        raise
    if out:
        write_fleet(rows, out)
        if kept:
            kept.unlink(missing_ok=True)
        remark(f"Wrote {count(len(rows), 'row')} into {out}.")
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


def _kept(out: Path | None, *, resume: bool) -> Path | None:
    """Return where rows are kept until the table stands, emptied unless resumed."""
    from powerbudget.errors import Fault, InputError
    from powerbudget.fleet.kept import kept_beside

    if out is None:
        if resume:
            raise InputError(Fault("--resume", "needs --out", advice="name the table"))
        return None
    kept = kept_beside(out)
    if not resume:
        kept.unlink(missing_ok=True)
    return kept


def _progress(done: int, total: int) -> None:
    end = "\n" if done == total else ""
    sys.stderr.write(f"\rsites done: {done} of {total}{end}")
    sys.stderr.flush()
