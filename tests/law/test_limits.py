"""Margins by their definition, and one margin for criteria, checks and claims."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from powerbudget.checks import result as checks
from powerbudget.limits import Limit, printed, within
from powerbudget.review import result as claims
from powerbudget.sizing import criteria

RULE = checks.Rule("x", "x", "x", "x")
FIGURES = st.floats(-1e6, 1e6).filter(lambda x: abs(x) > 1e-6)
# Worked by hand from the definition: share of the limit, positive inside it.
HAND = [
    (0.39, 0.60, "upper", "fraction", False, 0.35, "fraction"),
    (9.0, 12.0, "lower", "d", False, -0.25, "fraction"),
    (-3.0, -2.0, "upper", "V", False, 0.5, "fraction"),
    (-3.0, -2.0, "lower", "V", False, -0.5, "fraction"),
    (-35.0, -40.0, "upper", "degC", False, -5.0, "K"),
    (0.0, -20.0, "lower", "degC", False, 20.0, "K"),
    (12.0, 0.0, "upper", "h", False, -12.0, "h"),
    (3.0, 0.0, "lower", "A", False, 3.0, "A"),
    (0.999, 0.9999, "lower", "fraction", True, -7.8894, "h/yr"),
    (1.0, 0.999, "lower", "fraction", True, 8.766, "h/yr"),
]


@pytest.mark.parametrize(
    ("value", "limit", "sense", "unit", "on", "margin", "margin_unit"), HAND
)
def test_margin_by_hand(value, limit, sense, unit, on, margin, margin_unit):
    """Shares of the limit's size, and the three exceptions each in its unit."""
    held = Limit(value, limit, sense, unit, availability=on)
    assert held.margin == pytest.approx(margin, rel=1e-9)
    assert held.margin_unit == margin_unit
    assert held.met == (margin >= 0)
    assert held.margin_frac == (held.margin if margin_unit == "fraction" else None)


def claim(value, limit, sense, unit, kind="energy"):
    """Return a claim of one figure, concluded."""
    blank = claims.Judged(1, kind, "x", claimed=limit, unit=unit, sense=sense)
    return claims.conclude(
        replace(blank, cases=(claims.ClaimCase("here", value, holds=True),))
    )


@given(value=FIGURES, limit=FIGURES, unit=st.sampled_from(["V", "degC", "fraction"]))
def test_criteria_checks_and_claims_have_one_margin(value, limit, unit):
    """The same numbers give the same float and unit whoever asks, on either side."""
    for side, word in (("lower", "at least"), ("upper", "at most")):
        own = Limit(value, limit, side, unit)
        name = word.replace(" ", "_")
        check = getattr(checks, name)(RULE, checks.Found("x", value, limit, unit))
        verdict = getattr(criteria, name)("x", value, limit, unit)
        one = claim(value, limit, word, unit)
        for row in (check, verdict, one):
            assert row.margin == own.margin
            assert row.margin_unit == own.margin_unit
            assert row.margin_frac == own.margin_frac
        assert (check.verdict == "pass") == verdict.met == own.met


@given(value=st.floats(0, 1), limit=st.floats(0, 1))
def test_availability_has_hours_in_criteria_and_claims(value, limit):
    """Availability is the one share that is counted in hours off, in both."""
    verdict = criteria.at_least("availability", value, limit, "fraction")
    one = claim(value, limit, "at least", "fraction", "availability")
    assert one.margin == verdict.margin == pytest.approx((value - limit) * 8766)
    assert one.margin_unit == verdict.margin_unit == "h/yr"


def test_a_named_figure_is_two_limits():
    """Beside a claim that names a figure either way is outside, by the same share."""
    for value in (9.0, 11.0):
        assert claim(value, 10.0, "equal", "V").margin == pytest.approx(-0.1)
    assert claim(10.0, 10.0, "equal", "V").margin == 0.0


@given(limit=FIGURES)
def test_only_dust_is_forgiven_and_a_claim_its_rounding(limit):
    """A billionth of the limit is dust, a millionth is not; a claim has half a percent."""
    size = max(1.0, abs(limit))
    for side, sign in (("upper", 1), ("lower", -1)):
        assert within(limit + sign * 5e-10 * size, limit, side)
        assert not within(limit + sign * 1e-6 * size, limit, side)
    for word, sign in (("at most", 1), ("at least", -1)):
        assert claims.meets(limit, limit + sign * 0.0049 * abs(limit), word)
        assert not claims.meets(
            limit, limit + sign * (0.0051 * abs(limit) + 2e-9), word
        )


def test_no_number_is_never_inside():
    """What could not be computed meets nothing; what never ends is beyond any limit."""
    for side in ("upper", "lower"):
        assert not Limit(math.nan, 1.0, side).met
    assert not Limit(math.inf, 10.0, "upper", "d").met
    assert Limit(math.inf, 10.0, "upper", "d").margin_text() == "never"


