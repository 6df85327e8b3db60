"""`powerbudget review`: a vendor's claims against a site."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from powerbudget.cli.answer import (
    Asked,
    CautionsOption,
    FindingsOption,
    FullOption,
    QuietOption,
    answer,
    asked_parts,
    flag,
)  # fmt: skip
from powerbudget.cli.common import (
    CsvOption,
    JsonOption,
    check_form,
    naming,
    plot_option,
    print_csv,
    print_json,
)

if TYPE_CHECKING:
    from powerbudget.review.result import Judged, Review


def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    site: Annotated[
        Path,
        typer.Argument(
            metavar="[SITE.toml]",
            help="Site file. Without it, claims are judged by arithmetic and physics "
            "alone.",
            show_default=False,
        ),
    ],
    claims: Annotated[
        Path | None,
        typer.Argument(
            metavar="CLAIMS.toml",
            help="Claims file: [[claim]] tables with kind, claimed and conditions.",
            show_default=False,
        ),
    ] = None,
    plot: Annotated[
        Path | None,
        plot_option("Draw the margin of every claim, in % of the claim"),
    ] = None,
    schema: Annotated[
        Path | None,
        typer.Option(
            "--schema",
            metavar="FILE",
            help="Also write the JSON Schema of claims files, from which editors "
            "complete keys.",
            show_default=False,
        ),
    ] = None,
    number: Annotated[
        int | None,
        typer.Option(
            "--claim", metavar="N", help="Print one claim in full.", show_default=False
        ),
    ] = None,
    basis: Annotated[bool, flag("--basis", "Print every claim in full.")] = False,
    sources: Annotated[bool, flag("--sources", "Print the numbered sources.")] = False,
    requests: Annotated[
        bool, flag("--requests", "Print the information required, ready to send.")
    ] = False,
    findings: FindingsOption = False,
    cautions: CautionsOption = False,
    full: FullOption = False,
    quiet: QuietOption = False,
    as_json: JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """Judge a vendor's claims: supported, not supported or cannot tell.

    Each figure is rebuilt from the site and its parts; the answer gives what was
    found, the margin, what would make the claim true, and what is missing. Exit code
    0: all supported; 1: some are not, or cannot be told; 2: none can be used as
    written, or the file is not TOML.
    """
    from powerbudget.files import PICTURES, check_target
    from powerbudget.review.reviewer import review
    from powerbudget.site.reader import read_site

    check_form(as_json, as_csv)
    if plot:
        check_target(plot, PICTURES)
    place, file = (site, claims) if claims is not None else (None, site)
    with naming(place):
        result = review(read_site(place) if place else None, file)
    _write(result, plot, schema)
    if as_json:
        from powerbudget.report import answers

        print_json(answers.answer(answers.REVIEW, result))
    elif as_csv:
        print_csv([_row(claim) for claim in result.claims])
    else:
        wanted = (
            range(1, len(result.claims) + 1) if basis else [number] if number else []
        )
        parts = (*asked_parts(requests=requests, sources=sources),
                 *(f"claim-{n}" for n in wanted))  # fmt: skip
        _print(result, Asked(parts, full, findings, cautions, quiet))
    if not result.all_supported:
        raise typer.Exit(1)


def _print(result: Review, asked: Asked) -> None:
    from powerbudget.checks.cautions import cautions
    from powerbudget.report.screens.review import review_screen
    from powerbudget.report.sections.claims import judged_section

    answer(
        review_screen(result), asked, lambda s: [judged_section(result, s)], cautions()
    )


def _write(result: Review, plot: Path | None, schema: Path | None) -> None:
    from powerbudget.cli.common import remark

    if schema:
        from powerbudget.files import check_target, write_text
        from powerbudget.review.claims_file import claims_schema_text

        check_target(schema)
        write_text(schema, claims_schema_text())
        remark(f"Wrote {schema}.")
    if plot:
        from powerbudget.report.charts.review import review_chart

        review_chart(result, plot)
        remark(f"Drew {plot}.")


def _row(claim: Judged) -> dict[str, Any]:
    return {
        "number": claim.number,
        "kind": claim.kind,
        "claim": claim.claim,
        "claimed": claim.claimed,
        "found": claim.found,
        "unit": claim.unit,
        "verdict": claim.verdict,
        "margin_frac": claim.margin_frac,
        "margin": claim.margin,
        "margin_unit": claim.margin_unit,
        "found_low": claim.found_low,
        "found_high": claim.found_high,
        "condition": claim.condition,
        "missing": "; ".join(claim.missing),
        "problems": "; ".join(str(fault) for fault in claim.problems),
    }
