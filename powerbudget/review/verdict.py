"""What a review answers, and how figures under several conditions give one verdict."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from powerbudget.errors import Fault, Finding

Word = Literal["supported", "not supported", "cannot tell"]
Sense = Literal["at most", "at least", "equal"]
ROUNDING_FRAC = 0.005
"""A claim is printed rounded: half a percent beside it is not held against it."""


@dataclass(frozen=True)
class Case:
    """The figure under one set of conditions.

    Parameters
    ----------
    name
        The conditions, in words [text].
    found
        The figure, None where it cannot be had [unit of the claim].
    holds
        Whether the claim is true under them.
    where
        ``site`` for what stands here, ``claimed`` for the vendor's own conditions,
        ``aside`` for what is shown and not judged.
    """

    name: str
    found: float | None
    holds: bool
    where: Literal["site", "claimed", "aside"] = "site"


@dataclass(frozen=True)
class Solved:
    """A condition found by trying the computation: where the claim turns.

    Parameters
    ----------
    what
        What was varied: load, temperature, sun, battery, array, cards, depth [text].
    value, unit
        Where it turns [unit].
    text
        The same as a sentence without a full stop [text].
    """

    what: str
    value: float
    unit: str
    text: str


@dataclass(frozen=True)
class Judged:
    """One claim with its verdict.

    Parameters
    ----------
    number, kind, claim
        Place in the file, kind, and the claim in words [count, text, text].
    claimed, found, unit
        Both figures in one unit; None where there is none [unit].
    found_low, found_high
        Likely range of what was found, None where there is none [unit].
    sense
        Whether the claim needs the site's figure to be at most, at least or equal.
    verdict
        ``supported``, ``not supported`` or ``cannot tell``.
    margin_frac
        How far beyond, as a share of the claim; negative where it fails [fraction].
    condition
        What would make it true, or where it stops being true [text].
    missing
        What would have to be known [text].
    cases, solved
        The figure under each set of conditions, and where the claim turns.
    remarks, holds_already
        Sentences for the memo, and factors that the claim's figure holds [text].
    sources, cautions
        Where figures come from, and what to keep in mind [text].
    problems
        Why the claim could not be used as written.
    """

    number: int
    kind: str
    claim: str
    claimed: float | None = None
    found: float | None = None
    unit: str = ""
    found_low: float | None = None
    found_high: float | None = None
    sense: Sense = "at least"
    verdict: Word = "cannot tell"
    margin_frac: float | None = None
    condition: str = ""
    missing: tuple[str, ...] = ()
    cases: tuple[Case, ...] = ()
    solved: tuple[Solved, ...] = ()
    remarks: tuple[str, ...] = ()
    holds_already: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    problems: tuple[Fault, ...] = ()

    @property
    def usable(self) -> bool:
        """Whether the claim could be judged at all."""
        return not self.problems


@dataclass(frozen=True)
class Review:
    """A vendor's claims, each judged.

    Parameters
    ----------
    site, vendor, document
        Names; the site's is empty where claims were judged without one [text].
    claims
        Every claim of the file.
    findings
        Remarks on the file and the site.
    """

    site: str
    vendor: str
    document: str
    claims: tuple[Judged, ...]
    findings: tuple[Finding, ...] = field(default_factory=tuple)

    def count(self, word: Word) -> int:
        """Return how many claims have a verdict [count]."""
        return sum(claim.verdict == word for claim in self.claims)

    @property
    def all_supported(self) -> bool:
        """Whether every claim is supported."""
        return self.count("supported") == len(self.claims)

    @property
    def judged(self) -> int:
        """Claims that could be used as written [count]."""
        return sum(claim.usable for claim in self.claims)


def meets(claimed: float, found: float | None, sense: Sense) -> bool:
    """Return whether a figure bears a claim out, within rounding.

    Examples
    --------
    >>> meets(25.0, 25.1, "at most"), meets(7.0, 6.6, "at least")
    (True, False)
    """
    if found is None:
        return False
    slack = ROUNDING_FRAC * abs(claimed)
    above, below = bool(found >= claimed - slack), bool(found <= claimed + slack)
    return {"at most": below, "at least": above, "equal": above and below}[sense]


def margin(claimed: float | None, found: float | None, sense: Sense) -> float | None:
    """Return how far the found figure lies beyond the claim [fraction].

    Parameters
    ----------
    claimed, found
        Both figures [same unit].
    sense
        ``at most`` where less is better.

    Returns
    -------
    float or None
        Positive where there is room, negative where the claim fails; for ``equal``
        minus the difference; None without both figures [fraction].

    Examples
    --------
    >>> round(margin(7.0, 3.5, "at least"), 2), round(margin(25.0, 30.0, "at most"), 2)
    (-0.5, -0.2)
    """
    if not claimed or found is None:
        return None
    ratio = found / claimed
    if sense == "at most":
        return 1.0 - ratio
    return ratio - 1.0 if sense == "at least" else -abs(ratio - 1.0)


def conclude(judged: Judged, *, known: bool = True) -> Judged:
    """Return a claim with verdict and margin from its cases.

    Parameters
    ----------
    judged
        With claimed figure, sense and cases; the first case is the central one.
    known
        False where something is missing that could turn any verdict.

    Returns
    -------
    Judged
        Supported where it holds in every case of the site and under the vendor's own
        conditions; not supported where in no case of the site, or not under the
        vendor's; else cannot tell, with the cases in which it holds as the condition.
    """
    here = [case for case in judged.cases if case.where == "site"]
    central = here[0].found if here else None
    word = _word(here) if known else "cannot tell"
    found = central if judged.found is None else judged.found
    own = [c for c in judged.cases if c.where == "claimed" and not c.holds]
    if own:
        # A claim that fails under its own conditions is not saved by kinder ones here.
        word = "not supported"
        if here and here[0].holds:
            found = central = own[0].found
    filled = replace(
        judged,
        found=found,
        verdict=word,
        margin_frac=margin(judged.claimed, central, judged.sense),
    )
    conditions = [filled.condition] if filled.condition else []
    if filled.verdict == "cannot tell" and known and here:
        conditions.insert(0, _only_if(here))
    conditions += [item.text for item in filled.solved]
    return replace(filled, condition="; ".join(dict.fromkeys(conditions)))


def _word(here: Sequence[Case]) -> Word:
    if not here:
        return "cannot tell"
    if all(case.holds for case in here):
        return "supported"
    return "cannot tell" if any(case.holds for case in here) else "not supported"


def _only_if(here: Sequence[Case]) -> str:
    """Return in which of the cases it holds [text]."""
    return "true only for " + " or for ".join(c.name for c in here if c.holds)
