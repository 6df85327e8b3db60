"""A vendor's claims as a section."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.limits import printed
from powerbudget.report.document.blocks import (
    Block,
    Column,
    Fact,
    Facts,
    Row,
    Section,
    Table,
    word,
)
from powerbudget.report.sections.sources import Sources
from powerbudget.report.terminal.review import found_and_claimed, sentence
from powerbudget.review.result import held

if TYPE_CHECKING:
    from powerbudget.report.document.package import Package
    from powerbudget.review.result import Judged, Review

TONES = {"supported": "good", "not supported": "bad", "cannot tell": ""}
COLUMNS = (
    Column("no", "", True), Column("claim"), Column("claimed"), Column("found"),
    Column("margin", "", True), Column("verdict"),
)  # fmt: skip


def claims_section(package: Package, _sources: Sources) -> Section | None:
    """Return each claim with what was found and its verdict.

    Parameters
    ----------
    package
        All results; without claims there is no section.
    """
    found = package.review
    if found is None:
        return None
    whose = f"Claims of {found.vendor}: " if found.vendor else ""
    lead = f"{whose}{claims_words(found)}."
    table = Table("claims-judged", "What was claimed and what was found", COLUMNS,
                  tuple(_row(claim) for claim in found.claims), tools=True)  # fmt: skip
    blocks: list[Block] = [table]
    notes = tuple(
        Fact(f"claim {c.number}, {c.verdict}", " ".join(_words(c)))
        for c in found.claims
    )
    if notes:
        blocks.append(Facts(notes, "To each claim"))
    return Section("claims", "A vendor's claims", "Claims", lead, tuple(blocks))


def claims_words(found: Review) -> str:
    """Return how many claims hold [text].

    Parameters
    ----------
    found
        Claims judged.
    """
    return (
        f"{found.count('supported')} supported, {found.count('not supported')} not "
        f"supported, {found.count('cannot tell')} cannot be told"
    )


def _words(claim: Judged) -> list[str]:
    """Return what would turn a claim, what is missing and what to keep in mind."""
    missing = ", ".join(claim.missing)
    said = [
        *(str(fault) for fault in claim.problems), claim.condition,
        f"What would have to be known: {missing}" if missing else "",
        *claim.remarks, *claim.cautions,
    ]  # fmt: skip
    return [sentence(words) for words in said if words]


def _row(claim: Judged) -> Row:
    limit = held(claim)
    found, claimed = found_and_claimed(claim)
    margin = "" if limit is None else printed(limit, found, claimed)
    return Row((
        word(str(claim.number)), word(claim.claim),
        word(claimed), word(found), word(margin),
        word(claim.verdict if claim.usable else "unusable as written",
             tone=TONES[claim.verdict]),
    ))  # fmt: skip
