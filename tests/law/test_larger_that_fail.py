"""More panel may do worse: told where it was seen, and nowhere else."""

from __future__ import annotations

from dataclasses import replace

import pytest

from powerbudget.sizing.candidates import make_candidate
from powerbudget.sizing.criteria import Verdict
from powerbudget.sizing.hysteresis import larger_that_fail


@pytest.fixture(scope="module")
def design(prepared):
    """Return a maker of designs of so many strings that pass or fail."""
    from powerbudget.balance.simulation import simulate_size

    one = make_candidate(simulate_size(prepared("starter")), ())

    def make(array, met, **other):
        verdict = Verdict("availability", 0.9, 0.95, "", met, None)
        strings = {"array_strings": array, "modules": array, "battery_strings": 1}
        return replace(one, **{**strings, "verdicts": (verdict,), **other})

    return make


def test_the_nearest_pair_is_told(design):
    """Fewer modules that pass, more that do not, and what those miss."""
    tried = [design(9, False), design(3, True), design(5, False), design(4, True)]
    (found,) = larger_that_fail(tried)
    assert found.severity == "warning"
    assert "4 modules" in found.text
    assert "5 with" in found.text
    assert "availability" in found.text


@pytest.mark.parametrize(
    "other", [{"battery_strings": 2}, {"tilt_deg": 1.0}, {"series": 99}]
)
def test_only_the_same_battery_and_build_are_compared(design, other):
    """Another battery, tilt or string may fail for reasons of its own."""
    assert larger_that_fail([design(3, True), design(5, False, **other)]) == ()


def test_an_unbroken_range_says_nothing(design):
    """What grows from failing to passing is as everybody expects."""
    assert larger_that_fail([design(2, False), design(3, True), design(4, True)]) == ()
