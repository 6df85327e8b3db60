"""`powerbudget review`: a vendor's claims against a site."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from powerbudget.cli.answer import Asked, Part, drawn, tell, verb
from powerbudget.cli.common import naming, option, plot_option, remark


@verb(
    Part("--sources", "Print the numbered sources.", ("sources",)),
    Part("--requests", "Print the information required, ready to send.", ("requests",)),
)
def command(
    asked: Asked,
    site: Annotated[
        Path,
        typer.Argument(
            metavar="[SITE.toml]", show_default=False,
            help="Site file. Without it, claims are checked by arithmetic and physics "
"alone.",
        ),
    ],
    claims: Annotated[
        Path | None,
        typer.Argument(
            metavar="CLAIMS.toml", show_default=False,
            help="Claims file: [[claim]] tables with kind, claimed and conditions.",
        ),
    ] = None,
    plot: Annotated[
        Path | None, plot_option("Draw the margin of every claim, in % of the stated value")
    ] = None,
    schema: Annotated[
        Path | None,
        option("--schema", "Also write the JSON Schema of claims files, from which "
               "editors complete keys.", "FILE"),
    ] = None,
    number: Annotated[
        int | None, option("--claim", "Print one claim in full.", "N")
    ] = None,
    basis: Annotated[bool, option("--basis", "Print every claim in full.")] = False,
) -> None:  # fmt: skip
    """Review a vendor's claims against the site.

    Each value is calculated from the site and its parts. Prints the calculated value,
    the margin, what makes the claim true, and the information required. Exit code 0:
    all claims SUPPORTED; 1: some NOT SUPPORTED or UNDETERMINED; 2: none usable, or the
    file is not TOML.
    """
    from powerbudget.checks.cautions import cautions
    from powerbudget.report.charts.review import review_chart
    from powerbudget.report.screens.review import review_screen
    from powerbudget.report.sections.claims import judged_section
    from powerbudget.review.reviewer import review
    from powerbudget.site.reader import read_site

    place, file = (site, claims) if claims is not None else (None, site)
    with naming(place):
        result = review(read_site(place) if place else None, file)
    if schema:
        _write_schema(schema)
    drawn(plot, lambda file: review_chart(result, file))
    every = [claim.number for claim in result.claims]
    wanted = every if basis else [number] if number else []
    tell(asked.also(*[f"claim-{n}" for n in wanted]), "review", result, lambda: (
        review_screen(result), lambda s: [judged_section(result, s)], cautions(),
    ))  # fmt: skip
    if not result.all_supported:
        raise typer.Exit(1)


def _write_schema(file: Path) -> None:
    from powerbudget.files import check_target, write_text
    from powerbudget.review.claims_file import claims_schema_text

    check_target(file)
    write_text(file, claims_schema_text())
    remark(f"Wrote {file}.")
