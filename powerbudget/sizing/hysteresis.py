"""Where more panel does worse: switches with two thresholds act at other hours."""

from __future__ import annotations

from collections.abc import Iterable

from powerbudget.errors import Finding
from powerbudget.quantities import count
from powerbudget.sizing.candidates import Candidate


def larger_that_fail(tried: Iterable[Candidate]) -> tuple[Finding, ...]:
    """Return a warning where a design with more panel fails and one with less passes.

    Returns
    -------
    tuple of Finding
        One for the nearest such pair; empty where more panel never did worse beside
        the same battery, at the same tilt and in strings as long.

    Notes
    -----
    A fuller battery may reconnect loads, end a charge stage or let a generator rest an
    hour earlier, and then be caught lower by the next spell.  So what passes is not
    always an unbroken range of sizes.
    """
    every = sorted(tried, key=lambda one: one.array_strings)
    pairs = [
        (large, small)
        for small in every
        if small.met
        for large in every
        if large.array_strings > small.array_strings
        and not large.met
        and _beside(large) == _beside(small)
    ]
    if not pairs:
        return ()
    large, small = min(pairs, key=lambda pair: pair[0].modules - pair[1].modules)
    return (
        Finding(
            "warning",
            f"A larger array can fail: {count(small.modules, 'module')} with "
            f"{count(small.battery_units, 'battery unit')} pass, {large.modules} with the same "
            f"battery fail ({', '.join(large.failed)}). Cause: a fuller battery "
            "shifts the switching hours of loads, charger, or generator. Run each "
            "larger size before use",
        ),
    )


def _beside(one: Candidate) -> tuple[int, float, int]:
    return one.battery_strings, one.tilt_deg, one.series
