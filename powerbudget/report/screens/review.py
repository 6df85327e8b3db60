"""First screen of `review`: each claim, and what would make it true."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.limits import printed
from powerbudget.report.document.blocks import Column, Table, rows_of, word
from powerbudget.report.document.words import figure_text, sentence
from powerbudget.report.render.terminal import row_lines
from powerbudget.report.screens.layout import Screen, clip, first_line, wrap
from powerbudget.report.sections.claims import found_and_claimed, result_word
from powerbudget.review.result import held

if TYPE_CHECKING:
    from powerbudget.review.result import Judged, Review

OPTIONS = (
    "--claim N --basis --sources --requests --findings --full | --plot FILE --json"
)
ORDER = ("NOT SUPPORTED", "UNUSABLE", "UNDETERMINED", "SUPPORTED")
MANY = 5
"""Claims from which on a condition has one line, two before [count]."""
COLUMNS = (
    Column("#", "", True), Column("claim"), Column("stated", "", True),
    Column("calculated (range)", "", True), Column("margin", "", True), Column("result"),
)  # fmt: skip


def review_screen(found: Review) -> Screen:
    """Return every claim with its result, on one screen."""
    words = [result_word(claim) for claim in found.claims]
    shown = [name for name in ORDER if name != "UNUSABLE" or name in words]
    result = "  ".join(f"{words.count(name)} {name}" for name in reversed(shown))
    claims = sorted(found.claims, key=lambda claim: ORDER.index(result_word(claim)))
    rows = [
        (word(str(c.number)), word(c.claim), word(found_and_claimed(c)[1]), word(_range(c)),
         word(_margin(c)), word(result_word(c)))
        for c in claims
    ]  # fmt: skip
    heads, *lines = row_lines(Table("", "", COLUMNS, rows_of(rows)))
    body = [
        *wrap("Site   ", found.site or "none: arithmetic and physics alone"),
        "",
        *heads,
    ]
    for claim, line in zip(claims, lines, strict=True):
        said = _condition(claim)
        body += [
            *line,
            *(
                clip(wrap(" " * 6, said), 1 if len(claims) > MANY else 2)
                if said
                else []
            ),
        ]
    return Screen(
        first_line("REVIEW", found.vendor or "Claims", result),
        body,
        found.findings,
        OPTIONS,
    )


def _margin(claim: Judged) -> str:
    limit = held(claim)
    return "-" if limit is None else printed(limit, *found_and_claimed(claim))


def _range(claim: Judged) -> str:
    """Return the calculated figure with its range in brackets [text]."""
    figure, stated = found_and_claimed(claim)
    if figure.partition(" ")[2] == stated.partition(" ")[2]:
        figure = figure.partition(" ")[0]
    low, high = claim.found_low, claim.found_high
    if low is None or high is None or abs(high - low) <= 1e-9 * abs(high):
        return figure
    ends = [figure_text(x, claim.unit).partition(" ")[0] for x in (low, high)]
    return f"{figure} ({ends[0]} to {ends[1]})"


def _condition(claim: Judged) -> str:
    """Return why a claim cannot be used, what is missing, or when it is true."""
    if claim.problems:
        return sentence(str(claim.problems[0]))
    if claim.missing:
        return f"Information required: {'; '.join(claim.missing)}."
    if claim.verdict == "supported":
        return ""
    return sentence(claim.condition)
