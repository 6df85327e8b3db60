"""Picture of `review`: how far each claim is from what was found."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from powerbudget.report.charts import style
from powerbudget.report.document.words import figure_text
from powerbudget.review.result import Judged, Review, held

if TYPE_CHECKING:
    from pathlib import Path

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

COLOURS = {
    "supported": style.PICK,
    "not supported": style.OUTAGE,
    "undetermined": style.HIDDEN,
}
EDGE = 1.0
"""Margins beyond this share are cut; the figures stand beside the bar."""
CLAIM_LETTERS = 40


def review_figure(review: Review) -> Figure:
    """Return the margin of every claim as bars.

    Parameters
    ----------
    review
        From `powerbudget.review.reviewer.review`.

    Returns
    -------
    Figure
        To the right of the line the site bears the claim out, to the left it does
        not; thin lines are the range.
    """
    rows = review.claims
    figure = style.new_figure(11.0, 1.6 + 0.55 * len(rows))
    axes = figure.add_subplot()
    for place, claim in enumerate(rows):
        _bar(axes, place, claim)
    axes.axvline(0, color=style.INK, linewidth=1)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_xlim(-1.05 * EDGE, 2.05 * EDGE)
    words = "Margin of each claim (positive: supported)"
    style.dress(axes, words, "", "margin, % of the stated value")
    axes.grid(visible=False, axis="y")
    axes.set_xticks([-1, -0.5, 0, 0.5, 1], ["-100", "-50", "0", "+50", "+100"])
    axes.set_yticks(range(len(rows)), [_label(claim) for claim in rows], fontsize=8)
    for label in axes.get_yticklabels():
        label.set_parse_math(False)
    _key(figure)
    whose = review.vendor or "Claims"
    title = f"{whose}: {review.site}" if review.site else whose
    style.headline(figure, title)
    return figure


def review_chart(review: Review, path: Path) -> None:
    """Draw the margin of every claim into a file.

    Parameters
    ----------
    review
        From `powerbudget.review.reviewer.review`.
    path
        Target; its ending chooses the format (png, svg, pdf).

    Raises
    ------
    InputError
        When the file cannot be written.
    """
    style.save(review_figure(review), path)


def _label(claim: Judged) -> str:
    words = textwrap.wrap(claim.claim, CLAIM_LETTERS)
    if len(words) > 2:
        words = [words[0], textwrap.shorten(" ".join(words[1:]), CLAIM_LETTERS)]
    return f"{claim.number}. " + "\n".join(words)


def _cut(value: float) -> float:
    return max(-EDGE, min(EDGE, value))


def _bar(axes: Axes, place: int, claim: Judged) -> None:
    colour = COLOURS[claim.verdict]
    share = _share(claim)
    if share is None or abs(share) < 0.01:
        axes.plot([0], [place], marker="o", color=colour, markersize=7)
    else:
        axes.barh(place, _cut(share), height=0.55, color=colour)
        _range(axes, place, claim)
    if share is not None and abs(share) > EDGE:
        arrow, ink = ("<" if share < 0 else ">"), style.PAPER
        axes.plot([_cut(share) * 0.97], [place], marker=arrow, color=ink, markersize=5)
    text = str(claim.verdict)
    if claim.claimed is not None:
        found = figure_text(claim.found, claim.unit)
        text += f": calculated {found}, stated {figure_text(claim.claimed, claim.unit)}"
    note = axes.text(1.06, place, text, va="center", fontsize=8.5, color=style.INK)
    note.set_parse_math(False)


def _share(claim: Judged, found: float | None = None) -> float | None:
    """Return where a claim's bar ends; kelvins and hours are drawn as shares."""
    limit = held(claim, found)
    return None if limit is None else limit.order


def _range(axes: Axes, place: int, claim: Judged) -> None:
    """Draw where the margin lies over the range of what was found."""
    ends = [_share(claim, value) for value in (claim.found_low, claim.found_high)]
    if ends[0] is None or ends[1] is None:
        return
    low, high = sorted(_cut(end) for end in ends if end is not None)
    axes.plot([low, high], [place, place], color=style.INK, linewidth=1.4)
    for end in (low, high):
        axes.plot(
            [end, end], [place - 0.12, place + 0.12], color=style.INK, linewidth=1.4
        )


def _key(figure: Figure) -> None:
    from matplotlib.patches import Patch

    patches = [Patch(color=colour, label=str(word)) for word, colour in COLOURS.items()]
    figure.legend(
        handles=patches, loc="outside upper right", ncols=3, fontsize=8, frameon=False
    )
