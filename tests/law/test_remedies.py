"""Remedies of a failing site, and what moves the size: judged a second way."""

from __future__ import annotations

from dataclasses import replace

import pytest

from powerbudget.balance.problem import prepare
from powerbudget.balance.simulation import simulate_size
from powerbudget.quantities import money
from powerbudget.report.document.package import Package
from powerbudget.report.screens.run import run_screen
from powerbudget.report.sections.design import remedy_words
from powerbudget.site.reader import read_site_text
from powerbudget.site.scenario import Scenario
from powerbudget.site.starter import starter_text
from powerbudget.sizing.criteria import judge
from powerbudget.sizing.installed import installed_cost
from powerbudget.sizing.remedies import remedies
from powerbudget.sizing.search import size
from powerbudget.sizing.uncertainty.sensitivity import sensitivity


def written(array, battery):
    """Return the built-in example with other numbers of strings."""
    text = starter_text()
    assert "parallel = 10" in text
    assert "parallel = 5" in text
    text = text.replace("parallel = 10", f"parallel = {array}")
    return read_site_text(text.replace("parallel = 5", f"parallel = {battery}"))


@pytest.fixture(scope="module")
def failing():
    """Return a package of a site with too few of both."""
    return Package(written(4, 5))


def passes(problem, array, battery):
    """Return whether a size meets every criterion, old and new."""
    return all(
        v.met
        for health in (0.8, 1.0)
        for v in judge(simulate_size(
            problem.under(Scenario(state_of_health_frac=health)), array, battery))
    )  # fmt: skip


def test_a_remedy_is_the_smallest_change_that_passes(failing):
    """It passes at both ages, and one string fewer does not."""
    found = remedies(failing.sizing, failing.run)
    assert any((c.array_strings == 4) != (c.battery_strings == 5) for c in found)
    assert [c.cost for c in found] == sorted(c.cost for c in found)
    assert found[0].cost <= min(c.cost for c in failing.sizing.frontier) + 1e-9 or all(
        c.battery_strings == 5 or c.array_strings == 4 for c in found
    )
    for c in found:
        assert passes(failing.problem, c.array_strings, c.battery_strings)
        less = (c.array_strings - (c.array_strings > 4),
                c.battery_strings - (c.battery_strings > 5))  # fmt: skip
        assert not passes(failing.problem, *less)


def test_the_first_screen_says_what_to_change_and_what_it_costs(failing):
    """Size, added cost by the prices of the site file, and until when it passes."""
    words = remedy_words(failing)
    (first, *_) = remedies(failing.sizing, failing.run)
    bare = prepare(written(first.array_strings, first.battery_strings))
    new = installed_cost(bare, first.array_strings, first.battery_strings)
    added = new - installed_cost(bare, 4, 5)
    assert added > 0
    assert f"array 200 -> {first.array_w:,.0f} W" in words
    assert f"({money(added, 'USD', sign=True)})" in words
    assert words.endswith("at end of life, costs without labor")
    assert "Remedy" in run_screen(failing).text
    assert "Remedy" not in run_screen(Package(written(10, 5))).text


def test_a_site_that_no_size_saves_says_so(failing):
    """Without a size that passes there is no remedy, and the reason stands there."""
    none = replace(failing.sizing, pick=None, binding="not reached: availability")
    assert remedies(none, failing.run) == ()
    words = remedy_words(failing.but(sizing=none))
    assert words == "no size passes: not reached: availability"


def test_each_end_needs_the_smallest_array_that_passes_there():
    """By a scan from one string up, at the same state of health."""
    found = size(written(10, 5))
    rows = {row.name: row for row in sensitivity(found)}
    assert 5 <= len(rows) <= 10
    effects = [row.effect_frac for row in rows.values()]
    assert effects == sorted(effects, reverse=True)
    row = rows["Global horizontal irradiation"]
    for end, factor in ((row.low, 1.1), (row.high, 0.9)):
        battery = round(end.battery_ah / 100)
        problem = prepare(written(10, 5)).under(Scenario(sun_factor=factor))
        least = next(n for n in range(1, 40) if passes(problem, n, battery))
        assert end.array_w == 50 * least
