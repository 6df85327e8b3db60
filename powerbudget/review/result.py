"""What a review answers, and how figures under several conditions give one verdict."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from typing import Literal

from powerbudget.errors import Fault, Finding, InputError
from powerbudget.limits import CLAIM_ROUNDING_FRAC, CLAIM_ROUNDING_K, SHARE, Limit

Word = Literal["supported", "not supported", "undetermined"]
Sense = Literal["at most", "at least", "equal"]
Where = Literal["site", "claimed", "aside"]
AVAILABILITY = "availability"


@dataclass(frozen=True)
class ClaimCase:
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
    where: Where = "site"


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


@dataclass
class Judged:
    """One claim with what is gathered about it, and its verdict.

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
        ``supported``, ``not supported`` or ``undetermined``.
    margin_frac
        Margin where it is a share of the claim, else None [fraction].
    margin, margin_unit
        Margin and its unit, as `powerbudget.limits.Limit` has them: the claim is the
        limit, the figure found the value.
    condition
        What would make it true, or where it stops being true [text].
    missing, missing_if_open
        What would have to be known; the second only where the verdict is open [text].
    cases, solved
        The figure under each set of conditions, and where the claim turns.
    remarks, holds_already
        Sentences for the memo, and factors that the claim's figure holds [text].
    sources, cautions
        Where figures come from, and what to keep in mind [text].
    problems
        Why the claim could not be used as written.
    known
        False where something is missing that could turn any verdict.
    settled
        Whether the verdict is stated and does not follow from the cases.
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
    verdict: Word = "undetermined"
    margin_frac: float | None = None
    condition: str = ""
    missing: list[str] = field(default_factory=list)
    missing_if_open: list[str] = field(default_factory=list)
    cases: list[ClaimCase] = field(default_factory=list)
    solved: list[Solved] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    holds_already: list[str] = field(default_factory=list)
    sources: list[str] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)
    problems: tuple[Fault, ...] = ()
    margin: float | None = None
    margin_unit: str = SHARE
    known: bool = True
    settled: bool = False

    @property
    def usable(self) -> bool:
        """Whether the claim could be judged at all."""
        return not self.problems

    def holds(self, found: float | None) -> bool:
        """Return whether a calculated figure bears the claim out, within rounding."""
        if found is None or self.claimed is None:
            return False
        limits = sides(self.claimed, found, self.sense, self.unit, self.kind)
        return all(limit.met for limit in limits)

    def case(
        self,
        name: str,
        found: float | None,
        holds: bool | None = None,
        where: Where = "site",
    ) -> None:
        """Add the figure under some conditions; `holds` by the figure where left out."""
        holds = self.holds(found) if holds is None else holds
        self.cases.append(ClaimCase(name, found, holds, where))

    def turns(self, what: str, value: float, unit: str, text: str) -> None:
        """Add a condition at which the claim turns."""
        self.solved.append(Solved(what, value, unit, text))

    def range_over(self, values: Collection[float | None]) -> None:
        """Take the likely range from several figures, none where one cannot be had."""
        known = [value for value in values if value is not None]
        if known and len(known) == len(values):
            self.found_low, self.found_high = min(known), max(known)

    @property
    def here(self) -> list[ClaimCase]:
        """The figure under each set of conditions of the site."""
        return [case for case in self.cases if case.where == "site"]

    @property
    def split(self) -> bool:
        """Whether the claim holds under some conditions of the site and not others."""
        return len({case.holds for case in self.here}) > 1


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


def refuse(faults: Sequence[Fault]) -> None:
    """Stop where a claim as written cannot be used.

    Raises
    ------
    InputError
        With every fault, where there is one.
    """
    if faults:
        raise InputError(list(faults))


def meets(claimed: float, found: float | None, sense: Sense) -> bool:
    """Return whether a figure bears a claim out, within rounding.

    Examples
    --------
    >>> meets(25.0, 25.1, "at most"), meets(7.0, 6.6, "at least")
    (True, False)
    """
    return found is not None and all(held.met for held in sides(claimed, found, sense))


def sides(
    claimed: float, found: float, sense: Sense, unit: str = "", kind: str = ""
) -> list[Limit]:
    """Return a claim as one limit or, where it names a figure, as two.

    Parameters
    ----------
    claimed, found
        Stated and calculated figure [unit].
    sense, unit
        As in `Judged`.
    kind
        Of claim: availability has a margin in hours, and is stated to the last digit.

    Returns
    -------
    list of Limit
        True where all are met; the margin is the least of them.
    """
    on = kind == AVAILABILITY
    slack = CLAIM_ROUNDING_K if unit == "degC" else CLAIM_ROUNDING_FRAC * abs(claimed)
    ways: dict[Sense, tuple[Literal["upper", "lower"], ...]] = {
        "at most": ("upper",), "at least": ("lower",), "equal": ("lower", "upper"),
    }  # fmt: skip
    rounding = 0.0 if on else slack
    return [Limit(found, claimed, s, unit, rounding, on) for s in ways[sense]]


def held(judged: Judged, found: float | None = None) -> Limit | None:
    """Return a claim's own figure, or another, against what is claimed.

    Parameters
    ----------
    judged
        A claim.
    found
        Another figure than the claim's own [unit of the claim].

    Returns
    -------
    Limit or None
        The side with the least margin; None without both figures.
    """
    found = judged.found if found is None else found
    if judged.claimed is None or found is None:
        return None
    both = sides(judged.claimed, found, judged.sense, judged.unit, judged.kind)
    return min(both, key=lambda one: one.spare)


def conclude(judged: Judged) -> Judged:
    """Return a claim with verdict, margin and condition from its cases.

    Parameters
    ----------
    judged
        With claimed figure, sense and cases; the first case is the central one.

    Returns
    -------
    Judged
        Supported where it holds in every case of the site and under the vendor's own
        conditions; not supported where in no case of the site, or not under the
        vendor's; else cannot tell, with the cases in which it holds as the condition.
    """
    here = judged.here
    if judged.found is None and here:
        judged.found = here[0].found
    conditions = [judged.condition] if judged.condition else []
    if not judged.settled:
        judged.verdict = _word(here) if judged.known else "undetermined"
        stated = [c for c in judged.cases if c.where == "claimed" and not c.holds]
        if stated:
            # Failing under its own conditions it is not saved by kinder ones here.
            judged.verdict = "not supported"
            if here and here[0].holds:
                judged.found = stated[0].found
        elif judged.verdict == "undetermined" and judged.known and here:
            held_for = " or for ".join(c.name for c in here if c.holds)
            conditions.insert(0, f"true only for {held_for}")
    conditions += [item.text for item in judged.solved]
    judged.condition = "; ".join(dict.fromkeys(conditions))
    if judged.verdict == "undetermined":
        judged.missing += judged.missing_if_open
    if limit := held(judged):
        judged.margin_frac, judged.margin = limit.margin_frac, limit.margin
        judged.margin_unit = limit.margin_unit
    return judged


def _word(here: Sequence[ClaimCase]) -> Word:
    if not here:
        return "undetermined"
    if all(case.holds for case in here):
        return "supported"
    return "undetermined" if any(case.holds for case in here) else "not supported"
