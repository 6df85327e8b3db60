"""What every claim about the site as a whole is asked: each open condition in turn."""

from __future__ import annotations

from collections.abc import Callable

from powerbudget.bisection import edge
from powerbudget.quantities import show
from powerbudget.review.claim_tables import Claim
from powerbudget.review.result import Judged
from powerbudget.review.varied_site import (
    DARKER,
    HIGH_END,
    LOW_END,
    Conditions,
    VariedSite,
)

LOAD_RANGE = (0.02, 50.0)
"""Loads that are looked through, over the site's own [ratio]."""
Measure = Callable[[VariedSite, Conditions], tuple[float | None, bool]]
"""The calculated figure under some conditions, and whether it bears the claim out."""
MEASURED_LOAD = "the site load, measured over a day or more"


def ask_everywhere(
    answer: Judged, claim: Claim, site: VariedSite, measure: Measure, *, darker: bool
) -> None:
    """Ask under every open condition of the site, and under the vendor's own.

    Parameters
    ----------
    answer
        Takes cases, what is missing, sources and cautions.
    claim, site, measure
        What is asked, of which site, and how.
    darker
        Whether a typical year's sun is tried with less of it as well.
    """
    for conditions in site.conditions() + (site.darker() if darker else []):
        answer.case(conditions.name, *measure(site, conditions))
    stated = stated_conditions(claim, site)
    if stated is not None:
        name, there, conditions = stated
        answer.case(name, *measure(there, conditions), where="claimed")
    ask_what_is_open(answer)
    answer.sources.append(site.weather_source)
    answer.cautions += site.sky_cautions


def stated_conditions(
    claim: Claim, site: VariedSite
) -> tuple[str, VariedSite, Conditions] | None:
    """Return the vendor's own load and sky, None where the claim states neither.

    Returns
    -------
    tuple or None
        Words, and the site and conditions as claimed.
    """
    words, conditions = [], site.as_stated
    load, place = getattr(claim, "load", None), getattr(claim, "place", None)
    if load is not None:
        watts = site.watts(load)
        conditions = conditions.loaded(watts / site.budget.average_w)
        words.append(f"load of {show(watts, 'W')}")
    if place is not None:
        site = site.at_record(place)
        words.append(f"weather of {place}")
    return ("as claimed: " + ", ".join(words), site, conditions) if words else None


def ask_what_is_open(answer: Judged) -> None:
    """Add what would have to be known where the conditions of a site disagree."""
    if not answer.split:
        return
    first, *others = answer.here
    turned = [case.name for case in others if case.holds != first.holds]
    if any(
        name.endswith("temperature derating") and "," not in name for name in turned
    ):
        answer.missing.append(
            "the manufacturer's capacity at the design minimum temperature and a "
            "slow rate"
        )
    if any(name.startswith((LOW_END, HIGH_END)) for name in turned):
        answer.missing.append(MEASURED_LOAD)
    if any(name.startswith(DARKER) for name in turned):
        answer.missing.append(
            "10 or more actual years: a typical year contains no extreme winter"
        )


def ask_load(
    answer: Judged,
    site: VariedSite,
    carries: Callable[[float], bool],
    span: tuple[float, float] = LOAD_RANGE,
    lead: str = "true",
) -> None:
    """Add the mean load up to which a claim holds.

    Parameters
    ----------
    answer, site
        What is gathered, and of which site.
    carries, span
        Whether it holds at a load over the site's own, and from where to where it is
        looked for [ratio].
    lead
        First words [text].
    """
    ratio = edge(carries, *span, ratio=True)
    if ratio is None:
        return
    here_w = site.budget.average_w
    text = f"{lead} for an average load of {show(ratio * here_w, 'W')} or less"
    answer.turns("load", ratio * here_w, "W", f"{text} (here {show(here_w, 'W')})")
