"""`powerbudget report`: the calculation package."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from powerbudget.cli.common import SiteArgument, load_design, naming
from powerbudget.cli.ensemble import EnsembleOption, SeedOption


def command(
    output: Annotated[
        Path,
        typer.Option(
            "--output",
            "-o",
            metavar="FILE",
            help="File to write: .html is one self-contained page, .xlsx a workbook with "
            "live formulas, .pdf the page on paper. An existing file is replaced.",
            show_default=False,
        ),
    ],
    site: SiteArgument = None,
    claims: Annotated[
        Path | None,
        typer.Option(
            "--claims",
            metavar="FILE",
            help="Judge a vendor's claims (TOML) in it as well.",
            show_default=False,
        ),
    ] = None,
    options: Annotated[
        bool,
        typer.Option(
            "--options", help="Compare sources of power in it as well (some seconds)."
        ),
    ] = False,
    paper: Annotated[
        str | None,
        typer.Option(
            "--paper",
            metavar="a4|letter",
            help="Paper of a PDF and of a printed workbook; a printed page takes the "
            "printer's unless told.  [default: a4]",
            show_default=False,
        ),
    ] = None,
    autonomy: Annotated[
        bool,
        typer.Option(
            "--autonomy",
            help="Autonomy by month and starting hour, disconnect setting and age in it "
            "as well (some seconds).",
        ),
    ] = False,
    seasons: EnsembleOption = None,
    seed: SeedOption = 1,
) -> None:
    """Write the calculation package: page, workbook or PDF.

    Verdicts first, then load, sky, battery, autonomy, panel and battery needed,
    worksheet, circuit checks, assumptions with their sources, cautions. Exit code 1
    when the site does not meet its criteria; the file is written all the same.
    """
    from powerbudget.cli.common import remark
    from powerbudget.files import check_target
    from powerbudget.report.extras import Extras
    from powerbudget.report.write import ENDINGS, check_paper, write_report

    check_target(output, ENDINGS)
    check_paper(paper)
    with naming(site):
        extras = Extras(claims, options, autonomy, seasons, seed)
        done = write_report(
            load_design(site), output, extras=extras, say=remark, paper=paper
        )
    remark(f"Wrote {output}.")
    if not done.met:
        raise typer.Exit(1)
