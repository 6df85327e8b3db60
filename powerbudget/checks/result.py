"""What a check returns: value, limit, margin, verdict, rule, source and remedy."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any, Literal

from powerbudget.limits import Limit, Sense, within

Verdict = Literal["pass", "warn", "fail"]
ORDER: dict[str, int] = {"fail": 0, "warn": 1, "pass": 2}


@dataclass(frozen=True)
class Rule:
    """What a check rests on.

    Parameters
    ----------
    name
        Short name of the check [text].
    text
        The rule in words or as a formula [text].
    source
        Title, year, table; ``common practice, no source`` or ``unverified`` where
        that is the truth [text].
    remedy
        What to do when it is not met [text].
    """

    name: str
    text: str
    source: str
    remedy: str


@dataclass(frozen=True)
class Check:
    """One thing of the site held against one rule.

    Parameters
    ----------
    name, subject
        The check, and what of the site it looks at [text].
    value, limit
        What is there, and what the rule asks, in ``unit``.
    unit
        Unit of value and limit [text].
    verdict
        ``pass``, ``warn`` or ``fail`` [text].
    margin, margin_unit
        Margin and its unit, as `powerbudget.limits.Limit` has them.
    rule, source
        The rule in words, and where it stands [text].
    remedy
        What to do where the verdict is not a pass [text].
    detail
        Figures behind the value, in words [text].
    cases
        Further figures of the same check, such as each current of a loop.
    side
        ``upper`` where the value may not lie above the limit, else ``lower`` [text].
    """

    name: str
    subject: str
    value: float
    limit: float
    unit: str
    verdict: Verdict
    margin: float
    rule: str
    source: str
    remedy: str
    detail: str = ""
    cases: tuple[dict[str, Any], ...] = ()
    side: Sense = "upper"
    margin_unit: str = ""

    @property
    def held(self) -> Limit:
        """The figures as a value held against a limit [Limit]."""
        return Limit(self.value, self.limit, self.side, self.unit)

    @property
    def sense(self) -> str:
        """``at least`` or ``at most`` [text]."""
        return {"lower": "at least", "upper": "at most"}[self.side]

    @property
    def margin_frac(self) -> float | None:
        """Margin where it is a share of the limit, else None [fraction]."""
        return self.held.margin_frac


@dataclass(frozen=True)
class NotChecked:
    """A check that cannot be made, because a figure is not stated.

    Parameters
    ----------
    name, subject
        The check, and what of the site it would look at [text].
    missing
        The key that would be needed, as it stands in the site file [text].
    detail
        What can be said without it, such as the figure to look for [text].
    """

    name: str
    subject: str
    missing: str
    detail: str = ""


Row = Check | NotChecked
Finder = Callable[[Any], Iterable[Row]]


@dataclass(frozen=True)
class Found:
    """A value held against a limit, before a rule gives it a name.

    Parameters
    ----------
    subject
        What of the site is looked at [text].
    value, limit, unit
        The two figures and their unit.
    detail
        Figures behind the value, in words [text].
    cases
        Further figures of the same check.
    """

    subject: str
    value: float
    limit: float
    unit: str
    detail: str = ""
    cases: tuple[dict[str, Any], ...] = field(default=())


def at_most(rule: Rule, found: Found, otherwise: Verdict = "fail") -> Check:
    """Return a check that passes while the value does not exceed the limit [Check].

    Examples
    --------
    >>> rule = Rule("current", "I <= I_max", "Ohm's law", "a thicker wire")
    >>> at_most(rule, Found("radio", 3.0, 2.5, "A")).verdict
    'fail'
    """
    return judged(rule, found, "upper", otherwise=otherwise)


def at_least(rule: Rule, found: Found, otherwise: Verdict = "fail") -> Check:
    """Return a check that passes while the value does not fall below the limit [Check].

    Examples
    --------
    >>> rule = Rule("volts", "V >= V_min", "Ohm's law", "a thicker wire")
    >>> round(at_least(rule, Found("radio", 11.2, 10.5, "V")).margin, 4)
    0.0667
    """
    return judged(rule, found, "lower", otherwise=otherwise)


def stepped(rule: Rule, found: Found, fails_at: float) -> Check:
    """Return a check that warns above its limit and fails above a second one [Check].

    Examples
    --------
    >>> rule = Rule("drop", "3 %, 5 %", "practice", "a thicker wire")
    >>> [stepped(rule, Found("x", v, 3.0, "%"), 5.0).verdict for v in (2.0, 4.0, 6.0)]
    ['pass', 'warn', 'fail']
    """
    worse: Verdict = "warn" if within(found.value, fails_at, "upper") else "fail"
    return at_most(rule, found, worse)


def judged(
    rule: Rule,
    found: Found,
    side: Sense,
    verdict: Verdict | None = None,
    *,
    otherwise: Verdict = "fail",
) -> Check:
    """Return a check of a value on one side of its limit.

    Parameters
    ----------
    rule, found
        What it rests on, and the figures.
    side
        As in `powerbudget.limits.Limit`.
    verdict
        Where it follows from more than this one comparison [text].
    otherwise
        The verdict beyond the limit, where none is given [text].
    """
    held = Limit(found.value, found.limit, side, found.unit)
    if verdict is None:
        verdict = "pass" if held.met else otherwise
    return Check(
        name=rule.name,
        subject=found.subject,
        value=found.value,
        limit=found.limit,
        unit=found.unit,
        verdict=verdict,
        margin=held.margin,
        rule=rule.text,
        source=rule.source,
        remedy=rule.remedy,
        detail=found.detail,
        cases=found.cases,
        side=side,
        margin_unit=held.margin_unit,
    )


def worst_first(checks: Iterable[Check]) -> tuple[Check, ...]:
    """Return checks by verdict, then by margin, worst first."""
    return tuple(sorted(checks, key=lambda c: (ORDER[c.verdict], c.held.order)))
