"""Draws of an ensemble follow the laws that its page states, and its sizes their levels."""

from __future__ import annotations

import numpy as np
import pytest

from powerbudget.site.ensemble import Spread
from powerbudget.sizing.uncertainty.members import draw_members
from powerbudget.sizing.uncertainty.monte_carlo import ensemble

N = 4000
# Four standard errors of an even draw over one: 4 x 0.2887 / sqrt(4000).
WIDE = 4 * 0.2887 / N**0.5


@pytest.fixture(scope="module")
def drawn():
    """Return many members of five seasons with every range open."""
    spread = Spread.model_validate(
        {"load_to_maximum": "60 %", "more_soiling": "10 %", "module_derate": "8 %",
         "cold_curves": "between", "snow": "between"}
    )  # fmt: skip
    return draw_members(spread, N, 11, seasons=5, snowy=True)


def test_every_season_of_the_record_is_drawn_as_often(drawn):
    """Five seasons get a fifth of the members each, and there is no sixth."""
    count = np.bincount(drawn.season, minlength=5)
    assert count.size == 5
    assert count / N == pytest.approx(0.2, abs=4 * (0.2 * 0.8 / N) ** 0.5)


def test_without_seasons_each_member_has_a_year_of_its_own():
    """Made years are numbered one after another."""
    made = draw_members(Spread(), 7, 1, seasons=None, snowy=False)
    assert made.season.tolist() == list(range(7))
    assert made.snow_share is None


def test_load_is_triangular_and_all_else_even(drawn):
    """A third of the way up for the load, half for the rest, to the ends stated."""
    assert drawn.load_share.mean() == pytest.approx(0.6 / 3, abs=0.6 * WIDE)
    assert (np.median(drawn.load_share)) == pytest.approx(
        0.6 * (1 - 0.5**0.5), abs=0.02
    )
    for share, top in (
        (drawn.curve_share, 1.0), (drawn.dirt_frac, 0.10), (drawn.derate_frac, 0.08),
        (drawn.snow_share, 1.0),
    ):  # fmt: skip
        assert share.mean() == pytest.approx(top / 2, abs=top * WIDE)
        assert 0 <= share.min() < 0.01 * top
        assert 0.99 * top < share.max() <= top


def test_one_input_tells_nothing_of_another(drawn):
    """Each comes from a stream of its own."""
    together = np.corrcoef(
        [drawn.load_share, drawn.curve_share, drawn.dirt_frac, drawn.derate_frac,
         drawn.snow_share, drawn.season]
    )  # fmt: skip
    assert np.abs(together - np.eye(6)).max() < 4 / N**0.5 * 1.2


def test_sizes_are_asked_for_at_half_nine_tenths_and_ninety_nine(prepared):
    """A tiny ensemble of three sizes: each level gets the cheapest that reaches it."""
    found = ensemble(prepared("hot-valve-site"), 6, 3, sizes=[(1, 1), (2, 1), (4, 2)])
    assert [row.level for row in found.sizes] == [0.5, 0.9, 0.99]
    for row in found.sizes:
        reach = [c for c in found.candidates if c.probability_frac >= row.level]
        cheapest = min((c.cost for c in reach), default=None)
        assert (row.candidate.cost if row.candidate else None) == cheapest
    for one in found.candidates:
        reached = 6 * one.probability_frac
        assert reached == pytest.approx(round(reached))