def test_nothing_is_beyond_the_same_infinity():
    """Never asked and never reached is at the limit, on either side, with no margin."""
    for side in ("upper", "lower"):
        held = Limit(math.inf, math.inf, side, "d")
        assert held.met
        assert held.spare == 0.0


@given(value=FIGURES, limit=FIGURES)
def test_rows_stand_by_the_share_of_the_limit_whatever_their_unit(value, limit):
    """The key of the order is the share, for kelvins too; a limit of 0 has none."""
    for side in ("upper", "lower"):
        share = Limit(value, limit, side, "V").margin
        assert Limit(value, limit, side, "degC").order == share
    assert Limit(value, 0.0, "lower", "A").order == value


@given(limit=st.floats(-60.0, 60.0))
def test_a_stated_temperature_is_rounded_by_a_twentieth_of_a_kelvin(limit):
    """The share of a temperature means nothing: -0.0 degC has the slack of 40 degC."""
    for word, sign in (("at most", 1), ("at least", -1)):
        near, far = (
            claims.sides(limit, limit + sign * beyond, word, "degC")[0]
            for beyond in (0.049, 0.051)
        )
        assert near.met
        assert not far.met


# By hand: 10 times the limit is 900 %, 12 times is 1,100 %; 0.0996 rounds up a digit.
@pytest.mark.parametrize(
    ("held", "text"),
    [
        (Limit(1.0, 10.0, "upper", "A"), "+90 %"),
        (Limit(10.0, 1.0, "upper", "A"), "-900 %"),
        (Limit(12.0, 1.0, "lower", "A"), "+1,100 %"),
        (Limit(990.0, 1.0, "upper", "A"), "-99,000 %"),
        (Limit(1002.0, 1.0, "lower", "A"), "over +1,000 x"),
        (Limit(math.inf, 1.0, "lower", "A"), "no limit"),
        (Limit(109.96, 100.0, "lower", "A"), "+10 %"),
        (Limit(math.nan, 1.0, "lower", "A"), "-"),
        (Limit(math.inf, 0.0, "lower", "d"), "no limit"),
        (Limit(math.inf, 0.0, "upper", "d"), "never"),
        (Limit(1.5, 0.0, "lower", "ratio"), "+1.5"),
        (Limit(0.0, 2.0, "lower", "count"), "-100 %"),
        (Limit(2.0, 0.0, "lower", "count"), "+2"),
    ],
)
def test_a_margin_as_printed_by_hand(held, text):
    """Two digits, sign and unit; what is no number or no share is said in words."""
    assert held.margin_text() == text


# The printed figures give another margin than the true ones: theirs is printed.
@pytest.mark.parametrize(
    ("held", "figures", "text"),
    [
        (Limit(1249.0, 1000.0, "lower", "W"), ("1,200 W", ">= 1,000 W"), "+20 %"),
        (Limit(-35.4, -40.0, "upper", "degC"), ("\u221235 degC", "-40 degC"), "-5.0 K"),
        (
            Limit(0.99896, 0.9999, "lower", "fraction", availability=True),
            ("99.90 %", "99.99 %"),
            "-7.9 h/yr",
        ),
        # One hour in 18 years: 99.99 % and 100 % alone would read 0.88 h/yr.
        (
            Limit(1 - 1 / (18 * 8766), 1.0, "lower", "fraction", availability=True),
            ("99.99 %", "100.00 %"),
            "-0.056 h/yr",
        ),
        (Limit(3.0, 4.0, "upper", "A"), ("never", "4 A"), "+25 %"),
        (Limit(3.0, 4.0, "upper", "A"), ("3 A", "not stated"), "+25 %"),
    ],
)
def test_the_margin_of_printed_figures_by_hand(held, figures, text):
    """Thousands, a true minus, hours of availability, and words in place of a figure."""
    assert printed(held, *figures) == text


def test_the_printed_margin_is_that_of_the_printed_figures():
    """A reader with a calculator gets the same; rounding never hides the side."""
    held = Limit(0.3949, 0.6, "upper", "fraction")
    assert printed(held, "39 %", "60 %") == "+35 %"
    assert held.margin_text() == "+34 %"
    just = Limit(0.6004, 0.6, "upper", "fraction")
    assert printed(just, "60 %", "60 %") == "-0.067 %"
    assert printed(Limit(1.0, 1.0, "lower", "V"), "1.0 V", "<= 1.0 V") == "0 %"
    assert (
        printed(Limit(1234.0, 1000.0, "lower", "W"), "1,230 W", ">= 1,000 W") == "+23 %"
    )
