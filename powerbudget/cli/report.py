"""`powerbudget report`: the calculation package."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from powerbudget.cli.common import SiteArgument, load_design, naming, option, remark
from powerbudget.cli.ensemble import EnsembleOption, SeedOption


def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    output: Annotated[
        Path,
        option(
            "--output -o",
            "File to write: .html is one self-contained page, .xlsx a "
            "workbook with live formulas, .pdf the page on paper, .docx and .md the same "
            "text and tables for editing. An existing file is replaced.",
            "FILE",
        ),
    ],
    site: SiteArgument = None,
    claims: Annotated[
        Path | None,
        option("--claims", "Add the review of a vendor's claims (TOML).", "FILE"),
    ] = None,
    options: Annotated[
        bool,
        option("--options", "Add the comparison of alternatives (some seconds)."),
    ] = False,
    paper: Annotated[
        str | None,
        option(
            "--paper",
            "Paper of a PDF and of a printed workbook.  [default: a4]",
            "a4|letter",
        ),
    ] = None,
    autonomy: Annotated[
        bool,
        option(
            "--autonomy",
            "Add autonomy by month, starting hour, LVD setting, and age (some "
            "seconds).",
        ),
    ] = False,
    sensitivity: Annotated[
        bool | None,
        typer.Option(
            "--sensitivity/--no-sensitivity",
            show_default=False,
            help="Add the ten inputs that change the recommended size most, each at its "
            "low and high end.",
        ),
    ] = None,
    seasons: EnsembleOption = None,
    seed: SeedOption = 1,
) -> None:
    """Write the calculation package: page, workbook or PDF.

    Contents: results, load, weather, battery, autonomy, array and battery size,
    worksheet, circuit checks, assumptions with sources, cautions. Exit code 1 when the
    site fails its criteria; the file is written in both cases.
    """
    from powerbudget.files import check_target
    from powerbudget.report.extras import Extras
    from powerbudget.report.write import ENDINGS, check_paper, write_report

    check_target(output, ENDINGS)
    check_paper(paper)
    with naming(site):
        extras = Extras(
            claims, options, autonomy, seasons, seed, sensitivity, unverified=True
        )
        done = write_report(
            load_design(site), output, extras=extras, say=remark, paper=paper
        )
    remark(f"Wrote {output}.")
    if not done.met:
        raise typer.Exit(1)
