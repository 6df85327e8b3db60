"""A vendor's claims judged, as a page fit for a reviewer's memo."""

from __future__ import annotations

import textwrap

from powerbudget.checks.cautions import caution_text, cautions
from powerbudget.limits import MARGIN_NOTE, TOLERANCE_FRAC, printed
from powerbudget.quantities import show
from powerbudget.report.terminal.text import WIDTH, count, table, told_apart, wrapped
from powerbudget.review.result import ClaimCase, Judged, Review, held

CLAIM_WIDTH = 42
INDENT = "      "


def review_page(review: Review) -> str:
    """Return claims with what was found, verdicts, conditions and sources as text.

    Parameters
    ----------
    review
        From `powerbudget.review.reviewer.review`.

    Returns
    -------
    str
        Summary, table, a paragraph a claim, sources by number, cautions [text].
    """
    numbers = source_numbers(review)
    parts = [
        summary(review),
        _table(review),
        *(_paragraph(claim, numbers) for claim in review.claims),
        _sources(numbers),
        wrapped(review.findings) if review.findings else "",
        caution_text(cautions()),
    ]
    return "\n".join(part for part in parts if part)


def summary(review: Review) -> str:
    """Return what came out in two or three lines [text]."""
    whose = f"Claims of {review.vendor}" if review.vendor else "Claims"
    where = f"against {review.site}" if review.site else "without a site"
    unusable = len(review.claims) - review.judged
    words = [
        f"{review.count('supported')} supported",
        f"{review.count('not supported')} not supported",
        f"{review.count('cannot tell')} cannot be told",
    ]
    head = f"{whose} {where}\n  {', '.join(words)}, of {count(len(review.claims), 'claim')}"
    if unusable:
        head += f"; {count(unusable, 'claim')} unusable as written"
    if review.document:
        head += f"\n  document: {review.document}"
    return head + "\n"


def figure_text(value: float | None, unit: str, digits: int = 3) -> str:
    """Return a figure with its unit, shares in percent, ``-`` for none [text].

    Examples
    --------
    >>> figure_text(0.999, "fraction", 4), figure_text(None, "W")
    ('99.900 %', '-')
    """
    if value is None:
        return "-"
    if unit == "fraction":
        # 99.87 % must not be printed as the 99.9 % that it misses.
        return show(100 * value, "%", 5 if 0.99 < value < 1 else digits)
    if unit == "degC":
        return f"{value:.1f} degC"
    return show(value, unit, digits)


def _margin(claim: Judged) -> str:
    limit = held(claim)
    if limit is None:
        return "-"
    return printed(limit, *found_and_claimed(claim))


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


def _table(review: Review) -> str:
    rows = [
        [
            str(claim.number),
            textwrap.shorten(claim.claim, CLAIM_WIDTH, placeholder=" ..."),
            *reversed(found_and_claimed(claim)),
            _margin(claim),
            claim.verdict if claim.usable else "cannot tell (unusable)",
        ]
        for claim in review.claims
    ]
    heads = ["no", "claim", "claimed", "found", "margin", "verdict"]
    title = f"What was claimed and what was found; {MARGIN_NOTE}, which is the claim"
    return table(title, heads, rows, left=2)


def sentence(text: str) -> str:
    """Return words as a sentence: a capital first and a full stop last [text].

    Examples
    --------
    >>> sentence("it turns at 12.5 W")
    'It turns at 12.5 W.'
    """
    text = text.strip()
    if not text:
        return ""
    return text[0].upper() + text[1:] + ("" if text[-1] in ".!?" else ".")


def _paragraph(claim: Judged, numbers: dict[str, int]) -> str:
    """Return one claim: verdict, figure, condition, what is missing, remarks."""
    lines = textwrap.wrap(
        f"{claim.number}. {claim.claim}: {claim.verdict.upper()}",
        WIDTH,
        subsequent_indent="   ",
    )
    for label, text in claim_sentences(claim):
        lines += textwrap.wrap(
            f"   {label:9} {text}", WIDTH, subsequent_indent="             "
        )
    marks = [str(numbers[source]) for source in claim.sources]
    if marks:
        lines.append(f"   {'sources':9} [{', '.join(marks)}]")
    return "\n".join(lines) + "\n"


def claim_sentences(claim: Judged) -> list[tuple[str, str]]:
    """Return what is to be said about a claim, label by label.

    Parameters
    ----------
    claim
        One claim, judged.

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
        pairs.append(("found", _found(claim)))
    if len(claim.cases) > 1:
        pairs.append(("under", _cases(claim)))
    if claim.condition:
        word = "holds if" if claim.verdict != "supported" else "room"
        pairs.append((word, sentence(claim.condition)))
    if claim.missing:
        pairs.append(("missing", sentence("; ".join(claim.missing))))
    if claim.holds_already:
        pairs.append(("holds", sentence("; ".join(claim.holds_already))))
    pairs += [("note", sentence(text)) for text in claim.remarks]
    pairs += [("mind", sentence(text)) for text in claim.cautions]
    return pairs


def _found(claim: Judged) -> str:
    """Return found and claimed figure with range and margin as one sentence."""
    found = figure_text(claim.found, claim.unit)
    text = f"Claimed {figure_text(claim.claimed, claim.unit, 4)}, found {found}"
    if claim.found is None:
        text = f"Claimed {figure_text(claim.claimed, claim.unit, 4)}, no figure found"
    low, high = claim.found_low, claim.found_high
    if low is not None and high is not None and abs(high - low) > 1e-9 * abs(high):
        ends = f"{figure_text(low, claim.unit)} to {figure_text(high, claim.unit)}"
        text += f" (range {ends})"
    if claim.margin is not None:
        text += f"; margin {_margin(claim)}"
    return text + "."


def _cases(claim: Judged) -> str:
    """Return the figure under each set of conditions, those that bear out first."""
    texts = []
    for holds, word in ((True, "Holds for"), (False, "Does not hold for")):
        cases = [c for c in claim.cases if c.holds is holds]
        if cases:
            texts.append(
                f"{word} " + "; ".join(_case(c, claim.unit) for c in cases) + "."
            )
    return " ".join(texts)


def _case(case: ClaimCase, unit: str) -> str:
    if case.found is None:
        return case.name
    return f"{case.name} ({figure_text(case.found, unit)})"


def source_numbers(review: Review) -> dict[str, int]:
    """Return every source once, with the number under which it is printed [count]."""
    found: dict[str, int] = {}
    for claim in review.claims:
        for source in claim.sources:
            found.setdefault(source, len(found) + 1)
    return found


def _sources(numbers: dict[str, int]) -> str:
    if not numbers:
        return ""
    lines = ["Sources"]
    for source, number in numbers.items():
        lines += textwrap.wrap(
            f"{f'[{number}]':>5} {source}", WIDTH, subsequent_indent=INDENT
        )
    return "\n".join(lines) + "\n"
