"""What would make a failing site pass: a larger array, or a larger battery, alone."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from powerbudget.sizing.array_options import Variant
from powerbudget.sizing.frontier import Search

if TYPE_CHECKING:
    from powerbudget.balance.simulation import Simulation
    from powerbudget.sizing.candidates import Candidate
    from powerbudget.sizing.search import Sizing


def remedies(found: Sizing, run: Simulation) -> tuple[Candidate, ...]:
    """Return sizes that pass, each judged: one part changed where that is enough.

    Parameters
    ----------
    found
        Of a search for this site.
    run
        The site as written.

    Returns
    -------
    tuple of Candidate
        The array alone and the battery alone, the cheaper first; before them the
        recommended size where it costs less than either or looks another way; nothing
        where no size passes.
    """
    pick = found.pick
    if pick is None:
        return ()
    array, battery = run.strings, run.bank.parallel
    own, table = found.problem.design.tables.array, run.problem.design.tables.array
    if (own.tilt_deg, own.series) != (table.tilt_deg, table.series):
        return (pick,)
    # The frontier holds the smallest array of each battery, and so both answers.
    arrays = [c.array_strings for c in found.frontier if c.battery_strings <= battery]
    batteries = [c.battery_strings for c in found.frontier if c.array_strings <= array]
    sizes = [(a, battery) for a in sorted(arrays)[:1] if a > array]
    sizes += [(array, b) for b in sorted(batteries)[:1] if b > battery]
    search = Search(found.problem, (Variant(found.problem, pick.array_strings),))
    alone = [c for c in (search.at(*size) for size in sizes) if c.met]
    alone.sort(key=_cost)
    # Where both parts together cost less, that comes first.
    cheaper = not alone or _cost(pick) < _cost(alone[0])
    return (pick, *alone[:1]) if cheaper else tuple(alone)


def _cost(c: Candidate) -> float:
    return inf if c.cost is None else c.cost
