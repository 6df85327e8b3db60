"""A vendor's claims as a section."""

from __future__ import annotations

from typing import TYPE_CHECKING

from powerbudget.limits import TOLERANCE_FRAC, printed
from powerbudget.quantities import count, in_print, plain
from powerbudget.report.document.blocks import (
    Block,
    Column,
    Fact,
    Facts,
    Remarks,
    Row,
    Section,
    Table,
    word,
)
from powerbudget.report.document.words import figure_text, sentence, told_apart
from powerbudget.review.result import held

if TYPE_CHECKING:
    from powerbudget.report.document.package import Package
    from powerbudget.report.sections.sources import Sources
    from powerbudget.review.result import ClaimCase, Judged, Review, Word

TONES = {"supported": "good", "not supported": "bad", "undetermined": ""}
RESULTS: dict[Word, str] = {
    "supported": "SUPPORTED", "not supported": "NOT SUPPORTED", "undetermined": "UNDETERMINED",
}  # fmt: skip
COLUMNS = (
    Column("no", "", True), Column("claim"), Column("stated", "", True),
    Column("calculated", "", True), Column("margin", "", True), Column("result"),
)  # fmt: skip


def claims_section(package: Package, sources: Sources) -> Section | None:
    """Return each claim with what was calculated and its result.

    Parameters
    ----------
    package
        All results; without claims there is no section.
    sources
        Told which sources the figures have.
    """
    return None if package.review is None else judged_section(package.review, sources)


def judged_section(found: Review, sources: Sources) -> Section:
    """Return the claims of a review, with or without a site.

    Parameters
    ----------
    found
        Claims judged.
    sources
        Told which sources the figures have.
    """
    whose = (
        f"{found.vendor} states {count(len(found.claims), 'claim')}: "
        if found.vendor
        else ""
    )
    lead = f"{whose}{claims_words(found)}."
    table = Table("claims-judged", "Stated and calculated", COLUMNS,
                  tuple(_row(claim) for claim in found.claims), tools=True)  # fmt: skip
    blocks: list[Block] = [table, *(_memo(claim, sources) for claim in found.claims)]
    wanted = [
        Fact(f"{claim.number}. {claim.claim}", sentence("; ".join(claim.missing)))
        for claim in found.claims
        if claim.missing
    ]
    if wanted:
        blocks.append(Facts(tuple(wanted), "Information required", "requests"))
    if found.findings:
        blocks.append(Remarks(found.findings, "Findings"))
    return Section("claims", "Claims review", "Claims", lead, tuple(blocks))


def claims_words(found: Review) -> str:
    """Return how many claims have each result [text]."""
    return ", ".join(f"{found.count(key)} {name}" for key, name in RESULTS.items())


def _memo(claim: Judged, sources: Sources) -> Facts:
    """Return what is to be said about a claim, with the sources of its figures."""
    rows = [Fact(label, text) for label, text in claim_sentences(claim)]
    if claim.sources:
        marks = [sources.cell(source, "").text for source in claim.sources]
        rows.append(Fact("sources", ", ".join(marks)))
    title = f"{claim.number}. {claim.claim}: {result_word(claim)}"
    return Facts(tuple(rows), title, f"claim-{claim.number}")


def result_word(claim: Judged) -> str:
    """Return the result of a claim in the words of the trade [text]."""
    return RESULTS[claim.verdict] if claim.usable else "UNUSABLE"


def _row(claim: Judged) -> Row:
    limit = held(claim)
    found, claimed = found_and_claimed(claim)
    margin = "" if limit is None else printed(limit, found, claimed)
    return Row((
        word(str(claim.number)), word(claim.claim),
        word(claimed), word(found), word(margin),
        word(result_word(claim), tone=TONES[claim.verdict]),
    ))  # fmt: skip


def found_and_claimed(claim: Judged) -> tuple[str, str]:
    """Return both figures of a claim as printed, a digit more where they look alike.

    Parameters
    ----------
    claim
        One claim, judged [claim].
    """
    if claim.found is None or claim.claimed is None:
        return figure_text(claim.found, claim.unit), figure_text(
            claim.claimed, claim.unit
        )
    if abs(claim.found - claim.claimed) <= TOLERANCE_FRAC * abs(claim.claimed):
        return (figure_text(claim.claimed, claim.unit),) * 2
    return told_apart(
        claim.found, claim.claimed, lambda x, more: figure_text(x, claim.unit, 3 + more)
    )


def claim_sentences(claim: Judged) -> list[tuple[str, str]]:
    """Return what is to be said about a claim, label by label.

    Returns
    -------
    list of tuple
        Label and sentences, in the order of a memo [text].
    """
    pairs = []
    if claim.problems:
        pairs += [("unusable", sentence(str(fault))) for fault in claim.problems]
        return pairs
    if claim.claimed is not None:
        pairs.append(("calculated", _found(claim)))
    if len(claim.cases) > 1:
        pairs.append(("cases", _cases(claim)))
    if claim.condition:
        label = "true if" if claim.verdict != "supported" else "limit"
        pairs.append((label, sentence(claim.condition)))
    if claim.missing:
        pairs.append(("information required", sentence("; ".join(claim.missing))))
    if claim.holds_already:
        pairs.append(("included", sentence("; ".join(claim.holds_already))))
    pairs += [("note", sentence(text)) for text in claim.remarks]
    pairs += [("caution", sentence(text)) for text in claim.cautions]
    return pairs


def _found(claim: Judged) -> str:
    """Return found and claimed figure with range and margin as one sentence."""
    found = figure_text(claim.found, claim.unit)
    stated = (
        figure_text(claim.claimed, claim.unit, 4)
        if claim.claimed is None or claim.unit in {"fraction", "degC"}
        else plain(claim.claimed, 4, in_print(claim.unit))
    )
    text = f"The claim states {stated}; the calculated value is {found}"
    if claim.found is None:
        text = f"The claim states {stated}; no value is calculated"
    low, high = claim.found_low, claim.found_high
    if low is not None and high is not None and abs(high - low) > 1e-9 * abs(high):
        ends = f"{figure_text(low, claim.unit)} to {figure_text(high, claim.unit)}"
        text += f" (range {ends})"
    if claim.margin is not None:
        limit = held(claim)
        figures = found_and_claimed(claim)
        text += f"; margin {printed(limit, *figures)}" if limit else ""
    return text + "."


def _cases(claim: Judged) -> str:
    """Return the figure under each set of conditions, those that bear out first."""
    texts = []
    for holds, words in (
        (True, "The claim is true for"),
        (False, "The claim is not true for"),
    ):
        cases = [c for c in claim.cases if c.holds is holds]
        if cases:
            texts.append(
                f"{words} " + "; ".join(_case(c, claim.unit) for c in cases) + "."
            )
    return " ".join(texts)


def _case(case: ClaimCase, unit: str) -> str:
    if case.found is None:
        return case.name
    return f"{case.name} ({figure_text(case.found, unit)})"
