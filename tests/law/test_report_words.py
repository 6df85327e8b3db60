"""Words of reports: misses are seen as misses, nothing is minus nothing."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from reference.texts import package_texts, retired_in

from powerbudget.report import document
from powerbudget.report.document.blocks import figure, fixed, share
from powerbudget.report.document.words import (
    closure,
    found_and_needed,
    miss,
    percent,
    share_beside,
    told_apart,
)
from powerbudget.sizing.criteria import FLOORS, asked_for, at_least, at_most, judge

SHARES = st.floats(0.0, 1.0)
UNITS = st.sampled_from(["fraction", "ratio", "d", "h"])


@given(SHARES, SHARES, UNITS, st.sampled_from([at_least, at_most]))
def test_found_and_needed_of_a_missed_criterion_differ_as_printed(a, b, unit, rule):
    """Nobody reads '60.0 % of at most 60.0 %: NOT MET'."""
    assume(abs(a - b) > 1e-7)
    verdict = rule("x", a, b, unit)
    found, needed = found_and_needed(verdict)
    if not verdict.met:
        assert found != needed


@given(SHARES, SHARES)
def test_a_share_under_its_limit_never_reads_like_it(found, limit):
    """'40 % left' beside a limit of 40 % stands only where the limit is kept."""
    assume(limit - found > 1e-7)
    assert share_beside(found, limit) != percent(limit, 0)


@given(st.floats(-1.0, 1.0).filter(lambda x: abs(x) > 1e-12))
def test_a_missed_margin_never_reads_as_nothing(margin):
    """The printed margin has its sign and a figure other than 0."""
    words = miss(margin).removesuffix(" %")
    assert float(words) != 0
    assert words.startswith("-") == (margin < 0)


@pytest.mark.parametrize("value", [-0.0, -1e-9, -0.004])
def test_minus_nothing_is_nothing(value):
    """A rounded figure of 0 has no sign."""
    assert percent(value / 100, 1) == "0.0 %"
    assert fixed(value, 1).text == "0.0"
    assert share(value / 100).text == "0"
    assert figure(-0.0).text == "0"


@given(st.floats(0.0, 1.0))
def test_words_on_closing_hold_no_exponent_below_rounding(error):
    """Rounding is called so, and nothing larger is."""
    assert (closure(error) == "to rounding") == (error < 1e-9)


def test_two_equal_figures_end_the_search_for_digits():
    """The same figure twice is printed the same, without ten decimals."""
    assert told_apart(0.5, 0.5, percent) == ("50 %", "50 %")
    assert math.isfinite(float(miss(0.0).removesuffix(" %")))


def test_floors_of_nothing_are_left_out_and_ceilings_of_nothing_stay():
    """At least 0 cannot be missed; at most 0 can."""
    ratio, frozen = FLOORS[2], "frozen battery"
    verdicts = (at_least(ratio, 0.6, 0.0, "ratio"), at_most(frozen, 2.0, 0.0, "h"))
    assert [v.name for v in asked_for(verdicts)] == [frozen]
    kept = at_least(ratio, 0.6, 1.2, "ratio")
    assert asked_for((kept,)) == (kept,)


def test_names_of_the_floors_are_those_of_the_judge(prepared):
    """A renamed criterion would be listed although nobody asked for it."""
    from powerbudget.balance.simulation import simulate_size

    names = {v.name for v in judge(simulate_size(prepared("starter")))}
    assert set(FLOORS) - {"freezing margin"} <= names


def test_no_text_of_the_package_holds_a_retired_word():
    """Words of the trade only."""
    rows = [
        (where, word, text)
        for where, text in package_texts()
        for word in retired_in(text, where)
    ]
    assert not rows, rows[:20]


def test_retired_words_are_seen_and_allowed_ones_are_not():
    """The net has no hole where it matters."""
    for text in ("a bank that lies flat", "light on the level", "1 year(s)", "9 degC"):
        assert retired_in(text), text
    for text in ("enclosure light", "pressure regulator", "lightest", "start/stop"):
        assert not retired_in(text), text
    assert retired_in("two pieces")
    assert not retired_in("two pieces", "lists/words.py")


SIGNED = re.compile(r":\+,?\.\d")


def test_no_signed_figure_is_minus_nothing():
    """Figures with a sign round to +0, not to -0: each is written with a z."""
    report = Path(document.__file__).parents[1]
    found = [
        p.name for p in report.rglob("*.py") if SIGNED.search(p.read_text("utf-8"))
    ]
    assert not found
    assert SIGNED.search("{x:+.2f}")
